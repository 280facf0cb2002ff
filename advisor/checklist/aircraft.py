"""Aircraft profiles: doors and their limits, surfaces, size, windows, the order of the walk."""

from __future__ import annotations

import os
from collections.abc import Mapping
from math import nan
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from advisor.checklist.entries import FilePart
from advisor.checklist.fields import CLASSES, ClassId, Id, Line
from advisor.checklist.profile import Profile
from advisor.checklist.toml.files import UNREADABLE, Document, Fault, convert, raise_faults, read_folder
from advisor.conditions import Door, Sector
from advisor.errors import ChecklistError
from advisor.quantities import read_quantity

SHIPPED = Path(__file__).parent.parent / "data" / "aircraft"
OPERATOR_FOLDER = "aircraft"

Bearing = Annotated[float, Meta(ge=-180, le=180, description="degrees from the nose, -180 to 180")]
Limit = Annotated[str | float, Meta(description='a number in knots, or a text such as "21 m/s"')]
Height = Annotated[str | float, Meta(description='a number in metres, or a text such as "9 ft"')]
_EXAMPLES = {"knot": '"21 m/s"', "metre": '"9 ft"'}


class DoorSector(FilePart, frozen=True):
    """Limits for winds clockwise from one bearing to another, from the nose."""

    from_deg: Bearing
    to_deg: Bearing
    operate: Limit
    stay_open: Limit


class DoorRow(FilePart, frozen=True):
    """One `[[door]]`: bearing from the nose, limits as a number in knots or a text with a unit."""

    name: Line
    bearing_deg: Bearing
    operate: Limit
    stay_open: Limit
    sector: tuple[DoorSector, ...] = ()


class Surfaces(FilePart, frozen=True):
    """What physics needs of the skin. wing_height: metres above ground, or a text with a unit."""

    wing_height_m: Height = 3.0
    emissivity: Annotated[float, Meta(gt=0, le=1, description="a number above 0, up to 1")] | None = None
    tank_skin: bool = True
    fuel_stays_cold: bool = True


class ProfileFile(FilePart, frozen=True, rename={"class_id": "class"}):
    """One file of a folder of profiles. class: whose rules hold, the id itself where that is one of the eight."""

    id: Id
    name: Line
    size: Literal["small", "medium", "large"]
    windows: Id
    limits_note: Line
    walk: tuple[Id, ...]
    class_id: ClassId | None = None
    surfaces: Surfaces = Surfaces()
    door: tuple[DoorRow, ...] = ()


class Fleet(msgspec.Struct):
    """Profiles as read from one folder: by id, where each stands, the files, and what is wrong with them."""

    profiles: dict[str, Profile] = msgspec.field(default_factory=dict)
    files: dict[str, str] = msgspec.field(default_factory=dict)
    documents: list[Document] = msgspec.field(default_factory=list)
    faults: list[Fault] = msgspec.field(default_factory=list)


def load_profiles(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> dict[str, Profile]:
    """Profiles by id: the shipped ones, overlaid by those in the folder "aircraft" of an operator's checklist.

    Raises ChecklistError with every fault of every file.
    """
    base = read_fleet(shipped, "shipped")
    raise_faults((base.faults, base.documents))
    own = Fleet() if folder is None else read_own(Path(folder))
    raise_faults((own.faults, own.documents))
    return in_order({**base.profiles, **own.profiles})


def in_order(profiles: Mapping[str, Profile]) -> dict[str, Profile]:
    """Profiles by id, those of the classes first, in their order, then an operator's by name."""
    order: dict[str, int] = {name: at for at, name in enumerate(CLASSES)}
    return dict(sorted(profiles.items(), key=lambda item: (order.get(item[0], len(order)), item[0])))


def read_own(root: Path) -> Fleet:
    """The profiles in an operator's checklist folder, none where it has no folder of them."""
    if not root.is_dir():
        raise ChecklistError("no such folder", where=str(root), hint="give a folder that holds *.toml files")
    folder = root / OPERATOR_FOLDER
    if not os.path.lexists(folder):
        return Fleet()
    if folder.is_symlink() and not folder.resolve().is_relative_to(root.resolve()):
        hint = "copy the profiles into the folder"
        return Fleet(
            faults=[Fault(str(folder), (), "a link that leads out of the folder", hint, place=(1, 1), code="link")]
        )
    return read_fleet(folder, "operator")


def read_fleet(folder: Path, origin: str) -> Fleet:
    """The profiles in a folder. Faults are gathered, not raised, but for a folder that cannot be read."""
    fleet = Fleet()
    fleet.documents = read_folder(folder, lambda name: True, fleet.faults)
    for document in fleet.documents:
        row: ProfileFile | None = convert(document, ProfileFile, fleet.faults, "PROFILE_ROWS")
        if row is None:
            continue
        if row.id in fleet.profiles and not row.id.startswith(UNREADABLE):
            fault = Fault(document.file, ("id",), f"a second profile {row.id!r}", "choose another id", code="twice")
            fleet.faults.append(fault)
        fleet.profiles[row.id] = _profile(document.file, row, origin, fleet.faults)
        fleet.files[row.id] = document.file
    return fleet


def _profile(file: str, row: ProfileFile, origin: str, faults: list[Fault]) -> Profile:
    def quantity(value: str | float, unit: str, low: float, high: float, path: tuple[str | int, ...]) -> float:
        if isinstance(value, str) and not value.strip():
            hint = f"write it from the type's own manual, in {unit}s or as a text such as {_EXAMPLES[unit]}"
            faults.append(Fault(file, path, "left blank", hint, code="blank"))
            return nan
        try:
            number = read_quantity(value, unit)
        except ValueError as error:
            hint = f"write a number in {unit}s, or a text such as {_EXAMPLES[unit]}"
            faults.append(Fault(file, path, str(error), hint, code="quantity"))
            return nan
        if not low <= number <= high:
            what = f"{number:.10g} {unit} is out of range"
            faults.append(Fault(file, path, what, f"{low:g} to {high:g} is possible", code="quantity"))
        return number

    def limits(door: DoorRow | DoorSector, path: tuple[str | int, ...]) -> tuple[float, float]:
        return (
            quantity(door.operate, "knot", 1, 200, (*path, "operate")),
            quantity(door.stay_open, "knot", 1, 200, (*path, "stay_open")),
        )

    doors, names = [], set()
    for index, door in enumerate(row.door):
        if door.name in names and not door.name.startswith(UNREADABLE):
            faults.append(
                Fault(
                    file, ("door", index, "name"), f"a second door {door.name!r}", "choose another name", code="twice"
                )
            )
        names.add(door.name)
        sectors = tuple(
            Sector(sector.from_deg, sector.to_deg, *limits(sector, ("door", index, "sector", number)))
            for number, sector in enumerate(door.sector)
        )
        doors.append(Door(door.name, door.bearing_deg, *limits(door, ("door", index)), sectors))
    class_id = row.class_id or (row.id if row.id in CLASSES else None)
    if class_id is None and not row.id.startswith(UNREADABLE):
        what = f"no class for {row.id!r}"
        faults.append(Fault(file, ("class",), what, f"write class = one of {', '.join(CLASSES)}", code="unknown-class"))
    if len(set(row.walk)) != len(row.walk):
        faults.append(Fault(file, ("walk",), "a zone twice", "name each zone once", code="twice"))
    if not row.walk:
        faults.append(Fault(file, ("walk",), "an empty list", "name the zones in walking order", code="empty"))
    surfaces = row.surfaces
    return Profile(
        id=row.id,
        name=row.name,
        class_id=class_id or "",
        size=row.size,
        windows=row.windows,
        limits_note=row.limits_note,
        walk=row.walk,
        wing_height_m=quantity(surfaces.wing_height_m, "metre", 0.1, 20, ("surfaces", "wing_height_m")),
        emissivity=nan if surfaces.emissivity is None else surfaces.emissivity,
        tank_skin=surfaces.tank_skin,
        fuel_stays_cold=surfaces.fuel_stays_cold,
        doors=tuple(doors),
        origin=origin,
    )


def profile_schema() -> dict[str, Any]:
    """JSON Schema of one file of a folder of profiles."""
    return msgspec.json.schema(ProfileFile)

"""The format of checklist files, shipped and an operator's own."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any, Literal

import msgspec

from advisor.checklist.fields import (
    CLASSES,
    ClassId,
    Id,
    Key,
    Kind,
    Line,
    Minutes,
    Month,
    More,
    Offset,
    Phase,
    Prose,
    Short,
    Standing,
    Station,
    Weight,
    When,
    Zone,
)
from advisor.quantities import NUMBER, QUANTITIES, Quantity


class FilePart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of everything in a file: a field that is not known is a fault."""


class Situation(FilePart, frozen=True):
    """One departure, by the names of the command's options, underscored."""

    report: str | tuple[str, ...]
    now: str
    off_block: str
    aircraft: str | None = None
    place: str | None = None
    heading: float | None = None
    parked_since: str | None = None
    treated_at: str | None = None
    seen: Literal["nothing", "frost", "snow", "ice"] | None = None
    looked_at: str | None = None
    fuel_temperature: str | float | None = None
    fuel_fill: float | None = None
    walk_round: str | None = None
    doors_open: str | None = None
    take_off: str | None = None


class Page(FilePart, frozen=True):
    """The page beside a rule: what it does, why, known limits, references (keys of sources), two situations."""

    does: Prose = ""
    why: Prose = ""
    limits: Prose = ""
    references: tuple[Key, ...] = ()
    fires: Situation | None = None
    near_miss: Situation | None = None


class Override(FilePart, frozen=True):
    """What is different for one class of aircraft; must_text and must_more: where the rule's must_when holds.

    likely_text, possible_text: with a text of its own and without these, the class has none of the rule's.
    """

    weight: Weight | None = None
    text: Line | None = None
    more: More | None = None
    when: When | None = None
    during: Phase | tuple[Phase, ...] | None = None
    zone: Zone | None = None
    lead_min: Minutes | None = None
    must_text: Line | None = None
    must_more: More | None = None
    short: Short | None = None
    likely_text: Line | None = None
    possible_text: Line | None = None


class Entry(FilePart, frozen=True, rename={"overrides": "class"}):
    """One `[[advice]]` of a file. inherit: class tables of the rule that it replaces hold where it has none itself."""

    id: Id
    kind: Kind
    when: When
    during: Phase | tuple[Phase, ...]
    weight: Weight
    text: Line
    source: Key
    more: More = ""
    zone: Zone = ""
    stop: bool = False
    classes: tuple[ClassId, ...] = CLASSES
    aircraft: tuple[Id, ...] = ()
    stations: tuple[Station, ...] = ()
    months: tuple[Month, ...] = ()
    lead_min: Minutes | None = None
    lead_by_station: dict[Station, Minutes] = {}
    must_when: When | None = None
    must_text: Line | None = None
    must_more: More = ""
    short: Short = ""
    likely_text: Line | None = None
    possible_text: Line | None = None
    reason: More = ""
    inherit: bool = True
    overrides: dict[ClassId, Override] = {}
    page: Page | None = None
    fires: Situation | None = None
    near_miss: Situation | None = None


class WindowMinutes(FilePart, frozen=True):
    """When things happen, in minutes from off-block: pairs are start and end."""

    walk_round: tuple[Offset, Offset]
    doors_open: tuple[Offset, Offset]
    take_off: Minutes
    take_off_treated: Minutes


class Head(FilePart, frozen=True):
    """The `[checklist]` table."""

    name: Line | None = None
    revision: Line | None = None
    effective: date | None = None
    approver: Line | None = None
    default_aircraft: Id | None = None
    call_lead_min: Minutes | None = None
    call_lead_by_class: dict[ClassId, Minutes] = {}
    call_lead_by_station: dict[Station, Minutes] = {}


class SourceEntry(FilePart, frozen=True):
    """One `[[source]]`: what an operator's rules refer to."""

    key: Key
    title: Line
    locator: More = ""
    standing: Standing = "the operator's"


class ChecklistFile(FilePart, frozen=True):
    """One file of a checklist folder."""

    checklist: Head | None = None
    windows: dict[Id, WindowMinutes] = {}
    remove: tuple[Id, ...] = ()
    reason: dict[Id, Line] = {}
    advice: tuple[Entry, ...] = ()
    source: tuple[SourceEntry, ...] = ()


class PagesFile(FilePart, frozen=True):
    """One file whose name begins with pages: the rules' pages by id."""

    page: dict[Id, Page] = {}


def checklist_schema() -> dict[str, Any]:
    """JSON Schema of one file of a checklist folder, with every quantity that a condition may name."""
    schema = msgspec.json.schema(ChecklistFile)
    schema["$defs"]["Quantity"] = {
        "title": "Quantity",
        "description": "What a condition may test and a text may hold in braces.",
        "enum": list(QUANTITIES),
        "oneOf": [{"const": row.name, "description": _described(row)} for row in QUANTITIES.values()],
    }
    description = (
        "A condition: quantities (see $defs/Quantity) against constants, flags alone, not, and, or, or always."
    )
    for table in ("Entry", "Override"):
        for name in ("when", "must_when"):
            if name in schema["$defs"][table]["properties"]:
                schema["$defs"][table]["properties"][name]["description"] = description
    return schema


def _described(row: Quantity) -> str:
    parts = [row.meaning]
    if row.kind == NUMBER and isfinite(row.low) and isfinite(row.high):
        parts.append(f"{row.low:g} to {row.high:g} {row.unit}".strip())
    if row.values:
        parts.append(f"one of {', '.join(row.values)}")
    if row.no_value:
        parts.append(f"no value: {row.no_value}")
    if row.also_called:
        parts.append(f"also called {', '.join(row.also_called)}")
    return "; ".join(parts)

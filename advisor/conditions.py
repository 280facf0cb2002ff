"""The tables that everything is computed over, and the departure they are computed for.

A column is a row of the table of quantities: float64 with NaN for missing, or an int8 code with -1 for missing, of
shape (case, time). A case is one set of columns that the reports allow; see outlook/. Nothing here computes anything;
shape and missing are the business of its accessors, not of their callers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import nan
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from advisor.errors import DepartureError
from advisor.quantities import CODE, COLUMNS, FLAG, NUMBER, SET
from advisor.quantities.kinds import EACH_TIME

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Masks = NDArray[np.bool_]
Columns = dict[str, NDArray[Any]]

NO, YES, UNKNOWN = 0, 1, -1
LOSSES = ("low", "central", "high")
PHASES = ("parked", "walk_round", "doors_open", "off_block", "take_off")


class Place(Struct, frozen=True):
    """Where the aircraft stands."""

    #: As people call it.
    name: str
    #: Location indicator, None where it has none.
    indicator: str | None
    #: North positive, -90 to 90.
    latitude_deg: float
    #: East positive, -180 to 180.
    longitude_deg: float
    #: Above the sea, NaN where not known.
    elevation_m: float = nan
    #: Name in the time zone database, "" where not known.
    time_zone: str = ""

    def __post_init__(self) -> None:
        """Raises DepartureError outside -90..90 and -180..180."""
        for name, value, most in (("latitude", self.latitude_deg, 90), ("longitude", self.longitude_deg, 180)):
            if not -most <= value <= most:
                hint = "give degrees, north and east positive"
                raise DepartureError(f"{name} {value:g} is not between -{most} and {most}", where="place", hint=hint)


class Windows(Struct, frozen=True):
    """When things happen, seconds since 1970 UTC; pairs are start and end."""

    walk_round: tuple[int, int]
    doors_open: tuple[int, int]
    off_block: int
    take_off: int

    def phase(self, name: str, now: int) -> tuple[int, int]:
        """Start and end of one of PHASES, nothing before now. The five together cover now to take-off without a gap."""
        walk_start, walk_end = self.walk_round
        start, end = {
            "parked": (now, walk_start),
            "walk_round": self.walk_round,
            "doors_open": self.doors_open,
            "off_block": (walk_end, self.off_block),
            "take_off": (self.off_block, self.take_off),
        }[name]
        return max(start, now), max(end, now)


class Sector(Struct, frozen=True):
    """Limits that hold where the relative wind lies clockwise from from_deg to to_deg (-180 to 180)."""

    from_deg: float
    to_deg: float
    operate_kt: float
    stay_open_kt: float


class Door(Struct, frozen=True):
    """A door, its bearing from the nose (clockwise, -180 to 180) and its two wind limits."""

    name: str
    bearing_deg: float
    operate_kt: float
    stay_open_kt: float
    sectors: tuple[Sector, ...] = ()


class Airframe(Struct, frozen=True):
    """The numbers of an aircraft that physics and doors need; profiles build it.

    emissivity: of the painted upper skin, or NaN for each loss variant's own. wing_height_m: of the upper skin above
    the ground. has_tank_skin: fuel touches the upper skin. fuel_stays_cold: flown high and long enough that the fuel
    may come down below freezing. doors: as the profile lists them.
    """

    wing_height_m: float = 3.0
    emissivity: float = nan
    has_tank_skin: bool = True
    fuel_stays_cold: bool = True
    doors: tuple[Door, ...] = ()


# what was seen where somebody looked and saw no frost, snow or ice
NOTHING_SEEN = "nothing"


class Departure(Struct, frozen=True):
    """What was asked: times in seconds since 1970 UTC, heading true, NaN or None where not said.

    seen: "nothing", "frost", "snow" or "ice", at looked_at.
    """

    now: int
    place: Place
    windows: Windows
    heading_deg: float = nan
    parked_since: int | None = None
    treated_at: int | None = None
    seen: str | None = None
    fuel_temperature_c: float = nan
    fuel_fill_pct: float = nan
    looked_at: int | None = None


class Case(Struct, frozen=True):
    """One row of the table of choices: a name, why it is there, the loss variant of its skin and a source key.

    lasts: an adverse case: what was seen stays possible, what stood outside nobody knows how long counts as long out.
    lane: the temporary and probable groups that it lays over its base case, "" for none.
    """

    name: str
    meaning: str
    loss: str
    source: str
    lasts: bool = True
    lane: str = ""

    @property
    def base(self) -> str:
        """The name of the case without its groups."""
        return self.name.removesuffix(f"; {self.lane}")


@dataclass(frozen=True)
class Conditions:
    """What it may be like, columns over (case, time).

    unix_s: (time,). latitude_deg, longitude_deg: scalars or (time,). columns: by name, each a row of the table of
    quantities, of shape (case, time) or one that broadcasts to it; those of doors have a first axis more.
    not_stated: what the user was not asked or did not say, for the one line about it. series: the times follow each
    other at one place (a brief); False for an archive, whose times have nothing to do with each other.
    left_out: groups that share a case with others. now_s: times before it are history, NaN where there is none.
    parked_since_s: since when the aircraft stands there, NaN where nobody said. nothing_seen_at_s: when somebody looked
    at the aircraft and saw no frost, snow or ice on it.
    """

    unix_s: Floats
    latitude_deg: Floats | float
    longitude_deg: Floats | float
    cases: tuple[Case, ...]
    columns: Columns = field(default_factory=dict)
    heading_deg: float = nan
    precipitation_text: tuple[tuple[str, ...], ...] = ()
    not_stated: tuple[str, ...] = ()
    series: bool = True
    left_out: tuple[str, ...] = ()
    now_s: float = nan
    parked_since_s: float = nan
    treated_at_s: float | None = None
    fuel_fill_pct: float = nan
    nothing_seen_at_s: float | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """(case, time)."""
        return len(self.cases), int(self.unix_s.shape[0])

    @property
    def lasts(self) -> Masks:
        """Which cases are adverse ones, in which what was seen stays possible, (case, 1)."""
        return np.array([case.lasts for case in self.cases], dtype=np.bool_)[:, None]

    def number(self, name: str) -> Floats:
        """A quantity that is a number, (case, time); NaN where not known, everywhere where there is no such column.

        Raises KeyError for a name that is no number of the table of quantities.
        """
        table: Floats = self._table(name, (NUMBER,), nan)
        return table

    def flag(self, name: str) -> Codes:
        """A flag, (case, time): YES, NO or UNKNOWN, the last everywhere where there is no such column.

        Raises KeyError for a name that is no flag of the table of quantities.
        """
        table: Codes = self._table(name, (FLAG,), UNKNOWN)
        return table

    def code(self, name: str) -> Codes:
        """A code or a set of classes, (case, time); a code is UNKNOWN where there is no such column.

        Raises KeyError for a name that is neither.
        """
        table: Codes = self._table(name, (CODE, SET), UNKNOWN)
        return table

    def _table(self, name: str, kinds: tuple[str, ...], missing: float) -> Any:
        row = COLUMNS[name]
        if row.kind not in kinds:
            raise KeyError(f"{name} is a {row.kind}")
        column = self.columns.get(name)
        if column is None:
            return np.full(self.shape, missing, dtype=np.float64 if row.kind == NUMBER else np.int8)
        # most columns are whole already, and a view of one costs more than the look
        return column if column.shape == self.shape else np.broadcast_to(column, self.shape)

    def doors(self, name: str) -> Floats:
        """A number a door, (door, case, time). Raises KeyError where there are none."""
        table: Floats = self.columns[name]
        return table

    def unknown(self, name: str) -> Masks:
        """Where a quantity is not known, (case, time); everywhere where there is no such column."""
        row = COLUMNS[name]
        if row.kind == NUMBER:
            return np.isnan(self.number(name))
        if row.kind == SET:
            told_not: Masks = (self.code(name).astype(np.int64) >> row.not_told) & 1 == 1
            return told_not
        missing: Masks = (self.flag(name) if row.kind == FLAG else self.code(name)) < 0
        return missing

    def value(self, name: str, case: int, time: int) -> float:
        """One value as a number, NaN where not known or where there is no such column."""
        column = self.columns.get(name)
        if column is None:
            return nan
        # a column that broadcasts has one row, or one time
        value = float(column[min(case, column.shape[0] - 1), min(time, column.shape[1] - 1)])
        return nan if COLUMNS[name].kind != NUMBER and value < 0 else value

    def having(self, columns: Mapping[str, NDArray[Any]]) -> Conditions:
        """The same with columns added or put in place of others. Raises KeyError for one that no row describes."""
        unnamed = [name for name in columns if name not in COLUMNS]
        if unnamed:
            raise KeyError(f"no row for {', '.join(unnamed)}")
        return replace(self, columns={**self.columns, **columns})

    def between(self, start_s: float, end_s: float) -> Conditions:
        """The same conditions at the times from start_s to end_s only, seconds since 1970 UTC, ends included."""
        size = self.unix_s.size
        kept = slice(
            int(np.searchsorted(self.unix_s, start_s, side="left")),
            int(np.searchsorted(self.unix_s, end_s, side="right")),
        )

        def cut(table: Any) -> Any:
            return table[..., kept] if np.shape(table)[-1:] == (size,) else table

        return replace(
            self,
            unix_s=self.unix_s[kept],
            latitude_deg=cut(self.latitude_deg),
            longitude_deg=cut(self.longitude_deg),
            columns={name: cut(column) for name, column in self.columns.items()},
            precipitation_text=tuple(row[kept] for row in self.precipitation_text),
        )

    def picked(self, rows: Sequence[int]) -> Conditions:
        """The same conditions with some of the cases only, by index."""
        chosen, count = list(rows), len(self.cases)

        def cut(name: str, table: NDArray[Any]) -> NDArray[Any]:
            each_case = table.ndim >= 2 and table.shape[-2] == count and COLUMNS[name].shape != EACH_TIME
            return table[..., chosen, :] if each_case else table

        return replace(
            self,
            cases=tuple(self.cases[at] for at in chosen),
            columns={name: cut(name, np.asarray(column)) for name, column in self.columns.items()},
        )

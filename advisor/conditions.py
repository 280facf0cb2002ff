"""The tables that everything is computed over, and the departure they are computed for.

A column is float64 with NaN for missing, or an int8 code with -1 for missing, of shape (case, time). A case is one
set of columns that the reports allow; see outlook.py. Nothing here computes anything.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import nan
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Columns = dict[str, NDArray[Any]]

NO, YES, UNKNOWN = 0, 1, -1
LOSSES = ("low", "central", "high")
PHASES = ("parked", "walk_round", "doors_open", "off_block", "take_off")


class Place(Struct, frozen=True):
    """Where the aircraft stands. elevation_m NaN and time_zone "" where not known."""

    name: str
    indicator: str | None
    latitude_deg: float
    longitude_deg: float
    elevation_m: float = nan
    time_zone: str = ""


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


class Departure(Struct, frozen=True):
    """What was asked: times in seconds since 1970 UTC, heading true, NaN or None where not said."""

    now: int
    place: Place
    windows: Windows
    heading_deg: float = nan
    parked_since: int | None = None
    treated_at: int | None = None
    seen: str | None = None
    fuel_temperature_c: float = nan
    fuel_fill_pct: float = nan


class Case(Struct, frozen=True):
    """One row of the table of choices: a name, why it is there, the loss variant of its skin and a source key.

    lasts: an adverse case: what was seen stays possible, what stood outside nobody knows how long counts as long out.
    """

    name: str
    meaning: str
    loss: str
    source: str
    lasts: bool = True


@dataclass
class Conditions:
    """What it may be like, columns over (case, time).

    unix_s: (time,). latitude_deg, longitude_deg: scalars or (time,). columns: quantity name to array (case, time), or
    a shape that broadcasts to it. doors: names, and the tables filled by derive: (door, case, time).
    not_stated: what the user was not asked or did not say, for the one line about it. series: the times follow each
    other at one place (a brief); False for an archive, whose times have nothing to do with each other.
    left_out: groups that share a case with others. now_s: times before it are history, NaN where there is none.
    parked_since_s: since when the aircraft stands there, NaN where nobody said.
    """

    unix_s: Floats
    latitude_deg: Floats | float
    longitude_deg: Floats | float
    cases: tuple[Case, ...]
    columns: Columns = field(default_factory=dict)
    heading_deg: float = nan
    precipitation_text: tuple[tuple[str, ...], ...] = ()
    door_tables: dict[str, Floats] = field(default_factory=dict)
    not_stated: tuple[str, ...] = ()
    series: bool = True
    left_out: tuple[str, ...] = ()
    now_s: float = nan
    parked_since_s: float = nan
    treated_at_s: float | None = None
    fuel_fill_pct: float = nan

    @property
    def shape(self) -> tuple[int, int]:
        """(case, time)."""
        return len(self.cases), int(self.unix_s.shape[0])

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
            door_tables={name: cut(table) for name, table in self.door_tables.items()},
        )

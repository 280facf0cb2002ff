"""The operator's holdover file for the season: reads it, checks it, looks minutes up. None is built in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from math import inf, nan
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec
import numpy as np
from msgspec import Meta

from advisor.checklist.rules import FilePart, Line
from advisor.checklist.toml.files import Fault, raise_faults, read_file
from advisor.conditions import Floats
from advisor.departure import stamp
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.files.pads import model_of
from advisor.slots.files.schedule import MOST_FAULTS

FROST = "frost"
# what is never looked up: no guideline exists for these (faa-holdover-2009, cautions), or none can be chosen
NO_GUIDELINE = (
    "heavy snow",
    "heavier freezing rain",
    "ice pellets",
    "hail",
    "mixed",
    "unknown",
)
# codes of a category column: those of TREATMENT_CATEGORIES, and frost after them
FROST_CODE = len(TREATMENT_CATEGORIES)
NAMES = (*TREATMENT_CATEGORIES, FROST)
Category = Literal[
    "frost",
    "freezing fog",
    "very light snow",
    "light snow",
    "moderate snow",
    "snow pellets or grains",
    "freezing drizzle",
    "light freezing rain",
    "rain on a cold-soaked wing",
]
Celsius = Annotated[float, Meta(ge=-60, le=60, description="degrees Celsius, -60 to 60")]
Whole = Annotated[int, Meta(ge=0, le=1440, description="whole minutes from 0 to 1440")]


class HoldoverRow(FilePart, frozen=True):
    """One `[[row]]`: category, band of air temperature (from_c counts, to_c does not), minutes low and high.

    fluid, dilution, surface, flaps: where this row holds for one only; of rows that may hold, the lowest counts.
    """

    category: Category
    low: Whole
    high: Whole
    from_c: Celsius
    to_c: Celsius | None = None
    fluid: Line | None = None
    dilution: Line | None = None
    surface: Line | None = None
    flaps: Line | None = None


class HoldoverFile(FilePart, frozen=True):
    """A holdover file. invented: an example, and every output says so."""

    season: Line
    valid_from: date
    valid_until: date
    publisher: Line
    fluid: Line
    dilution: Line
    row: tuple[HoldoverRow, ...]
    invented: bool = False
    note: Line | None = None


class Holdover(msgspec.Struct, frozen=True):
    """A table in force: what is said about it, and its minutes by category code and whole tenths of a degree."""

    file: str
    season: str
    publisher: str
    fluid: str
    dilution: str
    invented: bool
    rows: tuple[HoldoverRow, ...]
    note: str = ""

    def minutes(self, category: Any, air_temperature_c: Any) -> Floats:
        """Lowest holdover minutes, shape of both arrays broadcast.

        category: code of NAMES; air_temperature_c: °C, NaN where not known. inf where nothing falls and no frost
        grows: no time runs; NaN where no guideline holds.
        """
        code, air = np.broadcast_arrays(np.asarray(category), np.asarray(air_temperature_c, dtype=np.float64))
        lowest_min = np.full(code.shape, nan)
        lowest_min[code == 0] = inf
        for row in self.rows:
            inside = (code == NAMES.index(row.category)) & (air >= row.from_c)
            if row.to_c is not None:
                inside &= air < row.to_c
            lowest_min = np.where(inside, np.fmin(lowest_min, float(row.low)), lowest_min)
        return lowest_min

    def named(self) -> str:
        """Whose table it is, in a line."""
        text = f"{self.publisher}, season {self.season}, {self.fluid} {self.dilution}"
        return f"INVENTED EXAMPLE, not for use: {text}" if self.invented else text


def load(path: Path, first_s: int, last_s: int, fluid: str | None = None, dilution: str | None = None) -> Holdover:
    """The operator's table, for a night.

    first_s, last_s: the night, seconds since 1970 UTC; fluid, dilution: which is used, None for the file's own.
    Raises ChecklistError with every fault, "file:line:column: field: what"; being out of season is one.
    """
    faults: list[Fault] = []
    document = read_file(path, faults)
    table = None if document is None else model_of(document, HoldoverFile, faults)
    if table is not None and document is not None:
        faults.extend(_faults(document.file, table))
        if not faults:
            faults.extend(_season(document.file, table, first_s, last_s))
    raise_faults((faults, [document] if document else []), most=MOST_FAULTS)
    assert table is not None
    used, mix = fluid or table.fluid, dilution or table.dilution
    rows = tuple(
        row for row in table.row if (row.fluid or table.fluid) == used and (row.dilution or table.dilution) == mix
    )
    if not rows:
        hint = "name a fluid and dilution of the file"
        faults.append(Fault(str(path), ("fluid",), f"no row for {used}, {mix}", hint))
        raise_faults((faults, [document] if document else []), most=MOST_FAULTS)
    return Holdover(str(path), table.season, table.publisher, used, mix, table.invented, rows, table.note or "")


def _faults(file: str, table: HoldoverFile) -> Iterable[Fault]:
    if table.valid_until < table.valid_from:
        yield Fault(file, ("valid_until",), "lies before valid_from", "give the earlier date first")
    if not table.row:
        yield Fault(file, ("row",), "no rows", "give a [[row]] for each category and temperature band")
    for number, row in enumerate(table.row):
        if row.high < row.low:
            what = f"{row.high} is less than low, {row.low}"
            yield Fault(file, ("row", number, "high"), what, "give the longer time last")
        if row.to_c is not None and row.to_c <= row.from_c:
            yield Fault(file, ("row", number, "to_c"), "lies at or below from_c", "from_c is the colder end")
        for before in table.row[:number]:
            if _key(row) == _key(before) and row.from_c < _top(before) and before.from_c < _top(row):
                what = f"overlaps another band of {row.category!r}"
                yield Fault(file, ("row", number, "from_c"), what, "let each band begin where the colder one ends")
                break


def _key(row: HoldoverRow) -> tuple[str | None, ...]:
    return row.category, row.fluid, row.dilution, row.surface, row.flaps


def _top(row: HoldoverRow) -> float:
    return inf if row.to_c is None else row.to_c


def _season(file: str, table: HoldoverFile, first_s: int, last_s: int) -> Iterable[Fault]:
    hint = "load the table of the season in force, or take holdover out of the pads file: the plan then does without"
    begins = datetime.combine(table.valid_from, time.min, UTC).timestamp()
    ends = datetime.combine(table.valid_until, time.max, UTC).timestamp()
    if first_s < begins:
        what = f"not in force before {table.valid_from}, the plan begins {stamp(first_s)}"
        yield Fault(file, ("valid_from",), what, hint)
    if last_s > ends:
        what = f"out of season after {table.valid_until}, the plan ends {stamp(last_s)}"
        yield Fault(file, ("valid_until",), what, hint)

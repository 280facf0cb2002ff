"""Reads schedule.csv: which flights leave when, in which aircraft, from where. Every fault of the file in one run."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from math import nan
from pathlib import Path

from advisor.departure import FURTHEST_S, read_moment, stamp, to_unix
from advisor.errors import DepartureError
from advisor.quantities import read_number, read_quantity
from advisor.quantities.units import DAY_S

COLUMNS = (
    "flight",
    "off_block",
    "aircraft",
    "stand",
    "heading_deg",
    "taxi_min",
    "take_off_from",
    "take_off_until",
    "to_pad_min",
    "to_runway_min",
    "place",
    "ready",
    "parked_since",
    "fuel_temperature",
    "priority",
    "missed_window",
)
NEEDED = COLUMNS[:3]
MOST_ROWS = 5000
MOST_FAULTS = 20
# further from now than this no other time of a departure may lie: a typing error would stretch the night to years
FURTHEST_OTHER_S = 36 * 3600
MOST_BYTES = 5_000_000
TAXI_MIN = 10
PLACES = ("stand", "remote")
_TEXT = re.compile(r"[^\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]{1,40}\Z")


@dataclass(frozen=True, slots=True)
class Row:
    """One departure of the schedule. Times in seconds since 1970 UTC, None where not given; minutes from the stand to
    the pad and from the pad to the runway. place: "stand", "remote", or "" for either. priority: multiplies the price
    of its waiting; missed_window: its own price of a missed window, NaN for the pads file's. line: of the file.
    """

    flight: str
    off_block: int
    aircraft: str
    stand: str = ""
    heading_deg: float = nan
    to_pad_min: int = TAXI_MIN // 2
    to_runway_min: int = TAXI_MIN - TAXI_MIN // 2
    take_off_from: int | None = None
    take_off_until: int | None = None
    place: str = ""
    ready: int | None = None
    parked_since: int | None = None
    fuel_temperature_c: float = nan
    priority: float = 1.0
    missed_window: float = nan
    line: int = 0

    @property
    def taxi_min(self) -> int:
        """The whole way from the stand to the runway."""
        return self.to_pad_min + self.to_runway_min


Faults = list[tuple[int, int, str]]


class Cells:
    """One line of the file: reads cells, and notes what is wrong with file, line and column."""

    def __init__(self, file: str, line: int, places: list[int], cells: dict[str, str], faults: Faults) -> None:
        self.file, self.line, self.places, self.cells, self.faults = file, line, places, cells, faults
        self.order = list(cells)

    def fault(self, name: str, what: str, hint: str) -> None:
        """Note what is wrong with a cell, and what would be right."""
        at = self.order.index(name) if name in self.order else 0
        column = self.places[at] if at < len(self.places) else 1
        self.faults.append((self.line, column, f"{self.file}:{self.line}:{column}: {name}: {what}; {hint}"))

    def text(self, name: str) -> str:
        """A short line of text, "" where empty."""
        value = self.cells.get(name, "").strip()
        if value and not _TEXT.match(value):
            self.fault(name, "not a short line of text", "give 1 to 40 printable characters")
            return ""
        return value

    def number(self, name: str, low: float, high: float) -> float:
        """A number within a range, NaN where empty."""
        value = self.cells.get(name, "").strip()
        if not value:
            return nan
        try:
            amount = read_number(value)
        except ValueError:
            amount = nan
        if not low <= amount <= high:
            self.fault(name, f"{value[:20]!r} cannot stand here", f"give a number from {low:g} to {high:g}")
            return nan
        return amount

    def minutes(self, name: str) -> int | None:
        """Whole minutes, rounded up, None where empty."""
        found = self.number(name, 0, 240)
        return None if math.isnan(found) else math.ceil(found)

    def moment(self, name: str) -> int | None:
        """A time in seconds since 1970 UTC, None where empty."""
        value = self.cells.get(name, "").strip()
        if not value:
            return None
        try:
            return to_unix(read_moment(value, what=name), what=name)
        except DepartureError as error:
            self.fault(name, error.what, "give a date and time with offset such as 2027-01-10T06:40:00Z")
            return None

    def near(self, name: str, now: int) -> int | None:
        """A time that must lie within 36 h of now."""
        moment_s = self.moment(name)
        if moment_s is not None and abs(moment_s - now) > FURTHEST_OTHER_S:
            self.fault(name, f"{stamp(moment_s)} is too far from now", f"give a time within 36 h of now, {stamp(now)}")
            return None
        return moment_s

    def quantity(self, name: str, unit: str, low: float, high: float) -> float:
        """A number with or without a unit, in the unit given, NaN where empty."""
        value = self.cells.get(name, "").strip()
        if not value:
            return nan
        hint = f"give a number from {low:g} to {high:g}"
        try:
            amount = read_quantity(value, unit)
        except ValueError as error:
            self.fault(name, str(error), hint)
            return nan
        if not low <= amount <= high:
            self.fault(name, f"{value[:20]} is out of range", hint)
            return nan
        return amount


def read(path: Path, aircraft: Collection[str], now: int) -> tuple[Row, ...]:
    """The departures of a file, in its order.

    aircraft: ids that are known; now: seconds since 1970 UTC, times must lie within a day before and 30 h after.
    Raises DepartureError with every fault, "file:line:column: column: what; what would be right", one a line.
    """
    return parse(load_text(path, COLUMNS[:8]), str(path), aircraft, now)


def parse(text: str, file: str, aircraft: Collection[str], now: int) -> tuple[Row, ...]:
    """The same from a text. file: its name in what is said."""
    faults: Faults = []
    rows: list[Row] = []
    seen: dict[str, int] = {}
    for cells in lines_of(text, file, COLUMNS, NEEDED, faults):
        row = _row(cells, aircraft, now, seen)
        if row is not None:
            rows.append(row)
        if len(seen) > MOST_ROWS:
            what = f"more than {MOST_ROWS:,} flights; plan one bank at a time"
            faults.append((cells.line, 1, f"{file}:{cells.line}:1: {what}"))
            break
    if not faults and not rows:
        faults.append((1, 1, f"{file}:1:1: no departures; give a line a flight under the names"))
    if faults:
        raise DepartureError(listed(faults))
    return tuple(rows)


def lines_of(text: str, file: str, columns: Sequence[str], needed: Sequence[str], faults: Faults) -> Iterator[Cells]:
    """The filled lines of a file under its header; what is wrong with either goes to faults."""
    lines = text.splitlines()
    reader = csv.reader(lines)
    try:
        header = [name.strip().lower() for name in next(reader, [])]
    except csv.Error as error:
        faults.append((1, 1, f"{file}:1:1: {error}; the first line names the columns {','.join(columns[:8])}"))
        return
    _check_header(file, header, lines[0] if lines else "", columns, needed, faults)
    if faults:
        return
    begun = reader.line_num
    try:
        for cells in reader:
            line, begun = begun + 1, reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(header):
                what = f"{len(cells)} cells under {len(header)} names; quote a cell with a comma"
                faults.append((line, 1, f"{file}:{line}:1: {what}"))
                continue
            named = dict(zip(header, [*cells, *[""] * (len(header) - len(cells))], strict=True))
            yield Cells(file, line, _places(lines[line - 1]), named, faults)
    except csv.Error as error:
        what = f"{error}; give plain comma-separated lines"
        faults.append((reader.line_num, 1, f"{file}:{reader.line_num}:1: {what}"))


def listed(faults: Faults) -> str:
    """Faults in the order of the file, a line each; beyond the first twenty their count."""
    lines = [text for _, _, text in sorted(faults)]
    if len(lines) > MOST_FAULTS:
        lines[MOST_FAULTS:] = [f"and {len(lines) - MOST_FAULTS} more faults; mend these first"]
    return "\n".join(lines)


def load_text(path: Path, columns: Sequence[str]) -> str:
    """The text of a CSV file. columns: what it should have, for what is said. Raises DepartureError."""
    hint = f"give a CSV file with the columns {','.join(columns)}"
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise DepartureError(error.strerror or "cannot be read", where=str(path), hint=hint) from None
    if len(raw) > MOST_BYTES:
        raise DepartureError(f"over {MOST_BYTES:,} bytes", where=str(path), hint="plan one bank at a time")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # what is decoded begins behind a byte order mark
        line = error.object[: error.start].count(b"\n") + 1
        raise DepartureError("not UTF-8", where=f"{path}:{line}:1", hint="save the file as CSV in UTF-8") from None


def _check_header(
    file: str, header: list[str], raw: str, columns: Sequence[str], needed: Sequence[str], faults: Faults
) -> None:
    places = _places(raw)

    def fault(cell: int, text: str) -> None:
        column = places[cell] if cell < len(places) else 1
        faults.append((1, column, f"{file}:1:{column}: {text}"))

    if len(header) == 1 and ";" in header[0]:
        fault(0, "cells are parted by ;; save the file with commas")
        return
    for number, name in enumerate(header):
        if name not in columns:
            fault(number, f"{name[:30]!r} is not a column; the columns are {','.join(columns)}")
        elif name in header[:number]:
            fault(number, f"a second column {name}; keep one of the two")
    for name in needed:
        if name not in header:
            fault(0, f"no column {name}; the first line names the columns {','.join(columns[:8])}")


def _row(cells: Cells, aircraft: Collection[str], now: int, seen: dict[str, int]) -> Row | None:
    before = len(cells.faults)
    for name in NEEDED:
        if not cells.cells.get(name, "").strip():
            cells.fault(name, "empty", "every departure needs flight, off_block and aircraft")
    flight, kind = cells.text("flight"), cells.text("aircraft")
    if flight in seen:
        cells.fault("flight", f"{flight!r} stands in line {seen[flight]} already", "give each its own name")
    seen[flight] = cells.line
    if kind and kind not in aircraft:
        cells.fault("aircraft", f"{kind!r} is not known", f"give one of {', '.join(aircraft)}")
    off_block = cells.moment("off_block")
    if off_block is not None and not now - DAY_S <= off_block <= now + FURTHEST_S:
        hint = f"give times from a day before to 30 h after now, {stamp(now)}, or set --now"
        cells.fault("off_block", f"{stamp(off_block)} is too far from now", hint)
    earliest, latest, ready = (cells.near(name, now) for name in ("take_off_from", "take_off_until", "ready"))
    if earliest is not None and latest is not None and latest < earliest:
        cells.fault("take_off_until", "lies before take_off_from", "give the earlier time first")
    if latest is not None and off_block is not None and latest < off_block:
        cells.fault("take_off_until", "lies before off_block", "give a take-off window after off-block")
    place = cells.text("place").lower()
    if place and place not in PLACES:
        cells.fault("place", f"{place!r} cannot stand here", "give stand, remote or nothing")
    to_pad, to_runway = _ways(cells)
    parked = cells.moment("parked_since")
    if parked is not None and off_block is not None and parked > off_block:
        cells.fault("parked_since", "lies after off_block", "give the time since when it stands there")
    priority = cells.number("priority", 0.1, 20)
    row = Row(
        flight,
        off_block or 0,
        kind,
        cells.text("stand"),
        cells.number("heading_deg", 0, 360),
        to_pad,
        to_runway,
        earliest,
        latest,
        place,
        ready,
        parked,
        cells.quantity("fuel_temperature", "degC", -60, 60),
        1.0 if math.isnan(priority) else priority,
        cells.number("missed_window", 0, 100_000),
        cells.line,
    )
    return row if len(cells.faults) == before else None


def _ways(cells: Cells) -> tuple[int, int]:
    """Minutes to the pad and from it: what is given; the rest of the whole way; half of it each."""
    whole, to_pad, to_runway = (cells.minutes(name) for name in ("taxi_min", "to_pad_min", "to_runway_min"))
    taxi = TAXI_MIN if whole is None else whole
    if to_pad is not None and to_runway is not None:
        return to_pad, to_runway
    if to_pad is not None:
        return to_pad, max(0, taxi - to_pad)
    if to_runway is not None:
        return max(0, taxi - to_runway), to_runway
    return taxi // 2, taxi - taxi // 2


def _places(line: str) -> list[int]:
    """The column, from 1, at which each cell of a line begins; commas in quotes do not part cells."""
    columns, quoted = [1], False
    for index, letter in enumerate(line):
        if letter == '"':
            quoted = not quoted
        elif letter == "," and not quoted:
            columns.append(index + 2)
    return columns

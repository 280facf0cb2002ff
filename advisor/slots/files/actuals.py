"""Reads actuals.csv: what has happened to each flight so far. Every fault of the file in one run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.departure import stamp
from advisor.errors import DepartureError
from advisor.slots.files.schedule import FURTHEST_OTHER_S, Cells, Faults, Row, lines_of, listed, load_text

COLUMNS = ("flight", "off", "at_pad", "begun", "finished", "departed", "truck")
NEEDED = COLUMNS[:1]
TIMES = COLUMNS[1:6]


@dataclass(frozen=True, slots=True)
class Actual:
    """What has happened to one flight, seconds since 1970 UTC, None where not yet or not known.

    off: left its stand; at_pad: waiting at a pad; begun, finished: of the treatment; departed: take-off; truck: the pad
    or truck in use, "" where not known.
    """

    flight: str
    off: int | None = None
    at_pad: int | None = None
    begun: int | None = None
    finished: int | None = None
    departed: int | None = None
    truck: str = ""
    line: int = 0

    @property
    def state(self) -> str:
        """The last that has happened, in words; "" for nothing."""
        words = (
            ("departed", self.departed),
            ("treated", self.finished),
            ("under way", self.begun),
            ("at pad", self.at_pad),
            ("off", self.off),
        )
        return next((word for word, moment in words if moment is not None), "")


def read(path: Path, rows: Sequence[Row], pads: Sequence[str], now: int) -> Mapping[str, Actual]:
    """What a file says, by flight. rows: the schedule; pads: names; now: seconds since 1970 UTC.

    Raises DepartureError with every fault, "file:line:column: column: what; what would be right", one a line.
    """
    return parse(load_text(path, COLUMNS), str(path), rows, pads, now)


def parse(text: str, file: str, rows: Sequence[Row], pads: Sequence[str], now: int) -> Mapping[str, Actual]:
    """The same from a text. file: its name in what is said."""
    faults: Faults = []
    flights = {row.flight for row in rows}
    actuals_by_flight: dict[str, Actual] = {}
    for cells in lines_of(text, file, COLUMNS, NEEDED, faults):
        actual = _actual(cells, flights, pads, now, actuals_by_flight)
        if actual is not None:
            actuals_by_flight[actual.flight] = actual
    if faults:
        raise DepartureError(listed(faults))
    return actuals_by_flight


def _actual(
    cells: Cells, flights: set[str], pads: Sequence[str], now: int, actuals_by_flight: Mapping[str, Actual]
) -> Actual | None:
    before = len(cells.faults)
    flight, truck = cells.text("flight"), cells.text("truck")
    if not flight:
        cells.fault("flight", "empty", "every line needs a flight of the schedule")
    elif flight not in flights:
        cells.fault("flight", f"{flight!r} is not in the schedule", "give a flight of the schedule")
    elif flight in actuals_by_flight:
        cells.fault(
            "flight", f"{flight!r} stands in line {actuals_by_flight[flight].line} already", "give one line a flight"
        )
    if truck and truck not in pads:
        cells.fault("truck", f"{truck!r} is no pad or truck", f"give one of {', '.join(pads)}")
    moments = {name: _past(cells, name, now) for name in TIMES}
    # a truck may begin before the aircraft has left its stand
    for first, then in (
        ("off", "at_pad"),
        ("at_pad", "begun"),
        ("begun", "finished"),
        ("begun", "departed"),
        ("finished", "departed"),
        ("off", "departed"),
    ):
        early, late = moments[first], moments[then]
        if early is not None and late is not None and late < early:
            cells.fault(then, f"lies before {first}", f"give {first} first, then {then}")
    if moments["finished"] is not None and moments["begun"] is None:
        cells.fault("finished", "without begun", "give when treatment begun as well")
    if moments["begun"] is not None and moments["departed"] is None and not truck:
        cells.fault("begun", "without truck", f"give the pad or truck in use, one of {', '.join(pads)}")
    if len(cells.faults) > before:
        return None
    return Actual(flight, **moments, truck=truck, line=cells.line)


def _past(cells: Cells, name: str, now: int) -> int | None:
    moment = cells.moment(name)
    if moment is not None and moment > now:
        cells.fault(name, f"{stamp(moment)} lies after now", f"give what has happened up to {stamp(now)}, or set --now")
        return None
    if moment is not None and moment < now - FURTHEST_OTHER_S:
        cells.fault(name, f"{stamp(moment)} is too far from now", f"give a time within 36 h before {stamp(now)}")
        return None
    return moment

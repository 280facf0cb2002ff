"""Archive rows brought in order: each with its station and time, doubled reports once, corrected ones as corrected."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from advisor.archive.files import ArchiveRow

_HEAD = re.compile(
    r"(?:(?:METAR|SPECI)\s+)?(?P<first>COR\s+)?(?P<station>[A-Z][A-Z0-9]{3})\s+(?P<time>\d{6})Z?"
    r"(?:\s+(?:AUTO|(?P<second>COR|CC[A-Z])))*(?=[\s=]|\Z)",
    re.ASCII,
)
# a time given beside a report is that of the report, or of the hour in which it was filed
FARTHEST = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class Dated:
    """A report in one line: station, time (aware UTC), text without its "=", whether it corrects another."""

    station: str
    at: datetime
    text: str
    corrects: bool


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that cannot be used: its text and why, in one line."""

    text: str
    why: str


def dated(
    rows: Iterable[ArchiveRow], *, month: datetime | None = None, begun: bool = False
) -> tuple[list[Dated], list[RefusedRow]]:
    """Give each row its station and time.

    rows: in the order of the file. month: the month in which rows without a time begin, any time of it, aware UTC; of
    later rows without a time the month is that which brings them nearest to the row before, so that a file may run over
    the end of a month and be somewhat out of order. begun: month is the time of a row before these. Returns the rows
    that can be used, in the same order, and the rest.
    """
    usable: list[Dated] = []
    refused: list[RefusedRow] = []
    before = month
    first = not begun
    for row in rows:
        head = _HEAD.match(row.text.upper())
        if head is None:
            refused.append(RefusedRow(row.text, "no station with day and time, as in ZZZA 100550Z"))
            continue
        day, hour, minute = (int(head["time"][at : at + 2]) for at in (0, 2, 4))
        near = row.valid or before
        if near is None:
            refused.append(RefusedRow(row.text, 'no time beside it; give the first month, as in "2020-01"'))
            continue
        begins = row.valid is None and first
        issued = _in_month(near, day, hour, minute) if begins else _nearest(near, day, hour, minute)
        if issued is None:
            refused.append(RefusedRow(row.text, f"{head['time']} is no day and time of that month"))
            continue
        if row.valid is not None and abs(issued - row.valid) > FARTHEST:
            why = f"its own time {head['time']} lies more than 3 hours from {row.valid:%Y-%m-%dT%H:%MZ} beside it"
            refused.append(RefusedRow(row.text, why))
            continue
        if row.station and row.station != head["station"]:
            refused.append(RefusedRow(row.text, f"the station beside it is {row.station}"))
            continue
        before, first = issued, False
        plain = " ".join(row.text.rstrip("= \n").split())
        usable.append(Dated(head["station"], issued, plain, bool(head["first"] or head["second"])))
    return usable, refused


def in_order(reports: Sequence[Dated]) -> list[Dated]:
    """Sort reports by station and time; leave out doubled ones, and those that a correction replaces.

    Of one station and time a correction replaces the rest, of several the one with the later letter (CCB, not CCA);
    without one, reports that differ, as a routine and a special one do, are all kept. The order of the reports does not
    matter: of corrections without a letter, which nothing tells apart, the last by alphabet stands.
    """
    by_moment: dict[tuple[str, datetime], dict[str, Dated]] = {}
    for report in reports:
        same_moment = by_moment.setdefault((report.station, report.at), {})
        same_moment[report.text] = report
    ordered: list[Dated] = []
    for moment in sorted(by_moment):
        candidates = sorted(by_moment[moment].values(), key=lambda report: report.text)
        corrections = [report for report in candidates if report.corrects]
        ordered += corrections[-1:] or candidates
    return ordered


def _in_month(near: datetime, day: int, hour: int, minute: int) -> datetime | None:
    try:
        return datetime(near.year, near.month, day, hour, minute, tzinfo=UTC)
    except ValueError:
        return None


def _nearest(near: datetime, day: int, hour: int, minute: int) -> datetime | None:
    """The time of that day and minute nearest to another, of the months before, of and after it."""
    months = (_days_from(near.replace(day=1), -1), near, _days_from(near.replace(day=28), 4))
    times = (_in_month(month, day, hour, minute) for month in months if month is not None)
    return min((at for at in times if at is not None), key=lambda at: abs(at - near), default=None)


def _days_from(moment: datetime, days: int) -> datetime | None:
    """So many days on or back; None beyond the ends of the calendar."""
    try:
        return moment + timedelta(days=days)
    except OverflowError:
        return None

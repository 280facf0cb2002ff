"""Days and hours of a forecast turned into times.

A day is the one near an anchor (the time of issue, then the validity), so ends of months and years, leap days and hour
24 need no special case.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from advisor.errors import ReportError

AHEAD = timedelta(hours=6)
OLDEST = timedelta(days=32)
TIME = re.compile(r"(\d\d)(\d\d)(\d\d)Z?", re.ASCII)


class Clock:
    """Turns the days and hours of a forecast into times: a day is the one near an anchor."""

    __slots__ = ("days",)

    def __init__(self, anchor: datetime, before: int, after: int) -> None:
        midnight = anchor.replace(hour=0, minute=0, second=0, microsecond=0)
        self.days: dict[int, datetime] = {}
        for shift in range(-before, after + 1):
            try:
                day = midnight + timedelta(days=shift)
            except OverflowError:
                continue
            self.days[day.day] = day

    def at(self, day: int, hour: int, minute: int = 0) -> datetime | None:
        """The time, None where there is none such: hour 24 is the end of its day."""
        start = self.days.get(day)
        if start is None or hour > 24 or minute > 59 or (hour == 24 and minute):
            return None
        try:
            return start + timedelta(hours=hour, minutes=minute)
        except OverflowError:
            return None


def after(reference: datetime, hour: int, minute: int = 0) -> datetime | None:
    """Find the first such time of day at or after a reference, for validities written without a day."""
    if hour > 24 or minute > 59 or (hour == 24 and minute):
        return None
    try:
        found = reference.replace(hour=hour % 24, minute=minute)
        return found if found >= reference else found + timedelta(days=1)
    except OverflowError:
        return None


def issued_at(token: str, now: datetime, where: str) -> datetime:
    """Find month and year of the time of issue: the nearest to now, at most 6 hours ahead and 32 days back."""
    match = TIME.fullmatch(token)
    assert match is not None
    day, hour, minute = (int(part) for part in match.groups())
    if not 1 <= day <= 31 or hour > 24 or minute > 59 or (hour == 24 and minute):
        raise ReportError(f"{token} is no day and time", where=where, hint="as in 100500Z: day, hour, minute")
    best: datetime | None = None
    for shift in (-1, 0, 1):
        year, month = divmod(now.year * 12 + now.month - 1 + shift, 12)
        try:
            found = datetime(year, month + 1, day, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)
            near = now - OLDEST <= found <= now + AHEAD
        except (ValueError, OverflowError):
            continue
        if near and (best is None or abs(found - now) < abs(best - now)):
            best = found
    if best is None:
        raise ReportError(f"no day {day:02} lies within the month before {now:%Y-%m-%d}", where=where,
                          hint="check the day of the forecast, and the time given as now")  # fmt: skip
    return best

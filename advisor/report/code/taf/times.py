"""Days and hours of a forecast turned into times.

A day is the one near an anchor (the time of issue, then the validity), so ends of months and years, leap days and hour
24 need no special case.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from advisor.errors import ReportError

AHEAD = timedelta(hours=6)
LONGEST_VALIDITY = timedelta(hours=72)
OLDEST = timedelta(days=32)
AHEAD_WITHOUT_ISSUE = timedelta(hours=24)
TIME = re.compile(r"(\d\d)(\d\d)(\d\d)Z?", re.ASCII)


@lru_cache(maxsize=256)
def _days(year: int, month: int, day: int) -> dict[int, datetime]:
    """Midnights from the day before a date to four days after it, by day of month."""
    midnight = datetime(year, month, day, tzinfo=UTC)
    days: dict[int, datetime] = {}
    for shift in range(-1, 5):
        try:
            shifted = midnight + timedelta(days=shift)
        except OverflowError:
            continue
        days[shifted.day] = shifted
    return days


class Calendar:
    """Turns the days and hours of a forecast into times: a day is the one from 1 before to 4 after an anchor (UTC)."""

    __slots__ = ("days",)

    def __init__(self, anchor: datetime) -> None:
        self.days = _days(anchor.year, anchor.month, anchor.day)

    def at(self, day: int, hour: int, minute: int = 0) -> datetime | None:
        """The time, None where there is none such: hour 24 is the end of its day."""
        start = self.days.get(day)
        if start is None or hour > 24 or minute > 59 or (hour == 24 and minute):
            return None
        if hour < 24:
            return start.replace(hour=hour, minute=minute)
        try:
            return start + timedelta(days=1)
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


def issued_at(token: str, now: datetime, where: Callable[[], str]) -> datetime:
    """Find month and year of the time of issue: the last such not more than 6 hours ahead, at most 32 days back.

    token: fits TIME. now: aware UTC. where: says which forecast, for the error. Raises ReportError for none.
    """
    day, hour, minute = int(token[:2]), int(token[2:4]), int(token[4:6])
    if not 1 <= day <= 31 or hour > 24 or minute > 59 or (hour == 24 and minute):
        raise ReportError(f"{token} is no day and time", where=where(), hint="as in 100500Z: day, hour, minute")
    latest = now + AHEAD if now < _LAST else now
    year, month = latest.year, latest.month
    for _ in range(3):
        try:
            issued = datetime(year, month, day, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)
        except (ValueError, OverflowError):
            issued = None
        if issued is not None and issued <= latest:
            if now - issued <= OLDEST:
                return issued
            break
        year, month = (year, month - 1) if month > 1 else (year - 1, 12)
    raise ReportError(
        f"no day {day:02} lies within the month before {now:%Y-%m-%d}",
        where=where(),
        hint="check the day of the forecast, and the time given as now",
    )


def begins_at(day: int, hour: int, minute: int, now: datetime, where: Callable[[], str]) -> datetime:
    """Find month and year of the beginning of a validity: the last such at most a day ahead and 32 days back.

    For forecasts without a time of issue. now: aware UTC. where: as in `issued_at`. Raises ReportError for none.
    """
    latest = now + AHEAD_WITHOUT_ISSUE
    year, month = latest.year, latest.month
    if hour <= 24 and minute <= 59:
        for _ in range(3):
            try:
                begin = datetime(year, month, day, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)
            except ValueError:
                begin = latest + OLDEST
            if now - OLDEST <= begin <= latest:
                return begin
            year, month = (year, month - 1) if month > 1 else (year - 1, 12)
    raise ReportError(
        f"no validity from day {day:02} lies within the month before {now:%Y-%m-%d}",
        where=where(),
        hint="check the day of the forecast, and the time given as now",
    )


_LAST = datetime.max.replace(tzinfo=UTC) - AHEAD

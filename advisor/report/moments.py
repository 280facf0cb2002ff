"""The time given as now, and the days of the calendar on which a report can be read.

Reading looks a month back and some days ahead, so the first and last weeks that a date can have are refused.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from advisor.errors import ReportError

_ROOM = timedelta(days=40)
FIRST = datetime.min.replace(tzinfo=UTC) + _ROOM
LAST = datetime.max.replace(tzinfo=UTC) - _ROOM


def utc(now: datetime) -> datetime:
    """Turn the time given as now into UTC. Raises ReportError where it has no time zone or no room around it."""
    if now.tzinfo is None or now.utcoffset() is None:
        raise ReportError("now has no time zone", where="now", hint="give a time with its offset, such as UTC")
    if not FIRST <= now <= LAST:
        raise ReportError("now lies outside the calendar", where="now", hint="years 1 to 9999, not their ends")
    return now if now.tzinfo is UTC else now.astimezone(UTC)

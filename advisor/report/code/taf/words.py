"""The words for what surrounds the groups of a forecast: its times, validity, changes and temperatures.

Source: common practice.
"""

from __future__ import annotations

from datetime import datetime

from advisor.report.code.words import signed

CHANGE_WORDS = {"BECMG": "becoming", "TEMPO": "at times", "INTER": "now and then"}
_EXTREME_NAMES = {"TX": "highest temperature", "TN": "lowest temperature", "T": "temperature"}
NIL_SAID = "no forecast: the station sent none"
CANCELLED_SAID = "cancelled: not to be used"


def day_time(moment: datetime) -> str:
    """Write day and time as in "day 16 at 06:00"."""
    return f"day {moment.day:02} at {moment.hour:02}:{moment.minute:02}"


def between(start: datetime, end: datetime) -> str:
    """Say a stretch of time, naming the day once where it has only one."""
    if start.day == end.day:
        return f"between {start.hour:02}:{start.minute:02} and {end.hour:02}:{end.minute:02} UTC on day {start.day:02}"
    return f"between {day_time(start)} and {day_time(end)} UTC"


def extreme_said(kind: str, value: float, day: int, hour: int) -> str:
    """Say a forecast temperature."""
    return f"{_EXTREME_NAMES[kind]} {signed(value)} °C, on day {day:02} at {hour:02}:00 UTC"


def said_change(indicator: str, start: datetime | None, end: datetime | None) -> str:
    """Say the head of a change group; None for a time that cannot be read."""
    base, _, more = indicator.partition(" ")
    head = CHANGE_WORDS.get(base) or f"{base[4:]} % probability" + (f", {CHANGE_WORDS[more]}" if more else "")
    if start is None or end is None:
        return head + ", at a time that cannot be read: taken as any time of its period"
    return f"{head} {between(start, end)}"


def said_from(start: datetime | None) -> str:
    """Say an FM group; None for a time that cannot be read."""
    if start is None:
        return "from a time that cannot be read: taken as any time of its period"
    return f"from {day_time(start)} UTC"


def said_issued(token: str) -> str:
    """Say a time of issue such as 151800Z."""
    return f"issued on day {token[:2]} at {token[2:4]}:{token[4:6]} UTC"


def said_valid(start: datetime, end: datetime) -> str:
    """Say a validity."""
    return f"valid from {day_time(start)} to {day_time(end)} UTC"

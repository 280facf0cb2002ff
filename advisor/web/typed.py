"""What people type into a form, as the structure takes it: times, spans, degrees, places as any page prints them. Pure.

What cannot be read goes through as it was typed, and the reader says what is wrong with it.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

_LOCAL = re.compile(r"\s*\([^()]*local\)", re.I)
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})\s*Z?\Z|(\d{2})(\d{2})\s*Z?\Z", re.ASCII | re.I)
_DAY = re.compile(r"(\d{2})/?(\d{2}):?(\d{2})\s*Z?\Z", re.ASCII | re.I)
_DATE = re.compile(
    r"(\d{4}-\d{2}-\d{2})[T ]\s*(\d{2}):?(\d{2})(?::?(\d{2}))?\s*(Z|[+-]\d{2}:?\d{2})\Z", re.ASCII | re.I
)
_TIME = (
    r"\d{4}-\d{2}-\d{2}[T ]\s*\d{2}:?\d{2}(?::?\d{2})?\s*(?:Z|[+-]\d{2}:?\d{2})|"
    r"\d{2}/\d{2}:?\d{2}\s*Z?|\d{6}\s*Z?|\d{1,2}[:.]\d{2}\s*Z?|\d{4}\s*Z?"
)
_SPAN = re.compile(rf"({_TIME})\s*(?:/|-|–|—|to|until)\s*({_TIME})\Z", re.ASCII | re.I)
_HEADING = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:°|º|deg|degrees)?\s*(?:T|true)?\Z", re.ASCII | re.I)
_CELSIUS = re.compile(r"(M|-|−|\+)?\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:°\s*C?|º\s*C?|C|degC)?\Z", re.ASCII | re.I)
_PERCENT = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:%|percent|per cent)?\Z", re.ASCII | re.I)
_DEGREES = re.compile(
    r"(\d{1,2}(?:\.\d+)?)\s*°?\s*([NS])\s*[,;]?\s*(\d{1,3}(?:\.\d+)?)\s*°?\s*([EW])\Z", re.ASCII | re.I
)


def moment(text: str, now: datetime) -> str:
    """A time: of day, with the day of the month before it, or with a date; UTC on a form.

    Returns HHMMZ or RFC 3339. A day of the month is the one nearest to now, so that one just passed is said to be.
    """
    text = _LOCAL.sub("", text).strip()
    if clock := _CLOCK.match(text):
        hour, minute = (clock[1], clock[2]) if clock[1] else (clock[3], clock[4])
        return f"{int(hour):02d}{minute}Z"
    if day := _DAY.match(text):
        return _nearest(int(day[1]), int(day[2]), int(day[3]), now) or text
    if date := _DATE.match(text):
        return f"{date[1]}T{date[2]}:{date[3]}:{date[4] or '00'}{date[5].upper()}"
    return text


def _nearest(day: int, hour: int, minute: int, now: datetime) -> str:
    """The moment nearest to now on a day of the month; "" where there is none within a month or so."""
    if hour > 23 or minute > 59:
        return ""
    begin = now.astimezone(UTC).replace(hour=hour, minute=minute, second=0, microsecond=0)
    days = (begin + timedelta(days=away) for away in range(-31, 32))
    found = [at for at in days if at.day == day]
    return "" if not found else f"{min(found, key=lambda at: abs(at - now)):%Y-%m-%dT%H:%M:%SZ}"


def present(text: str, now: datetime) -> str:
    """What is taken as now: as moment, but a time of day is the one nearest to the clock."""
    read = moment(text, now)
    if not re.fullmatch(r"\d{4}Z", read):
        return read
    clock = now.astimezone(UTC)
    days = (clock + timedelta(days=away) for away in (-1, 0, 1))
    found = [_nearest(day.day, int(read[:2]), int(read[2:4]), now) for day in days]
    near = [datetime.fromisoformat(one) for one in found if one]
    return text if not near else f"{min(near, key=lambda at: abs(at - now)):%Y-%m-%dT%H:%M:%SZ}"


def span(text: str, now: datetime) -> str:
    """Two times, with any of the strokes and dashes between them, as START/END."""
    found = _SPAN.match(_LOCAL.sub("", text).strip())
    return f"{moment(found[1], now)}/{moment(found[2], now)}" if found else text


def heading(text: str) -> str:
    """Degrees with or without their sign."""
    found = _HEADING.match(text.strip())
    return found[1].replace(",", ".") if found else text


def celsius(text: str) -> str:
    """Degrees Celsius: as a report codes them (M08), with a true minus, with their sign."""
    match = _CELSIUS.match(text.strip())
    if not match:
        return text
    minus = "-" if (match[1] or "").upper() in ("M", "-", "−") else ""
    return minus + match[2].replace(",", ".")


def percent(text: str) -> str:
    """Percent with or without its sign."""
    found = _PERCENT.match(text.strip())
    return found[1].replace(",", ".") if found else text


def place(text: str) -> str:
    """Coordinates as a page prints them (61.40 N 9.80 E) as LAT,LON."""
    match = _DEGREES.match(text.strip())
    if not match:
        return text
    north = "-" if match[2].upper() == "S" else ""
    east = "-" if match[4].upper() == "W" else ""
    return f"{north}{match[1]},{east}{match[3]}"

"""When and where: the texts that people give, as a Departure. Pure; `now` is a parameter."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Protocol

from advisor.conditions import Windows
from advisor.errors import DepartureError
from advisor.quantities import read_number
from advisor.quantities.units import DAY_S, HOUR_S

JUST_PASSED_S = 60 * 60
FURTHEST_S = 30 * HOUR_S
EARLIEST_YEAR, LATEST_YEAR = 1950, 2050
LONGEST_WINDOW_S = 12 * HOUR_S
_CLOCK = re.compile(r"(\d{2}):?(\d{2})Z\Z", re.ASCII | re.IGNORECASE)
# as a brief prints the time of another day: the day of the month first
_DAY = re.compile(r"(\d{2})/(\d{2}:?\d{2}Z)\Z", re.ASCII | re.IGNORECASE)
_TIME_HINT = "give HH:MMZ, HHMMZ or a date and time with offset such as 2027-01-10T06:40:00Z"


class WindowPlan(Protocol):
    """A checklist's default windows for a class of aircraft, minutes from off-block."""

    @property
    def walk_round(self) -> tuple[float, float]: ...  # noqa: D102
    @property
    def doors_open(self) -> tuple[float, float]: ...  # noqa: D102
    @property
    def take_off(self) -> float: ...  # noqa: D102
    @property
    def take_off_treated(self) -> float: ...  # noqa: D102


def to_unix(moment: datetime, *, what: str = "time") -> int:
    """Whole seconds since 1970 UTC of an aware time. Raises DepartureError for a naive one."""
    if moment.tzinfo is None:
        raise DepartureError(f"{moment.isoformat()} has no time zone", where=what, hint=_TIME_HINT)
    if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        said = f"{moment.isoformat()} is not between {EARLIEST_YEAR} and {LATEST_YEAR}"
        raise DepartureError(said, where=what, hint=_TIME_HINT)
    return math.floor(moment.timestamp())


def from_unix(unix_s: float) -> datetime:
    """Aware UTC time of seconds since 1970."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=math.floor(unix_s))


def rfc3339(unix_s: float) -> str:
    """Seconds since 1970 as RFC 3339 in UTC with Z."""
    return from_unix(unix_s).strftime("%Y-%m-%dT%H:%M:%SZ")


def stamp(unix_s: float | None) -> str | None:
    """The same; None stays None."""
    return None if unix_s is None else rfc3339(unix_s)


def hhmm(unix_s: float) -> str:
    """Seconds since 1970 as people say them on the day: 0640Z."""
    return from_unix(unix_s).strftime("%H%MZ")


def read_moment(text: str, *, what: str) -> datetime:
    """Aware time of a text in RFC 3339. Raises DepartureError where it cannot be read or has no offset."""
    shown = text if len(text) <= 40 else text[:37] + "..."
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise DepartureError(f"{shown!r} is not a time", where=what, hint=_TIME_HINT) from None
    if moment.tzinfo is None:
        raise DepartureError(f"{shown!r} has no time zone", where=what, hint=_TIME_HINT)
    if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        said = f"{shown!r} is not between {EARLIEST_YEAR} and {LATEST_YEAR}"
        raise DepartureError(said, where=what, hint=_TIME_HINT)
    return moment


def _clock_s(text: str, *, what: str) -> int | None:
    match = _CLOCK.match(text.strip())
    if not match:
        return None
    hour, minute = int(match[1]), int(match[2])
    if hour > 23 or minute > 59:
        raise DepartureError(f"{text.strip()!r} is not a time of day", where=what, hint=_TIME_HINT)
    return hour * HOUR_S + minute * 60


def _dated(text: str, reference: int, *, what: str) -> list[int]:
    """A day of the month and a time of day, in the months about the reference that have it; [] for another text."""
    match = _DAY.match(text.strip())
    if not match:
        return []
    clock, day = _clock_s(match[2], what=what) or 0, int(match[1])
    today = from_unix(reference)
    moments_s = []
    for months in (-1, 0, 1):
        month = today.month - 1 + months
        try:
            midnight = datetime(today.year + month // 12, month % 12 + 1, day, tzinfo=UTC)
        except ValueError:
            continue
        moments_s.append(to_unix(midnight) + clock)
    if not moments_s:
        raise DepartureError(f"{text.strip()!r} is not a day of the month", where=what, hint=_TIME_HINT)
    return moments_s


def read_at_or_after(text: str | datetime, reference: int, *, what: str) -> int:
    """Unix seconds of a time text; a time of day is its first occurrence at or after reference."""
    if isinstance(text, datetime):
        return to_unix(text, what=what)
    dated = _dated(text, reference, what=what)
    if dated:
        return min((at for at in dated if at >= reference), default=max(dated))
    clock = _clock_s(text, what=what)
    if clock is None:
        return to_unix(read_moment(text, what=what), what=what)
    return reference + (clock - reference) % DAY_S


def read_at_or_before(text: str | datetime, reference: int, *, what: str) -> int:
    """Unix seconds of a time text; a time of day is its last occurrence at or before reference."""
    if isinstance(text, datetime):
        return to_unix(text, what=what)
    dated = _dated(text, reference, what=what)
    if dated:
        return max((at for at in dated if at <= reference), default=min(dated))
    clock = _clock_s(text, what=what)
    if clock is None:
        return to_unix(read_moment(text, what=what), what=what)
    return reference - (reference - clock) % DAY_S


def read_off_block(text: str | datetime, now: int) -> int:
    """Unix seconds of the off-block time.

    Raises DepartureError where it passed (a time of day: under 60 minutes ago), or lies over 30 hours ahead.
    """
    what = "off-block"
    off_block = read_at_or_after(text, now, what=what)
    if isinstance(text, str) and _CLOCK.match(text.strip()) and off_block - now > DAY_S - JUST_PASSED_S:
        passed_min = math.ceil((DAY_S - (off_block - now)) / 60)
        raise DepartureError(
            f"{text.strip()} passed {passed_min} min ago",
            where=what,
            hint="give a later time, or date and time for tomorrow's",
        )
    if off_block < now:
        raise DepartureError(
            f"{stamp(off_block)} is before now, {stamp(now)}", where=what, hint="give a time to come, or another --now"
        )
    if off_block - now > FURTHEST_S:
        raise DepartureError(
            f"{stamp(off_block)} is more than 30 h ahead of now, {stamp(now)}",
            where=what,
            hint="brief again nearer the departure",
        )
    return off_block


def read_month(text: str) -> datetime:
    """The beginning of a month given as "2020-01", aware UTC. Raises DepartureError for anything else."""
    try:
        moment = datetime.strptime(text.strip(), "%Y-%m").replace(tzinfo=UTC)
    except ValueError:
        raise DepartureError(
            f"{text[:40]!r} is no month", where="month", hint="give year and month as 2020-01"
        ) from None
    if not 1950 <= moment.year <= 2050:
        raise DepartureError(f"{text[:40]!r} is not between 1950 and 2050", where="month", hint="as in 2020-01")
    return moment


def read_window(text: str | tuple[datetime, datetime], off_block: int, *, what: str) -> tuple[int, int]:
    """Start and end of "START/END"; times of day are the last ones at or before off-block."""
    if isinstance(text, str):
        parts = text.split("/")
        if len(parts) != 2:
            raise DepartureError(f"{text[:60]!r} is not START/END", where=what, hint="such as 0555Z/0615Z")
        first, last = parts
        end = read_at_or_before(last, off_block, what=what)
        start = read_at_or_before(first, end, what=what)
        return start, end
    return to_unix(text[0], what=what), to_unix(text[1], what=what)


def read_heading(value: float | str | None) -> float:
    """Nose heading in degrees true, 0 to 360; NaN for None. Raises DepartureError for anything else."""
    if value is None:
        return math.nan
    try:
        heading = read_number(value) if isinstance(value, str) else float(value)
    except ValueError:
        heading = math.nan
    if not (math.isfinite(heading) and 0 <= heading <= 360):
        raise DepartureError(
            f"{str(value)[:40]} is not a heading", where="heading", hint="give degrees true from 0 to 360"
        )
    return heading % 360


def windows_of(
    off_block: int,
    now: int,
    plan: WindowPlan,
    *,
    treated: bool,
    given: Mapping[str, str | tuple[datetime, datetime]] | None = None,
    take_off: str | datetime | None = None,
) -> tuple[Windows, tuple[str, ...]]:
    """The windows of a departure, and what has to be said about them.

    given: "walk_round" and "doors_open" as START/END where they replace the checklist's. A window that began before
    now counts from now; a default one that has wholly passed is taken as now to off-block, because the walk is
    still to be made. Raises DepartureError for windows in the wrong order.
    """
    given = given or {}
    notes: list[str] = []
    spans: dict[str, tuple[int, int]] = {}
    for name, default in (("walk_round", plan.walk_round), ("doors_open", plan.doors_open)):
        label = name.replace("_", "-")
        if name in given:
            start, end = read_window(given[name], off_block, what=label)
            _check_order(label, start, end, off_block)
            if end < now:
                raise DepartureError(
                    f"ends at {stamp(end)}, before now, {stamp(now)}", where=label, hint="give a window that is to come"
                )
        else:
            start, end = off_block + round(default[0] * 60), off_block + round(default[1] * 60)
            if end <= now < off_block:
                start, end = now, off_block
                if name == "walk_round":
                    notes.append("The usual time for the walk has passed: the walk counts from now to off-block.")
            end = max(end, min(now, off_block))
        spans[name] = (max(start, now), end)
    after = plan.take_off_treated if treated else plan.take_off
    leaving = off_block + round(after * 60)
    if take_off is not None:
        leaving = read_at_or_after(take_off, off_block, what="take-off")
        if leaving < off_block:
            raise DepartureError(
                f"{stamp(leaving)} is before off-block, {stamp(off_block)}", where="take-off", hint="give a later time"
            )
        if leaving - off_block > 6 * HOUR_S:
            raise DepartureError(
                f"{stamp(leaving)} is more than 6 h after off-block", where="take-off", hint="give an earlier time"
            )
    return Windows(spans["walk_round"], spans["doors_open"], off_block, leaving), tuple(notes)


def _check_order(label: str, start: int, end: int, off_block: int) -> None:
    if start >= end:
        raise DepartureError(
            f"starts at {stamp(start)} but ends at {stamp(end)}", where=label, hint="give the earlier time first"
        )
    if end > off_block:
        raise DepartureError(
            f"ends at {stamp(end)}, after off-block, {stamp(off_block)}", where=label, hint="end it at or before that"
        )
    if end - start > LONGEST_WINDOW_S:
        # two times of day in the wrong order read as nearly a day
        what = f"starts at {stamp(start)} and ends at {stamp(end)}, over {LONGEST_WINDOW_S // HOUR_S} h later"
        raise DepartureError(what, where=label, hint="give the earlier time first")
    if off_block - start > FURTHEST_S:
        what = f"starts at {stamp(start)}, more than 30 h before off-block"
        raise DepartureError(what, where=label, hint="start it later")

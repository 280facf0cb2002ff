"""Trend groups of a METAR, kept apart from the observation.

Source: icao-annex-3-trend, trend forecast: valid for two hours from the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from advisor.report.code.assemble import Assembly
from advisor.report.code.entries import LedgerEntry
from advisor.report.model import DECODED, Trend

VALID = timedelta(hours=2)
_READ = frozenset(("wind", "visibility", "CAVOK", "weather", "cloud", "vertical visibility", "sky"))
_KEPT = (
    "wind_direction_deg",
    "wind_kt",
    "gust_kt",
    "gust_lost",
    "visibility_m",
    "visibility_is",
    "weather",
    "sky",
    "cloud",
    "weather_missing",
)
# which elements a kind of group speaks of, also where it is coded missing or in conflict
_SPEAKS_OF = {
    "wind": ("wind",),
    "visibility": ("visibility",),
    "weather": ("weather",),
    "cloud": ("cloud",),
    "vertical visibility": ("cloud",),
    "sky": ("cloud",),
    "CAVOK": ("visibility", "weather", "cloud"),
}


def read_trends(entries: Sequence[LedgerEntry], issued: datetime) -> tuple[Trend, ...]:
    """Gather the groups of each trend.

    entries: the groups of part "trend", in order, conflicts without values. issued: aware UTC, the time of the report.
    Returns one Trend for each change word.
    """
    parts: list[list[LedgerEntry]] = []
    for one in entries:
        if one.group.kind == "trend" or not parts:
            parts.append([])
        parts[-1].append(one)
    return tuple(_trend(part, issued) for part in parts)


def _trend(part: Sequence[LedgerEntry], issued: datetime) -> Trend:
    begins, ends = issued, issued + VALID
    gathered = Assembly(issued)
    for one in part:
        if one.group.status != DECODED:
            gathered.not_read(one.group)
            continue
        if one.group.kind == "trend time":
            at = _next(issued, one.numbers["hour"], one.numbers["minute"])
            begins = at if one.words[0] in ("FM", "AT") else begins
            ends = at if one.words[0] in ("TL", "AT") else ends
        elif one.group.kind in _READ:
            gathered.value(one)
    gathered.finish()
    kept = {name: gathered.fields[name] for name in _KEPT if name in gathered.fields}
    mentioned = {name for one in part for name in _SPEAKS_OF.get(one.group.kind, ())}
    mentioned |= {"weather"} if kept.get("weather_missing") else set()
    text = " ".join(one.group.text for one in part)
    return Trend(part[0].group.text.upper(), text, begins, max(begins, ends), mentioned=frozenset(mentioned), **kept)


def _next(issued: datetime, hour: float, minute: float) -> datetime:
    """Find the first such time of day at or after the report; 24:00 is the end of the day."""
    at = issued.replace(hour=int(hour) % 24, minute=int(minute))
    return at if at >= issued else at + timedelta(days=1)

"""Trend groups of a METAR, kept apart from the observation.

Source: icao-annex-3-trend, trend forecast: valid for two hours from the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from advisor.report.code.assemble import Assembly
from advisor.report.code.entries import LedgerEntry
from advisor.report.code.unread import element_of
from advisor.report.forecast import ALL
from advisor.report.model import DECODED, NOT_DECODED, TREND_HOLDS, Trend

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
    for entry in entries:
        if entry.group.kind == "trend" or not parts:
            parts.append([])
        parts[-1].append(entry)
    return tuple(_trend(part, issued) for part in parts)


def _trend(part: Sequence[LedgerEntry], issued: datetime) -> Trend:
    begins, ends = issued, issued + TREND_HOLDS
    gathered = Assembly(issued)
    for entry in part:
        if entry.group.status != DECODED:
            gathered.not_read(entry.group)
            continue
        if entry.group.kind == "trend time":
            time = _next(issued, entry.numbers["hour"], entry.numbers["minute"])
            begins = time if entry.words[0] in ("FM", "AT") else begins
            ends = time if entry.words[0] in ("TL", "AT") else ends
        elif entry.group.kind in _READ:
            gathered.value(entry)
    gathered.finish()
    kept = {name: gathered.fields[name] for name in _KEPT if name in gathered.fields}
    mentioned = {name for entry in part for name in _SPEAKS_OF.get(entry.group.kind, ())}
    unread = [entry.group.text for entry in part if entry.group.status == NOT_DECODED]
    mentioned |= {element for text in unread if (element := element_of(text)) is not None}
    mentioned |= {"weather"} if kept.get("weather_missing") else set()
    said = [entry for entry in part if not entry.group.kind.startswith("trend")]
    if part[0].group.text.upper() != "NOSIG" and not mentioned and (unread or not said):
        # a change without words that can be read changes nobody knows what
        mentioned, kept = set(ALL), {"weather_missing": True}
    text = " ".join(entry.group.text for entry in part)
    return Trend(part[0].group.text.upper(), text, begins, max(begins, ends), mentioned=frozenset(mentioned), **kept)


def _next(issued: datetime, hour: float, minute: float) -> datetime:
    """Find the first such time of day at or after the report; 24:00 is the end of the day."""
    time = issued.replace(hour=int(hour) % 24, minute=int(minute))
    return time if time >= issued else time + timedelta(days=1)

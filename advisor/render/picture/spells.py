"""What falls and when, as the pictures show it: stretches of the same weather in words. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.render import words

# flags of what falls or drifts, the word for it, and the codes by which the report's own text already says it
_WEATHER = (
    ("freezing_precipitation", "freezing precipitation", r"FZ(RA|DZ|UP)"),
    ("snow", "snow", r"SN|SG|GS"),
    ("ice_pellets", "ice pellets", r"PL|PE|GS"),
    ("hail", "hail", r"GR|GS"),
    ("rain", "rain", r"RA|DZ"),
    ("unknown_precipitation", "precipitation of unknown kind", r"UP"),
    ("thunderstorm", "thunderstorm", r"TS"),
    ("blowing_snow", "blowing snow", r"(BL|DR)SN"),
    ("freezing_fog", "freezing fog", r"FZFG"),
    ("fog", "fog", r"FG"),
)


@dataclass(frozen=True, slots=True)
class Spell:
    """What falls from start to end: falling, possible, none or unknown."""

    start_s: float
    end_s: float
    kind: str
    said: str


def _weather(row: dict[str, Any]) -> tuple[str, str]:
    """Kind and words of one time: the central case's codes, and what else may be."""
    text = row.get("precipitation")
    coded = text if text and not text.startswith(words.NO_CODES) else ""
    may = [said for key, said, codes in _WEATHER if row.get(key) is True and not re.search(codes, coded)]
    if "freezing fog" in may and "fog" in may:
        may.remove("fog")
    maybe = f"may be {', '.join(may)}" if may else ""
    if coded:
        return "falling", f"{coded}; {maybe}" if maybe else coded
    unknown = text is None or not text.startswith("none") or any(row.get(key) is None for key, _, _ in _WEATHER)
    base = "not known" if text is None else text.split(" (")[0]
    if may:
        return "possible", f"{base}; {maybe}"
    if unknown:
        return "unknown", "not known" if text is None or text.startswith("none") else base
    return "none", base


def spells(rows: Sequence[dict[str, Any]], times: Sequence[float]) -> Iterator[Spell]:
    """What falls over a timeline's rows, equal neighbours in one."""
    weather = [_weather(row) for row in rows]
    start = 0
    for index in range(1, len(weather) + 1):
        if index == len(weather) or weather[index] != weather[start]:
            end = times[index] if index < len(weather) else times[-1]
            if end > times[start] or len(weather) == 1:
                yield Spell(times[start], end, *weather[start])
            start = index

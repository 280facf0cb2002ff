"""How an entry of a remark is made, and the words for places and times that several share."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import nan

from advisor.quantities.units import MM_PER_INCH
from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry

CM_PER_INCH = MM_PER_INCH / 10
NO_SUCH_TIME = "no such time of day"


def place(text: str) -> str:
    """Say where something is seen, behind a comma; nothing for nothing."""
    words_by_code = {
        "DSNT": "distant",
        "OHD": "overhead",
        "VC": "in the vicinity",
        "AND": "and",
        "ALQDS": "in all quadrants",
        "ARND": "around",
        "THRU": "to",
    }
    words = " ".join(words_by_code.get(word) or w.compass(word) for word in text.split())
    return f", {words}" if words else ""


def where(text: str) -> str:
    """Say "RWY15" or "W"."""
    return f"on runway {text[3:].strip()}" if text.startswith("RWY") else f"to the {w.compass(text)}"


Say = Callable[[re.Match[str], bool], LedgerEntry]


def clock(hour: str | None, minute: str) -> tuple[str, dict[str, float]] | None:
    """Say a time of day or a minute past the hour, with its numbers; None where there is no such time."""
    if int(minute) > 59 or (hour and int(hour) > 23):
        return None
    said = f"at {hour}:{minute} UTC" if hour else f"{minute} min past the hour"
    return said, {"hour": float(hour) if hour else nan, "minute": float(minute)}


def remark(
    m: re.Match[str], kind: str, status: str, meaning: str, words: tuple[str, ...] = (), **numbers: float
) -> LedgerEntry:
    """Make the entry of a remark that matched."""
    return entry(m[0], kind, status, meaning, numbers or None, words, "remarks")

"""Briefs of an invented field at ten to five on a winter's morning, or at another hour, by id and status."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from advisor import advise
from advisor.brief.model import Advice, Brief

NOW = "2027-01-10T05:10:00Z"
RANK = {None: 0, "cannot tell": 1, "possible": 2, "likely": 3, "expected": 4}
CLASSES = (
    "light-aircraft",
    "glider",
    "helicopter",
    "uncrewed",
    "twin-turboprop",
    "regional-jet",
    "single-aisle-jet",
    "wide-body-jet",
)


def metar(groups: str, at: str = "100450") -> str:
    """A report of the invented station at day and time."""
    return f"METAR ZZZA {at}Z {groups}"


def told(*reports: str, now: str = NOW, ahead_min: int = 90, **asked: Any) -> Brief:
    """A brief. reports: groups alone (of ten to five), or whole reports."""
    whole = [one if one.startswith(("METAR", "SPECI", "TAF")) else metar(one) for one in reports]
    off_block = datetime.fromisoformat(now) + timedelta(minutes=ahead_min)
    return advise(whole, now=now, off_block=off_block, **({"place": "61.4,9.8"} | asked))


def line(made: Brief, name: str) -> Advice | None:
    """A line by its id."""
    return next((one for one in made.advice if one.id == name), None)


def status(made: Brief, name: str) -> str | None:
    """Status of a line by its id, None where it is not there."""
    found = line(made, name)
    return None if found is None else found.status


def at_least(made: Brief, name: str, least: str) -> bool:
    """Whether a line is at least as sure as a status."""
    return RANK[status(made, name)] >= RANK[least]


def spread(made: Brief, name: str, row: int = 0) -> tuple[float | None, float | None, float | None]:
    """Low, central and high of a quantity of the timeline."""
    value = made.timeline[row][name]
    assert isinstance(value, dict)
    return value["low"], value["central"], value["high"]


def noted(made: Brief, *words: str) -> bool:
    """Whether a note at the top holds all these words."""
    return any(all(word in note for word in words) for note in made.notes)

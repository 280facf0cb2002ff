"""A situation as rules see it: derived conditions, windows, and the present."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from advisor.checklist.evaluate import answers
from advisor.checklist.rules import Rule, Situation
from advisor.conditions import Conditions, Windows

# what a departure may leave out; the report, the place and the times are always there
OPTIONAL = ("seen", "treated_at", "parked_since", "fuel_temperature", "fuel_fill", "heading")


def stated(situation: Situation) -> bool:
    """Whether a situation says something of the aircraft that nobody has to say."""
    return any(getattr(situation, name) is not None for name in OPTIONAL)


class Weathered(NamedTuple):
    """Derived conditions from now to take-off, the windows of the departure, now in seconds since 1970 UTC."""

    conditions: Conditions
    windows: Windows
    now: int


class Reached(NamedTuple):
    """A rule that comes up in a phase; must: as a must, be it only in some case."""

    rule: str
    phase: str
    must: bool


def reached(rules: Iterable[Rule], weather: Weathered, class_id: str) -> set[Reached]:
    """The rules of a class that come up in any case of the weather, phase by phase."""
    conditions, windows, now = weather
    answered = answers(rules, conditions, class_id)
    masks = {}
    for phase in ("parked", "walk_round", "doors_open", "off_block", "take_off"):
        start, end = windows.phase(phase, now)
        masks[phase] = (conditions.unix_s >= start) & (conditions.unix_s <= end)
    came_up: set[Reached] = set()
    for rule, (yes, _) in zip(answered.rules, answered.pairs, strict=True):
        raised = rule.raised
        graver = None if raised is None else raised.condition.evaluate(conditions.columns, conditions.shape)[0]
        anywhen = np.any(yes, axis=0)
        for phase in rule.during:
            if (anywhen & masks[phase]).any():
                must = rule.weight == "must" or (graver is not None and bool((graver & masks[phase]).any()))
                came_up.add(Reached(rule.id, phase, must))
    return came_up

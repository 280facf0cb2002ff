"""A difference between two checklists for which a situation is wanted, and the situation that shows it."""

from __future__ import annotations

from typing import NamedTuple

from advisor.checklist.language.cells import Cell
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.decide import decide
from advisor.checklist.rules import Rule, Situation

_NEVER = compile_condition("snow and not snow").node


class Sought(NamedTuple):
    """A difference for which a witness is wanted.

    rule: "" for any line; what: in which respect; class_id: for which class; old, new: the rule as it holds for it,
    None where it does not; places: where the conditions differ; less: the new line has to say less. aircraft: of a
    difference of an aircraft; windows: of a group of windows. apart: rules that differ by themselves.
    """

    rule: str
    what: str
    class_id: str
    old: Rule | None = None
    new: Rule | None = None
    places: tuple[tuple[Cell, ...], ...] = ()
    less: bool = False
    aircraft: str = ""
    windows: str = ""
    apart: frozenset[str] = frozenset()


class SoughtSituation(NamedTuple):
    """A situation and its aircraft, and what the line is on both sides."""

    situation: Situation
    aircraft: str
    old: str
    new: str


def reaching(rule: Rule | None) -> tuple[tuple[Cell, ...], ...]:
    """Places where a rule comes up: where it differs from one that never does."""
    if rule is None or rule.condition.always:
        return ()
    return decide(_NEVER, rule.condition.node).more

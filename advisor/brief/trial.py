"""One rule tried on one departure: each part of its condition yes, no or not known, by phase and case. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Literal

import msgspec
import numpy as np

from advisor.brief.advise import Weighed
from advisor.brief.model import number
from advisor.checklist.evaluate import NOT_INDICATED
from advisor.checklist.language.nodes import Always, And, Atom, Node, Not, truth, truth_at, value_at
from advisor.checklist.rules import Rule
from advisor.conditions import NO, YES, Conditions
from advisor.departure import rfc3339
from advisor.quantities import CODE, QUANTITIES

Answer = Literal["yes", "no", "not known"]


class CaseReading(msgspec.Struct, frozen=True):
    """A part of the condition in one case: its answer, and the value it was asked of; None not known, or no number."""

    case: str
    answer: Answer
    value: float | str | None = None


class ConditionPart(msgspec.Struct, frozen=True):
    """A part of the condition: how deep it lies, what it asks, and its answer in each case."""

    depth: int
    last: bool
    asks: str
    unit: str
    cases: tuple[CaseReading, ...]


class InPhase(msgspec.Struct, frozen=True):
    """A phase: from when to when, and the condition's parts at the time that decides in each case."""

    phase: str
    from_: str = msgspec.field(name="from")
    until: str = ""
    passed: bool = False
    at: tuple[str, ...] = ()
    parts: tuple[ConditionPart, ...] = ()


class Trial(msgspec.Struct, frozen=True):
    """What became of a rule. status: as a line of the brief has it. why_not: where the rule does not hold at all.

    must: the same for the condition that makes it a must, empty without one.
    """

    rule: str
    status: str
    weight: str
    when: str
    phases: tuple[InPhase, ...] = ()
    must: tuple[InPhase, ...] = ()
    why_not: str = ""


def trial(rule: Rule, weighed: Weighed) -> Trial:
    """How a rule, as the checklist writes it, answers there. weighed: what a brief is made of."""
    held = weighed.checklist.rule(rule.id)
    held = None if held is None else held.for_class(weighed.profile.class_id)
    if held is None:
        return Trial(rule.id, NOT_INDICATED, rule.weight, rule.when, why_not=_why_not(rule, weighed))
    finding = next(one for one in weighed.found if one.rule.id == rule.id)
    raised = held.raised
    return Trial(
        rule.id,
        finding.status,
        finding.rule.weight,
        held.when,
        tuple(_phases(held, weighed)),
        () if raised is None else tuple(_phases(raised, weighed)),
    )


def _why_not(rule: Rule, weighed: Weighed) -> str:
    profile = weighed.profile
    if profile.class_id not in rule.classes:
        return f"does not hold for the class {profile.class_id}"
    if rule.aircraft and profile.id not in rule.aircraft:
        return f"does not hold for the aircraft {profile.id}"
    return "does not hold at this station or in this month"


def _phases(rule: Rule, weighed: Weighed) -> Iterator[InPhase]:
    conditions, now = weighed.future, weighed.departure.now
    windows = weighed.departure.windows
    yes, no = rule.condition.evaluate(conditions.columns, conditions.shape)
    for name in rule.during:
        start, end = windows.phase(name, now)
        mask = (conditions.unix_s >= start) & (conditions.unix_s <= end)
        if end < now or not mask.any():
            yield InPhase(name, rfc3339(start), rfc3339(end), passed=True)
            continue
        times = np.flatnonzero(mask)
        chosen = [_deciding(yes[case], no[case], times) for case in range(len(conditions.cases))]
        parts = tuple(_parts(rule.condition.node, conditions, chosen))
        at = tuple(rfc3339(float(conditions.unix_s[time])) for time in chosen)
        yield InPhase(name, rfc3339(start), rfc3339(end), at=at, parts=parts)


def _deciding(yes: np.ndarray, no: np.ndarray, times: np.ndarray) -> int:
    """The first time that says yes, else the first that is not known, else the first."""
    for mask in (yes[times], ~(yes[times] | no[times])):
        if mask.any():
            return int(times[mask.argmax()])
    return int(times[0])


def _parts(
    node: Node, conditions: Conditions, times: list[int], depth: int = 0, last: bool = True
) -> Iterator[ConditionPart]:
    columns = conditions.columns
    quantity = node.quantity if isinstance(node, Atom) else ""
    readings = []
    for case, time in enumerate(times):
        held = truth(node, lambda atom, case=case, time=time: truth_at(columns, atom, case, time))  # type: ignore[misc]
        answer: Answer = "yes" if held == YES else "no" if held == NO else "not known"
        value = _value(quantity, value_at(columns, quantity, case, time)) if quantity else None
        readings.append(CaseReading(conditions.cases[case].name, answer, value))
    unit = QUANTITIES[quantity].unit if quantity else ""
    yield ConditionPart(depth, last, _asks(node), unit, tuple(readings))
    if isinstance(node, Not):
        yield from _parts(node.part, conditions, times, depth + 1)
    elif not isinstance(node, (Atom, Always)):
        for at, part in enumerate(node.parts):
            yield from _parts(part, conditions, times, depth + 1, at == len(node.parts) - 1)


def _asks(node: Node) -> str:
    if isinstance(node, Atom):
        return node.test
    if isinstance(node, Always):
        return "always"
    return "not" if isinstance(node, Not) else "all of" if isinstance(node, And) else "any of"


def _value(quantity: str, value: float) -> float | str | None:
    row = QUANTITIES[quantity]
    if not isfinite(value):
        return None
    return row.said(value) if row.kind == CODE or row.levels else number(value, row.decimals)

"""For want of what a rule could not be told: which inputs are missing, by the same way back as in a brief."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from advisor.brief.missing import roots
from advisor.checklist.evaluate import STATUSES
from advisor.checklist.language.nodes import Bools, Evaluator, atoms
from advisor.checklist.rules import Rule
from advisor.conditions import NO, UNKNOWN, YES, Codes, Conditions
from advisor.physics.derive import given_by
from advisor.quantities import COLUMNS

# by the condition of a rule and the kind of a report
Answered = dict[tuple[str, bytes], tuple[str, ...]]
CANNOT_TELL = STATUSES.index("cannot tell")


def wants(
    status: Codes, rules: Sequence[Rule], conditions: Conditions, rows: NDArray[np.intp], answered: Answered
) -> dict[tuple[str, str], int]:
    """How often each input was missing where a rule could not be told: (rule, input) to counts.

    status: (rule, report) of all reports; rows: those that count. One report of each kind is asked: of a kind are those
    in which the same comparisons of the rule, and the same columns behind them, are not known. answered: what was found
    for kinds before, added to.
    """
    evaluator = Evaluator(conditions.columns, conditions.shape)
    found: dict[tuple[str, str], int] = {}
    for at, rule in enumerate(rules):
        here = rows[status[at, rows] == CANNOT_TELL]
        if not here.size:
            continue
        looked_at = _kind(rule, conditions, evaluator, here)
        first, count = _distinct(looked_at)
        for row, number in zip(first.tolist(), count.tolist(), strict=True):
            key = rule.when, np.packbits([one[row] for one in looked_at]).tobytes()
            if key not in answered:
                answered[key] = missing(rule, conditions, int(here[row]))
            for name in answered[key]:
                found[rule.id, name] = found.get((rule.id, name), 0) + number
    return found


def _distinct(rows: Sequence[Bools]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first position of each distinct column of bits, and how often it comes."""
    code = np.zeros(rows[0].size, dtype=np.int64)
    known = 1
    for one in rows:
        code = code * 2 + one
        known *= 2
        if known > 1 << 40:
            distinct, code = np.unique(code, return_inverse=True)
            known = distinct.size
    _, first, count = np.unique(code, return_index=True, return_counts=True)
    return first, count


def missing(rule: Rule, conditions: Conditions, row: int) -> tuple[str, ...]:
    """The inputs that are missing for a rule that could not be told of one report."""
    one = _single(conditions, row)
    cases = [rule.condition.truth(one.columns, case, 0) for case in range(len(one.cases))]
    case = cases.index(UNKNOWN) if UNKNOWN in cases else 0
    unknown = [reading.quantity for reading in rule.condition.reasons(one.columns, case, 0) if reading.truth == UNKNOWN]
    named = tuple(dict.fromkeys(root for name in unknown for root in roots(name, one, 0)))
    return named or tuple(dict.fromkeys(unknown))


def _single(conditions: Conditions, row: int) -> Conditions:
    size = conditions.unix_s.size

    def cut(column: NDArray[np.generic]) -> NDArray[np.generic]:
        return column[..., row : row + 1] if column.shape[-1] == size else column

    return replace(
        conditions,
        unix_s=conditions.unix_s[row : row + 1],
        latitude_deg=cut(np.asarray(conditions.latitude_deg)),  # type: ignore[arg-type]
        longitude_deg=cut(np.asarray(conditions.longitude_deg)),  # type: ignore[arg-type]
        columns={name: cut(np.asarray(column)) for name, column in conditions.columns.items()},
    )


def _kind(rule: Rule, conditions: Conditions, evaluator: Evaluator, rows: NDArray[np.intp]) -> list[Bools]:
    """All that the way back from a rule to its inputs looks at, each (report,)."""
    made: list[Bools] = []
    names: dict[str, None] = {}
    for atom, _ in atoms(rule.condition.node):
        yes, no = evaluator.pair(atom)
        made += [*yes[:, rows], *no[:, rows]]
        names |= dict.fromkeys(_behind(atom.quantity))
    for name in names:
        if name in conditions.columns and conditions.columns[name].ndim == 2:
            unknown = conditions.unknown(name)[:, rows]
            made += [unknown[0], np.asarray(unknown.any(axis=0))]
            if COLUMNS[name].unbounding:
                flag = conditions.flag(name)[:, rows]
                made += [np.asarray((flag == YES).any(axis=0)), np.asarray((flag != NO).any(axis=0))]
    return made


@cache
def _behind(quantity: str) -> tuple[str, ...]:
    """A quantity and every column that it follows from."""
    found, ahead = {quantity: None}, [quantity]
    while ahead:
        name = ahead.pop()
        stage = given_by(name)
        needs = stage.gives[name] if stage is not None else ()
        settling = COLUMNS[name].settled_by if name in COLUMNS else ()
        for other in (*needs, *settling):
            if other in COLUMNS and other not in found:
                found[other] = None
                ahead.append(other)
    return (*found, "snow", "rain", "fog")

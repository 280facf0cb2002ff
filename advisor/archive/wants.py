"""For want of what a rule could not be told: which inputs are missing, by the same way back as in a brief."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

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
Answered = dict[tuple[str, frozenset[str]], tuple[str, ...]]
CANNOT_TELL = STATUSES.index("cannot tell")
# rules that cannot be told in at most this share of the reports are looked at together
SELDOM = 0.1


def wants(
    status: Codes, rules: Sequence[Rule], conditions: Conditions, rows: NDArray[np.intp], answered: Answered
) -> dict[tuple[str, str], int]:
    """How often each input was missing where a rule could not be told: (rule, input) to counts.

    status: (rule, report) of all reports; rows: those that count. One report of each kind is asked: of a kind are those
    in which the same comparisons of the rule, and the same columns behind them, are not known. answered: what was found
    for kinds before, added to.
    """
    untold = status[:, rows] == CANNOT_TELL
    counts = untold.sum(axis=1)
    seldom = (counts > 0) & (counts <= SELDOM * rows.size)
    found: dict[tuple[str, str], int] = {}
    # what many rules look at is worked out once, for the reports in which one of them cannot be told
    for group in (np.flatnonzero(seldom).tolist(), np.flatnonzero((counts > 0) & ~seldom).tolist()):
        asked = np.flatnonzero(untold[group].any(axis=0))
        looking = _Looking(_picked(conditions, rows[asked]))
        for at in group:
            rule, here = rules[at], np.flatnonzero(untold[at, asked])
            looked_at = {name: bits[here] for name, bits in looking.at(rule).items()}
            first, count = _distinct(list(looked_at.values()), here.size)
            for row, number in zip(first.tolist(), count.tolist(), strict=True):
                key = rule.when, frozenset(name for name, bits in looked_at.items() if bits[row])
                if key not in answered:
                    answered[key] = missing(rule, conditions, int(rows[asked[here[row]]]))
                for name in answered[key]:
                    found[rule.id, name] = found.get((rule.id, name), 0) + number
    return found


def _distinct(rows: Sequence[Bools], size: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first position of each distinct column of bits, and how often it comes."""
    code = np.zeros(size, dtype=np.int64)
    if rows:
        packed = np.packbits(np.stack(rows), axis=0)
        known = 1
        for eight in packed:
            if known > 1 << 40:
                distinct, code = np.unique(code, return_inverse=True)
                known = distinct.size
            code = code * 256 + eight
            known *= 256
    _, first, count = np.unique(code, return_index=True, return_counts=True)
    return first, count


def missing(rule: Rule, conditions: Conditions, row: int) -> tuple[str, ...]:
    """The inputs that are missing for a rule that could not be told of one report."""
    one = _picked(conditions, np.array([row]))
    cases = [rule.condition.truth(one.columns, case, 0) for case in range(len(one.cases))]
    case = cases.index(UNKNOWN) if UNKNOWN in cases else 0
    unknown = [reading.quantity for reading in rule.condition.reasons(one.columns, case, 0) if reading.truth == UNKNOWN]
    named = tuple(dict.fromkeys(root for name in unknown for root in roots(name, one, 0)))
    return named or tuple(dict.fromkeys(unknown))


class _Picked(Mapping[str, NDArray[Any]]):
    """Columns of some reports; each is cut when it is first asked for."""

    def __init__(self, columns: Mapping[str, NDArray[Any]], rows: NDArray[np.intp], size: int) -> None:
        self._columns, self._rows, self._size = columns, rows, size
        self._cut: dict[str, NDArray[Any]] = {}

    def __getitem__(self, name: str) -> NDArray[Any]:
        found = self._cut.get(name)
        if found is None:
            column = self._columns[name]
            found = self._cut[name] = column[..., self._rows] if column.shape[-1] == self._size else column
        return found

    def __contains__(self, name: object) -> bool:
        return name in self._columns

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)


def _picked(conditions: Conditions, rows: NDArray[np.intp]) -> Conditions:
    """The conditions of some reports."""
    size = conditions.unix_s.size

    def cut(place: Any) -> Any:
        return place[rows] if np.shape(place) == (size,) else place

    return replace(
        conditions,
        unix_s=conditions.unix_s[rows],
        latitude_deg=cut(conditions.latitude_deg),
        longitude_deg=cut(conditions.longitude_deg),
        columns=_Picked(conditions.columns, rows, size),  # type: ignore[arg-type]
    )


class _Looking:
    """What the way back from rules to their inputs looks at, by name, each (report,) and worked out once."""

    def __init__(self, conditions: Conditions) -> None:
        self.conditions = conditions
        self.evaluator = Evaluator(conditions.columns, conditions.shape)
        self._columns: dict[str, dict[str, Bools]] = {}

    def at(self, rule: Rule) -> dict[str, Bools]:
        """All that one rule's way looks at; what is so in no report is left out."""
        made: dict[str, Bools] = {}
        names: dict[str, None] = {}
        for atom, _ in atoms(rule.condition.node):
            yes, no = self.evaluator.pair(atom)
            for case in range(len(self.conditions.cases)):
                made[f"{atom.test} yes {case}"], made[f"{atom.test} no {case}"] = yes[case], no[case]
            names |= dict.fromkeys(behind(atom.quantity))
        for name in names:
            made |= self._column(name)
        return made

    def _column(self, name: str) -> dict[str, Bools]:
        known = self._columns.get(name)
        if known is None:
            known = self._columns[name] = self._looked(name)
        return known

    def _looked(self, name: str) -> dict[str, Bools]:
        column = self.conditions.columns.get(name)
        if column is None or column.ndim != 2:
            return {}
        unknown = self.conditions.unknown(name)
        made = {"central": unknown[0], "any": np.asarray(unknown.any(axis=0))}
        if COLUMNS[name].unbounding:
            flag = self.conditions.flag(name)
            made |= {"yes": np.asarray((flag == YES).any(axis=0)), "not no": np.asarray((flag != NO).any(axis=0))}
        return {f"{name} {which}": bits for which, bits in made.items() if bits.any()}


@cache
def behind(quantity: str) -> tuple[str, ...]:
    """A quantity and every column that is looked at on the way from it to its inputs."""
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

"""For want of what a rule could not be told: which inputs are missing, by the same way back as in a brief."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive.extra import distinct, first_places
from advisor.brief.missing import roots
from advisor.checklist.evaluate import STATUSES
from advisor.checklist.language.nodes import Bools, Evaluator, atoms
from advisor.checklist.rules import Rule
from advisor.conditions import NO, UNKNOWN, YES, Codes, Conditions
from advisor.physics.derive import given_by
from advisor.quantities import COLUMNS

# by the condition of a rule, or what stands behind a quantity, and the kind of a report
Answered = dict[tuple[str, frozenset[str]], tuple[str, ...]]
CANNOT_TELL = STATUSES.index("cannot tell")


def wants(
    status: Codes,
    rules: Sequence[Rule],
    conditions: Conditions,
    rows: NDArray[np.intp],
    answered: Answered,
    evaluator: Evaluator | None = None,
) -> dict[tuple[str, str], int]:
    """How often each input was missing where a rule could not be told: (rule, input) to counts.

    status: (rule, report) of all reports; rows: those that count. One report of each kind is asked: of a kind are those
    in which the same comparisons of the rule, and the same columns behind them, are not known. answered: what was found
    for kinds before, added to. evaluator: of the conditions, where there is one already.
    """
    looking = _Looking(conditions, evaluator or Evaluator(conditions.columns, conditions.shape))
    counts: dict[tuple[str, str], int] = {}
    for rule, told in zip(rules, status, strict=True):
        here = rows[told[rows] == CANNOT_TELL]
        if not here.size:
            continue
        names, bits = looking.at(rule, here)
        first, count = _distinct(bits)
        for row, number in zip(first.tolist(), count.tolist(), strict=True):
            key = rule.when, frozenset(name for name, bit in zip(names, bits[:, row].tolist(), strict=True) if bit)
            if key not in answered:
                answered[key] = missing(rule, conditions, int(here[row]), looking.behind, key[1], answered)
            for name in answered[key]:
                counts[rule.id, name] = counts.get((rule.id, name), 0) + number
    return counts


def _distinct(bits: Bools) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first position of each distinct column of bits, (bit, position), and how often it comes."""
    code = np.zeros(bits.shape[1], dtype=np.int64)
    known = 1
    for start in range(0, len(bits), 8):
        eight = np.zeros(bits.shape[1], dtype=np.uint8)
        for bit in bits[start : start + 8]:
            eight += eight + bit
        if known > 1 << 40:
            kinds, which = distinct(code)
            known, code = kinds.size, which
        code = code * 256 + eight
        known *= 256
    _, which = distinct(code)
    count = np.bincount(which)
    return first_places(which, count.size), count


def missing(
    rule: Rule,
    conditions: Conditions,
    row: int,
    behind_of: Callable[[str, frozenset[str]], frozenset[str]],
    kind: frozenset[str],
    answered: Answered,
) -> tuple[str, ...]:
    """The inputs that are missing for a rule that could not be told of one report.

    kind: what is so of it; behind_of: of that what the way back from one quantity looks at, on which alone it depends.
    """
    picked = _picked(conditions, np.array([row]))
    cases = [rule.condition.truth(picked.columns, case, 0) for case in range(len(picked.cases))]
    case = cases.index(UNKNOWN) if UNKNOWN in cases else 0
    unknown = [
        reading.quantity for reading in rule.condition.reasons(picked.columns, case, 0) if reading.truth == UNKNOWN
    ]
    named: dict[str, None] = {}
    for name in unknown:
        key = f"behind {name}", behind_of(name, kind)
        if key not in answered:
            answered[key] = roots(name, picked, 0)
        named |= dict.fromkeys(answered[key])
    return tuple(named) or tuple(dict.fromkeys(unknown))


class _Picked(Mapping[str, NDArray[Any]]):
    """Columns of some reports; each is cut when it is first asked for."""

    def __init__(self, columns: Mapping[str, NDArray[Any]], rows: NDArray[np.intp], size: int) -> None:
        self._columns, self._rows, self._size = columns, rows, size
        self._cut: dict[str, NDArray[Any]] = {}

    def __getitem__(self, name: str) -> NDArray[Any]:
        picked = self._cut.get(name)
        if picked is None:
            column = self._columns[name]
            picked = self._cut[name] = column[..., self._rows] if column.shape[-1] == self._size else column
        return picked

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

    def __init__(self, conditions: Conditions, evaluator: Evaluator) -> None:
        self.conditions, self.evaluator = conditions, evaluator
        self._columns: dict[str, dict[str, Bools]] = {}
        self._of: dict[str, str] = {}

    def behind(self, quantity: str, kind: frozenset[str]) -> frozenset[str]:
        """Of what is so of a report that which the way back from one quantity looks at."""
        names = behind(quantity)
        return frozenset(label for label in kind if self._of.get(label) in names)

    def at(self, rule: Rule, rows: NDArray[np.intp]) -> tuple[list[str], Bools]:
        """Names and bits of all that one rule's way looks at in some reports, (name, row)."""
        labels: list[str] = []
        bits: list[Bools] = []
        names: dict[str, None] = {}
        cases = range(len(self.conditions.cases))
        for atom, _ in atoms(rule.condition.node):
            for word, answer in zip(("yes", "no"), self.evaluator.pair(atom), strict=True):
                labels += [f"{atom.test} {word} {case}" for case in cases]
                bits.append(answer.take(rows, axis=1))
            names |= dict.fromkeys(behind(atom.quantity))
        for name in names:
            for label, column in self._column(name).items():
                labels.append(label)
                bits.append(column.take(rows)[None, :])
        return labels, np.concatenate(bits)

    def _column(self, name: str) -> dict[str, Bools]:
        known = self._columns.get(name)
        if known is None:
            known = self._columns[name] = self._looked(name)
            self._of |= dict.fromkeys(known, name)
        return known

    def _looked(self, name: str) -> dict[str, Bools]:
        column = self.conditions.columns.get(name)
        if column is None or column.ndim != 2:
            return {}
        by_word: dict[str, Bools] = {}
        unknown = self.conditions.unknown(name)
        if unknown.any():
            by_word |= {"central": unknown[0], "any": np.asarray(unknown.any(axis=0))}
        if COLUMNS[name].unbounding:
            flag = self.conditions.flag(name)
            by_word |= {"yes": np.asarray((flag == YES).any(axis=0)), "not no": np.asarray((flag != NO).any(axis=0))}
        return {f"{name} {which}": bits for which, bits in by_word.items() if bits.any()}


@cache
def behind(quantity: str) -> tuple[str, ...]:
    """A quantity and every column that is looked at on the way from it to its inputs."""
    columns, ahead = {quantity: None}, [quantity]
    while ahead:
        name = ahead.pop()
        stage = given_by(name)
        needs = stage.gives[name] if stage is not None else ()
        settling = COLUMNS[name].settled_by if name in COLUMNS else ()
        for other in (*needs, *settling):
            if other in COLUMNS and other not in columns:
                columns[other] = None
                ahead.append(other)
    return (*columns, "snow", "rain", "fog")

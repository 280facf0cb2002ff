"""What a checklist says otherwise than another over the same reports: gained, lost, raised, lowered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import msgspec
import numpy as np

from advisor.archive.lots import lots, seeds
from advisor.checklist.evaluate import STATUSES, TOLD
from advisor.conditions import Codes

KINDS = ("gained", "lost", "raised", "lowered", "untold", "told_apart")
# so many candidates are kept of each, of which three are shown that a brief answers alike
POOL, SHOWN = 8, 3
_TOLD = [STATUSES.index(word) for word in TOLD]
_CANNOT_TELL, _NOT_INDICATED = STATUSES.index("cannot tell"), STATUSES.index("not indicated")


class Candidate(msgspec.Struct, frozen=True, order=True):
    """A report in which a rule is told otherwise, with the reports of its window before it, oldest first."""

    lot: int
    station: str
    at_s: int
    raw: str
    history: tuple[str, ...]


class Changes(msgspec.Struct):
    """Counts of each kind by rule, and candidates to show by rule and kind."""

    counts: dict[str, list[int]] = {}
    candidates: dict[str, dict[str, list[Candidate]]] = {}

    def add(self, other: Changes) -> None:
        """Add what was found in other reports."""
        for rule, numbers in other.counts.items():
            known = self.counts.setdefault(rule, [0] * len(KINDS))
            self.counts[rule] = [one + two for one, two in zip(known, numbers, strict=True)]
        for rule, by_kind in other.candidates.items():
            mine = self.candidates.setdefault(rule, {})
            for kind, found in by_kind.items():
                mine[kind] = sorted([*mine.get(kind, ()), *found])[:POOL]


def kinds(new: Codes, old: Codes) -> Codes:
    """Position in KINDS of each pair of statuses, -1 where nothing changes.

    gained: told by the new one only; lost: by the old one only; raised: surer; lowered: less sure; untold: cannot be
    told where it was not indicated; told_apart: not indicated where it could not be told.
    """
    told, was = np.isin(new, _TOLD), np.isin(old, _TOLD)
    kind = np.full(new.shape, -1, dtype=np.int8)
    kind[told & ~was] = 0
    kind[~told & was] = 1
    kind[told & was & (new < old)] = 2
    kind[told & was & (new > old)] = 3
    kind[(new == _CANNOT_TELL) & (old == _NOT_INDICATED)] = 4
    kind[(new == _NOT_INDICATED) & (old == _CANNOT_TELL)] = 5
    return kind


def changes(
    new: dict[str, Codes],
    old: dict[str, Codes],
    at_s: Any,
    station: Any,
    names: Sequence[str],
    raw: Sequence[str],
    history: Callable[[int], tuple[str, ...]],
) -> Changes:
    """What changes from the old statuses to the new ones, by rule; a rule that one of them lacks says nothing there.

    new, old: rule to statuses, (report,). history: the texts before a report, by its position.
    """
    changed = Changes()
    size = at_s.size
    silent = np.full(size, _NOT_INDICATED, dtype=np.int8)
    lot = lots(at_s, seeds(names)[station])
    for rule in dict.fromkeys((*new, *old)):
        kind = kinds(new.get(rule, silent), old.get(rule, silent))
        numbers = [int((kind == at).sum()) for at in range(len(KINDS))]
        if not any(numbers):
            continue
        changed.counts[rule] = numbers
        changed.candidates[rule] = {}
        for position, number in enumerate(numbers):
            if number:
                rows = np.flatnonzero(kind == position)
                chosen = rows[np.argsort(lot[rows], kind="stable")[:POOL]].tolist()
                changed.candidates[rule][KINDS[position]] = sorted(
                    Candidate(int(lot[row]), names[station[row]], int(at_s[row]), raw[row], history(row))
                    for row in chosen
                )
    return changed

"""Two conditions compared exactly, on the grid of their cut points restricted to what physics allows.

Every comparison is one quantity against constants, so that between two neighbouring cut points nothing changes: one
cell stands for all values between them. A quantity may also be missing, or not exist at all. The walk takes one
quantity after another, folds what is already decided, leaves out what the laws exclude, and remembers remainders that
came up before. It says so where more work would be needed than it was given.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from advisor.checklist.language import fold
from advisor.checklist.language.cells import Cell, Grid
from advisor.checklist.language.fold import Folded
from advisor.checklist.language.nodes import Node, canonical
from advisor.conditions import NO, UNKNOWN, YES

SAME, TIGHTENED, LOOSENED, BOTH_WAYS, CANNOT_DECIDE = "same", "tightened", "loosened", "both ways", "cannot decide"
# parts of conditions looked at before a comparison is given up, a few tenths of a second
WORK = 200_000
# differing places kept of each direction, for whoever looks for an example
MOST_PLACES = 6
_RANK = {NO: 0, UNKNOWN: 1, YES: 2}

Place = tuple[Cell, ...]


class Decision(msgspec.Struct, frozen=True):
    """What a change does. more, less: places on the grid where the new condition answers more, and less, than the old.

    A place names a cell for every quantity that matters there; the others may be anything that physics allows.
    """

    change: str
    more: tuple[Place, ...] = ()
    less: tuple[Place, ...] = ()


def decide(old: Node, new: Node, *, physics: bool = True, work: int = WORK, places: int = MOST_PLACES) -> Decision:
    """What a change from old to new does.

    tightened: new answers as much or more everywhere (no < unknown < yes), loosened: as much or less; "cannot decide"
    where more than `work` parts would have to be looked at. physics: leave out what the laws exclude.
    places: so many differing places of each direction are looked for before the walk may stop.
    """
    if canonical(old) == canonical(new):
        return Decision(SAME)
    walk = _Walk(Grid((old, new), physics=physics), work, places)
    decided = walk.run(fold.fold(old), fold.fold(new))
    more, less = tuple(walk.more), tuple(walk.less)
    if more and less:
        return Decision(BOTH_WAYS, more, less)
    if not decided:
        return Decision(CANNOT_DECIDE, more, less)
    return Decision(TIGHTENED if more else LOOSENED if less else SAME, more, less)


def can_hold(node: Node, *, physics: bool = True, work: int = WORK) -> bool:
    """Whether anything that physics allows makes a node yes; True also where that cannot be decided."""
    return _found(node, YES, physics, work)


def can_fail(node: Node, *, physics: bool = True, work: int = WORK) -> bool:
    """Whether anything that physics allows makes a node no; True also where that cannot be decided."""
    return _found(node, NO, physics, work)


def _found(node: Node, wanted: int, physics: bool, work: int) -> bool:
    walk = _Walk(Grid((node,), physics=physics), work, 1)
    # against what is never so, a place where it is so is a difference
    against = NO if wanted == YES else YES
    decided = walk.run(against, fold.fold(node), only=wanted)
    return bool(walk.more or walk.less) or not decided


class _Walk:
    """Goes over the grid, deepest first, known values before missing ones."""

    def __init__(self, grid: Grid, work: int, places: int) -> None:
        self.grid, self.left, self.most = grid, work, places
        self.more: list[Place] = []
        self.less: list[Place] = []
        self.seen: set[tuple[Folded, Folded, tuple[Cell, ...]]] = set()

    def run(self, old: Folded, new: Folded, only: int | None = None) -> bool:
        """Fill more and less; whether everything was looked at or enough was found. only: an answer to look for."""
        stack: list[tuple[Folded, Folded, Mapping[str, Cell]]] = [(old, new, {})]
        while stack:
            left, right, chosen = stack.pop()
            if left == right:
                continue
            if isinstance(left, int) and isinstance(right, int):
                if (only is None or right == only) and self.grid.reachable(chosen):
                    self._keep(left, right, chosen)
                if self._enough(only):
                    return True
                continue
            if only is None and self._idle(left, right):
                continue
            key = (left, right, self.grid.bound(chosen))
            if key in self.seen:
                continue
            self.seen.add(key)
            name = self.grid.first(left, right)
            for cell in reversed(self.grid.cells[name]):
                # so many parts are folded, and about as much is looked at for the laws
                self.left -= 1 + fold.size(left) + fold.size(right)
                if self.left <= 0:
                    return False
                taken = {**chosen, name: cell}
                if self.grid.allowed(taken, name):
                    stack.append((fold.fold(left, name, cell.truths), fold.fold(right, name, cell.truths), taken))
        return True

    def _enough(self, only: int | None) -> bool:
        if only is not None:
            return bool(self.more or self.less)
        return len(self.more) >= self.most and len(self.less) >= self.most

    def _idle(self, left: Folded, right: Folded) -> bool:
        """Whether only a direction can come of it of which enough is known."""
        if len(self.less) >= self.most and fold.at_least(left, right):
            return True
        return len(self.more) >= self.most and fold.at_least(right, left)

    def _keep(self, left: int, right: int, chosen: Mapping[str, Cell]) -> None:
        kept = self.more if _RANK[right] > _RANK[left] else self.less
        if len(kept) < self.most:
            kept.append(tuple(chosen.values()))

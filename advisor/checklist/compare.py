"""Two conditions compared exactly, on the grid of their cut points.

Every comparison is one quantity against constants, so that between two neighbouring cut points nothing changes: one
value for each cell, and the missing value, stand for all. The walk splits on one quantity after another and folds what
is already decided; pairs of remainders that came up before are not walked again.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf, nan

from advisor.checklist.language.nodes import Always, And, Atom, Node, Not, Or, atoms, canonical
from advisor.conditions import NO, UNKNOWN, YES
from advisor.quantities import FLAG, NUMBER, QUANTITIES

SAME, TIGHTENED, LOOSENED, BOTH_WAYS, CANNOT_DECIDE = "same", "tightened", "loosened", "both ways", "cannot decide"
# parts of conditions looked at before a comparison is given up, a few tenths of a second
WORK = 200_000
_RANK = {NO: 0, UNKNOWN: 1, YES: 2}

Folded = Node | int


def compare(old: Node, new: Node, *, work: int = WORK) -> str:
    """What a change from old to new does, with every quantity free of the others.

    tightened: new answers as much or more everywhere (no < unknown < yes), loosened: as much or less; "cannot decide"
    where more than `work` parts would have to be looked at.
    """
    if canonical(old) == canonical(new):
        return SAME
    walk = _Walk(work, old, new)
    seen: set[tuple[Folded, Folded]] = set()
    stack: list[tuple[Folded, Folded]] = [(walk.fold(old), walk.fold(new))]
    more = less = False
    while stack and not (more and less):
        pair = stack.pop()
        if pair in seen or pair[0] == pair[1]:
            continue
        if walk.left <= 0:
            return CANNOT_DECIDE
        seen.add(pair)
        left, right = pair
        if isinstance(left, int) and isinstance(right, int):
            more |= _RANK[right] > _RANK[left]
            less |= _RANK[right] < _RANK[left]
            continue
        name = walk.first(left, right)
        stack.extend((walk.fold(left, name, truths), walk.fold(right, name, truths)) for truths in walk.cells[name])
    if more and less:
        return BOTH_WAYS
    return TIGHTENED if more else LOOSENED if less else SAME


def can_hold(node: Node, *, work: int = WORK) -> bool:
    """Whether any values make a node yes; True also where that cannot be decided."""
    walk = _Walk(work, node)
    seen: set[Folded] = set()
    stack: list[Folded] = [walk.fold(node)]
    while stack:
        part = stack.pop()
        if part == YES or walk.left <= 0:
            return True
        if part in seen or isinstance(part, int):
            continue
        seen.add(part)
        name = walk.first(part)
        stack.extend(walk.fold(part, name, truths) for truths in walk.cells[name])
    return False


class _Walk:
    """The cells of every quantity, folding, and how much work is left."""

    def __init__(self, work: int, *nodes: Node) -> None:
        self.left = work
        self.cells = _cells(*nodes)
        self.order = {name: at for at, name in enumerate(self.cells)}

    def first(self, *parts: Folded) -> str:
        """The first quantity that any of the parts still asks for."""
        return min((name for part in parts for name in _names(part)), key=self.order.__getitem__)

    def fold(self, node: Folded, name: str = "", truths: dict[Atom, int] | None = None) -> Folded:
        """The node with one quantity's atoms replaced by their truths, and what that decides."""
        self.left -= 1
        if isinstance(node, int):
            return node
        if isinstance(node, Always):
            return YES
        if isinstance(node, Atom):
            if not node.quantity:
                return UNKNOWN
            return truths[node] if truths is not None and node.quantity == name else node
        if isinstance(node, Not):
            part = self.fold(node.part, name, truths)
            if isinstance(part, int):
                return UNKNOWN if part == UNKNOWN else 1 - part
            return part.part if isinstance(part, Not) else Not(part)
        deciding, idle, kind = (NO, YES, And) if isinstance(node, And) else (YES, NO, Or)
        parts: dict[Node, None] = {}
        unknown = False
        for member in node.parts:
            part = self.fold(member, name, truths)
            if part == deciding:
                return deciding
            if part == UNKNOWN:
                unknown = True
            elif not isinstance(part, int):
                parts.update(dict.fromkeys(part.parts if isinstance(part, kind) else (part,)))
        if not parts:
            return UNKNOWN if unknown else idle
        # an unknown part stays: it caps what the others can still make of the whole
        rest: tuple[Node, ...] = (*((_UNKNOWN,) if unknown else ()), *parts)
        return rest[0] if len(rest) == 1 else kind(rest)


def _names(part: Folded) -> set[str]:
    return set() if isinstance(part, int) else {atom.quantity for atom, _ in atoms(part)} - {""}


def _cells(*nodes: Node) -> dict[str, list[dict[Atom, int]]]:
    """For each quantity, the distinct truths that its atoms can take together, missing included."""
    found: dict[str, dict[Atom, None]] = {}
    for node in nodes:
        for atom, _ in atoms(node):
            found.setdefault(atom.quantity, {})[atom] = None
    table: dict[str, list[dict[Atom, int]]] = {}
    for name, members in found.items():
        kind = next(iter(members)).kind
        if kind == NUMBER:
            cuts = sorted({cut for atom in members for span in atom.spans for cut in (span[0], span[2])} - {inf, -inf})
            values = [cuts[0] - 1.0, *cuts, cuts[-1] + 1.0]
            values += [low + (high - low) / 2 for low, high in pairwise(cuts)]
        elif kind == FLAG:
            values = [0.0, 1.0]
        else:
            values = [float(code) for code in range(len(QUANTITIES[name].values))]
        distinct = {tuple(atom.holds(value) for atom in members): None for value in (*values, nan)}
        table[name] = [dict(zip(members, truths, strict=True)) for truths in distinct]
    return table


# stands for a part already known to be missing; its quantity is never in the table of cells
_UNKNOWN = Atom("", NUMBER, test="unknown")

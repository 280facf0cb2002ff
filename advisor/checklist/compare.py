"""Two conditions compared exactly, on the grid of their cut points.

Every comparison is one quantity against constants, so that between two neighbouring cut points nothing changes: one
value for each cell, and the missing value, stand for all. The walk splits on one quantity after another and folds what
is already decided; pairs of remainders that came up before are not walked again.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf, nan

from advisor.checklist.nodes import NO, UNKNOWN, YES, Always, And, Atom, Node, Not, Or, atoms
from advisor.quantities import FLAG, NUMBER, QUANTITIES

SAME, TIGHTENED, LOOSENED, BOTH_WAYS, CANNOT_DECIDE = "same", "tightened", "loosened", "both ways", "cannot decide"
STEPS = 20_000
_RANK = {NO: 0, UNKNOWN: 1, YES: 2}

Folded = Node | int


def compare(old: Node, new: Node, *, steps: int = STEPS) -> str:
    """What a change from old to new does, with every quantity free of the others.

    tightened: new answers as much or more everywhere (no < unknown < yes), loosened: as much or less; "cannot decide"
    where more than steps pairs would have to be walked.
    """
    cells = _cells(old, new)
    order = {name: at for at, name in enumerate(cells)}
    seen: set[tuple[Folded, Folded]] = set()
    stack: list[tuple[Folded, Folded]] = [(_fold(old, "", {}), _fold(new, "", {}))]
    more = less = False
    while stack and not (more and less):
        pair = stack.pop()
        if pair in seen or pair[0] == pair[1]:
            continue
        seen.add(pair)
        if len(seen) > steps:
            return CANNOT_DECIDE
        left, right = pair
        if isinstance(left, int) and isinstance(right, int):
            more |= _RANK[right] > _RANK[left]
            less |= _RANK[right] < _RANK[left]
            continue
        name = min((name for part in pair for name in _names(part)), key=order.__getitem__)
        stack.extend((_fold(left, name, truths), _fold(right, name, truths)) for truths in cells[name])
    if more and less:
        return BOTH_WAYS
    return TIGHTENED if more else LOOSENED if less else SAME


def can_hold(node: Node, *, steps: int = STEPS) -> bool:
    """Whether any values make a node yes; True also where that cannot be decided."""
    cells = _cells(node, node)
    order = {name: at for at, name in enumerate(cells)}
    seen: set[Folded] = set()
    stack: list[Folded] = [_fold(node, "", {})]
    while stack:
        part = stack.pop()
        if part == YES or len(seen) > steps:
            return True
        if part in seen or isinstance(part, int):
            continue
        seen.add(part)
        name = min(_names(part), key=order.__getitem__)
        stack.extend(_fold(part, name, truths) for truths in cells[name])
    return False


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


def _fold(node: Folded, name: str, truths: dict[Atom, int]) -> Folded:
    """The node with one quantity's atoms replaced by their truths, and what that decides."""
    if isinstance(node, int):
        return node
    if isinstance(node, Always):
        return YES
    if isinstance(node, Atom):
        if not node.quantity:
            return UNKNOWN
        return truths[node] if node.quantity == name else node
    if isinstance(node, Not):
        part = _fold(node.part, name, truths)
        if isinstance(part, int):
            return UNKNOWN if part == UNKNOWN else 1 - part
        return part.part if isinstance(part, Not) else Not(part)
    deciding, idle, kind = (NO, YES, And) if isinstance(node, And) else (YES, NO, Or)
    parts: dict[Node, None] = {}
    unknown = False
    for member in node.parts:
        part = _fold(member, name, truths)
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


# stands for a part already known to be missing; its quantity is never in the table of cells
_UNKNOWN = Atom("", NUMBER, test="unknown")

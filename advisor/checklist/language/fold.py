"""Conditions of which some comparisons are already decided: what is left of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from advisor.checklist.language.nodes import Always, And, Atom, Node, Not, Or
from advisor.conditions import NO, UNKNOWN, YES
from advisor.quantities import NUMBER

# what is left of a condition, or its truth
Folded = Node | int

# stands for a part already known to be missing; its quantity is never on a grid
_UNKNOWN = Atom("", NUMBER, test="unknown")


def fold(node: Folded, name: str = "", truths: Mapping[Atom, int] | None = None) -> Folded:
    """The node with one quantity's atoms replaced by their truths, and what that decides."""
    if isinstance(node, int):
        return node
    if isinstance(node, Always):
        return YES
    if isinstance(node, Atom):
        if not node.quantity:
            return UNKNOWN
        return truths[node] if truths is not None and node.quantity == name else node
    if isinstance(node, Not):
        part = fold(node.part, name, truths)
        if isinstance(part, int):
            return UNKNOWN if part == UNKNOWN else 1 - part
        return part.part if isinstance(part, Not) else Not(part)
    deciding, idle, kind = (NO, YES, And) if isinstance(node, And) else (YES, NO, Or)
    parts: dict[Node, None] = {}
    unknown = False
    for member in node.parts:
        part = fold(member, name, truths)
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


def names(part: Folded) -> Iterator[str]:
    """The quantities that are still asked for."""
    if isinstance(part, Atom):
        if part.quantity:
            yield part.quantity
    elif isinstance(part, Not):
        yield from names(part.part)
    elif isinstance(part, (And, Or)):
        for member in part.parts:
            yield from names(member)


def size(part: Folded) -> int:
    """How many parts there are."""
    if isinstance(part, Not):
        return 1 + size(part.part)
    if isinstance(part, (And, Or)):
        return 1 + sum(size(member) for member in part.parts)
    return 1


def at_least(node: Folded, other: Folded) -> bool:
    """Whether one plainly answers as much as the other whatever the rest is; False where that cannot be seen.

    no < unknown < yes.
    """
    if node in (other, YES) or other == NO:
        return True
    if isinstance(node, Not) and isinstance(other, Not):
        return at_least(other.part, node.part)
    more, less = _members(node, Or), _members(other, Or)
    if less <= more and (isinstance(node, Or) or node == UNKNOWN):
        return True
    return isinstance(other, And) and _members(node, And) <= _members(other, And)


def _members(part: Folded, kind: type[And] | type[Or]) -> frozenset[Folded]:
    if part == UNKNOWN:
        return frozenset((_UNKNOWN,))
    return frozenset(part.parts) if isinstance(part, kind) else frozenset((part,))

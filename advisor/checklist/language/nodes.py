"""What a condition is made of: atoms, each one quantity against constants, under and, or, not.

Truth is three-valued: 1 yes, 0 no, -1 unknown. Arrays carry it as a pair (yes, no); unknown is neither.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from advisor.conditions import NO, UNKNOWN, YES, Columns
from advisor.quantities import FLAG, NUMBER, QUANTITIES

Bools = NDArray[np.bool_]
Pair = tuple[Bools, Bools]
Span = tuple[float, bool, float, bool]  # low, low included, high, high included


class Atom(msgspec.Struct, frozen=True):
    """One quantity against constants.

    spans: where a number answers yes, apart and in order; codes: which codes answer yes; test: as people read it.
    """

    quantity: str
    kind: str
    spans: tuple[Span, ...] = ()
    codes: tuple[int, ...] = ()
    test: str = ""

    def holds(self, value: float) -> int:
        """Truth for one value; NaN, or a negative flag or code, is unknown."""
        if value != value:
            return UNKNOWN
        if self.kind == NUMBER:
            inside = any(_above(value, low, shut) and _above(-value, -high, end) for low, shut, high, end in self.spans)
            return YES if inside else NO
        if value < 0:
            return UNKNOWN
        return YES if value in self.codes else NO


class Always(msgspec.Struct, frozen=True):
    """Yes at any time, whatever is missing."""


class Not(msgspec.Struct, frozen=True):
    """Yes and no swapped."""

    part: Node


class And(msgspec.Struct, frozen=True):
    """No if any part is no, else unknown if any is unknown, else yes."""

    parts: tuple[Node, ...]


class Or(msgspec.Struct, frozen=True):
    """Yes if any part is yes, else unknown if any is unknown, else no."""

    parts: tuple[Node, ...]


Node = Atom | Always | Not | And | Or


def _above(value: float, bound: float, included: bool) -> bool:
    return value >= bound if included else value > bound


class Evaluator:
    """Evaluates nodes over columns, each atom and each column's missing mask once, however many rules share them."""

    def __init__(self, columns: Columns, shape: tuple[int, int]) -> None:
        """columns: by quantity, each broadcasting to shape (case, time)."""
        self.columns = columns
        self.shape = shape
        self._atoms: dict[Atom, Pair] = {}
        self._known: dict[str, tuple[NDArray[Any], Bools] | None] = {}
        self._yes = np.ones(shape, dtype=np.bool_)
        self._no = np.zeros(shape, dtype=np.bool_)

    def pair(self, node: Node) -> Pair:
        """(yes, no), each of the shape given."""
        if isinstance(node, Atom):
            pair = self._atoms.get(node)
            if pair is None:
                pair = self._atoms[node] = self._atom(node)
            return pair
        if isinstance(node, Always):
            return self._yes, self._no
        if isinstance(node, Not):
            yes, no = self.pair(node.part)
            return no, yes
        yes, no = self.pair(node.parts[0])
        both, either = (np.logical_and, np.logical_or) if isinstance(node, And) else (np.logical_or, np.logical_and)
        for part in node.parts[1:]:
            part_yes, part_no = self.pair(part)
            yes, no = both(yes, part_yes), either(no, part_no)
        return yes, no

    def _column(self, name: str, kind: str) -> tuple[NDArray[Any], Bools] | None:
        if name not in self._known:
            column = self.columns.get(name)
            if column is None:
                self._known[name] = None
            else:
                values = np.asarray(column)
                if values.dtype.kind == "f":
                    known = ~np.isnan(values)
                    # missing is set aside before anything is compared
                    values = np.where(known, values, -1.0 if kind != NUMBER else 0.0)
                else:
                    known = np.ones(values.shape, dtype=np.bool_)
                if kind != NUMBER or values.dtype == np.int8:
                    known = known & (values >= 0)
                self._known[name] = values, known
        return self._known[name]

    def _gone(self, quantity: str) -> Bools | None:
        """Where there is no such value at all; None where there always is one."""
        absent = _absent(quantity)
        column = self._column(absent, FLAG) if absent else None
        return None if column is None else column[1] & (column[0] == YES)

    def _atom(self, atom: Atom) -> Pair:
        column = self._column(atom.quantity, atom.kind)
        if column is None:
            return self._no, self._no
        values, known = column
        inside: Bools | None = None
        if atom.kind == NUMBER:
            for low, shut, high, end in atom.spans:
                part = known
                if low != -np.inf:
                    part = part & (values >= low if shut else values > low)
                if high != np.inf:
                    part = part & (values <= high if end else values < high)
                inside = part if inside is None else inside | part
        else:
            for code in atom.codes:
                part = known & (values == code)
                inside = part if inside is None else inside | part
        if inside is None:
            inside = np.zeros_like(known)
        yes, no = inside, known & ~inside
        gone = self._gone(atom.quantity)
        if gone is not None:
            yes, no = yes & ~gone, no | gone
        if yes.shape != self.shape:
            yes, no = np.broadcast_to(yes, self.shape), np.broadcast_to(no, self.shape)
        return yes, no


def truth_at(columns: Columns, atom: Atom, case: int, time: int) -> int:
    """Truth of an atom at one case and time: no where there is no such value at all."""
    absent = _absent(atom.quantity)
    if absent and value_at(columns, absent, case, time) == YES:
        return NO
    return atom.holds(value_at(columns, atom.quantity, case, time))


def _absent(quantity: str) -> str:
    """The flag that says where a quantity has no value at all, "" for none."""
    row = QUANTITIES.get(quantity)
    return row.absent if row is not None else ""


def value_at(columns: Columns, name: str, case: int, time: int) -> float:
    """The value of a column at one case and time; NaN where missing or not there."""
    column = columns.get(name)
    if column is None:
        return float("nan")
    values = np.asarray(column)
    while values.ndim < 2:
        values = values[np.newaxis]
    value = values[case if values.shape[0] > 1 else 0, time if values.shape[1] > 1 else 0]
    if values.dtype == np.int8 and value < 0:
        return float("nan")
    return float(value)


def truth(node: Node, holds: Callable[[Atom], int]) -> int:
    """Truth of a node from the truth of its atoms."""
    if isinstance(node, Atom):
        return holds(node)
    if isinstance(node, Always):
        return YES
    if isinstance(node, Not):
        inner = truth(node.part, holds)
        return UNKNOWN if inner == UNKNOWN else 1 - inner
    deciding, other = (NO, YES) if isinstance(node, And) else (YES, NO)
    result = other
    for part in node.parts:
        value = truth(part, holds)
        if value == deciding:
            return deciding
        if value == UNKNOWN:
            result = UNKNOWN
    return result


def reasons(node: Node, holds: Callable[[Atom], int], turned: bool = False) -> Iterator[tuple[Atom, bool]]:
    """The atoms that make a node what it is, each with whether it stands under a not.

    All parts that decide where one is enough; where a missing part leaves the whole unknown, that part, and in an
    and-chain also the parts that hold.
    """
    if isinstance(node, Atom):
        yield node, turned
    elif isinstance(node, Not):
        yield from reasons(node.part, holds, not turned)
    elif isinstance(node, (And, Or)):
        value = truth(node, holds)
        idle, chain = (YES, not turned) if isinstance(node, And) else (NO, turned)
        for part in node.parts:
            part_value = truth(part, holds)
            if part_value == value or (value == UNKNOWN and part_value == idle and chain):
                yield from reasons(part, holds, turned)


def atoms(node: Node) -> Iterator[tuple[Atom, bool]]:
    """Every atom of a node, each with whether it stands under a not."""
    stack: list[tuple[Node, bool]] = [(node, False)]
    while stack:
        top, turned = stack.pop()
        if isinstance(top, Atom):
            yield top, turned
        elif isinstance(top, Not):
            stack.append((top.part, not turned))
        elif isinstance(top, (And, Or)):
            stack.extend((part, turned) for part in reversed(top.parts))


def canonical(node: Node) -> str:
    """One text for a node whatever its spacing and the order of its parts."""
    if isinstance(node, Atom):
        return f"{node.quantity}{list(node.spans)}{list(node.codes)}"
    if isinstance(node, Always):
        return "always"
    if isinstance(node, Not):
        return f"not({canonical(node.part)})"
    word = " and " if isinstance(node, And) else " or "
    return "(" + word.join(sorted({canonical(part) for part in node.parts})) + ")"

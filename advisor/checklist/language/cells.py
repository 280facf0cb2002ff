"""The grid of cut points of conditions: the cells of each quantity, and which of them physics allows together."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from math import inf, nextafter

import msgspec

from advisor.checklist.language import nodes, physical
from advisor.checklist.language.fold import Folded, names
from advisor.checklist.language.nodes import Atom, Node, Span, atoms
from advisor.checklist.language.physical import Absence, Law, OrderLaw
from advisor.checklist.language.reader import read_condition
from advisor.conditions import NO, UNKNOWN, YES
from advisor.quantities import FLAG, NUMBER, QUANTITIES

KNOWN, MISSING, ABSENT = "known", "missing", "absent"


class Cell(msgspec.Struct, frozen=True):
    """What a quantity is: a stretch of numbers, a code, missing, or not there at all.

    span: of a number (low, whether it counts, high, whether it counts); code: of a flag or a code. truths: of every
    comparison that the grid knows.
    """

    quantity: str
    state: str
    span: Span = (0.0, True, 0.0, True)
    code: int = -1
    answers: tuple[tuple[Atom, int], ...] = ()

    @property
    def truths(self) -> dict[Atom, int]:
        """The truth of each comparison of this quantity."""
        return _truths(self.answers)

    def __hash__(self) -> int:
        # a grid holds each of these once: the answers follow from the rest
        return hash((self.quantity, self.state, self.span, self.code))


@lru_cache(maxsize=65536)
def _truths(answers: tuple[tuple[Atom, int], ...]) -> dict[Atom, int]:
    return dict(answers)


class _Bound(msgspec.Struct, frozen=True):
    """A law with its sides compiled, and the quantities that it binds."""

    when: Node
    then: Node
    names: frozenset[str]
    definition: bool


class _Gone(msgspec.Struct, frozen=True):
    """An absence with its condition compiled."""

    quantity: str
    when: Node
    names: frozenset[str]


@lru_cache(maxsize=512)
def _compiled(text: str) -> Node:
    return read_condition(text)


@lru_cache(maxsize=1024)
def _named(text: str) -> frozenset[str]:
    return frozenset(names(_compiled(text)))


class Grid:
    """The cells of every quantity of some conditions, and what binds them together."""

    def __init__(self, conditions: Sequence[Node], *, physics: bool = True) -> None:
        self.used = {name for node in conditions for name in names(node)}
        if physics:
            self.used |= _behind(self.used)
        laws: Iterable[Law] = physical.LAWS if physics else ()
        absences: Iterable[Absence] = physical.ABSENCES if physics else ()
        self.laws = [
            _Bound(_compiled(law.when), _compiled(law.then), bound, law.definition)
            for law in laws
            if (bound := _named(law.when) | _named(law.then)) <= self.used
        ]
        self.gone = [
            _Gone(one.quantity, _compiled(one.when), bound)
            for one in absences
            if (bound := _named(one.when) | {one.quantity}) <= self.used
        ]
        orders: Iterable[OrderLaw] = physical.ORDERS if physics else ()
        self.orders = [one for one in orders if {one.lower, one.higher} <= self.used]
        self.physics = physics
        self.cells = self._cells(conditions)
        self._order = {name: at for at, name in enumerate(self._linked())}
        self._links = self._linkage()

    def first(self, *parts: Folded) -> str:
        """The first quantity that any of the parts still asks for; what is bound together comes one after another."""
        return min((name for part in parts for name in names(part)), key=self._order.__getitem__)

    def bound(self, chosen: Mapping[str, Cell]) -> tuple[Cell, ...]:
        """The chosen cells that still bind a quantity that is not chosen."""
        return tuple(cell for name, cell in chosen.items() if not self._links[name] <= chosen.keys())

    def allowed(self, chosen: Mapping[str, Cell], newest: str) -> bool:
        """Whether physics allows the chosen cells together; newest: the one chosen last."""

        def holds(atom: Atom) -> int:
            return chosen[atom.quantity].truths[atom]

        for law in self.laws:
            if newest in law.names and law.names <= chosen.keys() and nodes.truth(law.when, holds) == YES:
                then = nodes.truth(law.then, holds)
                if then == NO or (then == UNKNOWN and not law.definition):
                    return False
        for absence in self.gone:
            if newest in absence.names and absence.names <= chosen.keys():
                state = {YES: ABSENT, NO: KNOWN, UNKNOWN: MISSING}[nodes.truth(absence.when, holds)]
                if chosen[absence.quantity].state != state:
                    return False
        return not any(newest in (one.lower, one.higher) for one in self.orders) or self._in_order(chosen)

    def reachable(self, chosen: Mapping[str, Cell]) -> bool:
        """Whether the quantities that are bound to the chosen ones can have values beside them."""
        stack = [dict(chosen)]
        while stack:
            taken = stack.pop()
            name = next((one for one in self._order if one not in taken and self._links[one] & taken.keys()), None)
            if name is None:
                return True
            wider = [{**taken, name: cell} for cell in self.cells[name]]
            stack += [one for one in wider if self.allowed(one, name)]
        return False

    def _in_order(self, chosen: Mapping[str, Cell]) -> bool:
        """Whether numbers in the chosen cells can keep every order: the least of each, pushed up until nothing moves.

        A least number that does not count itself is taken as the next one above it.
        """
        least = {name: _least(cell) for name, cell in chosen.items() if cell.state == KNOWN}
        most = {name: _most(cell) for name, cell in chosen.items() if cell.state == KNOWN}
        orders = [one for one in self.orders if one.lower in least and one.higher in least]
        for _ in range(len(orders) + 1):
            moved = False
            for order in orders:
                floor = order.least(least[order.lower])
                if floor > least[order.higher]:
                    least[order.higher], moved = floor, True
            if not moved:
                break
        return all(least[name] <= most[name] for name in least)

    def _linkage(self) -> dict[str, frozenset[str]]:
        links: dict[str, set[str]] = {name: set() for name in self.used}
        groups = [law.names for law in self.laws] + [one.names for one in self.gone]
        groups += [frozenset((one.lower, one.higher)) for one in self.orders]
        for group in groups:
            for name in group:
                links[name] |= group
        return {name: frozenset(group) for name, group in links.items()}

    def _linked(self) -> list[str]:
        """The quantities, those that bind each other next to each other."""
        links = self._linkage()
        linked: dict[str, None] = {}
        for start in self.cells:
            queue = [start]
            while queue:
                name = queue.pop(0)
                if name not in linked:
                    linked[name] = None
                    queue += [other for other in self.cells if other in links[name] and other not in linked]
        return list(linked)

    def _cells(self, conditions: Sequence[Node]) -> dict[str, tuple[Cell, ...]]:
        members: dict[str, dict[Atom, None]] = {}
        sides = [side for law in self.laws for side in (law.when, law.then)] + [one.when for one in self.gone]
        for node in (*conditions, *sides):
            for atom, _ in atoms(node):
                members.setdefault(atom.quantity, {})[atom] = None
        in_order = {name for one in self.orders for name in (one.lower, one.higher)}
        return {name: self._of(name, tuple(found), name in in_order) for name, found in members.items() if name}

    def _of(self, name: str, members: tuple[Atom, ...], ordered: bool) -> tuple[Cell, ...]:
        kind = members[0].kind
        if kind == NUMBER:
            low, high = physical.RANGES.get(name, (-inf, inf)) if self.physics else (-inf, inf)
            cells = _merged(_stretches(name, members, low, high), ordered)
        else:
            count = 2 if kind == FLAG else len(QUANTITIES[name].values)
            cells = [
                Cell(name, KNOWN, code=code, answers=tuple((atom, atom.holds(float(code))) for atom in members))
                for code in range(count)
            ]
            cells = _merged(cells, False) if kind != FLAG else cells
        if not (self.physics and name in physical.ALWAYS_KNOWN):
            cells.append(Cell(name, MISSING, answers=tuple((atom, UNKNOWN) for atom in members)))
        if self.physics and QUANTITIES[name].absent:
            cells.append(Cell(name, ABSENT, answers=tuple((atom, NO) for atom in members)))
        return tuple(cells)


def _behind(used: Collection[str]) -> set[str]:
    """What decides whether the used quantities exist at all."""
    behind = set(used)
    for _ in physical.ABSENCES:
        for one in physical.ABSENCES:
            if one.quantity in behind:
                behind |= _named(one.when)
    return behind


def _stretches(name: str, members: Sequence[Atom], low: float, high: float) -> list[Cell]:
    """The cut points within a range and the stretches between them, in order."""
    cuts = {cut for atom in members for span in atom.spans for cut in (span[0], span[2])} - {inf, -inf}
    inside = sorted(cut for cut in cuts if low <= cut <= high)
    edges = [low, *(cut for cut in inside if low < cut < high), high]
    spans: list[Span] = []
    for first, last in pairwise(edges):
        if first > -inf:
            spans.append((first, True, first, True))
        spans.append((first, False, last, False))
    if high < inf:
        spans.append((high, True, high, True))
    return [
        Cell(name, KNOWN, span=span, answers=tuple((atom, atom.holds(_inside(span))) for atom in members))
        for span in spans
    ]


def _inside(span: Span) -> float:
    """A number inside a stretch."""
    low, _, high, _ = span
    if low == -inf:
        return 0.0 if high == inf else high - 1.0
    return low + 1.0 if high == inf else low + (high - low) / 2


def _merged(cells: Iterable[Cell], ordered: bool) -> list[Cell]:
    """Neighbours with the same answers in one; of a quantity in no order one of all that have the same answers."""
    merged: list[Cell] = []
    for cell in cells:
        if merged and merged[-1].answers == cell.answers and cell.code < 0:
            last = merged[-1]
            span = (last.span[0], last.span[1], cell.span[2], cell.span[3])
            merged[-1] = msgspec.structs.replace(last, span=span)
        else:
            merged.append(cell)
    if ordered:
        return merged
    first: dict[tuple[tuple[Atom, int], ...], Cell] = {}
    for cell in merged:
        first.setdefault(cell.answers, cell)
    return list(first.values())


def _least(cell: Cell) -> float:
    return cell.span[0] if cell.span[1] or cell.span[0] == -inf else nextafter(cell.span[0], inf)


def _most(cell: Cell) -> float:
    return cell.span[2] if cell.span[3] or cell.span[2] == inf else nextafter(cell.span[2], -inf)

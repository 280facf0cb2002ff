"""The rule language: when a rule applies.

Comparisons of one quantity with constants (chained, or `in (…)`), bare flags, and, or, not, parentheses; `always`
alone. Read with Python's own grammar, restricted to those forms: no arithmetic, calls, attributes. A condition is
compiled once and evaluated over arrays, three-valued: missing is neither yes nor no.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from advisor.checklist.language import nodes
from advisor.checklist.language.nodes import Always, Atom, Bools, Evaluator, Node, Pair
from advisor.checklist.language.reader import ConditionError, read_condition
from advisor.checklist.language.words import did_you_mean
from advisor.conditions import Columns
from advisor.quantities import FLAG, QUANTITIES, Quantity


class Reading(msgspec.Struct, frozen=True):
    """One comparison of a condition at one case and time: quantity, test, value (NaN missing), truth (1, 0, -1)."""

    quantity: str
    test: str
    value: float
    truth: int


class Condition(msgspec.Struct, frozen=True):
    """A compiled condition. text: as written; quantities: what it tests, in order; node: its tree."""

    text: str
    node: Node
    quantities: tuple[str, ...]

    @property
    def always(self) -> bool:
        """Whether this is `always`."""
        return isinstance(self.node, Always)

    @property
    def canonical(self) -> str:
        """One text for all ways of spacing and ordering the same comparisons."""
        return nodes.canonical(self.node)

    def evaluate(self, columns: Columns, shape: tuple[int, int]) -> Pair:
        """(yes, no), boolean arrays of the shape (case, time).

        columns: quantity to an array that broadcasts to shape, float64 with NaN or int8 with -1 for missing; a
        quantity that is not there is unknown everywhere.
        """
        return Evaluator(columns, shape).pair(self.node)

    def truth(self, columns: Columns, case: int, time: int) -> int:
        """1 yes, 0 no, -1 unknown at one case and time."""
        return nodes.truth(self.node, lambda atom: nodes.truth_at(columns, atom, case, time))

    def explain(self, columns: Columns, case: int, time: int) -> list[Reading]:
        """Every comparison of the condition with its value and truth at one case and time."""
        return [_reading(atom, turned, columns, case, time) for atom, turned in nodes.atoms(self.node)]

    def reasons(self, columns: Columns, case: int, time: int) -> list[Reading]:
        """The comparisons that make the condition what it is at one case and time, each once."""
        found = nodes.reasons(self.node, lambda atom: nodes.truth_at(columns, atom, case, time))
        return [_reading(atom, turned, columns, case, time) for atom, turned in dict.fromkeys(found)]

    def compare(self, other: Condition) -> str:
        """What changing this condition to the other does, wherever physics allows a difference.

        Returns "same", "tightened" (answers more), "loosened" (answers less), "both ways" or "cannot decide".
        """
        from advisor.checklist.language.decide import decide

        return decide(self.node, other.node, places=1).change

    def can_hold(self) -> bool:
        """Whether anything that physics allows makes it yes."""
        from advisor.checklist.language.decide import can_hold

        return can_hold(self.node)


def evaluate_many(
    conditions: Iterable[Condition], columns: Columns, shape: tuple[int, int], evaluator: Evaluator | None = None
) -> list[Pair]:
    """(yes, no) for each condition; a comparison that several share is made once.

    evaluator: of the columns, where there is one already.
    """
    evaluator = evaluator or Evaluator(columns, shape)
    return [evaluator.pair(condition.node) for condition in conditions]


def compile_condition(text: str, *, quantities: Mapping[str, Quantity] = QUANTITIES) -> Condition:
    """Compile a condition.

    text: up to 2000 characters, nested up to 25 deep. quantities: the vocabulary by name.
    Raises ConditionError with the place in the text and what would be right.
    """
    node = read_condition(text, quantities=quantities)
    return Condition(text, node, tuple(dict.fromkeys(atom.quantity for atom, _ in nodes.atoms(node))))


__all__ = ["Bools", "Condition", "ConditionError", "Reading", "compile_condition", "did_you_mean", "evaluate_many"]


def _reading(atom: Atom, turned: bool, columns: Columns, case: int, time: int) -> Reading:
    value = nodes.value_at(columns, atom.quantity, case, time)
    test = f"not {atom.test}" if turned and atom.kind == FLAG else f"not ({atom.test})" if turned else atom.test
    held = nodes.truth_at(columns, atom, case, time)
    return Reading(atom.quantity, test, value, 1 - held if turned and held >= 0 else held)

"""The rule language: reads a text into its tree, refusing every form that the language does not have.

Read with Python's own grammar, restricted: no arithmetic, calls, attributes.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from itertools import pairwise
from math import inf
from typing import NoReturn

from advisor.checklist.language.nodes import Always, And, Atom, Node, Not, Or, Span
from advisor.checklist.language.words import did_you_mean, meant
from advisor.errors import ChecklistError
from advisor.quantities import FLAG, NUMBER, QUANTITIES, Quantity

LENGTH, DEPTH = 2000, 25

_FOREIGN = re.compile(r"[^\x20-\x7e]")
_UNIT = re.compile(
    r"(?<![\w.])\d[\d_.]*+(?:[eE][-+]?\d++)?+(?:[A-Za-z%]| ++(?!(?:and|or|not|in|is|if|else|for)\b)[A-Za-z%])"
)
_ORDER = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}
_TURNED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}
_HINTS = {"≤": 'write "<="', "≥": 'write ">="', "≠": 'write "!="', "°": "leave the unit out"}
_FORMS = "comparisons of one quantity with numbers, bare flags, and, or, not and parentheses are allowed"
_NAMES: dict[type[ast.AST], str] = {
    ast.BinOp: "arithmetic",
    ast.Call: "a call",
    ast.Attribute: "an attribute",
    ast.Subscript: "an index",
    ast.Lambda: "a function",
    ast.IfExp: "if … else",
    ast.NamedExpr: "an assignment",
    ast.JoinedStr: "a built text",
    ast.Tuple: "a list of values alone",
    ast.List: "a list in square brackets",
    ast.Dict: "braces",
    ast.Set: "braces",
    ast.Starred: "a star",
    ast.Await: "await",
}

# what stands in quotes; whatever begins as a number; numbers as they may be written
_WORDS = re.compile(r"\"[^\"]*\"|'[^']*'")
_NUMBERS = re.compile(r"(?<!\w)[.]?\d[\w.]*", re.ASCII)
_PLAIN = re.compile(r"(\d+\.?\d*|\.\d+)([eE]\d*)?", re.ASCII)


class ConditionError(ChecklistError):
    """A condition that cannot be compiled. offset: where in its text, in characters from 0."""

    def __init__(self, what: str, offset: int, hint: str = "") -> None:
        super().__init__(what, where=f"column {offset + 1}", hint=hint)
        self.offset = offset


def read_condition(text: str, *, quantities: Mapping[str, Quantity] = QUANTITIES) -> Node:
    """The tree of a condition.

    text: up to 2000 characters, nested up to 25 deep. quantities: the vocabulary by name.
    Raises ConditionError with the place in the text and what would be right.
    """
    reader = _Reader(quantities)
    # a bound on characters, and the same length in and out, so that places stay right
    plain = text.replace("−", "-").replace("\n", " ").replace("\r", " ").replace("\t", " ")
    _check_characters(plain)
    lead = len(plain) - len(plain.lstrip())
    try:
        tree = ast.parse(plain.strip(), mode="eval").body
    except SyntaxError as error:
        at = min((error.offset or len(plain)) - 1 + lead, len(plain) - 1)
        raise ConditionError(f"not a condition ({error.msg})", at, _FORMS) from None
    except (ValueError, MemoryError, RecursionError):
        raise ConditionError("not a condition", 0, _FORMS) from None
    reader.lead = lead
    if isinstance(tree, ast.Name) and tree.id == "always":
        return Always()
    return reader.read(tree, 0)


def _check_characters(text: str) -> None:
    if not text.strip():
        raise ConditionError("no condition", 0, 'write "always" for a rule that always applies')
    if len(text) > LENGTH:
        raise ConditionError(f"longer than {LENGTH} characters", LENGTH, "split it into several rules")
    odd = _FOREIGN.search(text)
    if odd:
        hint = _HINTS.get(odd[0], "plain letters, digits and < > = ! ( ) , . - are allowed")
        raise ConditionError(f"{odd[0]!r} has no meaning here", odd.start(), hint)
    for sign in "#\\;":
        if sign in text:
            raise ConditionError(f"{sign!r} has no meaning here", text.index(sign), _FORMS)
    unit = _UNIT.search(text)
    if unit:
        raise ConditionError("a number with a unit behind it", unit.start(), "leave the unit out: the name says it")
    bare = _WORDS.sub(lambda match: " " * len(match[0]), text)
    for number in _NUMBERS.finditer(bare):
        # Python's own reader takes 1_0 and 0x10, and warns of 3and on standard error
        if not _PLAIN.fullmatch(number[0]):
            raise ConditionError(f"{number[0][:20]!r} is not a number", number.start(), "write plain digits")


class _Reader:
    """Turns Python's tree into nodes, refusing every form that the language does not have."""

    def __init__(self, quantities: Mapping[str, Quantity]) -> None:
        self.quantities = quantities
        self.lead = 0

    def fail(self, what: str, at: ast.AST, hint: str = "") -> NoReturn:
        raise ConditionError(what, getattr(at, "col_offset", 0) + self.lead, hint)

    def read(self, tree: ast.expr, depth: int) -> Node:
        if depth > DEPTH:
            self.fail(f"nested more than {DEPTH} deep", tree, "split it into several rules")
        if isinstance(tree, ast.BoolOp):
            parts = tuple(self.read(value, depth + 1) for value in tree.values)
            return And(parts) if isinstance(tree.op, ast.And) else Or(parts)
        if isinstance(tree, ast.UnaryOp) and isinstance(tree.op, ast.Not):
            return Not(self.read(tree.operand, depth + 1))
        if isinstance(tree, ast.Compare):
            return self.compare(tree)
        if isinstance(tree, ast.Name):
            return self.flag(tree)
        what = "a value alone says nothing" if isinstance(tree, ast.Constant) else _refused(tree)
        return self.fail(what, tree, _FORMS)

    def quantity(self, tree: ast.Name) -> Quantity:
        row = self.quantities.get(tree.id)
        if row is None:
            if tree.id == "always":
                self.fail("always stands alone", tree, "leave it out, or leave out the rest")
            self.fail(f"unknown quantity {tree.id[:60]!r}", tree, meant(tree.id, self.quantities))
        return row

    def flag(self, tree: ast.Name) -> Node:
        row = self.quantity(tree)
        if row.kind == NUMBER:
            self.fail(f"{row.name} is a number{_in(row)}", tree, f'compare it, such as "{row.name} >= 1"')
        if row.kind != FLAG:
            self.fail(f"{row.name} is one of several words", tree, f'compare it, such as "{row.name} == {_word(row)}"')
        return Atom(row.name, FLAG, (), (1,), row.name)

    def compare(self, tree: ast.Compare) -> Node:
        sides = [tree.left, *tree.comparators]
        names = [side for side in sides if isinstance(side, ast.Name)]
        for name in names:
            self.quantity(name)
        if len(names) > 1:
            self.fail("two quantities in one comparison", names[1], "compare one quantity with numbers")
        for side in sides:
            if not isinstance(side, (ast.Name, ast.Constant, ast.UnaryOp, ast.Tuple)):
                listed = isinstance(side, (ast.List, ast.Set))
                self.fail(_refused(side), side, "write round brackets, as in (1, 2)" if listed else _FORMS)
        if not names:
            self.fail("no quantity in this comparison", tree, "compare one quantity with numbers")
        row = self.quantity(names[0])
        if row.kind == FLAG:
            self.fail(f"{row.name} is yes or no", names[0], f'write "{row.name}" or "not {row.name}"')
        if any(isinstance(op, (ast.In, ast.NotIn)) for op in tree.ops):
            return self.member(tree, row)
        if any(isinstance(op, (ast.Is, ast.IsNot)) for op in tree.ops):
            self.fail('"is" is not allowed', tree, 'write "==" or "!="')
        if row.kind != NUMBER:
            return self.word(tree, row)
        return self.number(tree, row)

    def number(self, tree: ast.Compare, row: Quantity) -> Node:
        ops = [_ORDER[type(op)] for op in tree.ops]
        sides = [tree.left, *tree.comparators]
        if len(ops) == 1:
            right = isinstance(tree.left, ast.Name)
            value = self.value(tree.comparators[0] if right else tree.left, row)
            op = ops[0] if right else _TURNED[ops[0]]
            spans = _spans(op, value)
            return Atom(row.name, NUMBER, spans, (), f"{row.name} {op} {_plain(value)}")
        rising = all(op in ("<", "<=") for op in ops)
        if len(ops) != 2 or not isinstance(sides[1], ast.Name) or not (rising or all(op in (">", ">=") for op in ops)):
            self.fail("this chain cannot be read", tree, f'write it as "low <= {row.name} <= high"')
        first, last = self.value(sides[0], row), self.value(sides[2], row)
        if not rising:
            first, last, ops = last, first, [_TURNED[op] for op in reversed(ops)]
        if first > last or (first == last and "<" in ops):
            self.fail("no number can meet this", tree, "put the lower number first")
        test = f"{_plain(first)} {ops[0]} {row.name} {ops[1]} {_plain(last)}"
        return Atom(row.name, NUMBER, ((first, ops[0] == "<=", last, ops[1] == "<="),), (), test)

    def word(self, tree: ast.Compare, row: Quantity) -> Node:
        op = _ORDER[type(tree.ops[0])]
        if len(tree.ops) > 1 or op not in ("==", "!="):
            self.fail(f"{row.name} is one of several words", tree, 'compare it with "==", "!=" or "in (…)"')
        other = tree.comparators[0] if isinstance(tree.left, ast.Name) else tree.left
        code = self.code(other, row)
        codes = (code,) if op == "==" else tuple(at for at in range(len(row.values)) if at != code)
        return Atom(row.name, row.kind, (), codes, f'{row.name} {op} "{row.values[code]}"')

    def member(self, tree: ast.Compare, row: Quantity) -> Node:
        if len(tree.ops) > 1 or not isinstance(tree.left, ast.Name):
            self.fail("this list cannot be read", tree, f'write "{row.name} in (a, b)"')
        items = tree.comparators[0]
        members = items.elts if isinstance(items, ast.Tuple) else [items]
        if not members:
            self.fail("an empty list", items, "name at least one value")
        inside = isinstance(tree.ops[0], ast.In)
        word = "in" if inside else "not in"
        if row.kind == NUMBER:
            values = sorted({self.value(member, row) for member in members})
            spans: tuple[Span, ...] = tuple((value, True, value, True) for value in values)
            if not inside:
                edges = [-inf, *values, inf]
                spans = tuple((low, False, high, False) for low, high in pairwise(edges))
            return Atom(row.name, NUMBER, spans, (), f"{row.name} {word} ({', '.join(map(_plain, values))})")
        chosen = sorted({self.code(member, row) for member in members})
        codes = tuple(at for at in range(len(row.values)) if (at in chosen) == inside)
        if not codes:
            self.fail("no value can meet this", items, "leave at least one value")
        listed = ", ".join(f'"{row.values[at]}"' for at in chosen)
        return Atom(row.name, row.kind, (), codes, f"{row.name} {word} ({listed})")

    def value(self, tree: ast.expr, row: Quantity) -> float:
        sign, inner = 1, tree
        if isinstance(tree, ast.UnaryOp) and isinstance(tree.op, (ast.USub, ast.UAdd)):
            sign, inner = (-1 if isinstance(tree.op, ast.USub) else 1), tree.operand
        number = inner.value if isinstance(inner, ast.Constant) else None
        if isinstance(number, bool) or not isinstance(number, (int, float)):
            self.fail(f"{row.name} is a number{_in(row)}", inner, f"compare it with {_range(row)}")
        if not row.low <= sign * number <= row.high:
            self.fail(f"{sign * number!s:.20} is outside the range of {row.name}", tree, f"it takes {_range(row)}")
        return float(sign * number) + 0.0  # no minus zero

    def code(self, tree: ast.expr, row: Quantity) -> int:
        if not isinstance(tree, ast.Constant) or not isinstance(tree.value, str):
            self.fail(f"{row.name} is one of several words", tree, f"compare it with {_word(row)} or another of them")
        if tree.value not in row.values:
            self.fail(f"{tree.value!r} is no value of {row.name}", tree, did_you_mean(tree.value, row.values))
        return row.values.index(tree.value)


def _spans(op: str, value: float) -> tuple[Span, ...]:
    if op == "==":
        return ((value, True, value, True),)
    if op == "!=":
        return (-inf, False, value, False), (value, False, inf, False)
    if op in ("<", "<="):
        return ((-inf, False, value, op == "<="),)
    return ((value, op == ">=", inf, False),)


def _refused(tree: ast.AST) -> str:
    return f"{_NAMES.get(type(tree), 'this form')} is not allowed"


def _plain(value: float) -> str:
    return f"{value:.10g}"


def _in(row: Quantity) -> str:
    return f" in {row.unit}" if row.unit else ""


def _word(row: Quantity) -> str:
    return f'"{row.values[0]}"'


def _range(row: Quantity) -> str:
    return f"a number from {_plain(row.low)} to {_plain(row.high)}"

"""Small wrong edits of a Python source: what mutants.py makes of it.

Every place in a source that can be edited gives one Mutation. Left alone is what changes no behaviour: docstrings,
messages (text in a raise and f-strings), __all__, type annotations, imports, decorators, and lines that end in
"# not a coefficient". The numbers of one table (a top-level name in capitals) count as one place; coefficients.py
changes each of them.
"""

from __future__ import annotations

import ast
import copy
import math
import random
import re
from dataclasses import dataclass

COMPARE = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ARITHMETIC = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.FloorDiv: ast.Mult,
}
EXTREMES = {
    "min": "max",
    "max": "min",
    "minimum": "maximum",
    "maximum": "minimum",
    "fmin": "fmax",
    "fmax": "fmin",
    "nanmin": "nanmax",
    "nanmax": "nanmin",
    "argmin": "argmax",
    "argmax": "argmin",
    "any": "all",
    "all": "any",
    "any_of": "all_of",
    "all_of": "any_of",
    "floor": "ceil",
    "ceil": "floor",
}
# the order of their arguments changes nothing
COMMUTES = frozenset({*EXTREMES, "isclose", "broadcast_arrays", "broadcast_shapes", "hypot", "distance_km", "set"})
# names that stand for each other; beside these, names of one unit, by what follows the last underscore
SIBLINGS = (
    ("low", "central", "high"),
    ("temperature", "moisture", "wind", "cloud"),
    ("snow", "rain", "drizzle", "hail"),
    ("fog", "mist"),
    ("painted", "tank", "panel", "metal"),
    ("left", "right"),
    ("water", "ice"),
    ("expected", "likely", "possible"),
    ("yes", "no"),
    ("must", "should"),
    ("wind", "visibility", "weather", "cloud"),
    ("temporary", "probable", "becoming", "prevailing"),
    ("TEMPO", "BECMG", "NOSIG"),
    ("FEW", "SCT", "BKN", "OVC"),
    ("TX", "TN"),
    ("SKC", "CLR", "NSC", "NCD", "CAVOK"),
    ("RA", "SN", "DZ", "PL", "GR", "GS", "SG"),
    ("+", "-"),
    ("B", "E"),
    ("METAR", "SPECI"),
    ("CB", "TCU"),
    ("FM", "TL", "AT"),
)
NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)+\Z")
NOT_A_NUMBER = ("nan", "NAN", "math.nan", "np.nan", "float('nan')", "inf", "math.inf", "np.inf")
NOT_MADE = b"# not a coefficient"


@dataclass(frozen=True)
class Mutation:
    """One edit: bytes start to end of the source give way to text. line: where it starts; change: in words."""

    line: int
    start: int
    end: int
    text: str
    change: str


def mutations(source: str, seed: str) -> list[Mutation]:
    """One mutation for each place of a source, in the order of the source; the same for the same seed.

    What is drawn for a place hangs on its own line: an edit elsewhere changes nothing of it.
    """
    walk = _Walk(source, seed)
    walk.visit(walk.tree)
    made = sorted(walk.made, key=lambda one: (one.start, one.end, one.text))
    for name, table in walk.tables.items():
        made.append(random.Random(f"{seed} {name}").choice(table))
    return sorted(set(made), key=lambda one: (one.start, one.end, one.text))


def apply(source: str, mutation: Mutation) -> str:
    """The source with one mutation in it."""
    raw = source.encode()
    return (raw[: mutation.start] + mutation.text.encode() + raw[mutation.end :]).decode()


class _Walk(ast.NodeVisitor):
    def __init__(self, source: str, seed: str) -> None:
        self.lines = source.encode().splitlines(keepends=True)
        self.starts = [0]
        for line in self.lines:
            self.starts.append(self.starts[-1] + len(line))
        self.raw = source.encode()
        self.seed = seed
        self.tree = ast.parse(source)
        self.made: list[Mutation] = []
        self.tables: dict[str, list[Mutation]] = {}
        self.table: str | None = None
        # of the function that is being read
        self.returns = ""
        self.typed: list[dict[str, str]] = [{}]
        texts = {
            node.value for node in ast.walk(self.tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
        self.names = sorted(text for text in texts if NAME.match(text))
        self.texts = texts

    def _chance(self, node: ast.expr) -> random.Random:
        line = self.lines[node.lineno - 1]
        inside = node.col_offset - (len(line) - len(line.lstrip()))
        return random.Random(f"{self.seed} {line.strip().decode()} {inside} {type(node).__name__}")

    # what is left alone

    def visit_Import(self, node: ast.Import) -> None: ...

    def visit_ImportFrom(self, node: ast.ImportFrom) -> None: ...

    def visit_Raise(self, node: ast.Raise) -> None: ...

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None: ...

    def visit_Assert(self, node: ast.Assert) -> None: ...

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg not in ("strict", "hint", "where"):
            self.visit(node.value)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for statement in node.body:
            self.visit(statement)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if isinstance(node.target, ast.Name):
            self.typed[-1][node.target.id] = ast.unparse(node.annotation)
        if node.value is not None:
            self._value(node.target, node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        self._value(node.targets[0], node.value)

    def _value(self, target: ast.expr, value: ast.expr) -> None:
        names = [part.id for part in ast.walk(target) if isinstance(part, ast.Name)]
        if names == ["__all__"]:
            return
        before = self.table
        if len(self.typed) == 1 and names and all(name.isupper() for name in names):
            self.table = names[0]
        self.visit(value)
        self.table = before

    def visit_FunctionDef(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        self.typed.append({one.arg: ast.unparse(one.annotation) for one in arguments if one.annotation is not None})
        for default in [*node.args.defaults, *(one for one in node.args.kw_defaults if one is not None)]:
            self.visit(default)
        outer, self.returns = self.returns, ast.unparse(node.returns) if node.returns is not None else ""
        for statement in node.body:
            self.visit(statement)
        self.typed.pop()
        self.returns = outer

    visit_AsyncFunctionDef = visit_FunctionDef

    # what is changed

    def visit_Compare(self, node: ast.Compare) -> None:
        chance = self._chance(node)
        at = chance.randrange(len(node.ops))
        found = COMPARE[type(node.ops[at])]
        changed = copy.deepcopy(node)
        changed.ops[at] = chance.choice(found)()
        self._make(node, changed)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        changed = copy.deepcopy(node)
        changed.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        self._make(node, changed)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        other = ARITHMETIC.get(type(node.op))
        sides = [part for side in (node.left, node.right) for part in ast.walk(side)]
        textual = any(
            isinstance(part, ast.JoinedStr | ast.List | ast.Tuple | ast.ListComp)
            or (isinstance(part, ast.Constant) and isinstance(part.value, str | bytes))
            for part in (node.left, node.right)
        )
        sets = isinstance(node.op, ast.Sub | ast.BitAnd | ast.BitOr) and any(isinstance(p, ast.Set) for p in sides)
        if other is not None and not textual and not sets:
            changed = copy.deepcopy(node)
            changed.op = other()
            self._make(node, changed)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not | ast.Invert):
            self._make(node, node.operand)
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in EXTREMES:
            changed = copy.deepcopy(node)
            if isinstance(changed.func, ast.Attribute):
                changed.func.attr = EXTREMES[name]
            else:
                changed.func = ast.Name(EXTREMES[name])
            # ufunc methods, np.maximum.accumulate, are met as attributes of a name below
            self._make(node, changed)
        if name not in COMMUTES:
            pairs = [at for at in range(len(node.args) - 1) if self._alike(node.args[at], node.args[at + 1])]
            if pairs:
                at = self._chance(node).choice(pairs)
                changed = copy.deepcopy(node)
                changed.args[at], changed.args[at + 1] = changed.args[at + 1], changed.args[at]
                self._make(node, changed)
        self.generic_visit(node)

    def visit_Attribute(self, node: ast.Attribute) -> None:
        inner = node.value
        if node.attr in ("accumulate", "reduce") and isinstance(inner, ast.Attribute) and inner.attr in EXTREMES:
            changed = copy.deepcopy(node)
            changed.value.attr = EXTREMES[inner.attr]  # type: ignore[attr-defined]
            self._make(node, changed)
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        if ast.unparse(node.test) != "TYPE_CHECKING":
            self._negate(node.test)
            self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._negate(node.test)
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self._negate(test)
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        value = node.value
        if value is None:
            return
        replaced = self._other_return(value)
        if replaced is not None:
            self._make(value, replaced)
        self.visit(value)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self._make(node, ast.Constant(not value))
        elif isinstance(value, int):
            self._make(node, ast.Constant(value + self._chance(node).choice((-1, 1))))
        elif isinstance(value, float) and math.isfinite(value):
            step = 10.0 ** (math.floor(math.log10(abs(value))) - 2) if value else 0.001
            self._make(node, ast.Constant(float(f"{value + step:.12g}")))
        elif isinstance(value, str):
            others = self._siblings(value)
            if others:
                self._make(node, ast.Constant(self._chance(node).choice(others)))

    def _siblings(self, text: str) -> list[str]:
        group = next((one for one in SIBLINGS if text in one), None)
        if group is not None:
            return [one for one in group if one != text and one in self.texts]
        if not NAME.match(text):
            return []
        unit = text.rsplit("_", 1)[1]
        return [one for one in self.names if one != text and one.rsplit("_", 1)[1] == unit]

    def _alike(self, first: ast.expr, second: ast.expr) -> bool:
        if ast.unparse(first) == ast.unparse(second):
            return False
        if isinstance(first, ast.Name) and isinstance(second, ast.Name):
            same_kind = first.id.isupper() == second.id.isupper()
            return same_kind and self.typed[-1].get(first.id) == self.typed[-1].get(second.id)
        same = type(first) is type(second) and isinstance(first, ast.Attribute | ast.Subscript)
        return same and ast.unparse(first.value) == ast.unparse(second.value)  # type: ignore[attr-defined]

    def _other_return(self, value: ast.expr) -> ast.expr | None:
        if isinstance(value, ast.Tuple) and len(value.elts) > 1:
            changed = copy.deepcopy(value)
            changed.elts[0], changed.elts[1] = changed.elts[1], changed.elts[0]
            return changed
        kind = self.returns
        if isinstance(value, ast.Constant):
            return None
        if kind.endswith("| None"):
            return ast.Constant(None)
        if kind == "bool":
            return ast.UnaryOp(ast.Not(), value)
        if kind in ("float", "Floats", "int"):
            # nothing added to it makes a number of it
            if ast.unparse(value) in NOT_A_NUMBER:
                return None
            return ast.BinOp(value, ast.Add(), ast.Constant(1))
        if kind == "Codes":
            return ast.BinOp(ast.Constant(0), ast.Mult(), value)
        if kind == "str":
            return ast.Constant("")
        for start, empty in (("list[", ast.List([])), ("tuple[", ast.Tuple([])), ("dict[", ast.Dict([], []))):
            if kind.startswith(start) and kind.count(",") <= 1:
                return empty
        return None

    def _negate(self, test: ast.expr) -> None:
        # a comparison or an and/or has an edit of its own
        if not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp):
            self._make(test, ast.UnaryOp(ast.Not(), test))

    def _make(self, node: ast.expr, changed: ast.expr) -> None:
        assert node.end_lineno is not None and node.end_col_offset is not None
        if any(line.rstrip().endswith(NOT_MADE) for line in self.lines[node.lineno - 1 : node.end_lineno]):
            return
        start = self.starts[node.lineno - 1] + node.col_offset
        end = self.starts[node.end_lineno - 1] + node.end_col_offset
        before, after = ast.unparse(node), ast.unparse(ast.fix_missing_locations(changed))
        text = f"({after})"
        if before == after:
            return
        made = Mutation(node.lineno, start, end, text, _words(before, after))
        if self.table is not None and isinstance(node, ast.Constant) and not isinstance(node.value, bool):
            self.tables.setdefault(self.table, []).append(made)
        else:
            self.made.append(made)


def _words(before: str, after: str) -> str:
    """Both texts, without what they share at both ends when they are long."""
    if len(before) + len(after) <= 120:
        return f"{before} → {after}"
    head = 0
    while head < min(len(before), len(after)) and before[head] == after[head]:
        head += 1
    tail = 0
    while tail < min(len(before), len(after)) - head and before[-1 - tail] == after[-1 - tail]:
        tail += 1
    head, tail = max(0, head - 24), max(0, tail - 24)
    parts = (text[head : len(text) - tail] for text in (before, after))
    return " → ".join(f"…{part if len(part) <= 90 else part[:87] + '…'}…" for part in parts)

"""Names that could stand for anything stand for a line or two, not for a function."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
VAGUE = {"one", "found", "at", "said", "made"}
# from where such a name is bound to where it is used last
MOST_LINES = 3
Function = (ast.FunctionDef, ast.AsyncFunctionDef)


def own(function: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[ast.AST]:
    """What stands in a function and in what has no scope of its own; not in functions and classes inside it."""
    waiting: list[ast.AST] = list(function.body)
    while waiting:
        node = waiting.pop()
        yield node
        if not isinstance(node, (*Function, ast.ClassDef)):
            waiting.extend(ast.iter_child_nodes(node))


def bound(function: ast.FunctionDef | ast.AsyncFunctionDef) -> dict[str, int]:
    """The vague names that a function binds, each with the line of the first binding."""
    given = function.args
    first = {
        each.arg: function.lineno
        for each in (*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg)
        if each is not None and each.arg in VAGUE
    }
    in_comprehensions = {
        id(node) for each in own(function) if isinstance(each, ast.comprehension) for node in ast.walk(each.target)
    }
    for node in own(function):
        binds = isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store) and id(node) not in in_comprehensions
        if binds and node.id in VAGUE:
            first[node.id] = min(first.get(node.id, node.lineno), node.lineno)
    return first


def long_ones(source: str) -> Iterator[tuple[int, str, str]]:
    """Line, function and name, for each vague name that lives longer than it may."""
    for function in ast.walk(ast.parse(source)):
        if isinstance(function, Function):
            for name, begin in bound(function).items():
                used = [node.lineno for node in ast.walk(function) if isinstance(node, ast.Name) and node.id == name]
                if max(used, default=begin) - begin >= MOST_LINES:
                    yield begin, function.name, name


def test_no_name_that_could_stand_for_anything_lives_longer_than_a_few_lines() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line} {function}: {name}"
        for path in sorted((ROOT / "advisor").rglob("*.py"))
        for line, function, name in long_ones(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_a_name_that_lives_longer_is_noticed() -> None:
    short = "def f(rows):\n    one = rows[0]\n    return one\n"
    long = "def f(rows):\n    one = rows[0]\n    a = 1\n    b = 2\n    return one\n"
    given = "def f(at):\n    a = 1\n    b = 2\n    return at\n"
    assert not list(long_ones(short))
    assert list(long_ones(long)) == [(2, "f", "one")]
    assert list(long_ones(given)) == [(1, "f", "at")]

"""Nothing stands in the package for the tests alone: what it defines it calls, gives out at its door, or documents.

Found by walking the names of every file: a function or class counts as called where its own file names it outside
itself, where another file imports it, or where another file names it as a part of its module. A method counts where its
name is asked of anything, also in a template. What only tests call belongs to the tests.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

import advisor

ROOT = Path(__file__).parent.parent
DEFINITIONS = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
# decorators that hand a function to a library, which calls it by itself
REGISTERED = re.compile(r"\.command\(|\.group\(|^get\(|^post\(|^route\(")
# called through a module that is handed in as a value, so that no name leads there
HANDED_IN = {
    "advisor.record.said.data_of",
    "advisor.record.migrations.versions.v0001_events.upgrade",
    "advisor.record.migrations.versions.v0002_signatures.upgrade",
}
# what people call in Python, besides the door
PUBLIC = {"advisor.report.metar.read_all"}
# what the calibration of the tables and its measures are made of
CALIBRATED = {"advisor.physics.ahead.temperature_ahead_c", "advisor.physics.ahead.temperature_span_c"}
# what measures and tests of the whole are made with: one call for what commands do in steps
MEASURED = {
    "advisor.archive.order.in_order",
    "advisor.archive.run.replay",
    "advisor.archive.table.of_reports",
    "advisor.checklist.language.condition.Condition.explain",
}


def parsed(folder: str) -> dict[str, ast.Module]:
    """Every file of a folder by its module's name."""
    found = {}
    for path in sorted((ROOT / folder).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


def names_of(module: str, tree: ast.Module) -> tuple[set[str], set[str]]:
    """What a file names: definitions with their module, and bare attributes."""
    known: dict[str, str] = {}
    named: set[str] = set()
    attributes: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            for one in node.names:
                named.add(f"{node.module}.{one.name}")
                known[one.asname or one.name] = f"{node.module}.{one.name}"
        elif isinstance(node, ast.Import):
            known |= {one.asname: one.name for one in node.names if one.asname}
        elif isinstance(node, ast.Attribute):
            attributes.add(node.attr)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            # getattr, and tables that name what they ask for
            attributes |= {node.value} if node.value.isidentifier() else set()
    for statement in tree.body:
        own = statement.name if isinstance(statement, DEFINITIONS) else ""
        for node in ast.walk(statement):
            if isinstance(node, ast.Name) and node.id != own:
                named.add(f"{module}.{node.id}")
            elif isinstance(node, ast.Attribute):
                first, *rest = ast.unparse(node).split(".")
                named.add(".".join([known.get(first, first), *rest]))
    return named, attributes


def defined(module: str, tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Functions and classes, by full name, each with "" or, for a method, its bare name."""
    for node in tree.body:
        if not isinstance(node, DEFINITIONS):
            continue
        if not any(REGISTERED.search(ast.unparse(one)) for one in node.decorator_list):
            yield f"{module}.{node.name}", ""
        if isinstance(node, ast.ClassDef) and not outside(node):
            for part in node.body:
                if isinstance(part, DEFINITIONS) and not part.name.startswith("__"):
                    yield f"{module}.{node.name}.{part.name}", part.name


# of what a class of another library is made, that library calls
OWN_BASES = frozenset(("Struct", "msgspec.Struct", "NamedTuple", "Protocol", "Enum", "IntEnum", "StrEnum", "Exception"))


def outside(node: ast.ClassDef) -> bool:
    """Whether a class is made of another library's, which may call its methods."""
    return any("." in base and base not in OWN_BASES for base in map(ast.unparse, node.bases))


def uncalled(package: Mapping[str, ast.Module], others: Mapping[str, ast.Module], words: set[str]) -> set[str]:
    """What a package defines and neither it nor the others nor the words name."""
    named: set[str] = set()
    attributes = set(words)
    for module, tree in {**package, **others}.items():
        more, parts = names_of(module, tree)
        named |= more
        attributes |= parts
    return {
        full
        for module, tree in package.items()
        for full, method in defined(module, tree)
        if (method not in attributes if method else full not in named)
    }


def words_of_templates() -> set[str]:
    kinds = (".html", ".typ", ".js", ".svg")
    texts = (path.read_text(encoding="utf-8") for path in (ROOT / "advisor").rglob("*") if path.suffix in kinds)
    return {word for text in texts for word in re.findall(r"\w+", text)}


@pytest.mark.long
def test_what_the_package_defines_is_called_by_it_or_by_its_documents_and_not_by_tests_alone() -> None:
    door = {f"advisor.{name}" for name in dir(advisor)}
    found = uncalled(parsed("advisor"), parsed("docs"), words_of_templates()) - door
    assert sorted(found - HANDED_IN - PUBLIC - CALIBRATED - MEASURED) == []
    # a name that is called by now, or gone, leaves these lists
    assert sorted((HANDED_IN | PUBLIC | CALIBRATED | MEASURED) - found) == []


def test_a_function_a_class_and_a_method_that_nobody_calls_would_be_seen() -> None:
    package = {
        "p.a": ast.parse(
            "def used(): return _within()\n"
            "def _within(): return 1\n"
            "def alone(): return alone()\n"
            "class Held:\n    def asked(self): ...\n    def never(self): ...\n    def __len__(self): ...\n"
            "class Bare: ...\n"
        ),
        "p.b": ast.parse("from p import a\nfrom p.a import Held\nvalue = a.used() + Held().asked()\n"),
    }
    assert uncalled(package, {}, set()) == {"p.a.alone", "p.a.Bare", "p.a.Held.never"}
    assert uncalled(package, {"d": ast.parse("import p.a as one\none.alone()\none.Bare")}, {"never"}) == set()


def test_a_command_and_what_another_library_calls_are_no_finds() -> None:
    package = {"p": ast.parse("@main.command('x')\ndef x(): ...\nclass S(requests.Session):\n    def y(self): ...\nS")}
    assert uncalled(package, {}, set()) == set()

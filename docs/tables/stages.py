"""The physics: its stages from column to column, each formula, and which source stands behind which."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import advisor
from advisor.physics.derive import STAGES
from advisor.quantities import COLUMNS
from advisor.sources import SOURCES
from tables.markdown import code, plain, table
from tables.sources import anchor, linked

PHYSICS = Path(advisor.__file__).parent / "physics"
MODULES = {
    "sun": "Sun",
    "moon": "Moon",
    "light": "Natural light",
    "moisture": "Moist air",
    "wind": "Wind",
    "exposure": "People outside",
    "sky": "Radiation of the sky",
    "balance": "Balance of heat",
    "convection": "Wind at the wing",
    "surface": "Skin temperature",
    "frost": "Frost and dew on the skin",
    "precipitation": "Precipitation",
    "snow": "Snow from visibility",
    "treatment": "Precipitation as treatment tables name it",
    "deposits": "Deposits over time",
    "lying": "What lies on aircraft and apron",
    "ahead": "How far the air may change",
}
STAGES_HEAD = """# Stages

From what reports and the departure say to everything that rules test, one stage after the other. Each is a pure
function: it reads the [quantities](quantities.md) that it needs and gives new ones, and changes nothing.
"""
HEAD = """# Formulas and their sources

Pure functions over arrays: what goes in and out with its unit, the range in which each holds (outside it the answer is
missing, never extrapolated), and where it comes from. The first table says it at a glance.
"""


def pages() -> dict[str, str]:
    """stages.md and formulas.md."""
    return {"stages.md": "\n".join([STAGES_HEAD, *_stages()]), "formulas.md": _formulas()}


def _stages() -> Iterator[str]:
    for stage in STAGES:
        yield f"\n## {_upper(stage.name)}\n\n{_upper(stage.meaning)}.\n"
        if stage.formula:
            yield f"{_upper(stage.formula)}.\n"
        rows = [(_column(name), ", ".join(map(_column, needs))) for name, needs in stage.gives.items()]
        yield table(("gives", "from"), rows)
        yield "Sources:\n\n" + "\n".join(f"* {linked(SOURCES[key])}" for key in stage.source) + "\n"


def _upper(text: str) -> str:
    return plain(text[:1].upper() + text[1:])


def _column(name: str) -> str:
    row = COLUMNS.get(name)
    return code(name) if row is None or not row.unit else f"{code(name)} ({plain(row.unit)})"


def _formulas() -> str:
    rows = []
    for module in MODULES:
        for node in ast.parse((PHYSICS / f"{module}.py").read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                where = f"advisor.physics.{module}.{node.name}"
                rows.append((f"{{py:func}}`~{where}`", module, _first_line(node), _sources(node)))
    parts = [HEAD, table(("function", "module", "what", "sources"), rows)]
    for module, title in MODULES.items():
        parts.append(
            f"\n## {title}\n\n```{{eval-rst}}\n.. automodule:: advisor.physics.{module}\n   :ignore-module-all:\n```\n"
        )
    return "\n".join(parts)


def _first_line(node: ast.FunctionDef) -> str:
    return (ast.get_docstring(node) or "").partition("\n")[0].rstrip(".")


def _sources(node: ast.FunctionDef) -> str:
    _, _, below = (ast.get_docstring(node) or "").partition("References\n----------\n")
    keys = [key for line in below.splitlines() for key in line.partition(": ")[0].split(", ")]
    return ", ".join(f"[{key}](#source-{anchor(key)})" for key in keys if key in SOURCES)

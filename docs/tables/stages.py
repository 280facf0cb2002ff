"""The physics: each module with its formulas, and which source stands behind which."""

from __future__ import annotations

import ast
from pathlib import Path

import advisor
from advisor.sources import SOURCES
from tables.markdown import table
from tables.sources import anchor

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
    "surface": "Skin temperature and frost",
    "precipitation": "Precipitation",
    "snow": "Snow from visibility",
    "deposits": "Deposits over time",
    "ahead": "How far the air may change",
}
HEAD = """# Formulas and their sources

Pure functions over arrays: what goes in and out with its unit, the range in which each holds (outside it the answer is
missing, never extrapolated), and where it comes from. The first table says it at a glance.
"""


def pages() -> dict[str, str]:
    """formulas.md."""
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
    return {"formulas.md": "\n".join(parts)}


def _first_line(node: ast.FunctionDef) -> str:
    return (ast.get_docstring(node) or "").partition("\n")[0].rstrip(".")


def _sources(node: ast.FunctionDef) -> str:
    _, _, below = (ast.get_docstring(node) or "").partition("References\n----------\n")
    keys = [key for line in below.splitlines() for key in line.partition(": ")[0].split(", ")]
    return ", ".join(f"[{key}](#source-{anchor(key)})" for key in keys if key in SOURCES)

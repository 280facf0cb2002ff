"""The little Markdown that the pages are written in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|$~^])")


def plain(text: str) -> str:
    """Text in which nothing is read as a mark."""
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))


def code(text: str) -> str:
    """Text as it is typed; in a table a bar needs its stroke."""
    return f"`{text}`".replace("|", "\\|") if text else ""


def prose(text: str) -> str:
    """Paragraphs, each as plain text."""
    return "\n\n".join(plain(part) for part in re.split(r"\n\s*\n", text.strip()))


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; cells are Markdown."""
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    lines += ["| " + " | ".join(cell.replace("\n", " ") for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def block(text: str, language: str = "text") -> str:
    """Text kept as it is."""
    return f"````{{code-block}} {language}\n{text.rstrip()}\n````\n"


def toctree(names: Iterable[str], *, depth: int = 1) -> str:
    """The pages below this one."""
    return "\n".join(["```{toctree}", f":maxdepth: {depth}", "", *names, "```", ""])

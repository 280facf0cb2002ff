"""The bibliography as a page, and the links to it from docstrings."""

from __future__ import annotations

import re
from typing import Any

from advisor.sources import SOURCES, Source
from tables.markdown import plain

HEAD = """# Sources

Where figures and rules come from. *Published*: seen in the source or in a document that quotes it. *From memory*:
recalled, not seen, and confirmed by an independent library where a test says so. *Common practice*: known in the
trade, without a source. *Invented*: an example value that an operator replaces.
"""


def pages() -> dict[str, str]:
    """sources.md: an anchor for every key."""
    parts = [HEAD]
    for one in sorted(SOURCES.values(), key=lambda one: one.key):
        parts.append(f"(source-{anchor(one.key)})=\n## {one.key}\n\n{said(one)}\n")
    return {"sources.md": "\n".join(parts)}


def said(one: Source) -> str:
    """A source in a line: title, place in it, standing."""
    locator = f", {plain(one.locator)}" if one.locator else ""
    return f"{plain(one.title)}{locator} (*{one.standing}*)"


def linked(one: Source) -> str:
    """The same as a link where the key has its anchor; an operator's own source has none."""
    return f"[{said(one)}](#source-{anchor(one.key)})" if one.key in SOURCES else said(one)


def anchor(key: str) -> str:
    """A key as the name of a link."""
    return re.sub(r"[^a-z0-9]+", "-", key)


def link_references(app: Any, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    """Turn each source key below "References" of a docstring into a link to the bibliography."""
    for at in range(len(lines) - 1):
        if lines[at].strip() == "References" and set(lines[at + 1].strip()) == {"-"}:
            break
    else:
        return
    for row in range(at + 2, len(lines)):
        indent = lines[row][: len(lines[row]) - len(lines[row].lstrip())]
        keys, _, note = lines[row].strip().partition(": ")
        if keys and all(key in SOURCES for key in keys.split(", ")):
            links = [f":ref:`{SOURCES[key].title} <source-{anchor(key)}>`" for key in keys.split(", ")]
            lines[row] = f"{indent}* {'; '.join(links)}" + (f" ({note})" if note else "")

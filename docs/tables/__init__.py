"""Pages that follow from the code's own tables, so that they cannot drift from it."""

from __future__ import annotations

from pathlib import Path

from tables import formats, http, nights, quantities, rules, sources, stages
from tables.sources import link_references

__all__ = ["link_references", "write"]

WRITERS = (quantities, stages, sources, rules, formats, http, nights)


def write(folder: Path) -> None:
    """Write every page into a folder. What is there and the same stays untouched, what has no writer goes."""
    pages = {name: text for writer in WRITERS for name, text in writer.pages().items()}
    for name, text in pages.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        data = text.encode("utf-8")
        if not path.is_file() or path.read_bytes() != data:
            path.write_bytes(data)
    for path in folder.rglob("*"):
        if path.is_file() and path.relative_to(folder).as_posix() not in pages:
            path.unlink()

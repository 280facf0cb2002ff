"""Reads the published values that the physics is checked against."""

import tomllib
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).parents[1] / "published"


def tables(name: str) -> dict[str, Any]:
    """All tables of one file, by name; each carries its title and standing."""
    found = tomllib.loads((_FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    for key, table in found.items():
        assert table["title"] and table["standing"], key
    return found

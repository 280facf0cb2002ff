"""What docs/claims.md and docs/faults.md name is there: files, tests, commands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "docs" / "claims.md", ROOT / "docs" / "faults.md"]


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.stem)
def test_every_file_and_test_that_a_page_names_is_there(page: Path) -> None:
    named = re.findall(r"`([\w./]+/[\w./]+|\.ci/run)(?:::(\w+))?`", page.read_text(encoding="utf-8"))
    assert len(named) > 20
    for path, test in named:
        assert (ROOT / path).exists(), path
        if test:
            assert f"\ndef {test}(" in (ROOT / path).read_text(encoding="utf-8"), f"{path}::{test}"


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.stem)
def test_every_command_that_a_page_names_can_be_run(page: Path) -> None:
    for module in re.findall(r"`python -m ([\w.]+)", page.read_text(encoding="utf-8")):
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), module

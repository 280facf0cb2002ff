"""What lies in an operator's folder and is read by nobody is told, with what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.checklist.desk.unread import unread

HIDDEN = ("a hidden file that nobody reads", "take it away")
PLAIN = "take it away, or end its name in .toml"
PLACE = 'put profiles into "aircraft" and rules beside it'


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("night.toml", None),
        ("feeds.toml", None),
        ("Feeds.toml", ("read as rules, not as feeds", 'name it "feeds.toml"')),
        ("README.md", None),
        ("changelog.txt", None),
        (".gitignore", None),
        (".night.toml", None),
        (".night.swp", HIDDEN),
        ("night.txt", ("a file that nobody reads", PLAIN)),
        ("night.toml.bak", ("a file that nobody reads", 'end its name in ".toml"')),
        ("NIGHT.TOML", ("a file that nobody reads", 'end its name in ".toml"')),
        ("aircraft/", None),
        ("aircrafts/", ("a folder that nobody reads", "did you mean 'aircraft'?")),
        ("winter/", ("a folder that nobody reads", PLACE)),
        ("aircraft/jet.toml", None),
        ("aircraft/jet.txt", ("a file that nobody reads", PLAIN)),
        ("aircraft/old/", ("a folder that nobody reads", "put the files beside the others")),
        ("tower.key", ("a file that nobody reads", PLAIN)),
        ("password.key", None),
    ],
)
def test_what_nobody_reads_is_told_where_it_lies(tmp_path: Path, name: str, told: tuple[str, str] | None) -> None:
    path = tmp_path / name
    path.parent.mkdir(parents=True, exist_ok=True)
    if name.endswith("/"):
        path.mkdir()
    else:
        path.touch()
    found = unread(tmp_path, frozenset({"password.key"}))
    assert [(one.file, one.message, one.hint) for one in found] == ([(str(path), *told)] if told else [])

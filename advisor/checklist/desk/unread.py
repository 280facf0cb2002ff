"""Files and folders in a checklist folder that nobody reads."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from advisor.checklist.aircraft import OPERATOR_FOLDER
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.toml.files import MOST_ENTRIES, PlacedFault

# for people and for version control; nobody mistakes them for rules
_FOR_PEOPLE = ("readme", "license", "changelog", ".git", ".hg", ".svn")
_FEEDS = "feeds.toml"


def unread(folder: Path, also_read: frozenset[str] = frozenset()) -> tuple[PlacedFault, ...]:
    """A note for each file and folder that nobody reads. also_read: names that a feeds.toml refers to."""
    notes = list(_in(folder, (OPERATOR_FOLDER,), also_read))
    profiles = folder / OPERATOR_FOLDER
    if profiles.is_dir() and not profiles.is_symlink():
        notes += _in(profiles, (), frozenset())
    return tuple(notes)


def _in(folder: Path, folders: tuple[str, ...], also_read: frozenset[str]) -> Iterator[PlacedFault]:
    for path in sorted(islice(folder.iterdir(), MOST_ENTRIES)):
        name = path.name
        if name in also_read or name.lower().startswith(_FOR_PEOPLE):
            continue
        if path.is_dir():
            if name in folders or name.endswith(".toml"):
                continue
            hint = did_you_mean(name.lower(), folders)
            yield _told(path, "a folder that nobody reads", hint if hint.startswith("did") else _elsewhere(folders))
        elif name.startswith("."):
            if not name.endswith(".toml"):
                yield _told(path, "a hidden file that nobody reads", "take it away")
        elif not name.endswith(".toml"):
            hint = 'end its name in ".toml"' if ".toml" in name.lower() else "take it away, or end its name in .toml"
            yield _told(path, "a file that nobody reads", hint)
        elif name.lower() == _FEEDS and name != _FEEDS:
            yield _told(path, "read as rules, not as feeds", f'name it "{_FEEDS}"')


def _elsewhere(folders: tuple[str, ...]) -> str:
    return f'put profiles into "{folders[0]}" and rules beside it' if folders else "put the files beside the others"


def _told(path: Path, what: str, hint: str) -> PlacedFault:
    return PlacedFault(str(path), 1, 1, "file", "unread", what, hint)

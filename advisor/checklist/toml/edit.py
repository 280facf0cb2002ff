"""Changes a rule in an operator's file and keeps everything else in it: comments, order, spacing.

Saved whole or not at all, only where the folder as it would be is free of faults, and never over a file that has
changed since it was opened. Needs the extra `desk` (tomlkit).
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from advisor.errors import ChecklistError

# what the page may set in a rule; the rest of it is for an editor of text
FIELDS = (
    "when",
    "during",
    "weight",
    "text",
    "more",
    "must_when",
    "must_text",
    "must_more",
    "lead_min",
    "zone",
    "reason",
)
NEEDED = ("when", "during", "weight", "text")
Checked = TypeVar("Checked")
_TABLE = re.compile(r"\s*\[\[\s*advice\s*\]\]")


class ChangedError(ChecklistError):
    """The file is not as it was when it was opened."""


class Written(msgspec.Struct, frozen=True):
    """A rule as it stands in a file. line: where its table begins, from 1; fields: those of FIELDS that are there."""

    file: str
    id: str
    line: int
    fields: dict[str, Any]


class Opened(msgspec.Struct, frozen=True):
    """A file as it was opened. digest: of its bytes, to be shown when it is saved."""

    file: str
    text: str
    digest: str
    rules: tuple[Written, ...]


def files(folder: Path) -> tuple[str, ...]:
    """The names of a folder's files of rules, in order."""
    found = (path for path in folder.glob("*.toml") if path.is_file() and not path.name.startswith((".", "pages")))
    return tuple(sorted(path.name for path in found if path.name != "feeds.toml"))


def opened(folder: Path, file: str) -> Opened:
    """A file of a folder. Raises ChecklistError where it is none of the folder's, or no TOML."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    path = _path(folder, file)
    raw = _bytes(path)
    text = _text(raw, path)
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise ChecklistError(f"not TOML: {error}", where=file, hint="mend it in an editor of text") from None
    rules = []
    lines = _lines(text)
    for index, entry in enumerate(_entries(document)):
        if isinstance(entry.get("id"), str):
            fields = {name: _plain(entry[name]) for name in FIELDS if name in entry}
            rules.append(Written(file, str(entry["id"]), lines[index] if index < len(lines) else 1, fields))
    return Opened(file, text, hashlib.sha256(raw).hexdigest(), tuple(rules))


def rewritten(text: str, rule_id: str, fields: Mapping[str, Any]) -> str:
    """The text of a file with some fields of one rule set; None or "" takes a field away that may be left out.

    Only what differs is touched. Raises ChecklistError where there is no such rule.
    """
    import tomlkit

    document = tomlkit.parse(text)
    entry = next((one for one in _entries(document) if one.get("id") == rule_id), None)
    if entry is None:
        raise ChecklistError(f"no rule {rule_id!r} in this file", hint="open the folder again")
    for name, value in fields.items():
        if name not in FIELDS:
            raise ChecklistError(f"{name!r} cannot be set here", hint=f"one of {', '.join(FIELDS)}")
        if value in (None, "") and name not in NEEDED:
            if name in entry:
                del entry[name]
        elif name not in entry or _plain(entry[name]) != value:
            entry[name] = value
    return tomlkit.dumps(document)


def tried(folder: Path, file: str, text: str, check: Callable[[Path], Checked]) -> Checked:
    """What a check says of the folder as it would be with this text in that file; the folder itself stays as it is.

    Raises what the check raises, with the names of files as they are in the folder.
    """
    _path(folder, file)
    with tempfile.TemporaryDirectory(prefix="advisor-") as scratch:
        copy = Path(scratch) / "folder"
        shutil.copytree(folder, copy, symlinks=True, ignore=_hidden_folders)
        # a link is not written through
        target = copy / file
        target.unlink()
        target.write_bytes(text.encode("utf-8"))
        try:
            return check(copy)
        except ChecklistError as error:
            raise _named(error, str(copy), str(folder)) from None


def _hidden_folders(inside: str, names: list[str]) -> list[str]:
    """Such as a repository's own: no check reads them, and they may be large."""
    return [name for name in names if name.startswith(".") and (Path(inside) / name).is_dir()]


def save(folder: Path, file: str, digest: str, text: str, check: Callable[[Path], Checked]) -> Checked:
    """Put a text in the place of a file, whole or not at all, once the folder with it passes a check.

    digest: of the file as it was opened. Raises ChangedError where it is not like that any more, ChecklistError where
    the check does not pass or the file cannot be written.
    """
    path = _path(folder, file)
    with _alone(folder):
        _unchanged(path, digest)
        checked = tried(folder, file, text, check)
        half: str | None = None
        try:
            raw = _bytes(path)
            # a mark at the beginning of the file stays, and so do its ends of lines: the text came with them
            mark = b"\xef\xbb\xbf" if raw.startswith(b"\xef\xbb\xbf") else b""
            handle, half = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".part", dir=folder)
            with os.fdopen(handle, "wb") as stream:
                stream.write(mark + text.encode("utf-8"))
                stream.flush()
                os.fsync(stream.fileno())
            shutil.copymode(path, half)
            # once more, as late as can be: an editor that asks nobody may have written meanwhile
            _unchanged(path, digest)
            Path(half).replace(path)
            half = None
            _settle(folder)
        except OSError as error:
            raise ChecklistError(
                f"could not be written: {error.strerror}", where=file, hint="nothing was changed"
            ) from None
        finally:
            if half is not None:
                Path(half).unlink(missing_ok=True)
    return checked


def _unchanged(path: Path, digest: str) -> None:
    if hashlib.sha256(_bytes(path)).hexdigest() != digest:
        hint = "nothing was saved: open it again and make the change once more"
        raise ChangedError("changed since it was opened", where=path.name, hint=hint)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Only one of ours writes in a folder at a time."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _settle(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _path(folder: Path, file: str) -> Path:
    if file not in files(folder):
        raise ChecklistError(f"no file {file[:80]!r} of rules", where=str(folder), hint="open the folder again")
    return folder / file


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise ChecklistError(
            f"cannot be read: {error.strerror}", where=path.name, hint="open the folder again"
        ) from None


def _text(raw: bytes, path: Path) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ChecklistError("not UTF-8", where=path.name, hint="save the file as UTF-8") from None


def _entries(document: Any) -> list[Any]:
    found = document.get("advice", [])
    return [one for one in found if hasattr(one, "get")] if isinstance(found, list) else []


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value


def _lines(text: str) -> list[int]:
    """The lines on which tables of advice begin, from 1."""
    return [at for at, line in enumerate(text.splitlines(), 1) if _TABLE.match(line)]


def _named(error: ChecklistError, copy: str, folder: str) -> ChecklistError:
    """The same error with the folder's own name in the place of the copy's."""
    faults = tuple(one.replace(copy, folder) for one in error.faults)
    return ChecklistError(error.what, where=error.where.replace(copy, folder), hint=error.hint, faults=faults)

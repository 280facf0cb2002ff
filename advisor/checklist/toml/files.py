"""Reads a folder of TOML files: which files, how large, how many, and where each one fails."""

from __future__ import annotations

import stat
from collections.abc import Callable, Iterable
from itertools import islice
from pathlib import Path
from typing import Any

import msgspec
import tomli

from advisor.errors import ChecklistError

MOST_ENTRIES = 1000
MOST_BYTES = 1_000_000
MOST_BYTES_IN_ALL = 4_000_000
MOST_FAULTS = 1000
_NESTING = "no field needs more than four levels"
# begins the name that stands in for one that is missing or wrong, so that the rest of its table can be checked
UNREADABLE = "unreadable-"


class Fault(msgspec.Struct, frozen=True):
    """One fault in a file.

    path: keys and list positions down to the field; at_key: the key is at fault, not its value; offset: where in a
    text value, in characters from 0; place: line and column where they are known already. code: which kind of fault.
    """

    file: str
    path: tuple[str | int, ...]
    what: str
    hint: str = ""
    at_key: bool = False
    offset: int | None = None
    place: tuple[int, int] | None = None
    code: str = "value"


class PlacedFault(msgspec.Struct, frozen=True):
    """A fault or a note with its place: lines and columns count from 1."""

    file: str
    line: int
    column: int
    field: str
    code: str
    message: str
    hint: str = ""

    def __str__(self) -> str:
        text = f"{self.file}:{self.line}:{self.column}: {self.field}: {self.message}"
        return f"{text}; {self.hint}" if self.hint else text


class Document(msgspec.Struct, frozen=True):
    """One file: its name as shown, its text, what it says (None where it could not be read)."""

    file: str
    text: str = ""
    data: dict[str, Any] | None = None


def read_folder(folder: Path, wanted: Callable[[str], bool], faults: list[Fault]) -> list[Document]:
    """Read the *.toml files of a folder, in the order of their names.

    wanted: by file name. faults: grows by what is wrong with single files.
    Raises ChecklistError where the folder itself cannot be used.
    """
    shown = str(folder)
    try:
        entries = sorted(path.name for path in islice(folder.iterdir(), MOST_ENTRIES + 1))
    except FileNotFoundError:
        raise ChecklistError("no such folder", where=shown, hint="give a folder that holds *.toml files") from None
    except NotADirectoryError:
        raise ChecklistError("not a folder", where=shown, hint="give the folder, not a file in it") from None
    except (OSError, ValueError) as error:
        raise ChecklistError("cannot be read", where=shown, hint=_reason(error)) from None
    if len(entries) > MOST_ENTRIES:
        hint = f"a folder of rules or profiles holds at most {MOST_ENTRIES:,} files"
        raise ChecklistError(f"more than {MOST_ENTRIES:,} files", where=shown, hint=hint)
    root = folder.resolve()
    names = [name for name in entries if name.endswith(".toml") and wanted(name)]
    documents: list[Document] = []
    size = 0
    for name in names:
        document = _read(folder / name, root, faults)
        if document is None:
            continue
        documents.append(document)
        size += len(document.text)
        if size > MOST_BYTES_IN_ALL:
            hint = f"a folder of rules or profiles holds at most {MOST_BYTES_IN_ALL:,}"
            raise ChecklistError(f"more than {MOST_BYTES_IN_ALL:,} characters in all", where=shown, hint=hint)
    return documents


def read_file(path: Path, faults: list[Fault]) -> Document | None:
    """Read one TOML file that the user named. faults: grows by what is wrong with it."""
    return _read(path, path.resolve().parent, faults)


def _read(path: Path, root: Path, faults: list[Fault]) -> Document | None:
    shown = str(path)

    def fail(what: str, hint: str, place: tuple[int, int] = (1, 1), code: str = "unreadable") -> None:
        faults.append(Fault(shown, (), what, hint, place=place, code=code))

    if path.name.startswith("."):
        fail("a hidden file", "rename it without the dot, or take it away", code="hidden")
        return None
    try:
        if path.is_symlink() and not path.resolve().is_relative_to(root):
            fail("a link that leads out of the folder", "copy the file into the folder", code="link")
            return None
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            fail("not a file", "keep only files under names that end in .toml")
            return None
        if status.st_size > MOST_BYTES:
            fail(f"{status.st_size:,} bytes", f"a file holds at most {MOST_BYTES:,} bytes")
            return None
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except (OSError, RuntimeError) as error:
        fail("cannot be read", _reason(error))
        return None
    try:
        text = raw.decode("utf-8").removeprefix("\ufeff").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8").removeprefix("\ufeff")
        line = before.count("\n") + 1
        fail("not UTF-8", "save the file as UTF-8", (line, len(before) - before.rfind("\n")))
        return None
    try:
        return Document(shown, text, tomli.loads(text))
    except tomli.TOMLDecodeError as error:
        fail(
            f"not TOML: {error.msg[:1].lower()}{error.msg[1:]}",
            "mend this line first",
            (error.lineno, error.colno),
            "toml",
        )
    except RecursionError:
        fail("not TOML: nested too deeply", _NESTING, code="toml")
    except ValueError as error:
        fail(f"not TOML: {str(error)[:80]}", "write a shorter number", code="toml")
    return Document(shown, text)


def _reason(error: BaseException) -> str:
    return (error.strerror or "it cannot be opened") if isinstance(error, OSError) else "it cannot be opened"


def convert(document: Document, model: Any, faults: list[Fault], stand_ins: str) -> Any:
    """The document as its model; where that fails a fault for each field, and what can be read in spite of them.

    stand_ins: the name of the table in faults.py that fills the gaps. None where nothing can be read.
    """
    if document.data is None:
        return None
    try:
        return msgspec.convert(document.data, model)
    except msgspec.ValidationError:
        pass
    if _deep(document.data):
        faults.append(Fault(document.file, (), "nested too deeply", _NESTING, place=(1, 1), code="toml"))
        return None
    from advisor.checklist.toml import faults as slow

    found = list(islice(slow.field_faults(document.file, document.data, model), MOST_FAULTS + 1))
    faults.extend(found or [Fault(document.file, (), "cannot be read", "compare it with a shipped file")])
    return slow.readable(document.data, found, model, getattr(slow, stand_ins))


def _deep(data: Any, most: int = 12) -> bool:
    level = [data]
    for _ in range(most):
        level = [
            inner
            for part in level
            for inner in (part.values() if isinstance(part, dict) else part)
            if isinstance(inner, (dict, list))
        ]
    return bool(level)


Group = tuple[Iterable[Fault], Iterable[Document]]


def raise_faults(*groups: Group, most: int = 2 * MOST_FAULTS) -> None:
    """Raise one ChecklistError that names every fault with file, line and column; nothing where there is none.

    groups: faults with the documents that they are in; within a group they come in the order of their places; most:
    lines that are listed, behind which the rest is counted.
    """
    listed = [(list(faults), documents) for faults, documents in groups]
    first = next((faults[0] for faults, _ in listed if faults), None)
    if first is None:
        return
    from advisor.checklist.toml.faults import placed

    told = tuple(one for faults, documents in listed for one in placed(faults, {one.file: one for one in documents}))
    lines = tuple(dict.fromkeys(str(one) for one in told))
    count = f"{len(lines)} faults" if len(lines) > 1 else "1 fault"
    if len(lines) > most:
        lines = (*lines[:most], f"and {len(lines) - most} more faults; mend these first")
    raise ChecklistError(count, where=first.file, faults=lines, told=told)

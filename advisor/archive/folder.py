"""The folder in which a run keeps what is done, so that it can go on, and the files that come out of it at the end."""

from __future__ import annotations

import errno
import fcntl
import hashlib
import os
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec

from advisor.archive.extra import library
from advisor.errors import AdvisorError

# rows of one row group of the result, whatever the parts were
GROUP = 100_000


def fingerprint(parts: Sequence[Any]) -> str:
    """A short text that differs where anything that the result follows from does."""
    return hashlib.sha256(msgspec.json.encode(parts)).hexdigest()[:32]


def of_files(files: Iterable[Path]) -> list[tuple[str, int, int]]:
    """What tells whether files are still the same: name, size and time of change."""
    return [(str(file.resolve()), file.stat().st_size, file.stat().st_mtime_ns) for file in files]


@contextmanager
def prepared(folder: Path, run: str, *, resume: bool) -> Iterator[None]:
    """Make the folder of a run, or take it over from one that was stopped, and hold it. run: its fingerprint.

    Raises AdvisorError where a folder stands there that is of another run, or that another run is at work in.
    """
    label = folder / "run"
    with _held(folder):
        known = label.read_text(encoding="utf-8") if label.is_file() else None
        if resume and known is not None and known != run:
            raise AdvisorError(
                "what was begun there is another run: other files, checklist or options",
                where=str(folder),
                hint="run without --resume to begin anew",
            )
        if not (resume and known == run):
            if folder.exists() and known is None and any(folder.iterdir()):
                raise AdvisorError("stands there and is no folder of a run", where=str(folder), hint="move it away")
            shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, exist_ok=True)
    with _held(folder):
        whole(label, run.encode("utf-8"))
        yield


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """A folder held for one run, while it stands; nothing where there is none, or where it cannot be held."""
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except OSError:
        # what is wrong with it is said where it is written
        yield
        return
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise AdvisorError(
                "another run with this --output is at work", where=str(folder), hint="wait for it, or give another"
            ) from None
        except OSError:
            # a file system without locks
            pass
        yield
    finally:
        os.close(handle)


def whole(target: Path, data: bytes) -> None:
    """Write a file so that it is whole or not there. Raises AdvisorError where there is no room."""
    half = target.with_name(f"{target.name}.{os.getpid()}.half")
    with no_room(target, half):
        half.write_bytes(data)
        half.replace(target)


def seal(label: Path, data: bytes, files: Iterable[Path]) -> None:
    """Write a label that vouches for files beside or below it: SHA-256 of the label, those of the files, its data.

    Raises AdvisorError where there is no room.
    """
    sums = {file.relative_to(label.parent).as_posix(): _sum(file) for file in files}
    content = msgspec.json.encode(sums) + b"\n" + data
    whole(label, hashlib.sha256(content).hexdigest().encode("ascii") + b"\n" + content)


def sealed(label: Path) -> bytes | None:
    """The data of a label where it and the files that it vouches for are as they were written; else None."""
    try:
        own, _, content = label.read_bytes().partition(b"\n")
        if hashlib.sha256(content).hexdigest().encode("ascii") != own:
            return None
        sums, _, data = content.partition(b"\n")
        files = msgspec.json.decode(sums, type=dict[str, str])
        return data if all(_sum(label.parent / name) == known for name, known in files.items()) else None
    except OSError:
        # what is gone is done again, as what is spoilt
        return None


def _sum(file: Path) -> str:
    with file.open("rb") as data:
        return hashlib.file_digest(data, "sha256").hexdigest()


@contextmanager
def no_room(target: Path, half: Path) -> Iterator[None]:
    """Says in one line that a file cannot be written, and leaves nothing half-written."""
    try:
        yield
    except OSError as wrong:
        half.unlink(missing_ok=True)
        if wrong.errno in (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EROFS, errno.ENOENT, errno.EFBIG):
            raise AdvisorError(
                f"cannot be written: {wrong.strerror}", where=str(target), hint="make room, or give another --output"
            ) from None
        raise


def join(parts: Iterable[Path], target: Path) -> int:
    """Put the rows of parts into one Parquet file, in their order. Returns how many.

    The file is the same however the parts were cut: row groups have a fixed size.
    """
    arrow, parquet, ipc = library("pyarrow"), library("pyarrow.parquet"), library("pyarrow.ipc")
    half = target.with_name(f".{target.name}.{os.getpid()}.half")
    rows, held, writer = 0, None, None
    with no_room(target, half):
        try:
            for part in parts:
                table = ipc.open_file(arrow.memory_map(str(part))).read_all()
                held = table if held is None else arrow.concat_tables([held, table])
                writer = writer or parquet.ParquetWriter(half, table.schema, compression="zstd")
                while held.num_rows >= GROUP:
                    writer.write_table(held.slice(0, GROUP).combine_chunks(), row_group_size=GROUP)
                    held, rows = held.slice(GROUP), rows + GROUP
            if writer is not None and held is not None:
                if held.num_rows or not rows:
                    writer.write_table(held.combine_chunks(), row_group_size=GROUP)
                rows += held.num_rows
        finally:
            if writer is not None:
                writer.close()
        if writer is not None:
            half.replace(target)
    return rows

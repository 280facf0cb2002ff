"""Archive files: which there are, and their rows as partitions.

CSV, Parquet or plain text, one report a row; CSV and text also packed as .gz or .zst. A row has the text of a report in
a column "raw" or "metar", and optionally its time in "valid" and its station in "station". Times carry an offset or are
UTC throughout a file; the two may not be mixed. Reading goes partition by partition, so that a file may be larger than
the memory.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from advisor.archive.extra import library
from advisor.errors import ReportError

ROWS_A_PARTITION = 100_000
TEXT_COLUMNS = ("raw", "metar")
# a report has at most 4000 characters; a line far longer is none
LONGEST_LINE = 100_000
_Rows = Generator[Mapping[str, Any], None, None]
_PACKED = (".gz", ".zst")
_KINDS = {".csv": "csv", ".parquet": "parquet", ".txt": "text", ".text": "text", ".metar": "text"}
_HINT = "give .csv, .txt (both also .gz or .zst) or .parquet, one report a row"


@dataclass(frozen=True, slots=True)
class ArchiveRow:
    """A row of an archive: the report's text, its time (aware UTC, None where not given), its station ("" likewise)."""

    text: str
    valid: datetime | None = None
    station: str = ""


@dataclass(frozen=True, slots=True)
class Partition:
    """Rows that are worked on at once. file, first: where they stand, the first row counted from 1; bad: what is wrong.

    bad: (row number, what is wrong) of rows that hold no report or a time that cannot be read; they are not in rows.
    """

    file: Path
    first: int
    rows: tuple[ArchiveRow, ...]
    bad: tuple[tuple[int, str], ...] = ()


def find_files(names: Sequence[str]) -> list[Path]:
    """The archive files that files, folders and patterns stand for: each once, in the order given, folders sorted.

    names: a file, a folder (with its subfolders) or a pattern such as "2019*.csv.gz". Raises ReportError where one
    stands for no archive file.
    """
    files: dict[Path, None] = {}
    for name in names:
        path = Path(name)
        if path.is_dir():
            inside = [file for file in sorted(path.rglob("*")) if file.is_file() and kind_of(file) is not None]
        elif path.exists():
            inside = [path]
        else:
            inside = [file for file in _matching(path) if file.is_file() and kind_of(file) is not None]
        if not inside:
            raise ReportError("no archive file there", where=name, hint=_HINT)
        files.update(dict.fromkeys(inside))
    for file in files:
        if kind_of(file) is None:
            raise ReportError("not an archive file", where=str(file), hint=_HINT)
    return list(files)


def partitions(file: Path, *, rows: int = ROWS_A_PARTITION) -> Iterator[Partition]:
    """The rows of an archive file, so many at a time.

    rows: the most in one partition, 1 or more. Raises ReportError, naming the file, where it cannot be read, is no file
    of its kind, has no column of reports, or mixes times with and without an offset.
    """
    reader = {"csv": _csv_rows, "text": _text_rows, "parquet": _parquet_rows}[kind_of(file) or "text"]
    good: list[ArchiveRow] = []
    bad: list[tuple[int, str]] = []
    first = number = 1
    aware: bool | None = None
    try:
        with closing(reader(file)) as source:
            for number, cells in enumerate(source, 1):
                if number - first == rows:
                    yield Partition(file, first, tuple(good), tuple(bad))
                    good, bad, first = [], [], number
                try:
                    row, has_offset = row_of(cells)
                except ValueError as wrong:
                    bad.append((number, str(wrong)))
                    continue
                if has_offset is not None and aware not in (None, has_offset):
                    raise mixed_times(file, number)
                aware = has_offset if has_offset is not None else aware
                good.append(row)
    except (OSError, EOFError, UnicodeDecodeError, csv.Error) as wrong:
        raise unreadable(file, wrong) from None
    if good or bad:
        yield Partition(file, first, tuple(good), tuple(bad))


def _matching(pattern: Path) -> list[Path]:
    """The paths that a pattern stands for, sorted; none where it is not a pattern."""
    base = Path(pattern.anchor)
    try:
        return sorted(base.glob(str(pattern.relative_to(base))))
    except ValueError:
        return []


def kind_of(file: Path) -> str | None:
    """csv, text or parquet by the name of a file, None where it is no archive file."""
    packed = file.suffix.lower() in _PACKED
    kind = _KINDS.get(Path(file.stem).suffix.lower() if packed else file.suffix.lower())
    return None if packed and kind == "parquet" else kind


def mixed_times(file: Path, number: int) -> ReportError:
    """What is said of a file that has times with and without an offset; number: of the row that shows it."""
    return ReportError(
        f"row {number}: times with and without an offset are mixed",
        where=str(file),
        hint="give every time with its offset, as in 2023-03-05T16:26:00Z",
    )


def unreadable(file: Path, wrong: Exception) -> ReportError:
    """What is said of a file that cannot be read."""
    what = wrong.strerror if isinstance(wrong, OSError) and wrong.strerror else str(wrong) or "it ends too early"
    return ReportError(f"cannot be read: {what.splitlines()[0]}", where=str(file), hint=_HINT)


def open_text(file: Path) -> TextIO:
    """An archive file as text, packed or not."""
    if file.suffix.lower() == ".gz":
        return gzip.open(file, "rt", encoding="utf-8-sig", newline="")
    if file.suffix.lower() == ".zst":
        stream = library("pyarrow").CompressedInputStream(str(file), "zstd")
        return io.TextIOWrapper(io.BufferedReader(stream), encoding="utf-8-sig", newline="")
    return file.open(encoding="utf-8-sig", newline="")


def columns_of(names: Iterable[str], file: Path) -> dict[str, str]:
    """The names in a file of the columns text, valid and station."""
    known = {name.strip().lower(): name for name in names}
    text = next((known[name] for name in TEXT_COLUMNS if name in known), None)
    if text is None:
        raise ReportError("no column of reports", where=str(file), hint='name it "raw" or "metar"')
    return {"text": text} | {name: known[name] for name in ("valid", "station") if name in known}


def _csv_rows(file: Path) -> _Rows:
    with open_text(file) as lines:
        reader = csv.DictReader(lines, strict=True)
        columns = columns_of(reader.fieldnames or (), file)
        for record in reader:
            yield {name: record[column] for name, column in columns.items()}


def _text_rows(file: Path) -> _Rows:
    with open_text(file) as lines:
        while line := lines.readline(LONGEST_LINE):
            if line.strip():
                yield {"text": line}


def _parquet_rows(file: Path) -> _Rows:
    arrow, parquet = library("pyarrow"), library("pyarrow.parquet")
    try:
        table = parquet.ParquetFile(file)
        columns = columns_of(table.schema_arrow.names, file)
        for batch in table.iter_batches(batch_size=10_000, columns=list(columns.values())):
            lists = {name: batch.column(column).to_pylist() for name, column in columns.items()}
            for cells in zip(*lists.values(), strict=True):
                yield dict(zip(lists, cells, strict=True))
    except arrow.ArrowException as wrong:
        raise unreadable(file, wrong) from None
    finally:
        if "table" in locals():
            table.close()


def row_of(cells: Mapping[str, Any]) -> tuple[ArchiveRow, bool | None]:
    """A row, and whether its time has an offset (None without a time). Raises ValueError saying what is wrong."""
    text = str(cells["text"] or "").strip()
    if not text:
        raise ValueError("no report in this row")
    valid = cells.get("valid")
    station = str(cells.get("station") or "").strip().upper()
    if valid is None or valid == "":
        return ArchiveRow(text, None, station), None
    if not isinstance(valid, datetime):
        try:
            valid = datetime.fromisoformat(str(valid).strip())
        except ValueError:
            raise ValueError(f"{str(valid)[:40]!r} is no time; give one as 2023-03-05T16:26:00Z") from None
    has_offset = valid.utcoffset() is not None
    return ArchiveRow(text, valid.astimezone(UTC) if has_offset else valid.replace(tzinfo=UTC), station), has_offset

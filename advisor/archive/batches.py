"""Archive files as columns, some rows at a time, and dated at once where times and headers are plain.

Rows whose time beside them and whose heading have the usual form are dated together; every other row goes through
order.dated, which knows all forms and says what is wrong.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive import files, order
from advisor.archive.extra import library
from advisor.archive.heads import heads, uneven
from advisor.archive.table import Bools
from advisor.quantities.units import DAY_S

_PLAIN_TIME = r"^(?P<moment>\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d)?)(?P<offset>Z|\+00:00)?$"
# of a CSV file parsed at once: larger ones take memory anew each time, which costs more than the parsing
_BLOCK = 1 << 22


@dataclass
class Batch:
    """Rows as columns. first: number of the first row, from 1; text, valid and station: Arrow arrays of text or None.

    valid may hold times as well.
    """

    first: int
    text: Any
    valid: Any
    station: Any


@dataclass
class Dating:
    """The reports of rows: station, at_s, text and corrects, each (report,), and rows that cannot be used.

    refused: row number, the text's beginning, and why.
    """

    station: NDArray[np.str_]
    at_s: NDArray[np.int64]
    text: Any
    corrects: Bools
    refused: list[tuple[int, str, str]] = field(default_factory=list)


def batches(file: Path, *, rows: int) -> Iterator[Batch]:
    """The rows of an archive file as columns. rows: the most at once.

    Raises ReportError, naming the file, where it cannot be read or has no column of reports.
    """
    arrow = library("pyarrow")
    reader = {"csv": _csv, "parquet": _parquet, "text": _text}[files.kind_of(file) or "text"]
    first = 1
    try:
        for text, valid, station in reader(file):
            for start in range(0, len(text), rows):
                cut = text.slice(start, rows)
                beside = [None if one is None else one.slice(start, rows) for one in (valid, station)]
                yield Batch(first, cut, *beside)
                first += len(cut)
    except (OSError, EOFError, UnicodeDecodeError, csv.Error, arrow.ArrowException) as wrong:
        raise files.unreadable(file, wrong) from None


def _csv(file: Path) -> Iterator[tuple[Any, Any, Any]]:
    arrow, reading = library("pyarrow"), library("pyarrow.csv")
    with files.open_text(file) as lines:
        names = next(csv.reader(lines, strict=True), [])
    columns = files.columns_of(names, file)
    convert = reading.ConvertOptions(
        column_types=dict.fromkeys(columns.values(), arrow.string()),
        include_columns=list(columns.values()),
        strings_can_be_null=False,
    )
    short: list[int] = []

    def without(row: Any) -> str:
        """Of a row with too few or too many cells nobody can tell which is the report."""
        short.append(1)
        return "skip"

    parse = reading.ParseOptions(newlines_in_values=True, ignore_empty_lines=True, invalid_row_handler=without)
    options = reading.ReadOptions(block_size=_BLOCK, use_threads=False)
    packed = file.suffix.lower() in (".gz", ".zst")
    source = library("pyarrow").input_stream(str(file), compression="detect") if packed else str(file)
    held: list[tuple[Any, Any, Any]] = []
    with reading.open_csv(source, options, parse, convert) as stream:
        for batch in stream:
            own = {name: batch.column(column) for name, column in columns.items()}
            held.append(_taken(own, batch.num_rows, len(short)))
            short.clear()
            if sum(len(text) for text, _, _ in held) >= files.ROWS_A_PARTITION:
                yield _joined(held)
                held.clear()
    if held:
        yield _joined(held)


def _joined(held: list[tuple[Any, Any, Any]]) -> tuple[Any, Any, Any]:
    """The three columns of blocks that follow on each other."""
    arrow = library("pyarrow")
    columns = zip(*held, strict=True)
    text, valid, station = (None if blocks[0] is None else arrow.concat_arrays(blocks) for blocks in columns)
    return text, valid, station


def _taken(columns: dict[str, Any], size: int, lost: int) -> tuple[Any, Any, Any]:
    """The three columns, with as many empty rows behind them as were lost."""
    arrow = library("pyarrow")
    text = columns["text"]
    if lost:
        text = arrow.concat_arrays([text, arrow.array([""] * lost, arrow.string())])
        for name in ("valid", "station"):
            if name in columns:
                columns[name] = arrow.concat_arrays([columns[name], arrow.array([""] * lost, arrow.string())])
    return text, columns.get("valid"), columns.get("station")


def _parquet(file: Path) -> Iterator[tuple[Any, Any, Any]]:
    parquet = library("pyarrow.parquet")
    with parquet.ParquetFile(file) as table:
        columns = files.columns_of(table.schema_arrow.names, file)
        for batch in table.iter_batches(batch_size=files.ROWS_A_PARTITION, columns=list(columns.values())):
            found = {name: batch.column(column) for name, column in columns.items()}
            yield found["text"], found.get("valid"), found.get("station")


def _text(file: Path) -> Iterator[tuple[Any, Any, Any]]:
    arrow = library("pyarrow")
    for partition in files.partitions(file):
        yield arrow.array([row.text for row in partition.rows], arrow.string()), None, None


class Dater:
    """Dates the batches of one file, one after the other. month: in which rows without a time beside them begin."""

    def __init__(self, file: Path, month: datetime | None = None) -> None:
        self.file, self.before, self.aware = file, month, None
        self.begun = False

    aware: bool | None
    before: datetime | None

    def date(self, batch: Batch) -> Dating:
        """The reports of a batch. Raises ReportError where times with and without an offset are mixed."""
        fast, together = self._together(batch)
        rows, slow = np.flatnonzero(fast), np.flatnonzero(~fast)
        dating, last = self._singly(batch, slow, rows, together) if slow.size else (together, -1)
        if rows.size and rows[-1] > last:
            self._follows(int(together.at_s[-1]))
        return dating

    def _follows(self, at_s: int) -> None:
        """Rows without a time run on from here."""
        self.before, self.begun = datetime.fromtimestamp(at_s, UTC), True

    def _together(self, batch: Batch) -> tuple[Bools, Dating]:
        arrow, compute = library("pyarrow"), library("pyarrow.compute")
        size = len(batch.text)
        none = Dating(np.zeros(0, dtype="<U4"), np.zeros(0, dtype=np.int64), [], np.zeros(0, dtype=np.bool_))
        valid_s, timed = self._times(batch)
        if valid_s is None:
            return np.zeros(size, dtype=np.bool_), none
        text = compute.utf8_rtrim(compute.utf8_ltrim_whitespace(batch.text.cast(arrow.large_string())), "= \n\r\t")
        text = compute.fill_null(text, "")
        headings = heads(text)
        at_s, fits = _nearest(headings.clock, valid_s)
        there = headings.there & timed & fits & ~uneven(text)
        if batch.station is not None:
            there &= _same(batch.station, headings.station)
        rows = np.flatnonzero(there)
        chosen = text if rows.size == size else text.take(arrow.array(rows))
        return there, Dating(headings.station[rows], at_s[rows], chosen, headings.corrects[rows])

    def _times(self, batch: Batch) -> tuple[NDArray[np.int64] | None, Bools]:
        """Times beside the rows, seconds since 1970 UTC, and which could be read; None without a column of them."""
        arrow, compute = library("pyarrow"), library("pyarrow.compute")
        size, column = len(batch.text), batch.valid
        if column is None:
            return None, np.zeros(size, dtype=np.bool_)
        if arrow.types.is_timestamp(column.type):
            there = compute.is_valid(column).to_numpy(zero_copy_only=False)
            self._offsets(batch, np.full(size, column.type.tz is not None), there)
            plain = column.cast(arrow.timestamp("s", tz=column.type.tz), safe=False).cast(arrow.int64())
            return compute.fill_null(plain, 0).to_numpy(), there
        if not arrow.types.is_string(column.type):
            return None, np.zeros(size, dtype=np.bool_)
        plain = self._all_alike(batch)
        if plain is not None:
            return plain, np.ones(size, dtype=np.bool_)
        parts = compute.extract_regex(compute.utf8_trim_whitespace(column), _PLAIN_TIME)
        there = compute.is_valid(parts).to_numpy(zero_copy_only=False)
        moment = compute.fill_null(compute.struct_field(parts, "moment"), "1970-01-01 00:00")
        try:
            seconds = moment.cast(arrow.timestamp("s")).cast(arrow.int64()).to_numpy()
        except arrow.ArrowInvalid:
            return None, np.zeros(size, dtype=np.bool_)
        offset = compute.fill_null(compute.struct_field(parts, "offset"), "")
        self._offsets(batch, compute.not_equal(offset, "").to_numpy(zero_copy_only=False), there)
        return seconds, there

    def _all_alike(self, batch: Batch) -> NDArray[np.int64] | None:
        """Times of a column in which all have an offset, or none has, and all are in the usual form; else None."""
        arrow = library("pyarrow")
        for zone in ("UTC", None):
            try:
                times_s = batch.valid.cast(arrow.timestamp("s", tz=zone)).cast(arrow.int64()).to_numpy()
            except arrow.ArrowInvalid:
                continue
            size = len(batch.text)
            self._offsets(batch, np.full(size, zone is not None), np.ones(size, dtype=np.bool_))
            return np.asarray(times_s, dtype=np.int64)
        return None

    def _offsets(self, batch: Batch, has: Bools, there: Bools) -> None:
        rows = np.flatnonzero(there)
        if not rows.size:
            return
        aware = bool(has[rows[0]]) if self.aware is None else self.aware
        other = rows[has[rows] != aware]
        if other.size:
            raise files.mixed_times(self.file, batch.first + int(other[0]))
        self.aware = aware

    def _singly(
        self, batch: Batch, slow: NDArray[np.intp], together: NDArray[np.intp], dating: Dating
    ) -> tuple[Dating, int]:
        """Rows one by one, added to those that were dated together, and the last that could be dated, -1 for none.

        together: the rows of dating. In the file they stand among the others, which run on from them.
        """
        arrow = library("pyarrow")
        chosen = arrow.array(slow)
        columns = {
            name: column.take(chosen).to_pylist()
            for name, column in (("text", batch.text), ("valid", batch.valid), ("station", batch.station))
            if column is not None
        }
        reports: list[order.Dated] = []
        last = -1
        ahead = np.searchsorted(together, slow) - 1
        for position, row in enumerate(slow.tolist()):
            number = batch.first + row
            before = int(ahead[position])
            if before >= 0 and together[before] > last:
                last = int(together[before])
                self._follows(int(dating.at_s[before]))
            cells = {name: column[position] for name, column in columns.items()}
            try:
                archive_row, has_offset = files.row_of(cells)
            except ValueError as wrong:
                dating.refused.append((number, str(cells["text"] or "")[:60], str(wrong)))
                continue
            if has_offset is not None and self.aware not in (None, has_offset):
                raise files.mixed_times(self.file, number)
            self.aware = has_offset if has_offset is not None else self.aware
            # rows without a time run on from the one before; the first begins in the month that was given
            usable, refused = order.dated([archive_row], month=self.before, begun=self.begun)
            dating.refused += [(number, wrong.text[:60], wrong.why) for wrong in refused]
            reports += usable
            if usable:
                self.begun, self.before, last = True, usable[0].at, row
        if not reports:
            return dating, last
        text = arrow.array([one.text for one in reports], arrow.large_string())
        added = Dating(
            np.r_[dating.station, np.array([one.station for one in reports], dtype="<U4")],
            np.r_[dating.at_s, np.array([int(one.at.timestamp()) for one in reports], dtype=np.int64)],
            arrow.concat_arrays([dating.text, text]) if len(dating.at_s) else text,
            np.r_[dating.corrects, np.array([one.corrects for one in reports], dtype=np.bool_)],
            dating.refused,
        )
        return added, last


def _same(column: Any, station: NDArray[np.str_]) -> Bools:
    """Where the station beside a report is its own, or not given."""
    compute = library("pyarrow.compute")
    coded = compute.fill_null(column, "").dictionary_encode()
    names = np.array([str(name or "").strip().upper() for name in coded.dictionary.to_pylist()] or [""])
    beside = names[coded.indices.to_numpy()]
    same: Bools = (beside == station) | (beside == "")
    return same


def _nearest(clock: NDArray[np.int64], valid_s: NDArray[np.int64]) -> tuple[NDArray[np.int64], Bools]:
    """The time of each day, hour and minute nearest to a time beside it, and whether it is one, and near enough."""
    day, hour, minute = clock // 10_000, clock // 100 % 100, clock % 100
    of_day = hour * 3600 + minute * 60
    at_s = valid_s - valid_s % DAY_S + of_day
    # the same time of the day before or after may be nearer
    at_s = at_s + DAY_S * ((valid_s - at_s > 43_200).astype(np.int64) - (at_s - valid_s > 43_200))
    date = at_s.astype("datetime64[s]").astype("datetime64[D]")
    number = (date - date.astype("datetime64[M]")).astype(np.int64) + 1
    near = np.abs(at_s - valid_s) <= int(order.FARTHEST.total_seconds())
    fits: Bools = (number == day) & (hour < 24) & (minute < 60) & near
    return at_s, fits

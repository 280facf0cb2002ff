"""Archive files brought in order: each file as runs of reports by station and time, in a folder of its own.

A run is an Arrow file whose reports stand in order of station and time, so that a part of the work can take a station's
years out of all runs without reading the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from advisor.archive import files, order
from advisor.archive.extra import library

MOST_SHOWN = 5


class Station(msgspec.Struct, frozen=True):
    """Where a station's reports stand in a run, and between which times, seconds since 1970 UTC."""

    name: str
    start: int
    end: int
    first_s: int
    last_s: int


class Run(msgspec.Struct, frozen=True):
    """A file of reports in order of station and time."""

    file: str
    stations: tuple[Station, ...]


class Found(msgspec.Struct, frozen=True):
    """What was found in one archive file: its runs, rows in all, and rows that cannot be used, the first of them shown.

    bad: where and why.
    """

    runs: tuple[Run, ...]
    rows: int
    refused: int
    bad: tuple[tuple[str, str], ...]


def gather(file: Path, folder: Path, *, rows: int, month: datetime | None = None) -> Found:
    """Bring one archive file in order, as runs in a folder. rows: the most in one run. month: see order.dated.

    Raises ReportError where the file cannot be read.
    """
    runs: list[Run] = []
    bad: list[tuple[str, str]] = []
    found = refused = 0
    for number, (partition, usable, unusable) in enumerate(_dated(file, rows, month)):
        found += len(partition.rows) + len(partition.bad)
        refused += len(partition.bad) + len(unusable)
        bad += [(f"{file}: row {row}", why) for row, why in partition.bad]
        bad += [(f"{file}: {one.text[:60]!r}", one.why) for one in unusable]
        bad = bad[:MOST_SHOWN]
        if usable:
            runs.append(_write(usable, folder / f"run-{number:05d}.arrow"))
    return Found(tuple(runs), found, refused, tuple(bad))


def _dated(
    file: Path, rows: int, month: datetime | None
) -> Iterator[tuple[files.Partition, list[order.Dated], list[order.Refused]]]:
    """Partitions of a file with their reports dated; the month of rows without a time runs on from one to the next."""
    for partition in files.partitions(file, rows=rows):
        usable, unusable = order.dated(partition.rows, month=month)
        if usable and month is not None:
            month = usable[-1].at
        yield partition, usable, unusable


def _write(reports: list[order.Dated], file: Path) -> Run:
    """Write reports in order; the index of what was written."""
    station = np.array([report.station for report in reports])
    at_s = np.array([int(report.at.timestamp()) for report in reports], dtype=np.int64)
    text = np.array([report.text for report in reports], dtype=object)
    corrects = np.array([report.corrects for report in reports], dtype=np.bool_)
    return write_run(file, station, at_s, text, corrects)


def write_run(file: Path, station: Any, at_s: Any, text: Any, corrects: Any) -> Run:
    """Write columns of reports, in any order, as a run. Returns its index."""
    arrow, ipc = library("pyarrow"), library("pyarrow.ipc")
    by = np.lexsort((at_s, station))
    station, at_s, corrects = station[by], at_s[by], corrects[by]
    texts = arrow.array(text).take(arrow.array(by)) if not isinstance(text, np.ndarray) else arrow.array(text[by])
    table = arrow.table({"at_s": at_s, "text": texts.cast(arrow.large_string()), "corrects": corrects})
    with ipc.new_file(str(file), table.schema) as sink:
        sink.write_table(table.combine_chunks(), max_chunksize=max(1, table.num_rows))
    starts = np.flatnonzero(np.r_[True, station[1:] != station[:-1]])
    ends = np.r_[starts[1:], station.size]
    stations = [
        Station(str(station[start]), int(start), int(end), int(at_s[start]), int(at_s[end - 1]))
        for start, end in zip(starts, ends, strict=True)
    ]
    return Run(str(file), tuple(stations))


def read_run(run: Run) -> Any:
    """The table of a run, mapped into memory."""
    arrow, ipc = library("pyarrow"), library("pyarrow.ipc")
    return ipc.open_file(arrow.memory_map(run.file)).read_all()

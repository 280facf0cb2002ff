"""Archive files brought in order: each file as runs of reports by station and time, in a folder of its own.

A run is an Arrow file whose reports stand in order of station and time, so that a part of the work can take a station's
years out of all runs without reading the rest.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from advisor.archive.batches import Dater, batches
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
    rows_in_all = refused = 0
    dater = Dater(file, month)
    for number, batch in enumerate(batches(file, rows=rows)):
        dating = dater.date(batch)
        rows_in_all += len(batch.text)
        refused += len(dating.refused)
        for row, text, why in sorted(dating.refused)[: MOST_SHOWN - len(bad)]:
            bad.append((f"{file}: row {row}{f': {text}' if text else ''}", why))
        if dating.at_s.size:
            target = folder / f"run-{number:05d}.arrow"
            runs.append(write_run(target, dating.station, dating.at_s, dating.text, dating.corrects))
    return Found(tuple(runs), rows_in_all, refused, tuple(bad))


def write_run(file: Path, station: Any, at_s: Any, text: Any, corrects: Any) -> Run:
    """Write columns of reports, in any order, as a run; text: an Arrow array. Returns its index."""
    arrow, ipc = library("pyarrow"), library("pyarrow.ipc")
    # most archives have the reports of a station one behind the other, and in order
    begins = np.flatnonzero(np.r_[station.size > 0, station[1:] != station[:-1]])
    names, which = np.unique(station[begins], return_inverse=True)
    code = np.repeat(which, np.diff(np.r_[begins, station.size]))
    if not ((code[1:] > code[:-1]) | ((code[1:] == code[:-1]) & (at_s[1:] >= at_s[:-1]))).all():
        by = np.lexsort((at_s, code))
        code, at_s, corrects, text = code[by], at_s[by], corrects[by], text.take(arrow.array(by))
    table = arrow.table({"at_s": at_s, "text": text, "corrects": corrects})
    with ipc.new_file(str(file), table.schema) as sink:
        sink.write_table(table.combine_chunks(), max_chunksize=max(1, table.num_rows))
    starts = np.flatnonzero(np.r_[True, code[1:] != code[:-1]])
    ends = np.r_[starts[1:], code.size]
    stations = [
        Station(str(names[code[start]]), int(start), int(end), int(at_s[start]), int(at_s[end - 1]))
        for start, end in zip(starts, ends, strict=True)
    ]
    return Run(str(file), tuple(stations))


def read_run(run: Run) -> Any:
    """The table of a run, mapped into memory."""
    arrow, ipc = library("pyarrow"), library("pyarrow.ipc")
    return ipc.open_file(arrow.memory_map(run.file)).read_all()

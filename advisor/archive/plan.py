"""How the work is cut: a part is some stations over some months, and is worked out by itself, as often as need be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
import numpy as np

from advisor.archive.extra import library
from advisor.archive.gather import Run, read_run
from advisor.archive.texts import Texts
from advisor.quantities.units import DAY_S

MONTH, SECOND = "datetime64[M]", "datetime64[s]"


class Span(msgspec.Struct, frozen=True):
    """A station's reports from a time up to another, seconds since 1970 UTC, both at the beginning of a month."""

    station: str
    from_s: int
    until_s: int


class Part(msgspec.Struct, frozen=True):
    """A part of the work: spans in order of station and time. rows: how many reports it has."""

    number: int
    spans: tuple[Span, ...]
    rows: int


def parts(runs: Sequence[Run], stations: Iterable[str], *, rows: int) -> list[Part]:
    """The parts of an archive: months of stations together up to so many rows.

    stations: those that have a place. A month of a station is never cut, however many reports it has.
    """
    wanted = set(stations)
    counts: dict[tuple[str, int], int] = {}
    for run in runs:
        table = read_run(run)
        at_s = table.column("at_s").to_numpy()
        for station in run.stations:
            if station.name in wanted:
                month = at_s[station.start : station.end].astype(SECOND).astype(MONTH).astype(np.int64)
                for one, number in zip(*np.unique(month, return_counts=True), strict=True):
                    key = station.name, int(one)
                    counts[key] = counts.get(key, 0) + int(number)
    made: list[Part] = []
    spans: list[Span] = []
    filled = 0
    for (name, month), number in sorted(counts.items()):
        if spans and filled + number > rows:
            made.append(Part(len(made), tuple(spans), filled))
            spans, filled = [], 0
        start, end = (int(np.datetime64(one, "M").astype(SECOND).astype(np.int64)) for one in (month, month + 1))
        if spans and spans[-1].station == name and spans[-1].until_s == start:
            spans[-1] = Span(name, spans[-1].from_s, end)
        else:
            spans.append(Span(name, start, end))
        filled += number
    if spans:
        made.append(Part(len(made), tuple(spans), filled))
    return made


class Reports(msgspec.Struct, frozen=True):
    """Reports of a part, in order of station and time, each minute of a station once.

    station: position in names; text: their Texts; counts: which belong to the part, the others only came before;
    doubled: how many of the part another one of the same minute stands for.
    """

    names: tuple[str, ...]
    station: Any
    at_s: Any
    text: Any
    counts: Any
    doubled: int


def load(part: Part, runs: Sequence[Run]) -> Reports:
    """The reports of a part, with those of the day before each span.

    Of several reports of one minute the one that a brief goes by is kept: a correction before what it corrects, a
    special report before a routine one, else the last by alphabet.
    """
    arrow = library("pyarrow")
    names = tuple(dict.fromkeys(span.station for span in part.spans))
    position = {name: at for at, name in enumerate(names)}
    station: list[Any] = []
    at_s: list[Any] = []
    counts: list[Any] = []
    corrects: list[Any] = []
    text: list[Any] = []
    spans: dict[str, list[Span]] = {}
    for span in part.spans:
        spans.setdefault(span.station, []).append(span)
    for run in runs:
        table = None
        for one in run.stations:
            for span in spans.get(one.name, ()):
                begins = span.from_s - DAY_S
                if one.last_s < begins or one.first_s >= span.until_s:
                    continue
                table = read_run(run) if table is None else table
                times = table.column("at_s").to_numpy()[one.start : one.end]
                first, last = np.searchsorted(times, (begins, span.until_s))
                rows = slice(one.start + int(first), one.start + int(last))
                cut = table.slice(rows.start, rows.stop - rows.start)
                station.append(np.full(rows.stop - rows.start, position[span.station], dtype=np.int32))
                at_s.append(times[first:last])
                counts.append(times[first:last] >= span.from_s)
                corrects.append(cut.column("corrects").to_numpy())
                text += [chunk.cast(arrow.large_string()) for chunk in cut.column("text").chunks]
    column = arrow.concat_arrays(text) if text else arrow.array([], arrow.large_string())
    return _once(names, column, *(np.concatenate(one) for one in (station, at_s, counts, corrects)))


def _once(names: tuple[str, ...], text: Any, station: Any, at_s: Any, counts: Any, corrects: Any) -> Reports:
    if ((station[1:] > station[:-1]) | ((station[1:] == station[:-1]) & (at_s[1:] > at_s[:-1]))).all():
        # in order, and each minute once, as most archives have them
        return Reports(names, station, at_s, Texts(text), counts, 0)
    compute = library("pyarrow.compute")
    special = compute.starts_with(text, "SPECI").to_numpy(zero_copy_only=False)
    by = np.lexsort((special, corrects, at_s, station))
    same = np.r_[(station[by][1:] == station[by][:-1]) & (at_s[by][1:] == at_s[by][:-1]), False]
    starts = np.flatnonzero(np.r_[True, ~same[:-1]])
    ends = np.r_[starts[1:], by.size]
    # correction and special report stand last in their minute, and of several such the last by alphabet
    kept = by[ends - 1]
    alike = (corrects[by][:-1] == corrects[by][1:]) & (special[by][:-1] == special[by][1:])
    for at in np.flatnonzero(alike[ends - 2] & (ends - starts > 1)).tolist():
        group = by[starts[at] : ends[at]]
        kept[at] = max(group, key=lambda row: (bool(corrects[row]), bool(special[row]), text[int(row)].as_py()))
    doubled = int(counts.sum() - counts[kept].sum())
    return Reports(names, station[kept], at_s[kept], Texts(text, kept), counts[kept], doubled)

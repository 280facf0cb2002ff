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


class WorkPart(msgspec.Struct, frozen=True):
    """A part of the work: spans in order of station and time. rows: how many reports it has."""

    number: int
    spans: tuple[Span, ...]
    rows: int


def parts(runs: Sequence[Run], stations: Iterable[str], *, rows: int) -> list[WorkPart]:
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
                # in order of time: a month is what lies between two places
                ends = np.array([station.first_s, station.last_s]).astype(SECOND).astype(MONTH).astype(np.int64)
                months = np.arange(ends[0], ends[1] + 1)
                begins = np.searchsorted(at_s[station.start : station.end], _begins_s(months))
                sizes = np.diff(np.r_[begins, station.end - station.start])
                for month, number in zip(months.tolist(), sizes.tolist(), strict=True):
                    if number:
                        key = station.name, month
                        counts[key] = counts.get(key, 0) + number
    planned: list[WorkPart] = []
    spans: list[Span] = []
    filled = 0
    in_order = sorted(counts.items())
    edges = [_begins_s(np.array([month + after for (_, month), _ in in_order], dtype=np.int64)) for after in (0, 1)]
    for ((name, _), number), start, end in zip(in_order, *edges, strict=True):
        if spans and filled + number > rows:
            planned.append(WorkPart(len(planned), tuple(spans), filled))
            spans, filled = [], 0
        if spans and spans[-1].station == name and spans[-1].until_s == start:
            spans[-1] = Span(name, spans[-1].from_s, end)
        else:
            spans.append(Span(name, start, end))
        filled += number
    if spans:
        planned.append(WorkPart(len(planned), tuple(spans), filled))
    return planned


def _begins_s(month: Any) -> list[int]:
    """When months, counted from 1970, begin, seconds since 1970 UTC."""
    seconds: list[int] = month.astype(MONTH).astype(SECOND).astype(np.int64).tolist()
    return seconds


class Reports(msgspec.Struct, frozen=True):
    """Reports of a part, in order of station and time, each minute of a station once.

    station: position in names; text: their Texts; counts: which belong to the part, the others lie before or behind
    it; doubled: how many of the part another one of the same minute stands for.
    """

    names: tuple[str, ...]
    station: Any
    at_s: Any
    text: Any
    counts: Any
    doubled: int


def load(part: WorkPart, runs: Sequence[Run], *, after_s: int = 0) -> Reports:
    """The reports of a part, with those of the day before each span and of so many seconds behind it.

    Of several reports of one minute the one that a brief goes by is kept: a correction before what it corrects, a
    special report before a routine one, else the last by alphabet.
    """
    arrow = library("pyarrow")
    names = tuple(dict.fromkeys(span.station for span in part.spans))
    position = {name: at for at, name in enumerate(names)}
    spans: dict[str, list[Span]] = {}
    for span in part.spans:
        spans.setdefault(span.station, []).append(span)
    found = [_of_run(run, spans, position, after_s) for run in runs]
    column = arrow.concat_arrays([text for text, _ in found])
    return _once(names, column, *(np.concatenate(each) for each in zip(*(rows for _, rows in found), strict=True)))


def _of_run(
    run: Run, spans: dict[str, list[Span]], position: dict[str, int], after_s: int
) -> tuple[Any, tuple[Any, ...]]:
    """The texts of the spans in one run, and of each report its station, time, whether it counts and corrects."""
    arrow, table = library("pyarrow"), read_run(run)
    every_s, every_text = table.column("at_s").to_numpy(), table.column("text").combine_chunks()
    pieces: list[tuple[int, ...]] = []
    for stretch in run.stations:
        for span in spans.get(stretch.name, ()):
            begins, ends = span.from_s - DAY_S, span.until_s + after_s
            if stretch.last_s >= begins and stretch.first_s < ends:
                first, last = stretch.start + np.searchsorted(every_s[stretch.start : stretch.end], (begins, ends))
                pieces.append((int(first), int(last), position[stretch.name], span.from_s, span.until_s))
    first, last, station, from_s, until_s = np.array(pieces, dtype=np.int64).reshape(-1, 5).T
    sizes = last - first
    rows = np.repeat(first - (np.cumsum(sizes) - sizes), sizes) + np.arange(sizes.sum())
    texts = [every_text.slice(begin, end - begin) for begin, end, *_ in pieces]
    text = arrow.concat_arrays(texts) if texts else every_text.slice(0, 0)
    at_s = every_s[rows]
    corrects = table.column("corrects").to_numpy()[rows]
    which = np.repeat(station, sizes).astype(np.int32)
    counts = (at_s >= np.repeat(from_s, sizes)) & (at_s < np.repeat(until_s, sizes))
    return text.cast(arrow.large_string()), (which, at_s, counts, corrects)


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

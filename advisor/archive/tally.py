"""Counts of a replay, so that partitions can be counted by themselves and added up in any order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from advisor.archive.changes import Changes
from advisor.archive.lots import lots, seeds
from advisor.checklist.evaluate import STATUSES
from advisor.checklist.evaluate import TOLD as TOLD_WORDS
from advisor.conditions import Codes
from advisor.quantities.units import DAY_S, HOUR_S

Counts = NDArray[np.int64]
EXAMPLES = 3
# reports of the lowest lots in which examples are looked for first
LOOKED_AT = 512
SENSORS = ("wind", "visibility", "temperature", "dew point", "sky", "weather")
TOLD = tuple(STATUSES.index(word) for word in TOLD_WORDS)
# those that are told stand first, so that one comparison finds them
assert tuple(range(len(TOLD))) == TOLD


class Example(msgspec.Struct, frozen=True, order=True):
    """A report in which a rule is told. lot: which are shown: those of the lowest lots, so that every order agrees."""

    lot: int
    station: str
    at_s: int
    raw: str


@dataclass
class Tally:
    """What was counted of some reports.

    rules: ids, in order. by_month: month as "2019-11" to counts (rule, status). lines: month to how many reports had
    so many lines, (line,). by_hour: (rule, month of the year, hour of the walk UTC, status). by_station: station to
    counts (rule, status). wants: (rule, input that is missing) to counts. examples: by rule.
    changes: from another checklist. cells: by rule, to 24 times the month of the year (from 0) and the hour of the
    walk: reports in which it is told. silent: station to how many reports there were, and in how many each of SENSORS
    was missing.
    """

    rules: tuple[str, ...]
    by_month: dict[str, Counts] = field(default_factory=dict)
    lines: dict[str, Counts] = field(default_factory=dict)
    by_hour: Counts = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    by_station: dict[str, Counts] = field(default_factory=dict)
    wants: dict[tuple[str, str], int] = field(default_factory=dict)
    examples: dict[str, list[Example]] = field(default_factory=dict)
    reports: int = 0
    partly: int = 0
    first_s: int = 0
    last_s: int = 0
    changes: Changes = field(default_factory=Changes)
    cells: dict[str, dict[int, list[Example]]] = field(default_factory=dict)
    silent: dict[str, Counts] = field(default_factory=dict)
    with_cells: bool = False

    def __post_init__(self) -> None:
        if not self.by_hour.size:
            self.by_hour = np.zeros((len(self.rules), 12, 24, len(STATUSES)), dtype=np.int64)

    def count(
        self,
        status: Codes,
        at_s: NDArray[np.int64],
        station: NDArray[np.int32],
        names: Sequence[str],
        raw: Sequence[str],
        partly: NDArray[np.bool_],
        *,
        ahead_s: int,
    ) -> None:
        """Count statuses, (rule, report). at_s: of the reports; station: position in names; raw: their texts."""
        size = at_s.size
        if not size:
            return
        first, last = int(at_s.min()), int(at_s.max())
        self.first_s = min(self.first_s, first) if self.reports else first
        self.last_s = max(self.last_s, last) if self.reports else last
        self.reports += size
        self.partly += int(partly.sum())
        month = at_s.astype("datetime64[s]").astype("datetime64[M]").astype(np.int64)
        walk = (at_s + ahead_s) % DAY_S // HOUR_S
        told = (status < len(TOLD)).sum(axis=0, dtype=np.int16)
        lot = lots(at_s, seeds(names)[station])
        # rows of one month of one station stand together: each such span is counted once
        spans = np.flatnonzero(np.r_[True, (month[1:] != month[:-1]) | (station[1:] != station[:-1])])
        ends = np.r_[spans[1:], size]
        of_span, hour = np.repeat(np.arange(spans.size), ends - spans), month % 12 * 24 + walk
        if spans.size * 24 <= size:
            hours = _counted(status, of_span * 24 + walk, spans.size * 24)
            by_span = hours.reshape(len(status), spans.size, 24, len(STATUSES))
            counts = by_span.sum(axis=2)
            for number in range(12):
                self.by_hour[:, number] += by_span[:, month[spans] % 12 == number].sum(axis=1)
        else:
            counts = _counted(status, of_span, spans.size)
            self.by_hour += _counted(status, hour, 12 * 24).reshape(self.by_hour.shape)
        months, month_of = np.unique(month[spans], return_inverse=True)
        wide = len(self.rules) + 1
        lines = np.bincount(month_of[of_span] * wide + told, minlength=months.size * wide).reshape(-1, wide)
        for position, number in enumerate(months.tolist()):
            label = str(np.datetime64(number, "M"))
            _add(self.by_month, label, counts[:, month_of == position].sum(axis=1))
            _add(self.lines, label, lines[position].astype(np.int64))
        order = np.argsort(station[spans], kind="stable")
        which = station[spans][order]
        starts = np.flatnonzero(np.r_[True, which[1:] != which[:-1]])
        each = np.add.reduceat(counts[:, order], starts, axis=1)
        for position, start in enumerate(starts.tolist()):
            _add(self.by_station, names[which[start]], each[:, position])
        self._choose(status, at_s, station, names, raw, lot)
        if self.with_cells:
            self._open(status, at_s, station, names, raw, lot, hour)

    def _open(
        self,
        status: Codes,
        at_s: NDArray[np.int64],
        station: NDArray[np.int32],
        names: Sequence[str],
        raw: Sequence[str],
        lot: NDArray[np.int64],
        cell: NDArray[np.int64],
    ) -> None:
        """Reports to open for each month and hour of each rule that is not told in every report."""
        for at, rule in enumerate(self.rules):
            rows = np.flatnonzero(status[at] < len(TOLD))
            if rows.size == at_s.size:
                continue
            order = rows[np.lexsort((lot[rows], cell[rows]))]
            starts = np.flatnonzero(np.r_[True, cell[order][1:] != cell[order][:-1]]) if order.size else order
            into = self.cells.setdefault(rule, {})
            for start in starts.tolist():
                month_and_hour = int(cell[order[start]])
                best = [row for row in order[start : start + EXAMPLES].tolist() if cell[row] == month_and_hour]
                found = [Example(int(lot[row]), names[station[row]], int(at_s[row]), raw[row]) for row in best]
                into[month_and_hour] = sorted([*into.get(month_and_hour, ()), *found])[:EXAMPLES]

    def count_silent(
        self, names: Sequence[str], station: NDArray[np.int32], missing: Sequence[NDArray[np.bool_]]
    ) -> None:
        """Count in how many reports of each station each of SENSORS was missing."""
        size = len(names)
        each = [np.bincount(station, minlength=size)]
        each += [np.bincount(station[values], minlength=size) for values in missing]
        table = np.stack(each, axis=1).astype(np.int64)
        for one in np.flatnonzero(table[:, 0]).tolist():
            _add(self.silent, names[one], table[one])

    def _choose(
        self,
        status: Codes,
        at_s: NDArray[np.int64],
        station: NDArray[np.int32],
        names: Sequence[str],
        raw: Sequence[str],
        lot: NDArray[np.int64],
    ) -> None:
        # most rules are told often enough that the lowest lots of all reports have as many as are wanted
        few = np.argpartition(lot, LOOKED_AT)[:LOOKED_AT] if lot.size > LOOKED_AT else np.arange(lot.size)
        few = few[np.argsort(lot[few], kind="stable")]
        among = status[:, few] < len(TOLD)
        for number, rule in enumerate(self.rules):
            rows = few[among[number]]
            if rows.size < EXAMPLES and few.size < lot.size:
                rows = np.flatnonzero(status[number] < len(TOLD))
                rows = rows[np.argsort(lot[rows], kind="stable")]
            best = rows[:EXAMPLES].tolist()
            found = [Example(int(lot[row]), names[station[row]], int(at_s[row]), raw[row]) for row in best]
            self.examples[rule] = sorted([*self.examples.get(rule, ()), *found])[:EXAMPLES]

    def add(self, other: Tally) -> None:
        """Add what was counted of other reports by the same rules."""
        if other.rules != self.rules:
            raise ValueError("counts of different rules cannot be added")
        if other.reports:
            self.first_s = min(self.first_s, other.first_s) if self.reports else other.first_s
            self.last_s = max(self.last_s, other.last_s) if self.reports else other.last_s
        self.reports += other.reports
        self.partly += other.partly
        self.by_hour += other.by_hour
        for mine, theirs in (
            (self.by_month, other.by_month),
            (self.lines, other.lines),
            (self.by_station, other.by_station),
            (self.silent, other.silent),
        ):
            for name, table in theirs.items():
                _add(mine, name, table)
        for pair, number in other.wants.items():
            self.wants[pair] = self.wants.get(pair, 0) + number
        self.changes.add(other.changes)
        for rule, cells in other.cells.items():
            into = self.cells.setdefault(rule, {})
            for cell, examples in cells.items():
                into[cell] = sorted([*into.get(cell, ()), *examples])[:EXAMPLES]
        for rule, examples in other.examples.items():
            self.examples[rule] = sorted([*self.examples.get(rule, ()), *examples])[:EXAMPLES]

    def total(self) -> Counts:
        """Counts of all months, (rule, status)."""
        counts = np.zeros((len(self.rules), len(STATUSES)), dtype=np.int64)
        for table in self.by_month.values():
            counts += table
        return counts

    def packed(self) -> bytes:
        """The counts as bytes, to be read again by `unpacked`."""
        data = {
            "rules": self.rules,
            "by_month": _bytes(self.by_month),
            "lines": _bytes(self.lines),
            "by_hour": self.by_hour.tobytes(),
            "by_station": _bytes(self.by_station),
            "wants": [[*pair, number] for pair, number in sorted(self.wants.items())],
            "examples": self.examples,
            "changes": self.changes,
            "cells": self.cells,
            "silent": _bytes(self.silent),
            "numbers": (self.reports, self.partly, self.first_s, self.last_s),
        }
        return msgspec.msgpack.encode(data)


def _bytes(tables: dict[str, Counts]) -> dict[str, bytes]:
    return {name: table.tobytes() for name, table in tables.items()}


def _counts(data: bytes, *shape: int) -> Counts:
    return np.frombuffer(data, dtype=np.int64).reshape(shape).copy()


def unpacked(data: bytes) -> Tally:
    """Counts from their bytes."""
    read = msgspec.msgpack.decode(data, strict=False)
    rules = tuple(read["rules"])
    reports, partly, first_s, last_s = read["numbers"]

    def tables(name: str, *shape: int) -> dict[str, Counts]:
        return {key: _counts(data, *shape) for key, data in read[name].items()}

    each_rule = len(rules), len(STATUSES)

    return Tally(
        rules,
        tables("by_month", *each_rule),
        tables("lines", len(rules) + 1),
        _counts(read["by_hour"], len(rules), 12, 24, len(STATUSES)),
        tables("by_station", *each_rule),
        {(rule, name): number for rule, name, number in read["wants"]},
        {rule: msgspec.convert(found, list[Example]) for rule, found in read["examples"].items()},
        reports,
        partly,
        first_s,
        last_s,
        msgspec.convert(read["changes"], Changes),
        msgspec.convert(read["cells"], dict[str, dict[int, list[Example]]]),
        tables("silent", len(SENSORS) + 1),
    )


def _counted(status: Codes, cell: NDArray[np.int64], cells: int) -> Counts:
    """How often each status comes up in each cell, (rule, cell, status). cell: of each report."""
    size, first = cells * len(STATUSES), cell * len(STATUSES)
    made = np.stack([np.bincount(first + row, minlength=size) for row in status])
    return made.reshape(len(status), cells, len(STATUSES)).astype(np.int64, copy=False)


def percentile(histogram: Counts, share: float) -> int:
    """The value at or below which so great a share of a histogram lies, by its nearest rank; 0 of nothing."""
    total = int(histogram.sum())
    return int(np.searchsorted(np.cumsum(histogram), max(1, int(np.ceil(share * total))))) if total else 0


def _add(into: dict[str, Any], name: str, table: Counts) -> None:
    if name in into:
        into[name] += table
    else:
        into[name] = table.copy()

"""Departures of a real bank: the report that each one's brief goes by, and those for which there is none."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from advisor.archive.places import opened
from advisor.archive.plan import Span
from advisor.departure import read_moment, to_unix
from advisor.errors import DepartureError, ReportError

_HINT = "give columns off_block (RFC 3339) and station, as in 2027-01-10T06:40:00Z,ZZZA"
# a departure whose brief would go by an older report than this has none
OLDEST_S = 2 * 3600


def read(file: Path) -> dict[str, list[int]]:
    """Off-block times of a file by station, seconds since 1970 UTC, in order. Raises ReportError naming the row."""
    off_blocks_s: dict[str, list[int]] = {}
    try:
        with opened(file) as lines:
            for number, row in enumerate(csv.DictReader(lines), 2):
                station, text = (row.get("station") or "").strip().upper(), row.get("off_block") or ""
                try:
                    moment = to_unix(read_moment(text, what="off_block"), what="off_block")
                except DepartureError as wrong:
                    raise ReportError(wrong.what, where=f"{file}: row {number}", hint=_HINT) from None
                if not station:
                    raise ReportError("no station", where=f"{file}: row {number}", hint=_HINT)
                off_blocks_s.setdefault(station, []).append(moment)
    except (OSError, UnicodeDecodeError, csv.Error) as wrong:
        what = wrong.strerror if isinstance(wrong, OSError) and wrong.strerror else str(wrong)
        raise ReportError(f"cannot be read: {what}", where=str(file), hint=_HINT) from None
    if not off_blocks_s:
        raise ReportError("no departure in it", where=str(file), hint=_HINT)
    return {station: sorted(times) for station, times in off_blocks_s.items()}


class GoneBy(NamedTuple):
    """Departures with the report that the brief of each goes by, (departure,).

    report: its position; station: position of its name; off_block_s: seconds since 1970 UTC.
    """

    report: NDArray[np.int64]
    station: NDArray[np.int64]
    off_block_s: NDArray[np.int64]

    def among(self, counts: NDArray[np.bool_]) -> GoneBy:
        """Those whose report counts, in the order of the reports. counts: of every report."""
        kept = np.flatnonzero(counts[self.report])
        kept = kept[np.argsort(self.report[kept], kind="stable")]
        return GoneBy(*(column[kept] for column in self))

    def by_station(self, names: tuple[str, ...]) -> dict[str, list[int]]:
        """Off-block times by station, as `read` gives them."""
        times = {names[which]: self.off_block_s[self.station == which] for which in np.unique(self.station).tolist()}
        return {name: sorted(each.tolist()) for name, each in times.items()}


def gone_by(
    departures: Mapping[str, list[int]],
    names: tuple[str, ...],
    station: NDArray[np.int32],
    at_s: NDArray[np.int64],
    *,
    off_block_in_min: float,
) -> GoneBy:
    """The departures that have a report: the last one when the brief is made, if it is not older than OLDEST_S.

    station, at_s: of the reports, in order. The brief is made off_block_in_min before off-block.
    """
    each = [GoneBy(*(np.zeros(0, dtype=np.int64) for _ in GoneBy._fields))]
    for which, name in enumerate(names):
        rows = np.flatnonzero(station == which)
        if not rows.size or name not in departures:
            continue
        off_block = np.array(departures[name], dtype=np.int64)
        now = off_block - round(off_block_in_min * 60)
        last = np.searchsorted(at_s[rows], now, side="right") - 1
        fits = np.flatnonzero((last >= 0) & (now - at_s[rows][np.maximum(last, 0)] <= OLDEST_S))
        each.append(GoneBy(rows[last[fits]], np.full(fits.size, which), off_block[fits]))
    return GoneBy(*(np.concatenate(columns) for columns in zip(*each, strict=True)))


def may_lie_in(span: Span, off_block_s: int, station: str, *, ahead_s: int) -> bool:
    """Whether a departure may go by a report of a span. ahead_s: from its brief to off-block."""
    return station == span.station and span.from_s <= off_block_s - ahead_s <= span.until_s + OLDEST_S


def without(departures: Mapping[str, list[int]], used: Iterable[Mapping[str, list[int]]]) -> list[tuple[int, str]]:
    """Departures, as off-block time and station in order, that are in none of those used."""
    left = Counter((moment, name) for name, times in departures.items() for moment in times)
    for one in used:
        left.subtract((moment, name) for name, times in one.items() for moment in times)
    return sorted(left.elements())

"""Departures of a real bank: how often each report is the one that a departure's brief goes by."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.archive.places import opened
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


def weights(
    departures: Mapping[str, list[int]],
    names: tuple[str, ...],
    station: NDArray[np.int32],
    at_s: NDArray[np.int64],
    *,
    off_block_in_min: float,
) -> NDArray[np.int64]:
    """How many departures go by each report: those for which it is the last one when the brief is made.

    station, at_s: in order. The brief is made so long before off-block that the walk's middle lies an hour ahead.
    """
    counts = np.zeros(at_s.size, dtype=np.int64)
    for which, name in enumerate(names):
        rows = np.flatnonzero(station == which)
        if not rows.size or name not in departures:
            continue
        now = np.array(departures[name], dtype=np.int64) - round(off_block_in_min * 60)
        last = np.searchsorted(at_s[rows], now, side="right") - 1
        fits = (last >= 0) & (now - at_s[rows][np.maximum(last, 0)] <= OLDEST_S)
        counts[rows] = np.bincount(last[fits], minlength=rows.size)
    return counts

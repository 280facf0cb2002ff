"""Windows of a station's series laid out as lanes, so that what gathered is stepped through only where anything may.

A lane is one case of one window for one of four stores: the aircraft (0) and the apron (1) with what is sure, then both
with the most that may be (2, 3). It begins with the first report of the window after which anything falls or grows. A
store whose flows are those of another one is the same and has no lane of its own, and neither has an aircraft that
stands there since now only: nothing has gathered on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.archive.table import Bools
from advisor.archive.windows import ReportWindows
from advisor.conditions import Floats

Rows = NDArray[np.intp]
AIRCRAFT, APRON, MOST_ON_AIRCRAFT, MOST_ON_APRON = range(4)


@dataclass(frozen=True)
class Lanes:
    """Lanes, the longest first, and their steps, a report each, in turns: first the first ones of all lanes.

    window, case, store: of each lane, (lane,). of: lane of each (window asked for, case, store), -1 for none.
    lane, row, turn: of each step, (step,). starts, counts: where the steps of each turn begin, and of how many lanes.
    """

    window: Rows
    case: Rows
    store: Rows
    of: NDArray[np.intp]
    lane: Rows
    row: Rows
    turn: Rows
    starts: Rows
    counts: Rows

    def same_step(self, steps: Rows, lanes: Rows) -> Rows:
        """The steps of other lanes, of the same window and case, that stand at the same reports."""
        found: Rows = self.starts[self.turn[steps]] + lanes
        return found


def ends_of(windows: ReportWindows) -> Rows:
    """Behind the last report of each window."""
    made: Rows = np.append(windows.begins[1:], windows.at_s.size).astype(np.intp)
    return made


def any_in(there: Bools, first: Rows, end: Rows) -> Bools:
    """Whether anything is so in spans of reports, (..., span); there: (..., report)."""
    total = np.zeros((*there.shape[:-1], there.shape[-1] + 1), dtype=np.int32)
    np.cumsum(there, axis=-1, out=total[..., 1:])
    found: Bools = total[..., end] - total[..., first] > 0
    return found


def laid_out(
    windows: ReportWindows, asked: Rows, begins: Bools, most_differs: Bools, apron_differs: Bools, lasts: Bools
) -> Lanes:
    """The lanes of some windows.

    asked: windows by position. begins: where a lane may begin; most_differs: where what may be is more than what is
    sure; apron_differs: where the apron gets more than the aircraft, each (case, report). lasts: the cases in which the
    aircraft may have stood there before, (case,); in the others it has no lanes.
    """
    first, end = windows.first[windows.begins[asked]], ends_of(windows)[asked]
    size = windows.at_s.size
    every = np.where(begins, np.arange(size), size)
    following = np.minimum.accumulate(every[:, ::-1], axis=1)[:, ::-1]
    start = following[:, first]
    there = start < end
    more, apart = any_in(most_differs, first, end), any_in(apron_differs, first, end) & lasts[:, None]
    # the apron always has a lane
    has = np.stack([there & apart, there, there & more & apart, there & more])
    store, case, window = np.nonzero(has)
    length = (end - start)[case, window]
    order = np.argsort(-length, kind="stable")
    store, case, window, length = store[order], case[order], window[order], length[order]
    own = np.full((asked.size, lasts.size, 4), -1, dtype=np.intp)
    own[window, case, store] = np.arange(store.size)
    apron, most_on_apron = own[..., APRON], np.where(more.T, own[..., MOST_ON_APRON], own[..., APRON])
    aircraft = np.where(apart.T, own[..., AIRCRAFT], apron)
    most = np.where(apart.T, np.where(more.T, own[..., MOST_ON_AIRCRAFT], aircraft), most_on_apron)
    of = np.stack([aircraft, apron, most, most_on_apron], axis=-1)
    of[:, ~lasts, AIRCRAFT] = of[:, ~lasts, MOST_ON_AIRCRAFT] = -1
    turns = int(length[0]) if length.size else 0
    counts = length.size - np.searchsorted(length[::-1], np.arange(turns), side="right")
    starts = np.cumsum(counts) - counts
    turn = np.repeat(np.arange(turns), counts)
    lane = np.arange(turn.size) - starts[turn]
    row = start[case, window][lane] + turn
    return Lanes(window, case, store, of, lane, row, turn, starts, counts)


def coldest_since(cold: Bools, moment: Floats, first: Rows) -> Floats:
    """The last time in each window at which it was so, -inf for none; moment: rising within a station."""
    last = np.maximum.accumulate(np.where(cold, np.arange(cold.size), -1))
    made: Floats = np.where(last >= first, moment[np.maximum(last, 0)], -np.inf)
    return made

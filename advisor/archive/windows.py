"""What a station said before: over the reports of the day of each report and of the day before it, UTC.

ReportWindows begin with a day, so that they do not depend on how an archive is cut into parts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.archive.table import Bools
from advisor.conditions import Floats
from advisor.quantities.units import DAY_S


class ReportWindows:
    """The windows of reports in order of station and time.

    station: position of the station of each report, (report,); at_s: seconds since 1970 UTC, rising within a station.
    first: the first report of each window; the last one is the report itself.
    """

    def __init__(self, station: NDArray[np.int32], at_s: NDArray[np.int64]) -> None:
        self.station, self.at_s = station, at_s
        day = at_s // DAY_S
        key = station.astype(np.int64) * 1_000_000 + day
        self.begins = np.flatnonzero(np.r_[True, key[1:] != key[:-1]]) if key.size else np.zeros(0, dtype=np.intp)
        self.segment = np.zeros(key.size, dtype=np.intp)
        if key.size:
            self.segment[self.begins[1:]] = 1
            self.segment = np.cumsum(self.segment)
        days = key[self.begins]
        joined = np.r_[False, days[1:] == days[:-1] + 1] if days.size else np.zeros(0, dtype=np.bool_)
        self.before = np.where(joined, np.arange(days.size) - 1, -1)
        first = np.where(joined, self.begins[self.before], self.begins)
        self.first = first[self.segment] if key.size else first

    def ever(self, there: Bools) -> Bools:
        """Whether something was so in any report of the window, the report itself included."""
        total = np.concatenate([[0], np.cumsum(there)])
        found: Bools = total[1:] - total[self.first] > 0
        return found

    def since_first(self, there: Bools) -> Bools:
        """The same without the first report of the window: of what lies between a report and the one before it."""
        total = np.concatenate([[0], np.cumsum(there)])
        found: Bools = total[1:] - total[self.first + 1] > 0
        return found

    def most(self, values: Floats) -> Floats:
        """The highest value in the window, the report's own included; -inf where all are NaN."""
        known = np.where(np.isnan(values), -np.inf, values)
        if not known.size:
            return known
        whole = np.maximum.reduceat(known, self.begins)
        before = np.where(self.before >= 0, whole[self.before], -np.inf)[self.segment]
        return np.maximum(self._running(known), before)

    def _running(self, values: Floats) -> Floats:
        """The highest value so far on each day."""
        order = np.argsort(values, kind="stable")
        rank = np.empty(values.size, dtype=np.int64)
        rank[order] = np.arange(values.size)
        # ranks of later days stand above all ranks of earlier ones, so that one run over all of them does
        highest = np.maximum.accumulate(rank + self.segment * values.size) - self.segment * values.size
        running: Floats = values[order[highest]]
        return running

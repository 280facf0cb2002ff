"""What falls, grows, melts and dries between the reports of a series: the flows of the stores of deposits.py.

A step goes from a report to the next one, or from a report to its own instant. What a report says falls holds for at
most two hours; the skin is that of the last instant that has passed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive.lanes import APRON, MOST_ON_AIRCRAFT, MOST_ON_APRON
from advisor.archive.table import Bools
from advisor.archive.windows import ReportWindows
from advisor.conditions import NO, YES, Conditions, Floats
from advisor.outlook.gaps import WEATHER_HOLDS_S
from advisor.physics import deposits, lying, moisture, precipitation
from advisor.physics.stages.ground import LYING

Rows = NDArray[np.intp]
# the flows of a step in the order of deposits.step, and whether the skin freezes water
Flow = tuple[tuple[Floats, ...], Floats]
AHEAD_S = 3600
_NAMES = ("frost", "frozen", "freezing", "liquid")


class Flows:
    """The flows of steps, by case, store and report.

    lasts: cases in which the aircraft may have stood there before, (case,). falls: where anything may fall or grow
    after a report; differs: where that is more than what is sure; skin_differs: where the coldest skin is another than
    the one worked out, each (case, report). silent_h: hours before each report of which nobody knows, (report,).
    """

    def __init__(self, conditions: Conditions, windows: ReportWindows, bears: Bools) -> None:
        """bears: the reports after which anything falls or grows."""
        rows = np.flatnonzero(bears)
        self.lasts = conditions.lasts[:, 0]
        self._cases, self._size = self.lasts.size, bears.size
        # by store, name, case and report that bears, with one more of which nothing falls
        self._rates = _rates(_of(conditions, rows))
        self._most = [lying.most_mm_h(name, conditions)[:, 0] for name in _NAMES[1:]]
        self._bearing = np.full(bears.size, rows.size, dtype=np.intp)
        self._bearing[rows] = np.arange(rows.size)
        sure, most = (self._rates[store, ..., :-1] for store in (APRON, MOST_ON_APRON))
        self.differs, self.falls = (np.zeros((self._cases, self._size), dtype=np.bool_) for _ in range(2))
        # one case after the other: numpy picks and puts along one axis many times as fast as along one of two
        for case in range(self._cases):
            self.differs[case][rows] = (sure[:, case] != most[:, case]).any(axis=0)
            self.falls[case][rows] = (most[:, case] != 0.0).any(axis=0)
        passed_h = np.diff(windows.at_s, prepend=windows.at_s[:1]) / 3600
        self._held_h = np.minimum(passed_h, WEATHER_HOLDS_S / 3600)
        self.silent_h = passed_h - self._held_h
        self._skins(conditions, windows)

    def _skins(self, conditions: Conditions, windows: ReportWindows) -> None:
        """What the skin melts, dries and whether it freezes, by skin, case and report: to the report, to its instant.

        The skin as it was worked out, and where that differs in any case the coldest that it may be.
        """
        skin, coldest = conditions.number("wing_skin_temperature_c"), lying.coldest_c(conditions)
        self.skin_differs = skin != coldest
        self._warm = conditions.number("air_temperature_c") > precipitation.FROZEN_BELOW_C
        # unequal where it is not known as well
        skins = [skin, coldest] if self.skin_differs.any() else [skin]
        self._several = len(skins) > 1
        vapour = moisture.saturation_pressure_pa(conditions.number("dew_point_c"))
        by_now = _by_now(windows)
        damp = vapour.take(by_now, axis=1)
        shape = (3, len(skins), self._cases, self._size)
        self._to_report, self._to_instant = np.empty(shape), np.empty(shape)
        for which, skin_c in enumerate(skins):
            now = skin_c.take(by_now, axis=1)
            # the colder skin of a step's two ends, and the damper air
            colder, damper = np.minimum(_before(now), now), np.maximum(_before(damp), damp)
            self._to_report[:, which] = _of_skin(colder, damper)
            self._to_instant[:, which] = _of_skin(np.minimum(now, skin_c), np.maximum(damp, vapour))

    def to_report(self, case: Rows, store: Rows, row: Rows, *, silent: bool = False) -> Flow:
        """The flows of steps up to reports, mm, by what the reports before them say.

        silent: two hours and more after the report before: in the adverse cases what may have come is not known, in the
        central one nothing has.
        """
        before = np.maximum(row - 1, 0)
        rates = self._falling(case, store, before)
        if silent:
            for position, name in enumerate(_NAMES[1:], 1):
                unknown = (store >= MOST_ON_AIRCRAFT) & (rates[position] == 0.0)
                if name != "liquid":
                    unknown &= ~self._warm[case, before]
                rates[position] = np.where(unknown, self._most[position - 1][case], rates[position]) * self.lasts[case]
        hours = (self.silent_h if silent else self._held_h)[row]
        return self._together(rates, self._to_report, case, store, row, hours)

    def to_instant(self, case: Rows, store: Rows, row: Rows) -> Flow:
        """The same from reports to their own instants."""
        hours = np.full(row.size, AHEAD_S / 3600)
        return self._together(self._falling(case, store, row), self._to_instant, case, store, row, hours)

    def _falling(self, case: Rows, store: Rows, row: Rows) -> list[Floats]:
        names, size = len(_NAMES), self._rates.shape[-1]
        at = (store * (names * self._cases) + case) * size + self._bearing[row]
        flat = self._rates.reshape(-1)
        return [flat.take(at + name * self._cases * size) for name in range(names)]

    def _together(
        self, rates: list[Floats], by_skin: Floats, case: Rows, store: Rows, row: Rows, hours: Floats
    ) -> Flow:
        cells = case * self._size + row
        if self._several:
            cells += store // 2 * (self._cases * self._size)
        melts, dries, freezes = (one.reshape(-1).take(cells) for one in by_skin)
        return tuple(rate * hours for rate in (*rates, melts, dries)), freezes


def _rates(conditions: Conditions) -> Floats:
    """What falls and grows, mm/h, by store, name, case and report, with one report more of which nothing does."""
    sure, most = lying.flows(conditions)
    drifts = conditions.flag("blowing_snow")
    cases, size = conditions.shape
    rates = np.zeros((4, len(_NAMES), cases, size + 1))
    for at, name in enumerate(_NAMES):
        rates[:2, at, :, :size], rates[2:, at, :, :size] = sure[name], most[name]
    rates[:, _NAMES.index("frost")] /= 1000.0
    frozen = rates[:, _NAMES.index("frozen"), :, :size]
    frozen[APRON] += np.where(drifts == YES, lying.DRIFTING_MM_H, 0.0)
    frozen[MOST_ON_APRON] += np.where(drifts != NO, lying.DRIFTING_MM_H, 0.0)
    return rates


def _of_skin(skin: Floats, vapour: Floats) -> tuple[Floats, Floats, Floats]:
    freezes = np.where(np.isnan(skin), np.nan, skin <= 0.0)
    return deposits.melting_mm_h(skin), deposits.drying_mm_h(skin, vapour), freezes


def _before(values: Floats) -> Floats:
    """The values of the report before each; of the first its own."""
    return np.concatenate([values[:, :1], values[:, :-1]], axis=1)


def _of(conditions: Conditions, rows: Rows) -> Conditions:
    """The conditions of some reports."""

    def cut(table: Any) -> Any:
        return table.take(rows, axis=-1) if np.shape(table)[-1:] == conditions.unix_s.shape else table

    return replace(
        conditions,
        unix_s=conditions.unix_s[rows],
        latitude_deg=cut(conditions.latitude_deg),
        longitude_deg=cut(conditions.longitude_deg),
        columns={name: cut(conditions.columns[name]) for name in LYING.needs if name in conditions.columns},
    )


def _by_now(windows: ReportWindows) -> Rows:
    """The last report of the window whose instant had come at the time of each report; itself where there is none."""
    at_s, size = windows.at_s, windows.at_s.size
    key = windows.station.astype(np.int64) * 10**11 + at_s
    found = np.searchsorted(key, key - AHEAD_S, side="right") - 1
    usable = (found >= windows.first) & (at_s - at_s[found] <= 2 * AHEAD_S)
    return np.where(usable, found, np.arange(size))

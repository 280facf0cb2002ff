"""What gathered, melted and froze on aircraft and apron by the station's own series, for every report of it.

The stores and the steps are those of physics/deposits.py, the flows those of physics/lying.py. A brief goes over five
and fifteen minutes; here a step goes from report to report. Each window begins with the day before the report's, bare.
Only lanes in which anything may fall, grow or lie are stepped through, all of them at once; elsewhere nothing lies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.archive.flows import Flows
from advisor.archive.lanes import (
    AIRCRAFT,
    APRON,
    MOST_ON_AIRCRAFT,
    MOST_ON_APRON,
    Lanes,
    any_in,
    coldest_since,
    ends_of,
    laid_out,
)
from advisor.archive.lately import silent_before
from advisor.archive.table import Bools, Table
from advisor.archive.windows import ReportWindows
from advisor.conditions import NO, UNKNOWN, YES, Airframe, Codes, Columns, Conditions, Floats
from advisor.physics import deposits, lying, precipitation
from advisor.physics.stages.ground import LYING

Rows = NDArray[np.intp]
STORES = 6
_SUMS = ("snow_accumulated_mm", "rain_accumulated_mm")
_FLAGS = tuple(name for name in LYING.gives if name not in _SUMS)


class Gathering:
    """The stage "lying" for the reports of an archive: a stand-in for the one of a brief.

    table, windows: of the same reports, in order of station and time.
    """

    def __init__(self, table: Table, windows: ReportWindows) -> None:
        self.table, self.windows = table, windows

    def __call__(self, conditions: Conditions, airframe: Airframe) -> Columns:
        """The columns of the stage "lying": worked out where anything may lie, nothing elsewhere."""
        columns: Columns = {name: np.zeros(conditions.shape, dtype=np.int8) for name in _FLAGS}
        columns.update({name: np.zeros(conditions.shape) for name in _SUMS})
        bears = _bears(conditions, self.windows)
        asked = self._matter(bears | self.table.snow_lies)
        flow = Flows(conditions, self.windows, bears)
        lanes = self._lanes(flow, conditions, asked)
        if not lanes.lane.size:
            return columns
        steps, frost_by_now, stores = self._walked(lanes, flow, asked)
        cells = lanes.case[lanes.lane[steps]] * conditions.unix_s.size + lanes.row[steps]
        melted, lost = (one.reshape(-1).take(cells) for one in (self._melted(conditions), self._lost(conditions)))
        aircraft, apron = (lying.one(stores, which, melted, lost, frost_by_now) for which in (0, 1))
        for name, column in (
            ("aircraft_anything", aircraft.anything),
            ("aircraft_lies", aircraft.lies),
            ("aircraft_snow", aircraft.snow),
            ("aircraft_wet_or_ice", aircraft.wet_or_ice),
            ("snow_accumulated_mm", aircraft.snow_accumulated_mm),
            ("rain_accumulated_mm", aircraft.rain_accumulated_mm),
            ("apron_lies", apron.lies),
            ("apron_snow", apron.snow),
            ("apron_wet_or_ice", apron.wet_or_ice),
        ):
            columns[name].reshape(-1)[cells] = column
        return columns

    def _matter(self, bears: Bools) -> Rows:
        """The windows, by position, that have any report that bears."""
        windows = self.windows
        first = windows.first[windows.begins] if windows.begins.size else windows.begins
        return np.flatnonzero(any_in(bears, first, ends_of(windows)))

    def _lanes(self, flow: Flows, conditions: Conditions, asked: Rows) -> Lanes:
        lasts = conditions.lasts
        deep = self.table.snow_lies & lasts
        drifts = conditions.flag("blowing_snow")
        # what comes in two hours and more after a report is not known, in the adverse cases
        silent = np.r_[flow.silent_h[1:] > 0, False] & lasts
        begins = flow.falls | deep | silent
        more = flow.differs | flow.skin_differs | (drifts == UNKNOWN) | silent
        return laid_out(self.windows, asked, begins, more, (drifts != NO) | deep, flow.lasts)

    def _melted(self, conditions: Conditions) -> NDArray[np.bool_]:
        """Where it has been so warm for so long that nothing can lie from before, (case, report)."""
        instant, now, first = conditions.unix_s, self.windows.at_s.astype(np.float64), self.windows.first
        before = np.broadcast_to(conditions.columns["assumed_fuel_temperature_c"], conditions.shape)
        rows = []
        for here, then in zip(conditions.number("air_temperature_c"), before, strict=True):
            cold = ~(here > precipitation.FROZEN_BELOW_C)
            later = coldest_since(cold, instant, first)
            sooner = coldest_since(~cold & ~(then > precipitation.FROZEN_BELOW_C), now, first)
            rows.append(instant - np.maximum(later, sooner) >= lying.MELTED_AFTER_H * 3600.0)
        return np.stack(rows)

    def _lost(self, conditions: Conditions) -> NDArray[np.bool_]:
        """Where the skin was not known at some time of the window, (case, report)."""
        return np.stack([self.windows.ever(row) for row in lying.untold(conditions)])

    def _walked(self, lanes: Lanes, flow: Flows, asked: Rows) -> tuple[Rows, Floats, deposits.Deposits]:
        """What lies at the instant of each report of the windows' own days.

        Returns the steps of these reports (those of the apron), the frost of the reports' own time, (4, step), and the
        stores, (4, step).
        """
        state, there, damp = self._stepped(lanes, flow)
        own = np.flatnonzero(lanes.row >= self.windows.begins[asked][lanes.window[lanes.lane]])
        steps = own[lanes.store[lanes.lane[own]] == APRON]
        place = np.zeros(lanes.lane.size, dtype=np.intp)
        place[own] = np.arange(own.size)
        case, row = lanes.case[lanes.lane[steps]], lanes.row[steps]
        of = lanes.of[lanes.window[lanes.lane[steps]], case].T
        positions = np.stack([place[lanes.same_step(steps, one)] for one in of])
        # nothing has gathered on what stands there since now only; where nothing falls on it now it stays bare
        fresh = np.flatnonzero(~flow.lasts[case])
        wetted = fresh[flow.falls[case[fresh], row[fresh]]]
        last = own.size + 2 * wetted.size
        for which, begins in ((AIRCRAFT, own.size), (MOST_ON_AIRCRAFT, own.size + wetted.size)):
            positions[which, fresh] = last
            positions[which, wetted] = begins + np.arange(wetted.size)
        before, after = np.zeros((STORES, last + 1)), np.zeros((STORES, last + 1))
        before[:, : own.size] = state.take(own, axis=1)
        flows = flow.to_instant(
            np.r_[lanes.case[lanes.lane[own]], case[wetted], case[wetted]],
            np.r_[lanes.store[lanes.lane[own]], np.repeat([AIRCRAFT, MOST_ON_AIRCRAFT], wetted.size)],
            np.r_[lanes.row[own], row[wetted], row[wetted]],
        )
        deposits.step(after[:, :last], before[:, :last], *flows)
        after[:4] = deposits.told(after[:4])
        none = np.zeros(last + 1 - own.size, dtype=np.int8)
        lies = _kept(np.r_[there[own], none], deposits.holds(after[:3]))
        damp = _kept(np.r_[damp[own], none], deposits.holds(after[2:4]))
        frost, snow, ice, water, snow_sum, rain_sum = (one.take(positions) for one in after)
        stores = deposits.Deposits(
            frost, snow, ice, water, snow_sum, rain_sum, lies.take(positions), damp.take(positions)
        )
        return steps, deposits.told(before[0]).take(positions), stores

    def _stepped(self, lanes: Lanes, flow: Flows) -> tuple[Floats, Codes, Codes]:
        """Stores at the time of the report of each step, (6, step), and whether anything lies, or is wet or icy."""
        case, store, row = lanes.case[lanes.lane], lanes.store[lanes.lane], lanes.row
        flows, freezes = flow.to_report(case, store, row)
        late = np.flatnonzero((flow.silent_h[row] > 0) & (lanes.turn > 0))
        beyond, beyond_freezes = flow.to_report(case[late], store[late], row[late], silent=True)
        # a depth that was measured lies there from then on, in the adverse cases
        on_apron = (store == APRON) | (store == MOST_ON_APRON)
        deep = np.flatnonzero(self.table.snow_lies[row] & flow.lasts[case] & on_apron)
        state = np.zeros((STORES, row.size))
        turns = np.r_[lanes.starts, row.size]
        late_in, deep_in = _edges(late, turns), _edges(deep, turns)
        last = 0
        for turn, (start, count) in enumerate(zip(lanes.starts.tolist(), lanes.counts.tolist(), strict=True)):
            here = slice(start, start + count)
            if turn:
                after, before = state[:, here], state[:, last : last + count]
                deposits.step(after, before, tuple(one[here] for one in flows), freezes[here])
                if late_in[turn + 1] > late_in[turn]:
                    cut = slice(late_in[turn], late_in[turn + 1])
                    passed = np.empty((STORES, cut.stop - cut.start))
                    deposits.step(passed, state[:, late[cut]], tuple(one[cut] for one in beyond), beyond_freezes[cut])
                    state[:, late[cut]] = passed
            if deep_in[turn + 1] > deep_in[turn]:
                measured = deep[deep_in[turn] : deep_in[turn + 1]]
                state[1, measured] = np.maximum(np.abs(state[1, measured]), lying.MEASURED_SNOW_MM)
            last = start
        given = deposits.told(state[:4])
        lies, damp = deposits.holds(given[:3]), deposits.holds(given[2:4])
        for flags in (lies, damp):
            _persisting(flags, lanes)
        return state, lies, damp


def _edges(steps: Rows, turns: Rows) -> list[int]:
    """Where the steps of each turn begin among some of them."""
    found: list[int] = np.searchsorted(steps, turns).tolist()
    return found


def _persisting(flags: Codes, lanes: Lanes) -> None:
    """What was there and is not known to have gone is still there, along each lane, in place."""
    if not (flags == UNKNOWN).any():
        return
    for turn in range(1, lanes.starts.size):
        start, count, last = (int(one) for one in (lanes.starts[turn], lanes.counts[turn], lanes.starts[turn - 1]))
        here = slice(start, start + count)
        flags[here] = _kept(flags[last : last + count], flags[here])


def _bears(conditions: Conditions, windows: ReportWindows) -> Bools:
    """Reports after which anything may fall, grow or be unknown: where there is none of these, nothing lies."""
    rates = ("snow_rate_mm_h", "rain_rate_mm_h", "frost_growth_g_m2_h")
    bears: Bools = np.asarray(silent_before(windows))
    for name in rates:
        bears = bears | ~(conditions.number(name) == 0.0).all(axis=0)
    for name in ("ice_pellets", "freezing_precipitation", "blowing_snow"):
        bears = bears | (conditions.flag(name) != NO).any(axis=0)
    return bears


def _kept(before: Codes, now: Codes) -> Codes:
    """What was there and is not known to have gone is still there."""
    return np.where((now == UNKNOWN) & (before == YES), YES, now).astype(np.int8)

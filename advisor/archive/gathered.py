"""What gathered, melted and froze on aircraft and apron by the station's own series, for every report of it.

The stores and the steps are those of physics/deposits.py, the flows those of physics/lying.py. A brief goes over five
and fifteen minutes; here a step goes from report to report: what a report says falls holds until the next one, at most
two hours, after which it is not known, and the skin is that of the last instant that has passed. Each window begins
with the day before the report's, bare. Only lanes in which anything may fall, grow or lie are stepped through, all of
them at once; everywhere else nothing lies.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive.lanes import AIRCRAFT, APRON, MOST_ON_AIRCRAFT, Lanes, any_in, coldest_since, ends_of, laid_out
from advisor.archive.lately import silent_before
from advisor.archive.table import Bools, Table
from advisor.archive.windows import Windows
from advisor.conditions import NO, UNKNOWN, YES, Airframe, Codes, Columns, Conditions, Floats
from advisor.outlook.gaps import WEATHER_HOLDS_S
from advisor.physics import deposits, lying, moisture, precipitation
from advisor.physics.stages.ground import LYING

Rows = NDArray[np.intp]
AHEAD_S = 3600
STORES = 6
_FALLING = ("frozen", "freezing", "liquid")
_NAMES = (*_FALLING, "frost")
_SUMS = ("snow_accumulated_mm", "rain_accumulated_mm")
_FLAGS = tuple(name for name in LYING.gives if name not in _SUMS)
_LOOKED_AT = (*LYING.needs, "wind_kt", "assumed_fuel_temperature_c")


class Gathering:
    """The stage "lying" for the reports of an archive: a stand-in for the one of a brief.

    table, windows: of the same reports, in order of station and time.
    """

    def __init__(self, table: Table, windows: Windows) -> None:
        self.table, self.windows = table, windows

    def __call__(self, conditions: Conditions, airframe: Airframe) -> Columns:
        """The columns of the stage "lying": worked out where anything may lie, nothing elsewhere."""
        made: Columns = {name: np.zeros(conditions.shape, dtype=np.int8) for name in _FLAGS}
        made.update({name: np.zeros(conditions.shape) for name in _SUMS})
        bears = _bears(conditions, self.windows)
        asked = self._matter(bears | self.table.snow_lies)
        if not asked.size:
            return made
        flow = _Flows(conditions, self.windows, bears)
        lanes = self._lanes(flow, conditions, asked)
        if not lanes.lane.size:
            return made
        steps, before, after = self._walked(lanes, flow, conditions, asked)
        case, row = lanes.case[lanes.lane[steps]], lanes.row[steps]
        melted, lost = self._melted(conditions)[case, row], self._lost(conditions)[case, row]
        for prefix, one in (
            ("aircraft", lying.one(after, 0, melted, lost, before)),
            ("apron", lying.one(after, 1, melted, lost, before)),
        ):
            found = {f"{prefix}_{name}": getattr(one, name) for name in ("anything", "lies", "snow", "wet_or_ice")}
            if prefix == "aircraft":
                found |= {name: getattr(one, name) for name in _SUMS}
            for name, column in found.items():
                if name in made:
                    made[name][case, row] = column
        return made

    def _matter(self, bears: Bools) -> Rows:
        """The windows, by position, that have any report that bears."""
        windows = self.windows
        if not windows.begins.size:
            return windows.begins
        return np.flatnonzero(any_in(bears, windows.first[windows.begins], ends_of(windows)))

    def _lanes(self, flow: _Flows, conditions: Conditions, asked: Rows) -> Lanes:
        deep = self.table.snow_lies & conditions.lasts
        drifts = conditions.flag("blowing_snow")
        # what comes in two hours and more after a report is not known, in the adverse cases
        silent = flow.silent_after & conditions.lasts
        sure, most = flow.falls_differently()
        skin = flow.skin_unknown | (drifts == UNKNOWN)
        return laid_out(
            self.windows, asked, most[0] | deep | silent, sure | skin | silent, (drifts != NO) | deep, flow.lasts
        )

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

    def _walked(
        self, lanes: Lanes, flow: _Flows, conditions: Conditions, asked: Rows
    ) -> tuple[Rows, Floats, deposits.Deposits]:
        """The steps of the reports of each window's own day (those of the apron), and what lies at the instant of each.

        Returns with them the frost of the report's own time, (4, step), and the stores, (4, step).
        """
        state, there, wet = self._stepped(lanes, flow, conditions)
        # what stands since now only, the central case's aircraft, has gathered nothing before
        since_now = np.isin(lanes.store, (AIRCRAFT, MOST_ON_AIRCRAFT)) & ~flow.lasts[lanes.case]
        fresh = since_now[lanes.lane]
        state[:, fresh] = 0.0
        there[fresh] = wet[fresh] = NO
        own = np.flatnonzero(lanes.row >= self.windows.begins[asked][lanes.window[lanes.lane]])
        before = state[:, own]
        after = np.empty_like(before)
        flow.step(after, before, *flow.of(lanes, own, lanes.row[own], np.ones(own.size), ends=lanes.row[own]))
        lies = _kept(there[own], deposits.holds(after[:3]))
        damp = _kept(wet[own], deposits.holds(after[3:4]))
        # each report once, with the lane of each of its four stores
        steps = own[lanes.store[lanes.lane[own]] == APRON]
        four = lanes.of[lanes.window[lanes.lane[steps]], lanes.case[lanes.lane[steps]]].T
        place = np.zeros(lanes.lane.size, dtype=np.intp)
        place[own] = np.arange(own.size)
        at = place[np.stack([lanes.same_step(steps, one) for one in four])]
        frost, snow, ice, water, snow_sum, rain_sum = after[:, at]
        return steps, before[0][at], deposits.Deposits(frost, snow, ice, water, snow_sum, rain_sum, lies[at], damp[at])

    def _stepped(self, lanes: Lanes, flow: _Flows, conditions: Conditions) -> tuple[Floats, Codes, Codes]:
        """Stores at the time of the report of each step, (6, step), and whether anything lies or is wet there."""
        at_s, before = self.windows.at_s, np.maximum(lanes.row - 1, 0)
        passed_h = np.where(lanes.turn > 0, (at_s[lanes.row] - at_s[before]) / 3600, 0.0)
        held_h = np.minimum(passed_h, WEATHER_HOLDS_S / 3600)
        flows, freezes = flow.of(lanes, slice(None), before, held_h, ends=lanes.row)
        silent_h = passed_h - held_h
        late = np.flatnonzero(silent_h > 0)
        beyond, beyond_freezes = flow.of(lanes, late, before[late], silent_h[late], ends=lanes.row[late], silent=True)
        # a depth that was measured lies there from then on, in the adverse cases
        case, store = lanes.case[lanes.lane], lanes.store[lanes.lane]
        on_apron = (store != AIRCRAFT) & (store != MOST_ON_AIRCRAFT)
        deep = np.flatnonzero(self.table.snow_lies[lanes.row] & flow.lasts[case] & on_apron)
        state = np.zeros((STORES, lanes.lane.size))
        late_at, deep_at = np.searchsorted(late, lanes.starts), np.searchsorted(deep, lanes.starts)
        late_to, deep_to = np.r_[late_at[1:], late.size], np.r_[deep_at[1:], deep.size]
        for turn, (start, count) in enumerate(zip(lanes.starts.tolist(), lanes.counts.tolist(), strict=True)):
            here = slice(start, start + count)
            if turn:
                last = lanes.starts[turn - 1]
                flow.step(
                    state[:, here], state[:, last : last + count], tuple(one[here] for one in flows), freezes[here]
                )
                if late_to[turn] > late_at[turn]:
                    cut = slice(late_at[turn], late_to[turn])
                    passed = np.empty((STORES, late[cut].size))
                    flow.step(passed, state[:, late[cut]], tuple(one[cut] for one in beyond), beyond_freezes[cut])
                    state[:, late[cut]] = passed
            if deep_to[turn] > deep_at[turn]:
                lying_there = deep[deep_at[turn] : deep_to[turn]]
                state[1, lying_there] = np.fmax(state[1, lying_there], lying.MEASURED_SNOW_MM)
        there, wet = deposits.holds(state[:3]), deposits.holds(state[3:4])
        for flags in (there, wet):
            _persisting(flags, lanes)
        return state, there, wet


class _Flows:
    """What falls and grows after each report that bears, with what is sure and with the most that may be."""

    def __init__(self, conditions: Conditions, windows: Windows, bears: Bools) -> None:
        rows = np.flatnonzero(bears)
        size, cases = rows.size, len(conditions.cases)
        there = _of(conditions, rows)
        sure, most = lying.flows(there)
        drifts = there.flag("blowing_snow")
        # by store, name, case and report that bears, with one more of which nothing falls
        rates = np.zeros((4, len(_NAMES), cases, size + 1))
        for at, name in enumerate(_NAMES):
            rates[:2, at, :, :size], rates[2:, at, :, :size] = sure[name], most[name]
        rates[:, _NAMES.index("frost")] /= 1000.0
        frozen = rates[:, _NAMES.index("frozen"), :, :size]
        frozen[1] += np.where(drifts == YES, lying.DRIFTING_MM_H, 0.0)
        frozen[3] += np.where(drifts != NO, lying.DRIFTING_MM_H, 0.0)
        self.lasts = conditions.lasts[:, 0]
        self.rates, self.rows, self.windows = rates, rows, windows
        self.at = np.full(bears.size, size, dtype=np.intp)
        self.at[rows] = np.arange(size)
        skin, air = conditions.number("wing_skin_temperature_c"), conditions.number("air_temperature_c")
        guess = np.where(np.isnan(air), -1.0, air - lying.SKIN_AT_MOST_BELOW_C)
        self.skin_unknown = np.isnan(skin)
        self.skin = np.stack([skin, np.where(self.skin_unknown, guess, skin)])
        self.vapour = moisture.saturation_pressure_pa(conditions.number("dew_point_c"))
        self.warm = air > precipitation.FROZEN_BELOW_C
        self.by_now = _by_now(windows)
        passed_s = np.diff(windows.at_s, append=windows.at_s[-1:])
        same = np.r_[windows.station[1:] == windows.station[:-1], False]
        self.silent_after = same & (passed_s > WEATHER_HOLDS_S)

    def falls_differently(self) -> tuple[Bools, tuple[Bools, Bools]]:
        """Where what may fall is more than what is sure, and where any of it falls at all, (case, report)."""
        rates = self.rates[..., :-1]
        differs, falls = (np.zeros((len(self.lasts), self.at.size), dtype=np.bool_) for _ in range(2))
        differs[:, self.rows] = (rates[APRON] != rates[3]).any(axis=0)
        falls[:, self.rows] = (rates[3] != 0.0).any(axis=0)
        return differs, (falls, falls)

    def of(
        self,
        lanes: Lanes,
        steps: Rows | slice,
        before: Rows,
        hours: Floats,
        *,
        ends: Rows,
        silent: bool = False,
    ) -> tuple[tuple[Floats, ...], Floats]:
        """The flows of steps by what the reports before say, mm, and whether the skin freezes water.

        ends: the report at the end of each step; where it is the report itself the step ends at its own instant. silent:
        two hours and more after the report: in the adverse cases what may have come is not known, in the central one
        nothing has.
        """
        lane = lanes.lane[steps]
        case, store = lanes.case[lane], lanes.store[lane]
        rates = dict(zip(_NAMES, self.rates[store, :, case, self.at[before]].T, strict=True))
        if silent:
            self._silent(rates, case, store, before)
        start, end = self.by_now[before], np.where(ends == before, ends, self.by_now[ends])
        which = store // 2
        # the colder skin of a step's two ends, and the damper air
        skin = np.minimum(self.skin[which, case, start], self.skin[which, case, end])
        vapour = np.maximum(self.vapour[case, start], self.vapour[case, end])
        flows = (
            rates["frost"] * hours,
            rates["frozen"] * hours,
            rates["freezing"] * hours,
            rates["liquid"] * hours,
            deposits.melting_mm_h(skin) * hours,
            deposits.drying_mm_h(skin, vapour) * hours,
        )
        return flows, np.where(np.isnan(skin), np.nan, skin <= 0.0)

    def _silent(self, rates: dict[str, Floats], case: Rows, store: Rows, before: Rows) -> None:
        for name in _FALLING:
            unknown = (store >= MOST_ON_AIRCRAFT) & (rates[name] == 0.0)
            if name != "liquid":
                unknown &= ~self.warm[case, before]
            rates[name] = np.where(unknown, lying.MOST_MM_H, rates[name]) * self.lasts[case]

    def step(self, after: Floats, before: Floats, flows: tuple[Floats, ...], freezes: Floats) -> None:
        """One step of all stores, in place in after."""
        deposits.step(after, before, flows, freezes)


def _persisting(flags: Codes, lanes: Lanes) -> None:
    """What was there and is not known to have gone is still there, along each lane, in place."""
    if not (flags == UNKNOWN).any():
        return
    for turn in range(1, lanes.starts.size):
        start, count, last = (int(one) for one in (lanes.starts[turn], lanes.counts[turn], lanes.starts[turn - 1]))
        here = slice(start, start + count)
        flags[here] = _kept(flags[last : last + count], flags[here])


def _bears(conditions: Conditions, windows: Windows) -> Bools:
    """Reports after which anything may fall, grow or be unknown: where there is none of these, nothing lies."""
    rates = ("snow_rate_mm_h", "rain_rate_mm_h", "frost_growth_g_m2_h")
    found: Bools = np.asarray(silent_before(windows))
    for name in rates:
        found = found | ~(conditions.number(name) == 0.0).all(axis=0)
    for name in ("ice_pellets", "freezing_precipitation", "blowing_snow"):
        found = found | (conditions.flag(name) != NO).any(axis=0)
    return found


def _of(conditions: Conditions, rows: Rows) -> Conditions:
    """The conditions of some reports."""

    def cut(table: Any) -> Any:
        return table[..., rows] if np.shape(table)[-1:] == conditions.unix_s.shape else table

    return replace(
        conditions,
        unix_s=conditions.unix_s[rows],
        latitude_deg=cut(conditions.latitude_deg),
        longitude_deg=cut(conditions.longitude_deg),
        columns={name: cut(conditions.columns[name]) for name in _LOOKED_AT if name in conditions.columns},
    )


def _by_now(windows: Windows) -> Rows:
    """The last report of the window whose instant had come at the time of each report; itself where there is none."""
    at_s, size = windows.at_s, windows.at_s.size
    key = windows.station.astype(np.int64) * 10**11 + at_s
    found = np.searchsorted(key, key - AHEAD_S, side="right") - 1
    usable = (found >= windows.first) & (at_s - at_s[found] <= 2 * AHEAD_S)
    return np.where(usable, found, np.arange(size))


def _kept(before: Codes, now: Codes) -> Codes:
    """What was there and is not known to have gone is still there."""
    return np.where((now == UNKNOWN) & (before == YES), YES, now).astype(np.int8)

"""What gathered, melted and froze on aircraft and apron by the station's own series, for every report of it.

The stores and the steps are those of physics/deposits.py, the flows those of physics/lying.py. A brief goes over five
and fifteen minutes; here a step goes from report to report: what a report says falls holds until the next one, at most
two hours, after which it is not known, and the skin is that of the last instant that has passed. Each window begins
with the day before the report's, bare. Steps are worked out for many days at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive.lately import silent_before
from advisor.archive.table import Bools, Table
from advisor.archive.windows import Windows
from advisor.conditions import NO, UNKNOWN, YES, Airframe, Codes, Columns, Conditions, Floats
from advisor.outlook.gaps import WEATHER_HOLDS_S
from advisor.physics import deposits, lying, moisture, precipitation
from advisor.physics.stages.ground import LYING

Rows = NDArray[np.intp]
AHEAD_S = 3600
# days that are stepped through at once: as many numbers as a near cache holds
DAYS_AT_ONCE = 1024
STORES = 6
_FALLING = ("frozen", "freezing", "liquid")
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
        """The columns of the stage "lying": worked out for the windows in which anything may lie, nothing elsewhere."""
        rows, own = self._matter(_bears(conditions, self.windows) | self.table.snow_lies)
        made: Columns = {name: np.zeros(conditions.shape, dtype=np.int8) for name in _FLAGS}
        made.update({name: np.zeros(conditions.shape) for name in _SUMS})
        if rows.size:
            windows = Windows(self.windows.station[rows], self.windows.at_s[rows])
            part = Gathering(self.table.picked(rows), windows).whole(_of(conditions, rows))
            for name, column in made.items():
                column[:, rows[own]] = part[name][:, own]
        return made

    def _matter(self, bears: Bools) -> tuple[Rows, NDArray[np.intp]]:
        """The reports of windows with any that bears, and which of them (by position) are of their own day."""
        windows = self.windows
        ends = np.r_[windows.begins[1:], windows.at_s.size]
        total = np.concatenate([[0], np.cumsum(bears)])
        first = windows.first[windows.begins] if windows.begins.size else windows.begins
        own = total[ends] - total[first] > 0
        needed = own.copy()
        needed[windows.before[own & (windows.before >= 0)]] = True
        rows = np.flatnonzero(needed[windows.segment]) if windows.begins.size else windows.begins
        return rows, np.flatnonzero(own[windows.segment[rows]])

    def whole(self, conditions: Conditions) -> dict[str, NDArray[Any]]:
        """The same for all reports."""
        air = conditions.number("air_temperature_c")
        frost_by_now, made = self._stores(conditions)
        melted, lost = self._melted(conditions, air), self._lost(conditions)
        aircraft, apron = (lying.one(made, which, melted, lost, frost_by_now) for which in (0, 1))
        return {
            "aircraft_anything": aircraft.anything,
            "aircraft_lies": aircraft.lies,
            "aircraft_snow": aircraft.snow,
            "aircraft_wet_or_ice": aircraft.wet_or_ice,
            "snow_accumulated_mm": aircraft.snow_accumulated_mm,
            "rain_accumulated_mm": aircraft.rain_accumulated_mm,
            "apron_lies": apron.lies,
            "apron_snow": apron.snow,
            "apron_wet_or_ice": apron.wet_or_ice,
        }

    def _melted(self, conditions: Conditions, air: Floats) -> NDArray[np.bool_]:
        """Where it has been so warm for so long that nothing can lie from before, (case, report)."""
        instant, now = conditions.unix_s, self.windows.at_s.astype(np.float64)
        before = np.broadcast_to(conditions.columns["assumed_fuel_temperature_c"], conditions.shape)
        rows = []
        for here, then in zip(air, before, strict=True):
            cold = np.where(here > precipitation.FROZEN_BELOW_C, -np.inf, instant)
            cold = np.where((cold == -np.inf) & ~(then > precipitation.FROZEN_BELOW_C), now, cold)
            rows.append(instant - self.windows.most(cold) >= lying.MELTED_AFTER_H * 3600.0)
        return np.stack(rows)

    def _lost(self, conditions: Conditions) -> NDArray[np.bool_]:
        """Where the skin was not known at some time of the window, (case, report)."""
        return np.stack([self.windows.ever(row) for row in lying.untold(conditions)])

    def _stores(self, conditions: Conditions) -> tuple[Floats, deposits.Deposits]:
        """The frost of the report's own time, and the stores at the instant: (4, case, report)."""
        flow = _Flows(conditions, self.windows)
        size = self.windows.at_s.size
        shape = (STORES, 4, len(conditions.cases), size)
        state = np.zeros(shape)
        there = np.zeros(shape[1:], dtype=np.int8)
        wet = np.zeros(shape[1:], dtype=np.int8)
        for days in self._days():
            self._walk(days, flow, conditions, state, there, wet)
        # what stands since now only, the central case's aircraft, has gathered nothing before
        since_now = ~conditions.lasts[:, 0]
        for row in (0, 2):
            state[:, row, since_now] = 0.0
            there[row, since_now] = wet[row, since_now] = NO
        after = np.zeros(shape)
        hour = AHEAD_S / 3600
        every = np.arange(size)
        skin = flow.colder(every, every, own=True)
        flow.step(after, state, every, skin, np.full(size, hour))
        lies, damp = deposits.holds(after[:3]), deposits.holds(after[3:4])
        lies = np.where((lies == UNKNOWN) & (there == YES), YES, lies).astype(np.int8)
        damp = np.where((damp == UNKNOWN) & (wet == YES), YES, damp).astype(np.int8)
        frost, snow, ice, water, snow_sum, rain_sum = after
        return state[0], deposits.Deposits(frost, snow, ice, water, snow_sum, rain_sum, lies, damp)

    def _days(self) -> Iterator[NDArray[np.intp]]:
        """Windows, by position, of about the same length together, some at a time."""
        windows = self.windows
        ends = np.r_[windows.begins[1:], windows.at_s.size]
        order = np.argsort(ends - windows.first[windows.begins], kind="stable")
        for start in range(0, order.size, DAYS_AT_ONCE):
            yield order[start : start + DAYS_AT_ONCE]

    def _walk(
        self, days: NDArray[np.intp], flow: _Flows, conditions: Conditions, state: Floats, there: Codes, wet: Codes
    ) -> None:
        """Step through some windows at once, and put what lies at the time of each report of the day in place."""
        windows, at_s = self.windows, self.windows.at_s
        begins, ends = windows.begins[days], np.r_[windows.begins[1:], at_s.size][days]
        first = windows.first[begins]
        lasts = conditions.lasts[:, 0]
        stores = np.zeros((STORES, 4, lasts.size, days.size))
        lies, damp = (np.zeros(stores.shape[1:], dtype=np.int8) for _ in range(2))
        for step in range(int((ends - first).max())):
            here = np.minimum(first + step, ends - 1)
            if step:
                before = np.minimum(first + step - 1, ends - 1)
                self._between(stores, before, here, flow)
            # a depth that was measured lies there from then on, in the adverse cases
            deep = (self.table.snow_lies[here])[None, :] & lasts[:, None]
            for row in (1, 3):
                stores[1, row] = np.where(deep, np.fmax(stores[1, row], lying.MEASURED_SNOW_MM), stores[1, row])
            lies, damp = _kept(lies, deposits.holds(stores[:3])), _kept(damp, deposits.holds(stores[3:4]))
            own = (first + step >= begins) & (first + step < ends)
            rows = here[own]
            state[..., rows] = stores[..., own]
            there[..., rows], wet[..., rows] = lies[..., own], damp[..., own]

    def _between(self, stores: Floats, before: Rows, here: Rows, flow: _Flows) -> None:
        """From one report to the next of each window, in place; what comes after two hours is not known."""
        passed_h = (self.windows.at_s[here] - self.windows.at_s[before]) / 3600
        held_h = np.minimum(passed_h, WEATHER_HOLDS_S / 3600)
        skin = flow.colder(before, here)
        after = np.zeros_like(stores)
        flow.step(after, stores, before, skin, held_h)
        silent_h = passed_h - held_h
        if (silent_h > 0).any():
            beyond = np.zeros_like(stores)
            flow.step(beyond, after, before, skin, silent_h, silent=True)
            after = np.where(silent_h > 0, beyond, after)
        stores[:] = after


class _Flows:
    """What falls and grows after each report, stacked (4, case, report).

    First aircraft and apron with what is sure, then both with the most that may be.
    """

    def __init__(self, conditions: Conditions, windows: Windows) -> None:
        sure, most = lying.flows(conditions)
        drifts = conditions.flag("blowing_snow")
        self.lasts = conditions.lasts
        self.rates = {name: np.stack([sure[name], sure[name], most[name], most[name]]) for name in (*_FALLING, "frost")}
        self.rates["frost"] /= 1000.0
        self.rates["frozen"][1] += np.where(drifts == YES, lying.DRIFTING_MM_H, 0.0)
        self.rates["frozen"][3] += np.where(drifts != NO, lying.DRIFTING_MM_H, 0.0)
        skin, air = conditions.number("wing_skin_temperature_c"), conditions.number("air_temperature_c")
        guess = np.where(np.isnan(air), -1.0, air - lying.SKIN_AT_MOST_BELOW_C)
        coldest = np.where(np.isnan(skin), guess, skin)
        self.skin = np.stack([skin, coldest])
        self.vapour = moisture.saturation_pressure_pa(conditions.number("dew_point_c"))
        self.warm = air > precipitation.FROZEN_BELOW_C
        self.by_now = _by_now(windows)

    def colder(self, before: Rows, here: Rows, *, own: bool = False) -> tuple[Floats, Floats]:
        """The colder skin of a step's two ends, (4, case, step), and the damper air, (case, step).

        own: the step ends at the report's own instant.
        """
        start, end = self.by_now[before], here if own else self.by_now[here]
        skin = np.minimum(self.skin[..., start], self.skin[..., end])
        return skin[[0, 0, 1, 1]], np.maximum(self.vapour[:, start], self.vapour[:, end])

    def step(
        self,
        after: Floats,
        before: Floats,
        rows: Rows,
        skins: tuple[Floats, Floats],
        hours: Floats,
        *,
        silent: bool = False,
    ) -> None:
        """One step of all stores by what the reports in rows say, in place in after.

        silent: two hours and more after the report: in the adverse cases what may have come is not known, in the
        central one nothing has.
        """
        rates = {name: rate[..., rows] for name, rate in self.rates.items()}
        if silent:
            self._silent(rates, rows)
        skin, vapour = skins
        flows = (
            rates["frost"] * hours,
            rates["frozen"] * hours,
            rates["freezing"] * hours,
            rates["liquid"] * hours,
            deposits.melting_mm_h(skin) * hours,
            deposits.drying_mm_h(skin, vapour) * hours,
        )
        freezes = np.where(np.isnan(skin), np.nan, skin <= 0.0)
        deposits.step(after, before, flows, freezes)

    def _silent(self, rates: dict[str, Floats], rows: Rows) -> None:
        for name in _FALLING:
            rate = rates[name]
            unknown = rate[2:] == 0.0
            if name != "liquid":
                unknown &= ~self.warm[:, rows]
            rate[2:][unknown] = lying.MOST_MM_H
            rate *= self.lasts


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

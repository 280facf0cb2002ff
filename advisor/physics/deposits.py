"""What lies on the wing over time, and how cold its fuel is: the only loop over time.

Columns are (…, time). The skin temperature comes from surface.py and does not depend on what lies on it. Wherever a
choice had to be made, what lies there stays longer: water at or below 0 °C freezes at once, nothing sublimes or is
blown off, melting takes its heat only from the skin's own exchange. Unknown stays unknown, what is known to come on top
of it lies there, and what has once landed counts as lying until it is known to have melted or was treated away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import UNKNOWN, YES, Codes, Floats, Masks
from advisor.physics import flags
from advisor.physics.balance import VAPOUR_FLOW
from advisor.physics.moisture import saturation_pressure_pa
from advisor.physics.ranges import within
from advisor.quantities.units import HOUR_S

HEAT_OF_FUSION_J_KG = 333_600.0
# heat that reaches the underside of a deposit for each K that the skin would be above 0 °C, W/m²K
MELTING_W_M2_K = 10.0
# transfer by which a wet skin dries in still air, W/m²K
DRYING_W_M2_K = 4.0
# water that a skin holds before it runs off, mm, and that lying snow holds, parts of its own water equivalent
FILM_MM = 0.3
HELD_IN_SNOW = 0.1
# less than this, mm of water, is nothing: a hundredth of the thinnest frost that can be felt
TRACE_MM = 1e-4
MOST_MM = 10_000.0


@dataclass(frozen=True)
class Deposits:
    """What lies on the wing at each time, mm of water (= kg/m²), NaN where not known; all of one shape (…, time).

    After a time at which a store was not known, a number is the least that lies there: what came since.
    snow_accumulated_mm, rain_accumulated_mm: fallen since the start or the treatment, no melting or run-off taken
    off. lying: frost, snow or ice on the wing, int8 1, 0 or -1; wet_or_ice: water on it, or what froze of it.
    """

    frost_mm: Floats
    snow_mm: Floats
    ice_mm: Floats
    water_mm: Floats
    snow_accumulated_mm: Floats
    rain_accumulated_mm: Floats
    lying: Codes
    wet_or_ice: Codes


def integrate(
    unix_s: ArrayLike,
    skin_temperature_c: ArrayLike,
    *,
    frost_growth_g_m2_h: ArrayLike = 0.0,
    frozen_mm_h: ArrayLike = 0.0,
    liquid_mm_h: ArrayLike = 0.0,
    freezing_mm_h: ArrayLike = 0.0,
    vapour_pressure_pa: ArrayLike = np.nan,
    start_frost_mm: ArrayLike = 0.0,
    start_snow_mm: ArrayLike = 0.0,
    start_ice_mm: ArrayLike = 0.0,
    start_water_mm: ArrayLike = 0.0,
    treated_at_s: float | None = None,
    treated: ArrayLike = True,
    melting_w_m2_k: float = MELTING_W_M2_K,
) -> Deposits:
    """Frost, snow, ice and water on the wing over time.

    Over a step each rate is the mean of its two ends, and the skin is as cold as the colder of them.

    Parameters
    ----------
    unix_s
        (time,), rising, s; the columns are (..., time) or what broadcasts to it.
    skin_temperature_c
        °C.
    frost_growth_g_m2_h
        As all rates: 0 or more, NaN not known.
    frozen_mm_h, liquid_mm_h, freezing_mm_h
        Snow, grains, pellets, hail; rain and drizzle; what freezes where it lands, whatever the skin.
    vapour_pressure_pa
        Of the air, for drying; NaN leaves the wing wet.
    start_frost_mm, start_snow_mm, start_ice_mm, start_water_mm
        Lying there at the first time.
    treated_at_s
        Everything is gone then; what falls after it counts. Before the first time it changes nothing: say what lies
        there at the start.
    treated
        Which of the rows it touches, (...) or scalar.
    melting_w_m2_k
        Heat that reaches the underside of a deposit.

    Returns
    -------
    Deposits
        At each time.

    Raises
    ------
    ValueError
        For times that do not rise.

    References
    ----------
    lewis-relation: with the energy of fusion
    invented-default: transfer, film and hold
    """
    times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
    steps_h = np.diff(times) / HOUR_S
    if not np.all(steps_h > 0.0):
        raise ValueError("unix_s does not rise; times in order, each once, are needed")
    skin, growth, frozen, liquid, freezing, vapour = _time_first(
        times,
        within(skin_temperature_c, -90.0, 150.0),
        _rate(frost_growth_g_m2_h) / 1000.0,
        _rate(frozen_mm_h),
        _rate(liquid_mm_h),
        _rate(freezing_mm_h),
        within(vapour_pressure_pa, 0.0, 20_000.0),
    )
    hours = steps_h.reshape((-1,) + (1,) * (skin.ndim - 1))
    grown, snowed, rained, iced = (0.5 * (rate[1:] + rate[:-1]) * hours for rate in (growth, frozen, liquid, freezing))
    coldest = np.minimum(skin[1:], skin[:-1])
    can_melt = melting_mm_h(coldest, melting_w_m2_k) * hours
    freezes = np.where(np.isnan(coldest), np.nan, coldest <= 0.0)
    can_dry = drying_mm_h(coldest, np.maximum(vapour[1:], vapour[:-1])) * hours

    cleared_s = np.inf if treated_at_s is None else float(treated_at_s)
    treated_step = int(np.searchsorted(times, cleared_s))
    touched = np.broadcast_to(np.asarray(treated, dtype=bool), skin.shape[1:])
    state = np.zeros((6, *skin.shape))
    for place, start in enumerate((start_frost_mm, start_snow_mm, start_ice_mm, start_water_mm)):
        lies = within(start, 0.0, MOST_MM)
        lies = np.where(np.isnan(lies), -0.0, np.abs(lies))
        state[place, 0] = np.where(touched & (cleared_s == times[0]), 0.0, lies)
    for i in range(1, times.size):
        j = i - 1
        before, flows = state[:, j], (grown[j], snowed[j], iced[j], rained[j], can_melt[j], can_dry[j])
        if i == treated_step:
            # all is gone but what comes in the rest of this step
            rest = np.where(touched, (times[i] - cleared_s) / (times[i] - times[j]), 1.0)
            step(state[:, i], np.where(touched, 0.0, before), tuple(rest * flow for flow in flows), freezes[j])
            state[5, i] = before[5] + rained[j]
        else:
            step(state[:, i], before, flows, freezes[j])
    state[:4] = told(state[:4])
    lying = _persist(holds(state[:3]), treated_step, touched)
    # ice that a skin which nobody knows may have melted is still wet
    damp = _persist(holds(state[2:4]), treated_step, touched)
    frost, snow, ice, water, snow_sum, rain_sum, lying, damp = (
        np.moveaxis(part, 0, -1) for part in (*state, lying, damp)
    )
    return Deposits(frost, snow, ice, water, snow_sum, rain_sum, lying, damp)


def melting_mm_h(skin_c: Floats, melting_w_m2_k: float = MELTING_W_M2_K) -> Floats:
    """How much a skin above 0 °C can melt.

    Parameters
    ----------
    skin_c
        The coldest of a step, °C; NaN stays.
    melting_w_m2_k
        Heat that reaches the underside of a deposit.

    Returns
    -------
    Floats
        mm of water an hour.

    References
    ----------
    lewis-relation: with the energy of fusion
    """
    melted: Floats = np.maximum(skin_c, 0.0) * (melting_w_m2_k * HOUR_S / HEAT_OF_FUSION_J_KG)
    return melted


def step(after: Floats, before: Floats, flows: tuple[Floats, ...], freezes: Floats) -> None:
    """One step of all stores, in place: fall, melt, freeze, run off, dry.

    Parameters
    ----------
    after, before
        (6, ...): frost, snow, ice, water, and the sums of snow and of rain, mm. A store that is not known has a minus
        sign before the least that lies there, be that nothing: see told.
    flows
        Of the step, mm: frost grown, snow, what freezes where it lands, rain, what can melt, what can dry.
    freezes
        1 where the skin is at or below 0 °C, 0 where not, NaN not known.

    Returns
    -------
    None
        What is after the step stands in after.

    References
    ----------
    invented-default: see the module
    """
    grown, snowed, iced, rained, can_melt, can_dry = flows
    untold = np.signbit(before[:4])
    least = np.abs(before[:4]) if untold.any() else before
    frost, snow, ice, water = least[0] + grown, least[1] + snowed, least[2] + iced, least[3] + rained
    # where nothing lies, an unknown skin melts nothing
    budget = np.where(frost + snow + ice == 0.0, 0.0, can_melt)
    for place, store in enumerate((frost, snow, ice)):
        # no melting takes nothing, even of what is not known
        taken = np.where(budget == 0.0, 0.0, np.minimum(store, budget))
        after[place] = store - taken
        water = water + taken
        budget = budget - taken
    turned = np.where((water == 0.0) | (freezes == 0.0), 0.0, freezes * water)
    after[2] += turned
    water = water - turned
    held = FILM_MM + HELD_IN_SNOW * after[1]
    water = np.where(water > held, held, water)
    after[3] = np.maximum(water - can_dry, 0.0)
    after[4] = before[4] + snowed
    after[5] = before[5] + rained
    stores = after[:4]
    lost = np.isnan(stores)
    untold |= lost
    if untold.any():
        # what may melt of a store that is not known keeps heat from those below it, and is water, which may freeze
        melts, above = can_melt != 0.0, untold[0].copy()
        for place, store in ((1, snow), (2, ice)):
            untold[place] |= above & melts & (store > 0.0)
            above |= untold[place]
        untold[3] |= above & melts
        untold[2] |= untold[3] & (freezes != 0.0)
        # of what nobody knows all may be gone
        stores[lost] = 0.0
        # numpy 2.4 spoils a column with steps between its numbers where negative() writes into it by a mask
        stores[untold] = -stores[untold]


def told(stores: Floats) -> Floats:
    """Stores as a step leaves them, as they are given: NaN where not known and no more than a trace at least.

    Parameters
    ----------
    stores
        As step has them, mm.

    Returns
    -------
    Floats
        Of the same shape, 0 or more.

    References
    ----------
    invented-default: the trace
    """
    unsure = np.signbit(stores)
    if not unsure.any():
        return stores
    least: Floats = np.abs(stores)
    least[unsure & (least <= TRACE_MM)] = np.nan
    return least


def holds(stores: Floats) -> Codes:
    """Yes where any store holds more than a trace, else not known where one is not known.

    Parameters
    ----------
    stores
        (store, ...), mm.

    Returns
    -------
    Codes
        (...).

    References
    ----------
    invented-default: the trace
    """
    unknown: Masks = np.asarray(np.isnan(stores).any(axis=0))
    most = np.where(np.isnan(stores), 0.0, stores).max(axis=0)
    return flags.coded(most > TRACE_MM, unknown)


def _persist(now: Codes, treated_step: int, touched: Masks) -> Codes:
    """What was there and is not known to have gone is still there; time is the first axis."""
    order = np.arange(now.shape[0]).reshape((-1,) + (1,) * (now.ndim - 1))
    known = (now != UNKNOWN) | ((order == treated_step) & touched)
    last_known = np.maximum.accumulate(np.where(known, order, 0), axis=0)
    return np.where(np.take_along_axis(now, last_known, axis=0) == YES, YES, now).astype(np.int8)


def _rate(values: ArrayLike) -> Floats:
    return within(values, 0.0, MOST_MM)


def _time_first(times: Floats, *columns: Floats) -> list[Floats]:
    shape = np.broadcast_shapes((times.size,), *(column.shape for column in columns))
    return [np.moveaxis(np.broadcast_to(column, shape), -1, 0) for column in columns]


def drying_mm_h(skin_c: Floats, vapour_pa: Floats) -> Floats:
    """Evaporation from a wet skin by the Lewis relation.

    Parameters
    ----------
    skin_c
        °C.
    vapour_pa
        Of the air.

    Returns
    -------
    Floats
        mm of water an hour, 0 where it is not known.

    References
    ----------
    lewis-relation
    """
    lacking = saturation_pressure_pa(np.clip(skin_c, 0.0, 60.0), "water") - vapour_pa
    rate = np.maximum(lacking, 0.0) * (DRYING_W_M2_K * VAPOUR_FLOW * HOUR_S)
    return np.where(np.isnan(rate) | (skin_c <= 0.0), 0.0, rate)


# hours in which the fuel of a parked aircraft comes 63 % of the way to the air
TANK_TIME_H = {"low": 4.0, "central": 8.0, "high": 16.0}


def fuel_temperature_c(
    unix_s: ArrayLike, start_c: ArrayLike, air_temperature_c: ArrayLike, *, time_constant_h: float = 8.0
) -> Floats:
    """Fuel temperature of a parked aircraft, drawn towards the air exponentially.

    Parameters
    ----------
    unix_s
        (time,), rising, s.
    start_c
        °C at the first time, -60 to 70, scalar or (...,).
    air_temperature_c
        °C (..., time), the mean of both ends holds over a step.
    time_constant_h
        0.1 to 200, TANK_TIME_H by doubt.

    Returns
    -------
    Floats
        °C (..., time); NaN from where an input is missing.

    Raises
    ------
    ValueError
        Outside time_constant_h's range.

    References
    ----------
    incropera-7e: lumped capacity
    invented-default: the time constants
    """
    if not 0.1 <= time_constant_h <= 200.0:
        raise ValueError(f"time_constant_h is {time_constant_h}; 0.1 to 200 is needed")
    times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
    start = within(start_c, -60.0, 70.0)
    (air,) = _time_first(times, within(air_temperature_c, -90.0, 60.0))
    air = np.broadcast_to(air, (times.size, *np.broadcast_shapes(start.shape, air.shape[1:])))
    result = np.empty(air.shape)
    result[0] = start
    kept = np.exp(np.diff(times) / (-HOUR_S * time_constant_h))
    for i in range(1, times.size):
        towards = 0.5 * (air[i] + air[i - 1])
        result[i] = towards + (result[i - 1] - towards) * kept[i - 1]
    return np.moveaxis(result, 0, -1)

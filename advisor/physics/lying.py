"""What lies on the aircraft and on the apron over a night, and what fell on an aircraft while it stood outside.

The apron was outside all night; the aircraft since it was parked. Where nobody said since when, the adverse cases take
it for as long as the reports go back, the central one from now. Each store is worked out twice: with only what is
known to have fallen (it lies there whatever came on top), and with the most that may have fallen where nobody knows.
Something lies where the first says so, nothing where the second has nothing, and anything else is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import NO, UNKNOWN, YES, Codes, Conditions, Floats
from advisor.physics import deposits, flags, moisture, precipitation

# ice pellets as water, mm/h, by loss variant: moderate ones, with a factor of three either way (ours)
ICE_PELLETS_MM_H = {"low": 0.4, "central": 1.2, "high": 3.6}
# what is known to have fallen, but not how much of it (a remark, a recent-weather group), mm/h: enough to lie (ours)
AT_LEAST_MM_H = 0.05
# the most that may have fallen where nobody knows: heavy snow and rain, frost at the limit that dew has (ours)
MOST_MM_H, MOST_FROST_G_M2_H = 10.0, 100.0
# no frost where the air is warmer than this, and no skin colder than the air by more than this, °C (ours, with room)
NO_FROST_ABOVE_C, SKIN_AT_MOST_BELOW_C = 15.0, 15.0
# what nobody saw fall is taken to have melted after so many hours in warmer air than this, in the case (ours)
MELTED_AFTER_H = 3.0
# frost thinner than this is not felt: it counts where it may form, not as something that lies there, mm of water
FELT_MM = 100 * deposits.TRACE_MM
# snow that drifts lies: as water, mm/h of drifting, and where a depth was measured, mm (ours)
DRIFTING_MM_H, MEASURED_SNOW_MM = 1.0, 5.0


@dataclass(frozen=True)
class Lying:
    """What lies on one thing: flags (case, time).

    anything: at all, with what forms up to each time. lies: snow, ice, or frost that had grown by now and is felt.
    """

    anything: Codes
    lies: Codes
    snow: Codes
    wet_or_ice: Codes
    snow_accumulated_mm: Floats
    rain_accumulated_mm: Floats


def outside_since_s(conditions: Conditions) -> Floats:
    """Since when the aircraft is taken to have been outside in each case, (case, 1), seconds since 1970 UTC.

    Source: case-table.
    """
    since = conditions.parked_since_s
    unknown = [-np.inf if case.lasts else conditions.now_s for case in conditions.cases]
    return np.array(unknown if np.isnan(since) else [since] * len(conditions.cases))[:, None]


def lying(conditions: Conditions) -> tuple[Lying, Lying]:
    """What lies on the aircraft and on the apron. Needs what derive has made before.

    Source: invented-default, see deposits.
    """
    made, melted = gathered(conditions), _melted(conditions)
    grown = np.searchsorted(conditions.unix_s, conditions.now_s, side="right") - 1
    skin = np.broadcast_to(conditions.columns["wing_skin_temperature_c"], conditions.shape)
    # under a sky that nobody described the skin is a bound for frost, not for what melts
    undescribed = np.broadcast_to(np.asarray(conditions.columns.get("cumulonimbus", NO)) == UNKNOWN, conditions.shape)
    lost = np.maximum.accumulate(np.isnan(skin) | undescribed, axis=1)
    return _one(made, 0, melted, lost, int(grown)), _one(made, 1, melted, lost, int(grown))


def _melted(conditions: Conditions) -> NDArray[np.bool_]:
    """Where it has been so warm for so long that no history is needed to rule frost and snow out, (case, time)."""
    air = np.broadcast_to(conditions.columns["air_temperature_c"], conditions.shape)
    cold_s = np.where(air > precipitation.FROZEN_BELOW_C, -np.inf, conditions.unix_s)
    warm: NDArray[np.bool_] = conditions.unix_s - np.maximum.accumulate(cold_s, axis=1) >= MELTED_AFTER_H * 3600.0
    return warm


def gathered(conditions: Conditions) -> deposits.Deposits:
    """What gathers over the times, from nothing at the first, (4, case, time).

    The aircraft and the apron with what is known to have fallen, then both with the most that may have.
    Source: invented-default, see deposits.
    """
    columns, shape = conditions.columns, conditions.shape
    unix_s = conditions.unix_s
    sure, most = _flows(conditions)
    out = (unix_s >= outside_since_s(conditions)).astype(np.float64)
    depth = np.broadcast_to(columns["snow_depth"], shape)[:, 0] == YES
    apron_snow = np.where(depth & np.array([case.lasts for case in conditions.cases]), MEASURED_SNOW_MM, 0.0)
    drifts = np.broadcast_to(columns["blowing_snow"], shape)

    def stacked(name: str) -> Floats:
        """Of one flow: the aircraft and the apron with what is sure, then both with the most that may be."""
        rows = []
        for flow, drifting in ((sure[name], drifts == YES), (most[name], drifts != NO)):
            extra = np.where(drifting, DRIFTING_MM_H, 0.0) if name == "frozen" else 0.0
            rows += [flow * out, flow + extra]
        return np.stack(rows)

    skin = np.broadcast_to(columns["wing_skin_temperature_c"], shape)
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    coldest = np.where(np.isnan(skin), np.where(np.isnan(air), -1.0, air - SKIN_AT_MOST_BELOW_C), skin)
    vapour = moisture.saturation_pressure_pa(np.broadcast_to(columns["dew_point_c"], shape))
    start = np.zeros((4, shape[0]))
    start[1] = start[3] = apron_snow
    return deposits.integrate(
        unix_s,
        np.stack([skin, skin, coldest, coldest]),
        frost_growth_g_m2_h=stacked("frost"),
        frozen_mm_h=stacked("frozen"),
        liquid_mm_h=stacked("liquid"),
        freezing_mm_h=stacked("freezing"),
        vapour_pressure_pa=np.broadcast_to(vapour, (4, *shape)),
        start_snow_mm=start,
        treated_at_s=conditions.treated_at_s,
        treated=np.array([True, False, True, False])[:, None],
    )


def _flows(conditions: Conditions) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """What falls and grows, mm/h and g/m²h: what is known to, and the most that may."""
    columns, shape = conditions.columns, conditions.shape

    def column(name: str) -> NDArray[np.generic]:
        return np.broadcast_to(columns[name], shape)

    pellets, by_loss = column("ice_pellets"), np.array([ICE_PELLETS_MM_H[case.loss] for case in conditions.cases])
    frozen = columns["snow_rate_mm_h"] + np.where(pellets == YES, by_loss[:, None], np.where(pellets == NO, 0, np.nan))
    rain, freezes = column("rain_rate_mm_h"), column("freezing_precipitation")
    # where nothing falls, whether it would freeze does not matter
    freezing = np.where((freezes == NO) | (rain == 0.0), 0.0, np.where(freezes == YES, rain, np.nan))
    liquid = np.where((freezes == YES) | (rain == 0.0), 0.0, rain)
    sure, most = {}, {}
    rates = (("frozen", frozen), ("freezing", freezing), ("liquid", liquid))
    spells = {
        "frozen": flags.any_of(column("seen_snow"), column("seen_pellets")),
        "freezing": column("seen_freezing"),
        "liquid": column("seen_rain"),
    }
    for name, rate in rates:
        seen = spells[name]
        # a spell between two reports, or one that no report gave an amount for
        sure[name] = np.where(seen == YES, np.fmax(np.nan_to_num(rate), AT_LEAST_MM_H), np.nan_to_num(rate))
        most[name] = np.where(np.isnan(rate) | (seen == UNKNOWN), MOST_MM_H, np.fmax(rate, sure[name]))
    cold = ~(column("air_temperature_c").astype(np.float64) > NO_FROST_ABOVE_C)
    growth = column("frost_growth_g_m2_h").astype(np.float64)
    sure["frost"] = np.nan_to_num(growth)
    most["frost"] = np.where(np.isnan(growth), np.where(cold, MOST_FROST_G_M2_H, 0.0), growth)
    warm = column("air_temperature_c").astype(np.float64) > precipitation.FROZEN_BELOW_C
    for name in ("frozen", "freezing"):
        most[name] = np.where(warm & (most[name] == MOST_MM_H), 0.0, most[name])
    return sure, most


def _one(made: deposits.Deposits, which: int, melted: NDArray[np.bool_], lost: NDArray[np.bool_], now: int) -> Lying:
    """The aircraft (0) or the apron (1) out of the four stacked rows of tables.

    melted: where three warm hours have passed; lost: where the skin was not known at some time before; now: its index.
    """
    sure, most = which, which + 2

    def told(there: Codes | NDArray[np.bool_], may: Codes | NDArray[np.bool_]) -> Codes:
        return np.where(there == YES, YES, np.where(may == NO, NO, UNKNOWN)).astype(np.int8)

    def thawed(flag: Codes) -> Codes:
        return np.where(melted & (flag == UNKNOWN), NO, flag).astype(np.int8)

    def held(store: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        return store[sure] > deposits.TRACE_MM, ~(store[most] <= deposits.TRACE_MM)

    def thin(row: int) -> NDArray[np.bool_]:
        """Nothing but frost that had not grown thick enough by now to be felt."""
        frost = np.minimum(made.frost_mm[row], made.frost_mm[row][:, now : now + 1]) if now >= 0 else 0.0
        bare: NDArray[np.bool_] = (made.snow_mm[row] <= deposits.TRACE_MM) & (made.ice_mm[row] <= deposits.TRACE_MM)
        return bare & (frost < FELT_MM)

    lies = told((made.lying[sure] == YES) & ~thin(sure), (made.lying[most] != NO) & ~thin(most))
    snow = thawed(told(*held(made.snow_mm)))
    ice = held(made.ice_mm)
    accumulated = [
        np.where(table[sure] == table[most], table[sure], np.nan)
        for table in (made.snow_accumulated_mm, made.rain_accumulated_mm)
    ]
    # what has melted is not asked about any more
    accumulated[0] = np.where(snow == NO, 0.0, accumulated[0])
    return Lying(
        thawed(told(made.lying[sure], made.lying[most])),
        thawed(lies),
        snow,
        # under a skin that nobody knows what may lie there may as well have melted
        told((made.wet[sure] == YES) | ice[0], (made.wet[most] != NO) | ice[1] | (lost & (made.lying[most] != NO))),
        accumulated[0],
        accumulated[1],
    )


def while_parked(conditions: Conditions) -> None:
    """Add the worst of wind, hail, storm and squall since the aircraft was parked, as observed up to now.

    Source: common-practice.
    """
    columns, shape = conditions.columns, conditions.shape
    unix_s = conditions.unix_s
    past = unix_s <= conditions.now_s
    there = past & (unix_s >= outside_since_s(conditions))
    gust = np.maximum(np.broadcast_to(columns["seen_gust_kt"], shape), columns["peak_wind_kt"])
    columns["gust_while_parked_kt"] = np.maximum.accumulate(np.where(there, gust, 0.0), axis=1)
    up_to_now = (unix_s <= conditions.now_s) & (unix_s >= outside_since_s(conditions))
    for name in ("hail", "thunderstorm", "squall", "frozen"):
        said = "frozen_precipitation" if name == "frozen" else name
        # in a gap between reports nobody knows what came
        flag = "storm_said" if name == "thunderstorm" else said
        there_then = np.broadcast_to(columns[flag], shape)
        # what only stays possible, since its report is hours old, is not known either
        faded = (there_then == UNKNOWN) | ((there_then == YES) & (there_then[:1] == NO))
        lost = np.where(past & faded, UNKNOWN, NO)
        seen = flags.any_of(columns[f"seen_{name}"], lost)
        columns[f"{said}_while_parked"] = _ever(np.where(up_to_now, seen, NO).astype(np.int8))


def _ever(seen: Codes) -> Codes:
    """Yes from the first time at which it was seen, not known from the first at which nobody knows."""
    yes, unknown = (np.maximum.accumulate(seen == value, axis=1) for value in (YES, UNKNOWN))
    return np.where(yes, YES, np.where(unknown, UNKNOWN, NO)).astype(np.int8)


def slippery(conditions: Conditions, apron: Lying | None) -> Codes:
    """Whether the ground may be slippery, (case, time): what falls, lies there, was wet and froze, or fog in frost.

    Source: common-practice.
    """
    columns, shape = conditions.columns, conditions.shape
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    cold = flags.below(air, 0.0, included=True)
    wet = flags.any_of(columns["rain"], columns["drizzle"])
    parts = [
        columns["frozen_precipitation"],
        columns["freezing_after_wet"],
        flags.all_of(flags.any_of(columns["fog"], columns["mist"]), cold),
        flags.all_of(wet, flags.below(air, 1.0, included=True)),
    ]
    if apron is not None:
        parts += [apron.lies, flags.all_of(apron.wet_or_ice, cold)]
    return flags.any_of(*parts)

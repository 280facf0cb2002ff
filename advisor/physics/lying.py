"""What lies on the aircraft and on the apron over a night, and what fell on an aircraft while it stood outside.

The apron was outside all night; the aircraft since it was parked. Where nobody said since when, the adverse cases take
it for as long as the reports go back, the central one from now. Each store is worked out twice: with only what is
known to have fallen (it lies there whatever came on top), and with the most that may have fallen where nobody knows.
Something lies where the first says so, nothing where the second has nothing, and anything else is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.conditions import LOSSES, NO, UNKNOWN, YES, Codes, Columns, Conditions, Floats, Masks
from advisor.physics import deposits, flags, moisture, precipitation
from advisor.quantities.units import HOUR_S

# ice pellets as water, mm/h, by loss variant: moderate ones, with a factor of three either way (ours)
ICE_PELLETS_MM_H = {"low": 0.4, "central": 1.2, "high": 3.6}
# what is known to have fallen, but not how much of it (a remark, a recent-weather group), mm/h: enough to lie (ours)
AT_LEAST_MM_H = 0.05
# the most that may have fallen where nobody knows: more than heavy snow with pellets, frost at the limit that dew has
# (ours); of rain as much as heavy rain brings in the case
MOST_FROZEN_MM_H, MOST_FROST_G_M2_H = 10.0, 100.0
# no frost where the air is warmer than this, and no skin colder than the air by more than this, °C (ours, with room)
NO_FROST_ABOVE_C, SKIN_AT_MOST_BELOW_C = 15.0, 15.0
# what nobody saw fall is taken to have melted after so many hours in warmer air than this, in the case (ours)
MELTED_AFTER_H = 3.0
# frost thinner than this is not felt: it counts where it may form, not as something that lies there, mm of water
FELT_MM = 100 * deposits.TRACE_MM
# what was there while it was parked: the flag as reported, and as observed at the time
WHILE_PARKED = {
    "hail_while_parked": ("hail", "seen_hail"),
    "thunderstorm_while_parked": ("storm_said", "seen_thunderstorm"),
    "squall_while_parked": ("squall", "seen_squall"),
    "frozen_precipitation_while_parked": ("frozen_precipitation", "seen_frozen"),
}
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
    """Since when the aircraft is taken to have been outside in each case.

    Parameters
    ----------
    conditions
        With their times, and what was said of the aircraft.

    Returns
    -------
    Floats
        Seconds since 1970 UTC, (case, 1).

    References
    ----------
    case-table
    """
    since = conditions.parked_since_s
    unknown = [-np.inf if case.lasts else conditions.now_s for case in conditions.cases]
    return np.array(unknown if np.isnan(since) else [since] * len(conditions.cases))[:, None]


def lying(conditions: Conditions) -> tuple[Lying, Lying]:
    """What lies on the aircraft and on the apron.

    Parameters
    ----------
    conditions
        With what the stages before it have given.

    Returns
    -------
    tuple[Lying, Lying]
        Aircraft and apron.

    References
    ----------
    invented-default: see deposits
    """
    stores, melted = gathered(conditions), _melted(conditions)
    grown = np.searchsorted(conditions.unix_s, conditions.now_s, side="right") - 1
    lost = np.maximum.accumulate(untold(conditions), axis=1)
    by_now = stores.frost_mm[..., grown : grown + 1] if grown >= 0 else np.zeros((*stores.frost_mm.shape[:-1], 1))
    return one(stores, 0, melted, lost, by_now), one(stores, 1, melted, lost, by_now)


def untold(conditions: Conditions) -> Masks:
    """Where the skin does not say what melts: not known, or worked out under a sky or in a wind that nobody told.

    Parameters
    ----------
    conditions
        With what the stages before it have given.

    Returns
    -------
    Masks
        (case, time). There the skin is a bound for frost, not for what melts.

    References
    ----------
    invented-default: see deposits
    """
    lost = np.isnan(conditions.number("wing_skin_temperature_c")) | np.isnan(conditions.number("wind_kt"))
    unbound: Masks = lost | (conditions.flag("sky_undescribed") != NO)
    return unbound


def _melted(conditions: Conditions) -> Masks:
    """Where it has been so warm for so long that no history is needed to rule frost and snow out, (case, time)."""
    air = conditions.number("air_temperature_c")
    cold_s = np.where(air > precipitation.FROZEN_BELOW_C, -np.inf, conditions.unix_s)
    warm: Masks = conditions.unix_s - np.maximum.accumulate(cold_s, axis=1) >= MELTED_AFTER_H * HOUR_S
    return warm


def gathered(conditions: Conditions) -> deposits.Deposits:
    """What gathers over the times, from nothing at the first.

    Parameters
    ----------
    conditions
        With what the stages before it have given.

    Returns
    -------
    deposits.Deposits
        (4, case, time): the aircraft and the apron with what is known to have fallen, then both with the most that may
        have.

    References
    ----------
    invented-default: see deposits
    """
    unix_s = conditions.unix_s
    sure, most = flows(conditions)
    out = (unix_s >= outside_since_s(conditions)).astype(np.float64)
    depth = conditions.flag("snow_depth")[:, 0] == YES
    apron_snow = np.where(depth & conditions.lasts[:, 0], MEASURED_SNOW_MM, 0.0)
    drifts = conditions.flag("blowing_snow")
    looked_s = -np.inf if conditions.nothing_seen_at_s is None else conditions.nothing_seen_at_s

    def stacked(name: str) -> Floats:
        """Of one flow: the aircraft and the apron with what is sure, then both with the most that may be."""
        rows = []
        # what somebody saw nothing of had not formed; of what fell before some may be clear ice, which nobody sees
        seen = np.where(unix_s < looked_s, 0.0, 1.0) if name == "frost" else 1.0
        for flow, drifting in ((sure[name], drifts == YES), (most[name], drifts != NO)):
            extra = np.where(drifting, DRIFTING_MM_H, 0.0) if name == "frozen" else 0.0
            rows += [flow * out * seen, flow + extra]
        return np.stack(rows)

    skin, coldest = conditions.number("wing_skin_temperature_c"), coldest_c(conditions)
    vapour = moisture.saturation_pressure_pa(conditions.number("dew_point_c"))
    start = np.zeros((4, conditions.shape[0]))
    start[1] = start[3] = apron_snow
    return deposits.integrate(
        unix_s,
        np.stack([skin, skin, coldest, coldest]),
        frost_growth_g_m2_h=stacked("frost"),
        frozen_mm_h=stacked("frozen"),
        liquid_mm_h=stacked("liquid"),
        freezing_mm_h=stacked("freezing"),
        vapour_pressure_pa=np.broadcast_to(vapour, (4, *conditions.shape)),
        start_snow_mm=start,
        treated_at_s=conditions.treated_at_s,
        treated=np.array([True, False, True, False])[:, None],
    )


def coldest_c(conditions: Conditions) -> Floats:
    """The coldest that the wing's skin may be, for what may lie on it and melt.

    Parameters
    ----------
    conditions
        With what the stages before it have given.

    Returns
    -------
    Floats
        °C, (case, time), nowhere NaN: the skin as it was worked out; where it was not known the most that it may lie
        below the air; under a sky that nobody described no warmer than the air, as the sun may not reach it.

    References
    ----------
    invented-default: see deposits
    """
    skin, air = conditions.number("wing_skin_temperature_c"), conditions.number("air_temperature_c")
    guess = np.where(np.isnan(air), -1.0, air - SKIN_AT_MOST_BELOW_C)
    shaded = np.where(conditions.flag("sky_undescribed") != NO, np.fmin(skin, air), skin)
    return np.where(np.isnan(skin), guess, shaded)


def most_mm_h(name: str, conditions: Conditions) -> Floats:
    """The most that may fall where nobody knows: no less than what any report may tell.

    Parameters
    ----------
    name
        "frozen", "freezing" or "liquid".
    conditions
        For their cases.

    Returns
    -------
    Floats
        mm of water an hour, (case, 1).

    References
    ----------
    wmo-8-rain-intensity
    invented-default: snow and pellets
    """
    heavy = dict(zip(LOSSES, precipitation.RAIN_MM_H["+"], strict=True))
    by_case = [MOST_FROZEN_MM_H if name == "frozen" else heavy[case.loss] for case in conditions.cases]
    return np.array(by_case)[:, None]


def flows(conditions: Conditions) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """What falls and grows: what is known to, and the most that may.

    Parameters
    ----------
    conditions
        With what the stages before it have given.

    Returns
    -------
    tuple[dict[str, Floats], dict[str, Floats]]
        "frozen", "freezing" and "liquid" in mm/h and "frost" in g/m²h, each (case, time): sure, and most.

    References
    ----------
    invented-default: what nobody gave an amount for
    """
    flag = conditions.flag
    pellets, by_loss = flag("ice_pellets"), np.array([ICE_PELLETS_MM_H[case.loss] for case in conditions.cases])
    frozen = conditions.number("snow_rate_mm_h") + np.where(
        pellets == YES, by_loss[:, None], np.where(pellets == NO, 0, np.nan)
    )
    rain, freezes = conditions.number("rain_rate_mm_h"), flag("freezing_precipitation")
    # where nothing falls, whether it would freeze does not matter
    freezing = np.where((freezes == NO) | (rain == 0.0), 0.0, np.where(freezes == YES, rain, np.nan))
    # of what freezes and has no name some may be rain
    liquid = np.where(((freezes == YES) & ~np.isnan(rain)) | (rain == 0.0), 0.0, rain)
    sure, most, unknown = {}, {}, {}
    rates = (("frozen", frozen), ("freezing", freezing), ("liquid", liquid))
    spells = {
        "frozen": flags.any_of(flag("seen_snow"), flag("seen_pellets")),
        "freezing": flag("seen_freezing"),
        "liquid": flag("seen_rain"),
    }
    for name, rate in rates:
        seen = spells[name]
        # a spell between two reports, or one that no report gave an amount for
        sure[name] = np.where(seen == YES, np.fmax(np.nan_to_num(rate), AT_LEAST_MM_H), np.nan_to_num(rate))
        unknown[name] = np.isnan(rate) | (seen == UNKNOWN)
        least = np.fmax(rate, sure[name])
        most[name] = np.where(unknown[name], np.fmax(least, most_mm_h(name, conditions)), least)
    air, growth = conditions.number("air_temperature_c"), conditions.number("frost_growth_g_m2_h")
    cold = ~(air > NO_FROST_ABOVE_C)
    sure["frost"] = np.nan_to_num(growth)
    # calm bounds how cold a skin is, not how fast frost grows: air that moves brings more of it
    untold = np.isnan(growth) | (np.isnan(conditions.number("wind_kt")) & (growth > 0.0))
    most["frost"] = np.where(untold, np.fmax(sure["frost"], np.where(cold, MOST_FROST_G_M2_H, 0.0)), growth)
    warm = air > precipitation.FROZEN_BELOW_C
    for name in ("frozen", "freezing"):
        most[name] = np.where(warm & unknown[name], sure[name], most[name])
    return sure, most


def one(stores: deposits.Deposits, which: int, melted: Masks, lost: Masks, frost_by_now_mm: Floats) -> Lying:
    """What lies on the aircraft or on the apron, out of the four stacked rows of stores.

    Parameters
    ----------
    stores
        (4, case, time) as `gathered` gives it.
    which
        0 the aircraft, 1 the apron.
    melted
        Where three warm hours have passed, (case, time).
    lost
        Where the skin was not known at some time before, (case, time).
    frost_by_now_mm
        The frost that had grown by now, mm of water, broadcasting to (4, case, time).

    Returns
    -------
    Lying
        (case, time).

    References
    ----------
    invented-default: see deposits
    """
    sure, most = which, which + 2

    def told(there: Codes | Masks, may: Codes | Masks) -> Codes:
        # where the most that may lie there has gone, so has what was not known to
        return flags.coded((there == YES) & (may != NO), may != NO)

    def thawed(flag: Codes) -> Codes:
        return flags.only_where(flag, ~(melted & (flag == UNKNOWN)))

    def held(store: Floats) -> tuple[Masks, Masks]:
        return store[sure] > deposits.TRACE_MM, ~(store[most] <= deposits.TRACE_MM)

    def thin(row: int) -> Masks:
        """Nothing but frost that had not grown thick enough by now to be felt."""
        frost = np.minimum(stores.frost_mm[row], frost_by_now_mm[row])
        bare: Masks = (stores.snow_mm[row] <= deposits.TRACE_MM) & (stores.ice_mm[row] <= deposits.TRACE_MM)
        bare &= frost < FELT_MM
        return bare

    lies = told((stores.lying[sure] == YES) & ~thin(sure), (stores.lying[most] != NO) & ~thin(most))
    snow = thawed(told(*held(stores.snow_mm)))
    accumulated = [
        np.where(table[sure] == table[most], table[sure], np.nan)
        for table in (stores.snow_accumulated_mm, stores.rain_accumulated_mm)
    ]
    # what has melted is not asked about any more
    accumulated[0] = np.where(snow == NO, 0.0, accumulated[0])
    return Lying(
        thawed(told(stores.lying[sure], stores.lying[most])),
        thawed(lies),
        snow,
        # under a skin that nobody knows what may lie there may as well have melted
        told(stores.wet_or_ice[sure] == YES, (stores.wet_or_ice[most] != NO) | (lost & (stores.lying[most] != NO))),
        accumulated[0],
        accumulated[1],
    )


def while_parked(conditions: Conditions) -> Columns:
    """The worst of wind, hail, storm and squall since the aircraft was parked, as observed up to now.

    Parameters
    ----------
    conditions
        With what was observed.

    Returns
    -------
    Columns
        By the names of the vocabulary.

    References
    ----------
    common-practice
    """
    past = conditions.unix_s <= conditions.now_s
    there = past & (conditions.unix_s >= outside_since_s(conditions))
    gust = np.maximum(conditions.number("seen_gust_kt"), conditions.number("peak_wind_kt"))
    columns: Columns = {"gust_while_parked_kt": np.maximum.accumulate(np.where(there, gust, 0.0), axis=1)}
    for name, (reported, observed) in WHILE_PARKED.items():
        reported_flag = conditions.flag(reported)
        # what only stays possible, since its report is hours old, is not known either; nor is what came in a gap
        faded = (reported_flag == UNKNOWN) | ((reported_flag == YES) & (reported_flag[:1] == NO))
        lost = np.where(past & faded, UNKNOWN, NO)
        seen = flags.any_of(conditions.flag(observed), lost)
        columns[name] = _ever(np.where(there, seen, NO).astype(np.int8))
    return columns


def _ever(seen: Codes) -> Codes:
    """Yes from the first time at which it was seen, not known from the first at which nobody knows."""
    yes, unknown = (np.maximum.accumulate(seen == value, axis=1) for value in (YES, UNKNOWN))
    return flags.coded(yes, unknown)

"""What the night is about: each hazard with how sure it is and from when to when. Pure, from the conditions alone."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np
from numpy.typing import NDArray

from advisor.brief.model import Certain, HazardOut
from advisor.conditions import NO, YES, Conditions
from advisor.departure import rfc3339

Mask = NDArray[np.bool_]
# common practice: a gust from which steps and loose things move
GUST_KT = 28.0
# gusts weaker by so much are told beside the strongest (ours)
LULL_KT = 5.0
# a gust after which damage is looked for, as the rule for a gale has it (ours)
GALE_KT = 45.0
# frost is asked about in air up to this, °C (ours, as the rule for de-icing has it)
FROST_AIR_C = 15.0
# where the lines on heat and cold insist (heat index from 41 in air from 27, wind chill to -27 in air to 10, °C)
HEAT_INDEX_C, HEAT_AIR_C = 41.0, 27.0
WIND_CHILL_C, CHILL_AIR_C = -27.0, 10.0


class _Hazard(msgspec.Struct, frozen=True):
    """One hazard. words: as it is said; where: (case, time) at which it is there; beside: what says it already."""

    key: str
    words: str
    where: Callable[[Conditions], Mask]
    beside: tuple[str, ...] = ()


def _flag(name: str) -> Callable[[Conditions], Mask]:
    def where(conditions: Conditions) -> Mask:
        met: Mask = conditions.flag(name) == YES
        return met

    return where


def _frost(conditions: Conditions) -> Mask:
    met: Mask = (conditions.number("frost_margin_c") > 0) & (conditions.number("air_temperature_c") <= FROST_AIR_C)
    return met


def _deposit(conditions: Conditions) -> Mask:
    seen, lies = conditions.flag("deposit_seen") == YES, conditions.flag("deposit_lies") == YES
    met: Mask = lies & ~seen
    return met


def _snow(conditions: Conditions) -> Mask:
    met: Mask = (conditions.flag("snow_on_aircraft") == YES) & (conditions.flag("deposit_seen") != YES)
    return met


def _gust(conditions: Conditions) -> Mask:
    met: Mask = conditions.number("gust_kt") >= GUST_KT
    return met


def _heat(conditions: Conditions) -> Mask:
    met: Mask = (conditions.number("heat_index_c") >= HEAT_INDEX_C) & (
        conditions.number("air_temperature_c") >= HEAT_AIR_C
    )
    return met


def _cold(conditions: Conditions) -> Mask:
    met: Mask = (conditions.number("wind_chill_c") <= WIND_CHILL_C) & (
        conditions.number("air_temperature_c") <= CHILL_AIR_C
    )
    return met


def _tanks(conditions: Conditions) -> Mask:
    met: Mask = (conditions.number("tank_frost_margin_c") > 0) & (conditions.flag("fuel_temperature_assumed") == NO)
    return met


def _gale(conditions: Conditions) -> Mask:
    met: Mask = conditions.number("gust_while_parked_kt") >= GALE_KT
    return met


# rain in air at or below 0 °C counts as freezing whatever its code
MAY_FREEZE = "freezing precipitation or rain near 0 °C"
_FREEZING = ("freezing-rain", "freezing-drizzle")
_FREEZES = (*_FREEZING, "freezing-precipitation")
_FROZEN = (*_FREEZES, "snow", "ice-pellets")
_STORMS = ("thunderstorm", "parked-storm")
_COLD = ("ice-pellets", "snow", "blowing-snow", "freezing-fog", "lying-snow", "deposit", "frost")
# the gravest first, common practice
_HAZARDS = (
    _Hazard("funnel-cloud", "funnel cloud or tornado", _flag("funnel_cloud")),
    _Hazard("volcanic-ash", "volcanic ash", _flag("volcanic_ash")),
    _Hazard("thunderstorm", "thunderstorm", _flag("thunderstorm")),
    _Hazard("hail", "hail", _flag("hail")),
    _Hazard("freezing-rain", "freezing rain", _flag("freezing_rain")),
    _Hazard("freezing-drizzle", "freezing drizzle", _flag("freezing_drizzle")),
    _Hazard("freezing-precipitation", MAY_FREEZE, _flag("freezing_precipitation"), _FREEZING),
    _Hazard("ice-pellets", "ice pellets", _flag("ice_pellets")),
    _Hazard("snow", "snow", _flag("snow")),
    _Hazard("blowing-snow", "blowing snow", _flag("blowing_snow")),
    _Hazard("freezing-fog", "freezing fog", _flag("freezing_fog")),
    _Hazard("unknown", "precipitation of a kind not told", _flag("unknown_precipitation")),
    _Hazard("seen", "{seen}", _flag("deposit_seen")),
    _Hazard("frost", "frost", _frost, _FROZEN),
    _Hazard("tank-frost", "ice or frost over the tanks", _tanks, ("frost",)),
    _Hazard("lying-snow", "snow from before", _snow, _FROZEN),
    _Hazard("deposit", "frost, snow or ice from before", _deposit, (*_FROZEN, "frost", "lying-snow")),
    _Hazard("squall", "squalls", _flag("squall")),
    _Hazard("gust", "gusts to {most}", _gust),
    _Hazard("parked-storm", "thunderstorm since parked", _flag("thunderstorm_while_parked"), ("thunderstorm",)),
    _Hazard("recent-storm", "thunderstorm within two hours", _flag("recent_thunderstorm"), _STORMS),
    _Hazard("recent-funnel", "funnel cloud or tornado within two hours", _flag("recent_funnel"), ("funnel-cloud",)),
    _Hazard("parked-hail", "hail since parked", _flag("hail_while_parked"), ("hail",)),
    _Hazard("recent-hail", "hail within two hours", _flag("recent_hail"), ("hail", "parked-hail")),
    _Hazard("parked-squall", "squalls since parked", _flag("squall_while_parked"), ("squall",)),
    _Hazard("parked-gust", "gusts to {parked:.0f} kt since parked", _gale, ("gust",)),
    _Hazard("heat", "dangerous heat", _heat),
    _Hazard("cold", "dangerous cold", _cold),
    _Hazard("dust", "dust or sand", _flag("dust_or_sand")),
    _Hazard("refreezing", "wet surfaces that freeze", _flag("freezing_after_wet"), _FREEZES),
    _Hazard("slippery", "slippery ground", _flag("slippery_surface"), (*_FREEZES, *_COLD, "refreezing")),
    _Hazard("fog", "fog", _flag("fog"), ("freezing-fog",)),
    _Hazard("rain", "rain", _flag("rain"), _FREEZES),
    _Hazard("drizzle", "drizzle", _flag("drizzle"), _FREEZES),
    _Hazard("dark", "dark", _flag("dark")),
)
#: What is over, and may have left something behind: of when it was, not of when it will be.
PAST = ("recent-funnel", "parked-storm", "recent-storm", "parked-hail", "recent-hail", "parked-squall", "parked-gust")
#: Of each hazard, by key, those that say it as well.
BESIDE = {hazard.key: hazard.beside for hazard in _HAZARDS}


def hazards(conditions: Conditions, seen: str) -> tuple[HazardOut, ...]:
    """Hazards from the first time of the conditions to the last, the gravest first.

    A hazard that another one says already is left out where it is no surer and lasts no longer. from, until: the first
    and last time in any case, central_from, central_until: in the central one. seen: what somebody saw, and when.
    """
    hazard_by_key: dict[str, HazardOut] = {}
    for hazard in _HAZARDS:
        met = hazard.where(conditions)
        by_case: Mask = np.atleast_1d(met.any(axis=1))
        if not by_case.any():
            continue
        status: Certain = "expected" if by_case.all() else "likely" if by_case[0] else "possible"
        rows = met[:1] if by_case[0] else met
        first, last = _ends(met, conditions)
        surer_from, surer_until = _ends(rows, conditions)
        if any(_says(hazard_by_key.get(other), status, first, last) for other in hazard.beside):
            continue
        groups = tuple(
            dict.fromkeys(
                case.lane for case, there in zip(conditions.cases, by_case, strict=True) if there and case.lane
            )
        )
        bare = any(there and not case.lane for case, there in zip(conditions.cases, by_case, strict=True))
        text = hazard.words.format(
            most=_gusts(conditions) if hazard.key == "gust" else "",
            parked=_most(conditions, "gust_while_parked_kt") if hazard.key == "parked-gust" else 0,
            seen=seen,
        )
        if np.isnan(conditions.parked_since_s):
            text = text.replace(" since parked", " in the reports before")
        hazard_by_key[hazard.key] = HazardOut(
            hazard.key, text, status, first, last, surer_from, surer_until, () if bare else groups
        )
    return tuple(hazard_by_key.values())


def _most(conditions: Conditions, quantity: str) -> float:
    return float(np.nanmax(conditions.number(quantity)))


def _gusts(conditions: Conditions) -> str:
    """The strongest gust; where it is over before the wind is, what may come after it as well."""
    by_time = np.nan_to_num(conditions.number("gust_kt")).max(axis=0)
    strongest = float(by_time.max())
    after = by_time[np.flatnonzero(by_time > strongest - LULL_KT)[-1] + 1 :]
    later = float(after.max()) if after.size else 0.0
    return f"{strongest:.0f} kt" + (f", later to {later:.0f} kt" if later >= GUST_KT else "")


def _ends(met: Mask, conditions: Conditions) -> tuple[str, str]:
    times = np.flatnonzero(met.any(axis=0))
    return rfc3339(float(conditions.unix_s[times[0]])), rfc3339(float(conditions.unix_s[times[-1]]))


_SURE = ("possible", "likely", "expected")


def _says(other: HazardOut | None, status: str, first: str, last: str) -> bool:
    """Whether another hazard is at least as sure and covers the time."""
    if other is None:
        return False
    return _SURE.index(other.status) >= _SURE.index(status) and other.from_ <= first and other.until >= last

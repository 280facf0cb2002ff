"""What lies on aircraft and apron, what is wet and freezes, and how the ground is underfoot."""

from __future__ import annotations

import numpy as np

from advisor.conditions import NO, UNKNOWN, YES, Airframe, Codes, Columns, Conditions
from advisor.physics import flags, lying
from advisor.physics.stages.stage import Stage

# what ended lies or clings in air of this warmth or colder, °C (common practice)
CLINGS_BELOW_C = 3.0
# rain this close above 0 °C may freeze where it lands, °C (common practice)
WET_FREEZES_BELOW_C = 1.0
# in warmer air no skin cools to zero by itself, whatever the sky and the damp (ours, as the rules for frost have it)
SKIN_FREEZES_BELOW_C = 15.0


def _lying(conditions: Conditions, airframe: Airframe) -> Columns:
    aircraft, apron = lying.lying(conditions)
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


def _while_parked(conditions: Conditions, airframe: Airframe) -> Columns:
    return lying.while_parked(conditions)


def _or_no(conditions: Conditions, name: str) -> Codes:
    """A flag of what lay there before; no where nobody has worked it out, as for reports of an archive."""
    if name not in conditions.columns:
        return np.full(conditions.shape, NO, dtype=np.int8)
    return conditions.flag(name)


def _moisture(conditions: Conditions, airframe: Airframe) -> Columns:
    falling = (conditions.flag(name) for name in ("rain", "drizzle", "fog", "mist"))
    above_zero = flags.above(conditions.number("air_temperature_c"), 0.0)
    dewy = flags.all_of(flags.above(conditions.number("dew_margin_c"), 0.0), above_zero)
    below_dew_c = conditions.number("dew_point_c") - conditions.number("tank_skin_temperature_c")
    tank_dewy = flags.above(below_dew_c, 0.0)
    # as for dew: under a clear sky a mild skin may be colder than the bound says
    undescribed = conditions.flag("sky_undescribed") != NO
    tank_dewy = flags.coded(tank_dewy == YES, undescribed | (tank_dewy == UNKNOWN))
    return {"moisture": flags.any_of(*falling, dewy, tank_dewy)}


def _deposits(conditions: Conditions, airframe: Airframe) -> Columns:
    air, lasts = conditions.number("air_temperature_c"), conditions.lasts
    # what ended lies in the adverse cases while it is cold, whatever the aircraft's own history but a treatment
    clings = flags.below(air, CLINGS_BELOW_C, included=True)
    ended = flags.only_where(flags.all_of(conditions.flag("recent_frozen"), clings), lasts)
    built = flags.any_of(conditions.flag("ice_reported"), conditions.flag("frost_reported"))
    iced = flags.all_of(built, np.where(lasts, clings, flags.below(air, 0.0, included=True)))
    told = (conditions.flag("deposit_seen"), flags.all_of(ended, _since_treated(conditions, "seen_frozen")), iced)
    known = "aircraft_snow" in conditions.columns
    # snow that the newest report says has ended is in no report of its own; what was treated since is another matter
    snowed = (
        flags.all_of(conditions.flag(f"recent_{kind}"), _since_treated(conditions, f"seen_{kind}"))
        for kind in ("snow", "pellets")
    )
    left = flags.only_where(flags.all_of(flags.any_of(*snowed), clings), lasts)
    return {
        "deposit_possible": flags.any_of(*told, _or_no(conditions, "aircraft_anything")),
        "deposit_lies": flags.any_of(*told, _or_no(conditions, "aircraft_lies")),
        "snow_on_aircraft": flags.any_of(conditions.flag("aircraft_snow"), left) if known else ended,
        "ended_lies": flags.any_of(ended, iced),
    }


def _since_treated(conditions: Conditions, seen: str) -> Codes:
    """Whether a treatment leaves what was seen: yes before it and without one, later where it was seen since."""
    after = conditions.flag("treated") == YES
    met = flags.only_where(conditions.flag(seen), after)
    yes, unknown = (np.logical_or.accumulate(met == value, axis=1) for value in (YES, UNKNOWN))
    return flags.coded(yes | ~after, unknown)


def _freezing(conditions: Conditions, airframe: Airframe) -> Columns:
    # water that melted or fell before and has not dried, and what of it has frozen since
    names = ("rain", "drizzle", "recent_rain")
    wet = flags.any_of(*(conditions.flag(name) for name in names), _or_no(conditions, "aircraft_wet_or_ice"))
    air, skin = conditions.number("air_temperature_c"), conditions.number("wing_skin_temperature_c")
    # of a skin that nobody can tell this much is known: no sky takes it that far below its air
    skin = np.where(np.isnan(skin) & (air > SKIN_FREEZES_BELOW_C), air, skin)
    freezing = flags.any_of(flags.below(air, 0.0, included=True), flags.below(skin, 0.0, included=True))
    return {"freezing_after_wet": flags.all_of(wet, freezing)}


def _underfoot(conditions: Conditions, airframe: Airframe) -> Columns:
    """Whether the ground may be slippery: what falls, lies there, was wet and froze, or fog in frost."""
    air = conditions.number("air_temperature_c")
    cold = flags.below(air, 0.0, included=True)
    near_zero = flags.below(air, WET_FREEZES_BELOW_C, included=True)
    slippery = flags.any_of(
        conditions.flag("frozen_precipitation"),
        conditions.flag("freezing_after_wet"),
        # a treatment leaves the ground as wet as it was
        flags.all_of(_or_no(conditions, "treated"), conditions.flag("recent_precipitation"), cold),
        flags.all_of(flags.any_of(conditions.flag("fog"), conditions.flag("mist")), cold),
        flags.all_of(flags.any_of(conditions.flag("rain"), conditions.flag("drizzle")), near_zero),
        _or_no(conditions, "apron_lies"),
        flags.all_of(_or_no(conditions, "apron_wet_or_ice"), cold),
        conditions.flag("ended_lies"),
    )
    drifting = conditions.flag("blowing_snow")
    return {
        "snow_on_ground": flags.any_of(drifting, _or_no(conditions, "apron_snow")),
        "slippery_surface": slippery,
    }


_FALLS = (
    "snow_rate_mm_h",
    "rain_rate_mm_h",
    "ice_pellets",
    "freezing_precipitation",
    "blowing_snow",
    "seen_snow",
    "seen_pellets",
    "seen_freezing",
    "seen_rain",
)
_STORED = (
    *_FALLS,
    "air_temperature_c",
    "dew_point_c",
    "wing_skin_temperature_c",
    "frost_growth_g_m2_h",
    "sky_undescribed",
    "wind_kt",
    "snow_depth",
)
LYING = Stage(
    name="lying",
    meaning="what gathers, melts, dries and freezes on the aircraft and on the apron over the night",
    gives=dict.fromkeys(
        (
            "aircraft_anything",
            "aircraft_lies",
            "aircraft_snow",
            "aircraft_wet_or_ice",
            "apron_lies",
            "apron_snow",
            "apron_wet_or_ice",
        ),
        _STORED,
    )
    | {
        "snow_accumulated_mm": ("snow_rate_mm_h", "ice_pellets", "seen_snow", "seen_pellets", "air_temperature_c"),
        "rain_accumulated_mm": ("rain_rate_mm_h", "freezing_precipitation", "seen_rain", "seen_freezing"),
    },
    work=_lying,
    source=("lewis-relation", "invented-default"),
    formula="each store: what falls or grows, less what melts, drains and dries",
    over_time=True,
    carries=True,
)
WHILE_PARKED = Stage(
    name="while parked",
    meaning="the worst of wind, hail, storm and squall since the aircraft was parked, as observed",
    gives={"gust_while_parked_kt": ("seen_gust_kt", "peak_wind_kt"), **lying.WHILE_PARKED},
    work=_while_parked,
    source=("common-practice",),
    over_time=True,
    carries=True,
    looks_back=True,
)
MOISTURE = Stage(
    name="moisture",
    meaning="anything wet, or a skin below the dew point",
    gives={
        "moisture": (
            "rain",
            "drizzle",
            "fog",
            "mist",
            "dew_margin_c",
            "air_temperature_c",
            "dew_point_c",
            "tank_skin_temperature_c",
            "sky_undescribed",
        ),
    },
    work=_moisture,
    source=("common-practice",),
)
_CLINGS = ("recent_frozen", "ice_reported", "frost_reported", "air_temperature_c")
_STAYS = (*_CLINGS, "treated", "seen_frozen")
DEPOSITS = Stage(
    name="deposits",
    meaning="what was seen, what ended and clings, and what gathered",
    gives={
        "deposit_possible": ("deposit_seen", *_STAYS, "aircraft_anything"),
        "deposit_lies": ("deposit_seen", *_STAYS, "aircraft_lies"),
        "snow_on_aircraft": (
            "aircraft_snow",
            "recent_snow",
            "recent_pellets",
            "recent_frozen",
            "seen_snow",
            "seen_pellets",
            "air_temperature_c",
            "treated",
        ),
        "ended_lies": _CLINGS,
    },
    work=_deposits,
    source=("common-practice", "case-table"),
    carries=True,
)
FREEZING = Stage(
    name="freezing after wet",
    meaning="wet before and at or below 0 °C, in the air or at the skin",
    gives={
        "freezing_after_wet": (
            "rain",
            "drizzle",
            "recent_rain",
            "aircraft_wet_or_ice",
            "air_temperature_c",
            "wing_skin_temperature_c",
        ),
    },
    work=_freezing,
    source=("common-practice",),
    carries=True,
)
UNDERFOOT = Stage(
    name="underfoot",
    meaning="snow on the ground, and whether the ground may be slippery",
    gives={
        "snow_on_ground": ("blowing_snow", "apron_snow"),
        "slippery_surface": (
            "frozen_precipitation",
            "freezing_after_wet",
            "treated",
            "recent_precipitation",
            "fog",
            "mist",
            "rain",
            "drizzle",
            "air_temperature_c",
            "apron_lies",
            "apron_wet_or_ice",
            "ended_lies",
        ),
    },
    work=_underfoot,
    source=("common-practice",),
    carries=True,
)

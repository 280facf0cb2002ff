"""What falls: what counts as frozen, how much of it, how treatment tables name it, and rime in mist."""

from __future__ import annotations

import numpy as np

from advisor.conditions import LOSSES, NO, YES, Airframe, Columns, Conditions
from advisor.physics import flags, snow, treatment
from advisor.physics.stages.stage import Stage

# hail in warmer air dents and melts: it asks for shelter and a look, not for treatment
HAIL_LIES_BELOW_C = 5.0
# rime in freezing mist: nearly saturated air under cloud that covers most of the sky close above, in frost (ours)
RIME_BELOW_C, RIME_HUMIDITY_PCT, RIME_CLOUD, RIME_BASE_M = -1.0, 95.0, 0.6, 300.0


def _frozen(conditions: Conditions, airframe: Airframe) -> Columns:
    hail = conditions.flag("hail")
    hail_lies = flags.all_of(hail, flags.below(conditions.number("air_temperature_c"), HAIL_LIES_BELOW_C))
    names = ("snow", "ice_pellets", "freezing_precipitation")
    others = flags.any_of(*(conditions.flag(name) for name in names), hail_lies)
    frozen = np.where(hail == YES, others, conditions.flag("frozen_precipitation"))
    return {"frozen_precipitation": frozen.astype(np.int8)}


def _snow(conditions: Conditions, airframe: Airframe) -> Columns:
    falls = conditions.flag("snow")
    visibility, air = conditions.number("visibility_m"), conditions.number("air_temperature_c")
    by_sight = snow.snow_intensity(visibility, air, conditions.flag("dark") == YES).astype(np.float64)
    by_sight[by_sight == 0] = np.nan
    by_code = conditions.number("snow_intensity_code")
    # the code's own sign is a floor under what the visibility gives; heavy is heavy whatever is seen
    sure = np.where(by_code >= snow.HEAVY, by_code, np.nan)
    by_sight = np.where(np.isnan(by_sight), sure, np.fmax(by_sight, by_code))
    intensity = np.where(falls == YES, by_sight, np.where(falls == NO, 0.0, np.nan))
    by_loss = dict(zip(LOSSES, snow.snow_rate_mm_h(intensity), strict=True))
    rate = np.stack([by_loss[case.loss][row] for row, case in enumerate(conditions.cases)])
    rate[falls == NO] = 0.0
    return {"snow_intensity": intensity, "snow_rate_mm_h": rate}


def _treatment(conditions: Conditions, airframe: Airframe) -> Columns:
    air = conditions.number("air_temperature_c")
    soaked = flags.below(conditions.number("tank_skin_temperature_c"), 0.0)
    soaked = flags.all_of(soaked, flags.no(conditions.flag("fuel_temperature_assumed")))
    intensity = np.nan_to_num(conditions.number("snow_intensity")).astype(np.int64)
    category = treatment.gravest_category(
        conditions.code("treatment_classes"), intensity, air, soaked, reported_air_c=air[:1]
    )
    return {"treatment_category": category}


def _mist(conditions: Conditions, airframe: Airframe) -> Columns:
    low_cloud = flags.all_of(
        flags.above(conditions.number("cloud_fraction"), RIME_CLOUD),
        flags.below(conditions.number("cloud_base_m"), RIME_BASE_M),
    )
    # a sky that nobody described may hold it, whatever bound stands in for it
    undescribed = -(conditions.flag("sky_undescribed") != NO).view(np.int8)
    rime = flags.all_of(
        conditions.flag("mist"),
        flags.below(conditions.number("air_temperature_c"), RIME_BELOW_C, included=True),
        flags.above(conditions.number("relative_humidity_pct"), RIME_HUMIDITY_PCT),
        flags.any_of(low_cloud, undescribed),
    )
    return {"freezing_mist": flags.only_where(rime, conditions.lasts)}


FROZEN = Stage(
    name="frozen precipitation",
    meaning="hail counts as frozen precipitation only where it lies",
    gives={
        "frozen_precipitation": (
            "frozen_precipitation",
            "hail",
            "air_temperature_c",
            "snow",
            "ice_pellets",
            "freezing_precipitation",
        ),
    },
    work=_frozen,
    source=("common-practice",),
)
SNOW = Stage(
    name="snow",
    meaning="how hard it snows, by visibility, temperature and daylight, and how much water that is",
    gives={
        "snow_intensity": ("snow", "visibility_m", "air_temperature_c", "dark", "snow_intensity_code"),
        "snow_rate_mm_h": ("snow", "snow_intensity"),
    },
    work=_snow,
    source=("tc-tp-10643-2003", "faa-holdover-2009", "tc-snow-rates-2018"),
    formula="the worse of two published tables; the code's own sign is a floor under it",
)
TREATMENT = Stage(
    name="treatment",
    meaning="what falls as treatment tables name it",
    gives={
        "treatment_category": (
            "treatment_classes",
            "snow_intensity",
            "air_temperature_c",
            "tank_skin_temperature_c",
            "fuel_temperature_assumed",
        ),
    },
    work=_treatment,
    source=("common-practice", "tc-tp-10643-2003"),
)
MIST = Stage(
    name="freezing mist",
    meaning="rime in mist: in frost, nearly saturated and under low cloud",
    gives={
        "freezing_mist": (
            "mist",
            "air_temperature_c",
            "relative_humidity_pct",
            "cloud_fraction",
            "cloud_base_m",
            "sky_undescribed",
        ),
    },
    work=_mist,
    source=("invented-default",),
)

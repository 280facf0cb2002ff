"""Moist air, and what air and wind do to people."""

from __future__ import annotations

from advisor.conditions import Airframe, Columns, Conditions
from advisor.physics import exposure, flags, moisture
from advisor.physics.stages.stage import Stage
from advisor.quantities.units import KM_H_PER_KT


def _moist(conditions: Conditions, airframe: Airframe) -> Columns:
    dew = conditions.number("dew_point_c")
    return {
        "frost_point_c": moisture.frost_point_c(dew),
        "relative_humidity_pct": moisture.relative_humidity_pct(conditions.number("air_temperature_c"), dew),
    }


def _people(conditions: Conditions, airframe: Airframe) -> Columns:
    air, wind_kmh = conditions.number("air_temperature_c"), conditions.number("wind_kt") * KM_H_PER_KT
    chill = exposure.wind_chill_c(air, wind_kmh)
    mild = flags.above(air, exposure.WIND_CHILL_WARMEST_C)
    calm = flags.below(wind_kmh, exposure.WIND_CHILL_CALM_KMH, included=True)
    no_chill = flags.any_of(mild, calm)
    return {
        "wind_chill_c": chill,
        "wind_chill_absent": no_chill,
        "frostbite_absent": flags.any_of(no_chill, flags.above(chill, exposure.FROSTBITE_AT_C[-1])),
        "frostbite_min": exposure.frostbite_min(chill),
        "heat_index_c": exposure.heat_index_c(air, conditions.number("relative_humidity_pct")),
    }


MOIST_AIR = Stage(
    name="moist air",
    meaning="frost point and humidity",
    gives={"frost_point_c": ("dew_point_c",), "relative_humidity_pct": ("air_temperature_c", "dew_point_c")},
    work=_moist,
    source=("wmo-8-annex-4b",),
)
PEOPLE = Stage(
    name="people",
    meaning="wind chill, minutes to frostbite, heat index",
    gives={
        "wind_chill_c": ("air_temperature_c", "wind_kt"),
        "wind_chill_absent": ("air_temperature_c", "wind_kt"),
        "frostbite_absent": ("air_temperature_c", "wind_kt"),
        "frostbite_min": ("air_temperature_c", "wind_kt"),
        "heat_index_c": ("air_temperature_c", "relative_humidity_pct"),
    },
    work=_people,
    source=("wind-chill-2001", "frostbite-bands", "heat-index-rothfusz"),
)

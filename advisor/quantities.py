"""The vocabulary: every quantity that a rule may test or an output may show.

One row a quantity: name (with its unit), unit, decimals shown, valid range, meaning in plain words. pint reads
quantities that people write with a unit ("21 m/s"); it is loaded only when such a text is met.
"""

from __future__ import annotations

import math
import re
from typing import Any

from msgspec import Struct

NUMBER, FLAG, CODE = "number", "flag", "code"


class Quantity(Struct, frozen=True):
    """One row of the vocabulary.

    kind: "number" (float64, NaN missing), "flag" (int8 0, 1 or -1) or "code" (int8, -1 missing, values by position).
    low, high: the range a threshold may lie in. shown: part of a brief's timeline.
    """

    name: str
    unit: str
    decimals: int
    meaning: str
    low: float = -math.inf
    high: float = math.inf
    kind: str = NUMBER
    values: tuple[str, ...] = ()
    shown: bool = True


TREATMENT_CATEGORIES = (
    "none",
    "freezing fog",
    "very light snow",
    "light snow",
    "moderate snow",
    "heavy snow",
    "snow pellets or grains",
    "freezing drizzle",
    "light freezing rain",
    "heavier freezing rain",
    "ice pellets",
    "hail",
    "mixed",
    "rain on a cold-soaked wing",
    "unknown",
)
LIGHT_NAMES = ("day", "civil twilight", "nautical twilight", "astronomical twilight", "full dark")


def _n(name: str, unit: str, decimals: int, low: float, high: float, meaning: str, shown: bool = True) -> Quantity:
    return Quantity(name, unit, decimals, meaning, low, high, NUMBER, (), shown)


def _f(name: str, meaning: str, shown: bool = True) -> Quantity:
    return Quantity(name, "", 0, meaning, 0, 1, FLAG, (), shown)


_ROWS = (
    # light
    _n("sun_elevation_deg", "°", 1, -90, 90, "height of the sun's centre above the horizon, no refraction"),
    _n("sun_azimuth_deg", "°", 0, 0, 360, "direction of the sun, true"),
    _n("sun_off_nose_deg", "°", 0, 0, 180, "angle between the sun's direction and the nose", False),
    _n("moon_elevation_deg", "°", 1, -90, 90, "height of the moon above the horizon", False),
    _n("moon_illuminated_fraction", "", 2, 0, 1, "lit part of the moon's disc", False),
    _n("illuminance_lx", "lx", 0, 0, 200_000, "natural light on level ground"),
    _f("dark", "legal night: the sun's centre more than 6° below the horizon"),
    Quantity("light", "", 0, "day, twilight or dark", kind=CODE, values=LIGHT_NAMES, shown=False),
    # air
    _n("air_temperature_c", "°C", 1, -90, 60, "air temperature"),
    _n("dew_point_c", "°C", 1, -90, 60, "dew point, over water"),
    _n("frost_point_c", "°C", 1, -90, 60, "frost point: where frost forms"),
    _n("relative_humidity_pct", "%", 0, 0, 105, "relative humidity, over water"),
    _n("visibility_m", "m", 0, 0, 100_000, "prevailing visibility"),
    _n("runway_visual_range_m", "m", 0, 0, 5000, "lowest runway visual range reported", False),
    _n("cloud_fraction", "", 2, 0, 1, "part of the sky covered", False),
    _n("cloud_base_m", "m", 0, 0, 30_000, "height of the lowest covering cloud", False),
    # wind
    _n("wind_kt", "kt", 0, 0, 200, "mean wind"),
    _n("gust_kt", "kt", 0, 0, 250, "gust, an unreported one included"),
    _n("wind_direction_deg", "°", 0, 0, 360, "where the wind comes from, true"),
    _n("relative_wind_deg", "°", 0, -180, 180, "where the wind comes from, from the nose", False),
    _n("door_margin_kt", "kt", 0, -250, 250, "lowest operating limit of a door less the gust", False),
    _n("door_stay_open_margin_kt", "kt", 0, -250, 250, "lowest stay-open limit of a door less the gust", False),
    # skin, frost and deposits
    _n("wing_skin_temperature_c", "°C", 1, -90, 120, "painted upper skin away from the tanks"),
    _n("tank_skin_temperature_c", "°C", 1, -90, 120, "upper skin over the tanks"),
    _n("panel_skin_temperature_c", "°C", 1, -90, 120, "thin panel open to the air on both sides", False),
    _n("metal_skin_temperature_c", "°C", 1, -90, 120, "bare metal skin", False),
    _n("frost_margin_c", "°C", 1, -100, 100, "lower of frost point and 0 °C less skin: above 0 frost can form"),
    _n("tank_frost_margin_c", "°C", 1, -100, 100, "the same over the tanks", False),
    _n("dew_margin_c", "°C", 1, -100, 100, "dew point less skin: above 0 dew can form", False),
    _n("frost_growth_g_m2_h", "g/m² h", 0, 0, 5000, "how fast frost may grow, a magnitude only"),
    _n("fuel_temperature_c", "°C", 0, -60, 70, "fuel in the wing tanks", False),
    _f("fuel_temperature_assumed", "the fuel temperature was not stated", False),
    _f("deposit_seen", "somebody has seen a deposit on the aircraft", False),
    _f("deposit_possible", "frost, ice or snow may lie on the aircraft from before"),
    _f("deposit_lies", "snow, ice or frost that is felt lies on the aircraft by now, or may", False),
    _f("treated", "treated against ice before this time", False),
    # precipitation and weather
    _f("snow", "snow, snow grains or snow pellets"),
    _f("rain", "rain or drizzle"),
    _f("drizzle", "drizzle", False),
    _f("freezing_precipitation", "freezing rain, freezing drizzle or freezing unknown precipitation"),
    _f("freezing_rain", "freezing rain", False),
    _f("freezing_drizzle", "freezing drizzle", False),
    _f("ice_pellets", "ice pellets"),
    _f("hail", "hail, or small hail where GS may mean it"),
    _f("unknown_precipitation", "precipitation that an automatic station could not name"),
    _f("precipitation_any", "anything falling", False),
    _f("frozen_precipitation", "anything frozen or freezing falling"),
    _f("thunderstorm", "thunderstorm at the aerodrome or in its vicinity"),
    _f("lightning", "lightning or storm cloud in the remarks, or cumulonimbus in the cloud groups", False),
    _f("cumulonimbus", "cumulonimbus in the cloud groups: a storm may come of it", False),
    _f("towering_cumulus", "towering cumulus in the cloud groups", False),
    _f("blowing_snow", "blowing or drifting snow"),
    _f("fog", "fog, freezing fog included"),
    _f("mist", "mist"),
    _f("freezing_fog", "freezing fog"),
    _f("patchy_fog", "fog that is shallow, in patches or over a part of the aerodrome only", False),
    _f("freezing_mist", "mist in frost, nearly saturated and under low cloud: rime may grow", False),
    _f("dust_or_sand", "dust, sand, or a dust or sand storm"),
    _f("volcanic_ash", "volcanic ash"),
    _f("squall", "squall", False),
    _f("funnel_cloud", "funnel cloud, tornado or waterspout", False),
    _f("heavy_precipitation", "heavy rain, snow or shower", False),
    _f("recent_freezing", "freezing precipitation now or within the last two hours", False),
    _f("recent_frozen", "anything frozen or freezing fell within the last two hours", False),
    _f("recent_precipitation", "anything fell within the last two hours", False),
    _f("recent_rain", "rain or drizzle within the last two hours", False),
    _f("recent_hail", "hail observed at the station within the last two hours", False),
    _f("recent_thunderstorm", "thunderstorm observed at the station within the last two hours", False),
    _f("ice_reported", "the station saw ice build up on its sensor within the last hours", False),
    _f("frost_reported", "the station saw frost on its indicator within the last two hours", False),
    _f("moisture", "rain, drizzle, fog, mist or a skin below the dew point", False),
    _f("freezing_after_wet", "wet before and at or below 0 °C, in the air or at the skin"),
    _f("slippery_surface", "the ground may be slippery"),
    _f("snow_on_aircraft", "snow lies on the aircraft from before, or may", False),
    _f("snow_on_ground", "snow lies on the ground, or may", False),
    _f("aerodrome_closed", "closed by snow", False),
    _n("snow_intensity", "", 0, 0, 4, "snow from visibility: 1 very light, 2 light, 3 moderate, 4 heavy"),
    _n("snow_rate_mm_h", "mm/h", 1, 0, 100, "snow as water"),
    _n("snow_accumulated_mm", "mm", 1, 0, 1000, "snow as water that may have gathered on the aircraft"),
    _n("rain_rate_mm_h", "mm/h", 1, 0, 200, "rain and drizzle"),
    _n("rain_accumulated_mm", "mm", 1, 0, 1000, "rain that may have gathered since now, or since parked", False),
    Quantity(
        "treatment_category",
        "",
        0,
        "precipitation as treatment tables name it",
        kind=CODE,
        values=TREATMENT_CATEGORIES,
        shown=False,
    ),
    # people
    _n("wind_chill_c", "°C", 0, -120, 20, "wind chill index"),
    _n("frostbite_min", "min", 0, 0, 1000, "minutes to frostbite on bare skin, roughly", False),
    _n("heat_index_c", "°C", 0, -20, 200, "heat index in the shade"),
    # what was asked
    _n("ahead_min", "min", 0, 0, 3000, "minutes from now", False),
    _n("off_block_in_min", "min", 0, 0, 3000, "minutes from now to off-block", False),
    _n("parked_h", "h", 1, 0, 100_000, "hours parked outside; not known where not stated", False),
    _n("gust_while_parked_kt", "kt", 0, 0, 250, "strongest gust observed since the aircraft was parked", False),
    _f("hail_while_parked", "hail observed since the aircraft was parked", False),
    _f("thunderstorm_while_parked", "thunderstorm observed since the aircraft was parked", False),
    _f("squall_while_parked", "squall observed since the aircraft was parked", False),
    _f("frozen_precipitation_while_parked", "anything frozen or freezing seen since the aircraft was parked", False),
    _n("report_age_min", "min", 0, 0, 100_000, "age of the newest report", False),
    _n("station_distance_km", "km", 0, 0, 25_000, "from the reporting station to the place", False),
    _n("station_height_difference_m", "m", 0, 0, 9000, "height of the place above or below the station", False),
)

QUANTITIES: dict[str, Quantity] = {row.name: row for row in _ROWS}

_NUMBER = re.compile(r"\s*[-+−]?\d+(\.\d+)?\s*\Z", re.ASCII)
_registry: Any = None


def read_quantity(text: str | float | int, unit: str) -> float:
    """Read a number, or a text such as "21 m/s", into a unit.

    text: a plain number is taken to be in the unit already. unit: pint's name ("knot", "degC", "metre").
    Raises ValueError for anything that is not finite, has another dimension, or cannot be read.
    """
    if isinstance(text, bool):
        raise ValueError("a number or a quantity with a unit is needed")
    if isinstance(text, (int, float)):
        value = float(text)
    elif _NUMBER.match(text):
        value = float(text.replace("−", "-"))
    else:
        value = _with_pint(text, unit)
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is not a finite number")
    return value


def _with_pint(text: str, unit: str) -> float:
    global _registry
    if len(text) > 60:
        raise ValueError("too long for a quantity")
    if _registry is None:
        import pint

        _registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None, on_redefinition="ignore")
        # pint's own kt is the kilotonne; in this trade it is never anything but the knot
        _registry.define("kt = knot")
        _registry.define("kts = knot")
    match = re.fullmatch(r"\s*([-+−]?\d+(?:[.,]\d+)?)\s*([^\d\s].*?)\s*", text)
    if not match:
        raise ValueError(f"{text!r} is not a number with a unit")
    number = float(match[1].replace("−", "-").replace(",", "."))
    try:
        return float(_registry.Quantity(number, match[2]).to(unit).magnitude)
    except Exception as error:
        raise ValueError(f"{text!r} is not a quantity in {unit}") from error

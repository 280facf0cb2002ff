"""What holds between quantities whatever the weather, as data: no condition can tell two rules apart outside of it.

An order binds only values that are known. Each law has its reason in words. Those marked as definitions follow from
what a word of the report means, and a report that contradicts itself may break them; all others hold in every table
that physics gives.
"""

from __future__ import annotations

from math import inf

from msgspec import Struct


class OrderLaw(Struct, frozen=True):
    """One quantity never above another: lower <= higher where higher is above 0, else lower <= below_zero * higher.

    below_zero: a factor up to 1, at and below 0 °C.
    """

    lower: str
    higher: str
    reason: str
    below_zero: float = 1.0

    def most(self, higher: float) -> float:
        """The most that the lower quantity can be."""
        return higher if higher > 0 or abs(higher) == inf else self.below_zero * higher

    def least(self, lower: float) -> float:
        """The least that the higher quantity can be."""
        return lower if lower > 0 or abs(lower) == inf else lower / self.below_zero


class Law(Struct, frozen=True):
    """Where `when` is yes, `then` is yes.

    definition: by what a word of the report means; `then` is never no, but may be missing.
    """

    when: str
    then: str
    reason: str
    definition: bool = False


class Absence(Struct, frozen=True):
    """There is no such value exactly where `when` is yes; elsewhere it is missing only where one of `needs` is."""

    quantity: str
    when: str
    needs: tuple[str, ...]
    reason: str


_DEW = "air cannot hold more water than saturated air"
_ICE = "over ice the same vapour saturates at a slightly higher temperature, at most by this factor"
_NIGHT = "legal night is the sun's centre more than 6° below the horizon"
_NAMES = "the names of the light follow from the sun's height"
_LIGHT = "clear-sky light follows from the sun's height; cloud takes at most nine tenths, the moon adds under 0.4 lx"
_PART = "the one is a kind of the other"
_LATELY = "what falls now has also fallen within the last two hours"
_CHILL = "the wind chill index is for at most 10 °C and more than 4.8 km/h of wind"
_SKIN = "frost needs a skin below its frost point and below 0 °C"
_BITE = "minutes to frostbite are published by wind chill from −28 °C down"
_WORD = "by the meaning of the word in a report"

ORDERS: tuple[OrderLaw, ...] = (
    OrderLaw("dew_point_c", "air_temperature_c", _DEW),
    OrderLaw("dew_point_c", "frost_point_c", _ICE),
    OrderLaw("frost_point_c", "dew_point_c", _ICE, below_zero=0.87),
    OrderLaw("frost_point_c", "air_temperature_c", f"{_DEW}; {_ICE}", below_zero=0.87),
    OrderLaw("wind_kt", "gust_kt", "a gust is the highest of the wind, and the mean lies below it"),
    OrderLaw("wind_chill_c", "air_temperature_c", "wind takes heat from a face that is warmer than the air"),
)

# the ranges that values can lie in at all, where the table's own range of thresholds is wider
RANGES: dict[str, tuple[float, float]] = {
    "sun_elevation_deg": (-90.0, 90.0),
    "relative_humidity_pct": (0.0, 100.001),
    "cloud_fraction": (0.0, 1.0),
    "moon_illuminated_fraction": (0.0, 1.0),
    "illuminance_lx": (0.0, 135_000.0),
    "visibility_m": (0.0, inf),
    "runway_visual_range_m": (0.0, inf),
    "cloud_base_m": (0.0, inf),
    "wind_kt": (0.0, inf),
    "gust_kt": (0.0, inf),
    "gust_while_parked_kt": (0.0, inf),
    "wind_direction_deg": (0.0, 360.0),
    "relative_wind_deg": (-180.0, 180.0),
    "sun_azimuth_deg": (0.0, 360.0),
    "sun_off_nose_deg": (0.0, 180.0),
    "frost_growth_g_m2_h": (0.0, inf),
    "snow_intensity": (0.0, 4.0),
    "snow_rate_mm_h": (0.0, inf),
    "snow_accumulated_mm": (0.0, inf),
    "rain_rate_mm_h": (0.0, inf),
    "rain_accumulated_mm": (0.0, inf),
    "wind_chill_c": (-150.0, 10.0),
    "frostbite_min": (0.0, 30.0),
    "heat_index_c": (20.0, inf),
    "ahead_min": (0.0, inf),
    "off_block_in_min": (0.0, inf),
    "parked_h": (0.0, inf),
    "station_distance_km": (0.0, inf),
    "station_height_difference_m": (0.0, inf),
}

# never missing: they follow from place and time, or from what was asked
ALWAYS_KNOWN: frozenset[str] = frozenset(
    {
        "sun_elevation_deg",
        "sun_azimuth_deg",
        "dark",
        "light",
        "ahead_min",
        "off_block_in_min",
        "deposit_seen",
        "frost_refuted",
        "treated",
        "fuel_temperature_assumed",
        "aerodrome_closed",
    }
)

ABSENCES: tuple[Absence, ...] = (
    Absence("wind_chill_c", "air_temperature_c > 10 or wind_kt <= 2.5918", ("air_temperature_c", "wind_kt"), _CHILL),
    # where there is no wind chill a comparison with it is no
    Absence("frostbite_min", "not wind_chill_c <= -28", ("wind_chill_c",), _BITE),
)

# sun's height in degrees, and the light of a clear sky there: the least and the most, lx (Explanatory Supplement)
_SUNLIT: tuple[tuple[float, float, float], ...] = (
    (-18.0, 0.0006, 0.0008),
    (-12.0, 0.008, 0.0082),
    (-6.0, 3.4, 3.45),
    (-4.4, 19.0, 20.5),
    (-3.0, 78.0, 80.0),
    (-0.833, 440.0, 470.0),
    (0.0, 755.0, 765.0),
    (5.0, 4_300.0, 4_600.0),
    (10.0, 10_500.0, 11_600.0),
)
_MOON_LX = 0.4


def _sunlit() -> tuple[Law, ...]:
    laws = []
    for height, least, most in _SUNLIT:
        laws.append(Law(f"sun_elevation_deg <= {height}", f"illuminance_lx <= {most + _MOON_LX:g}", _LIGHT))
        laws.append(Law(f"sun_elevation_deg >= {height}", f"illuminance_lx >= {least / 10:g}", _LIGHT))
    return tuple(laws)


def _same(one: str, other: str, reason: str) -> tuple[Law, ...]:
    return Law(one, other, reason), Law(f"not ({one})", f"not ({other})", reason)


_DARKER = ("nautical twilight", "astronomical twilight", "full dark")
_LIGHT_LAWS = (
    *_same("dark", "sun_elevation_deg < -6", _NIGHT),
    *_same("dark", f"light in {_DARKER!r}".replace("'", '"'), _NIGHT),
    *_same('light == "day"', "sun_elevation_deg >= -0.833", _NAMES),
    *_same('light in ("day", "civil twilight")', "sun_elevation_deg >= -6", _NAMES),
    *_same('light == "full dark"', "sun_elevation_deg < -18", _NAMES),
    *_same('light in ("astronomical twilight", "full dark")', "sun_elevation_deg < -12", _NAMES),
    Law("dark", "illuminance_lx <= 3.85", _LIGHT),
    Law("not dark", "illuminance_lx >= 0.34", _LIGHT),
    Law('light == "day"', "illuminance_lx >= 44", _LIGHT),
    Law('light != "day"', "illuminance_lx <= 470.4", _LIGHT),
    *_sunlit(),
)


def _kinds(*pairs: tuple[str, str]) -> tuple[Law, ...]:
    return tuple(Law(one, other, _PART) for one, other in pairs)


_WEATHER_LAWS = (
    *_kinds(
        ("snow", "precipitation_any"),
        ("rain", "precipitation_any"),
        ("drizzle", "precipitation_any"),
        ("ice_pellets", "precipitation_any"),
        ("hail", "precipitation_any"),
        ("freezing_rain", "precipitation_any"),
        ("freezing_drizzle", "precipitation_any"),
        ("unknown_precipitation", "precipitation_any"),
        ("frozen_precipitation", "precipitation_any"),
        ("heavy_precipitation", "precipitation_any"),
        ("freezing_rain", "freezing_precipitation"),
        ("freezing_drizzle", "freezing_precipitation"),
        ("freezing_precipitation", "frozen_precipitation"),
        ("snow", "frozen_precipitation"),
        ("ice_pellets", "frozen_precipitation"),
        ("freezing_rain", "frozen_precipitation"),
        ("freezing_drizzle", "frozen_precipitation"),
        ("freezing_precipitation", "precipitation_any"),
        ("freezing_rain", "rain"),
        ("freezing_drizzle", "rain"),
        ("freezing_drizzle", "drizzle"),
        ("freezing_fog", "fog"),
        ("drizzle", "rain"),
        ("rain", "moisture"),
        ("drizzle", "moisture"),
        ("fog", "moisture"),
        ("freezing_fog", "moisture"),
        ("mist", "moisture"),
        ("recent_rain", "recent_precipitation"),
        ("recent_frozen", "recent_precipitation"),
        ("recent_freezing", "recent_frozen"),
        ("recent_freezing", "recent_precipitation"),
    ),
    *(
        Law(falling, recent, _LATELY)
        for falling, recents in (
            ("precipitation_any", ("recent_precipitation",)),
            ("rain", ("recent_rain", "recent_precipitation")),
            ("drizzle", ("recent_rain", "recent_precipitation")),
            ("snow", ("recent_frozen", "recent_precipitation")),
            ("frozen_precipitation", ("recent_frozen", "recent_precipitation")),
            ("freezing_precipitation", ("recent_freezing", "recent_frozen", "recent_precipitation")),
        )
        for recent in recents
    ),
    *(
        Law(one, "slippery_surface", "what falls frozen, or freezes, makes the ground slippery")
        for one in ("snow", "frozen_precipitation", "freezing_precipitation", "freezing_after_wet")
    ),
    Law("blowing_snow", "snow_on_ground", "snow that drifts has lain"),
    Law("cumulonimbus", "lightning", "lightning stands for storm cloud too"),
    Law("fog and not patchy_fog", "visibility_m < 1000", f"{_WORD}: fog is a visibility under 1000 m", True),
    Law("mist and not fog", "visibility_m <= 5000", f"{_WORD}: mist is a visibility of 1000 to 5000 m", True),
    Law("patchy_fog", "fog", _PART, True),
    Law("snow_rate_mm_h > 0", "snow", "snow that is measured falls"),
    Law("snow_intensity > 0", "snow", "snow that is measured falls"),
    Law("rain_rate_mm_h > 0", "precipitation_any", "rain that is measured falls"),
)

_SKIN_LAWS = (
    Law("frost_refuted", "frost_margin_c > 0", "only frost that could form is ruled out by a look"),
    Law("frost_margin_c > 0", "wing_skin_temperature_c < 0", _SKIN),
    Law("tank_frost_margin_c > 0", "tank_skin_temperature_c < 0", _SKIN),
    Law("frost_growth_g_m2_h > 0", "frost_margin_c > 0", _SKIN),
    Law("frost_growth_g_m2_h > 0", "wing_skin_temperature_c < 0", _SKIN),
    Law("deposit_seen", "deposit_possible", "what was seen lies there"),
    Law("deposit_seen", "deposit_lies", "what was seen lies there"),
    Law("deposit_lies", "deposit_possible", "what lies there may lie there"),
    Law("snow_on_aircraft", "deposit_lies", "snow is a deposit"),
    Law("snow_on_aircraft", "deposit_possible", "snow is a deposit"),
)

_PEOPLE_LAWS = (
    Law("heat_index_c >= -20", "air_temperature_c >= 26.6", "the heat index is for 80 °F and more"),
    Law("wind_chill_c <= 10", "air_temperature_c <= 10", _CHILL),
    Law("wind_chill_c <= 10", "wind_kt > 2.5918", _CHILL),
    Law("frostbite_min <= 30", "wind_chill_c <= -28", _BITE),
    Law("frostbite_min <= 30", "air_temperature_c <= 10", _BITE),
    Law("frostbite_min <= 30", "wind_kt > 2.5918", _BITE),
    Law("frostbite_min <= 10", "wind_chill_c <= -40", _BITE),
    Law("frostbite_min > 10", "wind_chill_c > -40", _BITE),
    Law("frostbite_min <= 5", "wind_chill_c <= -48", _BITE),
    Law("frostbite_min > 5", "wind_chill_c > -48", _BITE),
)


def _closed(laws: tuple[Law, ...]) -> tuple[Law, ...]:
    """The laws, and those that follow where one ends in what another begins with, word for word."""
    by_ends = {(law.when, law.then): law for law in laws}
    grown = True
    while grown:
        grown = False
        for first in list(by_ends.values()):
            for other in [law for law in by_ends.values() if law.when == first.then]:
                key = (first.when, other.then)
                if key not in by_ends and first.when != other.then:
                    reason = first.reason if first.reason == other.reason else f"{first.reason}; {other.reason}"
                    by_ends[key] = Law(*key, reason, first.definition or other.definition)
                    grown = True
    return tuple(by_ends.values())


LAWS: tuple[Law, ...] = _closed((*_LIGHT_LAWS, *_WEATHER_LAWS, *_SKIN_LAWS, *_PEOPLE_LAWS))

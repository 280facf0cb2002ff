"""What a report or a departure has to be for a quantity to be as asked: tables for the search of a differing brief."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import log
from typing import Any

Setting = dict[str, Any]

_COLD, _MILD = -2, 8
MOST_DEW_C = 30
_FREEZING = ("FZ", "SN", "PL", "SG", "IC")


def usual_air(codes: tuple[str, ...]) -> int:
    """An air temperature that goes with some weather codes."""
    return _COLD if any(part in code for code in codes for part in _FREEZING) else _MILD


def usual_dew(air: float, codes: tuple[str, ...]) -> float:
    """A dew point that goes with some weather codes; no air is moister than this (WMO's record is 35 °C)."""
    return min(air - usual_spread(codes), MOST_DEW_C)


def usual_spread(codes: tuple[str, ...]) -> int:
    """How far the dew point then lies below."""
    return 0 if any(code in ("FG", "FZFG", "BR") for code in codes) else 1 if codes else 4


def usual_visibility(codes: tuple[str, ...]) -> str:
    """A visibility that goes with some weather codes."""
    if any(code in ("FG", "FZFG") for code in codes):
        return "0300"
    return "3000" if codes else "9999"


def usual_cloud(codes: tuple[str, ...]) -> str:
    """A sky that goes with some weather codes."""
    if any(code in ("FG", "FZFG") for code in codes):
        return "VV001"
    if any("TS" in code or "GR" in code for code in codes):
        return "BKN020CB"
    return "OVC010" if codes else "SCT040"


# what is asked for as missing, by part of a report or of the departure
MISSING: dict[str, Setting] = {
    "wind": {"wind_group": "/////KT"},
    "visibility": {"visibility": "////"},
    "weather": {"weather": "//"},
    "cloud": {"cloud": "//////"},
    "temperature": {"temperature": "/////"},
    "dew point": {"temperature": "08///"},
    # in warm air nothing freezes, whatever falls; and of what snows only the visibility tells how much
    "weather in frost": {"weather": "//", "air": _COLD},
    "visibility in snow": {"visibility": "////", "codes": ("-SN",)},
}
PART: dict[str, str] = {
    "air_temperature_c": "temperature",
    "dew_point_c": "dew point",
    "frost_point_c": "dew point",
    "relative_humidity_pct": "dew point",
    "wind_chill_c": "temperature",
    "heat_index_c": "temperature",
    "frost_margin_c": "dew point",
    "tank_frost_margin_c": "dew point",
    "dew_margin_c": "cloud",
    "freezing_after_wet": "weather in frost",
    "slippery_surface": "weather",
    "deposit_possible": "weather",
    "deposit_lies": "weather",
    "snow_on_ground": "weather",
    "snow_on_aircraft": "weather",
    "moisture": "weather",
    "snow_intensity": "visibility in snow",
    "door_margin_kt": "wind",
    "door_stay_open_margin_kt": "wind",
    "recent_freezing": "weather",
    "recent_frozen": "weather",
    "recent_rain": "weather",
    "recent_precipitation": "weather",
    "lightning": "cloud",
}
ABSENT: dict[str, tuple[Setting, ...]] = {
    "wind_chill_c": ({"air": 18}, {"mean": 0}),
    "frostbite_min": ({"air": 5, "mean": 10},),
}


def _codes(*codes: str, **more: Any) -> Setting:
    return {"codes": codes, **more}


_NIGHT = {"off_block_min": 5 * 60, "cloud": "SKC", "mean": 0}
_BEFORE_SNOW = {"before": "24008KT 2000 SN OVC010", "air": -2}
_STORM_BEFORE = {"before": "24025G48KT 2000 +TSGR SQ BKN020CB", "air": 16, "parked_h": 5}
FLAGS: dict[str, tuple[Setting, ...]] = {
    "frost_refuted": ({**_NIGHT, "air": 2, "dew": 0, "seen": "nothing"},),
    "deposit_seen": ({"seen": "frost"}, {"seen": "ice"}),
    "deposit_possible": ({"seen": "frost"}, {"tail": "RESN", "air": -1}, _BEFORE_SNOW),
    "deposit_lies": ({"seen": "frost"}, {"tail": "RESN", "air": -1}, _BEFORE_SNOW),
    "treated": ({"treated_min": 10}, {"treated_min": 40}),
    "fuel_temperature_assumed": ({},),
    "snow": (_codes("-SN"), _codes("SN"), _codes("+SN", visibility="0400")),
    "rain": (_codes("-RA"), _codes("RA"), _codes("+RA")),
    "drizzle": (_codes("DZ"),),
    "freezing_precipitation": (_codes("-FZDZ"), _codes("FZRA")),
    "freezing_rain": (_codes("FZRA"), _codes("-FZRA")),
    "freezing_drizzle": (_codes("-FZDZ"), _codes("FZDZ")),
    "ice_pellets": (_codes("PL"),),
    "hail": (_codes("SHGR"), _codes("TSGR")),
    "unknown_precipitation": (_codes("UP", air=1),),
    "precipitation_any": (_codes("RA"), _codes("-SN")),
    "frozen_precipitation": (_codes("-SN"), _codes("PL"), _codes("-FZDZ")),
    "thunderstorm": (_codes("TSRA"), _codes("VCTS")),
    "lightning": ({"cloud": "SCT025TCU"}, {"cloud": "BKN020CB"}),
    "cumulonimbus": ({"cloud": "BKN020CB"},),
    "towering_cumulus": ({"cloud": "SCT025TCU"},),
    "blowing_snow": (_codes("BLSN"), _codes("DRSN")),
    "fog": (_codes("FG"), _codes("FZFG")),
    "mist": (_codes("BR"),),
    "freezing_fog": (_codes("FZFG"),),
    "patchy_fog": (_codes("BCFG"), _codes("MIFG")),
    "freezing_mist": (_codes("BR", air=-3, dew=-3, cloud="OVC003"),),
    "dust_or_sand": (_codes("SA", air=28), _codes("DU", air=28)),
    "volcanic_ash": (_codes("VA"),),
    "squall": (_codes("SQ"),),
    "funnel_cloud": (_codes("FC"),),
    "heavy_precipitation": (_codes("+RA"), _codes("+SN", visibility="0400")),
    "recent_freezing": ({"tail": "REFZRA", "air": -1}, {"tail": "REFZDZ", "air": 1}),
    "recent_frozen": ({"tail": "RESN", "air": 0}, {"tail": "REPL", "air": 0}),
    "recent_precipitation": ({"tail": "RERA"},),
    "recent_rain": ({"tail": "RERA"},),
    "recent_hail": (_STORM_BEFORE,),
    "recent_thunderstorm": (_STORM_BEFORE,),
    "ice_reported": ({"tail": "RMK I1004", "air": -1},),
    "frost_reported": ({"tail": "RMK FROIN", "air": -1},),
    "moisture": (_codes("RA"), _codes("BR")),
    "freezing_after_wet": ({"tail": "RERA", "air": -1}, {"before": "24008KT 6000 RA OVC010", "air": -1}),
    "slippery_surface": (_codes("-SN"), {"tail": "RERA", "air": -1}),
    "snow_on_aircraft": (_BEFORE_SNOW, _codes("SN")),
    "snow_on_ground": (_codes("BLSN"), _BEFORE_SNOW, {"tail": "RMK 4/005", "air": -3}),
    "aerodrome_closed": ({"tail": "R/SNOCLO", "air": -3},),
    "hail_while_parked": (_STORM_BEFORE,),
    "thunderstorm_while_parked": (_STORM_BEFORE,),
    "squall_while_parked": (_STORM_BEFORE,),
    "frozen_precipitation_while_parked": (_BEFORE_SNOW,),
}
NOT: dict[str, tuple[Setting, ...]] = {"fuel_temperature_assumed": ({"fuel": 8.0}, {"fuel": -6.0})}
CATEGORIES: dict[str, tuple[Setting, ...]] = {
    "none": ({},),
    "freezing fog": FLAGS["freezing_fog"],
    # no report calls snow very light; diamond dust counts as such
    "very light snow": (_codes("IC"),),
    "light snow": (_codes("-SN", visibility="3500"),),
    "moderate snow": (_codes("SN", visibility="1500"),),
    "heavy snow": (_codes("+SN", visibility="0400"),),
    "snow pellets or grains": (_codes("SG"),),
    "freezing drizzle": FLAGS["freezing_drizzle"],
    "light freezing rain": (_codes("-FZRA"),),
    "heavier freezing rain": (_codes("FZRA"), _codes("+FZRA")),
    "ice pellets": FLAGS["ice_pellets"],
    "hail": (_codes("SHGR", air=3),),
    "mixed": (_codes("RASN", air=1), _codes("-SNPL")),
    "rain on a cold-soaked wing": (_codes("RA", fuel=-8.0),),
    "unknown": (_codes("UP", air=0),),
}
_SNOWS = (
    _codes("-SN", visibility="9000"),
    _codes("-SN", visibility="4000"),
    _codes("SN", visibility="2000"),
    _codes("SN", visibility="1200"),
    _codes("+SN", visibility="0600"),
    _codes("+SN", visibility="0300", air=0),
)
_SKINS: tuple[Setting, ...] = (
    {**_NIGHT, "air": 2, "dew": 0},
    {**_NIGHT, "air": -2, "dew": -3},
    {**_NIGHT, "air": 5, "dew": 3},
    {**_NIGHT, "air": 6, "dew": 0},
    {**_NIGHT, "air": 8, "dew": 4},
    {**_NIGHT, "air": 9, "dew": 5},
    {**_NIGHT, "air": 7, "dew": 3},
    {**_NIGHT, "air": 10, "dew": 7},
    {"air": 6, "dew": 1, "cloud": "OVC020", "mean": 15},
    {"air": 0, "dew": -1, "cloud": "OVC020", "mean": 10},
)
# what only trying tells
TRIED: dict[str, tuple[Setting, ...]] = {
    "frost_margin_c": _SKINS,
    "dew_margin_c": _SKINS,
    "wing_skin_temperature_c": _SKINS,
    "panel_skin_temperature_c": _SKINS,
    "metal_skin_temperature_c": _SKINS,
    "frost_growth_g_m2_h": _SKINS,
    "tank_frost_margin_c": ({"fuel": -9.0, "air": 6, "dew": 5}, {"fuel": -2.0, "air": 3, "dew": 2}, *_SKINS),
    "tank_skin_temperature_c": ({"fuel": -9.0, "air": 6, "dew": 5}, {"fuel": 12.0, "air": 6, "dew": 5}, *_SKINS),
    "snow_intensity": _SNOWS,
    "snow_rate_mm_h": _SNOWS,
    "snow_accumulated_mm": _SNOWS,
    "rain_rate_mm_h": (_codes("-RA"), _codes("RA"), _codes("+RA"), _codes("DZ")),
    "rain_accumulated_mm": (
        *(_codes("RA", lead_min=minutes) for minutes in (120, 90, 150, 180)),
        _codes("RA"),
        _codes("+RA"),
        {"before": "24008KT 3000 +RA OVC010", "codes": ("+RA",)},
    ),
    "frostbite_min": ({"air": -30, "mean": 15}, {"air": -38, "mean": 20}, {"air": -42, "mean": 30}),
    "cloud_fraction": ({"cloud": "FEW040"}, {"cloud": "SCT040"}, {"cloud": "BKN040"}, {"cloud": "OVC040"}),
}


def _gust(value: float) -> Iterator[Setting]:
    whole = int(value)
    if whole >= 10:
        yield {"gust": whole, "mean": max(0, whole - 12)}
    yield {"mean": whole, "gust": None}


def _visibility(value: float) -> Iterator[Setting]:
    step = 50 if value < 800 else 100 if value < 5000 else 1000
    yield {"visibility": "9999" if value >= 10_000 else f"{int(value // step * step):04d}"}


def _dew(value: float) -> Iterator[Setting]:
    yield {"dew": value, "air": value}
    yield {"dew": value, "air": value + 4}


def _frost_point(value: float) -> Iterator[Setting]:
    # over ice air holds less than over water: the dew point lies a tenth lower
    yield from _dew(round(1.1 * min(value, 0.0)) + max(value, 0.0))


def _humidity(value: float) -> Iterator[Setting]:
    for air in (8, -2, 24):
        # Magnus over water, WMO No. 8
        held = log(value / 100) + 17.62 * air / (243.12 + air)
        yield {"air": air, "dew": round(243.12 * held / (17.62 - held))}


# the grid of numbers that reports and departures can carry: step, least, most
GRID: dict[str, tuple[float, float, float]] = {
    "gust_kt": (1, 0, 90),
    "gust_while_parked_kt": (1, 10, 90),
    "wind_kt": (1, 0, 80),
    "visibility_m": (50, 0, 10_000),
    "runway_visual_range_m": (50, 50, 2000),
    "air_temperature_c": (1, -45, 48),
    "dew_point_c": (1, -45, 30),
    "frost_point_c": (1, -40, 30),
    "relative_humidity_pct": (5, 5, 100),
    "cloud_base_m": (150, 0, 3000),
    "fuel_temperature_c": (1, -40, 50),
    "parked_h": (0.5, 0, 2000),
    "ahead_min": (5, 0, 1500),
    "off_block_in_min": (5, 5, 1500),
    "report_age_min": (5, 0, 600),
    "wind_direction_deg": (10, 10, 360),
    "relative_wind_deg": (10, -180, 180),
}
MADE: dict[str, Callable[[float], Iterator[Setting]]] = {
    "gust_kt": _gust,
    "gust_while_parked_kt": lambda value: iter(
        ({"before": f"240{max(0, int(value) - 12):02d}G{int(value):02d}KT 9999 FEW040"},)
    ),
    "wind_kt": lambda value: iter(({"mean": int(value), "gust": None}, {"mean": int(value)})),
    "visibility_m": _visibility,
    "runway_visual_range_m": lambda value: iter(({"tail": f"R09/{int(value):04d}"},)),
    "air_temperature_c": lambda value: iter(({"air": value},)),
    "dew_point_c": _dew,
    "frost_point_c": _frost_point,
    "relative_humidity_pct": _humidity,
    "cloud_base_m": lambda value: iter(({"cloud": f"OVC{max(1, round(value / 30.48)):03d}"},)),
    "fuel_temperature_c": lambda value: iter(({"fuel": value},)),
    "parked_h": lambda value: iter(({"parked_h": value},)),
    "ahead_min": lambda value: iter(({"lead_min": value},)),
    "off_block_in_min": lambda value: iter(({"lead_min": value},)),
    "report_age_min": lambda value: iter(({"age_min": value},)),
    "wind_direction_deg": lambda value: iter(({"direction": int(value), "mean": 12},)),
    "relative_wind_deg": lambda value: iter(({"direction": int(value) % 360 or 360, "heading": 0.0, "mean": 12},)),
}

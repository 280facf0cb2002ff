"""How numbers, times and statuses are said: shared by the text, the page and the sheet."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from advisor.brief.model import Advice, Because, Brief
from advisor.quantities import FLAG, QUANTITIES

LABELS = {
    "illuminance_lx": "natural light",
    "frost_margin_c": "skin below where frost forms by",
    "tank_frost_margin_c": "tank skin below where frost forms by",
    "dew_margin_c": "skin below the dew point by",
    "air_temperature_c": "air",
    "dew_point_c": "dew point",
    "fuel_temperature_c": "fuel",
    "wind_kt": "wind",
    "gust_kt": "gust",
    "visibility_m": "visibility",
    "wind_chill_c": "wind chill",
    "heat_index_c": "heat index",
    "door_margin_kt": "below the lowest limit by",
    "door_stay_open_margin_kt": "below the stay-open limit by",
    "wing_skin_temperature_c": "wing skin",
    "tank_skin_temperature_c": "tank skin",
    "relative_humidity_pct": "humidity",
    "snow_rate_mm_h": "snow as water",
    "snow_accumulated_mm": "snow gathered, as water",
    "rain_accumulated_mm": "rain",
    "snow_intensity": "snow intensity (1 to 4)",
    "parked_h": "parked for",
    "ahead_min": "ahead by",
    "report_age_min": "report's age",
    "station_distance_km": "station away",
    "station_height_difference_m": "station's height off by",
    "sun_elevation_deg": "sun's height",
    "sun_off_nose_deg": "sun off the nose by",
    "frozen_precipitation": "frozen or freezing precipitation",
    "freezing_precipitation": "freezing precipitation",
    "freezing_after_wet": "wet, then at or below 0 °C",
    "deposit_possible": "frost, snow or ice on it by then",
    "deposit_lies": "frost, snow or ice on it already",
    "frost_refuted": "somebody looked and saw nothing",
    "deposit_seen": "frost, snow or ice was seen",
    "precipitation_any": "precipitation",
    "slippery_surface": "slippery ground",
    "moisture": "moisture",
    "thunderstorm": "thunderstorm",
    "dark": "legal night",
    "recent_freezing": "freezing precipitation, or rain near 0 °C, within two hours",
    "recent_frozen": "frozen or freezing precipitation within two hours",
    "recent_precipitation": "precipitation within two hours",
    "recent_hail": "hail seen within two hours",
    "recent_thunderstorm": "a storm at the station within two hours",
    "ice_reported": "ice built up at the station",
    "frost_reported": "frost seen at the station",
    "lightning": "lightning or storm cloud",
    "cumulonimbus": "storm cloud (CB)",
    "towering_cumulus": "towering cloud (TCU)",
    "freezing_mist": "mist in frost",
    "snow_on_ground": "snow on the ground",
    "gust_while_parked_kt": "strongest gust since parked",
    "hail_while_parked": "hail since parked",
    "thunderstorm_while_parked": "a storm since parked",
    "squall_while_parked": "a squall since parked",
    "frozen_precipitation_while_parked": "frozen or freezing precipitation since parked",
    "aerodrome_closed": "closed by snow",
    "treatment_category": "what falls",
}
INPUTS = {
    "air_temperature_c": "air temperature",
    "dew_point_c": "dew point",
    "wind_kt": "wind",
    "gust_kt": "wind",
    "wind_direction_deg": "wind direction",
    "visibility_m": "visibility",
    "cloud_fraction": "cloud",
    "precipitation": "present weather",
    "obscuration": "a reason for the low visibility",
    "storm_sensor": "a sensor for thunderstorms",
    "freezing_sensor": "a sensor for freezing rain",
    "forecast": "a forecast",
    "fuel_temperature_c": "fuel temperature",
    "heading": "the nose heading",
    "parked_h": "the time parked",
    "storm": "a bound for the gusts of a storm",
    "station_distance_km": "the station's position",
    "station_height_difference_m": "the station's height",
    "history": "reports of the time parked",
}
SECURING_RULE = "tie-downs"
# which missing input a line is folded under where it lacks several
ORDER = (
    "precipitation",
    "obscuration",
    "storm_sensor",
    "freezing_sensor",
    "air_temperature_c",
    "dew_point_c",
    "wind_kt",
    "gust_kt",
    "visibility_m",
    "forecast",
    "history",
    "parked_h",
    "fuel_temperature_c",
    "cloud_fraction",
    "wind_direction_deg",
    "station_distance_km",
    "station_height_difference_m",
    "heading",
)


def clock(stamp: str | None) -> str:
    """HHMMZ of a stamp of the brief."""
    return "" if stamp is None else f"{stamp[11:13]}{stamp[14:16]}Z"


def moment(stamp: str, now: str) -> str:
    """HHMMZ, with the day of the month where it is not today's."""
    return clock(stamp) if stamp[:10] == now[:10] else f"{stamp[8:10]}/{clock(stamp)}"


def span(first: str, last: str, now: str) -> str:
    """From one time to another: 0555–0615Z, with the day of the month where it is not today's."""
    begin = moment(first, now)
    end = clock(last) if last[:10] == first[:10] else moment(last, now)
    return begin if first == last else f"{begin.removesuffix('Z')}–{end}"


def span_with_local(first: str, last: str, now: str, zone: str | None) -> str:
    """The same with the place's own clock beside."""
    there = [local(at, zone) for at in (first, last)]
    return span(first, last, now) + (f" ({there[0]}–{there[1]} local)" if all(there) else "")


def too_late(line: Advice, now: str) -> bool:
    """Whether a call is for securing things before a wind or storm that is there: nobody is sent out into it."""
    begun = any(one.at is not None and one.at <= now for one in line.because)
    return line.id == SECURING_RULE and begun and line.status in ("expected", "likely")


def due(line: Advice, now: str) -> str:
    """A request's latest time in words; "" where it has none, or comes too late."""
    if line.by is None or too_late(line, now):
        return ""
    if line.by_passed:
        return "Now"
    return f"By {moment(line.by, now)}"


def is_gust(row: Mapping[str, Any]) -> bool:
    """Whether a row's central gust is one: 10 kt over the mean wind, as reports tell it."""
    wind, gust = (
        value["central"] if isinstance(value := row.get(name), dict) else None for name in ("wind_kt", "gust_kt")
    )
    return wind is not None and gust is not None and gust >= wind + 10


COMPOUNDS = {
    "de icing": "de-icing",
    "high visibility": "high-visibility",
    "pre take off": "pre-take-off",
    "push back": "push-back",
    "rain may freeze": "rain that may freeze",
    "hangar out": "out of the hangar",
    "salt spray": "salt by the sea",
    "glider wing by day": "the wing by day",
    "steps ice": "ice on steps",
    "dust sand": "dust and sand",
    "cold soaked": "cold-soaked",
    "tie downs": "tie-downs",
    "night before": "night-before",
    "drone prop ice": "ice on propellers",
    "re check": "recheck",
}


def rule_name(rule: str) -> str:
    """A rule's id as people say it."""
    name = rule.replace("-", " ")
    for apart, joined in COMPOUNDS.items():
        name = name.replace(apart, joined)
    return name


def local(stamp: str, zone: str | None) -> str:
    """HH:MM of the place's own clock, "" where its zone is not known."""
    if not zone:
        return ""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        there = datetime.fromisoformat(stamp).astimezone(ZoneInfo(zone))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ""
    return there.strftime("%H:%M")


def bearing(relative_deg: float) -> str:
    """A relative direction as it is said on a stand."""
    side = "right" if relative_deg > 0 else "left"
    size = abs(relative_deg)
    if size < 22.5:
        return "ahead"
    if size > 157.5:
        return "behind"
    where = "front " if size < 67.5 else "rear " if size > 112.5 else ""
    return f"the {where}{side}"


def amount(value: float | None, decimals: int) -> str:
    """A number as people write it, with a true minus sign."""
    if value is None:
        return "not known"
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def decimals_for(name: str, value: float | None) -> int:
    """Decimals that help: half light needs one, daylight none."""
    if name == "illuminance_lx":
        return 0 if value is None or value >= 3 else 1
    return QUANTITIES[name].decimals if name in QUANTITIES else 1


def band(item: Because) -> str:
    """Low to high over the cases, or one number, with the unit."""
    low, high = item.low, item.high
    if low is None or high is None:
        low = high = item.central
    if low is None:
        return "not known"
    if item.quantity == "illuminance_lx" and high is not None and high < 0.1:
        return "under 0.1 lx"
    if item.quantity == "parked_h" and low == high:
        stood = round(low * 60)
        return f"{stood // 60} h {stood % 60:02d} min"
    places = decimals_for(item.quantity, low)
    first, last = amount(low, places), amount(high, places)
    value = first if first == last else f"{first} to {last}"
    return f"{value}{'' if item.unit == '°' else ' '}{item.unit}".strip()


def label(name: str) -> str:
    """A quantity's name in a reason."""
    row = QUANTITIES.get(name)
    if name in LABELS:
        return LABELS[name]
    bare = name if row is None or row.kind == FLAG else name.rsplit("_", 1)[0]
    return bare.replace("_", " ")


def untold_when(name: str, brief: Brief) -> str:
    """Of which time an input is not known that is known now: "later", or "recent" for what had ended; "" for now."""
    rows = [row.get(name) for row in brief.timeline] or [None]
    if name != "precipitation":
        return "later" if isinstance(rows[0], dict) and rows[0].get("central") is not None else ""
    # "not reported", "not known" and "not forecast" are none
    told = [str(row or "not known") for row in rows]
    return "" if told[0].startswith("not ") else "later" if "not reported" in told else "recent"


def lacking(name: str, brief: Brief) -> str:
    """An input that a line wants and that is not there.

    Blowing snow is a weather group that is there, and hides whether snow falls; where somebody gave a forecast it does
    not reach so far, or was not read.
    """
    if name == "precipitation" and name not in brief.missing:
        return "word of what falls"
    if name == "precipitation" and (when := untold_when(name, brief)):
        return f"word of the {when} weather"
    if name == "forecast" and any(report.kind == "TAF" for report in brief.reports):
        return "more of the forecast"
    return INPUTS.get(name, label(name))


NO_CODES = ("none reported", "not reported", "not forecast")

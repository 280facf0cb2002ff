"""How numbers, times and statuses are said: shared by the text, the page and the sheet."""

from __future__ import annotations

from datetime import datetime

from advisor.advice import Advice, Because
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
    "snow_accumulated_mm": "gathered snow as water",
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
    "deposit_possible": "a deposit from before",
    "deposit_seen": "a deposit was seen",
    "precipitation_any": "precipitation",
    "slippery_surface": "slippery ground",
    "moisture": "moisture",
    "thunderstorm": "thunderstorm",
    "dark": "legal night",
    "recent_freezing": "freezing precipitation within the hour",
    "recent_precipitation": "precipitation within the hour",
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
    "forecast": "a forecast",
    "fuel_temperature_c": "fuel temperature",
    "heading": "the nose heading",
}
STATUS = {"expected": "expected", "possible": "possible", "cannot tell": "cannot tell"}


def clock(stamp: str | None) -> str:
    """HHMMZ of a stamp of the brief."""
    return "" if stamp is None else f"{stamp[11:13]}{stamp[14:16]}Z"


def moment(stamp: str, now: str) -> str:
    """HHMMZ, with the day of the month where it is not today's."""
    return clock(stamp) if stamp[:10] == now[:10] else f"{stamp[8:10]}/{clock(stamp)}"


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


def amount(value: float | None, decimals: int) -> str:
    """A number as people write it, with a true minus sign."""
    if value is None:
        return "unknown"
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
        return "unknown"
    places = decimals_for(item.quantity, low)
    first, last = amount(low, places), amount(high, places)
    value = first if first == last else f"{first} to {last}"
    return f"{value} {item.unit}".strip()


def label(name: str) -> str:
    """A quantity's name in a reason."""
    row = QUANTITIES.get(name)
    return LABELS.get(name) or (name.replace("_", " ") if row is None or row.kind == FLAG else name.rsplit("_", 1)[0].replace("_", " "))


def reason(line: Advice, *, most: int = 2) -> str:
    """Why a line is there, in a few words with its numbers and the time; "" for one that always holds."""
    parts: list[str] = []
    for item in line.because:
        row = QUANTITIES.get(item.quantity)
        if row is not None and row.kind == FLAG:
            negated = item.test.startswith("not ")
            said = f"{'no ' if negated else ''}{label(item.quantity)}"
        elif row is not None and row.values:
            index = item.central if item.central is not None else item.high
            said = row.values[int(index)] if index is not None and index >= 0 else "unknown"
        else:
            said = f"{label(item.quantity)} {band(item)}"
        if said not in parts:
            parts.append(said)
    if not parts:
        return ""
    at = line.because[0].at
    when = f" at {clock(at)}" if at else ""
    return "; ".join(parts[:most]) + when

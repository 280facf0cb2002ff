"""How numbers, times and statuses are said: shared by the text, the page and the sheet."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

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
    "deposit_seen": "a deposit was seen",
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
    "forecast": "a forecast",
    "fuel_temperature_c": "fuel temperature",
    "heading": "the nose heading",
    "parked_h": "the time parked",
    "storm": "a bound for the gusts of a storm",
    "station_distance_km": "the station's position",
    "station_height_difference_m": "the station's height",
    "history": "reports of the time parked",
}
# which missing input a line is folded under where it lacks several
ORDER = (
    "precipitation",
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
STATUS = {"expected": "expected", "possible": "possible", "cannot tell": "cannot tell"}


def clock(stamp: str | None) -> str:
    """HHMMZ of a stamp of the brief."""
    return "" if stamp is None else f"{stamp[11:13]}{stamp[14:16]}Z"


def moment(stamp: str, now: str) -> str:
    """HHMMZ, with the day of the month where it is not today's."""
    return clock(stamp) if stamp[:10] == now[:10] else f"{stamp[8:10]}/{clock(stamp)}"


def due(line: Advice, now: str) -> str:
    """A request's latest time in words."""
    if line.by is None:
        return ""
    if line.by_passed:
        return "Now" if line.by == now else f"Now, was due {moment(line.by, now)}"
    return f"By {moment(line.by, now)}"


# what a person can state, by the input that is missing where nobody did
STATED = {"parked_h": "parked since", "fuel_temperature_c": "fuel temperature"}


def folded(brief: Brief) -> list[tuple[str, list[Advice]]]:
    """Lines that cannot be told, under the one input that most of them want: (its name, the lines, musts first).

    Those that want something which was not stated stand in the line about that: see unstated.
    """
    return [
        (INPUTS.get(name, label(name)), found)
        for name, found in _untold(brief.advice).items()
        if STATED.get(name) not in brief.not_stated
    ]


def unstated(brief: Brief) -> str:
    """What nobody stated, each with the lines that hang on it, in one sentence; "" where all was."""
    found = {STATED.get(name): lines for name, lines in _untold(brief.advice).items()}
    said = []
    for name in brief.not_stated:
        lines = ", ".join(rule_name(line.id) for line in found.get(name, ()))
        said.append(f"{name} (not known: {lines})" if lines else name)
    return f"Not stated, so nothing is claimed: {'; '.join(said)}." if said else ""


def _untold(lines: Iterable[Advice]) -> dict[str, list[Advice]]:
    found: dict[str, list[Advice]] = {}
    for line in lines:
        if line.status == "cannot tell":
            names = line.missing or ("more about it",)
            first = min(names, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))
            found.setdefault(first, []).append(line)
    rank = {name: at for at, name in enumerate(ORDER)}
    for lines_of_one in found.values():
        lines_of_one.sort(key=lambda line: (line.kind != "request", line.weight != "must"))
    return {name: found[name] for name in sorted(found, key=lambda name: rank.get(name, len(rank)))}


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
    said = rule.replace("-", " ")
    for apart, joined in COMPOUNDS.items():
        said = said.replace(apart, joined)
    return said


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
    if item.quantity == "illuminance_lx" and high is not None and high < 0.1:
        return "under 0.1 lx"
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


# flags that the report's own weather codes speak for
WEATHER = frozenset(
    {
        "snow",
        "rain",
        "drizzle",
        "freezing_precipitation",
        "freezing_rain",
        "freezing_drizzle",
        "ice_pellets",
        "hail",
        "unknown_precipitation",
        "precipitation_any",
        "frozen_precipitation",
        "thunderstorm",
        "blowing_snow",
        "fog",
        "mist",
        "freezing_fog",
        "dust_or_sand",
        "volcanic_ash",
        "squall",
        "funnel_cloud",
        "heavy_precipitation",
    }
)
NO_CODES = ("none reported", "not reported", "not forecast")


SNOWS = ("very light snow", "light snow", "moderate snow", "heavy snow")
# what says nothing to a reader beside the line itself
SILENT = frozenset({"ahead_min", "off_block_in_min", "report_age_min", "cloud_fraction"})
MARGINS = {
    "frost_margin_c": ("skin", "where frost forms"),
    "tank_frost_margin_c": ("tank skin", "where frost forms"),
    "dew_margin_c": ("skin", "the dew point"),
}


def margin(item: Because) -> str:
    """A margin in words: how far the skin may lie below the point where frost or dew forms."""
    skin, point = MARGINS[item.quantity]
    low, high = (item.low, item.high) if item.low is not None and item.high is not None else (item.central,) * 2
    if high is None or low is None:
        return f"{skin} unknown"
    if abs(high) < 0.05:
        return f"{skin} about {point}"
    far = amount(high, 1) if low <= 0 else f"{amount(low, 1)} to {amount(high, 1)}"
    return f"{skin} {'up to ' if low <= 0 else ''}{far} °C below {point}"


def reasons(line: Advice, falling: str = "") -> list[str]:
    """Why a line is there: one short piece a comparison, the numbers first. falling: the codes at that time."""
    # an expected line rests on what holds in every case; the air alone is most often a domain
    sure = [item for item in line.because if item.sure and item.quantity != "air_temperature_c"]
    tried = [sure, line.because] if line.status == "expected" else [line.because]
    return next((found for items in tried if (found := _said(items, falling))), [])


# where one of these is the reason, that something may lie by then is what follows from it
CAUSES = frozenset(
    {
        "frost_margin_c",
        "tank_frost_margin_c",
        "recent_freezing",
        "ice_reported",
        "frost_reported",
        "freezing_mist",
    }
)
LYING = ("deposit_possible", "deposit_lies")


def _said(items: Iterable[Because], falling: str) -> list[str]:
    items = list(items)
    if any(item.quantity in CAUSES for item in items):
        items = [item for item in items if item.quantity not in LYING]
    numbers: list[str] = []
    flags: list[str] = []
    for item in items:
        row = QUANTITIES.get(item.quantity)
        if row is not None and row.kind == FLAG:
            if item.test.startswith("not "):
                continue
            coded = item.quantity in WEATHER and falling and not falling.startswith(NO_CODES)
            certain = item.quantity == "deposit_lies" and item.sure
            if item.cause:
                flags.append(item.cause)
                continue
            flags.append("what gathered on it before" if certain else falling if coded else label(item.quantity))
        elif row is not None and row.values:
            index = item.decided
            named = row.values[int(index)] if index is not None and index >= 0 else "unknown"
            flags.append(f"{named} by the visibility tables" if named in SNOWS else named)
        elif item.quantity == "snow_intensity":
            graded = int(item.decided or 0)
            flags.append(f"{SNOWS[graded - 1]} by the visibility tables" if 1 <= graded <= 4 else "snow")
        elif item.quantity == "parked_h" and not item.central:
            continue
        elif item.quantity not in SILENT and not (item.quantity == "illuminance_lx" and ">" in item.test and item.sure):
            said = f"{label(item.quantity)} {band(item)}" if item.quantity not in MARGINS else margin(item)
            # what the air has to be is most often a domain, and the rule about something else
            numbers.insert(0 if item.quantity == "air_temperature_c" else len(numbers), said)
    # the quantity that was tested last is the one that the rule is about; domains come first
    return list(dict.fromkeys([*flags, *numbers[-1:]]))


def reason(line: Advice, falling: str = "", *, most: int = 2, timed: bool = True) -> str:
    """The reasons in one phrase with the time at which they were met; "" for a line that always holds."""
    parts = reasons(line, falling)[:most]
    if not parts:
        return ""
    group = line.case.partition("; ")[2]
    if group:
        return "; ".join(parts) + f", by {group}"
    at = line.because[0].at if timed else None
    return "; ".join(parts) + (f" at {clock(at)}" if at else "")

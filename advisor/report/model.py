"""What a report said, as data. Missing numbers are NaN; times are aware UTC.

Structures that the garbage collector leaves alone (gc=False): what is frozen and holds only such things, texts, numbers
and times can be in no circle, and whoever keeps many reports would pay a fifth of the time of reading for walking them.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from math import isnan, nan
from typing import Any

from msgspec import Struct

DECODED = "decoded"
NOTED = "noted"
CONFLICT = "conflict"
NOT_DECODED = "not decoded"
# a trend speaks of the two hours after its report (ICAO Annex 3)
TREND_HOLDS = timedelta(hours=2)
STATUSES = (DECODED, NOTED, CONFLICT, NOT_DECODED)


class Reported(Struct, frozen=True, eq=False, gc=False):
    """What a report or a part of it said. Two are equal where they say the same, missing being the same as missing.

    The equality that a structure writes by itself leaves NaN to Python: one NaN object may count as equal to itself and
    another not, by the version. So it is written here.
    """

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and _told(self) == _told(other)

    def __ne__(self, other: object) -> bool:
        # a structure has one of its own, which goes by identity
        return not self == other

    def __hash__(self) -> int:
        return hash(_told(self))


def _told(value: Any) -> Any:
    """The same with a name in place of every missing number: what equality and hash go by."""
    if isinstance(value, float):
        return "missing" if isnan(value) else value
    if isinstance(value, Reported):
        return tuple(_told(getattr(value, name)) for name in value.__struct_fields__)
    return tuple(_told(part) for part in value) if isinstance(value, tuple) else value


class Group(Struct, frozen=True, gc=False):
    """One group of a report: its text, what became of it, and what it means in plain words.

    part: "header", "body", "trend" or "remarks".
    kind: the ledger's name for the group ("wind", "visibility", …), "" where none fits.
    """

    text: str
    status: str
    meaning: str
    part: str = "body"
    kind: str = ""


class CloudLayer(Reported, frozen=True, eq=False, gc=False):
    """One cloud group. cover: FEW, SCT, BKN, OVC, VV or ///; base_ft NaN where not given; type CB, TCU, /// or ""."""

    cover: str
    base_ft: float = nan
    type: str = ""


class Trend(Reported, frozen=True, eq=False, gc=False):
    """A trend group of a METAR, kept apart from the observation.

    change: NOSIG, BECMG or TEMPO; text: as written. begins, ends: aware UTC, the report's time and 2 hours later where
    not given. The rest as in Report, NaN or empty where the trend says nothing of it; weather ("NSW",) ends it.
    weather_missing: weather coded //, or a group that looks like weather and was not read. mentioned: which of "wind",
    "visibility", "weather" and "cloud" it speaks of, also where that is coded missing or was not read.
    """

    change: str
    text: str
    begins: datetime | None = None
    ends: datetime | None = None
    wind_direction_deg: float = nan
    wind_kt: float = nan
    gust_kt: float = nan
    visibility_m: float = nan
    visibility_is: str = "exactly"
    weather: tuple[str, ...] = ()
    sky: str = "missing"
    cloud: tuple[CloudLayer, ...] = ()
    weather_missing: bool = False
    gust_lost: bool = False
    mentioned: frozenset[str] = frozenset()


class Remarks(Reported, frozen=True, eq=False, gc=False):
    """Facts from behind RMK that bear on the walk round. NaN, False or empty where not said.

    hourly_precipitation_mm, ice_accretion_mm (hours, mm): 0 is a trace. cumulonimbus, lightning: seen now, at any
    distance; storm_not_distant: one of them, and not said to be distant.
    precipitation_events: code, "B" began or "E" ended, aware UTC, in the order of the report; where the
    minute is coded MM, an end as late and a beginning as early as can be. hail_mm: the largest hailstones across, the
    bound where they were smaller. snow_depth_cm: 4/nnn, SNINCR, and SOG of Canadian stations.
    """

    temperature_c: float = nan
    dew_point_c: float = nan
    peak_wind_direction_deg: float = nan
    peak_wind_kt: float = nan
    peak_wind_at: datetime | None = None
    peak_wind_lost: bool = False
    hourly_precipitation_mm: float = nan
    snow_depth_cm: float = nan
    snow_last_hour_cm: float = nan
    ice_accretion_mm: tuple[tuple[int, float], ...] = ()
    frost_on_indicator: bool = False
    lightning: bool = False
    cumulonimbus: bool = False
    storm_not_distant: bool = False
    pressure_rising_rapidly: bool = False
    pressure_falling_rapidly: bool = False
    precipitation_sensor_out: bool = False
    freezing_rain_sensor_out: bool = False
    thunderstorm_sensor_out: bool = False
    maintenance_needed: bool = False
    precipitation_events: tuple[tuple[str, str, datetime], ...] = ()
    hail_mm: float = nan


NO_REMARKS = Remarks()


class Report(Reported, frozen=True, eq=False, gc=False):
    """One METAR or SPECI as read.

    Missing numbers are NaN, missing texts "", missing lists (). A value that two readers do not agree on is missing.
    """

    #: METAR or SPECI.
    kind: str
    #: Its location indicator.
    station: str
    #: Aware UTC.
    issued: datetime
    #: As written, spaces and line breaks apart.
    raw: str
    #: Every group and what became of it; joined by spaces they are raw.
    groups: tuple[Group, ...]
    #: Made without an observer (AUTO).
    automatic: bool = False
    #: Whether it replaces another.
    corrected: bool = False
    #: Whether it says only that there is none.
    nil: bool = False
    #: True; 0 for calm as reported, NaN for VRB too.
    wind_direction_deg: float = nan
    #: Whether it is coded VRB.
    wind_variable: bool = False
    #: One end of a variable direction,
    wind_from_deg: float = nan
    #: and the other, clockwise.
    wind_to_deg: float = nan
    #: Mean wind.
    wind_kt: float = nan
    #: "exactly", or "at least" where it is coded above a bound.
    wind_is: str = "exactly"
    #: NaN also where none was reported.
    gust_kt: float = nan
    #: Whether one was reported and its value cannot be had.
    gust_lost: bool = False
    #: Prevailing.
    visibility_m: float = nan
    #: "exactly", "at least" (9999, P6SM, 10SM, CAVOK) or "less than" (M1/4SM).
    visibility_is: str = "exactly"
    #: In the report's own unit.
    visibility_text: str = ""
    #: The lowest in any direction.
    visibility_minimum_m: float = nan
    #: The lowest of all runways.
    runway_visual_range_m: float = nan
    #: The finer of body and T-group, NaN where they are in conflict.
    temperature_c: float = nan
    #: Of the body.
    temperature_body_c: float = nan
    #: Half a step of what was reported, 0.5 or 0.05.
    temperature_doubt_c: float = 0.5
    #: As the temperature.
    dew_point_c: float = nan
    #: Of the body.
    dew_point_body_c: float = nan
    #: As of the temperature.
    dew_point_doubt_c: float = 0.5
    #: QNH.
    pressure_hpa: float = nan
    #: Codes as written, body only.
    weather: tuple[str, ...] = ()
    #: Codes of recent weather as written.
    recent_weather: tuple[str, ...] = ()
    #: Coded //, a sensor that is out or cannot name what falls, or a group like weather that was not read.
    weather_missing: bool = False
    #: The same of recent weather.
    recent_missing: bool = False
    #: "layers", "CAVOK", "NSC", "NCD", "CLR", "SKC" or "missing".
    sky: str = "missing"
    #: The layers, from below.
    cloud: tuple[CloudLayer, ...] = ()
    #: Where the sky is obscured.
    vertical_visibility_ft: float = nan
    #: Whether it is closed by snow.
    aerodrome_closed: bool = False
    #: What lies on runways by the groups of runway state, 0 dry to 9 frozen ruts; from 3, rime, it is frozen.
    runway_deposits: tuple[int, ...] = ()
    #: Trend groups, apart from the observation.
    trends: tuple[Trend, ...] = ()
    #: Facts from behind RMK.
    remarks: Remarks = NO_REMARKS

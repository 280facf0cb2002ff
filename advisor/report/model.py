"""What a report said, as data. Missing numbers are NaN; times are aware UTC.

With slots: whoever keeps many reports keeps fewer objects for the garbage collector to walk, which costs a third of
the time of reading otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import nan

DECODED = "decoded"
NOTED = "noted"
CONFLICT = "conflict"
NOT_DECODED = "not decoded"
STATUSES = (DECODED, NOTED, CONFLICT, NOT_DECODED)


@dataclass(frozen=True, slots=True)
class Group:
    """One group of a report: its text, what became of it, and what it means in plain words.

    part: "header", "body", "trend" or "remarks".
    kind: the ledger's name for the group ("wind", "visibility", …), "" where none fits.
    """

    text: str
    status: str
    meaning: str
    part: str = "body"
    kind: str = ""


@dataclass(frozen=True, slots=True)
class CloudLayer:
    """One cloud group. cover: FEW, SCT, BKN, OVC, VV or ///; base_ft NaN where not given; type CB, TCU, /// or ""."""

    cover: str
    base_ft: float = nan
    type: str = ""


@dataclass(frozen=True, slots=True)
class Trend:
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


@dataclass(frozen=True, slots=True)
class Remarks:
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


@dataclass(frozen=True, slots=True)
class Report:
    """One METAR or SPECI as read.

    issued: aware UTC. wind_direction_deg: true, 0 for calm as reported, NaN for VRB or missing. wind_kt, gust_kt:
    NaN where missing; NaN gust also where none was reported, gust_lost where one was and its value
    cannot be had. visibility_m: prevailing; visibility_is: "exactly",
    "at least" (9999, P6SM, 10SM, CAVOK) or "less than" (M1/4SM). temperature_c, dew_point_c: the finer of body and
    T-group, NaN where missing or in conflict; temperature_doubt_c: half a step of what was reported (0.5 or 0.05).
    weather, recent_weather: codes as written, body only; weather_missing: coded //, a sensor
    that is out, an automatic station of type AO1, which cannot name what falls, or a group that looks like weather and
    was not read or is in conflict, beside weather that was read too. recent_missing: the same of recent weather: RE//,
    or an RE group that was not read.
    sky: "layers", "CAVOK", "NSC", "NCD", "CLR", "SKC" or "missing". runway_deposits: what lies on runways by the groups
    of runway state, 0 dry to 9 frozen ruts; from 3, rime, it is frozen.
    """

    kind: str
    station: str
    issued: datetime
    raw: str
    groups: tuple[Group, ...]
    automatic: bool = False
    corrected: bool = False
    nil: bool = False
    wind_direction_deg: float = nan
    wind_variable: bool = False
    wind_from_deg: float = nan
    wind_to_deg: float = nan
    wind_kt: float = nan
    wind_is: str = "exactly"
    gust_kt: float = nan
    gust_lost: bool = False
    visibility_m: float = nan
    visibility_is: str = "exactly"
    visibility_text: str = ""
    visibility_minimum_m: float = nan
    runway_visual_range_m: float = nan
    temperature_c: float = nan
    temperature_body_c: float = nan
    temperature_doubt_c: float = 0.5
    dew_point_c: float = nan
    dew_point_body_c: float = nan
    dew_point_doubt_c: float = 0.5
    pressure_hpa: float = nan
    weather: tuple[str, ...] = ()
    recent_weather: tuple[str, ...] = ()
    weather_missing: bool = False
    recent_missing: bool = False
    sky: str = "missing"
    cloud: tuple[CloudLayer, ...] = ()
    vertical_visibility_ft: float = nan
    aerodrome_closed: bool = False
    runway_deposits: tuple[int, ...] = ()
    trends: tuple[Trend, ...] = ()
    remarks: Remarks = NO_REMARKS

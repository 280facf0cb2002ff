"""What the entries of one report add up to: the fields of a Report.

Only decoded entries carry values. What several groups decide together is settled at the end: body temperature against
the T-group, gust below the mean, dew point above the temperature.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache
from math import isnan, nan
from typing import Any

import numpy as np

from advisor.quantities.units import DAY_S, HOUR_S
from advisor.report.code.entries import LedgerEntry
from advisor.report.code.unread import looks_like_cloud, looks_like_recent_weather, looks_like_times, looks_like_weather
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, CloudLayer, Group

LARGEST_GAP_C = 1.0
HOUR = timedelta(hours=1)
# Kinds that are only noted, and yet bear on what is known.
_FROM_NOTED = frozenset(("cloud seen", "missing", "station type", "runway state"))


class Assembly:
    """Gathers the fields of a Report from entries, in order."""

    def __init__(self, issued: datetime) -> None:
        self.issued = issued
        self.groups: list[Group] = []
        self.fields: dict[str, Any] = {}
        self.remarks: dict[str, Any] = {}
        self.trend: list[LedgerEntry] = []
        self.cloud: list[CloudLayer] = []
        self.weather: list[str] = []
        self.recent: list[str] = []
        self.body_temperature = self.tenths = -1
        self.pairs: dict[int, dict[str, float]] = {}

    def take(self, entry: LedgerEntry) -> None:
        """Take one entry: keep its group, and its values where it is decoded."""
        group = entry.group
        self.groups.append(group)
        part = group.part
        if part == "trend":
            self.trend.append(entry)
            return
        if part == "remarks" and entry.words and entry.words[-1] == "$":
            self.remarks["maintenance_needed"] = True
        if group.status == DECODED or group.kind in _FROM_NOTED:
            taker = (_TAKE_REMARK if part == "remarks" else _TAKE).get(group.kind)
            if taker is not None:
                taker(self, entry)
        elif part == "body":
            self.not_read(group)
        elif part == "remarks" and group.status == NOT_DECODED:
            if looks_like_times(group.text):
                self.fields["recent_missing"] = True
            elif group.text.upper() == "PK":
                self.remarks["peak_wind_lost"] = True

    def value(self, entry: LedgerEntry) -> None:
        """Take the values of one decoded group of the observation, or of a trend gathered by itself."""
        taker = _TAKE.get(entry.group.kind)
        if taker is not None:
            taker(self, entry)

    def not_read(self, group: Group) -> None:
        """Take a group that was not read: where it may have been weather or cloud, that is not known."""
        if group.status not in (NOT_DECODED, CONFLICT):
            return
        kind, text = group.kind, group.text
        if kind == "recent weather" or (not kind and looks_like_recent_weather(text)):
            self.fields["recent_missing"] = True
        elif kind == "weather" or (not kind and looks_like_weather(text)):
            self.fields["weather_missing"] = True
        elif not kind and (cloud := looks_like_cloud(text)) is not None:
            self.cloud.append(CloudLayer("///", nan, cloud))

    def note_conflict(self, index: int, why: str) -> None:
        """Turn a group that was taken already into a conflict."""
        old = self.groups[index]
        self.groups[index] = Group(old.text, CONFLICT, f"{old.meaning}; {why}", old.part, old.kind)

    def finish(self) -> None:
        """Settle what depends on several groups."""
        self._temperatures()
        fields = self.fields
        if self.cloud:
            fields["cloud"] = tuple(self.cloud)
            if any(layer.cover != "///" or layer.type for layer in self.cloud):
                fields["sky"] = "layers"
        if self.weather:
            fields["weather"] = tuple(self.weather)
        if self.recent:
            fields["recent_weather"] = tuple(self.recent)
        if self.remarks.get("precipitation_sensor_out"):
            fields["weather_missing"] = True

    def _temperatures(self) -> None:
        body = self.pairs.get(self.body_temperature, {})
        fine = self.pairs.get(self.tenths, {})
        if not body and not fine:
            return
        for key, name in (("c", "temperature"), ("dew_c", "dew_point")):
            coarse, tenths = body.get(key, nan), fine.get(key, nan)
            value = coarse if isnan(tenths) else tenths
            if not isnan(coarse) and not isnan(tenths) and abs(coarse - tenths) > LARGEST_GAP_C:
                why = f"the {name.replace('_', ' ')} differs by more than 1 °C from the other group"
                self.note_conflict(self.body_temperature, why)
                self.note_conflict(self.tenths, why)
                value = nan
            if not isnan(value):
                self.fields[f"{name}_c"] = value
                self.fields[f"{name}_doubt_c"] = 0.5 if isnan(tenths) else 0.05
        warm, dew = self.fields.get("temperature_c", nan), self.fields.get("dew_point_c", nan)
        if dew > warm + LARGEST_GAP_C:
            self.note_conflict(max(self.body_temperature, self.tenths), "the dew point is above the temperature")
            self.fields["dew_point_c"] = nan

    def moment(self, hour: float, minute: float) -> datetime:
        """Find the last such time of day not after the report; without an hour, the last such minute."""
        time = self.issued.replace(minute=int(minute))
        if isnan(hour):
            return time if time <= self.issued else time - HOUR
        time = time.replace(hour=int(hour))
        return time if time <= self.issued + timedelta(minutes=10) else time - timedelta(days=1)


def moments_s(issued_s: Any, hour: Any, minute: Any) -> Any:
    """Assembly.moment for many reports at once: seconds since 1970 UTC, arrays; hour NaN where not said."""
    in_hour = issued_s - issued_s % HOUR_S + minute * 60
    in_hour = np.where(in_hour > issued_s, in_hour - HOUR_S, in_hour)
    in_day = issued_s - issued_s % DAY_S + np.nan_to_num(hour) * HOUR_S + minute * 60
    in_day = np.where(in_day > issued_s + 600, in_day - DAY_S, in_day)
    return np.where(np.isnan(hour), in_hour, in_day)


def _modifier(a: Assembly, entry: LedgerEntry) -> None:
    word = entry.group.text.upper()
    if word == "AUTO":
        a.fields["automatic"] = True
    elif word.startswith("C"):
        a.fields["corrected"] = True
    elif word in ("NIL", "FINO"):
        a.fields["nil"] = True


def _wind(a: Assembly, entry: LedgerEntry) -> None:
    n = entry.numbers
    kt, gust = n["kt"], n["gust_kt"]
    if gust < kt:
        if a.groups:
            a.note_conflict(len(a.groups) - 1, "the gust is below the mean wind")
        gust = nan
        a.fields["gust_lost"] = True
    a.fields.update(wind_direction_deg=n["direction_deg"], wind_kt=kt, gust_kt=gust)
    if "gust missing" in entry.words:
        a.fields["gust_lost"] = True
    if "variable" in entry.words:
        a.fields["wind_variable"] = True
    if "at least" in entry.words:
        a.fields["wind_is"] = "at least"


def _variation(a: Assembly, entry: LedgerEntry) -> None:
    a.fields.update(wind_from_deg=entry.numbers["from_deg"], wind_to_deg=entry.numbers["to_deg"])


def _visibility(a: Assembly, entry: LedgerEntry) -> None:
    a.fields.update(visibility_m=entry.numbers["m"], visibility_is=entry.words[0], visibility_text=entry.words[1])


def _cavok(a: Assembly, entry: LedgerEntry) -> None:
    if "visibility_m" not in a.fields:
        _visibility(a, entry)
    a.fields["sky"] = "CAVOK"


def _minimum(a: Assembly, entry: LedgerEntry) -> None:
    a.fields["visibility_minimum_m"] = min(entry.numbers["m"], a.fields.get("visibility_minimum_m", entry.numbers["m"]))


def _rvr(a: Assembly, entry: LedgerEntry) -> None:
    low, old = entry.numbers["low_m"], a.fields.get("runway_visual_range_m", nan)
    if not low >= old:
        a.fields["runway_visual_range_m"] = low if not isnan(low) else old


def _weather(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words[0] == "//":
        a.fields["weather_missing"] = True
    else:
        a.weather.append(entry.words[0])


def _recent(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words[0] == "//":
        a.fields["recent_missing"] = True
    else:
        a.recent.append(entry.words[0])


@lru_cache(maxsize=4096)
def _layer(cover: str, base_ft: float, kind: str) -> CloudLayer:
    """Share what many reports say alike: it is never changed, and costs whoever keeps them one object less."""
    return CloudLayer(cover, base_ft, kind)


def _cloud(a: Assembly, entry: LedgerEntry) -> None:
    a.cloud.append(_layer(entry.words[0], entry.numbers["base_ft"], entry.words[1]))
    if entry.words[0] == "VV":
        a.fields["vertical_visibility_ft"] = entry.numbers["base_ft"]


def _sky(a: Assembly, entry: LedgerEntry) -> None:
    a.fields["sky"] = entry.words[0]


def _temperature(a: Assembly, entry: LedgerEntry) -> None:
    a.body_temperature = len(a.groups) - 1
    a.pairs[a.body_temperature] = entry.numbers
    a.fields.update(temperature_body_c=entry.numbers["c"], dew_point_body_c=entry.numbers["dew_c"])


def _pressure(a: Assembly, entry: LedgerEntry) -> None:
    if isnan(a.fields.get("pressure_hpa", nan)):
        a.fields["pressure_hpa"] = entry.numbers["hpa"]


def _runway_state(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words == ("SNOCLO",):
        a.fields["aerodrome_closed"] = True
    elif len(entry.words) == 2 and len(entry.words[1]) == 6 and entry.words[1][0].isdigit():
        a.fields["runway_deposits"] = (*a.fields.get("runway_deposits", ()), int(entry.words[1][0]))


def _cloud_seen(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words and entry.words[0] in ("CB", "CBMAM", "TS", "VCTS"):
        a.remarks["cumulonimbus"] = True
        _how_far(a, entry)
    if entry.words and entry.words[0] in ("TS", "VCTS"):
        a.remarks["lightning"] = True


def _funnel(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words[-3:-2] == ("E",):
        _events(a, entry)
    elif not any("FC" in code for code in a.weather):
        a.weather.append("VCFC")


def _how_far(a: Assembly, entry: LedgerEntry) -> None:
    if "DSNT" not in entry.group.text.upper().split():
        a.remarks["storm_not_distant"] = True


def _lightning(a: Assembly, entry: LedgerEntry) -> None:
    a.remarks["lightning"] = True
    _how_far(a, entry)


def _tenths(a: Assembly, entry: LedgerEntry) -> None:
    a.tenths = len(a.groups) - 1
    a.pairs[a.tenths] = entry.numbers
    a.remarks.update(temperature_c=entry.numbers["c"], dew_point_c=entry.numbers["dew_c"])


def _peak(a: Assembly, entry: LedgerEntry) -> None:
    n = entry.numbers
    a.remarks.update(
        peak_wind_direction_deg=n["direction_deg"], peak_wind_kt=n["kt"], peak_wind_at=a.moment(n["hour"], n["minute"])
    )


def _flag(name: str) -> Any:
    def take(a: Assembly, entry: LedgerEntry) -> None:
        a.remarks[name] = True

    return take


def _number(name: str, key: str) -> Any:
    def take(a: Assembly, entry: LedgerEntry) -> None:
        a.remarks[name] = entry.numbers[key]

    return take


_SENSORS = {
    "FZRANO": "freezing_rain_sensor_out",
    "PWINO": "precipitation_sensor_out",
    "TSNO": "thunderstorm_sensor_out",
}
_MISSING_SENSORS = {"ICE": "freezing_rain_sensor_out", "WX": "precipitation_sensor_out"}


def _sensor(a: Assembly, entry: LedgerEntry) -> None:
    a.remarks[_SENSORS[entry.words[0]]] = True


def _missing(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words and entry.words[0] in _MISSING_SENSORS:
        a.remarks[_MISSING_SENSORS[entry.words[0]]] = True


def _station_type(a: Assembly, entry: LedgerEntry) -> None:
    if entry.words[0] == "1":
        a.fields["weather_missing"] = True


def _change(a: Assembly, entry: LedgerEntry) -> None:
    a.remarks["pressure_rising_rapidly" if entry.words[0] == "PRESRR" else "pressure_falling_rapidly"] = True


def _increasing(a: Assembly, entry: LedgerEntry) -> None:
    a.remarks.update(snow_last_hour_cm=entry.numbers["hour_cm"], snow_depth_cm=entry.numbers["depth_cm"])


def _ice(a: Assembly, entry: LedgerEntry) -> None:
    known = a.remarks.get("ice_accretion_mm", ())
    a.remarks["ice_accretion_mm"] = (*known, (int(entry.numbers["hours"]), entry.numbers["mm"]))


def _events(a: Assembly, entry: LedgerEntry) -> None:
    """Take begins and ends of weather; those of one kind of weather stand in the order in which they came."""
    events: list[tuple[str, str, datetime]] = []
    following: dict[str, datetime] = {}
    # a "$" may stand behind the last of them
    for first in reversed(range(0, len(entry.words) - 3, 4)):
        code, edge, hour, minute = entry.words[first : first + 4]
        after = following.get(code, a.issued)
        if minute == "MM":
            time = after if edge == "E" else min(after, a.issued - HOUR)
        else:
            time = a.moment(float(hour) if hour else nan, float(minute))
            if time > after and not hour:
                time -= HOUR
        following[code] = min(after, time)
        events.append((code, edge, time))
    a.remarks["precipitation_events"] = (*a.remarks.get("precipitation_events", ()), *reversed(events))


_TAKE: dict[str, Any] = {
    "modifier": _modifier,
    "wind": _wind,
    "wind variation": _variation,
    "visibility": _visibility,
    "CAVOK": _cavok,
    "minimum visibility": _minimum,
    "runway visual range": _rvr,
    "weather": _weather,
    "recent weather": _recent,
    "cloud": _cloud,
    "vertical visibility": _cloud,
    "sky": _sky,
    "temperature": _temperature,
    "pressure": _pressure,
    "runway state": _runway_state,
    "cloud seen": _cloud_seen,
}
_TAKE_REMARK: dict[str, Any] = {
    "temperature to tenths": _tenths,
    "peak wind": _peak,
    "hourly precipitation": _number("hourly_precipitation_mm", "mm"),
    "snow depth": _number("snow_depth_cm", "cm"),
    "snow on ground": _number("snow_depth_cm", "cm"),
    "hail size": _number("hail_mm", "mm"),
    "snow increasing": _increasing,
    "ice accretion": _ice,
    "frost": _flag("frost_on_indicator"),
    "lightning": _lightning,
    "cloud seen": _cloud_seen,
    "funnel seen": _funnel,
    "pressure change": _change,
    "sensor out": _sensor,
    "missing": _missing,
    "maintenance": _flag("maintenance_needed"),
    "weather times": _events,
    "station type": _station_type,
}

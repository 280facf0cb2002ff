"""From what was reported to what it may be like: columns over (case, time).

The outlook never builds one truth. BASE_CASES is a table of choices; each row names, quantity by quantity, which end
of the doubt it takes and why. All rows are worked through the same few functions. How far a value may lie from the
report grows with the time since the report, with the distance and height of the station, and with what was missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, nan, sqrt

import numpy as np

from advisor.conditions import LOSSES, Case, Codes, Columns, Conditions, Departure, Floats
from advisor.errors import ReportError
from advisor.physics import ahead, light, precipitation, wind
from advisor.report.model import Report

STEP_S = 300
WEATHER_HOLDS_S = 2 * 3600
FEET_TO_M = 0.3048
# air cools or warms by at most this much a kilometre of height when it is well mixed (dry adiabatic)
LAPSE_C_KM = 9.8
# a station this far away is another place; per kilometre beyond it temperatures are widened by the second figure
NEAR_KM, DISTANCE_C_KM = 5.0, 0.03
DISTANCE_MOST_C = 2.0
WIND_KT_KM, WIND_MOST_KT = 0.1, 5.0
# covered part of the sky that each cover word allows: low, central, high (WMO eighths)
COVERS = {"FEW": (1 / 8, 1.5 / 8, 2 / 8), "SCT": (3 / 8, 3.5 / 8, 4 / 8), "BKN": (5 / 8, 6 / 8, 7 / 8),
          "OVC": (1.0, 1.0, 1.0), "VV": (1.0, 1.0, 1.0)}  # fmt: skip
HIGH_CLOUD_M = 6000.0


@dataclass(frozen=True, slots=True)
class Choice:
    """A row of the table of choices: which end of each doubt a case takes: -1 low, 0 central, 1 high.

    share: how much of each half-width. Doubts that have nothing to do with each other are not all at their ends at
    once: where a case takes three (air, dew point, wind) against the same quantity, each goes 1/√3 of its 80 %
    half-width, so that the corner lies as far out as one of them alone would.
    """

    name: str
    meaning: str
    temperature: int
    moisture: int
    wind: int
    cloud: int
    loss: str
    lasts: bool
    source: str
    share: float = 1.0


THREE_AT_ONCE = 1 / sqrt(3)
BASE_CASES = (
    Choice("central", "as reported", 0, 0, 0, 0, "central", False, "persistence"),
    Choice(
        "cold, moist, calm", "the coldest skin that the report allows", -1, 1, -1, -1, "high", True, "case-table",
        THREE_AT_ONCE,
    ),
    Choice("warm, dry, windy", "the strongest wind and the darkest cloud", 1, -1, 1, 1, "low", True, "case-table"),
    Choice("cold, windy", "the strongest wind in the coldest air", -1, -1, 1, 0, "central", True, "case-table"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Site:
    """How the reporting station lies to the place: km and m, NaN where not known."""

    distance_km: float = nan
    height_difference_m: float = nan

    @property
    def temperature_doubt_c(self) -> float:
        """How much further a temperature may lie from the report because the station is elsewhere, °C."""
        height = LAPSE_C_KM * abs(self.height_difference_m) / 1000 if isfinite(self.height_difference_m) else 0.0
        away = max(0.0, self.distance_km - NEAR_KM) if isfinite(self.distance_km) else 0.0
        return height + min(DISTANCE_MOST_C, DISTANCE_C_KM * away)

    @property
    def wind_doubt_kt(self) -> float:
        """The same for the wind, kt."""
        away = max(0.0, self.distance_km - NEAR_KM) if isfinite(self.distance_km) else 0.0
        return min(WIND_MOST_KT, WIND_KT_KM * away)


def grid(departure: Departure, also: Sequence[int] = ()) -> Floats:
    """Times from now to take-off, (time,), whole seconds: each full five minutes, each window edge, those in also."""
    windows, now = departure.windows, departure.now
    edges = {now, windows.off_block, windows.take_off, *windows.walk_round, *windows.doors_open, *also}
    steps = range(now - now % STEP_S + STEP_S, windows.take_off, STEP_S)
    times = sorted(moment for moment in {*edges, *steps} if now <= moment <= windows.take_off)
    return np.array(times, dtype=np.float64)


def build(
    reports: Sequence[Report],
    departure: Departure,
    *,
    site: Site,
    fuel_stays_cold: bool = True,
    also: Sequence[int] = (),
) -> Conditions:
    """Conditions of a departure from METARs of one station; the newest is gone by. also: further times for the grid.

    Returns columns of shape (case, time). Raises ReportError where no report has a usable group.
    """
    used = newest(reports, departure.now)
    unix_s = grid(departure, also)
    lead_h = (unix_s - used.issued.timestamp()) / 3600
    lead_h = np.maximum(lead_h, 0.0)
    conditions = Conditions(
        unix_s, departure.place.latitude_deg, departure.place.longitude_deg,
        tuple(Case(row.name, row.meaning, row.loss, row.source) for row in BASE_CASES),
        heading_deg=departure.heading_deg,
    )  # fmt: skip
    columns = conditions.columns
    _air(columns, used, unix_s, departure, site)
    _wind(columns, used, lead_h, site)
    _sky(columns, used, lead_h)
    _weather(conditions, used, reports, departure)
    _asked(conditions, departure, used, site, fuel_stays_cold)
    return conditions


def newest(reports: Sequence[Report], now: int) -> Report:
    """The report to go by: the last one issued, a correction before what it corrects. Raises ReportError for none."""
    usable = [report for report in reports if not report.nil]
    if not usable:
        raise ReportError("no report has anything to go by", where="reports", hint="give a METAR that is not NIL")
    return max(usable, key=lambda report: (report.issued, report.corrected, report.raw))


def _ends(low: Floats, central: Floats, high: Floats, pick: str) -> Floats:
    """One of three ends per case, at the case's share of the way from central to there, (case, time)."""
    ends = (central, high, low)  # 0, 1, -1 as index
    rows = [ends[getattr(row, pick)] if row.share == 1.0 else central + row.share * (ends[getattr(row, pick)] - central)
            for row in BASE_CASES]  # fmt: skip
    return np.stack([np.broadcast_to(values, np.shape(central)) for values in rows])


def _full_ends(low: Floats, central: Floats, high: Floats) -> Floats:
    """The same for cloud, whose ends are bounds and taken whole."""
    ends = (central, high, low)
    return np.stack([np.broadcast_to(ends[row.cloud], np.shape(central)) for row in BASE_CASES])


def _air(columns: Columns, used: Report, unix_s: Floats, departure: Departure, site: Site) -> None:
    issued = used.issued.timestamp()
    fraction = _cloud_ends(used)[0][1]
    place = departure.place
    course = (used.temperature_c, issued, unix_s, place.latitude_deg, place.longitude_deg, fraction)
    central = ahead.temperature_ahead_c(*course)[1]
    # the span, not the band: an older report or less cloud must never narrow it
    low, high = ahead.temperature_span_c(*course)
    doubt = used.temperature_doubt_c + site.temperature_doubt_c
    temperature = _ends(low - doubt, central, high + doubt, "temperature")
    dew_low, dew_central, dew_high = ahead.dew_point_ahead_c(
        used.dew_point_c, issued, unix_s, place.latitude_deg
    )
    doubt = used.dew_point_doubt_c + site.temperature_doubt_c
    dew = _ends(dew_low - doubt, dew_central, dew_high + doubt, "moisture")
    if not isfinite(used.dew_point_c):
        # air cannot hold more than saturation: the moist case takes it as the bound, the others stay unknown
        bound = np.array([row.moisture == 1 for row in BASE_CASES])[:, None]
        dew = np.where(bound, temperature, dew)
    columns["air_temperature_c"] = temperature
    columns["dew_point_c"] = np.minimum(dew, temperature)


def _wind(columns: Columns, used: Report, lead_h: Floats, site: Site) -> None:
    mean = used.wind_kt
    less, more = ahead.wind_ahead_kt(mean, lead_h)
    less, more = np.maximum(less - site.wind_doubt_kt, 0.0), more + site.wind_doubt_kt
    central = np.full_like(lead_h, mean)
    columns["wind_kt"] = _ends(less, central, more, "wind")
    if isfinite(used.gust_kt):
        extra = used.gust_kt - mean if isfinite(mean) else 0.0
        gusts = (less + extra, np.full_like(lead_h, used.gust_kt), np.maximum(more + extra, used.gust_kt))
        columns["gust_kt"] = _ends(*gusts, "wind")
    else:
        columns["gust_kt"] = _ends(less, central, wind.unreported_gust_kt(more), "wind")
    # an unknown wind is bounded for the skin: calm lets it cool most, and no wind takes it past the air
    bounded = np.where(np.isnan(columns["wind_kt"]), 0.0, columns["wind_kt"])
    columns["skin_wind_kt"] = bounded
    calm = mean == 0
    known = isfinite(used.wind_direction_deg) and not used.wind_variable and not calm
    direction = np.full((len(BASE_CASES), lead_h.size), used.wind_direction_deg if known else nan)
    # two hours on, the direction is no longer the reported one in every case
    direction[1:, lead_h > WEATHER_HOLDS_S / 3600] = nan
    columns["wind_direction_deg"] = direction


def _cloud_ends(used: Report) -> tuple[tuple[float, float, float], float]:
    """Covered fraction low, central, high, and height of the lowest base that covers most, m (NaN without cloud)."""
    layers = [layer for layer in used.cloud if layer.cover in COVERS]
    if used.sky == "layers" and layers:
        most = max(layers, key=lambda layer: COVERS[layer.cover][1])
        ends = COVERS[most.cover]
        base_ft = most.base_ft if isfinite(most.base_ft) else used.vertical_visibility_ft
        if not isfinite(base_ft) and most.cover == "VV":
            base_ft = 0.0
        # what lies above the reported layers is not seen
        return (ends[0], ends[1], max(ends[2], 7 / 8)), base_ft * FEET_TO_M
    if used.sky == "SKC":
        return (0.0, 0.0, 1 / 8), HIGH_CLOUD_M
    if used.sky in ("CAVOK", "NSC", "NCD", "CLR"):
        return (0.0, 0.25, 7 / 8), HIGH_CLOUD_M
    return (0.0, 0.0, 1.0), 300.0


def _sky(columns: Columns, used: Report, lead_h: Floats) -> None:
    (low, central, high), base_m = _cloud_ends(used)
    if not isfinite(base_m):
        base_m = 1500.0
    # cloud may break or gather: over the six hours after the first two the ends go to clear and to overcast
    drift = np.clip((lead_h - 2.0) / 6.0, 0.0, 1.0)
    ends = (low * (1 - drift), np.full_like(lead_h, central), high + (1 - high) * drift)
    columns["cloud_fraction"] = _full_ends(*ends)
    columns["cloud_base_m"] = np.full((len(BASE_CASES), lead_h.size), base_m)
    unknown = used.sky == "missing"
    falling = int(used.weather_missing or any(not code.startswith("VC") for code in used.weather))
    seen = [np.full_like(lead_h, nan) if unknown else end for end in ends]
    brightest, middle, darkest = (light.sky_divisors(end, falling)[i] for i, end in enumerate(seen))
    columns["sky_divisor"] = _full_ends(brightest, middle, darkest)
    columns["visibility_m"] = np.full((len(BASE_CASES), lead_h.size), _worst_visibility(used))
    columns["runway_visual_range_m"] = np.full((len(BASE_CASES), lead_h.size), used.runway_visual_range_m)


def _worst_visibility(used: Report) -> float:
    """Prevailing visibility; a minimum in one direction is what somebody on that side of the apron has."""
    return used.visibility_m


def _weather(conditions: Conditions, used: Report, reports: Sequence[Report], departure: Departure) -> None:
    columns, shape = conditions.columns, conditions.shape
    us = _is_us(used.station)
    recent = set(used.recent_weather)
    for report in reports:
        age_s = departure.now - report.issued.timestamp()
        if report is not used and 0 <= age_s <= WEATHER_HOLDS_S:
            recent.update(f"RE{code.lstrip('+-')}" for code in report.weather if not code.startswith("VC"))
    now_flags = precipitation.flags(used.weather, recent=tuple(sorted(recent)), missing=used.weather_missing, us=us)
    after = conditions.unix_s - used.issued.timestamp() > WEATHER_HOLDS_S
    lasts = np.array([row.lasts for row in BASE_CASES])[:, None]
    over = np.broadcast_to(after & ~lasts, shape)
    open_end = np.broadcast_to(after & lasts, shape)
    made: dict[str, Codes] = {}
    for name, value in now_flags.items():
        made[name] = column = np.full(shape, value, dtype=np.int8)
        if name.startswith("recent_"):
            continue
        if value == 1:
            # seen now: certain for two hours, possible after that
            column[over] = 0
        elif value == 0 and name in FORECAST_FLAGS:
            # not seen now: nobody has said what comes after two hours
            column[open_end] = -1
    columns.update(precipitation.freezing_by_temperature(made, columns["air_temperature_c"]))
    seen_class = precipitation.treatment_class(used.weather, missing=used.weather_missing, us=us)
    none_class = precipitation.treatment_class(())
    classes = np.full(shape, seen_class)
    classes[over] = none_class
    if seen_class == none_class:
        classes[open_end] = precipitation.UNKNOWN_KIND_CLASS
    columns["treatment_class"] = classes
    columns["snow_intensity_code"] = np.full(shape, float(precipitation.intensity_from_codes(used.weather)))
    rates = precipitation.liquid_rate_mm_h(used.weather, missing=used.weather_missing)
    rain = np.array([rates[LOSSES.index(row.loss)] for row in BASE_CASES])[:, None] + np.zeros(shape)
    rain[over] = 0.0
    columns["rain_rate_mm_h"] = rain
    columns["lightning"] = np.full(shape, int(used.remarks.lightning), dtype=np.int8)
    columns["aerodrome_closed"] = np.full(shape, int(used.aerodrome_closed), dtype=np.int8)
    text = " ".join(used.weather) or ("not reported" if used.weather_missing else "none reported")
    later = f"not forecast (at the report: {text})"
    conditions.precipitation_text = tuple(
        tuple(later if passed else text for passed in after) for _ in range(shape[0])
    )


def _is_us(station: str) -> bool:
    """Whether a station codes by the rules of the United States."""
    return station[0] == "K" or station[:2] in ("PA", "PF", "PG", "PH", "PO", "PP", "PW", "TJ", "TI")


FORECAST_FLAGS = frozenset({
    "snow", "rain", "drizzle", "freezing_precipitation", "freezing_rain", "freezing_drizzle", "ice_pellets", "hail",
    "thunderstorm", "frozen_precipitation", "precipitation_any", "heavy_precipitation", "fog", "freezing_fog", "mist",
})  # fmt: skip


def _asked(conditions: Conditions, departure: Departure, used: Report, site: Site, fuel_stays_cold: bool) -> None:
    columns, unix_s = conditions.columns, conditions.unix_s
    row = np.ones((1, unix_s.size))
    not_stated = []
    treated = unix_s >= departure.treated_at if departure.treated_at is not None else np.zeros(unix_s.size, bool)
    columns["treated"] = treated.astype(np.int8)[None, :]
    columns["ahead_min"] = (unix_s - departure.now)[None, :] / 60
    columns["report_age_min"] = row * (departure.now - used.issued.timestamp()) / 60
    columns["station_distance_km"] = row * site.distance_km
    columns["station_height_difference_m"] = row * abs(site.height_difference_m)
    if departure.parked_since is None:
        not_stated.append("parked since")
        columns["parked_h"] = row * 0.0
    else:
        columns["parked_h"] = (unix_s - departure.parked_since)[None, :] / 3600
    stated = isfinite(departure.fuel_temperature_c)
    columns["fuel_temperature_assumed"] = np.full((1, unix_s.size), 0 if stated else 1, dtype=np.int8)
    if stated:
        columns["fuel_temperature_c"] = row * departure.fuel_temperature_c
    else:
        not_stated.append("fuel temperature")
        recent = np.repeat(columns["air_temperature_c"][:, :1], unix_s.size, axis=1)
        columns["fuel_temperature_c"] = recent * nan if fuel_stays_cold else recent
        columns["assumed_fuel_temperature_c"] = recent
    seen = departure.seen is not None
    columns["deposit_seen"] = np.full((1, unix_s.size), int(seen), dtype=np.int8)
    conditions.not_stated = tuple(not_stated)


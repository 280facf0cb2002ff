"""Air temperature and dew point over the cases: the reports, the sun's course, and the forecast's TX and TN."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, nan

import numpy as np

from advisor.conditions import Columns, Departure, Floats, Masks
from advisor.outlook.cases import BASE_CASES, MILD_OF, Choice, Doubt, Site, ends
from advisor.outlook.track import cloud_ends
from advisor.physics import ahead
from advisor.physics.course import sun_course
from advisor.report.forecast import Extreme, Forecast
from advisor.report.model import Report

# how far a forecast extreme may be off where no report stands beside it (ours, from memory of usual verification)
EXTREME_DOUBT_C = 3.0
# the highest dew point measured anywhere is 35 °C, by the Gulf (from memory), and half a degree is rounding
HIGHEST_DEW_POINT_C = 35.5
# two extremes are joined by the sun's course where it moves by more than this between them, else by time alone
LEAST_COURSE = 0.05


def columns(
    used: Sequence[Report],
    forecast: Forecast | None,
    departure: Departure,
    unix_s: Floats,
    site: Site,
    *,
    milder: bool = False,
) -> Columns:
    """air_temperature_c and dew_point_c, (base case, time), NaN where nothing is known.

    used: in order of time. A report's value is carried by persistence and the sun's course; extremes of the forecast
    pull the central value, and widen the ends where they lie beyond them, never narrow them. milder: under a sky that
    nobody described the low end and the central value are the milder of what they may be, not the colder.
    """
    place = departure.place
    extremes = forecast.temperatures if forecast is not None else ()
    if not used:
        central = course(unix_s, extremes, place.latitude_deg, place.longitude_deg)
        doubt = EXTREME_DOUBT_C + site.temperature_doubt_c
        air = ends(central - doubt, central, central + doubt, Doubt.TEMPERATURE)
        return {"air_temperature_c": air, "dew_point_c": bounded(np.full_like(air, nan), air)}
    issued_all = np.array([report.issued.timestamp() for report in used])
    governing = np.maximum(np.searchsorted(issued_all, unix_s, side="right") - 1, 0)
    # what lies before the first report is as unsure as what lies as long after it
    issued = unix_s - np.abs(unix_s - issued_all[governing])
    value = np.array([report.temperature_c for report in used])[governing]
    fraction = np.array([cloud_ends(report)[0][1] for report in used])[governing]
    undescribed = np.array([not cloud_ends(report)[2] for report in used])[governing]
    low, central, high = air_span(
        value, issued, unix_s, place.latitude_deg, place.longitude_deg, fraction, undescribed, milder=milder
    )
    last = used[-1]
    later = [one for one in extremes if one.at.timestamp() > last.issued.timestamp()]
    if later and isfinite(last.temperature_c):
        start = Extreme("T", last.temperature_c, last.issued)
        pulled = course(unix_s, (start, *later), place.latitude_deg, place.longitude_deg)
        central = np.where((unix_s > departure.now) & ~np.isnan(pulled), pulled, central)
        low, high = np.minimum(low, central), np.maximum(high, central)
    rounding = np.array([report.temperature_doubt_c for report in used])[governing] + site.temperature_doubt_c
    air = ends(low - rounding, central, high + rounding, Doubt.TEMPERATURE)
    dew_value = np.array([report.dew_point_c for report in used])[governing]
    dew_low, dew_central, dew_high = ahead.dew_point_ahead_c(dew_value, issued, unix_s, place.latitude_deg)
    rounding = np.array([report.dew_point_doubt_c for report in used])[governing] + site.temperature_doubt_c
    dew = ends(dew_low - rounding, dew_central, dew_high + rounding, Doubt.MOISTURE)
    return {"air_temperature_c": air, "dew_point_c": bounded(dew, air)}


def air_span(
    value_c: Floats,
    issued_s: Floats,
    unix_s: Floats,
    latitude_deg: Floats | float,
    longitude_deg: Floats | float,
    fraction: Floats,
    undescribed: Masks,
    *,
    milder: bool = False,
) -> tuple[Floats, Floats, Floats]:
    """Air temperature at times after reports: low, central and high, °C, each (time,).

    value_c, issued_s: of the report that holds at each time. latitude_deg, longitude_deg: scalars or (time,).
    fraction: covered part of the sky; undescribed: where nobody described it; milder: see columns. The rounding of the
    report is not in it.
    """
    # the span, not the band: an older report or less cloud must never narrow it
    low, central, high = ahead.temperature_carried_c(value_c, issued_s, unix_s, latitude_deg, longitude_deg, fraction)
    rows = np.flatnonzero(undescribed)
    # under a sky that nobody described it may warm and cool as under a clear one, or as little as
    # under a whole one; the skin that cools most stands in the central air, so that this is the colder of the two
    for whole in (0.0, 1.0) if rows.size else ():
        north, east = (np.broadcast_to(one, unix_s.shape)[rows] for one in (latitude_deg, longitude_deg))
        lowest, middle, highest = ahead.temperature_carried_c(
            value_c[rows], issued_s[rows], unix_s[rows], north, east, whole
        )
        which = np.maximum if milder else np.minimum
        low[rows], central[rows] = which(low[rows], lowest), which(central[rows], middle)
        high[rows] = np.maximum(high[rows], highest)
    return low, central, high


def milder(
    readings: Sequence[Sequence[Report]],
    forecast: Forecast | None,
    departure: Departure,
    unix_s: Floats,
    site: Site,
) -> Columns | None:
    """The same of the cases of MILDER, in milder air: (such a case, time); None where every sky is told.

    Between the coldest air and the warmest lies what cools a tank below freezing in air that is not that cold: with
    the sky lost their colder air would take it away. The one that takes warm air keeps it. readings: the reports as
    columns wants them, and as they are where two of one minute contradict each other.
    """
    if all(cloud_ends(report)[2] for used in readings for report in used):
        return None
    each = [columns(used, forecast, departure, unix_s, site, milder=True) for used in readings]
    return {name: np.maximum.reduce([one[name][list(MILD_OF)] for one in each]) for name in each[0]}


def worse(first: Columns, second: Columns) -> Columns:
    """Of two readings of the air the end that each case takes; the central case keeps the first.

    The adverse skin, which takes no end of the report's doubt, takes the colder and the moister air.
    """
    joined = {name: first[name].copy() for name in first}
    for case, row in enumerate(BASE_CASES):
        if row.lasts:
            warm, dry = row.temperature > 0, row.moisture < 0
            name = "air_temperature_c"
            joined[name][case] = (np.maximum if warm else np.minimum)(first[name][case], second[name][case])
            name = "dew_point_c"
            joined[name][case] = (np.minimum if dry else np.maximum)(first[name][case], second[name][case])
    return {**joined, "dew_point_c": np.minimum(joined["dew_point_c"], joined["air_temperature_c"])}


def bounded(dew: Floats, air: Floats, choices: Sequence[Choice] | None = None) -> Floats:
    """Dew point at or below the air; an unknown one is bounded in the moist cases, unknown in the others.

    It is bounded by the air, and by the highest that there is.
    """
    moist = np.array([row.moisture == 1 for row in choices or BASE_CASES])[:, None]
    return np.minimum(np.where(moist & np.isnan(dew), np.minimum(air, HIGHEST_DEW_POINT_C), dew), air)


def course(unix_s: Floats, points: Sequence[Extreme], latitude_deg: float, longitude_deg: float) -> Floats:
    """Temperature between known points, °C: by the sun's course between two of them, level outside, NaN without any.

    unix_s: (time,); points: any order. Between two points the air follows the sun's course from one to the other.
    """
    if not points:
        return np.full_like(unix_s, nan)
    known = sorted(points, key=lambda one: one.at)
    known_s = np.array([one.at.timestamp() for one in known])
    value = np.array([one.value_c for one in known])
    right = np.clip(np.searchsorted(known_s, unix_s, side="right"), 1, max(1, known_s.size - 1))
    left = right - 1
    right = np.minimum(right, known_s.size - 1)
    clipped = np.clip(unix_s, known_s[0], known_s[-1])
    span_s = known_s[right] - known_s[left]
    by_time = np.divide(clipped - known_s[left], span_s, out=np.zeros_like(clipped), where=span_s > 0)
    sun = sun_course(clipped, latitude_deg, longitude_deg)
    ends_sun = sun_course(known_s, latitude_deg, longitude_deg)
    moved = ends_sun[right] - ends_sun[left]
    by_sun = np.divide(sun - ends_sun[left], moved, out=by_time.copy(), where=np.abs(moved) > LEAST_COURSE)
    share = np.clip(by_sun, 0.0, 1.0)
    temperature_c: Floats = value[left] + share * (value[right] - value[left])
    return temperature_c

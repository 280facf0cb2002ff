"""Where the sun is: elevation, azimuth and declination.

Geometric throughout: the centre of the disc, no refraction, horizon at sea level. The array form and astral's are the
same formulas; astral is asked for a single place and time, numpy for everything else.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from astral import Observer
from astral import sun as astral_sun
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.ranges import within
from advisor.quantities.units import DAY_S

# 1900-01-01 to 2100-01-01; the comparison with the NREL algorithm covers 1950 to 2050
EARLIEST_S, LATEST_S = -2_208_988_800.0, 4_102_444_800.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_J2000_S = 946_728_000.0
_CENTURY_S = 36_525.0 * DAY_S

SUNRISE_DEG, CIVIL_DEG, NAUTICAL_DEG, ASTRONOMICAL_DEG = -0.833, -6.0, -12.0, -18.0

# Meeus chapter 25 as the NOAA solar calculator uses it: polynomials in Julian centuries since 2000, lowest power first
MEAN_LONGITUDE_DEG = (280.46646, 36000.76983, 0.0003032)
MEAN_ANOMALY_DEG = (357.52911, 35999.05029, -0.0001537)
ECCENTRICITY = (0.016708634, -0.000042037, -0.0000001267)
CENTRE_1_DEG = (1.914602, -0.004817, -0.000014)
CENTRE_2_DEG = (0.019993, -0.000101)
CENTRE_3_DEG = 0.000289
NODE_DEG = (125.04, -1934.136)
ABERRATION_DEG = 0.00569
NUTATION_LONGITUDE_DEG = 0.00478
NUTATION_OBLIQUITY_DEG = 0.00256
OBLIQUITY_DEG = (23.0 + 26.0 / 60.0 + 21.448 / 3600.0, -46.815 / 3600.0, -0.00059 / 3600.0, 0.001813 / 3600.0)

# fewer angles than this are worked out one by one
FEW_ANGLES = 64  # not a coefficient
# astral holds latitude at 89.8°, so closer to a pole the array form answers
_ASTRAL_LATITUDE_DEG = 89.8


def elevation_deg(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Floats:
    """Elevation of the sun's centre above the horizon, no refraction.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100.
    latitude_deg
        -90 to 90.
    longitude_deg
        East positive, -360 to 360, wrapped.

    Returns
    -------
    Floats
        Degrees, -90 to 90; NaN outside the ranges. Within 0.02° of the NREL algorithm for 1950 to 2050.

    References
    ----------
    noaa-solar, meeus-25
    """
    single = _single(unix_s, latitude_deg, longitude_deg)
    if single is not None:
        return np.asarray(astral_sun.elevation(*single, with_refraction=False))[()]
    sin_elevation, *_ = _local(unix_s, latitude_deg, longitude_deg)
    return _arcsin_deg(sin_elevation)[()]


def sine_of_elevation(
    unix_s: Floats, terms: tuple[Floats, Floats, Floats], latitude_deg: Floats, longitude_deg: Floats
) -> Floats:
    """Sine of the elevation, for callers who know the solar terms of their times already.

    Parameters
    ----------
    unix_s, latitude_deg, longitude_deg
        As for elevation_deg, arrays.
    terms
        As solar_terms gives them for these times.

    Returns
    -------
    Floats
        -1 to 1: the sine of what elevation_deg gives for arrays.

    References
    ----------
    noaa-solar, meeus-25
    """
    sine, *_ = _local(unix_s, latitude_deg, longitude_deg, terms)
    return np.clip(sine, -1.0, 1.0)


def position_deg(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Elevation and azimuth together, at little more than the cost of one.

    Parameters
    ----------
    unix_s, latitude_deg, longitude_deg
        As for elevation_deg.

    Returns
    -------
    tuple[Floats, Floats]
        Elevation and azimuth in degrees; NaN outside the ranges.

    References
    ----------
    noaa-solar, meeus-25
    """
    sin_elevation, sin_dec, cos_dec, sin_lat, cos_lat, sin_hour, cos_hour = _local(unix_s, latitude_deg, longitude_deg)
    east = -cos_dec * sin_hour
    north = sin_dec * cos_lat - cos_dec * sin_lat * cos_hour
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0
    return _arcsin_deg(sin_elevation)[()], azimuth[()]


def declination_deg(unix_s: ArrayLike) -> Floats:
    """Declination of the sun: how far it stands north of the equator.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100; scalar or array; NaN stays.

    Returns
    -------
    Floats
        Degrees, -23.5 to 23.5; NaN outside the range.

    References
    ----------
    noaa-solar, meeus-25
    """
    sin_dec, *_ = solar_terms(centuries(within(unix_s, EARLIEST_S, LATEST_S)))
    return np.degrees(np.arcsin(sin_dec))[()]


def solar_terms(century: Floats) -> tuple[Floats, Floats, Floats]:
    """Sine and cosine of the declination, and the equation of time, for callers who evaluate few times at many places.

    Parameters
    ----------
    century
        Julian centuries since 2000-01-01 12:00, an array.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        Sine, cosine, and minutes, of its shape.

    References
    ----------
    noaa-solar, meeus-25
    """
    t = century
    anomaly = np.radians(_polynomial(MEAN_ANOMALY_DEG, t))
    sin_m, cos_m = _both(anomaly)
    sin_2m = 2.0 * sin_m * cos_m
    node = np.radians(_polynomial(NODE_DEG, t))
    mean_longitude = np.radians(_polynomial(MEAN_LONGITUDE_DEG, t))
    sin_node, cos_node = _both(node)
    apparent = np.radians(_centre_deg(t, sin_m, sin_2m) - ABERRATION_DEG - NUTATION_LONGITUDE_DEG * sin_node)
    apparent += mean_longitude
    sin_obliquity, cos_obliquity = _both(np.radians(_polynomial(OBLIQUITY_DEG, t) + NUTATION_OBLIQUITY_DEG * cos_node))
    sin_dec = sin_obliquity * _both(apparent)[0]
    cos_dec = np.sqrt(1.0 - sin_dec * sin_dec)

    eccentricity = _polynomial(ECCENTRICITY, t)
    y = (1.0 - cos_obliquity) / (1.0 + cos_obliquity)
    sin_l, cos_l = _both(mean_longitude)
    sin_2l = 2.0 * sin_l * cos_l
    cos_2l = 1.0 - 2.0 * sin_l * sin_l
    equation = y * sin_2l * (1.0 - y * cos_2l)
    equation += eccentricity * (sin_m * (4.0 * y * cos_2l - 2.0) - 1.25 * eccentricity * sin_2m)
    return sin_dec, cos_dec, np.degrees(equation) * 4.0


def true_longitude_deg(century: Floats) -> Floats:
    """Longitude of the sun on the ecliptic of date, for the moon's phase.

    Parameters
    ----------
    century
        Julian centuries since 2000-01-01 12:00, an array.

    Returns
    -------
    Floats
        Degrees, not reduced to one turn.

    References
    ----------
    meeus-25
    """
    anomaly = np.radians(_polynomial(MEAN_ANOMALY_DEG, century))
    centre = _centre_deg(century, np.sin(anomaly), np.sin(2.0 * anomaly))
    return _polynomial(MEAN_LONGITUDE_DEG, century) + centre


def _local(
    unix_s: ArrayLike,
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    terms: tuple[Floats, Floats, Floats] | None = None,
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats, Floats]:
    time = within(unix_s, EARLIEST_S, LATEST_S)
    sin_lat, cos_lat = _sin_and_cos(np.radians(within(latitude_deg, -90.0, 90.0)))
    sin_dec, cos_dec, equation_min = solar_terms(centuries(time)) if terms is None else terms
    # one turn a day: 240 s a degree, 4 min a degree
    hour_angle = np.radians((time % DAY_S) / 240.0 + 0.25 * equation_min + within(longitude_deg, -360.0, 360.0) - 180.0)
    sin_hour, cos_hour = _both(hour_angle)
    sin_elevation = sin_lat * sin_dec + cos_lat * cos_dec * cos_hour
    return sin_elevation, sin_dec, cos_dec, sin_lat, cos_lat, sin_hour, cos_hour


def _both(angle: Floats) -> tuple[Floats, Floats]:
    """Sine and cosine of an angle in radians, both out of the tangent of its half, within 1e-15.

    numpy works out a tangent many times as fast as a sine where the processor has wide registers; elsewhere one of it
    for both takes no longer.
    """
    half = np.tan(0.5 * angle)
    square = half * half
    share = 1.0 / (1.0 + square)
    return 2.0 * half * share, (1.0 - square) * share


def _sin_and_cos(angle: Floats) -> tuple[Floats, Floats]:
    """Sine and cosine; the same angle stands many times in a row where places are arrays."""
    if angle.ndim != 1 or angle.size < FEW_ANGLES:
        return np.sin(angle), np.cos(angle)
    starts = np.flatnonzero(np.r_[True, angle[1:] != angle[:-1]])
    times = np.diff(np.r_[starts, angle.size])
    return np.repeat(np.sin(angle[starts]), times), np.repeat(np.cos(angle[starts]), times)


def _single(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Observer, datetime] | None:
    """Observer and time for astral, or None where it is not one point that astral can take as it is."""
    values = (unix_s, latitude_deg, longitude_deg)
    if not all(isinstance(value, (int, float)) for value in values):
        return None
    time, latitude, longitude = (float(value) for value in values)  # type: ignore[arg-type]
    # NaN fails every comparison; astral drops fractions of a second and clamps what lies outside
    if not (EARLIEST_S <= time <= LATEST_S and time == int(time)):
        return None
    if not (abs(latitude) <= _ASTRAL_LATITUDE_DEG and abs(longitude) <= 180.0):
        return None
    return Observer(latitude, longitude, 0.0), _EPOCH + timedelta(seconds=time)


def centuries(unix_s: Floats) -> Floats:
    """Julian centuries since 2000-01-01 12:00, from seconds since 1970 UTC."""
    return (unix_s - _J2000_S) / _CENTURY_S


def _centre_deg(t: Floats, sin_m: Floats, sin_2m: Floats) -> Floats:
    sin_3m = sin_m * (3.0 - 4.0 * sin_m * sin_m)
    return sin_m * _polynomial(CENTRE_1_DEG, t) + sin_2m * _polynomial(CENTRE_2_DEG, t) + CENTRE_3_DEG * sin_3m


def _polynomial(coefficients: tuple[float, ...], t: Floats) -> Floats:
    value: Floats = np.multiply(t, coefficients[-1])
    for coefficient in coefficients[-2:0:-1]:
        value = (value + coefficient) * t
    return value + coefficients[0]


def _arcsin_deg(sine: Floats) -> Floats:
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))

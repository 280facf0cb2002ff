"""Where the moon is and how much of it is lit, well enough for its light on the ground.

The largest periodic terms of Meeus chapter 47, about 0.05° in direction, with parallax for a round earth.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics import sun
from advisor.physics.ranges import within

# Meeus 47: mean longitude, elongation D, sun's anomaly M, moon's anomaly M', latitude argument F; degrees, per century
MEAN_LONGITUDE_DEG = (218.3164477, 481267.88123421)
ARGUMENTS_DEG = (
    (297.8501921, 445267.1114034),
    (357.5291092, 35999.0502909),
    (134.9633964, 477198.8675055),
    (93.2720950, 483202.0175233),
)
# multiples of D, M, M', F; then the amplitude in degrees; longitude and latitude go with sines, distance with cosines
LONGITUDE_TERMS = (
    (0, 0, 1, 0, 6.288774),
    (2, 0, -1, 0, 1.274027),
    (2, 0, 0, 0, 0.658314),
    (0, 0, 2, 0, 0.213618),
    (0, 1, 0, 0, -0.185116),
    (0, 0, 0, 2, -0.114332),
    (2, 0, -2, 0, 0.058793),
    (2, -1, -1, 0, 0.057066),
    (2, 0, 1, 0, 0.053322),
    (2, -1, 0, 0, 0.045758),
    (0, 1, -1, 0, -0.040923),
    (1, 0, 0, 0, -0.034720),
    (0, 1, 1, 0, -0.030383),
)
LATITUDE_TERMS = (
    (0, 0, 0, 1, 5.128122),
    (0, 0, 1, 1, 0.280602),
    (0, 0, 1, -1, 0.277693),
    (2, 0, 0, -1, 0.173237),
    (2, 0, -1, 1, 0.055413),
    (2, 0, -1, -1, 0.046271),
    (2, 0, 0, 1, 0.032573),
)
MEAN_DISTANCE_KM = 385000.56
# amplitudes for the first rows of LONGITUDE_TERMS
DISTANCE_TERMS_KM = (-20905.355, -3699.111, -2955.968, -569.925)
EARTH_RADIUS_KM = 6378.14
# Meeus 12.4: sidereal time at Greenwich, degrees and degrees a day
SIDEREAL_DEG = (280.46061837, 360.98564736629)
# terrestrial less universal time: 29 s in 1950, 69 s in 2020, about half a minute of arc a minute of time
DELTA_T_S = 60.0


def position(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Elevation of the moon as seen from the ground, and the lit part of its disc.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100.
    latitude_deg
        -90 to 90.
    longitude_deg
        East positive, -360 to 360.

    Returns
    -------
    tuple[Floats, Floats]
        Elevation in degrees, no refraction, and illuminated fraction, 0 to 1; NaN outside the ranges.

    References
    ----------
    meeus-47
    meeus-48
    """
    time = within(unix_s, sun.EARLIEST_S, sun.LATEST_S)
    longitude, latitude, distance_km, sun_longitude = ecliptic(time)
    fraction = _fraction(longitude, latitude, sun_longitude)
    return _elevation_deg(time, latitude_deg, longitude_deg, longitude, latitude, distance_km)[()], fraction[()]


def ecliptic(unix_s: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Where moon and sun stand on the ecliptic of date, seen from the earth's centre.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100, an array.

    Returns
    -------
    tuple[Floats, Floats, Floats, Floats]
        Longitude and latitude of the moon in radians, not reduced to one turn, its distance in km, and the longitude
        of the sun in radians; of its shape.

    References
    ----------
    meeus-47, meeus-25
    """
    century = sun.centuries(unix_s + DELTA_T_S)
    arguments = np.array([np.radians(start + rate * century) for start, rate in ARGUMENTS_DEG])
    terms = np.array(LONGITUDE_TERMS + LATITUDE_TERMS)
    angles = np.einsum("ti,i...->t...", terms[:, :4], arguments)
    count = len(LONGITUDE_TERMS)
    waves = np.radians(terms[:, 4]).reshape(-1, *(1,) * century.ndim) * np.sin(angles)
    longitude = np.radians(MEAN_LONGITUDE_DEG[0] + MEAN_LONGITUDE_DEG[1] * century) + waves[:count].sum(axis=0)
    near = np.cos(angles[: len(DISTANCE_TERMS_KM)])
    distance_km = MEAN_DISTANCE_KM + np.einsum("t,t...->...", np.array(DISTANCE_TERMS_KM), near)
    return longitude, waves[count:].sum(axis=0), distance_km, np.radians(sun.true_longitude_deg(century))


def _fraction(longitude: Floats, latitude: Floats, sun_longitude: Floats) -> Floats:
    # Meeus 48.2, and the phase angle as 180° less the elongation: the sun is 389 times as far, worth 0.0013 at most
    return 0.5 - 0.5 * np.cos(latitude) * np.cos(longitude - sun_longitude)


def _elevation_deg(
    time: Floats,
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    longitude: Floats,
    latitude: Floats,
    distance_km: Floats,
) -> Floats:
    century = sun.centuries(time)
    obliquity = np.radians(sun.OBLIQUITY_DEG[0] + sun.OBLIQUITY_DEG[1] * century)
    sin_lat, cos_lat, tan_lat = np.sin(latitude), np.cos(latitude), np.tan(latitude)
    sin_dec = sin_lat * np.cos(obliquity) + cos_lat * np.sin(obliquity) * np.sin(longitude)
    cos_dec = np.sqrt(1.0 - sin_dec * sin_dec)
    right_ascension = np.arctan2(np.sin(longitude) * np.cos(obliquity) - tan_lat * np.sin(obliquity), np.cos(longitude))
    sidereal = np.radians(SIDEREAL_DEG[0] + SIDEREAL_DEG[1] * (century * 36525.0))
    hour_angle = sidereal + np.radians(within(longitude_deg, -360.0, 360.0)) - right_ascension
    place = np.radians(within(latitude_deg, -90.0, 90.0))
    sin_height = np.clip(np.sin(place) * sin_dec + np.cos(place) * cos_dec * np.cos(hour_angle), -1.0, 1.0)
    cos_height = np.sqrt(1.0 - sin_height * sin_height)
    height: Floats = np.degrees(np.arctan2(sin_height - EARTH_RADIUS_KM / distance_km, cos_height))
    return height

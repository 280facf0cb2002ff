"""Natural light on level ground from sun, moon and cloud, and the names of the light.

Legal night (the sun's centre more than 6° down) and too dark to see by (illuminance) are two things, kept apart here.
Clear-sky illuminance has the Explanatory Supplement's form, log10 E = L0 + L1 x + L2 x² + L3 x³ with x = altitude over
90°, piece by piece; where two pieces do not meet, the brighter end of the lower piece is held, so that light never
falls as the sun rises.
"""

from __future__ import annotations

from math import inf, log

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import NO, UNKNOWN, Codes, Floats
from advisor.physics import sun
from advisor.physics.ranges import within

# lower end of the piece in degrees, then L0 to L3; Explanatory Supplement to the Astronomical Almanac (1992)
SUN_PIECES = (
    (-18.0, 13.84, 262.72, 1447.42, 2797.93),
    (-12.0, 2.70, 12.17, -431.69, -1899.83),
    (-5.0, 2.88, 21.81, -258.11, -858.36),
    (-0.8, 2.88, 22.26, -207.64, 1034.30),
    (5.0, 3.05, 13.28, -45.98, 64.33),
    (20.0, 3.74, 3.97, -4.07, 1.47),
)
MOON_PIECES = (
    (-0.8, -2.79, 24.27, -252.95, 1321.29),
    (5.0, -2.58, 12.58, -42.58, 59.06),
    (20.0, -1.95, 4.06, -4.24, 1.56),
)
# log10 falls by these times phase angle and its fourth power; parallax (degrees) stands for the moon's distance
MOON_PHASE = (0.00868, 2.2e-9)
MOON_MEAN_PARALLAX_DEG = 0.951

TWILIGHTS_DEG = (sun.ASTRONOMICAL_DEG, sun.NAUTICAL_DEG, sun.CIVIL_DEG, sun.SUNRISE_DEG)

# divisors: 1 clear, 2 thin cloud, 3 average cloud, 10 dark stratus; covered part of the sky up to, low, central, high
SKY_STEPS = (
    (0.0, 1.0, 1.0, 1.0),
    (0.25, 1.0, 1.0, 2.0),
    (0.5, 1.0, 1.0, 3.0),
    (0.99, 1.0, 2.0, 3.0),
    (inf, 3.0, 3.0, 10.0),
)
SKY_UNKNOWN = (1.0, 3.0, 10.0)
SKY_THIN, SKY_DARK = 2.0, 10.0

_LN10 = log(10.0)


def _tables(pieces: tuple[tuple[float, ...], ...]) -> tuple[Floats, Floats, Floats]:
    """Edges, coefficients (4, piece) and the value that each piece may not fall below; piece 0 lies under them all."""
    table = np.array(pieces)
    edges, coefficients = table[:, 0], table[:, 1:].T
    ends = np.append(edges[1:], 90.0) / 90.0
    tops = np.maximum.accumulate(_cubic(coefficients, ends))
    bottom = _cubic(coefficients[:, :1], edges[:1] / 90.0)
    flat = np.array([bottom, [0.0], [0.0], [0.0]])
    return edges, np.hstack([flat, coefficients]), np.concatenate([bottom, bottom, tops[:-1]])


def _cubic(coefficients: Floats, x: Floats) -> Floats:
    value: Floats = coefficients[3] * x
    for row in (2, 1):
        value += coefficients[row]
        value *= x
    value += coefficients[0]
    return value


_SUN_TABLES = _tables(SUN_PIECES)
_MOON_TABLES = _tables(MOON_PIECES)


def _log10_lx(elevation: Floats, tables: tuple[Floats, Floats, Floats]) -> Floats:
    edges, coefficients, floors = tables
    # NaN sorts past the last edge, and stays NaN in what follows
    piece = np.searchsorted(edges, elevation, side="right")
    return np.maximum(_cubic(coefficients[:, piece], elevation / 90.0), floors[piece])


def sun_illuminance_lx(sun_elevation_deg: ArrayLike) -> Floats:
    """Illuminance of level ground from sun and daylit sky, clear.

    Parameters
    ----------
    sun_elevation_deg
        No refraction, -90 to 90, scalar or array; NaN stays.

    Returns
    -------
    Floats
        lx, 0.0006 (held below -18°) to 129 000, never falling as the sun rises; NaN outside the range.

    References
    ----------
    explanatory-supplement-illuminance
    """
    elevation = np.atleast_1d(within(sun_elevation_deg, -90.0, 90.0))
    lux = np.exp(_LN10 * _log10_lx(elevation, _SUN_TABLES))
    return lux.reshape(np.shape(sun_elevation_deg))[()]


def moon_illuminance_lx(
    moon_elevation_deg: ArrayLike,
    moon_illuminated_fraction: ArrayLike,
    parallax_deg: ArrayLike = MOON_MEAN_PARALLAX_DEG,
) -> Floats:
    """Illuminance of level ground from the moon, clear.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    moon_elevation_deg
        -90 to 90.
    moon_illuminated_fraction
        0 to 1.
    parallax_deg
        Equatorial horizontal parallax, 0.85 to 1.05.

    Returns
    -------
    Floats
        lx, 0 below -0.8°, at most about 0.3; NaN outside the ranges.

    References
    ----------
    explanatory-supplement-illuminance
    """
    elevation = within(moon_elevation_deg, -90.0, 90.0)
    fraction = within(moon_illuminated_fraction, 0.0, 1.0)
    phase_deg = np.degrees(np.arccos(2.0 * fraction - 1.0))
    parallax = within(parallax_deg, 0.85, 1.05)
    logarithm = _log10_lx(np.atleast_1d(elevation), _MOON_TABLES).reshape(elevation.shape)
    logarithm = logarithm - MOON_PHASE[0] * phase_deg - MOON_PHASE[1] * phase_deg**4
    logarithm = logarithm + 2.0 * np.log10(parallax / MOON_MEAN_PARALLAX_DEG)
    lux = np.exp(_LN10 * logarithm)
    # NaN in any argument stays: nought times it is still NaN
    return np.where(elevation < MOON_PIECES[0][0], 0.0 * lux, lux)[()]


def illuminance_lx(
    sun_elevation_deg: ArrayLike,
    moon_elevation_deg: ArrayLike = -90.0,
    moon_illuminated_fraction: ArrayLike = 0.0,
    sky_divisor: ArrayLike = 1.0,
) -> Floats:
    """Natural illuminance of level ground under a sky.

    Scalars or arrays that broadcast; NaN stays. Without a moon given there is none.

    Parameters
    ----------
    sun_elevation_deg, moon_elevation_deg
        -90 to 90.
    moon_illuminated_fraction
        0 to 1.
    sky_divisor
        1 to 10, see sky_divisors.

    Returns
    -------
    Floats
        lx; NaN outside the ranges.

    References
    ----------
    explanatory-supplement-illuminance
    usno-circular-171
    """
    clear = sun_illuminance_lx(sun_elevation_deg)
    if not (np.isscalar(moon_elevation_deg) and moon_elevation_deg == -90.0):
        clear = clear + moon_illuminance_lx(moon_elevation_deg, moon_illuminated_fraction)
    return (clear / within(sky_divisor, 1.0, 10.0))[()]


def sky_divisors(
    cloud_fraction: ArrayLike, precipitation: ArrayLike = 0, thin_cloud_possible: ArrayLike = False
) -> tuple[Floats, Floats, Floats]:
    """What the sky may divide clear-sky light by: lowest, central, highest.

    Scalars or arrays that broadcast.

    Parameters
    ----------
    cloud_fraction
        Part of the sky covered, 0 to 1; NaN, or anything else, is an unknown sky and gives the widest bounds (1, 3,
        10), never NaN.
    precipitation
        Flag 1, 0 or -1; falling or not known counts 10 at the dark end, and so should fog.
    thin_cloud_possible
        A report of no cloud says nothing of high cloud; true puts 2 at the dark end.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        1, 1, 1 clear; to 1, 2, 3 broken; 3, 3, 10 overcast.

    References
    ----------
    usno-circular-171: the values
    invented-default: their choice by cloud amount
    """
    fraction = within(cloud_fraction, 0.0, 1.0)
    steps = np.array((*SKY_STEPS, (np.nan, *SKY_UNKNOWN)))
    # NaN sorts past the last step, to the row of the unknown sky
    low, central, high = np.moveaxis(steps[np.searchsorted(steps[:-1, 0], fraction), 1:], -1, 0)
    high = np.where(np.asarray(thin_cloud_possible, dtype=bool), np.maximum(high, SKY_THIN), high)
    high = np.where(np.asarray(precipitation) != NO, SKY_DARK, high)
    low, central = np.broadcast_to(low, high.shape), np.broadcast_to(central, high.shape)
    return low.copy()[()], central.copy()[()], high[()]


def light_code(sun_elevation_deg: ArrayLike) -> Codes:
    """Day, twilight or dark, as the position in quantities.LIGHT_NAMES.

    Day ends at -0.833°, the twilights at -6, -12 and -18°.

    Parameters
    ----------
    sun_elevation_deg
        -90 to 90, scalar or array.

    Returns
    -------
    Codes
        int8: 0 day to 4 full dark; -1 for NaN or outside the range.

    References
    ----------
    icao-annex-6-night: -6°
    common-practice: the others
    """
    elevation = within(sun_elevation_deg, -90.0, 90.0)
    code = 4 - np.searchsorted(np.array(TWILIGHTS_DEG), elevation, side="right")
    return np.where(np.isnan(elevation), UNKNOWN, code).astype(np.int8)[()]


def is_dark(sun_elevation_deg: ArrayLike) -> Codes:
    """Legal night: the sun's centre more than 6° below the horizon.

    Parameters
    ----------
    sun_elevation_deg
        No refraction, -90 to 90, scalar or array.

    Returns
    -------
    Codes
        int8: 1 night, 0 not, -1 for NaN or outside the range.

    References
    ----------
    icao-annex-6-night
    """
    elevation = within(sun_elevation_deg, -90.0, 90.0)
    return np.where(np.isnan(elevation), UNKNOWN, elevation < sun.CIVIL_DEG).astype(np.int8)[()]

"""People outside: wind chill, minutes to frostbite, heat index. Each with its domain; outside it the answer is NaN."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.ranges import within

# 2001 index, °C and km/h: constant, T, V^0.16, T V^0.16
WIND_CHILL = (13.12, 0.6215, -11.37, 0.3965)
WIND_CHILL_POWER = 0.16
WIND_CHILL_WARMEST_C = 10.0
WIND_CHILL_CALM_KMH = 4.8

# wind chill in °C and minutes to frostbite; published bands disagree, these are from memory
FROSTBITE_AT_C = (-55.0, -48.0, -40.0, -28.0)
FROSTBITE_MIN = (2.0, 5.0, 10.0, 30.0)

# Rothfusz 1990, °F and %: 1, T, R, TR, T², R², T²R, TR², T²R²
HEAT_INDEX = (-42.379, 2.04901523, 10.14333127, -0.22475541, -6.83783e-3, -5.481717e-2, 1.22874e-3, 8.5282e-4, -1.99e-6)
# 0.5 (T + 61 + 1.2 (T - 68) + 0.094 R), averaged with T: used while that average is under 80 °F
HEAT_SIMPLE = (61.0, 68.0, 1.2, 0.094)
HEAT_SIMPLE_BELOW_F = 80.0
# dry: R under 13 %, T to 112 °F where the root ends, take off (13 - R)/4 sqrt((17 - |T - 95|)/17)
HEAT_DRY = (13.0, 4.0, 17.0, 95.0)
# humid: R over 85 %, T 80 to 87 °F, add (R - 85)/10 (87 - T)/5
HEAT_HUMID = (85.0, 10.0, 87.0, 5.0)
HEAT_COOLEST_F, HEAT_HOTTEST_F = 80.0, 122.0


def wind_chill_c(temperature_c: ArrayLike, wind_kmh: ArrayLike) -> Floats:
    """Wind chill index of 2001, for a face in the wind.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    temperature_c
        °C, -90 to 10.
    wind_kmh
        Mean wind at 10 m, above 4.8 up to 400.

    Returns
    -------
    Floats
        °C; NaN outside the ranges: there is no wind chill in calm or warm air, which is for the caller to say.

    References
    ----------
    wind-chill-2001
    """
    temperature = within(temperature_c, -90.0, WIND_CHILL_WARMEST_C)
    wind = within(wind_kmh, np.nextafter(WIND_CHILL_CALM_KMH, np.inf), 400.0)
    speed = np.exp(WIND_CHILL_POWER * np.log(wind))
    constant, by_temperature, by_speed, by_both = WIND_CHILL
    index = temperature * (by_temperature + by_both * speed)
    index += constant + by_speed * speed
    return index[()]


def frostbite_min(wind_chill_c: ArrayLike) -> Floats:
    """Roughly how long until bare skin may freeze.

    Parameters
    ----------
    wind_chill_c
        Index in °C, -150 to -28, scalar or array; NaN stays.

    Returns
    -------
    Floats
        Minutes: 30 at -28, 10 at -40, 5 at -48, 2 at -55, between them in proportion, 2 (or fewer) below; NaN above
        -28, where no time is published.

    References
    ----------
    frostbite-bands
    """
    index = within(wind_chill_c, -150.0, FROSTBITE_AT_C[-1])
    return np.interp(index, FROSTBITE_AT_C, FROSTBITE_MIN)[()]


def heat_index_c(temperature_c: ArrayLike, relative_humidity_pct: ArrayLike) -> Floats:
    """Heat index in the shade: what the heat feels like to somebody walking lightly clothed.

    Scalars or arrays that broadcast; NaN stays. Full sun adds up to 8 °C, not included.

    Parameters
    ----------
    temperature_c
        °C, 26.67 (80 °F) to 50.
    relative_humidity_pct
        Over water, 0 to 105, over 100 counts as 100.

    Returns
    -------
    Floats
        °C; NaN outside the ranges: below 80 °F there is no heat index.

    References
    ----------
    heat-index-rothfusz
    """
    # 80 °F and 122 °F written in °C must not fall out by rounding
    t = within(np.asarray(temperature_c, dtype=np.float64) * 1.8 + 32.0, HEAT_COOLEST_F - 1e-9, HEAT_HOTTEST_F + 1e-9)
    r = np.minimum(within(relative_humidity_pct, 0.0, 105.0), 100.0)
    add, less, slope, by_humidity = HEAT_SIMPLE
    simple = 0.5 * (t + 0.5 * (t + add + slope * (t - less) + by_humidity * r))
    full = _rothfusz_f(t, r)
    return ((np.where(simple < HEAT_SIMPLE_BELOW_F, simple, full) - 32.0) / 1.8)[()]


def _rothfusz_f(t: Floats, r: Floats) -> Floats:
    c = HEAT_INDEX
    index = c[0] + c[1] * t + c[4] * t * t
    index = index + r * (c[2] + c[3] * t + c[6] * t * t)
    index = index + r * r * (c[5] + c[7] * t + c[8] * t * t)
    dry, share, half_width, middle = HEAT_DRY
    root = np.sqrt(np.maximum(half_width - np.abs(t - middle), 0.0) / half_width)
    index = index - np.maximum(dry - r, 0.0) / share * root
    damp, tenth, warm, fifth = HEAT_HUMID
    return index + np.where((r > damp) & (t <= warm), (r - damp) / tenth * (warm - t) / fifth, 0.0)

"""The wind at the wing, and the heat that it carries between skin and air."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.balance import VARIANTS, WIND_FLOOR_M_S
from advisor.physics.ranges import within
from advisor.physics.sky import known_loss

WIND_RANGE_M_S = (0.0, 120.0)
# where a report measures the wind and roughness of an open airfield, m; how much of the log profile's wind each variant
# lets reach the wing
MEASURED_AT_M, ROUGHNESS_M = 10.0, 0.03
SHELTER = {"central": 1.0, "high": 0.75}


def wing_wind_m_s(wind_10m_m_s: ArrayLike, loss: str = "central", *, height_m: ArrayLike = 3.0) -> Floats:
    """Wind at the height of the wing from the wind of the report, which is measured at 10 m.

    The floor of 0.5 m/s is laid by the functions that use it.

    Parameters
    ----------
    wind_10m_m_s
        m/s, 0 to 120, scalar or array; NaN stays.
    loss
        "low" takes the reported wind, "central" the log profile over an open airfield (0.79 of it at 3 m), "high" three
        quarters of that, for a sheltered stand or still air near the ground.
    height_m
        Of the upper skin, 0.3 to 10.

    Returns
    -------
    Floats
        m/s, NaN outside the ranges.

    References
    ----------
    wmo-8-wind-profile
    invented-default: shelter
    """
    wind = within(wind_10m_m_s, *WIND_RANGE_M_S)
    if known_loss(loss) == "low":
        return wind[()]
    profile = np.log(within(height_m, 0.3, 10.0) / ROUGHNESS_M) / log(MEASURED_AT_M / ROUGHNESS_M)
    return (wind * (profile * SHELTER[loss]))[()]


def convection_w_m2_k(wind_m_s: ArrayLike, colder_by_c: ArrayLike = 0.0, loss: str = "central") -> Floats:
    """Heat transfer between skin and air for each K between them.

    Parameters
    ----------
    wind_m_s
        At the wing, 0 to 120, floored at 0.5.
    colder_by_c
        Air less skin temperature, K; a skin colder than the air calms the air above it in the high-loss variant.
        Scalars or arrays that broadcast; NaN stays.
    loss
        "low", "central" or "high".

    Returns
    -------
    Floats
        W/m²K, NaN outside the range.

    References
    ----------
    skin-comparison
    mcadams-1954: low lies near it
    van-de-wiel-2012: the damping of high
    """
    variant = VARIANTS[known_loss(loss)]
    wind = np.maximum(within(wind_m_s, *WIND_RANGE_M_S), WIND_FLOOR_M_S)
    damped = 1.0 + variant.damping * np.maximum(np.asarray(colder_by_c, dtype=np.float64), 0.0) / np.square(wind)
    return (variant.still + variant.per_wind * wind / damped)[()]

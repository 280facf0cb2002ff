"""What a skin temperature says about frost and dew: margins, and how fast frost may grow."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.balance import VAPOUR_FLOW, VARIANTS
from advisor.physics.convection import WIND_RANGE_M_S, convection_w_m2_k
from advisor.physics.moisture import WATER_RANGE_C, frost_point_c, saturation_pressure_pa
from advisor.physics.ranges import within
from advisor.physics.sky import AIR_RANGE_C, STEFAN_BOLTZMANN, ZERO_C_IN_K, known_loss

HEAT_OF_SUBLIMATION_J_KG = 2.834e6


def frost_margin_c(dew_point_c: ArrayLike, skin_temperature_c: ArrayLike) -> Floats:
    """How far the skin lies below the point where frost can form: above 0 frost can form.

    Parameters
    ----------
    dew_point_c
        °C over water, -45 to 60.
    skin_temperature_c
        Before any frost, with the heat of dew counted, which forms first while the dew point is above 0 °C; scalars or
        arrays that broadcast; NaN stays.

    Returns
    -------
    Floats
        K: the lower of frost point and 0 °C, less the skin temperature; NaN outside the range.

    References
    ----------
    wmo-8-annex-4b
    """
    return (np.minimum(frost_point_c(dew_point_c), 0.0) - np.asarray(skin_temperature_c, dtype=np.float64))[()]


def dew_margin_c(dew_point_c: ArrayLike, skin_temperature_c: ArrayLike) -> Floats:
    """Dew point less skin temperature: above 0 the skin gathers moisture.

    Parameters
    ----------
    dew_point_c, skin_temperature_c
        °C, -45 to 60 the dew point; scalars or arrays that broadcast; NaN stays.

    Returns
    -------
    Floats
        K, NaN outside the range.

    References
    ----------
    wmo-8-annex-4b
    """
    return (within(dew_point_c, *WATER_RANGE_C) - np.asarray(skin_temperature_c, dtype=np.float64))[()]


def frost_growth_g_m2_h(
    air_temperature_c: ArrayLike,
    dew_point_c: ArrayLike,
    skin_temperature_c: ArrayLike,
    wind_m_s: ArrayLike,
    *,
    loss: str = "central",
) -> Floats:
    """How fast frost may grow on the painted skin: a magnitude, never a ground for a yes or no.

    The Lewis relation gives the vapour that reaches the skin; its own heat, which warms the skin and slows it, is taken
    off. Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    air_temperature_c, dew_point_c
        °C, -60 to 60 and -45 to 60.
    skin_temperature_c
        Before any frost.
    wind_m_s
        At the wing.
    loss
        "low", "central" or "high".

    Returns
    -------
    Floats
        g/m²h, 0 where no frost can form; NaN outside the ranges.

    References
    ----------
    lewis-relation
    """
    known_loss(loss)
    dew, skin = within(dew_point_c, *WATER_RANGE_C), within(skin_temperature_c, -65.0, 120.0)
    air, wind = within(air_temperature_c, *AIR_RANGE_C), within(wind_m_s, *WIND_RANGE_M_S)
    margin = np.minimum(frost_point_c(dew), 0.0) - skin
    growth: Floats = np.asarray(0.0 * (margin + air + wind))
    # most rows of a long record have no margin: only the others are worked out
    frosty = (growth == 0.0) & (margin > 0.0)
    if frosty.any():
        air, dew, skin, wind, margin = (
            np.broadcast_to(column, growth.shape)[frosty] for column in (air, dew, skin, wind, margin)
        )
        growth[frosty] = _growth_g_m2_h(air, dew, skin, wind, margin, loss)
    return growth[()]


def _growth_g_m2_h(air: Floats, dew: Floats, skin: Floats, wind: Floats, margin: Floats, loss: str) -> Floats:
    variant = VARIANTS[loss]
    convection = convection_w_m2_k(wind, air - skin, loss)
    surplus_pa = saturation_pressure_pa(dew, "water") - saturation_pressure_pa(skin, "ice")
    flow = convection * np.maximum(surplus_pa, 0.0) * VAPOUR_FLOW
    kelvin = skin + ZERO_C_IN_K
    holding = convection + variant.underside + 4.0 * variant.emissivity * STEFAN_BOLTZMANN * (kelvin * kelvin * kelvin)
    # with the frost's own heat the margin shrinks to margin · K / (K + g), g the latent heat for each K of margin
    slowed = flow * holding / (holding + flow * HEAT_OF_SUBLIMATION_J_KG / np.maximum(margin, 0.01))
    # above 0 °C dew's heat is in the skin temperature already
    growth: Floats = np.where(dew > 0.0, flow, slowed) * 3.6e6
    return growth

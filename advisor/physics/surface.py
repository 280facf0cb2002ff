"""Temperature of the skin of a parked aircraft, and what it says about frost and dew.

A steady energy balance of a square metre of upper skin: radiation from the sky and to it, absorbed sunlight,
convection to the air, conduction to the underside or the fuel, and the heat of dew; see balance.py for its terms.
"""

from __future__ import annotations

from math import prod

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.balance import VAPOUR_FLOW, VARIANTS, Balance
from advisor.physics.convection import WIND_RANGE_M_S, convection_w_m2_k, wing_wind_m_s
from advisor.physics.moisture import WATER_RANGE_C, frost_point_c, saturation_pressure_pa
from advisor.physics.ranges import within
from advisor.physics.sky import (
    AIR_RANGE_C,
    SKY_DOUBT_W_M2,
    STEFAN_BOLTZMANN,
    ZERO_C_IN_K,
    absorbed_sunlight_w_m2,
    clear_sky_emissivity,
    known_loss,
    longwave,
    sky_longwave_w_m2,
    sunlight_w_m2,
)

__all__ = [
    "SURFACES",
    "absorbed_sunlight_w_m2",
    "clear_sky_emissivity",
    "convection_w_m2_k",
    "dew_margin_c",
    "frost_growth_g_m2_h",
    "frost_margin_c",
    "skin_temperature_c",
    "skins",
    "sky_longwave_w_m2",
    "sunlight_w_m2",
    "wing_wind_m_s",
]

SURFACES = ("painted", "tank", "panel", "metal")
QUANTITY = {
    "painted": "wing_skin_temperature_c",
    "tank": "tank_skin_temperature_c",
    "panel": "panel_skin_temperature_c",
    "metal": "metal_skin_temperature_c",
}
FUEL_RANGE_C = (-60.0, 70.0)
SUN_RANGE_W_M2 = (0.0, 1400.0)
SKY_RANGE_W_M2 = (0.0, 1000.0)
HEAT_OF_SUBLIMATION_J_KG = 2.834e6
# rows worked out together: what fits a core's cache runs twice as fast
BLOCK = 8192  # not a coefficient


def skin_temperature_c(
    air_temperature_c: ArrayLike,
    dew_point_c: ArrayLike,
    wind_m_s: ArrayLike,
    cloud_fraction: ArrayLike,
    cloud_base_m: ArrayLike,
    *,
    surface: str = "painted",
    fuel_temperature_c: ArrayLike = np.nan,
    absorbed_sunlight_w_m2: ArrayLike = 0.0,
    dew_heat: bool = False,
    loss: str = "central",
    emissivity: ArrayLike | None = None,
    sky_longwave_w_m2: ArrayLike | None = None,
    underside_w_m2_k: ArrayLike | None = None,
) -> Floats:
    """Temperature of a level skin in balance with sky, air and what lies below it, before any frost.

    Scalars or arrays that broadcast; NaN stays. With the sky given, cloud is not needed, nor the dew point but for
    dew_heat.

    Parameters
    ----------
    air_temperature_c, dew_point_c
        °C, -60 to 60 and -45 to 60.
    wind_m_s
        At the wing (see wing_wind_m_s), 0 to 120, floored at 0.5.
    cloud_fraction, cloud_base_m
        0 to 1; m, 0 to 30 000, may be NaN where the fraction is 0.
    surface, fuel_temperature_c
        "painted" away from the tanks, "tank" over fuel of fuel_temperature_c (°C, -60 to 70), "panel" open to the air
        on both sides, "metal" bare.
    absorbed_sunlight_w_m2
        0 by night, to 1400.
    dew_heat
        Count the heat of dew where the dew point is above 0 °C.
    loss
        "low", "central" or "high".
    emissivity, sky_longwave_w_m2, underside_w_m2_k
        Replace the variant's own: 0 to 1, 0 to 1000, 0 to 1000 (for "tank", to the fuel). The variant's doubt about the
        sky (7 W/m², see sky.py) stays on a given one, since what a wing sees of it is as doubtful.

    Returns
    -------
    Floats
        °C, NaN outside the ranges.

    Raises
    ------
    ValueError
        For another surface or loss.

    References
    ----------
    prata-1996
    idso-1981
    berdahl-martin-1984
    martin-berdahl-1984
    skin-comparison: convection
    invented-default: the rest of the table of variants
    """
    if surface not in SURFACES:
        raise ValueError(f"surface is {surface!r}; one of {', '.join(SURFACES)} is needed")
    known_loss(loss)
    air, dew = within(air_temperature_c, *AIR_RANGE_C), within(dew_point_c, *WATER_RANGE_C)
    if sky_longwave_w_m2 is None:
        above = longwave(air, dew, cloud_fraction, cloud_base_m, loss)
    else:
        # what the wing sees of a sky that was measured elsewhere is as doubtful as what a form gives
        above = within(sky_longwave_w_m2, *SKY_RANGE_W_M2) + SKY_DOUBT_W_M2[loss]
    # what was given sets the shape too, used or not
    given = [emissivity, underside_w_m2_k, cloud_fraction, cloud_base_m]
    shape = np.broadcast_shapes(above.shape, *(np.shape(column) for column in given if column is not None))
    balance = Balance(
        air,
        dew,
        within(wind_m_s, *WIND_RANGE_M_S),
        np.broadcast_to(above, shape),
        within(absorbed_sunlight_w_m2, *SUN_RANGE_W_M2),
        within(fuel_temperature_c, *FUEL_RANGE_C),
        loss,
    )
    shine: Floats | float = balance.variant.metal_emissivity if surface == "metal" else balance.variant.emissivity
    if emissivity is not None:
        shine = _column(emissivity, 0.0, 1.0, balance.shape)
    below = None if underside_w_m2_k is None else _column(underside_w_m2_k, 0.0, 1000.0, balance.shape)
    terms = balance.terms(surface, shine, below)
    skin = balance.solve(*terms)
    if dew_heat:
        skin = balance.with_dew(skin, *terms)
    return (skin - ZERO_C_IN_K).reshape(balance.shape)[()]


def skins(
    air_temperature_c: ArrayLike,
    dew_point_c: ArrayLike,
    wind_m_s: ArrayLike,
    cloud_fraction: ArrayLike,
    cloud_base_m: ArrayLike,
    fuel_temperature_c: ArrayLike = np.nan,
    absorbed_sunlight_w_m2: ArrayLike = 0.0,
    loss: str = "central",
    *,
    emissivity: float | None = None,
    dew_heat: bool = True,
) -> dict[str, Floats]:
    """The four skins at once, sharing sky radiation and convection: quantity name to °C.

    Parameters
    ----------
    air_temperature_c, dew_point_c, wind_m_s, cloud_fraction, cloud_base_m, fuel_temperature_c
        As for skin_temperature_c.
    absorbed_sunlight_w_m2, loss, dew_heat
        As for skin_temperature_c.
    emissivity
        Of the paint (painted, tank, panel), None or NaN for the variant's own.

    Returns
    -------
    dict[str, Floats]
        Arrays of the common shape under the names of the vocabulary; the tank's is NaN where the fuel temperature is.

    References
    ----------
    prata-1996
    skin-comparison: and the others of skin_temperature_c
    """
    known_loss(loss)
    if emissivity is None or np.isnan(emissivity):
        emissivity = VARIANTS[loss].emissivity
    columns = tuple(
        np.asarray(column, dtype=np.float64)
        for column in (
            air_temperature_c,
            dew_point_c,
            wind_m_s,
            cloud_fraction,
            cloud_base_m,
            fuel_temperature_c,
            absorbed_sunlight_w_m2,
        )
    )
    shape = np.broadcast_shapes(*(column.shape for column in columns))
    size = prod(shape)
    if size <= BLOCK:
        return _four(columns, loss, emissivity, dew_heat)
    columns = tuple(np.broadcast_to(column, shape).reshape(-1) for column in columns)
    result = {name: np.empty(size) for name in QUANTITY.values()}
    for start in range(0, size, BLOCK):
        rows = slice(start, start + BLOCK)
        part = _four(tuple(column[rows] for column in columns), loss, emissivity, dew_heat)
        for name, values in part.items():
            result[name][rows] = values
    return {name: values.reshape(shape) for name, values in result.items()}


def _four(columns: tuple[Floats, ...], loss: str, emissivity: float, dew_heat: bool) -> dict[str, Floats]:
    air_c, dew_c, wind_m_s, cloud_fraction, cloud_base_m, fuel_c, sun_w_m2 = columns
    air, dew = within(air_c, *AIR_RANGE_C), within(dew_c, *WATER_RANGE_C)
    balance = Balance(
        air,
        dew,
        within(wind_m_s, *WIND_RANGE_M_S),
        longwave(air, dew, cloud_fraction, cloud_base_m, loss),
        within(sun_w_m2, *SUN_RANGE_W_M2),
        within(fuel_c, *FUEL_RANGE_C),
        loss,
    )
    result = {}
    for surface in SURFACES:
        terms = balance.terms(surface, balance.variant.metal_emissivity if surface == "metal" else emissivity, None)
        skin = balance.solve(*terms)
        if dew_heat:
            skin = balance.with_dew(skin, *terms)
        skin -= ZERO_C_IN_K
        result[QUANTITY[surface]] = skin.reshape(balance.shape)[()]
    return result


def _column(values: ArrayLike, low: float, high: float, shape: tuple[int, ...]) -> Floats:
    return np.broadcast_to(within(values, low, high), shape).ravel()


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

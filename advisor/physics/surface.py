"""Temperature of the skin of a parked aircraft.

A steady energy balance of a square metre of upper skin: radiation from the sky and to it, absorbed sunlight,
convection to the air, conduction to the underside or the fuel, and the heat of dew; see balance.py for its terms.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import prod

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics import sky
from advisor.physics.balance import VARIANTS, Balance
from advisor.physics.convection import WIND_RANGE_M_S
from advisor.physics.moisture import WATER_RANGE_C
from advisor.physics.ranges import within
from advisor.physics.sky import (
    AIR_RANGE_C,
    ZERO_C_IN_K,
    known_loss,
)

SURFACES = ("painted", "tank", "panel", "metal")
QUANTITY = {
    "painted": "wing_skin_temperature_c",
    "tank": "tank_skin_temperature_c",
    "panel": "panel_skin_temperature_c",
    "metal": "metal_skin_temperature_c",
}
FUEL_RANGE_C = (-60.0, 70.0)
SUN_RANGE_W_M2 = (0.0, 1400.0)
# rows worked out together: what fits a core's cache runs twice as fast
BLOCK = 8192  # not a coefficient


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
    surfaces: Sequence[str] = SURFACES,
) -> dict[str, Floats]:
    """The four skins in balance with sky, air and what lies below, before any frost: quantity name to °C.

    Level skins, which share sky radiation and convection. Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    air_temperature_c, dew_point_c
        °C, -60 to 60 and -45 to 60.
    wind_m_s
        At the wing (see convection.wing_wind_m_s), 0 to 120, floored at 0.5.
    cloud_fraction, cloud_base_m
        0 to 1; m, 0 to 30 000, may be NaN where the fraction is 0.
    fuel_temperature_c
        °C, -60 to 70, of what lies below the skin over the tanks.
    absorbed_sunlight_w_m2
        0 by night, to 1400.
    loss
        "low", "central" or "high".
    emissivity
        Of the paint (painted, tank, panel), None or NaN for the variant's own.
    dew_heat
        Count the heat of dew where the dew point is above 0 °C.
    surfaces
        Which of them.

    Returns
    -------
    dict[str, Floats]
        Arrays of the common shape under the names of the vocabulary, NaN outside the ranges: painted away from the
        tanks, over fuel (NaN where its temperature is), a panel open to the air on both sides, and bare metal.

    Raises
    ------
    ValueError
        For another loss.

    References
    ----------
    prata-1996
    idso-1981
    berdahl-martin-1984
    martin-berdahl-1984
    skin-comparison: convection
    invented-default: the rest of the table of variants
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
        return _each(columns, loss, emissivity, dew_heat, surfaces)
    columns = tuple(np.broadcast_to(column, shape).reshape(-1) for column in columns)
    result = {QUANTITY[name]: np.empty(size) for name in surfaces}
    for start in range(0, size, BLOCK):
        rows = slice(start, start + BLOCK)
        part = _each(tuple(column[rows] for column in columns), loss, emissivity, dew_heat, surfaces)
        for name, values in part.items():
            result[name][rows] = values
    return {name: values.reshape(shape) for name, values in result.items()}


def _each(
    columns: tuple[Floats, ...], loss: str, emissivity: float, dew_heat: bool, surfaces: Sequence[str]
) -> dict[str, Floats]:
    air_c, dew_c, wind_m_s, cloud_fraction, cloud_base_m, fuel_c, sun_w_m2 = columns
    air, dew = within(air_c, *AIR_RANGE_C), within(dew_c, *WATER_RANGE_C)
    balance = Balance(
        air,
        dew,
        within(wind_m_s, *WIND_RANGE_M_S),
        np.asarray(sky.sky_longwave_w_m2(air, dew, cloud_fraction, cloud_base_m, loss)),
        within(sun_w_m2, *SUN_RANGE_W_M2),
        within(fuel_c, *FUEL_RANGE_C),
        loss,
    )
    result = {}
    for surface in surfaces:
        terms = balance.terms(surface, balance.variant.metal_emissivity if surface == "metal" else emissivity, None)
        skin = balance.solve(*terms)
        if dew_heat:
            skin = balance.with_dew(skin, *terms)
        skin -= ZERO_C_IN_K
        result[QUANTITY[surface]] = skin.reshape(balance.shape)[()]
    return result

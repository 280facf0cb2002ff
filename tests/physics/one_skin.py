"""One skin with its terms replaced at will: how the energy balance is held against textbooks and measured hours."""

import numpy as np

from advisor.physics import sky
from advisor.physics.balance import Balance
from advisor.physics.convection import WIND_RANGE_M_S
from advisor.physics.moisture import WATER_RANGE_C
from advisor.physics.ranges import within
from advisor.physics.surface import FUEL_RANGE_C, SUN_RANGE_W_M2

SKY_RANGE_W_M2 = (0.0, 1000.0)


def skin_temperature_c(
    air_temperature_c,
    dew_point_c,
    wind_m_s,
    cloud_fraction,
    cloud_base_m,
    *,
    surface: str = "painted",
    fuel_temperature_c=np.nan,
    absorbed_sunlight_w_m2=0.0,
    dew_heat: bool = False,
    loss: str = "central",
    emissivity=None,
    sky_longwave_w_m2=None,
    underside_w_m2_k=None,
):
    """One level skin in the balance that `surface.skins` solves for four, with its terms replaced at will.

    surface: one of surface.SURFACES. emissivity, sky_longwave_w_m2, underside_w_m2_k: in place of the variant's own;
    the variant's doubt about the sky stays on a given one. The rest as for surface.skins. Returns °C, NaN outside the
    ranges.
    """
    air, dew = within(air_temperature_c, *sky.AIR_RANGE_C), within(dew_point_c, *WATER_RANGE_C)
    if sky_longwave_w_m2 is None:
        above = np.asarray(sky.sky_longwave_w_m2(air, dew, cloud_fraction, cloud_base_m, loss))
    else:
        # what the wing sees of a sky that was measured elsewhere is as doubtful as what a form gives
        above = within(sky_longwave_w_m2, *SKY_RANGE_W_M2) + sky.SKY_DOUBT_W_M2[loss]
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
    shine = balance.variant.metal_emissivity if surface == "metal" else balance.variant.emissivity
    if emissivity is not None:
        shine = _column(emissivity, 0.0, 1.0, balance.shape)
    below = None if underside_w_m2_k is None else _column(underside_w_m2_k, 0.0, 1000.0, balance.shape)
    terms = balance.terms(surface, shine, below)
    skin = balance.solve(*terms)
    if dew_heat:
        skin = balance.with_dew(skin, *terms)
    return (skin - sky.ZERO_C_IN_K).reshape(balance.shape)[()]


def _column(values, low, high, shape):
    return np.broadcast_to(within(values, low, high), shape).ravel()

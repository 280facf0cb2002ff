"""What comes down on an upward-facing skin: heat radiation of sky and cloud, and absorbed sunlight.

Three published clear-sky forms stand for the three loss variants; where they cross, the variant keeps its side of the
central one, so that low loss never sees a colder sky than central, nor central than high. Under cloud the three agree
while measured surfaces do not: each side keeps at least SKY_DOUBT_W_M2 from the central one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import LOSSES, Floats
from advisor.physics.moisture import PRESSURE_AT_0_PA, WATER, WATER_RANGE_C
from advisor.physics.ranges import within

STEFAN_BOLTZMANN = 5.670374e-8
ZERO_C_IN_K = 273.15
AIR_RANGE_C = (-60.0, 60.0)

# Idso 1981: constant, factor of e (hPa), temperature in the exponent (K)
IDSO = (0.70, 5.95e-5, 1500.0)
# Prata 1996: factor of e/T (K/hPa), the two numbers under the root
PRATA = (46.5, 1.2, 3.0)
# Berdahl & Martin 1984, by dew point in hundreds of °C; the parabola turns at its lowest point, held from there down
BERDAHL_MARTIN = (0.711, 0.56, 0.73)
# Martin & Berdahl 1984: height over which a cloud's part fades, m
CLOUD_FADE_M = 8200.0
# how far a variant's sky lies from the central one at least: under overcast the forms agree to 0.7 °C of skin, while
# surfaces scatter by 1 °C. Round, from one winter on snow at one site. Not on top of the forms' own difference: under
# the clearest sky high's is 13 W/m² below the measured one already, and nothing measured there was colder than high
SKY_DOUBT_W_M2 = {"low": 7.0, "central": 0.0, "high": -7.0}

# Haurwitz 1945: W/m² and the extinction exponent
HAURWITZ = (1098.0, 0.059)
# Kasten & Czeplak 1980
KASTEN_CZEPLAK = (0.75, 3.4)
# part of the sunlight that a light paint takes up, and part of the sunlight that reaches it: high loss stands in shade.
# The light of a clear sky alone would be about 0.15, but the wall that takes the sun hides cold sky as well: half of it
# hidden is worth some 45 W/m² of loss, and 0.4 gives back 16 of them with the sun at 20°. Dimming the sky itself would
# make the skin jump at sunset.
ABSORPTANCE = {"low": 0.40, "central": 0.30, "high": 0.20}
SUN_REACHING = {"low": 1.0, "central": 1.0, "high": 0.4}


def known_loss(loss: str) -> str:
    """The loss variant's name.

    Parameters
    ----------
    loss
        A name.

    Returns
    -------
    str
        The same.

    Raises
    ------
    ValueError
        For any text but "low", "central" and "high".
    """
    if loss not in LOSSES:
        raise ValueError(f'loss is {loss!r}; one of "low", "central", "high" is needed')
    return loss


def clear_sky_emissivities(
    air_temperature_c: ArrayLike, dew_point_c: ArrayLike, loss: str = "central"
) -> tuple[Floats, Floats]:
    """Emissivity of a cloudless sky seen from level ground: the central form's and the variant's own.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    air_temperature_c
        °C, -60 to 60.
    dew_point_c
        °C over water, -45 to 60.
    loss
        "low" Idso, "central" Prata, "high" Berdahl & Martin, each kept on its side of Prata.

    Returns
    -------
    tuple[Floats, Floats]
        0 to 1, NaN outside the ranges.

    References
    ----------
    idso-1981
    prata-1996
    berdahl-martin-1984
    """
    kelvin = within(air_temperature_c, *AIR_RANGE_C) + ZERO_C_IN_K
    dew = within(dew_point_c, *WATER_RANGE_C)
    vapour_hpa = np.exp(WATER[0] * dew / (WATER[1] + dew)) * (PRESSURE_AT_0_PA / 100.0)
    factor, one, three = PRATA
    water = factor * vapour_hpa / kelvin
    central: Floats = np.minimum(1.0 - (1.0 + water) * np.exp(-np.sqrt(one + three * water)), 1.0)
    own = central
    if known_loss(loss) == "low":
        base, slope, exponent_k = IDSO
        own = np.minimum(np.maximum(central, base + slope * vapour_hpa * np.exp(exponent_k / kelvin)), 1.0)
    elif loss == "high":
        constant, linear, square = BERDAHL_MARTIN
        hundreds = np.maximum(dew, -50.0 * linear / square) / 100.0
        own = np.minimum(central, constant + hundreds * (linear + square * hundreds))
    return central, own


def cloud_cover_effect(cloud_fraction: ArrayLike, cloud_base_m: ArrayLike) -> Floats:
    """Part of the gap between a clear sky and a black body that cloud closes.

    Scalars or arrays that broadcast.

    Parameters
    ----------
    cloud_fraction
        0 to 1.
    cloud_base_m
        m above the ground, 0 to 30 000, may be NaN where the fraction is 0.

    Returns
    -------
    Floats
        0 to 1, NaN outside the ranges or where a base is needed and missing.

    References
    ----------
    martin-berdahl-1984
    """
    fraction = within(cloud_fraction, 0.0, 1.0)
    base = within(cloud_base_m, 0.0, 30_000.0)
    return np.where(fraction == 0.0, 0.0, fraction * np.exp(base * (-1.0 / CLOUD_FADE_M)))[()]


def sky_longwave_w_m2(
    air_temperature_c: ArrayLike,
    dew_point_c: ArrayLike,
    cloud_fraction: ArrayLike,
    cloud_base_m: ArrayLike,
    loss: str = "central",
) -> Floats:
    """Heat radiation that comes down from sky and cloud.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    air_temperature_c
        °C, -60 to 60.
    dew_point_c
        °C over water, -45 to 60.
    cloud_fraction
        0 to 1.
    cloud_base_m
        m, 0 to 30 000, may be NaN where the fraction is 0.
    loss
        See clear_sky_emissivities; "low" and "high" keep at least 7 W/m² from "central", so that "low" may see more
        than a black body at the temperature of the air.

    Returns
    -------
    Floats
        W/m², NaN outside the ranges.

    References
    ----------
    martin-berdahl-1984: and the clear-sky form of the variant
    skin-comparison: the 7 W/m²
    """
    kelvin = within(air_temperature_c, *AIR_RANGE_C) + ZERO_C_IN_K
    square = kelvin * kelvin
    black = square * square * STEFAN_BOLTZMANN
    cover = cloud_cover_effect(cloud_fraction, cloud_base_m)
    forms = clear_sky_emissivities(air_temperature_c, dew_point_c, loss)
    central, own = ((clear + (1.0 - clear) * cover) * black for clear in forms)
    if loss == "low":
        return np.maximum(own, central + SKY_DOUBT_W_M2[loss])[()]
    if loss == "high":
        return np.minimum(own, central + SKY_DOUBT_W_M2[loss])[()]
    return own[()]


def sunlight_w_m2(sun_elevation_deg: ArrayLike, cloud_fraction: ArrayLike) -> Floats:
    """Sunlight on level ground.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    sun_elevation_deg
        Geometric height of the sun, -90 to 90.
    cloud_fraction
        0 to 1.

    Returns
    -------
    Floats
        W/m², 0 with the sun down; NaN outside the ranges.

    References
    ----------
    haurwitz-1945
    kasten-czeplak-1980
    """
    sine = np.sin(np.radians(within(sun_elevation_deg, -90.0, 90.0)))
    fraction = within(cloud_fraction, 0.0, 1.0)
    if not np.any(sine > 0.0):
        return (0.0 * sine + 0.0 * fraction)[()]
    # near the horizon the exponent runs away to -inf: hold the sine where the product is already nothing
    clear = HAURWITZ[0] * np.maximum(sine, 0.0) * np.exp(-HAURWITZ[1] / np.maximum(sine, 1e-4))
    return (clear * (1.0 - KASTEN_CZEPLAK[0] * fraction ** KASTEN_CZEPLAK[1]))[()]


def absorbed_sunlight_w_m2(
    sun_elevation_deg: ArrayLike,
    cloud_fraction: ArrayLike,
    *,
    loss: str = "central",
    absorptance: float | None = None,
) -> Floats:
    """Sunlight that a level skin takes up.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    sun_elevation_deg
        -90 to 90.
    cloud_fraction
        0 to 1.
    loss
        "high" stands in the shade of a building, where less than half of a clear day's light comes, and all of a dull
        one's.
    absorptance
        0 to 1, replaces the variant's own.

    Returns
    -------
    Floats
        W/m², NaN outside the ranges.

    References
    ----------
    haurwitz-1945
    kasten-czeplak-1980
    invented-default: absorptance and shade
    """
    taken = ABSORPTANCE[known_loss(loss)] if absorptance is None else absorptance
    # under cloud light comes from the whole sky, and a wall takes little of it
    reaching = SUN_REACHING[loss]
    share = reaching + (1.0 - reaching) * within(cloud_fraction, 0.0, 1.0)
    return (sunlight_w_m2(sun_elevation_deg, cloud_fraction) * (taken * share))[()]

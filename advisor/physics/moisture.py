"""Moist air: the two saturation lines of WMO-No. 8 and their exact inverses. The only place that holds them.

Over water e = 611.2 exp(17.62 t / (243.12 + t)), over ice e = 611.2 exp(22.46 t / (272.62 + t)), Pa and °C. A dew
point in a report is over water at every temperature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats
from advisor.physics.ranges import within

# WMO-No. 8, Annex 4.B: pressure at 0 °C in Pa; factor and offset (°C) of each line
PRESSURE_AT_0_PA = 611.2
WATER = (17.62, 243.12)
ICE = (22.46, 272.62)

WATER_RANGE_C = (-45.0, 60.0)
ICE_RANGE_C = (-65.0, 0.0)
# an inverse takes back what its line gave at the very ends
_ROUNDING = 1e-9


def saturation_pressure_pa(temperature_c: ArrayLike, phase: str = "water") -> Floats:
    """Vapour pressure of saturated air over water or ice.

    Parameters
    ----------
    temperature_c
        °C, scalar or array, -45 to 60 over water, -65 to 0 over ice; NaN stays.
    phase
        "water" or "ice".

    Returns
    -------
    Floats
        Pa, same shape; NaN outside the range.

    Raises
    ------
    ValueError
        For another phase.

    References
    ----------
    wmo-8-annex-4b
    """
    if phase == "water":
        return _pressure_pa(within(temperature_c, *WATER_RANGE_C), *WATER)[()]
    if phase == "ice":
        return _pressure_pa(within(temperature_c, *ICE_RANGE_C), *ICE)[()]
    raise ValueError(f'phase is {phase!r}; "water" or "ice" is needed')


def dew_point_c(vapour_pressure_pa: ArrayLike) -> Floats:
    """Dew point over water from the vapour pressure, the exact inverse of the water line.

    Parameters
    ----------
    vapour_pressure_pa
        Pa, scalar or array, 11.2 to 19 990 (dew points of -45 to 60 °C); NaN stays.

    Returns
    -------
    Floats
        °C, same shape; NaN outside the range.

    References
    ----------
    wmo-8-annex-4b
    """
    factor, offset_c = WATER
    low, high = (float(_pressure_pa(np.asarray(limit), *WATER)) for limit in WATER_RANGE_C)
    logarithm = np.log(within(vapour_pressure_pa, low * (1.0 - _ROUNDING), high * (1.0 + _ROUNDING)) / PRESSURE_AT_0_PA)
    return np.clip(offset_c * logarithm / (factor - logarithm), *WATER_RANGE_C)[()]


def frost_point_c(dew_point_c: ArrayLike) -> Floats:
    """Frost point of moist air from its dew point.

    Parameters
    ----------
    dew_point_c
        Dew point over water, °C, scalar or array, -45 to 60; NaN stays.

    Returns
    -------
    Floats
        °C, same shape, at or above the dew point; above 0 °C there is no frost point and the dew point itself is given;
        NaN outside the range.

    References
    ----------
    wmo-8-annex-4b
    """
    dew = within(dew_point_c, *WATER_RANGE_C)
    logarithm = WATER[0] * dew
    logarithm /= WATER[1] + dew
    frost = ICE[1] * logarithm
    frost /= ICE[0] - logarithm
    return np.where(dew > 0.0, dew, frost)[()]


def relative_humidity_pct(temperature_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Relative humidity over water.

    Parameters
    ----------
    temperature_c, dew_point_c
        °C, scalars or arrays that broadcast, each -45 to 60; NaN stays.

    Returns
    -------
    Floats
        %, over 100 where rounding put the dew point above the temperature; NaN outside the range.

    References
    ----------
    wmo-8-annex-4b
    """
    temperature = within(temperature_c, *WATER_RANGE_C)
    dew = within(dew_point_c, *WATER_RANGE_C)
    exponent = WATER[0] * (dew / (WATER[1] + dew) - temperature / (WATER[1] + temperature))
    return (100.0 * np.exp(exponent))[()]


def _pressure_pa(temperature_c: Floats, factor: float, offset_c: float) -> Floats:
    return PRESSURE_AT_0_PA * np.exp(factor * temperature_c / (offset_c + temperature_c))

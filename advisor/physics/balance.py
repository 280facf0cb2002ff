"""The energy balance of a skin: three variants of its terms, and its solution by Newton steps.

Three loss variants, each built of other published forms, span the band; numbers below that name no source are
assumptions, and say so. surface.py holds the functions that others call.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats
from advisor.physics.moisture import PRESSURE_AT_0_PA, WATER_RANGE_C, saturation_pressure_pa
from advisor.physics.ranges import within
from advisor.physics.sky import AIR_RANGE_C, STEFAN_BOLTZMANN, ZERO_C_IN_K, known_loss


@dataclass(frozen=True, slots=True)
class Variant:
    """One set of choices: how readily the skin loses heat to the sky and how well the rest holds it near the air.

    still, per_wind: convection = still + per_wind · V, W/m²K and m/s. damping: how strongly a skin colder than the
    air calms the air above it: per_wind is divided by 1 + damping · ΔT / V². underside: W/m²K to air below.
    cold_fuel: W/m²K between upper skin and fuel that is colder than the skin would be without it, where the fuel lies
    still in layers; warm_fuel: where it is warmer and stirs itself, or, for high loss, does not reach the upper skin.
    """

    still: float
    per_wind: float
    damping: float
    underside: float
    emissivity: float
    metal_emissivity: float
    cold_fuel: float
    warm_fuel: float


# Convection. Low: McAdams, rough surface, rounded; a smooth one (5.7 + 3.8 V) left more measured hours warmer than the
# band. Central: the best fit of a comparison with 894 measured dry night hours (RMSE 1.9 °C, bias 0).
# High: 22 % of those hours were colder than 0.5 + 1.5 V gives, most of them calm, when a cold surface stills the air
# above it and the heat that turbulence can bring goes with the cube of the wind (van de Wiel et al. 2012); hence a
# small slope and a damping with ΔT / V², whose flux has that limit. Sized on made-up populations of hours that repeat
# the comparison's nine figures: with U = 0 the band then holds 82 to 84 % and 6 to 10 % are colder.
# Underside, emissivity and fuel: assumptions; bare metal about the published 0.08.
VARIANTS = {
    "low": Variant(6.2, 4.3, 0.0, 10.0, 0.85, 0.05, 15.0, 130.0),
    "central": Variant(2.0, 2.0, 0.0, 5.0, 0.92, 0.08, 40.0, 40.0),
    "high": Variant(0.3, 1.0, 0.5, 2.0, 0.95, 0.20, 130.0, 2.0),
}

WIND_FLOOR_M_S = 0.5
WIND_RANGE_M_S = (0.0, 120.0)
FUEL_RANGE_C = (-60.0, 70.0)
SUN_RANGE_W_M2 = (0.0, 1400.0)

# Lewis relation: ratio of the molar masses, heat of air J/kgK, sea-level pressure Pa (where air is thinner more vapour
# arrives and holds the skin warmer), Lewis number of vapour in air
MOLAR_RATIO, HEAT_OF_AIR_J_KG_K, PRESSURE_PA, LEWIS_NUMBER = 0.622, 1005.0, 101_325.0, 0.85
# kg/m²s of vapour for each W/m²K of convection and Pa between air and skin
VAPOUR_FLOW = MOLAR_RATIO / (HEAT_OF_AIR_J_KG_K * PRESSURE_PA * LEWIS_NUMBER ** (2.0 / 3.0))
HEAT_OF_VAPORISATION_J_KG = 2.501e6
DRY_STEPS = 4
DEW_STEPS = 3


class Balance:
    """The terms that the four skins of one call share, as one-dimensional columns in K and W/m²."""

    def __init__(
        self,
        air_temperature_c: ArrayLike,
        dew_point_c: ArrayLike,
        wind_m_s: ArrayLike,
        sky_w_m2: ArrayLike,
        sun_w_m2: ArrayLike,
        loss: str,
    ) -> None:
        self.variant = VARIANTS[known_loss(loss)]
        air, dew, wind, sky, sun = np.broadcast_arrays(
            within(air_temperature_c, *AIR_RANGE_C),
            within(dew_point_c, *WATER_RANGE_C),
            within(wind_m_s, *WIND_RANGE_M_S),
            within(sky_w_m2, 0.0, 1000.0),
            within(sun_w_m2, *SUN_RANGE_W_M2),
        )
        self.shape = air.shape
        self.dew_c = dew.ravel()
        self.air = air.ravel() + ZERO_C_IN_K
        self.sky = sky.ravel()
        self.sun = sun.ravel()
        square = np.square(self.air)
        self.black = STEFAN_BOLTZMANN * square * square
        wind = np.maximum(wind.ravel(), WIND_FLOOR_M_S)
        self.moving = self.variant.per_wind * wind
        self.calming = self.variant.damping / np.square(wind) if self.variant.damping else None

    def solve(self, emissivity: Floats | float, gain: Floats, conductance: Floats | float) -> Floats:
        """Skin temperature in K by Newton steps. gain: W/m² that do not depend on it; conductance: to what is below."""
        radiating = emissivity * STEFAN_BOLTZMANN
        return _newton(
            self.air.copy(), self.air, gain, radiating, self.variant.still, self.moving, self.calming, conductance,
            DRY_STEPS,
        )  # fmt: skip

    def with_dew(
        self, skin: Floats, emissivity: Floats | float, gain: Floats, conductance: Floats | float
    ) -> Floats:
        """The same skin with the heat of dew, where the dew point is above 0 °C and above the skin."""
        # where the sky's radiation was given, the dew point is needed here only: missing, it leaves the skin unknown
        skin = skin + 0.0 * self.dew_c
        wet = np.flatnonzero((self.dew_c > 0.0) & (skin < self.dew_c + ZERO_C_IN_K))
        if wet.size == 0:
            return skin
        take = _taker(wet, skin.size)
        air, dew_c, before = self.air[wet], self.dew_c[wet], skin[wet]
        calming = None if self.calming is None else self.calming[wet]
        still = self.variant.still
        moving = self.moving[wet]
        calm = 1.0 if calming is None else 1.0 + calming * np.maximum(air - before, 0.0)
        # the chord of the saturation line from 0 °C to the dew point: exact where frost is decided, low between
        chord = (saturation_pressure_pa(dew_c, "water") - PRESSURE_AT_0_PA) / dew_c
        dew_w_m2_k = (still + moving / calm) * chord * (VAPOUR_FLOW * HEAT_OF_VAPORISATION_J_KG)
        gain = gain[wet] + dew_w_m2_k * (dew_c + ZERO_C_IN_K)
        result = skin.copy()
        result[wet] = _newton(
            before, air, gain, take(emissivity) * STEFAN_BOLTZMANN, still, moving, calming,
            take(conductance) + dew_w_m2_k, DEW_STEPS,
        )  # fmt: skip
        return result

    def terms(
        self, surface: str, emissivity: Floats | float, fuel_c: ArrayLike, underside: Floats | float | None
    ) -> tuple[Floats | float, Floats, Floats | float]:
        """Emissivity, constant gain and conductance to what lies below, for one of SURFACES."""
        below = self.variant.underside if underside is None else underside
        if surface == "panel" and underside is None:
            # both sides exchange, the lower one with ground near air temperature: their mean is one side's balance
            return emissivity, 0.5 * (emissivity * (self.sky + self.black) + self.sun), 0.0
        gain = emissivity * self.sky + self.sun
        if surface != "tank":
            return emissivity, gain + below * self.air, below
        fuel = np.broadcast_to(within(fuel_c, *FUEL_RANGE_C), self.shape).ravel() + ZERO_C_IN_K
        if underside is None:
            square = np.square(fuel)
            colder_by = self.air - fuel
            moving = self.moving
            if self.calming is not None:
                moving = moving / (1.0 + self.calming * np.maximum(colder_by, 0.0))
            # without fuel the skin would be warmer than the fuel where a skin of the fuel's temperature gains heat
            surplus = gain - emissivity * (STEFAN_BOLTZMANN * square * square)
            surplus += (self.variant.still + moving) * colder_by
            below = np.where(surplus > 0.0, self.variant.cold_fuel, self.variant.warm_fuel)
        return emissivity, gain + below * fuel, below


def _taker(wet: NDArray[np.intp], size: int) -> Callable[[Floats | float], Floats | float]:
    def take(value: Floats | float) -> Floats | float:
        return value[wet] if isinstance(value, np.ndarray) and value.size == size and value.ndim else value

    return take


def _newton(
    skin: Floats,
    air: Floats,
    gain: Floats,
    radiating: Floats | float,
    still: float,
    moving: Floats,
    calming: Floats | None,
    conductance: Floats | float,
    steps: int,
) -> Floats:
    """Root of gain + convection - radiation - conductance · skin; all terms are concave, so no step diverges."""
    rest = conductance + still
    for _ in range(steps):
        cube = skin * skin
        cube *= skin
        colder_by = air - skin
        if calming is None:
            flow = moving
            slope = moving
        else:
            calm = np.maximum(colder_by, 0.0)
            calm *= calming
            calm += 1.0
            flow = moving / calm
            slope = flow / calm
        surplus = (flow + still) * colder_by
        surplus += gain
        cube *= radiating
        surplus -= cube * skin
        surplus -= conductance * skin
        cube *= 4.0
        cube += slope
        cube += rest
        surplus /= cube
        skin = skin + surplus
    return skin

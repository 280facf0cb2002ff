"""The energy balance of a skin: three variants of its terms, and its solution by Newton steps.

Three loss variants, each built of other published forms, span the band; numbers below that name no source are
assumptions, and say so. surface.py holds the functions that others call.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.physics.moisture import PRESSURE_AT_0_PA, saturation_pressure_pa
from advisor.physics.sky import STEFAN_BOLTZMANN, ZERO_C_IN_K


@dataclass(frozen=True)
class Variant:
    """One set of choices: how readily the skin loses heat to the sky and how well the rest holds it near the air.

    still, per_wind: convection = still + per_wind · V, W/m²K and m/s. damping: how strongly a skin colder than the
    air calms the air above it: per_wind is divided by 1 + damping · ΔT / V². underside: W/m²K to air below.
    cold_fuel: W/m²K between upper skin and fuel that is colder than the skin would be without it, where the fuel lies
    still in layers; warm_fuel: where it is warmer and stirs itself, or, for high loss, does not reach the upper skin.
    steps: of Newton by night.
    """

    still: float
    per_wind: float
    damping: float
    underside: float
    emissivity: float
    metal_emissivity: float
    cold_fuel: float
    warm_fuel: float
    steps: int


# Convection. Central: the best fit of a comparison with 894 measured dry night hours (RMSE 1.9 °C, bias 0). Low and
# high: what held 90 % of the same hours with 4 % colder in a trial, and with it the doubt about the sky in sky.py; the
# convection measured on clear nights (5th percentile 1.7 near calm, 3.9 at 2 to 3 m/s) is still above high at every
# wind. A cold surface stills the air above it, most of all near calm (van de Wiel et al. 2012), hence the damping with
# ΔT / V². All of it is one winter on snow at one site: the figures are round, and no finer fitting would mean anything.
# Underside: assumed. The worst that can be reckoned is 3.7: two painted skins that face each other (4.5 W/m²K by
# radiation, 1.3 by air that overturns below a cold upper skin, 1.5 by ribs and spars), in series with the lower one to
# ground and air (4.7 and 2.7). That doubt has nothing to do with those about sky and air, which are at their ends
# already: high goes about half of the way from the central 5 to it. With 3, frost would be possible on a tenth of the
# dry nights of 8 to 15 °C, which nobody meets. Emissivity and fuel: assumptions; bare metal about the published 0.08.
VARIANTS = {
    "low": Variant(5.0, 3.5, 0.0, 10.0, 0.85, 0.05, 15.0, 130.0, 3),
    "central": Variant(2.0, 2.0, 0.0, 5.0, 0.92, 0.08, 40.0, 40.0, 3),
    "high": Variant(1.0, 1.4, 0.05, 4.5, 0.95, 0.20, 130.0, 3.0, 3),
}

WIND_FLOOR_M_S = 0.5

# Lewis relation: ratio of the molar masses, heat of air J/kgK, sea-level pressure Pa (where air is thinner more vapour
# arrives and holds the skin warmer), Lewis number of vapour in air
MOLAR_RATIO, HEAT_OF_AIR_J_KG_K, PRESSURE_PA, LEWIS_NUMBER = 0.622, 1005.0, 101_325.0, 0.85
# kg/m²s of vapour for each W/m²K of convection and Pa between air and skin
VAPOUR_FLOW = MOLAR_RATIO / (HEAT_OF_AIR_J_KG_K * PRESSURE_PA * LEWIS_NUMBER ** (2.0 / 3.0))
HEAT_OF_VAPORISATION_J_KG = 2.501e6
SUN_STEPS = 1


class Balance:
    """The terms that the skins of one call share, as one-dimensional columns in K and W/m².

    Every argument is a float64 array with NaN outside its range, dew_c and fuel_c in °C, all of shapes that broadcast.
    """

    def __init__(
        self,
        air_c: Floats,
        dew_c: Floats,
        wind_m_s: Floats,
        sky_w_m2: Floats,
        sun_w_m2: Floats,
        fuel_c: Floats,
        loss: str,
    ) -> None:
        self.variant = VARIANTS[loss]
        columns = (air_c, dew_c, wind_m_s, sky_w_m2, sun_w_m2, fuel_c)
        self.shape = np.broadcast_shapes(*(column.shape for column in columns))
        air, self.dew_c, wind, self.sky, self.sun, fuel = (
            np.broadcast_to(column, self.shape).reshape(-1) for column in columns
        )
        self.air = air + ZERO_C_IN_K
        self.fuel = fuel + ZERO_C_IN_K
        # by night the steps have a shorter way to go
        self.sunny = np.flatnonzero(self.sun > 0.0)
        wind = np.maximum(wind, WIND_FLOOR_M_S)
        self.moving = self.variant.per_wind * wind
        self.calming = self.variant.damping / np.square(wind) if self.variant.damping else None
        self._dew_flow: Floats | None = None

    def solve(self, emissivity: Floats | float, gain: Floats, conductance: Floats | float) -> Floats:
        """Skin temperature in K by Newton steps. gain: W/m² that do not depend on it; conductance: to what is below."""
        radiating = emissivity * STEFAN_BOLTZMANN
        held = conductance + self.variant.still
        gain = gain + self.variant.still * self.air
        return self._steps(self.air, self.air, gain, radiating, held, self.moving, self.calming, self.sunny)

    def _steps(
        self,
        start: Floats,
        air: Floats,
        gain: Floats,
        radiating: Floats | float,
        held: Floats | float,
        moving: Floats,
        calming: Floats | None,
        sunny: NDArray[np.intp],
    ) -> Floats:
        """Newton steps for all, and some more for those in the sun: what stands beside others changes nothing."""
        skin = _newton(start, air, gain, radiating, held, moving, calming, self.variant.steps)
        if sunny.size == skin.size:
            return _newton(skin, air, gain, radiating, held, moving, calming, SUN_STEPS)
        if sunny.size:
            take = _taker(sunny, skin.size)
            calm = None if calming is None else calming[sunny]
            terms = (air[sunny], gain[sunny], take(radiating), take(held), moving[sunny], calm)
            skin[sunny] = _newton(skin[sunny], *terms, SUN_STEPS)
        return skin

    def with_dew(self, skin: Floats, emissivity: Floats | float, gain: Floats, conductance: Floats | float) -> Floats:
        """The same skin with the heat of dew, where the dew point is above 0 °C and above the skin."""
        if self._dew_flow is None:
            # the chord of the saturation line from 0 °C to the dew point: exact where frost is decided, low between
            dew_c = np.where(self.dew_c > 0.0, self.dew_c, 1.0)
            chord = (saturation_pressure_pa(dew_c, "water") - PRESSURE_AT_0_PA) / dew_c
            self._dew_flow = chord * (VAPOUR_FLOW * HEAT_OF_VAPORISATION_J_KG)
        wet = np.flatnonzero((self.dew_c > 0.0) & (skin < self.dew_c + ZERO_C_IN_K))
        if wet.size:
            take = _taker(wet, skin.size)
            air, dew, before, moving = self.air[wet], self.dew_c[wet] + ZERO_C_IN_K, skin[wet], self.moving[wet]
            calming = None if self.calming is None else self.calming[wet]
            still = self.variant.still
            calmed = moving if calming is None else moving / (1.0 + calming * np.maximum(air - before, 0.0))
            dew_w_m2_k = (still + calmed) * self._dew_flow[wet]
            gain = gain[wet] + dew_w_m2_k * dew + still * air
            held = take(conductance) + dew_w_m2_k + still
            radiating = take(emissivity) * STEFAN_BOLTZMANN
            sunny = np.flatnonzero(self.sun[wet] > 0.0)
            skin[wet] = self._steps(before, air, gain, radiating, held, moving, calming, sunny)
        if np.isnan(self.dew_c).any():
            # where the sky's radiation was given, only the heat of dew needs the dew point: missing, nothing is known
            skin[np.isnan(self.dew_c)] = np.nan
        return skin

    def terms(
        self, surface: str, emissivity: Floats | float, underside: Floats | float | None
    ) -> tuple[Floats | float, Floats, Floats | float]:
        """Emissivity, constant gain and conductance to what lies below, for one of SURFACES."""
        below = self.variant.underside if underside is None else underside
        gain = emissivity * self.sky
        if surface == "panel" and underside is None:
            # both sides exchange, the lower one with ground near air temperature: their mean is one side's balance
            gain += emissivity * _black_w_m2(self.air)
            gain += self.sun
            gain *= 0.5
            return emissivity, gain, 0.0
        gain += self.sun
        if surface != "tank":
            gain += below * self.air
            return emissivity, gain, below
        if underside is None:
            colder_by = self.air - self.fuel
            moving = self.moving
            if self.calming is not None:
                moving = moving / (1.0 + self.calming * np.maximum(colder_by, 0.0))
            # without fuel the skin would be warmer than the fuel where a skin of the fuel's temperature gains heat
            surplus = gain - emissivity * _black_w_m2(self.fuel)
            surplus += (self.variant.still + moving) * colder_by
            below = np.where(surplus > 0.0, self.variant.cold_fuel, self.variant.warm_fuel)
        gain += below * self.fuel
        return emissivity, gain, below


def _black_w_m2(kelvin: Floats) -> Floats:
    square = kelvin * kelvin
    square *= square
    square *= STEFAN_BOLTZMANN
    return square


def _taker(wet: NDArray[np.intp], size: int) -> Callable[[Floats | float], Floats | float]:
    def take(value: Floats | float) -> Floats | float:
        return value[wet] if isinstance(value, np.ndarray) and value.size == size and value.ndim else value

    return take


def _newton(
    start: Floats,
    air: Floats,
    gain: Floats,
    radiating: Floats | float,
    held: Floats | float,
    moving: Floats,
    calming: Floats | None,
    steps: int,
) -> Floats:
    """Root of gain + wind's convection - radiation - held · skin; all terms are concave, so no step diverges.

    A step from x leads to (gain + 3 c x + flow (air - x) + slope x) / (held + 4 c + slope), c = radiating · x³.
    """
    skin = start.copy()
    if calming is None:
        gain = gain + moving * air
        held = held + moving
    above, below, calm, flow = np.empty_like(skin), np.empty_like(skin), np.empty_like(skin), np.empty_like(skin)
    for _ in range(steps):
        np.multiply(skin, skin, out=below)
        below *= skin
        below *= radiating
        np.multiply(below, skin, out=above)
        above *= 3.0
        above += gain
        below *= 4.0
        below += held
        if calming is not None:
            np.subtract(air, skin, out=calm)
            np.maximum(calm, 0.0, out=flow)
            flow *= calming
            flow += 1.0
            np.divide(moving, flow, out=flow)
            calm *= flow
            above += calm
            # the slope of the damped flow is flow / (1 + damping) = flow² / moving
            flow *= flow
            flow /= moving
            below += flow
            flow *= skin
            above += flow
        np.divide(above, below, out=skin)
    return skin

"""Temperature of the skin of a parked aircraft, and what it says about frost and dew.

A steady energy balance of a square metre of upper skin: radiation from the sky and to it, absorbed sunlight,
convection to the air, conduction to the underside or the fuel, and the heat of dew. Three loss variants, each built
of other published forms, span the band; the numbers below that name no source are assumptions, and say so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats
from advisor.physics.moisture import PRESSURE_AT_0_PA, WATER_RANGE_C, frost_point_c, saturation_pressure_pa
from advisor.physics.ranges import within
from advisor.physics.sky import (
    AIR_RANGE_C,
    STEFAN_BOLTZMANN,
    ZERO_C_IN_K,
    absorbed_sunlight_w_m2,
    clear_sky_emissivity,
    known_loss,
    sky_longwave_w_m2,
    sunlight_w_m2,
)

__all__ = [
    "SURFACES", "absorbed_sunlight_w_m2", "balance_temperature_c", "clear_sky_emissivity", "convection_w_m2_k",
    "dew_margin_c", "frost_growth_g_m2_h", "frost_margin_c", "skin_temperature_c", "skins", "sky_longwave_w_m2",
    "sunlight_w_m2", "wing_wind_m_s",
]  # fmt: skip

SURFACES = ("painted", "tank", "panel", "metal")
QUANTITY = {
    "painted": "wing_skin_temperature_c",
    "tank": "tank_skin_temperature_c",
    "panel": "panel_skin_temperature_c",
    "metal": "metal_skin_temperature_c",
}


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
# band. Central: the best fit of a comparison with 894 measured dry clear and cloudy night hours (RMSE 1.9 °C, bias 0).
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
# roughness of an open airfield, m, and how much of the log profile's wind each variant lets reach the wing
ROUGHNESS_M = 0.03
SHELTER = {"central": 1.0, "high": 0.75}

# cp·p/(0.622·Lv)·Le^(2/3) at 1013.25 hPa, Pa/K: 66.1 (psychrometric constant at 0 °C) times 0.897
LEWIS_PA_K = 59.3
HEAT_OF_SUBLIMATION_J_G = 2834.0
HEAT_OF_VAPORISATION_J_G = 2501.0
DRY_STEPS = 4
DEW_STEPS = 3


def wing_wind_m_s(wind_10m_m_s: ArrayLike, loss: str = "central", *, height_m: ArrayLike = 3.0) -> Floats:
    """Wind at the height of the wing from the wind of the report, which is measured at 10 m.

    wind_10m_m_s: m/s, 0 to 120, scalar or array; NaN stays. loss: "low" takes the reported wind, "central" the log
    profile over an open airfield (0.79 of it at 3 m), "high" three quarters of that, for a sheltered stand or still
    air near the ground. height_m: of the upper skin, 0.3 to 10.
    Returns m/s, NaN outside the ranges. The floor of 0.5 m/s is laid by the functions that use it.
    Source: wmo-8-wind-profile; shelter: invented-default.
    """
    wind = within(wind_10m_m_s, *WIND_RANGE_M_S)
    if known_loss(loss) == "low":
        return wind[()]
    profile = np.log(within(height_m, 0.3, 10.0) / ROUGHNESS_M) / log(10.0 / ROUGHNESS_M)
    return (wind * (profile * SHELTER[loss]))[()]


def convection_w_m2_k(wind_m_s: ArrayLike, colder_by_c: ArrayLike = 0.0, loss: str = "central") -> Floats:
    """Heat transfer between skin and air for each K between them.

    wind_m_s: at the wing, 0 to 120, floored at 0.5. colder_by_c: air less skin temperature, K; a skin colder than
    the air calms the air above it in the high-loss variant. Scalars or arrays that broadcast; NaN stays.
    Returns W/m²K, NaN outside the range.
    Source: low: mcadams-1954; central: skin-comparison; high: mcadams-1954 damped after van-de-wiel-2012.
    """
    variant = VARIANTS[known_loss(loss)]
    wind = np.maximum(within(wind_m_s, *WIND_RANGE_M_S), WIND_FLOOR_M_S)
    damped = 1.0 + variant.damping * np.maximum(np.asarray(colder_by_c, dtype=np.float64), 0.0) / np.square(wind)
    return (variant.still + variant.per_wind * wind / damped)[()]


def balance_temperature_c(
    air_temperature_c: ArrayLike, sky_temperature_c: ArrayLike, convection_w_m2_k: ArrayLike, emissivity: ArrayLike
) -> Floats:
    """Temperature of an insulated layer between air and a sky of one effective temperature, the textbook form.

    air_temperature_c: °C, -100 to 100; sky_temperature_c: °C, -200 to 100; convection_w_m2_k: 0.1 to 1000;
    emissivity: 0 to 1; scalars or arrays that broadcast; NaN stays. Returns °C, NaN outside the ranges.
    Source: incropera-7e.
    """
    air = within(air_temperature_c, -100.0, 100.0) + ZERO_C_IN_K
    sky = within(sky_temperature_c, -200.0, 100.0) + ZERO_C_IN_K
    convection = within(convection_w_m2_k, 0.1, 1000.0)
    radiating = within(emissivity, 0.0, 1.0) * STEFAN_BOLTZMANN
    skin = air + 0.0 * (sky + convection + radiating)
    for _ in range(8):
        cube = skin * skin * skin
        surplus = radiating * (sky**4 - cube * skin) + convection * (air - skin)
        skin = skin + surplus / (4.0 * radiating * cube + convection)
    return (skin - ZERO_C_IN_K)[()]


class _Balance:
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
        # a missing dew point leaves the skin unknown even where the sky's radiation was given
        self.sun = sun.ravel() + 0.0 * self.dew_c
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
        dew_w_m2_k = (still + moving / calm) * chord / LEWIS_PA_K
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

    air_temperature_c: °C, -60 to 60; dew_point_c: °C, -45 to 60; wind_m_s: at the wing (see wing_wind_m_s), 0 to 120,
    floored at 0.5; cloud_fraction: 0 to 1; cloud_base_m: m, 0 to 30 000, may be NaN where the fraction is 0; scalars
    or arrays that broadcast; NaN stays. surface: "painted" away from the tanks, "tank" over fuel of
    fuel_temperature_c (-60 to 70), "panel" open to the air on both sides, "metal" bare. absorbed_sunlight_w_m2: 0 by
    night, to 1400. dew_heat: count the heat of dew where the dew point is above 0 °C. loss: "low", "central" or
    "high". emissivity, sky_longwave_w_m2, underside_w_m2_k (for "tank", to the fuel) replace the variant's own.
    Returns °C, NaN outside the ranges.
    Source: prata-1996, idso-1981, berdahl-martin-1984, martin-berdahl-1984, and convection_w_m2_k; the rest of the
    table of variants: invented-default.
    """
    if surface not in SURFACES:
        raise ValueError(f"surface is {surface!r}; one of {', '.join(SURFACES)} is needed")
    if sky_longwave_w_m2 is None:
        sky_longwave_w_m2 = _sky(air_temperature_c, dew_point_c, cloud_fraction, cloud_base_m, loss)
    shape = np.broadcast_shapes(
        *(np.shape(x) for x in (air_temperature_c, dew_point_c, wind_m_s, cloud_fraction, cloud_base_m)),
        *(np.shape(x) for x in (absorbed_sunlight_w_m2, fuel_temperature_c, sky_longwave_w_m2)),
        *(np.shape(x) for x in (emissivity, underside_w_m2_k) if x is not None),
    )
    air = np.broadcast_to(air_temperature_c, shape)
    balance = _Balance(air, dew_point_c, wind_m_s, sky_longwave_w_m2, absorbed_sunlight_w_m2, loss)
    shine: Floats | float = balance.variant.metal_emissivity if surface == "metal" else balance.variant.emissivity
    if emissivity is not None:
        shine = _column(emissivity, 0.0, 1.0, balance.shape)
    below = None if underside_w_m2_k is None else _column(underside_w_m2_k, 0.0, 1000.0, balance.shape)
    terms = balance.terms(surface, shine, fuel_temperature_c, below)
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

    Arguments as for skin_temperature_c. emissivity: of the paint (painted, tank, panel), None or NaN for the
    variant's own. Returns arrays of the common shape under the names of the vocabulary; the tank's is NaN where the
    fuel temperature is.
    Source: as skin_temperature_c.
    """
    sky = _sky(air_temperature_c, dew_point_c, cloud_fraction, cloud_base_m, loss)
    shape = np.broadcast_shapes(
        *(np.shape(x) for x in (sky, wind_m_s, fuel_temperature_c, absorbed_sunlight_w_m2)),
    )
    air = np.broadcast_to(air_temperature_c, shape)
    balance = _Balance(air, dew_point_c, wind_m_s, sky, absorbed_sunlight_w_m2, loss)
    paint = balance.variant.emissivity if emissivity is None or np.isnan(emissivity) else emissivity
    result = {}
    for surface in SURFACES:
        shine = balance.variant.metal_emissivity if surface == "metal" else paint
        terms = balance.terms(surface, shine, fuel_temperature_c, None)
        skin = balance.solve(*terms)
        if dew_heat:
            skin = balance.with_dew(skin, *terms)
        skin = skin - ZERO_C_IN_K
        result[QUANTITY[surface]] = skin.reshape(balance.shape)[()]
    return result


# the parameters of the two functions above carry the names of functions here
_sky = sky_longwave_w_m2


def _column(values: ArrayLike, low: float, high: float, shape: tuple[int, ...]) -> Floats:
    return np.broadcast_to(within(values, low, high), shape).ravel()


def frost_margin_c(dew_point_c: ArrayLike, skin_temperature_c: ArrayLike) -> Floats:
    """How far the skin lies below the point where frost can form: above 0 frost can form.

    dew_point_c: °C over water, -45 to 60; skin_temperature_c: before any frost, with the heat of dew counted, which
    forms first while the dew point is above 0 °C; scalars or arrays that broadcast; NaN stays.
    Returns K: the lower of frost point and 0 °C, less the skin temperature; NaN outside the range.
    Source: wmo-8-annex-4b.
    """
    return (np.minimum(frost_point_c(dew_point_c), 0.0) - np.asarray(skin_temperature_c, dtype=np.float64))[()]


def dew_margin_c(dew_point_c: ArrayLike, skin_temperature_c: ArrayLike) -> Floats:
    """Dew point less skin temperature: above 0 the skin gathers moisture.

    dew_point_c: °C, -45 to 60; skin_temperature_c: °C; scalars or arrays that broadcast; NaN stays.
    Returns K, NaN outside the range.
    Source: wmo-8-annex-4b.
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

    air_temperature_c: °C, -60 to 60; dew_point_c: °C, -45 to 60; skin_temperature_c: before any frost; wind_m_s: at
    the wing; scalars or arrays that broadcast; NaN stays. The Lewis relation gives the vapour that reaches the skin;
    its own heat, which warms the skin and slows it, is taken off. Returns g/m²h, 0 where no frost can form; NaN
    outside the ranges.
    Source: lewis-relation.
    """
    variant = VARIANTS[known_loss(loss)]
    air = within(air_temperature_c, *AIR_RANGE_C)
    dew = within(dew_point_c, *WATER_RANGE_C)
    skin = within(skin_temperature_c, -65.0, 120.0)
    margin = np.minimum(frost_point_c(dew), 0.0) - skin
    convection = convection_w_m2_k(wind_m_s, air - skin, loss)
    surplus_pa = saturation_pressure_pa(dew, "water") - saturation_pressure_pa(np.minimum(skin, 0.0), "ice")
    latent = convection * np.maximum(surplus_pa, 0.0) / LEWIS_PA_K
    holding = convection + variant.underside + 4.0 * variant.emissivity * STEFAN_BOLTZMANN * (skin + ZERO_C_IN_K) ** 3
    # with the frost's own heat the margin shrinks to margin · K / (K + g), g the latent heat for each K of margin
    slowed = latent * holding / (holding + latent / np.maximum(margin, 0.01))
    # above 0 °C dew's heat is in the skin temperature already
    flow = np.where(dew > 0.0, latent, slowed)
    return np.where(margin > 0.0, flow * (3600.0 / HEAT_OF_SUBLIMATION_J_G), 0.0 * (flow + margin))[()]

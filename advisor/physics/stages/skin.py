"""Fuel, the skins that it cools, and how far each skin lies below where frost or dew forms."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.conditions import LOSSES, NO, Airframe, Columns, Conditions, Floats
from advisor.physics import convection, deposits, frost, sky, surface
from advisor.physics.stages.stage import Stage
from advisor.quantities.units import HOUR_S, M_S_PER_KT

# a tank that is emptier than this still holds fuel enough to be counted as this full (ours)
LEAST_FILL = 0.1


def _fuel(conditions: Conditions, airframe: Airframe) -> Columns:
    """Stated fuel, drawn towards the air from now on; fuel that was not stated stays as it is assumed."""
    if "assumed_fuel_temperature_c" in conditions.columns:
        return {"skin_fuel_temperature_c": conditions.columns["assumed_fuel_temperature_c"]}
    course = _course(conditions) if conditions.series else conditions.number("fuel_temperature_c")
    return {"fuel_temperature_c": course, "skin_fuel_temperature_c": course}


def _course(conditions: Conditions) -> Floats:
    """Stated fuel over time, (case, time); a tank that is not full follows the air sooner.

    The adverse skin keeps cold fuel cold longest and lets warm fuel go soonest, the low-loss one the other way round;
    of a fill that was not stated the adverse cases take the colder of full and near empty. Where the air is not known,
    the fuel is not known from now on.
    """
    course = np.array(conditions.number("fuel_temperature_c"))
    ahead = slice(int(np.searchsorted(conditions.unix_s, conditions.now_s)), None)
    air = conditions.number("air_temperature_c")[:, ahead]
    fill = conditions.fuel_fill_pct / 100
    for row, case in enumerate(conditions.cases):
        stated = course[row, -1]
        colder = bool(stated < air[row, 0])
        pace = "central" if case.loss == "central" else "high" if (case.loss == "high") == colder else "low"
        shares = [max(LEAST_FILL, fill)] if np.isfinite(fill) else [1.0, LEAST_FILL] if case.lasts else [1.0]
        each = [
            deposits.fuel_temperature_c(
                conditions.unix_s[ahead], stated, air[row], time_constant_h=deposits.TANK_TIME_H[pace] * share
            )
            for share in shares
        ]
        course[row, ahead] = np.minimum.reduce(each)
    return course


def skins(conditions: Conditions, airframe: Airframe, surfaces: Sequence[str] = surface.SURFACES) -> Columns:
    """The work of the stage, for some of the surfaces; the painted one is always among them."""
    air, dew = conditions.number("air_temperature_c"), conditions.number("dew_point_c")
    speed = conditions.number("skin_wind_kt") * M_S_PER_KT
    fraction, base = conditions.number("cloud_fraction"), conditions.number("cloud_base_m")
    fuel = conditions.number("skin_fuel_temperature_c")
    elevation = conditions.columns["sun_elevation_deg"][0]
    names = tuple(surface.QUANTITY[one] for one in surfaces)
    columns: dict[str, Floats] = {name: np.empty(conditions.shape) for name in (*names, "frost_growth_g_m2_h")}
    for loss in LOSSES:
        rows = [row for row, case in enumerate(conditions.cases) if case.loss == loss]
        if not rows:
            continue
        at_wing = convection.wing_wind_m_s(speed[rows], loss, height_m=airframe.wing_height_m)
        sunlight = sky.absorbed_sunlight_w_m2(elevation, fraction[rows], loss=loss)
        bodies = (air[rows], dew[rows], at_wing, fraction[rows], base[rows], fuel[rows], sunlight)
        skins_c = surface.skins(*bodies, loss, emissivity=airframe.emissivity, surfaces=surfaces)
        windless = conditions.lasts[rows] & np.isnan(conditions.number("wind_kt")[rows])
        if windless.any():
            # calm is the coldest at night; in the sun a wind that nobody told may bring a skin down to the air
            skins_c = {
                name: np.where(windless, np.minimum(skins_c[name], air[rows]), skins_c[name]) for name in skins_c
            }
        for name, values in skins_c.items():
            columns[name][rows] = values
        # frost that nobody saw did not grow; what rained or melted may have frozen all the same, so the skin stays
        wing = skins_c["wing_skin_temperature_c"]
        seen = wing + _refuted_c(conditions, dew[rows], wing)
        growth = frost.frost_growth_g_m2_h(air[rows], dew[rows], seen, at_wing, loss=loss)
        columns["frost_growth_g_m2_h"][rows] = growth
    if not airframe.has_tank_skin and "tank" in surfaces:
        columns["tank_skin_temperature_c"] = columns["wing_skin_temperature_c"].copy()
    return dict(columns)


# how long before a look a skin has to have been colder for frost to be seen, and how long the look holds, s (ours)
SHOWS_WITHIN_S, LOOK_HOLDS_S, LOOK_ENDS_S = HOUR_S / 2, HOUR_S, 3 * HOUR_S
# what a skin may cool by after the look before frost shows, °C (ours)
COOLS_BY_C = 1.0


def _refuted_c(conditions: Conditions, dew_c: Floats, skin_c: Floats) -> Floats:
    """By how much less far a skin lies below where frost forms than estimated, since somebody looked and saw none.

    A skin that had been so far below for half an hour would have shown it: from the look on each case is warmer by the
    least that it was below in that half hour and a degree, for an hour, and by less for two more. (case, time), as are
    the dew point and the skin.
    """
    looked_s = conditions.nothing_seen_at_s
    if looked_s is None:
        return np.zeros_like(skin_c)
    unix_s = conditions.unix_s
    before = (unix_s <= looked_s) & (unix_s >= looked_s - SHOWS_WITHIN_S)
    # what was not known at one time is NaN here, and warms nothing
    least = frost.frost_margin_c(dew_c, skin_c)[:, before].min(axis=1, initial=np.inf)
    least = np.where(np.isfinite(least) & (least > 0.0), least + COOLS_BY_C, 0.0)
    since_s = unix_s - looked_s
    held = np.clip((LOOK_ENDS_S - since_s) / (LOOK_ENDS_S - LOOK_HOLDS_S), 0.0, 1.0)
    return least[:, None] * np.where(since_s >= 0, held, 0.0)[None, :]


def _margins(conditions: Conditions, airframe: Airframe) -> Columns:
    dew, skin = conditions.number("dew_point_c"), conditions.number("wing_skin_temperature_c")
    margin = frost.dew_margin_c(dew, skin)
    # a bound for a sky that nobody described is one for frost; under a clear one a mild skin may still gather dew
    undescribed = conditions.flag("sky_undescribed") != NO
    colder = frost.frost_margin_c(dew, skin)
    refuted = (colder > 0.0) & (colder - _refuted_c(conditions, dew, skin) <= 0.0)
    return {
        "frost_refuted": refuted.astype(np.int8),
        "frost_margin_c": colder,
        "tank_frost_margin_c": frost.frost_margin_c(dew, conditions.number("tank_skin_temperature_c")),
        "dew_margin_c": np.where(undescribed & (margin <= 0.0), np.nan, margin),
    }


FUEL = Stage(
    name="fuel",
    meaning="stated fuel drawn towards the air, sooner in a tank that is not full",
    gives={
        "fuel_temperature_c": ("fuel_temperature_c", "air_temperature_c"),
        "skin_fuel_temperature_c": ("fuel_temperature_c", "assumed_fuel_temperature_c", "air_temperature_c"),
    },
    work=_fuel,
    source=("invented-default",),
    formula="air + (stated − air) · exp(−time / time constant of the tank)",
)
_SKY_AND_AIR = (
    "air_temperature_c",
    "dew_point_c",
    "skin_wind_kt",
    "wind_kt",
    "cloud_fraction",
    "cloud_base_m",
)
SKIN = Stage(
    name="skin",
    meaning="balance of sky radiation, sunlight, wind and what lies under the skin, by the case's loss variant",
    gives={
        "wing_skin_temperature_c": (*_SKY_AND_AIR, "sun_elevation_deg"),
        "tank_skin_temperature_c": (*_SKY_AND_AIR, "sun_elevation_deg", "skin_fuel_temperature_c"),
        "panel_skin_temperature_c": (*_SKY_AND_AIR, "sun_elevation_deg"),
        "metal_skin_temperature_c": (*_SKY_AND_AIR, "sun_elevation_deg"),
        "frost_growth_g_m2_h": ("air_temperature_c", "dew_point_c", "skin_wind_kt", "wing_skin_temperature_c"),
    },
    work=skins,
    source=("incropera-7e", "idso-1981", "martin-berdahl-1984", "mcadams-1954", "invented-default"),
    bounded=("wind_kt", "skin_wind_kt"),
    formula="absorbed sunlight + sky radiation + convection + underside = emitted radiation",
)
MARGINS = Stage(
    name="margins",
    meaning="how far each skin lies below where frost or dew forms",
    gives={
        "frost_refuted": ("wing_skin_temperature_c", "dew_point_c"),
        "frost_margin_c": ("wing_skin_temperature_c", "dew_point_c"),
        "tank_frost_margin_c": ("tank_skin_temperature_c", "dew_point_c"),
        "dew_margin_c": ("wing_skin_temperature_c", "dew_point_c", "sky_undescribed"),
    },
    work=_margins,
    source=("wmo-8-annex-4b",),
    formula="lower of frost point and 0 °C, less skin; dew point less skin",
)

"""Everything that follows from the outlook's columns, added as columns. The only caller of the rest of physics.

One function for a brief of forty times and for a million reports: latitude and longitude are scalars or (time,).
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from advisor.conditions import LOSSES, Airframe, Codes, Conditions, Floats
from advisor.physics import deposits, exposure, flags, light, moisture, moon, precipitation, sun, surface, wind

KT_TO_M_S = 1852 / 3600
KT_TO_KM_H = 1.852
HAIL_LIES_BELOW_C = 5.0
# a tank that is emptier than this still holds fuel enough to be counted as this full (ours)
LEAST_FILL = 0.1
# ice pellets as water, mm/h, by loss variant: moderate ones, with a factor of three either way (ours)
ICE_PELLETS_MM_H = {"low": 0.4, "central": 1.2, "high": 3.6}


def derive(conditions: Conditions, airframe: Airframe) -> Conditions:
    """Add the derived columns to conditions, in place, and return it.

    Needs the outlook's columns: air_temperature_c, dew_point_c, wind_kt, gust_kt, skin_wind_kt, wind_direction_deg,
    visibility_m, cloud_fraction, cloud_base_m, sky_divisor, fuel_temperature_c and the weather flags, each (case,
    time) or broadcasting to it. Missing stays missing: NaN, or -1 for a flag.
    """
    _light(conditions)
    _air(conditions)
    _skin(conditions, airframe)
    _falling(conditions)
    _ground(conditions)
    _wind(conditions, airframe)
    return conditions


def _light(conditions: Conditions) -> None:
    columns = conditions.columns
    elevation, azimuth = sun.position_deg(conditions.unix_s, conditions.latitude_deg, conditions.longitude_deg)
    columns["sun_elevation_deg"] = elevation[None, :]
    columns["sun_azimuth_deg"] = azimuth[None, :]
    columns["light"] = light.light_code(elevation)[None, :]
    columns["dark"] = light.is_dark(elevation)[None, :]
    off_nose = np.abs(wind.relative_deg(azimuth, conditions.heading_deg))
    columns["sun_off_nose_deg"] = np.broadcast_to(off_nose, elevation.shape)[None, :]
    if conditions.series:
        height, fraction = moon.position(conditions.unix_s, conditions.latitude_deg, conditions.longitude_deg)
        columns["moon_elevation_deg"], columns["moon_illuminated_fraction"] = height[None, :], fraction[None, :]
        clear = light.illuminance_lx(elevation, height, fraction)
    else:
        clear = light.sun_illuminance_lx(elevation)
    columns["illuminance_lx"] = clear[None, :] / columns["sky_divisor"]


def _air(conditions: Conditions) -> None:
    columns = conditions.columns
    air, dew = columns["air_temperature_c"], columns["dew_point_c"]
    columns["frost_point_c"] = moisture.frost_point_c(dew)
    columns["relative_humidity_pct"] = humidity = moisture.relative_humidity_pct(air, dew)
    columns["wind_chill_c"] = chill = exposure.wind_chill_c(air, columns["wind_kt"] * KT_TO_KM_H)
    columns["frostbite_min"] = exposure.frostbite_min(chill)
    columns["heat_index_c"] = exposure.heat_index_c(air, humidity)


def _skin(conditions: Conditions, airframe: Airframe) -> None:
    columns, shape = conditions.columns, conditions.shape
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    dew = np.broadcast_to(columns["dew_point_c"], shape)
    if "assumed_fuel_temperature_c" in columns:
        fuel = np.broadcast_to(columns["assumed_fuel_temperature_c"], shape)
    else:
        if conditions.series:
            columns["fuel_temperature_c"] = _fuel(conditions)
        fuel = np.broadcast_to(columns["fuel_temperature_c"], shape)
    names = [*surface.QUANTITY.values(), "frost_growth_g_m2_h"]
    made: dict[str, Floats] = {name: np.empty(shape) for name in names}
    speed = np.broadcast_to(columns["skin_wind_kt"], shape) * KT_TO_M_S
    fraction = np.broadcast_to(columns["cloud_fraction"], shape)
    base = np.broadcast_to(columns["cloud_base_m"], shape)
    elevation = columns["sun_elevation_deg"][0]
    for loss in LOSSES:
        rows = [at for at, case in enumerate(conditions.cases) if case.loss == loss]
        if not rows:
            continue
        at_wing = surface.wing_wind_m_s(speed[rows], loss, height_m=airframe.wing_height_m)
        sunlight = surface.absorbed_sunlight_w_m2(elevation, fraction[rows], loss=loss)
        skins = surface.skins(
            air[rows], dew[rows], at_wing, fraction[rows], base[rows], fuel[rows], sunlight, loss,
            emissivity=airframe.emissivity,
        )  # fmt: skip
        for name, values in skins.items():
            made[name][rows] = values
        made["frost_growth_g_m2_h"][rows] = surface.frost_growth_g_m2_h(
            air[rows], dew[rows], skins["wing_skin_temperature_c"], at_wing, loss=loss
        )
    if not airframe.has_tank_skin:
        made["tank_skin_temperature_c"] = made["wing_skin_temperature_c"].copy()
    columns.update(made)
    columns["frost_margin_c"] = surface.frost_margin_c(dew, made["wing_skin_temperature_c"])
    columns["tank_frost_margin_c"] = surface.frost_margin_c(dew, made["tank_skin_temperature_c"])
    columns["dew_margin_c"] = surface.dew_margin_c(dew, made["wing_skin_temperature_c"])


def _fuel(conditions: Conditions) -> Floats:
    """Stated fuel, drawn towards the air from now on; a tank that is not full follows sooner.

    The adverse skin keeps cold fuel cold longest and lets warm fuel go soonest, the low-loss one the other way round.
    """
    columns, shape = conditions.columns, conditions.shape
    stated = np.array(np.broadcast_to(columns["fuel_temperature_c"], shape), dtype=np.float64)
    ahead = slice(int(np.searchsorted(conditions.unix_s, conditions.now_s)), None)
    air = np.broadcast_to(columns["air_temperature_c"], shape)[:, ahead]
    fill = conditions.fuel_fill_pct
    share = max(LEAST_FILL, fill / 100) if np.isfinite(fill) else 1.0
    for row, case in enumerate(conditions.cases):
        colder = bool(stated[row, -1] < air[row, 0])
        slow = {"low": not colder, "central": None, "high": colder}[case.loss]
        hours = deposits.TANK_TIME_H["central" if slow is None else "high" if slow else "low"]
        course = deposits.fuel_temperature_c(
            conditions.unix_s[ahead], stated[row, -1], air[row], time_constant_h=hours * share
        )
        stated[row, ahead] = np.where(np.isnan(course), stated[row, ahead], course)
    return stated


def _falling(conditions: Conditions) -> None:
    columns, shape = conditions.columns, conditions.shape
    hail = columns["hail"]
    # hail in warm air dents and melts: it asks for shelter and a look, not for treatment
    lying = flags.all_of(hail, flags.below(columns["air_temperature_c"], HAIL_LIES_BELOW_C))
    others = flags.any_of(columns["snow"], columns["ice_pellets"], columns["freezing_precipitation"], lying)
    columns["frozen_precipitation"] = np.where(hail == 1, others, columns["frozen_precipitation"]).astype(np.int8)
    snow = np.broadcast_to(columns["snow"], shape)
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    visibility = np.broadcast_to(columns["visibility_m"], shape)
    dark = np.broadcast_to(columns["dark"], shape)
    by_sight = precipitation.snow_intensity(visibility, air, dark == 1).astype(np.float64)
    by_code = columns.get("snow_intensity_code")
    by_sight[by_sight == 0] = np.nan
    if by_code is not None:
        # the code's own sign is a floor under what the visibility gives
        by_sight = np.where(np.isnan(by_sight), np.nan, np.fmax(by_sight, by_code))
    intensity = np.where(snow == 1, by_sight, np.where(snow == 0, 0.0, np.nan))
    columns["snow_intensity"] = intensity
    rate = np.empty(shape)
    by_loss = dict(zip(LOSSES, precipitation.snow_rate_mm_h(intensity), strict=True))
    for row, case in enumerate(conditions.cases):
        rate[row] = by_loss[case.loss][row]
    rate[snow == 0] = 0.0
    columns["snow_rate_mm_h"] = rate
    soaked = flags.below(np.broadcast_to(columns["tank_skin_temperature_c"], shape), 0.0)
    soaked = flags.all_of(soaked, flags.no(columns["fuel_temperature_assumed"]))
    columns["treatment_category"] = precipitation.treatment_category(
        columns["treatment_class"], np.nan_to_num(intensity), air, soaked
    )


def _ground(conditions: Conditions) -> None:
    columns, shape = conditions.columns, conditions.shape
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    skin = columns["wing_skin_temperature_c"]
    wet_air = flags.any_of(columns["rain"], columns["drizzle"], columns["fog"], columns["mist"])
    dewy = flags.all_of(flags.above(columns["dew_margin_c"], 0.0), flags.above(air, 0.0))
    tank_dewy = flags.above(columns["dew_point_c"] - columns["tank_skin_temperature_c"], 0.0)
    columns["moisture"] = flags.any_of(wet_air, dewy, tank_dewy)
    wet = flags.any_of(columns["rain"], columns["drizzle"], columns["recent_rain"])
    freezing = flags.any_of(flags.below(air, 0.0, included=True), flags.below(skin, 0.0, included=True))
    seen = np.broadcast_to(columns["deposit_seen"], shape)
    if conditions.series:
        lying = _lying(conditions)
        # water that melted or fell before and has not dried, and what of it has frozen since
        wet = flags.any_of(wet, lying.wet, flags.above(lying.ice_mm, deposits.TRACE_MM))
        columns["deposit_possible"] = flags.any_of(seen, lying.lying)
        columns["snow_accumulated_mm"] = lying.snow_accumulated_mm
        columns["rain_accumulated_mm"] = lying.rain_accumulated_mm
        _while_parked(conditions)
    else:
        columns["deposit_possible"] = seen
    columns["freezing_after_wet"] = flags.all_of(wet, freezing)
    cold_ground = flags.below(air, 1.0, included=True)
    columns["slippery_surface"] = flags.any_of(
        columns["frozen_precipitation"], columns["freezing_after_wet"],
        flags.all_of(flags.any_of(columns["fog"], columns["mist"]), flags.below(air, 0.0, included=True)),
        flags.all_of(flags.any_of(columns["rain"], columns["drizzle"]), cold_ground),
    )  # fmt: skip


def _lying(conditions: Conditions) -> deposits.Deposits:
    """What gathers on the wing over the times of the conditions, from nothing at the first of them."""
    columns, shape = conditions.columns, conditions.shape
    pellets = np.broadcast_to(columns["ice_pellets"], shape)
    by_loss = np.array([ICE_PELLETS_MM_H[case.loss] for case in conditions.cases])[:, None]
    frozen = columns["snow_rate_mm_h"] + np.where(pellets == 1, by_loss, np.where(pellets == 0, 0.0, np.nan))
    rain = np.broadcast_to(columns["rain_rate_mm_h"], shape)
    freezes = np.broadcast_to(columns["freezing_precipitation"], shape)
    # where nothing falls, whether it would freeze does not matter
    freezing = np.where((freezes == 0) | (rain == 0.0), 0.0, np.where(freezes == 1, rain, np.nan))
    liquid = np.where((freezes == 1) | (rain == 0.0), 0.0, rain)
    growth = np.broadcast_to(columns["frost_growth_g_m2_h"], shape)
    dew = np.broadcast_to(columns["dew_point_c"], shape)
    # once as it may be, once with only what is known to fall: that lies there whatever came on top
    sure = [np.concatenate([rate, np.nan_to_num(rate)]) for rate in (growth, frozen, liquid, freezing)]
    twice = deposits.integrate(
        conditions.unix_s, np.tile(np.broadcast_to(columns["wing_skin_temperature_c"], shape), (2, 1)),
        frost_growth_g_m2_h=sure[0], frozen_mm_h=sure[1], liquid_mm_h=sure[2], freezing_mm_h=sure[3],
        vapour_pressure_pa=np.tile(moisture.saturation_pressure_pa(dew), (2, 1)),
        treated_at_s=conditions.treated_at_s,
    )  # fmt: skip
    rows = shape[0]
    parts = {field.name: getattr(twice, field.name)[:rows] for field in fields(twice)}
    for name, least in (("lying", twice.lying[rows:]), ("wet", twice.wet[rows:])):
        parts[name] = np.where(least == 1, least, parts[name])
    return deposits.Deposits(**parts)


def _while_parked(conditions: Conditions) -> None:
    """The worst of wind, hail and storm since the aircraft was parked, up to each time; no where it was not said."""
    columns, shape = conditions.columns, conditions.shape
    gust = np.broadcast_to(columns["gust_kt"], shape)
    stated = bool(np.any(columns["parked_h"] > 0.0))
    columns["gust_while_parked_kt"] = np.maximum.accumulate(gust, axis=1) if stated else np.zeros(shape)
    for name in ("hail", "thunderstorm", "frozen_precipitation"):
        past = _before(np.broadcast_to(columns[name], shape)) if stated else np.zeros(shape, dtype=np.int8)
        columns[f"{name}_while_parked"] = past


def _before(wet: Codes) -> Codes:
    """Wet now or at any time before: what fell stays until it dries, which nothing here counts on."""
    yes = np.maximum.accumulate(wet == 1, axis=1)
    unknown = np.maximum.accumulate(wet == -1, axis=1)
    return np.where(yes, 1, np.where(unknown, -1, 0)).astype(np.int8)


def _wind(conditions: Conditions, airframe: Airframe) -> None:
    columns, shape = conditions.columns, conditions.shape
    direction = np.broadcast_to(columns["wind_direction_deg"], shape)
    columns["relative_wind_deg"] = relative = wind.relative_deg(direction, conditions.heading_deg)
    if not airframe.doors:
        return
    gust = np.broadcast_to(columns["gust_kt"], shape)
    operate, stay_open = wind.door_limits(airframe.doors, relative, gust)
    conditions.door_tables.update(operate_margin_kt=operate, stay_open_margin_kt=stay_open)
    columns["door_margin_kt"] = operate.min(axis=0)
    columns["door_stay_open_margin_kt"] = stay_open.min(axis=0)


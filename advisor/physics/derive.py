"""Everything that follows from the outlook's columns, added as columns. The only caller of the rest of physics.

One function for a brief of forty times and for a million reports: latitude and longitude are scalars or (time,).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import LOSSES, NO, UNKNOWN, Airframe, Columns, Conditions, Floats
from advisor.physics import (
    deposits,
    exposure,
    flags,
    light,
    lying,
    moisture,
    moon,
    precipitation,
    snow,
    sun,
    surface,
    treatment,
    wind,
)

KT_TO_M_S = 1852 / 3600
KT_TO_KM_H = 1.852
HAIL_LIES_BELOW_C = 5.0
# a tank that is emptier than this still holds fuel enough to be counted as this full (ours)
LEAST_FILL = 0.1
# what ended lies or clings in air of this warmth or colder, °C (common practice)
CLINGS_BELOW_C = 3.0
# rime in freezing mist: nearly saturated air under cloud that covers most of the sky close above, in frost (ours)
RIME_BELOW_C, RIME_HUMIDITY_PCT, RIME_CLOUD, RIME_BASE_M = -1.0, 95.0, 0.6, 300.0


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
            air[rows],
            dew[rows],
            at_wing,
            fraction[rows],
            base[rows],
            fuel[rows],
            sunlight,
            loss,
            emissivity=airframe.emissivity,
        )
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
    # a bound for a sky that nobody described is one for frost; under a clear one a mild skin may still gather dew
    margin = surface.dew_margin_c(dew, made["wing_skin_temperature_c"])
    columns["dew_margin_c"] = np.where(_undescribed(columns) & (margin <= 0.0), np.nan, margin)


def _undescribed(columns: Columns) -> NDArray[np.bool_]:
    """Where nobody described the sky, a shape that broadcasts to (case, time)."""
    found: NDArray[np.bool_] = np.asarray(columns.get("cumulonimbus", np.zeros((1, 1), dtype=np.int8))) == UNKNOWN
    return found


def _fuel(conditions: Conditions) -> Floats:
    """Stated fuel, drawn towards the air from now on; a tank that is not full follows sooner.

    The adverse skin keeps cold fuel cold longest and lets warm fuel go soonest, the low-loss one the other way round;
    a fill that was not stated goes with them. Where the air is not known, the fuel is not known from now on.
    """
    columns, shape = conditions.columns, conditions.shape
    stated = np.array(np.broadcast_to(columns["fuel_temperature_c"], shape), dtype=np.float64)
    ahead = slice(int(np.searchsorted(conditions.unix_s, conditions.now_s)), None)
    air = np.broadcast_to(columns["air_temperature_c"], shape)[:, ahead]
    fill = conditions.fuel_fill_pct / 100
    for row, case in enumerate(conditions.cases):
        colder = bool(stated[row, -1] < air[row, 0])
        pace = "central" if case.loss == "central" else "high" if (case.loss == "high") == colder else "low"
        # a fill that nobody stated is a full tank or one near empty, in the adverse cases the colder of them
        shares = [max(LEAST_FILL, fill)] if np.isfinite(fill) else [1.0, LEAST_FILL] if case.lasts else [1.0]
        courses = [
            deposits.fuel_temperature_c(
                conditions.unix_s[ahead],
                stated[row, -1],
                air[row],
                time_constant_h=deposits.TANK_TIME_H[pace] * share,
            )
            for share in shares
        ]
        stated[row, ahead] = np.minimum.reduce(courses)
    return stated


def _falling(conditions: Conditions) -> None:
    columns, shape = conditions.columns, conditions.shape
    hail = columns["hail"]
    # hail in warm air dents and melts: it asks for shelter and a look, not for treatment
    hail_lies = flags.all_of(hail, flags.below(columns["air_temperature_c"], HAIL_LIES_BELOW_C))
    others = flags.any_of(columns["snow"], columns["ice_pellets"], columns["freezing_precipitation"], hail_lies)
    columns["frozen_precipitation"] = np.where(hail == 1, others, columns["frozen_precipitation"]).astype(np.int8)
    falls = np.broadcast_to(columns["snow"], shape)
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    visibility = np.broadcast_to(columns["visibility_m"], shape)
    dark = np.broadcast_to(columns["dark"], shape)
    by_sight = precipitation.snow_intensity(visibility, air, dark == 1).astype(np.float64)
    by_code = columns.get("snow_intensity_code")
    by_sight[by_sight == 0] = np.nan
    if by_code is not None:
        # the code's own sign is a floor under what the visibility gives; heavy is heavy whatever is seen
        sure = np.where(np.asarray(by_code) >= snow.HEAVY, by_code, np.nan)
        by_sight = np.where(np.isnan(by_sight), sure, np.fmax(by_sight, by_code))
    intensity = np.where(falls == 1, by_sight, np.where(falls == 0, 0.0, np.nan))
    columns["snow_intensity"] = intensity
    rate = np.empty(shape)
    by_loss = dict(zip(LOSSES, precipitation.snow_rate_mm_h(intensity), strict=True))
    for row, case in enumerate(conditions.cases):
        rate[row] = by_loss[case.loss][row]
    rate[falls == 0] = 0.0
    columns["snow_rate_mm_h"] = rate
    soaked = flags.below(np.broadcast_to(columns["tank_skin_temperature_c"], shape), 0.0)
    soaked = flags.all_of(soaked, flags.no(columns["fuel_temperature_assumed"]))
    columns["treatment_category"] = treatment.gravest_category(
        columns["treatment_classes"], np.nan_to_num(intensity).astype(np.int64), air, soaked, reported_air_c=air[:1]
    )
    lasts = np.array([case.lasts for case in conditions.cases])[:, None]
    low_cloud = flags.all_of(
        flags.above(columns["cloud_fraction"], RIME_CLOUD), flags.below(columns["cloud_base_m"], RIME_BASE_M)
    )
    # a sky that nobody described may hold it, whatever bound stands in for it
    undescribed = np.where(_undescribed(columns), UNKNOWN, NO)
    rime = flags.all_of(
        columns["mist"],
        flags.below(air, RIME_BELOW_C, included=True),
        flags.above(columns["relative_humidity_pct"], RIME_HUMIDITY_PCT),
        flags.any_of(low_cloud, undescribed),
    )
    columns["freezing_mist"] = np.where(lasts, rime, NO).astype(np.int8)


def _ground(conditions: Conditions) -> None:
    columns, shape = conditions.columns, conditions.shape
    air = np.broadcast_to(columns["air_temperature_c"], shape)
    skin = columns["wing_skin_temperature_c"]
    lasts = np.array([case.lasts for case in conditions.cases])[:, None]
    wet_air = flags.any_of(columns["rain"], columns["drizzle"], columns["fog"], columns["mist"])
    dewy = flags.all_of(flags.above(columns["dew_margin_c"], 0.0), flags.above(air, 0.0))
    tank_dewy = flags.above(columns["dew_point_c"] - columns["tank_skin_temperature_c"], 0.0)
    tank_dewy = np.where(_undescribed(columns) & (tank_dewy == NO), UNKNOWN, tank_dewy)
    columns["moisture"] = flags.any_of(wet_air, dewy, tank_dewy)
    wet = flags.any_of(columns["rain"], columns["drizzle"], columns["recent_rain"])
    freezing = flags.any_of(flags.below(air, 0.0, included=True), flags.below(skin, 0.0, included=True))
    # what ended lies in the adverse cases while it is cold, whatever the aircraft's own history
    clings = flags.below(air, CLINGS_BELOW_C, included=True)
    ended = np.where(lasts, flags.all_of(columns["recent_frozen"], clings), NO)
    built = flags.any_of(columns["ice_reported"], columns["frost_reported"])
    iced = flags.all_of(built, np.where(lasts, clings, flags.below(air, 0.0, included=True)))
    deposit = [np.broadcast_to(columns["deposit_seen"], shape), ended, iced]
    lies = list(deposit)
    apron = None
    columns["snow_on_aircraft"] = ended
    if conditions.series:
        aircraft, apron = lying.lying(conditions)
        # water that melted or fell before and has not dried, and what of it has frozen since
        wet = flags.any_of(wet, aircraft.wet_or_ice)
        deposit.append(aircraft.anything)
        lies.append(aircraft.lies)
        columns["snow_on_aircraft"] = aircraft.snow
        columns["snow_accumulated_mm"] = aircraft.snow_accumulated_mm
        columns["rain_accumulated_mm"] = aircraft.rain_accumulated_mm
        lying.while_parked(conditions)
    columns["deposit_possible"] = flags.any_of(*deposit)
    columns["deposit_lies"] = flags.any_of(*lies)
    columns["freezing_after_wet"] = flags.all_of(wet, freezing)
    drifts = [columns["blowing_snow"]] if apron is None else [columns["blowing_snow"], apron.snow]
    columns["snow_on_ground"] = flags.any_of(*drifts)
    columns["slippery_surface"] = flags.any_of(lying.slippery(conditions, apron), ended, iced)


def _wind(conditions: Conditions, airframe: Airframe) -> None:
    columns, shape = conditions.columns, conditions.shape
    direction = np.broadcast_to(columns["wind_direction_deg"], shape)
    columns["relative_wind_deg"] = relative = wind.relative_deg(direction, conditions.heading_deg)
    if not airframe.doors:
        return
    gust = np.broadcast_to(columns["gust_kt"], shape)
    operate, stay_open = wind.door_limits(airframe.doors, relative, gust)
    # gusts out of a storm have no bound in a report: no door is known to stay below its limit
    storm = flags.any_of(
        columns.get("storm_said", columns["thunderstorm"]),
        columns.get("cumulonimbus", NO),
        columns["squall"],
        columns["funnel_cloud"],
        columns["recent_storm"],
    )
    columns["storm_near"] = storm
    conditions.door_tables.update(operate_margin_kt=operate, stay_open_margin_kt=stay_open)
    for name, table in (("door_margin_kt", operate), ("door_stay_open_margin_kt", stay_open)):
        worst = table.min(axis=0)
        columns[name] = np.where((storm != NO) & (worst >= 0.0), np.nan, worst)

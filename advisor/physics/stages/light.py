"""Sun, moon and natural light."""

from __future__ import annotations

import numpy as np

from advisor.conditions import Airframe, Columns, Conditions
from advisor.physics import light, moon, sun, wind
from advisor.physics.stages.stage import Stage


def _sun(conditions: Conditions, airframe: Airframe) -> Columns:
    elevation, azimuth = sun.position_deg(conditions.unix_s, conditions.latitude_deg, conditions.longitude_deg)
    off_nose = np.abs(wind.relative_deg(azimuth, conditions.heading_deg))
    return {
        "sun_elevation_deg": elevation[None, :],
        "sun_azimuth_deg": azimuth[None, :],
        "light": light.light_code(elevation)[None, :],
        "dark": light.is_dark(elevation)[None, :],
        "sun_off_nose_deg": np.broadcast_to(off_nose, elevation.shape)[None, :],
    }


def _moon(conditions: Conditions, airframe: Airframe) -> Columns:
    height, fraction = moon.position(conditions.unix_s, conditions.latitude_deg, conditions.longitude_deg)
    return {"moon_elevation_deg": height[None, :], "moon_illuminated_fraction": fraction[None, :]}


def _natural(conditions: Conditions, airframe: Airframe) -> Columns:
    elevation = conditions.columns["sun_elevation_deg"]
    if conditions.series:
        columns = conditions.columns
        clear = light.illuminance_lx(elevation, columns["moon_elevation_deg"], columns["moon_illuminated_fraction"])
    else:
        clear = light.sun_illuminance_lx(elevation)
    return {"illuminance_lx": clear / conditions.number("sky_divisor")}


SUN = Stage(
    name="sun",
    meaning="where the sun stands, and whether it is night",
    gives={
        "sun_elevation_deg": ("place",),
        "sun_azimuth_deg": ("place",),
        "light": ("place",),
        "dark": ("place",),
        "sun_off_nose_deg": ("heading",),
    },
    work=_sun,
    source=("meeus-25", "noaa-solar"),
)
MOON = Stage(
    name="moon",
    meaning="where the moon stands, and how much of it is lit",
    gives={"moon_elevation_deg": ("place",), "moon_illuminated_fraction": ("place",)},
    work=_moon,
    source=("meeus-47", "meeus-48"),
    over_time=True,
)
NATURAL_LIGHT = Stage(
    name="natural light",
    meaning="light of sun and moon on level ground under the cloud of the case",
    gives={
        "illuminance_lx": ("sun_elevation_deg", "moon_elevation_deg", "moon_illuminated_fraction", "sky_divisor"),
    },
    work=_natural,
    source=("usno-circular-171",),
    formula="(sun + moon under a clear sky) / divisor of the cloud",
)

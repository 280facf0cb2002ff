"""Wind as it meets the nose, and doors against it."""

from __future__ import annotations

import numpy as np

from advisor.conditions import NO, Airframe, Columns, Conditions
from advisor.physics import flags, wind
from advisor.physics.stages.stage import Stage

# gusts out of these have no bound in a report
STORMS = ("storm_said", "storm_remark", "cumulonimbus", "squall", "funnel_cloud", "recent_storm")


def _relative(conditions: Conditions, airframe: Airframe) -> Columns:
    direction = conditions.number("wind_direction_deg")
    return {"relative_wind_deg": wind.relative_deg(direction, conditions.heading_deg)}


def _storm(conditions: Conditions, airframe: Airframe) -> Columns:
    return {"storm_near": flags.any_of(*(conditions.flag(name) for name in STORMS))}


def _doors(conditions: Conditions, airframe: Airframe) -> Columns:
    if not airframe.doors:
        return {}
    relative, gust = conditions.number("relative_wind_deg"), conditions.number("gust_kt")
    operate, stay_open = wind.door_limits(airframe.doors, relative, gust)
    # no door is known to stay below its limit where a storm may be near
    storm = conditions.flag("storm_near") != NO
    margins: Columns = {"operate_margins_kt": operate, "stay_open_margins_kt": stay_open}
    for name, table in (("door_margin_kt", operate), ("door_stay_open_margin_kt", stay_open)):
        worst = table.min(axis=0)
        margins[name] = np.where(storm & (worst >= 0.0), np.nan, worst)
    return margins


RELATIVE = Stage(
    name="relative wind",
    meaning="where the wind comes from, from the nose",
    gives={"relative_wind_deg": ("wind_direction_deg", "heading")},
    work=_relative,
    source=("common-practice",),
    bounded=("heading",),
)
STORM = Stage(
    name="storm near",
    meaning="whether gusts may come that no report bounds",
    gives={"storm_near": STORMS},
    work=_storm,
    source=("common-practice",),
)
DOORS = Stage(
    name="doors",
    meaning="each door's limits, by sector where the profile has them, less the gust",
    gives={
        "operate_margins_kt": ("gust_kt", "relative_wind_deg"),
        "stay_open_margins_kt": ("gust_kt", "relative_wind_deg"),
        "door_margin_kt": ("gust_kt", "relative_wind_deg", "storm_near"),
        "door_stay_open_margin_kt": ("gust_kt", "relative_wind_deg", "storm_near"),
    },
    work=_doors,
    source=("common-practice",),
    formula="limit − gust; the lowest of all doors",
    bounded=("relative_wind_deg",),
)

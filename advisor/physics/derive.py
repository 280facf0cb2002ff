"""From the outlook's columns to everything that rules and pictures ask for: the stages, one after the other.

The same stages serve a brief's few times and a million reports: latitude and longitude are scalars or (time,).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from types import MappingProxyType

from advisor.conditions import Airframe, Columns, Conditions
from advisor.physics.stages import air, falling, ground, light, skin, wind
from advisor.physics.stages.stage import OF_THE_DEPARTURE, Stage

Work = Callable[[Conditions, Airframe], Columns]
NOTHING: Mapping[str, Work] = MappingProxyType({})
STAGES: tuple[Stage, ...] = (
    light.SUN,
    light.MOON,
    light.NATURAL_LIGHT,
    air.MOIST_AIR,
    air.PEOPLE,
    skin.FUEL,
    skin.SKIN,
    skin.MARGINS,
    falling.FROZEN,
    falling.SNOW,
    falling.TREATMENT,
    falling.MIST,
    ground.MOISTURE,
    ground.LYING,
    ground.WHILE_PARKED,
    ground.DEPOSITS,
    ground.FREEZING,
    ground.UNDERFOOT,
    wind.RELATIVE,
    wind.STORM,
    wind.DOORS,
)


def derive(
    conditions: Conditions,
    airframe: Airframe,
    *,
    wanted: Iterable[str] | None = None,
    instead: Mapping[str, Work] = NOTHING,
) -> Conditions:
    """Conditions with the derived columns as well; what was given stays as it was.

    Needs the outlook's columns, each (case, time) or broadcasting to it; one that is not there is not known anywhere.
    Missing stays missing: NaN, or -1 for a flag. What lies from before is worked out only where the times follow each
    other. wanted: columns that are asked for, None for all: stages that lead to none of them are left out.
    instead: by name of a stage, what is done in its place where the times do not follow each other.
    """
    for stage in STAGES if wanted is None else leading_to(wanted):
        if stage.name in instead and not conditions.series:
            conditions = conditions.having(instead[stage.name](conditions, airframe))
        elif conditions.series or not stage.over_time:
            conditions = conditions.having(stage.work(conditions, airframe))
    return conditions


def leading_to(wanted: Iterable[str]) -> tuple[Stage, ...]:
    """The stages that some columns follow from, in their order."""
    asked, kept = set(wanted), []
    for stage in reversed(STAGES):
        if not asked.isdisjoint(stage.gives):
            kept.append(stage)
            asked.update(stage.needs)
    return tuple(reversed(kept))


@cache
def given_by(quantity: str) -> Stage | None:
    """The stage that gives a quantity, None for one that comes from reports or the departure."""
    return next((stage for stage in STAGES if quantity in stage.gives), None)


@cache
def inputs(quantity: str) -> tuple[str, ...]:
    """What a quantity follows from in the end: columns that no stage gives, "heading" and "place"."""
    stage = given_by(quantity)
    if stage is None:
        return (quantity,)
    names: dict[str, None] = {}
    for name in stage.gives[quantity]:
        own = name == quantity or name in OF_THE_DEPARTURE
        names |= dict.fromkeys((name,) if own else inputs(name))
    return tuple(names)

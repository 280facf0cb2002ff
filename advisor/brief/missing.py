"""Which inputs leave a line untold: back along the stages of physics to what was not reported, forecast or said."""

from __future__ import annotations

from math import isnan

from advisor.conditions import NO, YES, Conditions
from advisor.physics.derive import given_by
from advisor.physics.stages.stage import OF_THE_DEPARTURE, Stage
from advisor.quantities import CODE, COLUMNS, FLAG, NUMBER

# what falls, as people ask for it
PRECIPITATION, FORECAST, HISTORY = "precipitation", "forecast", "history"
_FALLS = ("snow", "rain")
# what a station may be blind to while it tells the rest of the weather
STORM_SENSOR, FREEZING_SENSOR = "storm_sensor", "freezing_sensor"
# what takes the sight where the report has a low visibility and no weather
OBSCURATION = "obscuration"
_FREEZING = ("freezing_precipitation", "freezing_rain", "freezing_drizzle")
# known in the central case: the weather group was understood
_TOLD = ("snow", "rain")
# what a report may hide that does not tell how far one sees
_SIGHT = ("fog", "mist", "freezing_fog")


def roots(quantity: str, conditions: Conditions, time: int) -> tuple[str, ...]:
    """The inputs that leave a quantity unknown at a time: "precipitation", "forecast", "history", "wind_kt", …

    conditions: derived, from now on; time: an index. A quantity that is an input and known has none.
    """
    inputs = _roots(quantity, conditions, time)
    if PRECIPITATION in inputs and _blind_to_storms(conditions, time):
        return tuple(dict.fromkeys(STORM_SENSOR if name == PRECIPITATION else name for name in inputs))
    return inputs


def _blind_to_storms(conditions: Conditions, time: int) -> bool:
    """Whether all of the weather was told but for thunderstorms: the station has nothing that would hear one."""
    return _untold("thunderstorm", conditions, time) and not any(_untold(one, conditions, time) for one in _TOLD)


def _roots(quantity: str, conditions: Conditions, time: int) -> tuple[str, ...]:
    if quantity == PRECIPITATION:
        return _falls(conditions, time)
    if quantity not in COLUMNS:
        return (quantity,)
    stage = given_by(quantity)
    own = stage is None or quantity in stage.gives[quantity]
    named = _input(quantity, conditions, time) if own else ()
    if stage is None or named:
        return named
    behind = _behind(quantity, stage, conditions, 0 if stage.looks_back else time)
    if stage.looks_back:
        # no forecast tells what was there already
        behind = tuple(dict.fromkeys(HISTORY if name == FORECAST else name for name in behind))
    return behind or _otherwise(quantity, stage, conditions, time)


def _behind(quantity: str, stage: Stage, conditions: Conditions, time: int) -> tuple[str, ...]:
    """The inputs behind what a stage needs and does not know."""
    inputs: dict[str, None] = {}
    for name in stage.gives[quantity]:
        if name in OF_THE_DEPARTURE:
            if name == "heading" and isnan(conditions.heading_deg) and name not in stage.bounded:
                inputs["heading"] = None
        elif name not in stage.bounded and name != quantity:
            inputs |= dict.fromkeys(_of_a_need(name, conditions, time))
    return tuple(inputs)


def _of_a_need(name: str, conditions: Conditions, time: int) -> tuple[str, ...]:
    there = name in conditions.columns
    if there and COLUMNS[name].unbounding and bool((conditions.flag(name)[:, time] == YES).any()):
        return (COLUMNS[name].missing,)
    if there and not conditions.unknown(name)[:, time].any():
        return ()
    stage = given_by(name)
    if stage is None:
        return _input(name, conditions, time)
    return _behind(name, stage, conditions, time)


def _otherwise(quantity: str, stage: Stage, conditions: Conditions, time: int) -> tuple[str, ...]:
    """What is missing where every input of that time is there."""
    needs = (name for name in stage.gives[quantity] if name in COLUMNS and COLUMNS[name].unbounding)
    unbounding = [
        COLUMNS[name].missing
        for name in needs
        if name not in conditions.columns or bool((conditions.flag(name)[:, time] != NO).any())
    ]
    if unbounding:
        return tuple(unbounding)
    if quantity not in conditions.columns:
        return (quantity,)
    unknown = conditions.unknown(quantity)
    if stage.carries:
        # unknown already at the first time of the brief: what went before it is what is missing
        return (HISTORY,) if bool(unknown[:, 0].any()) else (FORECAST,)
    if COLUMNS[quantity].kind in (FLAG, CODE):
        return (PRECIPITATION,) if bool(unknown[0, time]) else (FORECAST,)
    return (quantity,)


def _input(name: str, conditions: Conditions, time: int) -> tuple[str, ...]:
    """An input's own name, or what is missing where others settle it; empty where it is known."""
    row = COLUMNS[name]
    if name not in conditions.columns or not conditions.unknown(name)[:, time].any():
        return ()
    told = not any(_untold(flag, conditions, time) for flag in _TOLD)
    settling = [other for other in row.settled_by if _unsettled(other, conditions, time)]
    if settling and (told or row.missing != PRECIPITATION):
        return tuple(COLUMNS[other].missing or other for other in settling)
    if row.missing == PRECIPITATION:
        central = bool(conditions.unknown(name)[0, time])
        if central and told and name in _FREEZING:
            return (FREEZING_SENSOR,)
        if central and told and name in _SIGHT:
            return ("visibility_m" if _unsettled("visibility_m", conditions, time) else OBSCURATION,)
        return (PRECIPITATION,) if central or not told else (FORECAST,)
    return (row.missing or name,)


def _unsettled(name: str, conditions: Conditions, time: int) -> bool:
    """Whether what settles an input is not known itself: a number in any case, a flag in the central one."""
    if COLUMNS[name].kind == NUMBER:
        return name in conditions.columns and bool(conditions.unknown(name)[:, time].any())
    return _untold(name, conditions, time)


def _untold(name: str, conditions: Conditions, time: int) -> bool:
    """Whether the central case does not know an input that is there at all."""
    return name in conditions.columns and bool(conditions.unknown(name)[0, time])


def _falls(conditions: Conditions, time: int) -> tuple[str, ...]:
    unknown = [conditions.unknown(name) for name in _FALLS if name in conditions.columns]
    if not any(bool(table[:, time].any()) for table in unknown):
        return ()
    return (PRECIPITATION,) if bool(unknown[0][0, time]) else (FORECAST,)

"""What falls as treatment tables name it: a category for planning, from the codes and what else is known."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import NO, UNKNOWN, Codes
from advisor.physics.precipitation import FROZEN_BELOW_C, WeatherCode, flags, read_code
from advisor.physics.ranges import within
from advisor.quantities import COLUMNS, TREATMENT_CATEGORIES

_AT = {name: place for place, name in enumerate(TREATMENT_CATEGORIES)}
# classes that only visibility or temperature can settle, beyond the categories themselves
SNOW_CLASS, LIGHT_RAIN_CLASS, RAIN_CLASS, FOG_CLASS, UNKNOWN_KIND_CLASS = range(20, 25)  # not a coefficient
# what a report calls 0 °C may be as cold as this
WHOLE_DEGREE_C = -0.5
# nobody said what falls, if anything: not the same as something of unknown kind, which has no holdover time
NOT_TOLD_CLASS = COLUMNS["treatment_classes"].not_told


@lru_cache(maxsize=16384)
def treatment_class(codes: tuple[str, ...], *, missing: bool = False, us: bool = False) -> int:
    """What the codes alone say for treatment: a category, or a class that treatment_category settles.

    Hail outranks all; then more than one frozen or freezing kind, or rain with one, is mixed, but for light snow with
    light rain or drizzle, which is planned as light freezing rain. Diamond dust is very light snow.

    Parameters
    ----------
    codes
        As written.
    missing
        As for flags.
    us
        By the rules of the United States, where GS is snow pellets.

    Returns
    -------
    int
        An index into TREATMENT_CATEGORIES, or one of the classes above them.

    References
    ----------
    common-practice: light snow with light rain from memory
    tc-tp-10643-2003: small hail as ice pellets
    """
    kinds: set[str] = set()
    for weather in map(read_code, codes):
        if weather.recent:
            continue
        kinds |= _treatment_kinds(weather, us)
    code_flags = flags(codes, missing=missing)
    if "hail" in kinds:
        return _AT["hail"]
    if "freezing unknown" in kinds or "unknown" in kinds or missing or any(not read_code(c).readable for c in codes):
        sure = kinds - {"unknown", "fog", "freezing fog", "light rain", "rain"}
        return _AT["unknown"] if sure else UNKNOWN_KIND_CLASS
    wet = kinds & {"rain", "light rain"}
    frozen = kinds - wet - {"fog", "freezing fog"}
    if frozen == {"snow"} and wet == {"light rain"} and _all_light(codes):
        return _AT["light freezing rain"]
    if len(frozen) > 1 or (frozen and wet):
        return _AT["mixed"]
    if frozen:
        kind = frozen.pop()
        return SNOW_CLASS if kind == "snow" else _AT[kind]
    if code_flags["snow"] == UNKNOWN:
        return UNKNOWN_KIND_CLASS
    if wet:
        return RAIN_CLASS if "rain" in wet else LIGHT_RAIN_CLASS
    if "freezing fog" in kinds:
        return _AT["freezing fog"]
    return FOG_CLASS if "fog" in kinds else _AT["none"]


def _all_light(codes: tuple[str, ...]) -> bool:
    """Whether everything that falls is coded light; drizzle is light rain at any sign."""
    falling = [weather for weather in map(read_code, codes) if not weather.recent and weather.falling]
    return all(weather.sign == "-" or set(weather.falling) == {"DZ"} for weather in falling)


def _treatment_kinds(weather: WeatherCode, us: bool) -> set[str]:
    freezing = "FZ" in weather.descriptors
    light = weather.sign == "-"
    kinds = set()
    for what in weather.falling:
        if what == "GR":
            kinds.add("hail")
        elif what in ("PL", "PE") or (what == "GS" and not us):
            kinds.add("ice pellets")
        elif what in ("GS", "SG"):
            kinds.add("snow pellets or grains")
        elif what == "SN":
            kinds.add("snow")
        elif what == "IC":
            kinds.add("very light snow")
        elif what == "UP":
            kinds.add("freezing unknown" if freezing else "unknown")
        elif freezing:
            drizzle = "light freezing rain" if weather.sign == "+" else "freezing drizzle"
            kinds.add(drizzle if what == "DZ" else "light freezing rain" if light else "heavier freezing rain")
        else:
            kinds.add("light rain" if light or what == "DZ" else "rain")
    if not weather.phenomena and "SH" in weather.descriptors and not weather.vicinity:
        kinds.add("unknown")
    if "FG" in weather.phenomena and not weather.vicinity:
        kinds.add("freezing fog" if freezing else "fog")
    return kinds


def treatment_category(
    classes: ArrayLike,
    snow_intensity: ArrayLike,
    air_temperature_c: ArrayLike,
    cold_soaked: ArrayLike = NO,
    *,
    reported_air_c: ArrayLike | None = None,
) -> Codes:
    """Category for treatment planning, from the classes of the codes and what else is known.

    Rain at or below 0 °C counts as freezing rain whatever its code, fog as freezing fog; unknown kinds above 8 °C count
    as rain. Snow of unknown intensity is "unknown". Scalars or arrays that broadcast.

    Parameters
    ----------
    classes
        Of treatment_class.
    snow_intensity
        0 to 4.
    air_temperature_c
        °C, -90 to 60, NaN taken as at freezing.
    cold_soaked
        1 where the wing over the tanks is below 0 °C, -1 not known, taken as 1.
    reported_air_c
        The air as reported and carried on, where that of a case is only its doubt: rain that nobody calls freezing, in
        air reported at 0 °C or above (so from -0.5, reports are whole degrees), is light freezing rain at most, and no
        stop by itself.

    Returns
    -------
    Codes
        int8 indices into TREATMENT_CATEGORIES.

    References
    ----------
    common-practice
    """
    air = within(air_temperature_c, -90.0, 60.0)
    kind, snow, air, soaked = np.broadcast_arrays(
        np.asarray(classes, dtype=np.int64), np.asarray(snow_intensity, dtype=np.int64), air, np.asarray(cold_soaked)
    )
    cold = ~(air > 0.0)
    by_intensity = np.array(
        [_AT["unknown"]] + [_AT[f"{word} snow"] for word in ("very light", "light", "moderate", "heavy")]
    )
    on_tank = np.where(soaked != NO, _AT["rain on a cold-soaked wing"], _AT["none"])
    result = np.where(kind < SNOW_CLASS, kind, _AT["none"])
    result = np.where(kind == SNOW_CLASS, by_intensity[np.clip(snow, 0, 4)], result)
    result = np.where(kind == LIGHT_RAIN_CLASS, np.where(cold, _AT["light freezing rain"], on_tank), result)
    heavier: NDArray[np.intp] | int = _AT["heavier freezing rain"]
    if reported_air_c is not None:
        heavier = np.where(within(reported_air_c, -90.0, 60.0) >= WHOLE_DEGREE_C, _AT["light freezing rain"], heavier)
    result = np.where(kind == RAIN_CLASS, np.where(cold, heavier, on_tank), result)
    result = np.where((kind == FOG_CLASS) & cold, _AT["freezing fog"], result)
    result = np.where(kind == UNKNOWN_KIND_CLASS, np.where(air > FROZEN_BELOW_C, on_tank, _AT["unknown"]), result)
    return result.astype(np.int8)[()]


def class_set(classes: ArrayLike) -> NDArray[np.int64]:
    """Classes as sets of one, a bit each, to be joined by "or": so a mild kind never hides a graver or an unknown one.

    Parameters
    ----------
    classes
        Of treatment_class.

    Returns
    -------
    NDArray[np.int64]
        Same shape.

    References
    ----------
    common-practice
    """
    return np.left_shift(np.int64(1), np.asarray(classes, dtype=np.int64))


# from the least to the gravest; what nobody told is graver than anything that has a holdover time
_NOT_TOLD = ""
_GRAVITY = (
    "none",
    "freezing fog",
    "very light snow",
    "light snow",
    "snow pellets or grains",
    "moderate snow",
    "rain on a cold-soaked wing",
    "freezing drizzle",
    "light freezing rain",
    "ice pellets",
    _NOT_TOLD,
    "unknown",
    "mixed",
    "heavy snow",
    "heavier freezing rain",
    "hail",
)
_RANK = np.array([_GRAVITY.index(name) for name in TREATMENT_CATEGORIES], dtype=np.int8)
_OF_RANK = np.array(
    [UNKNOWN if name == _NOT_TOLD else TREATMENT_CATEGORIES.index(name) for name in _GRAVITY], dtype=np.int8
)


def gravest_category(
    sets: ArrayLike,
    snow_intensity: ArrayLike,
    air_temperature_c: ArrayLike,
    cold_soaked: ArrayLike = NO,
    *,
    reported_air_c: ArrayLike,
) -> Codes:
    """The gravest category that any class of a set comes to; see treatment_category.

    Parameters
    ----------
    sets
        Of class_set.
    snow_intensity, air_temperature_c, cold_soaked, reported_air_c
        As for treatment_category, scalars or arrays that broadcast.

    Returns
    -------
    Codes
        int8 indices into TREATMENT_CATEGORIES; -1 where nobody told what falls in air of 8 °C or colder, and what was
        told would not decide: a known mild kind says nothing of what else there may be.

    References
    ----------
    common-practice
    """
    held, snow, air, soaked, reported = np.broadcast_arrays(
        np.asarray(sets, dtype=np.int64), snow_intensity, air_temperature_c, cold_soaked, reported_air_c
    )
    worst = np.zeros(held.shape, dtype=np.int8)
    present = int(np.bitwise_or.reduce(held, axis=None)) if held.size else 0
    for kind in range(present.bit_length()):
        if not present >> kind & 1:
            continue
        here = (held >> kind & 1).astype(bool)
        if kind == NOT_TOLD_CLASS:
            rank = np.where(air[here] > FROZEN_BELOW_C, 0, _GRAVITY.index(_NOT_TOLD))
        else:
            rank = _RANK[treatment_category(kind, snow[here], air[here], soaked[here], reported_air_c=reported[here])]
            if kind == SNOW_CLASS:
                # snow of which nobody tells how much is not snow without a holdover time
                rank = np.where(snow[here] == 0, _GRAVITY.index(_NOT_TOLD), rank)
        worst[here] = np.maximum(worst[here], rank)
    return _OF_RANK[worst]

"""What falls and what lies in the air, from the weather codes of a report: one three-valued flag a kind.

1 yes, 0 no, -1 not known. Codes that cannot be read, and weather that is missing, leave everything not known that no
other code says.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import NO, UNKNOWN, YES, Codes
from advisor.physics.flags import all_of, any_of, below, only_where
from advisor.physics.ranges import within
from advisor.physics.snow import HEAVY, LIGHT, MODERATE

FLAGS = (
    "snow",
    "rain",
    "drizzle",
    "freezing_precipitation",
    "freezing_rain",
    "freezing_drizzle",
    "ice_pellets",
    "hail",
    "unknown_precipitation",
    "precipitation_any",
    "frozen_precipitation",
    "thunderstorm",
    "blowing_snow",
    "fog",
    "mist",
    "freezing_fog",
    "dust_or_sand",
    "volcanic_ash",
    "squall",
    "funnel_cloud",
    "patchy_fog",
    "heavy_precipitation",
    "recent_freezing",
    "recent_frozen",
    "recent_precipitation",
    "recent_rain",
)

_DESCRIPTORS = ("MI", "PR", "BC", "DR", "BL", "SH", "TS", "FZ")
_FALLING = ("DZ", "RA", "SN", "SG", "IC", "PL", "PE", "GR", "GS", "UP")
_IN_THE_AIR = ("BR", "FG", "FU", "VA", "DU", "SA", "HZ", "PY", "PO", "SQ", "FC", "SS", "DS")
_CODE = re.compile(
    rf"(?P<recent>RE)?(?P<sign>[+-])?(?P<vicinity>VC)?(?P<descriptors>(?:{'|'.join(_DESCRIPTORS)})*)"
    rf"(?P<phenomena>(?:{'|'.join(_FALLING + _IN_THE_AIR)})*)"
)
# behind whole pairs of letters: SGSN holds no GS
_GS = re.compile(r"\b((?:RE)?[+-]?(?:[A-Z]{2})*?)GS")
# unknown in kind: any of these may be falling
_ANY_KIND = (
    "snow",
    "rain",
    "drizzle",
    "freezing_precipitation",
    "freezing_rain",
    "freezing_drizzle",
    "ice_pellets",
    "hail",
    "frozen_precipitation",
)
_FROZEN = ("SN", "SG", "IC", "PL", "PE", "GR", "GS")


@dataclass(frozen=True)
class WeatherCode:
    """One weather code taken apart. sign: "-", "+" or ""; vicinity: within 8 to 16 km; readable False for the rest."""

    text: str
    recent: bool = False
    sign: str = ""
    vicinity: bool = False
    descriptors: tuple[str, ...] = ()
    phenomena: tuple[str, ...] = ()
    readable: bool = True

    @property
    def falling(self) -> tuple[str, ...]:
        """What falls at the place: nothing that is only blown, drifting or in the vicinity."""
        if self.vicinity or "BL" in self.descriptors or "DR" in self.descriptors:
            return ()
        return tuple(p for p in self.phenomena if p in _FALLING)


@lru_cache(maxsize=4096)
def read_code(text: str) -> WeatherCode:
    """Take one weather code apart.

    Parameters
    ----------
    text
        As written, "-SHRA", "VCTS", "RERA", "//".

    Returns
    -------
    WeatherCode
        readable is False where the text is no code.

    References
    ----------
    wmo-306-table-4678
    """
    match = _CODE.fullmatch(text.strip().upper())
    if not match or not (match["descriptors"] or match["phenomena"]):
        return WeatherCode(text, readable=False)
    return WeatherCode(
        text=text,
        recent=bool(match["recent"]),
        sign=match["sign"] or "",
        vicinity=bool(match["vicinity"]),
        descriptors=tuple(re.findall("..", match["descriptors"])),
        phenomena=tuple(re.findall("..", match["phenomena"])),
    )


def flags(codes: tuple[str, ...], *, recent: tuple[str, ...] = (), missing: bool = False) -> dict[str, int]:
    """Flags of one report's weather codes, without a look at the temperature (see freezing_by_temperature).

    In the United States GS is snow pellets and all hail is GR; elsewhere it may be either: it counts as snow pellets
    here, and in_air says what it is by the air.

    Parameters
    ----------
    codes
        As written, body only; () with missing False means that no weather was seen.
    recent
        The RE groups, with or without RE.
    missing
        Coded //, or a sensor is out.

    Returns
    -------
    dict[str, int]
        Each of FLAGS as 1, 0 or -1.

    References
    ----------
    wmo-306-table-4678, fmh-1, faa-info-18011
    """
    return dict(zip(FLAGS, _flags(tuple(codes), tuple(recent), bool(missing)), strict=True))


@lru_cache(maxsize=16384)
def _flags(codes: tuple[str, ...], recent: tuple[str, ...], missing: bool) -> tuple[int, ...]:
    state = dict.fromkeys(FLAGS, NO)
    unknown = missing
    for code in codes:
        weather = read_code(code)
        if code.strip().upper() == "NSW":
            continue
        if not weather.readable:
            unknown = True
        elif weather.recent:
            recent = (*recent, code)
        else:
            _add(state, weather)
    _add_recent(state, recent)
    if unknown:
        for name in FLAGS:
            _raise(state, name, UNKNOWN)
    return tuple(state[name] for name in FLAGS)


def _raise(state: dict[str, int], name: str, value: int) -> None:
    """Yes outranks not known, which outranks no."""
    if value == YES or (value == UNKNOWN and state[name] == NO):
        state[name] = value


def _add(state: dict[str, int], weather: WeatherCode) -> None:
    for name, value in _said(weather):
        _raise(state, name, value)


def _said(weather: WeatherCode) -> list[tuple[str, int]]:
    has = set(weather.phenomena)
    described = set(weather.descriptors)
    named = [("thunderstorm", YES)] if "TS" in described else []
    # what is seen in the vicinity may arrive; fog there may not be here
    named += [("dust_or_sand", YES)] if has & {"DU", "SA", "PO", "SS", "DS"} else []
    named += [("volcanic_ash", YES)] if "VA" in has else []
    named += [("squall", YES)] if "SQ" in has else []
    named += [("funnel_cloud", YES)] if "FC" in has else []
    if "FG" in has:
        fog = UNKNOWN if weather.vicinity else YES
        named += [("fog", fog)] + ([("freezing_fog", fog)] if "FZ" in described else [])
        # shallow, in patches or over a part only: one can see over it or past it
        named += [("patchy_fog", YES)] if described & {"MI", "BC", "PR"} else []
    named += [("mist", YES)] if "BR" in has else []
    if "SN" in has and described & {"BL", "DR"}:
        named.append(("blowing_snow", YES))
        if "BL" in described:
            # lifted to eye level it may hide snow that falls
            named += [(name, UNKNOWN) for name in ("snow", "precipitation_any", "frozen_precipitation")]
    if weather.vicinity and ("SH" in described or has & set(_FALLING) - ({"SN"} if "BL" in described else set())):
        # showers a few miles away: whether and what falls here is not known
        named += [(name, UNKNOWN) for name in ("precipitation_any", "frozen_precipitation", "rain", "snow")]
    falling = set(weather.falling)
    if not falling and "SH" in described and not weather.vicinity:
        falling = {"UP"}
    return named + _falling(falling, freezing="FZ" in described, heavy=weather.sign == "+")


def _falling(falling: set[str], *, freezing: bool, heavy: bool) -> list[tuple[str, int]]:
    if not falling:
        return []
    named = [("precipitation_any", YES)] + ([("heavy_precipitation", YES)] if heavy else [])
    named += [("snow", YES)] if falling & {"SN", "SG", "GS"} else []
    named += [("ice_pellets", YES)] if falling & {"PL", "PE"} else []
    named += [("hail", YES)] if "GR" in falling else []
    named += [("frozen_precipitation", YES)] if falling & set(_FROZEN) else []
    for kind, name in (("RA", "freezing_rain"), ("DZ", "freezing_drizzle")):
        if kind in falling:
            named += [("rain", YES)] + ([("drizzle", YES)] if kind == "DZ" else [])
            if freezing:
                named += [(name, YES), ("freezing_precipitation", YES), ("frozen_precipitation", YES)]
    if "UP" in falling:
        named += [("unknown_precipitation", YES)] + [(name, UNKNOWN) for name in _ANY_KIND]
        if freezing:
            named += [("freezing_precipitation", YES), ("frozen_precipitation", YES)]
    return named


def _add_recent(state: dict[str, int], recent: tuple[str, ...]) -> None:
    """What falls now has also fallen within the hour; the RE groups add to it."""
    fallen = dict.fromkeys(FLAGS, NO)
    for code in recent:
        weather = read_code(code)
        if weather.readable:
            _add(fallen, weather)
        else:
            fallen = dict.fromkeys(FLAGS, UNKNOWN)
    for name, source in (
        ("recent_freezing", "freezing_precipitation"),
        ("recent_frozen", "frozen_precipitation"),
        ("recent_precipitation", "precipitation_any"),
        ("recent_rain", "rain"),
    ):
        _raise(state, name, fallen[source])
        _raise(state, name, state[source])


_NOT_IN_WARM_AIR = (
    "snow",
    "ice_pellets",
    "freezing_precipitation",
    "freezing_rain",
    "freezing_drizzle",
    "frozen_precipitation",
    "freezing_fog",
    "blowing_snow",
    "recent_freezing",
    "recent_frozen",
)
# above this, °C, nothing that fell as snow, pellets or freezing rain is met: of 375 reports of snow that were counted
# (world-wide, public) the warmest was at +5 °C; the rest is room to spare
FROZEN_BELOW_C = 8.0


def in_air(codes: tuple[str, ...], air_temperature_c: float) -> tuple[str, ...]:
    """Weather codes as they are meant in air of a temperature: GS in warm air is small hail.

    Parameters
    ----------
    codes
        As written.
    air_temperature_c
        Of the report, °C; NaN leaves the codes as they are.

    Returns
    -------
    tuple[str, ...]
        With GR for GS above 8 °C, where no snow pellets are met.

    References
    ----------
    wmo-306-table-4678: GS is small hail or snow pellets
    common-practice: which of them by the air
    """
    warm = air_temperature_c > FROZEN_BELOW_C
    return tuple(_GS.sub(r"\1GR", code) if warm and "GS" in code else code for code in codes)


def freezing_by_temperature(columns: dict[str, Codes], air_temperature_c: ArrayLike) -> dict[str, Codes]:
    """Flags again, with what the air temperature adds and what it rules out.

    At or below 0 °C rain and drizzle count as freezing and fog as freezing fog, whatever their code; with the
    temperature missing that is not known. Not-known snow, pellets and freezing precipitation become no above 8 °C.

    Parameters
    ----------
    columns
        int8 arrays by the names of FLAGS, those that are there.
    air_temperature_c
        °C, -90 to 60, broadcasting.

    Returns
    -------
    dict[str, Codes]
        New int8 arrays; columns stay as they were.

    References
    ----------
    fmh-1: freezing fog
    common-practice
    """
    air = within(air_temperature_c, -90.0, 60.0)
    cold = below(air, 0.0, included=True)
    warm = air > FROZEN_BELOW_C
    result = {name: np.asarray(values, dtype=np.int8) for name, values in columns.items()}
    for name, source in (
        ("freezing_precipitation", "rain"),
        ("frozen_precipitation", "rain"),
        ("freezing_drizzle", "drizzle"),
        ("recent_freezing", "recent_rain"),
        ("recent_frozen", "recent_rain"),
        ("freezing_fog", "fog"),
    ):
        if name in result and source in columns:
            result[name] = any_of(result[name], all_of(columns[source], cold))
    for name in _NOT_IN_WARM_AIR:
        if name in result:
            result[name] = only_where(result[name], ~(warm & (result[name] == UNKNOWN)))
    return result


def intensity_from_codes(codes: tuple[str, ...]) -> int:
    """Snow intensity by the codes' own sign, a second hint beside visibility: take the worse of the two.

    Parameters
    ----------
    codes
        As written.

    Returns
    -------
    int
        2 light, 3 moderate, 4 heavy, 0 where no snow is reported; the code has no very light.

    References
    ----------
    wmo-306-table-4678
    """
    signs = {"-": LIGHT, "": MODERATE, "+": HEAVY}
    seen = (read_code(code) for code in codes)
    return max((signs[w.sign] for w in seen if not w.recent and set(w.falling) & {"SN", "SG", "GS"}), default=0)


# mm/h low, central, high by sign; bounds of moderate rain 2.5 and 10 mm/h by WMO-No. 8, from memory; the rest assumed
RAIN_MM_H = {"-": (0.1, 1.0, 2.5), "": (2.5, 5.0, 10.0), "+": (10.0, 20.0, 50.0)}
_DRIZZLE_MM_H = {"-": (0.02, 0.05, 0.1), "": (0.1, 0.25, 0.5), "+": (0.5, 0.7, 1.0)}


def liquid_rate_mm_h(codes: tuple[str, ...], *, missing: bool = False) -> tuple[float, float, float]:
    """Rain and drizzle, freezing or not, as low, central and high rate.

    Parameters
    ----------
    codes
        As written.
    missing
        Coded //, or a sensor is out.

    Returns
    -------
    tuple[float, float, float]
        mm/h; zeros where nothing liquid is reported, NaN where it is not known whether it is.

    References
    ----------
    wmo-8-rain-intensity
    invented-default: drizzle and extremes
    """
    code_flags = flags(codes, missing=missing)
    best = (0.0, 0.0, 0.0)
    for weather in map(read_code, codes):
        if weather.recent:
            continue
        if "RA" in weather.falling:
            best = max(best, RAIN_MM_H[weather.sign])
        elif "DZ" in weather.falling:
            best = max(best, _DRIZZLE_MM_H[weather.sign])
    if best == (0.0, 0.0, 0.0) and code_flags["rain"] == UNKNOWN:
        return (np.nan, np.nan, np.nan)
    return best

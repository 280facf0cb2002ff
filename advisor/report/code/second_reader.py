"""python-metar as the second reader: what it makes of one group, held against the ledger.

How agreement is established, kind by kind. A group is handed to python-metar alone, in a report that holds nothing
else: so a fault in one group cannot lose another, T-group and body cannot overwrite each other, and a second visibility
cannot turn into a maximum. It is asked to be strict: what it does not take whole it refuses.

wind, gust, peak wind    direction exactly, speed and gust to 0.01 kt, "VRB" and "P" as marks
visibility, RVR          to 0.5 m, with "M", "P" and 9999 as marks; direction of the lowest visibility exactly
weather, recent weather  its five parts joined give back the code
cloud                    cover, base to 0.5 ft, type
temperature, T-group     to 0.05 °C
pressure                 to 0.1 hPa
P, 1, 2, 4, 4/, 6, 7, I, SLP   to the last digit
date                     day, hour and minute; its own guess of month and year by the clock is never used
wind shear               the runway

Coded missing ("////") is not asked: python-metar takes a missing visibility for 10,000 m. Nor is a wind without a
unit, which it takes for m/s. A wind marked E (estimated) and PE (ice pellets, old) are handed over without the mark and
as PL, since it cannot read them. Kinds that it has no reader for (runway state, sea state, colour, begin and end of
weather, snow increase, sensors) stand on the ledger alone.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import isnan
from typing import Any

from metar.Metar import Metar, ParserError

from advisor.report.code.entries import LedgerEntry

# what stands before a wind, before any other group of the body, and before a remark
_HEAD = "METAR ZZZZ 152359Z "
_BODY = f"{_HEAD}00000KT "
_REMARKS = f"{_BODY}RMK "


def _read(before: str, text: str) -> Metar | None:
    """Have python-metar read one group in a report that holds nothing else; None where it does not take all of it.

    before: what stands before the group, so that python-metar is at the place where such a group may come.
    """
    try:
        return Metar(before + text, month=1, year=2000)
    except ParserError:
        return None


def _near(value: float, quantity: Any, unit: str | None, tolerance: float) -> bool:
    if quantity is None:
        return isnan(value)
    other = float(quantity.value(unit) if unit else quantity.value())
    return abs(value - other) <= tolerance


def _mark(quantity: Any) -> str | None:
    """Tell "more than" or "less than", which python-metar gives away in words only."""
    said = quantity.string()
    return ">" if said.startswith("greater") else "<" if said.startswith("less") else None


def _wind(entry: LedgerEntry, text: str) -> bool:
    report = _read(_HEAD, text.removeprefix("E"))
    if report is None:
        return False
    numbers = entry.numbers
    more = any(q is not None and _mark(q) == ">" for q in (report.wind_speed, report.wind_gust))
    return (
        _near(numbers["direction_deg"], report.wind_dir, None, 0.01)
        and _near(numbers["kt"], report.wind_speed, "KT", 0.01)
        and _near(numbers["gust_kt"], report.wind_gust, "KT", 0.01)
        and more == ("at least" in entry.words)
    )


def _variation(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text)
    return (
        report is not None
        and _near(entry.numbers["from_deg"], report.wind_dir_from, None, 0.01)
        and _near(entry.numbers["to_deg"], report.wind_dir_to, None, 0.01)
    )


_MARK = {"exactly": None, "less than": "<", "at least": ">"}


def _visibility(entry: LedgerEntry, text: str) -> bool:
    joined = text.replace(" SM", "SM").replace(" KM", "KM")
    report = _read(_BODY, joined)
    if report is None or report.vis is None or not _near(entry.numbers["m"], report.vis, "M", 0.5):
        return False
    # Ten miles or kilometres are "or more" by the coding rules; python-metar keeps the bare number.
    marked = _mark(report.vis) or (">" if report.vis.value() == 10 else None)
    if _MARK[entry.words[0]] != marked and text != "CAVOK":
        return False
    towards = report.vis_dir.compass() if report.vis_dir is not None else ""
    return entry.kind != "minimum visibility" or bool(towards == entry.words[2])


def _rvr(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text)
    if report is None or not report.runway:
        return False
    name, low, high, _ = report.runway[0]
    numbers = entry.numbers
    return (
        name == entry.words[0] and _near(numbers["low_m"], low, "M", 0.5) and _near(numbers["high_m"], high, "M", 0.5)
    )


def _joined(parts: tuple[str | None, ...]) -> str:
    return "".join(part or "" for part in parts)


def _weather(entry: LedgerEntry, text: str) -> bool:
    text = text.replace("PE", "PL")
    report = _read(_BODY, text)
    return (
        report is not None and bool(report.weather) and _joined(report.weather[0]) == entry.words[0].replace("PE", "PL")
    )


def _recent(entry: LedgerEntry, text: str) -> bool:
    text = text.replace("PE", "PL")
    report = _read(_BODY, text)
    return (
        report is not None and bool(report.recent) and _joined(report.recent[0]) == entry.words[0].replace("PE", "PL")
    )


def _cloud(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text)
    if report is None or not report.sky:
        return False
    cover, height, kind = report.sky[0]
    if not _near(entry.numbers.get("base_ft", float("nan")), height, "FT", 0.5):
        return False
    if entry.kind == "sky":
        return bool(cover == entry.words[0].replace("SKC", "CLR"))
    return bool(cover == entry.words[0]) and (kind or "") == entry.words[1].replace("///", "")


def _temperature(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text)
    return report is not None and _pair(entry, report)


def _pair(entry: LedgerEntry, report: Any) -> bool:
    numbers = entry.numbers
    return _near(numbers["c"], report.temp, "C", 0.05) and _near(numbers["dew_c"], report.dewpt, "C", 0.05)


def _tenths(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text.removesuffix("////") if len(text) == 9 else text)
    return report is not None and _pair(entry, report)


def _pressure(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text)
    return report is not None and _near(entry.numbers["hpa"], report.press, "HPA", 0.1)


def _shear(entry: LedgerEntry, text: str) -> bool:
    report = _read(_BODY, text.replace("RWYS", "RWY").replace("RWY ", "RWY") if "ALL" not in text else "WS ALL RWY")
    return report is not None and report.windshear == [entry.words[0]]


def _sea_level(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    return report is not None and _near(entry.numbers["hpa"], report.press_sea_level, "HPA", 0.01)


def _hourly(entry: LedgerEntry, text: str) -> bool:
    if text.startswith("PCPN"):
        return True
    report = _read(_REMARKS, text)
    return report is not None and _near(entry.numbers["mm"] / 10, report.precip_1hr, "CM", 0.001)


def _longer(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    if report is None:
        return False
    amount = report.precip_24hr if text[0] == "7" else report.precip_6hr
    return _near(entry.numbers["mm"] / 10, amount, "CM", 0.001)


def _six_hours(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    if report is None:
        return False
    return _near(entry.numbers["c"], report.max_temp_6hr if text[0] == "1" else report.min_temp_6hr, "C", 0.01)


def _day(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    return (
        report is not None
        and _near(entry.numbers["high_c"], report.max_temp_24hr, "C", 0.01)
        and _near(entry.numbers["low_c"], report.min_temp_24hr, "C", 0.01)
    )


def _depth(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    return report is not None and _near(entry.numbers["cm"] / 100, report.snowdepth, "M", 0.001)


def _ice(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text)
    amount = None if report is None else getattr(report, f"ice_accretion_{int(entry.numbers['hours'])}hr")
    return amount is not None and _near(entry.numbers["mm"] / 10, amount, "CM", 0.001)


def _peak(entry: LedgerEntry, text: str) -> bool:
    report = _read(_REMARKS, text[:10] + text[10:].lstrip("P"))
    if report is None or report.peak_wind_time is None:
        return False
    numbers, time = entry.numbers, report.peak_wind_time
    return (
        _near(numbers["direction_deg"], report.wind_dir_peak, None, 0.01)
        and _near(numbers["kt"], report.wind_speed_peak, "KT", 0.01)
        and time.minute == numbers["minute"]
        and (isnan(numbers["hour"]) or time.hour == numbers["hour"])
    )


_ASK: dict[str, Callable[[LedgerEntry, str], bool]] = {
    "wind": _wind,
    "wind variation": _variation,
    "visibility": _visibility,
    "minimum visibility": _visibility,
    "CAVOK": _visibility,
    "runway visual range": _rvr,
    "weather": _weather,
    "recent weather": _recent,
    "cloud": _cloud,
    "vertical visibility": _cloud,
    "sky": _cloud,
    "temperature": _temperature,
    "temperature to tenths": _tenths,
    "pressure": _pressure,
    "wind shear": _shear,
    "sea-level pressure": _sea_level,
    "hourly precipitation": _hourly,
    "longer precipitation": _longer,
    "6-hour temperature": _six_hours,
    "24-hour temperature": _day,
    "snow depth": _depth,
    "ice accretion": _ice,
    "peak wind": _peak,
}
# by kind, then by text: what was answered before
_verdicts: dict[str, dict[str, bool]] = {kind: {} for kind in _ASK}
_MOST = 8192


def agrees(entry: LedgerEntry) -> bool:
    """Whether python-metar reads the same from this group; True for what it is not asked about.

    entry: a decoded one of the ledger. The answer depends on kind and text alone and is remembered.
    """
    known = _verdicts.get(entry.group.kind)
    if known is None:
        return True
    text = entry.group.text
    verdict = known.get(text)
    if verdict is None:
        verdict = _asked(entry, text.upper().removesuffix("$"))
        if len(known) >= _MOST:
            known.clear()
        known[text] = verdict
    return verdict


def _asked(entry: LedgerEntry, text: str) -> bool:
    numbers = entry.numbers.values()
    missing = (numbers and all(map(isnan, numbers))) or entry.words[:1] == ("//",)
    if missing and "variable" not in entry.words:
        return True
    return _ASK[entry.group.kind](entry, text)


@lru_cache(maxsize=31 * 24 * 60 * 2)
def day_and_time(text: str) -> tuple[int, int, int] | None:
    """Read a day-and-time group by python-metar: day, hour and minute; None where it cannot.

    In a month of 31 days, so that every day is one: which month and year it was is the reader's own business, and
    python-metar's guess by the clock is never used.
    """
    report = _read("METAR ZZZZ ", text)
    if report is None or report.time is None:
        return None
    return report.time.day, report.time.hour, report.time.minute

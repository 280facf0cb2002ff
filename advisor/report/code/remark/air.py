"""Remarks on temperature, pressure and wind.

Source: fmh-1 chapter 12; wind elsewhere by common practice.
"""

from __future__ import annotations

import re
from math import nan

from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry
from advisor.report.code.group.air import IMPLAUSIBLE, plausible
from advisor.report.code.group.wind import HIGHEST_WIND_KT
from advisor.report.code.groups import ROWS
from advisor.report.code.remark.making import NO_SUCH_TIME, clock, remark
from advisor.report.model import CONFLICT, DECODED, NOTED


def sea_level_pressure(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read SLP."""
    if "/" in m[1]:
        return remark(m, "sea-level pressure", NOTED, "sea-level pressure not reported")
    tenths = int(m[1])
    hpa = tenths / 10 + (1000 if tenths < 500 else 900)
    return remark(m, "sea-level pressure", DECODED, f"sea-level pressure {hpa:.1f} hPa", hpa=hpa)


def _tenths(text: str | None) -> float:
    if text is None or "/" in text:
        return nan
    value = int(text[1:]) / 10
    return -value if text[0] == "1" else value


def temperature(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read the T-group, tenths of a degree."""
    numbers = {"c": _tenths(m[1]), "dew_c": _tenths(m[2])}
    if not plausible(numbers["c"], numbers["dew_c"]):
        return remark(m, "temperature to tenths", CONFLICT, f"{IMPLAUSIBLE}, not used")
    meaning = f"temperature {w.signed(numbers['c'], 1)} °C to the tenth"
    if m[2] and "/" not in m[2]:
        meaning += f", dew point {w.signed(numbers['dew_c'], 1)} °C"
    else:
        meaning += ", dew point not reported"
    return remark(m, "temperature to tenths", DECODED, meaning, c=numbers["c"], dew_c=numbers["dew_c"])


def extreme_of_six_hours(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 1 or 2 and tenths of a degree."""
    what = "highest" if m[1] == "1" else "lowest"
    value = _tenths(m[2])
    return remark(
        m, "6-hour temperature", DECODED, f"{what} temperature of the last 6 hours {w.signed(value, 1)} °C", c=value
    )


def extremes_of_day(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 4 and two temperatures."""
    high, low = _tenths(m[1]), _tenths(m[2])
    said = f"last 24 hours: highest {w.signed(high, 1)} °C, lowest {w.signed(low, 1)} °C"
    return remark(m, "24-hour temperature", DECODED, said, high_c=high, low_c=low)


_TENDENCIES = (
    "risen then fallen",
    "risen, now more slowly",
    "risen",
    "risen, now faster",
    "steady",
    "fallen then risen",
    "fallen, now more slowly",
    "fallen",
    "fallen, now faster",
)


def tendency(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 5 and the change of pressure over three hours."""
    if "/" in m[1] + m[2]:
        return remark(m, "pressure tendency", NOTED, "pressure change of 3 hours not reported")
    said = f"pressure over 3 hours {_TENDENCIES[int(m[1])]}, by {int(m[2]) / 10:.1f} hPa"
    return remark(m, "pressure tendency", NOTED, said)


def altimeter(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read an altimeter setting behind RMK."""
    digits = m[1].replace(".", "")
    return remark(m, "pressure remark", NOTED, f"altimeter setting {int(digits) / 100:.2f} inHg")


def wind_on_runway(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read the wind of a runway, with a stroke."""
    inner = next((f for row in ROWS if row.kind == "wind" and (f := row.read(m[2], us))), None)
    said = inner.group.meaning if inner is not None else "wind not understood"
    return remark(
        m, "wind elsewhere", NOTED, f"at {'the reference point' if m[1] == 'ARP' else 'runway ' + m[1][1:]}: {said}"
    )


def peak_wind(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read PK WND."""
    when = clock(m[3], m[4])
    if when is None:
        return remark(m, "peak wind", CONFLICT, NO_SUCH_TIME)
    kt = float(m[2].lstrip("P"))
    if int(m[1]) > 360 or kt > HIGHEST_WIND_KT:
        return remark(m, "peak wind", CONFLICT, "a peak wind from above 360° or of more than 200 kt, not used")
    said = f"strongest wind since the last hourly report: from {m[1]}° true at {kt:.0f} kt, {when[0]}"
    return remark(m, "peak wind", DECODED, said, (), **when[1], direction_deg=float(m[1]), kt=kt)


def wind_shift(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read WSHFT."""
    when = clock(m[1], m[2])
    if when is None:
        return remark(m, "wind shift", CONFLICT, NO_SUCH_TIME)
    said = f"wind shifted {when[0]}" + (", a front passed" if m[3] else "")
    return remark(m, "wind shift", DECODED, said, (), **when[1])


def wind_elsewhere(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read the wind at another place or height."""
    wind = next((read for row in ROWS if row.kind == "wind" and (read := row.read(m[2], us))), None)
    where = m[1].replace("RWY", "runway ").replace("THR", "threshold ").replace("FT", " ft")
    said = f"at {' '.join(where.split())}: {wind.group.meaning if wind is not None else m[2]}"
    return remark(m, "wind elsewhere", NOTED, said)


def density_altitude(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read DENSITY ALT."""
    return remark(m, "density altitude", NOTED, f"density altitude {m[1].replace('-', '−')} ft")

"""Temperature, dew point and pressure.

Source: wmo-306-fm-15, fmh-1; QFE by common practice.
"""

from __future__ import annotations

import re
from math import isnan, nan

from advisor.quantities.units import HPA_PER_INHG
from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry, number
from advisor.report.model import CONFLICT, DECODED, NOTED

PLAUSIBLE_HPA = (850.0, 1090.0)
IMPLAUSIBLE = "temperature outside −90 to 60 °C or dew point outside −90 to 40 °C"


def plausible(temperature_c: float, dew_point_c: float) -> bool:
    """Whether both lie where air at the ground has been measured; NaN counts as plausible."""
    return not (temperature_c < -90 or temperature_c > 60 or dew_point_c < -90 or dew_point_c > 40)


def temperature(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read temperature and dew point."""
    numbers = {"c": number(m[1]), "dew_c": number(m[2])}
    phrases = [
        f"{name} {w.signed(value)} °C" if not isnan(value) else f"{name} not reported"
        for name, value in (("temperature", numbers["c"]), ("dew point", numbers["dew_c"]))
    ]
    too_far = not plausible(numbers["c"], numbers["dew_c"])
    if too_far or (isnan(numbers["c"]) and not isnan(numbers["dew_c"])):
        why = IMPLAUSIBLE if too_far else "a dew point needs a temperature"
        return entry(m[0], "temperature", CONFLICT, f"{', '.join(phrases)}: {why}, not used")
    text = ", ".join(phrases).replace(" −0 °C", " between −0.5 and 0 °C (M00)")
    return entry(m[0], "temperature", DECODED, text, numbers)


def pressure(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read QNH or the altimeter setting."""
    if "/" in m[2]:
        return entry(m[0], "pressure", DECODED, "pressure not reported", {"hpa": nan})
    value = float(m[2])
    hpa = value / 100 * HPA_PER_INHG if m[1] == "A" else value
    if not PLAUSIBLE_HPA[0] <= hpa <= PLAUSIBLE_HPA[1]:
        return entry(m[0], "pressure", CONFLICT, f"pressure of {hpa:.0f} hPa, outside 850 to 1090, not used")
    if m[1] == "A":
        numbers = {"hpa": hpa}
        meaning = f"altimeter setting {value / 100:.2f} inHg ({numbers['hpa']:.0f} hPa)"
        return entry(m[0], "pressure", DECODED, meaning, numbers)
    return entry(m[0], "pressure", DECODED, f"QNH {value:.0f} hPa", {"hpa": value})


def pressure_at_aerodrome(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read QFE: in mmHg below 800, else in hPa, with hPa behind a stroke."""
    value = float(m[1].replace("/", "."))
    unit = "mmHg" if value < 800 else "hPa"
    second = f" ({int(m[2])} hPa)" if m[2] else ""
    return entry(m[0], "pressure at aerodrome level", NOTED, f"pressure at aerodrome level {value:g} {unit}{second}")

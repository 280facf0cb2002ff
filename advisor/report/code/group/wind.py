"""Wind, its variation and wind shear.

Source: wmo-306-fm-15, fmh-1.
"""

from __future__ import annotations

import re
from math import isnan, nan

from advisor.report.code.entries import KT_PER, LedgerEntry, entry, number
from advisor.report.model import CONFLICT, DECODED

HIGHEST_WIND_KT = 200.0


def wind(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read mean wind and gust."""
    estimated, direction, speed, gust, unit = m.groups()
    text = m[0]
    per = KT_PER[unit]
    kt, gust_kt = number(speed) * per, number(gust) * per
    numbers = {"direction_deg": number(direction) if direction != "VRB" else nan, "kt": kt, "gust_kt": gust_kt}
    marks = tuple(
        mark
        for mark, holds in (
            ("variable", direction == "VRB"),
            ("at least", speed[0] == "P" or bool(gust and gust[0] == "P")),
            ("gust missing", bool(gust) and isnan(gust_kt)),
            ("estimated", bool(estimated)),
        )
        if holds
    )
    if max(number for number in (kt, gust_kt, 0.0) if number == number) > HIGHEST_WIND_KT:
        return entry(text, "wind", CONFLICT, "wind of more than 200 kt, not used")
    if isnan(kt) and direction == "///":
        return entry(text, "wind", DECODED, "wind not reported", numbers, marks)
    if kt == 0 and direction == "000" and not gust:
        return entry(text, "wind", DECODED, "wind calm" + (", estimated" if estimated else ""), numbers, marks)
    shown = {"KT": "kt", "KTS": "kt", "MPS": "m/s", "KMH": "km/h"}[unit]

    def said(value: str, in_kt: float) -> str:
        if isnan(in_kt):
            return "unknown speed"
        more = "at least " if value[0] == "P" else ""
        plain = f"{more}{int(value.lstrip('P'))} {shown}"
        return plain if shown == "kt" else f"{plain} ({in_kt:.0f} kt)"

    known = {"VRB": "of variable direction", "///": "from an unknown direction"}
    where = known.get(direction, f"from {direction}° true")
    meaning = f"wind {where} at {said(speed, kt)}"
    if gust:
        meaning += f", gusting to {said(gust, gust_kt)}"
    return entry(text, "wind", DECODED, meaning + (", estimated" if estimated else ""), numbers, marks)


def wind_without_unit(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a wind without its unit, which is no wind."""
    return entry(m[0], "wind", CONFLICT, "wind without a unit: knots or m/s cannot be told, so it is not used")


def variation(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read between which directions the wind varies."""
    numbers = {"from_deg": number(m[1]), "to_deg": number(m[2])}
    if numbers["from_deg"] > 360 or numbers["to_deg"] > 360:
        return entry(m[0], "wind variation", CONFLICT, "wind from a direction above 360°, not used")
    if m[1] == "///":
        return entry(m[0], "wind variation", DECODED, "variation of wind direction not reported", numbers)
    return entry(m[0], "wind variation", DECODED, f"wind direction varies from {m[1]}° to {m[2]}°", numbers)


def shear(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read wind shear, on one runway or all."""
    where = "all runways" if m[1] is None else f"runway {m[1]}"
    return entry(m[0], "wind shear", DECODED, f"wind shear on take-off or approach, {where}", None, (m[1] or "ALL",))

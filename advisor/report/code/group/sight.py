"""How far one sees: visibility, CAVOK and runway visual range.

Source: wmo-306-fm-15, fmh-1.
"""

from __future__ import annotations

import re
from math import isnan, nan

from advisor.quantities.units import M_PER_FT, M_PER_MILE
from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry, fraction
from advisor.report.model import CONFLICT, DECODED

FARTHEST_SEEN_M = 200_000.0
NO_FRACTION = "a fraction over zero, not used"


def metres(value: float) -> str:
    """Say a visibility in metres or kilometres."""
    return f"{value / 1000:g} km" if value >= 5000 else f"{value:.0f} m"


def in_metres(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a visibility in metres, prevailing or lowest."""
    prefix, digits, suffix = m.groups()
    text = m[0]
    if digits == "////":
        return entry(text, "visibility", DECODED, "visibility not reported", {"m": nan}, ("exactly", ""))
    value = float(digits)
    extra = ", variation with direction cannot be reported" if suffix == "NDV" else ""
    how, shown = "exactly", metres(value)
    if value == 9999:
        value, how, shown = 10_000.0, "at least", "10 km or more"
    elif prefix == "P" and value % (50 if value < 800 else 100 if value < 5000 else 1000):
        # the code has no P before metres; where it stands all the same, a value that is no step of it is no visibility
        return entry(text, "visibility", CONFLICT, "more than a visibility that no station reports, not used")
    elif prefix:
        how, shown = ("less than", f"less than {shown}") if prefix == "M" else ("at least", f"more than {shown}")
    elif value == 0:
        shown = "less than 50 m"
    if suffix and suffix != "NDV":
        meaning = f"lowest visibility {shown}, to the {w.compass(suffix)}"
        return entry(text, "minimum visibility", DECODED, meaning, {"m": value}, (how, shown, suffix))
    return entry(text, "visibility", DECODED, f"visibility {shown}{extra}", {"m": value}, (how, shown))


def in_miles_or_km(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a visibility in statute miles or kilometres."""
    prefix, digits, unit = m.groups()
    text = m[0]
    if "//" in digits:
        return entry(text, "visibility", DECODED, "visibility not reported", {"m": nan}, ("exactly", ""))
    amount = fraction(digits)
    if isnan(amount):
        return entry(text, "visibility", CONFLICT, f"visibility of {NO_FRACTION}")
    value = amount * (M_PER_MILE if unit == "SM" else 1000.0)
    if value > FARTHEST_SEEN_M:
        return entry(text, "visibility", CONFLICT, "visibility of more than 200 km, not used")
    plain = f"{digits} {unit if unit == 'SM' else 'km'}"
    words = "statute miles" if unit == "SM" and amount > 1 else "statute mile" if unit == "SM" else "km"
    how, shown, in_words = "exactly", plain, f"{digits} {words}"
    if prefix == "M":
        how, shown, in_words = "less than", f"less than {plain}", f"less than {in_words}"
    elif prefix == "P":
        how, shown, in_words = "at least", f"more than {plain}", f"more than {in_words}"
    elif amount == 10:
        how, shown, in_words = "at least", f"{plain} or more", f"{in_words} or more"
    return entry(text, "visibility", DECODED, f"visibility {in_words}", {"m": value}, (how, shown))


def cavok(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read CAVOK."""
    return entry(m[0], "CAVOK", DECODED, w.SKY["CAVOK"], {"m": 10_000.0}, ("at least", "10 km or more"))


def runway_visual_range(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read the visual range of one runway."""
    runway, low, high, feet, tendency = m.groups()
    name = f"runway visual range on runway {runway}"
    if "//" in low:
        return entry(m[0], "runway visual range", DECODED, f"{name} not reported", {"low_m": nan, "high_m": nan})
    per = M_PER_FT if feet else 1.0
    numbers = {"low_m": float(low.lstrip("PM")) * per, "high_m": float((high or low).lstrip("PM")) * per}

    def said(text: str) -> str:
        more = {"P": "more than ", "M": "less than "}.get(text[0], "")
        return f"{more}{int(text.lstrip('PM'))} {'ft' if feet else 'm'}"

    meaning = f"{name} {said(low)}" + (f" varying to {said(high)}" if high else "")
    if tendency:
        meaning += f", {w.TENDENCY[tendency]}"
    return entry(m[0], "runway visual range", DECODED, meaning, numbers, (runway,))

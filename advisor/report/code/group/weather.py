"""Weather and cloud: present, recent, layers, hidden sky, none seen.

Source: wmo-306-fm-15, fmh-1; cloud in words by common practice.
"""

from __future__ import annotations

import re
from math import isnan, nan

from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry, number
from advisor.report.model import DECODED, NOTED


def weather(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read present weather."""
    return entry(m[0], "weather", DECODED, w.weather(m[0], us), None, (m[0],))


def recent(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read recent weather."""
    if m[1] == "//":
        return entry(m[0], "recent weather", DECODED, "recent weather cannot be told by the station", None, ("//",))
    return entry(m[0], "recent weather", DECODED, f"lately, not now: {w.unmeasured(m[1], us)}", None, (m[1],))


def cloud(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a layer of cloud."""
    cover, height, kind = m[1], m[2], m[3] or ""
    base = number(height) * 100
    if cover == "///" and isnan(base) and kind in ("", "///"):
        return entry(m[0], "cloud", DECODED, "cloud not reported", {"base_ft": nan}, ("///", ""))
    meaning = w.COVER[cover]
    if cover == "///" and isnan(base):
        meaning = "cloud of unknown amount and base"
    else:
        meaning += f", base {base:.0f} ft" if not isnan(base) else ", base unknown"
    if kind:
        meaning += f", {w.CLOUD_TYPES.get(kind) or w.GENERA.get(kind, kind)}"
    return entry(m[0], "cloud", DECODED, meaning, {"base_ft": base}, (cover, kind))


def vertical_visibility(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read how far one sees upwards where the sky is hidden."""
    height = number(m[1]) * 100
    meaning = "sky hidden, vertical visibility " + ("not reported" if isnan(height) else f"{height:.0f} ft")
    return entry(m[0], "vertical visibility", DECODED, meaning, {"base_ft": height}, ("VV", ""))


def sky(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a word for a sky without layers."""
    return entry(m[0], "sky", DECODED, w.SKY[m[0]], None, (m[0],))


def cloud_seen(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read cumulonimbus or towering cumulus named outside the cloud groups."""
    where = ", ".join(w.compass(part) for part in re.split(r"[/,]", m[2] or "") if part)
    meaning = w.SIGHTS[m[1]] + (f" to the {where}" if where else " seen")
    return entry(m[0], "cloud seen", NOTED, meaning, None, (m[1],))

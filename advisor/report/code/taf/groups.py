"""The groups of a TAF: what is special to forecasts, on the same table as reports, and their plain words.

`group` classifies one group by its text alone, and remembers. A forecast carries wind, visibility, weather and cloud;
what else the table knows (pressure, runway visual range, …) is noted.
Source: wmo-306-fm-51; turbulence and icing groups, QNH in inches and footers by common practice of military and
national forecasts.
"""

from __future__ import annotations

import re
from functools import lru_cache

from advisor.report.code.entries import LONGEST_TOKEN, LedgerEntry, changed, entry
from advisor.report.code.groups import body
from advisor.report.forecast import CLOUD, VISIBILITY, WEATHER, WIND
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group

ELEMENT_OF = {
    "wind": WIND,
    "visibility": VISIBILITY,
    "CAVOK": VISIBILITY,
    "weather": WEATHER,
    "cloud": CLOUD,
    "vertical visibility": CLOUD,
    "sky": CLOUD,
}
_MISSING = {"//": (WEATHER, "weather"), "/////": (WIND, "wind"), "///": (CLOUD, "cloud")}
_SHEAR = re.compile(r"WS(\d{3})/(\d{3}|VRB)(P?\d{2,3})(?:G(P?\d{2,3}))?(KT|MPS|KMH)", re.ASCII)
_LAYER = re.compile(r"([56])(\d)(\d{3})(\d)", re.ASCII)
_INCHES = re.compile(r"(?:QNH|A)(\d\d)(\d\d)(?:INS)", re.ASCII)
# 11/2SM is 1 1/2 SM without its blank: no coded visibility has a fraction above 1
_GLUED = re.compile(r"([1-9])([1357])/(2|4|8|16)SM", re.ASCII)
_TURBULENCE = (
    "none",
    "light",
    "moderate in clear air, occasional",
    "moderate in clear air, frequent",
    "moderate in cloud, occasional",
    "moderate in cloud, frequent",
    "severe in clear air, occasional",
    "severe in clear air, frequent",
    "severe in cloud, occasional",
    "severe in cloud, frequent",
)
_ICING = (
    "none or trace",
    "light",
    "light in cloud",
    "light in precipitation",
    "moderate",
    "moderate in cloud",
    "moderate in precipitation",
    "severe",
    "severe in cloud",
    "severe in precipitation",
)


def group(token: str, us: bool, part: str) -> LedgerEntry:
    """Classify one group of a forecast by its text alone.

    token: upper case; a visibility in two tokens is joined by one space. us: United States rules. part: goes into the
    group. Status is "decoded" only for wind, visibility, weather and cloud.
    """
    if len(token) > LONGEST_TOKEN:
        # not remembered, so that no text fills the memory
        return entry(token, "", NOT_DECODED, "not understood", part=part)
    return _group(token, us, part)


@lru_cache(maxsize=16384)
def _group(token: str, us: bool, part: str) -> LedgerEntry:
    if token in _MISSING:
        kind, name = _MISSING[token]
        return entry(token, kind, DECODED, f"{name} not forecast", {}, ("//",), part)
    special = _special(token, part)
    if special is not None:
        return special
    glued = _GLUED.fullmatch(token)
    if glued is not None:
        read = body(f"{glued[1]} {glued[2]}/{glued[3]}SM", us)
        old = read.group
        return LedgerEntry(Group(token, old.status, old.meaning, part, old.kind), read.numbers, read.words)
    read = body(token, us)
    if read.group.status == DECODED:
        if read.kind not in ELEMENT_OF:
            return changed(read, status=NOTED, part=part)
        if read.kind == "wind":
            read = _checked_wind(read)
    return changed(read, part=part)


def _checked_wind(wind: LedgerEntry) -> LedgerEntry:
    numbers = wind.numbers
    if numbers["direction_deg"] > 360:
        return changed(wind, status=CONFLICT, meaning="wind from a direction above 360°, not used")
    if numbers["gust_kt"] < numbers["kt"]:
        return changed(wind, status=CONFLICT, meaning=f"{wind.group.meaning}; the gust is below the mean wind")
    return wind


def _special(token: str, part: str) -> LedgerEntry | None:
    """Read what only forecasts have; None for anything else."""
    first = token[:1]
    if first == "W":
        match = _SHEAR.fullmatch(token)
        if match is not None:
            height, direction, speed, gust, unit = match.groups()
            meaning = f"wind shear below {int(height) * 100} ft, where the wind is " + (
                "variable" if direction == "VRB" else f"from {direction}°"
            )
            meaning += f" at {speed} {unit}" + (f", gusting to {gust}" if gust else "")
            return entry(token, "wind shear", NOTED, meaning, None, (), part)
        if token == "WSCONDS":
            return entry(token, "wind shear", NOTED, "conditions for wind shear", None, (), part)
    elif first in ("5", "6"):
        match = _LAYER.fullmatch(token)
        if match is not None:
            what, code, base, thick = match.groups()
            name, table = ("turbulence", _TURBULENCE) if what == "5" else ("icing", _ICING)
            depth = f"{int(thick) * 1000} ft thick" if thick != "0" else "up to the cloud tops"
            meaning = f"{name} aloft, {table[int(code)]}, from {int(base) * 100} ft, {depth}"
            return entry(token, name, NOTED, meaning, None, (), part)
    elif first in ("Q", "A"):
        match = _INCHES.fullmatch(token)
        if match is not None:
            meaning = f"lowest altimeter setting {match[1]}.{match[2]} inHg"
            return entry(token, "pressure", NOTED, meaning, None, (), part)
    return None


_EXTREME = re.compile(r"(TX|TN|T)([M-]?\d\d)/(\d\d)(\d\d)?Z?", re.ASCII)
_EXTREMES = re.compile(rf"(?:{_EXTREME.pattern})+", re.ASCII)
IMPLAUSIBLE_EXTREME = "outside −90 to 60 °C"


def extremes(token: str) -> list[tuple[str, float, int | None, int]]:
    """Read TX and TN groups, several of them in one token too: kind, °C, day (None where not given), hour."""
    if not _EXTREMES.fullmatch(token):
        return []
    read = []
    for kind, value, first, second in _EXTREME.findall(token):
        degrees = -float(value[1:]) if value[0] in "M-" else float(value)
        read.append((kind, degrees, int(first) if second else None, int(second or first)))
    return read

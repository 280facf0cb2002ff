"""The groups of a TAF: what is special to forecasts, on the same table as reports, and the elements gathered from them.

`group` classifies one group by its text alone and is cached. A forecast carries wind, visibility, weather and cloud;
what else the table knows (pressure, runway visual range, …) is noted. `Gathering` puts a stretch's groups together.
Source: wmo-306-fm-51; turbulence and icing groups, QNH in inches and footers by common practice of military and
national forecasts.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import isnan
from typing import Any

from advisor.report.entries import Entry, changed, entry
from advisor.report.forecast import CLOUD, VISIBILITY, WEATHER, WIND, Elements
from advisor.report.groups import body
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, CloudLayer, Group
from advisor.report.words import OTHER, PRECIPITATION, signed

ELEMENT_OF = {
    "wind": WIND, "visibility": VISIBILITY, "CAVOK": VISIBILITY, "weather": WEATHER, "cloud": CLOUD,
    "vertical visibility": CLOUD, "sky": CLOUD,
}  # fmt: skip
_MISSING = {"//": (WEATHER, "weather"), "/////": (WIND, "wind"), "///": (CLOUD, "cloud")}
_SHEAR = re.compile(r"WS(\d{3})/(\d{3}|VRB)(P?\d{2,3})(?:G(P?\d{2,3}))?(KT|MPS|KMH)", re.ASCII)
_LAYER = re.compile(r"([56])(\d)(\d{3})(\d)", re.ASCII)
_INCHES = re.compile(r"(?:QNH|A)(\d\d)(\d\d)(?:INS)", re.ASCII)
# 11/2SM is 1 1/2 SM without its blank: no coded visibility has a fraction above 1
_GLUED = re.compile(r"([1-9])([1357])/(2|4|8|16)SM", re.ASCII)
_CODES = frozenset((*PRECIPITATION, *OTHER, "TS", "SH", "FZ", "BL", "DR", "MI", "BC", "PR"))
_TURBULENCE = (
    "none", "light", "moderate in clear air, occasional", "moderate in clear air, frequent",
    "moderate in cloud, occasional", "moderate in cloud, frequent", "severe in clear air, occasional",
    "severe in clear air, frequent", "severe in cloud, occasional", "severe in cloud, frequent",
)  # fmt: skip
_ICING = (
    "none or trace", "light", "light in cloud", "light in precipitation", "moderate", "moderate in cloud",
    "moderate in precipitation", "severe", "severe in cloud", "severe in precipitation",
)  # fmt: skip


def looks_like_weather(token: str) -> bool:
    """Whether a token that was not decoded is made of weather letters, as in ?RA or -SNFOG."""
    letters = "".join(c for c in token if c.isalpha())
    return len(letters) % 2 == 0 and letters != "" and all(
        letters[at : at + 2] in _CODES for at in range(0, len(letters), 2)
    )  # fmt: skip


@lru_cache(maxsize=16384)
def group(token: str, us: bool, part: str) -> Entry:
    """Classify one group of a forecast by its text alone.

    token: upper case; a visibility in two tokens is joined by one space. us: United States rules. part: goes into the
    group. Status is "decoded" only for wind, visibility, weather and cloud.
    """
    if token in _MISSING:
        kind, name = _MISSING[token]
        return entry(token, kind, DECODED, f"{name} not forecast", {}, ("//",), part)
    found = _special(token, part)
    if found is not None:
        return found
    glued = _GLUED.fullmatch(token)
    if glued is not None:
        one = body(f"{glued[1]} {glued[2]}/{glued[3]}SM", us)
        old = one.group
        return Entry(Group(token, old.status, old.meaning, part, old.kind), one.numbers, one.words)
    one = body(token, us)
    if one.group.status == DECODED:
        if one.kind not in ELEMENT_OF:
            return changed(one, status=NOTED, part=part)
        if one.kind == "wind":
            one = _checked_wind(one)
    return changed(one, part=part)


def _checked_wind(one: Entry) -> Entry:
    numbers = one.numbers
    if numbers["direction_deg"] > 360:
        return changed(one, status=CONFLICT, meaning="wind from a direction above 360°, not used")
    if numbers["gust_kt"] < numbers["kt"]:
        return changed(one, status=CONFLICT, meaning=f"{one.group.meaning}; the gust is below the mean wind")
    return one


def _special(token: str, part: str) -> Entry | None:
    """Read what only forecasts have; None for anything else."""
    first = token[:1]
    if first == "W":
        match = _SHEAR.fullmatch(token)
        if match is not None:
            height, direction, speed, gust, unit = match.groups()
            said = f"wind shear below {int(height) * 100} ft, where the wind is " + (
                "variable" if direction == "VRB" else f"from {direction}°"
            )
            said += f" at {speed} {unit}" + (f", gusting {gust}" if gust else "")
            return entry(token, "wind shear", NOTED, said, None, (), part)
        if token == "WSCONDS":
            return entry(token, "wind shear", NOTED, "conditions for wind shear", None, (), part)
    elif first in ("5", "6"):
        match = _LAYER.fullmatch(token)
        if match is not None:
            what, code, base, thick = match.groups()
            name, table = ("turbulence", _TURBULENCE) if what == "5" else ("icing", _ICING)
            depth = f"through {int(thick) * 1000} ft" if thick != "0" else "up to the cloud tops"
            said = f"{name} aloft, {table[int(code)]}, from {int(base) * 100} ft {depth}"
            return entry(token, name, NOTED, said, None, (), part)
    elif first in ("Q", "A"):
        match = _INCHES.fullmatch(token)
        if match is not None:
            said = f"lowest altimeter setting {match[1]}.{match[2]} inHg"
            return entry(token, "pressure", NOTED, said, None, (), part)
    return None


class Gathering:
    """Gathers the elements of one stretch (base, FM or a change group) from its entries, in order."""

    __slots__ = ("cloud", "fields", "first", "mentioned", "unread", "weather")

    def __init__(self) -> None:
        self.fields: dict[str, Any] = {}
        self.mentioned: set[str] = set()
        self.weather: list[str] = []
        self.cloud: list[CloudLayer] = []
        self.unread: list[str] = []
        self.first: dict[str, Entry] = {}

    def take(self, one: Entry) -> Entry:
        """Take one entry. Returns it, or what became of it beside the others (said again, in conflict)."""
        status, kind = one.group.status, one.group.kind
        if status == NOTED:
            return one
        element = ELEMENT_OF.get(kind)
        if status != DECODED:
            self.unread.append(one.group.text)
            if element is None and looks_like_weather(one.group.text):
                element = WEATHER
            if element is not None:
                self._unknown(element)
            return one
        assert element is not None
        if one.words[:1] == ("//",):
            self._unknown(element)
            return one
        if kind in ("wind", "visibility"):
            before = self.first.get(kind)
            if before is not None:
                return self._again(one, before, element)
            self.first[kind] = one
        _TAKE[kind](self, one)
        self.mentioned.add(element)
        return one

    def _again(self, one: Entry, before: Entry, element: str) -> Entry:
        """Settle a second wind or visibility in one stretch."""
        text = one.group.text
        if before.words == one.words and before.numbers == one.numbers:
            return changed(one, status=NOTED, meaning=f"{one.group.meaning} (said again)")
        self._unknown(element)
        self.unread += [before.group.text, text]
        return changed(one, status=CONFLICT, meaning=f"{one.group.meaning}; said twice, differently")

    def _unknown(self, element: str) -> None:
        self.mentioned.add(element)
        if element == WEATHER:
            self.fields["weather_missing"] = True
        elif element == CLOUD:
            self.cloud.append(CloudLayer("///"))
        else:
            # a second reading of the same element must not fill it again
            self.first[element] = entry("", element, CONFLICT, "")
            for name in _NUMBERS[element]:
                self.fields.pop(name, None)

    def finish(self, whole: bool) -> Elements:
        """Make the elements. whole: base and FM say everything, so what they leave out is none (weather) or unknown."""
        fields = self.fields
        if self.cloud:
            fields["cloud"] = tuple(self.cloud)
            known = any(layer.cover != "///" or layer.type for layer in self.cloud)
            fields["sky"] = "layers" if known else fields.get("sky", "missing")
        if self.weather:
            fields["weather"] = tuple(self.weather)
        if whole:
            fields.setdefault("sky", "missing")
            self.mentioned.update((WIND, VISIBILITY, WEATHER, CLOUD))
        if self.unread:
            fields["unread"] = tuple(self.unread)
        return Elements(frozenset(self.mentioned), **fields)


_NUMBERS = {
    WIND: ("wind_direction_deg", "wind_variable", "wind_kt", "wind_is", "gust_kt"),
    VISIBILITY: ("visibility_m", "visibility_is", "visibility_text"),
}


def _wind(g: Gathering, one: Entry) -> None:
    n, fields = one.numbers, g.fields
    fields["wind_direction_deg"], fields["wind_kt"], fields["gust_kt"] = n["direction_deg"], n["kt"], n["gust_kt"]
    if one.words:
        if "variable" in one.words:
            fields["wind_variable"] = True
        if "at least" in one.words:
            fields["wind_is"] = "at least"


def _visibility(g: Gathering, one: Entry) -> None:
    fields, words = g.fields, one.words
    fields["visibility_m"], fields["visibility_is"], fields["visibility_text"] = one.numbers["m"], words[0], words[1]


def _cavok(g: Gathering, one: Entry) -> None:
    if VISIBILITY not in g.mentioned:
        _visibility(g, one)
    g.mentioned.update((WEATHER, CLOUD))
    g.fields["sky"] = "CAVOK"


def _weather(g: Gathering, one: Entry) -> None:
    if one.words[0] != "NSW":
        g.weather.append(one.words[0])


def _cloud(g: Gathering, one: Entry) -> None:
    base = one.numbers["base_ft"]
    g.cloud.append(CloudLayer(one.words[0], base, one.words[1]))
    if one.words[0] == "VV" and not isnan(base):
        g.fields["vertical_visibility_ft"] = base


def _sky(g: Gathering, one: Entry) -> None:
    g.fields["sky"] = one.words[0]


_TAKE: dict[str, Any] = {
    "wind": _wind, "visibility": _visibility, "CAVOK": _cavok, "weather": _weather, "cloud": _cloud,
    "vertical visibility": _cloud, "sky": _sky,
}  # fmt: skip

_EXTREME = re.compile(r"(TX|TN|T)(M?\d\d)/(\d\d)(\d\d)?Z?", re.ASCII)
_EXTREMES = re.compile(rf"(?:{_EXTREME.pattern})+", re.ASCII)
_EXTREME_NAMES = {"TX": "highest temperature", "TN": "lowest temperature", "T": "temperature"}


def extremes(token: str) -> list[tuple[str, float, int | None, int]]:
    """Read TX and TN groups, several of them in one token too: kind, °C, day (None where not given), hour."""
    if not _EXTREMES.fullmatch(token):
        return []
    found = []
    for kind, value, first, second in _EXTREME.findall(token):
        degrees = -float(value[1:]) if value[0] == "M" else float(value)
        found.append((kind, degrees, int(first) if second else None, int(second or first)))
    return found


def extreme_said(kind: str, value: float, day: int, hour: int) -> str:
    """Say a forecast temperature."""
    return f"{_EXTREME_NAMES[kind]} {signed(value)} °C, on day {day:02} at {hour:02}:00 UTC"


__all__ = ["NOT_DECODED", "Gathering", "extreme_said", "extremes", "group", "looks_like_weather"]

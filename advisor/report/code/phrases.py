"""The ledger's remarks of several tokens: peak wind, lightning and cloud in sight, a second visibility, and the like.

Source: fmh-1 chapter 12; the rest by common practice.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from math import isnan, nan
from typing import NamedTuple

from advisor.quantities.units import MM_PER_INCH
from advisor.report.code import words as w
from advisor.report.code.entries import Entry, entry, fraction
from advisor.report.code.groups import HIGHEST_WIND_KT, NO_FRACTION, ROWS
from advisor.report.model import CONFLICT, DECODED, NOTED

CM_PER_INCH = MM_PER_INCH / 10
LARGEST_HAIL_IN = 10.0
NO_SUCH_TIME = "no such time of day"
_FRACTION = re.compile(r"\d{1,2}/\d{1,2}", re.ASCII)
_WEATHER_ROW = next(row for row in ROWS if row.kind == "weather")
# Parts of the patterns.
_PLACE = r"(?: (?:DSNT|OHD|VC|AND|ALQDS|ARND|THRU|(?:[NSEW]{1,3}|OHD)(?:-(?:[NSEW]{1,3}|OHD))*(?=\s|$)))*"
_MOVE = r"(?: MOV (?:[NSEW]{1,3}(?:-[NSEW]{1,3})?|LTL|OHD|UNKNOWN)(?=\s|$)| STNRY)?"
_VALUE = r"M?(?:\d{1,2}(?: \d/\d{1,2})?|\d/\d{1,2})"
_END = r"(?=\s|$)"
_WHERE = r"RWY ?\d{1,2}[LRC]?|[NSEW]{1,3}"
_WIND = r"(?:\d{3}|VRB|///)(?:P?\d\d\d?|//)(?:GP?\d\d\d?)?(?:KT|MPS)"


def _place(text: str) -> str:
    said = {
        "DSNT": "distant",
        "OHD": "overhead",
        "VC": "in the vicinity",
        "AND": "and",
        "ALQDS": "in all quadrants",
        "ARND": "around",
        "THRU": "to",
    }
    words = " ".join(said.get(word) or w.compass(word) for word in text.split())
    return f", {words}" if words else ""


_LIGHTNING_TYPES = {
    "IC": "in cloud",
    "CC": "cloud to cloud",
    "CG": "cloud to ground",
    "CA": "cloud to air",
    "CW": "cloud to water",
}
_OFTEN = {"OCNL": "occasional ", "FRQ": "frequent ", "CONS": "continuous "}
_PHENOMENA = {
    "TS": "thunderstorm",
    "CBMAM": "cumulonimbus with mamma",
    "CB": "cumulonimbus",
    "TCU": "towering cumulus",
    "ACC": "altocumulus castellanus",
    "ACSL": "lenticular cloud (mountain wave)",
    "CCSL": "lenticular cloud (mountain wave)",
    "SCSL": "lenticular cloud (mountain wave)",
    "VIRGA": "virga (precipitation that does not reach the ground)",
    "HALO": "halo",
}
_MISSED = {
    "ICE": "icing sensor",
    "T": "temperature",
    "DP": "dew point",
    "CLD": "cloud",
    "WX": "weather",
    "PRES": "pressure",
    "VIS": "visibility",
    "WIND": "wind",
    "WND": "wind",
    "DENSITY ALT": "density altitude",
    "RVR": "runway visual range",
    "SKY": "sky",
}


def _where(text: str) -> str:
    """Say "RWY15" or "W"."""
    return f"on runway {text[3:].strip()}" if text.startswith("RWY") else f"to the {w.compass(text)}"


_Say = Callable[[re.Match[str], bool], Entry]


class Phrase(NamedTuple):
    """One line of the table: the pattern of a remark of several tokens, and how what matches becomes an entry."""

    regex: str
    say: _Say


def _remark(
    m: re.Match[str], kind: str, status: str, meaning: str, words: tuple[str, ...] = (), **numbers: float
) -> Entry:
    return entry(m[0], kind, status, meaning, numbers or None, words, "remarks")


def _clock(hour: str | None, minute: str) -> tuple[str, dict[str, float]] | None:
    """Say a time of day or a minute past the hour, with its numbers; None where there is no such time."""
    if int(minute) > 59 or (hour and int(hour) > 23):
        return None
    said = f"at {hour}:{minute} UTC" if hour else f"{minute} min past the hour"
    return said, {"hour": float(hour) if hour else nan, "minute": float(minute)}


def _peak_wind(m: re.Match[str], us: bool) -> Entry:
    when = _clock(m[3], m[4])
    if when is None:
        return _remark(m, "peak wind", CONFLICT, NO_SUCH_TIME)
    kt = float(m[2].lstrip("P"))
    if int(m[1]) > 360 or kt > HIGHEST_WIND_KT:
        return _remark(m, "peak wind", CONFLICT, "a peak wind from above 360° or of more than 200 kt, not used")
    said = f"strongest wind since the last hourly report: from {m[1]}° true at {kt:.0f} kt, {when[0]}"
    return _remark(m, "peak wind", DECODED, said, (), **when[1], direction_deg=float(m[1]), kt=kt)


def _wind_shift(m: re.Match[str], us: bool) -> Entry:
    when = _clock(m[1], m[2])
    if when is None:
        return _remark(m, "wind shift", CONFLICT, NO_SUCH_TIME)
    said = f"wind shifted {when[0]}" + (", a front passed" if m[3] else "")
    return _remark(m, "wind shift", DECODED, said, (), **when[1])


def _lightning(m: re.Match[str], us: bool) -> Entry:
    types = w.listed([_LIGHTNING_TYPES[m[2][i : i + 2]] for i in range(0, len(m[2]), 2)]) if m[2] else ""
    often = _OFTEN.get((m[1] or "").strip(), "")
    return _remark(m, "lightning", DECODED, f"{often}lightning {types}".rstrip() + _place(m[3]))


def _cloud_seen(m: re.Match[str], us: bool) -> Entry:
    said = (_PHENOMENA.get(m[1]) or w.weather(m[1], us)) + _place(m[2])
    moving = m[3].strip().removeprefix("MOV ")
    if moving:
        said += ", hardly moving" if moving in ("LTL", "STNRY") else f", moving {w.compass(moving).lower()}"
    return _remark(m, "cloud seen", DECODED, said, (m[1],))


def _snow_increasing(m: re.Match[str], us: bool) -> Entry:
    said = f"snow increasing rapidly: {m[1]} in in the last hour, {m[2]} in on the ground"
    hour_cm, depth_cm = (int(inches) * CM_PER_INCH for inches in m.groups())
    return _remark(m, "snow increasing", DECODED, said, hour_cm=hour_cm, depth_cm=depth_cm)


def _hourly_precipitation(m: re.Match[str], us: bool) -> Entry:
    mm = float(m[1])
    return _remark(m, "hourly precipitation", DECODED, f"precipitation of the last hour {mm:g} mm", mm=mm)


def _hail_size(m: re.Match[str], us: bool) -> Entry:
    inches = fraction(m[2])
    if not 0 < inches <= LARGEST_HAIL_IN:
        return _remark(m, "hail size", CONFLICT, "hailstones of a size that cannot be, not used")
    mm = inches * MM_PER_INCH
    return _remark(m, "hail size", DECODED, f"hailstones {'under' if m[1] else 'up to'} {mm:.0f} mm across", mm=mm)


def _snow_on_ground(m: re.Match[str], us: bool) -> Entry:
    said = f"snow on the ground {int(m[1])}, in a unit that is not known"
    return _remark(m, "snow on ground", NOTED, said, cm=float(m[1]))


def _missing(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "missing", NOTED, f"{_MISSED[m[1]]} missing", (m[1],))


def _elsewhere(say: Callable[[re.Match[str]], str]) -> _Say:
    """Say a visibility elsewhere; a fraction over zero is in conflict."""

    def visibility(m: re.Match[str], us: bool) -> Entry:
        if any(isnan(fraction(text)) for text in _FRACTION.findall(m[0])):
            return _remark(m, "visibility elsewhere", CONFLICT, f"visibility elsewhere of {NO_FRACTION}")
        return _remark(m, "visibility elsewhere", NOTED, say(m))

    return visibility


def _lowest_visibility(m: re.Match[str]) -> str:
    return f"lowest visibility {int(m[1])} m" if m[1] != "9999" else "lowest visibility 10 km or more"


def _cloud_base(m: re.Match[str], us: bool) -> Entry:
    low = int(m[1]) * 100
    if m[2]:
        said = f"cloud ceiling varies from {low} to {int(m[2]) * 100} ft"
    else:
        said = f"cloud ceiling {low} ft" + (f" {_where(m[3])}" if m[3] else "")
    return _remark(m, "cloud base", NOTED, said)


def _wind_elsewhere(m: re.Match[str], us: bool) -> Entry:
    wind = next((read for row in ROWS if row.kind == "wind" and (read := row.read(m[2], us))), None)
    where = m[1].replace("RWY", "runway ").replace("THR", "threshold ").replace("FT", " ft")
    said = f"at {' '.join(where.split())}: {wind.group.meaning if wind is not None else m[2]}"
    return _remark(m, "wind elsewhere", NOTED, said)


def _sensor_out(m: re.Match[str], us: bool) -> Entry:
    what = "cloud height" if m[1] == "CHINO" else "visibility"
    return _remark(m, "sensor out", NOTED, f"{what} {_where(m[2])} not available")


def _density_altitude(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "density altitude", NOTED, f"density altitude {m[1].replace('-', '−')} ft")


def _present_weather(m: re.Match[str], us: bool) -> Entry:
    said = w.weather(m[1], us) if _WEATHER_ROW.read(m[1], us) else m[1]
    return _remark(m, "weather remark", NOTED, f"also seen: {said}")


def _varying_cloud(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "cloud remark", NOTED, f"cloud varies between {m[1]} and {m[2]}")


def _trace_of_cloud(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "cloud remark", NOTED, f"{w.GENERA[m[1]]}, a trace")


def _always(kind: str, meaning: str) -> _Say:
    """Say the same whatever stands there."""

    def say(m: re.Match[str], us: bool) -> Entry:
        return _remark(m, kind, NOTED, meaning)

    return say


_second_visibility = _elsewhere(
    lambda m: f"visibility {'at the surface' if m[1] == 'SFC' else 'from the tower'} {m[2]} SM"
)
_obscured = _always("obscured", "mountains or obstacles hidden, at least partly")
_sea = _always("sea state", "state of sea and swell")
_pressure_estimated = _always("pressure remark", "pressure is estimated")
_wind_estimated = _always("wind remark", "wind is estimated")


_LIGHTNING = Phrase(rf"(OCNL |FRQ |CONS )?LTG((?:IC|CC|CG|CA|CW)*)({_PLACE}){_END}", _lightning)
_SIGHTS = "TS|CBMAM|CB|TCU|ACC|ACSL|CCSL|SCSL|VIRGA|VC[A-Z]{2,4}|HALO"
_CLOUDS = Phrase(rf"({_SIGHTS})({_PLACE})({_MOVE}){_END}", _cloud_seen)
_SECOND = Phrase(rf"(SFC|TWR) VIS ({_VALUE}){_END}", _second_visibility)
_RUNWAY_WIND = Phrase(rf"(RWY\d\d[LRC]?) ({_WIND}){_END}", _wind_elsewhere)
_VARIES = Phrase(rf"((?:FEW|SCT|BKN|OVC)(?:\d{{3}})?) V (FEW|SCT|BKN|OVC|CLR|SKC){_END}", _varying_cloud)
_MISSING = Phrase(rf"(ICE|WIND|WND|T|DP|CLD|PRES|VIS|WX|DENSITY ALT|RVR|SKY) MISG{_END}", _missing)

# First word → the remarks that it may begin; each pattern goes over the text from there on.
PHRASES: dict[str, tuple[Phrase, ...]] = {
    "PK": (Phrase(rf"PK WND (\d{{3}})(P?\d{{2,3}})/(\d\d)?(\d\d){_END}", _peak_wind),),
    "WSHFT": (Phrase(rf"WSHFT (\d\d)?(\d\d)( FROPA)?{_END}", _wind_shift),),
    "LTG": (_LIGHTNING,),
    "OCNL": (_LIGHTNING,),
    "FRQ": (_LIGHTNING,),
    "CONS": (_LIGHTNING,),
    "TS": (_CLOUDS,),
    "CB": (_CLOUDS,),
    "CBMAM": (_CLOUDS,),
    "TCU": (_CLOUDS,),
    "ACC": (_CLOUDS,),
    "ACSL": (_CLOUDS,),
    "CCSL": (_CLOUDS,),
    "SCSL": (_CLOUDS,),
    "VIRGA": (_CLOUDS,),
    "HALO": (_CLOUDS,),
    "VCSH": (_CLOUDS,),
    "VCTS": (_CLOUDS,),
    "VCFG": (_CLOUDS,),
    "VCBLSN": (_CLOUDS,),
    "VCHZ": (_CLOUDS,),
    "SNINCR": (Phrase(rf"SNINCR (\d{{1,2}})/(\d{{1,3}}){_END}", _snow_increasing),),
    "SOG": (Phrase(rf"SOG (\d{{2,3}}){_END}", _snow_on_ground),),
    "SFC": (_SECOND,),
    "TWR": (_SECOND,),
    "VIS": (
        Phrase(
            rf"VIS ({_VALUE})V({_VALUE}){_END}", _elsewhere(lambda m: f"visibility varies from {m[1]} to {m[2]} SM")
        ),
        Phrase(
            rf"VIS ([NSEW]{{1,3}}(?:-[NSEW]{{1,3}})?) ({_VALUE}){_END}",
            _elsewhere(lambda m: f"visibility to the {w.compass(m[1])} {m[2]} SM"),
        ),
        Phrase(rf"VIS MIN (\d{{4}}){_END}", _elsewhere(_lowest_visibility)),
        Phrase(rf"VIS MAR (\d{{1,2}}) KM{_END}", _elsewhere(lambda m: f"visibility over the sea {m[1]} km")),
        Phrase(rf"VIS ({_VALUE}) ({_WHERE}){_END}", _elsewhere(lambda m: f"visibility {m[1]} SM {_where(m[2])}")),
        _MISSING,
    ),
    "CIG": (Phrase(rf"CIG (\d{{3}})(?:V(\d{{3}})| (RWY ?\d\d[LRC]?|[NSEW]{{1,2}}))?{_END}", _cloud_base),),
    "WIND": (
        Phrase(rf"WIND ([A-Z]{{3,9}} ?\d\d[LRC]?|\d{{3,4}}FT|[A-Z]{{4,9}}) ?/?({_WIND}){_END}", _wind_elsewhere),
        Phrase(rf"WIND EST[A-Z]{{0,5}}{_END}", _wind_estimated),
        _MISSING,
    ),
    "CHINO": (Phrase(rf"(CHINO) ({_WHERE}){_END}", _sensor_out),),
    "VISNO": (Phrase(rf"(VISNO) ({_WHERE}){_END}", _sensor_out),),
    "WND": (Phrase(rf"WND DATA ESTMD{_END}", _wind_estimated), _MISSING),
    "ALSTG/SLP": (Phrase(rf"ALSTG/SLP ESTMD{_END}", _pressure_estimated),),
    "ALSTG": (Phrase(rf"ALSTG ESTMD{_END}", _pressure_estimated),),
    "DENSITY": (Phrase(rf"DENSITY ALT (-?\d{{1,5}})FT{_END}", _density_altitude), _MISSING),
    "PCPN": (Phrase(rf"PCPN (\d{{1,3}}\.\d)MM PAST HR{_END}", _hourly_precipitation),),
    "ICE": (_MISSING,),
    "T": (_MISSING,),
    "DP": (_MISSING,),
    "CLD": (_MISSING,),
    "WX": (_MISSING,),
    "PRES": (_MISSING,),
    "MT": (
        Phrase(rf"MT (?:PT )?OBSC{_END}", _obscured),
        Phrase(rf"MT OP{_END}", _always("mountains open", "mountains in sight")),
    ),
    "MTNS": (Phrase(rf"MTNS OBSC{_END}", _obscured),),
    "OBST": (Phrase(rf"OBST OBSC{_END}", _obscured),),
    "BIRD": (Phrase(rf"BIRD HAZARD(?: RWY ?\d\d(?:/\d\d)?)?{_END}", _always("birds", "birds are a hazard")),),
    "PRESENT": (Phrase(rf"PRESENT WX ([A-Z+-]{{2,8}}){_END}", _present_weather),),
    "QUK": (Phrase(rf"QUK [\d/]{_END}", _sea),),
    "QUL": (Phrase(rf"QUL [\d/](?: [NSEW]{{1,2}}(?=\s))?{_END}", _sea),),
    "GR": (Phrase(rf"GR (LESS THAN )?({_VALUE}){_END}", _hail_size),),
}
for _name in ("CI", "CC", "CS", "AC", "AS", "NS", "SC", "ST", "CU", "SF", "CF"):
    PHRASES[_name] = (Phrase(rf"({_name}) TR{_END}", _trace_of_cloud),)


@lru_cache(maxsize=256)
def _compiled(regex: str) -> re.Pattern[str]:
    return re.compile(regex, re.ASCII)


def _others(first: str) -> tuple[Phrase, ...]:
    if first.startswith("LTG"):
        return (_LIGHTNING,)
    return (_RUNWAY_WIND,) if first.startswith("RWY") else (_VARIES,)


def begins(tokens: Sequence[str], at: int) -> bool:
    """Whether a remark of several tokens may begin here."""
    first = tokens[at]
    return first in PHRASES or first[:3] in ("LTG", "RWY") or tokens[at + 1 : at + 2] == ["V"]


@lru_cache(maxsize=4096)
def phrase_at(text: str, us: bool) -> Entry | None:
    """Read the remark of several tokens that a text begins with; None where there is none. us: United States rules."""
    first = text.split(" ", 1)[0]
    for phrase in PHRASES.get(first, ()) or _others(first):
        match = _compiled(phrase.regex).match(text)
        if match is not None:
            return phrase.say(match, us)
    return None

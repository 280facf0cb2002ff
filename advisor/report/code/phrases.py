"""The ledger's remarks of several tokens: peak wind, lightning and cloud in sight, a second visibility, and the like.

Source: fmh-1 chapter 12; the rest by common practice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from math import isnan, nan

from advisor.report.code import words as w
from advisor.report.code.entries import Entry, entry, fraction
from advisor.report.code.groups import HIGHEST_WIND_KT, NO_FRACTION, ROWS
from advisor.report.model import CONFLICT, DECODED, NOTED

MM_PER_INCH = 25.4
LARGEST_HAIL_IN = 10.0
_FRACTION = re.compile(r"\d{1,2}/\d{1,2}", re.ASCII)
_WEATHER_ROW = next(row for row in ROWS if row.kind == "weather")
# Remarks of several tokens: first word → kind, status, pattern over the text from there on, meaning.
_PLACE = r"(?: (?:DSNT|OHD|VC|AND|ALQDS|ARND|THRU|(?:[NSEW]{1,3}|OHD)(?:-(?:[NSEW]{1,3}|OHD))*(?=\s|$)))*"
_MOVE = r"(?: MOV (?:[NSEW]{1,3}(?:-[NSEW]{1,3})?|LTL|OHD|UNKNOWN)(?=\s|$)| STNRY)?"
_VALUE = r"M?(?:\d{1,2}(?: \d/\d{1,2})?|\d/\d{1,2})"
_END = r"(?=\s|$)"
_WHERE = r"RWY ?\d{1,2}[LRC]?|[NSEW]{1,3}"
_WIND = r"(?:\d{3}|VRB|///)(?:P?\d\d\d?|//)(?:GP?\d\d\d?)?(?:KT|MPS)"
_LIGHTNING = ("lightning", DECODED, rf"(OCNL |FRQ |CONS )?LTG((?:IC|CC|CG|CA|CW)*)({_PLACE}){_END}")
_SIGHTS = "TS|CBMAM|CB|TCU|ACC|ACSL|CCSL|SCSL|VIRGA|VC[A-Z]{2,4}|HALO"
_CLOUDS = ("cloud seen", DECODED, rf"({_SIGHTS})({_PLACE})({_MOVE}){_END}")
_SECOND = ("visibility elsewhere", NOTED, rf"(SFC|TWR) VIS ({_VALUE}){_END}")
_RUNWAY_WIND = ("wind elsewhere", NOTED, rf"(RWY\d\d[LRC]?) ({_WIND}){_END}")
_VARIES = ("cloud remark", NOTED, rf"((?:FEW|SCT|BKN|OVC)(?:\d{{3}})?) V (FEW|SCT|BKN|OVC|CLR|SKC){_END}")
_MISSING = ("missing", NOTED, rf"(ICE|WIND|WND|T|DP|CLD|PRES|VIS|WX|DENSITY ALT|RVR|SKY) MISG{_END}")

PHRASES: dict[str, tuple[tuple[str, str, str], ...]] = {
    "PK": (("peak wind", DECODED, rf"PK WND (\d{{3}})(P?\d{{2,3}})/(\d\d)?(\d\d){_END}"),),
    "WSHFT": (("wind shift", DECODED, rf"WSHFT (\d\d)?(\d\d)( FROPA)?{_END}"),),
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
    "SNINCR": (("snow increasing", DECODED, rf"SNINCR (\d{{1,2}})/(\d{{1,3}}){_END}"),),
    "SOG": (("snow on ground", NOTED, rf"SOG (\d{{2,3}}){_END}"),),
    "SFC": (_SECOND,),
    "TWR": (_SECOND,),
    "VIS": (
        ("visibility elsewhere", NOTED, rf"VIS ({_VALUE})V({_VALUE}){_END}"),
        ("visibility elsewhere", NOTED, rf"VIS ([NSEW]{{1,3}}(?:-[NSEW]{{1,3}})?) ({_VALUE}){_END}"),
        ("visibility elsewhere", NOTED, rf"VIS MIN (\d{{4}}){_END}"),
        ("visibility elsewhere", NOTED, rf"VIS MAR (\d{{1,2}}) KM{_END}"),
        ("visibility elsewhere", NOTED, rf"VIS ({_VALUE}) ({_WHERE}){_END}"),
        _MISSING,
    ),
    "CIG": (("cloud base", NOTED, rf"CIG (\d{{3}})(?:V(\d{{3}})| (RWY ?\d\d[LRC]?|[NSEW]{{1,2}}))?{_END}"),),
    "WIND": (
        ("wind elsewhere", NOTED, rf"WIND ([A-Z]{{3,9}} ?\d\d[LRC]?|\d{{3,4}}FT|[A-Z]{{4,9}}) ?/?({_WIND}){_END}"),
        ("wind remark", NOTED, rf"WIND EST[A-Z]{{0,5}}{_END}"),
        _MISSING,
    ),
    "CHINO": (("sensor out", NOTED, rf"(CHINO) ({_WHERE}){_END}"),),
    "VISNO": (("sensor out", NOTED, rf"(VISNO) ({_WHERE}){_END}"),),
    "WND": (("wind remark", NOTED, rf"WND DATA ESTMD{_END}"), _MISSING),
    "ALSTG/SLP": (("pressure remark", NOTED, rf"ALSTG/SLP ESTMD{_END}"),),
    "ALSTG": (("pressure remark", NOTED, rf"ALSTG ESTMD{_END}"),),
    "DENSITY": (("density altitude", NOTED, rf"DENSITY ALT (-?\d{{1,5}})FT{_END}"), _MISSING),
    "PCPN": (("hourly precipitation", DECODED, rf"PCPN (\d{{1,3}}\.\d)MM PAST HR{_END}"),),
    "ICE": (_MISSING,),
    "T": (_MISSING,),
    "DP": (_MISSING,),
    "CLD": (_MISSING,),
    "WX": (_MISSING,),
    "PRES": (_MISSING,),
    "MT": (("obscured", NOTED, rf"MT (?:PT )?OBSC{_END}"), ("mountains open", NOTED, rf"MT OP{_END}")),
    "MTNS": (("obscured", NOTED, rf"MTNS OBSC{_END}"),),
    "OBST": (("obscured", NOTED, rf"OBST OBSC{_END}"),),
    "BIRD": (("birds", NOTED, rf"BIRD HAZARD(?: RWY ?\d\d(?:/\d\d)?)?{_END}"),),
    "PRESENT": (("weather remark", NOTED, rf"PRESENT WX ([A-Z+-]{{2,8}}){_END}"),),
    "QUK": (("sea state", NOTED, rf"QUK [\d/]{_END}"),),
    "QUL": (("sea state", NOTED, rf"QUL [\d/](?: [NSEW]{{1,2}}(?=\s))?{_END}"),),
    "GR": (("hail size", DECODED, rf"GR (LESS THAN )?({_VALUE}){_END}"),),
}
for _name in ("CI", "CC", "CS", "AC", "AS", "NS", "SC", "ST", "CU", "SF", "CF"):
    PHRASES[_name] = (("cloud remark", NOTED, rf"({_name}) TR{_END}"),)


@lru_cache(maxsize=256)
def _compiled(regex: str) -> re.Pattern[str]:
    return re.compile(regex, re.ASCII)


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


def _phrase(kind: str, status: str, m: re.Match[str], us: bool) -> Entry:
    """Say a remark of several tokens."""
    text, said = m[0], ""
    numbers: dict[str, float] = {}
    found: tuple[str, ...] = ()
    if kind in ("peak wind", "wind shift"):
        hour, minute = (m[3], m[4]) if kind == "peak wind" else (m[1], m[2])
        if int(minute) > 59 or (hour and int(hour) > 23):
            return entry(text, kind, CONFLICT, "no such time of day", None, (), "remarks")
        when = f"at {hour}:{minute} UTC" if hour else f"{minute} min past the hour"
        numbers = {"hour": float(hour) if hour else nan, "minute": float(minute)}
        if kind == "peak wind":
            if int(m[1]) > 360 or int(m[2].lstrip("P")) > HIGHEST_WIND_KT:
                said = "a peak wind from above 360° or of more than 200 kt, not used"
                return entry(text, kind, CONFLICT, said, None, (), "remarks")
            numbers |= {"direction_deg": float(m[1]), "kt": float(m[2].lstrip("P"))}
            said = f"strongest wind since the last hourly report: from {m[1]}° true at {numbers['kt']:.0f} kt, {when}"
        else:
            said = f"wind shifted {when}" + (", a front passed" if m[3] else "")
    elif kind == "lightning":
        types = w.listed([_LIGHTNING_TYPES[m[2][i : i + 2]] for i in range(0, len(m[2]), 2)]) if m[2] else ""
        said = " ".join(p for p in (f"{_OFTEN.get((m[1] or '').strip(), '')}lightning", types) if p) + _place(m[3])
    elif kind == "cloud seen":
        name = _PHENOMENA.get(m[1]) or w.weather(m[1], us)
        moving = m[3].strip().removeprefix("MOV ")
        said = name + _place(m[2])
        if moving:
            said += ", hardly moving" if moving in ("LTL", "STNRY") else f", moving {w.compass(moving).lower()}"
        found = (m[1],)
    elif kind == "snow increasing":
        numbers = {"hour_cm": int(m[1]) * 2.54, "depth_cm": int(m[2]) * 2.54}
        said = f"snow increasing rapidly: {m[1]} in in the last hour, {m[2]} in on the ground"
    elif kind == "hourly precipitation":
        numbers = {"mm": float(m[1])}
        said = f"precipitation of the last hour {float(m[1]):g} mm"
    elif kind == "hail size":
        inches = fraction(m[2])
        if not 0 < inches <= LARGEST_HAIL_IN:
            return entry(text, kind, CONFLICT, "hailstones of a size that cannot be, not used", None, (), "remarks")
        said = f"hailstones {'under ' if m[1] else 'up to '}{inches * MM_PER_INCH:.0f} mm across"
        numbers = {"mm": inches * MM_PER_INCH}
    elif kind == "snow on ground":
        numbers = {"cm": float(m[1])}
        said = f"snow on the ground {int(m[1])}, in a unit that is not known"
    elif kind == "missing":
        said = f"{_MISSED[m[1]]} missing"
        found = (m[1],)
    elif kind == "visibility elsewhere" and any(isnan(fraction(one)) for one in _FRACTION.findall(text)):
        status, said = CONFLICT, f"visibility elsewhere of {NO_FRACTION}"
    else:
        said = _noted_phrase(kind, m, us)
    return entry(text, kind, status, said, numbers or None, found, "remarks")


def _where(text: str) -> str:
    """Say "RWY15" or "W"."""
    return f"on runway {text[3:].strip()}" if text.startswith("RWY") else f"to the {w.compass(text)}"


def _noted_phrase(kind: str, m: re.Match[str], us: bool) -> str:
    text = m[0]
    if kind == "visibility elsewhere":
        if text.startswith(("SFC", "TWR")):
            return f"visibility {'at the surface' if m[1] == 'SFC' else 'from the tower'} {m[2]} SM"
        if text.startswith("VIS MIN"):
            return f"lowest visibility {int(m[1])} m" if m[1] != "9999" else "lowest visibility 10 km or more"
        if text.startswith("VIS MAR"):
            return f"visibility over the sea {m[1]} km"
        if m[1][0] in "NSEW":
            return f"visibility to the {w.compass(m[1])} {m[2]} SM"
        if not text.startswith(f"VIS {m[1]}V"):
            return f"visibility {m[1]} SM {_where(m[2])}"
        return f"visibility varies from {m[1]} to {m[2]} SM"
    if kind == "cloud base":
        if m[2]:
            return f"cloud ceiling varies from {int(m[1]) * 100} to {int(m[2]) * 100} ft"
        return f"cloud ceiling {int(m[1]) * 100} ft" + (f" {_where(m[3])}" if m[3] else "")
    if kind == "wind elsewhere":
        inner = next((f for row in ROWS if row.kind == "wind" and (f := row.read(m[2], us))), None)
        where = m[1].replace("RWY", "runway ").replace("THR", "threshold ").replace("FT", " ft")
        return f"at {' '.join(where.split())}: {inner.group.meaning if inner is not None else m[2]}"
    if kind == "sensor out":
        what = "cloud height" if m[1] == "CHINO" else "visibility"
        return f"{what} {_where(m[2])} not available"
    if kind == "density altitude":
        return f"density altitude {m[1].replace('-', '−')} ft"
    if kind == "weather remark":
        return f"also seen: {w.weather(m[1], us)}" if _WEATHER_ROW.read(m[1], us) else f"also seen: {m[1]}"
    if kind == "cloud remark":
        return f"{w.GENERA[m[1]]}, a trace" if text.endswith(" TR") else f"cloud varies between {m[1]} and {m[2]}"
    return {
        "wind remark": "wind is estimated",
        "pressure remark": "pressure is estimated",
        "obscured": "mountains or obstacles hidden, at least partly",
        "mountains open": "mountains in sight",
        "birds": "birds are a hazard",
        "sea state": "state of sea and swell",
    }[kind]


def _others(first: str) -> tuple[tuple[str, str, str], ...]:
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
    for kind, status, regex in PHRASES.get(first, ()) or _others(first):
        m = _compiled(regex).match(text)
        if m is not None:
            return _phrase(kind, status, m, us)
    return None

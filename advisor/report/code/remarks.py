"""The ledger behind RMK: automatic, coded and plain-language remarks in plain words.

`single` classifies a remark of one token and is cached; `remark_at` takes as many tokens as belong together. Facts for
`Remarks` travel in an entry's numbers and words. Words of free text that no row knows stay "not decoded", verbatim.
Source: fmh-1 chapter 12; Canadian, Italian, Mexican, Russian and South American remarks by common practice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from advisor.report.code import words as w
from advisor.report.code.entries import LONGEST_TOKEN, GroupRow, LedgerEntry, changed, entry
from advisor.report.code.groups import ROWS
from advisor.report.code.remark import air, sight, station, weather
from advisor.report.code.remark.making import Say, where
from advisor.report.model import NOT_DECODED, NOTED

_CHANGES = re.compile(r"(?:[BE](?:MM|(?:\d\d){1,2}(?!\d)))+", re.ASCII)
_GENUS = "CI|CC|CS|AC|AS|NS|SC|ST|CU|CB|TCU|SF|CF|ACC|FG|SN|IC|BLSN|HZ|FU|RA|VA|SG|DZ"
_TEN = r"[01]\d{3}"
_TIMES_ROW = GroupRow(
    "weather times", "+-VFSTBDMPRUIGH", r"[A-Z+-]{2,9} ?[BE](?:\d{2}|MM)[A-Z0-9+-]*", weather.begins_and_ends
)

_ROWS = (
    GroupRow("station type", "A", r"A[O0]([12])(A)?", station.station_type),
    GroupRow("sea-level pressure", "S", r"SLP(\d{3}|///)", air.sea_level_pressure),
    GroupRow("temperature to tenths", "T", rf"T({_TEN})({_TEN}|////)?", air.temperature),
    GroupRow("hourly precipitation", "P", r"P(\d{4}|////)", weather.last_hour),
    GroupRow("longer precipitation", "67", r"([67])(\d{4}|////)", weather.several_hours),
    GroupRow("pressure tendency", "5", r"5([0-8/])(\d{3}|///)", air.tendency),
    GroupRow("6-hour temperature", "12", rf"([12])({_TEN})", air.extreme_of_six_hours),
    GroupRow("24-hour temperature", "4", rf"4({_TEN})({_TEN})", air.extremes_of_day),
    GroupRow("snow depth", "4", r"4/(\d{3})", weather.snow_depth),
    GroupRow("snow remark", "9", r"93([13])(\d{3})", weather.snow_of_six_hours),
    GroupRow("sunshine", "9", r"98(\d{3})", sight.sunshine),
    GroupRow("ice accretion", "I", r"I([136])(\d{3})", weather.ice),
    _TIMES_ROW,
    GroupRow("cloud remark", "CANSTFIBHRVD", rf"(?:(?:{_GENUS})\d)+", sight.oktas_by_type),
    GroupRow(
        "cloud remark",
        "12345678CTASNF",
        r"([1-8])?(CI|CC|CS|AC|AS|NS|SC|ST|CU|TCU|SF|CF|ACC)(\d{3})?",
        sight.cloud_type,
    ),
    GroupRow("cloud remark", "FSBO", r"(?:FEW|SCT|BKN|OVC)(?:\d{3})?(?:CB|TCU|///)?", sight.layer),
    GroupRow("cloud remark", "8", r"8/[\d/]{3}", sight.cloud_codes),
    GroupRow("pressure remark", "A", r"A(\d{2}\.?\d{2})A?", air.altimeter),
    GroupRow("wind elsewhere", "RA", r"(R\d\d[LRC]?|ARP)/([\dVRBPG/]{5,9}(?:KT|MPS))", air.wind_on_runway),
    GroupRow("cloud remark", "Q", r"QBB(\d{3,4})", sight.lowest_base),
    GroupRow("longer precipitation", "P", r"PP(\d{3}|///)", weather.since_last),
    GroupRow("snow remark", "/", r"/S(\d\d)/", weather.snow_by_code),
    GroupRow("weather remark", weather.WEATHER.first, weather.WEATHER.regex, weather.also_seen),
)
_BODY_KINDS = ("colour state", "pressure at aerodrome level", "wind variation", "runway state", "cloud seen", "sky")

# parts of the patterns below
_PLACE = r"(?: (?:DSNT|OHD|VC|AND|ALQDS|ARND|THRU|(?:[NSEW]{1,3}|OHD)(?:-(?:[NSEW]{1,3}|OHD))*(?=\s|$)))*"
_MOVE = r"(?: MOV (?:[NSEW]{1,3}(?:-[NSEW]{1,3})?|LTL|OHD|UNKNOWN)(?=\s|$)| STNRY)?"
_VALUE = r"M?(?:\d{1,2}(?: \d/\d{1,2})?|\d/\d{1,2})"
_END = r"(?=\s|$)"
_WHERE = r"RWY ?\d{1,2}[LRC]?|[NSEW]{1,3}"
_WIND = r"(?:\d{3}|VRB|///)(?:P?\d\d\d?|//)(?:GP?\d\d\d?)?(?:KT|MPS)"


class Phrase(NamedTuple):
    """One line of the table: the pattern of a remark of several tokens, and how what matches becomes an entry."""

    regex: str
    say: Say


_second_visibility = sight.elsewhere(
    lambda m: f"visibility {'at the surface' if m[1] == 'SFC' else 'from the tower'} {m[2]} SM"
)
_obscured = station.always("obscured", "mountains or obstacles hidden, at least partly")
_sea = station.always("sea state", "state of sea and swell")
_pressure_estimated = station.always("pressure remark", "pressure is estimated")
_wind_estimated = station.always("wind remark", "wind is estimated")
_LIGHTNING = Phrase(rf"(OCNL |FRQ |CONS )?LTG((?:IC|CC|CG|CA|CW)*)({_PLACE}){_END}", weather.lightning)
_SIGHTS = "TS|CBMAM|CB|TCU|ACC|ACSL|CCSL|SCSL|VIRGA|VC[A-Z]{2,4}|HALO"
_CLOUDS = Phrase(rf"({_SIGHTS})({_PLACE})({_MOVE}){_END}", weather.in_sight)
_FUNNEL = Phrase(
    rf"(TORNADO|FUNNEL CLOUD|WATERSPOUT)((?: ?[BE](?:MM|(?:\d\d){{1,2}}))*)(?: (\d{{1,2}})(?= [NSEW]))?"
    rf"({_PLACE})({_MOVE}){_END}",
    weather.funnel,
)
_SECOND = Phrase(rf"(SFC|TWR) VIS ({_VALUE}){_END}", _second_visibility)
_RUNWAY_WIND = Phrase(rf"(RWY\d\d[LRC]?) ({_WIND}){_END}", air.wind_elsewhere)
_VARIES = Phrase(rf"((?:FEW|SCT|BKN|OVC)(?:\d{{3}})?) V (FEW|SCT|BKN|OVC|CLR|SKC){_END}", sight.varying_cloud)
_MISSING = Phrase(rf"(ICE|WIND|WND|T|DP|CLD|PRES|VIS|WX|DENSITY ALT|RVR|SKY) MISG{_END}", station.missing)

# First word → the remarks that it may begin; each pattern goes over the text from there on.
PHRASES: dict[str, tuple[Phrase, ...]] = {
    "PK": (Phrase(rf"PK WND (\d{{3}})(P?\d{{2,3}})/(\d\d)?(\d\d){_END}", air.peak_wind),),
    "WSHFT": (Phrase(rf"WSHFT (\d\d)?(\d\d)( FROPA)?{_END}", air.wind_shift),),
    **dict.fromkeys(("LTG", "OCNL", "FRQ", "CONS"), (_LIGHTNING,)),
    **dict.fromkeys(("TS", "CB", "CBMAM", "TCU", "ACC", "ACSL", "CCSL", "SCSL", "VIRGA", "HALO"), (_CLOUDS,)),
    **dict.fromkeys(("VCSH", "VCTS", "VCFG", "VCBLSN", "VCHZ"), (_CLOUDS,)),
    **dict.fromkeys(("TORNADO", "FUNNEL", "WATERSPOUT"), (_FUNNEL,)),
    "SNINCR": (Phrase(rf"SNINCR (\d{{1,2}})/(\d{{1,3}}){_END}", weather.snow_increasing),),
    "SOG": (Phrase(rf"SOG (\d{{2,3}}){_END}", weather.snow_on_ground),),
    **dict.fromkeys(("SFC", "TWR"), (_SECOND,)),
    "VIS": (
        Phrase(
            rf"VIS ({_VALUE})V({_VALUE}){_END}",
            sight.elsewhere(lambda m: f"visibility varies from {m[1]} to {m[2]} SM"),
        ),
        Phrase(
            rf"VIS ([NSEW]{{1,3}}(?:-[NSEW]{{1,3}})?) ({_VALUE}){_END}",
            sight.elsewhere(lambda m: f"visibility to the {w.compass(m[1])} {m[2]} SM"),
        ),
        Phrase(rf"VIS MIN (\d{{4}}){_END}", sight.elsewhere(sight.lowest_visibility)),
        Phrase(rf"VIS MAR (\d{{1,2}}) KM{_END}", sight.elsewhere(lambda m: f"visibility over the sea {m[1]} km")),
        Phrase(rf"VIS ({_VALUE}) ({_WHERE}){_END}", sight.elsewhere(lambda m: f"visibility {m[1]} SM {where(m[2])}")),
        _MISSING,
    ),
    "CIG": (Phrase(rf"CIG (\d{{3}})(?:V(\d{{3}})| (RWY ?\d\d[LRC]?|[NSEW]{{1,2}}))?{_END}", sight.ceiling),),
    "WIND": (
        Phrase(rf"WIND ([A-Z]{{3,9}} ?\d\d[LRC]?|\d{{3,4}}FT|[A-Z]{{4,9}}) ?/?({_WIND}){_END}", air.wind_elsewhere),
        Phrase(rf"WIND EST[A-Z]{{0,5}}{_END}", _wind_estimated),
        _MISSING,
    ),
    "CHINO": (Phrase(rf"(CHINO) ({_WHERE}){_END}", station.sensor_out),),
    "VISNO": (Phrase(rf"(VISNO) ({_WHERE}){_END}", station.sensor_out),),
    "WND": (Phrase(rf"WND DATA ESTMD{_END}", _wind_estimated), _MISSING),
    "ALSTG/SLP": (Phrase(rf"ALSTG/SLP ESTMD{_END}", _pressure_estimated),),
    "ALSTG": (Phrase(rf"ALSTG ESTMD{_END}", _pressure_estimated),),
    "DENSITY": (Phrase(rf"DENSITY ALT (-?\d{{1,5}})FT{_END}", air.density_altitude), _MISSING),
    "PCPN": (Phrase(rf"PCPN (\d{{1,3}}\.\d)MM PAST HR{_END}", weather.last_hour_in_mm),),
    **dict.fromkeys(("ICE", "T", "DP", "CLD", "WX", "PRES"), (_MISSING,)),
    "MT": (
        Phrase(rf"MT (?:PT )?OBSC{_END}", _obscured),
        Phrase(rf"MT OP{_END}", station.always("mountains open", "mountains in sight")),
    ),
    "MTNS": (Phrase(rf"MTNS OBSC{_END}", _obscured),),
    "OBST": (Phrase(rf"OBST OBSC{_END}", _obscured),),
    "BIRD": (Phrase(rf"BIRD HAZARD(?: RWY ?\d\d(?:/\d\d)?)?{_END}", station.always("birds", "birds are a hazard")),),
    "PRESENT": (Phrase(rf"PRESENT WX ([A-Z+-]{{2,8}}){_END}", weather.present),),
    "QUK": (Phrase(rf"QUK [\d/]{_END}", _sea),),
    "QUL": (Phrase(rf"QUL [\d/](?: [NSEW]{{1,2}}(?=\s))?{_END}", _sea),),
    "GR": (Phrase(rf"GR (LESS THAN )?({_VALUE}){_END}", weather.hail_size),),
    **{
        genus: (Phrase(rf"({genus}) TR{_END}", sight.trace),)
        for genus in ("CI", "CC", "CS", "AC", "AS", "NS", "SC", "ST", "CU", "SF", "CF")
    },
}


@lru_cache(maxsize=256)
def _compiled(regex: str) -> re.Pattern[str]:
    return re.compile(regex, re.ASCII)


def _others(first: str) -> tuple[Phrase, ...]:
    if first.startswith("LTG"):
        return (_LIGHTNING,)
    return (_RUNWAY_WIND,) if first.startswith("RWY") else (_VARIES,)


def begins(tokens: Sequence[str], index: int) -> bool:
    """Whether a remark of several tokens may begin here."""
    first = tokens[index]
    return first in PHRASES or first[:3] in ("LTG", "RWY") or tokens[index + 1 : index + 2] == ["V"]


# so many tokens, from its first one on, may settle what a remark of several is
LONGEST_REACH = 12


@lru_cache(maxsize=4096)
def reach(first: str) -> int | None:
    """How many tokens, from a first one on, settle what remark they begin, however many follow.

    None: those up to the first one behind it with a digit, LONGEST_REACH at most. A pattern consumes no more spaces
    than it names, and sees whether a token follows; one with a part that may be repeated consumes no digits.
    """
    regexes = [phrase.regex for phrase in PHRASES.get(first, ()) or _others(first)]
    if any(_REPEATED.search(regex) for regex in regexes):
        return None if not any("\\d" in regex for regex in regexes) else LONGEST_REACH
    return min(2 + max(regex.count(" ") for regex in regexes), LONGEST_REACH)


_REPEATED = re.compile(r"\)[*+{]")


def phrase_at(text: str, us: bool) -> LedgerEntry | None:
    """Read the remark of several tokens that a text begins with; None where there is none. us: United States rules."""
    first = text.split(" ", 1)[0]
    for phrase in PHRASES.get(first, ()) or _others(first):
        match = _compiled(phrase.regex).match(text)
        if match is not None:
            return phrase.say(match, us)
    return None


@lru_cache(maxsize=16384)
def single(token: str, us: bool) -> LedgerEntry:
    """Classify one remark of one token, upper case, by the ledger. us: United States rules."""
    if token in station.FIXED:
        kind, status, meaning = station.FIXED[token]
        return entry(token, kind, status, meaning, None, (token,), "remarks")
    if 1 < len(token) <= LONGEST_TOKEN:
        if token[-1] == "$":
            inner, old = single(token[:-1], us), single(token[:-1], us).group
            if old.status != NOT_DECODED:
                said = f"{old.meaning}; the station asks for maintenance"
                return entry(token, old.kind, old.status, said, inner.numbers, (*inner.words, "$"), "remarks")
        first = token[0]
        for row in _ROWS:
            if first in row.first:
                ledger_entry = row.read(token, us)
                if ledger_entry is not None:
                    return ledger_entry
        for row in ROWS:
            if row.kind in _BODY_KINDS and first in row.first:
                ledger_entry = row.read(token, us)
                if ledger_entry is not None:
                    return changed(ledger_entry, status=NOTED, part="remarks")
    elif LONGEST_TOKEN < len(token) <= weather.LONGEST_TIMES and token[0] in _TIMES_ROW.first:
        ledger_entry = _TIMES_ROW.read(token, us)
        if ledger_entry is not None:
            return ledger_entry
    return entry(token, "", NOT_DECODED, "not understood", None, (), "remarks")


def changes(token: str) -> bool:
    """Whether a token tells only when weather began or ended: what weather stands before it."""
    return token[0] in "BE" and _CHANGES.fullmatch(token) is not None


def remark_at(tokens: Sequence[str], index: int, us: bool) -> tuple[LedgerEntry, int]:
    """Classify the remark that begins at a token.

    tokens: upper case; index: of the token to begin at. Returns the entry and how many tokens it took, 1 or more.
    """
    if begins(tokens, index):
        phrase = phrase_at(" ".join(tokens[index : index + LONGEST_REACH]), us)
        if phrase is not None:
            return phrase, phrase.group.text.count(" ") + 1
    if index + 1 < len(tokens) and changes(tokens[index + 1]):
        both = single(f"{tokens[index]} {tokens[index + 1]}", us)
        if both.kind == "weather times":
            return both, 2
    return single(tokens[index], us), 1

"""What groups that could not be read may have been: weather, wind, cloud or visibility.

A group that looks like weather and is not understood is weather that is not known, never none. Looked for are codes
with one letter or figure wrong, missing or too many, codes cut apart, run into another group or joined by a stroke, and
plain words for weather. Compass points, runway and wind groups, numbers and the short words of reports are left alone.
Source: wmo-306-table-4678.
"""

from __future__ import annotations

import re

from advisor.report.code.entries import LONGEST_TOKEN
from advisor.report.code.words import COMPASS, DESCRIPTORS, OTHER, PRECIPITATION
from advisor.report.forecast import CLOUD, VISIBILITY, WEATHER, WIND

_PHENOMENA = frozenset((*PRECIPITATION, *OTHER, "TS", "SH"))
_CODES = _PHENOMENA | frozenset(DESCRIPTORS)
_FIRST, _SECOND = (frozenset(code[at] for code in _PHENOMENA) for at in (0, 1))
_ANY_FIRST, _ANY_SECOND = (frozenset(code[at] for code in _CODES) for at in (0, 1))
_WORDS = re.compile(r"(?:SNOW|RAIN|DRIZZL|HAIL|SLEET|FOG|MIST|HAZ|FREEZ|FROZ|THUND|STORM|ICE|ICY|SHOWER|SMOK|DUST)")
# short words that lie one letter from a code; spelt-out words such as ICE are weather
_ORDINARY = frozenset(
    (
        *COMPASS,
        "CI",
        "CC",
        "CS",
        "AC",
        "AS",
        "NS",
        "SC",
        "ST",
        "CU",
        "CB",
        "TCU",
        "SF",
        "CF",
        "ACC",
        "NSW",
        "NSC",
        "NCD",
        "CLR",
        "SKC",
        "AM",
        "AND",
        "AT",
        "BLUE",
        "BY",
        "FM",
        "FT",
        "HR",
        "IN",
        "IS",
        "KM",
        "KT",
        "LAST",
        "LO",
        "MAR",
        "MIN",
        "MID",
        "MM",
        "MPS",
        "NM",
        "NO",
        "NOSG",
        "NOSI",
        "OF",
        "OH",
        "ON",
        "OR",
        "OVR",
        "P6",
        "PM",
        "PRE",
        "RWY",
        "SEC",
        "SM",
        "TL",
        "TO",
        "UPON",
        "UTC",
        "VIS",
        "VRB",
        "WX",
    )
)
# cover and height, wind's unit and the like, where another group has run into one of weather
_KNOWN = re.compile(r"(?:FEW|SCT|BKN|OVC|VV)[O\d/]*(?:CB|TCU)?|CAVOK|NOSIG|NSC|NCD|(?<=\d)(?:KTS?|MPS|KMH|SM|KM|NDV)")
_RUNS = re.compile(r"[A-Z]+")
# a letter O stands for a nought, and figures or a unit may be missing
_CLOUD = re.compile(r"(?:FEW|SCT|BKN|OVC|VV)[^ ]*?(CB|TCU)?|[A-Z0]{3}[\dO/]{3}(CB|TCU|///)?|[\dO/]{3,6}(CB|TCU)")
_WIND = re.compile(
    r"(?:VRB|[\dO/]{3})[\dO/P]{2,3}(?:G[\dO/P]{0,3}(?:K|KT|KTS|T|MPS|MP|KMH)?|KT?|KTS|MPS?|KMH)"
    r"|(?:VRB|[\dO/]{3})G[\dO/P]{2,3}(?:KT|MPS|KMH)?|VRB[\dO/P]{0,3}(?:KT?|MPS?)?|[\dO/]{5}"
)
_VISIBILITY = re.compile(r"[\dO/]{4}(?:NDV)?|[PM]?[\dO/]{1,4}(?:SM|KM|S)")
_TIMES = re.compile(r"[+-]?([A-Z]{2,8})(?:[BE][\d/M]*)+|I[136][\d/]{0,3}")
# what falls or storms, whose end matters to whoever comes after it; ICE is a word
_LASTING, _SPELT = frozenset((*PRECIPITATION, "TS")), frozenset(("ICE",))
_MARKED = re.compile(r"[+-](?:$|[A-Z]|[^A-Z]?[A-Z])|VC")
_RECENT = re.compile(r"RE\D*\d?\D*")
_NOT_RECENT = frozenset(
    (
        "READ",
        "RECEIVED",
        "RECENT",
        "RED",
        "REF",
        "REG",
        "REL",
        "RELAY",
        "REMARK",
        "REMARKS",
        "REPEAT",
        "REPORT",
        "REPORTED",
        "REPORTS",
        "REQ",
        "REST",
        "RESTR",
        "RESUME",
        "RESUMED",
        "REV",
    )
)


def looks_like_weather(token: str) -> bool:
    """Whether a group that was not decoded may have been present weather, as SN/, 5N, ?RA, TSGRX or SNBLSN.

    token: one group as written. False for groups of several words, which only a reader of XML makes.
    """
    text = token.upper()[:LONGEST_TOKEN]
    if " " in text:
        return False
    if _MARKED.match(text) or _WORDS.match(text):
        return True
    rest = _KNOWN.sub(" ", text)
    if sum(c.isdigit() for c in rest) > 1:
        return any(_exact(run) and run not in _ORDINARY for run in _RUNS.findall(rest))
    parts = _RUNS.findall(rest)
    if any(_exact(part) and part not in _ORDINARY for part in parts):
        return True
    kept = "".join(rest.split())
    letters = "".join(c for c in kept if c.isalnum())
    return any(_near(one) for one in (letters, kept) if one not in _ORDINARY)


def looks_like_recent_weather(token: str) -> bool:
    """Whether a group that was not decoded may have been recent weather, as RESN/, REXX or RE alone."""
    text = token.upper()[:LONGEST_TOKEN]
    return " " not in text and text not in _NOT_RECENT and _RECENT.fullmatch(text) is not None


def looks_like_cloud(token: str) -> str | None:
    """Type of the cloud that a group which was not decoded may have told: CB, TCU or /// for not known; else None.

    As BKNO20C, BKN0//CB, 0VC010: a cover and more, or three letters and three figures.
    """
    text = token.upper()[:LONGEST_TOKEN]
    match = _CLOUD.fullmatch(text)
    if " " in text or match is None:
        return None
    return next((kind for kind in match.groups() if kind), "///")


def element_of(token: str) -> str | None:
    """Which of weather, cloud, wind and visibility a group that was not decoded may have told; None for none."""
    text = token.upper()[:LONGEST_TOKEN]
    if looks_like_weather(text):
        return WEATHER
    if looks_like_cloud(text) is not None:
        return CLOUD
    if _WIND.fullmatch(text):
        return WIND
    return VISIBILITY if _VISIBILITY.fullmatch(text) else None


def looks_like_times(token: str) -> bool:
    """Whether a remark that was not decoded may have told when weather began or ended, or what ice built up.

    As FZRAB, SNB12E, TSB, I1//.
    """
    text = token.upper()[:LONGEST_TOKEN]
    match = _TIMES.fullmatch(text)
    if match is None or text in _SPELT:
        return False
    codes = match[1]
    return codes is None or (
        _exact(codes) and not _LASTING.isdisjoint(codes[at : at + 2] for at in range(0, len(codes), 2))
    )


def _exact(text: str) -> bool:
    """Whether a text is made of weather codes of two letters and nothing else."""
    return text != "" and len(text) % 2 == 0 and all(text[at : at + 2] in _CODES for at in range(0, len(text), 2))


def _near(text: str) -> bool:
    """Whether a text is made of codes but for one letter that is wrong, missing or too many."""
    n = len(text)
    if n < 2 or _exact(text):
        return n >= 2
    if n % 2 == 0:
        wrong = [text[at : at + 2] for at in range(0, n, 2) if text[at : at + 2] not in _CODES]
        first, second = (_ANY_FIRST, _ANY_SECOND) if n > 2 else (_FIRST, _SECOND)
        return len(wrong) == 1 and (wrong[0][0] in first or wrong[0][1] in second)
    for index in range(n):
        others = text[:index] + text[index + 1 :]
        if _exact(others):
            # a descriptor alone needs what may begin the code behind it
            falls = any(others[i : i + 2] in _PHENOMENA for i in range(0, n - 1, 2))
            if falls or (index == n - 1 and text[index] in _FIRST):
                return True
    return False

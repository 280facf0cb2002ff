"""The ledger: what each group before RMK says, by our own tables, in plain words.

`body` classifies one group by its text alone and is cached, since reports repeat themselves. What depends on the
place of a group in its report (a lone "//", a fraction in two tokens) is settled in `ledger.py`; whether python-metar
reads the same value is settled in `second_reader.py`. Status here is "decoded" where the group carries a value of the
Report, "noted" where its meaning is known and no value is used, "not decoded" where nothing fits.
Source: wmo-306-fm-15 and fmh-1; national groups by common practice.
"""

from __future__ import annotations

import re
from functools import lru_cache

from advisor.report.code import words as w
from advisor.report.code.entries import LONGEST_TOKEN, GroupRow, LedgerEntry, entry
from advisor.report.code.group import aerodrome, air, sight, weather, wind
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED


def _trend_time(m: re.Match[str], us: bool) -> LedgerEntry:
    word = {"FM": "from", "TL": "until", "AT": "at"}[m[1]]
    hour, minute = int(m[2]), int(m[3])
    if hour > 24 or minute > 59:
        return entry(m[0], "trend time", CONFLICT, "no such time of day")
    return entry(m[0], "trend time", DECODED, f"{word} {m[2]}:{m[3]} UTC", {"hour": hour, "minute": minute}, (m[1],))


def _modifier(m: re.Match[str], us: bool) -> LedgerEntry:
    meaning = w.MODIFIERS.get(m[0], f"a correction, number {ord(m[0][2]) - 64}" if m[0].startswith("CC") else "")
    return entry(m[0], "modifier", DECODED, meaning, None, (m[0],))


_DESC = "DR|BL|SH|TS|FZ"
_PHEN = "DZ|RA|SN|SG|IC|PL|PE|GR|GS|UP|BR|FG|FU|VA|DU|SA|HZ|PY|PO|SQ|FC|SS|DS"
# shallow, patches and partial stand before fog only (table 4678): MISG is the word for missing, not snow grains
_WX = (
    r"(?:[+-]|VC|[+-]VC)?"
    rf"(?:(?:{_DESC}){{1,2}}(?:{_PHEN}){{1,4}}|(?:FZ)?(?:MI|BC|PR)(?:FZ)?FG(?:{_PHEN}){{0,3}}|(?:{_PHEN}){{1,4}}|TS|SH|TSSH)|NSW"
)
_RUNWAY = r"\d\d(?:RR|LL|[LRC])?"
_COLOUR = r"BLU\+?|WHT|GRN|YLO[12]?|AMB|RED"
_POINT = "N|NNE|NE|ENE|E|ESE|SE|SSE|S|SSW|SW|WSW|W|WNW|NW|NNW"

ROWS = (
    GroupRow(
        "wind", "0123456789VE/P", r"(E)?(\d{3}|VRB|///)(P?\d{2,3}|//)(?:G(P?\d{2,3}|//))?(KTS?|MPS|KMH)", wind.wind
    ),
    GroupRow("wind", "0123456789", r"\d{5}(?:G\d{2,3})?", wind.wind_without_unit),
    GroupRow("temperature", "0123456789M-X/", r"((?:M|-)?\d\d|//|XX|MM)/((?:M|-)?\d\d|//|XX|MM)?", air.temperature),
    GroupRow("pressure", "AQ", r"(A|QNH|Q)(\d{4}|(?<!A)\d{3}|////)(?:INS)?", air.pressure),
    GroupRow(
        "cloud", "FSBO/", r"(FEW|SCT|BKN|OVC|///)(\d{3}|///)?(CB|TCU|///|CU|SC|ST|AC|AS|CI|CC|CS|NS)?", weather.cloud
    ),
    GroupRow("visibility", "0123456789/MP", r"([MP])?(\d{4}|////)(NDV|[NS][EW]?|[EW])?", sight.in_metres),
    GroupRow(
        "visibility",
        "0123456789/MP",
        r"([MP])?(\d{1,3}|\d{1,2}/\d{1,2}|\d{1,2} \d/\d{1,2}|////?)\s?(SM|KM)",
        sight.in_miles_or_km,
    ),
    GroupRow("sky", "CNS", r"CLR|NCD|NSC|SKC", weather.sky),
    GroupRow("CAVOK", "C", r"CAVOK", sight.cavok),
    GroupRow("wind variation", "0123456789/", r"(\d{3}|///)V(\d{3}|///)", wind.variation),
    GroupRow("weather", "+-VMBPDSTFRIGUHNC", _WX, weather.weather),
    GroupRow("vertical visibility", "V", r"VV(\d{3}|///)", weather.vertical_visibility),
    GroupRow("modifier", "ACRNFT", r"AUTO|CORR?|CC[A-G]|RTD|NIL|FINO|TEST|AMD", _modifier),
    GroupRow("recent weather", "R", rf"RE(//|{_WX})", weather.recent),
    GroupRow(
        "runway visual range",
        "R",
        rf"R({_RUNWAY})/([PM]?\d{{4}}|////)(?:V([PM]?\d{{4}}))?(FT)?/?([UDN])?/?",
        sight.runway_visual_range,
    ),
    GroupRow("runway state", "SR", rf"(?:R({_RUNWAY})?/+)?SNOCLO", aerodrome.closed),
    GroupRow(
        "runway state",
        "R",
        rf"R({_RUNWAY})/{{0,2}}([\d/]{{6}}|CLRD(?:\d\d?|//)?|D|\d\d[\d/D]?|[\d/]{{4}})",
        aerodrome.runway_state,
    ),
    GroupRow("runway state", "R", r"R/{5,9}", aerodrome.no_runway_state),
    GroupRow("wind shear", "W", rf"WS (?:ALL RWYS?|(?:RWY ?|R)({_RUNWAY}))", wind.shear),
    GroupRow("sea state", "W", r"W(M?\d\d|//)/([SH])(\d{0,3}|/{1,3})", aerodrome.sea),
    GroupRow("sea state", "W", r"W/{3,6}", aerodrome.no_sea),
    GroupRow("pressure at aerodrome level", "Q", r"QFE(\d{3,4}(?:[./]\d)?)(?:/(\d{3,4}))?", air.pressure_at_aerodrome),
    GroupRow("colour state", "BWGYAR", rf"(?:BLACK)?(?:{_COLOUR})(?:/(?:{_COLOUR}))?|BLACK", aerodrome.colour),
    GroupRow("rainfall", "R", r"RF(\d\d[./]\d)/(\d{3}[./]\d)", aerodrome.rainfall),
    GroupRow("trend time", "FTA", r"(FM|TL|AT)(\d\d)(\d\d)", _trend_time),
    GroupRow("cloud seen", "CT", rf"(CB|TCU|TS)((?:[/,](?:{_POINT}))*)", weather.cloud_seen),
)


@lru_cache(maxsize=16384)
def body(token: str, us: bool) -> LedgerEntry:
    """Classify one group before RMK by its text alone, by the ledger.

    token: the group, upper case; parts of a group in several tokens are joined by one space. us: United States rules.
    """
    if len(token) <= LONGEST_TOKEN:
        first = token[:1]
        for row in ROWS:
            if first in row.first:
                found = row.read(token, us)
                if found is not None:
                    return found
    return entry(token, "", NOT_DECODED, "not understood")

"""The ledger: what each group before RMK says, by our own tables, in plain words.

`body` classifies one group by its text alone and is cached, since reports repeat themselves. What depends on the
place of a group in its report (a lone "//", a fraction in two tokens) is settled in `ledger.py`; whether python-metar
reads the same value is settled in `decoder.py`. Status here is "decoded" where the group carries a value of the
Report, "noted" where its meaning is known and no value is used, "not decoded" where nothing fits.
Source: wmo-306-fm-15 and fmh-1; national groups by common practice.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import isnan, nan

from advisor.quantities.units import HPA_PER_INHG, M_PER_FT, M_PER_MILE
from advisor.report.code import special
from advisor.report.code import words as w
from advisor.report.code.entries import (
    KT_PER,
    LONGEST_TOKEN,
    Entry,
    Row,
    entry,
    fraction,
    number,
)
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED

PLAUSIBLE_HPA = (850.0, 1090.0)
IMPLAUSIBLE = "temperature outside −90 to 60 °C or dew point outside −90 to 40 °C"
HIGHEST_WIND_KT = 200.0
FARTHEST_SEEN_M = 200_000.0
NO_FRACTION = "a fraction over zero, not used"


def plausible(temperature_c: float, dew_point_c: float) -> bool:
    """Whether both lie where air at the ground has been measured; NaN counts as plausible."""
    return not (temperature_c < -90 or temperature_c > 60 or dew_point_c < -90 or dew_point_c > 40)


def _wind(m: re.Match[str], us: bool) -> Entry:
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
        meaning += f", gusting {said(gust, gust_kt)}"
    return entry(text, "wind", DECODED, meaning + (", estimated" if estimated else ""), numbers, marks)


def _no_unit(m: re.Match[str], us: bool) -> Entry:
    return entry(m[0], "wind", CONFLICT, "wind without a unit: knots or m/s cannot be told, so it is not used")


def _variation(m: re.Match[str], us: bool) -> Entry:
    numbers = {"from_deg": number(m[1]), "to_deg": number(m[2])}
    if numbers["from_deg"] > 360 or numbers["to_deg"] > 360:
        return entry(m[0], "wind variation", CONFLICT, "wind from a direction above 360°, not used")
    if m[1] == "///":
        return entry(m[0], "wind variation", DECODED, "variation of wind direction not reported", numbers)
    return entry(m[0], "wind variation", DECODED, f"wind direction varies from {m[1]}° to {m[2]}°", numbers)


def metres(value: float) -> str:
    """Say a visibility in metres or kilometres."""
    return f"{value / 1000:g} km" if value >= 5000 else f"{value:.0f} m"


def _visibility_m(m: re.Match[str], us: bool) -> Entry:
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


def _visibility_unit(m: re.Match[str], us: bool) -> Entry:
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
    how, shown, said = "exactly", plain, f"{digits} {words}"
    if prefix == "M":
        how, shown, said = "less than", f"less than {plain}", f"less than {said}"
    elif prefix == "P":
        how, shown, said = "at least", f"more than {plain}", f"more than {said}"
    elif amount == 10:
        how, shown, said = "at least", f"{plain} or more", f"{said} or more"
    return entry(text, "visibility", DECODED, f"visibility {said}", {"m": value}, (how, shown))


def _cavok(m: re.Match[str], us: bool) -> Entry:
    return entry(m[0], "CAVOK", DECODED, w.SKY["CAVOK"], {"m": 10_000.0}, ("at least", "10 km or more"))


def _rvr(m: re.Match[str], us: bool) -> Entry:
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


def _weather(m: re.Match[str], us: bool) -> Entry:
    return entry(m[0], "weather", DECODED, w.weather(m[0], us), None, (m[0],))


def _recent(m: re.Match[str], us: bool) -> Entry:
    if m[1] == "//":
        return entry(m[0], "recent weather", DECODED, "recent weather cannot be told by the station", None, ("//",))
    return entry(m[0], "recent weather", DECODED, f"lately, not now: {w.unmeasured(m[1], us)}", None, (m[1],))


def _cloud(m: re.Match[str], us: bool) -> Entry:
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


def _vertical(m: re.Match[str], us: bool) -> Entry:
    height = number(m[1]) * 100
    meaning = "sky hidden, vertical visibility " + ("not reported" if isnan(height) else f"{height:.0f} ft")
    return entry(m[0], "vertical visibility", DECODED, meaning, {"base_ft": height}, ("VV", ""))


def _sky(m: re.Match[str], us: bool) -> Entry:
    return entry(m[0], "sky", DECODED, w.SKY[m[0]], None, (m[0],))


def _temperature(m: re.Match[str], us: bool) -> Entry:
    numbers = {"c": number(m[1]), "dew_c": number(m[2])}
    said = [
        f"{name} {w.signed(value)} °C" if not isnan(value) else f"{name} not reported"
        for name, value in (("temperature", numbers["c"]), ("dew point", numbers["dew_c"]))
    ]
    too_far = not plausible(numbers["c"], numbers["dew_c"])
    if too_far or (isnan(numbers["c"]) and not isnan(numbers["dew_c"])):
        why = IMPLAUSIBLE if too_far else "a dew point needs a temperature"
        return entry(m[0], "temperature", CONFLICT, f"{', '.join(said)}: {why}, not used")
    text = ", ".join(said).replace(" −0 °C", " between −0.5 and 0 °C (M00)")
    return entry(m[0], "temperature", DECODED, text, numbers)


def _pressure(m: re.Match[str], us: bool) -> Entry:
    if "/" in m[2]:
        return entry(m[0], "pressure", DECODED, "pressure not reported", {"hpa": nan})
    value = float(m[2])
    hpa = value / 100 * HPA_PER_INHG if m[1] == "A" else value
    if not PLAUSIBLE_HPA[0] <= hpa <= PLAUSIBLE_HPA[1]:
        return entry(m[0], "pressure", CONFLICT, f"pressure of {hpa:.0f} hPa, outside 850 to 1090, not used")
    if m[1] == "A":
        numbers = {"hpa": hpa}
        meaning = f"altimeter setting {value / 100:.2f} inHg ({numbers['hpa']:.0f} hPa)"
        return entry(m[0], "pressure", DECODED, meaning, numbers)
    return entry(m[0], "pressure", DECODED, f"QNH {value:.0f} hPa", {"hpa": value})


def _trend_time(m: re.Match[str], us: bool) -> Entry:
    word = {"FM": "from", "TL": "until", "AT": "at"}[m[1]]
    hour, minute = int(m[2]), int(m[3])
    if hour > 24 or minute > 59:
        return entry(m[0], "trend time", CONFLICT, "no such time of day")
    return entry(m[0], "trend time", DECODED, f"{word} {m[2]}:{m[3]} UTC", {"hour": hour, "minute": minute}, (m[1],))


def _modifier(m: re.Match[str], us: bool) -> Entry:
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
    Row("wind", "0123456789VE/P", r"(E)?(\d{3}|VRB|///)(P?\d{2,3}|//)(?:G(P?\d{2,3}|//))?(KTS?|MPS|KMH)", _wind),
    Row("wind", "0123456789", r"\d{5}(?:G\d{2,3})?", _no_unit),
    Row("temperature", "0123456789M-X/", r"((?:M|-)?\d\d|//|XX|MM)/((?:M|-)?\d\d|//|XX|MM)?", _temperature),
    Row("pressure", "AQ", r"(A|QNH|Q)(\d{4}|(?<!A)\d{3}|////)(?:INS)?", _pressure),
    Row("cloud", "FSBO/", r"(FEW|SCT|BKN|OVC|///)(\d{3}|///)?(CB|TCU|///|CU|SC|ST|AC|AS|CI|CC|CS|NS)?", _cloud),
    Row("visibility", "0123456789/MP", r"([MP])?(\d{4}|////)(NDV|[NS][EW]?|[EW])?", _visibility_m),
    Row(
        "visibility",
        "0123456789/MP",
        r"([MP])?(\d{1,3}|\d{1,2}/\d{1,2}|\d{1,2} \d/\d{1,2}|////?)\s?(SM|KM)",
        _visibility_unit,
    ),
    Row("sky", "CNS", r"CLR|NCD|NSC|SKC", _sky),
    Row("CAVOK", "C", r"CAVOK", _cavok),
    Row("wind variation", "0123456789/", r"(\d{3}|///)V(\d{3}|///)", _variation),
    Row("weather", "+-VMBPDSTFRIGUHNC", _WX, _weather),
    Row("vertical visibility", "V", r"VV(\d{3}|///)", _vertical),
    Row("modifier", "ACRNFT", r"AUTO|CORR?|CC[A-G]|RTD|NIL|FINO|TEST|AMD", _modifier),
    Row("recent weather", "R", rf"RE(//|{_WX})", _recent),
    Row("runway visual range", "R", rf"R({_RUNWAY})/([PM]?\d{{4}}|////)(?:V([PM]?\d{{4}}))?(FT)?/?([UDN])?/?", _rvr),
    Row("runway state", "SR", rf"(?:R({_RUNWAY})?/+)?SNOCLO", special.closed),
    Row(
        "runway state",
        "R",
        rf"R({_RUNWAY})/{{0,2}}([\d/]{{6}}|CLRD(?:\d\d?|//)?|D|\d\d[\d/D]?|[\d/]{{4}})",
        special.runway_state,
    ),
    Row("runway state", "R", r"R/{5,9}", special.no_runway_state),
    Row("wind shear", "W", rf"WS (?:ALL RWYS?|(?:RWY ?|R)({_RUNWAY}))", special.wind_shear),
    Row("sea state", "W", r"W(M?\d\d|//)/([SH])(\d{0,3}|/{1,3})", special.sea),
    Row("sea state", "W", r"W/{3,6}", special.no_sea),
    Row("pressure at aerodrome level", "Q", r"QFE(\d{3,4}(?:[./]\d)?)(?:/(\d{3,4}))?", special.aerodrome_pressure),
    Row("colour state", "BWGYAR", rf"(?:BLACK)?(?:{_COLOUR})(?:/(?:{_COLOUR}))?|BLACK", special.colour),
    Row("rainfall", "R", r"RF(\d\d[./]\d)/(\d{3}[./]\d)", special.rainfall),
    Row("trend time", "FTA", r"(FM|TL|AT)(\d\d)(\d\d)", _trend_time),
    Row("cloud seen", "CT", rf"(CB|TCU|TS)((?:[/,](?:{_POINT}))*)", special.cloud_seen),
)


@lru_cache(maxsize=16384)
def body(token: str, us: bool) -> Entry:
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

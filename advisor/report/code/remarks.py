"""The ledger behind RMK: automatic, coded and plain-language remarks in plain words.

`single` classifies a remark of one token and is cached; `remark` takes as many tokens as belong together. Facts for
`Remarks` travel in an entry's numbers and words. Words of free text that no row knows stay "not decoded", verbatim.
Source: fmh-1 chapter 12; Canadian, Italian, Mexican, Russian and South American remarks by common practice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from math import nan

from advisor.quantities.units import MM_PER_INCH
from advisor.report.code import words as w
from advisor.report.code.entries import LONGEST_TOKEN, Entry, Row, changed, entry
from advisor.report.code.groups import IMPLAUSIBLE, ROWS, plausible
from advisor.report.code.phrases import begins, phrase_at
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED

_FIXED = {
    "SLPNO": ("sea-level pressure", NOTED, "sea-level pressure not available"),
    "FZRANO": ("sensor out", DECODED, "freezing rain sensor out: no freezing rain reported does not mean none"),
    "PWINO": ("sensor out", DECODED, "precipitation identifier out: precipitation may fall unreported"),
    "TSNO": ("sensor out", DECODED, "thunderstorm sensor out: no thunderstorm reported does not mean none"),
    "PNO": ("sensor out", NOTED, "precipitation amount not available"),
    "RVRNO": ("sensor out", NOTED, "runway visual range not available"),
    "VISNO": ("sensor out", NOTED, "visibility at a second place not available"),
    "CHINO": ("sensor out", NOTED, "cloud height at a second place not available"),
    "$": ("maintenance", DECODED, "the station asks for maintenance"),
    "PRESRR": ("pressure change", DECODED, "pressure rising rapidly"),
    "PRESFR": ("pressure change", DECODED, "pressure falling rapidly"),
    "FROIN": ("frost", DECODED, "frost seen on the indicator"),
    "NOSPECI": ("routine", NOTED, "no special reports are made at this station"),
    "LAST": ("routine", NOTED, "last report before the station closes"),
    "FIRST": ("routine", NOTED, "first report after the station opened"),
    "BINOVC": ("cloud remark", NOTED, "breaks in overcast"),
    "HZY": ("weather remark", NOTED, "hazy"),
    "CONTRAILS": ("cloud remark", NOTED, "condensation trails"),
    "FROPA": ("wind shift", NOTED, "front passed"),
}


_STATIONS = {
    "1": "automatic station that cannot tell rain from snow: weather may go unreported",
    "2": "automatic station that can tell rain from snow",
}


def _fixed(kind: str, status: str, text: str, meaning: str) -> Entry:
    return entry(text, kind, status, meaning, None, (text,), "remarks")


def _remark(
    m: re.Match[str], kind: str, meaning: str, status: str = DECODED, words: tuple[str, ...] = (), **numbers: float
) -> Entry:
    return entry(m[0], kind, status, meaning, numbers, words, "remarks")


def _station_type(m: re.Match[str], us: bool) -> Entry:
    meaning = _STATIONS[m[1]] + (", attended" if m[2] else "")
    return _remark(m, "station type", meaning, NOTED, (m[1],))


def _slp(m: re.Match[str], us: bool) -> Entry:
    if "/" in m[1]:
        return _remark(m, "sea-level pressure", "sea-level pressure not reported", NOTED)
    tenths = int(m[1])
    hpa = tenths / 10 + (1000 if tenths < 500 else 900)
    return _remark(m, "sea-level pressure", f"sea-level pressure {hpa:.1f} hPa", hpa=hpa)


def _tenths(text: str | None) -> float:
    if text is None or "/" in text:
        return nan
    value = int(text[1:]) / 10
    return -value if text[0] == "1" else value


def _temperature(m: re.Match[str], us: bool) -> Entry:
    numbers = {"c": _tenths(m[1]), "dew_c": _tenths(m[2])}
    if not plausible(numbers["c"], numbers["dew_c"]):
        return _remark(m, "temperature to tenths", f"{IMPLAUSIBLE}, not used", CONFLICT)
    said = f"temperature {w.signed(numbers['c'], 1)} °C to the tenth"
    if m[2] and "/" not in m[2]:
        said += f", dew point {w.signed(numbers['dew_c'], 1)} °C"
    else:
        said += ", dew point not reported"
    return _remark(m, "temperature to tenths", said, c=numbers["c"], dew_c=numbers["dew_c"])


def _rain(text: str) -> str:
    return "trace, under 0.25 mm" if int(text) == 0 else f"{int(text) / 100:.2f} in ({int(text) * 0.254:.1f} mm)"


def _hourly(m: re.Match[str], us: bool) -> Entry:
    if "/" in m[1]:
        return _remark(m, "hourly precipitation", "precipitation of the last hour not reported", mm=nan)
    return _remark(
        m,
        "hourly precipitation",
        f"precipitation since the last hourly report: {_rain(m[1])}",
        mm=int(m[1]) / 100 * MM_PER_INCH,
    )


def _several(m: re.Match[str], us: bool) -> Entry:
    span = "3 or 6 hours" if m[1] == "6" else "24 hours"
    if "/" in m[2]:
        return _remark(m, "longer precipitation", f"precipitation of the last {span} not measurable", NOTED)
    said = f"precipitation of the last {span}: {_rain(m[2])}"
    return _remark(m, "longer precipitation", said, mm=int(m[2]) / 100 * MM_PER_INCH)


def _extreme(m: re.Match[str], us: bool) -> Entry:
    what = "highest" if m[1] == "1" else "lowest"
    value = _tenths(m[2])
    return _remark(m, "6-hour temperature", f"{what} temperature of the last 6 hours {w.signed(value, 1)} °C", c=value)


def _day_extremes(m: re.Match[str], us: bool) -> Entry:
    high, low = _tenths(m[1]), _tenths(m[2])
    said = f"last 24 hours: highest {w.signed(high, 1)} °C, lowest {w.signed(low, 1)} °C"
    return _remark(m, "24-hour temperature", said, high_c=high, low_c=low)


_TENDENCIES = (
    "risen then fallen",
    "risen, now more slowly",
    "risen",
    "risen, now faster",
    "steady",
    "fallen then risen",
    "fallen, now more slowly",
    "fallen",
    "fallen, now faster",
)


def _tendency(m: re.Match[str], us: bool) -> Entry:
    if "/" in m[1] + m[2]:
        return _remark(m, "pressure tendency", "pressure change of 3 hours not reported", NOTED)
    said = f"pressure over 3 hours {_TENDENCIES[int(m[1])]}, by {int(m[2]) / 10:.1f} hPa"
    return _remark(m, "pressure tendency", said, NOTED)


def _depth(m: re.Match[str], us: bool) -> Entry:
    cm = int(m[1]) * MM_PER_INCH / 10
    return _remark(m, "snow depth", f"snow depth {int(m[1])} in ({cm:.0f} cm)", cm=cm)


def _snow_six_hours(m: re.Match[str], us: bool) -> Entry:
    tenths = int(m[2])
    if m[1] == "1":
        said = f"snow of the last 6 hours {tenths / 10:.1f} in ({tenths * 0.254:.1f} cm)"
    else:
        said = f"water in the snow on the ground {tenths / 10:.1f} in ({tenths * (MM_PER_INCH / 10):.0f} mm)"
    return _remark(m, "snow remark", said, NOTED)


def _sunshine(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "sunshine", f"sunshine {int(m[1])} minutes on the day before", NOTED)


def _ice(m: re.Match[str], us: bool) -> Entry:
    mm = int(m[2]) / 100 * MM_PER_INCH
    amount = "a trace" if mm == 0 else f"{mm:.1f} mm"
    hours = "hour" if m[1] == "1" else f"{m[1]} hours"
    return _remark(m, "ice accretion", f"ice built up over the last {hours}: {amount}", hours=float(m[1]), mm=mm)


_EVENT = re.compile(
    r"((?:[+-]|VC)?(?:(?:FZ|SH|TS|BL|DR|MI|BC|PR)?(?:DZ|RA|SN|SG|IC|PL|PE|GR|GS|UP|FG|BR|HZ|FU|DU|SA|SS|DS|SQ|FC)+|TS))"
    r" ?((?:[BE](?:MM|(?:\d\d){1,2}(?!\d)))+)",
    re.ASCII,
)
_CHANGE = re.compile(r"([BE])(\d\d)?(\d\d|MM)(?!\d)", re.ASCII)
_CHANGES = re.compile(r"(?:[BE](?:MM|(?:\d\d){1,2}(?!\d)))+", re.ASCII)
# an hour of mixed precipitation is told in one group, longer than any other
LONGEST_TIMES = 240


def _events(m: re.Match[str], us: bool) -> Entry:
    """Begin and end of weather; words hold code, B or E, hour or "", minute or MM, four to an event."""
    text, at, said, words = m[0], 0, [], []
    while at < len(text):
        item = _EVENT.match(text, at)
        if item is None:
            return entry(text, "", NOT_DECODED, "not understood", None, (), "remarks")
        changes = []
        for letter, hour, minute in _CHANGE.findall(item[2]):
            if minute != "MM" and (int(minute) > 59 or (hour and int(hour) > 23)):
                return entry(text, "weather times", CONFLICT, "no such time of day", None, (), "remarks")
            words += [item[1], letter, hour, minute]
            when = f"at {hour}:{minute}" if hour else f"{minute} min past the hour"
            when = "at a minute not reported" if minute == "MM" else when
            changes.append(("began " if letter == "B" else "ended ") + when)
        name = w.unmeasured(item[1], us)
        said.append(f"{name} {', '.join(changes)}")
        at = item.end()
    return entry(text, "weather times", DECODED, "; ".join(said), None, tuple(words), "remarks")


def _oktas(m: re.Match[str], us: bool) -> Entry:
    parts = re.findall(r"([A-Z]{2,4})(\d)", m[0])
    said = w.listed([f"{w.GENERA[name]} {n} okta{'' if n == '1' else 's'}" for name, n in parts if name in w.GENERA])
    return _remark(m, "cloud remark", f"cloud by type: {said}", NOTED)


def _cloud_type(m: re.Match[str], us: bool) -> Entry:
    kind = m[2] or m[1]
    base = f", base {int(m[3]) * 100} ft" if m[3] else ""
    amount = f"{m[1]} okta{'' if m[1] == '1' else 's'} of " if m[1] and m[1].isdigit() else ""
    return _remark(m, "cloud remark", f"{amount}{w.GENERA.get(kind, kind)}{base}", NOTED)


def _altimeter(m: re.Match[str], us: bool) -> Entry:
    digits = m[1].replace(".", "")
    return _remark(m, "pressure remark", f"altimeter setting {int(digits) / 100:.2f} inHg", NOTED)


def _runway_wind(m: re.Match[str], us: bool) -> Entry:
    inner = next((f for row in ROWS if row.kind == "wind" and (f := row.read(m[2], us))), None)
    said = inner.group.meaning if inner is not None else "wind not understood"
    return _remark(
        m, "wind elsewhere", f"at {'the reference point' if m[1] == 'ARP' else 'runway ' + m[1][1:]}: {said}", NOTED
    )


def _synoptic_cloud(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "cloud remark", "codes of low, middle and high cloud types", NOTED)


def _vertical(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "cloud remark", f"lowest cloud base {int(m[1])} m", NOTED)


def _rain_since(m: re.Match[str], us: bool) -> Entry:
    said = "not reported" if "/" in m[1] else "a trace or none" if int(m[1]) in (0, 999) else f"code {m[1]}"
    return _remark(m, "longer precipitation", f"precipitation since the last report of this kind: {said}", NOTED)


def _snow_canada(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "snow remark", f"snow on the ground, code {m[1]}", NOTED)


def _clouds_in_cover(m: re.Match[str], us: bool) -> Entry:
    inner = next((f for row in ROWS if row.kind == "cloud" and (f := row.read(m[0], us))), None)
    said = inner.group.meaning if inner is not None else m[0]
    return _remark(m, "cloud remark", said, NOTED)


def _known_weather(m: re.Match[str], us: bool) -> Entry:
    return _remark(m, "weather remark", f"also seen: {w.weather(m[0], us)}", NOTED, (m[0],))


_GENUS = "CI|CC|CS|AC|AS|NS|SC|ST|CU|CB|TCU|SF|CF|ACC|FG|SN|IC|BLSN|HZ|FU|RA|VA|SG|DZ"
_TEN = r"[01]\d{3}"
_WEATHER_ROW = next(row for row in ROWS if row.kind == "weather")
_TIMES_ROW = Row("weather times", "+-VFSTBDMPRUIGH", r"[A-Z+-]{2,9} ?[BE](?:\d{2}|MM)[A-Z0-9+-]*", _events)

_ROWS = (
    Row("station type", "A", r"A[O0]([12])(A)?", _station_type),
    Row("sea-level pressure", "S", r"SLP(\d{3}|///)", _slp),
    Row("temperature to tenths", "T", rf"T({_TEN})({_TEN}|////)?", _temperature),
    Row("hourly precipitation", "P", r"P(\d{4}|////)", _hourly),
    Row("longer precipitation", "67", r"([67])(\d{4}|////)", _several),
    Row("pressure tendency", "5", r"5([0-8/])(\d{3}|///)", _tendency),
    Row("6-hour temperature", "12", rf"([12])({_TEN})", _extreme),
    Row("24-hour temperature", "4", rf"4({_TEN})({_TEN})", _day_extremes),
    Row("snow depth", "4", r"4/(\d{3})", _depth),
    Row("snow remark", "9", r"93([13])(\d{3})", _snow_six_hours),
    Row("sunshine", "9", r"98(\d{3})", _sunshine),
    Row("ice accretion", "I", r"I([136])(\d{3})", _ice),
    _TIMES_ROW,
    Row("cloud remark", "CANSTFIBHRVD", rf"(?:(?:{_GENUS})\d)+", _oktas),
    Row("cloud remark", "12345678CTASNF", r"([1-8])?(CI|CC|CS|AC|AS|NS|SC|ST|CU|TCU|SF|CF|ACC)(\d{3})?", _cloud_type),
    Row("cloud remark", "FSBO", r"(?:FEW|SCT|BKN|OVC)(?:\d{3})?(?:CB|TCU|///)?", _clouds_in_cover),
    Row("cloud remark", "8", r"8/[\d/]{3}", _synoptic_cloud),
    Row("pressure remark", "A", r"A(\d{2}\.?\d{2})A?", _altimeter),
    Row("wind elsewhere", "RA", r"(R\d\d[LRC]?|ARP)/([\dVRBPG/]{5,9}(?:KT|MPS))", _runway_wind),
    Row("cloud remark", "Q", r"QBB(\d{3,4})", _vertical),
    Row("longer precipitation", "P", r"PP(\d{3}|///)", _rain_since),
    Row("snow remark", "/", r"/S(\d\d)/", _snow_canada),
    Row("weather remark", _WEATHER_ROW.first, _WEATHER_ROW.regex, _known_weather),
)
_BODY_KINDS = ("colour state", "pressure at aerodrome level", "wind variation", "runway state", "cloud seen", "sky")


@lru_cache(maxsize=16384)
def single(token: str, us: bool) -> Entry:
    """Classify one remark of one token, upper case, by the ledger. us: United States rules."""
    if token in _FIXED:
        kind, status, meaning = _FIXED[token]
        return _fixed(kind, status, token, meaning)
    if 1 < len(token) <= LONGEST_TOKEN:
        if token[-1] == "$":
            inner, old = single(token[:-1], us), single(token[:-1], us).group
            if old.status != NOT_DECODED:
                said = f"{old.meaning}; the station asks for maintenance"
                return entry(token, old.kind, old.status, said, inner.numbers, (*inner.words, "$"), "remarks")
        first = token[0]
        for row in _ROWS:
            if first in row.first:
                found = row.read(token, us)
                if found is not None:
                    return found
        for row in ROWS:
            if row.kind in _BODY_KINDS and first in row.first:
                found = row.read(token, us)
                if found is not None:
                    return changed(found, status=NOTED, part="remarks")
    elif LONGEST_TOKEN < len(token) <= LONGEST_TIMES and token[0] in _TIMES_ROW.first:
        found = _TIMES_ROW.read(token, us)
        if found is not None:
            return found
    return entry(token, "", NOT_DECODED, "not understood", None, (), "remarks")


def changes(token: str) -> bool:
    """Whether a token tells only when weather began or ended: what weather stands before it."""
    return token[0] in "BE" and _CHANGES.fullmatch(token) is not None


def remark(tokens: Sequence[str], at: int, us: bool) -> tuple[Entry, int]:
    """Classify the remark that begins at a token.

    tokens: upper case; at: the index to begin at. Returns the entry and how many tokens it took, 1 or more.
    """
    if begins(tokens, at):
        found = phrase_at(" ".join(tokens[at : at + 12]), us)
        if found is not None:
            return found, found.group.text.count(" ") + 1
    if at + 1 < len(tokens) and changes(tokens[at + 1]):
        both = single(f"{tokens[at]} {tokens[at + 1]}", us)
        if both.kind == "weather times":
            return both, 2
    return single(tokens[at], us), 1

"""IWXXM elements written out as the groups of the traditional code, with the exact values of the XML.

Each function takes the element that holds a thing and returns entries as the reader of text makes them: the group as it
would be written, its plain words, and its numbers. Where the XML is finer than the code can say (17.3 °C), the exact
number is carried and the words name it. What is empty with a nilReason is coded missing, never given a value.
Source: iwxxm; wmo-306-fm-15.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from math import copysign, floor, isclose, isnan, nan
from xml.etree.ElementTree import Element

from advisor.quantities.units import KT_PER_KM_H, KT_PER_M_S, M_PER_FT
from advisor.report.code.entries import LedgerEntry, changed, entry
from advisor.report.code.group.sight import FARTHEST_SEEN_M
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group
from advisor.report.xml.document import XmlDocument, attribute, code, local, moment, nil, times, words

Classify = Callable[[str], LedgerEntry]

SPEEDS = {
    "[kn_i]": 1.0,
    "KT": 1.0,
    "kt": 1.0,
    "m/s": KT_PER_M_S,
    "M_S": KT_PER_M_S,
    "km/h": KT_PER_KM_H,
    "KM_H": KT_PER_KM_H,
}
LENGTHS = {"m": 1.0, "M": 1.0, "km": 1000.0, "KM": 1000.0, "[ft_i]": M_PER_FT, "FT": M_PER_FT}
HEIGHTS = {"[ft_i]": 1.0, "FT": 1.0, "ft": 1.0, "m": 1 / M_PER_FT, "M": 1 / M_PER_FT}
DEGREES = {"deg": 1.0}
CELSIUS = {"Cel": 1.0, "C": 1.0}
PRESSURES = {"hPa": 1.0, "HPA": 1.0, "Pa": 0.01}
_WRITTEN = {"m/s": "MPS", "M_S": "MPS", "km/h": "KMH", "KM_H": "KMH"}
_OPERATORS = {"ABOVE": "P", "BELOW": "M"}
_TENDENCY = {"UPWARD": "U", "DOWNWARD": "D", "NO_CHANGE": "N"}
_POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_NONE = "nothingOfOperationalSignificance"
_NOT_DETECTED = "notDetectedByAutoSystem"
# a value of the code is its number up to this relative difference
_SAME = 1e-9


def exact(written: LedgerEntry, numbers: dict[str, float], kind: str) -> LedgerEntry:
    """Put the document's numbers into an entry, and say those that the code has rounded.

    What cannot be written in the code, or lies below zero where nothing can, is in conflict.
    """
    below = any(value < 0 for name, value in numbers.items() if name not in ("c", "dew_c"))
    if below or written.group.status == NOT_DECODED:
        why = f"{kind} {'below zero' if below else 'that cannot be'}, not used"
        return entry(written.group.text, kind, CONFLICT, why, part=written.group.part)
    if written.group.status != DECODED or not written.numbers:
        return written
    rounded = written.numbers
    finer = {
        name: value
        for name, value in numbers.items()
        if not (isnan(value) or isclose(value, rounded.get(name, nan), rel_tol=_SAME, abs_tol=_SAME))
    }
    if not finer:
        return written
    group = written.group
    more = ", ".join(f"{value:.6g} {_UNITS.get(name, '')}".strip() for name, value in finer.items())
    told = Group(group.text, group.status, f"{group.meaning} (to be exact: {more})", group.part, group.kind)
    return LedgerEntry(told, {**rounded, **finer}, written.words)


_UNITS = {
    "kt": "kt",
    "gust_kt": "kt",
    "direction_deg": "°",
    "m": "m",
    "base_ft": "ft",
    "c": "°C",
    "dew_c": "°C",
    "hpa": "hPa",
    "low_m": "m",
    "high_m": "m",
}


def _whole(value: float, digits: int) -> str:
    """Write a number with so many digits, rounded half up as the code does, slashes for NaN."""
    if isnan(value):
        return "/" * digits
    return f"{floor(value + 0.5):0{digits}d}"


def _operator(doc: XmlDocument, parent: Element, name: str) -> str:
    element = doc.child(parent, name)
    doc.use(element)
    return "" if element is None else _OPERATORS.get(words(element), "")


def wind(doc: XmlDocument, element: Element | None, classify: Classify) -> list[LedgerEntry]:
    """Surface wind of an observation or a forecast, and its variation. element: surfaceWind, None where absent."""
    if element is None:
        return []
    inner = doc.child(element, "AerodromeSurfaceWind")
    if inner is None:
        inner = doc.child(element, "AerodromeSurfaceWindForecast")
    if inner is None:
        if len(element) == 0:
            doc.use(element)
        return [classify("/////KT")]
    direction = doc.number(doc.child(inner, "meanWindDirection"), DEGREES)
    speed_at = doc.child(inner, "meanWindSpeed")
    unit = attribute(speed_at, "uom") if speed_at is not None else ""
    per = SPEEDS.get(unit, 1.0)
    speed = doc.number(speed_at, SPEEDS)
    gust_at = doc.child(inner, "windGustSpeed")
    gust = doc.number(gust_at, SPEEDS)
    variable = attribute(inner, "variableWindDirection") in ("true", "1")
    where = "VRB" if variable else _whole(direction, 3)
    text = f"{where}{_operator(doc, inner, 'meanWindSpeedOperator').replace('M', '')}{_whole(speed / per, 2)}"
    above = _operator(doc, inner, "windGustSpeedOperator").replace("M", "")
    if gust_at is not None:
        text += f"G{above}{_whole(gust / per, 2)}"
    numbers = {"direction_deg": direction, "kt": speed, "gust_kt": gust}
    wind_entry = exact(classify(text + _WRITTEN.get(unit, "KT")), numbers, "wind")
    if direction > 360:
        wind_entry = changed(wind_entry, status=CONFLICT, meaning="wind from a direction above 360°, not used")
    entries = [wind_entry]
    clockwise, counter = (doc.child(inner, f"extreme{side}WindDirection") for side in ("Clockwise", "CounterClockwise"))
    if clockwise is not None and counter is not None:
        ends = doc.number(counter, DEGREES), doc.number(clockwise, DEGREES)
        entries.append(classify(f"{_whole(ends[0], 3)}V{_whole(ends[1], 3)}"))
    return entries


def visibility(doc: XmlDocument, parent: Element | None, classify: Classify) -> list[LedgerEntry]:
    """Prevailing and lowest visibility. parent: the element whose children they are, None where there is none."""
    if parent is None:
        return []
    element = doc.child(parent, "prevailingVisibility")
    entries = []
    if element is not None:
        value = doc.number(element, LENGTHS)
        more = _operator(doc, parent, "prevailingVisibilityOperator")
        if value >= 9999 and more != "M":
            read = classify("9999")
            entries.append(LedgerEntry(read.group, {"m": max(value, 10_000.0)}, read.words))
            if value > FARTHEST_SEEN_M:
                entries[-1] = changed(read, status=CONFLICT, meaning="visibility of more than 200 km, not used")
        else:
            text = f"{more if not isnan(value) else ''}{_whole(value, 4)}"
            entries.append(exact(classify(text), {"m": value}, "visibility"))
    element = doc.child(parent, "minimumVisibility")
    if element is not None:
        value = doc.number(element, LENGTHS)
        direction = doc.number(doc.child(parent, "minimumVisibilityDirection"), DEGREES)
        point = "" if isnan(direction) else _POINTS[int((direction % 360) / 45 + 0.5) % 8]
        lowest = exact(classify(_whole(value, 4) + point), {"m": value}, "minimum visibility")
        if lowest.kind == "visibility":
            text = lowest.group.text
            lowest = entry(
                text,
                "minimum visibility",
                DECODED,
                f"lowest {lowest.group.meaning}",
                lowest.numbers,
                (*lowest.words[:2], ""),
            )
        entries.append(lowest)
    return entries


def runway_visual_range(doc: XmlDocument, element: Element, classify: Classify) -> list[LedgerEntry]:
    """One runway's visual range. element: rvr."""
    inner = doc.child(element, "AerodromeRunwayVisualRange")
    if inner is None:
        return []
    runway = _runway(doc, inner)
    at = doc.child(inner, "meanRVR")
    value = doc.number(at, LENGTHS)
    more = _operator(doc, inner, "meanRVROperator")
    tendency = _TENDENCY.get(attribute(inner, "pastTendency"), "")
    text = f"R{runway}/{'' if isnan(value) else more}{_whole(value, 4)}{tendency}"
    return [exact(classify(text), {"low_m": value, "high_m": value}, "runway visual range")]


def _runway(doc: XmlDocument, inner: Element) -> str:
    at = doc.child(inner, "runway")
    name = doc.find(at, "designator")
    doc.use(at)
    return words(name) if name is not None else ""


def weather(doc: XmlDocument, elements: Iterable[Element], classify: Classify, mark: str = "") -> list[LedgerEntry]:
    """Weather codes. elements: presentWeather, recentWeather or weather; mark: "RE" before recent weather."""
    entries = []
    kind = "recent weather" if mark else "weather"
    for element in elements:
        doc.use(element)
        name = code(element) or words(element)
        if name:
            read = classify(mark + name.removeprefix(mark))
            if read.kind != kind:
                said = f"not understood as {kind}, not used"
                read = entry(read.group.text, kind, NOT_DECODED, said, part=read.group.part)
            entries.append(read)
        elif nil(element) == _NONE:
            if not mark:
                entries.append(classify("NSW"))
        else:
            entries.append(classify(mark + "//"))
    return entries


_NO_CLOUD = {_NONE: "NSC", _NOT_DETECTED: "NCD"}


def cloud(doc: XmlDocument, element: Element | None, classify: Classify) -> list[LedgerEntry]:
    """Cloud layers or vertical visibility. element: cloud, None where absent."""
    if element is None:
        return []
    inner = next((one for one in element if local(one).startswith("AerodromeCloud")), None)
    if inner is None:
        doc.use(element)
        return [classify(_NO_CLOUD.get(nil(element), "//////"))]
    entries = []
    hidden = doc.child(inner, "verticalVisibility")
    if hidden is not None:
        height = doc.number(hidden, HEIGHTS)
        entries.append(exact(classify(f"VV{_whole(height / 100, 3)}"), {"base_ft": height}, "vertical visibility"))
    for layer in doc.children(inner, "layer"):
        body = doc.child(layer, "CloudLayer")
        if body is None:
            doc.use(layer)
            entries.append(classify(_NO_CLOUD.get(nil(layer), "//////")))
            continue
        entries.append(_layer(doc, body, classify))
    if not entries:
        entries.append(classify("//////"))
    return entries


def _layer(doc: XmlDocument, body: Element, classify: Classify) -> LedgerEntry:
    amount, base, kind = (doc.child(body, name) for name in ("amount", "base", "cloudType"))
    doc.use(amount)
    doc.use(kind)
    cover = (code(amount) if amount is not None else "") or "///"
    if cover in ("SKC", "NSC", "NCD", "CLR"):
        doc.use(body)
        return classify(cover)
    height = doc.number(base, HEIGHTS)
    type_ = "" if kind is None else code(kind) or "///"
    return exact(classify(f"{cover}{_whole(height / 100, 3)}{type_}"), {"base_ft": height}, "cloud")


def temperatures(doc: XmlDocument, parent: Element, classify: Classify) -> list[LedgerEntry]:
    """Air temperature and dew point of an observation. parent: the observation."""
    air, dew = doc.child(parent, "airTemperature"), doc.child(parent, "dewpointTemperature")
    if air is None and dew is None:
        return []
    warm, moist = doc.number(air, CELSIUS), doc.number(dew, CELSIUS)
    return [exact(classify(f"{signed(warm)}/{signed(moist)}"), {"c": warm, "dew_c": moist}, "temperature")]


def signed(value: float) -> str:
    """Write a temperature as the code does: M for below zero, M00 from −0.5 to below 0."""
    if isnan(value):
        return "//"
    rounded = floor(value + 0.5)
    negative = rounded < 0 or (rounded == 0 and copysign(1.0, value) < 0)
    return f"{'M' if negative else ''}{abs(rounded):02d}"


def pressure(doc: XmlDocument, element: Element | None, classify: Classify) -> list[LedgerEntry]:
    """QNH. element: qnh, None where absent."""
    if element is None:
        return []
    value = doc.number(element, PRESSURES)
    text = f"Q{'////' if isnan(value) else f'{floor(value + 1e-6):04d}'}"
    return [exact(classify(text), {"hpa": value}, "pressure")]


def wind_shear(doc: XmlDocument, element: Element | None, classify: Classify) -> list[LedgerEntry]:
    """Low-level wind shear. element: windShear, None where absent."""
    if element is None:
        return []
    inner = doc.find(doc.resolved(element), "AerodromeWindShear")
    why = nil(element)
    if inner is None and why:
        # that there is nothing to say is said; what is missing is told like all else that was not read
        if why not in ("missing", "unknown", "withheld"):
            doc.use(element)
        return []
    doc.use(element)
    if inner is not None and attribute(inner, "allRunways") in ("true", "1"):
        return [classify("WS ALL RWY")]
    parts = [] if inner is None else list(inner.iter())
    names = [name for one in parts if local(one) == "designator" and (name := words(one))]
    entries = [classify(f"WS R{name}") for name in names]
    if len(names) < max(1, sum(local(one) == "runway" for one in parts)):
        # whose it is stands elsewhere or nowhere: it is told all the same
        entries.append(entry("WS", "wind shear", CONFLICT, "wind shear on a runway that is not named"))
    return entries


def noted(doc: XmlDocument, elements: Iterable[Element], kind: str) -> list[LedgerEntry]:
    """Elements whose meaning is known and not used, each with what stands in it."""
    entries = []
    for element in elements:
        inside = [
            " ".join(f"{words(one) or code(one)} {attribute(one, 'uom')}".split())
            for one in element.iter()
            if len(one) == 0
        ]
        doc.use(element)
        text = " ".join((local(element), *(part for part in inside if part)))
        entries.append(entry(text, kind, NOTED, f"{kind}, not used"))
    return entries


def forecast_groups(doc: XmlDocument, element: Element, classify: Classify) -> list[LedgerEntry]:
    """Wind, visibility, weather and cloud of a forecast or trend, in the order of the code."""
    if attribute(element, "cloudAndVisibilityOK") in ("true", "1"):
        return [*wind(doc, doc.child(element, "surfaceWind"), classify), classify("CAVOK")]
    return [
        *wind(doc, doc.child(element, "surfaceWind"), classify),
        *visibility(doc, element, classify),
        *weather(doc, doc.children(element, "weather"), classify),
        *cloud(doc, doc.child(element, "cloud"), classify),
    ]


def day_hour(moment: datetime, *, end: bool = False) -> str:
    """Write a time as day and hour; an end at midnight as hour 24 of the day before."""
    if end and moment.hour == 0 and moment.minute == 0:
        before = moment.fromtimestamp(moment.timestamp() - 1, moment.tzinfo)
        return f"{before:%d}24"
    return f"{moment:%d%H}"


def trend_time(doc: XmlDocument, element: Element) -> list[str]:
    """Write the time of a trend: FM, TL or AT with hour and minute, as its indicator says.

    A time that cannot be read, or that the indicator names and nobody gives, is left for what was not decoded.
    """
    time_element = doc.child(element, "phenomenonTime")
    indicator = doc.child(element, "timeIndicator")
    begin, end = times(doc, time_element)
    indicator_code = words(indicator) if indicator is not None else ""
    wanted = {"FROM": (begin,), "AT": (begin,), "UNTIL": (end,), "FROM_UNTIL": (begin, end)}.get(
        indicator_code, (None,)
    )
    if time_element is not None and nil(time_element):
        doc.use(time_element)
        doc.use(indicator)
    elif time_element is not None and (begin is not None or end is not None):
        positions = [one for one in time_element.iter() if local(one).endswith("Position")]
        unread = {id(one) for one in positions if moment(words(one)) is None}
        doc.used.update(id(one) for one in time_element.iter() if id(one) not in unread)
    if None not in wanted:
        doc.use(indicator)
    written = []
    if begin is not None and indicator_code in ("FROM", "FROM_UNTIL"):
        written.append(f"FM{begin:%H%M}")
    if begin is not None and indicator_code == "AT":
        written.append(f"AT{begin:%H%M}")
    if end is not None and indicator_code in ("UNTIL", "FROM_UNTIL"):
        written.append(f"TL{end:%H%M}")
    return written

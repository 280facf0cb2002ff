"""IWXXM METAR, SPECI and TAF read into Reports and Forecasts, single or collected, any version since 3.0.

A report is written out as the groups of the traditional code with the exact values of the XML, and settled by the same
code as a report in text: the same report gives the same reading, groups and all. What has no such group stays as name
and value of its element. A report that its centre could not translate carries the text, which is read as text.
Source: iwxxm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from xml.etree.ElementTree import Element

from advisor.errors import ReportError
from advisor.report.code.assemble import Assembly
from advisor.report.code.entries import LONGEST_TOKEN, LedgerEntry, changed, entry
from advisor.report.code.groups import body
from advisor.report.code.ledger import header_entry, missing, modifier
from advisor.report.code.trend import read_trends
from advisor.report.code.words import united_states
from advisor.report.forecast import Forecast
from advisor.report.model import DECODED, NOT_DECODED, NOTED, Group, Report
from advisor.report.xml import groups as g
from advisor.report.xml.document import (
    XmlDocument,
    attribute,
    local,
    looks_like,
    nil,
    parse,
    refuse,
    times,
    version,
    words,
)
from advisor.report.xml.forecast import read_taf

__all__ = ["looks_like", "read"]

_KINDS = ("METAR", "SPECI", "TAF")
_SAID = {"METAR": "routine report", "SPECI": "special report"}
_MISSING = {"//": "weather", "//////": "cloud", "///": "cloud", "/////": "temperature"}
_TRENDS = {
    "BECOMING": ("BECMG", "trend: becoming"),
    "TEMPORARY_FLUCTUATIONS": ("TEMPO", "trend: at times"),
    "NO_SIGNIFICANT_CHANGES": ("NOSIG", "trend: no significant change in the next 2 hours"),
}
_NO_CHANGE = ("noSignificantChange", "NOSIG")


def read(xml: str | bytes) -> list[Report | Forecast]:
    """Read every METAR, SPECI and TAF of an IWXXM document, in order.

    Parameters
    ----------
    xml
        One report or a collected bulletin, at most 5 MB.

    Returns
    -------
    list[Report | Forecast]
        Each raw text is the report written out in the traditional code.

    Raises
    ------
    ReportError
        For what is no XML, has a document type or entities, is too large or too deep, holds no report, or a report
        without station or time.

    References
    ----------
    iwxxm
    """
    root = parse(xml)
    document = XmlDocument(root)
    elements = list(_reports(root))
    if not elements:
        refuse("no METAR, SPECI or TAF")
    reports: list[Report | Forecast] = []
    for count, element in enumerate(elements, 1):
        where = "XML" if len(elements) == 1 else f"XML report {count} of {len(elements)}"
        old = version(element)
        if old[:2] in ("1.", "2.") or old in ("1", "2"):
            raise ReportError(f"IWXXM {old} is too old", where=where, hint="versions since 3.0 are read")
        reports.append(_read(document, element, where))
    return reports


def _reports(root: Element) -> Iterator[Element]:
    """Yield the reports, none of them inside another."""
    if local(root) in _KINDS:
        yield root
        return
    for child in root:
        yield from _reports(child)


def _read(doc: XmlDocument, element: Element, where: str) -> Report | Forecast:
    kind = local(element)
    aerodrome = doc.resolved(doc.child(element, "aerodrome"))
    name = doc.find(aerodrome, "locationIndicatorICAO")
    if name is None:
        name = doc.find(aerodrome, "designator")
    station = words(name).upper() if name is not None else ""
    if len(station) != 4 or not station.isascii() or not station.isalnum():
        raise ReportError("no station indicator", where=where, hint="aerodrome with its four letters")
    issue = times(doc, doc.child(element, "issueTime"))[0]
    observed = times(doc, doc.child(element, "observationTime"))[0]
    issued = issue if kind == "TAF" else observed or issue
    if issued is None:
        raise ReportError(
            f"no time of {'issue' if kind == 'TAF' else 'observation'} for {station}",
            where=where,
            hint="a time with its offset, such as 2012-08-22T16:30:00Z",
        )
    for part in ("aerodrome", "issueTime", "observationTime"):
        doc.use(doc.child(element, part))
    text = attribute(element, "translationFailedTAC")
    if text or "translationFailedTAC" in {key.rpartition("}")[2] for key in element.attrib}:
        return _untranslated(kind, station, issued, text)
    if kind == "TAF":
        return read_taf(doc, element, station, issued, where)
    return _report(doc, element, station, issued)


def _untranslated(kind: str, station: str, issued: datetime, text: str) -> Report | Forecast:
    """Read the text of a report that could not be translated; where that fails too, keep it as one group."""
    # loaded here: only a failed translation needs the readers of text
    from advisor.report import metar, taf

    reader: Callable[..., Report | Forecast] = taf.read if kind == "TAF" else metar.read
    try:
        return reader(text, now=issued)
    except ReportError as error:
        groups = (Group(" ".join(text.split()) or "(no text)", NOT_DECODED, f"could not be translated: {error.what}"),)
        if kind == "TAF":
            return Forecast(kind, station, issued, issued, issued, groups[0].text, groups)
        return Report(kind, station, issued, groups[0].text, groups, weather_missing=True, recent_missing=True)


def _report(doc: XmlDocument, element: Element, station: str, issued: datetime) -> Report:
    kind = local(element)
    us = united_states(station)
    assembly = Assembly(issued)
    for read in _header(doc, element, kind, station, issued):
        assembly.take(read)
    observation = doc.child(element, "observation")
    inner = doc.find(observation, "MeteorologicalAerodromeObservation")
    if inner is None:
        doc.use(observation)
        assembly.take(body("NIL", us))
    else:
        for read in _observed(doc, inner, lambda text: _classify(text, us)):
            assembly.take(read)
    assembly.trend.clear()
    for read in _trends(doc, element, us):
        assembly.take(read)
    for text in doc.leftovers(element):
        assembly.take(entry(text, "", NOT_DECODED, "an element that is not understood"))
    assembly.finish()
    fields = assembly.fields
    for name in ("temperature", "dew_point"):
        value = fields.get(f"{name}_body_c", 0.0)
        if value == value and value != round(value):
            fields[f"{name}_doubt_c"] = 0.05
    return Report(
        kind=kind,
        station=station,
        issued=issued,
        raw=" ".join(read.text for read in assembly.groups),
        groups=tuple(assembly.groups),
        trends=read_trends(assembly.trend, issued),
        **fields,
    )


def _classify(text: str, us: bool) -> LedgerEntry:
    if len(text) > LONGEST_TOKEN:
        return entry(text, "", NOT_DECODED, "not understood")
    kind = _MISSING.get(text)
    return missing(text, kind) if kind else body(text, us)


def _header(doc: XmlDocument, element: Element, kind: str, station: str, issued: datetime) -> list[LedgerEntry]:
    time = f"{issued:%d%H%M}Z"
    words_ = [header_entry(kind, "type", _SAID[kind])]
    status = attribute(element, "reportStatus") or attribute(element, "status")
    if status in ("CORRECTION", "AMENDMENT"):
        words_ += [one for one in [modifier("COR")] if one is not None]
    words_.append(header_entry(station, "station", f"station {station}"))
    words_.append(header_entry(time, "time", f"observed on day {time[:2]} at {time[2:4]}:{time[4:6]} UTC"))
    if attribute(element, "automatedStation") in ("true", "1"):
        words_ += [one for one in [modifier("AUTO")] if one is not None]
    return words_ + [entry(text, "usage", NOTED, said, part="header") for text, said in usage(element)]


def usage(element: Element) -> list[tuple[str, str]]:
    """Say where a report is a test or an exercise and not for use."""
    if attribute(element, "permissibleUsage") != "NON-OPERATIONAL":
        return []
    why = attribute(element, "permissibleUsageReason")
    return [(f"NON-OPERATIONAL {why}".strip(), "a test or an exercise: not for use")]


def _observed(doc: XmlDocument, inner: Element, classify: g.Classify) -> list[LedgerEntry]:
    """Write out an observation in the order of the code."""
    entries = g.wind(doc, doc.child(inner, "surfaceWind"), classify)
    if attribute(inner, "cloudAndVisibilityOK") in ("true", "1"):
        entries.append(classify("CAVOK"))
    else:
        visibility = doc.child(inner, "visibility")
        seen = g.visibility(doc, doc.child(visibility, "AerodromeHorizontalVisibility"), classify)
        if visibility is not None and not seen:
            doc.use(visibility)
            seen = [classify("////")]
        entries += seen
        for range_ in doc.children(inner, "rvr"):
            entries += g.runway_visual_range(doc, range_, classify)
        entries += g.weather(doc, doc.children(inner, "presentWeather"), classify)
        entries += g.cloud(doc, doc.child(inner, "cloud"), classify)
    entries += g.temperatures(doc, inner, classify)
    entries += g.pressure(doc, doc.child(inner, "qnh"), classify)
    entries += g.weather(doc, doc.children(inner, "recentWeather"), classify, "RE")
    entries += g.wind_shear(doc, doc.child(inner, "windShear"), classify)
    entries += g.noted(doc, doc.children(inner, "seaCondition"), "sea state")
    return entries + g.noted(doc, doc.children(inner, "runwayState"), "runway state")


def _trends(doc: XmlDocument, element: Element, us: bool) -> Iterator[LedgerEntry]:
    for trend in doc.children(element, "trendForecast"):
        inner = doc.child(trend, "MeteorologicalAerodromeTrendForecast")
        if inner is None:
            doc.use(trend)
            if nil(trend) in _NO_CHANGE:
                yield _trend_word("NO_SIGNIFICANT_CHANGES")
            continue
        indicator = attribute(inner, "changeIndicator")
        if indicator not in _TRENDS:
            continue
        yield _trend_word(indicator)
        for text in g.trend_time(doc, inner):
            yield changed(body(text, us), part="trend")
        for ledger_entry in g.forecast_groups(doc, inner, lambda text: _classify(text, us)):
            yield changed(ledger_entry, part="trend")
    for ledger_entry in g.noted(doc, doc.children(element, "extension"), "national addition"):
        yield ledger_entry


def _trend_word(indicator: str) -> LedgerEntry:
    word, said = _TRENDS[indicator]
    return entry(word, "trend", DECODED, said, None, (word,), "trend")

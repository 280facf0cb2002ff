"""One IWXXM TAF read into a Forecast, written out as the groups of the traditional code.

Source: iwxxm; wmo-306-fm-51.
"""

from __future__ import annotations

from datetime import datetime
from math import isnan, nan
from xml.etree.ElementTree import Element

from advisor.errors import ReportError
from advisor.report.code.group.air import plausible
from advisor.report.code.taf.groups import IMPLAUSIBLE_EXTREME, group
from advisor.report.code.taf.stretch import Stretch, settle
from advisor.report.code.taf.times import LONGEST_VALIDITY
from advisor.report.code.taf.words import (
    CANCELLED_SAID,
    NIL_SAID,
    extreme_said,
    said_change,
    said_from,
    said_issued,
    said_valid,
)
from advisor.report.code.words import united_states
from advisor.report.forecast import Extreme, Forecast
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group
from advisor.report.xml import groups as g
from advisor.report.xml.document import XmlDocument, attribute, nil, times

_INDICATORS = {
    "BECOMING": "BECMG",
    "TEMPORARY_FLUCTUATIONS": "TEMPO",
    "PROBABILITY_30": "PROB30",
    "PROBABILITY_40": "PROB40",
    "PROBABILITY_30_TEMPORARY_FLUCTUATIONS": "PROB30 TEMPO",
    "PROBABILITY_40_TEMPORARY_FLUCTUATIONS": "PROB40 TEMPO",
}
_UNKNOWN = "TEMPO"
MOST_CHANGES = 200


def read_taf(doc: XmlDocument, element: Element, station: str, issued: datetime, where: str) -> Forecast:
    """Read one TAF element.

    station, issued: read before; issued is aware UTC. where: names the report in an error. Raises ReportError where a
    forecast has no validity, or more change groups than any forecast has.
    """
    return _Reader(doc, element, station, issued, where).read()


class _Reader:
    """Reads one TAF element and keeps its groups in the order of the code."""

    def __init__(self, doc: XmlDocument, element: Element, station: str, issued: datetime, where: str) -> None:
        self.where = where
        self.doc, self.element, self.station, self.issued = doc, element, station, issued
        self.us = united_states(station)
        self.groups: list[Group] = []
        self.periods: list[Stretch] = []
        self.changes: list[Stretch] = []
        self.extremes: list[Extreme] = []

    def add(self, text: str, kind: str, meaning: str, part: str = "header", status: str = DECODED) -> None:
        """Keep a group."""
        self.groups.append(Group(text, status, meaning, part, kind))

    def read(self) -> Forecast:
        """Read header, base, changes and temperatures; what nothing has used is kept at the end."""
        doc, element = self.doc, self.element
        status = attribute(element, "reportStatus") or attribute(element, "status")
        amended, corrected = status == "AMENDMENT", status == "CORRECTION"
        cancelled = attribute(element, "isCancelReport") in ("true", "1") or status == "CANCELLATION"
        self.add("TAF", "type", "aerodrome forecast")
        if amended or corrected:
            self.add("AMD" if amended else "COR", "modifier", "amended" if amended else "corrected")
        self.add(self.station, "station", f"station {self.station}")
        time = f"{self.issued:%d%H%M}Z"
        self.add(time, "time", said_issued(time))
        if attribute(element, "permissibleUsage") == "NON-OPERATIONAL":
            why = attribute(element, "permissibleUsageReason")
            self.add(f"NON-OPERATIONAL {why}".strip(), "usage", "a test or an exercise: not for use", status=NOTED)
        base = doc.child(element, "baseForecast")
        inner = doc.find(base, "MeteorologicalAerodromeForecast")
        start, end = self._validity(cancelled)
        if inner is not None and not cancelled and start == end:
            raise ReportError(
                f"no validity for {self.station}",
                where=self.where,
                hint="validPeriod with its begin and end, at most 72 hours apart",
            )
        empty = inner is None and not cancelled
        if empty:
            doc.use(base)
            self.add("NIL", "modifier", NIL_SAID)
        if cancelled:
            self.add("CNL", "modifier", CANCELLED_SAID)
        if inner is not None and not cancelled:
            self._base(inner, start, end)
            change_elements = doc.children(element, "changeForecast")
            if len(change_elements) > MOST_CHANGES:
                raise ReportError(
                    f"{len(change_elements)} change forecasts in one TAF, at most {MOST_CHANGES}", where=self.where
                )
            for change in change_elements:
                self._change(doc.find(change, "MeteorologicalAerodromeForecast"), change, start, end)
        self._rest()
        periods, changes = settle(self.periods, self.changes, start, end) if self.periods else ((), ())
        return Forecast(
            "TAF",
            self.station,
            self.issued,
            start,
            end,
            " ".join(one.text for one in self.groups),
            tuple(self.groups),
            amended,
            corrected,
            cancelled,
            empty,
            periods,
            changes,
            tuple(self.extremes),
        )

    def _validity(self, cancelled: bool) -> tuple[datetime, datetime]:
        """Read the validity; without one, or with one that cannot be read, the forecast holds for no time."""
        doc = self.doc
        period_element = doc.child(self.element, "cancelledReportValidPeriod") if cancelled else None
        if period_element is None:
            period_element = doc.child(self.element, "validPeriod")
        if period_element is None:
            period_element = doc.child(self.element, "validTime")
        start, end = times(doc, period_element)
        if start is None or end is None or not start < end <= start + LONGEST_VALIDITY:
            return self.issued, self.issued
        doc.use(period_element)
        if doc.child(self.element, "baseForecast") is not None or cancelled:
            self.add(f"{g.day_hour(start)}/{g.day_hour(end, end=True)}", "validity", said_valid(start, end))
        return start, end

    def _base(self, inner: Element, start: datetime, end: datetime) -> None:
        self.doc.use(self.doc.child(inner, "phenomenonTime"))
        stretch = Stretch("", "base", start, end)
        self.periods.append(stretch)
        self._gather(inner, stretch, "base")
        self._temperatures(inner, "base")

    def _gather(self, inner: Element, stretch: Stretch, part: str) -> None:
        for one in g.forecast_groups(self.doc, inner, lambda text: group(text, self.us, part)):
            self.groups.append(stretch.gathering.take(one).group)

    def _change(self, inner: Element | None, change: Element, valid_from: datetime, valid_to: datetime) -> None:
        doc = self.doc
        if inner is None:
            if nil(change):
                doc.use(change)
            return
        time_element = doc.child(inner, "phenomenonTime")
        start, end = times(doc, time_element)
        name = attribute(inner, "changeIndicator")
        if start is not None and end is not None:
            doc.use(time_element)
        if name == "FROM":
            self._from(inner, start, valid_from, valid_to)
            return
        indicator = _INDICATORS.get(name, _UNKNOWN)
        if start is None or end is None or not (start < end and start < valid_to and end > valid_from):
            start = end = None
        written = "" if start is None or end is None else f" {g.day_hour(start)}/{g.day_hour(end, end=True)}"
        label = indicator + written
        meaning, status = said_change(indicator, start, end), DECODED if written else CONFLICT
        if name not in _INDICATORS:
            meaning, status = f"{meaning}; its kind of change ({name or 'none'}) is not known", CONFLICT
        self.add(label, "change", meaning, indicator, status)
        chance = float(indicator[4:6]) / 100 if indicator.startswith("PROB") else nan
        stretch = Stretch(indicator, label, start, end, probability=chance, period=len(self.periods) - 1)
        self.changes.append(stretch)
        self._gather(inner, stretch, indicator)
        self._temperatures(inner, indicator)

    def _from(self, inner: Element, start: datetime | None, valid_from: datetime, valid_to: datetime) -> None:
        if start is None or not valid_from <= start < valid_to:
            self.add("FM", "from", said_from(None), "FM", CONFLICT)
            stretch = Stretch("FM", "FM", None, None, period=len(self.periods) - 1)
            self.changes.append(stretch)
        else:
            label = f"FM{start:%d%H%M}"
            self.add(label, "from", said_from(start), "FM")
            stretch = Stretch("FM", label, start, None)
            self.periods.append(stretch)
        self._gather(inner, stretch, "FM")
        self._temperatures(inner, "FM")

    def _temperatures(self, inner: Element, part: str) -> None:
        """Read the highest and lowest temperatures, with their times."""
        doc = self.doc
        for holder in doc.children(inner, "temperature"):
            for temperature_element in holder:
                for kind, name in (("TX", "maximumAirTemperature"), ("TN", "minimumAirTemperature")):
                    value = doc.number(doc.child(temperature_element, name), g.CELSIUS)
                    time = doc.child(temperature_element, f"{name}Time")
                    moment = times(doc, time)[0]
                    if isnan(value) or moment is None:
                        continue
                    doc.use(time)
                    text, meaning = (
                        f"{kind}{g.signed(value)}/{moment:%d%H}Z",
                        extreme_said(kind, value, moment.day, moment.hour),
                    )
                    if not plausible(value, nan):
                        self.add(text, "temperature", f"{meaning}: {IMPLAUSIBLE_EXTREME}, not used", part, CONFLICT)
                        continue
                    self.extremes.append(Extreme(kind, value, moment))
                    self.add(text, "temperature", meaning, part)

    def _rest(self) -> None:
        doc = self.doc
        for one in g.noted(doc, doc.children(self.element, "extension"), "national addition"):
            self.groups.append(one.group)
        for text in doc.leftovers(self.element):
            self.add(text, "", "an element that is not understood", "base", NOT_DECODED)

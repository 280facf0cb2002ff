"""Any text with reports in it: METAR, SPECI and TAF in the traditional code, bulletins, or an IWXXM document."""

from __future__ import annotations

import re
from datetime import datetime

from advisor.errors import ReportError
from advisor.report import metar
from advisor.report.code.bulletin import kind, split
from advisor.report.forecast import Forecast
from advisor.report.model import Report

_HALF_A_SIGN = re.compile("[\ud800-\udfff]")


def read_all(text: str, *, now: datetime) -> list[Report | Forecast]:
    """Every report and forecast of a text, in its order.

    text: as above; now: aware, gives month and year. Raises ReportError where one cannot be read, or there is none.
    """
    if not text.isascii() and _HALF_A_SIGN.search(text):
        # a byte that was no UTF-8 on its way here; it could not be written again
        raise ReportError("is not text", where="report", hint="give a METAR or SPECI in UTF-8")
    if _may_be_xml(text):
        # loaded here: most texts are not XML
        from advisor.report import iwxxm

        if iwxxm.looks_like(text):
            return iwxxm.read(text)
    reports: list[Report | Forecast] = []
    for report in split(text):
        if kind(report) == "TAF":
            from advisor.report import taf

            reports.append(taf.read(report, now=now))
        else:
            reports.append(metar.read(report, now=now))
    if not reports:
        raise ReportError("no report in it", where="report", hint="a report begins as in METAR ZZZA 100550Z")
    return reports


def _may_be_xml(text: str) -> bool:
    return "<" in text[:4000]

"""Reports in order of time, what was said at each of them, and what the following ones answered.

The advisor is used as it is sold: outlook.build for the numbers of the cases, advise for the lines. What fell and what
blew is told from the codes of the reports by patterns of this file, not by the advisor's own flags.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor import advise
from advisor import places as place
from advisor.brief.model import Brief
from advisor.conditions import Departure, Place, Windows
from advisor.departure import from_unix
from advisor.outlook import build as outlook
from advisor.outlook.cases import Site
from advisor.report import metar
from advisor.report.model import Report

Floats = NDArray[np.float64]
HOUR_S = 3600
# frozen or freezing, at the station and falling: nothing in the vicinity, blown or drifting
FROZEN = re.compile(r"(?!.*(?:VC|BL|DR))(?:.*(?:SN|SG|PL|PE|GR|GS|IC)|.*FZ(?:RA|DZ|UP))")
FOG = re.compile(r"(?:FZ)?FG")
STORM = re.compile(r"(?:RE)?[+-]?(?:VC)?TS")
FROST = {"frost_margin_c", "tank_frost_margin_c"}
STRONG_GUST_KT, STRONG_WIND_KT = 28.0, 20.0


@dataclass(frozen=True)
class Series:
    """One station's reports in order of time."""

    label: str
    place: Place
    reports: tuple[Report, ...]

    @cached_property
    def unix_s(self) -> Floats:
        """When each report was issued."""
        return np.array([report.issued.timestamp() for report in self.reports])

    def between(self, at: int, first_min: float, last_min: float) -> range:
        """Which reports were issued from first_min to last_min after the one at `at`; negative is before it."""
        start, end = self.unix_s[at] + 60 * first_min, self.unix_s[at] + 60 * last_min
        return range(
            int(np.searchsorted(self.unix_s, start, side="left")), int(np.searchsorted(self.unix_s, end, side="right"))
        )

    def answered(self, at: int, minutes: float) -> bool:
        """Whether reports go on until that long after the one at `at`, none of them over 70 minutes after the last."""
        times = self.unix_s[at : self.between(at, 0, minutes + 60).stop]
        return bool(times[-1] >= times[0] + 60 * minutes and np.diff(times).max() <= 70 * 60)


def read(path: Path) -> list[Series]:
    """The stations of a file of reports, one JSON object a line: station, valid, raw. Labels A, B, … as they come."""
    found: dict[str, list[Report]] = {}
    with path.open(encoding="utf-8") as file:
        for line in file:
            row = json.loads(line)
            report = metar.read(row["raw"], now=datetime.fromisoformat(row["valid"]))
            found.setdefault(row["station"], []).append(report)
    series = []
    for number, (station, reports) in enumerate(found.items()):
        where = place.look_up(station)
        if where is None:
            raise SystemExit(f"the position of {station} is not known")
        series.append(Series("ABCDEFGH"[number], where, tuple(sorted(reports, key=lambda one: one.issued))))
    return series


def bands(series: Series, at: int, names: Sequence[str], unix_s: Floats) -> dict[str, tuple[Floats, Floats]]:
    """Lowest and highest over the cases of one report alone at later times, NaN where any case is not known."""
    now, end = int(series.unix_s[at]), int(unix_s.max())
    asked = Departure(now, series.place, Windows((now, end), (now, end), end, end))
    times = [int(moment) for moment in unix_s]
    conditions = outlook.build([series.reports[at]], asked, site=Site(0.0, 0.0), also=times)
    column = np.searchsorted(conditions.unix_s, unix_s)
    tables = {name: conditions.columns[name][:, column] for name in names}
    return {name: (table.min(axis=0), table.max(axis=0)) for name, table in tables.items()}


def brief_in_an_hour(series: Series, at: int, *, earlier_min: float = 0) -> Brief:
    """The brief at a report, off-block an hour later, usual windows. earlier_min: how far back reports are given."""
    given = [series.reports[i] for i in series.between(at, -earlier_min, 0)]
    now = int(series.unix_s[at])
    return advise(given, now=from_unix(now), off_block=from_unix(now + HOUR_S), place=series.place)


def brief_of_two_hours(series: Series, at: int) -> Brief:
    """The brief at a report alone, outside and with doors open from now to off-block two hours later."""
    now = int(series.unix_s[at])
    span = (from_unix(now), from_unix(now + 2 * HOUR_S))
    return advise(
        [series.reports[at]], now=span[0], off_block=span[1], place=series.place, walk_round=span, doors_open=span
    )


def told(brief: Brief, *lines: str) -> str:
    """How the surest of these lines stands in a brief: its status, or "silent"."""
    found = [line.status for line in brief.advice if line.id in lines]
    return min(found, key=("expected", "likely", "possible", "cannot tell").index, default="silent")


def warned(brief: Brief, *lines: str) -> bool:
    """Whether any of these lines is at least possible."""
    return told(brief, *lines) in ("expected", "likely", "possible")


def for_frost_alone(brief: Brief, line: str) -> bool:
    """Whether a line stands for a frost margin alone: no flag or code is among its reasons."""
    reasons = {item.quantity for one in brief.advice if one.id == line for item in one.because}
    return bool(reasons & FROST) and reasons <= FROST | {"air_temperature_c"}


def falls_frozen(report: Report) -> bool:
    """Whether frozen or freezing precipitation falls at the station."""
    return any(FROZEN.match(code) for code in report.weather)


def foggy(report: Report) -> bool:
    """Whether there is fog, freezing or not; patches, shallow and distant fog do not count."""
    return any(FOG.fullmatch(code) for code in report.weather)


def stormy(report: Report) -> bool:
    """Whether there is a thunderstorm at the station or in its vicinity."""
    return any(STORM.match(code) for code in report.weather)


def strongest_kt(report: Report) -> float:
    """The reported gust, else the mean wind: no more is known of what blew."""
    return report.gust_kt if np.isfinite(report.gust_kt) else report.wind_kt


def gusty(report: Report) -> bool:
    """Whether 28 kt or more is reported, as gust, mean wind, or peak wind of the last hour in the remarks."""
    return strongest_kt(report) >= STRONG_GUST_KT or report.remarks.peak_wind_kt >= STRONG_GUST_KT


def strong(report: Report) -> bool:
    """What the strong-wind line is about: a mean of 20 kt or a gust of 28 kt."""
    return report.wind_kt >= STRONG_WIND_KT or gusty(report)


def said_ended(report: Report) -> bool:
    """Whether a report itself says that something frozen fell within two hours before it: RE groups and remarks."""
    events = [
        code
        for code, _, moment in report.remarks.precipitation_events
        if (report.issued - moment).total_seconds() <= 2 * HOUR_S
    ]
    recent = any(FROZEN.match(code) for code in (*report.recent_weather, *events))
    return recent or any(hours == 1 for hours, _ in report.remarks.ice_accretion_mm)


def dry(report: Report) -> bool:
    """Nothing in the air and nothing that fell lately, by the report itself."""
    return not (report.weather or report.weather_missing or report.recent_weather)

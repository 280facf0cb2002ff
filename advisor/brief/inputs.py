"""What goes into a brief or a plan: texts read, the place found, the reports and the forecast to go by, what was asked.

One way from reports to derived conditions, for a brief and for a night of departures alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import nan

from advisor.conditions import Airframe, Conditions, Departure, Place
from advisor.departure import WindowPlan, from_unix, windows_of
from advisor.errors import DepartureError, ReportError
from advisor.outlook import lanes, series, stations
from advisor.outlook.build import build
from advisor.outlook.cases import Site
from advisor.outlook.stations import Gazetteer
from advisor.physics.derive import derive
from advisor.quantities import read_quantity
from advisor.report import reading
from advisor.report.forecast import Forecast
from advisor.report.model import DECODED, Report

Moment = str | datetime
Span = str | tuple[datetime, datetime]


@dataclass(frozen=True, kw_only=True)
class BriefAsked:
    """What was asked, read but without windows: they may need a second look once treatment is known to be likely.

    Times in seconds since 1970 UTC; given: windows as people wrote them, by name.
    """

    now: int
    off_block: int
    place: Place
    heading_deg: float
    parked_since: int | None
    treated_at: int | None
    seen: str | None
    fuel_temperature_c: float
    fuel_fill_pct: float
    looked_at: int | None
    given: Mapping[str, Span]
    take_off: Moment | None

    def departure(self, plan: WindowPlan, *, treated: bool) -> tuple[Departure, tuple[str, ...]]:
        """The departure with its windows, and what has to be said about them."""
        windows, notes = windows_of(
            self.off_block, self.now, plan, treated=treated, given=self.given, take_off=self.take_off
        )
        departure = Departure(
            self.now,
            self.place,
            windows,
            heading_deg=self.heading_deg,
            parked_since=self.parked_since,
            treated_at=self.treated_at,
            seen=self.seen,
            fuel_temperature_c=self.fuel_temperature_c,
            fuel_fill_pct=self.fuel_fill_pct,
            looked_at=self.looked_at,
        )
        return departure, notes


@dataclass(frozen=True, kw_only=True)
class Weather:
    """What there is to go by: all that was read, the station's reports and the forecast that are used, what to say.

    read: every report and forecast given; used: of the station gone by, those that were out at now, in any order;
    site: how the station lies to the place. notes: on stations, clocks and forecasts.
    """

    read: tuple[Report | Forecast, ...]
    used: tuple[Report, ...]
    forecast: Forecast | None
    site: Site
    place: Place
    now: int
    notes: tuple[str, ...]

    @property
    def newest(self) -> Report | None:
        """The report to go by, None where none has anything to go by."""
        return series.newest(self.used)

    @property
    def indicators(self) -> tuple[str, ...]:
        """Where rules for stations hold: at the place's own indicator, and at the station gone by."""
        named = [self.place.indicator, *(report.station for report in self.used)]
        if self.forecast is not None:
            named.append(self.forecast.station)
        return tuple(dict.fromkeys(one for one in named if one))


def months(start_s: int, end_s: int) -> tuple[int, ...]:
    """The months that a time of some hours touches, 1 to 12, in UTC. Seconds since 1970 UTC."""
    return tuple(dict.fromkeys((from_unix(start_s).month, from_unix(end_s).month)))


def weather(
    reports: Sequence[Report],
    forecasts: Sequence[Forecast],
    place: Place,
    *,
    now: int,
    until: int,
    gazetteer: Gazetteer,
) -> Weather:
    """The reports and the forecast to go by. until: what a forecast should cover, seconds since 1970 UTC.

    Raises ReportError where there is no report to go by and no forecast that can be used.
    """
    station, site, on_stations = stations.choose(reports, forecasts, place, gazetteer)
    of_station = tuple(report for report in reports if report.station == station)
    used, on_clocks = stations.timely(of_station, now)
    forecast, on_forecasts = lanes.usable(forecasts, station, now, now, until)
    if forecast is None and on_forecasts and series.newest(used) is None:
        # with nothing else to go by, why the forecast cannot be used is what is wrong
        hint = "give a METAR, or a forecast that covers the time from now to take-off"
        raise ReportError(on_forecasts[-1].removesuffix("."), where="forecast", hint=hint)
    return Weather(
        read=(*reports, *forecasts),
        used=used,
        forecast=forecast,
        site=site,
        place=place,
        now=now,
        notes=on_stations + on_clocks + on_forecasts,
    )


def conditions(known: Weather, departure: Departure, airframe: Airframe, also: Sequence[int] = ()) -> Conditions:
    """Derived conditions of a departure, its history included. also: further times for the grid."""
    told = build(
        known.used,
        departure,
        site=known.site,
        forecast=known.forecast,
        fuel_stays_cold=airframe.fuel_stays_cold,
        also=also,
    )
    return derive(told, airframe)


def read_texts(
    reports: str | Sequence[str | Report | Forecast], now: datetime
) -> tuple[tuple[Report, ...], tuple[Forecast, ...]]:
    """Reports and forecasts of texts and readings. now: aware. Raises ReportError for none, or one without any use."""
    readings: list[Report | Forecast] = []
    for item in [reports] if isinstance(reports, str) else reports:
        readings.extend(reading.read_all(item, now=now) if isinstance(item, str) else [item])
    if not readings:
        raise ReportError("no report was given", where="reports", hint="give a METAR, SPECI or TAF")
    if not any(_usable(one) for one in readings):
        raise ReportError(
            "no group could be used",
            where=f"report of {readings[0].station}",
            hint="give one with wind, visibility, weather, cloud or temperatures",
        )
    return (
        tuple(one for one in readings if isinstance(one, Report)),
        tuple(one for one in readings if not isinstance(one, Report)),
    )


def _usable(report: Report | Forecast) -> bool:
    """Whether anything after its heading was understood; a group coded missing was, and NIL is said elsewhere."""
    if not isinstance(report, Report) or report.nil:
        return True
    return any(group.status == DECODED and group.part in ("body", "remarks") for group in report.groups)


def find_place(place: str | Place | None, read: Sequence[Report | Forecast], gazetteer: Gazetteer) -> Place:
    """The place asked for, else the station of the reports. Raises ReportError for two stations and no place."""
    if isinstance(place, Place):
        return place
    if place is not None:
        return gazetteer.find(place)
    named = sorted({report.station for report in read})
    if len(named) > 1:
        raise ReportError(
            f"reports of {len(named)} stations: {', '.join(named)}",
            where="reports",
            hint="give the reports of one station, or say with --place where the aircraft stands",
        )
    station_place = gazetteer.look_up(named[0])
    if station_place is None:
        raise DepartureError(
            f"the position of {named[0]} is not known", where="place", hint='give it as --place "LAT,LON"'
        )
    return station_place


def read_within(value: float | str | None, unit: str, what: str, low: float, high: float) -> float:
    """A number or text in a unit; NaN for None. Raises DepartureError outside low to high."""
    if value is None:
        return nan
    try:
        read = read_quantity(value, unit)
    except ValueError as error:
        raise DepartureError(str(error), where=what, hint=f"give a number from {low:g} to {high:g}") from None
    if not low <= read <= high:
        raise DepartureError(f"{value} is out of range", where=what, hint=f"give a number from {low:g} to {high:g}")
    return read

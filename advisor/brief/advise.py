"""From reports and a departure to a brief. `advise` is the one entry; files are read by others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from math import isfinite, nan
from pathlib import Path

import numpy as np

from advisor import departure as moments
from advisor import places
from advisor.brief import lines as findings
from advisor.brief.model import Advice, Brief, ChecklistOut, GroupOut, Named, PlaceOut, ReportOut, WindowsOut, number
from advisor.checklist import aircraft as profiles
from advisor.checklist import revision
from advisor.checklist.aircraft import Profile
from advisor.checklist.evaluate import Finding, evaluate
from advisor.checklist.revision import Checklist
from advisor.conditions import Conditions, Departure, Place
from advisor.errors import DepartureError, ReportError
from advisor.outlook import build as outlook
from advisor.outlook import lanes, series, stations
from advisor.physics.derive import derive
from advisor.quantities import read_quantity
from advisor.report import reading
from advisor.report.forecast import Forecast
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, Report

SEEN = ("frost", "snow", "ice")
TREATMENT_RULE = "de-icing-request"
Moment = str | datetime
Span = str | tuple[datetime, datetime]

CAUTIONS = (
    "Only the inspection itself can tell what is on the aircraft; a line that is missing here promises nothing.",
    "Manuals, the operator's procedures, local rules and licensed people come first.",
    "A METAR does not describe the ground: ask for the runway condition report and the state of the apron.",
)
# fields of the small classes have no runway condition report
SMALL_CAUTIONS = (*CAUTIONS[:-1], "A METAR does not describe the ground: go and look at it.")


def advise(
    reports: str | Sequence[str | Report | Forecast],
    *,
    off_block: Moment,
    now: Moment,
    place: str | Place | None = None,
    aircraft: str | None = None,
    checklist: str | Path | Checklist | None = None,
    heading: float | str | None = None,
    parked_since: Moment | None = None,
    treated_at: Moment | None = None,
    seen: str | None = None,
    fuel_temperature: float | str | None = None,
    fuel_fill: float | str | None = None,
    walk_round: Span | None = None,
    doors_open: Span | None = None,
    take_off: Moment | None = None,
    fleet: Mapping[str, Profile] | None = None,
    notes: Sequence[str] = (),
) -> Brief:
    """Brief of a departure.

    reports: texts or readings of METAR, SPECI, TAF or IWXXM of one station, in any order. off_block, now and the other
    times: aware datetimes, RFC 3339, or (not now) a time of day such as 0640Z. place: indicator, "LAT,LON" or Place;
    default the station. aircraft: profile id. checklist: operator's folder, or one already loaded. heading: nose,
    degrees true. fleet: profiles already loaded, by id; default those of the checklist's folder. notes: what else has
    to be said at the top, as of a feed.
    Raises ReportError, DepartureError or ChecklistError; each says what is wrong and what would be right.
    """
    now_s = moments.to_unix(moments.read_moment(now, what="now") if isinstance(now, str) else now, what="now")
    now_at = moments.from_unix(now_s)
    read, forecasts = read_texts(reports, now_at)
    folder = None if checklist is None or isinstance(checklist, Checklist) else Path(checklist)
    loaded = checklist if isinstance(checklist, Checklist) else _shipped() if folder is None else revision.load(folder)
    profile = _profile(aircraft or loaded.default_aircraft, folder, fleet)
    where = find_place(place, (*read, *forecasts))
    off_block_s = moments.read_off_block(off_block, now_s)
    given = {name: span for name, span in (("walk_round", walk_round), ("doors_open", doors_open)) if span is not None}
    treated_s = None if treated_at is None else moments.read_at_or_before(treated_at, now_s, what="treated-at")
    parked_s = None if parked_since is None else moments.read_at_or_before(parked_since, now_s, what="parked-since")
    for label, moment in (("treated-at", treated_s), ("parked-since", parked_s)):
        if moment is not None and moment > now_s:
            said = f"{moments.stamp(moment)} is after now"
            raise DepartureError(said, where=label, hint="give a time that has passed")
    if seen is not None and seen not in SEEN:
        raise DepartureError(f"{seen!r} is not known", where="seen", hint=f"give one of {', '.join(SEEN)}")
    asked = _Asked(
        now_s,
        off_block_s,
        where,
        moments.read_heading(heading),
        parked_s,
        treated_s,
        seen,
        _quantity(fuel_temperature, "degC", "fuel-temperature", -60, 60),
        _quantity(fuel_fill, "percent", "fuel-fill", 0, 100),
        given,
        take_off,
    )
    return _brief(read, forecasts, asked, loaded, profile, tuple(notes))


class _Asked:
    """What was asked, read but without windows: they may need a second look once treatment is known to be likely."""

    def __init__(
        self,
        now: int,
        off_block: int,
        place: Place,
        heading_deg: float,
        parked_since: int | None,
        treated_at: int | None,
        seen: str | None,
        fuel_temperature_c: float,
        fuel_fill_pct: float,
        given: Mapping[str, Span],
        take_off: Moment | None,
    ) -> None:
        self.now, self.off_block, self.place, self.given, self.take_off = now, off_block, place, given, take_off
        self.rest = (heading_deg, parked_since, treated_at, seen, fuel_temperature_c, fuel_fill_pct)

    def departure(self, plan: moments.WindowPlan, *, treated: bool) -> tuple[Departure, tuple[str, ...]]:
        """The departure with its windows, and what has to be said about them."""
        windows, notes = moments.windows(
            self.off_block, self.now, plan, treated=treated, given=self.given, take_off=self.take_off
        )
        return Departure(self.now, self.place, windows, *self.rest), notes


def _brief(
    read: Sequence[Report],
    forecasts: Sequence[Forecast],
    asked: _Asked,
    checklist: Checklist,
    profile: Profile,
    told: tuple[str, ...],
) -> Brief:
    plan = checklist.windows[profile.windows]
    airframe = profile.airframe()
    longest, notes = asked.departure(plan, treated=True)
    departure, _ = asked.departure(plan, treated=False)
    station, site, said = stations.choose(read, forecasts, asked.place)
    used = tuple(report for report in read if report.station == station)
    known, ahead_of_time = stations.timely(used, asked.now)
    forecast, about_forecast = lanes.usable(forecasts, station, asked.now, asked.now, longest.windows.take_off)
    if forecast is None and about_forecast and series.newest(known) is None:
        # with nothing else to go by, why the forecast cannot be used is what is wrong
        hint = "give a METAR, or a forecast that covers the time from now to take-off"
        raise ReportError(about_forecast[-1].removesuffix("."), where="forecast", hint=hint)
    conditions = outlook.build(
        known,
        longest,
        site=site,
        forecast=forecast,
        fuel_stays_cold=airframe.fuel_stays_cold,
        also=(departure.windows.take_off,),
    )
    conditions = derive(conditions, airframe)
    future = conditions.between(departure.now, longest.windows.take_off)
    found = _findings(checklist, future, departure, profile)
    treated = asked.rest[2] is not None or asked.rest[3] is not None
    if treated or any(item.rule.id == TREATMENT_RULE and item.status != "not indicated" for item in found):
        # who may be treated takes off later: that longer time counts as well, also where it cannot be told
        departure = longest
        found = _findings(checklist, future, departure, profile)
    lines = findings.lines(found, checklist, future, departure, profile.position)
    shown = future.between(departure.now, departure.windows.take_off)
    newest = series.newest(known)
    notes = told + _known(departure) + notes + said + ahead_of_time + about_forecast
    notes += stations.notes(known, forecast, conditions, departure)
    return _assemble((*read, *forecasts), (newest, forecast), departure, shown, checklist, profile, lines, notes)


def _known(departure: Departure) -> tuple[str, ...]:
    """What was said of the aircraft, said back."""
    known = []
    if departure.seen is not None:
        known.append(f"Seen on the aircraft: {departure.seen}. That counts for more than every estimate here.")
    if departure.treated_at is not None:
        minutes = (departure.now - departure.treated_at) // 60
        at = moments.from_unix(departure.treated_at)
        known.append(f"Treated {minutes} min ago, at {at:%H%MZ}: what fell since counts.")
    return tuple(known)


def _findings(checklist: Checklist, conditions: Conditions, departure: Departure, profile: Profile) -> list[Finding]:
    return evaluate(checklist.rules, conditions, departure.windows, departure.now, profile.class_id)


def _assemble(
    read: Sequence[Report | Forecast],
    used: tuple[Report | None, Forecast | None],
    departure: Departure,
    conditions: Conditions,
    checklist: Checklist,
    profile: Profile,
    lines: tuple[Advice, ...],
    notes: tuple[str, ...],
) -> Brief:
    windows, place = departure.windows, departure.place
    now = _stamp(departure.now)
    undecoded = [group for report in read for group in report.groups if group.status in (NOT_DECODED, CONFLICT)]
    missing = dict.fromkeys(_base_missing(used[0], conditions))
    for line in lines:
        missing.update(dict.fromkeys(line.missing))
    return Brief(
        made_at=now,
        now=now,
        place=PlaceOut(place.name, place.indicator, place.latitude_deg, place.longitude_deg, place.time_zone or None),
        aircraft=Named(profile.id, profile.name),
        checklist=ChecklistOut(checklist.name, checklist.revision, checklist.fingerprint),
        windows=WindowsOut(
            (_stamp(windows.walk_round[0]), _stamp(windows.walk_round[1])),
            (_stamp(windows.doors_open[0]), _stamp(windows.doors_open[1])),
            _stamp(windows.off_block),
            _stamp(windows.take_off),
        ),
        reports=tuple(
            ReportOut(
                report.kind,
                report.station,
                _stamp(report.issued.timestamp()),
                _age_min(report, departure.now),
                report.raw,
                tuple(GroupOut(group.text, group.status, group.meaning) for group in report.groups),  # type: ignore[arg-type]
                any(report is one for one in used),
            )
            for report in read
        ),
        timeline=findings.timeline(conditions),
        advice=lines,
        doors=findings.doors(profile.airframe(), conditions, departure),
        not_decoded=tuple(group.text for group in undecoded),
        missing=tuple(missing),
        loosened=checklist.loosened_for(profile.class_id),
        cautions=SMALL_CAUTIONS if profile.windows == "small" else CAUTIONS,
        notes=notes,
        not_stated=conditions.not_stated,
        walk_order=profile.walk,
        heading_deg=number(departure.heading_deg, 1),
    )


def _stamp(unix_s: float) -> str:
    text = moments.stamp(unix_s)
    assert text is not None
    return text


def _age_min(report: Report | Forecast, now: int) -> int:
    return int((now - report.issued.timestamp()) // 60)


def _base_missing(report: Report | None, conditions: Conditions) -> tuple[str, ...]:
    """The inputs that are not there: of the report, or of the forecast where that stands alone."""
    if report is None:
        names = ("air_temperature_c", "dew_point_c", "wind_kt", "visibility_m")
        return tuple(name for name in names if np.isnan(conditions.columns[name][0]).any())
    values = {
        "air_temperature_c": report.temperature_c,
        "dew_point_c": report.dew_point_c,
        "wind_kt": report.wind_kt,
        "wind_direction_deg": 0.0 if report.wind_variable or report.wind_kt == 0 else report.wind_direction_deg,
        "visibility_m": report.visibility_m,
        "cloud_fraction": nan if report.sky == "missing" else 0.0,
        "precipitation": nan if report.weather_missing else 0.0,
    }
    return tuple(name for name, value in values.items() if not isfinite(value))


def read_texts(
    reports: str | Sequence[str | Report | Forecast], now: datetime
) -> tuple[tuple[Report, ...], tuple[Forecast, ...]]:
    """Reports and forecasts of texts and readings. now: aware. Raises ReportError for none, or one without any use."""
    found: list[Report | Forecast] = []
    for item in [reports] if isinstance(reports, str) else reports:
        found.extend(reading.read_all(item, now=now) if isinstance(item, str) else [item])
    if not found:
        raise ReportError("no report was given", where="reports", hint="give a METAR, SPECI or TAF")
    if not any(_usable(one) for one in found):
        raise ReportError(
            "no group could be used",
            where=f"report of {found[0].station}",
            hint="give one with wind, visibility, weather, cloud or temperatures",
        )
    return (
        tuple(one for one in found if isinstance(one, Report)),
        tuple(one for one in found if not isinstance(one, Report)),
    )


def _usable(one: Report | Forecast) -> bool:
    """Whether anything after its heading was understood; a group coded missing was, and NIL is said elsewhere."""
    if not isinstance(one, Report) or one.nil:
        return True
    return any(group.status == DECODED and group.part in ("body", "remarks") for group in one.groups)


@lru_cache(maxsize=1)
def _shipped() -> Checklist:
    return revision.load()


@lru_cache(maxsize=1)
def _shipped_fleet() -> Mapping[str, Profile]:
    return profiles.load_profiles()


def _profile(wanted: str, folder: Path | None, fleet: Mapping[str, Profile] | None) -> Profile:
    known = fleet if fleet is not None else _shipped_fleet() if folder is None else profiles.load_profiles(folder)
    if wanted not in known:
        raise DepartureError(f"{wanted[:40]!r} is not known", where="aircraft", hint=f"give one of {', '.join(known)}")
    return known[wanted]


def find_place(place: str | Place | None, read: Sequence[Report | Forecast]) -> Place:
    """The place asked for, else the station of the reports. Raises ReportError for two stations and no place."""
    if isinstance(place, Place):
        return place
    if place is not None:
        return places.find(place)
    named = sorted({report.station for report in read})
    if len(named) > 1:
        raise ReportError(
            f"reports of {len(named)} stations: {', '.join(named)}",
            where="reports",
            hint="give the reports of one station, or say with --place where the aircraft stands",
        )
    found = places.look_up(named[0])
    if found is None:
        raise DepartureError(
            f"the position of {named[0]} is not known", where="place", hint='give it as --place "LAT,LON"'
        )
    return found


def _quantity(value: float | str | None, unit: str, what: str, low: float, high: float) -> float:
    if value is None:
        return nan
    try:
        read = read_quantity(value, unit)
    except ValueError as error:
        raise DepartureError(str(error), where=what, hint=f"give a number from {low:g} to {high:g}") from None
    if not low <= read <= high:
        raise DepartureError(f"{value} is out of range", where=what, hint=f"give a number from {low:g} to {high:g}")
    return read


__all__ = ["CAUTIONS", "advise", "number"]

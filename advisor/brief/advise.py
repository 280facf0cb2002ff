"""From reports and a departure to a brief. Files are read by others; advisor.advise is the door for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, nan
from typing import Unpack

import numpy as np

from advisor.brief import asked as reading
from advisor.brief import inputs
from advisor.brief import lines as findings
from advisor.brief.asked import What
from advisor.brief.hazards import hazards
from advisor.brief.inputs import BriefAsked, Weather
from advisor.brief.model import (
    Advice,
    Brief,
    ChecklistOut,
    GroupOut,
    Named,
    PlaceOut,
    ReportOut,
    SunOut,
    WindowsOut,
    number,
)
from advisor.brief.order import TREATMENT_RULE
from advisor.brief.timeline import timeline
from advisor.checklist import loosened
from advisor.checklist.evaluate import Finding, answers
from advisor.checklist.evaluate import findings as decided
from advisor.checklist.fields import SMALL_CLASSES
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import NOTHING_SEEN, Conditions, Departure
from advisor.departure import (
    from_unix,
    rfc3339,
)
from advisor.errors import DepartureError
from advisor.outlook import series, stations
from advisor.outlook.stations import Gazetteer
from advisor.physics.sunrise import rise_or_set
from advisor.quantities.units import HOUR_S
from advisor.report.forecast import Forecast
from advisor.report.model import CONFLICT, NOT_DECODED, Report

# how long before and after the start of the walk sunrise and sunset are told, s (ours)
SUN_BEFORE_S, SUN_AFTER_S = HOUR_S, 3 * HOUR_S

CAUTIONS = (
    "Only the inspection itself can tell what is on the aircraft; a line missing here promises nothing.",
    "Manuals, the operator's procedures, local rules and licensed people come first.",
    "No METAR describes the ground: ask for its state.",
)
# fields of the small classes have no runway condition report
SMALL_CAUTIONS = (*CAUTIONS[:-1], "No METAR describes the ground: go and look at it.")


def advise(
    reports: str | Sequence[str | Report | Forecast],
    *,
    aircraft: str | None = None,
    checklist: Checklist,
    fleet: Mapping[str, Profile],
    gazetteer: Gazetteer,
    notes: Sequence[str] = (),
    **what: Unpack[What],
) -> Brief:
    """Brief of a departure.

    reports: texts or readings of METAR, SPECI, TAF or IWXXM of one station, in any order. aircraft: id of a profile of
    the fleet; default the checklist's. gazetteer: where places lie. notes: what else has to be said at the top, as of a
    feed. what: times are aware datetimes, RFC 3339, or (not now) a time of day such as 0640Z; place is an indicator,
    "LAT,LON" or Place, by default the station; heading is the nose, degrees true. Nothing is read from files here:
    advisor.advise does that.
    Raises ReportError or DepartureError; each says what is wrong and what would be right.
    """
    made = weigh(reports, aircraft=aircraft, checklist=checklist, fleet=fleet, gazetteer=gazetteer, **what)
    return _brief(made, tuple(notes))


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """What a brief is made of: the weather gone by, the checklist in force there, conditions, and what became of rules.

    whole: conditions with their history; future: from now to the longest take-off. on_windows: what to say of windows.
    """

    known: Weather
    checklist: Checklist
    profile: Profile
    departure: Departure
    whole: Conditions
    future: Conditions
    found: tuple[Finding, ...]
    on_windows: tuple[str, ...]


def weigh(
    reports: str | Sequence[str | Report | Forecast],
    *,
    aircraft: str | None = None,
    checklist: Checklist,
    fleet: Mapping[str, Profile],
    gazetteer: Gazetteer,
    **what: Unpack[What],
) -> Weighed:
    """Everything up to the words of a brief; arguments and errors as for advise."""
    (read, forecasts), asked = reading.read(reports, gazetteer, **what)
    profile = _profile(aircraft or checklist.default_aircraft, fleet)
    where, now_s = asked.place, asked.now
    plan = checklist.windows[profile.windows]
    longest, _ = asked.departure(plan, treated=True)
    known = inputs.weather(read, forecasts, where, now=now_s, until=longest.windows.take_off, gazetteer=gazetteer)
    here = checklist.in_force(profile, known.indicators, inputs.months(now_s, longest.windows.take_off))
    return _weighed(known, asked, here, profile)


def _weighed(known: Weather, asked: BriefAsked, checklist: Checklist, profile: Profile) -> Weighed:
    plan = checklist.windows[profile.windows]
    longest, on_windows = asked.departure(plan, treated=True)
    departure, _ = asked.departure(plan, treated=False)
    whole = inputs.conditions(known, longest, profile.airframe(), also=(departure.windows.take_off,))
    future = whole.between(departure.now, longest.windows.take_off)
    answered = answers(checklist.rules, future, profile.class_id)
    decisions = decided(answered, future, departure.windows, departure.now)
    treated = asked.treated_at is not None or asked.seen not in (None, NOTHING_SEEN)
    if treated or any(item.rule.id == TREATMENT_RULE and item.status != "not indicated" for item in decisions):
        # who may be treated takes off later: that longer time counts as well, also where it cannot be told
        departure = longest
        decisions = decided(answered, future, departure.windows, departure.now)
    return Weighed(
        known=known,
        checklist=checklist,
        profile=profile,
        departure=departure,
        whole=whole,
        future=future,
        found=tuple(decisions),
        on_windows=on_windows,
    )


def _brief(weighed: Weighed, told: tuple[str, ...]) -> Brief:
    known, checklist, profile, departure = weighed.known, weighed.checklist, weighed.profile, weighed.departure
    # before the first report nobody knows how long a skin has been cold
    first = min((report.issued.timestamp() for report in known.used), default=departure.now)
    told_of = weighed.whole.between(first, departure.windows.take_off)
    lines = findings.lines(weighed.found, checklist, weighed.future, departure, profile.position, told_of)
    shown = weighed.future.between(departure.now, departure.windows.take_off)
    notes = told + _known(departure) + weighed.on_windows + known.notes
    notes += stations.notes(known.used, known.forecast, weighed.whole, departure)
    return _assemble(known, departure, shown, checklist, profile, lines, notes)


def _known(departure: Departure) -> tuple[str, ...]:
    """What was said of the aircraft, said back."""
    facts, now = [], departure.now
    if departure.parked_since is not None:
        stood = (now - departure.parked_since) // 60
        long = f"{stood // 60} h {stood % 60:02d} min" if stood >= 60 else f"{stood} min"
        facts.append(f"parked since {_moment(departure.parked_since, now)} ({long})")
    if isfinite(departure.fuel_temperature_c):
        facts.append(f"fuel at {departure.fuel_temperature_c:.0f} °C".replace("-", "−"))
    if isfinite(departure.heading_deg):
        facts.append(f"nose to {departure.heading_deg:03.0f}°")
    if departure.treated_at is not None:
        before = departure.parked_since is not None and departure.treated_at < departure.parked_since
        counts = ", before it stood here: what fell since then counts" if before else ", and what fell since counts"
        facts.append(f"treated at {_moment(departure.treated_at, now)}{counts}")
    if departure.seen is not None:
        what = "nothing" if departure.seen == NOTHING_SEEN else departure.seen
        looked = departure.looked_at or now
        counts = ", which counts for more than every estimate here"
        if departure.seen == NOTHING_SEEN:
            counts = ""
        elif departure.treated_at is not None and looked < departure.treated_at:
            counts = ", before the treatment: it does not count"
        facts.append(f"{what} seen on the aircraft at {_moment(looked, now)}{counts}")
    known = [f"As you said: {'; '.join(facts)}."] if facts else []
    if departure.seen == NOTHING_SEEN:
        again = (departure.looked_at or now) + HOUR_S
        when = f"by {_moment(again, now)}" if again > now else "now"
        known.append(
            f"Frost may have formed since: look again {when}, and before off-block. "
            "What falls, fell or froze counts all the same, and clear ice is told by touch only."
        )
    return tuple(known)


def _seen(departure: Departure) -> str:
    """What somebody saw on the aircraft, and when."""
    return f"{departure.seen} seen at {_moment(departure.looked_at or departure.now, departure.now)}"


def _moment(unix_s: int, now: int) -> str:
    """HHMMZ, with the day of the month where it is not today's."""
    at, today = from_unix(unix_s), from_unix(now)
    return f"{at:%H%MZ}" if at.date() == today.date() else f"{at:%d/%H%MZ}"


def _assemble(
    known: Weather,
    departure: Departure,
    conditions: Conditions,
    checklist: Checklist,
    profile: Profile,
    lines: tuple[Advice, ...],
    notes: tuple[str, ...],
) -> Brief:
    windows, place = departure.windows, departure.place
    now = rfc3339(departure.now)
    undecoded = [group for report in known.read for group in report.groups if group.status in (NOT_DECODED, CONFLICT)]
    newest = known.newest
    # of two reports of one minute that differ both count, and both are shown
    twins = series.beside(known.used, series.in_order(known.used))
    gone_by = (newest, known.forecast, *twins[-1:])
    missing = dict.fromkeys(_base_missing(newest, conditions))
    for line in lines:
        missing.update(dict.fromkeys(line.missing))
    return Brief(
        made_at=now,
        now=now,
        place=PlaceOut(place.name, place.indicator, place.latitude_deg, place.longitude_deg, place.time_zone or None),
        aircraft=Named(profile.id, profile.name),
        checklist=ChecklistOut(checklist.name, checklist.revision, checklist.fingerprint),
        windows=WindowsOut(
            (rfc3339(windows.walk_round[0]), rfc3339(windows.walk_round[1])),
            (rfc3339(windows.doors_open[0]), rfc3339(windows.doors_open[1])),
            rfc3339(windows.off_block),
            rfc3339(windows.take_off),
        ),
        reports=tuple(
            ReportOut(
                report.kind,
                report.station,
                rfc3339(report.issued.timestamp()),
                _age_min(report, departure.now),
                report.raw,
                tuple(GroupOut(group.text, group.status, group.meaning) for group in report.groups),  # type: ignore[arg-type]
                any(report is one for one in gone_by),
            )
            for report in known.read
        ),
        timeline=timeline(conditions),
        advice=lines,
        doors=findings.doors(profile.airframe(), conditions, departure),
        not_decoded=tuple(group.text for group in undecoded),
        missing=tuple(missing),
        loosened=checklist.loosened_for(profile.class_id),
        loosened_how=loosened.for_brief(checklist, profile),
        cautions=SMALL_CAUTIONS if profile.class_id in SMALL_CLASSES else CAUTIONS,
        notes=notes,
        not_stated=conditions.not_stated,
        walk_order=profile.walk,
        heading_deg=number(departure.heading_deg, 1),
        parked_since=None if departure.parked_since is None else rfc3339(departure.parked_since),
        sun=_sun(departure),
        hazards=hazards(conditions, _seen(departure)),
    )


def _sun(departure: Departure) -> SunOut | None:
    """Sunrise or sunset about the walk."""
    start = departure.windows.walk_round[0]
    place = departure.place
    event = rise_or_set(place.latitude_deg, place.longitude_deg, start - SUN_BEFORE_S, start + SUN_AFTER_S)
    if event is None:
        return None
    return SunOut("sunrise" if event[1] else "sunset", rfc3339(event[0]))


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


def _profile(wanted: str, fleet: Mapping[str, Profile]) -> Profile:
    if wanted not in fleet:
        raise DepartureError(f"{wanted[:40]!r} is not known", where="aircraft", hint=f"give one of {', '.join(fleet)}")
    return fleet[wanted]

"""Which station to go by, how it lies to the place, and what has to be said about reports and forecasts."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import asin, cos, isfinite, radians, sin, sqrt
from typing import Protocol

from advisor.conditions import NO, YES, Conditions, Departure, Place
from advisor.departure import from_unix
from advisor.outlook import gaps, series
from advisor.outlook.build import LONGEST_HISTORY_S
from advisor.outlook.cases import Site
from advisor.outlook.track import state
from advisor.physics import ahead, precipitation
from advisor.quantities.units import DAY_S, HOUR_S
from advisor.report.forecast import Forecast, ForecastSpan, prevailing
from advisor.report.model import Report

FRESH_MIN = 90
EARTH_RADIUS_KM = 6371.0
# without a forecast, further ahead than this is said to be unforeseen
FORESEEN_S = 30 * 60
EARLY_S = 600
# snow and freezing rain are not met on the ground in air from this on, °C (ours; common practice has it lower)
TOO_WARM_C = 10.0
_COLD = ("snow", "ice_pellets", "freezing_rain", "freezing_drizzle", "freezing_precipitation", "freezing_fog")


class Gazetteer(Protocol):
    """Where places lie: the one thing that a brief looks up."""

    def find(self, text: str) -> Place:
        """The place of an indicator or of coordinates. Raises DepartureError where there is none."""
        ...

    def look_up(self, indicator: str) -> Place | None:
        """The place of an indicator, None where it is not in the table."""
        ...


def choose(
    read: Sequence[Report], forecasts: Sequence[Forecast], place: Place, gazetteer: Gazetteer
) -> tuple[str | None, Site, tuple[str, ...]]:
    """The station whose reports are gone by, how it lies, and what to say.

    The nearest of those that reported something; without any report, that of the forecast.
    """
    named: dict[str, list[Report]] = {}
    for report in read:
        named.setdefault(report.station, []).append(report)
    candidates = named or {one.station: [] for one in forecasts}
    sites = {name: site(name, place, gazetteer) for name in candidates}

    def rank(name: str) -> tuple[bool, float, float, str]:
        usable = [report.issued.timestamp() for report in candidates[name] if not report.nil]
        far = sites[name].distance_km
        return bool(candidates[name]) and not usable, far if isfinite(far) else 1e9, -max(usable, default=0.0), name

    best = min(candidates, key=rank)
    notes = []
    if len(candidates) > 1:
        others = ", ".join(sorted(name for name in candidates if name != best))
        notes.append(f"Reports of several stations were given: the brief goes by {best}. Not used: {others}.")
    notes += _far(best, sites[best], place)
    return best, sites[best], tuple(notes)


def _far(station: str, lies: Site, place: Place) -> list[str]:
    if place.indicator == station:
        return []
    wider = f"temperatures here may differ by {lies.temperature_doubt_c:.1f} °C more"
    if not isfinite(lies.distance_km):
        return [f"The position of {station} is not known: its weather may be that of another place."]
    if lies.distance_km < 1:
        return []
    away = f"{station} is {lies.distance_km:.0f} km away"
    if isfinite(lies.height_difference_m) and abs(lies.height_difference_m) >= 10:
        away += f" and {abs(lies.height_difference_m):.0f} m {'below' if lies.height_difference_m > 0 else 'above'}"
    return [f"{away}: {wider}."]


def site(station: str, place: Place, gazetteer: Gazetteer) -> Site:
    """How a station lies to a place; NaN where its position is not in the table."""
    if place.indicator == station:
        return Site(0.0, 0.0)
    there = gazetteer.look_up(station)
    if there is None:
        return Site()
    return Site(distance_km(there, place), place.elevation_m - there.elevation_m)


def timely(reports: Sequence[Report], now: int) -> tuple[tuple[Report, ...], tuple[str, ...]]:
    """The reports that were out at now, and a note on those timed after it.

    A few minutes are the clock's; where all are later, the earliest is used all the same, and that is said, as is what
    says nothing.
    """
    out = tuple(report for report in reports if report.issued.timestamp() <= now + EARLY_S)
    late = [report for report in reports if report.issued.timestamp() > now + EARLY_S]
    if not late:
        return out, tuple(f"The report of {one.issued:%H%MZ} says nothing (NIL)." for one in out if one.nil)
    if out and any(not report.nil for report in out):
        names = ", ".join(f"{report.issued:%H%MZ}" for report in late)
        return out, (f"Reports timed after now are not used: {names}. Check the clock.",)
    first = min(late, key=lambda report: report.issued)
    minutes = round((first.issued.timestamp() - now) / 60)
    return (*out, first), (f"The report is timed {minutes} min after now: check the clock.",)


def notes(
    used: Sequence[Report], forecast: Forecast | None, conditions: Conditions, departure: Departure
) -> tuple[str, ...]:
    """What has to be said at the top: age, gaps, contradictions, what no forecast covers, what found no room."""
    sentences = []
    newest = series.newest(used)
    if newest is None:
        sentences.append("No report was given, only a forecast: dew point and what falls now are not known.")
    else:
        age = int((departure.now - newest.issued.timestamp()) // 60)
        if age > FRESH_MIN:
            sentences.append(f"The report is {age // 60} h {age % 60:02d} min old: get a newer one.")
        if age > ahead.LONGEST_H * 60:
            sentences.append(f"After {ahead.LONGEST_H:.0f} h a report says nothing about the present.")
        sentences += doubtful(newest)
        if forecast is not None and (differs := contradictions(newest, forecast)):
            sentences.append(f"Report and forecast differ ({', '.join(differs)}): the worse of both counts.")
    holds_until = newest.issued.timestamp() + gaps.WEATHER_HOLDS_S if newest else float(departure.now)
    covered = forecast is not None and forecast.valid_to.timestamp() >= departure.windows.take_off
    if not covered and departure.windows.take_off > holds_until:
        until = max(holds_until, forecast.valid_to.timestamp() if forecast else holds_until)
        shape = "%H%MZ" if abs(departure.now - until) < DAY_S / 4 else "%d/%H%MZ"
        late = f"what falls after {from_unix(until):{shape}} is not known"
        unseen = "No forecast was given for later: weather that begins later is not foreseen, and"
        sentences.append(f"{unseen} {late}." if forecast is None else f"The forecast ends before take-off: {late}.")
    elif forecast is None and departure.windows.off_block - departure.now > FORESEEN_S:
        sentences.append("No forecast was given: weather that begins later is not foreseen.")
    if conditions.left_out:
        shared = ", ".join(conditions.left_out)
        sentences.append(
            f"The forecast has many groups at once: {shared} count together with others, the worse of each."
        )
    in_order = series.in_order(used)
    for report, other in zip(in_order, series.beside(used, in_order), strict=False):
        if report is not other:
            sentences.append(
                f"Two reports of {report.issued:%H%MZ} differ: the worse of both counts. Ask which one holds."
            )
    sentences += _gaps(used, departure)
    return tuple(sentences)


def _gaps(used: Sequence[Report], departure: Departure) -> list[str]:
    """Stretches of the time parked of which a report is missing: longer than one speaks for, the last one two hours."""
    if departure.parked_since is None:
        return []
    given = series.in_order(used)
    parked = float(departure.parked_since)
    times = [report.issued.timestamp() for report in given if report.issued.timestamp() <= departure.now]
    before = [t for t in times if t <= parked]
    # a report from before the parking speaks on for as long as any other, and its silence is as long as it is
    marks = [before[-1] if before else parked, *(t for t in times if t > parked), float(departure.now)]
    holds = [gaps.holds_s(given)] * (len(marks) - 2) + [gaps.WEATHER_HOLDS_S]
    silent = [(max(a, parked), b) for (a, b), longest in zip(pairwise(marks), holds, strict=True) if b - a > longest]
    sentences = []
    begins = departure.now - LONGEST_HISTORY_S
    if departure.parked_since < begins:
        longest = f"{LONGEST_HISTORY_S // HOUR_S} h"
        since = from_unix(begins)
        sentences.append(f"Parked for longer than {longest}: what fell before {since:%d/%H%MZ} is not known.")
    if silent:
        spans = ", ".join(_silence(one, float(departure.now)) for one in _joined(silent))
        sentences.append(f"No reports of the time parked for {spans}: what fell then is not known.")
    return sentences


def _joined(silent: Sequence[tuple[float, float]]) -> list[list[float]]:
    """Stretches as their edges, those that meet as one with the times at which they meet."""
    joined: list[list[float]] = []
    for begins, ends in silent:
        if joined and joined[-1][-1] == begins:
            joined[-1].append(ends)
        else:
            joined.append([begins, ends])
    return joined


def _silence(edges_s: Sequence[float], now_s: float) -> str:
    """A stretch without reports, and the reports that stand alone in it."""
    alone = " and ".join(_span(at, at, now_s).partition("–")[2] for at in edges_s[1:-1])
    return _span(edges_s[0], edges_s[-1], now_s) + (f" but that of {alone}" if alone else "")


def _span(start_s: float, end_s: float, now_s: float) -> str:
    """From one time to another, with the day of the month where it is not today's."""
    begins, ends, today = from_unix(start_s), from_unix(end_s), from_unix(now_s).date()
    first = f"{begins:%H%M}" if begins.date() == today else f"{begins:%d/%H%M}"
    plain = end_s - start_s < DAY_S and ends.date() in (today, begins.date())
    last = f"{ends:%H%MZ}" if plain else f"{ends:%d/%H%MZ}"
    return f"{first}–{last}"


def doubtful(report: Report) -> tuple[str, ...]:
    """What a report tells that cannot all be so, in words: snow or freezing rain in warm air."""
    flags = {code: precipitation.flags((code,)) for code in state(report).codes}
    # hail falls in summer, and small hail is coded GS as snow pellets are
    icy = [code for code, one in flags.items() if one["hail"] == NO and any(one[name] == YES for name in _COLD)]
    codes = [code for code in icy if "GS" not in code]
    if not codes or not report.temperature_c >= TOO_WARM_C:
        return ()
    warm = f"{report.temperature_c:.0f} °C"
    return (f"{' '.join(codes)} was reported in air of {warm}: one of the two is wrong. Ask, and count on the worse.",)


def contradictions(report: Report, forecast: Forecast) -> tuple[str, ...]:
    """Where a METAR and the forecast for its time do not agree, in words; none where they do."""
    held = prevailing(forecast, report.issued.timestamp())
    late = int(held.late)
    if late < 0:
        return ()
    foreseen, seen = state(held.spans[late].elements), state(report)
    differences = []
    if abs(foreseen.wind_kt - seen.wind_kt) >= 10:
        differences.append(f"wind {seen.wind_kt:.0f} kt reported and {foreseen.wind_kt:.0f} kt forecast")
    ours, theirs = (precipitation.flags(one.codes, missing=one.weather_missing) for one in (seen, foreseen))
    for name, word in (("frozen_precipitation", "frozen or freezing precipitation"), ("thunderstorm", "thunderstorm")):
        if {ours[name], theirs[name]} == {NO, YES}:
            if ours[name] == YES and any(_brings(span, name, report) for span in held.spans):
                continue
            differences.append(f"{word} {'reported' if ours[name] == YES else 'forecast'} only")
    if min(foreseen.visibility_m, seen.visibility_m) * 3 < max(foreseen.visibility_m, seen.visibility_m) <= 10_000:
        differences.append(f"visibility {seen.visibility_m:.0f} m reported and {foreseen.visibility_m:.0f} m forecast")
    return tuple(differences)


def _brings(span: ForecastSpan, name: str, report: Report) -> bool:
    """Whether a group of the forecast, temporary ones too, has such weather at the time of a report."""
    if not span.start_s <= report.issued.timestamp() < span.end_s:
        return False
    told = state(span.elements)
    return precipitation.flags(told.codes, missing=told.weather_missing)[name] == YES


def distance_km(first: Place, second: Place) -> float:
    """Great-circle distance between two places, km, on a sphere of 6371 km."""
    lat1, lat2 = radians(first.latitude_deg), radians(second.latitude_deg)
    half_lat = (lat2 - lat1) / 2
    half_lon = radians(second.longitude_deg - first.longitude_deg) / 2
    chord = sin(half_lat) ** 2 + cos(lat1) * cos(lat2) * sin(half_lon) ** 2
    return 2 * EARTH_RADIUS_KM * asin(min(1.0, sqrt(chord)))

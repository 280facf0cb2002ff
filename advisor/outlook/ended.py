"""What ended and may still lie or cling: weather observed up to two hours ago, wherever a report says so.

Recent-weather groups, begin and end remarks, ice accretion, frost on the indicator, hailstones measured, and the
present weather of the reports before. Only what a station itself observed counts: nothing from a forecast, nothing
from the vicinity. A group that is missing or was not read is not known, never nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from math import isfinite, isnan

import numpy as np
from msgspec import Struct

from advisor.conditions import NO, UNKNOWN, YES, Codes, Floats, Masks
from advisor.outlook.gaps import WEATHER_HOLDS_S
from advisor.outlook.track import blind, flags_of
from advisor.physics import precipitation
from advisor.quantities.units import HOUR_S
from advisor.report.model import Report

# how long what ended counts as recent: as long as what is seen holds; how long back groups of recent weather look
RECENT_S, GROUP_LOOKS_BACK_S = WEATHER_HOLDS_S, HOUR_S
# a report speaks for what fell up to the next one, but not for longer than this
SPEAKS_S = HOUR_S
# column: the flag of weather that it remembers
REMEMBERED = {
    "recent_freezing": "freezing_precipitation",
    "recent_frozen": "frozen_precipitation",
    "recent_precipitation": "precipitation_any",
    "recent_rain": "rain",
    "recent_hail": "hail",
    "recent_thunderstorm": "thunderstorm",
    "recent_squall": "squall",
    "recent_funnel": "funnel_cloud",
    "recent_storm": "thunderstorm",
    "recent_snow": "snow",
    "recent_pellets": "ice_pellets",
}
# what may have damaged the aircraft counts only if it was there; a storm may come back to whoever comes after it
DAMAGE = ("recent_hail", "recent_thunderstorm", "recent_squall")
# what is asked of the aircraft: a treatment ends it; what is wet on the ground is worked out apart
ON_THE_AIRCRAFT = ("recent_freezing", "recent_rain")
# what falls now has also fallen lately; damage is told in the past tense, by what was observed alone
ALSO_NOW = (
    "recent_freezing",
    "recent_frozen",
    "recent_precipitation",
    "recent_rain",
    "recent_snow",
    "recent_pellets",
)


class ObservedSpell(Struct, frozen=True):
    """Weather of one kind that a station observed, from start to last, seconds since 1970 UTC; said: flags by name.

    goes_on: it was there in the newest report, and may have met an aircraft that came after it.
    """

    start_s: float
    last_s: float
    said: dict[str, int]
    goes_on: bool = False


def spells(used: Sequence[Report]) -> list[ObservedSpell]:
    """Everything that the reports say fell, was heard or was not told, in order of the reports.

    used: of one station, in order of time. A spell of a report lasts up to the next one, at most an hour; the newest
    one's to its own time, since what goes on is not over.
    """
    observed: list[ObservedSpell] = []
    for index, report in enumerate(used):
        issued_s = report.issued.timestamp()
        until = issued_s
        if index + 1 < len(used):
            until = min(used[index + 1].issued.timestamp(), issued_s + SPEAKS_S)
        codes = tuple(code for code in report.weather if code != "NSW" and not passes_by(code))
        codes = precipitation.in_air(codes, report.temperature_c)
        said = flags_of(codes, missing=report.weather_missing, blind_to=blind(report))
        observed.append(ObservedSpell(issued_s, until, said, index + 1 == len(used)))
        for code, start, last in told(report):
            meant = precipitation.in_air((code,), report.temperature_c)
            observed.append(ObservedSpell(start, last, precipitation.flags(meant)))
        if report.recent_missing:
            observed.append(
                ObservedSpell(issued_s - GROUP_LOOKS_BACK_S, issued_s, dict.fromkeys(precipitation.FLAGS, UNKNOWN))
            )
    return observed


def passes_by(code: str) -> bool:
    """Whether a code is of the vicinity, where what ended met nobody; a tornado there is another matter."""
    return code.startswith("VC") and code != "VCFC"


def told(report: Report) -> Iterator[tuple[str, float, float]]:
    """Codes of a report's recent weather and of its begin and end remarks, with when they began and were last seen."""
    remarks = report.remarks
    return told_of(report.issued.timestamp(), report.recent_weather, remarks.precipitation_events, remarks.hail_mm)


def told_of(
    reported_s: float, recent: Sequence[str], events: Sequence[tuple[str, str, datetime]], hail_mm: float
) -> Iterator[tuple[str, float, float]]:
    """The same from the groups of a report. reported_s: its time; events: code, "B" or "E" and when, in order."""
    for code in recent:
        yield code.removeprefix("RE"), reported_s - GROUP_LOOKS_BACK_S, reported_s
    began: dict[str, float] = {}
    for code, edge, moment in events:
        if code.startswith("VC"):
            continue
        when = moment.timestamp()
        if edge == "B":
            began[code] = when
        else:
            yield code, began.pop(code, when), when
    for code, when in began.items():
        yield code, when, reported_s
    if isfinite(hail_mm):
        yield "GR", reported_s - GROUP_LOOKS_BACK_S, reported_s


def ice_spells(used: Sequence[Report]) -> list[tuple[float, float]]:
    """When the station saw ice build up on its sensor: start and last, s."""
    times = [(report.issued.timestamp(), report.remarks.ice_accretion_mm) for report in used]
    return [(at - HOUR_S * hours, at) for at, groups in times for hours, _ in groups]


def frost_spells(used: Sequence[Report]) -> list[tuple[float, float]]:
    """When the station saw frost on its indicator: start and last, s."""
    times = [report.issued.timestamp() for report in used if report.remarks.frost_on_indicator]
    return [(at, at) for at in times]


def edges(used: Sequence[Report]) -> list[int]:
    """Times that the grid needs so that no short spell falls between two of its times, whole seconds."""
    moments = {edge for report in used for _, *pair in told(report) for edge in pair}
    moments |= {edge for pair in ice_spells(used) for edge in pair}
    return sorted(int(moment) for moment in moments)


def columns(used: Sequence[Report], unix_s: Floats, since_s: float, treated_s: float | None = None) -> dict[str, Codes]:
    """What ended as flags over time, each (time,).

    treated_s: when a treatment took what had fallen off the aircraft, None for none.

    used: of one station, in order of time. since_s: what can have damaged the aircraft counts only where it was last
    seen after this, seconds since 1970 UTC. recent_…: 1 from when it was observed to two hours after it was last seen.
    seen_…: the same without the two hours. ice_reported: as recent_….
    frost_reported: likewise. A spell whose kind is not known leaves its flags -1.
    """
    remembered = {name: np.full(unix_s.size, NO, dtype=np.int8) for name in REMEMBERED}
    remembered |= {seen_name(name): np.full(unix_s.size, NO, dtype=np.int8) for name in REMEMBERED}
    for spell in spells(used):
        since = unix_s >= spell.start_s
        lately = since & (unix_s <= spell.last_s + RECENT_S)
        # what a report saw at one moment was there at that moment; a longer spell is over when it was last seen
        going = since & ((unix_s < spell.last_s) | (unix_s == spell.start_s))
        there = spell.last_s + (SPEAKS_S if spell.goes_on else 0.0) >= since_s
        left = lately
        if treated_s is not None and spell.last_s <= treated_s:
            left = lately & (unix_s < treated_s)
        for name, flag in REMEMBERED.items():
            if spell.said[flag] != NO and (name not in DAMAGE or there):
                raise_to(remembered[name], left if name in ON_THE_AIRCRAFT else lately, spell.said[flag])
                raise_to(remembered[seen_name(name)], going, spell.said[flag])
    for name, times in (("ice_reported", ice_spells(used)), ("frost_reported", frost_spells(used))):
        remembered[name] = np.full(unix_s.size, NO, dtype=np.int8)
        for start_s, last_s in times:
            raise_to(remembered[name], (unix_s >= start_s) & (unix_s <= last_s + RECENT_S), YES)
    return remembered


def seen_name(recent: str) -> str:
    """The column of what was there at the time, beside one that remembers it for two hours."""
    return f"seen_{recent.removeprefix('recent_')}"


def raise_to(column: Codes, where: np.ndarray[tuple[int, ...], np.dtype[np.bool_]], value: int) -> None:
    """Raise a flag in place: yes outranks not known, which outranks no."""
    if value == YES:
        column[where] = YES
    elif value == UNKNOWN:
        column[where & (column == NO)] = UNKNOWN


def peak_wind_kt(used: Sequence[Report], unix_s: Floats, since_s: float) -> Floats:
    """Strongest peak wind of the remarks up to each time, kt, (time,); 0 where none was said.

    since_s: peaks before it do not count, seconds since 1970 UTC.
    """
    peak_kt = np.zeros(unix_s.size)
    for report in used:
        remarks = report.remarks
        if remarks.peak_wind_at is not None and isfinite(remarks.peak_wind_kt):
            when = remarks.peak_wind_at.timestamp()
            if when >= since_s:
                peak_kt[unix_s >= when] = np.maximum(peak_kt[unix_s >= when], remarks.peak_wind_kt)
    return peak_kt


def lulls(used: Sequence[Report]) -> list[int]:
    """When what blew has been over for an hour, whole seconds: times that the grid needs, see blown_kt."""
    gusts = [report.issued for report in used if isfinite(report.gust_kt)]
    peaks = [report.remarks.peak_wind_at for report in used]
    return [int(moment.timestamp() + HOUR_S) for moment in (*gusts, *peaks) if moment is not None]


def blown_kt(used: Sequence[Report], unix_s: Floats) -> tuple[Floats, Masks]:
    """Strongest gust or peak wind that was told of the hour before each time, kt, (time,), 0 where none was.

    A lull between two gusts is no end of them: what blew within the hour may blow again. With it where a report of that
    hour lost its wind, so that more may have blown.
    """
    blown, lost = np.zeros(unix_s.size), np.zeros(unix_s.size, dtype=np.bool_)
    for report in used:
        remarks, issued_s = report.remarks, report.issued.timestamp()
        told_gusts = [(issued_s, report.gust_kt)]
        if remarks.peak_wind_at is not None:
            told_gusts.append((remarks.peak_wind_at.timestamp(), remarks.peak_wind_kt))
        for when, kt in told_gusts:
            lately = (unix_s >= when) & (unix_s <= when + HOUR_S)
            blown[lately] = np.fmax(blown[lately], kt)
        if report.gust_lost or remarks.peak_wind_lost or (isnan(report.wind_kt) and isnan(report.gust_kt)):
            lost |= (unix_s >= issued_s) & (unix_s <= issued_s + HOUR_S)
    return blown, lost

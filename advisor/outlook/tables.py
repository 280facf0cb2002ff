"""Tracks as tables over the base cases: what was observed and kept, what is forecast, and groups on top of both."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import nan

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import LOSSES, Columns, Departure, Floats, Masks
from advisor.outlook import ended, gaps, seen, series
from advisor.outlook.cases import BASE_CASES, Choice, Doubt, Site, bounds, ends
from advisor.outlook.gaps import OBSERVED, WEATHER_HOLDS_S
from advisor.outlook.join import PARTS, join, worst
from advisor.outlook.lanes import Lane
from advisor.outlook.track import Course, Track, state
from advisor.outlook.track import observed as of_report
from advisor.physics import ahead, light, wind
from advisor.quantities.units import HOUR_S
from advisor.report.code.words import united_states
from advisor.report.forecast import WEATHER, WIND, Elements, Forecast, prevailing
from advisor.report.model import Report

# without a forecast the wind has no upper end so long after its report: the calibrated band is one of 80 % (ours)
WIND_HOLDS_H = 6.0
# by what of a forecast's elements a change brings another wind
_CHANGES = ("weather", "wind_direction_deg", "wind_kt", "gust_kt", "gust_lost")
# a forecast's wind is taken to be as sure as a report's is an hour later (ours)
FORECAST_LEAD_H = 1.0


def base_table(
    used: Sequence[Report], forecast: Forecast | None, departure: Departure, unix_s: Floats, site: Site
) -> tuple[Columns, list[str]]:
    """Columns of the base cases, (case, time), and the weather's codes over time as the central case has them."""
    size = unix_s.size
    covered = np.zeros(size, dtype=bool)
    columns: Columns = {}
    text: list[str] = []
    if forecast is not None:
        prevailed = prevailing(forecast, unix_s)
        states = tuple(state(span.elements, air_c=last_air_c(used)) for span in prevailed.spans)
        us = united_states(forecast.station)
        late, early = Track(states, prevailed.late, us), Track(states, prevailed.early, us)
        # what has passed was observed, and is not forecast
        covered = late.covered & ((unix_s >= departure.now) | (not used))
        lead = np.full(size, FORECAST_LEAD_H)
        columns = join(table(late, lead, site), table(early, lead, site))
        # what only a forecast says has not blown
        columns["seen_gust_kt"] = np.zeros_like(columns["gust_kt"])
        text = late.text()
    if not used:
        return columns, text
    governing = series.governing(used, unix_s)
    issued = np.array([report.issued.timestamp() for report in used])[governing]
    lead_h = np.abs(unix_s - issued) / HOUR_S
    track = Track(tuple(of_report(report) for report in used), governing, united_states(used[-1].station))
    passed = lead_h * HOUR_S > WEATHER_HOLDS_S
    observed = table(track, lead_h, site)
    _blow_again(observed["gust_kt"], *ended.blown_kt(used, unix_s))
    past = unix_s < departure.now
    # of a time that nobody asked about nothing is claimed, not even that it is not known
    stood = departure.parked_since is not None
    gap = gaps.missing(used, governing, unix_s, departure) & stood
    silent = past & (gap | (passed & stood))
    unheard = gap & (unix_s < used[0].issued.timestamp())
    # what comes later is known to nobody who reports: gusts out of a storm then have no bound either
    silent |= passed & ~past
    gaps.fade(observed, passed, gap, silent, unheard)
    observed["seen_gust_kt"] = seen.seen_gust(track, silent)
    stale = (lead_h > WIND_HOLDS_H) & ~covered
    for name in ("wind_kt", "gust_kt"):
        observed[name][seen.windy() & stale] = nan
    words = [
        f"not forecast (at the report: {said})" if over and not there else said
        for said, over, there in zip(track.text(), passed, covered, strict=True)
    ]
    if forecast is None or not covered.any():
        return observed, words
    kept = ~covered | (~passed & (unix_s < _ended(forecast, issued[-1], ("weather",))))
    # nothing takes less than the wind that was seen for two hours; where it was lost a change tells at least something
    ahead_kt, seen_kt = columns["gust_kt"][0], observed["gust_kt"][0]
    harder = (ahead_kt > seen_kt) | (np.isnan(seen_kt) & ~np.isnan(ahead_kt))
    blows = ~covered | (~passed & ~(harder & (unix_s >= _ended(forecast, issued[-1], _CHANGES))))
    joined = join(observed, columns)
    for name, whole in joined.items():
        if name in ("lightning", "storm_remark", "seen_gust_kt"):
            joined[name] = observed[name]
            continue
        central = np.where(blows if name in PARTS[WIND] else kept, observed[name][0], columns[name][0])
        rest = np.where(~covered, observed[name][1:], np.where(passed, columns[name][1:], whole[1:]))
        joined[name] = np.concatenate([central[None, :], rest])
    return joined, [mine if keep else theirs for mine, theirs, keep in zip(words, text, kept, strict=True)]


def _ended(forecast: Forecast, issued_s: float, names: Sequence[str]) -> float:
    """When a forecast change, FM or BECMG, first ends what was observed; infinity where none does.

    names: of the elements' fields, one of which changes.
    """
    settled = [span for span in prevailing(forecast, 0.0).spans if span.certain == "prevailing"]
    starts = [
        span.start_s
        for before, span in pairwise(settled)
        if span.start_s > issued_s and _told(span.elements, names) != _told(before.elements, names)
    ]
    return min(starts, default=np.inf)


def _told(elements: Elements, names: Sequence[str]) -> list[str]:
    # as text, so that what is not known equals itself
    return [str(getattr(elements, name)) for name in names]


def _blow_again(gust_kt: Floats, blown_kt: Floats, lost: Masks) -> None:
    """What blew within the hour in the windy cases, in place: one has what is known, another what may be more."""
    *others, last = np.flatnonzero(seen.windy())
    unknown = np.isnan(gust_kt[last]) & (blown_kt > 0.0)
    gust_kt[last] = np.where(unknown, blown_kt, np.maximum(gust_kt[last], blown_kt))
    gust_kt[others] = np.where(lost, np.nan, np.maximum(gust_kt[others], blown_kt))


def table(track: Course, lead_h: Floats, site: Site, choices: Sequence[Choice] | None = None) -> Columns:
    """A track as columns over the base cases, with the doubt of wind and cloud that its lead time brings.

    choices: which cases, those of a brief or some of them.
    """

    def each(values: NDArray[np.generic]) -> NDArray[np.generic]:
        """The same values in every case, as an array of its own."""
        return np.repeat(np.asarray(values)[None, :], len(choices or BASE_CASES), axis=0)

    # beyond the calibrated table nothing that was reported is a statement about now
    track = track.without(lead_h > ahead.LONGEST_H)
    mean, gust = track.numbers("wind_kt"), track.numbers("gust_kt")
    less, more = ahead.wind_ahead_kt(mean, lead_h)
    less, more = np.maximum(less - site.wind_doubt_kt, 0.0), more + site.wind_doubt_kt
    extra = gust - mean
    gust_high = np.fmax(more + extra, ahead.gust_ahead_kt(gust, lead_h)[1] + site.wind_doubt_kt)
    reported = ~np.isnan(gust)
    # a gust without a mean still is a gust; a weak mean under it must not hold it up
    gust_low = np.maximum(ahead.gust_ahead_kt(gust, lead_h)[0] - site.wind_doubt_kt, 0.0)
    lowest = np.where(reported, np.where(np.isnan(extra), gust, gust_low), less)
    middle = np.where(reported, gust, mean)
    # one that nobody reported is at most nine over the mean, or the wind has risen to its own high end
    highest = np.where(reported, gust_high, np.fmax(wind.unreported_gust_kt(mean), more))
    # a gust that was reported and got lost is at least ten over the mean, and has no upper bound
    lost = track.numbers("gust_lost") == 1.0
    lowest = np.where(lost, less + 10, lowest)
    middle, highest = np.where(lost, nan, middle), np.where(lost, nan, highest)
    columns: Columns = {
        "wind_kt": ends(less, mean, more, Doubt.WIND, choices),
        # an unknown wind is bounded for the skin: calm lets it cool most, and no wind takes it past the air
        "skin_wind_kt": np.nan_to_num(ends(less, mean, more, Doubt.WIND, choices)),
        "gust_kt": ends(lowest, middle, highest, Doubt.WIND, choices),
        "visibility_m": each(track.numbers("visibility_m")),
    }
    direction = each(track.numbers("direction_deg"))
    # two hours on, the direction is no longer the reported one in every case
    direction[1:, lead_h > WEATHER_HOLDS_S / HOUR_S] = nan
    columns["wind_direction_deg"] = direction
    drift = np.clip((lead_h - 2.0) / 6.0, 0.0, 1.0)
    low, middle, high = (track.cloud(end) for end in range(3))
    low, high = low * (1 - drift), high + (1 - high) * drift
    columns["cloud_fraction"] = bounds(low, middle, high, Doubt.CLOUD, choices)
    columns["cloud_base_m"] = each(np.nan_to_num(track.numbers("base_m"), nan=300.0))
    falling = track.falling
    described = [np.where(track.sky_known, end, nan) for end in (low, middle, high)]
    bright, usual, dark = (light.sky_divisors(end, falling)[i] for i, end in enumerate(described))
    columns["sky_divisor"] = bounds(bright, usual, dark, Doubt.CLOUD, choices)
    for name in OBSERVED:
        columns[name] = each(track.flags[name])
    # kept apart from the flag that may be lost: gusts out of a storm have no bound
    columns["storm_said"] = each(track.flags["thunderstorm"])
    columns["lightning"], columns["storm_remark"] = each(track.lightning), each(track.storm_remark)
    columns["cumulonimbus"], columns["towering_cumulus"] = each(track.cumulonimbus), each(track.towering_cumulus)
    columns["sky_undescribed"] = each(~track.sky_known).astype(np.int8)
    columns["treatment_classes"] = each(track.treatment_classes)
    columns["snow_intensity_code"] = each(track.snow_code)
    columns["rain_rate_mm_h"] = np.stack([track.rain_rate(LOSSES.index(row.loss)) for row in choices or BASE_CASES])
    return columns


def last_air_c(used: Sequence[Report]) -> float:
    """The air of the newest report, °C; NaN without one."""
    return used[-1].temperature_c if used else nan


def laid(base: Columns, lane: Lane, unix_s: Floats, site: Site, us: bool, air_c: float = nan) -> Columns:
    """The base cases once more with a lane's groups on top: what a group mentions holds in its time.

    base: over the base cases, as tables gives them. air_c: in which the codes of the groups are meant.
    """
    rows = {name: column.copy() for name, column in base.items()}
    taken: dict[str, Masks | bool] = {}
    for group in lane.groups:
        inside = (unix_s >= group.start_s) & (unix_s < group.end_s)
        group_columns = table(
            Track((state(group.said, air_c=air_c),), np.zeros(unix_s.size, dtype=np.intp), us),
            np.full(unix_s.size, FORECAST_LEAD_H),
            site,
        )
        for element in group.said.mentioned:
            shared = inside & taken.get(element, False)
            for name in PARTS[element]:
                both = worst(name, rows[name][:, shared], group_columns[name][:, shared])
                rows[name][:, inside] = group_columns[name][:, inside]
                rows[name][:, shared] = both
            taken[element] = taken.get(element, False) | inside
        if WEATHER in group.said.mentioned:
            darkest = light.sky_divisors(nan, 1)[2]
            falling = inside & (group_columns["precipitation_any"][0] != 0)
            for at, row in enumerate(BASE_CASES):
                if row.cloud == 1:
                    rows["sky_divisor"][at, falling] = np.maximum(rows["sky_divisor"][at, falling], darkest)
    return rows


def laid_text(text: Sequence[str], lane: Lane, unix_s: Floats) -> list[str]:
    """The weather's codes over time with a lane's groups on top, for display."""
    shown = list(text)
    for group in lane.groups:
        if WEATHER in group.said.mentioned and group.said.weather:
            for at in np.flatnonzero((unix_s >= group.start_s) & (unix_s < group.end_s)):
                shown[at] = " ".join(group.said.weather)
    return shown

"""From what was reported and forecast to what it may be like: columns over (case, time).

The outlook never builds one truth. Each track (the reports as observed and kept, the forecast by the late and by the
early reading of its changes) is turned into a table over the base cases of choices.py; the tables are joined so that
every case but the central one takes the worse, and temporary and probable groups are laid on top as lanes of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import inf, isfinite, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import LOSSES, Case, Columns, Conditions, Departure, Floats
from advisor.errors import ReportError
from advisor.outlook import ended, gaps, seen, series, temperature
from advisor.outlook.cases import BASE_CASES, MOST_LANES, Site, bounds, ends, worse
from advisor.outlook.gaps import OBSERVED, WEATHER_HOLDS_S
from advisor.outlook.lanes import Lane, lanes, of_forecast, of_trend
from advisor.outlook.track import State, Track, blind, state
from advisor.physics import ahead, flags, light, precipitation, wind
from advisor.report.code.words import united_states
from advisor.report.forecast import CLOUD, VISIBILITY, WEATHER, WIND, Forecast, prevailing
from advisor.report.model import Report

Masks = NDArray[np.bool_]
STEP_S, HISTORY_STEP_S = 300, 900
LONGEST_HISTORY_S = 48 * 3600
# without a forecast the wind has no upper end so long after its report: the calibrated band is one of 80 % (ours)
WIND_HOLDS_H = 6.0
# a forecast's wind is taken to be as sure as a report's is an hour later (ours)
FORECAST_LEAD_H = 1.0


def grid(departure: Departure, also: Sequence[int] = (), since: int | None = None) -> Floats:
    """Times from parking or since (or now) to take-off, (time,), whole seconds.

    Each full quarter of an hour before now, each full five minutes after it, each window edge, and those in also that
    lie between. since: of the first report: the apron was outside all night, whenever the aircraft came.
    """
    windows, now = departure.windows, departure.now
    edges = {now, windows.off_block, windows.take_off, *windows.walk_round, *windows.doors_open, *also}
    steps = range(now - now % STEP_S + STEP_S, windows.take_off, STEP_S)
    times = {moment for moment in {*edges, *steps} if now <= moment <= windows.take_off}
    begins = [moment for moment in (departure.parked_since, since) if moment is not None and moment < now]
    if begins:
        start = max(min(begins), now - LONGEST_HISTORY_S)
        times |= {start, *range(start - start % HISTORY_STEP_S + HISTORY_STEP_S, now, HISTORY_STEP_S)}
        times |= {moment for moment in also if start < moment < now}
    return np.array(sorted(times), dtype=np.float64)


def build(
    reports: Sequence[Report],
    departure: Departure,
    *,
    site: Site,
    forecast: Forecast | None = None,
    fuel_stays_cold: bool = True,
    also: Sequence[int] = (),
) -> Conditions:
    """Conditions of a departure from the METARs of one station and, where there is one, its forecast.

    reports: any order; forecast: the one to go by (see lanes.usable). also: further times for the grid.
    Returns columns of shape (case, time), the base cases first. Raises ReportError where there is nothing to go by.
    """
    used = series.in_order(reports)
    if not used and forecast is None:
        raise ReportError("no report has anything to go by", where="reports", hint="give a METAR that is not NIL")
    # a report of the past holds from its own time, however soon the next one came
    heard = [int(one.issued.timestamp()) for one in used if one.issued.timestamp() < departure.now]
    unix_s = grid(departure, (*also, *heard, *ended.edges(used)), heard[0] if heard else None)
    groups = of_forecast(forecast, departure.now, unix_s[-1]) if forecast else []
    groups += of_trend(used[-1], departure.now, unix_s[-1]) if used else []
    on_top, left = lanes(groups, MOST_LANES)
    columns, text = _tables(used, forecast, departure, unix_s, site)
    base = len(BASE_CASES)
    cases = [Case(row.name, row.meaning, row.loss, row.source, row.lasts) for row in BASE_CASES]
    us = united_states(used[-1].station if used else forecast.station if forecast else "")
    for lane in on_top:
        _lay(columns, lane, unix_s, site, base, us)
        cases += [Case(f"{row.name}; {lane.label}", row.meaning, row.loss, row.source, row.lasts) for row in BASE_CASES]
    conditions = Conditions(
        unix_s,
        departure.place.latitude_deg,
        departure.place.longitude_deg,
        tuple(cases),
        columns,
        heading_deg=departure.heading_deg,
        left_out=left,
        now_s=departure.now,
        parked_since_s=nan if departure.parked_since is None else departure.parked_since,
        treated_at_s=departure.treated_at,
        fuel_fill_pct=departure.fuel_fill_pct,
    )
    times = temperature.columns(used, forecast, departure, unix_s, site)
    columns.update({name: np.tile(table, (1 + len(on_top), 1)) for name, table in times.items()})
    since_s = -inf if departure.parked_since is None else departure.parked_since
    seen.remember(columns, used, unix_s, since_s)
    seen.brew(columns, np.array([case.lasts for case in cases])[:, None])
    made = {name: columns[name] for name in precipitation.FLAGS}
    columns.update(precipitation.freezing_by_temperature(made, columns["air_temperature_c"]))
    conditions.precipitation_text = (tuple(text),)
    _asked(conditions, departure, used, site, fuel_stays_cold)
    return conditions


def _tables(
    used: Sequence[Report], forecast: Forecast | None, departure: Departure, unix_s: Floats, site: Site
) -> tuple[Columns, list[str]]:
    """Columns of the base cases, (case, time), and the weather's codes over time as the central case has them."""
    size = unix_s.size
    covered = np.zeros(size, dtype=bool)
    columns: Columns = {}
    text: list[str] = []
    if forecast is not None:
        found = prevailing(forecast, unix_s)
        states = tuple(state(span.elements) for span in found.spans)
        us = united_states(forecast.station)
        late, early = Track(states, found.late, us), Track(states, found.early, us)
        # what has passed was observed, and is not forecast
        covered = late.covered & ((unix_s >= departure.now) | (not used))
        lead = np.full(size, FORECAST_LEAD_H)
        columns = _join(_table(late, lead, site), _table(early, lead, site))
        # what only a forecast says has not blown
        columns["seen_gust_kt"] = np.zeros_like(columns["gust_kt"])
        text = late.text()
    if not used:
        return columns, text
    at = series.governing(used, unix_s)
    issued = np.array([report.issued.timestamp() for report in used])[at]
    lead_h = np.abs(unix_s - issued) / 3600
    track = Track(tuple(_observed(report) for report in used), at, united_states(used[-1].station))
    passed = lead_h * 3600 > WEATHER_HOLDS_S
    observed = _table(track, lead_h, site)
    past = unix_s < departure.now
    # of a time that nobody asked about nothing is claimed, not even that it is not known
    stood = departure.parked_since is not None
    gap = gaps.missing(used, at, unix_s, departure) & stood
    silent = past & (gap | (passed & stood))
    gaps.fade(observed, passed, gap, silent)
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
    kept = ~covered | (~passed & (unix_s < _ended(forecast, issued[-1])))
    joined = _join(observed, columns)
    for name, table in joined.items():
        if name in ("lightning", "storm_remark", "seen_gust_kt"):
            joined[name] = observed[name]
            continue
        central = np.where(kept, observed[name][0], columns[name][0])
        rest = np.where(~covered, observed[name][1:], np.where(passed, columns[name][1:], table[1:]))
        joined[name] = np.concatenate([central[None, :], rest])
    return joined, [mine if keep else theirs for mine, theirs, keep in zip(words, text, kept, strict=True)]


def _ended(forecast: Forecast, issued_s: float) -> float:
    """When a forecast change, FM or BECMG, first ends what was observed; infinity where none does."""
    settled = [span for span in prevailing(forecast, 0.0).spans if span.certain == "prevailing"]
    starts = [
        span.start_s
        for before, span in pairwise(settled)
        if span.start_s > issued_s and span.elements.weather != before.elements.weather
    ]
    return min(starts, default=np.inf)


def _observed(report: Report) -> State:
    """The state of one report, with what its sensors could not see."""
    remarks = report.remarks
    lightning = remarks.lightning or remarks.cumulonimbus
    return state(report, lightning=lightning, storm_remark=remarks.storm_not_distant, blind_to=blind(report))


def _table(track: Track, lead_h: Floats, site: Site) -> Columns:
    """A track as columns over the base cases, with the doubt of wind and cloud that its lead time brings."""
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
        "wind_kt": ends(less, mean, more, "wind"),
        # an unknown wind is bounded for the skin: calm lets it cool most, and no wind takes it past the air
        "skin_wind_kt": np.nan_to_num(ends(less, mean, more, "wind")),
        "gust_kt": ends(lowest, middle, highest, "wind"),
        "visibility_m": _each(track.numbers("visibility_m")),
    }
    direction = _each(track.numbers("direction_deg"))
    # two hours on, the direction is no longer the reported one in every case
    direction[1:, lead_h > WEATHER_HOLDS_S / 3600] = nan
    columns["wind_direction_deg"] = direction
    drift = np.clip((lead_h - 2.0) / 6.0, 0.0, 1.0)
    low, middle, high = (track.cloud(end) for end in range(3))
    low, high = low * (1 - drift), high + (1 - high) * drift
    columns["cloud_fraction"] = bounds(low, middle, high, "cloud")
    columns["cloud_base_m"] = _each(np.nan_to_num(track.numbers("base_m"), nan=300.0))
    falling = track.falling
    seen = [np.where(track.sky_known, end, nan) for end in (low, middle, high)]
    bright, usual, dark = (light.sky_divisors(end, falling)[i] for i, end in enumerate(seen))
    columns["sky_divisor"] = bounds(bright, usual, dark, "cloud")
    for name in OBSERVED:
        columns[name] = _each(track.flags[name])
    # kept apart from the flag that may be lost: gusts out of a storm have no bound
    columns["storm_said"] = _each(track.flags["thunderstorm"])
    columns["lightning"], columns["storm_remark"] = _each(track.lightning), _each(track.storm_remark)
    columns["cumulonimbus"], columns["towering_cumulus"] = _each(track.cumulonimbus), _each(track.towering_cumulus)
    columns["treatment_classes"] = _each(track.treatment_classes)
    columns["snow_intensity_code"] = _each(track.snow_code)
    columns["rain_rate_mm_h"] = np.stack([track.rain_rate(LOSSES.index(row.loss)) for row in BASE_CASES])
    return columns


def _each(values: NDArray[np.generic]) -> NDArray[np.generic]:
    """The same values in every base case, as an array of its own."""
    return np.repeat(np.asarray(values)[None, :], len(BASE_CASES), axis=0)


def _join(first: Columns, second: Columns) -> Columns:
    """Two tables in one: the central case keeps the first, each other case takes the worse of both."""
    joined: Columns = {}
    for name, table in first.items():
        other = second[name]
        if name in ("wind_kt", "gust_kt", "seen_gust_kt", "skin_wind_kt"):
            joined[name] = worse(table, other, "wind")
        elif name in ("cloud_fraction", "sky_divisor"):
            joined[name] = worse(table, other, "cloud")
        else:
            joined[name] = np.concatenate([table[:1], _worse_of(name, table[1:], other[1:])])
    return joined


def _worse_of(name: str, first: NDArray[np.generic], second: NDArray[np.generic]) -> NDArray[np.generic]:
    if name == "visibility_m":
        return np.minimum(first, second)  # type: ignore[no-any-return]
    if name == "wind_direction_deg":
        return np.where(first == second, first, nan)
    if name == "treatment_classes":
        return np.bitwise_or(first, second)  # type: ignore[no-any-return]
    if name in ("snow_intensity_code", "rain_rate_mm_h"):
        return np.maximum(first, second)  # type: ignore[no-any-return]
    if name == "cloud_base_m":
        return first
    return flags.any_of(first, second)


def _worst(name: str, first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
    """The worse of two tables in every case, the central one too: of groups that share a lane none may hide another."""
    if name in ("wind_kt", "gust_kt", "skin_wind_kt"):
        return np.concatenate([np.maximum(first[:1], second[:1]), worse(first, second, "wind")[1:]])
    if name in ("cloud_fraction", "sky_divisor"):
        return worse(first, second, "cloud")
    return _worse_of(name, first, second)


_SETS = {
    WIND: ("wind_kt", "gust_kt", "skin_wind_kt", "wind_direction_deg"),
    VISIBILITY: ("visibility_m",),
    CLOUD: ("cloud_fraction", "cloud_base_m", "sky_divisor", "cumulonimbus", "towering_cumulus"),
    WEATHER: (*OBSERVED, "storm_said", "treatment_classes", "snow_intensity_code", "rain_rate_mm_h"),
}


def _lay(columns: Columns, lane: Lane, unix_s: Floats, site: Site, base: int, us: bool) -> None:
    """Add the base cases again with a lane's groups on top: what a group mentions holds in its time."""
    rows = {name: table[:base].copy() for name, table in columns.items()}
    laid: dict[str, Masks | bool] = {}
    for group in lane.groups:
        inside = (unix_s >= group.start_s) & (unix_s < group.end_s)
        table = _table(
            Track((state(group.said),), np.zeros(unix_s.size, dtype=np.intp), us),
            np.full(unix_s.size, FORECAST_LEAD_H),
            site,
        )
        for element in group.said.mentioned:
            shared = inside & laid.get(element, False)
            for name in _SETS[element]:
                worst = _worst(name, rows[name][:, shared], table[name][:, shared])
                rows[name][:, inside] = table[name][:, inside]
                rows[name][:, shared] = worst
            laid[element] = laid.get(element, False) | inside
        if WEATHER in group.said.mentioned:
            darkest = light.sky_divisors(nan, 1)[2]
            falling = inside & (table["precipitation_any"][0] != 0)
            for at, row in enumerate(BASE_CASES):
                if row.cloud == 1:
                    rows["sky_divisor"][at, falling] = np.maximum(rows["sky_divisor"][at, falling], darkest)
    for name, added in rows.items():
        columns[name] = np.concatenate([columns[name], added])


def _asked(
    conditions: Conditions, departure: Departure, used: Sequence[Report], site: Site, fuel_stays_cold: bool
) -> None:
    columns, unix_s = conditions.columns, conditions.unix_s
    row = np.ones((1, unix_s.size))
    not_stated = []
    treated = unix_s >= departure.treated_at if departure.treated_at is not None else np.zeros(unix_s.size, bool)
    columns["treated"] = treated.astype(np.int8)[None, :]
    columns["ahead_min"] = (unix_s - departure.now)[None, :] / 60
    columns["off_block_in_min"] = row * (departure.windows.off_block - departure.now) / 60
    age_min = (departure.now - used[-1].issued.timestamp()) / 60 if used else nan
    columns["report_age_min"] = row * age_min
    columns["station_distance_km"] = row * site.distance_km
    columns["station_height_difference_m"] = row * abs(site.height_difference_m)
    columns["runway_visual_range_m"] = row * (used[-1].runway_visual_range_m if used else nan)
    closed = bool(used) and used[-1].aerodrome_closed
    columns["aerodrome_closed"] = np.full((1, unix_s.size), int(closed), dtype=np.int8)
    if departure.parked_since is None:
        not_stated.append("parked since")
        columns["parked_h"] = row * nan
    else:
        columns["parked_h"] = np.maximum(unix_s - departure.parked_since, 0)[None, :] / 3600
    stated = isfinite(departure.fuel_temperature_c)
    columns["fuel_temperature_assumed"] = np.full((1, unix_s.size), 0 if stated else 1, dtype=np.int8)
    if stated:
        columns["fuel_temperature_c"] = row * departure.fuel_temperature_c
    else:
        not_stated.append("fuel temperature")
        now_at = int(np.searchsorted(unix_s, departure.now))
        recent = np.repeat(columns["air_temperature_c"][:, now_at : now_at + 1], unix_s.size, axis=1)
        columns["fuel_temperature_c"] = recent * nan if fuel_stays_cold else recent
        columns["assumed_fuel_temperature_c"] = recent
    seen = departure.seen is not None
    columns["deposit_seen"] = np.full((1, unix_s.size), int(seen), dtype=np.int8)
    conditions.not_stated = tuple(not_stated)

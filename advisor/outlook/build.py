"""From what was reported and forecast to what it may be like: columns over (case, time).

The outlook never builds one truth. Each track (the reports as observed and kept, the forecast by the late and by the
early reading of its changes) is turned into a table over the base cases of cases.py; the tables are joined so that
every case but the central one takes the worse, and temporary and probable groups are laid on top as lanes of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import NOTHING_SEEN, Case, Codes, Columns, Conditions, Departure, Floats, Masks
from advisor.errors import ReportError
from advisor.outlook import ended, seen, series, temperature
from advisor.outlook.cases import BASE_CASES, MILD_OF, MILD_SKY, MILDER, MOST_LANES, Choice, Site
from advisor.outlook.join import join, join_flags
from advisor.outlook.lanes import lanes, of_forecast, of_trend
from advisor.outlook.tables import base_table, laid, laid_text, last_air_c
from advisor.physics import precipitation
from advisor.quantities import COLUMNS
from advisor.quantities.kinds import BY_CLOUD
from advisor.quantities.units import DAY_S, HOUR_S
from advisor.report.code.words import united_states
from advisor.report.forecast import Forecast
from advisor.report.model import Report

STEP_S, HISTORY_STEP_S = 300, 900
LONGEST_HISTORY_S = 2 * DAY_S


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
        raise ReportError("no report says anything to go by", where="reports", hint="give a METAR that is not NIL")
    # a report of the past holds from its own time, however soon the next one came
    heard = [int(one.issued.timestamp()) for one in used if one.issued.timestamp() < departure.now]
    lulls = [moment for moment in ended.lulls(used) if moment > departure.now]
    unix_s = grid(departure, (*also, *heard, *lulls, *ended.edges(used)), heard[0] if heard else None)
    groups = of_forecast(forecast, departure.now, unix_s[-1]) if forecast else []
    groups += of_trend(used[-1], departure.now, unix_s[-1]) if used else []
    on_top, left = lanes(groups, MOST_LANES)
    base, text = base_table(used, forecast, departure, unix_s, site)
    # where two reports of one minute contradict each other the worse of both counts
    other = series.beside(reports, used)
    if other:
        base = join(base, base_table(other, forecast, departure, unix_s, site)[0])
    us = united_states(used[-1].station if used else forecast.station if forecast else "")
    each = [base, *(laid(base, lane, unix_s, site, us, last_air_c(used)) for lane in on_top)]
    columns = {name: np.concatenate([one[name] for one in each]) for name in base}
    labels = ("", *(lane.label for lane in on_top))
    cases = tuple(_case(row, label) for label in labels for row in BASE_CASES)
    air = temperature.columns(used, forecast, departure, unix_s, site)
    if other:
        air = temperature.worse(air, temperature.columns(other, forecast, departure, unix_s, site))
    columns |= {name: np.tile(table, (len(each), 1)) for name, table in air.items()}
    mild = temperature.milder((used, other) if other else (used,), forecast, departure, unix_s, site)
    if mild is not None:
        columns = {
            name: np.concatenate([column, *([mild[name]] * len(each) if name in mild else _beside(name, each))])
            for name, column in columns.items()
        }
        cases = (*cases, *(_case(row, label) for label in labels for row in MILDER))
    since_s = -inf if departure.parked_since is None else departure.parked_since
    columns |= seen.remembered(columns, used, unix_s, since_s, departure.treated_at)
    if other:
        columns |= join_flags(columns, seen.remembered(columns, other, unix_s, since_s, departure.treated_at))
    columns |= seen.brewing(columns, np.array([case.lasts for case in cases])[:, None])
    told = {name: columns[name] for name in precipitation.FLAGS}
    columns |= precipitation.freezing_by_temperature(told, columns["air_temperature_c"])
    columns |= _of_the_departure(departure, unix_s) | _of_the_station(used, departure, site, unix_s.size)
    columns |= _fuel(departure, unix_s, columns["air_temperature_c"], fuel_stays_cold)
    return Conditions(
        unix_s,
        departure.place.latitude_deg,
        departure.place.longitude_deg,
        cases,
        columns,
        heading_deg=departure.heading_deg,
        precipitation_text=(tuple(text), *(tuple(laid_text(text, lane, unix_s)) for lane in on_top)),
        not_stated=_not_stated(departure),
        left_out=left,
        now_s=departure.now,
        parked_since_s=nan if departure.parked_since is None else departure.parked_since,
        treated_at_s=departure.treated_at,
        fuel_fill_pct=departure.fuel_fill_pct,
        nothing_seen_at_s=departure.looked_at if departure.seen == NOTHING_SEEN else None,
    )


def _beside(name: str, tables: Sequence[Columns]) -> list[NDArray[Any]]:
    """A column of the cases of MILDER, out of each table over the base cases."""
    rows = list(MILD_SKY if COLUMNS[name].worse == BY_CLOUD else MILD_OF)
    return [table[name][rows] for table in tables]


def _case(row: Choice, label: str) -> Case:
    """A row of the table of choices, with a lane's groups on top where there is a label."""
    name = f"{row.name}; {label}" if label else row.name
    return Case(name, row.meaning, row.loss, row.source, row.lasts, label)


def _of_the_departure(departure: Departure, unix_s: Floats) -> Columns:
    """What was asked, as columns: times ahead, how long parked, treated and seen."""
    row = np.ones((1, unix_s.size))
    since, treated_at = departure.parked_since, departure.treated_at
    parked_s = row * nan if since is None else np.maximum(unix_s - since, 0)[None, :]
    return {
        "treated": _flags(np.zeros(unix_s.size, dtype=np.bool_) if treated_at is None else unix_s >= treated_at),
        "ahead_min": (unix_s - departure.now)[None, :] / 60,
        "off_block_in_min": row * (departure.windows.off_block - departure.now) / 60,
        "parked_h": parked_s / HOUR_S,
        "deposit_seen": _flags(np.full(unix_s.size, _seen(departure))),
    }


def _seen(departure: Departure) -> bool:
    """Whether a deposit was seen that was not treated since."""
    if departure.seen in (None, NOTHING_SEEN):
        return False
    return departure.treated_at is None or departure.looked_at is None or departure.treated_at <= departure.looked_at


def _of_the_station(used: Sequence[Report], departure: Departure, site: Site, size: int) -> Columns:
    """How old the newest report is and where it comes from, and what holds for the aerodrome as a whole."""
    row = np.ones((1, size))
    newest = used[-1] if used else None
    return {
        "report_age_min": row * (nan if newest is None else (departure.now - newest.issued.timestamp()) / 60),
        "station_distance_km": row * site.distance_km,
        "station_height_difference_m": row * abs(site.height_difference_m),
        "runway_visual_range_m": row * (nan if newest is None else newest.runway_visual_range_m),
        "aerodrome_closed": _flags(np.full(size, newest is not None and newest.aerodrome_closed)),
    }


def _fuel(departure: Departure, unix_s: Floats, air_temperature_c: Floats, stays_cold: bool) -> Columns:
    """Fuel as stated; else the air of now, which for an aircraft that flew high is only an assumption."""
    stated = isfinite(departure.fuel_temperature_c)
    assumed = {"fuel_temperature_assumed": _flags(np.full(unix_s.size, not stated))}
    if stated:
        return assumed | {"fuel_temperature_c": np.full((1, unix_s.size), float(departure.fuel_temperature_c))}
    now_at = int(np.searchsorted(unix_s, departure.now))
    recent = np.repeat(air_temperature_c[:, now_at : now_at + 1], unix_s.size, axis=1)
    known = recent * nan if stays_cold else recent
    return assumed | {"fuel_temperature_c": known, "assumed_fuel_temperature_c": recent}


def _not_stated(departure: Departure) -> tuple[str, ...]:
    """What was not said of the aircraft, as it is printed."""
    stated = {
        "parked since": departure.parked_since is not None,
        "fuel temperature": isfinite(departure.fuel_temperature_c),
    }
    return tuple(name for name, there in stated.items() if not there)


def _flags(values: Masks) -> Codes:
    """Times at which something is so, as a column, (1, time)."""
    return values.astype(np.int8)[None, :]

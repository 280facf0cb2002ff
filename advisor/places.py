"""Where the aircraft stands: a location indicator, or coordinates.

Indicators come from the registry package airportsdata. Its table is never loaded: one scan over the bytes of its file
for the one line takes a few milliseconds, loading takes a fifth of a second.
"""

from __future__ import annotations

import csv
import importlib.util
import math
import mmap
import re
from functools import lru_cache
from pathlib import Path

from advisor.conditions import Place
from advisor.errors import DepartureError
from advisor.quantities.units import M_PER_FT

_INDICATOR = re.compile(r"[A-Z0-9]{4}\Z", re.ASCII)
_COORDINATES = re.compile(r"\s*([-+]?\d{1,3}(?:\.\d+)?)\s*,\s*([-+]?\d{1,3}(?:\.\d+)?)\s*\Z", re.ASCII)
_HINT = 'give a location indicator such as ZZZA, or "LAT,LON" in degrees, north and east positive'


def find(text: str) -> Place:
    """Place from "LAT,LON" in degrees or from a location indicator of four letters or digits.

    Raises DepartureError where it cannot be read, lies outside -90..90 or -180..180, or is not in the table.
    """
    shown = text if len(text) <= 40 else text[:37] + "..."
    if "," in text or re.match(r"\s*[-+]?\d+\.\d", text):
        match = _COORDINATES.match(text)
        if not match:
            raise DepartureError(f"{shown!r} is not a pair of coordinates", where="place", hint=_HINT)
        return at(float(match[1]), float(match[2]))
    indicator = text.strip().upper()
    if not _INDICATOR.match(indicator):
        raise DepartureError(f"{shown!r} is not a location indicator", where="place", hint=_HINT)
    place = look_up(indicator)
    if place is None:
        raise DepartureError(
            f"{indicator} is not in the table of location indicators",
            where="place",
            hint='give the position as --place "LAT,LON"',
        )
    return place


def at(latitude_deg: float, longitude_deg: float) -> Place:
    """Place from coordinates in degrees. Raises DepartureError outside -90..90 and -180..180."""
    if not (math.isfinite(latitude_deg) and -90 <= latitude_deg <= 90):
        raise DepartureError(f"latitude {latitude_deg:g} is not between -90 and 90", where="place", hint=_HINT)
    if not (math.isfinite(longitude_deg) and -180 <= longitude_deg <= 180):
        raise DepartureError(f"longitude {longitude_deg:g} is not between -180 and 180", where="place", hint=_HINT)
    north, east = "N" if latitude_deg >= 0 else "S", "E" if longitude_deg >= 0 else "W"
    name = f"{abs(latitude_deg):.2f} {north} {abs(longitude_deg):.2f} {east}"
    return Place(name, None, latitude_deg, longitude_deg)


@lru_cache(maxsize=256)
def look_up(indicator: str) -> Place | None:
    """Place of a location indicator from the table, None where it has no such line."""
    table = _table()
    needle = f'"{indicator}",'.encode("ascii")
    with table.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        start = data.find(b"\n" + needle)
        if start < 0:
            return None
        end = data.find(b"\n", start + 1)
        line = data[start + 1 : end if end >= 0 else len(data)].decode("utf-8")
    return _of(next(csv.reader([line])))


@lru_cache(maxsize=1)
def whole() -> dict[str, Place]:
    """All places of the table, by location indicator: for many look-ups, as loading it takes a fifth of a second."""
    by_indicator: dict[str, Place] = {}
    with _table().open(encoding="utf-8", newline="") as lines:
        rows = csv.reader(lines)
        next(rows)
        for row in rows:
            by_indicator.setdefault(row[0], _of(row))
    return by_indicator


def _of(row: list[str]) -> Place:
    icao, _iata, name, city, _subdivision, _country, elevation, latitude, longitude, zone = row[:10]
    return Place(
        name=name or city or icao,
        indicator=icao,
        latitude_deg=float(latitude),
        longitude_deg=float(longitude),
        elevation_m=float(elevation) * M_PER_FT if elevation else math.nan,
        time_zone=zone,
    )


@lru_cache(maxsize=1)
def _table() -> Path:
    spec = importlib.util.find_spec("airportsdata")
    if spec is None or spec.origin is None:
        raise DepartureError(
            "the package airportsdata is not installed", where="place", hint='install it, or give "LAT,LON"'
        )
    return Path(spec.origin).with_name("airports.csv")

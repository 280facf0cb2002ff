"""Situations to work by hand, and the arithmetic that is shared: half-widths as published, the sun's course, a skin.

Nothing here calls what is tested, but for build(), which asks for its columns.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from math import exp, log, pi, radians, sin, sqrt

import ephem
import numpy as np
from subject import (
    BASE_CASES,
    Conditions,
    Departure,
    Place,
    Site,
    Windows,
    ahead_tables,
    metar,
    outlook,
    taf,
)

# a quarter of an hour, so that the sun's course needs no interpolation
NOW = datetime(2027, 1, 10, 5, 30, tzinfo=UTC)
PLACE = Place("an invented field", None, 61.4, 9.8)
HERE = Site(0.0, 0.0)
ROW = {row.name: at for at, row in enumerate(BASE_CASES)}
CENTRAL, COLD, ADVERSE, WINDY, CHILL = (
    ROW[name] for name in ("central", "cold, moist, calm", "clear, adverse skin", "warm, moist, windy", "cold, windy")
)
# three doubts at once go a 1/√3 of the way each (DESIGN.md, "Cases")
THIRD = 1 / sqrt(3)
# half-widths grow by half from 50 to 65° of latitude: at 61.4° by 11.4/15 of that
POLEWARD = 1 + 0.5 * (61.4 - 50) / 15
WINTER, SPRING = 0, 1


def departure(ahead_min: float = 60, *, now: datetime = NOW, place: Place = PLACE, **said: object) -> Departure:
    """Off-block so many minutes from now, the walk from 45 to 25 minutes before it, take-off 15 after."""
    at = int(now.timestamp())
    off = at + round(ahead_min * 60)
    windows = Windows((max(at, off - 2700), off - 1500), (max(at, off - 3000), off - 300), off, off + 900)
    return Departure(at, place, windows, **said)  # type: ignore[arg-type]


def build(
    text: str,
    *,
    forecast: str | None = None,
    site: Site = HERE,
    now: datetime = NOW,
    also: tuple[int, ...] = (),
    fuel_stays_cold: bool = True,
    **said: object,
) -> Conditions:
    """The outlook's columns of METARs and a TAF."""
    reports = metar.read_all(text, now=now) if text else []
    read = taf.read(forecast, now=now) if forecast else None
    asked = departure(now=now, **said)  # type: ignore[arg-type]
    return outlook.build(reports, asked, site=site, forecast=read, also=also, fuel_stays_cold=fuel_stays_cold)


def clock(hour: float, day: int = 10) -> float:
    """Seconds since 1970 of an hour of January 2027."""
    return (datetime(2027, 1, day, tzinfo=UTC) + timedelta(hours=hour)).timestamp()


def when(found: Conditions, hour: float) -> int:
    """Index of an hour of 10 January that stands on the grid."""
    return int(np.flatnonzero(found.unix_s == clock(hour))[0])


def half_width(row: tuple[float, ...], lead_h: float) -> float:
    """A published half-width at one of the leads of the tables."""
    return row[ahead_tables.LEAD_H.index(lead_h)]


def sun_height_deg(unix_s: float, latitude_deg: float, longitude_deg: float) -> float:
    """Geometric height of the sun's centre, by ephem (no refraction)."""
    return _seen(unix_s, latitude_deg, longitude_deg, ephem.Sun())[0]


def moon(unix_s: float, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
    """Height of the moon in degrees and its lit part, by ephem."""
    body = ephem.Moon()
    height = _seen(unix_s, latitude_deg, longitude_deg, body)[0]
    return height, body.phase / 100


def sun_position_deg(unix_s: float, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
    """Height and azimuth of the sun by ephem, degrees."""
    return _seen(unix_s, latitude_deg, longitude_deg, ephem.Sun())


def _seen(unix_s: float, latitude_deg: float, longitude_deg: float, body: object) -> tuple[float, float]:
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = str(latitude_deg), str(longitude_deg), 0
    observer.date = datetime.fromtimestamp(unix_s, UTC).replace(tzinfo=None)
    body.compute(observer)  # type: ignore[attr-defined]
    return float(body.alt) * 180 / pi, float(body.az) * 180 / pi  # type: ignore[attr-defined]


def sun_course(unix_s: float, latitude_deg: float, longitude_deg: float) -> float:
    """The last day's sun with a memory of 4 h: the mean of its height's sine in half hours, weighted by exp(-age/4)."""
    ages = [0.25 + 0.5 * step for step in range(48)]
    weights = [exp(-age / 4) for age in ages]
    lit = [max(0.0, sin(radians(sun_height_deg(unix_s - age * 3600, latitude_deg, longitude_deg)))) for age in ages]
    return sum(w * s for w, s in zip(weights, lit, strict=True)) / sum(weights)


def root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function passes 0, by halving."""
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if falling(middle) > 0 else (low, middle)
    return (low + high) / 2


def vapour_pa(dew_c: float) -> float:
    """Over water, WMO-No. 8, Annex 4.B."""
    return 611.2 * exp(17.62 * dew_c / (243.12 + dew_c))


def central_skin_c(
    air_c: float,
    dew_c: float,
    wing_m_s: float,
    *,
    below_w_m2_k: float = 5.0,
    below_c: float | None = None,
    covered: float = 0.0,
    base_m: float = 0.0,
    sun_w_m2: float = 0.0,
    emissivity: float = 0.92,
) -> float:
    """The central skin where no dew forms: Prata's sky, h = 2 + 2 V, 5 W/m²K to air below; the balance by halving."""
    kelvin = air_c + 273.15
    w = 46.5 * vapour_pa(dew_c) / 100 / kelvin
    sky = 1 - (1 + w) * exp(-sqrt(1.2 + 3 * w))
    sky += (1 - sky) * covered * exp(-base_m / 8200)
    sigma, h = 5.670374e-8, 2 + 2 * max(wing_m_s, 0.5)
    under = kelvin if below_c is None else below_c + 273.15

    def gain(skin: float) -> float:
        radiation = emissivity * sigma * (sky * kelvin**4 - skin**4)
        return radiation + sun_w_m2 + h * (kelvin - skin) + below_w_m2_k * (under - skin)

    return root(gain, 150.0, 400.0) - 273.15


def log_profile(height_m: float) -> float:
    """Part of the 10 m wind at a height over an open airfield, roughness 3 cm."""
    return log(height_m / 0.03) / log(10 / 0.03)

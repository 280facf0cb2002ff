"""A million quantised reports in chunks through the physics: goal 300,000 reports a second on one core.

Three cases a report: sun, natural light, frost point, four skins, wind chill and snow. The gate is the ratio to a bare
exponential over the same numbers in the same run; the absolute figure is printed (pytest -s).
"""

from __future__ import annotations

import time

import numpy as np

from advisor.physics import convection, exposure, light, moisture, sky, snow, sun, surface

CHUNK, CHUNKS = 50_000, 4
# 300,000 reports a second are about 4,000 exponentials of a chunk on the machine that this was written on
GATE = 4000


def reports(rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Random reports, as coarse as a METAR is."""
    air = rng.integers(-30, 35, CHUNK).astype(float)
    return {
        "unix_s": 1_700_000_000.0 + 60.0 * rng.integers(0, 500_000, CHUNK),
        "latitude": rng.uniform(-65, 70, CHUNK),
        "longitude": rng.uniform(-180, 180, CHUNK),
        "air": air,
        "dew": air - rng.integers(0, 12, CHUNK),
        "wind": rng.integers(0, 40, CHUNK).astype(float),
        "fraction": rng.choice([0.0, 0.19, 0.44, 0.75, 1.0], CHUNK),
        "base": 30.0 * rng.integers(1, 200, CHUNK),
        "visibility": 100.0 * rng.integers(1, 100, CHUNK),
    }


def chunk(said: dict[str, np.ndarray]) -> float:
    """All of it for one chunk; returns something of every result, so that nothing can be left out."""
    elevation = sun.elevation_deg(said["unix_s"], said["latitude"], said["longitude"])
    clear = light.sun_illuminance_lx(elevation)
    dark = elevation < -6.0
    total = 0.0
    for shift, loss, divisor in ((-0.5, "high", 1.0), (0.0, "central", 3.0), (0.5, "low", 10.0)):
        air, dew = said["air"] + shift, said["dew"] - shift
        np.minimum(dew, air, out=dew)
        frost = moisture.frost_point_c(dew)
        at_wing = convection.wing_wind_m_s(said["wind"] * 0.5144, loss)
        absorbed = sky.absorbed_sunlight_w_m2(elevation, said["fraction"], loss=loss)
        skins = surface.skins(air, dew, at_wing, said["fraction"], said["base"], air, absorbed, loss)
        chill = exposure.wind_chill_c(air, said["wind"] * 1.852)
        falling_snow = snow.snow_intensity(said["visibility"], air, dark)
        total += float(falling_snow.sum())
        total += sum(float(np.nansum(part)) for part in (clear / divisor, frost, chill, *skins.values()))
    return total


def test_a_replay_chunk_costs_a_bounded_number_of_exponentials() -> None:
    rng = np.random.default_rng(1)
    chunks = [reports(rng) for _ in range(CHUNKS)]
    chunk(chunks[0])
    best = min(_timed(chunk, said) for said in chunks)
    bare = min(_timed(np.exp, said["air"]) for said in chunks for _ in range(5))
    print(f"\n{CHUNK / best:,.0f} reports a second, three cases each; {best / bare:.0f} bare exponentials")
    assert best / bare < GATE


def _timed(function: object, argument: object) -> float:
    started = time.process_time_ns()
    function(argument)  # type: ignore[operator]
    return max(1, time.process_time_ns() - started) / 1e9

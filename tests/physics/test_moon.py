"""The moon against Meeus' examples and ephem, and astral's traps."""

from datetime import UTC, date, datetime

import ephem
import numpy as np
import pytest
from astral import Observer
from astral import moon as astral_moon
from published_tables import tables

from advisor.physics import moon

PUBLISHED = tables("moon")


def _points(count: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    times = rng.integers(-631_152_000, 2_524_608_000, count).astype(float)
    return times, rng.uniform(-90, 90, count), rng.uniform(-180, 180, count)


def _ephem_date(unix_s: float) -> ephem.Date:
    return ephem.Date(datetime.fromtimestamp(unix_s, UTC).replace(tzinfo=None))


def _ephem_topocentric(unix_s: float, latitude: float, longitude: float) -> tuple[float, float]:
    observer = ephem.Observer()
    observer.pressure, observer.elevation = 0, 0
    observer.lat, observer.lon, observer.date = str(latitude), str(longitude), _ephem_date(unix_s)
    body = ephem.Moon(observer)
    return np.degrees(body.alt), body.phase / 100


def test_meeus_examples_47a_and_48a():
    row = PUBLISHED["meeus_47a"]
    at = row["at_td"].timestamp() - row["terrestrial_less_universal_s"]
    longitude, latitude, distance_km, _ = moon.ecliptic(np.array(at))
    longitude, latitude = np.degrees(longitude) % 360, np.degrees(latitude)
    assert longitude == pytest.approx(row["longitude_deg"], abs=row["direction_tolerance_deg"])
    assert latitude == pytest.approx(row["latitude_deg"], abs=row["direction_tolerance_deg"])
    assert moon.position(at, 0.0, 0.0)[1] == pytest.approx(row["illuminated_fraction"], abs=row["fraction_tolerance"])
    # sin(parallax) is the earth's radius over the distance
    parallax = np.degrees(np.arcsin(6378.14 / row["distance_km"]))
    assert np.degrees(np.arcsin(6378.14 / distance_km)) == pytest.approx(parallax, abs=0.005)
    # at the pole the elevation is the declination less the parallax: tan h' = (sin d - sin p) / cos d
    declination = np.radians(row["declination_deg"])
    seen = np.arctan2(np.sin(declination) - np.sin(np.radians(parallax)), np.cos(declination))
    elevation = moon.position(at, 90.0, 0.0)[0]
    assert elevation == pytest.approx(np.degrees(seen), abs=row["direction_tolerance_deg"])


def test_elevation_and_lit_part_agree_with_ephem():
    points = _points(3000)
    elevation, fraction = moon.position(*points)
    theirs = np.array([_ephem_topocentric(*point) for point in zip(*points, strict=True)])
    assert np.abs(elevation - theirs[:, 0]).max() < 0.15  # 0.3 asked for
    assert abs(np.mean(elevation - theirs[:, 0])) < 0.004
    assert np.abs(fraction - theirs[:, 1]).max() < 0.003  # 0.01 asked for


def test_elevation_follows_every_turn_of_the_earth():
    # one place over 30 years: sidereal time, whose error grows with the years
    times = np.arange(0.0, 30 * 365.25 * 86_400, 123_457.0)
    theirs = np.array([_ephem_topocentric(t, 51.0, 0.0)[0] for t in times])
    assert np.abs(moon.position(times, 51.0, 0.0)[0] - theirs).max() < 0.15


@pytest.fixture(scope="module")
def ephem_moon() -> dict[str, np.ndarray]:
    """Geocentric longitude, latitude (degrees of date) and distance (km) at 12,000 times from 1990 to 2030."""
    times = np.linspace(631_152_000, 1_893_456_000, 12_000)
    rows = []
    for at in times:
        body = ephem.Moon(_ephem_date(at))
        rows.append((float(body.g_ra), float(body.g_dec), body.earth_distance * 149_597_870.7))
    ascension, declination, distance = np.array(rows).T
    # Meeus 13.1 and 13.2, with the mean obliquity of 22.2 [from memory]
    tilt = np.radians(23.4392911 - 0.0130042 * (times - 946_728_000.0) / (36_525 * 86_400))
    east = np.sin(ascension) * np.cos(tilt) + np.tan(declination) * np.sin(tilt)
    longitude = np.degrees(np.arctan2(east, np.cos(ascension)))
    sine = np.sin(declination) * np.cos(tilt) - np.cos(declination) * np.sin(tilt) * np.sin(ascension)
    latitude = np.degrees(np.arcsin(sine))
    return {"times": times, "longitude": longitude, "latitude": latitude, "distance": distance}


def _amplitudes(values: np.ndarray, times: np.ndarray, angles: np.ndarray, wave: np.ufunc) -> np.ndarray:
    """Least-squares amplitude of each wave in the values; last a constant and a slope over the span."""
    century = _century(times)
    node = np.radians(125.04 - 1934.136 * century)  # nutation, which is no part of the moon's own terms
    slope = np.interp(times, [times.min(), times.max()], [-1, 1])
    waves = np.vstack([wave(angles), np.sin(node), np.ones_like(slope), slope]).T
    return np.linalg.lstsq(waves, values, rcond=None)[0]


def _century(times: np.ndarray) -> np.ndarray:
    return (times - 946_728_000.0 + 65.0) / (36_525 * 86_400)  # 65 s: terrestrial less universal time about 2000


def _third_digit(value: float) -> float:
    return 10.0 ** (np.floor(np.log10(abs(value))) - 2)


def _angles(times: np.ndarray, multiples: list[list[int]]) -> np.ndarray:
    century = _century(times)
    arguments = np.radians([start + rate * century for start, rate in moon.ARGUMENTS_DEG])
    return np.array(multiples) @ arguments


def test_each_term_of_longitude_is_the_one_found_in_ephems_moon(ephem_moon):
    times = ephem_moon["times"]
    mean = moon.MEAN_LONGITUDE_DEG[0] + moon.MEAN_LONGITUDE_DEG[1] * _century(times)
    rest = (ephem_moon["longitude"] - mean + 180) % 360 - 180
    multiples = PUBLISHED["meeus_arguments"]["longitude"]
    found = _amplitudes(rest, times, _angles(times, multiples), np.sin)
    assert abs(found[-2]) < 0.01 and abs(found[-1]) < 0.01  # nothing left in the mean longitude and its rate
    for *row, amplitude in moon.LONGITUDE_TERMS:
        assert amplitude == pytest.approx(found[multiples.index(row)], abs=0.5 * _third_digit(amplitude)), row


def test_each_term_of_latitude_is_the_one_found_in_ephems_moon(ephem_moon):
    times, multiples = ephem_moon["times"], PUBLISHED["meeus_arguments"]["latitude"]
    found = _amplitudes(ephem_moon["latitude"], times, _angles(times, multiples), np.sin)
    for *row, amplitude in moon.LATITUDE_TERMS:
        assert amplitude == pytest.approx(found[multiples.index(row)], abs=0.5 * _third_digit(amplitude)), row


def test_each_term_of_distance_is_the_one_found_in_ephems_moon(ephem_moon):
    times, multiples = ephem_moon["times"], PUBLISHED["meeus_arguments"]["longitude"]
    found = _amplitudes(ephem_moon["distance"], times, _angles(times, multiples), np.cos)
    assert pytest.approx(found[-2], rel=1e-4) == moon.MEAN_DISTANCE_KM
    for (*row, _), amplitude in zip(moon.LONGITUDE_TERMS, moon.DISTANCE_TERMS_KM, strict=False):
        assert amplitude == pytest.approx(found[multiples.index(row)], abs=0.5 * _third_digit(amplitude)), row


def test_each_argument_starts_where_ephems_moon_has_it(ephem_moon):
    times = ephem_moon["times"]
    mean = moon.MEAN_LONGITUDE_DEG[0] + moon.MEAN_LONGITUDE_DEG[1] * _century(times)
    rest = (ephem_moon["longitude"] - mean + 180) % 360 - 180
    alone = {"longitude": ([2, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0]), "latitude": ([0, 0, 0, 1],)}
    for kind, values in (("longitude", rest), ("latitude", ephem_moon["latitude"])):
        multiples = PUBLISHED["meeus_arguments"][kind]
        angles = _angles(times, multiples)
        sines = _amplitudes(values, times, np.vstack([angles, angles + np.pi / 2]), np.sin)
        for row in alone[kind]:
            place, which = multiples.index(row), next(i for i, value in enumerate(row) if value)
            late = np.degrees(np.arctan(sines[place + len(multiples)] / sines[place])) / row[which]
            assert abs(late) < 0.3 * _third_digit(moon.ARGUMENTS_DEG[which][0]), row


def test_parallax_is_the_earths_radius_over_ephems_distance(ephem_moon):
    # equatorial radius 6378.137 km, WGS 84
    expected = np.degrees(np.arcsin(6378.137 / ephem_moon["distance"]))
    ours = np.degrees(np.arcsin(moon.EARTH_RADIUS_KM / moon.ecliptic(ephem_moon["times"])[2]))
    assert np.mean(ours / expected) == pytest.approx(1, abs=3e-4)
    assert np.abs(ours - expected).max() < 0.01


def test_a_single_point_equals_the_same_element_of_an_array_of_any_shape():
    times, latitudes, longitudes = _points(12, seed=3)
    elevation, fraction = moon.position(*(column.reshape(3, 4) for column in (times, latitudes, longitudes)))
    assert elevation.shape == fraction.shape == (3, 4)
    for i in range(12):
        one = moon.position(float(times[i]), float(latitudes[i]), float(longitudes[i]))
        assert isinstance(one[0], float) and isinstance(one[1], float)
        assert one == pytest.approx((elevation.flat[i], fraction.flat[i]), abs=1e-9)


def test_missing_stays_missing_and_outside_the_range_is_unknown():
    for point in ((np.nan, 50.0, 0.0), (1e9, np.nan, 0.0), (1e9, 50.0, np.nan), (1e11, 0.0, 0.0), (1e9, 91.0, 0.0)):
        assert np.isnan(moon.position(*point)[0])
    assert np.isnan(moon.position(np.nan, 0.0, 0.0)[1]) and np.isnan(moon.position(np.inf, 0.0, 0.0)[1])
    mixed = moon.position(np.array([1e9, np.nan]), 50.0, 0.0)[0]
    assert np.isfinite(mixed[0]) and np.isnan(mixed[1])


def test_trap_astrals_moon_is_seen_from_the_earths_centre():
    times, latitudes, longitudes = _points(60, seed=4)
    # the Almanac's mean parallax, 0.9507°, times the mean cosine of the height
    excess, ours = [], []
    for at, latitude, longitude in zip(times, latitudes, longitudes, strict=True):
        expected, _ = _ephem_topocentric(at, latitude, longitude)
        theirs = astral_moon.elevation(Observer(latitude, longitude, 0.0), datetime.fromtimestamp(at, UTC))
        excess.append(theirs - expected)
        ours.append(moon.position(float(at), float(latitude), float(longitude))[0] - expected)
    assert np.mean(excess) > 0.5
    assert np.abs(ours).max() < 0.15


def test_trap_astrals_phase_is_days_and_points_off_in_lit_part():
    worst_theirs = worst_ours = 0.0
    for day in range(1, 29):
        midnight = datetime(2024, 2, day, tzinfo=UTC)
        expected = ephem.Moon(_ephem_date(midnight.timestamp())).phase / 100
        days = astral_moon.phase(date(2024, 2, day))
        worst_theirs = max(worst_theirs, abs(0.5 * (1 - np.cos(2 * np.pi * days / 28)) - expected))
        worst_ours = max(worst_ours, abs(moon.position(midnight.timestamp(), 0.0, 0.0)[1] - expected))
    assert worst_theirs > 0.02
    assert worst_ours < 0.003

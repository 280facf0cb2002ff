"""The sun against NREL, USNO, Meeus and astral, and astral's traps."""

import math
from datetime import UTC, date, datetime

import numpy as np
import pytest
from astral import Observer
from astral import sun as astral_sun
from crossing import crossings
from published_tables import tables
from pvlib import spa

from advisor.physics import sun
from advisor.physics.sunrise import rise_or_set

PUBLISHED = tables("sun")


def _unix(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> float:
    return datetime(year, month, day, hour, minute, tzinfo=UTC).timestamp()


def _places(count: int, latitude: float, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whole seconds from 1950 to 2050 and places, at random."""
    rng = np.random.default_rng(seed)
    times = rng.integers(-631_152_000, 2_524_608_000, count).astype(float)
    return times, rng.uniform(-latitude, latitude, count), rng.uniform(-180, 180, count)


def _astral_elevation(unix_s: float, latitude: float, longitude: float, **options: bool) -> float:
    options = options or {"with_refraction": False}
    return astral_sun.elevation(Observer(latitude, longitude, 0.0), datetime.fromtimestamp(unix_s, UTC), **options)


def _nrel_elevation(unix_s: float | np.ndarray, latitude: float, longitude: float) -> np.ndarray:
    times = np.atleast_1d(np.asarray(unix_s, dtype=float))
    delta_t = np.interp(1970 + times / 31_556_952, [1950, 1970, 1990, 2000, 2010, 2050], [29, 40, 57, 64, 66, 75])
    return spa.solar_position(times, latitude, longitude, 0.0, 1013.25, 12.0, delta_t, 0.5667)[3]


def _crossings(level: float, start: float, latitude: float, longitude: float) -> list[tuple[float, bool]]:
    return crossings(lambda at: sun.position_deg(at, latitude, longitude)[0], level, start)


def _setting(level: float, start: float, latitude: float, longitude: float) -> float:
    [at] = [at for at, rising in _crossings(level, start, latitude, longitude) if not rising]
    return at


def test_nrel_worked_example():
    row = PUBLISHED["nrel_example"]
    at, place = row["at"].timestamp(), (row["latitude_deg"], row["longitude_deg"])
    elevation, azimuth = sun.position_deg(at, *place)
    declination = sun.declination_deg(at)
    *_, equation = sun.solar_terms(sun.centuries(np.array([at])))
    assert elevation == pytest.approx(row["elevation_without_refraction_deg"], abs=row["tolerance_deg"])
    assert azimuth == pytest.approx(row["azimuth_deg"], abs=row["tolerance_deg"])
    assert declination == pytest.approx(row["declination_deg"], abs=row["tolerance_deg"])
    assert equation == pytest.approx(row["equation_of_time_min"], abs=0.05)


@pytest.mark.parametrize("latitude, rise, set_", PUBLISHED["nrel_rise_set"]["rows"])
def test_nrel_sunrise_and_sunset(latitude, rise, set_):
    found = _crossings(sun.SUNRISE_DEG, rise.replace(hour=0, minute=0, second=0).timestamp(), latitude, 0.0)
    tolerance = PUBLISHED["nrel_rise_set"]["tolerance_s"]
    assert {rising: at for at, rising in found} == {
        True: pytest.approx(rise.timestamp(), abs=tolerance),
        False: pytest.approx(set_.timestamp(), abs=tolerance),
    }


@pytest.mark.parametrize("latitude, longitude, rise, set_", PUBLISHED["usno_rise_set"]["rows"])
def test_usno_sunrise_and_sunset_of_a_local_day(latitude, longitude, rise, set_):
    found = _crossings(sun.SUNRISE_DEG, rise.replace(hour=0, minute=0).timestamp(), latitude, longitude)
    tolerance = PUBLISHED["usno_rise_set"]["tolerance_s"]
    assert {rising: at for at, rising in found} == {
        True: pytest.approx(rise.timestamp(), abs=tolerance),
        False: pytest.approx(set_.timestamp(), abs=tolerance),
    }


def test_meeus_example_25a_with_its_intermediates():
    row = PUBLISHED["meeus_25a"]
    century = np.array([row["century"]])
    mean = sun.MEAN_LONGITUDE_DEG[0] + century * (sun.MEAN_LONGITUDE_DEG[1] + century * sun.MEAN_LONGITUDE_DEG[2])
    assert mean[0] % 360 == pytest.approx(row["mean_longitude_deg"], abs=row["longitude_tolerance_deg"])
    true = sun.true_longitude_deg(century)[0] % 360
    assert true == pytest.approx(row["true_longitude_deg"], abs=row["longitude_tolerance_deg"])
    sin_dec, _, equation_min = sun.solar_terms(century)
    declination = np.degrees(np.arcsin(sin_dec[0]))
    assert declination == pytest.approx(row["declination_deg"], abs=row["declination_tolerance_deg"])
    assert equation_min[0] * 60 == pytest.approx(row["equation_of_time_s"], abs=row["equation_tolerance_s"])


def test_array_form_equals_astral_without_refraction():
    times, latitudes, longitudes = _places(3000, 89.8)
    ours, azimuth = sun.position_deg(times, latitudes, longitudes)
    theirs = [_astral_elevation(*point) for point in zip(times, latitudes, longitudes, strict=True)]
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-6)
    np.testing.assert_array_equal(sun.elevation_deg(times, latitudes, longitudes), ours)
    for i in range(0, 3000, 10):
        observer = Observer(latitudes[i], longitudes[i], 0.0)
        expected = astral_sun.azimuth(observer, datetime.fromtimestamp(times[i], UTC))
        # astral takes an arc cosine, which is good to 1e-6° only near the meridian
        assert abs((azimuth[i] - expected + 180) % 360 - 180) < 1e-5


def test_terms_equal_astrals_thirty_centuries_out_so_that_every_small_coefficient_counts():
    century = np.linspace(-30, 30, 121)
    sin_dec, cos_dec, equation = sun.solar_terms(century)
    np.testing.assert_allclose(
        np.degrees(np.arcsin(sin_dec)), [astral_sun.sun_declination(t) for t in century], rtol=0, atol=1e-8
    )
    np.testing.assert_allclose(sin_dec**2 + cos_dec**2, 1.0, atol=1e-14)
    np.testing.assert_allclose(equation, [astral_sun.eq_of_time(t) for t in century], rtol=0, atol=1e-8)


def test_sine_and_cosine_out_of_one_tangent_are_those_of_the_c_library():
    angles = np.r_[np.linspace(-700, 700, 5001), np.pi * np.arange(-8, 9) / 2, np.nan]
    for angle, sine, cosine in zip(angles, *sun._both(angles), strict=True):
        assert sine == pytest.approx(math.sin(angle), abs=1e-15, nan_ok=True), angle
        assert cosine == pytest.approx(math.cos(angle), abs=1e-15, nan_ok=True), angle


def test_elevation_within_a_fiftieth_of_a_degree_of_the_nrel_algorithm():
    _, latitudes, longitudes = _places(50, 85.0, seed=2)
    times, _, _ = _places(50 * 100, 85.0, seed=6)
    for latitude, longitude, some in zip(latitudes, longitudes, times.reshape(50, 100), strict=True):
        theirs = _nrel_elevation(some, latitude, longitude)
        assert np.abs(sun.elevation_deg(some, latitude, longitude) - theirs).max() < 0.02


@pytest.mark.parametrize("level", [sun.SUNRISE_DEG, sun.CIVIL_DEG, sun.NAUTICAL_DEG, sun.ASTRONOMICAL_DEG])
def test_crossings_below_sixty_degrees_are_within_ten_seconds_of_the_nrel_algorithm(level):
    times, latitudes, longitudes = _places(80, 60.0, seed=3)
    checked = 0
    for start, latitude, longitude in zip(times, latitudes, longitudes, strict=True):
        for at, rising in _crossings(level, start, latitude, longitude):
            before, after = _nrel_elevation(np.array([at - 60, at + 60]), latitude, longitude)
            rate = (after - before) / 120
            if abs(rate) < 3e-4:
                continue  # the sun grazes the level: the moment is not defined to seconds
            assert rising == (rate > 0)
            assert abs(0.5 * (before + after) - level) / abs(rate) < 10
            checked += 1
    assert checked > 100


@pytest.mark.parametrize("day", [(2024, 6, 21), (2024, 12, 21)])
def test_beyond_the_polar_circle_the_sun_stays_up_or_down_all_day(day):
    assert _crossings(sun.SUNRISE_DEG, _unix(*day), 78.0, 15.0) == _crossings(sun.CIVIL_DEG, _unix(*day), 78.0, 15.0)
    assert _crossings(sun.SUNRISE_DEG, _unix(*day), 78.0, 15.0) == []


def test_a_single_point_equals_the_same_element_of_an_array():
    times, latitudes, longitudes = _places(200, 90.0, seed=5)
    elevations, azimuths = sun.position_deg(times, latitudes, longitudes)
    for i in range(200):
        point = float(times[i]), float(latitudes[i]), float(longitudes[i])
        assert isinstance(sun.elevation_deg(*point), float)
        assert sun.elevation_deg(*point) == pytest.approx(elevations[i], abs=1e-6)
        assert sun.position_deg(*point) == pytest.approx((elevations[i], azimuths[i]), abs=1e-9)


def test_fractions_of_a_second_count_for_a_single_point():
    assert sun.elevation_deg(1e9 + 0.9, 50.0, 0.0) == sun.elevation_deg(np.array([1e9 + 0.9]), 50.0, 0.0)[0]


def test_azimuth_points_east_in_the_morning_and_along_the_meridian_at_noon():
    # equinox at longitude 0: the sun rises east, stands south of 51 N and north of 51 S about noon, sets west
    morning, noon, evening = (_unix(2024, 3, 20, *clock) for clock in ((6, 8), (12, 7), (18, 8)))
    assert sun.position_deg(morning, 0.5, 0.0)[1] == pytest.approx(90, abs=1)
    assert sun.position_deg(evening, 0.5, 0.0)[1] == pytest.approx(270, abs=1)
    assert sun.position_deg(noon, 51.0, 0.0)[1] == pytest.approx(180, abs=1)
    assert (sun.position_deg(noon, -51.0, 0.0)[1] + 90) % 360 == pytest.approx(90, abs=1)


def test_missing_stays_missing_and_outside_the_range_is_unknown():
    for point in ((np.nan, 50.0, 0.0), (1e9, np.nan, 0.0), (1e9, 50.0, np.nan)):
        for arguments in (point, tuple(np.array([value, value]) for value in point)):
            assert np.isnan(sun.elevation_deg(*arguments)).all()
            assert np.isnan(sun.position_deg(*arguments)).all()
    for point in ((_unix(1899, 12, 31), 0.0, 0.0), (_unix(2100, 1, 2), 0.0, 0.0), (1e9, 90.1, 0.0), (1e9, 0.0, 361.0)):
        assert np.isnan(sun.elevation_deg(*point))
    assert np.isnan(sun.elevation_deg(np.array([np.inf, -np.inf]), 0.0, 0.0)).all()
    assert np.isnan(sun.declination_deg(np.nan))


def test_poles_and_range_ends_give_numbers_without_a_warning():
    times = np.array([_unix(1900, 1, 1), _unix(2100, 1, 1)])
    for latitude in (-90.0, 0.0, 90.0):
        assert np.isfinite(sun.position_deg(times, latitude, 180.0)).all()
    # at the pole the sun's elevation is its declination
    declination = sun.declination_deg(times)
    np.testing.assert_allclose(sun.elevation_deg(times, 90.0, 0.0), declination, atol=1e-6)


# astral's traps


def test_trap_default_refraction_below_the_horizon():
    times = np.arange(_unix(2024, 3, 20, 18), _unix(2024, 3, 20, 19), 30.0)
    ours = sun.elevation_deg(times, 51.0, 0.0)
    low = (ours < -1) & (ours > -6)
    default = np.array([_astral_elevation(t, 51.0, 0.0, with_refraction=True) for t in times[low]])
    assert np.abs(default - ours[low]).max() > 0.25
    single = np.array([sun.elevation_deg(float(t), 51.0, 0.0) for t in times[low]])
    np.testing.assert_allclose(single, ours[low], rtol=0, atol=1e-6)


def test_trap_error_at_an_ordinary_place_where_dusk_does_come():
    with pytest.raises(ValueError, match="Unable to find a dusk time"):
        astral_sun.dusk(Observer(3, -81, 0.0), date(2015, 2, 7))
    dusk = _setting(sun.CIVIL_DEG, _unix(2015, 2, 7), 3.0, -81.0)
    assert _nrel_elevation(dusk, 3.0, -81.0) == pytest.approx(-6, abs=0.02)


def test_trap_civil_dusk_is_not_at_minus_six():
    theirs = astral_sun.dusk(Observer(39.917, 116.383, 0.0), date(2015, 8, 2), depression=6).timestamp()
    assert _nrel_elevation(theirs, 39.917, 116.383) < -6.04
    ours = _setting(sun.CIVIL_DEG, _unix(2015, 8, 2), 39.917, 116.383)
    assert _nrel_elevation(ours, 39.917, 116.383) == pytest.approx(-6, abs=0.02)


def test_trap_height_of_the_observer_dips_the_horizon_by_minutes():
    high, low = (astral_sun.sunset(Observer(39, -105, h), date(2015, 1, 2)) for h in (1600.0, 0.0))
    assert (high - low).total_seconds() > 300
    # ours knows no height; the published table, for a place at about 1600 m, has none either
    published = PUBLISHED["usno_rise_set"]["rows"][0][3].timestamp()
    assert _setting(sun.SUNRISE_DEG, _unix(2015, 1, 2, 7), 39.0, -105.0) == pytest.approx(published, abs=40)


def test_trap_naive_time_is_taken_as_utc_in_silence():
    naive = datetime(2024, 3, 20, 18)  # noqa: DTZ001
    assert astral_sun.elevation(Observer(51, 0, 0.0), naive) is not None
    with pytest.raises(TypeError):
        sun.elevation_deg(naive, 51.0, 0.0)


def test_trap_longitude_is_clamped_where_ours_wraps_and_latitude_where_ours_is_unknown():
    beyond = Observer(95.0, 190.0, 0.0)
    assert (beyond.latitude, beyond.longitude) == (90.0, 180.0)
    assert sun.elevation_deg(1e9, 50.0, 190.0) == pytest.approx(sun.elevation_deg(1e9, 50.0, -170.0), abs=1e-9)
    assert np.isnan(sun.elevation_deg(1e9, 95.0, 0.0))


def test_trap_pole_is_pulled_to_89_8_degrees():
    assert _astral_elevation(1e9, 90.0, 0.0) == _astral_elevation(1e9, 89.8, 0.0)
    declination = sun.declination_deg(1e9)
    assert sun.elevation_deg(1e9, 90.0, 0.0) == pytest.approx(declination, abs=1e-6)


@pytest.mark.parametrize("latitude, longitude, rise, set_", PUBLISHED["usno_rise_set"]["rows"])
def test_the_sunrise_and_sunset_of_a_brief_are_those_of_the_almanac(latitude, longitude, rise, set_):
    tolerance = PUBLISHED["usno_rise_set"]["tolerance_s"]
    for published, rises in ((rise, True), (set_, False)):
        at = int(published.timestamp())
        found = rise_or_set(latitude, longitude, at - 3600, at + 3 * 3600)
        assert found == (pytest.approx(at, abs=tolerance), rises)


def test_there_is_no_sunrise_in_a_polar_night_and_no_sunset_under_a_midnight_sun():
    for noon in (1_798_200_000, 1_782_043_200):  # 25 December and 21 June 2026, 12Z
        assert rise_or_set(78.2, 15.5, noon - 12 * 3600, noon + 12 * 3600) is None

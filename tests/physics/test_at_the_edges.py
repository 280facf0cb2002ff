"""Values at the edges of what physics takes, and of what is worked out for several places or times at once, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.physics import deposits, exposure, seasons, sky, sun
from advisor.physics.course import SunCourse, sun_course

NOON_S = 1_800_000_000.0
HERE, THERE = (61.4, 9.8), (-33.9, 151.2)


def test_a_course_asked_for_at_two_places_is_that_of_each() -> None:
    places = np.array([HERE, THERE])
    times = NOON_S + np.array([0.0, 7_200.0])
    course = SunCourse(times, places[:, 0], places[:, 1])
    for latitude, longitude in (HERE, THERE):
        for time in times:
            one = course.at(time, latitude, longitude)
            assert one == pytest.approx(sun_course(time, latitude, longitude), abs=1e-12)
    assert course.at(times, *HERE) != pytest.approx(course.at(times, *THERE), abs=1e-3)


def test_a_time_that_is_not_known_leaves_the_course_at_the_others() -> None:
    found = sun_course(np.array([np.nan, NOON_S]), *HERE)
    assert np.isnan(found[0]) and found[1] == sun_course(NOON_S, *HERE)


def test_the_tropics_end_at_the_sun_s_highest_declination() -> None:
    """23.44°, the obliquity of the ecliptic (from memory; Meeus has 23.4393° for 2000)."""
    found = seasons.season_row(NOON_S, np.array([23.40, 23.43, 23.45, 23.50, -23.43, -23.45]))
    assert (found == 4).tolist() == [True, True, False, False, True, False]


def test_dry_air_has_a_heat_index_and_less_than_none_has_none() -> None:
    """100 °F with no humidity: 0.5 · (100 + 61 + 32 · 1.2) = 99.7 °F by the simple formula, 99.85 with the mean."""
    found = exposure.heat_index_c((100.0 - 32.0) / 1.8, np.array([0.0, -0.01]))
    assert 32.0 < found[0] < (99.9 - 32.0) / 1.8 and np.isnan(found[1])


def test_a_sky_by_idso_is_his_formula() -> None:
    """ε = 0.70 + 5.95e-5 · e · exp(1500 / T), e in hPa, T in K: 0.9113 at 20 °C and a dew point of 15 °C by hand.

    e = 6.112 · exp(17.62 · 15 / (243.12 + 15)) = 17.02 hPa (WMO-No. 8); exp(1500 / 293.15) = 166.8.
    """
    vapour = 6.112 * math.exp(17.62 * 15 / (243.12 + 15))
    by_hand = 0.70 + 5.95e-5 * vapour * math.exp(1500 / 293.15)
    _, own = sky.clear_sky_emissivities(20.0, 15.0, "low")
    assert own == pytest.approx(by_hand, abs=1e-4)


def test_under_a_whole_cloud_all_light_comes_from_the_sky_whatever_the_variant() -> None:
    for loss, reaching in sky.SUN_REACHING.items():
        clear, whole = sky.absorbed_sunlight_w_m2(40.0, np.array([0.0, 1.0]), loss=loss, absorptance=0.5)
        assert whole == pytest.approx(0.5 * sky.sunlight_w_m2(40.0, 1.0), rel=1e-12)
        assert clear == pytest.approx(0.5 * reaching * sky.sunlight_w_m2(40.0, 0.0), rel=1e-12)
    assert np.isnan(sky.absorbed_sunlight_w_m2(40.0, 1.005))


def test_times_a_second_apart_follow_each_other() -> None:
    found = deposits.integrate(np.array([0.0, 1.0, 2.0]), np.full(3, -5.0), frozen_mm_h=36.0)
    # 36 mm an hour are a hundredth of a millimetre a second
    assert found.snow_mm[-1] == pytest.approx(0.02, abs=1e-9)
    with pytest.raises(ValueError, match="does not rise"):
        deposits.integrate(np.array([0.0, 1.0, 1.0]), np.full(3, -5.0))


def test_the_sun_stands_as_high_at_the_solstice_as_the_ecliptic_is_inclined() -> None:
    """23.4393° in 2000, 46.8" less a century, 9.2" · cos of the moon's node more (Meeus, Astronomical Algorithms, 22).

    In June of 2027, 0.2747 centuries on, the node is at 125.04° - 1934.14° · 0.2747 = -46.3°.
    """
    june_2027_s = 1_811_800_000.0 + 3_600.0 * np.arange(24 * 30)
    highest = sun.declination_deg(june_2027_s).max()
    by_hand = 23.4393 - 46.8 / 3600 * 0.2747 + 9.2 / 3600 * math.cos(math.radians(46.3))
    assert highest == pytest.approx(by_hand, abs=2e-4)


def test_light_is_asked_for_heights_of_the_sun_that_there_are() -> None:
    found = sky.sunlight_w_m2(np.array([-90.05, -90.0, 90.0, 90.05]), 0.0)
    assert np.isnan(found).tolist() == [True, False, False, True]


def test_the_sun_is_known_from_1900_to_2100() -> None:
    """1 January 1900 is 2,208,988,800 s before 1970 (RFC 5905, figure 4), 2100 4,102,444,800 s after (datetime)."""
    times = np.array([-2_208_988_801.0, -2_208_988_800.0, 4_102_444_800.0, 4_102_444_801.0])
    assert np.isnan(sun.declination_deg(times)).tolist() == [True, False, False, True]


def test_water_dries_into_air_without_any_vapour() -> None:
    # a tenth of a millimetre at 20 °C; vapour less than none is no vapour, and what is not known dries nothing
    hour = np.array([0.0, 3600.0])
    wet = {vapour: _water_mm(hour, vapour) for vapour in (0.0, 0.0005, 2000.0, np.nan, -1.0)}
    assert wet[0.0] < 0.1 and wet[0.0005] == pytest.approx(wet[0.0], abs=1e-6)
    assert wet[0.0] < wet[2000.0] and wet[np.nan] == wet[-1.0] == 0.1


def _water_mm(times: np.ndarray, vapour_pressure_pa: float) -> float:
    skin = np.full(times.size, 20.0)
    found = deposits.integrate(times, skin, start_water_mm=0.1, vapour_pressure_pa=vapour_pressure_pa)
    return float(found.water_mm[-1])

"""Wind from the nose, unreported gusts, wind at the wing and door limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.conditions import Door, Sector
from advisor.physics import wind
from advisor.quantities.units import M_S_PER_KT

FORWARD = Door("forward", -60.0, 40.0, 50.0)
# 25 kt from the left rear, 20 kt from dead astern on either side, 30 and 45 kt otherwise
SIDED = Door("sided", 100.0, 30.0, 45.0, (Sector(-160.0, -100.0, 25.0, 35.0), Sector(150.0, -150.0, 20.0, 32.0)))


@pytest.mark.parametrize(
    "wind_from, heading, expected",
    [
        (0, 0, 0),
        (90, 0, 90),  # from the right
        (270, 0, -90),
        (10, 350, 20),
        (350, 10, -20),
        (180, 0, 180),  # dead astern is 180, never -180
        (0, 180, 180),
        (360, 0, 0),
        (0, 360, 0),
        (5, 200, 165),
        (200, 5, -165),
    ],
)
def test_relative_wind_by_hand(wind_from, heading, expected):
    assert wind.relative_deg(wind_from, heading) == expected


@given(st.floats(0, 360), st.floats(0, 360))
def test_relative_wind_points_the_same_way_on_the_circle(wind_from, heading):
    relative = float(wind.relative_deg(wind_from, heading))
    assert -180 < relative <= 180
    difference = np.exp(1j * np.radians(relative)) - np.exp(1j * np.radians(wind_from - heading))
    assert abs(difference) < 1e-9


def test_relative_wind_is_unknown_for_missing_or_impossible_directions():
    assert np.isnan(wind.relative_deg([np.nan, 10, 360.5, -1, np.inf, 0], [0, np.nan, 0, 0, 0, 360.5])).all()
    assert isinstance(wind.relative_deg(10.0, 350.0), float)


def test_an_unreported_gust_may_be_9_kt_over_the_mean():
    # ICAO Annex 3 [from memory]: a gust is given from 10 kt over the mean
    assert wind.unreported_gust_kt([0.0, 12.0]).tolist() == [9.0, 21.0]
    assert np.isnan(wind.unreported_gust_kt([np.nan, -1.0, 201.0])).all()


def test_a_knot_is_a_nautical_mile_an_hour():
    assert pytest.approx(0.514444, abs=5e-7) == M_S_PER_KT  # SI brochure, table of other units


def test_wind_at_the_wing_by_hand():
    # roughness 0.03 m: ln(3/0.03) / ln(10/0.03) = 4.60517 / 5.80914 = 0.792745
    assert wind.log_profile(10.0, 3.0) == pytest.approx(7.92745, abs=1e-5)
    # 0.1 m: ln(30)/ln(100) = 3.401197/4.605170 = 0.738561; twice the wind, twice the result
    assert wind.log_profile([5.0, 10.0], 3.0, 0.1) == pytest.approx([3.69281, 7.38561], abs=1e-5)
    assert wind.log_profile(7.0, 10.0) == pytest.approx(7.0)


def test_wind_at_two_metres_agrees_with_the_reference_evaporation_handbook():
    # FAO Irrigation and Drainage Paper 56, equation 47 [from memory]: u2 = u10 4.87 / ln(67.8 * 10 - 5.42) = 0.748 u10,
    # for grass 0.12 m high, roughness 0.123 of that; it also lifts the zero level by 0.08 m, worth 1 %
    assert wind.log_profile(10.0, 2.0, 0.123 * 0.12) == pytest.approx(10 * 4.87 / np.log(678 - 5.42), rel=0.01)


def test_still_air_moves_a_little_and_more_wind_never_gives_less():
    assert wind.log_profile(0.0, 3.0) == 0.5
    assert np.diff(wind.log_profile(np.linspace(0, 110, 500), 3.0)).min() >= 0
    assert np.diff(wind.log_profile(10.0, np.linspace(0.5, 100, 500))).min() > 0


def test_wind_profile_is_unknown_outside_its_range_and_quiet_inside():
    assert np.isnan(wind.log_profile([np.nan, -1, 111, np.inf], 3.0)).all()
    assert np.isnan(wind.log_profile(5.0, [np.nan, 0.4, 101, 0, -1])).all()
    assert np.isnan(wind.log_profile(5.0, 3.0, [np.nan, 0, -1, 0.5])).all()
    grid = wind.log_profile(*np.meshgrid([0, 1, 110], [0.5, 10, 100], [0.0001, 0.4]))
    assert np.isfinite(grid).all()


def test_margin_is_limit_less_gust_for_every_door_case_and_time():
    operate, stay_open = wind.door_limits((FORWARD, SIDED), np.zeros((2, 3)), np.array([[10.0, 20, 30], [40, 50, 60]]))
    assert operate.shape == stay_open.shape == (2, 2, 3)
    assert operate[0].tolist() == [[30, 20, 10], [0, -10, -20]]
    assert stay_open[1].tolist() == [[35, 25, 15], [5, -5, -15]]


@pytest.mark.parametrize(
    "relative, operate, stay_open",
    [
        (0, 30, 45),
        (-100, 25, 35),
        (-160, 20, 32),  # in both sectors: the lower
        (-130, 25, 35),
        (-99, 30, 45),
        (149, 30, 45),
        (150, 20, 32),
        (180, 20, 32),  # the sector runs through dead astern
        (-180, 20, 32),
        (-150, 20, 32),
        (-149.5, 25, 35),
        (149.5, 30, 45),
        (180.5, 20, 32),  # no direction at all: unknown
        (np.nan, 20, 32),  # unknown: the lowest of all
    ],
)
def test_sector_limits_hold_clockwise_between_their_ends(relative, operate, stay_open):
    found = wind.door_limits((SIDED,), np.array([[float(relative)]]), np.array([[0.0]]))
    assert (found[0].item(), found[1].item()) == (operate, stay_open)


def test_a_sector_from_minus_180_to_180_is_the_full_circle():
    door = Door("rear", 180.0, 30.0, 40.0, (Sector(-180.0, 180.0, 15.0, 25.0),))
    operate, _ = wind.door_limits((door,), np.array([-180.0, -90, 0, 90, 180]), np.zeros(5))
    assert operate.tolist() == [[15.0] * 5]


def test_unknown_direction_takes_the_doors_own_limit_where_that_is_lowest():
    door = Door("lee", 90.0, 20.0, 30.0, (Sector(-120.0, -60.0, 40.0, 50.0),))
    operate, _ = wind.door_limits((door,), np.array([np.nan, -90.0]), np.zeros(2))
    assert operate.tolist() == [[20.0, 40.0]]


def test_direction_over_time_and_gust_over_cases_broadcast():
    operate, _ = wind.door_limits((FORWARD,), np.zeros(5), np.full((3, 1), 10.0))
    assert operate.shape == (1, 3, 5)


def test_a_missing_gust_gives_no_margin():
    operate, stay_open = wind.door_limits((FORWARD,), np.array([[0.0]]), np.array([[np.nan]]))
    assert np.isnan(operate).all() and np.isnan(stay_open).all()
    beyond, _ = wind.door_limits((FORWARD,), np.array([0.0, 0.0]), np.array([250.0, 250.5]))
    assert beyond[0, 0] == -210 and np.isnan(beyond[0, 1])


@given(st.floats(-180, 180), st.floats(0, 250), st.floats(0, 250))
def test_more_gust_or_no_direction_never_betters_a_margin(relative, one, other):
    less, more = sorted((one, other))
    known = wind.door_limits((FORWARD, SIDED), np.array([relative, relative, np.nan]), np.array([less, more, more]))
    for table in known:
        assert np.all(table[:, 1] <= table[:, 0]) and np.all(table[:, 2] <= table[:, 1])


def test_worst_margin_counts_only_times_in_the_window():
    table = np.array([[[5.0, -3, 8, -9]]])
    mask = np.array([True, True, True, False])
    assert wind.worst_over(table, mask).tolist() == [[-3.0]]
    assert wind.worst_index(table, mask).tolist() == [[1]]


def test_a_missing_margin_never_reassures_and_never_hides_one_that_is_exceeded():
    mask = np.array([True, True, True])
    table = np.array([[5.0, np.nan, 8.0], [5.0, np.nan, -1.0], [5.0, 4.0, 8.0], [np.nan] * 3, [0.0, np.nan, 5.0]])
    worst = wind.worst_over(table, mask)
    assert np.isnan(worst[[0, 3, 4]]).all()
    assert worst[1:3].tolist() == [-1.0, 4.0]
    assert wind.worst_index(table, mask).tolist() == [0, 2, 1, -1, 0]


def test_an_empty_window_has_no_worst():
    assert np.isnan(wind.worst_over(np.array([[1.0, 2.0]]), np.array([False, False]))).all()
    assert wind.worst_index(np.array([[1.0, 2.0]]), np.array([False, False])).tolist() == [-1]

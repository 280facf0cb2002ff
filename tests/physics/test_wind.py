"""Wind from the nose, unreported gusts and door limits."""

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

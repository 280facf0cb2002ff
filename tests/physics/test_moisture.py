"""Moist air against IAPWS, Murphy & Koop and psychrolib; inverses and ranges."""

import numpy as np
import psychrolib
import pytest
from iapws._iapws import _Sublimation_Pressure
from iapws.iapws97 import _PSat_T
from published_tables import tables

from advisor.physics import moisture

PUBLISHED = tables("moist_air")
psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("celsius, pascal", PUBLISHED["iapws_ice"]["rows"])
def test_ice_line_at_the_published_points(celsius, pascal):
    tolerance = PUBLISHED["iapws_ice"]["tolerance_part"]
    assert moisture.saturation_pressure_pa(celsius, "ice") == pytest.approx(pascal, rel=tolerance)


def test_ice_line_within_a_thousandth_of_iapws_from_minus_59_to_0():
    celsius = np.linspace(-59, 0, 2001)
    expected = np.array([_Sublimation_Pressure(t + 273.15) * 1e6 for t in celsius])
    np.testing.assert_allclose(moisture.saturation_pressure_pa(celsius, "ice"), expected, rtol=0.001)


def test_water_line_within_six_thousandths_of_iapws_from_0_to_60():
    celsius = np.linspace(0, 60, 2001)
    expected = np.array([_PSat_T(t + 273.15) * 1e6 for t in celsius])
    np.testing.assert_allclose(moisture.saturation_pressure_pa(celsius, "water"), expected, rtol=0.006)


@pytest.mark.parametrize("kelvin, pascal", PUBLISHED["murphy_koop"]["ice_k"])
def test_ice_line_at_murphy_and_koops_points(kelvin, pascal):
    tolerance = PUBLISHED["murphy_koop"]["ice_tolerance_part"]
    assert moisture.saturation_pressure_pa(min(kelvin - 273.15, 0.0), "ice") == pytest.approx(pascal, rel=tolerance)


@pytest.mark.parametrize("kelvin, pascal", PUBLISHED["murphy_koop_cold"]["ice_k"])
def test_ice_line_near_its_cold_end(kelvin, pascal):
    tolerance = PUBLISHED["murphy_koop_cold"]["tolerance_part"]
    assert moisture.saturation_pressure_pa(kelvin - 273.15, "ice") == pytest.approx(pascal, rel=tolerance)


@pytest.mark.parametrize("kelvin, pascal", PUBLISHED["murphy_koop"]["water_k"])
def test_water_line_at_murphy_and_koops_points_supercooled_too(kelvin, pascal):
    tolerance = PUBLISHED["murphy_koop"]["water_tolerance_part"]
    assert moisture.saturation_pressure_pa(kelvin - 273.15) == pytest.approx(pascal, rel=tolerance)


def test_both_lines_meet_at_0_near_the_triple_point():
    row = PUBLISHED["triple_point"]
    assert moisture.saturation_pressure_pa(0.0, "ice") == moisture.saturation_pressure_pa(0.0, "water")
    at_triple_point = moisture.saturation_pressure_pa(row["kelvin"] - 273.15, "water")
    assert at_triple_point == pytest.approx(row["pressure_pa"], rel=0.001)


@pytest.mark.parametrize("dew, frost", PUBLISHED["frost_point"]["rows"])
def test_frost_point_at_the_published_dew_points(dew, frost):
    assert moisture.frost_point_c(dew) == pytest.approx(frost, abs=PUBLISHED["frost_point"]["tolerance_c"])


def test_frost_point_is_where_iapws_ice_holds_the_vapour_pressure():
    # between -45 and 0 °C over water by our line, over ice by IAPWS: within what 0.1 % of pressure means, 0.011 °C
    dew = np.linspace(-45, 0, 500)
    vapour = moisture.saturation_pressure_pa(dew, "water")
    frost = moisture.frost_point_c(dew)
    expected = np.array([_Sublimation_Pressure(t + 273.15) * 1e6 for t in frost])
    np.testing.assert_allclose(expected, vapour, rtol=0.0011)


def test_frost_point_lies_at_or_above_the_dew_point_and_rises_with_it():
    dew = np.linspace(-45, 60, 10_501)
    frost = moisture.frost_point_c(dew)
    assert np.all(frost >= dew) and np.diff(frost).min() > 0
    assert np.all(frost[dew <= 0] <= 0)
    assert moisture.frost_point_c(0.0) == 0.0


def test_above_0_the_dew_point_itself_is_given():
    assert moisture.frost_point_c([0.5, 20.0]).tolist() == [0.5, 20.0]


def test_every_inverse_returns_to_where_it_started():
    water = np.linspace(*moisture.WATER_RANGE_C, 5000)
    np.testing.assert_allclose(moisture.dew_point_c(moisture.saturation_pressure_pa(water)), water, atol=1e-9)
    # the vapour over water at the dew point is that over ice at the frost point
    cold = water[water <= 0]
    over_ice = moisture.saturation_pressure_pa(moisture.frost_point_c(cold), "ice")
    np.testing.assert_allclose(over_ice, moisture.saturation_pressure_pa(cold), rtol=1e-12)


def test_humidity_agrees_with_psychrolib_above_0():
    # psychrolib turns to ice below 0 °C, where a report's dew point stays over water
    rng = np.random.default_rng(1)
    temperature = rng.uniform(0, 50, 2000)
    dew = temperature - rng.uniform(0, 1, 2000) * temperature
    expected = [100 * psychrolib.GetRelHumFromTDewPoint(*pair) for pair in zip(temperature, dew, strict=True)]
    np.testing.assert_allclose(moisture.relative_humidity_pct(temperature, dew), expected, rtol=0.005)


def test_humidity_is_the_ratio_of_the_two_pressures():
    temperature, dew = np.array([-20.0, -5, 10, 35]), np.array([-25.0, -5, 2, 36])
    ratio = moisture.saturation_pressure_pa(dew) / moisture.saturation_pressure_pa(temperature)
    np.testing.assert_allclose(moisture.relative_humidity_pct(temperature, dew), 100 * ratio, rtol=1e-12)


def test_trap_other_inverses_give_the_frost_point_below_0():
    # air saturated over water at -10 °C: psychrolib's dew point for its pressure is the frost point
    vapour = moisture.saturation_pressure_pa(-10.0, "water")
    theirs = psychrolib.GetTDewPointFromVapPres(-5.0, float(vapour))
    assert theirs == pytest.approx(moisture.frost_point_c(-10.0), abs=0.02)
    assert moisture.dew_point_c(vapour) == pytest.approx(-10.0, abs=1e-9)


@pytest.mark.parametrize(
    "function, inside, outside",
    [
        (moisture.saturation_pressure_pa, (-45, 60), (-45.01, 60.01)),
        (lambda t: moisture.saturation_pressure_pa(t, "ice"), (-65, 0), (-65.01, 0.0005)),
        (moisture.dew_point_c, (11.2, 19_900), (11.1, 20_000, 0, -5)),
        (moisture.frost_point_c, (-45, 60), (-45.01, 60.01)),
        (lambda t: moisture.relative_humidity_pct(t, 5.0), (-45, 60), (-45.01, 60.01)),
        (lambda t: moisture.relative_humidity_pct(5.0, t), (-45, 60), (-45.01, 60.01)),
    ],
)
def test_numbers_inside_the_range_unknown_outside_and_for_missing(function, inside, outside):
    assert np.isfinite(function(np.linspace(*inside, 1001))).all()
    assert np.isnan(function(np.array([*outside, np.nan, np.inf, -np.inf]))).all()
    values = np.linspace(*inside, 7)
    for value, expected in zip(values, function(values), strict=True):
        assert isinstance(function(float(value)), float) and function(float(value)) == expected


def test_another_phase_is_refused_with_what_would_be_right():
    with pytest.raises(ValueError, match='"water" or "ice"'):
        moisture.saturation_pressure_pa(0.0, "snow")

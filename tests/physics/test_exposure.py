"""Wind chill, frostbite and heat index against the published charts and formulas."""

import numpy as np
import pytest
from published_tables import tables

from advisor.physics import exposure

PUBLISHED = tables("people")


def _celsius(fahrenheit):
    return (np.asarray(fahrenheit, dtype=float) - 32) / 1.8


def _fahrenheit(celsius):
    return np.asarray(celsius) * 1.8 + 32


@pytest.mark.parametrize("temperature, kmh, expected", PUBLISHED["wind_chill"]["rows"])
def test_wind_chill_at_the_published_points(temperature, kmh, expected):
    tolerance = PUBLISHED["wind_chill"]["tolerance_c"]
    assert exposure.wind_chill_c(temperature, kmh) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("fahrenheit, mph, expected", PUBLISHED["wind_chill_chart"]["rows"])
def test_wind_chill_on_the_weather_services_chart(fahrenheit, mph, expected):
    index = exposure.wind_chill_c(_celsius(fahrenheit), mph * 1.609344)
    assert _fahrenheit(index) == pytest.approx(expected, abs=PUBLISHED["wind_chill_chart"]["tolerance_f"])


def test_wind_chill_is_the_published_formula_over_its_whole_range():
    row = PUBLISHED["wind_chill"]
    temperature, kmh = np.meshgrid(np.linspace(-60, 10, 50), np.linspace(5, 150, 50))
    power = kmh ** row["power"]
    expected = row["constant"] + row["by_temperature"] * temperature + row["by_speed"] * power
    expected = expected + row["by_both"] * temperature * power
    np.testing.assert_allclose(exposure.wind_chill_c(temperature, kmh), expected, atol=1e-9)


def test_wind_chill_falls_with_cold_and_with_wind_where_it_is_cold():
    kmh = np.linspace(5, 150, 200)
    for temperature in (-40.0, -10.0, 0.0, 5.0, 10.0):
        assert np.diff(exposure.wind_chill_c(temperature, kmh)).max() < 0
    assert np.diff(exposure.wind_chill_c(np.linspace(-60, 10, 200), 30.0)).min() > 0


def test_there_is_no_wind_chill_in_warm_or_calm_air():
    assert np.isnan(exposure.wind_chill_c([10.1, 30, np.nan, -91], 20.0)).all()
    assert np.isnan(exposure.wind_chill_c(-10.0, [0, 4.8, -5, np.nan, 401, np.inf])).all()
    assert np.isfinite(exposure.wind_chill_c([10.0, -90.0], [4.81, 400.0])).all()


@pytest.mark.parametrize("index, minutes", PUBLISHED["frostbite"]["rows"])
def test_minutes_to_frostbite_at_the_published_bands(index, minutes):
    assert exposure.frostbite_min(index) == minutes


def test_frostbite_comes_sooner_in_the_cold_and_has_no_time_above_the_first_band():
    index = np.linspace(-100, -28, 500)
    minutes = exposure.frostbite_min(index)
    assert np.diff(minutes).min() >= 0 and minutes[0] == 2
    assert np.isnan(exposure.frostbite_min([-27.9, 0, 10, np.nan, -151])).all()
    assert exposure.frostbite_min(-34.0) == 20  # half way between the 30 and 10 minute bands


@pytest.mark.parametrize("fahrenheit, humidity, expected", PUBLISHED["heat_index"]["rows"])
def test_heat_index_on_the_weather_services_chart(fahrenheit, humidity, expected):
    index = _fahrenheit(exposure.heat_index_c(_celsius(fahrenheit), humidity))
    assert index == pytest.approx(expected, abs=PUBLISHED["heat_index"]["tolerance_f"])


def _regression(fahrenheit, humidity):
    rows = PUBLISHED["heat_index_equation"]["regression"]
    return sum(factor * fahrenheit**a * humidity**b for a, b, factor in rows)


def test_heat_index_is_the_published_regression_between_the_adjustments():
    fahrenheit, humidity = np.meshgrid(np.linspace(88, 122, 30), np.linspace(40, 85, 30))
    index = _fahrenheit(exposure.heat_index_c(_celsius(fahrenheit), humidity))
    np.testing.assert_allclose(index, _regression(fahrenheit, humidity), atol=1e-6)


def test_dry_air_takes_off_the_published_adjustment():
    # NWS/WPC: R under 13 %, T 80 to 112 °F: (13 - R)/4 sqrt((17 - |T - 95|)/17); at 95 °F and 5 % that is 2.0 °F
    index = _fahrenheit(exposure.heat_index_c(_celsius(95.0), 5.0))
    assert index == pytest.approx(_regression(95.0, 5.0) - 2.0, abs=1e-6)
    # at 103.5 °F half of the 17 remains: sqrt(0.5) = 0.70711, at 9 % 0.70711 °F
    index = _fahrenheit(exposure.heat_index_c(_celsius(103.5), 9.0))
    assert index == pytest.approx(_regression(103.5, 9.0) - 0.70711, abs=1e-4)
    # neither past 112 °F nor from 13 % up
    assert _fahrenheit(exposure.heat_index_c(_celsius(113.0), 5.0)) == pytest.approx(_regression(113.0, 5.0), abs=1e-6)
    assert _fahrenheit(exposure.heat_index_c(_celsius(95.0), 13.0)) == pytest.approx(_regression(95.0, 13.0), abs=1e-6)
    # just inside the ends it is on: 111.99 °F, (13 - 5)/4 sqrt(0.01/17) = 0.0485; 12.9 %: 0.025
    near = _fahrenheit(exposure.heat_index_c(_celsius(111.99), 5.0)) - _regression(111.99, 5.0)
    assert near == pytest.approx(-0.0485, abs=1e-4)
    assert _fahrenheit(exposure.heat_index_c(_celsius(95.0), 12.9)) == pytest.approx(
        _regression(95.0, 12.9) - 0.025, abs=1e-6
    )


def test_humid_air_adds_the_published_adjustment():
    # NWS/WPC: R over 85 %, T 80 to 87 °F: (R - 85)/10 (87 - T)/5; at 82 °F and 95 % that is 1.0 °F, at 84.5 and 90 0.25
    for fahrenheit, humidity, more in ((82.0, 95.0, 1.0), (84.5, 90.0, 0.25), (87.5, 95.0, 0.0), (82.0, 84.9, 0.0)):
        index = _fahrenheit(exposure.heat_index_c(_celsius(fahrenheit), humidity))
        assert index == pytest.approx(_regression(fahrenheit, humidity) + more, abs=1e-6)


def test_dry_and_barely_warm_air_takes_the_simple_form():
    # NWS/WPC at 80 °F and 30 %: 0.5 (80 + 61 + 12 * 1.2 + 30 * 0.094) = 79.11; its mean with 80 is 79.555, under 80
    assert _fahrenheit(exposure.heat_index_c(_celsius(80.0), 30.0)) == pytest.approx(79.555, abs=1e-6)
    # 81 °F and 10 %: 0.5 (81 + 61 + 13 * 1.2 + 0.94) = 79.27; mean with 81 is 80.135, so the regression, less the
    # dry adjustment (13 - 10)/4 sqrt((17 - 14)/17) = 0.31507
    index = _fahrenheit(exposure.heat_index_c(_celsius(81.0), 10.0))
    assert index == pytest.approx(_regression(81.0, 10.0) - 0.31507, abs=1e-4)
    # 80 °F and 39 %: simple 0.5 (155.4 + 3.666) = 79.533, mean 79.7665; 49 %: 80.003, mean 80.0015: the regression
    assert _fahrenheit(exposure.heat_index_c(_celsius(80.0), 39.0)) == pytest.approx(79.7665, abs=1e-6)
    index = _fahrenheit(exposure.heat_index_c(_celsius(80.0), 49.0))
    assert index == pytest.approx(_regression(80.0, 49.0), abs=1e-6)


def test_heat_index_rises_with_humidity_within_each_form():
    humidity = np.linspace(13, 85, 200)
    for celsius in (30.0, 33.0, 38.0, 43.0):
        assert np.diff(exposure.heat_index_c(celsius, humidity)).min() > 0


def test_heat_index_ends_at_80_fahrenheit_and_at_50_celsius():
    assert np.isnan(exposure.heat_index_c([26.6, 0, -20, 50.1, np.nan, np.inf], 50.0)).all()
    assert np.isnan(exposure.heat_index_c(30.0, [-1, 106, np.nan])).all()
    assert np.isfinite(exposure.heat_index_c([_celsius(80.0), 26.67, 50.0], 50.0)).all()


def test_rounding_above_saturation_counts_as_saturated():
    assert exposure.heat_index_c(30.0, 104.0) == exposure.heat_index_c(30.0, 100.0)


def test_a_single_value_equals_the_same_element_of_an_array():
    rng = np.random.default_rng(1)
    cold, kmh, hot, humidity = rng.uniform([[-40], [5], [27], [0]], [[10], [100], [48], [100]], (4, 40))
    for function, first, second in ((exposure.wind_chill_c, cold, kmh), (exposure.heat_index_c, hot, humidity)):
        whole = function(first, second)
        for i in range(40):
            one = function(float(first[i]), float(second[i]))
            assert isinstance(one, float) and one == pytest.approx(whole[i], rel=1e-13)


def test_no_warning_over_the_whole_range():
    temperature = np.linspace(-120, 120, 121)[:, None]
    with np.errstate(all="raise"):
        exposure.wind_chill_c(temperature, np.linspace(-10, 500, 103))
        exposure.heat_index_c(temperature, np.linspace(-10, 120, 66))
        exposure.frostbite_min(temperature)

"""Natural light against the Explanatory Supplement, the observatory's circular and the glossary; names, crossings."""

from itertools import pairwise

import numpy as np
import pytest
from crossing import crossings
from published_tables import tables
from pvlib import spa

from advisor.physics import light, moon, sun
from advisor.quantities import LIGHT_NAMES

PUBLISHED = tables("light")
SUPPLEMENT = PUBLISHED["explanatory_supplement"]


def _published_lx(altitude: float, row: list[float]) -> float:
    return 10 ** np.polynomial.polynomial.polyval(altitude / 90, row[2:])


def _lux(at: float, latitude: float, longitude: float, divisor: float = 1.0) -> float:
    """Sun and moon over level ground under one sky."""
    height, _ = sun.position_deg(at, latitude, longitude)
    return light.illuminance_lx(height, *moon.position(at, latitude, longitude), divisor)


@pytest.mark.parametrize("row", SUPPLEMENT["sun"])
def test_sunlight_is_the_published_polynomial_inside_each_piece(row):
    low, high = row[:2]
    for part in (0.1, 0.3, 0.5, 0.7, 0.95):
        altitude = low + part * (high - low)
        assert light.sun_illuminance_lx(altitude) == pytest.approx(_published_lx(altitude, row), rel=1e-9)


@pytest.mark.parametrize("row", SUPPLEMENT["moon"])
@pytest.mark.parametrize("phase", [0.0, 40.0, 120.0])
def test_moonlight_is_the_published_polynomial_inside_each_piece(row, phase):
    low, high = row[:2]
    fraction = 0.5 * (1 + np.cos(np.radians(phase)))
    fall = SUPPLEMENT["phase_linear"] * phase + SUPPLEMENT["phase_fourth_power"] * phase**4
    for parallax in (0.9, SUPPLEMENT["mean_parallax_deg"], 1.0):
        nearer = 2 * np.log10(parallax / SUPPLEMENT["mean_parallax_deg"])
        for part in (0.1, 0.3, 0.5, 0.7, 0.95):
            altitude = low + part * (high - low)
            expected = _published_lx(altitude, row) * 10 ** (fall + nearer)
            assert light.moon_illuminance_lx(altitude, fraction, parallax) == pytest.approx(expected, rel=1e-6)
    middle = 0.5 * (low + high)
    mean = light.moon_illuminance_lx(middle, fraction, SUPPLEMENT["mean_parallax_deg"])
    assert light.moon_illuminance_lx(middle, fraction) == pytest.approx(mean, rel=1e-12)


@pytest.mark.parametrize("altitude, supplement, half_digit, circular", PUBLISHED["by_altitude"]["rows"])
def test_sunlight_at_the_altitudes_that_matter(altitude, supplement, half_digit, circular):
    ours = light.sun_illuminance_lx(altitude)
    assert ours == pytest.approx(supplement, abs=half_digit)
    assert 0.5 < ours / circular < 2


def test_full_sun_of_the_observatorys_circular():
    row = PUBLISHED["circular_171_table_a"]
    at, place = row["at"].timestamp(), (row["latitude_deg"], row["longitude_deg"])
    height = sun.elevation_deg(at, *place)
    moon_height, lit = moon.position(at, *place)
    assert height == pytest.approx(row["sun_altitude_deg"], abs=0.5)
    assert moon_height == pytest.approx(row["moon_altitude_deg"], abs=0.5)
    assert 100 * lit == pytest.approx(row["illuminated_percent"], abs=0.5)
    lux = light.illuminance_lx(height, moon_height, lit, 1.0)
    assert lux == pytest.approx(row["illuminance_lx"], rel=row["tolerance_part"])


def test_civil_twilight_falls_between_the_glossarys_bounds():
    low, high = PUBLISHED["twilight"]["at_sunset_lx"]
    assert low < light.sun_illuminance_lx(-0.833) < high
    low, high = PUBLISHED["twilight"]["at_end_lx"]
    assert low < light.sun_illuminance_lx(-6.0) < high


def test_full_moon_never_replaces_a_torch():
    low, high = PUBLISHED["full_moon"]["lx"]
    assert low < light.moon_illuminance_lx(90.0, 1.0) < high
    nearest = light.moon_illuminance_lx(np.linspace(-90, 90, 181), 1.0, 1.03)
    assert nearest.max() < 20 / 40


@pytest.mark.parametrize("divisor, altitude", PUBLISHED["twenty_lux"]["rows"])
def test_altitude_at_which_light_falls_through_twenty_lux(divisor, altitude):
    tolerance = PUBLISHED["twenty_lux"]["tolerance_deg"]
    above, below = altitude + tolerance, altitude - tolerance
    assert light.illuminance_lx(above, sky_divisor=divisor) > 20 > light.illuminance_lx(below, sky_divisor=divisor)


def test_light_is_finite_and_never_falls_as_the_sun_rises():
    altitudes = np.concatenate([np.linspace(-90, 90, 180_001), [piece[0] for piece in light.SUN_PIECES]])
    lux = light.sun_illuminance_lx(np.sort(altitudes))
    assert np.isfinite(lux).all() and lux.min() > 0
    assert np.diff(lux).min() >= 0
    assert lux[0] == pytest.approx(_published_lx(-18.0, SUPPLEMENT["sun"][-1]), rel=1e-9)  # held below -18°


@pytest.mark.parametrize("lower, upper", list(pairwise(reversed(SUPPLEMENT["sun"]))))
def test_each_piece_of_sunlight_takes_over_at_its_published_altitude(lower, upper):
    edge = upper[0]
    assert light.sun_illuminance_lx(edge - 5e-4) == pytest.approx(_published_lx(edge - 5e-4, lower), rel=1e-9)
    # where the upper piece begins darker, the lower one's end is held
    expected = max(_published_lx(edge + 5e-4, upper), _published_lx(edge, lower))
    assert light.sun_illuminance_lx(edge + 5e-4) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("lower, upper", list(pairwise(reversed(SUPPLEMENT["moon"]))))
def test_each_piece_of_moonlight_takes_over_at_its_published_altitude(lower, upper):
    edge = upper[0]
    assert light.moon_illuminance_lx(edge - 5e-4, 1.0) == pytest.approx(_published_lx(edge - 5e-4, lower), rel=1e-9)
    expected = max(_published_lx(edge + 5e-4, upper), _published_lx(edge, lower))
    assert light.moon_illuminance_lx(edge + 5e-4, 1.0) == pytest.approx(expected, rel=1e-9)


def test_moonlight_ends_at_eight_tenths_of_a_degree_below_the_horizon():
    assert light.moon_illuminance_lx(-0.8, 1.0) > 0 == light.moon_illuminance_lx(-0.8005, 1.0)


def test_pieces_join_within_a_few_hundredths_of_their_value():
    for edge, *_ in light.SUN_PIECES:
        below, above = light.sun_illuminance_lx(np.array([edge - 1e-6, edge + 1e-6]))
        assert above / below == pytest.approx(1, abs=0.04)


def test_moonlight_is_none_below_the_horizon_and_grows_with_height_and_lit_part():
    heights = np.linspace(-90, 90, 3601)
    lux = light.moon_illuminance_lx(heights, 1.0)
    assert np.all(lux[heights < -0.8] == 0) and np.diff(lux).min() >= 0
    by_part = light.moon_illuminance_lx(45.0, np.linspace(0, 1, 101))
    assert np.diff(by_part).min() > 0


def test_sun_and_moon_add_and_cloud_divides():
    alone = light.sun_illuminance_lx(-10.0) + light.moon_illuminance_lx(40.0, 0.7)
    np.testing.assert_allclose(light.illuminance_lx(-10.0, 40.0, 0.7, [1, 2, 3, 10]), alone / np.array([1, 2, 3, 10]))
    assert light.illuminance_lx(-10.0) == light.sun_illuminance_lx(-10.0)


@pytest.mark.parametrize(
    "cloud, expected",
    [
        (0.0, (1, 1, 1)),
        (0.2, (1, 1, 2)),  # few
        (0.0005, (1, 1, 2)),
        (0.25, (1, 1, 2)),
        (0.2505, (1, 1, 3)),  # scattered
        (0.5, (1, 1, 3)),
        (0.5005, (1, 2, 3)),  # broken
        (0.875, (1, 2, 3)),
        (0.99, (1, 2, 3)),
        (0.9905, (3, 3, 10)),
        (1.0, (3, 3, 10)),  # overcast
        (np.nan, (1, 3, 10)),  # unknown, as wide as any
    ],
)
def test_sky_divisors_by_cloud_amount(cloud, expected):
    assert light.sky_divisors(cloud) == expected


def test_divisors_are_the_circulars_four_and_widen_but_never_narrow():
    cloud = np.append(np.linspace(0, 1, 201), np.nan)
    low, central, high = light.sky_divisors(cloud)
    assert set(np.unique([low, central, high])) == {1.0, 2.0, 3.0, 10.0}
    assert np.all((low <= central) & (central <= high))
    for bound in (low, central, high):
        assert np.diff(bound[:-1]).min() >= 0
    assert low[-1] == low.min() and central[-1] == central.max() and high[-1] == high.max()


def test_precipitation_or_not_knowing_of_it_counts_as_dark_stratus_at_the_dark_end():
    _, _, high = light.sky_divisors(np.array([0.3, 0.3, 0.3]), precipitation=np.array([0, 1, -1]))
    assert high.tolist() == [3, 10, 10]


def test_unreported_high_cloud_counts_as_thin_cloud_at_the_dark_end_only():
    low, central, high = light.sky_divisors(np.array([0.0, 0.4]), thin_cloud_possible=True)
    assert (low.tolist(), central.tolist(), high.tolist()) == ([1, 1], [1, 1], [2, 3])


def test_names_of_the_light_change_at_the_published_elevations():
    elevations = [90, -0.833, -0.834, -6, -6.001, -12, -12.001, -18, -18.001, -90]
    names = [LIGHT_NAMES[code] for code in light.light_code(elevations)]
    expected = ["day"] * 2 + ["civil twilight"] * 2 + ["nautical twilight"] * 2 + ["astronomical twilight"] * 2
    assert names == [*expected, "full dark", "full dark"]
    assert light.light_code([np.nan, 90.5, -90.5]).tolist() == [-1, -1, -1]
    assert light.light_code(np.zeros((2, 3))).dtype == np.int8


def test_legal_night_is_below_minus_six_and_is_not_the_torchs_rule():
    assert light.is_dark([-5.9, -6, -6.1, np.nan, 90.5, -90.5]).tolist() == [0, 0, 1, -1, -1, -1]
    # at -5° it is not yet night, and far too dark to see a surface by
    assert light.is_dark(-5.0) == 0 and light.sun_illuminance_lx(-5.0) < 20


@pytest.mark.parametrize("divisor, altitude", PUBLISHED["twenty_lux"]["rows"])
def test_light_passes_twenty_lux_at_the_published_altitude_by_the_nrel_algorithm(divisor, altitude):
    start = 1_704_153_600.0  # 2024-01-02 00:00 UTC
    found = crossings(lambda at: _lux(at, 52.0, 5.0, divisor), 20.0, start)
    assert [brighter for _, brighter in found] == [True, False]
    for at, _ in found:
        elevation = spa.solar_position(np.array([at]), 52.0, 5.0, 0.0, 1013.25, 12.0, 69.0, 0.5667)[3][0]
        assert elevation == pytest.approx(altitude, abs=0.1)


def test_moonlight_alone_can_pass_a_low_level_but_never_twenty_lux():
    start = 1_703_548_800.0  # 2023-12-26, full moon, 70 N in the polar night
    assert len(crossings(lambda at: _lux(at, 78.0, 15.0), 0.05, start)) <= 2
    assert light.illuminance_lx(-11.2, 38.0, 1.0) > 0.05
    assert crossings(lambda at: _lux(at, 78.0, 15.0), 20.0, start) == []


def test_a_single_value_equals_the_same_element_of_an_array():
    rng = np.random.default_rng(1)
    heights, moons = rng.uniform(-90, 90, (2, 50))
    parts, clouds = rng.uniform(0, 1, (2, 50))
    total, code, dark = (
        light.illuminance_lx(heights, moons, parts, 3.0),
        light.light_code(heights),
        light.is_dark(heights),
    )
    bounds = light.sky_divisors(clouds)
    for i in range(50):
        one = light.illuminance_lx(float(heights[i]), float(moons[i]), float(parts[i]), 3.0)
        assert isinstance(one, float) and one == pytest.approx(total[i], rel=1e-12)
        assert light.light_code(float(heights[i])) == code[i] and light.is_dark(float(heights[i])) == dark[i]
        assert light.sky_divisors(float(clouds[i])) == tuple(bound[i] for bound in bounds)


def test_missing_stays_missing_and_outside_the_range_is_unknown():
    for value in (np.nan, 90.1, -90.1, np.inf):
        assert np.isnan(light.sun_illuminance_lx(value))
        assert np.isnan(light.moon_illuminance_lx(value, 0.5))
        assert np.isnan(light.illuminance_lx(value, 10.0, 0.5, 1.0))
        assert np.isnan(light.illuminance_lx(10.0, value, 0.5, 1.0))
    for fraction in (np.nan, -0.1, 1.1):
        assert np.isnan(light.moon_illuminance_lx(10.0, fraction))
    for divisor in (np.nan, 0.0, 0.9, 11.0):
        assert np.isnan(light.illuminance_lx(10.0, sky_divisor=divisor))
    for parallax in (np.nan, 0.5, 2.0):
        assert np.isnan(light.moon_illuminance_lx(10.0, 0.5, parallax))


def test_divisors_broadcast_cloud_by_case_and_precipitation_by_time():
    low, central, high = light.sky_divisors(np.array([[0.0], [1.0]]), precipitation=np.array([0, 1, 0]))
    assert low.tolist() == [[1, 1, 1], [3, 3, 3]] and central.tolist() == [[1, 1, 1], [3, 3, 3]]
    assert high.tolist() == [[1, 10, 1], [10, 10, 10]]


def test_shapes_broadcast_over_case_and_time():
    lux = light.illuminance_lx(np.linspace(-20, 5, 7), np.linspace(0, 10, 7), 0.5, np.array([[1.0], [3.0], [10.0]]))
    assert lux.shape == (3, 7)
    assert np.all(np.diff(lux, axis=0) < 0)

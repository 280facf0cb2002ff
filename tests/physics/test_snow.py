"""Snow intensity against both published visibility tables, cell by cell, and its rate as water."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import tables

from advisor.conditions import LOSSES
from advisor.physics import snow

PUBLISHED = tables("snow")
FAA, CANADA = PUBLISHED["faa"], PUBLISHED["transport_canada"]
MILE_M = PUBLISHED["statute_mile"]["metres"]
LETTERS = ("VL", "L", "M", "H")
NAN = np.nan
ROWS = [(dark, warm) for dark in (0, 1) for warm in (0, 1)]
visibilities, temperatures = st.floats(0, 100_000), st.floats(-90, 60)


def _by(table, visibility_m, temperature_c, dark):
    """What one table alone says, no doubt about the temperature."""
    return snow._look_up(snow._compiled((table,), 0.0), visibility_m, temperature_c, dark)


def _row(table, dark, warm):
    return table[f"{('day', 'night')[dark]}_{('cold', 'warm')[warm]}"]


def _faa(visibility_m, warm, dark):
    """A column holds from its own visibility up to the next column's; below the last too."""
    place = next((i for i, column in enumerate(FAA["columns_m"]) if visibility_m >= column), 6)
    return LETTERS.index(_row(FAA, dark, warm)[place]) + 1


def _canada(visibility_mi, warm, dark):
    heavy, moderate, light = _row(CANADA, dark, warm)
    return 4 if visibility_mi <= heavy else 3 if visibility_mi <= moderate else 2 if visibility_mi <= light else 1


@pytest.mark.parametrize("dark, warm", ROWS)
def test_every_cell_of_the_faa_table_in_metres_and_in_miles(dark, warm):
    temperature = 0.0 if warm else -4.0
    for metres, miles, letter in zip(FAA["columns_m"], FAA["miles"], _row(FAA, dark, warm), strict=True):
        expected = LETTERS.index(letter) + 1
        for visibility in (metres, miles * MILE_M):
            assert _by(snow.FAA_2009, visibility, temperature, dark) == expected


@pytest.mark.parametrize("dark, warm", ROWS)
def test_between_two_columns_of_the_faa_table_the_lower_visibility_holds(dark, warm):
    temperature = -0.4 if warm else -1.0
    for visibility in [
        0,
        200,
        399,
        401,
        795,
        799,
        1195,
        1199,
        1300,
        1592,
        1599,
        2390,
        2399,
        3190,
        3199,
        3980,
        3999,
        9999,
    ]:
        expected = _faa(visibility, warm, dark)
        assert _by(snow.FAA_2009, visibility, temperature, dark) == expected


def test_minus_one_itself_is_in_the_cold_row_of_one_table_and_the_warm_row_of_the_other():
    assert FAA["boundary_c"] == CANADA["boundary_c"] == -1.0
    # FAA by day, 3200 m: very light at -1 °C, light above. Transport Canada by day, 1 mile: light below, moderate at it
    for temperature, first, second in [(-1.004, 1, 2), (-1.0, 1, 3), (-0.996, 2, 3)]:
        assert _by(snow.FAA_2009, 3200, temperature, 0) == first
        assert _by(snow.TRANSPORT_CANADA_2003, MILE_M, temperature, 0) == second


@pytest.mark.parametrize("dark, warm", ROWS)
def test_every_limit_of_the_canadian_table_holds_up_to_and_with_it(dark, warm):
    temperature = -1.0 if warm else -1.004
    for place, limit in enumerate(_row(CANADA, dark, warm)):
        at, above = (
            _by(snow.TRANSPORT_CANADA_2003, limit * MILE_M + over_m, temperature, dark) for over_m in (0.0, 2.5)
        )
        assert (at, above) == (4 - place, 3 - place)
        just_inside = _by(snow.TRANSPORT_CANADA_2003, limit * MILE_M * 0.999, temperature, dark)
        assert just_inside == 4 - place
        # the metres of a metric report: 1 mile is 1600, three eighths 600
        metric = np.floor(limit * MILE_M / 100) * 100
        assert _by(snow.TRANSPORT_CANADA_2003, metric, temperature, dark) == 4 - place


def test_a_limit_in_miles_survives_its_rounding_to_whole_metres():
    # 7/8 mile is 1408.2 m; a reader that rounds up to 1409 m still means 7/8
    for metres, intensity in [(1408.176, 3), (1409.0, 3), (1410.0, 3), (1410.18, 2)]:
        assert _by(snow.TRANSPORT_CANADA_2003, metres, -7, 0) == intensity


def test_the_example_worked_in_the_canadian_text():
    case = CANADA["worked"]
    metres = case["visibility_mi"] * MILE_M
    assert _by(snow.TRANSPORT_CANADA_2003, metres, case["temperature_c"], case["dark"]) == case["intensity"]
    assert snow.snow_intensity(metres, case["temperature_c"], case["dark"]) == case["intensity"]


@given(st.floats(0, 12_000), st.sampled_from([-20.0, -3.0, -2.0, 0.0, 1.0, 5.0]), st.sampled_from([0, 1]))
def test_the_worse_of_the_two_tables_is_taken(visibility, temperature, dark):
    warm = temperature > -1
    # two metres of rounding belong to the limits in miles
    expected = max(_faa(visibility, warm, dark), _canada(max(visibility - 2.0, 0) / MILE_M, warm, dark))
    assert snow.snow_intensity(visibility, temperature, dark) == expected


@pytest.mark.parametrize("visibility", [300, 700, 1000, 1600, 2000, 3219, 4500, 6000, 7000])
@pytest.mark.parametrize("dark", [0, 1])
def test_a_reported_minus_one_may_be_half_a_degree_warmer(visibility, dark):
    # rounded from -1.5 to -0.5: the warm row of both tables, which is nowhere milder
    at = snow.snow_intensity(visibility, -1.0, dark)
    assert at == snow.snow_intensity(visibility, 0.0, dark) >= snow.snow_intensity(visibility, -2.0, dark)
    assert snow.snow_intensity(visibility, -1.4995, dark) == at
    assert snow.snow_intensity(visibility, -1.5005, dark) == snow.snow_intensity(visibility, -2.0, dark)


def test_the_two_tables_that_conflict_at_night_give_the_worse():
    # night, 2 miles, warm: FAA light, Transport Canada moderate
    assert _faa(2 * MILE_M, 1, 1) == 2 and _canada(2, 1, 1) == 3
    assert snow.snow_intensity(2 * MILE_M, 0, 1) == 3


@given(visibilities, visibilities, temperatures, st.sampled_from([0, 1]))
def test_lower_visibility_is_never_lighter_snow(one, other, temperature, dark):
    lower, higher = sorted((one, other))
    assert snow.snow_intensity(lower, temperature, dark) >= snow.snow_intensity(higher, temperature, dark) >= 1


@given(visibilities, temperatures, temperatures)
def test_darkness_and_warmth_are_never_milder(visibility, one, other):
    colder, warmer = sorted((one, other))
    for dark in (0, 1):
        assert snow.snow_intensity(visibility, warmer, dark) >= snow.snow_intensity(visibility, colder, dark)
    assert snow.snow_intensity(visibility, one, 1) >= snow.snow_intensity(visibility, one, 0)


def test_nothing_is_said_where_an_input_is_missing_or_outside_its_range():
    assert (
        snow.snow_intensity([NAN, 1000, 1000, 1000, -1, 100_500], [0, NAN, 0, 0, 0, 0], [0, 0, NAN, -1, 0, 0]).tolist()
        == [0] * 6
    )
    # 1000 m is in the column of 800 m: heavy in the warm, moderate in the cold
    assert snow.snow_intensity([100_000, 1000, 1000], [0, 60, -90], 0).tolist() == [1, 4, 3]
    assert snow.snow_intensity(1000, [60.05, -90.05], 0).tolist() == [0, 0]


@given(st.lists(st.tuples(visibilities, temperatures, st.booleans()), min_size=1, max_size=6))
def test_an_array_holds_what_each_scalar_gives(rows):
    visibility, temperature, dark = map(np.array, zip(*rows, strict=True))
    array = snow.snow_intensity(visibility, temperature, dark)
    assert array.dtype == np.int8
    assert array.tolist() == [int(snow.snow_intensity(*row)) for row in rows]
    assert snow.snow_intensity(visibility[:, None], temperature, 0).shape == (len(rows), len(rows))


def test_the_tables_say_how_old_they_are():
    assert [(table.source, table.edition) for table in snow.TABLES] == [
        ("faa-snow-visibility-2009", "about 2009-10"),
        ("tc-tp-10643-2003", "2003"),
    ]


def test_snow_as_water_is_the_middle_of_its_class_and_a_factor_of_three_either_way():
    rates, top = PUBLISHED["rates"], PUBLISHED["heavy_top"]["mm_h"]
    classes = [rates["very_light"], rates["light"], rates["moderate"], [rates["heavy_from"], top]]
    low, central, high = snow.snow_rate_mm_h([1, 2, 3, 4])
    np.testing.assert_allclose(central, [sum(ends) / 2 for ends in classes], rtol=1e-9)
    np.testing.assert_allclose(low * PUBLISHED["rate_doubt"]["factor"], central, rtol=1e-9)
    np.testing.assert_allclose(high, central * PUBLISHED["rate_doubt"]["factor"], rtol=1e-9)
    for place, (bottom, above) in enumerate(classes):
        assert low[place] <= bottom and above <= high[place]


def test_snow_of_unknown_intensity_has_no_rate():
    for rate in snow.snow_rate_mm_h([0, -1, 5, NAN]):
        assert np.isnan(rate).all()
    assert np.ndim(snow.snow_rate_mm_h(2)[1]) == 0 and len(LOSSES) == len(snow.snow_rate_mm_h(2))

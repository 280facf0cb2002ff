"""Air temperature and dew point by case: half-widths from the published tables, the sun's course by ephem.

Each end is written out: the table's half-width for the season and lead, times 1.38 at 61.4° (half more from 50 to 65°),
half a degree of rounding, and what distance and height add.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from subject import Extreme, Place, Site, ahead_tables, temperature
from worked import (
    ADVERSE,
    CENTRAL,
    CHILL,
    COLD,
    NOW,
    PLACE,
    POLEWARD,
    SPRING,
    THIRD,
    WINDY,
    WINTER,
    build,
    clock,
    half_width,
    sun_course,
    when,
)

# few clouds: fair weather
FAIR = "METAR ZZZA 100530Z 24012KT 9999 SCT030 03/01 Q1013"
GAIN_FAIR, GAIN_DULL = 10.4, 6.5
LATITUDE_45 = Place("an invented field", None, 45.0, 9.8)


def values(found: object, name: str, hour: float) -> dict[int, float]:
    column = found.columns[name]  # type: ignore[attr-defined]
    return {row: float(column[row, when(found, hour)]) for row in (CENTRAL, COLD, ADVERSE, WINDY, CHILL)}  # type: ignore[arg-type]


def moved(hour: float, place: Place = PLACE) -> float:
    """How far the sun's course went from 05:30."""
    there = (place.latitude_deg, place.longitude_deg)
    return sun_course(clock(hour), *there) - sun_course(clock(5.5), *there)


def test_published_half_widths_are_those_that_these_tests_work_with() -> None:
    less, more = ahead_tables.TEMPERATURE_LESS_C, ahead_tables.TEMPERATURE_MORE_C
    assert [half_width(less[0][WINTER], lead) for lead in (1.0, 2.0)] == [0.7, 1.2]
    assert [half_width(less[1][WINTER], lead) for lead in (1.0, 2.0)] == [0.8, 1.2]
    assert [half_width(more[1][WINTER], lead) for lead in (1.0, 2.0)] == [1.0, 1.6]
    assert [half_width(ahead_tables.DEW_POINT_LESS_C[WINTER], lead) for lead in (1.0, 2.0)] == [1.2, 2.0]
    assert [half_width(ahead_tables.DEW_POINT_MORE_C[WINTER], lead) for lead in (1.0, 2.0)] == [1.1, 1.8]
    assert half_width(less[0][SPRING], 1.0) == 0.8 and ahead_tables.GAIN_C == (GAIN_FAIR, GAIN_DULL)


@pytest.mark.parametrize("lead", [1.0, 2.0])
def test_air_by_case_before_sunrise(lead: float) -> None:
    # the night's cooling is the sun's course going down; the duller sky has the wider end both ways
    found, step = build(FAIR, ahead_min=200), moved(5.5 + lead)
    assert -0.01 < step < 0
    central = 3 + GAIN_FAIR * step
    fall = max(
        POLEWARD * half_width(ahead_tables.TEMPERATURE_LESS_C[0][WINTER], lead) - GAIN_FAIR * step,
        POLEWARD * half_width(ahead_tables.TEMPERATURE_LESS_C[1][WINTER], lead) - GAIN_DULL * step,
    )
    rise = POLEWARD * half_width(ahead_tables.TEMPERATURE_MORE_C[1][WINTER], lead) + GAIN_DULL * step
    low, high = 3 - fall - 0.5, 3 + rise + 0.5
    wanted = {CENTRAL: central, COLD: central - THIRD * (central - low), ADVERSE: central, WINDY: high, CHILL: low}
    assert values(found, "air_temperature_c", 5.5 + lead) == pytest.approx(wanted, abs=0.02)


def test_under_a_broken_sky_the_air_follows_the_sun_between_the_fair_and_the_dull_gain() -> None:
    # six eighths lie two thirds of the way from four, where it is fair, to seven, where it is dull
    found = build(FAIR.replace("SCT030", "BKN030"), ahead_min=300, place=LATITUDE_45)
    step = moved(10.0, LATITUDE_45)
    # five eighths would be 0.14 °C warmer
    assert step > 0.1
    wanted = 3 + (GAIN_FAIR / 3 + 2 * GAIN_DULL / 3) * step
    assert values(found, "air_temperature_c", 10.0)[CENTRAL] == pytest.approx(wanted, abs=0.02)


def test_distance_and_height_widen_both_ends_of_air_and_dew_point() -> None:
    # 500 m at 9.8 °C a km, and 40 km beyond the first five at 0.03 °C: 4.9 + 1.2
    near, far = build(FAIR), build(FAIR, site=Site(45.0, -500.0))
    for row, wider in ((CENTRAL, 0), (COLD, -6.1 * THIRD), (ADVERSE, 0), (WINDY, 6.1), (CHILL, -6.1)):
        moved_by = values(far, "air_temperature_c", 6.5)[row] - values(near, "air_temperature_c", 6.5)[row]
        assert moved_by == pytest.approx(wider), row
    # the dry end
    moved_by = values(far, "dew_point_c", 6.5)[CHILL] - values(near, "dew_point_c", 6.5)[CHILL]
    assert moved_by == pytest.approx(-6.1)


def test_a_tenth_of_a_degree_in_the_remarks_is_rounded_to_a_twentieth() -> None:
    found = build("METAR KZZA 100530Z 24012KT 10SM SCT030 03/01 A2990 RMK AO2 T00310012")
    assert values(found, "air_temperature_c", 5.5) == pytest.approx(
        {CENTRAL: 3.1, COLD: 3.1 - 0.05 * THIRD, ADVERSE: 3.1, WINDY: 3.15, CHILL: 3.05}
    )
    assert values(found, "dew_point_c", 5.5)[CHILL] == pytest.approx(1.2 - 0.05)


@pytest.mark.parametrize("lead", [1.0, 2.0])
def test_dew_point_by_case(lead: float) -> None:
    dry = POLEWARD * half_width(ahead_tables.DEW_POINT_LESS_C[WINTER], lead) + 0.5
    dry_air = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 09/01 Q1013", ahead_min=200)
    found = values(dry_air, "dew_point_c", 5.5 + lead)
    assert {row: found[row] for row in (CENTRAL, ADVERSE, CHILL)} == pytest.approx(
        {CENTRAL: 1, ADVERSE: 1, CHILL: 1 - dry}
    )
    # the moist end: a 1/√3 of it beside cold and calm, the whole of it in the warm case
    moist = POLEWARD * half_width(ahead_tables.DEW_POINT_MORE_C[WINTER], lead) + 0.5
    assert (found[COLD], found[WINDY]) == pytest.approx((1 + THIRD * moist, 1 + moist))


def test_the_dew_point_never_passes_the_air() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 01/01 Q1013", ahead_min=200)
    air, dew = found.columns["air_temperature_c"], found.columns["dew_point_c"]
    assert (dew <= air).all()
    assert values(found, "dew_point_c", 6.5)[COLD] == values(found, "air_temperature_c", 6.5)[COLD] < 1


def test_an_unknown_dew_point_is_the_air_in_the_moist_cases_and_unknown_in_the_others() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 03/// Q1013")
    dew, air = values(found, "dew_point_c", 6.5), values(found, "air_temperature_c", 6.5)
    assert all(dew[row] == air[row] for row in (COLD, WINDY))
    assert all(np.isnan(dew[row]) for row in (CENTRAL, ADVERSE, CHILL))


def test_each_time_goes_by_the_report_that_holds_then() -> None:
    # at 05:00 the report of 04:30, half an hour old: half of an hour's doubt; at 04:00, half an hour before it, as much
    # (10 January 04:30 to 05:00 at night: the course moves by less than 0.001)
    found = build("METAR ZZZA 100430Z 24012KT 9999 SCT030 07/02 Q1013\n" + FAIR, parked_since=int(clock(4)))
    half = 0.5 * POLEWARD * 1.2 + 0.5
    for hour in (4.0, 5.0):
        assert values(found, "air_temperature_c", hour)[CENTRAL] == pytest.approx(7, abs=0.02)
        assert values(found, "dew_point_c", hour)[CHILL] == pytest.approx(2 - half)
    assert values(found, "air_temperature_c", 5.5)[CENTRAL] == pytest.approx(3)
    assert values(found, "dew_point_c", 5.5)[CENTRAL] == 1


# TX and TN


def test_extremes_pull_the_central_air_and_widen_the_band_but_never_narrow_it() -> None:
    plain = build(FAIR, ahead_min=300, forecast="TAF ZZZA 100500Z 1005/1111 24012KT 9999 SCT030")
    pulled = build(FAIR, ahead_min=300, forecast="TAF ZZZA 100500Z 1005/1111 24012KT 9999 SCT030 TNM04/1009Z")
    at, before = values(pulled, "air_temperature_c", 9.0), values(plain, "air_temperature_c", 9.0)
    # at its time it is met; where it lies beyond the low end, the low end is its own, with the rounding
    assert at[CENTRAL] == at[ADVERSE] == pytest.approx(-4)
    assert at[CHILL] == pytest.approx(-4.5) and at[COLD] == pytest.approx(-4 - 0.5 * THIRD)
    assert at[WINDY] == before[WINDY] and before[CHILL] > -4.5
    # the report's own moment stays as reported
    assert values(pulled, "air_temperature_c", 5.5)[CENTRAL] == pytest.approx(3)


def test_extremes_that_have_passed_pull_nothing() -> None:
    passed = build(FAIR, ahead_min=120, forecast="TAF ZZZA 100400Z 1004/1110 24012KT 9999 SCT030 TNM09/1005Z")
    plain = build(FAIR, ahead_min=120, forecast="TAF ZZZA 100400Z 1004/1110 24012KT 9999 SCT030")
    assert np.array_equal(passed.columns["air_temperature_c"], plain.columns["air_temperature_c"])


def test_without_a_report_the_extremes_alone_give_the_air_with_three_degrees_of_doubt() -> None:
    text = "TAF ZZZA 100500Z 1005/1111 24012KT 9999 SCT030 TNM04/1005Z TX06/1013Z"
    found = build("", forecast=text, ahead_min=60, site=Site(45.0, 0.0))
    air, central = values(found, "air_temperature_c", 6.0), values(found, "air_temperature_c", 6.0)[CENTRAL]
    # 3 °C and 1.2 for 40 km beyond the first five
    assert air == pytest.approx(
        {CENTRAL: central, COLD: central - 4.2 * THIRD, ADVERSE: central, WINDY: central + 4.2, CHILL: central - 4.2}
    )
    assert -4 <= central < 6
    dew = values(found, "dew_point_c", 6.0)
    assert dew[COLD] == air[COLD] and np.isnan(dew[CENTRAL])
    nothing = build("", forecast=text.split(" TN")[0])
    assert np.isnan(nothing.columns["air_temperature_c"]).all()


def at(hour: float, value_c: float, kind: str = "T", day: int = 10, month: int = 4) -> Extreme:
    return Extreme(kind, value_c, datetime(2027, month, day, int(hour), round(hour % 1 * 60), tzinfo=UTC))


def seconds(hour: float, day: int = 10, month: int = 4) -> float:
    return at(hour, 0.0, day=day, month=month).at.timestamp()


def test_between_two_extremes_the_air_follows_the_suns_course() -> None:
    # 10 April, 45 N: lowest 2 °C at 05, highest 14 °C at 14
    points = (at(14, 14.0, "TX"), at(5, 2.0, "TN"))
    ends = [sun_course(seconds(hour), 45.0, 9.8) for hour in (5, 14)]
    assert ends[1] - ends[0] > 0.3
    for hour in (5, 7, 9, 11, 13, 14):
        share = (sun_course(seconds(hour), 45.0, 9.8) - ends[0]) / (ends[1] - ends[0])
        wanted = 2 + 12 * min(max(share, 0.0), 1.0)
        found = temperature.course(np.array([seconds(hour)]), points, 45.0, 9.8)
        assert found[0] == pytest.approx(wanted, abs=0.05), hour
    # a third of the way in time is much less of the way in warmth
    assert temperature.course(np.array([seconds(8)]), points, 45.0, 9.8)[0] < 2 + 12 / 3 - 0.5


def test_outside_its_points_the_course_is_level_and_without_points_there_is_none() -> None:
    points = (at(5, 2.0), at(14, 14.0))
    found = temperature.course(np.array([seconds(3), seconds(20)]), points, 45.0, 9.8)
    assert found.tolist() == [2, 14]
    assert np.isnan(temperature.course(np.array([seconds(3)]), (), 45.0, 9.8)).all()
    one = temperature.course(np.array([seconds(3), seconds(20)]), (at(5, 2.0),), 45.0, 9.8)
    assert one.tolist() == [2, 2]


def test_between_two_extremes_the_course_passes_neither() -> None:
    # the sun's course comes down again before the second of them: the air stays at its value from there
    points = (at(10, 5.0), at(17, 14.0))
    hours = np.arange(10, 17.01, 0.25)
    sun = np.array([sun_course(seconds(hour), 45.0, 9.8) for hour in hours])
    assert sun[-1] - sun[0] > 0.05 and sun.max() - sun[-1] > 0.05
    found = temperature.course(np.array([seconds(hour) for hour in hours]), points, 45.0, 9.8)
    assert found.min() == 5 and found.max() == 14 and found[sun.argmax()] == 14


def test_where_the_sun_hardly_moves_the_course_goes_by_time() -> None:
    # the polar night of 75 N: a quarter and a half of the way from 05 to 13
    points = (at(5, -20.0, month=1), at(13, -12.0, month=1))
    found = temperature.course(np.array([seconds(7, month=1), seconds(9, month=1)]), points, 75.0, 9.8)
    assert found.tolist() == pytest.approx([-18, -16])


def test_three_points_are_joined_two_by_two() -> None:
    points = (at(5, 0.0, month=1), at(9, 8.0, month=1), at(13, 4.0, month=1))
    times = np.array([seconds(hour, month=1) for hour in (5, 7, 9, 11, 13)])
    assert temperature.course(times, points, 75.0, 9.8).tolist() == pytest.approx([0, 4, 8, 6, 4])


def test_a_report_without_a_temperature_leaves_all_unknown_even_beside_extremes() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 ///// Q1013", now=NOW)
    assert np.isnan(found.columns["air_temperature_c"]).all()


# a sky that nobody described, and two readings side by side

MORNING = "METAR ZZZA 100530Z 24012KT 9999 {sky} 03/01 Q1013"


def test_under_a_sky_that_nobody_described_the_air_may_do_what_it_does_under_a_clear_and_under_a_whole_one() -> None:
    """Both bands by the tables: the sun of a January morning lifts the air more under a clear sky than under cloud."""
    clear, whole, untold = (
        build(MORNING.format(sky=sky), ahead_min=360, place=LATITUDE_45) for sky in ("SKC", "OVC030", "//////")
    )
    # before sunrise the air cools more under a clear sky, after it it warms more
    for hour, colder in ((6.5, clear), (10.0, whole), (11.0, whole)):
        bare, dull, both = (values(found, "air_temperature_c", hour) for found in (clear, whole, untold))
        assert (bare[CENTRAL] < dull[CENTRAL]) is (colder is clear) and bare[CENTRAL] != dull[CENTRAL]
        assert both[WINDY] == pytest.approx(max(bare[WINDY], dull[WINDY]))
        assert both[COLD] == pytest.approx(min(bare[COLD], dull[COLD]))
        # the colder of the two, on which the skin that cools most stands
        assert both[CENTRAL] == both[ADVERSE] == pytest.approx(values(colder, "air_temperature_c", hour)[CENTRAL])
        assert both[CENTRAL] == min(bare[CENTRAL], dull[CENTRAL])


def test_under_a_sky_that_nobody_described_the_air_is_the_colder_one_but_where_the_milder_is_asked_for() -> None:
    value, issued, times = np.full(2, 3.0), np.full(2, clock(5.5)), np.array([clock(10.0), clock(11.0)])
    dull, undescribed = np.full(2, 0.9), np.array([True, False])
    asked = (value, issued, times, 45.0, 9.8, dull, undescribed)
    usual, colder, milder = (temperature.air_span(*asked, **said) for said in ({}, {"milder": False}, {"milder": True}))
    assert [end.tolist() for end in usual] == [end.tolist() for end in colder]
    central = 1
    assert colder[central][0] < milder[central][0] and colder[central][1] == milder[central][1]


def test_of_two_readings_each_case_takes_its_own_end_of_both_air_and_dew_point() -> None:
    size = len(temperature.BASE_CASES)
    first = {"air_temperature_c": np.full((size, 2), 2.0), "dew_point_c": np.full((size, 2), -3.0)}
    second = {"air_temperature_c": np.array([[1.0, 4.0]] * size), "dew_point_c": np.array([[0.0, -5.0]] * size)}
    found = temperature.worse(first, second)
    air, dew = found["air_temperature_c"], found["dew_point_c"]
    # the central case keeps the first, the warm one takes the warmer, the cold ones the colder
    assert [air[row].tolist() for row in (CENTRAL, WINDY, COLD, ADVERSE, CHILL)] == [[2, 2], [2, 4], *[[1, 2]] * 3]
    # the moister of both in the moist cases and on the adverse skin, the drier in the dry one
    assert [dew[row].tolist() for row in (CENTRAL, COLD, WINDY, ADVERSE)] == [[-3, -3], *[[0, -3]] * 3]
    dry = [row for row, case in enumerate(temperature.BASE_CASES) if case.moisture < 0]
    assert [dew[row].tolist() for row in dry] == [[-3, -5]] * len(dry)
    # and none above its air
    colder = {"air_temperature_c": np.full((size, 2), -1.0), "dew_point_c": np.full((size, 2), -2.0)}
    assert temperature.worse(second, colder)["dew_point_c"][COLD].tolist() == [-1.0, -2.0]

"""What the night is about, worked by hand over three cases and four times; the third case is a temporary group."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.brief.hazards import hazards
from advisor.conditions import Case, Conditions

TIMES = (0.0, 300.0, 600.0, 900.0)
AT = tuple(f"1970-01-01T00:{minute:02d}:00Z" for minute in (0, 5, 10, 15))
CASES = (
    Case("central", "", "central", "common-practice"),
    Case("cold", "", "high", "common-practice"),
    Case("central; TEMPO 0001", "", "central", "common-practice", lane="TEMPO 0001"),
)
NONE = [[0, 0, 0, 0]] * 3


def flags(*rows):
    return np.array(rows, dtype=np.int8)


def numbers(*rows):
    return np.array(rows, dtype=np.float64)


def night(cases=CASES, **columns):
    plain = {"gust_kt": numbers(*[[9.0] * 4] * 3), "frost_margin_c": numbers(*[[-1.0] * 4] * 3)}
    plain |= {"air_temperature_c": numbers(*[[2.0] * 4] * 3)}
    return Conditions(np.array(TIMES), 0.0, 0.0, cases, {**plain, **columns})


def said(conditions):
    """Hazards; what somebody saw is named."""
    return hazards(conditions, "frost seen at 0450Z")


def told(**columns):
    return {one.key: one for one in said(night(**columns))}


def test_nothing_there_is_nothing_said():
    assert said(night()) == ()


def test_a_hazard_in_every_case_is_expected_from_its_first_time_to_its_last():
    snow = told(snow=flags([0, 1, 1, 0], [1, 1, 0, 0], [0, 0, 1, 0]))["snow"]
    assert (snow.status, snow.words) == ("expected", "snow")
    assert (snow.from_, snow.until) == (AT[0], AT[2])
    # the central case alone
    assert (snow.surer_from, snow.surer_until) == (AT[1], AT[2])
    assert snow.groups == ()


def test_a_hazard_of_the_central_case_is_likely_and_of_another_one_possible():
    assert told(hail=flags([0, 1, 0, 0], *NONE[:2]))["hail"].status == "likely"
    hail = told(hail=flags([0, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 0]))["hail"]
    assert (hail.status, hail.surer_from, hail.surer_until) == ("possible", AT[2], AT[2])


def test_what_a_temporary_group_alone_brings_names_the_group():
    assert told(hail=flags(*NONE[:2], [0, 0, 1, 1]))["hail"].groups == ("TEMPO 0001",)
    # a case without a group has it as well
    assert told(hail=flags(NONE[0], [0, 1, 0, 0], [0, 0, 1, 1]))["hail"].groups == ()


def test_not_known_is_no_hazard_here():
    assert said(night(snow=flags(*[[-1] * 4] * 3), gust_kt=numbers(*[[np.nan] * 4] * 3))) == ()


@pytest.mark.parametrize(("margin", "air", "there"), [(0.1, 15.0, True), (0.0, 5.0, False), (0.1, 15.1, False)])
def test_frost_needs_a_margin_above_zero_in_air_up_to_fifteen_degrees(margin, air, there):
    columns = {"frost_margin_c": numbers(*[[margin] * 4] * 3), "air_temperature_c": numbers(*[[air] * 4] * 3)}
    assert ("frost" in told(**columns)) == there


def test_gusts_count_from_28_kt_and_name_the_most_of_all_cases():
    assert told(gust_kt=numbers([27.9] * 4, [9.0] * 4, [9.0] * 4)) == {}
    gust = told(gust_kt=numbers([28.0] * 4, [31.0, 9, 9, 9], [9.0, np.nan, 9, 9]))["gust"]
    assert (gust.words, gust.status) == ("gusts to 31 kt", "likely")


def test_deposits_that_were_seen_are_not_said_twice():
    lies, seen = flags(*[[1] * 4] * 3), flags(*[[1] * 4] * 3)
    assert set(told(deposit_lies=lies, deposit_seen=seen)) == {"seen"}
    assert set(told(deposit_lies=lies)) == {"deposit"}


ALL, LATE, ONE = flags(*[[1] * 4] * 3), flags(*[[0, 0, 1, 1]] * 3), flags([1] * 4, *NONE[:2])


@pytest.mark.parametrize(
    ("graver", "milder"),
    [
        ("freezing_rain", "freezing_precipitation"),
        ("freezing_drizzle", "freezing_precipitation"),
        ("snow", "deposit_lies"),
        ("freezing_rain", "rain"),
        ("freezing_drizzle", "drizzle"),
        ("freezing_fog", "fog"),
        ("freezing_precipitation", "freezing_after_wet"),
        ("freezing_after_wet", "slippery_surface"),
        ("ice_pellets", "slippery_surface"),
    ],
)
def test_what_a_graver_one_says_already_is_left_out_while_it_is_as_sure_and_as_long(graver, milder):
    assert len(said(night(**{graver: ALL, milder: ALL}))) == 1
    assert len(said(night(**{graver: ALL, milder: LATE}))) == 1
    # it begins later, or is less sure: both are said
    assert len(said(night(**{graver: LATE, milder: ALL}))) == 2
    assert len(said(night(**{graver: ONE, milder: ALL}))) == 2
    # it ends sooner
    assert len(said(night(**{graver: flags(*[[1, 1, 0, 0]] * 3), milder: ALL}))) == 2


def test_frost_is_left_out_beside_what_falls_frozen_and_not_beside_rain():
    frost = {"frost_margin_c": numbers(*[[1.0] * 4] * 3)}
    assert set(told(snow=ALL, **frost)) == {"snow"}
    assert set(told(rain=ALL, **frost)) == {"rain", "frost"}


def test_the_gravest_stands_first():
    names = ("dark", "rain", "gust_kt", "snow", "thunderstorm", "funnel_cloud", "hail", "unknown_precipitation")
    columns = dict.fromkeys(names, ALL) | {"gust_kt": numbers(*[[40.0] * 4] * 3)}
    keys = [one.key for one in said(night(**columns))]
    assert keys == ["funnel-cloud", "thunderstorm", "hail", "snow", "unknown", "gust", "rain", "dark"]


@pytest.mark.parametrize(
    ("margin", "assumed", "there"), [(0.1, 0, True), (0.0, 0, False), (0.1, 1, False), (0.1, -1, False)]
)
def test_ice_over_the_tanks_is_told_of_fuel_that_somebody_stated(margin, assumed, there):
    columns = {
        "tank_frost_margin_c": numbers(*[[margin] * 4] * 3),
        "fuel_temperature_assumed": flags(*[[assumed] * 4] * 3),
    }
    # in air of 25 °C as well
    assert ("tank-frost" in told(**columns, air_temperature_c=numbers(*[[25.0] * 4] * 3))) == there


def test_frost_says_that_of_the_tanks_as_well():
    columns = {"tank_frost_margin_c": numbers(*[[3.0] * 4] * 3), "fuel_temperature_assumed": flags(*[[0] * 4] * 3)}
    assert set(told(**columns, frost_margin_c=numbers(*[[1.0] * 4] * 3))) == {"frost"}
    # and less surely it says less
    assert set(told(**columns, frost_margin_c=numbers([1.0] * 4, [-1.0] * 4, [-1.0] * 4))) == {"frost", "tank-frost"}


def test_a_gale_while_parked_counts_from_45_kt_and_names_the_most():
    assert told(gust_while_parked_kt=numbers(*[[44.9] * 4] * 3)) == {}
    blew = night(gust_while_parked_kt=numbers([45.0] * 4, [62.4] * 4, [np.nan] * 4))
    # where nobody said since when it stands there it was in the reports
    for parked_since_s, words in ((0.0, "since parked"), (np.nan, "in the reports before")):
        (gale,) = said(replace(blew, parked_since_s=parked_since_s))
        assert (gale.key, gale.words, gale.status) == ("parked-gust", f"gusts to 62 kt {words}", "likely")


@pytest.mark.parametrize(
    ("now", "past"),
    [
        ("thunderstorm", "thunderstorm_while_parked"),
        ("thunderstorm", "recent_thunderstorm"),
        ("thunderstorm_while_parked", "recent_thunderstorm"),
        ("hail", "hail_while_parked"),
        ("hail", "recent_hail"),
        ("hail_while_parked", "recent_hail"),
        ("squall", "squall_while_parked"),
    ],
)
def test_what_goes_on_is_not_told_as_past_too(now, past):
    assert len(said(night(**{now: ALL, past: ALL}))) == 1
    assert len(said(night(**{past: ALL}))) == 1
    # it is over before the flight is: both are told
    assert len(said(night(**{now: flags(*[[1, 1, 0, 0]] * 3), past: ALL}))) == 2

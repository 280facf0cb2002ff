"""Storm cloud and outflow: a cumulonimbus makes a storm possible, and no report bounds the gusts out of one.

Evidence of the review: of 17,482 reports of one station with CB 13 % had a thunderstorm within 2 h, with TCU 6 %, with
neither 0.3 %. tests/measures/SERIES.md holds our own count on other stations.
"""

from __future__ import annotations

import pytest

from tests.truth.telling import at_least, status, told

QUIET = "24006KT 9999 {} 14/08 Q1010"


def test_a_cumulonimbus_makes_a_storm_possible_and_lightning_expected():
    made = told(QUIET.format("SCT030CB"))
    assert status(made, "thunderstorm") == "possible" and status(made, "lightning-about") == "expected"


@pytest.mark.parametrize("remark", ["CB OHD MOV E", "OCNL LTGICCG SW", "TS VC N"])
def test_lightning_or_storm_cloud_in_the_remarks_counts_the_same(remark):
    # our count, tests/measures/SERIES.md: a storm within 2 h of 4 of 13 such reports at one station
    made = told(QUIET.format("SCT030") + f" RMK {remark}")
    assert status(made, "thunderstorm") == "possible" and status(made, "lightning-about") == "expected"


def test_lightning_far_off_is_for_the_lightning_line_alone():
    made = told(QUIET.format("SCT030") + " RMK LTG DSNT W")
    assert status(made, "thunderstorm") is None and status(made, "lightning-about") == "expected"


@pytest.mark.parametrize("said", ["RETS", "RMK TSB02E31"])
def test_a_storm_that_has_just_passed_may_come_back(said):
    made = told(QUIET.format("SCT030") + f" {said}")
    assert status(made, "lightning-about") == "possible"
    assert {door.status for door in made.doors} == {"cannot tell"}


def test_towering_cumulus_makes_lightning_possible():
    assert status(told(QUIET.format("SCT030TCU")), "lightning-about") == "possible"
    assert status(told(QUIET.format("SCT030")), "lightning-about") is None


def test_a_forecast_cumulonimbus_counts_in_its_time():
    ahead = "TAF ZZZA 100500Z 1005/1106 24006KT 9999 SCT030 TEMPO 1005/1009 SCT025CB"
    assert status(told(QUIET.format("SCT030"), ahead), "thunderstorm") == "possible"


@pytest.mark.parametrize("cloud", ["//////", "/////////"])
def test_without_a_description_of_the_sky_storm_cloud_is_not_ruled_out(cloud):
    made = told(QUIET.format(cloud))
    assert at_least(made, "thunderstorm", "cannot tell") and at_least(made, "lightning-about", "cannot tell")
    assert any("cloud" in name for line in made.advice if line.id == "lightning-about" for name in line.missing)


@pytest.mark.parametrize("groups", ["TSRA SCT030CB", "VCTS SCT030", "SCT030CB", "TS SCT030", "SQ SCT030", "+FC SCT030"])
def test_with_a_storm_about_no_door_is_within_its_limit_in_every_case(groups):
    made = told(QUIET.format(groups))
    assert made.doors and all(door.status == "cannot tell" and door.beyond == "storm" for door in made.doors)
    assert all(door.stay_open_status == "cannot tell" for door in made.doors)
    assert status(made, "door-operate") == "cannot tell"
    calm = told(QUIET.format("SCT030"))
    assert all(door.status == "within" and not door.beyond for door in calm.doors)


def test_weather_that_nobody_told_does_not_rule_a_storm_out_and_says_so():
    made = told(QUIET.format("// SCT030"))
    assert {(door.status, door.beyond) for door in made.doors} == {("cannot tell", "weather")}


def test_doors_say_of_a_storm_also_where_the_gust_is_near_the_limit():
    from advisor.render.door_words import door_said

    assert "a storm may gust harder" in door_said("possible", "within", "storm")
    assert "no report bounds its gusts" in door_said("cannot tell", "cannot tell", "storm")


def test_a_funnel_cloud_sends_everybody_in():
    made = told(QUIET.format("+FC SCT030CB"))
    assert status(made, "funnel-cloud") == "expected"
    assert status(told(QUIET.format("SQ SCT030")), "funnel-cloud") is None


def test_a_gust_over_the_limit_stays_over_it_in_a_storm():
    made = told("24035G55KT 9999 TSRA SCT030CB 14/08 Q1010", heading=240)
    assert {door.status for door in made.doors} == {"exceeded"}

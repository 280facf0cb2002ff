"""What reading briefs aloud found: sentences that say what nobody saw, times that come too late, words that mislead."""

from __future__ import annotations

import pytest

from advisor.render.changed import weather_said
from advisor.render.headline import headline
from advisor.render.listing import door_entries
from advisor.render.text import render
from tests.truth.telling import line, metar, told

DAY = {"now": "2027-07-16T13:02:00Z"}
FROSTY = "00000KT CAVOK M01/M03 Q1025"
CALM_EVENING = {"now": "2027-01-09T18:00:00Z", "ahead_min": 9 * 60}


def test_a_temporary_group_of_the_forecast_counts_before_it_is_said_to_differ():
    snow = metar("24008KT 5000 -SN OVC010 M01/M02 Q1009")
    base = "TAF ZZZA 100400Z 1004/1012 24008KT 9999 OVC020"
    assert any("differ" in one for one in told(snow, base).notes)
    assert not any("differ" in one for one in told(snow, f"{base} TEMPO 1004/1008 2000 SN").notes)
    # a group for later says nothing of now
    assert any("differ" in one for one in told(snow, f"{base} TEMPO 1008/1010 2000 SN").notes)


def test_chocks_and_locks_are_asked_for_before_the_gusts_not_in_their_first_minute():
    taf = "TAF ZZZA 091700Z 0918/1018 24008KT 9999 SCT030 TEMPO 1000/1006 24025G45KT"
    made = told(metar("24008KT 9999 SCT030 06/02 Q1009", "091750"), taf, **CALM_EVENING)
    found = line(made, "tie-downs")
    assert found is not None and found.from_ == "2027-01-10T00:00:00Z" and found.by == "2027-01-09T23:30:00Z"


def test_ropes_are_asked_for_before_a_storm_that_comes_while_the_doors_are_open():
    taf = "TAF ZZZA 161100Z 1612/1712 24012KT CAVOK PROB40 TEMPO 1614/1619 VRB25G45KT 3000 TSRA SCT040CB"
    made = told(metar("24012G22KT CAVOK 38/12 Q1006", "161250"), taf, ahead_min=78, aircraft="light-aircraft", **DAY)
    assert line(made, "tie-downs") is not None
    # the storm's wind comes from nowhere in particular
    assert all(door.relative_wind_deg is None for door in made.doors)
    assert "gusting to 22 kt" in render(made)


def test_what_was_seen_is_named_with_its_time_and_not_said_to_go_on():
    first = headline(told(FROSTY, seen="frost", now="2027-01-10T05:00:00Z"))[0]
    assert first.startswith("Frost seen at 0500Z") and "seen on the aircraft throughout" not in first


def test_a_skin_below_where_frost_forms_counts_from_the_look_that_saw_none():
    night = [metar(FROSTY, f"100{hour}20") for hour in range(5)]
    asked = {"parked_since": "2027-01-10T00:00:00Z", "now": "2027-01-10T05:00:00Z"}
    without, looked = told(*night, **asked), told(*night, seen="nothing", looked_at="2027-01-10T04:40:00Z", **asked)
    since = [{item.since for one in made.advice for item in one.because if item.since} for made in (without, looked)]
    assert min(since[0]) < "2027-01-10T04:00:00Z"
    assert all(one >= "2027-01-10T04:40:00Z" for one in since[1])


def test_a_gust_that_rounds_to_the_limit_is_hardly_below_it():
    # the invented profile's cargo doors take 35 kt
    said = {}
    for kt in range(26, 36):
        made = told(f"24018G{kt}KT 9999 SCT030 06/02 Q1009")
        if all(door.status == door.stay_open_status == "within" for door in made.doors):
            said[made.doors[0].worst_kt] = door_entries(made)[0].text
    assert said
    for worst, text in said.items():
        assert ("hardly below" in text) == (round(worst) >= 35)
        assert ("in every case" in text) == (round(worst) < 35)


def test_a_brief_for_planning_begins_with_the_gravest_that_comes():
    taf = "TAF ZZZA 091700Z 0918/1018 24008KT 9999 SCT030 PROB30 TEMPO 1000/1006 3000 -FZRA"
    made = told(metar("24008KT 9999 SCT030 00/M02 Q1009", "091750"), taf, **CALM_EVENING)
    assert headline(made)[0].startswith("Freezing rain possible")


@pytest.mark.parametrize("aircraft", ["light-aircraft", "helicopter"])
def test_no_second_lamp_is_carried_by_day_for_frost(aircraft):
    by_day = told(metar(FROSTY, "101150"), now="2027-01-10T12:00:00Z", aircraft=aircraft)
    assert line(by_day, "exterior-lights") is None
    assert line(told(FROSTY, aircraft=aircraft), "exterior-lights") is not None


def test_glass_in_the_sun_is_no_matter_in_the_cold():
    for groups, said in (("24004KT CAVOK 31/12 Q1016", True), ("24004KT CAVOK M02/M08 Q1016", False)):
        made = told(metar(groups, "161250"), aircraft="light-aircraft", **DAY)
        assert (line(made, "canopy-sun") is not None) == said


def since_when(made):
    """Since when a margin is said to be above zero, over all lines."""
    return {item.since for one in made.advice for item in one.because if item.since}


def test_before_the_first_report_nobody_knows_how_long_the_skin_was_cold():
    parked = {"parked_since": "2027-01-09T21:00:00Z"}
    assert all(at >= "2027-01-10T04:50:00Z" for at in since_when(told(FROSTY, **parked)))
    night = since_when(told(*[metar(FROSTY, f"100{hour}20") for hour in range(5)], **parked))
    assert night and min(night) >= "2027-01-10T00:20:00Z"


def test_what_was_seen_neither_comes_nor_is_foreseen():
    before, after = told(FROSTY), told(FROSTY, seen="frost")
    assert weather_said(before, after) == "Frost seen at 0510Z"
    assert weather_said(after, before) == "Frost seen at 0510Z was stated before and is not now"

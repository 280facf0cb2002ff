"""Tonight's decisions: what an aircraft that stays outside needs before the night, and by when.

A decision that protects (covers, hangar, ropes, water) has to be made before what it protects from begins: common
practice. Leads of the shipped checklist: three hours before off-block for the night's decisions, 90 minutes for ropes
and pre-heating, the checklist's 45 for the call.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from parked import PLACE, line, statuses

from advisor import advise
from advisor.render.listing import listing
from advisor.render.text import render

NOW = datetime(2027, 1, 9, 19, 0, tzinfo=UTC)
OFF_BLOCK = "2027-01-10T06:00:00Z"
REPORT = "METAR ZZZA 091850Z 24008KT 9999 OVC030 04/M02 Q1008"


def brief(forecast, *, aircraft="single-aisle-jet", report=REPORT, **asked):
    asked = {"place": PLACE, "parked_since": "2027-01-09T17:00:00Z", "off_block": OFF_BLOCK, **asked}
    return advise([report, f"TAF ZZZA 091800Z 0918/1018 {forecast}"], now=NOW, aircraft=aircraft, **asked)


def test_a_mild_and_quiet_night_asks_for_no_protection():
    told = statuses(brief("24008KT 9999 OVC030 TX07/1013Z TN06/1004Z", report=REPORT.replace("04/M02", "08/03")))
    for name in ("night-before-protection", "water-drain", "tie-downs", "oil-battery-preheat"):
        assert told.get(name) != "expected", name
    assert "tie-downs" not in told and told["loose-covers"] == "expected"


def test_a_gale_at_night_wants_ropes_before_it_begins():
    told = brief("24008KT 9999 OVC030 FM092300 24032G48KT 9999 OVC030")
    ropes = line(told, "tie-downs")
    assert ropes.status == "expected"
    # at 2300Z it blows; a lead counted back from off-block alone would say 0430Z
    assert ropes.by is not None and ropes.by <= "2027-01-09T23:00:00Z"
    # a gale that is only forecast has bent nothing yet
    assert statuses(told).get("gust-damage-inspection") not in ("expected", "likely", "possible")


def test_snow_from_midnight_wants_hangar_or_covers_decided_before_it():
    told = line(
        brief("24008KT 9999 OVC030 FM100000 24008KT 2000 SN OVC010 TX04/0919Z TNM03/1004Z"), "night-before-protection"
    )
    assert told.status == "expected"
    assert told.by is not None and told.by <= "2027-01-10T00:00:00Z"


def test_water_is_wanted_out_before_it_freezes():
    # freezing from the evening on: at three hours before off-block the pipes have burst
    told = line(brief("24004KT CAVOK TX00/0919Z TNM09/1004Z", report=REPORT.replace("04/M02", "01/M04")), "water-drain")
    assert told.by is not None and told.by <= "2027-01-09T23:00:00Z"


@pytest.mark.parametrize(("aircraft", "there"), [("light-aircraft", True), ("twin-turboprop", False)])
def test_a_cold_night_asks_for_pre_heating_by_class(aircraft, there):
    # -7 °C: below the -5 of a piston engine, above the -10 of a turboprop's default
    cold = REPORT.replace("04/M02", "M06/M12")
    told = brief("24008KT 9999 OVC030 TXM05/0919Z TNM07/1004Z", aircraft=aircraft, report=cold)
    assert (statuses(told).get("oil-battery-preheat") == "expected") is there
    if there:
        assert line(told, "oil-battery-preheat").by == "2027-01-10T04:30:00Z"


def test_each_decision_stands_in_the_text_with_its_time_and_before_what_is_for_the_morning():
    made = brief("24008KT 9999 OVC030 FM100000 24034G50KT 2000 SN OVC010 TX04/0919Z TNM03/1004Z")
    text = render(made)
    calls = next(part for part in listing(made) if part.key == "call")
    due = [one.lines[0].by for one in calls.entries]
    assert due == sorted(due)
    assert "Decide on protection" in text and "11 h" in " ".join(text.splitlines()[:2])
    assert {"tie-downs", "night-before-protection", "water-drain", "de-icing-request"} <= set(statuses(made))


def test_a_decision_whose_time_has_passed_says_now():
    made = brief("24032G48KT 2000 SN OVC010 TNM03/1004Z")
    assert "Now, the latest time has passed" in render(made) or "Now" in render(made)
    assert line(made, "tie-downs").by == "2027-01-09T19:00:00Z"


def test_snow_that_falls_this_evening_counts_for_a_night_outside():
    # over by 2130Z, within three hours from now; off-block is eleven hours away
    evening = "24018KT 9999 OVC060 FM092000 24018KT 2000 SN OVC010 FM092130 24018KT 9999 OVC060 TX04/0919Z TN02/1004Z"
    told = line(brief(evening), "night-before-protection")
    assert told.status == "expected" and told.by is not None and told.by <= "2027-01-09T20:00:00Z"


def test_the_morning_look_is_not_asked_for_tonight():
    # a departure within the hour needs no decision for the night
    soon = brief("24008KT 2000 SN OVC010 TNM03/1004Z", off_block="2027-01-09T20:30:00Z")
    assert "night-before-protection" not in statuses(soon)

"""What somebody saw who looked: nothing takes away the frost that had not formed, and nothing that falls or fell."""

from __future__ import annotations

import pytest

from advisor import advise
from advisor.errors import DepartureError
from tests.truth.telling import RANK, status

# a clear calm night with the skin about 3 °C below where frost forms: one that stood so for an hour would show it
FROSTY = "METAR ZZZA 100520Z 00000KT 9999 SKC 02/M01 Q1027"
ASKED = {"now": "2027-01-10T05:50:00Z", "off_block": "2027-01-10T06:20:00Z", "place": "61.4,9.8"}


def test_a_look_that_saw_nothing_makes_a_likely_call_for_frost_a_decision():
    before = advise(FROSTY, **ASKED)
    assert status(before, "de-icing-request") == "likely"
    after = advise(FROSTY, seen="nothing", **ASKED)
    assert RANK[status(after, "de-icing-request")] < RANK["possible"]
    assert any("nothing seen on the aircraft at 0550Z" in note and "As you said" in note for note in after.notes)
    assert any("look again" in note for note in after.notes)


def test_a_look_is_worth_less_from_hour_to_hour():
    # three hours later it says nothing any more: the same as without it, at the same hour
    reports = [FROSTY.replace("100520Z", "100220Z"), FROSTY]
    old = advise(reports, seen="nothing", looked_at="0240Z", **ASKED)
    assert status(old, "de-icing-request") == "likely"


@pytest.mark.parametrize(
    "report",
    [
        "METAR ZZZA 100520Z 00000KT 9999 -SN OVC020 M02/M03 Q1027",
        "METAR ZZZA 100520Z 00000KT 3000 -FZDZ OVC004 M02/M03 Q1027",
        "METAR ZZZA 100520Z 00000KT 9999 OVC020 M02/M03 Q1027 REFZRA",
        "METAR ZZZA 100520Z 00000KT 0400 FZFG VV001 M02/M02 Q1027",
    ],
)
def test_nothing_that_falls_or_fell_counts_for_less(report):
    before, after = advise(report, **ASKED), advise(report, seen="nothing", **ASKED)
    told = {line.id: line.status for line in after.advice}
    assert {line.id for line in before.advice if RANK[told.get(line.id)] < RANK[line.status]} == set()


def test_a_look_that_saw_frost_makes_it_expected_until_it_was_treated():
    assert status(advise(FROSTY, seen="frost", **ASKED), "de-icing-request") == "expected"
    treated = advise(FROSTY, seen="frost", looked_at="0525Z", treated_at="0545Z", **ASKED)
    assert status(treated, "already-seen") != "expected"


def test_a_look_without_what_was_seen_and_one_to_come_are_refused():
    with pytest.raises(DepartureError, match="looked-at: what was seen is not said"):
        advise(FROSTY, looked_at="0525Z", **ASKED)
    with pytest.raises(DepartureError, match="looked-at"):
        advise(FROSTY, seen="nothing", looked_at="2027-01-10T05:55:00Z", **ASKED)


def test_a_look_before_the_aircraft_was_parked_is_refused():
    with pytest.raises(DepartureError, match=r"looked-at.*before the aircraft was parked"):
        advise(FROSTY, seen="nothing", looked_at="0430Z", parked_since="0500Z", **ASKED)


def test_what_was_seen_is_said_back_in_whole_sentences():
    notes = advise(FROSTY, seen="nothing", **ASKED).notes
    assert notes[1].startswith("Frost may have formed since: look again by 0650Z, and before off-block.")


def test_water_that_froze_is_clear_ice_and_no_look_takes_it_away():
    # rain in the evening's last report, then a clear sky: the skin is below 0 °C, and what froze on it looks like water
    reports = ["METAR ZZZA 100420Z 00000KT 9999 -RA BKN030 02/M01 Q1027", FROSTY]
    before, after = advise(reports, **ASKED), advise(reports, seen="nothing", **ASKED)
    told = {line.id: line.status for line in after.advice}
    assert told["refrozen-water"] == status(before, "refrozen-water") == "likely"
    assert {line.id for line in before.advice if RANK[told.get(line.id)] < RANK[line.status]} == set()


def test_a_look_at_the_aircraft_takes_calls_away_and_no_line_to_look_or_to_tread_carefully():
    before, after = advise(FROSTY, **ASKED), advise(FROSTY, seen="nothing", **ASKED)
    told = {line.id: line.status for line in after.advice}
    lowered = {line.id for line in before.advice if RANK[told.get(line.id)] < RANK[line.status]}
    # nobody looked at the stairs, and what was looked at in the dark is looked at once more
    assert lowered == {"de-icing-request", "fluid-and-mix"}

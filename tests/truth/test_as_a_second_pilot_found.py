"""What a pilot who tried it again found: each brief misled, or said nothing, before it was mended."""

from __future__ import annotations

import pytest

import advisor
from tests.truth.telling import at_least

ASK = {"now": "2027-01-10T05:40:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
SUMMER = {"now": "2027-07-10T17:40:00Z", "off_block": "2027-07-10T18:40:00Z", "place": "45.0,9.8"}


def brief(*reports: str, **asked: str) -> advisor.Brief:
    return advisor.advise(list(reports), **{**ASK, **asked})


FOG = "METAR ZZZA 100520Z 24015KT 0500 FG VV001 05/05 Q1009"
ICE = "METAR ZZZA 100520Z 12006KT 9999 FZRA OVC010 M04/M05 Q1009"


@pytest.mark.parametrize("reports", [(FOG, ICE), (ICE, FOG)])
def test_of_two_reports_of_one_minute_that_differ_the_graver_counts_and_that_is_said(reports: tuple[str, ...]) -> None:
    made = brief(*reports)
    assert at_least(made, "de-icing-request", "possible") and at_least(made, "slippery-apron", "possible")
    assert any("Two reports of 0520Z differ" in note for note in made.notes)


def test_a_correction_and_the_same_report_twice_contradict_nothing() -> None:
    corrected = ICE.replace("METAR", "METAR COR").replace("FZRA ", "")
    for reports in ((ICE, corrected), (FOG, FOG), (FOG, FOG.replace("METAR ", "")), (FOG,)):
        assert not any("differ" in note for note in brief(*reports).notes), reports


@pytest.mark.parametrize("weather", ["3000 TSRA BKN015CB", "9999 SQ SCT030", "9999 BKN020CB"])
def test_a_storm_or_squall_asks_for_ropes(weather: str) -> None:
    made = brief(f"METAR ZZZA 101720Z 22012KT {weather} 19/17 Q1005", aircraft="light-aircraft", **SUMMER)
    assert at_least(made, "tie-downs", "possible")


def test_hours_after_the_last_report_no_door_is_within_in_every_case() -> None:
    made = brief("METAR ZZZA 101240Z 22004KT 9999 SCT030 29/21 Q1009", aircraft="light-aircraft", **SUMMER)
    assert {(door.status, door.beyond) for door in made.doors} == {("cannot tell", "weather")}
    told = "TAF ZZZA 101100Z 1012/1112 22004KT 9999 SCT030"
    made = brief("METAR ZZZA 101240Z 22004KT 9999 SCT030 29/21 Q1009", told, aircraft="light-aircraft", **SUMMER)
    assert {door.status for door in made.doors} == {"within"}


@pytest.mark.parametrize("cloud", ["BKN020///", "FEW010 BKN020///"])
def test_a_cloud_type_that_the_station_cannot_tell_may_be_a_storm(cloud: str) -> None:
    report = f"METAR ZZZA 101720Z AUTO 22012KT 9999 {cloud} 22/18 Q1005"
    made = brief(report, aircraft="light-aircraft", **SUMMER)
    assert at_least(made, "thunderstorm", "cannot tell") and at_least(made, "lightning-about", "cannot tell")
    assert all(door.status == "cannot tell" for door in made.doors)
    # one that is said to be none is none
    made = brief(report.replace("///", ""), aircraft="light-aircraft", **SUMMER)
    assert not any(line.id == "thunderstorm" for line in made.advice)


@pytest.mark.parametrize("ended", ["RMK SNB0415E0502", "RMK PLE05", "RESN"])
def test_snow_that_has_just_ended_may_lie_on_the_fuselage(ended: str) -> None:
    report = f"METAR ZZZA 100520Z 31004KT 9999 NSC M03/M04 Q1009 {ended}"
    assert at_least(brief(report), "fuselage-snow", "possible")
    # what was treated after it is for the reports of what fell since
    made = brief(report, treated_at="2027-01-10T05:30:00Z")
    assert not any(line.id == "fuselage-snow" and line.status == "expected" for line in made.advice)


def test_a_line_of_every_case_gives_no_reason_of_some() -> None:
    # fog in frost in every case; freezing rain only by a probable group
    report = "METAR ZZZA 100520Z 24004KT 0500 FZFG VV001 M02/M02 Q1009"
    made = brief(report, "TAF ZZZA 100500Z 1005/1106 24004KT 0500 FZFG VV001 PROB30 TEMPO 1006/1010 FZRA")
    line = next(line for line in made.advice if line.id == "wing-upper-surface")
    assert line.status == "expected" and line.text.startswith("Clear ice")
    named = {reason.quantity: reason.sure for reason in line.because}
    assert named["freezing_fog"] and not {"freezing_precipitation", "recent_freezing"} & set(named)


def test_water_that_has_frozen_since_is_told_by_touch() -> None:
    # rain on snow at 02:20, frost since; parked since the evening before
    hours = ("2220Z 24006KT 3000 -SN OVC010 M01/M02", "2320Z 24006KT 3000 SN OVC010 M01/M01")
    night = ("0020Z 24006KT 3000 SN OVC010 00/M00", "0120Z 24006KT 5000 -RA OVC010 01/01")
    cold = ("0220Z 24006KT 5000 RA OVC010 01/01", "0320Z 34006KT 9999 SCT030 M03/M04")
    last = ("0420Z 34006KT 9999 SCT030 M06/M08", "0520Z 34006KT 9999 SCT030 M06/M08")
    texts = [f"METAR ZZZA 09{one} Q1009" for one in hours]
    texts += [f"METAR ZZZA 10{one} Q1009" for one in (*night, *cold, *last)]
    made = brief(*texts, parked_since="2027-01-09T22:00:00Z")
    line = next(line for line in made.advice if line.id == "wing-upper-surface")
    assert line.text.startswith("Clear ice looks like water")

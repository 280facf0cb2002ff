"""What a second pilot stumbled over in 50 briefs of invented places: each as the brief that showed it, by hand."""

from __future__ import annotations

import re
from typing import Any

import pytest

from advisor import advise
from advisor.brief.model import Advice, Brief
from advisor.departure import read_moment
from advisor.physics import exposure
from advisor.physics.precipitation import in_air
from advisor.render.headline import headline
from advisor.render.text import render
from advisor.report import metar
from advisor.web import digest

JUNE = {"now": "2027-06-15T15:30:00Z", "off_block": "2027-06-15T16:45:00Z", "place": "47.2,11.3", "heading": 180}
MAY = {"now": "2027-05-14T22:56:00Z", "off_block": "2027-05-14T23:59:00Z", "place": "35.4,-97.6", "heading": 170}


def at_the_top(brief: Brief) -> str:
    return " ".join(headline(brief))


def plain(brief: Brief) -> str:
    return " ".join(render(brief, width=10_000).split())


def lines(brief: Brief) -> dict[str, Advice]:
    return {one.id: one for one in brief.advice}


# WMO No. 306, table 4678: GS is small hail or snow pellets; that nobody meets snow pellets at 19 °C is common practice
@pytest.mark.parametrize("weather", ["SHRAGS", "SHGS", "TSRAGS"])
def test_small_hail_in_warm_air_is_hail_and_no_snow(weather: str) -> None:
    brief = advise(f"METAR ZZYG 151520Z 27012KT 9999 {weather} BKN030CB 19/12 Q1012", **JUNE)
    assert {"hail", "snow"} & {one.key for one in brief.hazards} == {"hail"}
    found = lines(brief)
    assert found["hail-shelter"].status == "expected" and found["hail-shelter"].because[0].cause == weather
    assert not {"de-icing-request", "no-holdover", "steps-ice", "fuselage-snow"} & set(found)
    # near freezing they may be snow pellets, and lie
    cold = advise(f"METAR ZZYG 151520Z 27012KT 9999 {weather} BKN030CB 02/00 Q1012", **JUNE)
    assert lines(cold)["de-icing-request"].status == "expected"


def test_a_shower_that_a_trend_brings_is_meant_in_the_air_of_the_report() -> None:
    brief = advise("METAR ZZYG 151520Z 27012KT 9999 BKN030CB 19/12 Q1012 TEMPO SHRAGS", **JUNE)
    assert lines(brief)["hail-shelter"].status == "possible" and "snow" not in {one.key for one in brief.hazards}


def test_codes_are_taken_apart_by_whole_pairs() -> None:
    assert in_air(("SHRAGS", "+SHGS", "SGSN", "REGS", "TSGSRA"), 8.1) == ("SHRAGR", "+SHGR", "SGSN", "REGR", "TSGRRA")
    assert in_air(("SHGS",), 8.0) == in_air(("SHGS",), float("nan")) == ("SHGS",)


# FMH-1, 12.7.1 b: TORNADO, FUNNEL CLOUD or WATERSPOUT, with when it began or ended, where and whither
@pytest.mark.parametrize(
    ("remark", "meaning"),
    [
        ("TORNADO B40 6 NE", "tornado, began 40 min past the hour, 6 miles off, north-east"),
        (
            "FUNNEL CLOUD B2156E03 W MOV E",
            "funnel cloud, began at 21:56, ended 03 min past the hour, west, moving east",
        ),
        ("WATERSPOUT E12 DSNT S", "waterspout, ended 12 min past the hour, distant south"),
        ("TORNADO", "tornado"),
    ],
)
def test_a_tornado_in_the_remarks_keeps_everybody_inside(remark: str, meaning: str) -> None:
    text = f"METAR KZZA 142253Z AUTO 18012KT 10SM BKN250 31/22 A2979 RMK {remark} AO2 SLP085"
    brief = advise(text, **MAY, aircraft="light-aircraft")
    # what ended may come again, and what did not goes on
    ended = re.search(r"E\d\d", remark)
    assert lines(brief)["funnel-cloud"].status == ("possible" if ended else "expected") and not brief.not_decoded
    assert at_the_top(brief).startswith(f"Funnel cloud or tornado {'possible until' if ended else 'throughout'}")
    read = metar.read(text, now=read_moment(MAY["now"], what="now"))
    assert next(group.meaning for group in read.groups if group.text == remark) == meaning


@pytest.mark.parametrize(
    "reports",
    [
        ("METAR ZZYC 142253Z 23012KT 10SM FEW060 SCT250 28/06 A2968 RMK AO2 PK WND 24052/2241",),
        ("METAR ZZYC 142220Z 23025G52KT 9999 FEW060 28/06 Q1005", "METAR ZZYC 142250Z 23014KT 9999 FEW060 28/06 Q1005"),
    ],
)
def test_what_blew_within_the_hour_may_blow_again_at_a_door(reports: tuple[str, ...]) -> None:
    brief = advise(list(reports), **MAY, aircraft="regional-jet", parked_since="2027-05-14T22:00:00Z")
    assert {door.status for door in brief.doors} == {"possible"} and brief.doors[0].worst_kt == 52
    assert "52 kt blew within the hour before, and may again" in plain(brief)
    # an hour and more ago it has ended
    quiet = advise(
        [one.replace("/2241", "/2150").replace("142220Z", "142145Z") for one in reports],
        **MAY,
        aircraft="regional-jet",
    )
    assert {door.status for door in quiet.doors} == {"within"}


# Environment Canada's bands, from memory: at -55 and below bare skin may freeze in 2 minutes or less
def test_in_the_deepest_cold_bare_skin_freezes_in_two_minutes_and_the_line_says_so() -> None:
    assert exposure.frostbite_min([-48.0, -55.0, -63.0]).tolist() == [5.0, 2.0, 2.0]
    brief = advise(
        "METAR ZZYL 050000Z 31027G41KT 0800 BLSN SKC M38/M42 Q1035",
        now="2027-01-05T00:10:00Z",
        off_block="2027-01-05T01:30:00Z",
        place="67.5,64.0",
        aircraft="helicopter",
    )
    chill = lines(brief)["wind-chill"]
    assert chill.weight == "must" and "below −40 in 10, below −55 in 2" in chill.text


@pytest.mark.parametrize(
    ("weather", "aircraft"),
    [("30009KT 9999 FC SCT025CB", "uncrewed"), ("23015G38KT 3000 +TSRAGR SQ BKN012 OVC035CB", "single-aisle-jet")],
)
def test_nobody_is_sent_out_first_into_a_storm_that_is_there(weather: str, aircraft: str) -> None:
    brief = advise(f"METAR ZZYQ 151520Z {weather} 24/20 Q1004", **JUNE, aircraft=aircraft)
    assert lines(brief)["tie-downs"].text.startswith("If there is time, ") and "First call" not in at_the_top(brief)
    # one that is only possible, or still to come, is what it is called for
    ahead = advise("METAR ZZYQ 151520Z 30009KT 9999 SCT025CB 24/20 Q1004", **JUNE, aircraft=aircraft)
    assert "First call now: " in at_the_top(ahead)


def test_blades_are_not_called_for_in_a_wind_that_blows() -> None:
    brief = advise("METAR ZZYQ 151520Z 30032G45KT 9999 SCT025 14/08 Q1004", **JUNE, aircraft="helicopter")
    assert "blades" not in at_the_top(brief)


# FMH-1: TSNO says that the station cannot tell of thunderstorms, and nothing of what falls
def test_a_station_without_a_storm_sensor_lacks_that_and_not_the_weather() -> None:
    brief = advise("METAR KZZA 151453Z AUTO 18006KT 10SM CLR 14/06 A3012 RMK AO2 TSNO", **JUNE)
    assert "precipitation" not in brief.missing and "storm_sensor" in brief.missing
    assert "cannot be told without a sensor for thunderstorms" in at_the_top(brief)
    assert "resent weather" not in at_the_top(brief)


@pytest.mark.parametrize(("treated_at", "said"), [(None, True), ("0640Z", True), ("0652Z", False)])
def test_snow_that_ended_before_the_treatment_is_no_reason_after_it(treated_at: str | None, said: bool) -> None:
    asked: dict[str, Any] = {"now": "2027-01-11T06:58:00Z", "off_block": "2027-01-11T07:35:00Z"}
    asked |= {"place": "48.4,11.8", "parked_since": "2027-01-10T20:00:00Z"}
    report = "METAR ZZYU 110650Z 33012KT 9999 OVC020 M02/M10 Q1013 RESN NOSIG"
    brief = advise(report, **asked, treated_at=treated_at)
    # snow of the hour before 0650Z may have fallen on what was treated at 0640Z
    assert ("snow within two hours" in plain(brief)) is said
    assert any(line.id == "de-icing-request" for line in brief.advice) is said


def test_a_wind_of_which_the_gusts_are_told_is_not_called_not_known() -> None:
    brief = advise(
        "METAR ZZYS 150355Z 24028G44KT 9999 SCT020 09/05 Q0995",
        now="2027-03-15T09:45:00Z",
        off_block="2027-03-15T10:20:00Z",
        place="55.0,8.0",
    )
    assert re.match(r"Gusts to \d+ kt", at_the_top(brief)) and "Wind not known" not in at_the_top(brief)


# WMO No. 306, table 0919: 7 is ice, 5 wet snow
def test_what_lies_on_a_runway_is_the_reason_for_slippery_ground() -> None:
    report = "METAR ZZYJ 151450Z 09005KT 9999 OVC030 02/M03 Q1022 R09/790515 NOSIG"
    brief = advise(report, **JUNE)
    assert "possible: snow or ice reported on ground or runways" in plain(brief)
    assert "reported on ground" not in plain(advise(report.replace("790515", "190595"), **JUNE))


def test_a_mask_in_thick_dust_and_a_light_for_drivers_in_thick_smoke_at_night() -> None:
    dust = advise("METAR ZZYY 151500Z 04030G48KT 0300 +DS VV001 40/M01 Q0993", **JUNE)
    assert "dust mask" in lines(dust)["eye-protection"].text
    thin = advise("METAR ZZYY 151500Z 04030G48KT 5000 DU SCT030 40/M01 Q0993", **JUNE)
    assert "dust mask" not in lines(thin)["eye-protection"].text
    night = {**JUNE, "now": "2027-06-15T22:30:00Z", "off_block": "2027-06-15T23:45:00Z"}
    smoke = advise("METAR ZZYY 152220Z 04003KT 0800 FU SCT030 20/10 Q1013", **night)
    assert lines(smoke)["low-visibility-apron"].status in ("expected", "likely")


def test_in_ash_no_door_is_only_a_matter_of_the_wind() -> None:
    brief = advise("METAR ZZYH 151520Z 18008KT 2000 VA OVC060 06/01 Q1003", **JUNE, aircraft="single-aisle-jet")
    assert "All 6 doors: keep shut in ash; below your profile's limit" in plain(brief)
    assert "doors shut" in lines(brief)["ash"].text


def test_a_new_brief_is_asked_for_no_sooner_than_a_quarter_of_an_hour_on() -> None:
    report = "METAR ZZYG 151520Z 27012KT 9999 BKN030 19/12 Q1012"
    for off_block, said in (("1635Z", False), ("1636Z", True)):
        brief = advise(report, **{**JUNE, "off_block": off_block})
        assert ("recheck" in lines(brief)) is said
    assert lines(brief)["recheck"].by == "2027-06-15T15:46:00Z"


def test_the_call_that_decides_the_flight_stands_beside_the_one_that_is_due_first() -> None:
    asked = {"now": "2027-01-27T10:00:00Z", "off_block": "2027-01-27T11:45:00Z", "place": "43.0,-76.1"}
    report = "METAR ZZYK 270953Z 36012KT 1500 SN FZFG VV002 M03/M04 A2941"
    brief = advise(report, **asked, aircraft="regional-jet", parked_since="2027-01-26T23:00:00Z")
    assert "First call now: water and waste drained; by 1100Z: de-icing." in at_the_top(brief)


def test_a_report_that_says_nothing_is_not_left_out_without_a_word() -> None:
    brief = advise(["METAR ZZYG 151520Z NIL=", "METAR ZZYG 151450Z 27012KT 9999 BKN030 19/12 Q1012"], **JUNE)
    assert "The report of 1520Z says nothing (NIL)." in brief.notes


@pytest.mark.parametrize(
    ("reports", "status"),
    [
        # no end was given, and the next report says nothing of it
        (
            (
                "SPECI KZZA 142153Z AUTO 18012KT 10SM SCT040CB 31/22 A2979 RMK TORNADO B45 2 SW",
                "METAR KZZA 142253Z AUTO 18012KT 10SM SCT040 31/22 A2979",
            ),
            "possible",
        ),
        (
            (
                "SPECI ZZYC 142153Z 18012KT 9999 +FC SCT040CB 31/22 Q1008",
                "METAR ZZYC 142253Z 18012KT CAVOK 31/22 Q1008",
            ),
            "possible",
        ),
        (("METAR KZZA 142253Z AUTO 18012KT 10SM SCT040 31/22 A2979 RMK TORNADO B01E06",), "possible"),
        # two hours after its end nobody asks for it
        (("METAR KZZA 142253Z AUTO 18012KT 10SM SCT040 31/22 A2979 RMK TORNADO B2001E2046",), None),
        (("METAR KZZA 142253Z AUTO 18012KT 10SM SCT040 31/22 A2979 RMK TORNADO B01E06B40",), "expected"),
    ],
)
def test_a_tornado_is_remembered_and_one_that_ended_is_no_certainty(
    reports: tuple[str, ...], status: str | None
) -> None:
    brief = advise(list(reports), **MAY)
    found = lines(brief).get("funnel-cloud")
    assert (found.status if found else None) == status
    assert ("unnel cloud or tornado within two hours" in at_the_top(brief)) is (status == "possible")
    assert status is None or brief.advice[0].id == "funnel-cloud"


def test_a_gust_counts_to_the_very_minute_an_hour_on() -> None:
    report = "METAR ZZYC 142253Z 23012KT 9999 FEW060 28/06 Q1005 RMK PK WND 24052/2241"
    assert "Gusts to 52 kt possible until 2341Z; gusts to 52 kt in the reports before" in at_the_top(
        advise(report, **MAY)
    )
    # the doors are moved after that: what nobody tells of by then is no gust that nobody reported
    late = advise(report, **MAY, aircraft="light-aircraft", doors_open="2345Z/2359Z")
    assert "no gust told of by then, allowing for one" in plain(late)


@pytest.mark.parametrize(
    ("newest", "earlier", "status"),
    [
        # the newest wind got lost: what blew before is still known
        ("/////KT", "24020G52KT", "possible"),
        ("24005KT", "24020G52KT", "possible"),
        # an earlier one got lost: what blew then is not known
        ("24005KT", "/////KT", "cannot tell"),
        ("24005KT", "24008KT", "within"),
    ],
)
def test_a_wind_that_got_lost_takes_no_gust_away_and_reassures_nobody(newest: str, earlier: str, status: str) -> None:
    reports = [
        f"METAR ZZYC 142220Z {earlier} 9999 BKN030 19/06 Q1005",
        f"METAR ZZYC 142250Z {newest} 9999 BKN030 19/06 Q1005",
    ]
    brief = advise(reports, **MAY, aircraft="regional-jet", doors_open="2256Z/2315Z")
    assert {door.status for door in brief.doors} == {status}


def test_freezing_rain_before_a_treatment_is_no_reason_after_it_and_the_ground_stays_wet() -> None:
    asked: dict[str, Any] = {"now": "2027-01-28T06:00:00Z", "off_block": "2027-01-28T06:50:00Z"}
    asked |= {"place": "46.0,14.0", "parked_since": "2027-01-28T04:00:00Z"}
    reports = [
        "METAR ZZYV 280450Z 33008KT 6000 -FZRA OVC015 M01/M02 Q1002",
        "METAR ZZYV 280520Z 33008KT 9999 OVC015 M01/M06 Q1002",
        "METAR ZZYV 280550Z 33008KT 9999 OVC015 M01/M06 Q1002",
    ]
    iced, treated = advise(reports, **asked), advise(reports, **asked, treated_at="0540Z")
    assert lines(iced)["de-icing-request"].status == "expected" and "de-icing-request" not in lines(treated)
    assert {"steps-ice", "slippery-apron"} <= set(lines(treated))


def test_a_call_that_comes_too_late_is_due_at_no_time() -> None:
    brief = advise("METAR ZZYQ 151520Z 30032G45KT 9999 SCT025 14/08 Q1004", **JUNE, aircraft="light-aircraft")
    assert "Now: If there is time" not in plain(brief) and "! If there is time, tie down" in plain(brief)
    # and the page says the same
    rows = {row.lead: [said for said, _ in row.items] for row in digest.calls(brief, brief.now).rows}
    assert "ropes and control lock, if time" in rows["Late, now"]


def test_a_treatment_leaves_the_ground_as_wet_as_it_was() -> None:
    report = "METAR ZZYV 280550Z 33008KT 9999 OVC015 M01/M06 Q1002 RERA"
    asked: dict[str, Any] = {"now": "2027-01-28T06:00:00Z", "off_block": "2027-01-28T06:50:00Z", "place": "46.0,14.0"}
    for treated_at in (None, "0555Z"):
        assert {"slippery-apron", "steps-ice"} <= set(lines(advise(report, **asked, treated_at=treated_at)))


def test_a_gust_of_hours_ago_did_not_blow_within_the_hour() -> None:
    # without a gust 17 kt may be 26 kt: nine more are not reported
    winds = (("1820", "29016G26KT"), ("2250", "29017KT"))
    reports = [f"METAR ZZYA 14{at}Z {wind} 9999 BKN040 18/02 Q0991" for at, wind in winds]
    said = plain(advise(reports, **MAY, aircraft="regional-jet"))
    assert "no gust told of by then, allowing for one to 26 kt" in said and "blew" not in said


def test_a_gust_that_comes_later_hides_no_wind_that_is_not_known() -> None:
    wind = "METAR ZZYA 142250Z /////KT 9999 BKN040 18/02 Q0991"
    forecast = "TAF ZZYA 142000Z 1420/1520 29008KT 9999 BKN040 FM142330 29030G48KT 9999 BKN030"
    said = at_the_top(advise([wind, forecast], **{**MAY, "off_block": "2027-05-15T01:30:00Z"}))
    assert said.startswith("Wind not known; gusts to ")

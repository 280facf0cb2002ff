"""Groups that were cut, and what a report hides: each case beside the whole one, which was seen to be harm if lost.

What a group would have told comes from the whole report; a group that was lost may make that less sure, never milder.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from advisor import advise
from advisor.brief.model import Brief
from advisor.render.text import render
from tests.truth.telling import at_least, status

NIGHT: dict[str, Any] = {"now": "2027-01-22T20:57Z", "off_block": "2027-01-22T22:30Z", "place": "61.4,9.8"}
NOON: dict[str, Any] = {"now": "2027-07-14T15:05Z", "off_block": "2027-07-14T16:40Z", "place": "33.2,-97.1"}
REPORT = "METAR ZZZA 222050Z 24010KT 9999 OVC012 05/M02 Q0990"
TAF = "TAF ZZZA 222000Z 2221/2318 24010KT 9999 OVC012"
ICE = ("probes-and-ports", "intakes", "control-gaps", "slippery-apron")


def brief(*texts: str, aircraft: str = "single-aisle-jet", asked: dict[str, Any] = NIGHT) -> Brief:
    return advise(list(texts), aircraft=aircraft, **asked)


def doors(made: Brief) -> set[tuple[str, str]]:
    return {(door.status, door.beyond) for door in made.doors}


def top(made: Brief) -> str:
    """The first view, up to the reports."""
    return " ".join(render(made).partition("\nReport ")[0].split())


@pytest.mark.parametrize("remark", ["FRQ LTGICCG OHD CB OHD MOV E", "OCNL LTGIC VC NE CB", "CB VC W"])
def test_a_storm_that_only_remarks_tell_of_leaves_the_gusts_at_a_door_without_a_bound(remark):
    report = f"METAR KZZA 222053Z AUTO 24010KT 10SM BKN020 15/12 A2990 RMK AO2 {remark}"
    assert doors(brief(report)) == {("cannot tell", "storm")}
    # as one in the cloud groups does, and none does that is far away
    assert doors(brief(report.replace("BKN020", "BKN020CB"))) == {("cannot tell", "storm")}
    assert doors(brief(report.replace(remark, "LTG DSNT W"))) == {("within", "")}


@pytest.mark.parametrize(
    ("whole", "cut"),
    [
        ("BECMG 2221/2223 24030G48KT", "BECMG 2221/2223 24030G"),
        ("TEMPO 2221/2223 24030G48KT", "TEMPO 2221/2223 240G48KT"),
        ("TEMPO 2221/2223 24030G48KT", "TEMPO 2221/2223 2403OG48K"),
        ("BECMG 2221/2223 24048KT", "BECMG 2221/2223 24048"),
    ],
)
def test_a_wind_that_was_cut_in_a_forecast_is_not_known_from_there_on(whole, cut):
    assert {told for told, _ in doors(brief(REPORT, f"{TAF} {whole}"))} == {"possible"}
    made = brief(REPORT, f"{TAF} {cut}")
    assert {told for told, _ in doors(made)} == {"cannot tell"} and "stormy" not in top(made)
    assert at_least(made, "too-windy-outside", "cannot tell")
    # and so in a trend
    trend = re.sub(r"(TEMPO|BECMG) 2221/2223", r"\1 FM2200", cut)
    assert {told for told, _ in doors(brief(f"{REPORT} {trend}"))} == {"cannot tell"}


@pytest.mark.parametrize(
    ("cut", "least"), [("BKNO20C", "cannot tell"), ("BKN0//CB", "possible"), ("0VC020", "cannot tell")]
)
def test_a_cloud_group_that_was_cut_may_have_been_a_storm_cloud(cut, least):
    report = "METAR ZZZA 222050Z AUTO 24010KT 9999 {} 15/12 Q0990"
    assert status(brief(report.format("FEW010 BKN020CB")), "thunderstorm") == "possible"
    assert status(brief(report.format("FEW010 BKN020")), "thunderstorm") is None
    for made in (brief(report.format(f"FEW010 {cut}")), brief(REPORT, f"{TAF} TEMPO 2222/2302 {cut}")):
        assert at_least(made, "thunderstorm", least) and {told for told, _ in doors(made)} == {"cannot tell"}
        assert "stormy" not in top(made)


@pytest.mark.parametrize("head", ["TEMPO 2222/2302", "BECMG 2221/2223", "PROB40 2221/2303", "PROB30 TEMPO 2221/2303"])
def test_a_change_behind_which_nothing_stands_changes_nobody_knows_what(head):
    # a forecast that was cut never tells less than none
    report = REPORT.replace("05/M02", "00/M02")
    made, without = brief(report, f"{TAF} {head}"), brief(report)
    assert head in made.not_decoded and {told for told, _ in doors(made)} == {"cannot tell"}
    for line in without.advice:
        assert line.status != "cannot tell" or "forecast" not in line.missing or at_least(made, line.id, "cannot tell")
    assert at_least(made, "no-holdover", "cannot tell") and at_least(made, "rain-may-freeze", "cannot tell")
    # one that says something, if only of the wind, says that
    assert {told for told, _ in doors(brief(report, f"{TAF} {head} 24012KT"))} == {"within"}


@pytest.mark.parametrize("trend", ["TEMPO", "BECMG FM2200", "TEMPO TL2230"])
def test_a_trend_that_was_cut_after_its_head_changes_nobody_knows_what(trend):
    made = brief(f"{REPORT} {trend}")
    assert {told for told, _ in doors(made)} == {"cannot tell"} and at_least(made, "no-holdover", "cannot tell")
    assert {told for told, _ in doors(brief(f"{REPORT} NOSIG"))} == {"within"}


@pytest.mark.parametrize("cut", ["FZRAB", "FZRAB10E4", "SNB12E", "I1//", "PLE"])
def test_a_remark_that_was_cut_may_have_told_what_just_ended(cut):
    report = "METAR KZZA 222053Z AUTO 05008KT 10SM OVC020 M01/M03 A2990 RMK AO2"
    whole, made, without = (brief(f"{report} {rest}") for rest in ("FZRAB10E45", cut, ""))
    for name in ICE:
        assert at_least(whole, name, "possible") and status(without, name) is None, name
        assert at_least(made, name, "cannot tell"), name


def test_a_gust_that_was_lost_is_said_to_be_and_nothing_is_denied():
    made = brief("METAR ZZZA 222050Z AUTO 24028G//KT 9999 OVC020 06/03 Q0990")
    assert top(made).count("Gust not known; nothing frozen or freezing reported") == 1
    # a later wind that is lost as well hides no gust of now, and a later gust is said to be later
    both = brief(made.reports[0].raw, f"{TAF} BECMG 2221/2223 24030G")
    assert "Later wind not known; gust not known" in top(both)
    assert "Later gust not known" in top(brief(REPORT, f"{TAF} BECMG 2221/2223 24030G//KT"))
    assert doors(made) == {("cannot tell", "gust")} and "the gust is not known" in render(made)
    # a wind that was lost whole is another matter
    lost = brief("METAR ZZZA 222050Z AUTO /////KT 9999 OVC020 06/03 Q0990")
    assert "Wind not known" in top(lost) and doors(lost) == {("cannot tell", "")}


@pytest.mark.parametrize("hidden", ["//// OVC001", "0400 VV001", "1/4SM VV001", "//// VV///"])
def test_fog_that_no_group_denies_is_not_ruled_out_in_damp_air(hidden):
    report = "METAR ZZZA 222050Z AUTO 05002KT {} {} Q1020"
    for name in ICE:
        assert status(brief(report.format("0400 FZFG VV001", "M04/M04")), name) == "expected", name
        assert at_least(brief(report.format(hidden, "M04/M04")), name, "cannot tell"), name
        # dry air has none, whatever is lost
        assert status(brief(report.format(hidden, "M04/M12")), name) is None, name
    said = "Fog not ruled out" in top(brief(report.format(hidden, "M04/M04")))
    assert said is not hidden.startswith("////")


def test_a_dew_point_that_was_lost_in_heat_is_no_higher_than_any_that_was_measured():
    """By Rothfusz 42 to 47 °C at a dew point of 35.5 °C make 80 to 90 °C; saturated, it would be 125 and more."""
    for aircraft in ("single-aisle-jet", "light-aircraft", "helicopter"):
        made = brief("METAR ZZZA 141450Z AUTO 19010KT 9999 NCD 42/// Q1004", aircraft=aircraft, asked=NOON)
        heat = next(line for line in made.advice if any(item.quantity == "heat_index_c" for item in line.because))
        index = next(item for item in heat.because if item.quantity == "heat_index_c")
        assert index.high is not None and 70 < index.high < 95
        # and nothing freezes on a skin in such air
        assert status(made, "de-icing-request") is None and "without a forecast" not in top(made)


def test_of_two_reports_of_one_minute_that_differ_both_are_shown():
    dry = "METAR ZZZA 222050Z AUTO 05008KT 9999 OVC020 M01/M03 Q0990"
    icy = "METAR ZZZA 222050Z AUTO 05008KT 4000 FZRA OVC008 M01/M02 Q0990"
    for texts in ((dry, icy), (icy, dry)):
        shown = [report.raw for report in brief(*texts).reports if report.used]
        assert sorted(shown) == sorted(texts)
    assert [report.raw for report in brief(dry).reports if report.used] == [dry]


def test_weather_that_was_not_read_in_a_forecast_is_not_put_down_to_the_report_nor_to_a_forecast_not_given():
    sound = "METAR ZZZA 222050Z 24010KT 9999 SCT030 00/M02 Q0990"
    said = top(brief(sound, f"{TAF} BECMG 2221/2223 -FZR/ BKN005"))
    assert "Later weather not known" in said and "cannot be told without more of the forecast" in said
    assert "resent weather" not in said and "without a forecast" not in said
    # a wind that only the forecast lost is known now
    gone = top(brief(sound, f"{TAF} BECMG 2221/2223 24030G"))
    assert gone.count("Later wind not known") == 1 and "; wind not known" not in gone and "wind 10 kt" in gone
    blind = top(brief(sound.replace("9999", "9999 //")))
    assert "Present weather not known" in blind and "the forecast" not in blind
    for recent in ("RE//", "RMK FZRAB10E4"):
        said = top(brief(f"METAR KZZA 222053Z AUTO 05008KT 10SM OVC020 M01/M03 A2990 {recent}"))
        assert "Recent weather not known" in said and "Present" not in said and "Later" not in said, recent


@pytest.mark.parametrize("cut", ["BECMG 2221/2222 200", "BECMG 2221/22", "TEMPO 2221/2223 20", "PROB40 2221/2223 2"])
def test_a_change_of_which_not_a_word_was_read_changes_nobody_knows_what(cut):
    made = brief(REPORT, f"{TAF} {cut}")
    assert {told for told, _ in doors(made)} == {"cannot tell"} and at_least(made, "no-holdover", "cannot tell")
    for trend in ("BECMG AT2130 250", "BECMG AT", "TEMPO 20"):
        assert {told for told, _ in doors(brief(f"{REPORT} {trend}"))} == {"cannot tell"}, trend


def test_an_m_that_stands_alone_before_a_temperature_may_be_its_sign():
    made = brief("METAR ZZZA 222050Z 24010KT 9999 FEW012 M 15/M18 Q0998", aircraft="helicopter")
    assert "Air temperature not known" in top(made) and {"M", "15/M18"} <= {*made.not_decoded}
    # one that carries its own sign, and a temperature that was coded missing and given after all, are read
    for text in ("M M15/M18", "/ 15/M18"):
        assert "15/M18" not in brief(f"METAR ZZZA 222050Z 24010KT 9999 FEW012 {text} Q0998").not_decoded, text


def test_a_peak_wind_that_was_cut_leaves_the_gusts_of_its_hour_untold():
    report = "METAR KZZA 222053Z 21012KT 10SM FEW040 06/01 A2992 RMK AO2"
    soon = NIGHT | {"off_block": "2027-01-22T21:30Z"}
    whole, cut, without = (brief(f"{report} {rest}", asked=soon) for rest in ("PK WND 21048/2020", "PK WND 210", ""))
    assert {told for told, _ in doors(whole)} == {"possible"} and {told for told, _ in doors(without)} == {"within"}
    assert doors(cut) == {("cannot tell", "gust")} and at_least(cut, "tie-downs", "cannot tell")


def test_weather_that_was_not_read_is_not_known_in_the_line_about_the_walk_either():
    report = "METAR ZZZA 222050Z 24010KT {} OVC012 M01/M03 Q0998"
    assert "wind 10 kt, weather not known" in top(brief(report.format("9999-SN")))
    assert "wind 10 kt, -SN" in top(brief(report.format("9999 -SN")))
    assert "weather" not in top(brief(report.format("9999"))).partition("Walk")[2]

"""Facts of the reading of reports and feeds that no quick test held, each found by an edit that went unnoticed."""

import socket
import sys
from datetime import UTC, datetime, timedelta, timezone
from math import isnan, nan
from typing import Any

import iwxxm_samples as x
import numpy as np
import pytest

from advisor import places
from advisor.errors import DepartureError, ReportError
from advisor.feeds import fetch, file, http
from advisor.feeds.address import Deadline, NoAnswerError
from advisor.report import decode, iwxxm, metar, moments
from advisor.report.code import remarks, second_reader
from advisor.report.code.assemble import Assembly, moments_s
from advisor.report.code.entries import entry
from advisor.report.code.taf.body import Body
from advisor.report.code.taf.header import read_header
from advisor.report.code.taf.times import Calendar, after
from advisor.report.code.taf.tokens import TokenReader
from advisor.report.code.words import split_weather, united_states
from advisor.report.forecast import Forecast
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group, Report
from advisor.report.xml import document

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
ISSUED = datetime(2026, 1, 10, 5, 50, tzinfo=UTC)
MM_PER_INCH = 25.4


def read(rest: str, station: str = "ZZZA") -> Report:
    return metar.read(f"METAR {station} 100550Z {rest}", now=NOW)


def group_of(report: Report, text: str) -> Group:
    (found,) = (group for group in report.groups if group.text == text)
    return found


def remark(text: str) -> Group:
    """A remark of its own, behind an ordinary report of the United States."""
    return group_of(read(f"24008KT 10SM OVC010 02/01 A2992 RMK {text}", "KZZA"), text)


def from_xml(inside: str, **more: Any) -> Report:
    (report,) = iwxxm.read(x.metar(inside, **more))
    assert isinstance(report, Report)
    return report


# times of remarks


@pytest.mark.parametrize(
    ("hour", "minute", "expected"),
    [
        # hand calculations for a report of 05:50: a minute without its hour is the last such minute
        (nan, 45, datetime(2026, 1, 10, 5, 45, tzinfo=UTC)),
        (nan, 55, datetime(2026, 1, 10, 4, 55, tzinfo=UTC)),
        (4, 30, datetime(2026, 1, 10, 4, 30, tzinfo=UTC)),
        # up to ten minutes ahead is today, more is yesterday (ten minutes: ours)
        (6, 0, datetime(2026, 1, 10, 6, 0, tzinfo=UTC)),
        (6, 1, datetime(2026, 1, 9, 6, 1, tzinfo=UTC)),
    ],
)
def test_the_time_of_a_remark_is_the_same_for_one_report_and_for_many(
    hour: float, minute: float, expected: datetime
) -> None:
    assert Assembly(ISSUED).moment(hour, minute) == expected
    many = moments_s(np.array([ISSUED.timestamp()]), np.array([hour]), np.array([minute]))
    assert many.tolist() == [expected.timestamp()]


# reports out of bulletins


def test_a_report_headed_by_six_words_of_type_and_mark_is_one_report() -> None:
    # six: ours; the words before station and time belong to what follows them
    head = "METAR COR AMD COR AMD AUTO"
    assert metar.split(f"{head}\nZZZA 100550Z 24008KT 9999=") == [f"{head} ZZZA 100550Z 24008KT 9999"]


# groups of the body


def test_yellow_comes_in_two_degrees() -> None:
    # military colour states YLO1 and YLO2, common practice
    said = group_of(read("24008KT 9999 OVC010 02/01 Q1013 YLO2"), "YLO2").meaning
    assert said == "military colour state of cloud base and visibility: yellow 2"


def test_air_may_be_hotter_than_a_dew_point_may_be_high() -> None:
    # limits for air at the ground: 60 °C, for its dew point 40 °C (ours)
    report = read("24008KT 9999 NSC 45/10 Q1013")
    assert (report.temperature_c, report.dew_point_c) == (45, 10)
    assert group_of(read("24008KT 9999 NSC 50/45 Q1013"), "50/45").status == CONFLICT


def test_air_may_be_hotter_than_a_dew_point_may_be_high_to_the_tenth_too() -> None:
    # FMH-1, T-group: 0450 is 45.0 °C, 0100 is 10.0 °C
    report = read("24008KT 10SM CLR 45/10 A2992 RMK T04500100", "KZZA")
    assert group_of(report, "T04500100").meaning == "temperature 45.0 °C to the tenth, dew point 10.0 °C"


def test_a_layer_of_unknown_base_is_still_a_layer_and_slashes_alone_are_none() -> None:
    # WMO FM 15: BKN/// is an amount whose base the automatic system could not measure, ////// is nothing reported
    (layer,) = read("24008KT 9999 BKN/// 02/01 Q1013").cloud
    assert layer.cover == "BKN" and isnan(layer.base_ft)
    assert group_of(read("24008KT 9999 ////// 02/01 Q1013"), "//////").meaning == "cloud not reported"


def test_a_wind_of_200_kt_is_taken_and_one_of_201_is_not() -> None:
    # 200 kt: ours, what the conflict says
    assert read("240200KT 9999 OVC010 02/01 Q1013").wind_kt == 200
    report = read("240201KT 9999 OVC010 02/01 Q1013")
    assert isnan(report.wind_kt)
    assert group_of(report, "240201KT").meaning == "wind of more than 200 kt, not used"


# what stands for a missing group


def test_a_lone_m_behind_the_wind_is_the_visibility_missing() -> None:
    # order of groups in FM 15: wind, visibility, weather, cloud, temperature
    report = read("24008KT M 02/01 Q1013")
    group = group_of(report, "M")
    assert (group.kind, group.status, group.meaning) == ("visibility", DECODED, "visibility not reported")
    assert isnan(report.visibility_m)
    assert report.cloud == ()


def test_three_strokes_behind_the_wind_are_cloud_not_visibility() -> None:
    # FM 15 writes visibility in four strokes, an amount of cloud in three
    report = read("24008KT /// 02/01 Q1013")
    assert group_of(report, "///").kind == "cloud"
    (layer,) = report.cloud
    assert (layer.cover, layer.type, isnan(layer.base_ft)) == ("///", "", True)


def test_what_an_m_stands_for_behind_the_last_group_cannot_be_told() -> None:
    group = group_of(read("24008KT 9999 OVC010 02/01 Q1013 M"), "M")
    assert (group.status, group.meaning) == (NOT_DECODED, "a missing group, of which kind cannot be told")


def test_a_wind_said_again_in_the_same_words_is_no_conflict() -> None:
    report = read("24008KT 24008KT 9999 OVC010 02/01 Q1013")
    assert report.wind_kt == 8
    assert [group.status for group in report.groups if group.text == "24008KT"] == [DECODED, NOTED]


# remarks


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("R24/24008KT", "at runway 24: wind from 240° true at 8 kt"),
        ("ARP/24008KT", "at the reference point: wind from 240° true at 8 kt"),
        # FMH-1 12.7.1: wind shift, with FROPA where a front passed
        ("WSHFT 0530", "wind shifted at 05:30 UTC"),
        ("WSHFT 0530 FROPA", "wind shifted at 05:30 UTC, a front passed"),
        # FMH-1 12.7.1: a ceiling that varies, in hundreds of feet
        ("CIG 010V015", "cloud ceiling varies from 1000 to 1500 ft"),
        ("WND MISG", "wind missing"),
        ("-SN", "also seen: light snow"),
        ("PRESENT WX -SN", "also seen: light snow"),
    ],
)
def test_a_remark_says_in_words_what_it_says_in_code(text: str, meaning: str) -> None:
    assert remark(text).meaning == meaning


def test_begins_and_ends_longer_than_an_hour_can_hold_are_left_alone() -> None:
    # 240 characters: ours
    longest = "RAB01E02" * 30
    assert remark(longest).kind == "weather times"
    assert remark(longest + "RAB01E02").status == NOT_DECODED


def test_a_peak_wind_is_settled_by_its_three_words_and_the_one_behind() -> None:
    # FMH-1: PK WND dddff(f)/(hh)mm
    assert remarks.reach("PK") == 4


def test_the_tokens_that_settle_a_remark_are_enough_for_its_longest_form() -> None:
    tokens = ["VIS", "1", "1/2", "RWY", "15L", "SLP134", "T10061028"]
    count = remarks.reach("VIS")
    assert count is not None
    few = remarks.phrase_at(" ".join(tokens[:count]), True)
    assert few is not None and few.group.text == "VIS 1 1/2 RWY 15L"


# what the second reader makes of a group that the first has read wrongly


@pytest.mark.parametrize(
    ("kind", "text", "right", "wrong"),
    [
        ("wind variation", "240V300", {"from_deg": 240.0, "to_deg": 300.0}, {"from_deg": 250.0}),
        ("wind variation", "240V300", {"from_deg": 240.0, "to_deg": 300.0}, {"to_deg": 310.0}),
        # hundredths of an inch: 0.12 in
        ("hourly precipitation", "P0012", {"mm": 0.12 * MM_PER_INCH}, {"mm": 0.13 * MM_PER_INCH}),
        ("ice accretion", "I1003", {"hours": 1.0, "mm": 0.03 * MM_PER_INCH}, {"mm": 0.04 * MM_PER_INCH}),
        *(
            (
                "peak wind",
                "PK WND 28045/1955",
                {"direction_deg": 280.0, "kt": 45.0, "hour": 19.0, "minute": 55.0},
                wrong,
            )
            for wrong in ({"direction_deg": 290.0}, {"kt": 46.0}, {"minute": 56.0}, {"hour": 18.0})
        ),
        (
            "peak wind",
            "PK WND 280P45/1955",
            {"direction_deg": 280.0, "kt": 45.0, "hour": 19.0, "minute": 55.0},
            {"kt": 46.0},
        ),
    ],
)
def test_the_second_reader_notices_any_number_read_wrongly(
    kind: str, text: str, right: dict[str, float], wrong: dict[str, float]
) -> None:
    # asked past what it remembers, so that nothing wrong is remembered
    assert second_reader._asked(entry(text, kind, DECODED, "", right), text)
    assert not second_reader._asked(entry(text, kind, DECODED, "", {**right, **wrong}), text)


# forecasts


@pytest.mark.parametrize(("hour", "minute"), [(25, 0), (24, 30), (23, 60)])
def test_there_is_no_hour_25_and_nothing_behind_hour_24(hour: int, minute: int) -> None:
    # FM 51: hours 00 to 24, 24 being the end of the day
    assert after(ISSUED, hour, minute) is None


def test_hour_24_is_the_next_midnight() -> None:
    assert after(ISSUED, 24) == datetime(2026, 1, 11, tzinfo=UTC)


def test_what_is_no_period_takes_no_tokens() -> None:
    # the contract of period: "" and 0 for none
    assert TokenReader(["123"], "123").period(0, Calendar(NOW)) == ("", 0)


@pytest.mark.parametrize(("rest", "old_style"), [("0615 24010KT", True), ("1006/1112 24010KT", False), ("NIL", False)])
def test_the_style_is_old_only_where_a_validity_is_written_in_hours(rest: str, old_style: bool) -> None:
    # the contract of Header; a NIL without a validity has none in hours
    text = f"TAF ZZZA 100500Z {rest}"
    assert read_header(TokenReader(text.split(), text), NOW).old_style is old_style


class Careful(TokenReader):
    """Refuses a group of no token, over which the reading would never end."""

    def add(self, count: int, kind: str, status: str, meaning: str, part: str) -> None:
        assert count >= 1
        super().add(count, kind, status, meaning, part)


@pytest.mark.parametrize("rest", ["TEMPO1008/1010 -SN", "TEMPO 1008/1010 -SN", "TEMPO -SN", "TX05/1012Z TNM02/1106Z"])
def test_every_group_of_a_forecast_takes_at_least_one_token(rest: str) -> None:
    text = f"TAF ZZZA 100500Z 1006/1112 24010KT 9999 OVC010 {rest}"
    tokens = Careful(text.split(), text)
    Body(tokens, read_header(tokens, NOW)).read()
    assert " ".join(group.text for group in tokens.groups) == text


# words


def test_puerto_rico_and_the_virgin_islands_follow_the_united_states() -> None:
    # indicators of two letters, common practice; a T alone is not enough
    assert united_states("TJZZ") and united_states("TIZZ") and not united_states("TZZZ")


def test_weather_in_the_vicinity_is_split_behind_its_two_letters() -> None:
    # WMO code table 4678: VC is a qualifier of its own
    assert split_weather("VCSH") == ("VC", "SH", ())
    assert split_weather("VCBLSN") == ("VC", "BL", ("SN",))


# lists of groups


def test_a_group_of_24_characters_stands_on_one_line_with_its_meaning() -> None:
    # 24: ours
    text = "RAB01E02SNB03E04DZB05E06"
    assert len(text) == 24
    shown = decode.decode_text([read(f"24008KT 9999 OVC010 02/01 Q1013 RMK {text}")])
    assert f"  {text}  decoded" in shown


def test_remarks_are_headed_even_where_rmk_is_joined_to_the_first() -> None:
    shown = decode.decode_text([read("24008KT 9999 OVC010 02/01 Q1013 RMK/AO2 SLP134")])
    assert shown.splitlines().count(" remarks:") == 1


# the time given as now


def test_now_of_another_zone_counts_by_its_day_in_utc() -> None:
    # 2 h on 1 February at 5 h east is 21 h on 31 January UTC
    now = datetime(2026, 2, 1, 2, tzinfo=timezone(timedelta(hours=5)))
    assert (moments.utc(now).month, moments.utc(now).day) == (1, 31)
    assert moments.utc(now).tzinfo is UTC


# documents of XML


def test_a_document_of_just_as_many_elements_as_are_allowed_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(document, "MOST_ELEMENTS", 3)
    assert len(list(document.parse("<a><b/><c/></a>").iter())) == 3
    with pytest.raises(ReportError, match="more than 3 elements"):
        document.parse("<a><b/><c/><d/></a>")


def test_a_link_inside_a_document_leads_to_the_element_of_that_name() -> None:
    # GML: xlink:href="#name" stands for the element whose gml:id that is
    link = 'xmlns:l="http://www.w3.org/1999/xlink" l:href'
    root = document.parse(f'<a><b id="v"><c/></b><d {link}="#v"/><e {link}="#none"/></a>')
    doc = document.XmlDocument(root)
    assert doc.resolved(doc.child(root, "d")) is doc.child(root, "b")
    assert doc.resolved(doc.child(root, "e")) is doc.child(root, "e")


def test_no_wind_comes_from_361_degrees() -> None:
    inside = x.visibility("9999") + x.air("2", "1", "1013")
    assert from_xml(x.wind("360", "8") + inside).wind_direction_deg == 360
    report = from_xml(x.wind("361", "8") + inside)
    assert isnan(report.wind_direction_deg)
    assert group_of(report, "36108KT").status == CONFLICT


def test_an_air_temperature_without_a_dew_point_is_read() -> None:
    report = from_xml(x.wind("240", "8") + x.value("airTemperature", "2.0", "Cel"))
    assert report.temperature_c == 2 and isnan(report.dew_point_c)


def shear(attributes: str, inside: str = "") -> str:
    return (
        f"<iwxxm:windShear><iwxxm:AerodromeWindShear {attributes}>{inside}</iwxxm:AerodromeWindShear></iwxxm:windShear>"
    )


@pytest.mark.parametrize(
    ("element", "text"),
    [
        # FM 15: WS ALL RWY, or WS and the runway
        (shear('allRunways="true"'), "WS ALL RWY"),
        (
            shear('allRunways="false"', "<iwxxm:runway><aixm:designator>24</aixm:designator></iwxxm:runway>"),
            "WS R24",
        ),
    ],
)
def test_wind_shear_is_that_of_all_runways_or_of_one(element: str, text: str) -> None:
    report = from_xml(x.wind("240", "8") + element)
    assert group_of(report, text).status == DECODED
    assert [group.text for group in report.groups if group.status == NOT_DECODED] == []


XLINK = 'xmlns:l="http://www.w3.org/1999/xlink" l:href'
NIL = 'nilReason="http://codes.wmo.int/common/nil/'


@pytest.mark.parametrize(
    ("element", "left"),
    [
        # of a runway that stands elsewhere, of none, of nothing at all: the hazard was reported and is told
        (shear('allRunways="false"', f'<iwxxm:runway {XLINK}="#r24"/>'), [("WS", CONFLICT)]),
        (shear('allRunways="false"'), [("WS", CONFLICT)]),
        (f'<iwxxm:windShear {XLINK}="#w"/>', [("WS", CONFLICT)]),
        (
            shear(
                'allRunways="false"',
                f'<iwxxm:runway><aixm:designator>24</aixm:designator></iwxxm:runway><iwxxm:runway {XLINK}="#r06"/>',
            ),
            [("WS", CONFLICT)],
        ),
        (f'<iwxxm:windShear {NIL}missing"/>', [("windShear missing", NOT_DECODED)]),
        # WMO's nil reasons: there is nothing worth a word
        (f'<iwxxm:windShear {NIL}nothingOfOperationalSignificance"/>', []),
    ],
)
def test_wind_shear_that_cannot_be_placed_is_told_all_the_same(element: str, left: list[tuple[str, str]]) -> None:
    report = from_xml(x.wind("240", "8") + element)
    told = [(group.text, group.status) for group in report.groups if group.status in (NOT_DECODED, CONFLICT)]
    assert told == left


def test_the_end_of_a_trend_that_cannot_be_read_is_told_beside_its_beginning() -> None:
    when = x.period("phenomenonTime", "2026-01-10T06:10:00Z", "later")
    report = from_xml(x.wind("240", "8"), after=x.trend("BECOMING", when, "FROM_UNTIL", x.prevailing("800")))
    assert group_of(report, "FM0610").status == DECODED
    left = [group.text for group in report.groups if group.status == NOT_DECODED]
    assert "endPosition later" in left and "timeIndicator FROM_UNTIL" in left


def test_an_end_of_a_trend_that_nobody_gives_is_told() -> None:
    when = (
        "<iwxxm:phenomenonTime><gml:TimeInstant><gml:timePosition>2026-01-10T06:10:00Z</gml:timePosition>"
        "</gml:TimeInstant></iwxxm:phenomenonTime>"
    )
    report = from_xml(x.wind("240", "8"), after=x.trend("BECOMING", when, "AT", x.prevailing("800")))
    assert group_of(report, "AT0610").status == DECODED
    assert [group.text for group in report.groups if group.status == NOT_DECODED] == []


def test_the_state_of_the_sea_is_noted() -> None:
    sea = "<iwxxm:seaCondition><iwxxm:AerodromeSeaCondition>" + x.value("seaSurfaceTemperature", "7", "Cel")
    report = from_xml(x.wind("240", "8") + sea + "</iwxxm:AerodromeSeaCondition></iwxxm:seaCondition>")
    assert [(group.text, group.meaning) for group in report.groups if group.status == NOTED] == [
        ("seaCondition 7 Cel", "sea state, not used")
    ]


def test_a_time_of_a_trend_that_cannot_be_read_is_told_not_lost() -> None:
    when = x.period("phenomenonTime", "soon", "later")
    report = from_xml(x.wind("240", "8"), after=x.trend("BECOMING", when, "UNTIL", x.prevailing("800")))
    assert [group.text for group in report.groups if group.status == NOT_DECODED] == [
        "beginPosition soon",
        "endPosition later",
        "timeIndicator UNTIL",
    ]


def test_a_time_of_a_trend_of_which_only_the_beginning_can_be_read_is_used() -> None:
    when = (
        "<iwxxm:phenomenonTime><gml:TimePeriod><gml:beginPosition>2026-01-10T06:10:00Z</gml:beginPosition>"
        '<gml:endPosition indeterminatePosition="unknown"/></gml:TimePeriod></iwxxm:phenomenonTime>'
    )
    report = from_xml(x.wind("240", "8"), after=x.trend("BECOMING", when, "FROM", x.prevailing("800")))
    assert group_of(report, "FM0610").status == DECODED
    assert [group.text for group in report.groups if group.status == NOT_DECODED] == []


def test_a_forecast_that_could_not_be_translated_is_not_one_that_says_nil() -> None:
    # translationFailedTAC holds the text; NIL says that there is no forecast, which this does not
    lost = 'reportStatus="NORMAL" translationFailedTAC="no forecast at all"'
    (forecast,) = iwxxm.read(x.taf("", attributes=lost))
    assert isinstance(forecast, Forecast)
    assert (forecast.nil, forecast.cancelled, forecast.raw) == (False, False, "no forecast at all")


# places


def test_a_pair_of_coordinates_may_have_whole_degrees_only() -> None:
    place = places.find("47,11")
    assert (place.latitude_deg, place.longitude_deg) == (47, 11)


def test_two_numbers_without_a_comma_are_told_to_be_no_pair_of_coordinates() -> None:
    with pytest.raises(DepartureError, match="is not a pair of coordinates"):
        places.find("47.5 11.3")


# feeds


def test_a_wrong_indicator_is_shown_by_its_first_twenty_letters() -> None:
    # twenty: ours
    with pytest.raises(DepartureError) as met:
        fetch.check_station("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    assert "'ABCDEFGHIJKLMNOPQRST' is no location indicator" in str(met.value)


def test_on_windows_the_folder_is_named_after_the_application_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    standard = file._standard()
    # no author's folder above it, and no Cache folder in it
    assert (standard.appauthor, standard.opinion) == (False, False)


def deadline() -> Deadline:
    return Deadline(lambda: 0.0, 5.0)


def test_a_name_that_leads_to_a_private_address_is_refused_unless_that_is_meant(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # RFC 6890: 10.0.0.0/8 is private
    monkeypatch.setattr(http, "resolve", lambda destination, deadline: ["10.0.0.1"])
    monkeypatch.setattr(http, "_exchange", lambda *rest: http.FeedAnswer(200))
    with pytest.raises(NoAnswerError, match="has a private address"):
        http.get(http.Ask("https://feed.example.test/", NOW), deadline())
    assert http.get(http.Ask("https://feed.example.test/", NOW, allow_private=True), deadline()).status == 200


def test_a_source_that_could_not_be_reached_may_be_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http, "resolve", lambda destination, deadline: [])
    with pytest.raises(NoAnswerError, match="could not be reached") as met:
        http.get(http.Ask("https://feed.example.test/", NOW), deadline())
    assert met.value.again and met.value.down


class Answer:
    """An answer with a body of five bytes, its length told in so many digits."""

    status_code = 200

    def __init__(self, length: str) -> None:
        self.headers = {"Content-Length": length}
        self.raw = self

    def stream(self, chunk: int, decode_content: bool) -> list[bytes]:
        return [b"METAR"]


def test_a_length_of_up_to_twelve_digits_is_read() -> None:
    # RFC 9110 8.6: one or more digits, zeros in front allowed; twelve: ours
    ask: Any = http.Ask("https://feed.example.test/", NOW)
    answer: Any = Answer("000000000005")
    assert http._receive(ask, answer) == http.FeedAnswer(200, b"METAR")
    answer = Answer("0000000000005")
    with pytest.raises(NoAnswerError, match="larger than"):
        http._receive(ask, answer)


def test_a_line_that_is_cut_ends_for_the_other_side() -> None:
    here, there = socket.socketpair()
    with here, there:
        there.settimeout(0.1)
        line = http._Line()
        # one that was never connected can be cut too
        line.cut()
        line.hold(here)
        assert there.recv(1) == b""

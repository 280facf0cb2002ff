"""What was not read and may have been weather: missing, never none.

The damaged groups are some that were met and those of single letters changed in the codes of WMO code table 4678 (from
memory); the ordinary ones are every group that was not read in the body of 27,301 real reports.
"""

import json
from datetime import UTC, datetime
from pathlib import Path

import iwxxm_samples as x
import pytest

from advisor.errors import ReportError
from advisor.report import iwxxm, metar, taf
from advisor.report.code.groups import body
from advisor.report.code.unread import (
    element_of,
    looks_like_cloud,
    looks_like_recent_weather,
    looks_like_times,
    looks_like_weather,
)

CORPUS = Path(__file__).parents[3] / "shared" / "corpus" / "metars.jsonl"
NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
DAMAGED = [
    "SN/",
    "-SN/BR",
    "5N",
    "RA/SN",
    "SNBLSN",
    "TSGRX",
    "-SNX",
    "FZR",
    "+TSRAG",
    "R4",
    "?RA",
    "S/",
    "SXN",
    "XSN",
    "+",
    "-",
    "-S",
    "FZ",
    "BL",
    "VC",
    "VCXX",
    "FZ?RA",
    "-FZRAA",
    "4000SN",
    "-SNBKN010",
    "BKN010SN",
    "SNOW",
    "FG/",
    "4000BL",
    "sn/",
    "SN;",
    "DZ/TSRA",
    "NIFG",
    "RAIN",
]
# the first rows are all that was not read in real reports but 4000BL, which is blowing snow or dust without its end
ORDINARY = [
    "99999",
    "FEW06",
    "200",
    "2009KT",
    "0808KT",
    "A300",
    "A298",
    "VRB",
    "F020CB",
    "ENE,S",
    "SSW",
    "31%",
    "FEWO46",
    "NOSIG:SIROCCO",
    "M2",
    "1",
    "80000",
    "WSW,W",
    "OH",
    "SE",
    "CLOUDY",
    "SCT0017",
    "NOISG",
    "NSC17/05",
    "80%",
    "NNE/NE",
    "00000KTBCAVOK",
    "27/MS07",
    "28/222",
    "72%",
    "CBRA/N/W/NW",
    "DIST",
    "NE",
    "PPPP",
    "NO",
    "CARRIER",
    "RING",
    "CONNECT",
    "57600",
    "SFOMTRMHS",
    "ALL",
    "TTAA00",
    "KMHS",
    "221856",
    "METAR",
    "23",
    "9999FEW023",
    "1508G20KT",
    "0350//",
    "FEW03027/20",
    "BKN09",
    "DL-NE",
    "W",
    "CACOK",
    "84?",
    "12/92000013G23KT",
    "FEW018SCT080",
    "60210",
    "44/42",
    "Q1019",
    "///47",
    "15/12",
    "R24/4900",
    "R04R/1800VP",
    "R24L/P20",
    "R06/CLRD",
    "RVR",
    "RWY24",
    "ABC123XYZ",
    "WIND",
    "-5/-7",
    "-12/",
    "BECM",
    "TEMP0",
    "NIL",
    "CLOSED",
    "SENSOR",
    "SHROOMS",
    "DRY",
]
PLAIN = "24008KT 9999 OVC010 M02/M03 Q1013"


def read(text):
    return metar.read(f"METAR ZZZA 100550Z {text}", now=NOW)


@pytest.mark.parametrize("text", DAMAGED)
def test_a_group_that_looks_like_weather_and_was_not_read_makes_the_weather_missing(text):
    report = read(f"24008KT 9999 {text} OVC010 M02/M03 Q1013")
    assert (report.weather_missing, report.recent_missing) == (True, False)
    assert text in {group.text for group in report.groups if group.status == "not decoded"}


@pytest.mark.parametrize("text", ORDINARY)
def test_an_ordinary_group_that_was_not_read_says_nothing_of_the_weather(text):
    assert not looks_like_weather(text)
    assert not looks_like_recent_weather(text)


@pytest.mark.parametrize("text", DAMAGED)
def test_both_readers_take_the_same_groups_for_weather(text):
    forecast = taf.read(f"TAF ZZZA 100500Z 1006/1112 24010KT 9999 {text} OVC010", now=NOW)
    assert forecast.periods[0].elements.weather_missing


def test_weather_that_was_read_beside_a_group_that_was_not_stays_and_the_rest_is_missing():
    report = read("24008KT 2000 -SN BR/ OVC010 M02/M03 Q1013")
    assert (report.weather, report.weather_missing) == (("-SN",), True)


@pytest.mark.parametrize("rest", [f"{PLAIN} NOSIG SN", f"{PLAIN}= SN/", f"SN/ {PLAIN}"])
def test_the_place_of_such_a_group_does_not_matter(rest):
    assert read(rest).weather_missing


@pytest.mark.parametrize("rest", [PLAIN, f"{PLAIN} RMK SN/", f"{PLAIN} TEMPO SN/", f"{PLAIN} RESN"])
def test_remarks_trends_and_what_was_read_make_no_weather_missing(rest):
    assert not read(rest).weather_missing


def test_weather_on_which_the_two_readers_differ_is_missing(monkeypatch):
    from advisor.report.code import second_reader as decoder

    monkeypatch.setattr(decoder, "agrees", lambda one: one.kind not in ("weather", "recent weather"))
    report = read("24008KT 2000 -SN OVC010 M02/M03 Q1013 RESN")
    assert (report.weather, report.weather_missing, report.recent_missing) == ((), True, True)


@pytest.mark.parametrize(
    ("trend", "missing"),
    [
        ("TEMPO 2000 SN/", True),
        ("BECMG -SNX", True),
        ("TEMPO //", True),
        ("TEMPO 2000 SN", False),
        ("BECMG NSW", False),
        ("TEMPO 2000 XYZW", False),
        ("NOSIG", False),
    ],
)
def test_the_weather_of_a_trend_is_missing_where_its_group_was_not_read(trend, missing):
    report = read(f"{PLAIN} {trend}")
    assert report.trends[0].weather_missing is missing
    assert not report.weather_missing


def test_the_weather_of_a_trend_in_xml_is_missing_where_its_code_is_none():
    when = x.instant("phenomenonTime", "2026-01-10T07:00:00Z")
    (report,) = iwxxm.read(x.metar("", after=x.trend("BECOMING", when, "AT", x.weather("SNX", "weather"))))
    assert (report.trends[0].weather_missing, report.weather_missing) == (True, False)


def test_the_weather_of_one_trend_does_not_touch_another():
    first, second = read(f"{PLAIN} TEMPO 2000 SN/ BECMG 9999 NSW").trends
    assert (first.weather_missing, second.weather_missing) == (True, False)


@pytest.mark.parametrize("text", ["RE//", "RESN/", "REXX", "RE5N", "REFZRAA", "RE", "RETSX"])
def test_recent_weather_that_was_not_read_is_missing(text):
    report = read(f"{PLAIN} {text}")
    assert (report.recent_weather, report.recent_missing, report.weather_missing) == ((), True, False)


@pytest.mark.parametrize("text", ["RESN", "RED", "REPORT", "REMARKS", "R24/490250", ""])
def test_recent_weather_that_was_read_and_other_words_leave_nothing_missing(text):
    assert not read(f"{PLAIN} {text}").recent_missing


def test_a_report_in_xml_that_nobody_could_read_has_no_weather_known():
    (report,) = iwxxm.read(
        '<METAR translationFailedTAC="RUBBISH"><observationTime><timePosition>2026-01-10T05:50:00Z</timePosition>'
        "</observationTime><aerodrome><designator>ZZZA</designator></aerodrome></METAR>"
    )
    assert (report.weather_missing, report.recent_missing) == (True, True)


def test_nearly_every_weather_code_with_one_letter_changed_is_taken_for_weather():
    """Of the changes that make no other group. Left are those to compass points and short words, as SE for SN."""
    codes = ["-SN", "SN", "RA", "-FZRA", "FZDZ", "+SHSN", "BR", "FG", "FZFG", "TSRA", "BLSN", "GR", "PL", "-RASN"]
    found = [
        looks_like_weather(changed)
        for code in codes
        for at in range(len(code))
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/?"
        for changed in [code[:at] + letter + code[at + 1 :]]
        if changed != code and not body(changed, False).kind
    ]
    assert len(found) > 1000
    assert sum(found) / len(found) > 0.97


@pytest.mark.skipif(not CORPUS.exists(), reason="the folder of real reports is not beside the checkout")
def test_of_all_real_reports_one_counts_anew_as_weather_missing():
    unread = []
    for line in CORPUS.read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        try:
            report = metar.read(row["raw"], now=datetime.fromisoformat(row["valid"]).replace(tzinfo=UTC))
        except ReportError:
            continue
        unread += [g.text for g in report.groups if g.part == "body" and not g.kind and looks_like_weather(g.text)]
    assert unread == ["4000BL"]


@pytest.mark.parametrize(
    ("token", "element"),
    [
        # a gust, a unit or a figure is missing, or a letter O stands for a nought
        ("24030G", "wind"),
        ("240G48KT", "wind"),
        ("24030", "wind"),
        ("2403OG48K", "wind"),
        ("VRB", "wind"),
        ("VRB05", "wind"),
        ("24030K", "wind"),
        ("24030G48", "wind"),
        ("///28G", "wind"),
        ("BKNO20C", "cloud"),
        ("BKN0//CB", "cloud"),
        ("0VC010", "cloud"),
        ("SCT0017", "cloud"),
        ("FEW06", "cloud"),
        ("010CB", "cloud"),
        ("30OO", "visibility"),
        ("////NDV", "visibility"),
        ("1/SM", "visibility"),
        ("-FZR/", "weather"),
        ("5N", "weather"),
        # what is none of them
        ("240", None),
        ("QNH2992INS", None),
        ("620304", None),
        ("XYZ", None),
        ("RWY24", None),
        ("2221/2223", None),
        ("CB", None),
        ("24030G BKN020CB", None),
    ],
)
def test_which_element_a_group_that_was_not_read_may_have_told(token: str, element: str | None) -> None:
    assert element_of(token) == element and element_of(token.lower()) == element


@pytest.mark.parametrize(
    ("token", "kind"),
    [
        ("BKN0//CB", "CB"),
        ("SCTO20TCU", "TCU"),
        ("010CB", "CB"),
        ("0VC010TCU", "TCU"),
        ("BKNO20", "///"),
        ("0VC010", "///"),
        ("VVO01", "///"),
        ("24030G", None),
        ("BKN020 CB", None),
    ],
)
def test_which_storm_cloud_a_group_that_was_not_read_may_have_told(token: str, kind: str | None) -> None:
    assert looks_like_cloud(token) == kind


@pytest.mark.parametrize(
    ("token", "told"),
    [
        *(
            (one, True)
            for one in ("FZRAB", "FZRAB10E4", "SNB12E", "TSB", "TSB31E", "RAE", "PLE/", "I1//", "I3", "-RAB", "snb1")
        ),
        # words, points of the compass, and what does not fall
        *(
            (one, False)
            for one in ("ICE", "SSE", "DUE", "PRE", "SHE", "HZE", "FGB", "SN", "E45", "I4001", "I10000", "B12")
        ),
    ],
)
def test_which_remarks_that_were_not_read_may_have_told_when_something_ended(token: str, told: bool) -> None:
    assert looks_like_times(token) is told

"""One TAF: header, times, groups, changes, and what cannot be read.

Stations beginning with ZZ and their weather are invented. The coding rules checked are those of WMO-No. 306, FM 51
(from memory); turbulence, icing and QNH groups of military forecasts are common practice, no source.
"""

import contextlib
import tomllib
from datetime import UTC, datetime, timedelta
from math import isnan, nan
from pathlib import Path

import pytest

from advisor.errors import ReportError
from advisor.report import taf
from advisor.report.decode import decode_text
from advisor.report.model import STATUSES, CloudLayer

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "forecasts.toml").read_text(encoding="utf-8"))
M_S = 3600 / 1852
NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
HEAD = "TAF ZZZA 100500Z 1006/1112 "
BASE = HEAD + "24010KT 9999 OVC010"


def utc(text):
    return datetime.fromisoformat(text)


def at(day, hour, minute=0, month=1, year=2026):
    return datetime(year, month, day, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)


def read(text, now=NOW):
    forecast = taf.read(text, now=now)
    assert " ".join(group.text for group in forecast.groups) == forecast.raw
    assert all(group.status in STATUSES for group in forecast.groups)
    return forecast


def statuses(forecast):
    return {group.text: group.status for group in forecast.groups}


@pytest.mark.parametrize("case", PUBLISHED["example"], ids=lambda case: case["title"])
def test_the_published_examples_are_read_as_they_are_meant(case):
    forecast = read(case["text"], utc(case["now"]))
    assert (forecast.kind, forecast.station) == ("TAF", "YUDO")
    assert forecast.issued == utc(case["issued"])
    assert [forecast.valid_from, forecast.valid_to] == [utc(one) for one in case["valid"]]
    assert (forecast.amended, forecast.cancelled) == (case["amended"], case["cancelled"])
    stretches = {one.label: one for one in (*forecast.periods, *forecast.changes)}
    assert list(stretches) == [
        one["label"] for one in sorted(case["stretch"], key=lambda s: s["label"][:2] in ("BE", "TE"))
    ]
    for expected in case["stretch"]:
        one = stretches[expected["label"]]
        elements = one.elements
        assert (one.start, one.end) == (utc(expected["from"]), utc(expected["until"]))
        for name, factor in (("wind", 1), ("gust", 1)):
            value = getattr(elements, f"{name}_kt")
            said = expected.get(f"{name}_m_s")
            assert isnan(value) if said is None else value == pytest.approx(said * factor * M_S, abs=1e-9)
        direction, visibility = expected.get("direction_deg", nan), expected.get("visibility_m", nan)
        assert elements.wind_direction_deg == pytest.approx(direction, nan_ok=True)
        assert elements.visibility_m == pytest.approx(visibility, nan_ok=True)
        assert elements.cloud == tuple(CloudLayer(*layer) for layer in expected["cloud"])
        assert ("weather" in elements.mentioned) == ("weather" in expected)
        assert list(elements.weather) == expected.get("weather", [])
    assert {group.status for group in forecast.groups} == {"decoded"}


@pytest.mark.parametrize(
    ("now", "issue", "valid", "expected"),
    [
        # last day of January, February of a common and of a leap year, December: the next day is the 1st
        ("2026-01-31T23:30:00Z", "312300Z", "0100/0206", ("2026-02-01T00", "2026-02-02T06")),
        ("2026-01-31T12:00:00Z", "311100Z", "3112/0118", ("2026-01-31T12", "2026-02-01T18")),
        ("2026-02-28T18:00:00Z", "281700Z", "2818/0124", ("2026-02-28T18", "2026-03-02T00")),
        ("2028-02-28T18:00:00Z", "281700Z", "2818/2924", ("2028-02-28T18", "2028-03-01T00")),
        ("2028-02-29T18:00:00Z", "291700Z", "2918/0124", ("2028-02-29T18", "2028-03-02T00")),
        ("2025-12-31T23:00:00Z", "312300Z", "0100/0206", ("2026-01-01T00", "2026-01-02T06")),
        ("2026-01-01T00:10:00Z", "312300Z", "0100/0206", ("2026-01-01T00", "2026-01-02T06")),
        ("2026-03-01T00:10:00Z", "282300Z", "0100/0124", ("2026-03-01T00", "2026-03-02T00")),
        # an amended forecast holds from before its time of issue
        ("2026-02-01T00:10:00Z", "010005Z", "3118/0124", ("2026-01-31T18", "2026-02-02T00")),
    ],
)
def test_months_and_years_end_where_the_calendar_ends_them(now, issue, valid, expected):
    forecast = read(f"TAF ZZZA {issue} {valid} 24010KT 9999 OVC010", utc(now))
    assert (forecast.valid_from, forecast.valid_to) == tuple(utc(f"{one}:00:00+00:00") for one in expected)


def test_changes_and_temperatures_cross_the_end_of_the_year():
    forecast = read(
        "TAF ZZZA 311100Z 3112/0118 24010KT 9999 OVC010 TX02/3114Z TNM05/0106Z BECMG 3122/0102 36010KT "
        "TEMPO 3123/0124 SN FM010430 VRB02KT CAVOK",
        datetime(2025, 12, 31, 12, tzinfo=UTC),
    )
    becoming, temporary = forecast.changes
    assert (becoming.start, becoming.end) == (at(31, 22, month=12, year=2025), at(1, 2))
    assert (temporary.start, temporary.end) == (at(31, 23, month=12, year=2025), at(2, 0))
    assert forecast.periods[1].start == at(1, 4, 30)
    assert [(one.kind, one.value_c, one.at) for one in forecast.temperatures] == [
        ("TX", 2.0, at(31, 14, month=12, year=2025)),
        ("TN", -5.0, at(1, 6)),
    ]


@pytest.mark.parametrize(
    ("valid", "start", "end"),
    [
        ("1006/1112", at(10, 6), at(11, 12)),
        ("1006/ 1112", at(10, 6), at(11, 12)),
        ("1006 /1112", at(10, 6), at(11, 12)),
        ("1006 / 1112", at(10, 6), at(11, 12)),
        ("1006 1112", at(10, 6), at(11, 12)),
        ("1006/1024", at(10, 6), at(11, 0)),
        ("1006/1106", at(10, 6), at(11, 6)),
        ("100624", at(10, 6), at(11, 0)),
        ("100606", at(10, 6), at(11, 6)),
        ("101803", at(10, 18), at(11, 3)),
        ("10 0624", at(10, 6), at(11, 0)),
        ("0615", at(10, 6), at(10, 15)),
        ("0606", at(10, 6), at(11, 6)),
        ("0624", at(10, 6), at(11, 0)),
    ],
)
def test_a_validity_is_read_in_every_way_it_is_written(valid, start, end):
    forecast = read(f"TAF ZZZA 100500Z {valid} 24010KT 9999 OVC010")
    assert (forecast.valid_from, forecast.valid_to) == (start, end)
    assert forecast.groups[3].text == valid
    assert forecast.periods[0].elements.visibility_m == 10_000


def test_a_forecast_of_the_old_style_gives_its_changes_hours_without_days():
    forecast = read(
        "TAF ZZZA 101700Z 101818 24010KT 9999 OVC010 BECMG 2224 36010KT TEMPO 0206 1000 SN FM0830 CAVOK",
        NOW + timedelta(hours=12),
    )
    assert (forecast.valid_from, forecast.valid_to) == (at(10, 18), at(11, 18))
    assert [(one.start, one.end) for one in forecast.changes] == [(at(10, 22), at(11, 0)), (at(11, 2), at(11, 6))]
    assert forecast.changes[1].elements.visibility_m == 1000
    assert forecast.periods[1].start == at(11, 8, 30)


@pytest.mark.parametrize(
    ("head", "amended", "corrected"),
    [
        ("TAF ZZZA", False, False),
        ("ZZZA", False, False),
        ("TAF AMD ZZZA", True, False),
        ("TAF COR ZZZA", False, True),
        ("TAF TAF ZZZA", False, False),
        ("TAF COR AMD ZZZA", True, True),
        ("TAF AMD2 ZZZA", True, False),
        ("TAF AMD 2 ZZZA", True, False),
        ("TAF CCB ZZZA", False, True),
        ("taf amd zzza", True, False),
    ],
)
def test_marks_in_the_header_are_read(head, amended, corrected):
    forecast = read(f"{head} 100500Z 1006/1112 24010KT CAVOK")
    assert (forecast.station, forecast.amended, forecast.corrected) == ("ZZZA", amended, corrected)


def test_marks_behind_the_time_are_read():
    assert read("TAF ZZZA 100500Z COR 1006/1112 24010KT CAVOK").corrected


@pytest.mark.parametrize(
    ("group", "kind", "probability", "certain"),
    [
        ("BECMG 1008/1010", "BECMG", nan, "becoming"),
        ("TEMPO 1008/1010", "TEMPO", nan, "temporary"),
        ("INTER 1008/1010", "INTER", nan, "temporary"),
        ("PROB30 1008/1010", "PROB30", 0.3, "probable"),
        ("PROB40 1008/1010", "PROB40", 0.4, "probable"),
        ("PROB30 TEMPO 1008/1010", "PROB30 TEMPO", 0.3, "probable"),
        ("PROB40 TEMPO 1008/1010", "PROB40 TEMPO", 0.4, "probable"),
        ("PROB 40 1008/1010", "PROB40", 0.4, "probable"),
        ("TEMPO 1008/ 1010", "TEMPO", nan, "temporary"),
        ("TEMPO 1008 1010", "TEMPO", nan, "temporary"),
        ("TEMPO1008/1010", "TEMPO", nan, "temporary"),
    ],
)
def test_every_change_word_has_its_time_and_its_probability(group, kind, probability, certain):
    forecast = read(f"{BASE} {group} 4000 -SN BKN006")
    (change,) = forecast.changes
    assert (change.indicator, change.label, change.certain) == (kind, group, certain)
    assert (change.start, change.end, change.timed) == (at(10, 8), at(10, 10), True)
    assert change.probability == pytest.approx(probability, nan_ok=True)
    assert change.elements.mentioned == {"visibility", "weather", "cloud"}
    assert (change.elements.visibility_m, change.elements.weather) == (4000, ("-SN",))
    assert isnan(change.elements.wind_kt)
    assert [p.label for p in forecast.periods] == ["base"]
    assert not forecast.periods[0].elements.weather


def test_a_bare_probability_is_a_change_and_not_what_prevails():
    forecast = read(f"{BASE} PROB40 1012/1016 0400 FZRA")
    assert [one.label for one in forecast.periods] == ["base"]
    assert forecast.changes[0].elements.weather == ("FZRA",)


def test_no_significant_weather_ends_weather_and_leaves_the_rest():
    forecast = read(f"{HEAD}24010KT 4000 -SN OVC010 BECMG 1008/1010 9999 NSW")
    assert forecast.changes[0].elements.mentioned == {"visibility", "weather"}
    assert forecast.changes[0].elements.weather == ()
    assert statuses(forecast)["NSW"] == "decoded"


def test_cavok_says_visibility_weather_and_cloud():
    elements = read(f"{HEAD}24010KT 2000 SN OVC003 BECMG 1008/1010 CAVOK").changes[0].elements
    assert elements.mentioned == {"visibility", "weather", "cloud"}
    assert (elements.visibility_m, elements.visibility_is, elements.weather, elements.sky) == (
        10_000,
        "at least",
        (),
        "CAVOK",
    )


def test_an_fm_group_says_everything_anew():
    first, second = read(f"{HEAD}24010G25KT 2000 SN OVC003 FM101200 36005KT 9999 SCT030").periods
    assert (first.start, first.end, second.start, second.end) == (at(10, 6), at(10, 12), at(10, 12), at(11, 12))
    assert (second.elements.wind_kt, second.elements.weather) == (5.0, ())
    assert isnan(second.elements.gust_kt)
    assert second.elements.mentioned == first.elements.mentioned == {"wind", "visibility", "weather", "cloud"}


@pytest.mark.parametrize("text", ["FM101200", "FM1200", "FM12", "FM 101200", "FM10/1200", "FM101200Z"])
def test_an_fm_time_is_read_in_every_way_it_is_written(text):
    forecast = read(f"{BASE} {text} 36005KT 9999 SCT030")
    assert [(one.label, one.start) for one in forecast.periods] == [("base", at(10, 6)), (text, at(10, 12))]


# the last two may be a day that lost its hours: the forecast holds from the 10th to the 11th
@pytest.mark.parametrize("text", ["FM106300", "FM102460", "FM331200", "FM091200", "FM131200", "FM10", "FM1100"])
def test_an_fm_time_that_cannot_be_read_may_come_at_any_time_of_its_period(text):
    forecast = read(f"{BASE} {text} 36005KT 1000 SN OVC002 FM101800 36005KT CAVOK")
    (change,) = forecast.changes
    assert (change.indicator, change.certain, change.timed) == ("FM", "becoming", False)
    assert (change.start, change.end) == (at(10, 6), at(10, 18))
    assert change.elements.weather == ("SN",)
    assert change.elements.mentioned == {"wind", "visibility", "weather", "cloud"}
    assert statuses(forecast)[text] == "conflict"
    assert [one.label for one in forecast.periods] == ["base", "FM101800"]


UNTIMED = [
    "TEMPO",
    "TEMPO 1028/1030",
    "TEMPO 1012/1008",
    "TEMPO 0812/0815",
    "TEMPO 0918/1003",
    "TEMPO 1312/1318",
    "TEMPO FM1200 TL1400",
    "TEMPO TL1400",
]


@pytest.mark.parametrize("text", UNTIMED)
def test_a_change_whose_time_cannot_be_read_may_come_at_any_time_of_its_period(text):
    forecast = read(f"{BASE} FM101200 36005KT CAVOK {text} 1000 SN FM101800 36005KT CAVOK")
    (change,) = forecast.changes
    assert (change.start, change.end, change.timed) == (at(10, 12), at(10, 18), False)
    assert (change.elements.visibility_m, change.elements.weather) == (1000, ("SN",))
    assert statuses(forecast)[text] == "conflict"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("TX05/1014Z", [("TX", 5.0, at(10, 14))]),
        ("TNM12/1106Z", [("TN", -12.0, at(11, 6))]),
        ("TNM00/1024Z", [("TN", 0.0, at(11, 0))]),
        ("TX05/14Z", [("TX", 5.0, at(10, 14))]),
        ("TX05/1014ZTN01/1106Z", [("TX", 5.0, at(10, 14)), ("TN", 1.0, at(11, 6))]),
        ("T03/1018Z", [("T", 3.0, at(10, 18))]),
        ("TX05/1002Z", [("TX", 5.0, at(10, 2))]),
        ("TX05/1414Z", []),
        ("TX05/0905Z", []),
    ],
)
def test_forecast_temperatures_are_read_with_their_times(text, expected):
    forecast = read(f"{BASE} {text}")
    assert [(one.kind, one.value_c, one.at) for one in forecast.temperatures] == expected
    assert statuses(forecast)[text] == ("decoded" if expected else "conflict")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("WS020/16040KT", "wind shear below 2000 ft, where the wind is from 160° at 40 KT"),
        ("WSCONDS", "conditions for wind shear"),
        ("QNH2906INS", "lowest altimeter setting 29.06 inHg"),
        ("Q1013", "QNH 1013 hPa"),
        ("510302", "turbulence aloft, light, from 3000 ft, 2000 ft thick"),
        ("620808", "icing aloft, light in cloud, from 8000 ft, 8000 ft thick"),
    ],
)
def test_what_bears_on_flight_only_is_noted_in_plain_words(text, words):
    forecast = read(f"{BASE} {text} TEMPO 1008/1010 SN")
    group = next(one for one in forecast.groups if one.text == text)
    assert (group.status, group.meaning) == ("noted", words)
    assert forecast.periods[0].elements == read(BASE).periods[0].elements


@pytest.mark.parametrize(
    "footer",
    [
        "LAST NO AMDS AFT 1014 NEXT 1111",
        "AMD NOT SKED",
        "AMD LTD TO CLD VIS AND WIND",
        "NEXT 1111",
        "AMD 1014",
        "LAST NO AMDS AFT 1014",
    ],
)
def test_words_about_amendments_are_noted_and_lose_nothing_behind_them(footer):
    forecast = read(f"{BASE} {footer}")
    assert forecast.groups[-1].text == footer
    assert forecast.groups[-1].status == "noted"
    later = read(f"{BASE} {footer} BECMG 1008/1010 24020KT 0400 FZFG")
    assert later.changes[0].elements.weather == ("FZFG",)
    assert read(f"{BASE} {footer} TX05/1014Z").temperatures
    assert not later.periods[0].elements.unread
    assert read(f"{HEAD}24010KT {footer} 4000 -SN OVC010").periods[0].elements.visibility_m == 4000


def test_remarks_are_noted_whole_and_change_nothing():
    forecast = read(f"{BASE} RMK NXT FCST BY 101200Z FM101300 SN")
    assert forecast.groups[-1].text == "RMK NXT FCST BY 101200Z FM101300 SN"
    assert forecast.groups[-1].status == "noted"
    assert forecast.periods == read(BASE).periods


@pytest.mark.parametrize(
    ("text", "metres", "how"),
    [
        # 1 statute mile is 1609.344 m
        ("1 1/2SM", 2414.016, "exactly"),
        ("11/2SM", 2414.016, "exactly"),
        ("3/4SM", 1207.008, "exactly"),
        ("21/4SM", 3621.024, "exactly"),
        ("P6SM", 9656.064, "at least"),
        ("1 SM", 1609.344, "exactly"),
        ("M1/4SM", 402.336, "less than"),
        ("10SM", 16093.44, "at least"),
        ("0400", 400, "exactly"),
        ("8000", 8000, "exactly"),
    ],
)
def test_visibility_is_read_in_miles_and_metres(text, metres, how):
    forecast = read(f"TAF KZZA 100500Z 1006/1112 24010KT {text} -RA OVC010")
    elements = forecast.periods[0].elements
    assert elements.visibility_m == pytest.approx(metres, abs=1e-6)
    assert (elements.visibility_is, elements.wind_kt, elements.weather) == (how, 10.0, ("-RA",))
    assert statuses(forecast)[text] == "decoded"


@pytest.mark.parametrize(
    ("text", "element", "values"),
    [
        ("/////KT", "wind", {"wind_kt": nan, "wind_direction_deg": nan}),
        ("36025G15KT", "wind", {"wind_kt": nan, "gust_kt": nan}),
        ("36025", "wind", {"wind_kt": nan}),
        ("99015KT", "wind", {"wind_kt": nan, "wind_direction_deg": nan}),
        ("36010KT 24030KT", "wind", {"wind_kt": nan}),
        ("////", "visibility", {"visibility_m": nan}),
        ("4000 2000", "visibility", {"visibility_m": nan}),
        ("//", "weather", {"weather_missing": True}),
        ("?RA", "weather", {"weather_missing": True}),
        ("-SNX", "weather", {"weather_missing": True}),
        # nobody knows what a change says of which not a word was read
        ("SHROOMS", "", {"weather_missing": True, "wind_kt": nan, "visibility_m": nan, "sky": "missing"}),
        ("200", "", {"weather_missing": True, "wind_kt": nan, "visibility_m": nan, "sky": "missing"}),
        ("//////", "cloud", {"sky": "missing"}),
    ],
)
def test_a_change_that_is_missing_or_not_read_makes_its_element_unknown(text, element, values):
    elements = read(f"{BASE} BECMG 1008/1010 {text}").changes[0].elements
    assert elements.mentioned == ({element} if element else {"wind", "visibility", "weather", "cloud"})
    for name, value in values.items():
        found = getattr(elements, name)
        assert found == value or (isnan(found) and isnan(value))


def test_what_was_not_read_is_kept_with_its_stretch():
    forecast = read(f"{BASE} TEMPO 1008/1010 SHROOMS 36025G15KT")
    assert forecast.changes[0].elements.unread == ("SHROOMS", "36025G15KT")
    assert statuses(forecast)["SHROOMS"] == "not decoded"
    assert statuses(forecast)["36025G15KT"] == "conflict"


def test_a_token_of_any_length_is_kept_and_not_decoded():
    assert statuses(read(f"{BASE} {'X' * 7000}"))["X" * 7000] == "not decoded"


def test_a_wind_said_twice_alike_is_one_wind():
    forecast = read(f"{HEAD}24010KT 24010KT 9999 OVC010")
    assert forecast.periods[0].elements.wind_kt == 10
    assert [g.status for g in forecast.groups if g.text == "24010KT"] == ["decoded", "noted"]


def test_a_nil_forecast_covers_no_time():
    forecast = read("TAF ZZZA 100500Z NIL")
    assert forecast.nil
    assert forecast.valid_from == forecast.valid_to == forecast.issued == at(10, 5)
    assert (forecast.periods, forecast.changes) == ((), ())
    assert read("TAF ZZZA 100500Z 1006/1112 NIL").nil


def test_times_are_said_with_their_days():
    forecast = read(f"{BASE} BECMG 1008/1010 SN TEMPO 1022/1024 RA FM110330 CAVOK")
    assert [group.meaning for group in forecast.groups if group.kind in ("validity", "change", "from")] == [
        "valid from day 10 at 06:00 to day 11 at 12:00 UTC",
        "becoming between 08:00 and 10:00 UTC on day 10",
        "at times between day 10 at 22:00 and day 11 at 00:00 UTC",
        "from day 11 at 03:30 UTC",
    ]


def test_a_nil_behind_a_forecast_does_not_take_it_away():
    forecast = read(f"{BASE} NIL")
    assert not forecast.nil
    assert forecast.periods[0].elements.visibility_m == 10_000
    assert statuses(forecast)["NIL"] == "noted"


def test_a_cancelled_forecast_keeps_its_validity_and_says_nothing():
    forecast = read("TAF AMD ZZZA 100700Z 1007/1112 CNL")
    assert forecast.cancelled
    assert (forecast.valid_from, forecast.valid_to, forecast.periods) == (at(10, 7), at(11, 12), ())


def test_text_behind_the_end_of_the_forecast_is_not_decoded():
    forecast = read(f"{BASE}= TEMPO 1008/1010 SN")
    assert not forecast.changes
    assert [g.status for g in forecast.groups[-3:]] == ["not decoded"] * 3


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "empty"),
        ("   \n", "empty"),
        ("=", "empty"),
        ("TAF", "station"),
        ("TAF 100500Z 1006/1112", "station"),
        ("METAR ZZZA 100500Z 24010KT", "station"),
        ("TAF ZZZA", "day and time"),
        ("TAF ZZZA 1006/1112", "day and time"),
        ("TAF ZZZA 100500Z", "no validity"),
        ("TAF ZZZA 100500Z 24010KT 9999", "no validity"),
        ("TAF ZZZA 100500Z 1028/1112", "1028/1112"),
        ("TAF ZZZA 100500Z 1106/1006", "1106/1006"),
        ("TAF ZZZA 100500Z 1006/1006", "1006/1006"),
        ("TAF ZZZA 100500Z 2006/2112", "2006/2112"),
        ("TAF ZZZA 320500Z 1006/1112", "320500Z"),
        ("TAF ZZZA 102560Z 1006/1112", "102560Z"),
        ("x" * 9000, "too many"),
    ],
)
def test_a_text_without_station_time_or_validity_is_refused_in_one_line(text, word):
    with pytest.raises(ReportError) as caught:
        taf.read(text, now=NOW)
    assert word in str(caught.value)
    assert "\n" not in str(caught.value)
    assert str(caught.value).isprintable()


def test_a_day_that_lies_more_than_a_month_back_is_refused():
    # 31 January is 33 days before 5 March 2026, and February has no 31st
    with pytest.raises(ReportError, match="no day 31 lies within the month before 2026-03-05"):
        taf.read("TAF ZZZA 310500Z 3106/0106 CAVOK", now=datetime(2026, 3, 5, 6, tzinfo=UTC))


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(ReportError, match="time zone"):
        taf.read(BASE, now=datetime(2026, 1, 10, 6))  # noqa: DTZ001


def test_the_first_and_last_days_of_the_calendar_are_refused_or_read_and_never_fail():
    for now in (datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)):
        for day in ("01", "02", "31"):
            with contextlib.suppress(ReportError):
                taf.read(f"TAF ZZZA {day}2300Z {day}23/{day}24 24010KT TX05/0112Z FM012330 CAVOK", now=now)


# Some military fields send a forecast without its time of issue. Now is 06:00 on 10 January 2026.
@pytest.mark.parametrize(
    ("head", "now", "issued", "start", "end"),
    [
        # begun before now: issued when it begins at the latest
        ("TAF ZZZA 1003/1103", NOW, at(10, 3), at(10, 3), at(11, 3)),
        # begins later: not after now
        ("TAF ZZZA 1008/1108", NOW, NOW, at(10, 8), at(11, 8)),
        ("TAF AMD ZZZA 1003/ 1103", NOW, at(10, 3), at(10, 3), at(11, 3)),
        ("TAF ZZZA COR 1003/1103", NOW, at(10, 3), at(10, 3), at(11, 3)),
        ("ZZZA 1003/1103", NOW, at(10, 3), at(10, 3), at(11, 3)),
        # the day that is a month back, and across the ends of month and year
        (
            "TAF ZZZA 1203/1303",
            NOW,
            at(12, 3, month=12, year=2025),
            at(12, 3, month=12, year=2025),
            at(13, 3, month=12, year=2025),
        ),
        (
            "TAF ZZZA 3118/0118",
            at(1, 0, 10),
            at(31, 18, month=12, year=2025),
            at(31, 18, month=12, year=2025),
            at(1, 18),
        ),
        ("TAF ZZZA 0100/0206", at(31, 23, month=12, year=2025), at(31, 23, month=12, year=2025), at(1, 0), at(2, 6)),
        (
            "TAF ZZZA 2924/0124",
            at(29, 20, month=2, year=2028),
            at(29, 20, month=2, year=2028),
            at(1, 0, month=3, year=2028),
            at(2, 0, month=3, year=2028),
        ),
    ],
)
def test_a_forecast_without_its_time_of_issue_is_read_and_says_so(head, now, issued, start, end):
    forecast = read(f"{head} 24010KT P6SM SKC TEMPO {head.split()[-1][-9:-5]}/{end:%d%H} 2000 SN", now)
    assert (forecast.issued_given, forecast.issued) == (False, issued)
    assert (forecast.valid_from, forecast.valid_to) == (start, end)
    assert forecast.issued <= now
    assert (forecast.periods[0].elements.wind_kt, forecast.changes[0].elements.weather) == (10.0, ("SN",))
    (validity,) = (group for group in forecast.groups if group.kind == "validity")
    assert f"time of issue not given, taken as day {issued:%d} at {issued:%H:%M} UTC" in validity.meaning


def test_a_forecast_with_its_time_of_issue_says_nothing_of_it():
    forecast = read(BASE)
    assert forecast.issued_given
    assert not any("not given" in group.meaning for group in forecast.groups)


def test_the_listing_says_that_the_time_of_issue_was_not_given():
    lines = [decode_text([read(text)]).splitlines()[0] for text in ("TAF ZZZA 1003/1103 24010KT", BASE)]
    assert lines == ["TAF ZZZA, 10 January 2026, 03:00Z, time of issue not given", "TAF ZZZA, 10 January 2026, 05:00Z"]


@pytest.mark.parametrize(
    "text",
    [
        "TAF ZZZA 24010KT P6SM",
        "TAF ZZZA 1003/1103",
        "TAF ZZZA 1099/1103 24010KT",
        "TAF ZZZA 3203/3303 24010KT",
        "TAF ZZZA 1003/1503 24010KT",
        "TAF ZZZA 1103/1003 24010KT",
        "TAF ZZZA NIL",
    ],
)
def test_a_forecast_with_neither_time_of_issue_nor_a_fitting_validity_is_refused(text):
    with pytest.raises(ReportError):
        taf.read(text, now=NOW)


def test_a_validity_that_begins_more_than_a_month_back_is_refused_without_a_time_of_issue():
    # as above: 31 January is 33 days before 5 March 2026
    with pytest.raises(ReportError, match="no validity from day 31 lies within the month before 2026-03-05"):
        taf.read("TAF ZZZA 3106/0106 CAVOK", now=datetime(2026, 3, 5, 6, tzinfo=UTC))


def test_a_cancelled_forecast_without_its_time_of_issue_is_cancelled():
    forecast = read("TAF AMD ZZZA 1003/1103 CNL")
    assert (forecast.cancelled, forecast.issued_given, forecast.periods) == (True, False, ())


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("TX99/1014Z", []),
        ("TX61/1014Z", []),
        ("TNM95/1106Z", []),
        ("TN-91/1106Z", []),
        ("T77/1014Z", []),
        ("TX60/1014Z", [60.0]),
        ("TNM90/1106Z", [-90.0]),
        ("TN-05/1106Z", [-5.0]),
        ("TX05/1014ZTN99/1106Z", [5.0]),
    ],
)
def test_a_forecast_temperature_beyond_what_is_measured_at_the_ground_is_in_conflict(text, kept):
    """The bounds of a METAR's temperature, −90 to 60 °C."""
    forecast = read(f"{BASE} {text}")
    assert [one.value_c for one in forecast.temperatures] == kept
    assert statuses(forecast)[text] == ("conflict" if "99" in text or not kept else "decoded")


def test_half_a_validity_is_no_validity_in_hours_where_changes_have_days():
    with pytest.raises(ReportError, match="1006 is half a validity"):
        read("TAF ZZZA 100500Z 1006 24010KT 9999 SCT030 TEMPO 1008/1010 2000 SN")
    # without them it is one of the old style
    assert read("TAF ZZZA 100500Z 0615 24010KT 9999 SCT030 TEMPO 0810 2000 SN").valid_from == at(10, 6)


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("FM101200", True),
        ("FM101200 20025G40KT", True),
        ("FM101200 20025G40KT 2000", True),
        ("FM101200 20025G40KT 2000 -SN", False),
        ("FM101200 20025G40KT 2000 OVC010", False),
        ("FM101200 20025G40KT CAVOK", False),
        ("FM101200 20025G40KT 9999 NSC", False),
    ],
)
def test_a_stretch_that_ends_before_its_cloud_was_cut_before_its_weather(text, missing):
    # FM says everything anew, and cloud stands behind weather
    assert read(f"{BASE} {text}").periods[1].elements.weather_missing is missing


def test_a_cover_without_a_height_was_cut_before_it_told_a_storm_cloud():
    layers = read(f"{BASE} FM101200 20025G40KT 2000 SN OVC FM101500 20025G40KT 2000 SN OVC010").periods
    assert [layer.type for period in layers[1:] for layer in period.elements.cloud] == ["///", ""]

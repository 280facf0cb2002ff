"""Single groups: what a pilot is told, and what the report carries."""

from datetime import UTC, datetime, timedelta, timezone
from math import isnan

import pytest
from msgspec.structs import fields

from advisor.errors import ReportError
from advisor.report import metar, taf

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
KT_PER_M_S = 3600 / 1852


def read(rest, station="ZZZA"):
    return metar.read(f"METAR {station} 100550Z {rest}", now=NOW)


def meaning(rest, text, station="ZZZA"):
    (group,) = (g for g in read(rest, station).groups if g.text == text)
    return group.meaning


@pytest.mark.parametrize("text", ["MISG", "BCRA", "-PRSN", "REMISG"])
def test_shallow_patches_and_partial_go_with_fog_only(text):
    # WMO-No. 306, code table 4678, notes on descriptors: MI, BC and PR are used only with FG
    report = read(f"10005KT 9999 {text} OVC010 01/00 Q1010")
    assert [group.status for group in report.groups if group.text == text] == ["not decoded"]
    assert (report.weather, report.recent_weather) == ((), ())
    assert report.weather_missing or report.recent_missing


@pytest.mark.parametrize("text", ["MIFG", "BCFG", "PRFG", "VCFG"])
def test_shallow_fog_patches_of_it_and_partial_fog_are_weather(text):
    assert read(f"10005KT 9999 {text} OVC010 01/00 Q1010").weather == (text,)


@pytest.mark.parametrize(
    ("wind", "direction", "kt", "gust"),
    [
        ("24008G22KT", 240, 8, 22),
        ("24004MPS", 240, 4 * KT_PER_M_S, None),
        ("24015KMH", 240, 15 / 1.852, None),
        ("00000KT", 0, 0, None),
        ("VRB02KT", None, 2, None),
        ("24049G99MPS", 240, 49 * KT_PER_M_S, 99 * KT_PER_M_S),
        ("///08KT", None, 8, None),
        ("240//KT", 240, None, None),
        ("24008G//KT", 240, 8, None),
        ("/////KT", None, None, None),
        ("36008KT", 360, 8, None),
    ],
)
def test_wind_groups_give_direction_speed_and_gust(wind, direction, kt, gust):
    report = read(f"{wind} 9999 OVC010 02/01 Q1013")
    for value, expected in (
        (report.wind_direction_deg, direction),
        (report.wind_kt, kt),
        (report.gust_kt, gust),
    ):
        assert isnan(value) if expected is None else value == pytest.approx(expected)


def test_a_wind_beyond_what_can_be_reported_is_at_least_that():
    report = read("240P49MPS 9999 OVC010 02/01 Q1013")
    assert report.wind_is == "at least"
    assert report.wind_kt == pytest.approx(49 * KT_PER_M_S)


@pytest.mark.parametrize("wind", ["37008KT", "24008G05KT", "240999KT"])
def test_a_wind_that_cannot_be_is_in_conflict_and_the_rest_is_used(wind):
    report = read(f"{wind} 2000 -SN OVC010 M02/M03 Q1013")
    (group,) = (g for g in report.groups if g.kind == "wind")
    assert group.status == "conflict"
    assert isnan(report.gust_kt)
    assert (report.visibility_m, report.weather, report.temperature_c) == (2000, ("-SN",), -2)


@pytest.mark.parametrize(
    ("text", "metres", "how"),
    [
        ("9999", 10_000, "at least"),
        ("9999NDV", 10_000, "at least"),
        ("0600", 600, "exactly"),
        ("CAVOK", 10_000, "at least"),
        ("10SM", 16_093.44, "at least"),
        ("P6SM", 9_656.064, "at least"),
        ("1 1/2SM", 2_414.016, "exactly"),
        ("M1/4SM", 402.336, "less than"),
        ("3/4SM", 1_207.008, "exactly"),
        ("1/16SM", 100.584, "exactly"),
        ("10 SM", 16_093.44, "at least"),
        ("7KM", 7000, "exactly"),
        ("0000", 0, "exactly"),
        ("M0400", 400, "less than"),
    ],
)
def test_visibility_is_in_metres_with_its_mark(text, metres, how):
    report = read(f"24008KT {text} OVC010 02/01 Q1013")
    assert report.visibility_m == pytest.approx(metres)
    assert report.visibility_is == how


@pytest.mark.parametrize("text", ["////", "////SM", "M", "/////"])
def test_a_missing_visibility_is_never_made_up(text):
    report = read(f"24008KT {text} OVC010 02/01 Q1013")
    assert isnan(report.visibility_m)
    assert (report.wind_kt, report.temperature_c, report.pressure_hpa) == (8, 2, 1013)


def test_a_report_without_any_visibility_has_none():
    assert isnan(read("24008KT OVC010 02/01 Q1013").visibility_m)


def test_two_visibilities_keep_the_lower_as_lowest():
    report = read("24008KT 9000 0600 R03/1200D OVC010 02/01 Q1013")
    assert (report.visibility_m, report.visibility_minimum_m) == (9000, 600)


@pytest.mark.parametrize(
    ("sky", "name"),
    [
        ("CAVOK", "CAVOK"),
        ("9999 NSC", "NSC"),
        ("9999 NCD", "NCD"),
        ("9999 CLR", "CLR"),
        ("9999 SKC", "SKC"),
        ("9999 //////", "missing"),
        ("9999", "missing"),
        ("9999 FEW010", "layers"),
        ("0400 VV001", "layers"),
        ("9999 ///015", "missing"),
        ("9999 //////CB", "layers"),
    ],
)
def test_the_state_of_the_sky_is_kept_apart_from_a_clear_sky(sky, name):
    assert read(f"24008KT {sky} 02/01 Q1013").sky == name


@pytest.mark.parametrize(
    ("text", "station", "expected"),
    [
        ("-GS", "KZZA", "light snow pellets"),
        ("-GS", "PAZZ", "light snow pellets"),
        ("-GS", "ZZZA", "light small hail or snow pellets"),
        ("+TSGR", "ZZZA", "thunderstorm with heavy hail"),
        ("UP", "ZZZA", "precipitation that the automatic station could not name"),
        ("FZUP", "ZZZA", "freezing precipitation that the automatic station could not name"),
        ("-FZRA", "ZZZA", "light freezing rain"),
        ("FZDZ", "ZZZA", "moderate freezing drizzle"),
        ("+SHSN", "ZZZA", "heavy showers of snow"),
        ("BLSN", "ZZZA", "blowing snow"),
        ("FZFG", "ZZZA", "freezing fog"),
        ("VCTS", "ZZZA", "thunderstorm in the vicinity"),
        ("-RASN", "ZZZA", "light rain and snow"),
        ("RESN", "ZZZA", "lately, not now: snow"),
        ("REFZRA", "ZZZA", "lately, not now: freezing rain"),
    ],
)
def test_weather_is_said_in_plain_words_by_region(text, station, expected):
    assert meaning(f"24008KT 9999 {text} OVC010 02/01 Q1013", text, station) == expected


@pytest.mark.parametrize(
    ("rest", "text", "expected"),
    [
        ("24008G22KT 9999 OVC010 02/M01 Q1013", "24008G22KT", "wind from 240° true at 8 kt, gusting to 22 kt"),
        ("24008G22KT 9999 OVC010 02/M01 Q1013", "02/M01", "temperature 2 °C, dew point −1 °C"),
        ("24008KT 1 1/2SM OVC010 02/M01 Q1013", "1 1/2SM", "visibility 1 1/2 statute miles"),
        ("24008KT 3000 1200NE OVC010 02/M01 Q1013", "1200NE", "lowest visibility 1200 m, to the north-east"),
        ("00000KT 9999 OVC010 02/M01 Q1013", "00000KT", "wind calm"),
        (
            "24008KT 9999 OVC010 02/M01 Q1013 R24/499592",
            "R24/499592",
            "runway 24: deposit dry snow over 51 to 100 %, 25 cm deep; the runway condition report is separate",
        ),
        ("24008KT 9999 OVC010 02/M01 Q1013 RMK SLP450", "SLP450", "sea-level pressure 1045.0 hPa"),
        ("24008KT 9999 OVC010 02/M01 Q1013 R/SNOCLO", "R/SNOCLO", "aerodrome closed by snow"),
        ("24008KT 9999 OVC010 02/M01 Q1013 WS R05R", "WS R05R", "wind shear on take-off or approach, runway 05R"),
        ("24008KT 9999 OVC010 02/M01 Q1013 W12/S3", "W12/S3", "sea temperature 12 °C, state of the sea code 3"),
        ("24008KT 9999 OVC010 02/M01 Q1013 RMK 4/010", "4/010", "snow depth 10 in (25 cm)"),
        ("24008KT 9999 OVC010 02/M01 Q1013 RMK I3012", "I3012", "ice built up over the last 3 hours: 3.0 mm"),
        (
            "24008KT 9999 OVC010 02/M01 Q1013 RMK P0000",
            "P0000",
            "precipitation since the last hourly report: trace, under 0.25 mm",
        ),
        ("24008KT 9999 OVC010 02/M01 Q1013 RMK SLP982", "SLP982", "sea-level pressure 998.2 hPa"),
        ("24008KT 9999 OVC010 02/M01 Q1013 RMK SLP123", "SLP123", "sea-level pressure 1012.3 hPa"),
        (
            "24008KT 9999 OVC010 02/M01 Q1013 RMK FRQ LTGICCG DSNT W",
            "FRQ LTGICCG DSNT W",
            "frequent lightning in cloud and cloud to ground, distant west",
        ),
        (
            "24008KT 9999 OVC010 02/M01 Q1013 RMK SNB05E20",
            "SNB05E20",
            "snow began 05 min past the hour, ended 20 min past the hour",
        ),
    ],
)
def test_groups_are_said_in_plain_words(rest, text, expected):
    assert meaning(rest, text) == expected


def test_snow_closes_the_aerodrome_but_one_closed_runway_does_not():
    assert read("24008KT 9999 OVC010 02/M01 Q1013 R/SNOCLO").aerodrome_closed
    assert not read("24008KT 9999 OVC010 02/M01 Q1013 R24/SNOCLO").aerodrome_closed


@pytest.mark.parametrize(
    ("remark", "name"),
    [
        ("FZRANO", "freezing_rain_sensor_out"),
        ("PWINO", "precipitation_sensor_out"),
        ("TSNO", "thunderstorm_sensor_out"),
        ("$", "maintenance_needed"),
        ("PRESRR", "pressure_rising_rapidly"),
        ("PRESFR", "pressure_falling_rapidly"),
        ("FROIN", "frost_on_indicator"),
        ("LTG DSNT W", "lightning"),
        ("CB DSNT SW MOV NE", "cumulonimbus"),
        ("ICE MISG", "freezing_rain_sensor_out"),
        ("SLP123$", "maintenance_needed"),
        ("TS/SW", "lightning"),
    ],
)
def test_a_remark_sets_its_flag_and_its_absence_does_not(remark, name):
    plain = "24008KT 9999 OVC010 02/M01 Q1013"
    assert getattr(read(f"{plain} RMK {remark}").remarks, name) is True
    assert getattr(read(plain).remarks, name) is False


def test_a_precipitation_sensor_that_is_out_makes_the_weather_missing():
    assert read("24008KT 9999 OVC010 02/M01 A2992 RMK AO2 PWINO", "KZZA").weather_missing
    assert read("24008KT 9999 // OVC010 02/M01 Q1013").weather_missing
    assert not read("24008KT 9999 OVC010 02/M01 Q1013").weather_missing
    assert read("AUTO 24008KT 9999 OVC010 02/M01 A2992 RMK AO1", "KZZA").weather_missing
    assert not read("AUTO 24008KT 9999 OVC010 02/M01 A2992 RMK AO2", "KZZA").weather_missing


def test_begin_and_end_of_weather_lie_before_the_report_across_the_hour_and_the_day():
    report = metar.read(
        "METAR KZZA 100005Z 24008KT 9999 OVC010 02/M01 A2992 RMK AO2 SNB53E00 RAB2340 PK WND 28045/2358",
        now=datetime(2026, 1, 10, 1, tzinfo=UTC),
    )
    assert report.remarks.precipitation_events == (
        ("SN", "B", datetime(2026, 1, 9, 23, 53, tzinfo=UTC)),
        ("SN", "E", datetime(2026, 1, 10, 0, 0, tzinfo=UTC)),
        ("RA", "B", datetime(2026, 1, 9, 23, 40, tzinfo=UTC)),
    )
    assert report.remarks.peak_wind_at == datetime(2026, 1, 9, 23, 58, tzinfo=UTC)


def test_trends_are_kept_apart_from_the_observation():
    report = read("24008KT 9999 OVC010 02/M01 Q1013 TEMPO FM0600 TL0700 30015G30KT 1500 -FZRA BKN003CB")
    (trend,) = report.trends
    assert (report.wind_kt, report.visibility_m, report.weather) == (8, 10_000, ())
    assert (trend.change, trend.gust_kt, trend.visibility_m, trend.weather) == ("TEMPO", 30, 1500, ("-FZRA",))
    assert trend.begins == datetime(2026, 1, 10, 6, tzinfo=UTC)
    assert trend.ends == datetime(2026, 1, 10, 7, tzinfo=UTC)


def test_a_trend_without_times_holds_for_two_hours():
    """ICAO Annex 3, trend forecasts: two hours from the report (from memory)."""
    (trend,) = read("24008KT 9999 OVC010 02/M01 Q1013 BECMG 0800 FG").trends
    assert trend.begins == datetime(2026, 1, 10, 5, 50, tzinfo=UTC)
    assert trend.ends == datetime(2026, 1, 10, 7, 50, tzinfo=UTC)


@pytest.mark.parametrize(
    ("rest", "lost"),
    [
        ("24008KT 30012KT 9999 OVC010 02/01 Q1013", "wind_kt"),
        ("24008KT 9999 OVC010 02/01 05/01 Q1013", "temperature_c"),
        ("24008KT 9999 OVC010 02/01 Q1013 Q1030", "pressure_hpa"),
        ("24008KT 9999 OVC010 02/09 Q1013", "dew_point_c"),
        ("24008KT CAVOK 3000 02/01 Q1013", "visibility_m"),
        ("24008KT 3000 CAVOK 02/01 Q1013", "visibility_m"),
        ("24008KT 9999 OVC010 85/01 Q1013", "temperature_c"),
    ],
)
def test_what_contradicts_itself_is_in_conflict_and_unknown(rest, lost):
    report = read(rest)
    assert "conflict" in {group.status for group in report.groups}
    assert isnan(getattr(report, lost))


def test_rubbish_in_one_group_leaves_the_rest_and_is_shown():
    report = read("24008KT 9999 -SN OVC010 ABC123XYZ 02/01 Q1013 RMK hello AO2")
    assert [g.text for g in report.groups if g.status == "not decoded"] == ["ABC123XYZ", "hello"]
    assert (report.wind_kt, report.visibility_m, report.temperature_c, report.pressure_hpa) == (8, 10_000, 2, 1013)


@pytest.mark.parametrize(
    ("now", "text", "expected"),
    [
        (datetime(2026, 3, 1, 0, 10, tzinfo=UTC), "282350Z", datetime(2026, 2, 28, 23, 50, tzinfo=UTC)),
        (datetime(2024, 3, 1, 0, 10, tzinfo=UTC), "292350Z", datetime(2024, 2, 29, 23, 50, tzinfo=UTC)),
        (datetime(2026, 1, 1, 0, 5, tzinfo=UTC), "312355Z", datetime(2025, 12, 31, 23, 55, tzinfo=UTC)),
        (datetime(2025, 12, 31, 23, 58, tzinfo=UTC), "010000Z", datetime(2026, 1, 1, 0, 0, tzinfo=UTC)),
        (datetime(2026, 1, 10, 6, tzinfo=UTC), "110550Z", datetime(2025, 12, 11, 5, 50, tzinfo=UTC)),
    ],
)
def test_the_date_comes_from_now_across_month_and_year_ends(now, text, expected):
    assert metar.read(f"ZZZA {text} 24008KT 9999 02/01 Q1013", now=now).issued == expected


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("=", "empty"),
        ("METAR", "station"),
        ("100550Z 24008KT", "station"),
        ("METAR ZZZA 24008KT 9999", "no day and time"),
        ("METAR ZZZA", "no day and time"),
        ("METAR ZZZA 320550Z 24008KT", "no day and time"),
        ("METAR ZZZA 102550Z 24008KT", "no day and time"),
        ("METAR ZZZA 100560Z 24008KT", "no day and time"),
        ("hello world", "station"),
        ("A" * 100_000, "too many"),
        ("\x00\x01\xff\xfe", "station"),
        ("٠١٢٣ ١٠٠٥٥٠Z", "station"),
    ],
)
def test_what_is_no_report_is_refused_in_one_line_that_says_what_would_be_right(text, says):
    with pytest.raises(ReportError, match=says) as caught:
        metar.read(text, now=NOW)
    assert "\n" not in str(caught.value)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 250
    assert caught.value.hint


def test_a_day_that_the_last_months_do_not_have_is_refused():
    with pytest.raises(ReportError, match="no day 31"):
        metar.read("METAR ZZZA 310550Z 24008KT", now=datetime(2026, 3, 5, tzinfo=UTC))


def test_a_now_without_a_time_zone_is_refused():
    with pytest.raises(ReportError, match="time zone"):
        metar.read("METAR ZZZA 100550Z 24008KT", now=datetime(2026, 1, 10, 6))  # noqa: DTZ001


@pytest.mark.parametrize("head", ["METAR COR ZZZA 100550Z", "METAR ZZZA 100550Z COR", "SPECI ZZZA 100550Z CCA"])
def test_a_correction_is_known_wherever_it_stands(head):
    report = metar.read(f"{head} 24008KT 9999 02/01 Q1013", now=NOW)
    assert report.corrected
    assert report.wind_kt == 8


@pytest.mark.parametrize(
    "now",
    [
        datetime.max.replace(tzinfo=timezone(-timedelta(hours=9))),
        datetime.min.replace(tzinfo=timezone(timedelta(hours=9))),
    ],
    ids=["end", "beginning"],
)
def test_a_now_at_the_end_of_the_calendar_is_refused(now):
    with pytest.raises(ReportError):
        metar.read("METAR ZZZA 100550Z 24008KT", now=now)
    with pytest.raises(ReportError):
        taf.read("TAF ZZZA 100500Z 1006/1112 24010KT", now=now)


def test_a_report_of_the_first_hour_of_the_calendar_is_refused_before_its_remarks_are_read():
    with pytest.raises(ReportError, match="calendar"):
        metar.read("METAR ZZZA 010000Z 24008KT RMK RAB50 PK WND 28045/2358", now=datetime(1, 1, 1, tzinfo=UTC))


def test_a_report_of_lower_case_letters_reads_the_same_and_shows_what_was_written():
    text = "metar zzza 100550z 24008kt 1 1/2sm -sn ovc010 m02/m03 q1013 rmk pk wnd 28045/15 hello"
    low, high = metar.read(text, now=NOW), metar.read(text.upper(), now=NOW)
    assert " ".join(g.text for g in low.groups) == text
    assert [g.status for g in low.groups] == [g.status for g in high.groups]
    assert (low.station, low.wind_kt, low.weather) == ("ZZZA", 8, ("-SN",))


@pytest.mark.parametrize(("tenths", "conflict"), [("T00410010", True), ("T00390010", False), ("T00190010", True)])
def test_a_gap_of_more_than_one_degree_between_body_and_t_group_is_a_conflict(tenths, conflict):
    report = read(f"24008KT 9999 OVC010 03/01 A2992 RMK {tenths}")
    assert isnan(report.temperature_c) == conflict
    assert ("conflict" in {g.status for g in report.groups}) == conflict
    assert report.dew_point_c == 1.0


@pytest.mark.parametrize("ranges", ["R04/0900 R22/1200", "R22/1200 R04/0900", "R04/0900 R22/////", "R22///// R04/0900"])
def test_the_lowest_runway_visual_range_counts(ranges):
    assert read(f"24008KT 0800 {ranges} FG OVC001 02/01 Q1013").runway_visual_range_m == 900


def test_after_nosig_only_what_cannot_be_a_forecast_is_read():
    report = read("24008KT 9999 OVC010 02/01 Q1013 NOSIG R24/490250 0400")
    assert [(g.text, g.part, g.status) for g in report.groups[-2:]] == [
        ("R24/490250", "body", "noted"),
        ("0400", "body", "not decoded"),
    ]
    assert report.visibility_m == 10_000
    assert [trend.text for trend in report.trends] == ["NOSIG"]


@pytest.mark.parametrize(("pressure", "hpa"), [("Q1013 A2992", 1013), ("Q1013 A2985", None), ("A2992 A2992", 1013.2)])
def test_two_pressures_must_agree_within_their_rounding(pressure, hpa):
    """29.92 inHg is 1013.2 hPa and 29.85 inHg 1010.8 hPa."""
    found = read(f"24008KT 9999 OVC010 02/01 {pressure}").pressure_hpa
    assert isnan(found) if hpa is None else found == pytest.approx(hpa, abs=0.05)


def test_a_lone_double_slash_is_the_weather_even_where_the_visibility_is_left_out():
    report = read("AUTO 24008KT // ////// 02/01 Q1013")
    assert [g.kind for g in report.groups[4:]] == ["wind", "weather", "cloud", "temperature", "pressure"]
    assert report.weather_missing


def test_five_slashes_before_cloud_and_temperature_are_the_visibility():
    report = read("24008KT ///// OVC010 02/01 Q1013")
    assert [g.kind for g in report.groups[4:]] == ["visibility", "cloud", "temperature", "pressure"]


def test_a_trend_until_a_time_after_midnight_ends_on_the_next_day():
    text = "ZZZA 102350Z 24008KT 9999 OVC010 02/01 Q1013 TEMPO TL0100 0800 FG"
    (trend,) = metar.read(text, now=datetime(2026, 1, 11, tzinfo=UTC)).trends
    assert trend.ends == datetime(2026, 1, 11, 1, tzinfo=UTC)


def test_a_trend_at_a_time_begins_and_ends_there():
    (trend,) = read("24008KT 9999 OVC010 02/01 Q1013 BECMG AT0700 0800 FG").trends
    assert trend.begins == trend.ends == datetime(2026, 1, 10, 7, tzinfo=UTC)


FULL = "24008G22KT 210V270 4000 -SN BKN008 M02/M03 Q1003"
MISSING = {
    "24008G22KT": ("/////KT", ("wind_direction_deg", "wind_kt", "gust_kt")),
    "210V270": ("///V///", ("wind_from_deg", "wind_to_deg")),
    "4000": ("////", ("visibility_m", "visibility_text")),
    "-SN": ("//", ("weather", "weather_missing")),
    "BKN008": ("//////", ("cloud", "sky")),
    "M02/M03": ("/////", ("temperature_c", "temperature_body_c", "dew_point_c", "dew_point_body_c")),
    "Q1003": ("Q////", ("pressure_hpa",)),
}


@pytest.mark.parametrize("text", MISSING)
def test_a_group_in_its_missing_form_takes_away_what_it_said_and_nothing_else(text):
    coded, lost = MISSING[text]
    full, less = read(FULL), read(FULL.replace(text, coded))
    for field in fields(full):
        before, after = getattr(full, field.name), getattr(less, field.name)
        if field.name in lost:
            assert repr(before) != repr(after), field.name
            assert not (isinstance(after, float) and not isnan(after)), field.name
        elif field.name not in ("raw", "groups"):
            assert repr(before) == repr(after), field.name
    assert {g.status for g in less.groups} == {"decoded"}


def test_a_pressure_tendency_without_its_kind_is_noted_as_not_reported():
    groups = read("AUTO 24008KT 10SM CLR 02/M01 A2992 RMK AO2 5/000", station="KZZA").groups
    assert (groups[-1].text, groups[-1].status) == ("5/000", "noted")


@pytest.mark.parametrize("wind", ["24016G//KT", "24020G12KT"])
def test_a_gust_whose_value_is_lost_is_known_to_be_lost(wind):
    report = read(f"{wind} CAVOK 02/M01 Q1013")
    assert report.gust_lost and isnan(report.gust_kt)
    assert not read("24016KT CAVOK 02/M01 Q1013").gust_lost

"""Remarks that tell what fell and what lies: begins and ends, hail, snow, ice; and numbers that cannot be.

Coding: FMH-1 chapter 12 (begin and end of weather, hail and snow in inches, ice in hundredths of an inch); SOG in
whole cm at Canadian stations (from memory). An inch is 25.4 mm. Stations beginning with ZZ are invented, KZZA and CZZA
stand for stations of the United States and of Canada.
"""

from datetime import UTC, datetime
from math import isfinite, isnan

import pytest

from advisor.report import metar, taf
from advisor.report.code.groups import body

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
PLAIN = "24008KT 9999 OVC010 M02/M03 A2992"


def read(remarks, *, station="KZZA", time="100553Z"):
    report = metar.read(f"METAR {station} {time} {PLAIN} RMK {remarks}", now=NOW)
    assert " ".join(group.text for group in report.groups) == report.raw
    return report


def events(remarks, time="100553Z"):
    return [(code, edge, f"{at:%d %H:%M}") for code, edge, at in read(remarks, time=time).remarks.precipitation_events]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("FZRAB04E40", [("FZRA", "B", "10 05:04"), ("FZRA", "E", "10 05:40")]),
        ("SNE14", [("SN", "E", "10 05:14")]),
        ("PLE50", [("PL", "E", "10 05:50")]),
        ("FZDZE07", [("FZDZ", "E", "10 05:07")]),
        ("DZB01E02", [("DZ", "B", "10 05:01"), ("DZ", "E", "10 05:02")]),
        ("UPE40", [("UP", "E", "10 05:40")]),
        ("GRB12E20", [("GR", "B", "10 05:12"), ("GR", "E", "10 05:20")]),
        ("GSE20", [("GS", "E", "10 05:20")]),
        ("TSB0459E30", [("TS", "B", "10 04:59"), ("TS", "E", "10 05:30")]),
        ("SHSNB0457E0504", [("SHSN", "B", "10 04:57"), ("SHSN", "E", "10 05:04")]),
        (
            "RAB05E30SNB20E53",
            [("RA", "B", "10 05:05"), ("RA", "E", "10 05:30"), ("SN", "B", "10 05:20"), ("SN", "E", "10 05:53")],
        ),
        (
            "SNE06B24E50B52",
            [("SN", "E", "10 05:06"), ("SN", "B", "10 05:24"), ("SN", "E", "10 05:50"), ("SN", "B", "10 05:52")],
        ),
        # past the minute of the report: the hour before
        ("SNE58", [("SN", "E", "10 04:58")]),
        # the end in the next hour: it cannot lie before the beginning
        ("SNB58E02", [("SN", "B", "10 04:58"), ("SN", "E", "10 05:02")]),
        ("RAB45E05", [("RA", "B", "10 04:45"), ("RA", "E", "10 05:05")]),
        # with its hour it may be long past, or of the day before
        ("FZRAB0210E0315", [("FZRA", "B", "10 02:10"), ("FZRA", "E", "10 03:15")]),
        ("SNB2340E0010", [("SN", "B", "09 23:40"), ("SN", "E", "10 00:10")]),
        # two groups for one, as some stations write it
        ("RA E32", [("RA", "E", "10 05:32")]),
        # a minute coded missing: an end as late, a beginning as early as can be
        ("SNEMMB32", [("SN", "E", "10 05:32"), ("SN", "B", "10 05:32")]),
        ("RAB24RAEMM", [("RA", "B", "10 05:24"), ("RA", "E", "10 05:53")]),
        ("PLBMME40", [("PL", "B", "10 04:53"), ("PL", "E", "10 05:40")]),
    ],
)
def test_begins_and_ends_of_weather_have_their_times(text, expected):
    assert events(text) == expected


def test_the_end_in_the_next_hour_counts_from_a_special_report_as_well():
    assert events("SNB45E05", time="100510Z") == [("SN", "B", "10 04:45"), ("SN", "E", "10 05:05")]


def test_the_times_of_an_hour_of_mixed_precipitation_are_read_in_one_long_group():
    """A real group, of 72 characters."""
    found = events("SNE0456RAB0456E0458UPB02E04PLB04E07SNB07E26PLB26E32RAB32E35PLB35E43SNB43")
    assert len(found) == 16
    assert found[0] == ("SN", "E", "10 04:56")
    assert found[-2:] == [("PL", "E", "10 05:43"), ("SN", "B", "10 05:43")]


def test_a_call_for_maintenance_joined_to_the_times_loses_neither():
    assert events("SNB32E40$") == events("SNB32E40") == [("SN", "B", "10 05:32"), ("SN", "E", "10 05:40")]
    assert read("SNB32E40$").remarks.maintenance_needed


@pytest.mark.parametrize("text", ["SNE60", "FZRAB04E75", "SNB2510"])
def test_a_time_that_does_not_exist_is_in_conflict(text):
    report = read(text)
    assert report.remarks.precipitation_events == ()
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]


@pytest.mark.parametrize(
    ("text", "mm"),
    [("GR 1 3/4", 44.45), ("GR 1/2", 12.7), ("GR 2", 50.8), ("GR LESS THAN 1/4", 6.35)],
)
def test_the_size_of_hail_is_kept(text, mm):
    assert read(text).remarks.hail_mm == pytest.approx(mm)


@pytest.mark.parametrize("text", ["GR 1/0", "GR 1 3/0", "GR 0/0", "GR 0", "GR 99"])
def test_a_size_of_hail_that_cannot_be_is_in_conflict(text):
    report = read(text)
    assert isnan(report.remarks.hail_mm)
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]


def test_no_hail_remark_says_no_size():
    assert isnan(read("AO2").remarks.hail_mm)


@pytest.mark.parametrize(
    ("text", "station", "cm"),
    [("4/012", "KZZA", 30.48), ("SNINCR 2/10", "KZZA", 25.4), ("SOG 34", "CZZA", 34.0), ("SOG 152", "CZZA", 152.0)],
)
def test_snow_depth_is_in_centimetres(text, station, cm):
    report = read(text, station=station)
    assert report.remarks.snow_depth_cm == pytest.approx(cm)
    assert [group.status for group in report.groups if group.text == text] == ["decoded"]


@pytest.mark.parametrize(("text", "station"), [("SOG 34", "ZZZA"), ("/S08/", "CZZA")])
def test_snow_whose_unit_or_place_is_not_sure_gives_no_depth(text, station):
    report = read(text, station=station)
    assert isnan(report.remarks.snow_depth_cm)
    assert [group.status for group in report.groups if group.text == text] == ["noted"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [("I1000", ((1, 0.0),)), ("I3012", ((3, 3.048),)), ("I1003 I6010", ((1, 0.762), (6, 2.54)))],
)
def test_ice_accretion_is_read_in_hundredths_of_an_inch(text, expected):
    found = read(text).remarks.ice_accretion_mm
    assert [hours for hours, _ in found] == [hours for hours, _ in expected]
    assert [mm for _, mm in found] == pytest.approx([mm for _, mm in expected])


@pytest.mark.parametrize("text", ["1/0SM", "0/0SM", "M1/0SM", "P1/0SM", "1 1/0SM", "1/0KM", "910SM", "900KM", "P7770"])
def test_a_visibility_that_cannot_be_is_in_conflict_and_not_used(text):
    report = metar.read(f"METAR KZZA 100553Z 24008KT {text} OVC010 M02/M03 A2992", now=NOW)
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]
    assert isnan(report.visibility_m)
    assert (report.wind_kt, report.temperature_c) == (8.0, -2.0)
    forecast = taf.read(f"TAF KZZA 100500Z 1006/1112 24010KT {text} OVC010", now=NOW)
    assert [group.status for group in forecast.groups if group.text == text] == ["conflict"]
    assert isnan(forecast.periods[0].elements.visibility_m)
    assert text in forecast.periods[0].elements.unread


@pytest.mark.parametrize("text", ["70SM", "P6SM", "P5000", "80KM", "1 1/2SM"])
def test_a_visibility_that_can_be_is_used(text):
    report = metar.read(f"METAR KZZA 100553Z 24008KT {text} OVC010 M02/M03 A2992", now=NOW)
    assert isfinite(report.visibility_m)


@pytest.mark.parametrize("text", ["VIS 1/0V2", "VIS 1V2/0", "SFC VIS 1/0", "TWR VIS 0/0", "VIS N 1/0", "VIS 3/0 RWY15"])
def test_a_second_visibility_over_zero_is_in_conflict(text):
    report = read(text)
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]


@pytest.mark.parametrize("text", ["PK WND 37045/15", "PK WND 99945/0515", "PK WND 280250/15"])
def test_a_peak_wind_that_cannot_be_is_in_conflict_and_not_used(text):
    report = read(text)
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]
    assert isnan(report.remarks.peak_wind_kt)
    assert report.remarks.peak_wind_at is None
    assert "above 360° or of more than 200 kt" in report.groups[-1].meaning


@pytest.mark.parametrize("text", ["400V030", "350V370"])
def test_a_variation_from_above_360_degrees_is_in_conflict(text):
    report = metar.read(f"METAR KZZA 100553Z 24008KT {text} 9999 OVC010 M02/M03 A2992", now=NOW)
    assert [group.status for group in report.groups if group.text == text] == ["conflict"]
    assert isnan(report.wind_from_deg)
    assert body(text, False).group.status == "conflict"


@pytest.mark.parametrize(
    ("remark", "found", "weather"),
    [
        # coded as TORNADO, its beginning and end to the minute, how far off and where it went (FMH-1, 12.7.1.a)
        ("TORNADO 6 NE", [], ("VCFC",)),
        ("FUNNEL CLOUD", [], ("VCFC",)),
        ("TORNADO B13 6 NE", [], ("VCFC",)),
        ("TORNADO B13E26 6 NE", [("FC", "B", "10 05:13"), ("FC", "E", "10 05:26")], ()),
        ("WATERSPOUT E26 W MOV E", [("FC", "E", "10 05:26")], ()),
    ],
)
def test_a_tornado_in_the_remarks_is_there_until_it_is_said_to_have_ended(remark, found, weather):
    assert events(remark) == found and read(remark).weather == weather

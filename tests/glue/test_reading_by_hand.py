"""Groups of reports at which an edit went unnoticed: what each says, worked by hand from FMH-1's tables."""

from __future__ import annotations

from math import isnan

import pytest
from subject import metar, taf
from worked import NOW, clock

from advisor.report.forecast import prevailing


@pytest.mark.parametrize(
    ("group", "meaning"),
    [
        # 4 1 112 0 084: a 1 before three digits is minus, tenths of a degree
        ("401120084", "last 24 hours: highest 11.2 °C, lowest 8.4 °C"),
        ("400121034", "last 24 hours: highest 1.2 °C, lowest −3.4 °C"),
        ("10122", "highest temperature of the last 6 hours 12.2 °C"),
        ("21012", "lowest temperature of the last 6 hours −1.2 °C"),
        # 12 in of 2.54 cm
        ("4/012", "snow depth 12 in (30 cm)"),
        # hundredths of an inch of 25.4 mm
        ("60012", "precipitation of the last 3 or 6 hours: 0.12 in (3.0 mm)"),
        ("70125", "precipitation of the last 24 hours: 1.25 in (31.8 mm)"),
        ("P0012", "precipitation since the last hourly report: 0.12 in (3.0 mm)"),
        ("SNB59", "snow began 59 min past the hour"),
        ("RAB2359", "rain began at 23:59"),
    ],
)
def test_a_group_of_the_remarks_is_read_and_both_readers_agree(group: str, meaning: str) -> None:
    text = f"METAR KZZA 100530Z 24008KT 10SM OVC010 02/01 A2990 RMK AO2 {group}"
    found = metar.read(text, now=NOW).groups[-1]
    assert (found.text, found.status, found.meaning) == (group, "decoded", meaning)


@pytest.mark.parametrize("group", ["SNB60", "RAE05B60", "RAB2459"])
def test_weather_that_begins_at_no_time_of_day_is_in_conflict(group: str) -> None:
    found = metar.read(f"METAR KZZA 100530Z 24008KT 10SM OVC010 02/01 A2990 RMK AO2 {group}", now=NOW)
    assert found.groups[-1].status == "conflict" and found.remarks.precipitation_events == ()


@pytest.mark.parametrize(("group", "hpa"), [("Q0850", 850), ("Q0849", None), ("Q1090", 1090), ("Q1091", None)])
def test_a_pressure_from_850_to_1090_hpa_is_taken_and_no_other(group: str, hpa: float | None) -> None:
    found = metar.read(f"METAR ZZZA 100530Z 24008KT 9999 OVC010 02/01 {group}", now=NOW).pressure_hpa
    assert isnan(found) if hpa is None else found == hpa


@pytest.mark.parametrize("group", ["200V370", "370V200", "380V370"])
def test_a_wind_varies_between_directions_that_there_are(group: str) -> None:
    found = metar.read(f"METAR ZZZA 100530Z 24008KT {group} 9999 OVC010 02/01 Q1013", now=NOW)
    said = [(one.status, one.meaning) for one in found.groups if one.text == group]
    assert said == [("conflict", "wind from a direction above 360°, not used")]
    assert isnan(found.wind_from_deg) and found.wind_kt == 8


@pytest.mark.parametrize(
    ("groups", "lone", "kind"),
    [
        # by its place: wind, visibility, weather, cloud, temperature, pressure
        ("M 9999 OVC010 02/01 Q1013", "M", "wind"),
        ("24008KT M OVC010 02/01 Q1013", "M", "visibility"),
        ("24008KT 9999 M OVC010 02/01 Q1013", "M", "weather"),
        ("24008KT 9999 // OVC010 02/01 Q1013", "//", "weather"),
        ("24008KT 9999 BR M 02/01 Q1013", "M", "cloud"),
        ("24008KT 9999 ///// 02/01 Q1013", "/////", "cloud"),
        ("24008KT 9999 OVC010 M Q1013", "M", "temperature"),
        ("24008KT 9999 OVC010 02/01 M", "M", "pressure"),
        ("24008KT 9999 OVC010 02/01 /", "/", "pressure"),
        # what stands up to five groups behind it tells: a temperature, and no cloud before it
        ("24008KT 9999 M R24/0600 R06/0600 R12/0600 R30/0600 02/01 Q1013", "M", "cloud"),
        ("24008KT ///// RA BR FEW010 BKN020 02/01 Q1013", "/////", "visibility"),
    ],
)
def test_a_lone_mark_stands_for_the_group_that_its_place_has(groups: str, lone: str, kind: str) -> None:
    found = metar.read(f"METAR ZZZA 100530Z {groups}", now=NOW)
    assert [one.kind for one in found.groups if one.text == lone] == [kind]


@pytest.mark.parametrize(
    ("group", "looks"),
    # one letter too many, too few or wrong; two are another word
    [
        ("SNXRA", True),
        ("XSNRA", True),
        ("SNRAX", True),
        ("SNX", True),
        ("S", False),
        ("SNXXRA", False),
        ("SMRA", True),
        ("JJRA", False),
        ("SNR", True),
        # a descriptor alone wants what may begin the code behind it
        ("FZR", True),
        ("BLS", True),
        ("FZX", False),
        ("BLJ", False),
    ],
)
def test_a_weather_group_with_one_letter_amiss_counts_as_missing(group: str, looks: bool) -> None:
    found = metar.read(f"METAR ZZZA 100530Z 24008KT 3000 {group} OVC010 02/01 Q1013", now=NOW)
    assert found.weather_missing is looks and found.weather == ()


def test_three_words_are_enough_to_tell_a_forecast_from_a_report() -> None:
    assert metar.kind("ZZZA 100500Z 1006/1112") == "TAF"
    assert metar.kind("ZZZA 100500Z") == metar.kind("ZZZA 100500Z 24008KT") == "METAR"


@pytest.mark.parametrize(("cloud", "seen_ft"), [("VV002", 200), ("VV///", None), ("OVC002", None)])
def test_a_forecast_of_an_obscured_sky_says_how_far_one_sees_up(cloud: str, seen_ft: float | None) -> None:
    read = taf.read(f"TAF ZZZA 100500Z 1005/1111 24008KT 0300 FG {cloud}", now=NOW)
    found = prevailing(read, clock(6)).spans[0].elements
    assert isnan(found.vertical_visibility_ft) if seen_ft is None else found.vertical_visibility_ft == seen_ft

"""Reports and groups that standards print as examples, against the values printed beside them."""

import tomllib
from datetime import UTC, datetime
from math import isnan
from pathlib import Path

import pytest

from advisor.report import metar

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "reports.toml").read_text(encoding="utf-8"))
KT_PER_M_S = 3600 / 1852


def read(text, now=datetime(2007, 7, 25, 18, tzinfo=UTC)):
    return metar.read(text, now=now)


@pytest.mark.parametrize("example", PUBLISHED["example"], ids=lambda e: e["title"][:30])
def test_published_reports_read_as_the_standard_says(example):
    report = read(example["text"])
    assert (report.kind, report.station) == (example["kind"], example["station"])
    assert (report.issued.day, report.issued.hour, report.issued.minute) == (
        example["day"],
        example["hour"],
        example["minute"],
    )
    wind = example.get("wind_kt") or example["wind_m_s"] * KT_PER_M_S
    assert report.wind_kt == pytest.approx(wind)
    assert report.wind_direction_deg == example["wind_direction_deg"]
    for name in ("gust_kt", "visibility_minimum_m", "runway_visual_range_m"):
        value = getattr(report, name)
        assert value == example[name] if name in example else isnan(value), name
    for name in ("visibility_m", "temperature_c", "dew_point_c", "pressure_hpa"):
        assert getattr(report, name) == example[name], name
    assert list(report.weather) == example["weather"]
    assert [[layer.cover, layer.base_ft, layer.type] for layer in report.cloud] == example["cloud"]
    assert [trend.change for trend in report.trends] == example["trends"]
    assert [list(trend.weather) for trend in report.trends] == example["trend_weather"]
    assert {group.status for group in report.groups} == {"decoded"}


@pytest.mark.parametrize("row", PUBLISHED["temperature"], ids=lambda row: row["text"])
def test_temperature_groups_of_the_handbook(row):
    report = read(f"METAR KZZA 251753Z 00000KT 10SM CLR {row['text']} A2992 RMK AO2 {row.get('tenths', '')}")
    assert (report.temperature_body_c, report.dew_point_body_c) == (row["temperature_c"], row["dew_point_c"])
    if "tenths" in row:
        assert report.temperature_c == pytest.approx(row["temperature_fine_c"])
        assert report.dew_point_c == pytest.approx(row["dew_point_fine_c"])
        assert report.temperature_doubt_c == 0.05


def test_minus_zero_point_five_is_written_m00_and_said_to_be_below_zero():
    report = read("KZZA 251753Z 00000KT 10SM CLR M00/M05 A2992")
    (group,) = (g for g in report.groups if g.kind == "temperature")
    assert report.temperature_c == 0.0
    assert "between −0.5 and 0 °C" in group.meaning


def test_peak_wind_of_the_handbook_has_direction_speed_and_minute():
    row = PUBLISHED["peak_wind"]
    report = read(f"KZZA 251753Z 26020G35KT 10SM CLR 04/M02 A2992 RMK AO2 {row['text']}")
    assert report.remarks.peak_wind_direction_deg == row["direction_deg"]
    assert report.remarks.peak_wind_kt == row["speed_kt"]
    assert report.remarks.peak_wind_at == datetime(2007, 7, 25, 17, row["minute"], tzinfo=UTC)


def test_snow_increasing_of_the_handbook_is_inches_in_the_hour_and_on_the_ground():
    row = PUBLISHED["snow_increasing"]
    report = read(f"KZZA 251753Z 26020G35KT 1/2SM +SN VV004 M04/M05 A2992 RMK AO2 {row['text']}")
    assert report.remarks.snow_last_hour_cm == pytest.approx(row["last_hour_in"] * 2.54)
    assert report.remarks.snow_depth_cm == pytest.approx(row["on_ground_in"] * 2.54)

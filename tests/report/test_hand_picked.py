"""A small set of real reports, read by hand, so that reading is tested without the folder of real reports."""

import tomllib
from datetime import UTC, datetime
from math import isnan
from pathlib import Path

import pytest
from msgspec.structs import fields

from advisor.report import metar
from advisor.report.model import Remarks, Report

PICKED = tomllib.loads((Path(__file__).parent / "hand_picked.toml").read_text(encoding="utf-8"))["report"]
NUMBERS = [f.name for f in fields(Report) if f.type is float and "doubt" not in f.name]
FLAGS = [f.name for f in fields(Report) if f.type is bool]
LISTED = ("temperature_body_c", "dew_point_body_c", "pressure_hpa")


def read(text):
    """Read a report on a day of October 2022 or March 2023, whichever makes its day the nearest past one."""
    return metar.read(text, now=datetime(2023, 4, 1, tzinfo=UTC))


def matches(value, expected):
    return isnan(value) if expected is None else value == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize("row", PICKED, ids=lambda row: row["text"][:12])
def test_every_number_is_as_read_by_hand_and_no_other_is_made_up(row):
    report = read(row["text"])
    for name in NUMBERS:
        if name in LISTED or name == "vertical_visibility_ft":
            continue
        assert matches(getattr(report, name), row.get(name)), name
    if "pressure_hpa" in row:
        assert report.pressure_hpa == row["pressure_hpa"]


@pytest.mark.parametrize("row", PICKED, ids=lambda row: row["text"][:12])
def test_every_word_and_flag_is_as_read_by_hand(row):
    report = read(row["text"])
    for name in FLAGS:
        assert getattr(report, name) == row.get(name, False), name
    assert list(report.weather) == row.get("weather", [])
    assert list(report.recent_weather) == row.get("recent_weather", [])
    assert report.visibility_is == row.get("visibility_is", "exactly")
    assert [trend.change for trend in report.trends] == row.get("trends", [])
    cloud = row.get("cloud", [])
    assert [(layer.cover, layer.type) for layer in report.cloud] == [(cover, kind) for cover, _, kind in cloud]
    assert all(
        layer.base_ft == base or (isnan(base) and isnan(layer.base_ft))
        for layer, (_, base, _) in zip(report.cloud, cloud, strict=True)
    )
    known = any(cover != "///" or kind for cover, _, kind in cloud)
    assert report.sky == row.get("sky", "layers" if known else "missing")


@pytest.mark.parametrize("row", PICKED, ids=lambda row: row["text"][:12])
def test_every_remark_is_as_read_by_hand(row):
    found, expected = read(row["text"]).remarks, row.get("remarks", {})
    for field in fields(Remarks):
        value, wanted = getattr(found, field.name), expected.get(field.name)
        if isinstance(value, float):
            assert matches(value, wanted), field.name
        elif field.name == "ice_accretion_mm":
            assert value == tuple((hours, pytest.approx(mm)) for hours, mm in wanted or ())
        elif field.name == "precipitation_events":
            assert value == tuple(tuple(event) for event in wanted or ())
        else:
            assert value == (wanted if wanted is not None else field.default), field.name


@pytest.mark.parametrize("row", PICKED, ids=lambda row: row["text"][:12])
def test_every_group_is_accounted_for_once_and_in_order(row):
    report = read(row["text"])
    assert " ".join(group.text for group in report.groups) == report.raw == row["text"]
    assert [g.text for g in report.groups if g.status == "not decoded"] == row.get("not_decoded", [])
    assert not [g.text for g in report.groups if g.status == "conflict"]

"""The whole folder of real reports, against what the weather service itself decoded from them, and a second reader.

Every difference that remains is listed by class in DIFFERENCES.md, with whose fault it is. The shares are those of the
issue: wind, direction, gust, temperature, dew point and visibility 99.8 %, weather phenomena 99.9 %.
"""

import json
from datetime import UTC, datetime
from functools import cache
from math import isnan
from pathlib import Path

import pytest

from advisor.errors import ReportError
from advisor.report import metar
from advisor.report.code.words import split_weather

FOLDER = Path(__file__).parents[3] / "shared" / "corpus"
METRES_PER_MILE = 1609.344
pytestmark = [
    pytest.mark.corpus,
    pytest.mark.skipif(not FOLDER.exists(), reason="the folder of real reports is not beside the checkout"),
]


@cache
def corpus():
    """Every report with its row: list of (row, Report or None)."""
    found = []
    for line in (FOLDER / "metars.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        try:
            report = metar.read(row["raw"], now=datetime.fromisoformat(row["valid"]).replace(tzinfo=UTC))
        except ReportError as error:
            report = None
            row["error"] = error
        found.append((row, report))
    return found


def decoded():
    return [(row, report, row["decoded"]) for row, report in corpus() if report is not None and row.get("decoded")]


def same(value, expected, tolerance):
    return isnan(value) if expected is None else abs(value - expected) <= tolerance


def test_only_lines_without_a_station_or_a_time_are_refused():
    refused = [(row["raw"], row["error"]) for row, report in corpus() if report is None]
    assert len(corpus()) == 27_301
    assert len(refused) == 5
    assert all("no day and time" in str(error) and not any(map(str.isdigit, raw[5:8])) for raw, error in refused)


def test_every_group_of_every_report_is_accounted_for_once():
    for row, report in corpus():
        if report is not None:
            assert " ".join(group.text for group in report.groups) == row["raw"]


def test_dates_are_those_of_the_service():
    """One row of the folder is itself dated a day before its own text."""
    wrong = [
        row["raw"]
        for row, report in corpus()
        if report is not None and report.issued != datetime.fromisoformat(row["valid"]).replace(tzinfo=UTC, second=0)
    ]
    assert [raw[:12] for raw in wrong] == ["SPMS 061611Z"]


def _direction(report, values):
    if report.wind_variable:
        # The service writes 0 or VRB for a variable wind.
        return values["wd"] in ("VRB", "0")
    return same(report.wind_direction_deg, None if values["wd"] in (None, "") else float(values["wd"]), 0.5)


def _visibility(report, values):
    miles = None if values["vis"] in (None, "") else float(values["vis"])
    if miles is None:
        return isnan(report.visibility_m)
    return abs(report.visibility_m - miles * METRES_PER_MILE) <= max(10.0, 0.01 * miles * METRES_PER_MILE)


SHARES = {
    "temperature": (99.8, lambda r, d: same(r.temperature_c, d["t"], 0.051)),
    "dew point": (99.8, lambda r, d: same(r.dew_point_c, d["td"], 0.051)),
    "wind": (99.8, lambda r, d: same(r.wind_kt, d["ws"], 0.51)),
    "gust": (99.8, lambda r, d: same(r.gust_kt, d["wg"], 0.51)),
    "direction": (99.8, _direction),
    "visibility": (99.8, _visibility),
}


@pytest.mark.parametrize("name", SHARES)
def test_values_equal_the_services(name):
    share, equal = SHARES[name]
    rows = decoded()
    if name == "visibility":
        # The service leaves visibility blank behind NDV, by the folder's own note.
        rows = [row for row in rows if "NDV" not in row[0]["raw"]]
    differ = [row["raw"] for row, report, values in rows if not equal(report, values)]
    assert len(rows) > 21_000
    assert 100 * (1 - len(differ) / len(rows)) >= share, differ[:20]


def _phenomena(codes):
    found = set()
    for code in codes:
        sign, descriptor, names = split_weather(code)
        kept = "" if descriptor in ("SH", "TS") else descriptor
        found |= {kept + name for name in names} or {sign + descriptor}
    return found


def _same_weather(report, values):
    return _phenomena(report.weather) == _phenomena((values["wx"] or "").split())


def test_weather_phenomena_equal_the_services():
    differ = [row["raw"] for row, report, values in decoded() if not _same_weather(report, values)]
    assert 100 * (1 - len(differ) / len(decoded())) >= 99.9, differ


def test_no_visibility_is_invented():
    """Where the service has none, a group that says one stands in the text before RMK."""
    for row, report in corpus():
        if report is None or isnan(report.visibility_m):
            continue
        said = [g for g in report.groups if g.kind in ("visibility", "CAVOK") and g.part == "body"]
        assert said, row["raw"]
        assert "CAVOK" in said[0].text or any(map(str.isdigit, said[0].text)), row["raw"]
    invented = [
        row["raw"]
        for row, report, values in decoded()
        if values["vis"] in (None, "") and not isnan(report.visibility_m) and "NDV" not in row["raw"]
    ]
    # "10 SM" with a blank, which the service does not read.
    assert len(invented) == 3
    assert all("KT 10 SM " in raw for raw in invented), invented


def test_hardly_a_group_of_the_body_stays_unread():
    unread = sum(g.status == "not decoded" for _, r in corpus() if r for g in r.groups if g.part == "body")
    every = sum(g.part == "body" for _, r in corpus() if r for g in r.groups)
    assert unread / every < 0.0005


def test_a_second_reader_agrees_on_a_sample():
    """avwx-engine, on every 60th report; it loses the temperature of a report without a dew point."""
    avwx = pytest.importorskip("avwx")
    differ, count = [], 0
    for row, report in corpus()[::60]:
        if report is None or "/ " in row["raw"]:
            continue
        other = avwx.Metar.from_report(row["raw"], issued=report.issued.date())
        kt = 3600 / 1852 if other.units.wind_speed == "m/s" else 1.0
        metres = METRES_PER_MILE if other.units.visibility == "sm" else 1.0
        count += 1
        for value, quantity, per, tolerance in (
            (report.wind_kt, other.data.wind_speed, kt, 0.51),
            (report.gust_kt, other.data.wind_gust, kt, 0.51),
            (report.wind_direction_deg, other.data.wind_direction, 1.0, 0.51),
            (report.visibility_m, other.data.visibility, metres, 1.01),
            (report.temperature_c, other.data.temperature, 1.0, 0.51),
            (report.dew_point_c, other.data.dewpoint, 1.0, 0.51),
        ):
            expected = None if quantity is None or quantity.value is None else float(quantity.value) * per
            if not same(value, expected, tolerance):
                differ.append((row["raw"], value, expected))
    assert count > 350
    assert len(differ) <= 0.01 * count, differ


def test_every_difference_is_listed_in_the_note():
    note = (Path(__file__).parent / "DIFFERENCES.md").read_text(encoding="utf-8")
    checks = [*(equal for _, equal in SHARES.values()), _same_weather]
    unlisted = {
        row["raw"]
        for row, report, values in decoded()
        if "NDV" not in row["raw"]
        and not all(equal(report, values) for equal in checks)
        and row["raw"][:12] not in note
    }
    assert not unlisted

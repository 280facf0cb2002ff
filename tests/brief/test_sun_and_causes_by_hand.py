"""The sunrise or sunset about the walk, by another almanac, and what falls as the cause of what may lie."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta

import astral
import astral.sun
import pytest

import advisor
from advisor.brief.model import to_json

# an invented place; sunset of a winter's day by a library that is not ours, good to a minute or so
SUNSET = astral.sun.sunset(astral.Observer(52.1, -4.6), date(2027, 2, 10), tzinfo=UTC)
SUNRISE = astral.sun.sunrise(astral.Observer(52.1, -4.6), date(2027, 2, 10), tzinfo=UTC)


def brief(off_block: datetime, body: str = "24008KT 9999 SCT040 05/01 Q1010"):
    now = (off_block - timedelta(minutes=75)).replace(second=0)
    report = f"METAR ZZZA {now - timedelta(minutes=5):%d%H%M}Z {body}"
    return advisor.advise([report], off_block=f"{off_block:%Y-%m-%dT%H:%MZ}", now=now, place="52.1,-4.6")


@pytest.mark.parametrize(
    ("event", "at", "walk_begins_min", "told"),
    [
        # from an hour before the walk to three hours after its beginning
        ("sunset", SUNSET, 50, True),
        ("sunset", SUNSET, 70, False),
        ("sunset", SUNSET, -170, True),
        ("sunset", SUNSET, -190, False),
        ("sunrise", SUNRISE, 50, True),
        ("sunrise", SUNRISE, 70, False),
        ("sunrise", SUNRISE, -170, True),
    ],
)
def test_the_sunrise_or_sunset_about_the_walk_is_told(
    event: str, at: datetime, walk_begins_min: int, told: bool
) -> None:
    # the walk begins 45 min before off-block
    made = brief(at + timedelta(minutes=walk_begins_min + 45))
    if not told:
        assert made.sun is None
        return
    assert made.sun is not None and made.sun.event == event
    assert abs(datetime.fromisoformat(made.sun.at) - at) <= timedelta(minutes=3)


@pytest.mark.parametrize("code", ["-SN", "PL", "SHGS", "SG", "-FZDZ", "FZRA"])
def test_what_falls_and_lies_is_named_as_the_cause(code: str) -> None:
    made = brief(datetime(2027, 2, 10, 12, 30, tzinfo=UTC), f"24008KT 4000 {code} OVC010 M02/M03 Q1000")
    line = next(one for one in made.advice if one.id == "de-icing-request")
    assert line.status == "expected"
    reason = next(one for one in line.because if one.quantity == "deposit_possible")
    assert reason.sure and reason.cause == code


@pytest.mark.parametrize(
    ("body", "missing"),
    [
        ("24008KT 9999 SCT040 05/01 Q1010", ()),
        ("VRB02KT 9999 NSC 05/01 Q1010", ()),
        ("24008KT 9999 ////// 05/01 Q1010", ("cloud_fraction",)),
        ("24008KT //// // SCT040 05/// Q1010", ("dew_point_c", "precipitation", "visibility_m")),
        ("/////KT 9999 SCT040 ///// Q1010", ("air_temperature_c", "dew_point_c", "wind_direction_deg", "wind_kt")),
    ],
)
def test_what_the_report_does_not_say_is_named_as_missing(body: str, missing: tuple[str, ...]) -> None:
    made = brief(datetime(2027, 2, 10, 12, 30, tzinfo=UTC), body)
    names = {"air_temperature_c", "dew_point_c", "wind_kt", "wind_direction_deg", "visibility_m", "cloud_fraction"}
    assert set(made.missing) & {*names, "precipitation"} == set(missing)


def test_the_newest_report_and_the_forecast_are_those_that_the_brief_goes_by() -> None:
    now = datetime(2027, 2, 10, 11, 15, tzinfo=UTC)
    body = "24008KT 9999 SCT040 05/01 Q1010"
    reports = [
        *(f"METAR ZZZA 10{clock}Z {body}" for clock in ("1020", "1050", "0950")),
        "TAF ZZZA 100500Z 1006/1112 24010KT 9999 SCT030",
        "TAF ZZZA 101100Z 1012/1118 24010KT 9999 SCT030",
    ]
    made = advisor.advise(reports, off_block="2027-02-10T12:30Z", now=now, place="52.1,-4.6")
    used = {(one.kind, one.issued[11:16]) for one in made.reports if one.used}
    assert used == {("METAR", "10:50"), ("TAF", "11:00")}
    assert len(made.reports) == 5


@pytest.mark.parametrize("body", ["24008KT 9999 SCT040 05/01 Q1010", "/////KT //// // ////// ///// Q////"])
def test_the_json_of_a_brief_is_what_the_standard_library_writes_of_it(body: str) -> None:
    text = to_json(brief(datetime(2027, 2, 10, 12, 30, tzinfo=UTC), body)).decode("utf-8")
    assert text == json.dumps(json.loads(text), indent=2, ensure_ascii=False) + "\n"

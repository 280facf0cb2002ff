"""What no place ever had is not used: it is named as a contradiction, and what it would have told stays missing.

World records from memory: 305 mm of rain in an hour, 1,825 mm in a day, 1,182 cm of snow lying, wind 220 kt.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from math import isnan

import pytest

import advisor
from advisor.report import iwxxm, metar, reading
from advisor.report.model import CONFLICT, NOT_DECODED

NOW = datetime(2027, 1, 10, 6, tzinfo=UTC)
BODY = "METAR ZZZA 100550Z 24008KT 9999 FEW020 M02/M04 Q1013"


@pytest.mark.parametrize(
    ("group", "field"),
    [
        ("P7770", "hourly_precipitation_mm"),
        ("P1261", "hourly_precipitation_mm"),
        ("PCPN 900MM", "hourly_precipitation_mm"),
        ("4/999", "snow_depth_cm"),
        ("PK WND 68530/15", "peak_wind_kt"),
        ("PK WND 280250/15", "peak_wind_kt"),
    ],
)
def test_a_remark_beyond_what_is_possible_is_not_used(group: str, field: str) -> None:
    read = metar.read(f"{BODY} RMK {group}", now=NOW)
    assert isnan(getattr(read.remarks, field))
    told = [one for one in read.groups if one.part == "remarks"]
    assert {one.status for one in told if one.text != "RMK"} & {CONFLICT, NOT_DECODED}, told


def test_amounts_just_within_what_is_possible_are_used() -> None:
    # 12.59 in = 319.8 mm, 511 in = 1297.9 cm, by hand
    read = metar.read(f"{BODY} RMK P1259 4/511", now=NOW)
    assert read.remarks.hourly_precipitation_mm == pytest.approx(319.8, abs=0.05)
    assert read.remarks.snow_depth_cm == pytest.approx(1297.9, abs=0.05)
    assert metar.read(f"{BODY} RMK I1999", now=NOW).remarks.ice_accretion_mm == ()


@pytest.mark.parametrize("group", ["910SM", "999SM"])
def test_a_visibility_of_hundreds_of_miles_is_not_used(group: str) -> None:
    assert isnan(metar.read(f"KZZA 100550Z 24008KT {group} FEW020 M02/M04 A2992", now=NOW).visibility_m)


def test_a_cloud_below_the_ground_in_xml_is_not_used() -> None:
    import iwxxm_samples

    document = next(one for _, one in iwxxm_samples.ICAO.values() if '<iwxxm:base uom="[ft_i]">1000<' in one)
    read = iwxxm.read(document.replace('uom="[ft_i]">1000<', 'uom="[ft_i]">-300<'))[0]
    assert all(layer.base_ft >= 0 for layer in read.cloud)
    assert [one.status for one in read.groups if one.meaning == "cloud below zero, not used"] == [CONFLICT]


def series(count: int) -> str:
    """So many reports of one station, as a feed may give them."""
    times = (NOW - timedelta(minutes=5 + 30 * (at % 40)) for at in range(count))
    return "\n".join(
        f"METAR ZZZA {when:%d%H%M}Z {at % 36:02}0{at % 40:02}KT 9999 FEW{at % 50:03} {at % 20:02}/M02 Q1013 RERA="
        for at, when in enumerate(times)
    )


def least(text: str, step: object, tries: int = 3) -> float:
    took = []
    for _ in range(tries):
        begun = time.process_time()
        step(text)  # type: ignore[operator]
        took.append(time.process_time() - begun)
    return min(took)


@pytest.mark.parametrize("what", ["read", "brief"])
def test_four_times_as_many_reports_take_about_four_times_as_long(what: str) -> None:
    # a search through all for each would take sixteen times as long; with all reports in it a brief took 40 times
    def brief(text: str) -> None:
        advisor.advise(text, off_block="0740Z", now=NOW, place="61.4,9.8")

    def read(text: str) -> None:
        assert len(reading.read_all(text, now=NOW)) == text.count("METAR")

    step = read if what == "read" else brief
    step(series(50))
    assert least(series(4000), step) < 8 * least(series(1000), step)

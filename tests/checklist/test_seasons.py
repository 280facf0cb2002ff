"""Rules for own types, stations and months; windows by name; leads by class and station."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from folders import advice, write

from advisor import advise
from advisor.archive.held import Of
from advisor.checklist import revision, show
from advisor.checklist.rules import Rule

JET = (revision.aircraft.SHIPPED / "single-aisle-jet.toml").read_text(encoding="utf-8")
OURS = JET.replace('id = "single-aisle-jet"', 'id = "zz-600"\nclass = "single-aisle-jet"')
WINDOWS = "[windows.turnround]\nwalk_round = [-30, -15]\ndoors_open = [-40, -3]\ntake_off = 12\ntake_off_treated = 40\n"
REPORT = "METAR ZZZA 100520Z 36008KT 9999 OVC030 M05/M09 Q1010"
WHEN = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}


def ids(folder: Path, **asked: str) -> set[str]:
    return {line.id for line in advise(REPORT, **{**WHEN, **asked}, checklist=folder).advice}


@pytest.mark.parametrize(
    ("field", "aircraft", "there"),
    [
        ('aircraft = ["zz-600"]', "zz-600", True),
        ('aircraft = ["zz-600"]', "single-aisle-jet", False),
        ('stations = ["ZZZA"]', "zz-600", True),
        ('stations = ["ZZZB"]', "zz-600", False),
        ("months = [1]", "zz-600", True),
        ("months = [2, 12]", "zz-600", False),
    ],
)
def test_a_rule_holds_for_an_aircraft_a_station_a_month(tmp_path, field: str, aircraft: str, there: bool) -> None:
    folder = write(tmp_path / "own", own=advice("ours", when='"always"') + field + "\n")
    write(folder / "aircraft", ours=OURS)
    assert ("ours" in ids(folder, aircraft=aircraft)) == there


def test_a_night_over_the_end_of_a_month_touches_both(tmp_path) -> None:
    folder = write(
        tmp_path / "own",
        own=advice("old", when='"always"', months="[1]") + advice("new", when='"always"', months="[2]"),
    )
    made = advise(
        "METAR ZZZA 312320Z 36008KT 9999 OVC030 M05/M09 Q1010",
        now="2027-01-31T23:25:00Z",
        off_block="2027-02-01T00:20:00Z",
        place="61.4,9.8",
        checklist=folder,
    )
    assert {"old", "new"} <= {line.id for line in made.advice}


def test_windows_of_its_own_hold_for_the_profile_that_names_them(tmp_path) -> None:
    folder = write(tmp_path / "own", own=WINDOWS)
    write(folder / "aircraft", ours=OURS.replace('windows = "jet"', 'windows = "turnround"'))
    windows = advise(REPORT, **WHEN, checklist=folder, aircraft="zz-600").windows
    # by hand: 06:40 less 30 and 15 min; doors 06:00 to 06:37
    assert windows.walk_round == ("2027-01-10T06:10:00Z", "2027-01-10T06:25:00Z")
    assert windows.doors_open == ("2027-01-10T06:00:00Z", "2027-01-10T06:37:00Z")
    other = advise(REPORT, **WHEN, checklist=folder, aircraft="single-aisle-jet").windows
    assert other.walk_round[0] == "2027-01-10T05:55:00Z"


CALL = {"kind": '"request"', "when": '"always"', "during": '["off_block"]'}


@pytest.mark.parametrize(
    ("head", "fields", "aircraft", "minutes"),
    [
        # the checklist's own, then by class, by station, and the longer of both
        ("call_lead_min = 50", {}, "single-aisle-jet", 50),
        ("call_lead_by_class = { single-aisle-jet = 55 }", {}, "single-aisle-jet", 55),
        ("call_lead_by_class = { single-aisle-jet = 55 }", {}, "regional-jet", 45),
        ("call_lead_by_station = { ZZZA = 70, ZZZB = 80 }", {}, "single-aisle-jet", 70),
        (
            "call_lead_by_class = { single-aisle-jet = 55 }\ncall_lead_by_station = { ZZZA = 50 }",
            {},
            "single-aisle-jet",
            55,
        ),
        # a rule's own goes first
        ("call_lead_by_station = { ZZZA = 70 }", {"lead_min": "20"}, "single-aisle-jet", 20),
        ("call_lead_min = 50", {"lead_min": "20", "lead_by_station": "{ ZZZA = 65 }"}, "single-aisle-jet", 65),
        ("call_lead_min = 50", {"lead_by_station": "{ ZZZB = 65 }"}, "single-aisle-jet", 50),
    ],
)
def test_the_latest_time_of_a_request(tmp_path, head: str, fields: dict, aircraft: str, minutes: int) -> None:
    own = f"[checklist]\n{head}\n" + advice("ours", **CALL, **fields)
    made = advise(REPORT, **WHEN, checklist=write(tmp_path / "own", own=own), aircraft=aircraft)
    [line] = [line for line in made.advice if line.id == "ours"]
    hour, minute = divmod(6 * 60 + 40 - minutes, 60)
    assert line.by == f"2027-01-10T{hour:02}:{minute:02}:00Z"


@pytest.mark.parametrize(("aircraft", "minutes"), [("single-aisle-jet", 30), ("glider", 40)])
def test_a_class_table_may_hold_a_lead_and_the_longer_of_class_and_station_counts(
    tmp_path, aircraft: str, minutes: int
) -> None:
    own = advice("ours", **CALL, lead_min="20", lead_by_station="{ ZZZA = 30 }")
    own += "[advice.class.glider]\nlead_min = 40\n[advice.class.single-aisle-jet]\nlead_min = 25\n"
    made = advise(REPORT, **WHEN, checklist=write(tmp_path / "own", own=own), aircraft=aircraft)
    [line] = [line for line in made.advice if line.id == "ours"]
    hour, minute = divmod(6 * 60 + 40 - minutes, 60)
    assert line.by == f"2027-01-10T{hour:02}:{minute:02}:00Z"


def test_a_place_with_an_indicator_of_its_own_counts_beside_the_station_s(tmp_path) -> None:
    own = advice("here", when='"always"', stations='["EKCH"]') + advice("there", when='"always"', stations='["ZZZA"]')
    folder = write(tmp_path / "own", own=own)
    assert {"here", "there"} <= ids(folder, place="EKCH")


def test_the_page_of_a_rule_says_for_whom_where_and_when_alone(tmp_path) -> None:
    own = advice(
        "ours",
        **CALL,
        aircraft='["glider"]',
        stations='["ZZZB", "ZZZA"]',
        months="[12, 1]",
        lead_min="20",
        lead_by_station="{ ZZZA = 30 }",
    )
    page = show.page(revision.load(write(tmp_path / "own", own=own)), "ours")
    assert "  only    aircraft glider; at ZZZA, ZZZB; months 1, 12\n" in page
    assert "  latest  20 min before off-block; 30 min at ZZZA\n" in page


def test_over_an_archive_a_rule_holds_for_its_aircraft_stations_and_months_alone() -> None:
    # 2027-01-31 23:30Z and 2027-02-15 12:00Z, by hand: days since 1970 times 86,400 s
    at_s = np.array([1801438200, 1802692800, 1802692800])
    of = Of(revision.load().profiles["glider"], ("ZZZA", "ZZZB"), np.array([0, 0, 1], dtype=np.int32), at_s)
    rules = [
        Rule("one", "gear", "always", ("parked",), "must", "x", "common-practice", **only)
        for only in ({}, {"stations": ("ZZZB",)}, {"months": (1,)}, {"months": (2,)}, {"aircraft": ("helicopter",)})
    ]
    held = of.held(np.zeros((5, 3), dtype=np.int8), rules) == 0
    # an hour after half past eleven it is February
    assert held.tolist() == [
        [True, True, True],
        [False, False, True],
        [True, False, False],
        [True, True, True],
        [False, False, False],
    ]


def test_values_in_a_text_come_with_their_unit_or_as_words(tmp_path) -> None:
    text = '"{gust_kt} / {air_temperature_c} / {snow_intensity} / {light} / {snow} / {runway_visual_range_m}"'
    folder = write(tmp_path / "own", own=advice("ours", when='"always"', text=text))
    report = "METAR ZZZA 100520Z 36022G36KT 1500 SN OVC030 M05/M09 Q1010"
    made = advise(report, **WHEN, checklist=folder)
    [line] = [line for line in made.advice if line.id == "ours"]
    gust, air, snow, light, flag, visual = line.text.split(" / ")
    assert gust.endswith(" kt") and air.startswith("−") and air.endswith(" °C")
    assert snow in ("light", "moderate", "heavy") and light in ("full dark", "astronomical twilight")
    assert (flag, visual) == ("yes", "unknown")

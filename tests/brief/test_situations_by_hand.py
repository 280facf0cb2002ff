"""Situations that are written to show a difference, numbers of a timeline, and what decides a trial; each by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import inf, nan
from pathlib import Path
from types import SimpleNamespace

import astral
import astral.sun
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor import places
from advisor.brief import knobs, settings, timeline, trial, witness
from advisor.brief.situations import SituationTrials
from advisor.checklist import aircraft, revision
from advisor.checklist.desk.sought import Sought
from advisor.checklist.language.cells import KNOWN, Cell
from advisor.departure import read_moment
from advisor.report import metar


def test_a_setting_that_asks_for_nothing_is_a_usual_departure() -> None:
    # off-block at half past twelve, an hour from now, with a report of eight minutes ago
    one = knobs.situation({})
    assert one is not None
    assert (one.now, one.off_block) == ("2027-02-10T11:30:00Z", "2027-02-10T12:30:00Z")
    assert one.report == "METAR ZZZA 101122Z 24008KT 9999 SCT040 08/04 Q1010"
    assert (one.parked_since, one.treated_at, one.seen, one.heading) == (None, None, None, None)


def test_what_went_before_is_a_report_of_an_hour_before_and_somebody_stood_there_to_meet_it() -> None:
    before = {"before": "24008KT 2000 SN OVC010", "air": -2}
    one = knobs.situation(before)
    assert one is not None and one.report == (
        "METAR ZZZA 101022Z 24008KT 2000 SN OVC010 M02/M06 Q1010",
        "METAR ZZZA 101122Z 24008KT 9999 SCT040 M02/M06 Q1010",
    )
    # five hours before half past eleven, where nothing else is asked for
    assert one.parked_since == "2027-02-10T06:30:00Z"
    for chosen in ({**before, "parked_h": 3}, {"parked_h": 3}):
        other = knobs.situation(chosen)
        assert other is not None and other.parked_since == "2027-02-10T08:30:00Z"


def test_a_gust_below_the_mean_wind_is_no_report_and_one_as_strong_is_not_coded() -> None:
    assert knobs.situation({"mean": 20, "gust": 19}) is None
    as_strong, stronger = knobs.situation({"mean": 20, "gust": 20}), knobs.situation({"mean": 20, "gust": 21})
    assert as_strong is not None and " 24020KT " in as_strong.report
    assert stronger is not None and " 24020G21KT " in stronger.report


@pytest.mark.parametrize("part", ["wind", "visibility", "weather", "cloud", "temperature", "dew point"])
def test_a_part_that_is_asked_for_as_missing_is_the_one_that_the_report_lacks(part: str) -> None:
    one = knobs.situation(settings.MISSING[part])
    assert one is not None and isinstance(one.report, str)
    read = metar.read(one.report, now=read_moment(one.now, what="now"))
    missing = {
        "wind": np.isnan(read.wind_kt),
        "visibility": np.isnan(read.visibility_m),
        "weather": read.weather_missing,
        "cloud": not read.cloud or any(np.isnan(layer.base_ft) for layer in read.cloud),
        "temperature": np.isnan(read.temperature_c),
        "dew point": np.isnan(read.dew_point_c),
    }
    wanted = {"temperature", "dew point"} if part == "temperature" else {part}
    assert {name for name, there in missing.items() if there} == wanted


# ICAO Annex 3, appendix 3, 4.2.4: visibility in steps of 50 m below 800 m, of 100 m below 5 km, of 1 km below 10 km
@given(st.integers(0, 12_000))
def test_visibilities_are_written_in_the_steps_of_reports(visibility_m: int) -> None:
    (made,) = settings.MADE["visibility_m"](visibility_m)
    written = int(made["visibility"])
    if visibility_m >= 10_000:
        assert written == 9999
    else:
        step = 50 if visibility_m < 800 else 100 if visibility_m < 5000 else 1000
        assert written % step == 0 and 0 <= visibility_m - written < step


EDGES = st.one_of(st.integers(-80, 120).map(float), st.sampled_from([-inf, inf]))


@given(EDGES, st.booleans(), EDGES, st.booleans())
def test_numbers_for_a_stretch_lie_in_it_the_first_away_from_its_ends(
    low: float, shut: bool, high: float, end: bool
) -> None:
    low, high = min(low, high), max(low, high)
    cell = Cell("gust_kt", KNOWN, (low, shut and low > -inf, high, end and high < inf))
    found = knobs.inside(cell, 1, -60, 40)
    fitting = [n for n in range(-60, 41) if low < n < high or (n == low and shut) or (n == high and end)]
    assert 1 <= len(found) <= 3
    if fitting:
        assert set(found) <= set(fitting) and {fitting[0], fitting[-1]} <= set(found)
        # at least one step from both ends where there is room, and no more than some twenty from one that is bounded
        if len(fitting) >= 5:
            assert fitting[0] < found[0] < fitting[-1]


def test_of_a_stretch_without_an_end_the_first_number_is_near_the_end_that_it_has() -> None:
    # above 4 on a grid of 0 to 1000: within the 40 next to it, so at 24 or below; below 10, within the 10 next to it
    above = knobs.inside(Cell("parked_h", KNOWN, (4.0, True, inf, False)), 1, 0, 1000)
    assert above[1:] == [4.0, 1000.0] and 4 < above[0] <= 24
    # by half hours within 20 h, by fifties within 2 km
    assert 4 < knobs.inside(Cell("parked_h", KNOWN, (4.0, True, inf, False)), 0.5, 0, 2000)[0] <= 14
    assert 100 < knobs.inside(Cell("visibility_m", KNOWN, (100.0, True, inf, False)), 50, 0, 10_000)[0] <= 1100
    below = knobs.inside(Cell("gust_kt", KNOWN, (-inf, False, 10.0, True)), 1, -60, 40)
    assert below[1:] == [-60.0, 10.0] and 0 <= below[0] < 10
    # what lies beyond the grid: its nearest number
    assert knobs.inside(Cell("gust_kt", KNOWN, (50.0, True, 60.0, True)), 1, -60, 40) == [40]
    assert knobs.inside(Cell("gust_kt", KNOWN, (-90.0, True, -70.0, True)), 1, -60, 40) == [-60]


@pytest.mark.parametrize(
    ("yes", "no", "wanted"),
    [
        ("..yy", "n...", 2),
        # never yes: the first that is not known
        ("....", "nn.n", 2),
        ("....", "nnnn", 0),
        (".y..", "..nn", 1),
    ],
)
def test_a_trial_is_shown_at_its_first_yes_else_where_it_is_not_known(yes: str, no: str, wanted: int) -> None:
    times = np.array([0, 1, 2, 3])
    columns = (np.array([mark != "." for mark in marks]) for marks in (yes, no))
    assert trial._deciding(*columns, times) == wanted
    # of later times alone
    later = np.array([3])
    columns = (np.array([mark != "." for mark in marks]) for marks in (yes, no))
    assert trial._deciding(*columns, later) == 3


def test_numbers_of_a_timeline_have_four_decimals_no_minus_nought_and_null_where_there_is_none() -> None:
    found = timeline._numbers(np.array([1.23456, -0.00001, nan, inf, -7.0]))
    assert found == [1.2346, 0.0, None, None, -7.0] and str(found[1]) == "0.0"


def test_a_band_has_lowest_central_and_highest_and_no_ends_where_a_case_is_not_known() -> None:
    # the first case is the central one; at the second time another is not known, at the third the central one
    found = timeline._bands(np.array([[2.0, 2.0, nan], [1.0, nan, 1.0], [3.0, 3.0, 3.0]]))
    assert found == [
        {"low": 1.0, "central": 2.0, "high": 3.0},
        {"low": None, "central": 2.0, "high": None},
        None,
    ]


@pytest.mark.parametrize("phase", ["parked", "walk_round", "doors_open", "off_block", "take_off"])
@pytest.mark.parametrize("span", [(-7.0, -6.0), (-3.0, -2.0), (5.0, 6.0), (15.0, 17.0)])
def test_the_first_time_for_a_height_of_the_sun_has_it_while_the_phase_is_under_way(
    phase: str, span: tuple[float, float]
) -> None:
    low, high = span
    cell = Cell("sun_elevation_deg", KNOWN, (low, True, high, True))
    first = next(iter(knobs.proposals((cell,), phase, nan, 1)))
    # the windows of the shipped checklist for a jet, asked an hour before off-block; minutes from off-block
    begins_min, ends_min = {
        "parked": (-60, -45),
        "walk_round": (-45, -25),
        "doors_open": (-50, -5),
        "off_block": (-25, 0),
        "take_off": (0, 15),
    }[phase]
    off_block = datetime.fromisoformat(first.off_block)
    place = astral.Observer(52.1, -4.6)
    heights = [
        astral.sun.elevation(place, off_block + timedelta(minutes=at), with_refraction=False)
        for at in range(begins_min, ends_min + 1)
    ]
    assert any(low <= one <= high for one in heights)


def _door(name: str, status: str, stays: str = "within") -> SimpleNamespace:
    return SimpleNamespace(door=name, status=status, stay_open_status=stays)


@pytest.mark.parametrize(
    ("after", "was", "said"),
    [
        ([_door("forward", "within")], "cargo: operate within, stay open within", "cargo: no such door"),
        (
            [_door("forward", "within"), _door("cargo", "within", "exceeded")],
            "cargo: operate within, stay open within",
            "cargo: operate within, stay open exceeded",
        ),
        ([_door("cargo", "within"), _door("forward", "within")], None, None),
    ],
)
def test_the_first_door_that_fares_otherwise_is_told(after: list[SimpleNamespace], was: str, said: str) -> None:
    situation = knobs.situation({})
    before = SimpleNamespace(doors=[_door("forward", "within"), _door("cargo", "within")])
    found = witness._doors(situation, "an-aircraft", before, SimpleNamespace(doors=after))
    if was is None:
        assert found is None
        return
    plain, shown = found
    assert plain is True and (shown.situation, shown.aircraft) == (situation, "an-aircraft")
    assert [was, said] == [shown.old, shown.new]


def _line(status: str = "likely", weight: str = "should", by: str | None = None) -> SimpleNamespace:
    return SimpleNamespace(status=status, weight=weight, by=by, kind="request", stop=False, text="Text")


@pytest.mark.parametrize(
    ("what", "less", "apart", "old", "new", "differs"),
    [
        ("when", False, (), None, None, False),
        ("when", False, (), None, _line(), True),
        ("when", False, (), _line(), None, True),
        # a line that is only new says no less
        ("when", True, (), None, _line(), False),
        ("when", True, (), _line("expected"), _line("likely"), True),
        ("when", True, (), _line("likely"), _line("expected"), False),
        ("when", True, (), _line(weight="must"), _line(), True),
        # where rules differ by themselves, a lead shows on lines of both sides alone
        ("lead_min", False, ("a",), None, _line(), False),
        ("lead_min", False, (), None, _line(), True),
        ("text", False, ("a",), None, _line(), True),
        ("lead_min", False, ("a",), _line(by="0555Z"), _line(by="0600Z"), True),
        ("lead_min", False, ("a",), _line(by="0555Z"), _line(by="0555Z"), False),
    ],
)
def test_when_two_lines_differ_as_is_sought(
    what: str, less: bool, apart: tuple[str, ...], old: object, new: object, differs: bool
) -> None:
    sought = Sought("", what, "jet", less=less, apart=frozenset(apart))
    assert witness._differs(sought, old, new) is differs


def test_a_situation_at_another_station_has_its_reports_there() -> None:
    alone, both = knobs.situation({}), knobs.situation({"before": "24008KT 2000 SN OVC010", "air": -2})
    assert alone is not None and both is not None
    assert witness._at(alone, "ZZZB").report == "METAR ZZZB 101122Z 24008KT 9999 SCT040 08/04 Q1010"
    assert [one[:18] for one in witness._at(both, "ZZZB").report] == ["METAR ZZZB 101022Z", "METAR ZZZB 101122Z"]


STATION_RULE = """\
[checklist]
name = "Invented"
revision = "1"

[[advice]]
id = "at-one-station"
kind = "gear"
when = "always"
during = "walk_round"
weight = "must"
text = "Take a shovel."
source = "invented-default"
stations = ["ZZZB"]
"""


def test_a_rule_of_one_station_counts_where_the_report_is_of_it(tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_text(STATION_RULE, encoding="utf-8")
    checklist = revision.load(tmp_path)
    profile = aircraft.load_profiles()[checklist.default_aircraft]
    trials = SituationTrials(checklist.windows, places)
    plain = knobs.situation({})
    assert plain is not None
    for station, there in (("ZZZA", False), ("ZZZB", True)):
        situation = witness._at(plain, station)
        ranks = witness._rank(checklist, situation, profile, trials.weathered(situation, profile))
        assert ("at-one-station" in ranks) is there


def test_a_difference_is_shown_with_an_aircraft_that_both_sides_have_and_that_it_is_of() -> None:
    checklist, fleet = revision.load(), aircraft.load_profiles()
    gone = sorted(fleet)[0]
    old, new = witness.Side(checklist, fleet), witness.Side(checklist, {n: p for n, p in fleet.items() if n != gone})
    search = witness.Search(old, new, (), {}, places)
    for group in {profile.windows for profile in fleet.values()}:
        found = search._profiles(Sought("", "windows", "", windows=group))
        wanted = {name for name, profile in fleet.items() if profile.windows == group} - {gone}
        assert found and {one.id for one in found} == wanted
    # of one that one side alone has, that one
    assert [one.id for one in search._profiles(Sought("", "doors", "", aircraft=gone))] == [gone]
    # the usual aircraft first, within its class
    usual = fleet[checklist.default_aircraft]
    assert search._profiles(Sought("", "when", usual.class_id))[0].id == usual.id
    other = next(profile.class_id for profile in fleet.values() if profile.class_id != usual.class_id)
    assert search._profiles(Sought("", "when", other))[0].class_id == other

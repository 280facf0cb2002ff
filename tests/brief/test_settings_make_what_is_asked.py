"""What is written to make a quantity so: a brief's own conditions of that report say that it is so."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from math import inf, nan
from typing import Any

import numpy as np
import pytest

from advisor import places
from advisor.brief import knobs, settings
from advisor.brief.situations import SituationTrials
from advisor.checklist import aircraft, revision
from advisor.checklist.language.cells import ABSENT, KNOWN, MISSING, Cell
from advisor.conditions import PHASES, YES, Conditions
from advisor.departure import read_moment
from advisor.physics import exposure
from advisor.quantities import LIGHT_NAMES, QUANTITIES
from advisor.report import metar

# of a sky that nobody described the cases hold the ends of what it may cover, and a low base
BOUNDED = {"cloud_fraction": {0.0, 1.0}, "cloud_base_m": {300.0}}


@cache
def trials() -> tuple[SituationTrials, Any]:
    checklist, fleet = revision.load(), aircraft.load_profiles()
    return SituationTrials(checklist.windows, places), fleet[checklist.default_aircraft]


def weathered(chosen: settings.Setting) -> tuple[Conditions, Any, int]:
    """Conditions of what was chosen, the windows, and now."""
    situation = knobs.situation(chosen)
    assert situation is not None
    made, profile = trials()
    return made.weathered(situation, profile)


def table(chosen: settings.Setting, name: str) -> np.ndarray:
    """A quantity (case, time)."""
    conditions = weathered(chosen)[0]
    return np.broadcast_to(conditions.columns[name], conditions.shape)


def each(tables: dict[str, tuple[settings.Setting, ...]]) -> list[Any]:
    return [pytest.param(name, one, id=f"{name}-{at}") for name, all_ in tables.items() for at, one in enumerate(all_)]


@pytest.mark.parametrize(("name", "chosen"), each(settings.FLAGS))
def test_a_flag_is_set_in_some_case(name: str, chosen: settings.Setting) -> None:
    assert (table(chosen, name) == YES).any()
    cell = Cell(name, KNOWN, code=YES)
    assert chosen in knobs._settings(cell, nan)


@pytest.mark.parametrize(("name", "chosen"), each(settings.NOT))
def test_a_flag_is_not_set_in_any_case(name: str, chosen: settings.Setting) -> None:
    assert (table(chosen, name) == 0).all()
    assert chosen in knobs._settings(Cell(name, KNOWN, code=0), nan)


@pytest.mark.parametrize(("word", "chosen"), each(settings.CATEGORIES))
def test_a_word_is_what_some_case_has(word: str, chosen: settings.Setting) -> None:
    (name,) = (name for name, row in QUANTITIES.items() if word in row.values)
    code = QUANTITIES[name].values.index(word)
    assert (table(chosen, name) == code).any()
    assert chosen in knobs._settings(Cell(name, KNOWN, code=code), nan)


@pytest.mark.parametrize("name", [name for name, row in QUANTITIES.items() if row.part or name in settings.PART])
def test_what_is_asked_for_as_missing_is_not_known_in_some_case(name: str) -> None:
    (chosen,) = knobs._settings(Cell(name, MISSING), nan)
    if not chosen:
        pytest.skip("nothing that a report can leave out takes it away")
    conditions = weathered(chosen)[0]
    if name in BOUNDED:
        assert set(np.unique(conditions.columns[name])) >= BOUNDED[name]
    else:
        assert conditions.unknown(name).any()


def test_each_part_that_a_quantity_names_can_be_left_out() -> None:
    named = {row.part for row in QUANTITIES.values() if row.part} | set(settings.PART.values())
    # recent weather and a departure's own facts are left out by not being there
    assert set(settings.MISSING) <= named
    for name, part in settings.PART.items():
        assert part in settings.MISSING, name


@pytest.mark.parametrize(("name", "chosen"), each(settings.ABSENT))
def test_what_does_not_exist_there_does_not(name: str, chosen: settings.Setting) -> None:
    # docs/rule-language.md: in air that mild or calm there is none
    gone = {"wind_chill_c": "wind_chill_absent", "frostbite_min": "frostbite_absent"}[name]
    assert (table(chosen, gone) == YES).any()
    assert chosen in knobs._settings(Cell(name, ABSENT), nan)


def some(name: str) -> list[float]:
    step, least, most = settings.GRID[name]
    middle = (least + most) / 2 // step * step
    return sorted({least, least + step, least + 3 * step, middle, most - step, most})


@pytest.mark.parametrize("name", settings.MADE)
def test_a_number_is_met_to_half_a_step_in_some_case(name: str) -> None:
    step = settings.GRID[name][0]
    for value in some(name):
        for chosen in settings.MADE[name](value):
            if knobs.situation(chosen) is None:
                continue
            away = np.abs(table(chosen, name) - value)
            # -180° and 180° are one direction
            away = np.minimum(away, np.abs(away - 360.0)) if name == "relative_wind_deg" else away
            # ICAO Annex 3: steps of 100 m from 800 m, of 1 km from 5 km
            coarse = 1000 if value >= 5000 else 100 if value >= 800 else 50
            assert np.nanmin(away) <= (coarse if name == "visibility_m" else step / 2), (value, chosen)


@pytest.mark.parametrize("name", settings.TRIED)
def test_what_only_trying_tells_comes_out_as_several_numbers(name: str) -> None:
    found = [table(chosen, name).astype(float) for chosen in settings.TRIED[name]]
    ends = {
        (round(float(np.nanmin(one)), 1), round(float(np.nanmax(one)), 1)) for one in found if not np.isnan(one).all()
    }
    assert len(ends) >= 2
    if name.endswith("margin_c"):
        # both sides of nought, and both surely
        assert any(low > 0 for low, _ in ends) or name == "tank_frost_margin_c"
        assert any(high < 0 for _, high in ends)


def test_what_falls_brings_the_air_cloud_and_visibility_that_go_with_it() -> None:
    def report(*codes: str) -> metar.Report:  # type: ignore[name-defined]
        made = knobs.situation({"codes": codes})
        assert made is not None and isinstance(made.report, str)
        return metar.read(made.report, now=read_moment(made.now, what="now"))

    for code in ("FZRA", "-FZDZ", "SN", "-PL", "SG", "IC", "FZFG"):
        assert report(code).temperature_c == -2
    for code in ("RA", "DZ", "TSRA", "FG", "GR"):
        assert report(code).temperature_c == 8
    for code in ("FG", "FZFG"):
        assert report(code).visibility_m == 300 and report(code).temperature_c == report(code).dew_point_c
    assert report("RA").visibility_m == 3000 and report().visibility_m >= 9999
    assert report("BR").dew_point_c == 8 and report("RA").dew_point_c == 7 and report().dew_point_c == 4
    for code, cloud in (("TSRA", "BKN020CB"), ("SHGR", "BKN020CB"), ("RA", "OVC010"), ("FG", "VV001")):
        assert f" {cloud} " in report(code).raw
    # no air is as moist as 44 °C of dew point
    hot = knobs.situation({"air": 48})
    assert hot is not None and " 48/30 " in hot.report


def number(name: str, low: float, high: float) -> Cell:
    return Cell(name, KNOWN, (low, True, high, True))


@pytest.mark.parametrize(("limit_kt", "counted"), [(35.0, 35), (nan, 40)])
def test_a_margin_of_a_door_is_its_limit_less_the_gust(limit_kt: float, counted: int) -> None:
    found = list(knobs._settings(number("door_margin_kt", 5, 7), limit_kt))
    assert found == [{"gust": counted - 6}, {"gust": counted - 5}, {"gust": counted - 7}]
    # a wind below ten knots is no gust; and no wind blows backwards
    (few, *_) = knobs._settings(number("door_margin_kt", limit_or(limit_kt) - 9, limit_or(limit_kt) - 9), limit_kt)
    assert few == {"mean": 9}
    (ten, *_) = knobs._settings(number("door_margin_kt", limit_or(limit_kt) - 10, limit_or(limit_kt) - 10), limit_kt)
    assert ten == {"gust": 10}
    assert list(knobs._settings(number("door_stay_open_margin_kt", 40, 40), 35.0)) == [{"mean": 0}]


def limit_or(limit_kt: float) -> float:
    return 40.0 if np.isnan(limit_kt) else limit_kt


@pytest.mark.parametrize(("low", "high"), [(-12, -8), (-30, -27), (-50, -40)])
def test_air_and_wind_of_a_wind_chill_give_it(low: float, high: float) -> None:
    found = list(knobs._settings(number("wind_chill_c", low, high), nan))
    assert found and all(set(one) == {"air", "mean"} for one in found)
    for one in found:
        # NWS and Environment Canada, 2001: 13.12 + 0.6215 T + (0.3965 T - 11.37) V^0.16, V in km/h
        wind = (one["mean"] * 1.852) ** 0.16
        chill = 13.12 + 0.6215 * one["air"] + (0.3965 * one["air"] - 11.37) * wind
        assert low - 0.1 <= chill <= high + 0.1
    # of each air the weakest wind that does
    assert len({one["air"] for one in found}) == len(found)


def test_of_airs_for_a_heat_index_the_first_is_just_below_the_stretch() -> None:
    found = list(knobs._settings(number("heat_index_c", 41, 50), nan))
    index = []
    for one in found:
        # Magnus over water, WMO No. 8
        vapour, full = (np.exp(17.62 * t / (243.12 + t)) for t in (one["dew"], one["air"]))
        index.append(float(exposure.heat_index_c(float(one["air"]), 100 * vapour / full)))
    # the warm case alone reaches what lies a little above
    assert all(35 - 0.2 <= value <= 50 + 0.2 for value in index)
    away = [abs(value - 39) for value in index]
    assert all(one <= other + 0.3 for one, other in pairwise(away))
    assert min(index) < 36 and max(index) > 49


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("light", LIGHT_NAMES)
def test_an_hour_is_found_for_the_light_of_a_phase(phase: str, light: str) -> None:
    cell = Cell("light", KNOWN, code=LIGHT_NAMES.index(light))
    met = 0
    for chosen in knobs._times([cell], phase):
        conditions, windows, now = weathered(chosen)
        start, end = windows.phase(phase, now)
        inside = (conditions.unix_s >= start) & (conditions.unix_s <= end)
        met += bool((conditions.code("light")[:, inside] == LIGHT_NAMES.index(light)).any())
    assert met >= 3


@pytest.mark.parametrize(("low", "high"), [(0.5, 3.0), (100.0, 400.0), (2000.0, 4000.0), (10_000.0, 20_000.0)])
def test_hours_and_clouds_are_found_for_so_much_natural_light(low: float, high: float) -> None:
    found = list(knobs._times([number("illuminance_lx", low, high)], "walk_round"))
    skies = [one["cloud"] for one in found]
    assert skies[:2] == ["SKC", "SKC"] and "OVC040" in skies
    # under a low sky it never gets as light as that in February
    assert ("OVC010" in skies) is (low < 10_000)
    met = 0
    for chosen in found:
        conditions, windows, now = weathered(chosen)
        start, end = windows.phase("walk_round", now)
        inside = (conditions.unix_s >= start) & (conditions.unix_s <= end)
        there = np.broadcast_to(conditions.columns["illuminance_lx"], conditions.shape)[:, inside]
        met += bool(((there >= low) & (there <= high)).any())
    assert met * 2 >= len(found)


def test_dark_and_not_dark_have_hours_of_their_own() -> None:
    for code in (0, 1):
        for chosen in knobs._times([Cell("dark", KNOWN, code=code)], "walk_round"):
            assert chosen["cloud"] == "SKC"
            assert (table(chosen, "dark") == code).any()
    assert list(knobs._times([], "walk_round")) == []


def test_a_setting_says_when_the_report_was_made_and_when_the_brief_is() -> None:
    one = knobs.situation({"age_min": 25, "lead_min": 90, "treated_min": 20})
    assert one is not None
    assert (one.now, one.off_block) == ("2027-02-10T11:00:00Z", "2027-02-10T12:30:00Z")
    assert re.search(r" 101035Z ", str(one.report)) and one.treated_at == "2027-02-10T10:40:00Z"


def test_no_more_situations_than_are_asked_for_and_each_once() -> None:
    cells = [number("gust_kt", 20, 60), Cell("snow", KNOWN, code=YES)]
    for most in (1, 3, 6):
        found = list(knobs.proposals(cells, "walk_round", 35.0, most))
        assert len(found) == len(set(found)) == most
    # a quantity with more ways than that is tried in ten of them
    skins = knobs.proposals([number("tank_frost_margin_c", -inf, inf)], "walk_round", 35.0, 20)
    assert len(settings.TRIED["tank_frost_margin_c"]) > 10 and len(list(skins)) == 10
    march = next(iter(knobs.proposals(cells, "walk_round", 35.0, 1, month=3)))
    assert march.now.startswith("2027-03-10")


def test_a_gust_of_ten_knots_is_the_weakest_that_is_coded() -> None:
    assert list(settings.MADE["gust_kt"](10)) == [{"gust": 10, "mean": 0}, {"mean": 10, "gust": None}]
    assert list(settings.MADE["gust_kt"](9)) == [{"mean": 9, "gust": None}]
    assert list(settings.MADE["gust_kt"](40)) == [{"gust": 40, "mean": 28}, {"mean": 40, "gust": None}]

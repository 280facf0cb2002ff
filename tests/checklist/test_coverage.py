"""Coverage: from weather situations, not from tags; what is never reached, what needs an input, what overlaps."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from folders import advice, write
from msgspec.structs import replace

from advisor.checklist import revision
from advisor.checklist.desk.coverage import Coverage, CoverageCell
from advisor.checklist.rules import CLASSES
from advisor.checklist.toml.situations import shipped
from advisor.cli import desk
from advisor.cli.main import main
from advisor.conditions import PHASES
from advisor.render import coverage as shown


@pytest.fixture(scope="module")
def found() -> Coverage:
    return desk.coverage_of("shipped")


@pytest.fixture
def printed(monkeypatch):
    """What the command makes of a coverage; that it works one out itself is tried with the README's examples."""

    def invoke(made: Coverage, *words: str):
        monkeypatch.setattr(desk, "coverage_of", lambda folder: made)
        return CliRunner().invoke(main, ["checklist", "coverage", *words])

    return invoke


def cell(found: Coverage, hazard: str, class_id: str, phase: str) -> CoverageCell:
    return next(one for one in found.cells if (one.hazard, one.class_id, one.phase) == (hazard, class_id, phase))


def test_every_hazard_class_and_phase_has_a_cell(found):
    named = {(one.hazard, one.class_id, one.phase) for one in found.cells}
    assert len(named) == len(found.cells) == len(found.hazards) * len(CLASSES) * len(PHASES)
    assert len(found.hazards) > 40


@pytest.mark.parametrize(
    ("hazard", "class_id", "phase", "rule", "weight"),
    [
        ("darkness", "single-aisle-jet", "walk_round", "torch", "must"),
        ("snow", "wide-body-jet", "walk_round", "wing-upper-surface", "must"),
        ("snow", "glider", "walk_round", "de-icing-request", "must"),
        ("thunderstorm", "uncrewed", "walk_round", "thunderstorm", "must"),
        ("strong wind", "helicopter", "walk_round", "strong-wind", "must"),
        ("heat", "light-aircraft", "walk_round", "heat", "must"),
        ("cold wind", "single-aisle-jet", "walk_round", "wind-chill", "must"),
        ("just landed in heat", "regional-jet", "walk_round", "hot-brakes", "must"),
        ("after a treatment in snow", "twin-turboprop", "off_block", "retreat", "must"),
        ("fog", "single-aisle-jet", "doors_open", "low-visibility-apron", "must"),
        ("volcanic ash", "glider", "take_off", "ash", "must"),
    ],
)
def test_what_the_trade_asks_for_in_a_hazard_is_there(found, hazard, class_id, phase, rule, weight):
    one = cell(found, hazard, class_id, phase)
    assert rule in one.rules and one.weight == weight


def test_what_holds_without_the_hazard_does_not_count_for_it(found):
    # a vest is worn in every weather, and a small light is taken by day whether it rains or not
    assert not any({"high-visibility", "dark-corners-light"} & set(one.rules) for one in found.cells)
    assert not cell(found, "rain", "single-aisle-jet", "take_off").rules
    # hail and darkness have nothing to do with each other
    assert "torch" not in cell(found, "hail", "single-aisle-jet", "walk_round").rules


def test_words_of_a_class_are_told_from_those_for_all(found):
    assert "torch" in cell(found, "darkness", "glider", "walk_round").own
    assert "torch" not in cell(found, "darkness", "single-aisle-jet", "walk_round").own


def test_every_shipped_rule_is_reached_and_none_stands_twice(found):
    assert found.never == () and found.overlaps == () and found.open == ()


def test_rules_reached_only_with_what_nobody_has_to_state_are_named(found):
    # who says nothing of parking, treatment, fuel or a deposit never sees these
    assert {"hot-brakes", "treatment-record", "already-seen", "underwing-frost"} <= set(found.unstated)
    assert not {"torch", "de-icing-request", "thunderstorm"} & set(found.unstated)


@pytest.mark.long
def test_a_gap_a_rule_that_nothing_reaches_and_a_pair_are_found(tmp_path):
    folder = write(
        tmp_path / "own",
        own='remove = ["no-umbrella"]\n'
        + advice("never-so", when='"dark and sun_elevation_deg > 3"')
        + advice("one-gust", when='"gust_kt >= 28"', kind='"caution"')
        + advice("same-gust", when='"not gust_kt < 28"', kind='"caution"')
        + advice("only-told", when='"parked_h > 700"')
        + advice("rare-cold", when='"air_temperature_c <= -44 and wind_kt >= 30"'),
    )
    found = desk.coverage_of(str(folder))
    assert found.never == ("never-so",)
    assert ("one-gust", "same-gust") in found.overlaps
    # far beyond every situation of the set, and yet a report can be written for it
    assert "rare-cold" not in (*found.never, *found.unstated)
    assert "only-told" in found.unstated
    assert {hazard for hazard, _ in found.open} == {"rain"}


def test_a_hazard_is_the_weather_of_its_situation_with_only_that_added():
    hazards, stations = shipped()
    names = [one.name for one in hazards]
    assert len(set(names)) == len(names)
    for one in hazards:
        assert one.beside in ("", *names)
        assert "ZZ" in str(one.situation.report)
    assert all(name.startswith("ZZ") for name in stations)


def test_json_has_the_fields_that_others_rely_on(found, printed):
    made = printed(found, "shipped", "--format", "json")
    assert made.exit_code == 0
    data = json.loads(made.stdout)
    assert data["schema"] == "coverage/1"
    assert {"hazard", "class", "phase", "rules", "weight"} <= set(data["cells"][0])
    assert data["never"] == [] and isinstance(data["unstated"], list) and data["overlaps"] == []


def test_strict_fails_where_there_is_a_gap(found, printed, tmp_path):
    folder = write(tmp_path / "own", own=advice("never-so", when='"dark and sun_elevation_deg > 3"'))
    gap = replace(found, never=("never-so",))
    plain, strict = printed(gap, str(folder)), printed(gap, str(folder), "--strict")
    assert plain.exit_code == 0 and strict.exit_code == 7
    assert "rules never reached" in strict.stderr and strict.stderr.count("\n") == 1
    assert printed(found, str(folder), "--strict").exit_code == 0


def test_the_text_and_the_page_say_the_same(found):
    text, page = shown.as_text(found), shown.render_html(found)
    for hazard in found.hazards:
        assert hazard in text and hazard in page
    assert "·W···" in text.split("darkness")[1].splitlines()[0]
    assert found.fingerprint in text and found.fingerprint in page
    assert "<script" not in page and "http" not in page.replace("http-equiv", "")


@pytest.mark.parametrize("field", ["checklist", "revision", "never", "unstated", "open", "cells"])
def test_names_of_an_operator_are_escaped(found, field):
    named = "<b>Invented</b>"
    in_place = {
        "checklist": named,
        "revision": named,
        "open": ((named, "glider"),),
        "cells": (replace(found.cells[0], rules=(named,)), *found.cells[1:]),
    }
    page = shown.render_html(replace(found, **{field: in_place.get(field, (named,))}))
    assert "<b>Invented" not in page and "&lt;b&gt;Invented" in page


@pytest.mark.long
def test_the_shipped_folder_is_read_as_a_folder_of_its_own():
    assert desk.coverage_of(str(revision.SHIPPED)).never == ()

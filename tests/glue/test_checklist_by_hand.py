"""What explains a finding, and places of the checklist's reader at which an edit went unnoticed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from subject import BASE_CASES, Conditions, Door
from worked import clock

from advisor.checklist.aircraft import load_profiles
from advisor.checklist.evaluate import Decided, Finding, band, explain
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.revision import load
from advisor.checklist.rules import Rule
from advisor.checklist.show import profiles_text
from advisor.errors import ChecklistError
from tests.checklist.folders import HEAD, advice, write

NAN = float("nan")
WHEN = "gust_kt >= 28 and not snow"
RULE = Rule("invented", "caution", WHEN, ("off_block",), "should", "Hold on.", "common-practice")


def table(gusts: list[float], snow: list[int]) -> Conditions:
    """One value for each case at two times, a gust 1 kt higher at the second."""
    made = Conditions(clock(5.5) + np.array([0.0, 300.0]), 61.4, 9.8, BASE_CASES)
    made.columns["gust_kt"] = np.array([[one, one + 1] for one in gusts])
    made.columns["snow"] = np.array([[one, one] for one in snow], dtype=np.int8)
    return made


@pytest.mark.parametrize("case", [0, 2])
def test_a_finding_is_explained_by_what_decided_with_its_band_over_the_cases(case: int) -> None:
    found = explain(RULE, table([30, 25, 31, 40, NAN], [0] * 5), Finding(RULE, "possible", case, 1))
    assert found == [
        Decided("gust_kt", "kt", 26, 31, 41, "gust_kt >= 28", clock(5.5) + 300),
        Decided("snow", "", 0, 0, 0, "not snow", clock(5.5) + 300),
    ]


def test_what_is_not_indicated_or_holds_always_has_no_explanation() -> None:
    conditions = table([10] * 5, [0] * 5)
    assert explain(RULE, conditions, Finding(RULE, "not indicated")) == []
    always = Rule("b", "caution", "always", ("off_block",), "should", "Hold on.", "common-practice")
    assert explain(always, conditions, Finding(always, "expected", 0, 0)) == []


def test_a_band_is_over_the_cases_that_are_known() -> None:
    conditions = table([30, 25, NAN, 40, 35], [-1, 0, 1, 0, 0])
    assert band(conditions, "gust_kt", 0) == (25, 30, 40)
    low, central, high = band(conditions, "snow", 0)
    assert (low, high) == (0, 1) and np.isnan(central)
    assert np.isnan(band(conditions, "visibility_m", 0)).all()
    assert np.isnan(band(table([NAN] * 5, [0] * 5), "gust_kt", 0)).all()


def test_a_hint_lists_up_to_sixteen_words_and_no_more() -> None:
    words = [f"{letter}{letter}" for letter in "abcdefghijklmnopq"]
    assert did_you_mean("zzzz", words[:16]) == "one of " + ", ".join(words[:16])
    assert did_you_mean("zzzz", words) == "it is not in the vocabulary"
    assert did_you_mean("aab", words) == "did you mean 'aa'?"


@pytest.mark.parametrize(
    ("words", "said"),
    [('must_text = "Feel."', True), ('must_more = "Root to tip."', True), ('text = "Look along."', False)],
)
def test_a_must_that_turns_into_a_must_needs_other_words_for_a_class_at_least(
    tmp_path: Path, words: str, said: bool
) -> None:
    rule = advice("torch", must_when='"snow"') + f"[advice.class.glider]\n{words}\n"
    shipped = write(tmp_path / "shipped", head=HEAD, rules=advice("high-visibility", when='"always"'))
    own = write(tmp_path / "own", own=rule)
    if said:
        assert "torch" in {one.id for one in load(own, shipped=shipped).rules}
        return
    with pytest.raises(ChecklistError, match="the rule is a must already"):
        load(own, shipped=shipped)


def test_a_door_is_shown_by_where_it_is_seen_from_the_nose() -> None:
    glider = load_profiles()["glider"]
    bearings = (0.0, 180.0, -180.0, -90.0, 60.4)
    doors = tuple(Door(f"door {at}", bearing, 40.0, 60.0) for at, bearing in enumerate(bearings))
    shown = profiles_text({"glider": replace(glider, doors=doors)}).splitlines()
    said = [" ".join(line.split()) for line in shown if line.startswith("  door")]
    assert said == [
        f"door {at} {where} operate 40 kt, stay open 60 kt"
        for at, where in enumerate(("nose", "tail", "tail", "90° left", "60° right"))
    ]

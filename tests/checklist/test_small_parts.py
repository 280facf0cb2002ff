"""Small parts of the checklist by hand, where an edit went unnoticed: losses, lists, pages, places of faults."""

from __future__ import annotations

import random
from math import inf
from pathlib import Path

import msgspec
import pytest
from folders import HEAD, PROFILE, advice, write

from advisor.checklist import revision, show
from advisor.checklist.aircraft import load_profiles
from advisor.checklist.desk import manual
from advisor.checklist.desk.terms import Term, terms
from advisor.checklist.language import fold
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.nodes import Atom, Not
from advisor.checklist.language.physical import OrderLaw
from advisor.checklist.language.reader import _spans
from advisor.checklist.language.wording import _complement
from advisor.checklist.loosened import in_words, losses
from advisor.checklist.promises import promise
from advisor.checklist.rules import Rule
from advisor.checklist.toml.edit import _named
from advisor.checklist.toml.faults import _short, _spoilt
from advisor.errors import ChecklistError
from advisor.quantities import QUANTITIES

RULE = Rule(
    "invented", "caution", "gust_kt >= 28", ("walk_round", "doors_open"), "should", "Hold on.", "common-practice"
)


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ("0.9", "0.8", "surfaces: emissivity 0.9, now emissivity 0.8"),
        ("0.9", None, "surfaces: emissivity 0.9, now emissivity of each variant"),
        (None, "0.8", "surfaces: emissivity of each variant, now emissivity 0.8"),
        ("0.8", "0.9", None),
        ("0.8", "0.8", None),
        (None, None, None),
    ],
)
def test_a_skin_that_is_said_to_radiate_less_is_a_loss(tmp_path: Path, was, now, said) -> None:
    """A skin that radiates less is said to stay warmer at night, so frost is told later: common physics, no source."""

    def loaded(name: str, emissivity: str | None) -> revision.Checklist:
        folder = write(tmp_path / name, head=HEAD, rules=advice())
        line = "" if emissivity is None else f"emissivity = {emissivity}\n"
        write(folder / "aircraft", own=PROFILE.replace("[surfaces]\n", f"[surfaces]\n{line}"))
        return revision.load(folder, shipped=write(tmp_path / "none", head=HEAD, rules=advice()))

    found = losses(loaded("was", was), loaded("now", now))
    assert [in_words(loss) for loss in found if loss.what == "surfaces"] == ([] if said is None else [said])


def test_a_page_names_what_its_own_rule_lost_and_why(tmp_path: Path) -> None:
    shipped = write(tmp_path / "shipped", head=HEAD, rules=advice("torch") + advice("vest", when='"gust_kt >= 10"'))
    own = advice("torch", when='"illuminance_lx < 5"', reason='"The apron is lit."') + advice("vest", weight='"should"')
    loaded = revision.load(write(tmp_path / "own", own=own), shipped=shipped)
    said = show.page(loaded, "torch").splitlines()
    assert said[-2:] == ["  when: illuminance_lx < 20, now illuminance_lx < 5", "  reason: The apron is lit."]
    vest = show.page(loaded, "vest")
    assert "reason:" not in vest and "weight: must, now should" in vest and "illuminance_lx < 5" not in vest


def test_what_is_said_of_a_profile_as_data_has_its_emissivity_or_none() -> None:
    glider = load_profiles()["glider"]
    told = {
        "plain": msgspec.structs.replace(glider, emissivity=0.85),
        "unsaid": msgspec.structs.replace(glider, emissivity=float("nan")),
    }
    assert [row["emissivity"] for row in show.profiles_data(told)] == [0.85, None]


def test_a_long_line_of_a_page_goes_on_under_its_words() -> None:
    words = "word " * 40
    when, plain, whole = (show._wrapped([line]).splitlines() for line in (f"  when   {words}", f"  {words}", words))
    assert {line[:11] for line in when[1:]} == {"          w"}
    assert {line[:3] for line in plain[1:]} == {"  w"}
    assert {line[:3] for line in whole[1:]} == {"  w"}


def test_a_name_of_sixty_letters_is_told_whole_and_a_longer_one_is_cut_to_sixty() -> None:
    assert _short("a" * 60) == "a" * 60
    assert _short("a" * 61) == "a" * 59 + "…"


def test_a_fault_in_a_window_spoils_that_window_and_no_other() -> None:
    assert _spoilt(("windows", "jet", "walk_round", 0), {}) == ("windows", "jet")
    assert _spoilt(("advice", 3, "when"), {"advice": None}) == ("advice", 3, "when")  # type: ignore[dict-item]


def test_a_fault_of_a_copy_is_told_by_the_folder_s_own_name() -> None:
    told = _named(ChecklistError("1 fault", where="/copy/a.toml", faults=("/copy/a.toml:1:1: x",)), "/copy", "/own")
    assert (told.where, told.faults) == ("/own/a.toml", ("/own/a.toml:1:1: x",))


def test_a_denied_part_counts_as_two() -> None:
    node = compile_condition("gust_kt >= 28").node
    assert isinstance(node, Atom)
    assert (fold.size(node), fold.size(Not(node)), fold.size(Not(Not(node)))) == (1, 2, 3)


def test_a_term_has_both_ends_of_its_range_or_none() -> None:
    listed = {one.name: one for one in terms((), lambda _: ())}
    for name, row in QUANTITIES.items():
        ends = tuple(None if abs(end) == inf else end for end in (row.low, row.high))
        assert (listed[name].low, listed[name].high) == ends, name
    air: Term = listed["air_temperature_c"]
    assert air.low is not None and air.high is not None and air.low < -40 < 50 < air.high


@pytest.mark.parametrize("op", ["==", "!=", "<", "<=", ">", ">="])
def test_what_lies_outside_a_stretch_of_numbers_is_all_that_it_does_not_hold(op: str) -> None:
    drawn, inside = random.Random(4), _spans(op, 5.0)
    outside = _complement(inside)

    def holds(spans, value: float) -> bool:
        return any(
            (low < value or (shut and value == low)) and (value < high or (end and value == high))
            for low, shut, high, end in spans
        )

    for value in (5.0, *(drawn.uniform(0, 10) for _ in range(20))):
        meant = {"==": value == 5, "!=": value != 5, "<": value < 5, "<=": value <= 5, ">": value > 5, ">=": value >= 5}
        assert (holds(inside, value), holds(outside, value)) == (meant[op], not meant[op]), value
    # no number is infinite: an open end is never part of a stretch
    assert not any(shut for low, shut, _, _ in (*inside, *outside) if low == -inf)
    assert not any(end for _, _, high, end in (*inside, *outside) if high == inf)


def test_an_order_holds_by_its_factor_at_and_below_zero_alone() -> None:
    order = OrderLaw("invented_low", "invented_high", "invented", below_zero=0.5)
    assert [order.most(one) for one in (4.0, 0.0, -4.0, inf, -inf)] == [4.0, 0.0, -2.0, inf, -inf]
    assert [order.least(one) for one in (4.0, 0.0, -2.0, inf, -inf)] == [4.0, 0.0, -4.0, inf, -inf]


@pytest.mark.parametrize("name", ["text", "more", "must_text", "must_more", "short", "likely_text", "possible_text"])
def test_no_words_of_a_rule_may_promise_that_a_wing_is_clean(tmp_path: Path, name: str) -> None:
    given = {"weight": '"should"', "must_when": '"snow"', name: '"The wing is clean."'}
    shipped = write(tmp_path / "shipped", head=HEAD, rules=advice("torch"))
    with pytest.raises(ChecklistError) as told:
        revision.load(write(tmp_path / "own", own=advice("one", **given)), shipped=shipped)
    assert "promises what only an inspection can tell" in str(told.value)


def test_a_promise_is_read_clause_by_clause() -> None:
    assert promise("Look twice; the wing is clean.") is not None
    # what is asked for in the same clause is no promise, and what was asked before a semicolon does not excuse it
    assert promise("Check whether the wing is clean.") is None


@pytest.mark.parametrize(
    ("text", "promised"),
    [
        # the three that README_CAUTIONS.md names, in other words than the commonest
        ("The wing has no ice.", "wing has no ice"),
        ("Skip de-icing today.", "Skip de-icing"),
        ("Open the doors without danger.", "without danger"),
        ("There is no frost on the tail.", "There is no frost"),
        ("No snow on the wing.", "No snow on"),
        ("It carries no more slush.", "It carries no more slush"),
        ("The walk-round can be left out.", "walk-round can be left out"),
        ("Opening poses no risk.", "no risk"),
        # asked for, denied or forbidden
        ("Check that the wing has no ice.", None),
        ("Never skip the inspection.", None),
        ("Treatment cannot be left out.", None),
        ("Ask whether there is no frost on the tail.", None),
        ("No snow is forecast.", None),
        ("The forecast has no ice pellets in it.", None),
    ],
)
def test_what_reassures_is_refused_and_what_asks_is_not(text: str, promised: str | None) -> None:
    found = promise(text)
    assert (None if found is None else found[0]) == promised


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, ""),
        ({"classes": ("glider", "single-aisle-jet")}, "glider, single aisle jet"),
        ({"aircraft": ("ours", "theirs")}, "aircraft ours, theirs alone"),
        ({"stations": ("ZZZA",), "months": (11, 3)}, "at ZZZA alone; in Nov, Mar alone"),
    ],
)
def test_a_print_says_for_whom_where_and_when_a_rule_holds(given, said: str) -> None:
    assert manual._holds(msgspec.structs.replace(RULE, **given)) == said


def test_a_print_says_the_phases_of_a_rule_in_words() -> None:
    phases = manual._during(RULE).split("; ")
    assert len(phases) == 2 and all(phases) and "walk" in phases[0] and "door" in phases[1]


def test_other_changes_of_a_print_are_those_that_lose_nothing(tmp_path: Path) -> None:
    shipped = write(tmp_path / "shipped", head=HEAD, rules=advice("torch") + advice("vest", weight='"should"'))
    own = write(tmp_path / "own", own=advice("torch", when='"illuminance_lx < 5"') + advice("vest"))
    printed = manual.manual(revision.load(own, shipped=shipped), revision.load(shipped=shipped))
    first, second = printed.chapters[:2]
    assert ([one.title for one in first.items], first.words) == (["torch: loosened"], ())
    assert ([one.title for one in second.items], second.words) == (["vest: tightened"], ())
    same = manual.manual(revision.load(shipped=shipped), revision.load(shipped=shipped))
    assert [(one.items, one.words) for one in same.chapters[:2]] == [((), ("Nothing says less.",)), ((), ("None.",))]

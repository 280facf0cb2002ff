"""The evaluator against a second one, written from the design, and against situations worked by hand."""

from __future__ import annotations

import math
import random
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
import slow_rules

from advisor.checklist.evaluate import STATUSES, each_time, evaluate, explain
from advisor.checklist.rules import Rule
from advisor.conditions import NO, PHASES, UNKNOWN, YES, Case, Conditions, Windows
from advisor.quantities import QUANTITIES

NUMBERS = {"air_temperature_c": (-3, 3), "gust_kt": (0, 6), "frost_margin_c": (-3, 3)}
FLAGS = ["snow", "rain", "fog"]
CODES = {"light": 5}
WORDS = {"light": QUANTITIES["light"].values}
CASES = tuple(Case(f"case {number}", "", "central", "common-practice") for number in range(3))
WINDOWS = Windows((600, 1200), (300, 1500), 1800, 2400)


def rule(when, during=("walk_round",), **more):
    return Rule("one", "caution", when, tuple(during), "must", "Text", "common-practice", **more)


def conditions(times, columns, cases=3):
    return Conditions(np.asarray(times, float), 0.0, 0.0, CASES[:cases], columns)


def number(rows):
    return np.asarray(rows, dtype=np.float64)


def flag(rows):
    return np.asarray(rows, dtype=np.int8)


def one(when, times, columns, *, during=("walk_round",), now=0, cases=3, windows=WINDOWS):
    return evaluate([rule(when, during)], conditions(times, columns, cases), windows, now, "single-aisle-jet")[0]


def test_a_second_slow_evaluator_agrees_on_ten_thousand_random_situations():
    rng = random.Random(20261125)
    statuses = dict.fromkeys(("expected", "likely", "possible", "cannot tell", "not indicated"), 0)
    for _ in range(2500):
        walk = sorted(rng.sample(range(40), 2))
        doors = sorted(rng.sample(range(40), 2))
        off_block = max(walk[1], doors[1]) + rng.randint(0, 5)
        take_off = off_block + rng.randint(1, 8)
        windows = {"walk": tuple(walk), "doors": tuple(doors), "off_block": off_block, "take_off": take_off}
        now = rng.randint(0, take_off)
        times = sorted(rng.sample(range(56), rng.randint(1, 9)))
        if rng.random() < 0.7:
            times = sorted({now, *times, *walk, *doors, off_block, take_off})
        values = _random_values(rng, len(times))
        arrays = {
            name: (number if name in NUMBERS else flag)(
                [[_missing(name) if math.isnan(value) else value for value in row] for row in rows]
            )
            for name, rows in values.items()
        }
        table = [
            [{name: rows[case][at] for name, rows in values.items()} for at in range(len(times))] for case in range(3)
        ]
        trees = [slow_rules.random_tree(rng, NUMBERS, FLAGS, CODES) for _ in range(4)]
        if rng.random() < 0.05:
            trees[0] = ("always",)
        durings = [tuple(rng.sample(PHASES, rng.randint(1, 3))) for _ in trees]
        rules = [rule(slow_rules.text(tree, WORDS), during) for tree, during in zip(trees, durings, strict=True)]
        given = Windows(tuple(walk), tuple(doors), off_block, take_off)
        found = evaluate(rules, conditions(times, arrays), given, now, "glider")
        for tree, during, finding in zip(trees, durings, found, strict=True):
            status, decided, span = slow_rules.evaluate(tree, during, table, times, windows, now)
            assert finding.status == status, (finding.rule.when, during)
            if decided is not None:
                assert (finding.case, finding.time) == decided
                assert (finding.from_s, finding.until_s) == span
            statuses[status] += 1
    assert sum(statuses.values()) == 10_000
    assert min(statuses.values()) > 300  # no status goes untried


def test_the_second_reader_reads_what_was_written():
    rng = random.Random(20261127)
    for _ in range(500):
        tree = slow_rules.random_tree(rng, NUMBERS, FLAGS, CODES)
        again = slow_rules.read(slow_rules.text(tree, WORDS), WORDS)
        values = {name: rows[0][0] for name, rows in _random_values(rng, 1).items()}
        assert slow_rules.truth(again, values) == slow_rules.truth(tree, values), slow_rules.text(tree, WORDS)
        assert slow_rules.names(again) == slow_rules.names(tree)
    # docs/rule-language.md: not binds most, then and, then or
    rain = slow_rules.read("rain and not freezing_rain or hail")
    assert rain == ("or", [("and", [("flag", "rain"), ("not", ("flag", "freezing_rain"))]), ("flag", "hail")])
    with pytest.raises(ValueError, match="hail"):
        slow_rules.read("rain hail")
    assert slow_rules.truth(slow_rules.read("wind_chill_c <= -10"), {"wind_chill_c": None}) == "no"


def _random_values(rng, count):
    """Values [case][time] by name, NaN for missing; a whole quantity may be missing or hold throughout."""
    names = [*NUMBERS, *FLAGS, *CODES]
    table = {}
    for name in names:
        low, high = NUMBERS.get(name, (0, CODES.get(name, 2) - 1))
        share = rng.choice([0.0, 0.0, 0.1, 0.5, 1.0])
        steady = rng.random() < 0.3
        fixed = rng.randint(low, high)
        table[name] = [
            [math.nan if rng.random() < share else fixed if steady else rng.randint(low, high) for _ in range(count)]
            for _ in range(3)
        ]
    return table


def _missing(name):
    return math.nan if name in NUMBERS else -1


TIMES = [0, 300, 600, 900, 1200, 1500, 1800, 2100, 2400]


def test_yes_in_every_case_is_expected_and_the_central_case_decides():
    gust = np.full((3, 9), 10.0)
    gust[0, 3], gust[1, 2], gust[2, 4] = 30, 35, 40
    finding = one("gust_kt >= 28", TIMES, {"gust_kt": gust})
    assert (finding.status, finding.case, finding.time) == ("expected", 0, 3)
    assert (finding.from_s, finding.until_s, finding.phase) == (600, 1200, "walk_round")


def test_yes_in_one_case_only_is_possible_and_that_case_decides():
    gust = np.full((3, 9), 10.0)
    gust[2, 2:4] = 30
    finding = one("gust_kt >= 28", TIMES, {"gust_kt": gust})
    assert (finding.status, finding.case, finding.time) == ("possible", 2, 2)
    assert (finding.from_s, finding.until_s) == (600, 900)


def test_no_yes_and_one_missing_value_cannot_be_told_and_names_it():
    gust = np.full((3, 9), 10.0)
    gust[1, 4] = np.nan
    finding = one("gust_kt >= 28 or snow", TIMES, {"gust_kt": gust, "snow": np.zeros((3, 9), np.int8)})
    assert (finding.status, finding.case, finding.time) == ("cannot tell", 1, 4)
    assert finding.missing == ("gust_kt",)


def test_a_missing_value_that_cannot_matter_is_not_named():
    columns = {"snow": np.zeros((3, 9), np.int8)}
    assert one("gust_kt >= 28 and snow", TIMES, columns).status == "not indicated"
    columns = {"fog": np.full((3, 9), -1, np.int8)}
    finding = one("(gust_kt >= 28 and snow) or fog", TIMES, columns | {"snow": np.zeros((3, 9), np.int8)})
    assert finding.missing == ("fog",)


def test_window_edges_belong_to_the_window():
    for at, status in ((599, "not indicated"), (600, "expected"), (1200, "expected"), (1201, "not indicated")):
        gust = np.full((1, 4), 0.0)
        gust[0, 1] = 30
        finding = one("gust_kt >= 28", [0, at, 1300, 2400], {"gust_kt": gust}, cases=1)
        assert finding.status == status, at


def test_nothing_before_now_counts_and_a_window_wholly_past_contributes_nothing():
    gust = np.full((1, 9), 30.0)
    gust[0, 5:] = 0
    assert one("gust_kt >= 28", TIMES, {"gust_kt": gust}, now=1200, cases=1).status == "expected"
    finding = one("gust_kt >= 28", TIMES, {"gust_kt": gust}, now=1201, cases=1)
    assert (finding.status, finding.passed) == ("not indicated", True)
    mixed = one("gust_kt >= 28", TIMES, {"gust_kt": gust}, now=1201, cases=1, during=("walk_round", "off_block"))
    assert (mixed.status, mixed.passed) == ("not indicated", False)


def test_always_is_expected_whatever_is_missing_but_not_after_its_window():
    assert one("always", TIMES, {}).status == "expected"
    assert one("always", [], {"gust_kt": np.zeros((3, 0))}).status == "expected"
    assert one("always", TIMES, {}, now=1300).passed


def test_always_stands_in_the_central_case_at_the_first_time_of_its_window():
    assert [getattr(one("always", TIMES, {}), name) for name in ("case", "time", "phase")] == [0, 2, "walk_round"]
    # without any time on the grid it stands there all the same
    none = one("always", [], {"gust_kt": np.zeros((3, 0))})
    assert (none.case, none.time, none.phase, none.from_s, none.until_s) == (0, 0, "walk_round", 600, 1200)


def test_a_window_that_the_grid_does_not_cover_is_not_a_no():
    calm = {"gust_kt": np.zeros((3, 3))}
    assert one("gust_kt >= 28", [0, 300, 700], calm).status == "cannot tell"
    assert one("gust_kt >= 28", [700, 800, 1300], calm).status == "cannot tell"
    assert one("gust_kt >= 28", [0, 300, 1200], calm).status == "not indicated"


def test_a_rule_of_another_class_is_left_out_and_a_class_may_differ():
    here = rule("gust_kt >= 28", classes=("glider",))
    grid = conditions(TIMES, {"gust_kt": np.full((3, 9), 30.0)})
    assert evaluate([here], grid, WINDOWS, 0, "helicopter") == []
    assert evaluate([here], grid, WINDOWS, 0, "glider")[0].rule.weight == "must"


def test_explain_gives_the_band_over_the_cases_at_the_deciding_time():
    gust = np.array([[0.0, 30, 31], [0, 28, 32], [0, np.nan, 33]])
    grid = conditions([600, 900, 1200], {"gust_kt": gust, "snow": flag([[0, 0, 1], [0, 0, 0], [0, 0, -1]])})
    here = rule("gust_kt >= 28 or snow")
    finding = evaluate([here], grid, WINDOWS, 600, "glider")[0]
    [because] = explain(finding.rule, grid, finding)
    assert (because.quantity, because.unit, because.test, because.at) == ("gust_kt", "kt", "gust_kt >= 28", 900)
    assert (because.low, because.central, because.high) == (28, 30, 30)


def test_a_missing_flag_is_no_part_of_its_band():
    grid = conditions([600, 1200], {"snow": flag([[1, 1], [0, 0], [-1, -1]])})
    finding = evaluate([rule("snow")], grid, WINDOWS, 600, "glider")[0]
    [because] = explain(finding.rule, grid, finding)
    assert (finding.status, because.low, because.central, because.high) == ("likely", 0, 1, 1)


def test_explain_turns_a_denied_comparison_round():
    grid = conditions([600, 1200], {"snow": np.zeros((3, 2), np.int8), "gust_kt": np.full((3, 2), 5.0)})
    finding = evaluate([rule("not (snow or gust_kt > 9)")], grid, WINDOWS, 600, "glider")[0]
    assert [one.test for one in explain(finding.rule, grid, finding)] == ["not snow", "not (gust_kt > 9)"]


def test_explain_of_an_unknown_shows_what_holds_and_what_is_missing():
    columns = {"air_temperature_c": np.full((3, 2), 3.0)}
    grid = conditions([600, 1200], columns)
    finding = evaluate(
        [rule("-2 <= air_temperature_c <= 15 and fuel_temperature_c < 0")], grid, WINDOWS, 600, "glider"
    )[0]
    assert finding.missing == ("fuel_temperature_c",)
    because = explain(finding.rule, grid, finding)
    assert [one.quantity for one in because] == ["air_temperature_c", "fuel_temperature_c"]
    assert because[0].central == 3
    assert math.isnan(because[1].low) and math.isnan(because[1].central) and math.isnan(because[1].high)


def test_explain_of_an_unknown_leaves_out_what_is_merely_no():
    columns = {"snow": np.zeros((3, 2), np.int8), "rain": np.ones((3, 2), np.int8)}
    grid = conditions([600, 1200], columns)
    for when, quantities in (
        ("snow or gust_kt >= 28", ["gust_kt"]),
        ("not (rain and gust_kt >= 28)", ["gust_kt"]),
        ("not (snow or gust_kt >= 28)", ["snow", "gust_kt"]),
    ):
        finding = evaluate([rule(when)], grid, WINDOWS, 600, "glider")[0]
        assert [one.quantity for one in explain(finding.rule, grid, finding)] == quantities


def test_explain_has_nothing_to_say_of_always():
    grid = conditions([600, 1200], {})
    finding = evaluate([rule("always")], grid, WINDOWS, 600, "glider")[0]
    assert explain(finding.rule, grid, finding) == []


@pytest.mark.parametrize("shape", [(), (1,), (4,), (1, 4), (3, 1), (3, 4)])
def test_a_column_may_have_any_shape_that_broadcasts(shape):
    grid = conditions([600, 700, 800, 1200], {"gust_kt": np.full(shape, 30.0)})
    finding = evaluate([rule("gust_kt >= 28")], grid, WINDOWS, 600, "glider")[0]
    assert finding.status == "expected"
    assert explain(finding.rule, grid, finding)[0].central == 30


def _random_grid(rng):
    arrays = {}
    for name, rows in _random_values(rng, len(TIMES)).items():
        shown = [[_missing(name) if math.isnan(value) else value for value in row] for row in rows]
        arrays[name] = (number if name in NUMBERS else flag)(shown)
    return arrays


def test_losing_a_quantity_never_takes_a_line_away():
    rng = random.Random(11)
    for _ in range(800):
        arrays = _random_grid(rng)
        when = slow_rules.text(slow_rules.random_tree(rng, NUMBERS, FLAGS, CODES), WORDS)
        before = one(when, TIMES, arrays)
        lost = rng.choice(list(arrays))
        gone = {name: values for name, values in arrays.items() if name != lost}
        blank = arrays | {lost: np.full_like(arrays[lost], _missing(lost))}
        for columns in (gone, blank):
            after = one(when, TIMES, columns)
            assert before.status == "not indicated" or after.status != "not indicated"
        assert one(when, TIMES, gone) == one(when, TIMES, blank)


def test_asking_for_longer_never_takes_a_line_away():
    rng = random.Random(12)
    for _ in range(800):
        arrays = _random_grid(rng)
        when = slow_rules.text(slow_rules.random_tree(rng, NUMBERS, FLAGS, CODES), WORDS)
        phases = rng.sample(PHASES, rng.randint(1, 4))
        more = [*phases, rng.choice([phase for phase in PHASES if phase not in phases])]
        now = rng.choice([0, 0, 700, 1300])
        before, after = (one(when, TIMES, arrays, during=during, now=now).status for during in (phases, more))
        assert before == "not indicated" or after != "not indicated"
        assert before != "expected" or after == "expected"


def test_one_more_case_never_takes_a_line_away():
    rng = random.Random(13)
    for _ in range(400):
        arrays = _random_grid(rng)
        when = slow_rules.text(slow_rules.random_tree(rng, NUMBERS, FLAGS, CODES), WORDS)
        fewer = {name: values[:2] for name, values in arrays.items()}
        before, after = one(when, TIMES, fewer, cases=2).status, one(when, TIMES, arrays).status
        assert before == "not indicated" or after != "not indicated"


def test_at_each_time_the_cases_decide_the_status_in_every_combination():
    """All 27 answers of three cases, the first the central one; the meaning of each word is docs/rule-language.md's."""

    def meant(answers):
        if all(one == YES for one in answers):
            return "expected"
        if answers[0] == YES:
            return "likely"
        if YES in answers:
            return "possible"
        return "cannot tell" if UNKNOWN in answers else "not indicated"

    every = list(product((YES, NO, UNKNOWN), repeat=3))
    table = np.array(every).T
    found = each_time(SimpleNamespace(pairs=[(table == YES, table == NO)]))
    assert [STATUSES[code] for code in found[0]] == [meant(answers) for answers in every]

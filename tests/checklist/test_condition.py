"""The rule language: what is read, what is refused and where, and three-valued truth."""

from __future__ import annotations

import random

import numpy as np
import pytest
import slow_rules
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.checklist.language.condition import ConditionError, compile_condition, evaluate_many
from advisor.quantities import COLUMNS, QUANTITIES

NUMBERS = {"air_temperature_c": (-3, 3), "gust_kt": (0, 6)}
FLAGS = ["snow", "rain"]
CODES = {"light": 5}
WORDS = {"light": QUANTITIES["light"].values}
NAN = float("nan")


def holds(text, **values):
    """Truth of a condition for single values: True, False or None for unknown."""
    columns = {}
    for name, value in values.items():
        kind = np.float64 if COLUMNS[name].kind == "number" else np.int8
        columns[name] = np.array([[value]], dtype=kind)
    yes, no = compile_condition(text).evaluate(columns, (1, 1))
    assert not (yes & no).any()
    return True if yes[0, 0] else False if no[0, 0] else None


@pytest.mark.parametrize(
    ("text", "values", "answer"),
    [
        ("illuminance_lx < 20", {"illuminance_lx": 19.9}, True),
        ("illuminance_lx < 20", {"illuminance_lx": 20}, False),
        ("illuminance_lx <= 20", {"illuminance_lx": 20}, True),
        ("20 > illuminance_lx", {"illuminance_lx": 19}, True),
        ("20 >= illuminance_lx", {"illuminance_lx": 20}, True),
        ("-2 <= air_temperature_c <= 15", {"air_temperature_c": -2}, True),
        ("-2 < air_temperature_c <= 15", {"air_temperature_c": -2}, False),
        ("15 >= air_temperature_c > -2", {"air_temperature_c": 15}, True),
        ("15 >= air_temperature_c > −2", {"air_temperature_c": -2}, False),
        ("snow_intensity == 3", {"snow_intensity": 3}, True),
        ("snow_intensity != 3", {"snow_intensity": 3}, False),
        ("snow_intensity in (3, 4)", {"snow_intensity": 4}, True),
        ("snow_intensity not in (3, 4)", {"snow_intensity": 3.5}, True),
        ("snow_intensity in (3)", {"snow_intensity": 3}, True),
        ('light == "full dark"', {"light": 4}, True),
        ('light != "full dark"', {"light": 4}, False),
        ('light in ("day", "civil twilight")', {"light": 1}, True),
        ('light not in ("day", "civil twilight")', {"light": 1}, False),
        ("snow", {"snow": 1}, True),
        ("not snow", {"snow": 1}, False),
        ("snow and rain or fog", {"snow": 0, "rain": 0, "fog": 1}, True),
        ("snow and (rain or fog)", {"snow": 0, "rain": 0, "fog": 1}, False),
        ("not snow and rain", {"snow": 0, "rain": 1}, True),
        ("snow\n  and\n\train", {"snow": 1, "rain": 1}, True),
        ("always", {}, True),
        (" ( always ) ", {}, True),
    ],
)
def test_a_condition_answers_as_it_reads(text, values, answer):
    assert holds(text, **values) is answer


@pytest.mark.parametrize(
    ("text", "values", "answer"),
    [
        ("gust_kt >= 0", {"gust_kt": NAN}, None),
        ("not gust_kt >= 0", {"gust_kt": NAN}, None),
        ("gust_kt != 5", {"gust_kt": NAN}, None),
        ("gust_kt not in (5, 6)", {"gust_kt": NAN}, None),
        ("gust_kt < 5 or gust_kt >= 5", {"gust_kt": NAN}, None),
        ("gust_kt >= 0", {}, None),
        ("snow", {"snow": -1}, None),
        ("not snow", {"snow": -1}, None),
        ('light != "day"', {"light": -1}, None),
        ('light not in ("day",)', {"light": -1}, None),
        ("snow and rain", {"snow": -1, "rain": 0}, False),
        ("snow and rain", {"snow": -1, "rain": 1}, None),
        ("snow or rain", {"snow": -1, "rain": 1}, True),
        ("snow or rain", {"snow": -1, "rain": 0}, None),
    ],
)
def test_missing_is_neither_yes_nor_no(text, values, answer):
    assert holds(text, **values) is answer


@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("gust > 3", 1, "unknown quantity 'gust'; did you mean 'gust_kt'?"),
        ("  gust > 3", 3, "unknown quantity 'gust'"),
        ("\n\tsnow and gust > 3", 12, "unknown quantity 'gust'"),
        ("snow and temperature > 3", 10, "did you mean 'air_temperature_c'?"),
        ("wind_kt < gust_kt", 11, "two quantities in one comparison"),
        ("3 < wind_kt < gust_kt", 15, "two quantities in one comparison"),
        ("wind_kt > 999", 11, "999 is outside the range of wind_kt; it takes a number from 0 to 200"),
        ("wind_kt > -1", 11, "outside the range"),
        ("wind_kt > 1e999", 11, "outside the range"),
        ("wind_kt > " + "9" * 1900, 11, "outside the range"),
        ("wind_kt > 'a'", 11, "wind_kt is a number in kt"),
        ("wind_kt > True", 11, "wind_kt is a number in kt"),
        ("wind_kt > 1j", 11, "leave the unit out"),
        ("wind_kt", 1, 'compare it, such as "wind_kt >= 1"'),
        ("not wind_kt", 5, "compare it"),
        ("light", 1, "one of several words"),
        ("light > 'day'", 1, 'compare it with "==", "!=" or "in (…)"'),
        ("light == 'ful dark'", 10, "did you mean 'full dark'?"),
        ("light == 3", 10, "one of several words"),
        ("light in ('day', 'dusk')", 18, "'dusk' is no value of light"),
        ("snow == 1", 1, 'write "snow" or "not snow"'),
        ("snow > 0", 1, 'write "snow" or "not snow"'),
        ("wind_kt is 3", 1, 'write "==" or "!="'),
        ("wind_kt in ()", 12, "an empty list"),
        ("wind_kt in [1, 2]", 12, "a list in square brackets is not allowed"),
        ("5 < wind_kt < 2", 1, "no number can meet this"),
        ("5 < wind_kt <= 5", 1, "no number can meet this"),
        ("5 < wind_kt > 2", 1, 'write it as "low <= wind_kt <= high"'),
        ("wind_kt < 5 < 7", 1, "this chain cannot be read"),
        ("1 < 2", 1, "no quantity in this comparison"),
        ("snow and 3", 10, "a value alone says nothing"),
        ("wind_kt + 1 > 2", 1, "arithmetic is not allowed"),
        ("wind_kt > 1 + 1", 11, "arithmetic is not allowed"),
        ("wind_kt > --3", 12, "wind_kt is a number"),
        ("__import__('os')", 1, "a call is not allowed"),
        ("wind_kt.real > 1", 1, "an attribute is not allowed"),
        ("wind_kt[0] > 1", 1, "an index is not allowed"),
        ("lambda: 3", 1, "a function is not allowed"),
        ("snow if rain else fog", 1, "if … else is not allowed"),
        ("(snow := rain)", 2, "an assignment is not allowed"),
        ("f'{snow}'", 1, "a built text is not allowed"),
        ("[snow for snow in rain]", 1, "this form is not allowed"),
        ("always and snow", 1, "always stands alone"),
        ("not always", 5, "always stands alone"),
        ("gust_kt >= 28 kt", 12, "leave the unit out"),
        ("gust_kt >= 28kt and snow", 12, "leave the unit out"),
        ("gust_kt ≥ 28", 9, 'write ">="'),
        ("snow # and rain", 6, "'#' has no meaning here"),
        ("snow and ü", 10, "'ü' has no meaning here"),
        ("ｓnow", 1, "has no meaning here"),
        ("snow \\\n and rain", 6, "'\\\\' has no meaning here"),
        ("snow rain", 6, "not a condition"),
        ("snow and", 8, "not a condition"),
        ("  (snow", 3, "not a condition"),
        ("", 1, "no condition"),
        (" \n ", 1, "no condition"),
        ("\0snow", 1, "has no meaning here"),
    ],
)
def test_what_the_language_lacks_is_refused_at_its_place(text, column, says):
    with pytest.raises(ConditionError) as caught:
        compile_condition(text)
    assert caught.value.offset + 1 == column
    assert says in str(caught.value)
    assert caught.value.exit_code == 4


@pytest.mark.parametrize(
    "text",
    [
        "(" * 900 + "snow" + ")" * 900,
        "not " * 400 + "snow",
        "snow and (" * 150,
        "-" * 1500 + "1",
        "[" * 1900,
        "wind_kt > " + "-" * 1900 + "1",
        "snow and " * 220 + "snow or " * 2 + "x",
        "x" * 5000,
    ],
)
def test_length_and_nesting_have_a_bound(text):
    with pytest.raises(ConditionError):
        compile_condition(text)


def test_many_parts_side_by_side_are_not_deep():
    text = " or ".join(f"gust_kt == {number}" for number in range(100))
    assert holds(text, gust_kt=99) is True


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_with_a_place_inside_it(text):
    try:
        compile_condition(text)
    except ConditionError as error:
        assert 0 <= error.offset <= max(len(text) - 1, 0)


@given(st.text(alphabet="snowraigut_k <>=!()'\"0123456789.,-+andort \n", max_size=60))
def test_any_text_of_the_language_s_own_letters_is_read_or_refused(text):
    try:
        compile_condition(text)
    except ConditionError as error:
        assert 0 <= error.offset <= max(len(text) - 1, 0)


trees = st.integers(0, 10**9).map(
    lambda seed: slow_rules.random_tree(random.Random(seed), NUMBERS, FLAGS, CODES, depth=4)
)
values = st.fixed_dictionaries(
    {
        "air_temperature_c": st.sampled_from([NAN, -3, -2.5, -1, 0, 1, 1.5, 3]),
        "gust_kt": st.sampled_from([NAN, 0, 1, 2, 2.5, 4, 6]),
        "snow": st.sampled_from([NAN, 0, 1]),
        "rain": st.sampled_from([NAN, 0, 1]),
        "light": st.sampled_from([NAN, 0, 1, 2, 3, 4]),
    }
)


@settings(max_examples=300)
@given(trees, st.lists(values, min_size=1, max_size=6))
def test_arrays_scalars_and_a_naive_reading_agree(tree, rows):
    condition = compile_condition(slow_rules.text(tree, WORDS))
    columns = {
        name: np.array(
            [[row[name] if row[name] == row[name] or name in NUMBERS else -1 for row in rows]],
            dtype=np.float64 if name in NUMBERS else np.int8,
        )
        for name in rows[0]
    }
    yes, no = condition.evaluate(columns, (1, len(rows)))
    for at, row in enumerate(rows):
        expected = slow_rules.truth(tree, row)
        assert ("yes" if yes[0, at] else "no" if no[0, at] else "unknown") == expected
        assert {1: "yes", 0: "no", -1: "unknown"}[condition.truth(columns, 0, at)] == expected


@settings(max_examples=200)
@given(trees, trees, values)
def test_kleene_laws_hold(first, second, row):
    one, two = slow_rules.text(first, WORDS), slow_rules.text(second, WORDS)

    def answer(text):
        return holds(text, **{name: value if value == value or name in NUMBERS else -1 for name, value in row.items()})

    assert answer(f"not (({one}) and ({two}))") is answer(f"not ({one}) or not ({two})")
    assert answer(f"not (({one}) or ({two}))") is answer(f"not ({one}) and not ({two})")
    assert answer(f"not (not ({one}))") is answer(one)
    assert answer(f"({one}) and ({two})") is answer(f"({two}) and ({one})")


@settings(max_examples=200)
@given(trees, values, st.sampled_from(["air_temperature_c", "gust_kt", "snow", "rain", "light"]))
def test_losing_a_value_never_turns_yes_into_no_or_no_into_yes(tree, row, lost):
    before, after = slow_rules.truth(tree, row), slow_rules.truth(tree, row | {lost: NAN})
    columns = {
        name: np.array(
            [[value if value == value or name in NUMBERS else -1]], np.float64 if name in NUMBERS else np.int8
        )
        for name, value in row.items()
        if name != lost
    }
    condition = compile_condition(slow_rules.text(tree, WORDS))
    now = {1: "yes", 0: "no", -1: "unknown"}[condition.truth(columns, 0, 0)]
    assert now == after
    assert now in (before, "unknown")


@settings(max_examples=200)
@given(trees, values)
def test_the_reasons_alone_already_decide(tree, row):
    """With every quantity that is not among the reasons lost, the answer stays."""
    condition = compile_condition(slow_rules.text(tree, WORDS))

    def columns(names):
        return {
            name: np.array(
                [[row[name] if row[name] == row[name] or name in NUMBERS else -1]],
                np.float64 if name in NUMBERS else np.int8,
            )
            for name in names
        }

    whole = columns(row)
    answer = condition.truth(whole, 0, 0)
    reasons = condition.reasons(whole, 0, 0)
    assert reasons
    if answer != -1:
        assert condition.truth(columns({reading.quantity for reading in reasons}), 0, 0) == answer
    else:
        assert any(reading.truth == -1 for reading in reasons)


def test_explain_lists_every_comparison_with_value_and_truth():
    condition = compile_condition("gust_kt >= 28 and not snow or air_temperature_c < 0")
    columns = {"gust_kt": np.array([[20.0, 30.0]]), "snow": np.array([[0, -1]], np.int8)}
    rows = [(one.quantity, one.test, one.truth) for one in condition.explain(columns, 0, 1)]
    assert rows == [
        ("gust_kt", "gust_kt >= 28", 1),
        ("snow", "not snow", -1),
        ("air_temperature_c", "air_temperature_c < 0", -1),
    ]
    assert condition.explain(columns, 0, 0)[0].value == 20
    # a denied comparison counts as it reads: "not snow" holds where there is none
    assert [(one.test, one.truth) for one in condition.explain(columns, 0, 0)][1] == ("not snow", 1)


def test_no_numpy_warning_over_missing_infinite_and_extreme_values():
    column = np.array([[NAN, np.inf, -np.inf, 1e308, -1e308, 0.0]])
    with np.errstate(all="raise"):
        yes, no = compile_condition("gust_kt < 5 or not 3 <= gust_kt <= 4").evaluate({"gust_kt": column}, (1, 6))
    assert yes[0].tolist() == [False, True, True, True, True, True]
    assert no[0].tolist() == [False] * 6


def test_rules_that_share_a_comparison_are_evaluated_together_as_alone():
    texts = ["gust_kt >= 28", "gust_kt >= 28 and snow", "not gust_kt >= 28", "snow"]
    columns = {"gust_kt": np.array([[NAN, 20, 30.0]]), "snow": np.array([[1, 0, -1]], np.int8)}
    conditions = [compile_condition(text) for text in texts]
    together = evaluate_many(conditions, columns, (1, 3))
    for condition, (yes, no) in zip(conditions, together, strict=True):
        alone = condition.evaluate(columns, (1, 3))
        assert np.array_equal(yes, alone[0]) and np.array_equal(no, alone[1])


def test_a_condition_knows_its_quantities_in_order():
    assert compile_condition("snow and gust_kt > 3 or snow").quantities == ("snow", "gust_kt")
    assert compile_condition("always").quantities == ()
    assert compile_condition("always").always


def test_spacing_and_order_do_not_change_the_canonical_text():
    one = compile_condition("snow and 3 < gust_kt and (rain or fog)").canonical
    two = compile_condition("(fog   or rain) and gust_kt > 3.0 and snow").canonical
    assert one == two
    assert one != compile_condition("snow and 3 <= gust_kt and (rain or fog)").canonical


@pytest.mark.parametrize(
    ("text", "absent", "answer"),
    [
        # the index of 2001 ends at 10 °C and 4.8 km/h: beyond it there is none, and no comparison with it is met
        ("wind_chill_c <= -10", 1, False),
        ("wind_chill_c > -10", 1, False),
        ("not wind_chill_c <= -10", 1, True),
        ("wind_chill_c <= -10 or snow", 1, None),
        # an index that cannot be told is not known, and one that is there is compared
        ("wind_chill_c <= -10", 0, None),
        ("wind_chill_c <= -10", -1, None),
    ],
)
def test_what_does_not_exist_is_no_and_not_missing(text, absent, answer):
    values = {"wind_chill_c": NAN, "wind_chill_absent": absent, "snow": -1}
    assert holds(text, **values) is answer
    columns = {name: np.array([[value]], np.int8 if "_c" not in name else float) for name, value in values.items()}
    columns["wind_chill_absent"] = np.array([[absent]], np.int8)
    assert compile_condition(text).truth(columns, 0, 0) == {True: 1, False: 0, None: -1}[answer]
    assert holds("wind_chill_c <= -10", wind_chill_c=-12, wind_chill_absent=0) is True

"""Two conditions compared, held against brute force over every value that can matter."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
import slow_rules

from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.decide import decide
from advisor.quantities import QUANTITIES

NAN = float("nan")
WORDS = {"light": QUANTITIES["light"].values}
RANK = {"no": 0, "unknown": 1, "yes": 2}


def compared(old, new):
    return compile_condition(old).compare(compile_condition(new))


def compared_freely(old, new):
    """With every quantity free of the others."""
    return decide(compile_condition(old).node, compile_condition(new).node, physics=False).change


@pytest.mark.parametrize(
    ("old", "new", "answer"),
    [
        ("gust_kt >= 28", "gust_kt >= 28.0", "same"),
        ("gust_kt >= 28", "not gust_kt < 28", "same"),
        ("gust_kt >= 28", "gust_kt > 28 or gust_kt == 28", "same"),
        ("gust_kt >= 28", "gust_kt >= 25", "tightened"),
        ("gust_kt >= 28", "gust_kt > 28", "loosened"),
        ("gust_kt >= 28", "gust_kt < 28", "both ways"),
        ("gust_kt >= 28", "gust_kt >= 20 and snow", "both ways"),
        ("snow and gust_kt >= 28", "snow", "tightened"),
        ("snow or rain", "snow", "loosened"),
        ("snow", "rain", "both ways"),
        ("always", "snow", "loosened"),
        ("snow", "always", "tightened"),
        # yes for every number, but missing leaves it unknown: less than always
        ("always", "gust_kt >= 0", "loosened"),
        ("snow and not snow", "rain and not rain", "both ways"),
        ("snow and rain", "rain and snow", "same"),
        ("not (snow or rain)", "not snow and not rain", "same"),
        ('light in ("day", "civil twilight")', 'not light in ("day", "civil twilight")', "both ways"),
        ('light not in ("day", "full dark")', 'light != "day" and light != "full dark"', "same"),
        ("-2 <= air_temperature_c <= 15", "-3 <= air_temperature_c <= 15", "tightened"),
        ("-2 <= air_temperature_c <= 15", "-3 <= air_temperature_c <= 14", "both ways"),
    ],
)
def test_what_a_change_does(old, new, answer):
    assert compared(old, new) == answer


def test_brute_force_agrees_on_random_pairs():
    numbers, flags, codes = {"gust_kt": (0, 3), "wind_kt": (0, 3)}, ["snow", "rain"], {"light": 5}
    points = {
        "gust_kt": [NAN, *np.arange(-0.5, 4, 0.5)],
        "wind_kt": [NAN, *np.arange(-0.5, 4, 0.5)],
        "snow": [NAN, 0, 1],
        "rain": [NAN, 0, 1],
        "light": [NAN, 0, 1, 2, 3, 4],
    }
    rng = random.Random(7)
    seen = set()
    for _ in range(150):
        old = slow_rules.random_tree(rng, numbers, flags, codes, depth=2)
        new = old if rng.random() < 0.1 else slow_rules.random_tree(rng, numbers, flags, codes, depth=2)
        if rng.random() < 0.4:
            new = (rng.choice(["and", "or"]), [old, new])
        names = sorted({name for name in points if name in slow_rules.text(("and", [old, new]), WORDS)})
        more = less = False
        for row in itertools.product(*(points[name] for name in names)):
            values = dict(zip(names, row, strict=True))
            before, after = RANK[slow_rules.truth(old, values)], RANK[slow_rules.truth(new, values)]
            more, less = more or after > before, less or after < before
            if more and less:
                break
        answer = "both ways" if more and less else "tightened" if more else "loosened" if less else "same"
        assert compared_freely(slow_rules.text(old, WORDS), slow_rules.text(new, WORDS)) == answer
        seen.add(answer)
    assert seen == {"same", "tightened", "loosened", "both ways"}


def test_many_quantities_side_by_side_are_decided():
    flags = [name for name, row in QUANTITIES.items() if row.kind == "flag"]
    assert len(flags) > 30
    whole = " or ".join(flags)
    assert compared(whole, " or ".join(reversed(flags))) == "same"
    assert compared(whole, " or ".join(flags[1:])) == "loosened"
    assert compared(f"not ({whole})", f"not ({' or '.join(flags[1:])})") == "tightened"


def test_work_is_bounded_and_says_so():
    flags = [name for name, row in QUANTITIES.items() if row.kind == "flag"]
    halves = flags[:15], flags[15:30]
    # pairs whose partners lie far apart: every subset of the first half has to be remembered
    old = " or ".join(f"({one} and {two})" for one, two in zip(*halves, strict=True))
    new = " or ".join(f"({one} and {two})" for one, two in zip(halves[0], reversed(halves[1]), strict=True))
    node = compile_condition(f"({old}) and ({new})").node
    # the same by De Morgan, which only the whole walk can show
    other = compile_condition(f"not (not ({old}) or not ({new}))").node
    assert decide(node, other, work=2000).change == "cannot decide"


def test_a_condition_that_no_weather_meets_is_known():
    assert not compile_condition("snow and not snow").can_hold()
    assert not compile_condition("gust_kt < 5 and gust_kt > 6").can_hold()
    assert compile_condition("gust_kt < 5 and gust_kt > 4").can_hold()
    assert compile_condition("always").can_hold()

"""Closures from the weather and holdover over time, from skies written out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from nights import NOW, at, minute, need, pad, pads, plan, sky, table

from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.field import field
from advisor.slots.limits import limits, why_none
from advisor.slots.rehearse import carry_out
from advisor.slots.scenarios import draw
from advisor.slots.stops import closures


def test_thunder_shuts_every_pad_and_half_an_hour_after_it() -> None:
    held = pads(pad("P1"), pad("P2"))
    sure, may = closures(sky(thunder=(20, 40)), held, NOW)
    # seen on the grid at 20 to 40; it may end up to 5 min later, and 30 min are waited
    assert [(one.pads, (one.from_s - NOW) // 60, (one.until_s - NOW) // 60, one.why) for one in sure] == [
        (("P1", "P2"), 20, 75, "lightning")
    ]
    assert may == ()
    one = plan([need("A", 15, conditions=sky(thunder=(20, 40)))], held)
    assert minute(at(one, "A").start) == 75


def test_thunder_in_some_cases_only_is_told_and_not_planned_around() -> None:
    two = sky(thunder=(20, 40), cases=2)
    storm = np.array(two.columns["thunderstorm"])
    storm[1] = 0
    two = replace(two, columns={**two.columns, "thunderstorm": storm})
    sure, may = closures(two, pads(pad("P1")), NOW)
    assert sure == () and [one.why for one in may] == ["lightning"]
    made = plan([need("A", 20, conditions=two)], pads(pad("P1")))
    assert minute(at(made, "A").start) == 23 and [one.possible for one in made.closures] == [True]


def test_gusts_shut_only_the_pads_whose_limit_they_exceed() -> None:
    windy = sky(gust_kt=36.0)
    held = pads(pad("weak", wind=35.0), pad("strong", wind=40.0), pad("no limit"))
    sure, _ = closures(windy, held, NOW)
    assert [one.pads for one in sure] == [("weak",)] and "35 kt" in sure[0].why
    assert closures(sky(gust_kt=35.0), held, NOW) == ((), ())


def test_unknown_gust_is_told_as_what_may_shut_a_pad() -> None:
    calm = sky()
    gust = np.full(calm.shape, np.nan)
    unknown = replace(calm, columns={**calm.columns, "gust_kt": gust})
    sure, may = closures(unknown, pads(pad("P1", wind=35.0)), NOW)
    assert sure == () and [one.pads for one in may] == [("P1",)] and "wind not known" in may[0].why
    assert closures(unknown, pads(pad("P1")), NOW) == ((), ())


def test_holdover_over_a_span_is_the_lowest_of_every_minute_and_case() -> None:
    falling = [(0, "light snow"), (60, "moderate snow"), (90, "none")]
    limit = limits(sky(falling=falling), table({"light snow": 40, "moderate snow": 20}), NOW, 300)
    # between two samples, 5 min apart, the lower of both counts: 20 from minute 56 on
    assert limit.over(0, 55) == 40 and limit.over(0, 56) == 20 and limit.over(70, 80) == 20
    assert limit.over(91, 200) == np.inf and limit.over(85, 200) == 20


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("heavy snow", "no guideline exists for heavy snow"),
        ("hail", "no guideline exists for hail"),
        ("heavier freezing rain", "no guideline exists for heavier freezing rain"),
        ("unknown", "what falls then is not known"),
        ("freezing fog", "has no row for freezing fog at -2 °C"),
        ("light snow", ""),
    ],
)
def test_why_there_is_no_holdover(name: str, why: str) -> None:
    one = need("A", 0, conditions=sky(falling=name))
    said = why_none(one, table({"light snow": 40}), NOW, NOW + 1800)
    assert why in said and (said == "") == (why == "")


def test_worse_case_decides_the_holdover() -> None:
    two = sky(falling="light snow", cases=2)
    codes = np.array(two.columns["treatment_category"])
    codes[1] = TREATMENT_CATEGORIES.index("moderate snow")
    two = replace(two, columns={**two.columns, "treatment_category": codes})
    made = plan([need("A", 0, conditions=two)], pads(pad("P1")), table({"light snow": 40, "moderate snow": 20}))
    assert at(made, "A").holdover_min == 20
    codes[1] = TREATMENT_CATEGORIES.index("hail")
    made = plan([need("A", 0, conditions=two)], pads(pad("P1")), table({"light snow": 40, "moderate snow": 20}))
    assert at(made, "A").holdover_min is None


def test_pad_that_is_shut_to_the_end_of_what_was_looked_at_opens_for_nobody() -> None:
    # thunder from 60 to the end of the night, 12 h on: A is done before, B would come to the pad at 93
    storm = sky(thunder=(60, 720))
    needs = [need("A", 0, conditions=storm), need("B", 90, conditions=storm)]
    held = pads(pad("P1"))
    sure, _ = closures(storm, held, NOW)
    assert [one.open_end for one in sure] == [True]
    made = plan(needs, held)
    assert minute(at(made, "A").start) == 3 and [one.flight for one in made.unplanned] == ["B"]
    found = carry_out(field(needs, held, sure, None, NOW), draw(needs, held, 3, 1), np.array([1.0, 2.0]))
    assert found.left_out.tolist() == [[False, True]] * 3 and (found.cost[:, 1] == 1500).all()
    # a storm that ends before lets B go on: half an hour after 240, and 5 min of the grid
    ends = sky(thunder=(60, 240))
    needs = [replace(one, conditions=ends) for one in needs]
    sure, _ = closures(ends, held, NOW)
    found = carry_out(field(needs, held, sure, None, NOW), draw(needs, held, 3, 1), np.array([1.0, 2.0]))
    assert not sure[0].open_end and (found.begun[:, 1] == 275).all()


def test_gusts_over_a_limit_to_the_end_have_no_end_either() -> None:
    sure, _ = closures(sky(gust_kt=36.0), pads(pad("weak", wind=35.0)), NOW)
    assert [one.open_end for one in sure] == [True] and "not known" in sure[0].why

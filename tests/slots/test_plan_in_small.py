"""A plan put together, part by part: its order beside its starts, where each stood, what may begin when, its time."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from nights import NOW, Ticks, at, minute, need, night, pad, pads, plan
from test_what_has_begun_by_hand import happened

from advisor.departure import rfc3339
from advisor.slots import plan as plans
from advisor.slots.build import Held, Wish, build
from advisor.slots.demand import Need
from advisor.slots.execution import Execution
from advisor.slots.field import field
from advisor.slots.order import AS_PLANNED, Order
from advisor.slots.replan import Before
from advisor.slots.scenarios import draw

ONE = pads(pad("P1"))


def carried(needs: list[Need], not_before: list[float], **latest: int) -> Execution:
    place = field(needs, ONE, (), None, NOW)
    ranks = {one.row.flight: number + 1 for number, one in enumerate(needs)}
    order = Order(np.zeros(len(needs)), AS_PLANNED, True, 1.23456, {"x": 2.34567}, np.array(not_before), cut=True)
    return Execution(place, order, ranks, latest, draw(needs, ONE, 2, 1))


def test_an_order_is_told_with_latest_starts_that_are_never_before_the_planned_ones() -> None:
    needs = [need("A", 0), need("B", 0), need("C", 0)]
    made = plan(needs, ONE)
    assert sorted(minute(one.start) for one in made.departures) == [3, 13, 23]
    starts = {one.flight: minute(one.start) for one in made.departures}
    # C has none: it has begun
    done = carried(needs, [-np.inf, 9.0, -np.inf], A=starts["A"] - 1, B=starts["B"] + 5)
    found = plans._in_order(made, done)
    assert [one.order for one in found.departures] == [1, 2, 3]
    latest = {one.flight: minute(one.latest_start) for one in found.departures}
    assert latest == {"A": starts["A"], "B": starts["B"] + 5, "C": starts["C"]}
    assert [one.not_before for one in found.departures] == [None, rfc3339(NOW + 540), None]
    about = found.order
    assert about is not None and (about.name, about.yields, about.cut, about.held) == (AS_PLANNED, True, True, 1)
    assert (about.mean_cost, about.tried) == (1.235, {"x": 2.346})


def test_who_is_not_called_as_soon_as_before_is_told_why() -> None:
    old = {one.flight: one for one in plan([need("A", 0), need("B", 0), need("C", 0)], ONE).departures}
    starts = {name: minute(one.start) for name, one in old.items()}
    done = carried([need("A", 0), need("B", 0), need("C", 0)], [starts["A"] + 1.0, float(starts["B"]), -np.inf])
    before = Before((), old=old)
    plans._say_who_is_held_back(before, done)
    clock = rfc3339(NOW + 60 * starts["A"] + 60)
    assert before.again == {"A": f"not before {clock[11:13]}{clock[14:16]}Z: sooner, its holdover may run out"}
    # what was said before stays
    before = Before((), old=old, again={"A": "x"})
    plans._say_who_is_held_back(before, done)
    assert before.again == {"A": "x"}


def test_where_each_stood_is_where_it_is_held_or_wished_for() -> None:
    needs = [need(name, 0) for name in "ABCD"] + [need("E", 0, size="large")]
    held = pads(pad("P1"), pad("P2", size="small"), pad("P3", place="stand"))
    begun = {"A": Held("P1", NOW + 60)}
    wished = {
        "A": Wish("P3", NOW),
        "B": Wish("P3", NOW + 300),
        "C": Wish("P9", NOW),
        "E": Wish("P2", NOW),
    }
    built = build(needs, held, (), None, NOW, held=begun)
    found = plans._as_before(built, Before(tuple(needs), held=begun, wishes=wished))
    rows = [None if one is None else (one.minute, one.row) for one in found]
    # there is no P9, and P2 takes the small ones alone
    assert rows == [(1, 0), (5, 2), None, None, None]
    assert [one and built.problem.jobs[at].options[one.option].group for at, one in enumerate(found[:2])] == [0, 2]


def test_nothing_new_begins_within_the_frozen_minutes_of_a_later_plan_unless_it_is_known_who_waits() -> None:
    first = plan([need("A", 60)], ONE)
    both = [need("A", 60), need("B", 0)]
    assert minute(at(plan(both, ONE, previous=first), "B").start) == ONE.margin.freeze_min == 10
    told_of = plan(both, ONE, previous=first, actuals=happened("B", "", at_pad=0))
    assert minute(at(told_of, "B").start) == 0


def test_time_counts_from_when_the_plan_was_asked_for() -> None:
    clock = Ticks()
    clock.now = 1000.0
    one = need("A", 0)
    for seconds, cut in ((0.0, True), (60.0, False)):
        made = plans.make(night([one], ONE), plans.Effort(seconds, clock, nights=2, turns=1), needs=[one])
        assert made.order is not None and made.order.cut is cut


@pytest.mark.parametrize("reserve_all", [False, True])
def test_where_everything_is_reserved_possible_treatments_share_no_pad(reserve_all: bool) -> None:
    made = plan([need("A", 0, status="possible"), need("B", 0, status="possible")], ONE, reserve_all=reserve_all)
    shared = [one.shared_with for one in made.departures]
    assert shared == ([(), ()] if reserve_all else [("B",), ("A",)])
    assert msgspec.to_builtins(made)["rehearsal"] is None


def test_variants_and_a_rehearsal_are_beside_a_plan_where_they_are_asked_for() -> None:
    needs = [need("A", 0), need("B", 0)]
    effort = plans.Effort(60.0, Ticks(), nights=4, turns=2)
    made = plans.make(night(needs, ONE), effort, needs=needs, rehearse=(3, 5))
    assert made.rehearsal is not None and (made.rehearsal.nights, made.rehearsal.seed) == (3, 5)
    assert made.variants == ()

"""What has begun, is over or is held: how long a pad and the runway are taken by it, and how it is carried out."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import msgspec
import numpy as np
import pytest
from nights import NOW, Ticks, need, night, pad, pads, settled, sky, table

from advisor.slots import execution, plan
from advisor.slots.actual import applied
from advisor.slots.build import Held, Wish, build
from advisor.slots.execution import Execution
from advisor.slots.field import field, latest_starts
from advisor.slots.files.actuals import Actual
from advisor.slots.files.pads import Noise, Pad, Runway
from advisor.slots.order import AS_PLANNED, Order
from advisor.slots.plan import Effort, make
from advisor.slots.replan import Before
from advisor.slots.scenarios import draw

ONE = pads(pad("P1"))


def happened(flight: str, truck: str = "P1", **minutes: int) -> dict[str, Actual]:
    """Minutes from NOW."""
    return {flight: Actual(flight, **{name: NOW + 60 * value for name, value in minutes.items()}, truck=truck)}


# what has happened


@pytest.mark.parametrize(("whole", "steps"), [(1, (1, 0)), (3, (1, 2)), (5, (1, 4)), (14, (10, 4)), (20, (16, 4))])
def test_a_treatment_of_two_steps_that_was_short_had_a_first_step_of_a_minute_at_least(whole, steps) -> None:
    # planned with 10 and 4 min: the second step as long as usual where a minute is left before it
    one = need("A", 0, removal=10, anti=4)
    took = happened("A", begun=6, finished=6 + whole)
    (found,) = applied(Before((one,)), [one], took, ONE, None, NOW + 1800).needs
    assert (found.removal_min, found.anti_icing_min) == steps and found.treatment_min == whole


@pytest.mark.parametrize(("anti", "over"), [(0, "0536Z"), (4, "0546Z")])
def test_holdover_runs_from_when_the_last_step_began(anti: int, over: str) -> None:
    # begun at 6; of two steps the last begins 10 min later. 30 min from there
    one = need("A", 0, removal=10, anti=anti, conditions=sky(falling="light snow"))
    before = Before((one,))
    took = happened("A", begun=6, finished=16 + anti)
    applied(before, [one], took, ONE, table({"light snow": 30}), NOW + 3600)
    assert before.again == {"A": f"holdover ran out at {over}: to be treated again"} and not before.held


def test_why_a_start_is_planned_again() -> None:
    both = pads(pad("P1"), pad("P2"))

    def why(minute: int, pad_name: str = "P1", **said: int) -> str:
        """Why A, planned for a minute, is planned again at 10 with B on P1 from 5 to 15."""
        needs = [need("A", 0, to_pad=9), need("B", 0)]
        before = Before(tuple(needs), held={"A": Held(pad_name, NOW + 60 * minute)})
        so_far = happened("B", begun=5) | happened("A", "", **said)
        applied(before, needs, so_far, both, None, NOW + 600)
        assert before.wishes == ({"A": Wish(pad_name, NOW + 60 * minute)} if "A" in before.again else {})
        return before.again.get("A", "")

    assert why(12, off=0, at_pad=9) == "pad P1 is still taken at 0512Z"
    assert why(15, off=0, at_pad=9) == "" and why(12, "P2", off=0, at_pad=9) == ""
    # off its stand at 8, and 9 min away
    assert why(12, "P2", off=8) == "it cannot be there at 0512Z" and why(17, "P2", off=8) == ""
    assert why(9, "P2", off=0, at_pad=9) == "not begun at 0509Z as planned"


# what is built of it


def test_a_pad_was_taken_for_each_minute_that_a_treatment_touched() -> None:
    # from 90:30 to 71:15 before now, in minutes of the plan
    done = {"P1": [(NOW - 90 * 60 - 30, NOW - 71 * 60 - 15)]}
    assert build([need("A", 0)], ONE, (), None, NOW + 20, done=done).problem.done == {"P1": ((-91, -71),)}


def test_who_is_gone_took_off_when_it_did() -> None:
    held = msgspec.structs.replace(ONE, runway=Runway(separation_s=120))
    gone = need("A", 0, status="not indicated")
    found = build([gone, need("B", 0)], held, (), None, NOW, departed={"A": NOW + 450})
    assert found.untreated == {"A": 450} and found.problem.taken_s == (450,)
    # C, 7 min after its off-block at 2, would take off 90 s after A: two minutes are asked for
    later = build([gone, need("C", 2, status="not indicated")], held, (), None, NOW, departed={"A": NOW + 450})
    assert later.untreated == {"A": 450, "C": 450 + 120}


def test_a_plan_counts_from_the_whole_minute_of_the_first_start_that_is_held() -> None:
    needs = [need("A", 0), need("B", 0)]

    def base_min(held: dict[str, Held]) -> float:
        return (build(needs, pads(pad("P1"), pad("P2")), (), None, NOW + 330, held=held).problem.base_s - NOW) / 60

    assert base_min({}) == 5.0 and base_min({"A": Held("P1", NOW + 600)}) == 5.0
    assert base_min({"A": Held("P1", NOW + 270), "B": Held("P2", NOW + 200)}) == 3.0


def test_a_pad_of_which_nobody_says_after_how_many_it_fills_up_never_does() -> None:
    plain = Pad("P1", "any", "remote", None, None, float("nan"), refill_min=15)
    assert build([need("A", 0)], pads(plain), (), None, NOW).problem.refills == {}
    told = msgspec.structs.replace(plain, refill_after=4)
    assert build([need("A", 0)], pads(told), (), None, NOW).problem.refills == {"P1": (4, 15)}


# how it is carried out


def test_what_is_held_has_its_pad_until_it_is_cleared_and_its_time_on_the_runway() -> None:
    # begun at 3, 10 min of treatment and 2 to clear the pad; off at 17. B went at 9 already
    held = pads(pad("P1"), pad("P2"), clear=2)
    needs = [need("A", 0), need("C", 20)]
    gone = {"A": NOW + 17 * 60, "B": NOW + 9 * 60}
    place = execution.prepare(needs, held, (), None, NOW, {"A": Held("P1", NOW + 180)}, gone)
    assert place.free_from.tolist() == [15.0, -np.inf] and place.taken.tolist() == [9.0, 17.0]
    assert [one.row.flight for one in place.needs] == ["C"]


def test_what_is_held_takes_off_when_its_own_times_and_the_runway_let_it() -> None:
    held = {"A": Held("P1", NOW + 180), "B": Held("P2", NOW + 180)}
    needs = [need("A", 0), need("B", 0), need("C", 0)]
    three = pads(pad("P1"), pad("P2"), pad("P3"))
    spaced = msgspec.structs.replace(three, runway=Runway(separation_s=90))
    built = build(needs, spaced, (), None, NOW + 600, held=held)
    found = plan._take_offs(built, settled(built.problem), held)
    # begun at 3, 10 min on the pad and 4 to the runway: 17, and the other 90 s later; C is not held
    assert sorted(found.values()) == [NOW + 17 * 60, NOW + 17 * 60 + 90] and set(found) == {"A", "B"}
    # where the runway does not count nobody has a time on it
    built = build(needs, three, (), None, NOW + 600, held=held)
    assert plan._take_offs(built, settled(built.problem), held) == {}


def test_where_no_start_may_move_whoever_starts_before_its_time_is_called_as_before() -> None:
    # one pad: A 3-13 and B 13-23. Held back to 20, A would not be called when its start is; B may be from 10 on
    needs = [need("A", 0), need("B", 0)]
    held = msgspec.structs.replace(ONE, noise=Noise(0, 0, 0, 0, 1.0))
    built = build(needs, held, (), None, NOW)
    starts = settled(built.problem)
    assert [start[1] for start in starts.starts if start is not None] == [3, 13]
    place, drawn = field(needs, held, (), None, NOW), draw(needs, held, 4, 1)
    order = Order(np.array([1.0, 2.0]), AS_PLANNED, False, 0.0, {}, np.array([20.0, 10.0]))
    done = Execution(place, order, {}, {}, drawn)
    assert done.not_before == {"A": 20, "B": 10}
    same, freed = plan._held_back(built, starts, done, 0, 0, 0.0)
    assert same is starts and freed.not_before == {"B": 10}
    # with 13 its start and its time agree
    agreed = replace(done, order=replace(order, not_before=np.array([-np.inf, 13.0])))
    assert plan._held_back(built, starts, agreed, 0, 0, 0.0)[1].not_before == {"B": 13}


def test_without_any_time_left_no_order_is_searched_for() -> None:
    needs = [need("A", 0), need("B", 0)]
    for seconds, cut in ((0.0, True), (60.0, False)):
        effort = Effort(seconds, Ticks(), nights=8, turns=4)
        made = make(night(needs, ONE), effort, needs=needs)
        assert made.order is not None and made.order.cut is cut
        assert [one.start is not None for one in made.departures] == [True, True]


def test_the_more_nights_are_rehearsed_the_fewer_trials_each_has() -> None:
    """So that the trials of all the nights together stay as many."""
    needs = [need("A", 0)]
    place = field(needs, ONE, (), None, NOW)
    order = Order(latest_starts(place), AS_PLANNED, False, 0.0, {}, np.full(1, -np.inf))
    done = Execution(place, order, {}, {}, draw(needs, ONE, 4, 1))

    def trials(nights: int) -> int:
        asked = count()
        # it is asked before each trial whether to stop
        execution.rehearsal(done, nights, 1, lambda: next(asked) < 0)
        return next(asked)

    assert trials(600) == 100 and trials(1200) == 50

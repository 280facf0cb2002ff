"""What is settled on a board of named pads, part by part: what is kept, begun from, and moved later."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from boards import APART, ONE, TWO, one, waiting, where
from nights import NOW, SMALL_MARGIN, Ticks, need, pad, pads
from test_board_by_hand import MINUTES, on

from advisor.slots.build import build
from advisor.slots.model import Answer, PadGroup, PlanningProblem
from advisor.slots.solver import named
from advisor.slots.solver import settle as settling
from advisor.slots.solver.named import PadGrid, Placement
from advisor.slots.solver.settle import Settled


def settle(some: PlanningProblem, **asked: object) -> Settled:
    usual: dict[str, object] = {"sharing": 1, "seconds": 0.0, "clock": Ticks(), "gap": 0.0}
    return settling.settle(  # type: ignore[arg-type]
        some, stop=lambda: False, progress=lambda cost, bound: None, **(usual | asked)
    )


# A is ready at 0 for 5 min, B at 1 for 2 min at 100 a minute: in order of readiness A first, which costs 400; by how
# long each can wait B first, and A at 3
HURRY = PlanningProblem((one(waiting(lasts=5)), one(waiting(100.0, lasts=2, first=1))), ONE, MINUTES)
COME = (Placement(0, 0, 0), Placement(0, 5, 0))


def test_without_time_the_best_list_schedule_is_taken_unless_the_old_plan_is_to_be_kept() -> None:
    found = settle(HURRY)
    assert (found.objective, found.first_come, found.starts) == (3, 400, ((0, 3), (0, 1)))
    assert settle(HURRY, before=COME).objective == 3
    kept = settle(HURRY, before=COME, keep=True)
    assert (kept.objective, kept.starts, kept.pads) == (400, ((0, 0), (0, 5)), ("P1", "P1"))
    # a plan given out that is better than any list is begun from
    good = (Placement(0, 3, 0), Placement(0, 1, 0))
    assert settle(HURRY, before=good).objective == 3


def test_what_the_solver_finds_is_not_taken_where_it_is_dearer_than_what_is_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(settling, "solve", lambda *_, **__: Answer(((0, 0), (0, 5)), 400.0, 1.0, ""))
    found = settle(HURRY)
    assert (found.objective, found.bound, found.status) == (3, 1, "time limit")


def test_a_plan_that_is_kept_is_kept_where_pads_are_shared_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    # one pad for 10 min each, two at a time; the third waits 20 min and not 10
    monkeypatch.setattr(settling, "FEWEST_SHARED", 3)
    three = build(
        [need(name, 0, status="possible") for name in "ABC"], pads(pad("P1"), margin=SMALL_MARGIN), (), None, NOW
    )
    before = [Placement(0, minute, 0) for minute in (3, 3, 23)]
    kept = settle(three.problem, before=before, keep=True, sharing=2, seconds=10.0)
    assert [place and place.minute for place in kept.places] == [3, 3, 23]
    assert (kept.objective, kept.status) == (pytest.approx(8), "time limit") and kept.bound == pytest.approx(4)
    free = settle(three.problem, before=before, sharing=2, seconds=10.0)
    assert free.objective == pytest.approx(4)


def test_what_is_settled_is_optimal_within_the_gap_else_over_time_or_stopped() -> None:
    board = named.first_come(PlanningProblem((one(waiting()), one(waiting())), ONE, 99), 1)

    def status(bound: float, gap: float, stopped: bool = False) -> tuple[str, float]:
        found = settling._settled(board, Answer((), 0.0, bound, "", notes=("x",)), 12.0, gap, lambda: stopped)
        assert (found.objective, found.first_come, found.notes) == (10, 12, ("x",))
        return found.status, found.bound

    assert status(9.0, 0.1) == ("optimal", 9) and status(9.0, 0.09) == ("time limit", 9)
    assert status(9.0, 0.0, True) == ("stopped", 9) and status(10.0, 0.0, True) == ("optimal", 10)
    assert status(11.0, 0.0) == ("optimal", 10)


def test_the_starts_of_a_board_are_those_of_its_groups_or_of_each_pad() -> None:
    both = one(waiting(), waiting(group=1))
    some = PlanningProblem((both, both, both), (PadGroup("two", ("P1", "P2")), PadGroup("third", ("P3",))), MINUTES)
    board = PadGrid(some, 1)
    board.put(0, Placement(0, 4, 1))
    board.put(1, Placement(1, 6, 2))
    assert settling._group_starts(board) == ((0, 4), (1, 6), None)
    aim = settling._by_pad(some)
    # by pad the options are P1, P2 and P3 in turn
    assert settling._pad_starts(board, aim) == ((1, 4), (2, 6), None)
    answer = Answer(((1, 4), (2, 6), None), 0.0, 0.0, "")
    back = settling._board_of(some, aim, answer, 1)
    assert back.places[:2] == [Placement(0, 4, 1), Placement(1, 6, 2)]


def test_starts_of_groups_are_put_on_pads_that_are_held_or_wished_for() -> None:
    jobs = one(waiting(lasts=2)), one(waiting(), wished_pad="P1"), one(waiting(first=6), held_pad="P2")
    some = PlanningProblem(jobs, TWO, MINUTES)
    # P2 has not been taken before, so it would be free for longer than P1, which the first leaves at 2
    answer = Answer(((0, 0), (0, 2), (0, 12)), 0.0, 0.0, "")
    assert where(settling._board_of(some, some, answer, 1)) == [("P1", 0), ("P1", 2), ("P2", 12)]


def test_lists_to_begin_from_put_what_is_sure_first_or_what_can_wait_least() -> None:
    possible, sure, urgent = one(waiting(), load=0.5), one(waiting(first=2)), one(waiting(20.0, first=3))
    some = PlanningProblem((possible, sure, urgent), ONE, MINUTES)
    minutes = [[place and place.minute for place in board.places] for board in settling._listed(some, 1)]
    assert minutes == [[0, 10, 20], [22, 2, 12], [13, 23, 3]]


# moved later


def test_a_job_moves_later_where_that_costs_nothing_and_comes_back_where_it_does() -> None:
    board = on(one(waiting(free=8)), one(waiting(free=50)), groups=APART[:1])
    board.put(0, Placement(0, 0, 0))
    assert settling._moved_to(board, 0, 8) and where(board)[0] == ("P1", 8)
    assert not settling._moved_to(board, 0, 9) and where(board)[0] == ("P1", 8)
    # the other stands in the way from 20 to 30; behind it, it costs
    board.lift(0)
    board.put(0, Placement(0, 2, 0))
    board.put(1, Placement(0, 15, 0))
    assert not settling._moved_to(board, 0, 6) and settling._moved_to(board, 0, 5)


def test_a_start_goes_as_far_towards_its_minute_as_costs_nothing() -> None:
    some = PlanningProblem((one(waiting(free=4)), one(waiting(free=9))), TWO, MINUTES)
    come = named.first_come(some, 1)
    before = settling._settled(come, Answer((), 0.0, 0.0, ""), 0.0, 0.0, lambda: False)
    found, left = settling.held_back(some, before, {0: 6, 1: 6}, sharing=1, gap=0.0, dearer=0.0)
    assert [start and start[1] for start in found.starts] == [4, 6] and left == (0,)
    assert (found.objective, found.for_holdover) == (0, 0)
    # who has no place has none later
    nobody = replace(before, places=(None, None))
    dear = replace(some, jobs=tuple(replace(each, unplanned_cost=0.0) for each in some.jobs))
    assert settling.held_back(dear, nobody, {0: 6}, sharing=1, gap=0.0, dearer=0.0)[1] == ()
    # who starts late enough is not moved
    again, left = settling.held_back(some, found, {0: 3, 1: 6}, sharing=1, gap=0.0, dearer=0.0)
    assert again.starts == found.starts and left == ()


def test_some_start_later_for_a_price_that_each_may_cost_and_who_is_dearer_stays() -> None:
    # one pad, 10 min each: A and B at 0 and 10, wanted at 10 and 20, which costs 10 each
    some = PlanningProblem((one(waiting()), one(waiting())), ONE, MINUTES)
    come = named.first_come(some, 1)
    before = replace(settling._settled(come, Answer((), 0.0, 0.0, ""), 10.0, 0.0, lambda: False), for_holdover=1.0)
    for dearer, minutes, left, cost in ((10.0, [10, 20], (), 30), (9.0, [0, 10], (0, 1), 10)):
        found, stay = settling.held_back(some, before, {0: 10, 1: 20}, sharing=1, gap=0.0, dearer=dearer)
        assert [start and start[1] for start in found.starts] == minutes and stay == left
        assert (found.objective, found.first_come, found.for_holdover) == (cost, 10, 1 + cost - 10)


def test_however_little_it_may_cost_to_start_later_it_may_cost_that() -> None:
    # a twentieth a minute: half a minute of waiting each
    cheap = PlanningProblem((one(waiting(0.05)), one(waiting(0.05))), ONE, MINUTES)
    before = settling._settled(named.first_come(cheap, 1), Answer((), 0.0, 0.0, ""), 0.5, 0.0, lambda: False)
    found, stay = settling.held_back(cheap, before, {0: 10, 1: 20}, sharing=1, gap=0.0, dearer=0.5)
    assert [start and start[1] for start in found.starts] == [10, 20] and stay == ()


def test_those_that_are_not_held_back_close_up_to_where_others_stood() -> None:
    # A starts at 20 and no sooner; B stood behind it at 10 and takes its place
    some = PlanningProblem((one(waiting()), one(waiting())), ONE, MINUTES)
    board = named.with_places(some, [Placement(0, 20, 0), Placement(0, 10, 0)], 1)
    assert settling._closed_ranks(board, {}) is board
    found = settling._closed_ranks(board, {0: 20})
    # A may not start before 20, and costs least then
    assert where(found) == [("P1", 20), ("P1", 0)]
    assert settling._not_before(some.jobs[0], 3).options[0].costs[:5].tolist() == [np.inf, np.inf, np.inf, 3, 4]

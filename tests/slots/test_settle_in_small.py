"""A board of named pads and what is settled on it, part by part: who goes where, what is kept, what is moved later."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from nights import NOW, SMALL_MARGIN, Ticks, need, pad, pads
from test_board_by_hand import MINUTES, job, on

from advisor.slots.build import build
from advisor.slots.model import Answer, Ints, Job, Option, PadGroup, PlanningProblem
from advisor.slots.solver import named
from advisor.slots.solver import settle as settling
from advisor.slots.solver.named import PadGrid, Placement
from advisor.slots.solver.settle import Settled

ONE, TWO = (PadGroup("one", ("P1",)),), (PadGroup("two", ("P1", "P2")),)
APART = PadGroup("one", ("P1",)), PadGroup("other", ("P2",))


def waiting(weight: float = 1.0, lasts: int = 10, first: int = 0, group: int = 0, free: int = 0) -> Option:
    """Starts from a minute on; waiting costs so much a minute once it is longer than what is free."""
    return Option(group, lasts, first, weight * np.maximum(0.0, np.arange(150.0 - first) - free))


def one(*options: Option, **more: str | float) -> Job:
    return replace(Job("J", 1.0, options, 500.0, min(each.first for each in options)), **more)  # type: ignore[arg-type]


def where(board: PadGrid) -> list[tuple[str, int] | None]:
    return [None if place is None else (board.names[place.row], place.minute) for place in board.places]


# where a job fits


def test_a_job_fits_only_on_pads_of_its_groups_at_starts_that_can_be_had() -> None:
    board = on(job((1, 5)), job((0, 0)), groups=APART)
    assert board.fits(0, Placement(0, 5, 1)) and not board.fits(0, Placement(0, 5, 0))
    assert not board.fits(0, Placement(0, 4, 1)) and not board.fits(0, Placement(0, 100, 1))
    assert (board.rows, board.names, board.row_of) == ([range(1), range(1, 2)], ["P1", "P2"], {"P1": 0, "P2": 1})


def test_what_is_held_fits_on_its_own_pad_alone_whatever_stands_there_and_what_is_over_takes_no_room() -> None:
    held, over = one(waiting(), held_pad="P2"), one(waiting(), load=0.0)
    board = PadGrid(PlanningProblem((held, over, one(waiting())), TWO, MINUTES), 1)
    board.put(2, Placement(0, 0, 1))
    assert board.fits(0, Placement(0, 5, 1)) and not board.fits(0, Placement(0, 5, 0))
    assert board.cheapest(0) == Placement(0, 0, 1) and board.earliest(0) == Placement(0, 0, 1)
    assert board.fits(1, Placement(0, 5, 1)) and board.fits(1, Placement(0, 5, 0))
    board.put(1, Placement(0, 0, 0))
    board.lift(2)
    assert board.fits(2, Placement(0, 5, 0)) and board.beside(1) == ()
    # the pad that it was held on is not of this problem
    nowhere = PadGrid(PlanningProblem((one(waiting(), held_pad="P9"),), TWO, MINUTES), 1)
    assert nowhere.cheapest(0) is None and nowhere.earliest(0) is None and not nowhere.fits(0, Placement(0, 0, 0))


def test_a_job_goes_where_it_costs_least_and_of_equals_where_it_is_first() -> None:
    # the second option is a minute later for as much, and for less from its twentieth minute on
    less = np.concatenate([np.full(20, 3.0), np.full(30, 2.0)])
    board = on(
        one(Option(0, 4, 0, np.full(50, 3.0))),
        one(Option(0, 4, 0, np.full(50, 3.0)), Option(1, 4, 1, less)),
        groups=APART,
    )
    assert board.cheapest(0) == Placement(0, 0, 0) and board.cheapest(0, 7) == Placement(0, 7, 0)
    assert board.cheapest(1) == Placement(1, 21, 1) and board.cheapest(1, 30) == Placement(1, 30, 1)
    # beyond the first hour of its starts
    late = on(one(Option(0, 4, 0, np.concatenate([np.full(70, 9.0), [8.0], np.full(30, 9.0)]))))
    assert late.cheapest(0) == Placement(0, 70, 0) and late.cheapest(0, 71) == Placement(0, 71, 0)
    # what costs as much as to be left out is left out
    assert on(one(Option(0, 4, 0, np.full(5, 500.0)))).cheapest(0) is None
    assert on(one(Option(0, 4, 0, np.full(5, 499.0)))).cheapest(0) == Placement(0, 0, 0)


def test_another_pad_than_the_wished_one_costs_extra_as_long_as_waiting_for_it_costs_more() -> None:
    wished = one(waiting(), wished_pad="P2", other_pad_cost=4.0)
    board = PadGrid(PlanningProblem((one(waiting(lasts=3)), wished, one(waiting(lasts=5))), TWO, MINUTES), 1)
    assert board.cheapest(1) == Placement(0, 0, 1)
    board.put(0, Placement(0, 0, 1))
    # three minutes of waiting are cheaper than another pad; five are not
    assert board.cheapest(1) == Placement(0, 3, 1)
    board.put(1, Placement(0, 3, 1))
    assert board.cost(1) == 3
    board.lift(0)
    board.lift(1)
    board.put(2, Placement(0, 0, 1))
    assert board.cheapest(1) == Placement(0, 0, 0)
    board.put(1, Placement(0, 0, 0))
    assert board.cost(1) == 4 and board.cost(0) == 500 and board.total() == 504


def test_the_soonest_start_is_found_beyond_the_first_hour_and_in_any_option() -> None:
    long_since = one(waiting(lasts=130))
    board = PadGrid(
        PlanningProblem((long_since, one(waiting()), one(waiting(), waiting(group=1, first=90))), APART, 300), 1
    )
    board.put(0, Placement(0, 0, 0))
    assert board.earliest(1) == Placement(0, 130, 0) and board.earliest(2) == Placement(1, 90, 1)
    assert board.moments.tolist() == [0, 0, 0]
    board.put(2, Placement(1, 90, 1))
    board.lift(0)
    assert board.moments.tolist() == [0, 0, 90] and board.places[0] is None
    # not where it cannot start, however free the pad is
    gap = Option(0, 4, 5, np.array([np.inf, np.inf, 7.0]))
    assert on(one(gap)).earliest(0) == Placement(0, 7, 0)


def test_a_truck_that_is_empty_takes_nobody_until_it_has_filled_up() -> None:
    # two in a row, then 20 min; before the plan it treated one until minute 0
    some = PlanningProblem(
        (one(waiting()), one(waiting())),
        ONE,
        MINUTES,
        refills={"P1": (2, 20), "P9": (1, 1)},
        done={"P1": ((-10, 0),), "P9": ((0, 5),)},
    )
    board = PadGrid(some, 1)
    board.put(0, Placement(0, 0, 0))
    # over at 10: from 30 on it has stood idle for long enough
    assert board.cheapest(1) == Placement(0, 30, 0) == board.earliest(1)
    assert not board.fits(1, Placement(0, 29, 0)) and board.fits(1, Placement(0, 30, 0))
    board.lift(0)
    assert board.cheapest(1) == Placement(0, 0, 0)


def test_who_shares_a_pad_is_told_by_each_of_those_that_overlap() -> None:
    half = job((0, 0), load=0.5)
    board = on(half, half, half, job((0, 0)), groups=TWO, sharing=2)
    for at, (minute, row) in enumerate([(0, 0), (9, 0), (10, 0), (0, 1)]):
        board.put(at, Placement(0, minute, row))
    assert [board.beside(at) for at in range(4)] == [(1,), (0, 2), (1,), ()]
    board.lift(1)
    assert [board.beside(at) for at in range(3)] == [(), (), ()]
    apart = on(half, half, groups=TWO, sharing=2)
    apart.put(0, Placement(0, 0, 0))
    apart.put(1, Placement(0, 0, 1))
    assert apart.beside(0) == ()


def test_the_last_good_start_costs_little_more_than_the_cheapest() -> None:
    # thirty minutes more, of any option
    assert named._last_good(one(waiting())) == 30 and named._last_good(one(waiting(2.0, first=7))) == 7 + 15
    assert named._last_good(one(waiting(), waiting(10.0, first=40))) == 43
    assert named._last_good(one(waiting(), replace(waiting(10.0, first=40), costs=np.full(9, 31.0)))) == 30
    assert named._last_good(Job("J", 1.0, (), 500.0, 8)) == 8


def test_first_come_is_served_first_with_what_is_held_before_all() -> None:
    jobs = one(waiting(first=5)), one(waiting(first=3)), one(waiting(first=3)), one(waiting(first=30), held_pad="P1")
    board = named.first_come(PlanningProblem(jobs, ONE, MINUTES), 1)
    # ready at 3, 3 and 5; the last would end at 33, but the pad is taken from 30 on
    assert where(board) == [("P1", 40), ("P1", 3), ("P1", 13), ("P1", 30)]


# the runway


def taking_off(first: int = 0, lasts: int = 5) -> Job:
    """Off ten minutes after its start; each minute later costs 1."""

    def by_take_off(at: Ints, take_off: np.ndarray) -> np.ndarray:
        return take_off - 10 - first

    starts = np.arange(first, 60)
    option = Option(0, lasts, first, np.arange(60.0 - first), starts + 10, by_take_off)
    return one(option)


def beside_a_runway(*jobs: Job, taken: tuple[int, ...] = ()) -> PadGrid:
    """Three minutes between two."""
    return PadGrid(PlanningProblem(jobs, TWO, MINUTES, spacing_s=180, taken_s=taken), 1)


def test_a_start_waits_for_the_first_free_time_on_the_runway_and_pays_for_it() -> None:
    board = beside_a_runway(taking_off(), taking_off(), taking_off())
    board.put(0, Placement(0, 0, 0))
    board.put(1, Placement(0, 0, 1))
    assert [place and place.take_off_s for place in board.places] == [600, 780, None]
    assert [board.cost(at) for at in range(3)] == [0, 3, 500]
    # the time that a place has is kept where it is free and not before it is ready, else it is the first that is
    board.put(2, Placement(0, 20, 0, take_off_s=2000))
    assert board.places[2] == Placement(0, 20, 0, 2000)
    board.lift(2)
    for wanted in (1799, 900):
        board.put(2, Placement(0, 20, 0, take_off_s=wanted))
        assert board.places[2] == Placement(0, 20, 0, 1800)
        board.lift(2)
    board.put(2, Placement(0, 5, 0, take_off_s=900))
    assert board.places[2] == Placement(0, 5, 0, 960)
    # given back with the start
    board.lift(1)
    board.lift(2)
    board.put(1, Placement(0, 0, 1))
    assert board.places[1] == Placement(0, 0, 1, 780)


def test_places_are_closed_up_where_the_runway_has_room_again() -> None:
    board = beside_a_runway(taking_off(), taking_off(), taking_off())
    for at, (minute, row) in enumerate(((0, 0), (1, 1), (6, 0))):
        board.put(at, Placement(0, minute, row))
    assert [place and place.take_off_s for place in board.places] == [600, 780, 960]
    board.lift(0)
    # ready at 11 and at 16 min
    assert [place and place.take_off_s for place in named.closed_up(board).places] == [None, 660, 960]


def test_of_given_places_whoever_took_the_runway_first_is_placed_first() -> None:
    some = beside_a_runway(taking_off(), taking_off()).problem
    given = [Placement(0, 8, 0, 1500), Placement(0, 10, 0, 1200)]
    # both overlap on P1; the first goes where it costs least then
    found = named.with_places(some, given, 1).places
    assert found == [Placement(0, 0, 0, 600), Placement(0, 10, 0, 1200)]
    # the one that is held goes before
    held = replace(some, jobs=(replace(some.jobs[0], held_pad="P1"), some.jobs[1]))
    assert named.with_places(held, given, 1).places[0] == Placement(0, 8, 0, 1500)


def test_a_place_that_is_not_given_is_found_after_those_that_are() -> None:
    jobs = one(waiting()), one(waiting()), one(waiting())
    some = PlanningProblem(jobs, ONE, MINUTES)
    # one job would go to 0; the other is there already
    assert where(named.with_places(some, [None, Placement(0, 0, 0), Placement(0, 10, 0)], 1)) == [
        ("P1", 20),
        ("P1", 0),
        ("P1", 10),
    ]


# local search


def test_a_search_lifts_from_two_to_nine_that_stand_nearest_to_one_that_loses() -> None:
    board = on(*(job((0, 0), lasts=1) for _ in range(40)))
    for at in range(40):
        board.put(at, Placement(0, 2 * at, 0))
    free, cheapest, sizes = list(range(1, 40)), [0.0] * 40, set()
    for seed in range(60):
        lifted = named._neighbours(board, free, cheapest, random.Random(seed))
        sizes.add(len(lifted))
        assert len(set(lifted)) == len(lifted) and 0 not in lifted
        # of those free those nearest in time: three times as many as are lifted, its own among them
        nearest = sorted(free, key=lambda at: abs(at - lifted[0]))[: 3 * len(lifted)]
        assert set(lifted) <= set(nearest), (seed, lifted)
    assert sizes == set(range(2, 10))


def test_a_search_never_moves_what_is_held_and_comes_back_with_the_best_that_it_met() -> None:
    held = one(waiting(first=4), held_pad="P1")
    jobs = (held, *(one(waiting(weight, lasts=lasts)) for weight, lasts in ((1.0, 9), (3.0, 2), (2.0, 5))))
    come = named.first_come(PlanningProblem(jobs, ONE, MINUTES), 1)
    before = come.total()
    # held from 4 to 14: the cheap short one fits before it. Then by weight over minutes: 2/5 before 1/9
    better = named.improve(come, 0.0, stop=lambda: False, rounds=60, seed=1)
    assert where(better) == [("P1", 4), ("P1", 19), ("P1", 0), ("P1", 14)]
    assert better.total() == 19 + 2 * 14 < before
    nothing = PadGrid(PlanningProblem((held,), ONE, MINUTES), 1)
    assert named.improve(nothing, 0.0, stop=lambda: False) is nothing


# what is settled


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


def test_those_that_are_not_held_back_close_up_to_where_others_stood() -> None:
    # A starts at 20 and no sooner; B stood behind it at 10 and takes its place
    some = PlanningProblem((one(waiting()), one(waiting())), ONE, MINUTES)
    board = named.with_places(some, [Placement(0, 20, 0), Placement(0, 10, 0)], 1)
    assert settling._closed_ranks(board, {}) is board
    found = settling._closed_ranks(board, {0: 20})
    # A may not start before 20, and costs least then
    assert where(found) == [("P1", 20), ("P1", 0)]
    assert settling._not_before(some.jobs[0], 3).options[0].costs[:5].tolist() == [np.inf, np.inf, np.inf, 3, 4]

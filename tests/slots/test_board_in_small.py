"""A board of named pads, part by part: where a job fits and costs least, the runway, and what a search lifts."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
from boards import APART, ONE, TWO, one, waiting, where
from test_board_by_hand import MINUTES, counted, job, on

from advisor.slots.model import Ints, Job, Option, PlanningProblem
from advisor.slots.solver import named
from advisor.slots.solver.named import PadGrid, Placement

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
    filled = PadGrid(PlanningProblem((one(waiting(lasts=40)), over), ONE, MINUTES), 1)
    filled.put(0, Placement(0, 0, 0))
    assert filled.cheapest(1) == filled.earliest(1) == Placement(0, 0, 0)
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
    assert on(one(Option(0, 4, 0, np.full(5, 499.9995)))).cheapest(0) == Placement(0, 0, 0)


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
    # of two pads that are free after more than an hour the one that is free first
    busy = one(waiting(lasts=70)), one(waiting(lasts=75, group=1)), one(waiting(), waiting(group=1))
    later = PadGrid(PlanningProblem(busy, APART, 300), 1)
    later.put(0, Placement(0, 0, 0))
    later.put(1, Placement(0, 0, 1))
    assert later.earliest(2) == Placement(0, 70, 0)
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
    # what is over shares with nobody
    over = on(half, job((0, 0), load=0.0), sharing=2)
    for at in range(2):
        over.put(at, Placement(0, 0, 0))
    assert over.beside(0) == () and over.beside(1) == ()


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


def test_first_come_first_served_takes_the_first_start_though_a_later_one_costs_less() -> None:
    cheaper = PlanningProblem((one(Option(0, 10, 0, np.array([5.0, 0.0]))),), ONE, MINUTES)
    assert where(named.first_come(cheaper, 1)) == [("P1", 0)]
    assert where(named.in_order(cheaper, [0], 1)) == [("P1", 1)]


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


def test_what_waiting_for_the_runway_costs_decides_whether_a_job_is_placed() -> None:
    # another goes at 10: room at 13, which costs 3, and so does each start until then
    for most, place in ((3.0, None), (3.1, Placement(0, 0, 0))):
        board = beside_a_runway(replace(taking_off(), unplanned_cost=most), taken=(600,))
        assert board.cheapest(0) == place
    # a minute of waiting after an hour counts as well
    late = PadGrid(PlanningProblem((taking_off(),), TWO, MINUTES, spacing_s=60, taken_s=(3600,)), 1)
    late.put(0, Placement(0, 50, 0))
    assert late.places == [Placement(0, 50, 0, 3660)] and late.total() == 51


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
    assert named.with_places(held, given, 1).places == [Placement(0, 8, 0, 1500), Placement(0, 0, 0, 600)]


def test_a_place_that_is_not_given_is_found_after_those_that_are() -> None:
    jobs = one(waiting()), one(waiting()), one(waiting())
    some = PlanningProblem(jobs, ONE, MINUTES)
    # one job would go to 0; the other is there already
    assert where(named.with_places(some, [None, Placement(0, 0, 0), Placement(0, 10, 0)], 1)) == [
        ("P1", 20),
        ("P1", 0),
        ("P1", 10),
    ]


def test_of_given_places_what_is_held_stays_though_it_is_only_possible() -> None:
    jobs = one(waiting(first=8), held_pad="P1", load=0.5), one(waiting())
    found = named.with_places(PlanningProblem(jobs, ONE, MINUTES), [Placement(0, 10, 0), Placement(0, 5, 0)], 2)
    # the sure one would stand there from 5 to 15; it is placed before it
    assert where(found) == [("P1", 10), ("P1", 0)]


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
    # at its bound nothing is looked for any more
    asked, stop = counted()
    assert named.improve(better, better.total(), stop=stop, rounds=60).total() == 47 and asked == []
    nothing = PadGrid(PlanningProblem((held,), ONE, MINUTES), 1)
    assert named.improve(nothing, 0.0, stop=lambda: False) is nothing

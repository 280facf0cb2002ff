"""The solver's parts on problems solved by hand: columns, relaxation, windows, blocks, time, and what is optimal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from msgspec import structs
from nights import NOW, SMALL_MARGIN, Ticks, need, pad, pads

from advisor.slots.build import Held, Wish, build
from advisor.slots.files.pads import Runway
from advisor.slots.model import Job, Option, PadGroup, PlanningProblem, Start
from advisor.slots.solver import choice, columns, highs, named, padwise
from advisor.slots.solver import settle as settling
from advisor.slots.solver import solve as solving
from advisor.slots.solver.blocks import Block
from advisor.slots.solver.columns import Offer


def problem(*jobs: tuple[int, int, float]) -> PlanningProblem:
    """Jobs for one pad: minutes on it, ready, and what each minute of waiting costs."""
    return PlanningProblem(
        tuple(
            Job(f"J{number}", 1.0, (Option(0, lasts, first, weight * np.arange(60.0 - first - lasts)),), 500.0, first)
            for number, (lasts, first, weight) in enumerate(jobs)
        ),
        (PadGroup("pads", ("P1",)),),
        60,
    )


# ready at 0, 1, 2, for 5, 2, 2 min, the last three times as dear. First come, first served starts them at 0, 5, 7:
# 0 + 4 + 3 x 5 = 19. At best the second starts at 1, the third at 3, the first at 5: 0 + 3 x 1 + 5 = 8
THREE = problem((5, 0, 1.0), (2, 1, 1.0), (2, 2, 3.0))
FIRST_COME: tuple[Start, ...] = ((0, 0), (0, 5), (0, 7))


def offer(number: int = 0, first: int = 20, size: int = 100) -> Offer:
    """An option of job 1: its number, and so many starts from a minute on."""
    return Offer(1, number, Option(0, 10, first, np.zeros(size)))


def test_a_plan_takes_the_start_of_an_option_that_lies_so_far_behind_its_first() -> None:
    starts: list[Start | None] = [(0, 50), (1, 28), None]
    # job 1 starts at 28 by its second option
    assert offer(1).taken_by(starts) == 8 and offer(0).taken_by(starts) is None
    assert columns.near_best(starts)(offer(1)).tolist() == [8] and columns.near_best(starts)(offer(0)).tolist() == []
    assert offer(1).taken_by([None, None, None]) is None


def test_the_starts_near_a_plan_are_those_up_to_some_minutes_after_it_and_after_the_earliest() -> None:
    near = columns.near
    assert near([None, None], 3)(offer()).tolist() == [0, 1, 2, 3]
    # it starts two minutes after its earliest
    assert near([None, (0, 22)], 3)(offer()).tolist() == [0, 1, 2, 3, 4, 5]
    # no more than there are
    assert near([None, (0, 22)], 3)(offer(size=4)).tolist() == [0, 1, 2, 3]


def test_a_plan_is_worth_one_in_the_columns_of_its_starts_and_nothing_in_all_others() -> None:
    both = Option(0, 10, 0, np.zeros(3)), Option(0, 10, 1, np.zeros(2))
    two = PlanningProblem(
        (Job("A", 1.0, both, 500.0), Job("B", 1.0, both[:1], 500.0)), (PadGroup("pads", ("P1",)),), 20
    )
    every = columns.choose(two, lambda one: np.arange(one.option.costs.size))
    assert list(zip(every.job.tolist(), every.option.tolist(), every.minute.tolist(), strict=True)) == [
        *((0, 0, 0), (0, 0, 1), (0, 0, 2)),
        *((0, 1, 1), (0, 1, 2)),
        *((1, 0, 0), (1, 0, 1), (1, 0, 2)),
    ]
    # A at 1 by its second option; B is left out
    assert columns.as_values(every, [(1, 1), None]).tolist() == [0, 0, 0, 1, 0, 0, 0, 0]
    assert columns.as_values(every, [(0, 1), (0, 2)]).tolist() == [0, 1, 0, 0, 0, 0, 0, 1]


def test_the_relaxation_knows_every_minute_of_every_group_to_the_last() -> None:
    # each has a pad of its own for the last four of ten minutes, at 3 and at 2; left out, 500 each
    jobs = [Job(f"J{group}", 1.0, (Option(group, 4, 6, np.array([cost])),), 500.0) for group, cost in ((0, 3), (1, 2))]
    two = PlanningProblem(tuple(jobs), (PadGroup("one", ("P1",)), PadGroup("other", ("P2",))), 10)
    every = columns.choose(two, lambda one: np.arange(one.option.costs.size))
    relaxed = highs.relax(two, every, seconds=10, stop=lambda: False, crossover=True)
    assert relaxed.bound == pytest.approx(5) and relaxed.chosen is not None
    assert relaxed.chosen.tolist() == pytest.approx([1, 1])


def searched(some: PlanningProblem, best: Sequence[Start | None], cost: float) -> solving._Search:
    return solving._Search(some, Ticks(), 60.0, 0.0, lambda: False, lambda *_: None, tuple(best), cost)


@pytest.mark.parametrize(
    ("known", "cost"), [(FIRST_COME, 19.0), ((None, (0, 1), None), 1000.0), ((None, None, None), 1500.0)]
)
def test_choice_in_windows_makes_the_best_of_a_dear_plan_with_or_without_places(
    known: Sequence[Start | None], cost: float
) -> None:
    search = searched(THREE, known, cost)
    solving._windows(search, None)
    assert search.cost == 8 and search.best == ((0, 5), (0, 1), (0, 3))


def test_stretches_grow_until_everybody_is_chosen_for_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    # A ring: job k stands at minute k, which costs 1, and may only stand there or, for nothing, where the next one
    # stands, the last where the first does. Nobody can move unless all five do: four at a time find nothing
    monkeypatch.setattr(solving, "WINDOW_JOBS", 4)
    costs = np.full((5, 5), np.inf)
    for number in range(5):
        costs[number, number], costs[number, (number + 1) % 5] = 1.0, 0.0
    jobs = tuple(Job(f"J{number}", 1.0, (Option(0, 1, 0, line),), 500.0) for number, line in enumerate(costs))
    ring = PlanningProblem(jobs, (PadGroup("pads", ("P1",)),), 10)
    search = searched(ring, [(0, number) for number in range(5)], 5.0)
    solving._windows(search, None)
    assert search.cost == 0 and search.best == ((0, 1), (0, 2), (0, 3), (0, 4), (0, 0))


def test_what_a_block_comes_to_is_its_cost_and_its_minutes_less_what_its_jobs_are_worth() -> None:
    # jobs 2 and 3 hold a pad of group 1 from 4 to 9, for 20; they are worth 7 and 11; its minutes cost 2 from 6 on
    prices = np.array([np.zeros(12), np.where(np.arange(12) >= 6, 2.0, 0.0)])
    block = Block(((2, 0, 4), (3, 1, 6)), 1, 4, 9, 20.0)
    worth = np.array([100.0, 1000.0, 7.0, 11.0])
    assert padwise._comes_to(block, worth, padwise._summed(prices)) == 20 - 7 - 11 + 3 * 2


def test_choice_of_blocks_ends_once_nothing_was_found_that_costs_less(monkeypatch: pytest.MonkeyPatch) -> None:
    # as where there are more jobs than are chosen for at once; the two stand as well as they can
    monkeypatch.setattr(choice, "AT_ONCE", 1)
    board = named.first_come(problem((10, 0, 1.0), (10, 0, 1.0)), 1)
    clock = Ticks(1.0)
    made = choice.better(board, [], seconds=50.0, clock=clock, stop=lambda: False)
    # the clock goes on by a second each time that somebody looks at it
    assert made.total() == 10 and clock.now < 10


def settled(some: PlanningProblem, clock: Ticks, *, sharing: int = 1, seconds: float = 10.0) -> settling.Settled:
    return settling.settle(
        some,
        sharing=sharing,
        seconds=seconds,
        clock=clock,
        gap=0.0,
        stop=lambda: False,
        progress=lambda cost, bound: None,
    )


def test_a_plan_that_costs_its_bound_is_optimal_though_no_gap_at_all_is_asked_for() -> None:
    found = settled(THREE, Ticks())
    assert [found.objective, found.bound] == pytest.approx([8, 8]) and found.status == "optimal"


def test_without_time_to_prove_more_the_bound_is_what_each_alone_would_cost() -> None:
    # two at once on one pad for 10 min each: alone neither would wait
    found = settled(problem((10, 0, 1.0), (10, 0, 1.0)), Ticks(), seconds=0.0)
    assert (found.objective, found.bound, found.status) == (10, 0, "time limit")


def test_time_is_left_to_prove_a_bound_where_local_search_finds_the_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    # as on a night of some size beside a runway. Three at once on one pad for 10 min each: 0 + 10 + 20 min of waiting
    monkeypatch.setattr(settling, "SMALL_JOBS", 1)
    beside = structs.replace(pads(pad("P1")), runway=Runway(separation_s=60))
    found = settled(build([need(name, 0) for name in "ABC"], beside, (), None, NOW).problem, Ticks(0.01))
    assert [found.objective, found.bound] == pytest.approx([30, 30])


def test_local_search_ends_with_its_time() -> None:
    board = named.first_come(problem((10, 0, 1.0), (10, 0, 1.0)), 1)
    clock = Ticks(0.1)
    # nothing costs less than nothing: it is not over before
    settling._improved(board, -1.0, 1.0, clock, lambda: False, 300, seed=0)
    assert 1.0 <= clock.now < 2.0


@pytest.mark.parametrize(("by_rounds", "ways"), [(False, settling.RUNS), (True, 1)])
def test_several_ways_of_local_search_share_the_rounds_of_one_and_by_rounds_there_is_one_way(
    by_rounds: bool, ways: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # as on a night of some size
    monkeypatch.setattr(settling, "SMALL_JOBS", 1)
    board = named.first_come(problem((10, 0, 1.0), (10, 0, 1.0)), 1)
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(False)
        return False

    settling._improved(board, -1.0, 60.0, Ticks(), stop, 40, seed=0, by_rounds=by_rounds)
    # asked before each round, and after each way
    assert len(asked) == 40 + ways


def test_a_plan_that_blocks_prove_to_be_the_best_is_looked_at_no_further(monkeypatch: pytest.MonkeyPatch) -> None:
    # One pad for 10 min each, two of three possible ones at a time: the third waits 10 min, of which 0.4 count. To look
    # for anything after that would fail
    monkeypatch.setattr(settling, "FEWEST_SHARED", 3)
    monkeypatch.setattr(settling, "solve", None)
    needs = [need(name, 0, status="possible") for name in "ABC"]
    three = build(needs, pads(pad("P1"), margin=SMALL_MARGIN), (), None, NOW).problem
    proved = settled(three, Ticks(), sharing=SMALL_MARGIN.sharing)
    assert [proved.objective, proved.bound] == pytest.approx([4, 4]) and proved.status == "optimal"
    # who is first and second is all the same
    assert sorted(len(beside) for beside in proved.sharing) == [0, 1, 1]


@pytest.mark.parametrize("status", ["stopped", "time limit"])
def test_a_plan_that_was_stopped_stays_so_and_another_does_not_become_so(status: str) -> None:
    places = tuple(named.first_come(THREE, 1).places)
    before = settling.Settled(FIRST_COME, ("P1",) * 3, ((),) * 3, 19.0, 8.0, 19.0, status, places)
    after, stay = settling.held_back(THREE, before, {}, sharing=1, gap=0.0, dearer=1.0)
    assert (after.status, after.objective, stay) == (status, 19, ())


def test_by_pad_what_is_held_has_its_own_pad_alone_and_what_is_wished_pays_for_another() -> None:
    held = pads(pad("P1"), pad("P2"))
    needs = [need(name, 0) for name in "ABC"]
    begun, wished = {"A": Held("P2", NOW + 180)}, {"C": Wish("P1", NOW + 180)}
    by_pad = settling._by_pad(build(needs, held, (), None, NOW, held=begun, wishes=wished).problem)
    names = [[by_pad.groups[option.group].pads for option in job.options] for job in by_pad.jobs]
    assert names == [[("P2",)], [("P1",), ("P2",)], [("P1",), ("P2",)]]
    extra = [job.options[-1].costs[0] - job.options[0].costs[0] for job in by_pad.jobs]
    assert extra == [0, 0, held.cost.changed_pad]

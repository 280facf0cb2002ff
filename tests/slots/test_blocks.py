"""The bound that knows pads and sharing, against every plan of small nights and every block of one pad."""

from __future__ import annotations

import time
from itertools import product

import numpy as np
import pytest
from brute import cheapest_with_sharing
from nights import NOW, SMALL_MARGIN, Ticks, need, pad, pads, small_night

from advisor.slots.build import Held, build
from advisor.slots.model import PlanningProblem, Start
from advisor.slots.solver import choice, columns, named, padwise
from advisor.slots.solver import settle as settling
from advisor.slots.solver.blocks import Block, PadStates, no_room_taken, sharers


def relaxed(problem: PlanningProblem) -> columns.Prices:
    return columns.bound(problem, columns.ascend(problem, 1000.0, rounds=120, stop=lambda: False))


def pad_bound(problem: PlanningProblem) -> padwise.Padwise:
    board = named.first_come(problem, 2)
    known = choice.blocks_of(board, no_room_taken(problem))
    found = padwise.relax(
        problem, relaxed(problem), board.total(), known, seconds=60.0, clock=Ticks(), stop=lambda: False
    )
    assert found is not None
    return found


@pytest.mark.parametrize("seed", range(30))
def test_bound_over_blocks_is_never_above_what_exhaustive_search_finds(seed: int) -> None:
    needs, held = small_night(seed)
    problem = build(needs, held, [], None, NOW).problem
    least = cheapest_with_sharing(needs, held, 30)
    assert pad_bound(problem).bound <= least + 1e-6


def test_bound_over_blocks_is_far_nearer_than_the_plain_one() -> None:
    """Measured over 30 nights: what each bound leaves open, as a part of the least cost."""
    plain, blocks = 0.0, 0.0
    for seed in range(30):
        needs, held = small_night(seed)
        problem = build(needs, held, [], None, NOW).problem
        least = cheapest_with_sharing(needs, held, 30)
        if least > 0:
            plain += 1 - relaxed(problem).bound / least
            blocks += 1 - pad_bound(problem).bound / least
    assert blocks < 0.5 * plain


@pytest.mark.parametrize("seed", range(20))
def test_any_prices_prove_a_bound(seed: int) -> None:
    needs, held = small_night(seed)
    problem = build(needs, held, [], None, NOW).problem
    dice = np.random.default_rng(seed)
    pricing = padwise.Pricing(problem, columns.bound(problem, np.zeros((len(problem.groups), problem.minutes))), 1e6)
    jobs = dice.uniform(0, 40, len(problem.jobs))
    minutes = np.where(dice.random((len(problem.groups), problem.minutes)) < 0.2, dice.uniform(0, 3), 0.0)
    bound, _ = pricing.prove(jobs, minutes)
    assert bound <= cheapest_with_sharing(needs, held, 30) + 1e-6


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("more", [1.05, 1.3])
def test_prices_that_are_a_little_too_high_prove_no_more(seed: int, more: float) -> None:
    # two pads alike: what jobs are worth too much, each of the two gives back
    needs, _ = small_night(seed)
    held = pads(pad("P1"), pad("P2"), clear=1, margin=SMALL_MARGIN)
    problem = build(needs, held, [], None, NOW).problem
    least = cheapest_with_sharing(needs, held, 30)
    best = pad_bound(problem)
    bound, _ = best.pricing.prove(more * best.jobs + (more - 1) * 10, best.minutes)
    assert bound <= least + 1e-6


def test_who_finds_no_pad_is_worth_no_more_than_staying_out() -> None:
    # one pad, open until 14: two of three may share it from 3 to 13, the third costs 0.4 x 1500
    needs = [need(name, 0, status="possible") for name in "ABC"]
    problem = build(needs, pads(pad("P1", hours=(0, 14)), margin=SMALL_MARGIN), [], None, NOW).problem
    pricing = padwise.Pricing(problem, columns.bound(problem, np.zeros((1, problem.minutes))), 1e6)
    bound, _ = pricing.prove(np.full(3, 2000.0), np.zeros((1, problem.minutes)))
    assert bound == pytest.approx(600.0)


def every_block(some, group_costs: np.ndarray, occupied: list[int]) -> list[tuple[tuple[Start, ...], int, int]]:
    """Every way in which up to three sharers hold one pad without a break, two at most at a time, by trying all."""
    found = []
    names = range(len(occupied))
    for size in (1, 2, 3):
        for who in product(names, repeat=size):
            if list(who) != sorted(set(who)):
                continue
            for minutes in product(range(group_costs.shape[1]), repeat=size):
                spans = sorted((minute, minute + occupied[one]) for one, minute in zip(who, minutes, strict=True))
                if any(not np.isfinite(group_costs[one, minute]) for one, minute in zip(who, minutes, strict=True)):
                    continue
                first, end = spans[0][0], max(last for _, last in spans)
                held = [sum(1 for low, high in spans if low <= m < high) for m in range(first, end)]
                # where one ends as the next begins, the pad is empty between them: two blocks
                joined = all(any(low < m < high for low, high in spans) for m in range(first + 1, end))
                if joined and max(held) <= 2:
                    found.append((tuple(zip(who, minutes, strict=True)), first, end))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_cheapest_block_of_each_start_is_the_cheapest_of_all_and_can_be_had(seed: int) -> None:
    dice = np.random.default_rng(seed)
    needs = [
        need(f"T{at}", int(dice.integers(0, 4)), status="possible", removal=int(dice.integers(2, 5))) for at in range(3)
    ]
    problem = build(needs, pads(pad("P1"), margin=SMALL_MARGIN), [], None, NOW).problem
    plain = columns.bound(problem, np.zeros((1, problem.minutes)))
    some = sharers(problem, 0, no_room_taken(problem), plain.reduced, 3.0)
    jobs, minutes = dice.uniform(0, 8, 3), dice.uniform(0, 1.5, problem.minutes)
    summed = np.concatenate([[0.0], np.cumsum(minutes)])
    states = PadStates(some, jobs, summed)
    occupied = some.occupied.tolist()
    least: dict[tuple[int, int], float] = {}
    for starts, first, end in every_block(some, some.costs, occupied):
        price = sum(some.costs[one, minute] - jobs[one] for one, minute in starts) + summed[end] - summed[first]
        for one, minute in starts:
            if minute == first:
                least[one, minute] = min(least.get((one, minute), np.inf), float(price))
    assert least
    for (one, minute), price in least.items():
        made = states.block(one, minute, 0)
        own = made.cost - sum(jobs[start[0]] for start in made.starts) + summed[made.end] - summed[made.first]
        assert own == pytest.approx(states.begun[one, minute]) and made.first == minute
        # a block in which a job stands twice is cheaper than any that can be had: the bound is looser, and holds
        assert states.begun[one, minute] <= price + 1e-9
        if made.once and len(made.starts) <= 3:
            assert states.begun[one, minute] == pytest.approx(price)


@pytest.mark.parametrize("seed", range(8))
def test_choice_of_blocks_is_a_plan_on_named_pads_that_costs_no_more(seed: int) -> None:
    needs, held = small_night(seed, 9)
    problem = build(needs, held, [], None, NOW).problem
    board = named.first_come(problem, 2)
    before = board.total()
    found = pad_bound(problem)
    made = choice.better(board, found.near(20.0), seconds=30.0, clock=Ticks(), stop=lambda: False)
    assert found.bound - 1e-6 <= made.total() <= before + 1e-9
    # every one fits beside the others, taken off and put back in turn
    for job, place in enumerate(made.places):
        assert place is not None
        made.lift(job)
        assert made.fits(job, place)
        made.put(job, place)


@pytest.mark.parametrize("seed", range(4))
def test_blocks_chosen_some_at_a_time_all_find_their_pads(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    needs, held = small_night(seed, 12)
    problem = build(needs, held, [], None, NOW).problem
    monkeypatch.setattr(choice, "AT_ONCE", 3)
    monkeypatch.setattr(choice, "AT_A_TIME", 6)
    on_pads, costs = choice._on_pads, []

    def noted(board: named.PadGrid, blocks: list[Block], free: set[int]) -> named.PadGrid:
        made = on_pads(board, blocks, free)
        placed = {start[0] for block in blocks for start in block.starts}
        out = sum(job.unplanned_cost for at, job in enumerate(problem.jobs) if at not in placed)
        costs.append((made.total(), out + sum(block.cost for block in blocks)))
        return made

    monkeypatch.setattr(choice, "_on_pads", noted)
    board = named.first_come(problem, 2)
    before = board.total()
    made = choice.better(board, pad_bound(problem).near(20.0), seconds=30.0, clock=Ticks(), stop=lambda: False)
    assert made.total() < before and len(costs) > 2
    assert all(total == pytest.approx(priced) for total, priced in costs)


@pytest.mark.parametrize("departures", [20, 45])
def test_first_come_is_what_it_costs_before_anything_was_moved(
    departures: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs, held = small_night(3, departures)
    # as where no other list schedule is better, so that the search goes on from first come, first served
    monkeypatch.setattr(settling, "_listed", lambda problem, sharing: [])
    problem = build(needs, held, [], None, NOW).problem
    settled = settling.settle(
        problem,
        sharing=2,
        seconds=2.0,
        clock=time.process_time,
        gap=1e-4,
        stop=lambda: False,
        progress=lambda cost, bound: None,
    )
    assert settled.first_come == pytest.approx(named.first_come(problem, 2).total())
    assert settled.objective < settled.first_come


def test_blocks_of_a_board_by_hand() -> None:
    # A alone 3 to 13; B and C, possible, from 13 and 18 to 23 and 28, one chain; D, possible, after both
    needs = [need("A", 0), *(need(name, off, status="possible") for name, off in (("B", 10), ("C", 15), ("D", 30)))]
    problem = build(needs, pads(pad("P1"), margin=SMALL_MARGIN), [], None, NOW).problem
    board = named.in_order(problem, range(4), 2)
    found = choice.blocks_of(board, no_room_taken(problem))
    assert [(one.first, one.end, len(one.starts)) for one in found] == [(3, 13, 1), (13, 28, 2), (33, 43, 1)]


def test_what_has_begun_beside_something_else_takes_no_room_in_the_bound() -> None:
    # both are held on the only pad at the same time, as an edited plan may have them: no rule forbids what has happened
    needs = [need("A", 0), need("B", 0), need("C", 0)]
    held = {"A": Held("P1", NOW + 180), "B": Held("P1", NOW + 240)}
    problem = build(needs, pads(pad("P1")), [], None, NOW, held=held).problem
    assert no_room_taken(problem).tolist() == [True, True, False]
    assert pad_bound(problem).bound <= named.first_come(problem, 2).total()


def test_a_block_knows_whether_a_job_stands_in_it_twice() -> None:
    assert Block(((0, 0, 3), (1, 0, 4)), 0, 3, 14, 0.0).once
    assert not Block(((0, 0, 3), (0, 0, 13)), 0, 3, 23, 0.0).once

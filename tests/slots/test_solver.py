"""The solver's parts: what is proven, list schedules, pads for starts, and a solver that gives nothing."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nights import Ticks

from advisor.slots.model import Job, Option, PadGroup, PlanningProblem, Start, cost_at, price
from advisor.slots.solver import columns, highs
from advisor.slots.solver import solve as solving
from advisor.slots.solver.colour import colour
from advisor.slots.solver.listing import in_order


def problem(
    lengths: list[int], ready: list[int], weights: list[float], pads: int, minutes: int = 60
) -> PlanningProblem:
    jobs = tuple(
        Job(f"J{at}", 1.0, (Option(0, length, first, weight * np.arange(minutes - first - length)),), 500.0, first)
        for at, (length, first, weight) in enumerate(zip(lengths, ready, weights, strict=True))
    )
    return PlanningProblem(jobs, (PadGroup("pads", tuple(f"P{at}" for at in range(pads))),), minutes)


def best_in_any_order(one: PlanningProblem) -> float:
    """Jobs whose cost only rises with time: some order in which each takes the earliest place is the best plan."""
    return min(price(one, in_order(one, order)) for order in itertools.permutations(range(len(one.jobs))))


@st.composite
def problems(draw: st.DrawFn) -> PlanningProblem:
    count = draw(st.integers(1, 5))
    lengths = draw(st.lists(st.integers(1, 9), min_size=count, max_size=count))
    ready = draw(st.lists(st.integers(0, 12), min_size=count, max_size=count))
    weights = draw(st.lists(st.sampled_from([0.5, 1.0, 3.0]), min_size=count, max_size=count))
    return problem(lengths, ready, weights, draw(st.integers(1, 2)))


@settings(max_examples=80, deadline=None, derandomize=True, database=None)
@given(problems(), st.integers(0, 2**32 - 1))
def test_any_prices_prove_a_bound_and_no_plan_costs_less(one: PlanningProblem, seed: int) -> None:
    best = best_in_any_order(one)
    prices = np.random.default_rng(seed).exponential(0.3, (1, one.minutes))
    assert columns.bound(one, prices).bound <= best + 1e-9
    assert columns.bound(one, np.zeros((1, one.minutes))).bound <= best + 1e-9
    found = solving.solve(one, seconds=60, clock=Ticks(), gap=0.0)
    assert found.objective == pytest.approx(best) and found.bound == pytest.approx(best)


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(problems())
def test_prices_of_the_relaxation_prove_its_own_value(one: PlanningProblem) -> None:
    every = columns.choose(one, lambda offer: np.arange(offer.option.costs.size))
    found = highs.relax(one, every, seconds=60, stop=lambda: False, crossover=True)
    assert found.prices is not None
    assert columns.bound(one, found.prices).bound == pytest.approx(found.bound, abs=1e-6)


def first_come(problem: PlanningProblem) -> tuple[Start | None, ...]:
    """First come, first served: in order of readiness, each where it costs least, which is as early as it can."""
    return in_order(problem, sorted(range(len(problem.jobs)), key=lambda job: (problem.jobs[job].ready, job)))


def test_first_come_first_served_by_hand() -> None:
    # one pad; ready 0, 1, 2; 5, 2, 2 minutes: starts 0, 5, 7; waits 0, 4, 5; weights 1, 1, 3: 0 + 4 + 15
    one = problem([5, 2, 2], [0, 1, 2], [1.0, 1.0, 3.0], 1)
    assert [start[1] for start in first_come(one) if start] == [0, 5, 7]
    assert price(one, first_come(one)) == 19
    # the best: the second at 1, then the third at 3, then the first at 5: 0 + 3 x 1 + 5
    assert solving.solve(one, seconds=60, clock=Ticks(), gap=0.0).objective == 8


def many(count: int, pads: int, seed: int = 1) -> PlanningProblem:
    dice = np.random.default_rng(seed)
    lengths = dice.integers(6, 20, count)
    horizon = int(lengths.sum() / (0.85 * pads))
    ready = np.sort(dice.integers(0, horizon, count))
    return problem(lengths.tolist(), ready.tolist(), dice.choice([0.5, 1.0, 2.0], count).tolist(), pads, horizon + 240)


@pytest.mark.parametrize("whole", [True, False])
def test_plan_of_many_is_within_its_bound_whole_or_in_windows(whole: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if not whole:
        monkeypatch.setattr(solving, "AT_ONCE_JOBS", 10)
        monkeypatch.setattr(solving, "ROLLING_JOBS", 16)
        monkeypatch.setattr(solving, "WINDOW_JOBS", 16)
        monkeypatch.setattr(solving, "WHOLE_COLUMNS", 0)
    one = many(40, 3)
    told: list[tuple[float, float]] = []
    found = solving.solve(
        one, seconds=60, clock=Ticks(0.05), gap=2e-3, progress=lambda cost, least: told.append((cost, least))
    )
    usage = np.zeros(one.minutes + 100)
    for job, start in zip(one.jobs, found.starts, strict=True):
        assert start is not None and np.isfinite(cost_at(job, start))
        usage[start[1] : start[1] + job.options[0].occupied_min] += 1
    assert usage.max() <= 3
    assert found.objective == price(one, found.starts)
    assert found.gap < 0.02 and found.objective < 0.9 * price(one, first_come(one))
    costs, bounds = zip(*told, strict=True)
    assert list(costs) == sorted(costs, reverse=True) and list(bounds) == sorted(bounds)


def test_solver_that_gives_nothing_leaves_the_list_schedule_and_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    one = many(20, 2)
    nothing = highs.SolverResult(False, "Solve error", None, -np.inf)
    monkeypatch.setattr(highs, "relax", lambda *args, **more: nothing)
    monkeypatch.setattr(highs, "choose", lambda *args, **more: nothing)
    found = solving.solve(one, seconds=60, clock=Ticks(0.5), gap=0.0)
    assert all(start is not None for start in found.starts) and found.status != "optimal"
    assert found.bound <= found.objective and any("solve error" in note for note in found.notes)


@pytest.mark.parametrize("where", ["relax", "choose"])
def test_solver_without_memory_leaves_the_best_plan_so_far_and_says_so(
    where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_left(*_: object, **__: object) -> None:
        raise MemoryError

    one = many(20, 2)
    listed = price(one, in_order(one, range(20)))
    monkeypatch.setattr(highs, where, none_left)
    found = solving.solve(one, seconds=60, clock=Ticks(0.001), gap=0.0)
    assert all(start is not None for start in found.starts) and found.objective <= listed
    assert found.status == "stopped" and found.bound <= found.objective
    assert found.notes == ("no memory was left for a better plan",)


def test_solver_that_says_that_memory_is_short_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(highs, "_run", lambda solver: highs._STATUS.kMemoryLimit)
    one = many(20, 2)
    found = solving.solve(one, seconds=60, clock=Ticks(0.001), gap=0.0)
    assert all(start is not None for start in found.starts) and found.status != "optimal"
    assert any("memory" in note for note in found.notes)


def test_solver_told_of_an_impossible_model_says_so() -> None:
    # a job whose every start is priced but whose pad has no room and which may not stay out: the row cannot be met
    one = problem([5], [0], [1.0], 1)
    every = columns.choose(one, lambda offer: np.arange(3))
    full = np.zeros((1, one.minutes))
    found = highs.choose(one, every, [0], full, seconds=10, gap=0.0, stop=lambda: False)
    assert found.chosen is not None and found.chosen.sum() == 0 and found.bound == 500.0


def test_every_run_uses_one_thread_count() -> None:
    assert highs._solver(1.0, lambda: False).getOptionValue("threads")[1] == highs.THREADS


def test_interrupted_run_keeps_what_it_has() -> None:
    one = many(60, 3)
    asked = iter(range(10**9))
    found = solving.solve(one, seconds=60, clock=Ticks(0.001), gap=0.0, stop=lambda: next(asked) > 40)
    assert found.status == "stopped" and all(start is not None for start in found.starts)
    assert found.bound <= found.objective


def test_wished_pads_are_kept_where_they_are_free() -> None:
    one = problem([5, 5, 5], [0, 0, 6], [1.0, 1.0, 1.0], 2)
    starts = [(0, 0), (0, 0), (0, 6)]
    found = colour(one, starts, sharing=1, fixed={1: "P0"}, wished={0: "P0", 2: "P1"})
    assert found.pads == ("P1", "P0", "P1")


def test_expected_treatment_finds_a_free_pad_though_possible_ones_begin_before_it() -> None:
    # two possible ones from 0 to 10 would take a pad each; one is expected from 5 to 10: they have to share
    half = [Job(f"H{at}", 0.5, (Option(0, 10, 0, np.zeros(20)),), 500.0) for at in range(2)]
    sure = Job("S", 1.0, (Option(0, 5, 0, np.zeros(20)),), 500.0)
    one = PlanningProblem((*half, sure), (PadGroup("pads", ("P0", "P1")),), 60)
    found = colour(one, [(0, 0), (0, 0), (0, 5)], sharing=2, fixed={}, wished={})
    assert found.starts == ((0, 0), (0, 0), (0, 5)) and found.pads[0] == found.pads[1] != found.pads[2]
    assert found.sharing == ((1,), (0,), ())


def test_possible_treatment_without_a_pad_starts_later() -> None:
    # two expected ones hold both pads until 10; what is possible was placed at 5 by its half, and has to wait
    sure = [Job(f"S{at}", 1.0, (Option(0, 10, 0, np.zeros(20)),), 500.0) for at in range(2)]
    half = Job("H", 0.5, (Option(0, 10, 0, np.arange(40.0)),), 500.0)
    one = PlanningProblem((*sure, half), (PadGroup("pads", ("P0", "P1")),), 60)
    found = colour(one, [(0, 0), (0, 0), (0, 5)], sharing=2, fixed={}, wished={})
    assert found.starts[2] == (0, 10) and found.pads[2] is not None


def test_third_possible_treatment_on_a_pad_that_two_may_share_starts_later() -> None:
    half = [Job(f"H{at}", 0.5, (Option(0, 10, 0, np.arange(40.0)),), 500.0) for at in range(3)]
    one = PlanningProblem(tuple(half), (PadGroup("pads", ("P0",)),), 60)
    found = colour(one, [(0, 0)] * 3, sharing=2, fixed={}, wished={})
    assert found.starts == ((0, 0), (0, 0), (0, 10)) and found.sharing == ((1,), (0,), ())


@pytest.mark.parametrize("seed", [1, 2])
def test_prices_found_without_the_solver_come_near_the_relaxation_and_never_above_it(seed: int) -> None:
    one = many(30, 2, seed)
    every = columns.choose(one, lambda offer: np.arange(offer.option.costs.size))
    exact = highs.relax(one, every, seconds=60, stop=lambda: False, crossover=True).bound
    listed = price(one, in_order(one, range(30)))
    found = columns.bound(one, columns.ascend(one, listed, rounds=200, stop=lambda: False)).bound
    assert 0.6 * exact <= found <= exact + 1e-6


def test_relaxation_begun_from_few_columns_ends_at_the_same_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    one = many(40, 3)
    bounds = []
    for corners in (10**9, 0):
        monkeypatch.setattr(solving, "EXACT_CORNERS", corners)
        monkeypatch.setattr(solving, "FEW", 3)
        monkeypatch.setattr(solving, "_exact", lambda search, prices: bounds.append(prices.bound))
        solving.solve(one, seconds=60, clock=Ticks(), gap=0.0)
    assert bounds[1] == pytest.approx(bounds[0], rel=1e-3)


def test_relaxation_that_finds_no_time_leaves_a_bound_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    one = many(40, 3)
    monkeypatch.setattr(solving, "EXACT_CORNERS", 0)
    monkeypatch.setattr(
        highs, "relax", lambda *args, **more: highs.SolverResult(False, "Time limit reached", None, -np.inf)
    )
    found = solving.solve(one, seconds=60, clock=Ticks(0.5), gap=0.0)
    assert 0 < found.bound <= found.objective and any("time limit" in note for note in found.notes)

"""How close slots come to the best possible: gaps gate on a small bank, the large banks' figures are printed.

Invented banks, utilisation 0.85: pad minutes wanted over pad minutes open. The large ones run only when
SLOTS_FIGURES is set to a folder: they take minutes, and their figures go there as well as to the screen.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest

from advisor.slots.model import Job, Option, PadGroup, PlanningProblem, Start, price
from advisor.slots.solver.listing import in_order
from advisor.slots.solver.solve import solve

UTILISATION = 0.85
FIGURES = os.environ.get("SLOTS_FIGURES")


def bank(departures: int, pads: int, seed: int, windows: float = 0.3) -> PlanningProblem:
    """Departures spread evenly at random, a quarter of the pads for short treatments only, a part with windows."""
    dice = np.random.default_rng(seed)
    minutes = dice.choice([7, 8, 11, 13, 15, 20, 24], departures, p=[0.1, 0.1, 0.25, 0.2, 0.15, 0.12, 0.08]) + 2
    horizon = int(minutes.sum() / (pads * UTILISATION))
    ready = np.sort(dice.integers(0, horizon, departures))
    narrow = max(1, pads // 4)
    groups = (
        PadGroup("any", tuple(f"P{at}" for at in range(pads - narrow))),
        PadGroup("small", tuple(f"S{at}" for at in range(narrow))),
    )
    jobs = []
    for at in range(departures):
        taken, first = int(minutes[at]), int(ready[at])
        wait = np.arange(horizon + 240 - taken - first + 1, dtype=np.float64)
        cost = wait + np.maximum(0.0, wait - 30.0)
        if dice.random() < windows:
            cost = cost + np.where(wait > int(dice.integers(5, 40)), 60.0, 0.0)
        options = [Option(0, taken, first, cost)]
        if taken <= 13:
            options.append(Option(1, taken, first, cost))
        jobs.append(Job(f"F{at}", 1.0, tuple(options), 2000.0, first))
    return PlanningProblem(tuple(jobs), groups, horizon + 240)


def first_come(problem: PlanningProblem) -> tuple[Start | None, ...]:
    """First come, first served: in order of readiness, each where it costs least."""
    return in_order(problem, sorted(range(len(problem.jobs)), key=lambda job: (problem.jobs[job].ready, job)))


def run(departures: int, pads: int, seed: int, goal: float, seconds: float) -> tuple[str, float]:
    """Solve a bank until a gap or a time; a line of figures and the gap. What compares is the processor's time."""
    one = bank(departures, pads, seed)
    begun = time.process_time()
    answer = solve(one, seconds=seconds, clock=time.monotonic, gap=goal)
    spent = time.process_time() - begun
    begun = time.process_time()
    listed = price(one, first_come(one))
    took = time.process_time() - begun
    line = (
        f"{departures} departures, {pads} pads, bank {seed}: gap {100 * answer.gap:.2f} % in {spent:.1f} s of one core "
        f"({answer.seconds:.1f} s on the clock); first come, first served: "
        f"gap {100 * (listed - answer.bound) / listed:.0f} % in {took:.2f} s"
    )
    return line, answer.gap


def test_a_bank_of_forty_is_proven_within_one_percent_and_far_better_than_first_come() -> None:
    one = bank(40, 4, 5)
    answer = solve(one, seconds=120, clock=time.monotonic, gap=0.01)
    assert answer.gap <= 0.01
    assert answer.objective < price(one, first_come(one))


@pytest.mark.skipif(not FIGURES, reason="takes minutes; set SLOTS_FIGURES to a folder for the figures")
@pytest.mark.parametrize(
    ("departures", "pads", "goal", "seconds"), [(100, 6, 0.01, 60), (300, 8, 0.01, 150), (1000, 12, 0.03, 200)]
)
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_large_banks_reach_their_gap(
    departures: int, pads: int, goal: float, seconds: float, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    line, gap = run(departures, pads, seed, goal, seconds)
    with capsys.disabled():
        print(f"\n{line}")
    with (Path(str(FIGURES)) / "slots.txt").open("a", encoding="utf-8") as file:
        file.write(line + "\n")
    assert gap <= goal

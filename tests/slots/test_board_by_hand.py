"""The board of named pads, by hand: where a job fits, where it costs least or starts first, and who is placed first."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from advisor.slots.model import Ints, Job, Option, PadGroup, PlanningProblem
from advisor.slots.solver import named
from advisor.slots.solver.named import PadGrid, Placement

MINUTES = 200


def job(*options: tuple[int, int], lasts: int = 10, load: float = 1.0) -> Job:
    """A job that may start on each of some groups from a minute on, until minute 100; each minute later costs 1."""
    made = tuple(Option(group, lasts, first, np.arange(100.0 - first)) for group, first in options)
    return Job("J", load, made, 500.0, min(first for _, first in options))


def on(*jobs: Job, groups: tuple[PadGroup, ...] = (PadGroup("one", ("P1",)),), sharing: int = 1) -> PadGrid:
    return PadGrid(PlanningProblem(jobs, groups, MINUTES), sharing)


def test_a_job_fits_where_its_pad_is_free_for_all_of_its_minutes() -> None:
    # the first stands there from 20 to 30; the second takes 10 min
    board = on(job((0, 0)), job((0, 0)))
    board.put(0, Placement(0, 20, 0))
    fits = [minute for minute in range(50) if board.fits(1, Placement(0, minute, 0))]
    assert fits == [*range(11), *range(30, 50)]


def test_who_may_share_fits_beside_one_other_that_may_and_beside_nobody_else() -> None:
    board = on(*(job((0, 0), load=0.5) for _ in range(3)), job((0, 0)), sharing=2)
    board.put(0, Placement(0, 20, 0))
    assert board.fits(1, Placement(0, 15, 0)) and not board.fits(3, Placement(0, 15, 0))
    board.put(1, Placement(0, 15, 0))
    # two hold the pad from 20 to 25
    assert [minute for minute in range(40) if board.fits(2, Placement(0, minute, 0))] == [*range(11), *range(25, 40)]


def test_a_job_starts_as_soon_as_a_pad_of_any_of_its_groups_is_free() -> None:
    two = PadGroup("large", ("P1",)), PadGroup("small", ("P2",))
    board = on(job((0, 0)), job((1, 0), lasts=4), job((0, 0), (1, 0)), job((0, 0)), groups=two)
    board.put(0, Placement(0, 0, 0))
    board.put(1, Placement(0, 0, 1))
    # P1 is free from 10, P2 from 4
    assert board.earliest(2) == Placement(1, 4, 1) and board.earliest(3) == Placement(0, 10, 0)


def test_what_it_costs_to_wait_for_the_runway_is_that_of_the_start_that_waits() -> None:
    """Ready for take-off 10 min after its start; the runway is taken at minute 10, and two minutes lie between two.

    Who starts at 0 or 1 takes off at 12. Started at 0, its holdover of 11 min has run out by then, which costs 90;
    started at 1, it has not: it costs the two minutes of waiting. To start at 2 costs as much, and is no sooner.
    """

    def by_take_off(at: Ints, take_off: np.ndarray) -> np.ndarray:
        return take_off - 10 + np.where(take_off - at > 11, 90.0, 0.0)

    starts = np.arange(50)
    option = Option(0, 5, 0, starts.astype(np.float64), starts + 10, by_take_off)
    problem = PlanningProblem(
        (Job("J", 1.0, (option,), 500.0),), (PadGroup("one", ("P1",)),), MINUTES, spacing_s=120, taken_s=(600,)
    )
    board = PadGrid(problem, 1)
    assert board.cheapest(0) == Placement(0, 1, 0)
    board.put(0, Placement(0, 1, 0))
    assert board.places == [Placement(0, 1, 0, take_off_s=720)] and board.total() == 2


def placed(*jobs: tuple[Job, int]) -> list[int | None]:
    """Minutes at which jobs stand on one pad where each was given a minute of its own there."""
    problem = on(*(one for one, _ in jobs), sharing=2).problem
    board = named.with_places(problem, [Placement(0, minute, 0) for _, minute in jobs], 2)
    return [None if place is None else place.minute for place in board.places]


def test_of_given_places_that_overlap_the_sure_one_is_kept_and_of_two_alike_the_earlier() -> None:
    sure, possible = job((0, 0)), job((0, 0), load=0.5)
    # the possible one was there first, and goes to the first minute that is free for it
    assert placed((possible, 8), (sure, 10)) == [0, 10]
    assert placed((sure, 8), (sure, 3)) == [13, 3]
    assert placed((possible, 8), (possible, 3)) == [8, 3]


def counted() -> tuple[list[bool], Callable[[], bool]]:
    """What a search was told each time that it asked whether to stop: that it need not."""
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(False)
        return False

    return asked, stop


@pytest.mark.parametrize("rounds", [1, 7])
def test_a_search_makes_no_more_rounds_than_it_is_given(rounds: int) -> None:
    board = named.first_come(on(job((0, 0)), job((0, 0))).problem, 1)
    asked, stop = counted()
    # two on one pad cannot cost nothing: it is not over before
    named.improve(board, 0.0, stop=stop, rounds=rounds)
    assert len(asked) == rounds


def test_a_search_of_which_nobody_says_how_long_goes_on_for_so_many_rounds_a_job() -> None:
    board = named.first_come(on(job((0, 0)), job((0, 0))).problem, 1)
    asked, stop = counted()
    named.improve(board, 0.0, stop=stop)
    assert len(asked) == 2 * named.ROUNDS_A_JOB

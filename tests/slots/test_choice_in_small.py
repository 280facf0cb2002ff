"""A choice of whole blocks, part by part: what stands on a board, what fits, which pad each block goes to."""

from __future__ import annotations

import numpy as np
import pytest
from nights import Ticks
from test_board_by_hand import job, on

from advisor.slots.model import Job, Option, PadGroup, PlanningProblem
from advisor.slots.solver import choice
from advisor.slots.solver.blocks import Block, no_room_taken
from advisor.slots.solver.named import PadGrid, Placement

ONE = (PadGroup("one", ("P1",)),)
THREE = (PadGroup("three", ("P1", "P2", "P3")),)


def flat(*costs: float, group: int = 0, lasts: int = 1, first: int = 0) -> Option:
    return Option(group, lasts, first, np.array(costs, dtype=np.float64))


def one_job(*options: Option, load: float = 1.0, unplanned: float = 500.0, **more: str | float) -> Job:
    return Job("J", load, options, unplanned, **more)  # type: ignore[arg-type]


def placed(board: PadGrid) -> list[tuple[str, int] | None]:
    """Pad and minute of each job."""
    return [None if place is None else (board.names[place.row], place.minute) for place in board.places]


def test_what_stands_on_a_board_falls_into_blocks_with_nothing_between_their_treatments() -> None:
    groups = PadGroup("one", ("P1",)), PadGroup("other", ("P2",))
    half, sure = (lambda group: job((group, 0), load=0.5)), (lambda group: job((group, 0)))
    board = on(half(0), half(0), half(0), sure(0), sure(1), sure(1), groups=groups, sharing=2)
    # on P1 0-10 and 5-15, then 15-25 at once, and 30-40; on P2 0-10; the last is over and takes no room
    where = [(0, 0), (5, 0), (15, 0), (30, 0), (0, 1), (20, 1)]
    for at, (minute, row) in enumerate(where):
        board.put(at, Placement(0, minute, row))
    without = np.array([False] * 5 + [True])
    assert choice.blocks_of(board, without) == [
        Block(((0, 0, 0), (1, 0, 5)), 0, 0, 15, 5.0),
        Block(((4, 0, 0),), 1, 0, 10, 0.0),
        Block(((2, 0, 15),), 0, 15, 25, 15.0),
        Block(((3, 0, 30),), 0, 30, 40, 30.0),
    ]
    # one inside another: the block lasts as long as the longer
    board = on(job((0, 0), load=0.5, lasts=30), half(0), half(0), sharing=2)
    for at, minute in enumerate((0, 5, 20)):
        board.put(at, Placement(0, minute, 0))
    [block] = choice.blocks_of(board, np.zeros(3, dtype=np.bool_))
    assert (block.first, block.end, len(block.starts), block.once) == (0, 30, 3, True)
    assert not Block(((1, 0, 3), (1, 0, 9)), 0, 3, 12, 0.0).once


def test_what_is_over_and_what_has_begun_beside_something_else_is_counted_without_its_minutes() -> None:
    def held(first: int, name: str = "P1", **more: float) -> Job:
        return one_job(Option(0, 10, first, np.zeros(1)), held_pad=name, **more)

    def without(*jobs: Job) -> list[bool]:
        return no_room_taken(PlanningProblem(jobs, THREE, 90)).tolist()

    # one after the other on a pad, or on two pads, each has its own minutes; on one pad at once neither has
    assert without(held(0), held(10)) == without(held(10), held(0)) == without(held(0), held(5, "P2")) == [False, False]
    assert without(held(0), held(9)) == without(held(9), held(0)) == [True, True]
    assert without(held(0), held(5, load=0.0), one_job(Option(0, 10, 5, np.zeros(1)))) == [False, True, False]


def test_a_block_fits_where_it_is_wanted_and_a_pad_is_left_for_all_of_its_minutes() -> None:
    # no pad left in minutes 4 and 5
    full = np.array([[0, 0, 0, 0, 0, 1, 2, 2, 2]])

    def fits(first: int, end: int) -> bool:
        return choice._fits(Block(((1, 0, first),), 0, first, end, 0.0), {1, 2}, full)

    assert fits(0, 4) and not fits(0, 5) and not fits(5, 7) and fits(6, 8)
    assert not choice._fits(Block(((1, 0, 0), (3, 0, 1)), 0, 0, 4, 0.0), {1, 2}, full)


def on_pads(
    *some: tuple[int, int, str], wished: str = "", stood: int | None = None, held: str = "", count: int = 3
) -> tuple[str, int] | None:
    """Where the last goes, 10 min from minute 10, beside others on P1, P2 … in turn: first, end of each."""
    others = [one_job(Option(0, end - first, first, np.zeros(1))) for first, end, _ in some]
    last = one_job(Option(0, 10, 10, np.zeros(1)), wished_pad=wished, held_pad=held)
    names = tuple(f"P{number + 1}" for number in range(count))
    board = PadGrid(PlanningProblem((*others, last), (PadGroup("some", names),), 60), 1)
    chosen = []
    for at, (first, end, name) in enumerate(some):
        board.put(at, Placement(0, first, board.row_of[name]))
        chosen.append(Block(((at, 0, first),), 0, first, end, 0.0))
    if stood is not None:
        board.places[len(some)] = Placement(0, 10, stood)
    chosen.append(Block(((len(some), 0, 10),), 0, 10, 20, 0.0))
    return placed(choice._on_pads(board, chosen, set(range(len(some) + 1))))[-1]


def test_a_block_goes_to_the_pad_wished_for_else_where_it_stood_else_where_the_gap_is_shortest() -> None:
    before = ((0, 5, "P1"), (0, 10, "P2"))
    assert on_pads(*before) == ("P2", 10)
    assert on_pads(*before, stood=0) == ("P1", 10) and on_pads(*before, stood=0, wished="P3") == ("P3", 10)
    # not where it would overlap
    assert on_pads((0, 5, "P1"), (0, 11, "P2")) == ("P1", 10)
    assert on_pads((0, 5, "P1"), (0, 11, "P2"), wished="P2") == ("P1", 10)
    # of pads that were never taken the first
    assert on_pads(count=2) == ("P1", 10)
    # on its own pad alone, where it is held; what is not held makes room, though it starts before
    assert on_pads(*before, held="P3") == ("P3", 10)
    assert on_pads((8, 12, "P1"), held="P1", count=2) == ("P1", 10)


def test_where_there_are_many_some_are_chosen_for_at_a_time_each_half_with_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(choice, "AT_A_TIME", 4)
    board = on(*(job((0, 10 * at)) for at in range(8)))
    # job 0 starts last, job 7 has no place: it is chosen for each time
    for at in range(7):
        board.put(at, Placement(0, 10 * at if at else 90, 0))
    monkeypatch.setattr(choice, "AT_ONCE", 7)
    assert choice._windows(board, 8) == [{1, 2, 3, 4, 7}, {3, 4, 5, 6, 7}, {5, 6, 7, 0}]
    # up to so many all at once
    monkeypatch.setattr(choice, "AT_ONCE", 8)
    assert choice._windows(board, 8) == [set(range(8))]


def test_better_blocks_of_the_pool_are_taken_and_others_make_room() -> None:
    # B waits for A at 3 a minute; the other way round A waits at 1 a minute
    a, b = (one_job(Option(0, 10, 0, weight * np.arange(50.0))) for weight in (1, 3))
    board = PadGrid(PlanningProblem((a, b), ONE, 90), 1)
    board.put(0, Placement(0, 0, 0))
    board.put(1, Placement(0, 10, 0))
    pool = [Block(((0, 0, 10),), 0, 10, 20, 10.0), Block(((1, 0, 0),), 0, 0, 10, 0.0)]
    made = choice.better(board, pool, seconds=9.0, clock=Ticks(), stop=lambda: False)
    assert made.total() == 10 and placed(made) == [("P1", 10), ("P1", 0)]
    for seconds, stop in ((0.0, False), (9.0, True)):
        same = choice.better(board, pool, seconds=seconds, clock=Ticks(), stop=lambda stop=stop: stop)
        assert same.total() == 30


def test_who_has_no_place_is_chosen_for_as_well() -> None:
    # A may start at 0 alone, where B stands; B may start at 10 for 10
    a, b = one_job(Option(0, 10, 0, np.zeros(1))), one_job(Option(0, 10, 0, np.arange(11.0)))
    board = PadGrid(PlanningProblem((a, b), ONE, 90), 1)
    board.put(1, Placement(0, 0, 0))
    pool = [Block(((0, 0, 0),), 0, 0, 10, 0.0), Block(((1, 0, 10),), 0, 10, 20, 10.0)]
    made = choice.better(board, pool, seconds=9.0, clock=Ticks(), stop=lambda: False)
    assert made.total() == 10 and placed(made) == [("P1", 0), ("P1", 10)]


def test_what_is_not_chosen_for_keeps_one_pad_and_leaves_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    # two at a time: A holds one of two pads for 50 min; C waits for B on the other at 3 a minute
    monkeypatch.setattr(choice, "AT_ONCE", 1)
    monkeypatch.setattr(choice, "AT_A_TIME", 2)
    lasting = one_job(Option(0, 50, 0, np.zeros(1)))
    b, c = (one_job(Option(0, 10, 0, weight * np.arange(50.0))) for weight in (1, 3))
    board = PadGrid(PlanningProblem((lasting, b, c), (PadGroup("two", ("P1", "P2")),), 90), 1)
    for at, (minute, row) in enumerate(((0, 0), (0, 1), (10, 1))):
        board.put(at, Placement(0, minute, row))
    pool = [Block(((1, 0, 10),), 0, 10, 20, 10.0), Block(((2, 0, 0),), 0, 0, 10, 0.0)]
    made = choice.better(board, pool, seconds=9.0, clock=Ticks(), stop=lambda: False)
    assert made.total() == 10 and placed(made) == [("P1", 0), ("P2", 10), ("P2", 0)]

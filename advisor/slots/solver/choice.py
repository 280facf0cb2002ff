"""A plan on named pads from whole blocks: all at once where there are few, else some at a time, neighbours in time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, PlanningProblem, cost_at
from advisor.slots.solver import named
from advisor.slots.solver.blocks import Block, no_room_taken
from advisor.slots.solver.highs import Stop
from advisor.slots.solver.master import Master
from advisor.slots.solver.named import PadGrid, Placement

# jobs that are chosen for at once, and seconds of one such choice
AT_ONCE, AT_A_TIME, WINDOW_SECONDS = 80, 60, 4.0
GAP = 1e-4


@dataclass(slots=True)
class _Choice:
    problem: PlanningProblem
    pool: Sequence[Block]
    without: NDArray[np.bool_]
    end: float
    clock: Callable[[], float]
    stop: Stop

    def left(self) -> float:
        return 0.0 if self.stop() else max(0.0, self.end - self.clock())


def blocks_of(board: PadGrid, without: NDArray[np.bool_]) -> list[Block]:
    """What stands on a board, block by block; without: as no_room_taken, which are left out."""
    problem = board.problem
    rows: list[list[tuple[int, int]]] = [[] for _ in board.names]
    for job, place in enumerate(board.places):
        if place is not None and not without[job]:
            rows[place.row].append((place.minute, job))
    group_of = {row: group for group, some in enumerate(board.rows) for row in some}
    blocks = []
    for row, standing in enumerate(rows):
        some: list[int] = []
        end = -1
        for minute, job in sorted(standing):
            if some and minute >= end:
                blocks.append(_block(board, some, group_of[row], end))
                some = []
            place = board.places[job]
            assert place is not None
            end = max(end if some else -1, minute + problem.jobs[job].options[place.option].occupied_min)
            some.append(job)
        if some:
            blocks.append(_block(board, some, group_of[row], end))
    return sorted(blocks, key=lambda one: (one.first, one.group, one.starts))


def _block(board: PadGrid, jobs: Sequence[int], group: int, end: int) -> Block:
    starts, cost = [], 0.0
    for job in jobs:
        place = board.places[job]
        assert place is not None
        starts.append((job, place.option, place.minute))
        cost += cost_at(board.problem.jobs[job], (place.option, place.minute))
    first = min(start[2] for start in starts)
    return Block(tuple(sorted(starts)), group, first, min(end, board.problem.minutes), cost)


def better(board: PadGrid, pool: Sequence[Block], *, seconds: float, clock: Callable[[], float], stop: Stop) -> PadGrid:
    """A board that costs no more. pool: blocks to choose from beside those that stand there."""
    problem = board.problem
    choice = _Choice(problem, pool, no_room_taken(problem), clock() + seconds, clock, stop)
    size = len(problem.jobs)
    while choice.left() > 0:
        before = board.total()
        for jobs in _windows(board, size):
            if choice.left() <= 0:
                break
            board = min(board, _chosen(choice, board, jobs, size), key=PadGrid.total)
        if board.total() >= before - TOLERANCE or size <= AT_ONCE:
            break
    return board


def _windows(board: PadGrid, size: int) -> list[set[int]]:
    """Jobs to choose for at once: all, or neighbours in time with those that have no place."""
    out = {job for job, place in enumerate(board.places) if place is None}
    order = np.argsort(board.moments, kind="stable").tolist()
    if size <= AT_ONCE:
        return [set(order)]
    step = AT_A_TIME // 2
    return [set(order[at : at + AT_A_TIME]) | out for at in range(0, max(1, size - step), step)]


def _chosen(choice: _Choice, board: PadGrid, jobs: set[int], size: int) -> PadGrid:
    """A board with some jobs chosen for anew, the others as they stand."""
    problem = choice.problem
    standing = blocks_of(board, choice.without)
    inside = [block for block in standing if any(start[0] in jobs for start in block.starts)]
    free = {start[0] for block in inside for start in block.starts}
    free |= {job for job in jobs if board.places[job] is None and not choice.without[job]}
    room = np.repeat([[float(group.count)] for group in problem.groups], problem.minutes, axis=1)
    kept = [block for block in standing if not any(start[0] in free for start in block.starts)]
    for block in kept:
        room[block.group, block.first : block.end] -= 1
    # what has begun beside something else may take more than there is
    room = np.maximum(room, 0.0)
    master = Master(problem, sorted(free), room, choice.stop)
    full = np.zeros((room.shape[0], room.shape[1] + 1))
    np.cumsum(room < 1, axis=1, out=full[:, 1:])
    master.add([*inside, *(block for block in choice.pool if _fits(block, free, full))])
    seconds = choice.left() if size <= AT_ONCE else min(WINDOW_SECONDS, choice.left())
    chosen = master.whole(seconds, GAP, inside)
    return board if chosen is None else _on_pads(board, [*kept, *chosen], free)


def _fits(one: Block, free: set[int], full: Floats) -> bool:
    return all(start[0] in free for start in one.starts) and full[one.group, one.end] == full[one.group, one.first]


def _on_pads(board: PadGrid, blocks: Sequence[Block], free: set[int]) -> PadGrid:
    """Blocks on named pads: what is held on its own, others where they stood or were wished for if that is free."""
    problem = board.problem
    taken: list[list[tuple[int, int]]] = [[] for _ in board.names]
    places = [None if job in free else place for job, place in enumerate(board.places)]

    def key(block: Block) -> tuple[bool, int, tuple[tuple[int, int, int], ...]]:
        return not any(problem.jobs[start[0]].held_pad for start in block.starts), block.first, block.starts

    for block in sorted(blocks, key=key):
        rows = [
            row
            for row in board.rows[block.group]
            if all(block.end <= first or end <= block.first for first, end in taken[row])
        ]
        held = [board.row_of.get(problem.jobs[start[0]].held_pad) for start in block.starts]
        rows = [row for row in rows if all(row == pad for pad in held if pad is not None)]
        if not rows:
            continue
        wished = {board.row_of.get(problem.jobs[start[0]].wished_pad) for start in block.starts}
        stood = {place.row for start in block.starts if (place := board.places[start[0]]) is not None}

        def liked(
            row: int, block: Block = block, wished: set[int | None] = wished, stood: set[int] = stood
        ) -> tuple[bool, bool, int, int]:
            # else the pad that was free for the shortest time
            before = max((end for _, end in taken[row] if end <= block.first), default=0)
            return row not in wished, row not in stood, -before, row

        row = min(rows, key=liked)
        taken[row].append((block.first, block.end))
        for job, option, minute in block.starts:
            places[job] = Placement(option, minute, row)
    return named.with_places(problem, places, board.sharing)

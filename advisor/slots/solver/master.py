"""The choice of blocks for the pads of each group: its linear relaxation, and the choice of whole blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import PlanningProblem
from advisor.slots.solver import highs
from advisor.slots.solver.blocks import Block
from advisor.slots.solver.highs import Stop


@dataclass(frozen=True, slots=True)
class BlockPrices:
    """Of a relaxation: its least cost, what placing each job is worth, (job,), and of minutes, (group, minute)."""

    cost: float
    jobs: Floats
    minutes: Floats


class Master:
    """Blocks, each job in one of them or left out, no more of a group at a time than it has room for.

    Minutes in use are counted as running sums: a block adds at its first minute and takes away after its last.
    """

    def __init__(self, problem: PlanningProblem, jobs: Sequence[int], room: Floats, stop: Stop) -> None:
        """jobs: those to place; room: pads that are left, (group, minute)."""
        self.problem, self.jobs = problem, list(jobs)
        self._row = {job: at for at, job in enumerate(self.jobs)}
        self.blocks: list[Block] = []
        self._known: set[tuple[tuple[int, int, int], ...]] = set()
        groups, minutes = room.shape
        count, cells = len(self.jobs), room.size
        self._shape, self._base = (groups, minutes), count + cells
        self.solver = highs.make(stop)
        out = [problem.jobs[job].unplanned_cost for job in self.jobs]
        rows = count + (np.arange(groups)[:, None] * (minutes + 1) + np.arange(minutes)[None, :]).ravel()
        index = np.concatenate([np.arange(count), np.stack([rows, rows + 1], axis=1).ravel()])
        value = np.concatenate([np.ones(count), np.tile([-1.0, 1.0], cells)])
        starts = np.concatenate([np.arange(count), count + 2 * np.arange(cells + 1)])
        right = np.concatenate([np.ones(count), np.zeros(groups * (minutes + 1))])
        highs.load(
            self.solver,
            np.concatenate([out, np.zeros(cells)]),
            np.concatenate([np.ones(count), room.ravel()]),
            (right, right),
            (starts, index, value),
        )

    def add(self, blocks: Sequence[Block]) -> int:
        """Take in those that are not known yet; how many they are."""
        fresh = [block for block in dict.fromkeys(blocks) if block.starts not in self._known]
        if not fresh:
            return 0
        count, minutes = len(self.jobs), self._shape[1]
        begins: list[int] = []
        index: list[int] = []
        value: list[float] = []
        for block in fresh:
            self._known.add(block.starts)
            begins.append(len(index))
            rows = [self._row[start[0]] for start in block.starts]
            for row in dict.fromkeys(rows):
                index.append(row)
                value.append(float(rows.count(row)))
            if block.end > block.first:
                base = count + block.group * (minutes + 1)
                index += [base + block.first, base + block.end]
                value += [1.0, -1.0]
        upper = np.full(len(fresh), highspy.kHighsInf)
        cost = np.array([block.cost for block in fresh])
        arrays = (np.array(begins, dtype=np.int32), np.array(index, dtype=np.int32), np.array(value))
        self.solver.addCols(len(fresh), cost, np.zeros(len(fresh)), upper, len(index), *arrays)
        self.blocks += fresh
        return len(fresh)

    def prices(self, seconds: float) -> BlockPrices | None:
        """The relaxation over the blocks that are known; None where the solver did not come to its end."""
        if not highs.finished(self.solver, seconds):
            return None
        solution = self.solver.getSolution()
        duals = np.asarray(solution.row_dual)
        count = len(self.jobs)
        sums = duals[count:].reshape(self._shape[0], self._shape[1] + 1)
        minutes: Floats = np.maximum(0.0, np.diff(sums, axis=1))
        cost = float(self.solver.getInfo().objective_function_value)
        return BlockPrices(cost, duals[:count].copy(), minutes)

    def whole(self, seconds: float, gap: float, known: Sequence[Block]) -> list[Block] | None:
        """Whole blocks at the least cost, at best no dearer than those known already; None where none were found."""
        size = self._base + len(self.blocks)
        kinds = np.full(size, highspy.HighsVarType.kInteger)
        kinds[len(self.jobs) : self._base] = highspy.HighsVarType.kContinuous
        everything = np.arange(size, dtype=np.int32)
        self.solver.changeColsIntegrality(size, everything, kinds)
        own = everything[self._base :]
        self.solver.changeColsBounds(own.size, own, np.zeros(own.size), np.ones(own.size))
        self.solver.setSolution(self._as_solution(known))
        values = highs.whole(self.solver, seconds, gap)
        if values is None:
            return None
        return [one for one, value in zip(self.blocks, values[self._base :], strict=True) if value > 0.5]

    def _as_solution(self, known: Sequence[Block]) -> highspy.HighsSolution:
        taken = {one.starts for one in known}
        chosen = np.array([float(one.starts in taken) for one in self.blocks])
        placed = {start[0] for one in known for start in one.starts}
        out = np.array([float(job not in placed) for job in self.jobs])
        groups, minutes = self._shape
        changes = np.zeros((groups, minutes + 1))
        for one in known:
            changes[one.group, one.first] += 1
            changes[one.group, one.end] -= 1
        solution = highspy.HighsSolution()
        solution.col_value = np.concatenate([out, np.cumsum(changes, axis=1)[:, :-1].ravel(), chosen])
        return solution

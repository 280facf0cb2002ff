"""List schedules: jobs placed one after the other where they cost least, and first come, first served. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, PlanningProblem, Start


class Usage:
    """How much of each group is reserved at each minute, and where a job still fits."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self.used: Floats = np.zeros((len(problem.groups), problem.minutes + 1))

    def copy(self) -> Usage:
        """The same, to reserve more in."""
        made = Usage(self.problem)
        made.used[:] = self.used
        return made

    def add(self, job: int, start: Start, sign: float = 1.0) -> None:
        """Reserve a job's minutes, or give them back with sign -1."""
        item = self.problem.jobs[job]
        option = item.options[start[0]]
        self.used[option.group, start[1] : start[1] + option.occupied_min] += sign * item.load

    def costs(self, job: int, option_index: int) -> Floats:
        """The option's costs, inf where the group has no room for the whole treatment."""
        item = self.problem.jobs[job]
        option = item.options[option_index]
        room = self.problem.groups[option.group].count - item.load + TOLERANCE
        span = self.used[option.group, option.first : option.first + option.costs.size + option.occupied_min - 1]
        full = np.concatenate(([0], np.cumsum(span > room)))
        blocked = full[option.occupied_min :] - full[: -option.occupied_min]
        return np.where(blocked[: option.costs.size] > 0, np.inf, option.costs)

    def cheapest(self, job: int) -> Start | None:
        """Where the job costs least now, the earliest of equals; None where staying unplanned costs less."""
        item = self.problem.jobs[job]
        best, start = item.unplanned_cost, None
        for index in range(len(item.options)):
            costs = self.costs(job, index)
            if costs.size:
                position = int(costs.argmin())
                if costs[position] < best - TOLERANCE:
                    best, start = float(costs[position]), (index, item.options[index].first + position)
        return start


def in_order(
    problem: PlanningProblem, order: Iterable[int], fixed: Sequence[Start | None] | None = None
) -> tuple[Start | None, ...]:
    """Place jobs in an order, each where it costs least. fixed: starts that stand already, by job."""
    usage = Usage(problem)
    starts: list[Start | None] = [None] * len(problem.jobs) if fixed is None else list(fixed)
    for job, start in enumerate(starts):
        if start is not None:
            usage.add(job, start)
    for job in order:
        if starts[job] is None:
            starts[job] = start = usage.cheapest(job)
            if start is not None:
                usage.add(job, start)
    return tuple(starts)

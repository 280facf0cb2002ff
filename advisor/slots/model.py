"""The planning problem in minutes: jobs, groups of identical resources, and what each start costs. Pure.

Minutes count from base_s. A job is one treatment; it starts once, in one group, or stays unplanned at a price.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats

Ints = NDArray[np.int64]
# what starts at some positions of an option's costs cost with take-off at some minutes, which need not be whole
ByTakeOff = Callable[[Ints, Floats], Floats]
# loads are shares of one resource; sums that differ by less than this are the same
TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class PadGroup:
    """Identical resources: same place, size, hours and closures. pads: their names, in the order of the file."""

    name: str
    pads: tuple[str, ...]

    @property
    def count(self) -> int:
        """How many resources."""
        return len(self.pads)


@dataclass(frozen=True, slots=True)
class Option:
    """One group that a job may use.

    group: index; occupied_min: minutes of the resource, clearing included; first: minute of costs[0]; costs: price of
    starting at first, first + 1, …, inf where it cannot start (the resource is shut, the aircraft not there).
    take_off: minute at which each would be off if the runway were free, by_take_off: what it costs where it is not;
    None where the runway does not count.
    """

    group: int
    occupied_min: int
    first: int
    costs: Floats
    take_off: Ints | None = None
    by_take_off: ByTakeOff | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One treatment to place.

    load: how much of a resource is reserved, 0 to 1: under 1 where it is only possible that it is needed, 0 where it
    is over.
    unplanned_cost: price of not placing it; ready: first minute of any start, for first come, first served. held_pad:
    the one pad it may use, "" for any; wished_pad: that of the previous plan, another costs other_pad_cost.
    """

    name: str
    load: float
    options: tuple[Option, ...]
    unplanned_cost: float
    ready: int = 0
    held_pad: str = ""
    wished_pad: str = ""
    other_pad_cost: float = 0.0

    @property
    def alone(self) -> bool:
        """Whether it needs a resource for itself: what is sure shares its pad with nobody."""
        return self.load >= 1 - TOLERANCE


@dataclass(frozen=True, slots=True)
class PlanningProblem:
    """Jobs, groups, and the number of minutes that matter. base_s: seconds since 1970 UTC of minute 0.

    spacing_s: between two take-offs, 0 for none; taken_s: take-offs of those that are not treated, seconds from base_s;
    refills: by pad the treatments after which it fills up at the latest, and the minutes that takes; done: by pad what
    was treated on it by those that are gone, first minute and the minute after the last.
    """

    jobs: tuple[Job, ...]
    groups: tuple[PadGroup, ...]
    minutes: int
    base_s: int = 0
    spacing_s: int = 0
    taken_s: tuple[int, ...] = ()
    refills: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    done: Mapping[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)


Start = tuple[int, int]  # (option index of the job, minute)


@dataclass(frozen=True, slots=True)
class Answer:
    """Where each job starts, None where it is unplanned; what it costs, and the least that any plan can cost."""

    starts: tuple[Start | None, ...]
    objective: float
    bound: float
    status: str
    seconds: float = 0.0
    notes: tuple[str, ...] = field(default=())

    @property
    def gap(self) -> float:
        """(objective - bound) / objective, 0 where both are 0."""
        return 0.0 if self.objective <= 0 else max(0.0, (self.objective - self.bound) / self.objective)


def price(problem: PlanningProblem, starts: Sequence[Start | None]) -> float:
    """What a set of starts costs; inf where one of them is not allowed."""
    total = 0.0
    for job, start in zip(problem.jobs, starts, strict=True):
        total += job.unplanned_cost if start is None else cost_at(job, start)
    return total


def cost_at(job: Job, start: Start) -> float:
    """Price of one start, inf outside what the option offers."""
    option = job.options[start[0]]
    at = start[1] - option.first
    return float(option.costs[at]) if 0 <= at < option.costs.size else float("inf")

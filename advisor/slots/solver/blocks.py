"""Blocks: what stands on one pad from when it stops being empty until it is empty again, where two may share it. Pure.

What needs a pad for itself is a block of its own; possible treatments overlap one another, two at a time, in a chain.
Pads of one group are alike, so blocks of which no more hold at a time than there are pads always find their pads: a
choice of blocks is a plan on named pads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, Ints, PlanningProblem

# how many may share a pad for blocks to be counted here
SHARING = 2
# entries of the largest table of states: 8 bytes each
MOST_STATES = 16_000_000
EPSILON = 1e-7

BlockStart = tuple[int, int, int]  # (job, option, minute)


@dataclass(frozen=True, slots=True)
class Block:
    """Treatments that hold one pad without a break. starts: (job, option, minute) of each, sorted; group by index;
    first: its first minute; end: the minute after its last; cost: of all of them.
    """

    starts: tuple[BlockStart, ...]
    group: int
    first: int
    end: int
    cost: float

    @property
    def once(self) -> bool:
        """Whether no job stands in it twice. Those that do only loosen the bound."""
        return len({start[0] for start in self.starts}) == len(self.starts)


@dataclass(frozen=True, slots=True)
class Sharers:
    """Those that may share a pad of one group. job, option, occupied: indices and minutes, each (sharer,); costs: of a
    start at each minute, inf where it cannot start, (sharer, minute).
    """

    job: Ints
    option: Ints
    occupied: Ints
    costs: Floats


def no_room_taken(problem: PlanningProblem) -> NDArray[np.bool_]:
    """Which jobs are counted without their minutes, (job,): what is over, and what has begun beside something else that
    has begun on the same pad, whatever the rule for sharing says.
    """
    taken_from_nobody = np.array([job.load <= 0 for job in problem.jobs], dtype=np.bool_)
    spans: dict[str, list[tuple[int, int, int]]] = {}
    for index, job in enumerate(problem.jobs):
        if job.held_pad and not taken_from_nobody[index]:
            for option in job.options:
                spans.setdefault(job.held_pad, []).append((option.first, option.first + option.occupied_min, index))
    for some in spans.values():
        for first, end, index in some:
            if any(other != index and first < last and begun < end for begun, last, other in some):
                taken_from_nobody[index] = True
    return taken_from_nobody


def sharers(
    problem: PlanningProblem, group: int, without: NDArray[np.bool_], reduced: Sequence[Sequence[Floats]], most: float
) -> Sharers:
    """Those of a group. without: as no_room_taken; reduced, most: starts that cost more than that are left out."""
    jobs, options, occupied, costs = [], [], [], []
    for index, job in enumerate(problem.jobs):
        if job.alone or without[index]:
            continue
        for number, option in enumerate(job.options):
            if option.group == group:
                line = np.full(problem.minutes, np.inf)
                size = min(option.costs.size, problem.minutes - option.first)
                near = reduced[index][number][:size] <= most + TOLERANCE
                line[option.first : option.first + size] = np.where(near, option.costs[:size], np.inf)
                jobs.append(index)
                options.append(number)
                occupied.append(option.occupied_min)
                costs.append(line)
    table = np.array(costs).reshape(len(jobs), problem.minutes)
    useful = np.flatnonzero(np.isfinite(table).any(axis=0))
    table = table[:, : int(useful[-1]) + 1 if useful.size else 0]
    whole = [np.array(one, dtype=np.int64) for one in (jobs, options, occupied)]
    return Sharers(whole[0], whole[1], whole[2], table)


class PadStates:
    """The cheapest way on from each state of one pad that two may share, at prices of jobs and minutes.

    A state is a minute, who holds the pad, and for how many minutes more, the other half being free. Accounts are kept
    with the price of all minutes since 0, so that waiting costs nothing and the end of a block settles its minutes.
    """

    def __init__(self, some: Sharers, job_prices: Floats, summed: Floats) -> None:
        """job_prices: what placing each job is worth, (job,); summed: price of all minutes before, (minutes + 1,)."""
        self.some = some
        self.value: Floats = some.costs - job_prices[some.job][:, None]
        self.longest = int(some.occupied.max())
        self.ends: Floats = np.concatenate([summed, np.full(self.longest, summed[-1])])
        count, minutes = self.value.shape
        self.on = np.empty((minutes + self.longest + 1, count, self.longest + 1))
        self._finite = np.isfinite(self.value)
        for minute in range(minutes, minutes + self.longest + 1):
            left = np.minimum(minute + np.arange(self.longest + 1), self.ends.size - 1)
            self.on[minute] = self.ends[left]
        for minute in range(minutes - 1, -1, -1):
            self._fill(minute)
        moments = np.arange(minutes)
        #: price of the cheapest block that begins with each start, (sharer, minute)
        self.begun: Floats = (
            self.value
            + self.on[moments[None, :], np.arange(count)[:, None], some.occupied[:, None]]
            - self.ends[moments][None, :]
        )

    def _fill(self, minute: int) -> None:
        """All states of a minute, from those of later ones."""
        here, on, occupied = self.on[minute], self.on, self.some.occupied
        here[:, 0] = self.ends[minute]
        here[:, 1:] = on[minute + 1, :, :-1]
        starts = np.flatnonzero(self._finite[:, minute])
        if not starts.size:
            return
        count, left = here.shape[0], np.arange(1, self.longest + 1)
        worth, lasts = self.value[starts, minute], occupied[starts]
        # who holds the pad goes first: from then on the other holds it
        after = lasts[:, None] - left[None, :]
        then = on[minute + left[None, :], starts[:, None], np.maximum(after, 0)]
        table = np.where(after >= 0, worth[:, None] + then, np.inf)
        first = table.argmin(axis=0)
        least = table[first, left - 1]
        table[first, left - 1] = np.inf
        # nobody shares a pad with itself
        other = np.arange(count)[:, None] != starts[first][None, :]
        np.minimum(here[:, 1:], np.where(other, least, table.min(axis=0)), out=here[:, 1:])
        # the other goes first
        for last in np.unique(lasts).tolist():
            if last < self.longest:
                same = np.flatnonzero(lasts == last)
                order = same[np.argsort(worth[same], kind="stable")]
                own = np.full(count, worth[order[0]])
                own[starts[order[0]]] = worth[order[1]] if order.size > 1 else np.inf
                then = on[minute + last, :, 1 : self.longest - last + 1]
                np.minimum(here[:, last + 1 :], own[:, None] + then, out=here[:, last + 1 :])

    def block(self, sharer: int, minute: int, group: int) -> Block:
        """The cheapest block that begins with a start."""
        chain, now, holder, left = [(sharer, minute)], minute, sharer, int(self.some.occupied[sharer])
        while left > 0:
            wanted = self.on[now, holder, left]
            wanted += 1e-9 * max(1.0, abs(wanted))
            if self.on[now + 1, holder, left - 1] <= wanted:
                now, left = now + 1, left - 1
                continue
            for other in np.flatnonzero(self._finite[:, now]).tolist():
                lasts = int(self.some.occupied[other])
                then = (now + left, other, lasts - left) if left <= lasts else (now + lasts, holder, left - lasts)
                if other != holder and self.value[other, now] + self.on[then] <= wanted:
                    chain.append((other, now))
                    now, holder, left = then
                    break
            else:
                raise RuntimeError("a block has no way on; this is a fault of the program")
        return self._made(chain, group, minute, now)

    def _made(self, chain: Sequence[tuple[int, int]], group: int, first: int, end: int) -> Block:
        some = self.some
        starts = sorted((int(some.job[one]), int(some.option[one]), minute) for one, minute in chain)
        return Block(tuple(starts), group, first, end, float(sum(some.costs[one, minute] for one, minute in chain)))

    def least_of_a_pad(self) -> float:
        """No row of blocks on one pad, one after the other, comes to less; 0 or less."""
        begun, occupied = self.begun, self.some.occupied
        minutes = begun.shape[1]
        least = np.zeros(minutes + self.longest + 1)
        for minute in range(minutes - 1, -1, -1):
            # a block lasts at least as long as who begins it
            least[minute] = min(least[minute + 1], float((begun[:, minute] + least[minute + occupied]).min()))
        return float(least[0])

    def cheap(self, group: int, most: float, each: int) -> list[Block]:
        """Blocks that come to less than a price: so many of each sharer's cheapest, and the cheapest of each minute."""
        begun = self.begun
        wanted: set[tuple[int, int]] = set()
        for sharer, line in enumerate(begun):
            few = np.argsort(line, kind="stable")[:each]
            wanted.update((sharer, int(minute)) for minute in few[line[few] < most])
        first = begun.argmin(axis=0)
        wanted.update(
            (int(first[minute]), minute) for minute in range(begun.shape[1]) if begun[first[minute], minute] < most
        )
        return [self.block(sharer, minute, group) for sharer, minute in sorted(wanted)]

    def pairs(self, group: int, most: float, each: int) -> list[Block]:
        """Blocks of two that come to less than a price: so many of each two's cheapest, none over the same minutes."""
        some, value = self.some, self.value
        least = value.min(axis=1)
        blocks = []
        for first in range(some.job.size):
            for second in range(first + 1, some.job.size):
                if some.job[first] != some.job[second] and least[first] + least[second] < most:
                    blocks += self._of_two(first, second, group, most, each)
        return blocks

    def _of_two(self, sharer: int, other: int, group: int, most: float, each: int) -> list[Block]:
        value, lasts = self.value, self.some.occupied
        moments = np.flatnonzero(value[sharer] < most - value[other].min())
        if not moments.size:
            return []
        # the other begins while the first holds the pad, or still holds it when the first begins
        then = moments[:, None] + np.arange(1 - lasts[other], lasts[sharer])[None, :]
        inside = (then >= 0) & (then < value.shape[1])
        then = np.clip(then, 0, value.shape[1] - 1)
        first = np.minimum(moments[:, None], then)
        end = np.maximum(moments[:, None] + lasts[sharer], then + lasts[other])
        price = value[sharer, moments][:, None] + value[other, then] + self.ends[end] - self.ends[first]
        near = np.argwhere(inside & (price < most))
        order = np.argsort(price[near[:, 0], near[:, 1]], kind="stable")
        chosen: dict[tuple[int, int], Block] = {}
        for row, column in near[order].tolist():
            span = int(first[row, column]), int(end[row, column])
            if span not in chosen:
                chain = [(sharer, int(moments[row])), (other, int(then[row, column]))]
                chosen[span] = self._made(chain, group, *span)
                if len(chosen) == each:
                    break
        return list(chosen.values())


def states_fit(some: Sharers) -> bool:
    """Whether the table of states has a size that can be held."""
    if not some.job.size:
        return True
    longest = int(some.occupied.max())
    return bool((some.costs.shape[1] + longest + 1) * some.job.size * (longest + 1) <= MOST_STATES)

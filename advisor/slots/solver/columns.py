"""The starts that a solver may choose from, as arrays, and the price of capacity that bounds them all. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import Ints, Option, PlanningProblem, Start

STALE_ROUNDS = 5


@dataclass(frozen=True, slots=True)
class Offer:
    """One option of one job to choose starts from: job and number, their indices; option: with its costs."""

    job: int
    number: int
    option: Option

    def taken_by(self, starts: Sequence[Start | None]) -> int | None:
        """Position in the option's costs of the start that a plan takes here; None where it takes another option."""
        start = starts[self.job]
        return None if start is None or start[0] != self.number else start[1] - self.option.first


# the positions in an option's costs that are wanted
Chooser = Callable[[Offer], Ints]


@dataclass(frozen=True, slots=True)
class Columns:
    """One column a start: job, option, minute and group by index, minutes occupied, load, cost; each (column,)."""

    job: Ints
    option: Ints
    minute: Ints
    group: Ints
    occupied: Ints
    load: Floats
    cost: Floats

    @property
    def size(self) -> int:
        """How many."""
        return int(self.job.size)


def choose(problem: PlanningProblem, pick: Chooser, jobs: Sequence[int] | None = None) -> Columns:
    """Columns of some jobs. pick: positions in an option's costs that are wanted; starts that cost inf are left out."""
    parts: list[tuple[int, int, Option, Ints, float]] = []
    for index in range(len(problem.jobs)) if jobs is None else jobs:
        job = problem.jobs[index]
        for number, option in enumerate(job.options):
            wanted = pick(Offer(index, number, option))
            wanted = wanted[np.isfinite(option.costs[wanted])]
            if wanted.size:
                parts.append((index, number, option, wanted, job.load))
    if not parts:
        none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
        return Columns(none, none, none, none, none, nothing, nothing)
    sizes = [part[3].size for part in parts]

    def spread(values: Sequence[float]) -> Ints:
        return np.repeat(np.asarray(values, dtype=np.int64), sizes)

    return Columns(
        spread([part[0] for part in parts]),
        spread([part[1] for part in parts]),
        np.concatenate([part[2].first + part[3] for part in parts]).astype(np.int64),
        spread([part[2].group for part in parts]),
        spread([part[2].occupied_min for part in parts]),
        np.repeat([part[4] for part in parts], sizes),
        np.concatenate([part[2].costs[part[3]] for part in parts]),
    )


@dataclass(frozen=True, slots=True)
class Prices:
    """A proven bound: with minutes of each group at a price, what each job costs at least.

    reduced: by job and option, what each start costs beyond the job's cheapest, prices included (inf where not
    allowed); unplanned: the same for leaving the job out. bound: no plan of the whole costs less, whatever the prices;
    minutes: the prices, (group, minute).
    """

    bound: float
    minutes: Floats
    reduced: tuple[tuple[Floats, ...], ...]
    unplanned: Floats


def bound(problem: PlanningProblem, prices: Floats) -> Prices:
    """Lagrangian bound over every start of every job. prices: of a minute of each group, (group, minute), 0 or more.

    Any prices prove a bound; those of the linear relaxation prove the best one. Nothing here rests on the solver.
    """
    prices = np.maximum(prices, 0.0)
    summed = np.zeros((prices.shape[0], prices.shape[1] + 1))
    np.cumsum(prices, axis=1, out=summed[:, 1:])
    total = -sum(group.count * float(prices[at].sum()) for at, group in enumerate(problem.groups))
    reduced, unplanned = [], np.empty(len(problem.jobs))
    for index, job in enumerate(problem.jobs):
        priced_by_option = []
        least = job.unplanned_cost
        for option in job.options:
            size, line = option.costs.size, summed[option.group]
            begin = line[option.first : option.first + size]
            end = line[option.first + option.occupied_min : option.first + option.occupied_min + size]
            priced = option.costs + job.load * (end - begin)
            priced_by_option.append(priced)
            if size:
                least = min(least, float(priced.min()))
        total += least
        reduced.append(tuple(priced - least for priced in priced_by_option))
        unplanned[index] = job.unplanned_cost - least
    return Prices(total, prices, tuple(reduced), unplanned)


def ascend(problem: PlanningProblem, upper: float, *, rounds: int, stop: Callable[[], bool]) -> Floats:
    """Prices that prove a good bound without a solver, by subgradient steps towards a known plan's cost.

    upper: that cost; rounds: most steps; stop: asked before each. Returns (group, minute), 0 or more.
    """
    room = np.array([[float(group.count)] for group in problem.groups])
    prices = np.zeros((len(problem.groups), problem.minutes))
    best, best_prices, scale, stale = -np.inf, prices, 1.0, 0
    for _ in range(rounds):
        if stop():
            break
        value, usage = _cheapest(problem, prices)
        value -= float((prices * room).sum())
        if value > best + 1e-3 * abs(best) or not np.isfinite(best):
            stale = 0
        else:
            stale += 1
        if value > best:
            best, best_prices = value, prices
        if stale >= STALE_ROUNDS:
            scale, stale, prices = scale / 2.0, 0, best_prices
            continue
        over = usage - room
        over[(over < 0) & (prices <= 0)] = 0.0
        length = float((over * over).sum())
        if length <= 0 or value >= upper:
            break
        prices = np.maximum(0.0, prices + scale * (upper - value) / length * over)
    return best_prices


def _cheapest(problem: PlanningProblem, prices: Floats) -> tuple[float, Floats]:
    """What all jobs cost at least at these prices, each on its own, and the minutes that they would then use."""
    summed = np.zeros((prices.shape[0], prices.shape[1] + 1))
    np.cumsum(prices, axis=1, out=summed[:, 1:])
    changes = np.zeros_like(summed)
    total = 0.0
    for job in problem.jobs:
        least, where = job.unplanned_cost, None
        for option in job.options:
            size, first, line = option.costs.size, option.first, summed[option.group]
            end = first + option.occupied_min
            priced = option.costs + job.load * (line[end : end + size] - line[first : first + size])
            at = int(priced.argmin())
            if priced[at] < least:
                least, where = float(priced[at]), (option.group, first + at, end + at)
        total += least
        if where is not None:
            changes[where[0], where[1]] += job.load
            changes[where[0], where[2]] -= job.load
    return total, np.cumsum(changes, axis=1)[:, :-1]


def cheapest_few(prices: Prices, count: int) -> Chooser:
    """So many starts of each option as cost least beyond their job's cheapest."""

    def cheapest(offer: Offer) -> Ints:
        reduced = prices.reduced[offer.job][offer.number]
        if reduced.size <= count:
            return np.arange(reduced.size)
        return np.flatnonzero(reduced <= np.partition(reduced, count)[count])

    return cheapest


def near_best(starts: Sequence[Start | None]) -> Chooser:
    """The start of a known plan alone, so that it can always be chosen."""

    def known(offer: Offer) -> Ints:
        taken = offer.taken_by(starts)
        return np.array([] if taken is None else [taken], dtype=np.int64)

    return known


def near(starts: Sequence[Start | None], minutes: int) -> Chooser:
    """Every start up to some minutes after that of a known plan, and as many after the earliest."""

    def around(offer: Offer) -> Ints:
        start = starts[offer.job]
        last = minutes if start is None else max(minutes, start[1] - offer.option.first + minutes)
        return np.arange(min(offer.option.costs.size, last + 1))

    return around


def as_values(kept: Columns, starts: Sequence[Start | None]) -> Floats:
    """Starts as a value a column: 1 where it is taken."""
    option = np.array([-1 if start is None else start[0] for start in starts], dtype=np.int64)
    minute = np.array([-1 if start is None else start[1] for start in starts], dtype=np.int64)
    chosen: Floats = ((option[kept.job] == kept.option) & (minute[kept.job] == kept.minute)).astype(np.float64)
    return chosen


def as_starts(
    kept: Columns, values: Floats, before: Sequence[Start | None], jobs: Sequence[int]
) -> tuple[Start | None, ...]:
    """The starts that values a column stand for; jobs: those that were chosen anew, the others as before."""
    starts = list(before)
    for job in jobs:
        starts[job] = None
    for at in np.flatnonzero(values > 0.5):
        starts[int(kept.job[at])] = (int(kept.option[at]), int(kept.minute[at]))
    return tuple(starts)

"""Solves the planning problem: linear relaxation, list schedules ordered by it, then exact choice, whole or in windows.

The clock and the wish to stop are parameters. The bound comes from columns.bound, which covers every start of every
job, or from the solver where it searched the whole; it is proven whatever was left out on the way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.conditions import Floats
from advisor.slots import columns as cols
from advisor.slots import highs
from advisor.slots.columns import Columns, Prices
from advisor.slots.listing import Usage, in_order
from advisor.slots.model import TOLERANCE, Answer, Ints, Job, Option, Problem, Start, cost_at, price

WHOLE_JOBS = 120
WHOLE_COLUMNS = 60_000
EXACT_CORNERS = 20_000
LATER_MIN = 45
ROUNDS = 12
WINDOW_JOBS = 45
WINDOW_SECONDS = 4.0
ALPHAS = (0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9)

Clock = Callable[[], float]
Progress = Callable[[float, float], None]


@dataclass(slots=True)
class _Search:
    problem: Problem
    clock: Clock
    deadline: float
    gap: float
    stop: Callable[[], bool]
    progress: Progress
    best: tuple[Start | None, ...]
    cost: float
    bound: float = 0.0
    notes: list[str] = field(default_factory=list)

    def left(self) -> float:
        return self.deadline - self.clock()

    def done(self) -> bool:
        return self.stop() or self.left() <= 0 or self.cost - self.bound <= self.gap * self.cost + TOLERANCE

    def offer(self, starts: Sequence[Start | None]) -> bool:
        cost = price(self.problem, starts)
        if cost < self.cost - TOLERANCE:
            self.best, self.cost = tuple(starts), cost
            self.progress(self.cost, self.bound)
            return True
        return False

    def prove(self, bound: float) -> None:
        if bound > self.bound:
            self.bound = min(bound, self.cost)
            self.progress(self.cost, self.bound)


def solve(
    problem: Problem, *, seconds: float, clock: Clock, gap: float = 1e-4, stop: Callable[[], bool] = lambda: False,
    progress: Progress = lambda objective, bound: None, known: Sequence[Start | None] | None = None,
) -> Answer:  # fmt: skip
    """The best plan found in a time, and a bound on all plans.

    seconds: time limit; clock: seconds from any start; gap: relative, at which to stop; stop: asked between and
    during steps; progress: told each better objective and bound; known: a plan to start from.
    Returns Answer: status "optimal" (within gap), "time limit" or "stopped".
    """
    begun = clock()
    order = sorted(range(len(problem.jobs)), key=lambda index: (problem.jobs[index].ready, index))
    first = in_order(problem, order)
    search = _Search(problem, clock, begun + seconds, gap, stop, progress, first, price(problem, first))
    if known is not None:
        search.offer(known)
    search.prove(cols.bound(problem, np.zeros((len(problem.groups), problem.minutes))).bound)
    if not search.done():
        prices = _relaxed(search)
        if not search.done():
            _exact(search, prices)
    if search.cost - search.bound <= gap * search.cost + TOLERANCE:
        status = "optimal"
    else:
        status = "stopped" if stop() else "time limit"
    return Answer(search.best, search.cost, search.bound, status, clock() - begun, tuple(search.notes))


def _relaxed(search: _Search) -> Prices | None:
    """Solve the relaxation, columns added until none is missing; list schedules from it. Returns the best prices."""
    problem = search.problem
    chosen = cols.choose(problem, cols.near(search.best, LATER_MIN))
    taken = [[np.zeros(option.costs.size, dtype=np.bool_) for option in job.options] for job in problem.jobs]
    best: Prices | None = None
    for _ in range(ROUNDS):
        for job, option, minute in zip(chosen.job, chosen.option, chosen.minute, strict=True):
            taken[job][option][minute - problem.jobs[job].options[option].first] = True
        exact = chosen.size <= EXACT_CORNERS
        found = highs.relax(problem, chosen, seconds=search.left(), stop=search.stop, crossover=exact)
        if found.prices is None or found.chosen is None:
            search.notes.append(f"linear relaxation: {found.said.lower()}")
            break
        prices = cols.bound(problem, found.prices)
        if best is None or prices.bound > best.bound:
            best = prices
        search.prove(prices.bound)
        _schedules(search, chosen, found.chosen)
        if search.done() or prices.bound >= found.bound - 1e-4 * abs(found.bound) - TOLERANCE:
            break

        def missing(index: int, job: Job, at: int, option: Option, prices: Prices = prices) -> Ints:
            wanted = taken[index][at] | (prices.reduced[index][at] < TOLERANCE)
            return np.flatnonzero(wanted)

        more = cols.choose(problem, missing)
        if more.size == chosen.size:
            break
        chosen = more
    return best


def _schedules(search: _Search, chosen: Columns, values: Floats) -> None:
    """List schedules in the order in which the relaxation has done a part of each job."""
    count = len(search.problem.jobs)
    order = np.lexsort((chosen.minute, chosen.job))
    job, minute = chosen.job[order], chosen.minute[order]
    sums = np.cumsum(values[order])
    firsts = np.searchsorted(job, np.arange(count))
    base = np.where(firsts > 0, sums[np.maximum(firsts - 1, 0)], 0.0)
    ready = np.array([item.ready for item in search.problem.jobs], dtype=np.float64)
    part = sums - base[job]
    for alpha in ALPHAS:
        at = np.full(count, np.inf)
        reached = part >= alpha
        np.minimum.at(at, job[reached], minute[reached].astype(np.float64))
        search.offer(in_order(search.problem, np.lexsort((np.arange(count), ready, at)).tolist()))


def _exact(search: _Search, prices: Prices | None) -> None:
    problem = search.problem
    slack = np.inf if prices is None else search.cost - prices.bound

    def cheap(index: int, job: Job, at: int, option: Option) -> Ints:
        # a start that costs more than the gap beyond its job's cheapest is in no better plan
        return np.arange(option.costs.size) if prices is None else np.flatnonzero(
            prices.reduced[index][at] <= slack + TOLERANCE
        )  # fmt: skip

    if len(problem.jobs) <= WHOLE_JOBS:
        kept = cols.choose(problem, cheap)
        if kept.size <= WHOLE_COLUMNS:
            _whole(search, kept)
            return
    _windows(search, prices)


def _whole(search: _Search, kept: Columns) -> None:
    problem = search.problem
    jobs = list(range(len(problem.jobs)))
    room = np.repeat([[float(group.count)] for group in problem.groups], problem.minutes, axis=1) + TOLERANCE
    above = search.cost

    def tell(objective: float, bound: float) -> None:
        search.progress(min(objective, above), max(search.bound, min(bound, above)))

    outcome = highs.choose(
        problem, kept, jobs, room, seconds=search.left(), gap=search.gap, stop=search.stop,
        start=_as_values(kept, search.best), report=tell,
    )  # fmt: skip
    if outcome.chosen is not None:
        search.offer(_as_starts(kept, outcome.chosen, search.best, jobs))
    elif not search.stop() and search.left() > 0:
        search.notes.append(f"exact search: {outcome.said.lower()}")
    # what was left out costs at least what the plan known then cost
    search.prove(min(outcome.bound, above))


def _windows(search: _Search, prices: Prices | None) -> None:
    """Exact choice for some jobs at a time, neighbours in time, the others held; again until nothing improves."""
    problem = search.problem
    size, seconds, stale = WINDOW_JOBS, WINDOW_SECONDS, 0
    while not search.done() and stale < 3:
        order = sorted(range(len(problem.jobs)), key=lambda job: (_at(search, job), job))
        better = False
        step = max(1, size // 2)
        for begin in range(0 if stale % 2 == 0 else step // 2, max(1, len(order) - step), step):
            if search.done():
                return
            better |= _window(search, prices, sorted(order[begin : begin + size]), seconds)
        stale = 0 if better else stale + 1
        if not better:
            size, seconds = size * 3 // 2, seconds * 2


def _at(search: _Search, job: int) -> int:
    start = search.best[job]
    return search.problem.jobs[job].ready if start is None else start[1]


def _window(search: _Search, prices: Prices | None, jobs: Sequence[int], seconds: float) -> bool:
    problem = search.problem
    usage = Usage(problem)
    inside = set(jobs)
    for job, start in enumerate(search.best):
        if start is not None and job not in inside:
            usage.add(job, start)
    room = np.array([[float(group.count)] for group in problem.groups]) - usage.used[:, :-1] + TOLERANCE
    held = sum(_cost(problem, job, search.best[job]) for job in jobs)
    least = 0.0 if prices is None else search.cost - prices.bound

    def cheap(index: int, job: Job, at: int, option: Option) -> Ints:
        wanted = np.isfinite(usage.costs(index, at))
        if prices is not None:
            wanted &= prices.reduced[index][at] <= max(least, TOLERANCE)
        start = search.best[index]
        if start is not None and start[0] == at:
            wanted[start[1] - option.first] = True
        return np.flatnonzero(wanted)

    kept = cols.choose(problem, cheap, jobs)
    outcome = highs.choose(
        problem, kept, jobs, room, seconds=min(seconds, search.left()), gap=1e-3, stop=search.stop,
        start=_as_values(kept, search.best),
    )  # fmt: skip
    if outcome.chosen is None:
        return False
    return bool(held > 0) and search.offer(_as_starts(kept, outcome.chosen, search.best, jobs))


def _cost(problem: Problem, job: int, start: Start | None) -> float:
    item = problem.jobs[job]
    return item.unplanned_cost if start is None else cost_at(item, start)


def _as_values(kept: Columns, starts: Sequence[Start | None]) -> Floats:
    option = np.array([-1 if start is None else start[0] for start in starts], dtype=np.int64)
    minute = np.array([-1 if start is None else start[1] for start in starts], dtype=np.int64)
    chosen: Floats = ((option[kept.job] == kept.option) & (minute[kept.job] == kept.minute)).astype(np.float64)
    return chosen


def _as_starts(
    kept: Columns, values: Floats, before: Sequence[Start | None], jobs: Sequence[int]
) -> tuple[Start | None, ...]:
    starts = list(before)
    for job in jobs:
        starts[job] = None
    for at in np.flatnonzero(values > 0.5):
        starts[int(kept.job[at])] = (int(kept.option[at]), int(kept.minute[at]))
    return tuple(starts)

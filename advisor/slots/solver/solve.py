"""Solves the planning problem: linear relaxation, list schedules ordered by it, then exact choice, whole or in windows.

The clock and the wish to stop are parameters. The bound comes from columns.bound, which covers every start of every
job, or from the solver where it searched the whole; it is proven whatever was left out on the way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, Answer, Ints, PlanningProblem, Start, price
from advisor.slots.solver import columns as cols
from advisor.slots.solver import highs
from advisor.slots.solver.columns import Columns, Offer, Prices
from advisor.slots.solver.listing import Usage, in_order

# up to this many jobs are chosen for at once; more are first placed some at a time
AT_ONCE_JOBS = 40
# all at once as soon as no more starts than this can be in a better plan
WHOLE_COLUMNS = 6000
EXACT_CORNERS = 8_000
LATER_MIN = 45
ASCENT_ROUNDS = 120
FEW = 35
ROUNDS = 12
ROLLING_JOBS = 60
WINDOW_JOBS = 60
WINDOW_SECONDS = 5.0
# parts of the time left that all steps of the first placing, one window and one relaxation may take
ROLLING_PART, WINDOW_PART, RELAX_PART = 0.4, 0.2, 0.5
# beyond its job's cheapest start, prices included: what a first choice is made from, and what counts as no dearer
NEAR_COST = 4.0
NEAR_ANCHOR = 0.5
LEAST_LOSS = 0.01
ALPHAS = (0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9)

NO_MEMORY = "no memory was left for a better plan"
Clock = Callable[[], float]
Progress = Callable[[float, float], None]


@dataclass(slots=True)
class _Search:
    problem: PlanningProblem
    clock: Clock
    deadline: float
    gap: float
    stop: Callable[[], bool]
    progress: Progress
    best: tuple[Start | None, ...]
    cost: float
    bound: float = 0.0
    notes: list[str] = field(default_factory=list)
    told: tuple[float, float] = (np.inf, 0.0)

    def left(self) -> float:
        return self.deadline - self.clock()

    def done(self) -> bool:
        return self.stop() or self.left() <= 0 or self.cost - self.bound <= self.gap * self.cost + TOLERANCE

    def offer(self, starts: Sequence[Start | None]) -> bool:
        cost = price(self.problem, starts)
        if cost < self.cost - TOLERANCE:
            self.best, self.cost = tuple(starts), cost
            self.tell(self.cost, self.bound)
            return True
        return False

    def tell(self, cost: float, bound: float) -> None:
        """Progress never goes back, whatever a run reports on its way."""
        self.told = (min(self.told[0], cost), max(self.told[1], bound))
        self.progress(*self.told)

    def prove(self, bound: float) -> None:
        if bound > self.bound:
            self.bound = min(bound, self.cost)
            self.tell(self.cost, self.bound)


def solve(
    problem: PlanningProblem,
    *,
    seconds: float,
    clock: Clock,
    gap: float = 1e-4,
    stop: Callable[[], bool] = lambda: False,
    progress: Progress = lambda objective, bound: None,
    first: Sequence[Start | None] | None = None,
) -> Answer:
    """The best plan found in a time, and a bound on all plans.

    seconds: time limit; clock: seconds from any start; gap: relative, at which to stop; stop: asked between and
    during steps; progress: told each better objective and bound; first: a plan that is known already.
    Returns Answer: status "optimal" (within gap), "time limit" or "stopped", which it also is where memory ran out.
    """
    begun = clock()
    order = sorted(range(len(problem.jobs)), key=lambda index: (problem.jobs[index].ready, index))
    listed = in_order(problem, order)
    known = listed if first is None else tuple(first)
    search = _Search(problem, clock, begun + seconds, gap, stop, progress, known, price(problem, known))
    search.offer(listed)
    search.prove(cols.bound(problem, np.zeros((len(problem.groups), problem.minutes))).bound)
    try:
        if not search.done():
            prices = _relaxed(search)
            if not search.done():
                _exact(search, prices)
    except MemoryError:
        search.notes.append(NO_MEMORY)
    if search.cost - search.bound <= gap * search.cost + TOLERANCE:
        status = "optimal"
    else:
        status = "stopped" if stop() or NO_MEMORY in search.notes else "time limit"
    return Answer(search.best, search.cost, search.bound, status, clock() - begun, tuple(search.notes))


def _relaxed(search: _Search) -> Prices | None:
    """Solve the relaxation, columns added until none is missing; list schedules from it. Returns the best prices."""
    problem = search.problem
    best: Prices | None = None
    chosen = cols.choose(problem, cols.near(search.best, LATER_MIN))
    if chosen.size > EXACT_CORNERS:
        # prices found without the solver: a bound that stands whatever comes, and a better choice to begin with
        best = cols.bound(problem, cols.ascend(problem, search.cost, rounds=ASCENT_ROUNDS, stop=search.done))
        search.prove(best.bound)
        few, known = cols.cheapest_few(best, FEW), cols.near_best(search.best)

        def few_and_known(offer: Offer) -> Ints:
            return np.union1d(few(offer), known(offer))

        chosen = cols.choose(problem, few_and_known)
    taken = [[np.zeros(option.costs.size, dtype=np.bool_) for option in job.options] for job in problem.jobs]
    for _ in range(ROUNDS):
        for job, option, minute in zip(chosen.job, chosen.option, chosen.minute, strict=True):
            taken[job][option][minute - problem.jobs[job].options[option].first] = True
        exact = chosen.size <= EXACT_CORNERS
        relaxed = highs.relax(problem, chosen, seconds=RELAX_PART * search.left(), stop=search.stop, crossover=exact)
        if relaxed.prices is None or relaxed.chosen is None:
            search.notes.append(f"linear relaxation: {relaxed.said.lower()}")
            break
        prices = cols.bound(problem, relaxed.prices)
        if best is None or prices.bound > best.bound:
            best = prices
        search.prove(prices.bound)
        _schedules(search, chosen, relaxed.chosen)
        if search.done() or prices.bound >= relaxed.bound - 1e-4 * abs(relaxed.bound) - TOLERANCE:
            break

        def missing(offer: Offer, prices: Prices = prices) -> Ints:
            reduced = prices.reduced[offer.job][offer.number]
            return np.flatnonzero(taken[offer.job][offer.number] | (reduced < TOLERANCE))

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
        reached_min = np.full(count, np.inf)
        reached = part >= alpha
        np.minimum.at(reached_min, job[reached], minute[reached].astype(np.float64))
        search.offer(in_order(search.problem, np.lexsort((np.arange(count), ready, reached_min)).tolist()))


def _exact(search: _Search, prices: Prices | None) -> None:
    """Rolling choice for a good plan, then all at once where what is left to choose from is small, else in windows."""
    if prices is None:
        _windows(search, None)
        return
    if len(search.problem.jobs) > AT_ONCE_JOBS:
        _rolling(search, prices)
    while not search.done():
        # a start that costs more than the gap beyond its job's cheapest is in no better plan
        kept = cols.choose(search.problem, _within(search, prices, search.cost - prices.bound))
        if kept.size <= WHOLE_COLUMNS:
            _whole(search, kept)
            return
        before = search.cost
        _windows(search, prices)
        if search.cost >= before - TOLERANCE:
            if not search.done():
                _whole(search, kept)
            return


def _within(search: _Search, prices: Prices, most: float, usage: Usage | None = None) -> cols.Chooser:
    """Starts that cost at most so much beyond their job's cheapest, with room for them, and those of the best plan."""

    def dear_by_little(offer: Offer) -> Ints:
        wanted = prices.reduced[offer.job][offer.number] <= most + TOLERANCE
        if usage is not None:
            wanted = wanted & np.isfinite(usage.costs(offer.job, offer.number))
        taken = offer.taken_by(search.best)
        if taken is not None:
            wanted[taken] = True
        return np.flatnonzero(wanted)

    return dear_by_little


def _rolling(search: _Search, prices: Prices) -> None:
    """Place the jobs in the order in which the relaxation has them, some at a time; the later half stays open."""
    problem = search.problem
    left = sorted(range(len(problem.jobs)), key=lambda job: (_anchor(problem, prices, job), job))
    fixed: list[Start | None] = [None] * len(problem.jobs)
    placed: set[int] = set()
    seconds = min(WINDOW_SECONDS, ROLLING_PART * search.left() / max(1, len(left) * 2 // ROLLING_JOBS))
    while left and not search.stop() and search.left() > 0:
        jobs = sorted(left[:ROLLING_JOBS])
        usage = Usage(problem)
        for job in placed:
            start = fixed[job]
            if start is not None:
                usage.add(job, start)
        starts = _place(search, prices, jobs, usage, seconds)
        order = sorted(jobs, key=lambda job: (_minute(starts[job]), job))
        for job in order if len(left) <= ROLLING_JOBS else order[: ROLLING_JOBS // 2]:
            fixed[job] = starts[job]
            placed.add(job)
        left = [job for job in left if job not in placed]
    search.offer(in_order(problem, left, fixed))


def _place(
    search: _Search, prices: Prices, jobs: Sequence[int], usage: Usage, seconds: float
) -> tuple[Start | None, ...]:
    """Starts for some jobs beside what is placed already: one after the other, then better ones near the cheapest."""
    problem = search.problem
    listed: list[Start | None] = [None] * len(problem.jobs)
    beside = usage.copy()
    for job in sorted(jobs, key=lambda job: (_anchor(problem, prices, job), job)):
        listed[job] = start = beside.cheapest(job)
        if start is not None:
            beside.add(job, start)

    def near_cheapest(offer: Offer) -> Ints:
        room = np.isfinite(usage.costs(offer.job, offer.number))
        wanted = room & (prices.reduced[offer.job][offer.number] <= NEAR_COST)
        taken = offer.taken_by(listed)
        if taken is not None:
            wanted[taken] = True
        return np.flatnonzero(wanted)

    kept = cols.choose(problem, near_cheapest, jobs)
    outcome = highs.choose(
        problem,
        kept,
        jobs,
        _room(problem, usage),
        seconds=min(seconds, search.left()),
        gap=5e-3,
        stop=search.stop,
        start=cols.as_values(kept, listed),
    )
    return tuple(listed) if outcome.chosen is None else cols.as_starts(kept, outcome.chosen, listed, jobs)


def _anchor(problem: PlanningProblem, prices: Prices, job: int) -> int:
    """The first minute at which a job costs about as little as it can."""
    minutes = [
        option.first + int((reduced <= NEAR_ANCHOR).argmax())
        for option, reduced in zip(problem.jobs[job].options, prices.reduced[job], strict=True)
        if reduced.size and bool((reduced <= NEAR_ANCHOR).any())
    ]
    return min(minutes, default=problem.jobs[job].ready)


def _minute(start: Start | None) -> int:
    return 10**9 if start is None else start[1]


def _room(problem: PlanningProblem, usage: Usage) -> Floats:
    return np.array([[float(group.count)] for group in problem.groups]) - usage.used[:, :-1] + TOLERANCE


def _whole(search: _Search, kept: Columns) -> None:
    problem = search.problem
    jobs = list(range(len(problem.jobs)))
    room = np.repeat([[float(group.count)] for group in problem.groups], problem.minutes, axis=1) + TOLERANCE
    above = search.cost

    def tell(objective: float, bound: float) -> None:
        search.tell(objective, min(bound, above))

    outcome = highs.choose(
        problem,
        kept,
        jobs,
        room,
        seconds=search.left(),
        gap=search.gap,
        stop=search.stop,
        start=cols.as_values(kept, search.best),
        report=tell,
    )
    if outcome.chosen is not None:
        search.offer(cols.as_starts(kept, outcome.chosen, search.best, jobs))
    elif not search.stop() and search.left() > 0:
        search.notes.append(f"exact search: {outcome.said.lower()}")
    # what was left out costs at least what the plan known then cost
    search.prove(min(outcome.bound, above))


def _windows(search: _Search, prices: Prices | None) -> None:
    """Exact choice for some jobs at a time, neighbours in time, the others held; where most is lost first.

    What a plan loses against the bound is known place by place: the reduced costs of its starts and the priced
    minutes that it leaves free. Once every stretch has been tried, they and the choice grow.
    """
    count = len(search.problem.jobs)
    size, most = WINDOW_JOBS, NEAR_COST
    while not search.done() and size <= 2 * max(count, WINDOW_JOBS):
        step = max(1, size // 2)
        tried: set[frozenset[int]] = set()
        while not search.done():
            order = sorted(range(count), key=lambda job: (_moment(search, job), job))
            losses = _losses(search, prices)
            stretches = [order[begin : begin + size] for begin in range(0, max(1, count - step), step)]
            waiting = [jobs for jobs in stretches if frozenset(jobs) not in tried]
            if not waiting:
                break
            worst = max(waiting, key=lambda jobs: (float(losses[jobs].sum()), -jobs[0]))
            if losses[worst].sum() <= LEAST_LOSS:
                break
            tried.add(frozenset(worst))
            _window(search, prices, sorted(worst), most)
        size, most = size * 3 // 2, most * 2


def _losses(search: _Search, prices: Prices | None) -> Floats:
    """What each job of the best plan loses against the bound, with its part of the priced minutes left free."""
    problem = search.problem
    lost = np.ones(len(problem.jobs))
    if prices is None:
        return lost
    usage = Usage(problem)
    for job, start in enumerate(search.best):
        if start is None:
            lost[job] = prices.unplanned[job]
        else:
            usage.add(job, start)
            lost[job] = prices.reduced[job][start[0]][start[1] - problem.jobs[job].options[start[0]].first]
    free = (_room(problem, usage) * prices.minutes).sum(axis=0)
    moments = np.array([_moment(search, job) for job in range(lost.size)])
    order = np.argsort(moments, kind="stable")
    place = np.clip(np.searchsorted(moments[order], np.arange(free.size), side="right") - 1, 0, None)
    np.add.at(lost, order[place], free)
    return lost


def _moment(search: _Search, job: int) -> int:
    start = search.best[job]
    return search.problem.jobs[job].ready if start is None else start[1]


def _window(search: _Search, prices: Prices | None, jobs: Sequence[int], most: float) -> None:
    problem = search.problem
    usage = Usage(problem)
    inside = set(jobs)
    for job, start in enumerate(search.best):
        if start is not None and job not in inside:
            usage.add(job, start)

    def with_room(offer: Offer) -> Ints:
        return np.flatnonzero(np.isfinite(usage.costs(offer.job, offer.number)))

    if prices is None:
        kept = cols.choose(problem, with_room, jobs)
    else:
        kept = cols.choose(problem, _within(search, prices, min(most, search.cost - prices.bound), usage), jobs)
    outcome = highs.choose(
        problem,
        kept,
        jobs,
        _room(problem, usage),
        seconds=min(WINDOW_SECONDS, WINDOW_PART * search.left()),
        gap=1e-3,
        stop=search.stop,
        start=cols.as_values(kept, search.best),
    )
    if outcome.chosen is not None:
        search.offer(cols.as_starts(kept, outcome.chosen, search.best, jobs))

"""Places jobs on pads by name, under the rule for sharing: a board to place on, list schedules, and local search. Pure.

What needs a pad for itself overlaps nothing on it; what is only possible may overlap others that are only possible, so
many at a time. Whatever is published was placed here, so only what can be had is ever priced.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, Job, Option, PlanningProblem, cost_at
from advisor.slots.solver.runway import RunwaySpacing, Tank

CHUNK_MIN = 60
LITTLE_MORE = 30.0
ALONE = 1000
# how many are lifted off the board at a time
LEAST_LIFTED, MOST_LIFTED = 2, 9
ROUNDS_A_JOB, LEAST_ROUNDS = 300, 120
# by how much worse a board may be, in the mean, to be gone on from; falls to 0
WARMTH_MIN = 5.0


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a job stands: option by index, minute, and pad by its row on the board.

    take_off_s: when the runway has room for it, seconds from the problem's base; -1 where that is not known yet.
    """

    option: int
    minute: int
    row: int
    take_off_s: int = -1


Places = tuple[Placement | None, ...]


class PadGrid:
    """Pads by name over minutes, what stands on them, and where a job still fits."""

    def __init__(self, problem: PlanningProblem, sharing: int) -> None:
        self.problem, self.sharing = problem, sharing
        self.names = [name for group in problem.groups for name in group.pads]
        self.row_of = {name: row for row, name in enumerate(self.names)}
        ends = np.cumsum([group.count for group in problem.groups])
        self.rows = [range(int(end) - group.count, int(end)) for end, group in zip(ends, problem.groups, strict=True)]
        shape = (len(self.names), problem.minutes + 1)
        # how many stand there; what needs a pad for itself counts as more than may ever share one
        self._standing: NDArray[np.int16] = np.zeros(shape, dtype=np.int16)
        self._runway = RunwaySpacing(problem.spacing_s, problem.taken_s) if problem.spacing_s > 0 else None
        refills = ((self.row_of[name], refill) for name, refill in problem.refills.items() if name in self.row_of)
        self._tanks = {row: Tank(*refill) for row, refill in refills}
        for row, tank in self._tanks.items():
            for span in problem.done.get(self.names[row], ()):
                tank.add(*span)
        self.places: list[Placement | None] = [None] * len(problem.jobs)
        # when each begins, as ready where it has no place
        self.moments = np.array([job.ready for job in problem.jobs], dtype=np.int64)
        # the least that any start from each on can cost, by job and option
        self.last_good = [_last_good(job) for job in problem.jobs]
        self._least = [[_least_from(option.costs) for option in job.options] for job in problem.jobs]

    def fits(self, job: int, place: Placement) -> bool:
        """Whether a job may stand at a place beside what stands there."""
        item = self.problem.jobs[job]
        option = item.options[place.option]
        if place.row not in self._rows(item, option) or not np.isfinite(cost_at(item, (place.option, place.minute))):
            return False
        if item.load <= 0 or item.held_pad:
            # what has begun has begun, whatever stands beside it
            return True
        tank = self._tanks.get(place.row)
        if tank is not None and not tank.allows(np.array([place.minute]), option.occupied_min)[0]:
            return False
        span = self._standing[place.row, place.minute : place.minute + option.occupied_min]
        return bool((span < self._most_beside(item)).all())

    def put(self, job: int, place: Placement) -> None:
        """Place a job; it must fit. Takes the first free take-off where none is given that is free."""
        self._mark(job, place, 1)
        if self._runway is not None:
            place = self._off(job, place)
            self._runway.add(place.take_off_s)
        self.places[job] = place
        self.moments[job] = place.minute

    def lift(self, job: int) -> None:
        """Take a job off the board."""
        place = self.places[job]
        if place is not None:
            self._mark(job, place, -1)
            if self._runway is not None:
                self._runway.remove(place.take_off_s)
            self.places[job] = None
            self.moments[job] = self.problem.jobs[job].ready

    def _mark(self, job: int, place: Placement, sign: int) -> None:
        item = self.problem.jobs[job]
        end = place.minute + item.options[place.option].occupied_min
        tank = self._tanks.get(place.row)
        if tank is not None:
            # what is over takes no pad from anybody, but was taken out of the tank
            (tank.add if sign > 0 else tank.remove)(place.minute, end)
        if item.load > 0:
            self._standing[place.row, place.minute : end] += sign * (ALONE if item.alone else 1)

    def _off(self, job: int, place: Placement) -> Placement:
        """The place with its take-off: the one it has where that is still free, else the first that is."""
        option = self.problem.jobs[job].options[place.option]
        assert option.take_off is not None and self._runway is not None
        ready = 60 * int(option.take_off[place.minute - option.first])
        wanted = max(ready, place.take_off_s)
        if wanted == place.take_off_s and int(self._runway.first_free(np.array([wanted]))[0]) == wanted:
            return place
        return replace(place, take_off_s=int(self._runway.first_free(np.array([ready]))[0]))

    def _most_beside(self, item: Job) -> int:
        """A job fits where fewer than so many stand."""
        return 1 if item.alone else self.sharing

    def _rows(self, item: Job, option: Option) -> Sequence[int]:
        rows = self.rows[option.group]
        if not item.held_pad:
            return rows
        held = self.row_of.get(item.held_pad, -1)
        return [held] if held in rows else []

    def cost(self, job: int) -> float:
        """What a job costs as it stands."""
        place, item = self.places[job], self.problem.jobs[job]
        if place is None:
            return item.unplanned_cost
        return self._priced(item, place) + self._extra(item, place.row)

    def _priced(self, item: Job, place: Placement) -> float:
        """What a place costs with its take-off."""
        option, position = item.options[place.option], place.minute - item.options[place.option].first
        if (
            option.take_off is None
            or option.by_take_off is None
            or place.take_off_s <= 60 * int(option.take_off[position])
        ):
            return cost_at(item, (place.option, place.minute))
        return float(option.by_take_off(np.array([position]), np.array([place.take_off_s / 60]))[0])

    def total(self) -> float:
        """What the whole board costs."""
        return sum(self.cost(job) for job in range(len(self.places)))

    def _extra(self, item: Job, row: int) -> float:
        return item.other_pad_cost if item.wished_pad and self.names[row] != item.wished_pad else 0.0

    def cheapest(self, job: int, first: int = 0) -> Placement | None:
        """Where a job costs least now, the earliest of equals; None where staying unplanned costs less.

        first: the minute before which it does not start.
        """
        item = self.problem.jobs[job]
        best, place = item.unplanned_cost - TOLERANCE, None
        for index, option in enumerate(item.options):
            rows = self._rows(item, option)
            extra = np.array([[self._extra(item, row)] for row in rows]) if item.wished_pad else 0.0
            least = self._least[job][index]
            for begin in range(max(0, first - option.first), option.costs.size, CHUNK_MIN):
                if not len(rows) or least[begin] >= best:
                    break
                some = option.costs[begin : begin + CHUNK_MIN]
                free = self._free(item, option, rows, begin, some.size)
                if self._runway is not None:
                    some = self._with_runway(option, begin, np.where(free.any(axis=0), some, np.inf), best)
                costs = np.where(free, some + extra, np.inf)
                row, minute = divmod(int(costs.argmin()), some.size)
                if costs[row, minute] < best:
                    best = float(costs[row, minute])
                    place = Placement(index, option.first + begin + minute, rows[row])
                    best -= TOLERANCE
        return place

    def _with_runway(self, option: Option, begin: int, costs: Floats, most: float) -> Floats:
        """Costs of some starts, with the take-offs that the runway has room for; of those that cost less than most."""
        assert self._runway is not None and option.take_off is not None and option.by_take_off is not None
        ready = 60 * option.take_off[begin : begin + costs.size]
        off = self._runway.first_free(ready)
        late = np.flatnonzero((off > ready) & (costs < most))
        if not late.size:
            return costs
        with_runway = costs.copy()
        with_runway[late] = option.by_take_off(begin + late, off[late] / 60)
        return with_runway

    def earliest(self, job: int) -> Placement | None:
        """The first minute at which a job can start, whatever it costs; None where there is none."""
        item = self.problem.jobs[job]
        place: Placement | None = None
        for index, option in enumerate(item.options):
            rows = self._rows(item, option)
            for begin in range(0, option.costs.size if len(rows) else 0, CHUNK_MIN):
                if place is not None and option.first + begin >= place.minute:
                    break
                some = np.isfinite(option.costs[begin : begin + CHUNK_MIN])
                free = self._free(item, option, rows, begin, some.size) & some
                if free.any():
                    minute = int(free.any(axis=0).argmax())
                    if place is None or option.first + begin + minute < place.minute:
                        place = Placement(index, option.first + begin + minute, rows[int(free[:, minute].argmax())])
                    break
        return place

    def _free(self, item: Job, option: Option, rows: Sequence[int], begin: int, count: int) -> NDArray[np.bool_]:
        """Whether each of some pads is free for the whole of a treatment that starts at each minute, (pad, start)."""
        if item.load <= 0 or item.held_pad:
            return np.ones((len(rows), count), dtype=np.bool_)
        first = option.first + begin
        span = self._standing[rows[0] : rows[-1] + 1, first : first + count + option.occupied_min - 1]
        summed = np.zeros((span.shape[0], span.shape[1] + 1), dtype=np.int32)
        np.cumsum(span >= self._most_beside(item), axis=1, out=summed[:, 1:])
        free: NDArray[np.bool_] = (summed[:, option.occupied_min :] == summed[:, : -option.occupied_min])[:, :count]
        for row, tank in self._tanks.items():
            if rows[0] <= row <= rows[-1]:
                free[row - rows[0]] &= tank.allows(first + np.arange(count), option.occupied_min)
        return free

    def beside(self, job: int) -> tuple[int, ...]:
        """The jobs that share a job's pad and time."""
        place = self.places[job]
        if place is None or self.problem.jobs[job].load <= 0 or self.problem.jobs[job].alone:
            return ()
        end = place.minute + self.problem.jobs[job].options[place.option].occupied_min
        jobs = []
        for other, there in enumerate(self.places):
            item = self.problem.jobs[other]
            if other == job or there is None or there.row != place.row or item.load <= 0 or item.alone:
                continue
            occupied = self.problem.jobs[other].options[there.option].occupied_min
            if there.minute < end and place.minute < there.minute + occupied:
                jobs.append(other)
        return tuple(jobs)


def _last_good(job: Job) -> float:
    """The last minute that costs little more than the job's cheapest."""
    least = min((float(option.costs.min()) for option in job.options), default=0.0)
    good = [(option.first, (option.costs <= least + LITTLE_MORE).nonzero()[0]) for option in job.options]
    return float(max((first + int(minutes[-1]) for first, minutes in good if minutes.size), default=job.ready))


def _least_from(costs: Floats) -> Floats:
    found: Floats = np.minimum.accumulate(costs[::-1])[::-1]
    return found


def in_order(problem: PlanningProblem, order: Iterable[int], sharing: int, *, soonest: bool = False) -> PadGrid:
    """Place jobs one after the other: where each costs least, or as soon as it can whatever that costs."""
    board = PadGrid(problem, sharing)
    held_first = sorted(order, key=lambda job: not problem.jobs[job].held_pad)
    for job in held_first:
        place = board.earliest(job) if soonest else board.cheapest(job)
        if place is not None:
            board.put(job, place)
    return board


def first_come(problem: PlanningProblem, sharing: int) -> PadGrid:
    """First come, first served: in order of readiness, each as soon as it can, with pads given."""
    order = sorted(range(len(problem.jobs)), key=lambda job: (problem.jobs[job].ready, job))
    return in_order(problem, order, sharing, soonest=True)


def with_places(problem: PlanningProblem, places: Sequence[Placement | None], sharing: int) -> PadGrid:
    """A board with given places; a job that does not fit any more, or has none, goes where it then costs least."""
    board = PadGrid(problem, sharing)
    left = []
    given = [job for job, place in enumerate(places) if place is not None]

    def key(job: int) -> tuple[bool, bool, int, int]:
        place, item = places[job], problem.jobs[job]
        if place is not None and place.take_off_s >= 0:
            # who took the runway first takes it first again
            return not item.held_pad, False, place.take_off_s, job
        return not item.held_pad, not item.alone, 0 if place is None else place.minute, job

    for job in sorted(given, key=key):
        place = places[job]
        if place is not None and board.fits(job, place):
            board.put(job, place)
        else:
            left.append(job)
    left += [job for job, place in enumerate(places) if place is None]
    for job in left:
        place = board.cheapest(job)
        if place is not None:
            board.put(job, place)
    return board


def improve(
    board: PadGrid,
    least: float,
    *,
    stop: Callable[[], bool],
    spent: Callable[[], float] = lambda: 0.0,
    rounds: int | None = None,
    seed: int = 0,
) -> PadGrid:
    """A board that costs no more: jobs near each other are lifted off and placed again in another order.

    least: a proven bound, at which to stop; stop: asked before each round; spent: part of its time that is over, 0
    to 1; rounds: most of them. Changes the board
    given and returns the best one met.
    """
    problem, count = board.problem, len(board.places)
    free = [job for job in range(count) if not problem.jobs[job].held_pad]
    if not free:
        return board
    dice = random.Random(seed)
    rounds = max(LEAST_ROUNDS, ROUNDS_A_JOB * count) if rounds is None else rounds
    cheapest = [min((float(option.costs.min()) for option in job.options), default=0.0) for job in problem.jobs]
    now = best = board.total()
    kept: Places = tuple(board.places)
    for turn in range(rounds):
        if best <= least + TOLERANCE or stop():
            break
        lifted = _neighbours(board, free, cheapest, dice)
        before = [(job, board.places[job]) for job in lifted]
        paid = sum(board.cost(job) for job in lifted)
        for job in lifted:
            board.lift(job)
        _put_back(board, lifted, dice)
        change = sum(board.cost(job) for job in lifted) - paid
        warmth = WARMTH_MIN * (1 - max(turn / rounds, spent())) ** 2
        if change <= TOLERANCE or (warmth > 0 and change < -warmth * log(1.0 - dice.random())):
            now += change
            if now < best - TOLERANCE:
                best, kept = now, tuple(board.places)
            continue
        for job in lifted:
            board.lift(job)
        for job, place in before:
            if place is not None:
                board.put(job, place)
    return closed_up(with_places(problem, kept, board.sharing))


def closed_up(board: PadGrid) -> PadGrid:
    """The same places, each with the first take-off that the runway now has room for, in their order."""
    if board.problem.spacing_s > 0:
        placed = [(place.take_off_s, job) for job, place in enumerate(board.places) if place is not None]
        for _, job in sorted(placed):
            place = board.places[job]
            assert place is not None
            board.lift(job)
            board.put(job, replace(place, take_off_s=-1))
    return board


def _neighbours(board: PadGrid, free: Sequence[int], cheapest: Sequence[float], dice: random.Random) -> list[int]:
    """Some jobs near one that loses much: those whose times lie nearest to its own."""
    some = [free[dice.randrange(len(free))] for _ in range(3)]
    chosen = max(some, key=lambda job: board.cost(job) - cheapest[job])
    far = np.abs(board.moments[free] - board.moments[chosen])
    wide = [free[int(index)] for index in np.argsort(far, kind="stable")[: 3 * MOST_LIFTED]]
    size = dice.randint(LEAST_LIFTED, MOST_LIFTED)
    around = [job for job in wide[: 3 * size] if job != chosen]
    return [chosen, *dice.sample(around, min(size - 1, len(around)))]


def _put_back(board: PadGrid, lifted: Sequence[int], dice: random.Random) -> None:
    """Place the lifted again: in order of readiness blurred by chance, at random, or what loses most first."""
    jobs = board.problem.jobs
    way = dice.random()
    if way < 0.3:
        order = sorted(lifted, key=lambda job: board.last_good[job] + dice.uniform(-15, 15))
    elif way < 0.55:
        order = sorted(lifted, key=lambda job: jobs[job].ready + dice.uniform(-20, 20))
    elif way < 0.75:
        order = dice.sample(list(lifted), len(lifted))
    else:
        order = sorted(lifted, key=lambda job: (not jobs[job].alone, jobs[job].ready + dice.uniform(-5, 5)))
    for job in order:
        place = board.cheapest(job)
        if place is not None:
            board.put(job, place)

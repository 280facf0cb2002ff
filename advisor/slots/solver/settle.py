"""From a problem to pads by name: exact where the night is small, local search where it is not, with a proven bound.

Whatever comes out was placed on a board of named pads: its cost is that of what can be had.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.slots.model import TOLERANCE, Answer, Job, PadGroup, PlanningProblem, Start
from advisor.slots.solver import blocks, choice, named, padwise
from advisor.slots.solver.colour import colour
from advisor.slots.solver.named import PadGrid, Placement
from advisor.slots.solver.solve import Clock, Progress, solve

# so small that every pad can be an unknown of its own
SMALL_JOBS, SMALL_CHOICES = 40, 240
# parts of the time: of the exact choice where the night is small; of local search before the bound; of the bound. Where
# pads are shared, or the runway counts, local search finds the plan and the rest only bounds it
EXACT_PART, FIRST_PART, BOUND_PART = 0.6, 0.35, 0.4
FIRST_ALONE, LAST_ALONE = 0.5, 0.15
# where two may share a pad: of local search first; until when blocks are priced; until when they are chosen from
SHARED_FIRST, PRICED_BY, CHOSEN_BY = 0.12, 0.5, 0.85
# where fewer are to be treated, the exact choice needs no help; where more, blocks are not priced in time
FEWEST_SHARED, MOST_SHARED = 16, 400
# blocks that are chosen from: by how much they may come to more than nothing at the prices of the bound, in turn
NEAR_COSTS = (10.0, 20.0, 40.0, 80.0)
# rounds of local search a job: where the night is small, and where its time is the limit
FEW_ROUNDS, MANY_ROUNDS = 60, 600
# ways of local search from one board, on nights of up to so many jobs
RUNS, SHORT_JOBS = 4, 100
# rounds after some were held back
MOST_ROUNDS_LATER = 3000


@dataclass(frozen=True, slots=True)
class Settled:
    """Starts and pads by job (None where unplanned), who shares a pad's time, what it costs and what any plan costs.

    first_come: what first come, first served costs with pads given; status: "optimal" within the gap, "time limit"
    or "stopped"; places: as they stand on named pads; notes: what the solver has to say; for_holdover: what of the
    objective starts cost that were moved later afterwards.
    """

    starts: tuple[Start | None, ...]
    pads: tuple[str | None, ...]
    sharing: tuple[tuple[int, ...], ...]
    objective: float
    bound: float
    first_come: float
    status: str
    places: tuple[Placement | None, ...] = ()
    notes: tuple[str, ...] = ()
    for_holdover: float = 0.0


def settle(
    problem: PlanningProblem,
    *,
    sharing: int,
    seconds: float,
    clock: Clock,
    gap: float,
    stop: Callable[[], bool],
    progress: Progress,
    before: Sequence[Placement | None] | None = None,
    keep: bool = False,
) -> Settled:
    """Places for all jobs on pads by name.

    sharing: how many possible jobs may hold one pad; seconds, clock, gap, stop, progress: as of solve; before: where
    they stood in the previous plan, to begin from; keep: change nothing of it, only find the bound.
    """
    end = clock() + seconds

    def left() -> float:
        return max(0.0, end - clock())

    come = named.first_come(problem, sharing)
    boards = [come, *_listed(problem, sharing)]
    if before is not None:
        boards.insert(0, named.with_places(problem, before, sharing))
    best = boards[0] if keep and before is not None else min(boards, key=PadGrid.total)
    mixed = any(job.held_pad or job.wished_pad or (not job.alone and sharing > 1) for job in problem.jobs)
    choices = sum(problem.groups[option.group].count for job in problem.jobs for option in job.options)
    small = len(problem.jobs) <= SMALL_JOBS and choices <= SMALL_CHOICES
    aim = _by_pad(problem) if mixed and small else problem
    alone = mixed or problem.spacing_s > 0 or bool(problem.refills)
    rounds = (FEW_ROUNDS if small else MANY_ROUNDS) * len(problem.jobs)
    shared = sharing == blocks.SHARING and any(job.load > 0 and not job.alone for job in problem.jobs)
    shared = shared and FEWEST_SHARED <= len(problem.jobs) <= MOST_SHARED
    if not small and not keep:
        part = SHARED_FIRST if shared else FIRST_ALONE if alone else FIRST_PART
        best = _improved(best, 0.0, part * seconds, clock, stop, rounds, seed=0)
    bound = 0.0
    if shared:
        priced = _by_blocks(best, end, seconds, clock, stop, keep)
        if priced is not None:
            best, bound = priced
            progress(best.total(), bound)
            over = best.total() - bound > gap * best.total() + TOLERANCE
            if over and not keep and not small:
                best = _improved(best, bound, left(), clock, stop, rounds, seed=1)
            if not over or not small:
                answer = Answer(_group_starts(best), best.total(), bound, "")
                return _settled(best, answer, come.total(), gap, stop)
    known = _group_starts(best) if aim is problem else _pad_starts(best, aim)
    # what local search leaves of its time is for the bound
    last = LAST_ALONE * seconds
    spare = (EXACT_PART if small else BOUND_PART) * seconds if small or not alone else max(0.0, left() - last)
    spare = min(spare, max(0.0, left() - last)) if bound else spare
    answer = solve(aim, seconds=spare, clock=clock, gap=gap, stop=stop, progress=progress, first=known)
    answer = replace(answer, bound=max(answer.bound, bound))
    if not keep:
        best = min((_board_of(problem, aim, answer, sharing), best), key=PadGrid.total)
        if best.total() - answer.bound > gap * best.total() + TOLERANCE:
            best = _improved(best, answer.bound, left(), clock, stop, rounds, seed=1, by_rounds=small)
    return _settled(best, answer, come.total(), gap, stop)


def _by_blocks(
    board: PadGrid, end: float, seconds: float, clock: Clock, stop: Callable[[], bool], keep: bool
) -> tuple[PadGrid, float] | None:
    """A board and a bound from whole blocks of pads; None where their tables would be too large.

    end: of all the time; seconds: all of it; keep: the board stays as it is.
    """
    problem, upper = board.problem, board.total()

    def until(part: float) -> float:
        return max(0.0, end - (1 - part) * seconds - clock())

    prices = padwise.plain(problem, _group_starts(board), upper, seconds=until(PRICED_BY) / 2, stop=stop)
    standing = choice.blocks_of(board, blocks.no_room_taken(problem))
    priced = padwise.relax(problem, prices, upper, standing, seconds=until(PRICED_BY), clock=clock, stop=stop)
    if priced is None:
        return None
    for seed, most in enumerate(() if keep else NEAR_COSTS):
        if stop() or not until(CHOSEN_BY):
            break
        board = choice.better(board, priced.near(most), seconds=until(CHOSEN_BY), clock=clock, stop=stop)
        if len(problem.jobs) <= SHORT_JOBS:
            # longer blocks than are chosen from come in by moving a few
            rounds = FEW_ROUNDS * len(problem.jobs)
            over = until(CHOSEN_BY)
            board = _improved(board, priced.bound, over, clock, stop, rounds, seed=7 + seed, by_rounds=True)
    return board, priced.bound


def _improved(
    board: PadGrid,
    least: float,
    seconds: float,
    clock: Clock,
    stop: Callable[[], bool],
    rounds: int,
    *,
    seed: int,
    by_rounds: bool = False,
) -> PadGrid:
    """Local search for so long; a board that has nothing to move comes back as it is.

    by_rounds: cool down by rounds alone, so that the same night gives the same plan wherever there is time for all.
    """
    begun = clock()

    def spent() -> float:
        return 1.0 if seconds <= 0 else min(1.0, (clock() - begun) / seconds)

    # on a night of some size what is found hangs on chance: several short ways from the same board, the best of them
    runs = RUNS if SMALL_JOBS < len(board.places) <= SHORT_JOBS and not by_rounds else 1
    cools = (lambda: 0.0) if by_rounds or runs > 1 else spent
    problem, places, best = board.problem, tuple(board.places), None
    for run in range(runs):
        start = board if run == 0 else named.with_places(problem, places, board.sharing)
        improved = named.improve(
            start,
            least,
            stop=lambda: stop() or spent() >= 1.0,
            spent=cools,
            rounds=rounds // runs,
            seed=seed + 2 * run,
        )
        best = improved if best is None else min(best, improved, key=PadGrid.total)
        if stop() or spent() >= 1.0 or best.total() <= least + TOLERANCE:
            break
    assert best is not None
    return best


def _settled(best: PadGrid, answer: Answer, first_come: float, gap: float, stop: Callable[[], bool]) -> Settled:
    objective = best.total()
    bound = min(answer.bound, objective)
    status = "stopped" if stop() else "time limit"
    if objective - bound <= gap * objective + TOLERANCE:
        status = "optimal"
    return Settled(
        tuple(None if place is None else (place.option, place.minute) for place in best.places),
        tuple(None if place is None else best.names[place.row] for place in best.places),
        tuple(best.beside(job) for job in range(len(best.places))),
        objective,
        bound,
        first_come,
        status,
        tuple(best.places),
        answer.notes,
    )


def held_back(
    problem: PlanningProblem, settled: Settled, first: Mapping[int, int], *, sharing: int, gap: float, dearer: float
) -> tuple[Settled, tuple[int, ...]]:
    """Starts that do not lie before some minutes, by job, where that costs each little; and the jobs that stay before.

    dearer: what it may cost; where nothing, a job goes as far towards its minute as it costs nothing.
    """
    board = named.with_places(problem, settled.places, sharing)
    wanted = [(minute, job) for job, minute in first.items() if (place := board.places[job]) and place.minute < minute]
    if dearer > 0:
        _all_later(board, sorted(wanted), dearer)
    else:
        for minute, job in sorted(wanted):
            begun = board.moments[job]
            any(_moved_to(board, job, at) for at in range(minute, int(begun), -1))
    before = tuple(job for minute, job in wanted if board.places[job] is None or board.moments[job] < minute)
    if dearer > 0:
        board = _closed_ranks(board, {job: minute for minute, job in wanted if job not in before})
    answer = Answer(settled.starts, board.total(), settled.bound, settled.status, notes=settled.notes)
    stopped = settled.status == "stopped"
    made = _settled(board, answer, settled.first_come, gap, lambda: stopped)
    return replace(made, for_holdover=settled.for_holdover + board.total() - settled.objective), before


def _closed_ranks(board: PadGrid, first: Mapping[int, int]) -> PadGrid:
    """A board that costs no more, with none of some jobs before its minute: the others make room for them."""
    problem = board.problem
    if not first:
        return board
    jobs = tuple(_not_before(job, first[at]) if at in first else job for at, job in enumerate(problem.jobs))
    places, rounds = tuple(board.places), min(MOST_ROUNDS_LATER, FEW_ROUNDS * len(jobs))
    narrowed = named.with_places(replace(problem, jobs=jobs), places, board.sharing)
    improved = named.improve(narrowed, 0.0, stop=lambda: False, rounds=rounds, seed=3)
    return min(board, named.with_places(problem, improved.places, board.sharing), key=PadGrid.total)


def _not_before(job: Job, minute: int) -> Job:
    """The job without its starts before a minute."""
    options = tuple(
        replace(option, costs=np.where(option.first + np.arange(option.costs.size) < minute, np.inf, option.costs))
        for option in job.options
    )
    return replace(job, options=options)


def _all_later(board: PadGrid, wanted: Sequence[tuple[int, int]], dearer: float) -> None:
    """Start some jobs no sooner than at their minutes, all lifted before the first is put back, since one that is late
    stands where another stood; each that would cost more than it may goes where it costs least.
    """
    paid = {job: board.cost(job) for _, job in wanted}
    for _, job in wanted:
        board.lift(job)
    for minute, job in wanted:
        place = board.cheapest(job, minute)
        if place is not None:
            board.put(job, place)
        if board.cost(job) > paid[job] + dearer:
            board.lift(job)
            place = board.cheapest(job)
            if place is not None:
                board.put(job, place)


def _moved_to(board: PadGrid, job: int, minute: int) -> bool:
    """Start a job no sooner than at a minute; back where it was, and False, where that costs anything."""
    place, paid = board.places[job], board.cost(job)
    assert place is not None
    board.lift(job)
    later = board.cheapest(job, minute)
    if later is not None:
        board.put(job, later)
        if board.cost(job) <= paid + TOLERANCE:
            return True
        board.lift(job)
    board.put(job, place)
    return False


def _listed(problem: PlanningProblem, sharing: int) -> list[PadGrid]:
    """List schedules to begin from: by readiness, what is sure before what is possible, and by the last good start."""
    jobs, last_good = problem.jobs, PadGrid(problem, sharing).last_good
    keys: tuple[Callable[[int], tuple[float, ...]], ...] = (
        lambda job: (jobs[job].ready, job),
        lambda job: (not jobs[job].alone, jobs[job].ready, job),
        lambda job: (last_good[job], job),
    )
    return [named.in_order(problem, sorted(range(len(jobs)), key=key), sharing) for key in keys]


def _by_pad(problem: PlanningProblem) -> PlanningProblem:
    """The same problem with every pad a group of its own: then loads say exactly who may share a pad."""
    groups = tuple(PadGroup(name, (name,)) for group in problem.groups for name in group.pads)
    rows = named.PadGrid(problem, 1).rows
    jobs = []
    for job in problem.jobs:
        options = []
        for option in job.options:
            for row in rows[option.group]:
                name = groups[row].name
                if job.held_pad in ("", name):
                    extra = job.other_pad_cost if job.wished_pad not in ("", name) else 0.0
                    options.append(replace(option, group=row, costs=option.costs + extra))
        jobs.append(replace(job, options=tuple(options)))
    return replace(problem, jobs=tuple(jobs), groups=groups)


def _board_of(problem: PlanningProblem, aim: PlanningProblem, answer: Answer, sharing: int) -> PadGrid:
    """The starts of an answer on named pads."""
    places: list[Placement | None] = []
    if aim is problem:
        fixed = {at: job.held_pad for at, job in enumerate(problem.jobs) if job.held_pad}
        wished = {at: job.wished_pad for at, job in enumerate(problem.jobs) if job.wished_pad}
        coloured = colour(problem, answer.starts, sharing=sharing, fixed=fixed, wished=wished)
        row_of = named.PadGrid(problem, sharing).row_of
        for start, pad in zip(coloured.starts, coloured.pads, strict=True):
            places.append(None if start is None or pad is None else Placement(start[0], start[1], row_of[pad]))
        return named.with_places(problem, places, sharing)
    rows = named.PadGrid(problem, sharing).rows
    for index, start in enumerate(answer.starts):
        if start is None:
            places.append(None)
            continue
        row = aim.jobs[index].options[start[0]].group
        option = next(number for number, option in enumerate(problem.jobs[index].options) if row in rows[option.group])
        places.append(Placement(option, start[1], row))
    return named.with_places(problem, places, sharing)


def _pad_starts(board: PadGrid, aim: PlanningProblem) -> tuple[Start | None, ...]:
    """The starts of a board where every pad is a group of its own; none where not all can be told so."""
    starts: list[Start | None] = []
    for job, place in zip(aim.jobs, board.places, strict=True):
        rows = [option.group for option in job.options]
        starts.append(None if place is None or place.row not in rows else (rows.index(place.row), place.minute))
    return tuple(starts)


def _group_starts(board: PadGrid) -> tuple[Start | None, ...]:
    return tuple(None if place is None else (place.option, place.minute) for place in board.places)

"""From a schedule, weather and pads to a plan: `make` is the one entry. Clock, stop and progress are parameters."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from msgspec import structs

from advisor.departure import hhmm, rfc3339
from advisor.slots import actual, demand, execution, replan
from advisor.slots.build import Built, Held, build
from advisor.slots.cases import CasePick
from advisor.slots.demand import Need
from advisor.slots.files.pads import Closure
from advisor.slots.night import Night
from advisor.slots.result import (
    OrderOut,
    Plan,
    VariantOut,
)
from advisor.slots.solver.named import PadGrid, Placement
from advisor.slots.solver.settle import Settled, held_back, settle
from advisor.slots.solver.solve import Clock, Progress
from advisor.slots.steplimit import StepLimit
from advisor.slots.stops import closures as find_closures
from advisor.slots.writing import GAP, late_enough, written

# of the time left after reading: for the starts, and until when the order is looked for; the rest is for what is
# rehearsed and for variants
STARTS_PART, ORDER_PART = 0.6, 0.8
STARTS_ALONE, ORDER_ALONE = 0.75, 0.97
# seconds that a departure takes to be written into the plan and shown, which are kept back
WRITING_S = 0.0012
# what it may cost a departure to start later than it could, so that its holdover begins later
HELD_BACK_COST = 60.0
# from the night, what is shut, the needs, how the plan is carried out and whether the time is over to its variants
Variants = Callable[
    [Night, Sequence[Closure], Sequence[Need], execution.Execution, Callable[[], bool]], tuple[VariantOut, ...]
]


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to look and whom to tell; see solve.solve. nights, turns: drawn nights and trials for the order."""

    seconds: float
    clock: Clock
    gap: float = GAP
    stop: Callable[[], bool] = lambda: False
    progress: Progress = lambda objective, bound: None
    nights: int = 200
    turns: int = 300


def make(
    night: Night,
    effort: Effort,
    *,
    pick: CasePick | None = None,
    reserve_all: bool = False,
    needs: Sequence[Need] | None = None,
    rehearse: tuple[int, int] | None = None,
    variants: Variants | None = None,
) -> Plan:
    """The plan of a night.

    pick: cases of the outlook that count, None for all; reserve_all: reserve a whole pad for what is only possible;
    needs: known already; rehearse: nights and seed; variants: what-ifs to put beside it.
    Raises DepartureError for a previous plan of another schedule.
    """
    now, begun = night.weather.now, effort.clock()
    if needs is None:
        needs = look(night, pick)
    some = next((need.conditions for need in needs), None)
    shut, maybe = find_closures(some, night.pads, now)
    before = None if night.previous is None else replan.compare(night.previous, needs, night.pads, shut, now)
    if night.actuals:
        before = actual.applied(
            before or replan.Before(tuple(needs)), needs, night.actuals, night.pads, night.table, now
        )
    if before is not None:
        needs = before.needs
        if before.lost_pads:
            night = replace(night, pads=structs.replace(night.pads, pads=(*night.pads.pads, *before.lost_pads)))
    # who is known to wait may begin at once; without that, nothing new begins before crews have been told
    not_before = 0 if night.previous is None or night.actuals else now + night.pads.margin.freeze_min * 60
    done_before = actual.done_by_pad(night.actuals, night.pads)
    gone = {one.flight: one.departed for one in night.actuals.values() if one.departed is not None}
    built = build(
        needs,
        night.pads,
        shut,
        night.table,
        now,
        not_before=not_before,
        held=None if before is None else before.held,
        wishes=None if before is None else before.wishes,
        reserve_all=reserve_all,
        departed=gone,
        done=done_before,
    )
    more = rehearse is not None or variants is not None
    end = begun + effort.seconds - WRITING_S * len(needs)
    left = max(0.0, end - effort.clock())
    order_by = effort.clock() + (ORDER_PART if more else ORDER_ALONE) * left
    sharing = 1 if reserve_all else night.pads.margin.sharing
    settled = settle(
        built.problem,
        sharing=sharing,
        seconds=(STARTS_PART if more else STARTS_ALONE) * left,
        clock=effort.clock,
        gap=effort.gap,
        stop=effort.stop,
        progress=effort.progress,
        before=None if before is None else _as_before(built, before),
        keep=before is not None and before.same,
    )
    held = {} if before is None else before.held
    gone |= _take_offs(built, settled, held)
    place = execution.prepare(needs, night.pads, shut, night.table, now, held, gone, done_before)
    shift = (built.problem.base_s - place.base_s) // 60
    starts = {
        need.row.flight: start[1] + shift
        for need, start in zip(built.needs, settled.starts, strict=True)
        if start is not None
    }
    kept = before is not None and before.same
    # as long as there is time so much and no more is tried: the same night gives the same order
    done = execution.arrange(
        place,
        starts,
        held,
        nights=effort.nights,
        turns=effort.turns,
        stop=StepLimit(effort.clock, order_by, effort.stop),
        previous=night.previous,
        keep=kept,
    )
    settled, done = _held_back(built, settled, done, shift, 0 if kept else sharing, effort.gap)
    if before is not None:
        _say_who_is_held_back(before, done)
    plan = written(night, needs, built, settled, shut, maybe, before)
    plan = _in_order(plan, done)
    over = StepLimit(effort.clock, end, effort.stop)
    if variants is not None:
        plan = structs.replace(plan, variants=variants(night, shut, needs, done, over))
    if rehearse:
        nights, seed = rehearse
        plan = structs.replace(plan, rehearsal=execution.rehearsal(done, nights, seed, over))
    return plan


def _say_who_is_held_back(before: replan.Before, done: execution.Execution) -> None:
    """Why those start later than in the previous plan that are not called before a time of their own any more."""
    for flight, minute in done.not_before.items():
        first_s = done.field.base_s + 60 * minute
        was = before.old.get(flight)
        if was is not None and was.start is not None and replan.seconds(was.start) < first_s:
            before.again.setdefault(flight, f"not before {hhmm(first_s)}: sooner, its holdover may run out")


def _take_offs(built: Built, settled: Settled, held: Mapping[str, Held]) -> dict[str, int]:
    """When what is held takes off, seconds since 1970 UTC; nothing where the runway does not count."""
    base_s = built.problem.base_s
    return {
        need.row.flight: base_s + place.take_off_s
        for need, place in zip(built.needs, settled.places, strict=True)
        if need.row.flight in held and place is not None and place.take_off_s >= 0
    }


def _held_back(
    built: Built, settled: Settled, done: execution.Execution, shift: int, sharing: int, gap: float
) -> tuple[Settled, execution.Execution]:
    """Starts that agree with the times before which some are not called, and those times where no start can; no start
    so early that holdover is waited away for nothing.

    sharing: as of settle; 0 to move no start at all.
    """
    jobs = {need.row.flight: at for at, need in enumerate(built.needs)}
    wanted = {jobs[flight]: minute - shift for flight, minute in done.not_before.items() if flight in jobs}
    if not sharing:
        starts = {job: start[1] for job, start in enumerate(settled.starts) if start is not None}
        refused = tuple(job for job, minute in wanted.items() if starts.get(job, minute) < minute)
        return settled, execution.let_go(done, {built.needs[job].row.flight for job in refused})
    later = late_enough(built, settled, done.field.pads)
    settled, _ = held_back(built.problem, settled, later, sharing=sharing, gap=gap, dearer=0.0)
    agreed, refused = held_back(built.problem, settled, wanted, sharing=sharing, gap=gap, dearer=HELD_BACK_COST)
    if agreed.objective > max(settled.objective, settled.first_come):
        agreed, refused = settled, tuple(wanted)
    done = execution.let_go(done, {built.needs[job].row.flight for job in refused})
    return (agreed if done.not_before else settled), done


def _in_order(plan: Plan, done: execution.Execution) -> Plan:
    """The plan with its order: the place of each treatment in it, and its latest start."""
    base_s, order = done.field.base_s, done.order
    departures, not_before = [], done.not_before
    for departure in plan.departures:
        rank = done.ranks.get(departure.flight)
        if departure.steps and rank:
            latest = done.latest.get(departure.flight)
            # what has begun has no later start to wait for, and a start that is planned is not too late by the plan
            text = departure.start if latest is None else max(rfc3339(base_s + 60 * latest), departure.start or "")
            first = not_before.get(departure.flight)
            departure = structs.replace(
                departure,
                order=rank,
                latest_start=text,
                not_before=None if first is None else rfc3339(base_s + 60 * first),
            )
        departures.append(departure)
    tried = {name: round(mean, 3) for name, mean in order.tried.items()}
    about = OrderOut(order.name, order.yields, round(order.mean, 3), tried, len(not_before), order.cut)
    return structs.replace(plan, departures=tuple(departures), order=about)


def _as_before(built: Built, before: replan.Before) -> list[Placement | None]:
    """Where each job stood in the previous plan, None where it had no place that it may still have."""
    problem = built.problem
    board = PadGrid(problem, 1)
    places: list[Placement | None] = []
    for need, job in zip(built.needs, problem.jobs, strict=True):
        stood = before.held.get(need.row.flight) or before.wishes.get(need.row.flight)
        row = None if stood is None else board.row_of.get(stood.pad)
        option = next((at for at, one in enumerate(job.options) if row in board.rows[one.group]), None)
        if stood is None or row is None or option is None:
            places.append(None)
        else:
            places.append(Placement(option, (stood.start_s - problem.base_s) // 60, row))
    return places


def look(night: Night, pick: CasePick | None = None) -> tuple[Need, ...]:
    """What each departure needs."""
    nights = demand.Nights(night.weather, demand.last_moment(night.rows, night.weather.now), pick)
    return demand.needs(night.rows, night.fleet, night.checklist, nights, night.pads)

"""From a schedule, weather and pads to a plan: `make` is the one entry. Clock, stop and progress are parameters."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from msgspec import structs

from advisor.brief.advise import CAUTIONS
from advisor.brief.model import Named, PlaceOut
from advisor.checklist.aircraft import Profile
from advisor.checklist.revision import Checklist
from advisor.departure import from_unix, stamp
from advisor.slots import demand, execution, replan
from advisor.slots.build import Built, build, minute_up
from advisor.slots.demand import Need, Weather
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pads
from advisor.slots.files.schedule import Row
from advisor.slots.limits import shown, why_none
from advisor.slots.result import (
    ClosureOut,
    DepartureOut,
    LoadOut,
    OrderOut,
    PadOut,
    Plan,
    ReportOut,
    UnplannedOut,
    VariantOut,
)
from advisor.slots.solver.named import Board, Place
from advisor.slots.solver.settle import Settled, settle
from advisor.slots.solver.solve import Clock, Progress
from advisor.slots.stops import closures as find_closures

GAP = 1e-4
BIN_S = 900
SURFACES = {
    "frost": "wings and tail",
    "snow": "wings, tail and fuselage",
    "ice": "wings, tail and fuselage",
    "unknown": "wings, tail and fuselage",
}
NOT_MODELLED = (
    "Not planned for: runway separation and capacity, trucks driving between stands, crews' hours, fluid on hand."
)


@dataclass(frozen=True, slots=True)
class Night:
    """Everything a plan is made from, read and checked."""

    rows: tuple[Row, ...]
    weather: Weather
    pads: Pads
    checklist: Checklist
    fleet: Mapping[str, Profile]
    table: Holdover | None = None
    previous: Plan | None = None


# from the night, what is shut, the needs and how the plan is carried out to its variants
Variants = Callable[[Night, Sequence[Closure], Sequence[Need], execution.Execution], tuple[VariantOut, ...]]


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
    pick: demand.CasePick | None = None,
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
    if before is not None:
        needs = before.needs
        if before.lost_pads:
            night = replace(night, pads=structs.replace(night.pads, pads=(*night.pads.pads, *before.lost_pads)))
    not_before = 0 if before is None else now + night.pads.margin.freeze_min * 60
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
    )
    settled = settle(
        built.problem,
        sharing=1 if reserve_all else night.pads.margin.sharing,
        seconds=max(0.0, effort.seconds - (effort.clock() - begun)),
        clock=effort.clock,
        gap=effort.gap,
        stop=effort.stop,
        progress=effort.progress,
        before=None if before is None else _as_before(built, before),
        keep=before is not None and before.same,
    )
    held = {} if before is None else before.held
    field = execution.prepare(needs, night.pads, shut, night.table, now, held)
    starts = {
        need.row.flight: start[1] + (built.problem.base_s - field.base_s) // 60
        for need, start in zip(built.needs, settled.starts, strict=True)
        if start is not None
    }
    done = execution.arrange(field, starts, held, nights=effort.nights, turns=effort.turns)
    plan = _write(night, needs, built, settled, shut, maybe, before)
    plan = _in_order(plan, done)
    if rehearse:
        nights, seed = rehearse
        plan = structs.replace(plan, rehearsal=execution.rehearsal(done, nights, seed))
    return plan if variants is None else structs.replace(plan, variants=variants(night, shut, needs, done))


def _in_order(plan: Plan, done: execution.Execution) -> Plan:
    """The plan with its order: the place of each treatment in it, and its latest start."""
    base_s, found = done.field.base_s, done.order
    departures = []
    for one in plan.departures:
        rank = done.ranks.get(one.flight)
        if one.steps and rank:
            latest = done.latest.get(one.flight)
            # what has begun has no later start to wait for
            text = one.start if latest is None else _z(base_s + 60 * latest)
            one = structs.replace(one, order=rank, latest_start=text)
        departures.append(one)
    tried = {name: round(mean, 3) for name, mean in found.tried.items()}
    about = OrderOut(found.name, found.yields, round(found.mean, 3), tried)
    return structs.replace(plan, departures=tuple(departures), order=about)


def _as_before(built: Built, before: replan.Before) -> list[Place | None]:
    """Where each job stood in the previous plan, None where it had no place that it may still have."""
    problem = built.problem
    board = Board(problem, 1)
    places: list[Place | None] = []
    for need, job in zip(built.needs, problem.jobs, strict=True):
        stood = before.held.get(need.row.flight) or before.wishes.get(need.row.flight)
        row = None if stood is None else board.row_of.get(stood.pad)
        option = next((at for at, one in enumerate(job.options) if row in board.rows[one.group]), None)
        if stood is None or row is None or option is None:
            places.append(None)
        else:
            places.append(Place(option, (stood.start_s - problem.base_s) // 60, row))
    return places


def look(night: Night, pick: demand.CasePick | None = None) -> tuple[Need, ...]:
    """What each departure needs."""
    nights = demand.Nights(night.weather, demand.last_moment(night.rows, night.weather.now), pick)
    return demand.needs(night.rows, night.fleet, night.checklist, nights, night.pads)


def _write(
    night: Night,
    needs: Sequence[Need],
    built: Built,
    settled: Settled,
    shut: Sequence[Closure],
    maybe: Sequence[Closure],
    before: replan.Before | None,
) -> Plan:
    jobs = {need.row.flight: at for at, need in enumerate(built.needs)}
    departures, unplanned = [], []
    for need in needs:
        one = _departure(night, need, built, settled, jobs.get(need.row.flight), before)
        if before is not None:
            one = _with_change(one, replan.changed(before, one, shut))
        departures.append(one)
        if need.steps and one.start is None:
            why = built.why.get(need.row.flight) or "the night's pads are full: no start that costs less than none"
            unplanned.append(UnplannedOut(need.row.flight, why))
    place, checklist = night.weather.place, night.checklist
    objective, bound = settled.objective + built.outside, settled.bound + built.outside
    optimal = objective - bound <= GAP * objective + 1e-6
    return Plan(
        made_at=_z(night.weather.now),
        now=_z(night.weather.now),
        place=PlaceOut(place.name, place.indicator, place.latitude_deg, place.longitude_deg, place.time_zone or None),
        checklist=Named(checklist.fingerprint, f"{checklist.name}, revision {checklist.revision}"),
        reports=tuple(
            ReportOut(report.kind, report.station, _z(report.issued.timestamp()), report.raw)
            for report in night.weather.reports
        ),
        pads=tuple(
            PadOut(pad.name, pad.size, pad.place, stamp(pad.from_s), stamp(pad.until_s)) for pad in night.pads.pads
        ),
        closures=tuple(
            ClosureOut(one.pads, _z(one.from_s), _z(one.until_s), one.why, possible)
            for group, possible in ((shut, False), (maybe, True))
            for one in group
        ),
        holdover=None if night.table is None else night.table.named(),
        holdover_invented=night.table is not None and night.table.invented,
        departures=tuple(departures),
        objective=round(objective, 6),
        bound=round(bound, 6),
        gap=0.0 if objective <= 0 else round(max(0.0, (objective - bound) / objective), 6),
        status="optimal" if optimal else "stopped" if settled.status == "stopped" else "time limit",
        first_come=round(settled.first_come + built.outside, 6),
        unplanned=tuple(unplanned),
        changes=_changes(departures, before),
        load=_load(night, built, settled, departures),
        notes=_notes(night, needs, settled),
        cautions=CAUTIONS,
    )


def _departure(
    night: Night, need: Need, built: Built, settled: Settled, job: int | None, before: replan.Before | None
) -> DepartureOut:
    row, profile, now = need.row, need.profile, night.weather.now
    planned = row.off_block + row.taxi_min * 60
    planned = max(planned, row.take_off_from or 0)
    about = DepartureOut(
        flight=row.flight,
        need=need.status,  # type: ignore[arg-type]
        aircraft=profile.id,
        size=profile.size,
        stand=row.stand or None,
        off_block=_z(row.off_block),
        ready=stamp(row.ready),
        take_off_from=stamp(row.take_off_from),
        take_off_until=stamp(row.take_off_until),
        steps=need.steps,
        treatment_min=need.treatment_min,
        deposit=need.deposit or None,
        surfaces=SURFACES.get(need.deposit),
        reason=need.reason,
        because=need.because,
    )
    if not need.steps:
        take_off = max(need.earliest + (need.to_pad_min + need.to_runway_min) * 60, row.take_off_from or 0)
        missed = row.take_off_until is not None and take_off > row.take_off_until
        late = max(0, _minutes(take_off - planned))
        return structs.replace(about, take_off=_z(take_off), delay_min=late, window_missed=missed)
    lead = round(night.checklist.call_lead_min * 60)
    start = None if job is None else settled.starts[job]
    if job is None or start is None:
        call = row.off_block - lead
        return structs.replace(about, latest_call=_z(call), call_passed=call < now, pad_line=_pad_line(need))
    base_s = built.problem.base_s
    pad = settled.pads[job]
    place = next(one.place for one in night.pads.pads if one.name == pad)
    timing = built.timings[job][place]
    take_off = int(timing.take_off(start[1]))
    begun = start[1] + timing.last_step
    start_s, begun_s, take_off_s = (base_s + 60 * minute for minute in (start[1], begun, take_off))
    holdover, note = _holdover(night, need, built, job, begun, take_off)
    call = min(row.off_block, start_s) - lead
    others = tuple(built.needs[other].row.flight for other in settled.sharing[job])
    return structs.replace(
        about,
        pad=pad,
        start=_z(start_s),
        end=_z(start_s + 60 * timing.treatment),
        last_step_start=_z(begun_s),
        take_off=_z(take_off_s),
        delay_min=max(0, _minutes(take_off_s - planned)),
        wait_min=max(0, take_off - built.best[job]),
        latest_call=_z(call),
        call_passed=call < now,
        holdover_min=holdover,
        holdover_left_min=None if holdover is None else holdover - (take_off - begun),
        holdover_note=note,
        no_guideline=_no_guideline(built, job, begun, take_off),
        window_missed=timing.until is not None and take_off > timing.until,
        holdover_broken=holdover is not None and holdover < take_off - begun,
        frozen=before is not None and row.flight in before.held,
        shared_with=others,
        pad_line=_pad_line(need),
    )


def _holdover(
    night: Night, need: Need, built: Built, job: int, begun: int, take_off: int
) -> tuple[int | None, str | None]:
    limit = built.holdovers[job]
    if night.table is None or limit is None:
        return None, "no holdover file was given"
    minutes = float(limit.over(begun, take_off))
    if np.isnan(minutes):
        base_s = built.problem.base_s
        return None, why_none(need, night.table, base_s + 60 * begun, base_s + 60 * take_off) or "not known"
    if not np.isfinite(minutes):
        return None, "nothing falls then in any case: no holdover time runs"
    return shown(minutes), None


def _no_guideline(built: Built, job: int, begun: int, take_off: int) -> bool:
    """Whether a holdover is needed from the last step to take-off and no guideline gives one."""
    limit = built.holdovers[job]
    return limit is not None and bool(np.isnan(float(limit.over(begun, take_off))))


def _pad_line(need: Need) -> str:
    """What to pass on to the pad."""
    stand = f"stand {need.row.stand}" if need.row.stand else "stand not given"
    steps = "de-icing and anti-icing" if need.steps == 2 else "de-icing"
    ready = from_unix(need.row.ready or need.row.off_block).strftime("%H%MZ")
    sure = "" if need.status == "expected" else f"{need.status if need.status != 'cannot tell' else 'not known'}, "
    what = f"{need.deposit} on {SURFACES[need.deposit]}" if need.deposit != "unknown" else "deposit not known"
    return f"{need.row.flight}, {stand}, {need.profile.name}: {sure}{what}, not inspected, {steps}, ready {ready}"


def _with_change(one: DepartureOut, text: str | None) -> DepartureOut:
    return one if text is None else structs.replace(one, changed=text)


def _changes(departures: Sequence[DepartureOut], before: replan.Before | None) -> tuple[str, ...]:
    if before is None:
        return ()
    found = [f"{one.flight}: {one.changed}" for one in departures if one.changed]
    return (*found, *(f"{flight}: no longer in the schedule" for flight in before.gone))


def _load(night: Night, built: Built, settled: Settled, departures: Sequence[DepartureOut]) -> tuple[LoadOut, ...]:
    """Pad minutes wanted and open, by quarter of an hour, over the time in which something is planned."""
    problem, base_s = built.problem, built.problem.base_s
    used = np.zeros(problem.minutes + 1)
    for job, start in enumerate(settled.starts):
        if start is not None:
            option = problem.jobs[job].options[start[0]]
            used[start[1] : start[1] + option.occupied_min] += problem.jobs[job].load
    busy = np.flatnonzero(used)
    if not busy.size:
        return ()
    first = (base_s + 60 * int(busy[0])) // BIN_S * BIN_S
    last = base_s + 60 * int(busy[-1])
    open_ = np.sum([built.open_[pad.name] for pad in night.pads.pads], axis=0)
    found = []
    for at in range(first, last + 1, BIN_S):
        low, high = max(0, minute_up(at, base_s)), max(0, minute_up(at + BIN_S, base_s))
        found.append(LoadOut(_z(at), round(float(used[low:high].sum()), 2), int(np.sum(open_[low:high]))))
    return tuple(found)


def _notes(night: Night, needs: Sequence[Need], settled: Settled) -> tuple[str, ...]:
    notes = [*night.weather.notes, *([night.pads.note] if night.pads.note else [])]
    if night.table is None:
        notes.append("No holdover file was given: holdover is not planned for.")
    elif night.table.note:
        notes.append(night.table.note)
    possible = sum(1 for need in needs if need.steps and need.status != "expected")
    if possible:
        margin = night.pads.margin
        share = f"{100 * margin.possible_share:.0f} %"
        notes.append(
            f"{possible} treatments are possible or could not be told: planned as if {share} of them were needed; "
            f"up to {margin.sharing} of them may share a pad's time."
        )
    notes.append(NOT_MODELLED)
    return (*notes, *settled.notes)


def _minutes(seconds: float) -> int:
    return int(-(-seconds // 60))


def _z(unix_s: float) -> str:
    text = stamp(unix_s)
    assert text is not None
    return text

"""Writes a settled plan out: each departure with its times, holdover, what to pass on and what has to be said. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import structs

from advisor.brief.advise import CAUTIONS
from advisor.brief.inputs import months
from advisor.brief.model import Named, PlaceOut
from advisor.departure import hhmm, rfc3339, stamp
from advisor.slots import replan
from advisor.slots.build import WHOLE, Built, minute_up
from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.pads import Closure, Pads
from advisor.slots.files.schedule import FURTHEST_OTHER_S
from advisor.slots.limits import shown, why_none
from advisor.slots.night import Night
from advisor.slots.result import (
    ClosureOut,
    DepartureOut,
    LoadOut,
    PadOut,
    Plan,
    PlanReportOut,
    UnplannedOut,
)
from advisor.slots.solver.settle import Settled

GAP = 1e-4
BIN_S = 900
TIME_OVER = "time limit reached"
SURFACES = {
    "frost": "wings and tail",
    "snow": "wings, tail and fuselage",
    "ice": "wings, tail and fuselage",
    "unknown": "wings, tail and fuselage",
}
NOT_MODELLED = (
    "The plan knows nothing of trucks that drive between stands, nor of fluid on hand, nor of who else uses the runway."
)
NOT_BOUNDED = (
    "What no plan costs less than is counted without the runway and without filling up: "
    "where they hold flights up, the plan may be nearer to the best possible than the gap says."
)


def written(
    night: Night,
    needs: Sequence[Need],
    built: Built,
    settled: Settled,
    shut: Sequence[Closure],
    maybe: Sequence[Closure],
    before: replan.Before | None,
) -> Plan:
    """The plan of settled starts. shut, maybe: closures planned around, and told only."""
    jobs = {need.row.flight: at for at, need in enumerate(built.needs)}
    departures, unplanned = [], []
    for need in needs:
        departure = _departure(night, need, built, settled, jobs.get(need.row.flight), before)
        departures.append(departure)
        if need.steps and departure.start is None:
            why = built.why.get(need.row.flight) or "the pads are full: a start that is left costs more than none"
            unplanned.append(UnplannedOut(need.row.flight, why))
    if before is None:
        departures = [structs.replace(one, told=one.start) for one in departures]
    else:
        departures = replan.with_changes(before, departures, shut, night.pads.margin.shift_min)
    place, checklist = night.weather.place, night.checklist
    objective, bound = settled.objective + built.outside, settled.bound + built.outside
    optimal = objective - bound <= GAP * objective + 1e-6
    return Plan(
        made_at=rfc3339(night.weather.now),
        now=rfc3339(night.weather.now),
        place=PlaceOut(place.name, place.indicator, place.latitude_deg, place.longitude_deg, place.time_zone or None),
        checklist=Named(checklist.fingerprint, f"{checklist.name}, revision {checklist.revision}"),
        reports=tuple(
            PlanReportOut(report.kind, report.station, rfc3339(report.issued.timestamp()), report.raw)
            for report in night.weather.read
        ),
        pads=tuple(
            PadOut(pad.name, pad.size, pad.place, stamp(pad.from_s), stamp(pad.until_s)) for pad in night.pads.pads
        ),
        closures=tuple(
            ClosureOut(one.pads, rfc3339(one.from_s), rfc3339(one.until_s), one.why, possible)
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
        for_holdover=round(settled.for_holdover, 6),
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
        off_block=rfc3339(row.off_block),
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
    happened = night.actuals.get(row.flight, Actual(row.flight))
    about = structs.replace(about, state=happened.state)
    if happened.departed is not None:
        late = max(0, _minutes(happened.departed - planned))
        missed = row.take_off_until is not None and happened.departed > row.take_off_until
        return structs.replace(about, take_off=rfc3339(happened.departed), delay_min=late, window_missed=missed)
    if not need.steps:
        take_off = built.problem.base_s + built.untreated[row.flight]
        missed = row.take_off_until is not None and take_off > row.take_off_until
        late = max(0, _minutes(take_off - planned))
        return structs.replace(about, take_off=rfc3339(take_off), delay_min=late, window_missed=missed)
    there = night.checklist.in_force(need.profile, night.weather.indicators, months(now, row.off_block))
    lead = round(there.call_lead_min * 60)
    start = None if job is None else settled.starts[job]
    if job is None or start is None:
        call = row.off_block - lead
        return structs.replace(about, latest_call=rfc3339(call), call_passed=call < now, pad_line=_pad_line(need))
    base_s = built.problem.base_s
    pad = settled.pads[job]
    kind = next(one.kind for one in night.pads.pads if one.name == pad)
    timing = built.timings[job][kind]
    ready = int(timing.take_off(start[1]))
    place = settled.places[job] if settled.places else None
    # the runway may have no room before
    off_s = 60 * ready if place is None else max(60 * ready, place.take_off_s)
    take_off = minute_up(off_s, 0)
    begun = start[1] + timing.last_step
    start_s, begun_s, take_off_s = base_s + 60 * start[1], base_s + 60 * begun, base_s + off_s
    holdover, note = _holdover(night, need, built, job, begun, take_off)
    call = min(row.off_block, start_s) - lead
    others = tuple(built.needs[other].row.flight for other in settled.sharing[job])
    return structs.replace(
        about,
        pad=pad,
        start=rfc3339(start_s),
        end=rfc3339(start_s + 60 * timing.treatment),
        last_step_start=rfc3339(begun_s),
        take_off=rfc3339(take_off_s),
        delay_min=max(0, _minutes(take_off_s - planned)),
        wait_min=max(0, take_off - built.best[job]),
        runway_wait_min=take_off - ready,
        latest_call=rfc3339(call),
        call_passed=call < now and not happened.state,
        holdover_min=holdover,
        holdover_left_min=None if holdover is None else holdover - (take_off - begun),
        holdover_note=note,
        no_guideline=_no_guideline(built, job, begun, take_off),
        window_missed=timing.until is not None and off_s > 60 * timing.until,
        holdover_broken=holdover is not None and holdover < take_off - begun,
        frozen=before is not None and row.flight in before.held,
        shared_with=others,
        pad_line=_pad_line(need),
    )


def late_enough(built: Built, settled: Settled, pads: Pads) -> dict[int, int]:
    """The minute from which each job starts late enough for the window that it waits for, where a holdover runs.

    Some minutes are left in hand, as treatments and ways scatter. Who waits for no window is not among them.
    """
    kinds = {pad.name: pad.kind for pad in pads.pads}
    minute_by_job = {}
    for job, (start, name) in enumerate(zip(settled.starts, settled.pads, strict=True)):
        limit = built.holdovers[job]
        if start is None or name is None or limit is None or built.problem.jobs[job].held_pad:
            continue
        timing = built.timings[job][kinds[name]]
        if timing.from_ is None or not np.isfinite(limit.over(start[1] + timing.last_step, timing.take_off(start[1]))):
            continue
        noise = pads.noise
        hand = np.hypot(noise.treatment_spread * timing.treatment, noise.taxi_spread * timing.to_runway)
        minute = timing.from_ - timing.to_runway - timing.treatment - timing.after - int(np.ceil(hand))
        begun = minute + timing.last_step
        # what runs out in any case is not worth waiting for
        if minute > start[1] and limit.over(begun, timing.from_) >= timing.from_ - begun:
            minute_by_job[job] = minute
    return minute_by_job


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
    when = f"ready {hhmm(need.row.ready)}" if need.row.ready else f"off-block {hhmm(need.row.off_block)}"
    sure = "not known" if need.status == "cannot tell" else need.status
    what = "frost, snow or ice" if need.deposit == "unknown" else need.deposit
    also = f" (plan for more: {need.maybe})" if need.maybe else ""
    plan = f"plan for {what} ({sure}, not inspected) on {SURFACES[need.deposit]}"
    return f"{need.row.flight}, {stand}, {need.profile.name}: {plan}, {steps}{also}, {when}"


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
    quarters = []
    for begin_s in range(first, last + 1, BIN_S):
        low, high = max(0, minute_up(begin_s, base_s)), max(0, minute_up(begin_s + BIN_S, base_s))
        quarters.append(LoadOut(rfc3339(begin_s), round(float(used[low:high].sum()), 2), int(np.sum(open_[low:high]))))
    return tuple(quarters)


def _notes(night: Night, needs: Sequence[Need], settled: Settled) -> tuple[str, ...]:
    notes = [*night.weather.notes, *([night.pads.note] if night.pads.note else [])]
    if night.table is None:
        notes.append("No holdover file was given: holdover is not planned for.")
    elif night.table.note:
        notes.append(night.table.note)
    possible = sum(1 for need in needs if need.steps and need.status not in WHOLE)
    if possible:
        margin = night.pads.margin
        share = f"{100 * margin.possible_share:.0f} %"
        notes.append(
            f"Treatments that are not certain: {possible}, planned as if {share} of them were needed. "
            f"Up to {margin.sharing} of them may share a pad's time."
        )
    if night.pads.runway.spacing_s or any(pad.refill_after for pad in night.pads.pads):
        notes.append(NOT_BOUNDED)
    notes.append(NOT_MODELLED)
    # that its time was over is no news: the plan's status says so
    return (*notes, *_never(night), *(note for note in settled.notes if not note.endswith(TIME_OVER)))


def _never(night: Night) -> Iterator[str]:
    """Pads and closures that a year's typing error, or a file of another night, leaves out of all of the plan."""
    now = night.weather.now
    last = now + FURTHEST_OTHER_S
    for pad in night.pads.pads:
        if pad.from_s is not None and pad.from_s > last:
            yield f"{pad.name} takes nobody tonight: it opens at {rfc3339(pad.from_s)}."
        elif pad.until_s is not None and pad.until_s <= now and pad.from_s != 0:
            # from 0: a pad that the file lists no more, kept for what was treated there
            yield f"{pad.name} takes nobody tonight: it closed at {rfc3339(pad.until_s)}."
    for closure in night.pads.closures:
        if closure.from_s > last or closure.until_s <= now:
            when = f"{rfc3339(closure.from_s)} to {rfc3339(closure.until_s)}"
            yield f"The closure from {when} ({closure.why}) lies outside this night."


def _minutes(seconds: float) -> int:
    return int(-(-seconds // 60))

"""From needs, pads and closures to the problem in minutes: groups, possible starts, and what each costs. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isnan

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.slots.demand import Need
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pad, Pads
from advisor.slots.limits import Limits, limits
from advisor.slots.model import Job, Option, PadGroup, PlanningProblem
from advisor.slots.solver.runway import one_after_another

FURTHEST_MIN = 6 * 60
# a need that reserves a pad for itself
WHOLE = ("expected", "likely")


@dataclass(frozen=True, slots=True)
class Held:
    """A start that must not change: pad by name, start in seconds since 1970 UTC."""

    pad: str
    start_s: int


@dataclass(frozen=True, slots=True)
class Wish:
    """Where a departure stood in the previous plan, to move few: pad by name, start in seconds since 1970 UTC."""

    pad: str
    start_s: int


@dataclass(frozen=True, slots=True)
class Timing:
    """What a start means, in minutes from the problem's base, for one departure on one kind of pad.

    after: what starting the engines again adds to the treatment.
    """

    first: int
    treatment: int
    last_step: int
    to_runway: int
    leave: int
    from_: int | None
    until: int | None
    after: int = 0

    def take_off(self, start: NDArray[np.int64] | int) -> NDArray[np.int64]:
        """Take-off of a start: after the treatment, not before the stand is left, not before its window."""
        ready: NDArray[np.int64] = np.maximum(np.asarray(start) + self.treatment + self.after, self.leave)
        ready = ready + self.to_runway
        return ready if self.from_ is None else np.maximum(ready, self.from_)


@dataclass(frozen=True, slots=True)
class Built:
    """The problem, which need each job is, and what it was made from.

    needs: of every job; timings: by job and kind of pad (see Pad.kind); holdovers: by job, None without a table;
    best: earliest take-off of each job, minutes; why: departures that no pad can take, with the reason; untreated:
    take-offs of those that need nothing or are gone, seconds from base_s; outside: what those cost that no pad takes,
    as unplanned.
    """

    problem: PlanningProblem
    needs: tuple[Need, ...]
    timings: tuple[Mapping[str, Timing], ...]
    holdovers: tuple[Limits | None, ...]
    best: tuple[int, ...]
    why: Mapping[str, str]
    open_: Mapping[str, NDArray[np.bool_]]
    untreated: Mapping[str, int]
    outside: float = 0.0


def build(
    needs: Sequence[Need],
    pads: Pads,
    closures: Sequence[Closure],
    table: Holdover | None,
    now: int,
    *,
    not_before: int = 0,
    held: Mapping[str, Held] | None = None,
    wishes: Mapping[str, Wish] | None = None,
    reserve_all: bool = False,
    departed: Mapping[str, int] | None = None,
    done: Mapping[str, Sequence[tuple[int, int]]] | None = None,
) -> Built:
    """The problem of the departures that need or may need treatment.

    not_before: earliest start of what is not held, seconds since 1970 UTC; held, wishes: by flight, of the previous
    plan; reserve_all: reserve a whole resource for what is only possible as well; departed: when those have gone;
    done: by pad when those were treated on it, seconds since 1970 UTC.
    """
    held, wishes = held or {}, wishes or {}
    base_s = now - now % 60
    if held:
        base_s = min(base_s, min(one.start_s for one in held.values()) // 60 * 60)
    wanted = [need for need in needs if need.steps]
    begin = max(now, not_before)
    lead = pads.treatment.stand_lead_min
    kinds = {pad.kind: pad for pad in pads.pads}
    engines = pads.treatment.engines_off_min
    timings = [
        {kind: _timing(need, pad, base_s, begin, lead, engines) for kind, pad in kinds.items()} for need in wanted
    ]
    firsts = [max(0, timing.first) for item in timings for timing in item.values()]
    minutes = max([*firsts, 0]) + FURTHEST_MIN
    open_ = {pad.name: _open(pad, closures, base_s, minutes) for pad in pads.pads}
    groups, members = _groups(pads.pads, open_)
    group_of = {pad.name: at for at, pads_ in enumerate(members) for pad in pads_}
    jobs, holdovers, best, kept, kept_timings = [], [], [], [], []
    why: dict[str, str] = {}
    outside = 0.0
    known: dict[int, Limits] = {}
    for need, timing in zip(wanted, timings, strict=True):
        flight = need.row.flight
        limit = None
        if table is not None:
            # departures that share their night share its holdover
            limit = known.get(id(need.conditions))
            if limit is None:
                limit = known[id(need.conditions)] = limits(need.conditions, table, base_s, minutes + FURTHEST_MIN)
        options, earliest = _options(need, timing, groups, members, open_, pads, limit, minutes)
        if flight in held:
            options, earliest = _held(need, timing, held[flight], group_of, members, pads, limit, base_s, earliest)
        elif flight in wishes:
            options = [_moved(option, wishes[flight], base_s, pads) for option in options]
        pad_held = held[flight].pad if flight in held else ""
        pad_wished = wishes[flight].pad if flight in wishes and flight not in held else ""
        if not options:
            why[flight] = _why(need, pads)
            outside += unplanned_cost(need, pads)
            continue
        load = 1.0 if need.status in WHOLE or reserve_all else pads.margin.load
        cleared = need.treatment_min + pads.treatment.clear_min
        if flight in held and held[flight].start_s + 60 * cleared <= now:
            # what is over, the pad cleared, takes it from nobody
            load = 0.0
        unplanned = 1e7 if flight in held else unplanned_cost(need, pads)
        ready = min(option.first for option in options)
        other = pads.cost.changed_pad if pad_wished else 0.0
        jobs.append(Job(flight, load, tuple(options), unplanned, ready, pad_held, pad_wished, other))
        kept.append(need)
        kept_timings.append(timing)
        holdovers.append(limit)
        best.append(earliest)
    untreated = _untreated(needs, pads, base_s, departed or {})
    problem = PlanningProblem(
        tuple(jobs),
        tuple(groups),
        minutes + 240,
        base_s,
        pads.runway.spacing_s,
        tuple(untreated.values()),
        {pad.name: (pad.refill_after, pad.refill_min) for pad in pads.pads if pad.refill_after and pad.refill_min},
        {
            name: tuple(((begun - base_s) // 60, minute_up(end, base_s)) for begun, end in spans)
            for name, spans in (done or {}).items()
        },
    )
    return Built(
        problem, tuple(kept), tuple(kept_timings), tuple(holdovers), tuple(best), why, open_, untreated, outside
    )


def _untreated(needs: Sequence[Need], pads: Pads, base_s: int, departed: Mapping[str, int]) -> dict[str, int]:
    """Take-offs of those that are gone, as they were, and of those that need nothing, in the order of arrival."""
    gone = {flight: moment - base_s for flight, moment in departed.items()}
    left = [need for need in needs if not need.steps and need.row.flight not in gone]
    ready = [
        max(need.earliest + 60 * (need.to_pad_min + need.to_runway_min), need.row.take_off_from or 0) - base_s
        for need in left
    ]
    off = one_after_another(ready, pads.runway.spacing_s, gone.values())
    return gone | {need.row.flight: moment for need, moment in zip(left, off, strict=True)}


def minute_up(moment: int, base_s: int) -> int:
    """The first whole minute at or after a time."""
    return -((base_s - moment) // 60)


def share_of(status: str, pads: Pads) -> float:
    """How likely a treatment is to be needed."""
    return {"expected": 1.0, "likely": pads.margin.likely_share}.get(status, pads.margin.possible_share)


def unplanned_cost(need: Need, pads: Pads) -> float:
    """Price of a treatment without a slot."""
    return pads.cost.unplanned * max(share_of(need.status, pads), 0.05)


def _timing(need: Need, pad: Pad, base_s: int, begin: int, lead_min: int, engines_off_min: int) -> Timing:
    row = need.row
    leaving = minute_up(need.earliest, base_s)
    from_ = None if row.take_off_from is None else minute_up(row.take_off_from, base_s)
    until = None if row.take_off_until is None else (row.take_off_until - base_s) // 60
    soonest = minute_up(begin, base_s)
    step = need.removal_min if need.anti_icing_min else 0
    after = engines_off_min if pad.engines == "off" else 0
    if pad.place == "remote":
        first = max(soonest, leaving + need.to_pad_min)
        return Timing(first, need.treatment_min, step, need.to_runway_min, 0, from_, until, after)
    # on the stand the truck may come as soon as the aircraft is ready: some minutes before off-block if nobody says
    ready = minute_up(row.off_block - 60 * lead_min if row.ready is None else row.ready, base_s)
    leave = max(minute_up(row.off_block, base_s), 0)
    taxi = need.to_pad_min + need.to_runway_min
    return Timing(max(soonest, ready), need.treatment_min, step, taxi, leave, from_, until, after)


def _open(pad: Pad, closures: Iterable[Closure], base_s: int, minutes: int) -> NDArray[np.bool_]:
    """Whether a pad is open, minute by minute: a minute that is partly shut is shut."""
    begins = base_s + 60 * np.arange(minutes + 240)
    is_open = np.ones(begins.size, dtype=np.bool_)
    if pad.from_s is not None:
        is_open &= begins >= pad.from_s
    if pad.until_s is not None:
        is_open &= begins + 60 <= pad.until_s
    for closure in closures:
        if pad.name in closure.pads:
            opens = np.inf if closure.open_end else closure.until_s
            is_open &= (begins + 60 <= closure.from_s) | (begins >= opens)
    return is_open


def _groups(
    pads: Sequence[Pad], open_: Mapping[str, NDArray[np.bool_]]
) -> tuple[list[PadGroup], list[tuple[Pad, ...]]]:
    """Pads of one place, size and opening hours are one group."""
    pads_by_kind: dict[tuple[str, str, bytes], list[Pad]] = {}
    for pad in pads:
        pads_by_kind.setdefault((pad.kind, pad.size, open_[pad.name].tobytes()), []).append(pad)
    members = [tuple(group) for group in pads_by_kind.values()]
    return [PadGroup(f"{one[0].place} {one[0].size}", tuple(pad.name for pad in one)) for one in members], members


def _options(
    need: Need,
    timing: Mapping[str, Timing],
    groups: Sequence[PadGroup],
    members: Sequence[tuple[Pad, ...]],
    open_: Mapping[str, NDArray[np.bool_]],
    pads: Pads,
    limit: Limits | None,
    minutes: int,
) -> tuple[list[Option], int]:
    """The groups that can take a departure, with what each start costs, and its earliest take-off."""
    usable: list[tuple[int, Timing, NDArray[np.int64], NDArray[np.bool_]]] = []
    earliest: int | None = None
    for group in range(len(groups)):
        pad = members[group][0]
        if need.row.place not in ("", pad.place) or (pad.size == "small" and need.profile.size != "small"):
            continue
        item = timing[pad.kind]
        # hours and closures count as waiting too: the best is what the departure's own times allow
        soonest = int(item.take_off(item.first))
        earliest = soonest if earliest is None else min(earliest, soonest)
        starts = np.arange(item.first, minutes)
        shut = np.concatenate(([0], np.cumsum(~open_[pad.name])))
        free = shut[starts + item.treatment] == shut[starts]
        if starts.size and free.any():
            usable.append((group, item, starts, free))
    if earliest is None:
        return [], 0
    options = []
    for group, item, starts, free in usable:
        starts = starts[: int(np.flatnonzero(free)[-1]) + 1]
        option = _option(need, group, item, starts, earliest, pads, limit)
        options.append(replace(option, costs=np.where(free[: starts.size], option.costs, inf)))
    return options, earliest


def _option(
    need: Need,
    group: int,
    item: Timing,
    starts: NDArray[np.int64],
    earliest: int,
    pads: Pads,
    limit: Limits | None,
) -> Option:
    """Some starts in a group, with what each costs, and what it costs where the runway has no room at once."""
    occupied = item.treatment + item.after + pads.treatment.clear_min
    off = item.take_off(starts)
    costs = _costs(need, item, starts, off.astype(np.float64), earliest, pads, limit)
    if pads.runway.spacing_s <= 0:
        return Option(group, occupied, int(starts[0]), costs)

    def by_take_off(at: NDArray[np.int64], take_off: Floats) -> Floats:
        return _costs(need, item, starts[at], take_off, earliest, pads, limit)

    return Option(group, occupied, int(starts[0]), costs, off, by_take_off)


def _costs(
    need: Need,
    item: Timing,
    starts: NDArray[np.int64],
    take_off: Floats,
    earliest: int,
    pads: Pads,
    limit: Limits | None,
) -> Floats:
    """What each start costs: waiting, a missed window, a holdover that ends before take-off; by share if possible."""
    price = pads.cost
    wait = take_off - earliest
    weight = float(getattr(price, need.profile.size)) * need.row.priority
    cost: Floats = weight * (wait + price.late * np.maximum(0.0, wait - price.late_after_min))
    if item.until is not None:
        over = take_off - item.until
        missed = price.missed_window if isnan(need.row.missed_window) else need.row.missed_window
        cost = cost + np.where(over > 0, missed + price.missed_minute * over, 0.0)
    if limit is not None:
        begun = starts + item.last_step
        minutes = limit.over(begun, np.ceil(take_off))
        cost = cost + np.where(minutes < take_off - begun, price.broken_holdover, 0.0)
        cost = cost + np.where(np.isnan(minutes), price.without_guideline, 0.0)
    return cost * share_of(need.status, pads)


def _moved(option: Option, wish: Wish, base_s: int, pads: Pads) -> Option:
    """The option with the price of another start than in the previous plan."""
    before = (wish.start_s - base_s) // 60
    moved = np.abs(option.first + np.arange(option.costs.size) - before)
    told = np.where(moved >= max(1, pads.margin.shift_min), pads.cost.changed, 0.0)
    extra = told + pads.cost.changed_minute * moved
    plain = option.by_take_off
    if plain is None:
        return replace(option, costs=option.costs + extra)

    def by_take_off(at: NDArray[np.int64], take_off: Floats) -> Floats:
        found: Floats = plain(at, take_off) + extra[at]
        return found

    return replace(option, costs=option.costs + extra, by_take_off=by_take_off)


def _held(
    need: Need,
    timing: Mapping[str, Timing],
    held: Held,
    group_of: Mapping[str, int],
    members: Sequence[tuple[Pad, ...]],
    pads: Pads,
    limit: Limits | None,
    base_s: int,
    earliest: int,
) -> tuple[list[Option], int]:
    """The one start of a departure whose treatment has begun or is about to."""
    group = group_of[held.pad]
    item = timing[members[group][0].kind]
    start = (held.start_s - base_s) // 60
    best = earliest or int(item.take_off(start))
    earliest = min(best, int(item.take_off(start)))
    return [_option(need, group, item, np.array([start]), earliest, pads, limit)], best


def _why(need: Need, pads: Pads) -> str:
    fits = [
        pad
        for pad in pads.pads
        if need.row.place in ("", pad.place) and (pad.size != "small" or need.profile.size == "small")
    ]
    if not fits:
        where = f" at the {need.row.place} place asked for" if need.row.place else ""
        return f"no pad takes the {need.profile.size} class{where}"
    return "no pad that takes it is open for long enough from its off-block time on"

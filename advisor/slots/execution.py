"""What a plan is worth when it is carried out: its order with latest starts, and its rehearsal."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.conditions import Floats
from advisor.slots import order as orders
from advisor.slots.build import Held
from advisor.slots.demand import Need
from advisor.slots.field import Field, arrivals, field, in_hand, latest_starts
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pads
from advisor.slots.order import Order, Way
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.replan import seconds
from advisor.slots.result import Plan, RehearsalOut, SpreadOut, SpreadsOut
from advisor.slots.scenarios import Draws, draw

ORDER_SEED = 20_270_110
# how many nights the order is chosen over: fewer, the more departures there are
NIGHT_WORK, LEAST_NIGHTS = 4_000_000, 8
# trials of a night with everything known, by how many nights there are
KNOWN_WORK, MOST_KNOWN, LEAST_KNOWN = 60_000, 150, 20


@dataclass(frozen=True, slots=True)
class Execution:
    """How a plan is carried out: what on, in which order, and by flight its rank (0: none) and latest start.

    drawn: the nights that the order was chosen over.
    """

    field: Field
    order: Order
    ranks: Mapping[str, int]
    latest: Mapping[str, int]
    drawn: Draws

    @property
    def not_before(self) -> Mapping[str, int]:
        """The minute before which each flight is not called, of those that are held back."""
        firsts = zip(self.field.needs, self.order.not_before.tolist(), strict=True)
        return {need.row.flight: int(minute) for need, minute in firsts if minute > -np.inf}


def prepare(
    needs: Sequence[Need],
    pads: Pads,
    closures: Sequence[Closure],
    table: Holdover | None,
    now: int,
    held: Mapping[str, Held],
    gone: Mapping[str, int] | None = None,
    done: Mapping[str, Sequence[tuple[int, int]]] | None = None,
) -> Field:
    """The field of what is still to come: what is held keeps its pad until it is done, and is not called again.

    gone: when those take off, or have taken off, that are held or have departed; done: by pad when those were
    treated on it that have; seconds since 1970 UTC.
    """
    gone = gone or {}
    left = [need for need in needs if need.row.flight not in held and need.row.flight not in gone]
    place = field(left, pads, closures, table, now)
    free = np.full(len(pads.pads), -np.inf)
    spans = {name: list(some) for name, some in (done or {}).items()}
    for need in needs:
        stood = held.get(need.row.flight)
        if stood is not None:
            end = stood.start_s + 60 * (need.treatment_min + pads.treatment.clear_min)
            spans.setdefault(stood.pad, []).append((stood.start_s, end))
    row_of = {pad.name: row for row, pad in enumerate(pads.pads)}
    treated = place.treated.copy()
    for name, row in row_of.items():
        for begun, end in sorted(spans.get(name, ())):
            minute = (begun - place.base_s) / 60
            treated[row] = 1 if minute - free[row] >= pads.pads[row].refill_min else treated[row] + 1
            free[row] = max(free[row], (end - place.base_s) / 60)
            if 0 < pads.pads[row].refill_after <= treated[row]:
                free[row], treated[row] = free[row] + pads.pads[row].refill_min, 0
    taken = np.sort(np.array([(moment - place.base_s) / 60 for moment in gone.values()], dtype=np.float64))
    return replace(place, free_from=free, taken=taken, treated=treated)


def arrange(
    place: Field,
    starts: Mapping[str, int],
    held: Mapping[str, Held],
    *,
    nights: int,
    turns: int,
    stop: Callable[[], bool] = lambda: False,
    previous: Plan | None = None,
    keep: bool = False,
) -> Execution:
    """The order of a plan. starts: planned, minutes from the field's base, by flight; previous: the plan whose order
    has been given out; keep: keep that whatever is better; the rest: of its search.
    """
    names = [need.row.flight for need in place.needs]
    planned = np.array([float(starts.get(name, np.nan)) for name in names])
    most = max(LEAST_NIGHTS, NIGHT_WORK // max(1, len(names)) ** 2)
    drawn = draw(place.needs, place.pads, min(nights, most), ORDER_SEED)
    before = None if previous is None else _as_before(place, previous)
    order = orders.choose(
        place, drawn, planned, seed=ORDER_SEED, most=turns, stop=stop, before=before, keep=keep and before is not None
    )
    ranks = {flight: at + 1 for at, flight in enumerate(sorted(held, key=lambda name: (held[name].start_s, name)))}
    done = len(ranks)
    for name, rank in zip(names, orders.ranked(place, order).tolist(), strict=True):
        ranks[name] = rank + done if rank else 0
    starts_by = np.floor(latest_starts(place) - in_hand(place))
    latest = {name: int(minute) for name, minute in zip(names, starts_by, strict=True)}
    return Execution(place, order, ranks, latest, drawn)


def _as_before(place: Field, previous: Plan) -> Way | None:
    """The order of a previous plan for what is still to come; who had no place in it comes after those that can wait
    no longer than it can. None where nothing of it is left.
    """
    old = {one.flight: one for one in previous.departures if one.order is not None}
    names = [need.row.flight for need in place.needs]
    known = np.array([name in old for name in names], dtype=np.bool_)
    if previous.order is None or not known.any():
        return None
    latest = latest_starts(place)
    keys = np.zeros(len(names))
    first = np.full(len(names), -np.inf)
    for job, name in enumerate(names):
        if known[job]:
            departure = old[name]
            keys[job] = departure.order or 0
            if departure.not_before is not None:
                first[job] = (seconds(departure.not_before) - place.base_s) // 60
    for job in np.flatnonzero(~known).tolist():
        keys[job] = keys[known & (latest <= latest[job])].max(initial=0.0) + 0.5
    return Way(orders.AS_BEFORE, keys, previous.order.yields, first)


def let_go(done: Execution, flights: Collection[str]) -> Execution:
    """The same, with none of these held back; nobody at all where that is then cheaper."""
    if not flights:
        return done
    free = np.array([need.row.flight in flights for need in done.field.needs], dtype=np.bool_)
    nobody = np.full(free.size, -np.inf)
    freed = []
    for first in (np.where(free, -np.inf, done.order.not_before), nobody):
        order = replace(done.order, not_before=first)
        freed.append(replace(order, mean=float(order.carried_out(done.field, done.drawn).cost.sum(axis=1).mean())))
    return replace(done, order=min(freed, key=lambda order: order.mean))


def rehearsal(done: Execution, nights: int, seed: int, stop: Callable[[], bool] = lambda: False) -> RehearsalOut:
    """The plan's order on so many drawn nights beside two sorts and what could have been with everything known.

    stop: asked during the search for the last, which may be cut short.
    """
    place, order = done.field, done.order
    drawn = draw(place.needs, place.pads, nights, seed)
    keys = [order.keys, arrivals(place, drawn), latest_starts(place)]
    plan = order.carried_out(place, drawn)
    come = carry_out(place, drawn, keys[1], yields=False)
    latest = carry_out(place, drawn, keys[2], yields=False)
    turns = max(LEAST_KNOWN, min(MOST_KNOWN, KNOWN_WORK // max(1, nights)))
    known = orders.with_everything_known(
        place, drawn, [plan, come, latest], keys, turns=turns, seed=seed, not_before=order.not_before, stop=stop
    )
    return RehearsalOut(nights, seed, spreads(plan), spreads(come), spreads(latest), spreads(known))


def spreads(outcome: Outcome) -> SpreadsOut:
    """Mean and 90th percentile of each night's figures, and the tenths of the cost."""
    figures = outcome.figures()
    tenths = tuple(round(float(value), 3) for value in np.quantile(figures["cost"], np.linspace(0, 1, 11)))
    return SpreadsOut(**{name: _spread(values) for name, values in figures.items()}, cost_tenths=tenths)


def _spread(values: Floats) -> SpreadOut:
    return SpreadOut(round(float(values.mean()), 3), round(float(np.quantile(values, 0.9)), 3))

"""What a plan is worth when it is carried out: its order with latest starts, and its rehearsal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.conditions import Floats
from advisor.slots import order as orders
from advisor.slots.build import Held
from advisor.slots.demand import Need
from advisor.slots.field import Field, arrivals, field, in_hand, latest_starts
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pads
from advisor.slots.order import Order
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.result import RehearsalOut, SpreadOut, SpreadsOut
from advisor.slots.scenarios import Draws, draw

ORDER_SEED = 20_270_110
# how many nights the order is chosen over: fewer, the more departures there are
NIGHT_WORK, LEAST_NIGHTS = 4_000_000, 8
# trials of a night with everything known, by how many nights there are
KNOWN_WORK, MOST_KNOWN, LEAST_KNOWN = 60_000, 150, 20


@dataclass(frozen=True, slots=True)
class Execution:
    """How a plan is carried out: what on, in which order, and by flight its rank (0: none) and latest start."""

    field: Field
    order: Order
    ranks: Mapping[str, int]
    latest: Mapping[str, int]


def prepare(
    needs: Sequence[Need],
    pads: Pads,
    closures: Sequence[Closure],
    table: Holdover | None,
    now: int,
    held: Mapping[str, Held],
) -> Field:
    """The field of what is still to come: what is held keeps its pad until it is done, and is not called again."""
    left = [need for need in needs if need.row.flight not in held]
    place = field(left, pads, closures, table, now)
    free = place.free_from.copy()
    row_of = {pad.name: row for row, pad in enumerate(pads.pads)}
    for need in needs:
        stood = held.get(need.row.flight)
        if stood is not None and stood.pad in row_of:
            end = (stood.start_s - place.base_s) / 60 + need.treatment_min + pads.treatment.clear_min
            free[row_of[stood.pad]] = max(free[row_of[stood.pad]], end)
    return replace(place, free_from=free)


def arrange(
    place: Field,
    starts: Mapping[str, int],
    held: Mapping[str, Held],
    *,
    nights: int,
    turns: int,
    stop: Callable[[], bool] = lambda: False,
) -> Execution:
    """The order of a plan. starts: planned, minutes from the field's base, by flight; the rest: of its search."""
    names = [need.row.flight for need in place.needs]
    planned = np.array([float(starts.get(name, np.nan)) for name in names])
    most = max(LEAST_NIGHTS, NIGHT_WORK // max(1, len(names)) ** 2)
    drawn = draw(place.needs, place.pads, min(nights, most), ORDER_SEED)
    found = orders.choose(place, drawn, planned, seed=ORDER_SEED, most=turns, stop=stop)
    ranks = {flight: at + 1 for at, flight in enumerate(sorted(held, key=lambda name: (held[name].start_s, name)))}
    done = len(ranks)
    for name, rank in zip(names, orders.ranked(place, found).tolist(), strict=True):
        ranks[name] = rank + done if rank else 0
    starts_by = np.floor(latest_starts(place) - in_hand(place))
    latest = {name: int(minute) for name, minute in zip(names, starts_by, strict=True)}
    return Execution(place, found, ranks, latest)


def rehearsal(done: Execution, nights: int, seed: int) -> RehearsalOut:
    """The plan's order on so many drawn nights beside two sorts and what could have been with everything known."""
    place, found = done.field, done.order
    drawn = draw(place.needs, place.pads, nights, seed)
    keys = [found.keys, arrivals(place, drawn), latest_starts(place)]
    plan = carry_out(place, drawn, keys[0], yields=found.yields)
    come = carry_out(place, drawn, keys[1], yields=False)
    latest = carry_out(place, drawn, keys[2], yields=False)
    turns = max(LEAST_KNOWN, min(MOST_KNOWN, KNOWN_WORK // max(1, nights)))
    known = orders.with_everything_known(place, drawn, [plan, come, latest], keys, turns=turns, seed=seed)
    return RehearsalOut(nights, seed, spreads(plan), spreads(come), spreads(latest), spreads(known))


def spreads(outcome: Outcome) -> SpreadsOut:
    """Mean and 90th percentile of each night's figures, and the tenths of the cost."""
    figures = outcome.figures()
    tenths = tuple(round(float(value), 3) for value in np.quantile(figures["cost"], np.linspace(0, 1, 11)))
    return SpreadsOut(**{name: _spread(values) for name, values in figures.items()}, cost_tenths=tenths)


def _spread(values: Floats) -> SpreadOut:
    return SpreadOut(round(float(values.mean()), 3), round(float(np.quantile(values, 0.9)), 3))


def carried_out(place: Field, found: Order, drawn: Draws) -> Outcome:
    """An order on drawn nights."""
    return carry_out(place, drawn, found.keys, yields=found.yields)

"""The order in which a coordinator calls aircraft that are there: the best of several, over drawn nights. Pure.

Sorts, the plan's own order and orders searched from the best of them are carried out on the same drawn nights; the
cheapest in the mean is published, with its name. Nights that an order was not searched on decide between them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields

import numpy as np

from advisor.conditions import Floats
from advisor.slots.field import Field, arrivals, latest_starts
from advisor.slots.model import Ints
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import Bools, Draws

LATEST_FINISH, FIRST_COME, AS_PLANNED, SEARCHED = (
    "latest finish first",
    "first come, first served",
    "the plan's starts",
    "searched over drawn nights",
)
# how much is carried out for one order, in steps of all nights: fixed, so that the same night gives the same order
WORK = 150_000_000
SLOWEST_JOBS = 400
# a searched order is taken only where it is better by this part on nights it was not searched on
WORTH = 0.002


@dataclass(frozen=True, slots=True)
class Order:
    """Keys of all departures (smaller goes first), what the order is, and whether who has lost its window goes after
    those that can still make theirs. mean: of the cost over the drawn nights; tried: of each order by its name.
    """

    keys: Floats
    name: str
    yields: bool
    mean: float
    tried: Mapping[str, float]


def choose(
    place: Field, draws: Draws, planned: Floats, *, seed: int, most: int, stop: Callable[[], bool] = lambda: False
) -> Order:
    """The best order found. planned: start of each departure in the plan, NaN without one; seed, most: of the search,
    and how many orders it tries; stop: asked before each.

    The first half of the nights is searched on, the second decides.
    """
    half = max(1, draws.nights // 2)
    learn, judge = draws.some(slice(0, half)), draws.some(slice(half if draws.nights > 1 else 0, draws.nights))
    many = place.treat.size > SLOWEST_JOBS
    sorts = _sorts(place, planned)
    if many:
        # where carrying out takes long, the plain ones alone, and no search
        sorts = {name: keys for name, keys in sorts.items() if name in (LATEST_FINISH, AS_PLANNED)}
    candidates = {
        (name, yields): keys for name, keys in sorts.items() for yields in ((False,) if many else (False, True))
    }
    searched = (SEARCHED, False)
    if not many:
        learnt = {one: _mean(place, learn, keys, one[1]) for one, keys in candidates.items()}
        begin = min(learnt, key=lambda one: learnt[one])
        searched = (SEARCHED, begin[1])
        candidates[searched] = _search(place, learn, candidates[begin], begin[1], learnt[begin], seed, most, stop)
    judged = {one: _mean(place, judge, keys, one[1]) for one, keys in candidates.items()}
    named = min((one for one in judged if one[0] != SEARCHED), key=lambda one: judged[one])
    best = searched if judged.get(searched, np.inf) < (1.0 - WORTH) * judged[named] else named
    plain = (LATEST_FINISH, False)
    if best != searched and judged[plain] <= judged[best] * (1.0 + WORTH):
        # the plain sort where nothing is better: whoever carries it out knows what it does
        best = plain
    tried: dict[str, float] = {}
    for (name, _), mean in judged.items():
        tried[name] = min(mean, tried.get(name, np.inf))
    come = carry_out(place, judge, arrivals(place, judge), yields=False)
    tried[FIRST_COME] = float(come.cost.sum(axis=1).mean())
    return Order(candidates[best], best[0], best[1], judged[best], tried)


def _mean(place: Field, draws: Draws, keys: Floats, yields: bool) -> float:
    return float(carry_out(place, draws, keys, yields=yields).cost.sum(axis=1).mean())


def _sorts(place: Field, planned: Floats) -> dict[str, Floats]:
    """Orders that need no search: by latest finish, by the plan, by arrival, and by both with weight and length."""
    latest = latest_starts(place)
    there = place.off + place.to_pad
    sure = np.where(np.isfinite(place.until), latest, there)
    density = place.treat / np.maximum(place.weight, 1e-3)
    mean = float(density[place.treat > 0].mean()) if bool((place.treat > 0).any()) else 1.0
    relative = density / max(mean, 1e-9)
    found = {
        LATEST_FINISH: latest,
        AS_PLANNED: np.where(np.isnan(planned), latest, planned),
        "expected arrival first": there,
    }
    for minutes in (10.0, 25.0):
        found[f"latest finish, and {minutes:.0f} min for what waits cheaply"] = latest + minutes * (relative - 1.0)
    found["arrival and window, weighted"] = 0.5 * (sure + there) + 15.0 * (relative - 1.0)
    return found


def _search(
    place: Field, draws: Draws, keys: Floats, yields: bool, mean: float, seed: int, most: int, stop: Callable[[], bool]
) -> Floats:
    """A better order by moving one departure, or a few neighbours, to another place; what costs less is kept."""
    treated = np.flatnonzero(place.treat > 0)
    if treated.size < 2:
        return keys
    dice = np.random.default_rng(seed)
    steps = int(draws.needed.sum(axis=1).mean()) + 1
    # what one carrying out costs grows with departures times steps; a floor for what no array makes faster
    turns = int(min(most, WORK / (steps * (draws.nights * place.treat.size + 4000))))
    order = treated[np.argsort(keys[treated], kind="stable")]
    kept = keys
    for _ in range(turns):
        if stop():
            break
        trial = _moved(order, dice)
        found = _with_ranks(keys, trial)
        cost = _mean(place, draws, found, yields)
        if cost < mean - 1e-9:
            mean, order, kept = cost, trial, found
    return kept


def _moved(order: Ints, dice: np.random.Generator) -> Ints:
    """An order with one departure elsewhere, or two exchanged, most often near."""
    size = order.size
    at = int(dice.integers(size))
    far = max(1, min(size - 1, int(abs(dice.normal(0.0, 0.15 * size))) + 1))
    to = int(np.clip(at + (far if dice.random() < 0.5 else -far), 0, size - 1))
    if dice.random() < 0.3:
        found = order.copy()
        found[at], found[to] = order[to], order[at]
        return found
    return np.insert(np.delete(order, at), to, order[at])


def _with_ranks(keys: Floats, order: Ints) -> Floats:
    found = keys.copy()
    found[order] = np.arange(order.size, dtype=np.float64)
    return found


def ranked(place: Field, order: Order) -> Ints:
    """The place of each departure in the order, 1, 2, …; 0 for those that need nothing."""
    treated = np.flatnonzero(place.treat > 0)
    found = np.zeros(place.treat.size, dtype=np.int64)
    found[treated[np.argsort(order.keys[treated], kind="stable")]] = np.arange(1, treated.size + 1)
    return found


def with_everything_known(
    place: Field, draws: Draws, orders: list[Outcome], keys: list[Floats], *, turns: int, seed: int
) -> Outcome:
    """The best order found for each night on its own, with all that it brings known beforehand.

    orders: outcomes to begin from, keys: theirs, (departure,) or (night, departure); turns: trials a night. What is
    found is a night that could have been had; it is no proof that none is better.
    """
    shape = draws.needed.shape
    costs = np.array([one.cost.sum(axis=1) for one in orders])
    first = costs.argmin(axis=0)
    stacked = np.stack([np.broadcast_to(one, shape) for one in keys])
    best_keys = np.argsort(np.argsort(stacked[first, np.arange(shape[0])], axis=1, kind="stable"), axis=1).astype(float)
    best_cost = costs.min(axis=0)
    best = _pick(orders, first)
    dice = np.random.default_rng(seed)
    for _ in range(turns):
        trial = _moved_each(best_keys, draws.needed, dice)
        found = carry_out(place, draws, trial, yields=False)
        cost = found.cost.sum(axis=1)
        better = cost < best_cost - 1e-9
        if better.any():
            best_keys[better], best_cost[better] = trial[better], cost[better]
            best = _pick([best, found], better.astype(np.int64))
    return best


def _moved_each(keys: Floats, needed: Bools, dice: np.random.Generator) -> Floats:
    """One departure of each night moved to beside another place in its order."""
    nights, count = keys.shape
    rows = np.arange(nights)
    score = np.where(needed, dice.random(keys.shape), -1.0)
    chosen = score.argmax(axis=1)
    shift = np.rint(dice.normal(0.0, 0.12 * count + 1.0, nights)) + 0.5
    found = keys.copy()
    found[rows, chosen] = keys[rows, chosen] + shift
    return np.argsort(np.argsort(found, axis=1, kind="stable"), axis=1).astype(np.float64)


def _pick(outcomes: list[Outcome], which: Ints) -> Outcome:
    """Of each night the outcome that is wanted."""
    rows = np.arange(which.size)
    names = [item.name for item in fields(Outcome)]
    return Outcome(**{name: np.stack([getattr(one, name) for one in outcomes])[which, rows] for name in names})

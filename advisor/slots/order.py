"""The order in which a coordinator calls aircraft that are there: the best of several, over drawn nights. Pure.

Sorts, the plan's own order and orders searched from the best of them are carried out on the same drawn nights; the
cheapest in the mean is published, with its name. Nights that an order was not searched on decide between them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from advisor.conditions import Floats
from advisor.slots.field import Field, arrivals, latest_starts
from advisor.slots.holding import hold_back
from advisor.slots.model import Ints
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import Bools, Draws

LATEST_FINISH, FIRST_COME, AS_PLANNED, SEARCHED, AS_BEFORE = (
    "latest finish first",
    "first come, first served",
    "the plan's starts",
    "searched over drawn nights",
    "as in the previous plan",
)
# how much is carried out for one order, in steps of all nights: fixed, so that the same night gives the same order
# unless the time is over before
WORK = 150_000_000
SLOWEST_JOBS = 400
# a searched order is taken only where it is better by this part on nights it was not searched on
WORTH = 0.002
# an order that has been given out is changed only for another that is better by this part
WORTH_A_CHANGE = 0.02


@dataclass(frozen=True, slots=True)
class Order:
    """Keys of all departures (smaller goes first), what the order is, and whether who has lost its window goes after
    those that can still make theirs. mean: of the cost over the drawn nights; tried: of each order by its name;
    not_before: minute before which each is not called, (departure,), -inf for none; cut: stopped before it was done.
    """

    keys: Floats
    name: str
    yields: bool
    mean: float
    tried: Mapping[str, float]
    not_before: Floats
    cut: bool = False

    def carried_out(self, place: Field, draws: Draws) -> Outcome:
        """What comes of it on drawn nights."""
        return carry_out(place, draws, self.keys, yields=self.yields, not_before=self.not_before)


@dataclass(frozen=True, slots=True)
class Way:
    """One way of calling: as the fields of Order."""

    name: str
    keys: Floats
    yields: bool
    not_before: Floats

    def mean(self, place: Field, draws: Draws) -> float:
        """What it costs on drawn nights, in the mean."""
        return _mean(place, draws, self.keys, self.yields, self.not_before)


def choose(
    place: Field,
    draws: Draws,
    planned: Floats,
    *,
    seed: int,
    most: int,
    stop: Callable[[], bool] = lambda: False,
    before: Way | None = None,
    keep: bool = False,
) -> Order:
    """The best order found. planned: start of each departure in the plan, NaN without one; seed, most: of the search,
    and how many orders it tries; stop: asked before each, and what is known by then is published; before: what has
    been given out, which stays unless another is better by more than a little; keep: whatever is better.

    The first half of the nights is searched on, the second decides.
    """
    half = max(1, draws.nights // 2)
    learn, judge = draws.some(slice(0, half)), draws.some(slice(half if draws.nights > 1 else 0, draws.nights))
    if keep and before is not None:
        mean = before.mean(place, judge)
        return Order(before.keys, before.name, before.yields, mean, {before.name: mean}, before.not_before)
    ways = list(_sorted_ways(place, planned))
    if place.treat.size <= SLOWEST_JOBS:
        ways += _found_ways(place, learn, ways, seed, most, stop)
    judged: list[tuple[float, int, Way]] = []
    tried: dict[str, float] = {}
    for number, way in enumerate(ways):
        # the plain sort stands first: one is always judged
        if judged and stop():
            break
        mean = way.mean(place, judge)
        judged.append((mean, number, way))
        tried[way.name] = min(mean, tried.get(way.name, np.inf))
    if not stop():
        come = carry_out(place, judge, arrivals(place, judge), yields=False)
        tried[FIRST_COME] = float(come.cost.sum(axis=1).mean())
    mean, _, best = _chosen(judged)
    if before is not None:
        given_out = before.mean(place, judge)
        tried[before.name] = given_out
        if given_out <= mean * (1.0 + WORTH_A_CHANGE):
            mean, best = given_out, before
    return Order(best.keys, best.name, best.yields, mean, tried, best.not_before, cut=stop())


def _chosen(judged: Sequence[tuple[float, int, Way]]) -> tuple[float, int, Way]:
    """The cheapest; a plainer one where what was searched for is hardly better, the plainest of all before any."""
    plain = judged[0]
    named = min((one for one in judged if _is_plain(one[2])), default=plain)
    best = min(judged)
    if best[0] >= (1.0 - WORTH) * named[0]:
        best = named
    # whoever carries out the plain sort knows what it does
    return plain if plain[0] <= best[0] * (1.0 + WORTH) else best


def _is_plain(way: Way) -> bool:
    return way.name != SEARCHED and not np.isfinite(way.not_before).any()


def _sorted_ways(place: Field, planned: Floats) -> Iterator[Way]:
    """Sorts, strict and with those yielding that have lost their window; the plainest first."""
    many = place.treat.size > SLOWEST_JOBS
    nobody = np.full(place.treat.size, -np.inf)
    for name, keys in _sorts(place, planned).items():
        # where carrying out takes long, the plain ones alone
        if not many or name in (LATEST_FINISH, AS_PLANNED):
            for yields in (False,) if many else (False, True):
                yield Way(name, keys, yields, nobody)


def _found_ways(
    place: Field, learn: Draws, ways: Sequence[Way], seed: int, most: int, stop: Callable[[], bool]
) -> list[Way]:
    """What is searched for from the best sort: who is held back in it, a better order, and who is held back in that."""
    if stop():
        return []
    learnt: list[tuple[float, int]] = []
    for number, way in enumerate(ways):
        if learnt and stop():
            break
        learnt.append((way.mean(place, learn), number))
    begin = ways[min(learnt)[1]]
    turns = _turns(place, learn, most)
    held = replace(begin, not_before=hold_back(place, learn, begin.keys, begin.yields, most=turns // 3, stop=stop))
    keys = _search(place, learn, held, seed, turns, stop)
    searched = replace(held, name=SEARCHED, keys=keys)
    again = replace(searched, not_before=hold_back(place, learn, keys, begin.yields, most=turns // 3, stop=stop))
    ways_now = [held, searched, again]
    return [way for way in ways_now if way.name == SEARCHED or np.isfinite(way.not_before).any()]


def _turns(place: Field, draws: Draws, most: int) -> int:
    """How many orders are tried: what one carrying out costs grows with departures times steps, and a floor for what
    no array makes faster.
    """
    steps = int(draws.needed.sum(axis=1).mean()) + 1
    return int(min(most, WORK / (steps * (draws.nights * place.treat.size + 4000))))


def _mean(place: Field, draws: Draws, keys: Floats, yields: bool, not_before: Floats) -> float:
    return float(carry_out(place, draws, keys, yields=yields, not_before=not_before).cost.sum(axis=1).mean())


def _sorts(place: Field, planned: Floats) -> dict[str, Floats]:
    """Orders that need no search: by latest finish, by the plan, by arrival, and by both with weight and length."""
    latest = latest_starts(place)
    there = place.off + place.to_pad
    sure = np.where(np.isfinite(place.until), latest, there)
    density = place.treat / np.maximum(place.weight, 1e-3)
    mean = float(density[place.treat > 0].mean()) if bool((place.treat > 0).any()) else 1.0
    relative = density / max(mean, 1e-9)
    sorts = {
        LATEST_FINISH: latest,
        AS_PLANNED: np.where(np.isnan(planned), latest, planned),
        "expected arrival first": there,
    }
    for minutes in (10.0, 25.0):
        sorts[f"latest finish, and {minutes:.0f} min for what waits cheaply"] = latest + minutes * (relative - 1.0)
    sorts["arrival and window, weighted"] = 0.5 * (sure + there) + 15.0 * (relative - 1.0)
    return sorts


def _search(place: Field, draws: Draws, way: Way, seed: int, turns: int, stop: Callable[[], bool]) -> Floats:
    """Keys of a better order, by moving one departure to another place or exchanging two; what costs less is kept."""
    treated = np.flatnonzero(place.treat > 0)
    if treated.size < 2 or stop():
        return way.keys
    dice = np.random.default_rng(seed)
    order = treated[np.argsort(way.keys[treated], kind="stable")]
    mean, kept = way.mean(place, draws), way.keys
    for _ in range(turns):
        if stop():
            break
        trial = _moved(order, dice)
        trial_keys = _with_ranks(way.keys, trial)
        cost = _mean(place, draws, trial_keys, way.yields, way.not_before)
        if cost < mean - 1e-9:
            mean, order, kept = cost, trial, trial_keys
    return kept


def _moved(order: Ints, dice: np.random.Generator) -> Ints:
    """An order with one departure elsewhere, or two exchanged, most often near."""
    size = order.size
    position = int(dice.integers(size))
    far = max(1, min(size - 1, int(abs(dice.normal(0.0, 0.15 * size))) + 1))
    to = int(np.clip(position + (far if dice.random() < 0.5 else -far), 0, size - 1))
    if dice.random() < 0.3:
        exchanged = order.copy()
        exchanged[position], exchanged[to] = order[to], order[position]
        return exchanged
    return np.insert(np.delete(order, position), to, order[position])


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
    place: Field,
    draws: Draws,
    orders: list[Outcome],
    keys: list[Floats],
    *,
    turns: int,
    seed: int,
    not_before: Floats | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Outcome:
    """The best order found for each night on its own, with all that it brings known beforehand.

    orders: outcomes to begin from, keys: theirs, (departure,) or (night, departure); turns: trials a night;
    not_before: as of carry_out, tried in every second turn; stop: asked before each turn. What is found is a night
    that could have been had; it is no proof that none is better.
    """
    shape = draws.needed.shape
    costs = np.array([one.cost.sum(axis=1) for one in orders])
    first = costs.argmin(axis=0)
    stacked = np.stack([np.broadcast_to(one, shape) for one in keys])
    best_keys = np.argsort(np.argsort(stacked[first, np.arange(shape[0])], axis=1, kind="stable"), axis=1).astype(float)
    best_cost = costs.min(axis=0)
    best = _pick(orders, first)
    dice = np.random.default_rng(seed)
    for turn in range(turns):
        if stop():
            break
        trial = _moved_each(best_keys, draws.needed, dice)
        outcome = carry_out(place, draws, trial, yields=False, not_before=None if turn % 2 else not_before)
        cost = outcome.cost.sum(axis=1)
        better = cost < best_cost - 1e-9
        if better.any():
            best_keys[better], best_cost[better] = trial[better], cost[better]
            best = _pick([best, outcome], better.astype(np.int64))
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

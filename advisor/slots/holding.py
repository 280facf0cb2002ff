"""Who is not called before a time of its own: treated sooner, its holdover would run out before it can take off. Pure.

An order of those that are there holds nobody back. Whose take-off comes late for its own reasons, a window that opens
or a runway that is taken, may be treated at once by any order and wait its holdover away. Such a departure gets a time
before which it is not called; which, and whether at all, is found on drawn nights: only what makes them cheaper stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

import numpy as np

from advisor.conditions import Floats
from advisor.slots.field import Field
from advisor.slots.model import Ints
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import Bools, Draws

# minutes in hand before the take-off that each is treated for, and which of its take-offs over the nights that is
IN_HAND_MIN = (0.0, 4.0, 8.0, 13.0)
PARTS = (0.15, 0.5)
# by how much a time of its own is then moved to see whether that is better
SHIFTS_MIN = (-inf, 4.0, -4.0)
MOST_HELD = 40


def hold_back(
    place: Field, draws: Draws, keys: Floats, yields: bool, *, most: int, stop: Callable[[], bool] = lambda: False
) -> Floats:
    """The minute before which each departure is not called, (departure,), -inf for most: what costs least over nights.

    keys, yields: the order, as of carry_out; most: trials; stop: asked before each.
    """
    nobody = np.full(place.treat.size, -inf)
    if place.holdover is None or not most or stop():
        return nobody
    plain = carry_out(place, draws, keys, yields=yields)
    best, cost = nobody, _mean(plain.cost)
    at_risk = _at_risk(plain.broken)
    if not at_risk.size:
        return nobody
    # when each could take off if nothing ran out
    free = carry_out(replace(place, holdover=None), draws, keys, yields=yields)
    gone, trials = free.take_off, 0
    before = (place.to_runway + place.treat + np.where(_on_stand(place, free), place.to_pad, 0.0))[at_risk]
    for part in PARTS:
        take_off = np.nanquantile(np.where(draws.needed, gone, np.nan)[:, at_risk], part, axis=0)
        for minutes in IN_HAND_MIN:
            if trials >= most or stop():
                return best
            trials += 1
            first = nobody.copy()
            first[at_risk] = np.floor(take_off - before - minutes)
            found = _mean(carry_out(place, draws, keys, yields=yields, not_before=first).cost)
            if found < cost - 1e-9:
                best, cost = first, found
    return _each(place, draws, keys, yields, best, cost, at_risk, most - trials, stop)


def _each(
    place: Field,
    draws: Draws,
    keys: Floats,
    yields: bool,
    best: Floats,
    cost: float,
    at_risk: Ints,
    most: int,
    stop: Callable[[], bool],
) -> Floats:
    """One after the other let go, or held for longer or less long; what costs less stays."""
    trials = 0
    for job in at_risk.tolist():
        for shift in SHIFTS_MIN:
            if trials >= most or stop():
                return best
            if best[job] == -inf:
                break
            trials += 1
            first = best.copy()
            first[job] = best[job] + shift
            trial_cost = _mean(carry_out(place, draws, keys, yields=yields, not_before=first).cost)
            # being held is a burden: who is let go at the same cost is let go
            if trial_cost < cost - 1e-9 or (shift == -inf and trial_cost <= cost + 1e-9):
                best, cost = first, trial_cost
    return best


def _on_stand(place: Field, outcome: Outcome) -> Bools:
    """Who is treated on its stand in most of the nights."""
    on_stand = np.array([one.place == "stand" for one in place.pads.pads], dtype=np.bool_)
    treated = outcome.pad >= 0
    found: Bools = 2 * (treated & on_stand[outcome.pad]).sum(axis=0) > treated.sum(axis=0)
    return found


def _at_risk(broken: Ints) -> Ints:
    """Those whose holdover ran out in some of the nights, most often first."""
    often = broken.sum(axis=0)
    order = np.argsort(-often, kind="stable")[:MOST_HELD]
    found: Ints = order[often[order] > 0]
    return found


def _mean(cost: Floats) -> float:
    return float(cost.sum(axis=1).mean())

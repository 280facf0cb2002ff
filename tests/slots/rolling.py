"""A noisy night lived through ten minutes at a time: what happens is drawn, what is done follows the plan then.

Shares no code with the planner: a coordinator with the published order, pads, aircraft that are late and treatments
that take longer or shorter.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil

import numpy as np
from nights import NOW, moved, plan

from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads
from advisor.slots.result import Plan

STEP_MIN = 10


@dataclass
class Lived:
    """One flight's night, minutes from NOW; None until it has happened."""

    off: int
    at_pad: int
    minutes: int
    begun: int | None = None
    finished: int | None = None
    departed: int | None = None
    pad: str = ""


@dataclass
class Night:
    """A night of flights that all go to pads, and the plans that were made in it."""

    needs: list[Need]
    pads: Pads
    table: Holdover | None
    lived: dict[str, Lived] = field(default_factory=dict)
    free: dict[str, int] = field(default_factory=dict)
    row: dict[str, int] = field(default_factory=dict)
    plans: list[tuple[int, Plan, dict[str, Actual]]] = field(default_factory=list)

    def draw(self, seed: int) -> None:
        dice = np.random.default_rng(seed)
        for one in self.needs:
            off = (one.row.off_block - NOW) // 60 + max(0, round(float(dice.normal(3, 5))))
            there = off + max(1, round(one.to_pad_min * float(dice.normal(1, 0.15))))
            minutes = max(2, round(one.treatment_min * float(dice.normal(1, 0.2))))
            self.lived[one.row.flight] = Lived(off, there, minutes)
        self.free = {one.name: 0 for one in self.pads.pads}

    def until(self, end: int, made: Plan) -> None:
        """Minute by minute: a pad that is free takes the first in the order that is there."""
        order = {one.flight: one.order or 0 for one in made.departures}
        first = {one.flight: one.not_before for one in made.departures}
        gone = sorted(one.departed for one in self.lived.values() if one.departed is not None)
        for minute in range(end - STEP_MIN, end):
            for name in self.free:
                if self.free[name] > minute:
                    continue
                waiting = [
                    flight
                    for flight, one in self.lived.items()
                    if one.begun is None and one.at_pad <= minute and _minute(first[flight]) <= minute
                ]
                if not waiting:
                    break
                flight = min(waiting, key=lambda one: order[one] or 10**6)
                one = self.lived[flight]
                one.begun, one.pad = minute, name
                one.finished = minute + one.minutes
                self.fill_up(name, minute, one.finished + self.pads.treatment.clear_min)
                need = next(need for need in self.needs if need.row.flight == flight)
                off = max(one.finished + need.to_runway_min, _until(need))
                gap = ceil(self.pads.runway.spacing_s / 60)
                while any(abs(off - other) < gap for other in gone):
                    off += 1
                one.departed = off
                gone.append(off)

    def fill_up(self, name: str, minute: int, end: int) -> None:
        """When a pad is free again: it fills up after so many, or has done so where it stood idle for long enough."""
        pad = next(one for one in self.pads.pads if one.name == name)
        idle = minute - self.free[name] >= pad.refill_min
        self.row[name] = 1 if idle else self.row.get(name, 0) + 1
        if 0 < pad.refill_after <= self.row[name]:
            end, self.row[name] = end + pad.refill_min, 0
        self.free[name] = end

    def told(self, now: int) -> dict[str, Actual]:
        """What has happened up to now, as a coordinator types it."""
        found = {}
        for flight, one in self.lived.items():
            times = {
                name: NOW + 60 * value
                for name in ("off", "at_pad", "begun", "finished", "departed")
                if (value := getattr(one, name)) is not None and value <= now
            }
            if times:
                found[flight] = Actual(flight, **times, truck=one.pad if "begun" in times else "")
        return found

    def live(self, seed: int) -> None:
        """From the first plan until all are gone."""
        self.draw(seed)
        made = plan(self.needs, self.pads, self.table)
        self.plans = [(0, made, {})]
        now = 0
        while any(one.departed is None or one.departed > now for one in self.lived.values()):
            now += STEP_MIN
            self.until(now, made)
            told = self.told(now)
            seen = [moved(one, NOW + 60 * now) for one in self.needs]
            made = plan(seen, self.pads, self.table, previous=made, now=NOW + 60 * now, actuals=told)
            self.plans.append((now, made, told))
            assert now < 600, "nobody gets anywhere"


def _minute(stamp: str | None) -> int:
    from nights import minute

    return -1 if stamp is None else minute(stamp)


def _until(need: Need) -> int:
    return -(10**6) if need.row.take_off_from is None else (need.row.take_off_from - NOW) // 60

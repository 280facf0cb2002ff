"""Carries an order out on drawn nights, all nights at once. Pure: arrays in, arrays out.

The rule that a coordinator follows: whenever a pad comes free, the first in the order of those that are there and that
the pad takes; who comes back because holdover ran out goes before all others; who can no longer make its take-off
window goes after those that still can; who would be treated so early that its holdover runs out is not called before a
time of its own. Nothing starts that its usual minutes would carry into a closure. A truck fills up after so many
treatments, or sooner where it stands idle for as long as that takes. The place in the queue for the runway is that of
the first free take-off time when a treatment begins.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

import numpy as np

from advisor.conditions import Floats
from advisor.slots.field import Field, latest_starts
from advisor.slots.model import Ints
from advisor.slots.scenarios import Bools, Draws

# beyond every key: who lost its window, and who comes back
AFTER, BEFORE = 1e7, -1e8
EPSILON = 1e-9


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of each night, (night, departure): pad by row (-1 for none), begun, last step begun, finished and
    take-off in minutes (NaN where there was none), broken holdovers, whether a window was missed, no guideline held,
    nothing could be planned, delay against the schedule, and cost.
    """

    pad: Ints
    begun: Floats
    last_step: Floats
    finished: Floats
    take_off: Floats
    broken: Ints
    missed: Bools
    no_guideline: Bools
    left_out: Bools
    delay: Floats
    cost: Floats

    def figures(self) -> Mapping[str, Floats]:
        """Each night's figures, (night,): sum and worst of the delays, broken holdovers, windows missed, cost."""
        return {
            "delay_min": self.delay.sum(axis=1),
            "worst_delay_min": self.delay.max(axis=1, initial=0.0),
            "broken_holdovers": self.broken.sum(axis=1).astype(np.float64),
            "missed_windows": self.missed.sum(axis=1).astype(np.float64),
            "cost": self.cost.sum(axis=1),
        }


def carry_out(
    place: Field, draws: Draws, keys: Floats, *, yields: bool = True, not_before: Floats | None = None
) -> Outcome:
    """Every drawn night in one order.

    keys: smaller goes first, (departure,) or (night, departure); yields: whether who can no longer make its window
    goes after those that can; not_before: minute before which nobody is called, (departure,), -inf for none.
    """
    return _Nights(place, draws, keys, yields, not_before).run()


class _Nights:
    """The state of all nights while they are carried out: who is there when, which pads are free, what is done."""

    def __init__(self, place: Field, draws: Draws, keys: Floats, yields: bool, not_before: Floats | None) -> None:
        self.place, self.draws = place, draws
        shape = draws.needed.shape
        self.shape, self.all = shape, np.arange(shape[0])
        self.keys = np.broadcast_to(np.asarray(keys, dtype=np.float64), shape).copy()
        takes = np.array([kind.takes for kind in place.kinds]).reshape(len(place.kinds), -1)
        self.waiting: Bools = draws.needed & takes.any(axis=0)
        self.left_out: Bools = draws.needed & ~takes.any(axis=0)
        self.duration = place.treat * draws.treatment
        self.arrived = self._arrive()
        # who comes back is not held: that goes by when it is there again
        self.there = self.arrived.copy() if not_before is None else np.maximum(self.arrived, not_before)
        lost = np.where(np.isfinite(place.until), latest_starts(place), inf) if yields else np.full(shape[1], inf)
        self.lost_after = np.broadcast_to(lost, shape)
        self.free = np.tile(place.free_from, (shape[0], 1))
        self.treated = np.tile(place.treated, (shape[0], 1))
        self.refill = np.array([pad.refill_after for pad in place.pads.pads], dtype=np.int64)
        self.refill_min = np.array([float(pad.refill_min) for pad in place.pads.pads])
        self.back = np.zeros(shape, dtype=np.bool_)
        self.pad = np.full(shape, -1, dtype=np.int64)
        self.begun, self.last_step, self.finished, self.take_off = (np.full(shape, np.nan) for _ in range(4))
        self.broken = np.zeros(shape, dtype=np.int64)
        self.no_guideline = np.zeros(shape, dtype=np.bool_)
        self.spacing = place.pads.runway.spacing_s / 60.0
        # take-offs that are taken: those of others first, then each departure's own
        self.slots = np.concatenate([np.tile(place.taken, (shape[0], 1)), np.full(shape, inf)], axis=1)
        self.others = place.taken.size

    def _arrive(self) -> Floats:
        """When each departure is there for each kind of pad, (kind, night, departure); inf where it is not taken."""
        place, draws = self.place, self.draws
        there_min = []
        for kind in place.kinds:
            remote = place.off + draws.late_min + place.to_pad * draws.taxi
            arrived_min = remote if kind.place == "remote" else place.ready + draws.late_min
            there_min.append(np.where(kind.takes, np.maximum(arrived_min, 0.0), inf))
        return np.array(there_min).reshape(len(place.kinds), *self.shape)

    def run(self) -> Outcome:
        self._go_without()
        while bool(self.waiting.any()):
            kind, row, start_min = self._next_pad()
            none = ~np.isfinite(start_min)
            self.left_out |= self.waiting & none[:, None]
            self.waiting &= ~none[:, None]
            nights = self.all[~none & self.waiting.any(axis=1)]
            if nights.size:
                self._call(nights, kind[nights], row[nights], start_min[nights])
        return self._outcome()

    def _go_without(self) -> None:
        """Who needs nothing goes to the runway at once, in the order of arrival there."""
        place, draws = self.place, self.draws
        ready = place.off + draws.late_min + (place.to_pad + place.to_runway) * draws.taxi
        ready = np.where(draws.needed, inf, np.maximum(ready, place.from_))
        order = np.argsort(ready, axis=1, kind="stable")
        ranks = np.arange(ready.shape[1]) * self.spacing
        sorted_ready = np.take_along_axis(ready, order, axis=1)
        with np.errstate(invalid="ignore"):
            gone = np.maximum.accumulate(sorted_ready - ranks, axis=1) + ranks
        if self.others and self.spacing > 0:
            gone = self._between_others(sorted_ready)
        np.put_along_axis(self.slots, order + self.others, gone, axis=1)
        self.take_off = np.where(draws.needed, np.nan, self.slots[:, self.others :])

    def _between_others(self, ready: Floats) -> Floats:
        """The same, each in its turn, where others have taken some of the times already."""
        take_off_min = np.full(ready.shape, inf)
        for rank in range(ready.shape[1]):
            here = np.flatnonzero(np.isfinite(ready[:, rank]))
            take_off_min[here, rank] = self._runway(here, ready[here, rank])
            self.slots[here, self.others + rank] = take_off_min[here, rank]
        self.slots[:, self.others :] = inf
        return take_off_min

    def _next_pad(self) -> tuple[Ints, Ints, Floats]:
        """The kind and row of the pad that can begin next in each night, and when."""
        kind = np.zeros(self.shape[0], dtype=np.int64)
        row = np.zeros(self.shape[0], dtype=np.int64)
        soonest = np.full(self.shape[0], inf)
        for number, pad_kind in enumerate(self.place.kinds):
            first = np.where(self.waiting, self.there[number], inf).min(axis=1, initial=inf)
            start_min = np.maximum(self.free[:, pad_kind.pads], first[:, None])
            for column, pad in enumerate(pad_kind.pads.tolist()):
                for begins, ends in self.place.shut[pad]:
                    shut = (start_min[:, column] >= begins) & (start_min[:, column] < ends)
                    start_min[shut, column] = ends
            least = start_min.min(axis=1)
            pad_then = pad_kind.pads[(start_min <= least[:, None] + EPSILON).argmax(axis=1)]
            better = least < soonest - EPSILON
            kind[better], row[better], soonest[better] = number, pad_then[better], least[better]
        return kind, row, soonest

    def _call(self, nights: Ints, kind: Ints, row: Ints, start_min: Floats) -> None:
        """Call the first in the order that is there to each night's pad, and treat it."""
        there = self.waiting[nights] & (self.there[kind, nights] <= start_min[:, None] + EPSILON)
        keys = self.keys[nights] + np.where(start_min[:, None] > self.lost_after[nights] + EPSILON, AFTER, 0.0)
        keys = np.where(there, np.where(self.back[nights], BEFORE, 0.0) + keys, inf)
        job = keys.argmin(axis=1)
        open_ = self._fits(job, row, start_min)
        shut = ~open_
        if shut.any():
            # what would run into a closure is not begun: this pad waits for the closure's end
            self.free[nights[shut], row[shut]] = self._end_of_closure(job[shut], row[shut], start_min[shut])
        nights, kind, row, start_min, job = nights[open_], kind[open_], row[open_], start_min[open_], job[open_]
        if nights.size:
            self._treat(nights, kind, row, start_min, job)

    def _fits(self, job: Ints, row: Ints, start_min: Floats) -> Bools:
        return self._end_of_closure(job, row, start_min) <= start_min

    def _end_of_closure(self, job: Ints, row: Ints, start_min: Floats) -> Floats:
        """The end of the closure that a treatment would run into by its usual minutes, else the time itself."""
        later_min = start_min.copy()
        for pad, spans in enumerate(self.place.shut):
            here = row == pad
            for begins, ends in spans:
                runs = here & (later_min < ends) & (later_min + self.place.treat[job] > begins + EPSILON)
                later_min = np.where(runs, ends, later_min)
        return later_min

    def _treat(self, nights: Ints, kind: Ints, row: Ints, start_min: Floats, job: Ints) -> None:
        place, draws = self.place, self.draws
        end = start_min + self.duration[nights, job]
        last = start_min + np.where(place.anti[job] > 0, place.remove[job] * draws.treatment[nights, job], 0.0)
        engines = np.array([one.engines_min for one in place.kinds])[kind]
        on_stand = np.array([one.place == "stand" for one in place.kinds])[kind]
        way = place.to_runway[job] * draws.taxi[nights, job]
        off = place.off[job] + draws.late_min[nights, job]
        from_stand = np.maximum(end, off) + place.to_pad[job] * draws.taxi[nights, job] + way
        ready = np.where(on_stand & ~self.back[nights, job], from_stand, end + engines + way)
        ready = np.maximum(ready, place.from_[job])
        take_off = self._runway(nights, ready)
        held = self._holdover(job, draws.case[nights], last, take_off)
        # a truck that stood idle for as long as it takes has filled up meanwhile
        idle = start_min - self.free[nights, row] >= self.refill_min[row] - EPSILON
        self.treated[nights, row] = np.where(idle, 0, self.treated[nights, row]) + 1
        fills = (self.refill[row] > 0) & (self.treated[nights, row] >= self.refill[row])
        self.treated[nights[fills], row[fills]] = 0
        clear = place.pads.treatment.clear_min + np.where(fills, self.refill_min[row], 0.0)
        self.free[nights, row] = end + engines + clear
        self.pad[nights, job], self.begun[nights, job] = row, start_min
        self.last_step[nights, job], self.finished[nights, job] = last, end
        over = held < take_off - last - EPSILON
        self.broken[nights, job] += over
        again = over & ~self.back[nights, job]
        gone = ~again
        self.no_guideline[nights[gone], job[gone]] |= np.isnan(held[gone])
        self.take_off[nights[gone], job[gone]] = take_off[gone]
        self.slots[nights[gone], self.others + job[gone]] = take_off[gone]
        self.waiting[nights[gone], job[gone]] = False
        if again.any():
            self._come_back(nights[again], job[again], (last + held)[again], way[again])

    def _come_back(self, nights: Ints, job: Ints, over: Floats, way: Floats) -> None:
        """Holdover ran out before take-off: back to the pads that take it, for the whole treatment again."""
        self.back[nights, job] = True
        finished = self.finished[nights, job]
        returns = np.maximum(over, finished) + way
        for number, one in enumerate(self.place.kinds):
            self.there[number, nights, job] = np.where(one.takes[job], returns, inf)

    def _runway(self, nights: Ints, ready: Floats) -> Floats:
        """The first free take-off time at or after each is ready."""
        if self.spacing <= 0:
            return ready
        taken = self.slots[nights]
        take_off_min = ready.copy()
        for _ in range(taken.shape[1] + 1):
            close = np.abs(taken - take_off_min[:, None]) < self.spacing - EPSILON
            if not close.any():
                break
            take_off_min = np.maximum(
                take_off_min, np.where(close, taken, -inf).max(axis=1) + np.where(close.any(axis=1), self.spacing, 0)
            )
        return take_off_min

    def _holdover(self, job: Ints, case: Ints, begun: Floats, take_off: Floats) -> Floats:
        """Holdover over the minutes from last step to take-off in each night's case; inf where none runs."""
        tables = self.place.holdover
        if tables is None:
            return np.full(job.size, inf)
        size = tables.shape[3]
        first = np.clip(np.floor(begun).astype(np.int64), 0, size - 1)
        last = np.clip(np.ceil(take_off).astype(np.int64), first, size - 1)
        level = np.minimum(np.log2(last - first + 1).astype(np.int64), tables.shape[2] - 1)
        night, case = self.place.night[job], np.minimum(case, tables.shape[1] - 1)
        ends = np.maximum(first, last - (1 << level) + 1)
        found: Floats = np.minimum(tables[night, case, level, first], tables[night, case, level, ends])
        return found

    def _outcome(self) -> Outcome:
        place, price = self.place, self.place.pads.cost
        soonest = self._soonest()
        wait = np.where(self.left_out, 0.0, np.maximum(0.0, self.take_off - soonest))
        cost = place.weight * (wait + price.late * np.maximum(0.0, wait - price.late_after_min))
        over = np.where(self.left_out, 0.0, self.take_off - place.until)
        missed = over > EPSILON
        cost = cost + np.where(missed, place.missed + price.missed_minute * np.where(missed, over, 0.0), 0.0)
        cost = cost + self.broken * price.broken_holdover + self.no_guideline * price.without_guideline
        cost = np.where(self.left_out, place.unplanned, cost)
        delay = np.where(self.left_out, 0.0, np.maximum(0.0, self.take_off - place.planned))
        return Outcome(
            self.pad,
            self.begun,
            self.last_step,
            self.finished,
            np.where(self.left_out, np.nan, self.take_off),
            self.broken,
            missed,
            self.no_guideline,
            self.left_out,
            delay,
            cost,
        )

    def _soonest(self) -> Floats:
        """The earliest take-off that each departure's own times allow, without waiting for pad or runway."""
        place, draws = self.place, self.draws
        soonest_min = np.full(self.shape, inf)
        for number, kind in enumerate(place.kinds):
            there = self.arrived[number]
            end = there + self.duration
            way = place.to_runway * draws.taxi
            off = place.off + draws.late_min
            from_stand = np.maximum(end, off) + place.to_pad * draws.taxi + way
            take_off_min = from_stand if kind.place == "stand" else end + kind.engines_min + way
            soonest_min = np.minimum(soonest_min, np.where(kind.takes, take_off_min, inf))
        without = place.off + draws.late_min + (place.to_pad + place.to_runway) * draws.taxi
        return np.maximum(np.where(draws.needed, soonest_min, without), place.from_)

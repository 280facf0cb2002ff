"""One night carried out event by event, from the rule's definitions alone. Shares no code with the planner's arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, floor, inf, isnan, nan

from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.demand import Need
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pads


@dataclass
class Drawn:
    """What one night brings a departure: minutes late, factors of way and treatment, whether treatment is needed."""

    late: float = 0.0
    way: float = 1.0
    treatment: float = 1.0
    needed: bool = True


@dataclass
class Done:
    """What came of a departure; minutes from the base."""

    pads: list[int] = field(default_factory=list)
    begun: list[float] = field(default_factory=list)
    take_off: float = nan
    broken: int = 0
    missed: bool = False
    without_guideline: bool = False
    left_out: bool = False
    cost: float = 0.0


def holdover_between(need: Need, table: Holdover | None, base_s: int, case: int, begun: float, gone: float) -> float:
    """Lowest minutes over the samples on and around a stretch; NaN without a row, inf where nothing falls."""
    if table is None:
        return inf
    first, last = base_s + 60 * floor(begun), base_s + 60 * ceil(gone)
    grid = [float(moment) for moment in need.conditions.unix_s]
    low = max((at for at, moment in enumerate(grid) if moment <= first), default=0)
    high = min((at for at, moment in enumerate(grid) if moment >= last), default=len(grid) - 1)
    least = inf
    for at in range(low, high + 1):
        name = TREATMENT_CATEGORIES[int(need.conditions.columns["treatment_category"][case, at])]
        if name == "none":
            continue
        rows = [row.low for row in table.rows if row.category == name]
        if not rows:
            return nan
        least = min(least, min(rows))
    return least


class Night:
    """The state of one night while it is carried out."""

    def __init__(
        self,
        needs: list[Need],
        pads: Pads,
        closures: list[Closure],
        table: Holdover | None,
        now: int,
        drawn: list[Drawn],
        case: int = 0,
        not_before: list[float] | None = None,
    ) -> None:
        self.needs, self.pads, self.table, self.drawn, self.case = needs, pads, table, drawn, case
        self.base_s = now - now % 60
        self.now = now
        self.shut = [
            [
                ((one.from_s - self.base_s) / 60, (one.until_s - self.base_s) / 60)
                for one in closures
                if pad.name in one.pads
            ]
            + ([] if pad.from_s is None else [(-inf, (pad.from_s - self.base_s) / 60)])
            + ([] if pad.until_s is None else [((pad.until_s - self.base_s) / 60, inf)])
            for pad in pads.pads
        ]
        self.free = [0.0] * len(pads.pads)
        self.treated = [0] * len(pads.pads)
        self.done = [Done() for _ in needs]
        self.not_before = not_before or [-inf] * len(needs)
        self.back: dict[int, float] = {}
        self.runway: list[float] = []
        self.spacing = pads.runway.spacing_s / 60

    def minute(self, moment: int) -> float:
        return (moment - self.base_s) / 60

    def off(self, at: int) -> float:
        row = self.needs[at].row
        return self.minute(max(row.off_block, row.ready or 0, self.now)) + self.drawn[at].late

    def there(self, at: int, pad: int, own: bool = False) -> float:
        """When a departure may be called to a pad; inf where the pad does not take it. own: by its own times alone."""
        need, one = self.needs[at], self.pads.pads[pad]
        if need.row.place not in ("", one.place) or (one.size == "small" and need.profile.size != "small"):
            return inf
        if at in self.back:
            return self.back[at]
        first = -inf if own else self.not_before[at]
        if one.place == "remote":
            return max(0.0, first, self.off(at) + need.to_pad_min * self.drawn[at].way)
        ready = need.row.ready
        soonest = need.row.off_block - 60 * self.pads.treatment.stand_lead_min if ready is None else ready
        return max(0.0, first, max(0.0, self.minute(soonest)) + self.drawn[at].late)

    def usual(self, at: int) -> float:
        return self.needs[at].removal_min + self.needs[at].anti_icing_min

    def latest(self, at: int) -> float:
        """The last start that makes the window by the usual minutes; inf without a window."""
        row, need = self.needs[at].row, self.needs[at]
        if row.take_off_until is None:
            return inf
        on_stand = need.to_pad_min if row.place == "stand" else 0
        return self.minute(row.take_off_until) - need.to_runway_min - self.usual(at) - on_stand

    def runway_at(self, ready: float) -> float:
        """The first time at or after ready that lies far enough from all that are taken."""
        moment = ready
        while self.spacing > 0:
            close = [other for other in self.runway if abs(other - moment) < self.spacing - 1e-9]
            if not close:
                break
            moment = max(close) + self.spacing
        return moment

    def from_(self, at: int) -> float:
        start = self.needs[at].row.take_off_from
        return -inf if start is None else self.minute(start)

    def run(self, keys: list[float], yields: bool) -> list[Done]:
        untreated = [at for at in range(len(self.needs)) if not self.drawn[at].needed]
        ready = {
            at: max(
                self.off(at) + (self.needs[at].to_pad_min + self.needs[at].to_runway_min) * self.drawn[at].way,
                self.from_(at),
            )
            for at in untreated
        }
        last = -inf
        for at in sorted(untreated, key=lambda at: (ready[at], at)):
            last = max(ready[at], last + self.spacing)
            self.done[at].take_off = last
            self.runway.append(last)
            self.price(at, ready[at])
        waiting = [at for at in range(len(self.needs)) if self.drawn[at].needed]
        for at in list(waiting):
            if all(self.there(at, pad) == inf for pad in range(len(self.pads.pads))):
                self.leave_out(at)
                waiting.remove(at)
        while waiting:
            chances = [(self.begins(pad, waiting), self.takes(pad), pad) for pad in range(len(self.pads.pads))]
            moment = min(chance[0] for chance in chances)
            if moment == inf:
                for at in waiting:
                    self.leave_out(at)
                break
            _, _, pad = min(((chance[1], chance[2]), 0, chance[2]) for chance in chances if chance[0] <= moment + 1e-9)
            moment = self.begins(pad, waiting)
            here = [at for at in waiting if self.there(at, pad) <= moment + 1e-9]

            def rank(at: int, moment: float = moment) -> tuple[float, int]:
                key = keys[at] + (1e7 if yields and moment > self.latest(at) + 1e-9 else 0.0)
                return key - (1e8 if at in self.back else 0.0), at

            at = min(here, key=rank)
            until = self.closed_until(pad, moment, self.usual(at))
            if until > moment:
                self.free[pad] = until
                continue
            if self.treat(at, pad, moment):
                waiting.remove(at)
        return self.done

    def takes(self, pad: int) -> tuple[int, int]:
        """Pads that take fewer are used first: how many of the departures, and the first pad of its kind."""
        one = self.pads.pads[pad]
        same = [
            row
            for row, other in enumerate(self.pads.pads)
            if (other.place, other.size, other.engines) == (one.place, one.size, one.engines)
        ]
        fits = sum(
            1
            for need in self.needs
            if need.steps and need.row.place in ("", one.place) and (one.size == "any" or need.profile.size == "small")
        )
        return fits, same[0]

    def begins(self, pad: int, waiting: list[int]) -> float:
        moment = max(self.free[pad], min(self.there(at, pad) for at in waiting))
        for begins, ends in sorted(self.shut[pad]):
            if begins <= moment < ends:
                moment = ends
        return moment

    def closed_until(self, pad: int, moment: float, minutes: float) -> float:
        for begins, ends in sorted(self.shut[pad]):
            if moment < ends and moment + minutes > begins + 1e-9:
                moment = ends
        return moment

    def treat(self, at: int, pad: int, moment: float) -> bool:
        """Treat; False where it comes back because holdover ran out."""
        need, one, drawn, done = self.needs[at], self.pads.pads[pad], self.drawn[at], self.done[at]
        end = moment + self.usual(at) * drawn.treatment
        last = moment + (need.removal_min * drawn.treatment if need.anti_icing_min else 0.0)
        way = need.to_runway_min * drawn.way
        engines = float(self.pads.treatment.engines_off_min) if one.engines == "off" else 0.0
        if one.place == "stand" and at not in self.back:
            ready = max(end, self.off(at)) + need.to_pad_min * drawn.way + way
        else:
            ready = end + engines + way
        gone = self.runway_at(max(ready, self.from_(at)))
        if moment - self.free[pad] >= one.refill_min - 1e-9:
            self.treated[pad] = 0
        self.treated[pad] += 1
        refill = 0
        if one.refill_after and self.treated[pad] >= one.refill_after:
            refill, self.treated[pad] = one.refill_min, 0
        self.free[pad] = end + engines + self.pads.treatment.clear_min + refill
        done.pads.append(pad)
        done.begun.append(moment)
        held = holdover_between(need, self.table, self.base_s, self.case, last, gone)
        over = held < gone - last - 1e-9
        done.broken += over
        if over and at not in self.back:
            self.back[at] = max(last + held, end) + way
            return False
        done.without_guideline = isnan(held)
        done.take_off = gone
        self.runway.append(gone)
        self.price(at, self.soonest(at))
        return True

    def soonest(self, at: int) -> float:
        back = self.back.pop(at, None)
        need, drawn = self.needs[at], self.drawn[at]
        found = []
        for pad, one in enumerate(self.pads.pads):
            there = self.there(at, pad, own=True)
            if there == inf:
                continue
            end, way = there + self.usual(at) * drawn.treatment, need.to_runway_min * drawn.way
            engines = self.pads.treatment.engines_off_min if one.engines == "off" else 0
            stand = max(end, self.off(at)) + need.to_pad_min * drawn.way + way
            found.append(stand if one.place == "stand" else end + engines + way)
        if back is not None:
            self.back[at] = back
        return max(min(found), self.from_(at))

    def leave_out(self, at: int) -> None:
        share = {"expected": 1.0}.get(self.needs[at].status, self.pads.margin.possible_share)
        self.done[at].left_out = True
        self.done[at].cost = self.pads.cost.unplanned * max(share, 0.05)

    def price(self, at: int, soonest: float) -> None:
        need, done, price = self.needs[at], self.done[at], self.pads.cost
        wait = max(0.0, done.take_off - soonest)
        cost = (
            getattr(price, need.profile.size)
            * need.row.priority
            * (wait + price.late * max(0.0, wait - price.late_after_min))
        )
        until = need.row.take_off_until
        if until is not None and done.take_off > self.minute(until) + 1e-9:
            own = price.missed_window if isnan(need.row.missed_window) else need.row.missed_window
            cost += own + price.missed_minute * (done.take_off - self.minute(until))
            done.missed = True
        cost += done.broken * price.broken_holdover
        cost += max(price.no_guideline, price.broken_holdover) if done.without_guideline else 0.0
        done.cost = cost

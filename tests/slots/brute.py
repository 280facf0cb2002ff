"""The cheapest plan of a small night by going through every minute and every choice. Independent of the planner."""

from __future__ import annotations

import sys
from functools import cache
from itertools import product

from nights import NOW
from validator import best_take_off, cost_of, first_start, fits, open_for

from advisor.slots.demand import Need
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads


def cheapest(needs: list[Need], pads: Pads, table: Holdover | None, now: int, minutes: int) -> float:
    """Least price of any plan whose starts lie within so many minutes of now; every need reserves a whole pad."""
    sys.setrecursionlimit(20_000)
    wanted = [need for need in needs if need.status != "not indicated"]
    best = [best_take_off(need, pads, now, now) for need in wanted]
    clear = pads.treatment.clear_min
    share = [1.0 if need.status == "expected" else pads.margin.possible_share for need in wanted]

    @cache
    def price(job: int, pad: int, minute: int) -> float | None:
        need, where, start = wanted[job], pads.pads[pad], now + 60 * minute
        if (
            not fits(need, where)
            or start < first_start(need, where.place, now, pads.treatment.stand_lead_min)
            or not open_for(need, where, pads, start)
        ):
            return None
        return cost_of(need, pads, table, where.place, start, now, best[job])

    @cache
    def rest(minute: int, busy: tuple[int, ...], left: frozenset[int]) -> float:
        if not left or minute >= minutes:
            return sum(pads.cost.unplanned * max(share[job], 0.05) for job in left)
        found = rest(minute + 1, tuple(max(0, one - 1) for one in busy), left)
        for pad, taken in enumerate(busy):
            if taken:
                continue
            for job in left:
                own = price(job, pad, minute)
                if own is not None:
                    held = wanted[job].treatment_min + clear
                    after = tuple(held if at == pad else one for at, one in enumerate(busy))
                    found = min(found, own + rest(minute, after, left - {job}))
        return found

    return rest(0, (0,) * len(pads.pads), frozenset(range(len(wanted))))


def cheapest_with_sharing(needs: list[Need], held: Pads, minutes: int, now: int = NOW) -> float:
    """The least price of any plan, pad by pad and minute by minute, under the sharing rule; independent of the planner.

    Everyone gets every pad and every start in turn; what does not fit beside those before it is left.
    """
    sharing = held.margin.sharing
    clear = held.treatment.clear_min
    lead = held.treatment.stand_lead_min
    best = [best_take_off(one, held, now, now) for one in needs]
    sure = [one.status == "expected" for one in needs]
    least = [float("inf")]

    def price(job: int, row: int, start: int) -> float | None:
        where, moment = held.pads[row], now + 60 * start
        if not fits(needs[job], where) or moment < first_start(needs[job], where.place, now, lead):
            return None
        if not open_for(needs[job], where, held, moment):
            return None
        return cost_of(needs[job], held, None, where.place, moment, now, best[job])

    def place(job: int, taken: list[tuple[int, int, int, bool]], cost: float) -> None:
        if cost >= least[0]:
            return
        if job == len(needs):
            least[0] = cost
            return
        share = 1.0 if sure[job] else held.margin.possible_share
        length = needs[job].treatment_min + clear
        for start, row in product(range(minutes), range(len(held.pads))):
            own = price(job, row, start)
            if own is None:
                continue
            others = [one for one in taken if one[0] == row and one[1] < start + length and start < one[2]]
            if others and (sure[job] or any(one[3] for one in others)):
                continue
            deepest = max(
                (sum(1 for one in others if one[1] <= m < one[2]) for m in range(start, start + length)), default=0
            )
            if deepest + 1 <= sharing:
                place(job + 1, [*taken, (row, start, start + length, sure[job])], cost + own)
        place(job + 1, taken, cost + held.cost.unplanned * max(share, 0.05))

    place(0, [], 0.0)
    return least[0]

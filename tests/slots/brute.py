"""The cheapest plan of a small night by going through every minute and every choice. Independent of the planner."""

from __future__ import annotations

import sys
from functools import cache

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

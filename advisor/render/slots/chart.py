"""Pictures of a plan in user units: a row a flight over the load, and how the cost of rehearsed nights lies."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor
from typing import Any

from advisor.departure import from_unix, read_moment
from advisor.render.slots.text import rehearsed, span
from advisor.render.words import clock
from advisor.slots.result import DepartureOut, Plan, RehearsalOut

LEFT, ROW, HEAD, WIDEST, MINUTE = 110, 24, 22, 1400.0, 5.0
LOAD_HIGH, BEHIND = 80, 110
COSTS_WIDE, COSTS_ROW = 560.0, 30


def seconds(stamp: str) -> float:
    """Seconds since 1970 UTC of a plan's time."""
    return read_moment(stamp, what="plan").timestamp()


def flights(plan: Plan) -> dict[str, Any] | None:
    """A row a treated flight: off-block, treatment, take-off and the end of its holdover; the load under them.

    Sorted by the holdover left, the least first; those without minutes after them, without a guideline before all.
    """
    treated = [one for one in plan.departures if one.start is not None]
    if not treated:
        return None
    moments = [seconds(stamp) for one in treated for stamp in (one.off_block, one.start, one.take_off) if stamp]
    moments += [seconds(one.at) for one in plan.load] + [seconds(one.at) + 900 for one in plan.load]
    first, last = floor(min(moments) / 900) * 900, ceil(max(moments) / 900) * 900
    per_s = min(MINUTE, (WIDEST - LEFT) / max(1.0, (last - first) / 60)) / 60

    def x(stamp: str | float) -> float:
        moment = seconds(stamp) if isinstance(stamp, str) else stamp
        return round(LEFT + (min(max(moment, first), last) - first) * per_s, 1)

    rows = [_row(one, HEAD + ROW * at, x) for at, one in enumerate(sorted(treated, key=_by_left))]
    base = HEAD + ROW * len(rows) + LOAD_HIGH + 12
    most = max([*(one.capacity_min for one in plan.load), *(one.load_min for one in plan.load), 1])
    step = 900 if (last - first) * per_s / ((last - first) / 900) > 40 else 3600
    bars = [
        {
            "x": x(quarter.at),
            "w": round(max(1.0, x(seconds(quarter.at) + 900) - x(quarter.at) - 2), 1),
            "load": round(LOAD_HIGH * quarter.load_min / most, 1),
            "capacity": round(LOAD_HIGH * quarter.capacity_min / most, 1),
            "over": quarter.load_min > quarter.capacity_min,
            "title": f"{clock(quarter.at)}: {quarter.load_min:.0f} of {quarter.capacity_min} pad minutes",
        }
        for quarter in plan.load
    ]
    ticks = [(x(float(at)), f"{from_unix(at):%H%MZ}") for at in range(int(first), int(last) + 1, step)]
    # what is left stands behind the arrowhead, and may be the last thing of all
    wide = max([x(float(last)) + 48, *(row["take_off"] + BEHIND for row in rows)])
    return {"width": round(wide, 1), "height": base + 6, "base": base, "rows": rows, "bars": bars} | {
        "ticks": ticks,
        "now": x(plan.now) if first <= seconds(plan.now) <= last else None,
    }


def _by_left(departure: DepartureOut) -> tuple[bool, bool, int, str]:
    left = departure.holdover_left_min
    return not departure.no_guideline, left is None, left or 0, departure.flight


def _row(departure: DepartureOut, y: int, x: Any) -> dict[str, Any]:
    assert departure.start and departure.end
    take_off = departure.take_off or departure.end
    held = None
    if departure.holdover_min is not None and departure.last_step_start is not None:
        held = x(seconds(departure.last_step_start) + 60 * departure.holdover_min)
    left = "no guideline" if departure.no_guideline else "none runs"
    left = left if departure.holdover_left_min is None else f"{departure.holdover_left_min} min left"
    times_text = f"off-block {clock(departure.off_block)}, treatment {span(departure.start, departure.end)}"
    return {
        "flight": departure.flight,
        "y": y,
        "off": x(departure.off_block),
        "start": x(departure.start),
        "width": round(max(1.0, x(departure.end) - x(departure.start)), 1),
        "take_off": x(take_off),
        "held": held,
        "class": departure.need.replace(" ", "-"),
        "alarm": departure.no_guideline
        or (departure.holdover_left_min is not None and departure.holdover_left_min < 0),
        "left": left,
        "title": f"{departure.flight}: {times_text}, take-off {clock(take_off)}, {left}",
    }


def costs(rehearsal: RehearsalOut | None) -> dict[str, Any] | None:
    """How the cost of a night lies over the rehearsed nights, each way of carrying them out in a row of its own."""
    if rehearsal is None:
        return None
    ways = [(name, one) for name, one in rehearsed(rehearsal) if len(one.cost_tenths) == 11]
    if not ways:
        return None
    most = max(1e-9, *(one.cost_tenths[-1] for _, one in ways))

    def x(cost: float) -> float:
        return round(170 + COSTS_WIDE * cost / most, 1)

    rows = []
    for number, (name, spreads) in enumerate(ways):
        tenths: Sequence[float] = spreads.cost_tenths
        rows.append(
            {
                "name": name,
                "y": HEAD + COSTS_ROW * number,
                "least": x(tenths[0]),
                "low": x(tenths[1]),
                "middle": x(tenths[5]),
                "high": x(tenths[9]),
                "most": x(tenths[10]),
                "mean": x(spreads.cost.mean),
                "title": f"{name}: mean {spreads.cost.mean:.0f}, half of the nights up to {tenths[5]:.0f}, "
                f"9 of 10 up to {tenths[9]:.0f}, most {tenths[10]:.0f}",
            }
        )
    ticks = [(x(most * part / 4), f"{most * part / 4:.0f}") for part in range(5)]
    return {"width": 170 + COSTS_WIDE + 50, "height": HEAD + COSTS_ROW * len(rows) + 4, "rows": rows, "ticks": ticks}

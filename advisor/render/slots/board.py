"""A plan of slots as one self-contained page: no script, nothing loaded from elsewhere. `board` returns the HTML."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, floor
from typing import Any

from markupsafe import Markup

from advisor.departure import hhmm, read_moment
from advisor.render import design
from advisor.render.slots import chart
from advisor.render.slots.text import (
    INVENTED,
    call_by,
    closure_line,
    cost_line,
    has_begun,
    lead_line,
    order_line,
    rehearsed,
    remarks,
    span,
)
from advisor.render.words import clock, moment
from advisor.slots.result import DepartureOut, Plan

LEFT, MINUTE, ROW, HEAD = 110, 6.0, 30, 22
WIDEST = 2400
AHEAD_S = 2 * 3600


def board(plan: Plan, links: Sequence[tuple[str, str]] = ()) -> str:
    """The page, HTML as text. Also for the server. links: address and words of pages to go on to, for the server."""
    treated = [one for one in plan.departures if one.start is not None]
    html: str = _template().render(
        plan=plan,
        design=Markup(design.css()),
        links=links,
        invented=INVENTED if plan.holdover_invented else "",
        lead=lead_line(plan),
        order=order_line(plan),
        cost=cost_line(plan),
        counts=_counts(plan),
        held=any(one.not_before for one in plan.departures),
        flights=[_flight(plan, one) for one in _ordered(plan)],
        now=moment(plan.now, plan.now),
        next_calls=_next(plan, treated),
        pads_chart=_chart(plan, treated),
        by_flight=chart.flights(plan),
        costs=chart.costs(plan.rehearsal),
        rehearsal=[] if plan.rehearsal is None else rehearsed(plan.rehearsal),
        closures=[closure_line(shut, plan.now) for shut in plan.closures],
        pad_lines=[(clock(one.start), one.pad, one.pad_line) for one in sorted(_to_come(treated), key=_begin)],
    )
    return html


def _to_come(treated: Sequence[DepartureOut]) -> list[DepartureOut]:
    """What is still to be passed on."""
    return [one for one in treated if one.state not in ("under way", "treated")]


# so many calls are shown before everything else
MOST_NEXT = 4


def _next(plan: Plan, treated: Sequence[DepartureOut]) -> list[dict[str, Any]]:
    """Whose call comes next, the first by its latest time; who has left its stand or has begun was called."""
    to_come = sorted(
        (one for one in treated if one.latest_call and not one.state), key=lambda one: one.latest_call or ""
    )
    return [
        {
            "flight": departure.flight,
            "call": moment(departure.latest_call or "", plan.now),
            "late": departure.call_passed,
            "need": departure.need,
            "stand": departure.stand or "",
            "pad": departure.pad or "",
            "start": clock(departure.start),
        }
        for departure in to_come[:MOST_NEXT]
    ]


@lru_cache(maxsize=1)
def _template() -> Any:
    from jinja2 import Environment, PackageLoader

    return Environment(
        loader=PackageLoader("advisor.render", "templates"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    ).get_template("slots_board.html")


def _begin(departure: DepartureOut) -> tuple[str, str, str]:
    return departure.start or "", departure.pad or "", departure.flight


def _ordered(plan: Plan) -> list[DepartureOut]:
    """Those without a slot first, then by start, then what is not indicated by take-off."""
    missing = {one.flight for one in plan.unplanned}
    return sorted(
        plan.departures,
        key=lambda one: (one.flight not in missing, one.start is None, one.start or one.take_off or "", one.flight),
    )


def _counts(plan: Plan) -> list[tuple[str, int]]:
    needs = ("expected", "likely", "possible", "cannot tell", "not indicated")
    return [(need, sum(1 for one in plan.departures if one.need == need)) for need in needs]


def _flight(plan: Plan, departure: DepartureOut) -> dict[str, Any]:
    why = {item.flight: item.why for item in plan.unplanned}.get(departure.flight)
    notes = remarks(departure)
    begun = has_begun(departure)
    return {
        "flight": departure.flight,
        "need": departure.need,
        "number": "-" if begun else departure.order or "",
        "first": clock(departure.not_before) or "-",
        "latest": "-" if begun else clock(departure.latest_start) or "-",
        "stand": departure.stand or "",
        "aircraft": departure.aircraft,
        "off_block": moment(departure.off_block, plan.now),
        "pad": departure.pad or ("no slot" if why else "-"),
        "start": clock(departure.start) or "-",
        "end": clock(departure.end) or "-",
        "take_off": moment(departure.take_off, plan.now) if departure.take_off else "-",
        "delay": "-" if departure.delay_min is None else f"{departure.delay_min}",
        "call": call_by(plan, departure),
        "holdover": "-" if departure.holdover_min is None else f"{departure.holdover_min}",
        "left": _left(departure),
        "why": "; ".join([*([why] if why else []), departure.reason, *notes]),
        "changed": departure.changed or "",
        "alarm": bool(why or departure.no_guideline or departure.holdover_broken or departure.call_passed)
        or (departure.window_missed and departure.state != "departed"),
    }


def _left(departure: DepartureOut) -> str:
    if departure.no_guideline:
        return "no guideline"
    return "-" if departure.holdover_left_min is None else f"{departure.holdover_left_min}"


def _s(stamp: str) -> float:
    return read_moment(stamp, what="plan").timestamp()


def _chart(plan: Plan, treated: Sequence[DepartureOut]) -> dict[str, Any] | None:
    """Boxes of the chart of pads over time, in user units."""
    if not treated:
        return None
    first = floor(min(_s(one.start or "") for one in treated) / 900) * 900
    if first - AHEAD_S <= _s(plan.now) < first:
        # the present is on the axis too, where that is not far
        first = floor(_s(plan.now) / 900) * 900
    last = ceil(max(_s(one.take_off or one.end or "") for one in treated) / 900) * 900
    per_s = min(MINUTE, (WIDEST - LEFT) / max(1.0, (last - first) / 60)) / 60
    rows = {pad.name: at for at, pad in enumerate(plan.pads)}

    def x(unix_s: float) -> float:
        return round(LEFT + (min(max(unix_s, first), last) - first) * per_s, 1)

    boxes = []
    for departure in treated:
        assert departure.start and departure.end and departure.pad
        others = sorted({departure.flight, *departure.shared_with})
        height = (ROW - 6) / len(others)
        top = HEAD + rows[departure.pad] * ROW + 3 + height * others.index(departure.flight)
        begin, end = x(_s(departure.start)), x(_s(departure.end))
        boxes.append(
            {
                "x": begin,
                "y": round(top, 1),
                "w": round(end - begin, 1),
                "h": round(height, 1),
                "flight": departure.flight,
                "class": departure.need.replace(" ", "-"),
                "title": f"{departure.flight} {span(departure.start, departure.end)}, {departure.need}",
            }
        )
    shut = []
    for closure in plan.closures:
        for name in closure.pads:
            begin, end = x(_s(closure.from_)), x(_s(closure.until))
            if end > begin and name in rows:
                shut.append(
                    {
                        "x": begin,
                        "y": HEAD + rows[name] * ROW,
                        "w": round(end - begin, 1),
                        "h": ROW,
                        "class": "may" if closure.possible else "shut",
                        "title": closure.why,
                    }
                )
    for pad in plan.pads:
        for begin_s, end_s in (
            (first, None if pad.from_ is None else _s(pad.from_)),
            (None if pad.until is None else _s(pad.until), last),
        ):
            if begin_s is not None and end_s is not None and x(end_s) > x(begin_s):
                shut.append(
                    {
                        "x": x(begin_s),
                        "y": HEAD + rows[pad.name] * ROW,
                        "w": round(x(end_s) - x(begin_s), 1),
                        "h": ROW,
                        "class": "shut",
                        "title": "outside its hours",
                    }
                )
    step = 900 if (last - first) * per_s / ((last - first) / 900) > 40 else 3600
    ticks = [(x(at), hhmm(at)) for at in range(int(first), int(last) + 1, step)]
    return {
        "width": round(x(last) + 48, 1),
        "height": HEAD + ROW * len(plan.pads) + 4,
        "left": LEFT,
        "head": HEAD,
        "row": ROW,
        "pads": [(pad.name, HEAD + at * ROW) for pad, at in ((p, rows[p.name]) for p in plan.pads)],
        "boxes": boxes,
        "shut": shut,
        "ticks": ticks,
        "now": x(_s(plan.now)) if first <= _s(plan.now) <= last else None,
    }

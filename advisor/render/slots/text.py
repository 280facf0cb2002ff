"""A plan of slots as plain text for a terminal, 100 columns. Meaning never by colour alone."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from advisor.render.words import clock, moment
from advisor.slots.result import ClosureOut, DepartureOut, Plan

WIDTH = 100
INVENTED = "INVENTED HOLDOVER TABLE: an example, not for use."
STATUS = {"optimal": "best possible", "time limit": "best found in the time", "stopped": "best found until stopped"}


def text(plan: Plan) -> str:
    """The plan as text that ends in a line feed."""
    treated = [one for one in plan.departures if one.start is not None]
    rest = [one for one in plan.departures if one.need == "not indicated" and one.start is None]
    out = [*_head(plan)]
    out += _unplanned(plan)
    if treated:
        out += ["", "SLOTS", *_table(plan, treated)]
        out += _remarks(plan, treated)
        out += ["", "TO PASS ON TO THE PADS"]
        for one in _sorted(treated):
            out += _wrap("  ", "    ", f"{clock(one.start)} {one.pad}: {one.pad_line}")
    if rest:
        out += ["", "TREATMENT NOT INDICATED (not a promise: look, and ask if anything is seen)"]
        for one in rest:
            leaves = moment(one.take_off or "", plan.now)
            out += _wrap(f"  {one.flight:<8}", " " * 10, f"take-off {leaves}: {one.reason}")
    if plan.changes:
        out += ["", "CHANGED SINCE THE PREVIOUS PLAN"]
        for change in plan.changes:
            out += _wrap("  ", "    ", change)
    if plan.closures:
        out += ["", "PADS SHUT"]
        for shut in plan.closures:
            out += _wrap("  ", "    ", closure_line(shut, plan.now))
    if plan.load:
        out += ["", "LOAD AGAINST CAPACITY (pad minutes a quarter of an hour)", *_load(plan)]
    if plan.variants:
        out += ["", "WHAT IF", *_variants(plan)]
    out += ["", "BEAR IN MIND"]
    for note in (*plan.notes, *plan.cautions):
        out += _wrap("  ", "    ", note)
    return "\n".join(out) + "\n"


def _head(plan: Plan) -> list[str]:
    counts = {
        need: sum(1 for one in plan.departures if one.need == need)
        for need in ("expected", "possible", "cannot tell", "not indicated")
    }
    total = ", ".join(f"{count} {need}" for need, count in counts.items() if count)
    lines = [f"De-icing slots at {plan.place.name}, from {plan.now}"]
    lines += _wrap("", "  ", f"{len(plan.departures)} departures: {total}.")
    lines += _wrap("", "  ", cost_line(plan))
    if plan.holdover is not None:
        lines += _wrap("", "  ", f"Holdover from: {plan.holdover}.")
    if plan.holdover_invented:
        lines.append(INVENTED)
    return lines


def cost_line(plan: Plan) -> str:
    """What the plan costs and how close to the best possible it is."""
    return (
        f"Cost {plan.objective:.1f} (minutes of waiting and what is priced in them), at least {plan.bound:.1f} for any "
        f"plan: gap {100 * plan.gap:.1f} %, {STATUS[plan.status]}. First come, first served: {plan.first_come:.1f}."
    )


def closure_line(shut: ClosureOut, now: str) -> str:
    """One closure."""
    may = "may be shut, not planned around: " if shut.possible else ""
    return f"{moment(shut.from_, now)} to {moment(shut.until, now)} {', '.join(shut.pads)}: {may}{shut.why}"


def _sorted(treated: Iterable[DepartureOut]) -> list[DepartureOut]:
    return sorted(treated, key=lambda one: (one.start or "", one.pad or "", one.flight))


def _unplanned(plan: Plan) -> list[str]:
    if not plan.unplanned:
        return []
    lines = ["", f"NO SLOT FOR {len(plan.unplanned)}"]
    for one in plan.unplanned:
        lines += _wrap(f"  {one.flight:<8}", " " * 10, one.why)
    return lines


def _table(plan: Plan, treated: Sequence[DepartureOut]) -> list[str]:
    names = ("flight", "need", "call by", "pad", "start", "end", "steps", "take-off", "delay", "holdover", "left")
    rows = [names]
    for one in _sorted(treated):
        call = "now" if one.call_passed else moment(one.latest_call or "", plan.now)
        held = "-" if one.holdover_min is None else f"{one.holdover_min} min"
        left = "-" if one.holdover_left_min is None else f"{one.holdover_left_min} min"
        rows.append(
            (
                one.flight,
                one.need,
                call,
                one.pad or "",
                clock(one.start),
                clock(one.end),
                str(one.steps),
                moment(one.take_off or "", plan.now),
                f"{one.delay_min} min",
                held,
                left,
            )
        )
    return _columns(rows)


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return [f"  {line}".rstrip() for line in lines]


def remarks(one: DepartureOut) -> list[str]:
    """What has to be said about a departure's slot beyond its numbers."""
    found = []
    if one.call_passed:
        found.append("the latest time to call has passed: call now")
    if one.window_missed:
        found.append("take-off after its window: ask for another one")
    if one.holdover_broken:
        found.append("holdover ends before take-off: treatment again, de-ice first")
    if one.holdover_note and one.start is not None:
        found.append(f"no holdover time: {one.holdover_note}")
    if one.shared_with:
        found.append(f"shares its pad's time with {', '.join(one.shared_with)}")
    if one.frozen:
        found.append("begun or about to begin: not moved")
    return found


def _remarks(plan: Plan, treated: Sequence[DepartureOut]) -> list[str]:
    lines = ["", "WHY, AND WHAT TO SAY"]
    for one in _sorted(treated):
        parts = [f"{one.need}: {one.reason}", *remarks(one)]
        lines += _wrap(f"  {one.flight:<8}", " " * 10, "; ".join(parts))
    return lines


def _load(plan: Plan) -> list[str]:
    most = max([*(one.capacity_min for one in plan.load), *(one.load_min for one in plan.load), 1])
    lines = []
    for one in plan.load:
        full, room = round(30 * one.load_min / most), round(30 * one.capacity_min / most)
        bar = "#" * full + "." * max(0, room - full)
        lines.append(f"  {moment(one.at, plan.now):>8} {bar:<31}{one.load_min:5.0f} of {one.capacity_min}")
    return lines


def _variants(plan: Plan) -> list[str]:
    names = ("", "cost", "treated", "no slot", "delay", "longest", "windows missed", "holdover broken")
    rows = [names]
    for one in plan.variants:
        rows.append(
            (
                one.name,
                f"{one.objective:.1f}",
                f"{one.treatments:.1f}",
                f"{one.unplanned:.1f}",
                f"{one.delay_min:.0f} min",
                f"{one.longest_delay_min:.0f} min",
                f"{one.missed_windows:.1f}",
                f"{one.broken_holdovers:.1f}",
            )
        )
    return _columns(rows) + [f"  {one.name}: {one.note}" for one in plan.variants if one.note]


def _wrap(first: str, rest: str, body: str) -> list[str]:
    return textwrap.wrap(body, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first]

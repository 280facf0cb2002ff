"""A plan of slots as plain text for a terminal, 100 columns. Meaning never by colour alone."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from advisor.render.words import clock, moment
from advisor.slots.result import ClosureOut, DepartureOut, Plan, RehearsalOut, SpreadsOut

WIDTH = 100
INVENTED = "INVENTED HOLDOVER TABLE: an example, not for use."
STATES = {
    "off": "off its stand",
    "at pad": "waiting at a pad",
    "under way": "treatment under way",
    "treated": "treated",
    "departed": "departed",
}
STATUS = {"optimal": "best possible", "time limit": "best found in the time", "stopped": "best found until stopped"}


def text(plan: Plan) -> str:
    """The plan as text that ends in a line feed."""
    treated = [one for one in plan.departures if one.start is not None]
    gone = [one for one in plan.departures if one.state == "departed"]
    rest = [one for one in plan.departures if one.need == "not indicated" and one.start is None and one not in gone]
    out = [*_head(plan)]
    out += _unplanned(plan)
    if plan.changes:
        # whoever plans again has told the others already
        out += ["", "CHANGED SINCE THE PREVIOUS PLAN"]
        for change in plan.changes:
            out += _wrap("  ", "    ", change)
    if treated:
        out += ["", "SLOTS", *_table(plan, treated)]
        out += _remarks(plan, treated)
        out += ["", "TO PASS ON TO THE PADS"]
        for departure in _sorted(one for one in treated if one.state not in ("under way", "treated")):
            out += _wrap("  ", "    ", f"{clock(departure.start)} {departure.pad}: {departure.pad_line}")
    if gone:
        out += ["", "DEPARTED"]
        out += [f"  {one.flight:<8}take-off {clock(one.take_off)}, delay {one.delay_min} min" for one in gone]
    if rest:
        out += ["", "TREATMENT NOT INDICATED (not a promise: look, and ask if anything is seen)"]
        for departure in rest:
            leaves = moment(departure.take_off or "", plan.now)
            out += _wrap(f"  {departure.flight:<8}", " " * 10, f"take-off {leaves}: {departure.reason}")
    if plan.closures:
        out += ["", "PADS SHUT"]
        for shut in plan.closures:
            out += _wrap("  ", "    ", closure_line(shut, plan.now))
    if plan.load:
        out += ["", "LOAD AGAINST CAPACITY (pad minutes a quarter of an hour)", *_load(plan)]
    if plan.variants:
        out += ["", "WHAT IF", *_variants(plan)]
    if plan.rehearsal is not None:
        out += [
            "",
            f"CARRIED OUT ON {plan.rehearsal.nights} DRAWN NIGHTS (mean, and the most in 9 nights of 10)",
        ]
        out += _rehearsal(plan.rehearsal)
    out += ["", "HOW THE STARTS WERE FOUND", *_wrap("  ", "    ", cost_line(plan))]
    out += ["", "BEAR IN MIND"]
    for note in (*plan.notes, *plan.cautions):
        out += _wrap("  ", "    ", note)
    return "\n".join(out) + "\n"


def _head(plan: Plan) -> list[str]:
    counts = {
        need: sum(1 for one in plan.departures if one.need == need)
        for need in ("expected", "likely", "possible", "cannot tell", "not indicated")
    }
    total = ", ".join(f"{count} {need}" for need, count in counts.items() if count)
    lines = [f"De-icing slots at {plan.place.name}, from {plan.now}"]
    lines += _wrap("", "  ", f"{len(plan.departures)} departures: {total}.")
    lines += _wrap("", "  ", lead_line(plan))
    if plan.order is not None and any(one.order for one in plan.departures):
        lines += _wrap("", "  ", order_line(plan))
    if plan.holdover is not None:
        lines += _wrap("", "  ", f"Holdover from: {plan.holdover}.")
    if plan.holdover_invented:
        lines.append(INVENTED)
    return lines


def lead_line(plan: Plan) -> str:
    """What matters first: delay, windows, holdover, guidelines and slots."""
    treated = [one for one in plan.departures if one.start is not None]
    delays = [(one.delay_min or 0, one.flight) for one in plan.departures]
    longest, who = max(delays, default=(0, ""))
    parts = []
    if plan.unplanned:
        # they are in none of the figures behind
        parts.append(f"Without a slot: {len(plan.unplanned)} of {len(treated) + len(plan.unplanned)}. Of the others:")
    parts.append(f"Delay {sum(minutes for minutes, _ in delays)} min in all")
    parts[-1] += f", longest {longest} min ({who})." if longest else "."
    missed = [one.flight for one in plan.departures if one.window_missed]
    parts.append(f"Windows missed: {len(missed)}{_some(missed)}.")
    left = [(one.holdover_left_min, one.flight) for one in treated if one.holdover_left_min is not None]
    without = [one.flight for one in treated if one.no_guideline]
    if plan.holdover is None and treated:
        # that nobody has a time is not that none needs one
        parts.append("No holdover file was given: no take-off has a holdover time.")
    else:
        least = f"Least holdover left: {min(left)[0]} min ({min(left)[1]})." if left else "Holdover left: none runs."
        parts += [least, f"Take-offs without a holdover guideline: {len(without)}{_some(without)}."]
    if not plan.unplanned:
        parts.append("Without a slot: 0.")
    return " ".join(parts)


def _some(flights: Sequence[str]) -> str:
    if not flights:
        return ""
    return f" ({', '.join(flights[:5])}{', …' if len(flights) > 5 else ''})"


def order_line(plan: Plan) -> str:
    """Which order the plan is, and how it is carried out."""
    if plan.order is None:
        return ""
    others = [
        f"{name} {cost:.0f}"
        for name, cost in sorted(plan.order.tried.items(), key=lambda item: item[1])
        if name in ("latest finish first", "first come, first served", "the plan's starts") and name != plan.order.name
    ]
    lost = " Who misses the window in any case goes after those who can make theirs." if plan.order.yields else ""
    held = f" Nobody is called before its time in the column not before ({plan.order.held})." if plan.order.held else ""
    beside = f" ({'; '.join(others)})" if others else ""
    cut = " The time was over before every order had been tried." if plan.order.cut else ""
    return (
        f"When a pad is free, the lowest number that is there goes next.{lost}{held} The order: {plan.order.name}. "
        f"It costs {plan.order.mean_cost:.0f} in the mean of drawn nights, in minutes of waiting and what is priced "
        f"in them{beside}.{cut}"
    )


def cost_line(plan: Plan) -> str:
    """What the plan costs and how close to the best possible it is."""
    later = f" Of it {plan.for_holdover:.1f} is for starts held back, so that no holdover runs out on a real night."
    later = later if plan.for_holdover > 0.05 else ""
    return (
        f"The planned starts cost {plan.objective:.1f}, in minutes of waiting and what is priced in them. "
        f"No plan costs less than {plan.bound:.1f}: the gap is {100 * plan.gap:.1f} %, {STATUS[plan.status]}.{later} "
        f"First come, first served: {plan.first_come:.1f}."
    )


def span(first: str | None, last: str | None) -> str:
    """Two times of one day as a span: 0555–0615Z."""
    return f"{clock(first).removesuffix('Z')}–{clock(last)}"


def closure_line(shut: ClosureOut, now: str) -> str:
    """One closure."""
    may = "may be shut, and the plan does not count on it: " if shut.possible else ""
    days = shut.from_[:10] != now[:10] or shut.until[:10] != now[:10]
    first = moment(shut.from_, now).removesuffix("Z")
    when = f"{first}–{moment(shut.until, now)}" if days else span(shut.from_, shut.until)
    return f"{when} {', '.join(shut.pads)}: {may}{shut.why}"


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
    names = ["no.", "flight", "need", "call by", "pad", "start", "latest", "end", "take-off", "delay", "left"]
    held = any(one.not_before for one in treated)
    if held:
        names.insert(5, "not before")
    rows: list[Sequence[str]] = [names]
    for departure in _sorted(treated):
        begun = has_begun(departure)
        left = "none" if departure.no_guideline else "-"
        left = left if departure.holdover_left_min is None else f"{departure.holdover_left_min} min"
        cells = [
            "-" if begun else str(departure.order or ""),
            departure.flight,
            departure.need,
            call_by(plan, departure),
            departure.pad or "",
            clock(departure.start),
            clock(departure.latest_start) if departure.latest_start and not begun else "-",
            clock(departure.end),
            moment(departure.take_off or "", plan.now),
            f"{departure.delay_min} min",
            left,
        ]
        if held:
            cells.insert(5, clock(departure.not_before) if departure.not_before else "")
        rows.append(cells)
    return _columns(rows)


def call_by(plan: Plan, departure: DepartureOut) -> str:
    """The latest time to call; nothing for who has left its stand: it was called."""
    if departure.state or not departure.latest_call:
        return "-"
    return "now" if departure.call_passed else moment(departure.latest_call, plan.now)


def has_begun(departure: DepartureOut) -> bool:
    """Whether it has no place in the order and no latest start any more."""
    return departure.state in ("under way", "treated")


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return [f"  {line}".rstrip() for line in lines]


def remarks(departure: DepartureOut) -> list[str]:
    """What has to be said about a departure's slot beyond its numbers."""
    notes = []
    if departure.state:
        notes.append(STATES[departure.state])
    if departure.steps == 2:
        notes.append("de-icing and anti-icing")
    if departure.holdover_min is not None:
        notes.append(f"holdover {departure.holdover_min} min")
    if departure.call_passed:
        notes.append("the latest time to call has passed: call now")
    if departure.not_before and departure.state not in ("under way", "treated"):
        notes.append(
            f"not before {clock(departure.not_before)}: sooner, its holdover may run out before it can take off"
        )
    if departure.runway_wait_min:
        are = "is" if departure.runway_wait_min == 1 else "are"
        notes.append(f"{departure.runway_wait_min} min of its wait {are} for the runway")
    if departure.window_missed:
        notes.append("take-off after its window: ask for another one")
    if departure.holdover_broken:
        notes.append("holdover ends before take-off: to be treated again, de-icing first")
    if departure.holdover_note and departure.start is not None:
        notes.append(f"no holdover time: {departure.holdover_note}")
    if departure.shared_with:
        notes.append(f"shares its pad's time with {', '.join(departure.shared_with)}")
    if departure.frozen:
        notes.append("begun or about to begin: not moved")
    return notes


def _remarks(plan: Plan, treated: Sequence[DepartureOut]) -> list[str]:
    """Why, and what is to be said: what holds for all of them once, and who has the same to hear in one line."""
    lines = ["", "WHY, AND WHAT TO SAY"]
    parts = {one.flight: [f"{one.need}: {one.reason}", *remarks(one)] for one in _sorted(treated)}
    shared = [part for part in next(iter(parts.values())) if all(part in others for others in parts.values())]
    if len(parts) > 2 and shared:
        lines += _wrap("  all     ", " " * 10, "; ".join(shared))
        parts = {flight: [part for part in own if part not in shared] for flight, own in parts.items()}
    together: dict[tuple[str, ...], list[str]] = {}
    for flight, own in parts.items():
        together.setdefault(tuple(own), []).append(flight)
    for words, flights in together.items():
        if words:
            names = f"{', '.join(flights)}: " if len(flights) > 1 else f"{flights[0]:<8}"
            lines += _wrap("  ", " " * 10, f"{names}{'; '.join(words)}")
    return lines


def _load(plan: Plan) -> list[str]:
    most = max([*(one.capacity_min for one in plan.load), *(one.load_min for one in plan.load), 1])
    lines = []
    for quarter in plan.load:
        full, room = round(30 * quarter.load_min / most), round(30 * quarter.capacity_min / most)
        bar = "#" * full + "." * max(0, room - full)
        lines.append(f"  {moment(quarter.at, plan.now):>8} {bar:<31}{quarter.load_min:5.0f} of {quarter.capacity_min}")
    return lines


def _rehearsal(rehearsal: RehearsalOut) -> list[str]:
    rows = [("", "delay", "longest", "holdover broken", "windows missed", "cost")]
    for name, spreads in rehearsed(rehearsal):
        rows.append(
            (
                name,
                f"{spreads.delay_min.mean:.0f}, {spreads.delay_min.p90:.0f} min",
                f"{spreads.worst_delay_min.mean:.0f}, {spreads.worst_delay_min.p90:.0f} min",
                f"{spreads.broken_holdovers.mean:.2f}, {spreads.broken_holdovers.p90:.0f}",
                f"{spreads.missed_windows.mean:.2f}, {spreads.missed_windows.p90:.0f}",
                f"{spreads.cost.mean:.0f}, {spreads.cost.p90:.0f}",
            )
        )
    return _columns(rows)


def rehearsed(rehearsal: RehearsalOut) -> list[tuple[str, SpreadsOut]]:
    """The ways in which the nights were carried out, with their names."""
    return [
        ("this plan's order", rehearsal.plan),
        ("first come, first served", rehearsal.first_come),
        ("latest finish first", rehearsal.latest_finish),
        ("best with all known", rehearsal.known),
    ]


def _variants(plan: Plan) -> list[str]:
    names = ("", "cost", "treated", "no slot", "delay", "longest", "windows missed", "holdover broken")
    rows = [names]
    for variant in plan.variants:
        rows.append(
            (
                variant.name,
                f"{variant.objective:.1f}",
                f"{variant.treatments:.1f}",
                f"{variant.unplanned:.1f}",
                f"{variant.delay_min:.0f} min",
                f"{variant.longest_delay_min:.0f} min",
                f"{variant.missed_windows:.1f}",
                f"{variant.broken_holdovers:.1f}",
            )
        )
    return _columns(rows) + [f"  {one.name}: {one.note}" for one in plan.variants if one.note]


def _wrap(first: str, rest: str, body: str) -> list[str]:
    return textwrap.wrap(body, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first]

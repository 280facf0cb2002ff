"""A plan of slots as CSV for a spreadsheet and as iCalendar, one event a treatment."""

from __future__ import annotations

import csv
import hashlib
import io

from advisor.departure import read_moment
from advisor.render.slots.text import INVENTED, remarks
from advisor.slots.result import DepartureOut, Plan

COLUMNS = (
    "flight",
    "need",
    "aircraft",
    "stand",
    "off_block",
    "order",
    "not_before",
    "pad",
    "start",
    "latest_start",
    "end",
    "last_step_start",
    "take_off",
    "delay_min",
    "latest_call",
    "steps",
    "deposit",
    "holdover_min",
    "holdover_left_min",
    "holdover_from",
    "changed",
    "remarks",
    "reason",
)
FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def cell(value: object) -> str:
    """A cell that a spreadsheet takes as text or as a number, never as a formula."""
    if value is None:
        return ""
    if isinstance(value, (int, float)):
        return str(value)
    text = str(value)
    return f"'{text}" if text.lstrip(" \n").startswith(FORMULA) else text


def csv_table(plan: Plan) -> str:
    """One line a departure, those without a slot as well. Lines end as RFC 4180 has it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    unplanned = {one.flight: one.why for one in plan.unplanned}
    for departure in plan.departures:
        notes = [
            *remarks(departure),
            *([f"no slot: {unplanned[departure.flight]}"] if departure.flight in unplanned else []),
        ]
        values = {name: getattr(departure, name, None) for name in COLUMNS}
        values["holdover_from"] = None if departure.holdover_min is None else plan.holdover
        values["remarks"] = "; ".join(notes)
        writer.writerow([cell(values[name]) for name in COLUMNS])
    if plan.holdover_invented:
        writer.writerow([INVENTED])
    return out.getvalue()


def calendar(plan: Plan) -> bytes:
    """One event for each treatment with a slot. A later plan of the same flight replaces the event."""
    from icalendar import Calendar, Event

    ical = Calendar()
    ical.add("prodid", "-//advisor//slots//EN")
    ical.add("version", "2.0")
    ical.add("method", "PUBLISH")
    stamped = read_moment(plan.made_at, what="made_at")
    for departure in plan.departures:
        if departure.start is None or departure.end is None:
            continue
        event = Event()
        key = hashlib.sha256(f"{departure.flight} {departure.off_block[:10]}".encode()).hexdigest()[:24]
        event.add("uid", f"{key}@slots.advisor.invalid")
        event.add("dtstamp", stamped)
        event.add("sequence", int(stamped.timestamp() // 60))
        event.add("dtstart", read_moment(departure.start, what="start"))
        event.add("dtend", read_moment(departure.end, what="end"))
        event.add("summary", f"De-icing {departure.flight}, {departure.pad} ({departure.need})")
        event.add("location", departure.pad)
        event.add("description", "\n".join(_about(plan, departure)))
        ical.add_component(event)
    return bytes(ical.to_ical())


def _about(plan: Plan, departure: DepartureOut) -> list[str]:
    lines = [
        departure.pad_line or "",
        f"Take-off {departure.take_off}, delay {departure.delay_min} min. Call by {departure.latest_call}.",
    ]
    if departure.holdover_min is not None:
        left = f"{departure.holdover_left_min} min left at take-off"
        lines.append(
            f"Holdover {departure.holdover_min} min from {departure.last_step_start}: {left}. From: {plan.holdover}."
        )
    if plan.holdover_invented:
        lines.append(INVENTED)
    lines += remarks(departure)
    return [line for line in lines if line] + [plan.cautions[0]]

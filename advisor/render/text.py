"""A brief as plain text, 80 columns, in the order in which people need it. Meaning never by colour alone."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from advisor.brief.changes import Change, changes
from advisor.brief.model import Advice, Brief, DoorAdvice
from advisor.render import words

WIDTH = 80
STOP, ASK, TAKE, DOORS, OUT, WALK, LATER, UNTOLD, UNREAD, MIND = (
    "WAIT OR STOP",
    "ASK FOR",
    "TAKE AND WEAR",
    "DOORS",
    "OUT ON THE APRON",
    "ON THE WALK",
    "BEFORE OFF-BLOCK",
    "COULD NOT BE TOLD",
    "NOT UNDERSTOOD IN THE REPORT",
    "BEAR IN MIND",
)
SECTIONS = (STOP, ASK, TAKE, DOORS, OUT, WALK, LATER)


def section(line: Advice) -> str:
    """Which part of a brief a line belongs to."""
    if line.stop:
        return STOP
    if line.during in ("off_block", "take_off") and line.kind != "request":
        return LATER
    return {"request": ASK, "gear": TAKE, "door": DOORS, "caution": OUT, "checkpoint": WALK}[line.kind]


def render(brief: Brief, *, before: Brief | None = None, full: bool = False) -> str:
    """The brief as text that ends in a line feed. before: say first what changed since that brief."""
    out = [*_head(brief)]
    if before is not None:
        out += ["", *_changed(before, brief)]
    shown = [line for line in brief.advice if line.status != "cannot tell" or line.id in STAND_IN_PLACE]
    for title in SECTIONS:
        body: list[str] = []
        if title == DOORS:
            body += _doors(brief.doors)
        for line in shown:
            if section(line) == title and not (title == DOORS and brief.doors):
                body += _line(line, brief, full)
        if body:
            out += ["", title, *body]
    out += _untold(brief)
    if brief.not_decoded:
        out += ["", UNREAD, *_wrap("  ", "  ", ", ".join(brief.not_decoded))]
    if brief.loosened or brief.loosened_how:
        out += ["", *_wrap("", "", loosened(brief))]
        for how in brief.loosened_how:
            out += _wrap("  ", "    ", how)
    out += ["", MIND]
    out += _wrap("  ", "  ", " ".join(brief.cautions))
    out.append(f"  {brief.checklist.name}, revision {brief.checklist.revision} ({brief.checklist.fingerprint})")
    return "\n".join(out) + "\n"


def loosened(brief: Brief) -> str:
    """In a sentence that the operator's checklist says less than what is shipped, and which rules do."""
    if not brief.loosened:
        return "The operator's checklist says less than what is shipped."
    return f"The operator's checklist loosened or removed: {', '.join(brief.loosened)}."


def _wrap(first: str, rest: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first]


def with_local(stamp: str, brief: Brief) -> str:
    """A time in Z with the place's own clock beside."""
    there = words.local(stamp, brief.place.time_zone)
    return words.moment(stamp, brief.now) + (f" ({there} local)" if there else "")


def _head(brief: Brief) -> list[str]:
    windows = brief.windows
    ahead = minutes(brief.now, windows.off_block)
    name = brief.place.name if brief.place.indicator is None else f"{brief.place.indicator} {brief.place.name}"
    out = _wrap(
        "",
        "  ",
        f"{brief.aircraft.name} at {name}: off-block {with_local(windows.off_block, brief)}, {duration(ahead)} ahead.",
    )
    walk = f"Walk {words.clock(windows.walk_round[0])}-{words.clock(windows.walk_round[1])}: {picture(brief)}"
    out += _wrap("", "  ", walk)
    for report in brief.reports:
        if report.used:
            age = duration(abs(report.age_min))
            told = f"{age} old" if report.age_min >= 0 else f"{age} after now"
            name = "Forecast" if report.kind == "TAF" else "Report"
            out += _wrap("", "  ", f"{name} {words.moment(report.issued, brief.now)}, {told}: {report.raw}")
    for note in brief.notes:
        out += _wrap("", "  ", note)
    return out


def minutes(first: str, last: str) -> int:
    """Minutes from one stamp to a later one."""
    from datetime import datetime

    return int((datetime.fromisoformat(last) - datetime.fromisoformat(first)).total_seconds() // 60)


def duration(minutes: int) -> str:
    """Minutes as people say them."""
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


def picture(brief: Brief) -> str:
    """Light, air and wind at the start of the walk, in a few words."""
    start, end = brief.windows.walk_round
    old = max((minutes(report.issued, start) for report in brief.reports if report.used), default=0)
    rows = [row for row in brief.timeline if start <= row["at"] <= end] or list(brief.timeline[:1])
    dark = all(row.get("dark") for row in rows)
    lights = ["dark"] if dark else list(dict.fromkeys(_light(row) for row in rows if row["light"]))
    parts = [" then ".join(lights) or "light unknown"]
    row = rows[0]
    if old > REPORTED_MIN and all(report.kind != "TAF" for report in brief.reports if report.used):
        # what was reported so long before is not what it will be like
        parts.append(f"last reported {duration(old)} before")
    for name, said in (("air_temperature_c", "air"), ("dew_point_c", "dew point"), ("wind_kt", "wind")):
        value = row.get(name)
        central = value.get("central") if isinstance(value, dict) else value
        unit = "kt" if name == "wind_kt" else "°C"
        parts.append(f"{said} {words.amount(central, 0)} {unit}" if central is not None else f"{said} unknown")
    falling = row.get("precipitation")
    if falling and falling not in ("none reported", "not reported") and not falling.startswith("not forecast"):
        parts.append(falling)
    return ", ".join(parts)


# a report speaks for two hours; further ahead its weather is only the last that was heard
REPORTED_MIN = 120


def _light(row: dict[str, Any]) -> str:
    name = str(row["light"])
    return f"dark ({name})" if row.get("dark") and name != "full dark" else name


# what nobody may overlook stands in its place even where it cannot be told
STAND_IN_PLACE = frozenset({"de-icing-request", "wing-upper-surface"})


def _line(line: Advice, brief: Brief, full: bool) -> list[str]:
    if line.status == "cannot tell":
        inputs = words.INPUTS.get(line.missing[0], words.label(line.missing[0])) if line.missing else "more"
        when = f"{words.due(line, brief.now)}: " if line.by is not None else ""
        return _wrap("  ? ", "    ", f"{when}{line.text.removesuffix('.')} (cannot be told without {inputs})")
    mark = "  ! " if line.weight == "must" else "  - "
    text = line.text.removesuffix(".")
    if line.by is not None:
        text = f"{words.due(line, brief.now)}: {text}"
    if line.origin == "operator":
        text += " [operator]"
    out = _shortest(mark, text, line, falling(line, brief))
    if full and line.more:
        out += _wrap("    ", "    ", line.more)
    return out


def told(line: Advice, brief: Brief) -> str:
    """One line of a brief with its reason, alone."""
    return " ".join(part.strip() for part in _line(line, brief, False))


def _shortest(mark: str, text: str, line: Advice, falling: str) -> list[str]:
    """Text and reason in two lines if it can be done by saying less of the reason."""
    lead = "possible: " if line.status == "possible" else ""
    tries = [words.reason(line, falling, most=most, timed=timed) for most in (2, 1) for timed in (True, False)]
    for why in tries:
        tail = f" ({lead}{why})" if why else " (possible)" if lead else "."
        out = _wrap(mark, "    ", text + tail)
        if len(out) <= 2:
            break
    return out


def falling(line: Advice, brief: Brief) -> str:
    """The weather codes at the time at which a line was decided."""
    at = line.because[0].at if line.because else None
    row = next((row for row in brief.timeline if row["at"] == at), None)
    return (row["precipitation"] or "") if row else ""


DOOR_WORDS = {
    "within": "below your profile's limit in every case",
    "possible": "may be above your profile's limit",
    "exceeded": "above your profile's limit",
    "cannot tell": "the wind is not known: look at the windsock, ask",
}


DOOR_ORDER = ("exceeded", "possible", "cannot tell", "within")


def door_groups(doors: Sequence[DoorAdvice]) -> list[tuple[str, tuple[str, str], list[DoorAdvice]]]:
    """Doors alike in both limits together, the worst first: what to call them, the two statuses, the doors."""

    def rank(door: DoorAdvice) -> tuple[int, int]:
        return DOOR_ORDER.index(door.status), DOOR_ORDER.index(door.stay_open_status)

    groups: dict[tuple[str, str], list[DoorAdvice]] = {}
    for door in sorted(doors, key=rank):
        groups.setdefault((door.status, door.stay_open_status), []).append(door)
    found = []
    for states, group in groups.items():
        name = f"all {len(doors)} doors" if len(group) == len(doors) > 2 else "; ".join(door.door for door in group)
        found.append((f"{name[0].upper()}{name[1:]}", states, group))
    return found


def _doors(doors: Sequence[DoorAdvice]) -> list[str]:
    out: list[str] = []
    for name, states, group in door_groups(doors):
        mark = "  - " if states == ("within", "within") else "  ! "
        out += _wrap(mark, "    ", f"{name}: {door_said(*states, group[0].beyond)} ({gust(group)})")
    return out


BEYOND_WORDS = {
    "storm": "a storm may be near, and no report bounds its gusts: look at the sky, ask",
    "weather": "the weather is not known, so a storm is not ruled out: look at the sky, ask",
}


def door_said(status: str, stays: str, beyond: str = "") -> str:
    """What to make of a door by its limits for operating and for staying open. beyond: see DoorAdvice."""
    if status == "cannot tell" and beyond:
        return BEYOND_WORDS[beyond]
    if status in ("possible", "exceeded") and beyond == "storm":
        return f"{DOOR_WORDS[status]}; a storm may gust harder"
    if status != "within" or stays == "within":
        return DOOR_WORDS[status]
    above = {"possible": "may be", "cannot tell": "may be"}.get(stays, "is")
    return f"{DOOR_WORDS[status]}, but {above} above the limit for staying open"


def gust(group: Sequence[DoorAdvice]) -> str:
    """Doors' wind against their limits, the lowest of each kind."""
    first = group[0]
    limits = [
        words.amount(min(found), 0) if (found := [x for x in values if x is not None]) else "not given"
        for values in ([door.operate_kt for door in group], [door.stay_open_kt for door in group])
    ]
    said = f"operate {limits[0]} kt, stay open {limits[1]} kt"
    counted = min((door.counted_kt for door in group if door.counted_kt is not None), default=None)
    usual = min((door.operate_kt for door in group if door.operate_kt is not None), default=0.0)
    if counted is not None and counted < usual:
        said = f"operate {limits[0]} kt, from its worst side {words.amount(counted, 0)} kt, stay open {limits[1]} kt"
    if first.worst_kt is None:
        return said
    direction = ""
    if first.relative_wind_deg is not None:
        direction = f" from {words.bearing(first.relative_wind_deg)}"
    return f"gust to {words.amount(first.worst_kt, 0)} kt{direction} at {words.clock(first.at)}; {said}"


MOST_NAMES = 8


def _untold(brief: Brief) -> list[str]:
    out: list[str] = []
    for inputs, lines in words.folded(brief):
        names = [words.rule_name(line.id) for line in lines]
        more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
        out += _wrap("  ? ", "    ", f"Without {inputs}: {', '.join(names[:MOST_NAMES])}{more}.")
    if out:
        out += ["    Take each as possible; the gravest stand first."]
    if unstated := words.unstated(brief):
        out += _wrap("  ? ", "    ", unstated)
    return ["", UNTOLD, *out] if out else []


def _changed(before: Brief, brief: Brief) -> list[str]:
    found = changes(before, brief)
    title = f"SINCE THE BRIEF OF {words.moment(before.now, brief.now)}"
    if not found:
        return [title, "  nothing changed in the lines below"]
    out = [title]
    for change in found:
        out += _wrap("  * ", "    ", f"{change.id.replace('-', ' ')}: {change_said(change)}")
    return out


def change_said(change: Change) -> str:
    """What became of a line since an earlier brief."""
    return {
        "added": f"new ({change.after})",
        "gone": "gone",
        "raised": f"raised from {change.before} to {change.after}",
        "lowered": f"lowered from {change.before} to {change.after}",
        "moved": f"latest time now {words.clock(change.after)}, was {words.clock(change.before)}",
    }[change.what]

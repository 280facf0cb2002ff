"""A brief as plain text, 80 columns, in the order in which people need it. Meaning never by colour alone."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from advisor.advice import Advice, Brief, DoorAdvice
from advisor.changes import changes
from advisor.render import words

WIDTH = 80
STOP, ASK, TAKE, DOORS, OUT, WALK, LATER, UNTOLD, UNREAD, MIND = (
    "WAIT OR STOP", "ASK FOR", "TAKE AND WEAR", "DOORS", "OUT ON THE APRON", "ON THE WALK", "BEFORE OFF-BLOCK",
    "COULD NOT BE TOLD", "NOT UNDERSTOOD IN THE REPORT", "BEAR IN MIND",
)  # fmt: skip
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
    told = [line for line in brief.advice if line.status != "cannot tell"]
    for title in SECTIONS:
        body: list[str] = []
        if title == DOORS:
            body += _doors(brief.doors)
        for line in told:
            if section(line) == title and not (title == DOORS and brief.doors):
                body += _line(line, brief, full)
        if body:
            out += ["", title, *body]
    out += _untold(brief)
    if brief.not_decoded:
        out += ["", UNREAD, *_wrap("  ", "  ", ", ".join(brief.not_decoded))]
    if brief.loosened:
        text = f"The operator's checklist loosened or removed: {', '.join(brief.loosened)}."
        out += ["", *_wrap("", "", text)]
    out += ["", MIND]
    for caution in brief.cautions:
        out += _wrap("  ", "  ", caution)
    out.append(f"  {brief.checklist.name}, revision {brief.checklist.revision} ({brief.checklist.fingerprint})")
    return "\n".join(out) + "\n"


def _wrap(first: str, rest: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first]


def _with_local(stamp: str, brief: Brief) -> str:
    there = words.local(stamp, brief.place.time_zone)
    return words.moment(stamp, brief.now) + (f" ({there} local)" if there else "")


def _head(brief: Brief) -> list[str]:
    windows = brief.windows
    ahead = _minutes(brief.now, windows.off_block)
    name = brief.place.name if brief.place.indicator is None else f"{brief.place.indicator} {brief.place.name}"
    out = _wrap("", "  ", f"{brief.aircraft.name} at {name}: off-block {_with_local(windows.off_block, brief)},"
                f" {_duration(ahead)} ahead.")  # fmt: skip
    walk = f"Walk {words.clock(windows.walk_round[0])}-{words.clock(windows.walk_round[1])}: {_picture(brief)}"
    out += _wrap("", "  ", walk)
    for report in brief.reports:
        if report.used:
            age = _duration(abs(report.age_min))
            told = f"{age} old" if report.age_min >= 0 else f"{age} after now"
            out += _wrap("", "  ", f"Report {words.clock(report.issued)}, {told}: {report.raw}")
    for note in brief.notes:
        out += _wrap("", "  ", note)
    return out


def _minutes(first: str, last: str) -> int:
    from datetime import datetime

    return int((datetime.fromisoformat(last) - datetime.fromisoformat(first)).total_seconds() // 60)


def _duration(minutes: int) -> str:
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


def _picture(brief: Brief) -> str:
    """Light, air and wind at the start of the walk, in a few words."""
    start, end = brief.windows.walk_round
    rows = [row for row in brief.timeline if start <= row["at"] <= end] or list(brief.timeline[:1])
    lights = list(dict.fromkeys(row["light"] for row in rows if row["light"]))
    parts = [" then ".join(lights) or "light unknown"]
    row = rows[0]
    for name, said in (("air_temperature_c", "air"), ("dew_point_c", "dew point"), ("wind_kt", "wind")):
        value = row.get(name)
        central = value.get("central") if isinstance(value, dict) else value
        unit = "kt" if name == "wind_kt" else "°C"
        parts.append(f"{said} {words.amount(central, 0)} {unit}" if central is not None else f"{said} unknown")
    falling = row.get("precipitation")
    if falling and falling not in ("none reported", "not reported") and not falling.startswith("not forecast"):
        parts.append(falling)
    return ", ".join(parts)


def _line(line: Advice, brief: Brief, full: bool) -> list[str]:
    mark = "! " if line.weight == "must" else "- "
    text = line.text
    if line.by is not None:
        due = "now (the usual latest time has passed)" if line.by_passed else f"by {words.moment(line.by, brief.now)}"
        text = f"{due[0].upper()}{due[1:]}: {text[0].lower()}{text[1:]}" if text[:2] != text[:2].upper() else f"{due}: {text}"
    why = words.reason(line)
    if why:
        text += f" ({'possible: ' if line.status == 'possible' else ''}{why})"
    elif line.status == "possible":
        text += " (possible)"
    out = _wrap(f"  {mark}", "    ", text)
    if full and line.more:
        out += _wrap("    ", "    ", line.more)
    if line.origin == "operator":
        out[-1] += " [operator]" if len(out[-1]) <= WIDTH - 11 else ""
    return out


_DOOR_WORDS = {
    "within": "below your profile's limit in every case",
    "possible": "may be above your profile's limit",
    "exceeded": "above your profile's limit",
    "cannot tell": "the wind is not known: look at the windsock, ask",
}


def _doors(doors: Iterable[DoorAdvice]) -> list[str]:
    grouped: dict[tuple[object, ...], list[DoorAdvice]] = {}
    for door in doors:
        grouped.setdefault((door.status, door.stay_open_status, door.operate_kt, door.stay_open_kt), []).append(door)
    out: list[str] = []
    order = {"exceeded": 0, "possible": 1, "cannot tell": 2, "within": 3}
    for (status, stays, _, _), group in sorted(grouped.items(), key=lambda item: order[str(item[0][0])]):
        first = group[0]
        names = ", ".join(door.door for door in group)
        mark = "- " if status == "within" else "! "
        gust = f"gust to {words.amount(first.worst_kt, 0)} kt" if first.worst_kt is not None else "gust unknown"
        at = f" at {words.clock(first.at)}" if first.at else ""
        text = f"{names}: {_DOOR_WORDS[str(status)]} ({gust}{at}; operate {words.amount(first.operate_kt, 0)} kt"
        text += f", stay open {words.amount(first.stay_open_kt, 0)} kt"
        if status == "within" and stays in ("possible", "exceeded"):
            text += f"; stay-open limit {'may be' if stays == 'possible' else 'is'} exceeded"
        out += _wrap(f"  {mark}", "    ", text + ")")
    return out


def _untold(brief: Brief) -> list[str]:
    folded: dict[tuple[str, ...], list[Advice]] = {}
    for line in brief.advice:
        if line.status == "cannot tell":
            folded.setdefault(line.missing or ("more about it",), []).append(line)
    out: list[str] = []
    for missing, lines in folded.items():
        inputs = ", ".join(dict.fromkeys(words.INPUTS.get(name, words.label(name)) for name in missing))
        names = ", ".join(line.id.replace("-", " ") for line in lines)
        out += _wrap("  ? ", "    ", f"Without {inputs}: {names}. Take each as possible.")
    if brief.not_stated:
        out += _wrap("  - ", "    ", f"Not stated, so nothing is claimed: {', '.join(brief.not_stated)}.")
    return ["", UNTOLD, *out] if out else []


def _changed(before: Brief, brief: Brief) -> list[str]:
    found = changes(before, brief)
    title = f"SINCE THE BRIEF OF {words.moment(before.now, brief.now)}"
    if not found:
        return [title, "  nothing changed in the lines below"]
    out = [title]
    for change in found:
        said = {
            "added": f"new ({change.after})", "gone": "gone", "raised": f"raised from {change.before} to {change.after}",
            "lowered": f"lowered from {change.before} to {change.after}",
            "moved": f"latest time now {words.clock(change.after)}, was {words.clock(change.before)}",
        }[change.what]  # fmt: skip
        out += _wrap("  * ", "    ", f"{change.id.replace('-', ' ')}: {said}")
    return out

"""A brief laid out for the page: sections, lines with their reasons, doors, what changed. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from advisor.brief.changes import Change, changes
from advisor.brief.model import Advice, Because, Brief, ReportOut
from advisor.render import text, words
from advisor.web import digest

AGED_MIN = 90


@dataclass(frozen=True)
class Line:
    """A line of advice. due: its latest time in words; whys: each number behind it."""

    line: Advice
    mark: str
    weight: str
    due: str
    is_late: bool
    reason: str
    whys: tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """A part of the page. kind: "doors" and "walk" look different."""

    title: str
    id: str
    kind: str
    lines: tuple[Line, ...]


def _graver(operate: str, stays: str) -> str:
    """The status to show of a door: that of its stay-open limit where the other is kept."""
    return stays if operate == "within" else operate


def laid_out(brief: Brief, view: str, before: Brief | None = None) -> dict[str, Any]:
    """What the template shows. view: the stamp of the time at which somebody looks; before: an earlier brief."""
    used = [report for report in brief.reports if report.used] or list(brief.reports[:1])
    windows = brief.windows
    return {
        "brief": brief,
        "where": brief.place.indicator or brief.place.name,
        "anchor": digest.anchor,
        "answers": digest.answers(brief, view),
        "sections": _sections(brief, view),
        "doors": [
            (name, _graver(*states), text.door_said(*states, group[0].beyond), text.gust(group))
            for name, states, group in text.door_groups(brief.doors)
        ],
        "untold": digest.untold(brief),
        "unstated": words.unstated(brief),
        "off_block": text.with_local(windows.off_block, brief),
        "ahead": _ahead(view, windows.off_block),
        "walk": f"{words.clock(windows.walk_round[0])}–{words.clock(windows.walk_round[1])}",
        "picture": text.picture(brief),
        "reports": [
            {
                "report": report,
                "issued": text.with_local(report.issued, brief),
                "age": _age(report.issued, view),
            }
            for report in used
        ],
        "aged": _aged(used, brief, view),
        "made": text.with_local(brief.made_at, brief),
        "changes": None if before is None else _changed(changes(before, brief)),
        "before": None if before is None else text.with_local(before.made_at, brief),
        "times": [
            ("Now", text.with_local(brief.now, brief)),
            ("Walk", _span(windows.walk_round, brief)),
            ("Doors open", _span(windows.doors_open, brief)),
            ("Off-block", text.with_local(windows.off_block, brief)),
            ("Take-off", text.with_local(windows.take_off, brief)),
        ],
    }


def _aged(used: list[ReportOut], brief: Brief, view: str) -> str:
    """What time alone has made stale; "" where nothing."""
    if view > brief.windows.off_block:
        return "The off-block time has passed: this brief is over"
    ages = [_minutes(report.issued, view) for report in used if report.kind != "TAF"]
    if ages and min(ages) > AGED_MIN:
        return f"The report is {text.duration(min(ages))} old: get a newer one"
    return ""


def _sections(brief: Brief, view: str) -> list[Section]:
    found = []
    for title in text.SECTIONS:
        lines = tuple(
            _line(line, brief, view)
            for line in brief.advice
            if line.status != "cannot tell" and text.section(line) == title
        )
        kind = {text.DOORS: "doors", text.WALK: "walk"}.get(title, "plain")
        if lines or (kind == "doors" and brief.doors):
            name = title.capitalize()
            found.append(Section(name, digest.anchor(title), kind, lines))
    return found


def _line(line: Advice, brief: Brief, view: str) -> Line:
    mark, weight = digest.MARKS[line.weight]
    due, is_late = "", digest.late(line, view)
    if line.by is not None:
        at = text.with_local(line.by, brief)
        due = f"Now, the latest time was {at}" if is_late else f"By {at}"
    reason = words.reason(line, text.falling(line, brief))
    return Line(line, mark, weight, due, is_late, reason, tuple(_why(item) for item in line.because))


def _why(item: Because) -> str:
    at = f" at {words.clock(item.at)}" if item.at else ""
    name = words.label(item.quantity)
    if item.unit:
        return f"{name} {words.band(item)}{at}; the test is {item.test}"
    return f"{name}{at}; the test is {item.test}"


def _changed(found: Iterable[Change]) -> list[tuple[str, str]]:
    """What changed, in words; doors that changed alike together."""
    said: list[tuple[str, str]] = []
    doors: dict[str, list[str]] = {}
    for change in found:
        if change.id.startswith("door: "):
            alike = text.change_said(change)
            if alike not in doors:
                said.append(("", alike))
            doors.setdefault(alike, []).append(change.id.removeprefix("door: "))
        else:
            said.append((digest.short(change.id), text.change_said(change)))
    return [(name, what) if name else (_doors(doors[what]), what) for name, what in said]


def _doors(names: list[str]) -> str:
    return f"{len(names)} doors" if len(names) > 2 else "; ".join(names)


def _span(span: tuple[str, str], brief: Brief) -> str:
    return " to ".join(text.with_local(stamp, brief) for stamp in span)


def _minutes(first: str, last: str) -> int:
    return int((datetime.fromisoformat(last) - datetime.fromisoformat(first)).total_seconds() // 60)


def _ahead(view: str, off_block: str) -> str:
    ahead = _minutes(view, off_block)
    return f"in {text.duration(ahead)}" if ahead >= 0 else f"{text.duration(-ahead)} ago"


def _age(issued: str, view: str) -> str:
    age = _minutes(issued, view)
    return f"{text.duration(age)} old" if age >= 0 else f"{text.duration(-age)} after now"

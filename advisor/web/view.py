"""A brief laid out for the page: sections, lines with their reasons, doors, what changed. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from advisor.brief.model import Advice, Because, Brief, ReportOut
from advisor.render import text, words
from advisor.render.changed import changes_said
from advisor.render.headline import headline
from advisor.render.listing import Entry, listing
from advisor.web import digest

AGED_MIN = 90


@dataclass(frozen=True)
class Line:
    """An entry of the listing. due: its latest time in words; whys: each line that it stands for with its numbers."""

    entry: Entry
    mark: str
    weight: str
    due: str
    is_late: bool
    whys: tuple[tuple[Advice, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Section:
    """A part of the page. kind: "doors" and "walk" look different; why: what several of its lines rest on."""

    title: str
    id: str
    kind: str
    lines: tuple[Line, ...]
    why: str


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
        "headline": headline(brief),
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
        "changes": None if before is None else changes_said(before, brief),
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
    return [
        Section(
            part.title,
            digest.anchor(part.key),
            part.key if part.key in ("doors", "walk", "untold", "unread") else "plain",
            tuple(_line(one, brief, view) for one in part.entries),
            part.why,
        )
        for part in listing(brief)
    ]


_WEIGHTS = {"!": "must", "-": "should", "?": "cannot tell", "": ""}


def _line(one: Entry, brief: Brief, view: str) -> Line:
    due, is_late = "", False
    by = one.lines[0].by if one.due else None
    if by is not None:
        is_late = digest.late(one.lines[0], view)
        due = "Now" if is_late else f"By {text.with_local(by, brief)}"
    whys = tuple((line, tuple(_why(item) for item in line.because)) for line in one.lines)
    return Line(one, "–" if one.mark == "-" else one.mark, _WEIGHTS[one.mark], due, is_late, whys)


def _why(item: Because) -> str:
    at = f" at {words.clock(item.at)}" if item.at else ""
    name = words.label(item.quantity)
    if item.unit:
        return f"{name} {words.band(item)}{at}; the test is {item.test}"
    return f"{name}{at}; the test is {item.test}"


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

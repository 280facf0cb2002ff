"""A brief as plain text, in the order in which people need it. Meaning never by colour alone."""

from __future__ import annotations

import textwrap
from typing import Any, NamedTuple

from advisor.brief.model import Advice, Brief, ReportOut
from advisor.render import words
from advisor.render.changed import changes_said
from advisor.render.headline import headline
from advisor.render.listing import MUST, SHOULD, UNTOLD, Part, PrintedLine, entry, listing

WIDTH = 80


class TextRow(NamedTuple):
    """A row of text and what it is: "title", "stop", "must", "should", "untold", or "" for plain text."""

    kind: str
    text: str


def render(brief: Brief, *, before: Brief | None = None, full: bool = False, width: int = WIDTH) -> str:
    """The brief as text that ends in a line feed. before: say first what changed since that brief."""
    return "\n".join(row.text for row in rows(brief, before=before, full=full, width=width)) + "\n"


def rows(brief: Brief, *, before: Brief | None = None, full: bool = False, width: int = WIDTH) -> list[TextRow]:
    """The same as rows with their kind. full: with the longer explanations, and nothing folded."""
    page = TextPage(width)
    _head(page, brief)
    if before is not None:
        page.title(f"Since the brief of {words.moment(before.now, brief.now)}")
        for said in changes_said(before, brief):
            page.put("", "  * ", said)
    for part in listing(brief, whole=full):
        page.title(part.title, part.why)
        for printed_line in part.entries:
            page.put(kind_of(printed_line, part), f"  {printed_line.mark or ' '} ", printed(printed_line))
            if full and printed_line.more:
                page.put("", "    ", printed_line.more)
    if brief.loosened or brief.loosened_how:
        page.gap()
        page.put("", "", loosened(brief))
        for how in brief.loosened_how:
            page.put("", "  ", how, rest="    ")
    page.title("Bear in mind")
    page.put("", "  ", " ".join(brief.cautions))
    page.put("", "  ", f"{brief.checklist.name}, revision {brief.checklist.revision} ({brief.checklist.fingerprint})")
    return page.rows


def loosened(brief: Brief) -> str:
    """In a sentence that the operator's checklist says less than what is shipped, and which rules do."""
    if not brief.loosened:
        return "The operator's checklist says less than what is shipped."
    return f"The operator's checklist loosened or removed: {', '.join(brief.loosened)}."


class TextPage:
    """Rows that are being written, none longer than the width."""

    def __init__(self, width: int) -> None:
        """Nothing yet."""
        self.width = width
        self.rows: list[TextRow] = []

    def gap(self) -> None:
        """A blank row."""
        self.rows.append(TextRow("", ""))

    def title(self, text: str, why: str = "") -> None:
        """A blank row and a title in capitals. why: what the lines below rest on."""
        self.gap()
        self.put("title", "", f"{text.upper()} ({why})" if why else text.upper(), rest="  ")

    def put(self, kind: str, first: str, text: str, rest: str | None = None) -> None:
        """A text, its first row begun with first, the others indented as far or by rest."""
        indent = " " * len(first) if rest is None else rest
        found = textwrap.wrap(text, self.width, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)
        self.rows += [TextRow(kind, row) for row in found or [first]]


def kind_of(printed_line: PrintedLine, part: Part) -> str:
    """What an entry is, for its colour."""
    if printed_line.grave or (part.key == "stop" and printed_line.mark == MUST):
        return "stop"
    return {MUST: "must", SHOULD: "should", UNTOLD: "untold"}.get(printed_line.mark, "")


def printed(printed_line: PrintedLine) -> str:
    """An entry in one run: its latest time, what to do, how sure and why."""
    lead = f"{printed_line.due}: " if printed_line.due else ""
    return (
        f"{lead}{printed_line.text} ({printed_line.reason})" if printed_line.reason else f"{lead}{printed_line.text}."
    )


def told(line: Advice, brief: Brief) -> str:
    """One line of a brief with its reason, alone."""
    one = entry(line, brief)
    return f"{one.mark} {printed(one)}"


def with_local(stamp: str, brief: Brief) -> str:
    """A time in Z with the place's own clock beside."""
    there = words.local(stamp, brief.place.time_zone)
    return words.moment(stamp, brief.now) + (f" ({there} local)" if there else "")


def _head(page: TextPage, brief: Brief) -> None:
    for said in head(brief):
        page.put("", "", said, rest="  ")


def head(brief: Brief) -> list[str]:
    """What stands above the parts: what, where and when, what the night is about, reports and notes."""
    windows = brief.windows
    ahead = minutes(brief.now, windows.off_block)
    name = brief.place.name if brief.place.indicator is None else f"{brief.place.indicator} {brief.place.name}"
    walk = words.span(windows.walk_round[0], windows.walk_round[1], brief.now)
    return [
        f"{brief.aircraft.name} at {name}: off-block {with_local(windows.off_block, brief)}, {duration(ahead)} ahead.",
        *headline(brief),
        f"Walk {walk}: {picture(brief)}",
        *(f"{report_said(report, brief)}: {report.raw}" for report in brief.reports if report.used),
        *brief.notes,
    ]


def report_said(report: ReportOut, brief: Brief) -> str:
    """Which report or forecast, and how old."""
    age = duration(abs(report.age_min))
    aged = f"{age} old" if report.age_min >= 0 else f"{age} after now"
    return f"{'Forecast' if report.kind == 'TAF' else 'Report'} {words.moment(report.issued, brief.now)}, {aged}"


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
    parts = [" then ".join(lights) or "light not known"]
    if brief.sun is not None:
        parts[0] += f" ({brief.sun.event} {words.moment(brief.sun.at, brief.now)})"
    row = rows[0]
    for name, label in (("air_temperature_c", "air"), ("dew_point_c", "dew point"), ("wind_kt", "wind")):
        value = row.get(name)
        central = value.get("central") if isinstance(value, dict) else value
        unit = "kt" if name == "wind_kt" else "°C"
        parts.append(f"{label} {words.amount(central, 0)} {unit}" if central is not None else f"{label} not known")
    parts[-1] += _gusting(row)
    if old > REPORTED_MIN and all(report.kind != "TAF" for report in brief.reports if report.used):
        # what was reported so long before is not what it will be like
        parts.append(f"all reckoned from a report {duration(old)} before")
    falling = row.get("precipitation")
    if falling == "not reported":
        parts.append("weather not known")
    elif falling and falling != "none reported" and not falling.startswith("not forecast"):
        parts.append(falling)
    return ", ".join(parts)


def _gusting(row: dict[str, Any]) -> str:
    """The gust of the central case, where it is one."""
    return f" gusting to {words.amount(row['gust_kt']['central'], 0)} kt" if words.is_gust(row) else ""


# a report speaks for two hours; further ahead its weather is only the last that was heard
REPORTED_MIN = 120


def _light(row: dict[str, Any]) -> str:
    name = str(row["light"])
    return f"dark ({name})" if row.get("dark") and name != "full dark" else name

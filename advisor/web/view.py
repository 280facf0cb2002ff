"""A brief laid out for the page: sections, lines with their reasons, doors, what changed. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from advisor.brief.changes import changes, incomparable
from advisor.brief.model import Advice, Because, Brief, ReportOut
from advisor.render import text, words
from advisor.render.changed import change_said, together, weather_said
from advisor.render.headline import headline
from advisor.render.listing import PrintedLine, listing
from advisor.web import digest

AGED_MIN = 90


@dataclass(frozen=True)
class ShownLine:
    """An entry of the listing. due: its latest time in words; by: that time, while it is to come.

    whys: each line that it stands for with its numbers.
    """

    entry: PrintedLine
    mark: str
    weight: str
    due: str
    by: str
    is_late: bool
    whys: tuple[tuple[Advice, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Section:
    """A part of the page. kind: "doors" and "walk" look different; why: what several of its lines rest on."""

    title: str
    id: str
    kind: str
    lines: tuple[ShownLine, ...]
    why: str


def laid_out(brief: Brief, view: str, before: Brief | None = None) -> dict[str, Any]:
    """What the template shows. view: the stamp of the time at which somebody looks; before: an earlier brief."""
    if before is not None and incomparable(before, brief):
        before = None
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
        "off_block_at": windows.off_block,
        "ahead": _ahead(view, windows.off_block),
        "walk": words.span(*windows.walk_round, brief.now),
        "picture": text.picture(brief),
        "reports": [
            {
                "report": report,
                "clock": words.moment(report.issued, brief.now),
                "age": _age(report.issued, view),
            }
            for report in used
        ],
        "aged": _aged(used, brief, view),
        "issued": _issued(used),
        "over": OVER,
        "made": text.with_local(brief.made_at, brief),
        "changes": None if before is None else changed(before, brief),
        "before": None if before is None else text.with_local(before.made_at, brief),
        "times": [
            ("Now", text.with_local(brief.now, brief)),
            ("Walk", _span(windows.walk_round, brief)),
            ("Doors open", _span(windows.doors_open, brief)),
            ("Off-block", text.with_local(windows.off_block, brief)),
            ("Take-off", text.with_local(windows.take_off, brief)),
        ],
    }


OVER = "The off-block time has passed: this brief is over"


def _aged(used: list[ReportOut], brief: Brief, view: str) -> str:
    """What time alone has made stale; "" where nothing."""
    if view > brief.windows.off_block:
        return OVER
    issued = _issued(used)
    age = text.minutes(issued, view) if issued else 0
    return f"The report is {text.duration(age)} old: get a newer one" if age > AGED_MIN else ""


def _issued(used: list[ReportOut]) -> str:
    """When the newest report was made, forecasts apart; "" where there is none."""
    return max((report.issued for report in used if report.kind != "TAF"), default="")


def _sections(brief: Brief, view: str) -> list[Section]:
    return [
        Section(
            part.title,
            digest.anchor(part.key),
            part.key if part.key in ("doors", "walk", "untold", "unread") else "plain",
            tuple(_line(printed, brief, view) for printed in part.entries),
            part.why,
        )
        for part in listing(brief)
    ]


_WEIGHTS = {"!": "must", "-": "should", "?": "cannot tell", "": ""}


def _line(printed: PrintedLine, brief: Brief, view: str) -> ShownLine:
    due, is_late = "", False
    by = printed.lines[0].by if printed.due else None
    if by is not None:
        is_late = digest.late(printed.lines[0], view)
        due = "Now" if is_late else f"By {text.with_local(by, brief)}"
    whys = tuple((line, tuple(_why(item) for item in line.because)) for line in printed.lines)
    mark = "–" if printed.mark == "-" else printed.mark
    return ShownLine(printed, mark, _WEIGHTS[printed.mark], due, "" if is_late else by or "", is_late, whys)


def _why(item: Because) -> str:
    when = f" at {words.clock(item.at)}" if item.at else ""
    name = words.label(item.quantity)
    if item.unit:
        return f"{name} {words.band(item)}{when}; the test is {item.test}"
    return f"{name}{when}; the test is {item.test}"


@dataclass(frozen=True)
class Changed:
    """What changed from one brief to a later one, by gravity: what stops, the calls, all else; each (name, what).

    weather: what changed in it, "" where nothing did.
    """

    weather: str
    stops: tuple[tuple[str, str], ...]
    calls: tuple[tuple[str, str], ...]
    rest: tuple[tuple[str, str], ...]

    def __bool__(self) -> bool:
        return bool(self.weather or self.stops or self.calls or self.rest)

    @property
    def parts(self) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
        """The parts that hold something, each with its title."""
        titled = (("Wait or stop", self.stops), ("Call", self.calls), ("All else", _alike(self.rest)))
        return [(title, rows) for title, rows in titled if rows]

    @property
    def few(self) -> list[tuple[str, str]]:
        """The same in a line a part: the two gravest by name, and how many more."""
        titled = (("Wait or stop", self.stops), ("Call", self.calls), ("All else", self.rest))
        return [(title, _two(rows)) for title, rows in titled if rows]


def changed(before: Brief, after: Brief) -> Changed:
    """What changed, in words; doors that changed alike together."""
    lines = {line.id: line for brief in (before, after) for line in brief.advice}
    order = {name: at for at, name in enumerate(lines)}
    by_kind: dict[str, list[tuple[int, str, str]]] = {"stops": [], "calls": [], "rest": []}
    doors: dict[str, list[str]] = {}
    for change in changes(before, after):
        sentence = change_said(change)
        line = lines.get(change.id)
        if line is None:
            doors.setdefault(sentence, []).append(change.id.removeprefix("door: "))
            continue
        kind = "stops" if line.stop else "calls" if line.kind == "request" else "rest"
        # musts before shoulds; among those, as the brief has them
        rank = order[change.id] + (0 if line.weight == "must" else len(order))
        rank = -1 if change.id == digest.DE_ICING else rank
        by_kind[kind].append((rank, line.short, sentence))
    parts = {name: [(short, said) for _, short, said in sorted(rows)] for name, rows in by_kind.items()}
    windy = [(_doors(names), said) for said, names in doors.items()]
    return Changed(weather_said(before, after), tuple(parts["stops"]), tuple(parts["calls"]), (*windy, *parts["rest"]))


def _two(rows: tuple[tuple[str, str], ...]) -> str:
    said = "; ".join(f"{name} {what}" for name, what in rows[:2])
    return f"{said}; and {len(rows) - 2} more" if len(rows) > 2 else said


def _alike(rows: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """What became of several lines alike, said once, where its gravest stands."""
    return tuple((", ".join(names), said) for said, names in together(rows).items())


def _doors(names: list[str]) -> str:
    return f"{len(names)} doors" if len(names) > 2 else "; ".join(names)


def _span(span: tuple[str, str], brief: Brief) -> str:
    return words.span_with_local(*span, brief.now, brief.place.time_zone)


def _ahead(view: str, off_block: str) -> str:
    ahead = text.minutes(view, off_block)
    return f"in {text.duration(ahead)}" if ahead >= 0 else f"{text.duration(-ahead)} ago"


def _age(issued: str, view: str) -> str:
    age = text.minutes(issued, view)
    return f"{text.duration(age)} old" if age >= 0 else f"{text.duration(-age)} after now"

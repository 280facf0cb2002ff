"""The pictures as SVG: one timeline from now to take-off, and the stand from above."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, floor

from advisor.brief.model import Brief
from advisor.render.picture import data as picture
from advisor.render.picture import describe
from advisor.render.picture import stand as stands
from advisor.render.picture.data import Timeline
from advisor.render.picture.drawing import SMALL, Drawing, Label, css, svg, width, wrapped
from advisor.render.picture.panel import NOTE, Scale, panel
from advisor.render.picture.plan import plan
from advisor.render.picture.stand import Stand
from advisor.render.picture.tracks import BandStretch, Crossing

# names to the left of the axis, values to its right; PAST: what was before now
WIDE, LEFT, VALUE, PAST = 360.0, 78.0, 108.0, 10.0
ROW, TEXT, BAR = 22.0, 18.0, 10.0
# the plan of the night over its weather; bands against their limits; what is crossed and how it is read
PARTS = ("plan", "panels", "notes")
STEPS_MIN = (10, 15, 20, 30, 60, 120, 180, 240, 360, 720)
PANELS = (
    ("frost", "Skin below where frost forms, °C", "frost_margin_c"),
    ("wind", "Gust against door limits, kt", "gust_kt"),
)
SHADES = {"all": "night", "some": "dusk", "unknown": "dusk", "none": "day"}
BARS = {"all": "bar", "some": "sparse", "unknown": "unknown"}


def timeline_svg(
    line: Timeline, *, printed: bool = False, ident: str = "timeline", parts: Sequence[str] = PARTS
) -> str:
    """The timeline as SVG, 360 wide.

    printed: plain attributes and hatching, no classes. ident: prefix of its ids, unique on a page. parts: which of
    PARTS to draw, so that a sheet can set two of them side by side.
    """
    return svg(
        _timeline(line, parts),
        title="From now to take-off",
        sentences=describe.sentences(line),
        printed=printed,
        ident=ident,
    )


def stand_svg(view: Stand, *, printed: bool = False, ident: str = "stand") -> str:
    """The plan view as SVG, 360 wide. printed, ident: as in timeline_svg."""
    return svg(
        plan(view),
        title="The stand from above",
        sentences=stands.sentences(view),
        printed=printed,
        ident=ident,
    )


def charts(brief: Brief, *, printed: bool = False) -> tuple[str, str]:
    """Timeline and plan view of a brief."""
    return (
        timeline_svg(picture.timeline(brief), printed=printed),
        stand_svg(stands.stand(brief), printed=printed),
    )


def across(line: Timeline, wide: float = WIDE) -> Scale:
    """Seconds to x; what was before now lies on the left edge."""
    start, end = line.times_s[0], max(line.take_off_s, line.times_s[0] + 1)
    left, right = LEFT + PAST, wide - VALUE
    return lambda at_s: left + (at_s - start) / (end - start) * (right - left) if at_s >= start else LEFT


class _Night:
    """The timeline in the making: a row after the other, from the top down."""

    def __init__(self, line: Timeline, wide: float) -> None:
        self.made, self.line, self.wide = Drawing(wide), line, wide
        self.to_x, self.right = across(line, wide), wide - VALUE
        self.y = self.rows_end = 2.0

    def says(self, text: str, *, bold: bool = False, size: float = SMALL) -> None:
        """A sentence over the whole width."""
        for part in wrapped(text, self.wide, size, bold=bold):
            self.made.text(Label(0, self.y + size - 2, part, size=size, bold=bold))
            self.y += size + 3

    def row(self, name: str, value: str, draw: Callable[[float], None]) -> None:
        """A name, what is drawn at the height of a bar, and its value in words."""
        self.made.line("grid", LEFT, self.y + 11, self.right, self.y + 11)
        draw(self.y + 11)
        self.made.text(Label(0, self.y + 16, name, size=NOTE, bold=True))
        lines = wrapped(value, VALUE - 6, NOTE) if value else []
        for at, part in enumerate(lines):
            self.made.text(Label(self.right + 6, self.y + 16 + at * TEXT, part, size=NOTE))
        self.y += max(ROW, 4 + TEXT * len(lines))

    def bar(self, look: str, start_s: float, end_s: float, y: float) -> None:
        """A bar from one time to another, never thinner than can be seen."""
        first, last = self.to_x(start_s), self.to_x(end_s)
        for each in (look, "edge"):
            self.made.rect(each, first, y - BAR / 2, max(3.0, last - first), BAR)

    def span(self, span: tuple[float, float]) -> str:
        """0555–0615Z; in two lines where the day has to be said."""
        first, last = (self.line.clock(at_s) for at_s in span)
        return f"{first[:-1]}–{last}" if "/" not in first + last else f"{first} to {last}"


def _timeline(line: Timeline, parts: Sequence[str]) -> Drawing:
    night = _Night(line, WIDE)
    drawn = False
    if "plan" in parts:
        for said in describe.answers(line):
            night.says(said, bold=True, size=SMALL + 1)
        night.y += 5
        top = night.y
        _plan_of_the_night(night)
        _weather(night)
        _shade(night, top, night.rows_end)
        drawn = True
    if "panels" in parts:
        for key, title, shown in PANELS:
            lane = line.lane(key)
            if lane.near:
                night.y += 6
                night.says(title, bold=True)
                top = night.y + 4
                night.y = panel(night.made, line, lane, shown, night.to_x, top, LEFT, night.right)
                _shade(night, top, night.y)
                _guides(night, top, night.y)
                drawn = True
    if drawn:
        _axis(night)
    if "notes" in parts:
        _notes(night)
    night.made.high = night.y + 4
    return night.made


def _plan_of_the_night(night: _Night) -> None:
    """Rows of what is planned: parked, reports, calls, walk, doors."""
    line, start = night.line, night.line.times_s[0]
    since = "not stated" if line.parked_s is None else f"since {line.clock(line.parked_s)}"
    parked_s = start if line.parked_s is None else line.parked_s
    night.row("Parked", since, lambda y: night.bar("still", parked_s, line.off_block_s, y))
    shown = [one for one in line.reports if one.said == "report"] or list(line.reports)

    def reports(y: float) -> None:
        for report in line.reports:
            x = night.to_x(report.at_s)
            flag = (
                ((x, y - 7), (x + 8, y - 3), (x, y + 1))
                if report.said == "report"
                else ((x, y), (x + 8, y + 4), (x, y + 8))
            )
            night.made.path("pointer", flag, closed=True)

    if shown:
        night.row(
            "Reports", f"{shown[-1].said if shown[-1].said != 'report' else ''} {line.clock(shown[-1].at_s)}", reports
        )

    def calls(y: float) -> None:
        for call in line.calls:
            x = night.to_x(call.at_s)
            night.made.path("mark", ((x, y - 7), (x + 7, y), (x, y + 7), (x - 7, y)), closed=True)

    if line.calls:
        later = [one for one in line.calls if one.said != "now"]
        due = ["now"] if len(later) < len(line.calls) else []
        due += [line.clock(later[0].at_s)] if later else []
        night.row("Calls", f"{'' if due[0] == 'now' else 'by '}{', '.join(due)}", calls)
    night.row("Walk", night.span(line.walk_s), lambda y: night.bar("bar", *line.walk_s, y))
    night.row("Doors", night.span(line.doors_s), lambda y: night.bar("doors", *line.doors_s, y))


def _weather(night: _Night) -> None:
    """Rows of what it will be like: darkness, air below 0 °C, what falls, as codes."""
    line = night.line

    def stretches(band_stretches: Sequence[BandStretch]) -> Callable[[float], None]:
        def draw(y: float) -> None:
            for one in band_stretches:
                if one.cases in BARS:
                    night.bar(BARS[one.cases], one.start_s, one.end_s, y)

        return draw

    night.row("Dark", describe.when(line, line.dark, "20 lx or more"), stretches(line.dark))
    air = line.lane("air").series[0]
    night.row("Air < 0 °C", describe.whole(air).removesuffix(" °C"), stretches(line.freezing))

    def falls(y: float) -> None:
        for spell in line.spells:
            look = {"falling": "falling", "possible": "sparse", "unknown": "unknown"}.get(spell.kind)
            if look:
                night.bar(look, spell.start_s, spell.end_s, y)

    night.row("Weather", "", falls)
    night.rows_end = night.y
    labels = [(night.to_x(one.start_s), f"{line.clock(one.start_s)} {one.said}") for one in line.spells]
    if len(labels) == 1:
        labels = [((LEFT + PAST + night.right) / 2, line.spells[0].said)]
    if len(labels) < 3:
        night.y = _placed(night.made, labels, night.y, night.wide)
    else:
        # many spells are read as a list, in their order
        for _, text in labels:
            night.says(text)


def _shade(night: _Night, top: float, bottom: float) -> None:
    """Light as shading, behind everything else."""
    back = Drawing(night.wide)
    for one in night.line.dark:
        x, end = night.to_x(one.start_s), night.to_x(one.end_s)
        back.rect(SHADES[one.cases], x, top, end - x, bottom - top)
    night.made.shapes[:0] = back.shapes


def _guides(night: _Night, top: float, bottom: float) -> None:
    """Where the walk begins and ends, and off-block, through a panel."""
    for look, at_s in (
        ("walk", night.line.walk_s[0]),
        ("walk", night.line.walk_s[1]),
        ("off-block", night.line.off_block_s),
    ):
        x = night.to_x(at_s)
        night.made.line(look, x, top, x, bottom)


def _placed(drawing: Drawing, labels: Sequence[tuple[float, str]], y: float, wide: float) -> float:
    """Labels under their places, in as few rows as they need without touching. Returns the lower end."""
    rows: list[float] = []
    for x, text in labels:
        parts = wrapped(text, wide)
        broad = max(width(part) for part in parts)
        left = min(max(0.0, x - broad / 2), wide - broad)
        row = 0
        # a wrapped label takes rows that are all free to its left
        while any(left < end + 8 for end in rows[row : row + len(parts)]):
            row += 1
        while len(rows) < row + len(parts):
            rows.append(-100.0)
        for offset, part in enumerate(parts):
            drawing.text(Label(left, y + 13 + (row + offset) * TEXT, part))
            rows[row + offset] = left + broad
    return y + len(rows) * TEXT


def _step_s(night: _Night) -> int:
    room = night.right - LEFT - PAST
    span = max(1.0, night.line.take_off_s - night.line.times_s[0])
    most = max(1, int(room // (width("0000", NOTE) + 10)))
    return next((step for step in STEPS_MIN if span / (step * 60) <= most), STEPS_MIN[-1]) * 60


def hours(night: _Night) -> list[float]:
    """The full times that stand on the axis."""
    step = _step_s(night)
    first = ceil(night.line.times_s[0] / step)
    return [float(index * step) for index in range(first, floor(night.line.take_off_s / step) + 1)]


def _axis(night: _Night) -> None:
    line, y = night.line, night.y + 5
    there = bool(line.local(line.times_s[0]))
    for row, name in enumerate(("UTC", "local") if there else ("UTC",)):
        night.made.text(Label(0, y + 14 + row * TEXT, name, size=NOTE))
    for at_s in hours(night):
        night.made.line("tick", night.to_x(at_s), y - 5, night.to_x(at_s), y - 1)
        for row, text in enumerate((line.clock(at_s)[-5:-1], line.local(at_s))):
            if text:
                night.made.text(Label(night.to_x(at_s), y + 14 + row * TEXT, text, "middle", size=NOTE))
    y += TEXT * (2 if there else 1) + 4
    for row, (look, name, at_s) in enumerate(
        (("off-block", "off-block", line.off_block_s), ("tick", "take-off", line.take_off_s))
    ):
        # each label ends at its own time, so that the mark of the later one runs past the earlier one's words
        x, text, foot = night.to_x(at_s), f"{name} {line.clock(at_s)}", y + 15 + row * TEXT
        if x - 5 < width(text):
            # no room before it: behind it, and no mark, which the earlier one's words would cross
            night.made.text(Label(x + 5, foot - 2, text))
            continue
        night.made.line(look, x, y, x, foot)
        night.made.text(Label(x - 5, foot - 2, text, "end"))
    night.y = y + 2 * TEXT


def marked(line: Timeline) -> list[tuple[str, Crossing]]:
    """The crossings that the timeline marks, each with its lane, in their order."""
    found = [(key, one) for key in ("light", "air", "frost", "wind") for one in picture.headline(line.lane(key))]
    return sorted(found, key=lambda item: (item[1].at_s, item[1].said))


def _notes(night: _Night) -> None:
    """What is crossed and when, what is not near, what is not known, and how to read the bars."""
    line = night.line
    night.y += 4
    for _, one in marked(line):
        night.says(picture.marked_text(line, one))
    for said in describe.idle(line):
        night.says(said)
    for key in ("light", "air", "skin", "wind"):
        for gap in line.lane(key).gaps:
            night.says(f"{gap[0].upper()}{gap[1:]}.")
    night.says("Filled: in every case. Hatched: in some. Dotted: walk. Dashed: off-block.", size=NOTE)


__all__ = ["PARTS", "Stand", "Timeline", "charts", "css", "marked", "stand_svg", "timeline_svg"]

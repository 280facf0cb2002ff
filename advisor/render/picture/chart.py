"""The pictures as SVG: a timeline from now to take-off, and the stand from above."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import ceil, floor, log10

from advisor.brief.model import Brief
from advisor.render.picture import data as picture
from advisor.render.picture import describe
from advisor.render.picture import stand as stands
from advisor.render.picture.data import Lane, Series, Timeline
from advisor.render.picture.drawing import SERIES, SMALL, TITLE, Drawing, Label, css, svg, width, wrapped
from advisor.render.picture.plan import plan
from advisor.render.picture.stand import Stand

WIDE, LEFT, RIGHT = 360.0, 54.0, 354.0
HEIGHTS = {"light": 90.0, "air": 100.0, "skin": 110.0, "wind": 90.0}
PARTS = ("windows", "light", "air", "skin", "wind", "weather")
ROW = 18.0
POINTER = 9.0
STEPS_MIN = (10, 15, 20, 30, 60, 120, 180, 240, 360, 720)
Scale = Callable[[float], float]


def timeline_svg(
    line: Timeline, *, printed: bool = False, ident: str = "timeline", parts: Sequence[str] = PARTS
) -> str:
    """The timeline as SVG, 360 wide.

    printed: plain attributes and hatching, no classes. ident: prefix of its ids, unique on a page. parts: which of
    PARTS to draw.
    """
    return svg(
        _timeline(line, parts),
        title="From now to take-off",
        sentences=describe.sentences(line),
        printed=printed,
        ident=ident,
    )


def stand_svg(view: Stand, *, printed: bool = False, ident: str = "stand", beside: bool = False) -> str:
    """The plan view as SVG, 360 wide. printed, ident: as in timeline_svg. beside: the list of doors to its right."""
    return svg(
        plan(view, beside=beside),
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


def across(line: Timeline) -> Scale:
    """Seconds to x."""
    start, end = line.times_s[0], max(line.take_off_s, line.times_s[0] + 1)
    return lambda at_s: LEFT + (at_s - start) / (end - start) * (RIGHT - LEFT)


def domain(lane: Lane) -> tuple[float, float]:
    """The values between which a lane is drawn."""
    values = [
        value
        for series in lane.series
        for track in (series.low, series.high, series.central)
        for value in track
        if value is not None
    ]
    values += [level.value for level in lane.levels]
    if lane.log:
        return 0.1, float(10 ** max(3, ceil(log10(max([1.0, *values])))))
    if lane.unit == "kt":
        return 0.0, max(20.0, ceil(max([0.0, *values]) * 1.08 / 5) * 5.0)
    low, high = min([0.0, *values]), max([0.0, *values])
    room = max(1.0, 0.08 * (high - low))
    return float(floor(low - room)), float(ceil(high + room))


def upwards(lane: Lane, top: float, bottom: float) -> Scale:
    """Values of a lane to y; what lies below the domain of the log scale is drawn on its lower edge."""
    low, high = domain(lane)
    if lane.log:
        decades = log10(high) - log10(low)
        return lambda value: bottom - (log10(max(value, low)) - log10(low)) / decades * (bottom - top)
    return lambda value: bottom - (value - low) / (high - low) * (bottom - top)


def _timeline(line: Timeline, parts: Sequence[str]) -> Drawing:
    made = Drawing(WIDE)
    to_x = across(line)
    y = _windows(made, line, to_x, 2.0) if "windows" in parts else 2.0
    y = _events(made, line, to_x, y + 4)
    for lane in line.lanes:
        if lane.key in parts:
            y = _lane(made, line, lane, to_x, y + 8)
    if "weather" in parts:
        y = _weather(made, line, to_x, y + 8)
    y = _axis(made, line, to_x, y + 2)
    for text in ("Shaded: walk. Dotted: doors open.", "Bands: lowest to highest estimate."):
        made.text(Label(0, y + SMALL, text))
        y += ROW
    made.high = y + 4
    return made


def _windows(made: Drawing, line: Timeline, to_x: Scale, y: float) -> float:
    for name, (start, end), look in (("Walk", line.walk_s, "walk"), ("Doors open", line.doors_s, "doors")):
        made.text(Label(0, y + 13, f"{name} {line.clock(start)} to {line.clock(end)}", bold=True))
        made.line("grid", LEFT, y + 24, RIGHT, y + 24)
        for each in (look, "edge"):
            made.rect(each, to_x(start), y + 18, max(3.0, to_x(end) - to_x(start)), 11)
        y += 33
    return y


def _events(made: Drawing, line: Timeline, to_x: Scale, y: float) -> float:
    labels = [
        (to_x(at_s), f"{name} {line.clock(at_s)}")
        for name, at_s in (("off-block", line.off_block_s), ("take-off", line.take_off_s))
    ]
    return _placed(made, labels, y)


def _placed(made: Drawing, labels: Sequence[tuple[float, str]], y: float) -> float:
    """Labels under their places, in as few rows as they need without touching. Returns the lower end."""
    rows: list[float] = []
    for x, text in labels:
        parts = wrapped(text, WIDE)
        wide = max(width(part) for part in parts)
        left = min(max(0.0, x - wide / 2), WIDE - wide)
        row = 0
        # a wrapped label takes rows that are all free to its left
        while any(left < end + 8 for end in rows[row : row + len(parts)]):
            row += 1
        while len(rows) < row + len(parts):
            rows.append(-100.0)
        for offset, part in enumerate(parts):
            made.text(Label(left, y + 13 + (row + offset) * ROW, part))
            rows[row + offset] = left + wide
    return y + len(rows) * ROW


def _lane(made: Drawing, line: Timeline, lane: Lane, to_x: Scale, y: float) -> float:
    made.text(Label(0, y + 15, f"{lane.title}, {lane.unit}", size=TITLE, bold=True))
    y = _legend(made, lane, y + 20)
    top, bottom = y + 7, y + 7 + HEIGHTS[lane.key]
    _background(made, line, to_x, top, bottom)
    to_y = upwards(lane, top, bottom)
    _unknown(made, line, lane, to_x, top, bottom)
    for value, bold in _ticks(lane, to_y):
        made.text(Label(LEFT - 5, to_y(value) + 5, _tick_text(value), "end", bold=bold))
        if not bold:
            made.line("grid", LEFT, to_y(value), RIGHT, to_y(value))
    for series in lane.series:
        _band(made, line, series, to_x, to_y)
    for level in lane.levels:
        made.line("level", LEFT, to_y(level.value), RIGHT, to_y(level.value))
    for series in lane.series:
        _curve(made, line, series, to_x, to_y)
    made.rect("frame", LEFT, top, RIGHT - LEFT, bottom - top)
    marked = picture.headline(lane)
    for one in marked:
        made.circle("mark", to_x(one.at_s), to_y(one.value), 4)
        x = to_x(one.at_s)
        made.path("pointer", ((x, bottom + 1), (x - 4, bottom + POINTER), (x + 4, bottom + POINTER)), closed=True)
    y = bottom + 8
    if marked:
        y = _placed(made, [(to_x(one.at_s), picture.marked_text(line, one)) for one in marked], bottom + POINTER)
    for gap in lane.gaps:
        for part in wrapped(gap, WIDE):
            made.text(Label(0, y + 14, part))
            y += ROW
    return y


def _legend(made: Drawing, lane: Lane, y: float) -> float:
    """Line samples with their names, flowing; returns the lower end."""
    items = [(f"line-{SERIES[series.key][0]}", series.label) for series in lane.series if len(lane.series) > 1]
    items += [("level", level.label) for level in lane.levels]
    x = 0.0
    y += 13
    for look, text in items:
        wide = 34 + width(text)
        if x and x + wide > WIDE:
            x, y = 0.0, y + ROW
        made.line(look, x, y - 5, x + 28, y - 5)
        made.text(Label(x + 34, y, text))
        x += wide + 14
    return y + 4


def _background(made: Drawing, line: Timeline, to_x: Scale, top: float, bottom: float) -> None:
    for look, (start, end) in (("walk", line.walk_s), ("doors", line.doors_s)):
        made.rect(look, to_x(start), top, to_x(end) - to_x(start), bottom - top)
    for at_s in _hours(line):
        made.line("grid", to_x(at_s), top, to_x(at_s), bottom)
    made.line("off-block", to_x(line.off_block_s), top, to_x(line.off_block_s), bottom)


def _unknown(made: Drawing, line: Timeline, lane: Lane, to_x: Scale, top: float, bottom: float) -> None:
    """Where nothing of a lane is known, it is hatched instead of empty."""
    times = line.times_s
    blank = [all(one.central[at] is None and one.low[at] is None for one in lane.series) for at in range(len(times))]
    for index in range(len(times) - 1):
        if blank[index] and blank[index + 1]:
            made.rect("unknown", to_x(times[index]), top, to_x(times[index + 1]) - to_x(times[index]), bottom - top)


def _ticks(lane: Lane, to_y: Scale) -> Iterator[tuple[float, bool]]:
    """Values to write on the axis, levels first, none so close to another that they would touch."""
    low, high = domain(lane)
    taken: list[float] = []
    levels = [level.value for level in lane.levels if low <= level.value <= high]
    if lane.log:
        rest = [10.0**power for power in range(round(log10(high)), round(log10(low)) - 1, -1)]
    else:
        step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if (high - low) / step <= 5)
        rest = [step * index * 1.0 for index in range(ceil(low / step), floor(high / step) + 1)]
    for value in (*levels, *rest):
        y = to_y(value)
        if all(abs(y - other) >= SMALL + 3 for other in taken):
            taken.append(y)
            yield value, value in levels


def _tick_text(value: float) -> str:
    if value >= 10_000:
        return f"{value / 1000:.0f}k"
    return f"{value:g}".replace("-", "−")


def _pieces(line: Timeline, *tracks: picture.Track) -> Iterator[list[int]]:
    """Runs of times at which all tracks are known."""
    run: list[int] = []
    for index in range(len(line.times_s)):
        if all(track[index] is not None for track in tracks):
            run.append(index)
        elif run:
            yield run
            run = []
    if run:
        yield run


def _points(
    line: Timeline, track: picture.Track, run: Sequence[int], to_x: Scale, to_y: Scale
) -> list[tuple[float, float]]:
    return [(to_x(line.times_s[i]), to_y(value)) for i in run if (value := track[i]) is not None]


def _band(made: Drawing, line: Timeline, series: Series, to_x: Scale, to_y: Scale) -> None:
    for run in _pieces(line, series.low, series.high):
        low, high = (_points(line, track, run, to_x, to_y) for track in (series.low, series.high))
        if len(run) > 1:
            made.path(f"band-{SERIES[series.key][0]}", [*high, *reversed(low)], closed=True)


def _curve(made: Drawing, line: Timeline, series: Series, to_x: Scale, to_y: Scale) -> None:
    for run in _pieces(line, series.central):
        points = _points(line, series.central, run, to_x, to_y)
        if len(points) == 1:
            made.circle("pointer", *points[0], 2.5)
        else:
            made.path(f"line-{SERIES[series.key][0]}", points)


def _weather(made: Drawing, line: Timeline, to_x: Scale, y: float) -> float:
    made.text(Label(0, y + 15, "Weather", size=TITLE, bold=True))
    top = y + 24
    labels = []
    for spell in line.spells:
        x, end = to_x(spell.start_s), to_x(spell.end_s)
        made.rect(spell.kind, x, top, max(1.0, end - x), 16)
        made.rect("edge", x, top, max(1.0, end - x), 16)
        labels.append((x, f"{line.clock(spell.start_s)} {spell.said}"))
    if len(labels) < 3:
        return _placed(made, labels, top + 18)
    # many spells are read as a list, in their order
    y = top + 18
    for _, text in labels:
        for part in wrapped(text, WIDE):
            made.text(Label(0, y + 14, part))
            y += ROW
    return y


def _step_s(line: Timeline) -> int:
    wide = max(width(text) for text in (line.clock(line.times_s[0]), line.clock(line.take_off_s))) + 10
    span = max(1.0, line.take_off_s - line.times_s[0])
    most = max(1, int((RIGHT - LEFT) // wide))
    return next((step for step in STEPS_MIN if span / (step * 60) <= most), STEPS_MIN[-1]) * 60


def _hours(line: Timeline) -> list[float]:
    step = _step_s(line)
    first = ceil(line.times_s[0] / step)
    return [float(index * step) for index in range(first, floor(line.take_off_s / step) + 1)]


def _axis(made: Drawing, line: Timeline, to_x: Scale, y: float) -> float:
    made.text(Label(0, y + 14, "UTC"))
    there = bool(line.local(line.times_s[0]))
    if there:
        made.text(Label(0, y + 14 + ROW, "local"))
    for at_s in _hours(line):
        for row, text in enumerate((line.clock(at_s), line.local(at_s))):
            wide = width(text)
            x = min(max(to_x(at_s), LEFT - 6 + wide / 2), WIDE - wide / 2)
            if text:
                made.text(Label(x, y + 14 + row * ROW, text, "middle"))
    return y + ROW * (2 if there else 1)


__all__ = ["PARTS", "Stand", "Timeline", "charts", "css", "stand_svg", "timeline_svg"]

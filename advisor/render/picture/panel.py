"""One panel of the timeline: a band against its levels, each level labelled at its end. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import ceil, floor

from advisor.render.picture import data as picture
from advisor.render.picture.data import Series, Strip, Timeline
from advisor.render.picture.drawing import SERIES, Drawing, Label, wrapped

HIGH, NOTE, LINE = 84.0, 14.0, 16.0
Scale = Callable[[float], float]


def shown(lane: Strip, key: str) -> Series:
    """The series of a lane that is drawn."""
    return next(series for series in lane.series if series.key == key)


def domain(lane: Strip, key: str) -> tuple[float, float]:
    """The values between which a panel is drawn."""
    series = shown(lane, key)
    values = [value for track in (series.low, series.high, series.central) for value in track if value is not None]
    values += [level.value for level in lane.levels]
    if lane.unit == "kt":
        return 0.0, max(20.0, ceil(max([0.0, *values]) * 1.08 / 5) * 5.0)
    low, high = min([0.0, *values]), max([0.0, *values])
    room = max(1.0, 0.08 * (high - low))
    return float(floor(low - room)), float(ceil(high + room))


def panel(
    drawing: Drawing, line: Timeline, lane: Strip, key: str, to_x: Scale, top: float, left: float, right: float
) -> float:
    """Draw it below top, between left and right. Returns its lower end."""
    series, bottom = shown(lane, key), top + HIGH
    low, high = domain(lane, key)

    def to_y(value: float) -> float:
        return bottom - (value - low) / (high - low) * HIGH

    _unknown(drawing, line, series, to_x, top)
    start = to_x(line.times_s[0])
    for value in _ticks(lane, low, high, to_y):
        drawing.text(Label(left - 5, to_y(value) + 5, _tick_text(value), "end", size=NOTE))
        drawing.line("grid", start, to_y(value), right, to_y(value))
    _band(drawing, line, series, to_x, to_y)
    for level in lane.levels:
        drawing.line("level", start, to_y(level.value), right, to_y(level.value))
    _curve(drawing, line, series, to_x, to_y)
    drawing.rect("frame", start, top, right - start, HIGH)
    for crossing in picture.headline(lane):
        drawing.circle("mark", to_x(crossing.at_s), to_y(crossing.value), 4)
    _ends(drawing, [(to_y(level.value), level.label) for level in lane.levels], top, right, drawing.wide - right - 8)
    return bottom


def _ends(drawing: Drawing, ends: Sequence[tuple[float, str]], top: float, x: float, room: float) -> None:
    """Labels at the ends of lines, moved apart where they would touch, each led to its line."""
    texts = [(y, wrapped(said, room, NOTE)) for y, said in sorted(ends)]
    height = sum(len(parts) for _, parts in texts) * LINE
    # the last has to end above the panel's lower edge, where all of them fit
    floor_y, free = max(top + HIGH, top + height), top
    for index, (y, parts) in enumerate(texts):
        below = sum(len(rest) for _, rest in texts[index:]) * LINE
        label_y = min(max(free, y - len(parts) * LINE / 2), floor_y - below)
        drawing.line("lead", x, y, x + 5, label_y + len(parts) * LINE / 2)
        for part in parts:
            drawing.text(Label(x + 8, label_y + 12, part, size=NOTE))
            label_y += LINE
        free = label_y


def _unknown(drawing: Drawing, line: Timeline, series: Series, to_x: Scale, top: float) -> None:
    """Where nothing is known, it is hatched instead of empty."""
    times = line.times_s
    blank = [series.central[at] is None and series.low[at] is None for at in range(len(times))]
    for index in range(len(times) - 1):
        if blank[index] and blank[index + 1]:
            drawing.rect("unknown", to_x(times[index]), top, to_x(times[index + 1]) - to_x(times[index]), HIGH)


def _ticks(lane: Strip, low: float, high: float, to_y: Scale) -> Iterator[float]:
    """Values to write on the axis, levels first, none so close to another that they would touch."""
    taken: list[float] = []
    step = next((step for step in (1, 2, 5, 10, 20, 50, 100) if (high - low) / step <= 4), 200)
    rest = [step * index * 1.0 for index in range(ceil(low / step), floor(high / step) + 1)]
    for value in (*(level.value for level in lane.levels), *rest):
        y = to_y(value)
        if all(abs(y - other) >= NOTE + 3 for other in taken):
            taken.append(y)
            yield value


def _tick_text(value: float) -> str:
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


def _band(drawing: Drawing, line: Timeline, series: Series, to_x: Scale, to_y: Scale) -> None:
    for run in _pieces(line, series.low, series.high):
        low, high = (_points(line, track, run, to_x, to_y) for track in (series.low, series.high))
        if len(run) > 1:
            drawing.path(f"band-{SERIES[series.key][0]}", [*high, *reversed(low)], closed=True)


def _curve(drawing: Drawing, line: Timeline, series: Series, to_x: Scale, to_y: Scale) -> None:
    for run in _pieces(line, series.central):
        points = _points(line, series.central, run, to_x, to_y)
        if len(points) == 1:
            drawing.circle("pointer", *points[0], 2.5)
        else:
            drawing.path(f"line-{SERIES[series.key][0]}", points)

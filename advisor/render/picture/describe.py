"""The timeline in words and as a table: the same data as the drawing. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.render import words
from advisor.render.picture.data import Timeline
from advisor.render.picture.tracks import EDGES, BandStretch, Series, Strip, between


@dataclass(frozen=True, slots=True)
class NightTable:
    """Quantities down, moments across. heads: (clock, local, what) of each moment; rows: label and cells."""

    heads: tuple[tuple[str, str, str], ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def figure(series: Series, value: float | None) -> str:
    """One number of a series, without its unit."""
    if value is None:
        return "not known"
    if series.unit == "lx" and value < 0.1:
        return "under 0.1"
    if series.unit == "lx" and value >= 100:
        # a sky is not known to three digits
        return f"{float(f'{value:.1e}'):.0f}"
    return words.amount(value, words.decimals_for(series.key, value))


def span(series: Series, low: float | None, central: float | None, high: float | None) -> str:
    """A band as people write it."""
    if low is None or high is None:
        return "not known" if central is None else f"{figure(series, central)}, not known in some cases"
    first, last = figure(series, low), figure(series, high)
    return first if first == last else f"{first} to {last}"


def moments(line: Timeline) -> tuple[tuple[float, str], ...]:
    """The times that people ask about, in order, each once."""
    named = (
        (line.times_s[0], "now"),
        (line.walk_s[0], "walk begins"),
        (line.walk_s[1], "walk ends"),
        (line.off_block_s, "off-block"),
        (line.take_off_s, "take-off"),
    )
    names_by_time: dict[float, str] = {}
    for at_s, name in sorted(named, key=lambda item: item[0]):
        names_by_time[at_s] = f"{names_by_time[at_s]}, {name}" if at_s in names_by_time else name
    return tuple(names_by_time.items())


def table(line: Timeline) -> NightTable:
    """The numbers at those times, each with its band."""
    times = moments(line)
    rows = []
    for lane in line.lanes:
        for series in lane.series:
            cells = []
            for at_s, _ in times:
                low, central, high = (between(series, edge, line.times_s, at_s, log=lane.log) for edge in EDGES)
                cells.append(span(series, low, central, high))
            rows.append((f"{series.label}, {series.unit}", tuple(cells)))
    rows.append(("weather", tuple(_spell_at(line, at_s) for at_s, _ in times)))
    heads = tuple((line.clock(at_s), line.local(at_s), name) for at_s, name in times)
    return NightTable(heads, tuple(rows))


def _spell_at(line: Timeline, at_s: float) -> str:
    for spell in line.spells:
        if spell.start_s <= at_s < spell.end_s:
            return spell.said
    return line.spells[-1].said if line.spells else "not known"


def sentences(line: Timeline) -> tuple[str, ...]:
    """The whole timeline in words: its answers, what is planned, each quantity's range, crossings, gaps, weather."""
    first, last = line.clock(line.times_s[0]), line.clock(line.take_off_s)
    out = [
        *(f"{said}." for said in answers(line)),
        f"From {first} to take-off at {last}. Walk {line.span(*line.walk_s)}, "
        f"doors {line.span(*line.doors_s)}, "
        f"off-block {line.clock(line.off_block_s)}.",
        *_planned(line),
    ]
    for lane in line.lanes:
        out += _lane(line, lane)
    spells = "; ".join(f"{line.span(one.start_s, one.end_s)} {one.said}" for one in line.spells)
    out.append(f"Weather: {spells or 'not known'}.")
    return tuple(out)


def _planned(line: Timeline) -> Iterator[str]:
    yield "Parked since: not stated." if line.parked_s is None else f"Parked since {line.clock(line.parked_s)}."
    if line.reports:
        yield f"Made: {', '.join(f'{one.said} {line.clock(one.at_s)}' for one in line.reports)}."
    if line.calls:
        said = ("now" if one.said == "now" else f"by {line.clock(one.at_s)}" for one in line.calls)
        yield f"Calls: {', '.join(said)}."


def answers(line: Timeline) -> tuple[str, ...]:
    """What the night is about, in a few short sentences without a full stop."""
    out = [*_dark(line), *_falls(line)]
    frost, wind = line.lane("frost"), line.lane("wind")
    out += _beyond(line, frost, frost.series[0], 0.0, "Frost", ("can form", "likely", "possible"))
    if wind.levels:
        level = wind.levels[0]
        limit = f"{words.amount(level.value, 0)} kt"
        gust = next(series for series in wind.series if series.key == "gust_kt")
        out += _beyond(
            line, wind, gust, level.value, "Gust", (f"above {limit}", f"likely above {limit}", f"may pass {limit}")
        )
    return tuple(out) or ("Nothing here comes near a limit",)


def _dark(line: Timeline) -> Iterator[str]:
    start, end = line.walk_s
    met = {one.cases for one in line.dark if one.start_s <= end and one.end_s >= start}
    if "all" in met:
        yield "Dark on the walk"
    elif "some" in met:
        yield "Dark on the walk in some cases"
    elif "unknown" in met:
        yield "Light on the walk not known"


def _falls(line: Timeline) -> Iterator[str]:
    for kind, lead in (("falling", ""), ("possible", "Maybe "), ("unknown", "")):
        for spell in line.spells:
            if spell.kind == kind:
                code, _, may = spell.said.partition("; ")
                said = code if kind == "falling" else may.removeprefix("may be ") if may else "weather not known"
                said = f"{lead}{said}"
                yield f"{said[0].upper()}{said[1:]} {_since(line, spell.start_s)}"
                return


def _since(line: Timeline, at_s: float) -> str:
    return "from now" if at_s <= line.times_s[0] else f"from {line.clock(at_s)}"


def _beyond(
    line: Timeline, lane: Strip, series: Series, level: float, name: str, phrases: tuple[str, str, str]
) -> Iterator[str]:
    """Since when the highest estimate is above a level.

    phrases: where the lowest is as well, the central one, neither.
    """
    first = None
    for index, value in enumerate(series.high):
        if value is not None and value > level:
            met = [
                one.at_s
                for one in lane.crossings
                if one.quantity == series.key and one.edge == "high" and one.rises and one.value == level
            ]
            start = line.times_s[max(0, index - 1)]
            first = next((at_s for at_s in met if start <= at_s <= line.times_s[index]), line.times_s[index])
            break
    estimates = (series.low, series.central, (level + 1,))
    sure = [any(value is not None and value > level for value in values) for values in estimates]
    if first is not None:
        yield f"{name} {phrases[sure.index(True)]} {_since(line, first)}"
    elif all(value is None for value in (*series.low, *series.central, *series.high)):
        yield f"{name} not known"
    elif any(value is None for value in (*series.low, *series.high)):
        yield f"{name} not known in some cases"


def idle(line: Timeline) -> tuple[str, ...]:
    """What comes near no level and so has no panel."""
    out = []
    frost, wind = line.lane("frost"), line.lane("wind")
    if not frost.near:
        worst = max(value for value in frost.series[0].high if value is not None)
        out.append(f"Skin {words.amount(-worst, 0)} °C or more above where frost forms.")
    gust = next(series for series in wind.series if series.key == "gust_kt")
    highs = [value for value in gust.high if value is not None]
    if not wind.near and highs:
        limit = (
            f"lowest door limit {words.amount(wind.levels[0].value, 0)} kt" if wind.levels else "no door in the profile"
        )
        some = "" if all(value is not None for value in gust.high) else ", not known in some cases"
        out.append(f"Gust to {words.amount(max(highs), 0)} kt{some}; {limit}.")
    return tuple(out)


def when(line: Timeline, stretches: Sequence[BandStretch], none: str) -> str:
    """When it is so in any case, first stretch only; none: what is said where it never is."""
    merged: list[tuple[float, float]] = []
    for stretch in stretches:
        if stretch.cases not in ("all", "some"):
            continue
        if merged and merged[-1][1] == stretch.start_s:
            merged[-1] = (merged[-1][0], stretch.end_s)
        else:
            merged.append((stretch.start_s, stretch.end_s))
    if not merged:
        return "not known" if any(one.cases == "unknown" for one in stretches) else none
    first, last = merged[0]
    if first <= line.times_s[0]:
        return "throughout" if last >= line.take_off_s else f"to {line.clock(last)}"
    return f"from {line.clock(first)}"


def whole(series: Series) -> str:
    """The lowest and the highest of a quantity over the whole time, with its unit."""
    lows = [value for value in series.low if value is not None]
    highs = [value for value in series.high if value is not None]
    if not lows or not highs:
        return "not known"
    low, high = (words.amount(value, 0) for value in (min(lows), max(highs)))
    return f"{low} {series.unit}" if low == high else f"{low} to {high} {series.unit}"


def _lane(line: Timeline, lane: Strip) -> Iterator[str]:
    for series in lane.series:
        lows = [value for value in series.low if value is not None]
        highs = [value for value in series.high if value is not None]
        if lows and highs:
            extent = span(series, min(lows), None, max(highs))
            yield f"{series.label[0].upper()}{series.label[1:]}: {extent} {series.unit}."
    for start in lane.starts:
        yield f"At {line.clock(line.times_s[0])}: {start}."
    for crossing, edges in crossings(line, lane):
        yield f"{crossing[0].upper()}{crossing[1:]}: {edges}."
    for gap in lane.gaps:
        yield f"{gap[0].upper()}{gap[1:]}."


def crossings(line: Timeline, lane: Strip) -> Iterator[tuple[str, str]]:
    """What is crossed, and at which time by each estimate."""
    order = {"central": 0, "low": 1, "high": 2}
    names = {"central": "middle estimate", "low": "lowest", "high": "highest"}
    for said in dict.fromkeys(one.said for one in lane.crossings):
        group = sorted((one for one in lane.crossings if one.said == said), key=lambda one: (order[one.edge], one.at_s))
        yield said, ", ".join(f"{line.clock(one.at_s)} {names[one.edge]}" for one in group)


__all__ = ["NightTable", "answers", "crossings", "figure", "moments", "sentences", "span", "table"]

"""The timeline in words and as a table: the same data as the drawing. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.render import words
from advisor.render.picture.data import EDGES, Lane, Series, Timeline, between


@dataclass(frozen=True, slots=True)
class Table:
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
    found: dict[float, str] = {}
    for at_s, name in sorted(named, key=lambda item: item[0]):
        found[at_s] = f"{found[at_s]}, {name}" if at_s in found else name
    return tuple(found.items())


def table(line: Timeline) -> Table:
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
    return Table(heads, tuple(rows))


def _spell_at(line: Timeline, at_s: float) -> str:
    for spell in line.spells:
        if spell.start_s <= at_s < spell.end_s:
            return spell.said
    return line.spells[-1].said if line.spells else "not known"


def sentences(line: Timeline) -> tuple[str, ...]:
    """The whole timeline in words: windows, each quantity's range, crossings, gaps, weather."""
    first, last = line.clock(line.times_s[0]), line.clock(line.take_off_s)
    out = [
        f"From {first} to take-off at {last}. Walk {line.clock(line.walk_s[0])} to {line.clock(line.walk_s[1])}, "
        f"doors {line.clock(line.doors_s[0])} to {line.clock(line.doors_s[1])}, "
        f"off-block {line.clock(line.off_block_s)}."
    ]
    for lane in line.lanes:
        out += _lane(line, lane)
    spells = "; ".join(f"{line.clock(one.start_s)} to {line.clock(one.end_s)} {one.said}" for one in line.spells)
    out.append(f"Weather: {spells or 'not known'}.")
    return tuple(out)


def _lane(line: Timeline, lane: Lane) -> Iterator[str]:
    for series in lane.series:
        lows = [value for value in series.low if value is not None]
        highs = [value for value in series.high if value is not None]
        if lows and highs:
            said = span(series, min(lows), None, max(highs))
            yield f"{series.label[0].upper()}{series.label[1:]}: {said} {series.unit}."
    for said in lane.starts:
        yield f"At {line.clock(line.times_s[0])}: {said}."
    for said, edges in crossings(line, lane):
        yield f"{said[0].upper()}{said[1:]}: {edges}."
    for gap in lane.gaps:
        yield f"{gap[0].upper()}{gap[1:]}."


def crossings(line: Timeline, lane: Lane) -> Iterator[tuple[str, str]]:
    """What is crossed, and at which time by each estimate."""
    order = {"central": 0, "low": 1, "high": 2}
    names = {"central": "middle estimate", "low": "lowest", "high": "highest"}
    for said in dict.fromkeys(one.said for one in lane.crossings):
        group = sorted((one for one in lane.crossings if one.said == said), key=lambda one: (order[one.edge], one.at_s))
        yield said, ", ".join(f"{line.clock(one.at_s)} {names[one.edge]}" for one in group)


__all__ = ["Table", "crossings", "figure", "moments", "sentences", "span", "table"]

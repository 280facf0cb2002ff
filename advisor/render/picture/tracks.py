"""Quantities over time against levels: bands, crossings, stretches and gaps. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log10

from advisor.departure import stamp
from advisor.render import words

Track = tuple[float | None, ...]
EDGES = ("low", "central", "high")
LIGHT_FLOOR_LX = 1e-6


@dataclass(frozen=True, slots=True)
class Series:
    """One quantity over the times, with its band over the cases; None is a gap."""

    key: str
    label: str
    unit: str
    low: Track
    central: Track
    high: Track

    def edge(self, name: str) -> Track:
        """One of EDGES."""
        return {"low": self.low, "central": self.central, "high": self.high}[name]


@dataclass(frozen=True, slots=True)
class Level:
    """A value worth a line of its own."""

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where an edge of a band passes a level. value: that level."""

    quantity: str
    edge: str
    rises: bool
    at_s: float
    value: float
    said: str


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip of the timeline. starts: on which side of each level it begins; gaps: what is not known and when.

    near: it comes near a level, or it is not known whether it does, so that it is worth a panel.
    """

    key: str
    title: str
    unit: str
    log: bool
    series: tuple[Series, ...]
    levels: tuple[Level, ...]
    crossings: tuple[Crossing, ...]
    starts: tuple[str, ...]
    gaps: tuple[str, ...]
    near: bool = False


@dataclass(frozen=True, slots=True)
class BandStretch:
    """A span over which a quantity lies on one side of a level: in every case, in some, in none, or not known."""

    start_s: float
    end_s: float
    cases: str


@dataclass(frozen=True, slots=True)
class Watch:
    """A level that is watched, and what is said above and below it. strict: the level itself is below."""

    quantity: str
    level: float
    above: str
    below: str
    strict: bool = False


# the edge that is the adverse one, and whether the adverse side lies above the level
WORST = {
    "illuminance_lx": ("low", False),
    "air_temperature_c": ("low", False),
    "wing_skin_temperature_c": ("low", False),
    "frost_margin_c": ("high", True),
    "gust_kt": ("high", True),
}
NEAR_S = 90.0


def is_near(series: Series, level: float, room: float) -> bool:
    """Whether any estimate comes within room of a level that is adverse above, or is not known."""
    values = [value for track in (series.low, series.central, series.high) for value in track]
    return any(value is None or value > level - room for value in values)


def stretches(lane: Strip, quantity: str, level: float, times: Sequence[float]) -> Iterator[BandStretch]:
    """Where a quantity lies below a level: all, some, none or unknown. Edges are interpolated, as the crossings are."""
    (series,) = (one for one in lane.series if one.key == quantity)
    edges = {*times, *(one.at_s for one in lane.crossings if one.quantity == quantity)}
    open_from, state = 0.0, ""
    cuts = sorted(edges)
    for first, last in pairwise(cuts):
        middle = (first + last) / 2
        values = [between(series, edge, times, middle, log=lane.log) for edge in EDGES]
        below = [value < level for value in values if value is not None]
        cases = (
            "unknown" if not below else "all" if all(below) and len(below) == 3 else "some" if any(below) else "none"
        )
        # what only some cases know is not in none of them
        cases = "unknown" if cases == "none" and len(below) < 3 else cases
        if cases != state:
            if state:
                yield BandStretch(open_from, first, state)
            open_from, state = first, cases
    if state:
        yield BandStretch(open_from, cuts[-1], state)


def between(series: Series, edge: str, times: Sequence[float], at_s: float, *, log: bool = False) -> float | None:
    """Value of an edge at a time, interpolated as it is drawn; None in a gap."""
    track = series.edge(edge)
    for index in range(len(times) - 1):
        if times[index] <= at_s <= times[index + 1]:
            first, last = track[index], track[index + 1]
            if first is None or last is None:
                return first if at_s == times[index] else last if at_s == times[index + 1] else None
            part = (at_s - times[index]) / (times[index + 1] - times[index])
            if log:
                first, last = max(first, LIGHT_FLOOR_LX), max(last, LIGHT_FLOOR_LX)
                return float(10 ** (log10(first) + part * (log10(last) - log10(first))))
            return float(first + part * (last - first))
    return track[0] if times and at_s == times[0] else None


def starts(watch: Watch, seen: dict[str, Series]) -> Iterator[str]:
    """On which side of a level the first time lies: in every case, or the adverse side in some."""
    sides = []
    for edge in EDGES:
        first = next(iter(seen[watch.quantity].edge(edge)), None)
        if first is None:
            return
        sides.append(first > watch.level if watch.strict else first >= watch.level)
    above = WORST[watch.quantity][1] if len(set(sides)) > 1 else sides[0]
    yield f"{watch.above if above else watch.below}, in {'some cases' if len(set(sides)) > 1 else 'every case'}"


def crossings(watch: Watch, times: Sequence[float], seen: dict[str, Series], log: bool) -> Iterator[Crossing]:
    """Where each edge of a band passes the level, interpolated as it is drawn."""

    def scaled(value: float) -> float:
        return log10(max(value, LIGHT_FLOOR_LX)) if log else value

    level = scaled(watch.level)
    beyond: Callable[[float], bool] = (lambda x: x > level) if watch.strict else (lambda x: x >= level)
    for edge in EDGES:
        track = seen[watch.quantity].edge(edge)
        for index in range(len(times) - 1):
            start, end = track[index], track[index + 1]
            if start is None or end is None:
                continue
            first, last = scaled(start), scaled(end)
            if beyond(first) == beyond(last):
                continue
            at_s = times[index] + (level - first) / (last - first) * (times[index + 1] - times[index])
            rises = last > first
            said = watch.above if rises else watch.below
            yield Crossing(watch.quantity, edge, rises, at_s, watch.level, said)


def headline(lane: Strip) -> tuple[Crossing, ...]:
    """The crossings that are marked: the adverse edge's, and the middle estimate's where it differs."""
    marked: list[Crossing] = []
    for quantity in dict.fromkeys(one.quantity for one in lane.crossings):
        group = [one for one in lane.crossings if one.quantity == quantity]
        worst = [one for one in group if one.edge == WORST[quantity][0]]
        marked += worst
        for crossing in group:
            same = any(abs(crossing.at_s - other.at_s) < NEAR_S and crossing.rises == other.rises for other in worst)
            if crossing.edge == "central" and not same:
                marked.append(crossing)
    return tuple(sorted(marked, key=lambda one: (one.at_s, one.said)))


def gaps(series: Series, times: Sequence[float], now: str) -> Iterator[str]:
    """What is not known of a quantity, and when."""
    states = []
    for low, central, high in zip(series.low, series.central, series.high, strict=True):
        known = [value is not None for value in (low, central, high)]
        states.append("known" if all(known) else "some" if any(known) else "none")
    for state, phrase in (("none", "not known"), ("some", "not known in some cases")):
        if states and all(one == state for one in states):
            yield f"{series.label} {phrase}"
            continue
        for start, end in _runs([one == state for one in states]):
            yield f"{series.label} {phrase} {words.span(stamp(times[start]) or '', stamp(times[end]) or '', now)}"


def _runs(flags: Sequence[bool]) -> Iterator[tuple[int, int]]:
    start = None
    for index, flag in enumerate(flags):
        if flag and start is None:
            start = index
        if not flag and start is not None:
            yield start, index - 1
            start = None
    if start is not None:
        yield start, len(flags) - 1

"""What the pictures show, as data: the one structure behind drawing, description and table. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import log10
from typing import Any

from advisor.brief.model import Brief
from advisor.departure import stamp
from advisor.quantities import QUANTITIES
from advisor.render import words
from advisor.render.picture.spells import Spell, spells

Track = tuple[float | None, ...]
EDGES = ("low", "central", "high")
TORCH_LX = 20.0
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
    """Where an edge of a band passes a level. series: the one on which it is drawn, at value."""

    quantity: str
    edge: str
    rises: bool
    at_s: float
    series: str
    value: float
    said: str


@dataclass(frozen=True, slots=True)
class Lane:
    """One strip of the timeline. starts: on which side of each level it begins; gaps: what is not known and when."""

    key: str
    title: str
    unit: str
    log: bool
    series: tuple[Series, ...]
    levels: tuple[Level, ...]
    crossings: tuple[Crossing, ...]
    starts: tuple[str, ...]
    gaps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Timeline:
    """From now to take-off. times_s: seconds since 1970 UTC, the grid of every track."""

    now: str
    zone: str | None
    times_s: tuple[float, ...]
    walk_s: tuple[float, float]
    doors_s: tuple[float, float]
    off_block_s: float
    take_off_s: float
    lanes: tuple[Lane, ...]
    spells: tuple[Spell, ...]

    def clock(self, at_s: float) -> str:
        """HHMMZ, with the day where it is not today's."""
        return words.moment(stamp(at_s) or "", self.now)

    def local(self, at_s: float) -> str:
        """HH:MM of the place, "" where its zone is not known."""
        return words.local(stamp(at_s) or "", self.zone)


@dataclass(frozen=True, slots=True)
class _Watch:
    """A level that is watched, and what is said above and below it. strict: the level itself is below."""

    quantity: str
    series: str
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
_LABELS = {
    "illuminance_lx": ("natural light", "lx"),
    "air_temperature_c": ("air", "°C"),
    "dew_point_c": ("dew point", "°C"),
    "frost_point_c": ("frost point", "°C"),
    "wing_skin_temperature_c": ("wing skin", "°C"),
    "tank_skin_temperature_c": ("tank skin", "°C"),
    "wind_kt": ("wind", "kt"),
    "gust_kt": ("gust", "kt"),
}


def _seconds(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def _series(rows: Sequence[dict[str, Any]], key: str) -> Series:
    label, unit = _LABELS.get(key, (words.label(key), QUANTITIES[key].unit))
    low: list[float | None] = []
    central: list[float | None] = []
    high: list[float | None] = []
    for row in rows:
        value = row.get(key)
        if isinstance(value, dict):
            low.append(value["low"])
            central.append(value["central"])
            high.append(value["high"])
        else:
            number = float(value) if value is not None else None
            low.append(number)
            central.append(number)
            high.append(number)
    return Series(key, label, unit, tuple(low), tuple(central), tuple(high))


def timeline(brief: Brief) -> Timeline:
    """The timeline of a brief."""
    rows, windows = brief.timeline, brief.windows
    times = tuple(_seconds(row["at"]) for row in rows)
    found = {key: _series(rows, key) for key in _LABELS}
    limit = lowest_limit(brief)
    seen = {**found, "frost_margin_c": _series(rows, "frost_margin_c")}

    def lane(
        key: str,
        title: str,
        unit: str,
        names: Sequence[str],
        levels: Sequence[Level],
        watches: Sequence[_Watch],
        *,
        log: bool = False,
    ) -> Lane:
        shown = tuple(found[name] for name in names)
        met = [one for watch in watches for one in _crossings(watch, times, seen, log)]
        crossings = tuple(sorted(met, key=lambda one: (one.at_s, one.said)))
        gaps = tuple(text for series in shown for text in _gaps(series, times, brief.now))
        starts = tuple(said for watch in watches for said in _starts(watch, seen))
        return Lane(key, title, unit, log, shown, tuple(levels), crossings, starts, gaps)

    zero, skin = Level(0.0, "0 °C"), "wing_skin_temperature_c"
    lanes = [
        lane(
            "light",
            "Natural light",
            "lx",
            ("illuminance_lx",),
            [Level(TORCH_LX, "20 lx, a lit stand")],
            [_Watch("illuminance_lx", "illuminance_lx", TORCH_LX, "light above 20 lx", "light below 20 lx")],
            log=True,
        ),
        lane(
            "air",
            "Air",
            "°C",
            ("air_temperature_c", "dew_point_c"),
            [zero],
            [_Watch("air_temperature_c", "air_temperature_c", 0.0, "air above 0 °C", "air below 0 °C")],
        ),
        lane(
            "skin",
            "Wing skin and frost",
            "°C",
            ("wing_skin_temperature_c", "frost_point_c"),
            [zero],
            [
                _Watch("wing_skin_temperature_c", skin, 0.0, "skin above 0 °C", "skin below 0 °C"),
                _Watch("frost_margin_c", skin, 0.0, "frost can form", "skin above where frost forms", strict=True),
            ],
        ),
        lane(
            "wind",
            "Wind and gust",
            "kt",
            ("wind_kt", "gust_kt"),
            [] if limit is None else [Level(limit, f"{words.amount(limit, 0)} kt, lowest door limit")],
            []
            if limit is None
            else [
                _Watch(
                    "gust_kt",
                    "gust_kt",
                    limit,
                    f"gust above {words.amount(limit, 0)} kt",
                    f"gust below {words.amount(limit, 0)} kt",
                    strict=True,
                )
            ],
        ),
    ]
    return Timeline(
        brief.now,
        brief.place.time_zone,
        times,
        (_seconds(windows.walk_round[0]), _seconds(windows.walk_round[1])),
        (_seconds(windows.doors_open[0]), _seconds(windows.doors_open[1])),
        _seconds(windows.off_block),
        _seconds(windows.take_off),
        tuple(lanes),
        tuple(spells(rows, times)),
    )


def lowest_limit(brief: Brief) -> float | None:
    """The lowest operating limit of any door, sectors included; None where the profile gives none."""
    limits = [door.counted_kt if door.counted_kt is not None else door.operate_kt for door in brief.doors]
    known = [limit for limit in limits if limit is not None]
    return min(known) if known else None


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


def _starts(watch: _Watch, seen: dict[str, Series]) -> Iterator[str]:
    """On which side of a level the first time lies: in every case, or the adverse side in some."""
    sides = []
    for edge in EDGES:
        first = next(iter(seen[watch.quantity].edge(edge)), None)
        if first is None:
            return
        sides.append(first > watch.level if watch.strict else first >= watch.level)
    above = WORST[watch.quantity][1] if len(set(sides)) > 1 else sides[0]
    yield f"{watch.above if above else watch.below}, in {'some cases' if len(set(sides)) > 1 else 'every case'}"


def _crossings(watch: _Watch, times: Sequence[float], seen: dict[str, Series], log: bool) -> Iterator[Crossing]:
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
            value = watch.level
            if watch.series != watch.quantity:
                # the margin's high edge is the skin's low one
                mirrored = {"low": "high", "central": "central", "high": "low"}[edge]
                drawn = between(seen[watch.series], mirrored, times, at_s)
                value = watch.level if drawn is None else drawn
            rises = last > first
            said = watch.above if rises else watch.below
            yield Crossing(watch.quantity, edge, rises, at_s, watch.series, value, said)


NEAR_S = 90.0


def headline(lane: Lane) -> tuple[Crossing, ...]:
    """The crossings that are marked: the adverse edge's, and the middle estimate's where it differs."""
    marked: list[Crossing] = []
    for quantity in dict.fromkeys(one.quantity for one in lane.crossings):
        group = [one for one in lane.crossings if one.quantity == quantity]
        worst = [one for one in group if one.edge == WORST[quantity][0]]
        marked += worst
        for one in group:
            same = any(abs(one.at_s - other.at_s) < NEAR_S and one.rises == other.rises for other in worst)
            if one.edge == "central" and not same:
                marked.append(one)
    return tuple(sorted(marked, key=lambda one: (one.at_s, one.said)))


def marked_text(line: Timeline, one: Crossing) -> str:
    """What stands beside a marked crossing: an adverse edge enters in some cases first, and leaves in every case."""
    if one.edge == "central":
        cases = "middle estimate"
    else:
        cases = "in some cases" if one.rises == WORST[one.quantity][1] else "in every case"
    return f"{line.clock(one.at_s)} {one.said}, {cases}"


def _gaps(series: Series, times: Sequence[float], now: str) -> Iterator[str]:
    states = []
    for low, central, high in zip(series.low, series.central, series.high, strict=True):
        known = [value is not None for value in (low, central, high)]
        states.append("known" if all(known) else "some" if any(known) else "none")
    for state, said in (("none", "not known"), ("some", "not known in some cases")):
        if states and all(one == state for one in states):
            yield f"{series.label} {said}"
            continue
        for start, end in _runs([one == state for one in states]):
            first = words.moment(stamp(times[start]) or "", now)
            last = words.moment(stamp(times[end]) or "", now)
            yield f"{series.label} {said} {first}" + (f" to {last}" if last != first else "")


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

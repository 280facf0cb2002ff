"""What the pictures show, as data: the one structure behind drawing, description and table. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from advisor.brief.model import Brief
from advisor.departure import stamp
from advisor.quantities import QUANTITIES
from advisor.render import words
from advisor.render.picture.spells import Spell, spells
from advisor.render.picture.tracks import (
    EDGES,
    WORST,
    BandStretch,
    Crossing,
    Level,
    Series,
    Strip,
    Track,
    Watch,
    between,
    crossings,
    gaps,
    headline,
    is_near,
    starts,
    stretches,
)

TORCH_LX = 20.0


@dataclass(frozen=True, slots=True)
class NightMoment:
    """A moment of the night and what it is."""

    at_s: float
    said: str


@dataclass(frozen=True, slots=True)
class Timeline:
    """From now to take-off. times_s: seconds since 1970 UTC, the grid of every track.

    parked_s: since when the aircraft stands, None where nobody said; reports: when each was made; calls: latest times,
    those that have passed at now; dark: where the light is under 20 lx; freezing: where the air is below 0 °C.
    """

    now: str
    zone: str | None
    times_s: tuple[float, ...]
    walk_s: tuple[float, float]
    doors_s: tuple[float, float]
    off_block_s: float
    take_off_s: float
    lanes: tuple[Strip, ...]
    spells: tuple[Spell, ...]
    parked_s: float | None
    reports: tuple[NightMoment, ...]
    calls: tuple[NightMoment, ...]
    dark: tuple[BandStretch, ...]
    freezing: tuple[BandStretch, ...]

    def lane(self, key: str) -> Strip:
        """The strip of that key."""
        return next(lane for lane in self.lanes if lane.key == key)

    def clock(self, at_s: float) -> str:
        """HHMMZ, with the day where it is not today's."""
        return words.moment(stamp(at_s) or "", self.now)

    def span(self, start_s: float, end_s: float) -> str:
        """From one time to another, as 0555–0615Z."""
        return words.span(stamp(start_s) or "", stamp(end_s) or "", self.now)

    def local(self, at_s: float) -> str:
        """HH:MM of the place, "" where its zone is not known."""
        return words.local(stamp(at_s) or "", self.zone)


# how near a level anything has to come to be worth a panel; a report may leave out gusts below 10 kt over the mean
NEAR_C, NEAR_KT = 3.0, 10.0
FROST_OUT = "skin above where frost forms"
_LABELS = {
    "illuminance_lx": ("natural light", "lx"),
    "air_temperature_c": ("air", "°C"),
    "dew_point_c": ("dew point", "°C"),
    "frost_point_c": ("frost point", "°C"),
    "wing_skin_temperature_c": ("wing skin", "°C"),
    "tank_skin_temperature_c": ("tank skin", "°C"),
    "frost_margin_c": ("frost margin", "°C"),
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
    series_by_key = {key: _series(rows, key) for key in _LABELS}

    def lane(
        key: str,
        title: str,
        unit: str,
        names: Sequence[str],
        levels: Sequence[Level],
        watches: Sequence[Watch],
        *,
        log: bool = False,
        near: bool = False,
    ) -> Strip:
        shown = tuple(series_by_key[name] for name in names)
        met = [one for watch in watches for one in crossings(watch, times, series_by_key, log)]
        passed = tuple(sorted(met, key=lambda one: (one.at_s, one.said)))
        untold = tuple(text for series in shown for text in gaps(series, times, brief.now))
        began = tuple(said for watch in watches for said in starts(watch, series_by_key))
        return Strip(key, title, unit, log, shown, tuple(levels), passed, began, untold, near)

    groups = door_groups(brief)
    zero = Level(0.0, "0 °C")
    lanes = [
        lane(
            "light",
            "Natural light",
            "lx",
            ("illuminance_lx",),
            [Level(TORCH_LX, "20 lx, a lit stand")],
            [Watch("illuminance_lx", TORCH_LX, "light above 20 lx", "light below 20 lx")],
            log=True,
        ),
        lane(
            "air",
            "Air",
            "°C",
            ("air_temperature_c", "dew_point_c"),
            [zero],
            [Watch("air_temperature_c", 0.0, "air above 0 °C", "air below 0 °C")],
        ),
        lane(
            "skin",
            "Wing skin and frost",
            "°C",
            ("wing_skin_temperature_c", "frost_point_c"),
            [zero],
            [
                Watch("wing_skin_temperature_c", 0.0, "skin above 0 °C", "skin below 0 °C"),
            ],
        ),
        lane(
            "frost",
            "Frost on the wing skin",
            "°C",
            ("frost_margin_c",),
            [Level(0.0, "frost can form")],
            [Watch("frost_margin_c", 0.0, "frost can form", FROST_OUT, strict=True)],
            near=is_near(series_by_key["frost_margin_c"], 0.0, NEAR_C),
        ),
        lane(
            "wind",
            "Wind and gust",
            "kt",
            ("wind_kt", "gust_kt"),
            [Level(limit, f"{words.amount(limit, 0)} kt {name}") for limit, name in groups],
            [
                Watch(
                    "gust_kt",
                    limit,
                    f"gust above {words.amount(limit, 0)} kt ({name})",
                    f"gust below {words.amount(limit, 0)} kt ({name})",
                    strict=True,
                )
                for limit, name in groups
            ],
            near=bool(groups) and is_near(series_by_key["gust_kt"], groups[0][0], NEAR_KT),
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
        None if brief.parked_since is None else _seconds(brief.parked_since),
        tuple(_reports(brief)),
        tuple(_calls(brief)),
        tuple(stretches(lanes[0], "illuminance_lx", TORCH_LX, times)),
        tuple(stretches(lanes[1], "air_temperature_c", 0.0, times)),
    )


def _reports(brief: Brief) -> Iterator[NightMoment]:
    for report in sorted(brief.reports, key=lambda one: one.issued):
        if report.used:
            yield NightMoment(_seconds(report.issued), "forecast" if report.kind == "TAF" else "report")


def _calls(brief: Brief) -> Iterator[NightMoment]:
    """Latest times of the calls of the brief, in order; what has passed is due now."""
    called = (line for line in brief.advice if line.status != "cannot tell" and not words.too_late(line, brief.now))
    due = {max(line.by, brief.now) for line in called if line.by is not None}
    for at in sorted(due):
        yield NightMoment(_seconds(at), "now" if at <= brief.now else "call")


def kind(name: str) -> str:
    """What a door is, without its side: the profile's name before the comma."""
    return name.split(",")[0].strip().removesuffix(" door").strip() or name


def door_groups(brief: Brief) -> list[tuple[float, str]]:
    """Doors by the lowest limit that counts for them, the lowest first: (limit, what they are or how many)."""
    groups: dict[float, list[str]] = {}
    for door in brief.doors:
        limit = door.counted_kt if door.counted_kt is not None else door.operate_kt
        if limit is not None:
            groups.setdefault(limit, []).append(kind(door.door))
    named_limits = []
    for limit, names in sorted(groups.items()):
        alike = set(names)
        named_limits.append((limit, names[0] if len(alike) == 1 and len(names[0]) < 10 else _count(len(names))))
    return named_limits


def _count(number: int) -> str:
    return "1 door" if number == 1 else f"{number} doors"


def marked_text(line: Timeline, crossing: Crossing) -> str:
    """What stands beside a marked crossing: an adverse edge enters in some cases first, and leaves in every case."""
    if crossing.edge == "central":
        cases = "middle estimate"
    else:
        cases = "in some cases" if crossing.rises == WORST[crossing.quantity][1] else "in every case"
    return f"{line.clock(crossing.at_s)} {crossing.said}, {cases}"


__all__ = ["EDGES", "Series", "Strip", "Timeline", "Track", "between", "headline", "marked_text", "timeline"]

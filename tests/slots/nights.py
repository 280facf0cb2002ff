"""Small nights for the tests of slots: departures, pads and a sky written out by hand, no report and no physics."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import nan
from pathlib import Path

import numpy as np

from advisor.checklist import aircraft, revision
from advisor.conditions import Case, Conditions, Place
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.demand import Need, Weather
from advisor.slots.files import pads as pad_files
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover, HoldoverRow
from advisor.slots.files.pads import Closure, Cost, Margin, Pad, Pads, Snow, Stops, Treatment
from advisor.slots.files.schedule import Row
from advisor.slots.model import PlanningProblem
from advisor.slots.night import Night
from advisor.slots.plan import Effort, make
from advisor.slots.result import Plan
from advisor.slots.solver.settle import Settled, settle

NOW = 1_799_557_200  # 2027-01-10T05:00:00Z
FLEET = aircraft.load_profiles()
CHECKLIST = revision.load()
CLASSES = {"small": "light-aircraft", "medium": "single-aisle-jet", "large": "wide-body-jet"}
PLACE = Place("an invented field", None, 60.0, 25.0)
GRID_S = 300


def sky(
    hours: int = 12,
    falling: str | Sequence[tuple[int, str]] = "none",
    air_c: float = -2.0,
    gust_kt: float = 10.0,
    thunder: tuple[int, int] | None = None,
    cases: int = 1,
) -> Conditions:
    """One case or several alike. falling: a category, or (from minute, category) in order; thunder: minutes."""
    times = NOW + GRID_S * np.arange(hours * 12 + 1, dtype=np.float64)
    spans = [(0, falling)] if isinstance(falling, str) else list(falling)
    codes = np.zeros(times.size, dtype=np.int8)
    for minute, name in spans:
        codes[times >= NOW + 60 * minute] = TREATMENT_CATEGORIES.index(name)
    storm = np.zeros(times.size, dtype=np.int8)
    if thunder is not None:
        storm[(times >= NOW + 60 * thunder[0]) & (times <= NOW + 60 * thunder[1])] = 1
    shape = (cases, times.size)
    columns = {
        "treatment_category": np.broadcast_to(codes, shape),
        "frost_margin_c": np.full(shape, -3.0),
        "air_temperature_c": np.full(shape, air_c),
        "gust_kt": np.full(shape, gust_kt),
        "thunderstorm": np.broadcast_to(storm, shape),
        "lightning": np.zeros(shape, dtype=np.int8),
    }
    made = tuple(Case(f"case {at}", "by hand", "central", "invented-default") for at in range(cases))
    return Conditions(times, PLACE.latitude_deg, PLACE.longitude_deg, made, columns)


DRY = sky()


def need(
    flight: str,
    off_block: int,
    *,
    size: str = "medium",
    status: str = "expected",
    removal: int = 10,
    anti: int = 0,
    to_pad: int = 3,
    to_runway: int = 4,
    window: tuple[int, int] | None = None,
    place: str = "",
    ready: int | None = None,
    conditions: Conditions = DRY,
) -> Need:
    """One departure; off_block, ready and window in minutes from NOW."""
    profile = FLEET[CLASSES[size]]
    early, late = (None, None) if window is None else (NOW + 60 * window[0], NOW + 60 * window[1])
    row = Row(
        flight,
        NOW + 60 * off_block,
        profile.id,
        "A1",
        nan,
        to_pad,
        to_runway,
        early,
        late,
        place,
        None if ready is None else NOW + 60 * ready,
    )
    leaving = max(row.off_block, row.ready or 0, NOW)
    if status == "not indicated":
        return Need(row, profile, status, "", 0, 0, 0, to_pad, to_runway, leaving, "by hand", (), conditions)
    return Need(
        row,
        profile,
        status,
        "snow",
        2 if anti else 1,
        removal,
        anti,
        to_pad,
        to_runway,
        leaving,
        "by hand",
        (),
        conditions,
    )


def pad(
    name: str,
    *,
    size: str = "any",
    place: str = "remote",
    hours: tuple[int, int] | None = None,
    wind: float = nan,
    engines: str = "running",
    refill: tuple[int, int] = (0, 0),
) -> Pad:
    """A pad; hours in minutes from NOW."""
    from_s, until_s = (None, None) if hours is None else (NOW + 60 * hours[0], NOW + 60 * hours[1])
    return Pad(name, size, place, from_s, until_s, wind, engines, *refill)


def closure(name: str, first: int, last: int) -> Closure:
    return Closure((name,), NOW + 60 * first, NOW + 60 * last, "by hand")


PLAIN = Cost(
    small=1,
    medium=1,
    large=1,
    late_after_min=240,
    late=0,
    missed_window=60,
    missed_minute=1,
    broken_holdover=90,
    unplanned=1500,
    changed=4,
    changed_minute=0.25,
)


def pads(
    *each: Pad, clear: int = 0, cost: Cost = PLAIN, margin: Margin | None = None, closures: Sequence[Closure] = ()
) -> Pads:
    return Pads(
        "pads.toml",
        tuple(each),
        tuple(closures),
        Treatment(clear_min=clear),
        Snow(),
        margin or Margin(),
        Stops(),
        cost,
        None,
        None,
    )


def table(minutes: Mapping[str, int]) -> Holdover:
    """A holdover table that holds at every temperature, invented for the tests."""
    rows = tuple(HoldoverRow(name, low, low + 10, -60.0) for name, low in minutes.items())  # type: ignore[arg-type]
    return Holdover("holdover.toml", "test", "nobody", "a fluid", "100/0", True, rows)


def night(
    needs: Sequence[Need],
    held: Pads,
    holdover: Holdover | None = None,
    previous: Plan | None = None,
    now: int = NOW,
    actuals: Mapping[str, Actual] | None = None,
) -> Night:
    weather = Weather(read=(), used=(), forecast=None, site=None, place=PLACE, now=now, notes=())  # type: ignore[arg-type]
    return Night(tuple(one.row for one in needs), weather, held, CHECKLIST, FLEET, holdover, previous, actuals or {})


class Ticks:
    """A clock of its own: a step each time it is asked, so that no test waits or depends on the machine."""

    def __init__(self, step: float = 0.0) -> None:
        self.now, self.step = 0.0, step

    def __call__(self) -> float:
        self.now += self.step
        return self.now


def plan(
    needs: Sequence[Need],
    held: Pads,
    holdover: Holdover | None = None,
    *,
    previous: Plan | None = None,
    now: int = NOW,
    reserve_all: bool = False,
    gap: float = 0.0,
    seconds: float = 60.0,
    actuals: Mapping[str, Actual] | None = None,
) -> Plan:
    """Planned to the end."""
    effort = Effort(seconds, Ticks(), gap=gap, nights=8, turns=4)
    about = night(needs, held, holdover, previous, now, actuals)
    return make(about, effort, needs=needs, reserve_all=reserve_all)


def moved(one: Need, now: int = NOW, **changes: int) -> Need:
    """A departure with another off_block or ready, minutes from NOW, seen at another time."""
    row = one.row
    for name, minute in changes.items():
        row = replace(row, **{name: NOW + 60 * minute})
    return replace(one, row=row, earliest=max(row.off_block, row.ready or 0, now))


def minute(stamp: str | None) -> int:
    """Minutes from NOW of a plan's time."""
    from datetime import datetime

    assert stamp is not None
    seconds = datetime.fromisoformat(stamp).timestamp() - NOW
    assert seconds % 60 == 0
    return int(seconds // 60)


def at(made: Plan, flight: str):
    return next(one for one in made.departures if one.flight == flight)


EXAMPLE = Path(__file__).parent.parent.parent / "sample_reports" / "slots"
load_pads = pad_files.load


SMALL_MARGIN = Margin(possible_share=0.4, likely_share=0.8, extra=0.1)


def small_night(seed: int, departures: int = 4, possible: float | None = 0.6) -> tuple[list[Need], Pads]:
    """Departures of all sizes at about the same time on two pads. possible: the share of those, None for half."""
    dice = np.random.default_rng(seed)
    shares = None if possible is None else [1 - possible, possible]
    needs = [
        need(
            f"T{number}",
            int(dice.integers(0, 6)),
            size=str(dice.choice(["small", "medium", "large"])),
            status=str(dice.choice(["expected", "possible"], p=shares)),
            removal=int(dice.integers(3, 7)),
            to_pad=1,
            to_runway=2,
        )
        for number in range(departures)
    ]
    held = pads(pad("P1"), pad("P2", size=str(dice.choice(["any", "small"]))), clear=1, margin=SMALL_MARGIN)
    return needs, held


def settled(problem: PlanningProblem) -> Settled:
    """What the solver settles on for a small night, by a clock of the tests."""
    return settle(
        problem,
        sharing=1,
        seconds=10.0,
        clock=Ticks(),
        gap=0.0,
        stop=lambda: False,
        progress=lambda cost, bound: None,
    )

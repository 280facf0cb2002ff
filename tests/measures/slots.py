"""What a plan of slots is worth when the night is carried out: `python tests/measures/slots.py [NIGHTS] [INSTANCES]`.

Invented banks, the same drawn nights for every way of carrying them out. Not a test: it takes minutes. Its tables
are in SLOTS.md. With `deterministic` or `scale` as the first word: the published cost over its bound; with
`command`: the scale by the command itself, with its time by the clock.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from math import nan
from pathlib import Path

import msgspec
import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "slots"))

from nights import NOW, need, pad, pads, sky, table

from advisor.departure import rfc3339
from advisor.slots import execution
from advisor.slots import order as orders
from advisor.slots.build import build
from advisor.slots.demand import Need
from advisor.slots.field import Field, arrivals, latest_starts
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Cost, Noise, Pads, Runway
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import draw
from advisor.slots.solver.settle import Settled, settle

MINUTES = {"small": (6, 3), "medium": (9, 4), "large": (14, 6)}
HEADS = (
    "row",
    "causes",
    "first come",
    "latest finish",
    "planned starts",
    "plan",
    "known",
    "plan / first come",
    "worst",
    "plan / latest finish",
    "worst",
    "broken: plan, first come",
    "orders",
)
SECONDS, TURNS, LEARN = 4.0, 300, 200


@dataclass(frozen=True)
class Row:
    """A kind of night: what falls, pads, how many departures, statuses, and what a sort cannot see."""

    name: str
    falling: str
    pads: int
    departures: int
    possible: float
    holdover: int
    separation_s: int = 0
    trucks: int = 0
    weights: bool = False
    slots: bool = False
    stop: bool = False
    windows: float = 0.5


ROWS = (
    Row("freezing drizzle certain, 6 pads", "freezing drizzle", 6, 60, 0.0, 25),
    Row("snow certain, 6 pads, runway 90 s", "light snow", 6, 60, 0.0, 25, separation_s=90),
    Row("all possible, 3 pads", "none", 3, 60, 1.0, 45),
    Row("half possible, 4 pads", "none", 4, 60, 0.5, 45),
)
UNSEEN = (
    Row("runway 110 s", "light snow", 6, 60, 0.0, 45, separation_s=110),
    Row("trucks beside pads", "light snow", 4, 60, 0.0, 45, trucks=2),
    Row("weights by size and priority", "light snow", 6, 60, 0.0, 45, weights=True),
    Row("calculated take-off times", "light snow", 6, 60, 0.0, 45, slots=True),
    Row("holdover that runs out", "light snow", 6, 60, 0.0, 22, slots=True),
    Row("a stop of 25 min", "light snow", 6, 60, 0.0, 45, stop=True),
    Row("runway 180 s, holdover 30 min", "light snow", 6, 60, 0.0, 30, separation_s=180),
    Row("runway 90 s, holdover 16 min", "light snow", 6, 60, 0.0, 16, separation_s=90),
)


def bank(row: Row, seed: int) -> tuple[list[Need], Pads, list[Closure], Holdover]:
    """Departures of one bank at about 0.85 to 1 of what the pads can treat, and what they are treated on."""
    dice = np.random.default_rng(1000 + seed)
    over = sky(hours=16, falling=row.falling)
    horizon = int(row.departures * (13 + 2) / (row.pads + row.trucks) / 0.95)
    if row.possible == 1.0:
        horizon = int(horizon * 0.5)
    elif row.possible:
        horizon = int(horizon * 0.75)
    needs = []
    for at in range(row.departures):
        off = int(dice.integers(0, horizon))
        size = str(dice.choice(["small", "medium", "large"], p=[0.2, 0.6, 0.2]))
        removal, anti = MINUTES[size]
        window = None
        if dice.random() < row.windows:
            early = off + int(dice.integers(5, 25))
            window = (early, early + int(dice.integers(15, 40)))
        if row.slots and dice.random() < 0.5:
            early = off + int(dice.integers(20, 45))
            window = (early, early + 15)
        place = "stand" if row.trucks and dice.random() < 0.3 else "remote"
        one = need(
            f"F{at}",
            off,
            size=size,
            status="possible" if dice.random() < row.possible else "expected",
            removal=removal,
            anti=anti,
            to_pad=5,
            to_runway=6,
            window=window,
            place=place if row.trucks else "",
            conditions=over,
        )
        if row.weights:
            own = replace(
                one.row,
                priority=float(dice.choice([0.5, 1.0, 4.0], p=[0.4, 0.4, 0.2])),
                missed_window=float(dice.choice([30.0, 60.0, 240.0])),
            )
            one = replace(one, row=own)
        needs.append(one)
    made = [pad(f"P{at}") for at in range(row.pads)] + [pad(f"T{at}", place="stand") for at in range(row.trucks)]
    stop = [Closure(tuple(one.name for one in made), NOW + 60 * 60, NOW + 85 * 60, "stop")] if row.stop else []
    held = msgspec.structs.replace(
        pads(*made, clear=2, cost=Cost(), closures=stop), runway=Runway(separation_s=row.separation_s)
    )
    return needs, held, stop, table({row.falling: row.holdover} if row.falling != "none" else {"light snow": 45})


def settled(
    needs: list[Need],
    held: Pads,
    stop: list[Closure],
    known: Holdover,
    seconds: float,
    clock: Callable[[], float] = time.monotonic,
) -> tuple[Settled, dict[str, int]]:
    """The plan and its starts by flight, minutes from NOW."""
    built = build(needs, held, stop, known, NOW)
    found = settle(
        built.problem,
        sharing=held.margin.sharing,
        seconds=seconds,
        clock=clock,
        gap=1e-4,
        stop=lambda: False,
        progress=lambda cost, bound: None,
    )
    starts = zip(built.needs, found.starts, strict=True)
    return found, {one.row.flight: start[1] for one, start in starts if start is not None}


def ways(place: Field, starts: dict[str, int], nights: int, seed: int) -> tuple[dict[str, Outcome], str]:
    """Every way of carrying the same nights out, and the published order's name."""
    done = execution.arrange(place, starts, {}, nights=LEARN, turns=TURNS)
    drawn = draw(place.needs, place.pads, nights, 77 + seed)
    planned = np.array([float(starts.get(one.row.flight, nan)) for one in place.needs])
    keys = {
        "plan": done.order.keys,
        "first come": arrivals(place, drawn),
        "latest finish": latest_starts(place),
        "planned starts": np.where(np.isnan(planned), latest_starts(place), planned),
    }
    found = {name: carry_out(place, drawn, one, yields=False) for name, one in keys.items() if name != "plan"}
    found = {"plan": done.order.carried_out(place, drawn), **found}
    known = orders.with_everything_known(
        place,
        drawn,
        list(found.values()),
        list(keys.values()),
        turns=30,
        seed=seed,
        not_before=done.order.not_before,
    )
    held = len(done.not_before)
    return {**found, "known": known}, f"{done.order.name}{', held back' if held else ''}"


def executed(rows: tuple[Row, ...], nights: int, instances: int) -> Iterator[str]:
    """A line a row and cause: realised cost by way, as means over instances, and the worst instance."""
    yield f"| {' | '.join(HEADS)} |"
    yield "|---" * len(HEADS) + "|"
    for row in rows:
        for causes, common in (("independent", 0.0), ("common", 1.0)):
            if common and not row.possible:
                # what is certain is needed whatever the cause: the same nights
                continue
            costs: dict[str, list[float]] = {}
            broken: dict[str, list[float]] = {}
            names = []
            for seed in range(instances):
                needs, held, stop, known = bank(row, seed)
                held = msgspec.structs.replace(held, noise=Noise(common_cause=common))
                _, starts = settled(needs, held, stop, known, SECONDS)
                place = execution.prepare(needs, held, stop, known, NOW, {})
                found, name = ways(place, starts, nights, seed)
                names.append(name)
                for way, outcome in found.items():
                    costs.setdefault(way, []).append(float(outcome.cost.sum(axis=1).mean()))
                    broken.setdefault(way, []).append(float(outcome.broken.sum(axis=1).mean()))
            yield _line(row.name, causes, costs, broken, names)


def _line(
    name: str, causes: str, costs: dict[str, list[float]], broken: dict[str, list[float]], names: list[str]
) -> str:
    mean = {way: float(np.mean(values)) for way, values in costs.items()}
    by_come = np.array(costs["plan"]) / np.array(costs["first come"])
    by_latest = np.array(costs["plan"]) / np.array(costs["latest finish"])
    shown = " | ".join(f"{mean[way]:.0f}" for way in ("first come", "latest finish", "planned starts", "plan", "known"))
    said = ", ".join(f"{names.count(one)} {one}" for one in dict.fromkeys(names))
    return (
        f"| {name} | {causes} | {shown} | {by_come.mean():.3f} | {by_come.max():.3f} | {by_latest.mean():.3f} | "
        f"{by_latest.max():.3f} | {np.mean(broken['plan']):.2f}, {np.mean(broken['first come']):.2f} | {said} |"
    )


def deterministic(instances: int) -> Iterator[str]:
    """Published over bound on mixed nights: 60 departures and 3 pads, 200 and 8, 25 s of the processor's time each."""
    for departures, count in ((60, 3), (200, 8)):
        over = []
        for seed in range(instances):
            row = Row("mixed", "none", count, departures, 0.5, 45)
            needs, held, stop, known = bank(row, seed)
            begun = time.process_time()
            found, _ = settled(needs, held, stop, known, 25.0, time.process_time)
            over.append(found.objective / max(found.bound, 1e-9))
            spent = time.process_time() - begun
            said = f"{found.objective:.1f} over {found.bound:.1f} = {over[-1]:.3f}, first come {found.first_come:.1f}"
            yield f"  {departures}/{count} bank {seed}: {said}, {spent:.0f} s"
        yield f"{departures} departures, {count} pads: mean {np.mean(over):.3f}, worst {max(over):.3f} of {instances}"


def scale() -> Iterator[str]:
    """Banked arrivals, all expected: 300 and 20, 1,000 and 40, 3,000 and 100."""
    for departures, count, seconds in ((300, 20, 25.0), (1000, 40, 60.0), (3000, 100, 120.0)):
        dice = np.random.default_rng(7)
        over = sky(hours=24, falling="none")
        horizon = int(departures * 15 / count / 0.85)
        times = np.sort(dice.random(departures)) * horizon
        # peaks of one and a half times the mean, one every two hours
        times = times - 120 / (2 * np.pi) * 0.5 * np.cos(2 * np.pi * times / 120)
        needs = []
        for at in range(departures):
            size = str(dice.choice(["small", "medium", "large"], p=[0.2, 0.6, 0.2]))
            off, (removal, anti) = max(0, int(times[at])), MINUTES[size]
            window = (off + 15, off + 15 + int(dice.integers(15, 40))) if dice.random() < 0.3 else None
            needs.append(
                need(
                    f"F{at}",
                    off,
                    size=size,
                    removal=removal,
                    anti=anti,
                    to_pad=5,
                    to_runway=6,
                    window=window,
                    conditions=over,
                )
            )
        held = pads(*[pad(f"P{at}") for at in range(count)], clear=2, cost=Cost())
        begun = time.monotonic()
        found, starts = settled(needs, held, [], table({"light snow": 45}), seconds)
        spent = time.monotonic() - begun
        gap = (found.objective - found.bound) / max(found.objective, 1e-9)
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        yield (
            f"{departures} departures, {count} pads: {found.objective:.1f} over {found.bound:.1f}, "
            f"gap {100 * gap:.1f} %, "
            f"{departures - len(starts)} unplanned, {spent:.0f} s, {most:.2f} GB, first come {found.first_come:.1f}"
        )


KINDS = {"small": "light-aircraft", "medium": "single-aisle-jet", "large": "wide-body-jet"}
PRESENT = "2027-01-10T04:55:00Z"


def whole_command() -> Iterator[str]:
    """The same nights from files to a board by the command itself, with the time limit that each aim names."""
    for departures, count, seconds in ((300, 20, 25), (1000, 40, 60), (3000, 100, 120)):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            _files(folder, departures, count)
            words = ["-m", "advisor", "slots", "schedule.csv", "report.txt", "--pads", "pads.toml", "--now", PRESENT]
            begun = time.monotonic()
            done = subprocess.run(
                [sys.executable, *words, "--time-limit", str(seconds), "--format", "json", "--output", "plan.json"],
                cwd=folder,
                env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
                check=False,
            )
            spent = time.monotonic() - begun
            plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6
        yield (
            f"{departures} departures, {count} pads, --time-limit {seconds}: {spent:.1f} s, exit {done.returncode}, "
            f"{plan['objective']:.1f} over {plan['bound']:.1f}, gap {100 * plan['gap']:.1f} %, "
            f"{len(plan['unplanned'])} unplanned, first come {plan['first_come']:.1f}, {most:.2f} GB"
        )


def _files(folder: Path, departures: int, count: int) -> None:
    """Schedule, pads and reports of banked arrivals in light snow."""
    dice = np.random.default_rng(7)
    horizon = int(departures * 15 / count / 0.85)
    times = np.sort(dice.random(departures)) * horizon
    times = times - 120 / (2 * np.pi) * 0.5 * np.cos(2 * np.pi * times / 120)
    lines = ["flight,off_block,aircraft,to_pad_min,to_runway_min,take_off_from,take_off_until"]
    for at in range(departures):
        off = max(0, int(times[at]))
        size = str(dice.choice(["small", "medium", "large"], p=[0.2, 0.6, 0.2]))
        early = off + 15
        window = [rfc3339(NOW + 60 * early), rfc3339(NOW + 60 * (early + int(dice.integers(15, 40))))]
        shown = window if dice.random() < 0.3 else ["", ""]
        lines.append(",".join([f"F{at}", rfc3339(NOW + 60 * off), KINDS[size], "5", "6", *shown]))
    (folder / "schedule.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    each = "".join(f'[[pad]]\nname = "P{at}"\n' for at in range(count))
    minutes = "".join(
        f"{size} = {{ frost = {first}, snow = {first}, ice = {first}, anti_icing = {then} }}\n"
        for size, (first, then) in MINUTES.items()
    )
    plain = "[snow]\nmin_per_mm = 0\ntaxi_light = 1\ntaxi_moderate = 1\ntaxi_heavy = 1\n"
    (folder / "pads.toml").write_text(f'place = "60.30,25.00"\n{each}[treatment]\n{minutes}{plain}', encoding="utf-8")
    reports = "METAR ZZZA 100450Z 23008KT 4000 -SN OVC013 M02/M03 Q1005\n"
    reports += "TAF ZZZA 100405Z 1004/1110 23009KT 4000 -SN OVC014\n"
    (folder / "report.txt").write_text(reports, encoding="utf-8")


def main(words: list[str]) -> None:
    """What is asked for, line by line as it is found."""
    lines: Iterable[str]
    if words[:1] == ["deterministic"]:
        lines = deterministic(int(words[1]) if len(words) > 1 else 25)
    elif words[:1] == ["scale"]:
        lines = scale()
    elif words[:1] == ["command"]:
        lines = whole_command()
    else:
        nights, instances = (int(word) for word in [*words, "1000", "5"][:2]) if len(words) != 1 else (int(words[0]), 5)
        lines = chain(executed(ROWS, nights, instances), [""], executed(UNSEEN, nights, instances))
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])

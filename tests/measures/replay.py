"""What the reduction of a replay costs: its statuses beside those of a brief; REPLAY.md beside this file keeps them.

Run: python tests/measures/replay.py FOLDER [REPORTS [EVERY]]. FOLDER as the corpus folder. Three comparisons, each over
every rule of the default class: one report alone with the same three cases at the same instant; the same with the
station's reports of the day and the day before; and the brief as it is made, all cases and whole windows, a forecast
trend included.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from advisor import places
from advisor.archive import instant, replay
from advisor.archive.part import off_block_in_min
from advisor.archive.table import of_reports
from advisor.archive.windows import DAY_S
from advisor.brief import inputs
from advisor.checklist import aircraft, revision
from advisor.checklist.evaluate import STATUSES, answers, each_time, evaluate
from advisor.conditions import Conditions, Departure, Place, Windows
from advisor.departure import windows_of
from advisor.errors import ReportError
from advisor.outlook import series
from advisor.outlook.build import build
from advisor.outlook.cases import BASE_CASES, Site
from advisor.physics.derive import derive, leading_to
from advisor.report import metar
from advisor.report.model import Report

CHECKLIST = revision.load()
PROFILE = aircraft.load_profiles()[CHECKLIST.default_aircraft]
RULES = CHECKLIST.for_class(PROFILE.class_id)
MINUTES = off_block_in_min(CHECKLIST, PROFILE)
CASES = [BASE_CASES.index(row) for row in instant.choices()]
# rules that what gathered before bears on: there the replay steps from report to report, a brief over minutes
GATHERED = frozenset(
    rule.id for rule in RULES if any(stage.name == "lying" for stage in leading_to(rule.condition.quantities))
)


class Series(NamedTuple):
    """Reports of stations in order, their places and where they stand."""

    reports: list[Report]
    station: np.ndarray
    at_s: np.ndarray
    places: list[Place]


def read(file: Path, every: int = 1) -> Iterator[Report]:
    """Every so many-th report of a corpus file that can be read and has a position."""
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines()):
        if number % every:
            continue
        row = json.loads(line)
        valid = datetime.fromisoformat(row["valid"])
        try:
            report = metar.read(row["raw"], now=valid if valid.tzinfo else valid.replace(tzinfo=UTC))
        except ReportError:
            continue
        usable = any(group.status == "decoded" and group.part in ("body", "remarks") for group in report.groups)
        if usable and not report.nil and places.look_up(report.station) is not None:
            yield report


def alone(reports: Iterable[Report]) -> Series:
    """Each report as a station of its own, without any history."""
    all_ = list(reports)
    at_s = np.array([int(report.issued.timestamp()) for report in all_], dtype=np.int64)
    where = [found for report in all_ if (found := places.look_up(report.station)) is not None]
    return Series(all_, np.arange(len(all_), dtype=np.int32), at_s, where)


def together(reports: Iterable[Report]) -> Series:
    """Reports of a few stations in order."""
    by_station: dict[str, list[Report]] = {}
    for report in reports:
        by_station.setdefault(report.station, []).append(report)
    names = sorted(by_station)
    found = [(at, report) for at, name in enumerate(names) for report in series.in_order(by_station[name])]
    return Series(
        [report for _, report in found],
        np.array([at for at, _ in found], dtype=np.int32),
        np.array([int(report.issued.timestamp()) for _, report in found], dtype=np.int64),
        [place for name in names if (place := places.look_up(name)) is not None],
    )


def replayed(told: Series) -> np.ndarray:
    """Statuses of the replay, (rule, report)."""
    table = of_reports(told.reports)
    made = replay.derived(table, told.station, told.at_s, told.places, PROFILE.airframe(), off_block_in_min=MINUTES)
    return each_time(answers(RULES, made, PROFILE.class_id))


def history(told: Series, at: int) -> list[Report]:
    """The reports of a station from the beginning of the day before up to one of them."""
    begins = told.at_s[at] // DAY_S * DAY_S - DAY_S
    first = at
    while first and told.station[first - 1] == told.station[at] and told.at_s[first - 1] >= begins:
        first -= 1
    return told.reports[first : at + 1]


def same_cases(told: Series, at: int) -> np.ndarray:
    """What a brief's own outlook says at the instant in the same cases, (rule,)."""
    now, place = int(told.at_s[at]), told.places[told.station[at]]
    instant_s, off_block = now + instant.AHEAD_S, now + round(MINUTES * 60)
    departure = Departure(now, place, Windows((instant_s, instant_s), (instant_s, instant_s), off_block, off_block))
    stays = PROFILE.airframe().fuel_stays_cold
    whole = build(history(told, at), departure, site=Site(0.0, 0.0), fuel_stays_cold=stays)
    made = derive(_without_lanes(whole), PROFILE.airframe()).between(instant_s, instant_s)
    return each_time(answers(RULES, made, PROFILE.class_id))[:, 0]


def _without_lanes(whole: Conditions) -> Conditions:
    """Only the replay's cases: the base cases stand first, so that what the trend adds is left out."""
    return whole.picked(CASES)


def whole_brief(told: Series, at: int) -> np.ndarray:
    """The statuses of a brief as it is made, (rule,)."""
    now, place = int(told.at_s[at]), told.places[told.station[at]]
    off_block = now + round(MINUTES * 60)
    windows, _ = windows_of(off_block, now, CHECKLIST.windows[PROFILE.windows], treated=False)
    departure = Departure(now, place, windows)
    known = inputs.Weather(
        read=(), used=tuple(history(told, at)), forecast=None, site=Site(0.0, 0.0), place=place, now=now, notes=()
    )
    made = inputs.conditions(known, departure, PROFILE.airframe()).between(now, windows.take_off)
    found = evaluate(RULES, made, windows, now, PROFILE.class_id)
    return np.array([STATUSES.index(one.status) for one in found], dtype=np.int8)


class Difference(NamedTuple):
    """How statuses differ. pairs: (brief, replay) to counts; rules: id to counts; of: how many there are."""

    pairs: Counter[tuple[str, str]]
    rules: Counter[str]
    of: int


def compare(told: Series, rows: Sequence[int], ask: object) -> Difference:
    """The statuses of a replay beside those that ask gives for each of some rows."""
    found = replayed(told)
    pairs: Counter[tuple[str, str]] = Counter()
    rules: Counter[str] = Counter()
    for at in rows:
        wanted = ask(told, at)  # type: ignore[operator]
        for which in np.flatnonzero(wanted != found[:, at]).tolist():
            pairs[STATUSES[wanted[which]], STATUSES[found[which, at]]] += 1
            rules[RULES[which].id] += 1
    return Difference(pairs, rules, len(rows) * len(RULES))


def table(title: str, reports: int, made: Difference) -> str:
    """One comparison as Markdown."""
    different = sum(made.pairs.values())
    lines = [
        f"## {title}",
        "",
        f"{reports} reports, {made.of} statuses: {different} differ ({100 * different / max(1, made.of):.2f} %).",
        "",
        "| brief | replay | statuses | % |",
        "|---|---|---|---|",
    ]
    for (brief, ours), number in made.pairs.most_common():
        lines.append(f"| {brief} | {ours} | {number} | {100 * number / made.of:.3f} |")
    most = ", ".join(f"{rule} {number}" for rule, number in made.rules.most_common(8))
    return "\n".join([*lines, "", f"Most: {most or 'none'}.", ""])


def main(folder: Path, reports: int, every: int) -> None:
    """Print the three comparisons."""
    told = alone(read(folder / "metars.jsonl"))
    rows = np.linspace(0, len(told.reports) - 1, reports).astype(int).tolist()
    print(table("One report, the same cases, the same instant", len(rows), compare(told, rows, same_cases)))
    told = together(read(folder / "series.jsonl"))
    rows = list(range(0, len(told.reports), every))
    print(table("With the series before it", len(rows), compare(told, rows, same_cases)))
    print(table("The brief as it is made", len(rows), compare(told, rows, whole_brief)))


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[2:]]
    main(Path(sys.argv[1]), *(given + [10_000, 10][len(given) :]))

"""How often does a brief cry wolf, and how often is it silent? By a replay of real reports; OFTEN.md keeps the answer.

Run: python tests/measures/often.py PATH/metars.jsonl. Every report that can be used, of every month, at its own
station, for the default aircraft: one instant an hour after the report, three cases, the station's own series as
history (advisor.archive). What that reduction costs stands in REPLAY.md.
"""

from __future__ import annotations

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from advisor import places as place
from advisor.archive import order, replay
from advisor.archive.files import ArchiveRow as Line
from advisor.archive.instant import AHEAD_S
from advisor.archive.part import off_block_in_min
from advisor.archive.reading import Reader
from advisor.checklist import aircraft, revision
from advisor.checklist.evaluate import CANNOT_TELL, NOT_INDICATED, STATUSES, answers, each_time
from advisor.physics import sun

FROST_LINES = ("de-icing-request", "wing-upper-surface")
# kinds of weather that fall or blow; mist, fog, haze and smoke do not
FALLS = ("DZ", "RA", "SN", "SG", "IC", "PL", "GR", "GS", "UP", "TS", "SQ", "FC")
NIGHT_BELOW_DEG = -6.0
FROST_AT_MOST_C = 15.0
CHUNK = 20_000


class Row(NamedTuple):
    """What the table needs of one report and its replay. sun_deg: height of the sun at the instant of the walk."""

    month: str
    request: str
    told: int
    frost: dict[str, str]
    dry: bool
    no_weather: bool
    temperature_c: float
    spread_c: float
    wind_kt: float
    clear: bool
    low_overcast: bool
    sun_deg: float

    @property
    def cries(self) -> bool:
        """A line asks for frost, as possible or as expected."""
        return bool(self.frost)


class Rate(NamedTuple):
    """A class of dry reports and how often a frost line is meant to come up in it, %."""

    title: str
    holds: Callable[[Row], bool]
    aim: str


RATES = (
    Rate(
        "sun above 15° at the walk, 4 to 8 °C, under 15 kt",
        lambda row: row.sun_deg > 15 and 4 <= row.temperature_c <= 8 and row.wind_kt < 15,
        "at most 6 %",
    ),
    Rate(
        "night (sun below −6° at the walk), 8 to 15 °C",
        lambda row: row.sun_deg < NIGHT_BELOW_DEG and 8 <= row.temperature_c <= 15,
        "at most 4 %",
    ),
    Rate("10 kt and more, +2 to +15 °C", lambda row: row.wind_kt >= 10 and 2 <= row.temperature_c <= 15, "at most 6 %"),
    Rate(
        "night, calm (3 kt or less), clear (no BKN, OVC, VV), 3 °C or less, spread up to 4 °C",
        lambda row: (
            row.sun_deg < NIGHT_BELOW_DEG
            and row.wind_kt <= 3
            and row.clear
            and row.temperature_c <= 3
            and row.spread_c <= 4
        ),
        "at least 65 %",
    ),
    Rate("all from −5 to 15 °C", lambda row: -5 <= row.temperature_c <= 15, ""),
)


def reports(path: Path) -> list[order.Dated]:
    """The reports of a corpus file with a position, in order of station and time, doubled ones once."""
    lines = []
    for text in path.read_text(encoding="utf-8").splitlines():
        row = json.loads(text)
        valid = datetime.fromisoformat(row["valid"])
        lines.append(Line(row["raw"], valid if valid.tzinfo else valid.replace(tzinfo=UTC)))
    usable, _ = order.dated(lines)
    by_moment = {(one.station, one.at): one for one in order.in_order(usable)}
    return [one for one in by_moment.values() if place.look_up(one.station) is not None]


def rows(path: Path) -> Iterator[Row]:
    """Every report's row, station by station."""
    found = reports(path)
    reader, start = Reader(), 0
    while start < len(found):
        end = min(len(found), start + CHUNK)
        while end < len(found) and found[end].station == found[end - 1].station:
            end += 1
        yield from _replayed(found[start:end], reader)
        start = end


def _replayed(found: list[order.Dated], reader: Reader) -> Iterator[Row]:
    names = sorted({one.station for one in found})
    position = {name: at for at, name in enumerate(names)}
    station = np.array([position[one.station] for one in found], dtype=np.int32)
    at_s = np.array([int(one.at.timestamp()) for one in found], dtype=np.int64)
    read = reader.read([one.text for one in found], names, station, at_s)
    kept = np.flatnonzero(read.usable)
    table, station, at_s = read.table.picked(kept), station[kept], at_s[kept]
    where = [found for name in names if (found := place.look_up(name)) is not None]
    checklist = revision.load()
    profile = aircraft.load_profiles()[checklist.default_aircraft]
    made = replay.derived(
        table,
        station,
        at_s,
        where,
        profile.airframe(),
        off_block_in_min=off_block_in_min(checklist, profile),
    )
    rules = checklist.for_class(profile.class_id)
    status = each_time(answers(rules, made, profile.class_id))
    lines = {rule.id: row for rule, row in zip(rules, status, strict=True)}
    told = (status < STATUSES.index(CANNOT_TELL)).sum(axis=0)
    cold = made.number("air_temperature_c") <= FROST_AT_MOST_C
    frost = np.any(cold & (made.number("frost_margin_c") > 0), axis=0)
    elevation = sun.elevation_deg(at_s + AHEAD_S, np.asarray(made.latitude_deg), np.asarray(made.longitude_deg))
    for at in range(len(table)):
        codes = table.weather_sets[table.weather[at]]
        falls = [code for code in codes if any(kind in code for kind in FALLS)]
        known = not table.weather_missing[at]
        quiet = known and not table.told[at] and not table.recent_missing[at]
        words = {name: STATUSES[lines[name][at]] for name in FROST_LINES}
        cries = {name: word for name, word in words.items() if word not in (CANNOT_TELL, NOT_INDICATED)}
        covered = float(table.cloud_central[at])
        request = words["de-icing-request"]
        yield Row(
            f"{datetime.fromtimestamp(int(at_s[at]), UTC):%Y-%m}",
            "" if request == NOT_INDICATED else request,
            int(told[at]),
            cries if frost[at] else {},
            not falls and quiet,
            not codes and quiet,
            float(table.temperature_c[at]),
            float(table.temperature_c[at] - table.dew_point_c[at]),
            float(table.wind_kt[at]),
            bool(table.sky_known[at]) and covered < 0.6,
            covered == 1.0 and float(table.base_m[at]) < 1500,
            float(elevation[at]),
        )


def table(found: Iterable[Row]) -> str:
    """The tables as Markdown."""
    month: dict[str, Counter[str]] = defaultdict(Counter)
    windy: Counter[str] = Counter()
    lines: Counter[int] = Counter()
    classes = [Counter[str]() for _ in RATES]
    for row in found:
        tally = month[row.month]
        tally["briefs"] += 1
        lines[row.told] += 1
        tally["over 12 lines"] += row.told > 12
        tally[row.request] += 1
        # below +10 °C, no precipitation, and wind over 10 kt or overcast below 1500 m
        if row.no_weather and row.temperature_c < 10 and (row.wind_kt > 10 or row.low_overcast):
            windy["briefs"] += 1
            windy["possible frost"] += "possible" in row.frost.values()
        for rate, counted in zip(RATES, classes, strict=True):
            if row.dry and rate.holds(row):
                counted["briefs"] += 1
                counted["frost"] += row.cries
    columns = ("expected", "likely", "possible", "cannot tell", "over 12 lines")
    out = [f"| month | briefs | de-icing request {' | '.join(columns)} |", "|---|---|---|---|---|---|---|"]
    for name, tally in sorted(month.items()):
        shares = [f"{100 * tally[key] / tally['briefs']:.1f} %" for key in columns]
        out.append(f"| {name} | {tally['briefs']} | " + " | ".join(shares) + " |")
    out += [
        "",
        "| nothing falls, nothing recent, weather known | briefs | frost possible or expected | aim |",
        "|---|---|---|---|",
    ]
    for rate, counted in zip(RATES, classes, strict=True):
        share = 100 * counted["frost"] / max(1, counted["briefs"])
        out.append(f"| {rate.title} | {counted['briefs']} | {counted['frost']} ({share:.1f} %) | {rate.aim} |")
    share = 100 * windy["possible frost"] / max(1, windy["briefs"])
    out += [
        "",
        f"Below +10 °C, nothing falling, wind over 10 kt or overcast below 1500 m: {windy['briefs']} briefs, "
        f"{share:.1f} % with a possible frost line (at most a third is the aim).",
    ]
    middle = sorted(lines.elements())
    out.append(f"Lines told: median {middle[len(middle) // 2]}, 90th percentile {middle[len(middle) * 9 // 10]}.")
    return "\n".join(out) + "\n"


if __name__ == "__main__":
    sys.stdout.write(table(rows(Path(sys.argv[1]))))

"""How often does a brief cry wolf? Over real reports at their own times; OFTEN.md beside this file keeps the answer.

Run: python tests/measures/often.py PATH/metars.jsonl [EVERY [PROCESSES]]. Each report is briefed as if issued 20
minutes ago for an off-block time an hour ahead, at its own station, for the default aircraft.
"""

from __future__ import annotations

import json
import multiprocessing
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from functools import partial
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from advisor import advise
from advisor import places as place
from advisor.brief.model import Brief
from advisor.errors import AdvisorError
from advisor.physics import sun
from advisor.report import metar
from advisor.report.model import Report

FROST_LINES = ("de-icing-request", "wing-upper-surface")
FROST = {"frost_margin_c", "tank_frost_margin_c"}
# kinds of weather that fall or blow; mist, fog, haze and smoke do not
FALLS = ("DZ", "RA", "SN", "SG", "IC", "PL", "GR", "GS", "UP", "TS", "SQ", "FC")
NIGHT_BELOW_DEG = -6.0
CHUNK = 100


class Row(NamedTuple):
    """What the table needs of one report and its brief. sun_deg: height of the sun in the middle of the walk round."""

    month: str
    request: str
    told: int
    frost: dict[str, tuple[str, str]]
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


def brief_of(line: str) -> tuple[Report, Brief] | None:
    """A report with the brief of an hour ahead; None for an unknown station or without a usable group."""
    row = json.loads(line)
    try:
        report = metar.read(row["raw"], now=datetime.fromisoformat(row["valid"]))
        now = report.issued + timedelta(minutes=20)
        where = place.look_up(report.station)
        if where is None:
            return None
        return report, advise([report], now=now, off_block=now + timedelta(minutes=60), place=where)
    except AdvisorError:
        return None


def _row(report: Report, brief: Brief) -> Row:
    request = next((line.status for line in brief.advice if line.id == "de-icing-request"), "")
    frost = {
        line.id: (line.status, line.case)
        for line in brief.advice
        if line.id in FROST_LINES
        and line.status != "cannot tell"
        and any(item.quantity in FROST for item in line.because)
    }
    start, end = (datetime.fromisoformat(at).timestamp() for at in brief.windows.walk_round)
    covers = [layer.cover for layer in report.cloud]
    falls = [code for code in report.weather if any(kind in code for kind in FALLS)]
    return Row(
        f"{report.issued:%Y-%m}",
        request,
        sum(line.status != "cannot tell" for line in brief.advice),
        frost,
        not falls and not report.weather_missing and not report.recent_weather,
        not report.weather and not report.weather_missing and not report.recent_weather,
        report.temperature_c,
        report.temperature_c - report.dew_point_c,
        report.wind_kt,
        report.sky != "missing" and not {"BKN", "OVC", "VV"} & set(covers),
        any(layer.cover in ("OVC", "VV") and layer.base_ft < 1500 / 0.3048 for layer in report.cloud),
        float(sun.elevation_deg((start + end) / 2, brief.place.latitude_deg, brief.place.longitude_deg)),
    )


def _rows_of(lines: list[str]) -> list[Row]:
    return [_row(*made) for made in map(brief_of, lines) if made is not None]


def rows(path: Path, every: int, processes: int) -> Iterator[Row]:
    """Every so many-th report's row, in the order of the file."""
    with path.open(encoding="utf-8") as file, multiprocessing.Pool(processes) as pool:
        chosen = islice(file, 0, None, every)
        for found in pool.imap(_rows_of, iter(partial(_take, chosen), [])):
            yield from found


def _take(lines: Iterator[str]) -> list[str]:
    return list(islice(lines, CHUNK))


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
            windy["possible frost"] += any(status == "possible" for status, _ in row.frost.values())
        for rate, counted in zip(RATES, classes, strict=True):
            if row.dry and rate.holds(row):
                counted["briefs"] += 1
                counted["frost"] += row.cries
    columns = ("expected", "possible", "cannot tell", "over 12 lines")
    out = [f"| month | briefs | de-icing request {' | '.join(columns)} |", "|---|---|---|---|---|---|"]
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
    every, processes = ([int(word) for word in sys.argv[2:]] + [1, 2][len(sys.argv) - 2 :])[:2]
    sys.stdout.write(table(rows(Path(sys.argv[1]), every, processes)))

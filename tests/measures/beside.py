"""A whole replay by the clock, with python-metar's parsing of some of the same reports beside it in the same run.

    python -m tests.measures.beside FOLDER [--places FILE] [--workers N] [--sample N]

FOLDER holds CSV files with the columns valid and metar. python-metar parses a seeded sample of them before the replay
and after it, in one process and with nothing else; what it reads is parsed as it stands, with the year and month of its
row. Prints reports a second of both, and how many times the one is of the other. What it came to stands in SPEED.md.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import subprocess
import sys
import time
import warnings
from collections.abc import Sequence
from pathlib import Path

from metar.Metar import Metar, ParserError

Row = tuple[int, int, str]


def sampled(files: Sequence[Path], count: int, seed: int = 1) -> list[Row]:
    """Year, month and text of reports drawn from all files alike."""
    draw, rows = random.Random(seed), []
    each = -(-count // len(files))
    for file in files:
        with file.open(encoding="utf-8", newline="") as lines:
            told = [(row["valid"], row["metar"]) for row in csv.DictReader(lines)]
        rows += draw.sample(told, min(each, len(told)))
    draw.shuffle(rows)
    return [(int(valid[:4]), int(valid[5:7]), text) for valid, text in rows[:count]]


def parsed_a_second(rows: Sequence[Row]) -> float:
    """Reports that python-metar parses in a second by the clock; it warns of groups that it cannot read."""
    began = time.monotonic()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for year, month, text in rows:
            try:
                Metar(text, month=month, year=year, strict=False)
            except ParserError:
                continue
    return len(rows) / (time.monotonic() - began)


def replayed(folder: Path, places: Path | None, workers: int) -> tuple[int, float]:
    """Reports that the command replayed, and seconds by the clock from the start of its process to the end."""
    command = [sys.executable, "-m", "advisor", "replay", str(folder), "--format", "json", "--workers", str(workers)]
    began = time.monotonic()
    done = subprocess.run(
        command + (["--places", str(places)] if places else []), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    took = time.monotonic() - began
    done.check_returncode()
    return int(json.loads(done.stdout)["read"]), took


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--places", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--sample", type=int, default=200_000)
    given = parser.parse_args()
    rows = sampled(sorted(given.folder.glob("*.csv")), given.sample)
    before = parsed_a_second(rows)
    reports, seconds = replayed(given.folder, given.places, given.workers)
    after = parsed_a_second(rows)
    rate, alone = reports / seconds, (before + after) / 2
    print(f"{reports:,} reports in {seconds:.1f} s with {given.workers} workers: {rate:,.0f} a second")
    print(f"python-metar alone {before:,.0f} before and {after:,.0f} after, {len(rows):,} of the same reports")
    print(f"{rate / alone:.2f} times")


if __name__ == "__main__":
    main()

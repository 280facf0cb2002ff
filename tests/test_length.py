"""Four times as long takes about four times as long: schedules, what has happened, checklists, conditions, bulletins.

What is gated is a ratio within one run, of processor time, the least of three.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor.checklist import aircraft, revision
from advisor.checklist.language.condition import compile_condition
from advisor.errors import AdvisorError
from advisor.report import reading
from advisor.slots.files import actuals, schedule

sys.path.append(str(Path(__file__).parent / "checklist"))

NOW = datetime(2027, 1, 10, 5, tzinfo=UTC)
FLEET = tuple(aircraft.load_profiles())
# four times a line; sixteen times were the square of it
MOST = 9.0


def took(work: Callable[[], object]) -> float:
    """Least processor time of three runs."""
    times = []
    for _ in range(3):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


def rows(count: int, good: bool) -> str:
    lines = ["flight,off_block,aircraft"]
    for at in range(count):
        leaving = NOW + timedelta(minutes=30 + at % 400)
        lines.append(f"ZZ{at},{leaving:%Y-%m-%dT%H:%M:%SZ},{'glider' if good else 'no such one'}")
    return "\n".join(lines) + "\n"


def read_rows(count: int, good: bool) -> None:
    try:
        schedule.parse(rows(count, good), "s.csv", FLEET, int(NOW.timestamp()))
    except AdvisorError:
        assert not good


def happened(count: int) -> Callable[[], object]:
    read = schedule.parse(rows(count, True), "s.csv", FLEET, int(NOW.timestamp()))
    text = "flight,at_pad\n" + "".join(f"ZZ{at},2027-01-10T04:00:00Z\n" for at in range(count))
    return lambda: actuals.parse(text, "a.csv", read, ("P1",), int(NOW.timestamp()))


@pytest.mark.parametrize("good", [True, False], ids=["good", "faulty"])
def test_a_schedule_takes_time_in_proportion_to_its_rows(good: bool) -> None:
    few, many = (took(lambda count=count: read_rows(count, good)) for count in (300, 1200))
    assert many < MOST * few


def test_what_has_happened_takes_time_in_proportion_to_its_rows() -> None:
    few, many = (took(happened(count)) for count in (300, 1200))
    assert many < MOST * few


@pytest.mark.parametrize("fault", [False, True], ids=["good", "faulty"])
def test_a_checklist_takes_time_in_proportion_to_its_rules(tmp_path: Path, fault: bool) -> None:
    from folders import advice

    spent = []
    # so many that the shipped rules, which are loaded with them, weigh little
    for count in (240, 960):
        folder = tmp_path / f"{count}"
        folder.mkdir()
        written = [advice(f"our-rule-{at}", when=f'"gust_kt >= 28{" bananas" * fault}"') for at in range(count)]
        head = '[checklist]\nname = "Ours"\nrevision = "1"\n'
        (folder / "rules.toml").write_text(head + "\n".join(written), encoding="utf-8")

        def load(folder: Path = folder) -> None:
            try:
                revision.load(folder)
            except AdvisorError:
                assert fault

        spent.append(took(load))
    alone = took(revision.load)
    assert spent[1] - alone < MOST * (spent[0] - alone)


def test_a_condition_takes_time_in_proportion_to_its_length() -> None:
    few, many = (
        took(lambda count=count: [compile_condition(" or ".join(["gust_kt >= 28"] * count)) for _ in range(20)])
        for count in (25, 100)
    )
    assert many < MOST * few


def test_a_bulletin_takes_time_in_proportion_to_its_reports() -> None:
    one = "METAR ZZZA 10{:02d}{:02d}Z 24008KT 9999 -SN FEW020 M00/M02 Q1013=\n"
    few, many = (
        took(
            lambda count=count: reading.read_all("".join(one.format(at // 60, at % 60) for at in range(count)), now=NOW)
        )
        for count in (60, 240)
    )
    assert many < MOST * few

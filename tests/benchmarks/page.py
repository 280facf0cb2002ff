"""Writes BENCHMARKS.md: every measure of tests/benchmarks run once, with its aim, the ratio that gates it, the date.

    python -m tests.benchmarks.page [--write] [--again]

What takes hours is not run again: it stands in long.toml with the command that measured it and the day. With --again
nothing is run: the figures are those that stand on the page, for a change of words. The machine is told in words. Tests
compare the measures that are there with those that the page has a goal for, and the aims with the figures.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import subprocess
import sys
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks.aims import BY_TEST, FLAT, MISSED, NOT_RUN, UNMEASURED, Aim, Figure, Stated, from_row, verdict

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PAGE = ROOT / "BENCHMARKS.md"
LONG = HERE / "long.toml"
NO_FIGURE = "no figure"
# where the line stands that sums up; what it says is known at the end
SUMMARY = "aims"


class Measure(NamedTuple):
    """A row. gate: the ratio that fails the test; aim: how the goal is found in what was measured, [] for none."""

    what: str
    goal: str
    gate: str
    aim: Aim


# in the order of the page
GOALS = {
    "test_startup::test_a_brief_starts_in_about_the_time_of_its_libraries": Measure(
        "`advisor brief` as a process",
        "twice its libraries alone",
        "2.0 times, processor time",
        [Figure(r"ratio ([\d.]+) of processor time", most=2)],
    ),
    "test_advise::test_a_brief_of_one_report_takes_less_than_twenty_milliseconds": Measure(
        "`advise()`, one report",
        "20 ms",
        "1.6 times 600 reports by python-metar",
        [Figure(r"advise\(\): ([\d.]+) ms", most=20)],
    ),
    "test_advise_ahead::test_a_day_of_reports_and_a_long_forecast_cost_a_few_briefs_of_one_report": Measure(
        "`advise()`, a day of reports and a 30-hour forecast",
        "60 ms",
        "3 times a brief of one report",
        [Figure(r"forecast: ([\d.]+) ms", most=60)],
    ),
    "test_derive_speed::test_derive_over_forty_times_costs_a_bounded_number_of_exponentials": Measure(
        "all physics over a brief's times",
        "5 ms",
        "25,000 bare exponentials of one table",
        [Figure(r"times: ([\d.]+) ms", most=5)],
    ),
    "test_reading::test_the_ledger_and_reading_keep_their_pace_beside_python_metar": Measure(
        "reading METAR, every group told",
        "12,000 a second, with python-metar beside it 8,000",
        "1.5 and 2.2 times python-metar alone",
        [
            Figure(r"ledger alone ([\d,]+)/s", least=12_000),
            Figure(r"python-metar and kept ([\d,]+)/s", least=8_000),
        ],
    ),
    "test_reading::test_long_rubbish_takes_time_in_proportion_to_its_length": Measure(
        "reading what is no report",
        "time in proportion to its length",
        "10 times for four times the length",
        Stated(UNMEASURED, "its test asks for less, and prints no figure"),
    ),
    "test_taf_speed::test_reading_a_forecast_keeps_its_ratio_to_parsing_its_groups_from_json": Measure(
        "reading TAF",
        "3,000 a second",
        "60 times its groups from JSON",
        [Figure(r"([\d,]+) forecasts a second", least=3_000)],
    ),
    "test_taf_speed::test_reading_xml_is_reported": Measure(
        "reading XML",
        "none",
        "none: reported",
        [],
    ),
    "test_rules::test_compiling_a_rule_costs_no_more_than_a_few_bare_parses": Measure(
        "sixty conditions compiled",
        "10 ms",
        "12 times Python's own parser",
        [Figure(r"sixty rules: ([\d.]+) ms", most=10)],
    ),
    "test_rules::test_rules_evaluated_together_cost_less_than_one_by_one": Measure(
        "sixty conditions over 24 cases and 76 times",
        "10 ms",
        "less than one by one",
        [Figure(r"([\d.]+) ms together", most=10)],
    ),
    "test_rules::test_evaluation_grows_no_faster_than_the_table": Measure(
        "the same over ten times the table",
        "in proportion",
        "30 times",
        [Figure(r"ten times the table: ([\d.]+) times", most=10)],
    ),
    "test_rules::test_loading_the_shipped_rules_costs_little_beside_reading_their_toml": Measure(
        "the shipped rules loaded",
        "12 ms",
        "12 times their TOML alone",
        [Figure(r"shipped rules: ([\d.]+) ms", most=12)],
    ),
    "test_rules::test_comparing_long_conditions_takes_no_longer_than_loading_rules": Measure(
        "two long conditions compared",
        "none",
        "20 times loading the rules",
        [],
    ),
    "test_desk_speed::test_a_check_of_all_shipped_rules_costs_a_bounded_multiple_of_reading_them": Measure(
        "`checklist check` of what is shipped",
        "3 s",
        "250 times its TOML alone",
        [Figure(r"folder: ([\d.]+) s", most=3)],
    ),
    "test_desk::test_two_whole_folders_are_compared_with_witnesses_in_the_time_of_some_briefs": Measure(
        "`checklist compare` of two whole folders",
        "3 s",
        "214 briefs",
        [Figure(r"folders: (\d+) ms", most=3, unit=0.001)],
    ),
    "test_desk::test_coverage_takes_the_time_of_some_briefs": Measure(
        "`checklist coverage`",
        "5 s",
        "357 briefs",
        [Figure(r"shipped: (\d+) ms", most=5, unit=0.001)],
    ),
    "test_desk::test_a_print_takes_less_than_its_comparison": Measure(
        "`checklist print` as text, HTML, PDF",
        "none",
        "40, 40 and 214 briefs",
        [],
    ),
    "test_render::test_pictures_and_sheets_keep_their_ratio_to_making_the_brief": Measure(
        "pictures, page and sheet of a brief",
        "5 ms a picture, 150 ms the PDF",
        "2, 1, 3 and 60 briefs",
        [Figure(r"(?:timeline|stand) ([\d.]+) ms", most=5), Figure(r"PDF ([\d.]+) ms", most=150)],
    ),
    "test_replay_speed::test_a_replay_chunk_costs_a_bounded_number_of_exponentials": Measure(
        "physics of a replay, three cases a report",
        "300,000 reports a second and core",
        "4,000 bare exponentials",
        [Figure(r"([\d,]+) reports a second", least=300_000)],
    ),
    "test_archive_speed::test_a_replay_is_faster_than_parsing_alone_and_twice_the_rows_take_twice_the_time": Measure(
        "a replay from CSV to counts, all rules",
        "4 times python-metar's parsing alone, a core",
        "1.5 times; 2.3 for twice the rows",
        [Figure(r"all rules, ([\d.]+) times", least=4)],
    ),
    "test_archive_speed::test_memory_is_bounded_by_the_part_not_by_the_archive": Measure(
        "memory of a replay",
        "that of a part",
        "1.35 for twice the rows",
        [Figure(r"(\d+) and (\d+) MB", most=FLAT)],
    ),
    "test_slots::test_a_bank_of_forty_is_proven_within_one_percent_and_far_better_than_first_come": Measure(
        "slots, 40 departures and 4 pads",
        "a proven gap of 1 %",
        "1 %, and cheaper than first come",
        BY_TEST,
    ),
    "test_web::test_sixteen_connections_meet_no_error_and_no_starvation": Measure(
        "the server, 16 connections",
        "40 briefs a second, no error",
        "no connection twice another",
        [Figure(r"briefs: a second ([\d.]+)", least=40)],
    ),
    "test_web::test_health_answers_while_briefs_are_made": Measure(
        "the server's health beside briefs",
        "answers at once",
        "half a brief's time",
        Stated(UNMEASURED, "its test asks for less, and prints no figure"),
    ),
    "test_web::test_memory_stays_within_the_store_s_bound": Measure(
        "briefs kept in memory",
        "a bound",
        "1.02 for twice the briefs",
        BY_TEST,
    ),
    "test_record_speed::test_findings_reach_half_of_a_bare_loop_when_telephones_send_what_waited": Measure(
        "findings written, 25 a request",
        "half a bare SQLite loop",
        "0.5; one a request 0.03; briefs 0.6 of those in memory",
        [Figure(r"bare rows ([\d.]+).* 25 a request ([\d.]+)", least=0.5)],
    ),
}
# measures of something else than speed, each with a page of its own
ELSEWHERE = {
    "edits of the code that no test notices": "tests/benchmarks/MUTANTS.md",
    "mutated texts on everything that reads": "tests/fuzz/FINDINGS.md",
    "reading beside a service's own decode of real reports": "tests/report/DIFFERENCES.md",
    "the temperature ahead": "tests/calibration/coverage.md",
    "how often a brief cries wolf": "tests/measures/OFTEN.md",
    "what came true over series of reports": "tests/measures/SERIES.md",
    "a replay beside briefs": "tests/measures/REPLAY.md",
    "what a plan of slots is worth carried out": "tests/measures/SLOTS.md",
    "parts, licences, sizes, import times": "tests/measures/SUPPLY.md",
}
# it runs only when asked for, and stands in long.toml
BY_HAND = ("test_slots::test_large_banks_reach_their_gap",)


def machine() -> str:
    """The machine in words: no name of it, of its owner or of a path."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    cores = len(os.sched_getaffinity(0))
    program = f"{platform.system()}, Python {platform.python_version()}"
    return f"{cores} cores ({platform.machine()}), {memory:.0f} GB, {program}"


def measured() -> dict[str, list[tuple[str, bool]]]:
    """What each measure printed, and whether its ratio held, by measure."""
    command = [sys.executable, "-m", "pytest", "-vv", "-s", "--no-header", "-p", "no:cacheprovider", "tests/benchmarks"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    found: dict[str, list[tuple[str, bool]]] = {}
    pattern = r"^tests/benchmarks/(test_\w+)\.py::(\w+)(\[[^\]]*\])? (.*?)(PASSED|FAILED|SKIPPED|ERROR)"
    for file, test, _, said, end in re.findall(pattern, done.stdout, re.M | re.S):
        if end != "SKIPPED":
            words = "; ".join(" ".join(line.split()) for line in said.splitlines() if line.strip())
            found.setdefault(f"{file}::{test}", []).append((words, end == "PASSED"))
    return found


def day_of(on: datetime, before: float, after: float) -> str:
    """When and where it was measured. before, after: the load of other work."""
    return f"{on:%d %B %Y}, {machine()}; load of other work {before:.1f} at the beginning and {after:.1f} at the end."


def cells(line: str) -> list[str]:
    """The cells of a row of a table."""
    return line.strip("| ").split(" | ")


def stood(text: str) -> tuple[dict[str, list[tuple[str, bool]]], str]:
    """What a page says was measured, by measure, and when. Raises KeyError for a row of no measure."""
    names = {measure.what: name for name, measure in GOALS.items()}
    found: dict[str, list[tuple[str, bool]]] = {}
    for line in text.split("## ")[0].splitlines():
        if line.startswith("| ") and not line.startswith(("| what", "| ---")):
            what, said, *_, held = cells(line)
            found.setdefault(names[what], []).append(("" if said == NO_FIGURE else said, held == "yes"))
    return found, next(line for line in text.splitlines() if re.match(r"\d\d \w+ 20\d\d, ", line))


def page(found: dict[str, list[tuple[str, bool]]], when: str) -> str:
    """The page. when: the line of day, machine and load."""
    rows = [
        "# What was measured",
        "",
        "Written by `python -m tests.benchmarks.page --write`, which runs every measure of `tests/benchmarks` once.",
        "What fails a test is a ratio within one run; the figures depend on the machine and on what else it does, and",
        "are only reported. Whether they reach the goal stands under aim, apart from whether the ratio held. What is",
        f"to stay flat, or as large as a part, may grow by {100 * (FLAT - 1):.0f} %.",
        "",
        when,
        "",
        SUMMARY,
        "",
        "| what | measured | goal | aim | ratio that may not be passed | ratio held |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for name, (what, goal, gate, aim) in GOALS.items():
        for said, held in found.get(name, [(NOT_RUN, False)]):
            told = verdict(aim, said, held=held)
            rows.append(f"| {what} | {said or NO_FIGURE} | {goal} | {told} | {gate} | {'yes' if held else 'no'} |")
    # one of many inputs that prints nothing says what the others say
    rows = [row for at, row in enumerate(rows) if not row.startswith("| ") or row not in rows[:at]]
    rows += [
        "",
        "## What takes long",
        "",
        "Run by hand, each by its command, on the day that stands there.",
        "",
        "| what | measured | goal | aim | command | day |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for row in tomllib.loads(LONG.read_text(encoding="utf-8"))["measure"]:
        told = verdict(from_row(row), row["measured"], note=row.get("note", ""))
        columns = (row["what"], row["measured"], row["goal"], told, f"`{row['command']}`", str(row["day"]))
        rows.append(f"| {' | '.join(columns)} |")
    missed = list(dict.fromkeys(row.split(" | ")[0][2:] for row in rows if f" | {MISSED}" in row))
    rows[rows.index(SUMMARY)] = f"Aims that are not reached: {'; '.join(missed) or 'none'}."
    rows += ["", "## Elsewhere", "", *(f"- {what}: `{where}`" for what, where in ELSEWHERE.items())]
    return "\n".join(rows) + "\n"


def main() -> int:
    """Measure and print, or write; 1 where a ratio was passed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help=f"into {PAGE.name}")
    parser.add_argument("--again", action="store_true", help="from the figures that stand there; nothing is measured")
    given = parser.parse_args()
    if given.again:
        found, when = stood(PAGE.read_text(encoding="utf-8"))
    else:
        before = os.getloadavg()[0]
        found = measured()
        # the measures' own work is a part of it, one of two cores or less
        when = day_of(datetime.now(UTC), before, os.getloadavg()[0])
    said = page(found, when)
    if given.write:
        PAGE.write_text(said, encoding="utf-8")
    else:
        print(said, end="")
    return 0 if all(held for name in GOALS for _, held in found.get(name, [("", False)])) else 1


if __name__ == "__main__":
    sys.exit(main())

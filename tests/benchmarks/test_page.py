"""BENCHMARKS.md has every measure with a goal, says which are reached; README has no figure beside it."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest

from tests.benchmarks.aims import BY_TEST, UNMEASURED, Aim, Figure, Stated, from_row, verdict
from tests.benchmarks.page import BY_HAND, ELSEWHERE, GOALS, HERE, LONG, NO_FIGURE, PAGE, ROOT, cells, page, stood

FIGURE = re.compile(
    r"\b\d[\d,.]* ?(?:ms|s|min|MB|GB|seconds?|minutes?|µs)\b(?! *(?:before|after|ahead|old|off))"
    r"|\b\d[\d,.]* (?:reports|briefs|departures|findings) (?:a|per) second"
)


def test_every_measure_has_its_goal_and_its_ratio_on_the_page() -> None:
    there = {
        f"{path.stem}::{name}"
        for path in HERE.glob("test_*.py")
        if path.name != "test_page.py"
        for name in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.M)
    }
    assert there == set(GOALS) | set(BY_HAND)
    page = PAGE.read_text(encoding="utf-8")
    for what, goal, ratio, _ in GOALS.values():
        row = rf"^\| {re.escape(what)} \| .+ \| {re.escape(goal)} \| .+ \| {re.escape(ratio)} \| (yes|no) \|$"
        assert re.search(row, page, re.M), what


def test_the_page_says_day_machine_and_commands_and_no_name_or_path() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert re.search(r"^\d\d \w+ 20\d\d, \d+ cores", page, re.M)
    assert all((ROOT / where).is_file() and where in page for where in ELSEWHERE.values())
    assert not re.search(r"(?<![\w.])/(?:work|home|root|tmp|usr)\b", page)
    for row in tomllib.loads(LONG.read_text(encoding="utf-8"))["measure"]:
        assert row["what"] in page and row["command"] in page and f"{row['day']}" in page


def test_the_readme_quotes_no_figure_that_is_not_on_the_page() -> None:
    page = PAGE.read_text(encoding="utf-8")
    prose = re.sub(r"```.*?```|`[^`]*`", "", (ROOT / "README.md").read_text(encoding="utf-8"), flags=re.S)
    assert [figure for figure in FIGURE.findall(prose) if figure not in page] == []


# aims


def long_rows() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = tomllib.loads(LONG.read_text(encoding="utf-8"))["measure"]
    return rows


def aims() -> dict[str, Aim]:
    """By what the row is called."""
    return {one.what: one.aim for one in GOALS.values()} | {row["what"]: from_row(row) for row in long_rows()}


def goals() -> dict[str, str]:
    return {one.what: one.goal for one in GOALS.values()} | {row["what"]: row["goal"] for row in long_rows()}


def told_otherwise(text: str) -> list[str]:
    """What the rows are called of which the page says something else than their own figures give."""
    wrong = []
    for line in text.split("## Elsewhere")[0].splitlines():
        if line.startswith("| ") and not line.startswith(("| what", "| ---")):
            what, measured, _, told, *_, last = cells(line)
            figures = verdict(aims()[what], measured, held=last != "no")
            if told.split(":")[0] != figures.split(":")[0]:
                wrong.append(what)
    return wrong


def test_the_page_says_of_each_aim_what_the_figures_beside_it_give() -> None:
    assert told_otherwise(PAGE.read_text(encoding="utf-8")) == []


# figures that miss their aim, by row: what stands there, and what would
MISSING = {
    "`advise()`, a day of reports and a 30-hour forecast": (r"forecast: [\d.]+ ms", "forecast: 60.5 ms"),
    "a replay from CSV to counts, all rules": (r"[\d.]+ times python-metar", "3.99 times python-metar"),
    "slots, 300 departures and 8 pads": (r"^\S+", "1.01,"),
    "the server, 16 connections, 60 s": (r"^[\d.]+ briefs", "39.9 briefs"),
    "the server's memory under briefs alone": (r"^\d+ MB", "133 MB"),
    "coefficients whose third digit may change unnoticed": ("^none of", "2 of"),
    "200 kills of the server with eight clients that write": (r": [\d,]+ of [\d,]+", ": 11,873 of 11,874"),
}


def test_a_page_that_calls_an_aim_reached_that_its_figure_misses_would_be_seen() -> None:
    lines = []
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        columns = cells(line)
        if columns[0] in MISSING:
            columns[1] = re.sub(*MISSING[columns[0]], columns[1], count=1)
            columns[3] = "reached"
        lines.append(f"| {' | '.join(columns)} |" if line.startswith("|") else line)
    assert told_otherwise("\n".join(lines)) == list(MISSING)


def test_the_page_names_the_aims_that_are_not_reached_at_its_head() -> None:
    text = PAGE.read_text(encoding="utf-8")
    missed = dict.fromkeys(cells(line)[0] for line in text.splitlines() if "| not reached: " in line)
    assert f"\nAims that are not reached: {'; '.join(missed)}.\n" in text.split("| what")[0]


def test_the_page_is_what_its_own_figures_and_tables_make_of_it() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert page(*stood(text)) == text


# the words of goals that stand for a number
WORDS = {"twice": 2.0, "half": 0.5, "in proportion": 10.0, "flat": 1.05, "that of a part": 1.05, "every event": 1.0}


def test_the_bounds_of_an_aim_are_the_numbers_of_its_goal() -> None:
    for what, aim in aims().items():
        goal, wanted = goals()[what], set()
        if isinstance(aim, Stated) or aim == BY_TEST:
            continue
        wanted |= {float(number.replace(",", "")) for number in re.findall(r"\d[\d,]*(?:\.\d+)?", goal)}
        wanted |= {number for word, number in WORDS.items() if word in goal}
        bounds = {one.bound for one in aim if isinstance(one, Figure) and one.bound is not None}
        assert bounds == wanted, what
        assert bool(aim) == (goal != "none" or what.startswith("coefficients")), what


def test_nobody_states_by_hand_that_an_aim_is_reached() -> None:
    page = PAGE.read_text(encoding="utf-8")
    for what, aim in aims().items():
        if isinstance(aim, Stated):
            assert aim.verdict != "reached" and aim.why, what
        if aim == BY_TEST:
            # what prints a figure is held against it
            assert f"| {what} | {NO_FIGURE} |" in page, what


@pytest.mark.parametrize(
    ("aim", "measured", "told"),
    [
        ([Figure(r"([\d.]+) times", least=4)], "2.47 times", "not reached: 2.47, aim at least 4"),
        ([Figure(r"([\d.]+) times", least=4)], "4.0 times", "reached"),
        ([Figure(r"(\d+) ms", most=3, unit=0.001)], "3001 ms", "not reached: 3.001, aim at most 3"),
        ([Figure(r"(\d+) ms", most=3, unit=0.001)], "3000 ms", "reached"),
        ([Figure(r"([\d.]+) %", under=5)], "5 %", "not reached: 5, aim under 5"),
        ([Figure(r"([\d,]+)/s", least=12_000)], "93,982/s", "reached"),
        # each of several, and the worst is named
        ([Figure(r"(\d\.\d\d)", most=1)], "0.30, 1.80, 1.20 %", "not reached: 1.8, aim at most 1"),
        # the second over the first
        ([Figure(r"(\d+) to (\d+)", most=1.05)], "133 to 150 MB", "not reached: 1.128, aim at most 1.05"),
        ([Figure(r"(\d+) to (\d+)", most=1.05)], "150 to 150 MB", "reached"),
        # one figure of two is not enough, nor one that is not there
        ([Figure(r"a (\d+)", most=5), Figure(r"b (\d+)", most=5)], "a 4, b 6", "not reached: 6, aim at most 5"),
        (
            [Figure(r"a (\d+)", most=5), Figure(r"b (\d+)", most=5)],
            "a 4",
            "not measured here: it prints no figure of it",
        ),
        ([Figure("no fault")], "2 faults", "not reached: 'no fault' is not said"),
        ([], "7 ms", "no aim"),
        ([Figure(r"(\d+) ms", most=5)], "not run", "not measured here"),
        (Stated(UNMEASURED, "in words"), "7 ms", "not measured here: in words"),
    ],
)
def test_a_figure_is_held_against_its_bound(aim: Aim, measured: str, told: str) -> None:
    assert verdict(aim, measured) == told


def test_where_the_test_itself_asks_for_the_aim_its_end_tells() -> None:
    assert verdict(BY_TEST, "", held=True).startswith("reached")
    assert verdict(BY_TEST, "", held=False) == "not reached: its test failed"
    assert verdict([Figure("(1)", most=1)], "1", note="more") == "reached: more"

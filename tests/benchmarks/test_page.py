"""BENCHMARKS.md has every measure with a goal, and README no figure of speed that is not there."""

from __future__ import annotations

import re
import tomllib

from tests.benchmarks.page import BY_HAND, ELSEWHERE, GOALS, HERE, LONG, PAGE, ROOT

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
    for what, goal, ratio in GOALS.values():
        assert re.search(rf"^\| {re.escape(what)} \| .+ \| {re.escape(goal)} \| {re.escape(ratio)} \|", page, re.M), (
            what
        )


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

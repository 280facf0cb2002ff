"""A folder's rules tried on its situations and on a report: what holds, and the condition as a tree."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from folders import advice, write

from advisor.cli.main import main

FIRES = """\
[advice.fires]
report = "METAR ZZZA 100520Z 24022G36KT 9999 OVC030 05/01 Q1010"
now = "2027-01-10T05:25:00Z"
off_block = "2027-01-10T06:40:00Z"
place = "61.4,9.8"
"""
NEAR = FIRES.replace("fires", "near_miss").replace("24022G36KT", "24008KT")
RULE = advice("gusty", kind='"caution"', when='"gust_kt >= 28 and (dark or snow)"', during='["parked", "walk_round"]')
REPORT = "METAR ZZZA 100520Z AUTO 24022G36KT //// // ////// 05/01 Q1010"
GIVEN = ("--report", REPORT, "--now", "2027-01-10T05:25Z", "--off-block", "0640Z", "--place", "61.4,9.8")


def run(*words: str):
    return CliRunner().invoke(main, ["checklist", "try", *words])


def test_situations_that_hold_are_said_in_a_line_each(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", own=RULE + FIRES + NEAR)
    done = run(str(folder))
    assert done.exit_code == 0, done.output
    assert done.output == (
        f"gusty, fires: expected, as it should be ({folder}/own.toml:9)\n"
        f"gusty, near_miss: not indicated, as it should be ({folder}/own.toml:14)\n"
    )


@pytest.mark.parametrize(("name", "line"), [("fires", 9), ("near_miss", 14)])
def test_one_that_does_not_hold_is_named_with_its_line_and_drawn(tmp_path: Path, name: str, line: int) -> None:
    swapped = RULE + (FIRES + NEAR).replace("24022G36KT", "X").replace("24008KT", "24022G36KT").replace("X", "24008KT")
    folder = write(tmp_path / "own", own=swapped)
    done = run(str(folder))
    assert done.exit_code == 7
    assert f"{folder}/own.toml:{line}" in done.output.splitlines()[-1]
    assert "come up: does not hold" in done.output
    assert "├─ gust_kt >= 28" in done.output


def test_a_situation_that_cannot_be_briefed_does_not_hold(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", own=RULE + FIRES.replace("METAR ZZZA", "METAR"))
    done = run(str(folder))
    assert done.exit_code == 7 and "does not hold: " in done.output


def test_what_cannot_be_told_is_neither_a_line_that_comes_up_nor_silence(tmp_path: Path) -> None:
    unknown = RULE.replace("(dark or snow)", "rain").replace("gust_kt >= 28 and", "")
    for text in (FIRES, NEAR):
        situation = text.replace("9999 OVC030", "//// // //////").replace("24022G36KT", "/////KT")
        done = run(str(write(tmp_path / "own", own=unknown + situation.replace("24008KT", "/////KT"))))
        assert done.exit_code == 7 and "cannot tell" in done.output


def test_the_tree_has_a_sign_for_each_case_and_the_values_behind_it(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", own=RULE)
    done = run(str(folder), "gusty", *GIVEN)
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[0] == "gusty, given: expected"
    assert lines[1].startswith("  parked, 05:25Z to 05:55Z: yes in ")
    tree = [line.removeprefix("    ") for line in lines[2:7]]
    parts = ["all of", "├─ gust_kt >= 28", "└─ any of", "   ├─ dark", "   └─ snow"]
    assert all(row.startswith(part) for row, part in zip(tree, parts, strict=True)), tree
    signs = {part.strip("├└─ "): row.removeprefix(part).strip() for row, part in zip(tree, parts, strict=True)}
    # the gust was reported and it is night; what falls nobody told, nor the sky, for which there are four cases more
    assert signs["gust_kt >= 28"].startswith("yyyyyyyyy  ") and signs["gust_kt >= 28"].endswith("kt")
    assert (signs["all of"], signs["dark"]) == ("yyyyyyyyy", "yyyyyyyyy")
    assert "?" in signs["snow"] and "y" not in signs["snow"]
    assert "  y yes, n no, ? not known; a sign for each case:" in lines and "    1 central" in lines
    assert "    8 cold, windy, milder air" in lines and "    9 warm, moist, windy, clear sky" in lines


def test_the_same_as_data(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", own=RULE + FIRES)
    tries = json.loads(run(str(folder), "--format", "json").output)
    assert tries["schema"] == "try/1"
    [one] = tries["tried"]
    assert (one["rule"], one["situation"], one["holds"], one["line"]) == ("gusty", "fires", True, 9)
    [parked, walk] = one["trial"]["phases"]
    assert (parked["phase"], walk["phase"]) == ("parked", "walk_round")
    whole, gust = walk["parts"][:2]
    assert (whole["asks"], gust["asks"], gust["unit"], gust["depth"]) == ("all of", "gust_kt >= 28", "kt", 1)
    assert {case["answer"] for case in gust["cases"]} == {"yes"}
    assert gust["cases"][0]["case"] == "central" and gust["cases"][0]["value"] >= 28


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"classes": '["glider"]'}, "does not hold for the class single-aisle-jet"),
        ({"aircraft": '["wide-body-jet"]'}, "does not hold for the aircraft single-aisle-jet"),
        ({"months": "[6, 7]"}, "does not hold at this station or in this month"),
    ],
)
def test_a_rule_that_does_not_hold_there_says_why(tmp_path: Path, fields: dict[str, str], said: str) -> None:
    folder = write(tmp_path / "own", own=advice("gusty", when='"always"', **fields))
    assert said in run(str(folder), "gusty", *GIVEN).output


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("{}", "gust"), 2, "no rule 'gust'; did you mean 'gusty'?"),
        (("{}", "--place", "61.4,9.8"), 2, "--place without --report"),
        (("{}", "--report", REPORT), 2, "--report without --off-block"),
        (("{}/none",), 4, "no such folder"),
    ],
)
def test_wrong_use_is_said_in_a_line(tmp_path: Path, words: tuple[str, ...], code: int, said: str) -> None:
    folder = write(tmp_path / "own", own=RULE)
    done = run(*(word.format(folder) for word in words))
    assert done.exit_code == code and said in done.output


def test_a_part_that_does_not_hold_is_answered_no_and_one_that_nobody_told_not_known(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", own=RULE)
    # a mean wind of 8 kt, an hour old at the most, brings no gusts of 28; what falls was not told
    report = REPORT.replace("24022G36KT", "24008KT")
    given = tuple(report if word == REPORT else word for word in GIVEN)
    [one] = json.loads(run(str(folder), *given, "--format", "json").output)["tried"]
    parts = {part["asks"]: {case["answer"] for case in part["cases"]} for part in one["trial"]["phases"][1]["parts"]}
    assert parts["gust_kt >= 28"] == {"no"} and parts["all of"] == {"no"}
    assert parts["snow"] == {"not known"}
    assert [part["last"] for part in one["trial"]["phases"][1]["parts"]][:3] == [True, False, True]

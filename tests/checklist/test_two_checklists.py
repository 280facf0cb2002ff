"""Two checklists compared: what changed, in which respect, and a report in which the two briefs differ, run again."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest
from folders import advice, write

from advisor import advise
from advisor.checklist import aircraft, revision
from advisor.checklist.desk import compare
from advisor.checklist.desk.compare import LOOSER, Comparison
from advisor.cli import desk

ROOT = Path(__file__).parents[2]


def copied(tmp_path: Path, *edits: tuple[str, str, str], name: str = "own") -> Path:
    """What is shipped, copied whole, with some texts in its files replaced: (file, from, to)."""
    folder = tmp_path / name
    shutil.copytree(revision.SHIPPED, folder)
    shutil.copytree(aircraft.SHIPPED, folder / "aircraft")
    for file, before, after in (("checklist.toml", 'revision = "1"', 'revision = "2"'), *edits):
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert before in text, (file, before)
        path.write_text(text.replace(before, after, 1), encoding="utf-8")
    return folder


def rule_edit(rule: str, before: str, after: str) -> tuple[str, str, str]:
    """An edit inside one rule of the shipped files."""
    for path in sorted(revision.SHIPPED.glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        start = text.find(f'id = "{rule}"\n')
        if start >= 0 and not path.name.startswith("pages"):
            end = text.find("[[advice]]", start)
            block = text[start : end if end > 0 else len(text)]
            assert before in block, (rule, before)
            return path.name, block, block.replace(before, after, 1)
    raise AssertionError(rule)


def compared(old: str | Path, new: str | Path) -> Comparison:
    before, after = desk.read(str(old)), desk.read(str(new))
    return compare.compare(before[0], after[0], desk.search(before, after).find)


def differing(found: Comparison) -> dict[tuple[str, str], compare.Difference]:
    return {(one.id, one.what): one for one in found.rules if one.change != "same"}


def test_a_checklist_is_the_same_as_itself():
    found = compared("shipped", "shipped")
    assert not found.looser and {one.change for one in found.rules} == {"same"}
    assert len(found.rules) == len(revision.load().rules)


EDITS = [
    ("strong-wind", ("gust_kt >= 28", "gust_kt >= 34"), "when", "loosened"),
    ("strong-wind", ("gust_kt >= 28", "gust_kt >= 24"), "when", "tightened"),
    ("strong-wind", ("gust_kt >= 28", "gust_kt >= 24 and not rain"), "when", "both ways"),
    ("torch", ("illuminance_lx < 20", "dark"), "when", "loosened"),
    ("torch", ("illuminance_lx < 20", "illuminance_lx < 20 and sun_elevation_deg < 40"), "when", "same"),
    ("low-visibility-apron", ("visibility_m < 550", "visibility_m < 800"), "when", "tightened"),
    ("too-windy-outside", ("gust_kt >= 45 or squall", "gust_kt >= 45"), "when", "loosened"),
    ("heat", ("heat_index_c >= 41", "heat_index_c >= 44"), "when", "loosened"),
    ("no-umbrella", ('weight = "must"', 'weight = "should"'), "weight", "loosened"),
    ("thunderstorm", ("stop = true", "stop = false"), "stop", "loosened"),
    ("retreat", ("lead_min = 10", "lead_min = 5"), "lead_min", "loosened"),
    ("retreat", ("lead_min = 10", "lead_min = 20"), "lead_min", "tightened"),
    ("ice-pellets", ('"single-aisle-jet", ', ""), "classes", "loosened"),
    ("ash", ('kind = "caution"', 'kind = "checkpoint"'), "kind", "both ways"),
]


@pytest.mark.parametrize(("rule", "edit", "what", "change"), EDITS)
def test_one_edit_is_one_difference_with_a_report_that_shows_it(tmp_path, rule, edit, what, change):
    folder = copied(tmp_path, rule_edit(rule, *edit))
    found = compared("shipped", folder)
    changes = differing(found)
    if change == "same":
        assert changes == {} and not found.looser
        return
    assert (rule, what) in changes, changes.keys()
    one = changes[rule, what]
    assert one.change == change
    assert found.looser is (change in LOOSER)
    assert one.report is not None, one
    run_again(one, None, folder)


def test_what_is_gone_and_what_is_new_is_named(tmp_path):
    own = advice("own-umbrella", when='"rain"', kind='"caution"')
    folder = write(tmp_path / "own", own=f'remove = ["no-umbrella"]\n{own}')
    found = compared("shipped", folder)
    changes = differing(found)
    assert set(changes) == {("no-umbrella", "when"), ("own-umbrella", "when")} and found.looser
    assert changes["no-umbrella", "when"].change == "removed"
    assert changes["own-umbrella", "when"].change == "added"
    for one in changes.values():
        run_again(one, None, folder)


def test_windows_the_call_lead_and_the_limits_of_doors_count(tmp_path):
    folder = copied(
        tmp_path,
        ("checklist.toml", "walk_round = [-45, -25]", "walk_round = [-45, -30]"),
        ("checklist.toml", "call_lead_min = 45", "call_lead_min = 30"),
        ("aircraft/single-aisle-jet.toml", "operate = 40", "operate = 46"),
    )
    found = compared("shipped", folder)
    changes = differing(found)
    assert changes["windows", "windows"].change == "loosened"
    assert changes["call-lead", "lead_min"].change == "loosened"
    assert changes["single-aisle-jet", "doors"].change == "loosened"
    assert found.looser
    for one in changes.values():
        assert one.report is not None, one
        run_again(one, None, folder)


def test_other_words_are_named_and_loosen_nothing(tmp_path):
    old = rule_edit("torch", "Take a real torch", "Take a good torch")
    found = compared("shipped", copied(tmp_path, old))
    changes = differing(found)
    assert changes["torch", "text"].change == "text" and not found.looser
    run_again(changes["torch", "text"], None, tmp_path / "own")


def test_words_that_a_class_loses_are_less(tmp_path):
    rule = revision.load().rule("torch")
    words = rule.overrides["glider"].text
    edit = rule_edit("torch", f'text = "{words}"\n', "")
    text = edit[2] + "\n"
    folder = copied(tmp_path, (edit[0], edit[1], text.replace("inherit = true\n", "")))
    # an entry takes over the class tables of the shipped rule unless it says otherwise
    path = folder / edit[0]
    whole = path.read_text(encoding="utf-8")
    path.write_text(whole.replace('id = "torch"\n', 'id = "torch"\ninherit = false\n', 1), encoding="utf-8")
    changes = differing(compared("shipped", folder))
    assert changes["torch", "text"].change == "loosened" and "glider" in changes["torch", "text"].where


def test_the_other_way_round_is_the_other_way_round(tmp_path):
    folder = copied(tmp_path, rule_edit("strong-wind", "gust_kt >= 28", "gust_kt >= 34"))
    there, back = compared("shipped", folder), compared(folder, "shipped")
    assert differing(there)["strong-wind", "when"].change == "loosened" and there.looser
    assert differing(back)["strong-wind", "when"].change == "tightened" and not back.looser


def test_a_rule_for_a_station_and_a_month_is_shown_there(tmp_path):
    folder = copied(
        tmp_path,
        rule_edit("strong-wind", 'id = "strong-wind"\n', 'id = "strong-wind"\nstations = ["ZZZH"]\nmonths = [7]\n'),
    )
    found = compared("shipped", folder)
    one = differing(found)["strong-wind", "classes"]
    assert one.change == "loosened" and found.looser
    run_again(one, None, folder)


def test_the_reason_stands_beside_what_is_less(tmp_path):
    text = 'gust_kt >= 34"\nreason = "steps are lashed here"\n'
    folder = copied(tmp_path, rule_edit("strong-wind", 'gust_kt >= 28"\n', text))
    found = compared("shipped", folder)
    assert differing(found)["strong-wind", "when"].reason == "steps are lashed here"
    assert "reason: steps are lashed here" in compare.as_text(found)


def test_a_comparison_that_cannot_be_decided_counts_as_less(monkeypatch, tmp_path):
    folder = copied(tmp_path, rule_edit("strong-wind", "gust_kt >= 28", "gust_kt >= 24"))
    monkeypatch.setattr(compare, "_decided", lambda old, new: compare.Decision("cannot decide"))
    found = compared("shipped", folder)
    assert differing(found)["strong-wind", "when"].change == "cannot decide" and found.looser


def run_again(one: compare.Difference, old: Path | None, new: Path) -> None:
    """Make both briefs of a witness anew, by the package's own door, and see that they differ in its line."""
    asked = {"now": one.now, "off_block": one.off_block, "place": one.place, "aircraft": one.aircraft, **one.given}
    briefs = [advise(one.report, checklist=side, **asked) for side in (old, new)]
    if one.what == "doors":
        assert briefs[0].doors != briefs[1].doors
        return
    named = one.old.partition(": ")[0] if one.id in ("windows", "call-lead") else one.id
    lines = [next((line for line in brief.advice if line.id == named), None) for brief in briefs]
    assert lines[0] is not None or lines[1] is not None
    said = [None if line is None else msgspec.structs.replace(line, origin="shipped") for line in lines]
    assert said[0] != said[1]
    for line, told in zip(lines, (one.old, one.new), strict=True):
        assert ("no such line" in told) is (line is None)
        assert line is None or line.status in told


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "advisor", "checklist", "compare", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)


def test_the_command_ends_with_seven_where_the_new_one_says_less(tmp_path):
    less = copied(tmp_path, rule_edit("strong-wind", "gust_kt >= 28", "gust_kt >= 34"))
    assert run("shipped", "shipped").returncode == 0
    assert run(str(less), "shipped").returncode == 0
    made = run("shipped", str(less))
    assert made.returncode == 7 and made.stderr == ""
    assert "strong-wind: loosened (when), no more for mean wind under 20 kt, gust 28 to under 34 kt" in made.stdout
    assert re.search(r"METAR ZZ\w\w \d{6}Z", made.stdout) and "OLD  " in made.stdout
    assert run("shipped", str(tmp_path / "none")).returncode == 4


def test_json_has_the_fields_that_others_rely_on(tmp_path):
    less = copied(tmp_path, rule_edit("strong-wind", "gust_kt >= 28", "gust_kt >= 34"))
    data = json.loads(run("shipped", str(less), "--format", "json").stdout)
    assert data["schema"] == "compare/1" and data["looser"] is True
    assert set(data["old"]) == {"name", "revision", "fingerprint"}
    one = next(one for one in data["rules"] if one["change"] == "loosened")
    assert {"id", "change", "what", "where", "report", "now", "off_block", "place", "aircraft"} <= set(one)


def test_the_same_comparison_twice_is_the_same_byte_for_byte(tmp_path):
    folder = copied(
        tmp_path,
        rule_edit("strong-wind", "gust_kt >= 28", "gust_kt >= 34"),
        rule_edit("torch", "illuminance_lx < 20", "dark"),
    )
    first, second = (run("shipped", str(folder), "--format", "json").stdout for _ in range(2))
    assert first == second and first

"""A folder to begin with, and a shipped rule copied into it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor.checklist import revision
from advisor.checklist.desk import start
from advisor.checklist.desk.check import check
from advisor.cli.main import main
from advisor.errors import AdvisorError


def run(*words: str):
    return CliRunner().invoke(main, ["checklist", *words])


def fill(folder: Path) -> Path:
    profile = folder / "aircraft" / "our-type.toml"
    profile.write_text(profile.read_text(encoding="utf-8").replace('= ""', "= 40"), encoding="utf-8")
    return folder


def test_what_is_begun_lacks_its_limits_and_nothing_else(tmp_path: Path) -> None:
    done = run("start", str(tmp_path / "ours"))
    assert done.exit_code == 0, done.output
    found = check(tmp_path / "ours")
    assert {(fault.code, fault.field) for fault in found.faults} == {
        ("blank", "door.passenger door, left front.operate"),
        ("blank", "door.passenger door, left front.stay_open"),
    }
    assert run("check", str(tmp_path / "ours")).exit_code == 4
    filled = check(fill(tmp_path / "ours"))
    assert (filled.faults, filled.notes, filled.loosened) == ((), (), ())
    assert run("try", str(tmp_path / "ours")).exit_code == 0


def test_what_was_written_is_told_file_by_file(tmp_path: Path) -> None:
    told = start.start(tmp_path / "ours")
    assert set(told) == {path for path in (tmp_path / "ours").rglob("*") if path.is_file()} and len(told) > 1
    assert list(told) == sorted(told)


def test_a_rule_that_another_file_of_the_folder_has_is_not_copied_beside_it(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(start.revision.SHIPPED.joinpath("walk.toml").read_text(encoding="utf-8"))
    with pytest.raises(AdvisorError, match="has the rule 'cold-soaked-wing' already") as met:
        start.copy("cold-soaked-wing", tmp_path)
    assert met.value.where == str(tmp_path / "mine.toml")
    # of a file that is no checklist nothing is known; a rule that is not there is written
    (tmp_path / "mine.toml").write_bytes(b"\xff")
    assert {path.name for path in start.copy("cold-soaked-wing", tmp_path)} == {
        "cold-soaked-wing.toml",
        "pages-cold-soaked-wing.toml",
    }


def test_nobody_s_folder_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("", encoding="utf-8")
    done = run("start", str(tmp_path))
    assert done.exit_code == 2 and "is there already" in done.output
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]
    (tmp_path / "empty").mkdir()
    assert run("start", str(tmp_path / "empty")).exit_code == 0
    assert not list(tmp_path.glob(".*")), "nothing half done is left"


@pytest.mark.parametrize("rule_id", [rule.id for rule in revision.load().rules])
def test_a_copied_rule_is_the_shipped_one_to_the_letter(tmp_path_factory, rule_id: str) -> None:
    folder = tmp_path_factory.mktemp("copied")
    start.copy(rule_id, folder)
    reading = revision.read(folder)
    assert reading.checklist.fingerprint == revision.load().fingerprint
    assert list(reading.over.entries) == [rule_id]
    shipped = revision.read()
    assert reading.pages[rule_id] == shipped.pages[rule_id]
    # the class tables are in the copy itself, not inherited
    assert reading.over.rules[rule_id].overrides == shipped.checklist.rule(rule_id).overrides


def test_a_rule_that_is_there_is_not_copied_again(tmp_path: Path) -> None:
    start.copy("torch", tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    for folder_text in ("", "# mine\n"):
        (tmp_path / "torch.toml").write_bytes(before["torch.toml"] + folder_text.encode())
        with pytest.raises(AdvisorError, match="already"):
            start.copy("torch", tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == set(before)


def test_an_unknown_rule_is_said_with_the_nearest(tmp_path: Path) -> None:
    done = run("copy", "torhc", str(tmp_path / "ours"))
    assert done.exit_code == 2 and "did you mean 'torch'?" in done.output
    assert not (tmp_path / "ours").exists()

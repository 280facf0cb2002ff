"""The lock of the tests is whole and fits pyproject.toml; licences are listed; nothing is fetched at run time."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = (ROOT / "tests" / "lock.txt").read_text(encoding="utf-8")
SUPPLY = (ROOT / "tests" / "measures" / "SUPPLY.md").read_text(encoding="utf-8")
SLOTS = ROOT / "sample_reports" / "slots"
EXAMPLE = [str(SLOTS / "schedule.csv"), str(SLOTS / "report.txt"), "--pads", str(SLOTS / "pads.toml")]
REPORT = "METAR ZZZA 100520Z 24008KT 9999 -SN OVC008 M01/M02 Q1013"
ASKED = ["--report", REPORT, "--off-block", "0640Z", "--now", "2027-01-10T05:25:00Z", "--place", "61.4,9.8"]


def locked() -> dict[str, set[str]]:
    """Versions by name; a name may stand twice, for two systems."""
    found: dict[str, set[str]] = {}
    for name, version in re.findall(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)", LOCK, re.M):
        found.setdefault(canonicalize_name(name), set()).add(version)
    return found


def test_the_lock_has_a_release_of_everything_that_is_asked_for() -> None:
    there = locked()
    wanted = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["dev"]]
    for text in wanted:
        one = Requirement(text)
        versions = there.get(canonicalize_name(one.name), set())
        assert versions and all(version in one.specifier for version in versions), text


def test_every_release_in_the_lock_has_its_sums_and_no_address() -> None:
    blocks = re.split(r"^(?=[A-Za-z0-9])", "\n".join(LOCK.splitlines()[3:]), flags=re.M)[1:]
    assert len(blocks) > 100
    for block in blocks:
        assert "--hash=sha256:" in block, block.splitlines()[0]
    assert "://" not in LOCK and "--index" not in LOCK and "--find-links" not in LOCK


def test_the_licence_of_every_release_here_is_listed() -> None:
    listed = {canonicalize_name(name) for name in re.findall(r"^\| ([\w.-]+) \| [^|]+ \| [^|]+ \|$", SUPPLY, re.M)}
    missing = [name for name in locked() if name not in listed]
    # what only other systems install is not here to be asked
    assert [name for name in missing if not re.search(rf"^{name}==\S+ ;", LOCK, re.M | re.I)] == []


@pytest.mark.long
@pytest.mark.parametrize(
    "words",
    [
        ["brief", *ASKED],
        ["brief", *ASKED, "--format", "json"],
        ["brief", *ASKED, "--format", "html"],
        ["brief", *ASKED, "--format", "pdf", "--output", "{out}"],
        ["decode", "--report", REPORT],
        ["checklist", "check", "{shipped}"],
        ["slots", *EXAMPLE, "--now", "2027-01-10T04:30:00Z", "--format", "html"],
        ["aircraft"],
    ],
    ids=lambda words: " ".join(words[:1] + words[-2:])[-40:],
)
def test_a_command_needs_no_network(words: list[str], tmp_path: Path) -> None:
    """In a network of its own, which has not even a way to itself."""
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-n", "true"], capture_output=True, check=False).returncode:
        pytest.skip("no network of its own can be made here")
    put = {"{out}": str(tmp_path / "sheet.pdf"), "{shipped}": str(ROOT / "advisor" / "data" / "checklists")}
    command = [sys.executable, "-m", "advisor", *(put.get(word, word) for word in words)]
    told = [
        subprocess.run(before + command, cwd=ROOT, capture_output=True, check=False) for before in ([], [unshare, "-n"])
    ]
    assert told[0].returncode == told[1].returncode == 0, told[1].stderr
    assert told[0].stdout == told[1].stdout

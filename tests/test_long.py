"""Which tests run when: what is long is left out unless it is asked for, and no test is left out of both."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
MIXED = "import pytest\n\n\ndef test_quick(): ...\n\n\n@pytest.mark.long\ndef test_marked(): ...\n"


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("project")
    (folder / "tests" / "benchmarks").mkdir(parents=True)
    shutil.copy(HERE / "conftest.py", folder / "tests")
    (folder / "pytest.ini").write_text("[pytest]\naddopts = -q --strict-markers\nmarkers =\n    long: long\n")
    (folder / "tests" / "test_mixed.py").write_text(MIXED)
    (folder / "tests" / "benchmarks" / "test_speed.py").write_text("def test_ratio(): ...\n")
    return folder


@pytest.mark.long
@pytest.mark.parametrize(
    ("given", "run"),
    [
        ("", {"quick"}),
        ("--long", {"marked", "ratio"}),
        ("tests", {"quick"}),
        ("tests/test_mixed.py", {"quick", "marked"}),
        ("tests/test_mixed.py --long", {"marked"}),
        ("tests/test_mixed.py::test_marked", {"marked"}),
        ("tests/benchmarks", {"ratio"}),
        ("tests/benchmarks/test_speed.py", {"ratio"}),
    ],
)
def test_long_tests_run_where_they_are_asked_for(project: Path, given: str, run: set[str]) -> None:
    command = [sys.executable, "-m", "pytest", "--collect-only", "-p", "no:cacheprovider", *given.split()]
    done = subprocess.run(command, cwd=project, capture_output=True, text=True, check=True)
    assert set(re.findall(r"::test_(\w+)", done.stdout)) == run


def test_what_stands_as_long_is_there_and_what_ci_runs_has_both() -> None:
    from tests.conftest import LONG_FILES

    assert all(file.exists() for file in LONG_FILES)
    commands = (HERE.parent / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert any(line.startswith("eval ") for line in commands)
    assert any(line.endswith("--long") for line in commands)

"""The house rules that tools can check: style, types, imports, size, documentation, words that must not be printed."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted((ROOT / "advisor").rglob("*.py"))


def run(*command: str) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run("ruff", "check", "advisor", "tests")


def test_everything_is_formatted_alike() -> None:
    run("ruff", "format", "--check", "advisor", "tests")


def test_mypy_strict_finds_nothing() -> None:
    run("mypy")


def test_imports_run_downwards_and_the_core_opens_nothing() -> None:
    code = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports())"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_stays_under_400_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_nobody_but_the_commands_and_the_web_reads_the_wall_clock() -> None:
    clocks = re.compile(r"datetime\.now|\.utcnow|\.today\(|time\.time\(|perf_counter\(|time\.monotonic\(")
    allowed = ("cli", "web")
    core = [path for path in SOURCES if not path.relative_to(ROOT / "advisor").parts[0].startswith(allowed)]
    found = [str(path) for path in core if clocks.search(path.read_text(encoding="utf-8"))]
    assert found == []


def test_every_public_docstring_of_the_physics_names_its_source() -> None:
    missing = []
    for path in (ROOT / "advisor" / "physics").glob("*.py"):
        if path.name in ("derive.py", "flags.py", "ranges.py", "__init__.py"):
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                text = ast.get_docstring(node) or ""
                # mathematics, and a shared inner form
                if node.name in ("crossings_of", "centuries", "longwave", "known_loss"):
                    continue
                if "Source:" not in text:
                    missing.append(f"{path.name}:{node.name}")
    assert missing == []


def test_nothing_that_is_printed_says_that_all_is_well() -> None:
    # the words that would reassure; a sentence that denies them is allowed
    calm = re.compile(
        r"(is|are|be) clean\b|clear of ice|no de-?icing (is )?(needed|required)|safe to (go|open|depart|fly|walk)", re.I
    )
    denied = re.compile(r"never|not |only the inspection|cannot|nothing", re.I)
    files = [*SOURCES, *(ROOT / "advisor").rglob("*.toml"), *(ROOT / "advisor").rglob("*.html")]
    found = []
    for path in files:
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if calm.search(line) and not denied.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()}")
    assert found == []


def test_the_readme_documents_every_command() -> None:
    from advisor.cli.main import main

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = []
    for name, command in main.commands.items():
        names = [f"{name} {sub}" for sub in command.commands] if hasattr(command, "commands") else [name]
        missing += [f"advisor {one}" for one in names if f"advisor {one}" not in text]
    assert missing == []


def test_the_top_level_holds_little_else() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    if not tracked:
        pytest.skip("not a git checkout")
    assert {name.split("/")[0] for name in tracked} <= {
        "README.md",
        "README_CAUTIONS.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE",
        "pyproject.toml",
        "advisor",
        "tests",
        "sample_reports",
        ".ci",
        ".gitignore",
    }

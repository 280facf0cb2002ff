"""As a stranger: each block of code of README and docs as it is written, the help of every command, completion."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from advisor.cli import STOPPED
from advisor.cli.examples import EXAMPLES
from advisor.cli.main import main
from advisor.record.store import Record
from tests.record.places import Clock, opening
from tests.test_cli import ASK, NOW, REPORT, ROOT, SAMPLES, brief, run

PAGES = ["README.md", *sorted(str(path.relative_to(ROOT)) for path in (ROOT / "docs").glob("*.md"))]
ENVIRONMENT = "python3 -m venv .venv"
# by their first words: tried elsewhere, and where
ELSEWHERE = {
    f"{ENVIRONMENT} && .venv/bin/pip install -q -e . &&": "tests/test_cli.py, the first command",
    f"{ENVIRONMENT} && .venv/bin/pip install -q -e '.[dev]'": ".ci/run, the tests themselves",
    '[[advice]]\nid = "torch"': "tests/test_cli.py, the example rule",
    "our-grip-soles, fires": "what a command prints, not what is typed",
    ".. ": "tests/test_docs.py builds the pages",
    ":caption:": "tests/test_docs.py builds the pages",
    ":alt:": "tests/test_docs.py builds the pages",
}


def blocks() -> list[tuple[str, str]]:
    """Every fenced and every indented block: page and text."""
    found = []
    for page in PAGES:
        text = (ROOT / page).read_text(encoding="utf-8")
        found += [(page, one) for one in re.findall(r"^```[^\n]*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)]
        rest = re.sub(r"^```[^\n]*\n.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
        found += [(page, one) for one in re.findall(r"(?<=\n\n)((?:    [^\n]+\n)+)", rest)]
    return found


def lines() -> list[str]:
    """Every line of the blocks that is a command of a shell, without what is said of it."""
    made = []
    for _, block in blocks():
        for line in block.splitlines():
            if re.match(r"(    )?(advisor|pip|curl|eval|_ADVISOR)\b", line):
                made.append(re.sub(r"\s{3,}(?=\S).*", "", line.strip()))
    return made


def test_every_block_of_code_is_tried_somewhere() -> None:
    untried = []
    for page, block in blocks():
        shown = block.strip()
        begins = shown.startswith(("advisor ", "pip ", "curl ", "eval ", "from datetime", "import polars", "[[feed]]"))
        if not begins and not any(shown.startswith(one) for one in ELSEWHERE):
            untried.append(f"{page}: {shown[:60]}")
    assert untried == [] and len(blocks()) > 20


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with every file that an example names, and the samples."""
    (tmp_path / "report.txt").write_text(REPORT, encoding="utf-8")
    (tmp_path / "DIR").mkdir()
    (tmp_path / "OLD").mkdir()
    (tmp_path / "reports").mkdir()
    rule = next(block for _, block in blocks() if block.startswith("[[advice]]"))
    (tmp_path / "DIR" / "own.toml").write_text(rule, encoding="utf-8")
    (tmp_path / "OLD" / "own.toml").write_text(rule.replace("< 40", "< 50"), encoding="utf-8")
    (tmp_path / "brief.json").write_bytes(run(*brief("--format", "json")).stdout_bytes)
    for name in ("schedule.csv", "pads.toml", "holdover.toml"):
        (tmp_path / name).write_bytes((SAMPLES / "slots" / name).read_bytes())
    data = ROOT / "tests" / "archive" / "data"
    for name in ("winter.csv", "places.csv"):
        (tmp_path / name).write_bytes((data / name).read_bytes())
    (tmp_path / "reports" / "winter.csv").write_bytes((data / "winter.csv").read_bytes())
    (tmp_path / "bank.csv").write_text("off_block,station\n2027-01-10T07:30:00Z,ZZZA\n", encoding="utf-8")
    (tmp_path / "sample_reports").symlink_to(SAMPLES)
    record = Record(f"sqlite:///{tmp_path / 'DIR' / 'record.sqlite'}", Clock())
    record.add(opening("w-1"))
    record.close()
    monkeypatch.chdir(tmp_path)
    run("record", "head", "--data", "DIR", "--output", "HEAD.json")
    return tmp_path


def with_files(line: str) -> list[str]:
    """The words of an example, placeholders replaced; the clock of a test stands still."""
    words = [word.strip("[]") for word in shlex.split(re.split(" [<>] ", line)[0])][1:]
    names = {"METAR ...": REPORT, "ID": "torch", "RULE": "torch", "WALK": "w-1", "WORD": "OAT", "N": "3"}
    words = [names.get(word, word) for word in words]
    if words[0] == "brief":
        words += ["--now", NOW, *([] if "--place" in words else ASK[4:])]
    if words[0] == "replay" and "--places" not in words:
        # the stations of the test are invented and in no table
        words += ["--places", "places.csv"]
    if words[0] == "slots":
        words += ["--time-limit", "0.3", *([] if "--now" in words else ["--now", "2027-01-10T04:30:00Z"])]
    return words


def parsed(words: list[str]) -> None:
    """Words that are understood: every command and option is there. Raises where one is not."""
    group: click.Command = main
    context = click.Context(main)
    while isinstance(group, click.Group):
        group, words = group.commands[words[0]], words[1:]
    group.make_context(group.name, list(words), parent=context)


# those of the README but for slots and replay are run by tests/test_cli.py
RUN_THERE = {line for line in lines() if line.startswith("advisor ") and line.split()[1] not in ("slots", "replay")}
SHOWN = sorted({*(line for line in lines() if line.startswith("advisor ")), *EXAMPLES.values()})


@pytest.mark.parametrize("line", SHOWN)
def test_an_example_works_as_it_is_written(line: str, folder: Path) -> None:
    words = with_files(line)
    parsed(words)
    if words[0] in ("serve", "watch") or "--station" in words or "coverage" in words or line in RUN_THERE:
        return  # these wait for others, take long, or are run elsewhere
    result = run(*words, fed=REPORT)
    allowed = (0, 7) if words[0] == "checklist" else (0,)
    assert result.exit_code in allowed, result.output
    assert result.stdout or "--output" in words or words[1] in ("token",)
    if "--departures" in words:
        # the brief of the one departure is made at 0555, by the report of 0550
        assert result.stdout.startswith("Replay of 1 of 1 departures of 1 stations, 2027-01-10T05:50:00Z")


def test_every_extra_that_is_named_for_installing_is_there() -> None:
    known = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    named = [one for line in lines() if line.startswith("pip") for one in re.findall(r"\[([\w,]+)\]", line)]
    assert named and {one for group in named for one in group.split(",")} <= set(known)


def test_the_request_by_curl_is_answered() -> None:
    from litestar.testing import TestClient

    from advisor.web.app import create_app
    from advisor.web.model import Settings
    from tests.web.site import Clock as Still

    line = next(line for line in lines() if line.startswith("curl"))
    words = shlex.split(line)
    header = dict([words[words.index("-H") + 1].split(": ")])
    asked = json.loads(words[words.index("-d") + 1].replace("METAR ...", REPORT))
    path = "/" + next(word for word in words if word.startswith("http")).split("/", 3)[3]
    # the place of an invented station is not known: it has to be given
    answer = TestClient(create_app(Settings(clock=Still()))).post(
        path, headers=header, json={**asked, "place": "61.4,9.8"}
    )
    assert answer.status_code == 201 and answer.headers["Location"]


def test_the_blocks_of_python_run_as_they_are(folder: Path) -> None:
    assert run("replay", "winter.csv", "--places", "places.csv", "--output", "told.parquet").exit_code == 0
    found = [block for _, block in blocks() if re.search(r"^import \w", block, re.MULTILINE)]
    assert len(found) >= 3
    setting = {**os.environ, "PYTHONPATH": str(ROOT)}
    for block in found:
        done = subprocess.run([sys.executable, "-c", block], capture_output=True, cwd=folder, env=setting, check=False)
        assert done.returncode == 0 and done.stdout, done.stderr


def test_the_block_of_feeds_is_read_and_names_its_feed(folder: Path) -> None:
    block = next(block for _, block in blocks() if block.startswith("[[feed]]"))
    (folder / "DIR" / "feeds.toml").write_text(block, encoding="utf-8")
    result = run("brief", "--station", "ZZZA", "--feed", "theirs", "--checklist", "DIR", *ASK)
    assert result.exit_code == 2 and "ours" in result.stderr


# help and completion


def commands(command: click.Command = main, name: str = "") -> list[str]:
    if not isinstance(command, click.Group):
        return [name]
    return [
        name,
        *(one for below, inner in command.commands.items() for one in commands(inner, f"{name} {below}".strip())),
    ]


@pytest.mark.parametrize("name", commands())
def test_the_help_of_every_command_is_whole_at_eighty_columns(name: str) -> None:
    shown = CliRunner().invoke(main, [*name.split(), "--help"], terminal_width=80).stdout
    assert max(map(len, shown.splitlines())) <= 80
    assert not re.search(r"[a-z]\.\.\.$", shown, re.MULTILINE), "a sentence was cut"
    assert re.search(r"Exit codes:\n +0 +done\n( +\d .+\n){6}", shown)
    if name in EXAMPLES:
        typed = " ".join(shown.split("Example:\n")[1].split("Exit codes")[0].replace("\\\n", " ").split())
        assert typed == EXAMPLES[name]


def test_every_command_has_an_example_of_itself() -> None:
    assert set(EXAMPLES) == {name for name in commands() if name not in ("", "checklist", "record")}
    assert [name for name, example in EXAMPLES.items() if not example.startswith(f"advisor {name}")] == []


def test_the_exit_codes_of_the_help_are_those_of_the_docs_and_the_errors() -> None:
    from advisor import errors
    from advisor.cli.examples import CODES

    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    told = set(re.findall(r"^  (\d+) ", CODES, re.MULTILINE))
    assert told == set(re.findall(r"^\| (\d+) \|", page, re.MULTILINE))
    raised = {str(one.exit_code) for one in vars(errors).values() if isinstance(one, type)} | {str(STOPPED)}
    assert raised <= told


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_works_as_it_is_documented(shell: str) -> None:
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert f"_ADVISOR_COMPLETE={shell}_source advisor" in page
    code = "import sys; sys.argv = ['advisor']; from advisor.cli.main import main; main()"

    def told(**setting: str) -> str:
        command = [sys.executable, "-c", code]
        return subprocess.run(
            command, capture_output=True, text=True, env={**os.environ, **setting}, check=False
        ).stdout

    assert "_advisor_completion" in told(_ADVISOR_COMPLETE=f"{shell}_source")
    asked = {"COMP_WORDS": "advisor checklist co", "COMP_CWORD": "2" if shell != "fish" else "co"}
    found = told(_ADVISOR_COMPLETE=f"{shell}_complete", **asked)
    assert {"compare", "copy", "coverage"} <= set(re.findall(r"\w+", found)), found


def test_every_test_that_a_promise_names_is_there() -> None:
    rows = re.findall(r"^\| (.+) \| (.+) \| (.+) \|$", (ROOT / "docs" / "claims.md").read_text(encoding="utf-8"), re.M)[
        2:
    ]
    assert len(rows) > 30
    for promise, proof, state in rows:
        named = re.findall(r"`([^` ]+\.(?:py|md)|tests/\w+|\.ci/run)`", proof)
        assert state.startswith(("holds", "partly", "missing", "measured")), promise
        assert bool(named) or "python -m tests" in proof or state.startswith("missing"), promise
        assert [name for name in named if not (ROOT / name).exists()] == [], promise


def test_every_option_that_the_pages_speak_of_is_one() -> None:
    """Also in prose, which no test runs. README and docs; options of pytest and of the tools of tests/ are named."""

    def options(command: click.Command) -> set[str]:
        own = {name for one in command.params for name in (*one.opts, *one.secondary_opts)}
        return own.union(*(options(sub) for sub in getattr(command, "commands", {}).values()))

    known = options(main) | {"--help", "--long", "--dist", "--property", "--once", "--write"}
    for page in (ROOT / "README.md", ROOT / "README_CAUTIONS.md", *(ROOT / "docs").rglob("*.md")):
        said = re.findall(r"(?<![\w-])--[a-z][a-z-]*[a-z]", page.read_text(encoding="utf-8"))
        assert sorted(set(said) - known) == [], page.name

"""Ctrl-C: one line at the most, no traceback, exit code 130 as docs/commands.md says; where it means something else."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path
from typing import Any

import click
import pytest

from advisor.cli.main import main
from tests.test_cli import ROOT, SAMPLES, run
from tests.test_stranger import commands

SLOTS = SAMPLES / "slots"
PLAN = ["slots", str(SLOTS / "schedule.csv"), str(SLOTS / "report.txt"), "--pads", str(SLOTS / "pads.toml")]
PLAN += ["--now", "2027-01-10T04:30:00Z", "--time-limit", "0.3", "--format", "json"]


def pressed(*given: object, **more: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("name", [one for one in commands() if one not in ("", "checklist", "record")])
def test_every_command_that_is_stopped_ends_with_one_line_and_130(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    command: click.Command = main
    for word in name.split():
        assert isinstance(command, click.Group)
        command = command.commands[word]
    monkeypatch.setattr(command, "params", [])
    monkeypatch.setattr(command, "callback", pressed)
    result = run(*name.split())
    assert (result.exit_code, result.stdout, result.stderr) == (130, "", "advisor: stopped\n")


def test_a_command_that_is_stopped_while_its_words_are_read_ends_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(click.Group, "parse_args", pressed)
    result = run("aircraft")
    assert (result.exit_code, result.stdout, result.stderr) == (130, "", "advisor: stopped\n")


def started(*words: str) -> subprocess.Popen[str]:
    setting = {**os.environ, "PYTHONPATH": str(ROOT)}
    # who runs these tests in the background of a shell has Ctrl-C ignored, and so would the process
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    return subprocess.Popen(
        [sys.executable, *words], stdout=-1, stderr=-1, text=True, env=setting, cwd=ROOT, preexec_fn=heard
    )


def test_a_process_that_waits_for_its_input_is_stopped_quietly(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    process = started("-m", "advisor", "decode", str(pipe))
    # opened once the command has opened the other end, so that it runs
    with pipe.open("w", encoding="utf-8"):
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    assert (process.returncode, out, err) == (130, "", "advisor: stopped\n")


def test_what_is_stopped_before_the_commands_are_read_shows_no_traceback_and_other_errors_do() -> None:
    for error, code, told in (("KeyboardInterrupt", 130, "advisor: stopped\n"), ("ValueError", 1, None)):
        process = started("-c", f"import advisor.cli; raise {error}")
        out, err = process.communicate(timeout=30)
        assert (process.returncode, out) == (code, "")
        assert err == told if told else "Traceback" in err and "ValueError" in err


@pytest.mark.parametrize(("times", "code"), [(1, 0), (2, 130)])
def test_slots_takes_the_first_one_for_the_end_of_its_search_and_the_second_for_its_own(
    times: int, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    from advisor.slots import plan

    make = plan.make

    def stopping(night: Any, effort: Any, **more: Any) -> Any:
        assert not effort.stop()
        for _ in range(times):
            signal.raise_signal(signal.SIGINT)
        assert effort.stop()
        return make(night, effort, **more)

    monkeypatch.setattr(plan, "make", stopping)
    result = run(*PLAN)
    assert result.exit_code == code, result.stderr
    if code:
        assert (result.stdout, result.stderr) == ("", "advisor: stopped\n")
    else:
        assert json.loads(result.stdout)["departures"]

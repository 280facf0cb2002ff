"""The watch in a terminal: says what changed, in a line each, and ends at off-block."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from advisor.cli import watch as command
from advisor.cli.main import main
from advisor.errors import FeedError
from tests.web.site import NEWER, QUIET, WORST


@pytest.fixture
def watched(monkeypatch):
    """Reports in turn, one a look; the clock goes on by what is waited."""
    at = [datetime(2027, 1, 10, 5, 25, tzinfo=UTC)]
    monkeypatch.setattr(command, "now", lambda: at[0])
    monkeypatch.setattr(command, "sleep", lambda seconds: at.__setitem__(0, at[0] + timedelta(seconds=seconds)))

    def run(*answers: object, off_block: str = "0540Z"):
        waiting = list(answers)

        def fetched(*_: object):
            answer = waiting.pop(0) if len(waiting) > 1 else waiting[0]
            if isinstance(answer, Exception):
                raise answer
            return (answer,), ()

        monkeypatch.setattr(command, "_fetched", fetched)
        arguments = ["watch", "--station", "ZZZA", "--off-block", off_block, "--place", "61.4,9.8", "--every", "300"]
        return CliRunner().invoke(main, arguments)

    return run


def test_a_must_line_that_comes_is_said_in_a_line(watched) -> None:
    done = watched(QUIET, WORST)
    assert done.exit_code == 0, done.output
    assert "0530Z De-icing: new (expected)" in done.output
    assert done.output.rstrip().endswith("0540Z off-block: the watch is over")


def test_nothing_is_said_while_the_reports_are_the_same(watched) -> None:
    done = watched(WORST, WORST, WORST)
    told = [line for line in done.output.splitlines() if re.match(r"\d{4}Z ", line)]
    assert told == ["0540Z off-block: the watch is over"]


def test_a_feed_that_fails_in_between_is_said_once_and_the_watch_goes_on(watched) -> None:
    done = watched(
        WORST, FeedError("down", where="station"), FeedError("down", where="station"), NEWER, off_block="0550Z"
    )
    assert done.exit_code == 0
    assert done.stderr.count("no newer report") == 1
    assert "De-icing" in done.stdout.split("0540Z", 1)[1]


def test_a_feed_that_fails_at_first_ends_it_with_the_documented_code(watched) -> None:
    done = watched(FeedError("down", where="station"))
    assert done.exit_code == 6 and "Traceback" not in done.output

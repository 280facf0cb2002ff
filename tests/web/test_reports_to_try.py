"""Which reports a draft of a rule is tried on: those that were pasted, else those of the feed."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from advisor.web import edit_pages
from tests.web.site import QUIET, WORST, Clock


@pytest.mark.parametrize(
    ("asked", "fetched", "raw"),
    [
        ({"reports": QUIET, "station": "zzza"}, [], [QUIET]),
        ({"reports": "", "station": "zzza"}, [("ZZZA", "first")], [WORST]),
        ({"reports": "", "station": "zzza", "feed": "second"}, [("ZZZA", "second")], [WORST]),
        ({"reports": "", "station": ""}, [], []),
    ],
)
def test_pasted_reports_come_before_those_of_the_feed(
    asked: dict[str, str], fetched: list[tuple[str, str]], raw: list[str]
) -> None:
    met: list[tuple[str, str]] = []

    def fetch(station: str, feed: str) -> tuple[list[str], list[str]]:
        met.append((station, feed))
        return [WORST], []

    settings = SimpleNamespace(fetch=fetch, feeds=("first", "second"), clock=Clock())
    found = edit_pages._reports(SimpleNamespace(settings=settings), asked)
    assert met == fetched and [one.raw for one in found] == raw

"""How many reasons the first view names one by one, and in which order."""

from __future__ import annotations

from datetime import datetime
from types import SimpleNamespace

import pytest

import advisor
from advisor.web import digest
from tests.web.site import NOW, PLACE, QUIET, STORM, WORST


@pytest.mark.parametrize("report", [STORM, WORST, QUIET])
def test_two_reasons_to_stop_stand_alone_the_gravest_first_and_the_others_together(report: str) -> None:
    made = advisor.advise([report], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE)
    told = [line for line in made.advice if line.stop and line.status != "cannot tell"]
    rows = [row for row in digest.stop(made).rows if row.lead != "Cannot tell"]
    alone = [row for row in rows if not row.lead.startswith("Also")]
    assert len(alone) == min(2, len(told))
    assert [row.lead for row in rows[2:]] in ([], ["Also"], ["Also, some not certain"])
    assert (len(rows) > 2) == (len(told) > 2)
    order = ["expected", "likely", "possible"]
    first = sorted((line.status for line in told), key=order.index)[:2]
    assert [row.lead for row in alone] == ["" if status == "expected" else status.capitalize() for status in first]


def test_a_storm_has_more_than_two_reasons_to_stop() -> None:
    # so that the test above is of more than two
    made = advisor.advise([STORM], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE)
    assert sum(line.stop and line.status != "cannot tell" for line in made.advice) > 2


def _gear(name: str, weight: str, status: str) -> SimpleNamespace:
    return SimpleNamespace(id=name, kind="gear", stop=False, weight=weight, status=status, short=name, text=name)


def test_what_has_to_be_taken_stands_before_what_should_be() -> None:
    lines = [_gear("cap", "should", "expected"), _gear("lamp", "must", "possible"), _gear("gloves", "must", "expected")]
    answer = digest.take(SimpleNamespace(advice=lines))
    assert answer.verdict == "3 things"
    assert [(row.lead, len(row.items)) for row in answer.rows] == [("", 2), ("Also", 1)]
    said = [text for row in answer.rows for text, _ in row.items]
    assert [next(name for name in ("cap", "lamp", "gloves") if name in text) for text in said] == [
        "gloves",
        "lamp",
        "cap",
    ]

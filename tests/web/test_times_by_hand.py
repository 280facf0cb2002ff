"""What the page makes of times, and of lines of a log that never end, worked out by hand."""

from __future__ import annotations

import logging
import time
from datetime import UTC, datetime

import pytest

from advisor.checklist import aircraft, revision
from advisor.errors import DepartureError
from advisor.web import check, typed, walk_pages
from advisor.web.connections import Seldom
from advisor.web.model import Asked

EVENING = int(datetime(2027, 1, 10, 18, 0, tzinfo=UTC).timestamp())


def test_a_time_of_day_more_than_eighteen_hours_ago_is_one_of_today_that_is_still_to_come() -> None:
    # 0000 was 18 h ago; 2345 was 18 h 15 min ago, and is to come in 5 h 45 min
    assert walk_pages._time("0000", "at", EVENING) == "2027-01-10T00:00:00Z"
    with pytest.raises(DepartureError, match="still to come"):
        walk_pages._time("2345", "at", EVENING)
    # with its date it is what it says
    assert walk_pages._time("2027-01-09T23:45Z", "at", EVENING) == "2027-01-09T23:45:00Z"


@pytest.mark.parametrize(
    ("text", "now", "wanted"),
    [
        ("311200Z", "2027-03-01T12:00", "2027-01-31T12:00:00Z"),
        ("311200Z", "2027-03-03T12:00", "2027-03-31T12:00:00Z"),
        ("302359Z", "2027-02-27T23:59", "2027-01-30T23:59:00Z"),
        ("010000Z", "2026-12-31T23:59", "2027-01-01T00:00:00Z"),
    ],
)
def test_a_day_of_the_month_is_the_nearest_one(text: str, now: str, wanted: str) -> None:
    # from 1 March back to 31 January it is 29 days and on to 31 March 30; from 3 March on it is 28 and back 31
    assert typed.moment(text, datetime.fromisoformat(now).replace(tzinfo=UTC)) == wanted


def _line() -> logging.LogRecord:
    return logging.LogRecord("a", logging.WARNING, "a.py", 1, "a fault", (), None)


def test_a_log_has_so_many_lines_a_minute_and_says_how_many_were_kept_back(monkeypatch: pytest.MonkeyPatch) -> None:
    at_s = [1000.0]
    monkeypatch.setattr(time, "monotonic", lambda: at_s[0])
    seldom = Seldom(most=2)
    assert [seldom.filter(_line()) for _ in range(3)] == [True, True, False]
    at_s[0] = 1059.9
    assert not seldom.filter(_line())
    # a minute after the first: four came, two were written
    at_s[0], line = 1060.0, _line()
    assert seldom.filter(line) and line.getMessage() == "(2 lines were kept back) a fault"
    assert [seldom.filter(_line()) for _ in range(2)] == [True, False]
    at_s[0], line = 1120.0, _line()
    assert seldom.filter(line) and line.getMessage() == "(1 lines were kept back) a fault"
    # none was kept back: nothing is said of it
    at_s[0], line = 1180.0, _line()
    assert seldom.filter(line) and line.getMessage() == "a fault"


def test_each_time_that_is_still_to_come_is_a_fault_of_its_own_field() -> None:
    checklist, now = revision.load(), datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
    late = dict.fromkeys(("parked_since", "treated_at", "looked_at"), "2027-01-10T05:26:00Z")
    for names in (["parked_since"], ["treated_at"], ["looked_at"], list(late)):
        asked = Asked(off_block="0640Z", seen="frost", **{name: late[name] for name in names})
        found = check.faults(asked, now, checklist, aircraft.load_profiles())
        assert sorted(found) == sorted(names)
        assert all("is after now" in str(error) for error in found.values())

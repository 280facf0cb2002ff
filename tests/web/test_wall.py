"""The board on the wall: order, minutes left, what is late, its own age, and no connection."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from advisor.web.wall import rows
from tests.web.conftest import Server
from tests.web.site import Clock, client
from tests.web.test_browser import nothing_found, opened

SAMPLES = Path(__file__).parents[2] / "sample_reports" / "slots"
NOW = "2027-01-10T05:00:00Z"


def departure(flight: str, call: str | None, off_block: str = "2027-01-10T06:40:00Z", **more: object) -> dict:
    return {"flight": flight, "need": "expected", "latest_call": call, "off_block": off_block, **more}


def test_rows_come_by_the_time_of_their_call_and_say_what_is_left() -> None:
    plan = {
        "departures": [
            departure("B", "2027-01-10T05:30:00Z", pad="P1", start="2027-01-10T06:00:00Z"),
            departure("A", "2027-01-10T04:48:00Z"),
            departure("C", "2027-01-10T07:30:00Z"),
            departure("D", None),
            departure("E", "2027-01-10T05:10:00Z", need="not indicated"),
            departure("F", "2027-01-10T04:00:00Z", "2027-01-10T04:40:00Z", take_off="2027-01-10T04:55:00Z"),
        ]
    }
    found, more = rows(plan, NOW)
    assert [(row.flight, row.left, row.late) for row in found] == [
        ("A", "late by 12 min", True),
        ("B", "30 min left", False),
        ("C", "2 h 30 min left", False),
    ]
    assert more == 0 and (found[1].call, found[1].pad, found[1].start) == ("0530Z", "P1", "0600Z")


def test_only_the_next_ten_are_shown_and_the_rest_counted() -> None:
    plan = {"departures": [departure(str(at), f"2027-01-10T05:{at:02d}:00Z") for at in range(14)]}
    found, more = rows(plan, NOW)
    assert [row.flight for row in found] == [str(at) for at in range(10)] and more == 4


SENT = {
    "schedule": (SAMPLES / "schedule.csv").read_text(),
    "reports": [(SAMPLES / "report.txt").read_text()],
    "now": "2027-01-10T04:30:00Z",
}


def test_the_page_has_a_clock_and_its_own_age() -> None:
    clock = Clock("2027-01-10T04:35:00+00:00")
    with client(pads=SAMPLES / "pads.toml", plan_seconds=2.0, clock=clock) as site:
        name = site.post("/api/slots", json=SENT).headers["location"].rsplit("/", 1)[1]
        page = site.get(f"/slots/{name}/wall")
        assert page.status_code == 200
        assert "0435Z" in page.text and "Plan of 0430Z, 5 min old" in page.text
        assert 1 < len(re.findall(r"<tr class=", page.text)) <= 10
        clock.on(minutes=40)
        assert re.search(
            r'class="old"><span class="mark"[^>]*>!</span>Plan of 0430Z, 45 min old',
            site.get(f"/slots/{name}/wall").text,
        )
        assert site.get(f"/slots/{'x' * 22}/wall").status_code == 404


@pytest.fixture
def planned():
    made = Server(pads=SAMPLES / "pads.toml", plan_seconds=2.0)
    yield made
    made.stop()


def test_no_connection_is_said_and_taken_back(browser, planned, axe) -> None:
    import json
    import urllib.request

    request = urllib.request.Request(
        f"{planned.url}/api/slots", json.dumps(SENT).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        where = f"{planned.url}{answer.headers['Location'].replace('/api', '')}/wall"
    with opened(browser, viewport={"width": 1280, "height": 720}) as page:
        page.clock.install()
        page.goto(where)
        nothing_found(page, axe)
        lost = page.locator("[data-part=lost]")
        assert not lost.is_visible()
        page.context.set_offline(True)
        page.clock.run_for(21_000)
        lost.wait_for(state="visible")
        assert re.fullmatch(r"No connection since \d{4}Z", lost.inner_text())
        page.context.set_offline(False)
        page.clock.run_for(21_000)
        lost.wait_for(state="hidden")

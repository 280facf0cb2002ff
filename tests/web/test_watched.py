"""A brief made by station and feed is looked at again by the server, until off-block."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from advisor.brief.model import Brief
from advisor.cli.main import main
from advisor.errors import FeedError
from advisor.render.changed import sentences
from tests.web.site import NEWER, PLACE, QUIET, WORST, Clock, body, client


@pytest.fixture
def site():
    clock, reports, asked = Clock(), [QUIET], []

    def fetch(station: str, feed: str):
        asked.append(station)
        if not reports:
            raise FeedError("down", where="station")
        return list(reports), []

    with client(clock=clock, fetch=fetch, feeds=("invented",)) as made:
        made.clock, made.reports, made.asked, made.work = clock, reports, asked, made.app.state.work
        yield made


def made(site) -> str:
    wanted = {"station": "ZZZA", "off_block": "0640Z", "place": PLACE}
    answer = site.post("/api/brief", json=wanted)
    assert answer.status_code == 201, answer.text
    return answer.headers["location"].rsplit("/", 1)[1]


def newer(site, name: str) -> dict:
    return site.get(f"/b/{name}/newer").json()


def test_a_must_line_that_comes_is_said_in_one_sentence(site) -> None:
    name = made(site)
    site.clock.on(minutes=3)
    site.work.look_again()
    assert newer(site, name) == {"newer": None}
    site.reports[:] = [WORST]
    site.clock.on(minutes=3)
    site.work.look_again()
    found = newer(site, name)
    assert found["newer"] and "De-icing: new (expected)" in found["said"]


def test_a_look_that_began_before_another_ended_puts_nothing_back(site) -> None:
    name = made(site)
    early = site.work.get(name)
    site.reports[:] = [WORST]
    site.clock.on(minutes=3)
    found = site.work.renew(early).newer
    assert found
    # the other had read the brief before that, and the feed is silent by now
    site.reports.clear()
    site.clock.on(minutes=3)
    assert site.work.renew(early).newer == found
    assert newer(site, name)["newer"] == found


def test_the_dispatcher_s_boards_say_what_changed_until_off_block(tmp_path) -> None:
    samples = Path(__file__).parents[2] / "sample_reports" / "slots"
    clock, reports = Clock(), [QUIET]
    sent = {
        "schedule": (samples / "schedule.csv").read_text(),
        "reports": [(samples / "report.txt").read_text()],
        "now": "2027-01-10T04:30:00Z",
    }
    settings = {"pads": samples / "pads.toml", "plan_seconds": 5.0}
    with client(clock=clock, fetch=lambda *_: (list(reports), []), feeds=("invented",), **settings) as site:
        name = made(site)
        answer = site.post("/api/slots", json=sent)
        assert answer.status_code == 201, answer.text
        board = answer.headers["location"].replace("/api", "")
        wanted = "61.40 N 9.80 E, off-block 0640Z, Single-aisle jet"
        for page in (board, f"{board}/wall"):
            assert wanted not in site.get(page).text
        reports[:] = [WORST]
        clock.on(minutes=3)
        site.app.state.work.look_again()
        for page in (board, f"{board}/wall"):
            found = site.get(page).text
            assert f"0528Z {wanted}" in found and "De-icing: new (expected)" in found
            # whose brief it is stays with whoever has its address
            assert name not in found
        clock.on(minutes=73)
        for page in (board, f"{board}/wall"):
            assert wanted not in site.get(page).text


def test_the_newest_is_compared_with_what_is_on_the_screen(site) -> None:
    name = made(site)
    for report in (WORST, NEWER):
        site.reports[:] = [report]
        site.clock.on(minutes=3)
        site.work.look_again()
    first = site.get(f"/api/brief/{name}").json()
    last = site.work.latest(site.work.get(name))
    assert last.id != newer(site, name)["newer"]
    wanted = sentences(msgspec.convert(first, Brief), msgspec.json.decode(last.brief, type=Brief))
    assert newer(site, name)["said"] == list(wanted)


def test_after_off_block_nobody_looks_any_more(site) -> None:
    made(site)
    site.clock.on(minutes=80)
    site.work.look_again()
    count = len(site.asked)
    site.clock.on(minutes=10)
    site.work.look_again()
    assert len(site.asked) == count


def test_a_feed_that_is_down_leaves_the_brief_as_it_is(site) -> None:
    name = made(site)
    site.reports.clear()
    site.clock.on(minutes=3)
    site.work.look_again()
    assert newer(site, name) == {"newer": None}
    site.reports.append(WORST)
    site.clock.on(minutes=3)
    site.work.look_again()
    assert newer(site, name)["newer"]


def test_a_should_line_is_not_worth_a_sentence(site) -> None:
    one = site.post("/api/brief", json=body(QUIET)).json()
    brief = msgspec.convert(one, Brief)
    shoulds = tuple(line for line in brief.advice if line.weight == "should")
    assert shoulds
    without = msgspec.structs.replace(brief, advice=tuple(line for line in brief.advice if line.weight == "must"))
    assert sentences(brief, without) == ()


def test_since_says_what_changed_and_an_unknown_one_is_refused(site) -> None:
    first = site.post("/api/brief", json=body(QUIET)).headers["location"].rsplit("/", 1)[1]
    answer = site.post("/api/brief", json={**body(WORST), "since": first})
    found = answer.json()
    assert ("de-icing-request", "added") in {(change["id"], change["what"]) for change in found["changes"]}
    assert "changes" not in site.get(answer.headers["location"]).json()
    refused = site.post("/api/brief", json={**body(WORST), "since": "x" * 22})
    assert (refused.status_code, refused.json()["field"]) == (422, "since")


def test_old_walks_go_by_themselves_where_the_operator_said_how_long(tmp_path) -> None:
    clock = Clock()
    url = f"sqlite:///{tmp_path / 'record.sqlite'}"
    with client(data=tmp_path, database=url, keep_days=30.0, clock=clock) as site:
        name = site.post("/api/brief", json=body()).headers["location"].rsplit("/", 1)[1]
        where = site.post("/api/walk", json={"brief": name, "by": "AB"}).headers["location"]
        clock.on(minutes=29 * 24 * 60)
        site.app.state.walks.drop_old()
        assert site.get(where).status_code == 200
        clock.on(minutes=2 * 24 * 60)
        site.app.state.walks.drop_old()
        assert site.get(where).status_code == 404
        assert site.post(f"{where}/note", json={"text": "late"}).status_code == 404


def test_slots_and_aircraft_come_from_the_api_as_well(tmp_path) -> None:
    samples = Path(__file__).parents[2] / "sample_reports" / "slots"
    sent = {
        "schedule": (samples / "schedule.csv").read_text(),
        "reports": [(samples / "report.txt").read_text()],
        "now": "2027-01-10T04:30:00Z",
    }
    with client(pads=samples / "pads.toml", plan_seconds=2.0) as site:
        answer = site.post("/api/slots", json=sent)
        assert answer.status_code == 201, answer.text
        plan = answer.json()
        assert plan["schema"] == "plan/1" and len(plan["departures"]) > 3
        assert site.get(answer.headers["location"]).content == answer.content
        page = answer.headers["link"].split(">")[0][1:]
        assert site.get(page).status_code == 200
        wrong = site.post("/api/slots", json={**sent, "schedule": "flight\nX"})
        assert (wrong.status_code, wrong.json()["field"]) == (422, "schedule")
        assert site.post("/api/slots", json={**sent, "more": 1}).status_code == 400
        fleet = site.get("/api/aircraft").json()
    told = json.loads(CliRunner().invoke(main, ["aircraft", "--format", "json"]).stdout)
    assert fleet == told


def test_a_page_says_that_it_is_watched_until_a_newer_brief_is_there(site) -> None:
    name = made(site)
    page = site.get(f"/b/{name}").text
    assert "data-watch" in page
    site.reports[:] = [WORST]
    site.clock.on(minutes=3)
    site.work.look_again()
    found = newer(site, name)["newer"]
    assert "data-watch" not in site.get(f"/b/{name}").text
    assert "data-watch" in site.get(f"/b/{found}").text
    # what was pasted is looked at by nobody
    pasted = site.post("/api/brief", json=body(now=None)).headers["location"].rsplit("/", 1)[1]
    assert "data-watch" not in site.get(f"/b/{pasted}").text

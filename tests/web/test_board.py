"""The slots board on the server: its form, its address, what it lets through, what it says when something is wrong."""

from __future__ import annotations

import csv
import errno
import hashlib
import os
import re
import subprocess
import sys
import threading
from base64 import b64encode
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor.cli.main import main
from advisor.web.board import Boards
from tests.web.conftest import Server
from tests.web.site import Clock, brief_page, client, token
from tests.web.test_browser import LITTLE, SMALL, go, nothing_found, opened, wide

EXAMPLE = Path(__file__).parents[2] / "sample_reports" / "slots"
NOW = "2027-01-10T04:30:00Z"
SCHEDULE = EXAMPLE.joinpath("schedule.csv").read_text(encoding="utf-8")
REPORTS = EXAMPLE.joinpath("report.txt").read_text(encoding="utf-8")
FLIGHTS = [row["flight"] for row in csv.DictReader(SCHEDULE.splitlines())]
ASKED = {"schedule": SCHEDULE, "reports": REPORTS, "now": NOW}
HOSTILE = "<script>alert(1)</script>"


def planning(**settings: object):
    return client(pads=EXAMPLE / "pads.toml", plan_seconds=3.0, **settings)


def ask(site, **fields: str):
    given = {"token": token(site.get("/slots").text), **ASKED, **fields}
    return site.post("/slots", data=given, follow_redirects=False)


@pytest.fixture(scope="module")
def site():
    with planning() as made:
        yield made


@pytest.fixture(scope="module")
def made(site):
    answer = ask(site, schedule=SCHEDULE.replace("ZZ101,", f"{HOSTILE},"))
    assert answer.status_code == 303, answer.text
    return answer.headers["location"], site.get(answer.headers["location"])


def test_a_schedule_becomes_a_board_at_an_address_that_cannot_be_guessed(made) -> None:
    where, page = made
    assert re.fullmatch(r"/slots/[A-Za-z0-9_-]{22}", where)
    assert page.status_code == 200 and page.headers["content-type"].startswith("text/html")
    assert all(flight in page.text for flight in FLIGHTS if flight != "ZZ101")
    # the example's own file says so, and every output must
    assert "INVENTED" in page.text.upper()


def test_a_board_lets_its_own_style_through_and_nothing_else(made) -> None:
    _, page = made
    policy = dict(part.strip().split(" ", 1) for part in page.headers["content-security-policy"].split(";"))
    (style,) = re.findall(r"<style>(.*?)</style>", page.text, re.S)
    # CSP level 3, 2.3.1: the base64 of the SHA-256 of the element's text
    assert policy["style-src"] == f"'sha256-{b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"
    assert policy["default-src"] == "'none'" and "script-src" not in policy
    assert not re.search(r'<[^>]* style="', page.text) and "<script" not in page.text


def test_a_flight_named_like_a_script_is_text(made) -> None:
    assert "&lt;script&gt;alert(1)" in made[1].text and "<script>" not in made[1].text


def test_plan_again_fills_the_form_with_what_was_pasted(site, made) -> None:
    where, page = made
    again = f"/slots?again={where.rsplit('/', 1)[1]}"
    assert f'href="{again}"' in page.text and 'href="/"' in page.text
    form = unescape(site.get(again).text)
    assert REPORTS.strip() in form and SCHEDULE.replace("ZZ101,", f"{HOSTILE},").strip() in form and NOW in form


def test_the_first_page_leads_to_the_slots_and_back_where_there_are_pads(site) -> None:
    assert 'href="/slots"' in site.get("/").text and 'href="/"' in site.get("/slots").text


def test_without_pads_there_is_no_board_and_no_way_to_it() -> None:
    with client() as plain:
        assert "/slots" not in plain.get("/").text
        for answer in (plain.get("/slots"), plain.get("/slots/" + "a" * 22), plain.post("/slots", data=ASKED)):
            assert answer.status_code == 404 and "plans no slots" in answer.text
            assert answer.headers["content-type"].startswith("text/html")


def test_a_fault_of_the_schedule_is_said_with_line_and_column_and_what_was_pasted_stays(site) -> None:
    bad = f"flight,off_block,aircraft\nZZ1,2027-01-10T05:40:00Z,{HOSTILE}\nZZ2,05:40,light-aircraft\n"
    answer = ask(site, schedule=bad, place="61.4,9.8")
    assert answer.status_code == 422
    # counted by hand: the third cell of line 2 begins after "ZZ1," and 21 more, the second of line 3 after "ZZ2,"
    shown = unescape(answer.text)
    assert "<p>schedule:2:26: aircraft: " in shown and "<p>schedule:3:5: off_block: " in shown
    assert HOSTILE not in answer.text
    for kept in (bad.strip(), REPORTS.strip(), 'value="61.4,9.8"', f'value="{NOW}"'):
        assert kept in shown
    assert 'id="schedule-fault"' in answer.text and 'aria-invalid="true"' in answer.text


@pytest.mark.parametrize(
    ("field", "value"),
    [("schedule", ""), ("reports", ""), ("reports", "no report at all"), ("place", "nowhere"), ("now", "soon")],
)
def test_what_cannot_be_used_is_said_beside_its_entry(site, field, value) -> None:
    answer = ask(site, **{field: value})
    assert answer.status_code == 422 and f'id="{field}-fault"' in answer.text
    assert "--" not in re.search(f'id="{field}-fault".*', answer.text)[0]


def test_what_has_happened_is_planned_from_and_its_faults_stand_beside_it(site) -> None:
    head = "flight,off,at_pad,begun,finished,departed,truck\n"
    gone = ask(site, actuals=head + "ZZ101,2027-01-10T04:20:00Z,,,,2027-01-10T04:29:00Z,\n")
    assert gone.status_code == 303 and "departed" in site.get(gone.headers["location"]).text
    wrong = ask(site, actuals=head + "ZZ999,,,,,,\n")
    shown = unescape(wrong.text)
    assert wrong.status_code == 422 and 'id="actuals-fault"' in shown
    assert "<p>actuals:2:1: flight: 'ZZ999' is not in the schedule" in shown


def test_many_faults_are_cut_short(site) -> None:
    rows = "\n".join(f"ZZ{at},soon,light-aircraft" for at in range(200))
    page = ask(site, schedule=f"flight,off_block,aircraft\n{rows}").text
    assert page.count("<p>schedule:") == 20 and "and 180 more" in page


def test_a_fault_of_the_pads_names_the_file_and_not_where_it_lies(tmp_path) -> None:
    tmp_path.joinpath("pads.toml").write_text("pads = 3\n", encoding="utf-8")
    with client(pads=tmp_path / "pads.toml") as site:
        answer = ask(site)
    assert answer.status_code == 500 and "<p>pads.toml:1:" in answer.text and str(tmp_path) not in answer.text


def test_a_holdover_file_outside_the_folder_of_the_pads_is_refused(tmp_path) -> None:
    pads = EXAMPLE.joinpath("pads.toml").read_text(encoding="utf-8")
    tmp_path.joinpath("in").mkdir()
    tmp_path.joinpath("in", "pads.toml").write_text(pads.replace('"holdover.toml"', '"../h.toml"'), encoding="utf-8")
    tmp_path.joinpath("h.toml").write_bytes(EXAMPLE.joinpath("holdover.toml").read_bytes())
    with client(pads=tmp_path / "in" / "pads.toml") as site:
        answer = ask(site)
    assert answer.status_code == 500 and "leads out of its folder" in answer.text and str(tmp_path) not in answer.text


def test_a_second_plan_is_told_to_wait_and_keeps_its_entry_while_briefs_go_on(monkeypatch) -> None:
    begun, done = threading.Event(), threading.Event()

    def slow(self, values, name) -> str:
        begun.set()
        assert done.wait(20)
        return "<style></style>"

    monkeypatch.setattr(Boards, "_page", slow)
    with planning() as site, planning() as other:
        other.app.state.boards = site.app.state.boards
        answers: list[int] = []
        first = threading.Thread(target=lambda: answers.append(ask(site).status_code))
        first.start()
        try:
            assert begun.wait(20)
            second = ask(other)
            assert second.status_code == 503 and second.headers["retry-after"] == "3"
            assert "another plan is being made" in second.text and SCHEDULE.strip() in unescape(second.text)
            assert brief_page(site).status_code == 200
        finally:
            done.set()
            first.join(20)
        assert answers == [303] and ask(other).status_code == 303


def test_after_a_fault_the_next_plan_is_not_kept_waiting(site) -> None:
    assert [ask(site, now="soon").status_code for _ in range(2)] == [422, 422]


def test_a_schedule_that_takes_too_long_to_look_at_is_turned_down() -> None:
    with client(pads=EXAMPLE / "pads.toml", plan_seconds=0.0) as site:
        answer = ask(site)
    assert answer.status_code == 422 and f"0 of {len(FLIGHTS)} departures" in answer.text
    assert 'id="schedule-fault"' in answer.text


@pytest.mark.long
def test_the_board_says_what_the_command_says() -> None:
    # both have the command's own time: the limit covers the order too, and what is cut short need not be the same
    given = [str(EXAMPLE / name) for name in ("schedule.csv", "report.txt")]
    said = CliRunner().invoke(
        main, ["slots", *given, "--pads", str(EXAMPLE / "pads.toml"), "--now", NOW, "--format", "html"]
    )
    with client(pads=EXAMPLE / "pads.toml", plan_seconds=20.0) as site:
        page = site.get(ask(site).headers["location"]).text
    assert said.stdout.count("<tr") > len(FLIGHTS)
    assert re.findall("<tr.*?</tr>", page, re.S) == re.findall("<tr.*?</tr>", said.stdout, re.S)


def test_a_form_from_elsewhere_makes_no_plan(site) -> None:
    assert site.post("/slots", data={"token": "x" * 32, **ASKED}).status_code == 403
    given = {"token": token(site.get("/slots").text), **ASKED}
    assert site.post("/slots", data=given, headers={"Origin": "http://elsewhere.example"}).status_code == 403


def test_plans_count_against_the_limit_and_a_body_too_long_is_refused() -> None:
    with planning(rate_limit=1) as site:
        assert ask(site, now="soon").status_code == 422
        late = ask(site, now="soon")
        assert late.status_code == 429 and int(late.headers["retry-after"]) > 0
        assert ask(site, schedule="x" * 70_000).status_code == 413


def test_a_board_is_kept_for_a_day(monkeypatch) -> None:
    monkeypatch.setattr(Boards, "_page", lambda self, values, name: "<style></style>")
    clock = Clock()
    with planning(clock=clock) as site:
        where = ask(site).headers["location"]
        clock.on(24 * 60 - 1)
        assert site.get(where).status_code == 200
        clock.on(2)
        assert site.get(where).status_code == 404


def test_a_board_outlives_the_server_where_there_is_a_folder_for_it(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(Boards, "_page", lambda self, values, name: "<style></style>")
    clock = Clock()
    with planning(clock=clock, data=tmp_path) as site:
        where = ask(site).headers["location"]
    (file,) = (tmp_path / "plans").iterdir()
    assert where.rsplit("/", 1)[1] not in file.name and file.stat().st_mode & 0o077 == 0
    with planning(clock=clock, data=tmp_path) as site:
        assert site.get(where).status_code == 200
        clock.on(24 * 60 + 1)
        assert site.get(where).status_code == 404
    clock.on(-60)
    file.write_bytes(file.read_bytes()[:-9])
    with planning(clock=clock, data=tmp_path) as site:
        assert site.get(where).status_code == 404


def test_a_board_that_the_disk_has_no_room_for_is_kept_in_memory(tmp_path, monkeypatch, caplog) -> None:
    monkeypatch.setattr(Boards, "_page", lambda self, values, name: "<style></style>")

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with planning(data=tmp_path) as site:
        monkeypatch.setattr(os, "fsync", full)
        answer = ask(site)
        assert answer.status_code == 303 and site.get(answer.headers["location"]).status_code == 200
        assert list((tmp_path / "plans").iterdir()) == []
    assert [record.getMessage() for record in caplog.records if record.levelname == "ERROR"] == [
        "a plan was not kept on the disk: No space left on device"
    ]


def test_a_missing_solver_is_named() -> None:
    # in a process of its own, where nothing of it is loaded yet
    code = (
        "import sys; sys.modules['highspy'] = None\n"
        "from tests.web.test_board import ask, planning\n"
        "with planning() as site: answer = ask(site)\n"
        "print(answer.status_code, 'highspy is not installed' in answer.text, 'ZZ103' in answer.text)"
    )
    found = subprocess.run([sys.executable, "-c", code], cwd=EXAMPLE.parents[1], capture_output=True, text=True)
    assert found.stdout.split() == ["501", "True", "True"], found.stderr


def test_the_command_refuses_pads_that_cannot_be_used_before_it_serves() -> None:
    found = CliRunner().invoke(main, ["serve", "--port", "0", "--pads", "nowhere.toml"])
    assert found.exit_code == 4 and "nowhere.toml" in found.output and "Traceback" not in found.output


def test_the_night_at_a_glance_comes_before_the_tables(made) -> None:
    page = unescape(made[1].text)
    places = [page.index(part) for part in ("<h2>Who is next", "<h2>Pads over time", ">now</text>", "<h2>Flights</h2>")]
    assert places == sorted(places)
    calls = re.findall(r"<b>(! )?(\S+): call (now|by (\d{4}Z))</b>", page)
    # by hand: 45 min before the first off-block of the schedule, 0510Z, are before the plan's 0430Z
    assert calls[0][0] == "! " and calls[0][2] == "now"
    assert [call[3] for call in calls[1:]] == sorted(call[3] for call in calls[1:]) and len(calls) == 4


@pytest.mark.parametrize("theme", ["dark", "night", "light"])
def test_the_colours_chosen_hold_on_the_board(site, made, theme) -> None:
    where, plain = made
    page = site.get(where, headers={"cookie": f"theme={theme}"})
    assert page.text == plain.text.replace('<html lang="en">', f'<html lang="en" data-theme="{theme}">')
    assert site.get(where, headers={"cookie": 'theme="><script>'}).text == plain.text


@pytest.fixture(scope="module")
def planner():
    made = Server(pads=EXAMPLE / "pads.toml", plan_seconds=3.0)
    yield made
    made.stop()


@pytest.mark.long
@pytest.mark.parametrize("width", [320, 1280])
def test_the_whole_way_works_with_script_off_on_small_and_large_screens(browser, planner, width) -> None:
    options = {"viewport": {"width": width, "height": 740}, "has_touch": True, "java_script_enabled": False}
    with opened(browser, **options) as page:
        page.goto(planner.url)
        go(page, page.locator('a[href="/slots"]'))
        for name, value in ASKED.items():
            page.locator(f"#{name}").fill(value)
        assert wide(page) == 0 and page.evaluate(SMALL) == [] and page.evaluate(LITTLE) == []
        go(page, page.locator("button.go"))
        assert re.search(r"/slots/[\w-]{22}$", page.url)
        assert wide(page) == 0 and page.evaluate(SMALL) == [] and page.evaluate(LITTLE) == []
        regions = page.locator('[role="region"][tabindex="0"]')
        assert regions.count() == 3
        assert page.locator("table").first.evaluate("e => !!e.closest('[role=region]')")
        # the style was let through: without it a cell may wrap
        assert page.locator("td").first.evaluate("e => getComputedStyle(e).whiteSpace") == "nowrap"
        assert page.faults == []
        go(page, page.get_by_text("Plan again"))
        assert page.locator("#now").input_value() == NOW
        assert page.locator("#schedule").input_value().split() == SCHEDULE.split()


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_form_and_on_the_board(browser, planner, axe, scheme) -> None:
    # the board lets no script in, which axe is: its policy is checked above, and set aside here
    options = {"viewport": {"width": 360, "height": 740}, "color_scheme": scheme, "bypass_csp": True, "has_touch": True}
    with opened(browser, **options) as page:
        page.goto(f"{planner.url}/slots")
        nothing_found(page, axe)
        for name, value in ASKED.items():
            page.locator(f"#{name}").fill(value)
        go(page, page.locator("button.go"))
        nothing_found(page, axe)

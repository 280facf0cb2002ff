"""Small parts of the server, each worked by hand: what its document offers, what a form holds, what is kept back."""

from __future__ import annotations

import asyncio
import logging
import re
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from advisor import __version__, advise
from advisor.web import (
    above,
    connections,
    edit,
    enter,
    forms,
    holdover,
    openapi,
    typed,
    walk_api,
    walk_pages,
    walk_view,
    who,
)
from advisor.web.feed import from_files
from advisor.web.wall import rows
from tests.web.site import WORST

NOW = "2027-01-10T05:25:00Z"
ASKED = {"now": NOW, "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
# RFC 9110 and OpenAPI 3.1: what can be asked for, and what answers where it goes well
OFFERED = {
    ("/api/brief", "post"): "201",
    ("/api/walk/{id}/queue", "post"): "200",
    ("/api/walk/{id}/photo", "post"): "201",
    ("/api/walk/{id}/photo/{digest}", "get"): "200",
}


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return openapi.document()


def test_the_document_says_what_it_is_and_of_which_program(document: dict[str, Any]) -> None:
    assert document["openapi"] == "3.1.0"
    assert (document["info"]["title"], document["info"]["version"]) == ("advisor", __version__)
    assert "Only the inspection itself can tell" in document["info"]["description"]


@pytest.mark.parametrize(("path", "method"), OFFERED)
def test_the_document_offers_each_address_with_its_answer(document: dict[str, Any], path: str, method: str) -> None:
    offered = document["paths"][path][method]
    assert OFFERED[path, method] in offered["responses"]
    for name in re.findall(r"{(\w+)}", path):
        (found,) = (one for one in offered["parameters"] if one["name"] == name and one["in"] == "path")
        # OpenAPI 3.1: a parameter of a path is required
        assert found["required"] is True


def test_a_photo_needs_no_line_and_a_queue_no_other_field(document: dict[str, Any]) -> None:
    photo = document["paths"]["/api/walk/{id}/photo"]["post"]
    assert {one["name"]: one["required"] for one in photo["parameters"] if one["name"] in ("line", "zone")} == {
        "line": False,
        "zone": False,
    }
    queue = document["paths"]["/api/walk/{id}/queue"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert queue["items"]["additionalProperties"] is False and queue["items"]["required"] == ["kind", "key", "said"]


def test_what_somebody_typed_is_shown_by_name_without_what_the_page_added() -> None:
    own = next(iter(enter.OWN))
    shown = enter._shown({"off_block": "0640Z", own: "x", "place": "ZZZA"})
    assert shown == [("off block", "0640Z"), ("place", "ZZZA")]


def test_a_form_holds_its_empty_fields_too() -> None:
    assert forms.read_form(b"place=&off_block=0640Z&place=ZZZA") == {"place": "ZZZA", "off_block": "0640Z"}
    assert forms.read_form(b"place=") == {"place": ""}


def test_a_text_of_just_the_most_letters_is_read() -> None:
    now = datetime(2027, 1, 10, tzinfo=UTC)

    def faults(letters: int) -> dict[str, Exception]:
        return forms.read({"reports": "X" * letters, "off_block": "0640Z"}, now).faults

    assert faults(forms.MOST_TEXT) == {}
    assert set(faults(forms.MOST_TEXT + 1)) == {"reports"}


@pytest.mark.parametrize(("text", "number"), [("7", 7), ("0", 0), ("-1", 0), ("", 0), ("x", 0), ("\u0663", 0)])
def test_a_place_of_a_walk_is_a_short_number_in_plain_digits(text: str, number: int) -> None:
    assert walk_pages._number(text) == number
    # ours: so many digits and no more
    longest = "9" * walk_pages.MOST_DIGITS
    assert walk_pages._number(longest) == int(longest) and walk_pages._number(f"{longest}9") == 0


def test_of_several_calls_of_a_walk_the_earliest_counts() -> None:
    calls = [{"id": walk_view.TREATED, "by": by} for by in ("2027-01-10T05:55:00Z", "2027-01-10T05:40:00Z")]
    opened = {"reports": [], "lines": calls, "off_block": "2027-01-10T06:40:00Z"}
    walk = SimpleNamespace(opened=opened, last=lambda *_: None)
    bar = walk_view.bar(walk, NOW)  # type: ignore[arg-type]
    assert (bar.call, bar.call_by, bar.late) == ("call by 0540Z", "2027-01-10T05:40:00Z", False)
    assert walk_view.bar(walk, "2027-01-10T05:40:01Z").late  # type: ignore[arg-type]


def test_a_board_on_the_wall_names_the_stand() -> None:
    departure = {"flight": "A", "need": "expected", "latest_call": "2027-01-10T05:30:00Z"}
    departure |= {"off_block": "2027-01-10T06:40:00Z"}
    (named,), _ = rows({"departures": [{**departure, "stand": "12"}]}, NOW)
    (bare,), _ = rows({"departures": [departure]}, NOW)
    assert (named.stand, bare.stand) == ("12", "")


def counts(answers: list[edit.DraftAnswer]) -> str:
    said: str = edit.Draft.counts.fget(SimpleNamespace(answers=answers))  # type: ignore[attr-defined]
    return said


def test_how_often_a_draft_fires_is_counted_in_a_sentence() -> None:
    drafted = [edit.DraftAnswer("", "", "", one) for one in (f"{edit.FIRES} x", edit.UNKNOWN, edit.NOT, edit.NOT)]
    # of a rule that the form has not changed what is saved counts
    drafted.append(edit.DraftAnswer("", "", f"{edit.FIRES} y", ""))
    assert counts(drafted) == "Of 5 reports it fires in 2; in 1 it is not known."
    assert counts([]) == ""


def test_a_condition_that_cannot_be_read_says_why() -> None:
    (said,) = edit._said("gust_kt >= ")
    assert said.startswith("cannot be read: ") and len(said) > len("cannot be read: ")
    assert not edit._said("gust_kt >= 28")[0].startswith("cannot be read")


def test_without_a_file_of_feeds_there_is_no_way_to_fetch(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    assert from_files(None) == (None, ())


def test_a_station_elsewhere_is_named_and_the_places_own_is_not() -> None:
    place = SimpleNamespace(latitude_deg=61.4, longitude_deg=10.8)
    brief = advise([WORST], **ASKED)
    assert brief.reports[0].station in above._elsewhere(brief, lambda _: None)
    own = SimpleNamespace(reports=brief.reports, place=SimpleNamespace(indicator=brief.reports[0].station))
    assert above._elsewhere(own, lambda _: place) == ""  # type: ignore[arg-type,return-value]


def test_a_time_is_the_same_in_small_letters() -> None:
    now = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
    assert typed.moment("6:40z", now) == typed.moment("6:40Z", now) != "6:40z"
    # digits of another script are no time: they stay as they were typed
    assert typed.moment("\u0660\u0666:40Z", now) == "\u0660\u0666:40Z"


def test_a_fault_a_thousand_times_is_a_few_lines_a_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [1000.0]
    monkeypatch.setattr(connections.time, "monotonic", lambda: clock[0])
    seldom, record = connections.Seldom(most=2), logging.makeLogRecord({"msg": "the same"})
    assert [seldom.filter(record) for _ in range(4)] == [True, True, False, False]
    clock[0] += 60.0
    later = logging.makeLogRecord({"msg": "the same"})
    assert seldom.filter(later) and later.msg == "(2 lines were kept back) the same"


@pytest.mark.parametrize(("path", "turned_away"), [("/a b", False), ("/a\x1fb", True), ("/a\x7fb", True), ("/", False)])
def test_a_path_with_control_letters_reaches_nobody(path: str, turned_away: bool) -> None:
    # RFC 3986: no control character stands in a path, a blank may be written as %20
    sent, reached = [], []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        reached.append(scope["path"])

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(connections._plain_paths(app)({"type": "http", "path": path}, None, send))
    assert bool(reached) is not turned_away
    assert [one["status"] for one in sent if "status" in one] == ([400] if turned_away else [])


def test_a_key_that_nobody_keeps_is_256_bits_long() -> None:
    # RFC 2104: a key as long as what the hash gives, 32 bytes of SHA-256
    assert len(who._key(None)) == 32 and who._key(None) != who._key(None)


def test_a_walk_whose_beginning_is_lost_is_shown_with_what_there_is(monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.record import walk

    monkeypatch.setattr(walk, "read", lambda _: None)
    events = (SimpleNamespace(walk="w" * 22),)
    assert walk_api.shown(events) == {"schema": "walk/1", "id": "w" * 22, "events": events}


def test_the_hour_of_a_stamp_is_that_of_the_clock() -> None:
    # 2027-01-10T05:25Z is 20,463 days and 19,500 s after 1970: 57 years, 14 of them with a day more, and 9 days
    assert holdover._unix(NOW) == (57 * 365 + 14 + 9) * 86_400 + 19_500

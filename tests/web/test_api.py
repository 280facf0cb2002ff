"""The API against CONTRACT ("HTTP") and RFC 9457."""

from __future__ import annotations

import json
from datetime import datetime

import pytest

import advisor
from advisor.web.model import MOST_BODY
from tests.web.site import NOW, PLACE, QUIET, WORST, Clock, body, client

PROBLEM = "application/problem+json"


@pytest.fixture(scope="module")
def api():
    with client() as made:
        yield made


def test_a_brief_is_made_kept_and_read_back_the_same(api) -> None:
    made = api.post("/api/brief", json=body())
    assert made.status_code == 201
    assert made.json()["schema"] == "brief/1"
    again = api.get(made.headers["location"])
    assert again.status_code == 200
    assert again.content == made.content
    page = made.headers["link"].split(">")[0].removeprefix("<")
    assert api.get(page).headers["content-type"].startswith("text/html")


def test_the_api_gives_the_same_brief_as_python(api) -> None:
    from advisor.brief.model import to_json

    brief = advisor.advise([WORST], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE, heading=210)
    assert api.post("/api/brief", json=body(heading=210)).json() == json.loads(to_json(brief))


def test_without_a_now_the_server_s_clock_counts(api) -> None:
    asked = body()
    del asked["now"]
    assert api.post("/api/brief", json=asked).json()["now"] == NOW


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"off_block": "yesterday"}, 422, "off_block"),
        ({"off_block": "0500Z"}, 422, "off_block"),
        ({"place": "61.4,190"}, 422, "place"),
        ({"place": None}, 422, "place"),
        ({"heading": "north"}, 422, "heading"),
        ({"aircraft": "balloon"}, 422, "aircraft"),
        ({"fuel_temperature": "warm"}, 422, "fuel_temperature"),
        ({"walk_round": "2027-01-10T06:15:00Z/2027-01-10T05:55:00Z"}, 422, "walk_round"),
        ({"take_off": "2027-01-11T06:40:00Z"}, 422, "take_off"),
        ({"parked_since": "2027-01-11T06:40:00Z"}, 422, "parked_since"),
        ({"now": "2027-01-10"}, 422, "now"),
        ({"reports": ["hello"]}, 422, "reports"),
        ({"reports": []}, 422, "reports"),
        ({"station": "ZZZA", "reports": []}, 422, "station"),
        ({"off_block": 640}, 400, "off_block"),
        ({"heading": 361}, 400, "heading"),
        ({"seen": "rime"}, 400, "seen"),
        ({"reports": WORST}, 400, "reports"),
        ({"reports": [1]}, 400, "reports"),
        ({"checklist": "/etc"}, 400, "checklist"),
    ],
    ids=str,
)
def test_what_is_wrong_names_its_field(api, change, status, field) -> None:
    answer = api.post("/api/brief", json=body(**change))
    assert answer.status_code == status, answer.text[:300]
    assert answer.headers["content-type"] == PROBLEM
    found = answer.json()
    assert (found["status"], found["field"]) == (status, field)
    assert found["title"] and found["detail"]
    assert "--" not in found["detail"] + found.get("hint", "")


def test_a_missing_off_block_time_is_named(api) -> None:
    asked = body()
    del asked["off_block"]
    answer = api.post("/api/brief", json=asked)
    assert (answer.status_code, answer.json()["field"]) == (400, "off_block")


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[]", b"null", b'{"off_block": "0640Z"} x', b"\xff\xfe", b'{"off_block": NaN}']
)
def test_what_is_not_json_of_this_shape_is_malformed(api, data) -> None:
    answer = api.post("/api/brief", content=data, headers={"content-type": "application/json"})
    assert answer.status_code == 400
    assert answer.headers["content-type"] == PROBLEM


def test_deep_nesting_is_malformed_not_a_crash(api) -> None:
    deep = b'{"reports": ' + b"[" * 30_000 + b"]" * 30_000 + b"}"
    assert api.post("/api/brief", content=deep, headers={"content-type": "application/json"}).status_code == 400


def test_a_long_body_is_too_large_also_where_its_length_is_not_said(api) -> None:
    long = json.dumps(body(report="METAR " + "X" * MOST_BODY)).encode()
    told = api.post("/api/brief", content=long, headers={"content-type": "application/json"})
    untold = api.post("/api/brief", content=iter([long]), headers={"content-type": "application/json"})
    assert (told.status_code, untold.status_code) == (413, 413)
    assert told.headers["content-type"] == untold.headers["content-type"] == PROBLEM


def test_another_type_of_body_is_refused(api) -> None:
    answer = api.post("/api/brief", content=json.dumps(body()), headers={"content-type": "text/plain"})
    assert (answer.status_code, answer.headers["content-type"]) == (415, PROBLEM)


@pytest.mark.parametrize("path", ["/api/brief/nothing", "/api/brief/" + "A" * 22, "/api/none", "/schema/none"])
def test_what_is_not_there_is_a_problem_of_404(api, path) -> None:
    answer = api.get(path)
    assert (answer.status_code, answer.headers["content-type"]) == (404, PROBLEM)


def test_another_method_is_refused_with_those_allowed(api) -> None:
    answer = api.delete("/api/brief")
    assert (answer.status_code, answer.headers["content-type"]) == (405, PROBLEM)
    assert "POST" in answer.headers["allow"]


def test_briefs_beyond_the_limit_are_refused_for_a_while_but_health_is_not() -> None:
    clock = Clock()
    with client(rate_limit=2, clock=clock) as api:
        assert [api.post("/api/brief", json=body(QUIET)).status_code for _ in range(3)] == [201, 201, 429]
        refused = api.post("/api/brief", json=body(QUIET))
        assert refused.headers["content-type"] == PROBLEM
        assert 1 <= int(refused.headers["retry-after"]) <= 61
        assert api.get("/healthz").status_code == 200
        clock.on(minutes=1.01)
        assert api.post("/api/brief", json=body(QUIET)).status_code == 201


def test_a_brief_is_gone_after_a_day() -> None:
    clock = Clock()
    with client(clock=clock) as api:
        where = api.post("/api/brief", json=body(QUIET)).headers["location"]
        clock.on(minutes=24 * 60 - 1)
        assert api.get(where).status_code == 200
        clock.on(minutes=2)
        assert api.get(where).status_code == 404


def test_an_error_nobody_foresaw_says_nothing_about_itself(monkeypatch) -> None:
    with client() as api:
        monkeypatch.setattr(api.app.state.work, "make", lambda asked: 1 / 0)
        answer = api.post("/api/brief", json=body())
    assert (answer.status_code, answer.headers["content-type"]) == (500, PROBLEM)
    assert "division" not in answer.text


def test_health_answers(api) -> None:
    assert (api.get("/healthz").status_code, api.get("/healthz").json()) == (200, {"status": "ok"})

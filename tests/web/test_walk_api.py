"""The walk over HTTP: what is taken, what is refused and how, and that nothing is there twice."""

from __future__ import annotations

import hashlib
import io
import json
from concurrent.futures import ThreadPoolExecutor

import pytest
from PIL import Image

from advisor.record.verify import check
from tests.web.site import WORST, Clock, body, client


@pytest.fixture
def site(tmp_path):
    with client(data=tmp_path, database=f"sqlite:///{tmp_path / 'record.sqlite'}", clock=Clock()) as made:
        made.clock = made.app.state.work.settings.clock
        made.record = made.app.state.walks.record
        yield made


def opened(site, report: str = WORST, **more: object) -> str:
    brief = site.post("/api/brief", json=body(report)).headers["location"].rsplit("/", 1)[1]
    answer = site.post("/api/walk", json={"brief": brief, "by": "AB", **more})
    assert answer.status_code == 201, answer.text
    return answer.headers["location"]


def test_a_walk_from_beginning_to_end(site) -> None:
    made = site.post("/api/brief", json=body())
    brief = made.headers["location"].rsplit("/", 1)[1]
    answer = site.post("/api/walk", json={"brief": brief, "by": "AB"})
    assert answer.status_code == 201
    where = answer.headers["location"]
    assert where.startswith("/api/walk/")
    for path, said in (
        ("found", {"line": "wing-upper-surface", "found": "frost", "note": "left only"}),
        ("found", {"zone": "tail", "found": "nothing seen"}),
        ("treatment", {"step": "asked"}),
        ("treatment", {"step": "confirmed", "pad": "P2", "at": "2027-01-10T06:10:00+01:00"}),
        ("sign", {"by": "AB", "role": "pilot"}),
        ("note", {"text": "pad changed"}),
    ):
        site.clock.on(minutes=1)
        answer = site.post(f"{where}/{path}", json=said)
        assert answer.status_code == 201, answer.text
        event = answer.json()
        assert set(event) == {"seq", "at", "kind", "data", "previous", "hash"}
        assert event["data"].items() >= {k: v for k, v in said.items() if k != "at"}.items()
    found = site.get(where).json()
    assert [event["kind"] for event in found["events"]] == [
        "opened", "found", "found", "treatment", "treatment", "signed", "note",
    ]  # fmt: skip
    assert found["signed"] is True and found["seen"] == ["frost"]
    assert found["events"][4]["data"]["at"] == "2027-01-10T05:10:00Z"
    # what the brief was, as anybody can work it out from what was given out
    assert found["fingerprint"] == hashlib.sha256(made.content).hexdigest()
    assert (found["begun"], found["ended"]) == ("2027-01-10T05:26:00Z", "2027-01-10T05:27:00Z")
    assert list(check(site.record)) == []


def test_hashes_can_be_worked_out_from_the_answer_alone(site) -> None:
    where = opened(site)
    site.post(f"{where}/found", json={"line": "wing-upper-surface", "found": "ice"})
    previous = "0" * 64
    for event in site.get(where).json()["events"]:
        rest = {name: event[name] for name in ("at", "data", "kind", "seq")}
        # without numbers other than whole ones and letters beyond ASCII in names, this is the canonical form
        said = json.dumps(rest, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert event["previous"] == previous
        assert event["hash"] == hashlib.sha256((previous + said).encode()).hexdigest()
        previous = event["hash"]


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("found", {"line": "wing-upper-surface", "found": "frost"}),
        ("treatment", {"step": "asked"}),
        ("note", {"text": "x"}),
        ("sign", {"by": "AB", "role": "pilot"}),
    ],
)
def test_the_same_key_gives_the_same_answer_and_no_second_event(site, path, said) -> None:
    where, headers = opened(site), {"Idempotency-Key": "a-key-of-one-telephone"}
    first = site.post(f"{where}/{path}", json=said, headers=headers)
    site.clock.on(minutes=3)
    again = site.post(f"{where}/{path}", json=said, headers=headers)
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.content == first.content
    assert len(site.get(where).json()["events"]) == 2


def test_the_same_key_opens_one_walk(site) -> None:
    brief = site.post("/api/brief", json=body()).headers["location"].rsplit("/", 1)[1]
    answers = [
        site.post("/api/walk", json={"brief": brief, "by": "AB"}, headers={"Idempotency-Key": "k"}) for _ in range(3)
    ]
    assert len({answer.headers["location"] for answer in answers}) == 1
    assert len({answer.content for answer in answers}) == 1
    assert len(site.record.walks()) == 1


def test_a_key_that_comes_with_something_else_is_refused_and_loses_nothing(site) -> None:
    where, headers = opened(site), {"Idempotency-Key": "k"}
    site.post(f"{where}/found", json={"zone": "tail", "found": "ice"}, headers=headers)
    answer = site.post(f"{where}/found", json={"zone": "tail", "found": "snow"}, headers=headers)
    assert answer.status_code == 422 and "new key" in answer.json()["hint"]
    assert [event["data"].get("found") for event in site.get(where).json()["events"]] == [None, "ice"]


def test_a_signature_twice_and_a_finding_after_it_are_refused(site) -> None:
    where = opened(site)
    site.post(f"{where}/sign", json={"by": "AB", "role": "pilot"})
    for path, said in (("sign", {"by": "CD", "role": "pilot"}), ("found", {"zone": "tail", "found": "ice"})):
        answer = site.post(f"{where}/{path}", json=said)
        assert answer.status_code == 409
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["detail"] == "the walk is signed: it takes notes and treatment only"
    assert len(site.get(where).json()["events"]) == 2


@pytest.mark.parametrize(
    ("path", "said", "status"),
    [
        ("found", {"line": "wing-upper-surface", "found": "clean"}, 400),
        ("found", {"found": "ice"}, 400),
        ("found", {"line": "no-such-line", "found": "ice"}, 422),
        ("found", {"zone": "tail", "found": "ice", "at": "yesterday"}, 422),
        ("found", {"zone": "tail", "found": "ice", "note": "x" * 501}, 400),
        ("found", {"zone": "tail", "found": "ice", "more": 1}, 400),
        ("treatment", {"step": "begun"}, 400),
        ("sign", {"by": " ", "role": "pilot"}, 400),
        ("sign", {"by": "AB"}, 400),
        ("note", {}, 400),
        ("note", [], 400),
    ],
    ids=str,
)
def test_what_is_wrong_is_said_once_and_nothing_is_recorded(site, path, said, status) -> None:
    where = opened(site)
    answer = site.post(f"{where}/{path}", json=said)
    assert answer.status_code == status
    assert answer.json()["detail"] and "\n" not in answer.json()["detail"]
    assert len(site.get(where).json()["events"]) == 1


def test_a_walk_of_an_unknown_brief_and_an_unknown_walk(site) -> None:
    answer = site.post("/api/walk", json={"brief": "x" * 22, "by": "AB"})
    assert (answer.status_code, answer.json()["field"]) == (422, "brief")
    for path, said in (("found", {"zone": "tail", "found": "ice"}), ("sign", {"by": "A", "role": "pilot"})):
        assert site.post(f"/api/walk/{'y' * 22}/{path}", json=said).status_code == 404
    assert site.get(f"/api/walk/{'y' * 22}").status_code == 404
    assert site.get(f"/api/walk/{'y' * 2000}").status_code == 404


@pytest.mark.parametrize("key", ["", "x" * 201, "a\tb"])
def test_a_key_that_is_none_is_refused(site, key) -> None:
    where = opened(site)
    answer = site.post(f"{where}/note", json={"text": "x"}, headers={"Idempotency-Key": key})
    assert answer.status_code == 400


def test_finished_before_begun_is_refused_and_cancelled_after_finished(site) -> None:
    where = opened(site) + "/treatment"
    site.post(where, json={"step": "last step started", "at": "2027-01-10T06:10:00Z"})
    wrong = site.post(where, json={"step": "finished", "at": "2027-01-10T06:05:00Z"})
    assert (wrong.status_code, wrong.json()["field"]) == (422, "at")
    assert site.post(where, json={"step": "finished", "at": "2027-01-10T06:15:00Z"}).status_code == 201
    assert site.post(where, json={"step": "cancelled"}).status_code == 422


def test_a_clock_that_runs_backwards_loses_nothing(site) -> None:
    where = opened(site)
    site.clock.on(minutes=-10)
    answer = site.post(f"{where}/found", json={"zone": "tail", "found": "ice"})
    assert answer.status_code == 201
    assert answer.json()["data"]["clock"] == "2027-01-10T05:15:00Z"
    assert list(check(site.record)) == []


def queue(*said: tuple[str, str, dict[str, object]]) -> list[dict[str, object]]:
    return [{"kind": kind, "key": key, "said": one} for key, kind, one in said]


def test_a_telephone_s_queue_is_taken_in_its_order_and_never_twice(site) -> None:
    where = opened(site)
    sent = queue(
        ("1", "found", {"line": "wing-upper-surface", "found": "frost", "at": "2027-01-10T05:40:00Z"}),
        ("2", "found", {"zone": "tail", "found": "clean"}),
        ("3", "note", {"text": "cold"}),
        ("4", "sign", {"by": "AB", "role": "pilot"}),
        ("5", "found", {"zone": "tail", "found": "ice"}),
    )
    answer = site.post(f"{where}/queue", json=sent)
    assert answer.status_code == 200
    assert [(one["key"], one["status"]) for one in answer.json()] == [
        ("1", 201), ("2", 400), ("3", 201), ("4", 201), ("5", 409),
    ]  # fmt: skip
    again = site.post(f"{where}/queue", json=sent)
    assert again.json() == answer.json()
    events = site.get(where).json()["events"]
    assert [event["kind"] for event in events] == ["opened", "found", "note", "signed"]


def test_many_telephones_at_once_make_one_chain(site) -> None:
    places = [opened(site) for _ in range(4)]

    def say(at: int) -> int:
        said = {"zone": "tail", "found": "ice", "note": str(at)}
        return site.post(f"{places[at % 4]}/found", json=said, headers={"Idempotency-Key": str(at // 2)}).status_code

    with ThreadPoolExecutor(8) as pool:
        codes = list(pool.map(say, range(160)))
    assert set(codes) == {201}
    assert list(check(site.record)) == []


def picture(form: str = "JPEG", size: tuple[int, int] = (300, 200), **more: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (120, 130, 140)).save(out, form, **more)
    return out.getvalue()


def test_a_photo_is_kept_without_place_or_camera(site, tmp_path) -> None:
    exif = Image.Exif()
    exif[271], exif[34853] = "a camera", {1: "N", 2: (61.0, 24.0, 0.0)}
    sent = picture(exif=exif)
    assert b"a camera" in sent
    where = opened(site)
    answer = site.post(f"{where}/photo?line=wing-upper-surface", content=sent, headers={"Content-Type": "image/jpeg"})
    assert answer.status_code == 201, answer.text
    data = answer.json()["data"]
    kept = site.get(f"{where}/photo/{data['sha256']}")
    assert kept.headers["content-type"] == "image/jpeg"
    assert hashlib.sha256(kept.content).hexdigest() == data["sha256"]
    assert b"a camera" not in kept.content and not Image.open(io.BytesIO(kept.content)).getexif()
    assert (tmp_path / "photos" / f"{data['sha256']}.jpg").read_bytes() == kept.content
    assert list(check(site.record, None, [tmp_path / "photos"])) == []
    other = opened(site)
    assert site.get(f"{other}/photo/{data['sha256']}").status_code == 404


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"", 422),
        (b"not a photo at all", 422),
        (picture()[:200], 422),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", 422),
        (b"\xff\xd8" + b"0" * 2_000_001, 413),
        (picture("PNG", (9000, 9000)), 422),
    ],
    ids=["empty", "text", "cut off", "svg", "too long", "too many pixels"],
)
def test_a_photo_that_is_none_is_refused(site, sent, status) -> None:
    where = opened(site)
    answer = site.post(f"{where}/photo", content=sent, headers={"Content-Type": "image/jpeg"})
    assert answer.status_code == status
    assert len(site.get(where).json()["events"]) == 1


def test_without_a_record_the_server_says_so() -> None:
    with client() as site:
        answer = site.post("/api/walk", json={"brief": "x" * 22, "by": "AB"})
        assert answer.status_code == 501 and "--data" in answer.json()["hint"]


def test_what_is_left_over_is_offered_to_the_next_brief(site) -> None:
    where = opened(site)
    site.post(f"{where}/found", json={"line": "wing-upper-surface", "found": "frost", "at": "2027-01-10T05:50:00Z"})
    assert site.get(where).json()["offers"] == {"seen": "frost"}
    site.post(f"{where}/treatment", json={"step": "finished", "at": "2027-01-10T06:15:00Z"})
    # nothing was said to begin: the end is all that is known
    assert site.get(where).json()["offers"] == {"treated_at": "2027-01-10T06:15:00Z"}
    signed = {"by": "AB", "role": "mechanic", "covered": True, "parked_since": "2027-01-10T04:00:00Z"}
    site.post(f"{where}/sign", json=signed)
    assert site.get(where).json()["offers"] == {
        "treated_at": "2027-01-10T06:15:00Z",
        "parked_since": "2027-01-10T04:00:00Z",
        "covered": "covers on",
    }


def test_frost_that_was_seen_after_a_treatment_is_offered_and_the_treatment_from_its_last_step(site) -> None:
    where = opened(site)
    post = site.post
    post(f"{where}/found", json={"line": "wing-upper-surface", "found": "frost", "at": "2027-01-10T05:50:00Z"})
    post(f"{where}/treatment", json={"step": "last step started", "at": "2027-01-10T06:05:00Z"})
    post(f"{where}/treatment", json={"step": "finished", "at": "2027-01-10T06:30:00Z"})
    # holdover runs from the start of the last step (common practice), and so does what fell since
    assert site.get(where).json()["offers"] == {"treated_at": "2027-01-10T06:05:00Z"}
    post(f"{where}/found", json={"line": "wing-upper-surface", "found": "frost", "at": "2027-01-10T06:35:00Z"})
    assert site.get(where).json()["offers"] == {"seen": "frost", "treated_at": "2027-01-10T06:05:00Z"}

"""Bounds and ways out of the server, each by hand: what is counted, how long, what goes first, what a fault answers."""

from __future__ import annotations

from collections import Counter
from math import nan
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from advisor.departure import read_moment, stamp, to_unix
from advisor.errors import ChecklistError, DepartureError
from advisor.web import api, app, board, connections, digest, edit, folder, holdover, walk_pages, wall, work
from advisor.web.model import Settings
from advisor.web.problems import Refused
from tests.web.site import NOW, WORST, Clock, client
from tests.web.test_digest import brief
from tests.web.test_photo_by_form import picture, sent
from tests.web.test_walk_page import begun, say, site

__all__ = ["site"]

SAMPLES = Path(__file__).parents[2] / "sample_reports" / "slots"
AT = 1_799_558_700
BEGUN = "2027-01-10T05:20:00Z"


def test_the_time_of_these_tests_is_the_one_in_seconds() -> None:
    assert stamp(AT) == NOW and to_unix(read_moment(NOW, what="now")) == AT


# the countdown of the holdover time -------------------------------------------------------------------------------


def walked(**last: Any) -> Any:
    said = {"last step started": {"at": BEGUN, "seq": 2, **last}}
    return SimpleNamespace(last=lambda step: said.get(step))


def countdown(monkeypatch: pytest.MonkeyPatch, minutes: float, now: str) -> holdover.Left:
    monkeypatch.setattr(holdover, "_table", lambda *_: SimpleNamespace(named=lambda: "the file"))
    monkeypatch.setattr(holdover, "_minutes", lambda *_: (minutes, "no guideline holds"))
    found = holdover.left(walked(), now, Path("pads.toml"), SimpleNamespace(), SimpleNamespace())  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("now", "said", "over"),
    [
        # begun 0520Z and 20 min by the table: until 0540Z
        ("2027-01-10T05:25:00Z", "About 15 min of holdover left:", False),
        ("2027-01-10T05:25:01Z", "About 14 min of holdover left:", False),
        ("2027-01-10T05:40:00Z", "About 0 min of holdover left:", False),
        ("2027-01-10T05:40:01Z", "Holdover is over:", True),
    ],
)
def test_the_countdown_counts_whole_minutes_down_to_nothing(
    monkeypatch: pytest.MonkeyPatch, now: str, said: str, over: bool
) -> None:
    left = countdown(monkeypatch, 20, now)
    assert (left.until, left.said, left.over) == ("2027-01-10T05:40:00Z", said, over)
    assert left.more.startswith("look again by 0540Z. By the file")


def test_a_guideline_that_does_not_hold_or_does_not_run_out_gives_no_end(monkeypatch: pytest.MonkeyPatch) -> None:
    none = countdown(monkeypatch, nan, NOW)
    assert (none.until, none.said, none.over) == ("", "No holdover time:", True)
    assert none.more.startswith("no guideline holds. ")
    long = countdown(monkeypatch, holdover.LONGEST_MIN, NOW)
    assert (long.until, long.said, long.over) == ("", "No holdover time runs", False)


def test_the_minute_at_which_the_lowest_value_is_used_up(monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.slots import demand, limits

    def used_up(*values: float) -> tuple[float, str]:
        lowest = SimpleNamespace(over=lambda _, minutes: [values[min(minutes[0], len(values) - 1)]])
        monkeypatch.setattr(limits, "limits", lambda *_: lowest)
        asked = SimpleNamespace(reports=[], place=SimpleNamespace(latitude_deg=61.4, longitude_deg=9.8), now=NOW)
        return holdover._minutes(None, AT, asked, None)  # type: ignore[arg-type]

    monkeypatch.setattr(demand, "read_weather", lambda *_: None)
    monkeypatch.setattr(demand, "night", lambda *_: None)
    # 12 min all along; 12 min, and only 2 as soon as 3 min have gone; none from the 5th minute on
    assert used_up(12) == (12, "") and used_up(12, 12, 12, 2) == (3, "")
    assert used_up(30, 30, 30, 30, 30, nan) == (5, "")
    assert used_up(nan)[1].startswith("no guideline holds")


def test_a_cancelled_treatment_and_a_missing_file_give_no_countdown() -> None:
    walk = walked()
    assert holdover.left(walk, NOW, None, SimpleNamespace(), SimpleNamespace()) is None  # type: ignore[arg-type]
    gone = {"last step started": {"at": BEGUN, "seq": 2}, "cancelled": {"seq": 3}}
    later = SimpleNamespace(last=gone.get)
    assert holdover.left(later, NOW, Path("pads.toml"), SimpleNamespace(), SimpleNamespace()) is None  # type: ignore[arg-type]


def test_without_a_last_step_or_a_file_of_pads_nothing_is_computed() -> None:
    class Turn:
        def __enter__(self) -> None:
            raise AssertionError("took the turn that briefs wait for")

        def __exit__(self, *_: object) -> None: ...

    made: Any = SimpleNamespace(settings=SimpleNamespace(pads=None), fleet={}, turn=Turn())
    assert walk_pages._left(made, walked(), NOW, None) is None
    made.settings.pads = Path("pads.toml")
    assert walk_pages._left(made, SimpleNamespace(last=lambda _: None), NOW, None) is None


# boards and the wall ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("minutes", "old"), [(30, False), (31, True)])
def test_a_plan_on_the_wall_is_old_after_half_an_hour(minutes: int, old: bool) -> None:
    shown: dict[str, Any] = {}
    plan = b'{"now": "2027-01-10T04:30:00Z", "departures": []}'

    async def run(function: Any, *_: object) -> Any:
        return SimpleNamespace(plan=plan)

    planned = to_unix(read_moment("2027-01-10T04:30:00Z", what="now"))
    made = SimpleNamespace(
        unix=lambda: planned + 60 * minutes,
        news=list,
        settings=SimpleNamespace(pads=Path("pads.toml")),
    )
    state = SimpleNamespace(run=run, work=made, boards=SimpleNamespace(get=None))
    request: Any = SimpleNamespace(app=SimpleNamespace(state=state), path_params={"name": "x"})
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(wall, "rendered", lambda *_, **context: shown.update(context))
        import asyncio

        asyncio.run(wall.wall.fn(request))
    assert shown["old"] is old and shown["age"] == f"{minutes} min"


def test_what_is_busy_says_so_with_its_hint_and_when_to_come_again() -> None:
    status, field, lines = board._faults(Refused(503, "busy", hint="send it again in 1 s"))
    assert (status, field, lines) == (503, None, ["busy; send it again in 1 s"])
    assert board._faults(Refused(501, "not installed"))[2] == ["not installed"]
    made: Any = SimpleNamespace(unix=lambda: AT, settings=SimpleNamespace(data=None, plan_seconds=0.2))
    boards = board.Boards(made)
    assert boards._turn.acquire(blocking=False)
    with pytest.raises(Refused) as busy:
        boards.make({})
    assert busy.value.headers == {"Retry-After": "1"} and "in 1 s" in (busy.value.hint or "")


@pytest.mark.parametrize(
    ("error", "status", "field"),
    [
        (ChecklistError("no column", where="schedule:1"), 422, "schedule"),
        (ChecklistError("two faults", where="", faults=("schedule:1: a", "schedule:2: b")), 422, "schedule"),
        # what is wrong in the server's own files is the server's fault
        (ChecklistError("two faults", where="", faults=("schedule:1: a", "pads.toml:2: b")), 500, None),
        (ChecklistError("no pad", where="pads.toml:1"), 500, None),
        (DepartureError("missing", where="actuals:3"), 422, "actuals"),
    ],
)
def test_a_fault_of_the_schedule_is_the_senders_and_one_of_the_pads_is_not(
    monkeypatch: pytest.MonkeyPatch, error: Exception, status: int, field: str | None
) -> None:
    def refuse(*_: object) -> str:
        raise error

    monkeypatch.setattr(board.Boards, "make", refuse)
    with client(pads=SAMPLES / "pads.toml") as site:
        answer = site.post("/api/slots", json={"schedule": "x", "reports": [WORST], "now": NOW})
    assert (answer.status_code, answer.json().get("field")) == (status, field)


# what is kept, and what goes first ---------------------------------------------------------------------------------


def test_beyond_the_bound_the_oldest_of_whoever_holds_the_most_goes() -> None:
    def row(made_s: int, size: int, owner: bytes) -> tuple[float, int, str, bytes]:
        return float(made_s), size, f"{owner.decode()}{made_s}", owner

    rows = [row(1, 10, b"a"), row(2, 10, b"a"), row(3, 10, b"a"), row(0, 15, b"b")]
    assert folder._beyond(rows, 45) == []
    assert folder._beyond(rows, 44) == ["a1"]
    # a then holds 20 and b 15: a's next, and after that b's
    assert folder._beyond(rows, 34) == ["a1", "a2"] and folder._beyond(rows, 24) == ["a1", "a2", "b0"]
    assert sorted(folder._beyond(rows, 0)) == ["a1", "a2", "a3", "b0"]


def test_what_a_kill_left_behind_goes_when_it_is_a_day_old(tmp_path: Path) -> None:
    import os

    kept = folder.FolderBytes(tmp_path / "kept", lambda: AT, 1000, b"invented/1 ")
    for name, age_s in (("a", folder.KEPT_S), ("b", folder.KEPT_S - 1)):
        half = tmp_path / "kept" / f".{name * 64}.{'0' * 8}"
        half.write_bytes(b"x")
        os.utime(half, (AT - age_s, AT - age_s))
    kept.sweep()
    assert [path.name[1] for path in (tmp_path / "kept").iterdir()] == ["b"]


def test_every_two_hundredth_that_is_kept_the_folder_is_swept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = folder.FolderBytes(tmp_path / "kept", lambda: AT, 1000, b"invented/1 ")
    swept: list[int] = []
    monkeypatch.setattr(kept, "sweep", lambda: swept.append(kept._written))
    for _ in range(400):
        kept.put("x" * 22, AT, b"")
    assert swept == [200, 400]


# the watch ------------------------------------------------------------------------------------------------------


def test_a_brief_that_is_watched_is_due_after_two_minutes() -> None:
    clock = Clock()
    made = work.Work(Settings(clock=clock, fetch=lambda *_: ([], []), feeds=("invented",)))
    entry: Any = SimpleNamespace(
        asked=SimpleNamespace(station="ZZZA"), live=True, newer=None, checked=made.unix(), id="x"
    )
    clock.on(minutes=119 / 60)
    assert not made.is_due(entry)
    clock.on(minutes=1 / 60)
    assert made.is_due(entry)


def test_no_more_than_so_many_are_watched_and_the_oldest_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "MOST_WATCHED", 2)
    made = work.Work(Settings(clock=Clock()))
    for name in "abc":
        made._watch(name)
    assert list(made._watched) == ["b", "c"]


def test_who_names_no_feed_gets_the_first() -> None:
    asked: list[tuple[str, str]] = []

    def fetch(station: str, feed: str) -> tuple[list[str], list[str]]:
        asked.append((station, feed))
        return [WORST], []

    made = work.Work(Settings(clock=Clock(), fetch=fetch, feeds=("first", "last")))
    made._reports(SimpleNamespace(station=" zzza ", feed=None, reports=()))  # type: ignore[arg-type]
    assert asked == [("ZZZA", "first")]


def test_the_locks_of_many_stations_are_let_go_and_no_answer_is_asked_for_twice() -> None:
    asked: Counter[str] = Counter()

    def fetch(station: str, feed: str) -> tuple[list[str], list[str]]:
        asked[station] += 1
        return [station], []

    shared = work.Shared(lambda: AT)
    for at in range(shared.MOST + 50):
        assert shared.get(fetch, str(at), "f") == ([str(at)], [])
    # beyond the bound a lock goes as soon as nobody holds it; within the bound it stays
    assert len(shared._locks) == shared.MOST and len(shared._kept) == shared.MOST
    shared.get(fetch, str(shared.MOST + 49), "f")
    assert set(asked.values()) == {1}


# pages -----------------------------------------------------------------------------------------------------------


def test_without_a_folder_there_is_nothing_to_edit_with(tmp_path: Path) -> None:
    assert app._editing(None) == () and app._editing(Settings()) == ()
    assert len(app._editing(Settings(edit=tmp_path))) == 3


def test_a_draft_is_set_beside_what_is_saved_and_not_the_other_way(monkeypatch: pytest.MonkeyPatch) -> None:
    report: Any = SimpleNamespace(issued=read_moment(NOW, what="now"), raw="x")
    side: Any = SimpleNamespace(default_aircraft="invented", name="")
    saved, drafted = SimpleNamespace(**vars(side)), SimpleNamespace(**vars(side))
    saved.name, drafted.name = "saved", "drafted"
    monkeypatch.setattr(edit, "_status", lambda side, *_: side.name)
    monkeypatch.setattr(edit.aircraft, "load_profiles", lambda _: {"invented": None, "known": "profile"})
    (one,), unread = edit._answers(Path(), "rule", saved, drafted, [report], "", "known")  # type: ignore[arg-type]
    assert (one.saved, one.drafted, unread) == ("saved", "drafted", "")
    # no such aircraft, and none that is usual either
    assert edit._answers(Path(), "rule", saved, drafted, [report], "", "nothing") == ((), "no aircraft 'nothing'")  # type: ignore[arg-type]
    assert edit._answers(Path(), "rule", saved, drafted, [], "", "known") == ((), "")  # type: ignore[arg-type]


def test_of_three_reasons_to_stop_two_stand_in_full_and_the_third_in_short() -> None:
    lines = [line for line in brief(WORST).advice if line.stop]
    told = [line for line in lines if line.status != "cannot tell"]
    assert told
    three = [told[0]] * 3
    rows = digest.stop(SimpleNamespace(advice=three)).rows  # type: ignore[arg-type]
    assert len(rows) == 3 and [row.lead for row in rows] == ["", "", "Also"]
    assert len(digest.stop(SimpleNamespace(advice=three[:2])).rows) == 2  # type: ignore[arg-type]


def test_what_has_no_time_comes_after_what_has_one() -> None:
    made = brief(WORST)
    asked = [line for line in made.advice if line.kind == "request" and not line.stop and line.by]
    line = asked[0]
    import msgspec

    soon = msgspec.structs.replace(line, by="2027-01-10T06:30:00Z", by_passed=False, short="soon")
    whenever = msgspec.structs.replace(line, by=None, by_passed=False, short="whenever")
    rows = digest._requests([whenever, soon], made, NOW)
    assert [row.lead.split()[0] for row in rows] == ["0630Z", "Any"] and rows[0].by == soon.by


def test_two_doors_are_named_with_a_capital_and_more_are_counted() -> None:
    def doors(count: int) -> list[Any]:
        return [SimpleNamespace(door=f"door {at}") for at in range(count)]

    whole: Any = SimpleNamespace(doors=doors(4))
    assert digest._few(doors(2), whole) == "Door 0; door 1"
    assert digest._few(doors(3), whole) == "3 of 4 doors" and digest._few(doors(4), whole) == "All 4 doors"


@pytest.mark.parametrize(("status", "again"), [(404, False), (410, False), (409, True), (503, True)])
def test_a_walk_that_is_gone_has_no_page_and_any_other_fault_shows_the_form_again(
    site: Any, monkeypatch: pytest.MonkeyPatch, status: int, again: bool
) -> None:
    where = begun(site)

    def refuse(*_: object) -> None:
        raise Refused(status, "not now")

    walks = site.app.state.walks
    monkeypatch.setattr(walks, "say", refuse)
    monkeypatch.setattr(walks, "photo", refuse)
    for answer in (say(site, where, "note", text="ladder was short"), sent(site, where, picture())):
        assert answer.status_code == status and "not now" in answer.text
        assert ("Not looked at yet" in answer.text) is again


def test_a_name_of_eighty_letters_stays_whole_beside_a_photo(site: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    where, taken = begun(site), []

    def keep(name: str, data: bytes, place: dict[str, str], *_: object) -> None:
        taken.append(place)
        raise Refused(409, "enough")

    monkeypatch.setattr(site.app.state.walks, "photo", keep)
    for length in (80, 81):
        sent(site, where, picture(), zone="z" * length)
    assert [len(place["zone"]) for place in taken] == [80, 80]


def test_the_address_that_asks_is_the_one_that_is_counted() -> None:
    counted: list[str] = []

    def wait_s(host: str) -> float:
        counted.append(host)
        return 0.4 if len(counted) > 2 else 0

    state = SimpleNamespace(work=SimpleNamespace(limit=SimpleNamespace(wait_s=wait_s)))
    request: Any = SimpleNamespace(app=SimpleNamespace(state=state), client=SimpleNamespace(host="192.0.2.7"))
    api.count(request)
    request.client = None
    api.count(request)
    assert counted == ["192.0.2.7", ""]
    with pytest.raises(Refused) as refused:
        api.count(request)
    assert refused.value.status == 429 and refused.value.headers == {"Retry-After": "1"}


@pytest.mark.parametrize(("host", "scheme", "asked"), [("192.0.2.7", "https", "there"), ("192.0.2.8", "http", "here")])
def test_what_a_named_proxy_forwards_is_believed_and_nobody_elses(host: str, scheme: str, asked: str) -> None:
    import asyncio

    reached: list[Any] = []

    async def inside(scope: Any, receive: Any, send: Any) -> None:
        reached.append(scope)

    headers = [(b"host", b"here"), (b"x-forwarded-host", b"there"), (b"x-forwarded-proto", b"https")]
    scope = {"type": "http", "client": (host, 4711), "scheme": "http", "path": "/", "headers": headers}
    asyncio.run(connections._behind(inside, ("192.0.2.7",))(scope, None, None))
    assert (reached[0]["scheme"], dict(reached[0]["headers"])[b"host"].decode()) == (scheme, asked)

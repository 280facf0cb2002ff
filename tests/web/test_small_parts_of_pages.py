"""Small parts of the pages, each worked by hand: what is late, how old, which report counts, what an error says."""

from __future__ import annotations

import errno
import resource
import stat
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from advisor import advise
from advisor.brief.model import Because, Brief, ReportOut
from advisor.errors import AdvisorError, DepartureError, FeedError, RecordError
from advisor.web import connections, digest, edit, limits, problems, typed, view
from advisor.web.folder import FolderBytes

NOW = "2027-01-10T05:25:00Z"
ASKED = {"now": NOW, "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
SNOW = "METAR ZZZA 100520Z 24008KT 1500 SN OVC008 M01/M02 Q1005"


def brief(*texts: str, **more: object) -> Brief:
    return advise(list(texts or (SNOW,)), **{**ASKED, **more})


def reported(kind: str, issued: str, *, used: bool = True) -> ReportOut:
    return ReportOut(kind, "ZZZA", issued, 0, "", (), used)


def test_how_far_off_and_how_old_are_said_to_the_minute() -> None:
    assert view._ahead(NOW, "2027-01-10T05:25:00Z") == "in 0 min"
    assert view._ahead(NOW, "2027-01-10T05:24:00Z") == "1 min ago"
    assert view._age("2027-01-10T05:24:00Z", NOW) == "1 min old"
    assert view._age("2027-01-10T05:26:00Z", NOW) == "1 min after now"
    assert view._age(NOW, NOW) == "0 min old"


def test_the_newest_report_counts_and_no_forecast() -> None:
    used = [reported("METAR", "2027-01-10T04:50:00Z"), reported("SPECI", "2027-01-10T05:10:00Z")]
    assert view._issued([*used, reported("TAF", "2027-01-10T05:20:00Z")]) == "2027-01-10T05:10:00Z"
    assert view._issued([reported("TAF", "2027-01-10T05:20:00Z")]) == ""


def test_a_report_is_called_old_after_an_hour_and_a_half() -> None:
    # ours: 90 minutes, and the last minute of them is not over
    made = brief()
    assert view._aged(list(made.reports), made, "2027-01-10T06:50:00Z") == view.OVER
    late = "2027-01-10T08:00:00Z"
    long = msgspec.structs.replace(made, windows=msgspec.structs.replace(made.windows, off_block=late))
    assert view._aged(list(made.reports), long, "2027-01-10T06:50:59Z") == ""
    assert view._aged(list(made.reports), long, "2027-01-10T06:51:00Z").startswith("The report is 91 min old")
    assert view._aged([], long, "2027-01-10T06:51:00Z") == ""


def test_reports_that_are_not_gone_by_are_not_shown_beside_those_that_are() -> None:
    made = brief(SNOW, "METAR ZZZA 100450Z 24008KT 9999 OVC020 M01/M02 Q1005")
    shown = view.laid_out(made, NOW)
    assert [one["report"].raw for one in shown["reports"]] == [SNOW]
    # where none is gone by, the first stands for them
    bare = msgspec.structs.replace(
        made, reports=tuple(msgspec.structs.replace(one, used=False) for one in made.reports)
    )
    assert len(view.laid_out(bare, NOW)["reports"]) == 1


def test_a_time_to_come_can_be_counted_down_and_one_that_has_passed_is_now() -> None:
    made = brief()
    lines = [line for part in view._sections(made, NOW) for line in part.lines if line.due]
    assert lines and all(line.by == line.entry.lines[0].by and not line.is_late for line in lines if line.due != "Now")
    assert any(line.due != "Now" for line in lines)
    after = [line for part in view._sections(made, "2027-01-10T06:39:00Z") for line in part.lines if line.due]
    assert all(line.is_late and line.by == "" and line.due == "Now" for line in after if line.entry.lines[0].by)


def test_a_number_says_when_it_was_so() -> None:
    item = Because("gust_kt", "kt", 30.0, 32.0, 35.0, "gust_kt >= 28", "2027-01-10T05:55:00Z")
    assert view._why(item) == "gust 30 to 35 kt at 0555Z; the test is gust_kt >= 28"
    timeless = msgspec.structs.replace(item, at=None)
    assert view._why(timeless) == "gust 30 to 35 kt; the test is gust_kt >= 28"


def test_the_three_gravest_reasons_to_stop_are_told_two_in_full_and_one_by_name() -> None:
    made = brief("METAR ZZZA 100520Z 25038G60KT 0800 +TSSNGR SQ BKN010CB M01/M02 Q0985")
    answer = digest.stop(made)
    told = [line for line in made.advice if line.stop and line.status != "cannot tell"]
    assert len(told) > 2
    texts = [said for row in answer.rows for said, _ in row.items]
    assert sum(line.text in texts for line in told) == 2
    # who has to wait reads a reason that is grave as grave
    assert all(row.grave for row in answer.rows if row.lead != "Cannot tell")
    assert {line.short for line in told if line.text not in texts} <= {said.partition(" (")[0] for said in texts}


def test_what_cannot_be_told_is_no_must_on_the_first_view() -> None:
    answer = digest.stop(brief("METAR ZZZA 100520Z AUTO /////KT //// // ////// M01/M02 Q1005"))
    (row,) = [row for row in answer.rows if row.lead == "Cannot tell"]
    assert row.items and not any(must for _, must in row.items)


def test_doors_alike_begin_with_a_capital() -> None:
    made = brief("METAR ZZZA 100520Z 24025G44KT 9999 OVC020 09/02 Q1005", aircraft="light-aircraft")
    rows = digest.doors(made).rows
    assert rows and all(said[0].isupper() for row in rows for said, _ in row.items), rows


@pytest.mark.parametrize(
    ("error", "status", "said", "hint"),
    [
        (DepartureError("is not known", where="off-block", hint="give it"), 422, "is not known", "give it"),
        (DepartureError("is wrong", where="somewhere else"), 422, "somewhere else: is wrong", None),
        (FeedError("does not answer", where="feed"), 502, "does not answer", None),
        (DepartureError("", where="off-block"), 422, "Unprocessable Entity", None),
    ],
)
def test_what_is_wrong_names_the_place_where_no_field_does(
    error: AdvisorError, status: int, said: str, hint: str | None
) -> None:
    told = problems.problem(error)
    assert (told.status, told.detail, told.hint) == (status, said, hint)


def test_a_record_that_is_full_says_so_and_one_that_fails_goes_to_the_log(caplog: pytest.LogCaptureFixture) -> None:
    full = problems.problem(RecordError("there is no room", where="record", full=True))
    assert (full.status, full.detail) == (507, "there is no room") and caplog.records == []
    failed = problems.problem(RecordError("secret of the disk", where="record"))
    assert failed.status == 503 and "secret" not in failed.detail
    assert "secret of the disk" in caplog.text


def test_only_a_body_that_is_too_long_is_told_how_long_it_may_be() -> None:
    from litestar.exceptions import HTTPException

    assert "bytes at most" in (problems.problem(HTTPException(status_code=413)).hint or "")
    other = problems.problem(HTTPException("not so", status_code=412))
    assert (other.status, other.detail, other.hint) == (412, "not so", None)


def test_connections_leave_room_for_other_files(monkeypatch: pytest.MonkeyPatch) -> None:
    # the most is ours, 2000; 160 files are kept for what is no connection, and 16 connections there are always
    for soft, most in ((resource.RLIM_INFINITY, 2000), (1024, 864), (100, 16), (1_000_000, 2000)):
        monkeypatch.setattr(resource, "getrlimit", lambda _, soft=soft: (soft, soft))
        assert connections.most_connections() == most


def test_an_address_counts_by_itself_and_one_of_version_6_by_its_network() -> None:
    # RFC 4291: the first 64 bits are the network, which one customer has alone
    assert limits._network("2001:db8:1:2:3::4") == limits._network("2001:db8:1:2:ffff::1") == "2001:db8:1:2::/64"
    assert limits._network("192.0.2.7") == "192.0.2.7"
    assert limits._network("no address") == "no address"


@pytest.mark.parametrize(
    ("day", "hour", "minute", "found"),
    [
        (10, 5, 30, "2027-01-10T05:30:00Z"),
        (9, 23, 59, "2027-01-09T23:59:00Z"),
        (31, 0, 0, "2026-12-31T00:00:00Z"),
        (10, 24, 0, ""),
        (10, 5, 60, ""),
        (0, 5, 0, ""),
    ],
)
def test_a_day_and_a_time_are_those_nearest_to_now_on_the_whole_minute(
    day: int, hour: int, minute: int, found: str
) -> None:
    # 10 January 05:25:37 UTC: 31 December is ten days off, 31 January three weeks
    assert typed._nearest(day, hour, minute, datetime(2027, 1, 10, 5, 25, 37, 9, tzinfo=UTC)) == found


def test_a_folder_of_the_server_is_its_own_and_no_link(tmp_path: Path) -> None:
    kept = FolderBytes(tmp_path / "deep" / "kept", lambda: 1000.0, 10_000, b"# ours ")
    # nobody else reads what pilots asked; a second start finds it there
    assert stat.S_IMODE((tmp_path / "deep" / "kept").stat().st_mode) == 0o700
    FolderBytes(tmp_path / "deep" / "kept", lambda: 1000.0, 10_000, b"# ours ")
    assert kept is not None
    (tmp_path / "link").symlink_to(tmp_path)
    with pytest.raises(OSError, match="is a link to elsewhere") as caught:
        FolderBytes(tmp_path / "link", lambda: 1000.0, 10_000, b"# ours ")
    assert caught.value.errno == errno.ELOOP


def drafted(**form: str) -> str:
    return edit._comparison({name: (value,) for name, value in form.items()})


def test_what_is_added_to_a_condition_is_written_as_the_language_has_it() -> None:
    # "not" before a flag, a code beside == or != alone, a number by any sign of the language and by >= without one
    assert drafted(do="add", term="snow", sign="==", value="") == "snow"
    assert drafted(do="add", term="snow", sign="!=", value="") == "not snow"
    assert drafted(do="add", term="gust_kt", sign="<", value=" 28 ") == "gust_kt < 28"
    assert drafted(do="add", term="gust_kt", sign="~", value="28") == "gust_kt >= 28"
    assert drafted(do="add", term="treatment_category", sign="<", value="snow") == 'treatment_category == "snow"'
    assert drafted(do="add", term="treatment_category", sign="!=", value="snow") == 'treatment_category != "snow"'
    assert drafted(do="save", term="snow") == "" and drafted(do="add", term="nothing of ours") == ""

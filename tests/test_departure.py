"""Times, windows and headings that people give. Expectations are written out by hand from the contract's wording."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from types import SimpleNamespace

import pytest

from advisor import departure
from advisor.errors import DepartureError

JET = SimpleNamespace(walk_round=(-45, -25), doors_open=(-50, -5), take_off=15, take_off_treated=35)


def unix(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp())


NOW = unix(2027, 1, 10, 5, 40)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0640Z", unix(2027, 1, 10, 6, 40)),
        ("06:40Z", unix(2027, 1, 10, 6, 40)),
        ("0540z", NOW),
        ("0100Z", unix(2027, 1, 11, 1, 0)),
        ("2027-01-10T07:40:00+01:00", unix(2027, 1, 10, 6, 40)),
        ("2027-01-10T06:40Z", unix(2027, 1, 10, 6, 40)),
    ],
)
def test_off_block_is_the_first_such_time_at_or_after_now(text: str, expected: int) -> None:
    assert departure.read_off_block(text, NOW) == expected


@pytest.mark.parametrize("text", ["0539Z", "0441Z", "04:50Z"])
def test_a_time_of_day_that_has_just_passed_is_refused_not_taken_as_tomorrows(text: str) -> None:
    with pytest.raises(DepartureError, match="passed"):
        departure.read_off_block(text, NOW)


def test_a_time_of_day_that_passed_an_hour_ago_is_tomorrows() -> None:
    assert departure.read_off_block("0440Z", NOW) == unix(2027, 1, 11, 4, 40)


@pytest.mark.parametrize(
    "text",
    [
        "0640",
        "2027-01-10T06:40",
        "06:40 local",
        "2560Z",
        "0660Z",
        "",
        "tomorrow",
        "2027-13-10T06:40Z",
        "x" * 100_000,
        "1066-01-10T06:40Z",
        "٠٦٤٠Z",
    ],
)
def test_a_time_without_zone_or_sense_is_refused_in_one_line_with_what_would_be_right(text: str) -> None:
    with pytest.raises(DepartureError) as caught:
        departure.read_off_block(text, NOW)
    said = str(caught.value)
    assert said.startswith("off-block: ") and "Z" in said and "\n" not in said and len(said) < 250


def test_a_naive_datetime_is_refused() -> None:
    with pytest.raises(DepartureError, match="no time zone"):
        departure.read_off_block(datetime(2027, 1, 10, 6, 40), NOW)  # noqa: DTZ001


def test_off_block_before_now_and_over_thirty_hours_ahead_are_refused() -> None:
    now = datetime(2027, 1, 10, 5, 40, tzinfo=UTC)
    with pytest.raises(DepartureError, match="before now"):
        departure.read_off_block(now - timedelta(minutes=1), NOW)
    assert departure.read_off_block(now + timedelta(hours=30), NOW) == NOW + 30 * 3600
    with pytest.raises(DepartureError, match="30 h"):
        departure.read_off_block(now + timedelta(hours=30, seconds=1), NOW)


def test_an_offset_other_than_utc_is_the_same_moment() -> None:
    there = datetime(2027, 1, 10, 12, 10, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    assert departure.read_off_block(there, NOW) == unix(2027, 1, 10, 6, 40)


def test_a_past_time_of_day_is_the_last_one_before_the_reference() -> None:
    assert departure.read_at_or_before("2200Z", NOW, what="parked-since") == unix(2027, 1, 9, 22, 0)


def test_default_windows_are_the_contracts() -> None:
    off_block = NOW + 3600
    found, notes = departure.windows_of(off_block, NOW, JET, treated=False)
    assert found.walk_round == (off_block - 45 * 60, off_block - 25 * 60)
    assert found.doors_open == (off_block - 50 * 60, off_block - 5 * 60)
    assert found.take_off == off_block + 15 * 60
    assert notes == ()
    assert departure.windows_of(off_block, NOW, JET, treated=True)[0].take_off == off_block + 35 * 60


def test_a_window_that_began_before_now_counts_from_now() -> None:
    off_block = NOW + 30 * 60
    found, _ = departure.windows_of(off_block, NOW, JET, treated=False)
    assert found.walk_round == (NOW, off_block - 25 * 60)


def test_a_usual_window_that_has_passed_is_counted_to_off_block_and_said() -> None:
    off_block = NOW + 10 * 60
    found, notes = departure.windows_of(off_block, NOW, JET, treated=False)
    assert found.walk_round == (NOW, off_block)
    assert len(notes) == 1 and "passed" in notes[0]


def test_the_five_phases_cover_now_to_take_off_without_a_gap() -> None:
    for ahead_min in (0, 10, 26, 30, 47, 60, 600):
        found, _ = departure.windows_of(NOW + ahead_min * 60, NOW, JET, treated=True)
        names = ("parked", "walk_round", "doors_open", "off_block", "take_off")
        spans = sorted(found.phase(name, NOW) for name in names)
        reached = NOW
        for start, end in spans:
            assert start <= reached
            reached = max(reached, end)
        assert reached == found.take_off


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"walk_round": "2027-01-10T06:20:00Z/2027-01-10T06:10:00Z"}, "walk-round"),
        ({"doors_open": "2027-01-10T06:20:00Z/2027-01-10T06:50:00Z"}, "doors-open"),
        ({"walk_round": "0600Z"}, "walk-round"),
        ({"walk_round": "0600/0620"}, "walk-round"),
        ({"walk_round": "2027-01-10T05:00:00Z/2027-01-10T05:20:00Z"}, "walk-round"),
    ],
)
def test_windows_in_the_wrong_order_are_refused(given: dict[str, str], said: str) -> None:
    with pytest.raises(DepartureError) as caught:
        departure.windows_of(NOW + 3600, NOW, JET, treated=False, given=given)
    assert str(caught.value).startswith(said)


def test_given_windows_replace_the_usual_ones() -> None:
    found, _ = departure.windows_of(NOW + 3600, NOW, JET, treated=False, given={"walk_round": "0600Z/0620Z"})
    assert found.walk_round == (unix(2027, 1, 10, 6, 0), unix(2027, 1, 10, 6, 20))


def test_a_window_across_midnight_is_read_backwards_from_off_block() -> None:
    now, off_block = unix(2027, 1, 9, 23, 0), unix(2027, 1, 10, 0, 30)
    found, _ = departure.windows_of(off_block, now, JET, treated=False, given={"walk_round": "2350Z/0010Z"})
    assert found.walk_round == (unix(2027, 1, 9, 23, 50), unix(2027, 1, 10, 0, 10))


def test_take_off_is_refused_long_after_off_block_and_before_it() -> None:
    with pytest.raises(DepartureError, match="take-off"):
        departure.windows_of(NOW + 3600, NOW, JET, treated=False, take_off="2027-01-10T06:30:00Z")
    with pytest.raises(DepartureError, match="take-off"):
        departure.windows_of(NOW + 3600, NOW, JET, treated=False, take_off="0600Z")


@pytest.mark.parametrize("value", [400, -1, "nan", "north", "", "1e999", float("inf")])
def test_a_heading_that_is_none_is_refused(value: object) -> None:
    with pytest.raises(DepartureError, match="heading"):
        departure.read_heading(value)  # type: ignore[arg-type]


def test_heading_360_is_north() -> None:
    assert departure.read_heading("360") == 0.0
    assert departure.read_heading(90) == 90.0


def test_a_time_with_its_day_as_a_brief_prints_it_is_the_nearest_before_or_after() -> None:
    from advisor.departure import read_at_or_after, read_at_or_before, to_unix

    now = to_unix(datetime(2027, 3, 1, 5, 25, tzinfo=UTC))
    assert read_at_or_before("28/2000Z", now, what="parked-since") == to_unix(datetime(2027, 2, 28, 20, tzinfo=UTC))
    assert read_at_or_before("31/2000Z", now, what="parked-since") == to_unix(datetime(2027, 3, 31, 20, tzinfo=UTC))
    assert read_at_or_after("02/0500Z", now, what="off-block") == to_unix(datetime(2027, 3, 2, 5, tzinfo=UTC))
    with pytest.raises(DepartureError, match="day of the month"):
        read_at_or_before("32/2000Z", now, what="parked-since")

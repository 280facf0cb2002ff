"""Rows brought in order: times from the text, doubled and corrected reports."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.archive.files import ArchiveRow
from advisor.archive.order import Dated, dated, in_order

FIRST, LAST = (datetime(year, 1, 1) for year in (1990, 2030))  # noqa: DTZ001
JANUARY = datetime(2020, 1, 1, tzinfo=UTC)


def coded(at, station="ZZZA", rest="27005KT CAVOK"):
    return f"{station} {at:%d%H%M}Z {rest}"


@given(
    start=st.datetimes(min_value=FIRST, max_value=LAST, timezones=st.just(UTC)),
    steps=st.lists(st.integers(-36 * 60, 5 * 24 * 60), max_size=40),
)
def test_times_are_found_again_from_day_and_minute_across_months_and_years(start, steps):
    times = [start.replace(second=0, microsecond=0)]
    for step in steps:
        times.append(times[-1] + timedelta(minutes=step))
    usable, refused = dated([ArchiveRow(coded(at)) for at in times], month=start)
    assert not refused
    assert [report.at for report in usable] == times


def test_the_leap_day_is_found():
    usable, _ = dated(
        [ArchiveRow("ZZZA 282350Z CAVOK"), ArchiveRow("ZZZA 290020Z CAVOK")], month=datetime(2020, 2, 1, tzinfo=UTC)
    )
    assert usable[1].at == datetime(2020, 2, 29, 0, 20, tzinfo=UTC)


def test_a_time_beside_the_report_settles_its_month():
    usable, _ = dated([ArchiveRow("METAR ZZZA 312350Z CAVOK", datetime(2020, 2, 1, 0, 0, tzinfo=UTC))])
    assert usable[0].at == datetime(2020, 1, 31, 23, 50, tzinfo=UTC)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (ArchiveRow("rubbish"), "no station"),
        (ArchiveRow("ZZZA 100550Z CAVOK"), "no time beside it"),
        (ArchiveRow("ZZZA 102550Z CAVOK", JANUARY), "no day and time"),
        (ArchiveRow("ZZZA 010550Z CAVOK", JANUARY), "more than 3 hours"),
        (ArchiveRow("ZZZA 010050Z CAVOK", JANUARY, "ZZZB"), "station beside it is ZZZB"),
    ],
)
def test_a_row_that_cannot_be_used_is_kept_with_the_reason(row, why):
    usable, (refused,) = dated([row])
    assert usable == []
    assert refused.text == row.text
    assert why in refused.why


@pytest.mark.parametrize("end", [datetime(9999, 12, 31, 23, 59, tzinfo=UTC), datetime(1, 1, 1, tzinfo=UTC)])
def test_a_time_at_an_end_of_the_calendar_is_dated_or_refused_without_a_month_beyond_it(end):
    usable, refused = dated([ArchiveRow("ZZZA 101120Z CAVOK", end)])
    assert not usable and "more than 3 hours" in refused[0].why
    usable, _ = dated([ArchiveRow(coded(end), end)])
    assert usable[0].at == end


def test_a_first_day_that_the_month_does_not_have_is_refused():
    _, (refused,) = dated([ArchiveRow("ZZZA 310550Z CAVOK")], month=datetime(2020, 4, 1, tzinfo=UTC))
    assert "no day and time of that month" in refused.why


def kept(*texts):
    usable, refused = dated([ArchiveRow(text) for text in texts], month=JANUARY)
    assert not refused
    return [report.text for report in in_order(usable)]


def test_a_doubled_report_counts_once_however_it_is_spaced():
    assert len(kept("ZZZA 100550Z 27005KT  CAVOK", "ZZZA 100550Z 27005KT CAVOK=")) == 1


@pytest.mark.parametrize(
    "correction", ["METAR COR ZZZA 100550Z CAVOK", "ZZZA 100550Z COR CAVOK", "ZZZA 100550Z AUTO CCA CAVOK"]
)
def test_a_correction_replaces_the_report_of_its_time_before_or_after_it(correction):
    wrong, later = "ZZZA 100550Z 9999 SN", "ZZZA 100620Z CAVOK"
    assert kept(wrong, correction, later) == kept(correction, wrong, later) == [correction, later]


def test_a_routine_and_a_special_report_of_one_time_are_both_kept():
    assert len(kept("METAR ZZZA 100550Z CAVOK", "SPECI ZZZA 100550Z 0800 FG")) == 2


@given(st.data())
def test_the_order_of_rows_does_not_matter(data):
    reports = [
        Dated(station, JANUARY + timedelta(minutes=30 * step), f"{station} {step} {word}", word != "CAVOK")
        for station in ("ZZZA", "ZZZB")
        for step in range(4)
        for word in ("CCA", "CCB", "CAVOK")
    ]
    mixed = data.draw(st.permutations(reports))
    assert in_order(mixed) == in_order(reports)
    assert [report.text for report in in_order(mixed)] == [r.text for r in reports if r.text.endswith("CCB")]

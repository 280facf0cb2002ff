"""Times of reports beside times of rows, and what is remembered from report to report, worked out by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("pyarrow")

import pyarrow as pa
import pyarrow.parquet as pq

from advisor.archive import batches, gather, heads, lately, plan
from advisor.archive.windows import ReportWindows
from tests.archive.replaying import DATA, replayed


def seconds(text: str) -> int:
    return int(np.datetime64(text, "s").astype(np.int64))


@pytest.mark.parametrize(
    ("clock", "beside", "wanted"),
    [
        (151200, "2027-01-15T12:00:00", "2027-01-15T12:00:00"),
        # ten to midnight of the month before, and ten past it of the month after
        (312350, "2027-02-01T00:05:00", "2027-01-31T23:50:00"),
        (10010, "2027-01-31T23:55:00", "2027-02-01T00:10:00"),
        # the year has a day 29 in February only when it is a leap year
        (290010, "2028-02-28T23:55:00", "2028-02-29T00:10:00"),
        (10010, "2027-02-28T23:55:00", "2027-03-01T00:10:00"),
    ],
)
def test_a_day_and_a_clock_are_the_nearest_such_time(clock: int, beside: str, wanted: str) -> None:
    at_s, fits = batches._nearest(np.array([clock]), np.array([seconds(beside)]))
    assert (at_s.tolist(), fits.tolist()) == ([seconds(wanted)], [True])


@pytest.mark.parametrize("clock", [152400, 151160, 160000, 141200, 1200, 321200])
def test_what_is_no_time_near_by_does_not_fit(clock: int) -> None:
    # no hour 24, no minute 60, and midnight of the 16th and noon of the 14th are not what stands beside the row
    assert batches._nearest(np.array([clock]), np.array([seconds("2027-01-15T12:00:00")]))[1].tolist() == [False]


def test_what_was_reported_is_remembered_until_it_is_too_old_and_at_its_own_station_only() -> None:
    # two stations, reports so many minutes after midnight; what was seen first is gone after two hours
    station = np.array([0, 0, 0, 0, 0, 1, 1], dtype=np.int32)
    minutes = np.array([0, 50, 120, 121, 190, 10, 60])
    at_s = minutes * 60
    windows = ReportWindows(station, at_s.astype(np.int64))
    there = np.array([True, False, False, False, True, False, False])
    found = lately._within(windows, there, at_s - 7200)
    assert found.tolist() == [True, True, True, False, True, False, False]


def test_of_rows_that_cannot_be_used_the_first_five_are_shown_however_a_file_is_cut(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    rows = ["2027-01-10T05:50Z,ZZZA 100550Z 24008KT CAVOK 05/M02 Q1002", *["2027-01-10T05:50Z,rubbish"] * 11]
    file.write_text("valid,raw\n" + "\n".join(rows) + "\n", encoding="utf-8")
    for size in (3, 4, 100):
        found = gather.gather(file, tmp_path, rows=size)
        assert (found.rows, found.refused) == (12, 11)
        # the first row is a report
        assert [where.split("row ")[1].split(":")[0] for where, _ in found.bad] == ["2", "3", "4", "5", "6"]


def test_usual_headings_are_seen_without_a_pattern_and_nothing_else_is_taken_for_one() -> None:
    usual = ["ZZZA 100550Z 24010KT", "METAR ZZZA 100551Z 24010KT", "SPECI Z9ZB 312350Z 24010KT"]
    # letters before the station, a number too short, a mark of a correction, of an automatic station, an end
    others = [
        *("QQQQQQZZZA 100550Z 24010KT", "ZZZA 10055Z 24010KT", "ZZZA 100550Z COR 24010KT"),
        *("ZZZA 100550Z AUTO 24010KT", "ZZZA 100550Z =", "9ZZA 100550Z 24010KT", "ZZZA 100550 24010KT"),
    ]
    found = heads._plain(pa.array(usual + others, pa.large_string()))
    assert found.there.tolist() == [True] * len(usual) + [False] * len(others)
    assert found.station[:3].tolist() == ["ZZZA", "ZZZA", "Z9ZB"]
    assert found.clock[:3].tolist() == [100550, 100551, 312350]


def test_rows_have_the_central_case_between_the_lowest_and_the_highest_of_the_cases(tmp_path: Path) -> None:
    replayed(DATA / "winter.csv", output=tmp_path / "told.parquet")
    table = pq.read_table(tmp_path / "told.parquet")
    for name in ("wing_skin_temperature_c", "frost_margin_c"):
        low, central, high = (np.array(table.column(f"{name}{end}")) for end in ("_low", "", "_high"))
        there = ~np.isnan(low)
        assert (low <= central)[there].all() and (central <= high)[there].all(), name
        # the other cases are on either side of it
        assert ((low < central) & (central < high))[there].sum() > there.sum() / 2, name


def test_a_time_beside_a_row_that_is_none_costs_that_row_only(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    report = "ZZZA 100550Z 24008KT CAVOK 05/M02 Q1002"
    file.write_text(f"valid,raw\n2027-01-10 05:50,{report}\n2027-13-45 25:61,{report}\n", encoding="utf-8")
    found = gather.gather(file, tmp_path, rows=100)
    assert (found.rows, found.refused) == (2, 1)
    (run,) = found.runs
    assert gather.read_run(run).column("at_s").to_pylist() == [seconds("2027-01-10T05:50:00")]


def test_months_of_a_station_that_follow_each_other_are_one_span(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    times = ["2027-01-10T05:50", "2027-02-10T05:50", "2027-04-10T05:50"]
    rows = [f"{at}Z,{name} 100550Z 24008KT CAVOK 05/M02 Q1002" for name in ("ZZZA", "ZZZB") for at in times]
    file.write_text("valid,raw\n" + "\n".join(rows) + "\n", encoding="utf-8")
    runs = gather.gather(file, tmp_path, rows=100).runs
    (whole,) = plan.parts(runs, ["ZZZA", "ZZZB"], rows=100)
    # January and February, then April: of each station
    wanted = [("2027-01-01", "2027-03-01"), ("2027-04-01", "2027-05-01")]
    assert [(one.station, one.from_s, one.until_s) for one in whole.spans] == [
        (name, seconds(start), seconds(end)) for name in ("ZZZA", "ZZZB") for start, end in wanted
    ]
    # three reports at the most in a part: each station has its own
    assert [[one.station for one in part.spans] for part in plan.parts(runs, ["ZZZA", "ZZZB"], rows=3)] == [
        ["ZZZA", "ZZZA"],
        ["ZZZB", "ZZZB"],
    ]


@pytest.mark.parametrize("hour", ["0350", "0950", "1350"])
def test_air_under_a_sky_that_nobody_told_may_cool_and_warm_as_under_any(tmp_path: Path, hour: str) -> None:
    span = {}
    for sky in ("SKC", "OVC010", "//////"):
        file, target = tmp_path / "a.csv", tmp_path / "told.parquet"
        report = f"ZZZA 10{hour}Z 24004KT 9999 {sky} 05/M02 Q1002"
        file.write_text(f"valid,raw\n2027-04-10T{hour[:2]}:{hour[2:]}Z,{report}\n", encoding="utf-8")
        replayed(file, output=target)
        table = pq.read_table(target)
        span[sky] = tuple(table.column(f"air_temperature_c_{end}")[0].as_py() for end in ("low", "high"))
        target.unlink()
    low, high = span.pop("//////")
    # one of the two it is, or something between
    assert low <= min(each[0] for each in span.values()) and high >= max(each[1] for each in span.values())
    assert len(set(span.values())) == 2

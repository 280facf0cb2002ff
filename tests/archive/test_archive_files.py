"""Archive files: formats, folders and patterns, partitions, and what is said of bad ones."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.archive.files import ArchiveRow, find_files, partitions
from advisor.errors import ReportError

pa = pytest.importorskip("pyarrow")

TEXTS = ("ZZZA 100520Z 27005KT 9999 SCT020 M01/M02 Q1012", "ZZZB 100550Z 00000KT CAVOK 03/01 Q1013")
TIMES = (datetime(2026, 1, 10, 5, 20, tzinfo=UTC), datetime(2026, 1, 10, 5, 50, tzinfo=UTC))
ROWS = (ArchiveRow(TEXTS[0], TIMES[0], "ZZZA"), ArchiveRow(TEXTS[1], TIMES[1], "ZZZB"))
CSV = "station,valid,raw\n" + "".join(f"{row.station},{row.valid.isoformat()},{row.text}\n" for row in ROWS)


def rows(file, **given):
    return tuple(row for part in partitions(file, **given) for row in part.rows)


def parquet(file, **columns):
    import pyarrow.parquet

    pyarrow.parquet.write_table(pa.table(columns), file)
    return file


def packed(file, text):
    """Write a text as the suffix of the file says."""
    if file.suffix == ".gz":
        file.write_bytes(gzip.compress(text.encode()))
    elif file.suffix == ".zst":
        with pa.CompressedOutputStream(str(file), "zstd") as stream:
            stream.write(text.encode())
    else:
        file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize("name", ["a.csv", "a.csv.gz", "a.csv.zst"])
def test_a_table_of_comma_separated_values_is_read_packed_or_not(tmp_path, name):
    assert rows(packed(tmp_path / name, CSV)) == ROWS


@pytest.mark.parametrize("name", ["a.txt", "a.txt.gz", "a.txt.zst"])
def test_plain_text_has_a_report_a_line_and_no_times(tmp_path, name):
    file = packed(tmp_path / name, "\n".join(TEXTS) + "\n\n")
    assert rows(file) == tuple(ArchiveRow(text) for text in TEXTS)


def test_parquet_is_read_with_times_as_text_or_as_times(tmp_path):
    stations = ["ZZZA", "ZZZB"]
    as_times = parquet(tmp_path / "a.parquet", raw=list(TEXTS), valid=list(TIMES), station=stations)
    as_text = parquet(tmp_path / "b.parquet", metar=list(TEXTS), valid=[t.isoformat() for t in TIMES], station=stations)
    assert rows(as_times) == rows(as_text) == ROWS


def test_a_time_with_another_offset_is_turned_into_utc(tmp_path):
    file = packed(tmp_path / "a.csv", f"raw,valid\n{TEXTS[0]},2026-01-10T07:20:00+02:00\n")
    assert rows(file) == (ArchiveRow(TEXTS[0], TIMES[0]),)


def test_a_time_without_an_offset_is_utc_where_no_row_has_one(tmp_path):
    file = packed(tmp_path / "a.csv", f"raw,valid\n{TEXTS[0]},2026-01-10 05:20\n")
    assert rows(file) == (ArchiveRow(TEXTS[0], TIMES[0]),)


def test_mixed_times_are_refused_in_one_line(tmp_path):
    body = f"raw,valid\n{TEXTS[0]},2026-01-10 05:20\n{TEXTS[1]},2026-01-10T05:50Z\n"
    with pytest.raises(ReportError, match="row 2: times with and without an offset are mixed") as met:
        rows(packed(tmp_path / "a.csv", body))
    assert "\n" not in str(met.value)


def test_rows_without_a_report_or_with_no_time_are_told_by_number_and_the_rest_is_read(tmp_path):
    body = f"raw,valid\n,2026-01-10T05:20Z\n{TEXTS[0]},yesterday\n{TEXTS[1]},2026-01-10T05:50Z\n"
    (part,) = partitions(packed(tmp_path / "a.csv", body))
    assert part.rows == (ArchiveRow(TEXTS[1], TIMES[1]),)
    assert [number for number, _ in part.bad] == [1, 2]
    assert "'yesterday' is no time" in part.bad[1][1]


@given(count=st.integers(0, 30), size=st.integers(1, 12))
def test_the_size_of_partitions_changes_no_row_and_none_is_larger(tmp_path_factory, count, size):
    texts = [f"ZZZA 1005{minute:02}Z CAVOK" for minute in range(count)]
    file = packed(tmp_path_factory.mktemp("archive") / "a.txt", "\n".join(texts))
    parts = list(partitions(file, rows=size))
    assert [row.text for part in parts for row in part.rows] == texts
    assert [part.first for part in parts] == list(range(1, count + 1, size))
    assert all(1 <= len(part.rows) <= size for part in parts)


def test_folders_and_patterns_stand_for_their_archive_files_each_once(tmp_path):
    inner = tmp_path / "2020"
    inner.mkdir()
    files = [packed(tmp_path / "b.csv", CSV), packed(inner / "a.txt.gz", TEXTS[0])]
    (tmp_path / "notes.md").write_text("not an archive")
    assert sorted(find_files([str(tmp_path)])) == sorted(files)
    assert find_files([str(tmp_path / "*.csv"), str(files[0])]) == [files[0]]


@pytest.mark.parametrize("name", ["gone", "notes.md", "*.csv"])
def test_a_name_that_stands_for_no_archive_is_said(tmp_path, name):
    (tmp_path / "notes.md").write_text("not an archive")
    with pytest.raises(ReportError, match=r"one report a row") as met:
        find_files([str(tmp_path / name)])
    assert met.value.exit_code == 3


@pytest.mark.parametrize("name", ["a.csv.gz", "a.csv.zst", "a.parquet", "a.csv"])
def test_a_file_that_is_none_is_one_line_naming_it(tmp_path, name):
    file = tmp_path / name
    file.write_bytes(b"\xff\xfe\x00 no such thing")
    with pytest.raises(ReportError, match="cannot be read") as met:
        rows(file)
    assert str(file) in str(met.value)
    assert "\n" not in str(met.value)


def test_a_packed_file_that_was_cut_short_is_said(tmp_path):
    file = packed(tmp_path / "a.csv.gz", CSV * 50)
    file.write_bytes(file.read_bytes()[:-12])
    with pytest.raises(ReportError, match="cannot be read"):
        rows(file)


def test_a_missing_column_of_reports_is_said(tmp_path):
    for file in (packed(tmp_path / "a.csv", "text,valid\n"), parquet(tmp_path / "b.parquet", text=["x"])):
        with pytest.raises(ReportError, match='name it "raw" or "metar"'):
            rows(file)

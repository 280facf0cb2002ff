"""Departures of a bank: each goes by one report or is told to have none, however the work is cut."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

pytest.importorskip("pyarrow")

import pyarrow.parquet as pq

from advisor.archive import bank, part, result, run
from advisor.cli.main import main
from advisor.departure import rfc3339
from advisor.errors import ReportError
from tests.archive.replaying import DATA, counts, replayed
from tests.archive.test_replay import archive_of, written

WINTER, PLACES = DATA / "winter.csv", DATA / "places.csv"
# by hand: a jet's walk is in the middle 35 min before off-block, and a report's hour before that 95 min before it
AHEAD_S = 95 * 60
# briefs at 0550, by the report of 0550; at 0545, before there is one; at 0855, 125 min after that of 0650; elsewhere
FOUND = "2027-01-10T07:25:00Z,ZZZA"
EARLY, LATE, ELSEWHERE = "2027-01-10T07:20:00Z,ZZZA", "2027-01-10T10:30:00Z,ZZZA", "2027-01-10T07:25:00Z,ZZZQ"


def bank_of(folder: Path, rows: Sequence[str]) -> Path:
    file = folder / "bank.csv"
    file.write_text("\n".join(["off_block,station", *rows]) + "\n", encoding="utf-8")
    return file


def ran(folder: Path, rows: Sequence[str], *words: str) -> Result:
    asked = ["replay", str(WINTER), "--places", str(PLACES), "--departures", str(bank_of(folder, rows)), *words]
    return CliRunner().invoke(main, asked, catch_exceptions=False)


def test_text_page_and_json_say_how_many_departures_were_given_and_which_have_no_report(tmp_path: Path) -> None:
    rows = [LATE, FOUND, ELSEWHERE, EARLY]
    told = "3 without a report in the 2 h before the brief: 2027-01-10T07:20:00Z ZZZA, 2027-01-10T07:25:00Z ZZZQ, "
    text = ran(tmp_path, rows)
    assert text.exit_code == 0
    assert text.stdout.startswith("Replay of 1 of 4 departures of 1 stations")
    assert text.stdout.splitlines()[1] == told + "2027-01-10T10:30:00Z ZZZA."
    assert "12 rows: 1 departures replayed" in text.stdout
    page = ran(tmp_path, rows, "--format", "html").stdout
    assert "<h1>Replay of 1 of 4 departures of 1 stations</h1>" in page and f"<p>{told}" in page
    made = json.loads(ran(tmp_path, rows, "--format", "json").stdout)
    assert made["departures"] == made["read"] == 1
    assert (made["bank"]["given"], made["bank"]["without_report"], made["bank"]["not_done"]) == (4, 3, 0)
    assert made["bank"]["first_without"][0] == {"off_block": "2027-01-10T07:20:00Z", "station": "ZZZA"}


def test_of_many_without_a_report_the_first_five_are_named(tmp_path: Path) -> None:
    late = [f"2027-01-10T23:{minute}:00Z,ZZZA" for minute in range(10, 17)]
    line = ran(tmp_path, [FOUND, *late]).stdout.splitlines()[1]
    assert line.startswith("7 without") and line.endswith("2027-01-10T23:14:00Z ZZZA and 2 more.")


def test_where_all_departures_have_a_report_or_none_were_given_nothing_is_said_of_it(tmp_path: Path) -> None:
    assert "without a report" not in ran(tmp_path, [FOUND]).stdout
    alone = replayed(WINTER)
    assert alone.bank is None and alone.departures is None


@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_a_bank_of_which_no_departure_has_a_report_is_one_line_and_exit_3(tmp_path: Path, form: str) -> None:
    target = tmp_path / "told.parquet"
    done = ran(tmp_path, [EARLY, LATE], "--format", form, "--output", str(target))
    assert (done.exit_code, done.stdout) == (3, "")
    assert done.stderr.count("\n") == 1
    assert "departures: none of 2 has a report in the 2 h before its brief, 95 min before off-block" in done.stderr
    assert "2027-01-10T07:20:00Z ZZZA" in done.stderr and "ZZZA, ZZZB from 2027-01 to 2027-02" in done.stderr
    # neither a table without rows nor a folder that waits to be gone on with
    assert list(tmp_path.iterdir()) == [tmp_path / "bank.csv"]


def test_a_bank_at_stations_without_a_position_is_told_to_give_it(tmp_path: Path) -> None:
    done = ran(tmp_path, ["2027-02-12T04:35:00Z,ZZZC"])
    assert done.exit_code == 3 and "ZZZC without a position: give it with --places FILE" in done.stderr


def test_a_departure_early_in_a_month_goes_by_one_report_though_the_months_are_worked_out_apart(tmp_path: Path) -> None:
    body = "9999 OVC040 05/M02 Q1002"
    reports = [f"2027-01-31T23:50:00Z,ZZZA 312350Z 24030KT {body}", f"2027-02-01T00:20:00Z,ZZZA 010020Z 24008KT {body}"]
    # briefs at 0010, by the windy report of the month before, and at 0030, by the calmer one
    times = bank.read(bank_of(tmp_path, ["2027-02-01T01:45:00Z,ZZZA", "2027-02-01T02:05:00Z,ZZZA"]))
    made = replayed(written(tmp_path, reports), departures=times, rows=1)
    assert made.departures == made.read == 2
    assert made.bank is not None and made.bank.without_report == 0
    assert counts(made)["strong-wind"][0] == 1


@pytest.mark.parametrize("rows", [None, 7])
def test_the_rows_of_a_bank_are_those_of_all_reports_by_which_its_briefs_go(tmp_path: Path, rows: int | None) -> None:
    archive = written(tmp_path, archive_of(3))
    replayed(archive, output=tmp_path / "all.parquet")
    every = pq.read_table(tmp_path / "all.parquet").to_pylist()
    first_s = int(every[0]["at"].timestamp())
    times = {
        name: [first_s + 2700 * at for at in range(0, 1500, 2 if name == "ZZZA" else 3)] for name in ("ZZZA", "ZZZB")
    }
    wanted, without = [], []
    for name, off_blocks in times.items():
        for off_block in off_blocks:
            now = off_block - AHEAD_S
            before = [one for one in every if one["station"] == name and one["at"].timestamp() <= now]
            if before and now - before[-1]["at"].timestamp() <= 7200:
                wanted.append(before[-1])
            else:
                without.append((off_block, name))
    made = replayed(archive, output=tmp_path / "bank.parquet", departures=times, rows=rows)
    assert str(pq.read_table(tmp_path / "bank.parquet").to_pylist()) == str(wanted)
    assert made.bank is not None
    assert (made.departures, made.bank.without_report) == (len(wanted), len(without)) and wanted and without
    told = [(one.off_block, one.station) for one in made.bank.first_without]
    assert told == [(rfc3339(at), name) for at, name in sorted(without)[:5]]


def test_a_stopped_run_calls_no_departure_without_a_report_that_it_may_have_in_what_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopping(*given: object) -> object:
        if given[0].number:  # type: ignore[attr-defined]
            raise KeyboardInterrupt
        return part.work(*given)  # type: ignore[arg-type]

    # the parts are a month of ZZZA, which is done, and two of ZZZB
    rows = [FOUND, EARLY, "2027-01-12T03:35:00Z,ZZZB", "2027-02-28T03:35:00Z,ZZZB", "2027-03-01T02:35:00Z,ZZZB"]
    departures = bank.read(bank_of(tmp_path, [*rows, "2027-03-01T04:35:00Z,ZZZB"]))
    monkeypatch.setattr(run, "work", stopping)
    made = replayed(WINTER, departures=departures, rows=5)
    assert made.partial and made.bank is not None
    # briefs on 28 February and at 0100 on 1 March may go by a report of February; one at 0300 may not
    assert made.bank == result.BankCount(
        6, 2, 3, [result.BankDeparture(EARLY[:20], "ZZZA"), result.BankDeparture("2027-03-01T04:35:00Z", "ZZZB")]
    )


def test_a_stopped_run_in_which_no_departure_was_replayed_yet_is_no_fault_of_the_bank(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*given: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "work", stop)
    done = ran(tmp_path, [FOUND])
    assert done.exit_code == 130 and done.stdout.startswith("PARTIAL")
    assert "1 may have theirs in parts that are missing." in done.stdout
    monkeypatch.undo()
    with pytest.raises(ReportError, match="none of 1"):
        replayed(WINTER, departures=bank.read(bank_of(tmp_path, [EARLY])))

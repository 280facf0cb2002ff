"""`advisor replay`: what it prints, and what it says of bad input, in one line."""

from __future__ import annotations

import fcntl
import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

pytest.importorskip("pyarrow")

from advisor.archive import run
from advisor.cli.main import main
from tests.archive.replaying import DATA

WINTER, PLACES = str(DATA / "winter.csv"), str(DATA / "places.csv")


def ran(*words: str) -> Result:
    return CliRunner().invoke(main, ["replay", *words], catch_exceptions=False)


def test_json_has_the_fixed_names() -> None:
    done = ran(WINTER, "--places", PLACES, "--format", "json")
    assert done.exit_code == 0
    made = json.loads(done.stdout)
    fixed = "schema reports read partly refused stations from until seconds checklist rules by_month against examples"
    assert set(fixed.split()) <= set(made)
    assert made["schema"] == "replay/1" and made["against"] is None
    assert {"id", "expected", "likely", "possible", "cannot_tell"} <= set(made["rules"][0])
    month = {
        "month",
        "briefs",
        "lines_median",
        "lines_p90",
        "de_icing_expected",
        "de_icing_likely",
        "de_icing_possible",
    }
    assert month <= set(made["by_month"][0])
    assert {"rule", "station", "at", "raw"} <= set(made["examples"][0])


def test_text_has_rules_months_and_what_was_left_out() -> None:
    done = ran(WINTER, "--places", PLACES)
    assert done.exit_code == 0
    assert "Replay of 8 reports of 2 stations" in done.stdout
    assert "de-icing-request" in done.stdout and "2027-01" in done.stdout
    assert "Left out, no position: ZZZC (1)." in done.stdout
    assert "row 12" in done.stdout
    # what is printed never says that anything was clean
    assert "clean" not in done.stdout.lower() and "safe" not in done.stdout.lower()


def test_the_page_has_months_by_hours_that_open_and_escapes_what_reports_say(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    body = "ZZZA 110550Z 24030KT 9999 OVC040 05/M02 Q1002 RMK <script>alert(1)</script>"
    calm = "ZZZA 100550Z 24008KT CAVOK 05/M02 Q1002"
    file.write_text(f"valid,raw\n2027-01-10T05:50Z,{calm}\n2027-01-11T05:50Z,{body}\n", encoding="utf-8")
    done = ran(str(file), "--places", PLACES, "--format", "html")
    assert done.exit_code == 0
    page = done.stdout
    assert "<script" not in page and "&lt;script&gt;" in page
    assert "strong-wind" in page
    # the walk of a report of 0550 lies at 0650: the cell of January and 06 h opens it, told in one of two
    assert 'title="1 of 2">50</summary><ul><li>ZZZA 2027-01-11T05:50' in page.replace("\n", "")
    assert "http" not in page.replace("http://www.w3.org", "")


def test_against_is_printed_with_dated_reports(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text('remove = ["strong-wind"]\n', encoding="utf-8")
    done = ran(WINTER, "--places", PLACES, "--checklist", str(tmp_path), "--against", "shipped")
    assert done.exit_code == 0
    assert "lost: 2027-01-10T05:50:00Z METAR ZZZA 100550Z 24030KT" in done.stdout


@pytest.mark.parametrize(
    ("content", "words", "code", "said"),
    [
        ("text,valid\nx,y\n", (), 3, 'name it "raw" or "metar"'),
        ("raw,valid\n", (), 3, "no report in it"),
        ("raw,valid\nrubbish,2027-01-10T05:50Z\n", (), 3, "no report in it"),
        ("raw,valid\nZZZQ 100550Z CAVOK,2027-01-10T05:50Z\n", (), 3, "no station of it has a position: ZZZQ"),
        ("raw\nZZZA 100550Z CAVOK\n", (), 3, "no report in it"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\nZZZA 100620Z CAVOK,2027-01-10 06:20\n", (), 3, "are mixed"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\n", ("--class", "kite"), 3, "is not known"),
        ("raw\nZZZA 100550Z CAVOK\n", ("--month", "May"), 3, "is no month"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\n", ("--resume",), 2, "nothing to go on with"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\n", ("--cluster", "tcp://127.0.0.1:9"), 2, "give --output"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\n", ("--departures", "gone.csv"), 3, "cannot be read"),
        ("raw,valid\nZZZA 100550Z CAVOK,2027-01-10T05:50Z\n", ("--checklist", "gone"), 4, "no such folder"),
    ],
)
def test_bad_input_is_one_line_and_the_documented_code(
    tmp_path: Path, content: str, words: tuple[str, ...], code: int, said: str
) -> None:
    file = tmp_path / "a.csv"
    file.write_text(content, encoding="utf-8")
    done = ran(str(file), "--places", PLACES, *words)
    assert done.exit_code == code, done.stderr
    assert said in done.stderr
    assert done.stdout == ""
    lines = [line for line in done.stderr.splitlines() if not line.startswith(("Usage:", "Try ")) and line.strip()]
    assert len(lines) == 1, done.stderr


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("ZZZA,61.4,9.8,\nZZZA,61.5,9.8,\n", "row 3: ZZZA lies elsewhere than in row 2"),
        ("ZZZA,north,9.8,\n", "no position"),
        ("ZZZA,91,9.8,\n", "no position"),
        (",61,9.8,\n", "no station"),
    ],
)
def test_a_file_of_places_that_cannot_be_used_is_one_line(tmp_path: Path, rows: str, said: str) -> None:
    file = tmp_path / "places.csv"
    file.write_text(f"station,latitude,longitude,elevation_m\n{rows}", encoding="utf-8")
    done = ran(WINTER, "--places", str(file))
    assert (done.exit_code, done.stdout) == (3, "")
    assert said in done.stderr and done.stderr.count("\n") == 1


def test_rubbish_is_counted_and_the_first_five_rows_are_shown(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    bad = "".join(f"2027-01-10T0{hour}:50Z,rubbish {hour}\n" for hour in range(8))
    file.write_text(f"valid,raw\n{bad}2027-01-10T05:50Z,ZZZA 100550Z 24030KT CAVOK 05/M02 Q1002\n", encoding="utf-8")
    made = json.loads(ran(str(file), "--places", PLACES, "--format", "json").stdout)
    assert (made["reports"], made["read"], made["refused"]) == (9, 1, 8)
    assert [row["where"].rsplit("row ", 1)[1] for row in made["bad_rows"]] == [
        f"{n + 1}: rubbish {n}" for n in range(5)
    ]


def test_text_without_times_begins_in_the_month_that_is_given(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    file.write_text(
        "ZZZA 312350Z 24030KT CAVOK 05/M02 Q1002=\nZZZA 010020Z 24030KT CAVOK 05/M02 Q1002=\n", encoding="utf-8"
    )
    made = json.loads(ran(str(file), "--places", PLACES, "--month", "2027-01", "--format", "json").stdout)
    assert (made["from"], made["until"]) == ("2027-01-31T23:50:00Z", "2027-02-01T00:20:00Z")


def test_a_run_stopped_while_the_archive_is_read_says_that_nothing_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*given: object, **more: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "gather", stop)
    done = ran(WINTER, "--places", PLACES)
    assert done.exit_code == 130
    assert done.stdout == "" and done.stderr.startswith("advisor: replay: stopped") and done.stderr.count("\n") == 1


def test_a_stopped_run_says_so_and_exits_130(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def stop(*given: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "work", stop)
    done = ran(WINTER, "--places", PLACES, "--output", str(tmp_path / "told.parquet"))
    assert done.exit_code == 130
    assert done.stdout.startswith("PARTIAL")
    monkeypatch.undo()
    again = ran(WINTER, "--places", PLACES, "--output", str(tmp_path / "told.parquet"), "--resume")
    assert again.exit_code == 0 and "Replay of 8 reports" in again.stdout


def test_two_runs_do_not_write_into_one_output_at_once(tmp_path: Path) -> None:
    """The first one, of which only what it holds is here, keeps what it has done; the second says why it stops."""
    work = tmp_path / "told.parquet.work"
    work.mkdir()
    (work / "run").write_text("invented", encoding="utf-8")
    asked = (WINTER, "--places", PLACES, "--output", str(tmp_path / "told.parquet"))
    first = os.open(work, os.O_RDONLY)
    try:
        fcntl.flock(first, fcntl.LOCK_EX)
        done = ran(*asked)
    finally:
        os.close(first)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "another run with this --output is at work" in done.stderr and len(done.stderr.splitlines()) == 1
    assert (work / "run").read_text(encoding="utf-8") == "invented"
    assert ran(*asked).exit_code == 0 and not work.exists()

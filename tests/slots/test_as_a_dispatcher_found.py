"""What a dispatcher who tried it found: each misled, or lost something, before it was mended."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from nights import EXAMPLE

from advisor.cli.main import main

NOW = "2027-01-10T04:30:00Z"
DRIZZLE = "METAR ZZZA 100420Z 08006KT 3000 -FZDZ OVC009 M02/M03 Q1010"
HEAD = "flight,off_block,aircraft,stand,parked_since\n"
TWO = HEAD + "XX1,2027-01-10T05:20:00Z,single-aisle-jet,,\nXX2,2027-01-10T05:30:00Z,single-aisle-jet,,\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("pads.toml", "holdover.toml"):
        shutil.copy(EXAMPLE / name, tmp_path / name)
    (tmp_path / "two.csv").write_text(TWO, encoding="utf-8")
    return tmp_path


def run(folder: Path, *more: str, report: str = DRIZZLE, now: str = NOW) -> Result:
    fixed = ["slots", str(folder / "two.csv"), "--report", report, "--place", "60.3,25", "--now", now]
    return CliRunner().invoke(main, [*fixed, "--pads", str(folder / "pads.toml"), "--time-limit", "1", *more])


def planned(folder: Path, *more: str, **given: str) -> dict[str, dict]:
    done = run(folder, "--format", "json", *more, **given)
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    return {one["flight"]: one for one in found["departures"]} | {"": found}


def test_no_output_goes_over_a_file_that_another_input_names(folder: Path) -> None:
    before = (folder / "holdover.toml").read_bytes()
    own = folder / "own"
    own.mkdir()
    (own / "a.toml").write_text('[checklist]\nname = "Invented"\nrevision = "1"\n', encoding="utf-8")
    kept = (own / "a.toml").read_bytes()
    linked = folder / "link.toml"
    linked.symlink_to(folder / "holdover.toml")
    for output in (folder / "holdover.toml", linked):
        done = run(folder, "--output", str(output))
        assert done.exit_code == 2 and "is an input of this plan" in done.output
    assert run(folder, "--checklist", str(own), "--output", str(own / "a.toml")).exit_code == 2
    assert ((folder / "holdover.toml").read_bytes(), (own / "a.toml").read_bytes()) == (before, kept)


def test_who_is_at_work_on_a_pad_has_finished_with_the_one_before(folder: Path) -> None:
    lines = "flight,off,at_pad,begun,finished,departed,truck\n"
    lines += (
        "XX1,2027-01-10T05:00:00Z,,2027-01-10T05:05:00Z,,,P1\nXX2,2027-01-10T05:10:00Z,,2027-01-10T05:19:00Z,,,P1\n"
    )
    (folder / "so-far.csv").write_text(lines, encoding="utf-8")
    made = planned(folder, "--actuals", str(folder / "so-far.csv"), now="2027-01-10T05:20:00Z")
    assert made[""]["unplanned"] == []
    assert (made["XX2"]["pad"], made["XX2"]["start"]) == ("P1", "2027-01-10T05:19:00Z")
    assert made["XX1"]["start"] == "2027-01-10T05:05:00Z" and made["XX1"]["end"] <= made["XX2"]["start"]


def test_of_weather_that_nobody_told_a_pad_is_not_told_frost(folder: Path) -> None:
    made = planned(folder, report="METAR ZZZA 100420Z AUTO 08006KT 4000 // OVC009 M02/M03 Q1010")
    for flight in ("XX1", "XX2"):
        assert made[flight]["need"] != "not indicated" and made[flight]["deposit"] == "unknown", made[flight]
    # frost that was told stays frost
    clear = planned(folder, report="METAR ZZZA 100420Z 08002KT CAVOK M02/M03 Q1020")
    assert {clear[flight]["deposit"] for flight in ("XX1", "XX2")} == {"frost"}


def test_a_storm_that_goes_on_to_the_end_of_what_was_looked_at_has_no_end(folder: Path) -> None:
    report = "METAR ZZZA 100420Z 22012KT 9999 SCT020 M02/M03 Q1010\n"
    report += "TAF ZZZA 100400Z 1004/1018 22012KT 9999 SCT020 BECMG 1005/1006 3000 TSSN SCT020CB"
    shut = [one for one in planned(folder, report=report)[""]["closures"] if not one["possible"]]
    assert shut and all("how long it goes on is not known" in one["why"] for one in shut)
    change = "BECMG 1005/1006 3000 TSSN SCT020CB"
    ended = report.replace(change, "FM100500 22012KT 3000 TSSN SCT020CB FM100600 22012KT CAVOK")
    shut = [one for one in planned(folder, report=ended)[""]["closures"] if not one["possible"]]
    assert shut and all("not known" not in one["why"] for one in shut)


def test_no_start_is_planned_after_its_own_latest(folder: Path) -> None:
    rows = [f"XX{n},2027-01-10T05:{3 * n:02d}:00Z,single-aisle-jet,," for n in range(1, 15)]
    (folder / "two.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    made = planned(folder)
    treated = [one for flight, one in made.items() if flight and one["start"]]
    assert len(treated) > 10 and all(one["start"] <= one["latest_start"] for one in treated)


def test_flights_without_a_slot_stand_first(folder: Path) -> None:
    pads = (folder / "pads.toml").read_text(encoding="utf-8").replace("10:00:00Z", "05:40:00Z")
    (folder / "pads.toml").write_text(pads, encoding="utf-8")
    rows = [f"XX{n},2027-01-10T05:30:00Z,wide-body-jet,," for n in range(1, 31)]
    (folder / "two.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    made = planned(folder)
    without = len(made[""]["unplanned"])
    text = " ".join(run(folder).output.split())
    assert without > 0 and f"Without a slot: {without} of 30. Of the others: Delay" in text


def test_what_is_not_indicated_by_temperature_alone_says_so(folder: Path) -> None:
    (folder / "two.csv").write_text(TWO.replace("T05:", "T08:"), encoding="utf-8")
    made = planned(folder, report="METAR ZZZA 100420Z 08006KT CAVOK 14/04 Q1020")
    for flight in ("XX1", "XX2"):
        assert made[flight]["need"] == "not indicated" and "by the temperature alone" in made[flight]["reason"]


def test_pad_or_closure_of_another_year_is_told(folder: Path) -> None:
    pads = folder / "pads.toml"
    text = pads.read_text(encoding="utf-8").replace('name = "P4"', 'name = "P4"\nfrom = 2037-01-10T05:00:00Z')
    text = text.replace('name = "truck 1"', 'name = "truck 1"\nuntil = 2026-01-10T10:00:00Z')
    works = '[[closure]]\nfrom = 2028-01-10T05:00:00Z\nuntil = 2028-01-10T06:00:00Z\nwhy = "works"\n'
    pads.write_text(f"{text}\n{works}", encoding="utf-8")
    notes = planned(folder)[""]["notes"]
    assert "P4 takes nobody tonight: it opens at 2037-01-10T05:00:00Z." in notes
    assert "truck 1 takes nobody tonight: it closed at 2026-01-10T10:00:00Z." in notes
    outside = "The closure from 2028-01-10T05:00:00Z to 2028-01-10T06:00:00Z (works) lies outside this night."
    assert outside in notes and not any(one.startswith("P1 ") for one in notes)


def test_what_changed_stands_before_the_slots_and_windows_are_named(folder: Path) -> None:
    (folder / "before.json").write_text(run(folder, "--format", "json").stdout, encoding="utf-8")
    later = TWO.replace("05:20", "05:50").replace(
        "flight,off_block,aircraft,stand,parked_since", "flight,off_block,aircraft,stand,parked_since,take_off_until"
    )
    later = later.replace("single-aisle-jet,,\nXX2", "single-aisle-jet,,,2027-01-10T05:55:00Z\nXX2")
    (folder / "two.csv").write_text(later, encoding="utf-8")
    text = run(folder, "--previous", str(folder / "before.json")).stdout
    assert text.index("CHANGED SINCE THE PREVIOUS PLAN") < text.index("SLOTS\n")
    assert "Windows missed: 1 (XX1)." in " ".join(text.split())


def test_who_has_begun_has_no_call_and_no_number_any_more(folder: Path) -> None:
    lines = "flight,off,at_pad,begun,finished,departed,truck\nXX1,,,2027-01-10T05:25:00Z,,,P1\n"
    (folder / "so-far.csv").write_text(lines, encoding="utf-8")
    text = run(folder, "--actuals", str(folder / "so-far.csv"), now="2027-01-10T05:30:00Z").stdout
    row = next(line.split() for line in text.splitlines() if " XX1 " in line)
    assert row[:4] == ["-", "XX1", "expected", "-"]
    board = run(folder, "--actuals", str(folder / "so-far.csv"), "--format", "html", now="2027-01-10T05:30:00Z").stdout
    assert "XX2: call" in board and "XX1: call" not in board
    assert '<td>-</td><th scope="row">XX1</th>' in board


def test_what_is_to_be_said_of_all_is_said_once(folder: Path) -> None:
    rows = "".join(f"XX{at},2027-01-10T05:{20 + at}:00Z,single-aisle-jet,,\n" for at in range(6))
    (folder / "two.csv").write_text(HEAD + rows, encoding="utf-8")
    text = run(folder).stdout
    why = text[text.index("WHY, AND WHAT TO SAY") : text.index("TO PASS ON")]
    assert why.count("freezing drizzle") == 1 and "  all     expected: freezing drizzle" in why


def test_parked_since_after_off_block_is_one_line(folder: Path) -> None:
    row = "XX1,2027-01-10T05:20:00Z,single-aisle-jet,,2027-01-10T09:00:00Z\n"
    (folder / "two.csv").write_text(HEAD + row, encoding="utf-8")
    done = run(folder)
    assert done.exit_code == 3 and "two.csv:2:" in done.output and "parked_since: lies after off_block" in done.output
    assert done.output.count("\n") == 1

"""The command on the example: what it prints in each form, its exit codes, and bad input in one line each."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from datetime import datetime
from functools import cache
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner, Result
from nights import EXAMPLE, at

from advisor import advise
from advisor.checklist.evaluate import STATUSES
from advisor.cli.main import main
from advisor.slots import plan as plans
from advisor.slots.result import Plan

NOW = "2027-01-10T04:30:00Z"
ROWS = list(csv.DictReader(EXAMPLE.joinpath("schedule.csv").open(encoding="utf-8", newline="")))


def run(
    *more: str,
    schedule: Path | str = EXAMPLE / "schedule.csv",
    pads: Path | str = EXAMPLE / "pads.toml",
    report: str | None = None,
    now: str = NOW,
) -> Result:
    reports = [str(EXAMPLE / "report.txt")] if report is None else ["--report", report]
    return CliRunner().invoke(main, ["slots", str(schedule), *reports, "--pads", str(pads), "--now", now, *more])


@cache
def planned() -> Result:
    """The example planned as it stands, as JSON."""
    found = run("--format", "json")
    assert found.exit_code == 0, found.output
    return found


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """The example's plan in a file, as an earlier one."""
    file = tmp_path / "plan.json"
    file.write_bytes(planned().stdout_bytes)
    return file


@pytest.fixture(scope="module")
def example() -> Plan:
    return msgspec.json.decode(planned().stdout, type=Plan)


def test_example_lists_every_flight_with_its_need_and_a_proven_gap(example: Plan) -> None:
    assert [one.flight for one in example.departures] == [row["flight"] for row in ROWS]
    assert {one.need for one in example.departures} >= {"expected", "possible", "not indicated"}
    # the runway holds some up by a minute, which the bound does not know
    assert example.gap < 0.02 and example.unplanned == ()
    assert example.objective <= example.first_come


def test_example_without_its_runway_is_proven_to_be_the_best_possible(tmp_path: Path) -> None:
    for name in ("pads.toml", "holdover.toml"):
        (tmp_path / name).write_bytes((EXAMPLE / name).read_bytes())
    free = (EXAMPLE / "pads.toml").read_text(encoding="utf-8").replace("separation_s = 90", "separation_s = 0")
    (tmp_path / "pads.toml").write_text(free, encoding="utf-8")
    made = msgspec.json.decode(run("--format", "json", pads=tmp_path / "pads.toml").stdout, type=Plan)
    assert made.status == "optimal" and made.gap == 0 and made.objective == made.bound > 0


def test_example_s_pads_treat_at_least_twelve_aircraft_an_hour(example: Plan) -> None:
    # from the example's own file: P1 to P3 and the truck take 8 + 4 + 2 minutes for a medium aircraft
    slots = 4 * (60 // (8 + 4 + 2))
    assert slots >= 12 and len([pad for pad in example.pads if pad.size == "any"]) == 4


def test_example_says_that_its_holdover_table_is_invented_in_every_form(
    example: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plans, "make", lambda *given, **more: example)
    for form in ("text", "json", "html", "csv", "ics"):
        found = run("--format", form)
        assert found.exit_code == 0 and "INVENTED" in found.output.upper().replace("\r\n ", "").replace("\n ", ""), form


def test_need_is_never_lower_than_the_brief_s_own_de_icing_line(example: Plan) -> None:
    reports = EXAMPLE.joinpath("report.txt").read_text(encoding="utf-8")
    order = list(STATUSES)
    for row in ROWS:
        given = {
            "heading": row["heading_deg"] or None,
            "fuel_temperature": row["fuel_temperature"] or None,
            "parked_since": row["parked_since"] if row["parked_since"] < NOW else None,
        }
        made = advise(
            reports, off_block=row["off_block"], now=NOW, place="60.30,25.00", aircraft=row["aircraft"], **given
        )
        line = next((one for one in made.advice if one.id == "de-icing-request"), None)
        status = "not indicated" if line is None else line.status
        assert order.index(at(example, row["flight"]).need) <= order.index(status), row["flight"]
        if line is not None and status == "expected":
            assert at(example, row["flight"]).need == "expected"


def test_start_is_after_off_block_and_way_to_the_pad_and_take_off_after_the_way_to_the_runway(example: Plan) -> None:
    def minutes(stamp: str | None) -> float:
        assert stamp is not None
        return datetime.fromisoformat(stamp).timestamp() / 60

    places = {pad.name: pad.place for pad in example.pads}
    for row in ROWS:
        one = at(example, row["flight"])
        if one.start is None:
            continue
        to_pad, to_runway = int(row["to_pad_min"]), int(row["to_runway_min"])
        if places[one.pad or ""] == "remote":
            assert minutes(one.start) >= minutes(one.off_block) + to_pad
            assert minutes(one.take_off) >= minutes(one.end) + to_runway
        else:
            # 15 min before off-block where nobody says when it is ready: the pads file's default
            soonest = minutes(row["ready"]) if row["ready"] else minutes(one.off_block) - 15
            assert minutes(one.start) >= soonest
            assert minutes(one.take_off) >= max(minutes(one.end), minutes(one.off_block)) + to_pad + to_runway


def test_later_plan_of_the_same_night_keeps_what_has_begun(first: Path) -> None:
    found = run("--format", "json", "--previous", str(first), now="2027-01-10T06:10:00Z")
    assert found.exit_code == 0, found.output
    before, after = json.loads(first.read_bytes()), json.loads(found.stdout)
    frozen = {one["flight"]: (one["pad"], one["start"]) for one in after["departures"] if one["frozen"]}
    assert frozen
    for one in before["departures"]:
        if one["flight"] in frozen:
            assert frozen[one["flight"]] == (one["pad"], one["start"])


def test_what_if_puts_variants_beside_the_plan() -> None:
    found = run("--what-if", "--format", "json")
    names = [one["name"] for one in json.loads(found.stdout)["variants"]]
    assert names[0] == "as planned" and "treatment 20 % longer" in names
    assert any(name.startswith("without P") for name in names)
    assert "forecast's temporary groups come true" in names
    costs = {one["name"]: one["objective"] for one in json.loads(found.stdout)["variants"]}
    assert costs["treatment 20 % longer"] >= costs["as planned"]


def test_same_command_twice_prints_the_same_bytes() -> None:
    assert run("--format", "json").stdout_bytes == planned().stdout_bytes


def edited(tmp_path: Path, name: str, before: str, after: str) -> Path:
    """A copy of the example with one change; returns the changed file."""
    for file in EXAMPLE.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    path = tmp_path / name
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after, 1), encoding="utf-8")
    return path


def test_holdover_table_out_of_season_is_refused_with_exit_4(tmp_path: Path) -> None:
    edited(tmp_path, "holdover.toml", "2027-04-30", "2026-12-31")
    found = run(pads=tmp_path / "pads.toml")
    assert found.exit_code == 4 and found.stdout == ""
    assert "holdover.toml:4:15: valid_until: out of season" in found.stderr and "Traceback" not in found.output


def test_pads_file_without_a_holdover_file_plans_without_and_says_so(tmp_path: Path) -> None:
    pads = edited(tmp_path, "pads.toml", 'holdover = "holdover.toml"\n', "")
    found = run(pads=pads)
    assert found.exit_code == 0 and "No holdover file was given: holdover is not planned for." in found.stdout


@pytest.mark.parametrize(
    ("before", "after", "code", "says"),
    [
        ("ZZ103,", "ZZ101,", 3, "schedule.csv:4:1: flight: 'ZZ101' stands in line 3 already"),
        ("single-aisle-jet", "paper-plane", 3, "aircraft: 'paper-plane' is not known; give one of"),
        ("2027-01-10T05:25:00Z", "2027-01-10T05:25:00", 3, "has no time zone"),
        ("ZZ103,2027-01-10T05:40:00Z", "ZZ103,2027-03-10T05:40:00Z", 3, "too far from now"),
    ],
)
def test_bad_schedule_is_refused_with_exit_3(tmp_path: Path, before: str, after: str, code: int, says: str) -> None:
    found = run(schedule=edited(tmp_path, "schedule.csv", before, after))
    assert found.exit_code == code and says in found.stderr and found.stdout == "" and "Traceback" not in found.output


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ('name = "P2"', 'name = "P1"', "pads.toml:14:8: pad.P1.name: a second pad 'P1'"),
        ('size = "any"', 'size = "any"\nsize = "any"', "not TOML"),
        ('holdover = "holdover.toml"', 'holdover = "gone.toml"', "gone.toml:1:1: file: cannot be read"),
    ],
)
def test_bad_pads_file_is_refused_with_exit_4(tmp_path: Path, before: str, after: str, says: str) -> None:
    found = run(pads=edited(tmp_path, "pads.toml", before, after))
    assert found.exit_code == 4 and says in found.stderr and found.stdout == ""


def test_more_demand_than_the_night_can_hold_lists_who_has_no_slot(tmp_path: Path) -> None:
    for file in EXAMPLE.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    pads = tmp_path / "pads.toml"
    pads.write_text(
        '[[pad]]\nname = "P1"\nfrom = 2027-01-10T06:00:00Z\nuntil = 2027-01-10T07:00:00Z\n', encoding="utf-8"
    )
    found = run("--format", "json", "--place", "60.3,25.0", pads=pads)
    data = json.loads(found.stdout)
    assert found.exit_code == 0 and len(data["departures"]) == len(ROWS)
    slots = [one for one in data["departures"] if one["start"]]
    assert 2 <= len(slots) < 8 and len(data["unplanned"]) > 4 and all(one["why"] for one in data["unplanned"])
    assert {one["flight"] for one in data["unplanned"]} == {
        one["flight"] for one in data["departures"] if one["steps"] and not one["start"]
    }


def test_night_in_which_nothing_can_be_planned_exits_5_and_still_lists_all(tmp_path: Path) -> None:
    pads = tmp_path / "pads.toml"
    pads.write_text('[[pad]]\nname = "P1"\nuntil = 2027-01-10T04:31:00Z\n', encoding="utf-8")
    found = run("--place", "60.3,25.0", pads=pads)
    assert found.exit_code == 5 and "NO SLOT FOR" in found.stdout and "could be planned" in found.stderr


def test_previous_plan_of_another_schedule_is_refused(first: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.csv"
    other.write_text(
        EXAMPLE.joinpath("schedule.csv").read_text(encoding="utf-8").replace("ZZ1", "YY1").replace("ZZ2", "YY2"),
        encoding="utf-8",
    )
    found = run("--previous", str(first), schedule=other)
    assert found.exit_code == 3 and "another schedule" in found.stderr


@pytest.mark.parametrize(("report", "code"), [("NOT A REPORT", 3), ("METAR ZZZA 100420Z NIL", 3)])
def test_unusable_report_is_refused_with_exit_3(report: str, code: int) -> None:
    found = run(report=report)
    assert found.exit_code == code and found.stdout == "" and "Traceback" not in found.output


def test_missing_weather_never_makes_a_need_disappear() -> None:
    bare = run("--format", "json", report="METAR ZZZA 100420Z ///// //// // ////// ///// Q////")
    assert bare.exit_code == 0, bare.output
    for one in json.loads(bare.stdout)["departures"]:
        assert one["need"] != "not indicated", one["flight"]


def test_pads_are_asked_for_with_exit_2() -> None:
    found = CliRunner().invoke(main, ["slots", str(EXAMPLE / "schedule.csv"), str(EXAMPLE / "report.txt")])
    assert found.exit_code == 2 and "--pads" in found.stderr


def test_search_that_is_stopped_keeps_the_best_plan_so_far() -> None:
    from advisor.slots.inputs import read_night

    night = read_night(
        EXAMPLE / "schedule.csv",
        [EXAMPLE.joinpath("report.txt").read_text(encoding="utf-8")],
        now=int(datetime.fromisoformat(NOW).timestamp()),
        pads_file=EXAMPLE / "pads.toml",
    )
    made = plans.make(night, plans.Effort(60.0, lambda: 0.0, stop=lambda: True))
    assert made.status == "stopped" and made.unplanned == () and 0 <= made.bound <= made.objective
    late = plans.make(night, plans.Effort(0.0, lambda: 0.0))
    assert late.status == "time limit" and late.unplanned == ()


def test_start_of_other_commands_loads_neither_the_planner_nor_the_solver() -> None:
    late = "('advisor.slots', 'highspy', 'icalendar')"
    code = f"import sys, advisor.cli; print([n for n in sys.modules if n.startswith({late})])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_nothing_but_the_plan_reaches_standard_output() -> None:
    # the solver's own banner would stand before the JSON: its C library writes past Python's stdout
    command = [
        sys.executable,
        "-m",
        "advisor",
        "slots",
        str(EXAMPLE / "schedule.csv"),
        str(EXAMPLE / "report.txt"),
        "--pads",
        str(EXAMPLE / "pads.toml"),
        "--now",
        NOW,
        "--format",
        "json",
    ]
    found = subprocess.run(command, capture_output=True, check=True)
    assert json.loads(found.stdout)["schema"] == "plan/1" and found.stderr == b""


@pytest.mark.parametrize("name", ["../holdover.toml", "/etc/hostname"])
def test_server_refuses_a_holdover_file_outside_the_pads_file_s_folder(tmp_path: Path, name: str) -> None:
    from advisor.errors import ChecklistError
    from advisor.slots.inputs import read_night

    pads = edited(tmp_path, "pads.toml", '"holdover.toml"', f'"{name}"')
    reports = [EXAMPLE.joinpath("report.txt").read_text(encoding="utf-8")]
    now = int(datetime.fromisoformat(NOW).timestamp())
    with pytest.raises(ChecklistError, match="leads out of its folder"):
        read_night(EXAMPLE / "schedule.csv", reports, now=now, pads_file=pads, inside=True)

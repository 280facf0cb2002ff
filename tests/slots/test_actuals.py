"""What has happened goes before what was planned: the file, the replan, and a noisy night planned every ten minutes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
from nights import NOW, at, minute, moved, need, pad, pads, plan, sky, table

from advisor.errors import DepartureError
from advisor.slots.field import field
from advisor.slots.files import actuals
from advisor.slots.files.actuals import Actual
from advisor.slots.files.pads import Noise
from advisor.slots.files.schedule import Row
from advisor.slots.rehearse import carry_out
from advisor.slots.scenarios import draw

ROWS = tuple(Row(flight, NOW, "single-aisle-jet") for flight in ("ZZ1", "ZZ2"))
HEAD = "flight,off,at_pad,begun,finished,departed,truck\n"
ONE = pads(pad("P1"))
TWO = pads(pad("P1"), pad("P2"))


def happened(flight: str, truck: str = "P1", **minutes: int) -> dict[str, Actual]:
    """Minutes from NOW."""
    return {flight: Actual(flight, **{name: NOW + 60 * value for name, value in minutes.items()}, truck=truck)}


def parsed(lines: str, now: int = NOW + 7200):
    return actuals.parse(HEAD + lines, "a.csv", ROWS, ("P1", "truck 1"), now)


def test_times_and_pad_of_each_flight_are_read_and_empty_cells_are_not_known() -> None:
    found = parsed("ZZ1,2027-01-10T05:02:00Z,2027-01-10T05:06:00Z,2027-01-10T05:08:00+00:00,,,truck 1\nZZ2,,,,,,\n")
    assert found["ZZ1"] == Actual("ZZ1", NOW + 120, NOW + 360, NOW + 480, None, None, "truck 1", 2)
    assert found["ZZ1"].state == "under way" and found["ZZ2"].state == ""


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("ZZ9,,,,,,", "a.csv:2:1: flight: 'ZZ9' is not in the schedule; give a flight of the schedule"),
        (",,,,,,P1", "a.csv:2:1: flight: empty; every line needs a flight of the schedule"),
        ("ZZ1,,,2027-01-10T05:10:00Z,2027-01-10T05:09:00Z,,P1", "finished: lies before begun"),
        ("ZZ1,2027-01-10T05:10:00Z,,,,2027-01-10T05:09:00Z,P1", "departed: lies before off"),
        ("ZZ1,,,,2027-01-10T05:09:00Z,,P1", "finished: without begun"),
        ("ZZ1,,,2027-01-10T05:10:00Z,,,", "begun: without truck"),
        ("ZZ1,,,2027-01-10T05:10:00Z,,,P7", "truck: 'P7' is no pad or truck; give one of P1, truck 1"),
        ("ZZ1,2027-01-10T09:10:00Z,,,,,", "off: 2027-01-10T09:10:00Z lies after now"),
        ("ZZ1,yesterday,,,,,", "off: "),
        ("ZZ1,2025-01-10T05:10:00Z,,,,,", "too far from now"),
        ("ZZ1,,,,,,\nZZ1,,,,,,", "a.csv:3:1: flight: 'ZZ1' stands in line 2 already"),
    ],
)
def test_what_contradicts_is_one_line_with_line_and_column(line: str, said: str) -> None:
    with pytest.raises(DepartureError) as caught:
        parsed(line + "\n")
    assert said in str(caught.value) and "\n" not in str(caught.value)


def test_more_than_twenty_faults_are_counted() -> None:
    with pytest.raises(DepartureError) as caught:
        parsed("".join(f"YY{number},,,,,,\n" for number in range(30)))
    lines = str(caught.value).splitlines()
    assert len(lines) == 21 and lines[-1] == "and 10 more faults; mend these first"


def test_flight_that_is_gone_is_planned_no_more_and_late_is_not_red() -> None:
    needs = [need("A", 0), need("B", 0)]
    made = plan(needs, ONE, now=NOW + 3600, actuals=happened("A", off=2, at_pad=5, begun=6, finished=16, departed=22))
    a = at(made, "A")
    assert a.state == "departed" and minute(a.take_off) == 22 and a.start is None and not a.call_passed
    assert a.delay_min == 22 - 7 and [one.flight for one in made.unplanned] == []
    assert at(made, "B").start is not None and at(made, "B").order == 1


def test_treatment_under_way_keeps_its_pad_until_it_is_done_and_others_wait() -> None:
    needs = [need("A", 0), need("B", 0)]
    made = plan(needs, ONE, now=NOW + 600, actuals=happened("A", off=2, at_pad=5, begun=6))
    a, b = at(made, "A"), at(made, "B")
    assert a.frozen and a.state == "under way" and (minute(a.start), minute(a.end)) == (6, 16)
    assert minute(b.start) == 16 and (a.order, b.order) == (1, 2)


def test_treatment_under_way_that_was_only_possible_shares_its_pad_with_nobody() -> None:
    needs = [need("A", 0, status="possible"), need("B", 0, status="possible")]
    made = plan(needs, ONE, now=NOW + 600, actuals=happened("A", off=2, at_pad=5, begun=6))
    assert at(made, "A").need == "expected" and at(made, "A").shared_with == ()
    assert minute(at(made, "B").start) == 16


def test_who_waits_is_called_at_once_though_others_stay_as_they_were() -> None:
    first = plan([need("A", 0), need("B", 30)], TWO)
    now = NOW + 600
    waits = happened("A", "", off=2, at_pad=8)
    made = plan([moved(need("A", 0), now), moved(need("B", 30), now)], TWO, previous=first, now=now, actuals=waits)
    assert minute(at(made, "A").start) == 10 and at(made, "B").changed is None


def test_treatment_that_takes_longer_than_planned_holds_its_pad_for_at_least_another_minute() -> None:
    made = plan([need("A", 0), need("B", 0)], ONE, now=NOW + 1800, actuals=happened("A", begun=6))
    # begun at 6, 10 min planned, still under way at 30
    assert minute(at(made, "A").end) == 31 and minute(at(made, "B").start) >= 31


def test_who_waits_at_the_pad_can_begin_at_once_and_is_not_sent_to_a_truck_on_its_stand() -> None:
    both = pads(pad("T1", place="stand"), pad("P1"))
    made = plan([need("A", 30, to_pad=9)], both, now=NOW + 300, actuals=happened("A", "", off=0, at_pad=4))
    a = at(made, "A")
    assert a.pad == "P1" and minute(a.start) == 5 and a.state == "at pad" and not a.call_passed


def test_holdover_that_has_run_out_takes_a_second_treatment_and_its_pad_time() -> None:
    snow = sky(falling="light snow")
    # treated 6 to 16 in one step; 30 min from 6 are over at 36; now is 40
    one = need("A", 0, conditions=snow)
    still = happened("A", off=2, at_pad=5, begun=6, finished=16)
    made = plan([one], ONE, table({"light snow": 30}), now=NOW + 2400, actuals=still)
    a = at(made, "A")
    # back from the runway: 4 min
    assert not a.frozen and minute(a.start) == 44 and minute(a.end) == 54
    early = plan([one], ONE, table({"light snow": 30}), now=NOW + 1200, actuals=still)
    assert at(early, "A").frozen and minute(at(early, "A").start) == 6 and not at(early, "A").holdover_broken


def test_slot_that_has_passed_unbegun_is_planned_again_and_says_so() -> None:
    first = plan([need("A", 0), need("B", 20)], ONE)
    assert minute(at(first, "A").start) == 3
    now = NOW + 600
    needs = [moved(one, now) for one in (need("A", 0), need("B", 20))]
    made = plan(needs, ONE, previous=first, now=now, actuals=happened("B", "", off=9))
    a = at(made, "A")
    assert not a.frozen and minute(a.start) >= 10 and "not begun at 0503Z as planned" in str(a.changed)


@pytest.mark.parametrize("seed", range(4))
def test_noisy_night_planned_every_ten_minutes_moves_nobody_under_way_or_gone(seed: int) -> None:
    # the night as it was: the first plan carried out on one drawn night; every plan sees what has happened by then
    needs = [need(f"T{number}", 10 + 5 * number, window=(10 + 5 * number, 70 + 5 * number)) for number in range(10)]
    held = msgspec.structs.replace(pads(pad("P1"), pad("P2"), clear=1), noise=Noise(3, 4))
    place = field(needs, held, (), None, NOW)
    drawn = draw(needs, held, 1, seed)
    made = plan(needs, held)
    ranks = np.array([float(at(made, one.row.flight).order or 0) for one in needs])
    lived = carry_out(place, drawn, ranks)
    moves = 0
    for now_min in range(0, 110, 10):
        now = NOW + 60 * now_min
        so_far = _so_far(needs, place, drawn, lived, now_min)
        again = [moved(one, now) for one in needs]
        before, made = made, plan(again, held, previous=made, now=now, actuals=so_far)
        for flight, one in so_far.items():
            new = at(made, flight)
            assert new.state == one.state
            if one.state in ("under way", "treated"):
                assert new.frozen and minute(new.start) == (one.begun - NOW) // 60 and new.pad == one.truck
            if one.state == "departed":
                assert new.start is None and new.take_off is not None and not new.changed
        for new in made.departures:
            old = at(before, new.flight)
            if new.changed:
                moves += 1
                assert new.changed.endswith(")"), f"{new.flight} moved without a reason"
            elif new.state not in ("departed", "under way", "treated"):
                # less than five minutes from the start that was given out last is no change
                assert new.pad == old.pad and abs(minute(new.start) - minute(old.told)) < 5, new.flight
    # ten flights, eleven plans: a flight changes about once, for its own delay or for what stands before it
    assert moves <= 15


def _so_far(needs, place, drawn, lived, now_min: int) -> dict[str, Actual]:
    found = {}
    for job, one in enumerate(needs):
        off = float(place.off[job] + drawn.late_min[0, job])
        times = {
            "off": off,
            "at_pad": off + float(place.to_pad[job] * drawn.taxi[0, job]),
            "begun": float(lived.begun[0, job]),
            "finished": float(lived.finished[0, job]),
            "departed": float(lived.take_off[0, job]),
        }
        past = {name: NOW + int(60 * value) for name, value in times.items() if value <= now_min}
        if past:
            truck = place.pads.pads[int(lived.pad[0, job])].name if "begun" in past else ""
            found[one.row.flight] = Actual(one.row.flight, **past, truck=truck)
    return found


def test_actuals_on_the_command_line(tmp_path: Path) -> None:
    from click.testing import CliRunner
    from nights import EXAMPLE

    from advisor.cli.main import main

    file = tmp_path / "actuals.csv"
    begun = "ZZ203,2027-01-10T06:50:00Z,2027-01-10T06:55:00Z,2027-01-10T06:56:00Z,,,P1\n"
    gone = "ZZ120,2027-01-10T04:40:00Z,,,,2027-01-10T04:50:00Z,\n"
    file.write_text(HEAD + begun + gone)
    words = ["slots", str(EXAMPLE / "schedule.csv"), str(EXAMPLE / "report.txt"), "--pads", str(EXAMPLE / "pads.toml")]
    words += ["--now", "2027-01-10T07:00:00Z", "--actuals", str(file), "--format", "json"]
    found = CliRunner().invoke(main, words)
    assert found.exit_code == 0, found.output
    states = {one["flight"]: one["state"] for one in msgspec.json.decode(found.stdout)["departures"]}
    assert states["ZZ203"] == "under way" and states["ZZ120"] == "departed" and states["ZZ101"] == ""


def test_truck_that_is_about_to_begin_at_a_stand_is_not_said_to_be_late() -> None:
    # A is off at 30: its truck begins at 15, 15 min before. At 8 that lies ahead, and B is no reason
    both = pads(pad("P1"), pad("T1", place="stand"))
    needs = [need("A", 30, place="stand"), need("B", 0, place="remote")]
    first = plan(needs, both)
    assert (at(first, "A").pad, minute(at(first, "A").start)) == ("T1", 15)
    now = NOW + 480
    begun = happened("B", "P1", off=1, at_pad=4, begun=5)
    made = plan([moved(one, now) for one in needs], both, previous=first, now=now, actuals=begun)
    a = at(made, "A")
    assert a.frozen and (a.pad, minute(a.start)) == ("T1", 15) and a.changed is None
    # one that has left its stand is treated at no stand
    left = {**begun, **happened("A", "", off=7)}
    needs = [replace(one, row=replace(one.row, place="")) for one in needs]
    made = plan([moved(one, now) for one in needs], both, previous=first, now=now, actuals=left)
    assert at(made, "A").pad == "P1" and "it has left its stand, where T1 was to come" in str(at(made, "A").changed)

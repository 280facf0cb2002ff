"""What a plan says of itself: pads that can be had, what is missing, times that cannot be, few changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
from brute import cheapest_with_sharing
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from nights import (
    EXAMPLE,
    NOW,
    PLAIN,
    Ticks,
    at,
    closure,
    load_pads,
    minute,
    moved,
    need,
    night,
    pad,
    pads,
    plan,
    sky,
    small_night,
    table,
)
from test_every_plan import departures, resources
from validator import validate

from advisor.checklist import aircraft
from advisor.cli.main import main
from advisor.errors import ChecklistError, DepartureError
from advisor.render.slots.text import text
from advisor.slots import scenarios
from advisor.slots.field import field
from advisor.slots.files import schedule
from advisor.slots.files.pads import Noise, Treatment
from advisor.slots.inputs import read_night
from advisor.slots.plan import Effort, look, make
from advisor.slots.rehearse import carry_out
from advisor.slots.whatif import variants

ONE = pads(pad("P1"))
CALM = msgspec.structs.replace(ONE, noise=Noise(0, 0, 0, 0, 0, 0, 0))
TWO = pads(pad("P1"), pad("P2"))
SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)


@pytest.mark.parametrize("seed", range(12))
def test_plan_of_a_small_mixed_night_costs_what_exhaustive_search_with_sharing_finds(seed: int) -> None:
    needs, held = small_night(seed, possible=None)
    made = plan(needs, held)
    validate(made, needs, held, now=NOW)
    assert made.objective == pytest.approx(cheapest_with_sharing(needs, held, 26), abs=1e-6)
    assert made.status == "optimal" and made.gap <= 1e-4


@pytest.mark.long
@settings(SLOW, max_examples=150)
@given(departures(), resources())
def test_no_plan_costs_more_than_first_come_with_pads_given_and_best_possible_means_a_gap_of_nothing(
    needs, held
) -> None:
    made = plan(needs, held)
    assert made.objective <= made.first_come + 1e-6
    assert (made.status == "optimal") == (made.objective - made.bound <= 1e-4 * made.objective + 2e-6)


def test_expected_and_possible_on_few_pads_are_priced_where_they_can_be_had() -> None:
    # one pad; the possible ones share it, the expected ones may not: A 3-13, then B and C together 13-23, then D 23-33
    needs = [need("A", 0), need("B", 0, status="possible"), need("C", 0, status="possible"), need("D", 0)]
    made = plan(needs, ONE)
    validate(made, needs, ONE, now=NOW)
    # A and D first, B and C after both: 0 + 10 + 0.4 x 20 x 2 = 26; between them 0 + 20 + 0.4 x 10 x 2 = 28
    assert made.objective == pytest.approx(26) and made.status == "optimal"


def test_take_off_without_a_guideline_costs_at_least_a_broken_holdover_and_is_told_apart() -> None:
    heavy = sky(falling=[(0, "light snow"), (20, "heavy snow")])
    needs = [need("A", 14, conditions=heavy), need("B", 14, conditions=heavy)]
    made = plan(needs, TWO, table({"light snow": 60}))
    # off at 14, treated 17 to 27, take-off at 31: in the heavy snow, twice at least 90
    a = at(made, "A")
    assert made.objective > 180 and a.no_guideline and not a.holdover_broken and a.holdover_min is None
    assert "Take-offs without a holdover guideline: 2 (A, B)." in " ".join(text(made).split())
    dry = at(plan([need("A", 0)], ONE, table({"light snow": 60})), "A")
    assert dry.holdover_min is None and not dry.no_guideline and "no holdover time runs" in str(dry.holdover_note)


def test_take_off_without_a_guideline_is_no_cheaper_than_a_broken_holdover_whatever_its_own_price() -> None:
    heavy = sky(falling="heavy snow")
    cheap = msgspec.structs.replace(PLAIN, no_guideline=10.0)
    # 90 for a broken holdover, where 10 is what the file says
    made = plan([need("A", 0, conditions=heavy)], pads(pad("P1"), cost=cheap), table({"light snow": 60}))
    assert at(made, "A").no_guideline and made.objective == pytest.approx(90.0)


def test_flight_is_not_held_back_into_heavy_snow() -> None:
    # light snow to minute 30, heavy after it; one pad. A cheap one and a dear one: both out before it where they can be
    heavy = sky(falling=[(0, "light snow"), (40, "heavy snow")])
    needs = [need("A", 0, conditions=heavy), need("B", 2, size="large", conditions=heavy)]
    made = plan(needs, ONE, table({"light snow": 60}))
    assert [at(made, one).no_guideline for one in "AB"] == [False, False]
    assert max(minute(at(made, one).take_off) for one in "AB") == 27


def test_flight_that_no_pad_takes_is_priced_as_unplanned() -> None:
    made = plan([need("A", 0, size="large"), need("B", 0, size="small")], pads(pad("P1", size="small")))
    assert made.objective == made.bound == made.first_come == 1500
    assert [one.flight for one in made.unplanned] == ["A"]


def test_pad_fewer_never_looks_cheaper_in_what_if() -> None:
    needs = [need(f"T{number}", 3 * number) for number in range(8)]
    held = pads(pad("P1"), pad("P2"), pad("P3"))
    made = make(night(needs, held), Effort(30, Ticks(), nights=20, turns=4), needs=needs, variants=variants(20, 1))
    costs = {one.name: one.objective for one in made.variants}
    assert costs["without P3"] > costs["as planned"]
    assert costs["treatment 20 % longer"] > costs["as planned"]
    # the small pad alone is left: the large one finds none, and that costs what no slot costs
    two = pads(pad("S", size="small"), pad("P1"))
    large = [need("A", 0, size="large"), need("B", 0, size="small")]
    made = make(night(large, two), Effort(30, Ticks(), nights=8, turns=4), needs=large, variants=variants(8, 1))
    lost = next(one for one in made.variants if one.name == "without P1")
    assert lost.unplanned == 1 and lost.objective >= 1500


def test_truck_may_begin_some_minutes_before_off_block_as_the_pads_file_says() -> None:
    held = pads(pad("T1", place="stand"))
    assert minute(at(plan([need("A", 60)], held), "A").start) == 45
    later = msgspec.structs.replace(held, treatment=Treatment(clear_min=0, stand_lead_min=10))
    assert minute(at(plan([need("A", 60)], later), "A").start) == 50
    # and where the time is given, that holds
    assert minute(at(plan([need("A", 60, ready=57)], held), "A").start) == 57


def test_pad_with_engines_shut_down_takes_longer() -> None:
    # there at 3, treated to 13, 5 min to start the engines, 4 to the runway; the pad is free again at 18
    needs = [need("A", 0), need("B", 0)]
    made = plan(needs, pads(pad("P1", engines="off")))
    a, b = sorted(made.departures, key=lambda one: str(one.start))
    assert (minute(a.start), minute(a.end), minute(a.take_off), minute(b.start)) == (3, 13, 22, 18)


def test_treatment_under_way_stays_though_the_way_to_the_pad_has_grown() -> None:
    first = plan([need("A", 0)], TWO)
    now = NOW + 300
    grown = replace(moved(need("A", 0), now), to_pad_min=9)
    made = plan([grown], TWO, previous=first, now=now)
    assert at(made, "A").frozen and minute(at(made, "A").start) == 3 and made.changes == ()


def test_pad_that_closes_or_is_struck_off_after_use_moves_nobody_that_is_gone() -> None:
    first = plan([need("A", 0), need("B", 60)], TWO)
    used = str(at(first, "A").pad)
    now = NOW + 1200
    needs = [moved(need("A", 0), now), moved(need("B", 60), now)]
    shut = pads(pad("P1"), pad("P2"), closures=[closure(used, 14, 300)])
    assert at(plan(needs, shut, previous=first, now=now), "A").changed is None
    other = pads(pad("P2" if used == "P1" else "P1"))
    made = plan(needs, other, previous=first, now=now)
    assert at(made, "A").frozen and at(made, "A").pad == used and at(made, "A").changed is None


def test_another_pad_has_a_price() -> None:
    first = plan([need("A", 60)], TWO)
    was = at(first, "A").pad
    made = plan([need("A", 60)], pads(pad("P2"), pad("P1")), previous=first)
    assert at(made, "A").pad == was and made.objective == 0
    gone = pads(pad("P3"), pad("P4"))
    # 2 for the other pad: nothing else changes
    assert plan([need("A", 60)], gone, previous=first).objective == pytest.approx(2.0)


@pytest.mark.parametrize("later", [3, 7, 12])
def test_nothing_new_and_only_the_clock_moved_changes_nothing(later: int) -> None:
    needs = [need(f"T{number}", 20 + 4 * number, status=("expected", "possible")[number % 2]) for number in range(9)]
    first = plan(needs, TWO)
    # spoilt on purpose: the last might go sooner, but nothing has happened that would be a reason to move it
    last = at(first, "T8")
    spoilt = msgspec.structs.replace(last, start="2027-01-10T07:30:00Z", end="2027-01-10T07:40:00Z")
    before = msgspec.structs.replace(
        first, departures=tuple(spoilt if one.flight == "T8" else one for one in first.departures)
    )
    now = NOW + 60 * later
    made = plan([moved(one, now) for one in needs], TWO, previous=before, now=now)
    assert made.changes == () and minute(at(made, "T8").start) == 150


SNOWED = (
    "METAR ZZZA 100250Z 23008KT 1500 SN OVC013 M02/M03 Q1005",
    "METAR ZZZA 100420Z 23009KT 9999 OVC014 M02/M05 Q1004",
    "TAF ZZZA 100405Z 1004/1018 23009KT 9999 OVC014",
)


def looked(tmp_path: Path, now: int, parked: str = ""):
    file = tmp_path / "s.csv"
    file.write_text(f"flight,off_block,aircraft,parked_since\nZZ1,2027-01-10T07:30:00Z,single-aisle-jet,{parked}\n")
    return look(read_night(file, SNOWED, now=now, pads_file=EXAMPLE / "pads.toml"))[0]


def test_snow_reported_earlier_is_possible_where_nobody_says_since_when_it_stands_there(tmp_path: Path) -> None:
    untold = looked(tmp_path, NOW)
    assert untold.status in ("possible", "cannot tell") and "0250Z" in untold.reason
    assert "the time parked is not given" in untold.reason and "nothing frozen" not in untold.reason


def test_treatment_does_not_shrink_as_time_passes_for_want_of_history(tmp_path: Path) -> None:
    minutes = [looked(tmp_path, NOW - 1800 + 600 * step).removal_min for step in range(4)]
    assert minutes == sorted(minutes) and minutes[0] > 0


@pytest.mark.parametrize("name", ["ready", "take_off_from", "take_off_until"])
def test_time_that_lies_years_ahead_is_refused_with_line_and_column(name: str) -> None:
    lines = f"flight,off_block,aircraft,{name}\nZZ1,2027-01-10T06:00:00Z,light-aircraft,2037-01-10T07:00:00Z\n"
    with pytest.raises(DepartureError) as caught:
        schedule.parse(lines, "s.csv", aircraft.load_profiles(), NOW)
    # the fourth cell begins after "ZZ1,", 21 and "light-aircraft,": 4 + 21 + 15
    assert str(caught.value).startswith(f"s.csv:2:41: {name}: 2037-01-10T07:00:00Z is too far from now")


def test_more_than_twenty_faults_end_in_a_count() -> None:
    lines = "flight,off_block,aircraft\n" + "".join(f"ZZ{number},soon,light-aircraft\n" for number in range(25))
    with pytest.raises(DepartureError) as caught:
        schedule.parse(lines, "s.csv", aircraft.load_profiles(), NOW)
    assert len(str(caught.value).splitlines()) == 21 and "and 5 more faults" in str(caught.value)


def test_more_than_twenty_faults_of_a_pads_file_end_in_a_count(tmp_path: Path) -> None:
    file = tmp_path / "pads.toml"
    file.write_text("".join(f'[[pad]]\nname = "P{number}"\nsize = "huge"\n' for number in range(30)))
    with pytest.raises(ChecklistError) as caught:
        load_pads(file, NOW)
    assert len(caught.value.faults) == 21 and caught.value.faults[-1] == "and 10 more faults; mend these first"


def run(*words: str):
    given = ["slots", str(EXAMPLE / "schedule.csv"), str(EXAMPLE / "report.txt"), "--now", "2027-01-10T04:30:00Z"]
    return CliRunner().invoke(main, [*given, "--pads", str(EXAMPLE / "pads.toml"), *words])


def test_output_never_overwrites_an_input() -> None:
    for name in ("schedule.csv", "pads.toml", "report.txt"):
        before = (EXAMPLE / name).read_bytes()
        found = run("--output", str(EXAMPLE / "." / name))
        assert found.exit_code == 2 and "is an input of this plan" in found.output
        assert (EXAMPLE / name).read_bytes() == before


def test_output_never_overwrites_what_was_before_nor_what_has_happened(tmp_path: Path) -> None:
    before, happened = tmp_path / "before.json", tmp_path / "so-far.csv"
    assert run("--format", "json", "--time-limit", "1", "--output", str(before)).exit_code == 0
    happened.write_text("flight,off,at_pad,begun,finished,departed,truck\n")
    for file in (before, happened):
        kept = file.read_bytes()
        found = run("--previous", str(before), "--actuals", str(happened), "--output", str(file))
        assert found.exit_code == 2 and "is an input of this plan" in found.output and file.read_bytes() == kept


@pytest.mark.long
def test_rehearsal_in_the_json_has_the_names_of_the_contract_and_is_the_same_for_a_seed() -> None:
    one, two, other = (run("--format", "json", "--rehearse", "30", "--seed", seed) for seed in ("3", "3", "4"))
    assert one.exit_code == 0 and one.stdout == two.stdout and one.stdout != other.stdout
    made = msgspec.json.decode(one.stdout)["rehearsal"]
    assert made["nights"] == 30
    for way in ("plan", "first_come", "latest_finish", "known"):
        for name in ("delay_min", "worst_delay_min", "broken_holdovers", "missed_windows", "cost"):
            assert set(made[way][name]) == {"mean", "p90"}
    assert made["known"]["cost"]["mean"] <= made["plan"]["cost"]["mean"]


@pytest.mark.parametrize("nights", ["0", "-1", "many", "1000000"])
def test_rehearsal_of_no_nights_is_refused_in_one_line(nights: str) -> None:
    found = run("--rehearse", nights)
    assert found.exit_code == 2 and "Traceback" not in found.output and "--rehearse" in found.output


@pytest.mark.parametrize(
    "line", ["common_cause = 1.5", "adverse_share = -0.1", 'group_share = "often"', "treatment_spread = 2"]
)
def test_share_outside_0_to_1_is_refused_with_file_line_and_column(tmp_path: Path, line: str) -> None:
    file = tmp_path / "pads.toml"
    file.write_text(f'[[pad]]\nname = "P1"\n\n[noise]\n{line}\n')
    found = CliRunner().invoke(
        main,
        [
            "slots",
            str(EXAMPLE / "schedule.csv"),
            str(EXAMPLE / "report.txt"),
            "--pads",
            str(file),
            "--now",
            "2027-01-10T04:30:00Z",
        ],
    )
    assert found.exit_code == 4 and f"{file}:5:" in found.output and "noise" in found.output


def test_night_without_departures_is_one_line(tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("flight,off_block,aircraft\n")
    found = CliRunner().invoke(
        main,
        [
            "slots",
            str(file),
            str(EXAMPLE / "report.txt"),
            "--pads",
            str(EXAMPLE / "pads.toml"),
            "--now",
            "2027-01-10T04:30:00Z",
        ],
    )
    assert found.exit_code == 3 and "no departures" in found.output and len(found.output.strip().splitlines()) == 1


def test_time_limit_counts_from_the_beginning() -> None:
    # the clock runs a second each time it is asked: nothing is left for the search, and a plan comes all the same
    needs = [need(f"T{number}", number) for number in range(6)]
    made = make(night(needs, ONE, None), Effort(1.0, Ticks(1.0), nights=8, turns=2), needs=needs)
    assert len(made.departures) == 6 and made.unplanned == ()


def test_priority_multiplies_the_price_of_waiting() -> None:
    dear = replace(need("A", 2), row=replace(need("A", 2).row, priority=5.0))
    cheap = need("B", 0)
    # alone, B goes first and A waits 8 min; at five times the price B waits: 3 + 10 + ... A at 5, B at 15
    assert minute(at(plan([need("A", 2), cheap], ONE), "B").start) == 3
    made = plan([dear, cheap], pads(pad("P1"), cost=PLAIN))
    assert minute(at(made, "A").start) == 5 and minute(at(made, "B").start) == 15


def test_window_that_is_missed_costs_its_own_price_in_plan_and_rehearsal() -> None:
    # one pad, 10 min each, 4 to the runway, both to take off by 20. A is there at 4, B at 3: B first costs A 9 min of
    # waiting, its window and 7 min of it; A first costs B 11, its window and 8. At 60 each B goes first: 76, at 200 and
    # 30 A: 49. Carried out, B goes first all the same, as it is there when the pad is free: 9 + 200 + 7 for A
    a, b = need("A", 1, window=(0, 20)), need("B", 0, window=(0, 20))
    assert plan([a, b], ONE).objective == pytest.approx(76)
    dear, cheap = (
        replace(a, row=replace(a.row, missed_window=200.0)),
        replace(b, row=replace(b.row, missed_window=30.0)),
    )
    made = plan([dear, cheap], ONE)
    assert made.objective == pytest.approx(49) and minute(at(made, "A").start) == 4
    place = field([dear, cheap], ONE, [], None, NOW)
    drawn = scenarios.draw(place.needs, CALM, 1, 0)
    outcome = carry_out(place, drawn, np.array([0.0, 1.0]), yields=False)
    assert outcome.cost.tolist() == [[216.0, 0.0]]


def test_reading_counts_within_the_time_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.cli import slots as command
    from advisor.slots import inputs
    from advisor.slots import plan as planner

    clock, read, made, seconds = Ticks(), inputs.read_night, planner.make, []

    def slow(*words: object, **named: object) -> object:
        clock.now += 7.0
        return read(*words, **named)  # type: ignore[arg-type]

    def noted(night: object, effort: Effort, **named: object) -> object:
        seconds.append(effort.seconds)
        return made(night, effort, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(command.time, "monotonic", clock)
    monkeypatch.setattr(inputs, "read_night", slow)
    monkeypatch.setattr(planner, "make", noted)
    assert run("--time-limit", "9").exit_code == 0
    assert seconds == [2.0]


def test_scenarios_of_the_example_follow_the_report_s_probability() -> None:
    known = read_night(
        EXAMPLE / "schedule.csv",
        [(EXAMPLE / "report.txt").read_text()],
        now=NOW - 1800,
        pads_file=EXAMPLE / "pads.toml",
    )
    needs = look(known)
    shares = scenarios.case_shares(needs[0].conditions.cases, known.pads.noise)
    lanes = np.array([bool(case.lane) for case in needs[0].conditions.cases])
    assert shares[lanes].sum() == pytest.approx(0.4) and shares.sum() == pytest.approx(1)

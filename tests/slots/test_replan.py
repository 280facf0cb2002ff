"""A plan after a plan: what has begun stays, what moves costs, what is missed is treated again, and it is all said."""

from __future__ import annotations

import msgspec
import pytest
from nights import NOW, PLAIN, at, closure, minute, moved, need, pad, pads, plan, sky, table
from validator import validate

from advisor.errors import DepartureError
from advisor.slots import replan
from advisor.slots.result import Plan, to_json

FOUR = [need(f"T{at_}", 10 * at_) for at_ in range(4)]
ONE = pads(pad("P1"))
TWO = pads(pad("P1"), pad("P2"))


def test_same_night_planned_again_changes_nothing() -> None:
    first = plan(FOUR, TWO)
    again = plan([moved(one, NOW + 300) for one in FOUR], TWO, previous=first, now=NOW + 300)
    assert again.changes == ()
    assert [(one.pad, one.start) for one in again.departures] == [(one.pad, one.start) for one in first.departures]


def test_what_begins_within_ten_minutes_is_frozen_though_another_start_would_now_cost_less() -> None:
    # T0 holds the pad from 3 to 13. A late large aircraft appears at minute 2: it would gladly have the pad at 5.
    first = plan(FOUR[:1], ONE)
    assert minute(at(first, "T0").start) == 3
    late = need("BIG", 2, size="large")
    both = [FOUR[0], late]
    cost = msgspec.structs.replace(PLAIN, large=50.0)
    free = plan(both, pads(pad("P1"), cost=cost))
    assert minute(at(free, "BIG").start) == 5 and minute(at(free, "T0").start) == 15
    made = plan(both, pads(pad("P1"), cost=cost), previous=first, now=NOW)
    assert at(made, "T0").frozen and minute(at(made, "T0").start) == 3 and at(made, "T0").changed is None
    assert minute(at(made, "BIG").start) == 13 and at(made, "BIG").changed == "new in the schedule"


def test_few_flights_move_when_one_is_late() -> None:
    needs = [need(f"T{at_}", 20 + 10 * at_) for at_ in range(5)]
    first = plan(needs, ONE)
    late = [moved(one, NOW, off_block=75) if one.row.flight == "T1" else one for one in needs]
    made = plan(late, ONE, previous=first, now=NOW)
    validate(made, late, ONE, now=NOW, previous=first)
    assert [one.flight for one in made.departures if one.changed] == ["T1"]
    assert "off-block 0530Z -> 0615Z" in str(at(made, "T1").changed)
    assert "start 0533Z -> 0618Z" in str(at(made, "T1").changed) and "its own times changed" in str(
        at(made, "T1").changed
    )


def test_moving_five_to_let_one_in_costs_more_than_letting_it_wait() -> None:
    # five hold the pad from 23 to 73 without waiting; N could start at 21: then the five move by 8 each, 5 x 8 = 40;
    # at the end N waits 52. Each move costs 4 and a quarter a minute, 5 x (4 + 2) = 30: 70 in place of 52.
    five = [need(f"T{at_}", 20 + 10 * at_) for at_ in range(5)]
    late = need("N", 18)
    first = plan(five, ONE)
    assert plan([*five, late], ONE).objective == 40
    made = plan([*five, late], ONE, previous=first, now=NOW)
    assert made.objective == 52 and minute(at(made, "N").start) == 73
    assert [one.flight for one in made.departures if one.changed] == ["N"]


def test_missed_slot_means_treatment_again_and_says_so() -> None:
    first = plan(FOUR, ONE)
    now = NOW + 60 * 20
    later = [moved(one, now, off_block=40) if one.row.flight == "T0" else moved(one, now) for one in FOUR]
    made = plan(later, ONE, previous=first, now=now)
    validate(made, later, ONE, now=now, previous=first)
    t0 = at(made, "T0")
    assert not t0.frozen and minute(t0.start) >= 43
    assert "missed" in str(t0.changed) and "to be treated again" in str(t0.changed)


def test_treated_aircraft_whose_holdover_ends_before_its_new_window_is_treated_again() -> None:
    snow = sky(falling="light snow")
    holdover = table({"light snow": 30})
    one = need("A", 0, conditions=snow)
    first = plan([one], ONE, holdover)
    now = NOW + 60 * 15
    # treated 3 to 13; the new window opens at 60: 57 min after the start, the table says 30
    new = need("A", 0, window=(60, 90), conditions=snow)
    made = plan([new], ONE, holdover, previous=first, now=now)
    assert not at(made, "A").frozen and minute(at(made, "A").start) >= 30 and not at(made, "A").holdover_broken
    assert "holdover from 0503Z runs out" in str(at(made, "A").changed)
    # a window that opens within the holdover leaves the treatment as it is
    kept = plan([need("A", 0, window=(25, 90), conditions=snow)], ONE, holdover, previous=first, now=now)
    assert at(kept, "A").frozen and minute(at(kept, "A").take_off) == 25 and at(kept, "A").holdover_left_min == 8


def test_pad_that_shuts_under_a_frozen_start_frees_it_and_says_why() -> None:
    first = plan(FOUR[:1], TWO)
    used = at(first, "T0").pad
    assert used is not None
    shut = pads(pad("P1"), pad("P2"), closures=[closure(used, 0, 120)])
    made = plan(FOUR[:1], shut, previous=first, now=NOW)
    assert at(made, "T0").pad != used and f"pad {used} is shut: by hand" in str(at(made, "T0").changed)


def test_flight_that_left_the_schedule_is_named() -> None:
    first = plan(FOUR, ONE)
    made = plan(FOUR[:3], ONE, previous=first, now=NOW)
    assert "T3: no longer in the schedule" in made.changes


def test_plan_of_another_schedule_is_refused() -> None:
    first = plan(FOUR, ONE)
    others = [need(f"X{at_}", 10 * at_) for at_ in range(4)]
    with pytest.raises(DepartureError, match="another schedule: 0 of its 4 flights"):
        plan(others, ONE, previous=first, now=NOW)


def test_plan_made_later_than_now_is_refused() -> None:
    first = plan(FOUR, ONE, now=NOW + 600)
    with pytest.raises(DepartureError, match="after now"):
        plan(FOUR, ONE, previous=first, now=NOW)


def test_written_plan_reads_back_the_same(tmp_path) -> None:
    first = plan(FOUR, ONE)
    path = tmp_path / "plan.json"
    path.write_bytes(to_json(first))
    read = replan.read(path)
    assert isinstance(read, Plan) and to_json(read) == to_json(first)


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", '{"schema": "brief/1"}', "not json", "\x00\xff", '{"schema": "plan/1"']
)
def test_anything_but_a_plan_is_refused_in_one_line(tmp_path, text: str) -> None:
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="latin-1")
    with pytest.raises(DepartureError) as caught:
        replan.read(path)
    assert "\n" not in str(caught.value) and "advisor slots --format json" in str(caught.value)


def test_previous_plan_that_cannot_be_is_planned_anew_where_it_cannot() -> None:
    # both on P1 at once, one begun years ago, one for days: each is said, none is frozen, nothing breaks
    needs = [need(f"T{at_}", 5 * at_) for at_ in range(4)]
    first = plan(needs, pads(pad("P1"), pad("P2"), pad("P3"), pad("P4")))
    spoilt = msgspec.structs.replace(
        first,
        departures=tuple(
            msgspec.structs.replace(one, pad="P1", deposit="=1+1", steps=7, **more)
            for one, more in zip(
                first.departures,
                [
                    {},
                    {"start": first.departures[0].start, "end": first.departures[0].end},
                    {"start": "1999-01-01T00:00:00Z"},
                    {"start": "2027-01-10T05:01:00Z", "end": "2027-01-14T05:00:00Z"},
                ],
                strict=True,
            )
        ),
    )
    made = plan(needs, TWO, previous=spoilt, now=NOW)
    validate(made, needs, TWO, now=NOW, previous=spoilt)
    assert [one.flight for one in made.departures if one.frozen] == ["T0"]
    assert "T0 on pad P1 at the same time" in str(at(made, "T1").changed)
    assert all("too long ago, or not possible" in str(at(made, flight).changed) for flight in ("T2", "T3"))
    assert at(made, "T0").deposit == "snow" and at(made, "T0").steps == 1

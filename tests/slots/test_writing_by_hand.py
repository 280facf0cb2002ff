"""What a plan says, by hand: delays, load, what is held back for a window, guidelines, and what JSON may hold."""

from __future__ import annotations

import msgspec
import pytest
from nights import NOW, need, night, pad, pads, plan, sky, table

from advisor.checklist.evaluate import STATUSES
from advisor.slots.build import build
from advisor.slots.result import DepartureOut, Plan, to_json
from advisor.slots.solver.settle import Settled
from advisor.slots.writing import _no_guideline, late_enough, written

ONE = pads(pad("P1"))
SNOW = sky(falling="light snow")


def stands(minute: int, for_holdover: float = 0.0) -> Settled:
    """The only departure starts on P1 at a minute."""
    return Settled(((0, minute),), ("P1",), ((),), 0.0, 0.0, 0.0, "optimal", for_holdover=for_holdover)


def test_who_needs_nothing_and_leaves_late_has_its_delay_told() -> None:
    # ways of 3 and 4 min. A is ready at its off-block time; B 12 min after it, and takes off at 19 and not at 7; the
    # window of C opens at 20, which its schedule knows
    needs = [
        need("A", 0, status="not indicated"),
        need("B", 0, ready=12, status="not indicated"),
        need("C", 0, window=(20, 40), status="not indicated"),
    ]
    made = plan(needs, ONE)
    assert [one.delay_min for one in made.departures] == [0, 12, 0]


def test_load_begins_with_the_quarter_of_an_hour_of_the_first_minute_that_is_used() -> None:
    # on its pad at 11 + 3, for 10 min: the last minute of the first quarter, and nine of the next
    made = plan([need("A", 11)], ONE)
    assert [(one.at, one.load_min, one.capacity_min) for one in made.load] == [
        ("2027-01-10T05:00:00Z", 1, 15),
        ("2027-01-10T05:15:00Z", 9, 15),
    ]


@pytest.mark.parametrize(("engines", "minute"), [("running", 43), ("off", 38)])
def test_who_waits_for_a_window_starts_so_late_that_it_reaches_it_with_a_little_in_hand(
    engines: str, minute: int
) -> None:
    # The window opens at 60: 4 min to the runway, 10 on the pad, and where engines were off 5 to start them again. A
    # standard deviation of both is in hand: 0.2 x 10 and 0.15 x 4 min, the root of 4.36, rounded up: 3. 60 - 17 = 43
    held = pads(pad("P1", engines=engines))
    assert held.treatment.engines_off_min == 5
    built = build([need("A", 0, window=(60, 90), conditions=SNOW)], held, (), table({"light snow": 30}), NOW)
    assert late_enough(built, stands(3), held) == {0: minute}


def test_a_guideline_is_missing_where_there_is_none_for_any_minute_until_take_off() -> None:
    # heavy snow until the sample at 10, which counts until the next at 15; light snow after that
    snow = sky(falling=[(0, "heavy snow"), (15, "light snow")])
    built = build([need("A", 0, conditions=snow)], ONE, (), table({"light snow": 30}), NOW)
    assert _no_guideline(built, 0, 3, 17) and _no_guideline(built, 0, 14, 28)
    assert not _no_guideline(built, 0, 15, 29)
    without = build([need("A", 0, conditions=snow)], ONE, (), None, NOW)
    assert not _no_guideline(without, 0, 3, 17)


def test_what_a_plan_costs_for_holdover_is_told_to_a_millionth() -> None:
    needs = [need("A", 0)]
    built = build(needs, ONE, (), None, NOW)
    told = written(night(needs, ONE), needs, built, stands(3, 2 / 3), (), (), None)
    assert told.for_holdover == 0.666667


def test_a_plan_that_says_nothing_of_starts_held_back_has_none_that_cost_anything() -> None:
    # as plans were written before any start was held back
    older = msgspec.json.decode(to_json(plan([need("A", 0)], ONE)))
    del older["for_holdover"]
    assert msgspec.convert(older, Plan).for_holdover == 0


def test_a_departure_may_have_any_status_that_a_finding_may_have_and_no_other() -> None:
    base = {"flight": "A", "aircraft": "x", "size": "medium", "off_block": "2027-01-10T05:00:00Z"}
    assert [msgspec.convert({**base, "need": word}, DepartureOut).need for word in STATUSES] == list(STATUSES)
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({**base, "need": "probably"}, DepartureOut)

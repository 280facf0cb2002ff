"""A plan after a plan, by hand: what frees a frozen start and what does not, and what is said of a start that moved."""

from __future__ import annotations

from dataclasses import replace

import pytest
from msgspec import structs
from nights import NOW, at, closure, moved, need, pad, pads, plan, sky, table

from advisor.departure import rfc3339
from advisor.slots import replan
from advisor.slots.files.pads import Closure
from advisor.slots.replan import Before, compare
from advisor.slots.result import DepartureOut

ONE = pads(pad("P1"))
FIRST = plan([need("A", 0)], ONE)
# a truck that takes the small class alone, and a pad for everybody
TRUCK = pads(pad("P1", size="small", place="stand"), pad("P2"))


def clock(minutes: int) -> str:
    return rfc3339(NOW + 60 * minutes)


def departure(flight: str, name: str | None, begins: int | None = None, ends: int | None = None) -> DepartureOut:
    """A departure on a pad, minutes from NOW."""
    start, end = (None if one is None else clock(one) for one in (begins, ends))
    return DepartureOut(
        flight=flight,
        need="expected",
        aircraft="single-aisle-jet",
        size="medium",
        off_block=clock(0),
        pad=name,
        start=start,
        end=end,
        treatment_min=10,
    )


def test_a_pad_that_is_listed_no_more_keeps_its_size_and_place_and_is_no_news() -> None:
    # A is off at 15 and may be treated on its stand from 0 on; half an hour later its truck is out of the file
    first = plan([need("A", 15, size="small", place="stand")], TRUCK)
    assert at(first, "A").pad == "P1"
    now = NOW + 1800
    later = [moved(need("A", 15, size="small", place="stand"), now)]
    [lost] = compare(first, later, pads(pad("P2")), (), now).lost_pads
    assert (lost.name, lost.size, lost.place) == ("P1", "small", "stand")
    made = plan(later, pads(pad("P2")), previous=first, now=now)
    assert at(made, "A").frozen and at(made, "A").pad == "P1"
    # kept for what was treated there: that it takes nobody tonight is no news to whoever took it out
    assert not any("takes nobody tonight" in note for note in made.notes)


@pytest.mark.parametrize(
    "shut",
    [closure("P2", 0, 120), closure("P1", 13, 120), closure("P1", -60, 0), closure("P1", -60, 3)],
    ids=["another pad", "after it", "over by now", "over when it begins"],
)
def test_a_closure_that_does_not_touch_a_frozen_treatment_leaves_it(shut: Closure) -> None:
    # A holds P1 from 3 to 13
    assert list(compare(FIRST, [need("A", 0)], ONE, [shut], NOW).held) == ["A"]


def test_a_closure_that_touches_a_frozen_treatment_frees_it() -> None:
    for shut in (closure("P1", 0, 4), closure("P1", 12, 20)):
        before = compare(FIRST, [need("A", 0)], ONE, [shut], NOW)
        assert before.held == {} and before.again == {"A": "pad P1 is shut: by hand"}


@pytest.mark.parametrize(
    ("opens_s", "holds", "held"),
    [
        # treated 3 to 13, 4 min to the runway: 14 min after it began it can go, its window being open by then
        (600, 14, True),
        (600, 13, False),
        # else it waits for its window: begun at 3, 40 min end at 43
        (2580, 40, True),
        (2581, 40, False),
    ],
)
def test_a_holdover_has_to_last_until_it_can_take_off(opens_s: int, holds: int, held: bool) -> None:
    snow = sky(falling="light snow")
    early = need("A", 0, window=(10, 60), conditions=snow)
    first = plan([early], ONE, table({"light snow": 40}))
    first = structs.replace(first, departures=(structs.replace(first.departures[0], holdover_min=holds),))
    later = replace(early, row=replace(early.row, take_off_from=NOW + opens_s))
    assert ("A" in compare(first, [later], ONE, (), NOW + 13 * 60).held) is held


def because(planned: DepartureOut, new: DepartureOut) -> str:
    """Why the start of the only departure has moved."""
    return replan._because(Before((), old={planned.flight: planned}), planned, new, (new,), ())


def test_a_start_that_moved_is_told_with_the_treatment_that_takes_longer_now() -> None:
    planned, new = departure("A", "P1", 3, 13), departure("A", "P1", 13, 25)
    longer = structs.replace(new, treatment_min=12)
    assert because(planned, longer) == "treatment takes 12 min, was 10"
    assert because(planned, new) == "to make room for others"
    assert because(departure("A", "P1", 13, 23), departure("A", "P1", 3, 13)) == "room became free"
    assert because(planned, departure("A", None)) == "no room"


@pytest.mark.parametrize(
    ("was", "now", "in_the_way"),
    [
        # planned to end at 8, it stands there until 18
        (("P1", 0, 8), ("P1", 0, 18), True),
        # it stands as was planned, or shorter: that was known when the start was given out
        (("P1", 0, 18), ("P1", 0, 18), False),
        (("P1", 0, 20), ("P1", 0, 18), False),
        # it was to go elsewhere, or had no slot
        (("P2", 0, 18), ("P1", 0, 18), True),
        ((None, None, None), ("P1", 0, 18), True),
        # it goes elsewhere, ends in time, begins later, or has no slot now
        (("P1", 0, 8), ("P2", 0, 18), False),
        (("P1", 0, 8), ("P1", 0, 10), False),
        (("P1", 0, 8), ("P1", 11, 18), False),
        (("P1", 0, 8), (None, None, None), False),
    ],
)
def test_who_stands_on_the_old_pad_at_the_old_start_for_longer_than_planned_is_named(
    was: tuple[str | None, int | None, int | None], now: tuple[str | None, int | None, int | None], in_the_way: bool
) -> None:
    # A was to start on P1 at 10 and starts at 18
    planned, new = departure("A", "P1", 10, 20), departure("A", "P1", 18, 28)
    before = Before((), old={"A": planned, "B": departure("B", *was)})
    reason = replan._because(before, planned, new, (new, departure("B", *now)), ())
    assert reason == ("B is on pad P1 until 0518Z" if in_the_way else "to make room for others")

"""What is only possible: it reserves its share, not a whole pad, and that pays."""

from __future__ import annotations

from itertools import product

from nights import NOW, at, minute, need, pad, pads, plan
from validator import validate

from advisor.slots.files.pads import Margin
from advisor.slots.result import Plan

SHARE = 0.4
MARGIN = Margin(possible_share=SHARE, extra=0.1)
NIGHT = [
    *(need(f"P{at_}", 0, status="possible") for at_ in range(4)),
    *(need(f"E{at_}", 25) for at_ in range(3)),
    *(need(f"Q{at_}", 26, status="possible") for at_ in range(2)),
]
ONE_PAD = pads(pad("P1"), margin=MARGIN)


def lived_through(made: Plan) -> float:
    """Expected minutes of waiting when each possible treatment comes to be needed with the share's chance.

    Every one of the outcomes is gone through: a treatment begins at its planned start, or when the pad is free after
    those before it that were needed. Waiting counts from the earliest start of its own, 3 min after off-block.
    """
    slots = sorted((minute(one.start), one.flight, minute(one.off_block) + 3) for one in made.departures)
    doubtful = [flight for _, flight, _ in slots if not flight.startswith("E")]
    total = 0.0
    for outcome in product((False, True), repeat=len(doubtful)):
        needed = dict(zip(doubtful, outcome, strict=True))
        chance = 1.0
        for one in outcome:
            chance *= SHARE if one else 1 - SHARE
        free = 0
        for planned, flight, soonest in slots:
            if needed.get(flight, True):
                begun = max(planned, free)
                free = begun + 10
                total += chance * (begun - soonest)
    return total


def test_reserving_every_possible_treatment_costs_more_than_reserving_their_share() -> None:
    shared, reserved = plan(NIGHT, ONE_PAD), plan(NIGHT, ONE_PAD, reserve_all=True)
    validate(shared, NIGHT, ONE_PAD, now=NOW)
    validate(reserved, NIGHT, ONE_PAD, now=NOW, reserve_all=True)
    assert lived_through(shared) < 0.9 * lived_through(reserved)
    waits = {
        name: sum(at(made, f"E{at_}").wait_min or 0 for at_ in range(3))
        for name, made in (("shared", shared), ("reserved", reserved))
    }
    assert waits["shared"] <= waits["reserved"]


def test_two_possible_treatments_share_a_pad_and_say_so_and_none_shares_with_an_expected_one() -> None:
    made = plan([need("A", 0, status="possible"), need("B", 0, status="cannot tell"), need("C", 0)], ONE_PAD)
    a, b, c = (at(made, flight) for flight in "ABC")
    assert a.shared_with == ("B",) and b.shared_with == ("A",) and c.shared_with == ()
    assert a.start == b.start and (minute(c.end) <= minute(a.start) or minute(a.end) <= minute(c.start))


def test_share_over_one_half_leaves_no_room_to_share() -> None:
    assert Margin(possible_share=0.5, extra=0.1).sharing == 1 and Margin(possible_share=0.5, extra=0.1).load == 1.0
    assert Margin(possible_share=0.4, extra=0.1).sharing == 2 and Margin(possible_share=0.4, extra=0.1).load == 0.5
    assert Margin(possible_share=0.3, extra=0.0).sharing == 3
    made = plan(
        [need("A", 0, status="possible"), need("B", 0, status="possible")],
        pads(pad("P1"), margin=Margin(possible_share=0.6, extra=0.0)),
    )
    assert at(made, "A").shared_with == () and at(made, "A").start != at(made, "B").start

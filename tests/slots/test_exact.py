"""Plans of small nights against every other plan: an independent search by the minute, and a night worked by hand."""

from __future__ import annotations

import random

import pytest
from brute import cheapest
from msgspec import structs
from nights import NOW, PLAIN, at, closure, minute, need, pad, pads, plan, sky, table
from validator import validate

SNOW_TILL_40 = sky(falling=[(0, "light snow"), (40, "none")])
TABLE = table({"light snow": 15, "moderate snow": 6})


def random_night(seed: int, departures: int):
    """A night small enough to search: short treatments, two pads, now and then a window, a closure, a place."""
    dice = random.Random(seed)
    conditions = dice.choice(
        [sky(), SNOW_TILL_40, sky(falling=[(0, "moderate snow"), (20, "light snow"), (50, "none")])]
    )
    needs = []
    for at_ in range(departures):
        off = dice.randint(0, 14)
        window = None if dice.random() < 0.6 else (off + dice.randint(6, 16), off + dice.randint(16, 26))
        needs.append(
            need(
                f"T{at_}",
                off,
                size=dice.choice(["small", "medium", "large"]),
                removal=dice.randint(2, 5),
                anti=dice.choice([0, 2]),
                to_pad=dice.randint(0, 2),
                to_runway=dice.randint(1, 4),
                window=window,
                place=dice.choice(["", "", "", "remote"]),
                conditions=conditions,
            )
        )
    held = pads(
        pad("P1", hours=dice.choice([None, (4, 60)])),
        pad("P2", size=dice.choice(["any", "small"]), place=dice.choice(["remote", "stand"])),
        clear=dice.choice([0, 1]),
        closures=[closure("P1", 12, 17)] if dice.random() < 0.4 else [],
    )
    return needs, held, dice.choice([None, TABLE])


@pytest.mark.parametrize("seed", range(40))
def test_plan_of_up_to_five_departures_costs_what_exhaustive_search_finds(seed: int) -> None:
    needs, held, holdover = random_night(seed, 1 + seed % 5)
    made = plan(needs, held, holdover)
    validate(made, needs, held, holdover, now=NOW)
    # starts that are held back for nights that are not as planned cost more, and the plan says how much
    assert made.for_holdover >= 0 and made.objective <= made.first_come + 1e-6
    assert made.objective - made.for_holdover == pytest.approx(cheapest(needs, held, holdover, NOW, 100), abs=1e-6)
    assert made.for_holdover or (made.gap == 0 and made.status == "optimal")
    assert made.bound == pytest.approx(made.objective - made.for_holdover, abs=1e-5)


@pytest.mark.long
@pytest.mark.parametrize("seed", [102, 103])
def test_plan_of_eight_departures_on_two_pads_costs_what_exhaustive_search_finds(seed: int) -> None:
    needs, held, holdover = random_night(seed, 8)
    made = plan(needs, held, holdover)
    validate(made, needs, held, holdover, now=NOW)
    assert made.objective == pytest.approx(cheapest(needs, held, holdover, NOW, 70), abs=1e-6)


def test_five_departures_worked_by_hand() -> None:
    # One pad, 10 min each with 0 between, 3 min to it and 4 from it; nobody waits where A starts at 3, B at 5, C at 7,
    # D at 9, E at 11. C is large and its minutes cost 3, the others' 1. B must take off by 30: it starts by 16.
    # So B is first or second; with C first (7-17) B would start at 17, with D or E later: only A can be before it.
    # A, B, C, D, E: starts 3, 13, 23, 33, 43: 0 + 8 + 3 x 16 + 24 + 32 = 112.
    # B, C, A, D, E: starts 5, 15, 25, 35, 45: 0 + 3 x 8 + 22 + 26 + 34 = 106; any other place of C costs it 30 more.
    # B after its window: 60 and at least 1 more for it, and 15 + 25 + 35 of waiting for three others at the least.
    needs = [
        need("A", 0),
        need("B", 2, window=(0, 30)),
        need("C", 4, size="large"),
        need("D", 6),
        need("E", 8),
    ]
    made = plan(needs, pads(pad("P1"), cost=structs.replace(PLAIN, large=3.0)))
    assert made.objective == made.bound == 106
    assert [minute(at(made, flight).start) for flight in "BC"] == [5, 15]
    assert sorted(minute(at(made, flight).start) for flight in "ADE") == [25, 35, 45]
    assert at(made, "C").wait_min == 8 and minute(at(made, "B").take_off) == 19


def test_every_constraint_at_once_leaves_one_plan_by_hand() -> None:
    # Size: only P2 takes the wide body. Closure: P2 shut 10-20. Window: ZB must take off at 40 to 44. Holdover: 15 min
    # of light snow from the start of the last step (5 min removal, 5 anti-icing) to take-off.
    # Wide body ZA, off 0, 3 to pad: 10 min fit before 10 only if it starts by minute 0: no, so 20-30 at the earliest.
    # ZB (P1 or P2): take-off is 40 at the earliest; last step begins at start + 5 and take-off = max(start + 14, 40),
    # so a start before 20 breaks the holdover (20 + 5 + 15 = 40), one after 30 misses the window. P1 is open to 32:
    # its end must lie by 32, so it starts there at 20 to 22. ZC, small, off 2, fits P1 only before that: 5-15.
    snow = sky(falling="light snow")
    needs = [
        need("ZA", 0, size="large", removal=5, anti=5, conditions=snow),
        need("ZB", 1, removal=5, anti=5, window=(40, 44), place="remote", conditions=snow),
        need("ZC", 2, size="small", removal=5, anti=5, conditions=snow),
    ]
    held = pads(pad("P1", size="any", hours=(0, 32)), pad("P2", hours=(0, 60)), closures=[closure("P2", 10, 20)])
    holdover = table({"light snow": 15})
    made = plan(needs, held, holdover)
    validate(made, needs, held, holdover, now=NOW)
    assert made.objective == pytest.approx(cheapest(needs, held, holdover, NOW, 90), abs=1e-6)
    zb = at(made, "ZB")
    assert (
        20 <= minute(zb.start) <= 30
        and not zb.window_missed
        and not zb.holdover_broken
        and zb.holdover_left_min == minute(zb.start) - 20
    )
    for name, without in (
        ("closure", pads(pad("P1", hours=(0, 32)), pad("P2", hours=(0, 60)))),
        ("hours", pads(pad("P1"), pad("P2"), closures=[closure("P2", 10, 20)])),
    ):
        assert plan(needs, without, holdover).objective <= made.objective, name
    assert plan(needs, held, None).objective <= made.objective


def test_holdover_that_would_end_early_moves_the_start_later() -> None:
    # take-off not before minute 40; 10 min of holdover from the start (one step): start 30 at the earliest, where the
    # treatment (10) and the way (4) then make it 44: 10 min of holdover are over. Later never helps: start 30 or more
    # always has 14 min to go, so the plan says broken and starts where it costs least: at once.
    snow = sky(falling="light snow")
    one = need("A", 0, window=(40, 80), conditions=snow)
    short = plan([one], pads(pad("P1")), table({"light snow": 10}))
    assert at(short, "A").holdover_broken and minute(at(short, "A").start) == 3
    # 20 min: start 20 (take-off 40) to 80; the earliest that holds is 20
    enough = plan([one], pads(pad("P1")), table({"light snow": 20}))
    assert not at(enough, "A").holdover_broken and minute(at(enough, "A").start) >= 20
    assert minute(at(enough, "A").take_off) == 40 and enough.objective == 0


def test_same_night_gives_the_same_plan_byte_for_byte() -> None:
    from advisor.slots.result import to_json

    needs, held, holdover = random_night(7, 8)
    assert to_json(plan(needs, held, holdover)) == to_json(plan(needs, held, holdover))

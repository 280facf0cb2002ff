"""Nights carried out: drawn ones again event by event, and by hand what a field, a draw and an outcome hold."""

from __future__ import annotations

import random
from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from msgspec import structs
from night_by_hand import Drawn, Night
from nights import NOW, closure, need, pad, pads, sky, table
from test_rehearse_by_hand import as_planned

from advisor.slots.demand import Need
from advisor.slots.field import arrivals, field, in_hand, latest_starts
from advisor.slots.files.pads import Closure, Cost, Noise, Pads, Runway
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import Draws, case_shares, draw, stated_share

ONE = pads(pad("P1"))
LIGHT = [(0, "light snow"), (50, "moderate snow"), (90, "none")]
SKIES = (sky(), sky(falling=LIGHT), sky(falling="light snow"), sky(falling=[(30, "heavy snow"), (60, "none")]))


def drawn_need(dice: random.Random, at: int) -> Need:
    off = dice.randint(-10, 40)
    early = max(0, off) + dice.randint(0, 30)
    one = need(
        f"T{at}",
        off,
        size=dice.choice(["small", "medium", "large"]),
        status=dice.choice(["expected", "expected", "possible", "not indicated"]),
        removal=dice.randint(1, 25),
        anti=dice.choice([0, 0, 4, 7]),
        to_pad=dice.randint(0, 15),
        to_runway=dice.randint(0, 15),
        window=dice.choice([None, None, (early, early + dice.randint(0, 40))]),
        place=dice.choice(["", "", "", "remote", "stand"]),
        ready=dice.choice([None, None, dice.randint(-10, 70)]),
        conditions=dice.choice(SKIES),
    )
    row = replace(one.row, priority=dice.choice([1.0, 1.0, 2.5]), missed_window=dice.choice([nan, nan, 7.0]))
    return replace(one, row=row)


def drawn_pads(dice: random.Random) -> tuple[Pads, list[Closure]]:
    made = []
    for at in range(dice.randint(1, 3)):
        opens = dice.randint(-30, 40)
        made.append(
            pad(
                f"P{at}",
                size=dice.choice(["any", "any", "small"]),
                place=dice.choice(["remote", "remote", "stand"]),
                engines=dice.choice(["running", "running", "off"]),
                refill=dice.choice([(0, 0), (0, 9), (1, 7), (2, 7), (3, 12)]),
                hours=dice.choice([None, None, (opens, opens + dice.randint(50, 200))]),
            )
        )
    shut = [
        closure(dice.choice(made).name, first, first + dice.randint(1, 40))
        for first in [dice.randint(-10, 90) for _ in range(dice.randint(0, 2))]
    ]
    held = pads(*made, clear=dice.choice([0, 2]), cost=Cost(late_after_min=dice.choice([5, 30])))
    return structs.replace(held, runway=Runway(separation_s=dice.choice([0, 0, 75, 200]))), shut


@pytest.mark.parametrize("seed", range(12))
def test_a_night_of_chance_carried_out_by_arrays_is_that_carried_out_event_by_event(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(6):
        needs = [drawn_need(dice, at) for at in range(dice.randint(2, 7))]
        held, shut = drawn_pads(dice)
        known = dice.choice([None, table({"light snow": 20, "moderate snow": 14})])
        nights = [
            [
                Drawn(
                    dice.choice([0.0, 0.0, 2.5, 11.0]),
                    dice.choice([1.0, 0.75, 1.5]),
                    dice.choice([1.0, 0.75, 1.25]),
                    bool(one.steps) and dice.random() < 0.7,
                )
                for one in needs
            ]
            for _ in range(2)
        ]
        keys = [float(dice.randint(0, 50)) for _ in needs]
        first = [dice.choice([-inf, -inf, 20.0, 45.0]) for _ in needs]
        yields = dice.random() < 0.5
        as_arrays = Draws(
            *(np.array([[getattr(one, name) for one in row] for row in nights]) for name in ("needed", "late", "way")),
            np.array([[one.treatment for one in row] for row in nights]),
            np.zeros(2, dtype=np.int64),
        )
        place = field(needs, held, shut, known, NOW)
        found = carry_out(place, as_arrays, np.array(keys), yields=yields, not_before=np.array(first))
        for number, row in enumerate(nights):
            for job, one in enumerate(Night(needs, held, shut, known, NOW, row, not_before=first).run(keys, yields)):
                assert (found.left_out[number, job], found.broken[number, job]) == (one.left_out, one.broken)
                assert (found.missed[number, job], found.no_guideline[number, job]) == (
                    one.missed,
                    one.without_guideline,
                )
                assert found.take_off[number, job] == pytest.approx(one.take_off, abs=1e-6, nan_ok=True)
                assert found.cost[number, job] == pytest.approx(one.cost, abs=1e-6)
                assert found.pad[number, job] == (one.pads[-1] if one.pads else -1)
                assert found.begun[number, job] == pytest.approx(one.begun[-1] if one.pads else nan, nan_ok=True)


# what comes of a night


def test_the_figures_of_a_night_are_sums_over_its_departures_and_the_worst_delay() -> None:
    delay, cost = np.array([[3.0, 4.0], [0.0, 0.5], [0.0, 0.0]]), np.array([[7.0, 8.0], [1.0, 0.0], [0.0, 0.0]])
    broken, missed = np.array([[2, 1], [0, 1], [0, 0]]), np.array([[True, True], [False, True], [False, False]])
    none, nowhere = np.zeros((3, 2)), np.zeros((3, 2), dtype=np.int64)
    never = missed & False
    found = Outcome(nowhere, none, none, none, none, broken, missed, never, never, delay, cost).figures()
    assert {name: values.tolist() for name, values in found.items()} == {
        "delay_min": [7.0, 0.5, 0.0],
        "worst_delay_min": [4.0, 0.5, 0.0],
        "broken_holdovers": [3.0, 1.0, 0.0],
        "missed_windows": [2.0, 1.0, 0.0],
        "cost": [15.0, 1.0, 0.0],
    }


def test_delay_counts_from_the_take_off_as_scheduled_and_not_where_nothing_could_be_planned() -> None:
    # scheduled at 0 + 7; B's window opens at 30; C finds no pad
    needs = [need("A", 0), need("B", 0, window=(30, 90)), need("C", 0, size="large", place="stand")]
    place = field(needs, ONE, (), None, NOW)
    found = carry_out(place, as_planned(place), np.array([1.0, 2.0, 3.0]))
    # A 3-13, off at 17; B 13-23, off at 30
    assert found.delay.tolist() == [[10, 0, 0]] and found.left_out.tolist() == [[False, False, True]]
    assert found.take_off.tolist()[0][:2] == [17, 30] and np.isnan(found.take_off[0, 2])
    assert found.finished.tolist()[0][:2] == [13, 23] and found.last_step.tolist()[0][:2] == [3, 13]


def test_two_steps_have_their_last_step_after_the_first() -> None:
    place = field([need("A", 0, anti=4)], ONE, (), None, NOW)
    found = carry_out(place, replace(as_planned(place), treatment=np.full((1, 1), 1.5)), np.array([1.0]))
    assert (found.begun[0, 0], found.last_step[0, 0], found.finished[0, 0]) == (3, 18, 24)


@pytest.mark.parametrize(("removal", "broken"), [(11, False), (12, True)])
def test_every_minute_until_take_off_counts_however_many_there_are(removal: int, broken: bool) -> None:
    # light snow until the sample at 55, moderate from 60: a take-off at 55 has met none of it, one at 56 has
    falling = sky(falling=[(0, "light snow"), (60, "moderate snow")])
    one = need("A", 37, removal=removal, conditions=falling)
    place = field([one], ONE, (), table({"light snow": 40, "moderate snow": 10}), NOW)
    assert (carry_out(place, as_planned(place), np.array([1.0])).broken[0, 0] > 0) == broken


def test_what_falls_in_the_middle_of_a_long_wait_counts() -> None:
    # done at 13; its window opens at 1100, and light snow falls about minute 550 alone
    falling = sky(hours=30, falling=[(0, "none"), (545, "light snow"), (555, "none")])
    place = field([need("A", 0, window=(1100, 1200), conditions=falling)], ONE, (), table({"light snow": 60}), NOW)
    assert carry_out(place, as_planned(place), np.array([1.0])).broken[0, 0] > 0


def test_a_pad_that_opens_more_than_a_day_later_takes_whoever_is_left_then() -> None:
    held = pads(pad("P1", hours=(1500, 1600)))
    place = field([need("A", 0, conditions=sky(falling="light snow"))], held, (), table({"light snow": 60}), NOW)
    found = carry_out(place, as_planned(place), np.zeros(1))
    assert (found.begun[0, 0], found.take_off[0, 0], found.broken[0, 0]) == (1500, 1514, 0)


def test_each_night_has_the_holdover_of_its_own_case() -> None:
    two = sky(cases=2)
    codes = np.array(two.columns["treatment_category"])
    codes[1] = np.array(sky(falling="light snow").columns["treatment_category"])[0]
    two = replace(two, columns={**two.columns, "treatment_category": codes})
    # 14 min from the beginning of its treatment to its take-off
    place = field([need("A", 0, conditions=two)], ONE, (), table({"light snow": 13}), NOW)
    drawn = replace(as_planned(place, nights=3), case=np.array([0, 1, 0]))
    assert (carry_out(place, drawn, np.array([1.0])).broken[:, 0] > 0).tolist() == [False, True, False]


def test_who_needs_nothing_waits_for_take_offs_of_others_in_its_turn() -> None:
    # two minutes between two; others go at 8 and 12. A is ready at 7, B at 9, C at 30
    needs = [need(name, off, status="not indicated") for name, off in (("A", 0), ("B", 2), ("C", 23))]
    held = structs.replace(ONE, runway=Runway(separation_s=120))
    place = replace(field(needs, held, (), None, NOW), taken=np.array([8.0, 12.0]))
    drawn = replace(as_planned(place), needed=np.zeros((1, 3), dtype=np.bool_))
    # room at 10, and then from 14 on
    assert carry_out(place, drawn, np.zeros(3)).take_off.tolist() == [[10, 14, 30]]
    free = replace(place, taken=np.zeros(0))
    assert carry_out(free, drawn, np.zeros(3)).take_off.tolist() == [[7, 9, 30]]
    close = replace(free, pads=structs.replace(ONE, runway=Runway(separation_s=300)))
    assert carry_out(close, drawn, np.zeros(3)).take_off.tolist() == [[7, 12, 30]]


def test_half_a_minute_between_two_take_offs_counts_as_well() -> None:
    half = structs.replace(pads(pad("P1"), pad("P2")), runway=Runway(separation_s=30))
    # two are ready at 17 at once
    place = field([need("A", 0), need("B", 0)], half, (), None, NOW)
    assert sorted(carry_out(place, as_planned(place), np.zeros(2)).take_off.tolist()[0]) == [17, 17.5]
    # another goes at 7, when the only one is ready
    idle = replace(field([need("A", 0, status="not indicated")], half, (), None, NOW), taken=np.array([7.0]))
    none = replace(as_planned(idle), needed=np.zeros((1, 1), dtype=np.bool_))
    assert carry_out(idle, none, np.zeros(1)).take_off.tolist() == [[7.5]]


def test_a_truck_counts_anew_after_it_has_filled_up() -> None:
    # two treatments of 10 min, then 15 min of filling up, and so on
    place = field([need(name, 0) for name in "ABCDE"], pads(pad("P1", refill=(2, 15))), (), None, NOW)
    assert carry_out(place, as_planned(place), np.arange(5.0)).begun.tolist() == [[3, 13, 38, 48, 73]]


@pytest.mark.parametrize(("late_min", "broken"), [(0.5, True), (1.0, False)])
def test_the_minute_in_which_the_last_step_begins_counts(late_min: float, broken: bool) -> None:
    # moderate snow at the sample at 0, light from 5 on: minute 4 lies between the two, and the worse of them holds
    falling = sky(falling=[(0, "moderate snow"), (5, "light snow")])
    place = field([need("A", 1, conditions=falling)], ONE, (), table({"light snow": 40, "moderate snow": 10}), NOW)
    outcome = carry_out(place, as_planned(place, late_min=late_min), np.zeros(1))
    assert (outcome.broken[0, 0] > 0) == broken


def test_who_is_treated_and_who_is_not_keep_the_same_distance() -> None:
    # A needs nothing and is ready at 17; B is done at 13 and ready at 17 as well: it goes five minutes later
    needs = [need("A", 10, status="not indicated"), need("B", 0)]
    place = field(needs, structs.replace(ONE, runway=Runway(separation_s=300)), (), None, NOW)
    drawn = replace(as_planned(place), needed=np.array([[False, True]]))
    found = carry_out(place, drawn, np.zeros(2))
    assert found.take_off.tolist() == [[17, 22]] and found.cost.tolist() == [[0, 5]]


def test_a_pad_that_is_shut_for_nobody_knows_how_long_takes_nobody() -> None:
    shut = structs.replace(closure("P1", 2, 5), open_end=True)
    needs = [need("A", 0)]
    two = pads(pad("P1"), pad("P2", size="small"))
    place = field(needs, two, [shut], None, NOW)
    assert place.shut == (((2.0, inf),), ())
    assert carry_out(place, as_planned(place), np.zeros(1)).left_out.tolist() == [[True]]


# what a night is carried out on


def test_a_field_holds_the_minutes_and_prices_of_its_departures() -> None:
    one = need("A", 40, anti=4, window=(60, 90), size="large", ready=30, to_pad=3, to_runway=5)
    plain = replace(need("B", 10, status="possible"), row=replace(need("B", 10).row, missed_window=7.0))
    held = pads(pad("P1", hours=(5, 300)), pad("P2"))
    place = field([one, plain], held, [closure("P1", 20, 30), closure("P2", 1, 2)], None, NOW + 59)
    assert place.base_s == NOW and place.holdover is None
    assert place.off.tolist() == [40, 10] and place.ready.tolist() == [30, 0]
    assert (place.to_pad.tolist(), place.to_runway.tolist()) == ([3, 3], [5, 4])
    assert (place.remove.tolist(), place.anti.tolist(), place.treat.tolist()) == ([10, 10], [4, 0], [14, 10])
    assert place.from_.tolist() == [60, -inf] and place.until.tolist() == [90, inf]
    assert place.missed.tolist() == [60, 7] and place.unplanned.tolist() == [1500, 1500 * 0.4]
    # not before its window; else off-block and its ways
    assert place.planned.tolist() == [60, 17]
    assert place.shut == (((-inf, 5.0), (20.0, 30.0), (300.0, inf)), ((1.0, 2.0),))
    assert place.free_from.tolist() == [0, 0] and place.treated.tolist() == [0, 0] and place.taken.size == 0
    # the truck comes 15 min before off-block where nobody says more
    assert field([need("C", 40)], ONE, (), None, NOW).ready.tolist() == [25]


def test_departures_that_share_their_conditions_share_one_holdover() -> None:
    snow, dry = sky(falling="light snow"), sky()
    needs = [need("A", 0, conditions=snow), need("B", 0, conditions=dry), need("C", 0, conditions=snow)]
    place = field(needs, ONE, (), table({"light snow": 30}), NOW)
    assert place.night.tolist() == [0, 1, 0] and place.holdover is not None and place.holdover.shape[0] == 2
    assert place.holdover[0].min() == 30 and np.isinf(place.holdover[1]).all()
    assert field([], ONE, (), table({"light snow": 30}), NOW).holdover is None


def test_pads_are_of_one_kind_where_they_take_the_same_and_those_that_take_fewest_come_first() -> None:
    held = pads(
        pad("P1"), pad("P2", place="stand"), pad("P3", size="small"), pad("P4"), pad("P5", engines="off", place="stand")
    )
    needs = [
        need("A", 0, size="small"),
        need("B", 0),
        need("C", 0, place="stand"),
        need("D", 0, place="remote"),
        need("E", 0, status="not indicated"),
    ]
    kinds = field(needs, held, (), None, NOW).kinds
    assert [(kind.pads.tolist(), kind.place, kind.engines_min) for kind in kinds] == [
        ([2], "remote", 0),
        ([0, 3], "remote", 0),
        ([1], "stand", 0),
        ([4], "stand", 5),
    ]
    assert [kind.takes.tolist() for kind in kinds] == [
        [True, False, False, False, False],
        [True, True, False, True, False],
        [True, True, True, False, False],
        [True, True, True, False, False],
    ]


def test_a_latest_start_still_makes_the_window_with_some_minutes_in_hand() -> None:
    needs = [
        need("A", 0, window=(0, 60), anti=4),
        need("B", 0, window=(0, 60), place="stand"),
        need("C", 10),
        need("D", -30, to_pad=9),
        need("E", 0, place="stand"),
    ]
    place = field(needs, ONE, (), None, NOW)
    # 60 - 4 - 14; 60 - 4 - 10 - 3; 45 min after it is there, and that is not before now
    assert latest_starts(place).tolist() == [42, 43, 58, 9 + 45, 48]
    # a standard deviation: 0.2 of 14 min and 0.15 of 4 together, nothing where no window closes
    assert in_hand(place).tolist() == pytest.approx([np.hypot(2.8, 0.6), np.hypot(2.0, 0.6), 0, 0, 0])
    late = as_planned(place, late_min=2.0)
    late = replace(late, taxi=late.taxi * 2)
    assert arrivals(place, late).tolist() == [[8, 2, 18, 0 + 2 + 18, 2]]


# what is drawn


def test_drawn_nights_scatter_as_much_as_the_file_says_and_who_has_left_its_stand_is_late_no_more() -> None:
    needs = [need("A", 0), replace(need("B", 0), left_stand=True)]
    noise = Noise(off_block_late_min=4.0, off_block_spread_min=0.0, taxi_spread=0.1, treatment_spread=0.3)
    found = draw(needs, structs.replace(ONE, noise=noise), 4000, 1)
    assert set(found.late_min[:, 0].tolist()) == {4.0} and set(found.late_min[:, 1].tolist()) == {0.0}
    # within five standard deviations of 0.3 over the root of 8000
    assert found.taxi.mean() == pytest.approx(1.0, abs=0.01) and found.taxi.std() == pytest.approx(0.1, rel=0.1)
    assert found.treatment.mean() == pytest.approx(1.0, abs=0.02)
    assert found.treatment.std() == pytest.approx(0.3, rel=0.1)
    assert found.treatment.min() == 0.5 and found.treatment.max() <= 2.0
    spread = draw(needs, structs.replace(ONE, noise=Noise(off_block_spread_min=5.0)), 4000, 1).late_min[:, 0]
    # never early: mean 3 and deviation 5, cut off at nothing
    assert spread.min() == 0 and 3 < spread.mean() < 4.5 and spread.max() > 15
    some = found.some(slice(1, 3))
    assert (some.nights, found.nights) == (2, 4000) and some.treatment.tolist() == found.treatment[1:3].tolist()


@pytest.mark.parametrize(
    ("status", "by_case", "share"),
    [
        ("likely", (), 0.8),
        ("possible", (), 0.4),
        ("cannot tell", (), 0.4),
        # what all cases say, or none, says nothing of which of them it is
        ("possible", (True, True), 0.4),
        ("possible", (False, False), 0.4),
        ("possible", (True,), 0.4),
    ],
)
def test_what_no_case_decides_is_needed_by_its_share(status: str, by_case: tuple[bool, ...], share: float) -> None:
    one = replace(need("A", 0, status=status, conditions=sky(cases=2)), by_case=by_case)
    # within five standard deviations of a half over the root of 4000
    assert draw([one], ONE, 4000, 1).needed.mean() == pytest.approx(share, abs=0.04)


def test_cases_of_one_base_or_none_and_groups_that_state_more_than_all() -> None:
    base = sky(cases=1).cases[0]

    def shares(*named: tuple[str, str]) -> list[float]:
        cases = [structs.replace(base, name=f"{name}; {lane}" if lane else name, lane=lane) for name, lane in named]
        return case_shares(cases, Noise(adverse_share=0.4, group_share=0.4)).tolist()

    assert shares(("central", "")) == [1]
    assert shares(("central", ""), ("cold", ""), ("wet", "")) == pytest.approx([0.6, 0.2, 0.2])
    # 80 % and 40 % are more than all there is: two thirds and a third, and nothing is left without a group
    many = ("central", "PROB80"), ("central", "TEMPO"), ("central", "")
    assert shares(*many) == pytest.approx([2 / 3, 1 / 3, 0])
    # only some of them are there: 0.36, 0.24 and 0.24 of 0.84
    some = ("central", ""), ("central", "TEMPO"), ("cold", "")
    assert shares(*some) == pytest.approx([3 / 7, 2 / 7, 2 / 7])
    # where nothing is likely at all, each is as likely as any other
    assert shares(("central", "PROB00"), ("cold", "PROB00")) == [0.5, 0.5]
    assert stated_share("PROB30 0506/0507 PROB40 0507/0508", Noise(group_share=0.1)) == 0.4
    assert stated_share("PROBABLY", Noise(group_share=0.1)) == 0.1

"""The rehearsal: nights worked by hand, every night again event by event, and what makes a plan bad in execution."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from night_by_hand import Drawn, Night
from nights import NOW, PLAIN, at, closure, need, pad, pads, plan, sky, table
from test_every_plan import departures, resources

from advisor.slots import execution
from advisor.slots import order as orders
from advisor.slots.field import arrivals, field, latest_starts
from advisor.slots.files.pads import Cost, Noise, Runway
from advisor.slots.rehearse import carry_out
from advisor.slots.scenarios import Draws, case_shares, draw, stated_share

SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)
ONE = pads(pad("P1"))


def as_drawn(*rows: list[Drawn]) -> Draws:
    """Nights given departure by departure."""

    def table_of(name: str) -> np.ndarray:
        return np.array([[getattr(one, name) for one in row] for row in rows])

    return Draws(
        table_of("needed").astype(bool),
        table_of("late").astype(float),
        table_of("way").astype(float),
        table_of("treatment").astype(float),
        np.zeros(len(rows), dtype=np.int64),
    )


def test_three_departures_in_order_worked_by_hand() -> None:
    # one pad, 10 min each, 3 min to it and 4 from it. A is there at 3, B at 5, C at 6. Order C, B, A, but A alone is
    # there at 3: A 3-13, then C 13-23, then B 23-33. Take-offs 17, 27, 37; earliest of their own 17, 20, 19.
    needs = [need("A", 0), need("B", 2), need("C", 3)]
    place = field(needs, ONE, (), None, NOW)
    found = carry_out(place, as_drawn([Drawn(), Drawn(), Drawn()]), np.array([3.0, 2.0, 1.0]))
    assert found.begun.tolist() == [[3.0, 23.0, 13.0]]
    assert found.take_off.tolist() == [[17.0, 37.0, 27.0]]
    assert found.cost.tolist() == [[0.0, 18.0, 7.0]]


def test_late_and_long_night_worked_by_hand() -> None:
    # B is 20 min late: there at 2 + 20 + 3 = 25. A takes half as long again: 3-18. C, third in the order, is there and
    # goes 18-28; B waits for it: 28-38. Nobody is held for B. C needs nothing in the second night: off 3, way 7: 10.
    needs = [need("A", 0), need("B", 2), need("C", 3)]
    place = field(needs, ONE, (), None, NOW)
    noisy = [Drawn(treatment=1.5), Drawn(late=20.0), Drawn()]
    found = carry_out(place, as_drawn(noisy, [*noisy[:2], Drawn(needed=False)]), np.array([1.0, 2.0, 3.0]))
    assert found.begun[0].tolist() == [3.0, 28.0, 18.0]
    assert found.begun[1, :2].tolist() == [3.0, 25.0] and np.isnan(found.begun[1, 2])
    assert found.take_off[1].tolist() == [22.0, 39.0, 10.0]


def test_holdover_that_runs_out_takes_a_second_treatment_and_its_pad_time_by_hand() -> None:
    # 12 min of holdover from the start of the one step; 10 min on the pad and 4 to the runway are 14: A, begun at 3,
    # runs out at 15 and is back at 15 + 4 = 19. It cannot hold the second time either: both counts are broken. B is
    # treated 13-23 meanwhile and comes back at max(25, 23) + 4 = 29.
    snow = sky(falling="light snow")
    needs = [need("A", 0, conditions=snow), need("B", 2, conditions=snow)]
    place = field(needs, ONE, (), table({"light snow": 12}), NOW)
    found = carry_out(place, as_drawn([Drawn(), Drawn()]), np.array([1.0, 2.0]))
    assert found.broken.tolist() == [[2, 2]]
    # A again 23-33, off at 37; B again 33-43, off at 47
    assert found.begun.tolist() == [[23.0, 33.0]] and found.take_off.tolist() == [[37.0, 47.0]]
    # earliest of their own 17 and 19: waits of 20 and 28 min, and two broken holdovers each
    assert found.cost.tolist() == [[20 + 180.0, 28 + 180.0]]


def test_runway_spacing_by_hand() -> None:
    # two pads, both there at 3, done at 13, at the runway at 17; three minutes between take-offs: 17 and 20. C needs
    # nothing and is there at 16: it has its place first, so A and B go at 19 and 22.
    needs = [need("A", 0), need("B", 0), need("C", 9, status="not indicated")]
    held = msgspec.structs.replace(pads(pad("P1"), pad("P2")), runway=Runway(separation_s=180))
    place = field(needs, held, (), None, NOW)
    found = carry_out(place, as_drawn([Drawn(), Drawn(), Drawn(needed=False)]), np.array([1.0, 2.0, 3.0]))
    assert found.take_off.tolist() == [[19.0, 22.0, 16.0]]
    # four in a quarter of an hour are 225 s apart: the longer of the two limits holds
    assert Runway(180, 4).spacing_s == 225 and Runway(300, 4).spacing_s == 300 and Runway().spacing_s == 0


def test_truck_fills_up_after_so_many_treatments_by_hand() -> None:
    # two treatments of 10 min, 3-13 and 13-23, then 15 min to fill up: the third begins at 38
    held = pads(msgspec.structs.replace(pad("P1"), refill_after=2, refill_min=15))
    place = field([need("A", 0), need("B", 0), need("C", 0)], held, (), None, NOW)
    found = carry_out(place, as_drawn([Drawn(), Drawn(), Drawn()]), np.array([1.0, 2.0, 3.0]))
    assert found.begun.tolist() == [[3.0, 13.0, 38.0]]


def test_closure_is_not_run_into_by_hand() -> None:
    # shut from 12 to 20: ten minutes from 3 would run into it, so it waits until 20
    place = field([need("A", 0)], ONE, [closure("P1", 12, 20)], None, NOW)
    assert carry_out(place, as_drawn([Drawn()]), np.array([1.0])).begun.tolist() == [[20.0]]
    open_longer = field([need("A", 0)], ONE, [closure("P1", 13, 20)], None, NOW)
    assert carry_out(open_longer, as_drawn([Drawn()]), np.array([1.0])).begun.tolist() == [[3.0]]


def test_who_has_lost_its_window_goes_after_who_can_still_make_it_by_hand() -> None:
    # A and B wait while Z is treated 3-13. A's window ends at 20: its latest start is 20 - 4 - 10 = 6, lost at 13. B's
    # ends at 27: latest start 13. In the order A goes first and both are late; where the lost one yields, B makes it.
    needs = [need("Z", 0), need("A", 1, window=(0, 20)), need("B", 1, window=(0, 27))]
    place = field(needs, ONE, (), None, NOW)
    assert latest_starts(place).tolist() == [48.0, 6.0, 13.0]
    night = as_drawn([Drawn(), Drawn(), Drawn()])
    strict = carry_out(place, night, np.array([1.0, 2.0, 3.0]), yields=False)
    yielding = carry_out(place, night, np.array([1.0, 2.0, 3.0]), yields=True)
    assert strict.missed.tolist() == [[False, True, True]] and yielding.missed.tolist() == [[False, True, False]]


def test_departure_that_no_pad_takes_is_left_out_at_its_price() -> None:
    place = field([need("A", 0, size="large")], pads(pad("P1", size="small")), (), None, NOW)
    found = carry_out(place, as_drawn([Drawn()]), np.array([1.0]))
    assert found.left_out.tolist() == [[True]] and found.cost.tolist() == [[1500.0]]
    closing = field([need("A", 0), need("B", 30)], pads(pad("P1", hours=(0, 20))), (), None, NOW)
    assert carry_out(closing, as_drawn([Drawn(), Drawn()]), np.array([1.0, 2.0])).left_out.tolist() == [[False, True]]


NOISE = st.builds(
    Drawn,
    late=st.sampled_from([0.0, 0.0, 2.5, 11.0]),
    way=st.sampled_from([1.0, 0.75, 1.5]),
    treatment=st.sampled_from([1.0, 0.75, 1.25]),
    needed=st.booleans(),
)


@pytest.mark.long
@settings(SLOW, max_examples=300)
@given(departures(), resources(), st.sampled_from([0, 0, 75, 200]), st.booleans(), st.booleans(), st.data())
def test_every_generated_night_carried_out_by_arrays_is_that_carried_out_event_by_event(
    needs: list, held, spacing: int, holdover: bool, yields: bool, data: st.DataObject
) -> None:
    held = msgspec.structs.replace(
        held,
        runway=Runway(separation_s=spacing),
        cost=Cost(),
        pads=tuple(
            msgspec.structs.replace(
                one,
                engines=data.draw(st.sampled_from(["running", "off"])),
                refill_after=data.draw(st.sampled_from([0, 0, 1, 2])),
                refill_min=7,
            )
            for one in held.pads
        ),
    )
    known = table({"light snow": 20, "moderate snow": 14}) if holdover else None
    nights = []
    for _ in range(2):
        row = [data.draw(NOISE) for _ in needs]
        nights.append([one if item.steps else replace(one, needed=False) for one, item in zip(row, needs, strict=True)])
    keys = [float(data.draw(st.integers(0, 50))) for _ in needs]
    first = [data.draw(st.sampled_from([-np.inf, -np.inf, 20.0, 45.0])) for _ in needs]
    place = field(needs, held, held.closures, known, NOW)
    found = carry_out(place, as_drawn(*nights), np.array(keys), yields=yields, not_before=np.array(first))
    for number, row in enumerate(nights):
        by_hand = Night(needs, held, list(held.closures), known, NOW, row, not_before=first)
        expected = by_hand.run(keys, yields)
        for job, one in enumerate(expected):
            assert found.left_out[number, job] == one.left_out
            assert found.broken[number, job] == one.broken
            assert found.missed[number, job] == one.missed
            assert found.no_guideline[number, job] == one.without_guideline
            assert found.take_off[number, job] == pytest.approx(one.take_off, abs=1e-6, nan_ok=True)
            assert found.cost[number, job] == pytest.approx(one.cost, abs=1e-6)
            if one.pads:
                assert found.pad[number, job] == one.pads[-1]
                assert found.begun[number, job] == pytest.approx(one.begun[-1], abs=1e-6)


QUIET = Noise(0, 0, 0, 0, 1.0)


def test_one_cause_sets_all_needs_and_without_it_each_has_its_own() -> None:
    needs = [need(f"T{number}", number, status="possible") for number in range(8)]
    together = msgspec.structs.replace(ONE, noise=Noise(common_cause=1.0))
    apart = msgspec.structs.replace(ONE, noise=Noise(common_cause=0.0))
    all_or_none = draw(needs, together, 4000, 1).needed.sum(axis=1)
    assert set(all_or_none.tolist()) == {0, 8}
    # a share of 0.4 of 4000 nights: 1600, within five standard deviations of 31
    assert abs(int((all_or_none == 8).sum()) - 1600) < 155
    each = draw(needs, apart, 4000, 1).needed
    assert abs(float(each.mean()) - 0.4) < 0.02 and set(each.sum(axis=1).tolist()) > {1, 2, 3, 4, 5}


def test_expected_is_always_needed_and_not_indicated_never() -> None:
    needs = [need("A", 0), need("B", 0, status="not indicated")]
    drawn = draw(needs, ONE, 50, 3)
    assert drawn.needed[:, 0].all() and not drawn.needed[:, 1].any()
    assert (drawn.late_min >= 0).all() and (drawn.treatment > 0).all()


def test_need_by_case_follows_the_case_that_was_drawn() -> None:
    two = sky(cases=2)
    needs = [replace(need("A", 0, status="possible", conditions=two), by_case=(False, True))]
    drawn = draw(needs, ONE, 500, 3)
    assert (drawn.needed[:, 0] == (drawn.case == 1)).all() and 0 < drawn.needed.sum() < 500


def test_cases_weigh_as_the_groups_state() -> None:
    # central 0.6, the one adverse case 0.4; PROB30 0.3, TEMPO without a number 0.5 here: what is left is 0.2
    base = sky(cases=1).cases[0]
    cases = [
        msgspec.structs.replace(base, name=f"{name}; {lane}" if lane else name, lane=lane)
        for lane in ("", "PROB30 0506/0507", "TEMPO 0506/0507")
        for name in ("central", "adverse")
    ]
    noise = Noise(adverse_share=0.4, group_share=0.5)
    assert case_shares(cases, noise) == pytest.approx([0.12, 0.08, 0.18, 0.12, 0.3, 0.2])
    assert stated_share("PROB40 TEMPO 1005/1007", noise) == 0.4 and stated_share("trend TEMPO", noise) == 0.5


def test_same_seed_draws_the_same_nights_and_gives_the_same_rehearsal() -> None:
    needs = [need(f"T{number}", 3 * number, window=(3 * number, 3 * number + 40)) for number in range(12)]
    one, two = draw(needs, ONE, 40, 9), draw(needs, ONE, 40, 9)
    assert all(
        np.array_equal(getattr(one, name), getattr(two, name)) for name in ("needed", "late_min", "taxi", "treatment")
    )
    assert not np.array_equal(one.late_min, draw(needs, ONE, 40, 10).late_min)


def test_plan_that_is_bad_in_execution_is_seen_as_bad() -> None:
    # windows close in the order of departure; the order turned round misses what the right one makes
    needs = [need(f"T{number}", 0, window=(0, 25 + 10 * number)) for number in range(10)]
    held = msgspec.structs.replace(pads(pad("P1"), pad("P2"), cost=PLAIN), noise=Noise(2, 3))
    place = field(needs, held, (), None, NOW)
    drawn = draw(needs, held, 200, 4)
    right = carry_out(place, drawn, latest_starts(place), yields=False)
    wrong = carry_out(place, drawn, -latest_starts(place), yields=False)
    assert wrong.missed.sum(axis=1).mean() > 2 * right.missed.sum(axis=1).mean()
    assert wrong.cost.sum(axis=1).mean() > 1.5 * right.cost.sum(axis=1).mean()
    bad = np.array([-float(number) for number in range(10)])
    assert orders.choose(place, drawn, bad, seed=1, most=0).name != orders.AS_PLANNED


def test_order_is_published_with_its_name_and_never_dearer_than_the_sorts_it_was_judged_beside() -> None:
    needs = [need(f"T{number}", 2 * number, window=(2 * number, 2 * number + 50)) for number in range(10)]
    made = plan(needs, pads(pad("P1"), pad("P2")))
    assert made.order is not None
    assert sorted(one.order for one in made.departures) == list(range(1, 11))
    assert all(one.latest_start for one in made.departures)
    assert made.order.mean_cost <= made.order.tried[orders.LATEST_FINISH] * 1.0021
    assert made.order.name in made.order.tried
    # off at 0, window to 50: 4 min to the runway and 10 on the pad leave minute 36; a standard deviation of both is in
    # hand, 0.2 x 10 and 0.15 x 4 min: root of 4.36, 2.09 min: minute 33
    assert at(made, "T0").latest_start == "2027-01-10T05:33:00Z"


def test_with_everything_known_no_night_costs_more_than_in_any_of_the_orders() -> None:
    needs = [need(f"T{number}", 2 * number, window=(2 * number, 2 * number + 40)) for number in range(9)]
    place = field(needs, ONE, (), None, NOW)
    drawn = draw(needs, ONE, 30, 5)
    keys = [latest_starts(place), arrivals(place, drawn)]
    outcomes = [carry_out(place, drawn, one, yields=False) for one in keys]
    known = orders.with_everything_known(place, drawn, outcomes, keys, turns=40, seed=1)
    least = np.min([one.cost.sum(axis=1) for one in outcomes], axis=0)
    assert (known.cost.sum(axis=1) <= least + 1e-9).all() and known.cost.sum() < least.sum()


def test_what_a_truck_has_behind_it_counts_towards_its_next_filling_up_by_hand() -> None:
    # it fills up after two treatments, or where it stands idle, and takes 15 min for it; minutes from NOW
    held = pads(msgspec.structs.replace(pad("P1"), refill_after=2, refill_min=15))

    def behind(*treatments: tuple[int, int]) -> tuple[float, int]:
        done = {"P1": [(NOW + 60 * begun, NOW + 60 * end) for begun, end in treatments]}
        place = execution.prepare([need("A", 60)], held, (), None, NOW, {}, {}, done)
        return float(place.free_from[0]), int(place.treated[0])

    # one treatment: free at its end, one behind it
    assert behind((0, 10)) == (10.0, 1)
    # two without a break: from 20 it fills up until 35, and has none behind it
    assert behind((0, 10), (10, 20)) == (35.0, 0)
    # 14 min between them are too few to fill up, 15 are enough: then the second is the first of the next two
    assert behind((0, 10), (24, 34)) == (49.0, 0)
    assert behind((0, 10), (25, 35)) == (35.0, 1)

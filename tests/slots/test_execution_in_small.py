"""How an order is carried out and tried, part by part: what is held, who is let go, a rehearsal, and what-ifs."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from msgspec import structs
from nights import NOW, closure, need, night, pad, pads, plan, sky, table
from test_demand_and_order_by_hand import DRY, HERE, PERHAPS, QUIET
from test_rehearse_by_hand import as_planned

from advisor.slots import demand, execution, whatif
from advisor.slots.build import Held
from advisor.slots.execution import Execution
from advisor.slots.field import field, latest_starts
from advisor.slots.files.pads import Cost, Pads
from advisor.slots.order import AS_BEFORE, AS_PLANNED, LATEST_FINISH, Order
from advisor.slots.rehearse import Outcome
from advisor.slots.result import SpreadOut, VariantOut
from advisor.slots.scenarios import draw

ONE = structs.replace(pads(pad("P1")), noise=QUIET)
SNOW = sky(falling="light snow")


def test_spreads_are_means_and_ninetieth_percentiles_and_the_tenths_of_the_cost() -> None:
    cost = np.arange(11.0)[:, None]
    none, never, zero = np.zeros((11, 1)), np.zeros((11, 1), dtype=np.bool_), np.zeros((11, 1), dtype=np.int64)
    found = execution.spreads(Outcome(zero, none, none, none, none, zero, never, never, never, 2 * cost, cost))
    assert (found.cost, found.delay_min) == (SpreadOut(5, 9), SpreadOut(10, 18))
    assert found.cost_tenths == tuple(range(11)) and found.missed_windows == SpreadOut(0, 0)
    third = np.full((2, 1), 1 / 3)
    few = execution.spreads(Outcome(zero[:2], none, none, none, none, zero[:2], never[:2], never, never, third, third))
    assert few.cost_tenths == (0.333,) * 11 and few.cost == SpreadOut(0.333, 0.333)
    assert execution._spread(np.array([1.0, 2.0, 2.0])) == SpreadOut(1.667, 2.0)


def test_a_pad_that_never_fills_up_is_free_as_soon_as_it_is_cleared() -> None:
    # 15 min of filling up are in the file, and after how many is not
    held = structs.replace(pads(pad("P1", refill=(0, 15)), clear=2), noise=QUIET)
    place = execution.prepare([need("A", 0)], held, (), None, NOW, {"A": Held("P1", NOW + 180)})
    assert place.free_from.tolist() == [15]


def test_what_is_held_goes_first_in_the_order_and_the_others_after_it_by_their_rank() -> None:
    needs = [need("A", 0, removal=1), *(need(name, 0) for name in "BCD")]
    held = {"D": Held("P1", NOW + 300), "B": Held("P1", NOW + 60)}
    two = structs.replace(pads(pad("P1"), pad("P2")), noise=QUIET)
    place = execution.prepare([*needs, need("E", 0, status="not indicated")], two, (), None, NOW, held)
    made = execution.arrange(place, {"A": 20, "C": 10}, held, nights=4, turns=0)
    # all wait alike: in the order of the file
    assert made.ranks == {"B": 1, "D": 2, "A": 3, "C": 4, "E": 0}
    assert made.latest == {"A": 48, "C": 48, "E": 48} and made.not_before == {}
    assert made.drawn.nights == 4


def test_where_all_have_begun_there_is_nobody_left_to_call() -> None:
    held = {"A": Held("P1", NOW + 60)}
    made = execution.arrange(execution.prepare([need("A", 0)], ONE, (), None, NOW, held), {}, held, nights=4, turns=2)
    assert (made.ranks, made.latest, made.not_before) == ({"A": 1}, {}, {})


def test_a_rehearsal_tries_the_order_and_two_sorts_in_which_nobody_yields_on_nights_of_its_own() -> None:
    # Z is on the pad when A and B come, whose windows end at 20 and 27: A has lost its own by then, and goes first
    needs = [need("Z", 0), need("A", 1, window=(0, 20)), need("B", 2, window=(0, 27))]
    place = field(needs, ONE, (), None, NOW)
    order = Order(latest_starts(place), LATEST_FINISH, True, 0.0, {}, np.full(3, -inf))
    done = Execution(place, order, {}, {}, as_planned(place))
    found = execution.rehearsal(done, 3, 5, lambda: True)
    assert [one.missed_windows.mean for one in (found.plan, found.first_come, found.latest_finish)] == [1, 2, 2]
    # three nights of the seed 5, which scatter
    noisy = replace(done, field=field(needs, pads(pad("P1")), (), None, NOW))
    drawn = draw(noisy.field.needs, noisy.field.pads, 3, 5)
    assert execution.rehearsal(noisy, 3, 5, lambda: True).plan == execution.spreads(
        order.carried_out(noisy.field, drawn)
    )


def test_latest_starts_of_an_order_leave_some_minutes_before_the_window() -> None:
    place = field([need("A", 0, window=(0, 60))], pads(pad("P1")), (), None, NOW)
    # 60 - 4 - 10 less the root of 4 and 0.36, 2.09
    assert execution.arrange(place, {}, {}, nights=2, turns=0).latest == {"A": 43}


def test_the_more_departures_the_fewer_nights_the_order_is_chosen_over(monkeypatch: pytest.MonkeyPatch) -> None:
    place = field([need("A", 0), need("B", 0)], ONE, (), None, NOW)
    monkeypatch.setattr(execution, "NIGHT_WORK", 40)
    # 40 over two departures squared; never fewer than 8 or more than asked for
    assert [execution.arrange(place, {}, {}, nights=most, turns=0).drawn.nights for most in (99, 9)] == [10, 9]
    monkeypatch.setattr(execution, "NIGHT_WORK", 4)
    assert execution.arrange(place, {}, {}, nights=99, turns=0).drawn.nights == 8


def test_the_order_of_a_plan_given_out_is_that_of_its_ranks_with_those_that_are_new_behind_others_as_late() -> None:
    first = plan([need("A", 0), need("B", 0), need("C", 0, window=(0, 90))], ONE)
    ranks = {one.flight: one.order for one in first.departures}
    named = structs.replace(first.departures[0], not_before="2027-01-10T05:07:00Z")
    first = structs.replace(first, departures=(named, *first.departures[1:]))
    # D can wait as long as A and B, and not as long as C; E for less than all
    needs = [need("A", 0), need("B", 0), need("C", 0, window=(0, 90)), need("D", 0), need("E", 0, window=(0, 30))]
    place = field(needs, ONE, (), None, NOW)
    assert latest_starts(place).tolist() == [48, 48, 76, 48, 16]
    found = execution._as_before(place, first)
    assert found is not None and found.yields == (first.order is not None and first.order.yields)
    known = [float(ranks[name] or 0) for name in "ABC"]
    assert found.keys.tolist() == [*known, max(known[:2]) + 0.5, 0.5] and found.name == AS_BEFORE
    assert found.not_before.tolist() == [7, -inf, -inf, -inf, -inf]
    assert execution._as_before(field([need("X", 0)], ONE, (), None, NOW), first) is None
    assert execution._as_before(place, structs.replace(first, order=None)) is None


@pytest.mark.parametrize("keep", [False, True])
def test_the_order_of_a_plan_given_out_is_carried_on_however_dear_where_it_is_to_be_kept(keep: bool) -> None:
    # the window of A ends when it can be off at the soonest, and B was to be called first
    needs = [need("A", 0, window=(0, 17)), need("B", 0)]
    first = plan(needs, ONE)
    ranks = {"A": 2, "B": 1}
    turned = tuple(structs.replace(one, order=ranks[one.flight]) for one in first.departures)
    first = structs.replace(first, departures=turned)
    place = field(needs, ONE, (), None, NOW)
    made = execution.arrange(place, {}, {}, nights=4, turns=2, previous=first, keep=keep)
    assert made.ranks == ({"A": 2, "B": 1} if keep else {"A": 1, "B": 2})
    assert (made.order.name == AS_BEFORE) is keep
    # without a plan there is nothing to keep
    assert execution.arrange(place, {}, {}, nights=4, turns=2, keep=keep).ranks == {"A": 1, "B": 2}


def waits_for_its_window(first: list[float]) -> Execution:
    """A and B off from 60, held back to some minutes."""
    needs = [need(name, 0, window=(60, 90), conditions=SNOW) for name in "AB"]
    held = structs.replace(pads(pad("P1"), pad("P2"), cost=Cost()), noise=QUIET)
    place = field(needs, held, (), table({"light snow": 20}), NOW)
    order = Order(np.zeros(2), AS_PLANNED, False, 99.0, {}, np.array(first))
    return Execution(place, order, {}, {}, as_planned(place))


def test_who_is_let_go_is_called_at_once_and_all_are_where_that_is_cheaper() -> None:
    done = waits_for_its_window([46.0, 46.0])
    assert execution.let_go(done, ()) is done
    freed = execution.let_go(done, {"A"})
    # treated at 3 and again, which costs A two broken holdovers and B nothing
    assert freed.order.not_before.tolist() == [-inf, 46] and freed.order.mean >= 90
    # held for far too long they are better let go all
    none = execution.let_go(waits_for_its_window([700.0, 46.0]), {"B"})
    assert none.order.not_before.tolist() == [-inf, -inf]


# what-ifs


def test_what_is_tried_beside_a_plan_is_a_pad_fewer_longer_treatment_and_all_that_may_be_needed() -> None:
    needs = [need("A", 0, anti=4), need("B", 0, status="possible", removal=11), need("C", 0, status="not indicated")]
    held = structs.replace(pads(pad("P1"), pad("P2"), pad("P3", size="small"), pad("T", place="stand")), noise=QUIET)
    place = field(needs, held, (closure("P3", 5, 9),), None, NOW)
    drawn = replace(as_planned(place), needed=np.array([[True, False, False]]))
    done = Execution(place, Order(np.zeros(3), AS_PLANNED, False, 0.0, {}, np.full(3, -inf)), {}, {}, drawn)
    tried = {
        name: (then, nights) for name, then, nights, _ in whatif._changed(night(needs, held), (), needs, done, drawn)
    }
    assert list(tried) == ["without P2", "treatment 20 % longer", "every possible treatment needed"]
    # the last pad that takes every size
    assert tried["without P2"][0].shut == ((), ((-inf, inf),), ((5.0, 9.0),), ())
    longer = tried["treatment 20 % longer"][0]
    # 10, 11 and 4 min by 1.2, rounded up
    assert longer.remove.tolist() == [12, 14, 0] and longer.anti.tolist() == [5, 0, 0]
    assert tried["every possible treatment needed"][1].needed.tolist() == [[True, True, False]]


@pytest.mark.parametrize(
    ("held", "name"),
    [
        (pads(pad("P1")), None),
        (pads(pad("P1", size="small"), pad("P2", size="small")), "without P2"),
        (pads(pad("P1"), pad("P2", size="small")), "without P1"),
        (pads(pad("P1", place="stand"), pad("P2", size="small")), "without P2"),
    ],
)
def test_the_pad_that_is_missed_most_is_the_last_that_takes_every_size(held: Pads, name: str | None) -> None:
    needs = [need("A", 0, size="small")]
    place = field(needs, held, (), None, NOW)
    done = Execution(place, Order(np.zeros(1), AS_PLANNED, False, 0.0, {}, np.full(1, -inf)), {}, {}, as_planned(place))
    names = [name for name, *_ in whatif._changed(night(needs, held), (), needs, done, done.drawn)]
    assert names[0] == (name or "treatment 20 % longer")


def test_a_what_if_is_told_by_its_means_over_the_nights_to_a_hundredth() -> None:
    # three nights of two departures
    delay = np.array([[3.0, 4.0], [0.0, 5.0], [0.0, 0.0]])
    broken, cost = np.array([[1, 1], [0, 0], [0, 0]]), np.array([[1.0, 1.0], [0.0, 0.0], [2.0, 0.0]])
    missed, out = (
        np.array([[True, True], [True, True], [False, False]]),
        np.array([[False, True]] + [[False, False]] * 2),
    )
    none, where = np.zeros((3, 2)), np.array([[0, -1], [0, 1], [0, 1]])
    found = whatif._row(
        "x", Outcome(where, none, none, none, none, broken, missed, out & False, out, delay, cost), "why"
    )
    assert found == VariantOut("x", 1.33, 1.67, 0.33, 4.0, 3.0, 1.33, 0.67, "why")


def test_pads_are_shut_where_a_group_that_may_come_about_brings_thunder() -> None:
    two = sky(cases=2, thunder=(60, 90))
    storm = np.array(two.columns["thunderstorm"])
    storm[0] = 0
    cases = (two.cases[0], structs.replace(two.cases[1], name="central; PROB30", lane="PROB30"))
    two = replace(two, cases=cases, columns={**two.columns, "thunderstorm": storm})
    needs = [need("A", 0, conditions=two), need("B", 0)]
    [one] = whatif._shut_then(night(needs, ONE), needs)
    assert whatif.lanes(needs) == ("PROB30",) and (one.from_s - NOW) / 60 == 60
    # of the first alone: all share one night
    assert list(whatif._shut_then(night(needs, ONE), needs[1:])) == []


def test_groups_of_a_forecast_may_come_true_for_the_only_departure() -> None:
    row = need("A", 60).row
    weather = demand.read_weather([DRY, PERHAPS], NOW, row.off_block, HERE)
    about = replace(night([need("A", 60)], ONE), rows=(row, replace(row, flight="gone")), weather=weather)
    needs = demand.needs(
        [row], about.fleet, about.checklist, demand.Nights(weather, demand.last_moment([row], NOW)), ONE
    )
    [lane] = whatif.lanes(needs)
    assert needs[0].status == "possible" and whatif.lanes([]) == ()
    # in the cases of that group, and not in the central one
    told = list(zip(needs[0].conditions.cases, needs[0].by_case, strict=True))
    assert all(said for case, said in told if case.lane) and not told[0][1]
    place = field(needs, ONE, (), None, NOW)
    done = Execution(place, Order(np.zeros(1), AS_PLANNED, False, 0.0, {}, np.full(1, -inf)), {}, {}, as_planned(place))
    none = replace(as_planned(place), needed=np.zeros((1, 1), dtype=np.bool_))
    [(then, came, note)] = [
        (then, came, note)
        for name, then, came, note in whatif._changed(about, (), needs, done, none)
        if name == "forecast's temporary groups come true"
    ]
    # snow in it is sure where it comes true
    [true] = then.needs
    assert (true.status, true.deposit) == ("expected", "snow") and true.conditions is needs[0].conditions
    assert note == lane and came.needed.all()
    assert true.conditions.cases[int(came.case[0])].lane == lane

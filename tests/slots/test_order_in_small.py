"""The order of a plan, part by part: which of several, how it is searched, who is held back, and what is tried."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from msgspec import structs
from nights import NOW, PLAIN, closure, need, night, pad, pads, plan, sky, table
from test_demand_and_order_by_hand import DRY, HERE, PERHAPS, QUIET
from test_rehearse_by_hand import as_planned

from advisor.slots import demand, execution, holding, whatif
from advisor.slots import order as orders
from advisor.slots.build import Held
from advisor.slots.execution import Execution
from advisor.slots.field import field, latest_starts
from advisor.slots.files.pads import Cost, Pads
from advisor.slots.order import AS_BEFORE, AS_PLANNED, LATEST_FINISH, SEARCHED, Order, Way
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.result import SpreadOut

ONE = structs.replace(pads(pad("P1")), noise=QUIET)
SNOW = sky(falling="light snow")


def way(name: str, *first: float) -> Way:
    return Way(name, np.zeros(2), False, np.array(first or (-inf, -inf)))


def chosen(*means: tuple[str, float]) -> str:
    """Which of some ways is taken, by what they cost in the mean; the plainest stands first."""
    judged = [
        (mean, number, way("held", 3.0, -inf) if name == "held" else way(name))
        for number, (name, mean) in enumerate(means)
    ]
    return orders._chosen(judged)[2].name


def test_an_order_is_taken_only_where_it_is_better_by_a_part_than_a_plainer_one() -> None:
    # what is searched for: by 2 in 1000 of the best sort
    assert chosen((LATEST_FINISH, 1100), (AS_PLANNED, 1000), (SEARCHED, 997.9)) == SEARCHED
    assert chosen((LATEST_FINISH, 1100), (AS_PLANNED, 1000), (SEARCHED, 998)) == AS_PLANNED
    assert chosen((LATEST_FINISH, 1100), (AS_PLANNED, 1000), ("held", 997.9)) == "held"
    assert chosen((LATEST_FINISH, 1100), (AS_PLANNED, 1000), ("held", 998.1)) == AS_PLANNED
    # the plainest of all is taken where it is dearer by no more than that
    assert chosen((LATEST_FINISH, 1002), (AS_PLANNED, 1000), (SEARCHED, 1100)) == LATEST_FINISH
    assert chosen((LATEST_FINISH, 1002.1), (AS_PLANNED, 1000), (SEARCHED, 1100)) == AS_PLANNED
    assert chosen((LATEST_FINISH, 1000)) == LATEST_FINISH
    # of equals the first
    assert chosen((LATEST_FINISH, 1100), (AS_PLANNED, 1000), ("x", 1000)) == AS_PLANNED


def test_what_has_been_given_out_stays_unless_another_is_better_by_one_in_fifty(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # A first: B waits 10 min. B first: A waits as long, at a price of its own; waiting is all there is
    def kept(priority: float) -> str:
        first, second = need("A", 0), need("B", 0)
        first = replace(first, row=replace(first.row, priority=priority))
        place = field([first, second], ONE, (), None, NOW)
        before = Way(AS_BEFORE, np.array([2.0, 1.0]), False, np.full(2, -inf))
        found = orders.choose(place, as_planned(place, nights=2), np.full(2, nan), seed=1, most=0, before=before)
        assert found.tried[AS_BEFORE] == pytest.approx(10 * priority)
        return found.name

    assert kept(1.02) == AS_BEFORE and kept(1.03) == LATEST_FINISH


def test_the_first_half_of_the_nights_is_searched_on_and_the_second_decides() -> None:
    place = field([need("A", 0), need("B", 0)], ONE, (), None, NOW)
    drawn = as_planned(place, nights=4)
    # A goes first and takes twice as long in the second half: B waits for it 10 min in the one and 20 in the other
    drawn = replace(drawn, treatment=np.array([[1.0, 1.0], [1.0, 1.0], [2.0, 1.0], [2.0, 1.0]]))
    assert orders.choose(place, drawn, np.full(2, nan), seed=1, most=0).tried[LATEST_FINISH] == 20
    # of one night there is no half
    one = drawn.some(slice(2, 3))
    assert orders.choose(place, one, np.full(2, nan), seed=1, most=0).tried[LATEST_FINISH] == 20


def test_of_many_departures_only_the_plain_sorts_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    place = field([need("A", 0), need("B", 0), need("C", 0)], ONE, (), None, NOW)
    few = [(one.name, one.yields) for one in orders._sorted_ways(place, np.full(3, nan))]
    assert few[:2] == [(LATEST_FINISH, False), (LATEST_FINISH, True)] and len(few) == 12
    monkeypatch.setattr(orders, "SLOWEST_JOBS", 3)
    assert len(list(orders._sorted_ways(place, np.full(3, nan)))) == 12
    monkeypatch.setattr(orders, "SLOWEST_JOBS", 2)
    many = [(one.name, one.yields) for one in orders._sorted_ways(place, np.full(3, nan))]
    assert many == [(LATEST_FINISH, False), (AS_PLANNED, False)]
    assert all((one.not_before == -inf).all() for one in orders._sorted_ways(place, np.full(3, nan)))


def test_sorts_that_need_no_search() -> None:
    # on the pad 10 min each at 1, 2 and 1 a minute: lengths of 10, 5 and 10, and 6/5, 3/5 and 6/5 of their mean
    needs = [need("A", 0, window=(0, 60)), need("B", 4, size="large"), need("C", 9)]
    held = structs.replace(pads(pad("P1"), cost=structs.replace(PLAIN, large=2)), noise=QUIET)
    found = orders._sorts(field(needs, held, (), None, NOW), np.array([nan, 30.0, 20.0]))
    latest, there = np.array([46.0, 7 + 45, 12 + 45]), np.array([3.0, 7, 12])
    length = np.array([0.2, -0.4, 0.2])
    assert found[LATEST_FINISH].tolist() == latest.tolist()
    assert found[AS_PLANNED].tolist() == [46, 30, 20] and found["expected arrival first"].tolist() == there.tolist()
    for minutes in (10, 25):
        sort = found[f"latest finish, and {minutes} min for what waits cheaply"]
        assert sort.tolist() == pytest.approx((latest + minutes * length).tolist())
    sure = np.array([46.0, 7, 12])
    assert found["arrival and window, weighted"].tolist() == pytest.approx(((sure + there) / 2 + 15 * length).tolist())
    # nobody is to be treated
    idle = orders._sorts(field([need("A", 0, status="not indicated")], held, (), None, NOW), np.array([nan]))
    assert idle["expected arrival first"].tolist() == [3] and np.isfinite(idle["arrival and window, weighted"]).all()


def test_so_many_orders_are_tried_as_are_asked_for_or_as_there_is_work_for(monkeypatch: pytest.MonkeyPatch) -> None:
    place = field([need("A", 0), need("B", 0)], ONE, (), None, NOW)
    drawn = as_planned(place, nights=8)
    # two treatments and one step more, each over 8 x 2 departures and 4000 for what no array makes faster
    monkeypatch.setattr(orders, "WORK", 3 * 4016 * 7)
    assert orders._turns(place, drawn, 9) == 7 and orders._turns(place, drawn, 5) == 5
    drawn.needed[:4] = False
    assert orders._turns(place, drawn, 99) == 10


@pytest.mark.parametrize("removal", [1, 10])
def test_a_search_keeps_only_what_costs_less_and_finds_the_better_of_two_orders(removal: int) -> None:
    # the window of B ends when it can be off at the soonest and that of A at 90: B first. C needs nothing
    needs = [
        need("A", 0, window=(0, 90), removal=removal),
        need("C", 0, status="not indicated"),
        need("B", 0, window=(0, 7 + removal), removal=removal),
    ]
    place = field(needs, ONE, (), None, NOW)
    drawn = replace(as_planned(place), needed=np.array([[True, False, True]]))
    begin = replace(way(AS_PLANNED), keys=np.array([1.0, 7.0, 2.0]), not_before=np.full(3, -inf))
    found = orders._search(place, drawn, begin, 1, 20, lambda: False)
    assert found[2] < found[0] and found[1] == 7
    for stop, turns in ((True, 20), (False, 0)):
        assert orders._search(place, drawn, begin, 1, turns, lambda stop=stop: stop).tolist() == [1, 7, 2]
    good = replace(begin, keys=found)
    assert orders._search(place, drawn, good, 1, 20, lambda: False).tolist() == found.tolist()
    assert orders._with_ranks(np.array([5.0, 6, 7, 8]), np.array([3, 0])).tolist() == [1, 6, 7, 0]


def test_a_search_begins_from_the_best_of_the_ways_that_there_was_time_to_try() -> None:
    # the window of B ends at 17: the second way, B first, is better, and the third as good
    place = field([need("A", 0, window=(0, 90)), need("B", 0, window=(0, 17))], ONE, (), None, NOW)
    drawn = as_planned(place)
    ways = [
        replace(way(name), keys=np.array(keys)) for name, keys in (("x", [1.0, 2]), ("y", [2.0, 1]), ("z", [4.0, 3]))
    ]

    def begun(*stops: bool) -> set[tuple[float, ...]]:
        asked = iter(stops)
        found = orders._found_ways(place, drawn, ways, 1, 0, lambda: next(asked, False))
        return {tuple(one.keys.tolist()) for one in found}

    # with no trial what was searched for is what it was begun from; it holds nobody back
    assert begun() == {(2, 1)} and begun(False, True) == {(1, 2)} and begun(True) == set()


def test_a_trial_may_bring_a_departure_to_the_first_and_to_the_last_place() -> None:
    dice = np.random.default_rng(1)
    found = [orders._moved(np.arange(12), dice).tolist() for _ in range(300)]
    # before the one that was first, and behind the one that was last, from further away than beside it
    assert any(trial[1] == 0 and trial[0] > 1 for trial in found)
    assert any(trial[-2] == 11 and trial[-1] < 10 for trial in found)


def test_a_departure_of_each_night_that_needs_it_is_moved_to_beside_another() -> None:
    dice = np.random.default_rng(1)
    keys = np.tile(np.arange(6.0), (50, 1))
    needed = np.zeros((50, 6), dtype=np.bool_)
    needed[:, 2] = True
    found = orders._moved_each(keys, needed, dice)
    for row in found:
        assert sorted(row) == list(range(6))
        # the third alone has changed its place among the others
        assert np.argsort(np.delete(row, 2)).tolist() == [0, 1, 2, 3, 4]
    assert len({tuple(row) for row in found}) > 2


def test_of_each_night_the_outcome_that_is_wanted_is_picked() -> None:
    place = field([need("A", 0), need("B", 0)], ONE, (), None, NOW)
    drawn = as_planned(place, nights=3)
    one, other = (carry_out(place, drawn, np.array(keys)) for keys in ([1.0, 2.0], [2.0, 1.0]))
    found = orders._pick([one, other], np.array([0, 1, 0]))
    assert found.begun.tolist() == [[3, 13], [13, 3], [3, 13]] and found.cost.tolist() == [[0, 10], [10, 0], [0, 10]]


def test_with_everything_known_each_night_begins_from_the_cheapest_of_its_orders() -> None:
    needs = [need("A", 0, window=(0, 17)), need("B", 0)]
    place = field(needs, ONE, (), None, NOW)
    drawn = as_planned(place, nights=2)
    keys = [np.array([2.0, 1.0]), np.array([1.0, 2.0])]
    outcomes = [carry_out(place, drawn, one, yields=False) for one in keys]
    found = orders.with_everything_known(place, drawn, outcomes, keys, turns=0, seed=1)
    assert found.cost.sum(axis=1).tolist() == [10, 10] and found.begun.tolist() == [[3, 13]] * 2
    # from the worse one alone it is found by trials, unless there are none
    bad = orders.with_everything_known(place, drawn, outcomes[:1], keys[:1], turns=9, seed=1, stop=lambda: True)
    assert bad.cost.sum(axis=1).tolist() == [80, 80]
    better = orders.with_everything_known(place, drawn, outcomes[:1], keys[:1], turns=9, seed=1)
    assert better.cost.sum(axis=1).tolist() == [10, 10]


# who is held back


def test_those_whose_holdover_runs_out_most_often_are_looked_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    broken = np.array([[0, 2, 1, 1], [0, 1, 1, 0]])
    assert holding._at_risk(broken).tolist() == [1, 2, 3]
    monkeypatch.setattr(holding, "MOST_HELD", 2)
    assert holding._at_risk(broken).tolist() == [1, 2]
    assert holding._mean(np.array([[1.0, 2.0], [3.0, 6.0]])) == 6


def test_who_is_treated_on_its_stand_in_most_of_the_nights_is_told_by_where_it_was() -> None:
    held = pads(pad("P1"), pad("P2", place="stand"))
    place = field([need(name, 0) for name in "ABCD"], held, (), None, NOW)
    none, never = np.zeros((3, 4)), np.zeros((3, 4), dtype=np.bool_)
    # on P2 twice of three; once of two; never treated; always on P1
    where = np.array([[1, 1, -1, 0], [1, 0, -1, 0], [0, -1, -1, 0]])
    outcome = Outcome(where, none, none, none, none, where, never, never, never, none, none)
    assert holding._on_stand(place, outcome).tolist() == [True, False, False, False]


def held_at(first: float, most: int, *, window: tuple[int, int] = (60, 90), holds: int = 20) -> tuple[float, float]:
    """The minute to which A, held at another, is moved in so many trials, and what it then costs."""
    one = need("A", 0, window=window, conditions=SNOW)
    place = field([one], structs.replace(ONE, cost=Cost()), (), table({"light snow": holds}), NOW)
    drawn = as_planned(place)

    def cost(minute: float) -> float:
        return float(carry_out(place, drawn, np.zeros(1), not_before=np.array([minute])).cost.sum())

    at_risk = np.array([0])
    found = holding._each(
        place, drawn, np.zeros(1), False, np.array([first]), cost(first), at_risk, most, lambda: False
    )
    return float(found[0]), cost(float(found[0]))


def test_who_is_held_for_nothing_is_let_go_and_who_is_held_too_long_is_held_for_less() -> None:
    # its window opens at 60: on the pad from 46 it is off at 60, and its holdover ends at 66
    assert held_at(46.0, 9) == (46.0, 0)
    # held four minutes too long it is off at 64
    assert held_at(50.0, 9) == (46.0, 0) and held_at(50.0, 2)[0] == 50 and held_at(50.0, 0)[0] == 50
    # a holdover that lasts until its window opens holds nobody: -inf
    assert held_at(46.0, 9, holds=60)[0] == -inf


# how it is carried out


def test_spreads_are_means_and_ninetieth_percentiles_and_the_tenths_of_the_cost() -> None:
    cost = np.arange(11.0)[:, None]
    none, never, zero = np.zeros((11, 1)), np.zeros((11, 1), dtype=np.bool_), np.zeros((11, 1), dtype=np.int64)
    found = execution.spreads(Outcome(zero, none, none, none, none, zero, never, never, never, 2 * cost, cost))
    assert (found.cost, found.delay_min) == (SpreadOut(5, 9), SpreadOut(10, 18))
    assert found.cost_tenths == tuple(range(11)) and found.missed_windows == SpreadOut(0, 0)
    assert execution._spread(np.array([1.0, 2.0, 2.0])) == SpreadOut(1.667, 2.0)


def test_a_pad_that_never_fills_up_is_free_as_soon_as_it_is_cleared() -> None:
    # 15 min of filling up are in the file, and after how many is not
    held = structs.replace(pads(pad("P1", refill=(0, 15)), clear=2), noise=QUIET)
    place = execution.prepare([need("A", 0)], held, (), None, NOW, {"A": Held("P1", NOW + 180)})
    assert place.free_from.tolist() == [15]


def test_what_is_held_goes_first_in_the_order_and_the_others_after_it_by_their_rank() -> None:
    needs = [need(name, 0) for name in "ABCD"]
    held = {"D": Held("P1", NOW + 300), "B": Held("P1", NOW + 60)}
    two = structs.replace(pads(pad("P1"), pad("P2")), noise=QUIET)
    place = execution.prepare([*needs, need("E", 0, status="not indicated")], two, (), None, NOW, held)
    made = execution.arrange(place, {"A": 20, "C": 10}, held, nights=4, turns=0)
    # all wait alike: in the order of the file
    assert made.ranks == {"B": 1, "D": 2, "A": 3, "C": 4, "E": 0}
    assert made.latest == {"A": 48, "C": 48, "E": 48} and made.not_before == {}
    assert made.drawn.nights == 4


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


def test_groups_of_a_forecast_may_come_true_for_the_only_departure() -> None:
    row = need("A", 60).row
    weather = demand.read_weather([DRY, PERHAPS], NOW, row.off_block, HERE)
    about = replace(night([need("A", 60)], ONE), rows=(row,), weather=weather)
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

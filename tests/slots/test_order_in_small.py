"""The order of a plan, part by part: which of several, how it is searched, who is held back, and what is tried."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from msgspec import structs
from nights import NOW, PLAIN, need, pad, pads, sky, table
from test_demand_and_order_by_hand import QUIET
from test_rehearse_by_hand import as_planned

from advisor.slots import holding
from advisor.slots import order as orders
from advisor.slots.field import field
from advisor.slots.files.pads import Cost, Runway
from advisor.slots.order import AS_BEFORE, AS_PLANNED, LATEST_FINISH, SEARCHED, Way
from advisor.slots.rehearse import Outcome, carry_out

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


def test_with_everything_known_every_second_trial_holds_back_who_is_held_in_the_order() -> None:
    # its window opens at 60: held until 46 it costs nothing, called at once two broken holdovers of 90 each
    place = field([need("A", 0, window=(60, 90), conditions=SNOW)], ONE, (), table({"light snow": 20}), NOW)
    drawn, keys = as_planned(place), np.zeros(1)

    def known(begun: float, first: float, turns: int) -> float:
        before = carry_out(place, drawn, keys, not_before=np.array([begun]))
        found = orders.with_everything_known(
            place, drawn, [before], [keys], turns=turns, seed=1, not_before=np.array([first])
        )
        return float(found.cost.sum())

    # the first trial is held, the second is not: to be held until 700 helps nobody
    assert known(-inf, 46, 1) == 0 and known(700, 700, 1) > 180 and known(700, 700, 2) == 180


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


def test_who_waits_for_the_runway_is_held_to_the_whole_minute_before_its_take_off() -> None:
    # two minutes between two, and others go from 16.5 on every two until 60.5: it is off at 62.5. 14 min before is 48.5
    held = structs.replace(ONE, cost=Cost(), runway=Runway(separation_s=120))
    place = field([need("A", 0, conditions=SNOW)], held, (), table({"light snow": 20}), NOW)
    place = replace(place, taken=np.arange(16.5, 61, 2))
    assert holding.hold_back(place, as_planned(place), np.zeros(1), False, most=20).tolist() == [48]


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
    assert held_at(50.0, 9) == held_at(50.0, 3) == (46.0, 0) and held_at(50.0, 2)[0] == 50 and held_at(50.0, 0)[0] == 50
    # a holdover that lasts until its window opens holds nobody: -inf
    assert held_at(46.0, 9, holds=60)[0] == -inf

"""The solver's small parts by hand: prices, blocks on pads, what is kept of a plan given out, tanks, colours, lists."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from nights import Ticks

from advisor.slots.model import Answer, Job, Option, PadGroup, PlanningProblem, Start, cost_at, price
from advisor.slots.solver import columns, listing
from advisor.slots.solver import solve as solving
from advisor.slots.solver.colour import colour
from advisor.slots.solver.columns import Offer
from advisor.slots.solver.runway import Tank, one_after_another
from advisor.slots.steplimit import StepLimit

ONE = (PadGroup("one", ("P1",)),)
THREE = (PadGroup("three", ("P1", "P2", "P3")),)


def flat(*costs: float, group: int = 0, lasts: int = 1, first: int = 0) -> Option:
    return Option(group, lasts, first, np.array(costs, dtype=np.float64))


def one_job(*options: Option, load: float = 1.0, unplanned: float = 500.0, **more: str | int | float) -> Job:
    return Job("J", load, options, unplanned, **more)  # type: ignore[arg-type]


# time


def test_nothing_more_is_begun_that_would_not_be_over_in_time_were_it_as_long_as_the_longest_so_far() -> None:
    moments = iter([0.0, 2.0, 7.0, 8.0, 15.0])
    over = StepLimit(lambda: next(moments), 13.0, lambda: False)
    # steps of 2, 5 and 1 s so far: at 8 another of 5 is just over at 13, which is too late
    assert [over() for _ in range(4)] == [False, False, False, True]
    first = StepLimit(lambda: 12.9995, 13.0, lambda: False)
    # nothing is known of the first step yet
    assert not first() and StepLimit(lambda: 13.0, 13.0, lambda: False)()
    assert StepLimit(lambda: 0.0, 13.0, lambda: True)()


# what things cost


def test_a_start_outside_of_what_its_option_offers_cannot_be_had() -> None:
    one = one_job(flat(3, 4, first=5))
    costs = [cost_at(one, (0, minute)) for minute in (4, 5, 6, 7)]
    assert costs == [np.inf, 3, 4, np.inf]
    two = PlanningProblem((one, one_job(flat(1, 2), unplanned=70.0)), ONE, 10)
    assert (
        price(two, [(0, 6), (0, 1)]) == 6 and price(two, [(0, 5), None]) == 73 and price(two, [(0, 4), None]) == np.inf
    )


def test_the_gap_is_the_part_of_the_cost_that_the_bound_leaves() -> None:
    assert Answer((), 8.0, 6.0, "").gap == 0.25 and Answer((), 0.0, 0.0, "").gap == 0
    # a bound above the cost by rounding leaves nothing; half a minute counts as well
    assert Answer((), 8.0, 8.1, "").gap == 0 and Answer((), 0.5, 0.25, "").gap == 0.5


# prices of minutes

# both may take minute 0 for nothing or minute 1 for 1; one pad
TWO = PlanningProblem((one_job(flat(0, 1)), one_job(flat(0, 1))), ONE, 3)


def test_what_all_cost_at_prices_of_minutes_and_which_minutes_they_then_use() -> None:
    cost, used = columns._cheapest(TWO, np.zeros((1, 3)))
    assert cost == 0 and used.tolist() == [[2, 0, 0]]
    # minute 0 at 5: both go to minute 1 for 1; minutes 0 and 1 at 5: minute 0 for 5 each
    cost, used = columns._cheapest(TWO, np.array([[5.0, 0.0, 0.0]]))
    assert cost == 2 and used.tolist() == [[0, 2, 0]]
    cost, used = columns._cheapest(TWO, np.array([[5.0, 5.0, 0.0]]))
    assert cost == 10 and used.tolist() == [[2, 0, 0]]
    # half a pad of the second group for two minutes from 3 on, at prices of 4 and 6; left out, it would cost 7
    shared = one_job(flat(1, group=1, lasts=2, first=3), load=0.5, unplanned=7.0)
    three = PlanningProblem((shared,), (*ONE, PadGroup("other", ("P2",))), 6)
    prices = np.zeros((2, 6))
    prices[1, 3:5] = 4, 6
    cost, used = columns._cheapest(three, prices)
    assert cost == 1 + 5 and used.tolist() == [[0] * 6, [0, 0, 0, 0.5, 0.5, 0]]
    prices[1, 4] = 10
    cost, used = columns._cheapest(three, prices)
    # 1 + 7 is dearer than to leave it out, which uses nothing
    assert cost == 7 and not used.any()
    # and so it is where both cost as much
    cost, used = columns._cheapest(replace(three, jobs=(replace(shared, unplanned_cost=8.0),)), prices)
    assert cost == 8 and not used.any()


def test_what_prices_of_minutes_prove() -> None:
    # at 1 for minute 0 each costs 1, less the 1 that the pad's own minutes are worth
    found = columns.bound(TWO, np.array([[1.0, 0.0, 0.0]]))
    assert found.bound == 1 + 1 - 1
    assert [line.tolist() for (line,) in found.reduced] == [[0, 0], [0, 0]] and found.unplanned.tolist() == [499, 499]
    # on two pads twice as much; no price is below 0
    two_pads = replace(TWO, groups=(PadGroup("two", ("P1", "P2")),))
    assert columns.bound(two_pads, np.array([[1.0, -3.0, 0.0]])).bound == 1 + 1 - 2
    # half a pad for two minutes from 1 on at 2 and 4: 1 + 3; a second option from 2 on costs 2 less
    half = one_job(flat(1, 1, lasts=2, first=1), flat(0, first=2), load=0.5, unplanned=9.0)
    found = columns.bound(PlanningProblem((half,), ONE, 5), np.array([[0.0, 2.0, 4.0, 0.0, 0.0]]))
    assert found.bound == 2 - 6 and found.unplanned.tolist() == [7]
    assert [line.tolist() for line in found.reduced[0]] == [[2, 1], [0]]
    # each group has its own prices: 5 for the first, 1 + 2 for the other
    either = PlanningProblem((one_job(flat(0), flat(1, group=1)),), (*ONE, PadGroup("other", ("P2",))), 3)
    found = columns.bound(either, np.array([[5.0, 0.0, 0.0], [2.0, 0.0, 0.0]]))
    assert found.bound == 3 - 7 and [line.tolist() for line in found.reduced[0]] == [[2], [0]]
    # whoever is best left out costs that, and every start lies above it
    dear = PlanningProblem((one_job(flat(8), unplanned=5.0),), ONE, 5)
    found = columns.bound(dear, np.zeros((1, 5)))
    assert found.bound == 5 and found.reduced[0][0].tolist() == [3] and found.unplanned.tolist() == [0]


def test_prices_rise_where_more_is_wanted_than_there_is_until_they_prove_what_a_known_plan_costs() -> None:
    # both want minute 0, one too many. A step towards the known cost of 1 puts a price of 1 on it, which proves 1
    assert columns.ascend(TWO, 1.0, rounds=9, stop=lambda: False).tolist() == [[1, 0, 0]]
    assert columns.ascend(TWO, 1.0, rounds=1, stop=lambda: False).tolist() == [[0, 0, 0]]
    assert columns.ascend(TWO, 1.0, rounds=9, stop=lambda: True).tolist() == [[0, 0, 0]]
    # three want it, two too many, for 0, 1 and 2 at the least together 3: a step of 3 parted by 2 squared, twice
    three = PlanningProblem((one_job(flat(0, 1, 2)),) * 3, ONE, 3)
    assert columns.ascend(three, 3.0, rounds=2, stop=lambda: False).tolist() == [[1.5, 0, 0]]
    # then all want minute 1: a step of 3 less the 1.5 that is proven, parted by 1 and 2 squared
    after = columns.ascend(three, 3.0, rounds=3, stop=lambda: False)
    assert after.tolist() == [pytest.approx([1.5 - 0.3, 2 * 0.3, 0])]
    # on two pads nothing is wanted that there is not
    two_pads = replace(TWO, groups=(PadGroup("two", ("P1", "P2")),))
    assert not columns.ascend(two_pads, 1.0, rounds=9, stop=lambda: False).any()


def test_the_cheapest_few_are_those_that_cost_least_beyond_their_jobs_cheapest() -> None:
    one = one_job(flat(5, 1, 4, 2, 9))
    prices = columns.bound(PlanningProblem((one,), ONE, 9), np.zeros((1, 9)))
    few = columns.cheapest_few(prices, 2)(Offer(0, 0, one.options[0])).tolist()
    assert {1, 3} <= set(few) and 0 not in few and 4 not in few
    assert columns.cheapest_few(prices, 5)(Offer(0, 0, one.options[0])).tolist() == [0, 1, 2, 3, 4]


def test_chosen_columns_are_starts_and_who_was_not_chosen_for_stays() -> None:
    two = PlanningProblem(tuple(one_job(flat(0, np.inf, 2, first=4)) for _ in range(3)), ONE, 20)
    # of jobs 1 and 2 alone, without the start that cannot be had
    some = columns.choose(two, lambda offer: np.arange(3), [1, 2])
    assert list(zip(some.job, some.minute, some.cost, strict=True)) == [(1, 4, 0), (1, 6, 2), (2, 4, 0), (2, 6, 2)]
    assert some.size == 4 and set(some.occupied.tolist()) == {1} and set(some.load.tolist()) == {1.0}
    before: list[Start | None] = [(0, 6), (0, 4), (0, 4)]
    values = np.array([0.1, 0.9, 0.5, 0.0])
    assert columns.as_starts(some, values, before, [1, 2]) == ((0, 6), (0, 6), None)
    assert columns.as_starts(some, values, before, [1]) == ((0, 6), (0, 6), (0, 4))
    nothing = columns.choose(two, lambda offer: np.arange(0))
    assert nothing.size == 0 and nothing.cost.size == 0


# list schedules


def test_a_list_schedule_takes_the_cheapest_start_that_has_room_for_the_whole_treatment() -> None:
    # three of 3 min on one pad; the first stands at 4 already
    jobs = tuple(one_job(Option(0, 3, 0, np.arange(20.0)), unplanned=9.0) for _ in range(4))
    some = PlanningProblem(jobs, ONE, 30)
    # free from 0 to 4 and from 7; the fourth would wait 10 min, which costs more than to be left out
    assert listing.in_order(some, [1, 2, 3], [(0, 4), None, None, None]) == ((0, 4), (0, 0), (0, 7), None)
    usage = listing.Usage(some)
    usage.add(0, (0, 4))
    assert np.flatnonzero(np.isfinite(usage.costs(1, 0))).tolist() == [0, 1, *range(7, 20)]
    beside = usage.copy()
    beside.add(0, (0, 4), -1.0)
    assert np.isfinite(beside.costs(1, 0)).all() and not np.isfinite(usage.costs(1, 0)[4])
    # the earliest of equals, of any option
    equal = one_job(flat(7, 2, 2), flat(2, 1, 1, group=1, first=2))
    other = PlanningProblem((equal, one_job(flat(6.0), unplanned=6.0)), (*ONE, PadGroup("other", ("P2",))), 9)
    assert listing.Usage(other).cheapest(0) == (1, 3) and listing.Usage(other).cheapest(1) is None


def test_of_what_is_only_possible_two_have_room_on_one_pad_and_three_have_not() -> None:
    half = one_job(flat(*range(9), lasts=3), load=0.5)
    assert listing.in_order(PlanningProblem((half,) * 3, ONE, 20), [0, 1, 2]) == ((0, 0), (0, 0), (0, 3))


# pads for starts


def coloured(
    jobs: Sequence[tuple[int, int, float]],
    *,
    sharing: int = 1,
    groups: tuple[PadGroup, ...] = THREE,
    fixed: dict[int, str] | None = None,
    wished: dict[int, str] | None = None,
) -> list[tuple[str | None, int | None, tuple[int, ...]]]:
    """Pad, minute and who shares it, of jobs that start at a minute, last so long and have a load."""
    made = tuple(one_job(Option(0, lasts, 0, np.arange(50.0)), load=load) for _, lasts, load in jobs)
    some = PlanningProblem(made, groups, 100)
    found = colour(
        some, [(0, minute) for minute, _, _ in jobs], sharing=sharing, fixed=fixed or {}, wished=wished or {}
    )
    minutes = [None if start is None else start[1] for start in found.starts]
    return list(zip(found.pads, minutes, found.sharing, strict=True))


def test_a_start_takes_the_wished_pad_else_the_one_that_has_been_free_for_longest() -> None:
    # P1 is free from 4 on, P2 from 2 on, P3 has never been taken
    begun = [(0, 4, 1.0), (0, 2, 1.0)]
    assert coloured([*begun, (5, 3, 1.0)])[2] == ("P3", 5, ())
    two = (PadGroup("two", ("P1", "P2")),)
    assert coloured([*begun, (5, 3, 1.0)], groups=two)[2] == ("P2", 5, ())
    assert coloured([*begun, (5, 3, 1.0)], groups=two, wished={2: "P1"})[2] == ("P1", 5, ())
    # a minute is enough between two; none is not
    assert coloured([*begun, (2, 3, 1.0)], groups=two)[2] == ("P2", 2, ())
    # what is fixed goes first, though it starts later
    assert [one[0] for one in coloured([(0, 4, 1.0), (2, 4, 1.0)], groups=two, fixed={1: "P1"})] == ["P2", "P1"]


def test_what_is_possible_shares_a_pad_only_with_what_is_possible_and_only_so_many_at_a_time() -> None:
    one = (PadGroup("one", ("P1",)),)
    assert coloured([(0, 4, 0.5), (2, 4, 0.5)], sharing=2, groups=one) == [("P1", 0, (1,)), ("P1", 2, (0,))]
    # the third overlaps the second alone from 4 on; before that it would be one of three
    assert coloured([(0, 4, 0.5), (2, 4, 0.5), (4, 2, 0.5)], sharing=2, groups=one)[2] == ("P1", 4, (1,))
    # cheapest of those that find a place: 0 and 1 would lie across three
    assert coloured([(0, 4, 0.5), (0, 4, 0.5), (3, 2, 0.5)], sharing=2, groups=one)[2] == ("P1", 4, ())
    # beside what is sure there is no place, however little
    assert coloured([(0, 4, 1.0), (3, 2, 0.5)], sharing=2, groups=one)[1] == ("P1", 4, ())
    # a free pad goes before one to share, and of two to share the one with fewer on it
    assert coloured([(0, 4, 0.5), (2, 4, 0.5)], sharing=2)[1] == ("P2", 2, ())
    two = (PadGroup("two", ("P1", "P2")),)
    crowd = [(0, 9, 1 / 3), (0, 9, 1 / 3), (0, 9, 1 / 3), (0, 9, 1 / 3)]
    assert [one[0] for one in coloured(crowd, sharing=3, groups=two)] == ["P1", "P2", "P1", "P2"]
    assert coloured(crowd[:3], sharing=3, groups=two, wished={2: "P2"})[2] == ("P2", 0, (1,))


def test_what_is_sure_and_finds_no_pad_is_left_out_and_so_is_what_costs_more_later_than_not_at_all() -> None:
    one = (PadGroup("one", ("P1",)),)
    assert coloured([(0, 4, 1.0), (2, 4, 1.0)], groups=one)[1] == (None, None, ())
    later = [one_job(flat(0, lasts=9)), one_job(Option(0, 4, 0, np.arange(50.0)), load=0.5, unplanned=9.0)]
    some = PlanningProblem(tuple(later), one, 100)
    found = colour(some, [(0, 0), (0, 2)], sharing=2, fixed={}, wished={})
    # free again at 9, which costs as much as to leave it out
    assert found.starts == ((0, 0), None) and found.pads == ("P1", None)


# a truck that fills up


def test_a_tank_counts_what_lies_in_a_row_without_a_pause_to_fill_up() -> None:
    # three in a row at most, 10 min to fill up: 0-5 and 10-15 are a row of two
    tank = Tank(3, 10)
    assert tank.allows(np.array([0]), 5).all()
    tank.add(0, 5)
    tank.add(10, 15)
    # a third may follow; between them it would be the third as well; after a pause anything goes
    assert tank.allows(np.array([5, 15, 24, 25]), 5).all()
    tank.add(20, 25)
    # a fourth at 34 follows after 9 min, at 35 after ten
    assert tank.allows(np.array([34, 35]), 5).tolist() == [False, True]
    # one that ends ten minutes before the row begins is none of it
    late = Tank(3, 10)
    for first in (40, 45, 50):
        late.add(first, first + 5)
    assert late.allows(np.array([24, 25, 26]), 5).tolist() == [True, True, False]
    late.remove(45, 50)
    # 40-45 and 50-55: five minutes are no pause; a third may lie before
    assert late.allows(np.array([26]), 5).all()


def test_take_offs_keep_their_distance_in_the_order_in_which_they_are_ready() -> None:
    # two minutes apart, another goes at 300: the second of those ready at 100 could go at 220, too near to it
    assert one_after_another([250, 100, 100], 120, [300]) == [540, 100, 420]
    assert one_after_another([250, 100, 100], 0, [300]) == [250, 100, 100]
    assert one_after_another([250, 100, 100], 1, ()) == [250, 100, 101]


# progress


def test_what_is_told_on_the_way_never_goes_back() -> None:
    told: list[tuple[float, float]] = []
    search = solving._Search(
        TWO, Ticks(), 60.0, 0.0, lambda: False, lambda *said: told.append(said), (None, None), 1000.0
    )
    for cost, bound in ((50.0, 3.0), (70.0, 4.0), (40.0, 2.0)):
        search.tell(cost, bound)
    assert told == [(50, 3), (50, 4), (40, 4)]
    # a plan that is no better is not told, nor is a bound; none lies above the plan
    assert not search.offer((None, None)) and search.offer((None, (0, 0))) and search.cost == 500
    search.prove(2000.0)
    assert search.bound == 500 and told[3:] == [(40, 4), (40, 500)]
    search.prove(9.0)
    assert len(told) == 5 and search.done()


def test_who_has_no_start_comes_after_all_that_have_one() -> None:
    assert solving._minute((1, 5)) == 5 and solving._minute(None) > solving._minute((0, 100_000))

"""Prices and pads of a few minutes, worked by hand: one medium aircraft costs 1 for each minute of waiting."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from worked import PLACE, clock

from advisor.slots import demand
from advisor.slots.build import Built, build
from advisor.slots.files.pads import Treatment
from advisor.slots.files.schedule import Row
from advisor.slots.limits import limits, why_none
from advisor.slots.model import Answer, Job, Option, PadGroup, PlanningProblem
from advisor.slots.solver import colour, columns
from advisor.slots.solver.solve import solve
from tests.slots.nights import CHECKLIST, FLEET, NOW, PLAIN, Ticks, load_pads, moved, need, pad, pads, plan, sky, table


def built(*needs: object, **said: object) -> Built:
    return build(needs, pads(pad("P1"), **said), (), None, NOW)  # type: ignore[arg-type]


def costs(*, status: str = "expected", window: tuple[int, int] | None = None, **price: float) -> np.ndarray:
    """Of a departure at minute 0: 3 to the pad, 10 of treatment, 4 to the runway, so that it takes off at 17."""
    made = built(need("A", 0, status=status, window=window), cost=replace(PLAIN, **price))  # type: ignore[arg-type]
    (option,) = made.problem.jobs[0].options
    assert option.first == 3 and made.best == (17,)
    return option.costs  # type: ignore[no-any-return]


def test_waiting_costs_more_from_the_minute_after_which_it_is_late() -> None:
    # two more for each minute over 30
    found = costs(late_after_min=30, late=2)
    assert found[[0, 1, 30, 31, 40]].tolist() == [0, 1, 30, 31 + 2, 40 + 20]


def test_a_missed_window_has_a_price_of_its_own_and_one_for_each_minute() -> None:
    # until minute 20: from a start three minutes after the first one on
    found = costs(window=(0, 20), missed_window=60, missed_minute=1.5)
    assert found[[0, 3, 4, 5]].tolist() == [0, 3, 4 + 60 + 1.5, 5 + 60 + 3]


def test_what_is_only_possible_costs_its_share() -> None:
    assert costs(status="possible")[[0, 10]].tolist() == [0, 10 * 0.4]


def test_departures_of_the_whole_night_have_starts_however_late_the_last_one() -> None:
    # the last may start at 903, and six hours after that; four more for what runs over
    made = built(need("A", 0), need("B", 900))
    assert [job.name for job in made.problem.jobs] == ["A", "B"] and made.problem.minutes == 903 + 360 + 240
    assert made.problem.jobs[1].options[0].first == 903
    # what has passed counts from now
    assert built(need("A", -300)).problem.jobs[0].options[0].first == 3


# pads


def problem(*loads: float, minutes: int = 10, count: int = 1) -> PlanningProblem:
    """Jobs of 10 minutes on pads of one group, at any of 60 minutes, waiting 1 a minute."""
    waits = Option(0, minutes, 0, np.arange(60.0))
    jobs = tuple(Job(f"J{at}", load, (waits,), 1500.0) for at, load in enumerate(loads))
    return PlanningProblem(jobs, (PadGroup("remote any", tuple(f"P{at}" for at in range(count))),), 120)


def coloured(
    starts: list[int],
    *loads: float,
    sharing: int = 2,
    count: int = 1,
    fixed: dict[int, str] | None = None,
    wished: dict[int, str] | None = None,
) -> colour.Coloured:
    given = [(0, minute) for minute in starts]
    return colour.colour(problem(*loads, count=count), given, sharing=sharing, fixed=fixed or {}, wished=wished or {})


def test_two_possible_treatments_share_a_pad_and_a_third_comes_after_them() -> None:
    made = coloured([0, 0, 0], 0.5, 0.5, 0.5)
    assert made.starts == ((0, 0), (0, 0), (0, 10)) and made.sharing == ((1,), (0,), ())
    assert coloured([0, 0, 0], 0.5, 0.5, 0.5, sharing=3).sharing == ((1, 2), (0, 2), (0, 1))


def test_an_expected_treatment_shares_with_none() -> None:
    # the fixed one is only possible and has the pad from 0 to 10: what is expected at 5 finds none
    made = coloured([0, 5], 0.5, 1.0, fixed={0: "P0"})
    assert made.starts == ((0, 0), None) and made.pads == ("P0", None) and made.sharing == ((), ())
    # the other way round what is possible comes after it
    made = coloured([0, 5], 0.5, 1.0)
    assert made.starts[1] == (0, 5) and made.starts[0] == (0, 15)


def test_how_many_share_is_counted_within_the_stretch_that_is_asked_about() -> None:
    # fixed from 0 to 10 and from 8 to 18: from 6 to 16 a third would make three of them from 8 to 10; the first minute
    # at which it finds room for two is 10, beside the second
    made = coloured([0, 8, 6], 0.5, 0.5, 0.5, fixed={0: "P0", 1: "P0"})
    assert made.starts == ((0, 0), (0, 8), (0, 10)) and made.sharing == ((1,), (0, 2), (1,))


def test_the_wanted_pad_is_taken_where_it_is_free_else_the_one_that_has_been_free_for_longest() -> None:
    assert coloured([0], 1.0, count=3, wished={0: "P1"}).pads == ("P1",)
    # P0 is busy to 10, P1 to 12, P2 was never: at 20 the third goes to P2, then P0
    made = coloured([0, 2, 20, 20], 1.0, 1.0, 1.0, 1.0, count=3)
    assert made.pads == ("P0", "P1", "P2", "P0")


@pytest.mark.parametrize("count", [1, 2])
def test_a_pad_is_free_from_the_minute_at_which_the_one_before_leaves(count: int) -> None:
    made = coloured([0, 10], 1.0, 1.0, count=count)
    assert made.starts == ((0, 0), (0, 10)) and made.sharing == ((), ())


# what no plan can undercut


def test_the_bound_is_the_cheapest_start_with_its_minutes_at_their_prices_less_what_the_pads_are_worth() -> None:
    # three minutes of a pad from minute 2 or 3, at 5 or 7; left out 20; half of a pad
    job = Job("A", 0.5, (Option(0, 3, 2, np.array([5.0, 7.0])),), 20.0)
    one = PlanningProblem((job,), (PadGroup("remote any", ("P1", "P2")),), 8)
    free = columns.bound(one, np.zeros((1, 8)))
    assert (free.bound, free.unplanned.tolist(), free.reduced[0][0].tolist()) == (5, [15], [0, 2])
    # minute 2 costs 8: 5 + 0.5 * 8 = 9 from there, 7 from minute 3; two pads are worth 16
    prices = np.zeros((1, 8))
    prices[0, 2] = 8
    priced = columns.bound(one, prices)
    assert (priced.bound, priced.unplanned.tolist(), priced.reduced[0][0].tolist()) == (7 - 16, [13], [2, 0])
    # where every start costs more than leaving it out, that is the least
    dear = columns.bound(one, np.full((1, 8), 20.0))
    assert dear.bound == 20 - 2 * 160 and dear.unplanned.tolist() == [0]


# from when on the weather counts


def wanted(groups: str, arrives: float | None = None, off_block: float = 7) -> demand.Need:
    """What a departure needs, at 05:30."""
    now = int(clock(5.5))
    row = Row(
        "A",
        int(clock(off_block)),
        "single-aisle-jet",
        "A1",
        float("nan"),
        10,
        20,
        None,
        None,
        "",
        None,
        None if arrives is None else int(clock(arrives)),
    )
    weather = demand.read_weather([f"METAR ZZZA 100530Z {groups}"], now, int(clock(13)), PLACE)
    night = demand.Nights(weather, demand.last_moment([row], now))
    (found,) = demand.needs([row], FLEET, CHECKLIST, night, pads(pad("P1")))
    return found


@pytest.mark.parametrize(
    ("arrives", "counts_from"),
    # off-block 07:00. Who comes later is not asked about before, who stands there already from now on
    [(None, "0530Z"), (4.0, "0530Z"), (6.5, "0630Z"), (8.0, "0700Z")],
)
def test_weather_counts_from_arrival_on_the_stand_or_from_now(arrives: float | None, counts_from: str) -> None:
    found = wanted("24004KT 0300 FZFG VV001 M02/M02 Q1013", arrives)
    assert found.status == "expected" and found.reason == f"freezing fog from {counts_from}"


def test_what_to_expect_on_the_wing_is_not_known_where_the_weather_was_not_reported() -> None:
    # air too dry for frost, in wind and under cloud
    found = wanted("24012KT 9999 // OVC012 M01/M09 Q1009")
    assert (found.status, found.deposit) == ("cannot tell", "unknown")
    assert wanted("24012KT 2000 SN OVC012 M01/M02 Q1009").deposit == "snow"
    assert wanted("00000KT CAVOK M03/M04 Q1030").deposit == "frost"
    assert wanted("24012KT 2000 -FZRA OVC012 M01/M02 Q1009").deposit == "ice"


def test_treatment_takes_longer_for_the_snow_that_will_have_fallen_by_then() -> None:
    # light snow, 0.7 mm/h: half an hour 0.35 mm, an hour and a half 1.05 mm; 9 min and 1.5 for each mm, rounded up
    for off_block, minutes in ((6.0, 9 + 1), (7.0, 9 + 2)):
        assert wanted("24012KT 9999 -SN OVC012 M05/M07 Q1009", off_block=off_block).removal_min == minutes


@pytest.mark.parametrize(
    ("groups", "to_pad", "to_runway"),
    # factors 1.1 in light snow and 1.3 in moderate, rounded up to whole minutes
    [("0300 FZFG VV001", 10, 20), ("9999 -SN OVC012", 11, 22), ("2000 SN OVC012", 13, 26)],
)
def test_the_way_takes_longer_while_it_snows(groups: str, to_pad: int, to_runway: int) -> None:
    found = wanted(f"24012KT {groups} M05/M07 Q1009")
    assert (found.to_pad_min, found.to_runway_min) == (to_pad, to_runway)


# holdover minute by minute


def test_between_two_times_the_lower_holdover_of_both_holds() -> None:
    # light snow 30 min, from minute 10 on moderate snow 12, from minute 20 on light again; times every five minutes
    falling = sky(falling=[(0, "light snow"), (10, "moderate snow"), (20, "light snow")])
    found = limits(falling, table({"light snow": 30, "moderate snow": 12}), NOW, 40)
    minutes = np.arange(40)
    lowest = [30] * 6 + [12] * 14 + [30] * 20
    assert found.over(minutes, minutes).tolist() == lowest
    for first, last in ((0, 5), (0, 6), (3, 17), (20, 39), (6, 19), (20, 99)):
        assert found.over(first, last) == min(lowest[first : last + 1])
    # a span that ends before it begins is its first minute
    assert found.over(20, 6) == 30


def test_the_first_time_of_a_night_has_its_own_holdover() -> None:
    worse = sky(falling=[(0, "light snow"), (5, "moderate snow")])
    found = limits(worse, table({"light snow": 30, "moderate snow": 12}), NOW, 40)
    assert found.over([0, 1, 5, 39], [0, 1, 5, 39]).tolist() == [30, 12, 12, 12]


@pytest.mark.parametrize(
    ("first", "last", "said"),
    # hail from minute 20 to 40, of which no table has a guideline; five minutes around the span count
    [(0, 14, ""), (0, 15, "hail"), (25, 30, "hail"), (46, 60, ""), (45, 60, "hail"), (42, 42, "hail")],
)
def test_why_there_is_no_holdover_between_two_minutes(first: int, last: int, said: str) -> None:
    falling = sky(falling=[(0, "light snow"), (20, "hail"), (41, "light snow")])
    found = why_none(need("A", 0, conditions=falling), table({"light snow": 30}), NOW + 60 * first, NOW + 60 * last)
    assert found == (f"no guideline exists for {said}: ask for the operator's decision" if said else "")


@pytest.mark.parametrize(
    ("objective", "bound", "gap"), [(10, 8, 0.2), (10, 10, 0), (10, 11, 0), (0, 0, 0), (0, -5, 0), (200, 150, 0.25)]
)
def test_the_gap_is_what_is_not_proven_of_the_cost(objective: float, bound: float, gap: float) -> None:
    assert Answer((), objective, bound, "optimal").gap == pytest.approx(gap)


def test_minutes_of_treatment_where_the_pads_file_names_none() -> None:
    # frost, snow, ice and the second step, by size: ours, an operator's own take their place
    found = Treatment()
    minutes = [(one.frost, one.snow, one.ice, one.anti_icing) for one in (found.small, found.medium, found.large)]
    assert minutes == [(4, 6, 9, 3), (6, 9, 13, 4), (9, 14, 20, 6)] and found.clear_min == 2


@pytest.mark.parametrize(
    ("from_", "until", "wanted"),
    # now is 05:00: the next 04:00 is tomorrow's, and the 22:00 before it tonight's; hours from now
    [("22:00Z", "04:00Z", (17, 23)), ("03:00Z", "06:00Z", (-2, 1)), ("04:00Z", "05:00Z", (-1, 0))],
)
def test_opening_hours_are_those_that_end_next(tmp_path: Path, from_: str, until: str, wanted: tuple[int, int]) -> None:
    file = tmp_path / "pads.toml"
    file.write_text(f'[[pad]]\nname = "P1"\nfrom = "{from_}"\nuntil = "{until}"\n', encoding="utf-8")
    (found,) = load_pads(file, NOW).pads
    assert (found.from_s, found.until_s) == tuple(NOW + 3600 * hours for hours in wanted)


def test_progress_tells_costs_that_some_plan_has_and_bounds_that_none_undercuts() -> None:
    # ten minutes from minute 0 at 1 a minute, and one minute from minute 1 at 3: in the order in which they are ready
    # the second waits nine minutes, 27; the other way round the first waits two, 2
    long, short = (
        Job(name, 1.0, (Option(0, size, first, weight * np.arange(40.0)),), 500.0, first)
        for name, size, first, weight in (("long", 10, 0, 1), ("short", 1, 1, 3))
    )
    one = PlanningProblem((long, short), (PadGroup("remote any", ("P1",)),), 60)
    told: list[tuple[float, float]] = []
    found = solve(one, seconds=60, clock=Ticks(), gap=0.0, progress=lambda cost, bound: told.append((cost, bound)))
    assert found.starts == ((0, 2), (0, 1)) and found.objective == found.bound == pytest.approx(2)
    assert told and all(bound <= 2 + 1e-9 <= cost + 2e-9 for cost, bound in told) and told[-1][0] == pytest.approx(2)


def test_changes_are_told_departure_by_departure_and_then_those_that_are_gone() -> None:
    first, second, third = need("A", 30), need("B", 60), need("C", 90)
    held = pads(pad("P1"))
    before = plan([first, second, third], held)
    # an hour and a half later for the first; the others are cancelled
    (changed, *gone) = plan([moved(first, off_block=120)], held, previous=before).changes
    assert changed.startswith("A: ") and gone == ["B: no longer in the schedule", "C: no longer in the schedule"]
    assert plan([first, second, third], held, previous=before).changes == ()


@pytest.mark.parametrize("seed", [2, 4, 6])
def test_on_the_way_to_the_best_plan_no_cost_lies_below_it_and_no_bound_above(seed: int) -> None:
    # ten departures on one pad, drawn; between the first plan and the last there are others
    chance = np.random.default_rng(seed)
    jobs = []
    for at in range(10):
        size, first = int(chance.integers(3, 12)), int(chance.integers(0, 20))
        weight = float(chance.choice([0.5, 1, 3]))
        jobs.append(Job(f"J{at}", 1.0, (Option(0, size, first, weight * np.arange(150.0)),), 500.0, first))
    told: list[tuple[float, float]] = []
    one = PlanningProblem(tuple(jobs), (PadGroup("remote any", ("P1",)),), 200)
    found = solve(one, seconds=60, clock=Ticks(), gap=0.0, progress=lambda cost, bound: told.append((cost, bound)))
    assert found.objective == pytest.approx(found.bound) and len(told) > 2
    assert min(cost for cost, _ in told) == pytest.approx(found.objective)
    assert max(bound for _, bound in told) <= found.objective + 1e-6

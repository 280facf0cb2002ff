"""Who needs treatment, in which order aircraft are called, who is held back, and the night that they are tried on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import ceil, nan

import msgspec
import numpy as np
import pytest
from nights import CHECKLIST, FLEET, NOW, PLAIN, need, pad, pads, sky, table

from advisor.brief.order import TREATMENT_RULE
from advisor.slots import demand
from advisor.slots import order as orders
from advisor.slots.demand import Need
from advisor.slots.field import field, latest_starts
from advisor.slots.files.holdover import FROST_CODE, NAMES
from advisor.slots.files.pads import Cost, Noise, Snow
from advisor.slots.files.schedule import Row
from advisor.slots.holding import hold_back
from advisor.slots.order import AS_BEFORE, FIRST_COME, LATEST_FINISH, Order, Way
from advisor.slots.rehearse import carry_out
from advisor.slots.scenarios import draw

HERE = "60.3,25"
SNOWING = "METAR ZZZA 100450Z 23008KT 4000 -SN OVC013 M02/M03 Q1005"
DRY = "METAR ZZZA 100450Z 23008KT 9999 OVC013 M04/M06 Q1005"
SNOWED = "METAR ZZZA 100350Z 23008KT 1500 SN OVC013 M02/M03 Q1005"
PERHAPS = "TAF ZZZA 100405Z 1004/1018 23009KT 9999 OVC014 PROB30 TEMPO 1005/1008 2000 -SN"
# off at 0600Z, there since 0300Z
ROW = Row("A", NOW + 3600, "single-aisle-jet", parked_since=NOW - 2 * 3600)
ONE = pads(pad("P1"))


def looked(*reports: str, checklist=CHECKLIST) -> Need:
    weather = demand.read_weather(reports, NOW, ROW.off_block, HERE)
    night = demand.Nights(weather, demand.last_moment([ROW], NOW))
    (found,) = demand.needs([ROW], FLEET, checklist, night, ONE)
    return found


def notes(reports: Sequence[str], until: int) -> str:
    return " ".join(demand.read_weather(reports, NOW, until, HERE).notes)


def test_weather_is_not_known_later_than_two_hours_after_the_report_or_the_end_of_the_forecast() -> None:
    late = "No forecast was given for later"
    # reported at 0450Z: known until 0650Z, ten minutes short of two hours from NOW
    assert late not in notes([DRY], NOW + 110 * 60)
    assert f"{late}: what falls after 0650Z is not known." in notes([DRY], NOW + 110 * 60 + 1)
    # a forecast alone, to 1800Z: 13 hours from NOW
    assert late not in notes([PERHAPS], NOW + 13 * 3600)
    assert f"{late}: what falls after 1800Z is not known." in notes([PERHAPS], NOW + 13 * 3600 + 1)


def test_a_class_without_a_rule_for_de_icing_cannot_be_told() -> None:
    (rule,) = (rule for rule in CHECKLIST.rules if rule.id == TREATMENT_RULE)
    others = tuple(one for one in rule.classes if one != FLEET[ROW.aircraft].class_id)
    for rules in ((), (msgspec.structs.replace(rule, classes=others),)):
        kept = tuple(one for one in CHECKLIST.rules if one is not rule) + rules
        found = looked(SNOWING, checklist=msgspec.structs.replace(CHECKLIST, rules=kept))
        assert found.status == "cannot tell"
        assert found.reason == "the checklist has no rule for de-icing of this class"


def test_while_snow_falls_a_second_step_protects_and_what_is_certain_is_said_once() -> None:
    found = looked(SNOWING)
    # the anti-icing step of a medium aircraft takes 4 min where the pads file says nothing
    assert (found.status, found.deposit, found.steps, found.anti_icing_min) == ("expected", "snow", 2, 4)
    assert found.reason == "light snow from 0500Z" and found.maybe == ""


def test_where_treatment_is_sure_what_may_fall_besides_is_told_and_where_it_is_not_it_is_the_reason_itself() -> None:
    sure = looked(SNOWED, DRY, PERHAPS)
    assert sure.status == "expected" and sure.maybe.endswith("light snow from 0500Z in some cases")
    assert sure.reason.endswith(f"; {sure.maybe}")
    unsure = looked(DRY, PERHAPS)
    assert unsure.status == "possible" and unsure.maybe == ""
    assert unsure.reason.count("in some cases") == 1


def test_minutes_for_snow_go_by_what_has_fallen_when_it_leaves() -> None:
    # 1 mm of water more every five minutes, in the central case alone; 1.5 min for each, no more than 8
    one = sky(hours=1, cases=2)
    fallen = np.arange(one.unix_s.size) * np.array([[1.0], [9.0]])
    one = replace(one, columns={**one.columns, "snow_accumulated_mm": fallen})
    snow = Snow(min_per_mm=1.5, most_min=8)
    for number, minutes in enumerate([0, 2, 3, 5, 6, 8, 8]):
        assert minutes == min(8, ceil(1.5 * number))
        assert demand._for_snow(one, NOW + 300 * number, snow) == minutes
    # whoever leaves after the last time that is known: what has fallen by then
    slowly = Snow(min_per_mm=0.5, most_min=8)
    assert demand._for_snow(one, NOW + 3600, slowly) == demand._for_snow(one, NOW + 7200, slowly) == 6


def test_frost_runs_holdover_only_where_nothing_falls_and_frost_can_form() -> None:
    one = sky(hours=1, falling=[(0, "none"), (30, "light snow")], air_c=-5.0)
    wavy = np.tile([1.0, -1.0], one.unix_s.size)[None, : one.unix_s.size]
    codes, air_c = demand.holdover_codes(replace(one, columns={**one.columns, "frost_margin_c": wavy}), FROST_CODE)
    # every five minutes: frost can form at 0, 10, 20 … and snow falls from 30 on
    assert [NAMES[code] for code in codes[0]] == ["frost", "none"] * 3 + ["light snow"] * 7
    assert (air_c == -5.0).all()


# what the night is carried out on

QUIET = Noise(0, 0, 0, 0, 1.0)


def test_waiting_costs_its_priority_times_as_much_as_the_class_says() -> None:
    cost = msgspec.structs.replace(PLAIN, small=0.5, large=2.0)
    needs = [need("A", 0, size="small"), need("B", 0, size="large"), need("C", 0)]
    rows = [replace(one.row, priority=4.0) for one in needs]
    needs = [replace(one, row=row) for one, row in zip(needs, rows, strict=True)]
    assert field(needs, pads(pad("P1"), cost=cost), (), None, NOW).weight.tolist() == [2.0, 8.0, 4.0]


def test_holdover_of_a_departure_more_than_a_day_ahead_is_that_of_its_own_hour() -> None:
    # off at 1500, treated 1503 to 1513 in one step, off again at 1517: 14 min. Until 1490 light snow lets it have 60,
    # from then on moderate snow 10
    weather = sky(hours=27, falling=[(0, "light snow"), (1490, "moderate snow")])
    held = msgspec.structs.replace(ONE, noise=QUIET)
    for flight, off, broken in (("A", 1500, 2), ("B", 1400, 0)):
        needs = [need(flight, off, conditions=weather)]
        place = field(needs, held, (), table({"light snow": 60, "moderate snow": 10}), NOW)
        found = carry_out(place, draw(needs, held, 1, 1), np.zeros(1))
        # run out, and again after the second treatment
        assert found.broken.tolist() == [[broken]]


# the order

FIRST = need("A", 0, window=(0, 20))
SECOND = need("B", 0, window=(0, 90))
IDLE = need("C", 0, status="not indicated")


def as_before(needs: list[Need], keys: list[float]) -> Way:
    return Way(AS_BEFORE, np.array(keys), False, np.full(len(needs), -np.inf))


def test_an_order_that_is_to_be_kept_is_kept_however_much_better_another_is() -> None:
    # one pad, there at 3: A first is off at 17 and makes its window to 20. B first: A 13-23, off at 27, 10 late
    needs, held = [FIRST, SECOND], msgspec.structs.replace(ONE, noise=QUIET)
    place, drawn = field(needs, held, (), None, NOW), draw(needs, held, 4, 1)
    way = as_before(needs, [2.0, 1.0])
    planned = np.full(2, nan)
    kept = orders.choose(place, drawn, planned, seed=1, most=3, before=way, keep=True)
    # 10 min of waiting, 60 for the window and 1 for each of the 7 min beyond it
    assert kept.name == AS_BEFORE and kept.keys.tolist() == [2.0, 1.0] and kept.mean == 10 + 60 + 7
    assert kept.tried == {AS_BEFORE: 77.0}
    better = orders.choose(place, drawn, planned, seed=1, most=3, before=way)
    # B waits 10 min behind A
    assert better.name != AS_BEFORE and better.mean == 10 and better.tried[AS_BEFORE] == 77.0
    # nothing has been given out yet that could be kept
    assert orders.choose(place, drawn, planned, seed=1, most=3, keep=True).mean == 10


def test_first_come_stands_beside_the_others_where_there_is_time_and_is_not_begun_where_there_is_none() -> None:
    needs, held = [FIRST, SECOND], msgspec.structs.replace(ONE, noise=QUIET)
    place, drawn = field(needs, held, (), None, NOW), draw(needs, held, 4, 1)
    planned = np.full(2, nan)
    done = orders.choose(place, drawn, planned, seed=1, most=3)
    # both are there at 3, and A stands first in the file
    assert done.tried[FIRST_COME] == 10 and not done.cut
    cut = orders.choose(place, drawn, planned, seed=1, most=3, stop=lambda: True)
    assert set(cut.tried) == {LATEST_FINISH} and cut.name == LATEST_FINISH and cut.cut


def test_who_needs_nothing_has_no_place_in_the_order() -> None:
    needs = [FIRST, IDLE, SECOND, need("D", 0)]
    place = field(needs, ONE, (), None, NOW)
    order = Order(np.array([3.0, 0.0, 1.0, 2.0]), LATEST_FINISH, False, 0.0, {}, np.full(4, -np.inf))
    assert orders.ranked(place, order).tolist() == [3, 0, 1, 2]


def test_who_needs_nothing_changes_no_sort_of_the_others() -> None:
    needs = [FIRST, need("B", 4, removal=20, window=(0, 90)), need("D", 9)]
    alone, beside = (field(some, ONE, (), None, NOW) for some in (needs, [*needs, IDLE]))
    found = orders._sorts(alone, np.full(3, nan))
    for name, keys in orders._sorts(beside, np.full(4, nan)).items():
        assert keys[:3].tolist() == pytest.approx(found[name].tolist()), name
    # 10, 20 and 10 min: lengths of 3/4, 3/2 and 3/4 of their mean
    sort = found["latest finish, and 10 min for what waits cheaply"] - found[LATEST_FINISH]
    assert sort.tolist() == pytest.approx([-2.5, 5.0, -2.5])


def test_a_trial_moves_one_departure_or_exchanges_two_most_often_near_and_now_and_then_far() -> None:
    dice = np.random.default_rng(1)
    away = []
    for _ in range(300):
        trial = orders._moved(np.arange(12), dice)
        assert sorted(trial) == list(range(12))
        away.append(int(np.abs(np.argsort(trial) - np.arange(12)).max()))
    assert max(away) >= 5 and np.bincount(away).argmax() == 1
    # of two there is only one other order
    assert {tuple(orders._moved(np.arange(2), dice)) for _ in range(20)} == {(0, 1), (1, 0)}


# who is held back

SNOW = sky(falling="light snow")


def test_no_more_times_of_their_own_are_tried_than_asked_for() -> None:
    # one pad and 20 min of holdover; both windows open at 60, and 10 + 4 min before it is 46. Called then A is off at
    # 60 and B, treated 56 to 66, at 70. Four minutes earlier both still hold, and B is off at 66
    needs = [need("A", 0, window=(60, 70), conditions=SNOW), need("B", 0, window=(60, 90), conditions=SNOW)]
    held = msgspec.structs.replace(pads(pad("P1"), cost=Cost()), noise=QUIET)
    place, drawn = field(needs, held, (), table({"light snow": 20}), NOW), draw(needs, held, 4, 1)
    keys = latest_starts(place)

    def first(most: int) -> list[float]:
        return hold_back(place, drawn, keys, False, most=most).tolist()

    assert first(0) == [-np.inf, -np.inf] and first(1) == [46.0, 46.0] and first(2) == [42.0, 42.0]
    # of the orders to be tried, a third each time; before the search, and after it
    for most, minute in ((3, 46.0), (6, 42.0)):
        ways = list(orders._sorted_ways(place, np.full(2, nan)))
        found = orders._found_ways(place, drawn, ways, 1, most, lambda: False)
        assert len(found) == 3 and {tuple(one.not_before) for one in found} == {(minute, minute)}


def test_whoever_is_treated_on_its_stand_is_held_until_its_whole_way_fits_before_the_window() -> None:
    # on the stand 10 min, then 3 + 4 to the runway: 43; on a pad 3 min away 10 and 4: 46
    needs = [
        need("A", 0, window=(60, 90), place="stand", conditions=SNOW),
        need("B", 0, window=(60, 90), place="remote", conditions=SNOW),
    ]
    held = msgspec.structs.replace(pads(pad("T1", place="stand"), pad("P1"), cost=Cost()), noise=QUIET)
    place, drawn = field(needs, held, (), table({"light snow": 20}), NOW), draw(needs, held, 4, 1)
    first = hold_back(place, drawn, latest_starts(place), False, most=1)
    assert first.tolist() == [43.0, 46.0]
    found = carry_out(place, drawn, latest_starts(place), not_before=first)
    assert (found.take_off == 60).all() and found.cost.sum() == 0

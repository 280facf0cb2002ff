"""What a night needs and how it is put to the solver, part by part: reasons, closures, limits, starts and costs."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
from msgspec import structs
from nights import CHECKLIST, FLEET, NOW, closure, need, pad, pads, sky, table
from test_demand_and_order_by_hand import DRY, HERE, ROW, SNOWED, SNOWING

from advisor.brief.order import TREATMENT_RULE
from advisor.checklist.evaluate import Finding
from advisor.conditions import Conditions
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots import build as building
from advisor.slots import cases, demand, stops
from advisor.slots.build import Held, Wish, build
from advisor.slots.files.holdover import FROST_CODE, NAMES
from advisor.slots.files.pads import Pads, Runway, Snow
from advisor.slots.limits import limits, limits_by_case, shown

ONE = pads(pad("P1"))


def with_columns(one: Conditions, **columns: object) -> Conditions:
    """The same with other columns, each broadcast over its cases and times."""
    made = {name: np.broadcast_to(np.asarray(values), one.shape) for name, values in columns.items()}
    return replace(one, columns={**one.columns, **made})


# who needs what


def test_ways_grow_by_the_heaviest_snow_of_the_central_case_while_taxiing() -> None:
    snow = Snow(taxi_light=1.1, taxi_moderate=1.5, taxi_heavy=2.0)
    row = replace(ROW, to_pad_min=10, to_runway_min=4)
    two = sky(hours=1, cases=2)
    late = np.arange(two.unix_s.size) < 3

    def ways(*levels: float, other: float = 0.0) -> tuple[int, int]:
        lines = np.full(two.shape, other)
        lines[0, :4] = [*levels, 0, 0, 0, 0][:4]
        return demand._ways(row, with_columns(two, snow_intensity=lines), late, snow)

    # none, very light and light, moderate, heavy and more
    assert [ways(level) for level in (0, 1, 2, 3, 4, 5)] == [(10, 4), (11, 5), (11, 5), (15, 6), (20, 8), (20, 8)]
    assert ways(0, 1, 3) == (15, 6) and ways(0, 0, 0, 4) == (10, 4) and ways(0, other=4.0) == (10, 4)
    assert ways(nan, 3) == (15, 6) and ways(nan, nan, nan) == (10, 4)


def test_a_night_is_looked_at_for_six_hours_past_its_last_departure() -> None:
    later = replace(ROW, ready=ROW.off_block + 60), replace(ROW, take_off_from=ROW.off_block + 120)
    assert demand.last_moment([ROW], NOW) == ROW.off_block + 6 * 3600
    assert demand.last_moment([ROW, *later], NOW) == ROW.off_block + 120 + 6 * 3600
    assert demand.last_moment([ROW, later[0]], NOW) == ROW.off_block + 60 + 6 * 3600
    assert demand.last_moment([ROW], NOW + 99_999) == NOW + 99_999 + 6 * 3600


def test_departures_parked_since_the_same_hour_share_one_night() -> None:
    weather = demand.read_weather([DRY], NOW, ROW.off_block, HERE)
    nights = demand.Nights(weather, NOW + 7200)
    profile = FLEET[ROW.aircraft]

    def of(**changes: object):
        return nights.of(replace(ROW, parked_since=None, **changes), profile)  # type: ignore[arg-type]

    first = nights.of(replace(ROW, parked_since=NOW - 3600), profile)
    assert nights.of(replace(ROW, parked_since=NOW - 1), profile) is first
    assert nights.of(replace(ROW, parked_since=NOW), profile) is not first
    # who comes later counts as not parked yet, and so does of whom nobody says
    assert nights.of(replace(ROW, parked_since=NOW + 1), profile) is of()
    assert of(fuel_temperature_c=-8.0) is not of() and of(fuel_temperature_c=-8.0) is of(fuel_temperature_c=-8.0)
    assert len(nights.made) == 4 and of().unix_s[-1] == NOW + 7200 and of().unix_s[0] == NOW


def test_what_fell_before_counts_where_nobody_says_since_when_an_aircraft_stands_there() -> None:
    weather = demand.read_weather([SNOWED, SNOWING, DRY], NOW, ROW.off_block, HERE)
    nights = demand.Nights(weather, NOW + 7200)
    profile = FLEET[ROW.aircraft]
    assert nights.if_there_before(ROW, profile) is None
    there = nights.if_there_before(replace(ROW, parked_since=None), profile)
    # reported at 0350Z and 0450Z; the last of them
    assert there is not None and there[1] == NOW - 600
    assert (profile.id, None, NOW - 4200) in nights.made
    dry = demand.Nights(demand.read_weather([DRY], NOW, ROW.off_block, HERE), NOW + 7200)
    assert dry.if_there_before(replace(ROW, parked_since=None), profile) is None
    assert cases.untold(NOW - 600) == "something frozen was reported at 0450Z, and the time parked is not given"


def test_what_falls_hours_after_a_take_off_is_no_reason_to_treat() -> None:
    later = "TAF ZZZA 100405Z 1004/1018 23009KT 9999 OVC014 FM100900 23009KT 2000 SN OVC010"
    rows = [ROW, replace(ROW, flight="B", off_block=NOW + 4 * 3600)]
    weather = demand.read_weather([DRY, later], NOW, rows[1].off_block, HERE)
    nights = demand.Nights(weather, demand.last_moment(rows, NOW))
    # off at 0600Z and at 0900Z, when the snow begins
    found = demand.needs(rows, FLEET, CHECKLIST, nights, ONE)
    assert [one.steps for one in found] == [1, 2] and ["snow" in one.reason for one in found] == [False, True]
    assert (found[0].status, found[1].status, found[1].deposit) == ("possible", "expected", "snow")


def reason(one: Conditions, status: str = "expected", time: int = 2, case: int = 0, **how: object) -> str:
    rule = CHECKLIST.rule(TREATMENT_RULE)
    assert rule is not None
    return demand._reason(Finding(rule, status, case, time, **how), one, NOW, NOW + 3600)  # type: ignore[arg-type]


def test_why_a_treatment_is_wanted_is_told_by_what_falls_else_by_the_skin_else_by_what_is_met() -> None:
    dry = sky(hours=2)
    assert reason(sky(hours=2, falling="light snow")) == "light snow from 0500Z"
    frosty = with_columns(dry, frost_margin_c=1.25)
    assert reason(frosty) == "skin 1.2 °C below where frost can form at 0510Z"
    tank = with_columns(dry, frost_margin_c=0.0, tank_frost_margin_c=0.5)
    assert reason(tank, time=3) == "skin over the tanks 0.5 °C below where frost can form at 0515Z"
    met = with_columns(dry, hail=1, blowing_snow=1, deposit_seen=0)
    assert reason(met) == "hail, blowing snow at 0510Z" and reason(dry) == "the checklist rule is met at 0510Z"
    # what falls in another case alone is the reason only of what is not sure
    codes = np.zeros((2, dry.unix_s.size))
    codes[1] = TREATMENT_CATEGORIES.index("light snow")
    two = with_columns(sky(hours=2, cases=2), treatment_category=codes)
    assert reason(two, "possible", case=1) == reason(two, "likely", case=1) == "light snow from 0500Z in some cases"
    assert reason(two) == "the checklist rule is met at 0510Z"


def test_what_is_not_indicated_is_told_with_how_far_the_skin_is_from_frost_and_never_said_to_be_absent() -> None:
    two = sky(hours=2, cases=2)
    margin = np.full(two.shape, nan)
    # within the hour; later it would be nearer
    margin[0, :5], margin[1, 3], margin[0, 20] = -3.0, -2.5, -0.1
    found = reason(with_columns(two, frost_margin_c=margin), "not indicated")
    assert found == (
        "nothing frozen or freezing reported or forecast, skin at least 2.5 °C above where frost could form, "
        "until 0600Z: only the inspection can tell"
    )
    unknown = reason(with_columns(two, frost_margin_c=nan, rain=-1), "not indicated")
    assert unknown == (
        "what falls is not known for all of that time, and by the temperature alone it would not freeze, "
        "until 0600Z: only the inspection can tell"
    )
    assert reason(sky(hours=2), "cannot tell") == "not known: the weather at that time"


def test_codes_of_a_holdover_table_are_what_falls_or_frost_and_what_nobody_told_is_of_unknown_kind() -> None:
    one = sky(hours=1)
    codes = np.array([[0, 0, 0, -1, 3] + [0] * 8])
    margin = np.array([[1.0, 0.0, -1.0, 1.0, 1.0] + [-1.0] * 8])
    found, air = demand.holdover_codes(with_columns(one, treatment_category=codes, frost_margin_c=margin), FROST_CODE)
    assert [NAMES[code] for code in found[0, :5]] == ["frost", "none", "none", "unknown", NAMES[3]]
    assert air.shape == one.shape and (air == -2.0).all()


# when pads are shut


def spans(*met: str) -> list[tuple[bool, float, float]]:
    """Spans of some cases, each a text of x for met by five minutes; minutes."""
    lines = np.array([[letter == "x" for letter in line] for line in met])
    times = NOW + 300.0 * np.arange(lines.shape[1])
    return [(sure, (a - NOW) / 60, (b - NOW) / 60) for sure, a, b in stops._spans(lines, times, 60)]


def test_a_span_lasts_to_the_next_time_at_which_it_is_over_and_on() -> None:
    # and a minute more
    assert spans("-xx--x-") == [(True, 5, 16), (True, 25, 31)] and spans("x", "x") == [(True, 0, 1)]
    # in some cases only: what is not in all of them
    assert spans("xx--", "-xx-") == [(True, 5, 11), (False, 0, 6), (False, 10, 16)] and spans("--") == []
    # to the end of what is known
    assert spans("--xx") == [(True, 10, 16)]


def test_gusts_shut_where_they_are_over_the_limit_of_a_pad_and_not_at_it() -> None:
    held = pads(pad("P1", wind=30.0), pad("P2", wind=40.0), pad("P3"), pad("P4", wind=30.0))

    def shut(gust: float) -> list[tuple[tuple[str, ...], str]]:
        sure, may = stops.closures(sky(gust_kt=gust), held, NOW)
        assert may == ()
        return [(one.pads, one.why.split(",")[0]) for one in sure]

    first = (("P1", "P4"), "gusts over the limit of 30 kt")
    assert (
        shut(30.0) == [] and shut(30.1) == [first] and shut(41) == [first, (("P2",), "gusts over the limit of 40 kt")]
    )


def test_wind_that_nobody_told_may_shut_a_pad_for_as_long_as_it_is_not_known() -> None:
    gust = np.where(np.arange(sky().unix_s.size) < 3, nan, 10.0)
    sure, [one] = stops.closures(with_columns(sky(), gust_kt=gust), pads(pad("P1", wind=30.0)), NOW)
    assert sure == () and ((one.from_s - NOW) / 60, (one.until_s - NOW) / 60, one.open_end) == (0, 15, False)


def test_lightning_shuts_only_where_the_file_lets_it() -> None:
    storm = sky(thunder=(60, 90))
    off = structs.replace(ONE, stops=structs.replace(ONE.stops, lightning=False))
    assert stops.closures(storm, off, NOW) == ((), ())
    [one], _ = stops.closures(storm, ONE, NOW)
    assert ((one.from_s - NOW) / 60, (one.until_s - NOW) / 60, one.why) == (60, 125, "lightning")


# holdover minute by minute


def test_the_holdover_of_each_case_stands_on_its_own() -> None:
    two = sky(hours=1, falling="light snow", cases=2)
    codes = np.array(two.columns["treatment_category"])
    codes[1, 4:] = 0
    both = with_columns(two, treatment_category=codes)
    found = limits_by_case(both, table({"light snow": 30}), NOW, 40)
    # lowest of 1, 2, 4 … 32 minutes from each
    assert found.shape == (2, 6, 40) and (found[0] == 30).all()
    # snow until the sample at 15, nothing from 20 on: 16 to 19 lie between the two
    assert np.flatnonzero(np.isfinite(found[1, 0])).tolist() == list(range(20)) and np.isinf(found[1, 3, 20:]).all()
    assert found[1, 3, 19] == 30 and limits(both, table({"light snow": 30}), NOW, 40).over(0, 39) == 30
    assert (shown(30.9), shown(inf), shown(nan)) == (30, None, None)


# what is put to the solver


def test_minutes_count_from_the_first_whole_one_at_or_after() -> None:
    assert [building.minute_up(NOW + seconds, NOW) for seconds in (-61, -60, -59, 0, 1, 60, 61)] == [
        -1,
        -1,
        0,
        0,
        1,
        1,
        2,
    ]


def test_a_treatment_without_a_slot_costs_its_share_and_a_twentieth_at_least() -> None:
    held = structs.replace(ONE, margin=structs.replace(ONE.margin, possible_share=0.01))
    by_status = {
        name: building.unplanned_cost(need("A", 0, status=name), held) for name in ("expected", "likely", "possible")
    }
    assert by_status == {"expected": 1500, "likely": 1200, "possible": 75}
    assert building.share_of("cannot tell", ONE) == 0.4


def timing(one: object, kind: object, begin: int = 0) -> tuple[object, ...]:
    found = building._timing(one, kind, NOW, NOW + 60 * begin, 15, 5)  # type: ignore[arg-type]
    return found.first, found.last_step, found.to_runway, found.leave, found.from_, found.until, found.after


def test_a_start_on_a_pad_and_on_a_stand_counts_from_when_it_can_be() -> None:
    one = need("A", 30, anti=4, window=(60, 90), to_pad=3, to_runway=5)
    assert timing(one, pad("P1")) == (33, 10, 5, 0, 60, 90, 0)
    # a truck may come 15 min before off-block; its way is longer by that to the pad, and it leaves at off-block
    stand = pad("T", place="stand")
    assert timing(one, stand) == (15, 10, 8, 30, 60, 90, 0)
    assert timing(need("A", 30, ready=20), stand) == (20, 0, 7, 30, None, None, 0)
    assert timing(need("A", -30), stand) == (0, 0, 7, 0, None, None, 0)
    # nothing begins before it may, and engines that were off are started again
    assert timing(one, pad("P1", engines="off"), 40)[::6] == (40, 5) and timing(one, stand, 20)[0] == 20
    ragged = replace(one, row=replace(one.row, take_off_from=NOW + 61, take_off_until=NOW + 119))
    assert timing(ragged, pad("P1"))[4:6] == (2, 1)


def test_a_take_off_follows_the_treatment_and_is_not_before_the_stand_is_left_or_the_window_opens() -> None:
    one = building.Timing(0, 10, 0, 4, 30, 40, None, 2)
    # treated, engines started, and then the way; not before 30 + 4, nor before 40
    assert one.take_off(np.array([0, 25, 40])).tolist() == [40, 41, 56]
    assert replace(one, from_=None).take_off(np.array([0, 18, 19])).tolist() == [34, 34, 35]


def test_pads_of_one_place_size_engines_and_hours_are_one_group() -> None:
    held = pads(
        pad("P1"),
        pad("P2", size="small"),
        pad("P3"),
        pad("P4", hours=(0, 99)),
        pad("P5", engines="off"),
        pad("T", place="stand"),
        closures=(),
    )
    groups = build([need("A", 0)], held, (closure("T", 5, 6),), None, NOW).problem.groups
    assert [group.pads for group in groups] == [("P1", "P3"), ("P2",), ("P4",), ("P5",), ("T",)]
    assert [group.name for group in groups][:2] == ["remote any", "remote small"]


def options(held: Pads, *shut: object, **how: object) -> dict[str, list[float]]:
    """What each start of A costs from its first on, by the first pad of its group; 3 min away, 10 of treatment."""
    one = need("A", 0, size=str(how.pop("size", "medium")), place=str(how.pop("place", "")))
    made = build([one], held, shut, None, NOW, **how)  # type: ignore[arg-type]
    [job] = made.problem.jobs
    return {made.problem.groups[each.group].pads[0]: each.costs.tolist() for each in job.options}


def test_a_start_can_be_had_where_the_pad_is_open_for_all_of_the_treatment() -> None:
    found = options(pads(pad("P1", hours=(0, 20))), closure("P1", 14, 15))
    # from 3 it would end at 13, from 4 at 14; after that there is no room until it closes at 20
    assert found == {"P1": [0, 1]}
    assert options(pads(pad("P1", hours=(0, 26))), closure("P1", 14, 15))["P1"] == [0, 1, *[inf] * 10, 12, 13]
    # what each waits counts from the soonest that its own times allow, on any pad, open or not
    assert options(pads(pad("P1", hours=(5, 17))))["P1"] == [inf, inf, 2, 3, 4]
    by_pad = options(pads(pad("P1", engines="off"), pad("P2", hours=(20, 31))))
    assert by_pad["P1"][0] == 5 and by_pad["P2"][17:] == [17, 18]


def test_a_pad_is_taken_for_the_treatment_for_starting_the_engines_and_until_it_is_cleared() -> None:
    for engines, minutes in (("running", 16), ("off", 21)):
        built = build([need("A", 0, anti=4)], pads(pad("P1", engines=engines), clear=2), (), None, NOW)
        assert built.problem.jobs[0].options[0].occupied_min == minutes


def test_a_departure_has_options_only_where_it_is_taken() -> None:
    held = pads(pad("P1"), pad("P2", size="small"), pad("T", place="stand"))
    assert set(options(held)) == {"P1", "T"} and set(options(held, size="small")) == {"P1", "P2", "T"}
    assert set(options(held, place="stand")) == {"T"} and set(options(held, place="remote")) == {"P1"}


def test_what_a_start_costs_with_a_take_off_that_the_runway_lets_it_have() -> None:
    held = structs.replace(pads(pad("P1"), clear=2), runway=Runway(separation_s=60))
    built = build([need("A", 0, anti=4)], held, (), table({"light snow": 30}), NOW)
    [option] = built.problem.jobs[0].options
    assert option.take_off is not None and option.by_take_off is not None and built.problem.spacing_s == 60
    assert (option.occupied_min, option.first, option.take_off[:2].tolist()) == (16, 3, [21, 22])
    assert option.by_take_off(np.array([0, 1]), np.array([21.0, 25.5])).tolist() == [0, 4.5]
    # another start than wished for costs besides: four for the change and a quarter for each minute
    wished = build([need("A", 0, anti=4)], held, (), None, NOW, wishes={"A": Wish("P1", NOW + 180)})
    [option] = wished.problem.jobs[0].options
    assert option.by_take_off is not None
    found = option.by_take_off(np.array([0, 5]), np.array([21.0, 26.0]))
    assert found.tolist() == [0, 5 + 4 + 1.25] and option.costs[5] == 5 + 4 + 1.25


def test_what_is_held_has_one_start_and_waits_for_nothing_where_that_is_sooner_than_it_could() -> None:
    for begun, cost in ((1, 0), (3, 0), (5, 2)):
        built = build([need("A", 0)], ONE, (), None, NOW, held={"A": Held("P1", NOW + 60 * begun)})
        [job] = built.problem.jobs
        [option] = job.options
        assert (option.first, option.costs.tolist(), job.held_pad, job.ready) == (begun, [cost], "P1", begun)
        assert built.best == (17,) and job.unplanned_cost == 1e7


def test_what_is_over_and_cleared_takes_no_room() -> None:
    held = pads(pad("P1"), clear=2)
    loads = [
        build([need("A", 0)], held, (), None, now, held={"A": Held("P1", NOW)}).problem.jobs[0].load
        for now in (NOW + 719, NOW + 720)
    ]
    assert loads == [1, 0]
    possible = need("A", 0, status="possible")
    assert build([possible], held, (), None, NOW).problem.jobs[0].load == 0.5
    assert build([possible], held, (), None, NOW, reserve_all=True).problem.jobs[0].load == 1
    assert build([replace(possible, status="likely")], held, (), None, NOW).problem.jobs[0].load == 1


def test_nothing_new_begins_before_it_may() -> None:
    built = build([need("A", 0)], ONE, (), None, NOW, not_before=NOW + 601)
    assert built.problem.jobs[0].options[0].first == 11 and built.best == (25,)

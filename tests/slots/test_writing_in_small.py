"""A plan written out, part by part: times and delays, what a pad is told, load, notes, the order beside the starts."""

from __future__ import annotations

from dataclasses import replace

from msgspec import structs
from nights import NOW, closure, minute, need, night, pad, pads, sky, table
from test_writing_by_hand import stands

from advisor.departure import rfc3339
from advisor.slots import writing
from advisor.slots.build import Built, Held, build
from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads, Runway
from advisor.slots.result import DepartureOut
from advisor.slots.solver.named import Placement
from advisor.slots.solver.settle import Settled

ONE = pads(pad("P1"))
SNOW = sky(falling="light snow")


def told(
    one: Need,
    settled: Settled | None = None,
    *,
    held: Pads = ONE,
    holdover: Holdover | None = None,
    actual: Actual | None = None,
    built: Built | None = None,
    now: int = NOW,
) -> DepartureOut:
    """What is written of a departure alone."""
    about = night([one], held, holdover, None, now, {} if actual is None else {one.row.flight: actual})
    made = built or build([one], held, (), holdover, now)
    job = 0 if made.needs else None
    return writing._departure(about, one, made, settled or stands(3), job, None)


# times


def test_minutes_are_rounded_up() -> None:
    assert [writing._minutes(seconds) for seconds in (-61, -60, -1, 0, 1, 60, 60.5, 61)] == [-1, -1, 0, 0, 1, 1, 2, 2]


def test_a_start_has_its_end_its_last_step_and_its_take_off() -> None:
    # at 5 on the pad: 10 and 4 min of treatment, and 4 to the runway; its way and times alone let it go at 3 + 14 + 4
    found = told(need("A", 0, anti=4), stands(5))
    times = [found.start, found.last_step_start, found.end, found.take_off]
    assert [minute(one) for one in times] == [5, 15, 19, 23]
    # scheduled to be off at 0 + 3 + 4
    assert (found.delay_min, found.wait_min, found.runway_wait_min) == (23 - 7, 23 - 21, 0)
    assert (found.pad, found.steps, found.treatment_min, found.frozen, found.window_missed) == (
        "P1",
        2,
        14,
        False,
        False,
    )
    # of one step it is the only one that holdover runs from
    assert minute(told(need("A", 0), stands(5)).last_step_start) == 5


def test_the_runway_makes_a_take_off_later_and_part_of_a_minute_counts_as_one() -> None:
    one = need("A", 0, window=(0, 20))
    built = build([one], structs.replace(ONE, runway=Runway(separation_s=60)), (), None, NOW)
    for off_s, take_off_s, waits, missed in ((-1, 17 * 60, 0, False), (1110, 1110, 2, False), (1201, 1201, 4, True)):
        settled = replace(stands(3), places=(Placement(0, 3, 0, off_s),))
        found = told(one, settled, built=built)
        assert (found.take_off, found.runway_wait_min) == (rfc3339(NOW + take_off_s), waits)
        assert found.delay_min == -(-take_off_s // 60) - 7 and found.window_missed is missed
    # at the end of its window it is in time
    assert not told(need("A", 0, window=(0, 17)), stands(3)).window_missed
    assert told(need("A", 0, window=(0, 16)), stands(3)).window_missed


def test_who_begins_before_its_own_times_would_let_it_has_waited_for_nothing() -> None:
    # held at 0, though it is 3 min away: off at 14, which is 3 min sooner than it could
    one = need("A", 0)
    built = build([one], ONE, (), None, NOW, held={"A": Held("P1", NOW)})
    assert told(one, stands(0), built=built).wait_min == 0


def test_a_crew_is_called_before_the_sooner_of_off_block_and_start() -> None:
    # so long before as the checklist says, however long that is
    def called(one: Need, start: int, **more: object) -> tuple[int, bool]:
        found = told(one, stands(start), **more)  # type: ignore[arg-type]
        return minute(found.latest_call), found.call_passed

    lead = -called(need("A", 0), 3)[0]
    assert lead > 0
    assert called(need("A", 100), 103)[0] == 100 - lead
    truck = pads(pad("P1", place="stand"))
    assert called(need("A", 100), 90, held=truck)[0] == 90 - lead
    assert called(need("A", lead), lead + 3) == (0, False) and called(need("A", lead - 1), lead + 3) == (-1, True)
    # whoever is off has been called
    assert called(need("A", 0), 3, actual=Actual("A", off=NOW)) == (-lead, False)
    # without a slot by its off-block time
    unplanned = told(need("A", lead), Settled((None,), (None,), ((),), 0, 0, 0, "optimal"))
    assert (minute(unplanned.latest_call), unplanned.call_passed, unplanned.start) == (0, False, None)
    assert told(need("A", 0), Settled((None,), (None,), ((),), 0, 0, 0, "optimal")).call_passed


def test_who_is_gone_or_needs_nothing_has_its_take_off_delay_and_whether_its_window_was_missed() -> None:
    # off at 0 and 7 min away; the window is open from 5 to 20
    one = need("A", 0, window=(5, 20))
    for departed, late, missed in ((6, 0, False), (7, 0, False), (9, 2, False), (20, 13, False), (21, 14, True)):
        found = told(one, actual=Actual("A", departed=NOW + 60 * departed))
        assert (minute(found.take_off), found.delay_min, found.window_missed) == (departed, late, missed)
        assert (found.state, found.start, found.latest_call) == ("departed", None, None)
    # the window opens after it could be off
    assert told(need("A", 0, window=(12, 20)), actual=Actual("A", departed=NOW + 900)).delay_min == 3
    assert told(need("A", 0), actual=Actual("A", departed=NOW + 421)).delay_min == 1
    for leaves, late, missed in ((0, 0, False), (13, 13, False), (14, 14, True)):
        idle = need("A", 0, status="not indicated", ready=leaves, window=(5, 20))
        found = told(idle)
        assert (minute(found.take_off), found.delay_min, found.window_missed) == (leaves + 7, late, missed)


# holdover


def test_holdover_is_told_with_what_is_left_of_it_at_take_off() -> None:
    one = need("A", 0, anti=4, conditions=SNOW)
    # the last step at 13, off at 21
    for holds, left, broken in ((9, 1, False), (8, 0, False), (7, -1, True)):
        found = told(one, holdover=table({"light snow": holds}))
        assert (found.holdover_min, found.holdover_left_min, found.holdover_broken) == (holds, left, broken)
        assert (found.holdover_note, found.no_guideline) == (None, False)


def test_why_there_is_no_holdover_is_told() -> None:
    snow = table({"light snow": 30})
    dry, heavy = need("A", 0), need("A", 0, conditions=sky(falling="heavy snow"))
    found = told(dry, holdover=snow)
    assert (found.holdover_min, found.no_guideline) == (None, False)
    assert found.holdover_note == "nothing falls then in any case: no holdover time runs"
    found = told(heavy, holdover=snow)
    assert (found.holdover_min, found.no_guideline, found.holdover_broken) == (None, True, False)
    assert str(found.holdover_note).startswith("no guideline exists for heavy snow")
    found = told(heavy)
    assert (found.holdover_min, found.holdover_note) == (None, "no holdover file was given")


def test_why_there_is_none_is_what_falls_from_the_last_step_to_take_off() -> None:
    # heavy snow at 600 alone, where the treatment begins; off at 614, hail from 625 on
    falling = [(0, "hail"), (30, "light snow"), (600, "heavy snow"), (605, "light snow"), (625, "hail")]
    one = need("A", 597, conditions=sky(falling=falling))
    found = told(one, stands(600), holdover=table({"light snow": 30}))
    assert (found.no_guideline, str(found.holdover_note).split(": ")[0]) == (True, "no guideline exists for heavy snow")


def test_who_waits_for_a_window_is_moved_later_only_as_far_as_its_holdover_and_where_one_runs() -> None:
    def later(one: Need, start: int = 3, holdover: Holdover | None = None, **how: object) -> dict[int, int]:
        built = build([one], ONE, (), holdover or table({"light snow": 30}), NOW, **how)  # type: ignore[arg-type]
        return writing.late_enough(built, stands(start), ONE)

    waits = need("A", 0, window=(60, 90), conditions=SNOW)
    # 60 less 4 to the runway, 10 on the pad and 3 in hand
    assert later(waits) == {0: 43} and later(waits, 42) == {0: 43} and later(waits, 43) == {}
    # 17 min from then to the window: a holdover of 16 runs out in any case
    assert later(waits, holdover=table({"light snow": 17})) == {0: 43}
    assert later(waits, holdover=table({"light snow": 16})) == {}
    assert later(need("A", 0, conditions=SNOW)) == {} and later(need("A", 0, window=(60, 90))) == {}
    assert later(waits, held={"A": Held("P1", NOW + 180)}) == {}
    # of two steps the last begins 10 min after the start: 60 - 4 - 14 - 3, the root of 2.8 and 0.6 squared being 2.9
    two = need("A", 0, anti=4, window=(60, 90), conditions=SNOW)
    assert later(two, holdover=table({"light snow": 11})) == {0: 39}
    assert later(two, holdover=table({"light snow": 10})) == {}


# what is passed on


def test_a_pad_is_told_who_comes_from_where_what_to_plan_for_and_when() -> None:
    assert writing._pad_line(need("A", 30, anti=4, size="large")) == (
        f"A, stand A1, {need('A', 0, size='large').profile.name}: "
        "plan for snow (expected, not inspected) on wings, tail and fuselage, de-icing and anti-icing, off-block 0530Z"
    )
    one = need("A", 30, ready=25)
    bare = replace(
        one, row=replace(one.row, stand=""), deposit="unknown", status="cannot tell", maybe="light snow from 0500Z"
    )
    assert writing._pad_line(bare).split(": ", 1)[1] == (
        "plan for frost, snow or ice (not known, not inspected) on wings, tail and fuselage, de-icing"
        " (plan for more: light snow from 0500Z), ready 0525Z"
    )
    assert "A, stand not given, " in writing._pad_line(bare)
    assert "on wings and tail, de-icing, off-block" in writing._pad_line(replace(need("A", 0), deposit="frost"))


def test_load_is_told_by_the_quarter_with_shares_and_open_minutes() -> None:
    # A, only possible, reserves half of a pad from 3 to 13; B all of one from 13 to 23; P2 is shut from 10 to 20
    needs = [need("A", 0, status="possible"), need("B", 10)]
    held = pads(pad("P1"), pad("P2"))
    assert held.margin.load == 0.5
    shut = (closure("P2", 10, 20),)
    built = build(needs, held, shut, None, NOW)
    option = [next(at for at, one in enumerate(job.options) if one.group == 0) for job in built.problem.jobs]
    settled = Settled(((option[0], 3), (option[1], 13)), ("P1", "P1"), ((), ()), 0.0, 0.0, 0.0, "optimal")
    found = writing.written(night(needs, held), needs, built, settled, shut, (), None)
    assert [(minute(one.at), one.load_min, one.capacity_min) for one in found.load] == [(0, 7, 25), (15, 8, 25)]
    nothing = Settled((None, None), (None, None), ((), ()), 0.0, 0.0, 0.0, "optimal")
    assert writing.written(night(needs, held), needs, built, nothing, shut, (), None).load == ()


def test_load_is_told_to_a_hundredth_up_to_the_quarter_of_the_last_minute_that_is_used() -> None:
    # a third of a pad from 3 to 16: the last of its minutes is the first of the second quarter
    one = need("A", 0, status="possible", removal=13)
    held = structs.replace(ONE, margin=structs.replace(ONE.margin, possible_share=0.3, extra=0.0))
    assert held.margin.sharing == 3
    built = build([one], held, (), None, NOW)
    found = writing.written(night([one], held), [one], built, stands(3), (), (), None)
    assert [(minute(each.at), each.load_min) for each in found.load] == [(0, 4), (15, 0.33)]


def test_what_a_plan_costs_is_told_to_a_millionth() -> None:
    one = need("A", 0)
    built = build([one], ONE, (), None, NOW)
    settled = replace(stands(3), objective=2 / 3, bound=1 / 7, first_come=8 / 9)
    found = writing.written(night([one], ONE), [one], built, settled, (), (), None)
    # 2/3 less 1/7 are 11/14 of 2/3
    assert (found.objective, found.bound, found.first_come, found.gap) == (0.666667, 0.142857, 0.888889, 0.785714)


def test_what_a_plan_costs_counts_those_that_no_pad_takes() -> None:
    needs = [need("A", 0), need("B", 0, size="large")]
    held = pads(pad("P1"), pad("P2", size="small", place="stand"))
    other = need("B", 0, size="large", place="stand")
    built = build([needs[0], other], held, (), None, NOW)
    assert built.outside == 1500
    settled = replace(stands(3), objective=500.0, bound=300.0, first_come=700.0)
    found = writing.written(night([needs[0], other], held), [needs[0], other], built, settled, (), (), None)
    assert (found.objective, found.bound, found.first_come, found.gap) == (2000, 1800, 2200, 0.1)
    assert found.status == "time limit" and [one.flight for one in found.unplanned] == ["B"]
    stopped = replace(settled, status="stopped")
    assert writing.written(night(needs, held), [needs[0], other], built, stopped, (), (), None).status == "stopped"
    # a ten-thousandth of what it costs is no gap: 0.2 of 2000
    for bound, status in ((499.8, "optimal"), (499.7, "time limit")):
        near = replace(settled, bound=bound)
        assert writing.written(night(needs, held), [needs[0], other], built, near, (), (), None).status == status
    free = build([needs[0]], ONE, (), None, NOW)
    found = writing.written(night(needs[:1], ONE), needs[:1], free, stands(3), (), (), None)
    assert (found.gap, found.status, found.objective) == (0, "optimal", 0)


def test_closures_are_told_with_whether_they_are_only_possible() -> None:
    one = need("A", 0)
    built = build([one], ONE, (), None, NOW)
    shut, maybe = (closure("P1", 50, 60),), (closure("P1", 70, 80),)
    found = writing.written(night([one], ONE), [one], built, stands(3), shut, maybe, None)
    assert [(minute(each.from_), minute(each.until), each.possible) for each in found.closures] == [
        (50, 60, False),
        (70, 80, True),
    ]


def test_notes_say_how_many_are_not_certain_and_what_the_bound_leaves_out() -> None:
    def notes(held: Pads, *statuses: str) -> str:
        needs = [need(str(number), 0, status=status) for number, status in enumerate(statuses)]
        return "\n".join(writing._notes(night(needs, held), needs, stands(3)))

    many = notes(ONE, "possible", "cannot tell", "expected", "likely", "not indicated")
    assert "Treatments that are not certain: 2, planned as if 40 % of them were needed. Up to 2 of them" in many
    sure = notes(ONE, "expected")
    assert "not certain" not in sure and writing.NOT_BOUNDED not in sure and writing.NOT_MODELLED in sure
    assert "No holdover file was given" in sure
    for held in (structs.replace(ONE, runway=Runway(separation_s=60)), pads(pad("P1", refill=(3, 20)), pad("P2"))):
        assert writing.NOT_BOUNDED in notes(held, "expected")
    one = need("A", 0)
    with_table = night([one], ONE, structs.replace(table({"light snow": 30}), note="ours"))
    settled = replace(stands(3), notes=("x: time limit reached", "y"))
    found = writing._notes(with_table, [one], settled)
    assert found[0] == "ours" and found[-1] == "y" and len(found) == 3
    # what is always said comes before what is said of this night alone
    found = writing._notes(night([one], pads(pad("P1", hours=(-9, 0)))), [one], settled)
    assert found[1] == writing.NOT_MODELLED and found[2].startswith("P1 takes nobody tonight") and len(found) == 4


def test_pads_and_closures_that_lie_outside_of_the_night_are_told() -> None:
    # 36 hours from now on no departure lies
    far = 36 * 60

    def never(held: Pads) -> list[str]:
        return list(writing._never(night([need("A", 0)], held)))

    assert never(pads(pad("P1", hours=(far, far + 9)))) == []
    assert never(pads(pad("P1", hours=(far + 1, far + 9)))) == [
        "P1 takes nobody tonight: it opens at 2027-01-11T17:01:00Z."
    ]
    assert never(pads(pad("P1", hours=(-9, 1)))) == []
    assert never(pads(pad("P1", hours=(-9, 0)))) == ["P1 takes nobody tonight: it closed at 2027-01-10T05:00:00Z."]
    outside = "lies outside this night."
    for first, last, named in ((far, far + 9, 0), (far + 1, far + 9, 1), (-9, 1, 0), (-9, 0, 1)):
        found = never(pads(pad("P1"), closures=(closure("P1", first, last),)))
        assert len(found) == named and all(one.endswith(outside) for one in found)

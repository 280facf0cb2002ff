"""A plan after a plan, part by part: same schedule or another, what frees a start, what has changed, what happened."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from msgspec import structs
from nights import NOW, closure, moved, need, pad, pads, plan
from test_replan_by_hand import clock, departure

from advisor.departure import rfc3339
from advisor.errors import DepartureError
from advisor.slots import replan
from advisor.slots.build import Held, Wish
from advisor.slots.demand import Need
from advisor.slots.files.pads import Closure, Pads
from advisor.slots.replan import Before, compare
from advisor.slots.result import ClosureOut, DepartureOut, Plan

ONE = pads(pad("P1"))
TWO = pads(pad("P1"), pad("P2"))
FIRST = plan([need("A", 0), need("B", 40)], ONE)


def given(*departures: DepartureOut) -> Plan:
    """A plan given out at NOW with these departures."""
    return structs.replace(FIRST, departures=departures)


def off(flight: str, minute: float = 300, take_off: float | None = None) -> DepartureOut:
    """A departure that needs nothing, off at a minute, with a take-off or none."""
    gone = None if take_off is None else rfc3339(NOW + 60 * take_off)
    return structs.replace(departure(flight, None), off_block=rfc3339(NOW + 60 * minute), take_off=gone)


def other_schedule(old: Sequence[DepartureOut], new: str, minute: int = 300, now: int = NOW) -> bool:
    """Whether a plan is refused as that of another schedule, for flights of these letters."""
    try:
        compare(given(*old), [need(name, minute) for name in new], ONE, (), now)
    except DepartureError as error:
        assert "is of another schedule" in str(error)
        return True
    return False


# is it of this schedule


def test_a_plan_is_of_this_schedule_where_half_of_the_flights_stand_in_both() -> None:
    five = [off(name) for name in "ABCDE"]
    assert other_schedule(five, "ABXYZ") and not other_schedule(five, "ABCXY")
    assert other_schedule(five[:4], "AXYZ") and not other_schedule(five[:4], "ABXY")
    # of a bank that has grown or shrunk: half of the smaller
    assert not other_schedule(five, "AX") and other_schedule(five, "XYA")
    assert not other_schedule(five[:2], "AVWXYZ") and other_schedule(five[:3], "AVWXYZ")


def test_flights_of_the_old_plan_that_are_gone_by_now_need_not_stand_in_the_schedule() -> None:
    gone = [off(name, take_off=-1) for name in "BCDE"]
    assert not other_schedule([off("A"), *gone], "AVWXYZ")
    # gone at this second; by its off-block time where it has no take-off
    assert not other_schedule([off("A"), *(off(name, take_off=0) for name in "BCDE")], "AVWXYZ")
    assert other_schedule([off("A"), *(off(name, take_off=0.1) for name in "BCDE")], "AVWXYZ")
    assert not other_schedule([off("A"), *(off(name, -1) for name in "BCDE")], "AVWXYZ")
    # where all are gone, all count
    assert other_schedule([off("A", take_off=-1), *gone], "AVWXYZ")


def test_a_flight_of_the_same_name_a_day_and_more_away_is_another() -> None:
    day = 24 * 60
    assert not other_schedule([off("A", 0)], "A", day) and not other_schedule([off("A", 0)], "A", -day)
    assert other_schedule([off("A", 1)], "A", day + 2)


def test_a_file_of_the_largest_size_is_read_and_one_byte_more_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from advisor.slots.result import to_json

    path = tmp_path / "plan.json"
    path.write_bytes(to_json(FIRST))
    monkeypatch.setattr(replan, "MOST_BYTES", path.stat().st_size)
    assert replan.read(path) == FIRST
    path.write_bytes(to_json(FIRST) + b" ")
    with pytest.raises(DepartureError, match="is too large for a plan"):
        replan.read(path)


# what is frozen


def test_what_begins_within_the_frozen_minutes_is_held_and_what_begins_later_is_wished_for() -> None:
    assert ONE.margin.freeze_min == 10
    for start_s, held in ((600, True), (601, False)):
        planned = structs.replace(
            departure("A", "P1", 0, 20), start=rfc3339(NOW + start_s), end=rfc3339(NOW + start_s + 600)
        )
        before = compare(given(planned), [need("A", 0)], ONE, (), NOW)
        assert before.held == ({"A": Held("P1", NOW + start_s)} if held else {})
        assert before.wishes == ({} if held else {"A": Wish("P1", NOW + start_s)})
    # who needs nothing any more wishes for nothing
    idle = need("A", 0, status="not indicated")
    assert compare(given(planned), [idle], ONE, (), NOW).wishes == {}


def lost(
    start_s: int, end_s: int, *, one: Need | None = None, held: Pads = ONE, shut: Sequence[Closure] = (), now: int = NOW
) -> str:
    planned = structs.replace(departure("A", "P1"), start=rfc3339(NOW + start_s), end=rfc3339(NOW + end_s))
    return replan._lost(one or need("A", -2000), planned, NOW + start_s, held, shut, now)


def test_a_slot_that_no_treatment_can_have_had_is_not_kept() -> None:
    impossible = "its slot in the previous plan is too long ago, or not possible"
    assert [lost(0, seconds) for seconds in (59, 60, 8 * 3600, 8 * 3600 + 1)] == [impossible, "", "", impossible]
    half_a_day = 12 * 3600
    assert [lost(-half_a_day - late, -half_a_day + 600) for late in (0, 1)] == ["", impossible]


def test_a_pad_that_is_gone_or_closes_frees_what_would_end_on_it() -> None:
    gone = pads(pad("P9"))
    assert lost(-600, 0, held=gone) == "" and lost(-600, 1, held=gone) == "pad P1 is no longer listed"
    early = pads(pad("P1", hours=(0, 10)))
    assert lost(0, 600, held=early) == "" and lost(0, 601, held=early) == "pad P1 closes before the end"
    # what was over before is not touched by what shuts later
    assert lost(-700, -50, held=pads(pad("P1", hours=(-20, -10)))) == ""
    assert lost(-700, -50, shut=[closure("P1", -5, 5)]) == ""


def test_a_slot_is_missed_by_whoever_is_ready_later_than_was_planned_and_cannot_be_there() -> None:
    # planned for off-block at 0: 3 min away, and a start at 5
    missed = "the slot at 0505Z is missed: ready later than planned, to be treated again"
    assert [lost(300, 900, one=need("A", minute)) for minute in (0, 2, 3)] == ["", "", missed]
    # that it never could be there is nobody's news
    assert lost(120, 900, one=need("A", 0)) == "" and lost(300, 900, one=need("A", -5, ready=3)) == missed
    # to its stand a truck comes 15 min before its off-block time, or when it is ready
    truck = pads(pad("P1", place="stand"))
    assert truck.treatment.stand_lead_min == 15
    on_stand = [need("A", 20), need("A", 21), need("A", 30, ready=5), need("A", 30, ready=6)]
    assert [lost(300, 900, one=one, held=truck) for one in on_stand] == ["", missed, "", missed]


def test_of_two_frozen_ones_on_one_pad_at_once_the_second_is_freed_unless_both_are_only_possible() -> None:
    def second(first: DepartureOut, new: DepartureOut, sharing: float = 0.9) -> str:
        margin = structs.replace(ONE.margin, possible_share=sharing, extra=0.0)
        before = Before((), held={"A": Held("P1", replan.seconds(str(first.start)))}, old={"A": first})
        return replan._taken(new, replan.seconds(str(new.start)), before, structs.replace(ONE, margin=margin))

    def possible(*span: int) -> DepartureOut:
        return structs.replace(departure("A", "P1", *span), need="possible")

    sure = departure("A", "P1", 0, 10)
    told = "the previous plan has A on pad P1 at the same time"
    assert [second(sure, departure("B", "P1", first, 30)) for first in (9, 10)] == [told, ""]
    assert second(departure("A", "P1", 10, 20), departure("B", "P1", 0, 10)) == ""
    assert second(departure("A", "P1", 9, 20), departure("B", "P1", 0, 10)) == told
    assert second(sure, departure("B", "P2", 5, 30)) == ""
    assert (
        second(sure, possible(5, 30), 0.5) == told and second(possible(0, 10), departure("B", "P1", 5, 30), 0.5) == told
    )
    # half of a pad each: two may; a pad each: not
    assert second(possible(0, 10), possible(5, 30), 0.5) == ""
    assert second(possible(0, 10), possible(5, 30)) == "the previous plan has too many on its pad at once"


@pytest.mark.parametrize(
    ("steps", "last", "expected"),
    [
        (2, 9, (9, 5, 2)),
        (2, 60, (14, 0, 1)),
        (2, 0, (14, 0, 1)),
        (2, 14, (14, 0, 1)),
        (1, 9, (14, 0, 1)),
        (2, None, (14, 0, 1)),
        (2, 1, (1, 13, 2)),
    ],
)
def test_what_is_frozen_has_the_minutes_that_it_was_planned_with(
    steps: int, last: int | None, expected: tuple[int, int, int]
) -> None:
    planned = departure("A", "P1", 3, 17)
    planned = structs.replace(
        planned, steps=steps, deposit="ice", last_step_start=None if last is None else clock(3 + last)
    )
    found = replan._as_planned(need("A", 0), planned, NOW + 180)
    assert (found.removal_min, found.anti_icing_min, found.steps) == expected
    assert (found.status, found.deposit) == ("expected", "ice")


def test_what_is_frozen_and_needs_nothing_any_more_keeps_what_it_was_planned_for() -> None:
    idle = need("A", 0, status="not indicated")
    planned = structs.replace(departure("A", "P1", 3, 13), need="possible", deposit=None)
    found = replan._as_planned(idle, planned, NOW + 180)
    assert (found.status, found.deposit, found.treatment_min) == ("possible", "unknown", 10)
    # what the plan calls by no known name is what is looked at now
    assert replan._as_planned(need("A", 0), structs.replace(planned, deposit="mud"), NOW + 180).deposit == "snow"


def test_a_holdover_is_looked_at_once_the_treatment_is_over() -> None:
    # treated from 0 to 10, which held for 20 min; its window now opens at 60
    one = need("A", -30, window=(60, 90))
    planned = structs.replace(departure("A", "P1", 0, 10), holdover_min=20, last_step_start=clock(0))
    again = "holdover from 0500Z runs out before the take-off window: to be treated again"
    assert [replan._lost(one, planned, NOW, ONE, (), NOW + s) for s in (599, 600, 700)] == ["", again, again]
    # nothing is known of when it would run out
    for other in ({"holdover_min": None}, {"last_step_start": None}):
        assert replan._lost(one, structs.replace(planned, **other), NOW, ONE, (), NOW + 700) == ""
    assert replan._lost(need("A", -30), planned, NOW, ONE, (), NOW + 7000) == ""


# whether anything is new


def test_where_only_the_clock_moved_nothing_is_new() -> None:
    both = [need("A", 0), need("B", 40)]

    def same(needs: Sequence[Need] = both, held: Pads = ONE, shut: Sequence[Closure] = (), first: Plan = FIRST) -> bool:
        return compare(first, needs, held, shut, NOW).same

    assert same() and compare(FIRST, [moved(one, NOW + 300) for one in both], ONE, (), NOW + 300).same
    a, b = both
    for changed in (
        need("B", 41),
        need("B", 40, ready=41),
        need("B", 40, window=(0, 90)),
        need("B", 40, status="possible"),
        need("B", 40, removal=11),
        need("C", 40),
    ):
        assert not same([a, changed]), changed.row
    assert not same([a]) and not same([a, b, need("C", 50)])
    assert not same(held=TWO) and not same(held=pads(pad("P1", size="small"))) and not same(held=pads(pad("P9")))
    # what is freed is news
    assert not same(shut=[closure("P1", 5, 9)])


def test_a_closure_that_was_known_or_is_over_is_no_news_and_any_other_is() -> None:
    shut = closure("P1", 100, 120)
    known = ClosureOut(shut.pads, clock(100), clock(120), shut.why)
    both = [need("A", 0), need("B", 40)]

    def same(then: Sequence[ClosureOut], now: Sequence[Closure]) -> bool:
        return compare(structs.replace(FIRST, closures=tuple(then)), both, ONE, now, NOW).same

    assert same([known], [shut]) and not same([], [shut]) and not same([known], [])
    assert not same([known], [closure("P1", 100, 121)]) and not same([known], [closure("P2", 100, 120)])
    # begun earlier or not: its end counts
    assert same([known], [closure("P1", 90, 120)])
    over = closure("P1", -20, 0)
    assert same([], [over]) and same([structs.replace(known, until=clock(0))], [])
    # what was only told may go
    assert same([structs.replace(known, possible=True)], []) and not same(
        [structs.replace(known, possible=True)], [shut]
    )


# what is said of a change


def changes(planned: DepartureOut, new: DepartureOut, shut: Sequence[Closure] = (), shift: int = 5) -> DepartureOut:
    before = Before((), old={planned.flight: planned})
    [found] = replan.with_changes(before, [new], shut, shift)
    return found


def test_a_start_that_moved_by_less_than_the_margin_is_no_change_and_the_start_given_out_stays() -> None:
    planned = structs.replace(departure("A", "P1", 10, 20), told=clock(10))
    assert changes(planned, departure("A", "P1", 14, 24)).changed is None
    near = changes(planned, departure("A", "P1", 14, 24))
    assert near.told == clock(10)
    # four minutes later again: eight from what was given out
    again = changes(near, departure("A", "P1", 18, 28))
    assert again.changed == "start 0510Z -> 0518Z (to make room for others)" and again.told == clock(18)
    assert changes(planned, departure("A", "P1", 15, 25)).changed == "start 0510Z -> 0515Z (to make room for others)"
    assert changes(planned, departure("A", "P1", 5, 15)).changed == "start 0510Z -> 0505Z (room became free)"
    # edited by somebody: the plan's own start counts
    edited = structs.replace(planned, told=clock(30))
    assert changes(edited, departure("A", "P1", 11, 21)).told == clock(10)


def test_what_else_has_changed_is_told_in_words() -> None:
    planned = departure("A", "P1", 10, 20)
    assert changes(planned, departure("A", "P2", 10, 20)).changed == "pad P1 -> P2 (to make room for others)"
    assert changes(planned, departure("A", None)).changed == "start 0510Z -> none, pad P1 -> none (no room)"
    assert changes(departure("A", None), planned).changed == (
        "start none -> 0510Z, pad none -> P1 (to make room for others)"
    )
    later = structs.replace(departure("A", "P1", 30, 40), off_block=clock(20))
    assert changes(planned, later).changed == ("off-block 0500Z -> 0520Z; start 0510Z -> 0530Z (its own times changed)")
    ready = structs.replace(departure("A", "P1", 30, 40), ready=clock(25))
    assert changes(planned, ready).changed == "start 0510Z -> 0530Z (its own times changed)"
    maybe = structs.replace(departure("A", "P1", 30, 40), need="possible")
    assert changes(planned, maybe).changed == ("need expected -> possible; start 0510Z -> 0530Z (the need changed)")
    # under way or treated it is where and when it is
    for state in ("under way", "treated"):
        assert changes(planned, structs.replace(maybe, state=state, pad="P2")).changed is None
    assert changes(planned, structs.replace(later, state="departed")).changed is None


def test_a_closure_is_the_reason_where_it_touches_the_old_slot() -> None:
    planned, new = departure("A", "P1", 10, 20), departure("A", "P1", 40, 50)

    def why(*shut: Closure) -> str:
        return str(changes(planned, new, shut).changed).split("(")[1]

    assert why(closure("P1", 19, 30)) == why(closure("P1", 0, 11)) == "pad P1 is shut: by hand)"
    others = (closure("P1", 20, 30), closure("P1", 0, 10), closure("P2", 10, 20))
    assert why(*others) == "to make room for others)"


def test_who_begins_on_the_old_pad_at_the_old_start_is_in_the_way_and_who_ends_then_is_not() -> None:
    planned, new = departure("A", "P1", 10, 20), departure("A", "P1", 40, 50)
    for span, told in (((10, 18), "B is on pad P1 until 0518Z"), ((2, 10), "to make room for others")):
        other = departure("B", "P1", *span)
        [found, _] = replan.with_changes(Before((), old={"A": planned}), [new, other], (), 5)
        assert str(found.changed).endswith(f"({told})")


def test_a_new_flight_is_told_only_where_there_was_a_plan_before() -> None:
    new = departure("B", "P1", 10, 20)
    [found] = replan.with_changes(Before((), old={"A": new}), [new], (), 5)
    assert found.changed == "new in the schedule" and found.told == clock(10)
    [found] = replan.with_changes(Before(()), [new], (), 5)
    assert found.changed is None and found.told == clock(10)

"""What has happened laid over a plan, part by part: who is over when the next begins, until when, where it is now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from nights import NOW, need, pad, pads, sky, table
from test_what_has_begun_by_hand import happened

from advisor.slots import actual
from advisor.slots.actual import applied, done_by_pad
from advisor.slots.build import Held, Wish
from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.pads import Pads
from advisor.slots.replan import Before

ONE = pads(pad("P1"))
CLEARED = pads(pad("P1"), pad("P2"), clear=2)
SNOW = sky(falling="light snow")


def minutes(moment: int | None) -> float | None:
    return None if moment is None else (moment - NOW) / 60


def after(
    *needs: Need, so_far: Mapping[str, Actual], now: int, held: Pads = ONE, before: Before | None = None
) -> Before:
    """What is left of a plan at a minute."""
    return applied(before or Before(needs), needs, so_far, held, None, NOW + 60 * now)


# who was at work on a pad is done with the one before


def finished(*earlier: int | None, next_at: int, truck: str = "P1", clear: int = 2) -> float | None:
    """When A, begun at 0 and reported done or not, was over by B that began there later."""
    done = {} if earlier == (None,) else {"finished": earlier[0]}
    so_far = happened("B", truck, begun=next_at) | happened("A", truck, begun=0, **done)  # type: ignore[arg-type]
    return minutes(actual._one_after_another(so_far, 60 * clear)["A"].finished)


def test_a_treatment_is_over_when_the_next_began_on_its_pad_less_what_it_takes_to_clear_it() -> None:
    assert finished(None, next_at=20) == 18 and finished(None, next_at=20, clear=0) == 20
    # reported as done later than that, or before
    assert [finished(done, next_at=20) for done in (19, 18, 17)] == [18, 18, 17]
    # it took a minute at least
    assert [finished(None, next_at=at) for at in (2, 3, 4)] == [1, 1, 2]
    # nobody knows where, or nothing began after it
    assert finished(None, next_at=20, truck="") is None and finished(None, next_at=-20) is None
    apart = happened("A", "P1", begun=0) | happened("B", "P2", begun=20)
    assert actual._one_after_another(apart, 0)["A"].finished is None


def test_of_three_each_is_over_when_the_very_next_began() -> None:
    so_far = happened("A", begun=0) | happened("B", begun=40) | happened("C", begun=20) | happened("D", off=1)
    found = actual._one_after_another(so_far, 0)
    assert [minutes(found[name].finished) for name in "ACBD"] == [20, 40, None, None]


def test_a_pad_was_taken_by_those_that_are_gone_until_they_were_done_and_it_was_cleared() -> None:
    so_far = (
        happened("A", "P1", begun=0, finished=9, departed=15)
        | happened("B", "P1", begun=20, departed=33)
        | happened("C", "P2", begun=40, finished=49)
        | happened("D", "P2", departed=50)
        | happened("E", "", begun=50, finished=55, departed=60)
    )
    spans = {name: [(minutes(a), minutes(b)) for a, b in some] for name, some in done_by_pad(so_far, CLEARED).items()}
    # B as long as it can have been; C is still there; nobody says where E was
    assert spans == {"P1": [(0, 11), (20, 35)]}


def test_whoever_was_done_later_than_the_next_began_is_taken_to_have_made_room_for_it() -> None:
    so_far = happened("A", begun=0, finished=19, departed=25) | happened("B", begun=20)
    assert [(minutes(a), minutes(b)) for a, b in done_by_pad(so_far, CLEARED)["P1"]] == [(0, 20)]
    so_far = happened("A", begun=0, finished=19) | happened("B", begun=20)
    [first, _] = after(need("A", 0), need("B", 0), so_far=so_far, now=21, held=CLEARED).needs
    assert first.treatment_min == 18


def test_whoever_took_off_was_done_by_then_however_much_later_the_next_began() -> None:
    so_far = happened("B", "P1", begun=20, departed=33) | happened("C", "P1", begun=200)
    spans = {name: [(minutes(a), minutes(b)) for a, b in some] for name, some in done_by_pad(so_far, CLEARED).items()}
    # cleared for two minutes after it; C is still there
    assert spans == {"P1": [(20, 35)]}


# under way and treated


@pytest.mark.parametrize(("now", "whole"), [(3, 10), (9, 10), (10, 11), (30, 31)])
def test_what_is_under_way_goes_on_for_its_usual_minutes_and_for_another_where_those_are_over(
    now: int, whole: int
) -> None:
    left = after(need("A", 0), so_far=happened("A", begun=0), now=now)
    [found] = left.needs
    assert found.treatment_min == whole and left.held == {"A": Held("P1", NOW)}
    assert found.status == "expected" and found.left_stand


def test_who_was_treated_without_need_had_frost_taken_off_for_its_usual_minutes_or_for_as_long_as_it_took() -> None:
    assert (ONE.treatment.large.frost, ONE.treatment.small.frost) == (9, 4)
    for size, whole in (("large", 9), ("small", 4)):
        one = need("A", 0, size=size, status="not indicated")
        [found] = after(one, so_far=happened("A", begun=0), now=1).needs
        assert (found.steps, found.treatment_min, found.deposit) == (1, whole, "unknown")
    done = happened("A", begun=0, finished=12)
    [found] = after(need("A", 0, status="not indicated"), so_far=done, now=13).needs
    assert (found.steps, found.treatment_min) == (1, 12)
    # part of a minute counts as one, and so does none
    for seconds, whole in ((0, 1), (1, 1), (60, 1), (61, 2)):
        short = {"A": Actual("A", begun=NOW, finished=NOW + seconds, truck="P1")}
        assert after(need("A", 0), so_far=short, now=13).needs[0].treatment_min == whole


def ran_out(
    now_s: int, *, anti: int = 0, begun_s: int = 0, opens: int | None = None, holds: int = 30, to_runway: int = 4
) -> int | None:
    """Seconds from NOW when the holdover of a treatment of 10 min and a second step ran out, seen at a time."""
    window = None if opens is None else (opens, opens + 60)
    one = need("A", 0, removal=10, anti=anti, conditions=SNOW, window=window, to_runway=to_runway)
    took = Actual("A", begun=NOW + begun_s, finished=NOW + begun_s + 600 + 60 * anti, truck="P1")
    over = actual._ran_out(one, took, ONE, table({"light snow": holds}), NOW + now_s)
    return None if over is None else over - NOW


def test_holdover_has_run_out_where_it_ends_before_now_or_before_any_take_off() -> None:
    # of a single step from when it began: 30 min
    assert ran_out(1800) is None and ran_out(1801) == 1800
    # of two, from when the second did, at 10
    assert ran_out(2400, anti=4) is None and ran_out(2401, anti=4) == 2400
    assert ran_out(2420, anti=4, begun_s=20) is None and ran_out(2421, anti=4, begun_s=20) == 2420
    # 4 min to the runway after it was done at 10: gone at 14
    assert ran_out(0, holds=14) is None and ran_out(0, holds=13) == 13 * 60
    assert ran_out(0, holds=14, to_runway=5) == 14 * 60
    assert ran_out(0, holds=70, to_runway=60) is None and ran_out(0, holds=69, to_runway=60) == 69 * 60
    # or when its window opens
    assert ran_out(0, opens=30) is None and ran_out(0, opens=31) == 1800


def test_what_falls_later_counts_for_a_holdover_that_runs() -> None:
    worse = sky(falling=[(0, "light snow"), (20, "moderate snow")])
    took = Actual("A", begun=NOW, finished=NOW + 600, truck="P1")
    minutes_of = table({"light snow": 60, "moderate snow": 15})
    over = actual._ran_out(need("A", 0, conditions=worse), took, ONE, minutes_of, NOW + 1500)
    assert minutes(over) == 15
    # the sample at 20 counts from 16 on, between it and the one at 15: 16 min after it began it can be gone, or 15
    for way, ends in ((6, 5), (5, None)):
        one = need("A", 0, conditions=worse, to_runway=way)
        over = actual._ran_out(one, took, ONE, table({"light snow": 60, "moderate snow": 5}), NOW)
        assert minutes(over) == ends


def test_holdover_does_not_run_out_where_none_runs_or_none_can_be_told() -> None:
    took = Actual("A", begun=NOW, finished=NOW + 600, truck="P1")
    for falling in ("none", "heavy snow"):
        one = need("A", 0, conditions=sky(falling=falling))
        assert actual._ran_out(one, took, ONE, table({"light snow": 30}), NOW + 7200) is None
    one = need("A", 0, conditions=SNOW)
    assert actual._ran_out(one, took, ONE, None, NOW + 7200) is None


def test_who_comes_back_from_the_runway_is_treated_again_on_a_pad_after_the_way_back() -> None:
    one = need("A", 0, conditions=SNOW, place="stand", to_pad=3, to_runway=7)
    done = happened("A", begun=0, finished=10)
    left = applied(Before((one,)), [one], done, ONE, table({"light snow": 20}), NOW + 1800)
    [found] = left.needs
    assert (found.row.place, minutes(found.earliest), found.to_pad_min, found.left_stand) == ("remote", 30, 7, True)
    assert found.treatment_min == 10 and left.held == {}


# not begun


def test_who_has_departed_needs_nothing_and_is_forgotten() -> None:
    before = Before((), held={"A": Held("P1", NOW)}, wishes={"A": Wish("P1", NOW)}, again={"A": "x"}, same=True)
    left = after(need("A", 0), so_far=happened("A", begun=0, departed=20), now=30, before=before)
    assert (left.needs[0].steps, left.needs[0].treatment_min) == (0, 0)
    assert (left.held, left.wishes, left.again, left.same) == ({}, {}, {}, False)


def test_where_nothing_has_happened_nothing_is_new() -> None:
    one = need("A", 0)
    before = Before((one,), held={"A": Held("P1", NOW + 300)}, same=True)
    left = applied(before, [one], {}, ONE, None, NOW)
    assert left.same and left.held == {"A": Held("P1", NOW + 300)}
    # beside no plan at all nothing is known to be the same
    assert not applied(Before((one,)), [one], {}, ONE, None, NOW).same


def test_who_is_off_its_stand_or_at_a_pad_is_treated_on_a_pad_from_then_on() -> None:
    one = need("A", 30, to_pad=9, place="stand")
    [found] = after(one, so_far=happened("A", "", off=5), now=8).needs
    assert (found.row.place, minutes(found.earliest), found.to_pad_min, found.left_stand) == ("remote", 5, 9, True)
    [found] = after(one, so_far=happened("A", "", off=5, at_pad=7), now=8).needs
    assert (found.row.place, minutes(found.earliest), found.to_pad_min, found.left_stand) == ("remote", 7, 0, True)
    [found] = after(one, so_far={}, now=8).needs
    assert found is one


def kept(start: int, *, now: int = 0, held: Pads = ONE, one: Need | None = None, **so_far: int) -> str | None:
    """Why A is planned again that was to start on P1 at a minute; None where it stays."""
    one = one or need("A", 0)
    planned = replace(one, reason="as planned")
    before = Before((planned,), held={"A": Held("P1", NOW + 60 * start)})
    left = after(one, so_far=happened("A", "", **so_far) if so_far else {}, now=now, held=held, before=before)
    assert ("A" in left.held) == ("A" not in left.again)
    # as it was planned where nothing is told of it, where it is now where something is
    assert "A" in left.again or (left.needs[0].reason == "as planned") == (not so_far)
    return left.again.get("A")


def test_a_start_stays_where_it_lies_ahead_and_the_aircraft_can_be_there() -> None:
    # 3 min away
    assert kept(3) is None and kept(2) == "it cannot be there at 0502Z"
    assert kept(5, now=4) is None and kept(5, now=5) == "not begun at 0505Z as planned"
    assert kept(10, now=6, off=7) is None and kept(9, now=6, off=7) == "it cannot be there at 0509Z"
    assert kept(9, now=6, at_pad=9) is None and kept(8, now=6, at_pad=9) == "it cannot be there at 0508Z"


def test_a_truck_comes_before_the_aircraft_leaves_and_to_an_empty_stand_not_at_all() -> None:
    truck = pads(pad("P1", place="stand"), pad("P2"))
    assert truck.treatment.stand_lead_min == 15
    assert kept(5, held=truck, one=need("A", 20)) is None
    assert kept(5, held=truck, one=need("A", 21)) == "it cannot be there at 0505Z"
    assert kept(5, held=truck, one=need("A", 30, ready=5)) is None
    assert kept(5, held=truck, one=need("A", 30, ready=6)) == "it cannot be there at 0505Z"
    assert kept(30, held=truck, now=6, off=5) == "it has left its stand, where P1 was to come"


def test_who_has_left_its_stand_wishes_for_no_truck_and_who_needs_nothing_for_nothing() -> None:
    truck = pads(pad("P1", place="stand"), pad("P2"))
    before = Before((need("A", 0),), held={"A": Held("P1", NOW + 600)})
    left = after(need("A", 0), so_far=happened("A", "", off=0), now=1, held=truck, before=before)
    assert left.wishes == {} and left.held == {}
    idle = need("A", 0, status="not indicated")
    before = Before((idle,), held={"A": Held("P1", NOW)})
    left = after(idle, so_far={}, now=1, before=before)
    assert (left.wishes, left.again, left.held) == ({}, {}, {})


def test_a_pad_is_taken_until_the_last_of_those_that_began_on_it_is_done_and_it_is_cleared() -> None:
    # B from 0 to 10 and C from 4 to 14 beside it; P1 is clear again at 16
    needs = [need(name, 0, to_pad=0) for name in "ABC"]

    def why(start: int) -> str:
        before = Before(tuple(needs), held={"A": Held("P1", NOW + 60 * start)})
        for names in ("BC", "CB"):
            begun = {name: need(name, 0) for name in names}
            before.held |= {"B": Held("P1", NOW), "C": Held("P1", NOW + 240)}
            busy = actual._busy(before, begun, CLEARED)
            assert {name: minutes(end) for name, end in busy.items()} == {"P1": 16}
        so_far = happened("C", begun=4) | happened("B", "P2", begun=0)
        return after(*needs, so_far=so_far, now=5, held=CLEARED, before=before).again.get("A", "")

    assert why(15) == "pad P1 is still taken at 0515Z" and why(16) == ""

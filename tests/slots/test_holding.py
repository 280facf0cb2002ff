"""Who is not called before a time of its own, because its holdover would run out before it can take off."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from nights import NOW, at, minute, need, pad, pads, plan, settled, sky, table
from validator import validate

from advisor.render.slots.text import text
from advisor.slots.build import build
from advisor.slots.field import arrivals, field, latest_starts
from advisor.slots.files.pads import Cost, Noise, Runway
from advisor.slots.holding import hold_back
from advisor.slots.rehearse import carry_out
from advisor.slots.scenarios import draw
from advisor.slots.solver.settle import held_back

SNOW = sky(falling="light snow")
QUIET = Noise(0, 0, 0, 0, 1.0)
TWO = msgspec.structs.replace(pads(pad("P1"), pad("P2"), cost=Cost()), noise=QUIET)


def test_departure_whose_window_opens_late_is_held_and_the_other_is_not_by_hand() -> None:
    # A may take off from 60 and is on the pad at 3: treated 3-13 its 20 min end at 23. It needs 10 min on the pad and 4
    # to the runway, and its one step begins with the treatment: a start at 40 to 46 keeps both, 40 + 20 = 60 and
    # 46 + 14 = 60; up to 56 the window to 70 is still made. B waits for nothing.
    needs = [need("A", 0, window=(60, 70), conditions=SNOW), need("B", 0, conditions=SNOW)]
    place = field(needs, TWO, (), table({"light snow": 20}), NOW)
    drawn = draw(needs, TWO, 4, 1)
    keys = latest_starts(place)
    plain = carry_out(place, drawn, keys)
    assert plain.broken[:, 0].min() >= 1 and (plain.broken[:, 1] == 0).all()
    first = hold_back(place, drawn, keys, False, most=60)
    assert 40 <= first[0] <= 46 and first[1] == -np.inf
    held = carry_out(place, drawn, keys, not_before=first)
    assert held.broken.sum() == 0 and (held.take_off[:, 0] == 60).all() and (held.cost[:, 0] == 0).all()


def test_nobody_is_held_where_no_holdover_runs_out() -> None:
    needs = [need(f"T{number}", 3 * number, conditions=SNOW) for number in range(6)]
    drawn = draw(needs, TWO, 8, 1)
    for known in (None, table({"light snow": 45})):
        place = field(needs, TWO, (), known, NOW)
        assert (hold_back(place, drawn, latest_starts(place), False, most=60) == -np.inf).all()


def test_queue_for_the_runway_holds_back_who_would_wait_in_it_too_long() -> None:
    # five pads, all there at 3, done at 13, at the runway at 17; 8 min between take-offs: the fifth waits until 49.
    # 20 min from 3 end at 23: all but the first break, unless they begin 8 min after each other.
    needs = [need(f"T{number}", 0, conditions=SNOW) for number in range(5)]
    held = pads(*[pad(f"P{number}") for number in range(5)], cost=Cost())
    held = msgspec.structs.replace(held, runway=Runway(separation_s=480), noise=QUIET)
    place = field(needs, held, (), table({"light snow": 20}), NOW)
    drawn = draw(needs, held, 4, 1)
    come = carry_out(place, drawn, arrivals(place, drawn), yields=False)
    first = hold_back(place, drawn, latest_starts(place), False, most=200)
    found = carry_out(place, drawn, latest_starts(place), yields=False, not_before=first)
    assert come.broken.sum(axis=1).min() >= 4 and found.broken.sum() == 0
    assert found.cost.sum() < 0.5 * come.cost.sum()


def test_plan_publishes_the_time_and_keeps_it_in_its_starts() -> None:
    needs = [
        need(f"T{number}", 4 * number, window=(4 * number + 45, 4 * number + 60), anti=4, conditions=SNOW)
        for number in range(8)
    ]
    known = table({"light snow": 20})
    held = msgspec.structs.replace(TWO, noise=Noise(3, 4))
    made = plan(needs, held, known)
    validate(made, needs, held, known, now=NOW)
    kept = [one for one in made.departures if one.not_before]
    assert kept and made.order is not None and made.order.held == len(kept)
    assert all(minute(one.not_before) <= minute(one.start) for one in kept)
    said = " ".join(text(made).split())
    assert f"Nobody is called before its time in the column not before ({len(kept)})" in said
    assert (
        f"not before {kept[0].not_before[11:13]}{kept[0].not_before[14:16]}Z: sooner, its holdover may run out" in said
    )


def test_start_goes_as_late_as_its_window_allows_though_nobody_is_held() -> None:
    # without noise 46 would do: 46 + 10 + 4 = 60; the plan begins no sooner than that
    quiet = plan([need("A", 0, window=(60, 70), conditions=SNOW)], TWO, table({"light snow": 25}))
    assert minute(at(quiet, "A").start) == 46 and at(quiet, "A").holdover_left_min == 25 - 14
    # without a holdover nothing is gained by waiting
    dry = plan([need("A", 0, window=(60, 70))], TWO, table({"light snow": 25}))
    assert minute(at(dry, "A").start) == 3


def test_who_is_held_back_makes_room_with_others_instead_of_going_behind_them_by_hand() -> None:
    # one pad, 10 min each: A 15 to 25, B 25 to 35. A not before 20: behind B it waits 20 min; with B 5 min later each
    # waits 5
    needs = [need("A", 12), need("B", 22)]
    problem = build(needs, pads(pad("P1")), [], None, NOW).problem
    first = settled(problem)
    assert [start[1] for start in first.starts if start is not None] == [15, 25]
    later, refused = held_back(problem, first, {0: 20}, sharing=1, gap=0.0, dearer=60.0)
    assert [start[1] for start in later.starts if start is not None] == [20, 30]
    assert later.objective == pytest.approx(10.0) and later.for_holdover == pytest.approx(10.0) and not refused

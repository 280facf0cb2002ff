"""Every plan of generated nights, checked by a validator that shares no code with the planner."""

from __future__ import annotations

import os
from typing import Any

import msgspec
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nights import NOW, closure, moved, need, pad, pads, plan, sky, table
from validator import validate

from advisor.slots.files.pads import Margin, Runway

# thousands take a minute: set SLOTS_EXAMPLES=5000 before a change to the planner is kept
EXAMPLES = int(os.environ.get("SLOTS_EXAMPLES", "500"))
SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)
SKIES = (
    sky(),
    sky(falling="light snow"),
    sky(falling=[(0, "moderate snow"), (50, "none")]),
    sky(falling="heavy snow"),
    sky(falling=[(0, "none"), (30, "light snow"), (90, "hail")]),
    sky(falling=[(0, "light snow"), (45, "unknown")]),
)
TABLE = table({"light snow": 25, "moderate snow": 15})
MINUTES = st.integers(-20, 60)


@st.composite
def departures(draw: st.DrawFn) -> list[Any]:
    found = []
    for at in range(draw(st.integers(1, 7))):
        off = draw(MINUTES)
        window = None
        if draw(st.booleans()):
            early = max(0, off) + draw(st.integers(0, 30))
            window = (early, early + draw(st.integers(0, 30)))
        found.append(
            need(
                f"T{at}",
                off,
                size=draw(st.sampled_from(["small", "medium", "large"])),
                status=draw(st.sampled_from(["expected", "expected", "possible", "cannot tell", "not indicated"])),
                removal=draw(st.integers(1, 25)),
                anti=draw(st.integers(0, 8)),
                to_pad=draw(st.integers(0, 15)),
                to_runway=draw(st.integers(0, 15)),
                window=window,
                place=draw(st.sampled_from(["", "", "remote", "stand"])),
                ready=draw(st.none() | st.integers(-10, 70)),
                conditions=draw(st.sampled_from(SKIES)),
            )
        )
    return found


@st.composite
def resources(draw: st.DrawFn) -> Any:
    made = []
    for at in range(draw(st.integers(1, 3))):
        opens = draw(st.none() | st.integers(-30, 60))
        made.append(
            pad(
                f"P{at}",
                size=draw(st.sampled_from(["any", "any", "small"])),
                place=draw(st.sampled_from(["remote", "remote", "stand"])),
                engines=draw(st.sampled_from(["running", "running", "off"])),
                refill=draw(st.sampled_from([(0, 0), (0, 0), (1, 6), (2, 12)])),
                hours=None if opens is None else (opens, opens + draw(st.integers(1, 200))),
            )
        )
    shut = [
        closure(draw(st.sampled_from([one.name for one in made])), first, first + draw(st.integers(1, 40)))
        for first in draw(st.lists(st.integers(-10, 90), max_size=2))
    ]
    margin = Margin(possible_share=draw(st.sampled_from([0.2, 0.4, 0.7])), extra=draw(st.sampled_from([0.0, 0.1, 0.3])))
    found = pads(*made, clear=draw(st.integers(0, 3)), margin=margin, closures=shut)
    return msgspec.structs.replace(found, runway=Runway(separation_s=draw(st.sampled_from([0, 0, 90, 200]))))


@settings(SLOW, max_examples=EXAMPLES)
@given(departures(), resources(), st.sampled_from([None, TABLE]), st.booleans())
def test_every_plan_of_a_generated_night_holds(needs: list[Any], held: Any, holdover: Any, reserve_all: bool) -> None:
    made = plan(needs, held, holdover, reserve_all=reserve_all, gap=1e-3)
    validate(made, needs, held, holdover, now=NOW, reserve_all=reserve_all)


@settings(SLOW, max_examples=EXAMPLES // 2)
@given(departures(), resources(), st.sampled_from([None, TABLE]), st.integers(0, 40), st.data())
def test_every_plan_made_after_another_holds_and_keeps_what_has_begun(
    needs: list[Any], held: Any, holdover: Any, later: int, data: st.DataObject
) -> None:
    first = plan(needs, held, holdover, gap=1e-3)
    now = NOW + 60 * later
    again = []
    for one in needs:
        shift = data.draw(st.sampled_from([0, 0, 0, 5, 20]))
        off = (one.row.off_block - NOW) // 60 + shift
        again.append(moved(one, now, off_block=off))
    made = plan(again, held, holdover, previous=first, now=now, gap=1e-3)
    validate(made, again, held, holdover, now=now, previous=first)

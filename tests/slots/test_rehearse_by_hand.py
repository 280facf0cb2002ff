"""An order carried out, and its what-ifs: which pad, whose turn, the next free take-off, minutes that count."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec import structs
from nights import NOW, need, night, pad, pads, sky, table

from advisor.slots import execution, whatif
from advisor.slots.field import Field, field
from advisor.slots.files.pads import Runway
from advisor.slots.rehearse import Outcome, carry_out
from advisor.slots.scenarios import Draws

ONE = pads(pad("P1"))
TWO = pads(pad("P1"), pad("P2"))


def as_planned(place: Field, *, late_min: float = 0.0, nights: int = 1) -> Draws:
    """Nights in which all is needed and takes what was planned; everybody is late by as much."""
    shape = (nights, len(place.needs))
    same = np.ones(shape)
    return Draws(np.ones(shape, dtype=np.bool_), late_min * same, same, same, np.zeros(nights, dtype=np.int64))


def test_who_is_called_goes_to_the_pad_that_is_free_and_not_to_the_first_of_the_file() -> None:
    # A is on P1 from 3 to 13; B is there at 5, when P2 alone is free
    place = field([need("A", 0), need("B", 2)], TWO, (), None, NOW)
    outcome = carry_out(place, as_planned(place), np.array([1.0, 2.0]))
    assert outcome.pad.tolist() == [[0, 1]] and outcome.begun.tolist() == [[3.0, 5.0]]


def test_the_smaller_key_goes_first_by_however_little_it_is_smaller() -> None:
    place = field([need("A", 0), need("B", 0)], ONE, (), None, NOW)
    outcome = carry_out(place, as_planned(place), np.array([2e-20, 1e-20]))
    assert outcome.begun.tolist() == [[13.0, 3.0]]


def test_a_take_off_waits_behind_all_those_that_follow_closely_on_one_another() -> None:
    # A is ready for take-off at 17. Others go at 17, 20, 23 and 26, three minutes are between two: there is room at 29
    held = structs.replace(ONE, runway=Runway(separation_s=180))
    place = replace(field([need("A", 0)], held, (), None, NOW), taken=np.array([17.0, 20.0, 23.0, 26.0]))
    assert carry_out(place, as_planned(place), np.array([1.0])).take_off.tolist() == [[29.0]]


@pytest.mark.parametrize(("late_min", "broken"), [(0.0, False), (0.5, True)])
def test_the_minute_in_which_it_takes_off_counts_towards_the_holdover(late_min: float, broken: bool) -> None:
    # Light snow until the sample at 55, moderate in that at 60: between two samples the worse of both holds. At its pad
    # at 38 + 3, treated for 10 min, off at 55: 14 min after it began, which light snow's 40 allow. Half a minute later
    # it takes off under moderate snow, which allows 10.
    falling = sky(falling=[(0, "light snow"), (60, "moderate snow")])
    minutes = table({"light snow": 40, "moderate snow": 10})
    place = field([need("A", 38, conditions=falling)], ONE, (), minutes, NOW)
    outcome = carry_out(place, as_planned(place, late_min=late_min), np.array([1.0]))
    assert (outcome.broken[0, 0] > 0) == broken


def test_a_variant_counts_treatments_by_the_night() -> None:
    # three treatments in one night and two in the other: two and a half in the mean
    shape = (2, 3)
    none, never = np.zeros(shape), np.zeros(shape, dtype=np.bool_)
    on_pads = np.array([[0, 0, 1], [0, 1, -1]])
    nobody = np.zeros(shape, dtype=np.int64)
    row = whatif._row("x", Outcome(on_pads, none, none, none, none, nobody, never, never, never, none, none))
    assert row.treatments == 2.5


def test_where_the_time_is_over_the_last_variant_that_was_tried_says_so() -> None:
    needs = [need("A", 0), need("B", 1)]
    place = execution.prepare(needs, TWO, (), None, NOW, {})
    done = execution.arrange(place, {"A": 3, "B": 4}, {}, nights=2, turns=0)
    asked = iter((False, True))
    rows = whatif.variants(2, 0)(night(needs, TWO), (), needs, done, lambda: next(asked))
    assert [row.name for row in rows] == ["as planned", "without P2"]
    assert [row.note for row in rows] == ["", "the time was over before the other variants"]

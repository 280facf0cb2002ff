"""What a look that saw no frost takes away from a skin that is estimated to be colder; hours and degree are ours."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.physics.stages.skin import _refuted_c


def looked(skins_c: list[list[float]], looked_min: float, minutes: list[float]) -> list[list[float]]:
    """By how much each case is warmer. The dew point is 0 °C throughout, where frost forms at 0 °C by definition."""
    conditions = SimpleNamespace(nothing_seen_at_s=60.0 * looked_min, unix_s=60.0 * np.array(minutes))
    skin = np.array(skins_c)
    return _refuted_c(conditions, np.zeros_like(skin), skin).tolist()


def test_a_look_that_saw_nothing_warms_by_the_least_of_the_half_hour_before_and_a_degree():
    # by hand: the look at 0 min; before it -3 (31 min), -2 and -4 °C: the least below within half an hour is 2, and a
    # degree more is 3. It holds whole for an hour, then less for two: half at two hours, nothing at three
    minutes = [-31, -30, -1, 1, 60, 120, 180, 200]
    assert looked([[-1, -2, -4, -9, -9, -9, -9, -9]], 0, minutes) == [[0, 0, 0, 3, 3, 1.5, 0, 0]]
    # at the very minute of the look, which is in both halves
    assert looked([[-2, -3, -3]], 0, [-10, 0, 10]) == [[0, 3, 3]]


def test_a_skin_that_was_not_known_at_one_time_before_the_look_is_not_warmed():
    assert looked([[-2, math.nan, -2, -2]], 0, [-20, -10, 0, 10]) == [[0, 0, 0, 0]]
    # each case for itself
    assert looked([[-2, math.nan, -2, -2], [-2, -2, -2, -2]], 0, [-20, -10, 0, 10])[1] == [0, 0, 3, 3]


def test_a_skin_that_was_at_or_above_the_frost_point_at_one_time_is_not_warmed():
    assert looked([[-2, 0, -2, -2]], 0, [-20, -10, 0, 10]) == [[0, 0, 0, 0]]
    assert looked([[-2, 1, -2, -2]], 0, [-20, -10, 0, 10]) == [[0, 0, 0, 0]]
    # however little below: 0.0005 °C and a degree
    assert looked([[-2, -0.0005, -2, -2]], 0, [-20, -10, 0, 10])[0][3] == pytest.approx(1.0005)


def test_a_look_without_any_time_before_it_takes_nothing_away():
    assert looked([[-2, -2]], 0, [10, 20]) == [[0, 0]]

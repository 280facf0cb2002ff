"""The runway and trucks that fill up, in planned starts: by hand, and against plain counting."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.slots.solver.runway import RunwaySpacing, Tank, one_after_another


def test_first_free_time_on_the_runway_by_hand() -> None:
    # taken at 100 and 290, 90 s apart: 10 and before are free, 11 to 189 wait for 190, up to 200; from 201 on, 380
    runway = RunwaySpacing(90, [290, 100])
    ready = np.array([0, 10, 11, 100, 189, 190, 200, 201, 380, 500])
    assert runway.first_free(ready).tolist() == [0, 10, 190, 190, 190, 190, 200, 380, 380, 500]
    runway.add(200)
    assert runway.first_free(np.array([11])).tolist() == [380]
    runway.remove(200)
    assert runway.first_free(np.array([11])).tolist() == [190]
    assert RunwaySpacing(90).first_free(ready).tolist() == ready.tolist()
    assert one_after_another([60, 0, 30], 90) == [180, 0, 90] and one_after_another([60, 0], 0) == [60, 0]


@settings(max_examples=300, derandomize=True, database=None)
@given(st.lists(st.integers(0, 400), max_size=8), st.integers(1, 60), st.integers(0, 400))
def test_first_free_time_is_the_least_that_is_far_enough_from_all(taken: list[int], spacing: int, ready: int) -> None:
    found = int(RunwaySpacing(spacing, taken).first_free(np.array([ready]))[0])
    assert found == next(at for at in range(ready, 2000) if all(abs(at - other) >= spacing for other in taken))


def test_truck_fills_up_in_a_pause_or_after_so_many_by_hand() -> None:
    # two in a row at most, 15 min to fill up: 0-10 and 10-20 are a row; a third may not begin before 35
    tank = Tank(2, 15)
    tank.add(0, 10)
    assert tank.allows(np.array([10, 24, 25]), 10).all()
    tank.add(10, 20)
    assert tank.allows(np.array([20, 34, 35, 50]), 10).tolist() == [False, False, True, True]
    # one at 40: what ends by 35 leaves no 15 min before it; two in a row may be joined to no third
    tank.add(40, 50)
    assert tank.allows(np.array([35]), 5).tolist() == [True]
    tank.add(50, 60)
    assert tank.allows(np.array([35]), 5).tolist() == [False]
    tank.remove(10, 20)
    assert tank.allows(np.array([10, 25]), 10).tolist() == [True, False]


def longest_row(spans: list[tuple[int, int]], minutes: int) -> int:
    """How many at most follow each other without a pause of so many minutes."""
    most, row, end = 0, 0, -(10**6)
    for first, last in sorted(spans):
        row = 1 if first - end >= minutes else row + 1
        end, most = max(end, last), max(most, row)
    return most


@settings(max_examples=300, derandomize=True, database=None)
@given(
    st.lists(st.tuples(st.integers(0, 150), st.integers(1, 30)), max_size=7),
    st.integers(1, 4),
    st.integers(1, 30),
    st.integers(1, 30),
)
def test_no_row_of_treatments_is_longer_than_the_tank(
    wanted: list[tuple[int, int]], after: int, minutes: int, occupied: int
) -> None:
    tank, kept = Tank(after, minutes), list[tuple[int, int]]()
    for first, length in wanted:
        span = (first, first + length)
        allowed = bool(tank.allows(np.array([first]), length)[0])
        assert allowed == (longest_row([*kept, span], minutes) <= after)
        if allowed:
            tank.add(*span)
            kept.append(span)
    for first in (0, 77):
        allowed = bool(tank.allows(np.array([first]), occupied)[0])
        assert allowed == (longest_row([*kept, (first, first + occupied)], minutes) <= after)

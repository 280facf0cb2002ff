"""Three-valued flags by Kleene's strong logic: every combination of three flags, and what is a flag of numbers."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from advisor.physics import flags

# Kleene 1952: in the order no, unknown, yes "or" is the greatest and "and" the least
ORDER = (0, -1, 1)


@pytest.mark.parametrize("size", [1, 2, 3])
def test_or_is_the_greatest_and_and_the_least_in_the_order_no_unknown_yes(size: int) -> None:
    for values in product(ORDER, repeat=size):
        columns = [np.array([[value], [value]], dtype=np.int8) for value in values]
        for work, chosen in ((flags.any_of, max), (flags.all_of, min)):
            found = work(*columns)
            assert found.dtype == np.int8 and found.tolist() == [[chosen(values, key=ORDER.index)]] * 2, values
            # a plain number is a flag too
            assert int(work(*values)) == chosen(values, key=ORDER.index)


def test_no_turns_yes_and_no_and_leaves_unknown() -> None:
    assert flags.no(np.array([1, 0, -1], dtype=np.int8)).tolist() == [0, 1, -1]


def test_yes_outranks_unknown_and_a_mask_makes_the_rest_no() -> None:
    yes, unknown = np.array([True, True, False, False]), np.array([True, False, True, False])
    assert flags.coded(yes, unknown).tolist() == [1, 1, -1, 0]
    flag = np.array([[1, 0, -1]], dtype=np.int8)
    assert flags.only_where(flag, np.array([[True], [False]])).tolist() == [[1, 0, -1], [0, 0, 0]]


def test_a_number_on_its_limit_and_one_that_is_missing() -> None:
    values = np.array([-1.0, 0.0, 1.0, np.nan])
    assert flags.below(values, 0.0).tolist() == [1, 0, 0, -1]
    assert flags.below(values, 0.0, included=True).tolist() == [1, 1, 0, -1]
    assert flags.above(values, 0.0).tolist() == [0, 0, 1, -1]

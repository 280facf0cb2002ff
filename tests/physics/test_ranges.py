"""What every formula does with its arguments first, and that each names where it comes from."""

import inspect
import re

import numpy as np
import pytest

from advisor.physics import exposure, light, moisture, moon, sun, wind
from advisor.physics.ranges import within
from advisor.sources import SOURCES


def test_values_outside_the_ends_become_missing_and_the_ends_stay():
    found = within([-2, -1, 0, 1, 2, np.nan, np.inf, -np.inf], -1, 1)
    np.testing.assert_array_equal(found, [np.nan, -1, 0, 1, np.nan, np.nan, np.nan, np.nan])
    assert within(3, 0, 5).shape == () and within(3, 0, 5).dtype == np.float64


def test_the_callers_array_is_left_as_it_was():
    given = np.array([1.0, 99.0])
    within(given, 0, 5)[0] = 7.0
    assert given.tolist() == [1.0, 99.0]


@pytest.mark.parametrize("module", [exposure, light, moisture, moon, sun, wind])
def test_every_public_function_names_a_source_of_the_bibliography(module):
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if name.startswith("_") or function.__module__ != module.__name__ or name in ("crossings_of", "centuries"):
            continue
        text = (function.__doc__ or "").partition("References")[2]
        keys = [word for word in re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)+", text) if word in SOURCES]
        assert keys or name in ("door_limits", "relative_deg"), name

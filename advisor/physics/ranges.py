"""Arrays in, arrays out: what every formula here does with its arguments before anything else."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Floats


def within(values: ArrayLike, low: float, high: float) -> Floats:
    """Float64 array with NaN where a value lies outside low to high, so that nothing after it can warn or overflow.

    values: scalar or array; NaN stays. Returns a new array of the same shape (0-d for a scalar).
    """
    array = np.asarray(values, dtype=np.float64)
    inside = (array >= low) & (array <= high)
    return array.copy() if inside.all() else np.where(inside, array, np.nan)

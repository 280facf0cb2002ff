"""When a quantity passes a level in the course of a day: steps of ten minutes, and the root between two by scipy."""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from scipy.optimize import brentq

DAY_S = 86_400.0


def crossings(
    quantity: Callable[[float], float], level: float, start_s: float, length_s: float = DAY_S
) -> list[tuple[float, bool]]:
    """Moments and whether it rises there; two within ten minutes may be missed."""
    steps = np.linspace(start_s, start_s + length_s, int(length_s / 600) + 1)
    above = [(moment, float(quantity(moment)) - level) for moment in steps]
    return [
        (brentq(lambda moment: float(quantity(moment)) - level, first, second, xtol=0.01), before < 0)
        for (first, before), (second, after) in pairwise(above)
        if (before < 0) != (after < 0)
    ]

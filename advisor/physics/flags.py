"""Three-valued flags: int8 arrays of 1 yes, 0 no and -1 unknown, combined by Kleene's rules."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Codes, Floats


def any_of(*flags: ArrayLike) -> Codes:
    """Yes where any is yes, else unknown where any is unknown, else no. Flags that broadcast; at least one."""
    arrays = np.broadcast_arrays(*(np.asarray(flag, dtype=np.int8) for flag in flags))
    yes, unknown = np.zeros(arrays[0].shape, bool), np.zeros(arrays[0].shape, bool)
    for array in arrays:
        yes |= array == 1
        unknown |= array == -1
    return np.where(yes, 1, np.where(unknown, -1, 0)).astype(np.int8)


def all_of(*flags: ArrayLike) -> Codes:
    """No where any is no, else unknown where any is unknown, else yes. Flags that broadcast; at least one."""
    return no(any_of(*(no(flag) for flag in flags)))


def no(flag: ArrayLike) -> Codes:
    """Yes and no swapped; unknown stays."""
    array = np.asarray(flag, dtype=np.int8)
    return np.where(array == -1, -1, 1 - array).astype(np.int8)


def below(values: Floats, limit: float, *, included: bool = False) -> Codes:
    """Whether values lie below a limit (or on it where included); NaN is unknown."""
    inside = values <= limit if included else values < limit
    return np.where(np.isnan(values), -1, inside).astype(np.int8)


def above(values: Floats, limit: float) -> Codes:
    """Whether values lie above a limit; NaN is unknown."""
    return np.where(np.isnan(values), -1, values > limit).astype(np.int8)

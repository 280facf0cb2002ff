"""Three-valued flags: int8 arrays of 1 yes, 0 no and -1 unknown, combined by Kleene's rules."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import NO, UNKNOWN, YES, Codes, Floats

_YES, _NO, _UNKNOWN = np.int8(YES), np.int8(NO), np.int8(UNKNOWN)


def any_of(*flags: ArrayLike) -> Codes:
    """Yes where any is yes, else unknown where any is unknown, else no. Flags that broadcast; at least one."""
    return _first_of(_YES, _NO, flags)


def all_of(*flags: ArrayLike) -> Codes:
    """No where any is no, else unknown where any is unknown, else yes. Flags that broadcast; at least one."""
    return _first_of(_NO, _YES, flags)


def _first_of(deciding: np.int8, otherwise: np.int8, flags: tuple[ArrayLike, ...]) -> Codes:
    """The deciding value where any flag has it, else unknown where any is, else the other value."""
    decided, unknown = None, None
    for flag in flags:
        array = np.asarray(flag, dtype=np.int8)
        here, lost = array == deciding, array == _UNKNOWN
        decided = here if decided is None else decided | here
        unknown = lost if unknown is None else unknown | lost
    return np.where(decided, deciding, np.where(unknown, _UNKNOWN, otherwise))  # type: ignore[arg-type]


def no(flag: ArrayLike) -> Codes:
    """Yes and no swapped; unknown stays."""
    array = np.asarray(flag, dtype=np.int8)
    return np.where(array == _UNKNOWN, _UNKNOWN, YES - array).astype(np.int8)


def below(values: Floats, limit: float, *, included: bool = False) -> Codes:
    """Whether values lie below a limit (or on it where included); NaN is unknown."""
    inside = values <= limit if included else values < limit
    return np.where(np.isnan(values), _UNKNOWN, inside).astype(np.int8)


def above(values: Floats, limit: float) -> Codes:
    """Whether values lie above a limit; NaN is unknown."""
    return np.where(np.isnan(values), _UNKNOWN, values > limit).astype(np.int8)

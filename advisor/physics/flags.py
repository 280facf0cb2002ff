"""Three-valued flags: int8 arrays of 1 yes, 0 no and -1 unknown, combined by Kleene's rules."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import NO, UNKNOWN, YES, Codes, Floats, Masks

_YES, _NO, _UNKNOWN = np.int8(YES), np.int8(NO), np.int8(UNKNOWN)


def any_of(*flags: ArrayLike) -> Codes:
    """Yes where any is yes, else unknown where any is unknown, else no. Flags that broadcast; at least one."""
    return coded(*_first_of(_YES, flags))


def all_of(*flags: ArrayLike) -> Codes:
    """No where any is no, else unknown where any is unknown, else yes. Flags that broadcast; at least one."""
    refuted, unknown = _first_of(_NO, flags)
    return coded(~(refuted | unknown), unknown & ~refuted)


def _first_of(deciding: np.int8, flags: tuple[ArrayLike, ...]) -> tuple[Masks, Masks]:
    """Where any flag has the deciding value, and where any is unknown."""
    first, *others = (np.asarray(flag, dtype=np.int8) for flag in flags)
    decided: Masks = first == deciding
    unknown: Masks = first == _UNKNOWN
    for array in others:
        decided = decided | (array == deciding)
        unknown = unknown | (array == _UNKNOWN)
    return decided, unknown


def coded(yes: Masks, unknown: Masks) -> Codes:
    """Flags of what is yes, and else not known; the rest is no.

    By arithmetic on bytes: a choice between constants takes six times as long.
    """
    return np.asarray(yes.view(np.int8) - (unknown & ~yes).view(np.int8))


def only_where(flag: Codes, mask: Masks) -> Codes:
    """A flag where a mask holds, no elsewhere; they broadcast."""
    return flag * mask.view(np.int8)


def no(flag: ArrayLike) -> Codes:
    """Yes and no swapped; unknown stays."""
    array = np.asarray(flag, dtype=np.int8)
    return coded(array == NO, array == _UNKNOWN)


def below(values: Floats, limit: float, *, included: bool = False) -> Codes:
    """Whether values lie below a limit (or on it where included); NaN is unknown."""
    # no comparison with NaN is true
    return coded(values <= limit if included else values < limit, np.isnan(values))


def above(values: Floats, limit: float) -> Codes:
    """Whether values lie above a limit; NaN is unknown."""
    return coded(values > limit, np.isnan(values))

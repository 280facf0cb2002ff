"""Wind at the aircraft: direction from the nose, gusts that a report may leave out, wind at the wing, door limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from advisor.conditions import Door, Floats
from advisor.physics.ranges import within

# a report gives a gust only from 10 kt over the mean, so an unreported one is at most 9 kt over it
UNREPORTED_GUST_KT = 9.0


def relative_deg(wind_from_deg: ArrayLike, heading_deg: ArrayLike) -> Floats:
    """Where the wind comes from, seen from the nose, clockwise.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    wind_from_deg
        True direction it blows from, 0 to 360.
    heading_deg
        True heading of the nose, 0 to 360.

    Returns
    -------
    Floats
        Degrees above -180 up to 180: 0 on the nose, 90 from the right, a wind from dead astern is 180, never -180; NaN
        outside the ranges.

    References
    ----------
    common-practice
    """
    difference = within(wind_from_deg, 0.0, 360.0) - within(heading_deg, 0.0, 360.0)
    return (180.0 - (180.0 - difference) % 360.0)[()]


def unreported_gust_kt(wind_kt: ArrayLike) -> Floats:
    """Strongest gust that a report without one still allows.

    Parameters
    ----------
    wind_kt
        Mean wind, 0 to 200, scalar or array; NaN stays.

    Returns
    -------
    Floats
        kt: the mean and 9 more; NaN outside the range.

    References
    ----------
    icao-annex-3-gust
    """
    return (within(wind_kt, 0.0, 200.0) + UNREPORTED_GUST_KT)[()]


def door_limits(doors: Sequence[Door], relative_wind_deg: ArrayLike, gust_kt: ArrayLike) -> tuple[Floats, Floats]:
    """How far the gust is below each door's limits, at each time in each case. No limit is built in.

    Parameters
    ----------
    doors
        With limits in kt, for all directions or by sector.
    relative_wind_deg
        From the nose, -180 to 180, (case, time) or a shape that broadcasts to it; NaN where not known, and then every
        direction counts.
    gust_kt
        (case, time), 0 to 250; NaN stays.

    Returns
    -------
    tuple[Floats, Floats]
        Operate and stay open, each (door, case, time): limit less gust in kt, negative where exceeded.

    References
    ----------
    common-practice: the limits themselves are the operator's
    """
    gust = within(gust_kt, 0.0, 250.0)
    relative = within(relative_wind_deg, -180.0, 180.0)
    shape = np.broadcast_shapes(gust.shape, relative.shape)
    tables = (np.empty((len(doors), *shape)), np.empty((len(doors), *shape)))
    for row, door in enumerate(doors):
        for table, limit in zip(tables, _limits_kt(door, relative), strict=True):
            table[row] = limit - gust
    return tables


def _limits_kt(door: Door, relative: Floats) -> tuple[Floats, Floats]:
    """Operate and stay-open limit for each direction: the lowest of its sectors, or the door's own outside them."""
    limits = []
    for base, by_sector in (
        (door.operate_kt, [sector.operate_kt for sector in door.sectors]),
        (door.stay_open_kt, [sector.stay_open_kt for sector in door.sectors]),
    ):
        limit = np.full(relative.shape, np.inf)
        for sector, value in zip(door.sectors, by_sector, strict=True):
            span = (sector.to_deg - sector.from_deg) % 360.0
            if span == 0.0 and sector.to_deg != sector.from_deg:
                span = 360.0
            limit = np.where((relative - sector.from_deg) % 360.0 <= span, np.minimum(limit, value), limit)
        limit = np.where(np.isinf(limit), base, limit)
        limits.append(np.where(np.isnan(relative), min(base, *by_sector) if by_sector else base, limit))
    return limits[0], limits[1]

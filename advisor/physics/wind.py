"""Wind at the aircraft: direction from the nose, gusts that a report may leave out, wind at the wing, door limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Door, Floats
from advisor.physics.ranges import within

# a report gives a gust only from 10 kt over the mean, so an unreported one is at most 9 kt over it
UNREPORTED_GUST_KT = 9.0
MEASURED_AT_M = 10.0
# mown grass around an airfield
ROUGHNESS_M = 0.03
# still air moves a little, and calm is where a convection formula must not divide by nothing
FLOOR_M_S = 0.5


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


def log_profile(wind_m_s: ArrayLike, height_m: ArrayLike, roughness_m: ArrayLike = ROUGHNESS_M) -> Floats:
    """Wind at a height from the wind measured at 10 m, by the neutral logarithmic profile.

    Scalars or arrays that broadcast; NaN stays.

    Parameters
    ----------
    wind_m_s
        Mean wind at 10 m, 0 to 110.
    height_m
        Above the ground, 0.5 to 100.
    roughness_m
        Roughness length, 0.0001 to 0.4.

    Returns
    -------
    Floats
        m/s, at least 0.5 (still air moves a little); NaN outside the ranges.

    References
    ----------
    wmo-8-wind-profile
    invented-default: the floor
    """
    roughness = within(roughness_m, 0.0001, 0.4)
    ratio = np.log(within(height_m, 0.5, 100.0) / roughness) / np.log(MEASURED_AT_M / roughness)
    return np.maximum(within(wind_m_s, 0.0, 110.0) * ratio, FLOOR_M_S)[()]


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


def worst_over(table: Floats, mask: NDArray[np.bool_]) -> Floats:
    """Smallest margin within a window.

    Parameters
    ----------
    table
        (..., time).
    mask
        (time,) or a shape that broadcasts to the table, true within the window.

    Returns
    -------
    Floats
        (...): the smallest known margin where it is below 0, since a missing one cannot better it; NaN where all known
        ones are above and any is missing, or where nothing lies in the window.

    References
    ----------
    common-practice
    """
    inside = np.broadcast_to(mask, table.shape)
    missing = np.any(inside & np.isnan(table), axis=-1)
    worst = np.min(np.where(inside & ~np.isnan(table), table, np.inf), axis=-1)
    return np.where(np.isinf(worst) | (missing & (worst >= 0.0)), np.nan, worst)[()]


def worst_index(table: Floats, mask: NDArray[np.bool_]) -> NDArray[np.intp]:
    """When, within a window, the smallest margin first occurs.

    Parameters
    ----------
    table, mask
        As for worst_over.

    Returns
    -------
    NDArray[np.intp]
        The position along time, (...); -1 where nothing known lies in the window.

    References
    ----------
    common-practice
    """
    inside = np.broadcast_to(mask, table.shape) & ~np.isnan(table)
    position = np.argmin(np.where(inside, table, np.inf), axis=-1)
    return np.where(inside.any(axis=-1), position, -1)[()]


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

"""How hard it snows, from visibility, and what that is as water. The tables are dated data: old published editions.

An operator loads the current season's table; these two stand until then, and the worse of them is taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nextafter

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.conditions import Codes, Floats
from advisor.physics.ranges import within
from advisor.quantities.units import M_PER_MILE

VERY_LIGHT, LIGHT, MODERATE, HEAVY = 1, 2, 3, 4
# reports round a limit of so many miles to whole metres or hundreds of metres, never by more than this
_ROUNDING_M = 2.0
# a whole degree stands for half a degree either side; the warmer row is never the milder one
TEMPERATURE_DOUBT_C = 0.5
VISIBILITY_RANGE_M = (0.0, 100_000.0)
TEMPERATURE_RANGE_C = (-90.0, 60.0)


@dataclass(frozen=True)
class VisibilityTable:
    """Snow intensity by visibility: for each of (dark, warm), (upper limit of visibility in m, intensity) rising.

    The intensity holds at and below its limit where limit_included, else only below it. warm: at or above (or, where
    not warm_included, only above) boundary_c.
    """

    source: str
    edition: str
    boundary_c: float
    warm_included: bool
    limit_included: bool
    rows: dict[tuple[bool, bool], tuple[tuple[float, int], ...]]


# the columns are headed 4000, 3200, 2400, 1600, 1200, 800, 400 m; below a column's visibility the next lower one holds
BELOW_M = (inf, 4000.0, 3200.0, 2400.0, 1600.0, 1200.0, 800.0)


def _columns(letters: str) -> tuple[tuple[float, int], ...]:
    intensities = [("VL", "L", "M", "H").index(letter) + 1 for letter in letters.split()]
    return tuple(zip(reversed(BELOW_M), reversed(intensities), strict=True))


def _miles(heavy: float, moderate: float, light: float) -> tuple[tuple[float, int], ...]:
    limits = (heavy, moderate, light)
    return (*((mile * M_PER_MILE, HEAVY - i) for i, mile in enumerate(limits)), (inf, VERY_LIGHT))


FAA_2009 = VisibilityTable(
    source="faa-snow-visibility-2009",
    edition="about 2009-10",
    boundary_c=-1.0,
    warm_included=False,
    limit_included=False,
    rows={
        (False, False): _columns("VL VL L L M M H"),
        (False, True): _columns("VL L L M M H H"),
        (True, False): _columns("VL L M M H H H"),
        (True, True): _columns("VL L M H H H H"),
    },
)
TRANSPORT_CANADA_2003 = VisibilityTable(
    source="tc-tp-10643-2003",
    edition="2003",
    boundary_c=-1.0,
    warm_included=True,
    limit_included=True,
    rows={
        (True, True): _miles(1.0, 2.5, 4.0),
        (True, False): _miles(0.75, 1.5, 3.0),
        (False, True): _miles(0.5, 1.5, 3.0),
        (False, False): _miles(0.375, 0.875, 2.0),
    },
)
TABLES = (FAA_2009, TRANSPORT_CANADA_2003)

# liquid equivalent of each class, mm/h: Transport Canada 2018; no top is published for heavy, 5.5 is assumed
RATE_CLASSES_MM_H = {VERY_LIGHT: (0.3, 0.4), LIGHT: (0.4, 1.0), MODERATE: (1.0, 2.5), HEAVY: (2.5, 5.5)}
# Rasmussen et al. 1999: one rate goes with visibilities that differ by a factor of 3 to 10
RATE_DOUBT = 3.0


def snow_intensity(visibility_m: ArrayLike, temperature_c: ArrayLike, dark: ArrayLike) -> Codes:
    """Snow intensity at a place where it snows, the worse of two published tables.

    Scalars or arrays that broadcast.

    Parameters
    ----------
    visibility_m
        Prevailing, 0 to 100 000.
    temperature_c
        As reported, -90 to 60, taken up to half a degree warmer, as its rounding allows and the worse row demands.
    dark
        1 or True by night, 0 by day, -1 or NaN not known.

    Returns
    -------
    Codes
        int8, 1 very light, 2 light, 3 moderate, 4 heavy; 0 where an input is missing or outside its range.

    References
    ----------
    faa-snow-visibility-2009
    tc-tp-10643-2003
    """
    return _look_up(_WORST_OF_BOTH, visibility_m, temperature_c, dark)


def _look_up(
    compiled: tuple[Floats, Floats, Codes], visibility_m: ArrayLike, temperature_c: ArrayLike, dark: ArrayLike
) -> Codes:
    """Worst intensity of some tables: one search among all their limits, then one look into a small array."""
    visibility = within(visibility_m, *VISIBILITY_RANGE_M)
    temperature = within(temperature_c, *TEMPERATURE_RANGE_C)
    night = np.asarray(dark, dtype=np.float64)
    edges_m, starts_c, worst = compiled
    # NaN sorts behind every limit; dark that is not known finds the row of zeros
    place = np.searchsorted(edges_m, visibility, side="right")
    warmth = np.searchsorted(starts_c, temperature, side="right")
    by_night = np.where(night == 1.0, 1, np.where(night == 0.0, 0, 2))
    return worst[by_night, warmth, place][()]


def _compiled(tables: tuple[VisibilityTable, ...], doubt_c: float) -> tuple[Floats, Floats, Codes]:
    """Limits of visibility, temperatures where a warm row starts, and the worst intensity by dark, warmth and place."""
    limits = {_first_above(table, limit) for table in tables for row in table.rows.values() for limit, _ in row}
    edges = sorted(limits - {inf})
    starts = sorted({_warm_from(table, doubt_c) for table in tables})
    # the last place in both is where NaN goes
    edges_m, starts_c = np.array([*edges, inf]), np.array([*starts, inf])
    worst = np.zeros((3, len(starts) + 2, len(edges) + 2), dtype=np.int8)
    for night, warmth, place in np.ndindex(2, len(starts) + 1, len(edges) + 1):
        visibility, temperature = edges[place - 1] if place else -inf, starts[warmth - 1] if warmth else -inf
        for table in tables:
            row = table.rows[bool(night), temperature >= _warm_from(table, doubt_c)]
            intensity = next(found for limit, found in row if visibility < _first_above(table, limit))
            worst[night, warmth, place] = max(int(worst[night, warmth, place]), intensity)
    return edges_m, starts_c, worst


def _first_above(table: VisibilityTable, limit_m: float) -> float:
    """First visibility that is above a limit, which holds itself or not."""
    return nextafter(limit_m + _ROUNDING_M, inf) if table.limit_included else limit_m


def _warm_from(table: VisibilityTable, doubt_c: float) -> float:
    """First reported temperature that the warm row may stand for."""
    boundary = table.boundary_c - doubt_c
    return boundary if table.warm_included else nextafter(boundary, inf)


_WORST_OF_BOTH = _compiled(TABLES, TEMPERATURE_DOUBT_C)


def snow_rate_mm_h(intensity: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Snow as water, low, central and high, from its intensity.

    Parameters
    ----------
    intensity
        1 to 4 of snow_intensity, scalar or array; 0 and anything else is missing.

    Returns
    -------
    tuple[Floats, Floats, Floats]
        mm/h: the middle of the published class, and a factor of 3 either way; NaN where missing.

    References
    ----------
    tc-snow-rates-2018
    rasmussen-1999
    invented-default: the top of heavy
    """
    middles = np.full(6, np.nan)
    for code, (low, high) in RATE_CLASSES_MM_H.items():
        middles[code] = 0.5 * (low + high)
    codes = np.asarray(intensity, dtype=np.float64)
    place: NDArray[np.int64] = np.where((codes >= 1) & (codes <= 4), codes, 0).astype(np.int64)
    central = middles[place]
    return (central / RATE_DOUBT)[()], central[()], (central * RATE_DOUBT)[()]

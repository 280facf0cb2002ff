"""How two readings of the same hours become one table: the worse of both, as each quantity's row says."""

from __future__ import annotations

from math import nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Columns
from advisor.outlook.cases import Doubt, worse
from advisor.physics import flags
from advisor.quantities import COLUMNS, FLAG, kinds

_BY_CASE = {kinds.BY_WIND: Doubt.WIND, kinds.BY_CLOUD: Doubt.CLOUD}


def join(first: Columns, second: Columns) -> Columns:
    """Two tables over the base cases in one: the central case keeps the first, each other takes the worse of both.

    Both have the columns of the first.
    """
    return {name: _joined(name, table, second[name]) for name, table in first.items()}


def _joined(name: str, first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
    doubt = _BY_CASE.get(COLUMNS[name].worse)
    if doubt is not None:
        return worse(first, second, doubt)
    return np.concatenate([first[:1], _whole(name, first[1:], second[1:])])


def join_flags(first: Columns, second: Columns) -> Columns:
    """Of what both remember the flags that either has."""
    return {
        name: flags.any_of(first[name], second[name]) for name in second if COLUMNS[name].kind == FLAG and name in first
    }


def worst(name: str, first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
    """The worse of two tables in every case, the central one too: of groups that share a lane none may hide another.

    first, second: of one quantity over the base cases.
    """
    doubt = _BY_CASE.get(COLUMNS[name].worse)
    if doubt is None:
        return _whole(name, first, second)
    joined = worse(first, second, doubt)
    # more wind is the worse one; of cloud neither end is
    return np.concatenate([np.maximum(first[:1], second[:1]), joined[1:]]) if doubt is Doubt.WIND else joined


def _whole(name: str, first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
    """The worse of two values by the quantity alone, whatever the case."""
    how = COLUMNS[name].worse
    if how == kinds.LOWER:
        lower: NDArray[Any] = np.minimum(first, second)
        return lower
    if how == kinds.HIGHER:
        higher: NDArray[Any] = np.maximum(first, second)
        return higher
    if how == kinds.SAME:
        return np.where(first == second, first, nan)
    if how == kinds.ALL:
        both: NDArray[Any] = np.bitwise_or(first, second)
        return both
    if how == kinds.ANY:
        return flags.any_of(first, second)
    if how == kinds.FIRST:
        return first
    raise KeyError(f"nothing says how the worse of two {name} is taken")


# which columns a part of a forecast says
PARTS: dict[str, tuple[str, ...]] = {
    part: tuple(name for name, row in COLUMNS.items() if row.part == part)
    for part in ("wind", "visibility", "cloud", "weather")
}
# over two hours after the report that says it
PASSING = tuple(name for name, row in COLUMNS.items() if row.passes)
# without a forecast not known later
FORETOLD = frozenset(name for name, row in COLUMNS.items() if row.foretold)

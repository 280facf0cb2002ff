"""The timeline of a brief: a row a time of what the table of quantities shows, and the JSON schema of such a row. Pure.

What a row holds follows from the table: a number that varies over time alone stands as it is, one that varies over the
cases as a band; flags and words say so.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import UNKNOWN, YES, Conditions, Floats
from advisor.departure import stamp
from advisor.quantities import FLAG, LIGHT_NAMES, QUANTITIES, Quantity
from advisor.quantities.kinds import EACH_TIME

TIME_PATTERN = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"
_SHOWN = tuple(row for row in QUANTITIES.values() if row.shown)


def timeline(conditions: Conditions) -> tuple[dict[str, object], ...]:
    """A row a time: each shown quantity as number, low/central/high, text, true, false or null."""
    rows: list[dict[str, object]] = [{"at": stamp(float(moment))} for moment in conditions.unix_s]
    light = conditions.code("light")[0]
    for index, row in enumerate(rows):
        row["light"] = LIGHT_NAMES[light[index]] if light[index] >= 0 else None
        row["precipitation"] = conditions.precipitation_text[0][index] if conditions.precipitation_text else None
    for quantity in _SHOWN:
        for row, value in zip(rows, _values(quantity, conditions), strict=True):
            row[quantity.name] = value
    return tuple(rows)


def _values(quantity: Quantity, conditions: Conditions) -> list[Any]:
    """One quantity at each time."""
    if quantity.name not in conditions.columns:
        return [None] * conditions.unix_s.size
    if quantity.kind == FLAG:
        return _flags(conditions.flag(quantity.name))
    table = conditions.number(quantity.name)
    return _numbers(table[0]) if quantity.shape == EACH_TIME else _bands(table)


def _flags(column: NDArray[Any]) -> list[bool | None]:
    yes, unknown = (column == YES).any(axis=0), (column == UNKNOWN).any(axis=0)
    return [True if y else None if u else False for y, u in zip(yes, unknown, strict=True)]


def _bands(column: Floats) -> list[object]:
    known: NDArray[np.bool_] = ~np.isnan(column)
    # a band over some of the cases only would look surer than it is
    whole = np.atleast_1d(known.all(axis=0)).tolist()
    low = _numbers(np.where(known, column, np.inf).min(axis=0))
    high = _numbers(np.where(known, column, -np.inf).max(axis=0))
    central = _numbers(column[0])
    return [_band(*values) for values in zip(low, central, high, whole, strict=True)]


def _band(low: float | None, central: float | None, high: float | None, whole: bool) -> dict[str, float | None] | None:
    if whole:
        return {"low": low, "central": central, "high": high}
    return None if central is None else {"low": None, "central": central, "high": None}


def _numbers(values: Floats) -> list[float | None]:
    """Numbers for JSON: rounded, never -0.0, None where not finite."""
    there = np.isfinite(values)
    rounded = np.where(there, np.round(values, 4), 0.0) + 0.0
    return [value if known else None for value, known in zip(rounded.tolist(), there.tolist(), strict=True)]


_NUMBER: dict[str, Any] = {"type": ["number", "null"]}
_FLAG: dict[str, Any] = {"type": ["boolean", "null"]}


def _described(quantity: Quantity) -> dict[str, Any]:
    """The schema of one key: its type, and in words its meaning, its unit and when it is null."""
    unit = f", {quantity.unit}" if quantity.unit else ""
    if quantity.kind == FLAG:
        return {**_FLAG, "description": f"{quantity.meaning}: yes in any case; null where not known"}
    without = f" ({quantity.no_value})" if quantity.no_value else ""
    if quantity.shape == EACH_TIME:
        return {**_NUMBER, "description": f"{quantity.meaning}{unit}; null where not known{without}"}
    ends = dict.fromkeys(("low", "central", "high"), _NUMBER)
    band = {"type": "object", "properties": ends, "required": list(ends), "additionalProperties": False}
    meaning = f"{quantity.meaning}{unit}: lowest, central and highest of the cases"
    return {
        "anyOf": [band, {"type": "null"}],
        "description": f"{meaning}; the ends are null where not known in some case, the whole in the central one"
        f"{without}",
    }


def row_schema() -> dict[str, Any]:
    """JSON Schema of a row of the timeline, from the table of quantities."""
    fixed: dict[str, dict[str, Any]] = {
        "at": {"type": "string", "pattern": TIME_PATTERN, "description": "the time of this row, RFC 3339, UTC"},
        "light": {"enum": [*LIGHT_NAMES, None], "description": QUANTITIES["light"].meaning},
        "precipitation": {
            "type": ["string", "null"],
            "description": "weather of the central case as reports code it, or in words that there is none",
        },
    }
    properties = fixed | {quantity.name: _described(quantity) for quantity in _SHOWN}
    return {"properties": properties, "required": list(properties)}

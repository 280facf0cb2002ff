"""Holdover of a departure over the night, minute by minute: the worse of the cases, and why there is none. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, isnan
from typing import Any

import numpy as np

from advisor.conditions import Conditions, Floats
from advisor.slots.demand import Need, holdover_codes
from advisor.slots.files.holdover import FROST_CODE, NAMES, NO_GUIDELINE, Holdover

UNKNOWN = NAMES.index("unknown")


@dataclass(frozen=True, slots=True)
class Limits:
    """Lowest holdover that holds at each minute, over the cases; NaN where no guideline holds, inf where none runs.

    tables: lowest of 1, 2, 4, … minutes from each, (power of two, minute), for any span at once.
    """

    tables: Floats
    base_s: int

    def over(self, first: Any, last: Any) -> Floats:
        """Lowest holdover from minute to minute, both counted, arrays of one shape; NaN where no guideline holds."""
        table = self.tables
        size = table.shape[1]
        first = np.clip(np.asarray(first, dtype=np.int64), 0, size - 1)
        last = np.clip(np.asarray(last, dtype=np.int64), first, size - 1)
        level = np.log2(last - first + 1).astype(np.int64)
        found: Floats = np.minimum(table[level, first], table[level, last - (1 << level) + 1])
        return found


def limits(conditions: Conditions, table: Holdover, base_s: int, minutes: int) -> Limits:
    """Holdover of a night. base_s: of minute 0, seconds since 1970 UTC; minutes: how many."""
    code, air = holdover_codes(conditions, FROST_CODE)
    # NaN in one case is NaN
    worst = table.minutes(code, air).min(axis=0)
    return Limits(_spans(worst, conditions, base_s, minutes), base_s)


def limits_by_case(conditions: Conditions, table: Holdover, base_s: int, minutes: int) -> Floats:
    """The same of each case on its own, (case, power of two, minute)."""
    code, air = holdover_codes(conditions, FROST_CODE)
    found: Floats = np.stack([_spans(one, conditions, base_s, minutes) for one in table.minutes(code, air)])
    return found


def _spans(holdover_min: Floats, conditions: Conditions, base_s: int, minutes: int) -> Floats:
    """Lowest of 1, 2, 4, … minutes from each, from the samples of one night."""
    moments = base_s + 60.0 * np.arange(minutes)
    after = np.clip(np.searchsorted(conditions.unix_s, moments), 0, holdover_min.size - 1)
    before = np.clip(np.searchsorted(conditions.unix_s, moments, side="right") - 1, 0, holdover_min.size - 1)
    tables = [np.minimum(holdover_min[before], holdover_min[after])]
    width = 1
    while 2 * width <= minutes:
        last = tables[-1]
        tables.append(np.minimum(last, np.concatenate([last[width:], np.full(width, inf)])))
        width *= 2
    return np.stack(tables)


def why_none(need: Need, table: Holdover, first_s: int, last_s: int) -> str:
    """Why no holdover can be given between two times; "" where one can."""
    conditions = need.conditions
    inside = (conditions.unix_s >= first_s - 300) & (conditions.unix_s <= last_s + 300)
    code, air = holdover_codes(conditions, FROST_CODE)
    code, air = code[:, inside], air[:, inside]
    missing = np.isnan(table.minutes(code, air))
    if not missing.any():
        return ""
    met = {int(value) for value in code[missing]}
    none = [NAMES[value] for value in sorted(met) if NAMES[value] in NO_GUIDELINE and value != UNKNOWN]
    if none:
        return f"no guideline exists for {', '.join(none)}: ask for the operator's decision"
    if UNKNOWN in met:
        return "what falls then is not known"
    names = ", ".join(NAMES[value] for value in sorted(met))
    coldest = float(np.nanmin(air[missing])) if not bool(np.isnan(air[missing]).all()) else float("nan")
    at = f" at {coldest:.0f} °C" if isfinite(coldest) else ""
    return f"the operator's table has no row for {names}{at}"


def shown(minutes: float) -> int | None:
    """Whole minutes for an output; None where no time runs or none is known."""
    return None if isnan(minutes) or not isfinite(minutes) else int(minutes)

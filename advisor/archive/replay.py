"""Reports of an archive through the same physics and rules as a brief: a status a rule and report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from advisor.archive import instant
from advisor.archive.gathered import Gathering
from advisor.archive.table import Table
from advisor.archive.wants import behind
from advisor.archive.windows import ReportWindows
from advisor.checklist.rules import Rule
from advisor.conditions import Airframe, Conditions, Place
from advisor.physics import surface
from advisor.physics.derive import derive
from advisor.physics.stages import skin


def derived(
    table: Table,
    station: NDArray[np.int32],
    at_s: NDArray[np.int64],
    places: Sequence[Place],
    airframe: Airframe,
    *,
    off_block_in_min: float,
    wanted: Iterable[str] | None = None,
) -> Conditions:
    """Derived conditions at the instant after each report, (case, report).

    wanted: the columns that are asked for, None for all; what leads to none of them is left out.
    """
    windows = ReportWindows(station, at_s)
    conditions = instant.conditions(
        table,
        station,
        at_s,
        places,
        off_block_in_min=off_block_in_min,
        fuel_stays_cold=airframe.fuel_stays_cold,
        windows=windows,
    )
    asked = None if wanted is None else frozenset(wanted)
    skins = partial(skin.skins, surfaces=_surfaces(asked))
    return derive(conditions, airframe, wanted=asked, instead={"lying": Gathering(table, windows), "skin": skins})


def looked_at(rules: Iterable[Rule]) -> frozenset[str]:
    """The columns that rules follow from, and that are looked at where one cannot be told."""
    quantities = {name for rule in rules for name in _quantities(rule)}
    return frozenset(name for quantity in quantities for name in behind(quantity))


def _quantities(rule: Rule) -> tuple[str, ...]:
    raised = rule.raised
    return rule.condition.quantities if raised is None else (*rule.condition.quantities, *raised.condition.quantities)


def _surfaces(asked: frozenset[str] | None) -> tuple[str, ...]:
    """The surfaces whose skins are asked for; painted and over the tank always."""
    if asked is None:
        return surface.SURFACES
    return tuple(one for one in surface.SURFACES if one in ("painted", "tank") or surface.QUANTITY[one] in asked)

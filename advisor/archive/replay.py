"""Reports of an archive through the same physics and rules as a brief: a status a rule and report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.archive import instant
from advisor.archive.gathered import Gathering
from advisor.archive.table import Table
from advisor.archive.windows import Windows
from advisor.conditions import Airframe, Conditions, Place
from advisor.physics.derive import derive


def derived(
    table: Table,
    station: NDArray[np.int32],
    at_s: NDArray[np.int64],
    places: Sequence[Place],
    airframe: Airframe,
    *,
    off_block_in_min: float,
    wanted: Sequence[str] | None = None,
) -> Conditions:
    """Derived conditions at the instant after each report, (case, report). wanted: the columns asked for, None all."""
    windows = Windows(station, at_s)
    made = instant.conditions(
        table,
        station,
        at_s,
        places,
        off_block_in_min=off_block_in_min,
        fuel_stays_cold=airframe.fuel_stays_cold,
        windows=windows,
    )
    return derive(made, airframe, wanted=wanted, instead={"lying": Gathering(table, windows)})

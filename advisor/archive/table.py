"""What reports said, as columns: a row a report, the numbers and words that the outlook takes from it.

The same columns come from two sides: from a report that the full reader has read (`of_reports`), and from tokens that
were each read once (tokens.py). That both are equal is checked on a sample of every run.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.outlook import ended, seen
from advisor.outlook.track import FREEZING_BLIND, STORM_BLIND, observed
from advisor.report.model import DECODED, NOT_DECODED, Report

Bools = NDArray[np.bool_]
Ids = NDArray[np.int32]
Words = tuple[str, ...]
# code of the weather, when it began and was last seen, s from the report's own time
Told = tuple[tuple[str, float, float], ...]

NOT_DESCRIBED, NO_STORM_CLOUD, TOWERING, STORM_CLOUD = -1, 0, 1, 2
_STORM_CLOUD = {None: NOT_DESCRIBED, "": NO_STORM_CLOUD, "TCU": TOWERING, "CB": STORM_CLOUD}


@dataclass(slots=True)
class Table:
    """Columns over reports, each (report,).

    Numbers are float64 with NaN for missing; direction_deg is NaN for a variable wind and a calm as well. cloud_low,
    cloud_central, cloud_high: covered part of the sky. peak_wind_s: seconds from the report's time. storm_cloud: -1
    where the sky is not described, 0 none, 1 towering cumulus, 2 cumulonimbus. ice_h: the longest span of hours over
    which ice was seen to build up, 0 for none. weather, told: positions in weather_sets and told_sets: present weather,
    and what was told of weather before. partly: a group was not decoded; usable: one was.
    """

    wind_kt: Floats
    gust_kt: Floats
    direction_deg: Floats
    visibility_m: Floats
    cloud_low: Floats
    cloud_central: Floats
    cloud_high: Floats
    base_m: Floats
    temperature_c: Floats
    temperature_doubt_c: Floats
    dew_point_c: Floats
    dew_point_doubt_c: Floats
    runway_visual_range_m: Floats
    peak_wind_kt: Floats
    peak_wind_s: Floats
    ice_h: NDArray[np.int8]
    storm_cloud: NDArray[np.int8]
    gust_lost: Bools
    weather_missing: Bools
    recent_missing: Bools
    sky_known: Bools
    lightning: Bools
    storm_remark: Bools
    freezing_blind: Bools
    storm_blind: Bools
    closed: Bools
    snow_lies: Bools
    frost: Bools
    nil: Bools
    special: Bools
    partly: Bools
    usable: Bools
    weather: Ids
    told: Ids
    weather_sets: list[Words]
    told_sets: list[Told]

    def __len__(self) -> int:
        return len(self.wind_kt)

    def row(self, position: int) -> dict[str, Any]:
        """One report's values by name, words in place of their positions."""
        made = {name: getattr(self, name)[position].item() for name in (*NUMBERS, *SMALL, *TRUTHS)}
        return made | {
            "weather": self.weather_sets[self.weather[position]],
            "told": self.told_sets[self.told[position]],
        }

    def picked(self, rows: NDArray[Any] | slice) -> Table:
        """Some of the reports, by position or mask."""
        made = {name: getattr(self, name)[rows] for name in (*NUMBERS, *SMALL, *TRUTHS, "weather", "told")}
        return Table(**made, weather_sets=self.weather_sets, told_sets=self.told_sets)


NUMBERS = tuple(one.name for one in fields(Table) if one.type == "Floats")
SMALL = ("ice_h", "storm_cloud")
TRUTHS = tuple(one.name for one in fields(Table) if one.type == "Bools")


class Sets:
    """Tuples of words, each with a position."""

    def __init__(self) -> None:
        self.rows: list[Any] = [()]
        self._at: dict[Any, int] = {(): 0}

    def at(self, words: Any) -> int:
        """The position of a tuple, a new one where it was not there."""
        position = self._at.get(words)
        if position is None:
            position = self._at[words] = len(self.rows)
            self.rows.append(words)
        return position


def empty(size: int, weather: Sets, told: Sets) -> Table:
    """A table in which nothing is said."""
    columns: dict[str, Any] = {name: np.full(size, np.nan) for name in NUMBERS}
    columns |= {name: np.zeros(size, dtype=np.int8) for name in SMALL}
    columns |= {name: np.zeros(size, dtype=np.bool_) for name in TRUTHS}
    columns |= {name: np.zeros(size, dtype=np.int32) for name in ("weather", "told")}
    return Table(**columns, weather_sets=weather.rows, told_sets=told.rows)


def of_reports(reports: Sequence[Report]) -> Table:
    """The table of reports that were read in full."""
    weather, told = Sets(), Sets()
    made = empty(len(reports), weather, told)
    put(made, range(len(reports)), reports, weather, told)
    return made


def put(table: Table, rows: Iterable[int], reports: Iterable[Report], weather: Sets, told: Sets) -> None:
    """Put reports that were read in full into rows of a table. weather, told: the sets that it refers to."""
    for row, report in zip(rows, reports, strict=True):
        for name, value in said(report).items():
            if name == "weather":
                table.weather[row] = weather.at(value)
            elif name == "told":
                table.told[row] = told.at(value)
            else:
                getattr(table, name)[row] = value


def said(report: Report) -> dict[str, Any]:
    """The values of one report by the names of the table, words as tuples."""
    state, remarks = observed(report), report.remarks
    issued = report.issued.timestamp()
    low, central, high = state.cloud
    return {
        "wind_kt": state.wind_kt,
        "gust_kt": state.gust_kt,
        "direction_deg": state.direction_deg,
        "visibility_m": state.visibility_m,
        "cloud_low": low,
        "cloud_central": central,
        "cloud_high": high,
        "base_m": state.base_m,
        "temperature_c": report.temperature_c,
        "temperature_doubt_c": report.temperature_doubt_c,
        "dew_point_c": report.dew_point_c,
        "dew_point_doubt_c": report.dew_point_doubt_c,
        "runway_visual_range_m": report.runway_visual_range_m,
        "peak_wind_kt": remarks.peak_wind_kt,
        "peak_wind_s": np.nan if remarks.peak_wind_at is None else remarks.peak_wind_at.timestamp() - issued,
        "ice_h": max((hours for hours, _ in remarks.ice_accretion_mm), default=0),
        "storm_cloud": _STORM_CLOUD[state.storm_cloud],
        "gust_lost": state.gust_lost,
        "weather_missing": state.weather_missing,
        "recent_missing": report.recent_missing,
        "sky_known": state.sky_known,
        "lightning": state.lightning,
        "storm_remark": state.storm_remark,
        "freezing_blind": FREEZING_BLIND[0] in state.blind_to,
        "storm_blind": STORM_BLIND[0] in state.blind_to,
        "closed": report.aerodrome_closed,
        "snow_lies": seen.snow_lies([report]),
        "frost": remarks.frost_on_indicator,
        "nil": report.nil,
        "special": report.kind == "SPECI",
        "usable": any(one.status == DECODED and one.part in ("body", "remarks") for one in report.groups),
        "partly": any(group.status == NOT_DECODED for group in report.groups),
        "weather": state.codes,
        "told": tuple((code, start - issued, last - issued) for code, start, last in ended.told(report)),
    }

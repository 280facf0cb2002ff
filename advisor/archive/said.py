"""A table of reports as a course of the weather: what the outlook's tables ask of it, each report its own time."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.archive.table import NOT_DESCRIBED, STORM_CLOUD, TOWERING, Bools, Table
from advisor.conditions import NO, UNKNOWN, Codes, Floats
from advisor.outlook.track import FREEZING_BLIND, SIGHT_BELOW_M, STORM_BLIND, hidden
from advisor.physics import flags, precipitation, treatment


class Said:
    """The reports of a table as they were made, each at its own time.

    us: where United States rules hold, (report,).
    """

    def __init__(self, table: Table, us: Bools) -> None:
        self.table, self.us = table, us

    def without(self, silent: NDArray[np.bool_]) -> Said:
        """The same; a report of an archive is never too old for itself."""
        if silent.any():
            raise ValueError("a report of an archive speaks for the hours after it only")
        return self

    def numbers(self, name: str) -> Floats:
        """One number of the reports; "gust_lost" as 1 or 0."""
        column: Floats = np.asarray(getattr(self.table, name), dtype=np.float64)
        return column

    def cloud(self, end: int) -> Floats:
        """Covered fraction: end 0 low, 1 central, 2 high."""
        ends: tuple[Floats, ...] = (self.table.cloud_low, self.table.cloud_central, self.table.cloud_high)
        return ends[end]

    @cached_property
    def sky_known(self) -> NDArray[np.bool_]:
        """Where the sky is described."""
        return self.table.sky_known

    @cached_property
    def _kinds(self) -> tuple[NDArray[np.intp], list[tuple[tuple[str, ...], bool]]]:
        """Which distinct pair of codes and missing each report has, and the pairs."""
        warm = self.table.temperature_c > precipitation.FROZEN_BELOW_C
        key = (self.table.weather.astype(np.int64) * 2 + self.table.weather_missing) * 2 + warm
        distinct, which = np.unique(key, return_inverse=True)
        pairs = []
        for one in distinct.tolist():
            codes, air_c = self.table.weather_sets[one // 4], np.inf if one % 2 else np.nan
            pairs.append((precipitation.in_air(codes, air_c), bool(one // 2 % 2)))
        return which, pairs

    @cached_property
    def flags(self) -> dict[str, Codes]:
        """The weather flags, each (report,)."""
        which, pairs = self._kinds
        each = [precipitation.flags(codes, missing=missing) for codes, missing in pairs]
        columns = {name: np.array([said[name] for said in each], dtype=np.int8)[which] for name in precipitation.FLAGS}
        dry = columns["precipitation_any"] == NO
        for name in FREEZING_BLIND:
            # what a station cannot see is not known; without anything falling there is nothing that could freeze
            columns[name][self.table.freezing_blind & ~dry & (columns[name] == NO)] = UNKNOWN
        for name in STORM_BLIND:
            columns[name][self.table.storm_blind & (columns[name] == NO)] = UNKNOWN
        silent = np.array([codes == () for codes, _ in pairs], dtype=np.bool_)[which]
        air = (self.table.visibility_m, self.table.temperature_c, self.table.dew_point_c)
        for name in SIGHT_BELOW_M:
            columns[name][hidden(name, *air, silent) & (columns[name] == NO)] = UNKNOWN
        return columns

    @cached_property
    def lightning(self) -> Codes:
        """Lightning or cumulonimbus in the remarks."""
        return self.table.lightning.astype(np.int8)

    @cached_property
    def storm_remark(self) -> Codes:
        """Lightning or storm cloud in the remarks that is not said to be distant."""
        return self.table.storm_remark.astype(np.int8)

    @cached_property
    def cumulonimbus(self) -> Codes:
        """Cumulonimbus in the cloud groups."""
        return self._storm_cloud(STORM_CLOUD)

    @cached_property
    def towering_cumulus(self) -> Codes:
        """Towering cumulus in the cloud groups."""
        return self._storm_cloud(TOWERING)

    def _storm_cloud(self, kind: int) -> Codes:
        cloud = self.table.storm_cloud
        return flags.coded(cloud == kind, cloud == NOT_DESCRIBED)

    @cached_property
    def treatment_classes(self) -> NDArray[np.int64]:
        """Sets of classes for treatment planning, a bit each."""
        which, pairs = self._kinds
        not_told = int(treatment.class_set(treatment.NOT_TOLD_CLASS))
        classes = np.zeros(len(self.table), dtype=np.int64)
        for us in (False, True):
            each = [
                int(treatment.class_set(treatment.treatment_class(codes, us=us))) | (not_told if missing else 0)
                for codes, missing in pairs
            ]
            here = self.us == us
            classes[here] = np.array(each, dtype=np.int64)[which[here]]
        return classes

    @cached_property
    def snow_code(self) -> Floats:
        """Snow intensity by the codes' own sign, 0 without snow."""
        which, pairs = self._kinds
        return np.array([float(precipitation.intensity_from_codes(codes)) for codes, _ in pairs])[which]

    def rain_rate(self, end: int) -> Floats:
        """Rain and drizzle, mm/h: end 0 low, 1 central, 2 high; NaN where not known."""
        which, pairs = self._kinds
        rates = [precipitation.liquid_rate_mm_h(codes, missing=missing)[end] for codes, missing in pairs]
        return np.array(rates, dtype=np.float64)[which]

    @cached_property
    def falling(self) -> Codes:
        """Whether anything falls or may: 1, 0, or -1 not known."""
        return self.flags["precipitation_any"]

"""One course of the weather as arrays over time: the reports as observed and kept, or a reading of the forecast.

A State is what a report or a stretch of a forecast says, as numbers. A Track is a list of states and, for each time,
which of them holds; -1 is none, and then everything is missing. Outlook combines tracks into cases.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import isfinite, nan
from typing import Protocol

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from advisor.conditions import NO, UNKNOWN, Codes, Floats, Masks
from advisor.physics import precipitation, treatment
from advisor.quantities.units import M_PER_FT
from advisor.report.model import CloudLayer, Report

# covered part of the sky that each cover word allows: low, central, high (WMO eighths)
COVERS = {
    "FEW": (1 / 8, 1.5 / 8, 2 / 8),
    "SCT": (3 / 8, 3.5 / 8, 4 / 8),
    "BKN": (5 / 8, 6 / 8, 7 / 8),
    "OVC": (1.0, 1.0, 1.0),
    "VV": (1.0, 1.0, 1.0),
}
HIGH_CLOUD_M, UNKNOWN_BASE_M = 6000.0, 1500.0


class Sayer(Protocol):
    """What a report and a forecast's elements have in common."""

    @property
    def wind_direction_deg(self) -> float: ...  # noqa: D102
    @property
    def wind_variable(self) -> bool: ...  # noqa: D102
    @property
    def wind_kt(self) -> float: ...  # noqa: D102
    @property
    def gust_kt(self) -> float: ...  # noqa: D102
    @property
    def gust_lost(self) -> bool: ...  # noqa: D102
    @property
    def visibility_m(self) -> float: ...  # noqa: D102
    @property
    def weather(self) -> tuple[str, ...]: ...  # noqa: D102
    @property
    def weather_missing(self) -> bool: ...  # noqa: D102
    @property
    def sky(self) -> str: ...  # noqa: D102
    @property
    def cloud(self) -> tuple[CloudLayer, ...]: ...  # noqa: D102
    @property
    def vertical_visibility_ft(self) -> float: ...  # noqa: D102


class State(Struct, frozen=True):
    """What is said at one time. cloud: covered fraction low, central, high; direction NaN for VRB, calm or missing.

    lightning: in the remarks, or storm cloud there, at any distance; storm_remark: not said to be distant.
    storm_cloud: "CB", "TCU", "" for neither, None where the sky is not described.
    """

    wind_kt: float = nan
    gust_kt: float = nan
    direction_deg: float = nan
    visibility_m: float = nan
    cloud: tuple[float, float, float] = (0.0, 0.0, 1.0)
    base_m: float = 300.0
    sky_known: bool = False
    codes: tuple[str, ...] = ()
    weather_missing: bool = True
    lightning: bool = False
    storm_remark: bool = False
    storm_cloud: str | None = None
    gust_lost: bool = False
    blind_to: tuple[str, ...] = ()
    air_c: float = nan

    @property
    def meant(self) -> tuple[str, ...]:
        """The codes as they are meant in that air."""
        return precipitation.in_air(self.codes, self.air_c)


def state(
    source: Sayer,
    *,
    lightning: bool = False,
    storm_remark: bool = False,
    blind_to: tuple[str, ...] = (),
    air_c: float = nan,
) -> State:
    """The state that a report or a forecast's elements describe.

    blind_to: flags that a sensor out cannot deny. air_c: in which the codes are meant, NaN where nobody knows.
    """
    fraction, base_m, known = cloud_ends(source)
    calm = source.wind_kt == 0
    pointed = isfinite(source.wind_direction_deg) and not source.wind_variable and not calm
    kinds = {layer.type for layer in source.cloud}
    # a type that an automatic station cannot tell is not known to be none
    told = known and "///" not in kinds
    storm_cloud = next((kind for kind in ("CB", "TCU") if kind in kinds), "" if told else None)
    return State(
        source.wind_kt,
        source.gust_kt,
        source.wind_direction_deg if pointed else nan,
        source.visibility_m,
        fraction,
        base_m,
        known,
        tuple(code for code in source.weather if code != "NSW"),
        source.weather_missing,
        lightning,
        storm_remark,
        storm_cloud,
        source.gust_lost,
        blind_to,
        air_c,
    )


def cloud_ends(source: Sayer) -> tuple[tuple[float, float, float], float, bool]:
    """Covered fraction low, central and high, base of what covers most in m, and whether the sky is known.

    CAVOK, NSC, NCD and CLR say nothing of high cloud, and nothing is seen above the reported layers.
    """
    layers = [layer for layer in source.cloud if layer.cover in COVERS]
    if source.sky == "layers" and layers:
        most = max(layers, key=lambda layer: COVERS[layer.cover][1])
        ends = COVERS[most.cover]
        base_ft = most.base_ft if isfinite(most.base_ft) else source.vertical_visibility_ft
        if not isfinite(base_ft):
            base_ft = 0.0 if most.cover == "VV" else UNKNOWN_BASE_M / M_PER_FT
        return (ends[0], ends[1], max(ends[2], 7 / 8)), base_ft * M_PER_FT, True
    if source.sky == "SKC":
        return (0.0, 0.0, 1 / 8), HIGH_CLOUD_M, True
    if source.sky in ("CAVOK", "NSC", "NCD", "CLR"):
        return (0.0, 0.25, 7 / 8), HIGH_CLOUD_M, True
    return (0.0, 0.0, 1.0), 300.0, False


class Course(Protocol):
    """What a table asks of a course of the weather: a track of a departure, or the reports of an archive."""

    def without(self, silent: Masks) -> Course: ...  # noqa: D102
    def numbers(self, name: str) -> Floats: ...  # noqa: D102
    def cloud(self, end: int) -> Floats: ...  # noqa: D102
    def rain_rate(self, end: int) -> Floats: ...  # noqa: D102
    @property
    def sky_known(self) -> Masks: ...  # noqa: D102
    @property
    def flags(self) -> dict[str, Codes]: ...  # noqa: D102
    @property
    def lightning(self) -> Codes: ...  # noqa: D102
    @property
    def storm_remark(self) -> Codes: ...  # noqa: D102
    @property
    def cumulonimbus(self) -> Codes: ...  # noqa: D102
    @property
    def towering_cumulus(self) -> Codes: ...  # noqa: D102
    @property
    def treatment_classes(self) -> NDArray[np.int64]: ...  # noqa: D102
    @property
    def snow_code(self) -> Floats: ...  # noqa: D102
    @property
    def falling(self) -> Codes: ...  # noqa: D102


@dataclass(frozen=True)
class Track:
    """States and, for each time, the index of the one that holds, -1 for none. us: codes by the rules of the US."""

    states: tuple[State, ...]
    index: NDArray[np.intp]
    us: bool = False

    @property
    def covered(self) -> Masks:
        """Where anything is said at all, (time,)."""
        return self.index >= 0

    def without(self, silent: Masks) -> Track:
        """The same with nothing said at some times, (time,)."""
        return Track(self.states, np.where(silent, -1, self.index), self.us) if silent.any() else self

    def numbers(self, name: str) -> Floats:
        """One number of the states over time, NaN where nothing is said."""
        return self._pick([getattr(one, name) for one in self.states])

    def cloud(self, end: int) -> Floats:
        """Covered fraction: end 0 low, 1 central, 2 high; the bound where nothing is said."""
        return np.where(self.covered, self._pick([one.cloud[end] for one in self.states]), (0.0, 0.0, 1.0)[end])

    @cached_property
    def sky_known(self) -> Masks:
        """Where the sky is described."""
        known: Masks = self._pick([float(one.sky_known) for one in self.states]) == 1.0
        return known

    @cached_property
    def flags(self) -> dict[str, Codes]:
        """The weather flags over time, -1 where nothing is said."""
        each = [flags_of(one.meant, missing=one.weather_missing, blind_to=one.blind_to) for one in self.states]
        return {name: self._codes([said[name] for said in each], -1) for name in precipitation.FLAGS}

    @cached_property
    def lightning(self) -> Codes:
        """Lightning or cumulonimbus in the remarks, 0 where nothing is said."""
        return self._codes([int(one.lightning) for one in self.states], 0)

    @cached_property
    def storm_remark(self) -> Codes:
        """Lightning or storm cloud in the remarks that is not said to be distant, 0 where nothing is said."""
        return self._codes([int(one.storm_remark) for one in self.states], 0)

    @cached_property
    def cumulonimbus(self) -> Codes:
        """Cumulonimbus in the cloud groups, -1 where the sky is not described."""
        return self._codes([_told(one.storm_cloud, int(one.storm_cloud == "CB")) for one in self.states], -1)

    @cached_property
    def towering_cumulus(self) -> Codes:
        """Towering cumulus in the cloud groups, -1 where the sky is not described."""
        return self._codes([_told(one.storm_cloud, int(one.storm_cloud == "TCU")) for one in self.states], -1)

    @cached_property
    def treatment_classes(self) -> NDArray[np.int64]:
        """Sets of classes for treatment planning, a bit each; not told where nothing is said."""
        not_told = int(treatment.class_set(treatment.NOT_TOLD_CLASS))
        each = [
            int(treatment.class_set(treatment.treatment_class(one.meant, us=self.us)))
            | (not_told if one.weather_missing else 0)
            for one in self.states
        ]
        return np.array([*each, not_told], dtype=np.int64)[self.index]

    @cached_property
    def snow_code(self) -> Floats:
        """Snow intensity by the codes' own sign, 0 without snow."""
        picked = self._pick([float(precipitation.intensity_from_codes(one.meant)) for one in self.states])
        return np.nan_to_num(picked)

    def rain_rate(self, end: int) -> Floats:
        """Rain and drizzle, mm/h: end 0 low, 1 central, 2 high; NaN where not known."""
        each = [precipitation.liquid_rate_mm_h(one.meant, missing=one.weather_missing)[end] for one in self.states]
        return self._pick(each)

    @cached_property
    def falling(self) -> Codes:
        """Whether anything falls or may: 1, 0, or -1 not known."""
        return self.flags["precipitation_any"]

    def text(self) -> list[str]:
        """The codes over time, for display."""
        words = [
            " ".join(one.codes) or ("not reported" if one.weather_missing else "none reported") for one in self.states
        ]
        return [words[at] if at >= 0 else "not known" for at in self.index]

    def _pick(self, values: Sequence[float]) -> Floats:
        picked: Floats = np.array([*values, nan], dtype=np.float64)[self.index]
        return picked

    def _codes(self, values: Sequence[int], missing: int) -> Codes:
        picked: Codes = np.array([*values, missing], dtype=np.int8)[self.index]
        return picked


def _told(storm_cloud: str | None, value: int) -> int:
    """A flag of the storm cloud; not known where the sky is not described."""
    return -1 if storm_cloud is None else value


# what a station whose sensor is out cannot tell from its not being there
FREEZING_BLIND: tuple[str, ...] = (
    "freezing_precipitation",
    "freezing_rain",
    "freezing_drizzle",
    "frozen_precipitation",
)
STORM_BLIND: tuple[str, ...] = ("thunderstorm",)
# below which visibility each is coded (Annex 3, appendix 3), and how near the dew point has to be to the air (ours)
SIGHT_BELOW_M: dict[str, float] = {"fog": 1000.0, "mist": 5000.0}
DAMP_WITHIN_C = 2.0


def hidden(
    name: str, visibility_m: Floats | float, air_c: Floats | float, dew_point_c: Floats | float, silent: Masks | bool
) -> Masks:
    """Whether fog or mist may be there though no report says so: in damp air of which nobody tells how far one sees.

    name: a key of SIGHT_BELOW_M. silent: no weather was coded; then a low visibility has no reason yet. Of one shape.
    """
    seen = np.asarray(visibility_m)
    damp = ~(np.asarray(air_c) - np.asarray(dew_point_c) > DAMP_WITHIN_C)
    untold: Masks = damp & (np.isnan(seen) | (silent & (seen < SIGHT_BELOW_M[name])))
    return untold


def blind(report: Report) -> tuple[str, ...]:
    """Flags that a report's station cannot deny, since the sensor is out or what was seen has no reason."""
    remarks = report.remarks
    air = (report.visibility_m, report.temperature_c, report.dew_point_c)
    fog = tuple(name for name in SIGHT_BELOW_M if hidden(name, *air, not report.weather))
    freezing = FREEZING_BLIND if remarks.freezing_rain_sensor_out else ()
    return freezing + (STORM_BLIND if remarks.thunderstorm_sensor_out else ()) + fog


def observed(report: Report) -> State:
    """The state of one report, with what its sensors could not see."""
    remarks = report.remarks
    lightning = remarks.lightning or remarks.cumulonimbus
    storm = remarks.storm_not_distant
    return state(report, lightning=lightning, storm_remark=storm, blind_to=blind(report), air_c=report.temperature_c)


def flags_of(codes: tuple[str, ...], *, missing: bool, blind_to: tuple[str, ...] = ()) -> dict[str, int]:
    """Flags of a report's codes; what the station is blind to is not known rather than not there."""
    code_flags = precipitation.flags(codes, missing=missing)
    for name in blind_to:
        # without anything falling there is nothing that could freeze
        dry = name in FREEZING_BLIND and code_flags["precipitation_any"] == NO
        if code_flags[name] == NO and not dry:
            code_flags[name] = UNKNOWN
    return code_flags

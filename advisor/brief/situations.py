"""A situation by the names of the command's options, as conditions for rules and as a brief. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from advisor.brief import asked as reading
from advisor.brief import inputs
from advisor.brief.advise import advise
from advisor.brief.model import Brief
from advisor.checklist.desk.weathered import Weathered
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Situation
from advisor.conditions import Airframe, Conditions, Departure, Place
from advisor.departure import WindowPlan
from advisor.outlook.build import build
from advisor.outlook.stations import Gazetteer
from advisor.physics.derive import derive


class Known:
    """A gazetteer that also knows some invented stations."""

    def __init__(self, stations: Mapping[str, Place], beyond: Gazetteer) -> None:
        """stations: by indicator; beyond: asked for everything else."""
        self._stations, self._beyond = stations, beyond
        self._met: dict[str, Place | None] = dict(stations)

    def find(self, text: str) -> Place:
        """As of the gazetteer beyond."""
        return self._stations.get(text) or self._beyond.find(text)

    def look_up(self, indicator: str) -> Place | None:
        """As of the gazetteer beyond."""
        if indicator not in self._met:
            self._met[indicator] = self._beyond.look_up(indicator)
        return self._met[indicator]


def options(situation: Situation) -> tuple[tuple[str, ...], dict[str, Any]]:
    """The reports of a situation, and its other options that are given."""
    given = {key: value for key, value in msgspec.structs.asdict(situation).items() if value is not None}
    reports = given.pop("report")
    return ((reports,) if isinstance(reports, str) else tuple(reports)), given


class SituationTrials:
    """Situations as conditions for aircraft of a checklist; what several share is worked out once."""

    def __init__(self, windows: Mapping[str, WindowPlan], gazetteer: Gazetteer) -> None:
        """windows: a checklist's, by group."""
        self._windows, self._gazetteer = windows, gazetteer
        self._told: dict[tuple[Situation, str, bool], tuple[Conditions, Departure]] = {}
        self._found: dict[tuple[Situation, str, Airframe], Weathered] = {}

    @property
    def made(self) -> int:
        """How many were worked out so far."""
        return len(self._found)

    def weathered(self, situation: Situation, profile: Profile) -> Weathered:
        """Conditions and windows of a situation for one aircraft; take-off as late as after a treatment.

        Raises ReportError or DepartureError where the situation cannot be used.
        """
        airframe = profile.airframe()
        key = situation, profile.windows, airframe
        if key not in self._found:
            told, departure = self._of(situation, profile.windows, airframe.fuel_stays_cold)
            now, take_off = departure.now, departure.windows.take_off
            self._found[key] = Weathered(derive(told, airframe).between(now, take_off), departure.windows, now)
        return self._found[key]

    def _of(self, situation: Situation, windows: str, stays_cold: bool) -> tuple[Conditions, Departure]:
        key = situation, windows, stays_cold
        if key not in self._told:
            reports, given = options(situation)
            given.pop("aircraft", None)
            (read, forecasts), asked = reading.read(reports, gazetteer=self._gazetteer, **given)
            departure, _ = asked.departure(self._windows[windows], treated=True)
            until = departure.windows.take_off
            known = inputs.weather(read, forecasts, asked.place, now=asked.now, until=until, gazetteer=self._gazetteer)
            told = build(known.used, departure, site=known.site, forecast=known.forecast, fuel_stays_cold=stays_cold)
            self._told[key] = told, departure
        return self._told[key]


def brief_of(
    situation: Situation, checklist: Checklist, fleet: Mapping[str, Profile], gazetteer: Gazetteer, aircraft: str
) -> Brief:
    """The brief of a situation for one aircraft. Raises ReportError or DepartureError where it cannot be used."""
    reports, given = options(situation)
    given["aircraft"] = aircraft
    return advise(reports, checklist=checklist, fleet=fleet, gazetteer=gazetteer, **given)

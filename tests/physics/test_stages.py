"""What every stage promises: it reads what it says, gives what it says, and changes nothing that it was given.

What each stage works out is tested by hand or against other libraries in tests/glue and beside each formula here.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from advisor.conditions import Airframe, Conditions, Departure, Door, Place, Windows
from advisor.outlook.build import build
from advisor.outlook.cases import Site
from advisor.physics.derive import STAGES, derive, given_by, inputs, leading_to
from advisor.physics.stages.stage import OF_THE_DEPARTURE, Stage
from advisor.quantities import CODE, COLUMNS, FLAG, NUMBER, kinds
from advisor.report import metar, taf
from advisor.sources import SOURCES

NOW = datetime(2027, 1, 10, 5, 40, tzinfo=UTC)
TEXTS = (
    "METAR ZZZA 100020Z 24008KT 9999 RA BKN012 02/01 Q1013\nMETAR ZZZA 100520Z 24008KT 3000 -SN BKN012 M01/M02 Q1013",
    "METAR ZZZA 100520Z /////KT //// // ////// ///// Q////",
    "METAR ZZZA 100520Z 24028G44KT 2000 TSGR OVC008CB 14/12 Q1002",
)
FORECAST = "TAF ZZZA 100500Z 1006/1106 24012KT 9999 OVC020 TEMPO 1006/1010 1500 SN"
AIRFRAME = Airframe(doors=(Door("forward", -90.0, 40.0, 60.0),))
DOORLESS = Airframe(has_tank_skin=False)


class Watched(dict):  # type: ignore[type-arg]
    """Columns that note which of them are asked for."""

    def __init__(self, columns: dict[str, np.ndarray]) -> None:
        super().__init__(columns)
        self.asked: set[str] = set()

    def __getitem__(self, name: str) -> np.ndarray:
        self.asked.add(name)
        return super().__getitem__(name)  # type: ignore[no-any-return]

    def get(self, name: str, default: object = None) -> object:
        self.asked.add(name)
        return super().get(name, default)

    def __contains__(self, name: object) -> bool:
        self.asked.add(str(name))
        return super().__contains__(name)


def outlook(text: str, fuel: float = float("nan")) -> Conditions:
    now = int(NOW.timestamp())
    off = now + 7200
    windows = Windows((off - 2700, off - 1500), (off - 3000, off - 300), off, off + 900)
    asked = Departure(
        now, Place("an invented field", None, 61.4, 9.8), windows, heading_deg=40.0, fuel_temperature_c=fuel
    )
    reports = metar.read_all(text, now=NOW)
    return build(reports, asked, site=Site(0.0, 0.0), forecast=taf.read(FORECAST, now=NOW))


def before(stage: Stage, conditions: Conditions, airframe: Airframe) -> Conditions:
    """Conditions as they come to a stage."""
    for other in STAGES[: STAGES.index(stage)]:
        conditions = conditions.having(other.work(conditions, airframe))
    return conditions


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.name)
def test_a_stage_reads_and_gives_what_it_says(stage: Stage) -> None:
    read: set[str] = set()
    given: set[str] = set()
    for text in TEXTS:
        for fuel in (float("nan"), -6.0):
            found = before(stage, outlook(text, fuel), AIRFRAME)
            watched = Watched(found.columns)
            made = stage.work(replace(found, columns=watched), AIRFRAME)
            read |= watched.asked
            given |= set(made)
            for name, column in made.items():
                row = COLUMNS[name]
                wanted = {NUMBER: np.float64, FLAG: np.int8, CODE: np.int8}[row.kind]
                assert column.dtype == wanted, name
                np.broadcast_to(column, (1, *found.shape) if row.shape == kinds.EACH_DOOR else found.shape)
                if row.kind == FLAG:
                    assert set(np.unique(column)) <= {-1, 0, 1}, name
    assert given == set(stage.gives)
    assert read - {name for name in given if name not in stage.needs} <= set(stage.needs)
    # what is named and never read would be named as missing without being it
    assert set(stage.needs) <= read


@pytest.mark.parametrize("airframe", [AIRFRAME, DOORLESS], ids=["doors", "no doors"])
def test_deriving_changes_nothing_that_was_given(airframe: Airframe) -> None:
    found = outlook(TEXTS[0], -6.0)
    kept = {name: column.copy() for name, column in found.columns.items()}
    for column in found.columns.values():
        column.setflags(write=False)
    derived = derive(found, airframe)
    assert found.columns.keys() == kept.keys() < derived.columns.keys()
    assert all(
        np.array_equal(found.columns[name], kept[name], equal_nan=column.dtype.kind == "f")
        for name, column in kept.items()
    )


def test_what_a_stage_needs_is_there_before_it() -> None:
    there = set(outlook(TEXTS[0], -6.0).columns) | set(outlook(TEXTS[0]).columns)
    for stage in STAGES:
        assert set(stage.needs) <= there, (stage.name, set(stage.needs) - there)
        there |= set(stage.gives)


def test_each_column_has_one_stage_and_each_stage_a_source() -> None:
    names = [name for stage in STAGES for name in stage.gives]
    assert len(names) == len(set(names)) and set(names) <= set(COLUMNS)
    assert len({stage.name for stage in STAGES}) == len(STAGES)
    for stage in STAGES:
        assert stage.source and set(stage.source) <= set(SOURCES), stage.name


def test_every_quantity_leads_back_to_inputs() -> None:
    found = set(outlook(TEXTS[0], -6.0).columns) | set(outlook(TEXTS[0]).columns) | set(OF_THE_DEPARTURE)
    for name in COLUMNS:
        ends = inputs(name)
        assert ends and set(ends) <= found, (name, ends)
        assert all(end in OF_THE_DEPARTURE or given_by(end) is None or end in given_by(end).gives[end] for end in ends)  # type: ignore[union-attr]
    # by hand: frost on the skin follows from the air, the dew point, the wind and the sky
    assert {"air_temperature_c", "dew_point_c", "skin_wind_kt", "cloud_fraction"} <= set(inputs("frost_margin_c"))
    assert inputs("wind_chill_c") == ("air_temperature_c", "wind_kt")


def test_the_stages_that_some_columns_follow_from_are_those_that_give_them_and_what_they_need_and_no_others() -> None:
    assert leading_to(()) == () and leading_to(("wind_kt", "heading")) == ()
    assert [stage.name for stage in leading_to(("sun_elevation_deg",))] == ["sun"]
    for wanted in COLUMNS:
        stages = leading_to((wanted,))
        asked = {wanted}.union(*(stage.needs for stage in stages))
        giving = [stage.name for name in asked if (stage := given_by(name)) is not None]
        assert {stage.name for stage in stages} == {*giving}, wanted
        assert list(stages) == sorted(stages, key=STAGES.index)


def test_only_what_gathers_and_the_moon_of_a_night_ask_for_times_that_follow_each_other() -> None:
    # two count over the hours before; where the moon stands is reckoned from one time to the next
    over_time = {stage.name for stage in STAGES if stage.over_time}
    assert over_time == {"lying", "while parked", "moon"}
    assert not Stage(name="", meaning="", gives={}, work=STAGES[0].work, source=()).over_time

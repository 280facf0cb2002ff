"""Small parts of a brief, each by hand: what is missing, how long it stood, which case decided, a trial, a witness."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import jsonschema
import msgspec
import numpy as np
import pytest

import advisor
from advisor import places
from advisor.brief import advise as made_of
from advisor.brief import inputs, knobs, lines, timeline, trial, witness
from advisor.brief.hazards import hazards
from advisor.brief.model import Brief
from advisor.brief.situations import SituationTrials
from advisor.checklist import aircraft, revision
from advisor.checklist.desk.sought import Sought
from advisor.checklist.evaluate import Finding
from advisor.conditions import Case, Conditions
from advisor.departure import read_moment
from advisor.errors import ReportError
from advisor.quantities import FLAG, QUANTITIES

NOW = "2027-01-10T05:25:00Z"
ASKED: dict[str, Any] = {"now": NOW, "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
SNOW = "METAR ZZZA 100520Z 24008KT 2000 -SN OVC010 M02/M03 Q1000"
CASES = (Case("central", "", "central", "common-practice"), Case("cold", "", "high", "common-practice"))


def test_one_report_that_can_be_used_is_enough() -> None:
    now = read_moment(NOW, what="now")
    empty = "METAR ZZZA 100450Z XXXXX QQQQQ"
    assert len(inputs.read_texts([empty, SNOW], now)[0]) == 2
    with pytest.raises(ReportError, match="no group could be used"):
        inputs.read_texts([empty], now)


@pytest.mark.parametrize(
    ("lost", "named"),
    [
        ({"temperature_c": np.nan}, "air_temperature_c"),
        ({"dew_point_c": np.nan}, "dew_point_c"),
        ({"wind_kt": np.nan}, "wind_kt"),
        ({"wind_direction_deg": np.nan}, "wind_direction_deg"),
        ({"visibility_m": np.nan}, "visibility_m"),
        ({"sky": "missing"}, "cloud_fraction"),
        ({"weather_missing": True}, "precipitation"),
        # what has no direction lacks none
        ({"wind_direction_deg": np.nan, "wind_variable": True}, ""),
        ({"wind_direction_deg": np.nan, "wind_kt": 0.0}, ""),
    ],
)
def test_each_input_that_a_report_lacks_is_named(lost: dict[str, Any], named: str) -> None:
    whole = {"temperature_c": 1.0, "dew_point_c": 0.0, "wind_kt": 5.0, "wind_direction_deg": 240.0}
    whole |= {"visibility_m": 9999.0, "sky": "clear", "weather_missing": False, "wind_variable": False}
    report: Any = SimpleNamespace(**{**whole, **lost})
    assert made_of._base_missing(report, None) == ((named,) if named else ())  # type: ignore[arg-type]


def test_of_a_forecast_alone_what_its_central_case_lacks_is_named() -> None:
    known = np.array([[1.0, 1.0], [np.nan, np.nan]])
    columns = dict.fromkeys(("air_temperature_c", "dew_point_c", "wind_kt", "visibility_m"), known)
    columns["wind_kt"] = np.array([[1.0, np.nan], [1.0, 1.0]])
    conditions = Conditions(np.array([0.0, 300.0]), 0.0, 0.0, CASES, columns)
    assert made_of._base_missing(None, conditions) == ("wind_kt",)


@pytest.mark.parametrize(
    ("minutes", "said"), [(59, "59 min"), (60, "1 h 00 min"), (61, "1 h 01 min"), (150, "2 h 30 min")]
)
def test_how_long_it_stood_is_told_in_hours_and_minutes(minutes: int, said: str) -> None:
    from datetime import datetime, timedelta

    since = datetime.fromisoformat(NOW) - timedelta(minutes=minutes)
    made = advisor.advise([SNOW], **ASKED, parked_since=since)
    assert any(f"({said})" in note for note in made.notes)


def night(**columns: Any) -> Conditions:
    return Conditions(np.array([0.0, 300.0]), 0.0, 0.0, CASES, columns)


def test_cold_is_dangerous_from_the_chill_at_which_the_line_insists() -> None:
    for chill, there in ((-27.0, True), (-26.9, False)):
        made = night(wind_chill_c=np.full((2, 2), chill), air_temperature_c=np.full((2, 2), -15.0))
        assert ("cold" in {one.key for one in hazards(made, "")}) is there


def test_the_value_that_decided_is_that_of_the_deciding_case_and_time() -> None:
    conditions = night(gust_kt=np.array([[10.0, 11.0], [20.0, 21.0]]), snow=np.array([[0, 1], [-1, 1]], dtype=np.int8))
    rule: Any = None
    assert lines._decided("gust_kt", Finding(rule, "possible", 1, 0), conditions) == 20.0
    assert lines._decided("gust_kt", Finding(rule, "possible", 0, 1), conditions) == 11.0
    assert lines._decided("gust_kt", Finding(rule, "not indicated"), conditions) == 10.0
    # a flag that is not known has no value
    assert lines._decided("snow", Finding(rule, "cannot tell", 1, 0), conditions) is None
    assert lines._decided("visibility_m", Finding(rule, "possible", 1, 0), conditions) is None


def test_what_no_case_decides_names_none() -> None:
    checklist, fleet = revision.load(), aircraft.load_profiles()
    what: Any = {"checklist": checklist, "fleet": fleet, "gazetteer": places, **ASKED}
    weighed = made_of.weigh([SNOW], **what)
    undecided = next(one for one in weighed.found if one.case < 0)
    made = lines._line(undecided, checklist, weighed.future, weighed.departure, None, {})
    assert made.case == ""
    decided = next(one for one in weighed.found if one.case >= 0)
    made = lines._line(decided, checklist, weighed.future, weighed.departure, None, {})
    assert made.case == weighed.future.cases[decided.case].name


# the structures -----------------------------------------------------------------------------------------------------


def test_a_row_of_the_timeline_is_as_its_schema_says() -> None:
    schema = timeline.row_schema()
    made = advisor.advise([SNOW], **ASKED)
    for row in made.timeline:
        assert set(schema["required"]) == set(row) == set(schema["properties"])
        jsonschema.validate(row, {"type": "object", **schema})
    for name, described in schema["properties"].items():
        if name in QUANTITIES and QUANTITIES[name].kind == FLAG:
            assert described["type"] == ["boolean", "null"]
    # a number is no flag, and a band needs its three ends
    for name, wrong in (("dark", 1), ("gust_kt", 12.0), ("gust_kt", {"low": 1.0, "central": 2.0})):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({**made.timeline[0], name: wrong}, {"type": "object", **schema})


def test_a_brief_is_read_again_whatever_its_hazards_are() -> None:
    weather = "METAR ZZZA 100520Z 24018G30KT 3000 -SN OVC010 M02/M03 Q1000 TEMPO TSRA"
    made = advisor.advise([weather], **ASKED)
    assert {one.status for one in made.hazards} >= {"expected", "possible"}
    likely = msgspec.structs.replace(made.hazards[0], status="likely")
    made = msgspec.structs.replace(made, hazards=(*made.hazards, likely))
    assert msgspec.json.decode(msgspec.json.encode(made), type=Brief).hazards == made.hazards


# a trial ------------------------------------------------------------------------------------------------------------

RULES = """\
[checklist]
name = "Invented"
revision = "1"

[[advice]]
id = "tried"
kind = "gear"
when = "not (fog or gust_kt >= 30) and snow"
during = "walk_round"
weight = "should"
text = "Take a shovel."
source = "invented-default"

[[advice]]
id = "of-gliders"
kind = "gear"
when = "snow"
during = "walk_round"
weight = "must"
text = "Take a shovel."
source = "invented-default"
classes = ["glider"]
"""


@pytest.fixture
def tried(tmp_path: Path) -> Any:
    (tmp_path / "rules.toml").write_text(RULES, encoding="utf-8")
    checklist, fleet = revision.load(tmp_path), aircraft.load_profiles()
    weighed = made_of.weigh([SNOW], checklist=checklist, fleet=fleet, gazetteer=places, **ASKED)
    return checklist, weighed


def test_a_trial_shows_each_part_as_deep_as_it_stands(tried: Any) -> None:
    checklist, weighed = tried
    made = trial.trial(checklist.rule("tried"), weighed)
    assert (made.status, made.weight, made.when, made.why_not) == ("expected", "should", made.when, "")
    (phase,) = made.phases
    shown = [(part.depth, part.last, part.asks) for part in phase.parts]
    assert shown == [
        (0, True, "all of"),
        (1, False, "not"),
        (2, True, "any of"),
        (3, False, "fog"),
        (3, True, "gust_kt >= 30"),
        (1, True, "snow"),
    ]
    central = {part.asks: part.cases[0] for part in phase.parts}
    assert {asks: one.answer for asks, one in central.items()} == {
        "all of": "yes",
        "not": "yes",
        "any of": "no",
        "fog": "no",
        "gust_kt >= 30": "no",
        "snow": "yes",
    }
    assert central["gust_kt >= 30"].value == 8.0


def test_a_trial_of_a_rule_of_other_aircraft_says_so(tried: Any) -> None:
    checklist, weighed = tried
    made = trial.trial(checklist.rule("of-gliders"), weighed)
    assert (made.status, made.weight, made.when) == ("not indicated", "must", "snow")
    assert made.why_not == f"does not hold for the class {weighed.profile.class_id}" and made.phases == ()


# the search for a witness --------------------------------------------------------------------------------------------


def test_a_rule_ranks_by_its_status_and_above_all_as_a_must(tried: Any) -> None:
    checklist, _ = tried
    profile = aircraft.load_profiles()[checklist.default_aircraft]
    trials = SituationTrials(checklist.windows, places)
    snow, dry = knobs.situation({"codes": ("SN",)}), knobs.situation({})
    assert snow is not None and dry is not None and trials.made == 0
    ranks = witness._rank(checklist, snow, profile, trials.weathered(snow, profile))
    assert ranks["tried"] == witness.RANK["expected"] == 4 and "of-gliders" not in ranks
    assert "tried" not in witness._rank(checklist, dry, profile, trials.weathered(dry, profile))
    trials.weathered(snow, profile)
    assert trials.made == 2


def test_a_difference_is_found_quickly_with_one_aircraft(tmp_path: Path) -> None:
    sides = []
    for name, gust in (("old", 30), ("new", 40)):
        (tmp_path / name).mkdir()
        text = RULES.replace("not (fog or gust_kt >= 30) and snow", f"gust_kt >= {gust}")
        (tmp_path / name / "rules.toml").write_text(text, encoding="utf-8")
        sides.append(witness.Side(revision.load(tmp_path / name), aircraft.load_profiles()))
    old, new = sides
    between = knobs.situation({"gust": 35})
    assert between is not None
    search = witness.Search(old, new, (between,), {}, places)
    rules = (old.checklist.rule("tried"), new.checklist.rule("tried"))
    sought = Sought("tried", "when", "single-aisle-jet", *rules, less=True)
    found = search.find(sought, thorough=False)
    assert found is not None and found.situation == between
    assert (found.old, found.new) == ("expected, should", "no such line")
    assert search.left < witness.MOST_IN_ALL

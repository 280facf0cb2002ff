"""A should-rule that rises to a must: what it says then, and that an operator cannot lose it unnoticed."""

from __future__ import annotations

from pathlib import Path

import pytest
from folders import HEAD

from advisor import advise
from advisor.checklist import revision, show
from advisor.errors import ChecklistError

WHEN = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
RULE = """
[[advice]]
id = "wind-chill"
kind = "caution"
when = "air_temperature_c <= 10 and wind_kt > 2.6 and wind_chill_c <= -10"
during = "walk_round"
weight = "should"
text = "Cold."
source = "invented-default"
"""


@pytest.mark.parametrize(
    ("report", "weight"),
    [
        # 2001 index by hand: 18 kt is 33 km/h, T −8 gives −18; 22 kt is 41 km/h, T −20 gives −34
        ("METAR ZZZA 100520Z 36018KT 9999 OVC030 M08/M15 Q1010", "should"),
        ("METAR ZZZA 100520Z 36022KT 9999 OVC030 M20/M25 Q1010", "must"),
    ],
)
def test_wind_chill_is_a_should_from_minus_ten_and_a_must_from_minus_27(report: str, weight: str) -> None:
    lines = [line for line in advise(report, **WHEN).advice if line.id == "wind-chill"]
    assert [(line.weight, line.status) for line in lines] == [(weight, "expected")]


def test_heat_is_a_must_from_41() -> None:
    when = {"now": "2027-07-15T14:25:00Z", "off_block": "2027-07-15T15:40:00Z", "place": "47.2,8.1"}
    brief = advise("METAR ZZZA 151420Z 20006KT CAVOK 38/25 Q1008", **when)
    assert [line.weight for line in brief.advice if line.id == "heat"] == ["must"]


def folder(tmp_path: Path, more: str) -> Path:
    (tmp_path / "ours.toml").write_text(RULE + more, encoding="utf-8")
    return tmp_path


def test_an_operator_who_drops_the_must_part_has_loosened_the_rule(tmp_path: Path) -> None:
    assert revision.load(folder(tmp_path, "")).loosened == ("wind-chill",)


def test_an_operator_who_raises_it_sooner_has_not(tmp_path: Path) -> None:
    sooner = 'must_when = "air_temperature_c <= 10 and wind_kt > 2.6 and wind_chill_c <= -20"\n'
    loaded = revision.load(folder(tmp_path, sooner))
    assert loaded.loosened == () and loaded.changed == ("wind-chill",)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            'must_when = "wind_chil_c < -27"\n',
            "ours.toml:10:14: advice.wind-chill.must_when: unknown quantity 'wind_chil_c'",
        ),
        ('must_text = "Very cold."\n', "ours.toml:10:13: advice.wind-chill.must_text: nothing says when"),
    ],
)
def test_a_fault_in_it_is_named_with_its_place(tmp_path: Path, more: str, said: str) -> None:
    with pytest.raises(ChecklistError) as caught:
        revision.load(folder(tmp_path, more))
    assert said in str(caught.value)


MUST = """
[[advice]]
id = "feel"
kind = "checkpoint"
when = "air_temperature_c <= 15"
during = "walk_round"
weight = "must"
text = "Look."
more = "With a lamp."
source = "invented-default"
"""
COLDER = 'must_when = "air_temperature_c <= 0"\nmust_text = "Feel."\n'
GLIDER = '[advice.class.glider]\ntext = "Look along."\nmust_text = "Feel along."\nmust_more = "Root to tip."\n'


@pytest.mark.parametrize(
    ("air", "aircraft", "said"),
    [
        ("09/02", "helicopter", ("Look.", "With a lamp.")),
        ("M05/M09", "helicopter", ("Feel.", "With a lamp.")),
        ("09/02", "glider", ("Look along.", "With a lamp.")),
        ("M05/M09", "glider", ("Feel along.", "Root to tip.")),
    ],
)
def test_a_must_takes_other_words_where_must_when_holds_each_class_its_own(tmp_path, air, aircraft, said) -> None:
    (tmp_path / "ours.toml").write_text(MUST + COLDER + GLIDER, encoding="utf-8")
    report = f"METAR ZZZA 100520Z 36018KT 9999 OVC030 {air} Q1010"
    made = advise(report, **WHEN, aircraft=aircraft, checklist=revision.load(tmp_path))
    (line,) = [line for line in made.advice if line.id == "feel"]
    assert (line.text, line.more) == said
    assert (line.weight, line.status) == ("must", "expected")


def test_it_is_no_loosening_to_say_a_must_in_other_words(tmp_path: Path) -> None:
    shipped = next(rule for rule in revision.load(None).rules if rule.id == "wing-upper-surface")
    row = MUST.replace('"feel"', '"wing-upper-surface"').replace('"air_temperature_c <= 15"', f'"{shipped.when}"')
    during = 'during = ["parked", "walk_round", "doors_open", "off_block"]'
    (tmp_path / "ours.toml").write_text(row.replace('during = "walk_round"', during) + COLDER, encoding="utf-8")
    loaded = revision.load(tmp_path)
    assert loaded.changed == ("wing-upper-surface",) and loaded.loosened == ()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('must_when = "air_temperature_c <= 0"\n', "ours.toml:11:13: advice.feel.must_when: the rule is a must"),
        (GLIDER, "ours.toml:13:13: advice.feel.class.glider.must_text: nothing says when"),
        (COLDER + GLIDER.replace("along.", "{along}."), "advice.feel.class.glider.must_text: unknown quantity 'along'"),
    ],
)
def test_words_that_nothing_calls_for_are_a_fault(tmp_path: Path, more: str, said: str) -> None:
    (tmp_path / "ours.toml").write_text(MUST + more, encoding="utf-8")
    with pytest.raises(ChecklistError) as caught:
        revision.load(tmp_path)
    assert said in str(caught.value)


def test_the_page_of_a_rule_shows_the_words_it_takes_where_must_when_holds() -> None:
    said = " ".join(show.page(revision.load(None), "wing-upper-surface").split())
    assert "where freezing_precipitation or recent_freezing or ice_reported" in said
    assert "only touch tells: feel the whole wing, from steps." in said


def test_other_words_for_one_class_alone_are_a_change(tmp_path: Path) -> None:
    shipped, ours = tmp_path / "shipped", tmp_path / "ours"
    for at, glider in ((shipped, GLIDER), (ours, GLIDER.replace("Feel along.", "Feel all along."))):
        at.mkdir()
        (at / "rules.toml").write_text(MUST + COLDER + glider, encoding="utf-8")
    (shipped / "head.toml").write_text(HEAD, encoding="utf-8")
    before, after = revision.load(None, shipped=shipped), revision.load(ours, shipped=shipped)
    assert after.changed == ("feel",) and before.fingerprint != after.fingerprint
    assert after.loosened == ()

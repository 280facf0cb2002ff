"""Conditions in words: as a manual prints them, held against what people would write by hand."""

from __future__ import annotations

import pytest

from advisor.checklist import revision
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.decide import decide
from advisor.checklist.language.wording import alternatives, in_words, noun, place_in_words
from advisor.quantities import QUANTITIES


@pytest.mark.parametrize(
    ("condition", "said"),
    [
        ("gust_kt >= 28", "gust 28 kt or more"),
        ("illuminance_lx < 20", "natural light under 20 lx"),
        ("air_temperature_c <= -10", "air temperature −10 °C or less"),
        ("wind_kt > 2.6", "mean wind over 2.6 kt"),
        ("-2 <= air_temperature_c <= 15", "air temperature from −2 to 15 °C"),
        ("snow_intensity == 3", "snow intensity exactly 3"),
        ("gust_kt in (20, 30)", "gust exactly 20 kt or exactly 30 kt"),
        ("dark", "legal night"),
        ("not dark", "not legal night"),
        ("not snow", "no snow"),
        ('light in ("day", "full dark")', "light: day or full dark"),
        ('light != "day"', "light: civil twilight, nautical twilight, astronomical twilight or full dark"),
        ("not gust_kt != 5", "gust exactly 5 kt"),
        ("not gust_kt in (20, 30)", "gust under 20 kt, over 20 to under 30 kt or over 30 kt"),
        ("not gust_kt < 28", "gust 28 kt or more"),
        ("not 3 <= gust_kt < 5", "gust under 3 kt or 5 kt or more"),
        ("not (snow or gust_kt >= 28)", "no snow and gust under 28 kt"),
        ("snow and (fog or mist)", "snow and (fog or mist)"),
        ("snow or fog and mist", "snow or (fog and mist)"),
        # rain is said as "rain or drizzle", which must not be read apart
        ("snow and rain and not fog", "snow and (rain or drizzle) and no fog"),
        ("not (snow and not fog)", "(no snow) or fog"),
        ("frost_margin_c > 0", "skin cold enough for frost"),
        ("frost_margin_c > 1", "skin below where frost forms by over 1 °C"),
        ("door_margin_kt < 0", "gust over a door's operating limit"),
        ("always", "always"),
        ("0 <= sun_elevation_deg <= 10", "height of the sun from 0 to 10°"),
    ],
)
def test_a_condition_is_said_as_people_would(condition, said):
    assert in_words(compile_condition(condition).node) == said


def test_what_is_enough_alone_stands_alone():
    node = compile_condition("snow or (fog and mist) or gust_kt >= 28").node
    assert alternatives(node) == ("snow", "fog and mist", "gust 28 kt or more")
    assert alternatives(compile_condition("snow and fog").node) == ("snow and fog",)


def test_every_quantity_has_a_name_without_underscore_or_unit_in_it():
    for name, row in QUANTITIES.items():
        said = noun(name)
        assert "_" not in said and said == said.strip(), name
        if row.unit in ("kt", "lx", "km"):
            assert row.unit not in said.split(), name


def test_every_shipped_condition_is_said_and_none_needs_the_language():
    for rule in revision.load().rules:
        said = in_words(rule.condition.node)
        assert said and "_" not in said and ">=" not in said, rule.id


def test_a_place_where_two_conditions_differ_is_named():
    old, new = compile_condition("gust_kt >= 28"), compile_condition("gust_kt >= 25")
    place = decide(old.node, new.node).more[0]
    assert place_in_words(place) == "gust 25 to under 28 kt"
    gone = decide(old.node, compile_condition("gust_kt >= 28 and not snow").node).less
    assert "gust 28 kt or more, snow" in [place_in_words(one) for one in gone]

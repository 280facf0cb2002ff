"""The words that a condition may use, found by those that the trade has for them."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from advisor.checklist import revision
from advisor.checklist.desk import terms
from advisor.cli.main import main
from advisor.errors import AdvisorError
from advisor.physics.derive import inputs
from advisor.quantities import QUANTITIES

KNOWN = terms.terms(revision.load().rules, inputs)
# what a person can give: parts of a report, a forecast or a departure
INPUTS = {
    *("wind", "visibility", "weather", "cloud", "temperature", "dew point", "runway visual range", "report", "place"),
    *("earlier reports", "heading", "parked since", "fuel temperature", "treated at", "seen", "off-block"),
}


def test_every_quantity_is_a_term_with_its_row() -> None:
    assert [term.name for term in KNOWN] == list(QUANTITIES)
    for term in KNOWN:
        row = QUANTITIES[term.name]
        assert (term.unit, term.meaning, term.no_value) == (row.unit, row.meaning, row.no_value)
        assert term.needs and set(term.needs) <= INPUTS, term


@pytest.mark.parametrize(
    ("word", "names"),
    [
        # common practice: what the trade calls them
        ("OAT", {"air_temperature_c"}),
        ("oat", {"air_temperature_c"}),
        ("RVR", {"runway_visual_range_m"}),
        ("night", {"dark", "light"}),
        ("braking", {"slippery_surface"}),
        ("gust_kt", {"gust_kt"}),
        ("FZRA", {"freezing_precipitation", "freezing_rain"}),
        ("cold soak", {"tank_skin_temperature_c", "tank_frost_margin_c", "fuel_temperature_c"}),
    ],
)
def test_a_word_of_the_trade_finds_its_quantities(word: str, names: set[str]) -> None:
    assert {term.name for term in terms.matching(KNOWN, word)} >= names
    # the very word comes first
    assert terms.matching(KNOWN, word)[0].name in names


def test_what_a_quantity_follows_from_and_who_tests_it() -> None:
    by_name = {term.name: term for term in KNOWN}
    assert by_name["wind_chill_c"].needs == ("temperature", "wind") and "wind-chill" in by_name["wind_chill_c"].rules
    assert by_name["sun_off_nose_deg"].needs == ("heading",)
    assert set(by_name["frost_margin_c"].needs) >= {"temperature", "dew point", "wind", "cloud"}
    # a must in a rule's second condition is a use as well
    assert by_name["illuminance_lx"].rules and by_name["light"].values[0] == "day"


@pytest.mark.parametrize(("word", "said"), [("QNH", "pressure"), ("temprature", "'temperature'"), ("xyzzy", "lists")])
def test_a_word_that_is_none_is_one_line(word: str, said: str) -> None:
    with pytest.raises(AdvisorError, match=said):
        terms.matching(KNOWN, word)
    done = CliRunner().invoke(main, ["checklist", "terms", word])
    assert done.exit_code == 2 and done.output.count("\n") == 1


def test_the_command_lists_them_as_text_and_json() -> None:
    told = json.loads(CliRunner().invoke(main, ["checklist", "terms", "--format", "json"]).output)
    wanted = {"name", "unit", "low", "high", "meaning", "no_value", "needs", "rules", "also_called"}
    assert len(told) == len(QUANTITIES) and all(wanted <= set(row) for row in told)
    text = CliRunner().invoke(main, ["checklist", "terms"]).output
    assert all(name in text for name in QUANTITIES) and max(map(len, text.splitlines())) <= 110


def test_a_rule_tests_what_makes_it_a_must_as_well() -> None:
    raised = [rule for rule in revision.load().rules if rule.raised is not None]
    by_name = {one.name: one.rules for one in KNOWN}
    alone = [
        (rule.id, name)
        for rule in raised
        for name in rule.raised.condition.quantities  # type: ignore[union-attr]
        if name not in rule.condition.quantities
    ]
    assert alone and all(rule_id in by_name[name] for rule_id, name in alone)


def test_how_old_a_report_is_follows_from_the_report() -> None:
    assert [set(one.needs) for one in KNOWN if one.name == "report_age_min"] == [{"report"}]

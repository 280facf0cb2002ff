"""Lines that must not contradict each other, nor the clock: covers on and off, damage before it happened, clear ice.

Which lines ask for covers on and which for covers off is told by their words, for each class of aircraft.
"""

from __future__ import annotations

import re
from itertools import product

import pytest

import advisor
from advisor.checklist import revision
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.rules import CLASSES, Rule

CHECKLIST = revision.load(None)
RULES = {name: {rule.id: rule for rule in CHECKLIST.for_class(name)} for name in CLASSES}
# a thing that covers or holds, and "off" in the same breath; and what keeps such things where they are
OFF = re.compile(r"\b(?:covers?|plugs?|ties?|cap|control lock)\b[^.;?]*\boff\b", re.IGNORECASE)
ON = re.compile(r"covers on\b|under covers|in its case|\bplugs in\b|\blocks? in\b|\bstays? on until\b", re.IGNORECASE)
WHEN = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
PAST = re.compile(r"^(?:After\b|Parked in\b|Left out\b|Outdoors in\b)")
OBSERVED = re.compile(r"^recent_|_while_parked(?:_kt)?$")


def asks(rule: Rule, pattern: re.Pattern[str]) -> bool:
    """Whether the words of a rule match."""
    return bool(pattern.search(rule.text))


@pytest.mark.parametrize("name", CLASSES)
def test_the_words_are_found(name: str):
    off, on = ({rule.id for rule in RULES[name].values() if asks(rule, pattern)} for pattern in (OFF, ON))
    assert off == {"covers-and-pins"}
    assert on >= {"ash"} and on <= {"ash", "dust-sand", "tie-downs"}
    raised = RULES[name]["covers-and-pins"].raised
    assert asks(raised, ON) and not asks(raised, OFF)


@pytest.mark.parametrize("name", CLASSES)
def test_no_weather_meets_a_line_with_covers_off_and_one_with_covers_on(name: str):
    """Exactly, over everything that the conditions can tell apart: where one keeps covers on, the other has the words
    for that."""
    rules = RULES[name].values()
    off, on = ([rule for rule in rules if asks(rule, pattern)] for pattern in (OFF, ON))
    for one, other in product(off, on):
        assert not compile_condition(f"({other.when}) and not ({one.must_when})").can_hold(), other.id
        assert one.raised is not None and one.raised.text != one.text


def lines(name: str, *reports: str, **asked: str) -> dict[str, advisor.Advice]:
    """The lines of a brief that are told, by id."""
    made = advisor.advise(list(reports), aircraft=name, **{**WHEN, **asked})
    return {line.id: line for line in made.advice if line.status != "cannot tell"}


@pytest.mark.parametrize("name", CLASSES)
@pytest.mark.parametrize(
    "groups",
    [
        "28012KT 2000 VA SCT020 09/05 Q1008",
        "28012KT 4000 BLDU SCT040 28/05 Q1008",
        "28018KT 3000 SA SCT040 28/05 Q1008",
        "25038G55KT 9999 SCT025 08/03 Q0983",
        "25038G55KT 2000 BLSA SCT025 28/03 Q0983",
        "24006KT 9999 FEW040 09/05 Q1018",
    ],
)
def test_no_brief_asks_for_covers_off_and_covers_on_at_once(name: str, groups: str):
    told = lines(name, f"METAR ZZZA 100520Z {groups}")
    off = [one.text for one in told.values() if OFF.search(one.text)]
    on = [one.text for one in told.values() if ON.search(one.text)]
    assert bool(off) != bool(on), (off, on)


def test_dust_that_may_come_for_a_while_keeps_covers_on_too():
    report = "METAR ZZZA 100520Z 28012KT 9999 SCT040 18/05 Q1008"
    forecast = "TAF ZZZA 100500Z 1005/1106 28012KT 9999 SCT040 TEMPO 1005/1007 3000 BLDU"
    told = lines("helicopter", report, forecast)
    assert told["dust-sand"].status == "possible"
    assert told["covers-and-pins"].status == "expected"
    assert "stay on until the start" in told["covers-and-pins"].text


def test_weather_that_nobody_told_takes_no_count_of_covers_away():
    told = lines("single-aisle-jet", "METAR ZZZA 100520Z /////KT 9999 // SCT040 18/05 Q1008")
    assert told["covers-and-pins"].status == "expected"


@pytest.mark.parametrize("name", CLASSES)
def test_what_is_told_in_the_past_tense_rests_on_what_was_observed(name: str):
    told = [rule for rule in RULES[name].values() if PAST.match(rule.text)]
    assert {rule.id for rule in told} == {"hail-inspection", "gust-damage-inspection", "lightning-inspection"}
    for rule in told:
        assert all(OBSERVED.search(quantity) for quantity in rule.condition.quantities), rule.when


@pytest.mark.parametrize("name", CLASSES)
@pytest.mark.parametrize("parked", [{}, {"parked_since": "2027-01-10T03:00:00Z"}])
def test_hail_storm_and_gale_that_are_only_forecast_have_done_no_damage(name: str, parked: dict[str, str]):
    told = lines(
        name,
        "METAR ZZZA 100520Z 24006KT 9999 SCT030 14/08 Q1010",
        "TAF ZZZA 100500Z 1005/1106 24010KT 9999 SCT030 TEMPO 1005/1008 30030G50KT 3000 TSGR SCT020CB",
        **parked,
    )
    assert not {"hail-inspection", "gust-damage-inspection", "lightning-inspection"} & set(told)
    assert not [one.text for one in told.values() if PAST.match(one.text)]
    # what is to come is told as that
    assert {"thunderstorm", "hail-shelter"} <= set(told)


TOUCH = "Clear ice looks like water and only touch tells"


@pytest.mark.parametrize("name", CLASSES)
@pytest.mark.parametrize(
    ("groups", "said"),
    [
        ("09006KT 3000 -FZRA OVC004 M01/M02 Q1008", True),
        ("09006KT 3000 -FZDZ OVC004 M01/M02 Q1008", True),
        ("09006KT 3000 RA OVC004 00/M01 Q1008", True),
        ("09006KT 9999 OVC014 M01/M03 Q1008 REFZRA", True),
        ("36005KT 5000 -SN OVC018 M02/M03 Q1005", False),
        ("00000KT CAVOK 01/M01 Q1024", False),
    ],
)
def test_in_freezing_rain_and_after_it_the_wing_line_itself_says_that_only_touch_tells(name, groups, said):
    line = lines(name, f"METAR ZZZA 100520Z {groups}")["wing-upper-surface"]
    assert line.text.startswith(TOUCH) is said
    assert line.weight == "must" and len(line.text) <= 100


def test_each_class_with_a_wing_line_of_its_own_says_clear_ice_in_its_own_words():
    rule = next(rule for rule in CHECKLIST.rules if rule.id == "wing-upper-surface")
    assert rule.overrides and all(one.must_text and one.must_more for one in rule.overrides.values())
    raised = {name: RULES[name]["wing-upper-surface"].raised for name in (*rule.overrides, "single-aisle-jet")}
    assert len({one.text for one in raised.values()}) == len(raised)
    # what the class has: no stairs at a light aircraft, no wing on a helicopter
    assert not re.search(r"stairs|cabin window", " ".join(raised["light-aircraft"].text))
    assert "wing" not in raised["helicopter"].text


@pytest.mark.parametrize(
    ("groups", "ids"),
    [
        ("00000KT 0400 FZFG VV001 M03/M03 Q1020", {"probes-and-ports", "control-gaps", "aerials-and-lamps"}),
        ("03012KT 4000 PL OVC012 M02/M03 Q0992", {"ice-pellets"}),
        ("20010KT 7000 RA OVC012 01/00 Q1002", {"rain-may-freeze"}),
        ("00000KT CAVOK 03/02 Q1024", {"fluid-and-mix", "steps-ice", "de-icing-request"}),
        ("36003KT 9999 OVC020 M36/M40 Q1030", {"deep-cold"}),
    ],
)
def test_a_jet_hears_of_what_the_weather_does_to_it(groups: str, ids: set[str]):
    assert ids <= set(lines("single-aisle-jet", f"METAR ZZZA 100520Z {groups}"))


def test_a_look_again_at_rain_near_freezing_has_its_hour_and_stops_nothing():
    made = lines("single-aisle-jet", "METAR ZZZA 100520Z 20010KT 7000 RA OVC012 01/00 Q1002")
    # a quarter of an hour before 0640Z
    assert made["rain-may-freeze"].by == "2027-01-10T06:25:00Z"
    assert not made["rain-may-freeze"].stop

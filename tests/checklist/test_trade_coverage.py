"""The shipped checklist against a list of 77 things that people of the trade would look for (common practice).

The list is held here in our own short words, one row a topic, with the rules that cover it. A topic without a rule
says why. The list was written before the rules and not from them.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "advisor" / "data" / "checklists"

JETS = {"regional-jet", "single-aisle-jet", "wide-body-jet"}
LARGE = JETS | {"twin-turboprop"}
ALL = LARGE | {"light-aircraft", "glider", "helicopter", "uncrewed"}
POWERED_SMALL = {"light-aircraft", "helicopter"}
FIXED_SMALL = {"light-aircraft", "glider"}

# row: (topic, rules that cover it, classes that must have at least one of them)
COVERED: dict[str, tuple[str, tuple[str, ...], set[str]]] = {
    "1": ("storm near", ("thunderstorm", "lightning-about"), ALL),
    "2": ("no holdover, or close to it", ("no-holdover", "ice-pellets", "rain-and-snow", "rain-may-freeze"), ALL),
    "3": ("ash", ("ash",), ALL),
    "4": ("too windy to be out", ("too-windy-outside", "funnel-cloud"), ALL),
    "4a": ("wind that moves things", ("strong-wind",), ALL),
    "5": ("closed by snow", ("snow-closed",), ALL),
    "6": ("drivers cannot see", ("low-visibility-apron",), ALL),
    "7": ("deposit seen by somebody", ("already-seen",), ALL),
    "8": ("call for de-icing", ("de-icing-request",), LARGE | POWERED_SMALL),
    "9": ("where and how treated", ("treatment-plan",), LARGE),
    "10": ("fluid and its limit", ("fluid-and-mix",), LARGE),
    "11": ("slot and treatment", ("treatment-plan",), LARGE),
    "12": ("record of the treatment", ("treatment-record",), LARGE | POWERED_SMALL),
    "13": ("second treatment", ("retreat",), LARGE),
    "14": ("look before take-off", ("pre-take-off-check",), LARGE | {"light-aircraft"}),
    "15": ("longer lead", ("de-icing-lead",), LARGE),
    "16": ("own lights on", ("exterior-lights",), ALL - {"glider"}),
    "17": ("brake and wear pins", ("parking-brake",), LARGE),
    "18": ("hot brakes", ("hot-brakes",), LARGE),
    "19": ("warmer or earlier fuel", ("fuel-warm-or-early",), LARGE),
    "20": ("pre-heat, deep cold", ("oil-battery-preheat", "drone-battery", "deep-cold"), ALL - {"glider"}),
    "21": ("water systems in frost", ("water-drain",), LARGE),
    "22": ("protection decided the evening before", ("night-before-protection",), ALL),
    "23": ("tied down before the wind", ("tie-downs",), ALL),
    "24": ("out of a warm hangar into snow", ("hangar-out",), ALL - {"uncrewed"}),
    "25": ("torch", ("torch",), ALL),
    "26": ("small light by day", ("dark-corners-light",), ALL),
    "27": ("bright clothing", ("high-visibility",), ALL),
    "28": ("ears", ("hearing-protection",), LARGE | POWERED_SMALL),
    "29": ("eyes", ("eye-protection",), ALL),
    "30": ("hands and soles", ("gloves-and-soles",), ALL),
    "31": ("wind chill", ("wind-chill",), ALL),
    "32": ("heat", ("heat",), ALL),
    "33": ("hood, no umbrella", ("no-umbrella",), ALL),
    "34": ("caps and papers blown away", ("strong-wind",), ALL),
    "35": ("door too windy to open", ("door-operate",), LARGE | POWERED_SMALL | {"glider"}),
    "36": ("door too windy to leave open", ("door-stay-open",), LARGE | POWERED_SMALL | {"glider"}),
    "37": ("ice on steps", ("steps-ice", "slippery-apron"), ALL),
    "38": ("canopy in wind and sun", ("canopy-wind-and-sun", "canopy-sun"), POWERED_SMALL | {"glider"}),
    "39": ("seals and latches frozen", ("refrozen-water",), LARGE | POWERED_SMALL),
    "40": ("wing from above", ("wing-upper-surface",), ALL),
    "41": ("leading edge by hand", ("leading-edge-and-tail",), LARGE | FIXED_SMALL),
    "42": ("tailplane and fin", ("leading-edge-and-tail",), LARGE | FIXED_SMALL),
    "43": ("cold fuel under moist skin", ("cold-soaked-wing",), LARGE),
    "44": ("frost below the tanks", ("underwing-frost",), LARGE),
    "45": ("hinges and gaps", ("control-gaps",), ALL),
    "47": ("probes and ports", ("probes-and-ports", "insects-in-ports", "dust-sand"), ALL),
    "48": ("intakes", ("intakes",), ALL - {"glider"}),
    "49": ("propeller and spinner", ("propeller-spinner",), {"light-aircraft", "twin-turboprop"}),
    "50": ("gear frozen", ("landing-gear-ice",), ALL),
    "51": ("vents, caps, drains", ("fuel-vents-caps",), POWERED_SMALL | {"twin-turboprop"}),
    "52": ("panes", ("windscreen",), POWERED_SMALL | {"glider", "twin-turboprop"}),
    "53": ("aerials and lamps", ("aerials-and-lamps",), ALL),
    "54": ("snow on the fuselage", ("fuselage-snow",), LARGE | {"light-aircraft"}),
    "55": ("rotor head and blades", ("rotor-head-blades", "wing-upper-surface"), {"helicopter", "uncrewed"}),
    "56": ("skids frozen down", ("landing-gear-ice",), {"helicopter"}),
    "57": ("whirled snow", ("loose-snow-hover",), {"helicopter", "uncrewed"}),
    "58": ("covers blown or forgotten", ("loose-covers",), ALL),
    "59": ("water ballast, tapes and insects", ("ballast-and-tapes", "glider-wing-by-day"), {"glider"}),
    "60": ("batteries of uncrewed aircraft", ("drone-battery", "drone-battery-cold"), {"uncrewed"}),
    "61": ("ice on small propellers", ("drone-prop-ice",), {"uncrewed"}),
    "62": ("slippery apron", ("slippery-apron",), ALL),
    "63": ("melted and frozen again", ("refrozen-water",), ALL - {"uncrewed"}),
    "64": ("slush on the way", ("taxiing-slush",), LARGE | {"light-aircraft"}),
    "65": ("damage by hail", ("hail-inspection", "hail-shelter"), ALL),
    "66": ("damage by gusts", ("gust-damage-inspection",), ALL),
    "67": ("struck by lightning", ("lightning-inspection",), ALL),
    "68": ("heavy rain", ("heavy-rain",), ALL),
    "69": ("dust and sand", ("dust-sand",), ALL),
    "70": ("salt by the sea", ("salt-spray",), POWERED_SMALL | {"twin-turboprop", "uncrewed"}),
    "71": ("low sun", ("low-sun",), ALL),
    "72": ("count of covers, plugs, pins", ("covers-and-pins", "loose-covers"), ALL),
    "73": ("blast of others", ("push-back-blast",), ALL),
    "74": ("water inside", ("condensation-inside",), POWERED_SMALL | {"glider"}),
    "75": ("report of another place", ("report-not-here",), ALL - LARGE),
    "76": ("brief again", ("recheck",), ALL),
}

LEFT_OUT = {
    "46": "earlier treatments over dry days are no input; control-gaps mentions old gel where it applies anyway",
}
# parts of a covered topic that have no rule of their own, for want of an input
PARTS_LEFT_OUT = {
    "18": "the time of landing: the line goes by heat and by the time on the stand",
    "20": "oil grade and battery temperature",
    "24": "whether it stands in a hangar: the line cannot be told where no time outside is stated",
    "29": "whether the ground is dry: only coded dust, sand and snow count, or a gust",
    "49": "motor gliders and uncrewed aircraft have their blades in wing-upper-surface or no engine in the profile",
    "52": "heated screens of jets: seen through from the flight deck",
    "60": "the battery's own temperature",
    "61": "wind at height: said in the wording of strong-wind for uncrewed aircraft",
    "70": "distance to the sea and hours of onshore wind are no input: the words say for whom the line is",
    "71": "the stand's heading: the walk goes round all sides, and without a heading it could not be told",
}


def _rules() -> dict[str, dict]:
    found: dict[str, dict] = {}
    for path in sorted(FOLDER.glob("*.toml")):
        for rule in tomllib.loads(path.read_text(encoding="utf-8")).get("advice", []):
            found[rule["id"]] = rule
    return found


RULES = _rules()


def test_each_of_the_77_topics_is_covered_or_left_out_for_a_reason():
    topics = {str(number) for number in range(1, 77)} | {"4a"}
    assert len(topics) == 77
    assert set(COVERED) | set(LEFT_OUT) == topics
    assert not set(COVERED) & set(LEFT_OUT)
    assert set(PARTS_LEFT_OUT) <= set(COVERED)


@pytest.mark.parametrize("row", COVERED)
def test_a_topic_reaches_every_class_of_aircraft_that_needs_it(row: str):
    _, ids, needed = COVERED[row]
    reached: set[str] = set()
    for rule in (RULES[name] for name in ids):
        reached |= set(rule.get("classes", ALL))
    assert needed <= reached


def test_no_shipped_rule_stands_outside_the_list():
    assert set(RULES) == {name for _, ids, _ in COVERED.values() for name in ids}, "add it to its topic in COVERED"

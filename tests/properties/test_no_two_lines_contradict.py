"""No two lines of a brief order opposite things: over every pair of rules, and over the briefs of all kinds of weather.

Which orders are opposite stands in opposed.py and follows from the trade (common practice): covers are on or off, who
waits indoors ties nothing down, who keeps off steps climbs none.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from itertools import combinations, product
from pathlib import Path

import pytest
from drawn import night
from opposed import THINGS, contradictions, unplaced

from advisor import advise
from advisor.brief.model import Brief
from advisor.checklist import revision
from advisor.checklist.evaluate import STATUSES
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.rules import CLASSES, Rule
from advisor.errors import AdvisorError
from advisor.render.listing import listing

CHECKLIST = revision.load(None)
RULES = {name: CHECKLIST.for_class(name) for name in CLASSES}
SAMPLES = sorted((Path(__file__).parents[2] / "sample_reports").glob("*/departure.toml"))
DARK = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
BRIGHT = {"now": "2027-06-15T10:10:00Z", "off_block": "2027-06-15T11:25:00Z", "place": "47.2,8.1"}
DUSK = {"now": "2027-03-15T16:40:00Z", "off_block": "2027-03-15T18:05:00Z", "place": "47.2,8.1"}
EVENING = {"now": "2027-01-09T22:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
ISSUED = {id(DARK): "100520Z", id(BRIGHT): "151005Z", id(DUSK): "151635Z", id(EVENING): "092220Z"}
# groups of one report each: every hazard of the list alone, and those that come together
COLD = (
    "00000KT CAVOK M03/M04 Q1024",
    "24006KT 9999 OVC040 M03/M09 Q1018 REFZRA",
    "36005KT 5000 -SN OVC018 M02/M03 Q1005",
    "03012KT 0400 +SN VV003 M02/M03 Q0992",
    "25038G55KT 1200 SN BLSN OVC006 M02/M03 Q0984",
    "25038G55KT 3000 -FZRA OVC004 M01/M02 Q0984",
    "09006KT 3000 -FZDZ OVC004 M01/M02 Q1008",
    "03012KT 4000 PL OVC012 M02/M03 Q0992",
    "03012KT 6000 -RASN OVC012 01/00 Q0992",
    "20010KT 7000 RA OVC012 01/00 Q1002",
    "00000KT 0300 FZFG VV001 M03/M03 Q1026",
    "28012KT 2000 VA SCT020 M03/M04 Q1008",
    "00000KT 2000 VA SCT020 00/M01 Q1008",
    "25034G50KT 0800 VA BLSN OVC010 M02/M03 Q0990",
    "25030G48KT 1000 TSSN OVC008CB M01/M02 Q0985",
    "36022KT 9999 OVC030 M36/M40 Q1030",
    "03012KT 1200 SN OVC006 M02/M03 Q0992 R/SNOCLO",
)
WARM = (
    "24006KT 9999 FEW040 19/09 Q1018",
    "20006KT CAVOK 38/25 Q1008",
    "28012KT 4000 BLDU SCT040 28/05 Q1008",
    "25038G55KT 1000 SS SCT025 31/03 Q0983",
    "00000KT 2000 VA SCT020 09/08 Q1008",
    "25034G52KT 9999 SCT025 08/03 Q0983",
    "25024G36KT 9999 FEW025 16/03 Q0983",
    "23015G45KT 4000 +TSGR BKN030CB 18/14 Q1009",
    "20010G40KT 3000 +FC TSRA SCT030CB 25/20 Q1002",
    "23008KT 2500 +RA BKN012 14/13 Q1003",
    "00000KT 0300 FG VV001 06/06 Q1026",
    "24018G30KT 9999 SQ SCT030CB 12/06 Q1008",
)
WHEN = [(DARK, COLD), (EVENING, COLD), (BRIGHT, WARM), (DUSK, (*WARM, *COLD[:8]))]
ASKED = ({}, {"parked_since": "earlier", "seen": "ice", "fuel_temperature": -8})


def composed(aircraft: str) -> list[tuple[str, Brief]]:
    """Briefs of the composed weather for a class, plain and with all that can be stated."""
    made = []
    for when, groups in WHEN:
        for group in groups:
            report = f"METAR ZZZA {ISSUED[id(when)]} {group}"
            for asked in ASKED if groups is COLD else ASKED[:1]:
                more = {**asked, "parked_since": f"{when['now'][:8]}{int(when['now'][8:10]) - 1:02d}T20:00:00Z"}
                given = more if asked else {}
                made.append((f"{report} {given}", advise(report, aircraft=aircraft, **when, **given)))
    # what may come for a while only, in part of the windows
    for late in ("TEMPO 1005/1007 3000 BLDU", "TEMPO 1006/1008 25034G52KT", "PROB30 TEMPO 1006/1007 1500 VA"):
        texts = [
            "METAR ZZZA 100520Z 24006KT 9999 SCT040 02/01 Q1018",
            f"TAF ZZZA 100500Z 1005/1106 24006KT 9999 SCT040 {late}",
        ]
        made.append((late, advise(texts, aircraft=aircraft, **DARK)))
    return made


def printed(brief: Brief) -> list[str]:
    """The words of the lines that stand in a brief as lines."""
    return [line.text for line in brief.advice if line.status != "cannot tell"]


def listed(brief: Brief) -> list[str]:
    """The entries that are printed, standing lines folded and names in place of lines as the listing has them."""
    return [entry.text for part in listing(brief) for entry in part.entries if part.key != "untold"]


@dataclass(frozen=True)
class Spoken:
    """One wording of a rule: when it may be said, in which windows, and what puts another wording in its place."""

    text: str
    when: str
    during: frozenset[str]
    gives_way_to: str | None = None


def both(*conditions: str) -> str:
    """The condition that all of them hold; "always" adds nothing."""
    return " and ".join(f"({one})" for one in conditions if one != "always") or "always"


def spoken(rule: Rule) -> list[Spoken]:
    """A rule in its own words, how sure it ever is, and in those that it takes where must_when holds."""
    raised, during = rule.raised, frozenset(rule.during)
    own = dict.fromkeys(rule.said(status) for status in STATUSES)
    if raised is None or raised.text == rule.text:
        return [Spoken(text, rule.when, during) for text in own]
    graver = Spoken(raised.text, both(rule.when, raised.when), during)
    return [*(Spoken(text, rule.when, during, raised.when) for text in own), graver]


def exclude(one: Spoken, other: Spoken) -> bool:
    """Whether one wording is never said beside the other.

    It is not where another wording stands in its place whenever the other one holds, in every window of the other one;
    nor where both cannot hold at one time of the same windows.
    """
    met = both(one.when, other.when)
    if one.gives_way_to and other.during <= one.during:
        met = both(met, f"not ({one.gives_way_to})")
    elif one.during != other.during:
        return False
    return not compile_condition(met).can_hold()


@pytest.mark.parametrize("name", CLASSES)
def test_a_line_that_names_a_thing_takes_a_side_that_the_table_knows(name: str) -> None:
    missing = {one.text: found for rule in RULES[name] for one in spoken(rule) if (found := unplaced(one.text))}
    assert missing == {}, "a line that names such a thing needs a side in tests/properties/opposed.py"


def test_each_side_that_is_opposed_is_taken_by_some_line_or_was_taken_once() -> None:
    """A pattern that matches nothing guards nothing: what no line says any more is said here as it was said once."""
    once = (
        "Storm near. Climb no steps.",
        "Ask for stairs and equipment moved away.",
        "Dry the wings with a soft leather.",
        "Ask before you call for fluid.",
        "Do the shaded side last.",
        "Do the windward side first.",
        "Feel the edge with a bare hand.",
        "Rock the aircraft by hand.",
        "Have the brake set.",
        "Leave the parking brake off.",
        "Stay out of their discs.",
        "Launch from a mat.",
        "Tie the aircraft down.",
        "Keep the doors open.",
    )
    texts = [one.text for name in CLASSES for rule in RULES[name] for one in spoken(rule)] + list(once)
    for thing in THINGS:
        for side in {side for pair in thing.opposed for side in pair} | set(thing.once):
            assert any(side in thing.taken(text) for text in texts), (thing.name, side)


@pytest.mark.parametrize(
    "pair",
    [
        ("For the start take port covers off.", "Dust: leave covers on until the start."),
        ("For the start take covers, plugs and blade ties off.", "Keep blades tied down and plugs in until the start."),
        ("Too windy: climb no steps.", "See the wing from above: top of the stairs."),
        ("Have stairs and equipment moved away.", "See the wing from above: top of the stairs."),
        ("Take a real torch.", "Take a small light by day too."),
        ("Count covers against the list.", "Count them in hand."),
        ("Call at once about what was seen.", "Call for de-icing: give flight."),
        ("Call for de-icing: give flight.", "Get a decision before you call for fluid."),
        ("Wait in a car or a building.", "Tie the aircraft down, nose into wind."),
        ("Wipe nothing dry.", "Dry the wings with a soft leather."),
        ("Do not launch.", "Launch from a swept mat."),
    ],
)
def test_lines_that_contradicted_once_are_noticed(pair: tuple[str, str]) -> None:
    assert contradictions(list(pair))


@pytest.mark.parametrize("name", CLASSES)
def test_no_two_rules_can_print_opposite_orders(name: str) -> None:
    """Exactly, over every pair of rules and everything that conditions can tell apart."""
    met = []
    for one, other in combinations(RULES[name], 2):
        for first, second in product(spoken(one), spoken(other)):
            if contradictions([first.text, second.text]) and not (exclude(first, second) or exclude(second, first)):
                met.append((one.id, first.text, other.id, second.text))
    assert met == []


def test_the_pairs_that_exclude_each_other_are_told_from_those_that_do_not() -> None:
    rules = {rule.id: rule for rule in RULES["helicopter"]}
    (plain, kept), (ash,) = spoken(rules["covers-and-pins"]), spoken(rules["ash"])
    assert contradictions([plain.text, ash.text]) and not contradictions([kept.text, ash.text])
    assert exclude(plain, ash) and not exclude(ash, plain)
    # the same line, asked for the walk alone: ash that comes at off-block would meet it
    assert not exclude(replace(plain, during=frozenset({"walk_round"})), ash)


@pytest.mark.long
@pytest.mark.parametrize("aircraft", CLASSES)
def test_no_brief_of_composed_weather_contradicts_itself(aircraft: str) -> None:
    for told, brief in composed(aircraft):
        assert contradictions(printed(brief)) == [], told
        assert contradictions(listed(brief)) == [], told


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.parent.name)
def test_no_sample_contradicts_itself_for_any_class(path: Path) -> None:
    asked = tomllib.loads(path.read_text(encoding="utf-8"))["ask"]
    text = (path.parent / "report.txt").read_text(encoding="utf-8")
    for aircraft in CLASSES:
        try:
            brief = advise(text, **{**asked, "aircraft": aircraft})
        except AdvisorError:
            continue
        assert contradictions(printed(brief)) == [], aircraft


@pytest.mark.long
def test_no_drawn_night_contradicts_itself() -> None:
    made = 0
    for number in range(250):
        try:
            brief = night(12, number).brief()
        except AdvisorError:
            continue
        made += 1
        assert contradictions(printed(brief)) == [], number
    assert made > 200

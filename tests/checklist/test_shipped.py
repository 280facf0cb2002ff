"""The shipped checklist: its wording, its pages, and each rule shown once firing and once just not.

Expectations come from outside the rules: limits on wording and ids as agreed with those who use them, the situations
on the pages, and facts of the trade (common practice, no source).
"""

from __future__ import annotations

import re
from typing import Any

import msgspec
import pytest

import advisor
from advisor import places
from advisor.checklist import revision
from advisor.checklist.rules import CLASSES, Rule, Situation
from advisor.conditions import Place
from advisor.sources import SOURCES

CHECKLIST, PAGES = revision.load_all(None)
RULES: dict[str, Rule] = {rule.id: rule for rule in CHECKLIST.rules}
IDS = sorted(RULES)
# always and for every class: nothing can make them go away
ALWAYS_SHOWN = {"high-visibility", "covers-and-pins"}
# an invented station has no position, so no situation on a page can put it elsewhere; both are tests of their own
NO_POSITION = {"report-not-here"}

# id: kind, as operators and other programs look for them
CONTRACT = {
    "torch": "gear",
    "high-visibility": "gear",
    "hearing-protection": "gear",
    "exterior-lights": "request",
    "parking-brake": "request",
    "de-icing-request": "request",
    "wing-upper-surface": "checkpoint",
    "cold-soaked-wing": "checkpoint",
    "probes-and-ports": "checkpoint",
    "intakes": "checkpoint",
    "control-gaps": "checkpoint",
    "landing-gear-ice": "checkpoint",
    "no-umbrella": "caution",
    "slippery-apron": "caution",
    "wind-chill": "caution",
    "heat": "caution",
    "thunderstorm": "caution",
    "strong-wind": "caution",
    "loose-covers": "checkpoint",
}

# words that a class of aircraft has no use for
FOREIGN = {
    "glider": r"flight deck|stand's|\bstand\b|stairs|fan\b|APU|pack\b|apron stopped|taxi lane|slot desk|propeller",
    "helicopter": r"leading edge|\bflaps\b|\bslats?\b|wing from|both wings|stairs|fan blades",
    "uncrewed": r"flight deck|cabin|stairs|on board|\bfan\b|passengers?|cockpit",
    "light-aircraft": r"flight deck|fan blades|\bAPU\b|\bpacks?\b|stairs|slot desk|push-back",
}
FORBIDDEN = re.compile(r"\bclean|clear of ice|\bsafe|\bice-free|\bdefrosted|\bguarante", re.IGNORECASE)


def _for(rule: Rule) -> list[tuple[str, Rule]]:
    return [(name, rule.for_class(name)) for name in CLASSES if name in rule.classes]


def _brief(situation: Situation, **other: Any) -> dict[str, str]:
    asked = {name: value for name in situation.__struct_fields__ if (value := getattr(situation, name)) is not None}
    report, off_block, now = asked.pop("report"), asked.pop("off_block"), asked.pop("now")
    brief = advisor.advise(report, off_block=off_block, now=now, **{**asked, **other})
    return {line.id: line.status for line in brief.advice}


@pytest.mark.parametrize("rule_id", CONTRACT)
def test_ids_that_others_look_for_are_there(rule_id: str):
    assert RULES[rule_id].kind == CONTRACT[rule_id]


@pytest.mark.parametrize("rule_id", IDS)
def test_text_fits_a_line_and_promises_nothing(rule_id: str):
    for name, rule in _for(RULES[rule_id]):
        assert len(rule.text) <= 100, name
        assert len(rule.more) <= 320, name
        assert not FORBIDDEN.search(f"{rule.text} {rule.more}"), name
        assert rule.text[0].isupper() and rule.text[-1] in ".?", name


@pytest.mark.parametrize("rule_id", IDS)
def test_text_speaks_of_what_the_class_has(rule_id: str):
    for name, rule in _for(RULES[rule_id]):
        if name in FOREIGN:
            found = re.search(FOREIGN[name], f"{rule.text} {rule.more}")
            assert not found, f"{name}: {found[0]!r} in {rule.text} {rule.more}"


@pytest.mark.parametrize("rule_id", IDS)
def test_page_has_its_five_parts_and_real_sources(rule_id: str):
    assert rule_id in PAGES, f"write [page.{rule_id}] into data/checklists/pages-*.toml"
    page = PAGES[rule_id]
    assert RULES[rule_id].source in SOURCES
    assert page.references and all(key in SOURCES for key in page.references)
    assert RULES[rule_id].source in page.references
    for part, most in ((page.does, 2), (page.why, 3), (page.limits, 2)):
        assert part and not FORBIDDEN.search(part)
        assert 1 <= len(re.findall(r"[.?](?:\s|$)", part)) <= most, part
    assert (page.fires is None) == (rule_id in NO_POSITION)
    assert (page.near_miss is None) == (rule_id in NO_POSITION | ALWAYS_SHOWN)


def test_nothing_on_the_pages_is_said_twice():
    seen: dict[str, str] = {}
    for rule_id, page in PAGES.items():
        for part in (page.does, page.why, page.limits):
            for sentence in re.split(r"(?<=[.?]) ", part):
                if "invented default" in sentence or "always applies" in sentence:
                    continue
                assert sentence not in seen, f"{rule_id} and {seen[sentence]}: {sentence}"
                seen[sentence] = rule_id


def test_no_two_rules_say_the_same_to_one_class():
    for name in CLASSES:
        texts = [rule.for_class(name).text for rule in RULES.values() if name in rule.classes]
        assert len(set(texts)) == len(texts), name


@pytest.mark.parametrize("rule_id", IDS)
def test_a_figure_of_ours_says_so(rule_id: str):
    # a threshold without a published source is an invented default, and the page repeats it
    if RULES[rule_id].source == "invented-default":
        assert "invented" in PAGES[rule_id].limits, PAGES[rule_id].limits


@pytest.mark.parametrize("rule_id", [name for name in IDS if name not in NO_POSITION])
def test_rule_fires_in_its_situation(rule_id: str):
    assert _brief(PAGES[rule_id].fires).get(rule_id) in {"expected", "likely", "possible"}


@pytest.mark.parametrize("rule_id", [name for name in IDS if name not in ALWAYS_SHOWN | NO_POSITION])
def test_rule_is_silent_in_its_near_miss(rule_id: str):
    assert rule_id not in _brief(PAGES[rule_id].near_miss)


@pytest.mark.parametrize("rule_id", [name for name in IDS if name not in ALWAYS_SHOWN | NO_POSITION])
def test_near_miss_is_near(rule_id: str):
    """The same place, aircraft and half day; either one asked thing differs or a few groups of the report."""
    fires, near = PAGES[rule_id].fires, PAGES[rule_id].near_miss
    changed = {name for name in fires.__struct_fields__ if getattr(fires, name) != getattr(near, name)}
    assert fires.place == near.place
    assert fires.now[:10] == near.now[:10]
    if changed <= {"report"}:
        first, second = (
            " ".join([one.report] if isinstance(one.report, str) else one.report).split() for one in (fires, near)
        )
        assert 1 <= len(set(first) ^ set(second)) <= 6
    else:
        assert len(changed - {"now", "off_block"}) <= 1


@pytest.mark.parametrize(
    ("latitude_deg", "elevation_m", "told"),
    # a degree of latitude is 111.2 km on a sphere of 6371 km: 0.08° is 8.9 km, 0.10° is 11.1 km
    [(47.28, 400.0, False), (47.30, 400.0, True), (47.2, 320.0, False), (47.2, 280.0, True)],
)
def test_report_from_over_10_km_or_100_m_away_is_called_another_places(
    monkeypatch: pytest.MonkeyPatch, latitude_deg: float, elevation_m: float, told: bool
):
    station = Place("invented", "ZZZA", latitude_deg, 8.1, elevation_m)
    monkeypatch.setattr(places, "look_up", lambda indicator: station)
    quiet = msgspec.structs.replace(PAGES["high-visibility"].fires, aircraft="light-aircraft")
    here = Place("invented field", None, 47.2, 8.1, 400.0)
    assert ("report-not-here" in _brief(quiet, place=here)) == told


def test_rules_that_always_apply_are_few():
    always = [rule for rule in RULES.values() if rule.when == "always"]
    assert len(always) <= 4


@pytest.mark.parametrize("aircraft", CLASSES)
def test_a_quiet_warm_day_stays_short(aircraft: str):
    # a METAR for 1005Z in June, sun high, light wind, dry: only what is needed on every walk
    found = _brief(msgspec.structs.replace(PAGES["high-visibility"].fires, aircraft=aircraft))
    told = {name: status for name, status in found.items() if status != "cannot tell"}
    assert len(told) <= 8, told


def test_trade_facts_are_said():
    """Facts of the trade, common practice without a source."""
    text = {name: f"{rule.text} {rule.more}" for name, rule in RULES.items()}
    for rule_id, words in {
        "torch": "real torch, not a phone",
        "exterior-lights": "no beacon, no strobes",
        "parking-brake": "nobody at the gear",
        "wing-upper-surface": "top of the stairs, a cabin window, or steps",
        "de-icing-request": "end of the queue",
        "no-umbrella": "inlets suck in",
        "hearing-protection": "APU or pack harms hearing",
        "covers-and-pins": "gear pins out",
        "loose-covers": "control locks",
    }.items():
        assert words in text[rule_id], rule_id
    assert "Never step on the wing" in text["wing-upper-surface"]
    assert "push-back crew looks" in text["covers-and-pins"] and "technical log" in text["covers-and-pins"]
    light = RULES["covers-and-pins"].for_class("light-aircraft")
    assert "fuel caps and small panels" in light.text and "Nobody checks after you" in light.more
    assert "before every flight" in text["covers-and-pins"]

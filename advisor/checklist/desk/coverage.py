"""What a checklist covers: hazard by class by phase, from what comes up in weather situations, never from tags.

A rule counts for a hazard where it comes up in that situation and not in the same situation without the hazard.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import combinations

import msgspec

from advisor.checklist.desk.weathered import Reached, Weathered, reached, stated
from advisor.checklist.language.decide import decide
from advisor.checklist.rules import CLASSES, Checklist, Rule, Situation
from advisor.conditions import PHASES

MUST, SHOULD, NONE = "must", "should", "none"

# a rule, and whether much work may be spent on it
Reach = Callable[[Rule, bool], bool | None]
Weather = Callable[[Situation, str], Weathered | None]


class SituationToTry(msgspec.Struct, frozen=True):
    """A situation to try. hazard: "" for one that only shows what can be reached; beside: as a hazard's name."""

    hazard: str
    beside: str
    situation: Situation


class CoverageCell(msgspec.Struct, frozen=True, rename={"class_id": "class"}):
    """What comes up for one class in one phase of a hazard. weight: the graver; own: rules in the class's own words."""

    hazard: str
    class_id: str
    phase: str
    rules: tuple[str, ...]
    weight: str
    own: tuple[str, ...] = ()


class Coverage(msgspec.Struct, frozen=True, tag_field="schema", tag="coverage/1"):
    """A checklist's coverage.

    cells: every hazard, class and phase, those without a rule too. never: rules that no situation reaches; unstated:
    rules reached only with an input that nobody has to state; overlaps: pairs of one kind that say something in the
    same weather to the same class. open: hazards for which a class has no rule in any phase.
    """

    cells: tuple[CoverageCell, ...]
    never: tuple[str, ...]
    unstated: tuple[str, ...]
    overlaps: tuple[tuple[str, str], ...]
    open: tuple[tuple[str, str], ...] = ()
    hazards: tuple[str, ...] = ()
    checklist: str = ""
    revision: str = ""
    fingerprint: str = ""


def coverage(
    checklist: Checklist, told: Sequence[SituationToTry], weather: Weather, reach: Reach | None = None
) -> Coverage:
    """Coverage of a checklist.

    told: the situations; weather: one for a class of aircraft, None where it cannot be used for it. reach: whether
    a rule that none of them reaches comes up in a report that can be written: True also where nobody states anything of
    the aircraft, None only where somebody does.
    """
    seen: dict[tuple[str, str], set[Reached]] = {}
    plain: set[str] = set()
    with_more: set[str] = set()
    for class_id in CLASSES:
        for to_try in told:
            found_weather = weather(to_try.situation, class_id)
            if found_weather is None:
                continue
            came_up = reached(checklist.rules, found_weather, class_id)
            if to_try.hazard:
                seen[to_try.hazard, class_id] = came_up
            (with_more if stated(to_try.situation) else plain).update(item.rule for item in came_up)
    missing = [rule for rule in checklist.rules if rule.id not in plain]
    for rule in missing:
        # one that a situation reaches with more stated is only asked about quickly
        answer = reach(rule, rule.id not in with_more) if reach is not None else False
        if answer:
            plain.add(rule.id)
        elif answer is None:
            with_more.add(rule.id)
    named = tuple(one.hazard for one in told if one.hazard and one.beside)
    beside = {one.hazard: one.beside for one in told}
    cells = tuple(
        _cell(checklist, hazard, class_id, phase, seen, beside[hazard])
        for hazard in named
        for class_id in CLASSES
        for phase in PHASES
    )
    covered = {(cell.hazard, cell.class_id) for cell in cells if cell.rules}
    return Coverage(
        cells,
        tuple(rule.id for rule in checklist.rules if rule.id not in plain | with_more),
        tuple(rule.id for rule in checklist.rules if rule.id in with_more - plain),
        tuple(_overlaps(checklist.rules)),
        tuple((hazard, name) for hazard in named for name in CLASSES if (hazard, name) not in covered),
        named,
        checklist.name,
        checklist.revision,
        checklist.fingerprint,
    )


def _cell(
    checklist: Checklist,
    hazard: str,
    class_id: str,
    phase: str,
    seen: Mapping[tuple[str, str], set[Reached]],
    beside: str,
) -> CoverageCell:
    here = {one for one in seen.get((hazard, class_id), ()) if one.phase == phase}
    # what comes up as much without the hazard says nothing about it
    due_to_hazard = here - seen.get((beside, class_id), set())
    order = {rule.id: at for at, rule in enumerate(checklist.rules)}
    names = tuple(sorted({one.rule for one in due_to_hazard}, key=order.__getitem__))
    weight = MUST if any(one.must for one in due_to_hazard) else SHOULD if due_to_hazard else NONE
    own = tuple(name for name in names if _own_words(checklist.rule(name), class_id))
    return CoverageCell(hazard, class_id, phase, names, weight, own)


def _own_words(rule: Rule | None, class_id: str) -> bool:
    if rule is None:
        return False
    override = rule.overrides.get(class_id)  # type: ignore[call-overload]
    return rule.classes == (class_id,) or (override is not None and override.text is not None)


def _overlaps(rules: Iterable[Rule]) -> Iterable[tuple[str, str]]:
    """Pairs of one kind and zone that come up in the same weather, for a class and in a phase that both have."""
    for rule, other in combinations(rules, 2):
        if rule.kind != other.kind or rule.zone != other.zone or rule.weight != other.weight:
            continue
        if not set(rule.during) & set(other.during) or rule.condition.always or other.condition.always:
            continue
        if any(_same_for(rule, other, class_id) for class_id in CLASSES):
            yield rule.id, other.id


def _same_for(one: Rule, other: Rule, class_id: str) -> bool:
    mine, theirs = one.for_class(class_id), other.for_class(class_id)
    if mine is None or theirs is None or set(mine.condition.quantities) != set(theirs.condition.quantities):
        return False
    return decide(mine.condition.node, theirs.condition.node, places=1).change == "same"

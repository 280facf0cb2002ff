"""The rules that come out of checklist files, and the checklist that they make up."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import lru_cache
from typing import Annotated

import msgspec

from advisor.checklist.entries import (
    ChecklistFile,
    Entry,
    FilePart,
    Override,
    Page,
    PagesFile,
    Situation,
    WindowMinutes,
    checklist_schema,
)
from advisor.checklist.fields import (
    APART,
    CLASSES,
    ClassId,
    Id,
    Kind,
    Line,
    Phase,
    Weight,
    When,
)
from advisor.checklist.language.condition import Condition, compile_condition
from advisor.checklist.profile import Profile
from advisor.conditions import PHASES
from advisor.sources import Source

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


class Rule(msgspec.Struct, frozen=True, omit_defaults=True):
    """One piece of advice and when it applies. when: the condition's text; during: phases, in the order given.

    more: a second sentence for outputs with room for it. aircraft, stations, months: where they are given, the rule
    holds for these alone. lead_min: minutes before off-block of a request's latest time, None for the checklist's own;
    lead_by_station: other ones. overrides: by class. must_when: a "should" rule is a "must" where this holds in any
    case, with must_text and must_more where they are given; a "must" rule takes these words there.
    short: what to call it where several stand in one line, "" for the words of its id. likely_text, possible_text:
    instead of text where it is likely or possible only.
    reason: why it differs from the shipped one. origin: "shipped" or "operator".
    """

    id: str
    kind: Kind
    when: When
    during: tuple[Phase, ...]
    weight: Weight
    text: str
    source: str
    more: str = ""
    zone: str = ""
    stop: bool = False
    classes: tuple[ClassId, ...] = CLASSES
    aircraft: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    months: tuple[int, ...] = ()
    lead_min: int | None = None
    lead_by_station: dict[str, int] = {}
    overrides: dict[ClassId, Override] = {}
    must_when: When | None = None
    must_text: str | None = None
    must_more: str = ""
    short: str = ""
    likely_text: str | None = None
    possible_text: str | None = None
    reason: str = ""
    origin: Annotated[str, APART] = "shipped"

    @property
    def raised(self) -> Rule | None:
        """The rule as the "must" that it is where must_when holds, in the words for that; None without one."""
        if self.must_when is None:
            return None
        return msgspec.structs.replace(
            self,
            when=self.must_when,
            weight="must",
            text=self.must_text or self.text,
            more=self.must_more or self.more,
            likely_text=None if self.must_text else self.likely_text,
            possible_text=None if self.must_text else self.possible_text,
            must_when=None,
            must_text=None,
            must_more="",
        )

    @property
    def condition(self) -> Condition:
        """The compiled condition."""
        return compiled(self.when)

    def for_class(self, class_id: str) -> Rule | None:
        """The rule as it holds for a class of aircraft, None where it does not."""
        if class_id not in self.classes:
            return None
        override = self.overrides.get(class_id)
        if override is None:
            return self
        given = {name: value for name, value in msgspec.structs.asdict(override).items() if value is not None}
        if "during" in given:
            given["during"] = phases(given["during"])
        if override.text is not None:
            # what is likely or possible only is said in the class's own words, or as the rest
            given = {"likely_text": None, "possible_text": None, **given}
        return msgspec.structs.replace(self, overrides={}, **given)

    def holds(self, aircraft: str, stations: Collection[str], months: Collection[int]) -> bool:
        """Whether it holds for an aircraft, at any of the stations, in any of the months."""
        return (
            (not self.aircraft or aircraft in self.aircraft)
            and (not self.stations or any(one in self.stations for one in stations))
            and (not self.months or any(one in self.months for one in months))
        )

    def said(self, status: str) -> str:
        """The text for a status of the line."""
        told = {"likely": self.likely_text, "possible": self.possible_text}.get(status)
        return told or self.text


class Loss(msgspec.Struct, frozen=True):
    """One thing in which a checklist says less than the one that it is laid over.

    about: a rule's id, "windows" or "call lead", or an aircraft's id; kind: which of them. what: in which respect.
    classes: for which classes of aircraft. must: a rule that was a must, or what every must rests on. was, now: as
    people read it.
    """

    about: str
    kind: str
    what: str
    classes: tuple[ClassId, ...]
    must: bool
    was: str
    now: str


class Checklist(msgspec.Struct, frozen=True):
    """A checklist in force: shipped rules, overlaid by an operator's.

    fingerprint: sixteen hex digits over everything that decides advice: all fields here but those that say otherwise.
    windows: by name, "jet" and "small" and an operator's own. profiles: the aircraft, by id. effective: a date, or "".
    call_lead_by_class, call_lead_by_station: leads of their own; the longer counts where both are given. reasons: why
    rules were removed, by id. sources: by key, an operator's own included. changed: ids of shipped rules that an
    operator replaced by something else or removed. losses: in what it says less than the shipped one.
    folder: the operator's, "" where there is none.
    """

    name: str
    revision: str
    fingerprint: Annotated[str, APART]
    rules: tuple[Rule, ...]
    windows: dict[str, WindowMinutes]
    call_lead_min: int
    default_aircraft: str
    sources: Annotated[dict[str, Source], APART]
    profiles: dict[str, Profile] = {}
    effective: str = ""
    approver: str = ""
    call_lead_by_class: dict[ClassId, int] = {}
    call_lead_by_station: dict[str, int] = {}
    reasons: dict[str, str] = {}
    changed: Annotated[tuple[str, ...], APART] = ()
    losses: Annotated[tuple[Loss, ...], APART] = ()
    folder: Annotated[str, APART] = ""

    @property
    def used_sources(self) -> tuple[Source, ...]:
        """The sources that its rules refer to."""
        return tuple(self.sources[key] for key in sorted({rule.source for rule in self.rules}))

    @property
    def loosened(self) -> tuple[str, ...]:
        """Ids of shipped "must" rules that now say less, for any class."""
        return tuple(dict.fromkeys(loss.about for loss in self.losses if loss.kind == "rule" and loss.must))

    @property
    def loosened_classes(self) -> dict[str, tuple[str, ...]]:
        """The classes for which each of them says less."""
        return {
            rule_id: tuple(
                name
                for name in CLASSES
                if any(loss.about == rule_id and loss.must and name in loss.classes for loss in self.losses)
            )
            for rule_id in self.loosened
        }

    def for_class(self, class_id: str) -> tuple[Rule, ...]:
        """The rules as they hold for one class of aircraft, in order."""
        return tuple(rule for rule in (rule.for_class(class_id) for rule in self.rules) if rule is not None)

    def in_force(self, profile: Profile, stations: Collection[str], months: Collection[int]) -> Checklist:
        """The checklist for one aircraft, at a station, at a time of year: rules that hold there, leads settled.

        stations: location indicators of the place and of the station gone by; months: those that the time touches.
        """
        kept = tuple(
            _led(rule, profile.class_id, stations) for rule in self.rules if rule.holds(profile.id, stations, months)
        )
        own = [self.call_lead_by_class.get(profile.class_id)]  # type: ignore[call-overload]
        own += [self.call_lead_by_station.get(one) for one in stations]
        lead = max((one for one in own if one is not None), default=self.call_lead_min)
        if lead == self.call_lead_min and kept == self.rules:
            return self
        return msgspec.structs.replace(self, rules=kept, call_lead_min=lead)

    def loosened_for(self, class_id: str) -> tuple[str, ...]:
        """Ids of shipped "must" rules that now say less for one class of aircraft."""
        found = (loss.about for loss in self.losses if loss.kind == "rule" and loss.must and class_id in loss.classes)
        return tuple(dict.fromkeys(found))

    def rule(self, rule_id: str) -> Rule | None:
        """The rule of an id."""
        return next((rule for rule in self.rules if rule.id == rule_id), None)


def _led(rule: Rule, class_id: str, stations: Collection[str]) -> Rule:
    """The rule with the lead that its station asks for; the longer counts where its class asks for one as well."""
    given = [rule.lead_by_station[one] for one in stations if one in rule.lead_by_station]
    if not given:
        return rule
    override = rule.overrides.get(class_id)  # type: ignore[call-overload]
    if override is None or override.lead_min is None:
        return msgspec.structs.replace(rule, lead_min=max(given))
    lead = max(*given, override.lead_min)
    settled = msgspec.structs.replace(override, lead_min=lead)
    return msgspec.structs.replace(rule, overrides={**rule.overrides, class_id: settled})


@lru_cache(maxsize=4096)
def compiled(when: str) -> Condition:
    """A condition, compiled once for all rules that share its text."""
    return compile_condition(when)


def phases(during: Phase | tuple[Phase, ...]) -> tuple[Phase, ...]:
    """One phase or several, in the order of time."""
    chosen = (during,) if isinstance(during, str) else during
    return tuple(phase for phase in PHASES if phase in chosen)


def _in_order(override: Override) -> Override:
    return override if override.during is None else msgspec.structs.replace(override, during=phases(override.during))


def rule_from(entry: Entry, origin: str) -> Rule:
    """The rule that a file's entry describes: all that the two have in common, in one order."""
    common = {name: getattr(entry, name) for name in Rule.__struct_fields__ if name in Entry.__struct_fields__}
    common |= {
        "during": phases(entry.during),
        "overrides": {name: _in_order(override) for name, override in entry.overrides.items()},
        "classes": tuple(one for one in CLASSES if one in entry.classes),
        "aircraft": tuple(sorted(set(entry.aircraft))),
        "stations": tuple(sorted(set(entry.stations))),
        "months": tuple(sorted(set(entry.months))),
    }
    return Rule(**common, origin=origin)


__all__ = [
    "CLASSES",
    "PLACEHOLDER",
    "Checklist",
    "ChecklistFile",
    "ClassId",
    "Entry",
    "FilePart",
    "Id",
    "Line",
    "Loss",
    "Override",
    "Page",
    "PagesFile",
    "Rule",
    "Situation",
    "WindowMinutes",
    "checklist_schema",
    "compiled",
    "phases",
    "rule_from",
]

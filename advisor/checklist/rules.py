"""The format of checklist files, shipped and an operator's own, and the rules that come out of them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from advisor.checklist.language.condition import Condition, compile_condition
from advisor.conditions import PHASES
from advisor.sources import Source

Kind = Literal["gear", "checkpoint", "request", "door", "caution"]
Phase = Literal["parked", "walk_round", "doors_open", "off_block", "take_off"]
Weight = Literal["must", "should"]
ClassId = Literal[
    "light-aircraft",
    "glider",
    "helicopter",
    "uncrewed",
    "twin-turboprop",
    "regional-jet",
    "single-aisle-jet",
    "wide-body-jet",
]
Standing = Literal["published", "common practice", "from memory", "invented"]
CLASSES: tuple[ClassId, ...] = (
    "light-aircraft",
    "glider",
    "helicopter",
    "uncrewed",
    "twin-turboprop",
    "regional-jet",
    "single-aisle-jet",
    "wide-body-jet",
)

_UNPRINTABLE = r"\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069"
# $ alone would let a line end through
Id = Annotated[
    str,
    Meta(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$(?!\n)", max_length=60, description="small letters, digits and -"),
]
Key = Annotated[
    str, Meta(pattern=r"^[a-z0-9][a-z0-9.-]*$(?!\n)", max_length=60, description="small letters, digits, . and -")
]
Line = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]+$(?!\n)", max_length=400, description="one line of 1 to 400 printable characters"
    ),
]
More = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=600, description="one line of up to 600 printable characters"
    ),
]
Short = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=40, description="one line of up to 40 printable characters"
    ),
]
Zone = Annotated[
    str, Meta(pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=60, description="up to 60 printable characters")
]
Prose = Annotated[
    str,
    Meta(pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$", max_length=4000, description="up to 4000 printable characters"),
]
Minutes = Annotated[int, Meta(ge=0, le=1440, description="whole minutes from 0 to 1440")]
Offset = Annotated[int, Meta(ge=-1440, le=0, description="whole minutes from -1440 to 0")]

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of everything in a file: a field that is not known is a fault."""


class Situation(Part, frozen=True):
    """One departure, by the names of the command's options, underscored."""

    report: str | tuple[str, ...]
    now: str
    off_block: str
    aircraft: str | None = None
    place: str | None = None
    heading: float | None = None
    parked_since: str | None = None
    treated_at: str | None = None
    seen: Literal["nothing", "frost", "snow", "ice"] | None = None
    looked_at: str | None = None
    fuel_temperature: str | float | None = None
    fuel_fill: float | None = None
    walk_round: str | None = None
    doors_open: str | None = None
    take_off: str | None = None


class Page(Part, frozen=True):
    """The page beside a rule: what it does, why, known limits, references (keys of sources), two situations."""

    does: Prose = ""
    why: Prose = ""
    limits: Prose = ""
    references: tuple[Key, ...] = ()
    fires: Situation | None = None
    near_miss: Situation | None = None


class Override(Part, frozen=True):
    """What is different for one class of aircraft; must_text and must_more: where the rule's must_when holds.

    likely_text, possible_text: with a text of its own and without these, the class has none of the rule's.
    """

    weight: Weight | None = None
    text: Line | None = None
    more: More | None = None
    when: str | None = None
    during: Phase | tuple[Phase, ...] | None = None
    zone: Zone | None = None
    must_text: Line | None = None
    must_more: More | None = None
    short: Short | None = None
    likely_text: Line | None = None
    possible_text: Line | None = None


class Entry(Part, frozen=True, rename={"overrides": "class"}):
    """One `[[advice]]` of a file."""

    id: Id
    kind: Kind
    when: str
    during: Phase | tuple[Phase, ...]
    weight: Weight
    text: Line
    source: Key
    more: More = ""
    zone: Zone = ""
    stop: bool = False
    classes: tuple[ClassId, ...] = CLASSES
    lead_min: Minutes | None = None
    must_when: str | None = None
    must_text: Line | None = None
    must_more: More = ""
    short: Short = ""
    likely_text: Line | None = None
    possible_text: Line | None = None
    overrides: dict[ClassId, Override] = {}
    page: Page | None = None
    fires: Situation | None = None
    near_miss: Situation | None = None


class WindowMinutes(Part, frozen=True):
    """When things happen, in minutes from off-block: pairs are start and end."""

    walk_round: tuple[Offset, Offset]
    doors_open: tuple[Offset, Offset]
    take_off: Minutes
    take_off_treated: Minutes


class WindowTable(Part, frozen=True):
    """Windows by group of classes; a file may give one group or both."""

    jet: WindowMinutes | None = None
    small: WindowMinutes | None = None


class Head(Part, frozen=True):
    """The `[checklist]` table."""

    name: Line | None = None
    revision: Line | None = None
    default_aircraft: Id | None = None
    call_lead_min: Minutes | None = None


class SourceEntry(Part, frozen=True):
    """One `[[source]]`: what an operator's rules refer to."""

    key: Key
    title: Line
    locator: More = ""
    standing: Standing = "published"


class ChecklistFile(Part, frozen=True):
    """One file of a checklist folder."""

    checklist: Head | None = None
    windows: WindowTable | None = None
    remove: tuple[Id, ...] = ()
    advice: tuple[Entry, ...] = ()
    source: tuple[SourceEntry, ...] = ()


class PagesFile(Part, frozen=True):
    """One file whose name begins with pages: the rules' pages by id."""

    page: dict[Id, Page] = {}


class Rule(msgspec.Struct, frozen=True, omit_defaults=True):
    """One piece of advice and when it applies. when: the condition's text; during: phases, in the order given.

    more: a second sentence for outputs with room for it. lead_min: minutes before off-block of a request's latest
    time, None for the checklist's own. overrides: by class. must_when: a "should" rule is a "must" where this holds in
    any case, with must_text and must_more where they are given; a "must" rule takes these words there.
    short: what to call it where several stand in one line, "" for the words of its id. likely_text, possible_text:
    instead of text where it is likely or possible only.
    origin: "shipped" or "operator".
    """

    id: str
    kind: Kind
    when: str
    during: tuple[Phase, ...]
    weight: Weight
    text: str
    source: str
    more: str = ""
    zone: str = ""
    stop: bool = False
    classes: tuple[ClassId, ...] = CLASSES
    lead_min: int | None = None
    overrides: dict[ClassId, Override] = {}
    origin: str = "shipped"
    must_when: str | None = None
    must_text: str | None = None
    must_more: str = ""
    short: str = ""
    likely_text: str | None = None
    possible_text: str | None = None

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
        return Rule(
            self.id,
            self.kind,
            self.when if override.when is None else override.when,
            self.during if override.during is None else phases(override.during),
            override.weight or self.weight,
            self.text if override.text is None else override.text,
            self.source,
            self.more if override.more is None else override.more,
            self.zone if override.zone is None else override.zone,
            self.stop,
            self.classes,
            self.lead_min,
            {},
            self.origin,
            self.must_when,
            self.must_text if override.must_text is None else override.must_text,
            self.must_more if override.must_more is None else override.must_more,
            self.short if override.short is None else override.short,
            override.likely_text or (self.likely_text if override.text is None else None),
            override.possible_text or (self.possible_text if override.text is None else None),
        )

    def said(self, status: str) -> str:
        """The text for a status of the line."""
        told = {"likely": self.likely_text, "possible": self.possible_text}.get(status)
        return told or self.text


class Checklist(msgspec.Struct, frozen=True):
    """A checklist in force: shipped rules, overlaid by an operator's.

    fingerprint: sixteen hex digits over everything that decides advice. windows: by group, "jet" and "small".
    sources: by key, an operator's own included. changed: ids of shipped rules that an operator replaced by something
    else or removed. loosened: those shipped "must" rules that now say less, see loosened_for for a class.
    folder: the operator's, "" where there is none.
    """

    name: str
    revision: str
    fingerprint: str
    rules: tuple[Rule, ...]
    windows: dict[str, WindowMinutes]
    call_lead_min: int
    default_aircraft: str
    sources: dict[str, Source]
    changed: tuple[str, ...] = ()
    loosened: tuple[str, ...] = ()
    loosened_classes: dict[str, tuple[str, ...]] = {}
    folder: str = ""

    def for_class(self, class_id: str) -> tuple[Rule, ...]:
        """The rules as they hold for one class of aircraft, in order."""
        return tuple(rule for rule in (rule.for_class(class_id) for rule in self.rules) if rule is not None)

    def loosened_for(self, class_id: str) -> tuple[str, ...]:
        """Ids of shipped "must" rules that now say less for one class of aircraft."""
        return tuple(name for name in self.loosened if class_id in self.loosened_classes[name])

    def rule(self, rule_id: str) -> Rule | None:
        """The rule of an id."""
        return next((rule for rule in self.rules if rule.id == rule_id), None)


@lru_cache(maxsize=4096)
def compiled(when: str) -> Condition:
    """A condition, compiled once for all rules that share its text."""
    return compile_condition(when)


def phases(during: Phase | tuple[Phase, ...]) -> tuple[Phase, ...]:
    """One phase or several, in the order of time."""
    chosen = (during,) if isinstance(during, str) else during
    return tuple(phase for phase in PHASES if phase in chosen)


def rule_from(entry: Entry, origin: str) -> Rule:
    """The rule that a file's entry describes."""
    return Rule(
        entry.id,
        entry.kind,
        entry.when,
        phases(entry.during),
        entry.weight,
        entry.text,
        entry.source,
        entry.more,
        entry.zone,
        entry.stop,
        tuple(one for one in CLASSES if one in entry.classes),
        entry.lead_min,
        entry.overrides,
        origin,
        entry.must_when,
        entry.must_text,
        entry.must_more,
        entry.short,
        entry.likely_text,
        entry.possible_text,
    )


def checklist_schema() -> dict[str, Any]:
    """JSON Schema of one file of a checklist folder."""
    return msgspec.json.schema(ChecklistFile)

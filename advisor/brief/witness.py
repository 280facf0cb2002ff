"""Witnesses of a difference between two checklists: situations whose briefs differ in a line, run through both.

The search goes over what can be written: the rule's own situations, the weather situations of the coverage, and
reports made for the places where the conditions differ. It is bounded, and the same every time. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from math import nan

import msgspec

from advisor.brief import knobs
from advisor.brief.model import Advice, Brief
from advisor.brief.situations import Tried, brief_of
from advisor.checklist.evaluate import CANNOT_TELL, EXPECTED, NOT_INDICATED, POSSIBLE, evaluate
from advisor.checklist.language.cells import Cell
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Rule, Situation
from advisor.errors import AdvisorError
from advisor.outlook.stations import Gazetteer

# situations looked at for one difference, and for all differences of a comparison
MOST_TRIES, MOST_IN_ALL = 24, 420
# reports made for each place of a condition
REPORTS_A_PLACE = 6
RANK = {NOT_INDICATED: 0, CANNOT_TELL: 1, POSSIBLE: 2, "likely": 3, EXPECTED: 4}
# parts of a line that tell a difference of each kind; a line that is not there differs in all of them
_PARTS: dict[str, tuple[str, ...]] = {
    "when": ("status", "weight"),
    "during": ("status", "during", "from_", "until"),
    "classes": ("status",),
    "weight": ("weight",),
    "lead_min": ("by",),
    "stop": ("stop",),
    "kind": ("kind",),
    "text": ("text", "more"),
    "zone": ("zone",),
    "windows": ("status", "weight", "from_", "until", "by", "during"),
    "doors": ("status", "weight"),
}


class Side(msgspec.Struct, frozen=True):
    """A checklist with its aircraft."""

    checklist: Checklist
    fleet: Mapping[str, Profile]


class Sought(msgspec.Struct, frozen=True):
    """A difference to show: of which rule ("" for any line), in what, for which aircraft, in which places and phases.

    less: the new line has to say less. old, new: the rule as it holds for the aircraft, None where it does not.
    """

    rule: str
    what: str
    aircraft: tuple[str, ...]
    old: Rule | None = None
    new: Rule | None = None
    places: tuple[tuple[Cell, ...], ...] = ()
    less: bool = False
    own: tuple[Situation, ...] = ()
    door: str = ""


class Witness(msgspec.Struct, frozen=True):
    """A situation, its aircraft, and the line that differs, in few words, on both sides."""

    situation: Situation
    aircraft: str
    line: str
    old: str
    new: str


class Search:
    """Looks for witnesses of the differences between two checklists."""

    def __init__(self, old: Side, new: Side, weather: Sequence[Situation], gazetteer: Gazetteer) -> None:
        """weather: situations to try where nothing better is known."""
        self._sides = old, new
        self._weather = tuple(weather)
        self._gazetteer = gazetteer
        self._tried = Tried(old.checklist.windows, gazetteer), Tried(new.checklist.windows, gazetteer)
        self._briefs: dict[tuple[int, Situation, str], Brief | None] = {}
        self.left = MOST_IN_ALL

    def find(self, sought: Sought) -> Witness | None:
        """A witness of a difference, None where the bounded search found none."""
        best: tuple[int, Witness] | None = None
        tries = 0
        for situation, aircraft in self._candidates(sought):
            if tries >= MOST_TRIES or self.left <= 0:
                break
            tries += 1
            if not self._promises(sought, situation, aircraft):
                continue
            found = self._shown(sought, situation, aircraft)
            if found is not None and (best is None or found[0] > best[0]):
                best = found
                if found[0] >= 2:
                    break
        return None if best is None else best[1]

    def _candidates(self, sought: Sought) -> Iterator[tuple[Situation, str]]:
        names = sought.aircraft
        phase = (sought.old or sought.new).during[0] if (sought.old or sought.new) else "walk_round"  # type: ignore[union-attr]
        made = [list(knobs.proposals(place, phase, self._limit(names[0]), REPORTS_A_PLACE)) for place in sought.places]
        # the first proposal of every place, then the second
        taken = (row[at] for at in range(REPORTS_A_PLACE) for row in made if at < len(row))
        yield from ((situation, name) for situation in chain(taken, sought.own) for name in names[:1])
        yield from ((situation, name) for name in names[:2] for situation in self._weather)

    def _limit(self, aircraft: str) -> float:
        profile = self._sides[0].fleet.get(aircraft) or self._sides[1].fleet.get(aircraft)
        return min((door.operate_kt for door in profile.doors), default=nan) if profile is not None else nan

    def _promises(self, sought: Sought, situation: Situation, aircraft: str) -> bool:
        """Whether the rule alone differs there; True where only the whole brief tells."""
        if sought.old is None and sought.new is None:
            return True
        profile = self._sides[0].fleet.get(aircraft)
        if profile is None or sought.what not in ("when", "during"):
            # a line has to come up on one side at least
            profile = profile or self._sides[1].fleet[aircraft]
            return any(self._status(rule, situation, profile) for rule in (sought.old, sought.new) if rule is not None)
        before, after = (
            0 if rule is None else self._status(rule, situation, profile) for rule in (sought.old, sought.new)
        )
        return after < before if sought.less else after != before

    def _status(self, rule: Rule, situation: Situation, profile: Profile) -> int:
        """How much a rule says: its status, and above all others whether it is a must."""
        try:
            conditions, windows, now = self._tried[0].weathered(situation, profile)
        except AdvisorError:
            return 0
        self.left -= 1
        (found,) = evaluate([rule], conditions, windows, now, profile.class_id)
        rank = RANK[found.status]
        return rank + (10 if rank and found.rule.weight == "must" else 0)

    def brief(self, side: int, situation: Situation, aircraft: str) -> Brief | None:
        """The brief of a situation by one side, None where it cannot be made."""
        key = side, situation, aircraft
        if key not in self._briefs:
            one = self._sides[side]
            try:
                made = brief_of(situation, one.checklist, one.fleet, self._gazetteer, aircraft)
            except AdvisorError:
                made = None
            self._briefs[key] = made
        return self._briefs[key]

    def _shown(self, sought: Sought, situation: Situation, aircraft: str) -> tuple[int, Witness] | None:
        """The witness where the two briefs differ as sought, and how plainly: 2 where one has no such line."""
        before, after = (self.brief(side, situation, aircraft) for side in (0, 1))
        if before is None or after is None:
            return None
        self.left -= 2
        if sought.door or sought.what == "doors":
            return _doors(sought, situation, aircraft, before, after)
        for rule_id in [sought.rule] if sought.rule else _ids(before, after):
            old, new = _line(before, rule_id), _line(after, rule_id)
            if _differs(sought, old, new):
                plain = 2 if (old is None) != (new is None) or sought.what not in ("when", "during") else 1
                return plain, Witness(situation, aircraft, rule_id, _said(old, sought), _said(new, sought))
        return None


def _ids(before: Brief, after: Brief) -> Iterable[str]:
    return dict.fromkeys(line.id for line in (*before.advice, *after.advice))


def _line(brief: Brief, rule_id: str) -> Advice | None:
    return next((line for line in brief.advice if line.id == rule_id), None)


def _differs(sought: Sought, old: Advice | None, new: Advice | None) -> bool:
    if old is None or new is None:
        return (old is None) != (new is None) and not (sought.less and old is None)
    parts = _PARTS.get(sought.what, ("status",))
    if all(getattr(old, part) == getattr(new, part) for part in parts):
        return False
    if sought.less and sought.what == "when":
        return _weighed(new) < _weighed(old)
    return True


def _weighed(line: Advice) -> int:
    return RANK[line.status] + (10 if line.weight == "must" else 0)


def _said(line: Advice | None, sought: Sought) -> str:
    if line is None:
        return "no such line"
    said = f"{line.status}, {line.weight}"
    if sought.what == "text":
        return f"{said}: {line.text}"
    if sought.what == "lead_min":
        return f"{said}, by {line.by}"
    if sought.what in ("stop", "kind"):
        return f"{said}, {line.kind}{', stop' if line.stop else ''}"
    if sought.what in ("windows", "during"):
        return f"{said}, {line.during}, {line.from_} to {line.until}"
    return said


def _doors(
    sought: Sought, situation: Situation, aircraft: str, before: Brief, after: Brief
) -> tuple[int, Witness] | None:
    now = {door.door: door for door in after.doors}
    for door in before.doors:
        other = now.get(door.door)
        was = f"operate {door.status}, stay open {door.stay_open_status}"
        if sought.door not in ("", door.door):
            continue
        if other is None:
            return 2, Witness(situation, aircraft, door.door, was, "no such door")
        said = f"operate {other.status}, stay open {other.stay_open_status}"
        if was != said:
            return 2, Witness(situation, aircraft, door.door, was, said)
    return None

"""Witnesses of a difference between two checklists: situations whose briefs differ in a line, run through both.

The search goes over what can be written: reports made for the places where conditions differ, the rules' own
situations, and the weather situations of the coverage. It is bounded, and the same every time. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice
from math import nan
from typing import NamedTuple

import msgspec

from advisor.brief import knobs
from advisor.brief.model import Advice, Brief
from advisor.brief.situations import Tried, brief_of
from advisor.checklist.desk.sought import Shown, Sought, reaching
from advisor.checklist.desk.weathered import stated
from advisor.checklist.evaluate import CANNOT_TELL, EXPECTED, LIKELY, NOT_INDICATED, POSSIBLE, evaluate
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Rule, Situation
from advisor.departure import read_moment
from advisor.errors import AdvisorError
from advisor.outlook.stations import Gazetteer

# situations looked at for one difference; conditions worked out, and twice the briefs made, for all of a comparison
MOST_TRIES, MOST_IN_ALL = 60, 280
# aircraft tried for one difference
MOST_AIRCRAFT = 2
# reports made for each place of a condition
REPORTS_A_PLACE = 10
RANK = {NOT_INDICATED: 0, CANNOT_TELL: 1, POSSIBLE: 2, LIKELY: 3, EXPECTED: 4}
_MUST = 10
# parts of a line that tell a difference of each kind; a line that is not there differs in all of them
_PARTS: dict[str, tuple[str, ...]] = {
    "when": ("status", "weight"),
    "during": ("status", "during", "from_", "until"),
    "classes": ("status",),
    "weight": ("weight",),
    "lead_min": ("by",),
    "stop": ("stop",),
    "kind": ("kind",),
    "text": ("text", "more", "zone"),
    "windows": ("status", "weight", "from_", "until", "by", "during"),
    "doors": ("status", "weight"),
}


_STATION = re.compile(rf"\b{knobs.STATION}\b")


class Side(NamedTuple):
    """A checklist and its aircraft, by id."""

    checklist: Checklist
    fleet: Mapping[str, Profile]


class Search:
    """Looks for witnesses of the differences between two checklists."""

    def __init__(
        self,
        old: Side,
        new: Side,
        weather: Sequence[Situation],
        own: Mapping[str, Situation],
        gazetteer: Gazetteer,
    ) -> None:
        """weather: situations to try where nothing better is known; own: by rule, one in which it comes up."""
        self._sides = old, new
        self._weather = tuple(weather)
        self._own = own
        self._gazetteer = gazetteer
        self._tried = Tried(old.checklist.windows, gazetteer)
        self._briefs: dict[tuple[int, Situation, str], Brief | None] = {}
        self._made = 0

    @property
    def left(self) -> int:
        """How much work is left."""
        return MOST_IN_ALL - self._tried.made - 2 * self._made

    def find(self, sought: Sought) -> Shown | None:
        """A witness of a difference, None where the bounded search found none."""
        for profile in self._profiles(sought)[:MOST_AIRCRAFT]:
            found = self._with(sought, profile)
            if found is not None:
                return found
        return None

    def _with(self, sought: Sought, profile: Profile) -> Shown | None:
        best: tuple[bool, Shown] | None = None
        briefed = {situation for _, situation, aircraft in self._briefs if aircraft == profile.id}
        for situation in islice(self._candidates(sought, profile), MOST_TRIES):
            if situation not in briefed and (self.left <= 0 or not self._promises(sought, situation, profile)):
                continue
            found = self._shown(sought, situation, profile.id)
            if found is not None and (best is None or found[0]):
                best = found
                if found[0]:
                    break
        return None if best is None else best[1]

    def reaches(self, rule: Rule) -> bool | None:
        """Whether a rule of the new side comes up in a report that can be written.

        True also where nobody states anything of the aircraft, None only where somebody does, False where none does.
        """
        sought = Sought(rule.id, "when", rule.classes[0], None, rule, reaching(rule))
        answer: bool | None = False
        for profile in self._profiles(sought)[:1]:
            for situation in islice(self._candidates(sought, profile), MOST_TRIES):
                if self.left > 0 and self._status(rule, situation, profile) % _MUST >= RANK[POSSIBLE]:
                    if not stated(situation):
                        return True
                    answer = None
        return answer

    def _profiles(self, sought: Sought) -> list[Profile]:
        """The aircraft to show a difference with, those that both have: of the class, the usual one first."""
        old, new = (side.fleet for side in self._sides)
        if sought.aircraft:
            return [one for one in (old.get(sought.aircraft), new.get(sought.aircraft)) if one is not None][:1]
        known = [one for name, one in old.items() if name in new]
        if sought.windows:
            known = [one for one in known if one.windows == sought.windows]
        rule = sought.old or sought.new
        if rule is not None:
            known = [one for one in known if one.class_id in rule.classes]
            known = [one for one in known if one.id in rule.aircraft] if rule.aircraft else known
        first = self._sides[0].checklist.default_aircraft
        return sorted(known, key=lambda one: (one.class_id != sought.class_id, one.id != first))

    def _candidates(self, sought: Sought, profile: Profile) -> Iterator[Situation]:
        rule = sought.old or sought.new
        phase = "walk_round" if rule is None else "walk_round" if "walk_round" in rule.during else rule.during[0]
        month = rule.months[0] if rule is not None and rule.months else knobs.DAY.month
        limit = min((door.operate_kt for door in profile.doors), default=nan)
        made = [list(knobs.proposals(place, phase, limit, REPORTS_A_PLACE, month)) for place in sought.places]
        # the first proposal of every place, then the second
        taken = [row[at] for at in range(REPORTS_A_PLACE) for row in made if at < len(row)]
        own = [self._own[sought.rule]] if sought.rule in self._own else []
        if sought.what not in ("when", "during"):
            # what was briefed already shows most of what is not about weather
            yield from [one for side, one, aircraft in self._briefs if side == 0 and aircraft == profile.id]
        usual = (*self._weather, *own)
        station = rule.stations[0] if rule is not None and rule.stations else ""
        for one in (*usual, *taken) if sought.what not in ("when", "during") else (*taken, *usual):
            yield _at(one, station) if station else one

    def _promises(self, sought: Sought, situation: Situation, profile: Profile) -> bool:
        """Whether the rule alone differs there; True where only the whole brief tells."""
        if sought.old is None and sought.new is None:
            return True
        before, after = (self._status(rule, situation, profile) for rule in (sought.old, sought.new))
        if sought.what != "when":
            # the line has to come up on one side at least
            return before > 0 or after > 0
        return after < before if sought.less else after != before

    def _status(self, rule: Rule | None, situation: Situation, profile: Profile) -> int:
        """How much a rule says: its status, and above all others whether it is a must; 0 where it says nothing."""
        if rule is None or not rule.holds(profile.id, rule.stations, (read_moment(situation.now, what="now").month,)):
            return 0
        try:
            conditions, windows, now = self._tried.weathered(situation, profile)
        except AdvisorError:
            return 0
        (found,) = evaluate([rule], conditions, windows, now, profile.class_id)
        rank = RANK[found.status]
        return rank + (_MUST if rank and found.rule.weight == "must" else 0)

    def _brief(self, side: int, situation: Situation, aircraft: str) -> Brief | None:
        key = side, situation, aircraft
        if key not in self._briefs:
            self._made += 1
            one = self._sides[side]
            try:
                made = brief_of(situation, one.checklist, one.fleet, self._gazetteer, aircraft)
            except AdvisorError:
                made = None
            self._briefs[key] = made
        return self._briefs[key]

    def _shown(self, sought: Sought, situation: Situation, aircraft: str) -> tuple[bool, Shown] | None:
        """The witness where the two briefs differ as sought, and whether one of them has no such line at all."""
        before, after = (self._brief(side, situation, aircraft) for side in (0, 1))
        if before is None or after is None:
            return None
        if sought.what == "doors":
            return _doors(situation, aircraft, before, after)
        for rule_id in [sought.rule] if sought.rule else _ids(before, after, sought.apart):
            old, new = _line(before, rule_id), _line(after, rule_id)
            if _differs(sought, old, new):
                plain = (old is None) != (new is None) or sought.what not in ("when", "during")
                named = "" if sought.rule else f"{rule_id}: "
                return plain, Shown(situation, aircraft, named + _said(old, sought), named + _said(new, sought))
        return None


def _at(situation: Situation, station: str) -> Situation:
    """The same at another station."""
    reports = (situation.report,) if isinstance(situation.report, str) else situation.report
    moved = tuple(_STATION.sub(station, one) for one in reports)
    return msgspec.structs.replace(situation, report=moved if len(moved) > 1 else moved[0])


def _ids(before: Brief, after: Brief, apart: frozenset[str]) -> Iterable[str]:
    """The lines of two briefs, those of rules that differ by themselves last."""
    named = dict.fromkeys(line.id for line in (*before.advice, *after.advice))
    return sorted(named, key=lambda name: name in apart)


def _line(brief: Brief, rule_id: str) -> Advice | None:
    return next((line for line in brief.advice if line.id == rule_id), None)


def _differs(sought: Sought, old: Advice | None, new: Advice | None) -> bool:
    if old is None or new is None:
        # of windows and leads a line that stands on both sides tells more
        plain = (old is None) != (new is None) and not (sought.less and old is None)
        return plain and not (sought.apart and sought.what == "lead_min")
    if sought.less and sought.what == "when":
        return _weighed(new) < _weighed(old)
    return any(getattr(old, part) != getattr(new, part) for part in _PARTS.get(sought.what, ("status",)))


def _weighed(line: Advice) -> int:
    return RANK[line.status] + (_MUST if line.weight == "must" else 0)


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
        return f"{said}, {line.during.replace('_', ' ')}, {line.from_} to {line.until}"
    return said


def _doors(situation: Situation, aircraft: str, before: Brief, after: Brief) -> tuple[bool, Shown] | None:
    """The first door that fares otherwise."""
    now = {door.door: door for door in after.doors}
    for door in before.doors:
        other = now.get(door.door)
        was = f"{door.door}: operate {door.status}, stay open {door.stay_open_status}"
        if other is None:
            return True, Shown(situation, aircraft, was, f"{door.door}: no such door")
        said = f"{door.door}: operate {other.status}, stay open {other.stay_open_status}"
        if was != said:
            return True, Shown(situation, aircraft, was, said)
    return None

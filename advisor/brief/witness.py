"""Witnesses of a difference between two checklists: situations whose briefs differ in a line, run through both.

The search goes over what can be written: reports made for the places where conditions differ, the rules' own
situations, and the weather situations of the coverage. It is bounded, and the same every time. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import nan
from typing import NamedTuple

import msgspec

from advisor.brief import knobs
from advisor.brief.model import Advice, Brief
from advisor.brief.situations import SituationTrials, brief_of
from advisor.checklist.desk.sought import Sought, SoughtSituation, reaching
from advisor.checklist.desk.weathered import Weathered, stated
from advisor.checklist.evaluate import CANNOT_TELL, EXPECTED, LIKELY, NOT_INDICATED, POSSIBLE, evaluate
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Rule, Situation
from advisor.departure import read_moment
from advisor.errors import AdvisorError
from advisor.outlook.stations import Gazetteer

# work: a situation worked out, half a brief. For all differences of a comparison, and for one of them
MOST_IN_ALL, THOROUGH, QUICK = 240, 48, 8
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


_Ranks = tuple[dict[str, int], dict[str, int]]


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
        self._tried = SituationTrials(old.checklist.windows, gazetteer)
        self._briefs: dict[tuple[int, Situation, str], Brief | None] = {}
        self._ranked: dict[tuple[Situation, str], _Ranks] = {}
        self._made = 0

    @property
    def left(self) -> int:
        """How much work is left."""
        return MOST_IN_ALL - self._tried.made - 2 * self._made

    def find(self, sought: Sought, thorough: bool = True) -> SoughtSituation | None:
        """A witness of a difference, None where the bounded search found none.

        thorough: spend more on it, and try a second aircraft; whoever has many differences asks for all of them
        quickly first, since what is worked out for one may show another.
        """
        spend, aircraft = (THOROUGH, MOST_AIRCRAFT) if thorough else (QUICK, 1)
        for profile in self._profiles(sought)[:aircraft]:
            found = self._with(sought, profile, self.left - spend)
            if found is not None:
                return found
        return None

    def _with(self, sought: Sought, profile: Profile, until: int) -> SoughtSituation | None:
        """A witness with one aircraft. until: so much work has to be left."""
        best: tuple[bool, SoughtSituation] | None = None
        for situation in self._candidates(sought, profile):
            spent = self.left <= max(0, until)
            if spent and (situation, profile.id) not in self._ranked:
                break
            if not self._promises(sought, situation, profile):
                continue
            if spent and (0, situation, profile.id) not in self._briefs:
                continue
            witness = self._shown(sought, situation, profile.id)
            if witness is not None and (best is None or witness[0]):
                best = witness
                if witness[0]:
                    break
        return None if best is None else best[1]

    def reaches(self, rule: Rule, thorough: bool = True) -> bool | None:
        """Whether a rule of the new side comes up in a report that can be written.

        True also where nobody states anything of the aircraft, None only where somebody does, False where none does.
        """
        sought = Sought(rule.id, "when", rule.classes[0], None, rule, reaching(rule))
        answer: bool | None = False
        for profile in self._profiles(sought)[:1]:
            until = self.left - (THOROUGH if thorough else QUICK)
            for situation in self._candidates(sought, profile):
                if self.left <= max(0, until):
                    break
                if self._ranks(situation, profile)[1].get(rule.id, 0) % _MUST >= RANK[POSSIBLE]:
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
        station = rule.stations[0] if rule is not None and rule.stations else ""
        usual = (*self._weather, *own)
        # what is worked out already costs least, and of that what was briefed
        known = [one for one, aircraft in self._ranked if aircraft == profile.id]
        known.sort(key=lambda one: (0, one, profile.id) not in self._briefs)
        fresh = (*taken, *usual) if sought.what in ("when", "during") else (*usual, *taken)
        yield from dict.fromkeys((*known, *(_at(one, station) if station else one for one in fresh)))

    def _promises(self, sought: Sought, situation: Situation, profile: Profile) -> bool:
        """Whether the rule differs there by itself; True where only the whole brief tells."""
        before, after = self._ranks(situation, profile)
        if not sought.rule:
            return True
        old, new = before.get(sought.rule, 0), after.get(sought.rule, 0)
        if sought.what != "when":
            # the line has to come up on one side at least
            return old > 0 or new > 0
        return new < old if sought.less else new != old

    def _ranks(self, situation: Situation, profile: Profile) -> _Ranks:
        """How much every rule of both sides says in a situation, by id: its status, and above all whether it is a must.

        What says nothing is left out.
        """
        key = situation, profile.id
        if key not in self._ranked:
            try:
                weather = self._tried.weathered(situation, profile)
            except AdvisorError:
                self._ranked[key] = {}, {}
            else:
                self._ranked[key] = tuple(  # type: ignore[assignment]
                    _rank(side.checklist, situation, profile, weather) for side in self._sides
                )
        return self._ranked[key]

    def _brief(self, side: int, situation: Situation, aircraft: str) -> Brief | None:
        key = side, situation, aircraft
        if key not in self._briefs:
            self._made += 1
            chosen_side = self._sides[side]
            try:
                brief = brief_of(situation, chosen_side.checklist, chosen_side.fleet, self._gazetteer, aircraft)
            except AdvisorError:
                brief = None
            self._briefs[key] = brief
        return self._briefs[key]

    def _shown(self, sought: Sought, situation: Situation, aircraft: str) -> tuple[bool, SoughtSituation] | None:
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
                return plain, SoughtSituation(
                    situation, aircraft, named + _said(old, sought), named + _said(new, sought)
                )
        return None


def _rank(checklist: Checklist, situation: Situation, profile: Profile, weather: Weathered) -> dict[str, int]:
    conditions, windows, now = weather
    report = situation.report if isinstance(situation.report, str) else situation.report[-1]
    month = read_moment(situation.now, what="now").month
    here = checklist.in_force(profile, report.split()[1:2], (month,))
    ranks = {}
    for finding in evaluate(here.rules, conditions, windows, now, profile.class_id):
        rank = RANK[finding.status]
        if rank:
            ranks[finding.rule.id] = rank + (_MUST if finding.rule.weight == "must" else 0)
    return ranks


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
    summary = f"{line.status}, {line.weight}"
    if sought.what == "text":
        return f"{summary}: {line.text}"
    if sought.what == "lead_min":
        return f"{summary}, by {line.by}"
    if sought.what in ("stop", "kind"):
        return f"{summary}, {line.kind}{', stop' if line.stop else ''}"
    if sought.what in ("windows", "during"):
        return f"{summary}, {line.during.replace('_', ' ')}, {line.from_} to {line.until}"
    return summary


def _doors(situation: Situation, aircraft: str, before: Brief, after: Brief) -> tuple[bool, SoughtSituation] | None:
    """The first door that fares otherwise."""
    now = {door.door: door for door in after.doors}
    for door in before.doors:
        other = now.get(door.door)
        was = f"{door.door}: operate {door.status}, stay open {door.stay_open_status}"
        if other is None:
            return True, SoughtSituation(situation, aircraft, was, f"{door.door}: no such door")
        said = f"{door.door}: operate {other.status}, stay open {other.stay_open_status}"
        if was != said:
            return True, SoughtSituation(situation, aircraft, was, said)
    return None

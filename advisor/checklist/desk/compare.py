"""Two checklists compared, rule by rule and in everything else that decides a brief. Pure.

Conditions are decided exactly within what physics allows; what else a rule or a checklist says less, or more, comes
from the same comparison that names what an operator's folder loses. A witness for each difference is asked of whoever
can make briefs.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import msgspec

from advisor.checklist import loosened
from advisor.checklist.desk.sought import Sought, SoughtSituation, reaching
from advisor.checklist.language import wording
from advisor.checklist.language.decide import (
    BOTH_WAYS,
    CANNOT_DECIDE,
    LOOSENED,
    SAME,
    TIGHTENED,
    WORK,
    Decision,
    decide,
)
from advisor.checklist.rules import CLASSES, Checklist, Loss, Rule, compiled

ADDED, REMOVED, TEXT, CHANGED = "added", "removed", "text", "changed"
LOOSER = (LOOSENED, BOTH_WAYS, REMOVED, CANNOT_DECIDE)
# parts of a folder's losses that a comparison names by another of its words
_WHAT = {"aircraft": "classes", "stations": "classes", "months": "classes", "surfaces": "doors", "removed": "doors"}


# a difference, and whether much work may be spent on it
Witness = Callable[[Sought, bool], SoughtSituation | None]


class Difference(msgspec.Struct, frozen=True):
    """One difference, or that there is none.

    change: what becomes of it; what: in which respect; where: for which classes and in which weather, in words.
    report: a METAR (several, a line each) with the departure below it, whose two briefs differ in this line; None
    where none was found. old, new: the line in the two briefs. reason: the operator's.
    """

    id: str
    change: str
    what: str
    where: str
    report: str | None = None
    now: str | None = None
    off_block: str | None = None
    place: str | None = None
    aircraft: str | None = None
    given: dict[str, str] = {}
    old: str = ""
    new: str = ""
    reason: str = ""


class ComparedChecklist(msgspec.Struct, frozen=True):
    """A checklist as it is named."""

    name: str
    revision: str
    fingerprint: str


class Comparison(msgspec.Struct, frozen=True, tag_field="schema", tag="compare/1"):
    """What changed from an old checklist to a new one. looser: somewhere the new one says less."""

    old: ComparedChecklist
    new: ComparedChecklist
    looser: bool
    rules: tuple[Difference, ...]


class _Difference(NamedTuple):
    """A difference before its witness."""

    id: str
    change: str
    what: str
    where: str
    sought: Sought | None


def compare(old: Checklist, new: Checklist, witness: Witness | None = None) -> Comparison:
    """Everything in which two checklists differ, in the order of the old one's rules; rules that are the same too.

    witness: finds a situation for a difference; without one no reports are given.
    """
    differences: list[_Difference] = []
    usual = old.profiles[old.default_aircraft].class_id if old.default_aircraft in old.profiles else CLASSES[0]
    for rule_id in dict.fromkeys(rule.id for rule in (*old.rules, *new.rules)):
        differences += _rule(rule_id, old, new, usual)
    apart = frozenset(one.id for one in differences if one.change != SAME)
    differences += _rest(old, new, usual, apart)
    if old.default_aircraft != new.default_aircraft:
        said = f"where nobody names one: {new.default_aircraft}, was {old.default_aircraft}"
        differences.append(_Difference("default-aircraft", CHANGED, "aircraft", said, None))
    rules = tuple(_plain(one, new) for one in differences)
    if witness is not None:
        rules = _shown(differences, rules, witness)
    return Comparison(_named(old), _named(new), any(one.change in LOOSER for one in rules), rules)


def _named(one: Checklist) -> ComparedChecklist:
    return ComparedChecklist(one.name, one.revision, one.fingerprint)


def _rule(rule_id: str, old: Checklist, new: Checklist, usual: str) -> Iterator[_Difference]:
    before, after = old.rule(rule_id), new.rule(rule_id)
    if before is None or after is None:
        change, rule = (ADDED, after) if before is None else (REMOVED, before)
        assert rule is not None
        class_id = _one_of(rule.classes, usual)
        held = rule.for_class(class_id)
        sought = Sought(
            rule_id,
            "classes",
            class_id,
            None if before is None else held,
            None if after is None else held,
            reaching(held),
            less=after is None,
        )
        yield _Difference(rule_id, change, "when", _for(rule.classes) or "every class", sought)
        return
    differences = [*_conditions(before, after, usual), *_others(before, after, usual)]
    differences += _words(before, after, [one.what for one in differences], usual)
    yield from differences or [_Difference(rule_id, SAME, "when", "", None)]


@lru_cache(maxsize=4096)
def _decided(old: str, new: str) -> Decision:
    return decide(compiled(old).node, compiled(new).node)


def _conditions(before: Rule, after: Rule, usual: str) -> Iterator[_Difference]:
    """Differences of conditions, those of classes with the same two conditions together; musts apart."""
    together: dict[tuple[str, str, bool], list[str]] = {}
    for class_id in CLASSES:
        was, now = before.for_class(class_id), after.for_class(class_id)
        if was is None or now is None:
            continue
        if was.when != now.when:
            together.setdefault((was.when, now.when, False), []).append(class_id)
        if was.must_when is not None and now.must_when is not None and was.must_when != now.must_when:
            together.setdefault((was.must_when, now.must_when, True), []).append(class_id)
    for (was_when, now_when, raised), listed in together.items():
        decision = _decided(was_when, now_when)
        if decision.change == SAME:
            continue
        less = decision.change in (LOOSENED, BOTH_WAYS, CANNOT_DECIDE)
        places = (decision.less or decision.more) if less else decision.more
        where = "; ".join(part for part in (_for(listed), "as a must" if raised else "", _places(decision)) if part)
        shown = _one_of(listed, usual)
        sought = Sought(
            before.id,
            "when",
            shown,
            before.for_class(shown),
            after.for_class(shown),
            places,
            less and bool(decision.less),
        )
        yield _Difference(before.id, decision.change, "when", where, sought)


def _places(decision: Decision) -> str:
    parts = [f"more than {WORK:,} parts would have to be looked at"] if decision.change == CANNOT_DECIDE else []
    for phrase, places in (("no more for", decision.less), ("newly for", decision.more)):
        if places:
            whole = [wording.place_in_words(place) for place in wording.merged(places)]
            more = f", nor in {len(whole) - 1} other weathers" if phrase == "no more for" and whole[1:] else ""
            parts.append(f"{phrase} {whole[0]}{more}")
    return "; ".join(parts)


def _others(before: Rule, after: Rule, usual: str) -> Iterator[_Difference]:
    """What else a rule says less or more, each respect once."""
    lost = [loss for loss in loosened.rule_losses(before, after) if loss.what != "when"]
    gained = [loss for loss in loosened.rule_losses(after, before) if loss.what not in ("when", "text")]
    if before.must_when is None and after.must_when is not None and before.weight != "must":
        gained += [loss for loss in loosened.rule_losses(after, before) if loss.what == "weight"]
    by_what: dict[str, tuple[list[Loss], list[Loss]]] = {}
    for side, losses in enumerate((lost, gained)):
        for loss in losses:
            by_what.setdefault(_WHAT.get(loss.what, loss.what), ([], []))[side].append(loss)
    for what, (less, more) in by_what.items():
        change = BOTH_WAYS if less and more else LOOSENED if less else TIGHTENED
        class_id = _one_of((less or more)[0].classes, usual)
        was, now = before.for_class(class_id), after.for_class(class_id)
        places = reaching(was if was is not None else now)
        sought = Sought(before.id, what, class_id, was, now, places, less=bool(less))
        yield _Difference(before.id, change, what, _told(less, more), sought)


def _told(losses: Iterable[Loss], gains: Iterable[Loss]) -> str:
    """Losses in words, and gains, which are losses read the other way round."""
    turned = [msgspec.structs.replace(gain, was=gain.now, now=gain.was) for gain in gains]
    said = dict.fromkeys(loosened.in_words(one) for one in (*losses, *turned))
    return _PHASE.sub("-", "; ".join(said))


# phases have an underscore in files and a dash in words
_PHASE = re.compile(r"(?<=[a-z])_(?=[a-z])")


def _words(before: Rule, after: Rule, named: Iterable[str], usual: str) -> Iterator[_Difference]:
    """Other words, zone or source, where no lost words were named before."""
    if "text" in named:
        return
    parts = ("text", "more", "must_text", "must_more", "zone", "source")
    classes = []
    for class_id in CLASSES:
        was, now = before.for_class(class_id), after.for_class(class_id)
        if was is not None and now is not None and any(getattr(was, one) != getattr(now, one) for one in parts):
            classes.append(class_id)
    if classes:
        shown = _one_of(classes, usual)
        was, now = before.for_class(shown), after.for_class(shown)
        sought = Sought(before.id, "text", shown, was, now, reaching(was))
        yield _Difference(before.id, TEXT, "text", _for(classes) or "every class", sought)


def _rest(old: Checklist, new: Checklist, usual: str, apart: frozenset[str]) -> Iterator[_Difference]:
    """Windows, leads and aircraft."""
    lost, gained = (
        [loss for loss in losses if loss.kind != loosened.RULE]
        for losses in (loosened.losses(old, new), loosened.losses(new, old))
    )
    keys = dict.fromkeys((loss.about, _WHAT.get(loss.what, loss.what)) for loss in (*lost, *gained))
    for about, what in keys:
        less, more = (
            [loss for loss in losses if (loss.about, _WHAT.get(loss.what, loss.what)) == (about, what)]
            for losses in (lost, gained)
        )
        change = BOTH_WAYS if less and more else LOOSENED if less else TIGHTENED
        first = (less or more)[0]
        if first.kind == loosened.AIRCRAFT and about not in old.profiles:
            yield _Difference(about, ADDED, "aircraft", "a profile of the operator's own", None)
            continue
        aircraft = about if first.kind == loosened.AIRCRAFT else ""
        windows = first.was.partition(" ")[0] if first.kind == loosened.WINDOWS else ""
        sought = Sought(
            "",
            what,
            _one_of(first.classes, usual),
            less=bool(less),
            aircraft=aircraft,
            windows=windows,
            apart=apart,
        )
        yield _Difference(about.replace(" ", "-"), change, what, _told(less, more), sought)


def _one_of(classes: Sequence[str], usual: str) -> str:
    """The class to show a difference with: the usual one where it is among them."""
    return usual if usual in classes or not classes else classes[0]


def _for(classes: Iterable[str]) -> str:
    listed = tuple(classes)
    return "" if len(listed) == len(CLASSES) else f"for {', '.join(listed)}"


def _plain(difference: _Difference, new: Checklist) -> Difference:
    reason = ""
    if difference.change in LOOSER:
        rule = new.rule(difference.id)
        reason = new.reasons.get(difference.id) or (rule.reason if rule is not None else "")
    return Difference(difference.id, difference.change, difference.what, difference.where, reason=reason)


def _shown(differences: Sequence[_Difference], rules: Sequence[Difference], witness: Witness) -> tuple[Difference, ...]:
    """The differences with their witnesses: all of them quickly, then with more work those that have none yet.

    The search is bounded: what says less comes first, other words last.
    """
    order = sorted(
        range(len(differences)), key=lambda at: (differences[at].change not in LOOSER, differences[at].what == "text")
    )
    shown: dict[int, SoughtSituation] = {}
    for thorough in (False, True):
        for number in order:
            sought = differences[number].sought
            if sought is not None and number not in shown and (answer := witness(sought, thorough)) is not None:
                shown[number] = answer
    return tuple(_with(one, shown[at]) if at in shown else one for at, one in enumerate(rules))


def _with(plain: Difference, shown: SoughtSituation) -> Difference:
    """A difference with its witness."""
    situation = shown.situation
    reports = (situation.report,) if isinstance(situation.report, str) else situation.report
    own = ("report", "now", "off_block", "place", "aircraft")
    given: Mapping[str, object] = {
        name: value
        for name, value in msgspec.structs.asdict(situation).items()
        if name not in own and value is not None
    }
    return msgspec.structs.replace(
        plain,
        report="\n".join(reports),
        now=situation.now,
        off_block=situation.off_block,
        place=situation.place,
        aircraft=shown.aircraft,
        given={name: str(value) for name, value in given.items()},
        old=shown.old,
        new=shown.new,
    )


def as_text(comparison: Comparison) -> str:
    """A comparison as people read it: what is looser first."""
    lines = [
        f"OLD  {comparison.old.name}, revision {comparison.old.revision}, fingerprint {comparison.old.fingerprint}",
        f"NEW  {comparison.new.name}, revision {comparison.new.revision}, fingerprint {comparison.new.fingerprint}",
    ]
    differing = [one for one in comparison.rules if one.change != SAME]
    looser = [one for one in differing if one.change in LOOSER]
    same = len(comparison.rules) - len(differing)
    count = f"{len(differing)} difference{'' if len(differing) == 1 else 's'}"
    lines.append(f"{count}, NEW says less in {len(looser)} of them" if looser else f"{count}, NEW says nothing less")
    for difference in (*looser, *(one for one in differing if one not in looser)):
        lines += [
            "",
            f"{difference.id}: {difference.change} ({difference.what})"
            f"{f', {difference.where}' if difference.where else ''}",
        ]
        if difference.reason:
            lines.append(f"    reason: {difference.reason}")
        if difference.report is None:
            lines.append("    no report found in which the two briefs differ")
            continue
        lines += [f"    {line}" for line in difference.report.splitlines()]
        more = "".join(f", {name.replace('_', '-')} {value}" for name, value in difference.given.items())
        lines.append(
            f"    now {difference.now}, off-block {difference.off_block}, place {difference.place}, "
            f"aircraft {difference.aircraft}{more}"
        )
        lines += [f"    OLD  {difference.old}", f"    NEW  {difference.new}"]
    if same:
        lines += ["", f"{same} rule{'' if same == 1 else 's'} the same"]
    return "\n".join(lines) + "\n"

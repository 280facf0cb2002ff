"""What can be read but is probably not meant: notes on an operator's rules, profiles and head, each with its place."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from advisor.checklist.desk.reach import always_holds, can_hold
from advisor.checklist.entries import Entry, Override
from advisor.checklist.fields import CLASSES
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.language.nodes import And, Not, Or
from advisor.checklist.loosened import LEAD, RULE, WINDOWS, reason
from advisor.checklist.profile import GROUPINGS, LAST, Profile
from advisor.checklist.revision import ReadChecklist, changes
from advisor.checklist.rules import PLACEHOLDER, Checklist, Loss, Rule
from advisor.checklist.toml.files import Fault
from advisor.quantities import QUANTITIES

# words of a zone that every aircraft has
_EVERYWHERE = ("apron", "all")
_DOOR_WORDS = ("door_margin_kt", "door_stay_open_margin_kt")
Place = tuple[str | int, ...]


def notes(reading: ReadChecklist, shipped: Checklist, strict: bool) -> Iterator[Fault]:
    """Every note on an operator's folder. strict: also what a controlled document says of itself."""
    over, whole = reading.over, reading.checklist
    if over is None or reading.own is None:
        return
    for rule_id, (file, index, entry) in over.entries.items():
        rule = whole.rule(rule_id)
        if rule is not None:
            yield from _on_rule(file, ("advice", index), entry, rule, whole.profiles)
    yield from _on_names(reading)
    yield from _on_identity(reading, shipped, strict)


def _on_rule(file: str, path: Place, entry: Entry, rule: Rule, profiles: dict[str, Profile]) -> Iterator[Fault]:
    yield from _on_conditions(file, path, entry, rule)
    fleet = [one for one in profiles.values() if not rule.aircraft or one.id in rule.aircraft]
    yield from _on_zones(file, path, entry, rule, fleet)
    yield from _on_units(file, path, entry)
    for class_id in rule.classes:
        of_class = [one for one in fleet if one.class_id == class_id]
        held = rule.for_class(class_id)
        if held is None or any(one.doors for one in of_class):
            continue
        asks = [name for name in held.condition.quantities if name in _DOOR_WORDS]
        if of_class and (held.kind == "door" or asks):
            where = "kind" if entry.classes == CLASSES else "classes"
            what = f"no {class_id} has a door"
            yield Fault(file, (*path, where), what, "leave the class out of classes", code="no-doors")
    if rule.aircraft and not any(one.class_id in rule.classes for one in fleet):
        what = f"holds for none of {', '.join(rule.aircraft)}"
        yield Fault(file, (*path, "aircraft"), what, "name their class in classes, or leave it out", code="never")


def _on_conditions(file: str, path: Place, entry: Entry, rule: Rule) -> Iterator[Fault]:
    wordings: list[tuple[Place, Rule]] = [((), rule)]
    wordings += [
        (("class", name), held)
        for name, one in entry.overrides.items()
        if one.when is not None and (held := rule.for_class(name)) is not None
    ]
    for where, held in wordings:
        text, node = held.when, held.condition.node
        if held.condition.always:
            continue
        if not can_hold(node):
            what = f"no weather meets {text!r}"
            yield Fault(file, (*path, *where, "when"), what, "look at each of its parts by itself", code="never")
        elif always_holds(node):
            what = f"every weather meets {text!r}"
            yield Fault(file, (*path, *where, "when"), what, 'write "always", or mend the condition', code="always")
    raised = rule.raised
    if raised is None or entry.must_when is None:
        return
    must, when = raised.condition.node, rule.condition.node
    place = (*path, "must_when")
    if not can_hold(must):
        yield Fault(file, place, f"no weather meets {raised.when!r}", "mend it, or leave it out", code="never")
    elif rule.condition.always:
        return
    elif not can_hold(And((must, when))):
        # one of the two at any time is meant: a line by day that is graver at dusk
        if not always_holds(Or((must, when))):
            what = "holds only where when does not: it counts only where when holds at another time of the window"
            yield Fault(file, place, what, "make when wider, or leave it out", code="must-when")
    elif rule.weight == "should" and can_hold(And((must, Not(when)))):
        what = "holds also where when does not: there it is no must, for nothing is said"
        yield Fault(file, place, what, "make when as wide, or add its condition to must_when", code="must-when")
    elif rule.weight == "should" and not can_hold(And((when, Not(must)))):
        yield Fault(file, place, "holds wherever when does", 'write weight = "must"', code="must-when")


def _on_zones(file: str, path: Place, entry: Entry, rule: Rule, fleet: Collection[Profile]) -> Iterator[Fault]:
    known = {*_EVERYWHERE, *GROUPINGS, *(zone for profile in fleet for zone in profile.walk)}
    zones: list[tuple[Place, str, tuple[str, ...]]] = [(("zone",), entry.zone, rule.classes)]
    zones += [(("class", name, "zone"), one.zone, (name,)) for name, one in entry.overrides.items() if one.zone]
    for where, zone, classes in zones:
        if not zone:
            continue
        words = zone.replace(",", " ").split()
        strange = [word for word in words if word not in known]
        for word in strange:
            hint = did_you_mean(word, sorted(known))
            yield Fault(file, (*path, *where), f"no profile has a zone {word!r}", hint, code="zone")
        there = [one for one in fleet if one.class_id in classes]
        if not strange and there and "all" not in words and all(one.position(zone) == LAST for one in there):
            what = f"none of its aircraft has {zone!r} in its walk"
            yield Fault(file, (*path, *where), what, "name a zone of theirs, or all", code="zone")


def _on_units(file: str, path: Place, entry: Entry) -> Iterator[Fault]:
    """Units written behind a quantity that brings its own."""
    parts: list[tuple[Place, Entry | Override]] = [((), entry)]
    parts += [(("class", name), one) for name, one in entry.overrides.items()]
    for where, part in parts:
        for name in ("text", "more", "must_text", "must_more", "likely_text", "possible_text"):
            for match in PLACEHOLDER.finditer(getattr(part, name) or ""):
                unit = QUANTITIES[match[1]].unit
                behind = match.string[match.end() :].lstrip()
                if unit and re.match(rf"{re.escape(unit)}(?![A-Za-z])", behind):
                    what = f"{match[0]} brings its unit, {unit}, along"
                    hint = "leave the unit behind it out"
                    yield Fault(file, (*path, *where, name), what, hint, offset=match.start(), code="unit-twice")


def _on_names(reading: ReadChecklist) -> Iterator[Fault]:
    """Windows and sources that are written and that nothing uses."""
    over, whole = reading.over, reading.checklist
    if over is None:
        return
    used = {profile.windows for profile in whole.profiles.values()}
    for document in over.documents:
        data = document.data or {}
        windows = data.get("windows")
        for name in windows if isinstance(windows, dict) else ():
            if name not in used:
                hint = did_you_mean(name, sorted(used))
                path = ("windows", name)
                yield Fault(document.file, path, "no profile names these windows", hint, at_key=True, code="unused")
        cited = {rule.source for rule in whole.rules} | {
            key for page in reading.pages.values() for key in page.references
        }
        rows = data.get("source")
        for index, row in enumerate(rows if isinstance(rows, list) else ()):
            if row.get("key") not in cited:
                what = f"nothing refers to {row.get('key')!r}"
                yield Fault(document.file, ("source", index, "key"), what, "leave it out", code="unused")


def _on_identity(reading: ReadChecklist, shipped: Checklist, strict: bool) -> Iterator[Fault]:
    """A folder that changes anything says whose it is and of which revision; strict: from when, by whom, and why."""
    over, own, whole = reading.over, reading.own, reading.checklist
    if over is None or own is None or not changes(whole, shipped):
        return
    file, path = _head_place(reading)
    if over.head.name in (None, shipped.name):
        yield Fault(file, (*path, "name"), "no name of its own", "write name below [checklist]", code="identity")
    if over.head.revision is None:
        yield Fault(file, (*path, "revision"), "no revision of its own", "write one below [checklist]", code="identity")
    if not strict:
        return
    if not whole.effective:
        hint = "write a date below [checklist], such as 2027-01-10"
        yield Fault(file, (*path, "effective"), "no date from which it holds", hint, code="effective")
    if not whole.approver:
        yield Fault(file, (*path, "approver"), "nobody approved it", "write who did below [checklist]", code="approver")
    for loss in whole.losses:
        if loss.must and not reason(loss, whole):
            where, loss_path = place_of(reading, loss)
            hint = f'write reason = "…" with it, or {loss.about.replace(" ", "-")} = "…" below [reason]'
            yield Fault(
                where,
                loss_path,
                f"says less than the shipped one ({loss.what}), and nobody says why",
                hint,
                code="reason",
            )


def _head_place(reading: ReadChecklist) -> tuple[str, Place]:
    over, own = reading.over, reading.own
    documents = [*(over.documents if over is not None else ()), *(own.documents if own is not None else ())]
    for document in documents:
        if "checklist" in (document.data or {}):
            return document.file, ("checklist",)
    return (documents[0].file if documents else ""), ()


def place_of(reading: ReadChecklist, loss: Loss) -> tuple[str, Place]:
    """Where the folder says what a loss is about: the rule, its removal, the windows, the lead, the profile."""
    over, own = reading.over, reading.own
    if over is not None and loss.kind == RULE:
        if loss.about in over.entries:
            file, at, _ = over.entries[loss.about]
            return file, ("advice", at, "id")
        if loss.about in over.removed:
            return over.removed[loss.about]
    if own is not None and loss.about in own.files:
        return own.files[loss.about], ("id",)
    group = loss.was.partition(" ")[0]
    for document in over.documents if over is not None else ():
        data = document.data or {}
        if loss.kind == WINDOWS and group in data.get("windows", {}):
            return document.file, ("windows", group)
        if loss.kind == LEAD and "checklist" in data:
            return document.file, ("checklist",)
    return _head_place(reading)

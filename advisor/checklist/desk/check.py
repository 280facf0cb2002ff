"""Checks an operator's folder whole: every fault, every note, and what it changes, loosens, adds and removes."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Literal

import msgspec

from advisor.checklist import revision
from advisor.checklist.desk.limits import limit_faults
from advisor.checklist.desk.notes import notes, place_of
from advisor.checklist.desk.unread import unread
from advisor.checklist.fields import CLASSES
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.loosened import in_words, reason
from advisor.checklist.revision import ReadChecklist
from advisor.checklist.rules import Checklist, Loss
from advisor.checklist.toml.faults import placed
from advisor.checklist.toml.files import Document, Fault, PlacedFault
from advisor.errors import ChecklistError

WIDTH = 80
_SUMMARY = ("changed", "removed", "added", "aircraft", "inherited")
# reads a folder's feeds.toml; raises ChecklistError for a broken one and returns the names of files it refers to
Feeds = Callable[[Path], frozenset[str]]


class Loosened(PlacedFault, frozen=True, kw_only=True):
    """One thing in which the folder says less than what is shipped, with its place and the reason given."""

    about: str
    what: str
    classes: tuple[str, ...]
    must: bool
    was: str
    now: str
    reason: str = ""


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """What a check found. Without faults the folder can be used; strict asks for no notes either."""

    schema: Literal["check/1"] = "check/1"
    folder: str
    faults: tuple[PlacedFault, ...] = ()
    notes: tuple[PlacedFault, ...] = ()
    loosened: tuple[Loosened, ...] = ()
    name: str = ""
    revision: str = ""
    effective: str = ""
    approver: str = ""
    fingerprint: str = ""
    rules: int = 0
    own_rules: int = 0
    profiles: int = 0
    changed: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    aircraft: tuple[str, ...] = ()
    inherited: tuple[str, ...] = ()

    def raise_faults(self) -> None:
        """Raise ChecklistError with every fault; nothing where there is none."""
        if self.faults:
            lines = tuple(str(fault) for fault in self.faults)
            raise ChecklistError("cannot be used", where=self.folder, faults=lines, told=self.faults)


def check(folder: Path, *, strict: bool = False, feeds: Feeds | None = None) -> Checked:
    """Read a folder and say everything about it.

    feeds: reads its feeds.toml. strict: notes also what a controlled document says of itself.
    Raises ChecklistError for a folder that cannot be read at all.
    """
    shown = str(folder)
    faults: list[PlacedFault] = []
    also_read: frozenset[str] = frozenset()
    try:
        reading = revision.read(folder)
    except ChecklistError as error:
        if not error.told:
            raise
        reading, faults = None, _told(error)
    try:
        also_read = feeds(folder) if feeds is not None else also_read
    except ChecklistError as error:
        faults += _told(error)
    left = unread(folder, also_read)
    if reading is None or reading.over is None or reading.own is None:
        return Checked(folder=shown, faults=tuple(faults), notes=left)
    shipped = revision.load()
    documents = {one.file: one for one in (*reading.over.documents, *reading.own.documents)}
    faults += placed([*limit_faults(reading.own), *_default(reading)], documents)
    if faults:
        return Checked(folder=shown, faults=tuple(faults), notes=left)
    return _summed(reading, shipped, (*placed(list(notes(reading, shipped, strict)), documents), *left), documents)


def _told(error: ChecklistError) -> list[PlacedFault]:
    return [one for one in error.told if isinstance(one, PlacedFault)]


def _default(reading: ReadChecklist) -> Iterable[Fault]:
    whole, over = reading.checklist, reading.over
    if over is None or whole.default_aircraft in whole.profiles:
        return
    what = f"no aircraft {whole.default_aircraft!r}"
    hint = did_you_mean(whole.default_aircraft, whole.profiles)
    for document in over.documents:
        if "checklist" in (document.data or {}):
            yield Fault(document.file, ("checklist", "default_aircraft"), what, hint, code="unknown-aircraft")


def _summed(
    reading: ReadChecklist, shipped: Checklist, placed_notes: tuple[PlacedFault, ...], documents: dict[str, Document]
) -> Checked:
    whole = reading.checklist
    known, ours = {rule.id for rule in shipped.rules}, {rule.id for rule in whole.rules}
    own = [rule for rule in whole.rules if rule.origin == "operator"]
    return Checked(
        folder=whole.folder,
        notes=placed_notes,
        loosened=tuple(_loosened(loss, reading, documents) for loss in whole.losses),
        name=whole.name,
        revision=whole.revision,
        effective=whole.effective,
        approver=whole.approver,
        fingerprint=whole.fingerprint,
        rules=len(whole.rules),
        own_rules=len(own),
        profiles=len(whole.profiles),
        changed=tuple(rule_id for rule_id in whole.changed if rule_id in ours),
        removed=tuple(rule_id for rule_id in whole.changed if rule_id not in ours),
        added=tuple(rule.id for rule in own if rule.id not in known),
        aircraft=tuple(profile.id for profile in whole.profiles.values() if profile.origin == "operator"),
        inherited=_inherited(reading),
    )


def _inherited(reading: ReadChecklist) -> tuple[str, ...]:
    """Rules that keep words of the shipped one for some classes."""
    if reading.over is None:
        return ()
    inherited = []
    for rule_id, (_, _, entry) in reading.over.entries.items():
        rule = reading.checklist.rule(rule_id)
        kept = [] if rule is None else [name for name in rule.overrides if name not in entry.overrides]
        if kept and rule_id in reading.checklist.changed:
            inherited.append(f"{rule_id} ({', '.join(kept)})")
    return tuple(inherited)


def _loosened(loss: Loss, reading: ReadChecklist, documents: dict[str, Document]) -> Loosened:
    file, path = place_of(reading, loss)
    [fault] = placed([Fault(file, path, in_words(loss), at_key=True, code="loosened")], documents)
    return Loosened(
        fault.file,
        fault.line,
        fault.column,
        fault.field,
        fault.code,
        fault.message,
        about=loss.about,
        what=loss.what,
        classes=loss.classes,
        must=loss.must,
        was=loss.was,
        now=loss.now,
        reason=reason(loss, reading.checklist),
    )


def as_text(checked: Checked) -> str:
    """A check without faults in a few lines: what the folder is, what it changes, and every note with its place."""
    shipped = revision.load()
    lines = [f"{checked.name}, revision {checked.revision}, fingerprint {checked.fingerprint}"]
    if checked.effective or checked.approver:
        lines.append(f"effective {checked.effective or 'not said'}, approved by {checked.approver or 'nobody named'}")
    lines.append(f"{checked.rules} rules, {checked.own_rules} of them the operator's; {checked.profiles} aircraft")
    lines += [f"{title}: {', '.join(names)}" for title in _SUMMARY if (names := getattr(checked, title))]
    whole = revision.load(checked.folder)
    if any(whole.windows[name] != row for name, row in shipped.windows.items()):
        lines.append("windows: other than shipped; every rule is asked in them")
    if whole.call_lead_min != shipped.call_lead_min:
        lines.append(f"call lead: {whole.call_lead_min} min, shipped {shipped.call_lead_min}")
    lines += _losses(checked, whole)
    for note in checked.notes:
        hint = f"; {note.hint}" if note.hint else ""
        lines.append(f"note: {_subject(note)}: {note.message}{hint} ({note.file}:{note.line}:{note.column})")
    return _wrapped(lines)


def _losses(checked: Checked, whole: Checklist) -> Iterable[str]:
    """For each thing that says less: that it does, for whom, where it is written, and in what."""
    for about in dict.fromkeys(loss.about for loss in checked.loosened):
        these = [loss for loss in checked.loosened if loss.about == about]
        first = these[0]
        place = f"({first.file}:{first.line}:{first.column})"
        if about in whole.loosened:
            classes = whole.loosened_classes[about]
            where = "for every class" if len(classes) == len(CLASSES) else f"for {', '.join(classes)}"
            yield f'loosened: {about}, a shipped "must", says less {where}; every brief will name it {place}'
        elif any(loss.must for loss in these):
            yield f"loosened: {about}, says less than shipped; every brief that it concerns will name it {place}"
        else:
            yield f"weaker: {about}, says less than shipped {place}"
        why = next((loss.reason for loss in these if loss.reason), "")
        yield from (f"  {loss.message}" for loss in these)
        if why:
            yield f"  reason: {why}"


def _subject(note: PlacedFault) -> str:
    """What a note is about, in short: the rule's id, else the field."""
    parts = note.field.split(".")
    return parts[1] if parts[0] == "advice" and len(parts) > 1 else note.field


def _wrapped(lines: Iterable[str]) -> str:
    out: list[str] = []
    for line in lines:
        lead = line[: len(line) - len(line.lstrip())]
        out += textwrap.wrap(
            line, WIDTH, subsequent_indent=f"{lead}  ", break_on_hyphens=False, break_long_words=False
        ) or [""]
    return "\n".join(out) + "\n"

"""Loads checklists: what is shipped, overlaid by an operator's folder, every fault of every file in one run."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

import msgspec

from advisor.checklist import aircraft
from advisor.checklist.aircraft import Fleet
from advisor.checklist.entries import Head
from advisor.checklist.fingerprint import content, fingerprint, same
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.layers import Layer, read_layer, read_pages
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Override, Page, Rule, Situation
from advisor.checklist.toml.files import Fault, raise_faults
from advisor.sources import SOURCES

SHIPPED = Path(__file__).parent.parent / "data" / "checklists"
_DEFAULT_LEAD_MIN = 45
# what a reason may be for besides rules and aircraft
WHOLE = ("windows", "call-lead")


class ReadChecklist(msgspec.Struct):
    """A checklist as read: what came out of it, and the folders behind it. over, own: None where nothing lies over."""

    checklist: Checklist
    pages: dict[str, Page]
    base: Layer
    over: Layer | None
    own: Fleet | None


def load(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> Checklist:
    """The checklist in force.

    folder: an operator's folder, None for the shipped checklist alone. shipped: what it is laid over.
    Raises ChecklistError with every fault of every file.
    """
    return read(folder, shipped=shipped, with_pages=False).checklist


def load_pages(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> dict[str, Page]:
    """The rules' pages by id, an operator's over the shipped ones.

    Raises ChecklistError with every fault of every file, those of the rules' files included.
    """
    return load_all(folder, shipped=shipped)[1]


def load_all(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> tuple[Checklist, dict[str, Page]]:
    """The checklist in force and the rules' pages, the faults of both in one run.

    Raises ChecklistError with every fault of every file.
    """
    found = read(folder, shipped=shipped)
    return found.checklist, found.pages


def read(folder: Path | str | None = None, *, shipped: Path = SHIPPED, with_pages: bool = True) -> ReadChecklist:
    """The checklist in force with the folders that it was read from.

    Raises ChecklistError with every fault of every file.
    """
    base = read_layer(shipped, "shipped", SOURCES)
    fleet = aircraft.read_fleet(aircraft.SHIPPED, "shipped")
    _check_whole(base)
    _check_fleet(fleet, base.windows)
    pages = read_pages(shipped, base, base.rules, {**SOURCES, **base.sources}) if with_pages else {}
    raise_faults((base.faults, base.documents), (fleet.faults, fleet.documents))
    over, own = None, None
    if folder is not None:
        root = Path(folder)
        over = read_layer(root, "operator", {**SOURCES, **base.sources})
        own = aircraft.read_own(root)
        _check_over(base, over)
        if not own.faults:
            _check_aircraft(over, {*fleet.profiles, *own.profiles})
            _check_reasons(over, own)
        if not over.faults:
            _check_fleet(own, {**base.windows, **over.windows})
        if with_pages:
            known = (set(base.rules) | set(over.rules)) - set(over.removed)
            pages |= read_pages(root, over, known, {**SOURCES, **base.sources, **over.sources})
        raise_faults((over.faults, over.documents), (own.faults, own.documents))
    checklist = _checklist(base, over, fleet, own, folder)
    kept = {rule.id: pages[rule.id] for rule in checklist.rules if rule.id in pages}
    return ReadChecklist(checklist, kept, base, over, own)


def _check_whole(base: Layer) -> None:
    """A checklist that stands alone has a name, a revision, an aircraft and both groups of windows."""
    if base.faults:
        return
    file = base.documents[0].file
    for name in ("name", "revision", "default_aircraft"):
        if getattr(base.head, name) is None:
            base.faults.append(
                Fault(file, ("checklist", name), "missing", "a whole checklist needs it", code="missing-field")
            )
    for group in ("jet", "small"):
        if group not in base.windows:
            base.faults.append(
                Fault(file, ("windows", group), "missing", "a whole checklist needs it", code="missing-field")
            )
    for rule_id, (where, path) in base.removed.items():
        base.faults.append(
            Fault(where, path, f"nothing to remove {rule_id!r} from", "leave the rule out", code="unknown-rule")
        )


def _check_over(base: Layer, over: Layer) -> None:
    for rule_id, (file, path) in over.removed.items():
        if rule_id in over.entries:
            over.faults.append(
                Fault(file, path, f"{rule_id!r} is both removed and written", "keep one of the two", code="twice")
            )
        elif rule_id not in base.rules:
            over.faults.append(
                Fault(
                    file, path, f"no shipped rule {rule_id!r}", did_you_mean(rule_id, base.rules), code="unknown-rule"
                )
            )


def _check_reasons(over: Layer, own: Fleet) -> None:
    """A reason is for something that the folder changes."""
    known = [*over.removed, *over.entries, *own.profiles, *WHOLE]
    for name, (_, file) in over.reasons.items():
        if name not in known:
            what, hint = f"{name!r} is neither removed nor written here", did_you_mean(name, known)
            over.faults.append(Fault(file, ("reason", name), what, hint, at_key=True, code="unknown-rule"))


def _check_aircraft(over: Layer, known: Collection[str]) -> None:
    for file, index, entry in over.entries.values():
        for number, name in enumerate(entry.aircraft):
            if name not in known:
                path = ("advice", index, "aircraft", number)
                over.faults.append(
                    Fault(file, path, f"no aircraft {name!r}", did_you_mean(name, known), code="unknown-aircraft")
                )


def _check_fleet(fleet: Fleet, windows: Collection[str]) -> None:
    """Every profile names windows that are there."""
    for name, profile in fleet.profiles.items():
        if profile.windows not in windows:
            what = f"no windows {profile.windows!r}"
            hint = did_you_mean(profile.windows, windows)
            fleet.faults.append(Fault(fleet.files[name], ("windows",), what, hint, code="unknown-windows"))


def _checklist(
    base: Layer, over: Layer | None, fleet: Fleet, own: Fleet | None, folder: Path | str | None
) -> Checklist:
    shipped = _of(base, base.head, dict(base.rules), fleet.profiles)
    if over is None:
        return msgspec.structs.replace(shipped, fingerprint=fingerprint(shipped))
    rules = dict(base.rules)
    changed: list[str] = []
    for rule_id, new in over.rules.items():
        old = rules.get(rule_id)
        if old is not None and over.entries[rule_id][2].inherit:
            new = inherited(old, new)
        if old is not None and same(old, new):
            continue
        rules[rule_id] = new
        if old is not None:
            changed.append(rule_id)
    for rule_id in over.removed:
        del rules[rule_id]
        changed.append(rule_id)
    order = {rule_id: at for at, rule_id in enumerate(base.rules)}
    profiles = {**fleet.profiles, **(own.profiles if own is not None else {})}
    whole = msgspec.structs.replace(
        _of(base, _head(over.head, base.head), rules, aircraft.in_order(profiles)),
        windows={**base.windows, **over.windows},
        sources={**SOURCES, **base.sources, **over.sources},
        reasons={rule_id: said for rule_id, (said, _) in over.reasons.items()},
        changed=tuple(sorted(changed, key=order.__getitem__)),
        folder=str(folder),
    )
    if over.head.revision is None and changes(whole, shipped):
        # whoever reads it in a brief takes it for no print of the shipped one
        whole = msgspec.structs.replace(whole, revision=f"{whole.revision}, changed without a revision of its own")
    # only a folder of an operator can say less
    from advisor.checklist.loosened import losses

    return msgspec.structs.replace(whole, fingerprint=fingerprint(whole), losses=losses(shipped, whole))


def changes(whole: Checklist, shipped: Checklist) -> bool:
    """Whether a folder changes anything that decides advice, its name, revision, date and approver apart."""
    parts = ("windows", "profiles", "call_lead_min", "call_lead_by_class", "call_lead_by_station", "default_aircraft")
    own = any(rule.origin == "operator" for rule in whole.rules)
    return (
        bool(whole.changed)
        or own
        or any(content(getattr(whole, part)) != content(getattr(shipped, part)) for part in parts)
    )


def _of(base: Layer, head: Head, rules: dict[str, Rule], profiles: Mapping[str, Profile]) -> Checklist:
    return Checklist(
        name=head.name or "",
        revision=head.revision or "",
        fingerprint="",
        rules=tuple(rules.values()),
        windows=dict(base.windows),
        call_lead_min=_DEFAULT_LEAD_MIN if head.call_lead_min is None else head.call_lead_min,
        default_aircraft=head.default_aircraft or "",
        sources={**SOURCES, **base.sources},
        profiles=dict(profiles),
        effective="" if head.effective is None else head.effective.isoformat(),
        approver=head.approver or "",
        call_lead_by_class=head.call_lead_by_class,
        call_lead_by_station=head.call_lead_by_station,
    )


def _head(ours: Head, theirs: Head) -> Head:
    """The operator's head, and the shipped one's fields where it says nothing.

    Date and approver belong to the revision that they were written for.
    """
    given = {name: value for name, value in msgspec.structs.asdict(ours).items() if value not in (None, {})}
    kept = msgspec.structs.replace(theirs, effective=None, approver=None)
    return msgspec.structs.replace(kept, **given)


def inherited(old: Rule, new: Rule) -> Rule:
    """A rule that takes the place of another, with the other's class tables where it has none of its own."""
    tables = dict(new.overrides)
    for class_id, theirs in old.overrides.items():
        if class_id not in new.classes:
            continue
        ours = new.overrides.get(class_id, Override())
        merged = {
            name: getattr(theirs, name) if getattr(ours, name) is None else getattr(ours, name)
            for name in Override.__struct_fields__
        }
        if new.must_when is None:
            merged |= {"must_text": None, "must_more": None}
        if ours.text is not None:
            merged |= {"likely_text": ours.likely_text, "possible_text": ours.possible_text}
        if new.kind != "request":
            merged |= {"lead_min": None}
        tables[class_id] = Override(**merged)
    return msgspec.structs.replace(
        new, overrides={name: table for name, table in tables.items() if table != Override()}
    )


__all__ = [
    "SHIPPED",
    "Checklist",
    "Page",
    "ReadChecklist",
    "Rule",
    "Situation",
    "load",
    "load_all",
    "load_pages",
    "read",
]

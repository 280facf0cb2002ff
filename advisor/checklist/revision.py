"""Loads checklists: what is shipped, overlaid by an operator's folder, every fault of every file in one run."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.layers import Layer, read_layer, read_pages
from advisor.checklist.rules import CLASSES, Checklist, Head, Page, Rule, Situation, WindowMinutes, compiled, phases
from advisor.checklist.toml.files import Fault, raise_faults
from advisor.sources import SOURCES, Source

SHIPPED = Path(__file__).parent.parent / "data" / "checklists"


def load(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> Checklist:
    """The checklist in force.

    folder: an operator's folder, None for the shipped checklist alone. shipped: what it is laid over.
    Raises ChecklistError with every fault of every file.
    """
    base, over = _layers(folder, shipped)
    if over is not None:
        raise_faults(over.faults, over.documents)
    return _checklist(base, over, folder)


def load_pages(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> dict[str, Page]:
    """The rules' pages by id, an operator's over the shipped ones.

    Raises ChecklistError with every fault of every file, those of the rules' files included.
    """
    return load_all(folder, shipped=shipped)[1]


def load_all(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> tuple[Checklist, dict[str, Page]]:
    """The checklist in force and the rules' pages, the faults of both in one run.

    Raises ChecklistError with every fault of every file.
    """
    base, over = _layers(folder, shipped)
    pages = read_pages(shipped, base, base.rules, {**SOURCES, **base.sources})
    raise_faults(base.faults, base.documents)
    if over is not None and folder is not None:
        known = (set(base.rules) | set(over.rules)) - set(over.removed)
        pages |= read_pages(Path(folder), over, known, {**SOURCES, **base.sources, **over.sources})
        raise_faults(over.faults, over.documents)
    checklist = _checklist(base, over, folder)
    return checklist, {rule.id: pages[rule.id] for rule in checklist.rules if rule.id in pages}


def _layers(folder: Path | str | None, shipped: Path) -> tuple[Layer, Layer | None]:
    base = read_layer(shipped, "shipped", SOURCES)
    _check_whole(base)
    raise_faults(base.faults, base.documents)
    if folder is None:
        return base, None
    over = read_layer(Path(folder), "operator", {**SOURCES, **base.sources})
    _check_over(base, over)
    return base, over


def _check_whole(base: Layer) -> None:
    """A checklist that stands alone has a name, a revision, an aircraft and both groups of windows."""
    if base.faults:
        return
    file = base.documents[0].file
    for name in ("name", "revision", "default_aircraft"):
        if getattr(base.head, name) is None:
            base.faults.append(Fault(file, ("checklist", name), "missing", "a whole checklist needs it"))
    for group in ("jet", "small"):
        if group not in base.windows:
            base.faults.append(Fault(file, ("windows", group), "missing", "a whole checklist needs it"))
    for rule_id, (where, path) in base.removed.items():
        base.faults.append(Fault(where, path, f"nothing to remove {rule_id!r} from", "leave the rule out"))


def _check_over(base: Layer, over: Layer) -> None:
    for rule_id, (file, path) in over.removed.items():
        if rule_id in over.entries:
            over.faults.append(Fault(file, path, f"{rule_id!r} is both removed and written", "keep one of the two"))
        elif rule_id not in base.rules:
            over.faults.append(Fault(file, path, f"no shipped rule {rule_id!r}", did_you_mean(rule_id, base.rules)))


def _checklist(base: Layer, over: Layer | None, folder: Path | str | None) -> Checklist:
    rules = dict(base.rules)
    windows = dict(base.windows)
    sources = {**SOURCES, **base.sources}
    head = base.head
    changed: list[str] = []
    loosened: dict[str, tuple[str, ...]] = {}
    if over is not None:
        for rule_id, new in over.rules.items():
            old = rules.get(rule_id)
            if old is not None and _content(old) == _content(new):
                continue
            rules[rule_id] = new
            if old is not None:
                changed.append(rule_id)
        for rule_id in over.removed:
            del rules[rule_id]
            changed.append(rule_id)
        for rule_id in changed:
            classes = loosened_classes(base.rules[rule_id], rules.get(rule_id))
            if classes:
                loosened[rule_id] = classes
        windows |= over.windows
        sources |= over.sources
        both = zip(_row(over.head), _row(base.head), strict=True)
        head = Head(*(theirs if ours is None else ours for ours, theirs in both))
    order = {rule_id: at for at, rule_id in enumerate(base.rules)}
    lead = 45 if head.call_lead_min is None else head.call_lead_min
    aircraft = head.default_aircraft or ""
    kept = tuple(rules.values())
    used = sorted({rule.source for rule in kept})
    return Checklist(
        head.name or "",
        head.revision or "",
        _fingerprint(head.name, head.revision, aircraft, lead, windows, kept, [sources[key] for key in used]),
        kept,
        windows,
        lead,
        aircraft,
        sources,
        tuple(sorted(changed, key=order.__getitem__)),
        tuple(sorted(loosened, key=order.__getitem__)),
        loosened,
        "" if folder is None else str(folder),
    )


def _row(head: Head) -> tuple[Any, ...]:
    return head.name, head.revision, head.default_aircraft, head.call_lead_min


def loosened_classes(old: Rule, new: Rule | None) -> tuple[str, ...]:
    """The classes for which a "must" rule says less than it did: gone, no longer must, asked in fewer phases, or with
    a condition that answers less somewhere, or that cannot be compared.
    """
    found = []
    for class_id in CLASSES:
        before = _must(old.for_class(class_id))
        if before is None:
            continue
        after = None if new is None else _must(new.for_class(class_id))
        if (
            after is None
            or after.weight != "must"
            or not set(before.during) <= set(after.during)
            or (before.when != after.when and _compared(before.when, after.when) not in ("same", "tightened"))
        ):
            found.append(class_id)
    return tuple(found)


def _must(rule: Rule | None) -> Rule | None:
    """The part of a rule that is a must: all of it, what must_when raises, or nothing."""
    return rule if rule is None or rule.weight == "must" else rule.raised


@lru_cache(maxsize=1024)
def _compared(old: str, new: str) -> str:
    return compiled(old).compare(compiled(new))


def _content(rule: Rule) -> list[Any]:
    """What a rule says, whatever its spacing and whoever wrote it."""
    overrides = [
        [
            name,
            one.weight,
            one.text,
            one.more,
            None if one.when is None else compiled(one.when).canonical,
            None if one.during is None else list(phases(one.during)),
            one.zone,
            one.must_text,
            one.must_more,
        ]
        for name, one in sorted(rule.overrides.items())
    ]
    return [
        rule.id,
        rule.kind,
        rule.condition.canonical,
        list(rule.during),
        rule.weight,
        rule.text,
        rule.source,
        rule.more,
        rule.zone,
        rule.stop,
        list(rule.classes),
        rule.lead_min,
        overrides,
        None if rule.must_when is None else compiled(rule.must_when).canonical,
        rule.must_text,
        rule.must_more,
    ]


def _fingerprint(
    name: str | None,
    revision: str | None,
    aircraft: str,
    lead: int,
    windows: dict[str, WindowMinutes],
    rules: Iterable[Rule],
    sources: Iterable[Source],
) -> str:
    content = [
        name,
        revision,
        aircraft,
        lead,
        sorted(windows.items()),
        [_content(rule) for rule in sorted(rules, key=lambda rule: rule.id)],
        [[one.key, one.title, one.locator, one.standing] for one in sources],
    ]
    return hashlib.sha256(msgspec.json.encode(content)).hexdigest()[:16]


__all__ = ["SHIPPED", "Checklist", "Page", "Rule", "Situation", "load", "load_all", "load_pages", "loosened_classes"]

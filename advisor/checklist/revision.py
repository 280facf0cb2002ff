"""Loads checklists: what is shipped, overlaid by an operator's folder, every fault of every file in one run."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec

from advisor.checklist.condition import ConditionError, did_you_mean
from advisor.checklist.files import Document, Fault, raise_faults, read_folder
from advisor.checklist.rules import (
    CLASSES,
    PLACEHOLDER,
    Checklist,
    ChecklistFile,
    Entry,
    Head,
    Override,
    Page,
    PagesFile,
    Rule,
    Situation,
    WindowMinutes,
    WindowTable,
    compiled,
    phases,
    rule_from,
)
from advisor.errors import ChecklistError
from advisor.quantities import QUANTITIES
from advisor.sources import SOURCES, Source

SHIPPED = Path(__file__).parent.parent / "data" / "checklists"
# other files that may lie in an operator's folder
_OTHERS = ("feeds.toml",)


def _is_pages(name: str) -> bool:
    return name.startswith("pages")


def _is_rules(name: str) -> bool:
    return not _is_pages(name) and name not in _OTHERS


@dataclass(slots=True)
class _Layer:
    """One folder as read, before it is laid over another."""

    origin: str
    head: Head = field(default_factory=Head)
    windows: dict[str, WindowMinutes] = field(default_factory=dict)
    removed: dict[str, tuple[str, tuple[str | int, ...]]] = field(default_factory=dict)
    rules: dict[str, Rule] = field(default_factory=dict)
    entries: dict[str, tuple[str, int, Entry]] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    documents: list[Document] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def load(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> Checklist:
    """The checklist in force.

    folder: an operator's folder, None for the shipped checklist alone. shipped: what it is laid over.
    Raises ChecklistError with every fault of every file.
    """
    base = _read_layer(shipped, "shipped", SOURCES)
    _check_whole(base)
    raise_faults(base.faults, base.documents)
    if folder is None:
        return _checklist(base, None)
    over = _read_layer(Path(folder), "operator", {**SOURCES, **base.sources})
    _check_over(base, over)
    raise_faults(over.faults, over.documents)
    return _checklist(base, over)


def load_pages(folder: Path | str | None = None, *, shipped: Path = SHIPPED) -> dict[str, Page]:
    """The rules' pages by id, an operator's over the shipped ones; files whose names begin with pages, and pages
    written beside their rule.

    Raises ChecklistError with every fault of every file.
    """
    pages: dict[str, Page] = {}
    known: set[str] = set()
    sources = dict(SOURCES)
    for origin, path in (("shipped", shipped), ("operator", None if folder is None else Path(folder))):
        if path is None:
            continue
        layer = _read_layer(path, origin, sources)
        raise_faults(layer.faults, layer.documents)
        known |= set(layer.rules)
        sources |= layer.sources
        faults: list[Fault] = []
        documents = read_folder(path, _is_pages, faults)
        found: dict[str, str] = {}
        for document in documents:
            for rule_id, page in _convert(document, PagesFile, faults, PagesFile()).page.items():
                where = (document.file, ("page", rule_id))
                if rule_id not in known:
                    faults.append(Fault(*where, f"no rule {rule_id!r}", did_you_mean(rule_id, known), at_key=True))
                if rule_id in found:
                    what = f"a second page, the first is in {found[rule_id]}"
                    faults.append(Fault(*where, what, "keep one", at_key=True))
                found.setdefault(rule_id, document.file)
                faults.extend(_page_faults(*where, page, sources))
                pages[rule_id] = page
        for rule_id, (_, _, entry) in layer.entries.items():
            inline = entry.page or Page()
            fires, near_miss = entry.fires or inline.fires, entry.near_miss or inline.near_miss
            if entry.page or fires or near_miss:
                pages[rule_id] = msgspec.structs.replace(inline, fires=fires, near_miss=near_miss)
        raise_faults(faults, documents)
    return pages


def _read_layer(folder: Path, origin: str, sources: Mapping[str, Source]) -> _Layer:
    layer = _Layer(origin)
    layer.documents = read_folder(folder, _is_rules, layer.faults)
    if not layer.documents and not layer.faults and not _has_others(folder):
        raise ChecklistError("no *.toml file", where=str(folder), hint="give a folder that holds a checklist")
    files = [(one.file, _convert(one, ChecklistFile, layer.faults, None)) for one in layer.documents]
    read = [(file, content) for file, content in files if content is not None]
    for file, content in read:
        for at, row in enumerate(content.source):
            if row.key in sources or row.key in layer.sources:
                fault = Fault(file, ("source", at, "key"), f"{row.key!r} is taken", "choose another key")
                layer.faults.append(fault)
            layer.sources[row.key] = Source(row.key, row.title, row.locator, row.standing)
    known = {**sources, **layer.sources}
    heads: list[str] = []
    for file, content in read:
        if content.checklist is not None:
            if heads:
                what = f"a second [checklist], the first is in {heads[0]}"
                layer.faults.append(Fault(file, ("checklist",), what, "keep one"))
            heads.append(file)
            layer.head = content.checklist
        if content.windows is not None:
            _add_windows(layer, file, content.windows)
        for at, rule_id in enumerate(content.remove):
            layer.removed.setdefault(rule_id, (file, ("remove", at)))
        for at, entry in enumerate(content.advice):
            if entry.id in layer.entries:
                what = f"a second rule {entry.id!r}, the first is in {layer.entries[entry.id][0]}"
                layer.faults.append(Fault(file, ("advice", at, "id"), what, "choose another id"))
            layer.faults.extend(_entry_faults(file, ("advice", at), entry, known))
            layer.entries.setdefault(entry.id, (file, at, entry))
            layer.rules.setdefault(entry.id, rule_from(entry, origin))
    return layer


def _has_others(folder: Path) -> bool:
    return any(name.is_file() for name in (folder / other for other in _OTHERS)) or any(folder.glob("pages*.toml"))


def _convert(document: Document, model: Any, faults: list[Fault], default: Any) -> Any:
    """The document as its model; where that fails, the parts of it that hold, and a fault for each that does not."""
    if document.data is None:
        return default
    try:
        return msgspec.convert(document.data, model)
    except msgspec.ValidationError:
        from advisor.checklist.faults import field_faults

        found = list(field_faults(document.file, document.data, model))
        faults.extend(found or [Fault(document.file, (), "cannot be read", "compare it with a shipped file")])
        return default


def _add_windows(layer: _Layer, file: str, table: WindowTable) -> None:
    for group in ("jet", "small"):
        row: WindowMinutes | None = getattr(table, group)
        if row is None:
            continue
        path = ("windows", group)
        if group in layer.windows:
            layer.faults.append(Fault(file, path, "given a second time", "keep one"))
        for name, (start, end) in (("walk_round", row.walk_round), ("doors_open", row.doors_open)):
            if start >= end:
                layer.faults.append(Fault(file, (*path, name), "ends before it starts", "write the earlier time first"))
        if row.take_off_treated < row.take_off:
            what = "earlier than take_off"
            layer.faults.append(Fault(file, (*path, "take_off_treated"), what, "treatment takes time: write the later"))
        layer.windows[group] = row


def _entry_faults(
    file: str, path: tuple[str | int, ...], entry: Entry, sources: Mapping[str, Source]
) -> Iterator[Fault]:
    if entry.source not in sources:
        what = f"unknown source {entry.source!r}"
        yield Fault(file, (*path, "source"), what, _source_hint(entry.source, sources))
    if not entry.classes:
        yield Fault(file, (*path, "classes"), "an empty list", "name a class, or leave the field out for all")
    if entry.lead_min is not None and entry.kind != "request":
        hint = 'leave it out, or kind = "request"'
        yield Fault(file, (*path, "lead_min"), f"a {entry.kind} has no latest time", hint)
    yield from _wording_faults(file, path, entry)
    for class_id, override in entry.overrides.items():
        inner = (*path, "class", class_id)
        if class_id not in entry.classes:
            yield Fault(file, inner, f"the rule does not hold for {class_id}", "add it to classes", at_key=True)
        yield from _wording_faults(file, inner, override)
    if entry.page is not None:
        yield from _page_faults(file, (*path, "page"), entry.page, sources)


def _wording_faults(file: str, path: tuple[str | int, ...], part: Entry | Override) -> Iterator[Fault]:
    if part.when is not None:
        try:
            compiled(part.when)
        except ConditionError as error:
            yield Fault(file, (*path, "when"), error.what, error.hint, offset=error.offset)
    if part.during is not None and not phases(part.during):
        yield Fault(file, (*path, "during"), "an empty list", "name a phase")
    if part.text is not None and not part.text.strip():
        yield Fault(file, (*path, "text"), "an empty text", "say what to do")
    for name, text in (("text", part.text), ("more", part.more)):
        if not text or ("{" not in text and "}" not in text):
            continue
        for match in PLACEHOLDER.finditer(text):
            if match[1] not in QUANTITIES:
                what, hint = f"unknown quantity {match[1]!r}", did_you_mean(match[1], QUANTITIES)
                yield Fault(file, (*path, name), what, hint, offset=match.start(1))
        bare = PLACEHOLDER.sub(lambda match: "_" * len(match[0]), text)
        alone = re.search(r"[{}]", bare)
        if alone:
            yield Fault(file, (*path, name), f"{alone[0]!r} alone", "write {quantity}", offset=alone.start())


def _page_faults(file: str, path: tuple[str | int, ...], page: Page, sources: Mapping[str, Source]) -> Iterator[Fault]:
    for at, key in enumerate(page.references):
        if key not in sources:
            yield Fault(file, (*path, "references", at), f"unknown source {key!r}", _source_hint(key, sources))


def _source_hint(key: str, sources: Mapping[str, Source]) -> str:
    hint = did_you_mean(key, sources)
    return hint if hint.startswith("did") else "add a [[source]] with this key, a title and a locator"


def _check_whole(base: _Layer) -> None:
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


def _check_over(base: _Layer, over: _Layer) -> None:
    for rule_id, (file, path) in over.removed.items():
        if rule_id in over.entries:
            over.faults.append(Fault(file, path, f"{rule_id!r} is both removed and written", "keep one of the two"))
        elif rule_id not in base.rules:
            over.faults.append(Fault(file, path, f"no shipped rule {rule_id!r}", did_you_mean(rule_id, base.rules)))


def _checklist(base: _Layer, over: _Layer | None) -> Checklist:
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
        head.name or "", head.revision or "",
        _fingerprint(head.name, head.revision, aircraft, lead, windows, kept, [sources[key] for key in used]),
        kept, windows, lead, aircraft, sources,
        tuple(sorted(changed, key=order.__getitem__)),
        tuple(sorted(loosened, key=order.__getitem__)), loosened,
    )  # fmt: skip


def _row(head: Head) -> tuple[Any, ...]:
    return head.name, head.revision, head.default_aircraft, head.call_lead_min


def loosened_classes(old: Rule, new: Rule | None) -> tuple[str, ...]:
    """The classes for which a "must" rule says less than it did: gone, no longer must, asked in fewer phases, or with
    a condition that answers less somewhere, or that cannot be compared.
    """
    found = []
    for class_id in CLASSES:
        before = old.for_class(class_id)
        if before is None or before.weight != "must":
            continue
        after = None if new is None else new.for_class(class_id)
        if (
            after is None
            or after.weight != "must"
            or not set(before.during) <= set(after.during)
            or (before.when != after.when and before.condition.compare(after.condition) not in ("same", "tightened"))
        ):
            found.append(class_id)
    return tuple(found)


def _content(rule: Rule) -> list[Any]:
    """What a rule says, whatever its spacing and whoever wrote it."""
    overrides = [
        [
            name, one.weight, one.text, one.more, None if one.when is None else compiled(one.when).canonical,
            None if one.during is None else list(phases(one.during)), one.zone,
        ]
        for name, one in sorted(rule.overrides.items())
    ]  # fmt: skip
    return [
        rule.id, rule.kind, rule.condition.canonical, list(rule.during), rule.weight, rule.text, rule.source,
        rule.more, rule.zone, rule.stop, list(rule.classes), rule.lead_min, overrides,
    ]  # fmt: skip


def _fingerprint(
    name: str | None, revision: str | None, aircraft: str, lead: int, windows: dict[str, WindowMinutes],
    rules: Iterable[Rule], sources: Iterable[Source],
) -> str:  # fmt: skip
    content = [
        name, revision, aircraft, lead, sorted(windows.items()),
        [_content(rule) for rule in sorted(rules, key=lambda rule: rule.id)],
        [[one.key, one.title, one.locator, one.standing] for one in sources],
    ]  # fmt: skip
    return hashlib.sha256(msgspec.json.encode(content)).hexdigest()[:16]


__all__ = ["SHIPPED", "Checklist", "Page", "Rule", "Situation", "load", "load_pages", "loosened_classes"]

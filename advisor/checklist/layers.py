"""Reads one folder of a checklist: what it says, and what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

import msgspec

from advisor.checklist.entries import Head
from advisor.checklist.language.condition import ConditionError, did_you_mean
from advisor.checklist.language.words import meant
from advisor.checklist.rules import (
    PLACEHOLDER,
    ChecklistFile,
    Entry,
    Override,
    Page,
    PagesFile,
    Rule,
    WindowMinutes,
    compiled,
    phases,
    rule_from,
)
from advisor.checklist.toml.files import MOST_FAULTS, UNREADABLE, Document, Fault, convert, read_folder
from advisor.errors import ChecklistError
from advisor.quantities import QUANTITIES
from advisor.sources import Source

# other files that may lie in an operator's folder
_OTHERS = ("feeds.toml",)


def _is_pages(name: str) -> bool:
    return name.startswith("pages")


def _is_rules(name: str) -> bool:
    return not _is_pages(name) and name not in _OTHERS


class Layer(msgspec.Struct):
    """One folder as read, before it is laid over another."""

    origin: str
    head: Head = msgspec.field(default_factory=Head)
    windows: dict[str, WindowMinutes] = msgspec.field(default_factory=dict)
    removed: dict[str, tuple[str, tuple[str | int, ...]]] = msgspec.field(default_factory=dict)
    reasons: dict[str, tuple[str, str]] = msgspec.field(default_factory=dict)
    rules: dict[str, Rule] = msgspec.field(default_factory=dict)
    entries: dict[str, tuple[str, int, Entry]] = msgspec.field(default_factory=dict)
    sources: dict[str, Source] = msgspec.field(default_factory=dict)
    documents: list[Document] = msgspec.field(default_factory=list)
    faults: list[Fault] = msgspec.field(default_factory=list)


def read_layer(folder: Path, origin: str, sources: Mapping[str, Source]) -> Layer:
    """Read a folder. sources: what its rules may refer to besides its own. Faults are gathered, not raised."""
    layer = Layer(origin)
    layer.documents = read_folder(folder, _is_rules, layer.faults)
    if not layer.documents and not layer.faults and not _has_others(folder):
        raise ChecklistError("no *.toml file", where=str(folder), hint="give a folder that holds a checklist")
    # what could not be read may be what names a source
    blind = _unreadable(layer)
    files = [(one.file, convert(one, ChecklistFile, layer.faults, "CHECKLIST_ROWS")) for one in layer.documents]
    read = [(file, content) for file, content in files if content is not None]
    for file, content in read:
        for index, row in enumerate(content.source):
            if row.key.startswith(UNREADABLE):
                blind = True
            elif row.key in sources or row.key in layer.sources:
                fault = Fault(
                    file, ("source", index, "key"), f"{row.key!r} is taken", "choose another key", code="twice"
                )
                layer.faults.append(fault)
            layer.sources[row.key] = Source(row.key, row.title, row.locator, row.standing)
    known = None if blind else {**sources, **layer.sources}
    heads: list[str] = []
    for file, content in read:
        if content.checklist is not None:
            if heads:
                what = f"a second [checklist], the first is in {heads[0]}"
                layer.faults.append(Fault(file, ("checklist",), what, "keep one", code="twice"))
            heads.append(file)
            layer.head = content.checklist
        _add_windows(layer, file, content.windows)
        for rule_id, said in content.reason.items():
            layer.reasons.setdefault(rule_id, (said, file))
        for index, rule_id in enumerate(content.remove):
            if not rule_id.startswith(UNREADABLE):
                layer.removed.setdefault(rule_id, (file, ("remove", index)))
        for index, entry in enumerate(content.advice):
            if len(layer.faults) > MOST_FAULTS:
                break
            if entry.id in layer.entries and not entry.id.startswith(UNREADABLE):
                what = f"a second rule {entry.id!r}, the first is in {layer.entries[entry.id][0]}"
                layer.faults.append(Fault(file, ("advice", index, "id"), what, "choose another id", code="twice"))
            layer.faults.extend(_entry_faults(file, ("advice", index), entry, known))
            if origin != "shipped":
                # what is shipped is held to it by its tests
                layer.faults.extend(_promises(file, ("advice", index), entry))
            layer.entries.setdefault(entry.id, (file, index, entry))
            layer.rules.setdefault(entry.id, rule_from(entry, origin))
    return layer


def read_pages(folder: Path, layer: Layer, known: Collection[str], sources: Mapping[str, Source]) -> dict[str, Page]:
    """The pages in a folder, by rule: files whose names begin with pages, and those written beside their rule.

    layer: the same folder as read, whose documents and faults grow; known: ids of rules; sources: by key.
    """
    documents = read_folder(folder, _is_pages, layer.faults)
    layer.documents.extend(documents)
    blind = _unreadable(layer) or any(name.startswith(UNREADABLE) for name in (*layer.entries, *layer.sources))
    pages: dict[str, Page] = {}
    page_files: dict[str, str] = {}
    for document in documents:
        content = convert(document, PagesFile, layer.faults, "CHECKLIST_ROWS") or PagesFile()
        for rule_id, page in content.page.items():
            path = ("page", rule_id)
            if rule_id not in known and not blind:
                hint = did_you_mean(rule_id, known)
                layer.faults.append(
                    Fault(document.file, path, f"no rule {rule_id!r}", hint, at_key=True, code="unknown-rule")
                )
            if rule_id in page_files:
                what = f"a second page, the first is in {page_files[rule_id]}"
                layer.faults.append(Fault(document.file, path, what, "keep one", at_key=True, code="twice"))
            page_files.setdefault(rule_id, document.file)
            layer.faults.extend(_page_faults(document.file, path, page, None if blind else sources))
            pages[rule_id] = page
    for rule_id, (_, _, entry) in layer.entries.items():
        inline = entry.page or Page()
        fires, near_miss = entry.fires or inline.fires, entry.near_miss or inline.near_miss
        if entry.page or fires or near_miss:
            pages[rule_id] = msgspec.structs.replace(inline, fires=fires, near_miss=near_miss)
    return pages


def _unreadable(layer: Layer) -> bool:
    return any(not fault.path for fault in layer.faults)


def _has_others(folder: Path) -> bool:
    others = ("aircraft", *_OTHERS)
    return any((folder / name).exists() for name in others) or any(folder.glob("pages*.toml"))


def _add_windows(layer: Layer, file: str, table: Mapping[str, WindowMinutes]) -> None:
    for group, row in table.items():
        path = ("windows", group)
        if group in layer.windows:
            layer.faults.append(Fault(file, path, "given a second time", "keep one", code="twice"))
        for name, (start, end) in (("walk_round", row.walk_round), ("doors_open", row.doors_open)):
            if start >= end:
                layer.faults.append(
                    Fault(
                        file,
                        (*path, name),
                        "ends before it starts",
                        "write the earlier time first",
                        code="window-order",
                    )
                )
        if row.take_off_treated < row.take_off:
            what = "earlier than take_off"
            layer.faults.append(
                Fault(
                    file,
                    (*path, "take_off_treated"),
                    what,
                    "treatment takes time: write the later",
                    code="window-order",
                )
            )
        layer.windows[group] = row


def _entry_faults(
    file: str, path: tuple[str | int, ...], entry: Entry, sources: Mapping[str, Source] | None
) -> Iterator[Fault]:
    if sources is not None and entry.source not in sources:
        what = f"unknown source {entry.source!r}"
        yield Fault(file, (*path, "source"), what, _source_hint(entry.source, sources), code="unknown-source")
    if not entry.classes:
        yield Fault(
            file, (*path, "classes"), "an empty list", "name a class, or leave the field out for all", code="empty"
        )
    if entry.kind != "request":
        leads: list[tuple[str, ...]] = [("lead_min",)] if entry.lead_min is not None else []
        leads += [("lead_by_station", station) for station in entry.lead_by_station]
        leads += [("class", name, "lead_min") for name, one in entry.overrides.items() if one.lead_min is not None]
        for lead in leads:
            hint = 'leave it out, or kind = "request"'
            yield Fault(file, (*path, *lead), f"a {entry.kind} has no latest time", hint, code="lead")
    yield from _wording_faults(file, path, entry)
    if entry.must_when is not None:
        raised = Override(text=entry.must_text, more=entry.must_more, when=entry.must_when)
        for fault in _wording_faults(file, path, raised):
            yield msgspec.structs.replace(fault, path=(*path, f"must_{fault.path[-1]}"))
        if entry.weight == "must" and not _said_differently(entry):
            hint = 'leave it out, add must_text, or weight = "should"'
            yield Fault(file, (*path, "must_when"), "the rule is a must already", hint, code="must-when")
    elif entry.must_text is not None or entry.must_more:
        name = "must_text" if entry.must_text is not None else "must_more"
        yield Fault(file, (*path, name), "nothing says when", "add must_when", code="must-when")
    for class_id, override in entry.overrides.items():
        inner = (*path, "class", class_id)
        if class_id not in entry.classes:
            yield Fault(
                file,
                inner,
                f"the rule does not hold for {class_id}",
                "add it to classes",
                at_key=True,
                code="unknown-class",
            )
        yield from _wording_faults(file, inner, override)
        for name, text in (("must_text", override.must_text), ("must_more", override.must_more)):
            if text is not None and entry.must_when is None:
                yield Fault(file, (*inner, name), "nothing says when", "add must_when to the rule", code="must-when")
        for fault in _wording_faults(file, inner, Override(text=override.must_text, more=override.must_more)):
            yield msgspec.structs.replace(fault, path=(*inner, f"must_{fault.path[-1]}"))
    if entry.page is not None:
        yield from _page_faults(file, (*path, "page"), entry.page, sources)


def _said_differently(entry: Entry) -> bool:
    """Whether must_when changes any words."""
    own = entry.must_text is not None or bool(entry.must_more)
    return own or any(one.must_text is not None or one.must_more for one in entry.overrides.values())


def _wording_faults(file: str, path: tuple[str | int, ...], part: Entry | Override) -> Iterator[Fault]:
    if part.when is not None:
        try:
            compiled(part.when)
        except ConditionError as error:
            yield Fault(file, (*path, "when"), error.what, error.hint, offset=error.offset, code="condition")
    if part.during is not None and not phases(part.during):
        yield Fault(file, (*path, "during"), "an empty list", "name a phase", code="empty")
    if part.text is not None and not part.text.strip():
        yield Fault(file, (*path, "text"), "an empty text", "say what to do", code="empty")
    for name in ("text", "more", "short", "likely_text", "possible_text"):
        text = getattr(part, name)
        if not text or ("{" not in text and "}" not in text):
            continue
        for match in PLACEHOLDER.finditer(text):
            if match[1] not in QUANTITIES:
                what, hint = f"unknown quantity {match[1]!r}", meant(match[1], QUANTITIES)
                yield Fault(file, (*path, name), what, hint, offset=match.start(1), code="placeholder")
        bare = PLACEHOLDER.sub(lambda match: "_" * len(match[0]), text)
        alone = re.search(r"[{}]", bare)
        if alone:
            yield Fault(
                file, (*path, name), f"{alone[0]!r} alone", "write {quantity}", offset=alone.start(), code="placeholder"
            )


def _promises(file: str, path: tuple[str | int, ...], entry: Entry) -> Iterator[Fault]:
    """Words that promise what only an inspection can tell."""
    # its patterns are not needed for what is shipped
    from advisor.checklist.promises import promise

    parts: list[tuple[tuple[str | int, ...], Entry | Override]] = [(path, entry)]
    parts += [((*path, "class", name), one) for name, one in entry.overrides.items()]
    for where, part in parts:
        for name in ("text", "more", "must_text", "must_more", "short", "likely_text", "possible_text"):
            match = promise(getattr(part, name) or "")
            if match is not None:
                what, hint = f"{match[0].strip()!r} promises what only an inspection can tell", "say what to look at"
                yield Fault(file, (*where, name), what, hint, offset=match.start(), code="promise")


def _page_faults(
    file: str, path: tuple[str | int, ...], page: Page, sources: Mapping[str, Source] | None
) -> Iterator[Fault]:
    for index, key in enumerate(page.references):
        if sources is not None and key not in sources:
            yield Fault(
                file,
                (*path, "references", index),
                f"unknown source {key!r}",
                _source_hint(key, sources),
                code="unknown-source",
            )


def _source_hint(key: str, sources: Mapping[str, Source]) -> str:
    hint = did_you_mean(key, sources)
    return hint if hint.startswith("did") else "add a [[source]] with this key, a title and a locator"

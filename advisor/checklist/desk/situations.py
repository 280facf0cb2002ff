"""The situations that a folder's rules are tried in, each with where it is written."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from advisor.checklist.revision import ReadChecklist
from advisor.checklist.rules import Page, Situation
from advisor.checklist.show import unknown_rule
from advisor.checklist.toml.faults import placed
from advisor.checklist.toml.files import Document, Fault

FIRES, NEAR_MISS = "fires", "near_miss"


class WrittenSituation(msgspec.Struct, frozen=True):
    """One situation: of which rule, whether the rule should come up in it, and where it is written."""

    rule: str
    name: str
    situation: Situation
    file: str
    line: int


def situations(reading: ReadChecklist, rule_id: str | None = None) -> tuple[WrittenSituation, ...]:
    """Those that the folder writes itself; of one rule also those that are shipped with it, where it has none.

    Raises AdvisorError for an id that no rule has.
    """
    if rule_id is not None and reading.checklist.rule(rule_id) is None:
        raise unknown_rule(rule_id, reading.checklist)
    own = _documents(reading, own=True)
    written = [one for one in _found(reading, own) if rule_id in (None, one.rule)]
    if not written and rule_id is not None:
        shipped = _documents(reading, own=False)
        written = [one for one in _found(reading, shipped) if one.rule == rule_id]
    return tuple(written)


def without(reading: ReadChecklist) -> tuple[str, ...]:
    """The folder's rules that it writes no situation for."""
    tried = {one.rule for one in _found(reading, _documents(reading, own=True))}
    return tuple(rule.id for rule in reading.checklist.rules if rule.origin == "operator" and rule.id not in tried)


def _documents(reading: ReadChecklist, *, own: bool) -> list[Document]:
    layer = reading.over if own else reading.base
    return [] if layer is None else layer.documents


def _found(reading: ReadChecklist, documents: list[Document]) -> Iterator[WrittenSituation]:
    by_file = {one.file: one for one in documents}
    for document in documents:
        for rule_id, name, path in _paths(document):
            page = reading.pages.get(rule_id, Page())
            situation: Situation | None = getattr(page, name)
            if situation is not None:
                [at] = placed([Fault(document.file, path, "")], by_file)
                yield WrittenSituation(rule_id, name, situation, at.file, at.line)


def _paths(document: Document) -> Iterator[tuple[str, str, tuple[str | int, ...]]]:
    """Every situation of a file: rule, name, and the path to it."""
    data = document.data or {}
    for rule_id, page in data.get("page", {}).items():
        yield from ((rule_id, name, ("page", rule_id, name)) for name in (FIRES, NEAR_MISS) if name in page)
    for index, row in enumerate(data.get("advice", ())):
        for name in (FIRES, NEAR_MISS):
            if name in row:
                yield row["id"], name, ("advice", index, name)
            elif name in row.get("page", {}):
                yield row["id"], name, ("advice", index, "page", name)

"""The fingerprint of a checklist, by construction: every field of every structure counts, unless the field says not.

A field says so by the mark APART; one with the mark CONDITION counts by what it asks, whatever its spacing. Pure.
"""

from __future__ import annotations

import hashlib
from functools import cache
from math import isnan
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

import msgspec

from advisor.checklist.rules import Checklist, Rule, compiled

DIGITS = 16


def fingerprint(checklist: Checklist) -> str:
    """Sixteen hex digits over all that decides advice: head, rules, windows, profiles with their limits, sources."""
    rules = tuple(sorted(checklist.rules, key=lambda rule: rule.id))
    said = [content(msgspec.structs.replace(checklist, rules=rules)), content(checklist.used_sources)]
    return hashlib.sha256(msgspec.json.encode(said)).hexdigest()[:DIGITS]


def content(value: Any) -> Any:
    """What a value says, as plain lists and tables: structures field by field, names included."""
    if isinstance(value, msgspec.Struct):
        return {
            name: _condition(getattr(value, name)) if asks else content(getattr(value, name))
            for name, asks in counted(type(value))
        }
    if isinstance(value, dict):
        return {str(key): content(value[key]) for key in sorted(value)}
    if isinstance(value, (tuple, list)):
        return [content(one) for one in value]
    return None if isinstance(value, float) and isnan(value) else value


def same(one: Rule, other: Rule) -> bool:
    """Whether two rules say the same, whatever their spacing and whoever wrote them."""
    return bool(content(one) == content(other))


@cache
def counted(kind: type[msgspec.Struct]) -> tuple[tuple[str, bool], ...]:
    """The fields of a structure that count, each with whether it is a condition."""
    found = []
    for field in msgspec.structs.fields(kind):
        marks = {name: mark for extra in _extras(field.type) for name, mark in extra.items()}
        if marks.get("counts", True):
            found.append((field.name, bool(marks.get("condition", False))))
    return tuple(found)


def _extras(kind: Any) -> list[dict[str, Any]]:
    if get_origin(kind) is Annotated:
        return [extra for one in kind.__metadata__ if (extra := getattr(one, "extra", None))]
    if get_origin(kind) in (Union, UnionType):
        return [extra for part in get_args(kind) for extra in _extras(part)]
    return []


def _condition(text: str | None) -> str | None:
    return None if text is None else compiled(text).canonical

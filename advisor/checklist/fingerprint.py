"""The fingerprint of a checklist, by construction: every field of every structure counts, unless the field says not.

A field says so by the mark APART; a condition, a field of the type When, counts by what it asks, whatever its spacing.
Pure.
"""

from __future__ import annotations

import hashlib
import inspect
import re
from functools import cache
from math import isnan
from typing import Any

import msgspec

from advisor.checklist.rules import Checklist, Rule, compiled

DIGITS = 16
# what says what it is; most of a checklist is such
_PLAIN = frozenset({str, int, bool, type(None)})
_APART, _CONDITION = re.compile(r"\bAPART\b"), re.compile(r"\bWhen\b")


def fingerprint(checklist: Checklist) -> str:
    """Sixteen hex digits over all that decides advice: head, rules, windows, profiles with their limits, sources."""
    rules = tuple(sorted(checklist.rules, key=lambda rule: rule.id))
    said = [content(msgspec.structs.replace(checklist, rules=rules)), content(checklist.used_sources)]
    return hashlib.sha256(msgspec.json.encode(said)).hexdigest()[:DIGITS]


def content(value: Any) -> Any:
    """What a value says, as plain lists and tables: structures field by field, names included."""
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, msgspec.Struct):
        fields = {}
        for name, asks in counted(type(value)):
            held = getattr(value, name)
            if asks and held is not None:
                held = compiled(held).canonical
            fields[name] = held if type(held) in _PLAIN else content(held)
        return fields
    if isinstance(value, dict):
        return {str(key): content(value[key]) for key in sorted(value)}
    if isinstance(value, (tuple, list)):
        return [one if type(one) in _PLAIN else content(one) for one in value]
    return None if isinstance(value, float) and isnan(value) else value


def same(one: Rule, other: Rule) -> bool:
    """Whether two rules say the same, whatever their spacing and whoever wrote them."""
    return bool(content(one) == content(other))


@cache
def counted(kind: type[msgspec.Struct]) -> tuple[tuple[str, bool], ...]:
    """The fields of a structure that count, each with whether it is a condition.

    The marks are looked for in the text of a field's annotation: to resolve all types would cost more than all else.
    """
    written: dict[str, str] = {}
    for one in reversed(kind.__mro__):
        written |= {name: str(text) for name, text in inspect.get_annotations(one).items()}
    return tuple(
        (name, bool(_CONDITION.search(written[name])))
        for name in kind.__struct_fields__
        if not _APART.search(written[name])
    )

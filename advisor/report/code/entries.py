"""What a group of a report becomes in the ledger, and the row of a table that recognises it."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import nan
from typing import NamedTuple

from advisor.quantities.units import KT_PER_KM_H, KT_PER_M_S
from advisor.report.model import CONFLICT, NOT_DECODED, Group

KT_PER = {"KT": 1.0, "KTS": 1.0, "MPS": KT_PER_M_S, "KMH": KT_PER_KM_H}
LONGEST_TOKEN = 60
_NO_NUMBERS: dict[str, float] = {}


class LedgerEntry(NamedTuple):
    """One group with what it carries: numbers by name (NaN where coded missing) and words, in the kind's own order."""

    group: Group
    numbers: dict[str, float]
    words: tuple[str, ...]

    @property
    def kind(self) -> str:
        """The ledger's name for the group."""
        return self.group.kind


def entry(
    text: str,
    kind: str,
    status: str,
    meaning: str,
    numbers: dict[str, float] | None = None,
    words: tuple[str, ...] = (),
    part: str = "body",
) -> LedgerEntry:
    """Make an entry; numbers None means none."""
    return LedgerEntry(Group(text, status, meaning, part, kind), _NO_NUMBERS if numbers is None else numbers, words)


def changed(
    ledger_entry: LedgerEntry, *, status: str | None = None, meaning: str | None = None, part: str | None = None
) -> LedgerEntry:
    """Copy an entry with another status, meaning or part; a conflict carries no numbers or words any more."""
    old = ledger_entry.group
    kind = "" if status == NOT_DECODED else old.kind
    group = Group(old.text, status or old.status, meaning or old.meaning, part or old.part, kind)
    if status in (CONFLICT, NOT_DECODED):
        return LedgerEntry(group, _NO_NUMBERS, ())
    return LedgerEntry(group, ledger_entry.numbers, ledger_entry.words)


class GroupRow:
    """One line of the table: the kind, which first letters it may have, its pattern (compiled when first needed)."""

    __slots__ = ("_pattern", "first", "kind", "regex", "say")

    def __init__(self, kind: str, first: str, regex: str, say: Callable[[re.Match[str], bool], LedgerEntry]) -> None:
        self.kind, self.first, self.regex, self.say = kind, first, regex, say
        self._pattern: re.Pattern[str] | None = None

    def read(self, token: str, us: bool) -> LedgerEntry | None:
        """Return the entry where the whole token fits."""
        if self._pattern is None:
            self._pattern = re.compile(self.regex, re.ASCII)
        match = self._pattern.fullmatch(token)
        return None if match is None else self.say(match, us)


def number(text: str | None) -> float:
    """Read digits behind an optional M or minus (negative) or P (more than); NaN where coded missing."""
    if not text or "/" in text or text in ("M", "MM", "XX"):
        return nan
    return -float(text[1:]) if text[0] in "M-" else float(text.lstrip("P"))


def fraction(text: str) -> float:
    """Read "1 1/2", "3/4" or "10"; M or P in front is left out. NaN where it divides by zero."""
    total = 0.0
    for part in text.lstrip("MP").split():
        over, slash, under = part.partition("/")
        if slash and not float(under):
            return nan
        total += float(over) / float(under) if slash else float(over)
    return total


def as_written(ledger_entry: LedgerEntry, text: str) -> LedgerEntry:
    """The same entry under the text that really stood there."""
    old = ledger_entry.group
    return entry(text, old.kind, old.status, old.meaning, ledger_entry.numbers, ledger_entry.words, old.part)

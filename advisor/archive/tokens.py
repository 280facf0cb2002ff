"""Each distinct token of an archive, known by a number, with what its text alone tells of its place in a report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.archive import effects
from advisor.archive.effects import Effect, effect
from advisor.report.code.entries import LedgerEntry, changed
from advisor.report.code.groups import body
from advisor.report.code.ledger import (
    LONGEST_BEGINNING,
    SLASHES,
    TRENDS,
    after_nosig,
    begins_remarks,
    in_trend,
    modifier,
    placed,
    taken,
)
from advisor.report.code.remarks import LONGEST_REACH, begins, changes, reach, remark_at, single
from advisor.report.metar import TIME, TYPES, could_be_station

Ids = NDArray[np.int64]
# parts of a report
BODY, TREND, LATE, REMARKS = range(4)
# bits of a token's text
(
    IS_TYPE,
    IS_SPECIAL,
    IS_STATION,
    IS_TIME,
    IS_MODIFIER,
    IS_SLASHES,
    IS_SHORT,
    BEGINS,
    IS_V,
    IS_CHANGES,
    IS_ODD,
    IS_SHEAR,
    HAS_DIGIT,
) = (1 << at for at in range(13))
# more than this many are forgotten and learned anew, so that memory stays bounded
MOST_TOKENS = 1_000_000


class Tokens:
    """Tokens by number, and the effects that they have in each part of a report, for one set of national rules.

    us: United States rules; canada: Canadian ones.
    """

    def __init__(self, us: bool, canada: bool) -> None:
        self.us, self.canada = us, canada
        self.forget()

    def forget(self) -> None:
        """Begin anew."""
        self.texts: list[str] = []
        self._ids: dict[str, int] = {}
        self._bits: list[int] = []
        self._marks: list[int] = []
        self._reach: list[int] = []
        self.effects: list[Effect] = []
        self._known: dict[tuple[object, ...], int] = {}
        self._remarks: dict[tuple[int, ...], tuple[int, int]] = {}
        # what is told of the weather before a report, by effects and the report's second of the day
        self.spells: dict[tuple[tuple[int, ...], int], tuple[tuple[str, float, float], ...]] = {}
        self._by_part = [np.full(0, -1, dtype=np.int32) for _ in range(4)]
        self._table: _EffectTable | None = None

    def ids(self, words: Sequence[str]) -> Ids:
        """The numbers of tokens, as written; upper and lower case are the same token."""
        known = self._ids
        numbers = [known.get(word, -1) for word in words]
        for at, number in enumerate(numbers):
            if number < 0:
                numbers[at] = self._id(words[at])
        return np.array(numbers, dtype=np.int64)

    def _id(self, word: str) -> int:
        upper = word.upper()
        number = self._ids.get(upper)
        if number is None:
            number = self._ids[upper] = len(self.texts)
            self.texts.append(upper)
            self._bits.append(bits_of(upper))
            self._marks.append(mark_of(upper))
            self._reach.append(reach(upper) or 0)
        self._ids[word] = number
        return number

    def bits(self) -> NDArray[np.int32]:
        """The bits of every token so far."""
        return np.array(self._bits, dtype=np.int32)

    def marks(self) -> NDArray[np.int8]:
        """The part of a report that every token so far begins, BODY where it begins none."""
        return np.array(self._marks, dtype=np.int8)

    def reaches(self) -> NDArray[np.int8]:
        """How many tokens settle what remark each token begins, 0 for those up to the next one with a digit."""
        return np.array(self._reach, dtype=np.int8)

    def plain(self, ids: Ids, part: int) -> NDArray[np.int32]:
        """The effects of tokens by their text alone in a part of a report, each a position in effects."""
        table = self._by_part[part]
        if table.size < len(self.texts):
            table = np.concatenate([table, np.full(len(self.texts) - table.size, -1, dtype=np.int32)])
            self._by_part[part] = table
        found = table[ids]
        for new in np.unique(ids[found < 0]):
            table[new] = self.put((part, int(new)), self._entry(self.texts[new], part), part)
        return table[ids]

    def _entry(self, word: str, part: int) -> LedgerEntry:
        if part == REMARKS:
            return single(word, self.us)
        if part == TREND:
            return changed(in_trend(word) or body(word, self.us), part="trend")
        return after_nosig(body(word, self.us)) if part == LATE else body(word, self.us)

    def of_slashes(self, word: str, done: int, following: Sequence[str]) -> int:
        """The effect of strokes in the body, which depends on what was filled before and on what follows."""
        tokens = [word, *following]
        return self.put((word, done, *following), placed(word, done, tokens, 0, self.us), BODY)

    def of_pair(self, word: str, following: str, part: int) -> tuple[int, int]:
        """The effect of a short token and whether the one behind it belongs to it, and how many tokens that is."""
        entry, took = taken([word, following], 0, self.us)
        if part == TREND:
            entry, took = (changed(in_trend(word) or entry, part="trend"), 1 if in_trend(word) else took)
        if part == LATE:
            entry = after_nosig(entry)
        return self.put((part, word, following, took), entry, part), took

    def of_remark(self, numbers: Sequence[int]) -> tuple[int, int]:
        """The effect of the remark that some tokens begin with, and how many of them it took.

        numbers: of as many tokens as settle it, or LONGEST_REACH; -1 behind the last of a report.
        """
        wide = self._reach[numbers[0]]
        if not wide:
            ends = (at for at in range(1, LONGEST_REACH) if numbers[at] < 0 or self._bits[numbers[at]] & HAS_DIGIT)
            wide = next(ends, LONGEST_REACH - 1) + 1
        key = tuple(numbers[:wide])
        remembered = self._remarks.get(key)
        if remembered is None:
            words = [self.texts[one] for one in key if one >= 0]
            entry, took = remark_at(words, 0, self.us)
            remembered = self._remarks[key] = self.put((REMARKS, *words[:took]), entry, REMARKS), took
        return remembered

    @property
    def many(self) -> bool:
        """Whether so much is remembered that it is time to forget."""
        return max(len(self.texts), len(self._remarks), len(self.spells)) > MOST_TOKENS

    def put(self, key: tuple[object, ...], entry: LedgerEntry, part: int) -> int:
        """The position of an effect, worked out where it is new."""
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = len(self.effects)
            self.effects.append(effect(entry, self.canada, once=part == BODY))
        return known

    def table(self) -> _EffectTable:
        """The effects so far as columns."""
        if self._table is None or self._table.size != len(self.effects):
            self._table = _EffectTable(self.effects)
        return self._table


class _EffectTable:
    """Effects as columns, (effect,)."""

    def __init__(self, all_: Sequence[Effect]) -> None:
        self.size = len(all_)
        self.bits = np.array([one.bits for one in all_], dtype=np.int32)
        self.what = np.array([one.what for one in all_], dtype=np.int8)
        self.once = np.array([one.once for one in all_], dtype=np.int8)
        self.slot = np.array([one.slot for one in all_], dtype=np.int8)
        shape = (len(all_), effects.MOST_NUMBERS)
        self.numbers = np.array([one.numbers for one in all_], dtype=np.float64).reshape(shape)


def bits_of(word: str) -> int:
    """What the text of a token, upper case, tells of it, as bits."""
    if not word:
        return IS_ODD
    kind = modifier(word) if word.isalpha() else None
    there = (
        (IS_TYPE, word in TYPES),
        (IS_SPECIAL, word == "SPECI"),
        (IS_STATION, could_be_station(word)),
        (IS_TIME, TIME.fullmatch(word) is not None),
        (IS_MODIFIER, kind is not None),
        (IS_SLASHES, word in SLASHES),
        (IS_SHORT, len(word) <= LONGEST_BEGINNING),
        (BEGINS, begins([word], 0)),
        (IS_V, word == "V"),
        (IS_CHANGES, changes(word)),
        # an end within a report, and what Python takes for a space and others do not
        (IS_ODD, "=" in word or not word.isascii() or any(c < " " for c in word)),
        (IS_SHEAR, word == "WS"),
        (HAS_DIGIT, any(c.isdigit() for c in word)),
    )
    return sum(bit for bit, holds in there if holds)


def mark_of(word: str) -> int:
    """The part of a report that a token, upper case, begins; BODY for none."""
    if begins_remarks(word):
        return REMARKS
    if word in TRENDS:
        return LATE if word == "NOSIG" else TREND
    return BODY

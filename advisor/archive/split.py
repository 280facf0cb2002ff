"""Reports as tokens, each with its effect: which part of the report it stands in, and what belongs together."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive import tokens as tk
from advisor.archive.extra import distinct, first_places, library
from advisor.archive.table import Bools
from advisor.archive.tokens import BODY, LATE, REMARKS, TREND, Ids, Tokens
from advisor.report.code.remarks import LONGEST_REACH
from advisor.report.metar import LONGEST_REPORT

Rows = NDArray[np.intp]
BLANK = ord(" ")
# how many tokens follow strokes
FOLLOWING = 5


class Split:
    """The tokens of some reports behind their headers, in order, with the effect of each.

    row: which report each token is of; effect: its position among the effects, -1 where it belongs to the token before
    or begins a part; whole: reports that have to be read in full; special: SPECI.
    """

    def __init__(self, column: Any, tokens: Tokens) -> None:
        """column: an Arrow array of their texts."""
        self.tokens = tokens
        compute = library("pyarrow.compute")
        # an end at the end says nothing, one in the middle is for the full reader
        plain = compute.ascii_ltrim_whitespace(compute.utf8_rtrim(column, "= \n\r\t"))
        offsets, words = _words(plain)
        flat = words.dictionary_encode()
        known = tokens.ids([word.lstrip(" ") for word in flat.dictionary.to_pylist()])
        ids: Ids = known.take(flat.indices.to_numpy())
        long = compute.greater(compute.utf8_length(column), LONGEST_REPORT).to_numpy(zero_copy_only=False)
        self.whole: Bools = np.asarray(long, dtype=np.bool_).copy()
        bits = tokens.bits()
        starts, ends = offsets[:-1], offsets[1:]
        begin, self.special = _headers(ids, bits, starts, ends, self.whole)
        sizes, of_each = ends - starts, bits[ids]
        every = np.repeat(np.arange(starts.size), sizes)
        self.whole[every[np.flatnonzero(of_each & tk.IS_ODD)]] = True
        keep = np.flatnonzero((np.arange(ids.size) >= np.repeat(begin, sizes)) & np.repeat(~self.whole, sizes))
        self.row: Rows = every[keep]
        self.ids: Ids = ids[keep]
        self.bits = of_each[keep]
        self.first = np.r_[True, self.row[1:] != self.row[:-1]] if self.row.size else np.zeros(0, dtype=np.bool_)
        self.part = self._parts()
        self.effect = np.full(self.ids.size, -1, dtype=np.int32)
        self._place()

    def _parts(self) -> NDArray[np.int8]:
        """The part in which each token stands; tokens that begin one have none, -1."""
        marks, position = self.tokens.marks()[self.ids], np.arange(self.ids.size)
        begin = np.flatnonzero(marks == REMARKS)[::-1]
        # of several the first one stands
        remarks_at = np.full(self.whole.size, self.ids.size)
        remarks_at[self.row[begin]] = begin
        behind = position - remarks_at[self.row]
        self.begins_trend = ((marks == TREND) | (marks == LATE)) & (behind < 0)
        part = np.full(self.ids.size, BODY, dtype=np.int8)
        if self.begins_trend.any():
            last = np.maximum.accumulate(np.where(self.begins_trend, position, 0))
            part = np.where(self.begins_trend[last] & (self.row[last] == self.row), marks[last], BODY).astype(np.int8)
        part[behind > 0] = REMARKS
        part[self.begins_trend | (behind == 0)] = -1
        return part

    def _place(self) -> None:
        used = np.zeros(self.ids.size, dtype=np.bool_)
        self._together(used)
        self._remarks(used)
        strokes = (self.part == BODY) & ((self.bits & tk.IS_SLASHES) > 0)
        for part in (BODY, TREND, LATE, REMARKS):
            here = np.flatnonzero((self.part == part) & ~used & ~strokes)
            self.effect[here] = self.tokens.plain(self.ids[here], part)
        self._strokes(np.flatnonzero(strokes & ~used))

    def _following(self, places: Rows, most: int) -> Ids:
        """The tokens from some on, within their reports, (place, most); -1 behind the last of a report."""
        positions = places[:, None] + np.arange(most)
        if not places.size:
            return positions
        there = np.minimum(positions, self.ids.size - 1)
        inside = (positions < self.ids.size) & (self.row[there] == self.row[places][:, None])
        return np.where(inside, self.ids[there], -1)

    def _together(self, used: Bools) -> None:
        """Short tokens before remarks: a number and the unit or fraction behind it; wind shear needs the whole."""
        short = (self.part >= BODY) & (self.part != REMARKS) & ((self.bits & tk.IS_SHORT) > 0)
        short &= ~((self.part == BODY) & ((self.bits & tk.IS_SLASHES) > 0))
        self.whole[self.row[short & ((self.bits & tk.IS_SHEAR) > 0)]] = True
        places = np.flatnonzero(short)
        token, behind = self._following(places, 2).T
        places, token, behind = (values[behind >= 0] for values in (places, token, behind))
        if not places.size:
            return
        size = len(self.tokens.texts)
        kinds, which = distinct((self.part[places].astype(np.int64) * size + token) * size + behind)
        texts = self.tokens.texts
        pairs = [
            self.tokens.of_pair(texts[pair // size % size], texts[pair % size], pair // size // size)
            for pair in kinds.tolist()
        ]
        effect, took = (np.array(values, dtype=np.int32)[which] for values in zip(*pairs, strict=True))
        # the second token of a pair begins none
        taken = np.ones(places.size, dtype=np.bool_)
        for at in np.flatnonzero((took[:-1] > 1) & (places[1:] == places[:-1] + 1)).tolist():
            if taken[at]:
                taken[at + 1] = False
        self.effect[places[taken]] = effect[taken]
        used[places[taken]] = True
        used[places[taken & (took > 1)] + 1] = True

    def _remarks(self, used: Bools) -> None:
        """Remarks of several tokens, by the ledger itself where one may begin."""
        remarks = self.part == REMARKS
        inner = np.r_[~self.first[1:], False] if self.first.size else self.first
        behind = np.r_[self.bits[1:], 0] if self.bits.size else self.bits
        may = (self.bits & tk.BEGINS) > 0
        may |= inner & ((behind & (tk.IS_V | tk.IS_CHANGES)) > 0)
        places = np.flatnonzero(remarks & may)
        effect, took = np.zeros((2, places.size), dtype=np.int32)
        reach = self.tokens.reaches()[self.ids[places]]
        for most in np.unique(reach).tolist():
            here = np.flatnonzero(reach == most)
            following = self._following(places[here], most or LONGEST_REACH)
            which, first = alike(following)
            pairs = np.array([self.tokens.of_remark(one) for one in following[first].tolist()], dtype=np.int32)
            effect[here], took[here] = pairs[which].T
        taken = _apart(places, places + took)
        places, took = places[taken], took[taken]
        self.effect[places] = effect[taken]
        used[np.repeat(places, took) + np.arange(took.sum()) - np.repeat(np.cumsum(took) - took, took)] = True

    def _strokes(self, places: Rows) -> None:
        """Strokes in the body, in order: which group each stands for."""
        texts = self.tokens.texts
        starts = np.flatnonzero(self.first)
        start_of = starts[np.searchsorted(starts, places, side="right") - 1] if places.size else places
        following = self._following(places, FOLLOWING + 1)[:, 1:].tolist()
        for place, start, behind in zip(places.tolist(), start_of.tolist(), following, strict=True):
            done = 0
            for before in range(start, place):
                if self.part[before] == BODY and self.effect[before] >= 0:
                    done = max(done, self.tokens.effects[self.effect[before]].slot)
            self.effect[place] = self.tokens.of_slashes(
                texts[self.ids[place]], done, [texts[one] for one in behind if one >= 0]
            )


def _words(plain: Any) -> tuple[Ids, Any]:
    """Where the words of each text begin among all, with the end of the last, and the words, as an Arrow array.

    plain: texts without blanks at either end. A word may have a blank before it.
    """
    arrow = library("pyarrow")
    offsets = np.frombuffer(plain.buffers()[1], dtype=np.int64)[plain.offset : plain.offset + len(plain) + 1]
    data = plain.buffers()[2]
    text = np.frombuffer(data, dtype=np.uint8)[offsets[0] : offsets[-1]] if len(plain) and data is not None else None
    if text is not None and text.size < 1 << 31 and np.all(offsets[1:] > offsets[:-1]) and text.min() >= BLANK:
        # one blank between two words, as nearly all are written: every word begins at a blank or with its text
        breaks = text == BLANK
        breaks[offsets[:-1] - offsets[0]] = True
        begins = np.flatnonzero(breaks)
        blank = text[begins] == BLANK
        if not (blank[:-1] & (np.diff(begins) == 1)).any():
            ends = arrow.py_buffer(np.append(begins, text.size).astype(np.int32))
            words = arrow.Array.from_buffers(arrow.string(), begins.size, [None, ends, arrow.py_buffer(text)])
            return np.append(np.flatnonzero(~blank), begins.size), words
    lists = library("pyarrow.compute").ascii_split_whitespace(plain)
    return np.asarray(lists.offsets.to_numpy(), dtype=np.int64), lists.values


def _apart(places: Rows, ends: Rows) -> Rows:
    """Of spans in the order of their beginnings those that do not begin within one that is taken before."""
    if not places.size:
        return places
    # where everything before has ended nothing hangs on what was taken
    taken = np.r_[True, places[1:] >= np.maximum.accumulate(ends)[:-1]]
    end = 0
    for span in np.flatnonzero(~taken).tolist():
        if taken[span - 1]:
            end = ends[span - 1]
        taken[span] = places[span] >= end
    return np.flatnonzero(taken)


def alike(table: NDArray[Any]) -> tuple[Rows, Rows]:
    """Which of the distinct rows of a table of numbers each row is, and where each distinct one first stands."""
    key = table[:, 0].astype(np.int64)
    low, high = int(table.min(initial=0)), int(table.max(initial=0)) + 1
    for column in table.T[1:]:
        key = distinct(key)[1] * (high - low) + (column - low)
    kinds, which = distinct(key)
    return which, first_places(which, kinds.size)


def _headers(ids: Ids, bits: NDArray[np.int32], starts: Ids, ends: Ids, whole: Bools) -> tuple[Ids, Bools]:
    """Where the groups behind the header begin, and which are special; other headers are read in full."""
    padded = np.r_[bits[ids], np.zeros(4, dtype=np.int32)]
    token = starts.copy()
    typed = (padded[token] & tk.IS_TYPE) > 0
    special: Bools = (padded[token] & tk.IS_SPECIAL) > 0
    token = token + typed
    mended = ((padded[token] & tk.IS_MODIFIER) > 0) & ((padded[token] & tk.IS_STATION) == 0)
    token = token + mended
    plain = ((padded[token] & tk.IS_STATION) > 0) & ((padded[token + 1] & tk.IS_TIME) > 0) & (token + 1 < ends)
    whole |= ~plain
    return token + 2, special


__all__ = ["Split", "alike"]

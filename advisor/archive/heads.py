"""The headings of reports, many at once: station, day and time, and whether a report corrects another.

Most headings stand letter by letter where they are expected; those are looked at as bytes, and all others by a pattern
that says the same as the one in order.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive.extra import library
from advisor.archive.table import Bools

# the same as in order.py, in the words of RE2, which looks at many rows at once
_HEAD = (
    r"^(?:(?:METAR|SPECI)\s+)?(?P<first>COR\s+)?(?P<station>[A-Z][A-Z0-9]{3})\s+(?P<time>\d{6})Z?"
    r"(?P<second>(?:\s+(?:AUTO|COR|CC[A-Z]))*)(?:[\s=]|$)"
)
_UNEVEN = r"\s\s|[\t\n\r\f\v]"
HEAD_LENGTH = 64
# letters of "ZZZA 100550Z" with what follows it and one letter more
_LETTERS = 14
_TYPES = (b"METAR ", b"SPECI ")


@dataclass
class Heads:
    """Headings, each (report,). there: whether one was found; clock: day, hour and minute as a number of six digits."""

    there: Bools
    station: NDArray[np.str_]
    clock: NDArray[np.int64]
    corrects: Bools


def heads(text: Any) -> Heads:
    """The headings of texts, an Arrow array without gaps, no space before them."""
    headings = _plain(text)
    rest = np.flatnonzero(~headings.there)
    if rest.size:
        others = _by_pattern(text.take(library("pyarrow").array(rest)))
        headings.there[rest], headings.station[rest] = others.there, others.station
        headings.clock[rest], headings.corrects[rest] = others.clock, others.corrects
    return headings


def uneven(text: Any) -> Bools:
    """Where words are not parted by one space each."""
    data = _bytes(text)[1]
    if not (data < ord(" ")).any() and not ((data[1:] == ord(" ")) & (data[:-1] == ord(" "))).any():
        return np.zeros(len(text), dtype=np.bool_)
    found = library("pyarrow.compute").match_substring_regex(text, _UNEVEN)
    return np.asarray(found.to_numpy(zero_copy_only=False), dtype=np.bool_)


def _bytes(text: Any) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """Where each text begins in the bytes of all of them, with the end of the last, and the bytes."""
    _, offsets, data = text.buffers()
    begins = np.frombuffer(offsets, dtype=np.int64)[text.offset : text.offset + len(text) + 1]
    every = np.zeros(0, dtype=np.uint8) if data is None else np.frombuffer(data, dtype=np.uint8)
    return begins - begins[0], every[begins[0] : begins[-1]]


def _plain(text: Any) -> Heads:
    """Headings like "METAR ZZZA 100550Z 24", with or without the first word; of others nothing is said."""
    begins, data = _bytes(text)
    size = len(text)
    data = np.concatenate([data, np.zeros(2 * _LETTERS, dtype=np.uint8)])
    start, end = begins[:-1], begins[1:]
    first = data[start + np.arange(len(_TYPES[0]))[:, None]]
    typed = np.zeros(size, dtype=np.bool_)
    for word in _TYPES:
        typed |= (first == np.frombuffer(word, dtype=np.uint8)[:, None]).all(axis=0)
    start = start + len(_TYPES[0]) * typed
    letters = data[start + np.arange(_LETTERS)[:, None]]
    capital, digit = (letters >= ord("A")) & (letters <= ord("Z")), (letters >= ord("0")) & (letters <= ord("9"))
    there = (start + _LETTERS <= end) & capital[0] & (capital[1:4] | digit[1:4]).all(axis=0) & digit[5:11].all(axis=0)
    for at, letter in ((4, " "), (11, "Z"), (12, " ")):
        there &= letters[at] == ord(letter)
    # what follows is neither a mark of a correction nor of an automatic station, nor an end
    there &= (letters[13] > ord(" ")) & ~np.isin(letters[13], list(b"AC="))
    clock = np.zeros(size, dtype=np.int64)
    for row in letters[5:11]:
        clock = clock * 10 + (row.astype(np.int64) - ord("0"))
    code = np.zeros(size, dtype=np.int64)
    for row in letters[:4]:
        code = code * 256 + row
    runs = np.flatnonzero(np.r_[True, code[1:] != code[:-1]]) if size else np.zeros(0, dtype=np.intp)
    distinct, which = np.unique(code[runs], return_inverse=True)
    names = np.array([int(one).to_bytes(4, "big").decode("latin-1") for one in distinct] or [""], dtype="<U4")
    station = np.repeat(names[which], np.diff(np.r_[runs, size])) if size else np.zeros(0, dtype="<U4")
    return Heads(there, station, np.where(there, clock, 0), np.zeros(size, dtype=np.bool_))


def _by_pattern(text: Any) -> Heads:
    arrow, compute = library("pyarrow"), library("pyarrow.compute")
    head = compute.extract_regex(compute.ascii_upper(compute.utf8_slice_codeunits(text, 0, HEAD_LENGTH)), _HEAD)
    there = np.asarray(compute.is_valid(head).to_numpy(zero_copy_only=False), dtype=np.bool_)

    def part(name: str, otherwise: str = "") -> Any:
        return compute.fill_null(compute.struct_field(head, name), otherwise)

    named = part("station").dictionary_encode()
    names = np.array(named.dictionary.to_pylist() or [""], dtype="<U4")
    clock = compute.cast(part("time", "0"), arrow.int64()).to_numpy()
    corrects = compute.or_(compute.not_equal(part("first"), ""), compute.match_substring(part("second"), "C"))
    return Heads(there, names[named.indices.to_numpy()], clock, corrects.to_numpy(zero_copy_only=False))

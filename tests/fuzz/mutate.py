"""Changes to a text that keep its structure for the most part: groups, lines, keys, elements, numbers."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from random import Random

# what has gone wrong somewhere before, and signs that mean something to one of the readers
ODD = [
    "",
    "/",
    "//",
    "///",
    "=",
    "$",
    "-",
    "+",
    "0",
    "00",
    "9" * 9,
    "1/0SM",
    "910SM",
    "P7770",
    "PK WND 68545/15",
    "P6SM",
    "99099KT",
    "240P99G//MPS",
    "RMK",
    "TEMPO",
    "BECMG",
    "FM9999",
    "PROB30",
    "NIL",
    "nan",
    "inf",
    "-1e999",
    "1_0",
    "\u0661",
    "\u202e",
    "\x00",
    "\ud7ff",
    "\u2028",
    '"',
    "'",
    "\\",
    "[",
    "]",
    "{",
    "}",
    "<",
    ">",
    "&amp;",
    "not",
    "and",
    "(",
    ")",
    "in ()",
    ",",
    ";",
    "\t",
    "2027-02-30T25:61:00Z",
    "9999-12-31T23:59:59Z",
    "true",
    "null",
    "[[",
    "]]",
    "%",
    "{wind_kt}",
    "A" * 300,
    "SN/",
    "REXX",
    "M00/M00",
    "OVC000",
    "VV///",
    "-FZRASN",
    "Q0000",
    "A9999",
    "T19991999",
]
_PARTS = re.compile(r"\s+|[<>=\",;{}\[\]()]|[^\s<>=\",;{}\[\]()]+")


def mutated(random: Random, seeds: Sequence[str]) -> str:
    """One of the seeds with one to six changes."""
    parts = _PARTS.findall(random.choice(seeds))
    for _ in range(random.choice((1, 1, 1, 2, 2, 3, 4, 6))):
        random.choice(CHANGES)(random, parts, seeds)
    return "".join(parts)


def _at(random: Random, parts: list[str]) -> int:
    return random.randrange(len(parts)) if parts else 0


def _drop(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    at = _at(random, parts)
    del parts[at : at + random.choice((1, 1, 2, 5))]


def _twice(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    at = _at(random, parts)
    cut = parts[at : at + random.choice((1, 2, 8))]
    parts[at:at] = cut * random.choice((1, 1, 1, 2, 30))


def _swap(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    if parts:
        one, other = _at(random, parts), _at(random, parts)
        parts[one], parts[other] = parts[other], parts[one]


def _other(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    """A part, or some, from another seed."""
    found = _PARTS.findall(random.choice(seeds))
    at, there, size = _at(random, parts), _at(random, found), random.choice((1, 1, 3, 12))
    parts[at : at + random.choice((0, 1, size))] = found[there : there + size]


def _odd(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    at = _at(random, parts)
    parts[at : at + random.choice((0, 1))] = [random.choice(ODD), *([" "] if random.random() < 0.5 else [])]


def _number(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    """Other digits in a part that has some."""
    having = [at for at, part in enumerate(parts) if any(sign.isdigit() for sign in part)]
    if having:
        at = random.choice(having)
        new = random.choice(("0", "9", None, "", "99999", "-", "."))
        digit = random.choice([spot for spot, sign in enumerate(parts[at]) if sign.isdigit()])
        put = str(random.randrange(10)) if new is None else new
        parts[at] = parts[at][:digit] + put + parts[at][digit + 1 :]


def _sign(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    """One sign more, fewer or another."""
    at = _at(random, parts)
    if parts:
        spot = random.randrange(len(parts[at]) + 1)
        put = random.choice(("", "", *"0123456789/ABCKMPSTVZ+- .:\n\u00e9\u0301"))
        parts[at] = parts[at][:spot] + put + parts[at][spot + random.choice((0, 1)) :]


def _cut(random: Random, parts: list[str], seeds: Sequence[str]) -> None:
    at = _at(random, parts)
    if random.random() < 0.5:
        del parts[at:]
    else:
        del parts[:at]


CHANGES: tuple[Callable[[Random, list[str], Sequence[str]], None], ...] = (
    _drop,
    _twice,
    _swap,
    _other,
    _other,
    _odd,
    _number,
    _number,
    _sign,
    _cut,
)

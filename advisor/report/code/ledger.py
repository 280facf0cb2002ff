"""The ledger over a whole report: every token goes into exactly one group, in order.

`groups.body` and `remarks.remark_at` know a group by its text; here its place decides where the text alone cannot: a
lone "//" or "M", a number and its unit or fraction in two tokens, what belongs to a trend, and a second group of a kind
that a report has only once.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import isclose, nan

from advisor.report.code.entries import LedgerEntry, changed, entry
from advisor.report.code.groups import body
from advisor.report.code.remarks import remark_at
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group

# characters of a word that may begin a group of several tokens: WS, or the whole miles before a fraction
LONGEST_BEGINNING = 2
ONCE = frozenset(("wind", "visibility", "CAVOK", "temperature", "pressure", "wind variation"))
SLASHES = frozenset(("/", "//", "///", "////", "/////", "//////", "/////////", "M", "M/M", "MM"))
TRENDS = {
    "BECMG": "trend: becoming",
    "TEMPO": "trend: at times",
    "NOSIG": "trend: no significant change in the next 2 hours",
    "INTER": "trend: now and then",
    "PROB30": "trend: 30 % probability",
    "PROB40": "trend: 40 % probability",
}
# After NOSIG there is no trend to speak of: these kinds still belong to the observation.
LATE = frozenset(
    ("runway state", "sea state", "colour state", "recent weather", "wind shear", "pressure", "cloud seen")
)
_SLOTS = ("wind", "visibility", "weather", "cloud", "temperature", "pressure")
SLOT_OF = {
    "wind": 1,
    "wind variation": 1,
    "visibility": 2,
    "minimum visibility": 2,
    "runway visual range": 2,
    "CAVOK": 4,
    "weather": 3,
    "cloud": 4,
    "vertical visibility": 4,
    "sky": 4,
    "temperature": 5,
    "pressure": 6,
}
_EMPTY: dict[str, dict[str, float]] = {
    "wind": {"direction_deg": nan, "kt": nan, "gust_kt": nan},
    "visibility": {"m": nan},
    "cloud": {"base_ft": nan},
    "temperature": {"c": nan, "dew_c": nan},
    "pressure": {"hpa": nan},
}
_EMPTY_WORDS: dict[str, tuple[str, ...]] = {"visibility": ("exactly", ""), "weather": ("//",), "cloud": ("///", "")}


def missing(text: str, kind: str) -> LedgerEntry:
    """Make the entry of a group coded missing, for a kind."""
    return entry(text, kind, DECODED, f"{kind} not reported", _EMPTY.get(kind), _EMPTY_WORDS.get(kind, ()))


def slot_of(token: str, done: int, tokens: Sequence[str], index: int, us: bool) -> LedgerEntry:
    """Tell from its place which group a lone "//" or "M" stands for.

    done: the last of the slots of a report that was filled, 0 to 6. Of the tokens, upper case, only the kinds of the
    five behind it count.
    """
    if token == "/////" and done >= 1:
        if done < 4 and any(body(other, us).kind == "temperature" for other in tokens[index + 1 : index + 6]):
            return missing(token, "visibility" if done == 1 else "cloud")
        return missing(token, "temperature")
    if token in ("///", "//////", "/////////") and done >= 1:
        return missing(token, "cloud")
    if token == "//" and done < 4:
        return missing(token, "weather")
    if token == "M/M":
        return missing(token, "temperature")
    if token == "/" and done >= 4:
        return missing(token, _SLOTS[done]) if done < 6 else entry(token, "", NOT_DECODED, "not understood")
    if done >= len(_SLOTS):
        return entry(token, "", NOT_DECODED, "a missing group, of which kind cannot be told")
    kind = _SLOTS[done]
    if kind == "weather" and token in ("M", "MM"):
        later = [body(other, us).kind for other in tokens[index + 1 : index + 6]]
        if "cloud" not in later and "sky" not in later and "temperature" in later:
            kind = "cloud"
    return missing(token, kind)


def placed(token: str, done: int, tokens: Sequence[str], index: int, us: bool) -> LedgerEntry:
    """Classify one of SLASHES in the body by its place; four strokes behind the wind are visibility."""
    return body(token, us) if token == "////" and done == 1 else slot_of(token, done, tokens, index, us)


def in_trend(token: str) -> LedgerEntry | None:
    """Classify one of SLASHES in a trend, None where it is read as any other token."""
    return missing(token, "weather") if token == "//" else None


def after_nosig(read: LedgerEntry) -> LedgerEntry:
    """What a group behind NOSIG becomes: there is no trend to speak of."""
    return read if read.kind in LATE else changed(read, status=NOT_DECODED, meaning="not understood here, after NOSIG")


def taken(tokens: Sequence[str], index: int, us: bool) -> tuple[LedgerEntry, int]:
    """Classify the body group that begins at a token, with the tokens that belong to it."""
    token = tokens[index]
    if len(token) <= LONGEST_BEGINNING and index + 1 < len(tokens):
        following = tokens[index + 1]
        if token == "WS":
            for count in (3, 2):
                longer = body(" ".join(tokens[index : index + count]), us)
                if longer.kind == "wind shear" and longer.group.text.count(" ") == min(count, len(tokens) - index) - 1:
                    return longer, longer.group.text.count(" ") + 1
        if token.isdigit() and (following.endswith("SM") or following in ("KM", "SM")):
            longer = body(f"{token} {following}", us)
            if longer.kind == "visibility":
                return longer, 2
    return body(token, us), 1


def same(first: LedgerEntry, other: LedgerEntry) -> bool:
    """Whether two groups of one kind say the same, pressures within a rounding of hectopascals and inches."""
    if first.kind == "pressure":
        a, b = first.numbers.get("hpa", nan), other.numbers.get("hpa", nan)
        return a != a or b != b or isclose(a, b, abs_tol=1.5)
    return first.words == other.words and all(
        isclose(value, other.numbers.get(name, nan), abs_tol=1e-6) or (value != value)
        for name, value in first.numbers.items()
    )


def begins_remarks(token: str) -> bool:
    """Whether remarks follow a token, upper case."""
    return token in ("RMK", "RMKS") or token[:4] in ("RMK/", "RMK:")


def sort(tokens: Sequence[str], us: bool) -> list[LedgerEntry]:
    """Sort the tokens behind the header of a report into groups.

    tokens: as written, after station and time. us: United States rules. Returns entries in order, whose texts
    joined by spaces are the tokens.
    """
    written = " ".join(tokens)
    # nearly every report is in upper case already: its own tokens then need no second copy and no comparison
    upper = tokens if written.upper() == written else [token.upper() for token in tokens]
    entries: list[LedgerEntry] = []
    seen: dict[str, int] = {}
    part, index, done, n = "body", 0, 0, len(upper)
    while index < n:
        token = upper[index]
        took = 1
        if part == "remarks":
            current, took = remark_at(upper, index, us)
        elif begins_remarks(token):
            part = "remarks"
            current = entry(token, "remarks", NOTED, "remarks follow", None, (), part)
        elif token in TRENDS:
            part = "late" if token == "NOSIG" else "trend"
            current = entry(token, "trend", DECODED, TRENDS[token], None, (token,), "trend")
        elif part == "trend":
            coded = in_trend(token)
            current, took = taken(upper, index, us) if coded is None else (coded, 1)
            current = changed(current, part="trend")
        elif part == "late":
            current, took = taken(upper, index, us)
            current = after_nosig(current)
        else:
            if token in SLASHES:
                current = placed(token, done, upper, index, us)
            elif len(token) > LONGEST_BEGINNING:
                current = body(token, us)
            else:
                current, took = taken(upper, index, us)
            kind = current.group.kind
            slot = SLOT_OF.get(kind, 0)
            if slot > done:
                done = slot
            if kind in ONCE:
                current = _only_once(current, entries, seen)
        if took == 1:
            if upper is not tokens and tokens[index] != token:
                current = _as_written(current, tokens[index])
        elif upper is not tokens and tokens[index : index + took] != upper[index : index + took]:
            current = _as_written(current, " ".join(tokens[index : index + took]))
        entries.append(current)
        index += took
    return entries


def _as_written(read: LedgerEntry, text: str) -> LedgerEntry:
    old = read.group
    return LedgerEntry(Group(text, old.status, old.meaning, old.part, old.kind), read.numbers, read.words)


def _only_once(new: LedgerEntry, entries: list[LedgerEntry], seen: dict[str, int]) -> LedgerEntry:
    """Settle a second group of a kind that a report has once: repeated, a lowest visibility, or in conflict."""
    kind = "visibility" if new.group.kind == "CAVOK" else new.group.kind
    if new.group.status == CONFLICT and kind in seen:
        return changed(new, status=NOT_DECODED, meaning="not understood")
    if kind not in seen:
        seen[kind] = len(entries)
        return new
    before = entries[seen[kind]]
    empty, silent = (bool(e.numbers) and all(v != v for v in e.numbers.values()) for e in (before, new))
    # an M that stands before a temperature may be its sign
    signed = kind == "temperature" and before.group.text == "M" and seen[kind] == len(entries) - 1
    if signed and new.group.text[:1].isdigit():
        entries[seen[kind]] = changed(
            before, status=CONFLICT, meaning="temperature not reported, or the sign of the next"
        )
        return changed(new, status=CONFLICT, meaning=f"{new.group.meaning}; the M before it may be its sign")
    if empty and not silent:
        entries[seen[kind]] = changed(before, status=NOTED)
        seen[kind] = len(entries)
        return new
    if before.group.status == CONFLICT or same(before, new):
        return new if kind == "pressure" else changed(new, status=NOTED, meaning=new.group.meaning + " (said again)")
    if new.kind == before.kind == "visibility" and new.numbers.get("m", nan) < before.numbers.get("m", nan):
        how, shown = new.words[:2]
        return entry(
            new.group.text, "minimum visibility", DECODED, f"lowest visibility {shown}", new.numbers, (how, shown, "")
        )
    entries[seen[kind]] = changed(before, status=CONFLICT, meaning=f"{before.group.meaning}; said twice, differently")
    return changed(new, status=CONFLICT, meaning=f"{new.group.meaning}; said twice, differently")


@lru_cache(maxsize=8192)
def header_entry(text: str, kind: str, meaning: str) -> LedgerEntry:
    """Make an entry of the header: type, station, time or a word such as COR."""
    return entry(text, kind, DECODED, meaning, None, (text,), "header")


def modifier(text: str) -> LedgerEntry | None:
    """Return the entry of AUTO, COR, NIL and the like, None for anything else."""
    read = body(text.upper(), False)
    return header_entry(text, "modifier", read.group.meaning) if read.kind == "modifier" else None

"""The chain: how an event is written down, and what its hash is. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec
import rfc8785

# before the first event there is none
START = "0" * 64


class Event(msgspec.Struct, frozen=True):
    """One event.

    seq: 1, 2, … over the whole record; at: RFC 3339 UTC by the server's clock; data: the walk it belongs to and what
    was said, None where it was dropped; previous: hash of the event before, 64 hexadecimal digits; hash: its own.
    """

    seq: int
    at: str
    kind: str
    data: dict[str, Any] | None
    previous: str
    hash: str

    @property
    def walk(self) -> str | None:
        """The walk it belongs to; None for what concerns the record, and for what was dropped."""
        return None if self.data is None else self.data.get("walk")


def canonical(seq: int, moment: str, kind: str, data: dict[str, Any]) -> bytes:
    """What is hashed of an event after the hash before it: canonical JSON (RFC 8785), UTF-8.

    Raises ValueError where a number or a text has no canonical form.
    """
    return rfc8785.dumps({"at": moment, "data": data, "kind": kind, "seq": seq})


def hash_of(previous: str, seq: int, at: str, kind: str, data: dict[str, Any]) -> str:
    """SHA-256 of the previous hash (its 64 digits as ASCII) and the canonical JSON of the rest, in hexadecimal."""
    return hashlib.sha256(previous.encode("ascii") + canonical(seq, at, kind, data)).hexdigest()


def following(before: tuple[int, str], moment: str, kind: str, data: dict[str, Any]) -> Event:
    """The event after one of this number and hash; (0, START) before the first."""
    seq = before[0] + 1
    return Event(seq, moment, kind, data, before[1], hash_of(before[1], seq, moment, kind, data))


def faults(events: Iterable[Event], head: tuple[int, str] | None = None) -> Iterator[str]:
    """What is wrong in a record, an event a line; nothing where the chain holds.

    events: all of them in the order of their numbers; head: the number and hash of the last one, as kept elsewhere.
    An event whose content was dropped has to be named by a later event "dropped".
    """
    seq, previous, previous_at = 0, START, ""
    bare: set[int] = set()
    for event in events:
        if event.seq != seq + 1:
            gone = f"{seq + 1}" if event.seq == seq + 2 else f"{seq + 1} to {event.seq - 1}"
            yield f"event {gone} is missing" if event.seq > seq + 1 else f"event {event.seq} stands twice"
        elif event.previous != previous:
            yield f"event {event.seq} does not follow event {seq}: the hash before it is another one"
        if event.at < previous_at:
            yield f"event {event.seq} is dated {event.at}, before the one it follows"
        if event.data is None:
            bare.add(event.seq)
        elif _spoilt(event):
            yield f"event {event.seq} was changed: its hash does not fit its content"
        elif event.kind == "dropped":
            bare -= set(event.data.get("events", ()))
        if head is not None and event.seq == head[0] and event.hash != head[1]:
            yield f"event {event.seq} is not the one that the head names"
        seq, previous, previous_at = event.seq, event.hash, event.at
    for one in sorted(bare):
        yield f"event {one} has no content, and no event says that it was dropped"
    if head is not None and head[0] > seq:
        yield f"events after {seq} are missing: the head names event {head[0]}"


def _spoilt(event: Event) -> bool:
    try:
        return hash_of(event.previous, event.seq, event.at, event.kind, event.data or {}) != event.hash
    except (ValueError, TypeError):
        return True

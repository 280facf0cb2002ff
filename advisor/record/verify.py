"""Looks whether the record is as it was written: the chain, what the tables file where, and the head."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.record.chain import START, Event, faults
from advisor.record.store import Record


def check(record: Record, head: tuple[int, str] | None = None) -> Iterator[str]:
    """What is wrong, an event a line; nothing where all of it holds.

    head: the number and hash of an event as kept elsewhere. Reading goes on while others write: the record's own head
    is looked at first, and the events that it counts have to be there.
    """
    own = record.head()
    filed: list[str] = []
    last: list[tuple[int, str]] = [(0, START)]

    def seen() -> Iterator[Event]:
        for event, walk in record.rows():
            if event.data is not None and walk != event.walk:
                filed.append(f"event {event.seq} is filed under another walk than its own")
            last[0] = event.seq, event.hash
            yield event

    yield from faults(seen(), own)
    yield from filed
    if head is not None and head != own:
        yield from _pinned(record, head, last[0])


def _pinned(record: Record, head: tuple[int, str], last: tuple[int, str]) -> Iterator[str]:
    if head[0] > last[0]:
        yield f"events after {last[0]} are missing: the head that was kept names event {head[0]}"
        return
    found = record.events(after=head[0] - 1)[:1]
    if not found or found[0].seq != head[0] or found[0].hash != head[1]:
        yield f"event {head[0]} is not the one that the head that was kept names"

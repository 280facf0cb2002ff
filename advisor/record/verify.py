"""Looks whether the record is as it was written: the chain, what is drawn from it, and the head."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from sqlalchemy import Connection, select

from advisor.record.chain import START, Event, faults
from advisor.record.database import reading
from advisor.record.derived import answer_faults, photo_faults, walk_faults
from advisor.record.store import A_FEW, Record, event_of, head_of
from advisor.record.tables import EVENT


def check(record: Record, head: tuple[int, str] | None = None, photos: Sequence[Path] = ()) -> Iterator[str]:
    """What is wrong, an event, a walk, an answer or a photo a line; nothing where all of it holds.

    head: the number and hash of an event as kept elsewhere; photos: the folders of every server of this record, none
    where photos are not looked at. All tables are read as they are at one moment, while others write.
    """
    filed: list[str] = []
    last: list[tuple[int, str, str]] = [(0, START, "")]

    with reading(record.engine) as connection:

        def seen() -> Iterator[Event]:
            for row in connection.execute(select(EVENT).order_by(EVENT.c.seq), execution_options=A_FEW):
                event = event_of(row)
                if row.walk != event.walk:
                    filed.append(f"event {event.seq} is filed under another walk than its own")
                last[0] = event.seq, event.hash, event.at
                yield event

        own = head_of(connection)
        yield from faults(seen(), own[:2])
        yield from filed
        yield from _ends(own, last[0])
        yield from walk_faults(connection)
        yield from answer_faults(connection)
        if photos:
            yield from photo_faults(record.engine, connection, photos)
        if head is not None and head != own[:2]:
            yield from _pinned(connection, head, last[0])


def _ends(own: tuple[int, str, str], last: tuple[int, str, str]) -> Iterator[str]:
    """Whether the record's own head is its last event; what lies before it the chain tells."""
    if last[0] > own[0]:
        yield f"the head names event {own[0]}, and the last one is event {last[0]}"
    elif last[0] == own[0] and last[2] != own[2]:
        yield f"the head is dated {own[2] or 'not at all'}, event {last[0]} {last[2] or 'not at all'}"


def _pinned(connection: Connection, head: tuple[int, str], last: tuple[int, str, str]) -> Iterator[str]:
    if head[0] > last[0]:
        yield f"events after {last[0]} are missing: the head that was kept names event {head[0]}"
        return
    # before the first event stands the start, which pins nothing and never goes
    there = select(EVENT.c.hash).where(EVENT.c.seq == head[0])
    if (connection.execute(there).scalar_one_or_none() if head[0] else START) != head[1]:
        yield f"event {head[0]} is not the one that the head that was kept names"

"""What is drawn from the events, beside the events: the list of walks, the answers to keys, the photos.

Each function yields a line a difference, and nothing where all of it is as the events say. connection: one look at the
database, so that what others add meanwhile is in all of its tables or in none. The database does the comparing where it
can; no more than a few rows are in memory at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, exists, func, or_, select

from advisor.record.database import reading
from advisor.record.photos import fault
from advisor.record.said import AFTER_SIGNATURE
from advisor.record.store import A_FEW, event_of
from advisor.record.tables import ANSWER, EVENT, SIGNED, WALK
from advisor.record.walk import listed

# the same table once more, where a query looks at two of its events
_OTHER = EVENT.alias("other")
_WITH_CONTENT = EVENT.c.data.is_not(None)


def walk_faults(connection: Connection) -> Iterator[str]:
    """Walks that the list lacks, tells otherwise than their events do, or has though nobody opened them."""
    signature = (
        select(func.min(_OTHER.c.seq)).where(_OTHER.c.walk == EVENT.c.walk, _OTHER.c.kind == SIGNED).scalar_subquery()
    )
    opened = (
        select(EVENT, WALK, signature.label("signature"))
        .join(WALK, WALK.c.id == EVENT.c.walk, isouter=True)
        .where(EVENT.c.kind == "opened", _WITH_CONTENT)
        .order_by(EVENT.c.seq)
    )
    for row in connection.execute(opened, execution_options=A_FEW):
        yield from _differences(row)
    yield from _unopened(connection)
    after = (
        select(EVENT.c.walk, EVENT.c.seq, EVENT.c.kind, func.min(_OTHER.c.seq).label("signature"))
        .join(_OTHER, _OTHER.c.walk == EVENT.c.walk)
        .where(_OTHER.c.kind == SIGNED, EVENT.c.seq > _OTHER.c.seq, EVENT.c.kind.not_in(AFTER_SIGNATURE))
        .group_by(EVENT.c.walk, EVENT.c.seq, EVENT.c.kind)
        .order_by(EVENT.c.seq)
    )
    for row in connection.execute(after, execution_options=A_FEW):
        late = f"event {row.seq}, {_name(row.kind)}, came after it was signed by event {row.signature}"
        yield f"walk {_name(row.walk)}: {late}"


def _differences(row: Any) -> Iterator[str]:
    """row: the event that opens a walk, the walk as it is listed, and the number of its signature."""
    event = event_of(row)
    walk = f"walk {_name(row.walk)}"
    if row.id is None:
        yield f"{walk} is not in the list of walks: event {event.seq} opened it"
        return
    try:
        told = listed(event.data or {})
    except (KeyError, TypeError):
        yield f"{walk} cannot be compared with the list of walks: event {event.seq} does not tell what it is of"
        return
    # not stated is the same whether it is written as nothing or as an empty text
    for name, value in {**told, "opened_seq": event.seq, "opened_at": event.at}.items():
        stands = row._mapping[name]
        if (stands or None) != (value or None):
            yield f"{walk}: {name} is {_value(stands)} in the list of walks, {_value(value)} in event {event.seq}"
    if row.signed_seq != row.signature:
        yield f"{walk} is {_state(row.signed_seq)} in the list of walks, {_state(row.signature)} by its events"


def _unopened(connection: Connection) -> Iterator[str]:
    """Walks in the list whose opening is not there.

    It may have been dropped while something came in: then the walk stays with what came until the next round.
    """
    first = EVENT.alias("first")
    sign = EVENT.alias("sign")
    has_more = exists().where(EVENT.c.walk == WALK.c.id)
    signature = select(func.min(_OTHER.c.seq)).where(_OTHER.c.walk == WALK.c.id, _OTHER.c.kind == SIGNED)
    query = (
        select(
            WALK,
            (has_more & (first.c.kind == "opened") & first.c.data.is_(None)).label("dropped"),
            first.c.at.label("first_at"),
            ((sign.c.kind == SIGNED) & sign.c.data.is_(None)).label("sign_dropped"),
            signature.scalar_subquery().label("signature"),
        )
        .join(first, first.c.seq == WALK.c.opened_seq, isouter=True)
        .join(sign, sign.c.seq == WALK.c.signed_seq, isouter=True)
        .where(~exists().where(_OTHER.c.walk == WALK.c.id, _OTHER.c.kind == "opened"))
        .order_by(WALK.c.id)
    )
    for row in connection.execute(query, execution_options=A_FEW):
        walk = f"walk {_name(row.id)}"
        if not row.dropped:
            yield f"{walk} is in the list of walks, and no event opened it"
            continue
        if row.opened_at != row.first_at:
            stands, value = _value(row.opened_at), _value(row.first_at)
            yield f"{walk}: opened_at is {stands} in the list of walks, {value} in event {row.opened_seq}"
        if row.signed_seq != row.signature and not row.sign_dropped:
            yield f"{walk} is {_state(row.signed_seq)} in the list of walks, {_state(row.signature)} by its events"


def answer_faults(connection: Connection) -> Iterator[str]:
    """Answers to keys that lead to no event of a walk, or to another key's. Which key made an event, no event tells."""
    lost = (
        select(ANSWER.c.key, ANSWER.c.seq)
        .join(EVENT, EVENT.c.seq == ANSWER.c.seq, isouter=True)
        .where(or_(EVENT.c.walk.is_(None), EVENT.c.data.is_(None)))
        .order_by(ANSWER.c.key)
    )
    for row in connection.execute(lost, execution_options=A_FEW):
        yield f"the answer to key {_name(row.key)} is event {_name(row.seq)}, which is none of a walk"
    twice = select(ANSWER.c.seq).group_by(ANSWER.c.seq).having(func.count() > 1).order_by(ANSWER.c.seq)
    for row in connection.execute(twice, execution_options=A_FEW):
        yield f"event {_name(row.seq)} is the answer to more than one key"


def photo_faults(engine: Engine, connection: Connection, folders: Sequence[Path]) -> Iterator[str]:
    """Photos that an event names and that are gone or changed. folders: where the servers of the record keep them."""
    named = select(EVENT).where(EVENT.c.kind == "photo", _WITH_CONTENT).order_by(EVENT.c.seq)
    for row in connection.execute(named, execution_options=A_FEW):
        event = event_of(row)
        name = (event.data or {}).get("sha256")
        wrong = fault(folders, name)
        if wrong is not None and _named_still(engine, event.seq):
            yield f"photo {_name(name)} of walk {_name(event.walk)}, named by event {event.seq}, {wrong}"


def _named_still(engine: Engine, seq: int) -> bool:
    """Whether an event has its content now: it may have been dropped since the reading began, and its photo with it."""
    with reading(engine) as connection:
        return connection.execute(select(EVENT.c.seq).where(EVENT.c.seq == seq, _WITH_CONTENT)).first() is not None


def has_photos(engine: Engine) -> bool:
    """Whether any event names a photo."""
    with reading(engine) as connection:
        return connection.execute(select(EVENT.c.seq).where(EVENT.c.kind == "photo", _WITH_CONTENT)).first() is not None


def _state(signature: Any) -> str:
    return "open" if signature is None else f"signed by event {_name(signature)}"


def _value(stored: Any) -> str:
    return "not stated" if stored is None else repr(stored)


def _name(text: Any) -> str:
    """A name as it is; what would break the line is written with its escapes."""
    return str(text) if str(text).isprintable() else repr(text)

"""Retention: the content of old walks goes, their hashes stay, and the record says that it went."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import delete, select, update
from sqlalchemy.exc import DBAPIError

from advisor.record.database import told
from advisor.record.store import Addition, Record
from advisor.record.tables import ANSWER, EVENT, WALK

# so many walks at a time, so that nobody waits long for the database
AT_ONCE = 100


def drop_older(record: Record, days: float, now: datetime, photos: Path | None = None) -> int:
    """Drop what was said on walks opened longer than some days ago. Returns how many walks.

    First the record says which events lose their content, then they lose it: a crash in between leaves content that
    could have gone, and nothing that fails a check.
    """
    until = f"{now.astimezone(UTC) - timedelta(days=days):%Y-%m-%dT%H:%M:%SZ}"
    dropped = 0
    while walks := [row["id"] for row in record.walks(until=until, most=AT_ONCE)]:
        try:
            with record.engine.connect() as connection, connection.begin():
                rows = connection.execute(select(EVENT.c.seq).where(EVENT.c.walk.in_(walks)).order_by(EVENT.c.seq))
                numbers = [int(row.seq) for row in rows]
            pictures = {name for walk in walks for name in _pictures(record, walk)}
            record.add(Addition("dropped", None, {"before": until, "walks": len(walks), "events": numbers}))
            with record.engine.connect().execution_options(write=True) as connection, connection.begin():
                # what came in between stays: the next round names it
                connection.execute(update(EVENT).where(EVENT.c.seq.in_(numbers)).values(data=None, walk=None))
                connection.execute(delete(ANSWER).where(ANSWER.c.seq.in_(numbers)))
                still = connection.execute(select(EVENT.c.walk).where(EVENT.c.walk.in_(walks))).scalars().all()
                connection.execute(delete(WALK).where(WALK.c.id.in_(set(walks) - set(still))))
        except DBAPIError as error:
            raise told(error) from None
        if photos is not None:
            _remove(photos, pictures, record)
        dropped += len(walks)
    return dropped


def _pictures(record: Record, walk: str) -> Iterable[str]:
    return [event.data["sha256"] for event in record.events(walk) if event.kind == "photo" and event.data]


def _remove(photos: Path, names: set[str], record: Record) -> None:
    """A photo goes when no walk names it any more; the same picture may belong to two."""
    if not names:
        return
    kept = {event.data["sha256"] for event in record.stream() if event.kind == "photo" and event.data}
    for name in names - kept:
        (photos / f"{name}.jpg").unlink(missing_ok=True)

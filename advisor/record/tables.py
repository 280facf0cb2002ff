"""The tables, for SQLite and PostgreSQL alike. `migrations/` makes them; this is what the code reads and writes."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    ColumnElement,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    literal_column,
    text,
)

METADATA = MetaData()

# the record itself: rows are added; only retention empties walk and data
EVENT = Table(
    "event",
    METADATA,
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False),
    Column("at", String(32), nullable=False),
    Column("kind", String(32), nullable=False),
    Column("walk", String(64), index=True),
    Column("data", Text),
    Column("previous", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
)
_SIGNED = text("kind = 'signed'")
Index("ix_event_signed", EVENT.c.walk, sqlite_where=_SIGNED, postgresql_where=_SIGNED)
# written out, not handed over as a value: only so a database sees that the index above will do
SIGNED: ColumnElement[str] = literal_column("'signed'")
# the last event; a writer holds this row while it adds
HEAD = Table(
    "head",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("at", String(32), nullable=False),
    Column("hash", String(64), nullable=False),
)
# what a list of walks needs, drawn from the events
WALK = Table(
    "walk",
    METADATA,
    Column("id", String(64), primary_key=True),
    Column("opened_seq", BigInteger, nullable=False),
    Column("opened_at", String(32), nullable=False, index=True),
    Column("brief", String(64), nullable=False),
    Column("aircraft", String(80), nullable=False),
    Column("registration", String(80)),
    Column("station", String(80)),
    Column("off_block", String(32), nullable=False),
    Column("signed_seq", BigInteger),
)
# the answer that an idempotency key was given: the event it made. key and body are SHA-256
ANSWER = Table(
    "answer",
    METADATA,
    Column("key", String(64), primary_key=True),
    Column("body", String(64), nullable=False),
    Column("seq", BigInteger, nullable=False),
)

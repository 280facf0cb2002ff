"""The record: adds events one after another, and reads them. What was answered is on the disk.

One thread writes. Whatever waits is added in one transaction, so that many telephones share the wait for the disk; the
order of the record is the order in which they came. Several programs may write to one database: each transaction holds
the head of the chain.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import groupby
from typing import Any

import msgspec
from sqlalchemy import Connection, Engine, func, insert, select, update
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError

from advisor.errors import RecordError
from advisor.record.chain import Event, following
from advisor.record.database import open_engine, reading, told
from advisor.record.said import AFTER_SIGNATURE
from advisor.record.tables import ANSWER, EVENT, HEAD, SIGNED, WALK

MOST_AT_ONCE = 256
# so many rows of a long reading are at hand at once
A_FEW = {"yield_per": 500}
# a queue beyond this is turned away rather than kept waiting
MOST_WAITING = 4096
# The signature of walks as their events tell it: a list that was changed by hand opens no signed walk again. Its column
# counts where the signature was dropped while something came in.
_SIGNATURE = select(func.min(EVENT.c.seq)).where(EVENT.c.walk == WALK.c.id, EVENT.c.kind == SIGNED)
_SIGNED = select(WALK.c.id, func.coalesce(_SIGNATURE.scalar_subquery(), WALK.c.signed_seq).label("signed"))


class Refusal(Exception):  # noqa: N818
    """An addition that the record does not take. why: "unknown", "signed" or "reused"."""

    def __init__(self, why: str, what: str) -> None:
        super().__init__(what)
        self.why, self.what = why, what


@dataclass(frozen=True)
class Addition:
    """An event to be. key, body: SHA-256 of the idempotency key and of what came with it; opens: the new walk's row."""

    kind: str
    walk: str | None
    data: dict[str, Any]
    key: str | None = None
    body: str = ""
    opens: dict[str, Any] | None = None


@dataclass
class _Waiting:
    addition: Addition
    answer: Future[Event] = field(default_factory=Future)


class Record:
    """A record, open. now: the clock."""

    def __init__(self, url: str, now: Callable[[], datetime], *, make: bool = True) -> None:
        self.url, self._now, self.closed = url, now, False
        self.engine: Engine = open_engine(url, make=make)
        self._queue: queue.Queue[_Waiting | None] = queue.Queue(MOST_WAITING)
        # nothing is queued behind the end, where nobody would answer it
        self._door = threading.Lock()
        self._writer = threading.Thread(target=self._write, name="record", daemon=True)
        self._writer.start()

    def submit(self, addition: Addition) -> Future[Event]:
        """Ask for an event to be added; the answer comes when it is on the disk.

        It raises Refusal where the record does not take it, RecordError where the database fails.
        """
        waiting = _Waiting(addition)
        with self._door:
            if self.closed:
                error = RecordError("the record is closed", hint="the server is stopping; send it again")
                waiting.answer.set_exception(error)
                return waiting.answer
            try:
                self._queue.put_nowait(waiting)
            except queue.Full:
                waiting.answer.set_exception(RecordError("too much is waiting to be written", hint="send it again"))
        return waiting.answer

    def add(self, addition: Addition) -> Event:
        """Add an event, and wait until it is on the disk. Raises Refusal or RecordError."""
        return self.submit(addition).result()

    def close(self) -> None:
        """Write what waits, and let go of the database."""
        with self._door:
            if self.closed:
                return
            self.closed = True
            self._queue.put(None)
        self._writer.join(30)
        self.engine.dispose()

    def _write(self) -> None:
        while (first := self._queue.get()) is not None:
            batch, last = [first], False
            while len(batch) < MOST_AT_ONCE:
                try:
                    more = self._queue.get_nowait()
                except queue.Empty:
                    break
                if more is None:
                    last = True
                    break
                batch.append(more)
            self._settle(batch)
            if last:
                return

    def _settle(self, batch: Sequence[_Waiting]) -> None:
        """One transaction. Nothing is answered before it is on the disk."""
        # from here on nobody calls it off; who did before, is not waiting
        batch = [one for one in batch if one.answer.set_running_or_notify_cancel()]
        answers = self._together([one.addition for one in batch])
        for waiting, answer in zip(batch, answers, strict=True):
            if isinstance(answer, Exception):
                waiting.answer.set_exception(answer)
            else:
                waiting.answer.set_result(answer)

    def _together(self, additions: Sequence[Addition]) -> list[Event | Exception]:
        """What becomes of additions in one transaction: an event each, or why not."""
        try:
            with self.engine.connect().execution_options(write=True) as connection, connection.begin():
                return _Batch(connection, self._now()).add(additions)
        except (DataError, IntegrityError) as error:
            if len(additions) > 1:
                # one of them is at fault, and the others are not to pay for it
                return [answer for one in additions for answer in self._together([one])]
            return [told(error)]
        except DBAPIError as error:
            return [told(error)] * len(additions)
        except Exception as error:
            return [error] * len(additions)

    def events(self, walk: str | None = None, after: int = 0) -> tuple[Event, ...]:
        """Events in order, of one walk or of the whole record, after a number."""
        query = select(EVENT).where(EVENT.c.seq > after).order_by(EVENT.c.seq)
        if walk is not None:
            query = query.where(EVENT.c.walk == walk)
        with reading(self.engine) as connection:
            return tuple(event_of(row) for row in connection.execute(query))

    def stream(self) -> Iterator[Event]:
        """Every event in order, a few at a time."""
        with reading(self.engine) as connection:
            for row in connection.execute(select(EVENT).order_by(EVENT.c.seq), execution_options=A_FEW):
                yield event_of(row)

    def by_walk(self) -> Iterator[tuple[Event, ...]]:
        """The events of one walk after another, in the order of their ids."""
        query = select(EVENT).where(EVENT.c.walk.is_not(None)).order_by(EVENT.c.walk, EVENT.c.seq)
        with reading(self.engine) as connection:
            rows = connection.execute(query, execution_options=A_FEW)
            for _, group in groupby(rows, lambda row: row.walk):
                yield tuple(event_of(row) for row in group)

    def head(self) -> tuple[int, str]:
        """The number and the hash of the last event."""
        with reading(self.engine) as connection:
            return head_of(connection)[:2]

    def walks(
        self, *, since: str = "", until: str = "", registration: str | None = None, most: int | None = None
    ) -> list[dict[str, Any]]:
        """The walks, the newest first. since, until: RFC 3339 UTC."""
        query = select(WALK).order_by(WALK.c.opened_seq.desc())
        if since:
            query = query.where(WALK.c.opened_at >= since)
        if until:
            query = query.where(WALK.c.opened_at < until)
        if registration is not None:
            query = query.where(WALK.c.registration == registration)
        if most is not None:
            query = query.limit(most)
        with reading(self.engine) as connection:
            return [dict(row._mapping) for row in connection.execute(query)]

    def has(self, walk: str) -> bool:
        """Whether there is a walk of this id."""
        with reading(self.engine) as connection:
            return connection.execute(select(WALK.c.id).where(WALK.c.id == walk)).first() is not None


class _Batch:
    """The additions of one transaction."""

    def __init__(self, connection: Connection, now: datetime) -> None:
        self._connection = connection
        self._clock = f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
        head = connection.execute(select(HEAD).where(HEAD.c.id == 1).with_for_update()).one()
        self._seq, self._hash, self._at = int(head.seq), str(head.hash), str(head.at)
        self._events: list[Event] = []
        self._answers: dict[str, tuple[str, Event]] = {}
        self._signed: dict[str, int | None] = {}

    def add(self, additions: Sequence[Addition]) -> list[Event | Exception]:
        self._look_up(additions)
        answers: list[Event | Exception] = []
        opened: list[dict[str, Any]] = []
        signed: list[tuple[str, int]] = []
        keys: list[dict[str, Any]] = []
        for addition in additions:
            try:
                before = self._answered(addition)
                if before is not None:
                    answers.append(before)
                    continue
                self._allow(addition)
                event = self._next(addition)
            except (Refusal, ValueError) as error:
                answers.append(error)
                continue
            answers.append(event)
            if addition.opens is not None:
                opened.append({**addition.opens, "opened_seq": event.seq, "opened_at": event.at, "signed_seq": None})
                self._signed[addition.opens["id"]] = None
            if addition.kind == "signed" and addition.walk is not None:
                signed.append((addition.walk, event.seq))
                self._signed[addition.walk] = event.seq
            if addition.key is not None:
                keys.append({"key": addition.key, "body": addition.body, "seq": event.seq})
                self._answers[addition.key] = (addition.body, event)
        self._save(opened, signed, keys)
        return answers

    def _look_up(self, additions: Sequence[Addition]) -> None:
        keys = [one.key for one in additions if one.key is not None]
        if keys:
            query = select(ANSWER.c.key, ANSWER.c.body, EVENT).join(EVENT, EVENT.c.seq == ANSWER.c.seq)
            for row in self._connection.execute(query.where(ANSWER.c.key.in_(keys))):
                self._answers[row.key] = (row.body, event_of(row))
        walks = {one.walk for one in additions if one.walk is not None and one.opens is None}
        if walks:
            query2 = _SIGNED.where(WALK.c.id.in_(walks))
            self._signed |= {row.id: row.signed for row in self._connection.execute(query2)}

    def _answered(self, addition: Addition) -> Event | None:
        if addition.key is None or addition.key not in self._answers:
            return None
        body, event = self._answers[addition.key]
        if body != addition.body:
            raise Refusal("reused", "this Idempotency-Key came before with something else")
        return event

    def _allow(self, addition: Addition) -> None:
        if addition.walk is None or addition.opens is not None:
            return
        if addition.walk not in self._signed:
            raise Refusal("unknown", "there is no such walk")
        if self._signed[addition.walk] is not None and addition.kind not in AFTER_SIGNATURE:
            raise Refusal("signed", "the walk is signed: it takes notes and treatment only")

    def _next(self, addition: Addition) -> Event:
        data = addition.data
        if self._clock < self._at:
            # the order of the record does not go back with the clock; what the clock said is kept
            data = {**data, "clock": self._clock}
        else:
            self._at = self._clock
        event = following((self._seq, self._hash), self._at, addition.kind, data)
        self._seq, self._hash = event.seq, event.hash
        self._events.append(event)
        return event

    def _save(self, opened: list[dict[str, Any]], signed: list[tuple[str, int]], keys: list[dict[str, Any]]) -> None:
        if not self._events:
            return
        run = self._connection.execute
        run(insert(EVENT), [_row(event) for event in self._events])
        if opened:
            run(insert(WALK), opened)
        for walk, seq in signed:
            run(update(WALK).where(WALK.c.id == walk).values(signed_seq=seq))
        if keys:
            run(insert(ANSWER), keys)
        run(update(HEAD).where(HEAD.c.id == 1).values(seq=self._seq, hash=self._hash, at=self._at))


def _row(event: Event) -> dict[str, Any]:
    return {
        "seq": event.seq,
        "at": event.at,
        "kind": event.kind,
        "walk": event.walk,
        "data": msgspec.json.encode(event.data).decode(),
        "previous": event.previous,
        "hash": event.hash,
    }


def head_of(connection: Connection) -> tuple[int, str, str]:
    """The number, the hash and the date of the last event, as the head says. Raises RecordError where it is spoilt."""
    row = connection.execute(select(HEAD).where(HEAD.c.id == 1)).one_or_none()
    hint = "restore a copy of the database"
    if row is None:
        raise RecordError("the head of the chain is gone", where="record", hint=hint)
    try:
        return int(row.seq), str(row.hash), str(row.at)
    except (ValueError, TypeError):
        raise RecordError("the head of the chain names no event", where="record", hint=hint) from None


def event_of(row: Any) -> Event:
    """A row as an event; content that cannot be read is content that was changed."""
    data: dict[str, Any] | None = None
    if row.data is not None:
        try:
            data = msgspec.json.decode(row.data, type=dict[str, Any])
        except (msgspec.MsgspecError, UnicodeError):
            data = {"unreadable": str(row.data)[:200]}
    return Event(int(row.seq), str(row.at), str(row.kind), data, str(row.previous), str(row.hash))

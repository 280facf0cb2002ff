"""What is said on walks, on its way into the record: what page and API share."""

from __future__ import annotations

import asyncio
import hashlib
import re
import threading
import time
from collections import OrderedDict
from pathlib import Path
from typing import Any

import msgspec

from advisor.brief.model import Brief
from advisor.web.costly import Costly
from advisor.web.model import Settings
from advisor.web.problems import Refused
from advisor.web.work import Work, brief_of

# walks whose brief's lines are at hand without asking the database
MOST_AT_HAND = 500
_WALK = re.compile(r"[A-Za-z0-9_-]{1,64}\Z", re.ASCII)
_KEY = re.compile(r"[\x21-\x7e]{1,200}\Z", re.ASCII)


class Walks:
    """The record of one server. Raises RecordError where the database cannot be opened."""

    def __init__(self, work: Work) -> None:
        from advisor.record import said
        from advisor.record.store import Record

        settings = work.settings
        assert settings.database is not None
        self._work, self._said = work, said
        self.record = Record(settings.database, settings.clock)
        self.photos: Path | None = photo_folder(settings)
        self._lines: OrderedDict[str, frozenset[str]] = OrderedDict()
        self._lock = threading.Lock()
        self.outcomes = Costly(self._came, time.monotonic)

    def _came(self) -> tuple[Any, float]:
        """What came of the advice over all walks, and until when, unix seconds."""
        from advisor.record.outcomes import outcomes
        from advisor.record.walk import read

        until = self._work.unix()
        return outcomes(walk for events in self.record.by_walk() if (walk := read(events)) is not None), until

    def open(self, data: bytes, key: str | None, person: str | None) -> Any:
        """Begin a walk; the event. Blocking: it reads the brief. Raises Refused, RecordError or msgspec's errors."""
        from advisor.record.opening import opened
        from advisor.record.store import Addition
        from advisor.record.walk import listed
        from advisor.web.store import new_id

        opening = msgspec.json.decode(data, type=self._said.OpenSaid)
        entry = self._work.get(opening.brief)
        if entry is None:
            hint = "briefs are kept for a day; make one and send its id"
            raise Refused(422, "there is no such brief here", field="brief", hint=hint)
        brief: Brief = brief_of(entry)
        profile = self._work.fleet.get(brief.aircraft.id)
        walk = new_id()
        content = opened(
            walk, opening, brief, bytes(entry.brief), brief.walk_order or (profile.walk if profile else ())
        )
        if person:
            content["person"] = person
        addition = Addition("opened", walk, content, *_keyed(key, "/api/walk", data, person), opens=listed(content))
        return self._settled(lambda: self.record.add(addition))

    async def say(self, walk: str, kind: str, data: bytes, key: str | None, person: str | None, run: Any) -> Any:
        """One thing said on a walk; the event to be, checked as far as it can be before its turn.

        run: puts what blocks on a thread. Raises Refused, RecordError or msgspec's errors.
        """
        from advisor.record.store import Addition

        statement = msgspec.json.decode(data, type=self._said.KINDS[kind])
        _is_walk(walk)
        await self._fits(walk, statement, run)
        content = self._said.data_of(walk, statement)
        if person:
            content["person"] = person
        return Addition(kind, walk, content, *_keyed(key, f"/api/walk/{walk}/{kind}", data, person))

    async def added(self, addition: Any) -> Any:
        """An event, when it is on the disk. Raises Refused or RecordError."""
        return await self.written(asyncio.wrap_future(self.record.submit(addition)))

    async def written(self, answer: Any) -> Any:
        """The same of an addition that was submitted before."""
        try:
            return await answer
        except Exception as error:
            raise _refused(error) from None

    async def _fits(self, walk: str, statement: Any, run: Any) -> None:
        """What only the walk itself can tell: whether it is there, has this line, and was treated in this order."""
        line = getattr(statement, "line", None)
        if line is not None:
            lines = self._lines.get(walk)
            if lines is None:
                lines = await run(self._lines_of, walk)
            if line not in lines:
                hint = "name a line of the brief, or the zone in its place"
                raise Refused(422, f"the brief has no line {line!r}", field="line", hint=hint)
        step = getattr(statement, "step", None)
        if step is not None:
            moment = statement.at or f"{self._work.settings.clock():%Y-%m-%dT%H:%M:%SZ}"
            wrong = await run(self._wrong_order, walk, step, moment)
            if wrong is not None:
                raise Refused(422, wrong, field="at" if step == "finished" else "step", hint="mend it, or write a note")

    def _wrong_order(self, walk: str, step: str, moment: str) -> str | None:
        from advisor.record.walk import out_of_order

        return out_of_order(self.read(walk), step, moment)

    def known(self, walk: str) -> None:
        """Refuse a walk that is not there. Blocking."""
        if walk not in self._lines:
            self._lines_of(walk)

    def _lines_of(self, walk: str) -> frozenset[str]:
        line_ids = frozenset(line["id"] for line in self.read(walk).opened.get("lines", ()))
        with self._lock:
            self._lines[walk] = line_ids
            while len(self._lines) > MOST_AT_HAND:
                self._lines.popitem(last=False)
        return line_ids

    def events(self, walk: str) -> tuple[Any, ...]:
        """The events of a walk. Raises Refused where there is none."""
        _is_walk(walk)
        events: tuple[Any, ...] = self.record.events(walk)
        if not events:
            raise Refused(404, _NO_WALK[0], hint=_NO_WALK[1])
        return events

    def read(self, walk: str) -> Any:
        """A walk as its events tell it. Raises Refused where there is none, or where it was dropped."""
        from advisor.record.walk import read

        whole_walk = read(self.events(walk))
        if whole_walk is None:
            raise Refused(410, "what was said on this walk was dropped", hint="its hashes are kept")
        return whole_walk

    def drop_old(self) -> None:
        """Let the content of walks go that are older than the operator keeps them. Blocking."""
        from advisor.record.keeping import drop_older

        days = self._work.settings.keep_days
        if days is not None:
            drop_older(self.record, days, self._work.settings.clock(), self.photos)

    def photo(self, walk: str, data: bytes, where: dict[str, str], key: str | None, person: str | None) -> Any:
        """Keep a photo, and the event to be that names it. Blocking. Raises Refused or RecordError."""
        from advisor.record.photos import NotAPhoto, keep
        from advisor.record.store import Addition

        if self.photos is None:
            raise Refused(501, "this server keeps no photos", hint="whoever runs it: advisor serve --data DIR")
        if self.read(walk).signed is not None:
            raise Refused(409, _SIGNED, hint=_SIGNED_HINT)
        try:
            kept = keep(self.photos, data)
        except NotAPhoto as error:
            raise Refused(422, str(error), hint="nothing was kept") from None
        content = {"walk": walk, **where, **msgspec.to_builtins(kept)}
        if person:
            content["person"] = person
        return Addition("photo", walk, content, *_keyed(key, f"/api/walk/{walk}/photo", data, person))

    def _settled(self, act: Any) -> Any:
        try:
            return act()
        except Exception as error:
            raise _refused(error) from None


_SIGNED = "the walk is signed: it takes notes and treatment only"
_SIGNED_HINT = "write a note, or open another walk"


_NO_WALK = "there is no such walk", "open one from a brief"


def _is_walk(walk: str) -> None:
    """Refuse what cannot be a walk's id before any database sees it."""
    if not _WALK.match(walk):
        raise Refused(404, _NO_WALK[0], hint=_NO_WALK[1])


def photo_folder(settings: Settings) -> Path | None:
    """Where photos lie: beside the database. None without a folder of our own."""
    return None if settings.data is None else settings.data / "photos"


def _keyed(key: str | None, path: str, data: bytes, person: str | None) -> tuple[str | None, str]:
    """An idempotency key as it is kept: for one person and one address; and what came with it."""
    if key is None:
        return None, ""
    if not _KEY.match(key):
        what = "the Idempotency-Key is empty, too long or not plain letters"
        raise Refused(400, what, hint="send 1 to 200 visible ASCII letters, such as a UUID")
    whole = "\n".join((person or "", path, key)).encode()
    return hashlib.sha256(whole).hexdigest(), hashlib.sha256(data).hexdigest()


def _refused(error: Exception) -> Exception:
    """What the record does not take, as an answer."""
    from advisor.record.store import Refusal

    if not isinstance(error, Refusal):
        return error
    if error.why == "unknown":
        return Refused(404, error.what, hint=_NO_WALK[1])
    if error.why == "signed":
        return Refused(409, _SIGNED, hint=_SIGNED_HINT)
    return Refused(422, error.what, hint="send a new key with what is new")

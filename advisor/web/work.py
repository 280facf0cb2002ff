"""Makes, keeps and renews briefs: what page and API share. Plain blocking calls; the handlers put them on threads."""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence
from typing import Any

import msgspec

from advisor import departure as moments
from advisor.brief.advise import advise
from advisor.brief.model import Brief
from advisor.checklist import aircraft, revision
from advisor.checklist.aircraft import Profile
from advisor.errors import AdvisorError, DepartureError, FeedError, ReportError
from advisor.web.limits import RateLimit
from advisor.web.model import FIELDS, Asked, Entry, Settings
from advisor.web.store import FolderStore, MemoryStore, Store, new_id

CHECK_EVERY_S = 120
_NOT_ADVISED = ("reports", "now", "station", "feed")
_log = logging.getLogger("advisor.web")
_decoder = msgspec.json.Decoder(Brief)


class Work:
    """One server's checklist, profiles, store, limit and feed."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.checklist = revision.load(settings.checklist)
        self.fleet: dict[str, Profile] = aircraft.load_profiles(settings.checklist)
        self.store: Store = MemoryStore(self.unix) if settings.data is None else FolderStore(settings.data, self.unix)
        # one at a time: the work holds the interpreter, and threads that compete for it only slow each other
        self.turn = threading.Lock()
        self._lock, self._renewing = threading.Lock(), set[str]()
        self.limit = RateLimit(settings.rate_limit, self.unix)

    def unix(self) -> float:
        """Seconds since 1970 by the server's clock."""
        return self.settings.clock().timestamp()

    def make(self, asked: Asked, *, since: str | None = None, owner: str = "") -> Entry:
        """A brief made and kept; since: the id of the brief that it follows; owner: whose share of the room it takes.

        Raises AdvisorError where the reports or the departure cannot be used.
        """
        entry = self._build(asked, *self._reports(asked))
        before = self.store.get(since) if since else None
        if before is not None:
            entry = msgspec.structs.replace(entry, since=before.id)
            self.store.put(msgspec.structs.replace(before, newer=entry.id))
        self.store.put(entry, owner)
        return entry

    def _build(self, asked: Asked, reports: Sequence[str], notes: Sequence[str]) -> Entry:
        now = self.settings.clock()
        given: dict[str, Any] = {name: getattr(asked, name) for name in FIELDS if name not in _NOT_ADVISED}
        with self.turn:
            brief = advise(list(reports), now=asked.now or now, checklist=self.checklist, fleet=self.fleet, **given)
            if notes:
                brief = msgspec.structs.replace(brief, notes=(*brief.notes, *notes))
            raw = msgspec.Raw(msgspec.json.encode(brief))
        made = now.timestamp()
        return Entry(id=new_id(), made=made, live=asked.now is None, asked=asked, brief=raw, checked=made)

    def _reports(self, asked: Asked) -> tuple[Sequence[str], Sequence[str]]:
        """The report texts given, or those that the feed has for the station, with what is said about them."""
        if asked.station is None and asked.feed is None:
            if not any(text.strip() for text in asked.reports):
                raise ReportError("no report was given", where="reports", hint="give a METAR or SPECI")
            return asked.reports, ()
        if asked.reports:
            raise ReportError("both reports and a station were given", where="reports", hint="give one of the two")
        fetch, feeds = self.settings.fetch, self.settings.feeds
        if fetch is None or not feeds:
            raise DepartureError("this server has no feed", where="station", hint="paste the reports instead")
        if not asked.station:
            raise DepartureError("missing", where="station", hint="give a location indicator such as ZZZA")
        if asked.feed is not None and asked.feed not in feeds:
            raise DepartureError(f"{asked.feed!r} is not known", where="feed", hint=f"give one of {', '.join(feeds)}")
        texts, notes = fetch(asked.station.strip().upper(), asked.feed or feeds[0])
        if not texts:
            raise FeedError(f"no report of {asked.station}", where="station", hint="paste the reports instead")
        return texts, notes

    def is_due(self, entry: Entry) -> bool:
        """Whether it is time to ask the feed again for this brief."""
        watched = self.settings.fetch is not None and entry.asked.station and entry.live and not entry.newer
        return bool(watched) and self.unix() - entry.checked >= CHECK_EVERY_S and entry.id not in self._renewing

    def renew(self, entry: Entry) -> Entry:
        """Look whether the feed has something newer; the brief itself is never replaced.

        Returns the entry, with `newer` set where a new brief was made from newer reports.
        """
        with self._lock:
            if not self.is_due(entry):
                return entry
            self._renewing.add(entry.id)
        try:
            entry = msgspec.structs.replace(entry, checked=self.unix())
            self.store.put(entry)
            before = brief_of(entry)
            made = self._build(_pinned(entry.asked, before), *self._reports(entry.asked))
            if _texts(brief_of(made)) <= _texts(before):
                return entry
            self.store.put(msgspec.structs.replace(made, since=entry.id))
            entry = msgspec.structs.replace(entry, newer=made.id)
            self.store.put(entry)
        except AdvisorError as error:
            _log.info("no newer report: %s", error)
        finally:
            with self._lock:
                self._renewing.discard(entry.id)
        return entry


def _texts(brief: Brief) -> set[str]:
    return {" ".join(report.raw.split()) for report in brief.reports}


def _pinned(asked: Asked, before: Brief) -> Asked:
    """The same departure later on: a time of day means the moment that it meant then."""
    now = moments.to_unix(moments.read_moment(before.now, what="now"))
    earlier = {
        name: moments.stamp(moments.read_at_or_before(text, now, what=name))
        for name in ("parked_since", "treated_at")
        if (text := getattr(asked, name)) is not None
    }
    return msgspec.structs.replace(asked, off_block=before.windows.off_block, **earlier)


def brief_of(entry: Entry) -> Brief:
    """The brief of an entry, as a structure."""
    return _decoder.decode(entry.brief)

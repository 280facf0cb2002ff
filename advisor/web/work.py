"""Makes, keeps and renews briefs: what page and API share. Plain blocking calls; the handlers put them on threads."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec

from advisor import advise
from advisor.brief.changes import incomparable
from advisor.brief.model import Brief
from advisor.checklist import aircraft, revision
from advisor.checklist.profile import Profile
from advisor.departure import hhmm, read_at_or_before, read_moment, stamp, to_unix
from advisor.errors import AdvisorError, DepartureError, FeedError, ReportError
from advisor.render import words
from advisor.render.changed import sentences
from advisor.web.limits import RateLimit
from advisor.web.model import FIELDS, Asked, Fetch, KeptBrief, Settings
from advisor.web.store import FolderStore, MemoryStore, Store, is_full, new_id

CHECK_EVERY_S = 120
# what a feed answered is shared for so long
SHARED_S = 60
MOST_WATCHED = 500
MOST_NEWS = 200
SPARE_BYTES = 8_000_000
SILENT = "No newer report can be looked for: the feed has not answered since"
_NOT_ADVISED = ("reports", "now", "station", "feed")
_log = logging.getLogger("advisor.web")
_decoder = msgspec.json.Decoder(Brief)


class Shared:
    """Answers of feeds, shared for a minute between all who ask; who asks meanwhile waits for the same answer."""

    MOST = 200

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self._kept: OrderedDict[tuple[str, str], tuple[float, Any]] = OrderedDict()
        self._locks: dict[tuple[str, str], threading.Lock] = {}
        self._lock = threading.Lock()

    def get(self, fetch: Fetch, station: str, feed: str) -> tuple[Sequence[str], Sequence[str]]:
        """The answer for a station. Raises what the feed raises; that is not kept."""
        key = station, feed
        with self._lock:
            own = self._locks.setdefault(key, threading.Lock())
        try:
            with own:
                kept = self._kept.get(key)
                if kept is not None and 0 <= self._now() - kept[0] < SHARED_S:
                    answer: tuple[Sequence[str], Sequence[str]] = kept[1]
                    return answer
                answer = fetch(station, feed)
                with self._lock:
                    self._kept[key] = (self._now(), answer)
                    while len(self._kept) > self.MOST:
                        self._kept.popitem(last=False)
                return answer
        finally:
            with self._lock:
                if len(self._locks) > self.MOST and not own.locked():
                    self._locks.pop(key, None)


@dataclass(frozen=True)
class News:
    """What a newer report changed in a must-line, or at a door, of a departure that is watched. at, until: stamps."""

    at: str
    until: str
    departure: str
    said: str


class Unkept(Exception):  # noqa: N818
    """A brief that was made and could not be kept. full: for want of room on the disk."""

    def __init__(self, entry: KeptBrief, full: bool) -> None:
        super().__init__("the disk is full" if full else "the disk cannot be written to")
        self.entry, self.full = entry, full


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
        # what could not be kept on the disk, for as long as the server runs
        self.spare = MemoryStore(self.unix, SPARE_BYTES)
        self._feeds = Shared(self.unix)
        self._watched: OrderedDict[str, None] = OrderedDict()
        self._news: deque[News] = deque(maxlen=MOST_NEWS)

    def unix(self) -> float:
        """Seconds since 1970 by the server's clock."""
        return self.settings.clock().timestamp()

    def make(self, asked: Asked, *, since: str | None = None, owner: str = "") -> KeptBrief:
        """A brief made and kept; since: the id of the brief that it follows; owner: whose share of the room it takes.

        Raises AdvisorError where the reports or the departure cannot be used.
        """
        entry = self._build(asked, *self._reports(asked))
        before = self.get(since) if since else None
        if before is not None and incomparable(brief_of(before), brief_of(entry)):
            # another departure after all: it makes nothing stale
            before = None
        if before is not None:
            entry = msgspec.structs.replace(entry, since=before.id)
        try:
            if before is not None:
                self.store.put(msgspec.structs.replace(before, newer=entry.id))
            self.store.put(entry, owner)
        except OSError as error:
            _log.error("a brief was not kept: %s", error.strerror)
            self.spare.put(entry, owner)
            raise Unkept(entry, is_full(error)) from None
        if entry.live and entry.asked.station:
            self._watch(entry.id)
        return entry

    def get(self, name: str) -> KeptBrief | None:
        """The brief of an id; None where there is none or its day is over."""
        return self.store.get(name) or self.spare.get(name)

    def _build(self, asked: Asked, reports: Sequence[str], notes: Sequence[str]) -> KeptBrief:
        now = self.settings.clock()
        given: dict[str, Any] = {name: getattr(asked, name) for name in FIELDS if name not in _NOT_ADVISED}
        with self.turn:
            brief = advise(list(reports), now=asked.now or now, checklist=self.checklist, fleet=self.fleet, **given)
            if notes:
                brief = msgspec.structs.replace(brief, notes=(*brief.notes, *notes))
            raw = msgspec.Raw(msgspec.json.encode(brief))
        made = now.timestamp()
        return KeptBrief(id=new_id(), made=made, live=asked.now is None, asked=asked, brief=raw, checked=made)

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
        texts, notes = self._feeds.get(fetch, asked.station.strip().upper(), asked.feed or feeds[0])
        if not texts:
            raise FeedError(f"no report of {asked.station}", where="station", hint="paste the reports instead")
        return texts, notes

    def _watch(self, name: str) -> None:
        with self._lock:
            self._watched[name] = None
            while len(self._watched) > MOST_WATCHED:
                self._watched.popitem(last=False)

    def look_again(self) -> None:
        """Look at each brief that was made by station and feed again, until its off-block time. Blocking."""
        with self._lock:
            names = list(self._watched)
        for name in names:
            entry = self.get(name)
            if entry is not None and not entry.newer and brief_of(entry).windows.off_block > (self.stamp() or ""):
                entry = self.renew(entry) if self.is_due(entry) else entry
                if not entry.newer:
                    continue
                self._watch(entry.newer)
            with self._lock:
                self._watched.pop(name, None)

    def latest(self, entry: KeptBrief) -> KeptBrief:
        """The last of the briefs that were made after this one."""
        seen = {entry.id}
        while entry.newer and entry.newer not in seen:
            after = self.get(entry.newer)
            if after is None:
                break
            seen.add(after.id)
            entry = after
        return entry

    def stamp(self) -> str:
        """Now, by the server's clock."""
        return stamp(self.unix()) or ""

    def is_due(self, entry: KeptBrief) -> bool:
        """Whether it is time to ask the feed again for this brief."""
        watched = self.settings.fetch is not None and entry.asked.station and entry.live and not entry.newer
        return bool(watched) and self.unix() - entry.checked >= CHECK_EVERY_S and entry.id not in self._renewing

    def renew(self, entry: KeptBrief) -> KeptBrief:
        """Look whether the feed has something newer; the brief itself is never replaced.

        Returns the entry, with `newer` set where a new brief was made from newer reports.
        """
        with self._lock:
            # as it lies there now: another look may have ended since the caller read it, and its find is not put back
            entry = self.get(entry.id) or entry
            if not self.is_due(entry):
                return entry
            self._renewing.add(entry.id)
        try:
            before = brief_of(entry)
            entry = msgspec.structs.replace(entry, checked=self.unix())
            texts, notes = self._answer(entry)
            entry = msgspec.structs.replace(entry, feed=tuple(notes))
            self.store.put(entry)
            if not texts:
                return entry
            newer = self._build(_pinned(entry.asked, before), texts, notes)
            if _texts(brief_of(newer)) <= _texts(before):
                return entry
            self.store.put(msgspec.structs.replace(newer, since=entry.id))
            entry = msgspec.structs.replace(entry, newer=newer.id)
            self.store.put(entry)
            self._announce(before, brief_of(newer))
        except AdvisorError as error:
            _log.info("no newer report: %s", error)
        except OSError as error:
            _log.error("a newer brief was not kept: %s", error.strerror)
        finally:
            with self._lock:
                self._renewing.discard(entry.id)
        return entry

    def _announce(self, before: Brief, after: Brief) -> None:
        where = after.place.indicator or after.place.name
        departure = f"{where}, off-block {words.clock(after.windows.off_block)}, {after.aircraft.name.split(',')[0]}"
        # the newest first, and among those the gravest
        found = [News(self.stamp(), after.windows.off_block, departure, said) for said in sentences(before, after)]
        self._news.extendleft(reversed(found))

    def news(self) -> list[News]:
        """What changed in departures that are watched and have not left, the newest first."""
        now = self.stamp()
        return [one for one in self._news if one.until >= now]

    def _answer(self, entry: KeptBrief) -> tuple[Sequence[str], Sequence[str]]:
        """What the feed has now; no text and since when, where it does not answer."""
        try:
            return self._reports(entry.asked)
        except FeedError as error:
            _log.info("no answer from a feed: %s", error)
            silent = f"{SILENT} {hhmm(self.unix())}"
            return (), next(([said] for said in entry.feed if said.startswith(SILENT)), [silent])


def _texts(brief: Brief) -> set[str]:
    return {" ".join(report.raw.split()) for report in brief.reports}


def _pinned(asked: Asked, before: Brief) -> Asked:
    """The same departure later on: a time of day means the moment that it meant then."""
    now = to_unix(read_moment(before.now, what="now"))
    earlier = {
        name: stamp(read_at_or_before(text, now, what=name))
        for name in ("parked_since", "treated_at", "looked_at")
        if (text := getattr(asked, name)) is not None
    }
    if asked.seen is not None and asked.looked_at is None:
        # who gave no time had just looked; a later brief is no new look
        earlier["looked_at"] = before.now
    return msgspec.structs.replace(asked, off_block=before.windows.off_block, **earlier)


def brief_of(entry: KeptBrief) -> Brief:
    """The brief of an entry, as a structure."""
    return _decoder.decode(entry.brief)

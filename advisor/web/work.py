"""Makes, keeps and renews briefs: what page and API share. Plain blocking calls; the handlers put them on threads."""

from __future__ import annotations

import logging
from typing import Any

import msgspec

from advisor import departure as moments
from advisor.advice import Brief
from advisor.brief import advise
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
        self.store: Store = (
            MemoryStore(self.unix) if settings.data is None else FolderStore(settings.data, self.unix)
        )
        self.limit = RateLimit(settings.rate_limit, self.unix)

    def unix(self) -> float:
        """Seconds since 1970 by the server's clock."""
        return self.settings.clock().timestamp()

    def make(self, asked: Asked, *, since: str | None = None) -> Entry:
        """A brief made and kept; since: the id of the brief that it follows.

        Raises AdvisorError where the reports or the departure cannot be used.
        """
        entry = self._build(asked, self.reports(asked))
        before = self.store.get(since) if since else None
        if before is not None:
            entry = msgspec.structs.replace(entry, since=before.id)
            self.store.put(msgspec.structs.replace(before, newer=entry.id))
        self.store.put(entry)
        return entry

    def _build(self, asked: Asked, reports: tuple[str, ...]) -> Entry:
        now = self.settings.clock()
        given: dict[str, Any] = {name: getattr(asked, name) for name in FIELDS if name not in _NOT_ADVISED}
        brief = advise(list(reports), now=asked.now or now, checklist=self.checklist, fleet=self.fleet, **given)
        made = now.timestamp()
        raw = msgspec.Raw(msgspec.json.encode(brief))
        return Entry(id=new_id(), made=made, live=asked.now is None, asked=asked, brief=raw, checked=made)

    def reports(self, asked: Asked) -> tuple[str, ...]:
        """The report texts given, or those that the feed has for the station."""
        if asked.station is None and asked.feed is None:
            if not any(text.strip() for text in asked.reports):
                raise ReportError("no report was given", where="reports", hint="give a METAR or SPECI")
            return asked.reports
        if asked.reports:
            raise ReportError("both reports and a station were given", where="reports", hint="give one of the two")
        fetch = self.settings.fetch
        if fetch is None:
            raise DepartureError("this server has no feed", where="station", hint="paste the reports instead")
        if not asked.station:
            raise DepartureError("missing", where="station", hint="give a location indicator such as ZZZA")
        if asked.feed is not None and asked.feed not in self.settings.feeds:
            known = ", ".join(self.settings.feeds)
            raise DepartureError(f"{asked.feed!r} is not known", where="feed", hint=f"give one of {known}")
        found = tuple(fetch(asked.station.strip().upper(), asked.feed or self.settings.feeds[0]))
        if not found:
            raise FeedError(f"no report of {asked.station}", where="station", hint="paste the reports instead")
        return found

    def renew(self, entry: Entry) -> Entry:
        """Look once in a while whether the feed has something newer; the brief itself is never replaced.

        Returns the entry, with `newer` set where a new brief was made from newer reports.
        """
        due = self.unix() - entry.checked >= CHECK_EVERY_S
        if self.settings.fetch is None or not entry.asked.station or entry.newer or not entry.live or not due:
            return entry
        entry = msgspec.structs.replace(entry, checked=self.unix())
        self.store.put(entry)
        before = brief_of(entry)
        try:
            texts = self.reports(entry.asked)
            made = self._build(_pinned(entry.asked, before), texts)
        except AdvisorError as error:
            _log.info("no newer report: %s", error)
            return entry
        if {" ".join(report.raw.split()) for report in brief_of(made).reports} <= {
            " ".join(report.raw.split()) for report in before.reports
        }:
            return entry
        self.store.put(msgspec.structs.replace(made, since=entry.id))
        entry = msgspec.structs.replace(entry, newer=made.id)
        self.store.put(entry)
        return entry


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

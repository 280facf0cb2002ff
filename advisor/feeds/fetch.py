"""Reports of a station from a source that the operator names. None is built in.

A source is asked within one time limit, tries again where that may help, and what it says is believed only where it
holds a report of that station. The last good answer is kept and stands in while the source is down, with its age.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import msgspec
from msgspec import Meta

from advisor.errors import DepartureError, FeedError, ReportError
from advisor.feeds import store as feed_store
from advisor.feeds.address import Deadline, NoAnswerError
from advisor.report.code.bulletin import kind, split

if TYPE_CHECKING:
    from advisor.feeds.http import FeedAnswer

# a METAR says only the day of the month, and nothing older than this tells about the apron
OLDEST = timedelta(hours=24)
AHEAD = timedelta(minutes=5)
BACK_OFF_S = 0.5
_STATION = re.compile(r"[A-Z0-9]{4}", re.ASCII)
_STEP = re.compile(r"\[(\d{1,6}|\*)\]|(?:^|(?<=[^.])\.)([^.\[\]]{1,80})", re.ASCII)
_BEFORE_STATION = frozenset(("METAR", "SPECI", "TAF", "COR", "CORR", "AMD", "AUTO"))

Name = Annotated[
    str, Meta(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$(?!\n)", description="1 to 40 small letters, digits and hyphens")
]
Seconds = Annotated[float, Meta(ge=0.1, le=60, description="a number of seconds from 0.1 to 60")]
Bytes = Annotated[int, Meta(ge=100, le=20_000_000, description="a whole number from 100 to 20,000,000")]
Tries = Annotated[int, Meta(ge=0, le=5, description="a whole number from 0 to 5")]


class Feed(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One `[[feed]]`: name, url with {station} in its path or query, and the form of the answer.

    path: where the reports stand in JSON, such as "reports[*].text"; see read_path. timeout_s: for everything
    together, tries and redirects included. retries: tries after the first. allow_private: whether a host name or a
    redirect may lead to a private, loopback or link-local address; a host that the url writes as an address or as
    localhost is taken as meant. headers: sent to the source itself only, as is a password in the url. ca_file:
    certificates to trust instead of the usual ones, beside feeds.toml.
    """

    name: Name
    url: str
    format: Literal["text", "json", "iwxxm"] = "text"
    path: str | None = None
    timeout_s: Seconds = 10.0
    retries: Tries = 2
    max_bytes: Bytes = 1_000_000
    allow_private: bool = False
    headers: dict[str, str] = {}
    ca_file: str | None = None


class Fetched(msgspec.Struct, frozen=True):
    """What a feed gave. texts: reports, one each, or IWXXM documents.

    fetched_at: when the source gave them, or last said that they still hold; age_min: whole minutes since then.
    from_cache: the source did not answer usably and the last good answer stands in. unchanged: the source said so.
    note: what a reader must be told, "" for nothing.
    """

    texts: tuple[str, ...]
    fetched_at: datetime
    age_min: int
    from_cache: bool = False
    unchanged: bool = False
    note: str = ""
    etag: str = ""
    last_modified: str = ""


def check_station(station: str) -> str:
    """The location indicator in capitals. Raises DepartureError for anything but four letters or digits."""
    upper = station.strip().upper()
    if not _STATION.fullmatch(upper):
        shown = "".join(sign if sign.isprintable() else "?" for sign in station[:20])
        hint = "give four letters or digits, as in ZZZA"
        raise DepartureError(f"{shown!r} is no location indicator", where="station", hint=hint)
    return upper


def fetch(
    feed: Feed,
    station: str,
    *,
    cache_dir: Path,
    now: datetime,
    ticks: Callable[[], float],
    sleep: Callable[[float], None],
) -> Fetched:
    """Fetch the reports of a station.

    now: with offset, ages count from it. ticks: seconds of a clock that only runs forwards; sleep: waits so long
    between two tries. Raises FeedError where neither the source nor what was kept gives anything usable,
    DepartureError for a station that is none.
    """
    if now.tzinfo is None:
        raise ValueError("now needs an offset")
    now = now.astimezone(UTC)
    station = check_station(station)
    file = feed_store.place(cache_dir, feed.name, station, feed.url, feed.format, feed.path or "")
    kept = feed_store.read(file, feed.name, station)
    deadline = Deadline(ticks, feed.timeout_s)
    try:
        answer = _ask(feed, station, kept, now, deadline, sleep)
        if answer.status == 304 and kept is not None:
            texts, left_out = kept.texts, 0
        else:
            texts, left_out = _texts(feed, station, answer.body)
    except NoAnswerError as trouble:
        return _stand_in(feed, station, kept, now, trouble)
    unchanged = answer.status == 304
    to_keep = feed_store.KeptAnswer(
        feed=feed.name,
        station=station,
        fetched_at=now,
        texts=texts,
        etag=answer.etag or (kept.etag if unchanged and kept else ""),
        last_modified=answer.last_modified or (kept.last_modified if unchanged and kept else ""),
    )
    notes = []
    if left_out:
        parts = "1 part" if left_out == 1 else f"{left_out} parts"
        notes.append(f"{parts} of the answer that {'is' if left_out == 1 else 'are'} no report of {station} left out")
    if not feed_store.write(file, to_keep):
        notes.append(f"the answer could not be kept in {file.parent}")
    note = f"feed {feed.name}: {', and '.join(notes)}" if notes else ""
    return Fetched(texts, now, 0, False, unchanged, note, to_keep.etag, to_keep.last_modified)


def _ask(
    feed: Feed,
    station: str,
    kept: feed_store.KeptAnswer | None,
    now: datetime,
    deadline: Deadline,
    sleep: Callable[[float], None],
) -> FeedAnswer:
    """The answer of the source, after tries as the feed allows. Raises NoAnswerError."""
    from advisor.feeds import http as web

    conditions = {}
    if kept is not None and kept.etag:
        conditions["If-None-Match"] = kept.etag
    if kept is not None and kept.last_modified:
        conditions["If-Modified-Since"] = kept.last_modified
    url = feed.url.replace("{station}", station)
    ask = web.Ask(url, now, feed.headers, conditions, feed.max_bytes, feed.allow_private, feed.ca_file)
    tried = 0
    while True:
        try:
            return web.get(ask, deadline)
        except NoAnswerError as trouble:
            tried += 1
            if not trouble.again or tried > feed.retries:
                raise
            wait_s = BACK_OFF_S * 2 ** (tried - 1)
            if trouble.wait_s is not None:
                wait_s = max(wait_s, trouble.wait_s)
            if wait_s >= deadline.remaining():
                if trouble.wait_s is not None:
                    trouble.what += f" and asks to wait {trouble.wait_s:.0f} s"
                raise
            sleep(wait_s)


def _stand_in(
    feed: Feed, station: str, kept: feed_store.KeptAnswer | None, now: datetime, trouble: NoAnswerError
) -> Fetched:
    """The last good answer in place of none. Raises FeedError where it is too old, or none was kept."""
    what = f"source down ({trouble.what})" if trouble.down else f"nothing usable ({trouble.what})"
    where = f"feed {feed.name}"
    hint = trouble.hint or "give the report itself, with --report TEXT or a file"
    if kept is None:
        raise FeedError(f"{what}; no earlier answer for {station} was kept", where=where, hint=hint)
    age = now - kept.fetched_at
    age_min = int(age.total_seconds() // 60)
    day = "" if kept.fetched_at.date() == now.date() else f"{kept.fetched_at:%Y-%m-%d} "
    of = f"answer of {day}{kept.fetched_at:%H%MZ}"
    if age > OLDEST:
        raise FeedError(f"{what}; the {of} is too old to use", where=where, hint=hint)
    if age < -AHEAD:
        raise FeedError(f"{what}; the {of} is later than the time taken as now", where=where, hint=hint)
    note = f"{where}: {what}. The {of}, {_age(age_min)} old, is used."
    return Fetched(kept.texts, kept.fetched_at, max(0, age_min), True, False, note, kept.etag, kept.last_modified)


def _age(minutes: int) -> str:
    minutes = max(0, minutes)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def _texts(feed: Feed, station: str, body: bytes) -> tuple[tuple[str, ...], int]:
    """The reports of the station in an answer, and how much of it was left out. Raises NoAnswerError for none."""
    try:
        if feed.format == "iwxxm":
            return _documents(station, body), 0
        text = body.decode("utf-8-sig")
        if not text.strip():
            raise NoAnswerError("its answer is empty")
        if feed.format == "text":
            if text.lstrip()[:1] == "<":
                raise NoAnswerError("it sent a page or XML, not reports")
            given = [text]
        else:
            given = list(_select(msgspec.json.decode(text), read_path(feed.path or ""), feed.path or ""))
        pieces = [piece for one in given if one.strip() for piece in split(one)]
    except UnicodeDecodeError as error:
        # what is decoded begins behind a byte order mark
        at = len(body) - len(error.object) + error.start + 1
        raise NoAnswerError(f"its answer is not UTF-8 text (byte {at})") from None
    except (msgspec.MsgspecError, RecursionError):
        raise NoAnswerError("its answer is not JSON") from None
    except ReportError as error:
        raise NoAnswerError(f"its answer cannot be read: {error.what}") from None
    reports = tuple(piece for piece in pieces if kind(piece) and _station_of(piece) == station)
    if not reports:
        raise NoAnswerError(f"its answer holds no report of {station}")
    return reports, len(pieces) - len(reports)


def _documents(station: str, body: bytes) -> tuple[str, ...]:
    from advisor.report import iwxxm

    reports = iwxxm.read(body)
    if all(report.station != station for report in reports):
        raise NoAnswerError(f"its answer holds no report of {station}")
    return (body.decode("utf-8-sig"),)


def _station_of(text: str) -> str:
    tokens = text.upper().split(None, 7)[:7]
    return next((token for token in tokens if token not in _BEFORE_STATION), "")


def read_path(text: str) -> tuple[str | int | None, ...]:
    """Read a path into JSON: names with dots between them, [2] for one entry of a list from 0, [*] for all of them.

    Returns the steps, None for [*]; "reports[*].text" and "[0]" are paths. Raises ValueError saying what is wrong.
    """
    steps: list[str | int | None] = []
    position = 0
    while position < len(text):
        step = _STEP.match(text, position)
        if step is None:
            raise ValueError(f"cannot be read from character {position + 1} on")
        index, name = step.groups()
        steps.append(name if name is not None else None if index == "*" else int(index))
        position = step.end()
    if not 1 <= len(steps) <= 20:
        raise ValueError("is empty" if not steps else "has more than 20 steps")
    return tuple(steps)


def _select(data: Any, steps: tuple[str | int | None, ...], path: str) -> Iterator[str]:
    """The texts at a path. An entry of a list that lacks it is passed over; NoAnswerError where it leads nowhere."""
    level = [data]
    for step in steps:
        if step is None:
            level = [inner for one in level if isinstance(one, list) for inner in one]
        elif isinstance(step, int):
            level = [one[step] for one in level if isinstance(one, list) and step < len(one)]
        else:
            level = [one[step] for one in level if isinstance(one, dict) and step in one]
    level = [one for one in level if one is not None]
    if not level:
        raise NoAnswerError(f"its answer has nothing at {path}")
    if not all(isinstance(one, str) for one in level):
        raise NoAnswerError(f"its answer has something other than text at {path}")
    yield from level

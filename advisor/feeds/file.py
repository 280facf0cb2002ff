r"""The operator's feeds.toml, and the reports of a station from one of its feeds.

It stands in the checklist folder, else in the user's configuration folder: $XDG_CONFIG_HOME/advisor or
~/.config/advisor (%APPDATA%\advisor on Windows). Answers are kept in $XDG_CACHE_HOME/advisor or ~/.cache/advisor
(%LOCALAPPDATA%\advisor on Windows). Secrets in a URL or a header are never printed.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

import msgspec
from platformdirs.api import PlatformDirsABC
from platformdirs.unix import Unix

from advisor.checklist.toml.files import Fault, raise_faults, read_file
from advisor.errors import AdvisorError
from advisor.feeds.address import target
from advisor.feeds.fetch import Feed, check_station, fetch, read_path

FILE = "feeds.toml"
APPLICATION = "advisor"
_MARK = "{station}"
_FIELD = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]{1,60}", re.ASCII)
_VALUE = re.compile(r"[\x21-\x7e]([\x20-\x7e]{0,998}[\x21-\x7e])?", re.ASCII)
# what belongs to the exchange itself
_OURS = frozenset(
    (
        "host",
        "connection",
        "accept-encoding",
        "content-length",
        "transfer-encoding",
        "te",
        "upgrade",
        "expect",
        "if-none-match",
        "if-modified-since",
        "range",
    )
)


class FeedsFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A feeds.toml."""

    feed: tuple[Feed, ...] = ()


def user_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """The user's configuration folder."""
    return _asked_for(environ, "XDG_CONFIG_HOME") or _standard().user_config_path


def cache_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """The folder for what can be had again."""
    return _asked_for(environ, "XDG_CACHE_HOME") or _standard().user_cache_path


def _asked_for(environ: Mapping[str, str], name: str) -> Path | None:
    # platformdirs looks at these names on Linux only; a relative path is to be ignored, says the specification
    given = environ.get(name, "")
    return Path(given) / APPLICATION if Path(given).is_absolute() else None


def _standard() -> PlatformDirsABC:
    # ~/.config and ~/.cache on macOS too
    if sys.platform == "win32":
        from platformdirs.windows import Windows

        return Windows(APPLICATION, appauthor=False, roaming=True, opinion=False)
    return Unix(APPLICATION)


def load_feeds(folder: Path | None, user_folder: Path) -> dict[str, Feed]:
    """The feeds by name: of the checklist folder where it has a feeds.toml, else of the user's folder; {} for none.

    Raises ChecklistError with every fault, "file:line:column: field: what; what would be right".
    """
    candidates = [user_folder / FILE] if folder is None else [folder / FILE, user_folder / FILE]
    path = next((path for path in candidates if os.path.lexists(path)), None)
    if path is None:
        return {}
    faults: list[Fault] = []
    document = read_file(path, faults)
    written = FeedsFile()
    if document is not None and document.data is not None:
        try:
            written = msgspec.convert(document.data, FeedsFile)
        except msgspec.ValidationError as error:
            from advisor.checklist.toml.faults import field_faults

            met = list(field_faults(document.file, document.data, FeedsFile))
            faults.extend(met or [Fault(document.file, (), str(error), "compare it with the documentation")])
        names = [feed.name for feed in written.feed]
        for index, feed in enumerate(written.feed):
            if feed.name in names[:index]:
                faults.append(
                    Fault(document.file, ("feed", index, "name"), f"a second feed {feed.name!r}", "choose another name")
                )
            for key, what, hint in _wrong(feed):
                faults.append(Fault(document.file, ("feed", index, *key), what, hint))
    raise_faults((faults, [document] if document else []))
    base = path.parent
    return {
        feed.name: feed if feed.ca_file is None else msgspec.structs.replace(feed, ca_file=str(base / feed.ca_file))
        for feed in written.feed
    }


def _wrong(feed: Feed) -> list[tuple[tuple[str, ...], str, str]]:
    """What is wrong with a feed of the right types: field, what, hint. The URL is never in it, it may hold a key."""
    faults: list[tuple[tuple[str, ...], str, str]] = []
    example = f'write it as in "https://HOST/reports/{_MARK}.txt"'
    try:
        first, other = (target(feed.url.replace(_MARK, station)) for station in ("ZZZA", "ZZZB"))
        if (first.origin, first.userinfo) != (other.origin, other.userinfo):
            faults.append((("url",), f"{_MARK} stands before the path", example))
        elif first.path == other.path:
            faults.append((("url",), f"{_MARK} is missing", example))
    except ValueError as error:
        faults.append((("url",), str(error), example))
    if feed.format == "json" and feed.path is None:
        faults.append((("path",), "missing", 'say where the reports stand, as in "reports[*].text"'))
    if feed.format != "json" and feed.path is not None:
        faults.append((("path",), f"cannot stand with format {feed.format}", 'leave it out, or set format = "json"'))
    if feed.path is not None:
        try:
            read_path(feed.path)
        except ValueError as error:
            faults.append((("path",), str(error), 'names with dots, [0] and [*], as in "reports[*].text"'))
    for name, value in feed.headers.items():
        if not _FIELD.fullmatch(name) or name.lower() in _OURS:
            faults.append((("headers", name), "cannot be set", "give a field that the source asks for, such as X-Key"))
        elif not _VALUE.fullmatch(value):
            faults.append((("headers", name), "its value cannot be sent", "printable ASCII, at most 1000 signs"))
    return faults


def texts_from_feed(
    station: str,
    feed_name: str | None,
    *,
    checklist_folder: Path | None,
    now: datetime,
    ticks: Callable[[], float],
    sleep: Callable[[float], None],
    cache_dir: Path | None = None,
    user_folder: Path | None = None,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The report texts that a feed has for a station, and the notes that the reader must see.

    feed_name: None takes the only feed there is. ticks, sleep: as for fetch, time.monotonic and time.sleep. The
    folders: the user's own where None. Raises AdvisorError for a name that no feed has, ChecklistError for a
    feeds.toml with faults, DepartureError for a station that is none, FeedError where nothing usable came.
    """
    station = check_station(station)
    own = _user_folder() if user_folder is None else user_folder
    feeds = load_feeds(checklist_folder, own)
    if not feeds:
        places = " or ".join(str(place) for place in (checklist_folder, own) if place is not None)
        raise AdvisorError("no feed is set up", where="--feed", hint=f"name one in {FILE} in {places}")
    if feed_name is None and len(feeds) == 1:
        feed_name = next(iter(feeds))
    if feed_name not in feeds:
        what = "missing" if feed_name is None else f"{feed_name[:40]!r} is not known"
        raise AdvisorError(what, where="--feed", hint=f"give one of {', '.join(sorted(feeds))}")
    fetched = fetch(
        feeds[feed_name],
        station,
        cache_dir=cache_folder() if cache_dir is None else cache_dir,
        now=now,
        ticks=ticks,
        sleep=sleep,
    )
    return fetched.texts, (fetched.note,) if fetched.note else ()


# the parameter of the same name hides it
_user_folder = user_folder


def files_of(folder: Path) -> frozenset[str]:
    """Read a checklist folder's own feeds.toml; the names of the files beside it that it refers to.

    Raises ChecklistError with every fault of the file.
    """
    if not os.path.lexists(folder / FILE):
        return frozenset()
    feeds = load_feeds(folder, folder)
    return frozenset(Path(feed.ca_file).name for feed in feeds.values() if feed.ca_file)

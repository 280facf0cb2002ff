"""The last good answer of a feed for a station, kept on disk: written whole or not at all, read without trust."""

from __future__ import annotations

import hashlib
import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import msgspec

MOST_BYTES = 50_000_000


class KeptAnswer(msgspec.Struct, frozen=True, kw_only=True, rename={"schema_": "schema"}):
    """An answer as it is kept. fetched_at: when the source gave it, or last said that it still holds; UTC."""

    schema_: Literal["feed-answer/1"] = "feed-answer/1"
    feed: str
    station: str
    fetched_at: datetime
    texts: tuple[str, ...]
    etag: str = ""
    last_modified: str = ""


def place(cache_dir: Path, feed: str, station: str, *what: str) -> Path:
    """The file of a feed and a station. what: all that an answer depends on, so that a feed written anew starts anew.

    feed, station: already checked to be harmless as names of files.
    """
    mark = hashlib.sha256("\0".join(what).encode()).hexdigest()[:12]
    return cache_dir / "feeds" / f"{feed}-{mark}" / f"{station}.json"


def read(path: Path, feed: str, station: str) -> KeptAnswer | None:
    """The answer kept, None where there is none or it cannot be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            return None
        kept = msgspec.json.decode(path.read_bytes(), type=KeptAnswer)
    except (OSError, ValueError, msgspec.MsgspecError, RecursionError):
        return None
    if (kept.feed, kept.station) != (feed, station) or kept.fetched_at.tzinfo is None or not kept.texts:
        return None
    return msgspec.structs.replace(kept, fetched_at=kept.fetched_at.astimezone(UTC))


def write(path: Path, kept: KeptAnswer) -> bool:
    """Keep an answer for its owner only. Returns whether that worked."""
    half: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, half = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(msgspec.json.encode(kept))
            file.flush()
            os.fsync(file.fileno())
        Path(half).replace(path)
    except OSError:
        if half is not None:
            Path(half).unlink(missing_ok=True)
        return False
    return True

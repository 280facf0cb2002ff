"""Briefs kept for a day: in memory, or as files in a folder. Bounded either way; nothing lists them.

What one person or address fills is taken from that person's own oldest briefs first.
"""

from __future__ import annotations

import errno
import secrets
import threading
import zlib
from collections import Counter, OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import msgspec

from advisor.web.folder import KEPT_S, FolderBytes
from advisor.web.model import KeptBrief

MOST_BYTES = 64_000_000
MOST_FILE_BYTES = 2_000_000_000
_decoder = msgspec.json.Decoder(KeptBrief)
_FULL = (errno.ENOSPC, errno.EDQUOT)


def new_id() -> str:
    """An address that cannot be guessed: 128 bits at random."""
    return secrets.token_urlsafe(16)


def is_full(error: OSError) -> bool:
    """Whether there was no room."""
    return error.errno in _FULL


class Store(Protocol):
    """Where briefs are kept."""

    def put(self, entry: KeptBrief, owner: str = "") -> None:
        """Keep an entry, or replace the one of the same id. owner: whose share of the room it takes."""

    def get(self, name: str) -> KeptBrief | None:
        """The entry of an id; None where there is none or its day is over."""


def _pack(entry: KeptBrief) -> bytes:
    return zlib.compress(msgspec.json.encode(entry), 1)


def _unpack(data: bytes) -> KeptBrief:
    return _decoder.decode(zlib.decompress(data))


class ByteStore:
    """Bytes kept for a day in memory. When most_bytes is reached, the oldest of whoever holds the most go."""

    def __init__(self, now: Callable[[], float], most_bytes: int) -> None:
        self._now, self._most = now, most_bytes
        self._rows: OrderedDict[str, tuple[float, bytes, str]] = OrderedDict()
        self._owned: dict[str, OrderedDict[str, None]] = {}
        self._held: Counter[str] = Counter()
        self._size = 0
        self._lock = threading.Lock()

    def put(self, name: str, made_s: float, data: bytes, owner: str = "") -> None:
        """Keep bytes under an id, or replace those of the same id. made_s: unix seconds."""
        with self._lock:
            before = self._rows.get(name)
            if before is not None:
                owner = before[2]
                self._size -= len(before[1])
                self._held[owner] -= len(before[1])
            self._rows[name] = (made_s, data, owner)
            self._owned.setdefault(owner, OrderedDict())[name] = None
            self._size += len(data)
            self._held[owner] += len(data)
            oldest = self._now() - KEPT_S
            while self._rows and next(iter(self._rows.values()))[0] <= oldest:
                self._drop(next(iter(self._rows)))
            while self._size > self._most and self._rows:
                greediest = self._held.most_common(1)[0][0]
                self._drop(next(iter(self._owned[greediest])))

    def _drop(self, name: str) -> None:
        _, data, owner = self._rows.pop(name)
        self._size -= len(data)
        self._held[owner] -= len(data)
        del self._owned[owner][name]
        if not self._owned[owner]:
            del self._owned[owner], self._held[owner]

    def get(self, name: str) -> bytes | None:
        """The bytes of an id; None where there are none or their day is over."""
        with self._lock:
            row = self._rows.get(name)
        return None if row is None or row[0] <= self._now() - KEPT_S else row[1]

    def __len__(self) -> int:
        return len(self._rows)


class MemoryStore:
    """Briefs in memory, packed; see ByteStore."""

    def __init__(self, now: Callable[[], float], most_bytes: int = MOST_BYTES) -> None:
        self._kept = ByteStore(now, most_bytes)

    def put(self, entry: KeptBrief, owner: str = "") -> None:
        """Keep an entry, or replace the one of the same id."""
        self._kept.put(entry.id, entry.made, _pack(entry), owner)

    def get(self, name: str) -> KeptBrief | None:
        """The entry of an id; None where there is none or its day is over."""
        data = self._kept.get(name)
        return None if data is None else _unpack(data)

    def __len__(self) -> int:
        return len(self._kept)


class FolderStore:
    """Briefs as files below a folder, packed; see FolderBytes."""

    MAGIC = b"advisor-brief/1 "

    def __init__(self, folder: Path, now: Callable[[], float], most_bytes: int = MOST_FILE_BYTES) -> None:
        self._now, self._kept = now, FolderBytes(folder / "briefs", now, most_bytes, self.MAGIC)

    def put(self, entry: KeptBrief, owner: str = "") -> None:
        """Keep an entry, or replace the one of the same id; it is on the disk when this returns. Raises OSError."""
        self._kept.put(entry.id, entry.made, _pack(entry), owner)

    def get(self, name: str) -> KeptBrief | None:
        """The entry of an id; None where there is none, its file is spoilt, or its day is over."""
        data = self._kept.get(name)
        try:
            entry = None if data is None else _unpack(data)
        except (zlib.error, msgspec.MsgspecError):
            return None
        return None if entry is None or entry.made <= self._now() - KEPT_S else entry

    def sweep(self) -> None:
        """Remove what is over a day old and what is beyond the room; see FolderBytes."""
        self._kept.sweep()

"""Briefs kept for a day: in memory, or as files in a folder. Bounded either way; nothing lists them."""

from __future__ import annotations

import os
import re
import secrets
import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import msgspec

from advisor.web.model import Entry

KEPT_S = 24 * 3600
MOST_BYTES = 64_000_000
MOST_FILE_BYTES = 2_000_000_000
_ID = re.compile(r"[A-Za-z0-9_-]{22}\Z", re.ASCII)
_decoder = msgspec.json.Decoder(Entry)


def new_id() -> str:
    """An address that cannot be guessed: 128 bits at random."""
    return secrets.token_urlsafe(16)


class Store(Protocol):
    """Where briefs are kept."""

    def put(self, entry: Entry) -> None:
        """Keep an entry, or replace the one of the same id."""

    def get(self, name: str) -> Entry | None:
        """The entry of an id; None where there is none or its day is over."""


def _pack(entry: Entry) -> bytes:
    return zlib.compress(msgspec.json.encode(entry), 1)


def _unpack(data: bytes) -> Entry:
    return _decoder.decode(zlib.decompress(data))


class Kept:
    """Bytes kept for a day in memory; the oldest go when most_bytes is reached."""

    def __init__(self, now: Callable[[], float], most_bytes: int) -> None:
        self._now, self._most = now, most_bytes
        self._rows: OrderedDict[str, tuple[float, bytes]] = OrderedDict()
        self._size = 0
        self._lock = threading.Lock()

    def put(self, name: str, made: float, data: bytes) -> None:
        """Keep bytes under an id, or replace those of the same id. made: unix seconds."""
        with self._lock:
            before = self._rows.get(name)
            self._rows[name] = (made, data)
            self._size += len(data) - (len(before[1]) if before else 0)
            oldest = self._now() - KEPT_S
            while self._rows:
                made, first = next(iter(self._rows.values()))
                if self._size <= self._most and made > oldest:
                    break
                self._rows.popitem(last=False)
                self._size -= len(first)

    def get(self, name: str) -> bytes | None:
        """The bytes of an id; None where there are none or their day is over."""
        with self._lock:
            row = self._rows.get(name)
        return None if row is None or row[0] <= self._now() - KEPT_S else row[1]

    def __len__(self) -> int:
        return len(self._rows)


class MemoryStore:
    """Briefs in memory, packed; the oldest go when most_bytes is reached."""

    def __init__(self, now: Callable[[], float], most_bytes: int = MOST_BYTES) -> None:
        self._kept = Kept(now, most_bytes)

    def put(self, entry: Entry) -> None:
        """Keep an entry, or replace the one of the same id."""
        self._kept.put(entry.id, entry.made, _pack(entry))

    def get(self, name: str) -> Entry | None:
        """The entry of an id; None where there is none or its day is over."""
        data = self._kept.get(name)
        return None if data is None else _unpack(data)

    def __len__(self) -> int:
        return len(self._kept)


class FolderStore:
    """Briefs as files, so that they outlive the server. Each file is whole or not there."""

    EVERY = 200

    def __init__(self, folder: Path, now: Callable[[], float], most_bytes: int = MOST_FILE_BYTES) -> None:
        self._folder, self._now, self._most = folder / "briefs", now, most_bytes
        self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._lock = threading.Lock()
        self._written = 0
        self.sweep()

    def _path(self, name: str) -> Path:
        return self._folder / f"{name}.z"

    def put(self, entry: Entry) -> None:
        """Keep an entry, or replace the one of the same id."""
        data = _pack(entry)
        half = self._folder / f".{entry.id}.{secrets.token_hex(4)}"
        try:
            half.write_bytes(data)
            os.utime(half, (entry.made, entry.made))
            half.replace(self._path(entry.id))
        finally:
            half.unlink(missing_ok=True)
        with self._lock:
            self._written += 1
            due = self._written % self.EVERY == 0
        if due:
            self.sweep()

    def get(self, name: str) -> Entry | None:
        """The entry of an id; None where there is none, its file is spoilt, or its day is over."""
        if not _ID.match(name):
            return None
        try:
            entry = _unpack(self._path(name).read_bytes())
        except (OSError, zlib.error, msgspec.MsgspecError):
            return None
        return None if entry.made <= self._now() - KEPT_S else entry

    def sweep(self) -> None:
        """Remove what is over a day old, and the oldest beyond most_bytes. A file's time is its brief's."""
        rows = []
        for path in self._folder.iterdir():
            try:
                stat = path.stat()
            except OSError:
                continue
            rows.append((stat.st_mtime, stat.st_size, path))
        kept = 0
        for changed, size, path in sorted(rows, key=lambda row: -row[0]):
            kept += size
            if changed <= self._now() - KEPT_S or kept > self._most:
                path.unlink(missing_ok=True)

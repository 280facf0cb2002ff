"""Briefs kept for a day: in memory, or as files in a folder. Bounded either way; nothing lists them.

What one person or address fills is taken from that person's own oldest briefs first.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import secrets
import threading
import zlib
from collections import Counter, OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import msgspec

from advisor.quantities.units import DAY_S
from advisor.web.model import KeptBrief

KEPT_S = DAY_S
MOST_BYTES = 64_000_000
MOST_FILE_BYTES = 2_000_000_000
_ID = re.compile(r"[A-Za-z0-9_-]{22}\Z", re.ASCII)
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
    """Briefs as files, so that they outlive the server. Each file is whole or not there, and on the disk.

    A file's name is the hash of the address: who may list the folder cannot open a page with what is seen. The first
    line names the format and whose share it is. Only files of that name and that first line are ever removed.
    """

    EVERY = 200
    MAGIC = b"advisor-brief/1 "
    _OWN = re.compile(r"[0-9a-f]{64}\.z\Z", re.ASCII)
    _HALF = re.compile(r"\.[0-9a-f]{64}\.[0-9a-f]{8}\Z", re.ASCII)

    def __init__(self, folder: Path, now: Callable[[], float], most_bytes: int = MOST_FILE_BYTES) -> None:
        self._folder, self._now, self._most = folder / "briefs", now, most_bytes
        if self._folder.is_symlink():
            raise OSError(errno.ELOOP, "its folder briefs is a link to elsewhere, where nothing of ours belongs")
        self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._lock = threading.Lock()
        self._written = 0
        self._owners: dict[str, bytes] = {}
        self.sweep()

    def _path(self, name: str) -> Path:
        return self._folder / f"{hashlib.sha256(name.encode('ascii')).hexdigest()}.z"

    def put(self, entry: KeptBrief, owner: str = "") -> None:
        """Keep an entry, or replace the one of the same id; it is on the disk when this returns. Raises OSError."""
        target = self._path(entry.id)
        whose = (
            self._owners.get(target.name)
            or hashlib.sha256(owner.encode("utf-8", "replace")).digest()[:8].hex().encode()
        )
        half = self._folder / f".{target.stem}.{secrets.token_hex(4)}"
        try:
            with os.fdopen(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
                file.write(self.MAGIC + whose + b"\n" + _pack(entry))
                file.flush()
                os.fsync(file.fileno())
            os.utime(half, (entry.made, entry.made))
            half.replace(target)
            self._settle()
        finally:
            half.unlink(missing_ok=True)
        with self._lock:
            self._owners[target.name] = whose
            self._written += 1
            due = self._written % self.EVERY == 0
        if due:
            self.sweep()

    def _settle(self) -> None:
        folder = os.open(self._folder, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    def get(self, name: str) -> KeptBrief | None:
        """The entry of an id; None where there is none, its file is spoilt, or its day is over."""
        if not _ID.match(name):
            return None
        try:
            head, _, data = self._path(name).read_bytes().partition(b"\n")
            entry = _unpack(data) if head.startswith(self.MAGIC) else None
        except (OSError, zlib.error, msgspec.MsgspecError):
            return None
        return None if entry is None or entry.made <= self._now() - KEPT_S else entry

    def sweep(self) -> None:
        """Remove what is over a day old, and beyond most_bytes the oldest of whoever holds the most.

        A file's time is its brief's. Whatever else lies in the folder is left alone.
        """
        oldest = self._now() - KEPT_S
        rows: list[tuple[float, int, str, bytes]] = []
        for entry in os.scandir(self._folder):
            try:
                if not entry.is_file(follow_symlinks=False):
                    continue
                stat = entry.stat(follow_symlinks=False)
                if self._HALF.match(entry.name) and stat.st_mtime <= oldest:
                    Path(entry.path).unlink(missing_ok=True)
                owner = self._owner(Path(entry.path)) if self._OWN.match(entry.name) else None
            except OSError:
                continue
            if owner is not None:
                rows.append((stat.st_mtime, stat.st_size, entry.name, owner))
        gone = [name for made, _, name, _ in rows if made <= oldest]
        gone += _beyond([row for row in rows if row[0] > oldest], self._most)
        for name in gone:
            (self._folder / name).unlink(missing_ok=True)
        with self._lock:
            kept = {row[2]: row[3] for row in rows}
            self._owners = {name: kept[name] for name in kept.keys() - set(gone)}

    def _owner(self, path: Path) -> bytes | None:
        """Whose share a file of ours takes; None where it is none of ours."""
        known = self._owners.get(path.name)
        if known is not None:
            return known
        with path.open("rb") as file:
            head = file.readline(64)
        return head[len(self.MAGIC) :].strip() if head.startswith(self.MAGIC) else None


def _beyond(rows: list[tuple[float, int, str, bytes]], most: int) -> list[str]:
    """Names of the files that have to go so that at most so many bytes are left."""
    size = sum(row[1] for row in rows)
    held: Counter[bytes] = Counter()
    owned: dict[bytes, list[tuple[float, int, str, bytes]]] = {}
    for row in sorted(rows, reverse=True):
        held[row[3]] += row[1]
        owned.setdefault(row[3], []).append(row)
    gone: list[str] = []
    while size > most and owned:
        greediest = held.most_common(1)[0][0]
        _, length, name, _ = owned[greediest].pop()
        gone.append(name)
        size -= length
        held[greediest] -= length
        if not owned[greediest]:
            del owned[greediest], held[greediest]
    return gone

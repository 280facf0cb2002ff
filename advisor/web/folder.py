"""Bytes kept for a day as files in a folder, so that they outlive the server. Bounded; nothing lists them.

What one person or address fills is taken from that person's own oldest files first.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import secrets
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from advisor.quantities.units import DAY_S

KEPT_S = DAY_S
_ID = re.compile(r"[A-Za-z0-9_-]{22}\Z", re.ASCII)


class FolderBytes:
    """Files by the hash of their address. Each file is whole or not there, and on the disk.

    Who may list the folder cannot open a page with what is seen. The first line names the format and whose share it is;
    only files of that name and that first line are ever removed. magic: how that line begins, with a blank at its end;
    most_bytes: beyond that the oldest files of whoever holds the most go. Raises OSError where there can be no folder.
    """

    EVERY = 200
    _OWN = re.compile(r"[0-9a-f]{64}\.z\Z", re.ASCII)
    _HALF = re.compile(r"\.[0-9a-f]{64}\.[0-9a-f]{8}\Z", re.ASCII)

    def __init__(self, folder: Path, now: Callable[[], float], most_bytes: int, magic: bytes) -> None:
        self._folder, self._now, self._most, self._magic = folder, now, most_bytes, magic
        if self._folder.is_symlink():
            what = f"its folder {folder.name} is a link to elsewhere, where nothing of ours belongs"
            raise OSError(errno.ELOOP, what)
        self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._lock = threading.Lock()
        self._written = 0
        self._owners: dict[str, bytes] = {}
        self.sweep()

    def _path(self, name: str) -> Path:
        return self._folder / f"{hashlib.sha256(name.encode('ascii')).hexdigest()}.z"

    def put(self, name: str, made_s: float, data: bytes, owner: str = "") -> None:
        """Keep bytes under an id, or replace those of the same id; they are on the disk when this returns.

        made_s: unix seconds. Raises OSError.
        """
        target = self._path(name)
        whose = (
            self._owners.get(target.name)
            or hashlib.sha256(owner.encode("utf-8", "replace")).digest()[:8].hex().encode()
        )
        half = self._folder / f".{target.stem}.{secrets.token_hex(4)}"
        try:
            with os.fdopen(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
                file.write(self._magic + whose + b"\n" + data)
                file.flush()
                os.fsync(file.fileno())
            os.utime(half, (made_s, made_s))
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

    def get(self, name: str) -> bytes | None:
        """The bytes of an id; None where there are none, their file is none of ours, or their day is over."""
        if not _ID.match(name):
            return None
        path = self._path(name)
        try:
            made_s, read = path.stat().st_mtime, path.read_bytes()
        except OSError:
            return None
        head, _, data = read.partition(b"\n")
        return data if head.startswith(self._magic) and made_s > self._now() - KEPT_S else None

    def sweep(self) -> None:
        """Remove what is over a day old, and beyond most_bytes the oldest of whoever holds the most.

        A file's time is that of what it keeps. Whatever else lies in the folder is left alone.
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
        return head[len(self._magic) :].strip() if head.startswith(self._magic) else None


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

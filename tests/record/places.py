"""What the tests of the record share: a clock, walks, and a PostgreSQL of their own."""

from __future__ import annotations

import itertools
import os
import pwd
import secrets
import shutil
import socket
import subprocess
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from advisor.record.store import Addition

USER = "advisortest"
_count = itertools.count(1)


class Clock:
    """A clock that moves when told to."""

    def __init__(self, at: str = "2027-01-10T05:56:00+00:00") -> None:
        self.at = datetime.fromisoformat(at).astimezone(UTC)

    def __call__(self) -> datetime:
        return self.at

    def on(self, minutes: float) -> None:
        self.at += timedelta(minutes=minutes)


def opening(walk: str, **more: Any) -> Addition:
    line = {"id": "wing-upper-surface", "kind": "checkpoint", "status": "expected", "weight": "must"}
    data = {
        "walk": walk,
        "by": "AB",
        "brief": "b" * 22,
        "fingerprint": "f" * 64,
        "aircraft": {"id": "single-aisle-jet", "name": "Single-aisle jet"},
        "checklist": {"name": "shipped", "revision": "1", "fingerprint": "0"},
        "place": "ZZZA",
        "station": "ZZZA",
        "now": "2027-01-10T05:25:00Z",
        "off_block": "2027-01-10T06:40:00Z",
        "zones": ["left-wing", "tail"],
        "lines": [{**line, "zone": "wings", "text": "Look at the wing from above"}],
        **more,
    }
    row = {
        "id": walk,
        "brief": data["brief"],
        "aircraft": data["aircraft"]["id"],
        "registration": data.get("registration"),
        "station": data["station"],
        "off_block": data["off_block"],
    }
    return Addition("opened", walk, data, opens=row)


def found(walk: str, what: str = "frost", key: str | None = None, body: str = "", **more: Any) -> Addition:
    return Addition("found", walk, {"walk": walk, "line": "wing-upper-surface", "found": what, **more}, key, body)


def why_not() -> str | None:
    """Why no PostgreSQL can be started here; None where one can."""
    if _programs() is None:
        return "no PostgreSQL on this machine; .ci/run installs it"
    if os.getuid() == 0 and shutil.which("useradd") is None:
        return "PostgreSQL refuses root, and no other user can be made here"
    return None


def _programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return found[-1].parent if found else None


class Postgres:
    """A PostgreSQL server in a folder of its own, with its durability on, under a user that is not root."""

    def __enter__(self) -> Postgres:
        self.folder = Path(tempfile.mkdtemp(prefix="advisor-postgres-"))
        self.user: str | None = None
        if os.getuid() == 0:
            self.user = USER
            try:
                pwd.getpwnam(USER)
            except KeyError:
                subprocess.run(["useradd", "--system", "--no-create-home", USER], check=True)
            shutil.chown(self.folder, USER)
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self._run("initdb", "-D", str(self.folder / "data"), "-U", "record", "-A", "trust", "-E", "UTF8", "--no-sync")
        self.start()
        return self

    def _run(self, program: str, *arguments: str) -> None:
        programs = _programs()
        assert programs is not None
        subprocess.run(
            [str(programs / program), *arguments], check=True, user=self.user, cwd="/", capture_output=True, timeout=120
        )

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c max_connections=60"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-o", options, "-l", log, "-w", "start")

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", how, "-w", "stop")

    def new_database(self) -> str:
        import psycopg

        name = f"record_{next(_count)}_{secrets.token_hex(3)}"
        with psycopg.connect(self._url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return self._url(name)

    def _url(self, name: str) -> str:
        return f"postgresql://record@127.0.0.1:{self.port}/{name}"

    def __exit__(self, *_: object) -> None:
        self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

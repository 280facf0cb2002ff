"""How many findings the server takes, each on the disk before it is answered, beside a bare SQLite loop.

Ratios within one run gate; absolute figures are printed. The long run: python -m tests.benchmarks.test_record_speed 20
"""

from __future__ import annotations

import asyncio
import http.client
import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.test_web import CONNECTIONS, load, requests, run, told

pytest.importorskip("sqlalchemy")
# as many as a telephone that comes back from a walk sends at once
TOGETHER = 25


class Recording:
    """The command's own server with its record, in its own process."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.command = [sys.executable, "-m", "advisor", "serve", "--port", "0", *more]
        if folder is not None:
            self.command += ["--data", str(folder)]

    def __enter__(self) -> Recording:
        self.process = subprocess.Popen(self.command, stderr=subprocess.PIPE, text=True)
        self.port = int(self.process.stderr.readline().split("/")[2].split(":")[1])
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait(10)

    def walk(self) -> str:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        connection.request(
            "POST", "/api/brief", requests()[0].split(b"\r\n\r\n")[1], {"Content-Type": "application/json"}
        )
        answer = connection.getresponse()
        answer.read()
        said = json.dumps({"brief": answer.getheader("Location").rsplit("/", 1)[1], "by": "AB"})
        connection.request("POST", "/api/walk", said, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        answer.read()
        return answer.getheader("Location").rsplit("/", 1)[1]


def bare(folder: Path, seconds: float) -> float:
    """Rows a second of a loop that does nothing but insert and commit, with the record's own pragmas."""
    connection = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY, data TEXT)")
    begun, count = time.perf_counter(), 0
    while time.perf_counter() - begun < seconds:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO event (data) VALUES (?)", ("x" * 300,))
        connection.execute("COMMIT")
        count += 1
    connection.close()
    return count / seconds


def _sent(walk: str, path: str, body: object, key: str = "") -> bytes:
    data = json.dumps(body).encode()
    head = f"POST /api/walk/{walk}/{path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
    head += f"Idempotency-Key: {key}\r\n" if key else ""
    return head.encode() + f"Content-Length: {len(data)}\r\n\r\n".encode() + data


def findings(port: int, walks: list[str], seconds: float, together: int) -> float:
    """Findings a second by 16 connections, one at a time or so many in one request. Each has its own key."""
    counts = [0] * CONNECTIONS

    async def one(number: int, until: float) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        walk, at = walks[number % len(walks)], 0
        while time.perf_counter() < until:
            at += 1
            said: dict[str, Any] = {"line": "wing-upper-surface", "found": "frost", "at": "2027-01-10T05:40:00Z"}
            if together == 1:
                writer.write(_sent(walk, "found", said, f"{number}-{at}"))
            else:
                queue = [{"kind": "found", "key": f"{number}-{at}-{n}", "said": said} for n in range(together)]
                writer.write(_sent(walk, "queue", queue))
            head = await reader.readuntil(b"\r\n\r\n")
            assert head.split(b"\r\n")[0].split()[1] in (b"200", b"201"), head
            await reader.readexactly(int(head.lower().split(b"content-length:")[1].split(b"\r\n")[0]))
            counts[number] += together
        writer.close()

    async def every() -> None:
        until = time.perf_counter() + seconds
        await asyncio.gather(*(one(number, until) for number in range(CONNECTIONS)))

    begun = time.perf_counter()
    run(every())
    return sum(counts) / (time.perf_counter() - begun)


def measured(folder: Path, seconds: float) -> dict[str, float]:
    """Figures of one run."""
    with Recording(folder / "data") as server:
        walks = [server.walk() for _ in range(8)]
        findings(server.port, walks, 0.5, 1)
        found = {"bare rows": bare(folder, seconds)}
        found["findings, one a request"] = findings(server.port, walks, seconds, 1)
        found[f"findings, {TOGETHER} a request"] = findings(server.port, walks, seconds, TOGETHER)
        found["briefs, with the record"] = load(server.port, requests(), b"201", seconds)["a second"]
    with Recording(None) as server:
        load(server.port, requests(), b"201", 0.5)
        found["briefs, in memory"] = load(server.port, requests(), b"201", seconds)["a second"]
    told("a second", found)
    return found


def test_findings_reach_half_of_a_bare_loop_when_telephones_send_what_waited(tmp_path) -> None:
    found = measured(tmp_path, 2.0)
    assert found[f"findings, {TOGETHER} a request"] >= 0.5 * found["bare rows"]
    # one a request, HTTP itself costs more than the disk: this only has to stay in sight of it
    assert found["findings, one a request"] >= 0.03 * found["bare rows"]
    # keeping a brief on the disk costs little beside making it
    assert found["briefs, with the record"] >= 0.6 * found["briefs, in memory"]


def main(seconds: float) -> None:
    """The long run."""
    with tempfile.TemporaryDirectory(prefix="advisor-speed-") as folder:
        measured(Path(folder), seconds)


if __name__ == "__main__":
    main(float(sys.argv[1]))

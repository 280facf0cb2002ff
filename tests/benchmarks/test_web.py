"""How many briefs the server makes, beside a handler that does nothing: ratios and errors gate, figures are printed.

The long run: python -m tests.benchmarks.test_web 60 10000
"""

from __future__ import annotations

import asyncio
import gc
import json
import os
import subprocess
import sys
import time
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("litestar")
CONNECTIONS = 16
REPORTS = (
    "METAR ZZZA 100520Z 24028G45KT 0800 +SN FZFG VV002 M03/M04 Q0990",
    "METAR ZZZA 100520Z 24004KT CAVOK 14/06 Q1023",
    "METAR ZZZA 100520Z AUTO /////KT //// // ////// M01/// Q////",
    "METAR ZZZA 100520Z 24012KT 9999 -RA BKN012 02/01 Q1002",
)
HEADER = "POST /api/brief HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n"
IDLE = b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n"


def asked(report: str) -> bytes:
    return json.dumps(
        {"reports": [report], "off_block": "0640Z", "now": "2027-01-10T05:25:00Z", "place": "61.4,9.8", "heading": 210}
    ).encode()


def requests() -> list[bytes]:
    bodies = [asked(report) for report in REPORTS]
    return [HEADER.format(len(body)).encode() + body for body in bodies]


async def _one(port: int, sent: list[bytes], wanted: bytes, until: float, took: list[float], faults: list[str]) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    at = 0
    while time.perf_counter() < until:
        begun = time.perf_counter()
        writer.write(sent[at % len(sent)])
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length:")[1].split(b"\r\n")[0])
        await reader.readexactly(length)
        took.append(time.perf_counter() - begun)
        if wanted not in head.split(b"\r\n")[0]:
            faults.append(head.split(b"\r\n")[0].decode())
        at += 1
    writer.close()


def run(work: Coroutine[Any, Any, Any]) -> Any:
    """On a thread of its own: another test's browser may hold this thread's event loop."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()


def load(port: int, sent: list[bytes], wanted: bytes, seconds: float) -> dict[str, float]:
    """Load by 16 connections, each with one request at a time; times in ms."""
    each: list[list[float]] = [[] for _ in range(CONNECTIONS)]
    faults: list[str] = []

    async def all_of_them() -> None:
        until = time.perf_counter() + seconds
        await asyncio.gather(*(_one(port, sent, wanted, until, took, faults) for took in each))

    begun = time.perf_counter()
    run(all_of_them())
    spent = time.perf_counter() - begun
    took = sorted(one for own in each for one in own)
    assert faults == []
    middle, high = (1000 * took[int(len(took) * part)] for part in (0.5, 0.99))
    counts = [len(own) for own in each]
    return {
        "a second": len(took) / spent,
        "p50 ms": middle,
        "p99 ms": high,
        "count": len(took),
        "least": min(counts),
        "most": max(counts),
    }


class Serving:
    """The command's own server in its own process."""

    def __enter__(self) -> Serving:
        command = [sys.executable, "-m", "advisor", "serve", "--port", "0"]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        self.port = int(self.process.stderr.readline().split("/")[2].split(":")[1])
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait(10)

    def resident_mb(self) -> float:
        pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        return pages * 4096 / 1e6

    def cpu_s(self) -> float:
        found = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(found[11]) + int(found[12])) / os.sysconf("SC_CLK_TCK")


def told(name: str, found: dict[str, float]) -> None:
    print(f"\n{name}: " + ", ".join(f"{key} {value:.1f}" for key, value in found.items()))


def test_sixteen_connections_meet_no_error_and_no_starvation() -> None:
    with Serving() as server:
        load(server.port, requests(), b"201", 0.5)
        idle = load(server.port, [IDLE], b"200", 1.0)
        briefs = load(server.port, requests(), b"201", 4.0)
        told("no-op", idle)
        told("briefs", briefs)
        # requests are taken in turn: no connection gets much more than another
        assert briefs["most"] <= 2 * briefs["least"] + 2


def test_health_answers_while_briefs_are_made() -> None:
    with Serving() as server:

        async def both() -> tuple[list[float], list[float], list[str]]:
            until = time.perf_counter() + 3
            slow: list[float] = []
            quick: list[float] = []
            faults: list[str] = []
            makers = [_one(server.port, requests(), b"201", until, slow, faults) for _ in range(CONNECTIONS)]
            await asyncio.gather(*makers, _one(server.port, [IDLE], b"200", until, quick, faults))
            return sorted(slow), sorted(quick), faults

        slow, quick, faults = run(both())
    assert faults == []
    assert quick[len(quick) // 2] < slow[len(slow) // 2] / 2


def test_memory_stays_within_the_store_s_bound() -> None:
    from advisor.web.model import Asked, Settings
    from advisor.web.store import MemoryStore
    from advisor.web.work import Work

    work = Work(Settings())
    work.store = MemoryStore(work.unix, most_bytes=400_000)
    wanted = Asked(reports=(REPORTS[0],), off_block="0640Z", now="2027-01-10T05:25:00Z", place="61.4,9.8")
    counts = []
    for at in range(80):
        work.make(wanted)
        if at in (39, 79):
            gc.collect()
            counts.append(len(gc.get_objects()))
    assert len(work.store) < 40
    # between 40 and 80 briefs nothing is gathered up
    assert counts[1] < counts[0] * 1.02


def main(seconds: float, briefs: int) -> None:
    """The long run."""
    with Serving() as server:
        load(server.port, requests(), b"201", 2)
        told("no-op", load(server.port, [IDLE], b"200", min(10, seconds)))
        before = server.cpu_s()
        found = load(server.port, requests(), b"201", seconds)
        told("briefs", found | {"cpu ms each": 1000 * (server.cpu_s() - before) / found["count"]})
        made = 0
        while made < briefs:
            made += int(load(server.port, requests(), b"201", 15)["count"])
            print(f"{made} briefs: {server.resident_mb():.0f} MB")


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]))

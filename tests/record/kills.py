"""Kills the server again and again while eight clients write, and looks at what is left.

    python -m tests.record.kills 200 [--postgres] [--servers 2]

Nothing acknowledged may be lost, nothing may be there twice, the chain has to hold. A client that got no answer asks
again with the same key, as a telephone does.
"""

from __future__ import annotations

import argparse
import http.client
import json
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from advisor.record.store import Record
from advisor.record.verify import check
from tests.record.places import Clock, Postgres
from tests.web.site import WORST, body

CLIENTS = 8


class Serving:
    """The command's own server, in a process of its own, started again on the same data and port."""

    def __init__(self, data: Path, database: str | None = None, more: Sequence[str] = ()) -> None:
        self.data, self.database, self.more, self.port = data, database, list(more), 0
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "advisor", "serve", "--port", str(self.port), "--data", str(self.data)]
        command += self.more
        if self.database:
            command += ["--database", self.database]
        for _ in range(50):
            self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
            line = self.process.stderr.readline()
            if line.startswith("http"):
                self.port = int(line.split("/")[2].split(":")[1])
                return
            # the port is not free yet
            self.process.kill()
            self.process.wait(10)
            time.sleep(0.1)
        raise AssertionError(line)

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)
        self.process.stderr.close()


def post(port: int, path: str, said: object, key: str | None = None, timeout: float = 5.0) -> tuple[int, dict]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
    try:
        headers = {"Content-Type": "application/json"} | ({"Idempotency-Key": key} if key else {})
        connection.request("POST", path, json.dumps(said), headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


class Client(threading.Thread):
    """Says one thing after another on a walk of its own; what got no answer is sent again with its key."""

    def __init__(self, number: int, ports: list[int], walk: str) -> None:
        super().__init__(daemon=True)
        self.number, self.ports, self.walk = number, ports, walk
        self.acknowledged: dict[str, dict] = {}
        self.done, self.faults = threading.Event(), []

    def run(self) -> None:
        count = 0
        while not self.done.is_set():
            count += 1
            self._say(f"{self.number}-{count}")

    def _say(self, key: str) -> None:
        said = {"zone": "tail", "found": "ice", "note": key}
        while True:
            try:
                status, event = post(random.choice(self.ports), f"/api/walk/{self.walk}/found", said, key)
            except (OSError, http.client.HTTPException, ValueError):
                if self.done.is_set():
                    return
                time.sleep(0.05)
                continue
            if status == 201:
                self.acknowledged[key] = event
                return
            if status != 503:
                self.faults.append((status, event))
                return


def kills(count: int, data: Path, database: str | None = None, servers: int = 1, seed: int = 1) -> dict[str, int]:
    """So many kills; how many events were acknowledged, and how many there are. Asserts what has to hold."""
    draw = random.Random(seed)
    running = [Serving(data / f"{at}" if database else data, database) for at in range(servers)]
    ports = [server.port for server in running]
    walks = []
    for _ in range(CLIENTS):
        _, brief = post(ports[0], "/api/brief", body(WORST), timeout=30)
        assert brief["schema"] == "brief/1"
        walks.append(opened(ports[0]))
    clients = [Client(at, ports, walk) for at, walk in enumerate(walks)]
    for client in clients:
        client.start()
    for _ in range(count):
        before = sum(len(client.acknowledged) for client in clients)
        wait = time.monotonic() + 20
        while sum(len(client.acknowledged) for client in clients) < before + 5 and time.monotonic() < wait:
            time.sleep(0.005)
        time.sleep(draw.uniform(0, 0.15))
        server = draw.choice(running)
        server.kill()
        server.start()
    for client in clients:
        client.done.set()
    for client in clients:
        client.join(20)
    for server in running:
        server.kill()
    return _look(clients, database or f"sqlite:///{data / 'record.sqlite'}")


def opened(port: int) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("POST", "/api/brief", json.dumps(body(WORST)), {"Content-Type": "application/json"})
    answer = connection.getresponse()
    answer.read()
    brief = answer.getheader("Location").rsplit("/", 1)[1]
    connection.close()
    status, walk = post(port, "/api/walk", {"brief": brief, "by": "AB"}, timeout=30)
    assert status == 201, walk
    return walk["id"]


def _look(clients: list[Client], url: str) -> dict[str, int]:
    record = Record(url, Clock())
    try:
        faults = list(check(record))
        assert faults == [], faults[:5]
        kept: dict[str, dict] = {}
        for event in record.stream():
            if event.kind == "found":
                key = event.data["note"]
                assert key not in kept, f"{key} is there twice"
                kept[key] = {"seq": event.seq, "hash": event.hash}
        acknowledged = 0
        for client in clients:
            assert client.faults == [], client.faults[:3]
            for key, event in client.acknowledged.items():
                acknowledged += 1
                assert key in kept, f"{key} was acknowledged and is gone"
                assert kept[key] == {"seq": event["seq"], "hash": event["hash"]}, key
        return {"acknowledged": acknowledged, "kept": len(kept)}
    finally:
        record.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int)
    parser.add_argument("--postgres", action="store_true")
    parser.add_argument("--servers", type=int, default=1)
    given = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="advisor-kills-") as folder:
        if given.postgres:
            with Postgres() as server:
                found = kills(given.count, Path(folder), server.new_database(), given.servers)
        else:
            found = kills(given.count, Path(folder), None, given.servers)
    print(f"{given.count} kills in {time.monotonic() - begun:.0f} s: {found}")


if __name__ == "__main__":
    main()

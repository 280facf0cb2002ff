"""People brief, walk, find, photograph, sign and read for twenty minutes; the server's memory has to stay flat.

    python -m tests.record.soak 20

Prints the resident memory every half minute. It holds where the most of the last third is at most a tenth above the
most of the second third: the first third fills what is bounded. At the end the record has to verify.
"""

from __future__ import annotations

import http.client
import io
import json
import random
import sys
import tempfile
import threading
import time
import urllib.parse
from pathlib import Path

from PIL import Image

from advisor.record.store import Record
from advisor.record.verify import check
from tests.record.kills import Serving, opened, post
from tests.record.places import Clock
from tests.web.site import QUIET, STORM, WORST, body

PEOPLE = 8
PAUSE_S = 0.25


def resident_mb(process: int) -> float:
    return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * 4096 / 1e6


def get(port: int, path: str) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        answer.read()
        return answer.status
    finally:
        connection.close()


def picture(draw: random.Random) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (800, 600), (draw.randrange(256), draw.randrange(256), 9)).save(out, "JPEG")
    return out.getvalue()


def person(number: int, port: int, until: float, faults: list[str], counts: list[int]) -> None:
    """One after another, as a pilot does: a brief, its page, a walk, findings, a photo, treatment, a signature."""
    draw = random.Random(number)
    while time.monotonic() < until:
        try:
            status, _ = post(port, "/api/brief", body(draw.choice((WORST, QUIET, STORM))), timeout=60)
            walk = opened(port)
            for path, said in (
                ("found", {"line": "wing-upper-surface", "found": draw.choice(("frost", "nothing seen"))}),
                ("found", {"zone": "tail", "found": "ice", "note": "x" * draw.randrange(400)}),
                ("treatment", {"step": "asked"}),
                ("note", {"text": "soak"}),
                ("sign", {"by": "AB", "role": "pilot"}),
            ):
                status, answer = post(port, f"/api/walk/{walk}/{path}", said, f"{walk}-{path}-{draw.random()}", 60)
                if status != 201 and "no line" not in str(answer):
                    faults.append(f"{path}: {status} {answer}")
                if path == "treatment" and number % 4 == 0:
                    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
                    headers = {"Content-Type": "image/jpeg"}
                    connection.request("POST", f"/api/walk/{walk}/photo", picture(draw), headers)
                    if connection.getresponse().status != 201:
                        faults.append("photo")
                    connection.close()
                time.sleep(PAUSE_S)
            for path in (f"/w/{walk}", f"/api/walk/{walk}", "/", "/b/" + urllib.parse.quote("nothing")):
                if (status := get(port, path)) >= 500:
                    faults.append(f"{path}: {status}")
            if number % 4 == 1 and get(port, f"/w/{walk}/sheet.pdf") != 200:
                faults.append("sheet")
            counts[number] += 1
        except (OSError, http.client.HTTPException, json.JSONDecodeError, AssertionError) as error:
            faults.append(f"{type(error).__name__}: {error}")


def soak(minutes: float, folder: Path) -> tuple[list[float], list[str], int]:
    """Resident memory every half minute, what went wrong, and how many rounds were made."""
    server = Serving(folder)
    faults: list[str] = []
    counts = [0] * PEOPLE
    until = time.monotonic() + 60 * minutes
    arguments = [(number, server.port, until, faults, counts) for number in range(PEOPLE)]
    people = [threading.Thread(target=person, args=given, daemon=True) for given in arguments]
    for one in people:
        one.start()
    memory: list[float] = []
    while time.monotonic() < until:
        time.sleep(min(30.0, max(1.0, 60 * minutes / 12)))
        memory.append(resident_mb(server.process.pid))
        print(f"{memory[-1]:.1f} MB, {sum(counts)} rounds, {len(faults)} faults", flush=True)
    for one in people:
        one.join(60)
    server.kill()
    record = Record(f"sqlite:///{folder / 'record.sqlite'}", Clock())
    faults += list(check(record))
    record.close()
    return memory, faults, sum(counts)


def flat(memory: list[float]) -> bool:
    """Whether the last third needs no more than the second, but for a tenth."""
    third = len(memory) // 3
    return max(memory[2 * third :]) <= 1.1 * max(memory[third : 2 * third])


def main() -> None:
    """The long run."""
    with tempfile.TemporaryDirectory(prefix="advisor-soak-") as folder:
        memory, faults, rounds = soak(float(sys.argv[1]), Path(folder))
    print(f"{rounds} rounds, {len(faults)} faults: {faults[:3]}")
    print("flat" if flat(memory) else "NOT flat", " ".join(f"{one:.0f}" for one in memory))


if __name__ == "__main__":
    main()

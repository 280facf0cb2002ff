"""Mixed load on one server for some minutes at half of what it can do: memory has to stay flat, and nothing may fail.

    python -m tests.record.soak 20

Eight people do one thing after another, drawn by a fixed chance: a brief of a report and its page, a brief by station
and feed whose weather changes, whether a brief is still the newest, a whole walk with a photo now and then, a plan of
slots and its board, the outcomes of all walks, a sheet. Half a minute without a pause shows how many of these the
server does a second; then they come at half that rate, at set times whether or not the ones before are answered.
Prints the resident memory every half minute and, at the end, median and 99th percentile of every kind. It holds where
after the first five minutes (a quarter, of a shorter run) memory grows by less than 5 %, no answer failed, and the
record verifies. Exit 1 where it does not.
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
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from PIL import Image

from advisor.record.store import Record
from advisor.record.verify import check
from tests.record.kills import Serving
from tests.record.places import Clock
from tests.web.site import QUIET, STORM, WORST, body

PEOPLE = 8
CALIBRATED_S = 30.0
SETTLED_S = 300.0
MOST_GROWTH = 0.05
SAMPLES = Path(__file__).parents[2] / "sample_reports" / "slots"
# what people do, and how often of a hundred
SHARES = {"brief": 34, "by feed": 10, "still newest": 30, "walk": 18, "outcomes": 4, "sheet": 3, "slots": 1}


class Source(BaseHTTPRequestHandler):
    """A feed whose weather changes every minute."""

    def do_GET(self) -> None:
        now = datetime.now(UTC)
        weather = ("9999 FEW020 05/02", "3000 -SN OVC012 M01/M02", "0800 +SN VV003 M02/M03")[now.minute % 3]
        self.send_response(200)
        self.end_headers()
        self.wfile.write(f"METAR ZZZA {now:%d%H%M}Z 24008KT {weather} Q1013".encode())

    def log_message(self, *said: object) -> None: ...


class Load:
    """What is asked of one server, how long each took, and what went wrong."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.took: dict[str, list[float]] = {}
        self.faults: list[str] = []
        self._lock = threading.Lock()
        self._briefs: list[str] = []
        self._walks: list[str] = []
        self._planning = threading.Lock()

    def ask(
        self, kind: str, method: str, path: str, sent: object = None, wanted: int = 200
    ) -> http.client.HTTPResponse:
        """One request, timed; the answer with its body as `data`."""
        data, headers = b"", {}
        if isinstance(sent, bytes):
            data, headers = sent, {"Content-Type": "image/jpeg"}
        elif sent is not None:
            data, headers = json.dumps(sent).encode(), {"Content-Type": "application/json"}
        begun = time.perf_counter()
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(method, path, data, headers)
            answer = connection.getresponse()
            answer.data = answer.read()  # type: ignore[attr-defined]
        finally:
            connection.close()
        with self._lock:
            self.took.setdefault(kind, []).append(time.perf_counter() - begun)
            if answer.status != wanted:
                self.faults.append(f"{kind} {path}: {answer.status} {answer.data[:200]!r}")  # type: ignore[attr-defined]
        return answer

    def _known(self, names: list[str], draw: random.Random) -> str | None:
        with self._lock:
            return draw.choice(names[-200:]) if names else None

    def do(self, what: str, draw: random.Random) -> None:
        """One of SHARES, from beginning to end."""
        acts: dict[str, Callable[[random.Random], None]] = {
            "brief": self._brief,
            "by feed": self._by_feed,
            "still newest": self._still_newest,
            "walk": self._walk,
            "outcomes": lambda _: self._outcomes(),
            "sheet": self._sheet,
            "slots": lambda _: self._slots(),
        }
        try:
            acts[what](draw)
        except (OSError, http.client.HTTPException, ValueError) as error:
            with self._lock:
                self.faults.append(f"{what}: {type(error).__name__}: {error}")

    def _made(self, kind: str, sent: dict[str, object]) -> str:
        answer = self.ask(kind, "POST", "/api/brief", sent, 201)
        name = (answer.getheader("Location") or "/").rsplit("/", 1)[1]
        with self._lock:
            self._briefs.append(name)
        return name

    def _brief(self, draw: random.Random) -> None:
        name = self._made("brief", body(draw.choice((WORST, QUIET, STORM)), heading=draw.randrange(360)))
        self.ask("page", "GET", f"/b/{name}")

    def _by_feed(self, draw: random.Random) -> None:
        leaving = datetime.now(UTC) + timedelta(minutes=draw.randrange(70, 120))
        self._made(
            "brief by feed", {"station": "ZZZA", "place": "61.4,9.8", "off_block": f"{leaving:%Y-%m-%dT%H:%M:00Z}"}
        )

    def _still_newest(self, draw: random.Random) -> None:
        name = self._known(self._briefs, draw)
        if name is not None:
            self.ask("still newest", "GET", f"/b/{name}/newer")

    def _walk(self, draw: random.Random) -> None:
        brief = self._made("brief", body(WORST))
        answer = self.ask("walk", "POST", "/api/walk", {"brief": brief, "by": "AB"}, 201)
        walk = json.loads(answer.data)["id"]  # type: ignore[attr-defined]
        where = f"/api/walk/{walk}"
        with self._lock:
            self._walks.append(walk)
        found = draw.choice(("frost", "nothing seen"))
        self.ask("event", "POST", f"{where}/found", {"line": "wing-upper-surface", "found": found}, 201)
        self.ask(
            "event", "POST", f"{where}/found", {"zone": "tail", "found": "ice", "note": "x" * draw.randrange(400)}, 201
        )
        self.ask("event", "POST", f"{where}/treatment", {"step": "asked"}, 201)
        if draw.random() < 0.3:
            self.ask("photo", "POST", f"{where}/photo", picture(draw), 201)
        self.ask("event", "POST", f"{where}/sign", {"by": "AB", "role": "pilot"}, 201)
        self.ask("walk page", "GET", f"/w/{walk}")

    def _outcomes(self) -> None:
        self.ask("outcomes", "GET", "/outcomes")

    def _sheet(self, draw: random.Random) -> None:
        name = self._known(self._walks, draw)
        if name is not None:
            self.ask("sheet", "GET", f"/w/{name}/sheet.pdf")

    def _slots(self) -> None:
        # the server makes one plan at a time and turns a second one away
        with self._planning:
            sent = {
                "schedule": (SAMPLES / "schedule.csv").read_text(encoding="utf-8"),
                "reports": [(SAMPLES / "report.txt").read_text(encoding="utf-8")],
                "now": "2027-01-10T04:30:00Z",
            }
            answer = self.ask("slots", "POST", "/api/slots", sent, 201)
        self.ask("board", "GET", (answer.getheader("Link") or "</slots>").split(">")[0][1:])


def picture(draw: random.Random) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (800, 600), (draw.randrange(256), draw.randrange(256), 9)).save(out, "JPEG")
    return out.getvalue()


def resident_mb(process: int) -> float:
    return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * 4096 / 1e6


def people(load: Load, until: float, rate: float | None, seed: int) -> tuple[list[threading.Thread], list[int]]:
    """Eight who go on until a time; rate: acts a second of all together, None for as fast as they can."""
    turn, begun, counts = iter(range(10**9)), time.monotonic(), [0] * PEOPLE
    lock = threading.Lock()

    def one(number: int) -> None:
        draw = random.Random(1000 * seed + number)
        while True:
            if rate is not None:
                with lock:
                    at = begun + next(turn) / rate
                if at >= until:
                    return
                time.sleep(max(0.0, at - time.monotonic()))
            elif time.monotonic() >= until:
                return
            load.do(draw.choices(list(SHARES), list(SHARES.values()))[0], draw)
            counts[number] += 1

    threads = [threading.Thread(target=one, args=(number,), daemon=True) for number in range(PEOPLE)]
    for thread in threads:
        thread.start()
    return threads, counts


def soak(minutes: float, folder: Path) -> tuple[list[tuple[float, float]], Load]:
    """Resident memory (seconds, MB) on the way, and what was asked."""
    with ThreadingHTTPServer(("127.0.0.1", 0), Source) as source:
        threading.Thread(target=source.serve_forever, daemon=True).start()
        (folder / "feeds.toml").write_text(
            f'[[feed]]\nname = "invented"\nurl = "http://127.0.0.1:{source.server_port}/{{station}}.txt"\n'
            "allow_private = true\n",
            encoding="utf-8",
        )
        more = ["--checklist", str(folder), "--pads", str(SAMPLES / "pads.toml"), "--rate-limit", "0"]
        server = Serving(folder / "data", None, more)
        try:
            first = Load(server.port)
            length = min(CALIBRATED_S, 6 * minutes)
            threads, counts = people(first, time.monotonic() + length, None, 1)
            for thread in threads:
                thread.join()
            rate = sum(counts) / length / 2
            print(f"{2 * rate:.1f} acts a second without a pause; {rate:.1f} from here on", flush=True)
            load = Load(server.port)
            load.faults += first.faults
            begun = time.monotonic()
            until = begun + 60 * minutes
            threads, counts = people(load, until, rate, 2)
            memory: list[tuple[float, float]] = []
            while time.monotonic() < until:
                time.sleep(min(30.0, max(1.0, 60 * minutes / 40)))
                memory.append((time.monotonic() - begun, resident_mb(server.process.pid)))
                print(
                    f"{memory[-1][0]:.0f} s: {memory[-1][1]:.1f} MB, {sum(counts)} acts, {len(load.faults)} faults",
                    flush=True,
                )
            for thread in threads:
                # a plan that waits for its turn is no fault of the server
                thread.join(300)
        finally:
            server.kill()
            source.shutdown()
    record = Record(f"sqlite:///{folder / 'data' / 'record.sqlite'}", Clock())
    load.faults += list(check(record))
    record.close()
    return memory, load


def growth(memory: list[tuple[float, float]]) -> float:
    """How much more is held at the end than after five minutes (a quarter, of a shorter run), as a share.

    A plan under way holds its tables for as long as it takes: so the most of the first and of the last third after that
    time are compared, each with plans in it, not two moments.
    """
    settled = min(SETTLED_S, memory[-1][0] / 4)
    later = [mb for at, mb in memory if at >= settled]
    third = max(1, len(later) // 3)
    return max(later[-third:]) / max(later[:third]) - 1


def main() -> int:
    """The long run."""
    with tempfile.TemporaryDirectory(prefix="advisor-soak-") as folder:
        memory, load = soak(float(sys.argv[1]), Path(folder))
    for kind, took in sorted(load.took.items()):
        took = sorted(took)
        middle, high = (1000 * took[int(part * len(took))] for part in (0.5, 0.99))
        print(f"  {kind:14} {len(took):6d}  median {middle:6.0f} ms, p99 {high:6.0f} ms")
    found = growth(memory)
    print(f"{sum(map(len, load.took.values()))} answers, {len(load.faults)} faults: {load.faults[:3]}")
    print(
        f"memory {memory[0][1]:.0f} to {memory[-1][1]:.0f} MB, "
        f"at most {max(mb for _, mb in memory):.0f}; "
        f"{100 * found:+.1f} % at the end, beside what it was when it had settled"
    )
    return 0 if found < MOST_GROWTH and not load.faults else 1


if __name__ == "__main__":
    sys.exit(main())

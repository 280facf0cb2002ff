"""The server as an attacker would try it: folders, full disks, bad bytes, half-open connections, one greedy user."""

from __future__ import annotations

import errno
import http.client
import json
import os
import resource
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from advisor.errors import FeedError
from advisor.web import folder as stores
from advisor.web.connections import _behind
from advisor.web.model import Problem
from advisor.web.store import ByteStore, FolderStore, MemoryStore
from tests.web.site import NEWER, PLACE, WORST, Clock, body, client, token
from tests.web.test_store import Time, entry

JSON = {"Content-Type": "application/json"}


def test_the_sweep_removes_only_what_it_made(tmp_path) -> None:
    time = Time()
    folder = tmp_path / "briefs"
    folder.mkdir()
    old = time.now - 90 * 86_400
    mine = {}
    for name in ("holiday.jpg", "a" * 22 + ".z", "f" * 64 + ".z", ".hidden", "." + "f" * 64 + ".notours"):
        path = folder / name
        path.write_bytes(b"somebody's own")
        os.utime(path, (old, old))
        mine[name] = path
    # a folder, and a link to a file elsewhere, among them
    (folder / ("e" * 64 + ".z")).mkdir()
    kept = tmp_path / "elsewhere.z"
    kept.write_bytes(FolderStore.MAGIC + b"0" * 16 + b"\nx")
    (folder / ("d" * 64 + ".z")).symlink_to(kept)
    store = FolderStore(tmp_path, time, most_bytes=1)
    one = entry(time)
    store.put(one)
    store.sweep()
    assert all(path.read_bytes() == b"somebody's own" for path in mine.values())
    assert kept.exists() and (folder / ("e" * 64 + ".z")).is_dir()
    # its own one went: it is larger than the bound
    assert store.get(one.id) is None


def test_a_linked_folder_is_refused_and_what_is_behind_it_is_left_alone(tmp_path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "thesis.txt").write_text("years of work")
    data = tmp_path / "data"
    data.mkdir()
    (data / "briefs").symlink_to(elsewhere)
    with pytest.raises(OSError) as error:
        FolderStore(data, Time())
    assert "link" in str(error.value)
    assert (elsewhere / "thesis.txt").read_text() == "years of work"


def test_file_names_do_not_give_the_addresses_away(tmp_path) -> None:
    store, one = FolderStore(tmp_path, Time()), entry(Time())
    store.put(one, owner="192.0.2.7")
    names = [path.name for path in (tmp_path / "briefs").iterdir()]
    assert one.id not in " ".join(names)
    first = (tmp_path / "briefs" / names[0]).read_bytes().split(b"\n")[0]
    assert b"192.0.2.7" not in first
    assert (tmp_path / "briefs" / names[0]).stat().st_mode & 0o077 == 0


def test_a_brief_is_on_the_disk_before_it_is_answered(tmp_path, monkeypatch) -> None:
    seen = []
    real = os.fsync

    def watched(handle: int) -> None:
        seen.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
        real(handle)

    monkeypatch.setattr(stores.os, "fsync", watched)
    store, one = FolderStore(tmp_path, Time()), entry(Time())
    store.put(one)
    # the file, under its first name, and the folder that holds its last one
    assert len(seen) == 2 and seen[1] == str(tmp_path / "briefs")


@pytest.mark.parametrize("make", ["memory", "folder"])
def test_one_user_cannot_push_the_briefs_of_others_out(tmp_path, make) -> None:
    time = Time()
    store = MemoryStore(time, 40_000) if make == "memory" else FolderStore(tmp_path, time, 40_000)
    mine = []
    for _ in range(5):
        time.now += 1
        mine.append(entry(time, 300))
        store.put(mine[-1], owner="me")
    for _ in range(400):
        time.now += 0.01
        store.put(entry(time, 300), owner="greedy")
    if make == "folder":
        store.sweep()
        assert sum(path.stat().st_size for path in (tmp_path / "briefs").iterdir()) <= 40_000
    assert all(store.get(one.id) is not None for one in mine)


def test_kept_bytes_are_counted_right_whoever_comes_and_goes() -> None:
    time = Time()
    kept = ByteStore(time, 1000)
    for at in range(300):
        time.now += 400
        kept.put(str(at % 50), time.now, b"x" * (at % 90), owner=str(at % 3))
        rows = kept._rows
        assert kept._size == sum(len(row[1]) for row in rows.values()) == sum(kept._held.values()) <= 1000
        assert {name for owned in kept._owned.values() for name in owned} == set(rows)


def full_disk(*_: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_is_said_and_the_brief_still_given(tmp_path, monkeypatch, caplog) -> None:
    with client(data=tmp_path, clock=Clock()) as site:
        right = site.post("/api/brief", json=body()).json()
        monkeypatch.setattr(stores.os, "fsync", full_disk)
        answer = site.post("/api/brief", json=body())
        assert answer.status_code == 507
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["brief"] == right and answer.json()["detail"] == "the disk is full"
        fields = {"token": token(site.get("/").text), "reports": WORST, "off_block": "0640", "place": PLACE}
        page = site.post("/brief", data=fields, follow_redirects=False)
        assert page.status_code == 507
        assert "Not kept: the disk is full" in page.text and "Wait or stop" in page.text
        # nothing half-written stays
        assert len(list((tmp_path / "briefs").iterdir())) == 1
        monkeypatch.undo()
        assert site.post("/api/brief", json=body()).status_code == 201
    assert not any(record.exc_info for record in caplog.records)


@pytest.fixture
def small_disk(tmp_path):
    """A real file system of one megabyte."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("no file system can be mounted here")
    yield folder
    subprocess.run(["umount", "-l", folder], check=False)


def test_a_disk_that_fills_up_while_people_walk(small_disk) -> None:
    url = f"sqlite:///{small_disk / 'record.sqlite'}"
    with client(data=small_disk, database=url, clock=Clock()) as site:
        brief = site.post("/api/brief", json=body()).headers["location"].rsplit("/", 1)[1]
        where = site.post("/api/walk", json={"brief": brief, "by": "AB"}).headers["location"]
        said = {"zone": "tail", "found": "ice", "note": "x" * 400}
        kept = 0
        while (answer := site.post(f"{where}/found", json=said)).status_code == 201:
            kept += 1
        assert answer.status_code == 507 and "nothing was recorded" in answer.json()["hint"]
        assert site.post("/api/brief", json=body()).status_code in (201, 507)
        assert len(site.get(where).json()["events"]) == 1 + kept
        assert (
            site.post(f"{where}/photo", content=_picture(), headers={"Content-Type": "image/jpeg"}).status_code == 507
        )
        for path in (small_disk / "briefs").iterdir():
            path.unlink()
        (small_disk / "briefs").rmdir()


def _picture() -> bytes:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.effect_noise((1500, 1200), 80).convert("RGB").save(out, "JPEG", quality=70)
    return out.getvalue()


BYTES = [
    b"\xff\xfe{}",
    b'{"reports":["\xff"],"off_block":"0640Z"}',
    b'{"reports":["\\ud800"],"off_block":"0640Z"}',
    b'{"brief":"\\ud800","by":"\\udfff"}',
    b'{"line":"\xc3\x28","found":"ice"}',
    b"[" * 60_000,
    b'{"a":1e999}',
    b"",
    b"null",
]


@pytest.mark.parametrize("sent", BYTES, ids=lambda sent: str(sent[:12]))
@pytest.mark.parametrize(
    "path", ["/api/brief", "/api/walk", "/api/walk/x/found", "/api/walk/x/queue", "/api/walk/x/sign"]
)
def test_bad_bytes_are_the_senders_fault(kept_site, path, sent, caplog) -> None:
    answer = kept_site.post(path, content=sent, headers=JSON)
    assert 400 <= answer.status_code < 500
    assert answer.json()["status"] == answer.status_code
    assert not any(record.exc_info for record in caplog.records)


@pytest.mark.parametrize(
    "path",
    ["/%00", "/b/%00", "/static/%00", "/static/%2e%2e/app.py", "/static/" + "a" * 5000, "/api/brief/%00", "/w/%00",
     "/api/walk/%00", "/slots/%00", "/b/%ff%fe", "/w/%ff/photo/%ff", "/w/x?at=%ff%00", "/api/walk/x/photo/%00"],
)  # fmt: skip
def test_paths_that_are_none_are_the_senders_fault(kept_site, path, caplog) -> None:
    assert 400 <= kept_site.get(path).status_code < 500
    assert not any(record.exc_info for record in caplog.records)


@pytest.mark.parametrize(
    "headers",
    [{"Origin": b"http://[::1"}, {"Host": b"[::1"}, {"Cookie": b"theme=\xff; session=\xff"},
     {"Idempotency-Key": b"\xff"}, {"Content-Type": b"application/json; charset=\xff"}, {"Authorization": b"\xff"}],
    ids=str,
)  # fmt: skip
def test_headers_that_are_none_are_the_senders_fault(kept_site, headers, caplog) -> None:
    assert kept_site.get("/", headers=headers).status_code < 500
    for path in ("/api/walk", "/brief", "/walk"):
        assert 400 <= kept_site.post(path, content=b"{}", headers={**JSON, **headers}).status_code < 500
    assert not any(record.exc_info for record in caplog.records)


@pytest.fixture(scope="module")
def kept_site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept")
    with client(data=folder, database=f"sqlite:///{folder / 'record.sqlite'}", clock=Clock()) as made:
        yield made


def test_a_feed_is_asked_once_a_minute_however_many_ask(tmp_path) -> None:
    clock, asked = Clock(), []

    def fetch(station: str, feed: str):
        asked.append(station)
        if len(asked) == 1:
            raise FeedError("down", where="station")
        return [WORST if station == "ZZZA" else NEWER], []

    with client(clock=clock, fetch=fetch, feeds=("invented",)) as site:
        wanted = {"station": "ZZZA", "off_block": "0640Z", "place": PLACE}
        # a failure is not kept
        assert site.post("/api/brief", json=wanted).status_code == 502
        for _ in range(5):
            assert site.post("/api/brief", json=wanted).status_code == 201
        assert len(asked) == 2
        clock.on(minutes=0.9)
        site.post("/api/brief", json=wanted)
        assert len(asked) == 2
        clock.on(minutes=0.2)
        site.post("/api/brief", json=wanted)
        assert len(asked) == 3


@contextmanager
def serving(*arguments: str, files: int | None = None, stderr: Path | None = None):
    """The command's own server; files: its limit on open files."""
    limit = (lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))) if files else None
    command = [sys.executable, "-m", "advisor", "serve", "--port", "0", *arguments]
    log = (stderr or Path(os.devnull)).open("w+")
    process = subprocess.Popen(command, stderr=log, preexec_fn=limit)
    try:
        end = time.monotonic() + 30
        while stderr is not None and "http" not in stderr.read_text() and time.monotonic() < end:
            time.sleep(0.05)
        yield int(stderr.read_text().split("/")[2].split(":")[1])
    finally:
        process.kill()
        process.wait(10)
        log.close()


@pytest.mark.long
def test_half_open_connections_shut_nobody_out_and_fill_no_log(tmp_path) -> None:
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    if hard != resource.RLIM_INFINITY and hard < 2000:
        pytest.skip("this machine lets nobody open so many connections")
    soft = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 2000), hard))
    log = tmp_path / "log"
    held: list[socket.socket] = []
    try:
        with serving(files=1024, stderr=log) as port:
            for at in range(1100):
                one = socket.create_connection(("127.0.0.1", port), timeout=10)
                # half of them say something and never finish
                one.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\n" if at % 2 else b"")
                held.append(one)
            for _ in range(20):
                connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
                connection.request("GET", "/healthz")
                assert connection.getresponse().status == 200
                connection.close()
            # one that begins to send a body and stops is let go as well
            assert log.stat().st_size < 20_000
            end = time.monotonic() + 25
            while held and time.monotonic() < end:
                held = [one for one in held if not _let_go(one)]
                time.sleep(0.2)
            assert held == []
    finally:
        for one in held:
            one.close()
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def _let_go(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(1) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def test_what_is_not_http_fills_no_log(tmp_path) -> None:
    log = tmp_path / "log"
    with serving(stderr=log) as port:
        for _ in range(400):
            with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
                one.sendall(b"\x16\x03\x01 this is not what you speak\r\n\r\n")
                one.recv(100)
        assert log.stat().st_size < 10_000


async def _seen(client_address: str, headers: list[tuple[bytes, bytes]], proxies: tuple[str, ...]) -> dict:
    found: dict = {}

    async def app(scope, receive, send) -> None:
        found.update(scope)

    scope = {"type": "http", "client": (client_address, 1), "scheme": "http", "path": "/", "headers": headers}
    await _behind(app, proxies)(scope, None, None)
    return found


SENT = [
    (b"host", b"127.0.0.1:8080"),
    (b"x-forwarded-for", b"203.0.113.9, 198.51.100.7"),
    (b"x-forwarded-proto", b"https"),
    (b"x-forwarded-host", b"briefs.example"),
]


def test_a_named_proxy_is_believed_and_nobody_else() -> None:
    import asyncio

    found = asyncio.run(_seen("127.0.0.1", SENT, ("127.0.0.1",)))
    # the last address is what the proxy itself saw; what stands before it anybody can write
    assert found["client"][0] == "198.51.100.7" and found["scheme"] == "https"
    assert dict(found["headers"])[b"host"] == b"briefs.example"
    other = asyncio.run(_seen("192.0.2.1", SENT, ("127.0.0.1",)))
    assert other["client"][0] == "192.0.2.1" and other["scheme"] == "http"
    assert dict(other["headers"])[b"host"] == b"127.0.0.1:8080"


def test_forms_and_limits_work_behind_a_proxy(tmp_path) -> None:
    log = tmp_path / "log"
    with serving("--proxy", "127.0.0.1", "--rate-limit", "2", stderr=log) as port:

        def ask(method: str, path: str, sent: str | None = None, address: str = "203.0.113.9", **headers: str):
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            proxied = {"X-Forwarded-For": address, "X-Forwarded-Proto": "https", "X-Forwarded-Host": "briefs.example"}
            connection.request(method, path, sent, {**proxied, **headers})
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read().decode()

        _, headers, page = ask("GET", "/")
        form = f"token={token(page)}&theme=dark&back=/"
        cookie = headers["set-cookie"].split(";")[0]
        status, _, _ = ask(
            "POST", "/theme", form, Cookie=cookie, Origin="https://briefs.example",
            **{"Content-Type": "application/x-www-form-urlencoded"},
        )  # fmt: skip
        assert status == 303
        codes = [
            ask("POST", "/api/brief", json.dumps(body()), address, **JSON)[0]
            for address in ("203.0.113.9", "203.0.113.9", "203.0.113.9", "203.0.113.10")
        ]
        # each address of its own has a limit of its own
        assert codes == [201, 201, 429, 201]


def test_problem_details_are_what_the_api_says_they_are(kept_site) -> None:
    import msgspec

    answer = kept_site.post("/api/walk", content=b"{", headers=JSON)
    assert msgspec.json.decode(answer.content, type=Problem).status == 400

"""A connection whose request does not come is let go, and one that is at work is not counted among those that wait."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn

from advisor.web import connections


async def _answer(scope, receive, send) -> None:
    if scope["type"] == "http":
        while (await receive()).get("more_body"):
            pass
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
        await send({"type": "http.response.body", "body": b"ok"})


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    monkeypatch.setattr(connections, "BODY_S", 0.5)
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        _answer, http=connections.Bounded, lifespan="off", log_level="critical", timeout_keep_alive=600
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    yield listener.getsockname()[1]
    server.should_exit = True
    thread.join(10)
    assert not thread.is_alive()


@contextlib.contextmanager
def connected(port: int) -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as made:
        yield made


def ended(made: socket.socket) -> bool:
    """Whether the other side ends it, within the 20 s of its time limit."""
    try:
        return made.recv(100) == b""
    except ConnectionResetError:
        return True


def answer(made: socket.socket) -> bytes:
    """A whole answer, or what came before the other side ended it."""
    got = b""
    while not got.endswith(b"ok") and (more := made.recv(1000)):
        got += more
    return got


def soon(what) -> bool:
    until = time.monotonic() + 20
    while not what() and time.monotonic() < until:
        time.sleep(0.02)
    return bool(what())


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost: a\r\n"])
def test_a_head_that_does_not_come_whole_is_not_awaited_for_ever(port: int, sent: bytes) -> None:
    with connected(port) as made:
        made.sendall(sent)
        assert ended(made)
    assert soon(lambda: connections.Bounded.open_count == 0 and not connections.Bounded.waiting)


def test_a_body_that_does_not_come_is_not_awaited_for_ever(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_S", 600.0)
    with connected(port) as made:
        made.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 10\r\n\r\nhalf")
        assert ended(made)
    assert soon(lambda: connections.Bounded.open_count == 0)


def test_after_an_answer_the_next_head_is_awaited_and_not_for_ever(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_S", 60.0)
    with connected(port) as made:
        assert soon(lambda: connections.Bounded.open_count == 1)
        # of what is awaited from here on
        monkeypatch.setattr(connections, "HEAD_S", 0.5)
        made.sendall(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
        assert answer(made).startswith(b"HTTP/1.1 200")
        # uvicorn would keep it for ten minutes
        assert ended(made)
    assert soon(lambda: connections.Bounded.open_count == 0 and not connections.Bounded.waiting)


def test_a_whole_request_in_two_pieces_is_answered(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # as long as anybody may take on a busy machine
    monkeypatch.setattr(connections, "HEAD_S", 60.0)
    monkeypatch.setattr(connections, "BODY_S", 60.0)
    with connected(port) as made:
        for _ in range(2):
            made.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 4\r\n\r\nha")
            made.sendall(b"lf")
            assert answer(made).startswith(b"HTTP/1.1 200")
        # its next head is awaited, among those that are let go first where there are too many
        assert soon(lambda: len(connections.Bounded.waiting) == 1)

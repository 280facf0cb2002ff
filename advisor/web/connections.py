"""Connections within bounds: who sends nothing is let go, who is many shuts nobody out, and the log stays short."""

from __future__ import annotations

import asyncio
import logging
import resource
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, ClassVar

from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware
from uvicorn.protocols.http.h11_impl import H11Protocol

# how long a request's head may take, and its body
HEAD_S, BODY_S = 10.0, 30.0
# files that are not connections: the database, briefs, feeds, and what is taken before it is counted
SPARE = 160
MOST = 2000
LINES_A_MINUTE = 30
Scope = MutableMapping[str, Any]
App = Callable[[Scope, Any, Any], Awaitable[None]]


def most_connections() -> int:
    """How many connections the limit on open files leaves room for."""
    soft = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    return MOST if soft == resource.RLIM_INFINITY else max(16, min(MOST, soft - SPARE))


class Bounded(H11Protocol):
    """A connection that is let go when its request does not come.

    Where there are too many, the one that has waited longest without a whole head goes first; where every one is at
    work, the new one goes.
    """

    waiting: ClassVar[OrderedDict[Bounded, None]] = OrderedDict()
    open_count = 0
    most = most_connections()

    def connection_made(self, transport: Any) -> None:
        """Count it, and make room for it."""
        super().connection_made(transport)
        cls = type(self)
        cls.open_count += 1
        self._timer: asyncio.TimerHandle | None = None
        self._counted = True
        if cls.open_count > cls.most:
            if not cls.waiting:
                transport.abort()
                return
            next(iter(cls.waiting)).let_go()
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._uncount()
        super().connection_lost(exc)

    def _uncount(self) -> None:
        cls = type(self)
        if self._counted:
            self._counted = False
            cls.open_count -= 1
        cls.waiting.pop(self, None)
        self._no_timer()

    def let_go(self) -> None:
        """End it now; its place is free at once."""
        self._uncount()
        self.transport.abort()

    def _await_head(self) -> None:
        type(self).waiting[self] = None
        self._no_timer()
        self._timer = self.loop.call_later(HEAD_S, self.let_go)

    def _no_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def data_received(self, data: bytes) -> None:
        """Read on; a whole head ends the wait for it, and begins that for the body."""
        before = self.cycle
        super().data_received(data)
        self._look(before)

    def _look(self, before: Any) -> None:
        cycle = self.cycle
        if cycle is None or not self._counted:
            return
        if cycle is not before:
            type(self).waiting.pop(self, None)
            self._no_timer()
            if cycle.more_body:
                self._timer = self.loop.call_later(BODY_S, self._body_late)
        elif not cycle.more_body and self._timer is not None and self not in type(self).waiting:
            self._no_timer()

    def _body_late(self) -> None:
        if self.cycle is not None and self.cycle.more_body:
            self.let_go()

    def on_response_complete(self) -> None:
        """Answered: the next head is awaited, for as long as uvicorn keeps a silent connection."""
        before = self.cycle
        super().on_response_complete()
        if self._counted and not self.transport.is_closing() and self.cycle is before:
            self._await_head()


class Seldom(logging.Filter):
    """Lets so many lines a minute through, and says how many it kept back. The same fault a thousand times is one."""

    def __init__(self, most: int = LINES_A_MINUTE) -> None:
        super().__init__()
        self._most, self._begun, self._count = most, 0.0, 0

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a line is written."""
        now = time.monotonic()
        if now - self._begun >= 60:
            back = self._count - self._most
            if back > 0:
                record.msg = f"({back} lines were kept back) {record.msg}"
            self._begun, self._count = now, 0
        self._count += 1
        return self._count <= self._most


def quieted() -> None:
    """Let no log grow with what others send."""
    for name in ("uvicorn.error", "asyncio", "advisor.web"):
        logging.getLogger(name).addFilter(Seldom())


def served(app: Any, proxies: tuple[str, ...]) -> App:
    """The application as it is served: paths that are none are turned away, a proxy's headers are read where named."""
    inner: Any = _plain_paths(app)
    return _behind(inner, proxies) if proxies else inner


def _plain_paths(app: App) -> App:
    async def plain(scope: Scope, receive: Any, send: Any) -> None:
        if scope["type"] == "http" and any(ord(letter) < 32 or letter == "\x7f" for letter in scope["path"]):
            await _refuse(send)
            return
        await app(scope, receive, send)

    return plain


async def _refuse(send: Any) -> None:
    body = (
        b'{"title":"Bad Request","status":400,"detail":"the path holds letters that no path has","type":"about:blank"}'
    )
    headers = [
        (b"content-type", b"application/problem+json"),
        (b"content-length", str(len(body)).encode()),
        (b"x-content-type-options", b"nosniff"),
    ]
    await send({"type": "http.response.start", "status": 400, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _behind(app: App, proxies: tuple[str, ...]) -> App:
    """Address, scheme and host as a named proxy forwards them; from anybody else these headers say nothing."""
    inner: Any = ProxyHeadersMiddleware(app, trusted_hosts=list(proxies))  # type: ignore[arg-type]

    async def behind(scope: Scope, receive: Any, send: Any) -> None:
        if scope["type"] == "http":
            named = scope.get("client") and scope["client"][0] in proxies
            headers = dict(scope["headers"])
            host = headers.get(b"x-forwarded-host", b"").split(b",")[-1].strip()
            kept = [pair for pair in scope["headers"] if named or not pair[0].startswith(b"x-forwarded-")]
            if named and host:
                kept = [pair for pair in kept if pair[0] != b"host"] + [(b"host", host)]
            scope = {**scope, "headers": kept}
        await inner(scope, receive, send)

    return behind

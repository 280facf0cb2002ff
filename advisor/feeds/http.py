"""One bounded GET: a time limit over everything, a size limit, redirects by hand, only to addresses that were checked.

requests does the talking. Ours is what it leaves open: a host is resolved once, every address of it is judged, and
the connection goes to a judged address while the certificate is still checked against the name; at the end of the
time the connection is cut, however slowly it drips. Proxies and passwords of the environment are not used.
Source: rfc-9110 (redirects, conditional requests, Retry-After).
"""

from __future__ import annotations

import base64
import http.client
import socket
import ssl
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import unquote

import requests
import urllib3
from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.exceptions import DecodeError, NewConnectionError

from advisor.feeds.address import Deadline, NoAnswerError, Target, is_public, join, resolve, target

MOST_REDIRECTS = 3
MOST_ADDRESSES = 4
CONNECT_S = 5.0
CHUNK = 16_384
_REDIRECTS = (301, 302, 303, 307, 308)
_TALK = (requests.RequestException, urllib3.exceptions.HTTPError, http.client.HTTPException, OSError, ValueError)


@dataclass(frozen=True)
class Ask:
    """What is asked for. headers go to the source itself only, never on to where it redirects.

    allow_private: connections to private, loopback and link-local addresses wherever they are met. ca_file:
    certificates to trust instead of the usual ones.
    """

    url: str
    now: datetime
    headers: Mapping[str, str] = field(default_factory=dict)
    conditions: Mapping[str, str] = field(default_factory=dict)
    max_bytes: int = 1_000_000
    allow_private: bool = False
    ca_file: str | None = None


@dataclass(frozen=True)
class FeedAnswer:
    """Status 200 with a body, or 304 without. The validators are those of the answer, "" for none."""

    status: int
    body: bytes = b""
    etag: str = ""
    last_modified: str = ""


def get(ask: Ask, deadline: Deadline) -> FeedAnswer:
    """Ask once, following redirects. Raises NoAnswerError."""
    if ask.ca_file is not None:
        try:
            ssl.create_default_context(cafile=ask.ca_file)
        except OSError:
            raise NoAnswerError("no certificates can be read from ca_file", hint="mend ca_file in feeds.toml") from None
    first = destination = target(ask.url)
    url = ask.url
    seen: set[str] = set()
    while True:
        seen.add(url)
        addresses = resolve(destination, deadline)
        own = destination.origin == first.origin
        if not (ask.allow_private or (own and first.named) or all(is_public(one) for one in addresses)):
            what = f"{destination.host} has a private address" if own else "redirects to a private address"
            raise NoAnswerError(what, hint="set allow_private = true where that is meant")
        answer = _exchange(ask, destination, addresses, deadline, first if own else None)
        if isinstance(answer, FeedAnswer):
            return answer
        if len(seen) > MOST_REDIRECTS:
            raise NoAnswerError(f"redirects more than {MOST_REDIRECTS} times")
        try:
            url = join(url, answer)
            destination = target(url)
        except ValueError as error:
            raise NoAnswerError(f"redirects to an address that {error}") from None
        if url in seen:
            raise NoAnswerError("redirects in a circle")
        if destination.scheme != first.scheme:
            hint = f"write the url in feeds.toml with {destination.scheme} if that is right"
            raise NoAnswerError(f"redirects from {first.scheme} to {destination.scheme}", hint=hint)
        if destination.userinfo:
            raise NoAnswerError("redirects to an address with a password")


class _Line:
    """The connection in use, which is cut when the time is up."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._socket: socket.socket | None = None
        self.over = False

    def hold(self, connection: socket.socket | None) -> None:
        with self._lock:
            self._socket = connection
            if self.over:
                self._shut()

    def cut(self) -> None:
        with self._lock:
            self.over = True
            self._shut()

    def _shut(self) -> None:
        if self._socket is not None:
            try:
                # past TLS, whose own shutdown is not meant for a second thread
                socket.socket.shutdown(self._socket, socket.SHUT_RDWR)
            except OSError:
                self._socket = None


class _Adapter(HTTPAdapter):
    """Connects to an address in the name of a host, and lets the line be cut."""

    def __init__(self, at: Target, line: _Line) -> None:
        self._at = at
        self._line = line
        super().__init__(max_retries=0)

    def init_poolmanager(self, connections: int, maxsize: int, block: bool = False, **more: Any) -> None:
        line = self._line

        class Plain(HTTPConnection):
            def connect(self) -> None:
                super().connect()
                line.hold(self.sock)

        class Secure(HTTPSConnection):
            def connect(self) -> None:
                super().connect()
                line.hold(self.sock)

        if self._at.scheme == "https":
            # the name to ask for and to check the certificate against, since an address is dialled
            more["server_hostname"] = self._at.host
        super().init_poolmanager(connections, maxsize, block, **more)
        http_pool = type("_Http", (urllib3.HTTPConnectionPool,), {"ConnectionCls": Plain})
        https_pool = type("_Https", (urllib3.HTTPSConnectionPool,), {"ConnectionCls": Secure})
        self.poolmanager.pool_classes_by_scheme = {"http": http_pool, "https": https_pool}


class _Session(requests.Session):
    """Leaves redirects wholly alone; requests would read their bodies, however long, to prepare the next request."""

    def get_redirect_target(self, resp: requests.Response) -> None:
        return None


def _exchange(
    ask: Ask, destination: Target, addresses: list[str], deadline: Deadline, own: Target | None
) -> FeedAnswer | str:
    """One request and its answer, or where it redirects to. own: the source's own URL, None where it sent us on."""
    trouble = NoAnswerError("could not be reached", again=True)
    for address in addresses[:MOST_ADDRESSES]:
        try:
            with _request(ask, destination, address, deadline, own) as response:
                return _receive(ask, response)
        except _UnreachableError as error:
            trouble = NoAnswerError(str(error), again=True)
    raise trouble


class _UnreachableError(Exception):
    """One address took no connection; another of the same host may."""


@contextmanager
def _request(
    ask: Ask, destination: Target, address: str, deadline: Deadline, own: Target | None
) -> Iterator[requests.Response]:
    headers: dict[str, str | None] = {
        "Host": destination.authority,
        "User-Agent": "advisor",
        "Accept": "*/*",
        "Accept-Encoding": "gzip",
        "Connection": "close",
    }
    if own is not None:
        headers.update(ask.headers)
        if own.userinfo:
            headers["Authorization"] = f"Basic {base64.b64encode(unquote(own.userinfo).encode()).decode()}"
    headers.update(ask.conditions)
    pinned = (
        f"{destination.scheme}://{f'[{address}]' if ':' in address else address}:{destination.port}{destination.path}"
    )
    left = deadline.left()
    line = _Line()
    timer = threading.Timer(left, line.cut)
    timer.daemon = True
    timer.start()
    session = _Session()
    session.trust_env = False
    session.mount(f"{destination.scheme}://", _Adapter(destination, line))
    try:
        yield session.get(
            pinned,
            headers=headers,
            stream=True,
            allow_redirects=False,
            timeout=(min(CONNECT_S, left), left),
            verify=ask.ca_file or True,
        )
        if line.over:  # an answer without a length looks whole when it is cut
            raise deadline.over()
    except _TALK as error:
        if line.over or deadline.remaining() <= 0:
            raise deadline.over() from None
        raise _said(error) from None
    finally:
        timer.cancel()
        session.close()


def _said(error: Exception) -> Exception:
    """An error of the libraries in our words, without the URL that they like to repeat."""
    chain = list(_causes(error))
    for cause in chain:
        if isinstance(cause, ssl.SSLCertVerificationError):
            return NoAnswerError(f"its certificate is not accepted: {cause.verify_message or 'it cannot be checked'}")
    if any(isinstance(one, (ssl.SSLError, requests.exceptions.SSLError)) for one in chain):
        return NoAnswerError("no secure connection", again=True)
    if isinstance(error, requests.ConnectTimeout):
        return _UnreachableError("did not take the connection in time")
    if any(isinstance(one, NewConnectionError) for one in chain):
        refused = any(isinstance(one, ConnectionRefusedError) for one in chain)
        return _UnreachableError("refused the connection" if refused else "could not be reached")
    if any(isinstance(one, DecodeError) for one in chain):
        return NoAnswerError("its answer cannot be unpacked", again=True)
    if isinstance(error, requests.exceptions.InvalidHeader):
        return NoAnswerError("a header field cannot be sent", hint="mend headers in feeds.toml")
    return NoAnswerError("its answer broke off", again=True)


def _causes(error: BaseException) -> Iterator[BaseException]:
    todo: list[Any] = [error]
    seen: list[Any] = []
    while todo and len(seen) < 30:
        cause = todo.pop(0)
        if not isinstance(cause, BaseException) or any(cause is other for other in seen):
            continue
        seen.append(cause)
        yield cause
        todo += [cause.__cause__, cause.__context__, getattr(cause, "reason", None), *cause.args]


def _receive(ask: Ask, response: requests.Response) -> FeedAnswer | str:
    status = response.status_code
    headers = response.headers
    if status in _REDIRECTS:
        if not headers.get("Location"):
            raise NoAnswerError(f"answered {status} without saying where to")
        # header fields arrive as latin-1; what is not ASCII is refused with the URL
        return str(headers["Location"])
    if status == 304 and ask.conditions:
        return FeedAnswer(304)
    if status == 429 or status >= 500:
        raise NoAnswerError(f"answered {status}", again=True, wait_s=_wait(headers, ask.now))
    if status != 200:
        raise NoAnswerError(f"answered {status}")
    packed = headers.get("Content-Encoding", "").strip().lower()
    if packed not in ("", "identity", "gzip", "x-gzip"):
        raise NoAnswerError("its answer is packed in a way that was not asked for")
    too_much = NoAnswerError(
        f"its answer is larger than {ask.max_bytes:,} bytes", hint="raise max_bytes if that is meant"
    )
    length = headers.get("Content-Length", "").strip()
    if length.isdecimal() and (len(length) > 12 or int(length) > ask.max_bytes):
        raise too_much
    body = bytearray()
    for chunk in response.raw.stream(CHUNK, decode_content=True):
        body += chunk
        if len(body) > ask.max_bytes:
            raise too_much
    return FeedAnswer(200, bytes(body), _validator(headers, "ETag"), _validator(headers, "Last-Modified"))


def _validator(headers: Mapping[str, str], name: str) -> str:
    """A validator that can be sent back as it came; "" for none, and for one that no sound source sends."""
    text = headers.get(name, "").strip()
    return text if len(text) <= 200 and text.isascii() and text.isprintable() else ""


def _wait(headers: Mapping[str, str], now: datetime) -> float | None:
    """Seconds that the source asks to wait; a date counts from the source's own Date, else from now."""
    text = headers.get("Retry-After", "").strip()
    if text.isascii() and text.isdecimal() and len(text) < 10:
        return float(text)
    try:
        until = parsedate_to_datetime(text)
        since = parsedate_to_datetime(headers["Date"]) if "Date" in headers else now
        return (until - since).total_seconds()
    except (TypeError, ValueError, IndexError, OverflowError):
        return None

"""Where a feed's URL leads: taken apart, resolved within the time there is, every address judged.

Source: rfc-6890 (addresses that are not of the open internet; the table is that of Python's ipaddress).
"""

from __future__ import annotations

import ipaddress
import queue
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import SplitResult, urljoin, urlsplit

PORTS = {"http": 80, "https": 443}
_NAT64 = ipaddress.ip_network("64:ff9b::/96")


class NoAnswerError(Exception):
    """Why there is no answer.

    again: whether another try may help; down: whether the source is at fault for now, again implies it; wait_s: what
    the source asks to wait, None for nothing.
    """

    def __init__(
        self, what: str, *, hint: str = "", again: bool = False, down: bool = False, wait_s: float | None = None
    ) -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint
        self.again = again
        self.down = down or again
        self.wait_s = wait_s


class Deadline:
    """The time there is for everything together, in seconds of a clock that is handed in."""

    def __init__(self, ticks: Callable[[], float], limit_s: float) -> None:
        self.ticks = ticks
        self.limit_s = limit_s
        self._end = ticks() + limit_s

    def left(self) -> float:
        """Seconds left; raises NoAnswerError where there are none."""
        left = self.remaining()
        if left <= 0:
            raise self.over()
        return left

    def remaining(self) -> float:
        """Seconds left, negative where the time is up."""
        return self._end - self.ticks()

    def over(self) -> NoAnswerError:
        """That the time is up."""
        return NoAnswerError(f"no whole answer within {self.limit_s:g} s", down=True)


@dataclass(frozen=True)
class Target:
    """A URL taken apart and checked. userinfo: as it stood before the @."""

    scheme: str
    host: str
    port: int
    path: str
    userinfo: str

    @property
    def origin(self) -> tuple[str, str, int]:
        """Scheme, host and port."""
        return self.scheme, self.host, self.port

    @property
    def named(self) -> bool:
        """Whether the host is an address or this machine, so that whoever wrote it knows where it leads."""
        return self.host == "localhost" or _address(self.host) is not None

    @property
    def shown(self) -> str:
        """What may be printed: no password, no path, no query, since a key may stand in any of them."""
        return f"{self.scheme}://{self.authority}"

    @property
    def authority(self) -> str:
        """Host and port as in a Host field."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == PORTS[self.scheme] else f"{host}:{self.port}"


def target(url: str) -> Target:
    """Take a URL apart. Raises ValueError, without the URL in it, for one that is no http or https address."""
    if not url.isascii() or any(sign <= " " or sign in '\\\x7f"<>^`{|}' for sign in url):
        raise ValueError("holds signs that no URL holds")
    try:
        parts: SplitResult = urlsplit(url)
    except ValueError:
        raise ValueError("has no usable host") from None
    if parts.scheme not in PORTS:
        raise ValueError("is neither http nor https")
    try:
        port = parts.port or PORTS[parts.scheme]
    except ValueError:
        raise ValueError("has no usable port") from None
    host = (parts.hostname or "").rstrip(".")
    if not host or "%" in host or (":" in host and _address(host) is None):
        raise ValueError("has no usable host")
    userinfo = parts.netloc.rpartition("@")[0]
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.scheme, host, port, path, userinfo)


def join(url: str, location: str) -> str:
    """Where a Location field leads from a URL. Raises ValueError, without the URL in it."""
    try:
        return urljoin(url, location)
    except ValueError:
        raise ValueError("has no usable host") from None


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """The address that a text is, None for a name."""
    try:
        return ipaddress.ip_address(text)
    except ValueError:
        return None


def is_public(address: str) -> bool:
    """Whether an address belongs to the open internet; one that wraps another is judged by what it wraps too."""
    ip = _address(address.partition("%")[0])
    if ip is None:
        return False
    if isinstance(ip, ipaddress.IPv6Address):
        if ip.ipv4_mapped is not None:
            return is_public(str(ip.ipv4_mapped))
        inner = ip.sixtofour
        if ip in _NAT64:
            inner = ipaddress.IPv4Address(int(ip) & 0xFFFF_FFFF)
        if inner is not None and not is_public(str(inner)):
            return False
    return ip.is_global and not ip.is_multicast


def resolve(destination: Target, deadline: Deadline) -> list[str]:
    """Every address of a host. In a thread, since nothing else bounds how long a look-up takes."""
    literal = _address(destination.host)
    if literal is not None:
        return [str(literal)]
    looked_up: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def look_up() -> None:
        try:
            rows = socket.getaddrinfo(destination.host, destination.port, type=socket.SOCK_STREAM)
            looked_up.put(list(dict.fromkeys(str(row[4][0]) for row in rows)))
        except (OSError, UnicodeError) as error:
            looked_up.put(error)

    threading.Thread(target=look_up, daemon=True).start()
    try:
        result = looked_up.get(timeout=deadline.left())
    except queue.Empty:
        raise deadline.over() from None
    if isinstance(result, Exception) or not result:
        raise NoAnswerError(f"the name {destination.host} was not found", again=True)
    addresses: list[str] = result
    return addresses

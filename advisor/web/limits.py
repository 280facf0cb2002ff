"""How many briefs an address may ask for in a minute."""

from __future__ import annotations

import ipaddress
import threading
from collections import OrderedDict, deque
from collections.abc import Callable

MOST_ADDRESSES = 10_000
WINDOW_S = 60.0


class RateLimit:
    """A sliding minute per address; the longest silent addresses are forgotten beyond MOST_ADDRESSES."""

    def __init__(self, most: int, now: Callable[[], float]) -> None:
        self._most, self._now = most, now
        self._seen: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, address: str) -> float:
        """Count one more; 0 where it may go on, otherwise the seconds until it may (and it is not counted)."""
        if self._most <= 0:
            return 0.0
        key, now = _network(address), self._now()
        with self._lock:
            times = self._seen.setdefault(key, deque())
            self._seen.move_to_end(key)
            while times and times[0] <= now - WINDOW_S:
                times.popleft()
            if len(times) >= self._most:
                return times[0] + WINDOW_S - now
            times.append(now)
            while len(self._seen) > MOST_ADDRESSES:
                self._seen.popitem(last=False)
        return 0.0


def _network(address: str) -> str:
    """An IPv6 host owns a whole /64: those count as one."""
    try:
        ip_address = ipaddress.ip_address(address)
    except ValueError:
        return address
    if ip_address.version == 6:
        return str(ipaddress.ip_network((ip_address, 64), strict=False))
    return address

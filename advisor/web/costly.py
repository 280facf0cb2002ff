"""What takes long to work out, shown again for a while instead of worked out for each who asks."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

# what is worked out sooner is worked out for each who asks; what takes longer takes at most this part of the time
SOON_S, PART = 0.25, 0.05
Value = TypeVar("Value")


class Costly(Generic[Value]):
    """One value and the way to it. ticks: seconds that only rise."""

    def __init__(self, work: Callable[[], Value], ticks: Callable[[], float]) -> None:
        self._work, self._ticks = work, ticks
        self._lock = threading.Lock()
        self._kept: tuple[Value, float] | None = None

    def value(self) -> Value:
        """The value, worked out now or not long ago; who asks meanwhile waits for the same one."""
        with self._lock:
            if self._kept is not None and self._ticks() < self._kept[1]:
                return self._kept[0]
            begun = self._ticks()
            value = self._work()
            took_s = self._ticks() - begun
            self._kept = (value, begun + took_s / PART) if took_s > SOON_S else None
            return value

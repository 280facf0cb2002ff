"""When to stop because the next step would not fit any more into the time. The clock is a parameter."""

from __future__ import annotations

from collections.abc import Callable


class StepLimit:
    """Asked before each step of a kind: whether the time is over, or would be by the end of a step like the longest."""

    def __init__(self, clock: Callable[[], float], end: float, stop: Callable[[], bool]) -> None:
        """clock: seconds from any start; end: by it; stop: wished by somebody."""
        self._clock, self._end, self._stop = clock, end, stop
        self._asked: float | None = None
        self._longest = 0.0

    def __call__(self) -> bool:
        """Whether to begin nothing more."""
        now = self._clock()
        if self._asked is not None:
            self._longest = max(self._longest, now - self._asked)
        self._asked = now
        return self._stop() or now + self._longest >= self._end

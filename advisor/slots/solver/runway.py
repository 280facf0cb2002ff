"""The take-offs that a runway has room for, so far from one another, and trucks that fill up. Pure."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable

import numpy as np

from advisor.slots.model import Ints

FAR = 2**40


class RunwaySpacing:
    """Take-off times that are taken, seconds from the problem's base; no two nearer than the spacing."""

    def __init__(self, spacing_s: int, taken: Iterable[int] = ()) -> None:
        self.spacing_s = spacing_s
        self._taken = sorted(taken)
        self._tables: tuple[Ints, Ints] | None = None

    def add(self, moment: int) -> None:
        """Take a time."""
        insort(self._taken, moment)
        self._tables = None

    def remove(self, moment: int) -> None:
        """Give a time back."""
        del self._taken[bisect_left(self._taken, moment)]
        self._tables = None

    def first_free(self, ready: Ints) -> Ints:
        """The first time at or after each at which a take-off is far enough from all that are taken."""
        if not self._taken:
            return ready
        spacing = self.spacing_s
        times, room_behind = self._made()
        # padded by a time long before and one long after
        next_taken = np.searchsorted(times, ready, side="right")
        close = ready - times[next_taken - 1] < spacing
        free = ~close & (times[next_taken] - ready >= spacing)
        # behind which of the taken times there is room: from the one that is too close on
        first_free_s: Ints = np.where(
            free, ready, times[room_behind[np.where(close, next_taken - 1, next_taken)]] + spacing
        )
        return first_free_s

    def _made(self) -> tuple[Ints, Ints]:
        """The times between two far ones, and for each the first at or after it behind which another has room."""
        if self._tables is None:
            times = np.array([-FAR, *self._taken, FAR], dtype=np.int64)
            index = np.arange(times.size)
            index[:-1][np.diff(times) < 2 * self.spacing_s] = times.size
            self._tables = times, np.minimum.accumulate(index[::-1])[::-1]
        return self._tables


def one_after_another(ready: Iterable[int], spacing_s: int, taken: Iterable[int] = ()) -> list[int]:
    """Take-offs in the order in which they are ready, each at the first free time; as many as ready, in its order."""
    moments = list(ready)
    if spacing_s <= 0:
        return moments
    runway = RunwaySpacing(spacing_s, taken)
    take_offs_s = [0] * len(moments)
    for index in sorted(range(len(moments)), key=lambda at: (moments[at], at)):
        take_offs_s[index] = int(runway.first_free(np.array([moments[index]]))[0])
        runway.add(take_offs_s[index])
    return take_offs_s


class Tank:
    """One truck or pad that fills up after so many treatments, or sooner where it stands idle for as long as it takes.

    Spans are (first minute, minute after the last, clearing included).
    """

    def __init__(self, after: int, minutes: int) -> None:
        self.after, self.minutes = after, minutes
        self._spans: list[tuple[int, int]] = []
        self._tables: tuple[Ints, Ints, Ints, Ints] | None = None

    def add(self, first: int, end: int) -> None:
        """One treatment more."""
        self._spans.append((first, end))
        self._tables = None

    def remove(self, first: int, end: int) -> None:
        """One treatment less. What was allowed stays allowed: no row of treatments grows longer by it."""
        self._spans.remove((first, end))
        self._tables = None

    def allows(self, starts: Ints, occupied_min: int) -> np.ndarray:
        """Whether a treatment at each start leaves no more than so many in a row without a pause to fill up."""
        firsts, ends, left, right = self._made()
        if not firsts.size:
            return np.ones(starts.size, dtype=np.bool_)
        next_span = np.searchsorted(firsts, starts, side="right")
        last = np.where(next_span > 0, ends[np.maximum(next_span, 1) - 1], -FAR)
        row = 1 + np.where(starts - last < self.minutes, left[np.maximum(next_span, 1) - 1], 0)
        end = np.maximum(starts + occupied_min, last)
        # the last that follows without a pause, and those that follow it
        near = np.searchsorted(firsts, end + self.minutes, side="left") - 1
        row = row + np.where(near >= next_span, near - next_span + right[np.maximum(near, 0)], 0)
        found: np.ndarray = row <= self.after
        return found

    def _made(self) -> tuple[Ints, Ints, Ints, Ints]:
        """First minutes, latest ends so far, and how many in a row up to each and from each on."""
        if self._tables is None:
            spans = sorted(self._spans)
            firsts = np.array([first for first, _ in spans], dtype=np.int64)
            ends = np.maximum.accumulate(np.array([end for _, end in spans], dtype=np.int64)) if spans else firsts
            left, right = np.ones(len(spans), dtype=np.int64), np.ones(len(spans), dtype=np.int64)
            near = firsts[1:] - ends[:-1] < self.minutes
            for index in np.flatnonzero(near).tolist():
                left[index + 1] = left[index] + 1
            for index in np.flatnonzero(near)[::-1].tolist():
                right[index] = right[index + 1] + 1
            self._tables = firsts, ends, left, right
        return self._tables

"""Pieces of work done by several processes of this machine, out of the standard library's pool of processes.

The pool hands out the work. When a process is lost the pool is lost with it: what was being done then is done once
more, each piece by itself, so that the one that costs its process is known and no other is blamed for it.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from multiprocessing import context
from typing import Any

from advisor.archive.pieces import TRIES, Crew, Failed, calmly, said
from advisor.errors import AdvisorError

# of memory let go, what the C library keeps for the next array; larger blocks than the second go back at once
KEPT_B, FETCHED_ALONE_B = 1 << 29, 1 << 25
_MEMORY = {"MALLOC_TRIM_THRESHOLD_": str(KEPT_B), "MALLOC_MMAP_THRESHOLD_": str(FETCHED_ALONE_B)}


class Processes(Crew):
    """Does pieces of work in so many processes at once."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._pool: ProcessPoolExecutor | None = None
        self._context = _Context()

    def each(self, work: Callable[..., Any], pieces: Sequence[tuple[Any, ...]]) -> Iterator[tuple[int, Any]]:
        """As Crew.each: a piece whose process is lost twice has failed twice."""
        left = deque((position, 1) for position in range(len(pieces)))
        doubted: deque[int] = deque()
        running: dict[Future[Any], tuple[int, int]] = {}
        try:
            while left or doubted or running:
                alone = bool(doubted) and not running
                if alone:
                    # its last try
                    position = doubted.popleft()
                    running[self._begun(work, pieces[position])] = position, TRIES
                while left and not doubted and not alone and len(running) < self._workers:
                    position, tries = left.popleft()
                    running[self._begun(work, pieces[position])] = position, tries
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    position, tries = running.pop(future)
                    wrong = future.exception()
                    if wrong is None:
                        yield position, future.result()
                    elif isinstance(wrong, AdvisorError):
                        raise wrong
                    elif isinstance(wrong, BrokenProcessPool):
                        self._pool = None
                        if alone:
                            yield position, Failed(position, "its process was lost")
                        else:
                            doubted.append(position)
                    elif tries < TRIES:
                        left.append((position, tries + 1))
                    else:
                        yield position, Failed(position, said(wrong))
        finally:
            if running:
                self._stop()

    def _begun(self, work: Callable[..., Any], piece: tuple[Any, ...]) -> Future[Any]:
        if self._pool is not None:
            # a process may have been lost while it had nothing to do
            with suppress(BrokenProcessPool):
                return self._pool.submit(calmly, work, *piece)
        self._pool = ProcessPoolExecutor(self._workers, mp_context=self._context, initializer=_begin)
        return self._pool.submit(calmly, work, *piece)

    def _stop(self) -> None:
        """Let what is being done be, and the processes go."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)
        for child in self._context.begun:
            if child.is_alive():
                child.terminate()

    def close(self) -> None:
        """Send the processes home once they are done."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown()


class _Context(context.SpawnContext):
    """Begins processes anew rather than as copies of this one, which may have threads, and remembers them."""

    def __init__(self) -> None:
        super().__init__()
        self.begun: list[context.SpawnProcess] = []

    def Process(self, *given: Any, **named: Any) -> context.SpawnProcess:  # type: ignore[override]  # noqa: N802
        self.begun.append(context.SpawnProcess(*given, **named))
        return self.begun[-1]


def _begin() -> None:
    """In a new process: leave the keyboard to the one that began it, and end with that one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def processes(workers: int) -> Iterator[Processes]:
    """So many processes, which go when they are left."""
    before = {name: os.environ.get(name) for name in _MEMORY}
    # they read this as they begin; what stands in the environment goes first
    for name, size in _MEMORY.items():
        os.environ.setdefault(name, size)
    crew = Processes(workers)
    try:
        yield crew
    finally:
        crew.close()
        for name, was in before.items():
            if was is None:
                os.environ.pop(name, None)

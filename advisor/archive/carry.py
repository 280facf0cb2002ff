"""Parts of a replay carried out: in this process, in several on this machine, or on a Dask cluster.

The same code does a part wherever it runs. A part that fails is tried once more; one that fails again is named and
left out. Dask hands out the work and starts lost workers again; nothing is scheduled here.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from advisor.archive.extra import library
from advisor.errors import AdvisorError, FeedError

TRIES = 2
# how long a cluster is waited for, s
PATIENCE_S = 20
# of memory let go, what the C library keeps for the next array: Dask has a worker give back every block above 64 kB at
# once and fetch it anew, and half of its time goes into that
KEPT_B, FETCHED_ALONE_B = 1 << 29, 1 << 25
# how many objects may come up before Python looks for circles among them: a part makes many, and none in circles; with
# the usual 700 a thirtieth of the time goes into looking
LOOKED_AFTER = 100_000
_MEMORY = {"MALLOC_TRIM_THRESHOLD_": KEPT_B, "MALLOC_MMAP_THRESHOLD_": FETCHED_ALONE_B, "MALLOC_ARENA_MAX": 1}


@dataclass(frozen=True)
class How:
    """Where work is done: workers on this machine, or the address of a cluster."""

    workers: int = 1
    cluster: str | None = None
    patience_s: float = PATIENCE_S


@dataclass(frozen=True)
class Failed:
    """A piece of work that failed twice: which, and what was said last."""

    at: int
    why: str


class Crew:
    """Does pieces of work, one after the other or many at once."""

    def __init__(self, client: Any = None) -> None:
        self._client = client

    def each(self, work: Callable[..., Any], pieces: Sequence[tuple[Any, ...]]) -> Iterator[tuple[int, Any]]:
        """Position and result of each piece, in the order in which they end; Failed for one that failed twice.

        An error of ours stops everything: it says what is wrong with what was given.
        """
        if self._client is None:
            for position, piece in enumerate(pieces):
                yield position, _tried(work, position, piece)
            return
        yield from self._together(work, pieces)

    def _together(self, work: Callable[..., Any], pieces: Sequence[tuple[Any, ...]]) -> Iterator[tuple[int, Any]]:
        distributed = library("dask.distributed")
        futures = {self._client.submit(_calmly, work, *piece, pure=False): (at, 1) for at, piece in enumerate(pieces)}
        # results come with their futures: asking for each by itself costs two more ways there and back
        ending = distributed.as_completed(list(futures), with_results=True, raise_errors=False)
        try:
            for future, outcome in ending:
                position, tries = futures.pop(future)
                wrong = None if future.status == "finished" else future.exception()
                if wrong is None:
                    yield position, outcome
                elif isinstance(wrong, AdvisorError):
                    raise wrong
                elif tries < TRIES:
                    again = self._client.submit(_calmly, work, *pieces[position], pure=False)
                    futures[again] = position, tries + 1
                    ending.add(again)
                else:
                    yield position, Failed(position, _said(wrong))
        finally:
            self._client.cancel(list(futures), force=True)


def _tried(work: Callable[..., Any], position: int, piece: tuple[Any, ...]) -> Any:
    wrong: Exception | None = None
    for _ in range(TRIES):
        try:
            return _calmly(work, *piece)
        except AdvisorError:
            raise
        except Exception as met:
            wrong = met
    return Failed(position, _said(wrong))


def _calmly(work: Callable[..., Any], *piece: Any) -> Any:
    """Work on a piece, with circles looked for seldom, and afterwards as often as before."""
    usual = gc.get_threshold()
    gc.set_threshold(max(LOOKED_AFTER, usual[0]) if usual[0] else 0, *usual[1:])
    try:
        return work(*piece)
    finally:
        gc.set_threshold(*usual)


def _said(wrong: BaseException | None) -> str:
    lines = str(wrong).splitlines()
    return f"{type(wrong).__name__}: {lines[0][:200] if lines else ''}"


@contextmanager
def crew(how: How) -> Iterator[Crew]:
    """Those who do the work. Raises FeedError where a cluster cannot be reached."""
    if how.cluster is None and how.workers <= 1:
        yield Crew()
        return
    distributed = library("dask.distributed")
    dask = library("dask")
    # a worker that is lost costs its parts only: they are done again, and no more than twice
    dask.config.set(
        {
            "distributed.scheduler.allowed-failures": TRIES - 1,
            # no part waits on a worker behind another, which would count as failed with it
            "distributed.scheduler.worker-saturation": 1.0,
            "distributed.worker.daemon": True,
            # nobody looks at where a worker spends its time, a hundred times a second
            "distributed.worker.profile.enabled": False,
            "distributed.admin.system-monitor.interval": "10s",
            "distributed.admin.tick.interval": "1s",
            "distributed.worker.memory.monitor-interval": "2s",
            # with no part waiting at a worker there is none to be given to another
            "distributed.scheduler.work-stealing": False,
            **{f"distributed.nanny.pre-spawn-environ.{name}": size for name, size in _MEMORY.items()},
        }
    )
    if how.cluster is None:
        # nothing listens to other machines, and no port is fixed that somebody else may have
        with (
            distributed.LocalCluster(
                n_workers=how.workers,
                threads_per_worker=1,
                dashboard_address="127.0.0.1:0",
                silence_logs=50,
                host="127.0.0.1",
            ) as cluster,
            distributed.Client(cluster) as client,
        ):
            yield Crew(client)
        return
    try:
        client = distributed.Client(how.cluster, timeout=how.patience_s)
    except (OSError, ValueError, TimeoutError) as wrong:
        why = str(wrong).splitlines()[0][:120] if str(wrong) else "no answer"
        raise FeedError(
            f"cannot be reached ({why})", where=f"cluster {how.cluster}", hint="give the address of a Dask scheduler"
        ) from None
    with client:
        yield Crew(client)

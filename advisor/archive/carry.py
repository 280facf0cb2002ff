"""Parts of a replay carried out: in this process, in several on this machine, or on a Dask cluster.

The same code does a part wherever it runs. A part that fails is tried once more; one that fails again is named and
left out. A pool of processes or Dask hands out the work; nothing is scheduled here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from advisor.archive.extra import library
from advisor.archive.pieces import TRIES, Crew, Failed, calmly, said
from advisor.archive.processes import processes
from advisor.errors import AdvisorError, FeedError

# how long a cluster is waited for, s
PATIENCE_S = 20


@dataclass(frozen=True)
class How:
    """Where work is done: workers on this machine, or the address of a cluster."""

    workers: int = 1
    cluster: str | None = None
    patience_s: float = PATIENCE_S


class Cluster(Crew):
    """Does pieces of work on a Dask cluster, which tells its scheduler what was lost and does it again."""

    def __init__(self, client: Any) -> None:
        self._client = client

    def each(self, work: Callable[..., Any], pieces: Sequence[tuple[Any, ...]]) -> Iterator[tuple[int, Any]]:
        """As Crew.each."""
        distributed = library("dask.distributed")
        futures = {self._client.submit(calmly, work, *piece, pure=False): (at, 1) for at, piece in enumerate(pieces)}
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
                    again = self._client.submit(calmly, work, *pieces[position], pure=False)
                    futures[again] = position, tries + 1
                    ending.add(again)
                else:
                    yield position, Failed(position, said(wrong))
        finally:
            self._client.cancel(list(futures), force=True)


@contextmanager
def crew(how: How) -> Iterator[Crew]:
    """Those who do the work. Raises FeedError where a cluster cannot be reached."""
    if how.cluster is not None:
        with _client(how.cluster, how.patience_s) as client:
            yield Cluster(client)
    elif how.workers > 1:
        with processes(how.workers) as several:
            yield several
    else:
        yield Crew()


def _client(address: str, patience_s: float) -> Any:
    distributed = library("dask.distributed")
    try:
        return distributed.Client(address, timeout=patience_s)
    except (OSError, ValueError, TimeoutError) as wrong:
        why = str(wrong).splitlines()[0][:120] if str(wrong) else "no answer"
        raise FeedError(
            f"cannot be reached ({why})", where=f"cluster {address}", hint="give the address of a Dask scheduler"
        ) from None

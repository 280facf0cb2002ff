"""A piece of work: done by this process one after the other, tried twice, and what is said of one that failed."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.errors import AdvisorError

TRIES = 2
# how many objects may come up before Python looks for circles among them: a part makes many, and none in circles; with
# the usual 700 a thirtieth of the time goes into looking
LOOKED_AFTER = 100_000


@dataclass(frozen=True)
class Failed:
    """A piece of work that failed twice: which, and what was said last."""

    at: int
    why: str


class Crew:
    """Does pieces of work, here one after the other in this process."""

    def each(self, work: Callable[..., Any], pieces: Sequence[tuple[Any, ...]]) -> Iterator[tuple[int, Any]]:
        """Position and result of each piece, in the order in which they end; Failed for one that failed twice.

        An error of ours stops everything: it says what is wrong with what was given.
        """
        for position, piece in enumerate(pieces):
            yield position, _tried(work, position, piece)


def _tried(work: Callable[..., Any], position: int, piece: tuple[Any, ...]) -> Any:
    wrong: Exception | None = None
    for _ in range(TRIES):
        try:
            return calmly(work, *piece)
        except AdvisorError:
            raise
        except Exception as met:
            wrong = met
    return Failed(position, said(wrong))


def calmly(work: Callable[..., Any], *piece: Any) -> Any:
    """Work on a piece, with circles looked for seldom, and afterwards as often as before."""
    usual = gc.get_threshold()
    gc.set_threshold(max(LOOKED_AFTER, usual[0]) if usual[0] else 0, *usual[1:])
    try:
        return work(*piece)
    finally:
        gc.set_threshold(*usual)


def said(wrong: BaseException | None) -> str:
    """What an error is called, and its first line, shortened."""
    lines = str(wrong).splitlines()
    return f"{type(wrong).__name__}: {lines[0][:200] if lines else ''}"

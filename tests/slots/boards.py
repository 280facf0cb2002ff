"""Boards of named pads by hand: pads, jobs that wait at a price, and where they stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.slots.model import Job, Option, PadGroup
from advisor.slots.solver.named import PadGrid

ONE, TWO = (PadGroup("one", ("P1",)),), (PadGroup("two", ("P1", "P2")),)
APART = PadGroup("one", ("P1",)), PadGroup("other", ("P2",))


def waiting(weight: float = 1.0, lasts: int = 10, first: int = 0, group: int = 0, free: int = 0) -> Option:
    """Starts from a minute on; waiting costs so much a minute once it is longer than what is free."""
    return Option(group, lasts, first, weight * np.maximum(0.0, np.arange(150.0 - first) - free))


def one(*options: Option, **more: str | float) -> Job:
    return replace(Job("J", 1.0, options, 500.0, min(each.first for each in options)), **more)  # type: ignore[arg-type]


def where(board: PadGrid) -> list[tuple[str, int] | None]:
    return [None if place is None else (board.names[place.row], place.minute) for place in board.places]

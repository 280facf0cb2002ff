"""Gives each start a pad of its group, and moves what finds none. Pure.

Starts that count in full come first, in order of time: there is always a pad free. What is only possible takes a free
pad, or shares one with others that are only possible; where neither can be had it starts later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.slots.model import TOLERANCE, PlanningProblem, Start


@dataclass(slots=True)
class _Pad:
    name: str
    spans: list[tuple[int, int, int, bool]] = field(default_factory=list)

    def overlapping(self, first: int, last: int) -> list[tuple[int, int, int, bool]]:
        return [span for span in self.spans if span[0] < last and first < span[1]]


@dataclass(frozen=True, slots=True)
class Coloured:
    """Starts as they stand, and by job the pad's name (None where unplanned) and the jobs that share its time."""

    starts: tuple[Start | None, ...]
    pads: tuple[str | None, ...]
    sharing: tuple[tuple[int, ...], ...]


def colour(
    problem: PlanningProblem,
    starts: Sequence[Start | None],
    *,
    sharing: int,
    fixed: Mapping[int, str],
    wished: Mapping[int, str],
) -> Coloured:
    """Pads for starts. sharing: how many possible jobs may hold one pad; fixed, wished: pads by job."""
    pads = [[_Pad(name) for name in group.pads] for group in problem.groups]
    kept: list[Start | None] = list(starts)
    given: list[str | None] = [None] * len(starts)
    shares: list[tuple[int, ...]] = [()] * len(starts)

    def key(job: int) -> tuple[bool, bool, int, int]:
        start = starts[job]
        return job not in fixed, problem.jobs[job].load < 1 - TOLERANCE, -1 if start is None else start[1], job

    for job in sorted(range(len(starts)), key=key):
        start = starts[job]
        if start is None:
            continue
        item = problem.jobs[job]
        shared = item.load < 1 - TOLERANCE
        pad = _place(problem, pads, job, start, fixed.get(job) or wished.get(job), sharing if shared else 1)
        if pad is None and shared:
            start, pad = _later(problem, pads, job, start, sharing)
        kept[job] = start
        if pad is None or start is None:
            kept[job] = None
            continue
        option = item.options[start[0]]
        first, last = start[1], start[1] + option.occupied_min
        others = pad.overlapping(first, last)
        shares[job] = tuple(other[2] for other in others)
        for other in shares[job]:
            shares[other] = (*shares[other], job)
        pad.spans.append((first, last, job, shared))
        given[job] = pad.name
    return Coloured(tuple(kept), tuple(given), tuple(tuple(sorted(one)) for one in shares))


def _place(
    problem: PlanningProblem, pads: Sequence[Sequence[_Pad]], job: int, start: Start, wanted: str | None, sharing: int
) -> _Pad | None:
    """The wanted pad if it has room, else the one free for longest, else one to share; None without."""
    option = problem.jobs[job].options[start[0]]
    first, last = start[1], start[1] + option.occupied_min
    free: list[tuple[int, int, _Pad]] = []
    to_share: list[tuple[int, int, _Pad]] = []
    for number, pad in enumerate(pads[option.group]):
        others = pad.overlapping(first, last)
        if not others:
            before = max((span[1] for span in pad.spans if span[1] <= first), default=-1)
            free.append((before, number, pad))
        elif all(other[3] for other in others) and _deepest(others, first, last) < sharing:
            to_share.append((len(others), number, pad))
    for candidates in (free, to_share):
        for _, _, pad in candidates:
            if pad.name == wanted:
                return pad
    if free:
        return min(free)[2]
    return min(to_share)[2] if to_share else None


def _deepest(spans: Sequence[tuple[int, int, int, bool]], first: int, last: int) -> int:
    """How many of some spans hold at the same time within a stretch."""
    edges = [max(first, span[0]) for span in spans]
    return max(sum(1 for span in spans if span[0] <= edge < span[1]) for edge in edges if edge < last)


def _later(
    problem: PlanningProblem, pads: Sequence[Sequence[_Pad]], job: int, start: Start, sharing: int
) -> tuple[Start | None, _Pad | None]:
    """The cheapest other start that finds a pad; staying unplanned where that costs less."""
    item = problem.jobs[job]
    choices = []
    for number, option in enumerate(item.options):
        allowed = np.flatnonzero(np.isfinite(option.costs) & (option.costs < item.unplanned_cost))
        choices += [(float(option.costs[minute]), option.first + int(minute), number) for minute in allowed]
    for _, minute, number in sorted(choices):
        pad = _place(problem, pads, job, (number, minute), None, sharing)
        if pad is not None:
            return (number, minute), pad
    return None, None

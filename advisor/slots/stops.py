"""When pads are shut: by hand, by lightning, by wind over a pad's limit. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from advisor.conditions import Conditions
from advisor.slots.files.pads import Closure, Pads


def closures(conditions: Conditions | None, pads: Pads, now: int) -> tuple[tuple[Closure, ...], tuple[Closure, ...]]:
    """Closures that are planned around, and those that only some of the cases bring (told, not planned around).

    conditions: of any airframe, None without weather; now: seconds since 1970 UTC. By hand; lightning or thunder and
    the minutes after it; gusts over a pad's own limit.
    """
    sure, possible = list(pads.closures), list[Closure]()
    if conditions is None:
        return tuple(sure), ()
    everybody = tuple(pad.name for pad in pads.pads)
    if pads.stops.lightning:
        after = pads.stops.after_lightning_min * 60
        # lightning in the remarks was seen at the report; how long it goes on is the forecast's to say
        soon = conditions.unix_s <= now + after
        storm = (_of(conditions, "thunderstorm") == 1) | ((_of(conditions, "lightning") == 1) & soon)
        last = int(conditions.unix_s[-1]) + after
        for certain, from_s, until_s in _spans(storm, conditions.unix_s, after):
            (sure if certain else possible).append(_closure(everybody, from_s, until_s, "lightning", last))
    gust = _of(conditions, "gust_kt")
    for limit in sorted({pad.wind_limit_kt for pad in pads.pads if pad.wind_limit_kt == pad.wind_limit_kt}):
        names = tuple(pad.name for pad in pads.pads if pad.wind_limit_kt == limit)
        for certain, from_s, until_s in _spans(gust > limit, conditions.unix_s, 0):
            why = f"gusts over the limit of {limit:.0f} kt"
            end = int(conditions.unix_s[-1])
            (sure if certain else possible).append(_closure(names, from_s, until_s, why, end))
        for _, from_s, until_s in _spans(np.isnan(gust), conditions.unix_s, 0):
            why = f"wind not known, gusts over the limit of {limit:.0f} kt cannot be ruled out"
            possible.append(Closure(names, from_s, until_s, why))
    return tuple(sure), tuple(possible)


def _closure(names: tuple[str, ...], from_s: int, until_s: int, why: str, last: int) -> Closure:
    """A closure; one that goes on to the last that was looked at has no end, since nobody has looked further."""
    if until_s < last:
        return Closure(names, from_s, until_s, why)
    return Closure(names, from_s, until_s, f"{why}, and how long it goes on is not known", open_end=True)


def _of(conditions: Conditions, name: str) -> Any:
    return np.broadcast_to(conditions.columns.get(name, np.zeros((1, 1))), conditions.shape)


def _spans(met: Any, unix_s: Any, after_s: int) -> Iterator[tuple[bool, int, int]]:
    """Spans of time met in every case (True), and in some only (False); each to the next time on the grid and on."""
    for certain, times in ((True, met.all(axis=0)), (False, met.any(axis=0) & ~met.all(axis=0))):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], times.astype(np.int8), [0]))))
        for first, last in zip(edges[::2], edges[1::2], strict=True):
            end = unix_s[min(last, unix_s.size - 1)]
            yield certain, int(unix_s[first]), int(end) + after_s

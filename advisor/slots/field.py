"""What a night is carried out on, as arrays: departures, pads by what they take, closures and holdover. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isnan

import numpy as np

from advisor.conditions import Floats
from advisor.slots.build import unplanned_cost
from advisor.slots.demand import Need
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Closure, Pad, Pads
from advisor.slots.limits import limits_by_case
from advisor.slots.model import Ints
from advisor.slots.scenarios import Bools, Draws

# where no window closes, a latest start lies so long after the aircraft is there
NO_WINDOW_MIN = 45
HORIZON_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class PadKind:
    """Pads that take the same departures: place, rows of the pads, which departures they take, (departure,), and what
    shutting down and starting engines adds after the treatment.
    """

    place: str
    pads: Ints
    takes: Bools
    engines_min: float


@dataclass(frozen=True, slots=True)
class Field:
    """What is to be carried out, in minutes from base_s; arrays (departure,) where nothing else stands.

    off, ready: when it could leave, and when a truck may begin; remove, anti: minutes of the steps; from_, until: of
    the take-off window, -inf and inf without; weight, missed, unplanned: prices; planned: take-off as scheduled;
    holdover: (conditions, case, level, minute) or None, night: which conditions; shut: closures by pad, minutes, inf
    where nobody knows when it opens again; taken: take-offs that others have already, (take-off,); free_from, treated:
    when each pad is free, and how many in a row it has treated since it filled up, (pad,).
    """

    needs: tuple[Need, ...]
    pads: Pads
    base_s: int
    off: Floats
    ready: Floats
    to_pad: Floats
    to_runway: Floats
    remove: Floats
    anti: Floats
    from_: Floats
    until: Floats
    weight: Floats
    missed: Floats
    unplanned: Floats
    planned: Floats
    night: Ints
    holdover: Floats | None
    kinds: tuple[PadKind, ...]
    shut: tuple[tuple[tuple[float, float], ...], ...]
    free_from: Floats
    taken: Floats
    treated: Ints

    @property
    def treat(self) -> Floats:
        """Minutes on the pad as planned."""
        found: Floats = self.remove + self.anti
        return found


def field(needs: Sequence[Need], pads: Pads, closures: Sequence[Closure], table: Holdover | None, now: int) -> Field:
    """What a night is carried out on: departures with and without treatment, pads, closures and the table."""
    base_s = now - now % 60

    def minutes(values: Sequence[float | None], missing: float = 0.0) -> Floats:
        return np.array([missing if value is None else (value - base_s) / 60 for value in values], dtype=np.float64)

    rows = [need.row for need in needs]
    lead = 60 * pads.treatment.stand_lead_min
    off = minutes([need.earliest for need in needs])
    price = pads.cost
    nights: dict[int, int] = {}
    index = [nights.setdefault(id(need.conditions), len(nights)) for need in needs]
    firsts = {number: needs[index.index(number)].conditions for number in nights.values()}
    span = int(off.max(initial=0.0)) + HORIZON_MIN
    holdover = None
    if table is not None and needs:
        holdover = np.stack([limits_by_case(one, table, base_s, span) for _, one in sorted(firsts.items())])
    return Field(
        tuple(needs),
        pads,
        base_s,
        off,
        np.maximum(0.0, minutes([row.off_block - lead if row.ready is None else row.ready for row in rows])),
        np.array([need.to_pad_min for need in needs], dtype=np.float64),
        np.array([need.to_runway_min for need in needs], dtype=np.float64),
        np.array([need.removal_min for need in needs], dtype=np.float64),
        np.array([need.anti_icing_min for need in needs], dtype=np.float64),
        minutes([row.take_off_from for row in rows], -inf),
        minutes([row.take_off_until for row in rows], inf),
        np.array([getattr(price, need.profile.size) * need.row.priority for need in needs], dtype=np.float64),
        np.array([_missed_price(need, pads) for need in needs], dtype=np.float64),
        np.array([unplanned_cost(need, pads) for need in needs], dtype=np.float64),
        minutes([max(row.off_block + 60 * row.taxi_min, row.take_off_from or 0) for row in rows]),
        np.array(index, dtype=np.int64),
        holdover,
        _kinds(needs, pads),
        tuple(_shut(pad, closures, base_s) for pad in pads.pads),
        np.zeros(len(pads.pads)),
        np.zeros(0),
        np.zeros(len(pads.pads), dtype=np.int64),
    )


def _missed_price(need: Need, pads: Pads) -> float:
    own = need.row.missed_window
    return pads.cost.missed_window if isnan(own) else own


def _kinds(needs: Sequence[Need], pads: Pads) -> tuple[PadKind, ...]:
    """Pads by what they take; those that take fewest first, so that they are used before the others."""
    rows_by_kind: dict[tuple[str, str, str], list[int]] = {}
    for row, pad in enumerate(pads.pads):
        rows_by_kind.setdefault((pad.place, pad.size, pad.engines), []).append(row)
    kinds = []
    for (place, size, engines), rows in rows_by_kind.items():
        takes = [
            need.row.place in ("", place) and (size == "any" or need.profile.size == "small") and need.steps > 0
            for need in needs
        ]
        added = float(pads.treatment.engines_off_min) if engines == "off" else 0.0
        kinds.append(PadKind(place, np.array(rows, dtype=np.int64), np.array(takes, dtype=np.bool_), added))
    return tuple(sorted(kinds, key=lambda kind: (int(kind.takes.sum()), int(kind.pads[0]))))


def _shut(pad: Pad, closures: Sequence[Closure], base_s: int) -> tuple[tuple[float, float], ...]:
    spans = [
        ((one.from_s - base_s) / 60, inf if one.open_end else (one.until_s - base_s) / 60)
        for one in closures
        if pad.name in one.pads
    ]
    if pad.from_s is not None:
        spans.append((-inf, (pad.from_s - base_s) / 60))
    if pad.until_s is not None:
        spans.append(((pad.until_s - base_s) / 60, inf))
    return tuple(sorted(spans))


def latest_starts(place: Field) -> Floats:
    """The latest start of each departure, minutes, (departure,): what still makes its window, on its nearest pad.

    Where there is no window, some time after it is there.
    """
    latest_min: Floats = np.where(
        np.isfinite(place.until),
        place.until - place.to_runway - place.treat,
        np.maximum(place.off + place.to_pad, 0.0) + NO_WINDOW_MIN,
    )
    stand_only = np.array([need.row.place == "stand" for need in place.needs], dtype=np.bool_)
    on_stand = np.isfinite(place.until) & stand_only
    return np.where(on_stand, latest_min - place.to_pad, latest_min)


def in_hand(place: Field) -> Floats:
    """Minutes to keep in hand before a window: a standard deviation of treatment and way together; 0 without one."""
    noise = place.pads.noise
    spread = np.hypot(noise.treatment_spread * place.treat, noise.taxi_spread * place.to_runway)
    found: Floats = np.where(np.isfinite(place.until), spread, 0.0)
    return found


def arrivals(place: Field, draws: Draws) -> Floats:
    """When each departure is at a pad, or ready on its stand where only trucks take it, (night, departure)."""
    remote = place.off + draws.late_min + place.to_pad * draws.taxi
    stand_only = np.array([need.row.place == "stand" for need in place.needs], dtype=np.bool_)
    return np.where(stand_only, place.ready + draws.late_min, remote)

"""Draws nights: which case of the outlook comes true, who needs treatment, how late and long things are. Pure.

One cause sets many needs: a night is one case of the outlook, and what the cases do not decide is decided for all
together as often as the pads file says. The same seed draws the same nights, whatever is carried out on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.conditions import Case, Floats
from advisor.slots.demand import Need
from advisor.slots.files.pads import Noise, Pads
from advisor.slots.model import Ints

Bools = NDArray[np.bool_]
LEAST_FACTOR, MOST_FACTOR = 0.5, 2.0


@dataclass(frozen=True, slots=True)
class Draws:
    """Drawn nights. needed: (night, departure); late_min: off-block after its time, minutes; taxi, treatment: factors
    of the ways and of the treatment, all (night, departure); case: index of the outlook's case, (night,).
    """

    needed: Bools
    late_min: Floats
    taxi: Floats
    treatment: Floats
    case: Ints

    @property
    def nights(self) -> int:
        """How many."""
        return int(self.case.size)

    def some(self, chosen: slice) -> Draws:
        """Some of the nights."""
        return Draws(
            self.needed[chosen], self.late_min[chosen], self.taxi[chosen], self.treatment[chosen], self.case[chosen]
        )


def draw(needs: Sequence[Need], pads: Pads, nights: int, seed: int) -> Draws:
    """So many nights of these departures."""
    dice = np.random.default_rng(seed)
    count = len(needs)
    noise = pads.noise
    cases = needs[0].conditions.cases if needs else ()
    case = dice.choice(max(1, len(cases)), nights, p=case_shares(cases, noise) if cases else None)
    one_for_all = dice.random((nights, 1))
    each = dice.random((nights, count))
    together = dice.random((nights, 1)) < noise.common_cause
    chance = np.where(together, one_for_all, each)
    needed = np.zeros((nights, count), dtype=np.bool_)
    for at, need in enumerate(needs):
        needed[:, at] = _needed(need, case, chance[:, at], pads)
    late = np.maximum(0.0, dice.normal(noise.off_block_late_min, noise.off_block_spread_min, (nights, count)))
    if noise.off_block_spread_min == 0:
        late = np.full((nights, count), noise.off_block_late_min)
    late[:, [need.left_stand for need in needs]] = 0.0
    return Draws(
        needed,
        late,
        _factors(dice, noise.taxi_spread, nights, count),
        _factors(dice, noise.treatment_spread, nights, count),
        case.astype(np.int64),
    )


def _factors(dice: np.random.Generator, spread: float, nights: int, count: int) -> Floats:
    return np.clip(dice.normal(1.0, spread, (nights, count)), LEAST_FACTOR, MOST_FACTOR)


def _needed(need: Need, case: Ints, chance: Floats, pads: Pads) -> Bools:
    """Whether a departure needs treatment in each night: as its case says, else by its share."""
    if not need.steps:
        return np.zeros(case.size, dtype=np.bool_)
    if need.status == "expected":
        return np.ones(case.size, dtype=np.bool_)
    by_case = need.by_case
    if len(by_case) != len(need.conditions.cases) or not any(by_case) or all(by_case):
        share = pads.margin.likely_share if need.status == "likely" else pads.margin.possible_share
        return chance < share
    return np.array(by_case, dtype=np.bool_)[case]


def case_shares(cases: Sequence[Case], noise: Noise) -> Floats:
    """How likely each case of the outlook is: its base case, and its temporary or probable groups as reported.

    The central base case against the adverse ones by adverse_share, those alike; a lane by its PROB, else by
    group_share; what is left is the share of no group at all.
    """
    bases = list(dict.fromkeys(case.base for case in cases))
    lanes = [lane for lane in dict.fromkeys(case.lane for case in cases) if lane]
    base_share = {base: noise.adverse_share / max(1, len(bases) - 1) for base in bases}
    if bases:
        base_share[bases[0]] = 1.0 - noise.adverse_share if len(bases) > 1 else 1.0
    lane_share = {lane: stated_share(lane, noise) for lane in lanes}
    whole = sum(lane_share.values())
    lane_share = {lane: share / max(1.0, whole) for lane, share in lane_share.items()}
    lane_share[""] = 1.0 - sum(lane_share.values())
    shares = np.array([max(0.0, base_share[case.base] * lane_share[case.lane]) for case in cases])
    found: Floats = shares / shares.sum() if shares.sum() > 0 else np.full(len(cases), 1.0 / len(cases))
    return found


def stated_share(lane: str, noise: Noise) -> float:
    """The probability that a lane's groups state, the highest of them; group_share where they state none."""
    stated = [int(word[4:6]) / 100 for word in lane.split() if word.startswith("PROB") and word[4:6].isdigit()]
    return max(stated, default=noise.group_share)

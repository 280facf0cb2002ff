"""A bound that knows pads and sharing: the relaxation over whole blocks of pads, found block by block. Pure.

Prices of jobs and of minutes prove the bound by themselves (see `Pricing.prove`); the solver only finds good ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import TOLERANCE, Ints, Option, PlanningProblem, Start
from advisor.slots.solver import columns, highs
from advisor.slots.solver.blocks import EPSILON, Block, PadStates, no_room_taken, sharers, states_fit
from advisor.slots.solver.columns import Prices
from advisor.slots.solver.highs import Stop
from advisor.slots.solver.master import Master

# prices to ask at lie so much nearer to the best ones than to those of the relaxation: they wander less
STEADY, LESS_STEADY, STEADIER = 0.9, 0.3, 0.1
FEW_NEW = 5
# blocks to begin with: how much they may come to at the first prices, and how many of each job
FIRST_COST, FIRST_EACH = 15.0, 40
# what is worth asking the solver about, and how many of each job at a time
MAY_HELP, EACH = 0.5, 6
# blocks that a choice is made from: how many of each job and of each two
CHOICE_EACH, PAIR_EACH = 60, 6
# of more on one kind of pad, every two would be too many
MOST_PAIRED = 150
CLOSE = 1e-3
# starts of the plain relaxation: so long after those of a known plan; steps where it finds nothing
LATER_MIN, ROUNDS = 45, 60


@dataclass(frozen=True, slots=True)
class Padwise:
    """bound: no plan costs less; jobs, minutes: the prices that prove it; met: blocks asked about on the way."""

    bound: float
    jobs: Floats
    minutes: Floats
    met: tuple[Block, ...]
    pricing: Pricing

    def near(self, most: float) -> list[Block]:
        """Blocks to choose from: those met, and those that come to less than a price beyond the bound."""
        _, states = self.pricing.prove(self.jobs, self.minutes)
        paired = [(at, some) for at, some in enumerate(states) if some is not None and len(some.begun) <= MOST_PAIRED]
        two = [one for at, some in paired for one in some.pairs(at, most, PAIR_EACH)]
        more = [
            *self.pricing.on_their_own(self.jobs, self.minutes, most, CHOICE_EACH),
            *self.pricing.together(states, most, CHOICE_EACH),
            *two,
        ]
        return [one for one in dict.fromkeys([*self.met, *more]) if one.once]


class Pricing:
    """Blocks at prices of jobs and minutes, and the bound that any such prices prove."""

    def __init__(self, problem: PlanningProblem, prices: Prices, upper: float) -> None:
        """prices: of the plain relaxation; upper: cost of a known plan; what no better one can have is left out."""
        self.problem = problem
        without = no_room_taken(problem)
        most = max(0.0, upper - prices.bound)
        self.groups = [sharers(problem, at, without, prices.reduced, most) for at in range(len(problem.groups))]
        #: jobs that are counted each for itself: (job, option's number, whether its minutes are counted)
        self.alone = [
            (at, number, not without[at])
            for at, job in enumerate(problem.jobs)
            if job.alone or without[at]
            for number in range(len(job.options))
        ]
        self.shared = np.array(
            [not job.alone and not without[at] for at, job in enumerate(problem.jobs)], dtype=np.bool_
        )
        self.unplanned: Floats = np.array([job.unplanned_cost for job in problem.jobs])

    def fit(self) -> bool:
        """Whether the tables of states have a size that can be held."""
        return all(states_fit(some) for some in self.groups)

    def prove(self, jobs: Floats, minutes: Floats) -> tuple[float, list[PadStates | None]]:
        """The bound that some prices prove, and the states of each group's pads at them.

        Whoever holds a minute of a pad is charged its price, and no more are charged than there are pads. Then what
        needs a pad for itself costs its cheapest start at least; who may share, its own price and what its block
        comes to beyond that; and the blocks of one pad at least what its cheapest row of blocks comes to.
        """
        summed = _summed(minutes)
        bound = -sum(group.count * float(line.sum()) for group, line in zip(self.problem.groups, minutes, strict=True))
        least = np.where(self.shared, np.minimum(jobs, self.unplanned), self.unplanned)
        for job, number, counted in self.alone:
            priced = self._priced(self.problem.jobs[job].options[number], summed, counted)
            if priced.size:
                least[job] = min(least[job], float(priced.min()))
        bound += float(least.sum())
        states: list[PadStates | None] = []
        for group, some in enumerate(self.groups):
            if some.job.size and some.costs.shape[1]:
                states.append(PadStates(some, least, summed[group]))
                bound += self.problem.groups[group].count * states[-1].least_of_a_pad()  # type: ignore[union-attr]
            else:
                states.append(None)
        return bound, states

    def _priced(self, option: Option, summed: Floats, counted: bool) -> Floats:
        """What each start of an option costs with its minutes."""
        if not counted:
            return option.costs
        first, end = self._spans(option)
        found: Floats = option.costs + summed[option.group][end] - summed[option.group][first]
        return found

    def _spans(self, option: Option) -> tuple[Ints, Ints]:
        first = np.minimum(option.first + np.arange(option.costs.size), self.problem.minutes)
        return first, np.minimum(first + option.occupied_min, self.problem.minutes)

    def on_their_own(self, jobs: Floats, minutes: Floats, most: float, each: int) -> list[Block]:
        """Blocks of one job that needs a pad for itself, of those that come to less than a price; so many of each."""
        summed, blocks = _summed(minutes), []
        for job, number, counted in self.alone:
            option = self.problem.jobs[job].options[number]
            priced = self._priced(option, summed, counted) - jobs[job]
            first, end = self._spans(option)
            for position in np.argsort(priced, kind="stable")[:each].tolist():
                if priced[position] < most:
                    begin = int(first[position])
                    start = (job, number, option.first + position)
                    last = int(end[position]) if counted else begin
                    blocks.append(Block((start,), option.group, begin, last, float(option.costs[position])))
        return blocks

    @staticmethod
    def together(states: Sequence[PadStates | None], most: float, each: int) -> list[Block]:
        """Blocks of those that may share, that come to less than a price; so many of each."""
        return [one for at, some in enumerate(states) if some is not None for one in some.cheap(at, most, each)]


def plain(
    problem: PlanningProblem, starts: Sequence[Start | None], upper: float, *, seconds: float, stop: Stop
) -> Prices:
    """Prices of minutes alone to begin from. starts, upper: of a known plan, and its cost."""
    near = columns.choose(problem, columns.near(starts, LATER_MIN))
    relaxed = highs.relax(problem, near, seconds=seconds, stop=stop, crossover=False)
    if relaxed.prices is not None:
        return columns.bound(problem, relaxed.prices)
    return columns.bound(problem, columns.ascend(problem, upper, rounds=ROUNDS, stop=stop))


def relax(
    problem: PlanningProblem,
    prices: Prices,
    upper: float,
    known: Sequence[Block],
    *,
    seconds: float,
    clock: Callable[[], float],
    stop: Stop,
) -> Padwise | None:
    """The bound over blocks, as good as the time allows; None where the tables would be too large.

    prices: of the plain relaxation; upper: cost of a known plan, known: its blocks. The bound holds for all plans:
    those that it leaves out cost at least upper.
    """
    end = clock() + seconds
    pricing = Pricing(problem, prices, upper)
    if not pricing.fit():
        return None
    room = np.repeat([[float(group.count)] for group in problem.groups], problem.minutes, axis=1)
    master = Master(problem, range(len(problem.jobs)), room, stop)
    jobs, minutes = pricing.unplanned - prices.unplanned, prices.minutes
    bound, states = pricing.prove(jobs, minutes)
    master.add(known)
    master.add(pricing.on_their_own(jobs, minutes, FIRST_COST, FIRST_EACH))
    master.add(pricing.together(states, FIRST_COST, FIRST_EACH))
    steady = STEADY
    while clock() < end and not stop():
        solved = master.prices(end - clock())
        if solved is None or solved.cost - bound <= CLOSE * abs(solved.cost) + TOLERANCE:
            break
        asked = (steady * jobs + (1 - steady) * solved.jobs, steady * minutes + (1 - steady) * solved.minutes)
        value, states = pricing.prove(*asked)
        summed = _summed(solved.minutes)
        met = [
            block
            for block in pricing.together(states, MAY_HELP, EACH)
            if _comes_to(block, solved.jobs, summed) < -EPSILON
        ]
        new = master.add([*met, *pricing.on_their_own(solved.jobs, solved.minutes, -EPSILON, EACH)])
        better = value > bound
        if better:
            bound, jobs, minutes = value, *asked
        if new < FEW_NEW:
            if not new and not steady:
                break
            steady = max(0.0, steady - LESS_STEADY)
        elif better:
            steady = min(STEADY, steady + STEADIER)
    return Padwise(min(max(bound, prices.bound), upper), jobs, minutes, tuple(master.blocks), pricing)


def _summed(minutes: Floats) -> Floats:
    """Price of all minutes before each, (group, minutes + 1)."""
    found: Floats = np.zeros((minutes.shape[0], minutes.shape[1] + 1))
    np.cumsum(minutes, axis=1, out=found[:, 1:])
    return found


def _comes_to(block: Block, jobs: Floats, summed: Floats) -> float:
    """What a block costs with its minutes, less what placing its jobs is worth."""
    line = summed[block.group]
    last = line.size - 1
    return (
        block.cost
        - sum(float(jobs[start[0]]) for start in block.starts)
        + float(line[min(block.end, last)] - line[block.first])
    )

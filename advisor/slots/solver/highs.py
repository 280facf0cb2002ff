"""The solver behind one function. HiGHS is told one thread count for the whole process, and its status always read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from advisor.conditions import Floats
from advisor.slots.model import Ints, PlanningProblem
from advisor.slots.solver.columns import Columns

# HiGHS keeps the first count it meets: another one later in the same process returns nothing, without a word
THREADS = 1
Stop = Callable[[], bool]
Report = Callable[[float, float], None]
_STATUS = highspy.HighsModelStatus
_DONE = (_STATUS.kOptimal,)
_CUT_SHORT = (
    _STATUS.kTimeLimit,
    _STATUS.kInterrupt,
    _STATUS.kSolutionLimit,
    _STATUS.kObjectiveBound,
    _STATUS.kObjectiveTarget,
    _STATUS.kIterationLimit,
)


class _Quiet(highspy.Highs):
    """A solver that prints nothing: its banner would go to standard output as soon as it is made."""

    def enableCallbacks(self) -> None:  # noqa: N802
        """Silence comes first: this is the first thing that prints."""
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


@dataclass(frozen=True, slots=True)
class SolverResult:
    """What the solver said. chosen: value of each column, None without a solution; bound: of a mixed-integer run.

    prices: of each group's minutes, (group, minute), of a linear run. finished: optimal within the asked gap.
    """

    finished: bool
    said: str
    chosen: Floats | None
    bound: float
    prices: Floats | None = None


def relax(problem: PlanningProblem, columns: Columns, *, seconds: float, stop: Stop, crossover: bool) -> SolverResult:
    """The linear relaxation over some columns. crossover: exact corners rather than the interior-point answer."""
    count, minutes = columns.size, problem.minutes
    jobs, groups = len(problem.jobs), len(problem.groups)
    # minutes in use as running sums: a start adds at its first minute and takes away after its last
    rows = jobs + columns.group * (minutes + 1) + columns.minute
    entries = np.stack([columns.job, rows, rows + columns.occupied], axis=1)
    values = np.stack([np.ones(count), columns.load, -columns.load], axis=1)
    carry = jobs + np.repeat(np.arange(groups) * (minutes + 1), minutes) + np.tile(np.arange(minutes), groups)
    sizes = np.concatenate([np.full(count, 3), np.ones(jobs, dtype=np.int64), np.full(groups * minutes, 2)])
    index = np.concatenate([entries.ravel(), np.arange(jobs), np.stack([carry, carry + 1], axis=1).ravel()])
    value = np.concatenate([values.ravel(), np.ones(jobs), np.tile([-1.0, 1.0], groups * minutes)])
    out = np.array([job.unplanned_cost for job in problem.jobs])
    cost = np.concatenate([columns.cost, out, np.zeros(groups * minutes)])
    limits = np.repeat([float(group.count) for group in problem.groups], minutes)
    upper = np.concatenate([np.ones(count + jobs), limits])
    right = np.concatenate([np.ones(jobs), np.zeros(groups * (minutes + 1))])
    solver = _solver(seconds, stop)
    if not crossover:
        solver.setOptionValue("solver", "ipm")
        solver.setOptionValue("run_crossover", "off")
    _pass(solver, cost, upper, right, right, sizes, index, value)
    status = _run(solver)
    solution = solver.getSolution()
    if status not in _DONE or not solution.dual_valid:
        return SolverResult(False, solver.modelStatusToString(status), None, -np.inf)
    duals = np.asarray(solution.row_dual)[jobs:].reshape(groups, minutes + 1)
    # the price of a minute is how much the running sum is worth more after it than before
    prices = np.maximum(0.0, np.diff(duals, axis=1))
    chosen = np.asarray(solution.col_value)[:count]
    return SolverResult(True, "optimal", chosen, solver.getInfo().objective_function_value, prices)


def choose(
    problem: PlanningProblem,
    columns: Columns,
    jobs: Sequence[int],
    room: Floats,
    *,
    seconds: float,
    gap: float,
    stop: Stop,
    start: Floats | None = None,
    report: Report | None = None,
) -> SolverResult:
    """Choose one column a job, or none, within the room of each group and minute, at the least cost.

    jobs: those to place; columns: only theirs; room: (group, minute); gap: relative, at which to stop; start: a known
    choice, one value a column. Returns SolverResult; the bound holds for these jobs and columns only.
    """
    count, minutes = columns.size, problem.minutes
    place = {job: at for at, job in enumerate(jobs)}
    own = np.array([place[int(job)] for job in columns.job], dtype=np.int64)
    repeats = np.repeat(np.arange(count), columns.occupied)
    offsets = np.arange(repeats.size) - np.repeat(np.cumsum(columns.occupied) - columns.occupied, columns.occupied)
    cells = columns.group[repeats] * minutes + columns.minute[repeats] + offsets
    used, compact = np.unique(cells, return_inverse=True)
    rows = np.concatenate([own, len(jobs) + compact])
    order = np.argsort(np.concatenate([np.arange(count), repeats]), kind="stable")
    out = np.array([problem.jobs[job].unplanned_cost for job in jobs])
    sizes = np.concatenate([1 + columns.occupied, np.ones(len(jobs), dtype=np.int64)])
    index = np.concatenate([rows[order], np.arange(len(jobs))])
    value = np.concatenate([np.concatenate([np.ones(count), columns.load[repeats]])[order], np.ones(len(jobs))])
    cost = np.concatenate([columns.cost, out])
    lower = np.concatenate([np.ones(len(jobs)), np.full(used.size, -highspy.kHighsInf)])
    upper = np.concatenate([np.ones(len(jobs)), room.ravel()[used]])
    solver = _solver(seconds, stop, report)
    solver.setOptionValue("mip_rel_gap", gap)
    solver.setOptionValue("mip_abs_gap", 1e-6)
    _pass(solver, cost, np.ones(count + len(jobs)), lower, upper, sizes, index, value, whole=True)
    if start is not None:
        known = highspy.HighsSolution()
        missing = np.ones(len(jobs))
        missing[own[start > 0.5]] = 0.0
        known.col_value = np.concatenate([start, missing])
        solver.setSolution(known)
    status = _run(solver)
    info, solution = solver.getInfo(), solver.getSolution()
    if status not in _DONE + _CUT_SHORT:
        return SolverResult(False, solver.modelStatusToString(status), None, -np.inf)
    values = np.asarray(solution.col_value)
    usable = bool(solution.value_valid and values.size)
    chosen = values[:count] if usable else None
    return SolverResult(status in _DONE, solver.modelStatusToString(status), chosen, info.mip_dual_bound)


def make(stop: Stop) -> highspy.Highs:
    """A solver without a model, for one that grows; see load, finished and whole."""
    return _solver(highspy.kHighsInf, stop)


def load(
    solver: highspy.Highs,
    cost: Floats,
    upper: Floats,
    rows: tuple[Floats, Floats],
    matrix: tuple[Ints, Ints, Floats],
) -> None:
    """Columns from 0 to upper and rows from lower to upper. matrix: where each column begins, rows and values."""
    starts, index, value = matrix
    _pass(solver, cost, upper, rows[0], rows[1], np.diff(starts).astype(np.float64), index.astype(np.float64), value)


def finished(solver: highspy.Highs, seconds: float) -> bool:
    """Solve a linear model as it stands; whether that came to its end, with prices."""
    # the limit counts all runs of a solver together
    solver.setOptionValue("time_limit", solver.getRunTime() + max(0.0, seconds))
    return _run(solver) in _DONE and bool(solver.getSolution().dual_valid)


def whole(solver: highspy.Highs, seconds: float, gap: float) -> Floats | None:
    """Solve a model in whole numbers; the value of each column, None where none were found."""
    solver.setOptionValue("time_limit", solver.getRunTime() + max(0.0, seconds))
    solver.setOptionValue("mip_rel_gap", gap)
    if _run(solver) not in _DONE + _CUT_SHORT:
        return None
    solution = solver.getSolution()
    values = np.asarray(solution.col_value)
    # what was cut short may have only what is not whole
    feasible = solver.getInfo().primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    return values if feasible and solution.value_valid and values.size else None


def _solver(seconds: float, stop: Stop, report: Report | None = None) -> highspy.Highs:
    solver = _Quiet()  # type: ignore[no-untyped-call]
    for name, value in (
        ("threads", THREADS),
        ("random_seed", 0),
        ("time_limit", max(0.0, seconds)),
    ):
        solver.setOptionValue(name, value)

    def interrupt(event: highspy.HighsCallbackEvent) -> None:
        if stop():
            event.interrupt()

    solver.cbMipInterrupt += interrupt
    solver.cbSimplexInterrupt += interrupt
    solver.cbIpmInterrupt += interrupt
    if report is not None:

        def tell(event: highspy.HighsCallbackEvent) -> None:
            report(event.data_out.mip_primal_bound, event.data_out.mip_dual_bound)

        solver.cbMipImprovingSolution += tell
        solver.cbMipInterrupt += tell
    return solver


def _pass(
    solver: highspy.Highs,
    cost: Floats,
    upper: Floats,
    row_lower: Floats,
    row_upper: Floats,
    sizes: Floats,
    index: Floats,
    value: Floats,
    *,
    whole: bool = False,
) -> None:
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = cost.size, row_lower.size
    model.col_cost_, model.col_lower_, model.col_upper_ = cost, np.zeros(cost.size), upper
    model.row_lower_, model.row_upper_ = row_lower, row_upper
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    model.a_matrix_.index_ = index.astype(np.int32)
    model.a_matrix_.value_ = value
    if whole:
        model.integrality_ = [highspy.HighsVarType.kInteger] * cost.size
    if solver.passModel(model) == highspy.HighsStatus.kError:
        raise RuntimeError("the solver refused the model; this is a fault of the program")


def _run(solver: highspy.Highs) -> highspy.HighsModelStatus:
    status = solver.run()
    said = solver.getModelStatus()
    return _STATUS.kSolveError if status == highspy.HighsStatus.kError else said

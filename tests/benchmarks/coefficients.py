"""Changes each published coefficient in its third digit and reports those that no test notices.

    python tests/benchmarks/coefficients.py [MODULE ...]

A module's coefficients are the numbers written in its top-level assignments to names in capitals. Each in turn is put
up by one in its third significant digit (3.74 to 3.75, 0 to 0.001), the module's code is run anew in place, and its
tests run until one fails. Exit 0 where every change is noticed, 1 where one is not. A line that ends in
"# not a coefficient" is passed over, and so are the names listed with the module: steps, ends of a range and codes.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import io
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Target:
    """A module, its tests (quickest first) and the names whose numbers are no coefficients. package: where it lies."""

    module: str
    tests: tuple[str, ...]
    passed_over: frozenset[str] = frozenset()
    package: str = "advisor.physics"


TARGETS = (
    Target("sun", ("test_sun.py",), frozenset({"EARLIEST_S", "LATEST_S", "DAY_S", "_EPOCH", "_STEP_S", "_FRACTIONS"})),
    Target("moon", ("test_moon.py",), frozenset({"DELTA_T_S"})),  # a rounded mean of a century
    Target("light", ("test_light.py",)),
    Target("moisture", ("test_moisture.py",), frozenset({"_ROUNDING"})),
    Target("wind", ("test_wind.py",)),
    Target("exposure", ("test_exposure.py",)),
    Target("sky", ("test_surface.py",)),
    Target("balance", ("test_surface.py",)),
    Target("convection", ("test_surface.py",)),
    Target("surface", ("test_surface.py",)),
    Target("frost", ("test_surface.py",)),
    Target("snow", ("test_snow.py",), frozenset({"VERY_LIGHT", "LIGHT", "MODERATE", "HEAVY"})),
    Target("precipitation", ("test_precipitation.py",)),
    Target("deposits", ("test_deposits.py",)),
    *(
        Target(module, ("../glue/test_derived_columns.py",), package="advisor.physics.stages")
        for module in ("skin", "falling", "ground", "wind")
    ),
    Target("lying", ("../glue/test_lying_by_hand.py",)),
    Target("treatment", ("../glue/test_treatment_by_hand.py", "test_precipitation.py")),
    Target("ended", ("../glue/test_ended_by_hand.py",), package="advisor.outlook"),
    Target(
        "cases",
        ("../glue/test_stations_by_hand.py", "../glue", "../test_outlook.py"),
        frozenset({"BASE_CASES", "MOST_CASES", "MOST_LANES"}),
        "advisor.outlook",
    ),
    # reports come in whole minutes: 2 h and 2 h 0.6 min are the same, and so are the limits of stations
    Target("gaps", ("../glue/test_gaps_by_hand.py",), frozenset({"WEATHER_HOLDS_S"}), "advisor.outlook"),
    Target("lanes", ("../glue/test_lanes_by_hand.py",), package="advisor.outlook"),
    Target("build", ("../glue/test_outlook_columns.py", "../glue", "../test_outlook.py"), package="advisor.outlook"),
    # where the sun moves so little both ways of joining two temperatures agree
    Target("temperature", ("../glue/test_temperature_columns.py",), frozenset({"LEAST_COURSE"}), "advisor.outlook"),
    # the high end of few, scattered and broken cloud is never below 7/8, whatever the word's own; each word has a test
    Target("track", ("../glue/test_cloud_and_states.py",), frozenset({"COVERS", "SEVERITY"}), "advisor.outlook"),
)


@dataclass(frozen=True)
class Coefficient:
    """One number in the source: where it stands and what it is."""

    name: str
    line: int
    start: int
    end: int
    value: float

    def changed(self) -> float:
        """The value with its third significant digit one higher."""
        if self.value == 0:
            return 0.001
        return self.value + 10.0 ** (math.floor(math.log10(abs(self.value))) - 2)


def coefficients(source: str, passed_over: frozenset[str]) -> Iterator[Coefficient]:
    """Every number in a top-level assignment to a name in capitals."""
    lines = source.encode().splitlines(keepends=True)
    starts = [sum(len(line) for line in lines[:row]) for row in range(len(lines))]
    for statement in ast.parse(source).body:
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or statement.value is None:
            continue
        targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
        names = [node.id for target in targets for node in ast.walk(target) if isinstance(node, ast.Name)]
        if not all(name.isupper() for name in names) or passed_over & set(names):
            continue
        for node in ast.walk(statement.value):
            if not isinstance(node, ast.Constant) or isinstance(node.value, bool | str | None):
                continue
            if lines[node.lineno - 1].rstrip().endswith(b"# not a coefficient"):
                continue
            start = starts[node.lineno - 1] + node.col_offset
            end = starts[node.end_lineno - 1] + node.end_col_offset
            yield Coefficient(names[0], node.lineno, start, end, float(node.value))


def run(module: ModuleType, source: bytes, tests: list[str]) -> bool:
    """Whether the tests pass with the module's code replaced by this source."""
    # functions that others hold see the new numbers too: their globals are this dictionary
    exec(compile(source, str(module.__file__), "exec"), module.__dict__)
    output = io.StringIO()
    with contextlib.redirect_stdout(output), contextlib.redirect_stderr(output):
        code = pytest.main(["-x", "-q", "--no-header", "-p", "no:cacheprovider", "--hypothesis-seed=1", *tests])
    return code == pytest.ExitCode.OK


def unguarded(target: Target) -> tuple[int, list[Coefficient]]:
    """How many coefficients a module has, and those whose change no test notices."""
    module = importlib.import_module(f"{target.package}.{target.module}")
    before = dict(module.__dict__)
    source = Path(str(module.__file__)).read_bytes()
    tests = [str(ROOT / "tests" / "physics" / name) for name in target.tests]
    if not run(module, source, tests):
        raise SystemExit(f"{target.module}: its tests fail before anything is changed")
    found = list(coefficients(source.decode(), target.passed_over))
    survivors = []
    for one in found:
        changed = source[: one.start] + repr(one.changed()).encode() + source[one.end :]
        if run(module, changed, tests):
            survivors.append(one)
    # the same classes again, which others hold too
    module.__dict__.clear()
    module.__dict__.update(before)
    return len(found), survivors


def main(names: list[str]) -> int:
    """Report every module named, or all."""
    missed = 0
    for target in TARGETS:
        if names and target.module not in names:
            continue
        count, survivors = unguarded(target)
        print(f"{target.module}: {count} coefficients, {len(survivors)} unguarded", flush=True)
        for one in survivors:
            print(f"  line {one.line}: {one.name}: {one.value:g} to {one.changed():g} is not noticed", flush=True)
        missed += len(survivors)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

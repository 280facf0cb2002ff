"""Which lines of the package each test reaches, and how long it takes: what mutants.py chooses tests by.

Each test file runs once in a process of its own, so that nothing that another one has loaded or kept hides what it
reaches. What was found is kept for the same test file and the same sources, and can be had again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Generator, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import coverage
import pytest

ROOT = Path(__file__).parents[2]
# golden outputs notice any change and say nothing of whether it is wrong; the others are of the README, of the corpus,
# of a browser, or long
LEFT_OUT = (
    "test_samples.py",
    "test_conventions.py",
    "test_cli.py",
    "test_stranger.py",
    "test_claims.py",
    "test_docs.py",
    "test_manual.py",
    "test_browser.py",
    "test_walk_browser.py",
    "test_kills.py",
    "test_flights.py",
    "test_package.py",
    "test_second_reader_parts.py",
    "test_corpus.py",
    "test_taf_corpus.py",
)
# a database server of its own would cost more than it notices here
OPTIONS = [
    "-x",
    "-q",
    "-k",
    "not postgres",
    "--no-header",
    "--tb=line",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:xdist",
    "-o",
    "filterwarnings=",
]
# a test file that takes longer has no place here
LONGEST_S = 900.0


@dataclass(frozen=True)
class OneTest:
    """One test: its name, seconds, those of the processor, and the lines it reaches by source file, a bit for each."""

    name: str
    seconds: float
    work_s: float
    lines: dict[str, int]


@dataclass(frozen=True)
class Reach:
    """What a test file reaches: lines by source file, and seconds. lines: {} where it fails or takes too long."""

    file: str
    seconds: float
    lines: dict[str, frozenset[int]]
    tests: tuple[OneTest, ...] = ()

    def reaching(self, file: str, lines: Iterable[int]) -> tuple[frozenset[str], float]:
        """The tests that reach one of the lines of a source themselves, and the seconds that they take."""
        wanted = sum(1 << line for line in set(lines))
        tests = [one for one in self.tests if one.lines.get(file, 0) & wanted]
        return frozenset(one.name for one in tests), sum(one.seconds for one in tests)


def test_files(wanted: Iterable[str]) -> list[str]:
    """Test files of files and folders below tests/, in the order given, each once."""
    found: dict[str, None] = {}
    for name in wanted:
        path = ROOT / "tests" / name
        for one in sorted(path.glob("test_*.py")) if path.is_dir() else [path]:
            if one.name not in LEFT_OUT and one.is_file():
                found[one.relative_to(ROOT).as_posix()] = None
    return list(found)


def begin(checkout: str, output: str) -> None:
    """Make this process, a fork, one that runs tests in a checkout and prints into a file."""
    os.setsid()
    os.chdir(checkout)
    sys.path[:0] = [checkout]
    os.environ["PYTHONPATH"] = checkout
    sys.dont_write_bytecode = True
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    stream = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(stream, 1)
    os.dup2(stream, 2)


class _Noting:
    """A plugin of pytest that tells coverage which test runs, and notes how long each took."""

    def __init__(self, watch: coverage.Coverage) -> None:
        self.watch, self.seconds = watch, {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        began, work = time.monotonic(), time.process_time()
        self.watch.switch_context(item.nodeid)
        try:
            return (yield)
        finally:
            self.watch.switch_context("")
            self.seconds[item.nodeid] = time.monotonic() - began, time.process_time() - work


def _measure(checkout: str, test: str, output: str, data: str) -> None:
    begin(checkout, output)
    watch = coverage.Coverage(data_file=data, source=[f"{checkout}/advisor"], config_file=False)
    noting = _Noting(watch)
    watch.start()
    code = pytest.main([*OPTIONS, "--hypothesis-seed=1", test], plugins=[noting])
    watch.stop()
    watch.save()
    Path(f"{data}.json").write_text(json.dumps(noting.seconds), encoding="utf-8")
    sys.stdout.flush()
    os._exit(int(code))


def waited(target: object, given: tuple[object, ...], limit_s: float) -> tuple[int | None, float]:
    """Run a function in a fork: its exit status, None where it took too long, and seconds."""
    began = time.monotonic()
    process = multiprocessing.get_context("fork").Process(target=target, args=given)  # type: ignore[arg-type]
    process.start()
    process.join(limit_s)
    late = process.is_alive()
    with contextlib.suppress(ProcessLookupError):
        # the child leads a group of its own, which holds what its tests have started
        if late and process.pid is not None:
            os.killpg(process.pid, signal.SIGKILL)
    process.join()
    return None if late else process.exitcode, time.monotonic() - began


def _reach(checkout: Path, test: str) -> Reach:
    data = checkout / "reached.data"
    data.unlink(missing_ok=True)
    code, seconds = waited(_measure, (str(checkout), test, str(checkout / "output.txt"), str(data)), LONGEST_S)
    if code != 0:
        print(f"  left out: {test} ({'too long' if code is None else 'does not pass'})", flush=True)
        return Reach(test, seconds, {})
    found = coverage.CoverageData(str(data))
    found.read()
    lines: dict[str, frozenset[int]] = {}
    own: dict[str, dict[str, int]] = {}
    for name in found.measured_files():
        with contextlib.suppress(ValueError):
            file = Path(name).relative_to(checkout).as_posix()
            lines[file] = frozenset(found.lines(name) or ())
            for line, contexts in found.contexts_by_lineno(name).items():
                for context in contexts:
                    at = own.setdefault(context, {})
                    at[file] = at.get(file, 0) | 1 << line
    took = json.loads(Path(f"{data}.json").read_text(encoding="utf-8"))
    return Reach(test, seconds, lines, tuple(OneTest(name, *took[name], own.get(name, {})) for name in took))


def _sum(file: str) -> str:
    return hashlib.sha256((ROOT / file).read_bytes()).hexdigest()[:16]


def _kept(test: str, said: dict[str, Any]) -> Reach:
    lines = {name: frozenset(at) for name, at in said["lines"].items()}
    tests = [OneTest(*one, {name: int(at, 16) for name, at in own.items()}) for *one, own in said.get("tests", ())]
    return Reach(test, said["seconds"], lines, tuple(tests))


def reached(checkout: Path, tests: Sequence[str], kept: Path, files: Sequence[str]) -> list[Reach]:
    """What each test file reaches in a checkout. kept: a folder where it is kept, for as long as files are the same."""
    kept.mkdir(parents=True, exist_ok=True)
    made = []
    for test in tests:
        file = kept / f"{test.replace('/', '-')}-{_sum(test)}.json"
        said = json.loads(file.read_text(encoding="utf-8")) if file.is_file() else {"sums": {}}
        if all(said["sums"].get(name) == _sum(name) for name in files):
            made.append(_kept(test, said))
            continue
        one = _reach(checkout, test)
        lines = {name: sorted(at) for name, at in one.lines.items()}
        tests = [
            [each.name, each.seconds, each.work_s, {name: hex(at) for name, at in each.lines.items()}]
            for each in one.tests
        ]
        # of a file that is not reached it is known as well
        sources = [path.relative_to(ROOT).as_posix() for path in (ROOT / "advisor").rglob("*.py")]
        sums = {name: _sum(name) for name in sources}
        said = {"seconds": one.seconds, "lines": lines, "tests": tests, "sums": sums}
        file.write_text(json.dumps(said), encoding="utf-8")
        made.append(one)
        print(f"  {test}: {one.seconds:.0f} s", flush=True)
    return made

"""Edits a package's sources on purpose, one edit at a time, and reports which edits no test notices.

    python tests/benchmarks/mutants.py [--package NAME] [--count N] [--seed N] [--only FILE] [--tests FILE ...]
        [--most S] [--minutes M]

Mutants are sampled with a fixed seed from all places of a package (see mutations.py), --count a package; --only takes
those of one file and every place of it counts. Each is written into a copy of the project under the temporary folder,
never into the checkout, and the test files that reach its line (reached.py) run there until one test fails: first the
tests that come to the line themselves, the quickest file first, then the others of these files. No golden files, no
README, no corpus of real reports, no browser, no PostgreSQL.
A run may be stopped, or end after --minutes: what became of a mutant is kept in .mutants/ and holds for the same
source, of a survivor for the same tests. What is found goes into MUTANTS.md, a section a package; with --only it is
printed.
A survivor listed in equivalents.toml with a reason is no fault of the tests and is counted apart; one that is left
there with a word still counts.
Exit 0 where every package reaches the share that is asked for, 1 where one does not.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import hashlib
import importlib
import json
import math
import os
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import Phase, settings
from mutations import Mutation, apply, mutations
from reached import OPTIONS, Reach, begin, reached, test_files, waited

ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("MUTANTS.md")
EQUIVALENTS = Path(__file__).with_name("equivalents.toml")
KEPT = Path(__file__).with_name(".mutants")
COUNT, SEED, LIMIT_S, WANTED = 300, 10, 90.0, 0.85
# of the test files that reach a mutant, so many seconds' worth run
MOST_S = 150.0
# seconds of the processor that a test may take at least
LEAST_WORK_S = 20.0
# loaded once, before any copy is: what the tests import and is not under test
PRELOADED = (
    *("numpy", "scipy", "hypothesis", "msgspec", "metar.Metar", "pint", "requests", "click", "astral", "highspy"),
    *("pyarrow", "pyarrow.csv", "pyarrow.parquet", "pyarrow.compute", "litestar", "litestar.testing", "uvicorn"),
    *("sqlalchemy", "alembic", "jinja2", "PIL.Image", "httpx", "rfc8785"),
)


@dataclass(frozen=True)
class Package:
    """Files under advisor/, and the test files and folders below tests/ that may bear on them."""

    files: tuple[str, ...]
    tests: tuple[str, ...]


EVERYWHERE = ("glue", "truth", "series", "test_outlook.py")
PACKAGES = {
    "physics": Package(("physics/**/*.py",), ("physics", *EVERYWHERE)),
    "outlook": Package(("outlook/*.py",), EVERYWHERE),
    "checklist": Package(
        ("checklist/**/*.py",),
        (
            *("checklist", "glue", "truth", "properties/test_laws_between_quantities.py"),
            # the desk's print and its form
            *("render/test_manual.py", "web/test_edit.py", "web/test_desk_pages.py"),
        ),
    ),
    "report": Package(("report/**/*.py", "feeds/*.py", "places.py"), ("report", *EVERYWHERE)),
    "brief": Package(
        ("brief/*.py",),
        (
            *EVERYWHERE,
            "render",
            "checklist",
            "test_departure.py",
            "test_watch.py",
            "brief",
            "properties/test_what_every_brief_holds.py",
        ),
    ),
    "slots": Package(("slots/**/*.py",), ("slots", "glue/test_slots_by_hand.py", "web/test_board.py")),
    "archive": Package(("archive/*.py",), ("archive",)),
    "record": Package(
        ("record/**/*.py",),
        ("record", "web/test_walk_api.py", "web/test_walk_page.py", "web/test_who.py", "web/test_attacks.py"),
    ),
    "web": Package(("web/*.py",), ("web",)),
}


@dataclass(frozen=True)
class Mutant:
    """One mutation of one file, and the source line that it stands in."""

    file: str
    mutation: Mutation
    code: str


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant: killed, survived, timed out, or equivalent; the first test that failed; seconds."""

    mutant: Mutant
    what: str
    by: str
    seconds: float


def files_of(package: Package) -> list[Path]:
    """The package's sources in the checkout, in order."""
    return sorted({path for pattern in package.files for path in (ROOT / "advisor").glob(pattern)})


def sample(package: Package, count: int, seed: int, only: str | None) -> list[Mutant]:
    """Mutants of a package, drawn from all its places with a fixed seed.

    Each has its place in the order by its own line: an edit elsewhere neither brings it in nor takes it out.
    """
    found = []
    for path in files_of(package):
        if only is not None and path.name != Path(only).name:
            continue
        source = path.read_text(encoding="utf-8")
        lines = source.splitlines()
        name = path.relative_to(ROOT).as_posix()
        found += [Mutant(name, one, lines[one.line - 1].strip()) for one in mutations(source, f"{seed} {name}")]
    # in an order of chance: a run that is cut short has tried a fair sample, and a larger one holds a smaller one
    return sorted(found, key=lambda one: (_lot(one, seed), one.mutation.start))[:count]


def _lot(one: Mutant, seed: int) -> bytes:
    return hashlib.sha256(f"{seed} {one.file} {one.code} {one.mutation.change}".encode()).digest()


@dataclass(frozen=True)
class Part:
    """Tests of one file that run together: those of these names, or all but those. A plugin of pytest.

    seconds: what they took before; work_s: that of the processor, by test.
    """

    file: str
    names: frozenset[str]
    these: bool
    seconds: float
    work_s: dict[str, float]

    def pytest_configure(self) -> None:
        """Let a drawn example that fails be: nobody reads it."""
        phases = set(Phase) - {Phase.shrink, Phase.explain, Phase.reuse}
        settings.register_profile("as it is drawn", settings.get_profile("project"), phases=phases)
        settings.load_profile("as it is drawn")

    def pytest_collection_modifyitems(self, config: pytest.Config, items: list[pytest.Item]) -> None:
        """Leave the tests of this part."""
        left = [item for item in items if (item.nodeid in self.names) != self.these]
        items[:] = [item for item in items if (item.nodeid in self.names) == self.these]
        config.hook.pytest_deselected(items=left)

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """End the process when a test goes on and on, by its own work: how busy the machine is does not matter."""
        most = time.process_time() + max(LEAST_WORK_S, 4 * self.work_s.get(item.nodeid, 0.0))
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(most), resource.RLIM_INFINITY))


def parts_for(one: Mutant, reach: Sequence[Reach], most_s: float) -> list[Part]:
    """What runs for a mutant, in order, up to so many seconds: first the tests that come to its line, then the others.

    What is kept from one test to the next, or a process of their own, may take those there all the same.
    """
    lines = statement(one)
    near = [each for each in reach if each.lines.get(one.file, frozenset()) & lines]
    near.sort(key=lambda each: each.seconds / len(each.lines[one.file]))
    first, others = [], []
    for each in near:
        names, seconds = each.reaching(one.file, lines)
        work_s = {test.name: test.work_s for test in each.tests}
        first += [Part(each.file, names, True, seconds, work_s)] if names else []
        others.append(Part(each.file, names, False, each.seconds - seconds, work_s))
    made, total = [], 0.0
    for part in (*sorted(first, key=lambda part: part.seconds), *others):
        if not made or total + part.seconds <= most_s:
            made.append(part)
            total += part.seconds
    return made


@lru_cache(maxsize=512)
def _statements(file: str) -> tuple[tuple[int, int], ...]:
    """First and last line of every statement of a source, of one with a body of its head alone."""
    found = []
    for node in ast.walk(ast.parse((ROOT / file).read_text(encoding="utf-8"))):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            last = max(node.lineno, body[0].lineno - 1) if body else node.end_lineno or node.lineno
            found.append((node.lineno, last))
    return tuple(found)


def statement(one: Mutant) -> frozenset[int]:
    """The lines of the smallest statement that a mutant stands in."""
    line = one.mutation.line
    around = [(last - first, first, last) for first, last in _statements(one.file) if first <= line <= last]
    _, first, last = min(around, default=(0, line, line))
    return frozenset(range(first, last + 1))


def copied(folder: Path) -> Path:
    """A copy of what the tests need, under a folder of its own; no corpus lies beside it."""
    for name in ("advisor", "tests", "sample_reports"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "*.pyc"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def _child(checkout: str, parts: Sequence[Part], output: str) -> None:
    begin(checkout, output)
    code = 0
    for part in parts:
        code = int(pytest.main([*OPTIONS, "--hypothesis-seed=1", part.file], plugins=[part]))
        if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
            break
        code = 0
    sys.stdout.flush()
    os._exit(code)


def tried(checkout: Path, parts: Sequence[Part], limit_s: float) -> tuple[str, str, float]:
    """Run the tests in a checkout: killed, survived or timed out; the test that failed first; seconds."""
    output = checkout / "output.txt"
    code, seconds = waited(_child, (str(checkout), parts, str(output)), limit_s)
    if code in (None, -signal.SIGXCPU):
        return "timed out", "", seconds
    if code == 0:
        return "survived", "", seconds
    said = output.read_text(encoding="utf-8", errors="replace")
    first = re.search(r"^(?:FAILED|ERROR) (\S+)", said, re.MULTILINE)
    return "killed", first[1] if first else "could not be loaded", seconds


def _sum(*files: str) -> str:
    made = hashlib.sha256()
    for file in files:
        made.update((ROOT / file).read_bytes())
    return made.hexdigest()[:16]


class Known:
    """What became of mutants before: killed for the same source, survived for the same tests as well."""

    def __init__(self, file: Path) -> None:
        self._file, self._rows = file, {}
        for line in file.read_text(encoding="utf-8").splitlines() if file.is_file() else []:
            row = json.loads(line)
            self._rows[tuple(row["of"])] = row

    def _of(self, one: Mutant) -> tuple[object, ...]:
        return one.file, _sum(one.file), one.mutation.start, one.mutation.end, one.mutation.text

    def get(self, one: Mutant, tests: Sequence[str], of_any: bool) -> Outcome | None:
        """What became of a mutant. of_any: of a survivor whatever tests it survived, not these alone."""
        row = self._rows.get(self._of(one))
        if row is None or (row["what"] == "survived" and not of_any and row["tests"] != _sum(*tests)):
            return None
        return Outcome(one, row["what"], row["by"], row["seconds"])

    def keep(self, found: Outcome, tests: Sequence[str]) -> None:
        said = {"of": self._of(found.mutant), "tests": _sum(*tests), "what": found.what}
        self._file.parent.mkdir(exist_ok=True)
        with self._file.open("a", encoding="utf-8") as out:
            out.write(json.dumps({**said, "by": found.by, "seconds": round(found.seconds, 1)}) + "\n")


def run(package: Package, mutants: Sequence[Mutant], asked: argparse.Namespace, known: Known) -> list[Outcome]:
    """Try the mutants of which nothing is known, until the time is up; print each as it ends, and give all outcomes."""
    why, made = equivalents(), []
    reasoned = why | equivalents("left")
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        # one deeper, so that nothing that lies beside the temporary folder is beside the copy
        checkout = copied(Path(folder) / "checkout")
        files = [path.relative_to(ROOT).as_posix() for path in files_of(package)]
        reach = reached(checkout, test_files(asked.tests or package.tests), KEPT, files)
        until = time.monotonic() + 60 * asked.minutes
        for number, one in enumerate(mutants, 1):
            parts = parts_for(one, reach, asked.most)
            tests = list(dict.fromkeys(part.file for part in parts))
            late = time.monotonic() > until
            # what survived and has a reason is not tried again; what has none stays a survivor until there is time
            found = known.get(one, tests, late or key(one) in reasoned)
            if found is None and late:
                continue
            if found is None:
                if parts:
                    path = checkout / one.file
                    path.write_text(apply(path.read_text(encoding="utf-8"), one.mutation), encoding="utf-8")
                    # what would survive must not be taken for one that hangs
                    limit_s = max(LIMIT_S, 2.5 * sum(part.seconds for part in parts))
                    found = Outcome(one, *tried(checkout, parts, limit_s))
                    shutil.copy2(ROOT / one.file, path)
                else:
                    found = Outcome(one, "survived", "no test comes here", 0.0)
                known.keep(found, tests)
                where = f"{one.file}:{one.mutation.line}"
                said = f"{found.what:9} {found.seconds:5.1f} s  {where}  {one.mutation.change}  {found.by}"
                print(f"  {number}/{len(mutants)} {said}", flush=True)
            if found.what == "survived" and key(one) in why:
                found = Outcome(one, "equivalent", why[key(one)], found.seconds)
            made.append(found)
    return sorted(made, key=lambda one: (one.mutant.file, one.mutant.mutation.start))


def key(one: Mutant) -> str:
    """What a mutant is known by when lines move: its file, its line's text and the change."""
    return f"{Path(one.file).name} | {one.code} | {one.mutation.change}"


def equivalents(table: str = "equivalent") -> dict[str, str]:
    """Why a survivor changes nothing that anybody could see, by key; table "left": what is said of one that does."""
    if not EQUIVALENTS.exists():
        return {}
    rows = tomllib.loads(EQUIVALENTS.read_text(encoding="utf-8")).get(table, [])
    return {f"{row['file']} | {row['code']} | {row['change']}": row["why"] for row in rows}


def rate(outcomes: Sequence[Outcome]) -> float:
    """Share of those that could be noticed which were: killed or timed out."""
    counted = [one for one in outcomes if one.what != "equivalent"]
    return sum(one.what != "survived" for one in counted) / len(counted) if counted else 1.0


def section(name: str, outcomes: Sequence[Outcome], seed: int, day: str) -> str:
    """A package's part of MUTANTS.md. day: when it was written."""
    left = equivalents("left")
    numbers = {
        what: sum(one.what == what for one in outcomes) for what in ("killed", "timed out", "equivalent", "survived")
    }
    lines = [
        f"## {name}",
        "",
        f"{day}, {len(outcomes)} of the {COUNT} mutants of seed {seed} tried: {rate(outcomes):.0%} noticed. "
        + ", ".join(f"{count} {what}" for what, count in numbers.items())
        + ".",
        "",
        "| file | mutants | noticed |",
        "|---|---|---|",
    ]
    for file in dict.fromkeys(one.mutant.file for one in outcomes):
        here = [one for one in outcomes if one.mutant.file == file and one.what != "equivalent"]
        lines.append(f"| {file} | {len(here)} | {sum(one.what != 'survived' for one in here)} |")
    for what, title in LISTED.items():
        rows = [one for one in outcomes if one.what == what]
        if rows:
            lines += ["", title, ""]
            words = [left.get(key(one.mutant)) or one.by for one in rows]
            lines += [_row(one.mutant) + (f" ({said})" if said else "") for one, said in zip(rows, words, strict=True)]
    return "\n".join(lines) + "\n"


# what is listed one by one in a section, under which title
LISTED = {"survived": "Survivors:", "timed out": "Timed out:", "equivalent": "Change nothing:"}


def _row(one: Mutant) -> str:
    return f"- `{one.file}:{one.mutation.line}` `{one.mutation.change}`"


HEAD = """# Edits that no test notices

Written by `python tests/benchmarks/mutants.py` (there: what is edited, and which tests run). Golden files, README, the
corpus of real reports and what needs a browser or PostgreSQL take no part. Noticed: killed or timed out, of those that
are not equivalent (`equivalents.toml` says why they are). At least 85 % is asked for, of 300 mutants a package; where
fewer were tried they are the first of those 300, in an order of chance.
"""


def write(sections: dict[str, str]) -> None:
    """Put sections into MUTANTS.md; those of other packages stay."""
    old = TABLE.read_text(encoding="utf-8") if TABLE.exists() else ""
    parts = {part.splitlines()[0]: f"## {part}" for part in old.split("\n## ")[1:]}
    parts = {name: text.rstrip("\n") + "\n" for name, text in (parts | sections).items()}
    ordered = [parts[name] for name in dict.fromkeys((*PACKAGES, *parts)) if name in parts]
    TABLE.write_text("\n".join([HEAD, *ordered]), encoding="utf-8")


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--package", choices=PACKAGES, action="append", help="default: all")
    parser.add_argument("--count", type=int, default=COUNT, help="mutants a package")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--only", help="one file of the packages; printed, not written to MUTANTS.md")
    parser.add_argument("--tests", nargs="+", help="these alone, below tests/: fewer can only notice less")
    parser.add_argument("--most", type=float, default=MOST_S, help="seconds of tests a mutant; fewer notice less")
    parser.add_argument("--minutes", type=float, default=1e6, help="for each package, after which no other is tried")
    return parser.parse_args(given)


def main(given: Sequence[str] | None = None) -> int:
    """Run what was asked for."""
    asked = _arguments(given)
    for name in PRELOADED:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    if "advisor" in sys.modules:
        raise SystemExit("advisor is loaded already: a copy could not take its place")
    worst, known = 1.0, Known(KEPT / "outcomes.jsonl")
    for name in asked.package or PACKAGES:
        mutants = sample(PACKAGES[name], asked.count, asked.seed, asked.only)
        if not mutants:
            continue
        print(f"{name}: {len(mutants)} mutants", flush=True)
        outcomes = run(PACKAGES[name], mutants, asked, known)
        said = section(name, outcomes, asked.seed, f"{datetime.now(UTC):%d %B %Y}")
        if asked.tests is not None:
            said += f"\nOf the tests that may bear on it these ran alone: {', '.join(asked.tests)}.\n"
        if asked.most < MOST_S:
            said += f"\nFor each mutant ran {asked.most:.0f} seconds' worth of tests, not {MOST_S:.0f}.\n"
        print(said, flush=True)
        worst = min(worst, rate(outcomes))
        if asked.only is None:
            write({name: said})
    return 0 if worst >= WANTED else 1


if __name__ == "__main__":
    sys.exit(main())

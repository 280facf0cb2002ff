"""Edits a package's sources on purpose, one edit at a time, and reports which edits no test notices.

    python tests/benchmarks/mutants.py [--package NAME] [--count N] [--seed N] [--only FILE] [--again] [--jobs 1|2]

Mutants are sampled with a fixed seed from all places of a package (see mutations.py), --count a package; --only takes
those of one file and every place of it counts; --again tries the survivors of MUTANTS.md once more, the others count
as they did (for the same sources, seed and count). Each is written into a copy of the project under the temporary
folder, never into the checkout, and the tests that bear on the file run there until one fails: no golden files, no
README, no corpus of real reports. What is found goes into MUTANTS.md, a section a package; with --only it is printed.
A survivor listed in equivalents.toml with a reason is no fault of the tests and is counted apart; one that is left
there with a word still counts.
Exit 0 where every package reaches the share that is asked for, 1 where one does not.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import multiprocessing
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from mutations import Mutation, apply, mutations

ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("MUTANTS.md")
EQUIVALENTS = Path(__file__).with_name("equivalents.toml")
COUNT, SEED, LIMIT_S, WANTED = 60, 10, 90.0, 0.85
# loaded once, before any copy is: what the tests import and is not under test
PRELOADED = ("numpy", "hypothesis", "msgspec", "metar.Metar", "pint", "requests", "click", "astral", "highspy")
# golden outputs: they notice any change, and say nothing of whether it is wrong
GOLDEN = ("test_samples.py", "test_conventions.py", "test_cli.py")


@dataclass(frozen=True)
class Package:
    """Files under advisor/ and the tests that bear on them, quickest first; nearer: tests that run first for a file."""

    files: tuple[str, ...]
    tests: tuple[str, ...]
    nearer: dict[str, tuple[str, ...]] = field(default_factory=dict)


def _nearest(files: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    return {name: tuple(tests.split()) for tests, names in files.items() for name in names}


PACKAGES = {
    "outlook": Package(
        ("outlook/*.py",),
        (
            "glue",
            "test_outlook.py",
            "truth",
            "series/test_history.py",
            "series/test_unfit_reports.py",
            "series/test_night_by_hand.py",
            "series/test_tonight.py",
        ),
    ),
    "physics": Package(
        ("physics/*.py",),
        ("glue", "test_outlook.py"),
        _nearest(
            {
                f"physics/test_{name}.py": (name,)
                for name in (
                    "deposits",
                    "exposure",
                    "light",
                    "moisture",
                    "moon",
                    "precipitation",
                    "snow",
                    "sun",
                    "wind",
                )
            }
            | {
                "physics/test_ahead.py": ("ahead", "ahead_tables"),
                "physics/test_ranges.py": ("ranges",),
                "physics/test_surface.py": ("balance", "sky", "convection", "surface", "frost"),
            }
        )
        | {
            "flags": ("physics/test_precipitation.py", "glue"),
            "derive": ("glue", "test_outlook.py", "series/test_history.py", "series/test_night_by_hand.py"),
            "lying": ("glue", "series/test_history.py", "series/test_night_by_hand.py", "truth"),
            "treatment": ("physics/test_precipitation.py", "glue", "truth"),
        },
    ),
    # what fell, lies and ended: parts of physics and of the outlook once more, in a sample of their own
    "derive": Package(
        (
            "physics/derive.py",
            "physics/stages/*.py",
            "physics/lying.py",
            "physics/treatment.py",
            "outlook/ended.py",
            "outlook/seen.py",
        ),
        ("glue", "test_outlook.py", "truth", "series/test_history.py", "series/test_night_by_hand.py"),
    ),
    "checklist": Package(
        ("checklist/**/*.py",),
        ("checklist/test_condition.py", "checklist", "glue"),
        {
            "aircraft": ("checklist/test_aircraft.py",),
            "compare": ("checklist/test_compare.py",),
            "evaluate": ("checklist/test_rule_evaluation.py",),
            "faults": ("checklist/test_faults.py",),
            "revision": ("checklist/test_revision.py",),
            "show": ("checklist/test_show.py",),
        },
    ),
    "report": Package(
        ("report/**/*.py", "places.py"),
        (
            "report/test_groups.py",
            "report/test_hand_picked.py",
            "report/test_decode.py",
            "report/test_reading_published.py",
            "report/test_bulletin.py",
            "report/test_reading_properties.py",
            "report/test_taf.py",
            "report/test_taf_prevailing.py",
            "test_outlook.py",
            "glue",
            "report/test_second_reader.py",
        ),
        _nearest(
            {
                "report/test_place.py": ("places",),
                "report/test_taf.py report/test_taf_prevailing.py report/test_taf_properties.py": (
                    "forecast",
                    "taf",
                    "taf_groups",
                    "times",
                    "stretch",
                ),
                "report/test_iwxxm.py report/test_iwxxm_hostile.py": (
                    "iwxxm",
                    "document",
                ),
            }
        ),
    ),
    "slots": Package(
        ("slots/**/*.py",),
        (
            "glue/test_slots_by_hand.py",
            "slots/test_files.py",
            "slots/test_stops_and_limits.py",
            "slots/test_sharing.py",
            "slots/test_output.py",
            "slots/test_replan.py",
            "slots/test_solver.py",
            "slots/test_command.py",
            "slots/test_exact.py",
            "slots/test_rehearse.py",
            "slots/test_actuals.py",
            "slots/test_honest_plan.py",
            "slots/test_every_plan.py",
        ),
    ),
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
    """Mutants of a package, drawn from all its places with a fixed seed; the same for the same sources."""
    found = []
    for path in files_of(package):
        if only is not None and path.name != Path(only).name:
            continue
        source = path.read_text(encoding="utf-8")
        lines = source.splitlines()
        name = path.relative_to(ROOT).as_posix()
        found += [Mutant(name, one, lines[one.line - 1].strip()) for one in mutations(source, f"{seed} {name}")]
    if len(found) > count:
        found = sorted(random.Random(seed).sample(found, count), key=lambda one: (one.file, one.mutation.start))
    return found


def tests_for(package: Package, file: str) -> list[str]:
    """Test files and folders that bear on a file, the nearest first, each once."""
    names = dict.fromkeys((*package.nearer.get(Path(file).stem, ()), *package.tests))
    return [f"tests/{name}" for name in names if (ROOT / "tests" / name).exists()]


def copied(folder: Path) -> Path:
    """A copy of what the tests need, under a folder of its own; no corpus lies beside it."""
    for name in ("advisor", "tests", "sample_reports"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "*.pyc"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def _child(checkout: str, tests: Sequence[str], output: str, compiles: bool) -> None:
    os.setsid()
    os.chdir(checkout)
    sys.path[:0] = [checkout]
    os.environ["PYTHONPATH"] = checkout
    # compiled files are told apart by second and size, and two mutants may share both: only the first run writes them
    if not compiles:
        sys.dont_write_bytecode = True
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    stream = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(stream, 1)
    os.dup2(stream, 2)
    ignored = [f"--ignore-glob=*/{name}" for name in GOLDEN]
    code = pytest.main(
        [
            "-x",
            "-q",
            "--no-header",
            "--tb=line",
            "-p",
            "no:cacheprovider",
            "--hypothesis-seed=1",
            "-o",
            "filterwarnings=",
            *ignored,
            *tests,
        ]
    )
    sys.stdout.flush()
    os._exit(int(code))


def tried(checkout: Path, tests: Sequence[str], limit_s: float, *, compiles: bool = False) -> tuple[str, str, float]:
    """Run the tests in a checkout: killed, survived or timed out; the test that failed first; seconds."""
    began = time.monotonic()
    output = checkout / "output.txt"
    # a fork: what PRELOADED names is loaded already, advisor is not
    given = (str(checkout), tests, str(output), compiles)
    process = multiprocessing.get_context("fork").Process(target=_child, args=given)
    process.start()
    process.join(limit_s)
    late = process.is_alive()
    with contextlib.suppress(ProcessLookupError):
        # the child leads a group of its own, which holds what its tests have started
        if late and process.pid is not None:
            os.killpg(process.pid, signal.SIGKILL)
    process.join()
    seconds = time.monotonic() - began
    if late:
        return "timed out", "", seconds
    if process.exitcode == 0:
        return "survived", "", seconds
    said = output.read_text(encoding="utf-8", errors="replace")
    first = re.search(r"^(?:FAILED|ERROR) (\S+)", said, re.MULTILINE)
    return "killed", first[1] if first else "could not be loaded", seconds


def run(package: Package, mutants: Sequence[Mutant], jobs: int, limit_s: float, why: dict[str, str]) -> list[Outcome]:
    """Try every mutant, one or two at a time, and print each as it ends."""
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        free = [copied(Path(folder) / str(job)) for job in range(jobs)]
        unchanged_s: dict[tuple[str, ...], float] = {}
        for tests in {tuple(tests_for(package, one.file)) for one in mutants}:
            for checkout in free:
                what, by, seconds = tried(checkout, tests, 10 * limit_s, compiles=True)
            if what != "survived":
                raise SystemExit(f"{by or what}: tests fail before anything is changed")
            unchanged_s[tests] = seconds
            print(f"  nothing changed: {len(tests)} files and folders, {seconds:.0f} s", flush=True)

        def attempt(numbered: tuple[int, Mutant]) -> Outcome:
            number, one = numbered
            checkout = free.pop()
            path = checkout / one.file
            source = path.read_text(encoding="utf-8")
            path.write_text(apply(source, one.mutation), encoding="utf-8")
            tests = tuple(tests_for(package, one.file))
            # what would survive must not be taken for one that hangs
            what, by, seconds = tried(checkout, tests, max(limit_s, 2.5 * unchanged_s[tests]))
            shutil.copy2(ROOT / one.file, path)
            free.append(checkout)
            if what == "survived" and key(one) in why:
                what, by = "equivalent", why[key(one)]
            where = f"{one.file}:{one.mutation.line}"
            print(
                f"  {number}/{len(mutants)} {what:9} {seconds:5.1f} s  {where}  {one.mutation.change}  {by}", flush=True
            )
            return Outcome(one, what, by, seconds)

        with ThreadPoolExecutor(jobs) as pool:
            return list(pool.map(attempt, enumerate(mutants, 1)))


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


def section(name: str, outcomes: Sequence[Outcome], seed: int) -> str:
    """A package's part of MUTANTS.md."""
    left = equivalents("left")
    numbers = {
        what: sum(one.what == what for one in outcomes) for what in ("killed", "timed out", "equivalent", "survived")
    }
    lines = [
        f"## {name}",
        "",
        f"{len(outcomes)} mutants, seed {seed}: {rate(outcomes):.0%} noticed. "
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
            words = [one.by or left.get(key(one.mutant), "") for one in rows]
            lines += [_row(one.mutant) + (f" ({said})" if said else "") for one, said in zip(rows, words, strict=True)]
    return "\n".join(lines) + "\n"


# what is listed one by one in a section, under which title
LISTED = {"survived": "Survivors:", "timed out": "Timed out:", "equivalent": "Change nothing:"}


def _row(one: Mutant) -> str:
    return f"- `{one.file}:{one.mutation.line}` `{one.mutation.change}`"


def before(name: str, mutants: Sequence[Mutant], seed: int) -> dict[Mutant, str]:
    """What MUTANTS.md says of each mutant of a package; refused where it was written of others."""
    text = TABLE.read_text(encoding="utf-8").split(f"\n## {name}\n")[1].split("\n## ")[0]
    found = {}
    for one in mutants:
        at = text.find(_row(one))
        titles = {text.rfind(title, 0, at): what for what, title in LISTED.items()} if at >= 0 else {}
        found[one] = titles[max(titles)] if titles else "killed"
    listed = sum(line.startswith("- ") for line in text.splitlines())
    others = sum(what != "killed" for what in found.values())
    if f"{len(mutants)} mutants, seed {seed}:" not in text or listed != others:
        raise SystemExit(f"{name}: MUTANTS.md was written of other mutants; run them all")
    return found


HEAD = """# Edits that no test notices

Written by `python tests/benchmarks/mutants.py` (there: what is edited, and which tests run). Golden files, README,
properties and the corpus of real reports take no part. Noticed: killed or timed out, of those that are not equivalent
(`equivalents.toml` says why they are). At least 85 % is asked for.
"""


def write(sections: dict[str, str]) -> None:
    """Put sections into MUTANTS.md; those of other packages stay."""
    old = TABLE.read_text(encoding="utf-8") if TABLE.exists() else ""
    parts = {part.splitlines()[0]: f"## {part}" for part in old.split("\n## ")[1:]}
    parts = {name: text.rstrip("\n") + "\n" for name, text in (parts | sections).items()}
    ordered = [parts[name] for name in PACKAGES if name in parts]
    TABLE.write_text("\n".join([HEAD, *ordered]), encoding="utf-8")


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--package", choices=PACKAGES, action="append", help="default: all")
    parser.add_argument("--count", type=int, default=COUNT, help="mutants a package")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--only", help="one file of the packages; printed, not written to MUTANTS.md")
    parser.add_argument("--again", action="store_true", help="the survivors of MUTANTS.md only")
    parser.add_argument("--jobs", type=int, choices=(1, 2), default=1)
    said = "seconds a mutant, at least 2.5 times what its tests take"
    parser.add_argument("--limit", type=float, default=LIMIT_S, help=said)
    return parser.parse_args(given)


def _asked(given: argparse.Namespace) -> Iterator[tuple[str, list[Mutant]]]:
    for name in given.package or PACKAGES:
        mutants = sample(PACKAGES[name], given.count, given.seed, given.only)
        if mutants:
            yield name, mutants


def main(given: Sequence[str] | None = None) -> int:
    """Run what was asked for."""
    asked = _arguments(given)
    for name in PRELOADED:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    if "advisor" in sys.modules:
        raise SystemExit("advisor is loaded already: a copy could not take its place")
    why = equivalents()
    sections, worst = {}, 1.0
    for name, mutants in _asked(asked):
        known = before(name, mutants, asked.seed) if asked.again else dict.fromkeys(mutants, "survived")
        tried_now = [one for one in mutants if known[one] == "survived"]
        print(f"{name}: {len(tried_now)} of {len(mutants)} mutants", flush=True)
        made = {one.mutant: one for one in run(PACKAGES[name], tried_now, asked.jobs, asked.limit, why)}
        outcomes = [made.get(one) or Outcome(one, known[one], why.get(key(one), ""), 0.0) for one in mutants]
        sections[name] = section(name, outcomes, asked.seed)
        print(sections[name], flush=True)
        worst = min(worst, rate(outcomes))
        if asked.only is None:
            write(sections)
    return 0 if worst >= WANTED else 1


if __name__ == "__main__":
    sys.exit(main())

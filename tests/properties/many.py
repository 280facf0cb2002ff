"""The seven properties over many random situations, each with its history and its forecast.

Run: python tests/properties/many.py [COUNT] [--seed S] [--property K] [--once|--one] [--start N] [--processes 1 or 2].
Situations are numbered, so a run can be made in parts: --start 3000 goes on after the first 3000. --property 8 compares
every line and door of each brief with a second, slow reading of the same columns (second.py), and nothing else. --once
tries each property in one way, drawn from its trials, and makes the second reading as well: less a situation, for more
of them; --one tries one of all these alone, and what is read off the same brief. Prints each kind of counterexample
once, reduced, the shortest first, and how often it was met; exit status 1 where there is any.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from random import Random
from typing import Literal

from drawn import night
from kept import Trial, trials
from reduced import key, pasted, reduced

from advisor.errors import AdvisorError

CHUNK = 25
SHOWN = 60
# the trials that make no brief of their own
READ_OFF = (3, 4, 5)
# how much is tried of a situation: every trial, one of each property, or one alone
Much = Literal["every", "once", "one"]
# seed, first situation, the one after the last, a property alone, how much
Part = tuple[int, int, int, int | None, Much]


@dataclass(frozen=True)
class Counterexample:
    """A situation in which a property does not hold. kind: the property, what was changed and what got lost."""

    number: int
    kind: tuple[int, str, str]
    text: str


def tried(seed: int, number: int, only: int | None, much: Much = "every") -> Iterator[tuple[Trial, list[str]]]:
    """The trials of one situation that were worth trying, each with what got lost.

    much: once has one trial of each property and the second reading, one has a single trial of them all.
    """
    one = night(seed, number)
    made = list(trials(one, Random(f"{seed}:{number}:trials"), only, again_too=much != "every"))
    if much != "every":
        rng = Random(f"{seed}:{number}:once")
        made = rng.sample(made, len(made))
        # a property with many trials is not tried the more often for that
        places = {at: rng.random() for at in range(1, 9)}
        made.sort(key=lambda trial: places[trial.number])
    had: set[int] = set()
    for trial in made:
        enough = trial.number in had if much == "once" else bool(had) and much == "one"
        # what is read off one and the same brief is always read
        if enough and trial.number not in READ_OFF:
            continue
        try:
            held = trial.of(one)
        except AdvisorError as error:
            # refused is no reassurance, but a situation that was made here should be read
            if "no group could be used" not in str(error):
                yield trial, [f"refused: {error}"]
            continue
        except Exception as error:
            yield trial, [f"raised {type(error).__name__}: {error}"]
            continue
        if not held.pointless and (only is None or trial.number == only):
            had |= {trial.number} - set(READ_OFF)
            yield trial, held.lost


def part(given: Part) -> tuple[int, Counter[str], list[tuple[int, tuple[int, str, str]]]]:
    """Situations from start to stop: how many, trials by title, and what does not hold by number and kind."""
    seed, start, stop, only, much = given
    tally: Counter[str] = Counter()
    found = []
    for number in range(start, stop):
        for trial, lost in tried(seed, number, only, much):
            tally[f"{trial.number} {trial.title}"] += 1
            found += [(number, (trial.number, trial.title, name)) for name in dict.fromkeys(map(key, lost))]
    return stop - start, tally, found


def shown(seed: int, number: int, kind: tuple[int, str, str], only: int | None, much: Much) -> Counterexample:
    """A counterexample, reduced."""
    one = night(seed, number)
    for trial in trials(one, Random(f"{seed}:{number}:trials"), only, again_too=much != "every"):
        if (trial.number, trial.title) != kind[:2]:
            continue
        try:
            if not any(key(line) == kind[2] for line in trial.of(one).lost):
                continue
            small, held = reduced(one, trial, kind[2])
        except Exception as error:
            return Counterexample(number, kind, f"P{kind[0]} {kind[1]}: {error}\n    " + "\n    ".join(one.texts))
        return Counterexample(number, kind, pasted(small, held, f"P{kind[0]} {kind[1]}"))
    return Counterexample(number, kind, f"P{kind[0]} {kind[1]} {kind[2]}\n    " + "\n    ".join(one.texts))


def run(
    count: int, seed: int, only: int | None, much: Much = "every", start: int = 0, processes: int = 1
) -> list[Counterexample]:
    """Counterexamples in count situations, one of each kind, the shortest first; says how far it is on the way."""
    began, done, tally = time.monotonic(), 0, Counter[str]()
    kinds: dict[tuple[int, str, str], list[int]] = {}
    parts = [(seed, at, min(at + CHUNK, start + count), only, much) for at in range(start, start + count, CHUNK)]
    with ProcessPoolExecutor(processes) as pool:
        for size, trials_made, found in pool.map(part, parts):
            done += size
            tally += trials_made
            for number, kind in found:
                kinds.setdefault(kind, []).append(number)
            took = time.monotonic() - began
            left_min = took / done * (count - done) / 60
            said = f"{done} of {count}, {sum(map(len, kinds.values()))} do not hold, {len(kinds)} kinds"
            print(f"{said}, {left_min:.0f} min left", file=sys.stderr, end="\r" if sys.stderr.isatty() else "\n")
    print(f"seed {seed}, {start} to {start + count}: {sum(tally.values())} trials in {took:.0f} s")
    for title, often in sorted(tally.items()):
        print(f"  {often:6d}  {title}")
    often_first = sorted(kinds, key=lambda kind: -len(kinds[kind]))
    for kind in often_first:
        print(f"  does not hold {len(kinds[kind])} times: P{kind[0]} {kind[1]}: {kind[2]} (such as {kinds[kind][:4]})")
    made: list[Counterexample] = []
    for kind in often_first:
        # a line that goes with another has been shown with it
        if len(made) < SHOWN and not any(kind[:2] == one.kind[:2] and kind[2] in one.text for one in made):
            made.append(shown(seed, kinds[kind][0], kind, only, much))
    return sorted(made, key=lambda one: len(one.text))


def main() -> int:
    """Run and print; 1 where any property does not hold."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", nargs="?", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=10)
    parser.add_argument("--property", type=int, choices=range(1, 9), dest="only")
    less = parser.add_mutually_exclusive_group()
    for name, said in ("once", "each property in one way, and the second reading"), ("one", "one of these alone"):
        less.add_argument(f"--{name}", action="store_const", const=name, dest="much", default="every", help=said)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--processes", type=int, choices=(1, 2), default=1)
    given = parser.parse_args()
    found = run(given.count, given.seed, given.only, given.much, given.start, given.processes)
    for one in found:
        print(f"\n#{one.number} {one.text}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())

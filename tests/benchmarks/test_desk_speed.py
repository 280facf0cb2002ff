"""How long the operator's desk takes: a ratio to reading the same TOML in the same run; figures are only printed."""

from __future__ import annotations

import time

import tomli

from advisor.checklist import aircraft, revision
from advisor.checklist.desk.check import check
from advisor.checklist.rules import compiled

# a check reads the folder and what lies below it, compiles each condition and looks at what it can reach
MOST = 250


def best(work, times=3):
    """Least processor time of several runs, s."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def read():
    for folder in (revision.SHIPPED, aircraft.SHIPPED):
        for path in folder.glob("*.toml"):
            tomli.loads(path.read_text(encoding="utf-8"))


def checked():
    compiled.cache_clear()
    assert not check(revision.SHIPPED, strict=True).faults


def test_a_check_of_all_shipped_rules_costs_a_bounded_multiple_of_reading_them():
    alone, whole = best(read), best(checked)
    print(f"\ncheck of the shipped folder: {whole:.2f} s, its TOML alone {alone:.3f} s, {whole / alone:.0f} fold (3 s)")
    assert whole <= MOST * alone

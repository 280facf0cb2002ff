"""How long the operator's desk takes beside one brief: ratios are checked, figures are only printed (pytest -s).

A brief takes about 14 ms on the machine of BENCHMARKS.md, so that the ratios below stand for 3 s and 5 s.
"""

from __future__ import annotations

import re
import shutil
import time
from functools import partial
from pathlib import Path

import pytest

from advisor import advise
from advisor.checklist import aircraft, revision
from advisor.checklist.desk import compare
from advisor.checklist.desk.manual import manual
from advisor.cli import desk
from advisor.render import manual as printed

REPORT = "METAR ZZZA 100520Z 29022G35KT 3000 -SN BKN012 M01/M02 Q1003"
ASKED = {"now": "2027-01-10T05:25:00Z", "off_block": "0640Z", "place": "61.4,9.8"}
# the first whole number of a condition
NUMBER = re.compile(r'^(when = ".*?)(-?\d+)(.*")$', re.M)
THREE_S, FIVE_S = 3000 / 14, 5000 / 14


def took(work, times=1):
    """Least processor time of several runs, ms."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append((time.process_time() - start) * 1000)
    return min(found)


@pytest.fixture(scope="module")
def one_brief() -> float:
    loaded = revision.load()
    advise(REPORT, checklist=loaded, **ASKED)
    return took(lambda: advise(REPORT, checklist=loaded, **ASKED), times=9)


def moved(match: re.Match[str]) -> str:
    """A condition whose first number is 4 higher, where it is 5 or more."""
    value = int(match[2])
    return f"{match[1]}{value + 4 if value >= 5 else value}{match[3]}"


@pytest.fixture(scope="module")
def altered(tmp_path_factory) -> Path:
    """What is shipped, copied whole, with a number of most conditions moved."""
    folder = tmp_path_factory.mktemp("desk") / "own"
    shutil.copytree(revision.SHIPPED, folder)
    shutil.copytree(aircraft.SHIPPED, folder / "aircraft")
    for path in folder.glob("*.toml"):
        if not path.name.startswith("pages"):
            text = NUMBER.sub(moved, path.read_text(encoding="utf-8"))
            path.write_text(text.replace('revision = "1"', 'revision = "2"'), encoding="utf-8")
    return folder


def test_two_whole_folders_are_compared_with_witnesses_in_the_time_of_some_briefs(altered, one_brief):
    found = []

    def work():
        old, new = desk.read("shipped"), desk.read(str(altered))
        found[:] = [compare.compare(old[0], new[0], desk.search(old, new).find)]

    spent = took(work)
    differing = [one for one in found[0].rules if one.change != "same"]
    shown = sum(one.report is not None for one in differing)
    print(f"\ncompare two whole folders: {spent:.0f} ms, {len(differing)} differences, {shown} with a report")
    print(f"  as long as {spent / one_brief:.0f} briefs of {one_brief:.1f} ms (aim: 3 s, {THREE_S:.0f} briefs)")
    assert len(differing) > 25 and shown > 15
    assert spent < THREE_S * one_brief


def test_coverage_takes_the_time_of_some_briefs(one_brief):
    spent = took(lambda: desk.coverage_of("shipped"))
    print(
        f"\ncoverage of what is shipped: {spent:.0f} ms, {spent / one_brief:.0f} briefs (aim: 5 s, {FIVE_S:.0f} briefs)"
    )
    assert spent < FIVE_S * one_brief


def test_a_print_takes_less_than_its_comparison(altered, one_brief):
    old, new = desk.read("shipped")[0], desk.read(str(altered))[0]
    told = manual(new, old)
    words, page, sheet = (took(partial(render, told), times=3) for render in RENDERS)
    print(f"\nprint: text {words:.0f} ms, HTML {page:.0f} ms, PDF {sheet:.0f} ms")
    assert words < 40 * one_brief and page < 40 * one_brief and sheet < THREE_S * one_brief


RENDERS = (printed.render_text, printed.render_html, printed.render_pdf)

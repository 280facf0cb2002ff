"""Files spoilt at random: read, or refused with a place for every fault; never anything else."""

from __future__ import annotations

import re

import pytest
from folders import HEAD, PROFILE, advice, write
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.checklist.aircraft import load_profiles
from advisor.checklist.revision import load_all
from advisor.errors import ChecklistError

RULES = (
    'remove = ["heat"]\n'
    + advice("one", classes='["glider"]', lead_min="30", kind='"request"', more='"{gust_kt} ä"', during='["parked"]')
    + '[advice.class.glider]\nweight = "should"\nwhen = "snow"\n[advice.page]\n'
    + 'does = "é"\nreferences = ["common-practice"]\n'
    + '[advice.fires]\nreport = "METAR"\nnow = "a"\noff_block = "b"\nheading = 3\n'
    + '[[source]]\nkey = "ours"\ntitle = "T"\n'
    + advice("two", source='"ours"', when="'''\nsnow and\n  gust_kt > 3'''")
)
PAGES = '[page.one]\ndoes = "x"\n[page.one.near_miss]\nreport = ["a", "b"]\nnow = "a"\noff_block = "b"\n'
FAULT = re.compile(r"^.+\.toml:[1-9]\d*:[1-9]\d*: \S.*: \S.*$")
VALUES = [
    "3",
    "-1",
    "1.5",
    "true",
    '""',
    '"é"',
    "[]",
    "[1]",
    '["a"]',
    "{}",
    "{a = 1}",
    "[[1]]",
    "[{}]",
    "2026-01-01",
    "nan",
    "'''\n'''",
    '"\\u0000"',
    "9" * 30,
    "1e400",
]


def spoil(text, edits):
    """Apply edits to lines: (kind, line, other line or value)."""
    lines = text.split("\n")
    for kind, at, other in edits:
        at %= len(lines)
        if kind == "drop":
            del lines[at]
            lines = lines or [""]
        elif kind == "double":
            lines.insert(at, lines[at])
        elif kind == "swap":
            other %= len(lines)
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == "value" and " = " in lines[at]:
            lines[at] = lines[at].split(" = ")[0] + " = " + VALUES[other % len(VALUES)]
        elif kind == "key" and " = " in lines[at]:
            lines[at] = lines[other % len(lines)].split(" = ")[0] + " = " + lines[at].split(" = ", 1)[1]
        elif kind == "cut":
            lines[at] = lines[at][: other % (len(lines[at]) + 1)]
    return "\n".join(lines)


edits = st.lists(
    st.tuples(
        st.sampled_from(["drop", "double", "swap", "value", "key", "cut"]), st.integers(0, 99), st.integers(0, 99)
    ),
    min_size=1,
    max_size=4,
)
often = settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def read(work):
    try:
        work()
    except ChecklistError as error:
        assert str(error)
        for line in error.faults:
            assert FAULT.match(line), line
            assert "Traceback" not in line


@pytest.fixture
def shipped(tmp_path):
    return write(tmp_path / "shipped", head=HEAD, rules=advice("torch") + advice("heat"))


@often
@given(edits)
def test_rules_spoilt_anywhere_are_read_or_refused_with_places(tmp_path, shipped, changes):
    folder = write(tmp_path / "own", own=spoil(RULES, changes), pages=PAGES)
    read(lambda: load_all(folder, shipped=shipped))


@often
@given(edits)
def test_pages_and_head_spoilt_anywhere_are_read_or_refused_with_places(tmp_path, shipped, changes):
    folder = write(tmp_path / "own", own=RULES, pages=spoil(PAGES, changes), head=spoil(HEAD, changes))
    read(lambda: load_all(folder, shipped=shipped))


@often
@given(edits)
def test_profiles_spoilt_anywhere_are_read_or_refused_with_places(tmp_path, changes):
    sector = "[[door.sector]]\nfrom_deg = 0\nto_deg = 9\noperate = '5 m/s'\nstay_open = 3\n"
    folder = write(tmp_path / "aircraft", own=spoil(PROFILE + sector, changes))
    read(lambda: load_profiles(shipped=folder))


@often
@given(st.binary(max_size=80))
def test_any_bytes_are_read_or_refused_with_places(tmp_path, shipped, content):
    folder = write(tmp_path / "own", own=content)
    read(lambda: load_all(folder, shipped=shipped))

"""The core is pure: it opens no file or socket, reads no clock and keeps nothing between two calls.

Two ways to the same end: every file of the core, and every file of ours that it leads to, is read for what it imports
and calls; and a brief is made while the interpreter itself reports what is opened.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parent.parent
CORE = (
    "advisor.errors",
    "advisor.sources",
    "advisor.quantities",
    "advisor.conditions",
    "advisor.departure",
    "advisor.report",
    "advisor.physics",
    "advisor.outlook",
    "advisor.brief",
    "advisor.checklist.language",
    "advisor.checklist.evaluate",
)
# all that the core may import besides itself; whatever is not here is refused, so that nothing slips in by a new name
LIBRARIES = frozenset(
    """
    __future__ abc ast bisect calendar collections copy dataclasses datetime difflib enum functools graphlib hashlib
    heapq itertools keyword math operator re statistics string struct textwrap types typing unicodedata xml zoneinfo
    numpy msgspec metar astral pint defusedxml
    """.split()  # noqa: SIM905
)
# of a library that does more only this part
PARTS = ("urllib.parse",)
BUILT_INS = frozenset(("open", "input", "print", "exec", "eval", "compile", "__import__", "breakpoint", "globals"))
# of paths, files, the clock, the process, chance; also as numpy has them
ATTRIBUTES = frozenset(
    """
    read_text read_bytes write_text write_bytes iterdir glob rglob is_file is_dir exists stat mkdir unlink rmdir touch
    rename resolve expanduser home cwd readlines writelines urlopen urlretrieve open
    utcnow today monotonic perf_counter process_time time_ns localtime gmtime mktime sleep
    environ getenv argv stdin stdout stderr random default_rng loadtxt savetxt genfromtxt fromfile tofile memmap
    """.split()  # noqa: SIM905
)
# a departure has a field of that name
CLOCKS = frozenset(("datetime.now", "datetime.datetime.now", "dt.datetime.now"))
# rooms that read files: no file of the core leads to one
READ_FILES = (
    "advisor.checklist.aircraft",
    "advisor.checklist.layers",
    "advisor.checklist.revision",
    "advisor.checklist.toml",
    "advisor.places",
)


def in_core(module: str) -> bool:
    return any(module == one or module.startswith(one + ".") for one in CORE)


def impure(tree: ast.AST) -> Iterator[str]:
    """What a file imports, calls or keeps that a pure one does not."""
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [one.name for one in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        for name in names:
            room = name.split(".")[0]
            if room not in LIBRARIES and room != "advisor" and name not in PARTS:
                yield f"import {room}"
        if isinstance(node, ast.Name) and node.id in BUILT_INS:
            yield f"built-in {node.id}"
        if isinstance(node, ast.Attribute) and (node.attr in ATTRIBUTES or ast.unparse(node) in CLOCKS):
            yield f"attribute {node.attr}"
        if isinstance(node, ast.Global):
            yield from (f"global {name}" for name in node.names)


def reads_files(module: str) -> bool:
    return any(module == one or module.startswith(one + ".") for one in READ_FILES)


@pytest.fixture(scope="module")
def arrows() -> dict[str, set[str]]:
    """Every file of the core and every file of ours that it leads to, with what each imports; none that reads files."""
    graph = grimp.build_graph("advisor", cache_dir=None)
    found: dict[str, set[str]] = {}
    ahead = [module for module in graph.modules if in_core(module)]
    while ahead:
        module = ahead.pop()
        if module not in found and not reads_files(module):
            found[module] = graph.find_modules_directly_imported_by(module)
            ahead += found[module]
    return found


def source(module: str) -> str:
    path = ROOT.joinpath(*module.split("."))
    return (path / "__init__.py" if path.is_dir() else path.with_suffix(".py")).read_text(encoding="utf-8")


def test_the_core_imports_calls_and_keeps_nothing_impure_nor_does_what_it_leads_to(arrows: dict[str, set[str]]) -> None:
    assert len(arrows) > 50
    found = {module: set(impure(ast.parse(source(module)))) for module in sorted(arrows)}
    assert {module: what for module, what in found.items() if what} == {}


def test_the_core_leads_to_no_room_that_reads_files(arrows: dict[str, set[str]]) -> None:
    found = {(module, other) for module, others in arrows.items() for other in others if reads_files(other)}
    assert found == set()


def test_the_rooms_that_read_files_would_be_seen() -> None:
    seen = set(impure(ast.parse(source("advisor.checklist.toml.files")))) | set(
        impure(ast.parse(source("advisor.places")))
    )
    assert {"import pathlib", "import mmap", "attribute open", "attribute iterdir"} <= seen


@pytest.mark.parametrize(
    ("code", "what"),
    [
        ("import os", "import os"),
        ("from os.path import join", "import os"),
        ("def f():\n    import socket", "import socket"),
        ("from time import time", "import time"),
        ("open('a')", "built-in open"),
        ("path.read_text()", "attribute read_text"),
        ("path.open()", "attribute open"),
        ("datetime.now(UTC)", "attribute now"),
        ("read = Path.read_bytes", "attribute read_bytes"),
        ("np.random.normal()", "attribute random"),
        ("np.loadtxt(name)", "attribute loadtxt"),
        ("def f():\n    global kept", "global kept"),
        ("__import__('os')", "built-in __import__"),
    ],
)
def test_what_is_impure_would_be_seen(code: str, what: str) -> None:
    assert what in set(impure(ast.parse(code)))


BRIEF = """
import sys
from advisor.brief import advise as within
from advisor.checklist import aircraft, revision
from advisor.conditions import Place

checklist, fleet = revision.load(), aircraft.load_profiles()
class Nowhere:
    def find(self, text): raise AssertionError(text)
    def look_up(self, indicator): return None
def brief(report, heading):
    return within.advise(
        [report], off_block="0640Z", now="2027-01-10T05:25:00Z", place=Place("invented", None, 61.4, 9.8),
        checklist=checklist, fleet=fleet, gazetteer=Nowhere(), heading=heading,
    )
first = brief("METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013", 90)

done = []
def told(event, arguments):
    if event == "open" or event.split(".")[0] in (
        "os", "socket", "subprocess", "sqlite3", "glob", "shutil", "tempfile", "mmap", "urllib", "http"
    ):
        done.append((event, str(arguments)[:80]))
sys.addaudithook(told)
second = brief("METAR ZZZA 100520Z 24028G41KT 1200 -SN OVC008 M03/M04 Q0990 RMK A2", 210)
{more}
seen = list(done)
assert first != second
print(seen)
"""


def reported(more: str = "") -> str:
    done = subprocess.run(
        [sys.executable, "-c", BRIEF.replace("{more}", more)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_a_brief_of_loaded_things_opens_nothing() -> None:
    assert reported() == "[]"


def test_what_a_brief_would_open_is_reported() -> None:
    assert "README.md" in reported("open('README.md').close()")
    assert "socket" in reported("import socket; socket.socket().close()")

"""The house rules that tools can check: style, types, imports, size, documentation, words that must not be printed."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted((ROOT / "advisor").rglob("*.py"))


def run(*command: str) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run("ruff", "check", "advisor", "tests", "docs")


def test_everything_is_formatted_alike() -> None:
    run("ruff", "format", "--check", "advisor", "tests", "docs")


@pytest.mark.long
def test_mypy_strict_finds_nothing() -> None:
    run("mypy")


def test_imports_run_downwards() -> None:
    code = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports())"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else "the door"


@pytest.fixture(scope="module")
def arrows() -> dict[str, set[str]]:
    """Every file with the files that it imports: at its head, within a function, or for type checkers only."""
    graph = grimp.build_graph("advisor", cache_dir=None)
    return {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}


def circles(arrows: dict[str, set[str]]) -> set[tuple[str, ...]]:
    """The files of each circle, or of several that hang together."""
    reached: dict[str, set[str]] = {}
    for module in arrows:
        seen, ahead = set[str](), [module]
        while ahead:
            new = arrows.get(ahead.pop(), set()) - seen
            seen |= new
            ahead += new
        reached[module] = seen
    return {
        tuple(sorted(other for other in reached[module] if module in reached[other]))
        for module in arrows
        if module in reached[module]
    }


# files of circles that stand and are known; nothing is ever added
CIRCLES = {
    ("advisor.checklist.toml.faults", "advisor.checklist.toml.files"),
}


def test_no_two_files_import_each_other_in_a_circle(arrows: dict[str, set[str]]) -> None:
    assert [one for one in circles(arrows) if not any(set(one) <= set(known) for known in CIRCLES)] == []


def test_a_circle_of_two_and_of_three_files_would_be_seen() -> None:
    assert circles({"a": {"b"}, "b": {"a"}, "c": {"a"}, "d": set()}) == {("a", "b")}
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set()}) == {("a", "b", "c")}
    assert circles({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == set()


def test_imports_within_functions_and_for_type_checkers_count_as_arrows(arrows: dict[str, set[str]]) -> None:
    # the door does both: its names are imported for type checkers, what it calls within functions
    assert {"advisor.brief.model", "advisor.report.forecast", "advisor.render.text"} <= arrows["advisor"]


def test_the_house_has_at_most_sixteen_rooms() -> None:
    beside = {"__init__.py", "__main__.py", "__pycache__", "data", "py.typed"}
    rooms = {path.stem for path in (ROOT / "advisor").iterdir() if path.name not in beside}
    later = {"archive", "record"}
    assert len(rooms - later) <= 16, sorted(rooms)


def test_the_house_has_at_most_nine_floors(arrows: dict[str, set[str]]) -> None:
    # the door and the command behind `python -m` are no rooms
    outside = {"the door", "__main__"}
    rooms: dict[str, set[str]] = {}
    for module, others in arrows.items():
        if room_of(module) not in outside:
            below = {room_of(other) for other in others} - outside
            rooms.setdefault(room_of(module), set()).update(below - {room_of(module)})
    floor: dict[str, int] = {}
    for room in TopologicalSorter(rooms).static_order():
        floor[room] = 1 + max((floor[below] for below in rooms[room]), default=0)
    assert max(floor.values()) <= 9, floor
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    layers = next(one["layers"] for one in contract["contracts"] if one["type"] == "layers")
    assert len(layers) <= 9
    named = {room.strip(" ()") for layer in layers for room in layer.split("|")}
    assert set(rooms) <= named


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_stays_under_400_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def classes() -> dict[str, set[str]]:
    """Every public class of the package with the files that define one of its name."""
    found: dict[str, set[str]] = {}
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found.setdefault(node.name, set()).add(str(path.relative_to(ROOT / "advisor")))
    return found


def test_a_class_has_a_name_of_its_own() -> None:
    twice = {name: sorted(files) for name, files in classes().items() if len(files) > 1}
    assert twice == {}


def test_nobody_but_the_commands_and_the_web_reads_the_wall_clock() -> None:
    clocks = re.compile(r"datetime\.now|\.utcnow|\.today\(|time\.time\(|perf_counter\(|time\.monotonic\(")
    allowed = ("cli", "web")
    core = [path for path in SOURCES if not path.relative_to(ROOT / "advisor").parts[0].startswith(allowed)]
    found = [str(path) for path in core if clocks.search(path.read_text(encoding="utf-8"))]
    assert found == []


# mathematics, and a shared inner form: no source to name
WITHOUT_SOURCE = ("centuries", "known_loss")


def sections(text: str) -> dict[str, str]:
    """The sections of a docstring, numpy style: a title over a line of dashes, and what stands below."""
    parts = re.split(r"^(\w+)\n-+$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def formulas() -> list[tuple[str, ast.FunctionDef, str]]:
    """Every public function of the physics that computes something, with its docstring."""
    found = []
    for path in sorted((ROOT / "advisor" / "physics").glob("*.py")):
        if path.name in ("derive.py", "flags.py", "ranges.py", "__init__.py"):
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and node.name not in WITHOUT_SOURCE:
                found.append((f"{path.name}:{node.name}", node, ast.get_docstring(node) or ""))
    return found


def test_every_public_docstring_of_the_physics_names_its_source() -> None:
    from advisor.sources import SOURCES

    missing = []
    for name, _, text in formulas():
        keys = re.findall(
            r"^([a-z0-9.-]+(?:, [a-z0-9.-]+)*)(?::.*)?$", sections(text).get("References", ""), re.MULTILINE
        )
        named = [key for line in keys for key in line.split(", ")]
        if not named or set(named) - set(SOURCES):
            missing.append(f"{name} {named}")
    assert missing == []


def untold(node: ast.FunctionDef) -> list[str]:
    """What a docstring with sections leaves out: parameters, what comes back, what is raised."""
    told = sections(ast.get_docstring(node) or "")
    rows = re.findall(r"^(\w+(?:, \w+)*)$", told.get("Parameters", ""), re.MULTILINE)
    named = {one for row in rows for one in row.split(", ")}
    wanted = {one.arg for one in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)}
    raises = any(isinstance(inner, ast.Raise) for inner in ast.walk(node))
    lost = sorted(named ^ wanted) + ([] if "Returns" in told else ["Returns"])
    return lost + (["Raises"] if raises and "Raises" not in told else [])


def test_every_public_docstring_of_the_physics_tells_each_parameter_what_comes_back_and_what_is_raised() -> None:
    found = {name: untold(node) for name, node, _ in formulas()}
    assert {name: lost for name, lost in found.items() if lost} == {}


def defined(path: str, name: str) -> ast.AST:
    tree = ast.parse((ROOT / "advisor" / path).read_text(encoding="utf-8"))
    return next(node for node in tree.body if getattr(node, "name", None) == name)


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("__init__.py", "advise"),
        ("brief/model.py", "to_json"),
        ("report/metar.py", "read"),
        ("report/iwxxm.py", "read"),
    ],
)
def test_what_people_call_tells_each_parameter_what_comes_back_and_what_is_raised(path: str, name: str) -> None:
    node = defined(path, name)
    assert isinstance(node, ast.FunctionDef)
    assert untold(node) == []


@pytest.mark.parametrize(
    ("path", "name", "least"),
    [
        ("brief/model.py", "Brief", 19),
        ("report/model.py", "Report", 30),
        ("report/forecast.py", "Forecast", 15),
        ("conditions.py", "Place", 6),
    ],
)
def test_what_people_hold_says_what_each_field_is(path: str, name: str, least: int) -> None:
    lines = (ROOT / "advisor" / path).read_text(encoding="utf-8").splitlines()
    fields = [node for node in ast.walk(defined(path, name)) if isinstance(node, ast.AnnAssign)]
    assert len(fields) >= least
    assert [ast.unparse(one.target) for one in fields if not lines[one.lineno - 2].strip().startswith("#: ")] == []


def test_nothing_that_is_printed_says_that_all_is_well() -> None:
    # the words that would reassure; a sentence that denies them is allowed
    calm = re.compile(
        r"(is|are|be) clean\b|clear of ice|no de-?icing (is )?(needed|required)|safe to (go|open|depart|fly|walk)", re.I
    )
    denied = re.compile(r"never|not |only the inspection|cannot|nothing", re.I)
    # pages, sheets, prints and what runs in a browser as well
    kinds = ("toml", "html", "jinja", "typ", "js")
    printed = (path for kind in kinds for path in (ROOT / "advisor").rglob(f"*.{kind}"))
    found = []
    for path in (*SOURCES, *printed):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if calm.search(line) and not denied.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()}")
    assert found == []


def test_the_readme_documents_every_command() -> None:
    from advisor.cli.main import main

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = []
    for name, command in main.commands.items():
        names = [f"{name} {sub}" for sub in command.commands] if hasattr(command, "commands") else [name]
        missing += [f"advisor {one}" for one in names if f"advisor {one}" not in text]
    assert missing == []


def test_the_top_level_holds_little_else() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    if not tracked:
        pytest.skip("not a git checkout")
    assert {name.split("/")[0] for name in tracked} <= {
        "README.md",
        "README_CAUTIONS.md",
        "BENCHMARKS.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE",
        "MANIFEST.in",
        "pyproject.toml",
        "docs",
        "advisor",
        "tests",
        "sample_reports",
        ".ci",
        ".gitignore",
    }

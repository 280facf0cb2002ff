"""The package as others meet it: its door, its version, what it carries, and what it says without an extra."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

import advisor
from advisor.report import forecast, model, taf

ROOT = Path(__file__).parent.parent
REPORT = "METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"
NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
NAMES = ("advise", "Brief", "Report", "Forecast", "Place", "Checklist", "to_json")


def python(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


# the door


def mypy(tmp_path: Path, code: str) -> tuple[int, str]:
    """What mypy says of a file of somebody who uses the package: exit code and output."""
    (tmp_path / "user.py").write_text(code, encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--config-file", "", "--follow-imports", "silent", "user.py"]
    surroundings = {"MYPYPATH": str(ROOT), "MYPY_CACHE_DIR": str(ROOT / ".mypy_cache" / "user"), "PATH": ""}
    done = subprocess.run(command, cwd=tmp_path, env=surroundings, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


USER = """
from datetime import UTC, datetime
import advisor

NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
"""


@pytest.mark.long
def test_the_door_is_typed_and_a_wrong_argument_fails_type_checking(tmp_path: Path) -> None:
    right = """
brief: advisor.Brief = advisor.advise(["METAR"], off_block="0640Z", now=NOW, place="61.4,9.8", heading=210)
written: bytes = advisor.to_json(brief)
def where(report: advisor.Report, forecast: advisor.Forecast, checklist: advisor.Checklist) -> advisor.Place:
    advisor.advise([report, forecast], off_block=NOW, now=NOW, checklist=checklist)
    return advisor.Place(report.station, None, 61.4, 9.8)
"""
    code, said = mypy(tmp_path, USER + right)
    assert code == 0, said
    wrong = """
advisor.advise(7, off_block="0640Z", now=NOW)  # line 7
advisor.advise("METAR", off_block=640, now=NOW)
advisor.advise("METAR", off_block="0640Z", now=NOW, heading=[210])
advisor.advise("METAR", off_block="0640Z", now=NOW, chekclist="ours")
advisor.advise("METAR", off_block="0640Z")
advisor.advise("METAR", off_block="0640Z", now=NOW).advise
advisor.advice
"""
    code, said = mypy(tmp_path, USER + wrong)
    assert code == 1, said
    lines = {line.split(":")[1] for line in said.splitlines() if ": error:" in line}
    assert lines == {str(number) for number in range(7, 14)}, said


def test_type_checkers_and_the_running_package_see_the_same_names() -> None:
    import ast

    body = ast.parse(Path(advisor.__file__).read_text(encoding="utf-8")).body
    block = next(node for node in body if isinstance(node, ast.If))
    told = {
        (name.asname, node.module)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for name in node.names
        if name.asname  # "Brief as Brief": given on to others
    }
    assert told == set(advisor._HOMES.items())
    assert {name for name, _ in told} | {"advise", "__version__"} == set(advisor.__all__)
    for name, home in told:
        assert getattr(advisor, name) is getattr(sys.modules[home], name)


def test_dir_and_help_show_the_door() -> None:
    assert set(NAMES) <= set(dir(advisor))
    shown = python("import advisor; help(advisor)")
    for name in NAMES:
        assert f"{name}(" in shown or f"class {name}" in shown, name
    assert "nonsense" not in dir(advisor)
    with pytest.raises(AttributeError, match="nonsense"):
        advisor.nonsense  # noqa: B018


def test_importing_the_package_loads_none_of_its_rooms_nor_libraries() -> None:
    loaded = python(
        "import sys; before = set(sys.modules); import advisor; print(*sorted(set(sys.modules) - before))"
    ).split()
    assert [name for name in loaded if name.startswith("advisor.")] == []
    assert not {"numpy", "msgspec", "metar", "astral", "click"} & set(loaded)


def test_a_brief_prints_as_its_text_and_loads_the_text_only_then() -> None:
    from advisor.render.text import render

    made = advisor.advise(REPORT, off_block="0640Z", now=NOW, place="61.4,9.8")
    assert str(made) + "\n" == render(made)
    code = f"""
import sys, advisor
made = advisor.advise({REPORT!r}, off_block="0640Z", now="2027-01-10T05:25:00Z", place="61.4,9.8")
assert "advisor.render.text" not in sys.modules
assert "Only the inspection itself" in str(made)
"""
    python(code)


def test_a_brief_read_back_prints_as_well() -> None:
    made = advisor.to_json(advisor.advise(REPORT, off_block="0640Z", now=NOW, place="61.4,9.8"))
    code = f"""
import msgspec, advisor
print(msgspec.json.decode({made!r}, type=advisor.Brief))
"""
    assert "Only the inspection itself" in python(code)


def test_the_door_reads_an_operators_folder_and_takes_loaded_things_as_well(tmp_path: Path) -> None:
    from advisor.checklist import aircraft, revision

    rule = """
[[advice]]
id = "torch"
kind = "gear"
when = "always"
during = "walk_round"
weight = "must"
text = "Sign for a torch at the desk."
source = "invented-default"
"""
    (tmp_path / "own.toml").write_text(rule, encoding="utf-8")
    asked = {"off_block": "0640Z", "now": NOW, "place": "61.4,9.8"}
    made = advisor.advise(REPORT, checklist=tmp_path, **asked)
    assert "Sign for a torch at the desk." in {line.text for line in made.advice}
    assert advisor.advise(REPORT, checklist=str(tmp_path), **asked) == made
    loaded, fleet = revision.load(tmp_path), aircraft.load_profiles(tmp_path)
    assert advisor.advise(REPORT, checklist=loaded, fleet=fleet, **asked) == made
    with pytest.raises(advisor.ChecklistError, match="no such folder"):
        advisor.advise(REPORT, checklist=tmp_path / "nowhere", **asked)


def test_the_version_stands_in_one_place() -> None:
    holders = [
        str(path.relative_to(ROOT))
        for path in (ROOT / "pyproject.toml", *(ROOT / "advisor").rglob("*.py"))
        if f'"{advisor.__version__}"' in path.read_text(encoding="utf-8")
    ]
    assert holders == ["advisor/__init__.py"]
    for command in (["-m", "advisor", "--version"],):
        done = subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout) == (0, advisor.__version__ + "\n")


# extras that are missing

SLOTS = ["slots", "sample_reports/slots/schedule.csv", "sample_reports/slots/report.txt", "--pads"]
SLOTS += ["sample_reports/slots/pads.toml", "--now", "2027-01-10T04:30:00Z", "--time-limit", "0.2"]
BRIEF = ["brief", "--report", REPORT, "--off-block", "0640Z", "--now", "2027-01-10T05:25:00Z", "--place", "61.4,9.8"]
RECORD = ["record", "list", "--data", "{folder}"]
# package, and a command that cannot do without it
NEEDS = {
    "highspy": SLOTS,
    "icalendar": [*SLOTS, "--format", "ics"],
    "litestar": ["serve"],
    "uvicorn": ["serve"],
    "tomlkit": ["serve", "--edit", "{folder}"],
    "typst": [*BRIEF, "--format", "pdf", "--output", "{folder}/brief.pdf"],
    **dict.fromkeys(("sqlalchemy", "alembic", "rfc8785", "pillow", "cryptography"), RECORD),
    "pyarrow": ["replay", "tests/archive/data/winter.csv", "--places", "tests/archive/data/places.csv"],
    "dask": [
        *("replay", "tests/archive/data/winter.csv", "--places", "tests/archive/data/places.csv"),
        *("--output", "{folder}/told.parquet", "--cluster", "127.0.0.1:9"),
    ],
    "psycopg": ["record", "list", "--database", "postgresql://nobody@127.0.0.1:1/nothing"],
}
MODULES = {"pillow": "PIL"}


def extras() -> dict[str, list[str]]:
    """The extras that commands need, with the packages that each brings."""
    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    return {
        extra: [re.match(r"[\w-]+", one)[0] for one in wanted]
        for extra, wanted in table.items()
        if extra not in ("dev", "docs")
    }


def test_every_package_of_every_extra_has_a_command_here_that_needs_it() -> None:
    assert {package for wanted in extras().values() for package in wanted} <= set(NEEDS)


@pytest.mark.parametrize("package", sorted(package for wanted in extras().values() for package in wanted))
def test_a_missing_extra_is_one_line_with_the_command_that_installs_it(package: str, tmp_path: Path) -> None:
    words = [word.format(folder=tmp_path) for word in NEEDS[package]]
    module = MODULES.get(package, package)
    code = f"import sys; sys.modules[{module!r}] = None; from advisor.cli.main import main; main({words!r})"
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    extra = next(extra for extra, wanted in extras().items() if package in wanted)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert done.stderr.count("\n") == 1, done.stderr
    assert f"pip install 'advisor[{extra}]'" in done.stderr


def test_a_fault_of_our_own_is_not_taken_for_a_missing_extra() -> None:
    code = "import sys; sys.modules['advisor.brief.advise'] = None; from advisor.cli.main import main; main({words!r})"
    command = [sys.executable, "-c", code.format(words=BRIEF)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert "ModuleNotFoundError" in done.stderr
    assert done.returncode == 1


# what is built


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[set[str], set[str], str]:
    """Names in the source archive, names in the wheel that is built from it, and the wheel's description."""
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    if not tracked:
        pytest.skip("not a git checkout")
    copy, out = tmp_path_factory.mktemp("checkout"), tmp_path_factory.mktemp("out")
    for name in tracked:
        if (ROOT / name).exists():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, copy / name)
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(copy)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    with tarfile.open(next(out.glob("*.tar.gz"))) as archive:
        source = {name.partition("/")[2] for name in archive.getnames()}
    with zipfile.ZipFile(next(out.glob("*.whl"))) as wheel:
        names = set(wheel.namelist())
        described = next(name for name in names if name.endswith("/METADATA"))
        return source, names, wheel.read(described).decode("utf-8")


def tracked_below(*folders: str) -> set[str]:
    done = subprocess.run(["git", "ls-files", *folders], cwd=ROOT, capture_output=True, text=True, check=True)
    return {name for name in done.stdout.split() if (ROOT / name).exists()}


def test_the_source_archive_carries_all_that_is_needed_to_read_check_and_build_it(
    built: tuple[set[str], set[str], str],
) -> None:
    source, _, _ = built
    for name in ("README.md", "README_CAUTIONS.md", "CHANGELOG.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"):
        assert name in source
    for folder in ("advisor", "tests", "sample_reports", "docs"):
        assert tracked_below(folder), folder
        assert tracked_below(folder) - source == set()


def test_the_wheel_carries_the_package_whole_and_nothing_else(built: tuple[set[str], set[str], str]) -> None:
    _, wheel, _ = built
    assert tracked_below("advisor") - wheel == set()
    assert {"advisor/py.typed", "advisor/data/checklists/gear.toml"} <= wheel
    assert {name.split("/")[0] for name in wheel} == {"advisor", f"advisor-{advisor.__version__}.dist-info"}


def test_the_package_describes_itself_without_naming_people_or_places(
    built: tuple[set[str], set[str], str],
) -> None:
    lines = built[2].split("\n\n")[0].splitlines()
    found: dict[str, list[str]] = {}
    for name, _, value in (line.partition(": ") for line in lines):
        found.setdefault(name, []).append(value)
    assert found["Author"] == ["the advisor maintainers"]
    assert found["Version"] == [advisor.__version__]
    assert found["License-Expression"] == ["MIT"]
    assert found["License-File"] == ["LICENSE", "advisor/render/fonts/LICENSE-ClearSans.txt"]
    assert {"Typing :: Typed", *(f"Programming Language :: Python :: 3.{minor}" for minor in range(11, 15))} <= set(
        found["Classifier"]
    )
    assert found["Keywords"]
    assert not {"Author-email", "Maintainer", "Maintainer-email", "Home-page", "Project-URL"} & set(found)


# equality of what was read, the same in Python 3.11 to 3.14


def test_no_reading_that_holds_numbers_leaves_the_equality_of_missing_ones_to_python() -> None:
    # what msgspec writes goes by Python's, which changed with 3.13 for a NaN object that is the same
    holding = [
        cls
        for module in (model, forecast)
        for cls in vars(module).values()
        if isinstance(cls, type) and issubclass(cls, msgspec.Struct) and cls.__module__ == module.__name__
        if any(one.type is float for one in msgspec.structs.fields(cls))
    ]
    assert {model.Report, model.CloudLayer, forecast.Elements, forecast.ForecastSpan} <= set(holding)
    assert [cls.__name__ for cls in holding if cls.__eq__ is not model.Reported.__eq__] == []
    assert [cls.__name__ for cls in holding if cls.__ne__ is not model.Reported.__ne__] == []
    assert [cls.__name__ for cls in holding if cls.__struct_config__.eq] == []


def test_two_readings_are_equal_where_they_say_the_same_and_miss_the_same() -> None:
    # two NaN objects, as from two calculations: by Python's own rule nothing that holds them is ever equal
    first, second = float("nan"), float("nan")
    layers = [(model.CloudLayer("BKN", 2000.0), model.CloudLayer("OVC", value)) for value in (first, second)]
    one, other = (forecast.Elements(wind_kt=8.0, gust_kt=layer[1].base_ft, cloud=layer) for layer in layers)
    assert one == other
    assert (one != other) is False
    assert hash(one) == hash(other)
    assert one != forecast.Elements(wind_kt=8.0, gust_kt=18.0, cloud=layers[0])
    assert one != forecast.Elements(wind_kt=9.0, gust_kt=first, cloud=layers[0])
    assert one != forecast.Elements(wind_kt=8.0, gust_kt=first, cloud=layers[0][:1])
    assert model.CloudLayer("OVC") != model.CloudLayer("OVC", 0.0)
    assert model.CloudLayer("OVC") != ("OVC", first, "")


def test_stretches_of_a_forecast_that_say_the_same_are_joined_whatever_is_missing_in_them() -> None:
    # by hand: prevailing until the change is over at 10Z, then the new state; becoming from 08Z to 10Z. The start of
    # the change at 08Z cuts the prevailing stretch in two, which say the same and are one again.
    text = "TAF ZZZA 100500Z 1006/1012 24008KT 9999 BKN020 BECMG 1008/1010 30012KT"
    found = forecast.spans(taf.read(text, now=NOW))
    midnight = datetime(2027, 1, 10, tzinfo=UTC).timestamp()
    hours = [((span.start_s - midnight) / 3600, (span.end_s - midnight) / 3600, span.certain) for span in found]
    assert hours == [(6, 10, "prevailing"), (10, 12, "prevailing"), (8, 10, "becoming")]

"""One profile for generated tests, and the long tests, which run where they are asked for.

No deadline (machines differ), the same examples in every CI run. A long test is marked so, or stands in LONG_FILES; it
runs with --long, which leaves the others out, and where its file or folder is named on the command line.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "project", deadline=None, derandomize=bool(os.environ.get("CI")), suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("project")

HERE = Path(__file__).parent
# not even read without --long: to collect the server's document alone takes seconds
LONG_FILES = tuple(
    HERE / name
    for name in (
        "benchmarks",
        "record/test_kills.py",
        "series/test_series_properties.py",
        "slots/test_every_plan.py",
        "web/test_openapi.py",
    )
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """The option for the long tests."""
    parser.addoption("--long", action="store_true", help="the long tests, and no others")


def _named(config: pytest.Config, path: Path) -> bool:
    """Whether the command line names a file, or a folder that is long and holds it."""
    given = [Path(argument.split("::")[0]).absolute() for argument in config.args]
    return any(one == path or (_is_long(one) and one in path.parents) for one in given)


def _is_long(path: Path) -> bool:
    return any(one == path or one in path.parents for one in LONG_FILES)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out the long files, or with --long all that has no long test."""
    if not collection_path.is_file() or config.getoption("--long") or not _is_long(collection_path):
        return None
    return None if _named(config, collection_path) else True


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Of what was collected leave the long tests, or those that are not, or what a file that was named holds."""
    asked = config.getoption("--long")

    def stays(item: pytest.Item) -> bool:
        is_long = _is_long(item.path) or item.get_closest_marker("long") is not None
        return is_long == asked or (not asked and _named(config, item.path))

    left = [item for item in items if not stays(item)]
    if left:
        items[:] = [item for item in items if stays(item)]
        config.hook.pytest_deselected(items=left)

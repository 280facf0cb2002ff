"""A record for each test, on SQLite and on a real PostgreSQL that the tests start for themselves."""

from __future__ import annotations

import pytest

from advisor.record.store import Record
from tests.record.places import Clock, Postgres, why_not


@pytest.fixture(scope="session")
def postgres():
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
    with Postgres() as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request, tmp_path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'record.sqlite'}"
    return request.getfixturevalue("postgres").new_database()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(url, clock):
    made = Record(url, clock)
    yield made
    made.close()

"""The server killed while eight clients write. The long run: python -m tests.record.kills 200 [--postgres]"""

from __future__ import annotations

from tests.record.kills import kills

FEW = 4


def test_killed_servers_lose_nothing_acknowledged_and_double_nothing_on_sqlite(tmp_path) -> None:
    found = kills(FEW, tmp_path)
    assert found["kept"] >= found["acknowledged"] >= 5 * FEW


def test_killed_servers_lose_nothing_acknowledged_and_double_nothing_on_postgresql(tmp_path, postgres) -> None:
    found = kills(FEW, tmp_path, postgres.new_database())
    assert found["kept"] >= found["acknowledged"] >= 5 * FEW


def test_two_servers_on_one_database_keep_one_chain_while_one_is_killed(tmp_path, postgres) -> None:
    found = kills(2, tmp_path, postgres.new_database(), servers=2)
    assert found["kept"] >= found["acknowledged"] >= 10

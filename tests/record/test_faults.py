"""What goes wrong around a record: a disk that can only be read, a database that goes and comes back, two servers."""

from __future__ import annotations

import subprocess
import sys
import threading
import time

import pytest

from advisor.errors import RecordError
from advisor.record.database import FILE
from advisor.record.store import Record
from advisor.record.verify import check
from tests.record.kills import Serving, opened, post
from tests.record.places import Clock, found, opening


@pytest.fixture
def own_disk(tmp_path):
    """A real file system of its own, which may be made one that can only be read."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "tmpfs", folder], capture_output=True, check=False)
    if mounted.returncode != 0:
        pytest.skip("no file system can be mounted here")
    yield folder
    subprocess.run(["umount", "-l", folder], check=False)


def remount(folder, how: str) -> None:
    # files that are open for writing keep it: so a second mount of the same place covers them
    subprocess.run(["mount", "-o", f"remount,bind,{how}", folder], check=True, capture_output=True)


def test_a_disk_that_can_only_be_read_is_one_line_and_what_is_there_can_be_read(own_disk, clock) -> None:
    url = f"sqlite:///{own_disk / FILE}"
    record = Record(url, clock)
    record.add(opening("w-1"))
    record.add(found("w-1"))
    record.close()
    remount(own_disk, "ro")
    try:
        with pytest.raises(RecordError) as error:
            Record(url, clock)
        assert "\n" not in str(error.value) and error.value.hint
    finally:
        remount(own_disk, "rw")
    record = Record(url, clock)
    assert len(record.events()) == 2 and list(check(record)) == []
    record.add(found("w-1", "ice"))
    record.close()


def test_a_database_that_goes_and_comes_back_is_said_and_nothing_is_there_twice(postgres, clock) -> None:
    record = Record(postgres.new_database(), clock)
    try:
        record.add(opening("w-1"))
        record.add(found("w-1", key="a" * 64, body="1"))
        postgres.stop("immediate")
        try:
            for asked in (lambda: record.add(found("w-1", key="b" * 64, body="2")), record.events, record.head):
                with pytest.raises(RecordError) as error:
                    asked()
                assert "\n" not in str(error.value)
        finally:
            postgres.start()
        # a telephone sends again what was not answered
        again = record.add(found("w-1", key="b" * 64, body="2"))
        assert record.add(found("w-1", key="b" * 64, body="2")) == again
        assert [event.kind for event in record.events()] == ["opened", "found", "found"]
        assert list(check(record)) == []
    finally:
        record.close()


def test_a_server_whose_database_goes_and_comes_back_answers_503_and_then_goes_on(postgres, tmp_path) -> None:
    server = Serving(tmp_path, postgres.new_database())
    try:
        walk = opened(server.port)
        said = {"zone": "tail", "found": "ice", "note": "x"}
        path = f"/api/walk/{walk}/found"
        assert post(server.port, path, said, "a")[0] == 201
        postgres.stop("immediate")
        try:
            status, problem = post(server.port, path, said, "b", timeout=30)
            assert status == 503 and problem["status"] == 503
        finally:
            postgres.start()
        until = time.monotonic() + 30
        while (status := post(server.port, path, said, "b", timeout=30)[0]) != 201 and time.monotonic() < until:
            time.sleep(0.1)
        assert status == 201
        assert post(server.port, path, said, "b")[0] == 201
    finally:
        server.kill()
    record = Record(server.database, Clock())
    try:
        assert [event.kind for event in record.events(walk)] == ["opened", "found", "found"]
        assert list(check(record)) == []
    finally:
        record.close()


def test_a_writer_waits_for_another_s_transaction_and_nothing_is_lost(url, clock) -> None:
    record, other = Record(url, clock), Record(url, clock)
    try:
        record.add(opening("w-1"))
        held, go = threading.Event(), threading.Event()

        def hold() -> None:
            with other.engine.connect().execution_options(write=True) as connection, connection.begin():
                from sqlalchemy import select

                from advisor.record.tables import HEAD

                connection.execute(select(HEAD).with_for_update()).all()
                held.set()
                go.wait(10)

        holder = threading.Thread(target=hold)
        holder.start()
        assert held.wait(10)
        waiting = [record.submit(found("w-1", key=f"{at:064d}")) for at in range(20)]
        time.sleep(0.2)
        assert not any(one.done() for one in waiting)
        # who only reads does not wait for who writes
        assert len(record.events()) == 1
        go.set()
        holder.join(10)
        assert len({one.result(20).seq for one in waiting}) == 20
        assert list(check(record)) == []
    finally:
        record.close()
        other.close()


def test_a_server_on_a_disk_that_can_only_be_read_says_so_in_one_line(own_disk) -> None:
    remount(own_disk, "ro")
    try:
        command = [sys.executable, "-m", "advisor", "serve", "--port", "0", "--data", str(own_disk / "data")]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    finally:
        remount(own_disk, "rw")
    assert done.returncode in (2, 6) and done.stdout == ""
    [said] = [line for line in done.stderr.splitlines() if line.startswith("Error")]
    assert "Read-only" in said and "Traceback" not in done.stderr

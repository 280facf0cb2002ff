"""A run that is stopped, loses a worker or a part, or has no room: what was done stays, and nothing is half-written."""

from __future__ import annotations

import errno
import gc
import os
import platform
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

pytest.importorskip("pyarrow")

from advisor.archive import folder, part, pieces, result, run
from advisor.archive.carry import How, crew
from advisor.archive.pieces import Crew, Failed
from advisor.errors import AdvisorError, FeedError
from tests.archive.replaying import replayed
from tests.archive.test_replay import archive_of, written

PART = 20


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    return written(tmp_path, archive_of(3, steps_min=(20, 60, 1500, 9000)))


def whole(archive: Path, folder_: Path, **more: object) -> tuple[bytes, bytes]:
    folder_.mkdir(exist_ok=True)
    made = replayed(archive, output=folder_ / "told.parquet", rows=PART, **more)
    return result.to_json(made), (folder_ / "told.parquet").read_bytes()


def test_a_stopped_run_gives_what_is_done_and_goes_on_to_the_same_result(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = whole(archive, tmp_path / "wanted")
    done: list[int] = []
    real = part.work

    def stopping(*given: object) -> object:
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(given[0].number)  # type: ignore[attr-defined]
        return real(*given)  # type: ignore[arg-type]

    there = tmp_path / "there"
    there.mkdir()
    monkeypatch.setattr(run, "work", stopping)
    stopped = replayed(archive, output=there / "told.parquet", rows=PART)
    assert stopped.partial and 0 < stopped.read < 120
    monkeypatch.setattr(run, "work", lambda *given: done.append(given[0].number) or real(*given))
    before = list(done)
    assert whole(archive, there, resume=True) == wanted
    # what was done before is not done again
    assert not set(before) & set(done[len(before) :])


@pytest.fixture(scope="module")
def two_processes() -> Iterator[str]:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        yield cluster.scheduler_address


@pytest.mark.long
# each example is three whole runs: one that fails is shown as it is
@settings(max_examples=6, phases=(Phase.explicit, Phase.generate), suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), size=st.integers(5, 60), stop=st.integers(0, 6), together=st.booleans())
def test_where_a_run_stops_and_who_goes_on_with_it_change_no_byte(
    tmp_path_factory: pytest.TempPathFactory, two_processes: str, seed: int, size: int, stop: int, together: bool
) -> None:
    folder_ = tmp_path_factory.mktemp("stopped")
    archive = written(folder_, archive_of(seed, steps_min=(20, 60, 1500, 9000)))
    (folder_ / "wanted").mkdir()
    made = replayed(archive, output=folder_ / "wanted" / "told.parquet", rows=size)
    wanted = result.to_json(made), (folder_ / "wanted" / "told.parquet").read_bytes()
    done: list[int] = []

    def stopping(*given: object) -> object:
        if len(done) == stop:
            raise KeyboardInterrupt
        done.append(1)
        return part.work(*given)  # type: ignore[arg-type]

    output = folder_ / "told.parquet"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "work", stopping)
        replayed(archive, output=output, rows=size)
    how = How(cluster=two_processes) if together else How()
    again = replayed(archive, output=output, rows=size, resume=output.with_name("told.parquet.work").exists(), how=how)
    assert (result.to_json(again), output.read_bytes()) == wanted


def pages_fetched(arrays: int, pages: int) -> int:
    """How many pages of memory the system handed out while arrays were made and let go one after the other."""
    import resource

    import numpy as np

    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(arrays):
        np.ones(pages * resource.getpagesize() // 8)
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="another C library has rules of its own")
def test_a_worker_keeps_the_memory_of_one_array_for_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    # what stands in the environment goes first
    for name in ("MALLOC_TRIM_THRESHOLD_", "MALLOC_MMAP_THRESHOLD_"):
        monkeypatch.delenv(name, raising=False)
    # with another setting, as that of Dask, each array is fetched anew from the system: 200 times 250 pages
    with crew(How(workers=2)) as hands:
        fetched = [pages for _, pages in hands.each(pages_fetched, [(200, 250)] * 4)]
    assert max(fetched) < 200 * 250 / 10


def test_another_run_is_not_gone_on_with(archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*given: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "work", stop)
    replayed(archive, output=tmp_path / "told.parquet")
    monkeypatch.undo()
    archive.write_text(archive.read_text() + "2027-03-30T05:50:00Z,ZZZA 300550Z 24030KT CAVOK 05/M02 Q1002\n")
    with pytest.raises(AdvisorError, match="another run"):
        replayed(archive, output=tmp_path / "told.parquet", resume=True)


def test_a_part_that_fails_once_is_done_again_and_one_that_fails_twice_is_named(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = whole(archive, tmp_path / "wanted")
    real, tries = part.work, []

    def failing(*given: object) -> object:
        tries.append(given[0].number)  # type: ignore[attr-defined]
        if given[0].number == 1 and tries.count(1) <= limit:  # type: ignore[attr-defined]
            raise ZeroDivisionError("by chance")
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(run, "work", failing)
    limit = 1
    assert whole(archive, tmp_path / "once") == wanted
    limit, tries[:] = 2, []
    made = replayed(archive, output=tmp_path / "told.parquet", rows=PART)
    assert made.partial and len(made.failed) == 1
    assert "ZZZA" in made.failed[0] and "by chance" in made.failed[0]
    assert 0 < made.read < 120


def test_a_full_disk_is_one_line_and_leaves_nothing_under_the_final_name(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*given: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(folder.Path, "replace", full)
    with pytest.raises(AdvisorError, match="No space left") as met:
        replayed(archive, output=tmp_path / "told.parquet")
    assert "\n" not in str(met.value)
    assert not (tmp_path / "told.parquet").exists()


def test_what_is_no_ordinary_file_is_not_replaced(archive: Path, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for place in (pipe, tmp_path):
        with pytest.raises(AdvisorError, match="no ordinary file"):
            replayed(archive, output=place)
    assert pipe.is_fifo()


def test_a_cluster_that_does_not_answer_is_one_line_and_exit_6() -> None:
    pytest.importorskip("distributed")
    with (
        pytest.raises(FeedError, match="cannot be reached") as met,
        crew(How(cluster="tcp://127.0.0.1:9", patience_s=1)),
    ):
        pass
    assert met.value.exit_code == 6 and "\n" not in str(met.value)


def _dies_once(folder_: str, number: int) -> int:
    """A piece of work whose worker is killed in the middle of it, the first time."""
    mark = Path(folder_) / f"{number}"
    if number == 2 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def _dies(number: int) -> int:
    if number == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


@pytest.mark.long
def test_two_processes_give_the_same_bytes_and_a_killed_worker_costs_its_piece_only(
    archive: Path, tmp_path: Path
) -> None:
    distributed = pytest.importorskip("distributed")
    wanted = whole(archive, tmp_path / "wanted")
    with crew(How(workers=2)) as hands:
        assert sorted(hands.each(_dies_once, [(str(tmp_path), number) for number in range(6)])) == [
            (number, number * number) for number in range(6)
        ]
        found = dict(hands.each(_dies, [(number,) for number in range(3)]))
        assert found[0] == 0 and found[2] == 2
        assert isinstance(found[1], Failed) and "lost" in found[1].why
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        assert whole(archive, tmp_path / "cluster", how=How(cluster=cluster.scheduler_address)) == wanted
    assert whole(archive, tmp_path / "two", how=How(workers=2)) == wanted


def _sleeps(folder_: str, number: int) -> None:
    (Path(folder_) / f"{os.getpid()}").touch()
    time.sleep(600)


def _fails(number: int) -> int:
    if number == 1:
        raise ZeroDivisionError("by chance")
    return os.getpid()


def _gone(folder_: Path, count: int) -> bool:
    """Whether so many processes that left their number in a folder end within a minute."""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        numbers = [int(mark.name) for mark in folder_.iterdir()]
        if len(numbers) == count and not any(Path(f"/proc/{number}/stat").exists() for number in numbers):
            return True
        time.sleep(0.05)
    return False


@pytest.mark.long
def test_a_piece_that_fails_twice_in_another_process_is_named_and_costs_no_process() -> None:
    with crew(How(workers=2)) as hands:
        found = dict(hands.each(_fails, [(number,) for number in range(8)]))
    assert found.pop(1) == Failed(1, "ZeroDivisionError: by chance")
    assert len(found) == 7 and len(set(found.values())) <= 2 and os.getpid() not in found.values()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="whether a process is there is looked up in /proc")
def test_processes_end_with_what_is_stopped(tmp_path: Path) -> None:
    def ring(*_: object) -> None:
        if len(list(tmp_path.iterdir())) == 2:
            raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, ring)
    try:
        with crew(How(workers=2)) as hands, pytest.raises(KeyboardInterrupt):
            signal.setitimer(signal.ITIMER_REAL, 0.2, 0.2)
            for _ in hands.each(_sleeps, [(str(tmp_path), number) for number in range(3)]):
                pass
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert _gone(tmp_path, 2)


_ALONE = """
import sys
from advisor.archive.carry import How, crew
from tests.archive.test_carrying import _sleeps
if __name__ == "__main__":
    with crew(How(workers=2)) as hands:
        list(hands.each(_sleeps, [(sys.argv[1], number) for number in range(2)]))
"""


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="whether a process is there is looked up in /proc")
def test_processes_end_with_the_one_that_began_them(tmp_path: Path) -> None:
    script, marks = tmp_path / "alone.py", tmp_path / "marks"
    script.write_text(_ALONE)
    marks.mkdir()
    root = str(Path(__file__).parents[2])
    with subprocess.Popen([sys.executable, str(script), str(marks)], env={**os.environ, "PYTHONPATH": root}) as begun:
        end = time.monotonic() + 60
        while len(list(marks.iterdir())) < 2 and time.monotonic() < end:
            time.sleep(0.05)
        begun.kill()
    assert _gone(marks, 2)


def test_an_error_of_what_was_given_stops_everything() -> None:
    def wrong(number: int) -> int:
        raise AdvisorError("this report differs")

    with pytest.raises(AdvisorError, match="this report differs"):
        list(Crew().each(wrong, [(1,), (2,)]))
    assert pieces.TRIES == 2


def test_circles_are_looked_for_seldom_in_a_part_and_as_often_as_before_after_it() -> None:
    before = gc.get_threshold()

    def failing() -> None:
        raise AdvisorError("what was given is wrong")

    crew_of_one = Crew()
    assert list(crew_of_one.each(gc.get_threshold, [()])) == [(0, (pieces.LOOKED_AFTER, *before[1:]))]
    with pytest.raises(AdvisorError):
        list(crew_of_one.each(failing, [()]))
    assert gc.get_threshold() == before
    # who looks for none goes on so
    gc.set_threshold(0)
    try:
        assert next(crew_of_one.each(gc.get_threshold, [()]))[1][0] == 0
    finally:
        gc.set_threshold(*before)

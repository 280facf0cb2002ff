"""A run that goes on does again what was spoilt in the meantime: cut short, overwritten, or gone."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("pyarrow")

from advisor.archive import part, run
from advisor.errors import AdvisorError
from tests.archive.replaying import replayed
from tests.archive.test_carrying import PART, archive, whole
from tests.archive.test_replay import archive_of, written

__all__ = ["archive"]
SPOILT = {
    "cut short": lambda data: data[: len(data) // 2],
    "empty": lambda _: b"",
    "zeros": lambda data: bytes(len(data)),
    "one byte turned": lambda data: (
        data[: len(data) // 2] + bytes([data[len(data) // 2] ^ 0xFF]) + data[len(data) // 2 + 1 :]
    ),
    "gone": None,
}


@pytest.mark.parametrize("how", SPOILT)
@pytest.mark.parametrize("what", ["done", "tally", "arrow"])
def test_a_part_that_was_spoilt_is_done_again(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str, how: str
) -> None:
    wanted = whole(archive, tmp_path / "wanted")
    stopped, there = _stopped(archive, tmp_path, monkeypatch)
    spoil(there / "told.parquet.work" / f"part-000000.{what}", how)
    done: list[int] = []
    monkeypatch.setattr(run, "work", lambda *given: done.append(given[0].number) or part.work(*given))
    assert whole(archive, there, resume=True) == wanted
    assert 0 in done and not set(stopped) - {0} & set(done)


@pytest.mark.parametrize("how", SPOILT)
def test_the_list_of_what_a_file_holds_is_made_again_where_it_was_spoilt(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    wanted = whole(archive, tmp_path / "wanted")
    _, there = _stopped(archive, tmp_path, monkeypatch)
    spoil(there / "told.parquet.work" / "file-00000.found", how)
    assert whole(archive, there, resume=True) == wanted


@pytest.mark.parametrize("how", ["cut short", "empty", "gone"])
def test_reports_in_order_that_were_spoilt_are_brought_in_order_again(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    wanted = whole(archive, tmp_path / "wanted")
    _, there = _stopped(archive, tmp_path, monkeypatch)
    [first, *_] = sorted((there / "told.parquet.work" / "file-00000").iterdir())
    spoil(first, how)
    assert whole(archive, there, resume=True) == wanted


def _stopped(archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[list[int], Path]:
    """A run stopped after two parts: their numbers, and where it stands."""
    done: list[int] = []

    def stopping(*given: object) -> object:
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(given[0].number)  # type: ignore[attr-defined]
        return part.work(*given)  # type: ignore[arg-type]

    there = tmp_path / "there"
    there.mkdir()
    with monkeypatch.context() as patched:
        patched.setattr(run, "work", stopping)
        assert replayed(archive, output=there / "told.parquet", rows=PART).partial
    return done, there


def spoil(path: Path, how: str) -> None:
    change = SPOILT[how]
    assert path.is_file()
    if change is None:
        path.unlink()
    else:
        path.write_bytes(change(path.read_bytes()))


def test_a_spoilt_archive_is_one_line_or_is_read(tmp_path: Path) -> None:
    from pyarrow import csv, parquet

    parquet.write_table(csv.read_csv(written(tmp_path, archive_of(3, steps_min=(20, 60)))), tmp_path / "a.parquet")
    right = (tmp_path / "a.parquet").read_bytes()
    bad, said = tmp_path / "bad.parquet", []
    for at in range(0, len(right), max(1, len(right) // 40)):
        bad.write_bytes(right[:at] + bytes(64) + right[at + 64 :])
        try:
            replayed(bad, output=None, rows=PART)
        except AdvisorError as wrong:
            assert "\n" not in str(wrong)
            said.append(wrong.exit_code)
    assert len(said) > 5 and set(said) == {3}

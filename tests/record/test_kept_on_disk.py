"""What is kept of walks on a disk: readable by nobody else, in folders that are made, and a full disk is said."""

from __future__ import annotations

import errno
import io
import os
import stat
from pathlib import Path

import pytest
from PIL import Image

from advisor.errors import RecordError
from advisor.record import photos
from advisor.record.keeping import drop_older
from advisor.record.store import Addition, Record
from tests.record.places import Clock, found, opening


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def picture(width: int = 40, height: int = 30) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), "grey").save(out, "JPEG")
    return out.getvalue()


def test_folders_are_made_and_nobody_else_reads_them(tmp_path: Path) -> None:
    path = tmp_path / "one" / "two" / "record.sqlite"
    record = Record(f"sqlite:///{path}", Clock())
    record.add(opening("w-1"))
    record.add(found("w-1"))
    record.close()
    assert (mode(path.parent), mode(path)) == (0o700, 0o600)
    # an hour later it is gone on with
    again = Record(f"sqlite:///{path}", Clock())
    assert [event.kind for event in again.events("w-1")] == ["opened", "found"]
    again.close()


def test_photos_lie_in_a_folder_of_their_own(tmp_path: Path) -> None:
    kept = photos.keep(tmp_path / "one" / "photos", picture())
    file = tmp_path / "one" / "photos" / f"{kept.sha256}.jpg"
    assert (mode(file.parent), mode(file)) == (0o700, 0o600)
    assert list(file.parent.iterdir()) == [file]


@pytest.mark.parametrize(
    ("number", "full"), [(errno.ENOSPC, True), (errno.EDQUOT, True), (errno.EIO, False), (errno.ESPIPE, False)]
)
def test_a_full_disk_is_told_from_a_broken_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, full: bool
) -> None:
    def fails(_: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(RecordError, match="the disk is full" if full else os.strerror(number)) as met:
        photos.keep(tmp_path, picture())
    assert met.value.full is full and list(tmp_path.iterdir()) == []


def test_a_picture_of_too_many_points_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MOST_PIXELS", 1200)
    assert photos.encode(picture(40, 30))[1:] == (40, 30)
    with pytest.raises(photos.NotAPhoto):
        photos.encode(picture(40, 31))


def test_a_photo_goes_with_the_last_walk_that_names_it(tmp_path: Path) -> None:
    clock, folder = Clock(), tmp_path / "photos"
    record = Record(f"sqlite:///{tmp_path / 'record.sqlite'}", clock)
    alone, shared = photos.keep(folder, picture()), photos.keep(folder, picture(41, 30))

    def walk(name: str, *kept: photos.Photo) -> None:
        record.add(opening(name))
        for one in kept:
            record.add(Addition("photo", name, {"walk": name, "sha256": one.sha256}))

    def there() -> set[str]:
        return {path.stem for path in folder.iterdir()}

    walk("w-old", alone, shared)
    clock.on(minutes=20 * 24 * 60)
    walk("w-new", shared)
    # 31 days after the first walk and 11 after the second: what was said in the last 30 days stays
    clock.on(minutes=11 * 24 * 60)
    assert drop_older(record, 30, clock(), folder) == 1
    assert there() == {shared.sha256}
    walk("w-bare")
    clock.on(minutes=20 * 24 * 60)
    assert drop_older(record, 30, clock(), folder) == 1
    assert there() == set()
    # the walk without photos is twenty days old by now, and forty in the end
    assert drop_older(record, 30, clock(), folder) == 0
    clock.on(minutes=20 * 24 * 60)
    assert drop_older(record, 30, clock(), folder) == 1
    record.close()

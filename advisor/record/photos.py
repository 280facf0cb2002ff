"""Photos: re-encoded, so that neither place nor camera stays in them, and kept under the hash of what is kept."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
import secrets
import warnings
from collections.abc import Sequence
from pathlib import Path

import msgspec
from PIL import Image, ImageOps

from advisor.errors import RecordError

MOST_BYTES = 2_000_000
MOST_PIXELS = 40_000_000
# the longer side of what is kept: a scratch is still seen, and a night of photos still fits
LONGEST = 2048
_NAME = re.compile(r"[0-9a-f]{64}\Z", re.ASCII)


class NotAPhoto(ValueError):  # noqa: N818
    """What came is no photo that can be kept."""


class Photo(msgspec.Struct, frozen=True):
    """A photo as it is kept: SHA-256 of its bytes, and its size."""

    sha256: str
    bytes: int
    width: int
    height: int


def encode(data: bytes) -> tuple[bytes, int, int]:
    """A JPEG without anything but the picture, its width and height. Raises NotAPhoto."""
    if len(data) > MOST_BYTES:
        raise NotAPhoto(f"the photo is longer than {MOST_BYTES} bytes")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise NotAPhoto(f"the photo has more than {MOST_PIXELS // 1_000_000} million pixels")
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except NotAPhoto:
        raise
    except Exception:
        raise NotAPhoto("this is no photo; send JPEG, PNG or WebP") from None
    upright.thumbnail((LONGEST, LONGEST))
    # a fresh picture: nothing that hangs on the old one comes along
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    for quality in (85, 70, 50):
        out = io.BytesIO()
        bare.save(out, "JPEG", quality=quality, optimize=True)
        if out.tell() <= MOST_BYTES:
            break
    return out.getvalue(), bare.width, bare.height


def keep(folder: Path, data: bytes) -> Photo:
    """Keep a photo; it is on the disk when this returns. Raises NotAPhoto, or RecordError where the disk fails."""
    encoded, width, height = encode(data)
    name = hashlib.sha256(encoded).hexdigest()
    target = folder / f"{name}.jpg"
    half = folder / f".{name}.{secrets.token_hex(4)}"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with os.fdopen(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(encoded)
            file.flush()
            os.fsync(file.fileno())
        half.replace(target)
        settle(folder)
    except OSError as error:
        with contextlib.suppress(OSError):
            half.unlink()
        full = error.errno in (28, 122)
        what = "the disk is full" if full else error.strerror or "cannot be written"
        raise RecordError(what, where="photo", hint="the photo was not kept; send it again", full=full) from None
    return Photo(name, len(encoded), width, height)


def settle(folder: Path) -> None:
    """Names of a folder on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def fault(folders: Sequence[Path], name: object) -> str | None:
    """What is wrong with a photo that an event names by its hash; None where one folder has it as it was kept.

    folders: those of every server of the record. A file of that name with other content is told wherever it lies.
    """
    if not isinstance(name, str) or not _NAME.match(name):
        return "has no name that a photo could have"
    there = False
    for folder in folders:
        path = folder / f"{name}.jpg"
        try:
            if not path.is_file():
                continue
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            return f"cannot be read: {error.strerror}"
        if digest != name:
            return "was changed: its sum does not fit its name"
        there = True
    return None if there else "is gone"


def load(folder: Path, name: str) -> bytes | None:
    """A photo by its hash; None where there is none, or where it is not what its name says."""
    if not _NAME.match(name):
        return None
    try:
        data = (folder / f"{name}.jpg").read_bytes()
    except OSError:
        return None
    return data if hashlib.sha256(data).hexdigest() == name else None

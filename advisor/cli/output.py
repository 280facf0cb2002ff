"""Where a result goes: standard output or a file, whole or with one line that says why not."""

from __future__ import annotations

import errno
import os
import select
import stat
import sys
from pathlib import Path
from typing import Any

import click

from advisor.errors import OutputError

_HINT = "give a file in a folder that can be written"
# the disk's fault, not the name's
_DISK = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS, errno.EFBIG)


def write(data: bytes, output: str | None) -> None:
    """To standard output, or to a file that is either whole or not there.

    A file behind a link is replaced and keeps its mode; into a pipe or device the data is written. A reader that has
    gone away is no error. Raises OutputError where the data could not be written whole, UsageError for the name.
    """
    if output is None:
        to_screen(data)
        return
    try:
        found = _existing(output)
        if found is None or stat.S_ISREG(found.st_mode):
            _replace(Path(os.path.realpath(output)), data, found)
        else:
            _into(output, data)
    except (OSError, ValueError) as error:
        raise _fault(error, output) from None


def to_screen(data: bytes) -> None:
    """All of the data to standard output, past its buffer. Raises OutputError where it cannot be written."""
    if sys.stdout is None:
        raise OutputError("standard output is closed", hint="leave it open, or give --output FILE where there is one")
    try:
        sys.stdout.flush()
        buffer = sys.stdout.buffer
        _all_of(data, getattr(buffer, "raw", buffer))
        buffer.flush()
    except BrokenPipeError:
        quieted()
    except OSError as error:
        quieted()
        what = f"standard output: {error.strerror or 'cannot be written'}"
        raise OutputError(what, hint="make room, or write elsewhere") from None


def quieted() -> None:
    """Let nothing more be written to standard output, so that the end of the process does not try again."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        pass  # not a stream of the system


def named(context: click.Context, parameter: click.Parameter, output: str | None) -> str | None:
    """The name given to --output. Raises UsageError before any work where no file can be written there."""
    if output is None:
        return None
    try:
        _existing(output)
    except (OSError, ValueError) as error:
        raise _fault(error, output) from None
    return output


def _existing(output: str) -> os.stat_result | None:
    """What is there already, None where nothing is. Raises OSError for what can be no file."""
    if not output:
        raise ValueError("an empty name")
    try:
        existing = Path(output).stat()
    except FileNotFoundError:
        parent = Path(os.path.realpath(output)).parent
        if output.endswith("/") or not parent.is_dir():
            raise
        return None
    if stat.S_ISDIR(existing.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if stat.S_ISREG(existing.st_mode) and not os.access(output, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    return existing


def _replace(target: Path, data: bytes, existing: os.stat_result | None) -> None:
    # most results go to the screen, which wants no name
    import secrets

    # a short one: the target's own may be as long as names can be
    half = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with half.open("xb") as file:
            file.write(data)
        if existing is not None:
            half.chmod(stat.S_IMODE(existing.st_mode))
        half.replace(target)
    except BaseException:
        half.unlink(missing_ok=True)
        raise


def _into(output: str, data: bytes) -> None:
    """Into what is no file: nothing is made or replaced."""
    try:
        with os.fdopen(os.open(output, os.O_WRONLY), "wb", buffering=0) as stream:
            _all_of(data, stream)
    except BrokenPipeError:
        pass  # the reader has gone away


def _all_of(data: bytes, stream: Any) -> None:
    """A stream without a buffer may take a part only, and one that does not block may take nothing yet."""
    rest = memoryview(data)
    while rest:
        taken = stream.write(rest)
        if taken is None:
            select.select([], [stream], [])
        else:
            rest = rest[taken:]


def _fault(error: OSError | ValueError, output: str) -> Exception:
    what = (error.strerror if isinstance(error, OSError) else "") or str(error)
    if isinstance(error, OSError) and error.errno in _DISK:
        return OutputError(what, where=output, hint=_HINT)
    return click.UsageError(f"--output {output or repr(output)}: {what}; {_HINT}")

"""The commands, and how they end when they are stopped from the keyboard.

A command that runs is stopped in `main`. Until that is read, which takes as long as reading click, Ctrl-C would show a
traceback: it ends here.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from types import TracebackType

# the exit code of what is stopped from the keyboard, as shells have it
STOPPED = 130
_before = sys.excepthook


def say_stopped() -> None:
    """Say in one line that it was stopped; on a terminal below the ^C that stands there."""
    # it may be closed, or nobody reads it any more
    with suppress(AttributeError, OSError, ValueError):
        sys.stderr.write(("\n" if sys.stderr.isatty() else "") + "advisor: stopped\n")


def _uncaught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    if not issubclass(kind, KeyboardInterrupt):
        _before(kind, error, trace)
        return
    say_stopped()
    sys.exit(STOPPED)


sys.excepthook = _uncaught

"""What the system's library for memory keeps and gives back, where it has settings for that."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress

# numbers that mallopt of glibc knows
TRIM_THRESHOLD, MMAP_THRESHOLD, ARENA_MAX = -1, -3, -8


def set_memory(settings: Mapping[int, int]) -> None:
    """Set what memory the process keeps. settings: by the numbers above, bytes or, of arenas, how many.

    Where the system's library has no such settings, nothing is changed.
    """
    from ctypes import CDLL

    with suppress(OSError, AttributeError, TypeError):
        for number, value in settings.items():
            CDLL(None).mallopt(number, value)

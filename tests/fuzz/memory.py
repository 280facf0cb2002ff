"""Answers of the standard library that are asked for again and again, kept: the readers are tried no less for it."""

from __future__ import annotations

import difflib
import functools
import gc
import textwrap
from collections.abc import Callable
from typing import Any

MOST = 50_000


def kept(function: Callable[..., list[str]]) -> Callable[..., list[str]]:
    """The same function with its answers kept. It has to depend on nothing but its arguments."""
    answers = functools.lru_cache(MOST)(lambda *given, **named: tuple(function(*given, **named)))

    def answered(*given: Any, **named: Any) -> list[str]:
        return list(answers(*(tuple(one) if isinstance(one, list) else one for one in given), **named))

    return answered


def keep_answers() -> None:
    """For this process: a third of a METAR went into wrapping the same meanings, most of a condition into near words.

    What is loaded by now is not looked at again by the collector of garbage.
    """
    textwrap.wrap = kept(textwrap.wrap)
    difflib.get_close_matches = kept(difflib.get_close_matches)
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000)

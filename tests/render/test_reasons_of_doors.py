"""What a gust is said to do at a door's limit: how far over or under it, and never "0 kt"."""

from __future__ import annotations

import pytest

from advisor.brief.model import Because
from advisor.render.reasons import limit


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-0.35, 6.02, "gust up to just over the lowest limit"),
        (-3.2, 6.0, "gust up to 3 kt over the lowest limit"),
        (-5.2, -1.4, "gust 1 to 5 kt over the lowest limit"),
        (-0.4, -0.1, "gust just over the lowest limit"),
        (0.1, 0.4, "gust just under the lowest limit"),
        (2.0, 2.3, "gust 2 kt under the lowest limit"),
        (None, None, "gust against the lowest limit not known"),
    ],
)
def test_a_margin_in_words(low: float | None, high: float | None, words: str) -> None:
    # a margin is what is left below the limit: below zero it is passed
    item = Because("door_margin_kt", "kt", low, high, high, "door_margin_kt < 0", None)
    assert limit(item) == words

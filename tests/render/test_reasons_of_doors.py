"""What a gust is said to do at a door's limit: how far over or under it, and never "0 kt"."""

from __future__ import annotations

import pytest

from advisor import advise
from advisor.brief.model import Because
from advisor.render.door_words import gust
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


@pytest.mark.parametrize(
    ("wind", "told"),
    [
        ("24018G38KT", True),
        ("VRB08G38KT", True),
        ("240//G38KT", True),
        ("///18G38KT", True),
        ("/////G38KT", True),
        ("24018KT", False),
        ("24018KT 1G38KT", False),
    ],
)
def test_a_gust_that_was_reported_is_not_said_to_be_missing_whatever_else_of_the_wind_is(wind: str, told: bool) -> None:
    report = f"METAR ZZZA 101250Z {wind} 6000 -SN BKN014 M00/M01 Q0994"
    now, leaving = "2027-01-10T13:20:00Z", "2027-01-10T14:55:00Z"
    made = advise(report, now=now, off_block=leaving, place="58.2,12.4", aircraft="regional-jet")
    said = gust(made.doors[:1], made)
    assert ("no gust reported" not in said) == told, said

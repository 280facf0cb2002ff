"""The page of a winter of departures: its report, its figure and its interval by hand, and that it is up to date."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.measures import flights
from tests.measures.flights import Hour, drawn, ordering

AT = datetime(2013, 1, 2, 5, 51, tzinfo=UTC)
ROW = {"direction": 240, "wind": 12, "gust": 21, "air": -0.4, "dew": -2.2, "visibility": 1.5, "precipitation": 0.02}


def test_a_row_becomes_the_report_that_it_may_have_been() -> None:
    wanted = "KZZA 020551Z 24012G21KT 2SM -SN OVC020 M00/M02 RMK AO2 T10041022"
    assert flights.report_of("KZZA", AT, ROW, dull=True) == wanted
    mild = {**ROW, "air": 1.0, "gust": float("nan"), "visibility": 10}
    assert (
        flights.report_of("KZZA", AT, mild, dull=False) == "KZZA 020551Z 24012KT 10SM UP CLR 01/M02 RMK AO2 T00101022"
    )


def test_the_ordering_is_the_share_of_pairs_that_stand_right() -> None:
    # hard hours score 3 and 1, others 1, 0: of four pairs three stand right and one is a tie
    assert ordering([3, 1, 1, 0], [True, True, False, False]) == pytest.approx(3.5 / 4)
    assert ordering([0, 1], [True, False]) == 0.0
    assert ordering([2, 2, 2], [True, False, True]) == 0.5


def test_an_interval_draws_whole_days() -> None:
    # all hours of a day share its value, so that of two days each draw has 0, one half or all
    found = [Hour(day, 1, day, 0.0, 0, 0.0, 0.0) for day in (0, 1) for _ in range(50)]
    value, low, high = drawn(found, lambda hours: sum(hour.cancelled for hour in hours) / len(hours))
    assert (value, low, high) == (0.5, 0.0, 1.0)


def test_the_page_says_what_it_cannot_prove_and_its_pictures_are_there() -> None:
    page = (flights.DOCS / "flights.md").read_text(encoding="utf-8")
    assert "no frost signal" in page and "What this can and cannot prove" in page
    for name in ("flights-levels.svg", "flights-scores.svg"):
        assert f"pictures/{name}" in page
        assert Path(flights.DOCS / "pictures" / name).read_text(encoding="utf-8").startswith("<svg")

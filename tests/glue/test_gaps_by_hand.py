"""How long a report speaks, and what becomes of its weather when nobody reports: small tables worked by hand."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from subject import BASE_CASES, FLAGS, gaps, metar, seen, tracks
from worked import ADVERSE, CENTRAL, CHILL, COLD, WINDY, clock, departure

NOW = datetime(2027, 1, 10, 5, 30, tzinfo=UTC)


def reports(*times: str) -> list[object]:
    """METARs of the day at these times, S before one for a SPECI."""
    read = []
    for text in times:
        kind = "SPECI" if text.startswith("S") else "METAR"
        read.append(metar.read(f"{kind} ZZZA 10{text.lstrip('S')}Z 24008KT CAVOK 03/01 Q1013", now=NOW))
    return read


@pytest.mark.parametrize(
    ("times", "minutes"),
    [
        (("0420",), 70),  # an hour is taken for granted, and ten minutes
        (("0220", "0320", "0420"), 70),
        (("0350", "0420", "0450"), 40),
        (("0120", "0420"), 70),  # three hours apart is a gap, not the usual interval
        (("0320", "0335", "0420", "0520"), 55),  # 15 minutes do not count; of 45 and 60 the shorter
        (("0320", "S0350", "0420"), 70),  # a special report says nothing of the interval
        (("0420", "0450", "0320", "0350"), 40),  # any order
        (("0120", "0220", "0320", "0350"), 70),  # of 30, 60 and 60 the one in the middle
    ],
)
def test_how_long_a_report_speaks(times: tuple[str, ...], minutes: float) -> None:
    assert gaps.holds_s(reports(*times)) == minutes * 60


def test_where_a_report_of_the_past_is_missing() -> None:
    # hourly reports with 03:20 and 04:20 missing: each speaks for 70 minutes to either side
    used = reports("0020", "0120", "0220", "0520")
    hours = [-0.84, -0.83, 3.5, 3.51, 4.0, 5.4, 5.5, 6.6]
    at = np.array([0, 0, 2, 2, 2, 3, 3, 3])
    found = gaps.missing(used, at, np.array([clock(hour) for hour in hours]), departure(now=NOW))
    # 70 minutes before the first is 23:10, after the third 03:30; what is to come is no gap
    assert list(found) == [True, False, False, True, True, False, False, False]


def test_after_the_last_report_none_is_missing_yet_and_before_the_first_one_is() -> None:
    # one report, of 03:20: what it saw holds for two hours, and it speaks for 70 minutes before it
    times = np.array([clock(hour) for hour in (2.0, 2.2, 4.0, 5.2)])
    found = gaps.missing(reports("0320"), np.zeros(4, dtype=int), times, departure(now=NOW))
    assert list(found) == [True, False, False, False]


def test_the_beginning_of_a_history_that_was_cut_is_a_gap_and_no_other_is() -> None:
    used, at, times = reports("0020", "0120"), np.array([0, 1]), np.array([clock(0.5), clock(1.5)])

    def first(since: float | None) -> list[bool]:
        parked = None if since is None else int(clock(since))
        return list(gaps.missing(used, at, times, departure(now=NOW, parked_since=parked)))

    assert first(0.25) == [True, False]
    assert first(0.5) == first(None) == [False, False]
    # where the history begins now there is none
    later = np.array([clock(5.5), clock(6)])
    assert list(gaps.missing(used, at, later, departure(now=NOW, parked_since=int(clock(5))))) == [False, False]


class Table(dict[str, np.ndarray]):
    """Columns; those that a test does not work with are nought."""

    def __missing__(self, name: str) -> np.ndarray:
        self[name] = np.zeros((len(BASE_CASES), 3), dtype=np.int64)
        return self[name]


def columns(flag: int, *, rain: float, gust: float = 20.0) -> Table:
    rows = len(BASE_CASES)
    made = Table({name: np.full((rows, 3), flag, dtype=np.int8) for name in FLAGS})
    made["rain_rate_mm_h"] = np.full((rows, 3), rain)
    made["gust_kt"] = np.full((rows, 3), gust)
    return made


# within two hours, in a gap within two hours, after two hours
PASSED, GAP = np.array([False, False, True]), np.array([False, True, False])
HEARD = np.zeros(3, dtype=bool)


def test_weather_that_was_seen_ends_in_the_central_case_and_stays_possible_in_the_others() -> None:
    table = columns(1, rain=5.0)
    gaps.fade(table, PASSED, GAP, GAP, HEARD)
    for name in ("rain", "snow", "thunderstorm", "volcanic_ash"):
        assert table[name][CENTRAL].tolist() == [1, 1, 0], name
        assert (table[name][1:] == 1).all(), name
    assert table["rain_rate_mm_h"][CENTRAL].tolist() == [5, 5, 0] and (table["rain_rate_mm_h"][1:] == 5).all()


def test_what_the_first_report_saw_is_not_known_to_have_been_there_long_before_it() -> None:
    table, unheard = columns(1, rain=5.0), np.array([True, False, False])
    gaps.fade(table, ~PASSED & PASSED, unheard, unheard, unheard)
    for name in ("rain", "snow", "thunderstorm"):
        # in the central case it holds as long as a report does, in the others nobody knows
        assert table[name][CENTRAL].tolist() == [1, 1, 1], name
        assert all(row.tolist() == [-1, 1, 1] for row in table[name][1:]), name
    assert np.isnan(table["rain_rate_mm_h"][1:, 0]).all() and (table["rain_rate_mm_h"][:, 1:] == 5).all()


def test_weather_that_was_not_seen_is_not_known_in_a_gap_and_after_two_hours() -> None:
    table = columns(0, rain=0.0)
    gaps.fade(table, PASSED, GAP, GAP, HEARD)
    for name in ("rain", "snow", "thunderstorm", "fog", "mist", "hail"):
        assert table[name][CENTRAL].tolist() == [0, 0, 0], name
        assert table[name][COLD].tolist() == table[name][WINDY].tolist() == [0, -1, -1], name
    for name in ("volcanic_ash", "blowing_snow", "dust_or_sand"):
        assert (table[name] == 0).all(), name
    assert table["rain_rate_mm_h"][CENTRAL].tolist() == [0, 0, 0]
    assert np.array_equal(table["rain_rate_mm_h"][COLD], [0, np.nan, np.nan], equal_nan=True)


def test_what_was_not_known_stays_so_in_every_case() -> None:
    table = columns(-1, rain=np.nan)
    gaps.fade(table, PASSED, GAP, GAP, HEARD)
    assert (table["snow"] == -1).all()


def said(*groups: str) -> tracks.Track:
    """Winds one after the other, as three or so reports have them."""
    texts = [f"METAR ZZZA 100530Z {group} CAVOK 03/01 Q1013" for group in groups]
    states = tuple(tracks.state(metar.read(text, now=NOW)) for text in texts)
    return tracks.Track(states, np.arange(len(groups)), False)


def test_what_blew_is_the_gust_as_reported_or_as_much_as_nine_over_the_mean() -> None:
    # no band: what has been reported is not ahead. Without a gust 9 over the mean in the windy cases, else the mean
    blew = seen.seen_gust(said("24012G25KT", "24012KT", "00000KT"), np.zeros(3, bool))
    for row in (WINDY, CHILL):
        assert blew[row].tolist() == [25, 21, 9]
    for row in (CENTRAL, COLD, ADVERSE):
        assert blew[row].tolist() == [25, 12, 0]


def test_gusts_of_a_gap_are_not_known_in_the_windy_cases_and_hide_no_others() -> None:
    # a wind that was not reported, a gust that got lost, and a gap in which nobody reported
    blew = seen.seen_gust(said("/////KT", "24012G//KT", "24012G25KT"), np.array([False, False, True]))
    for row in (WINDY, CHILL):
        assert np.isnan(blew[row]).all()
    # the others keep what is known: nothing, the mean, the last report
    for row in (CENTRAL, COLD, ADVERSE):
        assert blew[row].tolist() == [0, 12, 25]


def test_classes_for_treatment_gain_what_nobody_told_and_end_in_the_central_case_as_the_weather_does() -> None:
    # snow (bit 5, heavy) in every case; "not told" has bit 25, "none" bit 0
    table = columns(1, rain=5.0)
    table["treatment_classes"] = np.full((len(BASE_CASES), 3), 1 << 5, dtype=np.int64)
    gaps.fade(table, PASSED, GAP, GAP, HEARD)
    assert table["treatment_classes"][CENTRAL].tolist() == [1 << 5, 1 << 5, 1]
    for row in range(1, len(BASE_CASES)):
        assert table["treatment_classes"][row].tolist() == [1 << 5, 1 << 5 | 1 << 25, 1 << 5 | 1 << 25]


def test_storm_cloud_that_was_seen_passes_and_none_comes_from_nothing() -> None:
    names = ("lightning", "storm_remark", "cumulonimbus", "towering_cumulus", "storm_said")
    for flag in (1, 0):
        table = columns(0, rain=0.0)
        for name in names:
            table[name] = np.full((len(BASE_CASES), 3), flag, dtype=np.int8)
        gaps.fade(table, PASSED, GAP, GAP, HEARD)
        for name in names:
            # a storm of a gap would have been there, and nobody knows; what is to come is for the forecast
            lasts = [0, -1, 0] if name == "storm_said" and not flag else [flag] * 3
            assert table[name][CENTRAL].tolist() == [flag, flag, 0] and table[name][COLD].tolist() == lasts, name

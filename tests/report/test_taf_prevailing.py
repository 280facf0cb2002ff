"""What prevails when: spans of a forecast, by the late and early reading of BECMG. Worked by hand from FM 51."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import isnan, nan

import numpy as np
import pytest
from msgspec.structs import replace

from advisor.report import taf
from advisor.report.forecast import over, prevailing, spans

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
HEAD = "TAF ZZZA 100500Z 1006/1106 "
DAY = datetime(2026, 1, 10, tzinfo=UTC).timestamp()


def read(text):
    return taf.read(HEAD + text, now=NOW)


def hours(span):
    return ((span.start_s - DAY) / 3600, (span.end_s - DAY) / 3600)


def told(text):
    return [(hours(one), one.certain, one.label) for one in spans(read(text))]


def test_a_becoming_counts_from_its_end_as_prevailing_and_from_its_start_as_becoming():
    assert told("24010KT 9999 OVC020 BECMG 1010/1012 0800 FG") == [
        ((6, 12), "prevailing", "base"),
        ((12, 30), "prevailing", "BECMG 1010/1012"),
        ((10, 12), "becoming", "BECMG 1010/1012"),
    ]


def test_what_a_becoming_does_not_mention_stays():
    first, second, coming = spans(read("24010G25KT 9999 OVC020 BECMG 1010/1012 0800 FG"))
    for one in (second, coming):
        assert (one.elements.wind_kt, one.elements.gust_kt, one.elements.cloud) == (10, 25, first.elements.cloud)
        assert (one.elements.visibility_m, one.elements.weather) == (800, ("FG",))
    assert (first.elements.visibility_m, first.elements.weather) == (10_000, ())


def test_a_wind_without_a_gust_ends_the_gust():
    *_, last, _ = spans(read("24010G25KT 9999 OVC020 BECMG 1010/1012 24012KT"))
    assert last.elements.wind_kt == 12
    assert isnan(last.elements.gust_kt)


def test_an_fm_ends_a_becoming_that_had_not_come():
    assert told("24010KT 9999 OVC020 BECMG 1010/1014 SN FM101200 36010KT CAVOK") == [
        ((6, 12), "prevailing", "base"),
        ((12, 30), "prevailing", "FM101200"),
        ((10, 12), "becoming", "BECMG 1010/1014"),
    ]


def test_overlapping_becomings_add_up_in_both_readings():
    found = spans(read("24010KT 9999 OVC020 BECMG 1008/1012 36020KT BECMG 1009/1011 0800 FG"))
    seen = [(hours(s), s.certain, s.elements.wind_kt, s.elements.visibility_m) for s in found]
    assert seen == [
        ((6, 11), "prevailing", 10, 10_000),
        ((11, 12), "prevailing", 10, 800),
        ((12, 30), "prevailing", 20, 800),
        ((8, 9), "becoming", 20, 10_000),
        ((9, 11), "becoming", 20, 800),
        ((11, 12), "becoming", 20, 800),
    ]


def test_a_temporary_group_lies_over_what_prevails_and_changes_with_it():
    found = [
        s
        for s in spans(read("24010KT 9999 OVC020 TEMPO 1010/1014 SN FM101200 36020KT 5000 BR OVC005"))
        if s.certain == "temporary"
    ]
    assert [(hours(s), s.elements.wind_kt, s.elements.weather, s.own.mentioned) for s in found] == [
        ((10, 12), 10, ("SN",), {"weather"}),
        ((12, 14), 20, ("SN",), {"weather"}),
    ]


def test_a_temporary_group_lies_over_its_own_time_only():
    assert told("24010KT CAVOK FM101200 24010KT CAVOK TEMPO 1014/1016 SN FM101800 24010KT CAVOK")[3:] == [
        ((14, 16), "temporary", "TEMPO 1014/1016")
    ]


def test_a_probability_is_probable_with_and_without_tempo():
    found = spans(read("24010KT 9999 OVC020 PROB30 1010/1012 SN PROB40 TEMPO 1014/1016 FZRA"))
    assert [(s.certain, s.label, s.probability) for s in found[1:]] == [
        ("probable", "PROB30 1010/1012", 0.3),
        ("probable", "PROB40 TEMPO 1014/1016", 0.4),
    ]


def test_changes_are_cut_to_the_validity():
    found = spans(read("24010KT 9999 OVC020 TEMPO 1003/1008 SN BECMG 1104/1109 CAVOK"))
    assert [(hours(s), s.certain) for s in found] == [
        ((6, 30), "prevailing"),
        ((28, 30), "becoming"),
        ((6, 8), "temporary"),
    ]


def test_an_fm_without_a_readable_time_is_possible_through_its_period():
    assert told("24010KT 9999 OVC020 FM106300 36010KT 0800 SN FM101800 CAVOK") == [
        ((6, 18), "prevailing", "base"),
        ((18, 30), "prevailing", "FM101800"),
        ((6, 18), "becoming", "FM106300"),
    ]


@pytest.mark.parametrize("text", ["NIL", "CNL"])
def test_a_forecast_that_is_none_has_no_spans(text):
    forecast = read(text)
    assert spans(forecast) == ()
    assert list(prevailing(forecast, [DAY + 8 * 3600]).late) == [-1]


def test_both_readings_are_looked_up_for_each_time():
    forecast = read("24010KT 9999 OVC020 BECMG 1010/1012 0800 FG")
    times = [
        [DAY + hour * 3600 for hour in (5.99, 6, 9.99, 10)],
        [DAY + hour * 3600 for hour in (11.99, 12, 29.99, 30)],
    ]
    found = prevailing(forecast, times)
    assert found.late.shape == found.early.shape == (2, 4)
    metres = [[found.spans[i].elements.visibility_m if i >= 0 else -1 for i in row] for row in found.late]
    assert metres == [[-1, 10_000, 10_000, 10_000], [10_000, 800, 800, -1]]
    metres = [[found.spans[i].elements.visibility_m if i >= 0 else -1 for i in row] for row in found.early]
    assert metres == [[-1, 10_000, 10_000, 800], [800, 800, 800, -1]]


def test_a_missing_time_is_outside_and_a_scalar_stays_one():
    found = prevailing(read("24010KT CAVOK"), nan)
    assert found.late.shape == ()
    assert int(found.late) == int(found.early) == -1


def test_laying_a_change_over_a_state_replaces_only_what_it_mentions():
    state = read("24010G25KT 2000 SN OVC003").periods[0].elements
    change = read("24010KT CAVOK BECMG 1008/1010 /////KT").changes[0].elements
    made = over(state, change)
    assert isnan(made.wind_kt)
    assert isnan(made.gust_kt)
    assert replace(made, wind_kt=10.0, wind_direction_deg=240.0, gust_kt=25.0, unread=()) == state


def test_prevailing_spans_cover_the_validity_once_without_gaps():
    forecast = read(
        "24010KT 9999 OVC020 BECMG 1007/1009 SN BECMG 1008/1012 CAVOK FM101100 1000 SN FM101500 CAVOK "
        "BECMG 1018/1020 BKN010 TEMPO 1012/1018 RA"
    )
    settled = [s for s in spans(forecast) if s.certain == "prevailing"]
    assert settled[0].start_s == forecast.valid_from.timestamp()
    assert settled[-1].end_s == forecast.valid_to.timestamp()
    assert all(one.end_s == other.start_s for one, other in pairwise(settled))


def test_times_are_seconds_of_utc():
    (only,) = spans(read("24010KT CAVOK"))
    assert datetime.fromtimestamp(only.start_s, UTC) == datetime(2026, 1, 10, 6, tzinfo=UTC)
    assert np.isclose(only.end_s - only.start_s, timedelta(hours=24).total_seconds())

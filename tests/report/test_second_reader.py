"""The silent faults of python-metar 2.0.2, each shown in it, and shown not to reach a report.

A test here that fails in its first half tells that python-metar has been mended: the adapter can then be simpler.
"""

import warnings
from datetime import UTC, datetime
from math import isnan

import pytest
from metar.Metar import Metar, ParserError

from advisor.report import metar
from advisor.report.code import second_reader as decoder
from advisor.report.code.groups import body

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)


def theirs(text, **given):
    given = {"month": 1, "year": 2026, "strict": False, **given}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        return Metar(text, **given)


def ours(text, now=NOW):
    return metar.read(text, now=now)


def forget():
    """What was answered before is asked again."""
    for known in decoder._verdicts.values():
        known.clear()


def group(report, kind):
    (found,) = (g for g in report.groups if g.kind == kind)
    return found


def test_it_reads_a_missing_visibility_as_ten_kilometres_and_we_do_not():
    text = "METAR ZZZA 100550Z 24008KT //// OVC010 02/M01 Q1013"
    assert theirs(text).vis.value("M") == 10_000
    assert isnan(ours(text).visibility_m)


def test_it_lets_the_t_group_overwrite_the_body_and_we_keep_both():
    text = "METAR KZZA 100550Z 24008KT 10SM OVC010 03/M01 A2992 RMK AO2 T00261015"
    assert theirs(text).temp.value("C") == 2.6
    report = ours(text)
    assert (report.temperature_body_c, report.remarks.temperature_c) == (3.0, 2.6)
    assert (report.dew_point_body_c, report.remarks.dew_point_c) == (-1.0, -1.5)


def test_it_says_nothing_of_a_t_group_that_contradicts_the_body_and_we_call_it_a_conflict():
    text = "METAR KZZA 100550Z 24008KT 10SM OVC010 03/M01 A2992 RMK AO2 T10261015"
    assert theirs(text).temp.value("C") == -2.6
    report = ours(text)
    assert isnan(report.temperature_c)
    assert report.dew_point_c == -1.5
    assert (report.temperature_body_c, report.remarks.temperature_c) == (3.0, -2.6)
    assert group(report, "temperature").status == group(report, "temperature to tenths").status == "conflict"


def test_it_takes_a_wind_without_a_unit_for_metres_a_second_and_we_do_not_use_it():
    text = "METAR ZZZA 100550Z 24008 9999 OVC010 02/M01 Q1013"
    assert theirs(text).wind_speed.value("KT") == pytest.approx(8 * 3600 / 1852, rel=1e-4)
    report = ours(text)
    assert isnan(report.wind_kt)
    assert group(report, "wind").status == "conflict"


def test_it_drops_runway_state_without_trace_and_we_note_it():
    text = "METAR ZZZA 100550Z 24008KT 9999 OVC010 02/M01 Q1013 R24/490250"
    found = theirs(text)
    kept = {name: value for name, value in vars(found).items() if name != "code"}
    assert found.decode_completed
    assert "490250" not in repr(kept)
    state = group(ours(text), "runway state")
    assert (state.text, state.status) == ("R24/490250", "noted")
    assert "dry snow" in state.meaning
    assert "26" not in state.meaning
    assert "51 to 100 %" in state.meaning
    assert "2 mm" in state.meaning
    assert "runway condition report is separate" in state.meaning


def test_it_loses_everything_after_a_handler_error_and_calls_the_decode_complete_while_we_lose_one_group():
    text = "METAR ZZZA 100550Z 99908KT 2000 -SN OVC010 M02/M03 Q1013"
    found = theirs(text)
    assert found.decode_completed
    assert found.temp is None
    assert found.vis is None
    with pytest.raises(ParserError):
        Metar(text, month=1, year=2026)
    report = ours(text)
    assert isnan(report.wind_kt)
    assert group(report, "wind").status == "conflict"
    assert (report.visibility_m, report.temperature_c, report.weather) == (2000, -2, ("-SN",))


def test_it_stores_the_lowest_visibility_as_a_maximum_and_we_store_a_minimum():
    text = "METAR ZZZA 100550Z 24008KT 3000 1200NE BR OVC010 02/M01 Q1013"
    assert theirs(text).max_vis.value("M") == 1200
    report = ours(text)
    assert (report.visibility_m, report.visibility_minimum_m) == (3000, 1200)


def test_it_calls_every_report_automatic_and_we_only_those_that_say_so():
    text = "METAR ZZZA 100550Z 24008KT 9999 OVC010 02/M01 Q1013"
    assert theirs(text).mod == "AUTO"
    assert not ours(text).automatic
    assert ours(text.replace("Z 24", "Z AUTO 24")).automatic


def test_it_dates_a_report_by_the_clock_of_the_machine_and_we_by_now():
    text = "METAR ZZZA 100550Z 24008KT 9999 OVC010 02/M01 Q1013"
    today = datetime.now(UTC)
    dated = theirs(text, month=None, year=None).time
    assert dated.year in (today.year, today.year - 1)
    assert ours(text, datetime(1999, 3, 10, 6, tzinfo=UTC)).issued == datetime(1999, 3, 10, 5, 50, tzinfo=UTC)


def test_it_overwrites_the_report_type_with_nothing_for_a_forecast():
    with pytest.raises(ParserError):
        Metar("TAF ZZZA 100500Z 1006/1112 24008KT 9999 OVC010", month=1, year=2026)


def test_wind_and_visibility_of_slashes_are_missing_and_no_temperature():
    report = ours("CZZA 100550Z AUTO ///// ////SM ////// M03/M04 A2914")
    assert [g.kind for g in report.groups[3:]] == ["wind", "visibility", "cloud", "temperature", "pressure"]
    assert isnan(report.wind_kt)
    assert isnan(report.visibility_m)
    assert (report.temperature_c, report.dew_point_c) == (-3, -4)


@pytest.mark.parametrize(
    ("text", "name", "wrong"),
    [
        ("24008KT", "kt", 9.0),
        ("24008KT", "direction_deg", 250.0),
        ("24008G20KT", "gust_kt", 21.0),
        ("3000", "m", 3100.0),
        ("1/2SM", "m", 800.0),
        ("02/M01", "c", 3.0),
        ("02/M01", "dew_c", 1.0),
        ("BKN005CB", "base_ft", 600.0),
        ("Q1013", "hpa", 1014.0),
        ("R12/1000U", "low_m", 1100.0),
    ],
)
def test_a_ledger_that_read_another_value_would_not_be_believed(text, name, wrong):
    right = body(text, False)
    forget()
    assert decoder.agrees(right)
    forget()
    assert not decoder.agrees(right._replace(numbers={**right.numbers, name: wrong}))
    forget()


@pytest.mark.parametrize(("text", "wrong"), [("+TSRA", "TSRA"), ("FEW010", "SCT"), ("REFZRA", "RA")])
def test_a_ledger_that_read_another_word_would_not_be_believed(text, wrong):
    right = body(text, False)
    forget()
    assert decoder.agrees(right)
    forget()
    other = body(wrong if text != "FEW010" else "SCT010", False)
    assert not decoder.agrees(other._replace(group=right.group))
    forget()


@pytest.mark.parametrize("text", ["P6SM", "M1/4SM", "9999", "M0400"])
def test_a_ledger_that_missed_a_mark_of_more_or_less_would_not_be_believed(text):
    right = body(text, False)
    forget()
    assert decoder.agrees(right)
    forget()
    assert not decoder.agrees(right._replace(words=("exactly", *right.words[1:])))
    forget()

"""Properties of reading forecasts, over forecasts put together at random, whole, damaged and senseless."""

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import isnan

from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import ReportError
from advisor.report import taf
from advisor.report.forecast import prevailing, spans
from advisor.report.model import STATUSES

ELEMENTS = {
    "wind": ["24010KT", "VRB03KT", "00000KT", "36025G40KT", "13005MPS", "17006G12MPS", "/////KT", "27010"],
    "visibility": ["9999", "0400", "4000", "P6SM", "1 1/2SM", "11/2SM", "1/4SM", "////"],
    "weather": ["-SN", "+TSRA", "FZFG", "NSW", "VCSH", "//", "?RA", "BLSN BR"],
    "cloud": ["OVC010", "SCT015CB BKN020", "VV001", "VV///", "NSC", "SKC", "//////", "FEW///TCU"],
}
EXTRAS = [
    "CAVOK",
    "QNH2906INS",
    "510302",
    "620808",
    "WS020/16040KT",
    "TX05/1014Z",
    "TNM05/1106Z",
    "SHROOMS",
    "Q1013",
    "AMD NOT SKED",
    "LAST NO AMDS AFT 1014 NEXT 1111",
    "01/M02",
    "NOSIG",
    "1/0SM",
    "TX99/1014Z",
    "SN/",
]
WORDS = ["BECMG", "TEMPO", "INTER", "PROB30", "PROB40", "PROB30 TEMPO", "PROB40 TEMPO", "PROB 40"]
START = datetime(2027, 1, 1, tzinfo=UTC)
DAMAGE = ["FM", "TEMPO", "PROB30", "9999/9999", "0000", "/", "TX"]
JUNK = st.text(st.characters(codec="utf-8"), max_size=12)


@st.composite
def stretches(draw):
    groups = [draw(st.sampled_from(["", *said])) for said in ELEMENTS.values()]
    groups += draw(st.lists(st.sampled_from(EXTRAS), max_size=2))
    return " ".join(group for group in groups if group)


@st.composite
def forecasts(draw):
    """A well-formed forecast and a time just after its issue."""
    issued = START + timedelta(minutes=draw(st.integers(0, 2 * 366 * 24 * 60)))
    start = issued.replace(minute=0) + timedelta(hours=draw(st.integers(-3, 6)))
    length = draw(st.integers(6, 36))
    end = start + timedelta(hours=length)

    def written(moment, hour24=False):
        if hour24 and moment.hour == 0:
            return f"{moment - timedelta(hours=1):%d}24"
        return f"{moment:%d%H}"

    late = draw(st.booleans())
    parts = [draw(st.sampled_from(["TAF", "TAF AMD", "TAF COR", ""])), "ZZZA", f"{issued:%d%H%M}Z"]
    parts += [f"{written(start)}/{written(end, late)}", draw(stretches())]
    for _ in range(draw(st.integers(0, 6))):
        begin = start + timedelta(hours=draw(st.integers(0, length - 1)))
        until = begin + timedelta(hours=draw(st.integers(1, 6)))
        if draw(st.booleans()):
            parts.append(f"FM{begin:%d%H}{draw(st.integers(0, 59)):02d}")
        else:
            parts.append(f"{draw(st.sampled_from(WORDS))} {written(begin)}/{written(until, late)}")
        parts.append(draw(stretches()))
    return " ".join(part for part in parts if part), issued + timedelta(minutes=30), start, end


def accounted(forecast, text):
    assert " ".join(group.text for group in forecast.groups) == forecast.raw == " ".join(text.replace("=", " ").split())
    assert {group.status for group in forecast.groups} <= set(STATUSES)
    assert all(group.meaning for group in forecast.groups)


@settings(max_examples=200, deadline=None)
@given(forecasts())
def test_a_well_formed_forecast_is_read_with_its_validity_and_every_group(made):
    text, now, start, end = made
    forecast = taf.read(text, now=now)
    accounted(forecast, text)
    assert (forecast.valid_from, forecast.valid_to) == (start, end)
    assert len(forecast.periods) + len(forecast.changes) == 1 + sum(
        group.kind in ("change", "from") for group in forecast.groups
    )
    for one in forecast.periods:
        assert start <= one.start <= one.end <= end
    for one in forecast.changes:
        assert one.start < one.end or one.indicator == "FM" or not one.timed
        assert one.start < end
        assert one.end > start or not one.timed


@settings(max_examples=150, deadline=None)
@given(forecasts())
def test_without_its_time_of_issue_a_forecast_says_the_same_but_for_that(made):
    text, now, start, end = made
    text += " CAVOK"
    given_, without = (taf.read(one, now=now) for one in (text, re.sub(r" \d{6}Z", "", text, count=1)))
    assert (given_.issued_given, without.issued_given) == (True, False)
    assert without.issued == min(start, now)
    assert (without.valid_from, without.valid_to) == (start, end)
    assert repr(spans(without)) == repr(spans(given_))
    assert without.temperatures == given_.temperatures


@settings(max_examples=150, deadline=None)
@given(forecasts(), st.data())
def test_a_damaged_forecast_is_read_or_refused_and_nothing_else(made, data):
    tokens, now = made[0].split(), made[1]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(tokens)))
        match data.draw(st.integers(0, 3)):
            case 0:
                tokens[at : at + 1] = []
            case 1:
                tokens.insert(at, data.draw(JUNK))
            case 2:
                tokens[at : at + 1] = [
                    data.draw(st.sampled_from(["FM", "TEMPO", "PROB30", "9999/9999", "0000", "/", "TX"]))
                ]
            case _:
                tokens[at : at + 1] = [token[: data.draw(st.integers(0, 6))] for token in tokens[at : at + 1]]
    text = " ".join(tokens)
    try:
        forecast = taf.read(text, now=now)
    except ReportError as error:
        assert "\n" not in str(error)
        return
    accounted(forecast, text)
    spans(forecast)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=300), st.datetimes(timezones=st.just(UTC)))
def test_any_text_is_read_or_refused_and_nothing_else(text, now):
    for one in (
        text,
        f"TAF ZZZA {now:%d%H%M}Z {now:%d%H}/{now + timedelta(hours=9 if now.year < 9999 else 0):%d%H} {text}",
    ):
        try:
            accounted(taf.read(one, now=now), one)
        except ReportError as error:
            assert "\n" not in str(error)


@settings(max_examples=100, deadline=None)
@given(forecasts())
def test_reading_does_not_depend_on_how_the_text_is_broken_into_lines(made):
    text, now, *_ = made
    assert repr(taf.read(text.replace(" ", "\n     ") + "=", now=now)) == repr(taf.read(text, now=now))


@settings(max_examples=150, deadline=None)
@given(forecasts())
def test_prevailing_covers_the_validity_once_and_becoming_lies_within_changes(made):
    text, now, start, end = made
    forecast = taf.read(text, now=now)
    found = spans(forecast)
    settled = [one for one in found if one.certain == "prevailing"]
    assert settled[0].start_s == start.timestamp()
    assert settled[-1].end_s == end.timestamp()
    assert all(one.end_s == other.start_s for one, other in pairwise(settled))
    times = [start.timestamp() - 1, *(one.start_s for one in settled), end.timestamp()]
    looked = prevailing(forecast, times)
    assert [int(i) for i in looked.late] == [-1, *range(len(settled)), -1]
    for one in found:
        assert start.timestamp() <= one.start_s < one.end_s <= end.timestamp()
        assert one.elements.mentioned == {"wind", "visibility", "weather", "cloud"}
        if one.certain in ("temporary", "probable"):
            assert any(c.start.timestamp() <= one.start_s and one.end_s <= c.end.timestamp() for c in forecast.changes)


@settings(max_examples=150, deadline=None)
@given(forecasts(), st.sampled_from(["/////KT", "////", "//", "//////"]), st.integers(0, 5))
def test_a_group_coded_missing_is_never_taken_for_a_value(made, missing, which):
    text, now, *_ = made
    forecast = taf.read(f"{text} TEMPO {made[2]:%d%H}/{made[2] + timedelta(hours=2):%d%H} {missing}", now=now)
    elements = forecast.changes[-1].elements
    assert len(elements.mentioned) == 1
    assert isnan(elements.wind_kt)
    assert isnan(elements.visibility_m)
    assert elements.weather_missing == (missing == "//")
    assert elements.sky == ("missing" if missing == "//////" else "")

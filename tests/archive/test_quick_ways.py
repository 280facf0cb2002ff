"""Ways that save work give what the plain way gives: each is held against the plain one over drawn inputs."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("pyarrow")

import pyarrow as pa

from advisor import places
from advisor.archive import heads, order
from advisor.archive import places as stations
from advisor.archive.lanes import coldest_since
from advisor.archive.plan import _once
from advisor.archive.split import _apart, _words, alike
from advisor.archive.wants import _distinct
from advisor.archive.windows import ReportWindows
from advisor.physics import ahead, sun
from advisor.physics.course import SunCourse, sun_course
from advisor.report.code.remarks import PHRASES, reach, remark_at

# what begins remarks, what goes on, and what else stands among them
_AMONG = sorted(
    set(PHRASES)
    | {
        "LTGICCG",
        "LTG",
        "RWY15",
        "V",
        "DSNT",
        "OHD",
        "N",
        "NE-S",
        "MOV",
        "STNRY",
        "WND",
        "28045/1955",
        "1",
        "1/2",
        "1V3",
    }
    | {
        "B15E30",
        "E05",
        "RAB10",
        "VIS",
        "1/2V2",
        "2",
        "MIN",
        "1200",
        "KM",
        "005V010",
        "OBSC",
        "PT",
        "HAZARD",
        "AO2",
        "$",
    }
    | {"FEW020", "OVC", "BKN", "27015KT", "EST", "MISG", "LESS", "THAN", "3/4", "WX", "SN", "TR", "PAST", "HR", "0.5MM"}
)
_REMARKS = (
    "PK WND 28045/1955",
    "WSHFT 1715 FROPA",
    "VIS 1 1/2V3",
    "VIS NE 1 1/2",
    "VIS MIN 1200",
    "VIS 1 1/2 RWY15",
    "TWR VIS 1 1/2",
    "CIG 005V010",
    "CIG 005 RWY 15",
    "DENSITY ALT 1200FT",
    "PCPN 0.5MM PAST HR",
    "BKN V OVC",
    "LTGICCG DSNT N AND NE",
    "CB DSNT W MOV E",
    "TS OHD MOV NE-E",
    "VIRGA N STNRY",
    "GR LESS THAN 3/4",
    "GR 1 3/4",
    "MT PT OBSC",
    "BIRD HAZARD RWY 12/30",
    "QUL 3 NE",
    "RWY15 27015KT",
    "WIND RWY 15 27015KT",
    "WIND MISG",
    "SN B15E30",
    "RA E05",
)


@settings(max_examples=500)
@given(
    st.sampled_from(_REMARKS),
    st.lists(st.one_of(st.sampled_from(_AMONG), st.sampled_from(_REMARKS)), max_size=8),
    st.integers(1, 16),
    st.booleans(),
)
def test_what_a_remark_is_hangs_on_no_token_beyond_its_reach(
    first: str, others: list[str], size: int, us: bool
) -> None:
    tokens = " ".join([first, *others]).split()[:size]
    wide = reach(tokens[0])
    if wide is None:
        digits = [at for at in range(1, len(tokens)) if any(c.isdigit() for c in tokens[at])]
        wide = (digits or [len(tokens)])[0] + 1
    whole, took = remark_at(tokens, 0, us)
    cut, as_many = remark_at(tokens[:wide], 0, us)
    assert (cut, as_many) == (whole, took)
    # whatever follows, that comes out
    assert remark_at([*tokens[:wide], *reversed(_AMONG)], 0, us)[0] == whole or len(tokens) <= wide


_HEADS = (
    "METAR ZZZA 100550Z 24010KT",
    "ZZZA 100550Z 24010KT",
    "SPECI ZZZA 100550Z AUTO 24010KT",
    "COR ZZZA 100550Z 24010KT",
    "METAR COR ZZZA 100550Z 24010KT",
    "ZZZA 100550Z COR 24010KT",
    "ZZZA 100550Z CCA 24010KT",
    "ZZZA 100550Z CAVOK",
    "zzza 100550z 24010kt",
    "ZZZA 100550 24010KT",
    "ZZZA  100550Z 24010KT",
    "ZZZA 100550Z",
    "Z9ZA 100550Z NIL",
    "9ZZA 100550Z 24010KT",
    "ZZZA 10055Z 24010KT",
    "ZZZÄ 100550Z 24010KT",
    "",
    "METAR ",
)


@given(st.lists(st.sampled_from(_HEADS), max_size=12))
def test_headings_looked_at_as_bytes_are_those_of_the_pattern(texts: list[str]) -> None:
    found = heads.heads(pa.array([text.rstrip() for text in texts], pa.large_string()))
    for at, text in enumerate(texts):
        wanted = order._HEAD.match(text.upper().rstrip())
        assert bool(found.there[at]) == (wanted is not None), text
        if wanted is not None:
            assert (found.station[at], found.clock[at]) == (wanted["station"], int(wanted["time"]))
            assert bool(found.corrects[at]) == bool(wanted["first"] or wanted["second"])


@pytest.mark.parametrize("odd", ["a  b", "a\tb", "a b\x0bc"])
def test_words_that_are_not_parted_by_one_space_are_seen(odd: str) -> None:
    assert heads.uneven(pa.array(["a b", odd, "c"], pa.large_string())).tolist() == [False, True, False]
    assert not heads.uneven(pa.array(["a b", "b a"], pa.large_string())).any()


@given(
    st.lists(
        st.tuples(
            st.integers(0, 2), st.integers(0, 3), st.booleans(), st.sampled_from(("METAR A", "SPECI B", "SPECI A"))
        ),
        min_size=1,
        max_size=25,
    )
)
def test_of_reports_of_one_minute_the_one_is_kept_that_a_brief_goes_by(rows: list[tuple[int, int, bool, str]]) -> None:
    station, at_s, corrects, text = (list(column) for column in zip(*rows, strict=True))
    counts = np.ones(len(rows), dtype=np.bool_)
    made = _once(
        ("ZZZA", "ZZZB", "ZZZC"),
        pa.array(text, pa.large_string()),
        np.array(station, dtype=np.int32),
        np.array(at_s, dtype=np.int64),
        counts,
        np.array(corrects, dtype=np.bool_),
    )
    best: dict[tuple[int, int], tuple[bool, bool, str]] = {}
    for one, at, corrected, said in rows:
        key = corrected, said.startswith("SPECI"), said
        best[one, at] = max(best.get((one, at), key), key)
    wanted = [(*pair, best[pair][2]) for pair in sorted(best)]
    assert list(zip(made.station.tolist(), made.at_s.tolist(), list(made.text), strict=True)) == wanted
    assert made.doubled == len(rows) - len(wanted)


@given(st.lists(st.lists(st.integers(-1, 4), min_size=3, max_size=3), min_size=1, max_size=30))
def test_rows_are_alike_where_every_number_is(rows: list[list[int]]) -> None:
    which, first = alike(np.array(rows))
    for one in range(len(rows)):
        for other in range(len(rows)):
            assert (which[one] == which[other]) == (rows[one] == rows[other])
    assert [rows[at] for at in first] == [rows[which.tolist().index(number)] for number in range(first.size)]


def test_seasons_day_by_day_are_those_of_each_time() -> None:
    # 150 years, so that every day of the year meets every hour
    draw = np.random.default_rng(3)
    time = np.sort(draw.uniform(sun.EARLIEST_S + 2 * 86_400, sun.LATEST_S - 3 * 86_400, 60_000))
    latitude = draw.uniform(-80, 80, time.size)
    many = ahead.season_row(time, latitude)
    one_by_one = np.concatenate(
        [ahead.season_row(time[at : at + 50], latitude[at : at + 50]) for at in range(0, time.size, 50)]
    )
    assert (many == one_by_one).all()
    assert set(many.tolist()) == {0, 1, 2, 3, 4}
    assert ahead.season_row(np.full(100, np.nan), np.full(100, 60.0)).tolist() == [4] * 100


def test_the_suns_course_does_not_hang_on_what_else_is_asked() -> None:
    draw = np.random.default_rng(4)
    time = 1_700_000_000.0 + np.sort(draw.uniform(0, 400 * 86_400, 4000))
    latitude, longitude = (np.where(np.arange(4000) < 2000, *pair) for pair in ((61.4, -33.9), (9.8, 18.4)))
    together = sun_course(time, latitude, longitude)
    for at in range(0, 4000, 97):
        assert sun_course(time[at], latitude[at], longitude[at]) == together[at]
    assert SunCourse(np.array([np.nan]), 1.0, 1.0).at(np.nan, 1.0, 1.0) != 0.0


def test_sine_of_the_elevation_from_known_terms_is_that_of_the_elevation() -> None:
    draw = np.random.default_rng(5)
    time, north, east = (
        draw.uniform(0, 2e9, 500),
        np.repeat(draw.uniform(-90, 90, 10), 50),
        draw.uniform(-180, 180, 500),
    )
    terms = sun.solar_terms(sun.centuries(time))
    sine = np.sin(np.radians(sun.elevation_deg(time, north, east)))
    assert np.abs(sun.sine_of_elevation(time, terms, north, east) - sine).max() < 1e-15


@given(st.lists(st.tuples(st.integers(0, 1), st.integers(60, 90_000), st.booleans()), min_size=1, max_size=40))
def test_the_last_cold_time_of_a_window_is_its_highest(rows: list[tuple[int, int, bool]]) -> None:
    rows = sorted(rows, key=lambda row: row[0])
    station = np.array([row[0] for row in rows], dtype=np.int32)
    at_s = np.cumsum([row[1] for row in rows]).astype(np.int64)
    cold = np.array([row[2] for row in rows])
    windows = ReportWindows(station, at_s)
    moment = at_s.astype(np.float64)
    wanted = windows.most(np.where(cold, moment, -np.inf))
    assert (coldest_since(cold, moment, windows.first) == wanted).all()


def test_many_stations_are_found_where_single_ones_are() -> None:
    names = random.Random(2).sample(sorted(name for name in places.whole() if len(name) == 4), stations.FEW + 60)
    find = stations.finder(None)
    for name in [*names, "ZZZZ"]:
        one, other = find(name), places.look_up(name)
        assert repr(one) == repr(other), name


_WORDS = st.lists(st.text("AB19/+-é", min_size=1, max_size=5), max_size=6)


@given(
    st.lists(st.tuples(_WORDS, st.sampled_from([" ", " ", " ", "  ", " \t", "\n", "\x1c"])), max_size=6), st.booleans()
)
def test_words_are_those_between_blanks(texts: list[tuple[list[str], str]], cut: bool) -> None:
    written = [blank.join(words) for words, blank in texts]
    column = pa.array(["Z", *written], pa.large_string())[1:] if cut else pa.array(written, pa.large_string())
    offsets, words = _words(column)
    found = [word.lstrip(" ") for word in words.to_pylist()]
    assert [found[begin:end] for begin, end in pairwise(offsets)] == [
        # as bytes: an information separator is no blank here, as it is none to Arrow; no text is one word, an empty one
        [word.decode() for word in text.encode().split()] or [""]
        for text in written
    ]
    assert len(offsets) == len(written) + 1


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 9)), max_size=20))
def test_spans_are_taken_one_after_the_other(drawn: list[tuple[int, int]]) -> None:
    places = np.array(sorted(place for place, _ in drawn), dtype=np.intp)
    ends = places + np.array([length for _, length in drawn], dtype=np.intp)
    taken, end = [], 0
    for at, (place, behind) in enumerate(zip(places.tolist(), ends.tolist(), strict=True)):
        if place >= end:
            taken.append(at)
            end = behind
    assert _apart(places, ends).tolist() == taken


@given(st.integers(1, 70), st.integers(1, 30), st.integers(0, 2**32 - 1))
def test_kinds_are_the_distinct_columns_of_bits(bits: int, reports: int, seed: int) -> None:
    table = np.random.default_rng(seed).integers(0, 12, reports)
    drawn = np.random.default_rng(seed + 1).random((bits, 12)) < 0.5
    first, count = _distinct(drawn[:, table])
    found = {drawn[:, table[at]].tobytes(): number for at, number in zip(first.tolist(), count.tolist(), strict=True)}
    columns = [drawn[:, kind].tobytes() for kind in table.tolist()]
    assert found == {column: columns.count(column) for column in columns} and len(first) == len(found)

"""What must hold for any report, made up by hypothesis out of groups, rubbish and both."""

import locale
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import ReportError
from advisor.report import metar
from advisor.report.code import bulletin
from advisor.report.code.unread import looks_like_recent_weather, looks_like_weather
from advisor.report.decode import decode_text
from advisor.report.model import STATUSES

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
DIGITS = st.text("0123456789/", min_size=1, max_size=6)
WIND = st.one_of(
    st.builds(
        "{}{}{}{}".format,
        st.sampled_from(["240", "000", "VRB", "///", "360", "999"]),
        st.sampled_from(["00", "08", "25", "//", "P49", "120"]),
        st.sampled_from(["", "G40", "G//", "GP99"]),
        st.sampled_from(["KT", "MPS", "KMH", ""]),
    ),
    st.sampled_from(["210V270", "///V///"]),
)
VISIBILITY = st.sampled_from(
    ["9999", "0600", "////", "CAVOK", "10SM", "P6SM", "1 1/2SM", "M1/4SM", "////SM", "1200NE", "9999NDV", "0000", "M"]
)
PHENOMENA = ["RA", "SN", "DZ", "GS", "GR", "PL", "UP", "FG", "BR", "SG", "SQ", "HZ"]
WEATHER = st.builds(
    "{}{}{}{}".format,
    st.sampled_from(["", "-", "+", "VC", "RE"]),
    st.sampled_from(["", "FZ", "SH", "TS", "BL", "MI", "DR"]),
    st.sampled_from(["", *PHENOMENA]),
    st.sampled_from(["", *PHENOMENA]),
)
CLOUD = st.builds(
    "{}{}{}".format,
    st.sampled_from(["FEW", "SCT", "BKN", "OVC", "///", "VV"]),
    st.sampled_from(["001", "035", "///", ""]),
    st.sampled_from(["", "CB", "TCU", "///"]),
)
OTHER = st.sampled_from(
    [
        "NSC",
        "NCD",
        "CLR",
        "SKC",
        "//",
        "//////",
        "/////////",
        "R12/1000U",
        "R04R/1800V4500FT",
        "R24/490250",
        "R/SNOCLO",
        "WS R05R",
        "WS ALL RWY",
        "W12/S3",
        "BLU",
        "AUTO",
        "COR",
        "NIL",
        "NOSIG",
        "BECMG",
        "TEMPO",
        "FM0600",
        "RMK",
        "1/0SM",
        "910SM",
        "P7770",
        "SN/",
        "5N",
        "RE//",
        "REXX",
        "+",
    ]
)
TEMPERATURE = st.builds(
    "{}/{}".format, st.sampled_from(["02", "M05", "//", "M00", "99"]), st.sampled_from(["01", "M07", "//", "", "99"])
)
PRESSURE = st.sampled_from(["Q1013", "Q////", "A2992", "QNH1013"])
REMARK = st.one_of(
    st.sampled_from(
        [
            "AO2",
            "SLP123",
            "SLPNO",
            "T10111022",
            "T0097",
            "P0003",
            "60012",
            "70123",
            "4/010",
            "10056",
            "21022",
            "58014",
            "401170039",
            "I1003",
            "PK WND 28045/15",
            "PK WND 28045/2315",
            "WSHFT 2327 FROPA",
            "RAB05E15SNB1459",
            "TSB99",
            "FZRANO",
            "PWINO",
            "TSNO",
            "SNINCR 2/10",
            "FROIN",
            "FRQ LTGICCG DSNT SW-NW AND OHD",
            "CB DSNT W MOV E",
            "PRESRR",
            "$",
            "VIS 1/2V3",
            "SFC VIS 1 1/2",
            "CIG 002V006",
            "DENSITY ALT 1200FT",
            "SC5AC3",
            "QFE756",
            "HELLO",
            "GR 1 3/4",
            "GR 1/0",
            "VIS 1/0V2",
            "PK WND 99945/15",
            "RA E32",
            "SNEMMB32",
            "PLBMM",
            "FZRAB04E75",
            "SOG 34",
        ]
    ),
    DIGITS,
)
BODY = st.lists(st.one_of(WIND, VISIBILITY, WEATHER, CLOUD, OTHER, TEMPERATURE, PRESSURE, DIGITS), max_size=18)
REPORT = st.builds(
    lambda kind, body, remarks: " ".join(
        part for part in [kind, "KZZA 100550Z", *body, *(["RMK", *remarks] if remarks else [])] if part
    ),
    st.sampled_from(["METAR", "SPECI", "", "METAR COR"]),
    BODY,
    st.lists(REMARK, max_size=8),
)
RUBBISH = st.text(max_size=300)
CODES = st.text("ABEFGKLMNOPRSTVWXZ0123456789/+-=$ \n", max_size=300)


@given(REPORT)
def test_every_group_of_any_report_is_accounted_for_once_and_in_order(text):
    report = metar.read(text, now=NOW)
    assert " ".join(group.text for group in report.groups) == report.raw == " ".join(text.split())
    assert all(group.status in STATUSES and group.meaning for group in report.groups)
    assert all(group.part in ("header", "body", "trend", "remarks") for group in report.groups)


@given(REPORT)
def test_a_group_that_may_have_been_weather_and_was_not_read_never_leaves_the_weather_known(text):
    report = metar.read(text, now=NOW)
    unread = [one.text for one in report.groups if one.part == "body" and one.status == "not decoded"]
    damaged = [one for one in unread if looks_like_weather(one) and not looks_like_recent_weather(one)]
    assert report.weather_missing or not damaged
    assert report.recent_missing or not any(map(looks_like_recent_weather, unread))


@given(REPORT)
def test_reading_twice_gives_the_same(text):
    assert repr(metar.read(text, now=NOW)) == repr(metar.read(text, now=NOW))


@given(st.one_of(RUBBISH, CODES, CODES.map(lambda rest: "METAR ZZZA 100550Z " + rest)))
def test_reading_never_raises_anything_but_a_report_error_of_one_line(text):
    for step in (lambda: metar.read(text, now=NOW), lambda: metar.read_all(text, now=NOW)):
        try:
            step()
        except ReportError as error:
            assert "\n" not in str(error)
            assert str(error).isprintable()
    assert bulletin.kind(text) in ("METAR", "SPECI", "TAF", "")


@given(REPORT)
def test_the_listing_of_any_report_keeps_within_eighty_columns(text):
    assert max(map(len, decode_text([metar.read(text, now=NOW)]).splitlines())) <= 80


@given(st.lists(REPORT, min_size=1, max_size=4), st.randoms())
def test_the_order_of_reports_changes_nothing_in_any_of_them(texts, random):
    texts = ["METAR " + text if not text.startswith(("METAR", "SPECI")) else text for text in texts]
    order = list(range(len(texts)))
    random.shuffle(order)
    straight = [repr(r) for r in metar.read_all("=\n".join(texts), now=NOW)]
    shuffled = [repr(r) for r in metar.read_all("=\n".join(texts[i] for i in order), now=NOW)]
    assert shuffled == [straight[i] for i in order]


@given(REPORT, st.integers(1, 23))
def test_a_line_break_inside_a_report_changes_nothing(text, at):
    tokens = text.split()
    broken = "\n  ".join([" ".join(tokens[: at + 3]), " ".join(tokens[at + 3 :])]) + "="
    assert repr(metar.read(broken, now=NOW)) == repr(metar.read(text, now=NOW))


@given(st.datetimes(datetime(1980, 1, 1), datetime(2080, 1, 1)), st.timedeltas(timedelta(0), timedelta(days=20)))  # noqa: DTZ001
def test_any_report_up_to_twenty_days_old_gets_its_own_date_back(issued, age):
    issued = issued.replace(tzinfo=UTC, second=0, microsecond=0)
    text = f"ZZZA {issued.day:02}{issued.hour:02}{issued.minute:02}Z 24008KT"
    assert metar.read(text, now=issued + age).issued == issued


@settings(max_examples=20, deadline=None)
@given(REPORT)
def test_the_locale_changes_nothing(text):
    before = repr(metar.read(text, now=NOW)), decode_text([metar.read(text, now=NOW)])
    old = locale.setlocale(locale.LC_ALL)
    try:
        for name in ("C", "C.UTF-8", "de_DE.UTF-8", "tr_TR.UTF-8"):
            try:
                locale.setlocale(locale.LC_ALL, name)
            except locale.Error:
                continue
            assert (repr(metar.read(text, now=NOW)), decode_text([metar.read(text, now=NOW)])) == before
    finally:
        locale.setlocale(locale.LC_ALL, old)


@settings(max_examples=50)
@given(REPORT)
def test_the_clock_of_the_machine_changes_nothing(text):
    from metar import Metar as library

    from advisor.report.code import second_reader as decoder

    before = repr(metar.read(text, now=NOW))
    real, clock = library.datetime.datetime, type("Clock", (datetime,), {"now": lambda *_: real(1971, 2, 3)})
    for known in decoder._verdicts.values():
        known.clear()
    decoder.day_and_time.cache_clear()
    try:
        library.datetime.datetime = clock
        after = repr(metar.read(text, now=NOW))
    finally:
        library.datetime.datetime = real
        for known in decoder._verdicts.values():
            known.clear()
        decoder.day_and_time.cache_clear()
    assert after == before

"""Properties 3 to 7: nothing dropped, every line says why, ranges, the same bytes, and what outranks the estimates."""

from __future__ import annotations

import json
import locale
import math
import os
import socket
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up import CLOUDS, SITUATIONS, Situation, body, corpus, lines, steady, wind

from advisor import advise
from advisor import places as place
from advisor.brief.model import schema, to_json
from advisor.checklist import revision
from advisor.errors import AdvisorError
from advisor.quantities import FLAG, QUANTITIES
from advisor.render.text import render
from advisor.report import metar
from advisor.sources import SOURCES

ALWAYS = {rule.id for rule in revision.load().rules if rule.when == "always"}
VALID = jsonschema.Draft202012Validator(schema())
RUBBISH = st.lists(
    st.sampled_from(["QQQ", "24008", "FEW0", "99/99", "R99/", "XYZZY", "8/8", "17//", "+", "1O13", "TL", "/////////X"]),
    max_size=3,
)


def text_of(brief):
    """The text with line breaks and indents as one blank each."""
    return " ".join(render(brief).split())


def dropped(brief):
    """Groups that are missing from the reports' lists, or left undecoded without being shown."""
    found = [report.raw for report in brief.reports if " ".join(g.text for g in report.groups) != report.raw]
    left = [g.text for report in brief.reports for g in report.groups if g.status in ("conflict", "not decoded")]
    shown = text_of(brief)
    return found + [text for text in left if text not in brief.not_decoded or text not in shown]


@steady(80)
@given(SITUATIONS, RUBBISH)
def test_no_group_of_a_report_is_dropped(situation, rubbish):
    situation = situation.but(tail=" ".join([situation.tail, *rubbish]))
    brief = situation.brief()
    assert brief.reports[0].raw == situation.report
    assert dropped(brief) == []


def unexplained(brief):
    """Lines that do not say why, or whose numbers do not bear out what they say."""
    found = []
    for line in brief.advice:
        if line.id in ALWAYS:
            continue
        good = bool(line.because) and line.origin == "shipped" and bool(line.source.title)
        good &= line.source.key in SOURCES and line.source.standing in SOURCES[line.source.key].standing
        for item in line.because:
            row = QUANTITIES[item.quantity]
            good &= item.unit == row.unit and item.quantity in item.test
            good &= item.at is not None and brief.now <= item.at <= brief.windows.take_off
            if None not in (item.low, item.central, item.high):
                good &= item.low <= item.central <= item.high
            elif line.status != "cannot tell":
                good &= any(number is not None for number in (item.low, item.high))
            good &= as_in_the_timeline(brief, item)
        if line.status != "cannot tell":
            good &= any(may_hold(item) for item in line.because)
        else:
            good &= bool(line.missing)
        if not good:
            found.append((line.id, line.status, line.because))
    return found


def as_in_the_timeline(brief, item):
    """Whether the band is the one that the timeline shows at that time."""
    row = next((row for row in brief.timeline if row["at"] == item.at), None)
    shown = (row or {}).get(item.quantity)
    if row is None or not isinstance(shown, dict) or None in (shown["low"], item.low):
        return row is not None
    pairs = ((shown["low"], item.low), (shown["central"], item.central), (shown["high"], item.high))
    return all(math.isclose(one, other, abs_tol=0.006) for one, other in pairs)


def may_hold(item):
    """Whether some number in the band passes the test that is printed beside it."""
    if QUANTITIES[item.quantity].kind != "number":
        return item.high == 1 or item.test.startswith("not ") or QUANTITIES[item.quantity].kind != FLAG
    if item.low is None or item.high is None:
        return False
    # numbers are rounded to two places, so a test may be met by half a hundredth
    ends = [item.low + (item.high - item.low) * step / 200 for step in range(201)]
    ends += [item.low - 0.005, item.high + 0.005]
    return any(eval(item.test, {"__builtins__": {}}, {item.quantity: value}) for value in ends)


@steady(80)
@given(SITUATIONS)
def test_every_line_that_is_not_always_there_says_why(situation):
    assert unexplained(situation.brief()) == []


@steady(40)
@given(SITUATIONS)
def test_every_brief_keeps_to_the_published_schema_and_eighty_columns(situation):
    brief = situation.brief()
    VALID.validate(json.loads(to_json(brief)))
    assert max(map(len, render(brief, full=True).splitlines())) <= 80


@steady(30)
@given(SITUATIONS)
def test_nothing_in_a_brief_says_that_all_is_well(situation):
    said = text_of(situation.brief()).lower()
    assert not any(word in said for word in ("is clean", "clear of ice", " safe", "no de-icing", "ice-free"))


@pytest.mark.corpus
def test_briefs_of_real_reports_drop_nothing_and_say_why():
    rows = corpus(130, skip=17)
    if not rows:
        pytest.skip("the folder of real reports is not beside the checkout")
    made = 0
    for raw, at in rows:
        try:
            report = metar.read(raw, now=at)
            now = report.issued + timedelta(minutes=20)
            where = place.look_up(report.station) or place.find("52.1,-4.6")
            brief = advise([raw], now=now, off_block=now + timedelta(minutes=70), place=where)
        except AdvisorError:
            continue
        made += 1
        assert dropped(brief) == [], raw
        assert unexplained(brief) == [], raw
        VALID.validate(json.loads(to_json(brief)))
    assert made > 100


def index_c(air_c, speed_kmh):
    """The 2001 wind chill index, as the weather services of Canada and the United States publish it."""
    return 13.12 + 0.6215 * air_c - 11.37 * speed_kmh**0.16 + 0.3965 * air_c * speed_kmh**0.16


@steady(70)
@given(SITUATIONS, st.integers(-60, 50), st.integers(0, 30), st.integers(0, 99))
def test_outside_a_range_of_validity_a_number_is_unknown(situation, air, spread, mean):
    # 35 °C is about the highest dew point ever measured [from memory]
    spread = max(spread, air - 35)
    row = situation.but(temperature=body(air, spread), wind=wind(240, mean, None)).brief().timeline[0]
    for name, quantity in QUANTITIES.items():
        value = row.get(name)
        numbers = value.values() if isinstance(value, dict) else [value]
        if quantity.kind == "number":
            assert all(n is None or quantity.low <= n <= quantity.high for n in numbers), (name, value)
    temperature, speed, chill = (row[name] for name in ("air_temperature_c", "wind_kt", "wind_chill_c"))
    ends = [temperature[end] for end in ("low", "high")] if temperature else []
    # valid at or below 10 °C and above 4.8 km/h [the index's own range]; a dew point from -45 °C over water [WMO-No. 8]
    if chill and chill["central"] is not None:
        assert temperature["central"] <= 10 and speed["central"] * 1.852 > 4.8
        expected = index_c(temperature["central"], speed["central"] * 1.852)
        assert chill["central"] == pytest.approx(expected, abs=0.02)
    elif ends and max(ends) <= 10 and min(ends) >= -50 and speed["low"] * 1.852 > 4.8:
        raise AssertionError("an index within its range is not told")
    dew = row["dew_point_c"]
    if dew and dew["high"] is not None and dew["high"] < -45:
        assert row["frost_point_c"] is None
    heat = row["heat_index_c"]
    # the index is for 80 °F and more [Rothfusz, NWS]; below about 20 °C no form of it is used
    assert not (heat and heat["central"] is not None and temperature["central"] < 20)


@steady(25)
@given(SITUATIONS)
def test_the_same_inputs_give_the_same_bytes_without_clock_or_network(situation):
    first = to_json(situation.brief())
    text = render(situation.brief())

    def refused(*_, **__):
        raise AssertionError("the core asked for the clock or the network")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket, "socket", refused)
        patch.setattr(socket, "create_connection", refused)
        for clock in ("time", "localtime", "gmtime", "monotonic"):
            patch.setattr(f"time.{clock}", refused)
        again, said = situation.brief(), render(situation.brief())
    assert to_json(again) == first
    assert said == text
    assert again.made_at == again.now == situation.now.strftime("%Y-%m-%dT%H:%M:%SZ")


CHILD = """
import sys
from datetime import datetime
from advisor.brief.model import to_json
from advisor import advise
from advisor.render.text import render
for line in sys.stdin:
    report, now, off_block = line.rstrip("\\n").split("|")
    brief = advise(report, now=datetime.fromisoformat(now), off_block=off_block, place="61.4,9.8")
    sys.stdout.buffer.write(to_json(brief) + render(brief).encode())
"""


def test_another_zone_locale_and_hash_seed_give_the_same_bytes():
    rows = [
        Situation(now=datetime(2027, 1, 10, 5, 25, tzinfo=UTC)),
        Situation(weather="-FZRA", temperature="M00/M01", now=datetime(2027, 2, 28, 23, 40, tzinfo=UTC)),
        Situation(weather="TSGR", temperature="24/19", wind="VRB25G45KT", now=datetime(2027, 7, 1, 12, tzinfo=UTC)),
        Situation(wind="/////KT", temperature="/////", cloud="//////", now=datetime(2027, 3, 28, 0, 55, tzinfo=UTC)),
    ]
    fed = "".join(
        f"{row.report}|{row.now.isoformat()}|{(row.now + timedelta(minutes=75)).isoformat()}\n" for row in rows
    )
    made = set()
    elsewhere = (("UTC", "C", "0"), ("Asia/Tokyo", "tr_TR.UTF-8", "7"), ("America/St_Johns", "de_DE", "99"))
    for zone, language, seed in elsewhere:
        surroundings = {**os.environ, "TZ": zone, "LC_ALL": language, "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"}
        done = subprocess.run(
            [sys.executable, "-c", CHILD], input=fed.encode(), capture_output=True, env=surroundings, check=True
        )
        made.add(done.stdout)
    assert len(made) == 1
    assert made.pop().count(b'"schema": "brief/1"') == len(rows)


@steady(10)
@given(SITUATIONS)
def test_the_locale_of_this_process_changes_nothing(situation):
    before = render(situation.brief())
    old = locale.setlocale(locale.LC_ALL)
    try:
        for name in ("C", "C.UTF-8", "de_DE.UTF-8", "tr_TR.UTF-8"):
            try:
                locale.setlocale(locale.LC_ALL, name)
            except locale.Error:
                continue
            assert render(situation.brief()) == before
    finally:
        locale.setlocale(locale.LC_ALL, old)


# the thermal estimate would speak against a deposit: wind, cloud, dry air
AGAINST = st.builds(
    lambda direction, mean, cloud: {"wind": wind(direction, mean, None), "cloud": cloud},
    st.integers(1, 36).map(lambda tens: tens * 10),
    st.integers(0, 40),
    st.one_of(CLOUDS, st.just("OVC005")),
)
FROZEN = ("-SN", "SN", "+SN", "-FZRA", "FZRA", "-FZDZ", "FZDZ", "PL", "-RASN", "SG", "FZFG", "FZUP", "SHSN", "GS")
MUST_BE_THERE = {"de-icing-request", "wing-upper-surface"}


@steady(70)
@given(SITUATIONS, AGAINST, st.sampled_from(FROZEN), st.integers(-20, 4), st.sampled_from([0, 1, 2, 8]))
def test_frozen_or_freezing_precipitation_in_the_cold_outranks_every_thermal_estimate(
    situation, against, code, air, spread
):
    situation = situation.but(**against, weather=code, temperature=body(air, spread), age_min=10, ahead_min=60)
    told = lines(situation.brief())
    assert {told.get(name) for name in MUST_BE_THERE} == {"expected"}


@steady(50)
@given(SITUATIONS, AGAINST, st.sampled_from(["frost", "snow", "ice"]), st.integers(-5, 30))
def test_a_deposit_that_was_seen_outranks_every_thermal_estimate(situation, against, seen, air):
    situation = situation.but(**against, weather="", temperature=body(air, 9), tail="Q1013")
    situation = situation.but(asked={**situation.asked, "seen": seen})
    told = lines(situation.brief())
    assert {told.get(name) for name in (*MUST_BE_THERE, "already-seen")} == {"expected"}


@steady(50)
@given(SITUATIONS, st.sampled_from(["GR", "TSGR", "+TSGR", "SHGR", "+TSRAGR"]), st.integers(20, 32), st.integers(3, 15))
def test_hail_in_warm_air_asks_for_shelter_and_a_look_not_for_treatment(situation, code, air, spread):
    asked = {"aircraft": situation.asked["aircraft"]}
    situation = situation.but(weather=code, temperature=body(air, spread), tail="Q1013", asked=asked, ahead_min=70)
    # by day, so that the skin is warm too
    situation = situation.but(now=situation.now.replace(month=6, day=12, hour=11), place="52.1,-4.6", age_min=5)
    told = lines(situation.brief())
    assert {told.get("hail-shelter"), told.get("hail-inspection")} == {"expected"}
    assert told.keys().isdisjoint({"de-icing-request", "treatment-plan", "pre-take-off-check", "slippery-apron"})

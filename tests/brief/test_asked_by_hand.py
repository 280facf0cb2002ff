"""What was asked, read: times that have passed, what was seen and when, quantities in their range; and the timeline."""

from __future__ import annotations

from math import isnan, nan

import numpy as np
import pytest

from advisor import places
from advisor.brief import asked, inputs
from advisor.brief.timeline import timeline
from advisor.conditions import Case, Conditions, Place
from advisor.errors import AdvisorError, DepartureError, ReportError

NOW, OFF = "2027-01-10T05:25:00Z", "2027-01-10T06:40:00Z"
# seconds since 1970 of now, by the calendar: 20,828 days, 5 h 25 min
NOW_S = 20_828 * 86_400 + 5 * 3600 + 25 * 60
REPORT = "METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"


def read(**more):
    return asked.read(REPORT, places, **{"now": NOW, "off_block": OFF, "place": "61.4,9.8", **more})[1]


def test_what_is_not_said_is_not_known():
    one = read()
    assert (one.now, one.off_block, one.take_off) == (NOW_S, NOW_S + 75 * 60, None)
    assert (one.parked_since, one.treated_at, one.seen, one.looked_at, one.given) == (None, None, None, None, {})
    assert isnan(one.heading_deg) and isnan(one.fuel_temperature_c) and isnan(one.fuel_fill_pct)


@pytest.mark.parametrize("name", ["parked_since", "treated_at"])
def test_times_that_have_passed_are_read_and_later_ones_refused(name):
    assert getattr(read(**{name: NOW}), name) == NOW_S
    # a time of day is the last one before now
    assert getattr(read(**{name: "0530Z"}), name) == NOW_S + 5 * 60 - 86_400
    with pytest.raises(DepartureError, match="is after now"):
        read(**{name: "2027-01-10T05:25:01Z"})


def test_a_look_is_now_unless_its_time_is_said_and_needs_what_was_seen():
    assert (read(seen="frost").looked_at, read(seen="frost").seen) == (NOW_S, "frost")
    assert read(seen="nothing", looked_at="2027-01-10T05:00:00Z").looked_at == NOW_S - 25 * 60
    with pytest.raises(DepartureError, match="what was seen is not said"):
        read(looked_at=NOW)
    with pytest.raises(DepartureError, match="'rime' is not known"):
        read(seen="rime")
    parked = "2027-01-10T05:10:00Z"
    assert read(seen="ice", looked_at=parked, parked_since=parked).parked_since == NOW_S - 15 * 60
    with pytest.raises(DepartureError, match="before the aircraft was parked"):
        read(seen="ice", looked_at="2027-01-10T05:09:59Z", parked_since=parked)


@pytest.mark.parametrize(
    ("name", "field", "least", "most"),
    [("fuel_temperature", "fuel_temperature_c", -60, 60), ("fuel_fill", "fuel_fill_pct", 0, 100)],
)
def test_quantities_are_taken_within_their_range_ends_included(name, field, least, most):
    assert (getattr(read(**{name: least}), field), getattr(read(**{name: most}), field)) == (least, most)
    for wrong in (least - 0.1, most + 0.1):
        with pytest.raises(DepartureError, match="out of range"):
            read(**{name: wrong})
    with pytest.raises(DepartureError, match=f"give a number from {least} to {most}"):
        read(**{name: "much"})
    assert read(fuel_temperature="14 degF").fuel_temperature_c == pytest.approx(-10)


def test_windows_are_handed_on_by_name_only_where_they_are_said():
    assert set(read(walk_round="0550Z/0610Z").given) == {"walk_round"}
    assert set(read(doors_open="0550Z/0610Z").given) == {"doors_open"}


def test_no_report_one_without_use_and_two_stations_are_refused():
    with pytest.raises(ReportError, match="no report was given"):
        asked.read([], places, now=NOW, off_block=OFF)
    with pytest.raises(ReportError, match="no group could be used"):
        asked.read("METAR ZZZA 100520Z ABC DEF", places, now=NOW, off_block=OFF, place="61.4,9.8")
    # coded missing is understood
    assert asked.read("METAR ZZZA 100520Z /////KT", places, now=NOW, off_block=OFF, place="61.4,9.8")
    with pytest.raises(ReportError, match="reports of 2 stations: ZZZA, ZZZB"):
        asked.read([REPORT.replace("ZZZA", "ZZZB"), REPORT], places, now=NOW, off_block=OFF)
    with pytest.raises(DepartureError, match="the position of ZZZA is not known"):
        asked.read(REPORT, places, now=NOW, off_block=OFF)
    given = Place("an invented field", None, 1.0, 2.0)
    assert inputs.find_place(given, (), places) is given


def test_whoever_asks_for_an_aircraft_that_is_not_there_is_told_which_are():
    from advisor import advise

    with pytest.raises(AdvisorError, match=r"'airship' is not known.*light-aircraft"):
        advise(REPORT, now=NOW, off_block=OFF, place="61.4,9.8", aircraft="airship")


CASES = tuple(Case(name, "", "central", "common-practice") for name in ("central", "other", "third"))


def rows(**columns):
    times = np.array([0.0, 300.0])
    made = {name: np.array(value) for name, value in columns.items()}
    return timeline(Conditions(times, 0.0, 0.0, CASES, made, precipitation_text=(("-SN", "none"),)))


def test_a_band_is_whole_or_its_ends_are_not_told():
    air = [[1.0, -0.00001], [3.0, 2.0], [-2.0, 5.0]]
    first, second = rows(air_temperature_c=air)
    assert first["air_temperature_c"] == {"low": -2.0, "central": 1.0, "high": 3.0}
    # rounded to four digits, and never minus zero
    assert str(second["air_temperature_c"]["low"]) == "0.0"
    assert (first["at"], second["at"]) == ("1970-01-01T00:00:00Z", "1970-01-01T00:05:00Z")
    assert (first["precipitation"], second["precipitation"]) == ("-SN", "none")
    part = rows(air_temperature_c=[[1.0, nan], [nan, 2.0], [4.0, 5.0]])
    assert part[0]["air_temperature_c"] == {"low": None, "central": 1.0, "high": None}
    assert part[1]["air_temperature_c"] is None
    assert rows()[0]["air_temperature_c"] is None


def test_a_flag_is_yes_in_any_case_else_not_known_in_any_else_no():
    snow = np.array([[0, 0], [1, -1], [-1, 0]], dtype=np.int8)
    first, second = rows(snow=snow, rain=np.zeros((3, 2), np.int8))
    assert (first["snow"], second["snow"], first["rain"]) == (True, None, False)


def test_light_is_the_word_of_the_central_case():
    light = np.array([[0, -1], [4, 4], [4, 4]], dtype=np.int8)
    assert [row["light"] for row in rows(light=light)] == ["day", None]

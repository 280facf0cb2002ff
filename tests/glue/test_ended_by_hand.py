"""What ended, as spells and as flags over time: every edge stands in the test, hours of 10 January 2027."""

from __future__ import annotations

from datetime import datetime
from math import inf

import numpy as np
import pytest
from subject import ended, metar, series
from worked import NOW, build, clock

NAMES = ("freezing", "frozen", "precipitation", "rain", "hail", "thunderstorm", "squall", "snow", "pellets")


def used(*groups: str) -> tuple[object, ...]:
    """Reports of 10 January: time, weather, and what stands behind RMK or RE."""
    texts = []
    for one in groups:
        time, _, rest = one.partition(" ")
        weather, _, behind = rest.partition("; ")
        texts.append(f"METAR KZZA 10{time}Z 24008KT 3SM {weather} OVC010 M01/M02 A2990 {behind}")
    return series.in_order(metar.read_all("\n".join(texts), now=NOW))


def at(time: str) -> float:
    """Seconds since 1970 of hhmm or hhmmss."""
    return clock(int(time[:2])) + 60 * int(time[2:4]) + int(time[4:] or 0)


def text(unix_s: float) -> str:
    """The same the other way round; seconds where there are any."""
    return f"{datetime.fromtimestamp(unix_s, NOW.tzinfo):%H%M%S}".removesuffix("00")


def flag(name: str, reports: tuple[object, ...], times: str, since: str = "") -> list[int]:
    unix_s = np.array([at(time) for time in times.split()])
    return ended.columns(reports, unix_s, at(since) if since else -inf)[name].tolist()  # type: ignore[arg-type]


# spells


@pytest.mark.parametrize(
    ("groups", "wanted"),
    [
        # the newest one's to its own time: what goes on is not over
        (("0450 SN",), ["0450-0450"]),
        # up to the next one, at most an hour
        (("0350 SN", "0420"), ["0350-0420", "0420-0420"]),
        (("0250 SN", "0420"), ["0250-0350", "0420-0420"]),
        # a group of recent weather looks back for an hour
        (("0450 ; RESN",), ["0450-0450", "0350-0450"]),
        # remarks say it to the minute: began and ended, ended alone, began alone
        (("0450 ; RMK SNB0410E33",), ["0450-0450", "0410-0433"]),
        (("0450 ; RMK SNE0433",), ["0450-0450", "0433-0433"]),
        (("0450 SN; RMK SNB0410",), ["0450-0450", "0410-0450"]),
        # two showers of one kind, and two kinds
        (("0450 ; RMK SNB0400E10B20E30",), ["0450-0450", "0400-0410", "0420-0430"]),
        (("0450 ; RMK RAB0400E10SNB0410E30",), ["0450-0450", "0400-0410", "0410-0430"]),
        # hailstones that were measured fell within the hour
        (("0450 ; RMK GR 1",), ["0450-0450", "0350-0450"]),
    ],
)
def test_when_what_was_observed_began_and_was_last_seen(groups: tuple[str, ...], wanted: list[str]) -> None:
    assert [f"{text(one.start_s)}-{text(one.last_s)}" for one in ended.spells(used(*groups))] == wanted  # type: ignore[arg-type]


def test_a_spell_has_the_flags_of_its_own_kind() -> None:
    now, rain, snow, hail = ended.spells(used("0450 BR; RMK RAB0400E10SNB0410E30 GR 1"))  # type: ignore[arg-type]
    assert (now.said["mist"], now.said["rain"], now.said["snow"]) == (1, 0, 0)
    assert (rain.said["rain"], rain.said["snow"]) == (1, 0) and (snow.said["rain"], snow.said["snow"]) == (0, 1)
    assert hail.said["hail"] == 1 and hail.said["rain"] == 0


def test_the_vicinity_and_no_significant_weather_are_no_spell_of_the_field() -> None:
    (near,) = ended.spells(used("0450 VCTS; RMK VCSHB0410E20"))  # type: ignore[arg-type]
    assert near.said["thunderstorm"] == 0 and near.said["precipitation_any"] == 0


def test_recent_weather_that_was_not_read_is_an_hour_of_which_nothing_is_known() -> None:
    _, lost = ended.spells(used("0450 ; RE//"))  # type: ignore[arg-type]
    assert (text(lost.start_s), text(lost.last_s)) == ("0350", "0450")
    assert set(lost.said.values()) == {-1}
    _, read = ended.spells(used("0450 ; RESN"))  # type: ignore[arg-type]
    assert read.said["snow"] == 1


def test_a_station_that_is_blind_or_says_nothing_denies_nothing() -> None:
    (blind,) = ended.spells(used("0450 -RA; RMK AO2 FZRANO"))  # type: ignore[arg-type]
    assert (blind.said["freezing_precipitation"], blind.said["rain"]) == (-1, 1)
    (silent,) = ended.spells(used("0450 //"))  # type: ignore[arg-type]
    assert {silent.said[name] for name in ("snow", "rain", "hail", "thunderstorm")} == {-1}


# as flags over time


@pytest.mark.parametrize("name", ["recent_frozen", "recent_precipitation"])
def test_what_ended_is_recent_from_its_beginning_to_two_hours_after_its_end(name: str) -> None:
    reports = used("0450 ; RMK SNB0410E33")
    assert flag(name, reports, "0409 0410 0433 0633 063301") == [0, 1, 1, 1, 0]
    for other in ("recent_freezing", "recent_rain"):
        assert flag(other, reports, "0410 0633") == [0, 0]


def test_what_was_seen_is_there_from_its_beginning_and_over_when_it_was_last_seen() -> None:
    assert flag("seen_frozen", used("0450 ; RMK SNB0410E33"), "0409 0410 0432 0433 0434") == [0, 1, 1, 0, 0]
    # what a report saw at one moment was there at that moment
    assert flag("seen_frozen", used("0450 SN"), "0449 0450 0451") == [0, 1, 0]


@pytest.mark.parametrize(
    ("said", "of"),
    [
        ("SN", {"frozen", "precipitation", "snow"}),
        ("RA", {"precipitation", "rain"}),
        ("FZRA", {"freezing", "frozen", "precipitation", "rain"}),
        ("PL", {"frozen", "precipitation", "pellets"}),
        ("TSRA", {"precipitation", "rain", "thunderstorm"}),
        ("SHGR", {"frozen", "precipitation", "hail"}),
        ("SQ", {"squall"}),
        ("FC", set()),
        ("BR", set()),
    ],
)
def test_which_weather_each_flag_remembers(said: str, of: set[str]) -> None:
    reports = used(f"0350 {said}", "0450")
    for name in NAMES:
        found = flag(f"recent_{name}", reports, "0400 0530") + flag(f"seen_{name}", reports, "0400")
        assert found == [int(name in of)] * 3, name


@pytest.mark.parametrize(
    ("said", "name", "before"),
    [
        ("GR", "hail", 0),
        ("TS", "thunderstorm", 0),
        ("SQ", "squall", 0),
        ("SN", "frozen", 1),
        ("RA", "rain", 1),
        ("FZRA", "freezing", 1),
        ("SN", "precipitation", 1),
    ],
)
def test_what_can_have_damaged_the_aircraft_counts_from_when_it_came_and_what_lies_from_ever(
    said: str, name: str, before: int
) -> None:
    # it was last seen at 04:20; the aircraft came then, or a minute later
    reports = used(f"0350 {said}", "0420")
    for since, counts in (("0420", 1), ("0421", before)):
        assert flag(f"recent_{name}", reports, "0530", since) == [counts]
        assert flag(f"seen_{name}", reports, "0400", since) == [counts]


def test_yes_outranks_not_known_which_outranks_no() -> None:
    # a missing group at 03:50 speaks up to 04:20, snow up to 04:50; reports of nothing take nothing back
    reports = used("0250", "0350 //", "0420 SN", "0450")
    assert flag("recent_frozen", reports, "0300 0400 0430 0624 0650 0651") == [0, -1, 1, 1, 1, 0]
    everywhere_but_last = np.array([True, True, True, False])
    for value, wanted in ((-1, [-1, 1, -1, 0]), (1, [1, 1, 1, 0])):
        column = np.array([0, 1, -1, 0], dtype=np.int8)
        ended.raise_to(column, everywhere_but_last, value)
        assert column.tolist() == wanted


# ice and frost on the sensor


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("I1003", [("0350", "0450")]),
        ("I3003", [("0150", "0450")]),
        ("I1000", [("0350", "0450")]),
        ("FROIN", []),
        ("", []),
    ],
)
def test_ice_that_built_up_in_so_many_hours(said: str, wanted: list[tuple[str, str]]) -> None:
    found = ended.ice_spells(used(f"0450 ; RMK AO2 {said}"))  # type: ignore[arg-type]
    assert [(text(start), text(last)) for start, last in found] == wanted


def test_frost_on_the_indicator_is_no_ice_and_has_a_spell_and_a_flag_of_its_own() -> None:
    for said, wanted in (("FROIN", [("0450", "0450")]), ("I1003", []), ("", [])):
        found = ended.frost_spells(used(f"0450 ; RMK AO2 {said}"))  # type: ignore[arg-type]
        assert [(text(start), text(last)) for start, last in found] == wanted
    reports = used("0450 ; RMK AO2 FROIN")
    assert flag("frost_reported", reports, "0449 0450 0650 0651") == [0, 1, 1, 0]
    assert flag("ice_reported", reports, "0449 0450 0650") == [0, 0, 0]
    assert flag("frost_reported", used("0450 ; RMK AO2 I1003"), "0449 0450 0650") == [0, 0, 0]


def test_ice_is_reported_to_two_hours_after_its_report() -> None:
    assert flag("ice_reported", used("0450 ; RMK AO2 I3003"), "0149 0150 0650 0651") == [0, 1, 1, 0]
    assert flag("ice_reported", used("0450 ; RMK AO2"), "0149 0150 0650 0651") == [0, 0, 0, 0]


# times that the grid needs


def test_the_grid_has_the_edges_of_every_spell_of_the_remarks_and_of_recent_weather_and_ice() -> None:
    for group, wanted in (
        ("0450 ; RMK SNB0410E33", ["0410", "0433"]),
        ("0450 ; RESN", ["0350", "0450"]),
        ("0450 ; RMK AO2 I3003", ["0150", "0450"]),
        ("0450 SN", []),
    ):
        found = ended.edges(used(group))  # type: ignore[arg-type]
        assert [text(edge) for edge in found] == wanted and all(isinstance(edge, int) for edge in found)


def test_a_short_spell_between_two_reports_stands_on_the_outlooks_grid() -> None:
    found = build(
        "METAR KZZA 100350Z 24008KT 3SM OVC010 M01/M02 A2990\n"
        "METAR KZZA 100450Z 24008KT 3SM OVC010 M01/M02 A2990 RMK SNB0417E21"
    )
    assert {at("0417"), at("0421")} <= set(found.unix_s)
    assert found.unix_s[found.columns["seen_frozen"][0] == 1].tolist() == [at("0417")]


# peak wind


def test_the_strongest_peak_wind_of_the_remarks_up_to_each_time() -> None:
    reports = used("0250 ; RMK PK WND 27050/0212", "0350 ; RMK PK WND 27038/0312", "0450 ; RMK PK WND 27061/0412")
    times = np.array([at(time) for time in ("0200", "0212", "0330", "0411", "0412", "0530")])

    def peaks(since_s: float) -> list[float]:
        return ended.peak_wind_kt(reports, times, since_s).tolist()  # type: ignore[arg-type]

    assert peaks(-inf) == peaks(at("0212")) == [0, 50, 50, 50, 61, 61]
    # an aircraft that came a minute after the first
    assert peaks(at("0213")) == [0, 0, 38, 38, 61, 61]
    assert ended.peak_wind_kt(used("0450 "), times, -inf).tolist() == [0] * 6  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("groups", "since", "counts"),
    [
        # it hailed in the newest report, and who came within the hour after it may have come into it
        (("0450 GR",), "0449", 1),
        (("0450 GR",), "0451", 1),
        (("0450 GR",), "0550", 1),
        (("0450 GR",), "0551", 0),
        # it hailed in the report before the newest, which had none: over before the aircraft came
        (("0420 GR", "0450"), "0451", 0),
        (("0420 GR", "0450"), "0450", 1),
        # what the newest report says of before it is over as well
        (("0450 ; REGR",), "0451", 0),
    ],
)
def test_hail_that_went_on_in_the_newest_report_may_have_met_who_came_after_it(
    groups: tuple[str, ...], since: str, counts: int
) -> None:
    assert flag("recent_hail", used(*groups), "0600", since) == [counts]


# a treatment


def test_a_treatment_ends_what_is_asked_of_the_aircraft_and_not_what_is_asked_of_the_ground() -> None:
    # freezing rain up to 04:33, treated at 05:00; lately is two hours
    reports = used("0450 ; RMK FZRAB0410E33")
    times = np.array([at(time) for time in ("0409", "0410", "0459", "0500", "0633", "0634")])

    def flags(name: str, treated: str) -> list[int]:
        treated_s = at(treated) if treated else None
        return ended.columns(reports, times, -inf, treated_s)[name].tolist()  # type: ignore[arg-type]

    for name in ("recent_freezing", "recent_rain", "recent_precipitation"):
        assert flags(name, "") == [0, 1, 1, 1, 1, 0], name
    for name in ("recent_freezing", "recent_rain"):
        assert flags(name, "0500") == [0, 1, 1, 0, 0, 0], name
        # one while it fell took off no more than had fallen
        assert flags(name, "0432") == [0, 1, 1, 1, 1, 0], name
        assert flags(name, "0433") == [0, 1, 0, 0, 0, 0], name
    assert flags("recent_precipitation", "0500") == [0, 1, 1, 1, 1, 0]


# what blew within the hour


def blown(reports: tuple[object, ...], times: str) -> tuple[list[float], list[bool]]:
    kt, lost = ended.blown_kt(reports, np.array([at(time) for time in times.split()]))  # type: ignore[arg-type]
    return kt.tolist(), lost.tolist()


def of_wind(*groups: str) -> tuple[object, ...]:
    """Reports of 10 January: time, wind, and what stands behind RMK."""
    texts = [f"METAR KZZA 10{time}Z {wind} 9999 CLR 05/M02 A2990 {rest}" for time, wind, rest in map(split, groups)]
    return series.in_order(metar.read_all("\n".join(texts), now=NOW))


def split(one: str) -> tuple[str, str, str]:
    time, wind, *rest = one.split(" ", 2)
    return time, wind, f"RMK {rest[0]}" if rest else ""


def test_what_blew_within_the_hour_is_the_strongest_of_it_to_the_minute() -> None:
    # 30 kt at 03:50, a peak of 52 kt at 04:12, 38 kt at 04:20 and no gust at 04:50
    reports = of_wind("0350 24018G30KT", "0420 24020G38KT PK WND 24052/0412", "0450 24010KT")
    kt, lost = blown(reports, "0349 0350 0411 0412 0450 0512 0513 0520 0521")
    assert kt == [0, 30, 30, 52, 52, 52, 38, 38, 0] and not any(lost)
    # a peak of which no speed was read, and one without a gust beside it
    assert blown(of_wind("0450 24010KT PK WND 24035/0412"), "0411 0412 0512 0513")[0] == [0, 35, 35, 0]


def test_a_report_that_lost_its_wind_leaves_its_hour_untold() -> None:
    for wind, untold in (("/////KT", True), ("24020G//KT", True), ("24010KT", False), ("24018G30KT", False)):
        wanted = [False, untold, untold, False]
        assert blown(of_wind(f"0450 {wind}"), "0449 0450 0550 0551")[1] == wanted, wind


def test_the_grid_has_the_end_of_each_hour_in_which_it_blew() -> None:
    reports = of_wind("0350 24018G30KT", "0420 24010KT PK WND 24052/0412", "0450 24010KT")
    found = ended.lulls(reports)  # type: ignore[arg-type]
    assert [text(moment) for moment in found] == ["0450", "0512"] and all(isinstance(moment, int) for moment in found)

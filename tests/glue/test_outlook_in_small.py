"""Single lines of the outlook, each by a situation as small as it can be, worked by hand; hours of 10 January 2027."""

from __future__ import annotations

import numpy as np
import pytest
from subject import BASE_CASES, TREATMENT_CATEGORIES, metar, stations
from worked import CENTRAL, CHILL, COLD, NOW, PLACE, WINDY, build, clock, sun_course, when

from advisor.outlook.join import join_flags, worst

CASES = len(BASE_CASES)
FAIR = "METAR ZZZA 100530Z 24012G25KT 9999 SCT030 03/01 Q1013"


def test_before_it_was_parked_an_aircraft_stood_for_no_time() -> None:
    reports = "\n".join(f"METAR ZZZA 10{at}Z 24012KT 9999 SCT030 03/01 Q1013" for at in ("0330", "0530"))
    found = build(reports, parked_since=int(clock(4.5)))
    stood = found.columns["parked_h"][0]
    assert [stood[when(found, hour)] for hour in (3.5, 4.25, 4.5, 5.5)] == [0, 0, 0, 1]


def test_of_groups_that_share_a_lane_the_central_case_keeps_the_cloud_of_the_first_and_takes_the_most_wind() -> None:
    first, second = (np.full((CASES, 1), value) for value in (0.5, 0.25))
    assert worst("cloud_fraction", first, second)[CENTRAL] == [0.5]
    assert worst("cloud_fraction", second, first)[CENTRAL] == [0.25]
    assert worst("wind_kt", first, second)[CENTRAL] == worst("wind_kt", second, first)[CENTRAL] == [0.5]
    # the clear cases take the clearer of both, the dark one the darker
    assert [worst("cloud_fraction", first, second)[row, 0] for row in (COLD, WINDY)] == [0.25, 0.5]


def test_a_group_that_follows_another_holds_alone_in_its_time() -> None:
    groups = "TEMPO 1006/1007 24030G45KT TEMPO 1007/1008 24005KT"
    found = build("", forecast=f"TAF ZZZA 100500Z 1005/1111 24020G35KT 9999 SCT030 {groups}", ahead_min=140)
    wind = np.broadcast_to(found.columns["wind_kt"], found.shape)[CASES]
    # before, in the first, in the second (not the stronger wind below it), and after
    assert [wind[when(found, hour)] for hour in (5.5, 6.5, 7.5, 8.0)] == [20, 30, 5, 20]


def test_only_flags_are_joined_as_flags_and_only_those_that_both_have() -> None:
    first = {"recent_rain": np.array([[0]], dtype=np.int8), "peak_wind_kt": np.array([[50.0]])}
    second = dict.fromkeys(("recent_rain", "recent_snow"), first["recent_rain"]) | {"peak_wind_kt": np.zeros((1, 1))}
    assert list(join_flags(first, second)) == ["recent_rain"]


def test_a_wind_has_an_upper_end_for_six_hours_and_not_a_second_more() -> None:
    found = build(FAIR, ahead_min=400, also=(int(clock(11.5)) + 1,))
    for name in ("wind_kt", "gust_kt"):
        assert np.isfinite(found.columns[name][WINDY, when(found, 11.5)]), name
        assert np.isnan(found.columns[name][WINDY, when(found, 11.5 + 1 / 3600)]), name


def test_eight_hours_after_its_report_a_sky_may_be_clear_or_covered_and_no_more_than_that() -> None:
    found = build(FAIR, ahead_min=500)
    for hour in (13.5, 14.0):
        assert [found.columns["cloud_fraction"][row, when(found, hour)] for row in (COLD, WINDY)] == [0, 1]


@pytest.mark.parametrize(
    ("weather", "air", "told"),
    [("SN", "12", True), ("SN", "10", True), ("SN", "09", False), ("SN", "//", False), ("RA", "12", False)],
)
def test_snow_in_air_of_ten_degrees_and_more_is_doubted(weather: str, air: str, told: bool) -> None:
    report = metar.read(f"METAR ZZZA 100530Z 24012KT 3000 {weather} OVC030 {air}/M02 Q1013", now=NOW)
    assert bool(stations.doubtful(report)) is told


def test_between_the_report_and_an_extreme_the_central_air_follows_the_sun_of_the_place() -> None:
    # 3 °C at 05:30, at the highest 9 °C at 13: by the sun's course at 61.4° north 9.8° east
    forecast = "TAF ZZZA 100500Z 1005/1111 24012KT 9999 SCT030 TX09/1013Z"
    found = build(FAIR, ahead_min=300, forecast=forecast)
    sun = [sun_course(clock(hour), PLACE.latitude_deg, PLACE.longitude_deg) for hour in (5.5, 10.0, 13.0)]
    share = min(max((sun[1] - sun[0]) / (sun[2] - sun[0]), 0.0), 1.0)
    assert 0.0 <= share < 0.5
    air = found.columns["air_temperature_c"][CENTRAL, when(found, 10.0)]
    assert air == pytest.approx(3 + 6 * share, abs=0.05)


def test_without_a_report_a_forecast_of_the_united_states_is_read_by_their_rules() -> None:
    # small hail there is coded GS and treated as snow pellets, elsewhere as ice pellets
    classes = {}
    for station in ("KZZA", "ZZZA"):
        text = f"TAF {station} 100500Z 1005/1111 24012KT 9999 SCT030 TEMPO 1005/1009 2000 GS"
        found = build("", forecast=text)
        classes[station] = found.columns["treatment_classes"][CASES, when(found, 6.0)]
    names = {name: 1 << at for at, name in enumerate(TREATMENT_CATEGORIES)}
    assert classes == {"KZZA": names["snow pellets or grains"], "ZZZA": names["ice pellets"]}


def test_an_fm_group_that_changes_the_wind_alone_ends_the_observed_wind_and_nothing_else() -> None:
    # reported at 05:30 with 12 kt and no weather; the forecast has rain throughout, and a gale from 06:00
    base = "TAF ZZZA 100500Z 1005/1111 24012KT 9999 RA SCT030"
    found = build(FAIR.replace("G25", ""), forecast=f"{base} FM100600 24035G55KT 9999 RA SCT030", ahead_min=120)
    for hour, mean, gust in ((5.5, 12, 12), (5 + 11 / 12, 12, 12), (6.0, 35, 55), (7.0, 35, 55)):
        at = when(found, hour)
        assert [found.columns[name][CENTRAL, at] for name in ("wind_kt", "gust_kt")] == [mean, gust], hour
        # a report of no rain speaks for two hours, as long as no forecast of the weather changes
        assert found.columns["rain"][CENTRAL, at] == 0, hour
    # a change of the weather brings its wind as well, where it blows harder
    wet = build(
        FAIR.replace("G25", ""),
        forecast="TAF ZZZA 100500Z 1005/1111 24030KT 9999 SCT030 FM100600 24030KT 9999 RA SCT030",
        ahead_min=120,
    )
    at = when(wet, 7.0)
    assert (wet.columns["wind_kt"][CENTRAL, at], wet.columns["rain"][CENTRAL, at]) == (30, 1)


@pytest.mark.parametrize("change", ["FM100600 25010KT 9999 SCT030", "FM100600 25010KT 9999 RA SCT030"])
def test_a_forecast_change_takes_nothing_off_a_wind_that_was_seen_for_two_hours(change: str) -> None:
    # DESIGN: no case takes more than 3 kt off a reported wind in the first 90 minutes; seen at 05:30
    forecast = f"TAF ZZZA 100300Z 1005/1111 24010KT 9999 SCT030 {change}"
    found = build(FAIR.replace("24012G25KT", "24028G45KT"), forecast=forecast, ahead_min=150)
    for hour, mean, gust in ((6.0, 28, 45), (7.5, 28, 45), (7.5 + 1 / 12, 10, 10)):
        at = when(found, hour)
        assert [found.columns[name][CENTRAL, at] for name in ("wind_kt", "gust_kt")] == [mean, gust], hour
    # of a wind that was lost the forecast's is told, and stays not known in the windy cases
    lost = build(FAIR.replace("24012G25KT", "/////KT"), forecast=forecast, ahead_min=150).columns["gust_kt"]
    at = when(found, 7.0)
    assert lost[CENTRAL, at] == 10 and np.isnan(lost[[WINDY, CHILL], at]).all()
    unread = FAIR.replace("24012G25KT", "24012KT"), forecast.replace("25010KT", "/////KT")
    kept = build(unread[0], forecast=unread[1], ahead_min=150).columns["gust_kt"]
    assert kept[CENTRAL, at] == 12 and np.isnan(kept[[WINDY, CHILL], at]).all()

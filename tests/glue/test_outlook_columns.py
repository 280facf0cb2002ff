"""The outlook's columns, one METAR (or METAR and TAF) at a time, every number worked by hand.

Half-widths are read from the published tables of persistence; which end a case takes is DESIGN.md's table of cases:
central; cold, moist, calm (1/√3 of each doubt); clear, adverse skin; warm, moist, windy; cold, windy.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from subject import BASE_CASES, ReportError, Site, ahead_tables, metar, outlook, series
from worked import ADVERSE, CENTRAL, CHILL, COLD, NOW, THIRD, WINDY, build, clock, departure, half_width, when

from advisor.conditions import NO, UNKNOWN, YES
from advisor.outlook.join import join_flags

WIND_12 = "METAR ZZZA 100530Z 24012KT 3000 BR SCT012 03/01 Q1013"
CASES = len(BASE_CASES)
ALL = (CENTRAL, COLD, ADVERSE, WINDY, CHILL)


def values(found: object, name: str, hour: float) -> dict[int, float]:
    column = np.broadcast_to(found.columns[name], found.shape)  # type: ignore[attr-defined]
    return {row: float(column[row, when(found, hour)]) for row in ALL}  # type: ignore[arg-type]


# wind


def test_published_half_widths_of_the_wind_are_those_that_these_tests_work_with() -> None:
    less = [half_width(ahead_tables.WIND_LESS_KT, lead) for lead in (1.0, 2.0, 3.0, 6.0)]
    more = [half_width(ahead_tables.WIND_MORE_KT, lead) for lead in (1.0, 2.0, 3.0, 6.0)]
    assert (less, more) == ([3.4, 4.2, 4.8, 6.0], [3.5, 4.2, 4.8, 6.2])
    assert [half_width(ahead_tables.GUST_MORE_KT, lead) for lead in (1.0, 2.0)] == [4.2, 5.2]
    assert [half_width(ahead_tables.GUST_LESS_KT, lead) for lead in (1.0, 2.0)] == [4.4, 5.2]
    assert half_width(ahead_tables.WIND_MORE_KT, 9.0) == 7.0


@pytest.mark.parametrize(
    ("hour", "less", "more"),
    # an hour on the low end is 3.4, of which no case takes more than 3 in the first 90 minutes; at 90 minutes half of
    # the way from 3.5 to 4.2; at 2 h 4.2 both ways, at 4.5 h half of the way from 4.8 to 6.0 and 6.2
    [(5.5, 0, 0), (6.5, 3, 3.5), (7.0, 3, 3.85), (7.5, 4.2, 4.2), (10.0, 5.4, 5.5)],
)
def test_wind_by_case_and_lead(hour: float, less: float, more: float) -> None:
    found = build(WIND_12, ahead_min=300)
    wanted = {CENTRAL: 12, COLD: 12 - THIRD * less, ADVERSE: 12, WINDY: 12 + more, CHILL: 12 + more}
    assert values(found, "wind_kt", hour) == pytest.approx(wanted)


def test_six_hours_after_its_report_the_wind_has_no_upper_end_without_a_forecast() -> None:
    found = build(WIND_12.replace("24012KT", "24012G25KT"), ahead_min=400)
    for name, central in (("wind_kt", 12), ("gust_kt", 25)):
        assert not np.isnan(list(values(found, name, 11.5).values())).any(), name
        later = values(found, name, 11.5 + 1 / 12)
        assert np.isnan(later[WINDY]) and np.isnan(later[CHILL]), name
        assert later[CENTRAL] == later[ADVERSE] == central and later[COLD] < central, name
    # the skin's wind keeps the band: at 6 h 05 6.2 and a 36th of the way to the 7.0 of 9 h
    skin = values(found, "skin_wind_kt", 11.5 + 1 / 12)
    assert skin[WINDY] == skin[CHILL] == pytest.approx(12 + 6.2 + 0.8 / 36)
    # a forecast says it for then
    told = build(BASE, forecast=STRONGER, ahead_min=400)
    assert values(told, "wind_kt", 11.5 + 1 / 12)[WINDY] == 23.5


def test_wind_never_falls_below_calm() -> None:
    # 2 kt less 3 is calm: a 1/√3 of the way from 2 to 0
    found = build("METAR ZZZA 100530Z 24002KT CAVOK 03/01 Q1013")
    assert values(found, "wind_kt", 6.5)[COLD] == pytest.approx(2 - 2 * THIRD)


def test_a_station_far_away_widens_the_wind_both_ways() -> None:
    # 45 km: 40 beyond the first 5, at 0.1 kt a km 4 kt
    found = build(WIND_12.replace("24012KT", "24012G25KT"), site=Site(45.0, 0.0))
    assert values(found, "wind_kt", 6.5) == pytest.approx(
        {CENTRAL: 12, COLD: 12 - THIRD * 7, ADVERSE: 12, WINDY: 19.5, CHILL: 19.5}
    )
    assert values(found, "gust_kt", 6.5) == pytest.approx(
        {CENTRAL: 25, COLD: 25 - THIRD * 7, ADVERSE: 25, WINDY: 33.2, CHILL: 33.2}
    )


@pytest.mark.parametrize(
    ("hour", "less", "high"),
    # the low end is the gust's own: 4.4, of which no case takes more than 3 in the first 90 minutes, and 5.2 at 2 h;
    # the high end the larger of the mean's own and 13, 28.5, and the gust's own, 25 + 4.2; at 2 h 16.2 + 13 = 29.2 and
    # 25 + 5.2
    [(5.5, 0, 25), (6.5, 3, 29.2), (7.5, 5.2, 30.2)],
)
def test_a_reported_gust_by_case_and_lead(hour: float, less: float, high: float) -> None:
    found = build(WIND_12.replace("24012KT", "24012G25KT"), ahead_min=200)
    wanted = {CENTRAL: 25, COLD: 25 - THIRD * less, ADVERSE: 25, WINDY: high, CHILL: high}
    assert values(found, "gust_kt", hour) == pytest.approx(wanted)


def test_a_weak_mean_under_a_gust_does_not_hold_it_up() -> None:
    # at 2 h the mean of 2 kt can fall by 2 alone, and the gust of 25 by 5.2; 70 km away 5 more
    for away, less in ((0.0, 5.2), (70.0, 10.2)):
        found = build(WIND_12.replace("24012KT", "24002G25KT"), ahead_min=200, site=Site(away, 0.0))
        assert values(found, "gust_kt", 7.5)[COLD] == pytest.approx(25 - THIRD * less)


@pytest.mark.parametrize(
    ("distance_km", "hour", "less", "high"),
    # nine over the mean, 21, or the wind's own high end where that is more: 70 km away 5 kt, with 5.5 at 4.5 h 22.5
    [(0, 5.5, 0, 21), (0, 6.5, 3, 21), (0, 10.0, 5.4, 21), (70, 5.5, 5, 21), (70, 10.0, 10.4, 22.5)],
)
def test_without_a_gust_the_mean_stands_but_in_the_windy_cases(
    distance_km: float, hour: float, less: float, high: float
) -> None:
    found = values(build(WIND_12, ahead_min=300, site=Site(distance_km, 0.0)), "gust_kt", hour)
    assert found == pytest.approx({CENTRAL: 12, COLD: 12 - THIRD * less, ADVERSE: 12, WINDY: high, CHILL: high})


def test_a_gust_that_was_lost_has_no_bound_in_any_case() -> None:
    found = values(build("METAR ZZZA 100530Z 24012G//KT CAVOK 03/01 Q1013"), "gust_kt", 5.5)
    assert all(np.isnan(found[row]) for row in ALL)


def test_the_direction_holds_for_two_hours_and_then_in_the_central_case_only() -> None:
    found = build(WIND_12, ahead_min=200)
    for hour in (5.5, 7.5):
        assert set(values(found, "wind_direction_deg", hour).values()) == {240.0}
    later = values(found, "wind_direction_deg", 7.5 + 1 / 12)
    assert later[CENTRAL] == 240 and all(np.isnan(later[row]) for row in ALL[1:])


@pytest.mark.parametrize("group", ["VRB03KT", "00000KT", "/////KT"])
def test_a_wind_without_a_direction_has_none(group: str) -> None:
    found = build(f"METAR ZZZA 100530Z {group} CAVOK 03/01 Q1013")
    assert np.isnan(found.columns["wind_direction_deg"]).all()


def test_the_skin_takes_calm_for_an_unknown_wind_and_the_wind_where_it_is_known() -> None:
    assert (build("METAR ZZZA 100530Z /////KT CAVOK 03/01 Q1013").columns["skin_wind_kt"] == 0).all()
    found = build(WIND_12)
    assert (found.columns["skin_wind_kt"] == found.columns["wind_kt"]).all()


# cloud and light


@pytest.mark.parametrize(
    ("hour", "low", "high"),
    # SCT is 3 to 4 eighths, and nothing is seen above it: up to 7/8 as long as two hours; from there to 8 h all is
    # given up in proportion: at 5 h half of what is left, at 8 h the whole
    [(5.5, 3 / 8, 7 / 8), (7.5, 3 / 8, 7 / 8), (10.5, 3 / 16, 15 / 16), (13.5, 0, 1)],
)
def test_cloud_by_case_and_lead(hour: float, low: float, high: float) -> None:
    found = build(WIND_12, ahead_min=500)
    wanted = {CENTRAL: 3.5 / 8, COLD: low, ADVERSE: low, WINDY: high, CHILL: 3.5 / 8}
    assert values(found, "cloud_fraction", hour) == pytest.approx(wanted)
    assert values(found, "cloud_base_m", hour) == pytest.approx(dict.fromkeys(ALL, 1200 * 0.3048))


@pytest.mark.parametrize(
    ("sky", "low", "usual", "high"),
    # divisors by covered part: clear 1 1 1, to a quarter 1 1 2, to a half 1 1 3, broken 1 2 3, overcast 3 3 10
    [
        ("9999 SKC", 1, 1, 2),  # up to an eighth
        ("9999 SCT012", 1, 1, 3),
        ("9999 BKN012", 1, 2, 3),
        ("9999 OVC012", 3, 3, 10),
        ("9999 //////", 1, 3, 10),  # not known
        ("5000 -RA SCT012", 1, 1, 10),  # what falls is dark
    ],
)
def test_what_the_sky_divides_light_by(sky: str, low: float, usual: float, high: float) -> None:
    found = build(f"METAR ZZZA 100530Z AUTO 24012KT {sky} 03/01 Q1013")
    wanted = {CENTRAL: usual, COLD: low, ADVERSE: low, WINDY: high, CHILL: usual}
    assert values(found, "sky_divisor", 5.5) == wanted


def test_a_sky_that_is_not_known_is_clear_for_the_skin_and_covered_for_the_light() -> None:
    found = build("METAR ZZZA 100530Z AUTO 24012KT 9999 ////// 03/01 Q1013")
    assert values(found, "cloud_fraction", 5.5) == {CENTRAL: 0, COLD: 0, ADVERSE: 0, WINDY: 1, CHILL: 0}
    assert set(values(found, "cloud_base_m", 5.5).values()) == {300.0}


# weather


@pytest.mark.parametrize(
    ("report", "now", "milder"),
    [
        # before sunrise air cools least under cloud; on an April morning it warms most under none
        ("METAR ZZZA 100330Z 24012KT 3000 {} 03/01 Q1013", NOW, "OVC030"),
        ("METAR ZZZA 100700Z 24012KT 3000 {} 03/01 Q1013", datetime(2027, 4, 10, 9, 0, tzinfo=UTC), "SKC"),
    ],
)
def test_under_a_sky_that_nobody_described_the_unwarmed_cases_stand_in_milder_air_too(
    report: str, now: datetime, milder: str
) -> None:
    described = {sky: build(report.format(sky), now=now) for sky in ("OVC030", "SKC")}
    assert all(len(found.cases) == CASES for found in described.values())
    lost = build(report.format("//////"), now=now)
    assert [case.name for case in lost.cases][CASES:] == [
        "cold, moist, calm, milder air",
        "clear, adverse skin, milder air",
        "cold, windy, milder air",
        "warm, moist, windy, clear sky",
    ]
    air = {sky: found.columns["air_temperature_c"] for sky, found in described.items()}
    colder = next(sky for sky in air if sky != milder)
    assert (air[milder][ADVERSE][1:] > air[colder][ADVERSE][1:]).all()
    for at, row in enumerate((COLD, ADVERSE, CHILL), CASES):
        assert lost.cases[at].loss == lost.cases[row].loss and lost.cases[at].lasts
        both = air["OVC030"][row], air["SKC"][row]
        np.testing.assert_allclose(lost.columns["air_temperature_c"][at], np.maximum(*both))
        np.testing.assert_allclose(lost.columns["air_temperature_c"][row], np.minimum(*both))
        for name, column in lost.columns.items():
            if name not in ("air_temperature_c", "dew_point_c", "fuel_temperature_c", "assumed_fuel_temperature_c"):
                every = np.broadcast_to(column, lost.shape)
                np.testing.assert_array_equal(every[at], every[row], err_msg=name)
    # the warm case once more under the sky of the cold one: a canopy in the sun needs both warm air and few clouds
    warm = CASES + 3
    for name, column in lost.columns.items():
        every = np.broadcast_to(column, lost.shape)
        of = COLD if name in ("cloud_fraction", "sky_divisor") else WINDY
        np.testing.assert_array_equal(every[warm], every[of], err_msg=name)
    assert (lost.columns["cloud_fraction"][warm] == 0).all() and (lost.columns["cloud_fraction"][WINDY] == 1).all()


def test_under_a_sky_that_nobody_described_each_group_lies_on_the_milder_cases_too() -> None:
    found = build(
        "METAR ZZZA 100330Z 24012KT 3000 ////// 03/01 Q1013",
        forecast="TAF ZZZA 100300Z 1003/1012 24012KT 3000 OVC030 PROB40 1003/1012 DZ TEMPO 1003/1012 24030G45KT",
    )
    names = [case.name for case in found.cases]
    base, beside = names[:CASES], names[3 * CASES : 3 * CASES + 4]
    lanes = [case.lane for case in found.cases[: 3 * CASES : CASES]]
    assert len(names) == 3 * CASES + 3 * 4 and len({*names}) == len(names) and lanes[0] == ""
    assert names == [f"{one}; {lane}" if lane else one for rows in (base, beside) for lane in lanes for one in rows]
    drizzle, gust = (np.broadcast_to(found.columns[name], found.shape)[:, -1] for name in ("drizzle", "gust_kt"))
    for name, wet, blown in zip(names, drizzle, gust, strict=True):
        assert (wet == 1) == ("PROB40" in name), name
        assert (blown >= 40) == ("TEMPO" in name), name


def test_rain_by_case_is_the_low_central_and_high_rate_of_moderate_rain() -> None:
    # 2.5, 5 and 10 mm/h (WMO-No. 8, from memory) by the skin's variant
    found = build("METAR ZZZA 100530Z 24012KT 3000 RA OVC012 05/04 Q1013")
    wanted = {CENTRAL: 5, COLD: 5, ADVERSE: 10, WINDY: 2.5, CHILL: 5}
    assert values(found, "rain_rate_mm_h", 5.5) == wanted
    assert found.precipitation_text[0][0] == "RA"


def test_flags_codes_and_class_of_heavy_snow_and_mist() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 0800 +SN BR OVC004 M03/M04 Q1013")
    for name, wanted in (
        ("snow", 1),
        ("mist", 1),
        ("heavy_precipitation", 1),
        ("frozen_precipitation", 1),
        ("rain", 0),
        ("thunderstorm", 0),
        ("fog", 0),
        ("snow_intensity_code", 4),
        ("visibility_m", 800),
        ("lightning", 0),
        ("rain_rate_mm_h", 0),
    ):
        assert set(values(found, name, 5.5).values()) == {wanted}, name


def test_lightning_or_storm_cloud_in_the_remarks_is_lightning() -> None:
    for remark, wanted in (("LTG DSNT W", 1), ("CB DSNT W", 1), ("SLP130", 0)):
        found = build(f"METAR KZZA 100530Z 24012KT 10SM SCT030 15/05 A2990 RMK AO2 {remark}")
        assert set(values(found, "lightning", 5.5).values()) == {wanted}, remark


def test_rain_near_zero_freezes_in_the_cases_that_are_cold_enough() -> None:
    # reported 0 °C, half a degree of rounding: 0 is cold enough, the warm end 0.5 °C is not
    found = build("METAR ZZZA 100530Z 24012KT 3000 RA OVC012 00/M01 Q1013")
    wanted = {CENTRAL: 1, COLD: 1, ADVERSE: 1, WINDY: 0, CHILL: 1}
    assert values(found, "freezing_precipitation", 5.5) == wanted
    assert values(found, "air_temperature_c", 5.5)[WINDY] == pytest.approx(0.5)


def test_rain_that_was_seen_is_over_in_the_central_case_after_two_hours_and_goes_on_in_the_others() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 3000 RA OVC012 05/04 Q1013", ahead_min=200)
    for hour, central in ((7.5, 1), (7.5 + 1 / 12, 0)):
        assert values(found, "rain", hour) == {CENTRAL: central, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}
        assert values(found, "rain_rate_mm_h", hour) == {
            CENTRAL: 5 * central,
            COLD: 5,
            ADVERSE: 10,
            WINDY: 2.5,
            CHILL: 5,
        }
    text = found.precipitation_text[0]
    assert text[when(found, 7.5)] == "RA"
    assert text[when(found, 8.0)] == "not forecast (at the report: RA)"


def test_what_was_not_seen_is_not_known_after_two_hours_in_the_others() -> None:
    # 2 °C: at 5 °C the warm case has more than 8 two and a half hours on, and in such air it snows in no case
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT012 02/01 Q1013", ahead_min=200)
    for name in ("snow", "rain", "hail", "thunderstorm", "fog"):
        assert set(values(found, name, 7.5).values()) == {0}, name
        assert values(found, name, 8.0) == {CENTRAL: 0, COLD: -1, ADVERSE: -1, WINDY: -1, CHILL: -1}, name
    # nobody forecasts ash or blowing snow from nothing
    assert set(values(found, "volcanic_ash", 8.0).values()) == {0}
    rate = values(found, "rain_rate_mm_h", 8.0)
    assert rate[CENTRAL] == 0 and all(np.isnan(rate[row]) for row in ALL[1:])


def test_what_falls_counts_as_not_known_where_the_group_is_missing() -> None:
    found = build("METAR ZZZA 100530Z AUTO 24012KT 9999 // SCT012 02/01 Q1013")
    for name in ("snow", "rain", "freezing_precipitation", "precipitation_any"):
        assert set(values(found, name, 5.5).values()) == {-1}, name
    assert np.isnan(found.columns["rain_rate_mm_h"]).all()
    assert found.precipitation_text[0][0] == "not reported"


# times


def test_the_grid_of_a_short_departure_written_out() -> None:
    # now 05:32, off-block 06:02, walk 05:32-05:37, doors 05:32-05:57, take-off 06:17; parked at 05:02; heard 05:20
    now = NOW + timedelta(minutes=2)
    asked = departure(30, now=now, parked_since=int(now.timestamp()) - 1800)
    times = [f"{datetime.fromtimestamp(t, UTC):%H%M}" for t in outlook.grid(asked, (int(clock(5 + 20 / 60)),))]
    assert times == [
        "0502",
        "0515",
        "0520",
        "0530",
        "0532",
        "0535",
        "0537",
        "0540",
        "0545",
        "0550",
        "0555",
        "0557",
        "0600",
        "0602",
        "0605",
        "0610",
        "0615",
        "0617",
    ]


def test_the_grid_reaches_back_48_hours_and_leaves_out_what_lies_outside() -> None:
    start = int(NOW.timestamp())
    asked = departure(30, parked_since=start - 50 * 3600)
    times = outlook.grid(asked, (start - 49 * 3600, start + 99_999))
    assert times[0] == start - 48 * 3600 and times[-1] == asked.windows.take_off
    assert outlook.grid(departure(30), (start - 60,))[0] == start
    # the times are UTC seconds
    assert times.dtype == np.float64


def test_the_report_to_go_by_is_the_last_one_that_says_something() -> None:
    read = metar.read_all(
        "METAR ZZZA 100420Z 24008KT CAVOK 02/M01 Q1013\nMETAR ZZZA 100450Z 24009KT CAVOK 02/M01 Q1013\n"
        "SPECI ZZZA 100450Z 24010KT CAVOK 02/M01 Q1013\nMETAR ZZZA 100520Z NIL",
        now=NOW,
    )
    assert series.newest(read).wind_kt == 10  # type: ignore[union-attr]
    assert [one.wind_kt for one in series.in_order(read)] == [8, 10]
    assert series.newest(read[-1:]) is None and series.newest([]) is None
    times = np.array([clock(hour) for hour in (4, 4 + 20 / 60, 4.75, 5, 9)])
    at = series.governing(series.in_order(read), times)
    assert list(at) == [0, 0, 0, 1, 1]


def test_without_anything_to_go_by_it_is_refused() -> None:
    with pytest.raises(ReportError, match="anything to go by"):
        build("METAR ZZZA 100530Z NIL")


def test_what_was_asked_becomes_columns() -> None:
    found = build(
        "METAR ZZZA 100510Z 24012KT 0600 R24/0450 FG OVC001 M02/M02 Q1013",
        ahead_min=60,
        site=Site(12.0, -340.0),
        treated_at=int(clock(6)),
        parked_since=int(clock(3.5)),
        seen="frost",
        fuel_temperature_c=-7.0,
        fuel_fill_pct=40.0,
    )
    at = when(found, 6.25)
    one = {name: float(np.broadcast_to(column, found.shape)[CENTRAL, at]) for name, column in found.columns.items()}
    wanted = {
        "treated": 1,
        "ahead_min": 45,
        "off_block_in_min": 60,
        "report_age_min": 20,
        "station_distance_km": 12,
        "station_height_difference_m": 340,
        "runway_visual_range_m": 450,
        "aerodrome_closed": 0,
        "parked_h": 2.75,
        "fuel_temperature_assumed": 0,
        "fuel_temperature_c": -7,
        "deposit_seen": 1,
    }
    assert {name: one[name] for name in wanted} == wanted
    treated = np.broadcast_to(found.columns["treated"], found.shape)[0]
    assert list(treated[[when(found, 5.75), when(found, 6.0)]]) == [0, 1]
    assert found.not_stated == () and found.now_s == NOW.timestamp() and found.fuel_fill_pct == 40
    assert found.treated_at_s == clock(6) and (found.latitude_deg, found.longitude_deg) == (61.4, 9.8)
    losses = {CENTRAL: "central", COLD: "central", ADVERSE: "high", WINDY: "low", CHILL: "central"}
    assert {row: found.cases[row].loss for row in ALL} == losses
    assert found.cases[COLD].name == "cold, moist, calm" and found.cases[COLD].source == "case-table"
    assert "assumed_fuel_temperature_c" not in found.columns


def test_what_was_not_asked_is_named_and_not_claimed() -> None:
    found = build(WIND_12)
    assert set(found.not_stated) == {"parked since", "fuel temperature"}
    assert (found.columns["treated"] == 0).all() and (found.columns["deposit_seen"] == 0).all()
    assert np.isnan(found.columns["parked_h"]).all() and np.isnan(found.parked_since_s)
    assert (found.columns["fuel_temperature_assumed"] == 1).all()
    assert np.isnan(found.columns["fuel_temperature_c"]).all()
    assert np.isnan(found.columns["runway_visual_range_m"]).all() and found.treated_at_s is None


def test_fuel_that_was_not_stated_is_assumed_as_the_air_at_the_beginning() -> None:
    found = build(WIND_12, ahead_min=200, parked_since=int(clock(3)))
    now_air = found.columns["air_temperature_c"][:, [when(found, 5.5)]]
    assumed = np.broadcast_to(found.columns["assumed_fuel_temperature_c"], found.shape)
    assert (assumed == now_air).all()
    flown_low = build(WIND_12, ahead_min=200, fuel_stays_cold=False)
    assert (flown_low.columns["fuel_temperature_c"] == flown_low.columns["air_temperature_c"][:, :1]).all()


def test_a_closed_aerodrome_is_a_flag() -> None:
    found = build("METAR ZZZA 100530Z 24012KT CAVOK 03/01 Q1013 R/SNOCLO")
    assert (found.columns["aerodrome_closed"] == 1).all()


# the forecast beside the report

BASE = "METAR ZZZA 100530Z 24008KT 9999 SCT030 03/01 Q1013"
STRONGER = "TAF ZZZA 100500Z 1005/1111 30020KT 2000 -RA OVC010"


def test_report_and_forecast_joined_for_two_hours_and_the_forecast_alone_after() -> None:
    # a forecast's wind is as sure as a report's is an hour later: 20 less 3, more 3.5
    found = build(BASE, forecast=STRONGER, ahead_min=200)
    assert values(found, "wind_kt", 6.5) == pytest.approx(
        {CENTRAL: 8, COLD: 8 - THIRD * 3, ADVERSE: 8, WINDY: 23.5, CHILL: 23.5}
    )
    assert values(found, "wind_kt", 8.0) == pytest.approx(
        {CENTRAL: 20, COLD: 20 - THIRD * 3, ADVERSE: 20, WINDY: 23.5, CHILL: 23.5}
    )
    assert values(found, "visibility_m", 6.5) == {CENTRAL: 10_000, COLD: 2000, ADVERSE: 2000, WINDY: 2000, CHILL: 2000}
    assert set(values(found, "visibility_m", 8.0).values()) == {2000}
    assert values(found, "rain", 6.5) == {CENTRAL: 0, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}
    assert set(values(found, "rain", 8.0).values()) == {1}
    # light rain: 0.1, 1 and 2.5 mm/h
    assert values(found, "rain_rate_mm_h", 6.5) == {CENTRAL: 0, COLD: 1, ADVERSE: 2.5, WINDY: 0.1, CHILL: 1}
    # two directions are none, but in the central case
    direction = values(found, "wind_direction_deg", 6.5)
    assert direction[CENTRAL] == 240 and all(np.isnan(direction[row]) for row in ALL[1:])
    assert set(values(found, "wind_direction_deg", 8.0).values()) == {300.0}
    # the clear cases keep the clearer sky, the dark case takes the darker one
    assert values(found, "cloud_fraction", 6.5) == {
        CENTRAL: 3.5 / 8,
        COLD: 3 / 8,
        ADVERSE: 3 / 8,
        WINDY: 1,
        CHILL: 3.5 / 8,
    }
    assert values(found, "sky_divisor", 6.5) == {CENTRAL: 1, COLD: 1, ADVERSE: 1, WINDY: 10, CHILL: 1}
    text = found.precipitation_text[0]
    assert (text[when(found, 6.5)], text[when(found, 8.0)]) == ("none reported", "-RA")


def test_what_has_passed_was_observed_and_is_not_forecast() -> None:
    found = build(
        BASE.replace("100530Z", "100500Z"),
        forecast=STRONGER.replace("100500Z 1005", "100400Z 1004"),
        parked_since=int(clock(5)),
        ahead_min=100,
    )
    assert values(found, "wind_kt", 5.25)[WINDY] < 23.5 and values(found, "wind_kt", 5.5)[WINDY] == 23.5
    assert values(found, "rain", 5.25)[COLD] == 0 and values(found, "rain", 5.5)[COLD] == 1


@pytest.mark.parametrize(("change", "central"), [("FM100515", 1), ("FM100615", 0)])
def test_a_change_before_the_last_report_ends_nothing_that_it_saw(change: str, central: int) -> None:
    snow = "\n".join(f"METAR ZZZA 10{time}Z 24008KT 3000 SN OVC010 M01/M02 Q1013" for time in ("0500", "0530"))
    found = build(
        snow,
        ahead_min=90,
        parked_since=int(clock(5)),
        forecast=f"TAF ZZZA 100400Z 1004/1110 24008KT 3000 SN OVC010 {change} 24008KT CAVOK",
    )
    assert values(found, "snow", 6.5) == {CENTRAL: central, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}


def test_a_forecast_alone_is_a_track_of_its_own() -> None:
    found = build("", forecast=STRONGER, ahead_min=60)
    assert values(found, "wind_kt", 6.0) == pytest.approx(
        {CENTRAL: 20, COLD: 20 - THIRD * 3, ADVERSE: 20, WINDY: 23.5, CHILL: 23.5}
    )
    assert set(values(found, "rain", 6.0).values()) == {1}
    assert np.isnan(found.columns["report_age_min"]).all()
    assert found.precipitation_text[0][0] == "-RA"


def test_before_a_forecast_begins_and_after_it_ends_nothing_is_forecast() -> None:
    found = build("", forecast="TAF ZZZA 100500Z 1006/1107 30020KT 2000 -RA OVC010", ahead_min=60)
    assert np.isnan(values(found, "wind_kt", 5.5)[CENTRAL]) and values(found, "wind_kt", 6.0)[CENTRAL] == 20
    assert set(values(found, "rain", 5.5).values()) == {-1}
    assert found.precipitation_text[0][0] == "not known"


# temporary and probable groups on top


def test_a_temporary_group_lays_what_it_says_on_top_of_each_case() -> None:
    found = build(
        BASE,
        ahead_min=300,
        forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1006/1008 27020G35KT 1500 +SN BKN008",
    )
    inside, outside = when(found, 7.0), when(found, 8.0)
    column = {name: np.broadcast_to(table, found.shape) for name, table in found.columns.items()}

    def laid(name: str) -> dict[int, float]:
        return {row: float(column[name][row + CASES, inside]) for row in ALL}

    # an hour's doubt: 20 less 3, more 3.5; the gust 35 and 15 over the mean: 23.5 + 15 or 35 + 4.2
    assert laid("wind_kt") == pytest.approx({CENTRAL: 20, COLD: 20 - 3 * THIRD, ADVERSE: 20, WINDY: 23.5, CHILL: 23.5})
    assert laid("gust_kt") == pytest.approx({CENTRAL: 35, COLD: 35 - 3 * THIRD, ADVERSE: 35, WINDY: 39.2, CHILL: 39.2})
    assert set(laid("wind_direction_deg").values()) == {270} and set(laid("visibility_m").values()) == {1500}
    assert laid("cloud_fraction") == {CENTRAL: 6 / 8, COLD: 5 / 8, ADVERSE: 5 / 8, WINDY: 7 / 8, CHILL: 6 / 8}
    assert laid("cloud_base_m") == pytest.approx(dict.fromkeys(ALL, 800 * 0.3048))
    assert laid("sky_divisor") == {CENTRAL: 2, COLD: 1, ADVERSE: 1, WINDY: 10, CHILL: 2}
    assert set(laid("snow").values()) == {1} and set(laid("snow_intensity_code").values()) == {4}
    # outside its time the lane is the case alone, and the cases without it never change
    for name in ("wind_kt", "gust_kt", "visibility_m", "cloud_fraction", "snow", "sky_divisor", "rain_rate_mm_h"):
        assert np.array_equal(column[name][CASES:, outside], column[name][:CASES, outside], equal_nan=True), name
    alone = build(BASE, ahead_min=300, forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030")
    for name in ("wind_kt", "gust_kt", "visibility_m", "cloud_fraction", "snow", "sky_divisor", "rain_rate_mm_h"):
        without = np.broadcast_to(alone.columns[name], alone.shape)
        assert np.array_equal(column[name][:CASES], without, equal_nan=True), name
    # temperatures know nothing of groups
    assert np.array_equal(column["air_temperature_c"][CASES:], column["air_temperature_c"][:CASES])
    assert found.cases[CASES + COLD].name == "cold, moist, calm; TEMPO 1006/1008" and len(found.cases) == 2 * CASES
    assert [case.loss for case in found.cases[CASES:]] == [case.loss for case in found.cases[:CASES]]


@pytest.mark.parametrize(
    ("group", "changed"),
    [
        ("27020KT", {"wind_kt", "wind_direction_deg", "gust_kt"}),
        ("1500", {"visibility_m"}),
        ("BKN008", {"cloud_fraction", "cloud_base_m", "sky_divisor"}),
    ],
)
def test_a_group_changes_what_it_mentions_and_nothing_else(group: str, changed: set[str]) -> None:
    found = build(
        BASE, ahead_min=300, forecast=f"TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 PROB40 TEMPO 1006/1008 {group}"
    )
    inside = when(found, 7.0)
    differ = {
        name
        for name, table in found.columns.items()
        if not np.array_equal(
            np.broadcast_to(table, found.shape)[CASES:, inside],
            np.broadcast_to(table, found.shape)[:CASES, inside],
            equal_nan=True,
        )
    }
    # the skin's wind follows the wind
    assert differ == changed | ({"skin_wind_kt"} if "wind_kt" in changed else set())


def test_what_may_fall_in_a_group_darkens_the_dark_case_only_while_it_falls() -> None:
    found = build(BASE, ahead_min=300, forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1006/1008 -SHRA")
    divisor = np.broadcast_to(found.columns["sky_divisor"], found.shape)[CASES:]
    for hour, dark in ((7.0, 10), (8.0, 3)):
        at = {row: divisor[row, when(found, hour)] for row in ALL}
        assert at == {CENTRAL: 1, COLD: 1, ADVERSE: 1, WINDY: dark, CHILL: 1}
    fair = build(BASE, ahead_min=300, forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1006/1008 BR")
    assert np.broadcast_to(fair.columns["sky_divisor"], fair.shape)[CASES + WINDY, when(fair, 7.0)] == 3


def test_groups_that_share_a_lane_count_with_the_worse_of_each() -> None:
    # three lanes take the first three; the fourth shares the third's: 20 kt and 15, 3000 m and 1500
    groups = "TEMPO 1006/1008 24011KT TEMPO 1006/1009 24012KT TEMPO 1006/1010 24015KT 1500 TEMPO 1007/1010 24020KT 3000"
    found = build(BASE, ahead_min=300, forecast=f"TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 {groups}")
    wind = np.broadcast_to(found.columns["wind_kt"], found.shape)[3 * CASES :]
    sight = np.broadcast_to(found.columns["visibility_m"], found.shape)[3 * CASES :]
    assert found.left_out == ("TEMPO 1007/1010",) and found.shape[0] == 4 * CASES
    assert wind[CENTRAL, when(found, 6.5)] == 15 and wind[CENTRAL, when(found, 7.5)] == 20
    assert wind[COLD, when(found, 7.5)] == pytest.approx(15 - 3 * THIRD)
    assert wind[WINDY, when(found, 7.5)] == 23.5
    assert set(sight[:, when(found, 6.5)]) == set(sight[:, when(found, 7.5)]) == {1500}


# what ended, storm cloud, and what blew


def all_of(found: object, name: str, hour: float) -> set[float]:
    return set(values(found, name, hour).values())


def test_what_ended_counts_in_every_case_and_what_falls_now_has_also_fallen_lately() -> None:
    found = build(WIND_12 + " RESN", ahead_min=200)
    # seen up to 05:30 at the latest, and so recent to 07:30; then it is not known what falls, but in the central case
    for hour in (5.5, 7.5):
        assert all_of(found, "recent_frozen", hour) == {1}
    assert values(found, "recent_frozen", 7.5 + 1 / 12) == {CENTRAL: 0, COLD: -1, ADVERSE: -1, WINDY: -1, CHILL: -1}
    raining = build("METAR ZZZA 100530Z 24012KT 3000 RA OVC012 05/04 Q1013", ahead_min=200)
    for hour in (5.5, 7.5):
        assert all_of(raining, "recent_rain", hour) == all_of(raining, "recent_precipitation", hour) == {1}
        assert all_of(raining, "recent_frozen", hour) == {0}
    # it was last seen at 05:30, and may go on in all cases but the central one
    assert values(raining, "recent_rain", 8.0) == {CENTRAL: 0, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}


def test_damage_is_told_of_what_was_observed_and_never_of_a_forecast() -> None:
    storm = "TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1005/1008 30040G60KT TSGR SQ"
    found = build(BASE, forecast=storm, ahead_min=60)
    for name in ("hail", "thunderstorm", "squall"):
        assert (found.columns[f"recent_{name}"] == 0).all() and (found.columns[f"seen_{name}"] == 0).all(), name
    # in the group's lane it hails, and that has also fallen lately
    assert found.columns["hail"][CASES + CENTRAL, when(found, 6.0)] == 1
    assert found.columns["recent_frozen"][CASES + CENTRAL, when(found, 6.0)] == 1
    seen = build(BASE.replace("SCT030", "TSGR SQ SCT030CB"), ahead_min=60)
    for name in ("hail", "thunderstorm", "squall"):
        assert all_of(seen, f"recent_{name}", 6.0) == {1}, name


def test_what_can_have_damaged_the_aircraft_counts_since_it_was_parked() -> None:
    hail = "METAR ZZZA 100430Z 24008KT 9999 GR SCT030 12/08 Q1013 RMK PK WND 27050/0415\n" + BASE
    for parked, hailed, peak in ((None, 1, 50), (4.25, 1, 50), (5.5, 1, 0), (5.55, 0, 0)):
        said = {} if parked is None else {"parked_since": int(clock(parked))}
        found = build(hail, now=NOW + timedelta(minutes=10), **said)
        assert all_of(found, "recent_hail", 6.0) == {hailed} and all_of(found, "peak_wind_kt", 6.0) == {peak}


@pytest.mark.parametrize(("remark", "depth"), [("4/012", 1), ("SLP130", 0), ("4/000", 0)])
def test_a_measured_depth_of_snow_is_a_flag(remark: str, depth: int) -> None:
    found = build(f"METAR KZZA 100530Z 24012KT 10SM SCT030 M05/M09 A2990 RMK AO2 {remark}")
    assert (found.columns["snow_depth"] == depth).all()


def test_snow_that_one_report_measured_lies_though_the_others_say_nothing_of_it() -> None:
    measured = "METAR KZZA 100330Z 24012KT 10SM SCT030 M05/M09 A2990 RMK AO2 4/012\n"
    found = build(measured + "METAR KZZA 100530Z 24012KT 10SM SCT030 M05/M09 A2990 RMK AO2")
    assert (found.columns["snow_depth"] == 1).all()


@pytest.mark.parametrize(
    ("groups", "depth"),
    # WMO-No. 306, table 0919, from memory: 0 clear and dry, 1 damp, 2 wet, 3 rime or frost, 4 dry snow, 7 ice
    [
        ("R24/090070", 0),
        ("R24/190070", 0),
        ("R24/290070", 0),
        ("R24/390150", 1),
        ("R24/490150", 1),
        ("R06/090070 R24/790120", 1),
        ("R24/CLRD70", 0),
    ],
)
def test_what_is_frozen_on_a_runway_lies_on_the_ground(groups: str, depth: int) -> None:
    found = build(f"METAR ZZZA 100530Z 24012KT 9999 SCT030 M05/M09 Q1013 {groups}")
    assert (found.columns["snow_depth"] == depth).all()


@pytest.mark.parametrize(
    ("groups", "storm", "lightning"),
    # in the central case and in the others
    [
        ("SCT030", (0, 0), (0, 0)),
        ("SCT030CB", (0, 1), (1, 1)),
        ("SCT030TCU", (0, 0), (0, 1)),
        # a storm that is there or ended within two hours may flash again
        ("TS SCT030", (1, 1), (0, 1)),
        ("//////", (0, -1), (-1, -1)),
        ("// SCT030", (-1, -1), (0, -1)),
        ("// SCT030CB", (-1, 1), (1, 1)),
    ],
)
def test_what_storm_cloud_may_bring(groups: str, storm: tuple[int, int], lightning: tuple[int, int]) -> None:
    found = build(f"METAR ZZZA 100530Z AUTO 24012KT 9999 {groups} 14/08 Q1013")
    for name, (central, others) in (("thunderstorm", storm), ("lightning", lightning)):
        wanted = {CENTRAL: central, COLD: others, ADVERSE: others, WINDY: others, CHILL: others}
        assert values(found, name, 5.5) == wanted, name


@pytest.mark.parametrize(
    ("remark", "others"),
    [
        ("LTG W", 1),
        ("CB W MOV E", 1),
        ("CB OHD", 1),
        ("LTG DSNT W", 0),
        ("CB DSNT W", 0),
        ("LTG DSNT W CB NE", 1),
        ("SLP130", 0),
    ],
)
def test_lightning_or_storm_cloud_in_the_remarks_may_become_a_storm_unless_it_is_distant(
    remark: str, others: int
) -> None:
    found = build(f"METAR KZZA 100530Z 24012KT 10SM SCT030 15/05 A2990 RMK AO2 {remark}")
    assert values(found, "thunderstorm", 5.5) == {
        CENTRAL: 0,
        COLD: others,
        ADVERSE: others,
        WINDY: others,
        CHILL: others,
    }
    assert all_of(found, "storm_remark", 5.5) == {others}
    # the doors go by what was said
    assert all_of(found, "storm_said", 5.5) == {0}


def test_a_storm_that_passed_may_flash_again_for_two_hours_in_the_cases_that_last() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 14/08 Q1013 RETS", ahead_min=200)
    assert values(found, "lightning", 7.5) == {CENTRAL: 0, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}
    # after that only what nobody forecast is left: not known in the cases that last
    assert all_of(found, "lightning", 7.5 + 1 / 12) == {0, -1}
    assert all_of(found, "storm_said", 5.5) == all_of(found, "thunderstorm", 5.5) == {0}


def test_a_storm_that_passed_may_come_back_whenever_the_aircraft_came() -> None:
    # heard at 04:50, over by 05:20; the aircraft came at 05:24. Damage is of no matter here: gusts and lightning are
    text = BASE.replace("100530Z", "100450Z").replace("SCT030", "TS SCT030") + "\n" + BASE.replace("100530Z", "100520Z")
    for parked in (5.0, 5.4):
        found = build(text, parked_since=int(clock(parked)))
        assert values(found, "lightning", 5.75) == {CENTRAL: 0, COLD: 1, ADVERSE: 1, WINDY: 1, CHILL: 1}, parked


@pytest.mark.parametrize(
    ("codes", "squall", "funnel", "patchy", "fog"),
    [
        ("SQ", 1, 0, 0, 0),
        ("FC", 0, 1, 0, 0),
        ("+FC", 0, 1, 0, 0),
        ("MIFG", 0, 0, 1, 1),
        ("BCFG", 0, 0, 1, 1),
        ("PRFG", 0, 0, 1, 1),
        ("FG", 0, 0, 0, 1),
        ("//", -1, -1, -1, -1),
    ],
)
def test_squalls_funnel_clouds_and_patches_of_fog_are_flags_of_their_own(
    codes: str, squall: int, funnel: int, patchy: int, fog: int
) -> None:
    found = build(f"METAR ZZZA 100530Z AUTO 24012KT 9999 {codes} SCT030 14/08 Q1013")
    for name, wanted in (("squall", squall), ("funnel_cloud", funnel), ("patchy_fog", patchy), ("fog", fog)):
        assert all_of(found, name, 5.5) == {wanted}, name


def test_what_blew_was_reported_and_not_forecast() -> None:
    gale = STRONGER.replace("30020KT", "30050G70KT")
    found = build(BASE, forecast=gale, ahead_min=200)
    assert values(found, "gust_kt", 8.0)[CENTRAL] == 70
    # 8 kt without a gust: 17 at most; the central one 8
    assert values(found, "seen_gust_kt", 5.5) == {CENTRAL: 8, COLD: 8, ADVERSE: 8, WINDY: 17, CHILL: 17}
    assert max(values(found, "seen_gust_kt", 8.0).values()) <= 17
    assert (build("", forecast=gale).columns["seen_gust_kt"] == 0).all()


# a report of many hours, and gaps


def test_after_48_hours_nothing_that_was_reported_is_a_statement_about_now() -> None:
    found = build("METAR ZZZA 080530Z 24012G25KT 3000 SN SCT012 M03/M04 Q1013", ahead_min=60)
    for name in ("wind_kt", "gust_kt", "visibility_m"):
        assert not np.isnan(values(found, name, 5.5)[CENTRAL])
        assert all(np.isnan(value) for value in values(found, name, 5.5 + 1 / 12).values()), name
    assert all_of(found, "snow", 5.5) == {0, 1} and all_of(found, "snow", 5.5 + 1 / 12) == {-1}
    assert values(found, "cloud_fraction", 6.0) == {CENTRAL: 0, COLD: 0, ADVERSE: 0, WINDY: 1, CHILL: 0}


def test_a_gap_between_reports_is_one_only_where_it_was_asked_about() -> None:
    far = WIND_12.replace("100530Z", "100130Z") + "\n" + WIND_12
    asked, open_end = build(far, parked_since=int(clock(1.5))), build(far)
    # 01:30 speaks to 02:40 and from 04:20 on 05:30 does; at 03:00 nobody knows, in the cases that last
    for hour, snow in ((2.5, 0), (3.0, -1), (4.0, -1)):
        assert values(asked, "snow", hour) == {CENTRAL: 0, COLD: snow, ADVERSE: snow, WINDY: snow, CHILL: snow}
    assert all_of(open_end, "snow", 3.0) == {0}
    # gusts: not known in the windy cases of a gap
    blew = values(asked, "seen_gust_kt", 3.0)
    assert np.isnan(blew[WINDY]) and np.isnan(blew[CHILL]) and blew[CENTRAL] == 12
    assert not np.isnan(list(values(open_end, "seen_gust_kt", 3.0).values())).any()


def test_what_either_of_two_readings_remembers_is_remembered() -> None:
    # by the meaning of "any": yes where either says yes, else not known where either does not know, else no
    first = {"recent_rain": np.array([[YES, NO, UNKNOWN, NO]], dtype=np.int8)}
    second = {"recent_rain": np.array([[NO, YES, NO, NO]], dtype=np.int8)}
    assert join_flags(first, second)["recent_rain"].tolist() == [[YES, YES, UNKNOWN, NO]]


def test_of_two_reports_of_one_minute_the_one_without_a_sky_brings_the_milder_cases() -> None:
    one, other = (f"METAR ZZZA 100330Z 24012KT 3000 {sky} 03/01 Q1013" for sky in ("SKC", "//////"))
    covered = build(one.replace("SKC", "OVC030"))
    for texts in ((one, other), (other, one)):
        found = build("\n".join(texts))
        assert len(found.cases) == CASES + 4
        np.testing.assert_allclose(
            found.columns["air_temperature_c"][CASES + 1], covered.columns["air_temperature_c"][ADVERSE]
        )

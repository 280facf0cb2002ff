"""The outlook: what the cases are, where their numbers come from, and that each of them decides something.

Expectations are the wording of the design (cases, two hours, three knots) and hand calculations shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from advisor import advise
from advisor.conditions import Airframe, Departure, Place, Windows
from advisor.outlook import build as outlook
from advisor.outlook import cases as choices
from advisor.outlook import gaps, lanes, seen, series, tables, temperature
from advisor.outlook.cases import BASE_CASES, Site
from advisor.physics.derive import derive
from advisor.report import metar, taf
from advisor.report.forecast import Elements
from advisor.sources import SOURCES

NOW = datetime(2027, 1, 10, 5, 40, tzinfo=UTC)
PLACE = Place("an invented field", None, 61.4, 9.8)
NAMES = [row.name for row in BASE_CASES]
CENTRAL, COLD, ADVERSE, WINDY, CHILL = range(5)


def departure(ahead_min: float = 60, now: datetime = NOW, **said: object) -> Departure:
    at = int(now.timestamp())
    off = at + round(ahead_min * 60)
    windows = Windows((max(at, off - 2700), off - 1500), (max(at, off - 3000), off - 300), off, off + 900)
    return Departure(at, PLACE, windows, **said)  # type: ignore[arg-type]


def build(text: str, *, forecast: str | None = None, site: Site | None = None, **said: object) -> outlook.Conditions:  # type: ignore[name-defined]
    reports = metar.read_all(text, now=NOW) if text else []
    read = taf.read(forecast, now=NOW) if forecast else None
    return outlook.build(reports, departure(**said), site=site or Site(0.0, 0.0), forecast=read)  # type: ignore[arg-type]


def statuses(text: str, off_block: datetime, now: datetime = NOW, aircraft: str | None = None) -> dict[str, str]:
    brief = advise(text, now=now, off_block=off_block, place="61.4,9.8", aircraft=aircraft)
    return {line.id: line.status for line in brief.advice}


@pytest.fixture
def without(monkeypatch: pytest.MonkeyPatch) -> Iterator[object]:
    """Takes one base case out of the table."""

    def drop(name: str) -> None:
        left = tuple(row for row in choices.BASE_CASES if row.name != name)
        for module in (choices, gaps, outlook, seen, tables, temperature):
            monkeypatch.setattr(module, "BASE_CASES", left)

    return drop  # type: ignore[return-value]


# one situation a case in which a line is there, or not sure, only because of it
MORNING, NOON = "2027-01-10T05:40:00+00:00", "2027-01-10T13:20:00+00:00"
DECIDES = {
    "central": ("METAR ZZZA 100520Z 24012KT 6000 TSRA BKN020 13/11 Q1013", MORNING, 240, "thunderstorm"),
    "cold, moist, calm": ("METAR ZZZA 100520Z 24006KT 9999 OVC010 01/00 Q1013", MORNING, 60, "wing-upper-surface"),
    "clear, adverse skin": ("METAR ZZZA 100520Z 24004KT CAVOK 07/01 Q1013", MORNING, 60, "wing-upper-surface"),
    "warm, moist, windy": ("METAR ZZZA 101320Z 24010KT CAVOK 05/01 Q1013", NOON, 130, "torch"),
    "cold, windy": ("METAR ZZZA 100520Z 24012KT 9999 OVC010 M03/M05 Q1013", MORNING, 60, "wind-chill"),
}


@pytest.mark.parametrize("name", NAMES)
def test_each_case_decides_some_rule(name: str, without: object) -> None:
    assert name in DECIDES, f"write into DECIDES a situation that only the case {name!r} decides"
    text, clock, ahead, rule = DECIDES[name]
    now = datetime.fromisoformat(clock)
    whole = statuses(text, now + timedelta(minutes=ahead), now).get(rule)
    assert whole is not None
    without(name)  # type: ignore[operator]
    assert statuses(text, now + timedelta(minutes=ahead), now).get(rule) != whole


def test_each_case_names_a_source_that_exists() -> None:
    assert all(row.source in SOURCES for row in BASE_CASES)


def test_the_central_case_is_what_was_reported() -> None:
    table = build("METAR ZZZA 100540Z 24012G25KT 3000 BR SCT012 OVC020 03/01 Q1013").columns
    assert table["wind_kt"][CENTRAL, 0] == 12 and table["gust_kt"][CENTRAL, 0] == 25
    assert table["visibility_m"][CENTRAL, 0] == 3000
    assert table["air_temperature_c"][CENTRAL, 0] == pytest.approx(3.0, abs=0.01)
    assert table["dew_point_c"][CENTRAL, 0] == 1.0
    assert table["cloud_fraction"][CENTRAL, 0] == 1.0
    assert table["cloud_base_m"][CENTRAL, 0] == pytest.approx(2000 * 0.3048)


def test_rounding_is_half_a_degree_and_shared_among_three_doubts() -> None:
    # at the time of the report nothing but rounding is left: 3 − 0.5/√3 in the corner, 3 ± 0.5 at the ends
    table = build("METAR ZZZA 100540Z 24012KT 9999 OVC020 03/01 Q1013").columns["air_temperature_c"][:, 0]
    assert table[COLD] == pytest.approx(3 - 0.5 / 3**0.5, abs=1e-6)
    assert table[WINDY] == pytest.approx(3.5, abs=1e-6)
    assert table[CHILL] == pytest.approx(2.5, abs=1e-6)


@pytest.mark.parametrize("wind", ["00000KT", "24002KT", "24008KT", "24030G45KT"])
def test_no_case_takes_more_than_three_knots_off_in_the_first_ninety_minutes(wind: str) -> None:
    report = metar.read(f"METAR ZZZA 100540Z {wind} CAVOK 03/01 Q1013", now=NOW)
    table = outlook.build([report], departure(75), site=Site(0.0, 0.0)).columns["wind_kt"]
    early = build(f"METAR ZZZA 100540Z {wind} CAVOK 03/01 Q1013", ahead_min=75).unix_s <= NOW.timestamp() + 5400
    assert (table[:, early] >= max(0.0, report.wind_kt - 3)).all()


def test_an_unreported_gust_may_be_nine_knots_over_the_mean_and_a_reported_one_is_kept() -> None:
    calm = build("METAR ZZZA 100540Z 24012KT CAVOK 03/01 Q1013").columns["gust_kt"]
    assert calm[:, 0].max() >= 12 + 9
    blown = build("METAR ZZZA 100540Z 24012G30KT CAVOK 03/01 Q1013").columns["gust_kt"]
    assert blown[CENTRAL, 0] == 30 and blown[:, 0].max() >= 30


def test_weather_seen_holds_in_every_case_for_two_hours_and_is_possible_after() -> None:
    found = build("METAR ZZZA 100540Z 24012KT 3000 SN OVC010 M03/M04 Q1013", ahead_min=300)
    inside = found.unix_s <= NOW.timestamp() + 7200
    snow = found.columns["snow"]
    assert (snow[:, inside] == 1).all()
    assert (snow[CENTRAL, ~inside] == 0).all() and (snow[:, ~inside] == 1).any(axis=0).all()


def test_what_nobody_forecast_is_not_known_after_two_hours_but_no_snow_in_warm_air() -> None:
    found = build("METAR ZZZA 100540Z 24012KT CAVOK 03/01 Q1013", ahead_min=300)
    late = found.unix_s > NOW.timestamp() + 7200
    assert (found.columns["snow"][:, ~late] == 0).all()
    assert (found.columns["snow"][:, late] == -1).any(axis=0).all()
    warm = build("METAR ZZZA 100540Z 24012KT CAVOK 28/11 Q1013", ahead_min=300)
    assert (warm.columns["snow"] == 0).all() and (warm.columns["rain"][:, late] == -1).any()


@pytest.mark.parametrize("sky", ["CAVOK", "9999 NSC", "9999 NCD", "10SM CLR", "9999 //////", "9999"])
def test_no_reported_cloud_is_clear_in_the_adverse_case_and_not_sure_in_all(sky: str) -> None:
    table = build(f"METAR ZZZA 100540Z AUTO 24002KT {sky} 03/01 Q1013").columns["cloud_fraction"][:, 0]
    assert table[ADVERSE] == 0.0 and table[WINDY] >= 7 / 8


def test_a_missing_wind_is_calm_for_the_skin_and_unknown_for_doors() -> None:
    table = build("METAR ZZZA 100540Z /////KT CAVOK 03/01 Q1013").columns
    assert (table["skin_wind_kt"] == 0).all() and np.isnan(table["wind_kt"]).all() and np.isnan(table["gust_kt"]).all()


def test_a_missing_dew_point_is_bounded_by_saturation_in_the_moist_case_only() -> None:
    table = build("METAR ZZZA 100540Z 24002KT CAVOK 03/// Q1013").columns
    assert table["dew_point_c"][COLD, 0] == table["air_temperature_c"][COLD, 0]
    assert np.isnan(table["dew_point_c"][CENTRAL]).all()


def test_distance_and_height_widen_by_the_figures_written_by_hand() -> None:
    # 500 m at 9.8 °C a km is 4.9 °C; 45 km is 40 beyond the first 5, at 0.03 °C a km 1.2 °C
    assert Site(45.0, 500.0).temperature_doubt_c == pytest.approx(4.9 + 1.2)
    assert Site(45.0, -500.0).temperature_doubt_c == pytest.approx(4.9 + 1.2)
    assert Site(1000.0, 0.0).temperature_doubt_c == 2.0
    assert Site(45.0, 0.0).wind_doubt_kt == pytest.approx(4.0)
    near, far = (
        build("METAR ZZZA 100540Z 24012KT CAVOK 03/01 Q1013", site=one).columns["air_temperature_c"][CHILL, 0]
        for one in (Site(0.0, 0.0), Site(45.0, 500.0))
    )
    assert near - far == pytest.approx(6.1)


def test_the_grid_has_every_full_five_minutes_every_edge_and_quarters_of_an_hour_of_the_past() -> None:
    asked = departure(62, parked_since=int((NOW - timedelta(hours=3, minutes=7)).timestamp()))
    times = set(outlook.grid(asked))
    windows = asked.windows
    assert {*windows.walk_round, *windows.doors_open, windows.off_block, windows.take_off, asked.now} <= times
    assert {float(t) for t in range(asked.now, windows.take_off, 300)} <= times
    past = sorted(t for t in times if t < asked.now)
    assert past[0] == asked.parked_since and all(t % 900 == 0 for t in past[1:]) and len(past) == 13


# forecasts

BASE = "METAR ZZZA 100520Z 24008KT 9999 FEW030 03/01 Q1013"


def test_a_temporary_group_is_a_case_of_its_own_in_its_time_and_nowhere_else() -> None:
    found = build(
        BASE, forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 FEW030 TEMPO 1006/1008 1500 SN BKN008", ahead_min=300
    )
    assert found.shape[0] == 2 * len(BASE_CASES) and found.cases[5].name == "central; TEMPO 1006/1008"
    hour = (found.unix_s - datetime(2027, 1, 10, tzinfo=UTC).timestamp()) / 3600
    inside = (hour >= 6) & (hour < 8)
    assert (found.columns["snow"][5, inside] == 1).all() and (found.columns["snow"][5, ~inside] == 0).all()
    assert (found.columns["snow"][0] == 0).all()
    assert (found.columns["visibility_m"][5, inside] == 1500).all()


def test_becoming_counts_from_its_start_for_the_worse_and_from_its_end_for_the_better() -> None:
    # worse: 30 kt from 08; the windy case has it from the start of the change, the central one from its end
    found = build(
        "METAR ZZZA 100400Z 24008KT 9999 FEW030 03/01 Q1013",
        ahead_min=360,
        forecast="TAF ZZZA 100300Z 1003/1109 24008KT 9999 FEW030 BECMG 1008/1010 24030KT BECMG 1011/1013 24005KT",
    )
    hour = (found.unix_s - datetime(2027, 1, 10, tzinfo=UTC).timestamp()) / 3600
    during, after = (hour >= 8) & (hour < 10), (hour >= 10) & (hour < 11)
    assert (found.columns["wind_kt"][CENTRAL, during] == 8).all()
    assert (found.columns["wind_kt"][WINDY, during] >= 30).all()
    assert (found.columns["wind_kt"][CENTRAL, after] == 30).all()
    easing = (hour >= 11) & (hour < 13)
    assert (found.columns["wind_kt"][WINDY, easing] >= 30).all()


def test_a_forecast_that_covers_the_time_says_what_falls_after_two_hours() -> None:
    found = build(BASE, forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 FEW030", ahead_min=300)
    assert (found.columns["snow"] == 0).all()


def test_snow_that_a_forecast_change_ends_is_not_central_any_more() -> None:
    found = build(
        "METAR ZZZA 100520Z 24008KT 3000 SN BKN010 M01/M02 Q1013",
        ahead_min=120,
        forecast="TAF ZZZA 100500Z 1005/1111 24008KT 3000 SN BKN010 FM100630 24008KT 9999 FEW030",
    )
    later = found.unix_s >= datetime(2027, 1, 10, 6, 30, tzinfo=UTC).timestamp()
    within = found.unix_s <= datetime(2027, 1, 10, 7, 20, tzinfo=UTC).timestamp()
    assert (found.columns["snow"][CENTRAL, later] == 0).all()
    assert (found.columns["snow"][COLD, later & within] == 1).all()


def test_a_trend_group_is_used_as_the_two_hour_forecast_that_it_is() -> None:
    found = build("METAR ZZZA 100520Z 24008KT 9999 FEW030 M01/M02 Q1013 TEMPO 2000 SN", ahead_min=180)
    snow = found.columns["snow"]
    within = found.unix_s < datetime(2027, 1, 10, 7, 20, tzinfo=UTC).timestamp()
    assert (snow[5:, within] == 1).all() and (snow[0] == 0).all()


def test_groups_that_never_meet_share_a_lane_and_what_finds_none_is_said() -> None:
    def group(start: float, end: float, label: str) -> lanes.PassingGroup:
        return lanes.PassingGroup(start, end, label, Elements())

    made, left = lanes.lanes([group(0, 10, "a"), group(10, 20, "b"), group(5, 15, "c")], 3)
    assert [lane.label for lane in made] == ["a; b", "c"] and left == ()
    made, left = lanes.lanes([group(0, 10, name) for name in "abcd"], 3)
    assert len(made) == 3 and left == ("d",)
    assert {one.label for lane in made for one in lane.groups} == set("abcd")


def test_the_table_never_has_more_than_twenty_four_rows() -> None:
    groups = " ".join(f"TEMPO 1006/1{h:03d} {v}00 SN" for h, v in ((8, 20), (9, 15), (10, 10), (11, 12), (12, 14)))
    found = build(BASE, forecast=f"TAF ZZZA 100500Z 1005/1111 24008KT 9999 FEW030 {groups}", ahead_min=300)
    assert found.shape[0] <= 24 and len(found.left_out) == 2


def test_tx_and_tn_pull_the_temperature_and_are_met_at_their_times() -> None:
    found = build(
        "METAR ZZZA 100520Z 24002KT CAVOK 02/01 Q1013",
        ahead_min=600,
        forecast="TAF ZZZA 100500Z 1005/1111 24002KT CAVOK TX08/1013Z TNM03/1007Z",
    )
    at = int(np.searchsorted(found.unix_s, datetime(2027, 1, 10, 7, 0, tzinfo=UTC).timestamp()))
    assert found.columns["air_temperature_c"][CENTRAL, at] == pytest.approx(-3.0)
    at = int(np.searchsorted(found.unix_s, datetime(2027, 1, 10, 13, 0, tzinfo=UTC).timestamp()))
    assert found.columns["air_temperature_c"][CENTRAL, at] == pytest.approx(8.0)


# history


def test_between_reports_the_last_one_holds_and_corrections_replace() -> None:
    reports = metar.read_all(
        "METAR ZZZA 100320Z 24008KT 9999 FEW030 01/M01 Q1013\nMETAR ZZZA 100420Z 24008KT 9999 FEW030 02/M01 Q1013\n"
        "METAR COR ZZZA 100420Z 24018KT 9999 FEW030 02/M01 Q1013\nMETAR ZZZA 100420Z 24008KT 9999 FEW030 02/M01 Q1013\n"
        "METAR ZZZA 100520Z NIL\nMETAR ZZZA 100220Z 24004KT 9999 FEW030 00/M01 Q1013",
        now=NOW,
    )
    used = series.in_order(reports)
    assert [(f"{one.issued:%H%M}", one.wind_kt) for one in used] == [("0220", 4), ("0320", 8), ("0420", 18)]
    times = [(NOW + timedelta(minutes=minutes)).timestamp() for minutes in (-400, -150, -90, -30, 30)]
    at = series.governing(used, np.array(times))
    assert list(at) == [0, 0, 1, 2, 2]


def test_the_order_of_reports_changes_nothing() -> None:
    texts = [f"METAR ZZZA 10{h:02d}20Z 24008KT 9999 -SN FEW030 M0{h}/M08 Q1013" for h in range(1, 6)]
    said = {"now": NOW, "off_block": NOW + timedelta(minutes=60), "place": "61.4,9.8", "parked_since": "0100Z"}
    first, last = advise(texts, **said), advise(texts[::-1], **said)  # type: ignore[arg-type]
    assert first.advice == last.advice and first.timeline == last.timeline


# fuel


def test_stated_fuel_is_drawn_towards_the_air_and_sooner_in_a_tank_that_is_not_full() -> None:
    # lumped body by hand: T = air + (start − air)·exp(−t/τ), τ 8 h full and 2 h a quarter full, one hour on
    found = {}
    for fill in (float("nan"), 25.0):
        said = {"fuel_temperature_c": -10.0, "fuel_fill_pct": fill}
        table = build("METAR ZZZA 100540Z 24008KT 9999 OVC030 06/01 Q1013", **said)
        table = derive(table, Airframe())
        at = int(np.searchsorted(table.unix_s, NOW.timestamp() + 3600))
        found[fill == 25.0] = table.columns["fuel_temperature_c"][CENTRAL, [0, at]]
    assert found[False][0] == found[True][0] == -10.0
    # the air moves by a few tenths of a degree in that hour
    assert found[False][1] == pytest.approx(6 - 16 * np.exp(-1 / 8), abs=0.1)
    assert found[True][1] == pytest.approx(6 - 16 * np.exp(-1 / 2), abs=0.2)


def test_fuel_that_was_not_stated_is_not_known_for_an_aircraft_that_flew_high() -> None:
    table = build("METAR ZZZA 100540Z 24008KT 9999 OVC030 06/01 Q1013")
    table = derive(table, Airframe())
    assert np.isnan(table.columns["fuel_temperature_c"]).all()
    assert table.not_stated == ("parked since", "fuel temperature")


# sensors


@pytest.mark.parametrize(
    ("rest", "freezing", "storm"),
    [
        ("-RA 01/00 A2990 RMK AO2 FZRANO", -1, 0),
        ("-RA 01/00 A2990 RMK AO2", 0, 0),
        ("01/00 A2990 RMK AO2 FZRANO", 0, 0),
        ("-RA 12/10 A2990 RMK AO2 FZRANO", 0, 0),
        ("-RA 12/10 A2990 RMK AO2 TSNO", 0, -1),
    ],
)
def test_a_sensor_that_is_out_denies_nothing(rest: str, freezing: int, storm: int) -> None:
    # FMH-1: FZRANO and TSNO say that freezing rain and thunderstorm information is not available
    table = build(f"METAR KZZA 100540Z AUTO 24012KT 2SM {rest}").columns
    assert (table["freezing_precipitation"][CENTRAL, 0], table["thunderstorm"][CENTRAL, 0]) == (freezing, storm)


@pytest.mark.parametrize("order", [0, 1, 2, 3])
def test_no_group_is_without_a_case_however_many_hold_at_once(order: int) -> None:
    # one of four groups of the same time has the ice and the gust: neither may be lost by its place among them
    rest = ["4000 RA", "9999 NSW", "24020KT", "3000 SN BKN008"]
    groups = [*rest[:order], "24035G50KT 2000 -FZRA", *rest[order:]]
    written = " ".join(f"TEMPO 1006/10{9 + at:02d} {group}" for at, group in enumerate(groups))
    found = build(BASE, forecast=f"TAF ZZZA 100500Z 1005/1111 24008KT 9999 FEW030 {written}", ahead_min=300)
    hour = (found.unix_s - datetime(2027, 1, 10, tzinfo=UTC).timestamp()) / 3600
    inside = (hour >= 6) & (hour < 9)
    assert (found.columns["freezing_precipitation"][:, inside] == 1).any(axis=0).all()
    assert (found.columns["gust_kt"][:, inside] >= 50).any(axis=0).all()

"""Temporary, probable and trend groups as lanes, and which forecast is gone by: small cases written out."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from subject import Elements, lanes, metar, taf
from worked import clock

from advisor.outlook import tables

NOW = datetime(2027, 1, 10, 5, 40, tzinfo=UTC)


def forecast(text: str) -> object:
    return taf.read(text, now=NOW)


def test_temporary_and_probable_groups_of_a_forecast_that_touch_the_time() -> None:
    said = forecast(
        "TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1006/1008 2000 SN "
        "BECMG 1008/1010 30010KT PROB30 1010/1012 0500 FG PROB40 TEMPO 1012/1014 TSRA"
    )

    def labels(start: float, end: float) -> list[str]:
        return [one.label for one in lanes.of_forecast(said, clock(start), clock(end))]  # type: ignore[arg-type]

    assert labels(5, 20) == ["TEMPO 1006/1008", "PROB30 1010/1012", "PROB40 TEMPO 1012/1014"]
    # a group that ends as the time begins does not touch it, one that begins as the time ends does
    assert labels(8, 10) == ["PROB30 1010/1012"] and labels(8, 9.9) == []
    first = lanes.of_forecast(said, clock(5), clock(20))[0]  # type: ignore[arg-type]
    assert (first.start_s, first.end_s) == (clock(6), clock(8))
    # what the group mentions, and nothing of what stands below it
    assert first.said.mentioned == {"visibility", "weather"} and first.said.weather == ("SN",)


def test_a_group_s_weather_is_shown_from_its_begin_up_to_its_end_and_nothing_else_s() -> None:
    said = forecast("TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 TEMPO 1006/1008 2000 SN TEMPO 1009/1010 30030KT")
    groups = tuple(lanes.of_forecast(said, clock(5), clock(20)))  # type: ignore[arg-type]
    times = np.array([clock(hour) for hour in (5.9, 6.0, 7.9, 8.0, 9.5)])
    # the second group says nothing of the weather
    assert tables.laid_text(["BR"] * 5, lanes.Lane(groups), times) == ["BR", "SN", "SN", "BR", "BR"]


@pytest.mark.parametrize(
    ("trend", "begins", "ends", "label"),
    # reported at 05:20: a trend speaks for two hours from there
    [
        ("TEMPO 2000 SN", 5 + 1 / 3, 7 + 1 / 3, "trend TEMPO"),
        ("TEMPO FM0600 TL0630 2000 SN", 6, 6.5, "trend TEMPO"),
        ("BECMG FM0600 2000 SN", 6, 7 + 1 / 3, "trend BECMG"),
        ("BECMG FM0600 TL0630 2000 SN", 6, 7 + 1 / 3, "trend BECMG"),  # what has become lasts
    ],
)
def test_a_trend_as_a_group(trend: str, begins: float, ends: float, label: str) -> None:
    report = metar.read(f"METAR ZZZA 100520Z 24008KT 9999 SCT030 03/01 Q1013 {trend}", now=NOW)
    (group,) = lanes.of_trend(report, clock(5), clock(9))
    assert (group.start_s, group.end_s) == pytest.approx((clock(begins), clock(ends))) and group.label == label
    assert group.said.mentioned == {"visibility", "weather"}
    assert (group.said.weather, group.said.visibility_m) == (("SN",), 2000)
    # it ends as, or before, the time begins; it begins after the time ends
    assert lanes.of_trend(report, clock(7 + 1 / 3), clock(9)) == [] and lanes.of_trend(report, clock(3), clock(5)) == []
    assert len(lanes.of_trend(report, clock(4), clock(begins))) == 1


@pytest.mark.parametrize(
    ("trend", "mentioned", "weather"),
    [
        ("NOSIG", None, ()),
        ("TEMPO 24020G35KT", {"wind"}, ()),
        ("TEMPO NSW", {"weather"}, ()),
        ("TEMPO SNX", {"weather"}, ()),
        ("TEMPO BKN008", {"cloud"}, ()),
        ("BECMG CAVOK", {"visibility", "weather", "cloud"}, ()),
        ("TEMPO 1500 SHSN BKN008", {"visibility", "weather", "cloud"}, ("SHSN",)),
    ],
)
def test_what_a_trend_mentions(trend: str, mentioned: set[str] | None, weather: tuple[str, ...]) -> None:
    report = metar.read(f"METAR ZZZA 100520Z 24008KT 9999 SCT030 03/01 Q1013 {trend}", now=NOW)
    found = lanes.of_trend(report, clock(5), clock(9))
    assert [(set(one.said.mentioned), one.said.weather) for one in found] == (
        [] if mentioned is None else [(mentioned, weather)]
    )
    if mentioned is not None:
        assert found[0].said.weather_missing == (trend == "TEMPO SNX")
    if mentioned == {"wind"}:
        said = found[0].said
        assert (said.wind_direction_deg, said.wind_kt, said.gust_kt) == (240, 20, 35)


def group(start: float, end: float, label: str) -> lanes.PassingGroup:
    return lanes.PassingGroup(start, end, label, Elements())


def test_groups_go_onto_the_first_free_lane_in_the_order_of_time() -> None:
    made, left = lanes.lanes([group(12, 20, "c"), group(0, 10, "a"), group(5, 15, "b"), group(10, 12, "d")], 2)
    assert [lane.label for lane in made] == ["a; d; c", "b"] and left == ()
    # none is free: the last lane takes it all the same, and that is said once
    made, left = lanes.lanes([group(0, 10, "a"), group(1, 10, "b"), group(2, 10, "x"), group(3, 10, "x")], 2)
    assert [lane.label for lane in made] == ["a", "b; x"] and left == ("x",)
    assert lanes.lanes([], 3) == ((), ())
    # a lane is free when its last group has ended, not its first
    made, _ = lanes.lanes([group(0, 10, "a"), group(10, 12, "b"), group(11, 20, "c")], 2)
    assert [lane.label for lane in made] == ["a; b", "c"]


# which forecast

FIRST = "TAF ZZZA 100300Z 1003/1109 24008KT 9999 SCT030"
SECOND = "TAF ZZZA 100500Z 1005/1111 24010KT 9999 SCT030"


def gone_by(*texts: str, station: str | None = "ZZZA") -> tuple[object, tuple[str, ...]]:
    """At 05:30, for the time from 06 to 08."""
    read = [forecast(text) for text in texts]
    return lanes.usable(read, station, int(clock(5.5)), clock(6), clock(8))  # type: ignore[arg-type]


def test_a_forecast_may_be_timed_ten_minutes_after_now_and_no_more() -> None:
    said, issued = forecast(SECOND.replace("100500Z", "100540Z")), int(clock(5 + 40 / 60))
    for early, used in ((600, True), (601, False)):
        found, notes = lanes.usable([said], "ZZZA", issued - early, clock(6), clock(8))  # type: ignore[list-item]
        assert (found is said) is used and (notes == ()) is used, early


def test_the_newest_forecast_is_gone_by_in_any_order() -> None:
    for texts in ((FIRST, SECOND), (SECOND, FIRST)):
        chosen, notes = gone_by(*texts)
        assert chosen.raw == SECOND and notes == ()  # type: ignore[attr-defined]
    amended = SECOND.replace("TAF ", "TAF AMD ")
    assert gone_by(amended, SECOND)[0].raw == amended  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("texts", "chosen", "said"),
    [
        ((SECOND.replace("ZZZA", "ZZZB"),), None, "for another station"),
        (("TAF ZZZA 100500Z NIL",), None, "says nothing"),
        ((FIRST, "TAF AMD ZZZA 100500Z 1005/1111 CNL"), None, "is cancelled"),
        ((SECOND, "TAF AMD ZZZA 100400Z 1004/1110 CNL"), SECOND, "is cancelled"),
        ((SECOND.replace("100500Z", "100541Z"),), None, "timed after now"),
        # ten minutes are the clock's
        ((SECOND.replace("100500Z", "100540Z"),), SECOND.replace("100500Z", "100540Z"), ""),
        (("TAF ZZZA 092300Z 0923/1006 24008KT CAVOK",), None, "ended at 10/0600Z"),
        (("TAF ZZZA 100500Z 1009/1111 24008KT CAVOK",), None, "begins at 10/0900Z"),
        (("TAF ZZZA 100500Z 1008/1111 24008KT CAVOK",), "TAF ZZZA 100500Z 1008/1111 24008KT CAVOK", ""),
        (("TAF ZZZA 100500Z 1005/1007 24008KT CAVOK",), "TAF ZZZA 100500Z 1005/1007 24008KT CAVOK", "ends at 10/0700Z"),
        # one that covers the time before a newer one that begins later
        ((FIRST, "TAF ZZZA 100500Z 1009/1111 24008KT CAVOK"), FIRST, ""),
    ],
)
def test_a_forecast_that_is_not_gone_by_is_named(texts: tuple[str, ...], chosen: str | None, said: str) -> None:
    found, notes = gone_by(*texts)
    assert (found.raw if found is not None else None) == chosen  # type: ignore[attr-defined]
    assert len(notes) == (1 if said else 0) and said in " ".join(notes)


def test_without_a_report_any_station_will_do_and_its_cancellation_counts() -> None:
    assert gone_by(SECOND, station=None)[0].raw == SECOND  # type: ignore[attr-defined]
    cancelled = "TAF AMD ZZZB 100530Z 1005/1111 CNL"
    assert gone_by(SECOND, cancelled)[0].raw == SECOND  # type: ignore[attr-defined]
    assert gone_by(SECOND, cancelled, station=None)[0] is None


UNDATED = "TAF ZZZA 1005/1111 24008KT CAVOK"


def test_a_forecast_without_its_time_of_issue_is_gone_by_where_there_is_no_other_and_that_is_said() -> None:
    chosen, notes = gone_by(UNDATED)
    assert chosen.raw == UNDATED  # type: ignore[attr-defined]
    assert notes == ("The forecast for ZZZA was sent without its time of issue: its age is not known.",)
    # one that says when it was issued goes before it, however old; a cancellation may be the newer one
    for texts in ((FIRST, UNDATED), (UNDATED, FIRST)):
        assert gone_by(*texts)[0].raw == FIRST  # type: ignore[attr-defined]
    assert gone_by(UNDATED, "TAF AMD ZZZA 100300Z 1003/1109 CNL")[0] is None
    other, notes = gone_by(UNDATED.replace("ZZZA", "ZZZB"))
    assert other is None and notes == (
        "The forecast for ZZZB without its time of issue is for another station and is not used.",
    )

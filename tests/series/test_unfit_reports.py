"""Forecasts and reports that do not fit: each is handled, and the brief says so."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from parked import PLACE, gone, statuses

from advisor import advise
from advisor.brief.model import Brief
from advisor.errors import AdvisorError, ReportError

NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
DRY = "METAR ZZZA 100520Z 24008KT 9999 OVC030 M02/M08 Q1008"
SNOWY = "METAR ZZZA 100520Z 24008KT 2000 SN OVC010 M02/M03 Q1003"
SAME = "TAF ZZZA 100500Z 1005/1106 24008KT 9999 OVC030"
SNOW_TAF = "TAF ZZZA 100500Z 1005/1106 24008KT 2000 SN OVC010"


def brief(*texts: str, ahead_min: int = 90, now: datetime = NOW, **asked: object) -> Brief:
    return advise(list(texts), now=now, off_block=now + timedelta(minutes=ahead_min), **({"place": PLACE} | asked))  # type: ignore[arg-type]


def noted(made: Brief, *parts: str) -> bool:
    return any(all(part in note for part in parts) for note in made.notes)


def same_advice(one: Brief, other: Brief) -> bool:
    return one.advice == other.advice and one.timeline == other.timeline


NOT_USED = {
    "another station": ("TAF ZZZB 100500Z 1005/1106 24008KT 2000 SN OVC010", ("ZZZB", "not used")),
    "cancelled": ("TAF AMD ZZZA 100515Z 1005/1106 CNL", ("is cancelled", "not used")),
    "NIL": ("TAF ZZZA 100500Z NIL", ("NIL", "not used")),
    "ended": ("TAF ZZZA 082300Z 0900/0924 24008KT 2000 SN OVC010", ("ended at 10/0000Z", "not used")),
    "begins later": ("TAF ZZZA 100500Z 1012/1118 24008KT 2000 SN OVC010", ("begins at 10/1200Z", "not used")),
    "after now": ("TAF ZZZA 100600Z 1006/1112 24008KT 2000 SN OVC010", ("timed after now", "not used")),
}


@pytest.mark.parametrize("name", NOT_USED)
def test_a_forecast_that_does_not_fit_is_not_used_and_the_brief_says_why(name):
    text, parts = NOT_USED[name]
    made = brief(DRY, text, ahead_min=60)
    assert noted(made, *parts), made.notes
    assert same_advice(made, brief(DRY, ahead_min=60))
    assert [report.used for report in made.reports if report.kind == "TAF"] == [False]


def test_an_amendment_that_cancels_takes_the_older_forecast_with_it():
    made = brief(DRY, SNOW_TAF, "TAF AMD ZZZA 100515Z 1005/1106 CNL")
    assert noted(made, "is cancelled and is not used")
    assert "de-icing-request" not in statuses(made)
    # a forecast issued after the cancellation counts again
    again = brief(DRY, "TAF AMD ZZZA 100515Z 1005/1106 CNL", SNOW_TAF.replace("100500Z", "100520Z"))
    assert statuses(again)["de-icing-request"] == "expected"


def test_the_newest_forecast_counts_and_an_amendment_before_what_it_amends():
    old = SNOW_TAF.replace("100500Z", "092300Z").replace("1005/1106", "1000/1106")
    for texts in ((DRY, old, SAME), (SAME, DRY, old)):
        assert "de-icing-request" not in statuses(brief(*texts))
    amended = SNOW_TAF.replace("TAF", "TAF AMD")
    for texts in ((DRY, SAME, amended), (amended, DRY, SAME)):
        assert statuses(brief(*texts))["de-icing-request"] == "expected"


def test_a_forecast_that_ends_before_off_block_leaves_the_rest_unknown():
    short = "TAF ZZZA 100200Z 1003/1009 24008KT 9999 OVC030"
    made = brief(DRY, short, ahead_min=300)
    assert noted(made, "The forecast ends at 10/0900Z: after that nothing is forecast.")
    assert statuses(made)["fuselage-snow"] == "cannot tell"
    assert "fuselage-snow" not in statuses(brief(DRY, SAME, ahead_min=300))


def test_no_forecast_for_a_departure_in_five_hours_is_said():
    made = brief(DRY, ahead_min=300)
    assert noted(made, "No forecast was given for later", "after 0720Z is not known")
    assert not noted(brief(DRY, SAME, ahead_min=300), "No forecast")


@pytest.mark.parametrize(
    ("report", "forecast", "said"),
    [
        (SNOWY, SAME, "frozen or freezing precipitation reported only"),
        (DRY, SNOW_TAF, "frozen or freezing precipitation forecast only"),
        (DRY, SAME.replace("24008KT", "24030KT"), "wind 8 kt reported and 30 kt forecast"),
        (
            "METAR ZZZA 100520Z 24008KT 2000 BR OVC030 M02/M03 Q1008",
            SAME,
            "visibility 2000 m reported and 10000 m forecast",
        ),
        (DRY.replace("9999", "9999 VCSH"), SAME.replace("9999", "9999 TSRA"), "thunderstorm forecast only"),
    ],
    ids=["snow seen", "snow forecast", "wind", "visibility", "storm"],
)
def test_a_report_and_a_forecast_that_contradict_each_other_now_are_named_and_the_worse_counts(report, forecast, said):
    made = brief(report, forecast)
    assert noted(made, "Report and forecast differ", said, "the worse of both counts"), made.notes
    musts = {line.id for line in brief(report).advice if line.weight == "must" and line.status != "cannot tell"}
    assert musts <= set(statuses(made))
    assert not noted(brief(DRY, SAME), "differ")


def test_snow_that_is_seen_outranks_a_dry_forecast_for_two_hours():
    assert statuses(brief(SNOWY, SAME))["wing-upper-surface"] == "expected"
    assert statuses(brief(SNOWY, SAME))["de-icing-request"] == "expected"


def test_snow_forecast_for_now_outranks_a_dry_report_as_possible():
    assert statuses(brief(DRY, SNOW_TAF))["wing-upper-surface"] in ("possible", "likely", "expected")


def test_a_forecast_alone_is_enough_and_says_what_it_cannot():
    made = brief(SNOW_TAF)
    assert statuses(made)["de-icing-request"] == "expected"
    assert noted(made, "No report was given, only a forecast")
    assert "dew_point_c" in made.missing


@pytest.mark.parametrize("text", ["TAF AMD ZZZA 100515Z 1005/1106 CNL", "TAF ZZZA 100500Z NIL", NOT_USED["ended"][0]])
def test_a_forecast_that_says_nothing_alone_is_refused(text):
    with pytest.raises(ReportError) as met:
        brief(text)
    assert str(met.value).count("\n") == 0 and "METAR" in str(met.value)


def test_reports_of_two_stations_are_refused_without_a_place_and_named_with_one():
    other = "METAR ZZZB 100520Z 24008KT 2000 SN OVC010 M02/M03 Q1003"
    with pytest.raises(ReportError, match="ZZZA, ZZZB"):
        brief(DRY, other, place=None)
    assert noted(brief(DRY, other), "Reports of several stations were given", "Not used")


def test_a_nil_report_falls_back_to_the_one_before_it():
    made = brief(DRY.replace("100520Z", "100420Z"), "METAR ZZZA 100520Z NIL")
    assert [report.used for report in made.reports] == [True, False]
    assert statuses(made) and made.reports[0].age_min == 65


def test_an_old_report_is_said_to_be_old():
    made = brief(DRY.replace("100520Z", "100250Z"))
    assert noted(made, "2 h 35 min old", "get a newer one")


def test_a_report_from_the_future_alone_is_used_and_said():
    made = brief(DRY.replace("100520Z", "100605Z"))
    assert noted(made, "40 min after now", "check the clock")


def test_a_parking_time_after_now_is_refused_in_one_line():
    with pytest.raises(AdvisorError) as met:
        brief(DRY, parked_since="2027-01-10T09:00:00Z")
    assert "parked-since" in str(met.value) and "\n" not in str(met.value)


def test_a_temporary_group_beyond_take_off_changes_nothing():
    late = SAME + " TEMPO 1018/1021 1000 +SN OVC004"
    assert same_advice(brief(DRY, late), brief(DRY, SAME))


def test_a_trend_of_the_report_speaks_where_the_forecast_does_not():
    made = brief(DRY + " TEMPO FM0600 TL0700 2000 SN")
    assert statuses(made)["de-icing-request"] == "possible"
    assert gone(brief(DRY), made) == []


def test_a_change_counts_from_its_start_for_the_worse_and_from_its_end_for_the_better():
    # snow becoming between 06Z and 09Z, off-block 0655Z: possible from 06Z on, expected only from 09Z
    worse = SAME + " BECMG 1006/1009 2000 SN OVC010"
    assert statuses(brief(DRY, worse))["wing-upper-surface"] == "possible"
    assert statuses(brief(DRY, worse, ahead_min=300))["wing-upper-surface"] == "expected"
    # snow that ends between 03Z and 09Z goes on in the worse reading; after 09Z nothing falls
    better = "TAF ZZZA 100200Z 1002/1106 24008KT 2000 SN OVC010 BECMG 1003/1009 9999 NSW OVC030"
    assert statuses(brief(better))["no-umbrella"] in ("possible", "likely", "expected")
    assert "no-umbrella" not in statuses(brief(better, ahead_min=420))


def test_a_probable_group_alone_is_possible():
    for head in ("PROB30", "PROB40", "PROB30 TEMPO", "PROB40 TEMPO"):
        told = statuses(brief(DRY, f"{SAME} {head} 1006/1009 1500 FZRA OVC008"))
        assert told["aerials-and-lamps"] == told["de-icing-request"] == "possible", head


def test_after_the_end_of_a_forecast_that_stands_alone_nothing_is_known():
    # valid to 06Z, off-block 0655Z: the walk and the doors are out of it
    made = brief("TAF ZZZA 100300Z 1003/1006 24008KT 9999 OVC030 TX01/1013Z TNM02/1004Z")
    told = statuses(made)
    assert noted(made, "The forecast ends at 10/0600Z: after that nothing is forecast.")
    for name in ("fuselage-snow", "no-umbrella", "strong-wind", "low-visibility-apron"):
        assert told[name] == "cannot tell", name
    assert {door.status for door in made.doors} == {"cannot tell"}


def test_a_gust_that_is_forecast_and_cannot_be_read_keeps_the_doors_open_to_doubt():
    read = SAME.replace("24008KT", "24025G41KT")
    lost = SAME.replace("24008KT", "24025G//KT")
    before, after = brief(read), brief(lost)
    assert gone(before, after) == []
    assert all(door.status != "within" for door in after.doors if door.operate_kt <= 41)


@pytest.mark.parametrize("extremes", ["TX12/1013Z TNM15/1007Z", "TX02/1013Z TN01/1007Z", "TNM25/1006Z"])
def test_the_bands_hold_an_extreme_that_lies_far_off(extremes):
    made = brief(DRY, f"{SAME} {extremes}", ahead_min=300)
    for row in made.timeline:
        band = row["air_temperature_c"]
        assert band["low"] <= band["central"] <= band["high"], row["at"]
    seven = next(row for row in made.timeline if row["at"] == "2027-01-10T07:00:00Z")["air_temperature_c"]
    coldest = {"TX12": -15, "TX02": 1}.get(extremes[:4])
    assert coldest is None or seven["low"] <= coldest <= seven["high"]

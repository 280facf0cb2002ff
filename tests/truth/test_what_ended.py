"""What ended minutes ago still lies or clings: it counts like recent freezing rain, sure in the cold, else possible.

Where a deposit is certain (ice built up on a sensor, frost on an indicator, freezing kinds) a line is sure at or below
0 °C; snow may have fallen before the aircraft came, so it is possible up to about +3 °C. Common practice, no source.
"""

from __future__ import annotations

import pytest

from advisor import advise
from tests.truth.telling import at_least, line, metar, status, told

COLD, MILD, WARM = (
    "24006KT 9999 OVC030 M02/M05 Q1010",
    "24006KT 9999 OVC030 02/M02 Q1010",
    "24006KT 9999 OVC030 06/01 Q1010",
)
LINES = ("de-icing-request", "wing-upper-surface", "slippery-apron")
FREEZING = ("RMK FZRAB04E40", "RMK FZDZE41", "RMK FZRAB0355E20", "REFZRA", "REFZDZ")
ICE = ("RMK I1003", "RMK I1000", "RMK I3011", "RMK I6020", "RMK FROIN")
FROZEN = (
    "RMK SNE14",
    "RMK SNB0402E20",
    "RMK PLB02E40",
    "RESN",
    "RESHSN",
    "REPL",
    "RESG",
    "RESHGS",
    "RMK RAB02E10SNB10E33",
)


@pytest.mark.parametrize("said", [*FREEZING, *ICE, *FROZEN])
@pytest.mark.parametrize("air", [COLD, MILD], ids=["-2 C", "+2 C"])
def test_what_ended_within_two_hours_is_at_least_possible_below_three_degrees(said, air):
    made = told(f"{air} {said}")
    for name in LINES:
        assert at_least(made, name, "possible"), name


@pytest.mark.parametrize("said", [*FREEZING, *ICE])
def test_what_certainly_built_up_is_expected_at_or_below_zero(said):
    made = told(f"{COLD} {said}")
    assert {status(made, name) for name in ("de-icing-request", "wing-upper-surface")} == {"expected"}


@pytest.mark.parametrize("said", [*ICE, *FROZEN])
def test_what_ended_in_air_of_six_degrees_does_not_lie(said):
    # +6 °C less half a degree of rounding and a degree and a half of an hour: above +3 °C in every case
    assert not at_least(told(f"{WARM} {said}", ahead_min=60), "wing-upper-surface", "possible")


@pytest.mark.parametrize("groups", [COLD, MILD])
def test_the_same_air_in_which_nothing_ended_asks_for_nothing(groups):
    # cloud close above keeps the skin near the air, and the dew point lies well below: no frost of its own
    made = told(groups.replace("OVC030", "OVC010").replace("M02/M05", "M02/M09"), ahead_min=60)
    assert not at_least(made, "de-icing-request", "possible")


@pytest.mark.parametrize(
    "earlier",
    ["-SN", "SHSN", "PL", "-FZRA", "SG"],
)
def test_a_group_that_an_earlier_report_had_counts_the_same(earlier):
    before = metar(f"24006KT 3000 {earlier} OVC030 M01/M02 Q1009", "100350")
    for name in LINES:
        assert at_least(told(before, COLD), name, "possible"), name


def test_snow_that_ended_more_than_two_hours_before_a_thaw_asks_for_nothing():
    # the newest report of the four has +5 °C: a remark of light snow at ten past one has long melted at the skin
    rows = [
        metar("24010KT 9999 OVC010 05/03 Q1009 RMK SNB05E10", "100120"),
        *(metar("24010KT 9999 OVC010 06/03 Q1009", f"10{hour:02d}50") for hour in (1, 2, 3, 4)),
    ]
    assert not at_least(told(*rows, ahead_min=60), "de-icing-request", "possible")


@pytest.mark.parametrize("said", ["REGR", "RETSGR", "RMK GRB02E10", "RMK GR 1"])
def test_hail_that_ended_asks_for_a_look_for_dents(said):
    assert status(told(f"24006KT 9999 SCT030 14/08 Q1010 {said}"), "hail-inspection") == "expected"


@pytest.mark.parametrize("said", ["RETS", "RMK TSB02E31", "RETSRA"])
def test_a_storm_that_ended_asks_for_a_look_for_burn_marks(said):
    assert status(told(f"24006KT 9999 SCT030 14/08 Q1010 {said}"), "lightning-inspection") == "expected"


def test_a_storm_in_the_vicinity_or_in_a_forecast_marks_nothing():
    near = told("24006KT 9999 VCTS SCT030 14/08 Q1010")
    assert status(near, "lightning-inspection") not in ("expected", "likely", "possible")
    ahead = told(
        "24006KT 9999 SCT030 14/08 Q1010",
        "TAF ZZZA 100500Z 1005/1106 24010KT 9999 SCT030 TEMPO 1005/1008 30050G65KT TSGR",
    )
    for name in ("lightning-inspection", "hail-inspection", "gust-damage-inspection"):
        assert status(ahead, name) not in ("expected", "likely", "possible"), name
    assert line(ahead, "thunderstorm") is not None


def test_hail_before_the_aircraft_came_asks_for_nothing():
    rows = (metar("24006KT 9999 TSGR SCT030CB 14/08 Q1010", "100320"), "24006KT 9999 SCT030 14/08 Q1010")
    assert status(told(*rows), "hail-inspection") == "expected"
    assert status(told(*rows, parked_since="0440Z"), "hail-inspection") is None


def test_a_peak_wind_of_the_remarks_is_a_gale_that_was():
    gone = "24012KT 9999 SCT030 08/04 Q1000 RMK PK WND 27050/0412"
    assert at_least(told(gone, parked_since="0300Z"), "gust-damage-inspection", "possible")
    assert status(told(gone, parked_since="0430Z"), "gust-damage-inspection") not in ("expected", "likely", "possible")


@pytest.mark.parametrize("lost", ["//", "SNX", "5N", "RA/SN"])
def test_a_weather_group_of_an_earlier_report_that_is_missing_or_unread_is_not_dry(lost):
    # air too dry for frost of its own, in wind and under cloud
    before = metar(f"24012KT 9999 {lost} OVC012 M01/M09 Q1009", "100350")
    dry, after = metar("24012KT 9999 OVC012 M01/M09 Q1009", "100350"), "24012KT 9999 OVC012 M02/M09 Q1010"
    for name in ("wing-upper-surface", "probes-and-ports", "refrozen-water"):
        assert at_least(told(before, after, ahead_min=60), name, "cannot tell"), name
        assert status(told(dry, after, ahead_min=60), "probes-and-ports") is None


def test_a_peak_that_is_over_before_the_doors_open_is_told_beside_what_may_blow_then():
    """A peak of 38 kt at 20:31 may blow again until 21:31; from 21:40 on the report's 25 kt may have grown to 31."""
    asked = {"now": "2027-01-22T20:57Z", "off_block": "2027-01-22T22:30Z", "place": "61.4,9.8"}
    report = "METAR KZZA 222053Z AUTO 20015G25KT 10SM BKN030 12/08 A2970"
    over = advise(f"{report} RMK AO2 PK WND 21038/2031", aircraft="wide-body-jet", **asked)
    words = {one.key: one.words for one in over.hazards}
    assert words["gust"] == "gusts to 38 kt, later to 31 kt"
    assert {door.status for door in over.doors} == {"within"}
    # one that is there to the end is told once
    lasting = advise(report.replace("G25", "G38"), aircraft="wide-body-jet", **asked)
    assert "later" not in {one.key: one.words for one in lasting.hazards}["gust"]

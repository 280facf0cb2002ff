"""What a trial as pilots found: hazards without a line, lines nobody believes, reasons that name the wrong thing."""

from __future__ import annotations

import pytest

from advisor.render import reasons
from advisor.render.text import render
from tests.truth.telling import at_least, line, metar, status, told

SUMMER = {"now": "2027-07-15T14:10:00Z"}


def summer(groups: str) -> str:
    return metar(groups, "151350")


def test_ice_on_the_runway_in_the_report_reaches_the_ground_and_the_taxiing():
    # WMO-No. 306, table 0919, from memory: 7 is ice
    made = told("20005KT 9999 BKN030 05/02 Q1012 R24/791295")
    assert at_least(made, "slippery-apron", "possible") and at_least(made, "taxiing-slush", "possible")
    assert not at_least(told("20005KT 9999 BKN030 05/02 Q1012 R24/210095"), "slippery-apron", "possible")


def test_loose_snow_that_lies_whirls_up_whatever_gathered_on_the_aircraft():
    made = told("23004KT 9999 OVC020 M03/M06 Q1009 RMK 4/008", aircraft="helicopter")
    assert at_least(made, "loose-snow-hover", "possible")


@pytest.mark.parametrize("air", ["00/M00", "01/00"])
def test_plain_rain_at_freezing_is_no_stop_and_asks_for_another_look(air):
    made = told(f"20010KT 7000 RA OVC012 {air} Q1002", aircraft="regional-jet", ahead_min=60)
    assert status(made, "no-holdover") not in ("expected", "likely", "possible")
    again = line(made, "rain-may-freeze")
    assert again is not None and again.by is not None and at_least(made, "rain-may-freeze", "possible")
    # rain that a report calls freezing, and rain in frost, stop as they did
    assert at_least(told("20010KT 7000 FZRA OVC012 00/M00 Q1002"), "no-holdover", "possible")
    assert at_least(told("20010KT 7000 RA OVC012 M02/M02 Q1002"), "no-holdover", "possible")


def test_light_snow_of_unknown_visibility_is_not_told_to_have_no_holdover_time():
    assert status(told("20008KT //// -SN BKN030 M01/M01 Q1009", ahead_min=60), "no-holdover") == "cannot tell"
    assert at_least(told("20008KT //// +SN BKN030 M01/M01 Q1009", ahead_min=60), "no-holdover", "possible")


@pytest.mark.parametrize(
    ("weather", "said"), [("IC", False), ("SHGS", False), ("-RASN", False), ("-PL", False), ("GR", True)]
)
def test_what_has_tables_or_is_only_diamond_dust_is_no_stop(weather, said):
    made = told(f"20006KT 6000 {weather} OVC020 M01/M02 Q1009", ahead_min=60)
    assert (status(made, "no-holdover") in ("expected", "likely", "possible")) is said
    assert (status(made, "hail-shelter") is not None) is said


def test_ice_pellets_and_light_rain_with_snow_are_said_as_the_tables_treat_them():
    assert status(told("20006KT 6000 -PL OVC020 M01/M02 Q1009"), "ice-pellets") == "expected"
    assert status(told("20006KT 6000 -RASN OVC020 01/00 Q1009"), "rain-and-snow") == "expected"


@pytest.mark.parametrize(("fog", "said"), [("MIFG", False), ("BCFG", False), ("FG", True)])
def test_fog_that_one_sees_over_or_past_hides_nobody(fog, said):
    visibility = "0400" if fog == "FG" else "9999"
    made = told(f"00000KT {visibility} {fog} FEW200 08/08 Q1022")
    assert (status(made, "low-visibility-apron") == "expected") is said


def test_at_twelve_degrees_no_forecast_is_missed_for_ice():
    made = told("20005KT CAVOK 12/03 Q1002")
    assert status(made, "de-icing-request") is None and status(made, "no-holdover") is None


def test_a_gale_that_was_is_the_gust_that_was_reported():
    made = told(summer("20030G44KT 9999 SCT030 18/02 Q1002"), parked_since="2027-07-15T13:00:00Z", **SUMMER)
    assert not at_least(made, "gust-damage-inspection", "possible")
    made = told(summer("20030G46KT 9999 SCT030 18/02 Q1002"), parked_since="2027-07-15T13:00:00Z", **SUMMER)
    assert at_least(made, "gust-damage-inspection", "possible")


def test_frost_on_the_indicator_is_no_clear_ice():
    made = told("00000KT 10SM CLR 01/M01 A3002 RMK AO2 FROIN")
    wing = line(made, "wing-upper-surface")
    assert wing is not None and "Clear ice" not in wing.text
    assert status(made, "aerials-and-lamps") is None
    iced = line(told("20006KT 9999 OVC012 M02/M03 A3002 RMK AO2 I1003"), "wing-upper-surface")
    assert iced is not None and iced.text.startswith("Clear ice looks like water")


def test_reasons_name_what_ended_and_the_cloud_that_may_bring_a_storm():
    ended = told("03006KT 9999 OVC012 02/01 Q1002 RMK SNB0355E14")
    assert "snow within two hours" in reasons.reason(line(ended, "de-icing-request"))  # type: ignore[arg-type]
    storm = told(summer("23012KT 9999 FEW030CB 27/19 Q1009"), **SUMMER)
    assert "storm cloud (CB)" in reasons.reason(line(storm, "thunderstorm"))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("groups", "asked", "wrong", "right"),
    [
        ("20010KT 5000 -RASN OVC012 01/00 Q1002", {}, "Without what falls", "Without a forecast"),
        ("23012KT 9999 FEW030CB 17/09 Q1009", {}, "Without wind", "gusts of a storm"),
        (
            "20006KT 6000 -RA OVC010 ///// Q1002",
            {"fuel_temperature": "-8"},
            "without present weather",
            "air temperature",
        ),
        ("20006KT 9999 SN/ OVC030 02/M02 Q1010", {}, "reports of the time parked", "present weather"),
    ],
)
def test_what_could_not_be_told_names_the_input_that_is_missing(groups, asked, wrong, right):
    text = " ".join(render(told(groups, **asked)).split())
    assert wrong not in text and right in text


def test_a_time_of_yesterday_says_the_day():
    notes = " ".join(told(metar("24006KT 9999 OVC030 02/M02 Q1010", "082250")).notes)
    assert "what falls after 09/0050Z is not known" in notes


def test_a_wind_that_is_not_known_is_given_no_highest_gust():
    made = told(metar("00000KT 9999 FEW012 02/01 Q0998", "092150"), aircraft="light-aircraft")
    assert {(door.status, door.worst_kt) for door in made.doors} == {("cannot tell", None)}


def test_soles_that_grip_go_with_ice_underfoot():
    made = told(metar("05006KT 4000 -SN OVC010 02/00 Q1002", "100350"), "05006KT 9999 OVC010 02/00 Q1002 RMK SNE40")
    assert at_least(made, "slippery-apron", "possible") and at_least(made, "gloves-and-soles", "possible")


@pytest.mark.parametrize(
    ("groups", "asked"),
    [
        ("20010KT 5000 RA OVC012 06/05 Q1000", {"fuel_temperature": -8, "fuel_fill": 70}),
        ("05006KT 9999 OVC010 02/00 Q1002 RMK FZRAE40", {}),
        ("05006KT 9999 OVC010 03/00 Q1002", {"seen": "ice"}),
    ],
)
def test_whoever_is_treated_looks_again_before_take_off(groups, asked):
    made = told(groups, **asked)
    assert status(made, "de-icing-request") == "expected"
    assert at_least(made, "pre-take-off-check", "possible") and at_least(made, "treatment-plan", "possible")


def test_hail_forecast_for_the_night_wants_shelter_decided_tonight():
    made = told(
        metar("18010KT 9999 SCT040 22/16 Q1008", "102020"),
        "TAF ZZZA 101700Z 1018/1118 18010KT 9999 SCT040 TEMPO 1023/1103 25012KT 2000 +TSRAGR BKN015CB",
        now="2027-07-10T20:30:00Z",
        ahead_min=720,
        aircraft="glider",
    )
    assert at_least(made, "night-before-protection", "possible")


def test_a_gap_in_the_reports_is_named_as_that_and_not_as_missing_wind():
    rows = [metar("24006KT 9999 SCT030 14/02 Q1001", f"10{hour}50") for hour in ("02", "04")]
    gale = line(told(*rows, parked_since="0300Z"), "gust-damage-inspection")
    assert gale is not None and gale.missing == ("history",)


@pytest.mark.parametrize(
    ("groups", "key", "rule"),
    [
        ("34009KT CAVOK 41/19 Q1006", "heat", "heat"),
        ("34009KT CAVOK 33/16 Q1006", "heat", "heat"),
        ("25020KT 9999 FEW040 M32/M36 Q1012", "cold", "wind-chill"),
        ("25010KT 9999 FEW040 M08/M12 Q1012", "cold", "wind-chill"),
    ],
)
def test_heat_and_cold_that_a_line_insists_on_stand_in_what_it_is_about(groups, key, rule):
    report = summer(groups) if key == "heat" else metar(groups)
    made = told(report, **(SUMMER if key == "heat" else {}))
    insisted = [one for one in made.advice if one.id == rule and one.weight == "must"]
    assert bool(insisted) == any(one.key == key for one in made.hazards)
    assert bool(insisted) == ("dangerous" in render(made).split("Walk ")[0].lower())

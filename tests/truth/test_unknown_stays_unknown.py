"""What is not known stays so: beside milder weather, in a tank, and how long the aircraft stood outside."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from advisor import advise
from advisor.physics import treatment
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.render.text import render
from tests.truth.telling import RANK, at_least, metar, status, told


@pytest.mark.parametrize("mild", ["-RA", "RA", "-DZ", "-FZDZ", "-SN"])
def test_a_mild_kind_observed_does_not_hide_weather_that_the_forecast_leaves_out(mild):
    # a forecast whose weather is coded missing, for air at which snow may fall
    forecast = "TAF ZZZA 100500Z 1005/1106 24006KT 9999 // OVC020"
    made = told(f"24006KT 5000 {mild} OVC020 01/00 Q1000", forecast)
    assert at_least(made, "no-holdover", "cannot tell")


def test_freezing_drizzle_observed_does_not_hide_heavy_snow_in_the_forecast():
    forecast = "TAF ZZZA 100500Z 1005/1106 24006KT 0600 +SN VV004"
    assert at_least(told("24006KT 5000 -FZDZ OVC008 M02/M03 Q1000", forecast), "no-holdover", "possible")


# from the least to the gravest, common practice; what nobody told lies between those with a holdover time and the rest
DECIDING = ("unknown", "mixed", "heavy snow", "heavier freezing rain", "hail")


@pytest.mark.parametrize(
    "kind", [name for name in TREATMENT_CATEGORIES if name not in ("none", "rain on a cold-soaked wing")]
)
def test_of_a_set_that_holds_what_nobody_told_only_a_deciding_kind_is_told(kind):
    both = treatment.class_set(TREATMENT_CATEGORIES.index(kind)) | treatment.class_set(treatment.NOT_TOLD_CLASS)
    found = int(treatment.gravest_category(both, 3, 1.0, reported_air_c=1.0))
    assert found == (TREATMENT_CATEGORIES.index(kind) if kind in DECIDING else -1)
    # in air of 12 °C nothing frozen is missed
    if kind not in DECIDING:
        assert int(treatment.gravest_category(both, 3, 12.0, reported_air_c=12.0)) == TREATMENT_CATEGORIES.index(kind)


def test_a_set_comes_to_the_gravest_of_its_kinds():
    kinds = [TREATMENT_CATEGORIES.index(name) for name in ("freezing drizzle", "heavy snow", "very light snow")]
    both = np.bitwise_or.reduce(treatment.class_set(np.array(kinds)))
    assert TREATMENT_CATEGORIES[int(treatment.gravest_category(both, 1, -2.0, reported_air_c=-2.0))] == "heavy snow"


COLD_SOAKED = ("cold-soaked-wing", "fuel-warm-or-early")


@pytest.mark.parametrize("fuel", ["1", "4", "-1", "-8"])
def test_stated_fuel_in_air_that_nobody_measured_may_come_to_any_temperature(fuel):
    made = told("24006KT 9999 RA OVC025 ///// Q1008", aircraft="regional-jet", fuel_temperature=fuel)
    for name in COLD_SOAKED:
        assert status(made, name) == "cannot tell", name


def test_a_fill_that_nobody_stated_may_be_a_nearly_empty_tank():
    # fuel at +1 °C in air of -1 °C: a full tank, time constant 4 h at least, is below 0 °C after 4 h × ln 2 = 166 min;
    # a tenth of it after 17 min. Up to the off-block time in half an hour only the nearly empty one is below 0 °C
    asked = {"aircraft": "regional-jet", "fuel_temperature": "1", "ahead_min": 30, "take_off": "2027-01-10T05:41:00Z"}
    air = "24006KT 3000 BR OVC012 M01/M01 Q1008"
    assert at_least(told(air, **asked), "cold-soaked-wing", "possible")
    assert not at_least(told(air, fuel_fill=100, **asked), "cold-soaked-wing", "possible")


LARGE = ("twin-turboprop", "regional-jet", "single-aisle-jet", "wide-body-jet")
ARRIVED = "Have the skin over the tanks felt for clear ice"


@pytest.mark.parametrize("aircraft", LARGE)
@pytest.mark.parametrize(
    "groups",
    [
        "20010KT 7000 RA OVC012 09/07 Q1002",
        "20010KT 7000 -DZ OVC008 02/02 Q1002",
        "20010KT 9999 OVC012 14/11 Q1002 RERA",
        "20006KT 4000 BR OVC006 03/03 Q1009",
    ],
)
def test_a_wet_wing_whose_fuel_nobody_gave_is_felt_over_the_tanks_and_stands_on_the_walk(aircraft, groups):
    """Clear ice over cold fuel is known from −2 to +15 °C with moisture [second-hand]: every arriving crew's case."""
    made = told(groups, aircraft=aircraft)
    (line,) = [line for line in made.advice if line.id == "cold-soaked-wing"]
    assert (line.status, line.part, line.missing) == ("cannot tell", "walk", ("fuel_temperature_c",))
    text = " ".join(render(made).split())
    walk, untold = text.split(" ON THE WALK ")[1].split(" COULD NOT BE TOLD ")
    assert walk.count(ARRIVED) == 1 and "(fuel temperature not given)" in walk
    assert "skin over the tanks" not in untold


@pytest.mark.parametrize(
    ("groups", "more", "part"),
    [
        # fuel that was given decides: above freezing there is no line, below it the line is told
        ("20010KT 7000 RA OVC012 09/07 Q1002", {"fuel_temperature": "6"}, None),
        ("20010KT 7000 RA OVC012 09/07 Q1002", {"fuel_temperature": "-8"}, "walk"),
        # dry air, and air outside −2 to +15 °C
        ("20010KT 9999 OVC030 09/M02 Q1002", {}, None),
        ("20010KT 7000 RA OVC012 19/17 Q1002", {}, None),
        # where the weather is not known either, more is missing than the fuel
        ("20010KT //// // ////// 09/M09 Q1002", {}, "untold"),
    ],
)
def test_the_skin_over_the_tanks_stands_on_the_walk_only_where_the_fuel_alone_is_missing(groups, more, part):
    made = told(groups, aircraft="single-aisle-jet", **more)
    found = [line.part for line in made.advice if line.id == "cold-soaked-wing"]
    assert found == ([] if part is None else [part])


PARKED_RULES = {
    "loose-covers": ("24006KT 9999 OVC030 04/00 Q1010", "single-aisle-jet"),
    "water-drain": ("24006KT 9999 OVC030 M04/M08 Q1010", "single-aisle-jet"),
    "insects-in-ports": ("24006KT 9999 OVC030 21/08 Q1010", "glider"),
    "fuel-vents-caps": ("24006KT 9999 OVC030 12/02 Q1010", "helicopter"),
    "hot-brakes": ("24006KT 9999 OVC030 29/08 Q1010", "wide-body-jet"),
    "hangar-out": ("24006KT 4000 SN OVC010 M01/M02 Q1010", "light-aircraft"),
}


@pytest.mark.parametrize("name", PARKED_RULES)
def test_a_time_parked_that_was_not_stated_cannot_tell_what_hangs_on_it(name):
    groups, aircraft = PARKED_RULES[name]
    made = told(groups, aircraft=aircraft)
    assert status(made, name) == "cannot tell"
    assert "parked since" in made.not_stated
    stated = {status(told(groups, aircraft=aircraft, parked_since=at), name) for at in ("2000Z", "0509Z")}
    assert stated & {None, "not indicated"} and stated & {"expected", "likely", "possible"}


def test_a_report_older_than_the_parking_leaves_a_gap_that_is_known():
    old = metar("24006KT 9999 OVC030 M01/M03 Q1010", "100150")
    new = metar("24006KT 9999 OVC030 M01/M03 Q1010", "100450")
    made = told(old, new, parked_since="0345Z", ahead_min=60)
    assert any("0345–0450Z" in note and "not known" in note for note in made.notes)
    assert at_least(made, "fuselage-snow", "cannot tell")
    alone = told(old, parked_since="0345Z", ahead_min=60)
    assert any("0345–0510Z" in note for note in alone.notes)


def test_unknown_ranks_below_possible_and_above_not_indicated():
    assert RANK[None] < RANK["cannot tell"] < RANK["possible"]


def test_pellets_in_a_wind_that_nobody_forecast_may_have_melted_in_the_sun_and_frozen_again():
    # the sun of a morning in May at -4 °C warms a dark skin above 0 °C in light wind; what the wind is decides it
    asked = {"now": "2027-05-22T11:33:00Z", "ahead_min": 75, "aircraft": "single-aisle-jet"}
    report = metar("24008KT 9999 FEW020 M04/M09 Q1013", "221131")
    for wind in ("24008KT", "/////KT"):
        made = told(report, f"TAF ZZZA 220900Z 2210/2310 {wind} 9999 PL VV002", **asked)
        assert status(made, "refrozen-water") in ("possible", "cannot tell"), wind


def test_a_forecast_sky_that_nobody_told_melts_no_more_than_an_overcast_one():
    """After a treatment in unknown precipitation on an August morning at 61° north: the sun may not reach the wing."""
    report = "METAR ZZZA 130732Z 24008KT 9999 FEW020 07/05 Q1013 RMK PWINO"
    asked = {"now": "2027-08-13T09:22:00Z", "off_block": "2027-08-13T15:01:00Z", "place": "61.4,9.8"}
    asked |= {"aircraft": "single-aisle-jet", "treated_at": "2027-08-13T09:18Z"}
    for sky in ("OVC014", "//////"):
        brief = advise([report, f"TAF ZZZA 130500Z 1306/1318 24008KT 9999 {sky}"], **asked)
        assert status(brief, "exterior-lights") == "cannot tell", sky


@pytest.mark.parametrize(
    ("report", "sky", "fuel", "until", "name", "least"),
    [
        ("050500Z 24005KT 5000 {} M03/M04 Q1013", "FEW020", "1", "2027-04-05T08:30Z", "cold-soaked-wing", "possible"),
        (
            "070800Z 24005KT 5000 -RA {} M03/M03 Q1013",
            "BKN040",
            "6",
            "2027-02-07T12:58Z",
            "cold-soaked-wing",
            "possible",
        ),
        ("010900Z 24005KT 5000 DZ {} M01/M03 Q1013", "SKC", "7", "2027-02-01T14:15Z", "rain-may-freeze", "cannot tell"),
    ],
)
def test_a_lost_sky_takes_no_line_away_that_holds_in_milder_air_only(report, sky, fuel, until, name, least):
    """A tank may be cold-soaked between −2 and +15 °C of air, and below −2 °C rain is not said to freeze by chance.

    Under the sky that was told the air of the skin that cools most comes above −2 °C. Under a clear one it would stay
    colder, and in the warmest air nothing is as cold as that skin: with the sky lost both airs have to be tried.
    """
    off_block = datetime.fromisoformat(until)
    now = datetime.fromisoformat(f"{off_block:%Y-%m}-{report[:2]}T{report[2:6]}Z") + timedelta(minutes=80)
    asked = {"aircraft": "single-aisle-jet", "fuel_temperature": fuel, "place": "61.4,9.8"}
    for each, at in ((sky, least), ("//////", "cannot tell")):
        made = advise([f"METAR ZZZA {report.format(each)}"], now=now, off_block=off_block, **asked)
        assert at_least(made, name, at), each


def test_a_lost_sky_takes_no_canopy_in_the_sun_away_that_warm_air_under_few_clouds_brings():
    """Glass counts in air of 15 °C and more with at most half the sky covered: both may be so where the sky is lost."""
    asked = {"now": "2027-11-20T12:06Z", "off_block": "2027-11-20T13:21Z", "place": "52.1,-4.6"}
    for sky in ("SKC", "/////////"):
        made = advise([f"METAR ZZZA 201046Z 24008KT 9999 {sky} 13/12 Q1013"], aircraft="light-aircraft", **asked)
        assert status(made, "canopy-sun") == "possible", sky


def test_a_lost_sky_takes_no_rain_that_may_freeze_away_under_a_probable_group():
    """Air about 0 °C warms a little under cloud and more under none: above zero it is plain rain."""
    forecast = "TAF ZZZA 221810Z 2219/2319 24008KT 9999 FEW020 PROB40 2300/2302 DZ"
    asked = {"now": "2027-01-22T20:57Z", "off_block": "2027-01-23T00:26Z", "place": "35.7,-150.0"}
    for sky in ("CLR", "//////"):
        made = advise([f"METAR ZZZA 222052Z 24008KT 9999 {sky} 00/M01 Q1013", forecast], **asked)
        assert status(made, "rain-may-freeze") == "possible", sky

"""Snow that gathered, refrozen water and frost reach the ground, stairs, probes, intakes, gaps, gear and the plan.

The apron was outside all night whether or not anybody says since when the aircraft was. Common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.truth.telling import CLASSES, at_least, metar, status, told

FELL = [
    metar("24006KT 2000 SN OVC010 M02/M03 Q1003", "092250"),
    metar("24006KT 2000 SN OVC010 M02/M03 Q1003", "092350"),
]
DRY = [metar("24006KT 9999 OVC025 M02/M07 Q1008", f"10{hour:02d}50") for hour in range(5)]
RAINED = [metar("24006KT 6000 RA OVC012 03/03 Q0998", "092250"), metar("24006KT 6000 RA OVC012 02/02 Q0998", "092350")]
FROZE = [metar("30008KT 9999 OVC025 M03/M05 Q1004", f"10{hour:02d}50") for hour in range(5)]
# which classes have the line at all: no steps to a glider, no intake of its own, no plan with a slot desk for a club
HAS = {
    "slippery-apron": CLASSES,
    "steps-ice": ("light-aircraft", "helicopter", *CLASSES[4:]),
    "probes-and-ports": CLASSES,
    "intakes": ("light-aircraft", "helicopter", "uncrewed", *CLASSES[4:]),
    "control-gaps": CLASSES,
    "landing-gear-ice": CLASSES,
    "treatment-plan": CLASSES[4:],
    "wing-upper-surface": CLASSES,
}


@pytest.mark.parametrize(("name", "aircraft"), [(name, one) for name, classes in HAS.items() for one in classes])
@pytest.mark.parametrize(("before", "after"), [(FELL, DRY), (RAINED, FROZE)], ids=["snow", "refrozen water"])
def test_what_gathered_in_the_night_reaches_every_line_of_every_class(before, after, name, aircraft):
    made = told(*before, *after, aircraft=aircraft, parked_since="2130Z", ahead_min=60)
    assert at_least(made, name, "possible")


@pytest.mark.parametrize("name", HAS)
def test_without_a_time_of_parking_what_fell_on_the_station_may_lie_on_the_aircraft(name):
    assert at_least(told(*FELL, *DRY, ahead_min=60), name, "possible")


@pytest.mark.parametrize("name", ["slippery-apron", "steps-ice", "landing-gear-ice"])
def test_the_apron_was_there_all_night_though_the_aircraft_came_after_the_snow(name):
    came_late = told(*FELL, *DRY, parked_since="0300Z", ahead_min=60)
    assert at_least(came_late, name, "possible")
    # and nothing of it lies on an aircraft that came in dry air three hours later
    assert not at_least(came_late, "fuselage-snow", "possible")
    assert not at_least(told(*DRY, parked_since="0300Z", ahead_min=60), name, "possible")


def test_snow_that_certainly_lies_on_the_apron_is_expected_there():
    # two hours of moderate snow, 3.5 mm of water, five hours at -2 °C: nothing has melted
    assert status(told(*FELL, *DRY, ahead_min=60), "slippery-apron") == "expected"


def test_snow_of_the_night_has_gone_from_the_apron_after_a_warm_day():
    mild = [
        metar("24015KT 9999 OVC010 09/05 Q1001", f"{day:02d}{hour:02d}50")
        for day, hour in [(9, h) for h in range(6, 24)] + [(10, h) for h in range(5)]
    ]
    fell = [metar("24006KT 2000 SN OVC010 M01/M01 Q1003", "090450"), metar("24006KT 9999 OVC010 01/00 Q1003", "090550")]
    assert not at_least(told(*fell, *mild, ahead_min=60), "slippery-apron", "possible")


@pytest.mark.parametrize("code", ["DRSN", "BLSN"])
def test_drifting_snow_means_that_snow_lies(code):
    made = told(f"24025KT 4000 {code} SCT020 M04/M08 Q1010")
    assert status(made, "slippery-apron") == "expected"
    assert at_least(made, "landing-gear-ice", "possible") and at_least(made, "taxiing-slush", "possible")


def test_drifting_snow_of_the_evening_still_lies_in_the_morning():
    before = metar("24028KT 4000 DRSN SCT020 M04/M08 Q1010", "092150")
    rest = [
        metar("24008KT CAVOK M06/M12 Q1012", f"{day}{hour:02d}50")
        for day, hour in [("09", 22), ("09", 23), *(("10", h) for h in range(5))]
    ]
    assert status(told(before, *rest, ahead_min=60), "slippery-apron") == "expected"


def test_stairs_frost_where_a_wing_may():
    calm = "00000KT CAVOK 01/M01 Q1030"
    assert at_least(told(calm), "wing-upper-surface", "possible")
    assert at_least(told(calm), "steps-ice", "possible")


@pytest.mark.parametrize("rmk", ["4/012", "SNINCR 2/10"])
def test_a_depth_of_snow_that_was_measured_lies(rmk):
    assert at_least(told(f"24006KT 9999 OVC025 M04/M09 Q1008 RMK {rmk}"), "slippery-apron", "possible")

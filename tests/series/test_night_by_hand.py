"""Nights of hourly reports whose snow, frost and refrozen water are worked by hand.

Rates by class: Transport Canada 2018, light 0.4 to 1.0 mm/h, moderate 1.0 to 2.5, heavy above (10 g/dm²/h is 1 mm/h);
the middle of a class is taken, a factor of three either way is Rasmussen et al. 1999. Class by visibility: the worse of
the form of about 2009 and Transport Canada TP 10643 Table 1 (2003). Reports hold from their time to the next one.
"""

from __future__ import annotations

import numpy as np
import pytest
from parked import brief, conditions, line, lying, night, statuses, when

CENTRAL, COLD, ADVERSE, WINDY, CHILL = range(5)
LIGHT, MODERATE = (0.4 + 1.0) / 2, (1.0 + 2.5) / 2

# dark, -6 °C. 4000 m is 2.5 miles: very light in one table, light in the other: light. 2400 m is 1.5 miles: moderate
# in both. 0300Z and 0400Z are missing; at 2300Z 1200 m SN, heavy, was sent by mistake and put right to 2400 m
DRY = "02005KT 9999 OVC030 M06/M12 Q1008"
WRONG = "2300 02005KT 1200 SN OVC010 M06/M07 Q1008"
RIGHT = "2300 COR 02005KT 2400 -SN OVC010 M06/M07 Q1008"
NIGHT = night(
    f"2100 {DRY}",
    "2200 02005KT 4000 -SN OVC020 M06/M08 Q1008",
    WRONG,
    RIGHT,
    f"0000 {DRY}",
    f"0100 {DRY}",
    f"0200 {DRY}",
    f"0500 {DRY}",
)


def snow_mm(found, at):
    return found.columns["snow_accumulated_mm"][:, when(found, at)]


def test_snow_is_an_hour_of_light_and_an_hour_of_moderate():
    # 2200-2300 light 0.7 mm/h, 2300-0000 moderate 1.75 mm/h: 0.7 + 1.75 = 2.45 mm by midnight, dry till 0200
    found = conditions(NIGHT, since="2100Z")
    assert snow_mm(found, "2145")[CENTRAL] == 0.0
    # at a quarter past an hour has run for 15 min and the quarter before it, whose mean is half: 0.7 × (0.25 + 0.125)
    assert snow_mm(found, "2215")[CENTRAL] == pytest.approx(LIGHT * 0.375)
    assert snow_mm(found, "0000")[CENTRAL] == pytest.approx(LIGHT + MODERATE)
    assert snow_mm(found, "0200")[CENTRAL] == pytest.approx(2.45)
    # a factor of three either way: 7.35 mm on the adverse skin, 0.82 on the low-loss one
    assert snow_mm(found, "0200")[ADVERSE] == pytest.approx(3 * 2.45)
    assert snow_mm(found, "0200")[WINDY] == pytest.approx(2.45 / 3)


def test_without_the_correction_it_would_be_heavy_snow():
    # heavy begins at 2.5 mm/h: at least 0.7 + 2.5 = 3.2 mm where the correction leaves 2.45
    found = conditions([text for text in NIGHT if "COR" not in text], since="2100Z")
    assert snow_mm(found, "0000")[CENTRAL] >= LIGHT + 2.5
    told = statuses(brief(NIGHT, parked_since="2100Z"))
    assert told["fuselage-snow"] in ("expected", "likely", "possible") and told["wing-upper-surface"] == "expected"


def test_what_fell_in_the_gap_is_not_known_and_no_case_says_that_it_was_nothing():
    found = conditions(NIGHT, since="2100Z")
    before, after = snow_mm(found, "0200"), snow_mm(found, "0500")
    # what is certain stays: the central case keeps the 2.45 mm, where anything may have come on top is unknown
    assert after[CENTRAL] == before[CENTRAL] == pytest.approx(2.45)
    assert np.isnan(after[1:]).all()
    gap = when(found, "0445")
    assert (found.columns["snow"][1:, gap] == -1).all() and (found.columns["snow"][:, gap] != 1).all()
    said = " ".join(brief(NIGHT, parked_since="2100Z").notes)
    assert "No reports of the time parked for 0200–0500Z: what fell then is not known." in said


def test_a_gap_in_a_dry_night_makes_its_snow_a_question_and_no_gap_leaves_none():
    whole = night(*(f"{hour:02d}00 {DRY}" for hour in (21, 22, 23, 0, 1, 2, 3, 4, 5)))
    holed = [text for text in whole if "0300Z" not in text and "0400Z" not in text]
    assert "fuselage-snow" not in statuses(brief(whole, parked_since="2100Z"))
    assert statuses(brief(holed, parked_since="2100Z"))["fuselage-snow"] == "cannot tell"


def test_treatment_after_the_snow_takes_it_away_and_the_gap_after_it_stays_doubt():
    found = conditions(NIGHT, since="2100Z", treated="0100")
    assert snow_mm(found, "0045")[CENTRAL] == pytest.approx(2.45)
    assert (snow_mm(found, "0100") == 0.0).all() and (snow_mm(found, "0200") == 0.0).all()
    assert np.isnan(snow_mm(found, "0500")[1:]).all()


def test_treatment_while_it_snows_leaves_what_falls_after_it():
    # treated at 2330: a whole quarter of moderate snow to 2345 and half of the one in which it ends, 1.75 × 0.375 mm
    found = conditions(NIGHT, since="2100Z", treated="2330")
    assert (snow_mm(found, "2330") == 0.0).all()
    assert snow_mm(found, "0000")[CENTRAL] == pytest.approx(MODERATE * 0.375)
    assert (lying(found).lying[:, when(found, "0000")] == 1).all()


# rain from 2000Z for an hour at +3 °C in saturated air, then dry and freezing from 2200Z on
WET = night(
    "2000 24006KT 6000 -RA OVC012 03/03 Q0998",
    "2100 24006KT 9999 OVC015 02/02 Q0999",
    *(f"{hour:02d}00 30008KT 9999 OVC025 M02/M07 Q1004" for hour in (22, 23, 0, 1, 2, 3, 4, 5)),
)


def test_rain_that_stays_as_a_film_freezes_when_the_skin_does():
    # -RA is 1.0 mm/h in the middle of 0.1 to 2.5 (WMO-No. 8 from memory): 1 mm from 2000 to 2100, less half the last
    # quarter: 0.875 mm. The wing holds a film of 0.3 mm (an assumption), the rest runs off; saturated air dries none.
    # From 2200 the air is at -2 °C under cloud, so is the skin: 0.3 mm of ice and no water
    found = conditions(WET, since="2000Z")
    stores = lying(found)
    assert stores.rain_accumulated_mm[CENTRAL, when(found, "2100")] == pytest.approx(1.0 * 0.875)
    assert stores.water_mm[CENTRAL, when(found, "2100")] == pytest.approx(0.3)
    assert stores.ice_mm[CENTRAL, when(found, "2100")] == 0.0
    assert stores.ice_mm[CENTRAL, when(found, "2300")] == pytest.approx(0.3)
    assert stores.water_mm[CENTRAL, when(found, "2300")] == 0.0
    told = statuses(brief(WET, parked_since="2000Z"))
    assert {told[name] for name in ("refrozen-water", "control-gaps", "slippery-apron")} == {"expected"}


def test_rain_that_froze_is_gone_when_treated():
    told = statuses(brief(WET, parked_since="2000Z", treated_at="0100Z"))
    assert "refrozen-water" not in told
    assert told["treatment-record"] == "expected"


# clear, calm, air at 0 °C and close to saturation from 2100Z to 0500Z
FROSTY = night(*(f"{hour:02d}00 00000KT 9999 SKC 00/M01 Q1029" for hour in (21, 22, 23, 0, 1, 2, 3, 4, 5)))


def test_frost_is_the_sum_of_its_hourly_growth():
    found = conditions(FROSTY, since="2100Z")
    growth = found.columns["frost_growth_g_m2_h"][CENTRAL]
    start, end = when(found, "2100"), when(found, "0500")
    # mean of both ends of each quarter of an hour, 0.25 h each; 1000 g/m² are 1 mm of water
    by_hand = sum(0.25 * (growth[i] + growth[i + 1]) / 2 for i in range(start, end)) / 1000
    assert lying(found).frost_mm[CENTRAL, end] == pytest.approx(by_hand)
    # eight hours of dew are at most 0.8 mm a whole night (Monteith & Unsworth); less than 0.01 mm would be none
    assert 0.01 < by_hand < 0.8
    assert statuses(brief(FROSTY, parked_since="2100Z"))["wing-upper-surface"] == "expected"


def test_growth_is_what_the_lewis_relation_lets_through_less_what_its_own_heat_holds_back():
    # h / (c_p · Le^(2/3)) · 0.622 / p · (e_air - e_skin) with c_p 1005 J/kgK, Le^(2/3) 0.90, p 101 325 Pa is all that
    # can reach the skin; the heat of deposition, 2.83 MJ/kg, warms it: with a slope of ice saturation of about 40 Pa/K
    # at the skin and 4 to 14 W/m²K in all to carry it off, between a third and all of it is left
    found = conditions(FROSTY, since="2100Z")
    at = when(found, "0000")
    skin = found.columns["wing_skin_temperature_c"][CENTRAL, at]
    dew = found.columns["dew_point_c"][CENTRAL, at]
    # WMO-No. 8 Annex 4.B: over water for the dew point, over ice for the skin
    air_pa = 611.2 * np.exp(17.62 * dew / (243.12 + dew))
    skin_pa = 611.2 * np.exp(22.46 * skin / (272.62 + skin))
    # the central skin: h = 2.8 + 3.0 V (Watmuff), V at the wing 0.5 m/s in calm air
    transfer = 2.8 + 3.0 * 0.5
    most = transfer / (1005 * 0.90) * 0.622 / 101_325 * (air_pa - skin_pa) * 3600 * 1000
    assert most / 3 < found.columns["frost_growth_g_m2_h"][CENTRAL, at] < most
    assert line(brief(FROSTY, parked_since="2100Z"), "de-icing-request").status == "expected"

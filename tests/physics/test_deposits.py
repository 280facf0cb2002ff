"""Deposit, melt and refreezing by hand, their order under doubt, and tanks against their closed form."""

from dataclasses import fields
from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import tables

from advisor.physics import deposits

PUBLISHED, LEWIS = tables("deposits"), tables("skin")["lewis"]
CHOICES = PUBLISHED["choices"]
HOUR = 3600.0
NAN = np.nan
# melting by hand: 10 W/m²K · 3600 s / 333 600 J/kg = 0.10791 mm/h for each K
MELT = CHOICES["melting"] * HOUR / PUBLISHED["fusion"]["joule_kg"]
rates = st.lists(st.floats(0, 10, allow_subnormal=False), min_size=5, max_size=5)
skins = st.lists(st.one_of(st.floats(-30, 30), st.just(NAN)), min_size=5, max_size=5)
FIVE = np.arange(5) * HOUR


def test_snow_on_a_cold_skin_gathers_what_falls():
    lying = deposits.integrate([0, HOUR, 3 * HOUR], -3, frozen_mm_h=[1.0, 2.0, 0.0])
    # (1+2)/2 · 1 h, then (2+0)/2 · 2 h
    np.testing.assert_allclose(lying.snow_mm, [0, 1.5, 3.5])
    np.testing.assert_allclose(lying.snow_accumulated_mm, [0, 1.5, 3.5])
    assert lying.lying.tolist() == [0, 1, 1] and lying.wet_or_ice.tolist() == [0, 0, 0]


def test_frost_grows_in_grams_and_lies_in_millimetres():
    lying = deposits.integrate([0, HOUR, 2 * HOUR], -4, frost_growth_g_m2_h=50)
    np.testing.assert_allclose(lying.frost_mm, [0, 0.05, 0.1])


def test_melting_by_hand():
    # skin at 2 °C all the time: 2 · 0.10791 = 0.21583 mm in an hour; frost goes first, then snow, then ice
    lying = deposits.integrate(np.arange(4) * HOUR, 2.0, start_frost_mm=0.1, start_snow_mm=0.2, start_ice_mm=1.0)
    assert pytest.approx(0.10791, abs=5e-6) == MELT
    np.testing.assert_allclose(lying.frost_mm, [0.1, 0, 0, 0])
    np.testing.assert_allclose(lying.snow_mm, [0.2, 0.2 - (2 * MELT - 0.1), 0, 0], atol=1e-12)
    np.testing.assert_allclose(lying.ice_mm, [1.0, 1.0, 1.3 - 4 * MELT, 1.3 - 6 * MELT])
    np.testing.assert_allclose(lying.water_mm[1], 2 * MELT)


def test_a_step_is_as_warm_as_its_colder_end():
    one_end_cold = deposits.integrate([0, HOUR], [5.0, 0.0], start_ice_mm=1.0)
    np.testing.assert_allclose(one_end_cold.ice_mm, [1, 1])
    warming = deposits.integrate([0, HOUR], [1.0, 5.0], start_ice_mm=1.0)
    np.testing.assert_allclose(warming.ice_mm, [1, 1 - MELT])


def test_a_deposit_lies_until_the_skin_has_been_above_0_long_enough():
    # 0.5 mm of frost at +1 °C needs 0.5 / 0.10791 = 4.63 h
    lying = deposits.integrate(np.arange(8) * HOUR, 1.0, start_frost_mm=0.5)
    assert lying.lying.tolist() == [1, 1, 1, 1, 1, 0, 0, 0]


def test_melt_water_that_meets_a_skin_at_0_is_ice_again():
    lying = deposits.integrate(np.arange(4) * HOUR, [2, 2, 0, -3], start_snow_mm=0.15)
    assert lying.water_mm.tolist() == pytest.approx([0, 0.15, 0, 0])
    assert lying.ice_mm.tolist() == pytest.approx([0, 0, 0.15, 0.15])
    assert lying.lying.tolist() == [1, 0, 1, 1] and lying.wet_or_ice.tolist() == [0, 1, 1, 1]


def test_rain_wets_to_a_film_and_freezes_on_a_skin_at_or_below_0():
    warm = deposits.integrate([0, HOUR], 3.0, liquid_mm_h=5)
    assert warm.water_mm.tolist() == [0, CHOICES["film_mm"]] and warm.rain_accumulated_mm.tolist() == [0, 5]
    soaked = deposits.integrate([0, HOUR], -0.5, liquid_mm_h=5)
    assert soaked.ice_mm.tolist() == [0, 5] and soaked.water_mm.tolist() == [0, 0] and soaked.lying.tolist() == [0, 1]


def test_lying_snow_holds_a_tenth_of_its_water():
    lying = deposits.integrate([0, HOUR], 0.001, start_snow_mm=10, liquid_mm_h=5)
    expected = CHOICES["film_mm"] + CHOICES["held"] * lying.snow_mm[1]
    assert lying.water_mm[1] == pytest.approx(expected) and expected == pytest.approx(1.3, abs=1e-4)


def test_freezing_rain_is_ice_whatever_the_skin_and_may_melt_later():
    lying = deposits.integrate(np.arange(3) * HOUR, [-5, 2, 2], freezing_mm_h=[1, 1, 0])
    np.testing.assert_allclose(lying.ice_mm, [0, 1, 1.5 - 2 * MELT])


def test_drying_by_hand():
    # skin 10 °C: 611.2 · exp(176.2/253.12) = 1226.0 Pa; air 700 Pa; 4 W/m²K · 526.0 Pa · 6.808e-9 · 3600 s
    flow = LEWIS["molar_ratio"] / (LEWIS["heat_of_air"] * LEWIS["pressure_pa"] * LEWIS["lewis_number"] ** (2 / 3))
    dried = CHOICES["drying"] * (611.2 * exp(176.2 / 253.12) - 700) * flow * HOUR
    assert dried == pytest.approx(0.0516, abs=5e-5)
    lying = deposits.integrate([0, HOUR], 10.0, start_water_mm=0.3, vapour_pressure_pa=700)
    assert lying.water_mm[1] == pytest.approx(0.3 - dried, rel=1e-6)
    for air in (1300.0, NAN):
        damp = deposits.integrate([0, HOUR], 10.0, start_water_mm=0.3, vapour_pressure_pa=air)
        assert damp.water_mm[1] == 0.3
    # the moister end of the step holds
    mixed = deposits.integrate([0, HOUR], 10.0, start_water_mm=0.3, vapour_pressure_pa=[700, 1300])
    assert mixed.water_mm[1] == 0.3


def test_less_than_a_trace_is_nothing():
    for amount, lies in [(CHOICES["trace_mm"] * 0.996, 0), (CHOICES["trace_mm"] * 1.004, 1)]:
        assert deposits.integrate([0.0], -3, start_frost_mm=amount).lying.tolist() == [lies]


# treatment


def test_treatment_takes_everything_and_what_falls_on_counts():
    times = np.arange(5) * HOUR
    lying = deposits.integrate(
        times, -3, frozen_mm_h=1.0, frost_growth_g_m2_h=100, start_ice_mm=2, treated_at_s=1.75 * HOUR
    )
    np.testing.assert_allclose(lying.snow_mm, [0, 1, 0.25, 1.25, 2.25])
    np.testing.assert_allclose(lying.frost_mm, [0, 0.1, 0.025, 0.125, 0.225])
    np.testing.assert_allclose(lying.ice_mm, [2, 2, 0, 0, 0])
    np.testing.assert_allclose(lying.snow_accumulated_mm, [0, 1, 0.25, 1.25, 2.25])
    assert lying.lying.tolist() == [1, 1, 1, 1, 1]
    dry = deposits.integrate(times, -3, start_ice_mm=2, treated_at_s=2 * HOUR)
    assert dry.lying.tolist() == [1, 1, 0, 0, 0]


def test_rain_on_the_ground_is_not_treated_away():
    lying = deposits.integrate(np.arange(4) * HOUR, 5, liquid_mm_h=2, treated_at_s=2 * HOUR)
    assert lying.rain_accumulated_mm.tolist() == [0, 2, 4, 6] and lying.water_mm[2] == 0


def test_treatment_at_the_first_time_clears_the_start_and_one_before_it_does_not():
    times = np.arange(2) * HOUR
    assert deposits.integrate(times, -3, start_ice_mm=2, treated_at_s=0.0).lying.tolist() == [0, 0]
    assert deposits.integrate(times, -3, start_ice_mm=2, treated_at_s=-60.0).lying.tolist() == [1, 1]
    assert deposits.integrate(times, -3, start_ice_mm=2, treated_at_s=9e9).lying.tolist() == [1, 1]


def test_treatment_ends_what_was_only_not_known_to_have_gone():
    skin = [-2, NAN, NAN, NAN]
    untreated = deposits.integrate(np.arange(4) * HOUR, skin, start_snow_mm=1)
    assert untreated.lying.tolist() == [1, 1, 1, 1] and np.isnan(untreated.snow_mm[1:]).all()
    treated = deposits.integrate(np.arange(4) * HOUR, skin, start_snow_mm=1, treated_at_s=2 * HOUR)
    assert treated.lying.tolist() == [1, 1, 0, 0]
    unknown = deposits.integrate(
        np.arange(4) * HOUR, skin, start_snow_mm=1, treated_at_s=2 * HOUR, frost_growth_g_m2_h=[0, 0, NAN, 0]
    )
    # what grew before the treatment went with it; what grew in the step after is not known
    assert unknown.lying.tolist() == [1, 1, -1, -1]


# doubt


def test_an_unknown_rate_leaves_the_amount_unknown_not_0():
    for name, store in [
        ("frost_growth_g_m2_h", "frost_mm"),
        ("frozen_mm_h", "snow_mm"),
        ("freezing_mm_h", "ice_mm"),
        ("liquid_mm_h", "water_mm"),
    ]:
        made = deposits.integrate(np.arange(3) * HOUR, [5, 5, 5], **{name: [0, 0, NAN]})
        assert np.isnan(getattr(made, store)).tolist() == [False, False, True]
        flag = made.wet_or_ice if name == "liquid_mm_h" else made.lying
        assert flag.tolist() == [0, 0, -1]


def test_an_unknown_skin_melts_nothing_where_nothing_lies():
    made = deposits.integrate(np.arange(3) * HOUR, NAN)
    assert made.lying.tolist() == [0, 0, 0] and (made.ice_mm == 0).all()
    wet = deposits.integrate(np.arange(3) * HOUR, NAN, start_water_mm=0.2)
    assert wet.lying.tolist() == [0, -1, -1] and wet.wet_or_ice.tolist() == [1, 1, 1]


def test_a_known_deposit_is_not_hidden_by_an_unknown_one():
    made = deposits.integrate(np.arange(2) * HOUR, -3, frozen_mm_h=1, frost_growth_g_m2_h=NAN)
    assert made.lying.tolist() == [0, 1]


def test_what_comes_on_top_of_what_nobody_knows_lies_there():
    # half a millimetre on a skin that nobody knows may have melted; so may what comes in the next hour
    skin, snow = [-5, NAN, -5, -5, -5, 30, 30], [0, 1, 0, 0, 2, 0, 0]
    made = deposits.integrate(np.arange(7) * HOUR, skin, frozen_mm_h=snow)
    assert made.lying.tolist() == [0, -1, -1, -1, 1, 1, 1]
    # then a millimetre on a skin of -5 °C, and in the next hour as much again: two at least. At 30 °C 3.2 mm an hour
    # may melt, and whether any is left of what lay below is as little known as before
    assert made.snow_mm[4:6].tolist() == [1, 2] and np.isnan(made.snow_mm[[1, 2, 3, 6]]).all()
    dry = deposits.integrate(np.arange(7) * HOUR, [0, NAN, 0, -5, -5, 30, 30], liquid_mm_h=snow)
    assert dry.wet_or_ice.tolist() == [0, -1, -1, -1, 1, 1, 1]


def test_what_melts_of_what_nobody_knows_is_water_that_nobody_knows():
    # frost that grows unknown on -5 °C and melts at 5 °C; it may keep the millimetre of snow that lies with it,
    # of which 0.54 mm an hour would melt else
    skin, growth = [-5, -5, -5, 5, 5, 5, 5, -5], [0, NAN, 0, 0, 0, 0, 0, 0]
    made = deposits.integrate(np.arange(8) * HOUR, skin, frost_growth_g_m2_h=growth, start_snow_mm=1)
    assert np.isnan(made.frost_mm).tolist() == [False, *[True] * 7]
    assert made.snow_mm[:4].tolist() == [1, 1, 1, 1] and np.isnan(made.snow_mm[6:]).all()
    assert made.water_mm[:4].tolist() == [0] * 4 and np.isnan(made.water_mm[7]) and (made.ice_mm[:7] == 0).all()
    # what froze again is the water that is known: 0.46 mm of snow melt, and a film of 0.3 mm is held
    assert made.ice_mm[7] == pytest.approx(0.3) and made.lying.tolist() == [1] * 8
    assert made.wet_or_ice.tolist() == [0] * 4 + [1] * 4


def test_of_two_frosts_that_nobody_knows_none_is_taken_for_none():
    # alone, and with rain: all of it may have melted, or be ice
    skin, growth = [-5, -5, 5, -5, -5], [0, NAN, 0, 0, 0]
    made = deposits.integrate(np.arange(5) * HOUR, skin, frost_growth_g_m2_h=growth)
    assert made.lying.tolist() == [0, -1, -1, -1, -1] and np.isnan(made.frost_mm[1:]).all()
    wide = deposits.integrate(np.arange(5) * HOUR, np.tile(skin, (3, 1)), frost_growth_g_m2_h=growth)
    for name in [field.name for field in fields(deposits.Deposits)]:
        for row in getattr(wide, name):
            np.testing.assert_array_equal(row, getattr(made, name), err_msg=name)


def test_ice_that_may_have_melted_is_ice_or_water():
    made = deposits.integrate(np.arange(3) * HOUR, [-3, NAN, NAN], start_ice_mm=1)
    assert made.wet_or_ice.tolist() == made.lying.tolist() == [1, 1, 1]
    assert deposits.integrate(np.arange(3) * HOUR, [-3, NAN, NAN], start_snow_mm=1).wet_or_ice.tolist() == [0, -1, -1]


def test_negative_and_absurd_amounts_are_not_known():
    assert np.isnan(deposits.integrate([0, HOUR], -3, frozen_mm_h=-1).snow_mm[1])
    assert np.isnan(deposits.integrate([0.0], -3, start_ice_mm=10_040).ice_mm[0])
    assert deposits.integrate([0.0], -3, start_ice_mm=9_990).ice_mm[0] == 9_990
    for skin, known in [(-90, True), (-90.4, False), (150, True), (150.6, False)]:
        made = deposits.integrate([0, HOUR], skin, start_ice_mm=1)
        assert np.isfinite(made.ice_mm[1]) == known
    # vapour over 20 000 Pa is not known: the wing stays wet; just under it dries a skin of 60 °C, not of 59 °C
    assert deposits.integrate([0, HOUR], 60, start_water_mm=0.3, vapour_pressure_pa=19_900).water_mm[1] < 0.3


def test_times_out_of_order_are_refused():
    for times in ([0, 0], [1, 0]):
        with pytest.raises(ValueError, match="does not rise"):
            deposits.integrate(times, 0)


@given(skins, rates, rates, rates)
def test_nothing_is_made_and_nothing_negative(skin, frozen, liquid, freezing):
    made = deposits.integrate(FIVE, skin, frozen_mm_h=frozen, liquid_mm_h=liquid, freezing_mm_h=freezing)
    stores = np.array([made.frost_mm, made.snow_mm, made.ice_mm, made.water_mm])
    known = np.where(np.isnan(stores), 0, stores)
    assert (known >= 0).all()
    hours = np.diff(FIVE) / HOUR
    total = np.array(frozen) + np.array(liquid) + np.array(freezing)
    fallen = np.concatenate([[0], np.cumsum(0.5 * (total[1:] + total[:-1]) * hours)])
    assert (known.sum(axis=0) <= fallen + 1e-9).all()


@given(skins, rates, rates, st.floats(0, 5))
def test_a_colder_skin_never_holds_less(skin, frozen, liquid, colder):
    warm, cold = (
        deposits.integrate(FIVE, np.array(skin) - less, frozen_mm_h=frozen, liquid_mm_h=liquid) for less in (0, colder)
    )
    rank = np.array([0, 2, 1])
    assert (rank[cold.lying] >= rank[warm.lying]).all()


@given(skins, rates, st.floats(0.1, 100))
def test_more_snow_never_leaves_less(skin, frozen, more):
    less = deposits.integrate(FIVE, skin, frozen_mm_h=frozen)
    most = deposits.integrate(FIVE, skin, frozen_mm_h=np.array(frozen) * (1 + more))
    rank = np.array([0, 2, 1])
    assert (rank[most.lying] >= rank[less.lying]).all()


@given(st.lists(st.tuples(skins, rates, rates), min_size=2, max_size=4))
def test_columns_of_many_cases_are_those_of_each_case(cases):
    skin, frozen, liquid = map(np.array, zip(*cases, strict=True))
    together = deposits.integrate(FIVE, skin, frozen_mm_h=frozen, liquid_mm_h=liquid, treated_at_s=5000.0)
    for i in range(len(cases)):
        alone = deposits.integrate(FIVE, skin[i], frozen_mm_h=frozen[i], liquid_mm_h=liquid[i], treated_at_s=5000.0)
        for name in [field.name for field in fields(deposits.Deposits)]:
            np.testing.assert_array_equal(getattr(together, name)[i], getattr(alone, name))


# tanks


def test_a_tank_in_steady_air_follows_the_exponential():
    times = np.array([0, 0.5, 3, 8, 30]) * HOUR
    for name, hours in PUBLISHED["tank"]["hours"].items():
        assert deposits.TANK_TIME_H[name] == hours
        made = deposits.fuel_temperature_c(times, -15, np.full(5, 7.0), time_constant_h=hours)
        np.testing.assert_allclose(made, 7 - 22 * np.exp(-times / HOUR / hours), rtol=1e-12)
    usual = deposits.fuel_temperature_c(times, -15, 7.0)
    assert usual[3] == pytest.approx(7 - 22 * exp(-8 / PUBLISHED["tank"]["hours"]["central"]))


def test_a_tank_in_changing_air_by_hand():
    # 0 °C then 4 °C an hour later: towards 2 °C with exp(-1/8) = 0.8825 of the 12 K left: 2 - 12 · 0.8825 = -8.590
    made = deposits.fuel_temperature_c([0, HOUR], -10, [0, 4])
    assert made[1] == pytest.approx(-8.590, abs=5e-4)


def test_a_tank_takes_cases_and_keeps_what_is_missing():
    made = deposits.fuel_temperature_c([0, HOUR, 2 * HOUR], [-10, 5, NAN], [[0, 0, 0], [0, NAN, 0], [0, 0, 0]])
    assert np.isnan(made).tolist() == [[False] * 3, [False, True, True], [True] * 3]
    shared = deposits.fuel_temperature_c([0, HOUR], [-10, 5], [0, 0])
    assert shared.shape == (2, 2)
    assert np.isnan(deposits.fuel_temperature_c([0, HOUR], -60.3, 0)[0])
    assert np.isnan(deposits.fuel_temperature_c([0, HOUR], 70.3, 0)[0])
    for hours in (0.0996, 200.8):
        with pytest.raises(ValueError, match=r"0\.1 to 200"):
            deposits.fuel_temperature_c([0, HOUR], 0, 0, time_constant_h=hours)
    for hours in (0.1, 200):
        assert np.isfinite(deposits.fuel_temperature_c([0, HOUR], [-60, 70], 0, time_constant_h=hours)).all()


def test_a_tank_s_air_has_a_range():
    for air, known in [(-90, True), (-90.4, False), (60, True), (60.3, False)]:
        assert np.isfinite(deposits.fuel_temperature_c([0, HOUR], 0, air)[1]) == known

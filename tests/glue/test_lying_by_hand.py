"""What lies, from rates in mm/h written in the test: hour by hour, six times, the last of them now.

Over a step a rate is the mean of its two ends: 1 mm/h at the first two hours is 1 mm in the first step and half of one
in the second. A skin above 0 °C melts 10 W/m²K / 333.6 kJ/kg = 0.1079 mm an hour for each degree (deposits.py).
"""

from __future__ import annotations

import numpy as np
import pytest
from subject import BASE_CASES, UNDERFOOT, Airframe, Conditions, deposits, lying
from worked import ADVERSE, CENTRAL, CHILL, COLD, WINDY

SIX = 6
NAN = float("nan")
COLUMNS = {
    # cold and dry, no frost
    "air_temperature_c": -2.0,
    "dew_point_c": NAN,
    "wing_skin_temperature_c": -3.0,
    "frost_growth_g_m2_h": 0.0,
    "snow_rate_mm_h": 0.0,
    "rain_rate_mm_h": 0.0,
    "seen_gust_kt": 0.0,
    "peak_wind_kt": 0.0,
    "wind_kt": 4.0,
}
NOTHING = (
    "ice_pellets",
    "freezing_precipitation",
    "seen_snow",
    "seen_pellets",
    "seen_frozen",
    "seen_freezing",
    "seen_rain",
    "snow_depth",
    "blowing_snow",
    "hail",
    "storm_said",
    "thunderstorm",
    "squall",
    "frozen_precipitation",
    "seen_hail",
    "seen_thunderstorm",
    "seen_squall",
    "rain",
    "drizzle",
    "fog",
    "mist",
    "freezing_after_wet",
    "ended_lies",
    "sky_undescribed",
)
# 0.1079 mm/h for a degree
MELTS_MM_H_K = 10 * 3600 / 333_600


def night(
    *, hours: int = SIX, now: float = 5, parked: float = NAN, treated: float | None = None, **changed: object
) -> Conditions:
    """Hourly times from 0; a column as a number, or as its first hours, the last of which goes on."""
    found = Conditions(
        3600.0 * np.arange(hours),
        61.4,
        9.8,
        BASE_CASES,
        now_s=3600.0 * now,
        parked_since_s=3600.0 * parked,  # type: ignore[arg-type]
        treated_at_s=None if treated is None else 3600.0 * treated,
    )
    for name, value in ({**COLUMNS, **dict.fromkeys(NOTHING, 0)} | changed).items():
        said = list(np.atleast_1d(value))  # type: ignore[call-overload]
        row = [*said, *[said[-1]] * (hours - len(said))]
        kind = np.int8 if name in NOTHING else np.float64
        found.columns[name] = np.tile(np.array(row, dtype=kind), (len(BASE_CASES), 1))
    return found


def told(name: str, row: int = COLD, *, where: str = "apron", **said: object) -> list[float]:
    aircraft, apron = lying.lying(night(**said))  # type: ignore[arg-type]
    return getattr(aircraft if where == "aircraft" else apron, name)[row].tolist()  # type: ignore[no-any-return]


def mm(values: list[float]) -> object:
    return pytest.approx(values, abs=1e-9, nan_ok=True)


# who was outside

SNOW = {"snow_rate_mm_h": [1, 1, 0]}
FELL = [0, 1, 1.5, 1.5, 1.5, 1.5]


@pytest.mark.parametrize("row", range(len(BASE_CASES)))
def test_the_apron_was_outside_all_night_in_every_case(row: int) -> None:
    for parked in (NAN, 3):
        assert told("snow_accumulated_mm", row, parked=parked, **SNOW) == mm(FELL)
        assert told("snow", row, parked=parked, **SNOW) == [0, 1, 1, 1, 1, 1]


def test_an_aircraft_of_which_nobody_said_since_when_was_outside_in_all_cases_but_the_central_one() -> None:
    for row in (COLD, ADVERSE, WINDY, CHILL):
        assert told("snow_accumulated_mm", row, where="aircraft", **SNOW) == mm(FELL)
    assert told("snow", CENTRAL, where="aircraft", **SNOW) == [0] * 6
    # from now on it stands there in the central case too: half of a step
    later = told("snow_accumulated_mm", CENTRAL, where="aircraft", now=3, snow_rate_mm_h=1)
    assert later == mm([0, 0, 0, 0.5, 1.5, 2.5])


def test_an_aircraft_is_outside_since_it_was_parked_in_every_case() -> None:
    # from 01:00: half of the first step, half of the second
    for row in (CENTRAL, COLD, WINDY):
        assert told("snow_accumulated_mm", row, where="aircraft", parked=1, **SNOW) == mm([0, 0.5, 1, 1, 1, 1])
    assert told("anything", CENTRAL, where="aircraft", parked=1, **SNOW) == [0, 1, 1, 1, 1, 1]


def test_treatment_takes_what_lies_from_the_aircraft_and_nothing_from_the_apron() -> None:
    said = {"treated": 3, "parked": 0, **SNOW}
    assert told("snow", CENTRAL, where="aircraft", **said) == [0, 1, 1, 0, 0, 0]
    assert told("snow", CENTRAL, **said) == [0, 1, 1, 1, 1, 1]


# how much


def test_ice_pellets_as_water_by_loss_variant() -> None:
    # 1.2 mm/h, a third and three times of it
    for row, rate in ((CENTRAL, 1.2), (COLD, 1.2), (ADVERSE, 3.6), (WINDY, 0.4)):
        fell = told("snow_accumulated_mm", row, ice_pellets=[1, 1, 0], snow_rate_mm_h=[0.5, 0.5, 0])
        assert fell == mm([0, rate + 0.5, *[1.5 * (rate + 0.5)] * 4]), row


def test_what_was_seen_to_fall_without_an_amount_is_a_twentieth_of_a_millimetre_an_hour_at_least() -> None:
    fell = told("snow_accumulated_mm", seen_snow=[1, 1, 0])
    assert fell == mm([0, 0.05, *[0.075] * 4]) and told("snow", seen_snow=[1, 1, 0]) == [0, 1, 1, 1, 1, 1]
    # more that was reported counts as it is, less is raised
    assert told("snow_accumulated_mm", seen_snow=[1, 1, 0], **SNOW) == mm(FELL)
    assert told("snow_accumulated_mm", seen_snow=[1, 1, 0], snow_rate_mm_h=[0.02, 0.02, 0])[1] == mm(0.05)  # type: ignore[arg-type]
    wet = {"air_temperature_c": 4, "wing_skin_temperature_c": 3}
    assert told("rain_accumulated_mm", seen_rain=[1, 1, 0], **wet) == mm([0, 0.05, *[0.075] * 4])


def test_where_something_fell_and_nobody_knows_how_much_it_lies_and_the_amount_is_not_known() -> None:
    said = {"seen_snow": [1, 1, 0], "snow_rate_mm_h": [NAN, NAN, 0]}
    assert told("snow", **said) == [0, 1, 1, 1, 1, 1]
    assert told("snow_accumulated_mm", **said) == mm([0, *[NAN] * 5])


@pytest.mark.parametrize(
    "said",
    [
        {"snow_rate_mm_h": [0, NAN, 0]},
        {"ice_pellets": [0, -1, 0]},
        {"seen_snow": [0, -1, 0]},
        {"seen_pellets": [0, -1, 0]},
    ],
    ids=["rate", "pellets", "seen", "pellets seen"],
)
def test_what_nobody_knows_may_have_fallen_and_may_lie(said: dict[str, object]) -> None:
    assert told("snow", **said) == told("anything", **said) == [0, -1, -1, -1, -1, -1]
    assert told("snow_accumulated_mm", **said) == mm([0, *[NAN] * 5])
    # what is known to have fallen lies whatever else there was
    for seen in ("seen_snow", "seen_pellets"):
        assert told("snow", **{seen: [0, 1, 0]}, ice_pellets=[0, -1, 0]) == [0, 1, 1, 1, 1, 1]


def test_hail_that_was_seen_is_frozen_and_is_neither_snow_nor_pellets_that_lie() -> None:
    # seen_frozen is hail too; a spell of snow or pellets alone is what gathers
    assert told("anything", seen_frozen=[1, 1, 0]) == told("snow", seen_frozen=[-1, -1, 0]) == [0] * 6


def test_the_most_that_may_have_fallen_is_ten_millimetres_an_hour() -> None:
    # at the first time only: 5 mm in the first step. In the second a skin of 46.5 °C melts 5.018 mm, one of 46.2 4.986
    for skin, left in ((46.5, 0), (46.2, -1)):
        said = {"snow_rate_mm_h": [NAN, 0], "wing_skin_temperature_c": [-3, -3, -3, skin, skin, -3]}
        assert MELTS_MM_H_K * skin == pytest.approx(5.0, abs=0.02)
        assert told("snow", **said) == [0, -1, -1, -1, left, left]


def test_nothing_frozen_falls_in_air_above_eight_degrees() -> None:
    for air, may in ((8.0, -1), (8.1, 0)):
        said = {"air_temperature_c": [air, air, 8], "snow_rate_mm_h": [NAN, 0]}
        assert told("snow", **said)[1] == may
        rain = {"air_temperature_c": [air, air, 8], "rain_rate_mm_h": [3, 0], "freezing_precipitation": [-1, 0]}
        assert told("anything", wing_skin_temperature_c=0.1, **rain)[1] == may


def test_frost_that_may_have_grown_is_a_hundred_grams_an_hour_in_air_of_fifteen_degrees_or_colder() -> None:
    # 100 g/m2h at the first time: 0.05 mm. Skins of 0.465 and 0.460 °C melt 0.0502 and 0.0496 mm an hour
    for skin, left in ((0.465, 0), (0.460, -1)):
        assert MELTS_MM_H_K * skin == pytest.approx(0.05, abs=0.001)
        said = {"frost_growth_g_m2_h": [NAN, 0], "wing_skin_temperature_c": [-3, -3, -3, skin, skin, -3]}
        assert told("anything", **said)[:5] == [0, -1, -1, -1, left]
    assert told("anything", frost_growth_g_m2_h=[NAN, 0], air_temperature_c=NAN)[1] == -1
    for air, may in ((15.0, -1), (15.05, 0)):
        said = {"air_temperature_c": [8, 8, air, air, 8], "frost_growth_g_m2_h": [0, 0, NAN, 0]}
        assert told("anything", **said) == [0, 0, may, may, may, may]


def test_frost_is_the_sum_of_its_growth() -> None:
    # 0.15 g/m2h: 0.000075 mm after half an hour's worth is less than a trace of 0.0001, an hour and a half's is more
    assert told("anything", frost_growth_g_m2_h=[0.15, 0.0]) == [0] * 6
    assert told("anything", frost_growth_g_m2_h=[0.15, 0.15, 0.0]) == [0, 1, 1, 1, 1, 1]
    assert told("snow", frost_growth_g_m2_h=[50.0, 0.0]) == [0] * 6


# what lies there, and is not only to form


def test_frost_lies_from_a_hundredth_of_a_millimetre_that_had_grown_by_now() -> None:
    # felt from 0.01 mm, 10 g/m2. At a rate in the first two hours: half as much again as in one by 02:00
    grows = {"frost_growth_g_m2_h": [6.6, 6.6, 0]}
    assert told("anything", **grows) == [0, 1, 1, 1, 1, 1] and told("lies", **grows) == [0] * 6
    assert told("lies", frost_growth_g_m2_h=[6.7, 6.7, 0]) == [0, 0, 1, 1, 1, 1]
    # of 8 g/m2h for good there are 8, 16, 24: at 01:00 too little; what grows later does not count for what lies
    assert told("lies", frost_growth_g_m2_h=8.0, now=2) == [0, 0, 1, 1, 1, 1]
    assert told("lies", frost_growth_g_m2_h=8.0, now=1) == [0] * 6
    # nobody knows: it may, once it may be thick enough; 100 g/m2h are so within an hour
    assert told("lies", frost_growth_g_m2_h=[0, NAN, 0]) == [0, -1, -1, -1, -1, -1]
    assert told("lies", frost_growth_g_m2_h=[0, NAN, 0], now=0) == [0] * 6


def test_snow_and_ice_lie_however_thin_and_whenever_they_come() -> None:
    # 0.05 mm/h and 0.001 mm of rain that freezes, both after now
    assert told("lies", seen_snow=[0, 1, 0], now=0) == [0, 1, 1, 1, 1, 1]
    said = {"rain_rate_mm_h": [0, 0.001, 0], "freezing_precipitation": [0, 1, 0], "now": 0}
    assert told("lies", **said) == [0, 1, 1, 1, 1, 1]
    assert told("lies", snow_rate_mm_h=[0, NAN, 0], now=0) == [0, -1, -1, -1, -1, -1]


# a skin that is not known


def test_under_a_skin_that_was_not_known_what_may_lie_there_may_have_melted() -> None:
    # from 02:00 on: snow lies, and may be water since; before, and where nothing may lie, it is dry
    lost = {"wing_skin_temperature_c": [-3, -3, NAN, -3]}
    assert told("wet_or_ice", **lost, **SNOW) == [0, 0, -1, -1, -1, -1]
    assert told("wet_or_ice", **lost) == [0] * 6
    assert told("wet_or_ice", **SNOW) == [0] * 6


def test_what_was_not_known_to_have_gone_has_gone_once_the_most_that_may_lie_there_has() -> None:
    # 1.5 mm; a skin of 20 °C melts 2.16 mm in the hour from 03:00
    said = {"wing_skin_temperature_c": [-3, -3, NAN, 20], "air_temperature_c": [-3, -3, -3, 5], **SNOW}
    assert told("anything", **said) == told("lies", **said) == [0, 1, 1, 1, 0, 0]
    assert told("snow", **said) == [0, 1, -1, -1, 0, 0]


def test_a_skin_that_is_not_known_is_at_most_fifteen_degrees_colder_than_the_air() -> None:
    # 0.05 mm/h at the first time: 0.025 mm. In air of 15.24 °C it is at least 0.24 °C warm: 0.0259 mm melt in an hour,
    # in air of 15.22 0.0237
    for air, left in ((15.24, 0), (15.22, -1)):
        said = {"seen_snow": [1, 0], "wing_skin_temperature_c": NAN, "air_temperature_c": [8, 8, air, air, 8]}
        assert told("snow", **said)[:4] == [0, -1, -1, left]
    # neither of them known: nothing melts
    said = {"seen_snow": [1, 0], "wing_skin_temperature_c": NAN, "air_temperature_c": NAN}
    assert told("snow", **said)[-1] != 0


def test_under_a_sky_that_nobody_described_the_sun_may_not_reach_what_lies() -> None:
    # 0.025 mm again, on a skin that the sun has brought to 5 °C: it melts 0.54 mm in an hour
    said = {"seen_snow": [1, 0], "wing_skin_temperature_c": 5.0}
    for air, left in ((0.24, 0), (0.22, -1)):
        air_c = [-1, -1, air, air, 8]
        assert told("snow", **said, air_temperature_c=air_c)[:4] == [0, 0, 0, 0]
        # under cloud it may be as cold as the air: 0.0259 mm an hour, or 0.0237
        assert told("snow", **said, air_temperature_c=air_c, sky_undescribed=1)[:4] == [0, -1, -1, left]
        # by night it may be colder than the air, as it was worked out
        cold = said | {"wing_skin_temperature_c": -1.0}
        assert told("snow", **cold, air_temperature_c=air_c, sky_undescribed=1)[:4] == [0, 1, 1, 1]


@pytest.mark.parametrize(("row", "heaviest"), [(CENTRAL, 20.0), (COLD, 20.0), (ADVERSE, 50.0), (WINDY, 10.0)])
def test_of_rain_that_nobody_told_as_much_may_have_fallen_as_of_the_heaviest_that_anybody_can_tell(
    row: int, heaviest: float
) -> None:
    # WMO-No. 8, from memory: heavy rain is more than 10 mm/h; the case's own rate for it, as for rain that is told
    found = lying.flows(night(rain_rate_mm_h=NAN))[1]["liquid"][row]  # type: ignore[arg-type]
    assert found.tolist() == [heaviest] * SIX
    told_heavy = lying.flows(night(rain_rate_mm_h=heaviest))[1]["liquid"][row]  # type: ignore[arg-type]
    assert told_heavy.tolist() == found.tolist()
    # a spell that is not known takes nothing from what is
    unsure = lying.flows(night(rain_rate_mm_h=60.0, seen_rain=-1))[1]["liquid"][row]  # type: ignore[arg-type]
    assert unsure.tolist() == [60.0] * SIX


def test_what_may_have_frozen_where_nobody_knows_is_nothing_in_warm_air_and_what_is_known_stays() -> None:
    said = {"snow_rate_mm_h": [NAN, 2.0], "air_temperature_c": [9.0, 9.0, 1.0]}
    assert lying.flows(night(**said))[1]["frozen"][COLD].tolist() == [0.0, *[2.0] * 5]  # type: ignore[arg-type]
    # at 8 °C snow may still be what nobody told (FROZEN_BELOW_C)
    said["air_temperature_c"] = [8.0]
    assert lying.flows(night(**said))[1]["frozen"][COLD, 0] == 10.0  # type: ignore[arg-type]


# three warm hours


@pytest.mark.parametrize(("air", "after"), [(8.1, [-1, -1, -1, 0, 0]), (8.0, [-1] * 5), (NAN, [-1] * 5)])
def test_after_three_hours_above_eight_degrees_what_nobody_saw_fall_has_melted(air: float, after: list[int]) -> None:
    # cold at 01:00 for the last time: three hours later is 04:00
    said = {"snow_rate_mm_h": [NAN, NAN, 0], "air_temperature_c": [-2, -2, air]}
    assert told("snow", **said) == told("anything", **said) == [0, *after]
    assert told("snow_accumulated_mm", **said) == mm([0, *[NAN if one else 0.0 for one in after]])


@pytest.mark.parametrize(
    ("wind_kt", "growth", "air_c", "most"),
    [
        (4.0, 12.0, -3.0, 12.0),
        # frost that grows in calm may grow faster where nobody told the wind, which brings it: up to the limit of dew
        (NAN, 12.0, -3.0, 100.0),
        (NAN, 0.0, -3.0, 0.0),
        # in air in which none grows it is no more than what is reckoned
        (NAN, 12.0, 16.0, 12.0),
        (NAN, NAN, 16.0, 0.0),
        (4.0, NAN, -3.0, 100.0),
    ],
)
def test_how_fast_frost_may_grow_where_nobody_told_the_wind_is_no_bound_of_calm(wind_kt, growth, air_c, most) -> None:
    sure, found = lying.flows(night(wind_kt=wind_kt, frost_growth_g_m2_h=growth, air_temperature_c=air_c))
    assert (found["frost"][COLD, 0], sure["frost"][COLD, 0]) == (most, 0.0 if np.isnan(growth) else growth)


def test_what_is_known_to_lie_does_not_melt_by_the_clock() -> None:
    assert told("snow", snow_rate_mm_h=[5, 5, 0], air_temperature_c=[-2, -2, 11])[-1] == 1


# snow on the apron


def test_snow_that_drifts_lies_on_the_apron_a_millimetre_for_each_hour_and_not_on_the_aircraft() -> None:
    assert told("snow_accumulated_mm", blowing_snow=[1, 1, 0]) == mm(FELL)
    assert told("snow_accumulated_mm", where="aircraft", blowing_snow=[1, 1, 0]) == mm([0] * 6)
    # not known: it may
    assert told("snow", blowing_snow=[0, -1, 0]) == [0, -1, -1, -1, -1, -1]
    assert told("snow", where="aircraft", blowing_snow=[0, -1, 0]) == [0] * 6


def test_a_depth_that_was_measured_lies_on_the_apron_from_the_first_time_in_all_cases_but_the_central_one() -> None:
    for row in (COLD, ADVERSE, WINDY, CHILL):
        assert told("snow", row, snow_depth=1) == [1] * 6
        assert told("snow", row, where="aircraft", snow_depth=1) == [0] * 6
    assert told("snow", CENTRAL, snow_depth=1) == [0] * 6
    # 5 mm of water: a skin of 46.38 °C melts 5.005 mm in an hour, one of 46.30 4.996
    for skin, left in ((46.38, 0), (46.30, 1)):
        assert told("snow", snow_depth=1, wing_skin_temperature_c=[skin, skin, -3])[1] == left
        assert MELTS_MM_H_K * skin == pytest.approx(5.0, abs=0.006)


# rain

WARM = {"air_temperature_c": 4.0, "wing_skin_temperature_c": 3.0}


def test_rain_is_water_that_stays_while_nobody_knows_how_dry_the_air_is() -> None:
    assert told("rain_accumulated_mm", rain_rate_mm_h=[5, 5, 0], **WARM) == mm([0, 5, 7.5, 7.5, 7.5, 7.5])
    assert told("wet_or_ice", rain_rate_mm_h=[5, 5, 0], **WARM) == [0, 1, 1, 1, 1, 1]
    assert told("anything", rain_rate_mm_h=[5, 5, 0], **WARM) == [0] * 6
    assert told("wet_or_ice", **WARM) == [0] * 6


def test_rain_that_freezes_where_it_lands_is_ice_and_no_rain() -> None:
    said = {"rain_rate_mm_h": [5, 5, 0], "freezing_precipitation": [1, 1, 0], **WARM, "wing_skin_temperature_c": -1}
    assert told("rain_accumulated_mm", **said) == mm([0] * 6)
    assert told("wet_or_ice", **said) == told("anything", **said) == [0, 1, 1, 1, 1, 1]
    assert told("snow", **said) == [0] * 6


def test_water_that_a_cold_skin_freezes_is_ice() -> None:
    said = {"rain_rate_mm_h": [5, 5, 0], "wing_skin_temperature_c": [3, 3, 3, -1]}
    assert told("anything", **said) == [0, 0, 0, 1, 1, 1] and told("wet_or_ice", **said) == [0, 1, 1, 1, 1, 1]


@pytest.mark.parametrize(
    ("said", "anything"),
    [
        # rain of which nobody knows whether it freezes; where nothing falls it does not matter
        ({"rain_rate_mm_h": [5, 5, 0], "freezing_precipitation": [-1, -1, 0]}, -1),
        ({"freezing_precipitation": [-1, -1, 0]}, 0),
        ({"rain_rate_mm_h": [NAN, NAN, 0]}, 0),
        ({"seen_freezing": [1, 1, 0]}, 1),
        ({"seen_freezing": [-1, -1, 0]}, -1),
        ({"seen_rain": [-1, -1, 0]}, 0),
    ],
)
def test_freezing_rain_that_is_not_known(said: dict[str, object], anything: int) -> None:
    # a skin at +0.1 °C freezes nothing by itself
    assert told("anything", **(WARM | {"wing_skin_temperature_c": 0.1} | said))[1] == anything


def test_wet_where_rain_is_known_may_be_where_it_is_not() -> None:
    for said, wet in (
        ({"seen_rain": [1, 1, 0]}, 1),
        ({"seen_rain": [-1, -1, 0]}, -1),
        ({"rain_rate_mm_h": [NAN, NAN, 0]}, -1),
        ({"seen_freezing": [-1, -1, 0]}, -1),
    ):
        assert told("wet_or_ice", **(WARM | said)) == [0, *[wet] * 5], said
    lost = told("rain_accumulated_mm", **WARM, rain_rate_mm_h=[NAN, NAN, 0])
    assert lost == mm([0, *[NAN] * 5])


# while it stood there


def parked(name: str, row: int = CENTRAL, **said: object) -> list[float]:
    found = night(**said)  # type: ignore[arg-type]
    return lying.while_parked(found)[name][row].tolist()  # type: ignore[no-any-return]


def test_the_strongest_gust_is_the_reports_or_the_peak_of_the_remarks_up_to_now() -> None:
    said = {"seen_gust_kt": [10, 20, 15, 12, 40, 50], "peak_wind_kt": [0, 0, 0, 33, 33, 33], "now": 4}
    # now, at 04:00, itself counts: what blows then has been reported
    assert parked("gust_while_parked_kt", parked=0, **said) == [10, 20, 20, 33, 40, 40]
    assert parked("gust_while_parked_kt", parked=2, **said) == [0, 0, 15, 33, 40, 40]
    # nobody said since when: from ever in the adverse cases; in the central one it came now
    assert parked("gust_while_parked_kt", COLD, **said) == [10, 20, 20, 33, 40, 40]
    assert parked("gust_while_parked_kt", CENTRAL, **said) == [0, 0, 0, 0, 40, 40]
    # without any past what blows now counts
    assert parked("gust_while_parked_kt", parked=-1, seen_gust_kt=[17, 50], now=0) == [17] * 6


@pytest.mark.parametrize("name", ["hail", "thunderstorm", "squall", "frozen_precipitation"])
def test_what_was_seen_since_parking_is_yes_from_then_on(name: str) -> None:
    seen, column = f"seen_{name.removesuffix('_precipitation')}", f"{name}_while_parked"
    assert parked(column, parked=0, **{seen: [0, 0, 1, 0, 0, 0]}) == [0, 0, 1, 1, 1, 1]
    assert parked(column, parked=3, **{seen: [0, 0, 1, 0, 0, 0]}) == [0] * 6
    assert parked(column, parked=2, **{seen: [0, 0, 1, 0, 0, 0]}) == [0, 0, 1, 1, 1, 1]
    # now itself counts, what comes later does not
    assert parked(column, parked=0, now=3, **{seen: [0, 0, 0, 1, 0, 0]}) == [0, 0, 0, 1, 1, 1]
    assert parked(column, parked=0, now=3, **{seen: [0, 0, 0, 0, 1, 1]}) == [0] * 6
    # not known at first, then yes; a gap of the past is not known, what is forecast is another matter
    assert parked(column, parked=0, **{seen: [0, -1, 0, 1, 0, 0]}) == [0, -1, -1, 1, 1, 1]
    # of a storm it is what was said that may be lost: cloud alone may bring one, and has brought none
    flag = "storm_said" if name == "thunderstorm" else name
    assert parked(column, parked=0, now=3, **{flag: [0, -1, 0, 0]}) == [0, -1, -1, -1, -1, -1]
    assert parked(column, parked=0, now=3, **{flag: [0, 0, 0, -1, -1, -1]}) == [0, 0, 0, -1, -1, -1]
    assert parked(column, parked=0, now=3, **{flag: [0, 0, 0, 0, -1, -1]}) == [0] * 6
    if flag != name:
        assert parked(column, parked=0, **{name: [-1]}) == [0] * 6
    # what falls by the flag alone was not observed as a spell
    assert parked(column, parked=0, now=3, **{name: [1]}) == [0] * 6
    assert parked(column, CENTRAL, **{seen: [0, 0, 1, 0, 0, 0]}) == [0] * 6


# slippery

DRY_APRON = {"lies": 0, "snow": 0, "wet_or_ice": 0}


def underfoot(found: Conditions) -> np.ndarray:
    return UNDERFOOT.work(found, Airframe())["slippery_surface"]


@pytest.mark.parametrize(
    ("air", "said", "apron", "slippery"),
    [
        (-2.0, {}, {}, 0),
        (-2.0, {}, {"lies": 1}, 1),
        (9.0, {}, {"lies": 1}, 1),
        (-2.0, {}, {"lies": -1}, -1),
        # what has ended may lie on the apron as well
        (9.0, {"ended_lies": 1}, {}, 1),
        (9.0, {"ended_lies": -1}, {}, -1),
        # water lies: slippery in frost only
        (0.0, {}, {"wet_or_ice": 1}, 1),
        (0.1, {}, {"wet_or_ice": 1}, 0),
        (NAN, {}, {"wet_or_ice": 1}, -1),
        (-2.0, {}, {"wet_or_ice": -1}, -1),
        (5.0, {}, {"wet_or_ice": -1}, 0),
        (9.0, {"frozen_precipitation": 1}, {}, 1),
        (9.0, {"freezing_after_wet": 1}, {}, 1),
        (0.0, {"fog": 1}, {}, 1),
        (0.1, {"fog": 1}, {}, 0),
        (0.0, {"mist": 1}, {}, 1),
        (NAN, {"mist": 1}, {}, -1),
        (1.0, {"rain": 1}, {}, 1),
        (1.0, {"drizzle": 1}, {}, 1),
        (1.1, {"rain": 1}, {}, 0),
        (NAN, {}, {}, 0),
    ],
)
def test_when_the_ground_may_be_slippery(
    air: float, said: dict[str, int], apron: dict[str, int], slippery: int
) -> None:
    found = night(air_temperature_c=air, **said)
    lies = {f"apron_{name}": np.full(found.shape, value, dtype=np.int8) for name, value in (DRY_APRON | apron).items()}
    assert set(underfoot(found.having(lies)).ravel()) == {slippery}
    if not apron:
        assert set(underfoot(found).ravel()) == {slippery}


def test_the_heat_of_melting_is_the_one_that_these_tests_work_with() -> None:
    assert (deposits.MELTING_W_M2_K, deposits.HEAT_OF_FUSION_J_KG) == (10, 333_600)

"""What derive adds, one situation at a time, every column worked by hand or with an independent library.

The outlook's columns are written over with the numbers of the test: the same in each case, so that what differs between
the cases is the loss variant of the skin alone. Central skins come from the balance solved by halving (worked.py);
where a variant's coefficients are not the point, from surface.py with arguments worked by hand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from math import exp, log, radians, sin

import numpy as np
import psychrolib
import pytest
from subject import FLAGS, TREATMENT_CATEGORIES, Airframe, Conditions, Door, Place, Sector, derive, frost, sky, surface
from worked import (
    ADVERSE,
    CENTRAL,
    CHILL,
    COLD,
    NOW,
    WINDY,
    build,
    central_skin_c,
    clock,
    log_profile,
    moon,
    sun_height_deg,
    sun_position_deg,
    vapour_pa,
    when,
)

LOW, HIGH = WINDY, ADVERSE
# a night and a noon in the same place
NIGHT, NOON = NOW, datetime(2027, 4, 10, 11, 30, tzinfo=UTC)
FIELD = Place("an invented field", None, 45.0, 9.8)
KNOT = 1852 / 3600


def made(
    airframe: Airframe | None = None,
    *,
    now: datetime = NIGHT,
    series: bool = False,
    ahead_min: float = 60,
    said: dict[str, object] | None = None,
    heading_deg: float = float("nan"),
    weather: str = "",
    **columns: float | list[float],
) -> Conditions:
    """Conditions with the columns of the test in every case (a list: over the first times), and what derive adds."""
    text = f"METAR ZZZA {now:%d%H%M}Z 24012KT 9999 {weather} SCT030 03/01 Q1013"
    given = {"fuel_temperature_c": 5.0, **(said or {})}
    found = build(text, now=now, ahead_min=ahead_min, place=FIELD, heading_deg=heading_deg, **given)
    found = replace(found, series=series)
    for name, value in columns.items():
        flag = name in FLAGS or name in ("deposit_seen", "fuel_temperature_assumed", "sky_undescribed")
        table = np.empty(found.shape, dtype=np.int8 if flag else np.float64)
        table[:] = value if np.ndim(value) == 0 else [*value, *[value[-1]] * (found.shape[1] - len(value))]  # type: ignore[arg-type, misc]
        found.columns[name] = table
    return derive(found, airframe or Airframe())


def first(found: Conditions, name: str, row: int = CENTRAL) -> float:
    return float(np.broadcast_to(found.columns[name], found.shape)[row, 0])


def each(found: Conditions, name: str) -> tuple[float, float, float]:
    return first(found, name, LOW), first(found, name, CENTRAL), first(found, name, HIGH)


# a clear night, dry enough that no dew forms
CLEAR_NIGHT: dict[str, float] = {
    "air_temperature_c": 0.0,
    "dew_point_c": -5.0,
    "wind_kt": 10.0,
    "skin_wind_kt": 10.0,
    "cloud_fraction": 0.0,
    "cloud_base_m": 6000.0,
    "fuel_temperature_c": 5.0,
}


# light


@pytest.mark.parametrize("now", [NIGHT, NOON])
def test_the_sun_stands_where_ephem_has_it(now: datetime) -> None:
    found = made(now=now, heading_deg=200.0)
    for at in (0, -1):
        height, azimuth = sun_position_deg(found.unix_s[at], 45.0, 9.8)
        assert found.columns["sun_elevation_deg"][0, at] == pytest.approx(height, abs=0.03)
        assert found.columns["sun_azimuth_deg"][0, at] == pytest.approx(azimuth, abs=0.05)
        off = abs((azimuth - 200 + 180) % 360 - 180)
        assert found.columns["sun_off_nose_deg"][0, at] == pytest.approx(off, abs=0.05)


def test_without_a_heading_the_suns_bearing_is_not_known() -> None:
    assert np.isnan(made().columns["sun_off_nose_deg"]).all()


@pytest.mark.parametrize(
    ("clock_text", "dark", "code"),
    # heights by ephem at 45 N 9.8 E on 10 January: -19.3, -12.5, -6.8, -2.8 and 1.7 degrees
    [("05:05", 1, 4), ("05:45", 1, 3), ("06:20", 1, 2), ("06:45", 0, 1), ("07:15", 0, 0)],
)
def test_names_of_the_light(clock_text: str, dark: int, code: int) -> None:
    now = datetime.fromisoformat(f"2027-01-10T{clock_text}:00+00:00")
    found = made(now=now)
    height = sun_height_deg(now.timestamp(), 45.0, 9.8)
    assert sum(height < edge for edge in (-0.833, -6, -12, -18)) == code and (height < -6) == bool(dark)
    assert (first(found, "dark"), first(found, "light")) == (dark, code)


def test_natural_light_is_the_published_polynomial_over_what_the_sky_takes() -> None:
    # Explanatory Supplement, -5 to -0.8 degrees: 2.88 + 21.81 x - 258.11 x^2 - 858.36 x^3, x = height / 90
    now = datetime(2027, 1, 10, 6, 50, tzinfo=UTC)
    x = sun_height_deg(now.timestamp(), 45.0, 9.8) / 90
    assert -5 / 90 < x < -0.8 / 90
    clear = 10 ** (2.88 + 21.81 * x - 258.11 * x**2 - 858.36 * x**3)
    for divisor in (1.0, 3.0, 10.0):
        found = made(now=now, sky_divisor=divisor)
        assert first(found, "illuminance_lx") == pytest.approx(clear / divisor, rel=0.02)


def test_the_moon_counts_in_a_series_and_stands_where_ephem_has_it() -> None:
    # 25 January 2027, 01:30: 50 degrees high, two and a half days past full
    now = datetime(2027, 1, 25, 1, 30, tzinfo=UTC)
    found, archive = made(now=now, series=True, sky_divisor=1.0), made(now=now, sky_divisor=1.0)
    height, lit = moon(now.timestamp(), 45.0, 9.8)
    assert height > 30 and lit > 0.8
    assert first(found, "moon_elevation_deg") == pytest.approx(height, abs=0.3)
    assert first(found, "moon_illuminated_fraction") == pytest.approx(lit, abs=0.01)
    # the Explanatory Supplement's moon above 20 degrees, its phase angle from the lit part
    x, phase = height / 90, np.degrees(np.arccos(2 * lit - 1))
    moonlight = 10 ** (-1.95 + 4.06 * x - 4.24 * x**2 + 1.56 * x**3 - 0.00868 * phase - 2.2e-9 * phase**4)
    assert first(found, "illuminance_lx") - first(archive, "illuminance_lx") == pytest.approx(moonlight, rel=0.05)
    assert "moon_elevation_deg" not in archive.columns


# air


def test_humidity_is_the_libraries_and_the_frost_point_the_published_one() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    humidity = 100 * psychrolib.GetRelHumFromTDewPoint(20, 12)
    found = made(air_temperature_c=20.0, dew_point_c=12.0)
    assert first(found, "relative_humidity_pct") == pytest.approx(humidity, abs=0.5)
    # dew to frost point: CHECKS.md, section 3
    for dew, frost_point in ((-2.0, -1.76), (-10.0, -8.88), (-20.0, -17.91)):
        assert first(made(dew_point_c=dew), "frost_point_c") == pytest.approx(frost_point, abs=0.01)


def test_wind_chill_and_frostbite_are_the_published_ones() -> None:
    # -10 °C at 20 km/h is -17.9, -25 at 40 is -40.8; the mean wind counts, not the gust
    for air, km_h, chill in ((-10.0, 20.0, -17.9), (-25.0, 40.0, -40.8)):
        found = made(air_temperature_c=air, dew_point_c=air - 2, wind_kt=km_h / 1.852, gust_kt=60.0)
        assert first(found, "wind_chill_c") == pytest.approx(chill, abs=0.05)
    # 10 minutes at -40, 5 at -48: at -40.8 a tenth of the way
    assert first(found, "frostbite_min") == pytest.approx(10 - 0.5, abs=0.05)
    assert np.isnan(first(made(air_temperature_c=-10.0, wind_kt=0.0), "wind_chill_c"))


def test_the_heat_index_is_the_published_one() -> None:
    # 90 °F and 50 % is 95 °F; the dew point for 50 % by psychrolib
    psychrolib.SetUnitSystem(psychrolib.SI)
    air = (90 - 32) / 1.8
    found = made(air_temperature_c=air, dew_point_c=psychrolib.GetTDewPointFromRelHum(air, 0.5))
    assert first(found, "heat_index_c") == pytest.approx((95 - 32) / 1.8, abs=0.3)


# skin


def test_the_central_skin_of_a_clear_night_is_the_balance_solved_by_hand() -> None:
    # 10 kt are 5.144 m/s at 10 m, ln(3.0/0.03)/ln(10/0.03) = 0.793 of it at the wing
    assert log_profile(3.0) == pytest.approx(0.7928, abs=1e-4)
    found = made(**CLEAR_NIGHT)
    wanted = central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(3.0))
    assert first(found, "wing_skin_temperature_c") == pytest.approx(wanted, abs=0.01)
    # over fuel that is warmer than the skin: 40 W/m²K to the fuel in place of 5 to the air
    tank = central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(3.0), below_w_m2_k=40.0, below_c=5.0)
    assert first(found, "tank_skin_temperature_c") == pytest.approx(tank, abs=0.01)
    # what lies between is not the point of any other case with the central skin
    assert first(found, "wing_skin_temperature_c", CHILL) == first(found, "wing_skin_temperature_c")


def test_each_variant_takes_its_own_part_of_the_wind() -> None:
    # low the reported wind, central the log profile's, high three quarters of that
    found = made(**CLEAR_NIGHT)
    at_wing = {"low": 10 * KNOT, "central": 10 * KNOT * log_profile(3.0), "high": 10 * KNOT * log_profile(3.0) * 0.75}
    for row, loss in ((LOW, "low"), (CENTRAL, "central"), (HIGH, "high")):
        wanted = surface.skins(0.0, -5.0, at_wing[loss], 0.0, 6000.0, 5.0, 0.0, loss)
        assert len(wanted) == 4
        for name, value in wanted.items():
            assert first(found, name, row) == pytest.approx(float(value), abs=1e-9), (loss, name)
        growth = frost.frost_growth_g_m2_h(0.0, -5.0, wanted["wing_skin_temperature_c"], at_wing[loss], loss=loss)
        assert first(found, "frost_growth_g_m2_h", row) == pytest.approx(float(growth), abs=1e-9)


def test_a_higher_wing_stands_in_more_wind() -> None:
    # 5.5 m: ln(5.5/0.03)/ln(10/0.03) = 0.897
    found = made(Airframe(wing_height_m=5.5), **CLEAR_NIGHT)
    assert log_profile(5.5) == pytest.approx(0.897, abs=1e-3)
    wanted = central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(5.5))
    assert first(found, "wing_skin_temperature_c") == pytest.approx(wanted, abs=0.01)


def test_the_profiles_own_paint_counts_and_the_skins_wind_and_not_the_mean() -> None:
    found = made(Airframe(emissivity=0.6), **(CLEAR_NIGHT | {"wind_kt": 40.0, "skin_wind_kt": 4.0}))
    wanted = central_skin_c(0.0, -5.0, 4 * KNOT * log_profile(3.0), emissivity=0.6)
    assert first(found, "wing_skin_temperature_c") == pytest.approx(wanted, abs=0.01)


def test_low_cloud_warms_the_skin_by_its_cover_and_base() -> None:
    # 3/4 cover at 900 m: 0.75 exp(-900/8200) of the gap between clear sky and black body
    found = made(**(CLEAR_NIGHT | {"cloud_fraction": 0.75, "cloud_base_m": 900.0}))
    wanted = central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(3.0), covered=0.75, base_m=900.0)
    assert first(found, "wing_skin_temperature_c") == pytest.approx(wanted, abs=0.01)
    assert wanted > central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(3.0)) + 0.5


def test_the_sun_warms_the_skin_through_the_cloud_that_there_is() -> None:
    # Haurwitz 1098 sin h exp(-0.059/sin h), through 3/8 of cloud 1 - 0.75 (3/8)^3.4, of which light paint takes 0.30
    sine = sin(radians(sun_height_deg(NOON.timestamp(), 45.0, 9.8)))
    sunlight = 0.30 * 1098 * sine * exp(-0.059 / sine) * (1 - 0.75 * 0.375**3.4)
    assert sunlight > 200
    night = CLEAR_NIGHT | {"cloud_fraction": 0.375, "cloud_base_m": 900.0}
    found = made(now=NOON, **night)
    wanted = central_skin_c(0.0, -5.0, 10 * KNOT * log_profile(3.0), covered=0.375, base_m=900.0, sun_w_m2=sunlight)
    assert first(found, "wing_skin_temperature_c") == pytest.approx(wanted, abs=0.05)
    height, wind = sun_height_deg(NOON.timestamp(), 45.0, 9.8), 10 * KNOT * log_profile(3.0)
    for row, loss, at_wing in ((LOW, "low", 10 * KNOT), (HIGH, "high", 0.75 * wind)):
        taken = sky.absorbed_sunlight_w_m2(height, 0.375, loss=loss)
        skin = surface.skins(0.0, -5.0, at_wing, 0.375, 900.0, 5.0, taken, loss)["wing_skin_temperature_c"]
        assert first(found, "wing_skin_temperature_c", row) == pytest.approx(float(skin), abs=0.05)


def test_where_no_fuel_touches_the_skin_the_tank_is_the_wing() -> None:
    cold = CLEAR_NIGHT | {"fuel_temperature_c": -20.0}
    wing = made(**cold)
    assert first(wing, "tank_skin_temperature_c") < first(wing, "wing_skin_temperature_c") - 3
    dry = made(Airframe(has_tank_skin=False), **cold)
    for row in (LOW, CENTRAL, HIGH):
        assert first(dry, "tank_skin_temperature_c", row) == first(dry, "wing_skin_temperature_c", row)


def test_margins_are_differences_of_the_columns() -> None:
    # frost point of -5 °C dew is -4.42 (CHECKS.md, section 3)
    found = made(**CLEAR_NIGHT)
    wing, tank = first(found, "wing_skin_temperature_c"), first(found, "tank_skin_temperature_c")
    assert first(found, "frost_margin_c") == pytest.approx(-4.42 - wing, abs=0.01)
    assert first(found, "tank_frost_margin_c") == pytest.approx(-4.42 - tank, abs=0.01)
    assert first(found, "dew_margin_c") == pytest.approx(-5 - wing)
    # above 0 °C dew forms first, and frost needs 0
    mild = made(**(CLEAR_NIGHT | {"air_temperature_c": 6.0, "dew_point_c": 2.0}))
    assert first(mild, "frost_margin_c") == pytest.approx(0 - first(mild, "wing_skin_temperature_c"))


def test_fuel_that_is_assumed_cools_the_tank_and_is_not_claimed() -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 03/01 Q1013", place=FIELD)
    for name, value in (CLEAR_NIGHT | {"assumed_fuel_temperature_c": -15.0, "fuel_temperature_c": np.nan}).items():
        found.columns[name] = np.full(found.shape, value)
    found = derive(found, Airframe())
    cold = made(**(CLEAR_NIGHT | {"fuel_temperature_c": -15.0}))
    assert first(found, "tank_skin_temperature_c") == pytest.approx(first(cold, "tank_skin_temperature_c"))
    assert np.isnan(found.columns["fuel_temperature_c"]).all()


def test_in_the_sun_a_wind_that_nobody_told_may_bring_the_adverse_skin_down_to_the_air() -> None:
    # calm lets the sun warm it; by day the bound is the air itself, at night calm stays the coldest
    calm = CLEAR_NIGHT | {"wind_kt": np.nan, "skin_wind_kt": 0.0}
    for row in (ADVERSE, COLD, WINDY, CHILL):
        assert first(made(now=NOON, **calm), "wing_skin_temperature_c", row) <= 0.0
        assert first(made(**calm), "wing_skin_temperature_c", row) < 0.0
    assert first(made(now=NOON, **calm), "wing_skin_temperature_c", COLD) == 0.0
    assert first(made(now=NOON, **calm), "wing_skin_temperature_c", CENTRAL) > 5.0


# fuel over time: T = air + (start - air) exp(-t/τ), τ 4, 8 and 16 h


def fuel_after(hours: float, stated: float, air: float, fill: float) -> tuple[float, float, float]:
    said = {"fuel_temperature_c": stated, "fuel_fill_pct": fill, "parked_since": int(clock(3.5))}
    found = made(series=True, ahead_min=240, air_temperature_c=air, dew_point_c=air - 4, said=said)
    before, after = when(found, 5.0), when(found, 5.5 + hours)
    fuel = found.columns["fuel_temperature_c"]
    # in the past it is what was stated
    assert (fuel[:, before] == stated).all() and fuel[CENTRAL, when(found, 5.5)] == stated
    return fuel[LOW, after], fuel[CENTRAL, after], fuel[HIGH, after]


def test_cold_fuel_stays_cold_longest_on_the_adverse_skin() -> None:
    # three hours from -10 towards 6: 6 - 16 exp(-3/4), exp(-3/8), exp(-3/16) = -1.6, -5.0, -7.3
    wanted = tuple(6 - 16 * exp(-3 / tau) for tau in (4, 8, 16))
    assert fuel_after(3, -10.0, 6.0, 100.0) == pytest.approx(wanted, abs=1e-6)
    assert wanted == pytest.approx((-1.6, -5.0, -7.3), abs=0.1)


def test_warm_fuel_goes_soonest_on_the_adverse_skin() -> None:
    # three hours from 16 towards 0: low 16 h, central 8, high 4
    wanted = tuple(16 * exp(-3 / tau) for tau in (16, 8, 4))
    assert fuel_after(3, 16.0, 0.0, 100.0) == pytest.approx(wanted, abs=1e-6)


def test_a_tank_that_is_not_full_follows_sooner_and_never_ten_times_as_soon() -> None:
    assert fuel_after(1, -10.0, 6.0, 25.0)[1] == pytest.approx(6 - 16 * exp(-1 / 2), abs=1e-6)
    assert fuel_after(1, -10.0, 6.0, 10.0)[1] == pytest.approx(6 - 16 * exp(-1 / 0.8), abs=1e-6)
    assert fuel_after(1, -10.0, 6.0, 3.0) == fuel_after(1, -10.0, 6.0, 10.0)


# what falls


@pytest.mark.parametrize(
    ("now", "air", "sight", "intensity"),
    # CHECKS.md, section 5, the worse of two tables: day, -5 °C: 1200 m moderate in both, 3200 m very light and light,
    # 1600 m (1 mile) light; night 1200 m heavy in both; day, 0 °C: 1600 m moderate in both
    [
        (NOON, -5.0, 1200.0, 3),
        (NOON, -5.0, 3200.0, 2),
        (NOON, -5.0, 1600.0, 2),
        (NOON, -5.0, 9999.0, 1),
        (NIGHT, -5.0, 1200.0, 4),
        (NIGHT, -5.0, 9999.0, 1),
        (NOON, 0.0, 1600.0, 3),
    ],
)
def test_snow_intensity_by_sight_light_and_temperature(now: datetime, air: float, sight: float, intensity: int) -> None:
    found = made(
        now=now,
        snow=1,
        air_temperature_c=air,
        dew_point_c=air - 1,
        visibility_m=sight,
        weather="SN",
        snow_intensity_code=0.0,
    )
    assert first(found, "snow_intensity") == intensity
    # as water: the middle of 0.3 to 0.4, 0.4 to 1.0, 1.0 to 2.5, 2.5 to 5.5 mm/h, and a factor of three either way
    rate = {1: 0.35, 2: 0.7, 3: 1.75, 4: 4.0}[intensity]
    assert each(found, "snow_rate_mm_h") == pytest.approx((rate / 3, rate, rate * 3))
    word = {1: "very light snow", 2: "light snow", 3: "moderate snow", 4: "heavy snow"}[intensity]
    assert TREATMENT_CATEGORIES[int(first(found, "treatment_category"))] == word


def test_the_codes_own_sign_is_a_floor_under_what_the_visibility_gives() -> None:
    said = {"now": NOON, "snow": 1, "air_temperature_c": -5.0, "dew_point_c": -6.0}
    assert first(made(visibility_m=9999.0, snow_intensity_code=4.0, **said), "snow_intensity") == 4  # type: ignore[arg-type]
    assert first(made(visibility_m=1200.0, snow_intensity_code=2.0, **said), "snow_intensity") == 3  # type: ignore[arg-type]
    lost = made(visibility_m=np.nan, snow_intensity_code=2.0, **said)  # type: ignore[arg-type]
    assert np.isnan(first(lost, "snow_intensity")) and np.isnan(first(lost, "snow_rate_mm_h"))


@pytest.mark.parametrize(
    ("code", "intensity", "category"),
    # heavy by its own sign is heavy whatever is seen; of any other sign nobody knows how much it is, which is not told
    [("+SN", 4, "heavy snow"), ("SN", np.nan, "?"), ("-SN", np.nan, "?")],
)
def test_snow_without_visibility_is_heavy_or_not_told(code: str, intensity: float, category: str) -> None:
    found = made(now=NOON, weather=code, air_temperature_c=-5.0, dew_point_c=-6.0, visibility_m=np.nan)
    assert first(found, "snow_intensity") == pytest.approx(intensity, nan_ok=True)
    at = int(first(found, "treatment_category"))
    assert at == -1 if category == "?" else TREATMENT_CATEGORIES[at] == category
    # heavy snow as water: 4 mm/h
    assert first(found, "snow_rate_mm_h") == pytest.approx(4.0 if intensity == 4 else np.nan, nan_ok=True)


def test_without_snow_there_is_no_rate_and_with_snow_not_known_none_is_known() -> None:
    none = made(snow=0, visibility_m=800.0)
    assert (first(none, "snow_intensity"), first(none, "snow_rate_mm_h")) == (0, 0)
    unknown = made(snow=-1, visibility_m=np.nan)
    assert np.isnan(first(unknown, "snow_intensity")) and np.isnan(first(unknown, "snow_rate_mm_h"))
    assert np.isnan(first(made(snow=-1, visibility_m=800.0), "snow_intensity"))


@pytest.mark.parametrize(
    ("hail", "air", "others", "frozen"),
    # below 5 °C hail lies; above it asks for no treatment, but what else is frozen does
    [
        (1, 4.9, {}, 1),
        (1, 5.0, {}, 0),
        (1, 12.0, {}, 0),
        (1, 12.0, {"ice_pellets": 1}, 1),
        (1, 12.0, {"snow": 1}, 1),
        (1, 12.0, {"freezing_precipitation": 1}, 1),
        (1, np.nan, {}, -1),
        (0, 12.0, {}, 1),
        (-1, 12.0, {}, 1),
    ],
)
def test_hail_in_warm_air_is_no_frozen_precipitation(
    hail: int, air: float, others: dict[str, int], frozen: int
) -> None:
    flags = {"snow": 0, "ice_pellets": 0, "freezing_precipitation": 0, "frozen_precipitation": 1, **others}
    found = made(hail=hail, air_temperature_c=air, dew_point_c=0.0, **flags)
    assert first(found, "frozen_precipitation") == frozen


@pytest.mark.parametrize(
    ("air", "fuel", "assumed", "category"),
    [
        (5.0, -10.0, 0, "rain on a cold-soaked wing"),
        (5.0, 15.0, 0, "none"),
        (5.0, -10.0, 1, "none"),  # fuel that nobody stated is no ground for it
        (-1.0, 15.0, 0, "heavier freezing rain"),
    ],
)
def test_rain_by_air_and_by_the_skin_over_the_tank(air: float, fuel: float, assumed: int, category: str) -> None:
    found = made(
        rain=1,
        weather="RA",
        air_temperature_c=air,
        dew_point_c=air - 1,
        skin_wind_kt=8.0,
        cloud_fraction=1.0,
        cloud_base_m=500.0,
        fuel_temperature_c=fuel,
        fuel_temperature_assumed=assumed,
    )
    assert TREATMENT_CATEGORIES[int(first(found, "treatment_category"))] == category


# the ground and what is wet; dry and mild unless said

DRY: dict[str, float] = {
    "rain": 0,
    "drizzle": 0,
    "fog": 0,
    "mist": 0,
    "recent_rain": 0,
    "snow": 0,
    "hail": 0,
    "ice_pellets": 0,
    "freezing_precipitation": 0,
    "frozen_precipitation": 0,
    "air_temperature_c": 8.0,
    "dew_point_c": -5.0,
    "skin_wind_kt": 12.0,
    "cloud_fraction": 1.0,
    "cloud_base_m": 500.0,
    "fuel_temperature_c": 8.0,
}


@pytest.mark.parametrize(
    ("changed", "moist"),
    [
        ({}, 0),
        ({"rain": 1}, 1),
        ({"drizzle": 1}, 1),
        ({"fog": 1}, 1),
        ({"mist": 1}, 1),
        ({"snow": 1}, 0),
        ({"mist": -1}, -1),
        ({"mist": -1, "rain": 1}, 1),
        # dew where the skin is below the dew point and the air above 0 °C: a clear calm night
        ({"dew_point_c": 7.5, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}, 1),
        ({"air_temperature_c": -8.0, "dew_point_c": -8.5, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}, 0),
        # over a cold tank the dew comes first
        ({"dew_point_c": 3.0, "fuel_temperature_c": -12.0}, 1),
        ({"dew_point_c": 3.0}, 0),
        ({"dew_point_c": np.nan}, -1),
        # a tank of which nobody knows how cold it is, and a sky of which nobody knows how much the skin cools
        ({"fuel_temperature_c": np.nan}, -1),
        ({"sky_undescribed": 1}, -1),
        ({"sky_undescribed": 1, "dew_point_c": 3.0, "fuel_temperature_c": -12.0}, 1),
    ],
)
def test_moisture(changed: dict[str, float], moist: int) -> None:
    assert first(made(**(DRY | changed)), "moisture") == moist


@pytest.mark.parametrize("dew_c", [3.0, 7.5])
def test_where_nobody_looked_no_frost_is_refuted(dew_c: float) -> None:
    found = made(**(DRY | {"dew_point_c": dew_c, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}))
    assert first(found, "frost_refuted") == 0 and first(found, "frost_margin_c") < 0


@pytest.mark.parametrize(("looked", "refuted"), [(0, [1, 1]), (-1, [0, 0]), (60, [0, 1])])
def test_a_look_refutes_the_frost_of_its_own_moment_and_later_and_none_where_none_would_form(
    looked: float, refuted: list[int]
) -> None:
    # frost as far below as at the look, which was at the first time known, a second before it, or a minute after it
    at = int(NIGHT.timestamp()) + int(looked)
    asked = {"seen": "nothing", "looked_at": at}
    frosty = made(said=asked, **(DRY | {"air_temperature_c": -2.0, "dew_point_c": -2.5, "cloud_fraction": 0.0}))
    assert first(frosty, "frost_margin_c") > 0
    row = np.broadcast_to(frosty.columns["frost_refuted"], frosty.shape)[CENTRAL]
    assert [row[0], row[1]] == refuted
    assert not made(said=asked, **DRY).columns["frost_refuted"].any()


def test_no_dew_counts_below_freezing_air_but_over_a_warm_tank_none_forms() -> None:
    # the skin lies below the dew point and yet the air is below 0 °C: frost, not moisture
    found = made(**(DRY | {"air_temperature_c": -8.0, "dew_point_c": -8.5, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}))
    assert first(found, "dew_margin_c") > 1 and first(found, "tank_skin_temperature_c") > -8.5


@pytest.mark.parametrize(
    ("changed", "frozen"),
    [
        ({}, 0),
        ({"rain": 1}, 0),  # wet, and warm
        ({"rain": 1, "air_temperature_c": 0.0}, 1),
        ({"drizzle": 1, "air_temperature_c": -1.0}, 1),
        ({"rain": 1, "air_temperature_c": 0.1, "dew_point_c": 0.0, "skin_wind_kt": 30.0, "fuel_temperature_c": 0.1}, 1),
        ({"fog": 1, "air_temperature_c": -1.0}, 0),  # fog wets nothing that would freeze later
        ({"air_temperature_c": -1.0}, 0),  # cold, and dry
        ({"rain": -1, "air_temperature_c": -1.0}, -1),
        # a clear calm night: 2.5 °C air, the central skin below 0 °C
        ({"rain": 1, "air_temperature_c": 2.5, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}, 1),
        ({"rain": 1, "air_temperature_c": np.nan}, -1),
        # a skin that nobody can tell, since the dew point is lost: it freezes in no air above 15 °C
        ({"rain": 1, "dew_point_c": np.nan}, -1),
        ({"rain": 1, "dew_point_c": np.nan, "air_temperature_c": 15.0}, -1),
        ({"rain": 1, "dew_point_c": np.nan, "air_temperature_c": 15.5}, 0),
    ],
)
def test_what_is_wet_and_freezes(changed: dict[str, float], frozen: int) -> None:
    assert first(made(**(DRY | changed)), "freezing_after_wet") == frozen


def test_what_is_wet_freezes_at_nought_though_the_sun_warms_the_skin() -> None:
    noon = DRY | {"rain": 1, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}
    for air, frozen in ((0.0, 1), (0.1, 0)):
        found = made(now=NOON, **(noon | {"air_temperature_c": air}))
        assert first(found, "wing_skin_temperature_c") > 5 and first(found, "freezing_after_wet") == frozen


@pytest.mark.parametrize(
    ("changed", "slippery"),
    [
        ({}, 0),
        ({"frozen_precipitation": 1}, 1),
        ({"fog": 1, "air_temperature_c": 0.0}, 1),
        ({"mist": 1, "air_temperature_c": -0.1}, 1),
        ({"fog": 1, "air_temperature_c": 0.1, "dew_point_c": 0.0}, 0),
        # rain and drizzle from 1 °C down: the ground may be colder
        ({"rain": 1, "air_temperature_c": 1.0, "skin_wind_kt": 30.0}, 1),
        ({"drizzle": 1, "air_temperature_c": 1.0, "skin_wind_kt": 30.0}, 1),
        ({"rain": 1, "air_temperature_c": 1.005, "skin_wind_kt": 30.0}, 0),
        ({"rain": 1, "air_temperature_c": 2.5, "cloud_fraction": 0.0, "skin_wind_kt": 2.0}, 1),  # frozen after wet
        ({"air_temperature_c": -5.0, "dew_point_c": -9.0}, 0),
        ({"fog": -1, "air_temperature_c": -1.0}, -1),
    ],
)
def test_slippery_ground(changed: dict[str, float], slippery: int) -> None:
    assert first(made(**(DRY | changed)), "slippery_surface") == slippery


def test_a_deposit_that_was_seen_is_there_without_a_series() -> None:
    assert first(made(**DRY, deposit_seen=1), "deposit_possible") == 1
    assert first(made(**DRY, deposit_seen=0), "deposit_possible") == 0


# while parked


def test_the_strongest_gust_since_parking() -> None:
    found = made(series=True, said={"parked_since": int(clock(4.5))}, **DRY, seen_gust_kt=[12, 31, 18, 25])
    gusts = np.broadcast_to(found.columns["gust_while_parked_kt"], found.shape)[CENTRAL]
    # 04:30, 04:45, 05:00 and 05:15
    assert gusts[:4].tolist() == [12, 31, 31, 31]


# wind and doors

DOORS = (
    Door("forward", -90.0, 40.0, 60.0),
    Door("cargo", 90.0, 50.0, 45.0, (Sector(20.0, 160.0, 35.0, 38.0),)),
)


@pytest.mark.parametrize(
    ("direction", "heading", "relative"),
    [(240.0, 200.0, 40.0), (20.0, 200.0, 180.0), (350.0, 10.0, -20.0), (10.0, 350.0, 20.0), (100.0, 190.0, -90.0)],
)
def test_wind_from_the_nose(direction: float, heading: float, relative: float) -> None:
    found = made(heading_deg=heading, wind_direction_deg=direction)
    assert first(found, "relative_wind_deg") == relative


@pytest.mark.parametrize(
    ("direction", "operate", "stay_open"),
    # gust 30: forward 10 and 30 from anywhere; cargo 20 and 15, but 5 and 8 with the wind on its side or not known
    [(200.0, (10, 20), (30, 15)), (290.0, (10, 5), (30, 8)), (np.nan, (10, 5), (30, 8))],
)
def test_the_worst_door_is_the_margin(direction: float, operate: tuple[int, int], stay_open: tuple[int, int]) -> None:
    found = made(Airframe(doors=DOORS), heading_deg=200.0, wind_direction_deg=direction, wind_kt=20.0, gust_kt=30.0)
    each_door = found.doors("operate_margins_kt")
    assert tuple(each_door[:, CENTRAL, 0]) == operate
    assert tuple(found.doors("stay_open_margins_kt")[:, CENTRAL, 0]) == stay_open
    assert first(found, "door_margin_kt") == min(operate)
    assert first(found, "door_stay_open_margin_kt") == min(stay_open)
    assert each_door.shape == (2, *found.shape)


def test_an_aircraft_without_doors_has_no_margin() -> None:
    found = made()
    assert not {"door_margin_kt", "operate_margins_kt"} & set(found.columns)


@pytest.mark.parametrize("lacking", ["storm_said", "cumulonimbus", "squall", "funnel_cloud", "recent_storm"])
def test_without_a_word_on_storms_no_door_is_known_to_stay_below_its_limit(lacking: str) -> None:
    found = build("METAR ZZZA 100530Z 24012KT 9999 SCT030 03/01 Q1013", fuel_temperature_c=5.0)
    # a table without a series: what was there while it was parked needs what was said (lying.while_parked)
    known = replace(found, series=False)
    told = replace(known, columns={name: column for name, column in known.columns.items() if name != lacking})
    for table, storm in ((known, 0), (told, -1)):
        derived = derive(table, Airframe(doors=DOORS))
        assert (derived.columns["storm_near"] == storm).all()
        assert np.isnan(derived.columns["door_margin_kt"]).all() == bool(storm)


@pytest.mark.parametrize(
    ("said", "storm"),
    [
        ({}, 0),
        ({"storm_said": 1}, 1),
        ({"storm_said": -1}, -1),
        ({"cumulonimbus": 1}, 1),
        ({"cumulonimbus": -1}, -1),
        ({"thunderstorm": 1}, 0),
        # what brings gusts as a storm does, and a storm within two hours; one that is not known is the weather's to say
        ({"squall": 1}, 1),
        ({"squall": -1}, -1),
        ({"funnel_cloud": 1}, 1),
        ({"funnel_cloud": -1}, -1),
        ({"recent_storm": 1}, 1),
        ({"recent_storm": -1}, -1),
        ({"squall": -1, "cumulonimbus": 1}, 1),
    ],
)
def test_beside_a_storm_a_margin_that_is_left_is_not_known_and_one_that_is_gone_is_gone(
    said: dict[str, float], storm: int
) -> None:
    # gust 30: 10 below the lowest limit, gust 40: at it, gust 45: 5 above it
    for gust, left in ((30.0, 10.0), (40.0, 0.0), (45.0, -5.0)):
        found = made(Airframe(doors=DOORS), heading_deg=200.0, wind_direction_deg=200.0, gust_kt=gust, **said)
        margin = first(found, "door_margin_kt")
        assert first(found, "storm_near") == storm
        assert np.isnan(margin) if storm and left >= 0 else margin == left
        # the tables of each door keep what the report says
        assert found.doors("operate_margins_kt")[0, CENTRAL, 0] == 40 - gust
    open_at = made(Airframe(doors=DOORS), heading_deg=200.0, wind_direction_deg=200.0, gust_kt=44.0, **said)
    assert np.isnan(first(open_at, "door_stay_open_margin_kt")) == bool(storm)


# fuel whose course nobody knows


def test_fuel_in_air_that_nobody_measured_is_not_known_from_now_on() -> None:
    said = {"fuel_temperature_c": 4.0, "fuel_fill_pct": 100.0, "parked_since": int(clock(3.5))}
    found = made(series=True, ahead_min=60, air_temperature_c=np.nan, dew_point_c=np.nan, said=said)
    fuel, now = found.columns["fuel_temperature_c"], when(found, 5.5)
    assert (fuel[:, : now + 1] == 4).all() and np.isnan(fuel[:, now + 1 :]).all()


def test_a_fill_that_was_not_stated_is_full_or_nearly_empty_whatever_is_worse_for_the_case() -> None:
    # time constants 4, 8 and 16 h, a tenth of them for a tank that is nearly empty; one hour
    said = {"parked_since": int(clock(3.5))}

    def after(stated: float, air: float) -> dict[int, float]:
        found = made(
            series=True,
            ahead_min=120,
            air_temperature_c=air,
            dew_point_c=air - 4,
            said=said | {"fuel_temperature_c": stated},
        )
        return {
            row: float(found.columns["fuel_temperature_c"][row, when(found, 6.5)])
            for row in (CENTRAL, COLD, HIGH, LOW, CHILL)
        }

    # cold fuel in warm air: full, and so cold for longest
    hours = {CENTRAL: 8, COLD: 8, HIGH: 16, LOW: 4, CHILL: 8}
    assert after(-10, 6) == pytest.approx({row: 6 - 16 * exp(-1 / tau) for row, tau in hours.items()}, abs=1e-6)
    # warm fuel in cold air: nearly empty, and so cold soonest, but for the central case
    hours = {CENTRAL: 8, COLD: 0.8, HIGH: 0.4, LOW: 1.6, CHILL: 0.8}
    assert after(16, 0) == pytest.approx({row: 16 * exp(-1 / tau) for row, tau in hours.items()}, abs=1e-6)


def test_whether_fuel_is_colder_than_the_air_is_seen_now() -> None:
    # 05:30 and every five minutes: the air falls from 6 to 0 °C in the first step, then stays. Fuel at 3 °C is colder
    # than the air now: the adverse skin has 16 h, the mild one 4. Fuel at 6 °C is not colder: 4 h and 16
    for stated, adverse_h, mild_h in ((3.0, 16, 4), (6.0, 4, 16)):
        found = made(
            series=True,
            ahead_min=60,
            air_temperature_c=[6.0, 0.0],
            dew_point_c=-5.0,
            said={"fuel_temperature_c": stated, "fuel_fill_pct": 100.0},
        )
        for row, tau in ((HIGH, adverse_h), (LOW, mild_h)):
            step = exp(-5 / 60 / tau)
            first_step = 3 + (stated - 3) * step
            wanted = [stated, first_step, first_step * step]
            assert found.columns["fuel_temperature_c"][row, :3] == pytest.approx(wanted, abs=1e-9)


# rime in freezing mist


def dew_for(air_c: float, humidity_pct: float) -> float:
    """Dew point of a humidity over water, the formula of vapour_pa turned round."""
    x = log(humidity_pct / 100 * vapour_pa(air_c) / 611.2)
    return 243.12 * x / (17.62 - x)


@pytest.mark.parametrize(
    ("changed", "rime"),
    [
        ({}, 1),
        ({"mist": 0}, 0),
        ({"mist": -1}, -1),
        ({"air": -1.0}, 1),
        ({"air": -1.005}, 1),
        ({"air": -0.995}, 0),
        ({"air": 2.0}, 0),
        ({"humidity": 95.05}, 1),
        ({"humidity": 94.95}, 0),
        ({"humidity": np.nan}, -1),
        ({"cloud_fraction": 0.6005}, 1),
        ({"cloud_fraction": 0.6}, 0),
        ({"cloud_fraction": 0.0}, 0),
        ({"cloud_base_m": 299.9}, 1),
        ({"cloud_base_m": 300.0}, 0),
    ],
)
def test_mist_in_frost_under_low_cloud_may_leave_rime_in_the_adverse_cases(
    changed: dict[str, float], rime: int
) -> None:
    said = {"air": -3.0, "humidity": 97.0, "mist": 1, "cloud_fraction": 0.75, "cloud_base_m": 120.0} | changed
    air = said.pop("air")
    found = made(air_temperature_c=air, dew_point_c=dew_for(air, said.pop("humidity")), **said)
    for row in (COLD, HIGH, LOW, CHILL):
        assert first(found, "freezing_mist", row) == rime
    assert first(found, "freezing_mist") == 0


# what ended and clings; without a series nothing is known of what gathered


@pytest.mark.parametrize(
    ("changed", "central", "adverse"),
    [
        ({}, 0, 0),
        ({"deposit_seen": 1}, 1, 1),
        # snow that ended lies in the adverse cases up to 3 °C, ice on a sensor is ice in frost and in every case
        ({"recent_frozen": 1, "air_temperature_c": 3.0}, 0, 1),
        ({"recent_frozen": 1, "air_temperature_c": 3.005}, 0, 0),
        ({"recent_frozen": 1, "air_temperature_c": -2.0}, 0, 1),
        ({"recent_frozen": -1, "air_temperature_c": 1.0}, 0, -1),
        ({"recent_frozen": -1}, 0, 0),
        ({"recent_frozen": 1, "air_temperature_c": np.nan}, 0, -1),
        ({"ice_reported": 1, "air_temperature_c": 3.0}, 0, 1),
        ({"ice_reported": 1, "air_temperature_c": 3.005}, 0, 0),
        ({"ice_reported": 1, "air_temperature_c": 0.0}, 1, 1),
        ({"ice_reported": 1, "air_temperature_c": 0.1}, 0, 1),
        ({"ice_reported": 1, "air_temperature_c": np.nan}, -1, -1),
        # frost on the indicator likewise
        ({"frost_reported": 1, "air_temperature_c": 3.0}, 0, 1),
        ({"frost_reported": 1, "air_temperature_c": 3.005}, 0, 0),
        ({"frost_reported": 1, "air_temperature_c": 0.0}, 1, 1),
        ({"frost_reported": 1, "air_temperature_c": 0.1}, 0, 1),
        ({"frost_reported": 1, "air_temperature_c": np.nan}, -1, -1),
    ],
)
def test_what_ended_may_cling(changed: dict[str, float], central: int, adverse: int) -> None:
    found = made(**(DRY | changed))
    for row, wanted in ((CENTRAL, central), (COLD, adverse), (HIGH, adverse), (LOW, adverse), (CHILL, adverse)):
        assert first(found, "deposit_possible", row) == wanted
        if "deposit_seen" not in changed:
            assert first(found, "slippery_surface", row) == wanted
    no_snow = ("ice_reported", "frost_reported", "deposit_seen")
    snow = {name: value for name, value in changed.items() if name not in no_snow}
    found = made(**(DRY | snow))
    assert first(found, "snow_on_aircraft") == 0
    assert first(found, "snow_on_aircraft", COLD) == (adverse if "recent_frozen" in changed else 0)


@pytest.mark.parametrize("drifts", [0, 1, -1])
def test_drifting_snow_means_that_snow_lies_on_the_ground(drifts: int) -> None:
    assert first(made(**DRY, blowing_snow=drifts), "snow_on_ground") == drifts


def test_what_gathered_while_it_stood_there_lies_on_the_aircraft_and_the_ground() -> None:
    # a quarter of an hour of moderate snow at -5 °C, 1.75 mm/h, from 04:30; parked since 04:00
    said = {"parked_since": int(clock(4)), "fuel_temperature_c": -5.0}
    snow = {
        "snow": [0, 0, 1, 0],
        "seen_snow": [0, 0, 1, 0],
        "seen_frozen": [0, 0, 1, 0],
        "air_temperature_c": -5.0,
        "dew_point_c": -9.0,
        "visibility_m": 1600.0,
        "snow_intensity_code": 3.0,
        "skin_wind_kt": 20.0,
    }
    found = made(series=True, said=said, **(DRY | snow))
    for name in ("deposit_possible", "snow_on_aircraft", "snow_on_ground", "slippery_surface"):
        column = np.broadcast_to(found.columns[name], found.shape)[CENTRAL]
        # from half of the step before it on
        assert column[:2].tolist() == [0, 0] and (column[3:] == 1).all(), name
    assert first(found, "frozen_precipitation_while_parked") == 0
    assert found.columns["frozen_precipitation_while_parked"][CENTRAL, 2:].tolist() == [1] * (found.shape[1] - 2)
    came_now = made(series=True, said={"fuel_temperature_c": -5.0}, **(DRY | snow))
    assert came_now.columns["snow_on_aircraft"][CENTRAL, 0] == 0


def test_rain_that_gathered_and_froze_since() -> None:
    # rain at 3 °C, then a frost: the film freezes where air or skin is at or below 0 °C
    said = {"parked_since": int(clock(4)), "fuel_temperature_c": 2.0}
    rain = {
        "rain": [1, 1, 0],
        "rain_rate_mm_h": [5.0, 5.0, 0.0],
        "air_temperature_c": [3.0, 3.0, 3.0, -1.0],
        "dew_point_c": [2.9, 2.9, 2.9, -1.5],
        "skin_wind_kt": 20.0,
    }
    found = made(series=True, said=said, **(DRY | rain))
    frozen = found.columns["freezing_after_wet"][CENTRAL]
    assert frozen[2] == 0 and (frozen[3:] == 1).all()
    assert found.columns["rain_accumulated_mm"][CENTRAL, :4] == pytest.approx([0, 1.25, 1.875, 1.875])


@pytest.mark.parametrize(
    ("air", "wind", "chill", "frostbite"),
    [
        # the index ends at 10 °C and at 4.8 km/h, 2.6 kt; a time to frostbite is published from -28 down
        (24.0, 12.0, 1, 1),
        (9.0, 2.0, 1, 1),
        (9.0, 12.0, 0, 1),
        (-40.0, 12.0, 0, 0),
        (np.nan, 12.0, -1, -1),
        (np.nan, 2.0, 1, 1),
    ],
)
def test_where_there_is_no_wind_chill_nobody_misses_it(air: float, wind: float, chill: int, frostbite: int) -> None:
    found = made(air_temperature_c=air, dew_point_c=air - 4, wind_kt=wind)
    assert (first(found, "wind_chill_absent"), first(found, "frostbite_absent")) == (chill, frostbite)

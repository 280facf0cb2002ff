"""Where each shipped rule begins: at its figure it speaks, a little on the other side it is silent.

The figures are agreed defaults, published or invented as each rule's source says; they are written here a second time,
from the agreement and not from the files. Everything else is held at a quiet, warm, dry day.
"""

from __future__ import annotations

from math import nan

import numpy as np
import pytest

from advisor.checklist import revision
from advisor.quantities import FLAG, QUANTITIES, TREATMENT_CATEGORIES

RULES = {rule.id: rule for rule in revision.load(None).rules}
YES, NO, UNKNOWN = 1, 0, -1

QUIET = {
    "illuminance_lx": 20_000.0,
    "sun_elevation_deg": 40.0,
    "air_temperature_c": 20.0,
    "dew_point_c": 8.0,
    "relative_humidity_pct": 45.0,
    "visibility_m": 10_000.0,
    "cloud_fraction": 0.9,
    "wind_kt": 5.0,
    "gust_kt": 14.0,
    "door_margin_kt": 20.0,
    "door_stay_open_margin_kt": 30.0,
    "frost_margin_c": -20.0,
    "tank_frost_margin_c": -20.0,
    "dew_margin_c": -10.0,
    "fuel_temperature_c": nan,
    "snow_intensity": 0.0,
    "snow_rate_mm_h": 0.0,
    "snow_accumulated_mm": 0.0,
    "rain_accumulated_mm": 0.0,
    "treatment_category": 0.0,
    "wind_chill_c": nan,
    "heat_index_c": nan,
    "ahead_min": 30.0,
    "off_block_in_min": 30.0,
    "parked_h": 0.0,
    "report_age_min": 5.0,
    "station_distance_km": 0.0,
    "station_height_difference_m": 0.0,
    "fuel_temperature_assumed": 1.0,
    "gust_while_parked_kt": 0.0,
}


def told(rule_id: str, aircraft: str | None = None, **now: float) -> int:
    """1 yes, 0 no, -1 unknown for the quiet day with a few things changed."""
    values = dict.fromkeys((name for name, row in QUANTITIES.items() if row.kind == FLAG), 0.0) | QUIET | now
    columns = {}
    for name, value in values.items():
        coded = QUANTITIES[name].kind != "number"
        columns[name] = np.array([[value]], dtype=np.int8 if coded else np.float64)
    # "-severe" is what a rule says where it rises from should to must
    rule = RULES[rule_id.removesuffix("-severe")]
    rule = rule if aircraft is None else rule.for_class(aircraft)
    rule = rule.raised if rule_id.endswith("-severe") else rule
    return rule.condition.truth(columns, 0, 0)


# rule, quantity, where it speaks, where it is silent, what else has to hold
EDGES = [
    ("torch", "illuminance_lx", 19.9, 20.0, {}),
    ("dark-corners-light", "illuminance_lx", 20.0, 19.9, {}),
    ("exterior-lights", "illuminance_lx", 19.9, 20.0, {}),
    ("wind-chill", "wind_chill_c", -10.0, -9.9, {"air_temperature_c": -3.0, "wind_kt": 15.0}),
    ("wind-chill", "air_temperature_c", 10.0, 10.1, {"wind_chill_c": -10.0, "wind_kt": 15.0}),
    # valid above 4.8 km/h, which is 2.6 kt
    ("wind-chill", "wind_kt", 2.7, 2.6, {"wind_chill_c": -10.0, "air_temperature_c": -3.0}),
    ("wind-chill-severe", "wind_chill_c", -27.0, -26.9, {"air_temperature_c": -15.0, "wind_kt": 15.0}),
    ("heat", "heat_index_c", 32.0, 31.9, {"air_temperature_c": 30.0}),
    ("heat-severe", "heat_index_c", 41.0, 40.9, {"air_temperature_c": 35.0}),
    ("strong-wind", "wind_kt", 20.0, 19.9, {}),
    ("strong-wind", "gust_kt", 28.0, 27.9, {}),
    ("loose-covers", "gust_kt", 28.0, 27.9, {}),
    ("loose-covers", "gust_while_parked_kt", 28.0, 27.9, {}),
    ("gust-damage-inspection", "gust_while_parked_kt", 45.0, 44.9, {}),
    ("loose-covers", "parked_h", 6.0, 5.9, {}),
    ("too-windy-outside", "gust_kt", 45.0, 44.9, {}),
    ("tie-downs", "gust_kt", 30.0, 29.9, {}),
    ("eye-protection", "gust_kt", 28.0, 27.9, {}),
    ("canopy-wind-and-sun", "gust_kt", 20.0, 19.9, {}),
    ("canopy-sun", "sun_elevation_deg", 15.1, 15.0, {"cloud_fraction": 0.5}),
    ("canopy-sun", "cloud_fraction", 0.5, 0.51, {}),
    ("low-visibility-apron", "visibility_m", 549.0, 550.0, {}),
    ("low-visibility-apron", "visibility_m", 1499.0, 1500.0, {"blowing_snow": 1}),
    ("low-visibility-apron", "visibility_m", 1499.0, 1500.0, {"dark": 1}),
    ("door-operate", "door_margin_kt", -0.1, 0.0, {}),
    ("door-stay-open", "door_stay_open_margin_kt", -0.1, 0.0, {}),
    ("low-sun", "sun_elevation_deg", 10.0, 10.1, {"cloud_fraction": 0.3}),
    ("low-sun", "sun_elevation_deg", 0.0, -0.1, {"cloud_fraction": 0.3}),
    ("low-sun", "cloud_fraction", 0.5, 0.51, {"sun_elevation_deg": 5.0}),
    ("recheck", "off_block_in_min", 65.1, 65.0, {}),
    ("recheck", "report_age_min", 90.1, 90.0, {}),
    ("report-not-here", "station_distance_km", 10.1, 10.0, {}),
    ("report-not-here", "station_height_difference_m", 100.1, 100.0, {}),
    ("water-drain", "air_temperature_c", -0.1, 0.0, {"parked_h": 6.0}),
    ("water-drain", "off_block_in_min", 180.1, 180.0, {"air_temperature_c": -5.0}),
    ("water-drain", "parked_h", 6.0, 5.9, {"air_temperature_c": -5.0}),
    ("night-before-protection", "off_block_in_min", 180.1, 180.0, {"frozen_precipitation": 1}),
    ("hangar-out", "air_temperature_c", 2.0, 2.1, {"frozen_precipitation": 1}),
    ("hangar-out", "parked_h", 0.9, 1.0, {"frozen_precipitation": 1, "air_temperature_c": 0.0}),
    ("hot-brakes", "air_temperature_c", 25.1, 25.0, {}),
    ("hot-brakes", "parked_h", 1.0, 1.1, {"air_temperature_c": 30.0}),
    ("gloves-and-soles", "air_temperature_c", 0.0, 0.1, {}),
    ("insects-in-ports", "air_temperature_c", 15.0, 14.9, {"parked_h": 6.0}),
    ("insects-in-ports", "parked_h", 6.0, 5.9, {}),
    ("fuel-vents-caps", "parked_h", 6.0, 5.9, {}),
    ("ballast-and-tapes", "air_temperature_c", 2.0, 2.1, {}),
    ("drone-battery", "air_temperature_c", 10.0, 10.1, {}),
    ("drone-battery", "air_temperature_c", 40.0, 39.9, {}),
    ("drone-battery-cold", "air_temperature_c", 0.0, 0.1, {}),
    ("drone-prop-ice", "air_temperature_c", 2.0, 2.1, {"mist": 1}),
    ("drone-prop-ice", "relative_humidity_pct", 90.1, 90.0, {"air_temperature_c": 1.0}),
    ("heavy-rain", "rain_accumulated_mm", 10.0, 9.9, {}),
    ("taxiing-slush", "snow_accumulated_mm", 1.1, 1.0, {}),
    ("loose-snow-hover", "air_temperature_c", 0.0, 0.1, {"snow": 1}),
    ("de-icing-lead", "snow_intensity", 3.0, 2.0, {}),
    ("windscreen", "air_temperature_c", 5.0, 5.1, {"dew_margin_c": 0.1}),
    ("condensation-inside", "dew_margin_c", 0.1, 0.0, {}),
    ("slippery-apron", "air_temperature_c", 0.0, 0.1, {"mist": 1}),
    ("slippery-apron", "air_temperature_c", 0.0, 0.1, {"fog": 1}),
    # air in which the heat index is worked out: from 80 °F, 26.7 °C
    ("heat", "air_temperature_c", 27.0, 26.9, {"heat_index_c": 33.0}),
    ("heat-severe", "air_temperature_c", 27.0, 26.9, {"heat_index_c": 42.0}),
    ("wind-chill-severe", "air_temperature_c", 10.0, 10.1, {"wind_chill_c": -27.0, "wind_kt": 15.0}),
    ("wind-chill-severe", "wind_kt", 2.7, 2.6, {"wind_chill_c": -27.0, "air_temperature_c": -25.0}),
    ("oil-battery-preheat", "air_temperature_c", -10.0, -9.9, {}),
    ("push-back-blast", "gust_kt", 28.0, 27.9, {}),
    ("condensation-inside", "air_temperature_c", -4.9, -5.0, {"dew_margin_c": 1.0}),
    ("windscreen", "dew_margin_c", 0.1, 0.0, {"air_temperature_c": 4.0}),
    ("night-before-protection", "frost_margin_c", 0.1, 0.0, {"air_temperature_c": 5.0, "off_block_in_min": 300.0}),
    ("salt-spray", "wind_kt", 25.0, 24.9, {}),
    ("rain-may-freeze", "air_temperature_c", 1.0, 1.1, {"rain": 1}),
    ("deep-cold", "air_temperature_c", -30.1, -30.0, {}),
    ("glider-wing-by-day", "illuminance_lx", 20.0, 19.9, {}),
    # wet snow freezes on in air up to +3 °C (common practice)
    *((rule, "air_temperature_c", 3.0, 3.1, {"snow_on_ground": 1}) for rule in ("intakes", "landing-gear-ice")),
    # frost is looked for up to +15 °C
    *(
        (rule, "air_temperature_c", 15.0, 15.1, {"frost_margin_c": 1.0, "off_block_in_min": 300.0})
        for rule in (
            "de-icing-request",
            "wing-upper-surface",
            "leading-edge-and-tail",
            "pre-take-off-check",
            "exterior-lights",
            "windscreen",
            "rotor-head-blades",
            "night-before-protection",
            "fluid-and-mix",
            "steps-ice",
            "ballast-and-tapes",
        )
    ),
    # fuel that somebody stated to be so cold freezes rain and dew in warmer air as well
    *(
        (rule, "tank_frost_margin_c", 0.1, 0.0, {"air_temperature_c": 25.0, "fuel_temperature_assumed": 0})
        for rule in ("de-icing-request", "wing-upper-surface", "underwing-frost", "fluid-and-mix")
    ),
    *(
        (
            rule,
            "tank_frost_margin_c",
            0.1,
            0.0,
            {"air_temperature_c": 15.1, "fuel_temperature_assumed": 0, "moisture": 1, "fuel_temperature_c": -20.0},
        )
        for rule in ("cold-soaked-wing", "fuel-warm-or-early")
    ),
    *(
        (
            rule,
            "air_temperature_c",
            on,
            off,
            {"fuel_temperature_c": -5.0, "fuel_temperature_assumed": 0, "rain": 1, "moisture": 1},
        )
        for rule in ("de-icing-request", "wing-upper-surface", "fuel-warm-or-early", "fluid-and-mix")
        for on, off in ((-2.0, -2.1), (15.0, 15.1))
    ),
    ("de-icing-request", "air_temperature_c", 5.0, 5.1, {"unknown_precipitation": 1}),
    ("wing-upper-surface", "air_temperature_c", 5.0, 5.1, {"unknown_precipitation": 1}),
    ("fluid-and-mix", "air_temperature_c", 5.0, 5.1, {"unknown_precipitation": 1}),
    # cold-soaked structure: outside air from -2 to +15 °C, moisture, fuel below 0 °C; what is above only where stated
    ("cold-soaked-wing", "air_temperature_c", -2.0, -2.1, {"moisture": 1, "fuel_temperature_c": -1.0}),
    ("cold-soaked-wing", "air_temperature_c", 15.0, 15.1, {"moisture": 1, "fuel_temperature_c": -1.0}),
    ("cold-soaked-wing", "fuel_temperature_c", -0.1, 0.0, {"moisture": 1, "air_temperature_c": 10.0}),
    *(
        (rule, "frost_margin_c", 0.1, 0.0, {"air_temperature_c": 5.0})
        for rule in (
            "de-icing-request",
            "wing-upper-surface",
            "leading-edge-and-tail",
            "pre-take-off-check",
            "exterior-lights",
            "windscreen",
            "rotor-head-blades",
            "fluid-and-mix",
            "steps-ice",
            "ballast-and-tapes",
        )
    ),
    *(
        (rule, "tank_frost_margin_c", 0.1, 0.0, {"air_temperature_c": 5.0, "fuel_temperature_assumed": 0})
        for rule in ("de-icing-request", "wing-upper-surface", "underwing-frost", "fluid-and-mix")
    ),
    *(
        (rule, "fuel_temperature_c", -0.1, 0.0, {"air_temperature_c": 10.0, "fuel_temperature_assumed": 0, "rain": 1})
        for rule in ("de-icing-request", "wing-upper-surface", "fluid-and-mix")
    ),
    (
        "fuel-warm-or-early",
        "fuel_temperature_c",
        -0.1,
        0.0,
        {"air_temperature_c": 10.0, "fuel_temperature_assumed": 0, "moisture": 1},
    ),
]


@pytest.mark.parametrize(("rule_id", "quantity", "speaks", "silent", "also"), EDGES)
def test_rule_begins_at_its_figure(rule_id: str, quantity: str, speaks: float, silent: float, also: dict[str, float]):
    assert told(rule_id, **{**also, quantity: speaks}) == YES
    assert told(rule_id, **{**also, quantity: silent}) == NO


FALLS = ("frozen_precipitation", "freezing_precipitation", "freezing_fog")
LIES = ("freezing_after_wet", "deposit_seen", "deposit_possible")
# what has gathered by now, not frost that may still form
GATHERED = ("freezing_after_wet", "deposit_seen", "deposit_lies")
RIMES = ("freezing_fog", "freezing_mist")
BLOCKS = ("frozen_precipitation", "freezing_precipitation", "blowing_snow", "recent_freezing", *GATHERED)
ALONE = {
    "de-icing-request": (*FALLS, *LIES, "blowing_snow", "recent_freezing", "freezing_mist"),
    "fluid-and-mix": (*FALLS, *LIES, "blowing_snow", "recent_freezing", "freezing_mist"),
    "wing-upper-surface": (*FALLS, *LIES, "blowing_snow", "recent_freezing", "freezing_mist"),
    "leading-edge-and-tail": (*FALLS, *LIES, "blowing_snow", "recent_freezing", "freezing_mist"),
    "rotor-head-blades": (*FALLS, *LIES, "blowing_snow", "recent_freezing", "freezing_mist"),
    "exterior-lights": (*FALLS, *LIES),
    "windscreen": (*FALLS, *LIES),
    "treatment-plan": (*FALLS, *GATHERED, "recent_freezing"),
    "pre-take-off-check": FALLS,
    "probes-and-ports": (*BLOCKS, *RIMES),
    "intakes": (*BLOCKS, "freezing_fog"),
    "control-gaps": (*BLOCKS, *RIMES),
    "landing-gear-ice": BLOCKS,
    "propeller-spinner": (*FALLS, *GATHERED, "recent_freezing", "freezing_mist"),
    "fuel-vents-caps": ("frozen_precipitation", "freezing_precipitation", "recent_freezing", *GATHERED),
    "steps-ice": (*FALLS, *GATHERED, "recent_freezing", "slippery_surface"),
    "taxiing-slush": ("frozen_precipitation", "freezing_precipitation", "freezing_after_wet", "snow_on_ground"),
    "aerials-and-lamps": ("freezing_precipitation", "freezing_fog", "recent_freezing", "ice_reported"),
    "ice-pellets": ("ice_pellets",),
    "gloves-and-soles": (
        "frozen_precipitation",
        "freezing_precipitation",
        "slippery_surface",
        "deposit_seen",
        "deposit_lies",
    ),
    "fuselage-snow": ("snow", "snow_on_aircraft"),
    "de-icing-lead": ("freezing_precipitation",),
    "push-back-blast": ("slippery_surface",),
    "gust-damage-inspection": ("squall_while_parked",),
    "treatment-record": ("treated",),
    "slippery-apron": ("slippery_surface", "frozen_precipitation", "freezing_precipitation", "freezing_after_wet"),
    "no-umbrella": ("precipitation_any",),
    "thunderstorm": ("thunderstorm",),
    "hail-shelter": ("hail",),
    "hail-inspection": ("recent_hail", "hail_while_parked"),
    "lightning-inspection": ("recent_thunderstorm", "thunderstorm_while_parked"),
    "ash": ("volcanic_ash",),
    "snow-closed": ("aerodrome_closed",),
    "already-seen": ("deposit_seen",),
    "too-windy-outside": ("squall",),
    "low-visibility-apron": ("fog",),
    "refrozen-water": ("freezing_after_wet",),
    "dust-sand": ("dust_or_sand",),
    "eye-protection": ("dust_or_sand", "blowing_snow"),
    "lightning-about": ("lightning",),
}


@pytest.mark.parametrize(("rule_id", "flag"), [(name, flag) for name, flags in ALONE.items() for flag in flags])
def test_one_thing_alone_is_enough(rule_id: str, flag: str):
    assert told(rule_id, **{flag: 1}) == YES
    assert told(rule_id, **{flag: -1}) == UNKNOWN
    assert told(rule_id) == NO


TOGETHER = [
    *((rule, "snow_on_ground", {"air_temperature_c": -2.0}) for rule in ("intakes", "landing-gear-ice")),
    ("rain-may-freeze", "rain", {"air_temperature_c": 0.5}),
    ("rain-and-snow", "rain", {"snow": 1}),
    ("rain-and-snow", "snow", {"rain": 1}),
    *(("night-before-protection", flag, {"off_block_in_min": 300.0}) for flag in FALLS),
    *(("retreat", flag, {"treated": 1}) for flag in FALLS),
    *(("loose-snow-hover", flag, {"air_temperature_c": -5.0}) for flag in ("snow", "blowing_snow", "snow_on_ground")),
    *(
        ("drone-prop-ice", flag, {"air_temperature_c": 1.0})
        for flag in ("fog", "mist", "rain", "frozen_precipitation", "freezing_precipitation")
    ),
    ("low-visibility-apron", "dust_or_sand", {"visibility_m": 1400.0}),
    ("heavy-rain", "rain", {"heavy_precipitation": 1}),
    ("heavy-rain", "heavy_precipitation", {"rain": 1}),
    ("cold-soaked-wing", "moisture", {"air_temperature_c": 8.0, "fuel_temperature_c": -5.0}),
    ("cold-soaked-wing", "recent_rain", {"air_temperature_c": 8.0, "fuel_temperature_c": -5.0}),
]


@pytest.mark.parametrize(("rule_id", "flag", "also"), TOGETHER)
def test_two_things_together_are_needed(rule_id: str, flag: str, also: dict[str, float]):
    assert told(rule_id, **{**also, flag: 1}) == YES
    assert told(rule_id, **also) == NO
    assert told(rule_id, **{flag: 1}) == NO


# by daylight only: a small light, and a look along a glider's wings
EVERY_DAY = {"dark-corners-light", "glider-wing-by-day"}


@pytest.mark.parametrize("rule_id", [name for name, rule in RULES.items() if rule.when != "always"])
def test_quiet_day_asks_for_nothing_but_a_small_light(rule_id: str):
    assert told(rule_id) == (YES if rule_id in EVERY_DAY else NO)


def test_hail_on_a_warm_day_is_no_matter_for_fluid():
    # 18 °C: hail alone, nothing frozen that could lie
    assert told("hail-shelter", hail=1) == YES
    for rule_id in ("de-icing-request", "no-holdover", "wing-upper-surface", "steps-ice", "pre-take-off-check"):
        category = TREATMENT_CATEGORIES.index("hail")
        assert told(rule_id, hail=1, treatment_category=category, air_temperature_c=18.0) == NO


def test_rain_that_is_coded_as_freezing_needs_no_line_that_it_may():
    cold = {"air_temperature_c": -1.0, "rain": 1, "freezing_precipitation": 1}
    assert told("rain-may-freeze", **cold) == YES
    assert told("rain-may-freeze", **cold, freezing_rain=1) == NO
    assert told("rain-may-freeze", **cold, freezing_drizzle=1) == NO
    # with snow in it there are other lines, and surer ones
    assert told("rain-may-freeze", air_temperature_c=0.5, rain=1, snow=1) == NO


def test_rain_and_snow_are_planned_as_light_freezing_rain_and_stop_only_without_a_time():
    both = {"rain": 1, "snow": 1, "frozen_precipitation": 1}
    mixed, light = (TREATMENT_CATEGORIES.index(name) for name in ("mixed", "light freezing rain"))
    # the line says for which of the two it holds, so that it need not go when a group that tells them apart is lost
    for category in (mixed, light, TREATMENT_CATEGORIES.index("unknown")):
        assert told("rain-and-snow", **both, treatment_category=category) == YES
    assert told("no-holdover", **both, treatment_category=mixed) == YES
    assert told("no-holdover", **both, treatment_category=light) == NO
    assert told("rain-and-snow", **both, freezing_rain=1) == NO


@pytest.mark.parametrize("flag", ["hail", "thunderstorm", "squall", "lightning", "cumulonimbus"])
def test_what_may_come_by_a_forecast_leaves_no_damage_to_look_for(flag: str):
    for rule_id in ("hail-inspection", "gust-damage-inspection", "lightning-inspection"):
        assert told(rule_id, **{flag: 1, "gust_kt": 60.0}) == NO


def test_covers_and_ties_stay_on_in_the_wind_that_asks_for_ties_in_ash_and_in_dust():
    assert told("covers-and-pins-severe", gust_kt=29.9) == NO
    assert told("covers-and-pins-severe", gust_kt=30.0) == YES
    assert told("covers-and-pins-severe", volcanic_ash=1) == YES
    assert told("covers-and-pins-severe", dust_or_sand=1) == YES
    assert told("covers-and-pins", volcanic_ash=1, gust_kt=nan) == YES


def test_an_uncrewed_aircraft_shows_its_own_lamps_in_the_dark_only():
    assert told("exterior-lights", "uncrewed", illuminance_lx=19.9) == YES
    assert told("exterior-lights", "uncrewed", frozen_precipitation=1) == NO


@pytest.mark.parametrize(
    ("rule_id", "what", "aircraft"),
    [
        # the other part alone decides, though nobody said how long the aircraft has stood there
        ("loose-covers", {"gust_kt": 28.0}, None),
        ("water-drain", {"air_temperature_c": -1.0, "off_block_in_min": 181.0}, None),
        ("fuel-vents-caps", {"deposit_lies": 1}, None),
    ],
)
def test_a_time_parked_that_nobody_stated_is_not_asked_for_where_the_weather_decides(rule_id, what, aircraft):
    assert told(rule_id, aircraft, parked_h=nan, **what) == YES


@pytest.mark.parametrize("rule_id", ["hangar-out", "hot-brakes", "insects-in-ports", "water-drain"])
def test_a_time_parked_that_nobody_stated_does_not_matter_in_other_weather(rule_id: str):
    # +12 °C and dry: no snow on a warm skin, no hot air, no insects, nothing to freeze
    assert told(rule_id, parked_h=nan, air_temperature_c=12.0) == NO
    weather = {"hot-brakes": 26.0, "insects-in-ports": 20.0, "hangar-out": 0.0, "water-drain": -1.0}[rule_id]
    assert told(rule_id, parked_h=nan, air_temperature_c=weather, frozen_precipitation=1) == UNKNOWN


@pytest.mark.parametrize("name", ["heavy snow", "heavier freezing rain", "hail", "mixed", "unknown"])
def test_precipitation_without_a_holdover_guideline_is_named(name: str):
    # FAA tables of about 2009-10: none for heavy snow, moderate or heavy freezing rain, hail
    assert told("no-holdover", frozen_precipitation=1, treatment_category=TREATMENT_CATEGORIES.index(name)) == YES


@pytest.mark.parametrize(
    "name", ["light snow", "moderate snow", "freezing fog", "freezing drizzle", "light freezing rain"]
)
def test_precipitation_with_a_holdover_guideline_is_not(name: str):
    assert told("no-holdover", frozen_precipitation=1, treatment_category=TREATMENT_CATEGORIES.index(name)) == NO


def test_fuel_that_nobody_stated_never_asks_for_de_icing():
    rainy = {"air_temperature_c": 8.0, "rain": 1, "moisture": 1, "precipitation_any": 1}
    assert told("cold-soaked-wing", **rainy) == UNKNOWN
    assert told("de-icing-request", **rainy) == NO
    assert told("wing-upper-surface", **rainy) == NO
    assert told("fuel-warm-or-early", **rainy) == NO


@pytest.mark.parametrize("rule_id", ["de-icing-request", "wing-upper-surface", "exterior-lights", "pre-take-off-check"])
def test_missing_dew_point_matters_only_where_frost_can_form(rule_id: str):
    assert told(rule_id, frost_margin_c=nan, air_temperature_c=3.0) == UNKNOWN
    assert told(rule_id, frost_margin_c=nan, air_temperature_c=16.0) == NO


def test_calm_or_mild_air_has_no_wind_chill_and_is_not_unknown():
    assert told("wind-chill", air_temperature_c=-15.0, wind_kt=2.0) == NO
    assert told("wind-chill", air_temperature_c=12.0, wind_kt=30.0) == NO
    assert told("heat", air_temperature_c=20.0) == NO


def test_light_aircraft_are_heated_from_minus_five():
    assert told("oil-battery-preheat", "light-aircraft", air_temperature_c=-5.0) == YES
    assert told("oil-battery-preheat", "light-aircraft", air_temperature_c=-4.9) == NO
    assert told("oil-battery-preheat", "helicopter", air_temperature_c=-9.9) == NO
    assert told("oil-battery-preheat", "helicopter", air_temperature_c=-10.0) == YES


# requests with a lead of their own, minutes before off-block; all others take the checklist's
LEADS = {
    "already-seen": 90,
    "fuel-warm-or-early": 75,
    "oil-battery-preheat": 90,
    "water-drain": 180,
    "night-before-protection": 180,
    "tie-downs": 90,
    "recheck": 50,
    "retreat": 10,
    "rain-may-freeze": 15,
}


def test_requests_have_their_latest_times():
    assert revision.load(None).call_lead_min == 45
    assert {name: rule.lead_min for name, rule in RULES.items() if rule.lead_min is not None} == LEADS
    assert all(RULES[name].kind == "request" for name in LEADS)


def test_windows_cover_what_is_agreed():
    # minutes from off-block, for jets and turboprops, and for the small classes
    checklist = revision.load(None)
    for group, walk, doors, after, treated in (
        ("jet", (-45, -25), (-50, -5), 15, 35),
        ("small", (-40, -15), (-20, -5), 15, 15),
    ):
        plan = checklist.windows[group]
        assert (tuple(plan.walk_round), tuple(plan.doors_open)) == (walk, doors)
        assert (plan.take_off, plan.take_off_treated) == (after, treated)


def test_de_icing_looks_from_now_to_take_off_and_the_wing_until_off_block():
    assert set(RULES["de-icing-request"].during) == {"parked", "walk_round", "doors_open", "off_block", "take_off"}
    assert set(RULES["wing-upper-surface"].during) == {"parked", "walk_round", "doors_open", "off_block"}
    assert RULES["torch"].during == ("walk_round",)

"""Which input leaves a quantity unknown, and what a door is told: tables of five cases and a few times, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from subject import BASE_CASES, Airframe, Case, Conditions, Door, findings, missing
from worked import clock, departure

from advisor.checklist.evaluate import Finding
from advisor.checklist.rules import Rule

NAN = float("nan")
ROWS = len(BASE_CASES)
# everything known, nothing there
KNOWN: dict[str, object] = {
    "air_temperature_c": 1.0,
    "dew_point_c": 0.0,
    "wind_kt": 10.0,
    "gust_kt": 15.0,
    "visibility_m": 5000.0,
    "wind_direction_deg": 240.0,
    "snow": 0,
    "rain": 0,
    "thunderstorm": 0,
    "lightning": 0,
    "cumulonimbus": 0,
    "towering_cumulus": 0,
    "deposit_possible": 0,
    "snow_on_ground": 0,
    "freezing_after_wet": 0,
    "slippery_surface": 0,
    "snow_on_aircraft": 0,
    "hail_while_parked": 0,
    "snow_accumulated_mm": 0.0,
    "frost_margin_c": -3.0,
    "cloud_fraction": 0.5,
    "fog": 0,
    "treatment_category": 0,
}


def table(times: int = 2, **changed: object) -> Conditions:
    """Columns over five cases and two times; a value for all of them, or a list (case, time)."""
    cases = tuple(Case(row.name, row.meaning, row.loss, row.source) for row in BASE_CASES)
    made = Conditions(clock(5.5) + 1800.0 * np.arange(times), 61.4, 9.8, cases)
    for name, value in (KNOWN | changed).items():
        flag = np.issubdtype(np.asarray(value).dtype, np.integer)
        made.columns[name] = np.array(np.broadcast_to(value, made.shape), dtype=np.int8 if flag else np.float64)  # type: ignore[arg-type]
    return made


def row(*values: float, others: tuple[float, ...]) -> list[tuple[float, ...]]:
    """Central case, and the four others."""
    return [values, *[others] * (ROWS - 1)]


ALL_UNKNOWN, LATER = [[-1, -1]] * ROWS, [[0, -1]] * ROWS


@pytest.mark.parametrize(
    ("quantity", "changed", "wanted"),
    [
        # a number that was reported is its own root, and only where it is missing
        ("visibility_m", {"visibility_m": NAN}, ("visibility_m",)),
        ("visibility_m", {}, ()),
        ("wind_kt", {"wind_kt": NAN}, ("wind_kt",)),
        ("heading", {}, ("heading",)),
        # what follows from others has theirs
        ("frost_margin_c", {"dew_point_c": NAN}, ("dew_point_c",)),
        ("frost_margin_c", {"air_temperature_c": NAN, "dew_point_c": NAN}, ("air_temperature_c", "dew_point_c")),
        ("frost_margin_c", {}, ("frost_margin_c",)),
        ("wind_chill_c", {"wind_kt": NAN}, ("wind_kt",)),
        ("door_margin_kt", {"gust_kt": NAN, "wind_kt": NAN}, ("wind_kt",)),
        ("sun_off_nose_deg", {}, ("heading",)),
        ("relative_wind_deg", {"wind_direction_deg": NAN}, ("wind_direction_deg",)),
        # what falls: not known in the central case, it was not reported; in others only, it was not forecast
        ("precipitation", {"snow": ALL_UNKNOWN}, ("precipitation",)),
        ("precipitation", {"snow": row(0, 0, others=(-1, -1))}, ("forecast",)),
        ("precipitation", {"rain": ALL_UNKNOWN}, ("forecast",)),
        ("precipitation", {}, ()),
        ("snow_rate_mm_h", {"visibility_m": NAN, "snow": ALL_UNKNOWN}, ("precipitation", "visibility_m")),
        ("fog", {"fog": ALL_UNKNOWN, "rain": ALL_UNKNOWN}, ("precipitation",)),
        ("fog", {}, ()),
        ("fog", {"fog": row(0, 0, others=(-1, -1))}, ("forecast",)),
        # storm cloud: without a description of the sky
        ("thunderstorm", {"thunderstorm": ALL_UNKNOWN, "cumulonimbus": ALL_UNKNOWN}, ("cloud_fraction",)),
        ("lightning", {"lightning": ALL_UNKNOWN, "cumulonimbus": ALL_UNKNOWN}, ("cloud_fraction",)),
        # all of the weather was told but that: the station has nothing that would hear one
        ("thunderstorm", {"thunderstorm": ALL_UNKNOWN}, ("storm_sensor",)),
        (
            "thunderstorm",
            {"thunderstorm": ALL_UNKNOWN, "cumulonimbus": ALL_UNKNOWN, "snow": ALL_UNKNOWN},
            ("precipitation",),
        ),
        # a storm leaves a door without a bound where the gust is known
        ("door_margin_kt", {}, ("storm",)),
        ("door_stay_open_margin_kt", {}, ("storm",)),
        # whether it freezes is for the air where what falls was told
        (
            "freezing_precipitation",
            {"freezing_precipitation": ALL_UNKNOWN, "air_temperature_c": NAN},
            ("air_temperature_c",),
        ),
        (
            "freezing_fog",
            {"freezing_fog": ALL_UNKNOWN, "fog": ALL_UNKNOWN, "air_temperature_c": NAN},
            ("air_temperature_c",),
        ),
        # fog that may be hidden where the rest of the weather was told
        ("fog", {"fog": ALL_UNKNOWN, "visibility_m": NAN}, ("visibility_m",)),
        ("fog", {"fog": ALL_UNKNOWN, "visibility_m": 400.0}, ("obscuration",)),
        ("freezing_fog", {"freezing_fog": ALL_UNKNOWN, "fog": ALL_UNKNOWN, "visibility_m": 400.0}, ("obscuration",)),
        ("mist", {"mist": ALL_UNKNOWN, "snow": ALL_UNKNOWN, "visibility_m": 3000.0}, ("precipitation",)),
        (
            "recent_frozen",
            {"recent_frozen": ALL_UNKNOWN, "rain": ALL_UNKNOWN, "air_temperature_c": NAN},
            ("precipitation",),
        ),
        ("freezing_precipitation", {"freezing_precipitation": row(0, 0, others=(-1, -1))}, ("forecast",)),
        # with every input there, treatment waits for what may fall later
        ("treatment_category", {"treatment_category": row(0, 0, others=(-1, -1))}, ("forecast",)),
        ("treatment_category", {"treatment_category": ALL_UNKNOWN, "visibility_m": NAN}, ("visibility_m",)),
        # what came while it was parked: not reported at the first time, or before it
        ("hail_while_parked", {"hail_while_parked": ALL_UNKNOWN, "hail": ALL_UNKNOWN}, ("precipitation",)),
        ("hail_while_parked", {"hail_while_parked": ALL_UNKNOWN, "hail": LATER}, ("history",)),
        (
            "thunderstorm_while_parked",
            {"thunderstorm_while_parked": ALL_UNKNOWN, "storm_said": ALL_UNKNOWN},
            ("precipitation",),
        ),
        (
            "thunderstorm_while_parked",
            {"thunderstorm_while_parked": ALL_UNKNOWN, "thunderstorm": ALL_UNKNOWN},
            ("history",),
        ),
        # what lies: an input where one is missing, else what went before the first time, else what is to come
        ("deposit_possible", {"deposit_possible": ALL_UNKNOWN, "dew_point_c": NAN}, ("dew_point_c",)),
        ("deposit_possible", {"deposit_possible": ALL_UNKNOWN}, ("history",)),
        ("deposit_possible", {"deposit_possible": LATER}, ("forecast",)),
        ("snow_on_ground", {"snow_on_ground": ALL_UNKNOWN, "snow": ALL_UNKNOWN}, ("precipitation",)),
        ("snow_on_ground", {"snow_on_ground": row(0, 0, others=(-1, -1))}, ("history",)),
        ("slippery_surface", {"slippery_surface": ALL_UNKNOWN}, ("history",)),
        ("snow_on_aircraft", {"snow_on_aircraft": ALL_UNKNOWN, "visibility_m": NAN}, ("visibility_m",)),
        ("hail_while_parked", {"hail_while_parked": ALL_UNKNOWN}, ("history",)),
        ("hail_while_parked", {"hail_while_parked": LATER}, ("forecast",)),
        ("snow_accumulated_mm", {"snow_accumulated_mm": NAN}, ("history",)),
        # a sky that nobody described is missing; one that was described is not, whatever else is
        ("dew_margin_c", {"dew_margin_c": NAN, "sky_undescribed": 1}, ("cloud_fraction",)),
        ("dew_margin_c", {"dew_margin_c": NAN, "sky_undescribed": 0, "dew_point_c": NAN}, ("dew_point_c",)),
        ("snow_accumulated_mm", {"snow_accumulated_mm": [[0.0, NAN]] * ROWS}, ("forecast",)),
    ],
)
def test_the_input_that_leaves_a_quantity_unknown(
    quantity: str, changed: dict[str, object], wanted: tuple[str, ...]
) -> None:
    assert missing.roots(quantity, table(**changed), 1) == wanted


def test_the_roots_are_those_of_the_time_that_is_asked_about() -> None:
    later = table(visibility_m=[[5000.0, NAN]] * ROWS, snow=LATER)
    assert missing.roots("visibility_m", later, 0) == () and findings.roots("visibility_m", later, 1) != ()
    assert missing.roots("precipitation", later, 0) == () and findings.roots("precipitation", later, 1) != ()


# doors

DOORS = (Door("forward", -90.0, 40.0, 60.0), Door("cargo", 90.0, 30.0, 35.0))


def told(gusts: object, *, storm: object = 0, relative: object = 20.0, ahead_min: float = 60) -> list[object]:
    """Doors of a departure in an hour, open from 05:40 to 06:25, at 05:30, 06:00 and 06:30."""
    made = table(3, gust_kt=gusts, storm_near=storm, relative_wind_deg=relative)
    gust = made.columns["gust_kt"]
    made.columns["operate_margins_kt"] = np.stack([door.operate_kt - gust for door in DOORS])
    made.columns["stay_open_margins_kt"] = np.stack([door.stay_open_kt - gust for door in DOORS])
    return list(findings.doors(Airframe(doors=DOORS), made, departure(ahead_min)))


def over(*gusts: float, most: float) -> list[list[float]]:
    """Gusts of the cases at 06:00, in the order of the cases; much more before and after the doors are open."""
    return [[most, gust, most] for gust in gusts]


@pytest.mark.parametrize(
    ("gusts", "storm", "forward", "cargo"),
    # limits 40 and 30 to operate, 60 and 35 to stay open
    [
        ((15, 15, 15, 15, 15), 0, ("within", "within"), ("within", "within")),
        ((30, 30, 30, 30, 30), 0, ("within", "within"), ("within", "within")),
        ((31, 31, 31, 31, 31), 0, ("within", "within"), ("exceeded", "within")),
        ((15, 15, 15, 15, 31), 0, ("within", "within"), ("possible", "within")),
        ((15, 15, 15, 45, 36), 0, ("possible", "within"), ("possible", "possible")),
        ((70, 70, 70, 70, 70), 0, ("exceeded", "exceeded"), ("exceeded", "exceeded")),
        ((15, 15, NAN, 15, 15), 0, ("cannot tell", "cannot tell"), ("cannot tell", "cannot tell")),
        ((15, 15, NAN, 15, 36), 0, ("cannot tell", "cannot tell"), ("possible", "possible")),
        # a storm: no bound above, what is over stays over
        ((15, 15, 15, 15, 15), 1, ("cannot tell", "cannot tell"), ("cannot tell", "cannot tell")),
        ((15, 15, 15, 15, 15), -1, ("cannot tell", "cannot tell"), ("cannot tell", "cannot tell")),
        ((36, 36, 36, 36, 36), 1, ("cannot tell", "cannot tell"), ("exceeded", "exceeded")),
        ((15, 15, 15, 15, 31), 1, ("cannot tell", "cannot tell"), ("possible", "cannot tell")),
    ],
)
def test_a_door_by_its_limits_over_the_cases_while_it_is_open(
    gusts: tuple[float, ...], storm: int, forward: tuple[str, str], cargo: tuple[str, str]
) -> None:
    first, second = told(over(*gusts, most=90), storm=storm)
    assert (first.status, first.stay_open_status) == forward  # type: ignore[attr-defined]
    assert (second.status, second.stay_open_status) == cargo  # type: ignore[attr-defined]
    # a storm that is near, weather that nobody told, or a gust of a wind that is known
    why = {0: "gust" if any(np.isnan(gusts)) else "", 1: "storm", -1: "weather"}[storm]
    assert first.beyond == second.beyond == why  # type: ignore[attr-defined]


def test_a_storm_in_one_case_outweighs_weather_that_nobody_told_in_the_others() -> None:
    near = [[0, -1, 0]] * (ROWS - 1) + [[0, 1, 0]]
    assert {door.beyond for door in told(over(*[15] * ROWS, most=15), storm=near)} == {"storm"}  # type: ignore[attr-defined]
    # before and after the doors are open it is no matter
    assert {door.beyond for door in told(over(*[15] * ROWS, most=15), storm=[[1, 0, 1]] * ROWS)} == {""}  # type: ignore[attr-defined]


def test_a_door_is_told_the_strongest_gust_when_it_comes_its_direction_and_the_limit_that_counted() -> None:
    # off-block at 06:45: open from 05:55 to 06:40, so at 06:00 and 06:30; central wind from 20 and 50 degrees
    gusts = [[90, 15, 20], [90, 15, 20], [90, 15, 20], [90, 15, 28], [90, 25, 20]]
    first, second = told(gusts, relative=[[20.0, 20.4, 50.4]] * ROWS, ahead_min=75)
    for door, operate, stay_open, bearing in ((first, 40, 60, -90), (second, 30, 35, 90)):
        assert (door.worst_kt, door.at, door.relative_wind_deg) == (28, "2027-01-10T06:30:00Z", 50)  # type: ignore[attr-defined]
        assert (door.operate_kt, door.stay_open_kt, door.bearing_deg) == (operate, stay_open, bearing)  # type: ignore[attr-defined]
        assert door.counted_kt == operate  # type: ignore[attr-defined]
    assert [door.door for door in (first, second)] == ["forward", "cargo"]  # type: ignore[attr-defined]


def test_a_door_in_a_wind_that_nobody_knows_has_no_time_and_no_numbers() -> None:
    (door, _) = told(over(NAN, NAN, NAN, NAN, NAN, most=90))
    assert (door.worst_kt, door.at, door.relative_wind_deg, door.counted_kt) == (None, None, None, None)  # type: ignore[attr-defined]
    assert door.status == "cannot tell"  # type: ignore[attr-defined]
    # some of them known: the strongest of those is no highest gust, unless it is over a limit (40) already
    (door, _) = told(over(NAN, 20, NAN, 22, NAN, most=90))
    assert (door.worst_kt, door.at, door.counted_kt) == (None, None, 40)  # type: ignore[attr-defined]
    (door, _) = told(over(NAN, 20, NAN, 42, NAN, most=90))
    assert (door.worst_kt, door.at) == (42, "2027-01-10T06:00:00Z")  # type: ignore[attr-defined]


def test_without_doors_or_a_time_at_which_they_are_open_nothing_is_told() -> None:
    made = table(3, storm_near=0, relative_wind_deg=0.0)
    assert findings.doors(Airframe(), made, departure(60)) == ()
    late = table(1, storm_near=0, relative_wind_deg=0.0)
    assert findings.doors(Airframe(doors=DOORS), late, departure(60)) == ()


# what made a flag yes

LIES = Rule("a-rule", "checkpoint", "deposit_possible", ("walk_round",), "must", "An invented text.", "common-practice")
EVERY, SOME = [[1, 1]] * ROWS, row(1, 1, others=(0, 0))


@pytest.mark.parametrize(
    ("changed", "cause"),
    [
        ({"deposit_possible": EVERY, "recent_snow": EVERY}, "snow within two hours"),
        # not sure: what is there in the deciding case is said
        ({"deposit_possible": SOME, "recent_snow": SOME}, "snow within two hours"),
        # sure, and snow only in some cases: it is not what the line rests on
        ({"deposit_possible": EVERY, "recent_snow": SOME, "recent_pellets": 0, "recent_frozen": 0}, ""),
        ({"deposit_possible": EVERY, "frost_reported": SOME, "recent_snow": EVERY}, "snow within two hours"),
    ],
)
def test_a_sure_line_names_a_cause_that_holds_in_every_case(changed: dict[str, object], cause: str) -> None:
    found = findings.because(Finding(LIES, "possible", 0, 1), table(**changed))
    assert [item.cause for item in found] == [cause]

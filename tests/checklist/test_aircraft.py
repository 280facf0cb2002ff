"""Aircraft profiles: the eight shipped ones, an operator's own, units, the order of the walk."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from folders import PROFILE, advice, write

from advisor.checklist.aircraft import load_profiles, profile_schema
from advisor.checklist.profile import GROUPINGS, LAST
from advisor.checklist.rules import CLASSES


@pytest.fixture(scope="module")
def profiles():
    return load_profiles()


def test_the_eight_classes_are_shipped_and_say_that_their_limits_are_invented(profiles):
    assert tuple(profiles) == CLASSES
    for profile in profiles.values():
        assert "invented" in profile.limits_note
        assert profile.class_id == profile.id
        assert profile.walk


def test_sizes_and_windows_follow_the_class(profiles):
    small = {name for name, profile in profiles.items() if profile.size == "small"}
    assert small == {"light-aircraft", "glider", "helicopter", "uncrewed"}
    assert {name for name, profile in profiles.items() if profile.windows == "small"} == small
    assert profiles["wide-body-jet"].size == "large"


def test_a_door_lies_on_the_side_that_its_name_says(profiles):
    for profile in profiles.values():
        for door in profile.doors:
            assert 0 < door.operate_kt <= door.stay_open_kt
            if "left" in door.name:
                assert -180 < door.bearing_deg < 0
            if "right" in door.name:
                assert 0 < door.bearing_deg < 180


def test_transport_aircraft_are_walked_clockwise_from_the_left_forward_fuselage(profiles):
    """Common practice, no source: nose, right side, tail, left side."""
    for name in ("twin-turboprop", "regional-jet", "single-aisle-jet", "wide-body-jet"):
        walk = profiles[name].walk
        # the flight deck comes before stepping out
        assert walk[:2] == ("flight-deck", "left-forward-fuselage")
        order = [walk.index(zone) for zone in ("nose", "right-wing", "tail", "left-wing")]
        assert order == sorted(order)
        rights = [at for at, zone in enumerate(walk) if zone.startswith("right")]
        lefts = [at for at, zone in enumerate(walk) if zone.startswith("left")]
        assert max(rights) < walk.index("tail") < min(lefts[1:])


def test_helicopter_glider_and_uncrewed_have_walks_of_their_own(profiles):
    walks = [profiles[name].walk for name in ("helicopter", "glider", "uncrewed", "light-aircraft", "wide-body-jet")]
    assert len(set(walks)) == 5
    assert "rotor" in profiles["helicopter"].walk
    assert "flight-deck" not in profiles["glider"].walk


def test_a_place_is_found_in_the_walk_of_each_aircraft(profiles):
    jet, glider, drone = profiles["single-aisle-jet"], profiles["glider"], profiles["uncrewed"]
    assert jet.position("wings") == jet.walk.index("right-wing")
    assert jet.position("nose") == jet.walk.index("nose")
    assert jet.position("wings, tail") == jet.position("wings")
    assert glider.position("gear") == glider.walk.index("gear")
    assert drone.position("wings") == drone.walk.index("rotor")
    assert jet.position("apron") < jet.position("left-forward-fuselage")
    assert jet.position("") == jet.position("all") == jet.position("elsewhere") == LAST


def test_every_grouping_is_found_on_some_aircraft(profiles):
    for word in GROUPINGS:
        assert any(profile.position(word) < LAST for profile in profiles.values()), word


def test_an_airframe_carries_the_numbers_on(profiles):
    airframe = profiles["glider"].airframe()
    assert (airframe.has_tank_skin, airframe.fuel_stays_cold) == (False, False)
    assert math.isnan(airframe.emissivity)
    assert airframe.doors == profiles["glider"].doors
    assert profiles["wide-body-jet"].airframe().wing_height_m > profiles["regional-jet"].airframe().wing_height_m


@pytest.mark.parametrize(
    ("written", "knots"),
    [
        ("40", 40.0),
        ('"40"', 40.0),
        ('"40 kt"', 40.0),
        # 1 international knot is 1852 m an hour (SI Brochure, table of non-SI units; from memory)
        ('"21 m/s"', 21 * 3600 / 1852),
        ('"50 km/h"', 50 / 1.852),
    ],
)
def test_a_limit_may_be_written_with_a_unit(tmp_path, written, knots):
    folder = write(tmp_path / "aircraft", own=PROFILE.replace("operate = 15", f"operate = {written}"))
    assert load_profiles(shipped=folder)["glider"].doors[0].operate_kt == pytest.approx(knots, rel=1e-12)


def test_a_height_may_be_written_in_feet(tmp_path):
    folder = write(tmp_path / "aircraft", own=PROFILE.replace("wing_height_m = 1.0", 'wing_height_m = "10 ft"'))
    # 1 ft is 0.3048 m exactly
    assert load_profiles(shipped=folder)["glider"].wing_height_m == pytest.approx(3.048)


def test_plain_numbers_never_load_pint(tmp_path):
    folder = write(tmp_path / "aircraft", own=PROFILE.replace("operate = 15", 'operate = "15"'))
    code = (
        "import sys; from pathlib import Path; from advisor.checklist.aircraft import load_profiles;"
        f"load_profiles(); load_profiles(shipped=Path({str(folder)!r})); print('pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_an_operator_s_profiles_lie_in_the_folder_aircraft_and_go_before_the_shipped(tmp_path):
    folder = write(tmp_path / "own", own=advice("one"))
    assert tuple(load_profiles(folder)) == CLASSES
    ours = PROFILE.replace('id = "glider"', 'id = "our-twin"\nclass = "twin-turboprop"')
    write(folder / "aircraft", glider=PROFILE, twin=ours)
    profiles = load_profiles(folder)
    assert tuple(profiles) == (*CLASSES, "our-twin")
    assert (profiles["glider"].name, profiles["glider"].origin) == ("Invented glider", "operator")
    assert profiles["our-twin"].class_id == "twin-turboprop"
    assert profiles["helicopter"].origin == "shipped"


def test_sectors_carry_their_own_limits(tmp_path):
    sector = "[[door.sector]]\nfrom_deg = 135\nto_deg = -135\noperate = 8\nstay_open = '5 m/s'\n"
    folder = write(tmp_path / "aircraft", own=PROFILE + sector)
    [found] = load_profiles(shipped=folder)["glider"].doors[0].sectors
    assert (found.from_deg, found.to_deg, found.operate_kt) == (135, -135, 8)
    assert found.stay_open_kt == pytest.approx(5 * 3600 / 1852)


def test_the_schema_of_a_profile_names_its_fields():
    schema = profile_schema()["$defs"]["ProfileFile"]
    assert {"id", "name", "size", "windows", "limits_note", "walk"} == set(schema["required"])
    assert {"class", "door", "surfaces"} <= set(schema["properties"])

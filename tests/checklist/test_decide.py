"""The decision restricted to physics, held against brute force over every combination of values that physics allows.

The laws stand here a second time, in code of their own, so that a law that the decision forgets or bends is seen.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
import slow_rules

from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.decide import MOST_PLACES, decide
from advisor.quantities import QUANTITIES

NAN = float("nan")
WORDS = {"light": QUANTITIES["light"].values}
HALVES = [NAN, *np.arange(0, 4, 0.5)]
FLAG = [NAN, 0.0, 1.0]
# a value of its own for "there is no such value"
GONE = -777.0


def yes(values):
    return values == 1


def no(values):
    return values == 0


def wind_and_gust(of):
    return ~(of["wind_kt"] > of["gust_kt"])


def kinds_of_weather(of):
    """Snow is precipitation and frozen; freezing rain is freezing precipitation, and so on: yes, and never missing."""
    allowed = np.ones(of["snow"].shape, dtype=bool)
    for one, other in (
        ("snow", "precipitation_any"),
        ("snow", "frozen_precipitation"),
        ("frozen_precipitation", "precipitation_any"),
    ):
        allowed &= ~(yes(of[one]) & ~yes(of[other]))
    return allowed


def night(of):
    """Dark is a sun under -6°; both follow from place and time and are never missing."""
    known = ~np.isnan(of["sun_elevation_deg"]) & ~np.isnan(of["dark"])
    return known & (yes(of["dark"]) == (of["sun_elevation_deg"] < -6))


def fog(of):
    """Fog that is not in patches is a visibility under 1000 m, where that is known."""
    return ~(yes(of["fog"]) & no(of["patchy_fog"]) & (of["visibility_m"] >= 1000)) & ~(
        yes(of["patchy_fog"]) & no(of["fog"])
    )


def moist_air(of):
    """Dew point not over the air; frost point over the dew point and, below 0, over it by at most the factor 0.87."""
    air, dew, frost = of["air_temperature_c"], of["dew_point_c"], of["frost_point_c"]

    def over(lower, higher):
        return lower > np.where(higher > 0, higher, 0.87 * higher)

    return ~((dew > air) | (dew > frost) | over(frost, dew) | over(frost, air))


def wind_chill(of):
    """There is none over 10 °C or up to 2.5918 kt; it is missing just where that cannot be told."""
    air, wind, chill = of["air_temperature_c"], of["wind_kt"], of["wind_chill_c"]
    gone = (air > 10) | (wind <= 2.5918)
    defined = (air <= 10) & (wind > 2.5918)
    fits = np.where(gone, chill == GONE, np.where(defined, ~np.isnan(chill) & (chill != GONE), np.isnan(chill)))
    return fits & ~((chill != GONE) & (chill > air))


# close to whole degrees too: a frost point may lie just over one while its dew point lies just under it
COLD = [NAN, *sorted({round(whole + more, 3) for whole in range(-3, 4) for more in (-0.05, 0, 0.05, 0.5)})]
GROUPS = {
    "wind": ({"wind_kt": HALVES, "gust_kt": HALVES}, {"wind_kt": (0, 3), "gust_kt": (0, 3)}, wind_and_gust),
    "weather": (
        {"snow": FLAG, "precipitation_any": FLAG, "frozen_precipitation": FLAG, "gust_kt": HALVES},
        {"gust_kt": (0, 3)},
        kinds_of_weather,
    ),
    "night": (
        {"sun_elevation_deg": [NAN, *np.arange(-9, -2, 0.5)], "dark": FLAG, "squall": FLAG},
        {"sun_elevation_deg": (-8, -4)},
        night,
    ),
    "fog": (
        {"fog": FLAG, "patchy_fog": FLAG, "visibility_m": [NAN, 0, 998, 998.5, 999, 999.5, 1000, 1000.5, 1001, 1002]},
        {"visibility_m": (998, 1001)},
        fog,
    ),
    "moist air": (
        {"air_temperature_c": COLD, "dew_point_c": COLD, "frost_point_c": COLD},
        {"air_temperature_c": (-2, 2), "dew_point_c": (-2, 2), "frost_point_c": (-2, 2)},
        moist_air,
    ),
    "wind chill": (
        {
            "air_temperature_c": [NAN, 7, 7.5, 8, 8.5, 9, 9.5, 10, 10.5, 11, 12],
            "wind_kt": [NAN, 0, 0.5, 1, 1.5, 2, 2.5, 2.55, 2.58, 2.5918, 2.595, 3, 3.5, 4],
            "wind_chill_c": [NAN, GONE, 6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5, 10],
        },
        {"air_temperature_c": (8, 11), "wind_kt": (1, 3), "wind_chill_c": (7, 10)},
        wind_chill,
    ),
}


def ranks(tree, of):
    """0 no, 1 unknown, 2 yes over arrays: the second evaluator of DESIGN.md once more, for many values at once."""
    kind = tree[0]
    if kind == "always":
        return np.full(next(iter(of.values())).shape, 2)
    if kind == "not":
        return 2 - ranks(tree[1], of)
    if kind in ("and", "or"):
        found = [ranks(part, of) for part in tree[1]]
        return (np.minimum if kind == "and" else np.maximum).reduce(found)
    name = tree[3] if kind == "chain" else tree[1]
    values = of[name]
    if kind == "flag":
        held = values == 1
    elif kind == "compare":
        held = slow_rules.OPS[tree[2]](values, tree[3])
    elif kind == "chain":
        held = slow_rules.OPS[tree[2]](tree[1], values) & slow_rules.OPS[tree[4]](values, tree[5])
    else:
        held = np.isin(values, tree[2])
    return np.where(values == GONE, 0, np.where(np.isnan(values), 1, np.where(held, 2, 0)))


def table(points, allowed):
    """Every combination of the points that the law allows, a flat array a quantity."""
    grids = np.meshgrid(*points.values(), indexing="ij")
    of = {name: grid.ravel() for name, grid in zip(points, grids, strict=True)}
    kept = allowed(of)
    return {name: values[kept] for name, values in of.items()}


def inside(cell, values):
    """Which values lie in a cell."""
    if cell.state == "missing":
        return np.isnan(values)
    if cell.state == "absent":
        return values == GONE
    if cell.code >= 0:
        return values == cell.code
    low, shut, high, end = cell.span
    above = values >= low if shut else values > low
    return above & (values <= high if end else values < high) & (values != GONE)


def a_pair(rng, numbers, flags, excluded):
    """Two conditions: unrelated, the second with an addition, or with one about a place that physics excludes."""
    old = slow_rules.random_tree(rng, numbers, flags, {}, depth=2)
    new = old if rng.random() < 0.05 else slow_rules.random_tree(rng, numbers, flags, {}, depth=2)
    chance = rng.random()
    if chance < 0.3:
        return old, (rng.choice(["and", "or"]), [old, new])
    if chance < 0.8:
        around = ("and", box(rng, numbers, excluded))
        return old, ("or", [old, around]) if chance < 0.55 else ("and", [old, ("not", around)])
    return old, new


def box(rng, numbers, excluded):
    """Comparisons that hold about one of the excluded places, and at others near it."""
    at = rng.randrange(len(next(iter(excluded.values()))))
    found = []
    for name, values in excluded.items():
        value = float(values[at])
        if np.isnan(value) or value == GONE:
            continue
        if name in numbers:
            # within the constants of the group, so that the points reach beyond on both sides
            least, most = numbers[name]
            low = min(max(int(np.floor(value)) - rng.choice([0, 0, 1]), least), most - 2)
            found.append(("chain", low, "<=", name, rng.choice(["<", "<="]), low + rng.choice([1, 1, 2])))
        else:
            found.append(("flag", name) if value == 1 else ("not", ("flag", name)))
    return found or box(rng, numbers, excluded)


def drawn(rng, numbers, flags, excluded):
    """A pair over the quantities of a group; a draw that asks for a flag or a code where there is none is made anew."""
    while True:
        try:
            return a_pair(rng, numbers, flags, excluded)
        except IndexError:
            continue


@pytest.mark.parametrize("name", list(GROUPS))
def test_brute_force_over_what_physics_allows_agrees(name):
    points, numbers, law = GROUPS[name]
    flags = [one for one in points if one not in numbers]
    of, unreal = table(points, law), table(points, lambda of: ~law(of))
    rng = random.Random(f"decide {name}")
    seen, mattered = set(), 0
    for _ in range(500):
        old, new = drawn(rng, numbers, flags, unreal)
        before, after = ranks(old, of), ranks(new, of)
        more, less = bool((after > before).any()), bool((after < before).any())
        answer = "both ways" if more and less else "tightened" if more else "loosened" if less else "same"
        texts = slow_rules.text(old, WORDS), slow_rules.text(new, WORDS)
        decision = decide(*(compile_condition(text).node for text in texts))
        assert decision.change == answer, texts
        assert bool(decision.more) == more and bool(decision.less) == less, texts
        seen.add(answer)
        for places, differs in ((decision.more, after > before), (decision.less, after < before)):
            for place in places:
                rows = np.logical_and.reduce([inside(cell, of[cell.quantity]) for cell in place])
                # physics allows something there, and all of it differs
                assert rows.any() and differs[rows].all(), (texts, place)
        # where physics did not exclude them, there would be differences of a kind that there are not
        for before_x, after_x in ((ranks(old, unreal), ranks(new, unreal)),):
            mattered += bool(((after_x - before_x) == 2).any()) and not ((after - before) == 2).any()
            mattered += bool(((before_x - after_x) == 2).any()) and not ((before - after) == 2).any()
    assert seen == {"same", "tightened", "loosened", "both ways"}
    assert mattered > 20


@pytest.mark.parametrize(
    ("old", "new", "answer"),
    [
        ("dark", "sun_elevation_deg < -6", "same"),
        ("dark", 'light in ("nautical twilight", "astronomical twilight", "full dark")', "same"),
        # where nothing falls snow may still be missing, and the second is a no there
        ("snow", "snow and precipitation_any", "loosened"),
        ("snow", "snow or (precipitation_any and snow)", "same"),
        ("snow and precipitation_any", "snow and precipitation_any and frozen_precipitation", "loosened"),
        ("wind_kt >= 30 or gust_kt >= 30", "gust_kt >= 30 or wind_kt >= 30", "same"),
        # a wind chill that does not exist is no, so that its domain need not be written
        ("air_temperature_c <= 10 and wind_kt > 2.5918 and wind_chill_c <= -10", "wind_chill_c <= -10", "same"),
        # a gust lies over the mean; where the wind is known and the gust is not, the first cannot tell
        ("wind_kt >= 30 and gust_kt >= 20", "wind_kt >= 30", "tightened"),
        ("gust_kt >= 30", "gust_kt >= 30 and wind_kt < 60", "loosened"),
        ("snow_rate_mm_h > 0 and snow", "snow_rate_mm_h > 0 and snow and slippery_surface", "loosened"),
        ("illuminance_lx < 20", "illuminance_lx < 20 and sun_elevation_deg < 5", "same"),
        ("illuminance_lx < 20", "illuminance_lx < 20 and sun_elevation_deg < -4", "loosened"),
    ],
)
def test_what_physics_decides(old, new, answer):
    assert compile_condition(old).compare(compile_condition(new)) == answer


@pytest.mark.parametrize(
    "never",
    [
        "gust_kt < 20 and wind_kt > 25",
        "dark and sun_elevation_deg > 0",
        "freezing_fog and not fog",
        "relative_humidity_pct > 104",
        "fog and not patchy_fog and visibility_m >= 2000",
        "dew_point_c > 10 and air_temperature_c < 8",
        "air_temperature_c <= -5 and frost_point_c >= 0",
        # at a dew point of -3 °C the frost point is -2.65 °C
        "dew_point_c <= -3 and frost_point_c >= -2",
        "dew_point_c == -20 and frost_point_c > -16",
        "wind_chill_c <= -10 and air_temperature_c > 12",
        "snow and not frozen_precipitation",
        'light == "day" and illuminance_lx < 20',
        "heat_index_c >= 32 and air_temperature_c < 20",
    ],
)
def test_what_no_weather_meets_is_known(never):
    assert not compile_condition(never).can_hold()
    assert compile_condition(f"not ({never})").can_hold()


def test_what_always_holds_is_known():
    assert not compile_condition("sun_elevation_deg >= -6 or dark").can_fail()
    assert not compile_condition("illuminance_lx >= 0 or dark").can_fail()
    assert compile_condition("illuminance_lx >= 20 or dark").can_fail()


def test_the_places_named_are_places_where_the_two_differ():
    old, new = compile_condition("gust_kt >= 28 and not snow"), compile_condition("gust_kt >= 25")
    decision = decide(old.node, new.node)
    assert decision.change == "tightened" and not decision.less
    assert 0 < len(decision.more) <= MOST_PLACES
    for place in decision.more:
        cells = {cell.quantity: cell for cell in place}
        gust = cells["gust_kt"]
        # between the limits, or above both while it snows or may, or not known while it snows
        between = gust.span == (25.0, True, 28.0, False)
        above = gust.span[0] == 28.0 and cells["snow"].code != 0
        assert between or above or (gust.state == "missing" and cells["snow"].code == 1)


def test_it_says_so_where_the_work_would_be_too_much():
    flags = [name for name, row in QUANTITIES.items() if row.kind == "flag"][:30]
    pairs = zip(flags[:15], reversed(flags[15:]), strict=True)
    old = compile_condition(" or ".join(f"({one} and {two})" for one, two in pairs))
    new = compile_condition(f"({old.text}) and (gust_kt >= 28 or not gust_kt >= 28 or snow)")
    assert decide(old.node, new.node, work=500).change == "cannot decide"

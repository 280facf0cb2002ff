"""What falls as treatment tables name it: one row a case, and sets of what may fall, the gravest of which counts.

The order of gravity is common practice: what has no holdover time (unknown, mixed, heavy snow, heavier freezing rain,
hail) outranks all that has, and what nobody told lies between.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from subject import TREATMENT_CATEGORIES, precipitation, treatment

NAN = float("nan")
# the least to the gravest; "?": not told
ORDER = (
    "none",
    "freezing fog",
    "very light snow",
    "light snow",
    "snow pellets or grains",
    "moderate snow",
    "rain on a cold-soaked wing",
    "freezing drizzle",
    "light freezing rain",
    "ice pellets",
    "?",
    "unknown",
    "mixed",
    "heavy snow",
    "heavier freezing rain",
    "hail",
)


def named(found: object) -> str:
    return "?" if int(found) == -1 else TREATMENT_CATEGORIES[int(found)]  # type: ignore[call-overload]


def category(codes: str, snow: int = 0, air: float = -2.0, **said: object) -> str:
    told = tuple(codes.split())
    soaked = said.pop("cold_soaked", 0)
    # the sign of the codes is a floor under what visibility says
    intensity = max(snow, precipitation.intensity_from_codes(told)) if snow else 0
    found = treatment.treatment_class(told, **said)  # type: ignore[arg-type]
    return named(treatment.treatment_category(found, intensity, air, soaked))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("codes", "snow", "air", "name"),
    [
        ("", 0, -2, "none"),
        ("BR", 0, -2, "none"),
        ("HZ", 0, -2, "none"),
        # snow by what is known of its intensity; the sign is a floor under that, and alone it settles nothing
        ("SN", 0, -2, "unknown"),
        ("-SN", 2, -2, "light snow"),
        ("-SN", 1, -2, "light snow"),
        ("-SN", 3, -2, "moderate snow"),
        ("SN", 3, -2, "moderate snow"),
        ("+SN", 2, -2, "heavy snow"),
        ("SN", 4, -2, "heavy snow"),
        ("IC", 0, -2, "very light snow"),
        # diamond dust beside snow is a second kind
        ("IC -SN", 2, -2, "mixed"),
        ("SG", 0, -2, "snow pellets or grains"),
        ("PL", 0, -2, "ice pellets"),
        ("PE", 0, -2, "ice pellets"),
        ("SHGS", 0, -2, "ice pellets"),
        ("GR", 0, 9, "hail"),
        ("SHGR RA", 0, 9, "hail"),
        ("TSGR SN", 2, -2, "hail"),
        ("-FZDZ", 0, -2, "freezing drizzle"),
        ("FZDZ", 0, -2, "freezing drizzle"),
        ("+FZDZ", 0, -2, "light freezing rain"),
        ("-FZRA", 0, -2, "light freezing rain"),
        ("FZRA", 0, -2, "heavier freezing rain"),
        ("+FZRA", 0, -2, "heavier freezing rain"),
        ("FZUP", 0, -2, "unknown"),
        ("FZUP", 0, 11, "unknown"),
        ("UP", 0, -2, "unknown"),
        ("UP", 0, 8, "unknown"),
        # nothing frozen falls in air above 8 °C
        ("UP", 0, 8.1, "none"),
        # something unknown beside what is known; beside rain in warm air it is rain
        ("UP -SN", 2, 11, "unknown"),
        ("UP RA", 0, 11, "none"),
        ("UP RA", 0, 2, "unknown"),
        ("UP FG", 0, 11, "none"),
        # light snow with light rain or drizzle is light freezing rain; anything heavier is mixed
        ("-SN -RA", 2, 0.5, "light freezing rain"),
        ("-SN -DZ", 2, 0.5, "light freezing rain"),
        ("-SN DZ", 2, 0.5, "light freezing rain"),
        ("-RASN", 2, 0.5, "light freezing rain"),
        ("RASN", 2, 0.5, "mixed"),
        ("-SN RA", 2, 0.5, "mixed"),
        ("SN -RA", 2, 0.5, "mixed"),
        ("-PL -RA", 0, 0.5, "mixed"),
        ("-SN -PL", 2, -2, "mixed"),
        ("-FZRA -SN", 2, -2, "mixed"),
        ("-FZDZ -RA", 0, -2, "mixed"),
        # what was recent falls no more; fog in the vicinity is there; a shower there may be of any kind here
        ("RESN", 0, -2, "none"),
        ("-SN -RA RESN", 2, 0.5, "light freezing rain"),
        ("VCSH", 0, -2, "unknown"),
        ("SH", 0, -2, "unknown"),
        ("SH", 0, 11, "none"),
        ("VCFG", 0, -2, "none"),
        # fog at or below nought
        ("FG", 0, 0, "freezing fog"),
        ("FG", 0, 0.1, "none"),
        ("FZFG", 0, 5, "freezing fog"),
        ("FG", 0, NAN, "freezing fog"),
        ("FG -SN", 2, -2, "light snow"),
        ("FG RA", 0, 2, "none"),
        # rain at or below nought
        ("-RA", 0, 0, "light freezing rain"),
        ("DZ", 0, 0, "light freezing rain"),
        ("+DZ", 0, 0, "light freezing rain"),
        ("RA", 0, 0, "heavier freezing rain"),
        ("-RA +RA", 0, 0, "heavier freezing rain"),
        ("RA", 0, 0.1, "none"),
        ("RA", 0, NAN, "heavier freezing rain"),
        ("5N", 0, 2, "unknown"),
    ],
)
def test_the_category_of_codes(codes: str, snow: int, air: float, name: str) -> None:
    assert category(codes, snow, air) == name


def test_gs_in_the_united_states_and_weather_that_is_missing() -> None:
    assert category("SHGS", us=True) == "snow pellets or grains"
    for codes, air, name in (
        ("", 2, "unknown"),
        ("", 11, "none"),
        ("GR", 2, "hail"),
        ("-RA", 2, "unknown"),
        ("-SN", 11, "unknown"),
        ("-FZDZ", 2, "unknown"),
    ):
        assert category(codes, 2, air, missing=True) == name, codes


@pytest.mark.parametrize("codes", ["RA", "-RA", "UP"])
def test_rain_in_warm_air_on_a_tank_that_is_cold_or_may_be(codes: str) -> None:
    for soaked, name in ((1, "rain on a cold-soaked wing"), (-1, "rain on a cold-soaked wing"), (0, "none")):
        assert category(codes, 0, 11, cold_soaked=soaked) == name
    assert category("", 0, 5, cold_soaked=1) == "none"


@pytest.mark.parametrize(
    ("reported", "name"),
    # what was reported as 0 °C may be as cold as -0.5
    [
        (0.0, "light freezing rain"),
        (3.0, "light freezing rain"),
        (-0.5, "light freezing rain"),
        (-0.51, "heavier freezing rain"),
        (-1.0, "heavier freezing rain"),
        (NAN, "heavier freezing rain"),
    ],
)
def test_plain_rain_is_no_stop_where_air_of_nought_or_more_was_reported(reported: float, name: str) -> None:
    rain = treatment.treatment_class(("RA",))
    assert named(treatment.treatment_category(rain, 0, -0.5, reported_air_c=reported)) == name
    # what is called freezing, or falls in warm air, is what it is
    freezing = treatment.treatment_class(("FZRA",))
    assert named(treatment.treatment_category(freezing, 0, -0.5, reported_air_c=reported)) == "heavier freezing rain"
    assert named(treatment.treatment_category(rain, 0, 0.5, reported_air_c=reported)) == "none"


# sets


def the_set(*names: str) -> object:
    kinds = [treatment.NOT_TOLD_CLASS if name == "?" else TREATMENT_CATEGORIES.index(name) for name in names]
    return np.bitwise_or.reduce(treatment.class_set(kinds))


def gravest(held: object, snow: int = 0, air: float = -2.0, soaked: int = 0, reported: float = -2.0) -> str:
    return named(treatment.gravest_category(held, snow, air, soaked, reported_air_c=reported))  # type: ignore[arg-type]


def test_a_set_is_a_bit_for_each_class() -> None:
    assert treatment.class_set([0, 1, 5, 20]).tolist() == [1, 2, 32, 2**20]


@pytest.mark.parametrize(("milder", "graver"), [*pairwise(ORDER)])
def test_the_graver_of_two_neighbours_in_the_order_counts(milder: str, graver: str) -> None:
    assert set(ORDER) - {"?"} == set(TREATMENT_CATEGORIES)
    assert gravest(the_set(milder, graver)) == graver
    assert gravest(the_set(milder)) == milder and gravest(the_set(graver, milder, "none")) == graver


def test_what_nobody_told_is_nothing_in_air_above_eight_degrees() -> None:
    for air, name in ((8.0, "?"), (8.1, "none"), (NAN, "?")):
        assert gravest(the_set("none", "?"), air=air) == name
    assert gravest(the_set("ice pellets", "?"), air=8.1) == "ice pellets"


def test_snow_of_which_nobody_tells_how_much_is_not_told_and_hides_nothing_graver() -> None:
    snow = treatment.class_set(treatment.treatment_class(("SN",)))
    for intensity, name in ((0, "?"), (1, "very light snow"), (3, "moderate snow"), (4, "heavy snow")):
        assert gravest(snow, intensity) == name
    # between ice pellets and what has no holdover time, as all that nobody told
    assert gravest(snow | the_set("ice pellets")) == "?" and gravest(snow | the_set("none")) == "?"  # type: ignore[operator]
    assert gravest(snow | the_set("unknown")) == "unknown" and gravest(snow | the_set("mixed")) == "mixed"  # type: ignore[operator]


def test_each_time_has_its_own_set_intensity_air_tank_and_report() -> None:
    snow, rain = (int(treatment.class_set(treatment.treatment_class((code,)))) for code in ("SN", "RA"))
    nothing = int(treatment.class_set(0))
    sets = np.array([snow, snow, rain, rain, rain, snow | rain, nothing])
    found = treatment.gravest_category(
        sets,
        np.array([2, 3, 0, 0, 0, 2, 0]),
        np.array([-2, -2, -2, -2, 4, -2, -2]),
        np.array([0, 0, 0, 0, 1, 0, 1]),
        reported_air_c=np.array([-2, -2, -2, 1, 4, 1, -2]),
    )
    assert [named(one) for one in found] == [
        "light snow",
        "moderate snow",
        "heavier freezing rain",
        "light freezing rain",
        "rain on a cold-soaked wing",
        "light freezing rain",
        "none",
    ]
    assert found.dtype == np.int8
    assert treatment.gravest_category(np.array([], dtype=np.int64), 0, 1.0, reported_air_c=1.0).shape == (0,)

"""Flags of weather codes against the code table, all combinations, and the categories of treatment planning."""

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from metar.Metar import Metar
from published_tables import tables

from advisor.physics import precipitation, treatment
from advisor.quantities import QUANTITIES, TREATMENT_CATEGORIES

PUBLISHED, SNOW = tables("weather_codes"), tables("snow")
CORPUS = Path(__file__).parents[3] / "shared" / "corpus" / "metars.jsonl"
NAN = np.nan
FALLING_FLAGS = ("snow", "rain", "ice_pellets", "hail", "unknown_precipitation")

SIGNS = ("", "-", "+")
DESCRIPTORS = ("", "SH", "TS", "FZ", "BL", "DR", "MI", "BC", "PR")
PHENOMENA = ("DZ", "RA", "SN", "SG", "IC", "PL", "GR", "GS", "UP", "BR", "FG", "FU", "VA", "DU", "SA", "HZ", "PO", "SQ")
ALL_CODES = [
    sign + descriptor + "".join(phenomena)
    for sign, descriptor in itertools.product((*SIGNS, "VC"), DESCRIPTORS)
    for count in (0, 1, 2, 3)
    for phenomena in itertools.permutations(PHENOMENA[:9], count)
    if descriptor or phenomena
] + [a + b + c for a, b, c in itertools.product((*SIGNS, "VC"), DESCRIPTORS, PHENOMENA[9:])]
codes = st.sampled_from(ALL_CODES)


def _expected(row):
    """Everything else is no, but for what follows: any precipitation, and the hour just past."""
    expected = dict.fromkeys(precipitation.FLAGS, 0)
    expected.update(dict.fromkeys(row.get("open", ()), -1))
    expected.update(dict.fromkeys(row.get("yes", ()), 1))
    frozen = row["code"].endswith("IC")
    if frozen or any(expected[name] == 1 for name in FALLING_FLAGS):
        expected["precipitation_any"] = 1
    expected["recent_precipitation"] = expected["precipitation_any"]
    expected["recent_rain"] = expected["rain"]
    expected["recent_freezing"] = expected["freezing_precipitation"]
    expected["recent_frozen"] = expected["frozen_precipitation"]
    expected["recent_rain"] = expected["rain"]
    return expected


@pytest.mark.parametrize("row", PUBLISHED["codes"]["rows"], ids=lambda row: row["code"])
def test_a_code_sets_the_flags_of_the_code_table(row):
    assert precipitation.flags((row["code"],)) == _expected(row)


@pytest.mark.parametrize("row", PUBLISHED["united_states"]["rows"], ids=lambda row: row["code"])
def test_gs_is_snow_pellets_and_all_hail_is_gr(row):
    assert precipitation.flags((row["code"],)) == _expected(row)


def test_no_code_is_no_weather_and_missing_weather_is_not_known():
    assert set(precipitation.flags(()).values()) == {0}
    assert set(precipitation.flags((), missing=True).values()) == {-1}
    assert set(precipitation.flags(("//",)).values()) == {-1}
    seen = precipitation.flags(("-SN",), missing=True)
    assert seen["snow"] == seen["precipitation_any"] == 1 and seen["thunderstorm"] == seen["rain"] == -1


@pytest.mark.parametrize("text", ["", "XX", "RAX", "SNNNN", "- RA", "//", "////", "R", "-", "VC", "RE", "RARA/"])
def test_what_is_no_code_leaves_the_rest_open(text):
    assert not precipitation.read_code(text).readable
    assert precipitation.flags((text, "RA"))["rain"] == 1
    assert precipitation.flags((text, "RA"))["snow"] == -1


def test_every_flag_is_a_quantity():
    assert all(QUANTITIES[name].kind == "flag" for name in precipitation.FLAGS)
    assert set(precipitation.flags(())) == set(precipitation.FLAGS)


@pytest.mark.parametrize(
    "recent, freezing, any_kind",
    [
        (("RERA",), 0, 1),
        (("REFZRA",), 1, 1),
        (("FZDZ",), 1, 1),
        (("REUP",), -1, 1),
        (("RETS",), 0, 0),
        (("RESHSN",), 0, 1),
        (("RE//",), -1, -1),
        ((), 0, 0),
    ],
)
def test_recent_weather_sets_recent_flags_only(recent, freezing, any_kind):
    said = precipitation.flags((), recent=recent)
    assert (said["recent_freezing"], said["recent_precipitation"]) == (freezing, any_kind)
    assert {said[name] for name in precipitation.FLAGS if not name.startswith("recent_")} == {0}
    if all(text.startswith("RE") for text in recent) and "//" not in "".join(recent):
        assert precipitation.flags(recent) == said


def test_all_combinations_are_consistent():
    implies = [
        ("freezing_rain", "freezing_precipitation"),
        ("freezing_drizzle", "freezing_precipitation"),
        ("freezing_precipitation", "frozen_precipitation"),
        ("snow", "frozen_precipitation"),
        ("ice_pellets", "frozen_precipitation"),
        ("hail", "frozen_precipitation"),
        ("drizzle", "rain"),
        ("frozen_precipitation", "precipitation_any"),
        ("rain", "precipitation_any"),
        ("unknown_precipitation", "precipitation_any"),
        ("heavy_precipitation", "precipitation_any"),
        ("precipitation_any", "recent_precipitation"),
        ("freezing_precipitation", "recent_freezing"),
        ("freezing_fog", "fog"),
    ]
    rank = {0: 0, -1: 1, 1: 2}
    assert len(ALL_CODES) > 20_000
    for code in ALL_CODES:
        said = precipitation.flags((code,))
        assert set(said.values()) <= {0, 1, -1}
        for narrow, wide in implies:
            # "unknown" of a narrow kind is at least "unknown" of the wide one
            assert rank[said[narrow]] <= rank[said[wide]], (code, narrow, wide)


@given(codes, codes)
def test_two_codes_say_what_each_says_and_missing_takes_back_nothing(one, other):
    rank = {0: 0, -1: 1, 1: 2}
    first, second = (precipitation.flags((code,)) for code in (one, other))
    together, swapped = precipitation.flags((one, other)), precipitation.flags((other, one))
    open_too = precipitation.flags((one, other), missing=True)
    assert together == swapped
    for name in precipitation.FLAGS:
        assert rank[together[name]] == max(rank[first[name]], rank[second[name]])
        assert open_too[name] == (1 if together[name] == 1 else -1)


@given(codes)
def test_a_heavier_code_takes_nothing_away(code):
    plain = code.lstrip("+-")
    if not plain.startswith("VC"):
        light, heavy = precipitation.flags(("-" + plain,)), precipitation.flags(("+" + plain,))
        assert all(light[name] in (heavy[name], 0) for name in precipitation.FLAGS)


@pytest.mark.parametrize(
    "code, sign, vicinity, descriptors, phenomena",
    [
        ("-FZRASNPL", "-", False, ("FZ",), ("RA", "SN", "PL")),
        ("VCTS", "", True, ("TS",), ()),
        ("+TSGR", "+", False, ("TS",), ("GR",)),
        ("vcblsn", "", True, ("BL",), ("SN",)),
        ("+TSSHRA", "+", False, ("TS", "SH"), ("RA",)),
    ],
)
def test_a_code_comes_apart(code, sign, vicinity, descriptors, phenomena):
    weather = precipitation.read_code(code)
    assert (weather.sign, weather.vicinity, weather.descriptors, weather.phenomena) == (
        sign,
        vicinity,
        descriptors,
        phenomena,
    )


@pytest.mark.parametrize(
    "code", ["-RA", "+SN", "FZRAPL", "VCSH", "TSGR", "BLSN", "DRSN", "-SHSNPL", "FZFG", "UP", "+FC"]
)
def test_an_independent_reader_takes_a_code_apart_alike(code):
    # python-metar 2.0.2
    ((sign, descriptor, falling, obscuring, other),) = Metar(f"ZZZA 010000Z 00000KT 5000 {code} 01/M01 Q1000").weather
    weather = precipitation.read_code(code)
    assert weather.sign + ("VC" if weather.vicinity else "") == (sign or "")
    assert "".join(weather.descriptors) == (descriptor or "")
    assert "".join(weather.phenomena) == (falling or "") + (obscuring or "") + (other or "")


@pytest.mark.corpus
def test_every_weather_group_that_another_decoder_found_in_real_reports_is_read():
    if not CORPUS.exists():
        pytest.skip("needs ../shared/corpus, real reports beside the checkout")
    seen = {
        code
        for line in CORPUS.read_text(encoding="utf-8").splitlines()
        for code in (json.loads(line).get("decoded") or {}).get("wx", "").split()
    }
    assert len(seen) > 40
    unread = sorted(code for code in seen if not precipitation.read_code(code).readable)
    # that decoder made this one of -SHSNRAGS
    assert unread == ["-SHG"]


# the sign as a second hint, and rates


@pytest.mark.parametrize(
    "said, intensity",
    [
        (("-SN",), 2),
        (("SN",), 3),
        (("+SN",), 4),
        (("-RASN",), 2),
        (("+SHSN", "-SN"), 4),
        (("SG",), 3),
        (("GS",), 3),
        (("RA",), 0),
        (("BLSN",), 0),
        (("VCSN",), 0),
        (("RESN",), 0),
        ((), 0),
    ],
)
def test_the_sign_of_a_snow_code_is_its_intensity(said, intensity):
    assert precipitation.intensity_from_codes(said) == intensity


@pytest.mark.parametrize("sign", SIGNS)
def test_liquid_rates_follow_the_sign(sign):
    assert list(precipitation.liquid_rate_mm_h((sign + "RA",))) == SNOW["rain"]["rows"][sign]
    assert list(precipitation.liquid_rate_mm_h((sign + "FZDZ",))) == SNOW["drizzle"]["rows"][sign]
    assert list(precipitation.liquid_rate_mm_h((sign + "DZ", sign + "RA"))) == SNOW["rain"]["rows"][sign]


def test_moderate_rain_has_the_published_bounds():
    low, central, high = precipitation.liquid_rate_mm_h(("RA",))
    assert [low, high] == SNOW["rain"]["moderate"] and low < central < high


def test_no_liquid_is_nothing_and_an_unknown_kind_is_unknown():
    assert precipitation.liquid_rate_mm_h(("SN", "BR", "RERA")) == (0, 0, 0)
    for said, missing in [(("UP",), False), (("VCSH",), False), ((), True), (("//",), False)]:
        assert np.isnan(precipitation.liquid_rate_mm_h(said, missing=missing)).all()
    assert precipitation.liquid_rate_mm_h(("-RA", "UP"))[1] == 1.0


# temperature


def _columns(code):
    return {name: np.full(4, value, dtype=np.int8) for name, value in precipitation.flags((code,)).items()}


def test_cold_makes_rain_freezing_and_fog_freezing_fog():
    # -0.1, 0 and 0.1 °C, and no temperature at all
    air = [-0.1, 0.0, 0.1, NAN]
    rain = precipitation.freezing_by_temperature(_columns("RA"), air)
    for name in ("freezing_precipitation", "frozen_precipitation", "recent_freezing"):
        assert rain[name].tolist() == [1, 1, 0, -1] and rain[name].dtype == np.int8
    assert rain["freezing_drizzle"].tolist() == [0, 0, 0, 0] and rain["rain"].tolist() == [1, 1, 1, 1]
    drizzle = precipitation.freezing_by_temperature(_columns("DZ"), air)
    assert drizzle["freezing_drizzle"].tolist() == [1, 1, 0, -1]
    assert precipitation.freezing_by_temperature(_columns("FG"), air)["freezing_fog"].tolist() == [1, 1, 0, -1]
    assert precipitation.freezing_by_temperature(_columns("FZRA"), air)["freezing_rain"].tolist() == [1, 1, 1, 1]


def test_warmth_rules_out_what_is_only_not_known():
    # FROZEN_BELOW_C is 8 °C; of 375 real reports of snow the warmest was at +5 °C, the rest is room
    air = [-5.0, 7.99, 8.04, NAN]
    unknown = precipitation.freezing_by_temperature(_columns("UP"), air)
    for name in ("snow", "ice_pellets", "freezing_precipitation", "freezing_rain", "frozen_precipitation"):
        assert unknown[name].tolist()[1:] == [-1, 0, -1]
    assert unknown["hail"].tolist() == [-1] * 4 and unknown["rain"].tolist() == [-1] * 4
    snow = precipitation.freezing_by_temperature(_columns("SN"), air)
    assert snow["snow"].tolist() == [1] * 4


def test_temperature_takes_what_columns_there_are_and_leaves_them_as_they_were():
    given_columns = {"rain": np.array([1, 0], dtype=np.int8), "freezing_precipitation": np.zeros(2, dtype=np.int8)}
    made = precipitation.freezing_by_temperature(given_columns, -3.0)
    assert made["freezing_precipitation"].tolist() == [1, 0]
    assert given_columns["freezing_precipitation"].tolist() == [0, 0] and set(made) == set(given_columns)


@given(codes, st.floats(-90, 60))
def test_temperature_never_turns_yes_into_no(code, air):
    before = _columns(code)
    after = precipitation.freezing_by_temperature(before, air)
    assert all((after[name] == 1).all() for name in before if before[name][0] == 1)


# treatment


def _category(codes, snow_intensity=0, *, air_temperature_c=NAN, cold_soaked=0, missing=False, us=False):
    """The category of one report: its codes as a class, and what intensity and temperature make of it."""
    intensity = max(snow_intensity, precipitation.intensity_from_codes(codes)) if snow_intensity else 0
    found = treatment.treatment_class(codes, missing=missing, us=us)
    return int(treatment.treatment_category(found, intensity, air_temperature_c, cold_soaked))


@pytest.mark.parametrize("said, intensity, air, name", PUBLISHED["treatment"]["rows"])
def test_precipitation_has_the_category_that_treatment_tables_name(said, intensity, air, name):
    found = _category(tuple(said), intensity, air_temperature_c=air)
    assert TREATMENT_CATEGORIES[found] == name


def test_in_the_united_states_gs_is_treated_as_snow_pellets():
    found = _category(("SHGS",), 0, air_temperature_c=-1, us=True)
    assert TREATMENT_CATEGORIES[found] == "snow pellets or grains"


@pytest.mark.parametrize("said, air", [("RA", 8.0), ("-DZ", 3.0), ("UP", 14.0)])
def test_rain_on_a_cold_soaked_wing_has_its_own_category(said, air):
    for soaked, name in [(1, "rain on a cold-soaked wing"), (-1, "rain on a cold-soaked wing"), (0, "none")]:
        found = _category((said,), 0, air_temperature_c=air, cold_soaked=soaked)
        assert TREATMENT_CATEGORIES[found] == name


def test_missing_weather_is_an_unknown_category_and_missing_temperature_counts_as_freezing():
    assert TREATMENT_CATEGORIES[_category((), missing=True, air_temperature_c=2)] == "unknown"
    assert TREATMENT_CATEGORIES[_category(("RA",))] == "heavier freezing rain"
    assert TREATMENT_CATEGORIES[_category(("GR",), missing=True)] == "hail"


@given(
    st.lists(
        st.tuples(codes, st.integers(0, 4), st.floats(-90, 60), st.sampled_from([-1, 0, 1])), min_size=1, max_size=8
    )
)
def test_categories_of_an_array_are_those_of_each_report(rows):
    said, intensity, air, soaked = zip(*rows, strict=True)
    classes = [treatment.treatment_class((code,)) for code in said]
    array = treatment.treatment_category(classes, intensity, air, soaked)
    assert array.dtype == np.int8 and ((array >= 0) & (array < len(TREATMENT_CATEGORIES))).all()
    for i, code in enumerate(said):
        if not precipitation.intensity_from_codes((code,)):
            alone = _category((code,), intensity[i], air_temperature_c=air[i], cold_soaked=soaked[i])
            assert array[i] == alone


@given(codes, st.floats(-90, 0))
def test_anything_that_may_fall_in_the_cold_has_a_category(code, air):
    said = precipitation.flags((code,))
    found = _category((code,), 2, air_temperature_c=air)
    if said["precipitation_any"] != 0:
        assert TREATMENT_CATEGORIES[found] != "none"

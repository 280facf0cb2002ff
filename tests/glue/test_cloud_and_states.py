"""What one report says as numbers, and which of several says it at a time.

Eighths by cover word are the WMO's (FEW 1 to 2, SCT 3 to 4, BKN 5 to 7, OVC 8); the rest is worked in each test.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from subject import TREATMENT_CATEGORIES, CloudLayer, Elements, metar, tracks, treatment

NOW = datetime(2027, 1, 10, 5, 40, tzinfo=UTC)


def report(groups: str) -> object:
    return metar.read(f"METAR ZZZA 100530Z {groups}", now=NOW)


@pytest.mark.parametrize(
    ("sky", "low", "middle", "high", "base_ft"),
    # nothing is seen above the layers: the high end is at least seven eighths
    [
        ("FEW030", 1, 1.5, 7, 3000),
        ("SCT030", 3, 3.5, 7, 3000),
        ("BKN030", 5, 6, 7, 3000),
        ("OVC030", 8, 8, 8, 3000),
        ("VV002", 8, 8, 8, 200),
        # what covers most counts, wherever it stands
        ("FEW010 BKN030 SCT050", 5, 6, 7, 3000),
        ("OVC010 FEW020", 8, 8, 8, 1000),
    ],
)
def test_covered_part_and_base_by_cover_word(sky: str, low: float, middle: float, high: float, base_ft: float) -> None:
    ends, base_m, known = tracks.cloud_ends(report(f"24012KT 9999 {sky} 03/01 Q1013"))
    assert ends == (low / 8, middle / 8, high / 8) and known
    assert base_m == pytest.approx(base_ft * 0.3048)


@pytest.mark.parametrize(
    ("sky", "ends", "base_m", "known"),
    [
        ("9999 SKC", (0, 0, 1 / 8), 6000, True),
        ("CAVOK", (0, 1 / 4, 7 / 8), 6000, True),
        ("9999 NSC", (0, 1 / 4, 7 / 8), 6000, True),
        ("9999 NCD", (0, 1 / 4, 7 / 8), 6000, True),
        ("9999 CLR", (0, 1 / 4, 7 / 8), 6000, True),
        ("9999 //////", (0, 0, 1), 300, False),
        ("9999", (0, 0, 1), 300, False),
    ],
)
def test_a_sky_without_layers(sky: str, ends: tuple[float, ...], base_m: float, known: bool) -> None:
    assert tracks.cloud_ends(report(f"AUTO 24012KT {sky} 03/01 Q1013")) == (ends, base_m, known)


def test_a_layer_without_a_base_has_one_of_1500_m_and_an_obscured_sky_one_on_the_ground() -> None:
    for layer, seen_ft, base_m in (
        (CloudLayer("BKN"), float("nan"), 1500),
        (CloudLayer("VV"), float("nan"), 0),
        (CloudLayer("VV"), 300, 91.44),
    ):
        said = Elements(sky="layers", cloud=(layer,), vertical_visibility_ft=seen_ft)
        assert tracks.cloud_ends(said)[1] == pytest.approx(base_m)
    assert tracks.cloud_ends(Elements(sky="layers", cloud=(CloudLayer("///", 1000),))) == ((0, 0, 1), 300, False)


def test_a_state_holds_the_reports_numbers() -> None:
    one = tracks.state(report("24012G25KT 3000 BR SCT012 03/01 Q1013"), lightning=True)
    assert (one.wind_kt, one.gust_kt, one.direction_deg, one.visibility_m) == (12, 25, 240, 3000)
    assert (one.codes, one.lightning) == (("BR",), True)
    assert not one.weather_missing and not one.gust_lost
    assert one.cloud == (3 / 8, 3.5 / 8, 7 / 8) and one.base_m == pytest.approx(365.76) and one.sky_known
    for wind in ("00000KT", "VRB02KT"):
        assert np.isnan(tracks.state(report(f"{wind} CAVOK 03/01 Q1013")).direction_deg)
    assert tracks.state(Elements(weather=("NSW", "BR"))).codes == ("BR",)


def test_a_state_of_nothing_knows_nothing() -> None:
    nothing = tracks.State()
    assert nothing.weather_missing and not nothing.sky_known and not nothing.lightning and not nothing.gust_lost
    assert nothing.cloud == (0, 0, 1) and np.isnan(nothing.wind_kt) and nothing.codes == ()


def made(*indexes: int) -> tracks.Track:
    """Rain with a storm in the remarks, heavy snow, nothing seen."""
    states = (
        tracks.state(report("24012KT 3000 RA SCT012 05/04 Q1013"), lightning=True),
        tracks.state(report("24020KT 0800 +SN OVC004 M03/M04 Q1013")),
        tracks.state(report("24005KT 9999 SKC 05/01 Q1013")),
        tracks.State(),
    )
    return tracks.Track(states, np.array(indexes))


def test_each_time_has_the_numbers_of_the_state_that_holds() -> None:
    track = made(0, 1, 2, -1)
    assert list(track.covered) == [True, True, True, False]
    assert list(track.numbers("wind_kt")[:3]) == [12, 20, 5] and np.isnan(track.numbers("wind_kt")[3])
    assert list(track.cloud(0)) == [3 / 8, 1, 0, 0]
    assert list(track.cloud(1)) == [3.5 / 8, 1, 0, 0]
    assert list(track.cloud(2)) == [7 / 8, 1, 1 / 8, 1]
    assert list(track.sky_known) == [True, True, True, False]
    assert list(track.flags["rain"]) == [1, 0, 0, -1] and list(track.flags["snow"]) == [0, 1, 0, -1]
    assert list(track.falling) == [1, 1, 0, -1]
    assert list(track.lightning) == [1, 0, 0, 0] and list(track.storm_remark)[1:] == [0, 0, 0]
    assert list(track.snow_code) == [0, 4, 0, 0]
    for end, rate in enumerate((2.5, 5, 10)):
        assert list(track.rain_rate(end)[:3]) == [rate, 0, 0] and np.isnan(track.rain_rate(end)[3])
    assert track.text() == ["RA", "+SN", "none reported", "not known"]
    assert made(3).text() == ["not reported"] and list(made(3).flags["rain"]) == [-1]


@pytest.mark.parametrize(
    ("weather", "missing", "freezing", "storm"),
    [
        ((), False, 0, -1),  # nothing falls: nothing freezes; a storm needs no rain
        (("-RA",), False, -1, -1),
        (("-FZRA",), False, 1, -1),
        ((), True, -1, -1),
        (("TS",), False, 0, 1),
    ],
)
def test_a_station_that_is_blind_denies_nothing(
    weather: tuple[str, ...], missing: bool, freezing: int, storm: int
) -> None:
    blind = (*tracks.FREEZING_BLIND, *tracks.STORM_BLIND)
    said = tracks.state(Elements(weather=weather, weather_missing=missing), blind_to=blind)
    found = tracks.Track((said,), np.array([0])).flags
    assert found["freezing_precipitation"][0] == freezing and found["thunderstorm"][0] == storm
    assert {"freezing_precipitation", "freezing_rain", "freezing_drizzle", "frozen_precipitation"} <= set(blind)


def test_a_station_that_is_not_blind_denies_what_it_does_not_see() -> None:
    found = tracks.Track((tracks.state(Elements(weather=("-RA",))),), np.array([0])).flags
    assert found["freezing_precipitation"][0] == 0 and found["thunderstorm"][0] == 0


# storm cloud and classes for treatment


@pytest.mark.parametrize(
    ("sky", "kind", "cumulonimbus", "towering"),
    [
        ("SCT030CB", "CB", 1, 0),
        ("FEW020TCU", "TCU", 0, 1),
        ("FEW020TCU SCT030CB", "CB", 1, 0),
        ("SCT030", "", 0, 0),
        ("SKC", "", 0, 0),
        ("//////", None, -1, -1),
        ("//////CB", "CB", 1, 0),
    ],
)
def test_storm_cloud_in_the_cloud_groups(sky: str, kind: str | None, cumulonimbus: int, towering: int) -> None:
    said = tracks.state(report(f"AUTO 24012KT 9999 {sky} 03/01 Q1013"))
    assert said.storm_cloud == kind
    track = tracks.Track((said, tracks.State()), np.array([0, 1, -1]))
    # a state of nothing and no state at all do not know
    assert track.cumulonimbus.tolist() == [cumulonimbus, -1, -1]
    assert track.towering_cumulus.tolist() == [towering, -1, -1]


def bits(*names: str) -> int:
    """A bit for each category by its place; light rain, plain snow and what nobody told have places 21, 20 and 25."""
    places = {"light rain": 21, "snow": 20, "not told": 25} | {name: at for at, name in enumerate(TREATMENT_CATEGORIES)}
    return sum(1 << places[name] for name in names)


def test_classes_for_treatment_are_sets_in_which_what_nobody_told_has_a_bit_of_its_own() -> None:
    states = tuple(
        tracks.state(Elements(weather=weather, weather_missing=missing))
        for weather, missing in (((), False), (("-RA",), False), (("-RA",), True), ((), True), (("SN",), False))
    )
    assert tracks.Track(states, np.array([0, 1, 2, 3, 4, -1])).treatment_classes.tolist() == [
        bits("none"),
        bits("light rain"),
        bits("light rain", "not told"),
        bits("none", "not told"),
        bits("snow"),
        bits("not told"),
    ]
    assert (treatment.SNOW_CLASS, treatment.LIGHT_RAIN_CLASS, treatment.NOT_TOLD_CLASS) == (20, 21, 25)
    pellets = (tracks.state(Elements(weather=("GS",))),)
    for us, name in ((False, "ice pellets"), (True, "snow pellets or grains")):
        assert tracks.Track(pellets, np.array([0]), us).treatment_classes.tolist() == [bits(name)]


def test_without_what_was_said_at_some_times_nothing_is_known_there() -> None:
    track = made(0, 1, 2)
    silent = track.without(np.array([False, True, False]))
    assert silent.index.tolist() == [0, -1, 2] and np.isnan(silent.numbers("wind_kt")[1])
    assert track.without(np.zeros(3, bool)).index.tolist() == [0, 1, 2]
    assert tracks.Track(track.states, track.index, True).without(np.array([True, False, False])).us


@pytest.mark.parametrize(
    ("remarks", "names"),
    [
        ("AO2", set()),
        ("AO2 FZRANO", {"freezing_precipitation", "freezing_rain", "freezing_drizzle", "frozen_precipitation"}),
        ("AO2 TSNO", {"thunderstorm"}),
        (
            "AO2 FZRANO TSNO",
            {"freezing_precipitation", "freezing_rain", "freezing_drizzle", "frozen_precipitation", "thunderstorm"},
        ),
    ],
)
def test_what_a_station_is_blind_to(remarks: str, names: set[str]) -> None:
    assert set(tracks.blind(report(f"24012KT 9999 -RA SCT012 03/01 Q1013 RMK {remarks}"))) == names  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("groups", "hidden"),
    [
        # 2 °C and less between air and dew point is damp; nobody tells how far one sees
        ("24012KT //// SCT012 03/01 Q1013", {"fog", "mist"}),
        ("24012KT //// -RA SCT012 03/01 Q1013", {"fog", "mist"}),
        ("24012KT //// SCT012 03/// Q1013", {"fog", "mist"}),
        ("24012KT //// SCT012 03/00 Q1013", set()),
        # seen less than 1,000 m, or 5,000 m, for no reason that was coded
        ("24012KT 0950 SCT012 03/01 Q1013", {"fog", "mist"}),
        ("24012KT 1000 SCT012 03/01 Q1013", {"mist"}),
        ("24012KT 4900 SCT012 03/01 Q1013", {"mist"}),
        ("24012KT 5000 SCT012 03/01 Q1013", set()),
        ("24012KT 0950 -RA SCT012 03/01 Q1013", set()),
        ("24012KT 0950 SCT012 03/00 Q1013", set()),
    ],
)
def test_fog_and_mist_that_a_report_does_not_deny(groups: str, hidden: set[str]) -> None:
    assert set(tracks.blind(report(groups))) == hidden  # type: ignore[arg-type]
    flags = tracks.Track((tracks.observed(report(groups)),), np.array([0])).flags  # type: ignore[arg-type]
    assert {name for name in ("fog", "mist") if flags[name][0] == -1} == hidden

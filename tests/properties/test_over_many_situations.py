"""The seven properties over situations with a history and a forecast; many.py runs any number, this 20,000 and a few.

Each trial has its own name in kept.py. The three situations named at the end lost lines before.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import kept
import pytest
from drawn import FROZEN, Foretold, Night, Part, Said, air_c, night, simpler
from kept import Held, Trial, without, without_opposites
from made_up import CLASSES, lines
from many import Much, tried
from reduced import pasted, reduced

SEED, OTHER_SEED = 10, 11


def not_held(seed: int, numbers: range, only: int | None, much: Much = "every") -> list[str]:
    """What got lost in situations, by number."""
    return [
        f"#{number} P{trial.number} {trial.title}: {lost}"
        for number in numbers
        for trial, lost in tried(seed, number, only, much)
        if lost
    ]


@pytest.mark.parametrize("start", [0, 10])
def test_the_seven_properties_hold_in_situations_with_history_and_forecast(start):
    assert not_held(SEED, range(start, start + 10), None) == []


@pytest.mark.long
@pytest.mark.parametrize("start", range(0, 20_000, 200))
def test_a_property_drawn_for_each_holds_in_20_000_situations(start):
    """They are not those over which many.py is run in full: these have another seed."""
    assert not_held(OTHER_SEED, range(start, start + 200), None, "one") == []


@pytest.mark.parametrize("start", [1000, pytest.param(1020, marks=pytest.mark.long)])
def test_a_second_slow_reading_of_the_columns_gives_the_same_lines_and_doors(start):
    assert not_held(SEED, range(start, start + 20), 8) == []


def test_each_property_once_is_one_trial_of_each_and_the_second_reading():
    for number in range(10):
        numbers = sorted(trial.number for trial, _ in tried(SEED, number, None, "once"))
        # in some situations nothing can be lost, or made worse
        assert numbers in ([1, 2, 3, 4, 5, 6, 7, 8], [2, 3, 4, 5, 6, 7, 8], [1, 3, 4, 5, 6, 7, 8]), number


def test_one_is_one_trial_of_all_and_what_is_read_off_the_same_brief():
    drawn = [sorted(trial.number for trial, _ in tried(SEED, number, None, "one")) for number in range(40)]
    assert all(len(numbers) == 4 and {3, 4, 5} < set(numbers) for numbers in drawn)
    # and each of the others comes up
    assert set().union(*drawn) == set(range(1, 9))


def test_more_wind_takes_lines_for_each_reason_that_is_named_and_for_no_other(monkeypatch):
    """The situations are those of 3,000 in which each reason was met first, and some in which nothing goes."""
    reasons, looked = set(), kept.blown_away

    def noting(before, after):
        left = lines(after)
        for line in before.advice:
            reasons.update(item.quantity for item in line.because if line.id not in left)
        return looked(before, after)

    monkeypatch.setattr(kept, "blown_away", noting)
    for number in (107, 226, 284, 345, 1837, *range(400, 410)):
        one = night(78, number)
        assert kept.more_wind(one, Random(number)).of(one).lost == [], number
    assert kept.WARMED.keys() <= reasons <= kept.WARMED.keys() | kept.BESIDES


def test_a_situation_has_its_number_and_is_the_same_every_time():
    assert [night(SEED, 3), night(SEED, 4)] == [night(SEED, 3), night(SEED, 4)]
    assert night(SEED, 3) != night(SEED, 4)


def test_situations_have_everything_that_a_report_and_a_forecast_can_say():
    texts = " ".join(text for number in range(400) for text in night(SEED, number).texts)
    for word in (
        "SPECI",
        "METAR COR",
        " RE",
        "RMK",
        "FZRAB04E40",
        "SNE14",
        "I1003",
        "FROIN",
        "TSB10E30",
        "NOSIG",
        " FM",
        "BECMG",
        "TEMPO",
        "PROB30",
        "PROB40",
        "TX",
        "TN",
        "//",
        "VRB",
        "GR",
        "+SN",
        "BLSN",
    ):
        assert word in texts, word
    asked = {name for number in range(400) for name in night(SEED, number).asked}
    assert asked == {"aircraft", "heading", "parked_since", "treated_at", "seen", "fuel_temperature", "fuel_fill"}
    assert {night(SEED, number).asked["aircraft"] for number in range(400)} == set(CLASSES)
    assert {len(night(SEED, number).reports) for number in range(400)} >= set(range(1, 8))


def test_nothing_frozen_is_drawn_in_air_where_it_does_not_fall():
    for number in range(400):
        for one in night(SEED, number).reports:
            air = air_c(one.temperature)
            assert air is None or air <= 4 or not FROZEN.search(one.weather), one


def test_a_counterexample_is_reduced_to_what_loses_the_line():
    """A trial that fails wherever it snows: everything but the snow can go."""

    def of(one):
        return Held(["snowed"] if any("SN" in report.weather for report in one.reports) else [], tuple(one.texts))

    big = next(one for one in (night(SEED, at) for at in range(99)) if of(one).lost and one.forecast)
    small, held = reduced(big, Trial(1, "snow", of), "snowed")
    assert len(small.reports) == 1 and small.forecast is None and set(small.asked) == {"aircraft"}
    assert held.lost == ["snowed"] and "METAR ZZZA" in pasted(small, held, "snow")
    assert all(of(one).lost == [] or len(" ".join(one.texts)) >= len(" ".join(small.texts)) for one in simpler(small))


# the three named counterexamples --------------------------------------------------------------------------------

COLD = {"temperature": "M02/M03", "cloud": "OVC010"}


@pytest.mark.parametrize("aircraft", CLASSES)
@pytest.mark.parametrize("weather", ["SN", "-FZRA", "RA", "PL", "FZDZ"])
def test_a_missing_weather_group_in_an_earlier_report_takes_no_line_away(aircraft, weather):
    earlier = Said("before", 65, weather=weather, visibility="3000", **COLD)
    one = Night((earlier, Said("now", 5, **COLD)), asked={"aircraft": aircraft})
    held = without(one, "before", "weather", "//")
    assert held.lost == []
    # and the earlier report does bring lines that the newest alone does not
    dry = Night((replace(earlier, weather=""), Said("now", 5, **COLD)), asked={"aircraft": aircraft})
    assert lines(dry.brief()).items() != lines(one.brief()).items()


@pytest.mark.parametrize("aircraft", ["single-aisle-jet", "twin-turboprop", "regional-jet", "wide-body-jet"])
@pytest.mark.parametrize("fuel", [-8, -1, 1])
@pytest.mark.parametrize("fill", [{}, {"fuel_fill": 20}])
def test_a_missing_temperature_beside_stated_fuel_takes_no_line_away(aircraft, fuel, fill):
    wet = Said("now", 5, weather="RA", temperature="04/03", cloud="OVC012")
    one = Night((wet,), asked={"aircraft": aircraft, "fuel_temperature": fuel, **fill})
    assert without(one, "now", "temperature", "/////").lost == []
    told = lines(one.said("now", temperature="/////").brief())
    assert {told.get("cold-soaked-wing"), told.get("fuel-warm-or-early")} == {"cannot tell"}


@pytest.mark.parametrize("aircraft", CLASSES)
@pytest.mark.parametrize("mild", ["-RA", "RA", "-FZDZ", "-SN"])
@pytest.mark.parametrize("grave", ["+SN", "FZRA", "PL", "SN PL"])
def test_a_missing_forecast_group_beside_known_mild_weather_takes_no_line_away(aircraft, mild, grave):
    known = Said("now", 5, weather=mild, visibility="5000", temperature="00/M01", cloud="OVC012")
    base = Part("base", "", "24008KT", "0600", grave, "OVC006")
    forecast = Foretold("100500Z 1005/1106", (base,))
    one = Night((known,), forecast, asked={"aircraft": aircraft})
    before, after = one.brief(), one.said("base", weather="//").brief()
    assert without_opposites(before, after) == []
    if "no-holdover" in lines(before):
        assert "no-holdover" in lines(after)

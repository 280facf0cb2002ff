"""Small parts of a plan by hand: which minutes a pad is open, why nobody fits, what a move costs, what is falling."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import numpy as np
import pytest
from nights import NOW, Ticks, closure, need, night, pad, pads, sky

from advisor.report import metar
from advisor.slots import build
from advisor.slots.build import Wish
from advisor.slots.demand import _deposit, _falling
from advisor.slots.files.pads import Cost, Pad, PadsFile, Runway
from advisor.slots.model import Option
from advisor.slots.plan import Effort, make
from advisor.slots.stops import closures


def shut(one, *closed, minutes: int = 20) -> list[int]:
    """The first minutes in which a pad is not open."""
    return np.flatnonzero(~build._open(one, closed, NOW, minutes)[:minutes]).tolist()


def test_a_minute_counts_as_open_where_all_of_it_is() -> None:
    assert shut(pad("P1")) == []
    assert shut(pad("P1", hours=(3, 18))) == [0, 1, 2, 18, 19]
    half = msgspec.structs.replace(pad("P1"), from_s=NOW + 90, until_s=NOW + 18 * 60 + 30)
    assert shut(half) == [0, 1, 18, 19]


def test_a_closure_takes_the_minutes_that_it_touches_of_the_pads_that_it_names() -> None:
    assert shut(pad("P1"), closure("P1", 5, 8)) == [5, 6, 7] and shut(pad("P2"), closure("P1", 5, 8)) == []
    ragged = msgspec.structs.replace(closure("P1", 5, 8), from_s=NOW + 330, until_s=NOW + 450)
    assert shut(pad("P1"), ragged) == [5, 6, 7]
    # nobody knows when it ends
    assert shut(pad("P1"), msgspec.structs.replace(ragged, open_end=True)) == list(range(5, 20))


def test_why_a_departure_fits_nowhere() -> None:
    large, small = need("A", 10, size="large"), need("B", 10, size="small")
    asked = need("C", 10, place="stand")
    only_small = pads(pad("P1", size="small"))
    assert build._why(large, only_small) == "no pad takes the large class"
    assert build._why(small, only_small) == "no pad that takes it is open for long enough from its off-block time on"
    assert build._why(asked, pads(pad("P1"))) == "no pad takes the medium class at the stand place asked for"
    assert build._why(asked, pads(pad("P1", place="stand"))).startswith("no pad that takes it is open")
    both = pads(pad("P1", place="stand", size="small"), pad("P2"))
    assert build._why(asked, both) == "no pad takes the medium class at the stand place asked for"


@pytest.mark.parametrize(("margin", "told_from"), [(0, 1), (1, 1), (3, 3)])
def test_a_start_that_moves_costs_each_minute_and_from_a_margin_on_what_a_change_costs(margin, told_from) -> None:
    held = pads(pad("P1"))
    held = msgspec.structs.replace(
        held,
        margin=msgspec.structs.replace(held.margin, shift_min=margin),
        cost=msgspec.structs.replace(held.cost, changed=10, changed_minute=2),
    )
    option = Option(0, 15, 6, np.zeros(9))
    moved = build._moved(option, Wish("P1", NOW + 10 * 60), NOW, held)
    # starts at minutes 6 to 14, ten before
    away = [4, 3, 2, 1, 0, 1, 2, 3, 4]
    assert moved.costs.tolist() == [2 * minutes + (10 if minutes >= told_from else 0) for minutes in away]


def test_lightning_counts_as_long_as_it_is_waited_for_and_is_the_forecasts_after_that() -> None:
    """Seen at the report, for 30 minutes and not longer: on the grid at 0 to 30, waited for 30 after the next time."""
    calm = sky()
    flashes = np.ones(calm.shape, dtype=np.int8)
    held = pads(pad("P1"))
    assert held.stops.after_lightning_min == 30
    [one], may = closures(replace(calm, columns={**calm.columns, "lightning": flashes}), held, NOW)
    assert ((one.from_s - NOW) / 60, (one.until_s - NOW) / 60, may) == (0, 65, ())
    # 90 s later the time at 30 minutes still counts, that at 35 does not
    [one], _ = closures(replace(calm, columns={**calm.columns, "lightning": flashes}), held, NOW + 90)
    assert (one.until_s - NOW) / 60 == 65


def test_a_storm_to_the_end_of_what_was_looked_at_has_no_end() -> None:
    held = pads(pad("P1"))
    for until, open_end in ((690, False), (720, True)):
        [one], _ = closures(sky(thunder=(600, until)), held, NOW)
        assert one.open_end is open_end and ("how long it goes on is not known" in one.why) is open_end, until


def test_without_weather_only_what_was_closed_by_hand_is() -> None:
    held = msgspec.structs.replace(pads(pad("P1")), closures=(closure("P1", 5, 8),))
    assert closures(None, held, NOW) == ((closure("P1", 5, 8),), ())


def test_what_falls_is_said_once_from_when_it_begins_in_the_central_case() -> None:
    one = sky(falling=[(0, "none"), (60, "light snow"), (90, "none"), (120, "moderate snow")])
    assert _falling(one, NOW, NOW + 200 * 60) == ("light snow or moderate snow from 0600Z", True)
    assert _falling(one, NOW, NOW + 59 * 60) == ("", False)
    assert _falling(one, NOW + 61 * 60, NOW + 62 * 60) == ("", False)
    # in another case alone
    two = sky(falling=[(0, "none"), (60, "light snow")], cases=2)
    codes = np.array(two.columns["treatment_category"])
    codes[0] = 0
    two = replace(two, columns={**two.columns, "treatment_category": codes})
    assert _falling(two, NOW, NOW + 200 * 60) == ("light snow from 0600Z in some cases", False)


def test_the_worst_that_may_lie_there_is_that_of_the_central_case_or_of_any_where_that_has_none() -> None:
    two = sky(cases=2)
    inside = np.ones(two.unix_s.size, dtype=bool)

    def found(status: str = "possible", **columns: list[float]) -> str:
        held = {name: np.array(rows)[:, None] + np.zeros(two.shape) for name, rows in columns.items()}
        return _deposit(replace(two, columns={**two.columns, **held}), inside, status)

    assert found(hail=[1, 0], snow=[1, 1]) == "ice"
    assert found(snow=[1, 0], hail=[0, 1]) == "snow"
    assert found(snow=[0, 1], frost_margin_c=[0.0, 2.0]) == "snow"
    assert found(frost_margin_c=[0.5, -1.0], snow=[0, 1]) == "frost"
    assert found(treatment_category=[-1, 0], frost_margin_c=[1.0, 1.0]) == "unknown"
    assert found(frost_margin_c=[0.0, 0.0]) == "frost" and found("cannot tell") == "unknown"


def test_what_is_taken_where_a_pads_file_says_nothing() -> None:
    """Ours, all of them; whoever plans without writing them down plans with these."""
    said = PadsFile(())
    minutes = msgspec.structs.asdict(said.treatment)
    for size in ("small", "medium", "large"):
        minutes[size] = msgspec.structs.asdict(minutes[size])
    assert minutes == {
        "small": {"frost": 4, "snow": 6, "ice": 9, "anti_icing": 3},
        "medium": {"frost": 6, "snow": 9, "ice": 13, "anti_icing": 4},
        "large": {"frost": 9, "snow": 14, "ice": 20, "anti_icing": 6},
        "clear_min": 2,
        "stand_lead_min": 15,
        "engines_off_min": 5,
        "fluid": None,
        "dilution": None,
    }
    assert msgspec.structs.asdict(said.cost) == {
        "small": 0.5,
        "medium": 1.0,
        "large": 2.0,
        "late_after_min": 30,
        "late": 1.0,
        "missed_window": 60.0,
        "missed_minute": 1.0,
        "broken_holdover": 90.0,
        "no_guideline": 120.0,
        "unplanned": 1500.0,
        "changed": 4.0,
        "changed_minute": 0.25,
        "changed_pad": 2.0,
    }
    assert msgspec.structs.asdict(said.noise) == {
        "off_block_late_min": 3.0,
        "off_block_spread_min": 5.0,
        "taxi_spread": 0.15,
        "treatment_spread": 0.2,
        "common_cause": 0.8,
        "adverse_share": 0.4,
        "group_share": 0.4,
    }
    assert msgspec.structs.asdict(said.runway) == {"separation_s": 0, "quarter_capacity": 0}
    # a take-off without a guideline is never cheaper than a broken holdover; 900 s / 7 is 129 s and a little
    assert (
        msgspec.structs.replace(Cost(), no_guideline=10.0).without_guideline == 90.0 and Runway(120, 7).spacing_s == 129
    )
    assert [Runway().spacing_s, Runway(90).spacing_s, Runway(90, 12).spacing_s, Runway(0, 10).spacing_s] == [
        0,
        90,
        90,
        90,
    ]


def test_pads_of_one_place_differ_by_whether_engines_run() -> None:
    assert pad("P1").kind == pad("P2").kind == "remote"
    assert pad("P1", engines="off").kind == "remote, engines off" and pad("P1", place="stand").kind == "stand"
    assert (pad("P1").refill_after, pad("P1").refill_min) == (0, 0) and Pad(
        "P1", "any", "remote", None, None, 1.0
    ).refill_min == 0


def test_a_plan_names_the_reports_that_it_rests_on() -> None:
    reports = ["METAR ZZZA 100450Z 24006KT 9999 -SN OVC010 M02/M03 Q1002"]
    one = night([need("A", 30)], pads(pad("P1")))
    read = tuple(metar.read(text, now=datetime(2027, 1, 10, 5, tzinfo=UTC)) for text in reports)
    one = replace(one, weather=replace(one.weather, read=read))
    made = make(one, Effort(60.0, Ticks(), nights=8, turns=4), needs=[need("A", 30)], reserve_all=False)
    assert [(one.kind, one.station, one.issued, one.raw) for one in made.reports] == [
        ("METAR", "ZZZA", "2027-01-10T04:50:00Z", reports[0])
    ]

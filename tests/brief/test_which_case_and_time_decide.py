"""Which case and time a line speaks of, by hand over two cases and three times: words, causes, calls, doors."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import astral
import astral.sun
import numpy as np
import pytest

import advisor
from advisor.brief import knobs, lines, missing, settings, trial, witness
from advisor.brief.hazards import hazards
from advisor.brief.model import Advice
from advisor.checklist import revision
from advisor.checklist.evaluate import Finding
from advisor.checklist.language.cells import KNOWN, Cell
from advisor.conditions import Airframe, Case, Conditions, Door

NONE: Any = None
CASES = (Case("central", "", "central", "common-practice"), Case("cold", "", "high", "common-practice"))
TIMES = (0.0, 1800.0, 3600.0)
NOT_INDICATED = Finding(NONE, "not indicated")


def table(cases: tuple[Case, ...] = CASES, **columns: Any) -> Conditions:
    made = {name: np.asarray(value) for name, value in columns.items()}
    made = {name: one.astype(np.int8) if one.dtype.kind == "i" else one for name, one in made.items()}
    return Conditions(np.array(TIMES), 61.4, 9.8, cases, made)


def test_a_text_names_the_value_of_the_deciding_case_and_time() -> None:
    gusts = table(gust_kt=[[10.0, 11.0, 12.0], [20.0, 21.0, 22.0]])
    assert lines.fill("gust {gust_kt}", Finding(NONE, "possible", 1, 2), gusts) == "gust 22 kt"
    assert lines.fill("gust {gust_kt}", Finding(NONE, "possible", 0, 1), gusts) == "gust 11 kt"
    # where nothing decides, the first time of the central case
    assert lines.fill("gust {gust_kt}", NOT_INDICATED, gusts) == "gust 10 kt"
    assert lines.fill("no mark", NOT_INDICATED, gusts) == "no mark"


def test_a_number_below_nought_is_a_value_and_a_flag_below_it_is_none() -> None:
    found = table(air_temperature_c=np.full((2, 3), -7.0), snow=[[-1, 0, 1], [-1, 0, 1]])
    assert lines._decided("air_temperature_c", Finding(NONE, "possible", 0, 1), found) == -7.0
    assert lines._decided("snow", Finding(NONE, "possible", 0, 0), found) is None
    assert lines._decided("snow", Finding(NONE, "possible", 0, 1), found) == 0.0


def weather(*texts: str, air_c: float = 15.0, **columns: Any) -> Conditions:
    return replace(table(air_temperature_c=np.full((2, 3), air_c), **columns), precipitation_text=(texts,))


def test_the_code_of_the_deciding_time_is_the_cause() -> None:
    found = weather("TSRA", "SHRA", "-RA", rain=[[1, 1, 1], [1, 1, 1]], thunderstorm=[[1, 0, 0], [1, 0, 0]])
    assert lines._cause("rain", Finding(NONE, "expected", 1, 2), found) == "-RA"
    # where nothing decides, the first time
    assert lines._cause("rain", NOT_INDICATED, found) == "TSRA"
    assert lines._cause("thunderstorm", Finding(NONE, "expected", 0, 0), found) == "TSRA"


@pytest.mark.parametrize(("air_c", "hail", "snow"), [(15.0, "SHGS", ""), (2.0, "", "SHGS")])
def test_a_code_is_the_cause_of_what_it_means_in_that_air(air_c: float, hail: str, snow: str) -> None:
    flags = {"hail": np.zeros((2, 3), dtype=np.int8), "snow": np.zeros((2, 3), dtype=np.int8)}
    # the skin is colder, and says nothing of what falls
    found = weather("SHGS", "SHGS", "SHGS", air_c=air_c, wing_skin_temperature_c=np.full((2, 3), -9.0), **flags)
    assert lines._codes("hail", 0, 0, found) == hail and lines._codes("snow", 0, 0, found) == snow


@pytest.mark.parametrize(
    ("holds", "sure", "said"),
    [
        # in the deciding case alone, and the flag is only possible
        ([[0, 0, 0], [1, 1, 1]], False, True),
        # the flag is sure, and what may have made it so is not
        ([[0, 0, 0], [1, 1, 1]], True, False),
        ([[1, 1, 1], [1, 1, 1]], True, True),
        ([[1, 1, 1], [0, 0, 0]], False, False),
    ],
)
def test_a_sure_flag_has_a_sure_cause(holds: list[list[int]], sure: bool, said: bool) -> None:
    lies = [[1, 1, 1] if sure else [0, 0, 0], [1, 1, 1]]
    quiet = {name: np.zeros((2, 3), dtype=np.int8) for name in ("frozen_precipitation", "freezing_precipitation")}
    found = table(deposit_lies=lies, recent_snow=holds, **quiet)
    cause = lines._cause("deposit_lies", Finding(NONE, "possible", 1, 0), found)
    assert cause == ("snow within two hours" if said else "")


def test_a_margin_is_told_since_when_it_was_above_nought_in_the_deciding_case() -> None:
    def since(case: int, time: int, *rows: list[float], now_s: float = 3600.0) -> str | None:
        history = replace(table(frost_margin_c=list(rows)), now_s=now_s)
        return lines._since("frost_margin_c", Finding(NONE, "likely", case, time), history, history)

    # above nought from the second time on, half an hour before now
    assert since(0, 2, [-1.0, 1.0, 1.0], [1.0, 1.0, 1.0]) == "1970-01-01T00:30:00Z"
    assert since(1, 2, [1.0, 1.0, 1.0], [-1.0, 1.0, 1.0]) == "1970-01-01T00:30:00Z"
    # from the first report on: only that much is known, and an hour of it is no news
    assert since(0, 2, [1.0, 1.0, 1.0], [1.0, 1.0, 1.0]) is None
    assert since(0, 2, [1.0, 1.0, 1.0], [1.0, 1.0, 1.0], now_s=3601.0) == "1970-01-01T00:00:00Z"
    # not above it any more, or only from now on
    assert since(0, 2, [1.0, 1.0, -1.0], [1.0, 1.0, 1.0]) is None
    assert since(0, 2, [-1.0, -1.0, 1.0], [1.0, 1.0, 1.0]) is None
    # where nothing decides, the first time of the central case
    assert since(-1, -1, [1.0, -1.0, -1.0], [-1.0, -1.0, -1.0], now_s=7200.0) == "1970-01-01T00:00:00Z"


def test_what_is_due_on_the_stand_is_due_when_it_begins_or_half_an_hour_before() -> None:
    rule: Any = SimpleNamespace(during=("parked",), lead_min=None)
    windows = SimpleNamespace(off_block=20_000)
    asked: Any = SimpleNamespace(now=1000, windows=windows)
    checklist: Any = SimpleNamespace(call_lead_min=45)
    assert lines.latest(Finding(rule, "expected", 0, 0, from_s=1000.0), checklist, asked) == 1000
    assert lines.latest(Finding(rule, "expected", 0, 0, from_s=9000.0), checklist, asked) == 9000 - 1800
    # no later than the call's own lead before off-block
    assert lines.latest(Finding(rule, "expected", 0, 0, from_s=19_900.0), checklist, asked) == 20_000 - 45 * 60


def doors(gust: list[list[float]], operate: float, stay_open: float, **more: Any) -> tuple[Any, ...]:
    more = {"wind_kt": np.full((2, 3), 10.0), **more}
    made = table(gust_kt=gust, relative_wind_deg=np.zeros((2, 3)), storm_near=np.zeros((2, 3), dtype=np.int8), **more)
    margins = np.array(gust)[None]
    made.columns["operate_margins_kt"] = operate - margins
    made.columns["stay_open_margins_kt"] = stay_open - margins
    departure: Any = SimpleNamespace(now=0, windows=SimpleNamespace(phase=lambda *_: (0, 3600)))
    frame = Airframe(doors=(Door("cargo", 90.0, operate, stay_open),))
    return lines.doors(frame, made, departure)


def test_a_known_gust_over_one_limit_is_told_though_another_case_is_not_known() -> None:
    unknown = [[20.0, 20.0, 20.0], [np.nan, np.nan, np.nan]]
    (over,) = doors(unknown, 30.0, 15.0)
    assert (over.status, over.stay_open_status, over.worst_kt) == ("cannot tell", "possible", 20.0)
    # what is over neither is no highest gust
    (under,) = doors(unknown, 30.0, 35.0)
    assert (under.status, under.stay_open_status, under.worst_kt) == ("cannot tell", "cannot tell", None)


def test_a_hazard_of_one_passing_group_names_that_group_alone() -> None:
    lanes = (Case("one", "", "central", "common-practice", lane="TEMPO 0001"),)
    lanes += (Case("two", "", "central", "common-practice", lane="PROB30 0002"),)
    snow = np.array([[0, 0, 0], [0, 0, 0], [0, 1, 0], [0, 0, 0]])
    (hazard,) = hazards(table((*CASES, *lanes), snow=snow), "")
    assert hazard.groups == ("TEMPO 0001",) and hazard.status == "possible"


def test_a_quantity_that_nobody_worked_out_is_missing_itself() -> None:
    assert missing.roots("visibility_m", table(visibility_m=np.full((2, 3), np.nan)), 0) == ("visibility_m",)
    assert missing.roots("not_a_quantity", table(), 0) == ("not_a_quantity",)


# the brief ------------------------------------------------------------------------------------------------------------

REPORT = "METAR ZZZA 100520Z 24008KT 9999 SCT040 M02/M06 Q1013"
ASKED: dict[str, Any] = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}


def test_what_was_said_of_the_fuel_is_said_back_and_nothing_else() -> None:
    said = " ".join(advisor.advise([REPORT], **ASKED, fuel_temperature=-8, parked_since="0500Z").notes)
    assert "fuel at −8 °C" in said
    assert "fuel" not in " ".join(advisor.advise([REPORT], **ASKED, parked_since="0500Z").notes)


def test_a_line_names_its_source_as_the_bibliography_has_it() -> None:
    sources = revision.load().sources
    for line in advisor.advise([REPORT], **ASKED).advice:
        own = sources[line.source.key]
        assert (line.source.title, line.source.locator) == (own.title, own.locator) and line.source.title


def test_a_line_holds_for_its_time_alone_unless_it_says_so() -> None:
    plain = {"id": "x", "kind": "gear", "status": "expected", "weight": "must", "text": "", "during": "parked"}
    line = Advice(**plain, zone=None, from_=None, until=None, by=None, because=(), source=NONE, origin="shipped")  # type: ignore[arg-type]
    assert not line.standing and not line.stop and not line.by_passed


def test_a_phase_that_is_over_is_shown_as_such_and_its_last_minute_counts() -> None:
    phases = {"walk_round": (0, 900), "doors_open": (1800, 3600), "off_block": (3700, 3900)}
    departure = SimpleNamespace(now=1000, windows=SimpleNamespace(phase=lambda name, _: phases[name]))
    gusts = table(gust_kt=[[10.0, 10.0, 40.0], [10.0, 10.0, 10.0]])
    condition = lines.compiled("gust_kt >= 30")
    rule: Any = SimpleNamespace(condition=condition, during=tuple(phases))
    walk, moved, out = trial._phases(rule, SimpleNamespace(future=gusts, departure=departure))  # type: ignore[arg-type]
    # no time of the grid lies in the last of them
    assert (walk.passed, moved.passed, out.passed) == (True, False, True) and walk.parts == out.parts == ()
    assert (moved.from_, moved.until) == ("1970-01-01T00:30:00Z", "1970-01-01T01:00:00Z")
    assert moved.at[0] == "1970-01-01T01:00:00Z" and moved.parts


# the search for a witness ---------------------------------------------------------------------------------------------


PARKED = {"during": "parked", "from_": "", "until": ""}


def line(status: str = "likely", weight: str = "should", **more: Any) -> Any:
    plain = {"status": status, "weight": weight, "by": None, "kind": "request", "stop": False, "text": "Text"}
    return SimpleNamespace(**{**plain, **more})


def test_lines_weigh_by_status_and_above_all_as_a_must() -> None:
    assert witness._weighed(line()) == witness.RANK["likely"] == 3
    assert witness._weighed(line("possible", "must")) == witness.RANK["possible"] + 10


@pytest.mark.parametrize(
    ("what", "old", "new", "plain"),
    [
        ("when", None, line(), True),
        ("when", line(), None, True),
        ("when", line(), line("expected"), False),
        (
            "during",
            line(during="parked", from_="", until=""),
            line("expected", during="parked", from_="", until=""),
            False,
        ),
        ("weight", line(), line(weight="must"), True),
    ],
)
def test_a_difference_is_plain_where_one_side_has_no_line_or_it_is_not_of_the_condition(
    what: str, old: Any, new: Any, plain: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    from advisor.checklist.desk.sought import Sought

    search = object.__new__(witness.Search)
    briefs = [SimpleNamespace(advice=[one] if one is not None else []) for one in (old, new)]
    for one in (old, new):
        if one is not None:
            one.id = "x"
    monkeypatch.setattr(search, "_brief", lambda side, *_: briefs[side])
    found = search._shown(Sought("x", what, "jet"), knobs.situation({}), "an-aircraft")  # type: ignore[arg-type]
    assert found is not None and found[0] is plain


def test_a_situation_of_two_reports_stays_one_of_two() -> None:
    alone, both = knobs.situation({}), knobs.situation({"before": "24008KT 2000 SN OVC010", "air": -2})
    assert alone is not None and both is not None
    assert isinstance(witness._at(alone, "ZZZB").report, str) and len(witness._at(both, "ZZZB").report) == 2


# the grid of settings -------------------------------------------------------------------------------------------------


def test_a_gust_stands_twelve_knots_over_its_mean_wind() -> None:
    for gust, group in ((30, "24018G30KT"), (12, "24000G12KT"), (8, "24000G08KT")):
        made = knobs.situation({"gust": gust})
        assert made is not None and f" {group} " in made.report


def test_the_heights_of_the_sun_are_those_of_their_minutes() -> None:
    minutes, heights = knobs._heights()
    place = astral.Observer(knobs.LATITUDE_DEG, knobs.LONGITUDE_DEG)
    for minute in (0, 540, 735, 1080):
        at = datetime(2027, 2, 10, minute // 60, minute % 60, tzinfo=UTC)
        height = astral.sun.elevation(place, at, with_refraction=False)
        assert heights[list(minutes).index(minute)] == pytest.approx(height, abs=0.1)


def test_a_stretch_holds_its_ends_for_the_light_as_well() -> None:
    heights = np.array([4.0, 5.0, 5.5, 6.0, 6.5])
    cell = Cell("sun_elevation_deg", KNOWN, (5.0, True, 6.0, True))
    assert knobs._fits(cell, heights, 1.0).tolist() == [False, True, True, True, False]


def test_settings_of_two_quantities_are_tried_at_a_pace_of_their_own() -> None:
    # two of three ways each: all nine pairs come up, and none twice
    cells = [Cell("drizzle", KNOWN, code=1), Cell("snow", KNOWN, code=1)]
    found = [one.report for one in knobs.proposals(cells, "walk_round", 35.0, 9)]
    assert len(found) == len(set(found)) == len(settings.FLAGS["snow"])
    rain = [Cell("rain", KNOWN, code=1), Cell("snow", KNOWN, code=1)]
    assert len({one.report for one in knobs.proposals(rain, "walk_round", 35.0, 20)}) >= 3

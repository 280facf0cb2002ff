"""Small facts of the replay in columns, each worked out by hand or held against the plain reading of one report."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgspec
import numpy as np
import pytest

pytest.importorskip("pyarrow")

import pyarrow as pa

from advisor.archive import (
    batches,
    carry,
    changes,
    files,
    flows,
    gather,
    gathered,
    heads,
    instant,
    lately,
    order,
    part,
    plan,
    replay,
    result,
    run,
    tally,
)
from advisor.archive import reading as reader
from advisor.archive import tokens as tk
from advisor.archive import wants as asking
from advisor.archive.held import Of
from advisor.archive.table import said
from advisor.archive.windows import ReportWindows
from advisor.checklist.evaluate import STATUSES, answers, each_time
from advisor.checklist.language.nodes import Evaluator
from advisor.conditions import NO, UNKNOWN, YES, Place
from advisor.errors import FeedError
from advisor.outlook.ended import ALSO_NOW
from advisor.report import metar
from tests.archive.replaying import asked, shipped

AT = datetime(2027, 1, 10, 5, 50, tzinfo=UTC)
AT_S = int(AT.timestamp())
HERE = Place("ZZZA", "ZZZA", 50.0, 10.0)
PLAIN = "ZZZA 100550Z 24008KT CAVOK 05/M02 Q1002"


def read(*texts: str) -> reader.Read:
    """Reports of one station, all of one time, read by token."""
    name = next(word for word in texts[0].split() if word not in ("METAR", "SPECI", "COR"))
    times = np.full(len(texts), AT_S, dtype=np.int64)
    return reader.Reader(sample=0).read(list(texts), [name], np.zeros(len(texts), dtype=np.int32), times)


def read_at(*texts: str) -> Any:
    """The table of reports half an hour apart."""
    times = AT_S + 1800 * np.arange(len(texts))
    return reader.Reader(sample=0).read(list(texts), ["ZZZA"], np.zeros(len(texts), dtype=np.int32), times).table


def large(*texts: str) -> Any:
    return pa.array(list(texts), pa.large_string())


def written(folder: Path, text: str) -> Path:
    file = folder / "a.csv"
    file.write_text(text, encoding="utf-8", newline="")
    return file


def texts_of(file: Path) -> list[str]:
    return [one for batch in batches.batches(file, rows=100) for one in batch.text.to_pylist()]


# reports in which a token alone does not say what it is


@pytest.mark.parametrize(
    "text",
    [
        # a short token may stand before the number that belongs to the fraction behind it
        "KZZA 100550Z 31012KT RA 1 1/2SM OVC008 02/01 A2990",
        # a number and its unit, both short
        "KZZA 100550Z 31012KT 2 SM OVC008 02/01 A2990",
        "KZZA 100550Z 31012KT 10 SM RA OVC008 02/01 A2990",
        # strokes behind a visibility of two tokens stand for the weather, whatever was read last
        "KZZA 100550Z 31012KT 1 1/2SM // OVC008 02/01 A2990 RMK AO2",
        "KZZA 100550Z 31012KT 1 1/2SM // ////// 02/01 A2990",
        # storm cloud of which neither cover nor base is told
        "ZZZA 100550Z 24010KT 9999 //////CB 07/05 Q1009",
        "ZZZA 100550Z 24010KT 9999 ///015TCU 07/05 Q1009",
    ],
)
def test_a_report_is_read_by_token_as_in_full(text: str) -> None:
    found = read(text)
    assert reader.unequal(found.table.row(0), said(metar.read(text, now=AT))) == []
    assert found.whole == 0


@pytest.mark.parametrize(
    "text",
    [
        # a mark of a correction stands before the station
        "METAR COR ZZZA 100550Z 24008KT CAVOK 05/M02 Q1002",
        # air as moist as it can be is none too moist
        "ZZZA 100550Z 24008KT 9999 FEW010 05/05 Q1002",
        # 2.0 and 3.0 lie no further apart than one degree, which is ours
        "KZZA 100550Z 18008KT 10SM CLR 02/01 A3010 RMK AO2 T00300010",
        # obscured with a height, and a layer with one
        "ZZZA 100550Z 24008KT 0800 FG BKN001 VV002 05/05 Q1002",
    ],
)
def test_what_only_looks_odd_is_settled_by_its_tokens(text: str) -> None:
    assert read(text).whole == 0


def test_storm_cloud_is_told_in_four_steps() -> None:
    # as the table documents: -1 not described, 0 none, 1 towering cumulus, 2 cumulonimbus
    skies = ("//////", "FEW010", "FEW010TCU", "FEW010CB")
    found = read(*(f"ZZZA 100550Z 24008KT 9999 {sky} 05/05 Q1002" for sky in skies))
    assert found.table.storm_cloud.tolist() == [-1, 0, 1, 2]


def test_ice_that_built_up_over_six_hours_is_six_hours() -> None:
    # I6010: a tenth of an inch in six hours
    assert read("KZZA 100550Z 31012KT 1SM FZRA OVC008 M01/M02 A2990 RMK AO2 I6010").table.ice_h.tolist() == [6]


def test_a_begin_without_an_hour_says_the_same_an_hour_later_and_one_with_it_a_day_later() -> None:
    def period_s(remark: str) -> int:
        tokens = tk.Tokens(True, False)
        position, _ = tokens.of_remark([*tokens.ids([remark]).tolist(), *[-1] * 20])
        return reader._period_s(tokens.effects[position].entry)

    assert [period_s("SNB05"), period_s("SNB0455")] == [3600, 86_400]


def test_tokens_are_many_once_there_are_more_than_the_most(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tk, "MOST_TOKENS", 1)
    tokens = tk.Tokens(False, False)
    seen = [tokens.many]
    for word in ("FEW010", "FEW020"):
        tokens.ids([word])
        seen.append(tokens.many)
    assert seen == [False, False, True]


# headings and rows


@pytest.mark.parametrize("text", ["ZZZA 1O0550Z 24010KT", "ZZZA 10055OZ 24010KT", "ZZZA 10 550Z 24010KT"])
def test_a_time_that_is_not_six_digits_is_no_heading(text: str) -> None:
    assert heads.heads(large(text)).there.tolist() == [False]


def test_a_correction_behind_two_blanks_is_one() -> None:
    found = heads.heads(large("ZZZA 100550Z  COR 24010KT"))
    assert (found.there.tolist(), found.corrects.tolist()) == ([True], [True])


def test_a_cell_with_a_line_end_in_it_is_not_cut_where_a_block_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batches, "_BLOCK", 150)
    report = "ZZZA 100550Z 24008KT\nCAVOK 05/M02 Q1002"
    file = written(tmp_path, "valid,raw\n" + f'2027-01-10T05:50Z,"{report}"\n' * 20)
    assert texts_of(file) == [report] * 20


def test_an_empty_line_is_no_row(tmp_path: Path) -> None:
    row = f"2027-01-10T05:50Z,{PLAIN}\n"
    assert texts_of(written(tmp_path, f"valid,raw\n{row}\n{row}")) == [PLAIN, PLAIN]


def test_a_row_of_too_few_cells_is_counted_as_an_empty_one(tmp_path: Path) -> None:
    row = f"2027-01-10T05:50Z,{PLAIN}\n"
    assert texts_of(written(tmp_path, f"valid,raw\n{row}short\n{row}")) == [PLAIN, PLAIN, ""]


def test_a_row_without_a_time_is_dated_alike_however_its_file_is_cut() -> None:
    # both rows in one batch, or each in one of its own
    columns = large(PLAIN, PLAIN), pa.array(["2027-01-10T05:50Z", ""]), None
    whole = batches.Dater(Path("a.csv")).date(batches.Batch(1, *columns))
    dater = batches.Dater(Path("a.csv"))
    cut = [
        dater.date(batches.Batch(at + 1, *(None if one is None else one.slice(at, 1) for one in columns)))
        for at in (0, 1)
    ]
    assert whole.refused == [*cut[0].refused, *cut[1].refused]
    assert whole.at_s.tolist() == [one for made in cut for one in made.at_s.tolist()]


def test_of_times_beside_rows_those_that_can_be_read_are_told() -> None:
    batch = batches.Batch(1, large(PLAIN, PLAIN), pa.array(["2027-01-10T05:50Z", "rubbish"]), None)
    seconds, there = batches.Dater(Path("a.csv"))._times(batch)
    assert seconds is not None and (seconds.tolist(), there.tolist()) == ([AT_S, 0], [True, False])


def test_a_station_beside_a_report_is_its_own_or_not_given() -> None:
    beside = pa.array([" zzza", "", None, "ZZZB"])
    assert batches._same(beside, np.array(["ZZZA"] * 4)).tolist() == [True, True, True, False]


def test_a_run_has_its_stations_in_order(tmp_path: Path) -> None:
    column = large("b", "a")
    made = gather.write_run(
        tmp_path / "r.arrow", np.array(["ZZZB", "ZZZA"]), np.array([0, 60]), column, np.zeros(2, dtype=np.bool_)
    )
    assert [(one.name, one.start, one.first_s) for one in made.stations] == [("ZZZA", 0, 60), ("ZZZB", 1, 0)]


def test_a_report_at_the_beginning_of_a_part_belongs_to_it(tmp_path: Path) -> None:
    # a day is 86,400 s: the second report stands where the span begins, the third where it ends
    at_s = np.array([86_399, 86_400, 2 * 86_400])
    made = gather.write_run(
        tmp_path / "r.arrow", np.array(["ZZZA"] * 3), at_s, large("a", "b", "c"), np.zeros(3, dtype=np.bool_)
    )
    part = plan.WorkPart(0, (plan.Span("ZZZA", 86_400, 2 * 86_400),), 1)
    assert plan.load(part, [made], after_s=60).counts.tolist() == [False, True, False]


def test_windows_of_no_reports_are_none() -> None:
    assert ReportWindows(np.zeros(0, dtype=np.int32), np.zeros(0, dtype=np.int64)).first.tolist() == []


# what a cluster says


@pytest.mark.parametrize(("wrong", "why"), [("", "no answer"), ("refused\nat length", "refused")])
def test_a_cluster_that_cannot_be_reached_says_why(monkeypatch: pytest.MonkeyPatch, wrong: str, why: str) -> None:
    def client(address: str, timeout: float) -> None:
        raise OSError(wrong)

    monkeypatch.setattr(carry, "library", lambda name: SimpleNamespace(Client=client))
    with pytest.raises(FeedError, match=rf"cannot be reached \({why}\)"):
        carry._client("tcp://127.0.0.1:9", 1.0)


def test_a_piece_that_fails_on_a_cluster_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    # a stand-in for the library: what failed is told as a future in error, or raised where that is asked for
    tried: list[str] = []

    def submit(calmly: Any, work: Any, piece: str, pure: bool) -> Any:
        tried.append(piece)
        wrong = ValueError(piece) if piece == "bad" else None
        return SimpleNamespace(status="error" if wrong else "finished", exception=lambda: wrong)

    class Ending(list[Any]):
        def __init__(self, futures: list[Any], *, with_results: bool, raise_errors: bool) -> None:
            super().__init__(futures)
            self.raises = raise_errors

        def __iter__(self) -> Any:
            while self:
                future = self.pop(0)
                if self.raises and future.status == "error":
                    raise future.exception()
                yield future, "done"

        def add(self, future: Any) -> None:
            self.append(future)

    class Future(SimpleNamespace):
        __hash__ = object.__hash__

    client = SimpleNamespace(
        submit=lambda *given, pure: Future(**vars(submit(*given, pure=pure))), cancel=lambda futures, force: None
    )
    monkeypatch.setattr(carry, "library", lambda name: SimpleNamespace(as_completed=Ending))
    found = dict(carry.Cluster(client).each(str, [("bad",), ("good",)]))
    assert tried == ["bad", "good", "bad"]
    assert found[1] == "done" and isinstance(found[0], carry.Failed)


# counts


def test_a_change_is_of_the_kind_that_its_two_answers_make() -> None:
    order = ("not indicated", "cannot tell", "possible", "expected")
    new, old = np.meshgrid([STATUSES.index(one) for one in order], [STATUSES.index(one) for one in order])
    named = [["" if one < 0 else changes.KINDS[one] for one in row] for row in changes.kinds(new, old).tolist()]
    # a row for each old answer, a column for each new one, both in the order above
    assert named == [
        ["", "untold", "gained", "gained"],
        ["told_apart", "", "gained", "gained"],
        ["lost", "lost", "", "raised"],
        ["lost", "lost", "lowered", ""],
    ]


def counted(status: list[list[int]], at_s: Any, *, cells: bool = False) -> tally.Tally:
    """One station's reports, counted."""
    made = tally.Tally(tuple(f"rule {number}" for number in range(len(status))), with_cells=cells)
    size = len(at_s)
    station, partly = np.zeros(size, dtype=np.int32), np.zeros(size, dtype=np.bool_)
    codes = np.array(status, dtype=np.int8)
    made.count(codes, np.asarray(at_s), station, ["ZZZA"], ["raw"] * size, partly, ahead_s=3600)
    return made


def test_reports_of_december_are_counted_by_hour() -> None:
    # every hour of two days from the first of December 1970: each hour of the walk twice
    begins = 334 * 86_400
    made = counted([[0] * 48], begins + 3600 * np.arange(48))
    assert made.by_hour[0, 11].sum(axis=1).tolist() == [2] * 24
    assert made.by_hour.sum() == 48


def test_reports_to_open_are_found_for_each_hour_of_a_month() -> None:
    # told at 0, 0, 2, 2 and 3 o'clock of the first of January, and not at 4: the walk is an hour later
    told, not_told = 0, STATUSES.index("not indicated")
    at_s = np.array([0, 60, 7200, 7260, 10_800, 14_400])
    found = counted([[told] * 5 + [not_told]], at_s, cells=True).cells["rule 0"]
    assert {cell: sorted(one.at_s for one in several) for cell, several in found.items()} == {
        1: [0, 60],
        3: [7200, 7260],
        4: [10_800],
    }


def test_a_station_of_which_nothing_is_missing_is_counted_as_well() -> None:
    made = tally.Tally(())
    nothing, all_ = np.zeros(3, dtype=np.bool_), np.ones(3, dtype=np.bool_)
    made.count_silent(["ZZZA", "ZZZB"], np.zeros(3, dtype=np.int32), [nothing, *[nothing] * 4, all_])
    assert {name: table.tolist() for name, table in made.silent.items()} == {"ZZZA": [3, 0, 0, 0, 0, 0, 3]}


def test_a_percentile_is_a_value_that_so_many_lie_at_or_below() -> None:
    # ten reports: six of no line, three of one, one of two
    histogram = np.array([6, 3, 1])
    assert [tally.percentile(histogram, share) for share in (0.5, 0.6, 0.61, 0.9, 1.0)] == [0, 0, 1, 1, 2]
    assert tally.percentile(np.zeros(3, dtype=np.int64), 0.5) == 0


def test_the_middle_of_two_reports_is_the_lower_one() -> None:
    # of two reports, one of no line and one of two, the first half is the one
    told, not_told = 0, STATUSES.index("not indicated")
    months = result.months(counted([[told, not_told], [told, not_told]], np.array([0, 60])))
    assert [(one.month, one.briefs, one.lines_median) for one in months] == [("1970-01", 2, 0)]


def test_a_replay_names_its_checklist() -> None:
    wanted = asked()
    made = run._result(wanted, [], [], tally.Tally(()), {}, None).checklist
    used = wanted.checklist
    assert (made.name, made.revision, made.fingerprint) == (used.name, used.revision, used.fingerprint)


# rules that hold somewhere


def test_a_rule_holds_for_its_aircraft_and_stations_alone() -> None:
    def rule(**more: Any) -> Any:
        return SimpleNamespace(**{"aircraft": (), "stations": (), "months": (), **more})

    mine: Any = SimpleNamespace(id="mine")
    of = Of(mine, ["ZZZA", "ZZZB"], np.array([0, 1], dtype=np.int32), np.zeros(2, dtype=np.int64))
    rules = [rule(), rule(aircraft=("other",)), rule(aircraft=("mine",)), rule(stations=("ZZZB",))]
    none = STATUSES.index("not indicated")
    held = of.held(np.zeros((4, 2), dtype=np.int8), rules)
    assert held.tolist() == [[0, 0], [none, none], [0, 0], [none, 0]]


# what was before


def test_the_last_report_of_all_is_remembered_by_itself() -> None:
    windows = ReportWindows(np.zeros(2, dtype=np.int32), np.array([0, 60]))
    there = np.array([False, True])
    assert lately._within(windows, there, windows.at_s - 7200).tolist() == [False, True]


def test_weather_was_last_seen_when_the_next_report_came_or_an_hour_after_its_own() -> None:
    # half an hour, and three hours, to the next report; behind the last one an hour
    table = read(*["ZZZA 100550Z 24008KT 9999 SN FEW010 M01/M02 Q1002"] * 3).table
    windows = ReportWindows(np.zeros(3, dtype=np.int32), np.array([0, 1800, 12_600]))
    spells = lately._spells(table, windows, lately._own(table))
    assert spells[0][1].tolist() == [1800, 5400, 16_200]


def columns_of(*texts: str) -> dict[str, Any]:
    table = read(*texts).table
    size = len(table)
    made = instant.conditions(
        table,
        np.zeros(size, dtype=np.int32),
        AT_S + 1800 * np.arange(size),
        [HERE],
        off_block_in_min=90.0,
        fuel_stays_cold=False,
    )
    return made.columns


def test_the_visual_range_of_a_report_is_that_of_its_instant_and_the_station_is_as_high_as_the_place() -> None:
    columns = columns_of("ZZZA 100550Z 24008KT 0800 R27/0600 FG VV002 05/05 Q1002")
    assert columns["runway_visual_range_m"].tolist() == [[600.0]]
    assert columns["station_height_difference_m"].tolist() == [[0.0]]


def test_a_storm_in_the_vicinity_has_not_damaged_what_stands_at_the_station() -> None:
    # damage is told by what was observed at the station itself
    near = columns_of("ZZZA 100550Z 24008KT 9999 VCTS FEW010CB 05/02 Q1002")
    here = columns_of("ZZZA 100550Z 24008KT 9999 TSRA FEW010CB 05/02 Q1002")
    assert "recent_thunderstorm" not in ALSO_NOW
    assert [one["recent_thunderstorm"].tolist() for one in (near, here)] == [[[NO]], [[YES]]]


def flows_of_two_reports() -> flows.Flows:
    """One case that lasts and one that does not, (case), over two reports of which nothing falls."""
    made = object.__new__(flows.Flows)
    made._cases, made._size, made._several = 2, 2, False
    made.lasts = np.array([False, True])
    made._rates = np.zeros((4, 4, 2, 1))
    made._bearing = np.zeros(2, dtype=np.intp)
    made._most = [np.full(2, most) for most in (3.0, 2.0, 5.0)]
    made._warm = np.array([[False, True], [False, True]])
    made.silent_h = np.array([0.0, 2.0])
    made._to_report = np.zeros((3, 1, 2, 2))
    return made


def test_in_a_silence_the_most_may_have_come_where_it_is_adverse_and_not_known() -> None:
    # the second report, of two silent hours: frost 0, frozen 3, freezing 2 and liquid 5 mm/h at most
    case, store = np.array([0, 1, 1]), np.array([flows.MOST_ON_APRON, flows.APRON, flows.MOST_ON_APRON])
    made = flows_of_two_reports()
    (frost, frozen, freezing, liquid, _, _), _ = made.to_report(case, store, np.array([1, 1, 1]), silent=True)
    assert [frost.tolist(), frozen.tolist(), freezing.tolist(), liquid.tolist()] == [
        [0, 0, 0],
        [0, 0, 6],
        [0, 0, 4],
        [0, 0, 10],
    ]


def test_what_is_known_to_fall_goes_on_falling_in_a_silence() -> None:
    made = flows_of_two_reports()
    made._rates[:, 1:] = 1.0
    (_, frozen, freezing, liquid, _, _), _ = made.to_report(
        np.array([1]), np.array([flows.MOST_ON_APRON]), np.array([1]), silent=True
    )
    assert [frozen.tolist(), freezing.tolist(), liquid.tolist()] == [[2.0], [2.0], [2.0]]


def test_of_skins_that_differ_in_one_report_the_coldest_freezes_water(monkeypatch: pytest.MonkeyPatch) -> None:
    # the skin is at 1 and 3 degrees, and may be at 1 and -2
    known = {"wing_skin_temperature_c": [1.0, 3.0], "air_temperature_c": [2.0, 2.0], "dew_point_c": [-5.0, -5.0]}
    conditions = SimpleNamespace(number=lambda name: np.array([known[name]]))
    monkeypatch.setattr(flows.lying, "coldest_c", lambda conditions: np.array([[1.0, -2.0]]))
    made = object.__new__(flows.Flows)
    made._cases, made._size = 1, 2
    made._skins(conditions, ReportWindows(np.zeros(2, dtype=np.int32), np.array([0, 1800])))  # type: ignore[arg-type]
    # freezing, by skin and report
    assert made._to_instant[2, :, 0].tolist() == [[0.0, 0.0], [0.0, 1.0]]


# what gathers


def test_what_was_there_and_is_not_known_to_have_gone_is_still_there() -> None:
    # before down, now across: yes, not known, no
    three = (YES, UNKNOWN, NO)
    before, now = (np.array(one, dtype=np.int8) for one in (np.repeat(three, 3), np.tile(three, 3)))
    assert gathered._kept(before, now).tolist() == [YES, YES, NO, YES, UNKNOWN, NO, YES, UNKNOWN, NO]


def test_nothing_lies_where_nothing_falls_grows_or_is_unknown() -> None:
    # of four reports: nothing, snow in the second case, a rate that is not known, pellets
    rates = {"snow_rate_mm_h": np.array([[0.0, 0.0, 0.0, 0.0], [0.0, 1.0, np.nan, 0.0]])}
    marks = {"ice_pellets": np.array([[NO, NO, NO, UNKNOWN]], dtype=np.int8)}
    conditions = SimpleNamespace(
        number=lambda name: rates.get(name, np.zeros((2, 4))),
        flag=lambda name: marks.get(name, np.full((1, 4), NO, dtype=np.int8)),
    )
    windows = ReportWindows(np.zeros(4, dtype=np.int32), 1800 * np.arange(4))
    assert gathered._bears(conditions, windows).tolist() == [False, True, True, True]  # type: ignore[arg-type]


def stepped(stores: list[int], freezing_mm: float, snow_lies: bool) -> tuple[Any, Any, Any]:
    """Two reports over each of some stores, in one case that lasts: the stores, and what lies and is wet or icy."""
    count = len(stores)
    lanes = SimpleNamespace(
        case=np.zeros(count, dtype=np.intp),
        store=np.array(stores),
        lane=np.tile(np.arange(count), 2),
        row=np.repeat([0, 1], count),
        turn=np.repeat([0, 1], count),
        starts=np.array([0, count]),
        counts=np.array([count, count]),
    )

    def to_report(case: Any, store: Any, row: Any, silent: bool = False) -> Any:
        none = np.zeros(row.size)
        return (none, none, none + freezing_mm, none, none, none), np.ones(row.size)

    flow = SimpleNamespace(to_report=to_report, silent_h=np.zeros(2), lasts=np.array([True]))
    made = object.__new__(gathered.Gathering)
    made.table = SimpleNamespace(snow_lies=np.full(2, snow_lies))  # type: ignore[assignment]
    state, lies, damp = made._stepped(lanes, flow)  # type: ignore[arg-type]
    return state.reshape(-1, 2, count), lies.reshape(2, count), damp.reshape(2, count)


def test_a_depth_that_was_measured_lies_on_the_apron_alone() -> None:
    # aircraft, apron, and both with the most that may be
    state, lies, _ = stepped([0, 1, 2, 3], 0.0, True)
    assert (state[1, 0] != 0.0).tolist() == [False, True, False, True]
    assert lies[0].tolist() == [NO, YES, NO, YES]


def test_what_freezes_makes_wet_or_icy() -> None:
    _, lies, damp = stepped([0], 1.0, False)
    assert (lies.tolist(), damp.tolist()) == ([[NO], [YES]], [[NO], [YES]])


def test_a_departure_whose_brief_falls_on_the_beginning_of_a_lost_part_is_not_done() -> None:
    wanted = asked()
    ahead_s = round(run.off_block_in_min(wanted.checklist, wanted.profile) * 60)
    lost = plan.WorkPart(0, (plan.Span("ZZZA", 86_400, 2 * 86_400),), 1)
    for early_s, not_done in ((0, 1), (1, 0)):
        found = run._bank(replace(wanted, departures={"ZZZA": [86_400 + ahead_s - early_s]}), [lost], [])
        assert found is not None and (found.given, found.not_done) == (1, not_done)


# what is wanted


SNOW = "/////KT 9999 SN FEW010 M01/M02 Q1002"


def parted(folder: Path, body: str = SNOW, **more: Any) -> tally.Tally:
    """Three reports of one station, alike but for their times half an hour apart, done as a part."""
    checklist, profile = shipped()
    made = gather.write_run(
        folder / "r.arrow",
        np.array(["ZZZA"] * 3),
        AT_S + 1800 * np.arange(3),
        large(*(f"ZZZA 10{clock}Z {body}" for clock in ("0550", "0620", "0650"))),
        np.zeros(3, dtype=np.bool_),
    )
    work = part.ReplayWork(checklist, profile, {"ZZZA": HERE}, str(folder), True, **more)
    span = plan.Span("ZZZA", AT_S - 3600, AT_S + 7200)
    part.work(plan.WorkPart(0, (span,), 3), [made], work)
    return tally.unpacked(part.named(str(folder), 0, "tally").read_bytes())


@pytest.mark.parametrize("body", [SNOW, "00000KT CAVOK 38/10 Q1012", "24030G45KT 2000 +TSRA BKN010CB 21/20 Q0990"])
def test_a_part_counts_what_its_rules_say_where_every_column_is_worked_out(tmp_path: Path, body: str) -> None:
    checklist, profile = shipped()
    rules = checklist.for_class(profile.class_id)
    given = replay.derived(
        read_at(*(f"ZZZA 10{clock}Z {body}" for clock in ("0550", "0620", "0650"))),
        np.zeros(3, dtype=np.int32),
        AT_S + 1800 * np.arange(3),
        [HERE],
        profile.airframe(),
        off_block_in_min=part.off_block_in_min(checklist, profile),
    )
    status = each_time(answers(rules, given, profile.class_id))
    wanted = [[int((row == one).sum()) for one in range(len(STATUSES))] for row in status]
    assert parted(tmp_path, body).total().tolist() == wanted


def test_a_part_has_rows_of_all_that_is_shown(tmp_path: Path) -> None:
    assert parted(tmp_path).reports == 3
    names = pa.ipc.open_file(str(part.named(str(tmp_path), 0, "arrow"))).read_all().column_names
    assert set(part.SHOWN) <= set(names)


def test_a_change_is_shown_with_the_reports_before_it(tmp_path: Path) -> None:
    # against a checklist of no rules everything told is gained; of three reports those before each stand in its window
    checklist, _ = shipped()
    found = parted(tmp_path, against=msgspec.structs.replace(checklist, rules=()))
    gained = [one for kinds in found.changes.candidates.values() for one in kinds.get("gained", ())]
    assert gained
    for one in gained:
        assert len(one.history) == (one.at_s - AT_S) // 1800


def test_inputs_are_wanted_alike_with_and_without_an_evaluator_at_hand() -> None:
    checklist, profile = shipped()
    rules = checklist.for_class(profile.class_id)
    table = read("ZZZA 100550Z /////KT 9999 SN FEW010 M01/M02 Q1002").table
    given = replay.derived(
        table,
        np.zeros(1, dtype=np.int32),
        np.array([AT_S]),
        [HERE],
        profile.airframe(),
        off_block_in_min=90.0,
        wanted=replay.looked_at(rules),
    )
    evaluator = Evaluator(given.columns, given.shape)
    status = each_time(answers(rules, given, profile.class_id, evaluator))
    rows = np.zeros(1, dtype=np.intp)
    found = asking.wants(status, rules, given, rows, {})
    assert found and found == asking.wants(status, rules, given, rows, {}, evaluator)


def test_the_way_back_looks_at_what_settles_a_quantity_and_at_the_weather() -> None:
    names = asking.behind("gust_kt")
    assert {"gust_kt", "wind_kt", "snow", "rain", "fog"} <= set(names)


def test_a_column_is_looked_at_by_where_it_is_so_and_where_it_may_be() -> None:
    flag = np.array([[YES, NO, UNKNOWN], [NO, NO, NO]], dtype=np.int8)
    conditions = SimpleNamespace(
        columns={"storm_near": flag}, unknown=lambda name: flag == UNKNOWN, flag=lambda name: flag
    )
    looking = asking._Looking(conditions, SimpleNamespace())  # type: ignore[arg-type]
    found = {label: bits.tolist() for label, bits in looking._looked("storm_near").items()}
    assert found == {
        "storm_near central": [False, False, True],
        "storm_near any": [False, False, True],
        "storm_near yes": [True, False, False],
        "storm_near not no": [True, False, True],
    }


BLANKS = ("ZZZA {} 24008KT", "ZZZA {}  24008KT")
# the last evening of January and the first morning of February: the month follows from the row before
NIGHT = (("312250Z", "2027-01-31T22:50Z"), ("312350Z", "2027-01-31T23:50Z"), ("010050Z", "2027-02-01T00:50Z"))


@pytest.mark.parametrize("timed", list(itertools.product((True, False), repeat=3)))
@pytest.mark.parametrize("written", list(itertools.product(BLANKS, repeat=3)))
def test_a_row_without_a_time_runs_on_from_the_one_before_however_that_is_written(
    timed: tuple[bool, ...], written: tuple[str, ...]
) -> None:
    # two blanks take a row out of those that are dated together; the plain way takes all one by one
    texts = [form.format(clock) for form, (clock, _) in zip(written, NIGHT, strict=True)]
    times = [at if there else "" for there, (_, at) in zip(timed, NIGHT, strict=True)]
    month = datetime(2027, 1, 1, tzinfo=UTC)
    rows = [files.row_of({"text": text, "valid": at})[0] for text, at in zip(texts, times, strict=True)]
    usable, refused = order.dated(rows, month=month)
    assert refused == []
    made = batches.Dater(Path("a.csv"), month).date(batches.Batch(1, large(*texts), pa.array(times), None))
    assert made.refused == [] and sorted(made.at_s.tolist()) == [int(one.at.timestamp()) for one in usable]
    # the same where each row is a batch of its own
    dater = batches.Dater(Path("a.csv"), month)
    alone = [
        dater.date(batches.Batch(at + 1, large(texts[at]), pa.array(times[at : at + 1]), None)).at_s.tolist()
        for at in range(3)
    ]
    assert [at_s for one in alone for at_s in one] == sorted(made.at_s.tolist())


def test_the_first_row_that_has_no_time_is_refused_and_the_second_is_not() -> None:
    texts = (PLAIN.replace("100550Z", "100450Z"), PLAIN, PLAIN.replace("100550Z", "100650Z"))
    times = ["", "2027-01-10T05:50Z", ""]
    made = batches.Dater(Path("a.csv")).date(batches.Batch(1, large(*texts), pa.array(times), None))
    assert [number for number, _, _ in made.refused] == [1]
    assert made.at_s.tolist() == [AT_S, AT_S + 3600]

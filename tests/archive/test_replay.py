"""A small invented archive worked by hand, and what does not change the result of a replay."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

pytest.importorskip("pyarrow")

import pyarrow.parquet as pq

from advisor.archive import bank, result, run
from advisor.checklist import revision
from tests.archive.replaying import DATA, counts, replayed

WINTER = DATA / "winter.csv"


@pytest.fixture(scope="module")
def winter() -> result.Replay:
    return replayed(WINTER)


def test_every_row_is_accounted_for(winter: result.Replay) -> None:
    # twelve rows: one that is no report, one NIL, one that a correction replaces, one of a station without a position
    assert (winter.reports, winter.read, winter.refused, winter.nil, winter.doubled) == (12, 8, 1, 1, 1)
    assert winter.left_out == {"ZZZC": 1}
    assert (winter.stations, winter.from_, winter.until) == (2, "2027-01-10T05:50:00Z", "2027-02-12T03:00:00Z")
    (bad,) = winter.bad_rows
    assert "row 12" in bad.where and "no station" in bad.why
    assert not winter.partial and winter.schema == "replay/1"


def test_rules_come_up_as_often_as_by_hand(winter: result.Replay) -> None:
    found = counts(winter)
    # always, so in each of the eight
    assert found["high-visibility"] == (8, 0, 0, 0)
    # 30 kt mean, at least 27 of it an hour later; 16 kt unreported gusts of up to 9 more are below 28
    assert found["strong-wind"] == (1, 0, 0, 0)
    # snow and a thundery shower; one in fog, where nothing falls
    assert found["no-umbrella"] == (2, 0, 0, 0)
    # 400 m in fog
    assert found["low-visibility-apron"] == (1, 0, 0, 0)
    # thunderstorm in the weather group
    assert found["thunderstorm"] == (1, 0, 0, 0)
    # −15 °C and 16 kt (30 km/h) are −26 by the published index, and −3 °C and 8 kt (15 km/h) are −8; the first hour
    # on and colder or windier it stays below −10, the second reaches it in none of the three cases
    assert found["wind-chill"] == (1, 0, 0, 0)
    # walks at 0650 and 0750 UTC in January at 61.4 N 9.8 E: the sun is 18° and 11° below the horizon; at noon and at
    # 42.5 S 171.2 E, where it is afternoon, it is day
    assert found["torch"][0] == 2
    # the heat index of 25 °C is below 32 in every case
    assert found["heat"] == (0, 0, 0, 0)


def test_months_and_lines_are_those_of_the_reports(winter: result.Replay) -> None:
    january, february = winter.by_month
    assert (january.month, january.briefs, february.month, february.briefs) == ("2027-01", 7, "2027-02", 1)
    assert january.lines_median <= january.lines_p90 <= january.lines_worst
    assert february.lines_median == february.lines_worst
    # snow falls at -3 °C: the one brief in which the request is sure
    assert january.de_icing_expected == 1 and february.de_icing_expected == 0


def test_examples_are_reports_in_which_the_rule_is_told(winter: result.Replay) -> None:
    by_rule = {one.rule: one for one in winter.examples}
    assert by_rule["thunderstorm"].raw.endswith("TSRA BKN030CB 22/20 Q1009")
    assert by_rule["thunderstorm"].at == "2027-01-12T02:00:00Z"
    assert max(sum(one.rule == rule for one in winter.examples) for rule in by_rule) <= 3


def test_what_is_missing_is_named_where_a_rule_cannot_be_told(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text("station,valid,raw\nZZZA,2027-01-10T05:50:00Z,ZZZA 100550Z /////KT 9999 OVC040 05/M02 Q1002\n")
    wind = next(one for one in replayed(file).rules if one.id == "strong-wind")
    assert (wind.cannot_tell, wind.wants) == (1, {"wind_kt": 1})


def rows(archive: Path, folder: Path, **more: object) -> tuple[bytes, bytes]:
    """JSON and Parquet of a run."""
    target = folder / "told.parquet"
    made = replayed(archive, output=target, **more)
    return result.to_json(made), target.read_bytes()


def test_rows_say_what_the_counts_say(winter: result.Replay, tmp_path: Path) -> None:
    _, data = rows(WINTER, tmp_path)
    table = pq.read_table(tmp_path / "told.parquet")
    assert table.num_rows == winter.read
    for rule in winter.rules:
        column = table.column(f"status_{rule.id}").to_pylist()
        assert [column.count(code) for code in range(4)] == [
            rule.expected,
            rule.likely,
            rule.possible,
            rule.cannot_tell,
        ]
    assert table.column("station").to_pylist() == ["ZZZA"] * 5 + ["ZZZB"] * 3
    assert table.column("wind_kt").to_pylist()[:2] == [30, 8]
    assert not (tmp_path / "told.parquet.work").exists()
    assert data[:4] == b"PAR1"


STEPS_MIN = (20, 30, 30, 60, 60, 200, 1500)


def archive_of(seed: int, reports: int = 120, steps_min: tuple[int, ...] = STEPS_MIN) -> list[str]:
    """Lines of an invented archive of two stations, with weather of all kinds, gaps and doubled reports."""
    draw = random.Random(seed)
    lines, at = [], 0
    for _ in range(reports):
        at += draw.choice(steps_min)
        day, minute = divmod(at, 1440)
        clock = f"{1 + day % 28:02}{minute // 60:02}{minute % 60:02}Z"
        month = 11 + day // 28
        air = draw.randint(-8, 9)
        sky = draw.choice(("CLR", "OVC008", "BKN040", "FEW010 SCT020CB", "VV002", "///", ""))
        falls = draw.choice(("", "", "-SN", "RA", "FZDZ", "SHRA", "TSGR", "BR", "//"))
        wind = draw.choice(("00000KT", "24012G28KT", "/////KT", "VRB03KT"))
        station, dew = draw.choice(("ZZZA", "ZZZB")), draw.choice(("M02", "01", "//"))
        text = f"{station} {clock} {wind} 6000 {falls} {sky} {max(air, 0):02}/{dew} Q1009"
        text = " ".join(text.split()) + draw.choice(("", "", " RERASN", " RMK CB DSNT W", " RMK SNB02E15"))
        year, month = 2026 + (month - 1) // 12, (month - 1) % 12 + 1
        lines.append(f"{year}-{month:02}-{clock[:2]}T{clock[2:4]}:{clock[4:6]}:00Z,{text}")
    return lines


def written(folder: Path, lines: list[str], name: str = "a.csv") -> Path:
    file = folder / name
    file.write_text("\n".join(["valid,raw", *lines]) + "\n", encoding="utf-8")
    return file


# each example is whole runs: one that fails is shown as it is
@settings(max_examples=10, phases=(Phase.explicit, Phase.generate), suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), part=st.integers(1, 200), chunk=st.integers(1, 150), data=st.data())
def test_order_of_rows_files_and_size_of_parts_change_no_byte(
    tmp_path_factory: pytest.TempPathFactory, seed: int, part: int, chunk: int, data: st.DataObject
) -> None:
    first, second = tmp_path_factory.mktemp("one"), tmp_path_factory.mktemp("two")
    lines = archive_of(seed)
    json_, parquet = rows(written(first, lines), first)
    mixed = list(data.draw(st.permutations(lines)))
    cut = data.draw(st.integers(0, len(mixed)))
    inputs = second / "in"
    inputs.mkdir()
    written(inputs, mixed[:cut], "1.csv")
    written(inputs, mixed[cut:], "2.csv")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run.files, "ROWS_A_PARTITION", chunk)
        again, rows_again = rows(inputs, second, rows=part)
    assert again == json_
    assert rows_again == parquet


def test_against_the_same_checklist_nothing_changes_and_against_a_looser_one_what_it_lost(tmp_path: Path) -> None:
    same = replayed(WINTER, against=revision.load())
    assert same.against is not None and same.against.rules == []
    (tmp_path / "own.toml").write_text(
        '[[advice]]\nid = "strong-wind"\nkind = "caution"\nwhen = "wind_kt >= 40"\nduring = "walk_round"\n'
        'weight = "must"\ntext = "Wind."\nsource = "invented-default"\n',
        encoding="utf-8",
    )
    looser = replayed(WINTER, checklist=revision.load(tmp_path), against=revision.load())
    assert looser.against is not None
    (changed,) = looser.against.rules
    assert (changed.id, changed.lost, changed.gained, changed.raised, changed.lowered) == ("strong-wind", 1, 0, 0, 0)
    (shown,) = changed.examples
    assert shown.change == "lost" and shown.alike and "24030KT" in shown.raw
    # the middle of the walk of a jet lies 35 minutes before off-block
    assert (shown.now, shown.off_block) == ("2027-01-10T05:50:00Z", "2027-01-10T07:25:00Z")


def test_departures_count_the_reports_that_their_briefs_go_by(tmp_path: Path) -> None:
    file = tmp_path / "bank.csv"
    # briefs at 0550 and 0604: the report of 0550; at 0655: that of 0650; at 0200 on the 9th: none
    times = ("2027-01-10T07:25:00Z", "2027-01-10T07:39:00Z", "2027-01-10T08:30:00Z", "2027-01-09T03:35:00Z")
    file.write_text("off_block,station\n" + "".join(f"{at},ZZZA\n" for at in times), encoding="utf-8")
    made = replayed(WINTER, departures=bank.read(file))
    assert made.departures == made.read == 3
    assert counts(made)["strong-wind"] == (2, 0, 0, 0)

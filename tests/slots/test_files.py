"""Schedules, pads and holdover files: what is read, and every fault with file, line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from nights import EXAMPLE, FLEET, NOW

from advisor.errors import ChecklistError, DepartureError
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.files import holdover, schedule
from advisor.slots.files import pads as pad_files

HEAD = "flight,off_block,aircraft,stand,heading_deg,taxi_min,take_off_from,take_off_until"
GOOD = "ZZ1,2027-01-10T06:00:00Z,single-aisle-jet,A1,40,12,,"


def read(*lines: str, head: str = HEAD) -> tuple[schedule.Row, ...]:
    return schedule.parse("\n".join([head, *lines]) + "\n", "s.csv", FLEET, NOW)


def faults(*lines: str, head: str = HEAD) -> list[str]:
    with pytest.raises(DepartureError) as caught:
        read(*lines, head=head)
    return str(caught.value).split("\n")


def test_only_flight_off_block_and_aircraft_are_needed() -> None:
    (row,) = read("ZZ1,2027-01-10T07:00:00+01:00,glider,,,,,")
    assert (row.flight, row.off_block, row.aircraft, row.stand) == ("ZZ1", NOW + 3600, "glider", "")
    assert row.take_off_from is None and row.ready is None and row.taxi_min == schedule.TAXI_MIN


@pytest.mark.parametrize(
    ("taxi", "to_pad", "to_runway", "expected"),
    [
        ("12", "5", "7", (5, 7)),
        ("13", "", "", (6, 7)),
        ("12", "4", "", (4, 8)),
        ("12", "", "9", (3, 9)),
        ("", "0", "", (0, 10)),
    ],
)
def test_whole_way_is_parted_where_the_two_parts_are_not_given(
    taxi: str, to_pad: str, to_runway: str, expected: tuple[int, int]
) -> None:
    (row,) = read(
        f"ZZ1,2027-01-10T06:00:00Z,glider,{taxi},{to_pad},{to_runway}",
        head="flight,off_block,aircraft,taxi_min,to_pad_min,to_runway_min",
    )
    assert (row.to_pad_min, row.to_runway_min) == expected


def test_quoted_cells_and_a_byte_order_mark_are_read(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(b"\xef\xbb\xbf" + f'{HEAD}\r\n"ZZ1",2027-01-10T06:00:00Z,glider,"A1, north",,,,\r\n'.encode())
    assert schedule.read(path, FLEET, NOW)[0].stand == "A1, north"


@pytest.mark.parametrize(
    ("line", "where", "what"),
    [
        (GOOD.replace("Z,", ",", 1), "s.csv:2:5: off_block", "has no time zone"),
        (GOOD.replace("2027-01-10T06:00:00Z", "0600Z"), "s.csv:2:5: off_block", "is not a time"),
        (GOOD.replace("2027-01-10", "2027-02-10"), "s.csv:2:5: off_block", "too far from now"),
        (GOOD.replace("single-aisle-jet", "big-jet"), "s.csv:2:26: aircraft", "'big-jet' is not known; give one of"),
        (GOOD.replace("ZZ1", ""), "s.csv:2:1: flight", "empty"),
        (GOOD.replace(",40,", ",400,"), "s.csv:2:46: heading_deg", "give a number from 0 to 360"),
        (GOOD.replace(",12,", ",-3,"), "s.csv:2:49: taxi_min", "give a number from 0 to 240"),
        (GOOD.replace(",12,", ",nan,"), "s.csv:2:49: taxi_min", "cannot stand here"),
        (GOOD[:-1] + "x,2027-01-10T07:00:00Z", "s.csv:2:52: take_off_from", "is not a time"),
        (GOOD[:-1] + "2027-01-10T07:00:00Z,2027-01-10T06:30:00Z", "s.csv:2:73: take_off_until", "before take_off_from"),
        (GOOD + "2027-01-10T05:30:00Z", "s.csv:2:53: take_off_until", "lies before off_block"),
        (GOOD + ",surplus", "s.csv:2:1", "9 cells under 8 names"),
        (GOOD.replace("ZZ1", "Z" * 41), "s.csv:2:1: flight", "1 to 40 printable characters"),
    ],
)
def test_bad_cell_is_named_with_line_and_column(line: str, where: str, what: str) -> None:
    (fault,) = faults(line)
    assert fault.startswith(where) and what in fault


def test_flight_given_twice_names_both_lines_and_every_fault_comes_in_one_run() -> None:
    found = faults(GOOD, GOOD, GOOD.replace("ZZ1", "ZZ2").replace("single-aisle-jet", "x"))
    assert len(found) == 2
    assert "s.csv:3:1: flight: 'ZZ1' stands in line 2 already" in found[0] and "s.csv:4:26: aircraft" in found[1]


@pytest.mark.parametrize(
    ("head", "what"),
    [
        ("flight,off_block", "no column aircraft"),
        (HEAD + ",gate", "'gate' is not a column"),
        (HEAD + ",flight", "a second column flight"),
        (HEAD.replace(",", ";"), "save the file with commas"),
    ],
)
def test_bad_head_says_what_the_columns_are(head: str, what: str) -> None:
    assert any(what in fault and fault.startswith("s.csv:1:") for fault in faults(GOOD, head=head))


def test_schedule_without_departures_is_refused() -> None:
    assert "no departures" in faults()[0]


@pytest.mark.parametrize(("data", "what"), [(b"\xff\xfe\x00", "not UTF-8"), (b"", "no column")])
def test_file_that_is_no_text_is_refused(tmp_path: Path, data: bytes, what: str) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(data)
    with pytest.raises(DepartureError, match=what):
        schedule.read(path, FLEET, NOW)


def test_missing_schedule_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(DepartureError, match="No such file"):
        schedule.read(tmp_path / "none.csv", FLEET, NOW)


def toml_faults(tmp_path: Path, text: str, load: object) -> list[str]:
    path = tmp_path / "f.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChecklistError) as caught:
        load(path)  # type: ignore[operator]
    return [fault.removeprefix(f"{path}:") for fault in str(caught.value).split("\n")]


PAD = '[[pad]]\nname = "P1"\n'


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "1:1: pad: missing"),
        ('[[pad]]\nname = "P1"\nsize = "huge"\n', "3:8: pad.P1.size: 'huge' cannot stand here"),
        (PAD + PAD, "4:8: pad.P1.name: a second pad 'P1'"),
        (
            PAD + "from = 2027-01-10T06:00:00Z\nuntil = 2027-01-10T05:00:00Z\n",
            "4:9: pad.P1.until: lies at or before from",
        ),
        (PAD + "from = 2027-01-10T06:00:00\n", "3:8: pad.P1.from: '2027-01-10T06:00:00' has no time zone"),
        (PAD + 'wind_limit = "35 km"\n', "3:14: pad.P1.wind_limit: '35 km' is not a quantity in knot"),
        (PAD + "wind_limit = 500\n", "3:14: pad.P1.wind_limit: 500 knots is out of range"),
        (PAD + "colour = 3\n", "3:1: pad.P1.colour: unknown field"),
        (PAD + "[margin]\npossible_share = 1.5\n", "4:18: margin.possible_share: 1.5 cannot stand here"),
        (
            PAD + '[[closure]]\nfrom = "05:00Z"\nuntil = "06:00Z"\nwhy = "x"\npads = ["P9"]\n',
            "7:9: closure[1].pads[1]: no pad 'P9'",
        ),
        (
            PAD + "[treatment]\nsmall = { frost = 0, snow = 1, ice = 1, anti_icing = 1 }\n",
            "4:19: treatment.small.frost: 0 cannot",
        ),
        ("pad = 3\n[[x", "2:4: file: not TOML"),
    ],
)
def test_fault_in_a_pads_file_has_line_column_and_field(tmp_path: Path, text: str, expected: str) -> None:
    found = toml_faults(tmp_path, text, lambda path: pad_files.load(path, NOW))
    assert any(fault.startswith(expected) for fault in found), found


def test_hours_may_be_bare_times_quoted_times_or_times_of_day(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_text(PAD + 'from = "22:00Z"\nuntil = 2027-01-10T09:00:00+01:00\n', encoding="utf-8")
    (pad,) = pad_files.load(path, NOW).pads
    assert (pad.from_s, pad.until_s) == (NOW - 7 * 3600, NOW + 3 * 3600)


HOLD = EXAMPLE.joinpath("holdover.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ("2027-04-30", "2027-01-09", "4:15: valid_until: out of season after 2027-01-09"),
        ("2026-10-01", "2027-01-11", "3:14: valid_from: not in force before 2027-01-11"),
        ("2027-04-30", "2026-04-30", "4:15: valid_until: lies before valid_from"),
        ('"frost"', '"heavy snow"', "12:12: row[1].category: 'heavy snow' cannot stand here"),
        ("low = 240", "low = 500", "15:8: row[1].high: 480 is less than low, 500"),
        ("from_c = -14\nto_c = -3\nlow = 30", "from_c = -14\nto_c = -2\nlow = 30", "25:10: row[3].from_c: overlaps"),
        ('fluid = "invented fluid"\n', "", "1:1: fluid: missing"),
        ("low = 240", "low = -1", "14:7: row[1].low: -1 cannot stand here"),
    ],
)
def test_fault_in_a_holdover_file_has_line_column_and_field(
    tmp_path: Path, before: str, after: str, expected: str
) -> None:
    assert before in HOLD
    found = toml_faults(tmp_path, HOLD.replace(before, after, 1), lambda path: holdover.load(path, NOW, NOW + 3600))
    assert any(fault.startswith(expected) for fault in found), found


def test_missing_holdover_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ChecklistError, match="cannot be read"):
        holdover.load(tmp_path / "none.toml", NOW, NOW)


def test_holdover_is_the_lowest_row_that_holds_and_nothing_outside_the_table(tmp_path: Path) -> None:
    found = holdover.load(EXAMPLE / "holdover.toml", NOW, NOW)
    code = holdover.NAMES.index
    # the file's own rows: light snow from -3 up 45 min, from -14 to below -3 35 min, nothing colder
    assert found.minutes(code("light snow"), -3.0) == 45 and found.minutes(code("light snow"), -3.1) == 35
    assert found.minutes(code("light snow"), -14.0) == 35
    none = ["heavy snow", "hail", "heavier freezing rain", "ice pellets", "mixed", "unknown"]
    for name, air in [("light snow", -14.1), ("light snow", float("nan")), *((name, -1.0) for name in none)]:
        assert np.isnan(found.minutes(code(name), air)), name
    assert found.minutes(code("none"), float("nan")) == float("inf")
    assert "INVENTED EXAMPLE" in found.named()


def test_two_rows_that_may_both_hold_give_the_lower(tmp_path: Path) -> None:
    path = tmp_path / "h.toml"
    path.write_text(
        HOLD + '\n[[row]]\ncategory = "light snow"\nfrom_c = -3\nlow = 33\nhigh = 70\nsurface = "composite"\n',
        encoding="utf-8",
    )
    assert holdover.load(path, NOW, NOW).minutes(holdover.NAMES.index("light snow"), 0.0) == 33


def test_every_category_without_a_guideline_is_one_of_treatment_planning() -> None:
    # no guideline exists for heavy snow, moderate or heavy freezing rain, ice pellets or hail (FAA tables of about
    # 2009-10, cautions); mixed and unknown kinds cannot be looked up at all
    assert set(holdover.NO_GUIDELINE) == {
        "heavy snow",
        "heavier freezing rain",
        "ice pellets",
        "hail",
        "mixed",
        "unknown",
    }
    assert {holdover.FROST} | set(TREATMENT_CATEGORIES) == set(holdover.NAMES) > set(holdover.NO_GUIDELINE)

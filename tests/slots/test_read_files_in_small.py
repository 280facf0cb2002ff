"""Schedules, actuals, pads and holdover files at the edges of what they may say, and where a fault of each lies."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from nights import FLEET, NOW
from test_files import HEAD, PAD, faults, read, toml_faults

from advisor.departure import rfc3339
from advisor.errors import DepartureError
from advisor.slots.files import actuals, schedule
from advisor.slots.files import pads as pad_files
from advisor.slots.files.actuals import Actual
from advisor.slots.files.pads import Margin, PadsFile
from advisor.slots.files.schedule import Row

OFF = "2027-01-10T06:00:00Z"
HOUR = 3600


def stamp(seconds: float) -> str:
    """A time so many seconds from NOW."""
    return rfc3339(NOW + seconds)


# a schedule


def row(**cells: str) -> Row:
    """The only departure of a schedule with these cells besides those that are needed."""
    base = {"flight": "ZZ1", "off_block": OFF, "aircraft": "glider"} | cells
    [found] = read(",".join(base.values()), head=",".join(base))
    return found


def refused(**cells: str) -> str:
    """The only fault of such a schedule, from its column on."""
    base = {"flight": "ZZ1", "off_block": OFF, "aircraft": "glider"} | cells
    [fault] = faults(",".join(base.values()), head=",".join(base))
    return fault.split(" ", 1)[1]


@pytest.mark.parametrize(
    ("name", "low", "high", "beyond"),
    [
        ("heading_deg", "0", "360", ("-0.1", "360.1")),
        ("taxi_min", "0", "240", ("-1", "240.5")),
        ("to_pad_min", "0", "240", ("-1", "240.5")),
        ("to_runway_min", "0", "240", ("-1", "240.5")),
        ("priority", "0.1", "20", ("0.09", "20.1")),
        ("missed_window", "0", "100000", ("-1", "100001")),
        ("fuel_temperature", "-60", "60", ("-60.1", "60.1")),
    ],
)
def test_a_number_of_a_schedule_may_lie_at_the_ends_of_its_range_and_not_beyond(
    name: str, low: str, high: str, beyond: tuple[str, str]
) -> None:
    field = {"taxi_min": "taxi_min", "fuel_temperature": "fuel_temperature_c"}.get(name, name)
    assert [getattr(row(**{name: value}), field) for value in (low, high)] == [float(low), float(high)]
    for value in beyond:
        assert refused(**{name: value}).startswith(f"{name}: ") and f"from {low} to" in refused(**{name: value})
    assert refused(**{name: "x"}).startswith(f"{name}: ")


def test_what_is_not_said_of_a_departure_is_not_known_and_weighs_one() -> None:
    one = row(priority="", heading_deg="", missed_window=" ", fuel_temperature="", parked_since="", place="")
    assert np.isnan([one.heading_deg, one.missed_window, one.fuel_temperature_c]).all() and one.priority == 1
    assert (one.place, one.stand, one.line) == ("", "", 2) and one.take_off_from is None and one.parked_since is None
    assert (one.to_pad_min, one.to_runway_min, one.taxi_min) == (5, 5, 10)
    assert (Row("A", 0, "x").taxi_min, Row("A", 0, "x").priority, Row("A", 0, "x").line) == (10, 1, 0)
    assert (Row("A", 0, "x").to_pad_min, Row("A", 0, "x").to_runway_min) == (5, 5)


def test_minutes_are_rounded_up_and_a_part_longer_than_the_whole_way_leaves_none() -> None:
    assert row(to_pad_min="2.1", to_runway_min="3").to_pad_min == 3 and row(taxi_min="6.5").taxi_min == 7
    over = row(taxi_min="4", to_pad_min="9")
    assert (over.to_pad_min, over.to_runway_min) == (9, 0)
    over = row(taxi_min="4", to_runway_min="9")
    assert (over.to_pad_min, over.to_runway_min) == (0, 9)


def test_times_of_a_departure_lie_near_to_now() -> None:
    # off-block from a day before to 30 h after, other times within 36 h
    for seconds, fine in ((-24 * HOUR, True), (-24 * HOUR - 1, False), (30 * HOUR, True), (30 * HOUR + 1, False)):
        if fine:
            assert row(off_block=stamp(seconds)).off_block == NOW + seconds
        else:
            assert refused(off_block=stamp(seconds)).startswith("off_block: ")
    assert row(ready=stamp(36 * HOUR)).ready == NOW + 36 * HOUR
    assert row(ready=stamp(-36 * HOUR)).ready == NOW - 36 * HOUR
    assert "is too far from now" in refused(ready=stamp(36 * HOUR + 1))
    assert "is too far from now" in refused(take_off_from=stamp(-36 * HOUR - 1))


def test_times_of_a_departure_follow_each_other() -> None:
    one = row(take_off_from=OFF, take_off_until=OFF, parked_since=OFF)
    assert (one.take_off_from, one.take_off_until, one.parked_since) == (NOW + HOUR,) * 3
    assert row(take_off_from=stamp(0)).take_off_from == NOW
    before = stamp(HOUR - 1)
    assert refused(take_off_until=before).startswith("take_off_until: lies before off_block")
    assert refused(take_off_from=stamp(HOUR + 2), take_off_until=stamp(HOUR + 1)).startswith(
        "take_off_until: lies before take_off_from"
    )
    assert refused(parked_since=stamp(HOUR + 1)).startswith("parked_since: lies after off_block")


def test_a_place_is_a_word_in_any_letters_and_a_text_has_forty_characters_at_most() -> None:
    assert row(place="Stand").place == "stand" and row(place="REMOTE").place == "remote"
    assert refused(place="gate").startswith("place: 'gate' cannot stand here")
    assert row(stand="x" * 40).stand == "x" * 40
    assert refused(stand="x" * 41).startswith("stand: not a short line of text")


def test_columns_count_from_one_and_commas_in_quotes_part_nothing() -> None:
    assert schedule._places('a,"b,c",d') == [1, 3, 9] and schedule._places("") == [1]
    # a cell that the line does not have any more is at its beginning
    found: schedule.Faults = []
    cells = schedule.Cells("s.csv", 4, [1, 7], {"flight": "a", "off_block": "b", "stand": ""}, found)
    for name in ("flight", "off_block", "stand", "place"):
        cells.fault(name, "what", "hint")
    assert [(line, column) for line, column, _ in found] == [(4, 1), (4, 7), (4, 1), (4, 1)]
    assert found[1][2] == "s.csv:4:7: off_block: what; hint"


def test_empty_lines_are_left_out_and_a_line_may_end_early() -> None:
    found = read("", "ZZ1," + OFF + ",glider", " , ,", "ZZ2," + OFF + ",glider,B2")
    assert [(one.flight, one.stand, one.line) for one in found] == [("ZZ1", "", 3), ("ZZ2", "B2", 5)]
    # a cell in quotes may go on in the next line, which counts as well
    [fault] = faults('"ZZ1', 'x",' + OFF + ",glider", "ZZ3,,glider")
    assert fault.startswith("s.csv:4:5: off_block: empty")


def test_twenty_faults_are_listed_in_the_order_of_the_file_and_the_others_are_counted() -> None:
    assert schedule.listed([(2, 1, "b"), (1, 9, "a"), (2, 5, "c")]) == "a\nb\nc"
    many = [(line, 1, str(line)) for line in range(1, 22)]
    assert schedule.listed(many[:20]).split("\n") == [str(line) for line in range(1, 21)]
    assert schedule.listed(many).split("\n")[19:] == ["20", "and 1 more faults; mend these first"]


def test_more_flights_or_bytes_than_a_bank_can_have_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(schedule, "MOST_ROWS", 2)
    lines = [f"ZZ{number},{OFF},glider" for number in range(3)]
    assert len(read(*lines[:2])) == 2
    assert faults(*lines) == ["s.csv:4:1: more than 2 flights; plan one bank at a time"]
    path = tmp_path / "s.csv"
    text = f"{HEAD}\n{lines[0]}\n"
    path.write_text(text, encoding="utf-8")
    monkeypatch.setattr(schedule, "MOST_BYTES", len(text))
    assert len(schedule.read(path, FLEET, NOW)) == 1
    monkeypatch.setattr(schedule, "MOST_BYTES", len(text) - 1)
    with pytest.raises(DepartureError, match=r"over .* bytes"):
        schedule.read(path, FLEET, NOW)


def test_a_head_names_each_of_its_faults_where_it_stands() -> None:
    assert faults(head="flight,gate,off_block,flight")[0].startswith("s.csv:1:1: no column aircraft")
    assert [one.split(": ")[0] for one in faults(head="flight,gate,off_block,flight")] == [
        "s.csv:1:1",
        "s.csv:1:8",
        "s.csv:1:23",
    ]
    missing = [one.split(": ")[1].split(";")[0] for one in faults(head="flight")]
    assert missing == ["no column aircraft", "no column off_block"]
    [parted] = faults(head="flight;off_block;aircraft")
    assert parted.startswith("s.csv:1:1: cells are parted by ;")
    assert faults(head=" Flight ,OFF_BLOCK,aircraft")[0].startswith("s.csv:1:1: no departures")


# what has happened

ROWS = (Row("ZZ1", NOW, "glider"),)


def happened(now: int = 2 * HOUR, truck: str = "P1", **seconds: int) -> Actual:
    cells = [stamp(seconds[name]) if name in seconds else "" for name in actuals.TIMES]
    text = ",".join(actuals.COLUMNS) + "\n" + ",".join(["ZZ1", *cells, truck])
    return actuals.parse(text, "a.csv", ROWS, ("P1",), NOW + now)["ZZ1"]


def test_the_state_of_a_flight_is_the_last_that_has_happened() -> None:
    done: dict[str, int] = {}
    assert happened().state == ""
    for name, state in zip(actuals.TIMES, ("off", "at pad", "under way", "treated", "departed"), strict=True):
        done[name] = 60 * len(done)
        assert happened(**done).state == state
    assert (
        happened(departed=5, truck="").state == "departed" and happened(begun=5, departed=5, truck="").begun == NOW + 5
    )


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ("off", "at_pad"),
        ("at_pad", "begun"),
        ("begun", "finished"),
        ("begun", "departed"),
        ("finished", "departed"),
        ("off", "departed"),
    ],
)
def test_what_follows_on_something_may_be_at_the_same_second_and_not_before_it(first: str, then: str) -> None:
    begun = {"begun": 90} if first == "finished" or then == "finished" else {}
    assert happened(**(begun | {first: 100, then: 100}))
    with pytest.raises(DepartureError, match=f"{then}: lies before {first}; give {first} first, then {then}"):
        happened(**(begun | {first: 100, then: 99}))


def test_a_truck_may_begin_before_the_stand_is_left() -> None:
    assert happened(off=100, begun=50).begun == NOW + 50


def test_what_has_happened_lies_before_now_and_not_too_long_ago() -> None:
    assert happened(now=100, off=100).off == NOW + 100
    assert happened(now=0, off=-36 * HOUR).off == NOW - 36 * HOUR
    for seconds, said in ((101, "lies after now"), (100 - 36 * HOUR - 1, "is too far from now")):
        with pytest.raises(DepartureError, match=said):
            happened(now=100, off=seconds)


# pads


def converted(**table: Any) -> PadsFile:
    return msgspec.convert({"pad": [{"name": "P1"}], **table}, PadsFile)


@pytest.mark.parametrize(
    ("table", "key", "low", "high", "step"),
    [
        ("treatment", "clear_min", 0, 240, 1),
        ("treatment", "stand_lead_min", 0, 240, 1),
        ("snow", "min_per_mm", 0.0, 30.0, 0.01),
        ("snow", "most_min", 0, 240, 1),
        ("snow", "taxi_light", 1.0, 5.0, 0.01),
        ("margin", "possible_share", 0.0, 1.0, 0.01),
        ("margin", "freeze_min", 0, 240, 1),
        ("stops", "after_lightning_min", 0, 240, 1),
        ("cost", "medium", 0.0, 100_000.0, 0.01),
        ("noise", "off_block_late_min", 0.0, 60.0, 0.01),
        ("noise", "off_block_spread_min", 0.0, 60.0, 0.01),
        ("runway", "separation_s", 0, 900, 1),
        ("runway", "quarter_capacity", 0, 60, 1),
        ("pad", "refill_after", 0, 200, 1),
        ("pad", "refill_min", 0, 240, 1),
        ("small", "frost", 1, 240, 1),
    ],
)
def test_a_number_of_a_pads_file_may_lie_at_the_ends_of_its_range_and_not_beyond(
    table: str, key: str, low: float, high: float, step: float
) -> None:
    def of(value: float) -> PadsFile:
        if table == "pad":
            return msgspec.convert({"pad": [{"name": "P1", key: value}]}, PadsFile)
        if table == "small":
            return converted(treatment={"small": {"snow": 1, "ice": 1, "anti_icing": 1, key: value}})
        return converted(**{table: {key: value}})

    assert of(low) and of(high)
    for value in (low - step, high + step):
        with pytest.raises(msgspec.ValidationError):
            of(value)


def test_as_many_possible_treatments_share_a_pad_as_the_share_and_its_margin_allow() -> None:
    def sharing(share: float, extra: float = 0.0) -> int:
        margin = Margin(possible_share=share, extra=extra)
        assert margin.load * margin.sharing == 1
        return margin.sharing

    assert [sharing(0.4, 0.1), sharing(0.5, 0.1), sharing(1.0, 1.0), sharing(0.2, 0.05)] == [2, 1, 1, 4]
    # a third is three, though a third is not exactly one; never more than twenty
    assert [sharing(1 / 3), sharing(0.1 + 0.2), sharing(0.05), sharing(0.0)] == [3, 3, 20, 20]


def test_what_is_taken_where_a_pads_file_says_nothing_of_snow_margins_and_stops() -> None:
    """Ours, as all of them; whoever plans without writing them down plans with these."""
    said = converted()
    assert msgspec.structs.astuple(said.snow) == (1.5, 8, 1.1, 1.3, 1.6)
    assert msgspec.structs.astuple(said.margin) == (0.4, 0.8, 0.1, 10, 5, 20)
    assert msgspec.structs.astuple(said.stops) == (None, True, 30)


def pad_file(tmp_path: Path, text: str, now: int = NOW) -> pad_files.Pads:
    path = tmp_path / "p.toml"
    path.write_text(text, encoding="utf-8")
    return pad_files.load(path, now)


def test_hours_without_a_date_are_those_around_now_or_before_the_end(tmp_path: Path) -> None:
    def hours(text: str) -> tuple[float | None, ...]:
        [one] = pad_file(tmp_path, PAD + text).pads
        return tuple(None if moment is None else (moment - NOW) / HOUR for moment in (one.from_s, one.until_s))

    # it is 0500Z
    assert hours('from = "05:00Z"\n') == (0, None) and hours('from = "05:01Z"\n')[0] == pytest.approx(1 / 60 - 24)
    assert hours('until = "05:00Z"\n') == (None, 0) and hours('until = "04:59Z"\n')[1] == pytest.approx(24 - 1 / 60)
    # the last 0700Z before 0600Z lies on the day before
    assert hours('from = "07:00Z"\nuntil = "06:00Z"\n') == (-22, 1) and hours("") == (None, None)


def test_a_pad_has_its_own_wind_limit_else_that_of_all(tmp_path: Path) -> None:
    text = PAD + '[[pad]]\nname = "P2"\nwind_limit = 30\n'
    assert [one.wind_limit_kt for one in pad_file(tmp_path, text + "[stops]\nwind_limit = 35\n").pads] == [35, 30]
    first, _ = pad_file(tmp_path, text).pads
    assert np.isnan(first.wind_limit_kt) and (first.size, first.place, first.engines) == ("any", "remote", "running")
    assert (first.refill_after, first.refill_min) == (0, 15)
    for limit, fine in (("1", True), ("200", True), ("0.9", False), ("200.1", False)):
        found: list[Any] = []
        pad_files._knots("p.toml", float(limit), ("stops",), found)
        assert (found == []) is fine


def test_a_closure_shuts_the_pads_that_it_names_or_all(tmp_path: Path) -> None:
    two = PAD + '[[pad]]\nname = "P2"\n'
    text = two + '[[closure]]\nfrom = "05:30Z"\nuntil = "06:00Z"\nwhy = "x"\n'
    [one] = pad_file(tmp_path, text).closures
    assert (one.pads, one.from_s - NOW, one.until_s - NOW, one.why, one.open_end) == (
        ("P1", "P2"),
        1800,
        HOUR,
        "x",
        False,
    )
    [one] = pad_file(tmp_path, text + 'pads = ["P2"]\n').closures
    assert one.pads == ("P2",)
    same = two + f'[[closure]]\nfrom = {OFF}\nuntil = {OFF}\nwhy = "x"\n'
    [fault] = toml_faults(tmp_path, same, lambda path: pad_files.load(path, NOW))
    assert fault.startswith("7:9: closure[1].until: lies at or before from")
    [fault] = toml_faults(tmp_path, PAD + f"from = {OFF}\nuntil = {OFF}\n", lambda path: pad_files.load(path, NOW))
    assert fault.startswith("4:9: pad.P1.until: lies at or before from")
    assert toml_faults(tmp_path, "pad = []\n", lambda path: pad_files.load(path, NOW))[0].startswith(
        "1:7: pad: no pads"
    )


def test_what_a_pads_file_says_beside_its_pads_is_kept(tmp_path: Path) -> None:
    head = 'holdover = "h.toml"\nplace = "60,25"\nnote = "ours"\n'
    found = pad_file(tmp_path, head + PAD + "[runway]\nseparation_s = 90\n[noise]\ntaxi_spread = 0.5\n")
    assert (found.holdover, found.place, found.note) == (tmp_path / "h.toml", "60,25", "ours")
    assert (found.runway.separation_s, found.noise.taxi_spread) == (90, 0.5)
    bare = pad_file(tmp_path, PAD)
    assert (bare.holdover, bare.place, bare.note) == (None, None, "")

"""A plan as text, CSV, calendar and page: what is in them, and what must never be."""

from __future__ import annotations

import csv
import io
import re
from datetime import datetime
from html.parser import HTMLParser

import icalendar
import msgspec
import pytest
from nights import need, pad, pads, plan, sky, table

from advisor.render.slots.board import board
from advisor.render.slots.files import FORMULA, calendar, cell, csv_table
from advisor.render.slots.text import text
from advisor.slots.result import Plan, schema, to_json

SNOW = sky(falling="light snow")
HOSTILE = '=HYPERLINK("x")<script>alert(1)</script>'
NEEDS = [
    need("ZZ1", 0, anti=5, conditions=SNOW),
    need("ZZ2", 0, status="possible", anti=5, conditions=SNOW),
    need("ZZ3", 5, status="not indicated"),
    need(HOSTILE, 6, conditions=SNOW),
    need("ZZ5", 300, size="large", conditions=SNOW),
]
PADS = pads(pad("P1", hours=(0, 200)), pad("@P2", hours=(0, 200)))
MADE = plan(NEEDS, PADS, table({"light snow": 30}))
DRY = plan(NEEDS[:1], PADS)
CALM_WORDS = re.compile(r"\b(is|are) clean|clear of ice|no de-?icing (is )?needed|safe to\b", re.I)


def every_output(made: Plan) -> dict[str, str]:
    return {
        "text": text(made),
        "csv": csv_table(made),
        "ics": calendar(made).decode(),
        "html": board(made),
        "json": to_json(made).decode(),
    }


@pytest.mark.parametrize("form", ["text", "csv", "ics", "html", "json"])
def test_invented_holdover_is_named_as_invented_in_every_output(form: str) -> None:
    assert "INVENTED" in every_output(MADE)[form].replace("\r\n ", "")
    assert "INVENTED" not in every_output(DRY)[form]


@pytest.mark.parametrize("form", ["text", "csv", "ics", "html", "json"])
def test_no_output_says_that_an_aircraft_is_clean(form: str) -> None:
    assert not CALM_WORDS.search(every_output(MADE)[form])


@pytest.mark.parametrize("form", ["text", "csv", "html", "json"])
def test_every_flight_is_in_every_table_those_without_a_slot_as_well(form: str) -> None:
    # ZZ5 leaves at minute 300, the pads close at 200
    assert [one.flight for one in MADE.unplanned] == ["ZZ5"]
    for flight in ("ZZ1", "ZZ2", "ZZ3", "ZZ5"):
        assert flight in every_output(MADE)[form]


def test_not_indicated_comes_with_its_reason_and_the_usual_caution() -> None:
    said = text(MADE)
    part = said[said.index("TREATMENT NOT INDICATED") :]
    assert "not a promise" in part and "ZZ3" in part and "by hand" in part
    assert "Only the inspection itself can tell" in said and "nor of who else uses the runway" in " ".join(said.split())


@pytest.mark.parametrize("value", ["=1+1", "+1", "-1+2", "@sum", "\t=1", "\r=1", "  =1", "＝1", "=cmd|' /C calc'!A0"])
def test_cell_that_begins_like_a_formula_is_neutralised(value: str) -> None:
    assert cell(value).startswith("'") and cell(value)[1:] == value


def test_numbers_and_plain_text_stay_as_they_are() -> None:
    assert [cell(value) for value in (-3, 2.5, "ZZ1", None, "a=b")] == ["-3", "2.5", "ZZ1", "", "a=b"]


def test_csv_reads_back_with_a_line_a_flight_and_no_formula() -> None:
    rows = list(csv.DictReader(io.StringIO(csv_table(MADE), newline="")))
    assert [row["flight"] for row in rows[:5]] == ["ZZ1", "ZZ2", "ZZ3", f"'{HOSTILE}", "ZZ5"]
    for row in rows:
        for name, value in row.items():
            assert value is None or not str(value).startswith(FORMULA) or name.endswith("_min"), value
    assert rows[4]["remarks"].startswith("no slot: ")


def test_calendar_has_one_event_a_treatment_at_its_times() -> None:
    read = icalendar.Calendar.from_ical(calendar(MADE))
    events = {str(event["summary"]): event for event in read.walk("VEVENT")}
    treated = [one for one in MADE.departures if one.start]
    assert len(events) == len(treated) == 3
    for one in treated:
        event = next(event for summary, event in events.items() if one.flight in summary)
        assert event.decoded("dtstart") == datetime.fromisoformat(one.start or "")
        assert event.decoded("dtend") == datetime.fromisoformat(one.end or "")
        assert str(event["location"]) == one.pad
    assert len({str(event["uid"]) for event in events.values()}) == 3
    assert calendar(MADE) == calendar(MADE)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


def test_board_is_one_file_without_script_or_anything_from_elsewhere() -> None:
    html = board(MADE)
    parser = _Tags()
    parser.feed(html)
    names = [tag for tag, _ in parser.tags]
    assert not {"script", "link", "img", "iframe", "object"} & set(names)
    assert not any(key in attrs for _, attrs in parser.tags for key in ("src", "href", "onclick", "onload"))
    assert "url(" not in html and "@import" not in html and "&lt;script&gt;" in html


def test_chart_has_a_box_for_each_treatment_within_its_pad_and_none_on_top_of_another() -> None:
    parser = _Tags()
    parser.feed(board(MADE))
    boxes = [attrs for tag, attrs in parser.tags if tag == "rect" and attrs.get("class") in ("expected", "possible")]
    assert len(boxes) == 3
    spans = [
        (
            float(box["x"] or 0),
            float(box["x"] or 0) + float(box["width"] or 0),
            float(box["y"] or 0),
            float(box["y"] or 0) + float(box["height"] or 0),
        )
        for box in boxes
    ]
    for at, (x1, x2, y1, y2) in enumerate(spans):
        assert x2 > x1 and y2 > y1
        for u1, u2, v1, v2 in spans[:at]:
            assert x2 <= u1 or u2 <= x1 or y2 <= v1 or v2 <= y1


def test_line_for_the_pad_has_flight_stand_type_surfaces_deposit_and_ready_time() -> None:
    line = next(one.pad_line for one in MADE.departures if one.flight == "ZZ1")
    assert line == (
        "ZZ1, stand A1, Single-aisle jet, engines under the wing: plan for snow (expected, not inspected) on wings, "
        "tail and fuselage, de-icing and anti-icing, off-block 0500Z"
    )
    possible = next(one.pad_line for one in MADE.departures if one.flight == "ZZ2")
    assert ": plan for snow (possible, not inspected) on wings, tail and fuselage, " in str(possible)


def test_json_fits_its_schema_and_has_the_contract_s_names() -> None:
    data = msgspec.json.decode(to_json(MADE))
    assert data["schema"] == "plan/1"
    assert {
        "flight",
        "need",
        "pad",
        "start",
        "end",
        "take_off",
        "delay_min",
        "latest_call",
        "holdover_min",
        "holdover_left_min",
        "changed",
    } <= set(data["departures"][0])
    assert {"objective", "bound", "gap", "status", "unplanned"} <= set(data)
    assert msgspec.json.decode(to_json(MADE), type=Plan) == MADE
    assert schema()["$defs"]["Plan"]["properties"]["schema"] == {"enum": ["plan/1"], "default": "plan/1"}


def test_load_against_capacity_counts_the_minutes_planned() -> None:
    # two treatments in full, one by half: 15 + 10 + 15 / 2 minutes of pads with nothing for clearing
    assert sum(one.load_min for one in MADE.load) == pytest.approx(15 + 10 + 7.5)
    assert all(one.load_min <= one.capacity_min for one in MADE.load)


def test_treatment_without_a_guideline_says_so_and_shows_no_minutes() -> None:
    heavy = plan([need("ZZ1", 0, conditions=sky(falling="heavy snow"))], PADS, table({"light snow": 30}))
    one = heavy.departures[0]
    assert one.start is not None and one.holdover_min is None and one.holdover_left_min is None
    assert one.holdover_note == "no guideline exists for heavy snow: ask for the operator's decision"
    assert "no guideline exists for heavy snow" in " ".join(text(heavy).split())

"""In which part a line stands and where, and what changed between two briefs; each by hand."""

from __future__ import annotations

import msgspec
import pytest

from advisor.brief.changes import changes, incomparable
from advisor.brief.model import Advice, Brief, DoorAdvice, Named, PlaceOut, SourceOut, WindowsOut
from advisor.brief.order import PARTS, in_order, part_of
from advisor.checklist.rules import Rule

SOURCE = SourceOut("k", "t", "l", "common practice")


def rule(name="one", kind="checkpoint", **more):
    return Rule(name, kind, "always", ("walk_round",), "must", "Text", "common-practice", **more)


def line(name="one", part="walk", **more):
    plain = {"kind": "checkpoint", "status": "expected", "weight": "must", "text": "Text", "during": "walk_round"}
    plain |= {"zone": None, "from_": None, "until": None, "by": None, "because": (), "source": SOURCE}
    return Advice(id=name, part=part, origin="shipped", **{**plain, **more})


def names(*lines, position=lambda zone: {"nose": 1, "tail": 2}.get(zone, 0)):
    return [one.id for one in in_order(lines, position)]


def test_the_parts_stand_in_reading_order():
    assert PARTS == ("stop", "call", "take", "doors", "out", "walk", "start", "untold")
    assert names(*(line(part, part) for part in reversed(PARTS))) == list(PARTS)


@pytest.mark.parametrize(
    ("kind", "part"),
    [("request", "call"), ("gear", "take"), ("door", "doors"), ("caution", "out"), ("checkpoint", "walk")],
)
def test_a_line_stands_by_its_kind(kind, part):
    assert part_of(rule(kind=kind), "expected", "walk_round") == part
    # what is decided after the walk comes before off-block, but for a call
    assert part_of(rule(kind=kind), "expected", "off_block") == ("call" if kind == "request" else "start")
    assert part_of(rule(kind=kind), "expected", "take_off") == ("call" if kind == "request" else "start")


def test_what_stops_stands_first_and_a_reminder_to_brief_again_last():
    assert part_of(rule(stop=True), "possible", "take_off") == "stop"
    assert part_of(rule("recheck", "request"), "expected", "parked") == "start"


def test_what_cannot_be_told_stands_apart_but_for_what_nobody_may_overlook():
    assert part_of(rule(stop=True), "cannot tell", "walk_round") == "untold"
    assert part_of(rule("de-icing-request", "request"), "cannot tell", "parked") == "call"
    assert part_of(rule("wing-upper-surface"), "cannot tell", "walk_round") == "walk"
    cold = rule("cold-soaked-wing")
    assert part_of(cold, "cannot tell", "walk_round", ("fuel_temperature_c",)) == "walk"
    assert part_of(cold, "cannot tell", "walk_round", ("fuel_temperature_c", "wind_kt")) == "untold"
    assert part_of(cold, "cannot tell", "walk_round", ()) == "untold"
    assert part_of(rule(), "cannot tell", "walk_round", ("fuel_temperature_c",)) == "untold"


def test_calls_stand_by_their_latest_time_the_one_for_treatment_first():
    soon, late = "2027-01-10T05:30:00Z", "2027-01-10T06:00:00Z"
    calls = [line("late", "call", by=late), line("soon", "call", by=soon), line("never", "call")]
    assert names(*calls, line("de-icing-request", "call", by=late)) == ["de-icing-request", "soon", "late", "never"]
    # a call that is due now comes before it, where it is a must
    due = line("due", "call", by=late, by_passed=True)
    assert names(*calls, line("de-icing-request", "call", by=late), due)[0] == "due"
    weak = msgspec.structs.replace(due, weight="should")
    assert names(line("de-icing-request", "call", by=late), weak)[0] == "de-icing-request"
    # elsewhere that it is over says nothing
    assert names(line("a", by_passed=True, zone="tail"), line("b", zone="nose")) == ["b", "a"]


def test_the_walk_goes_by_zone_and_then_by_weight_and_how_sure_a_line_is():
    told = [
        line("tail", zone="tail"),
        line("nose-should", zone="nose", weight="should"),
        line("nose-possible", zone="nose", status="possible"),
        line("nose-likely", zone="nose", status="likely"),
        line("nose", zone="nose"),
        line("all"),
    ]
    assert names(*told) == ["all", "nose", "nose-likely", "nose-possible", "nose-should", "tail"]
    # zones count in the walk alone
    assert names(line("x", "take", zone="tail"), line("y", "take", zone="nose")) == ["x", "y"]


def brief(advice=(), doors=(), **more):
    plain = {"made_at": "2027-01-10T05:25:00Z", "now": "2027-01-10T05:25:00Z"}
    where = PlaceOut("an invented field", None, 61.4, 9.8, None)
    span = ("2027-01-10T05:55:00Z", "2027-01-10T06:15:00Z")
    windows = WindowsOut(span, span, "2027-01-10T06:40:00Z", "2027-01-10T06:55:00Z")
    given = dict.fromkeys(("reports", "timeline", "not_decoded", "missing", "loosened", "cautions"), ())
    given |= {"place": where, "aircraft": Named("glider", "Glider"), "windows": windows, "checklist": None}
    return Brief(advice=tuple(advice), doors=tuple(doors), **{**plain, **given, **more})


def door(status):
    return DoorAdvice("front", None, 20.0, 40.0, 50.0, status, None)


def said(before, after):
    return [(one.what, one.id, one.before, one.after) for one in changes(before, after)]


def test_lines_that_come_go_rise_and_fall_are_named_graver_ones_first():
    statuses = ("cannot tell", "possible", "likely", "expected")
    for at, low in enumerate(statuses):
        for high in statuses[at + 1 :]:
            one, other = brief([line(status=low)]), brief([line(status=high)])
            assert said(one, other) == [("raised", "one", low, high)]
            assert said(other, one) == [("lowered", "one", high, low)]
    was = brief([line("goes"), line("falls"), line("moves", by="1"), line("rises", status="possible"), line("stays")])
    now = [line("falls", status="likely"), line("moves", by="2"), line("rises"), line("stays"), line("comes")]
    assert said(was, brief(now)) == [
        ("added", "comes", None, "expected"),
        ("raised", "rises", "possible", "expected"),
        ("moved", "moves", "1", "2"),
        ("lowered", "falls", "expected", "likely"),
        ("gone", "goes", "expected", None),
    ]


def test_another_weight_is_a_change_and_counts_before_another_time():
    should = brief([line(weight="should", by="1")])
    must = brief([line(by="2")])
    assert said(should, must) == [("raised", "one", "should", "must")]
    assert said(must, should) == [("lowered", "one", "must", "should")]
    # the status counts before both
    assert said(should, brief([line(status="likely")])) == [("lowered", "one", "expected", "likely")]


def test_doors_rise_and_fall_and_one_that_was_not_there_says_nothing():
    order = ("within", "cannot tell", "possible", "exceeded")
    for at, low in enumerate(order):
        assert said(brief(doors=[door(low)]), brief(doors=[door(low)])) == []
        for high in order[at + 1 :]:
            one, other = brief(doors=[door(low)]), brief(doors=[door(high)])
            assert said(one, other) == [("raised", "door: front", low, high)]
            assert said(other, one) == [("lowered", "door: front", high, low)]
    assert said(brief(), brief(doors=[door("exceeded")])) == []


def test_a_brief_of_another_aircraft_place_or_day_is_not_compared():
    one = brief()
    assert incomparable(one, one) == ""
    assert "another aircraft: glider, not helicopter" in incomparable(one, brief(aircraft=Named("helicopter", "")))

    def at(latitude, longitude):
        return brief(place=PlaceOut("there", None, latitude, longitude, None))

    assert incomparable(one, at(61.44, 9.8)) == "" == incomparable(one, at(61.4, 9.76))
    assert "another place" in incomparable(one, at(61.46, 9.8))
    assert "another place" in incomparable(one, at(61.4, 9.74))
    # beside the line of dates
    assert incomparable(at(0.0, 179.99), at(0.0, -179.99)) == ""

    def leaving(text):
        return brief(windows=msgspec.structs.replace(one.windows, off_block=text))

    assert incomparable(one, leaving("2027-01-10T18:40:00Z")) == ""
    assert "another day" in incomparable(one, leaving("2027-01-10T18:41:00Z"))
    assert "another day" in incomparable(one, leaving("2027-01-09T18:39:00Z"))

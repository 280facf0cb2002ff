"""The brief as text: eighty columns, one screen on a quiet day, meaning never by colour, missing inputs folded."""

from __future__ import annotations

import re

import pytest

from advisor import advise
from advisor.render.text import WIDTH, render, rows

WINTER = {"now": "2027-01-10T05:40:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
SUMMER = {"now": "2027-06-15T11:40:00Z", "off_block": "2027-06-15T12:40:00Z", "place": "61.4,9.8"}
REPORTS = {
    "quiet": ("METAR ZZZA 151120Z 24006KT CAVOK 18/08 Q1018", SUMMER),
    "snow": ("METAR ZZZA 100520Z 24028G45KT 0800 +SN FZFG VV002 M03/M04 Q0990", WINTER),
    "nothing": ("METAR ZZZA 100520Z AUTO /////KT //// // ////// 03/// Q////", WINTER),
    "odd": ("METAR ZZZA 100520Z 24008KT 9999 FEW030 M01/M02 Q1013 XYZZY " + "LONGGROUP" * 12, WINTER),
}


def text(name: str, **more: object) -> str:
    report, asked = REPORTS[name]
    return render(advise(report, **asked, **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", REPORTS)
def test_no_line_is_wider_than_eighty_columns(name: str) -> None:
    wide = [line for line in text(name).splitlines() if len(line) > WIDTH and "LONGGROUP" not in line]
    assert wide == []


def test_a_quiet_day_fits_one_screen() -> None:
    # a station whose position is known, by day, nothing going on
    brief = advise(
        "METAR KJFK 151751Z 24006KT 10SM CLR 18/08 A3012", now="2027-06-15T18:00:00Z", off_block="2027-06-15T19:00:00Z"
    )
    assert len(render(brief).splitlines()) <= 32


@pytest.mark.parametrize("name", REPORTS)
def test_nothing_in_it_depends_on_colour(name: str) -> None:
    assert "\x1b" not in text(name)


def test_the_parts_come_in_the_order_in_which_people_need_them() -> None:
    heads = [
        row.text.partition(" (")[0]
        for row in rows(advise(REPORTS["snow"][0], **REPORTS["snow"][1]))
        if row.kind == "title"
    ]
    wanted = [
        "WAIT OR STOP",
        "CALL OR ASK FOR",
        "TAKE AND WEAR",
        "DOORS",
        "OUT ON THE APRON",
        "ON THE WALK",
        "BEFORE YOU START",
        "COULD NOT BE TOLD",
        "BEAR IN MIND",
    ]
    assert heads == [head for head in wanted if head in heads] and heads[0] == "WAIT OR STOP"


@pytest.mark.parametrize("name", ["quiet", "snow"])
def test_a_line_with_its_reason_takes_at_most_three_short_lines_and_most_take_two(name: str) -> None:
    sizes, size = [], 0
    for line in text(name).split("BEAR IN MIND")[0].split("DOORS")[0].splitlines():
        if re.match(r"  [!\-] ", line):
            sizes.append(size)
            size = 1
        elif line.startswith("    "):
            size += 1
    assert max(sizes) <= 3 and sum(one > 2 for one in sizes) <= len(sizes) / 4


def test_what_could_not_be_told_is_one_line_an_input() -> None:
    part = text("nothing").split("COULD NOT BE TOLD")[1]
    inputs = re.findall(r"\? Without ([a-z ]+):", part)
    assert inputs and len(inputs) == len(set(inputs)) <= 6


def test_groups_that_were_not_understood_are_shown_as_they_stand() -> None:
    assert "XYZZY" in text("odd").split("NOT UNDERSTOOD IN THE REPORT")[1]


def test_it_says_how_far_ahead_it_looks_and_how_old_the_report_is() -> None:
    head = " ".join(" ".join(text("snow").splitlines()[:12]).split())
    assert "60 min ahead" in head and "20 min old" in head


def test_numbers_have_a_true_minus_sign_and_temperatures_a_unit() -> None:
    assert "−3 °C" in text("snow") and " -3 °C" not in text("snow")


def test_the_reason_of_a_frost_line_says_how_far_the_skin_lies_below_where_frost_forms() -> None:
    brief = advise("METAR ZZZA 100520Z 00000KT CAVOK 01/M01 Q1030", **WINTER)  # type: ignore[arg-type]
    line = next(line for line in brief.advice if line.id == "wing-upper-surface")
    item = next(item for item in line.because if item.quantity == "frost_margin_c")
    # as sure as it is: in whole degrees, the central case first
    margins = [row["frost_margin_c"] for row in brief.timeline]
    about, most = (max(row[name] for row in margins) for name in ("central", "high"))
    assert item.central > 1 and item.high > item.central
    said = f"skin about {about:.0f}, at worst {most:.0f} °C below where frost forms"
    assert said in " ".join(render(brief).split())


def test_local_time_stands_beside_utc_where_the_zone_is_known() -> None:
    report = "METAR KJFK 100551Z 24008KT 10SM CLR 02/M05 A3001"
    brief = advise(report, now="2027-01-10T06:00:00Z", off_block="2027-01-10T07:00:00Z")
    # New York is five hours behind UTC in January
    assert "off-block 0700Z (02:00 local)" in " ".join(render(brief).split())

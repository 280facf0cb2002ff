"""How many reasons the first view names one by one, and in which order."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

import advisor
from advisor.web import digest
from tests.web.site import NOW, PLACE, QUIET, STORM, WORST, brief_page, client
from tests.web.test_walk_page import begun


@pytest.mark.parametrize("report", [STORM, WORST, QUIET])
def test_two_reasons_to_stop_stand_alone_the_gravest_first_and_the_others_together(report: str) -> None:
    made = advisor.advise([report], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE)
    told = [line for line in made.advice if line.stop and line.status != "cannot tell"]
    rows = [row for row in digest.stop(made).rows if row.lead != "Cannot tell"]
    alone = [row for row in rows if not row.lead.startswith("Also")]
    assert len(alone) == min(2, len(told))
    assert [row.lead for row in rows[2:]] in ([], ["Also"], ["Also, some not certain"])
    assert (len(rows) > 2) == (len(told) > 2)
    order = ["expected", "likely", "possible"]
    first = sorted((line.status for line in told), key=order.index)[:2]
    assert [row.lead for row in alone] == ["" if status == "expected" else status.capitalize() for status in first]


def test_a_storm_has_more_than_two_reasons_to_stop() -> None:
    # so that the test above is of more than two
    made = advisor.advise([STORM], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE)
    assert sum(line.stop and line.status != "cannot tell" for line in made.advice) > 2


def _gear(name: str, weight: str, status: str) -> SimpleNamespace:
    return SimpleNamespace(id=name, kind="gear", stop=False, weight=weight, status=status, short=name, text=name)


def test_what_has_to_be_taken_stands_before_what_should_be() -> None:
    lines = [_gear("cap", "should", "expected"), _gear("lamp", "must", "possible"), _gear("gloves", "must", "expected")]
    answer = digest.take(SimpleNamespace(advice=lines))
    assert answer.verdict == "3 things"
    assert [(row.lead, len(row.items)) for row in answer.rows] == [("", 2), ("Also", 1)]
    said = [text for row in answer.rows for text, _ in row.items]
    assert [next(name for name in ("cap", "lamp", "gloves") if name in text) for text in said] == [
        "gloves",
        "lamp",
        "cap",
    ]


def test_the_walk_alone_is_a_numbered_list() -> None:
    with client() as site:
        page = brief_page(site).text
    sections = re.findall(r'<section class="part ([a-z]+)".*?<(ol|ul) class="lines">', page, re.DOTALL)
    assert {kind for kind, marks in sections if marks == "ol"} == {"walk"}
    assert {"doors", "plain", "walk"} <= {kind for kind, _ in sections}


def test_zones_of_the_walk_are_offered_in_words(tmp_path: Path) -> None:
    with client(data=tmp_path, database=f"sqlite:///{tmp_path / 'record.sqlite'}") as site:
        page = site.get(begun(site)).text
    offered = dict(
        re.findall(r'<option value="([a-z-]+)">([^<]*)</option>', page.split('id="zone"')[1].split("</select>")[0])
    )
    assert offered and all(said == zone.replace("-", " ") for zone, said in offered.items() if zone != "all")
    assert any("-" in zone for zone in offered)


@pytest.mark.parametrize("report", [WORST, QUIET])
def test_every_link_within_the_page_leads_to_the_one_place_of_that_name(report: str) -> None:
    with client() as site:
        page = brief_page(site, report).text
    places = re.findall(r'\bid="([^"]*)"', page)
    links = re.findall(r'href="#([^"]*)"', page)
    assert len(set(places)) == len(places) and "" not in places
    assert links and set(links) <= set(places)
    assert any(link.startswith("part-") for link in links)


@pytest.mark.parametrize(
    ("status", "verdict", "tone"),
    [("expected", "yes", digest.GRAVE), ("likely", "likely", digest.GRAVE), ("possible", "possible", digest.MIND)],
)
def test_what_is_only_possible_is_said_in_a_milder_tone(status: str, verdict: str, tone: str) -> None:
    line = _gear("storm", "must", status)
    line.stop = True
    answer = digest.stop(SimpleNamespace(advice=[line]))
    assert (answer.verdict, answer.tone) == (verdict, tone)


def test_what_should_have_been_asked_for_stands_first_and_marked_and_all_else_by_its_time() -> None:
    made = advisor.advise([WORST], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE)
    told = [line for line in made.advice if line.kind == "request" and line.status != "cannot tell"]
    # ten past six: what was to be asked for by six is late, what is for later is not
    view = "2027-01-10T06:10:00Z"
    rows = digest._requests(told, made, view)
    late = [line for line in told if line.by_passed or (line.by is not None and line.by < view)]
    times = [row.by for row in rows]
    assert late and rows[0].lead == "Late, now" and (rows[0].by, len(rows[0].items)) == ("", len(late))
    assert rows[0].grave == any(line.weight == "must" for line in late)
    assert not any(row.grave for row in rows[1:])
    known = [at for at in times[1:] if at]
    assert known == sorted(known) and all(at >= view for at in known)
    assert sum(len(row.items) for row in rows) == len(told)

"""Every form of output prints the same lines, in the same order, with the same marks: text, page, sheet and paper."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser

import pypdf
import pytest

from advisor import Brief
from advisor.render.html import render_html
from advisor.render.listing import Part, listing
from advisor.render.pdf import render_pdf
from advisor.render.text import render
from advisor.web.view import laid_out
from tests.test_samples import NAMES, make

SPACES = re.compile(r"[\s\u200b\u2060]")
MARKS = {"!": "!", "-": "–", "?": "?", "": ""}


def squeezed(words: str) -> str:
    """Without spaces, which stand where lines break."""
    return SPACES.sub("", words)


class Words(HTMLParser):
    """The visible words of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.hidden = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.hidden += tag in ("style", "title", "svg")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "title", "svg")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def of_paper(brief: Brief) -> str:
    return " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(render_pdf(brief))).pages)


def said(part: Part) -> list[str]:
    """A part as every face has it, in order: its title and reason, then mark, text and reason of each line."""
    found = [part.title.casefold(), part.why]
    for one in part.entries:
        found += [one.text, one.why]
    return [squeezed(one) for one in found if one]


@pytest.mark.parametrize("name", NAMES)
def test_text_sheet_and_paper_say_every_line_in_its_order(name: str) -> None:
    brief = make(name)
    wanted = [one for part in listing(brief) for one in said(part)]
    assert len(wanted) >= 8
    for face in (render(brief), " ".join(Words(render_html(brief)).words), of_paper(brief)):
        words, place = squeezed(face), 0
        for one in wanted:
            found = words.casefold().find(one.casefold(), place)
            assert found >= 0, f"{one} is missing or out of its order"
            place = found + len(one)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_shows_the_same_lines_with_the_same_marks(name: str) -> None:
    brief = make(name)
    shown = laid_out(brief, brief.now)["sections"]
    assert [(one.title, one.why) for one in shown] == [(part.title, part.why) for part in listing(brief)]
    for section, part in zip(shown, listing(brief), strict=True):
        assert [line.entry for line in section.lines] == list(part.entries)
        assert [line.mark for line in section.lines] == [MARKS[one.mark] for one in part.entries]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_of_the_brief_is_lost_by_folding(name: str) -> None:
    brief = make(name)
    shown = [line.id for part in listing(brief) for one in part.entries for line in one.lines]
    stated = [line for line in brief.advice if line.part == "untold"]
    # what hangs on an input that was not stated is named in the sentence about that input
    words = render(brief)
    assert {line.id for line in brief.advice} - set(shown) <= {line.id for line in stated}
    cut = re.search(r"and \d+ more", words)
    assert cut or all(squeezed(line.short) in squeezed(words) for line in stated)
    assert len(shown) == len(set(shown))


def test_a_door_rule_of_an_operator_prints_beside_the_doors(tmp_path: object) -> None:
    from pathlib import Path

    from advisor import advise

    folder = Path(str(tmp_path))
    (folder / "ours.toml").write_text(
        '[checklist]\nname = "Kestrel Air (invented)"\nrevision = "1"\n'
        '[[advice]]\nid = "cargo-door-net"\nkind = "door"\nwhen = "gust_kt >= 5"\nduring = "doors_open"\n'
        'weight = "must"\ntext = "Rig the net behind the cargo door."\nsource = "ours"\n'
        '[[source]]\nkey = "ours"\ntitle = "Invented"\nstanding = "invented"\n'
    )
    asked = {"now": "2027-01-10T05:30:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
    report = "METAR ZZZA 100520Z 24012KT 9999 OVC030 02/M04 Q1010"
    made = advise(report, aircraft="single-aisle-jet", checklist=folder, **asked)
    assert made.doors and "Rig the net behind the cargo door [operator]" in render(made)


def test_without_anything_the_call_for_treatment_stands_in_its_place_on_every_face() -> None:
    brief = make("everything-missing")
    part = next(part for part in listing(brief) if part.key == "call")
    first = part.entries[0]
    assert first.mark == "?" and "cannot be told without" in first.why
    for face in (render(brief), " ".join(Words(render_html(brief)).words), of_paper(brief)):
        assert squeezed(first.why) in squeezed(face)


@pytest.mark.parametrize(
    ("name", "rows"),
    [("freezing-drizzle", 66), ("light-snow-at-night", 70), ("clear-frosty-dawn", 58), ("quiet-day", 30)],
)
def test_a_brief_is_no_longer_than_people_read_at_five_in_the_morning(name: str, rows: int) -> None:
    # ours: about two screens of a night with weather, and half of one on a quiet day
    assert render(make(name)).count("\n") <= rows

"""The printed checklist: the same byte for byte, the fingerprint on every page, marks where something changed.

The golden prints lie beside this file; after a change that is meant: python tests/render/test_manual.py --write
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from advisor import advise
from advisor.checklist import revision
from advisor.checklist.desk.manual import manual
from advisor.checklist.rules import Checklist
from advisor.render import manual as printed

ROOT = Path(__file__).parents[2]
PRINTS = Path(__file__).parent / "prints"
BASE = """\
[checklist]
name = "Invented base"
revision = "1"
default_aircraft = "glider"
call_lead_min = 45
[windows.jet]
walk_round = [-45, -25]
doors_open = [-50, -5]
take_off = 15
take_off_treated = 35
[windows.small]
walk_round = [-40, -15]
doors_open = [-20, -5]
take_off = 15
take_off_treated = 15

[[advice]]
id = "torch"
kind = "gear"
when = "illuminance_lx < 20"
during = "walk_round"
weight = "must"
text = "Take a torch."
more = "A real one."
source = "invented-default"
[advice.class.glider]
text = "Take a torch for pins and hinges."

[[advice]]
id = "wind"
kind = "caution"
when = "gust_kt >= 28 or (rain and not 0 <= air_temperature_c <= 30)"
during = ["walk_round", "doors_open"]
weight = "must"
stop = true
text = "Too windy: gust {gust_kt}."
source = "invented-default"

[[advice]]
id = "ice"
kind = "request"
when = "frost_margin_c > 0 or deposit_seen"
during = ["parked", "walk_round"]
weight = "must"
lead_min = 30
text = "Ask for de-icing."
source = "invented-default"
classes = ["single-aisle-jet", "wide-body-jet"]

[[advice]]
id = "heat"
kind = "caution"
when = "air_temperature_c >= 30"
during = "walk_round"
weight = "should"
text = "Drink."
source = "invented-default"
must_when = "air_temperature_c >= 40"
must_text = "Stay inside."
"""
OWN = """\
remove = ["heat"]

[checklist]
name = "Invented Air, winter"
revision = "7"
effective = 2027-10-01
approver = "Head of Invented Flight Operations"

[reason]
heat = "no base lies where it is hot"

[windows.small]
walk_round = [-40, -20]
doors_open = [-20, -5]
take_off = 15
take_off_treated = 15

[[advice]]
id = "wind"
kind = "caution"
when = "gust_kt >= 32"
during = ["walk_round", "doors_open"]
weight = "must"
stop = true
text = "Too windy: gust {gust_kt}."
source = "own-manual"
reason = "steps are lashed down"

[[advice]]
id = "own-check"
kind = "checkpoint"
when = "snow and (fog or mist)"
during = "walk_round"
weight = "should"
zone = "wings"
text = "Look at <both> wings & the tail."
source = "own-manual"
stations = ["ZZZH"]
months = [11, 12, 1]

[[source]]
key = "own-manual"
title = "Invented Operations Manual"
locator = "part C, 4.2"
"""


def loaded() -> tuple[Checklist, Checklist]:
    """The base alone, and an operator's folder over it."""
    with tempfile.TemporaryDirectory() as scratch:
        base, own = Path(scratch) / "base", Path(scratch) / "own"
        for folder, text in ((base, BASE), (own, OWN)):
            folder.mkdir()
            (folder / "rules.toml").write_text(text, encoding="utf-8")
        return revision.load(None, shipped=base), revision.load(own, shipped=base)


@pytest.fixture(scope="module")
def made():
    base, own = loaded()
    return manual(own, base)


def golden(name: str) -> str:
    return (PRINTS / name).read_bytes().decode("utf-8")


def test_the_text_is_the_golden_one(made):
    assert printed.render_text(made) == golden("invented.txt")


def test_the_page_is_the_golden_one_but_for_its_style(made):
    assert unstyled(printed.render_html(made)) == golden("invented.html")


def unstyled(page: str) -> str:
    return re.sub(r"<style>.*?</style>", "<style></style>", page, flags=re.S)


def test_two_prints_are_equal_byte_for_byte():
    (base, own), (again, over) = loaded(), loaded()
    for render in (printed.render_text, printed.render_html, printed.render_pdf):
        assert render(manual(own, base)) == render(manual(over, again))


def test_no_date_of_making_stands_there_unless_it_is_given():
    base, own = loaded()
    plain = manual(own, base)
    assert "Printed" not in printed.render_text(plain)
    dated = manual(own, base, printed_at="2027-09-30T12:00:00Z")
    assert "2027-09-30T12:00:00Z" in printed.render_text(dated)
    assert b"20271001000000Z" in printed.render_pdf(plain) and b"20270930120000Z" in printed.render_pdf(dated)


def pages_of(pdf: bytes) -> list[str]:
    from pypdf import PdfReader

    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def test_the_fingerprint_stands_on_every_page(made):
    texts = printed.render_text(made).split("\f")
    sheets = pages_of(printed.render_pdf(made))
    for pages in (texts, sheets):
        assert len(pages) > 3
        assert all(made.fingerprint in page and "revision 7" in page for page in pages)
    for at, page in enumerate(texts, 1):
        assert f"page {at} of {len(texts)}" in page
        assert len(page.splitlines()) == printed.PAGE_LINES
        assert max(map(len, page.splitlines())) <= printed.WIDTH
    for at, page in enumerate(sheets, 1):
        assert f"page {at} of {len(sheets)}" in page
    parts = re.findall(r'class="foot">(.*?)<', printed.render_html(made))
    assert len(parts) == len(made.chapters) and all(made.fingerprint in one for one in parts)


def test_the_list_of_effective_pages_names_every_page_and_marks_those_that_changed(made):
    pages = printed.render_text(made).split("\f")
    listed = re.findall(r"^(\d+) +7 +2027-10-01 *(changed)?$", pages[1], re.M)
    assert [int(at) for at, _ in listed] == list(range(1, len(pages) + 1))
    changed = [at for at, page in enumerate(pages, 1) if re.search(r"^\| ", page, re.M)]
    assert [int(at) for at, mark in listed if mark] == changed and changed
    sheets = pages_of(printed.render_pdf(made))
    stars = {int(at) for at in re.findall(r"(\d+) \*", sheets[1])}
    assert stars == {at for at, page in enumerate(sheets, 1) if at > 2 and re.search(r"\[(new|changed)\]", page)}


def test_the_fingerprint_in_a_brief_finds_its_print(tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    (own / "rules.toml").write_text(OWN.replace('"heat"', '"heat"', 1), encoding="utf-8")
    brief = advise(
        "METAR ZZZA 100520Z 24008KT 9999 FEW040 05/01 Q1010",
        now="2027-01-10T05:25:00Z",
        off_block="0640Z",
        place="61.4,9.8",
        checklist=own.parent / "own",
    )
    assert brief.checklist.fingerprint in printed.render_text(manual(revision.load(own)))


def test_conditions_stand_in_words_and_limits_with_their_reference(made):
    text = " ".join(printed.render_text(made).split())
    assert "gust 32 kt or more" in text
    assert "snow and (fog or mist)" in text
    assert "operate" in text and "Every limit here is invented" in text
    assert "Invented Operations Manual, part C, 4.2 (the operator's)" in text
    assert "at ZZZH alone; in Jan, Nov, Dec alone" in text
    for sign in (">=", "<=", "_kt", "_c "):
        assert sign not in text


def test_what_is_removed_or_less_stands_with_its_reason(made):
    first = made.chapters[0]
    assert first.title == "Removed, or saying less"
    said = {item.title: [line.said[0] for line in item.lines if line.title == "reason"] for item in first.items}
    assert said["heat: removed"] == ["no base lies where it is hot"]
    assert said["wind: loosened"] == ["steps are lashed down"]
    assert said["windows: loosened"] == ["none given"]


def test_marks_stand_where_something_is_new_or_changed_and_nowhere_else(made):
    marks = {item.ident: item.mark for chapter in made.chapters[2:] for item in chapter.items}
    assert marks["rule-wind"] == "changed" and marks["rule-own-check"] == "new"
    assert marks["windows-small"] == "changed" and marks["windows-jet"] == ""
    assert marks["rule-torch"] == "" and marks["aircraft-glider"] == ""
    page = printed.render_html(made)
    assert page.count('class="marked"') == sum(bool(mark) for mark in marks.values())


def test_without_an_older_one_nothing_is_marked():
    _, own = loaded()
    text = printed.render_text(manual(own))
    assert "[changed]" not in text and "[new]" not in text and "saying less" not in text
    assert not re.search(r"^\| ", text, re.M)


def test_words_of_an_operator_are_no_markup(made):
    page = printed.render_html(made)
    assert "Look at &lt;both&gt; wings &amp; the tail." in page and "<both>" not in page
    assert "<script" not in page and "http" not in page.replace("http-equiv", "")
    assert any(
        "Look at <both> wings & the tail." in " ".join(one.split()) for one in pages_of(printed.render_pdf(made))
    )


def test_the_command_prints_and_refuses(tmp_path):
    def run(*arguments: str) -> subprocess.CompletedProcess[bytes]:
        command = [sys.executable, "-m", "advisor", "checklist", "print", *arguments]
        return subprocess.run(command, capture_output=True, cwd=ROOT, check=False)

    text = run("shipped")
    assert text.returncode == 0 and revision.load().fingerprint.encode() in text.stdout
    assert run("shipped", "--format", "pdf").stdout.startswith(b"%PDF-")
    assert b"<!doctype html>" in run("shipped", "--since", "shipped", "--format", "html").stdout
    assert run("shipped", "--made", "yesterday").returncode == 3
    assert run(str(tmp_path / "none")).returncode == 4


def write() -> None:
    base, own = loaded()
    told = manual(own, base)
    PRINTS.mkdir(exist_ok=True)
    (PRINTS / "invented.txt").write_bytes(printed.render_text(told).encode("utf-8"))
    (PRINTS / "invented.html").write_bytes(unstyled(printed.render_html(told)).encode("utf-8"))


if __name__ == "__main__" and "--write" in sys.argv:
    write()

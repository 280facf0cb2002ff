"""The sheet as HTML and PDF: what stands on it, that it stands alone, and that it can be read by everybody."""

import io
import re
import subprocess
import sys
import threading
from html.parser import HTMLParser

import msgspec
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.render.html import render_html
from advisor.render.listing import listing
from advisor.render.pdf import render_pdf

from . import samples

ORDER = (
    "Wait or stop",
    "Call or ask for",
    "Take and wear",
    "Doors",
    "Out on the apron",
    "On the walk",
    "Before you start",
    "Could not be told",
)


class Reader(HTMLParser):
    """Tags, attributes and visible text of a document."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes, self.text, self.path = [], [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self.path.append(tag)

    def handle_endtag(self, tag):
        if tag in self.path:
            while self.path.pop() != tag:
                pass

    def handle_data(self, data):
        if "style" not in self.path:
            self.text.append(data)

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())


def read_pdf(data):
    return pypdf.PdfReader(io.BytesIO(data))


def pdf_words(data):
    """Text of all pages; a line that was broken is joined again."""
    return " ".join(" ".join(page.extract_text() for page in read_pdf(data).pages).replace("\u200b", "").split())


def squeezed(words):
    """Without spaces: a PDF's text has them where lines break."""
    return re.sub(r"\s", "", words)


@pytest.fixture(scope="module")
def sheets():
    return {name: (make(), render_html(make()), render_pdf(make())) for name, make in samples.ALL.items()}


@pytest.mark.parametrize("name", samples.ALL)
def test_every_line_of_the_brief_stands_on_both_sheets_in_its_order(sheets, name):
    made, page, pdf = sheets[name]
    for words in (squeezed(Reader(page).words), squeezed(pdf_words(pdf))):
        place = -1
        for part in listing(made):
            for one in part.entries:
                found = words.find(squeezed(one.text), place + 1)
                assert found > place, f"{one.text} is missing or out of order"
                place = found


@pytest.mark.parametrize("name", samples.ALL)
def test_parts_come_in_the_order_of_a_brief(sheets, name):
    _, page, pdf = sheets[name]
    headings = [one.strip() for one in re.findall(r"<h2>([^<]*)", page)]
    assert [one for one in headings if one in ORDER] == [one for one in ORDER if one in headings]
    rows = [row.strip() for sheet in read_pdf(pdf).pages for row in sheet.extract_text().splitlines()]
    titles = [row.partition(" (")[0] for row in rows]
    assert [row for row in titles if row in ORDER] == [one for one in ORDER if one in headings]


@pytest.mark.parametrize("name", samples.ALL)
def test_what_everybody_needs_is_on_both_sheets(sheets, name):
    made, page, pdf = sheets[name]
    for words in (Reader(page).words, pdf_words(pdf)):
        flat = squeezed(words)
        needed = [
            *made.cautions,
            *made.notes,
            made.aircraft.name,
            made.place.name,
            made.checklist.fingerprint,
            f"revision {made.checklist.revision}",
            "Start",
            "Finish",
            "Name",
            "Signature",
            made.reports[0].raw,
            *(
                f"{a[11:13]}{a[14:16]}–{b[11:13]}{b[14:16]}Z"
                for a, b in (made.windows.walk_round, made.windows.doors_open)
            ),
            *(f"{at[11:13]}{at[14:16]}Z" for at in (made.windows.off_block, made.windows.take_off)),
            *(
                door.door
                for door in made.doors
                if door.status != "within" and len({(one.status, one.stay_open_status) for one in made.doors}) > 1
            ),
            *made.not_decoded,
        ]
        for one in needed:
            assert squeezed(one).lower() in flat.lower(), one


def test_what_was_not_understood_and_what_was_loosened_is_said_apart():
    made = samples.brief("METAR ZZZA 100520Z 24006KT 9999 QWERTY7 05/01 Q1020")
    assert made.not_decoded == ("QWERTY7",)
    made = msgspec.structs.replace(made, loosened=("torch",))
    for words in (Reader(render_html(made)).words, pdf_words(render_pdf(made))):
        assert re.search(r"Not understood in the report \? QWERTY7", words)
        assert "The operator's checklist loosened or removed: torch." in words


def test_local_time_stands_beside_z(sheets):
    # Oslo is an hour ahead of UTC in January, two in June (IANA time zone database)
    for name, walk in (
        ("worst", "0645–0705Z (07:45–08:05 local)"),
        ("quiet", "1045–1105Z (12:45–13:05 local)"),
    ):
        _, page, pdf = sheets[name]
        assert walk in Reader(page).words and squeezed(walk) in squeezed(pdf_words(pdf))


def test_boxes_to_tick_are_those_of_calls_gear_walk_and_later_in_walking_order(sheets):
    for made, page, _ in sheets.values():
        boxes = re.findall(r'<label><input type="checkbox">(.*?)</label>', page, re.DOTALL)
        parts = {part.key: part.entries for part in listing(made)}
        ticked = [one for key in ("call", "take", "walk", "start") for one in parts.get(key, ())]
        assert len(boxes) == len(ticked)
        places = [page.find(one.text.replace("'", "&#39;")) for one in parts.get("walk", ())]
        assert -1 not in places and places == sorted(places)


def test_the_page_fetches_nothing_and_runs_nothing(sheets):
    for _, page, _ in sheets.values():
        reader = Reader(page)
        assert not {"script", "link", "iframe", "img", "object", "embed", "base", "form"} & set(reader.tags)
        assert not [
            one
            for one in reader.attributes
            if one[1] in ("src", "href", "srcset", "action", "style") or one[1][:2] == "on"
        ]
        left = page.replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert "http" not in left.replace("http-equiv", "") and "@import" not in left
        assert set(re.findall(r"url\(([^)]*)\)", left)) <= {
            f"#{ident}-{name}"
            for ident in ("timeline", "stand")
            for name in ("left", "right", "dense", "sparse", "unknown", "dots")
        }


def test_ids_are_unique_and_every_reference_has_its_target(sheets):
    for _, page, _ in sheets.values():
        reader = Reader(page)
        ids = [value for _, name, value in reader.attributes if name == "id"]
        assert len(ids) == len(set(ids))
        wanted = {
            part
            for _, name, value in reader.attributes
            if name in ("aria-labelledby", "aria-describedby")
            for part in value.split()
        } | set(re.findall(r"url\(#([^)]*)\)", page))
        assert wanted <= set(ids)


def test_nothing_promises(sheets):
    for _, page, pdf in sheets.values():
        for words in (Reader(page).words.lower(), pdf_words(pdf).lower()):
            assert not re.search(r"\b(is|are) (clean|safe)\b|clear of ice|safe to", words)


HOSTILE = '<script>alert("1")</script>&amp;{{ 7*7 }}#{7*7} *b* _i_ $x$ [c] @d <e> \\ "f"'


def test_text_from_elsewhere_stays_text():
    made = samples.worst()
    advice = (msgspec.structs.replace(made.advice[0], text=HOSTILE), *made.advice[1:])
    report = msgspec.structs.replace(made.reports[0], raw=HOSTILE)
    made = msgspec.structs.replace(
        made,
        advice=advice,
        reports=(report,),
        not_decoded=(HOSTILE,),
        loosened=(HOSTILE,),
        aircraft=msgspec.structs.replace(made.aircraft, name=HOSTILE),
    )
    reader = Reader(render_html(made))
    assert "script" not in reader.tags
    assert reader.words.count(" ".join(HOSTILE.split())) >= 4
    flat = squeezed(pdf_words(render_pdf(made)))
    assert flat.count(squeezed(HOSTILE)) >= 4 and "49" not in squeezed(HOSTILE)


@settings(max_examples=15, deadline=None)
@given(st.text(min_size=1, max_size=80) | st.just("W" * 400))
def test_any_name_can_be_printed(name):
    made = samples.quiet()
    made = msgspec.structs.replace(
        made,
        aircraft=msgspec.structs.replace(made.aircraft, name=name),
        place=msgspec.structs.replace(made.place, name=name),
    )
    assert read_pdf(render_pdf(made)).pages
    assert "script" not in Reader(render_html(made)).tags


def test_a_normal_brief_takes_one_page_and_the_worst_more_with_its_header_repeated(sheets):
    assert len(read_pdf(sheets["quiet"][2]).pages) == 1
    pages = read_pdf(sheets["worst"][2]).pages
    assert 2 <= len(pages) <= 3
    for page in pages[1:]:
        words = page.extract_text()
        assert sheets["worst"][0].aircraft.name in words and "0730Z" in words
    for index, page in enumerate(pages, 1):
        assert f"page {index} of {len(pages)}" in " ".join(page.extract_text().split())


def test_letters_are_as_large_as_the_pages_allow(sheets):
    # 1 pt is 1/72 inch; the matrix of a run of text times its font's size is its height on paper
    quiet, worst = _letters(sheets["quiet"][2]), _letters(sheets["worst"][2])
    assert {10.0, 9.0, 12.0} <= quiet
    assert min(quiet | worst) >= 7
    assert max(size for size in worst if size < 10) >= 8.2


def _letters(made: bytes) -> set[float]:
    found: set[float] = set()

    def visit(text, cm, tm, fonts, size) -> None:
        if text.strip() and size:
            found.add(round(abs(size * tm[3] * cm[3]), 1))

    for page in pypdf.PdfReader(io.BytesIO(made)).pages:
        page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("name", samples.ALL)
def test_no_line_on_paper_breaks_a_sign_from_its_code_or_a_unit_from_its_number(sheets, name):
    for page in pypdf.PdfReader(io.BytesIO(sheets[name][2])).pages:
        for line in page.extract_text().splitlines():
            assert not re.search(r"(^|[\s(])[+\-−]$", line.rstrip()), line
            assert not re.match(r"(°C|kt|km|lx)\b", line.lstrip()), line


def test_the_paper_is_a5(sheets):
    # ISO 216: 148 mm by 210 mm
    for _, _, pdf in sheets.values():
        for page in read_pdf(pdf).pages:
            assert (float(page.mediabox.width) / 72 * 25.4, float(page.mediabox.height) / 72 * 25.4) == (
                pytest.approx(148, abs=0.1),
                pytest.approx(210, abs=0.1),
            )


def structure(node, found):
    """Structure types of a tagged PDF, depth first."""
    node = node.get_object()
    if isinstance(node, list):
        for one in node:
            structure(one, found)
    elif isinstance(node, dict):
        if "/S" in node:
            found.append((str(node["/S"]), str(node.get("/Alt", ""))))
        if "/K" in node and not isinstance(node["/K"], int):
            structure(node["/K"], found)
    return found


def test_the_pdf_is_tagged_titled_and_in_english(sheets):
    for name, (made, page, pdf) in sheets.items():
        root = read_pdf(pdf).trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert str(root["/Lang"]).startswith("en")
        assert root["/ViewerPreferences"]["/DisplayDocTitle"]
        assert made.aircraft.name in read_pdf(pdf).metadata.title
        kinds = [kind for kind, _ in structure(root["/StructTreeRoot"], [])]
        lines = len(re.findall(r"<li class=", page))
        assert kinds.count("/LI") >= lines, name
        assert {"/H1", "/H2", "/L", "/LI", "/Table", "/TH", "/TD", "/P"} <= set(kinds)
        xmp = root["/Metadata"].get_data().decode()
        # ISO 14289-1 (PDF/UA-1) announces itself so
        assert re.search(r"pdfuaid:part\W+1\b", xmp)


def test_a_picture_on_paper_carries_its_description(sheets):
    found = {}
    for name, (_, _, pdf) in sheets.items():
        tags = structure(read_pdf(pdf).trailer["/Root"]["/StructTreeRoot"], [])
        found[name] = [alt for kind, alt in tags if kind == "/Figure"]
        assert all(found[name]), name
    # pictures fill a page that is needed anyway: one of those of two pages has room for the course of the night
    assert any("take-off at" in alt for alts in found.values() for alt in alts)


def test_only_the_shipped_font_is_used(sheets):
    for _, _, pdf in sheets.values():
        fonts = set()
        for page in read_pdf(pdf).pages:
            resources = page["/Resources"]
            fonts |= {str(font.get_object()["/BaseFont"]) for font in resources.get("/Font", {}).values()}
        assert fonts and all("ClearSans" in font for font in fonts)


def test_the_sheet_is_grey(sheets):
    """Every colour operator of the pages sets equal parts of red, green and blue, or grey."""
    for _, _, pdf in sheets.values():
        for page in read_pdf(pdf).pages:
            content = page.get_contents().get_data().decode("latin-1")
            for parts in re.findall(r"^([\d. ]+) (?:rg|RG|sc|SC|scn|SCN)$", content, re.MULTILINE):
                assert len(set(parts.split())) == 1
            assert re.findall(r"\b(?:k|K)$", content, re.MULTILINE) == []


def test_the_same_brief_gives_the_same_bytes_also_in_another_thread():
    made = samples.worst()
    first = render_pdf(made), render_html(made)
    render_pdf(samples.quiet())
    found = []
    threads = [threading.Thread(target=lambda: found.append((render_pdf(made), render_html(made)))) for _ in range(3)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert found == [first] * 3


def test_what_changed_comes_before_everything_to_do():
    before = samples.brief("METAR ZZZA 100420Z 24008KT 9999 FEW008 M01/M03 Q0998", now="2027-01-10T04:30:00Z")
    made = samples.brief(samples.SNOW)
    for words in (Reader(render_html(made, before=before)).words, pdf_words(render_pdf(made, before=before))):
        place = words.find("Since the brief of 0430Z")
        assert -1 < words.find("too windy to walk", place) < words.find("Call or ask for", place)
    assert "Since the brief" not in render_html(made)


def test_a_brief_in_text_loads_neither_templates_nor_typesetting():
    code = (
        "import sys; from advisor.cli.main import main\n"
        "try: main(['brief','--report','METAR ZZZA 100520Z 24006KT 9999 FEW040 05/01 Q1020','--off-block','0700Z',"
        "'--now','2027-01-10T05:30:00Z','--place','60,10'])\n"
        "except SystemExit as end: assert not end.code\n"
        "assert not {'jinja2', 'typst', 'markupsafe'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def run(*more):
    command = [
        sys.executable,
        "-m",
        "advisor",
        "brief",
        "--report",
        samples.QUIET,
        "--off-block",
        "1130Z",
        "--now",
        "2027-06-10T10:00:00Z",
        "--place",
        "60,10",
        *more,
    ]
    return subprocess.run(command, capture_output=True, check=False)


def test_the_command_writes_both_formats(tmp_path):
    page = run("--format", "html")
    assert page.returncode == 0 and page.stdout.startswith(b"<!doctype html>") and not page.stderr
    target = tmp_path / "sheet.pdf"
    assert run("--format", "pdf", "--output", str(target)).returncode == 0
    assert len(read_pdf(target.read_bytes()).pages) == 1


def test_without_the_extra_a_pdf_is_refused_in_one_clear_line(tmp_path):
    (tmp_path / "typst.py").write_text("raise ImportError('not here')")
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); from advisor.cli.main import main; main()"
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            code,
            "brief",
            "--report",
            samples.QUIET,
            "--off-block",
            "1130Z",
            "--now",
            "2027-06-10T10:00:00Z",
            "--place",
            "60,10",
            "--format",
            "pdf",
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 2
    assert found.stderr.strip().splitlines() == [
        "advisor: --format pdf: a PDF needs the extra `pdf`; pip install 'advisor[pdf]', or take --format html"
    ]

"""The documents for people: built from the tables, with warnings as errors, and nothing in them from elsewhere."""

from __future__ import annotations

import html
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import get_args

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the built pages."""
    out, kept = tmp_path_factory.mktemp("docs"), tmp_path_factory.mktemp("doctrees")
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-d", str(kept), "docs", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout + done.stderr
    return out


def words(page: Path) -> str:
    """A page's text, without its marks."""
    text = re.sub(r"<(script|style).*?</\1>", " ", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", "", text)).split())


class Addresses(HTMLParser):
    """What a browser loads by itself when it shows a page."""

    LOADS = ("src", "srcset", "data", "poster")

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if value and (name in self.LOADS or (tag == "link" and name == "href")):
                self.found.append(value)


@pytest.mark.long
def test_the_pages_load_nothing_from_elsewhere(built: Path) -> None:
    elsewhere = []
    for page in built.rglob("*.html"):
        seen = Addresses()
        seen.feed(page.read_text(encoding="utf-8"))
        elsewhere += [(page.name, one) for one in seen.found if re.match(r"(\w+:)?//", one)]
    for style in built.rglob("*.css"):
        text = style.read_text(encoding="utf-8")
        elsewhere += [
            (style.name, one) for one in re.findall(r"url\(\s*['\"]?((?:\w+:)?//[^)]*)|@import[^;]*", text) if one
        ]
    assert elsewhere == []


@pytest.mark.long
def test_every_quantity_stands_on_its_page_with_its_meaning(built: Path) -> None:
    from advisor.quantities import COLUMNS

    text = words(built / "generated" / "quantities.html")
    assert [one.name for one in COLUMNS.values() if one.name not in text or one.meaning not in text] == []


@pytest.mark.long
def test_every_stage_stands_on_its_page_with_what_it_needs_gives_and_rests_on(built: Path) -> None:
    from advisor.physics.derive import STAGES
    from advisor.sources import SOURCES

    text = words(built / "generated" / "stages.html").lower()
    for stage in STAGES:
        wanted = [stage.name, stage.meaning, stage.formula, *stage.gives, *stage.needs]
        wanted += [SOURCES[key].title for key in stage.source]
        assert [one for one in wanted if " ".join(one.lower().split()) not in text] == [], stage.name


@pytest.mark.long
def test_every_rule_has_its_page_with_all_its_parts(built: Path) -> None:
    from advisor.checklist import revision

    checklist, pages = revision.load_all()
    for rule in checklist.rules:
        text = words(built / "generated" / "rules" / f"{rule.id}.html")
        for part in (rule.when, rule.text, "Known limits", checklist.sources[rule.source].title):
            assert " ".join(part.split()) in text, (rule.id, part)
        for part in (pages[rule.id].does, pages[rule.id].why, pages[rule.id].limits):
            assert " ".join(part.split()) in text, (rule.id, part)
        assert "Nothing written yet" not in text, rule.id


@pytest.mark.long
def test_every_source_and_every_key_of_a_docstring_is_in_the_bibliography(built: Path) -> None:
    from advisor.sources import SOURCES

    text = words(built / "generated" / "sources.html")
    assert [key for key, one in SOURCES.items() if key not in text or one.title not in text] == []


@pytest.mark.long
def test_every_command_and_option_is_in_the_reference(built: Path) -> None:
    import click

    from advisor.cli.main import main

    text = words(built / "commands.html")

    def missing(command: click.Command, name: str) -> list[str]:
        found = [] if name in text else [name]
        for one in command.params:
            found += [f"{name} {option}" for option in one.opts if option.startswith("--") and option not in text]
        for below, inner in getattr(command, "commands", {}).items():
            found += missing(inner, f"{name} {below}")
        return found

    assert missing(main, "advisor") == []


@pytest.mark.long
def test_every_name_of_the_door_is_in_the_reference(built: Path) -> None:
    import advisor

    page = (built / "python.html").read_text(encoding="utf-8")
    homes = {name: f"{home}.{name}" for name, home in advisor._HOMES.items()}
    wanted = [name for name in advisor.__all__ if name != "__version__"]
    assert [
        name for name in wanted if f'id="advisor.{name}"' not in page and f'id="{homes.get(name)}"' not in page
    ] == []


@pytest.mark.long
def test_every_situation_has_both_pictures_in_the_gallery(built: Path) -> None:
    names = [path.parent.name for path in (ROOT / "sample_reports").glob("*/departure.toml")]
    assert names
    for name in names:
        page = (built / "generated" / "gallery" / f"{name}.html").read_text(encoding="utf-8")
        pictures = re.findall(r'<img[^>]* src="([^"]+\.svg)"', page)
        assert len(pictures) >= 2, name
        for picture in pictures:
            assert (built / "generated" / "gallery" / picture).resolve().read_text(encoding="utf-8").startswith("<svg")


def test_the_page_of_the_rule_language_names_the_statuses_and_windows_there_are() -> None:
    from advisor.brief.model import Status
    from advisor.conditions import PHASES

    text = (ROOT / "docs" / "rule-language.md").read_text(encoding="utf-8")
    statuses = text.partition("| status | when |")[2].partition("## Windows")[0]
    assert re.findall(r"^\| ([a-z ]+) \|", statuses, re.MULTILINE) == [*get_args(Status), "not indicated"]
    assert re.findall(r"^\| `(\w+)` \|", text.partition("## Windows")[2], re.MULTILINE) == list(PHASES)


def test_every_example_of_the_rule_language_is_one() -> None:
    from advisor.checklist.language.condition import compile_condition

    text = (ROOT / "docs" / "rule-language.md").read_text(encoding="utf-8")
    forms = re.findall(r"^`([^`]+)`\n: ", text.partition("## Forms")[2].partition("## Yes")[0], re.MULTILINE)
    assert len(forms) >= 7
    for form in forms:
        assert compile_condition(form).text == form


def test_a_key_that_nobody_explained_stops_the_build(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "docs"))
    from tables import formats, meanings

    monkeypatch.delitem(meanings.MEANINGS["Entry"], "must_when")
    with pytest.raises(KeyError, match=r"Entry\.must_when"):
        formats.pages()


@pytest.mark.long
def test_every_key_of_every_file_is_on_its_page(built: Path) -> None:
    # by the JSON Schema of each file, another way to the same structures
    import msgspec

    from advisor.checklist.aircraft import profile_schema
    from advisor.checklist.rules import PagesFile, checklist_schema
    from advisor.feeds.file import FeedsFile
    from advisor.slots.files.holdover import HoldoverFile
    from advisor.slots.files.pads import PadsFile

    def keys(schema: dict) -> set[str]:
        return {key for one in schema["$defs"].values() for key in one.get("properties", ())}

    folder = built / "generated" / "formats"
    for name, schemas in (
        ("checklist", [checklist_schema(), profile_schema(), *map(msgspec.json.schema, (PagesFile, FeedsFile))]),
        ("slots", [msgspec.json.schema(PadsFile), msgspec.json.schema(HoldoverFile)]),
    ):
        shown = set(
            re.findall(r'<span class="pre">(\w+)</span>', (folder / f"{name}.html").read_text(encoding="utf-8"))
        )
        assert set().union(*map(keys, schemas)) - shown == set()


def test_the_readme_is_short_and_points_to_the_documents() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 200
    assert "sphinx-build -W docs" in text

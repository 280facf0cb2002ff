"""The pages that the operator's desk writes as files: coverage and print, in a browser."""

from __future__ import annotations

import pytest

from advisor.checklist import revision
from advisor.checklist.desk.manual import manual
from advisor.cli import desk
from advisor.render import coverage
from advisor.render import manual as printed
from tests.web.test_browser import nothing_found, opened


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """A page of each kind, by name."""
    folder = tmp_path_factory.mktemp("pages")
    shipped = revision.load()
    made = {
        "coverage": coverage.render_html(desk.coverage_of("shipped")),
        "print": printed.render_html(manual(shipped, shipped)),
    }
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: (folder / f"{name}.html").as_uri() for name in made}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", [pytest.param("coverage", marks=pytest.mark.long), "print"])
def test_axe_finds_nothing(browser, axe, pages, name, scheme):
    # a file's own policy keeps scripts out, so that axe has to be let past it
    with opened(browser, color_scheme=scheme, bypass_csp=True) as page:
        page.goto(pages[name])
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        nothing_found(page, axe)


def test_the_matrix_can_be_read_at_arms_length(browser, pages):
    """Letters of at least 22 px: at 70 cm and 96 px an inch the x-height of such type is about 15 minutes of arc."""
    with opened(browser, viewport={"width": 1600, "height": 1000}) as page:
        page.goto(pages["coverage"])
        sizes = page.locator(".matrix tbody .mark").evaluate_all(
            "all => all.map(e => parseFloat(getComputedStyle(e).fontSize))"
        )
        assert min(sizes) >= 22
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0


def test_a_hazard_leads_to_its_rules(browser, pages):
    with opened(browser) as page:
        page.goto(pages["coverage"])
        page.get_by_role("link", name="darkness").click()
        target = page.locator(":target")
        target.locator("summary").click()
        assert "torch" in target.inner_text()


def test_what_a_mark_says_is_said_in_words_too(browser, pages):
    with opened(browser) as page:
        page.goto(pages["coverage"])
        row = page.locator("tr", has=page.get_by_role("link", name="darkness"))
        assert "walk-round must" in row.locator("td .hidden").first.inner_text()

"""The page in a browser: a phone's screen and thumb, script off, dark, printed, enlarged, read aloud."""

from __future__ import annotations

import io
import json
import re
import time
from contextlib import contextmanager

import pytest
from PIL import Image

from tests.web.site import NEWER, NOW, PLACE, POOR, QUIET, STORM, WORST

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
REPORTS = {"worst": WORST, "quiet": QUIET, "poor": POOR, "storm": STORM}
# the largest profile, and a place with a clock of its own, take the most room
HEAVY = {"aircraft": "wide-body-jet", "place": "ENGM"}


@contextmanager
def opened(browser, **options):
    context = browser.new_context(**options)
    context.set_default_timeout(30_000)
    page = context.new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("console", lambda said: page.faults.append(said.text) if said.type in ("error", "warning") else None)
    try:
        yield page
    finally:
        context.close()


def go(page, control) -> None:
    """Touch what leads to another page, and wait until that is there."""
    with page.expect_navigation():
        control.tap()


def fill(page, url: str, report: str = WORST, **fields: str) -> None:
    page.goto(url)
    given = {"reports": report, "off_block": "0640", "place": PLACE, **fields}
    for name, value in given.items():
        field = page.locator(f"#{name}")
        if not field.is_visible():
            page.locator("form.ask summary").click()
        if name in ("aircraft", "feed"):
            field.select_option(value)
        else:
            field.fill(value)
    go(page, page.locator("button.go"))


def wide(page) -> list:
    """How far the page goes beyond the screen, in pixels."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


SMALL = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')]
  .filter(e => e.type !== 'hidden' && e.checkVisibility())
  .map(e => {
    let box = (e.closest('label, .answer') ?? e).getBoundingClientRect();
    return [e.tagName, e.textContent.trim().slice(0, 30), Math.round(box.width), Math.round(box.height)];
  })
  .filter(([, , w, h]) => w < 44 || h < 44)"""
LITTLE = """() => {
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || e.closest('svg, script') || !e.checkVisibility()) continue;
    if (parseFloat(getComputedStyle(e).fontSize) < 16) found.push(walk.currentNode.data.trim().slice(0, 30));
  }
  return found;
}"""


@pytest.mark.parametrize(
    ("scheme", "more"), [("light", {}), ("dark", {}), ("light", HEAVY)], ids=["light", "dark", "heavy"]
)
@pytest.mark.parametrize("name", REPORTS)
def test_the_first_view_of_a_phone_answers_the_four_questions(browser, server, name, scheme, more) -> None:
    with opened(browser, **PHONE, color_scheme=scheme, java_script_enabled=False) as page:
        fill(page, server.url, REPORTS[name], **more)
        for stale in (False, True):
            if stale:
                server.clock.on(minutes=76)
                page.reload()
            assert page.locator(".first .stale").is_visible() is stale
            for answer in ("stop", "calls", "take", "doors"):
                box = page.locator(f"#{answer}").bounding_box()
                assert box["y"] >= 0 and box["y"] + box["height"] <= 740, (answer, box)
            assert wide(page) <= 0


def test_the_whole_path_by_touch_with_script_off(browser, server) -> None:
    with opened(browser, **PHONE, java_script_enabled=False) as page:
        fill(page, server.url, heading="north")
        assert page.locator("#heading-fault").is_visible()
        page.locator("#heading").fill("210")
        go(page, page.locator("button.go"))
        first = page.url
        page.locator("#calls a").tap()
        page.wait_for_url("**#part-call")
        line = page.locator("#line-de-icing-request summary")
        assert not page.locator("#line-de-icing-request .why").is_visible()
        line.tap()
        assert page.locator("#line-de-icing-request .why").is_visible()
        go(page, page.get_by_role("button", name="Dark"))
        assert page.locator("html").get_attribute("data-theme") == "dark"
        go(page, page.get_by_role("link", name="Brief again"))
        assert page.locator("#heading").input_value() == "210"
        page.locator("#reports").fill(NEWER)
        server.clock.on(minutes=27)
        go(page, page.locator("button.go"))
        assert page.locator(".changed").is_visible()
        go(page, page.get_by_role("link", name="Open the earlier brief"))
        assert page.url == first
        assert page.locator(".stale.stuck").is_visible()
        # the refused entry is the only thing that a console would mention
        assert [said for said in page.faults if "422" not in said] == []


def test_a_newer_report_is_announced_by_the_script_and_replaces_nothing(browser, server) -> None:
    with opened(browser, **PHONE) as page:
        page.clock.install()
        page.goto(server.url)
        for name, value in {"station": "ZZZA", "off_block": "0640", "place": PLACE}.items():
            page.locator(f"#{name}").fill(value)
        go(page, page.locator("button.go"))
        before = page.locator(".answer").all_inner_texts()
        server.reports = [NEWER]
        server.clock.on(minutes=28)
        # the server may itself be looking just then, and has an answer for the next look of the page only
        said, until = page.locator(".stale[role=status]"), time.monotonic() + 60
        while not said.is_visible():
            assert time.monotonic() < until
            page.clock.run_for(70_000)
            page.wait_for_timeout(500)
        assert page.locator(".answer").all_inner_texts() == before
        page.locator(".stale a").tap()
        page.locator(".newer").wait_for(state="visible")
        assert page.locator(".answer").all_inner_texts()[2:] == before[2:]
        assert page.faults == []


def kept_on_the_telephone(page) -> None:
    """Until the page and its files lie there."""
    there = (
        "async () => (await Promise.all([location.pathname, document.querySelector('script[src*=page]').src]"
        ".map(one => caches.match(one)))).every(Boolean)"
    )
    end = time.monotonic() + 30
    while not page.evaluate(there):
        assert time.monotonic() < end
        page.wait_for_timeout(50)


def test_a_brief_opens_again_without_reception_and_says_its_age(browser, server) -> None:
    with opened(browser, **PHONE, bypass_csp=True) as page:
        fill(page, server.url)
        answers = page.locator(".answer").all_inner_texts()
        where = page.url
        kept_on_the_telephone(page)
        page.context.set_offline(True)
        page.goto(where)
        assert page.locator(".answer").all_inner_texts() == answers
        said = page.locator('[data-part="kept"]')
        said.wait_for(state="visible")
        assert re.fullmatch(
            "No reception: kept on this telephone at 0525Z, [01] min ago. It may be stale", said.inner_text()
        )
        # nothing else lies there: neither the form nor what leads on from a brief
        assert page.evaluate(
            "async () => (await Promise.all((await caches.keys()).map(async name =>"
            " (await (await caches.open(name)).keys()).map(one => new URL(one.url).pathname)))).flat().sort()"
        ) == sorted(["/chart.css", "/static/icon.svg", "/static/page.css", "/static/page.js", where[len(server.url) :]])
        page.context.set_offline(False)
        page.locator('[data-part="kept"]').wait_for(state="detached", timeout=30_000)


def test_an_open_page_counts_on_and_says_when_off_block_has_passed(browser, server) -> None:
    with opened(browser, **PHONE) as page:
        page.clock.install()
        fill(page, server.url)
        ahead, call = page.locator('[data-part="ahead"]'), page.locator("#calls")
        # off-block at 0640Z, opened at 0525Z; the call for de-icing by 0555Z
        assert ahead.inner_text() in ("in 75 min", "in 74 min") and "de-icing by 0555Z" in call.inner_text()
        page.clock.fast_forward("29:00")
        assert ahead.inner_text() in ("in 46 min", "in 45 min") and "34 min old" in page.locator("header").inner_text()
        assert "grave" not in call.get_attribute("class")
        page.clock.fast_forward("02:00")
        assert "de-icing now" in call.inner_text() and "grave" in call.get_attribute("class")
        assert page.locator("#line-de-icing-request .due").inner_text() == "Now:"
        page.clock.fast_forward("44:10")
        assert "The off-block time has passed: this brief is over" in page.locator(".first .stale").inner_text()
        assert ahead.inner_text() == "0 min ago"


def test_a_stale_brief_is_struck_out_and_its_banner_stays_in_sight(browser, server) -> None:
    with opened(browser, **PHONE) as page:
        fill(page, server.url)
        first = page.url
        go(page, page.get_by_role("link", name="Brief again"))
        page.locator("#reports").fill(NEWER)
        server.clock.on(minutes=27)
        go(page, page.locator("button.go"))
        page.goto(first)
        struck = "e => getComputedStyle(e).textDecorationLine"
        for words in page.locator(".answer .verdict, .answer li").all():
            assert words.evaluate(struck) == "line-through"
        said = page.locator(".stuck")
        for words in ("Wait or stop no holdover", "Call de-icing", "Now dark (sunrise 0828Z), air −1 °C"):
            assert words in said.inner_text()
        for share in (0.3, 0.9):
            page.evaluate("share => scrollTo(0, share * document.documentElement.scrollHeight)", share)
            box = said.bounding_box()
            assert 0 <= box["y"] < 5 and box["height"] < 260
        assert wide(page) <= 0


def test_what_was_typed_outlives_a_change_of_colours(browser, server) -> None:
    for script in (True, False):
        with opened(browser, **PHONE, java_script_enabled=script) as page:
            page.goto(server.url)
            page.locator("#reports").fill(NEWER)
            page.locator("#heading").fill("210")
            go(page, page.get_by_role("button", name="Dim red"))
            assert page.locator("html").get_attribute("data-theme") == "night"
            assert page.locator("#reports").input_value() == NEWER
            assert page.locator("#heading").input_value() == "210"


@pytest.mark.parametrize("name", REPORTS)
def test_nothing_scrolls_sideways_on_320_pixels(browser, server, name) -> None:
    with opened(browser, viewport={"width": 320, "height": 640}, has_touch=True, is_mobile=True) as page:
        page.goto(server.url)
        assert wide(page) <= 0
        fill(page, server.url, REPORTS[name], **HEAVY)
        assert wide(page) <= 0
        page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
        assert wide(page) <= 0


@pytest.mark.parametrize("place", ["form", "fault", "worst", "poor", "nothing"])
def test_targets_take_a_thumb_and_text_is_large_enough(browser, server, place) -> None:
    with opened(browser, **PHONE) as page:
        to(page, server, place)
        page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
        assert page.evaluate(SMALL) == []
        assert page.evaluate(LITTLE) == []


def to(page, server, place: str) -> None:
    if place in REPORTS:
        fill(page, server.url, REPORTS[place])
    elif place == "fault":
        fill(page, server.url, heading="north")
    else:
        page.goto(server.url + {"form": "/", "nothing": "/b/nothing"}[place])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place", ["form", "fault", "worst", "quiet", "poor", "newer", "nothing"])
def test_axe_finds_nothing(browser, server, axe, place, scheme) -> None:
    with opened(browser, **PHONE, color_scheme=scheme) as page:
        if place == "newer":
            fill(page, server.url)
            first = page.url
            go(page, page.get_by_role("link", name="Brief again"))
            page.locator("#reports").fill(NEWER)
            server.clock.on(minutes=27)
            go(page, page.locator("button.go"))
            page.goto(first)
        else:
            to(page, server, place)
        page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
        nothing_found(page, axe)


def nothing_found(page, axe, *, enhanced: bool = True) -> None:
    """Run every rule of axe over a page, 7:1 contrast among them, which it calls enhanced and leaves off by itself.

    enhanced: not for red alone on black, which cannot reach more than 5.25:1.
    """
    page.evaluate(axe)
    # what passed, thousands of nodes of a large page, is left where it is
    found = page.evaluate(
        "(on) => axe.run({rules: {'color-contrast-enhanced': {enabled: on}},"
        " resultTypes: ['violations', 'incomplete']})"
        ".then(({violations, incomplete}) => ({violations, incomplete}))",
        enhanced,
    )
    said = {one["id"]: [node["html"][:160] for node in one["nodes"][:3]] for one in found["violations"]}
    assert said == {}, json.dumps(said, indent=1)
    assert {one["id"] for one in found["incomplete"]} <= {"color-contrast", "color-contrast-enhanced"}


@pytest.mark.parametrize("place", ["form", "worst", "nothing"])
def test_the_dark_page_has_no_large_bright_area(browser, server, place) -> None:
    with opened(browser, **PHONE, color_scheme="dark") as page:
        to(page, server, place)
        image = Image.open(io.BytesIO(page.screenshot(full_page=False))).convert("L")
        # patches of 24 x 24 pixels, larger than a bold letter: none brighter than grey, the mean near black
        small = image.resize((15, 31), Image.Resampling.BOX)
        data = list(small.get_flattened_data())
        assert sum(data) / len(data) < 45
        assert max(data) < 110


def test_light_and_dark_can_be_chosen_against_the_device(browser, server) -> None:
    paper = "getComputedStyle(document.documentElement).backgroundColor"
    for scheme, wanted, colour in (("light", "Dark", "rgb(10, 12, 13)"), ("dark", "Light", "rgb(255, 255, 255)")):
        with opened(browser, **PHONE, color_scheme=scheme) as page:
            page.goto(server.url)
            go(page, page.get_by_role("button", name=wanted))
            assert page.evaluate(paper) == colour


def test_print_leaves_out_controls_is_black_on_white_and_keeps_every_line(browser, server) -> None:
    with opened(browser, **PHONE, color_scheme="dark") as page:
        fill(page, server.url)
        lines = page.locator(".line").count()
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
        assert not page.locator(".themes").is_visible() and not page.locator(".after").is_visible()
        assert sum(page.locator(".line").nth(at).is_visible() for at in range(lines)) == lines
        assert page.pdf(format="A5").startswith(b"%PDF")


def test_the_sheet_opens_with_its_style_and_without_complaint(browser, server) -> None:
    with opened(browser, **PHONE) as page:
        fill(page, server.url)
        go(page, page.get_by_role("link", name="Sheet to print"))
        assert page.evaluate("document.styleSheets.length") == 1
        assert page.evaluate("getComputedStyle(document.body).fontFamily") != "Times New Roman"
        assert wide(page) <= 0
        assert page.faults == []


def test_on_the_sheet_the_pictures_stand_before_the_lines_or_beside_them(browser, server) -> None:
    for size, is_wide in (({"width": 360, "height": 740}, False), ({"width": 1440, "height": 900}, True)):
        with opened(browser, viewport=size, has_touch=True) as page:
            fill(page, server.url)
            go(page, page.get_by_role("link", name="Sheet to print"))
            pictures, lines = (page.locator(part).bounding_box() for part in ("#pictures", ".told"))
            if is_wide:
                assert pictures["x"] > lines["x"] + lines["width"]
                page.evaluate("scrollTo(0, 900)")
                assert page.locator("#pictures").bounding_box()["y"] >= 0
            else:
                assert pictures["y"] + pictures["height"] <= lines["y"]
            # a line to tick takes a row or few, not a letter a row
            assert all(row.bounding_box()["height"] < 200 for row in page.locator("section li").all())


def test_the_sheet_holds_the_red_night_and_ticks_without_script(browser, server) -> None:
    with opened(browser, **PHONE, java_script_enabled=False) as page:
        fill(page, server.url)
        go(page, page.get_by_role("button", name="Dim red"))
        go(page, page.get_by_role("link", name="Sheet to print"))
        box = page.locator("input[type=checkbox]").first
        before = box.screenshot()
        box.tap()
        assert box.is_checked() and box.screenshot() != before
        image = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
        colours = {colour for _, colour in image.getcolors(1 << 24)}
        assert max(max(green, blue) for _, green, blue in colours) == 0


@pytest.mark.parametrize("name", ["worst", "poor"])
def test_no_verdict_breaks_inside_a_word_at_twice_the_size(browser, server, name) -> None:
    # 200 % of the text on a telephone of 360 px
    with opened(browser, **PHONE) as page:
        fill(page, server.url, REPORTS[name])
        page.evaluate("document.documentElement.style.setProperty('font-size', '200%')")
        page.evaluate("document.documentElement.style.setProperty('--size-body', '2rem')")
        assert wide(page) <= 0
        # a word is whole where it lies in one box
        broken = page.evaluate(
            """() => [...document.querySelectorAll('.answer h2 .verdict, .answer h2 a')].flatMap(e => {
              const text = e.firstChild, found = [];
              for (const word of text.data.matchAll(/\\S+/g)) {
                const range = document.createRange();
                range.setStart(text, word.index);
                range.setEnd(text, word.index + word[0].length);
                if (range.getClientRects().length > 1 && !word[0].includes('-')) found.push(word[0]);
              }
              return found;
            })"""
        )
        assert broken == []


def test_keyboards_reach_the_form_in_reading_order(browser, server) -> None:
    with opened(browser, viewport={"width": 1280, "height": 900}) as page:
        page.goto(server.url)
        order = []
        for _ in range(6):
            page.keyboard.press("Tab")
            order.append(page.evaluate("document.activeElement.id"))
        assert order == ["reports", "station", "feed", "off_block", "place", "aircraft"]


@pytest.mark.parametrize("name", REPORTS)
def test_the_night_and_the_stand_stay_beside_the_lines_on_a_wide_screen(browser, server, name) -> None:
    with opened(browser, viewport={"width": 1440, "height": 900}, has_touch=True) as page:
        fill(page, server.url, REPORTS[name])
        assert wide(page) <= 0
        lines = page.locator(".told").bounding_box()
        far = page.evaluate("document.documentElement.scrollHeight - innerHeight")
        for share in (0.5, 0.8):
            # up to where the lines end: below them stands what belongs to the whole page
            page.evaluate("y => scrollTo(0, y)", min(share * far, lines["y"] + lines["height"] - 900))
            for drawing in page.locator(".night svg").all():
                box = drawing.bounding_box()
                assert box["x"] > lines["x"] + lines["width"]
                assert box["y"] >= 0 and box["y"] + box["height"] <= 900, (name, box)


def test_on_a_telephone_the_night_comes_before_the_lines(browser, server) -> None:
    with opened(browser, **PHONE) as page:
        fill(page, server.url)
        first, night, told = (page.locator(part).bounding_box()["y"] for part in (".first", ".night", ".told"))
        assert first < night < told


@pytest.mark.parametrize("place", ["form", "worst", "poor"])
def test_the_night_theme_is_red_alone(browser, server, place) -> None:
    with opened(browser, **PHONE) as page:
        to(page, server, place)
        go(page, page.get_by_role("button", name="Dim red"))
        image = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
        colours = {colour for _, colour in image.getcolors(1 << 24)}
        assert max(max(green, blue) for _, green, blue in colours) == 0


@pytest.mark.parametrize("place", ["form", "worst", "poor"])
def test_axe_finds_nothing_in_the_night_theme(browser, server, axe, place) -> None:
    with opened(browser, **PHONE) as page:
        to(page, server, place)
        go(page, page.get_by_role("button", name="Dim red"))
        nothing_found(page, axe, enhanced=False)


def test_the_browser_s_clock_plays_no_part(browser, server) -> None:
    with opened(browser, **PHONE, timezone_id="Pacific/Auckland", locale="de-DE") as page:
        fill(page, server.url)
        assert "0640Z" in page.locator("h1").inner_text()
        assert NOW[11:16].replace(":", "") in page.locator("footer").inner_text()

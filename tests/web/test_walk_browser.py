"""The walk on a telephone: the network goes in the middle of it, script is off, there are only keys."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Error

from advisor.record.verify import check
from tests.web.conftest import Server
from tests.web.site import NEWER
from tests.web.test_browser import LITTLE, PHONE, SMALL, fill, go, nothing_found, opened, wide


@pytest.fixture
def kept(tmp_path_factory):
    folder = tmp_path_factory.mktemp("walks")
    made = Server(data=folder, database=f"sqlite:///{folder / 'record.sqlite'}")
    yield made
    made.stop()


def record(server: Server):
    return server.app.state.walks.record


def events(server: Server) -> list[tuple]:
    return [
        (event.kind, event.data.get("line") or event.data.get("zone"), event.data.get("found"))
        for event in record(server).events()
    ]


def begin(page, server: Server) -> None:
    fill(page, server.url)
    page.locator("#by").fill("AB")
    go(page, page.get_by_role("button", name="Begin the walk"))
    page.wait_for_url("**/w/*")


def until(page, said: str) -> None:
    """Wait for something in the page; its own policy lets no text be run there, so it is asked from outside."""
    end = time.monotonic() + 30
    while not _holds(page, said):
        assert time.monotonic() < end, (said, getattr(page, "faults", None))
        page.wait_for_timeout(50)


def _holds(page, said: str) -> bool:
    try:
        return bool(page.evaluate(said))
    except Error:
        # the page is on its way to another one, and is asked again there
        return False


# a page that is opened anew is not yet told that it is offline, and what goes past a worker is not held up either
CUT = """
if (!window.mended) {
  window.mended = window.fetch;
  window.fetch = (...asked) =>
    localStorage.getItem("cut") ? Promise.reject(new TypeError("no reception")) : window.mended(...asked);
}
"""


# the first answer to what is sent gets lost; done in the page, since what goes past a worker is not held up elsewhere
SWALLOW = """
window.lost = [];
// to ticks and words, and to photos
const heard = window.fetch;
window.fetch = async (...asked) => {
  const answer = await heard(...asked);
  if (/\\/(queue$|photo\\?)/.test(String(asked[0])) && !window.lost.length) {
    window.lost.push(answer.status);
    throw new TypeError("no reception");
  }
  return answer;
};
"""


def cut(page) -> None:
    """No reception: the browser is told so, and nothing that is sent arrives, not even while a page is opened anew."""
    page.context.add_init_script(CUT)
    page.evaluate(CUT + 'localStorage.setItem("cut", "yes")')
    page.context.route("**/api/**", lambda route: route.abort())
    page.context.set_offline(True)


def mend(page) -> None:
    page.context.set_offline(False)
    page.context.unroute("**/api/**")
    page.evaluate('localStorage.removeItem("cut")')


def worker_ready(page) -> None:
    """Until the page of the walk and its files lie on the telephone."""
    page.evaluate("navigator.serviceWorker.ready")
    until(
        page,
        "async () => (await Promise.all([location.pathname, document.querySelector('script[src*=walk]').src]"
        ".map(one => caches.match(one)))).every(Boolean)",
    )


def press(page, place: int, name: str) -> None:
    part = page.locator(".place").nth(place)
    if name != "Nothing seen":
        part.locator("details.some summary").tap()
    part.get_by_role("button", name=f"{name} at").tap()


def waiting(page) -> int:
    return page.evaluate("Object.keys(localStorage).filter(one => one.startsWith('walk:')).length")


@pytest.mark.long
def test_the_network_goes_in_the_middle_and_nothing_is_lost_or_doubled(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        worker_ready(page)
        places = page.locator(".place").count()
        press(page, 0, "Nothing seen")
        until(page, "document.querySelector('#queue').textContent === 'All sent'")
        # out on the apron
        cut(page)
        press(page, 1, "Frost")
        press(page, 2, "Ice")
        assert "not sent yet" in page.locator(".state").nth(1).inner_text()
        page.locator("#text").fill("left side only")
        page.get_by_role("button", name="Add the note").tap()
        assert waiting(page) == 3
        # the telephone is put away and opened again, still without reception
        page.reload()
        assert page.locator(".place").count() == places
        assert page.locator("#queue").inner_text().startswith("3 not sent yet, kept on this telephone")
        assert page.locator(".state").nth(2).inner_text().startswith("ice, ")
        press(page, 0, "Snow")
        assert waiting(page) == 4
        assert len(events(kept)) == 2
        # back inside; a second tab sends at the same time
        other = page.context.new_page()
        mend(page)
        other.goto(page.url)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "Object.keys(localStorage).every(one => !one.startsWith('walk:'))")
        ids = page.evaluate("[...document.querySelectorAll('.place')].map(one => one.id.slice(6))")
        assert events(kept) == [
            ("opened", None, None),
            ("found", ids[0], "nothing seen"),
            ("found", ids[1], "frost"),
            ("found", ids[2], "ice"),
            ("note", None, None),
            ("found", ids[0], "snow"),
        ]
        assert list(check(record(kept))) == []
        page.reload()
        assert "not sent" not in page.locator("main").inner_text()
        assert "(before: nothing seen)" in page.locator(".state").nth(0).inner_text()


def test_an_answer_that_is_lost_on_the_way_back_doubles_nothing(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        # the server hears it; the telephone does not hear the server
        page.evaluate(SWALLOW)
        press(page, 1, "Frost")
        until(page, "document.querySelector('#queue').textContent.includes('no reception')")
        assert page.evaluate("window.lost") == [200] and len(events(kept)) == 2
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "document.querySelector('#queue').textContent === 'All sent'")
        assert len(events(kept)) == 2


def test_what_the_server_does_not_take_is_said_and_kept_in_sight(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        walk = page.url.rsplit("/", 1)[1]
        cut(page)
        press(page, 1, "Frost")
        until(page, "document.querySelector('#queue').textContent.includes('no reception')")
        # meanwhile somebody signs it at another telephone
        page.context.request.post(f"{kept.url}/api/walk/{walk}/sign", data={"by": "CD", "role": "pilot"})
        mend(page)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "document.querySelector('#queue').textContent.includes('Not taken')")
        assert "found frost" in page.locator("#queue").inner_text()
        page.reload()
        assert "Not taken" in page.locator("#queue").inner_text()
        # above everything and at its own place, until somebody has read it
        refused = page.locator("#refused")
        assert refused.is_visible() and "the walk is signed" in refused.inner_text()
        assert "Not taken: frost" in page.locator(".place").nth(1).locator(".refused").inner_text()
        page.get_by_role("button", name="I have read it").tap()
        assert not refused.is_visible() and page.locator(".refused").count() == 0
        page.reload()
        assert "Not taken" not in page.locator("main").inner_text()


def second_tab_and_frost(page, kept):
    """Another tab of a walk that has just begun, and a tick in the first one while there is no reception."""
    begin(page, kept)
    worker_ready(page)
    other = page.context.new_page()
    other.goto(page.url)
    cut(page)
    press(page, 1, "Frost")
    return other


def test_two_tabs_of_one_walk_show_the_same_ticks(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        other = second_tab_and_frost(page, kept)
        other.locator(".state", has_text="frost, ").wait_for()
        assert "not sent yet" in other.locator(".state").nth(1).inner_text()
        press(other, 2, "Ice")
        page.locator(".state", has_text="ice, ").wait_for()
        assert waiting(page) == 2
        mend(page)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        for tab in (page, other):
            tab.locator(".unsent").first.wait_for(state="detached")
            until(tab, "!document.querySelector('#places').textContent.includes('not sent yet')")
            assert "frost" in tab.locator(".state").nth(1).inner_text()
            assert "ice" in tab.locator(".state").nth(2).inner_text()
        assert len(events(kept)) == 3
        # without reception again, the ticks that were sent are still on the page
        cut(page)
        page.reload()
        assert page.locator(".state").nth(1).inner_text().startswith(("frost", "!"))
        assert "kept on this telephone" in page.locator("#queue").inner_text()


def test_a_tab_that_had_no_reception_when_another_sent_asks_again(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        other = second_tab_and_frost(page, kept)
        other.locator(".state", has_text="not sent yet").wait_for()
        # the first tab has reception again and sends; the second asks what came of it, and gets nothing
        other.evaluate("window.heard = window.fetch; window.fetch = () => Promise.reject(new TypeError('none')); 0")
        mend(page)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "!document.querySelector('#places').textContent.includes('not sent yet')")
        until(other, "!document.querySelector('#queue').textContent.includes('not sent yet')")
        assert "not sent yet" in other.locator(".state").nth(1).inner_text()
        other.evaluate("window.fetch = window.heard; 0; window.dispatchEvent(new Event('online'))")
        until(other, "!document.querySelector('#places').textContent.includes('not sent yet')")
        assert "frost" in other.locator(".state").nth(1).inner_text()
        until(other, "document.querySelector('#queue').textContent === ''")


def test_times_that_are_none_stay_with_their_form_and_are_said_there(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        page.locator("#treatment-at").fill("noon")
        page.get_by_role("button", name="Note the step").tap()
        assert page.locator("#treatment-at").evaluate("e => e.validationMessage").startswith("Give a UTC time")
        assert page.locator("#treatment-at").input_value() == "noon" and waiting(page) == 0


def test_the_whole_walk_with_script_off(browser, kept) -> None:
    with opened(browser, **PHONE, java_script_enabled=False) as page:
        begin(page, kept)
        go(page, page.get_by_role("link", name="One a screen"))
        assert page.locator(".place:visible").count() == 1
        go(page, page.locator(".place:visible").get_by_role("button", name="Nothing seen"))
        assert page.url.endswith("?at=2")
        page.locator(".place:visible summary.half").tap()
        page.locator(".place:visible").get_by_label("Note, before the button").fill("thin")
        go(page, page.locator(".place:visible").get_by_role("button", name="Ice"))
        page.locator("#sign-by").fill("AB")
        page.locator("#role").fill("pilot")
        go(page, page.get_by_role("button", name="Sign", exact=True))
        assert "Signed by AB, pilot" in page.locator("#signature").inner_text()
        assert page.locator(".half").count() == 0
        assert [kind for kind, _, _ in events(kept)] == ["opened", "found", "found", "signed"]
        assert wide(page) <= 0


def test_the_whole_walk_by_keys_alone(browser, kept) -> None:
    with opened(browser, viewport={"width": 360, "height": 740}) as page:
        fill_by_keys(page, kept)
        seen = reach(page, "button.half")
        page.keyboard.press("Enter")
        until(page, "document.querySelector('#queue').textContent === 'All sent'")
        reach(page, "summary.half")
        page.keyboard.press("Enter")
        reach(page, "details[open] button.half")
        page.keyboard.press("Enter")
        until(page, "document.querySelectorAll('.state.found').length === 1")
        reach(page, "#sign-by")
        page.keyboard.type("AB")
        reach(page, "#role")
        page.keyboard.type("pilot")
        page.keyboard.press("Enter")
        page.locator("#signature", has_text="Signed by AB, pilot").wait_for()
        assert seen
        assert [kind for kind, _, _ in events(kept)] == ["opened", "found", "found", "signed"]


def fill_by_keys(page, server: Server) -> None:
    page.goto(server.url)
    for name, value in {"reports": NEWER, "off_block": "0640", "place": "61.4,9.8"}.items():
        page.locator(f"#{name}").focus()
        page.keyboard.type(value)
    page.locator("#off_block").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "#by")
    page.keyboard.type("AB")
    with page.expect_navigation():
        page.keyboard.press("Enter")


def reach(page, wanted: str) -> bool:
    """Go on with the tabulator until something of this kind is reached; it must be seen to be reached."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
            return True
    raise AssertionError(f"{wanted} cannot be reached by keys")


def test_a_photo_is_made_small_on_the_telephone_and_waits_like_the_rest(browser, kept, tmp_path) -> None:
    from PIL import Image

    path = tmp_path / "photo.jpg"
    Image.effect_noise((2600, 1900), 90).convert("RGB").save(path, quality=97)
    assert path.stat().st_size > 2_000_000
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        cut(page)
        part = page.locator(".place").nth(1)
        part.locator("details.photo summary").tap()
        part.locator("input[type=file]").set_input_files(path)
        part.get_by_role("button", name="Send the photo").tap()
        until(page, "document.querySelector('#queue').textContent.startsWith('1 not sent yet')")
        mend(page)
        # the server keeps it, and the telephone does not hear so: it sends the photo again, and there is one
        page.evaluate(SWALLOW)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "window.lost.length === 1")
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, "document.querySelector('#queue').textContent === 'All sent'")
        assert page.evaluate("window.lost") == [201]
    photos = [event.data for event in record(kept).events() if event.kind == "photo"]
    assert [max(data["width"], data["height"]) for data in photos] == [1280]


@pytest.mark.long
@pytest.mark.parametrize(
    ("state", "theme"),
    # every state and every theme; all of them together where there is time
    [
        pytest.param(state, theme, marks=() if state == "said" or theme == "Light" else pytest.mark.long)
        for state in ("new", "said", "signed")
        for theme in ("Light", "Dark", "Dim red")
    ],
)
def test_axe_finds_nothing_on_a_walk_and_targets_take_a_glove(browser, kept, axe, theme, state) -> None:
    with opened(browser, **PHONE, color_scheme="dark") as page:
        begin(page, kept)
        go(page, page.get_by_role("button", name=theme))
        if state != "new":
            press(page, 0, "Nothing seen")
            press(page, 1, "Frost")
            until(page, "document.querySelectorAll('.state.found').length === 1")
        if state == "signed":
            page.locator("#sign-by").fill("AB")
            page.locator("#role").fill("pilot")
            page.get_by_role("button", name="Sign", exact=True).tap()
            page.locator("#signature", has_text="Signed by AB, pilot").wait_for()
        page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
        nothing_found(page, axe, enhanced=theme != "Dim red")
        assert page.evaluate(SMALL) == []
        assert page.evaluate(LITTLE) == []
        assert wide(page) <= 0


def test_dim_red_has_no_other_colour_and_no_bright_area(browser, kept) -> None:
    import io

    from PIL import Image

    with opened(browser, **PHONE) as page:
        begin(page, kept)
        go(page, page.get_by_role("button", name="Dim red"))
        image = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
        small = image.resize((15, 31), Image.Resampling.BOX)
        # red leads everywhere: what keeps the eyes used to the dark is long waves
        assert all(red >= green and red >= blue for red, green, blue in small.get_flattened_data())
        grey = small.convert("L").get_flattened_data()
        assert sum(grey) / len(grey) < 45 and max(grey) < 110


def test_halves_are_large_enough_for_a_glove(browser, kept) -> None:
    with opened(browser, **PHONE) as page:
        begin(page, kept)
        box = page.locator(".half").first.bounding_box()
        # about 10 mm at 160 px an inch are 63
        assert box["height"] >= 72 and box["width"] >= 150


@pytest.mark.long
def test_axe_finds_nothing_on_the_pages_beside_the_walk(browser, axe, tmp_path) -> None:
    from advisor.record.tokens import new_token
    from tests.record.demo import write
    from tests.record.places import Clock

    secret, line = new_token("AB", "sign")
    (tmp_path / "tokens").write_text(line)
    server = Server(data=tmp_path, database=f"sqlite:///{tmp_path / 'record.sqlite'}", tokens=tmp_path / "tokens")
    try:
        write(record(server), Clock("2026-11-01T05:00:00+00:00"), 250, seed=2)
        with opened(browser, **PHONE) as page:
            page.goto(f"{server.url}/outcomes")
            nothing_found(page, axe)
            page.get_by_label("Token").fill("nobody's")
            go(page, page.get_by_role("button", name="Go on"))
            assert "nobody" in page.locator("[role=alert]").inner_text()
            nothing_found(page, axe)
            page.get_by_label("Token").fill(secret)
            go(page, page.get_by_role("button", name="Go on"))
            page.goto(f"{server.url}/outcomes")
            assert page.locator("svg.plot").count() == 2
            nothing_found(page, axe)
            assert wide(page) <= 0
    finally:
        server.stop()

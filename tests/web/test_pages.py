"""The pages without a browser: forms, cookies, headers, escaping, newer reports."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode
from html import unescape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.errors import FeedError
from advisor.web import form_pages, pages
from advisor.web.model import FIELDS
from tests.web.site import NEWER, PLACE, POOR, QUIET, STORM, WORST, Clock, body, brief_page, client, send, token


@pytest.fixture
def site():
    with client() as made:
        yield made


def test_a_form_becomes_a_brief_at_an_address_of_its_own(site) -> None:
    answer = send(site, reports=WORST, off_block="0640", place=PLACE)
    assert answer.status_code == 303
    assert re.fullmatch(r"/b/[A-Za-z0-9_-]{22}", answer.headers["location"])
    page = site.get(answer.headers["location"])
    assert page.status_code == 200
    for said in ("Wait or stop", "Call", "Take and wear", "Doors", "Off-block", "0640Z"):
        assert said in page.text


def test_the_page_shows_every_line_that_the_api_gives(site) -> None:
    page = brief_page(site)
    name = str(page.url).rsplit("/", 1)[1]
    for line in site.get(f"/api/brief/{name}").json()["advice"]:
        if line["status"] != "cannot tell":
            assert line["text"] in unescape(page.text)


def test_times_of_day_on_the_form_are_utc_with_or_without_the_letter(site) -> None:
    for off_block in ("0640", "06:40", "0640Z", "2027-01-10T06:40Z"):
        where = send(site, reports=WORST, off_block=off_block, place=PLACE).headers["location"]
        found = site.get("/api/brief/" + where.rsplit("/", 1)[1]).json()
        assert found["windows"]["off_block"] == "2027-01-10T06:40:00Z"


def test_windows_may_be_written_with_a_dash_or_a_stroke(site) -> None:
    for walk in ("0600/0620", "0600-0620", "0600Z/0620Z", "06:00–06:20"):
        where = send(site, reports=WORST, off_block="0640", place=PLACE, walk_round=walk).headers["location"]
        found = site.get("/api/brief/" + where.rsplit("/", 1)[1]).json()
        assert found["windows"]["walk_round"] == ["2027-01-10T06:00:00Z", "2027-01-10T06:20:00Z"]


def test_what_is_wrong_is_said_beside_its_entry_and_all_entries_stay(site) -> None:
    answer = send(site, reports=WORST, off_block="0640", place=PLACE, heading="north", parked_since="2100")
    assert answer.status_code == 422
    assert 'id="heading-fault"' in answer.text and 'aria-invalid="true"' in answer.text
    for kept in (WORST, 'value="0640"', 'value="61.4,9.8"', 'value="north"', 'value="2100"'):
        assert kept in answer.text


def test_a_look_keeps_its_time_when_a_newer_report_comes() -> None:
    clock = Clock()
    made, _ = feed_site([QUIET, QUIET.replace("100520Z", "100550Z")], clock)
    with made as site:
        where = str(from_station(site, seen="nothing").url)
        clock.on(minutes=30)
        newer = site.get(where + "/newer").json()["newer"]
        page = unescape(site.get(f"/b/{newer}").text)
    assert "Nothing seen on it at 0525Z, as you said." in page and "0555Z, as you said" not in page


def test_a_look_without_what_was_seen_is_refused_beside_its_entry(site) -> None:
    answer = send(site, reports=WORST, off_block="0640", place=PLACE, looked_at="0510")
    assert answer.status_code == 422 and 'id="looked_at-fault"' in answer.text


def test_another_departure_makes_the_one_before_it_not_stale(site) -> None:
    name = str(brief_page(site).url).rsplit("/", 1)[1]
    other = brief_page(site, aircraft="helicopter", since=name)
    assert "Since the brief" not in other.text and "Stale" not in site.get(f"/b/{name}").text


def test_everything_that_is_wrong_is_said_at_once(site) -> None:
    wrong = {
        "reports": "no report at all",
        "off_block": "soon",
        "place": "nowhere",
        "heading": "north",
        "parked_since": "yesterday",
        "fuel_temperature": "warm",
        "take_off": "later",
        "seen": "moss",
    }
    answer = send(site, **wrong)
    assert answer.status_code == 422
    # what is counted from off-block waits until that can be read
    faults = set(re.findall(r'id="(\w+)-fault"', answer.text))
    assert faults == set(wrong) - {"take_off"}
    (told,) = re.findall(r'role="alert">(.*?)</div>', answer.text, re.S)
    assert re.findall(r'href="#(\w+)"', told) == [name for name in form_pages.LABELS if name in faults]
    for name, value in wrong.items():
        assert f'value="{value}"' in answer.text or name in ("reports", "seen")
    assert set(re.findall(r'id="(\w+)-fault"', send(site, **wrong | {"off_block": "0640"}).text)) == set(wrong) - {
        "off_block"
    }


@pytest.mark.parametrize("name", ["off_block", "heading", "fuel_fill", "walk_round", "doors_open", "take_off", "now"])
def test_a_fault_found_beforehand_reads_as_the_brief_s_own(site, name) -> None:
    given = {"walk_round": "0620Z/0600Z", "doors_open": "0500Z/0700Z", "take_off": "1900Z"}
    wrong = given.get(name, "x9")
    page = unescape(send(site, **{"reports": WORST, "off_block": "0640", "place": PLACE, name: wrong}).text)
    sent = body(WORST, **{name: wrong}) | ({} if name == "now" else {"now": "2027-01-10T05:25:00Z"})
    said = site.post("/api/brief", json=sent).json()
    assert said["status"] == 422 and said["field"] == name
    assert f"{said['detail']}; {said['hint']}</p>" in page


def test_a_text_that_is_too_long_comes_back_to_be_shortened(site) -> None:
    long = WORST + "=\n" * 40_000
    answer = send(site, reports=long, off_block="0640", place="x" * 81)
    assert answer.status_code == 413
    assert "letters are too many" in answer.text and 'id="place-fault"' in answer.text
    assert unescape(answer.text).count("=\n") >= 39_999 and 'value="0640"' in answer.text


def test_a_form_whose_cookie_is_gone_keeps_what_was_typed(site) -> None:
    given = {"token": token(site.get("/").text), "reports": WORST, "off_block": "0640", "place": PLACE}
    site.cookies.clear()
    answer = site.post("/brief", data=given, follow_redirects=False)
    assert answer.status_code == 403
    assert WORST in answer.text and 'value="0640"' in answer.text
    again = site.post("/brief", data=given | {"token": token(answer.text)}, follow_redirects=False)
    assert again.status_code == 303


def test_a_change_of_colours_keeps_what_was_typed(site) -> None:
    given = {"reports": WORST, "off_block": "0640", "heading": "north", "seen": "ice", "screen": "brief"}
    answer = send(site, "/theme", theme="night", back="/", **given)
    assert answer.status_code == 200
    for kept in (WORST, 'value="0640"', 'value="north"', 'value="ice" checked', 'data-theme="night"'):
        assert kept in answer.text
    assert 'data-theme="night"' in site.get("/").text
    assert 'form="ask" formaction="/theme"' in answer.text


@pytest.mark.parametrize(
    "fields", [{}, {"off_block": "0640"}, {"reports": WORST}, {"off_block": "0640", "reports": " "}], ids=str
)
def test_an_empty_form_says_what_is_missing(site, fields) -> None:
    answer = send(site, **fields)
    assert answer.status_code == 422
    assert "No brief was made" in answer.text


OF_THE_AIRCRAFT = {
    "heading": "210",
    "fuel_temperature": "-8",
    "fuel_fill": "55",
    "parked_since": "2110Z",
    "treated_at": "0501Z",
    "walk_round": "0600Z/0620Z",
    "doors_open": "0555Z/0630Z",
    "take_off": "0702Z",
}


def test_the_same_departure_again_has_every_input(site) -> None:
    name = str(brief_page(site, **OF_THE_AIRCRAFT, seen="frost").url).rsplit("/", 1)[1]
    again = site.get(f"/?again={name}").text
    assert WORST in again and "Put the newest report in" in again
    for value in ("0640Z", "61.4,9.8", *OF_THE_AIRCRAFT.values()):
        assert f'value="{value}"' in again
    assert 'value="frost" checked' in again


def test_a_new_brief_takes_over_nothing_of_the_aircraft_itself(site) -> None:
    brief_page(site, **OF_THE_AIRCRAFT, seen="frost")
    new = site.get("/").text
    for kept in (WORST, 'value="0640Z"', 'value="61.4,9.8"', "nothing else was taken over"):
        assert kept in new
    for value in OF_THE_AIRCRAFT.values():
        assert f'value="{value}"' not in new
    assert 'value="frost" checked' not in new and 'value="" checked' in new


def test_place_and_aircraft_come_back_after_the_day_of_the_brief() -> None:
    clock = Clock()
    with client(clock=clock) as site:
        brief_page(site, aircraft="helicopter")
        clock.on(minutes=25 * 60)
        again = site.get("/").text
    assert 'value="61.4,9.8"' in again and WORST not in again
    assert re.search(r'<option value="helicopter" selected>', again)


def test_an_address_can_carry_entries(site) -> None:
    page = site.get("/", params={"place": "ZZZA", "aircraft": "glider", "off_block": "0640Z", "token": "x"}).text
    assert 'value="ZZZA"' in page and '<option value="glider" selected>' in page
    assert token(page) != "x"


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.dictionaries(st.sampled_from([*FIELDS, "since", "theme", "back", "again"]), st.text(max_size=40), max_size=6))
def test_any_text_in_any_entry_gives_a_page(site, fields) -> None:
    assert send(site, **{"reports": WORST, "off_block": "0640", "place": PLACE, **fields}).status_code in (303, 422)
    assert site.get("/", params=fields).status_code == 200


HOSTILE = '"><script>alert(1)</script><svg onload=x>'


@pytest.mark.parametrize("name", ["reports", "off_block", "place", "heading", "aircraft", "now", "since", "seen"])
def test_nothing_that_is_sent_reaches_the_page_unescaped(site, name) -> None:
    fields = {"reports": WORST, "off_block": "0640", "place": PLACE} | {name: HOSTILE}
    answer = send(site, **fields)
    page = answer.text if answer.status_code != 303 else site.get(answer.headers["location"]).text
    assert "<script>alert" not in page and "<svg onload" not in page
    assert "<script>alert" not in site.get("/", params={name: HOSTILE}).text


def test_report_text_is_escaped_in_the_brief_and_in_its_drawings(site) -> None:
    page = brief_page(site, report=WORST + " <b>x</b> <script>alert(1)</script> ]]> &quot; <svg/onload>").text
    assert not re.search(r"<script>alert|<b>x</b>|<svg/onload", page, re.I)
    assert "&lt;SCRIPT&gt;ALERT(1)&lt;/SCRIPT&gt;" in page.upper().replace("&LT;", "&lt;").replace("&GT;", "&gt;")


@pytest.mark.parametrize(
    "path", ["/", "/b/" + "A" * 22, "/nothing", "/static/page.css", "/chart.css", "/healthz", "/api/x"]
)
def test_every_answer_carries_the_strict_headers(site, path) -> None:
    headers = site.get(path).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert not any("unsafe" in value or "http" in value or "*" in value for value in policy.values())
    assert headers["x-content-type-options"] == "nosniff"
    assert "noindex" in headers["x-robots-tag"]


def test_pages_are_not_kept_by_caches_and_fixed_files_are(site) -> None:
    page = brief_page(site)
    assert page.headers["cache-control"] == "no-store"
    for link in re.findall(r'(?:href|src)="(/(?:static|chart)[^"]*)"', page.text):
        assert "immutable" in site.get(link).headers["cache-control"], link


@pytest.mark.parametrize("report", [WORST, QUIET, POOR, STORM])
def test_pages_name_nothing_outside_and_carry_no_script_or_style_of_their_own(site, report) -> None:
    for page in (site.get("/").text, brief_page(site, report=report).text, site.get("/nothing").text):
        assert re.findall(r'(?:src|href|action)="(?!/|#)', page) == []
        assert re.findall(r"<style| style=| on[a-z]+=|<script>|javascript:", page) == []


@pytest.mark.parametrize(
    "change",
    [
        {"token": ""},
        {"token": "x" * 32},
        {"cookie": None},
        {"origin": "http://elsewhere.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
    ids=str,
)
@pytest.mark.parametrize("path", ["/brief", "/theme"])
def test_a_form_from_elsewhere_is_refused(site, change, path) -> None:
    fields = {"reports": WORST, "off_block": "0640", "place": PLACE, "theme": "dark"}
    fields["token"] = change.get("token", token(site.get("/").text))
    if "cookie" in change:
        site.cookies.clear()
    headers = {name: value for name, value in change.items() if name in ("origin", "sec-fetch-site")}
    answer = site.post(path, data=fields, headers=headers, follow_redirects=False)
    assert answer.status_code == 403
    assert "did not come from this page" in answer.text
    assert site.get("/").status_code == 200 and "/b/" not in answer.headers.get("location", "")


def test_our_own_form_with_the_browser_s_headers_goes_through(site) -> None:
    fields = {"token": token(site.get("/").text), "theme": "dark"}
    headers = {"origin": "http://testserver.local", "host": "testserver.local", "sec-fetch-site": "same-origin"}
    assert site.post("/theme", data=fields, headers=headers, follow_redirects=False).status_code == 303


def test_the_theme_is_kept_and_leads_back(site) -> None:
    answer = send(site, "/theme", theme="dark", back="/?place=ZZZA")
    assert (answer.status_code, answer.headers["location"]) == (303, "/?place=ZZZA")
    assert 'data-theme="dark"' in site.get("/").text


@pytest.mark.parametrize(
    "back", ["http://x.example", "//x.example", "/\\x.example", "/\t/x.example", "x", "/€", "/a\r\nSet-Cookie: x"]
)
def test_the_theme_never_leads_elsewhere(site, back) -> None:
    answer = send(site, "/theme", theme="light", back=back)
    assert answer.headers["location"] == "/"


def test_an_unknown_theme_is_refused(site) -> None:
    assert send(site, "/theme", theme="pink").status_code == 400


@pytest.mark.parametrize("name", ["theme", "form", "last", "usual"])
@pytest.mark.parametrize("value", ["x", "%ff", "&".join("a=b" for _ in range(99)), "place=" + "y" * 3000, "../../etc"])
def test_a_spoilt_cookie_does_no_harm(site, name, value) -> None:
    assert site.get("/", headers={"cookie": f"{name}={value}"}).status_code == 200


def test_no_page_lists_the_briefs_of_others(site) -> None:
    name = str(brief_page(site).url).rsplit("/", 1)[1]
    site.cookies.clear()
    for path in ("/", "/b", "/api/brief", "/schema/openapi.json", "/b/"):
        assert name not in site.get(path).text


def test_a_brief_that_is_not_there_says_so_with_a_way_on(site) -> None:
    page = site.get("/b/" + "A" * 22)
    assert page.status_code == 404
    assert "kept for a day" in page.text and 'href="/"' in page.text


def test_too_many_briefs_by_the_form_are_refused_as_a_page() -> None:
    with client(rate_limit=1) as site:
        brief_page(site)
        answer = send(site, reports=WORST, off_block="0640", place=PLACE)
    assert (answer.status_code, answer.headers["content-type"]) == (429, "text/html; charset=utf-8")
    assert int(answer.headers["retry-after"]) > 0


def test_the_sheet_stands_alone_under_a_policy_that_lets_only_its_own_style_through(site) -> None:
    page = brief_page(site)
    assert f'href="{page.url.path}/sheet"' in page.text
    sheet = site.get(page.url.path + "/sheet")
    style = re.search(r"<style>(.*?)</style>", sheet.text, re.S)[1]
    hashed = b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{hashed}';" in sheet.headers["content-security-policy"]
    assert "unsafe" not in sheet.headers["content-security-policy"]
    assert "script-src" not in sheet.headers["content-security-policy"] and "<script" not in sheet.text


def test_the_sheet_comes_as_pdf_where_the_extra_is_there_and_says_so_where_not(site, monkeypatch) -> None:
    pytest.importorskip("typst")
    path = brief_page(site).url.path
    made = site.get(path + "/sheet.pdf")
    assert made.content.startswith(b"%PDF") and made.headers["content-type"] == "application/pdf"
    monkeypatch.setattr(pages, "has_pdf", lambda: False)
    assert site.get(path + "/sheet.pdf").status_code == 404
    assert "sheet.pdf" not in site.get(path).text


# newer reports


def test_briefing_again_shows_what_changed_and_the_old_page_points_to_the_new_one() -> None:
    clock = Clock()
    with client(clock=clock) as site:
        first = brief_page(site)
        name = str(first.url).rsplit("/", 1)[1]
        assert f'name="since" value="{name}"' in site.get(f"/?again={name}").text
        clock.on(minutes=27)
        second = brief_page(site, report=NEWER, since=name)
        assert "Since the brief of 0525Z" in second.text
        assert "<b>no holdover time</b>: gone" in second.text
        old = site.get(f"/b/{name}").text
    assert "<b>6 doors</b>: lowered from exceeded to within" in second.text
    assert "Stale: a newer brief was made at 0552Z" in old
    assert WORST in old
    assert f'href="/b/{str(second.url).rsplit("/", 1)[1]}"' in old


def feed_site(answers: list, clock: Clock):
    asked = []

    def fetch(station: str, feed: str):
        asked.append((station, feed))
        found = answers[min(len(asked), len(answers)) - 1]
        if isinstance(found, Exception):
            raise found
        return found if isinstance(found, tuple) else ([found], [])

    return client(fetch=fetch, feeds=("invented",), clock=clock), asked


def from_station(site, **more: str):
    answer = send(site, station="zzza", feed="invented", off_block="0640", place=PLACE, **more)
    assert answer.status_code == 303, answer.text
    return site.get(answer.headers["location"])


def test_a_station_s_reports_are_fetched_by_the_feed_named() -> None:
    made, asked = feed_site([WORST], Clock())
    with made as site:
        assert 'name="station"' in site.get("/").text
        assert WORST in from_station(site).text
    assert asked == [("ZZZA", "invented")]


def test_a_newer_report_is_shown_beside_the_brief_never_in_its_place() -> None:
    clock = Clock()
    made, asked = feed_site([WORST, WORST, NEWER], clock)
    with made as site:
        page = from_station(site)
        where = str(page.url)
        clock.on(minutes=1)
        assert "Stale" not in site.get(where).text and len(asked) == 1
        clock.on(minutes=2)
        assert "Stale" not in site.get(where).text and len(asked) == 2
        assert site.get(where + "/newer").json() == {"newer": None}
        clock.on(minutes=26)
        old = site.get(where).text
        assert "Stale: a newer brief was made at" in old and WORST in old
        newer = site.get(where + "/newer").json()["newer"]
        new = site.get(f"/b/{newer}").text
        assert NEWER in new and "Since the brief of 0525Z" in new
        assert f'href="/b/{newer}"' in old
        clock.on(minutes=10)
        site.get(where)
        assert len(asked) == 3


def test_what_the_feed_says_about_its_reports_reaches_page_and_api() -> None:
    made, _ = feed_site([([WORST], ["feed invented: the source did not answer; kept 40 min"])], Clock())
    with made as site:
        page = from_station(site)
        assert "kept 40 min" in page.text
        name = str(page.url).rsplit("/", 1)[1]
        assert "kept 40 min" in site.get(f"/api/brief/{name}").json()["notes"][-1]


def test_the_departure_stays_the_same_when_a_newer_report_comes_long_after() -> None:
    clock = Clock()
    made, _ = feed_site([WORST, NEWER], clock)
    with made as site:
        where = str(from_station(site, parked_since="2100").url)
        clock.on(minutes=70)
        newer = site.get(where + "/newer").json()["newer"]
        windows = site.get(f"/api/brief/{newer}").json()["windows"]
    assert windows["off_block"] == "2027-01-10T06:40:00Z"


def test_a_departure_that_is_over_is_not_taken_for_tomorrow_s() -> None:
    clock = Clock()
    made, _ = feed_site([WORST, NEWER], clock)
    with made as site:
        where = str(from_station(site).url)
        # 65 min after off-block, when "0640Z" alone would mean the next day's
        clock.on(minutes=140)
        assert site.get(where + "/newer").json() == {"newer": None}


def test_a_feed_that_fails_leaves_the_brief_as_it_was() -> None:
    clock = Clock()
    made, _ = feed_site([WORST, FeedError("no answer", where="invented")], clock)
    with made as site:
        where = str(from_station(site).url)
        clock.on(minutes=5)
        page = site.get(where)
        assert page.status_code == 200 and WORST in page.text and "Stale" not in page.text


def test_a_feed_that_cannot_be_reached_is_said_on_the_form_and_by_the_api() -> None:
    made, _ = feed_site([FeedError("no answer", where="invented", hint="paste the reports")], Clock())
    with made as site:
        answer = send(site, station="ZZZA", feed="invented", off_block="0640", place=PLACE)
        assert answer.status_code == 502 and "no answer" in answer.text and "paste the reports" in answer.text
        found = site.post("/api/brief", json=body(WORST) | {"reports": [], "station": "ZZZA"})
    assert (found.status_code, found.headers["content-type"]) == (502, "application/problem+json")


def test_without_a_feed_the_form_asks_for_none_and_the_page_looks_for_nothing(site) -> None:
    assert 'name="station"' not in site.get("/").text
    assert "data-watch" not in brief_page(site).text


def test_time_alone_makes_a_brief_stale() -> None:
    clock = Clock()
    with client(clock=clock) as site:
        where = str(brief_page(site).url)
        assert 'class="stale"' not in site.get(where).text
        clock.on(minutes=74)
        assert 'class="stale"' not in site.get(where).text
        clock.on(minutes=2)
        assert "this brief is over" in site.get(where).text


def test_a_report_that_has_grown_old_asks_for_a_newer_one_before_off_block() -> None:
    clock = Clock()
    with client(clock=clock) as site:
        where = str(brief_page(site, off_block="0840").url)
        # the report is of 0520Z; briefs call one old after 90 min
        clock.on(minutes=85)
        assert 'class="stale"' not in site.get(where).text
        clock.on(minutes=1)
        assert "The report is 91 min old: get a newer one" in site.get(where).text


def test_what_has_to_be_known_first_stands_above_the_answers() -> None:
    # the place is a registry's, the station 11 km north of it by the same table
    with client() as site:
        page = unescape(brief_page(site, place="ENGM", treated_at="0458", seen="frost").text)
        head = page[page.index("<header>") : page.index("</header>")]
        assert "Weather of ZZZA, distance not known." in head
        assert "Treated at 0458Z, as you said." in head and "Frost seen on it at 0525Z, as you said." in head
        assert page.index("</header>") < page.index('id="stop"')
        near = unescape(brief_page(site, report=WORST.replace("ZZZA", "ENGM"), place="60.3,11.1").text)
        # the registry has it at 60.1939 N: 0.1061° of latitude are 11.8 km
        assert "Weather of ENGM, 12 km away." in near
        own = unescape(brief_page(site, report=WORST.replace("ZZZA", "ENGM"), place="ENGM").text)
        assert "Weather of" not in own


def test_a_feed_that_is_down_is_said_above_the_answers_until_it_answers_again() -> None:
    clock = Clock()
    down = FeedError("no answer", where="invented")
    made, _ = feed_site([WORST, down, down, WORST], clock)
    with made as site:
        where = str(from_station(site).url)
        for minutes in (3, 10):
            clock.on(minutes=minutes)
            page = site.get(where).text
            assert "the feed has not answered since 0528Z" in page[: page.index('id="stop"')]
        clock.on(minutes=3)
        assert "has not answered" not in site.get(where).text


def test_changes_stand_by_gravity() -> None:
    clock = Clock()
    with client(clock=clock) as site:
        name = str(brief_page(site).url).rsplit("/", 1)[1]
        clock.on(minutes=27)
        brief_page(site, report=NEWER, since=name)
        page = site.get(f"/b/{name}").text
    part = page[page.index('class="newer"') :]
    places = [part.index(f"<b>{title}</b>") for title in ("Wait or stop", "Call", "All else")]
    assert places == sorted(places)
    calls = part[places[1] : places[2]]
    assert re.findall("<li><b>([^<]*)</b>", calls)[0] == "de-icing"


def test_a_brief_for_another_time_than_the_clock_s_does_not_age() -> None:
    clock = Clock("2030-06-01T00:00:00Z")
    with client(clock=clock) as site:
        page = brief_page(site, now="2027-01-10T05:25Z").text
    assert 'class="stale"' not in page and "in 75 min" in page


def test_a_forecast_alone_is_named_as_one(site) -> None:
    page = brief_page(site, report="TAF ZZZA 100500Z 1005/1106 24010KT 9999 BKN020 TX02/1013Z TNM04/1006Z").text
    assert "Forecast 0500Z" in page and "Report 0500Z" not in page


def test_local_time_stands_beside_where_the_place_has_a_clock() -> None:
    # a registry indicator; the zone's offset in January is one hour by the tz database
    with client() as site:
        page = brief_page(site, place="ENGM").text
    assert "0640Z (07:40 local)" in page

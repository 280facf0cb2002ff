"""The page of a walk without a browser: plain forms, what they record, what is wrong, the countdown, the sheet."""

from __future__ import annotations

import io
import re
from html import unescape

import pypdf
import pytest

from tests.web.site import QUIET, WORST, Clock, brief_page, client, token


@pytest.fixture
def site(tmp_path):
    with client(data=tmp_path, database=f"sqlite:///{tmp_path / 'record.sqlite'}", clock=Clock()) as made:
        made.clock = made.app.state.work.settings.clock
        yield made


def begun(site, report: str = WORST, **fields: str) -> str:
    page = brief_page(site, report, **fields)
    name = str(page.url).rsplit("/", 1)[1]
    given = {"token": token(page.text), "brief": name, "by": "AB", "registration": "ZZ-INV"}
    answer = site.post("/walk", data=given, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def say(site, where: str, kind: str, **fields: str):
    page = site.get(where).text
    given = {"token": token(page), "key": re.search(r'name="key" value="([^"]+)"', page)[1], **fields}
    return site.post(f"{where.split('?')[0]}/{kind}", data=given, follow_redirects=False)


def text_of(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def events(site, where: str) -> list[dict]:
    return site.get(where.replace("/w/", "/api/walk/")).json()["events"]


def test_a_walk_by_plain_forms(site) -> None:
    where = begun(site)
    assert re.fullmatch(r"/w/[A-Za-z0-9_-]{22}", where)
    page = site.get(where).text
    assert "Not looked at yet" in page and "Nothing seen" in page
    answer = say(site, where, "found", line="wing-upper-surface", found="frost", note="left only")
    assert answer.headers["location"] == f"{where}#place-wing-upper-surface"
    assert "frost, left only, 0525Z" in text_of(site.get(where).text)
    say(site, where, "treatment", step="last step started", at="0521", fluid="invented", dilution="75/25")
    say(site, where, "note", text="ladder was short")
    say(site, where, "sign", by="AB", role="pilot", covered="yes", parked_since="2110")
    page = text_of(site.get(where).text)
    for said in ("0521Z last step started", "invented 75/25", "ladder was short", "Signed by AB, pilot"):
        assert said in page
    assert [event["kind"] for event in events(site, where)] == ["opened", "found", "treatment", "note", "signed"]
    assert events(site, where)[2]["data"]["at"] == "2027-01-10T05:21:00Z"
    # a time of day that has not come yet today was yesterday's
    assert events(site, where)[4]["data"]["parked_since"] == "2027-01-09T21:10:00Z"


def test_a_time_that_is_still_to_come_is_refused_and_not_taken_for_yesterdays(site) -> None:
    # it is 0525Z
    where = begun(site)
    answer = say(site, where, "treatment", step="last step started", at="0605")
    assert answer.status_code == 422 and "still to come" in answer.text
    assert [event["kind"] for event in events(site, where)] == ["opened"]
    # the evening before is another matter
    assert say(site, where, "treatment", step="asked", at="2110").status_code == 303
    assert events(site, where)[1]["data"]["at"] == "2027-01-09T21:10:00Z"


def test_a_signature_does_not_hide_how_much_was_looked_at(site) -> None:
    where = begun(site)
    say(site, where, "found", line="wing-upper-surface", found="nothing seen")
    count = re.search(r"1 of \d+ looked at", text_of(site.get(where).text))
    assert count is not None
    say(site, where, "sign", by="AB", role="pilot")
    page = text_of(site.get(where).text)
    assert "Signed by AB, pilot" in page and count[0] in page


def test_the_checkpoints_come_in_walking_order(site) -> None:
    where = begun(site)
    page = site.get(where).text
    shown = re.findall(r'id="place-([^"]+)"', page)
    asked = [line["id"] for line in events(site, where)[0]["data"]["lines"] if line["kind"] == "checkpoint"]
    assert shown == [line for line in asked if line != "pre-take-off-check"] and len(shown) > 3


def test_the_look_just_before_take_off_is_no_point_of_the_walk_and_is_said_all_the_same(site) -> None:
    where = begun(site)
    lines = {line["id"]: line for line in events(site, where)[0]["data"]["lines"]}
    assert "pre-take-off-check" in lines
    page = site.get(where).text
    later = text_of(page[page.index('id="later"') : page.index('id="note"')])
    assert lines["pre-take-off-check"]["text"].rstrip(".") in later
    assert 'id="place-pre-take-off-check"' not in page
    pdf = pypdf.PdfReader(io.BytesIO(site.get(f"{where}/sheet.pdf").content))
    assert "re-take-off" not in " ".join(page.extract_text() for page in pdf.pages)


def test_a_form_that_is_not_taken_keeps_what_was_typed_and_says_every_fault(site) -> None:
    where = begun(site)
    answer = say(site, where, "treatment", step="confirmed", at="noon", cancel_by="soon", pad="P4", fluid="invented")
    assert answer.status_code == 422
    (told,) = re.findall(r'<div class="problem" role="alert">(.*?)</div>', answer.text, re.S)
    assert "at: " in told and "cancel by: " in told
    for kept in ('value="P4"', 'value="invented"', 'value="noon"', 'value="confirmed" selected'):
        assert kept in answer.text
    # a cookie that has gone
    given = {"token": "x", "text": "ladder was short"}
    lost = site.post(f"{where}/note", data=given, follow_redirects=False)
    assert lost.status_code == 403 and 'value="ladder was short"' in lost.text
    lost = say(site, where, "sign", by="AB", parked_since="092110Z")
    assert lost.status_code == 422 and 'value="092110Z"' in lost.text


def test_the_front_form_offers_what_the_last_walk_of_the_aircraft_knows_and_takes_nothing_by_itself(site) -> None:
    where = begun(site)
    say(site, where, "found", line="wing-upper-surface", found="frost")
    say(site, where, "sign", by="AB", role="pilot", covered="yes", parked_since="2110")
    typed = {"token": token(site.get("/").text), "reports": QUIET, "heading": "north", "registration": "ZZ-INV"}
    page = site.post("/offers", data=typed).text
    assert QUIET in page and 'value="north"' in page and 'value="ZZ-INV"' in page
    rows = re.findall(r'<input type="checkbox" name="take_(\w+)" value="([^"]+)">', page)
    assert rows == [("seen", "frost"), ("parked_since", "09/2110Z")]
    assert "checked> frost" not in page and "Said of it: covers on." in page and "Walk of 0525Z by AB" in page
    asked = {"reports": QUIET, "off_block": "0640", "place": "61.4,9.8", "registration": "ZZ-INV"}
    plain = brief_page(site, QUIET, registration="ZZ-INV")
    assert "seen on it" not in plain.text
    ticked = {f"take_{name}": value for name, value in rows}
    answer = site.post("/brief", data=typed | asked | ticked | {"heading": ""}, follow_redirects=False)
    assert answer.status_code == 303, re.findall('class="fault".*', answer.text)
    brief = site.get("/api" + answer.headers["location"].replace("/b/", "/brief/")).json()
    assert brief["parked_since"] == "2027-01-09T21:10:00Z"
    assert "Frost seen on it" in site.get(answer.headers["location"]).text
    # of another aircraft, and after a day and a half, nothing is known
    assert "No walk of ZZ-OTH" in site.post("/offers", data=typed | {"registration": "ZZ-OTH"}).text
    site.clock.on(minutes=37 * 60)
    assert "No walk of ZZ-INV" in site.post("/offers", data=typed).text


def test_without_a_record_the_form_asks_for_no_registration() -> None:
    with client() as plain:
        page = plain.get("/").text
        assert 'name="registration"' not in page
        assert plain.post("/offers", data={"token": token(page), "registration": "X"}).status_code == 200


@pytest.mark.parametrize("text", ["0521", "5:21", "05:21Z", "100521Z", "10/0521Z", "2027-01-10 0521Z"])
def test_times_on_the_walk_are_taken_as_people_write_them(site, text) -> None:
    where = begun(site)
    assert say(site, where, "treatment", step="asked", at=text).status_code == 303
    assert events(site, where)[1]["data"]["at"] == "2027-01-10T05:21:00Z"


def test_one_checkpoint_a_screen_leads_on_to_the_next(site) -> None:
    where = begun(site)
    page = site.get(f"{where}?at=2").text
    parts = re.findall(r'<section class="place[^>]*>', page)
    assert [("hidden" not in part) for part in parts] == [at == 1 for at in range(len(parts))]
    place = re.search(r'id="place-([^"]+)"', parts[1])[1]
    answer = say(site, f"{where}?at=2", "found", line=place, found="nothing seen", next="3")
    assert answer.headers["location"] == f"{where}?at=3"
    for at in ("0", "999", "x", "-1", "1e9"):
        assert site.get(f"{where}?at={at}").status_code == 200
    # what is no short number of a place asks for none: the whole list is there
    for at in ("00019", "0001" + "0" * 5000, "9999", "٢"):
        answer = site.get(where, params={"at": at})
        sections = re.findall(r'<section class="place[^>]*>', answer.text)
        assert answer.status_code == 200 and not any("hidden" in section for section in sections), at[:9]


def test_sending_a_form_twice_records_it_once(site) -> None:
    where = begun(site)
    page = site.get(where).text
    given = {"token": token(page), "key": "one-press", "line": "wing-upper-surface", "found": "ice"}
    for _ in range(3):
        assert site.post(f"{where}/found", data=given, follow_redirects=False).status_code == 303
    assert len(events(site, where)) == 2


def test_what_is_wrong_is_said_on_the_page_and_nothing_is_lost(site) -> None:
    where = begun(site)
    for kind, fields, status in (
        ("found", {"line": "wing-upper-surface", "found": "clean"}, 422),
        ("found", {"line": "no-such", "found": "ice"}, 422),
        ("sign", {"by": "AB"}, 422),
        ("treatment", {"step": "asked", "at": "noon"}, 422),
    ):
        answer = say(site, where, kind, **fields)
        assert answer.status_code == status, (kind, fields)
        assert 'role="alert"' in answer.text and "Traceback" not in answer.text
    say(site, where, "sign", by="AB", role="pilot")
    answer = say(site, where, "sign", by="CD", role="pilot")
    assert answer.status_code == 409 and "takes notes and treatment only" in answer.text
    assert site.post(f"{where}/other", data={}, follow_redirects=False).status_code == 404
    assert len(events(site, where)) == 2


def test_forms_of_other_sites_are_refused(site) -> None:
    where = begun(site)
    given = {"line": "wing-upper-surface", "found": "ice"}
    assert site.post(f"{where}/found", data=given).status_code == 403
    assert site.post(f"{where}/photo", files={"photo": b"x"}).status_code == 403
    assert len(events(site, where)) == 1


def test_what_people_write_is_never_markup(site) -> None:
    where = begun(site)
    for kind, fields in (
        ("found", {"zone": '"><script>alert(1)</script>', "found": "other", "note": "<b>x</b>"}),
        ("note", {"text": "<script>alert(2)</script>"}),
        ("treatment", {"step": "asked", "pad": "<i>P</i>"}),
        ("sign", {"by": "<u>AB</u>", "role": "'\"><img src=x>"}),
    ):
        assert say(site, where, kind, **fields).status_code == 303
    page = site.get(where).text
    assert not re.search(r"<script>alert|<b>x|<i>P|<u>AB|<img src=x", page)


def test_the_line_in_sight_says_age_call_and_off_block(site) -> None:
    where = begun(site)
    bar = text_of(re.search(r'<div class="bar".*?</div>', site.get(where).text, re.S)[0])
    # report 0520, now 0525, off-block 0640 less the usual 45 min
    assert bar == "report 5 min old call by 0555Z off-block in 75 min"
    site.clock.on(minutes=100)
    bar = text_of(re.search(r'<div class="bar".*?</div>', site.get(where).text, re.S)[0])
    assert bar == "report 105 min old, stale call by 0555Z, late off-block 25 min ago"
    say(site, where, "treatment", step="asked")
    assert "asked" in re.search(r'<div class="bar".*?</div>', site.get(where).text, re.S)[0]


def test_the_next_brief_is_offered_what_was_found_and_nothing_is_ticked(site) -> None:
    where = begun(site)
    assert "Nothing to hand over yet" in site.get(where).text
    say(site, where, "found", line="wing-upper-surface", found="ice")
    page = site.get(where).text
    box = re.search(r'<input type="checkbox" name="seen" value="ice"[^>]*>', page)[0]
    assert "checked" not in box
    form = site.get("/?seen=ice")
    assert re.search(r'name="seen" value="ice" checked', form.text)


@pytest.mark.parametrize("report", [WORST, QUIET])
def test_no_page_says_more_than_nothing_seen(site, report) -> None:
    where = begun(site, report)
    for place in re.findall(r'id="place-([^"]+)"', site.get(where).text):
        say(site, where, "found", line=place, found="nothing seen")
    say(site, where, "sign", by="AB", role="pilot")
    page = text_of(site.get(where).text)
    assert not re.search(r"\b(clean|clear of|safe|no contamination|all well|good to go)\b", page, re.I)


HOLDOVER = """season = "invented 2026-27"
valid_from = 2026-10-01
valid_until = 2027-04-30
publisher = "nobody"
fluid = "invented fluid"
dilution = "100/0"
invented = true
[[row]]
category = "light snow"
from_c = -14
low = 20
high = 50
[[row]]
category = "very light snow"
from_c = -14
low = 60
high = 90
[[row]]
category = "moderate snow"
from_c = -14
low = 10
high = 15
[[row]]
category = "frost"
from_c = -40
low = 100
high = 200
"""
# 4000 m in the dark at -2: between very light and light by the table of CHECKS; -SN says light
SNOW = "METAR ZZZA 100520Z 24004KT 4000 -SN OVC020 M02/M03 Q1003"


@pytest.fixture
def timed(tmp_path):
    (tmp_path / "holdover.toml").write_text(HOLDOVER)
    (tmp_path / "pads.toml").write_text('holdover = "holdover.toml"\n[[pad]]\nname = "P1"\n')
    url = f"sqlite:///{tmp_path / 'record.sqlite'}"
    with client(data=tmp_path, database=url, pads=tmp_path / "pads.toml", clock=Clock()) as made:
        made.clock = made.app.state.work.settings.clock
        yield made


def countdown(site, where: str) -> str:
    found = re.search(r'<p class="holdover.*?</p>', site.get(where).text, re.S)
    return "" if found is None else text_of(found[0])


def test_the_countdown_runs_from_the_last_step_by_the_operators_file(timed) -> None:
    where = begun(timed, SNOW)
    assert countdown(timed, where) == ""
    timed.clock.on(minutes=30)
    say(timed, where, "treatment", step="last step started", at="0550")
    # 0550 + the lowest value of a row that some case meets: by hand, 20 min for light snow or 10 for moderate
    said = countdown(timed, where)
    minutes = int(re.search(r"About (\d+) min", said)[1])
    assert minutes in (20 - 5, 10 - 5), said
    assert f"look again by 06{'10' if minutes == 15 else '00'}Z" in said and "INVENTED EXAMPLE" in said
    timed.clock.on(minutes=30)
    assert countdown(timed, where).startswith("Holdover is over:")
    say(timed, where, "treatment", step="cancelled")
    assert countdown(timed, where) == ""


def test_a_fluid_that_the_file_does_not_know_gives_no_time(timed) -> None:
    where = begun(timed, SNOW)
    say(timed, where, "treatment", step="last step started", fluid="another")
    assert countdown(timed, where).startswith("No holdover time:")


def test_heavy_snow_has_no_time(timed) -> None:
    where = begun(timed, WORST)
    say(timed, where, "treatment", step="last step started")
    assert countdown(timed, where).startswith("No holdover time:")


def test_without_a_file_nothing_is_said_of_holdover(site) -> None:
    where = begun(site, SNOW)
    say(site, where, "treatment", step="last step started")
    assert countdown(site, where) == ""
    assert "holdover" not in text_of(site.get(where).text).lower()


def test_the_sheet_holds_findings_treatment_signature_and_fingerprints(site) -> None:
    where = begun(site)
    say(site, where, "found", line="wing-upper-surface", found="frost", note="left € wing")
    say(site, where, "treatment", step="asked", pad="P1")
    for signed in (False, True):
        answer = site.get(f"{where}/sheet.pdf")
        assert answer.headers["content-type"] == "application/pdf"
        page = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0]
        # A5 is 148 by 210 mm, in points of 1/72 inch
        assert (round(page.mediabox.width), round(page.mediabox.height)) == (420, 595)
        said = " ".join(page.extract_text().replace("\u200b", "").split())
        fingerprint = events(site, where)[0]["data"]["fingerprint"]
        for wanted in ("frost, left € wing", "asked, pad P1", "ZZ-INV", "not looked at"):
            assert wanted in said, said
        assert fingerprint in said.replace(" ", "")
        assert ("Signed: AB, pilot" in said) is signed
        say(site, where, "sign", by="AB", role="pilot")


def test_a_walk_of_the_day_before_is_offered_still(site) -> None:
    where = begun(site)
    say(site, where, "found", line="wing-upper-surface", found="frost")
    typed = {"token": token(site.get("/").text), "reports": QUIET, "registration": "ZZ-INV"}
    # up to a day and a half
    site.clock.on(minutes=35 * 60)
    page = site.post("/offers", data=typed).text
    assert "No walk of ZZ-INV" not in page and 'name="take_seen" value="frost"' in page

"""What people type: every way of writing a time, a span, degrees and a place gives the one that the reader takes."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from advisor.web import forms, typed
from tests.web.site import WORST, brief_page, client, send

NOW = datetime(2027, 1, 27, 1, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("0135", "0135Z"),
        ("0135Z", "0135Z"),
        ("01:35", "0135Z"),
        ("1:35", "0135Z"),
        ("1.35z", "0135Z"),
        ("270135Z", "2027-01-27T01:35:00Z"),
        ("27/0135Z", "2027-01-27T01:35:00Z"),
        ("262350", "2027-01-26T23:50:00Z"),
        # the nearest first of a month is the next one, the nearest 31st that of December
        ("010135Z", "2027-02-01T01:35:00Z"),
        ("311200Z", "2027-01-31T12:00:00Z"),
        ("2027-01-27 0135Z", "2027-01-27T01:35:00Z"),
        ("2027-01-27T01:35Z", "2027-01-27T01:35:00Z"),
        ("2027-01-27T02:35+01:00", "2027-01-27T02:35:00+01:00"),
        ("0135Z (02:35 local)", "0135Z"),
    ],
)
def test_times(text, wanted) -> None:
    assert typed.moment(text, NOW) == wanted


@pytest.mark.parametrize("text", ["", "soon", "135", "279935Z", "02:35 local", "2027-01-27T01:35", "27.01.", "-135"])
def test_what_is_no_time_is_left_to_the_reader_as_it_is(text) -> None:
    assert typed.moment(text, NOW) == text


def test_now_by_the_clock_is_the_nearest_such_time() -> None:
    assert typed.present("0050", NOW) == "2027-01-27T00:50:00Z"
    assert typed.present("2350Z", NOW) == "2027-01-26T23:50:00Z"


@pytest.mark.parametrize(
    "text",
    [
        "0555/0615",
        "0555-0615",
        "0555–0615Z",
        "0555Z–0615Z",
        "0555Z to 0615Z",
        "05:55 - 06:15",
        "5:55/6:15",
        "0555Z to 0615Z (06:55 to 07:15 local)",
        "0555–0615Z (06:55–07:15 local)",
        "0555Z (06:55 local) to 0615Z (07:15 local)",
    ],
)
def test_spans(text) -> None:
    assert typed.span(text, NOW) == "0555Z/0615Z"


def test_spans_with_days() -> None:
    wanted = "2027-01-26T23:50:00Z/2027-01-27T00:10:00Z"
    for text in ("26/2350Z to 27/0010Z", "26/2350–27/0010Z", "262350Z/270010Z", "2027-01-26T23:50Z/2027-01-27T00:10Z"):
        assert typed.span(text, NOW) == wanted


@pytest.mark.parametrize("text", ["210", "210°", "210 °", "210 deg", "210°T", "210 true"])
def test_headings(text) -> None:
    assert typed.heading(text) == "210"


@pytest.mark.parametrize("text", ["M08", "m8", "-8", "−8", "−8 °C", "-8°C", "−8.0 °C", "M08 C", "- 8"])
def test_temperatures(text) -> None:
    assert float(typed.celsius(text)) == -8


def test_other_units_are_left_to_the_reader() -> None:
    assert typed.celsius("17 degF") == "17 degF" and typed.celsius("265 K") == "265 K"


def test_percent() -> None:
    assert {typed.percent(text) for text in ("55", "55 %", "55%", "55 percent")} == {"55"}


def test_places_as_pages_print_them() -> None:
    assert typed.place("61.40 N 9.80 E") == "61.40,9.80"
    assert typed.place("61.4S, 9.8W") == "-61.4,-9.8"
    # a registry indicator with its own name behind it, and with another's
    from advisor.places import look_up

    name = look_up("ENGM").name
    assert forms.place(f"ENGM {name}") == "ENGM"
    assert forms.place("ENGM Elsewhere") == "ENGM Elsewhere"


def test_the_form_takes_what_its_own_pages_print() -> None:
    with client() as site:
        page = brief_page(site, place="ENGM", parked_since="092110Z", treated_at="4:58", heading="210°")
        shown = unescape(re.sub(r"<[^>]+>", " ", page.text))
        times = dict(re.findall(r"(Walk|Doors open|Off-block|Take-off)\s+(\d{4}(?:–\d{4})?Z \([^)]*local\))", shown))
        assert set(times) == {"Walk", "Doors open", "Off-block", "Take-off"}
        again = send(
            site,
            reports=WORST,
            place="ENGM",
            off_block=times["Off-block"],
            take_off=times["Take-off"],
            walk_round=times["Walk"],
            doors_open=times["Doors open"],
        )
        assert again.status_code == 303, re.findall('class="fault".*', again.text)
        first, second = (
            site.get("/api/brief/" + str(where).rsplit("/", 1)[1]).json()
            for where in (page.url, again.headers["location"])
        )
        assert first["windows"] == second["windows"]
        assert first["heading_deg"] == 210 and first["parked_since"] == "2027-01-09T21:10:00Z"


def test_hints_on_the_form_are_themselves_understood() -> None:
    with client() as site:
        hints = re.findall(r'id="(\w+)-hint">([^<]*)<', site.get("/").text)
        such = {name: found[1].rstrip(";,") for name, hint in hints if (found := re.search(r"such as (\S+)", hint))}
        assert {"off_block", "parked_since", "walk_round", "doors_open"} <= set(such)
        answer = send(site, **{"reports": WORST, "place": "61.4,9.8", "seen": "nothing", **such})
        assert answer.status_code == 303, re.findall('class="fault".*', answer.text)

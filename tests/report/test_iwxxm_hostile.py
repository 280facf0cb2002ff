"""Malformed and hostile XML is refused in one line, early, and nothing outside the document is touched."""

import socket
import tracemalloc
import urllib.request

import iwxxm_samples as x
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import ReportError
from advisor.report import iwxxm
from advisor.report.xml.document import DEEPEST, LARGEST, MOST_ELEMENTS

GOOD = x.ICAO["A5-1"][1]
DAMAGE = ["", "x", "<", ">", '"', "&", "0", "-", "/", " ", "99", "é", "\n"]
PLAIN = st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="<>&")


def laughs():
    entities = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    return f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a0 "ha">{entities}]><METAR>&a11;</METAR>'


HOSTILE = {
    "a billion laughs": laughs(),
    "one long entity, many times": f'<!DOCTYPE x [<!ENTITY a "{"a" * 50_000}">]><METAR>{"&a;" * 50_000}</METAR>',
    "an external entity": '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><METAR>&e;</METAR>',
    "an external entity over the network": '<!DOCTYPE x [<!ENTITY e SYSTEM "http://127.0.0.1:9/">]><METAR>&e;</METAR>',
    "a parameter entity": '<!DOCTYPE x [<!ENTITY % p SYSTEM "http://127.0.0.1:9/x.dtd"> %p;]><METAR/>',
    "an external document type": '<!DOCTYPE METAR SYSTEM "http://127.0.0.1:9/x.dtd"><METAR/>',
    "a harmless document type": "<!DOCTYPE METAR><METAR/>",
    "deep nesting": "<a>" * 200_000 + "</a>" * 200_000,
    "deep nesting left open": "<a>" * 1_000_000,
    "a huge text": f"<METAR>{'x' * (LARGEST + 1)}</METAR>",
    "too many elements": f"<METAR>{'<a/>' * (MOST_ELEMENTS + 1)}</METAR>",
    "too many changes": x.taf(
        x.forecast("baseForecast", "") + x.forecast("changeForecast", "", indicator="FROM") * 300
    ),
}
SAID = {
    "a billion laughs": "document types and entities are not allowed",
    "one long entity, many times": "document types and entities are not allowed",
    "an external entity": "document types and entities are not allowed",
    "an external entity over the network": "document types and entities are not allowed",
    "a parameter entity": "document types and entities are not allowed",
    "an external document type": "document types and entities are not allowed",
    "a harmless document type": "document types and entities are not allowed",
    "deep nesting": "deeper than 60",
    "deep nesting left open": "deeper than 60",
    "a huge text": "at most 5000000",
    "too many elements": "more than 200000 elements",
    "too many changes": "300 change forecasts in one TAF, at most 200",
}
MALFORMED = {
    "nothing": "",
    "blanks": " \n\t",
    "no bytes": b"",
    "plain text": "METAR ZZZA 100550Z 24008KT",
    "cut short": GOOD[: len(GOOD) // 2],
    "an unknown entity": "<METAR>&what;</METAR>",
    "a zero byte": "<METAR>\0</METAR>",
    "half a character": "<METAR>\ud800</METAR>",
    "an unknown encoding": b'<?xml version="1.0" encoding="klingon"?><METAR/>',
    "a wrong encoding": b'<?xml version="1.0" encoding="utf-16"?><METAR/>',
    "an encoding of several bytes": b'<?xml version="1.0" encoding="utf-7"?><METAR/>',
    "random bytes": bytes(range(256)),
    "a page": "<!DOCTYPE html><html>",
    "two roots": "<METAR/><METAR/>",
    "an unbound prefix": "<iwxxm:METAR/>",
    "an attribute twice": '<METAR a="" a=""/>',
    "another document": "<rss><channel/></rss>",
}


@pytest.mark.parametrize("name", [*HOSTILE, *MALFORMED])
def test_it_is_refused_in_one_line_without_reaching_out(name, monkeypatch):
    xml = HOSTILE[name] if name in HOSTILE else MALFORMED[name]

    def reached(*arguments, **more):
        raise AssertionError("something outside the document was asked for")

    monkeypatch.setattr(socket, "create_connection", reached)
    monkeypatch.setattr(socket.socket, "connect", reached)
    monkeypatch.setattr(urllib.request, "urlopen", reached)
    with pytest.raises(ReportError) as caught:
        iwxxm.read(xml)
    said = str(caught.value)
    assert SAID.get(name, "") in said
    assert said.isprintable()
    assert len(said) < 200


@pytest.mark.parametrize("name", ["a billion laughs", "one long entity, many times", "deep nesting left open"])
def test_refusing_takes_little_memory(name):
    tracemalloc.start()
    try:
        with pytest.raises(ReportError):
            iwxxm.read(HOSTILE[name])
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    # a copy of the document and the parser's own buffers, nothing that grows with what entities would unfold to
    assert peak < 4 * len(HOSTILE[name]) + 2_000_000


def test_nesting_within_the_limit_is_only_not_a_report():
    with pytest.raises(ReportError, match="no METAR"):
        iwxxm.read("<a>" * DEEPEST + "</a>" * DEEPEST)
    with pytest.raises(ReportError, match="deeper"):
        iwxxm.read("<a>" * (DEEPEST + 1) + "</a>" * (DEEPEST + 1))


def test_entities_of_xml_itself_and_character_references_are_read():
    xml = GOOD.replace("YUDO", "Y&#85;DO", 2)
    assert iwxxm.read(xml)[0].station == "YUDO"


FRONTS = {
    "text": GOOD,
    "bytes": GOOD.encode(),
    "mark": "\ufeff" + GOOD,
    "bytes with mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "UTF-16": GOOD.encode("utf-16"),
    "declaration": '<?xml version="1.0" encoding="UTF-8"?>\n' + GOOD,
    "heading": "FTYU31 YUDO 151800\r\r\n" + GOOD,
    "heading in bytes": b"123\r\r\nFTYU31 YUDO 151800\r\r\n" + GOOD.encode(),
    "blank lines": "\n\n  " + GOOD,
}
TRADITIONAL = [
    "METAR ZZZA 100550Z 24008KT",
    "",
    "TAF ZZZA 100500Z 1006/1112 24010KT RMK <x>",
    b"METAR ZZZA",
    '{"raw": "<x>"}',
    "< 5 kt",
    "SAXX40 ZZZA 100550\nMETAR ZZZA 100550Z=\nMETAR ZZZB 100550Z=",
]


@pytest.mark.parametrize("made", FRONTS.values(), ids=FRONTS)
def test_a_document_is_known_and_read_whatever_stands_in_front(made):
    assert iwxxm.looks_like(made)
    assert iwxxm.read(made)[0].raw == x.ICAO["A5-1"][0]


@pytest.mark.parametrize("text", TRADITIONAL)
def test_traditional_code_does_not_look_like_xml(text):
    assert not iwxxm.looks_like(text)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_document_is_read_or_refused_and_nothing_else(data):
    name = data.draw(st.sampled_from(list(x.ICAO)))
    xml = x.ICAO[name][1]
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(xml)))
        end = min(len(xml), start + data.draw(st.integers(0, 40)))
        xml = (
            xml[:start]
            + data.draw(st.sampled_from(["", "x", "<", ">", '"', "&", "0", "-", "/", " ", "99", "é", "\n"]))
            + xml[end:]
        )
    try:
        found = iwxxm.read(xml)
    except ReportError as error:
        assert "\n" not in str(error)
        return
    for one in found:
        assert " ".join(group.text for group in one.groups) == one.raw


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(list(x.ICAO)), st.data())
def test_any_value_of_any_element_is_read_or_shown_as_not_read(name, data):
    parts = x.ICAO[name][1].split(">")
    leaves = [i for i, part in enumerate(parts) if part.partition("<")[0].strip()]
    at = data.draw(st.sampled_from(leaves))
    value = data.draw(
        st.text(st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="<>&"), max_size=12)
    )
    parts[at] = value + "<" + parts[at].partition("<")[2]
    try:
        found = iwxxm.read(">".join(parts))
    except ReportError as error:
        assert "\n" not in str(error)
        return
    for one in found:
        assert " ".join(group.text for group in one.groups) == one.raw

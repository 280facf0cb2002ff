"""A photo that is sent with a plain form, without any script: kept, and back to the place that it is of."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from tests.web.site import token
from tests.web.test_walk_page import begun, events, site, text_of

__all__ = ["site"]


def sent(site, where: str, data: bytes, **fields: str):
    given = {"token": token(site.get(where).text), **fields}
    return site.post(
        f"{where}/photo", data=given, files={"photo": ("a.jpg", data, "image/jpeg")}, follow_redirects=False
    )


def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "grey").save(out, "JPEG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"line": "wing-upper-surface"}, "wing-upper-surface"),
        ({"zone": "left-wing"}, "left-wing"),
        ({}, ""),
    ],
)
def test_a_photo_by_form_is_kept_and_leads_back_to_its_place(site, fields: dict[str, str], place: str) -> None:
    where = begun(site)
    answer = sent(site, where, picture(), **fields)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{where}#place-{place}")
    event = events(site, where)[-1]
    assert event["kind"] == "photo" and {name: event["data"].get(name) for name in fields} == fields
    kept = site.get(f"{where}/photo/{event['data']['sha256']}")
    assert kept.status_code == 200 and Image.open(io.BytesIO(kept.content)).size == (40, 30)


def test_what_is_no_photo_is_said_on_the_page_and_nothing_is_recorded(site) -> None:
    where = begun(site)
    answer = sent(site, where, b"no photo at all", line="wing-upper-surface")
    assert answer.status_code == 422 and "photo" in text_of(answer.text)
    assert [event["kind"] for event in events(site, where)] == ["opened"]

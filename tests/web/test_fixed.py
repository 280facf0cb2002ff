"""Reading by HEAD, and the fixed files: sent short, known again by their tag."""

from __future__ import annotations

import gzip
import re

import pytest

from tests.web.site import brief_page, client


@pytest.fixture(scope="module")
def site():
    with client() as made:
        yield made


@pytest.mark.parametrize("path", ["/", "/healthz", "/static/page.css", "/worker.js", "/schema/openapi.json", "/x"])
def test_head_says_what_get_says_without_the_body(site, path) -> None:
    # RFC 9110, 9.3.2: the same header fields, no content
    full, head = site.get(path), site.head(path)
    assert (head.status_code, head.content) == (full.status_code, b"")
    assert head.headers["content-type"] == full.headers["content-type"]


def test_whatever_is_read_by_get_answers_head(site) -> None:
    for route in site.app.routes:
        methods = {method for handler in route.route_handlers for method in handler.http_methods}
        assert ("GET" in methods) == ("HEAD" in methods), route.path


def test_a_brief_answers_head(site) -> None:
    path = brief_page(site).url.path
    assert site.head(path).status_code == 200 and site.head(path + "/sheet").content == b""


def fixed_of(page: str) -> list[str]:
    return re.findall(r'(?:href|src)="(/(?:static|chart)[^"]*)"', page)


def test_fixed_files_are_sent_short_and_whole(site) -> None:
    links = fixed_of(site.get("/").text)
    assert len(links) >= 4
    for link in links:
        plain = site.get(link, headers={"Accept-Encoding": "identity"})
        with site.stream("GET", link, headers={"Accept-Encoding": "gzip"}) as short:
            sent = b"".join(short.iter_raw())
        if len(plain.content) > 500:
            assert short.headers["content-encoding"] == "gzip" and len(sent) < 0.6 * len(plain.content), link
            assert gzip.decompress(sent) == plain.content


def test_pages_are_never_compressed_since_they_hold_a_token(site) -> None:
    for path in ("/", brief_page(site).url.path):
        assert "content-encoding" not in site.get(path, headers={"Accept-Encoding": "gzip"}).headers


def test_a_file_that_the_browser_has_is_not_sent_again(site) -> None:
    # RFC 9110, 13.1.2: If-None-Match compares weakly
    tag = site.get("/static/page.css").headers["etag"]
    for known in (tag, f'"x", {tag}', "*"):
        again = site.get("/static/page.css", headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    assert site.get("/static/page.css", headers={"If-None-Match": '"x"'}).status_code == 200

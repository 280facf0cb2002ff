"""What the tests of feeds share."""

import time

import pytest
from feed_source import NOW, Source


@pytest.fixture(autouse=True)
def usual_folders(monkeypatch):
    """Keep what whoever runs the tests has set for the folders away from them."""
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)


@pytest.fixture
def serve():
    """Start servers that end with the test."""
    running = []

    def start(*answers, **more):
        running.append(Source(*answers, **more))
        return running[-1]

    yield start
    for one in running:
        one.close()


@pytest.fixture
def ask(tmp_path):
    """Fetch ZZZA from a server. Waits between tries are written down in ask.waited, not waited."""
    from advisor.feeds.fetch import Feed, fetch

    waited = []

    def fetch_from(source, *, station="ZZZA", now=NOW, path_of="/{station}.txt", **fields):
        url = fields.pop("url", None) or f"{source.origin}{path_of}"
        feed = Feed(**({"name": "own", "url": url, "timeout_s": 5.0} | fields))
        return fetch(feed, station, cache_dir=tmp_path / "cache", now=now, ticks=time.monotonic, sleep=waited.append)

    fetch_from.waited = waited
    return fetch_from

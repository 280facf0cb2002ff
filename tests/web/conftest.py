"""A running server and a browser. The browser must be there where CI=true; elsewhere its absence skips, and says so."""

from __future__ import annotations

import os
import shutil
import threading
import time
from pathlib import Path

import pytest

from advisor.web.app import create_app
from advisor.web.model import Settings
from tests.web.site import WORST, Clock

AXE = Path(__file__).parents[2] / "build" / "axe" / "node_modules" / "axe-core" / "axe.min.js"
ARGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def without(what: str) -> None:
    """Fail in CI, skip elsewhere."""
    reason = f"{what}; .ci/run installs it"
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


class Server:
    """uvicorn on a thread, on a port that is free, with a clock and a feed of the test's own."""

    def __init__(self, **more: object) -> None:
        import socket

        import uvicorn

        self.clock, self.reports = Clock(), [WORST]
        settings = Settings(
            clock=self.clock, fetch=lambda station, feed: (list(self.reports), []), feeds=("invented",), **more
        )
        self.app = create_app(settings)
        listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{listener.getsockname()[1]}"
        self.server = uvicorn.Server(uvicorn.Config(self.app, log_level="warning", access_log=False))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [listener]}, daemon=True)
        self.thread.start()
        until = time.monotonic() + 20
        while not self.server.started and time.monotonic() < until:
            time.sleep(0.02)
        assert self.server.started

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join(10)


@pytest.fixture
def server(running):
    running.clock.at = Clock().at
    running.reports = [WORST]
    return running


@pytest.fixture(scope="session")
def running():
    made = Server()
    yield made
    made.stop()


@pytest.fixture(scope="module")
def browser():
    # not for the session: while it runs, no other test of this process can run an event loop of its own
    path = shutil.which("chromium")
    if path is None:
        without("no chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=path, args=list(ARGS))
        yield made
        made.close()


@pytest.fixture(scope="session")
def axe() -> str:
    if not AXE.exists():
        without("no axe-core under build/axe")
    return AXE.read_text(encoding="utf-8")

"""The command `serve`: starts, says where, listens on this machine alone, stays out of other commands' way."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor.cli.main import main
from advisor.cli.serve import _listen
from tests.web.site import PLACE, QUIET, body


@contextmanager
def serving(*options: str, env: dict[str, str] | None = None):
    command = [sys.executable, "-m", "advisor", "serve", "--port", "0", *options]
    process = subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ, **(env or {})}
    )
    try:
        line = process.stderr.readline()
        yield process, re.search(r"http://[^ ]+", line)[0]
    finally:
        process.kill()
        process.wait(10)


def post(url: str, asked: dict) -> tuple[str, bytes]:
    data, kind = json.dumps(asked).encode(), {"Content-Type": "application/json"}
    with urllib.request.urlopen(urllib.request.Request(url + "api/brief", data, kind), timeout=20) as answer:
        return answer.headers["Location"], answer.read()


@pytest.mark.long
def test_serve_answers_keeps_briefs_over_a_restart_and_stops_when_asked(tmp_path) -> None:
    with serving("--data", str(tmp_path)) as (process, url):
        assert url.startswith("http://127.0.0.1:")
        where, made = post(url, body(QUIET))
        process.send_signal(signal.SIGINT)
        assert process.wait(15) == 0
        assert "Traceback" not in process.stderr.read()
    with serving("--data", str(tmp_path)) as (_, url), urllib.request.urlopen(url[:-1] + where, timeout=20) as again:
        assert again.read() == made


@pytest.mark.long
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_threads_share_a_few_pools_of_memory(tmp_path) -> None:
    """glibc reserves 64 MB, at a multiple of 64 MB, for each pool beside the first: one a thread if it may."""
    with serving("--data", str(tmp_path)) as (process, url), ThreadPoolExecutor(12) as people:
        list(people.map(lambda _: post(url, body(QUIET)), range(24)))
        told = Path(f"/proc/{process.pid}/maps").read_text(encoding="utf-8")
    # what is reserved and not in use yet ends where the next pool could begin
    ends = [int(end, 16) for end in re.findall(r"^\w+-(\w+) ---p 0+ 00:00 0 *$", told, re.M)]
    pools = [end for end in ends if end % 2**26 == 0]
    assert len(pools) <= 2


def test_serve_asks_a_feed_that_the_operator_s_folder_names(tmp_path) -> None:
    now = datetime.now(UTC)
    report = f"METAR ZZZA {now:%d%H%M}Z 24004KT 9999 FEW020 05/02 Q1013"

    class Source(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200 if self.path == "/ZZZA.txt" else 404)
            self.end_headers()
            self.wfile.write(report.encode())

        def log_message(self, *said: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Source) as source:
        threading.Thread(target=source.serve_forever, daemon=True).start()
        (tmp_path / "feeds.toml").write_text(
            f'[[feed]]\nname = "invented"\nurl = "http://127.0.0.1:{source.server_port}/{{station}}.txt"\n'
            "allow_private = true\nretries = 0\n"
        )
        asked = {"station": "ZZZA", "off_block": f"{now + timedelta(hours=2):%H%M}Z", "place": PLACE}
        with serving("--checklist", str(tmp_path), env={"XDG_CACHE_HOME": str(tmp_path)}) as (_, url):
            _, made = post(url, asked)
        source.shutdown()
    assert json.loads(made)["reports"][0]["raw"] == report


def test_serve_listens_on_this_machine_alone_unless_told_otherwise() -> None:
    defaults = {option.name: option.default for option in main.commands["serve"].params}
    assert (defaults["host"], defaults["port"], defaults["rate_limit"]) == ("127.0.0.1", 8080, 0)


def test_listening_to_the_network_is_said_to_be_without_login() -> None:
    with serving("--host", "0.0.0.0") as (process, _):
        assert "no login" in process.stderr.readline()


def test_connections_do_not_wait_for_acknowledgements() -> None:
    with _listen("127.0.0.1", 0) as listener:
        assert listener.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
        with socket.create_connection(listener.getsockname()), listener.accept()[0] as accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


def test_a_port_in_use_is_said_in_one_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        done = CliRunner().invoke(main, ["serve", "--port", str(taken.getsockname()[1])])
    assert done.exit_code == 2
    assert "cannot listen on 127.0.0.1" in done.output and "Traceback" not in done.output


def test_a_data_folder_that_cannot_be_made_is_said_in_one_line(tmp_path) -> None:
    (tmp_path / "file").write_text("")
    done = CliRunner().invoke(main, ["serve", "--data", str(tmp_path / "file" / "in")])
    assert done.exit_code == 2
    assert "give a folder that can be written" in done.output


def test_a_wrong_checklist_stops_the_server_before_it_starts(tmp_path) -> None:
    (tmp_path / "rules.toml").write_text('[[advice]]\nid = "torch"\nwhen = "nonsense <"\n')
    done = CliRunner().invoke(main, ["serve", "--checklist", str(tmp_path)])
    assert done.exit_code == 4
    assert "rules.toml" in done.output


@pytest.mark.parametrize("module", ["litestar", "uvicorn", "jinja2", "anyio"])
def test_other_commands_do_not_load_the_server(module) -> None:
    code = f"import sys, advisor.cli; raise SystemExit({module!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0

"""A real server on this machine that answers as a test tells it to: byte by byte, whole, late, or never."""

import contextlib
import socket
import threading
import time
from datetime import UTC, datetime

NOW = datetime(2026, 1, 10, 6, 0, tzinfo=UTC)
REPORT = "METAR ZZZA 100550Z 24008KT 9999 FEW030 02/M01 Q1012"


def ok(body=REPORT, *headers, length=True):
    """A whole answer. length: True for the right one, False for none, or a number."""
    raw = body.encode() if isinstance(body, str) else body
    said = [] if length is False else [f"Content-Length: {len(raw) if length is True else length}"]
    return "\r\n".join(["HTTP/1.1 200 OK", *said, *headers, "", ""]).encode("latin-1") + raw


def status(number, *headers):
    return "\r\n".join([f"HTTP/1.1 {number} Said", "Content-Length: 0", *headers, "", ""]).encode("latin-1")


def moved(where, number=302):
    return status(number, f"Location: {where}")


def drip(data, every_s, head=b""):
    """An answer that comes a byte at a time."""

    def send(line):
        line.sendall(head)
        for at in range(len(data)):
            line.sendall(data[at : at + 1])
            time.sleep(every_s)

    return send


def endless(head, chunk):
    def send(line):
        line.sendall(head)
        while True:
            line.sendall(chunk)

    return send


def silent(line):
    """Take the request and say nothing until the other side goes."""
    line.settimeout(10)
    line.recv(1)


class Source:
    """answers: bytes, or functions of the connection, in order; the last is given again and again.

    requests: target and header fields (small letters) of each request. tls: a context of the ssl module.
    blunt: answers before it was asked.
    """

    def __init__(self, *answers, tls=None, blunt=False, host="127.0.0.1"):
        self.answers = list(answers)
        self.requests = []
        self.tls = tls
        self.blunt = blunt
        self.lines = []
        self.listener = socket.create_server((host, 0))
        self.port = self.listener.getsockname()[1]
        self.origin = f"{'https' if tls else 'http'}://{host}:{self.port}"
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        while True:
            try:
                line, _ = self.listener.accept()
            except OSError:
                return
            self.lines.append(line)
            threading.Thread(target=self._serve, args=(line,), daemon=True).start()

    def _serve(self, line):
        try:
            if self.tls:
                line = self.tls.wrap_socket(line, server_side=True)
                self.lines.append(line)
            asked = b""
            while b"\r\n\r\n" not in asked and not self.blunt:
                more = line.recv(65536)
                if not more:
                    return
                asked += more
            if self.blunt:
                line.sendall(self.answers[0])
                return
            first, *rows = asked.decode("latin-1").split("\r\n\r\n")[0].split("\r\n")
            fields = {name.lower(): value.strip() for name, _, value in (row.partition(":") for row in rows)}
            self.requests.append((first.split()[1], fields))
            answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
            if callable(answer):
                answer(line)
            else:
                line.sendall(answer)
        except OSError:
            pass
        finally:
            line.close()

    def close(self):
        with contextlib.suppress(OSError):
            self.listener.shutdown(socket.SHUT_RDWR)  # close alone leaves a waiting accept open
        self.listener.close()
        for line in self.lines:
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
            line.close()

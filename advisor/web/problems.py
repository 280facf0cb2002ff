"""Every error as one shape: problem details for the API, a plain page for people."""

from __future__ import annotations

import logging
import re
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException

from advisor.errors import AdvisorError, ChecklistError, FeedError, RecordError, ReportError
from advisor.web.model import FIELDS, MOST_BODY, Problem

MEDIA = "application/problem+json"
_AT = re.compile(r" - at `\$\.?(\w*)")
_NAMED = re.compile(r"field `(\w+)`")
_OPTION = re.compile(r"--([a-z][a-z-]*)")
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    # "no-referrer" would take the origin from our own forms
    "Referrer-Policy": "same-origin",
    "X-Robots-Tag": "noindex",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
_UNWRITTEN = "the record cannot be written to at present; nothing was recorded"
_log = logging.getLogger("advisor.web")
Req = Request[Any, Any, Any]


class Refused(Exception):  # noqa: N818
    """A request that is turned down before any brief is made."""

    def __init__(
        self,
        status: int,
        detail: str,
        *,
        hint: str | None = None,
        field: str | None = None,
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.status, self.detail, self.hint, self.field, self.headers = status, detail, hint, field, headers or {}


def problem(error: Exception) -> Problem:
    """Problem details of an error; what nobody foresaw says nothing about itself."""
    if isinstance(error, Refused):
        return _made(error.status, error.detail, error.field, error.hint)
    if isinstance(error, msgspec.MsgspecError):
        text = str(error)
        found = _AT.search(text) or _NAMED.search(text)
        return _made(400, text.split(" - at `")[0], found[1] if found and found[1] else None, None)
    if isinstance(error, UnicodeDecodeError):
        return _made(400, "the body is not UTF-8 text", None, "send JSON as UTF-8")
    if isinstance(error, ChecklistError):
        _log.error("checklist: %s", error)
        return _made(500, "the server's checklist cannot be used", None, None)
    if isinstance(error, RecordError):
        if not error.full:
            _log.error("record: %s", error)
        return _made(507 if error.full else 503, error.what if error.full else _UNWRITTEN, None, error.hint or None)
    if isinstance(error, AdvisorError):
        return _made(502 if isinstance(error, FeedError) else 422, _head(error), field_of(error), _plain(error.hint))
    if isinstance(error, HTTPException) and error.status_code == 413:
        return _made(413, "the body is too long", None, f"send {MOST_BODY} bytes at most, of a photo 2 MB")
    if isinstance(error, HTTPException):
        return _made(error.status_code, error.detail, None, None)
    _log.error("not foreseen", exc_info=error)
    return _made(500, "something went wrong on the server", None, None)


def field_of(error: AdvisorError) -> str | None:
    """The input at fault: the option named, or the reports for whatever is wrong in them."""
    name = error.where.split(":")[0].replace("-", "_")
    if name in FIELDS:
        return name
    return "reports" if isinstance(error, ReportError) else None


def _head(error: AdvisorError) -> str:
    if error.where and error.where.replace("-", "_") not in FIELDS:
        return f"{error.where}: {_plain(error.what)}"
    return _plain(error.what) or ""


def _plain(text: str) -> str | None:
    """The command's options are fields here."""
    return _OPTION.sub(lambda match: match[1].replace("-", "_"), text) or None


def _made(status: int, detail: str, field: str | None, hint: str | None) -> Problem:
    return Problem(HTTPStatus(status).phrase, status, detail or HTTPStatus(status).phrase, field=field, hint=hint)


def is_api(path: str) -> bool:
    """Whether a machine asked."""
    return path.startswith(("/api/", "/schema")) or path in ("/api", "/healthz")


def handle(request: Req, error: Exception) -> Response[bytes]:
    """The one handler of all errors."""
    fault = problem(error)
    headers = {**HEADERS, **(getattr(error, "headers", None) or {})}
    if is_api(request.url.path):
        body = msgspec.json.encode(fault)
        return Response(body, status_code=fault.status, media_type=MEDIA, headers=headers)
    # with its cookies: a form on it has to be ours when it comes back
    page: Response[bytes] = request.app.state.problem_page(request, fault)
    page.headers.update(headers)
    return page

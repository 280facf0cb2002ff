"""Who may: tokens, the session that a token form opens, and what goes without either."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from litestar import Request
from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from advisor.quantities.units import HOUR_S
from advisor.web.forms import read_form
from advisor.web.limits import RateLimit
from advisor.web.problems import Refused, is_api

if TYPE_CHECKING:
    from advisor.record.tokens import Person, TokenFile
    from advisor.web.work import Work

SESSION = "session"
SESSION_S = 12 * HOUR_S
KEY_FILE = "session.key"
# wrong tokens a minute and address, before nobody unknown is answered any more
MOST_WRONG = 10
# bytes of a form that is kept while somebody gives a token again
MOST_TYPED = 100_000
OPEN = ""
_SAFE = ("GET", "HEAD", "OPTIONS")
_FORWARDED = ("forwarded", "x-forwarded-for", "x-real-ip")
Req = Request[Any, Any, Any]


class Access:
    """What the token file says, and the sessions that came of it. Without a file writing is for this machine alone."""

    def __init__(self, work: Work) -> None:
        settings = work.settings
        self._unix, self._proxied = work.unix, bool(settings.proxies)
        self.tokens: TokenFile | None = None
        if settings.tokens is not None:
            from advisor.record.tokens import TokenFile

            self.tokens = TokenFile(settings.tokens)
        self._key = _key(settings.data) if self.tokens is not None else b""
        self._wrong = RateLimit(MOST_WRONG, work.unix)

    def session(self, person: Person) -> str:
        """The cookie's value for a person: a name, an end and a seal. It ends with the token's line in the file."""
        until = int(self._unix()) + SESSION_S
        return f"{person.name}.{until}.{self._seal(person.name, until)}"

    def _seal(self, name: str, until: int) -> str:
        assert self.tokens is not None
        person_and_hash = self.tokens.named(name)
        text = f"{name}\n{until}\n{person_and_hash[1] if person_and_hash else ''}"
        return hmac.new(self._key, text.encode(), hashlib.sha256).hexdigest()

    def of_session(self, value: str) -> Person | None:
        """Whose session it is; None where it is nobody's or over."""
        parts = value.rsplit(".", 2)
        if self.tokens is None or len(parts) != 3 or not parts[1].isascii() or not parts[1].isdigit():
            return None
        name, until, seal = parts[0], int(parts[1][:12]), parts[2]
        person_and_hash = self.tokens.named(name)
        if (
            person_and_hash is None
            or until <= self._unix()
            or not hmac.compare_digest(seal.encode(), self._seal(name, until).encode())
        ):
            return None
        return person_and_hash[0]

    def of_token(self, token: str, address: str) -> Person:
        """Whose token it is. Raises Refused for nobody's: 401, or 429 where too many were wrong."""
        assert self.tokens is not None
        person = self.tokens.person(token)
        if person is not None:
            return person
        wait = self._wrong.wait_s(address)
        if wait > 0:
            raise Refused(
                429,
                "too many wrong tokens came from this address",
                hint=f"try again in {int(wait) + 1} s",
                headers={"Retry-After": str(int(wait) + 1)},
            )
        raise Refused(401, "this token is nobody's", hint="give the token that you were given", headers=_CHALLENGE)

    def check(self, connection: ASGIConnection[Any, Any, Any, Any], role: str, method: str) -> Person | None:
        """Whose request it is, where it may. role: what it asks for. Raises Refused."""
        if self.tokens is None:
            if role not in ("read", OPEN):
                self._here_only(connection)
            _own_origin(connection, method)
            return None
        person = self._person(connection)
        if role == OPEN:
            return person
        if person is None:
            hint = "send Authorization: Bearer and your token" if is_api(connection.url.path) else "give your token"
            raise Refused(401, "who you are is not known", hint=hint, headers=_CHALLENGE)
        if not person.may(role):
            what = f"the role {person.role} may not do this"
            raise Refused(403, what, hint=f"the role {role} may; ask whoever runs this server")
        return person

    def _person(self, connection: ASGIConnection[Any, Any, Any, Any]) -> Person | None:
        given = connection.headers.get("authorization")
        if given is not None:
            kind, _, token = given.partition(" ")
            if kind.lower() != "bearer":
                raise Refused(401, "no such way to say who you are", hint="send a Bearer token", headers=_CHALLENGE)
            return self.of_token(token.strip(), address_of(connection))
        person = self.of_session(connection.cookies.get(SESSION, ""))
        if person is not None:
            # a cookie goes along with what another site sends; a token does not
            _own_origin(connection, str(connection.scope.get("method")))
        return person

    def _here_only(self, connection: ASGIConnection[Any, Any, Any, Any]) -> None:
        """Without tokens only this machine writes: not through somebody's proxy, and not under another site's name."""
        through = not self._proxied and any(name in connection.headers for name in _FORWARDED)
        name = _name(connection.headers.get("host", "localhost"))
        if not is_loopback(address_of(connection)) or through or not (name == "localhost" or _is_address(name)):
            hint = "whoever runs it: advisor serve --tokens FILE"
            raise Refused(403, "without tokens only the machine itself may write", hint=hint)


_CHALLENGE = {"WWW-Authenticate": 'Bearer realm="advisor"'}


def address_of(connection: ASGIConnection[Any, Any, Any, Any]) -> str:
    """Where a request comes from."""
    return connection.client.host if connection.client else ""


def is_loopback(address: str) -> bool:
    """Whether an address is this machine's own; what has none came by no network."""
    return not _is_address(address) or ip_address(address.split("%")[0]).is_loopback


def site_of(origin: str) -> str | None:
    """Host and port of an address as a browser names it; None where it is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return None


def _is_address(text: str) -> bool:
    try:
        ip_address(text.split("%")[0])
    except ValueError:
        return False
    return True


def _name(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _own_origin(connection: ASGIConnection[Any, Any, Any, Any], method: str) -> None:
    """Refuse what a page of another site sends to the API; forms carry a token of their own."""
    if method in _SAFE or not is_api(connection.url.path):
        return
    site, origin = connection.headers.get("sec-fetch-site", "none"), connection.headers.get("origin")
    foreign = origin is not None and site_of(origin) != connection.headers.get("host")
    if site not in ("same-origin", "none") or foreign:
        raise Refused(403, "this came from another site", hint="open the page again and send it once more")


def _key(data: Path | None) -> bytes:
    """What seals sessions: kept with the data, so that a restart ends none."""
    if data is None:
        return secrets.token_bytes(32)
    path = data / KEY_FILE
    try:
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(secrets.token_bytes(32))
    except FileExistsError:
        pass
    key = path.read_bytes()
    return key if len(key) >= 32 else secrets.token_bytes(32)


async def guard(connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler) -> None:
    """Asked before every handler. A handler's `opt["role"]` says what it takes; "read" where it says nothing."""
    access: Access = connection.app.state.access
    method = str(connection.scope.get("method", "GET"))
    try:
        connection.scope["state"]["person"] = access.check(connection, handler.opt.get("role", "read"), method)
    except Refused as error:
        if error.status == 401:
            connection.scope["state"]["typed"] = await _typed(connection, method)
        raise


async def _typed(connection: ASGIConnection[Any, Any, Any, Any], method: str) -> dict[str, str]:
    """What stood in a form that came without a session, so that it is not lost; nothing of a long one, or a file."""
    length = connection.headers.get("content-length", "")
    if (
        method != "POST"
        or not isinstance(connection, Request)
        or not connection.headers.get("content-type", "").startswith("application/x-www-form-urlencoded")
        or not (length.isascii() and length.isdigit() and int(length[:12]) <= MOST_TYPED)
    ):
        return {}
    return read_form(await connection.body())


def typed_of(request: Req) -> dict[str, str]:
    """What stood in a form that came without a session; empty where there was none."""
    found: dict[str, str] = request.scope["state"].get("typed") or {}
    return found


def person_of(request: Req) -> Person | None:
    """Whose request it is; None where nobody has to say."""
    return request.scope["state"].get("person")


def owner_of(request: Req) -> str:
    """Whose share of the store a brief takes: the person's, else the address's."""
    person = person_of(request)
    return person.name if person is not None else address_of(request)

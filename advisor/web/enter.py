"""The token form: a token once, then a session. The token itself is in no address and no cookie."""

from __future__ import annotations

from typing import Any

from litestar import Request, Response, post
from litestar.datastructures import Cookie

from advisor.web import forms
from advisor.web.fixed import reading
from advisor.web.pages import HTML, leads_back, own_form, rendered
from advisor.web.problems import Refused
from advisor.web.who import OPEN, SESSION, SESSION_S, Access, address_of, person_of

Req = Request[Any, Any, Any]
# entries that a page fills in, not a person
OWN = ("key", "next", "since", "screen", "back")


def _access(request: Req) -> Access:
    access: Access = request.app.state.access
    if access.tokens is None:
        raise Refused(404, "this server asks for no token", hint="go on without")
    return access


def _page(request: Req, values: dict[str, str] | None = None, fault: str = "", status: int = 200) -> Response[bytes]:
    values = values or {}
    back = values.get("back") or request.query_params.get("back", "/")
    return rendered(
        request,
        "enter.html",
        status=status,
        fault=fault,
        leads=back,
        person=person_of(request),
        sent=values.get("sent", ""),
        action=values.get("action", ""),
    )


@reading("/enter", opt={"role": OPEN})
async def ask(request: Req) -> Response[bytes]:
    """The form."""
    _access(request)
    return _page(request)


@post("/enter", status_code=303, opt={"role": OPEN}, request_max_body_size=forms.MOST_FORM)
async def enter(request: Req) -> Response[bytes]:
    """A session for a token; or the form again. What was typed before the last session ended is shown to be sent."""
    access = _access(request)
    values = await own_form(request)
    try:
        person = access.of_token(values.get("secret", ""), address_of(request))
    except Refused as error:
        page = _page(request, values, f"{error.detail}; {error.hint}", error.status)
        page.headers.update(error.headers)
        return page
    cookie = Cookie(
        key=SESSION,
        value=access.session(person),
        max_age=SESSION_S,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        path="/",
    )
    sent = forms.read_form(values.get("sent", "").encode())
    if sent:
        action = leads_back(values.get("action", "/"))
        return rendered(request, "typed.html", cookies=[cookie], sent=sent, shown=_shown(sent), action=action)
    headers = {"Location": leads_back(values.get("back", "/"))}
    return Response(b"", status_code=303, headers=headers, cookies=[cookie], media_type=HTML)


def _shown(sent: dict[str, str]) -> list[tuple[str, str]]:
    """What somebody typed, by the name of its entry; without what a page adds by itself."""
    return [(name.replace("_", " "), value) for name, value in sent.items() if name not in OWN]


@post("/leave", status_code=303, opt={"role": OPEN})
async def leave(request: Req) -> Response[bytes]:
    """The end of a session."""
    _access(request)
    await own_form(request)
    gone = Cookie(key=SESSION, value="", max_age=0, httponly=True, samesite="strict", path="/")
    return Response(b"", status_code=303, headers={"Location": "/enter"}, cookies=[gone], media_type=HTML)


HANDLERS = (ask, enter, leave)

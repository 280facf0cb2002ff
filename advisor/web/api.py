"""The API: JSON in, a brief out."""

from __future__ import annotations

from typing import Any

import msgspec
from litestar import MediaType, Request, Response, get, post

from advisor.web.model import Asked, Entry, Health
from advisor.web.openapi import document
from advisor.web.problems import Refused
from advisor.web.who import OPEN, owner_of
from advisor.web.work import Work

Req = Request[Any, Any, Any]
_decoder = msgspec.json.Decoder(Asked)
_HEALTH = msgspec.json.encode(Health())
_DOCUMENT = msgspec.json.encode(document())


def work_of(request: Req) -> Work:
    """What the app was made with."""
    work: Work = request.app.state.work
    return work


def count(request: Req) -> None:
    """Refuse an address that asks for too many briefs."""
    wait = work_of(request).limit.wait_s(request.client.host if request.client else "")
    if wait > 0:
        seconds = int(wait) + 1
        raise Refused(
            429,
            "too many briefs were asked for from this address",
            hint=f"try again in {seconds} s",
            headers={"Retry-After": str(seconds)},
        )


async def make(request: Req, asked: Asked, since: str | None = None) -> Entry:
    """A brief made on a thread."""
    run = request.app.state.wait if asked.station else request.app.state.run
    entry: Entry = await run(work_of(request).make, asked, since=since, owner=owner_of(request))
    return entry


@post("/api/brief", status_code=201)
async def make_brief(request: Req) -> Response[bytes]:
    """Make a brief."""
    if request.content_type[0] != "application/json":
        raise Refused(415, "the body is not JSON", hint="send Content-Type: application/json")
    data = await request.body()
    count(request)
    asked = _decoder.decode(data)
    entry = await make(request, asked)
    headers = {
        "Location": f"/api/brief/{entry.id}",
        "Link": f'</b/{entry.id}>; rel="alternate"; type="text/html"',
    }
    return Response(bytes(entry.brief), status_code=201, media_type=MediaType.JSON, headers=headers)


@get("/api/brief/{name:str}")
async def read_brief(request: Req) -> Response[bytes]:
    """A brief made within the last day."""
    name = request.path_params["name"]
    entry = await request.app.state.run(work_of(request).store.get, name)
    if entry is None:
        raise Refused(404, "no such brief", hint="briefs are kept for a day")
    return Response(bytes(entry.brief), media_type=MediaType.JSON)


@get("/healthz", opt={"role": OPEN})
async def health() -> Response[bytes]:
    """That the server answers."""
    return Response(_HEALTH, media_type=MediaType.JSON)


@get("/schema/openapi.json", opt={"role": OPEN})
async def openapi() -> Response[bytes]:
    """The document of this API."""
    return Response(_DOCUMENT, media_type=MediaType.JSON)


HANDLERS = (make_brief, read_brief, health, openapi)

"""The API: JSON in, a brief out."""

from __future__ import annotations

from typing import Any

import msgspec
from litestar import MediaType, Request, Response, post

from advisor.brief.changes import Change, changes, incomparable
from advisor.checklist.show import profiles_data
from advisor.web.fixed import reading
from advisor.web.model import FIELDS, Asked, Health, KeptBrief, Lost, Wanted
from advisor.web.openapi import document
from advisor.web.problems import MEDIA, Refused
from advisor.web.who import OPEN, owner_of
from advisor.web.work import Unkept, Work, brief_of

Req = Request[Any, Any, Any]
_decoder = msgspec.json.Decoder(Wanted)
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


async def make(request: Req, asked: Asked, since: str | None = None) -> KeptBrief:
    """A brief made on a thread."""
    run = request.app.state.wait if asked.station else request.app.state.run
    entry: KeptBrief = await run(work_of(request).make, asked, since=since, owner=owner_of(request))
    return entry


@post("/api/brief", status_code=201)
async def make_brief(request: Req) -> Response[bytes]:
    """Make a brief; with `since`, also say what changed since an earlier one."""
    if request.content_type[0] != "application/json":
        raise Refused(415, "the body is not JSON", hint="send Content-Type: application/json")
    data = await request.body()
    count(request)
    wanted = _decoder.decode(data)
    since = wanted.since
    if since is not None and await request.app.state.run(work_of(request).get, since) is None:
        hint = "briefs are kept for a day; leave since out"
        raise Refused(422, "there is no such brief here", field="since", hint=hint)
    asked = Asked(**{name: getattr(wanted, name) for name in FIELDS})
    try:
        entry = await make(request, asked, since)
    except Unkept as error:
        return _unkept(error)
    headers = {
        "Location": f"/api/brief/{entry.id}",
        "Link": f'</b/{entry.id}>; rel="alternate"; type="text/html"',
    }
    body = bytes(entry.brief)
    if since is not None:
        found = await request.app.state.run(_changed, work_of(request), since, entry)
        # the brief's own bytes, with one more member
        body = body[:-1] + b',"changes":' + msgspec.json.encode(found) + b"}"
    return Response(body, status_code=201, media_type=MediaType.JSON, headers=headers)


def _changed(work: Work, since: str, entry: KeptBrief) -> tuple[Change, ...]:
    before = work.get(since)
    if before is None:
        return ()
    why = incomparable(brief_of(before), brief_of(entry))
    if why:
        raise Refused(422, f"the earlier brief is {why}", field="since", hint="give one of this departure, or none")
    return changes(brief_of(before), brief_of(entry))


def _unkept(error: Unkept) -> Response[bytes]:
    """The brief all the same, as a part of what is said to be wrong."""
    hint = "the brief stands here, under brief; it cannot be asked for again"
    said = Lost("Insufficient Storage", 507, str(error), error.entry.brief, hint=hint)
    return Response(msgspec.json.encode(said), status_code=507, media_type=MEDIA)


@reading("/api/aircraft")
async def list_aircraft(request: Req) -> Response[bytes]:
    """The profiles, as the command `aircraft` gives them."""
    found = profiles_data(work_of(request).fleet)
    return Response(msgspec.json.encode(found), media_type=MediaType.JSON)


@reading("/api/brief/{name:str}")
async def read_brief(request: Req) -> Response[bytes]:
    """A brief made within the last day."""
    name = request.path_params["name"]
    entry = await request.app.state.run(work_of(request).get, name)
    if entry is None:
        raise Refused(404, "no such brief", hint="briefs are kept for a day")
    return Response(bytes(entry.brief), media_type=MediaType.JSON)


@reading("/healthz", opt={"role": OPEN})
async def health() -> Response[bytes]:
    """That the server answers."""
    return Response(_HEALTH, media_type=MediaType.JSON)


@reading("/schema/openapi.json", opt={"role": OPEN})
async def openapi() -> Response[bytes]:
    """The document of this API."""
    return Response(_DOCUMENT, media_type=MediaType.JSON)


HANDLERS = (make_brief, read_brief, list_aircraft, health, openapi)

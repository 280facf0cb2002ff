"""The API of the walk: begin it, say what was found, treat, sign; and read it back."""

from __future__ import annotations

import asyncio
from typing import Annotated, Any, Literal

import msgspec
from litestar import MediaType, Request, Response, post
from msgspec import Meta

from advisor.errors import AdvisorError
from advisor.web.fixed import reading
from advisor.web.problems import Refused, problem
from advisor.web.walks import Walks
from advisor.web.who import person_of

Req = Request[Any, Any, Any]
Kind = Literal["found", "treatment", "note", "sign"]
_PATHS = {"found": "found", "treatment": "treatment", "note": "note", "sign": "signed"}
MOST_PHOTO = 2_000_000
MOST_QUEUE = 1_000_000
_PHOTOS = ("image/jpeg", "image/png", "image/webp", "application/octet-stream")


class Queued(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing said, of those that waited on a telephone. said: the body that its own address would take."""

    kind: Kind
    key: Annotated[str, Meta(min_length=1, max_length=200)]
    said: msgspec.Raw


class Answered(msgspec.Struct, frozen=True, omit_defaults=True):
    """What became of one of them: the status that its own address would have given, and the event or the problem."""

    key: str
    status: int
    event: Any = None
    problem: Any = None


_queue = msgspec.json.Decoder(Annotated[list[Queued], Meta(max_length=500)])


def walks_of(request: Req) -> Walks:
    """The record. Refused where this server keeps none."""
    walks: Walks | None = request.app.state.walks
    if walks is None:
        raise Refused(501, "this server records no walks", hint="whoever runs it: advisor serve --data DIR")
    return walks


def named(request: Req) -> str | None:
    """The name of who sent it, where that has to be said."""
    person = person_of(request)
    return None if person is None else person.name


async def _json(request: Req) -> bytes:
    if request.content_type[0] != "application/json":
        raise Refused(415, "the body is not JSON", hint="send Content-Type: application/json")
    return await request.body()


def key_of(request: Req) -> str | None:
    """The idempotency key sent with it."""
    return request.headers.get("idempotency-key")


def _event(event: Any, **headers: str) -> Response[bytes]:
    return Response(msgspec.json.encode(event), status_code=201, media_type=MediaType.JSON, headers=headers)


@post("/api/walk", status_code=201, opt={"role": "walk"})
async def open_walk(request: Req) -> Response[bytes]:
    """Begin the walk of a brief."""
    walks, data = walks_of(request), await _json(request)
    event = await request.app.state.run(walks.open, data, key_of(request), named(request))
    body = msgspec.json.encode(shown((event,)))
    headers = {
        "Location": f"/api/walk/{event.walk}",
        "Link": f'</w/{event.walk}>; rel="alternate"; type="text/html"',
    }
    return Response(body, status_code=201, media_type=MediaType.JSON, headers=headers)


async def _said(request: Req, path: str) -> Response[bytes]:
    walks, data = walks_of(request), await _json(request)
    walk = request.path_params["name"]
    run = request.app.state.wait
    addition = await walks.say(walk, _PATHS[path], data, key_of(request), named(request), run)
    return _event(await walks.added(addition))


@post("/api/walk/{name:str}/found", status_code=201, opt={"role": "walk"})
async def say_found(request: Req) -> Response[bytes]:
    """What somebody saw at a line or a zone."""
    return await _said(request, "found")


@post("/api/walk/{name:str}/treatment", status_code=201, opt={"role": "walk"})
async def say_treatment(request: Req) -> Response[bytes]:
    """A step of the treatment."""
    return await _said(request, "treatment")


@post("/api/walk/{name:str}/note", status_code=201, opt={"role": "walk"})
async def say_note(request: Req) -> Response[bytes]:
    """A few words."""
    return await _said(request, "note")


@post("/api/walk/{name:str}/sign", status_code=201, opt={"role": "sign"})
async def say_signed(request: Req) -> Response[bytes]:
    """The signature."""
    return await _said(request, "sign")


@post("/api/walk/{name:str}/photo", status_code=201, opt={"role": "walk"}, request_max_body_size=MOST_PHOTO)
async def say_photo(request: Req) -> Response[bytes]:
    """A photo; the body is the picture. What is kept has neither place nor camera in it."""
    walks = walks_of(request)
    if request.content_type[0] not in _PHOTOS:
        raise Refused(415, "the body is no photo", hint="send Content-Type: image/jpeg, image/png or image/webp")
    where = {name: request.query_params[name] for name in ("line", "zone") if request.query_params.get(name)}
    for name, text in where.items():
        if len(text) > 80:
            raise Refused(400, f"{name} is longer than 80 letters", field=name, hint="name a line or a zone")
    data, walk = await request.body(), request.path_params["name"]
    addition = await request.app.state.run(walks.photo, walk, data, where, key_of(request), named(request))
    return _event(await walks.added(addition))


@post("/api/walk/{name:str}/queue", status_code=200, opt={"role": "walk"}, request_max_body_size=MOST_QUEUE)
async def say_queue(request: Req) -> Response[bytes]:
    """What waited on a telephone, in its order; each with a key of its own and an answer of its own."""
    walks, data = walks_of(request), await _json(request)
    walk, person = request.path_params["name"], person_of(request)
    await request.app.state.wait(walks.known, walk)
    waiting: list[Any] = []
    sent = _queue.decode(data)
    for queued in sent:
        if queued.kind == "treatment" and waiting:
            # what was said before it decides whether it is in order
            await asyncio.gather(*(one for one in waiting if not isinstance(one, Answered)), return_exceptions=True)
        if queued.kind == "sign" and person is not None and not person.may("sign"):
            waiting.append(
                _problem(queued.key, Refused(403, f"the role {person.role} may not sign", hint="ask who may"))
            )
            continue
        try:
            addition = await walks.say(
                walk, _PATHS[queued.kind], bytes(queued.said), queued.key, named(request), request.app.state.wait
            )
            waiting.append(asyncio.wrap_future(walks.record.submit(addition)))
        except _WRONG as error:
            waiting.append(_problem(queued.key, error))
    answers = [await _answered(walks, one.key, answer) for one, answer in zip(sent, waiting, strict=True)]
    return Response(msgspec.json.encode(answers), media_type=MediaType.JSON)


_WRONG = (Refused, AdvisorError, msgspec.MsgspecError, UnicodeError)


def _problem(key: str, error: Exception) -> Answered:
    found = problem(error)
    return Answered(key, found.status, problem=found)


async def _answered(walks: Walks, key: str, answer: Any) -> Answered:
    if isinstance(answer, Answered):
        return answer
    try:
        return Answered(key, 201, event=await walks.written(answer))
    except _WRONG as error:
        return _problem(key, error)


@reading("/api/walk/{name:str}")
async def read_walk(request: Req) -> Response[bytes]:
    """A walk with its events."""
    walks = walks_of(request)
    events = await request.app.state.wait(walks.events, request.path_params["name"])
    return Response(msgspec.json.encode(shown(events)), media_type=MediaType.JSON)


@reading("/api/walk/{name:str}/photo/{digest:str}")
async def read_photo(request: Req) -> Response[bytes]:
    """A photo of a walk by the hash of its bytes."""
    from advisor.record.photos import load

    walks, digest = walks_of(request), request.path_params["digest"]
    events = await request.app.state.wait(walks.events, request.path_params["name"])
    known = any(event.kind == "photo" and event.data and event.data["sha256"] == digest for event in events)
    data = await request.app.state.wait(load, walks.photos, digest) if known and walks.photos else None
    if data is None:
        raise Refused(404, "there is no such photo on this walk")
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=86400, immutable"})


def shown(events: tuple[Any, ...]) -> dict[str, Any]:
    """A walk as JSON: what it is of, how far it is, and every event as the chain holds it."""
    from advisor.record.walk import offers, read

    walk = read(events)
    if walk is None:
        return {"schema": "walk/1", "id": events[0].walk, "events": events}
    opened = walk.opened
    return {
        "schema": "walk/1",
        "id": walk.id,
        "brief": opened["brief"],
        "fingerprint": opened["fingerprint"],
        "by": opened["by"],
        "aircraft": opened["aircraft"],
        "registration": opened.get("registration"),
        "off_block": opened["off_block"],
        "begun": walk.begun,
        "ended": walk.ended,
        "signed": walk.signed is not None,
        "seen": walk.seen,
        "offers": offers(walk),
        "events": events,
    }


HANDLERS = (
    open_walk,
    say_found,
    say_treatment,
    say_note,
    say_signed,
    say_photo,
    say_queue,
    read_walk,
    read_photo,
)

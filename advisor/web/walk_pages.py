"""The page of a walk: plain forms that work without script, which the script then keeps and sends by itself."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from litestar import Request, Response, post
from litestar.datastructures import UploadFile
from markupsafe import Markup

from advisor.brief.model import Brief
from advisor.departure import from_unix, hhmm, read_at_or_after, read_at_or_before, stamp
from advisor.errors import AdvisorError, DepartureError
from advisor.web import typed
from advisor.web.api import work_of
from advisor.web.fixed import reading
from advisor.web.forms import read_form
from advisor.web.pages import HTML, form_is_ours, has_pdf, own_form, rendered
from advisor.web.problems import Refused, problem
from advisor.web.store import new_id
from advisor.web.walk_api import MOST_PHOTO, named, walks_of
from advisor.web.work import Work, brief_of

Req = Request[Any, Any, Any]
KINDS = {"found": "found", "treatment": "treatment", "note": "note", "sign": "signed"}
_TIMES = ("at", "cancel_by", "parked_since")
# a time of day so long ago was meant of today
YESTERDAY_S = 18 * 3600
MOST_DIGITS = 4
_DATED = re.compile(r"^\d{4}-|^\d{2}/?\d{4}")


@dataclass(frozen=True)
class TypedSaid:
    """What was typed into one of the walk's forms, to be shown again where it was not taken."""

    kind: str
    values: Mapping[str, str]

    def was(self, kind: str, name: str, place: str = "") -> str:
        """An entry of a form; "" where another form was sent."""
        here = self.values.get("line") or self.values.get("zone") or ""
        return self.values.get(name, "") if self.kind == kind and place in ("", here) else ""


@post("/walk", status_code=303, opt={"role": "walk"})
async def begin(request: Req) -> Response[bytes]:
    """Begin the walk of a brief, and go to its page."""
    walks, values = walks_of(request), await own_form(request)
    said = {name: values[name] for name in ("brief", "by", "registration") if values.get(name)}
    key = values.get("key") or None
    event = await request.app.state.run(walks.open, msgspec.json.encode(said), key, named(request))
    return Response(b"", status_code=303, headers={"Location": f"/w/{event.walk}"}, media_type=HTML)


@reading("/w/{name:str}")
async def show(request: Req) -> Response[bytes]:
    """A walk, in one list, or one checkpoint a screen with ?at=."""
    return await _page(request)


async def _page(request: Req, said: TypedSaid | None = None, errors: Sequence[Exception] = ()) -> Response[bytes]:
    made: Response[bytes] = await request.app.state.run(_drawn, request, said, errors)
    return made


def _drawn(request: Req, sent: TypedSaid | None, errors: Sequence[Exception]) -> Response[bytes]:
    from advisor.web.walk_view import laid_out

    faults = [problem(error) for error in errors]
    status = faults[0].status if faults else 200

    walks, work = walks_of(request), work_of(request)
    walk = walks.read(request.path_params["name"])
    now = stamp(work.unix()) or ""
    entry = work.get(walk.opened["brief"])
    context = laid_out(walk, now)
    number = _number(request.query_params.get("at", ""))
    number = number if number <= len(context["places"]) else 0
    return rendered(
        request,
        "walk.html",
        status=422 if status == 400 else status,
        faults=faults,
        typed=sent or TypedSaid("", {}),
        newer=entry.newer if entry else None,
        has_brief=entry is not None,
        has_pdf=has_pdf(),
        photos=walks.photos is not None,
        at=number,
        key=new_id,
        holdover=_left(work, walk, now, brief_of(entry) if entry else None),
        **context,
    )


def _left(work: Work, walk: Any, now: str, brief: Brief | None) -> Any:
    """The countdown of the holdover time; with a turn of its own, since it computes."""
    if walk.last("last step started") is None or work.settings.pads is None:
        return None
    from advisor.web.holdover import left

    profile = work.fleet.get(brief.aircraft.id) if brief else None
    with work.turn:
        return left(walk, now, work.settings.pads, brief, profile)


@post("/w/{name:str}/{kind:str}", status_code=303, opt={"role": "walk"})
async def say(request: Req) -> Response[bytes]:
    """One thing said with a form; then the page again, at the next checkpoint where they come one by one."""
    walks, kind = walks_of(request), request.path_params["kind"]
    if kind not in KINDS:
        raise Refused(404, "there is no such form", hint="open the walk again")
    values = read_form(await request.body())
    sent = TypedSaid(kind, values)
    walk = request.path_params["name"]
    try:
        form_is_ours(request, values.get("token"))
    except Refused as error:
        return await _page(request, sent, [error])
    if kind == "sign":
        person = request.scope["state"].get("person")
        if person is not None and not person.may("sign"):
            raise Refused(403, f"the role {person.role} may not sign", hint="ask who may")
    data, wrong = said_in(kind, values, work_of(request).unix())
    if wrong:
        return await _page(request, sent, wrong)
    try:
        key = values.get("key") or None
        body = msgspec.json.encode(data)
        addition = await walks.say(walk, KINDS[kind], body, key, named(request), request.app.state.wait)
        event = await walks.added(addition)
    except (AdvisorError, msgspec.ValidationError, Refused) as error:
        if problem(error).status in (404, 410):
            raise
        return await _page(request, sent, [error])
    return _onward(walk, kind, values, event)


def _number(text: str) -> int:
    """Which place of a walk, from 1, an address asks for; 0 where it is no short number."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS else 0


def _onward(walk: str, kind: str, values: Mapping[str, str], event: Any) -> Response[bytes]:
    if kind == "found" and (number := _number(values.get("next", ""))):
        where = f"/w/{walk}?at={number}"
    else:
        parts = {"found": f"place-{event.data.get('line') or event.data.get('zone')}", "treatment": "treatment"}
        where = f"/w/{walk}#{parts.get(kind, kind)}"
    return Response(b"", status_code=303, headers={"Location": where}, media_type=HTML)


_NAMES = {
    "found": ("line", "zone", "found", "note", "by", "at"),
    "treatment": ("step", "at", "pad", "slot", "fluid", "dilution", "by", "cancel_by", "note"),
    "note": ("text", "by", "at"),
    "sign": ("by", "role", "parked_since", "at"),
}
_NEEDED = {"note": ("text",), "sign": ("by", "role")}


def said_in(kind: str, values: Mapping[str, str], now: float) -> tuple[dict[str, Any], list[Exception]]:
    """A form's fields as the API takes them, and everything that is wrong with them. Times are UTC, the last such."""
    body: dict[str, Any] = {name: values[name] for name in _NAMES[kind] if values.get(name)}
    wrong: list[Exception] = [
        DepartureError("missing", where=name, hint="fill it in") for name in _NEEDED.get(kind, ()) if name not in body
    ]
    for name in _TIMES:
        if name in body:
            try:
                body[name] = _time(body[name], name, int(now))
            except DepartureError as error:
                wrong.append(error)
    if kind == "sign" and values.get("covered"):
        body["covered"] = values["covered"] == "yes"
    return body, wrong


def _time(text: str, name: str, now: int) -> str:
    """A time as it was typed, as RFC 3339. Raises DepartureError."""
    read = read_at_or_after if name == "cancel_by" else read_at_or_before
    unix_s = read(typed.moment(text, from_unix(now)), now, what=name.replace("_", " "))
    if name == "at" and ((now - unix_s > YESTERDAY_S and not _DATED.search(text)) or unix_s > now):
        # a time of day that is about to come is no time of yesterday's
        hint = "give the time at which it was; with its date where it was yesterday"
        raise DepartureError(f"{text} is still to come", where=name, hint=hint)
    return stamp(unix_s) or ""


@post("/w/{name:str}/photo", status_code=303, opt={"role": "walk"}, request_max_body_size=MOST_PHOTO + 20_000)
async def send_photo(request: Req) -> Response[bytes]:
    """A photo sent with a form."""
    walks = walks_of(request)
    form = await request.form()
    form_is_ours(request, str(form.get("token", "")))
    sent = form.get("photo")
    if not isinstance(sent, UploadFile):
        raise Refused(422, "no photo came", hint="choose one, then send it")
    where = {name: str(form[name])[:80] for name in ("line", "zone") if form.get(name)}
    walk, key = request.path_params["name"], str(form.get("key", "")) or None
    try:
        data = await sent.read()
        addition = await request.app.state.run(walks.photo, walk, data, where, key, named(request))
        await walks.added(addition)
    except (AdvisorError, Refused) as error:
        if problem(error).status in (404, 410):
            raise
        return await _page(request, None, [error])
    place = where.get("line") or where.get("zone") or ""
    return Response(b"", status_code=303, headers={"Location": f"/w/{walk}#place-{place}"}, media_type=HTML)


@reading("/w/{name:str}/photo/{digest:str}")
async def photo(request: Req) -> Response[bytes]:
    """A photo of the walk."""
    from advisor.web.walk_api import read_photo

    found: Response[bytes] = await read_photo.fn(request)
    return found


@reading("/w/{name:str}/sheet.pdf")
async def sheet(request: Req) -> Response[bytes]:
    """The walk as a sheet of paper."""
    if not has_pdf():
        raise Refused(404, "this server makes no PDF", hint="print the page instead")
    walks = walks_of(request)
    events = await request.app.state.wait(walks.events, request.path_params["name"])
    data: bytes = await request.app.state.typeset(_sheet, request, events)
    headers = {"Content-Disposition": 'inline; filename="walk.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)


def _sheet(request: Req, events: Any) -> bytes:
    from advisor.render.walk_pdf import render_walk

    walks_of(request).read(request.path_params["name"])
    with work_of(request).turn:
        return render_walk(events)


@reading("/outcomes")
async def what_came(request: Req) -> Response[bytes]:
    """False alarms and misses on one page."""
    page: Response[bytes] = await request.app.state.wait(_came, request)
    return page


def _came(request: Req) -> Response[bytes]:
    # first whether walks are recorded here at all: what follows needs the record's libraries
    counted, until = walks_of(request).outcomes.value()

    from advisor.render import outcomes as shown
    from advisor.render.words import rule_name

    rules = [(rule_name(rule.id), rule) for rule in counted.rules]
    sure = shown.reliability(counted)
    plot = shown.drawing([(name, rule.share) for name, rule in rules], "Share found by rule, with intervals")
    return rendered(
        request,
        "outcomes.html",
        found=counted,
        counted_at=hhmm(until),
        rules=rules,
        told=shown.told,
        # our own renderer's markup, which escapes its texts
        plot=Markup(plot),
        diagram=Markup(shown.drawing(sure, "Share found by status, with intervals")) if sure else "",
    )


HANDLERS = (begin, show, say, send_photo, photo, sheet, what_came)

"""The form: filled in, sent, shown again with everything that is wrong, and with what the last walk knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response, post

from advisor.errors import AdvisorError, ChecklistError
from advisor.quantities.units import DAY_S
from advisor.web import check, forms
from advisor.web.api import count, make, work_of
from advisor.web.fixed import reading
from advisor.web.model import KeptBrief, Problem
from advisor.web.offered import Offered, offered, taken
from advisor.web.pages import (
    HTML,
    LAST,
    THEME,
    THEMES,
    USUAL,
    brief_page,
    cookie,
    form_is_ours,
    leads_back,
    own_form,
    rendered,
)
from advisor.web.problems import Refused, problem
from advisor.web.who import OPEN, person_of
from advisor.web.work import Unkept, brief_of

Req = Request[Any, Any, Any]


@reading("/")
async def first(request: Req) -> Response[bytes]:
    """The form: for the same departure again, filled in from its brief; for a new one, with what stays the same."""
    work, since = work_of(request), request.query_params.get("again", "")
    values: dict[str, str] = {}
    filled = ""
    again: KeptBrief | None = await request.app.state.run(work.get, since) if since else None
    last = request.cookies.get(LAST, "")
    entry: KeptBrief | None = again or (await request.app.state.run(work.get, last) if last else None)
    if entry is not None:
        values = forms.values_of(entry.asked)
        filled = brief_of(entry).made_at
    else:
        values = forms.read_form(request.cookies.get(USUAL, "").encode())
    if again is None:
        wanted = forms.NEXT if entry is not None else forms.USUAL
        values = {name: value for name, value in values.items() if name in wanted}
    given = {name: value for name, value in request.query_params.items() if name in (*forms.TEXTS, "reports")}
    return form_page(request, values | given, filled=filled, since=since if again else "")


# in the order of the form: a list of what is wrong follows it
LABELS = {
    "reports": "Weather reports",
    "station": "Station",
    "feed": "Feed",
    "off_block": "Off-block",
    "place": "Where it stands",
    "aircraft": "Aircraft",
    "heading": "Nose points to",
    "parked_since": "Parked outside since",
    "seen": "Seen on the aircraft",
    "looked_at": "Looked at",
    "fuel_temperature": "Fuel temperature",
    "fuel_fill": "Fuel in the wings",
    "treated_at": "Treated against ice at",
    "walk_round": "Walk from and to",
    "doors_open": "Doors open from and to",
    "take_off": "Take-off",
    "now": "Taken as now",
}


def form_page(
    request: Req,
    values: Mapping[str, str],
    *,
    errors: Sequence[Exception] = (),
    filled: str = "",
    since: str = "",
    theme: str = "",
    offers: Offered | None = None,
) -> Response[bytes]:
    """The form with what was typed. errors: everything that is wrong with it."""
    work = work_of(request)
    problems = [problem(error) for error in errors]
    problems.sort(key=lambda one: list(LABELS).index(one.field) if one.field in LABELS else -1)
    page = rendered(
        request,
        "form.html",
        status=_status(problems),
        theme=theme,
        screen="brief",
        values=values,
        faults={one.field: one for one in reversed(problems) if one.field in LABELS},
        problems=problems,
        labels=LABELS,
        filled=filled,
        since=since,
        fleet=[(profile.id, profile.name) for profile in work.fleet.values()],
        clock=f"{work.settings.clock():%H%MZ}",
        default_aircraft=work.checklist.default_aircraft,
        feeds=work.settings.feeds if work.settings.fetch else (),
        has_pads=work.settings.pads is not None,
        records=request.app.state.walks is not None,
        offers=offers,
    )
    for error in errors:
        page.headers.update(getattr(error, "headers", {}))
    return page


def _status(problems: Sequence[Problem]) -> int:
    """Of a form's answer: what is wrong with the whole counts before what is wrong with an entry."""
    whole = [one.status for one in problems if one.status not in (400, 422)]
    return whole[0] if whole else 422 if problems else 200


# pages that show a form again with what was typed, by the name that the form carries
FORMS: dict[str, Callable[[Req, Mapping[str, str], str], Response[bytes]]] = {
    "brief": lambda request, values, theme: form_page(request, values, since=values.get("since", ""), theme=theme)
}


@post("/brief", status_code=303, request_max_body_size=forms.MOST_FORM)
async def submit(request: Req) -> Response[bytes]:
    """Make a brief from the form and go to its page; or show the form again with everything that is wrong."""
    work, values = work_of(request), forms.read_form(await request.body())
    since = values.get("since", "")
    try:
        form_is_ours(request, values.get("token"))
        count(request)
        values = taken(values)
        read = forms.read(values, work.settings.clock())
        wrong: dict[str, Exception] = dict(read.faults)
        if read.asked is not None:
            wrong = {**check.faults(read.asked, work.settings.clock(), work.checklist, work.fleet), **wrong}
        if wrong or read.asked is None:
            return form_page(request, values, errors=list(wrong.values()), since=since)
        entry = await make(request, read.asked, since or None)
    except ChecklistError:
        raise
    except Unkept as error:
        # it is given all the same, and stays at its address while the server runs
        page: Response[bytes] = await request.app.state.run(brief_page, request, error.entry, str(error))
        return page
    except (AdvisorError, msgspec.ValidationError, Refused) as error:
        return form_page(request, values, errors=[error], since=since)
    usual = urlencode([(name, values[name]) for name in forms.USUAL if values.get(name)])
    cookies = [cookie(LAST, entry.id, DAY_S), cookie(USUAL, usual, 90 * DAY_S)]
    return Response(b"", status_code=303, headers={"Location": f"/b/{entry.id}"}, cookies=cookies, media_type=HTML)


@post("/offers", status_code=200, request_max_body_size=forms.MOST_FORM)
async def known_of(request: Req) -> Response[bytes]:
    """The form as it was typed, with what the last walk of the registration knows, to be taken over or not."""
    values = forms.read_form(await request.body())
    since = values.get("since", "")
    try:
        form_is_ours(request, values.get("token"))
    except Refused as error:
        return form_page(request, values, errors=[error], since=since)
    walks = request.app.state.walks
    if walks is None:
        return form_page(request, values, since=since)
    found = await request.app.state.wait(offered, walks, work_of(request), values.get("registration", ""))
    return form_page(request, values, since=since, offers=found)


@post("/theme", status_code=303, opt={"role": OPEN}, request_max_body_size=forms.MOST_FORM)
async def theme(request: Req) -> Response[bytes]:
    """Choose light, dark, dim red, or as the device has it. What was typed into a form of ours stays in it."""
    values = await own_form(request)
    wanted, back = values.get("theme", ""), values.get("back", "/")
    if wanted not in THEMES:
        raise Refused(400, "no such theme", hint=f"choose one of {', '.join(THEMES)}")
    chosen = cookie(THEME, wanted, 365 * DAY_S)
    form = FORMS.get(values.get("screen", ""))
    if form is not None and (request.app.state.access.tokens is None or person_of(request) is not None):
        page = form(request, values, wanted)
        page.cookies.append(chosen)
        return page
    headers = {"Location": leads_back(back)}
    return Response(b"", status_code=303, headers=headers, cookies=[chosen], media_type=HTML)


HANDLERS = (first, submit, known_of, theme)

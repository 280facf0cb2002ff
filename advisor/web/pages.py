"""The pages: the form, the brief, and what is said when something is wrong."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from importlib.util import find_spec
from typing import Any
from urllib.parse import urlencode

import jinja2
import msgspec
from litestar import Request, Response, post
from litestar.datastructures import Cookie
from markupsafe import Markup

from advisor import places
from advisor.brief.model import Brief
from advisor.departure import stamp
from advisor.errors import AdvisorError, ChecklistError
from advisor.quantities.units import DAY_S
from advisor.render.changed import sentences
from advisor.render.html import render_html
from advisor.render.picture import chart, describe, stand
from advisor.render.picture import data as picture
from advisor.render.text import with_local
from advisor.web import check, forms
from advisor.web.above import above, weather_said
from advisor.web.api import count, make, work_of
from advisor.web.fixed import HERE, VERSION, reading
from advisor.web.model import Entry, Problem
from advisor.web.problems import Refused, problem
from advisor.web.store import new_id
from advisor.web.view import changed, laid_out
from advisor.web.who import OPEN, person_of, site_of
from advisor.web.work import Unkept, Work, brief_of

HTML = "text/html"
TOKEN, THEME, LAST, USUAL = "form", "theme", "last", "usual"
THEMES = ("auto", "light", "dark", "night")
_STYLE = re.compile(rb"<style[^>]*>(.*?)</style>", re.S)
Req = Request[Any, Any, Any]


@lru_cache(maxsize=1)
def _templates() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.globals["version"] = VERSION
    return made


def _cookie(name: str, value: str, max_age: int) -> Cookie:
    return Cookie(key=name, value=value, max_age=max_age, httponly=True, samesite="lax", path="/")


def rendered(
    request: Req,
    template: str,
    *,
    status: int = 200,
    cookies: list[Cookie] | None = None,
    theme: str = "",
    screen: str = "",
    **said: Any,
) -> Response[bytes]:
    """A page of a template, with a form's token and the colours chosen.

    theme: chosen with this very request; screen: the form in FORMS whose entries a change of colours must not lose.
    """
    theme = theme or request.cookies.get(THEME, "auto")
    token = request.cookies.get(TOKEN)
    cookies = list(cookies or [])
    if not token:
        token = forms.new_token()
        cookies.append(_cookie(TOKEN, token, 30 * DAY_S))
    chosen = theme if theme in THEMES else "auto"
    back = _here(request)
    body = _templates().get_template(template).render(theme=chosen, token=token, back=back, screen=screen, **said)
    return Response(body.encode("utf-8"), status_code=status, media_type=HTML, cookies=cookies)


def _here(request: Req) -> str:
    query = request.url.query
    return request.url.path + (f"?{query}" if query else "")


async def own_form(request: Req) -> dict[str, str]:
    """A form of ours; refused where it came from elsewhere."""
    values = forms.read_form(await request.body())
    form_is_ours(request, values.get("token"))
    return values


def form_is_ours(request: Req, token: str | None) -> None:
    """Refuse a form that came from elsewhere. token: as it came with the form."""
    site = request.headers.get("sec-fetch-site", "same-origin")
    origin = request.headers.get("origin")
    host = request.headers.get("host")
    foreign = origin is not None and site_of(origin) != host
    if site not in ("same-origin", "none") or foreign or not forms.tokens_match(request.cookies.get(TOKEN), token):
        hint = "allow cookies, open the page again and send it once more"
        raise Refused(403, "this form did not come from this page", hint=hint)


@reading("/")
async def first(request: Req) -> Response[bytes]:
    """The form: for the same departure again, filled in from its brief; for a new one, with what stays the same."""
    work, since = work_of(request), request.query_params.get("again", "")
    values: dict[str, str] = {}
    filled = ""
    again: Entry | None = await request.app.state.run(work.get, since) if since else None
    last = request.cookies.get(LAST, "")
    entry: Entry | None = again or (await request.app.state.run(work.get, last) if last else None)
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
) -> Response[bytes]:
    """The form with what was typed. errors: everything that is wrong with it."""
    work = work_of(request)
    found = [problem(error) for error in errors]
    found.sort(key=lambda one: list(LABELS).index(one.field) if one.field in LABELS else -1)
    page = rendered(
        request,
        "form.html",
        status=_status(found),
        theme=theme,
        screen="brief",
        values=values,
        faults={one.field: one for one in reversed(found) if one.field in LABELS},
        problems=found,
        labels=LABELS,
        filled=filled,
        since=since,
        fleet=[(profile.id, profile.name) for profile in work.fleet.values()],
        clock=f"{work.settings.clock():%H%MZ}",
        default_aircraft=work.checklist.default_aircraft,
        feeds=work.settings.feeds if work.settings.fetch else (),
        has_pads=work.settings.pads is not None,
    )
    for error in errors:
        page.headers.update(getattr(error, "headers", {}))
    return page


def _status(found: Sequence[Problem]) -> int:
    """Of a form's answer: what is wrong with the whole counts before what is wrong with an entry."""
    whole = [one.status for one in found if one.status not in (400, 422)]
    return whole[0] if whole else 422 if found else 200


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
        page: Response[bytes] = await request.app.state.run(_brief_page, request, error.entry, str(error))
        return page
    except (AdvisorError, msgspec.ValidationError, Refused) as error:
        return form_page(request, values, errors=[error], since=since)
    usual = urlencode([(name, values[name]) for name in forms.USUAL if values.get(name)])
    cookies = [_cookie(LAST, entry.id, DAY_S), _cookie(USUAL, usual, 90 * DAY_S)]
    return Response(b"", status_code=303, headers={"Location": f"/b/{entry.id}"}, cookies=cookies, media_type=HTML)


async def _entry(request: Req) -> Entry:
    """The brief of an address, after a look for newer reports where that is due."""
    work, state = work_of(request), request.app.state
    entry: Entry | None = await state.run(work.get, request.path_params["name"])
    if entry is None:
        raise Refused(404, "there is no such brief here", hint="briefs are kept for a day; make a new one")
    if work.is_due(entry):
        entry = await state.wait(work.renew, entry)
    return entry


@reading("/b/{name:str}")
async def show(request: Req) -> Response[bytes]:
    """A brief. Newer reports make a newer brief beside it, with what changed; this one stays as it is."""
    entry = await _entry(request)
    page: Response[bytes] = await request.app.state.run(_brief_page, request, entry)
    return page


def _brief_page(request: Req, entry: Entry, unkept: str = "") -> Response[bytes]:
    work = work_of(request)
    brief = brief_of(entry)
    before = work.get(entry.since) if entry.since else None
    newer = work.latest(entry) if entry.newer else None
    with work.turn:
        view = _view(work, entry, brief)
        said = laid_out(brief, view, brief_of(before) if before else None)
        return rendered(
            request,
            "brief.html",
            status=507 if unkept else 200,
            unkept=unkept,
            entry=entry,
            newer=_newer(work, brief, newer),
            above=above(entry, brief, places.look_up),
            # for the script, which counts on from there by its own clock's steps; a brief of another time stands still
            now=view if entry.live else "",
            watched=_watched(work, entry),
            has_pdf=has_pdf(),
            records=work.settings.database is not None,
            key=new_id(),
            **_drawn(brief),
            **said,
        )


def _watched(work: Work, entry: Entry) -> bool:
    return bool(work.settings.fetch and entry.live and entry.asked.station and not entry.newer)


def _newer(work: Work, brief: Brief, newer: Entry | None) -> dict[str, Any] | None:
    """The newest brief after this one: what the weather is by it, and what changed."""
    if newer is None:
        return None
    after = brief_of(newer)
    return {
        "id": newer.id,
        "made": with_local(after.made_at, after),
        "changes": changed(brief, after),
        "weather": weather_said(after),
    }


def _view(work: Work, entry: Entry, brief: Brief) -> str:
    """When somebody looks; a brief made for another time than the clock's keeps its own."""
    return (stamp(work.unix()) or brief.now) if entry.live else brief.now


def _drawn(brief: Brief) -> dict[str, Any]:
    """The drawings and the table of the same numbers. The markup is our own renderer's, which escapes its texts."""
    line = picture.timeline(brief)
    made = chart.timeline_svg(line), chart.stand_svg(stand.stand(brief))
    return {"drawings": tuple(Markup(one) for one in made), "table": describe.table(line)}


@reading("/b/{name:str}/sheet")
async def sheet(request: Req) -> Response[bytes]:
    """The sheet to take along, as a page to print or keep."""
    entry = await _entry(request)
    page: bytes = await request.app.state.run(_drawn_sheet, work_of(request), entry, "html")
    return standing_alone(request, page)


def standing_alone(request: Req, page: bytes) -> Response[bytes]:
    """A file that carries its own style, in the colours chosen: only that very style is let through."""
    chosen = request.cookies.get(THEME, "")
    if chosen in THEMES:
        page = page.replace(b'<html lang="en">', b'<html lang="en" data-theme="%s">' % chosen.encode(), 1)
    styles = " ".join(_hashed(style) for style in _STYLE.findall(page))
    policy = f"default-src 'none'; style-src {styles}; base-uri 'none'; frame-ancestors 'none'"
    return Response(page, media_type=HTML, headers={"Content-Security-Policy": policy})


@reading("/b/{name:str}/sheet.pdf")
async def sheet_pdf(request: Req) -> Response[bytes]:
    """The sheet as PDF, where the extra for it is installed."""
    entry = await _entry(request)
    if not has_pdf():
        raise Refused(404, "this server makes no PDF", hint="print the sheet instead")
    data: bytes = await request.app.state.typeset(_drawn_sheet, work_of(request), entry, "pdf")
    headers = {"Content-Disposition": 'inline; filename="walk-round.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)


def _drawn_sheet(work: Work, entry: Entry, form: str) -> bytes:
    brief, earlier = brief_of(entry), work.get(entry.since) if entry.since else None
    before = brief_of(earlier) if earlier else None
    with work.turn:
        if form == "pdf":
            from advisor.render.pdf import render_pdf

            return render_pdf(brief, before=before)
        return render_html(brief, before=before).encode("utf-8")


def _hashed(style: bytes) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(style).digest()).decode()}'"


@lru_cache(maxsize=1)
def has_pdf() -> bool:
    """Whether the extra that makes PDF is installed."""
    return find_spec("typst") is not None


@reading("/b/{name:str}/newer")
async def look(request: Req) -> Response[bytes]:
    """For the script: the id of the newest brief after it, or nothing; and what changed, a sentence a must-line."""
    entry = await _entry(request)
    found: dict[str, Any] = {"newer": entry.newer}
    if entry.newer:
        found["said"] = await request.app.state.run(_since, work_of(request), entry)
    return Response(msgspec.json.encode(found), media_type="application/json")


def _since(work: Work, entry: Entry) -> tuple[str, ...]:
    return sentences(brief_of(entry), brief_of(work.latest(entry)))


@post("/theme", status_code=303, opt={"role": OPEN}, request_max_body_size=forms.MOST_FORM)
async def theme(request: Req) -> Response[bytes]:
    """Choose light, dark, dim red, or as the device has it. What was typed into a form of ours stays in it."""
    values = await own_form(request)
    wanted, back = values.get("theme", ""), values.get("back", "/")
    if wanted not in THEMES:
        raise Refused(400, "no such theme", hint=f"choose one of {', '.join(THEMES)}")
    cookie = _cookie(THEME, wanted, 365 * DAY_S)
    form = FORMS.get(values.get("screen", ""))
    if form is not None and (request.app.state.access.tokens is None or person_of(request) is not None):
        page = form(request, values, wanted)
        page.cookies.append(cookie)
        return page
    headers = {"Location": leads_back(back)}
    return Response(b"", status_code=303, headers=headers, cookies=[cookie], media_type=HTML)


def leads_back(back: str) -> str:
    """Where a form leads back to: a path of ours, never one that a browser takes for another site."""
    if not back.startswith("/") or back[1:2] in ("/", "\\") or not all("!" <= letter <= "~" for letter in back):
        return "/"
    return back


def problem_page(request: Req, found: Problem) -> Response[bytes]:
    """What is wrong, as a page; where it is not known who asks, the token form."""
    if found.status == 401:
        leads = _here(request) if request.method == "GET" else "/"
        return rendered(request, "enter.html", status=401, fault="", leads=leads, person=None)
    return rendered(request, "problem.html", status=found.status, fault=found)


HANDLERS = (first, submit, show, sheet, sheet_pdf, look, theme)

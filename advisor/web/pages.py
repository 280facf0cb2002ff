"""The pages: how one is made, the brief, and what is said when something is wrong."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode
from functools import lru_cache
from importlib.util import find_spec
from typing import Any
from urllib.parse import urlencode

import jinja2
import msgspec
from litestar import Request, Response
from litestar.datastructures import Cookie
from markupsafe import Markup

from advisor import places
from advisor.brief.model import Brief
from advisor.departure import stamp
from advisor.quantities.units import DAY_S
from advisor.render.changed import sentences
from advisor.render.html import render_html
from advisor.render.picture import chart, describe, stand
from advisor.render.picture import data as picture
from advisor.render.text import with_local
from advisor.web import forms
from advisor.web.above import above, weather_said
from advisor.web.api import work_of
from advisor.web.fixed import HERE, VERSION, reading
from advisor.web.model import KeptBrief, Problem
from advisor.web.problems import Refused
from advisor.web.store import new_id
from advisor.web.view import changed, laid_out
from advisor.web.who import site_of, typed_of
from advisor.web.work import Work, brief_of

HTML = "text/html"
TOKEN, THEME, LAST, USUAL = "form", "theme", "last", "usual"
THEMES = ("auto", "light", "dark", "night")
_STYLE = re.compile(rb"<style[^>]*>(.*?)</style>", re.S)
Req = Request[Any, Any, Any]


@lru_cache(maxsize=1)
def _templates() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals["version"] = VERSION
    return environment


def cookie(name: str, value: str, max_age: int) -> Cookie:
    """A cookie of ours. max_age: seconds."""
    return Cookie(key=name, value=value, max_age=max_age, httponly=True, samesite="lax", path="/")


def rendered(
    request: Req,
    template: str,
    *,
    status: int = 200,
    cookies: list[Cookie] | None = None,
    theme: str = "",
    screen: str = "",
    **context: Any,
) -> Response[bytes]:
    """A page of a template, with a form's token and the colours chosen.

    theme: chosen with this very request; screen: the form in FORMS whose entries a change of colours must not lose.
    """
    theme = theme or request.cookies.get(THEME, "auto")
    token = request.cookies.get(TOKEN)
    cookies = list(cookies or [])
    if not token:
        token = forms.new_token()
        cookies.append(cookie(TOKEN, token, 30 * DAY_S))
    chosen = theme if theme in THEMES else "auto"
    back = _here(request)
    body = _templates().get_template(template).render(theme=chosen, token=token, back=back, screen=screen, **context)
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


async def _entry(request: Req) -> KeptBrief:
    """The brief of an address, after a look for newer reports where that is due."""
    work, state = work_of(request), request.app.state
    entry: KeptBrief | None = await state.run(work.get, request.path_params["name"])
    if entry is None:
        raise Refused(404, "there is no such brief here", hint="briefs are kept for a day; make a new one")
    if work.is_due(entry):
        entry = await state.wait(work.renew, entry)
    return entry


@reading("/b/{name:str}")
async def show(request: Req) -> Response[bytes]:
    """A brief. Newer reports make a newer brief beside it, with what changed; this one stays as it is."""
    entry = await _entry(request)
    page: Response[bytes] = await request.app.state.run(brief_page, request, entry)
    return page


def brief_page(request: Req, entry: KeptBrief, unkept: str = "") -> Response[bytes]:
    """The page of a brief. Blocking: it computes. unkept: why it could not be kept."""
    work = work_of(request)
    brief = brief_of(entry)
    before = work.get(entry.since) if entry.since else None
    newer = work.latest(entry) if entry.newer else None
    with work.turn:
        view = _view(work, entry, brief)
        context = laid_out(brief, view, brief_of(before) if before else None)
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
            **context,
        )


def _watched(work: Work, entry: KeptBrief) -> bool:
    return bool(work.settings.fetch and entry.live and entry.asked.station and not entry.newer)


def _newer(work: Work, brief: Brief, newer: KeptBrief | None) -> dict[str, Any] | None:
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


def _view(work: Work, entry: KeptBrief, brief: Brief) -> str:
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


def _drawn_sheet(work: Work, entry: KeptBrief, form: str) -> bytes:
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
    answer: dict[str, Any] = {"newer": entry.newer}
    if entry.newer:
        answer["said"] = await request.app.state.run(_since, work_of(request), entry)
    return Response(msgspec.json.encode(answer), media_type="application/json")


def _since(work: Work, entry: KeptBrief) -> tuple[str, ...]:
    return sentences(brief_of(entry), brief_of(work.latest(entry)))


def leads_back(back: str) -> str:
    """Where a form leads back to: a path of ours, never one that a browser takes for another site."""
    if not back.startswith("/") or back[1:2] in ("/", "\\") or not all("!" <= letter <= "~" for letter in back):
        return "/"
    return back


def _ours(request: Req, sent: dict[str, str]) -> dict[str, str]:
    """What was typed into a form of ours, without its token; nothing where the form came from elsewhere."""
    try:
        form_is_ours(request, sent.get("token"))
    except Refused:
        return {}
    return {name: value for name, value in sent.items() if name != "token" and value}


def problem_page(request: Req, fault: Problem) -> Response[bytes]:
    """What is wrong, as a page; where it is not known who asks, the token form."""
    if fault.status == 401:
        leads = _here(request) if request.method == "GET" else "/"
        sent = _ours(request, typed_of(request))
        action = request.url.path if sent else ""
        return rendered(
            request, "enter.html", status=401, fault="", leads=leads, person=None, sent=urlencode(sent), action=action
        )
    return rendered(request, "problem.html", status=fault.status, fault=fault)


HANDLERS = (show, sheet, sheet_pdf, look)

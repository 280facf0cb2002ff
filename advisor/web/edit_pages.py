"""The pages to edit a folder of rules with. They are there only where the server was started with --edit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, quote

from litestar import Request, Response, post

from advisor.checklist.toml.edit import ChangedError
from advisor.conditions import PHASES
from advisor.errors import AdvisorError, ChecklistError
from advisor.web import edit, forms
from advisor.web.api import work_of
from advisor.web.fixed import reading
from advisor.web.pages import form_is_ours, rendered
from advisor.web.problems import Refused
from advisor.web.work import Work

# writes on this machine alone; with tokens it takes the role that may edit
_ROLE = {"role": "edit"}
# on which reports a draft is tried
_ASKED = ("station", "feed", "place", "aircraft", "reports")
PHASE_WORDS = {
    "parked": "parked, now to the walk",
    "walk_round": "walk-round",
    "doors_open": "doors open",
    "off_block": "before off-block",
    "take_off": "off-block to take-off",
}
Req = Request[Any, Any, Any]


def _folder(request: Req) -> Path:
    folder = work_of(request).settings.edit
    if folder is None:
        raise Refused(404, "this server edits nothing", hint="whoever runs it: advisor serve --edit DIR")
    return folder


@reading("/edit", opt=_ROLE)
async def rules(request: Req) -> Response[bytes]:
    """The rules of the folder, by file."""
    folder = _folder(request)
    listed = await request.app.state.run(_given, edit.listed, folder)
    return rendered(request, "edit.html", listed=listed, saved=request.query_params.get("saved", ""), quote=quote)


@reading("/edit/{file:str}/{rule:str}", opt=_ROLE)
async def rule(request: Req) -> Response[bytes]:
    """One rule, as it is saved."""
    folder, file, name = _folder(request), request.path_params["file"], request.path_params["rule"]
    opened, written = await request.app.state.run(_given, edit.found, folder, file, name)
    usual = forms.read_form(request.cookies.get("usual", "").encode())
    asked = {name: usual.get(name, "") for name in _ASKED}
    return _page(request, edit.as_saved(opened, written), asked, opened.digest)


@post("/edit/{file:str}/{rule:str}", status_code=200, opt=_ROLE)
async def change(request: Req) -> Response[bytes]:
    """Try the draft, add a comparison to its condition, or save it."""
    folder, file, name = _folder(request), request.path_params["file"], request.path_params["rule"]
    form = _form(await request.body())
    form_is_ours(request, form.get("token", ("",))[-1])
    opened, written = await request.app.state.run(_given, edit.found, folder, file, name)
    draft = edit.drafted(opened, written, form)
    asked = {field: form.get(field, ("",))[-1].strip() for field in _ASKED}
    digest = form.get("digest", ("",))[-1]
    if "save" in form.get("do", ()):
        try:
            await request.app.state.wait(edit.saved, folder, draft, digest)
        except ChangedError as error:
            return _page(request, draft, asked, digest, status=409, faults=(str(error),))
        except ChecklistError as error:
            faults = tuple(one.replace(f"{folder}/", "") for one in (error.faults or (str(error),)))
            return _page(request, draft, asked, digest, status=422, faults=faults)
        where = f"/edit?saved={quote(name)}"
        return Response(b"", status_code=303, headers={"Location": where}, media_type="text/html")
    try:
        reports = await request.app.state.wait(_reports, work_of(request), asked)
        unread = ""
    except AdvisorError as error:
        reports, unread = (), str(error)
    draft = await request.app.state.run(edit.tried, folder, draft, reports, asked["place"], asked["aircraft"])
    return _page(request, draft, asked, digest, faults=draft.faults, unread=unread or draft.unread)


def _given(function: Any, *args: Any) -> Any:
    """What a function of the folder gives; what is not there is not found."""
    try:
        return function(*args)
    except ChecklistError as error:
        raise Refused(404, str(error)) from None


def _form(body: bytes) -> dict[str, list[str]]:
    """Every value of each field of a form sent urlencoded."""
    try:
        return parse_qs(body.decode("utf-8"), keep_blank_values=True, max_num_fields=80)
    except ValueError:
        return {}


def _reports(work: Work, asked: Mapping[str, str]) -> Sequence[Any]:
    """The reports to try: those given, else those that the feed has of the station."""
    texts: Sequence[str] = [asked["reports"]] if asked["reports"] else ()
    fetch = work.settings.fetch
    if not texts and asked["station"] and fetch is not None:
        texts, _ = fetch(asked["station"].upper(), asked.get("feed") or work.settings.feeds[0])
    return edit.reports_of(texts, work.settings.clock())


def _page(
    request: Req,
    draft: edit.Draft,
    asked: Mapping[str, str],
    digest: str,
    *,
    status: int = 200,
    faults: Sequence[str] = (),
    unread: str = "",
) -> Response[bytes]:
    work = work_of(request)
    fleet, usual = edit.fleet(_folder(request))
    return rendered(
        request,
        "edit_rule.html",
        status=status,
        draft=draft,
        asked=asked,
        digest=digest,
        faults=tuple(faults),
        unread=unread,
        phases=[(phase, PHASE_WORDS[phase]) for phase in PHASES],
        terms=edit.terms(),
        signs=edit.SIGNS,
        fleet=fleet,
        usual=usual,
        feeds=work.settings.feeds if work.settings.fetch else (),
        changed=status == 409,
        quote=quote,
    )


HANDLERS = (rules, rule, change)

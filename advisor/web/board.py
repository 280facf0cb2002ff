"""De-icing slots on the server: a form for a schedule and reports, and the board of the plan at its own address."""

from __future__ import annotations

import logging
import re
import tempfile
import threading
import time
import zlib
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
from litestar import MediaType, Request, Response, post

from advisor.departure import read_moment
from advisor.errors import AdvisorError, ChecklistError, DepartureError, ReportError
from advisor.render.words import clock
from advisor.slots.files import actuals
from advisor.slots.files.schedule import COLUMNS, NEEDED
from advisor.web import typed
from advisor.web.api import count, work_of
from advisor.web.fixed import reading
from advisor.web.folder import FolderBytes
from advisor.web.form_pages import FORMS
from advisor.web.forms import MOST_FORM, MOST_TEXT, place, read_form, too_long
from advisor.web.model import PlanAsked
from advisor.web.pages import HTML, form_is_ours, rendered, standing_alone
from advisor.web.problems import Refused, problem
from advisor.web.store import ByteStore, new_id
from advisor.web.work import News, Work

if TYPE_CHECKING:
    from advisor.slots.demand import Need
    from advisor.slots.night import Night

MOST_BYTES, MOST_FILE_BYTES = 32_000_000, 500_000_000
MAGIC = b"advisor-plan/1 "
# of the time, for the solver at least
LEAST_PART = 0.3
MOST_FAULTS = 20
MOST_NEWS = 5
FIELDS = ("schedule", "reports", "actuals", "place", "now")
_log = logging.getLogger("advisor.web")
_OPTION = re.compile(r"(?<!\S)--(?=[a-z])")
Req = Request[Any, Any, Any]


class Board(msgspec.Struct, frozen=True):
    """A board as it is kept. page: HTML; values: the form's fields that it was made from; plan: JSON of plan/1."""

    page: str
    values: dict[str, str]
    plan: msgspec.Raw


_decoder = msgspec.json.Decoder(Board)
_plan_decoder = msgspec.json.Decoder(PlanAsked)


class Boards:
    """Makes and keeps boards, one at a time. Plain blocking calls; the handlers put them on threads."""

    def __init__(self, work: Work) -> None:
        self._work, self._turn = work, threading.Lock()
        # in memory where there is no folder, or no room on its disk
        self._spare = ByteStore(work.unix, MOST_BYTES)
        data = work.settings.data
        self._kept = None if data is None else FolderBytes(data / "plans", work.unix, MOST_FILE_BYTES, MAGIC)
        # JSON of the plan that is being made, by whoever has the turn
        self._plan = msgspec.Raw(b"null")

    def make(self, values: Mapping[str, str]) -> str:
        """The id of a board made from a form's fields.

        Raises AdvisorError for what is wrong in them or in the pads, Refused where another is being made.
        """
        if not self._turn.acquire(blocking=False):
            wait = max(1, round(self._work.settings.plan_seconds))
            raise Refused(
                503,
                "busy: another plan is being made",
                hint=f"nothing is lost; send it again in {wait} s",
                headers={"Retry-After": str(wait)},
            )
        try:
            name = new_id()
            self._plan = msgspec.Raw(b"null")
            board = Board(self._page(values, name), {field: values.get(field, "") for field in FIELDS}, self._plan)
        finally:
            self._turn.release()
        self._keep(name, zlib.compress(msgspec.json.encode(board), 1))
        return name

    def _keep(self, name: str, data: bytes) -> None:
        if self._kept is not None:
            try:
                self._kept.put(name, self._work.unix(), data)
                return
            except OSError as error:
                _log.error("a plan was not kept on the disk: %s", error.strerror)
        self._spare.put(name, self._work.unix(), data)

    def get(self, name: str) -> Board | None:
        """The board of an id; None where there is none, its file is spoilt, or its day is over."""
        data = (self._kept.get(name) if self._kept is not None else None) or self._spare.get(name)
        try:
            return None if data is None else _decoder.decode(zlib.decompress(data))
        except (zlib.error, msgspec.MsgspecError):
            return None

    def _page(self, values: Mapping[str, str], name: str) -> str:
        """The board; the plan itself is left for whoever has the turn."""
        try:
            from advisor.slots.inputs import read_night
            from advisor.slots.plan import Effort, make
        except ModuleNotFoundError as error:
            hint = "whoever runs it: pip install 'advisor[slots]'"
            raise Refused(501, f"{error.name} is not installed on this server", hint=hint) from None
        from advisor.render.slots.board import board

        settings = self._work.settings
        assert settings.pads is not None
        now = settings.clock() if not values.get("now") else read_moment(values["now"], what="now")
        if not values.get("reports"):
            raise ReportError("no report was given", where="reports", hint="give a METAR, and a TAF for the night")
        with tempfile.TemporaryDirectory(prefix="advisor-") as folder:
            schedule = Path(folder) / "schedule"
            schedule.write_text(values.get("schedule", ""), encoding="utf-8", errors="replace")
            happened = Path(folder) / "actuals"
            if values.get("actuals", "").strip():
                happened.write_text(values["actuals"], encoding="utf-8", errors="replace")
            try:
                night = read_night(
                    schedule,
                    [values["reports"]],
                    now=int(now.timestamp()),
                    pads_file=settings.pads,
                    place=values.get("place") or None,
                    checklist=settings.checklist,
                    happened=happened if happened.exists() else None,
                    inside=True,
                )
            except AdvisorError as error:
                raise _named(error, Path(folder), settings.pads.parent, settings.checklist) from None
        deadline = time.monotonic() + settings.plan_seconds
        needs = _needs(night, deadline)
        seconds = max(LEAST_PART * settings.plan_seconds, deadline - time.monotonic())
        plan = make(night, Effort(seconds, time.monotonic), needs=needs)
        links = (
            (f"/slots?again={name}", "Plan again"),
            (f"/slots/{name}/wall", "For the wall"),
            ("/slots", "New plan"),
            ("/", "Brief for one aircraft"),
        )
        self._plan = msgspec.Raw(msgspec.json.encode(plan))
        return board(plan, links)


def _needs(night: Night, deadline: float) -> tuple[Need, ...]:
    """What each departure needs, a departure at a time, so that a schedule too varied can be turned down in time."""
    from advisor.slots import demand

    nights = demand.Nights(night.weather, demand.last_moment(night.rows, night.weather.now))
    needs: list[Need] = []
    for row in night.rows:
        if time.monotonic() > deadline:
            what = f"too much for this server: {len(needs)} of {len(night.rows)} departures were looked at in its time"
            hint = "plan fewer at once, or give fewer different fuel temperatures and hours parked"
            raise DepartureError(what, where="schedule", hint=hint)
        needs += demand.needs((row,), night.fleet, night.checklist, nights, night.pads)
    return tuple(needs)


def _named(error: AdvisorError, *folders: Path | None) -> AdvisorError:
    """The same error with files by their names: where they lie on the server is nobody's business."""

    def short(text: str) -> str:
        for folder in folders:
            if folder is not None and folder != Path():
                text = text.replace(f"{folder}/", "")
        return text

    if isinstance(error, ChecklistError):
        faults = tuple(short(fault) for fault in error.faults)
        return ChecklistError(short(error.what), where=short(error.where), hint=error.hint, faults=faults)
    return type(error)(short(error.what), where=short(error.where), hint=error.hint)


def _faults(error: Exception) -> tuple[int, str | None, list[str]]:
    """Status, field at fault and lines to show."""
    field: str | None
    if isinstance(error, ChecklistError):
        lines, status, field = str(error).splitlines(), 500, None
    elif isinstance(error, AdvisorError) and (error.where or error.what).startswith(("schedule", "actuals")):
        field = "actuals" if (error.where or error.what).startswith("actuals") else "schedule"
        lines, status = str(error).splitlines(), 422
    else:
        found = problem(error)
        status, field = found.status, found.field
        lines = [f"{found.detail}; {found.hint}" if found.hint else found.detail]
    # the form has no options, only fields
    lines = [_OPTION.sub("", line) for line in lines]
    if len(lines) > MOST_FAULTS + 1:
        lines[MOST_FAULTS:] = [f"and {len(lines) - MOST_FAULTS} more"]
    return status, field if field in FIELDS else None, lines


def boards_of(request: Req) -> Boards:
    """The boards. Refused where this server plans no slots."""
    boards: Boards = request.app.state.boards
    if work_of(request).settings.pads is None:
        raise Refused(404, "this server plans no slots", hint="whoever runs it: advisor serve --pads FILE.toml")
    return boards


def _form_page(
    request: Req, values: Mapping[str, str], error: Exception | None = None, theme: str = ""
) -> Response[bytes]:
    work, settings = work_of(request), work_of(request).settings
    status, field, lines = (200, None, []) if error is None else _faults(error)
    page = rendered(
        request,
        "slots.html",
        status=status,
        theme=theme,
        screen="slots",
        values=values,
        field=field,
        lines=lines,
        clock=f"{settings.clock():%H%MZ}",
        seconds=round(settings.plan_seconds),
        columns=COLUMNS,
        needed=NEEDED,
        happened=actuals.COLUMNS,
        fleet=[(profile.id, profile.name) for profile in work.fleet.values()],
    )
    page.headers.update(getattr(error, "headers", {}))
    return page


def _again(request: Req, values: Mapping[str, str], theme: str) -> Response[bytes]:
    boards_of(request)
    return _form_page(request, values, theme=theme)


FORMS["slots"] = _again


@reading("/slots")
async def ask(request: Req) -> Response[bytes]:
    """The form, filled in from the plan that is made again."""
    boards = boards_of(request)
    again = request.query_params.get("again", "")
    before = await request.app.state.run(boards.get, again) if again else None
    return _form_page(request, before.values if before else {})


@post("/slots", status_code=303, request_max_body_size=MOST_FORM)
async def submit(request: Req) -> Response[bytes]:
    """Plan and go to the board; or show the form again with what is wrong."""
    boards = boards_of(request)
    values = read_form(await request.body())
    try:
        form_is_ours(request, values.get("token"))
        for field in FIELDS:
            if len(values.get(field, "")) > MOST_TEXT:
                raise too_long(field, values[field], MOST_TEXT, 413)
        count(request)
        # not among the threads that make briefs: those go on meanwhile
        name = await request.app.state.wait(boards.make, _plain(values, work_of(request)))
    except (AdvisorError, Refused) as error:
        return _form_page(request, values, error)
    return Response(b"", status_code=303, headers={"Location": f"/slots/{name}"}, media_type=HTML)


def _plain(values: Mapping[str, str], work: Work) -> dict[str, str]:
    """The same fields with place and time as the reader takes them."""
    now = values.get("now", "")
    read = typed.present(now, work.settings.clock()) if now else ""
    return {**values, "place": place(values.get("place", "")), "now": read}


@reading("/slots/{name:str}")
async def show(request: Req) -> Response[bytes]:
    """A board made within the last day."""
    board = await request.app.state.run(boards_of(request).get, request.path_params["name"])
    if board is None:
        raise Refused(404, "there is no such board here", hint="boards are kept for a day; plan again")
    return standing_alone(request, _with_news(board.page, work_of(request).news()).encode("utf-8"))


def _with_news(page: str, news: Sequence[News]) -> str:
    """A board as it was made, with what has changed since in departures that are watched."""
    rows = [f"<p>{escape(f'{clock(one.at)} {one.departure}: {one.said}')}</p>" for one in news[:MOST_NEWS]]
    said = f'<main>\n<div class="said" role="status">{"".join(rows)}</div>' if rows else "<main>"
    return page.replace("<main>", said, 1)


@post("/api/slots", status_code=201)
async def plan_slots(request: Req) -> Response[bytes]:
    """A plan of de-icing slots from a schedule and reports."""
    if request.content_type[0] != "application/json":
        raise Refused(415, "the body is not JSON", hint="send Content-Type: application/json")
    boards, data = boards_of(request), await request.body()
    count(request)
    asked = _plan_decoder.decode(data)
    values = {
        "schedule": asked.schedule,
        "reports": "\n".join(asked.reports),
        "place": asked.place or "",
        "now": asked.now or "",
    }
    try:
        name = await request.app.state.wait(boards.make, values)
        board = await request.app.state.run(boards.get, name)
    except ChecklistError as error:
        # the schedule is read like a checklist's file; what is wrong in the server's own files is the server's fault
        status, field, lines = _faults(error)
        if error.where.startswith("schedule") or all(line.startswith("schedule") for line in lines):
            status, field = 422, "schedule"
        raise Refused(status, "; ".join(lines), field=field, hint="mend it and send it again") from None
    except AdvisorError as error:
        status, field, lines = _faults(error)
        raise Refused(status, lines[0], field=field) from None
    headers = {"Location": f"/api/slots/{name}", "Link": f'</slots/{name}>; rel="alternate"; type="text/html"'}
    return Response(bytes(board.plan), status_code=201, media_type=MediaType.JSON, headers=headers)


@reading("/api/slots/{name:str}")
async def read_slots(request: Req) -> Response[bytes]:
    """A plan made within the last day."""
    board = await request.app.state.run(boards_of(request).get, request.path_params["name"])
    if board is None:
        raise Refused(404, "there is no such plan", hint="plans are kept for a day")
    return Response(bytes(board.plan), media_type=MediaType.JSON)


HANDLERS = (ask, submit, show, plan_slots, read_slots)

"""The server as an ASGI application."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

import anyio
import anyio.to_thread
from litestar import Litestar

from advisor.quantities.units import HOUR_S
from advisor.web import api, board, enter, fixed, form_pages, pages, walk_api, walk_pages, wall
from advisor.web.model import MOST_BODY, Settings
from advisor.web.problems import HEADERS, handle
from advisor.web.who import Access, guard
from advisor.web.work import Work

# threads for what computes, and apart from them for what waits for a feed
QUICK, WAITING = 4, 16
LOOK_EVERY_S, DROP_EVERY_S = 20.0, float(HOUR_S)
_log = logging.getLogger("advisor.web")


def create_app(settings: Settings | None = None) -> Litestar:
    """The application.

    Raises ChecklistError where the operator's folder or the token file is wrong, RecordError where the record cannot be
    opened.
    """
    app = Litestar(
        route_handlers=[
            *fixed.HANDLERS,
            *api.HANDLERS,
            *form_pages.HANDLERS,
            *pages.HANDLERS,
            *board.HANDLERS,
            *wall.HANDLERS,
            *enter.HANDLERS,
            *walk_api.HANDLERS,
            *walk_pages.HANDLERS,
            *_editing(settings),
        ],
        exception_handlers={Exception: handle},
        openapi_config=None,
        request_max_body_size=MOST_BODY,
        after_request=_headed,
        logging_config=None,
        guards=[guard],
        on_startup=[_begin],
        on_shutdown=[_close],
    )
    app.state.work = work = Work(settings or Settings())
    app.state.access = Access(work)
    app.state.problem_page = pages.problem_page
    app.state.walks = _walks(work)
    app.state.boards = board.Boards(work)
    app.state.run, app.state.wait = _runner(QUICK), _runner(WAITING)
    app.state.typeset = _alone()
    return app


def _editing(settings: Settings | None) -> tuple[Any, ...]:
    """The pages to edit with, where a folder was named for it; its library loads only then."""
    if settings is None or settings.edit is None:
        return ()
    from advisor.web import edit_pages

    return edit_pages.HANDLERS


def _walks(work: Work) -> Any:
    """The record, where walks are recorded; its libraries load only then."""
    if work.settings.database is None:
        return None
    from advisor.web.walks import Walks

    return Walks(work)


async def _begin(app: Litestar) -> None:
    """What the server does by itself: it looks again at briefs, and lets old walks go."""
    work: Work = app.state.work
    if app.state.walks is not None and app.state.walks.record.closed:
        app.state.walks = await anyio.to_thread.run_sync(_walks, work)
    jobs = []
    if work.settings.fetch is not None:
        jobs.append(_every(LOOK_EVERY_S, work.look_again))
    if app.state.walks is not None and work.settings.keep_days is not None:
        jobs.append(_every(DROP_EVERY_S, app.state.walks.drop_old))
    app.state.jobs = [asyncio.create_task(job) for job in jobs]


async def _every(seconds: float, act: Callable[[], Any]) -> None:
    while True:
        try:
            await anyio.to_thread.run_sync(act)
        except Exception:
            _log.exception("not foreseen, in what the server does by itself")
        await asyncio.sleep(seconds)


async def _close(app: Litestar) -> None:
    for job in app.state.jobs:
        job.cancel()
    if app.state.walks is not None:
        await anyio.to_thread.run_sync(app.state.walks.record.close)


def _headed(response: Any) -> Any:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    return response


def _alone() -> Callable[..., Any]:
    """A thread of its own for what sets type: each thread that ever did keeps fonts and more for itself."""
    pool = ThreadPoolExecutor(1, thread_name_prefix="typeset")

    async def run(function: Callable[..., Any], *args: Any) -> Any:
        return await asyncio.get_running_loop().run_in_executor(pool, partial(function, *args))

    return run


def _runner(threads: int) -> Callable[..., Any]:
    limiter: anyio.CapacityLimiter | None = None

    async def run(function: Callable[..., Any], *args: Any, **named: Any) -> Any:
        nonlocal limiter
        if limiter is None:
            limiter = anyio.CapacityLimiter(threads)
        return await anyio.to_thread.run_sync(partial(function, *args, **named), limiter=limiter)

    return run

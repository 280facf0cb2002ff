"""The board on the wall: who has to be called next, in large rows that are read across a room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import msgspec
from litestar import Request, Response

from advisor.departure import stamp
from advisor.render import text, words
from advisor.web.api import work_of
from advisor.web.board import boards_of
from advisor.web.fixed import reading
from advisor.web.pages import rendered
from advisor.web.problems import Refused

NEXT = 10
# changes that are shown at once
MOST_NEWS = 5
Req = Request[Any, Any, Any]


@dataclass(frozen=True)
class DepartureRow:
    """A departure. late: its call's time has passed, shown by a mark and a word too; call_at: stamp, for the script."""

    flight: str
    stand: str
    need: str
    call: str
    call_at: str
    left: str
    late: bool
    pad: str
    start: str
    off_block: str


def rows(plan: dict[str, Any], now: str) -> tuple[list[DepartureRow], int]:
    """The next ten by the latest time of their call, and how many more there are. What has left is not among them."""
    next_calls = []
    for departure in plan["departures"]:
        call = departure.get("latest_call")
        if (
            call is None
            # who has left its stand was called
            or departure.get("state")
            or departure["need"] == "not indicated"
            or max(departure["off_block"], departure.get("take_off") or "") < now
        ):
            continue
        minutes = text.minutes(now, call)
        late = minutes < 0 or bool(departure.get("call_passed"))
        next_calls.append(
            DepartureRow(
                departure["flight"],
                departure.get("stand") or "",
                departure["need"],
                words.clock(call),
                call,
                f"late by {text.duration(-minutes)}" if minutes < 0 else f"{text.duration(minutes)} left",
                late,
                departure.get("pad") or "",
                words.clock(departure.get("start")),
                words.clock(departure["off_block"]),
            )
        )
    next_calls.sort(key=lambda row: row.call_at)
    return next_calls[:NEXT], max(0, len(next_calls) - NEXT)


@reading("/slots/{name:str}/wall")
async def wall(request: Req) -> Response[bytes]:
    """The board of a plan for the wall. Without script it asks for itself anew."""
    board = await request.app.state.run(boards_of(request).get, request.path_params["name"])
    if board is None:
        raise Refused(404, "there is no such board here", hint="boards are kept for a day; plan again")
    plan = msgspec.json.decode(board.plan)
    now = stamp(work_of(request).unix()) or ""
    shown, more = rows(plan, now)
    age = text.minutes(plan["now"], now)
    return rendered(
        request,
        "wall.html",
        rows=shown,
        more=more,
        clock=words.clock(now),
        made=words.clock(plan["now"]),
        made_at=plan["now"],
        age=text.duration(age) if age >= 0 else "made for a later time",
        old=age > 30,
        news=[(words.clock(one.at), one.departure, one.said) for one in work_of(request).news()[:MOST_NEWS]],
    )


HANDLERS = (wall,)

"""A walk as its events tell it: what was found where, the treatment, the signature. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from advisor.record.chain import Event

NOTHING = "nothing seen"


class Seen(msgspec.Struct, frozen=True):
    """What was last said of a line or zone. earlier: what was said before it, the oldest first; seq: its event."""

    found: str
    note: str
    at: str
    by: str
    seq: int
    earlier: tuple[str, ...] = ()


class Walk(msgspec.Struct, frozen=True, kw_only=True):
    """A walk. opened: content of its first event; begun, ended: first and last time something was looked at."""

    id: str
    opened: dict[str, Any]
    opened_at: str
    lines: dict[str, Seen]
    zones: dict[str, Seen]
    treatment: tuple[dict[str, Any], ...]
    notes: tuple[dict[str, Any], ...]
    photos: tuple[dict[str, Any], ...]
    begun: str | None
    ended: str | None
    signed: dict[str, Any] | None

    @property
    def seen(self) -> tuple[str, ...]:
        """What was seen anywhere on it, each once; "nothing seen" is none of it."""
        told = [one.found for one in (*self.lines.values(), *self.zones.values()) if one.found != NOTHING]
        return tuple(dict.fromkeys(told))

    def last(self, *steps: str) -> dict[str, Any] | None:
        """The last treatment event of one of these steps."""
        return next((one for one in reversed(self.treatment) if one["step"] in steps), None)


def read(events: Sequence[Event]) -> Walk | None:
    """A walk from its events in order; None where the first one, which says what it is of, is not there."""
    if not events or events[0].kind != "opened" or events[0].data is None:
        return None
    first = events[0].data
    lines: dict[str, Seen] = {}
    zones: dict[str, Seen] = {}
    kept: dict[str, list[dict[str, Any]]] = {"treatment": [], "note": [], "photo": []}
    times: list[str] = []
    signed: dict[str, Any] | None = None
    for event in events[1:]:
        data = event.data or {}
        told = {**data, "seq": event.seq, "at": data.get("at") or event.at, "recorded_at": event.at}
        if event.kind == "found":
            times.append(told["at"])
            where, name = (lines, data["line"]) if data.get("line") else (zones, data.get("zone", ""))
            where[name] = _seen(where.get(name), told)
        elif event.kind == "signed":
            signed = told
        elif event.kind in kept:
            kept[event.kind].append(told)
    return Walk(
        id=first["walk"],
        opened=first,
        opened_at=first.get("at") or events[0].at,
        lines=lines,
        zones=zones,
        treatment=tuple(kept["treatment"]),
        notes=tuple(kept["note"]),
        photos=tuple(kept["photo"]),
        begun=min(times, default=None),
        ended=max(times, default=None),
        signed=signed,
    )


def listed(opened: dict[str, Any]) -> dict[str, Any]:
    """What the list of walks says of a walk, by column, from the content of the event that opens it.

    Raises KeyError or TypeError where the content is none of such an event.
    """
    return {
        "id": opened["walk"],
        "brief": opened["brief"],
        "aircraft": opened["aircraft"]["id"],
        "registration": opened.get("registration"),
        "station": opened["station"],
        "off_block": opened["off_block"],
    }


def _seen(before: Seen | None, told: dict[str, Any]) -> Seen:
    earlier = () if before is None else (*before.earlier, before.found)
    return Seen(told["found"], told.get("note", ""), told["at"], told.get("by", ""), told["seq"], earlier)


def checkpoints(opened: dict[str, Any]) -> list[dict[str, Any]]:
    """The lines that are looked at on the walk, in walking order: those of the brief whose kind is checkpoint.

    A line that could not be told is looked at like the others; what is looked at just before the start is no part of
    the walk.
    """
    return [line for line in opened.get("lines", ()) if line["kind"] == "checkpoint" and not _later(line)]


def later(opened: dict[str, Any]) -> list[dict[str, Any]]:
    """The lines that are looked at after the walk, before the start."""
    return [line for line in opened.get("lines", ()) if line["kind"] == "checkpoint" and _later(line)]


# walks that were opened before their lines named a part
_AT_START = ("pre-take-off-check",)


def _later(line: dict[str, Any]) -> bool:
    part = line.get("part")
    return line["id"] in _AT_START if part is None else part == "start"


def offers(walk: Walk) -> dict[str, str]:
    """What a walk knows that the same aircraft's next brief may be given: its inputs, and "covered" in words.

    Offered, never taken by itself. What was found and then treated is not offered as lying there still; what was found
    since is. A treatment counts from the start of its last step, as holdover does, so that what fell meanwhile counts.
    """
    offered: dict[str, str] = {}
    done = walk.last("finished", "checked")
    since = "" if done is None else done["at"]
    told = {one.found for one in (*walk.lines.values(), *walk.zones.values()) if one.at >= since}
    kinds = [kind for kind in ("ice", "snow", "frost") if kind in told]
    if kinds:
        offered["seen"] = kinds[0]
    if done is not None:
        started = walk.last("last step started")
        offered["treated_at"] = done["at"] if started is None or started["seq"] > done["seq"] else started["at"]
    if walk.signed:
        if walk.signed.get("parked_since"):
            offered["parked_since"] = walk.signed["parked_since"]
        if walk.signed.get("covered") is not None:
            offered["covered"] = "covers on" if walk.signed["covered"] else "covers off"
    return offered


def out_of_order(walk: Walk, step: str, moment: str) -> str | None:
    """Why a step of the treatment cannot be as it is told; None where it can."""
    started, finished = walk.last("last step started"), walk.last("finished")
    if step == "finished" and started is not None and moment < started["at"]:
        return f"finished at {moment} is before the last step started, {started['at']}"
    if step == "cancelled" and finished is not None and (started is None or started["at"] <= finished["at"]):
        return "the treatment is finished, it cannot be cancelled"
    return None

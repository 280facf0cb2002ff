"""A walk laid out for its page: checkpoints in walking order, the thread of the treatment, what comes next. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from advisor.record.outcomes import TREATED
from advisor.record.said import STEPS
from advisor.record.walk import Seen, Walk, checkpoints, later, offers
from advisor.render import text, words
from advisor.render.walk import name_of, step

# after this many minutes a report says little of the apron
AGED_MIN = 90
SOMETHING = ("frost", "snow", "ice", "damage", "other")


@dataclass(frozen=True)
class Checkpoint:
    """A checkpoint: a line of the brief, or a zone that somebody named. state: what was last said, "" where nothing."""

    kind: str
    id: str
    name: str
    where: str
    text: str
    status: str
    must: bool
    state: str
    found: str


@dataclass(frozen=True)
class Bar:
    """The line that stays in sight. Stamps are for the script, which counts on; late: the call's time has passed."""

    report: str
    issued: str
    aged: bool
    call: str
    call_by: str
    late: bool
    off_block: str
    off_block_at: str
    over: bool


def bar(walk: Walk, now: str) -> Bar:
    """The line that stays in sight, as at a time."""
    opened = walk.opened
    issued = [one["issued"] for one in opened["reports"] if one["kind"] != "TAF"]
    newest = max(issued, default="")
    age = text.minutes(newest, now) if newest else 0
    # the call that the treatment thread answers
    calls = [line["by"] for line in opened["lines"] if line.get("by") and line["id"] == TREATED]
    called = walk.last("asked", "confirmed", "standby") is not None
    call = min(calls, default="")
    ahead = text.minutes(now, opened["off_block"])
    return Bar(
        report=f"report {text.duration(age)} old" if newest else "no report, a forecast only",
        issued=newest,
        aged=bool(newest) and age > AGED_MIN,
        call="asked" if called else f"call by {words.moment(call, now)}" if call else "",
        call_by="" if called else call,
        late=bool(call) and not called and call < now,
        off_block=f"off-block in {text.duration(ahead)}" if ahead >= 0 else f"off-block {text.duration(-ahead)} ago",
        off_block_at=opened["off_block"],
        over=ahead < 0,
    )


def places(walk: Walk) -> list[Checkpoint]:
    """The checkpoints in walking order, then what was found elsewhere."""
    lines = checkpoints(walk.opened)
    known = {line["id"] for line in lines}
    all_checkpoints = [
        Checkpoint(
            "line",
            line["id"],
            _capital(name_of(line)),
            _zone(line["zone"]),
            line["text"],
            line["status"],
            line["weight"] == "must",
            state(walk.lines.get(line["id"])),
            _found(walk.lines.get(line["id"])),
        )
        for line in lines
    ]
    others = [("line", name, seen) for name, seen in walk.lines.items() if name not in known]
    for kind, name, seen in [*others, *(("zone", name, seen) for name, seen in walk.zones.items())]:
        shown = _zone(name).capitalize()
        all_checkpoints.append(Checkpoint(kind, name, shown, "", "", "", False, state(seen), _found(seen)))
    return all_checkpoints


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _found(seen: Seen | None) -> str:
    return "" if seen is None else seen.found


def _zone(zone: str) -> str:
    return "" if zone == "all" else zone.replace("-", " ")


def state(seen: Seen | None) -> str:
    """What was last said, in a line."""
    if seen is None:
        return ""
    before = f" (before: {', '.join(seen.earlier)})" if seen.earlier else ""
    who = f" {seen.by}" if seen.by else ""
    return f"{seen.found}{f', {seen.note}' if seen.note else ''}{before}, {words.clock(seen.at)}{who}"


def laid_out(walk: Walk, now: str) -> dict[str, Any]:
    """What the template shows."""
    opened = walk.opened
    whose = opened.get("registration") or opened["aircraft"]["name"]
    zones = [(zone, _zone(zone)) for zone in opened.get("zones", ())]
    given = offers(walk)
    return {
        "walk": walk,
        "whose": whose,
        "where": opened["place"],
        "bar": bar(walk, now),
        "places": places(walk),
        "zones": zones,
        "later": later(opened),
        "steps": STEPS,
        "something": SOMETHING,
        "thread": [step({**one, "at": words.clock(one["at"])}) for one in walk.treatment],
        "notes": [(words.clock(one["at"]), one.get("by", ""), one["text"]) for one in walk.notes],
        "looked": sum(1 for place in places(walk) if place.state),
        "called": walk.opened["by"],
        "times": (words.clock(walk.begun), words.clock(walk.ended)),
        "signed": walk.signed and (walk.signed["by"], walk.signed["role"], words.moment(walk.signed["at"], now)),
        "offered": [(name, _OFFERS[name], value) for name, value in given.items() if name in _OFFERS],
        "covered": given.get("covered", ""),
        "fingerprint": opened["fingerprint"],
    }


_OFFERS = {
    "seen": "seen on the aircraft",
    "treated_at": "treated against ice at",
    "parked_since": "parked outside since",
}

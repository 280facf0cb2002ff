"""The walk as a sheet of paper: A5, what was found, the treatment, the signature. Needs the extra `pdf`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from advisor.record.chain import Event
from advisor.record.walk import NOTHING, checkpoints, read
from advisor.render import words
from advisor.render.pdf import breakable, typeset
from advisor.render.walk import name_of, said, step


def render_walk(events: Sequence[Event]) -> bytes:
    """A walk as PDF, the same bytes for the same events. Raises AdvisorError where the extra `pdf` is missing."""
    inputs = {"data": msgspec.json.encode(breakable(sheet(events))).decode()}
    return typeset("walk.typ", inputs, events[-1].at)


def sheet(events: Sequence[Event]) -> dict[str, Any]:
    """Everything on the sheet, in reading order. events: of one walk whose content is there."""
    walk = read(events)
    assert walk is not None
    opened = walk.opened
    lines = checkpoints(opened)
    known = {line["id"] for line in lines}
    findings = [
        _row(name_of(line), line["zone"], walk.lines.get(line["id"]), line["weight"] == "must") for line in lines
    ]
    others = [(name, seen) for name, seen in walk.lines.items() if name not in known]
    findings += [_row(name.replace("-", " "), "", seen, False) for name, seen in [*others, *walk.zones.items()]]
    signed = walk.signed
    return {
        "title": opened.get("registration") or opened["aircraft"]["name"],
        "aircraft": opened["aircraft"]["name"],
        "place": opened["place"],
        "off_block": _day_and_clock(opened["off_block"]),
        "opened": f"{_day_and_clock(walk.opened_at)} by {opened['by']}",
        "looked": f"{words.clock(walk.begun)} to {words.clock(walk.ended)}" if walk.begun else "nothing looked at yet",
        "found": findings,
        "treatment": [step({**one, "at": words.clock(one["at"])}) for one in walk.treatment],
        "notes": [f"{words.clock(one['at'])} {one.get('by', '')}: {one['text']}" for one in walk.notes],
        "photos": [f"{one.get('line') or one.get('zone') or ''} {one['sha256'][:16]}".strip() for one in walk.photos],
        "signed": f"{signed['by']}, {signed['role']}, {signed['at'][:10]} {words.clock(signed['at'])}"
        if signed
        else "",
        "fingerprint": opened["fingerprint"],
        "checklist": f"{opened['checklist']['name']}, revision {opened['checklist']['revision']} "
        f"({opened['checklist']['fingerprint']})",
        "last": f"{events[-1].seq}: {events[-1].hash}",
        "walk": walk.id,
    }


def _day_and_clock(stamp: str) -> str:
    return f"{stamp[:10]} {words.clock(stamp)}"


def _row(name: str, zone: str, seen: Any, must: bool) -> dict[str, Any]:
    where = "" if zone in ("", "all") else zone.replace("-", " ")
    return {
        "name": name.capitalize(),
        "where": where,
        "said": said(seen) if seen else "not looked at",
        "found": bool(seen) and seen.found != NOTHING,
        "looked": bool(seen),
        "must": must,
    }

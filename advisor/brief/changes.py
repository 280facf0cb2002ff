"""What changed between two briefs: lines added, gone, raised, lowered. Pure; used by text, page and JSON alike."""

from __future__ import annotations

from datetime import datetime

import msgspec

from advisor.brief.model import Advice, Brief
from advisor.quantities.units import HOUR_S

_RANK = {None: 0, "cannot tell": 1, "possible": 2, "likely": 3, "expected": 4}
_DOOR_RANK = {"within": 0, "cannot tell": 1, "possible": 2, "exceeded": 3}


class Change(msgspec.Struct, frozen=True):
    """One difference. what: added, gone, raised, lowered or moved (another latest time); id: rule or door."""

    what: str
    id: str
    text: str
    before: str | None
    after: str | None


# two places closer than this are one, degrees; two off-blocks closer than this are of one night or day, hours
SAME_PLACE_DEG, SAME_DAY_H = 0.05, 12.0


def incomparable(before: Brief, after: Brief) -> str:
    """Why a brief does not follow an earlier one: of another aircraft, place or day; "" where it does."""
    if before.aircraft.id != after.aircraft.id:
        return f"of another aircraft: {before.aircraft.id}, not {after.aircraft.id}"
    apart = [
        abs(before.place.latitude_deg - after.place.latitude_deg),
        abs((before.place.longitude_deg - after.place.longitude_deg + 180) % 360 - 180),
    ]
    if max(apart) > SAME_PLACE_DEG:
        return f"of another place: {before.place.name}, not {after.place.name}"
    first, last = (datetime.fromisoformat(one.windows.off_block) for one in (before, after))
    if abs((last - first).total_seconds()) > SAME_DAY_H * HOUR_S:
        return f"of another day: off-block {before.windows.off_block}, not {after.windows.off_block}"
    return ""


def changes(before: Brief, after: Brief) -> tuple[Change, ...]:
    """Differences from one brief to a later one, graver ones first; doors as "door: NAME"."""
    old = {line.id: line for line in before.advice}
    new = {line.id: line for line in after.advice}
    differences = [change for name in {**new, **old} if (change := _line(name, old.get(name), new.get(name)))]
    old_doors = {door.door: door.status for door in before.doors}
    for door in after.doors:
        was = old_doors.get(door.door)
        if was is not None and was != door.status:
            what = "raised" if _DOOR_RANK[door.status] > _DOOR_RANK[was] else "lowered"
            differences.append(Change(what, f"door: {door.door}", f"{door.door} against the wind", was, door.status))
    lines = {**old, **new}
    return tuple(sorted(differences, key=lambda change: (_order(change), *_weight(lines.get(change.id)))))


def _weight(line: Advice | None) -> tuple[bool, bool]:
    """What stops everything comes first, then what has to be done; a door is no line."""
    return (True, True) if line is None else (not line.stop, line.weight != "must")


def _order(change: Change) -> float:
    """What came before what went; of what cannot be told now that early which was there, that late which was not."""
    if change.after == "cannot tell" and change.what != "moved":
        return 0.5 if change.before else 3.5
    return {"added": 0, "raised": 1, "moved": 2, "lowered": 3, "gone": 4}[change.what]


def _line(name: str, old: Advice | None, new: Advice | None) -> Change | None:
    line = new or old
    assert line is not None
    was, now = old.status if old else None, new.status if new else None
    if was != now:
        if was is None:
            what = "added"
        elif now is None:
            what = "gone"
        else:
            what = "raised" if _RANK[now] > _RANK[was] else "lowered"
        return Change(what, name, line.text, was, now)
    if old and new and old.weight != new.weight:
        return Change("raised" if new.weight == "must" else "lowered", name, line.text, old.weight, new.weight)
    if old and new and old.by != new.by:
        return Change("moved", name, line.text, old.by, new.by)
    return None

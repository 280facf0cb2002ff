"""How a door stands against the wind, in words: groups of doors alike, their limits, what may bring more. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from math import inf

from advisor.brief.model import Brief, DoorAdvice
from advisor.render import words

DOOR_WORDS = {
    "within": "below your profile's limit in every case",
    "possible": "may be above your profile's limit",
    "exceeded": "above your profile's limit",
    "cannot tell": "the wind is not known: look at the windsock, ask",
}


DOOR_ORDER = ("exceeded", "possible", "cannot tell", "within")


def door_groups(doors: Sequence[DoorAdvice]) -> list[tuple[str, tuple[str, str], list[DoorAdvice]]]:
    """Doors alike in both limits together, the worst first: what to call them, the two statuses, the doors."""

    def rank(door: DoorAdvice) -> tuple[int, int]:
        return DOOR_ORDER.index(door.status), DOOR_ORDER.index(door.stay_open_status)

    groups: dict[tuple[str, str], list[DoorAdvice]] = {}
    for door in sorted(doors, key=rank):
        groups.setdefault((door.status, door.stay_open_status), []).append(door)
    named_groups = []
    for states, group in groups.items():
        name = f"all {len(doors)} doors" if len(group) == len(doors) > 2 else "; ".join(door.door for door in group)
        named_groups.append((f"{name[0].upper()}{name[1:]}", states, group))
    return named_groups


BEYOND_WORDS = {
    "gust": "the gust is not known: look at the windsock, ask",
    "storm": "a storm may be near, and no report bounds its gusts: look at the sky, ask",
    "weather": "the weather by then is not known, so a storm is not ruled out: look at the sky, ask",
}


def door_said(status: str, stays: str, beyond: str = "") -> str:
    """What to make of a door by its limits for operating and for staying open. beyond: see DoorAdvice."""
    if status == "cannot tell" and beyond:
        return BEYOND_WORDS[beyond]
    if status in ("possible", "exceeded") and beyond == "storm":
        return f"{DOOR_WORDS[status]}; a storm may gust harder"
    if status != "within" or stays == "within":
        return DOOR_WORDS[status]
    above = {"possible": "may be", "cannot tell": "may be"}.get(stays, "is")
    return f"{DOOR_WORDS[status]}, but {above} above the limit for staying open"


def group_said(states: tuple[str, str], group: Sequence[DoorAdvice], brief: Brief) -> str:
    """The same of doors alike; a gust that rounds to a limit is said to be at it, and ash is no matter of the wind."""
    phrase = door_said(*states, group[0].beyond)
    if any(one.key == "volcanic-ash" for one in brief.hazards):
        phrase = f"keep shut in ash; {phrase}"
    limits = [limit for door in group for limit in (door.operate_kt, door.stay_open_kt) if limit is not None]
    worst = group[0].worst_kt
    if states == ("within", "within") and limits and worst is not None and round(worst) >= round(min(limits)):
        return "hardly below your profile's limit"
    return phrase


# a gust may be told beside a direction or a mean that is not
_GUST = re.compile(r"(?<!\S)(\d{3}|VRB|///)(P?\d{2,3}|//)G(\d{2,3}|P99|//)(KT|MPS|KMH)\b")

_BLEW = re.compile(r"(?<!\S)(?:\d{3}|VRB|///)(?:\d{2,3}|//)G(\d{2,3})KT\b|\bPK WND \d{3}(\d{2,3})/")


def gust(group: Sequence[DoorAdvice], brief: Brief | None = None) -> str:
    """Doors' wind against their limits, the lowest of each kind. brief: to say where no report told of a gust."""
    first = group[0]
    operate = _limit([door.operate_kt for door in group], [door.counted_kt for door in group])
    stay_open = _limit([door.stay_open_kt for door in group], [door.counted_stay_open_kt for door in group])
    limits_text = f"operate {operate}, stay open {stay_open}"
    if first.worst_kt is None:
        return limits_text
    direction = ""
    if first.relative_wind_deg is not None:
        direction = f" from {words.bearing(first.relative_wind_deg)}"
    told = brief is None or any(report.used and _GUST.search(report.raw) for report in brief.reports)
    worst = words.amount(first.worst_kt, 0)
    if told or brief is None:
        return f"gust to {worst} kt{direction} at {words.clock(first.at)}; {limits_text}"
    before = _blew(brief)
    if any(kt == str(worst) and _hours(issued, first.at) <= 1 for issued, kt in before):
        # what blew may blow again, and has no time of its own
        return f"{worst} kt blew within the hour before, and may again{direction}; {limits_text}"
    lead = "no gust told of by then, allowing for one" if before else "no gust reported, allowing for one"
    return f"{lead} to {worst} kt{direction} at {words.clock(first.at)}; {limits_text}"


def _blew(brief: Brief) -> list[tuple[str, str]]:
    """Gusts that reports tell of, also those that have ended: when the report was issued, kt."""
    told = ((one.issued, _BLEW.findall(one.raw)) for one in brief.reports if one.kind != "TAF")
    return [(issued, str(int(kt))) for issued, pairs in told for pair in pairs for kt in pair if kt]


def _hours(issued: str, at: str | None) -> float:
    return inf if at is None else (datetime.fromisoformat(at) - datetime.fromisoformat(issued)).total_seconds() / 3600


def _limit(limits_kt: Sequence[float | None], counted_kt: Sequence[float | None]) -> str:
    """The lowest limit of doors alike, and the lowest that counts from the side that the wind comes from."""
    known = [limit for limit in limits_kt if limit is not None]
    if not known:
        return "not given"
    counted = min((limit for limit in counted_kt if limit is not None), default=min(known))
    worse = f", from its worst side {words.amount(counted, 0)} kt" if counted < min(known) else ""
    return f"{words.amount(min(known), 0)} kt{worse}"

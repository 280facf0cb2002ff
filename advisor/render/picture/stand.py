"""The stand seen from above, as data: nose, wind, gust and doors by status. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.brief.model import Brief, DoorAdvice
from advisor.render import words

STATUS = {
    "exceeded": "above limit",
    "possible": "may be above limit",
    "cannot tell": "wind not known",
    "within": "below limit",
}
ORDER = ("exceeded", "possible", "cannot tell", "within")


@dataclass(frozen=True, slots=True)
class StandDoor:
    """One door: number and place on the plan, status, and both limits in words."""

    number: int
    name: str
    bearing_deg: float | None
    status: str
    said: str


@dataclass(frozen=True, slots=True)
class Stand:
    """What the plan view shows, at one time: the worst one of the doors' window, else the start of the walk.

    relative_deg: where the wind comes from, from the nose; None where it or the heading is not known. wings: the walk
    passes wings, so they are drawn.
    """

    at: str
    clock: str
    heading_deg: float | None
    wind_from_deg: float | None
    relative_deg: float | None
    wind: str
    gust: str
    doors: tuple[StandDoor, ...]
    wings: bool


def stand(brief: Brief) -> Stand:
    """The plan view of a brief."""
    known = [door.at for door in brief.doors if door.at is not None]
    at = known[0] if known else brief.windows.walk_round[0]
    row = next((row for row in brief.timeline if row["at"] == at), None) or next(iter(brief.timeline), {})
    heading, origin = brief.heading_deg, _central(row.get("wind_direction_deg"))
    mean = _central(row.get("wind_kt"))
    if mean == 0:
        origin = None
    relative = None
    if heading is not None and origin is not None:
        relative = (origin - heading + 180) % 360 - 180
    doors = sorted(brief.doors, key=lambda door: ORDER.index(_worse(door)))
    return Stand(
        at,
        words.moment(at, brief.now),
        heading,
        origin,
        relative,
        _band(row.get("wind_kt")),
        _band(row.get("gust_kt")),
        tuple(
            StandDoor(number, door.door, door.bearing_deg, _worse(door), _said(door))
            for number, door in enumerate(doors, 1)
        ),
        any("wing" in zone for zone in brief.walk_order),
    )


def _worse(door: DoorAdvice) -> str:
    """The worse of operating the door and of leaving it open."""
    return min(door.status, door.stay_open_status, key=ORDER.index)


def _said(door: DoorAdvice) -> str:
    counted = door.counted_kt if door.counted_kt is not None else door.operate_kt
    if _worse(door) == "cannot tell":
        return f"wind not known; limit {words.amount(counted, 0)} kt"
    if door.status == "within" and door.stay_open_status in ("possible", "exceeded"):
        lead = "may be above" if door.stay_open_status == "possible" else "above"
        return f"{lead} stay-open limit {words.amount(door.stay_open_kt, 0)} kt"
    return f"{STATUS[door.status]} {words.amount(counted, 0)} kt"


def _central(value: object) -> float | None:
    found = value.get("central") if isinstance(value, dict) else value
    return float(found) if isinstance(found, (int, float)) else None


def _band(value: object) -> str:
    if not isinstance(value, dict):
        return "not known" if value is None else f"{words.amount(_central(value), 0)} kt"
    if value["low"] is None or value["high"] is None:
        return "not known in some cases"
    low, high = words.amount(value["low"], 0), words.amount(value["high"], 0)
    return f"{low} kt" if low == high else f"{low} to {high} kt"


def sentences(plan: Stand) -> tuple[str, ...]:
    """The plan view in words, for who cannot see it."""
    nose = (
        "Nose heading not given: the worst direction counts."
        if plan.heading_deg is None
        else (f"Nose {plan.heading_deg:03.0f}° true.")
    )
    if plan.relative_deg is not None:
        origin = f", from {plan.wind_from_deg:03.0f}°, {words.bearing(plan.relative_deg)}"
    elif plan.wind_from_deg is not None:
        origin = f", from {plan.wind_from_deg:03.0f}°"
    else:
        origin = ", direction not known or variable: every direction counts"
    wind = f"At {plan.clock}: wind {plan.wind}{origin}; gust {plan.gust}."
    doors = [f"{door.number} {door.name}: {door.said}." for door in plan.doors]
    return (nose, wind, *(doors or ("The profile gives no doors.",)))

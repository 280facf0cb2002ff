"""The stand seen from above, as data: nose, wind, gust and doors by status. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from advisor.brief.model import Brief, DoorAdvice
from advisor.render import words
from advisor.render.picture.data import kind

STATUS = {
    "exceeded": "above limit",
    "possible": "may be above limit",
    "cannot tell": "not known",
    "within": "below limit",
}
ORDER = ("exceeded", "possible", "cannot tell", "within")


@dataclass(frozen=True, slots=True)
class StandDoor:
    """One door: number and place on the plan, status, and both limits in words.

    side: left, right, ahead or behind; along: from the nose (0) to the tail (1), by its name; low: below the floor, as
    cargo doors are; short: its name without its side, and its limit as it stands beside it.
    """

    number: int
    name: str
    bearing_deg: float | None
    status: str
    said: str
    side: str = "ahead"
    along: float = 0.5
    low: bool = False
    short: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class LimitSector:
    """Wind from here to there, clockwise from the nose, has a limit of its own: the lowest of any door."""

    from_deg: float
    to_deg: float
    limit_kt: float


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
    sectors: tuple[LimitSector, ...] = ()


def stand(brief: Brief) -> Stand:
    """The plan view of a brief."""
    known = [door.at for door in brief.doors if door.at is not None]
    row_time = known[0] if known else brief.windows.walk_round[0]
    row = next((row for row in brief.timeline if row["at"] == row_time), None) or next(iter(brief.timeline), {})
    heading, origin = brief.heading_deg, _central(row.get("wind_direction_deg"))
    mean = _central(row.get("wind_kt"))
    if mean == 0:
        origin = None
    relative = None
    if heading is not None and origin is not None:
        relative = (origin - heading + 180) % 360 - 180
    doors = sorted(brief.doors, key=lambda door: ORDER.index(_worse(door)))
    return Stand(
        row_time,
        words.moment(row_time, brief.now),
        heading,
        origin,
        relative,
        _band(row.get("wind_kt")),
        _band(row.get("gust_kt")),
        tuple(
            StandDoor(
                number,
                door.door,
                door.bearing_deg,
                _worse(door),
                _said(door),
                side(door.bearing_deg),
                along(door.door),
                low(door.door),
                (kind(door.door), _short(door)),
            )
            for number, door in enumerate(doors, 1)
        ),
        any("wing" in zone for zone in brief.walk_order),
        tuple(_sectors(brief.doors)),
    )


def side(bearing_deg: float | None) -> str:
    """On which side of the aircraft a bearing from the nose lies; what is not known is drawn ahead."""
    if bearing_deg is None or abs(bearing_deg) < 10:
        return "ahead"
    if abs(bearing_deg) > 170:
        return "behind"
    return "right" if bearing_deg > 0 else "left"


# how far aft a word of a door's name puts it: ahead of the wing, over it, aft of it
_ALONG = (
    (("bulk",), 0.92),
    (("front", "forward"), 0.18),
    (("rear", "aft"), 0.84),
    (("second", "mid"), 0.34),
    (("third",), 0.66),
    (("baggage",), 0.7),
)


def along(name: str) -> float:
    """How far from the nose (0) to the tail (1) a door is drawn, by its name; amidships where it does not say."""
    said = name.lower()
    place = next((place for found, place in _ALONG if any(word in said for word in found)), 0.4)
    # holds end short of the cabin doors at either end
    return place + 0.1 if low(name) and place < 0.3 else place - 0.08 if low(name) and place > 0.8 else place


def low(name: str) -> bool:
    """Whether a door leads to a hold under the floor."""
    return any(word in name.lower() for word in ("cargo", "hold", "bulk"))


def _sectors(doors: Iterable[DoorAdvice]) -> Iterator[LimitSector]:
    """Sectors in which some door has another limit, equal ones once, with the lowest limit."""
    limit_by_span: dict[tuple[float, float], float] = {}
    for door in doors:
        for sector in door.sectors:
            if sector.operate_kt is not None:
                span = sector.from_deg, sector.to_deg
                limit_by_span[span] = min(sector.operate_kt, limit_by_span.get(span, sector.operate_kt))
    for (first, last), limit in limit_by_span.items():
        yield LimitSector(first, last, limit)


def answer(plan: Stand) -> str:
    """What the plan says first: how many doors the wind may be too much for."""
    count = {status: sum(door.status == status for door in plan.doors) for status in ORDER}
    over, may, untold = count["exceeded"], count["possible"], count["cannot tell"]
    if not plan.doors:
        return "The profile gives no doors"
    if over:
        return f"Above a limit: {_doors(over)}" + (f"; may be: {may}" if may else "")
    if may:
        return f"May be above a limit: {_doors(may)}"
    if untold:
        why = dict.fromkeys(door.said.partition(";")[0] for door in plan.doors if door.status == "cannot tell")
        return f"{', '.join(why).capitalize()}: {_doors(untold)}"
    return f"{_doors(len(plan.doors)).capitalize()} below the profile's limit"


def _doors(count: int) -> str:
    return "1 door" if count == 1 else f"{count} doors"


def _short(door: DoorAdvice) -> str:
    counted = door.counted_kt if door.counted_kt is not None else door.operate_kt
    stays = door.status == "within" and door.stay_open_status in ("possible", "exceeded")
    limit = f"{words.amount(door.stay_open_kt if stays else counted, 0)} kt"
    lead = {"exceeded": "above", "possible": "may pass", "cannot tell": "limit", "within": "below"}[_worse(door)]
    return f"{lead} {limit}{' open' if stays else ''}"


def _worse(door: DoorAdvice) -> str:
    """The worse of operating the door and of leaving it open."""
    return min(door.status, door.stay_open_status, key=ORDER.index)


def _said(door: DoorAdvice) -> str:
    counted = door.counted_kt if door.counted_kt is not None else door.operate_kt
    if _worse(door) == "cannot tell":
        return f"{_untold(door)}; limit {words.amount(counted, 0)} kt"
    if door.status == "within" and door.stay_open_status in ("possible", "exceeded"):
        lead = "may be above" if door.stay_open_status == "possible" else "above"
        return f"{lead} stay-open limit {words.amount(door.stay_open_kt, 0)} kt"
    return f"{STATUS[door.status]} {words.amount(counted, 0)} kt"


def _untold(door: DoorAdvice) -> str:
    """Why nobody can tell whether the wind is too much for a door."""
    told = {"storm": "a storm may be near", "weather": "weather not known", "gust": "gust not known"}
    return told.get(door.beyond, "wind not known")


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


def lee_deg(relative_deg: float) -> float:
    """The middle of the lee side, from the nose."""
    return (relative_deg + 360) % 360 - 180


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
    sectors = [
        f"Lower limit {words.amount(one.limit_kt, 0)} kt for wind from {one.from_deg:.0f}° to {one.to_deg:.0f}° "
        "off the nose, clockwise."
        for one in plan.sectors
    ]
    lee = () if plan.relative_deg is None else (f"The lee side is {words.bearing(lee_deg(plan.relative_deg))}.",)
    return (f"{answer(plan)}.", nose, wind, *lee, *sectors, *(doors or ()))

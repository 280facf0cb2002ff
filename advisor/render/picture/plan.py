"""The plan view as a drawing: nose up, wind as it meets the nose, doors numbered by their places. Pure."""

from __future__ import annotations

from math import cos, radians, sin

from advisor.render.picture.drawing import TITLE, Drawing, Label, wrapped
from advisor.render.picture.stand import Stand, StandDoor

WIDE, MIDDLE, CENTRE = 360.0, 180.0, 150.0
NOSE, TAIL, HALF = 78.0, 226.0, 15.0
ROW = 18.0
SIGN = 11.0


def plan(view: Stand, *, beside: bool = False) -> Drawing:
    """The drawing. Not to scale: a door lies on its side, in the profile's order from the nose.

    beside: the doors are listed to the right of the picture, else below it.
    """
    made = Drawing(2 * WIDE + 20 if beside else WIDE)
    _aircraft(made, wings=view.wings)
    _wind(made, view)
    for door, (x, y) in zip(view.doors, _places(view.doors), strict=True):
        sign(made, door, x, y)
    y = 2 * CENTRE + 4
    nose = "not given: nose drawn up" if view.heading_deg is None else f"{view.heading_deg:03.0f}° true, drawn up"
    for text in (f"Nose {nose}", *_wind_words(view)):
        for part in wrapped(text, WIDE):
            made.text(Label(0, y + 14, part))
            y += ROW
    y, lower, x = (0.0, y, WIDE + 20) if beside else (y + 8, 0.0, 0.0)
    for door in view.doors:
        sign(made, door, x + SIGN + 6, y + SIGN + 6)
        for part in wrapped(door.name, WIDE - 38, TITLE, bold=True):
            made.text(Label(x + 38, y + 13, part, size=TITLE, bold=True))
            y += ROW + 1
        for part in wrapped(door.said, WIDE - 38):
            made.text(Label(x + 38, y + 12, part))
            y += ROW
        y += 8
    if not view.doors:
        made.text(Label(x, y + 14, "The profile gives no doors."))
        y += ROW
    made.high = max(y, lower) + 4
    return made


def _wind_words(view: Stand) -> tuple[str, str]:
    origin = "direction not known or variable"
    if view.wind_from_deg is not None:
        origin = f"from {view.wind_from_deg:03.0f}°"
    arrows = ("", "") if view.relative_deg is None else (" (thin arrow)", " (broad arrow)")
    return f"{view.clock} wind{arrows[0]} {view.wind}, {origin}", f"Gust{arrows[1]} {view.gust}"


def _aircraft(made: Drawing, *, wings: bool) -> None:
    """A body of no type, with wings and tail where it has any."""
    middle = MIDDLE
    if not wings:
        half = [(8, 6), (HALF, 26), (HALF, 74), (6, 96), (5, TAIL - NOSE)]
        right = [(middle + x, NOSE + y) for x, y in half]
        made.path("body", [(middle, NOSE), *right, *((2 * middle - x, y) for x, y in reversed(right))], closed=True)
        return
    right = [
        (middle, NOSE),
        (middle + 10, NOSE + 9),
        (middle + HALF, NOSE + 28),
        (middle + HALF, 132.0),
        (middle + 78, 168.0),
        (middle + 78, 178.0),
        (middle + HALF, 168.0),
        (middle + 9, 206.0),
        (middle + 34, 220.0),
        (middle + 34, TAIL),
        (middle, TAIL - 4),
    ]
    left = [(2 * middle - x, y) for x, y in reversed(right[1:-1])]
    made.path("body", [*right, *left], closed=True)


def _wind(made: Drawing, view: Stand) -> None:
    """Arrows towards the middle from where the wind comes: broad for the gust, thin within it for the mean."""
    if view.relative_deg is None:
        return
    turn = radians(view.relative_deg)
    away = sin(turn), -cos(turn)

    def at(radius: float, aside: float = 0.0) -> tuple[float, float]:
        return MIDDLE + away[0] * radius - away[1] * aside, CENTRE + away[1] * radius + away[0] * aside

    shaft, barb = 9.0, 17.0
    made.path(
        "sign",
        [at(148, shaft), at(108, shaft), at(108, barb), at(82), at(108, -barb), at(108, -shaft), at(148, -shaft)],
        closed=True,
    )
    made.path("arrow", [at(144), at(104)])
    made.path("arrow-head", [at(90), at(106, 6), at(106, -6)], closed=True)


def _places(doors: tuple[StandDoor, ...]) -> list[tuple[float, float]]:
    """Where each door's sign goes: evenly along its side of the body, or on it at nose and tail."""
    sides: dict[str, list[int]] = {}
    for index, door in enumerate(doors):
        sides.setdefault(_side(door.bearing_deg), []).append(index)
    found = [(0.0, 0.0)] * len(doors)
    for side, members in sides.items():
        members.sort(key=lambda index: (_along(doors[index]), doors[index].number))
        for rank, index in enumerate(members):
            if side in ("ahead", "behind"):
                found[index] = (MIDDLE, NOSE + 26 + rank * 26 if side == "ahead" else TAIL - 26 - rank * 26)
                continue
            columns = (len(members) + 3) // 4
            rows = -(-len(members) // columns)
            step = 0.0 if rows == 1 else 116 / (rows - 1)
            alone = (92.0, 150.0, 208.0)[_along(doors[index])[0]]
            y = alone if rows == 1 else 92 + (rank // columns) * step
            out = HALF + 15 + (rank % columns) * 26
            found[index] = (MIDDLE + (out if side == "right" else -out), y)
    return found


def _side(bearing_deg: float | None) -> str:
    if bearing_deg is None or abs(bearing_deg) < 10:
        return "ahead"
    if abs(bearing_deg) > 170:
        return "behind"
    return "right" if bearing_deg > 0 else "left"


def _along(door: StandDoor) -> tuple[int, float]:
    """From the nose aft, by the name where it says so, then by bearing."""
    words = door.name.lower()
    place = 0 if "front" in words or "forward" in words else 2 if "rear" in words or "aft" in words else 1
    return place, abs(door.bearing_deg or 0.0)


def sign(made: Drawing, door: StandDoor, x: float, y: float) -> None:
    """A shape for each status, with the door's number in it."""
    if door.status == "exceeded":
        made.rect("sign-full", x - SIGN, y - SIGN, 2 * SIGN, 2 * SIGN)
    elif door.status == "possible":
        made.path("sign", ((x, y - SIGN - 4), (x + SIGN + 4, y + SIGN), (x - SIGN - 4, y + SIGN)), closed=True)
    elif door.status == "cannot tell":
        made.path("sign", ((x, y - SIGN - 4), (x + SIGN + 4, y), (x, y + SIGN + 4), (x - SIGN - 4, y)), closed=True)
    else:
        made.circle("sign", x, y, SIGN)
    lower = 7.0 if door.status == "possible" else 5.0
    look = "inverse" if door.status == "exceeded" else "ink"
    made.text(Label(x, y + lower, str(door.number), "middle", bold=True, look=look))


__all__ = ["plan", "sign"]

"""The plan view as a drawing: nose up, a rose around it, wind and lee on it, doors labelled where they are. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, radians, sin

from advisor.render.picture.drawing import SMALL, Drawing, Label, wrapped
from advisor.render.picture.stand import Stand, StandDoor, answer, lee_deg

WIDE, MIDDLE, RING = 360.0, 180.0, 72.0
NOTE, LINE = 14.0, 16.0
# of the body, from its own nose; SIDE is where the labels of doors end
LONG, HALF, SIDE, SIGN = 128.0, 10.0, 90.0, 7.0


def plan(view: Stand) -> Drawing:
    """The drawing. Not to scale: a door lies on its side, as far aft as its name says."""
    drawing = Drawing(WIDE)
    y = 0.0
    for part in wrapped(answer(view), WIDE, SMALL + 1, bold=True):
        drawing.text(Label(0, y + 15, part, size=SMALL + 1, bold=True))
        y += 20
    centre = y + 16 + RING
    _rose(drawing, view, centre)
    nose = centre - LONG / 2
    _aircraft(drawing, nose, wings=view.wings)
    _wind(drawing, view, centre)
    lower = _doors(drawing, view, nose, y + 6)
    y = max(centre + RING + 16, lower + 6)
    heading = "not given: nose drawn up" if view.heading_deg is None else f"{view.heading_deg:03.0f}° true, drawn up"
    for text in (f"Nose {heading}", *_wind_words(view)):
        for part in wrapped(text, WIDE):
            drawing.text(Label(0, y + 14, part))
            y += 18
    for part in _key(view):
        drawing.text(Label(0, y + 13, part, size=NOTE))
        y += LINE
    drawing.high = y + 4
    return drawing


def _key(view: Stand) -> Iterator[str]:
    kinds = {"square": "exceeded", "triangle": "possible", "diamond": "cannot tell", "circle": "within"}
    words = {"exceeded": "above", "possible": "may pass", "cannot tell": "not known", "within": "below"}
    met = {door.status for door in view.doors}
    entries = [f"{shape}: {words[status]}" for shape, status in kinds.items() if status in met]
    if any(door.low for door in view.doors):
        entries.append("dashed: low")
    if view.relative_deg is not None:
        entries += ["arrow: wind", "dotted: lee side"]
    if view.heading_deg is not None:
        entries.append("tip on the ring: north")
    entries += [f"thick arc: limit {one.limit_kt:.0f} kt" for one in view.sectors]
    if entries:
        text = ", ".join(entries)
        yield from wrapped(f"{text[0].upper()}{text[1:]}.", WIDE, NOTE)


def _wind_words(view: Stand) -> tuple[str, str]:
    origin = "direction not known or variable"
    if view.wind_from_deg is not None:
        origin = f"from {view.wind_from_deg:03.0f}°"
    return f"{view.clock} wind {view.wind}, {origin}", f"Gust {view.gust}"


def _at(centre: float, bearing_deg: float, radius: float, aside: float = 0.0) -> tuple[float, float]:
    """A point off the middle: bearing clockwise from the nose, aside to the right of that way out."""
    turn = radians(bearing_deg)
    x, y = sin(turn), -cos(turn)
    return MIDDLE + x * radius - y * aside, centre + y * radius + x * aside


def _arc(centre: float, from_deg: float, to_deg: float, radius: float) -> list[tuple[float, float]]:
    """Points of an arc, clockwise."""
    wide = (to_deg - from_deg) % 360 or 360
    steps = max(2, round(wide / 5))
    return [_at(centre, from_deg + wide * step / steps, radius) for step in range(steps + 1)]


def _rose(drawing: Drawing, view: Stand, centre: float) -> None:
    """The ring, its ticks each 30° from the nose, north where it is known, and sectors with limits of their own."""
    drawing.path("ring", _arc(centre, 0, 360, RING), closed=True)
    for bearing in range(0, 360, 30):
        drawing.path("ring", [_at(centre, bearing, RING - 4), _at(centre, bearing, RING)])
    if view.heading_deg is not None:
        drawing.path(
            "pointer",
            [
                _at(centre, -view.heading_deg, RING + 9),
                *(_at(centre, -view.heading_deg, RING + 1, aside) for aside in (4, -4)),
            ],
            closed=True,
        )
    for sector in view.sectors:
        drawing.path("sector", _arc(centre, sector.from_deg, sector.to_deg, RING - 7))


def _aircraft(drawing: Drawing, nose: float, *, wings: bool) -> None:
    """A body of no type, with wings and tail where it has any."""

    def rounded(length: float) -> list[tuple[float, float]]:
        """The right half of a nose, a quarter of an ellipse."""
        return [(HALF * sin(step * pi / 12), length * (1 - cos(step * pi / 12))) for step in range(1, 7)]

    if wings:
        right = [
            *rounded(22),
            *((HALF, 48.0), (60.0, 79.0), (60.0, 85.0), (HALF, 75.0)),
            *((HALF, 92.0), (5.0, 113.0), (24.0, 121.0), (24.0, 126.0), (3.0, 123.0)),
        ]
    else:
        right = [*rounded(22), (HALF, 60.0), (4.5, 78.0), (2.5, LONG)]
    half = [(MIDDLE + x, nose + y) for x, y in right]
    other = [(2 * MIDDLE - x, y) for x, y in reversed(half)]
    end = [(MIDDLE, nose + LONG)] if wings else []
    drawing.path("body", [(MIDDLE, nose), *half, *end, *other], closed=True)


def _wind(drawing: Drawing, view: Stand, centre: float) -> None:
    """A broad arrow from where the wind comes, and the lee side opposite."""
    if view.relative_deg is None:
        return

    def at(radius: float, aside: float = 0.0) -> tuple[float, float]:
        return _at(centre, view.relative_deg or 0.0, radius, aside)

    outline = [at(72, 7), at(54, 7), at(54, 14), at(35), at(54, -14), at(54, -7), at(72, -7)]
    drawing.path("arrow", outline, closed=True)
    away = lee_deg(view.relative_deg)
    drawing.path("lee", _arc(centre, away - 55, away + 55, RING + 4))


def _doors(drawing: Drawing, view: Stand, nose: float, upper: float) -> float:
    """Each door on the body and its label beside it, led to it. Returns the lower end of the labels."""
    lower = 0.0
    for side, turn in (("left", -1.0), ("right", 1.0)):
        members = [door for door in view.doors if door.side == side]
        members.sort(key=lambda door: (door.along, door.number))
        texts = [_texts(door) for door in members]
        room = [len(parts) * LINE + 6 for parts in texts]
        free = upper
        for index, door in enumerate(members):
            y_door = nose + door.along * LONG
            last = max(nose + LONG + 16, upper + sum(room)) - sum(room[index:])
            label_y = min(max(free, y_door - room[index] / 2), last)
            _door(drawing, door, turn, y_door, label_y, texts[index])
            free = label_y + room[index]
            lower = max(lower, free)
    for side, start, step in (("ahead", 30.0, 20.0), ("behind", LONG - 24, -20.0)):
        for rank, door in enumerate(door for door in view.doors if door.side == side):
            y = nose + start + rank * step
            sign(drawing, door, MIDDLE, y)
            label = f"{door.short[0]} {door.short[1]}"
            for part in wrapped(label, WIDE - MIDDLE - 24, NOTE)[:1]:
                drawing.text(Label(MIDDLE + HALF + 10, y + 5, part, size=NOTE))
    return lower


def _texts(door: StandDoor) -> list[str]:
    """What stands beside a door: what it is, in one line, and its limit."""
    return [*wrapped(door.short[0], SIDE, NOTE, bold=True)[:2], *wrapped(door.short[1], SIDE, NOTE)[:2]]


def _door(drawing: Drawing, door: StandDoor, turn: float, y_door: float, y: float, parts: list[str]) -> None:
    x = MIDDLE + turn * HALF
    drawing.rect("door-low" if door.low else "door", x - 3, y_door - 6, 6, 12)
    edge = MIDDLE + turn * (MIDDLE - SIDE - 8)
    middle = y + (len(parts) * LINE) / 2
    drawing.path(
        "lead", [(x + turn * 3, y_door), (edge - turn * (SIGN + 14), y_door), (edge - turn * (SIGN + 5), middle)]
    )
    names = len(parts) - len(wrapped(door.short[1], SIDE, NOTE)[:2])
    for at, part in enumerate(parts):
        anchor = "end" if turn < 0 else "start"
        drawing.text(Label(edge + turn * 5, y + 13 + at * LINE, part, anchor, size=NOTE, bold=at < names))
    sign(drawing, door, edge - turn * SIGN, middle)


def sign(drawing: Drawing, door: StandDoor, x: float, y: float) -> None:
    """A shape for each status."""
    if door.status == "exceeded":
        drawing.rect("sign-full", x - SIGN + 1, y - SIGN + 1, 2 * SIGN - 2, 2 * SIGN - 2)
    elif door.status == "possible":
        drawing.path("sign", ((x, y - SIGN), (x + SIGN, y + SIGN - 1), (x - SIGN, y + SIGN - 1)), closed=True)
    elif door.status == "cannot tell":
        drawing.path("sign", ((x, y - SIGN), (x + SIGN, y), (x, y + SIGN), (x - SIGN, y)), closed=True)
    else:
        drawing.circle("sign", x, y, SIGN - 2)


__all__ = ["plan", "sign"]

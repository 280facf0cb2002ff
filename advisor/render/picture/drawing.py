"""Shapes, text boxes and their looks: what the charts are drawn with. Pure but for the one template."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from advisor.render import design

SMALL = 16.0
# a wide screen font's advances, so that narrower ones fit as well
_WIDTHS = (
    (0.30, "'IJijl"),
    (0.35, " ,./:;\\|"),
    (0.40, "()-[]ft"),
    (0.45, "!r²"),
    (0.50, '"*_`°–'),
    (0.55, "?csz"),
    (0.60, "FLkvxy"),
    (0.65, "$0123456789EPSTYabdeghnopqu{}"),
    (0.70, "ABCKRVXZ"),
    (0.75, "NU"),
    (0.80, "&DGHOQ"),
    (0.85, "#+<=>^w~−"),
    (0.90, "M"),
    (1.0, "%@Wm"),
)
_WIDTH = {letter: width for width, letters in _WIDTHS for letter in letters}
BOLD = 1.14
INK, SOFT, HATCH = "#000000", "#404040", "#707070"
# plain attributes, legible in black and white; on a page the class of the same name gives colour
LOOKS: dict[str, str] = {
    "frame": f'fill="none" stroke="{SOFT}" stroke-width="1"',
    "grid": 'stroke="#b0b0b0" stroke-width="0.75"',
    "tick": f'stroke="{INK}" stroke-width="1"',
    # light as shading
    "day": 'fill="#ffffff"',
    "dusk": 'fill="#ececec"',
    "night": 'fill="#d4d4d4"',
    # bars
    "bar": f'fill="{INK}"',
    "still": 'fill="#ffffff"',
    "doors": "fill:dots",
    "falling": "fill:dense",
    "sparse": "fill:sparse",
    "unknown": "fill:unknown",
    "edge": f'fill="none" stroke="{INK}" stroke-width="1.25"',
    # panels
    "walk": f'stroke="{INK}" stroke-width="1" stroke-dasharray="2 3"',
    "off-block": f'stroke="{INK}" stroke-width="1.5" stroke-dasharray="5 3"',
    "level": f'stroke="{INK}" stroke-width="1.75" stroke-dasharray="10 3"',
    "lead": f'fill="none" stroke="{INK}" stroke-width="1"',
    "mark": f'fill="{INK}" stroke="#ffffff" stroke-width="1"',
    "pointer": f'fill="{INK}"',
    "band-frost": "fill:left",
    "band-gust": "fill:left",
    "line-frost": f'fill="none" stroke="{INK}" stroke-width="2.6" stroke-linejoin="round"',
    "line-gust": f'fill="none" stroke="{INK}" stroke-width="2.6" stroke-linejoin="round"',
    # the stand
    "body": f'fill="#ffffff" stroke="{INK}" stroke-width="1.75" stroke-linejoin="round"',
    "ring": 'fill="none" stroke="#b0b0b0" stroke-width="1"',
    "sector": f'fill="none" stroke="{INK}" stroke-width="4"',
    "lee": f'fill="none" stroke="{INK}" stroke-width="2" stroke-dasharray="2 4"',
    "arrow": f'fill="{INK}" stroke="#ffffff" stroke-width="1"',
    "door": f'fill="{INK}" stroke="#ffffff" stroke-width="0.75"',
    "door-low": f'fill="#ffffff" stroke="{INK}" stroke-width="1.5" stroke-dasharray="2 1.5"',
    "sign": f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    "sign-full": f'fill="{INK}" stroke="{INK}" stroke-width="2"',
}
SERIES = {"frost_margin_c": ("frost",), "gust_kt": ("gust",)}


@dataclass(frozen=True, slots=True)
class Label:
    """Text at a baseline. anchor: start, middle or end."""

    x: float
    y: float
    text: str
    anchor: str = "start"
    size: float = SMALL
    bold: bool = False
    look: str = "ink"

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom, on the safe side."""
        wide = width(self.text, self.size, bold=self.bold)
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return left, self.y - 0.8 * self.size, left + wide, self.y + 0.25 * self.size


@dataclass(slots=True)
class Drawing:
    """A picture in the making. wide, high: of its own coordinates."""

    wide: float
    high: float = 0.0
    shapes: list[tuple[str, str, str]] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def rect(self, look: str, x: float, y: float, wide: float, high: float) -> None:
        """A rectangle; nothing where it has no size."""
        if wide > 0 and high > 0:
            self.shapes.append(("rect", look, f'x="{n(x)}" y="{n(y)}" width="{n(wide)}" height="{n(high)}"'))

    def line(self, look: str, x1: float, y1: float, x2: float, y2: float) -> None:
        """A straight line."""
        self.shapes.append(("line", look, f'x1="{n(x1)}" y1="{n(y1)}" x2="{n(x2)}" y2="{n(y2)}"'))

    def path(self, look: str, points: Iterable[tuple[float, float]], *, closed: bool = False) -> None:
        """A line through points, or the area that they enclose."""
        way = "L".join([f"{x:.1f} {y:.1f}" for x, y in points])
        self.shapes.append(("path", look, f'd="M{way}{"Z" if closed else ""}"'))

    def circle(self, look: str, x: float, y: float, radius: float) -> None:
        """A circle."""
        self.shapes.append(("circle", look, f'cx="{n(x)}" cy="{n(y)}" r="{n(radius)}"'))

    def text(self, label: Label) -> None:
        """A label."""
        self.labels.append(replace(label, text=clean(label.text)))


# XML allows no other control characters, whatever a name in an operator's file may hold
_REFUSED = {code: None for code in (*range(0x20), 0x7F, 0xFFFE, 0xFFFF) if code not in (0x09, 0x0A, 0x0D)}


def clean(text: str) -> str:
    """A text that may stand in XML."""
    return text.translate(_REFUSED).encode("utf-8", "replace").decode()


def n(value: float) -> str:
    """A coordinate, two decimals at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def width(text: str, size: float = SMALL, *, bold: bool = False) -> float:
    """Width of a text on the safe side: that of a wide screen font."""
    return sum(_WIDTH.get(letter, 1.0) for letter in text) * size * (BOLD if bold else 1.0)


def wrapped(text: str, room: float, size: float = SMALL, *, bold: bool = False) -> list[str]:
    """A text in lines that fit the room; a word that does not fit is cut with an ellipsis."""
    lines: list[str] = []
    for word in text.split():
        while width(word, size, bold=bold) > room and len(word) > 1:
            word = word[:-2] + "…"
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined, size, bold=bold) <= room:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines or [""]


@lru_cache(maxsize=4)
def _looks(printed: bool, ident: str) -> dict[str, Markup]:
    looks = {}
    for name, look in LOOKS.items():
        if look.startswith("fill:"):
            edge = f' stroke="{HATCH}" stroke-width="0.6"' if name.startswith("band-") else ""
            look = f'fill="url(#{ident}-{look[5:]})"{edge}'
        looks[name] = Markup(look if printed else f'class="c-{name}" {look}')
    return looks


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Templates beside this module; everything is escaped, whatever the name ends in."""
    return Environment(
        loader=PackageLoader("advisor.render"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def svg(drawing: Drawing, *, title: str, sentences: Iterable[str], printed: bool, ident: str) -> str:
    """The picture as SVG. printed: plain attributes and hatching only; else classes as well, for chart.css."""
    looks = _looks(printed, ident)
    shapes: list[Any] = [Markup(f"<{tag} {looks[look]} {where}/>") for tag, look, where in drawing.shapes]
    return (
        environment()
        .get_template("drawing.svg.jinja")
        .render(
            wide=n(drawing.wide),
            high=n(drawing.high),
            title=title,
            desc=clean(" ".join(sentences)),
            shapes=shapes,
            labels=drawing.labels,
            n=n,
            printed=printed,
            ident=ident,
            hatch=HATCH,
            ink=INK,
        )
    )


def source(name: str) -> str:
    """A file beside the templates, as it is."""
    loader = environment().loader
    assert loader is not None
    return loader.get_source(environment(), name)[0]


def css() -> str:
    """The shared set of sizes, spaces and colours, and how the pictures take theirs from it."""
    return design.css() + source("chart.css")

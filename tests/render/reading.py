"""What stands in a picture, read back from its SVG without the code that drew it."""

import re
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

from PIL import ImageFont

import advisor.render

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(advisor.render.__file__).parent / "fonts"


@lru_cache(maxsize=8)
def _font(bold):
    return ImageFont.truetype(FONTS / f"ClearSans-{'Bold' if bold else 'Regular'}.ttf", 1000)


def tree(svg):
    """The root of an SVG, which has to be well-formed XML."""
    return ElementTree.fromstring(svg)


def texts(root):
    """Each text with its box (left, top, right, bottom), its width measured by the metrics of the shipped font."""
    found = []
    for node in root.iter(f"{SVG}text"):
        x, y, size = (float(node.get(name)) for name in ("x", "y", "font-size"))
        wide = _font(node.get("font-weight") == "bold").getlength(node.text) * size / 1000
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[node.get("text-anchor", "start")]
        # ascenders and descenders of Latin letters and digits, generously
        found.append((node.text, (left, y - 0.74 * size, left + wide, y + 0.22 * size)))
    return found


def segments(root):
    """Every straight line that is drawn with a stroke: (x1, y1, x2, y2), with the look of its shape."""
    found = []
    for node in root.iter():
        look = node.get("class", "")
        if node.get("stroke") is None or look in ("c-hatch",):
            continue
        if node.tag == f"{SVG}line":
            found.append((look, tuple(float(node.get(name)) for name in ("x1", "y1", "x2", "y2"))))
        elif node.tag == f"{SVG}path":
            way = points(node)
            closed = node.get("d").endswith("Z")
            ends = [*way[1:], way[0]] if closed else way[1:]
            found += [(look, (*first, *last)) for first, last in zip(way, ends, strict=False)]
        elif node.tag == f"{SVG}rect":
            x, y, wide, high = (float(node.get(name)) for name in ("x", "y", "width", "height"))
            corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high), (x, y)]
            found += [(look, (*first, *last)) for first, last in pairwise(corners)]
    return found


def points(node):
    """The points of a path of straight lines."""
    return [tuple(float(part) for part in pair.split()) for pair in re.split("[ML]", node.get("d").rstrip("Z"))[1:]]


def shapes(root, look):
    """All shapes of a look."""
    return [node for node in root.iter() if node.get("class") == f"c-{look}"]


def meets(box, segment):
    """Whether a straight line passes through a box (Liang and Barsky's clipping)."""
    left, top, right, bottom = box
    x1, y1, x2, y2 = segment
    first, last = 0.0, 1.0
    for run, low, high, start in ((x2 - x1, left, right, x1), (y2 - y1, top, bottom, y1)):
        if run == 0:
            if not low < start < high:
                return False
            continue
        enter, leave = sorted(((low - start) / run, (high - start) / run))
        first, last = max(first, enter), min(last, leave)
    return first < last


def overlap(one, other):
    """Whether two boxes share an area."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def number(text):
    """A number as it is written in a picture; a "k" is a thousand."""
    text = text.replace("−", "-")
    return float(text[:-1]) * 1000 if text.endswith("k") else float(text)

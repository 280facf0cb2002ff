"""The shared set of sizes and colours: legible on every paper it is used on, in every theme, and used by every face."""

import re
from itertools import product
from pathlib import Path

import pytest

import advisor.render
import advisor.web
from advisor.render import design
from advisor.render.picture import drawing

RENDER, WEB = (Path(package.__file__).parent for package in (advisor.render, advisor.web))
PAPERS = ("paper", "tint", "grave-paper", "mind-paper")
SHADES = ("day", "dusk", "night")
WORDS = ("ink", "soft", "grave", "mind", "link")


def themes(css):
    """Each theme's colours as a browser would find them, read from the style sheet and not from the code."""
    found = {}
    for selector, block in re.findall(r"(:root[^{},]*(?:, :root[^{}]*)?) \{([^}]*)\}", css):
        found[selector.strip()] = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    return found


def luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_a_contrast_known_from_the_standard_is_met_by_the_formula_here():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # #767676 on white is known as the lightest grey at 4.5:1 (memory)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


LIGHT, DARK, NIGHT = ":root", ':root[data-theme="dark"]', ':root[data-theme="night"]'
AUTO = (":root:not([data-theme])", ':root[data-theme="auto"]')


@pytest.mark.parametrize(("name", "least"), [(LIGHT, 7), (DARK, 7), *((one, 7) for one in AUTO), (NIGHT, 4.5)])
def test_words_are_legible_on_every_paper(name, least):
    """WCAG 2.2: 1.4.3 asks for 4.5, 1.4.6 for 7; red alone on black cannot reach more than 5.25."""
    colours = themes(drawing.css())[name]
    for word, paper in product(WORDS, PAPERS):
        assert contrast(colours[word], colours[paper]) >= least, (word, paper)
    # the words of a picture stand on its shading as well
    for shade in SHADES:
        assert contrast(colours["ink"], colours[shade]) >= least, shade


@pytest.mark.parametrize("name", [LIGHT, DARK, *AUTO, NIGHT])
def test_what_is_drawn_reaches_3_to_1(name):
    """WCAG 2.2, 1.4.11."""
    colours = themes(drawing.css())[name]
    for mark, paper in product(("frost", "gust", "hatch", "line"), ("paper", "tint", *SHADES)):
        assert contrast(colours[mark], colours[paper]) >= 3, (mark, paper)


def test_the_night_is_red_alone():
    for name, colour in themes(drawing.css())[NIGHT].items():
        assert colour.endswith("0000"), name


def test_shading_follows_the_light():
    for name in (LIGHT, DARK, NIGHT):
        colours = themes(drawing.css())[name]
        day, dusk, night = (luminance(colours[shade]) for shade in SHADES)
        assert day > dusk > night


def test_every_theme_gives_every_colour():
    found = themes(drawing.css())
    names = set(found[LIGHT])
    for selector in (DARK, NIGHT, *AUTO, ":root, :root[data-theme]"):
        assert set(found[selector]) == names, selector


FACES = {
    "page": (WEB / "static" / "page.css").read_text(),
    "walk": (WEB / "static" / "walk.css").read_text(),
    "wall": (WEB / "static" / "wall.css").read_text(),
    "sheet": (RENDER / "templates" / "sheet.css").read_text(),
    "pictures": (RENDER / "templates" / "chart.css").read_text(),
    "board": (RENDER / "templates" / "slots_board.html").read_text(),
}


@pytest.mark.parametrize("face", FACES)
def test_every_face_takes_its_colours_from_the_set(face):
    given = set(re.findall(r"--([\w-]+):", design.css()))
    used = set(re.findall(r"var\(--([\w-]+)\)", FACES[face]))
    assert used and used <= given
    style = FACES[face].split("</style>")[0]
    # black stands on paper only: a box to tick has no theme
    outside = re.sub(r"@media print.*", "", style, flags=re.S)
    assert re.findall(r"#[0-9a-fA-F]{3,6}\b(?![^<{]*\{)", outside) == []

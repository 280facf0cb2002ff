"""The one small set of sizes, weights, spaces and colours that page, sheet and board share. Pure.

A colour says what it is for, never what it looks like. Light is ink on paper for the sun; dark has no bright area
larger than a letter; night is red alone on black, which leaves the eyes used to the dark. Nothing is said by colour
alone.
"""

from __future__ import annotations

from collections.abc import Mapping

# on a screen nothing is smaller than the body
SIZES = {"small": "1rem", "body": "1rem", "lead": "1.125rem", "title": "1.25rem", "hero": "2.25rem", "wall": "3.5rem"}
WEIGHTS = {"plain": "400", "firm": "600", "strong": "700"}
SPACES = {"1": "4px", "2": "8px", "3": "12px", "4": "20px", "5": "32px"}
SHAPES = {"touch": "44px", "round": "6px", "bar": "6px"}
FONT = '"Clear Sans", system-ui, Roboto, "DejaVu Sans", Arial, "Liberation Sans", sans-serif'
CODE = 'ui-monospace, "DejaVu Sans Mono", monospace'
# points on paper, the largest first: a PDF takes the first that costs no more pages than the last does
PAPERS_PT = (
    {"fine": 9.0, "small": 9.0, "body": 10.0, "lead": 11.0, "title": 13.0, "hero": 16.0},
    {"fine": 8.0, "small": 8.2, "body": 9.0, "lead": 10.0, "title": 12.0, "hero": 15.0},
    {"fine": 7.0, "small": 7.4, "body": 8.2, "lead": 9.2, "title": 11.5, "hero": 14.0},
)
PAPER_PT = PAPERS_PT[-1]

# paper, tint: what things stand on; ink, soft: words; line: edges of what can be used; grid: quiet rules in pictures;
# grave, mind, link: words and edges that ask for something; day, dusk, night: light as shading; frost, gust: bands
LIGHT = {
    "paper": "#ffffff",
    "tint": "#eef2f4",
    "ink": "#14181a",
    "soft": "#3d4448",
    "line": "#6c757a",
    "grid": "#c3cad0",
    "hatch": "#66707a",
    "grave": "#8c1010",
    "grave-paper": "#fdeceb",
    "mind": "#5c3a00",
    "mind-paper": "#fdf3dd",
    "link": "#0b3f74",
    "day": "#ffffff",
    "dusk": "#e9eef4",
    "night": "#d3dce6",
    "frost": "#0b57a4",
    "gust": "#9a3412",
}
DARK = {
    "paper": "#0a0c0d",
    "tint": "#171c1e",
    "ink": "#d9d4c8",
    "soft": "#bcb8ae",
    "line": "#6f7678",
    "grid": "#39424a",
    "hatch": "#8a949d",
    "grave": "#ffb3a6",
    "grave-paper": "#2a1210",
    "mind": "#f0c56a",
    "mind-paper": "#241b08",
    "link": "#a9cdf2",
    "day": "#242c32",
    "dusk": "#1a2025",
    "night": "#040506",
    "frost": "#7cc0ff",
    "gust": "#ffab7a",
}
NIGHT = {
    "paper": "#000000",
    "tint": "#120000",
    "ink": "#ff0000",
    "soft": "#f40000",
    "line": "#c40000",
    "grid": "#5a0000",
    "hatch": "#c40000",
    "grave": "#ff0000",
    "grave-paper": "#140000",
    "mind": "#ff0000",
    "mind-paper": "#120000",
    "link": "#ff0000",
    "day": "#260000",
    "dusk": "#160000",
    "night": "#000000",
    "frost": "#e00000",
    "gust": "#e00000",
}
PRINTED = {
    **dict.fromkeys(("paper", "tint", "grave-paper", "mind-paper", "day"), "#ffffff"),
    **dict.fromkeys(("ink", "soft", "grave", "mind", "link", "frost", "gust"), "#000000"),
    "line": "#555555",
    "grid": "#b0b0b0",
    "hatch": "#707070",
    "dusk": "#ececec",
    "night": "#d4d4d4",
}
THEMES: Mapping[str, Mapping[str, str]] = {"light": LIGHT, "dark": DARK, "night": NIGHT, "printed": PRINTED}


def _block(selector: str, scheme: str, values: Mapping[str, str]) -> str:
    said = "".join(f" --{name}: {value};" for name, value in values.items())
    return f"{selector} {{ color-scheme: {scheme};{said} }}"


def css() -> str:
    """The set as custom properties: light, the device's choice, hand-picked themes, paper."""
    fixed = {
        **{f"size-{name}": value for name, value in SIZES.items()},
        **{f"weight-{name}": value for name, value in WEIGHTS.items()},
        **{f"space-{name}": value for name, value in SPACES.items()},
        **SHAPES,
        "font": FONT,
        "code": CODE,
    }
    paper = {f"size-{name}": f"{value:g}pt" for name, value in PAPER_PT.items()}
    auto = [_block(where, "dark", DARK) for where in (":root:not([data-theme])", ':root[data-theme="auto"]')]
    picked = [
        _block(f':root[data-theme="{name}"]', "dark", values) for name, values in (("dark", DARK), ("night", NIGHT))
    ]
    parts = (
        _block(":root", "light", {**fixed, **LIGHT}),
        f"@media screen and (prefers-color-scheme: dark) {{ {' '.join(auto)} }}",
        f"@media screen {{ {' '.join(picked)} }}",
        f"@media print {{ {_block(':root, :root[data-theme]', 'light', {**PRINTED, **paper})} }}",
    )
    return "\n".join(parts) + "\n"

"""Colour on a terminal, by rich. The text is the same; what is bold or coloured is also said in words and marks."""

from __future__ import annotations

from advisor.brief.model import Brief

LEAST_WIDTH, MOST_WIDTH = 60, 120
# whole rows, in colours of the terminal's own palette, which its owner chose for light or dark
STYLES = {
    "title": "bold underline",
    "stop": "bold red",
    "must": "bold",
    "should": "",
    "untold": "italic cyan",
}


def show(brief: Brief, *, before: Brief | None = None, full: bool = False) -> None:
    """Print a brief as wide as the terminal is, 60 to 120 columns, with titles and graver lines set off.

    Only called on a terminal that wants colour.
    """
    from rich.console import Console
    from rich.text import Text

    from advisor.render.text import rows

    console = Console(highlight=False)
    width = min(MOST_WIDTH, max(LEAST_WIDTH, console.width))
    for row in rows(brief, before=before, full=full, width=width):
        console.print(Text(row.text, style=STYLES.get(row.kind, "")), soft_wrap=True)

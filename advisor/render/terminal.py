"""Colour on a terminal, by rich. The text is the same; what is bold or coloured is also said in words."""

from __future__ import annotations


def show(text: str) -> None:
    """Print a brief's text with headings and must-lines set off. Only called on a terminal that wants colour."""
    from rich.console import Console
    from rich.text import Text

    console = Console(width=80, highlight=False)
    for line in text.splitlines():
        if line and line == line.upper() and not line.startswith(" "):
            style = "bold"
        elif line.startswith("  ! "):
            style = "bold yellow"
        elif line.startswith("  ? "):
            style = "cyan"
        else:
            style = ""
        console.print(Text(line, style=style), soft_wrap=True)

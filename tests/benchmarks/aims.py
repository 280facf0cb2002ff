"""Whether a measure reached its aim, told from the words that it printed; the page says it, a test asks it again."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

REACHED, MISSED, UNMEASURED, NO_AIM = "reached", "not reached", "not measured here", "no aim"
# what stays flat may still take so much more at the end than at the beginning
FLAT = 1.05


@dataclass(frozen=True)
class Figure:
    """A figure of an aim: where it stands in what was measured, and its bound.

    seen: a pattern with the figure as its group, which may stand there several times, each within the bound; with two
    groups the second over the first counts; with none the words have to be there. most, least, under: the bound, as
    the goal says it. unit: what the figure is multiplied by to be in the goal's unit.
    """

    seen: str
    most: float | None = None
    least: float | None = None
    under: float | None = None
    unit: float = 1.0

    @property
    def bound(self) -> float | None:
        """The bound, None for words."""
        return next((one for one in (self.most, self.least, self.under) if one is not None), None)

    def values(self, measured: str) -> list[float]:
        """The figures in the goal's unit, as often as they stand there."""
        texts = [match.groups() for match in re.finditer(self.seen, measured) if match.groups()]
        numbers = [[float(text.replace(",", "")) for text in group] for group in texts]
        return [self.unit * (group[1] / group[0] if len(group) == 2 else group[0]) for group in numbers]

    def holds(self, measured: str) -> bool:
        """Whether each is within the bound, and there is one."""
        if self.bound is None:
            return re.search(self.seen, measured) is not None
        values = self.values(measured)
        return values != [] and all(
            (self.most is None or value <= self.most)
            and (self.least is None or value >= self.least)
            and (self.under is None or value < self.under)
            for value in values
        )


@dataclass(frozen=True)
class Stated:
    """What is said by hand where no figure can be compared, never that an aim is reached. why: the words with it."""

    verdict: str
    why: str


# the measure's own test asks for the aim itself, and prints no figure of it
BY_TEST = "by its test"
# what stands in the place of figures
NOT_RUN = "not run"
Aim = Sequence[Figure] | Stated | str


def verdict(aim: Aim, measured: str, *, held: bool = True, note: str = "") -> str:
    """The words of the column. held: whether the measure's test passed; note: goes with whatever is said."""
    if measured == NOT_RUN:
        return UNMEASURED
    if isinstance(aim, Stated):
        told, why = aim.verdict, [aim.why]
    elif aim == BY_TEST:
        told, why = (REACHED, ["its test asks for it"]) if held else (MISSED, ["its test failed"])
    elif not aim:
        told, why = NO_AIM, []
    else:
        told, why = _compared([one for one in aim if isinstance(one, Figure)], measured)
    return ": ".join(part for part in (told, "; ".join([*why, *filter(None, [note])])) if part)


def _compared(figures: Sequence[Figure], measured: str) -> tuple[str, list[str]]:
    wanting = [one for one in figures if one.bound is not None and not one.values(measured)]
    if wanting:
        return UNMEASURED, ["it prints no figure of it"]
    missed = [one for one in figures if not one.holds(measured)]
    return (MISSED if missed else REACHED), [_missed(one, measured) for one in missed]


def _missed(figure: Figure, measured: str) -> str:
    if figure.bound is None:
        return f"{figure.seen!r} is not said"
    low = figure.least is not None
    worst = (min if low else max)(figure.values(measured))
    kind = "at least" if low else "at most" if figure.most is not None else "under"
    far = f"{worst:,.0f}" if abs(worst) >= 1000 else f"{worst:.4g}"
    return f"{far}, aim {kind} {figure.bound:,g}"


def from_row(row: dict[str, Any]) -> Aim:
    """The aim of a row of long.toml: figures, or what is stated by hand, or none."""
    if "stated" in row:
        return Stated(row["stated"], row["why"])
    return [Figure(**one) for one in row.get("figures", [])]

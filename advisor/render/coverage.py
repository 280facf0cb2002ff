"""A checklist's coverage for people: as text, and as a page whose matrix can be read at arm's length."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import msgspec
from markupsafe import Markup

from advisor.checklist.desk.coverage import MUST, SHOULD, Coverage, CoverageCell
from advisor.checklist.rules import CLASSES
from advisor.conditions import PHASES
from advisor.render.picture import drawing

PHASE_WORDS = {
    "parked": "parked",
    "walk_round": "walk-round",
    "doors_open": "doors open",
    "off_block": "off-block",
    "take_off": "take-off",
}
# a letter a phase in the text, its weight in how it is written
LETTERS = {"parked": "p", "walk_round": "w", "doors_open": "d", "off_block": "o", "take_off": "t"}
SHORT = {
    "light-aircraft": "light",
    "glider": "glider",
    "helicopter": "heli",
    "uncrewed": "drone",
    "twin-turboprop": "t-prop",
    "regional-jet": "r-jet",
    "single-aisle-jet": "s-jet",
    "wide-body-jet": "w-jet",
}
LEGEND = "capital: a must; small: a should; ·: nothing. p parked, w walk-round, d doors open, o off-block, t take-off"
NOT_COVERED = "A hazard without a rule here is one that this checklist leaves to other documents."


class Mark(msgspec.Struct, frozen=True):
    """A phase within a cell of the matrix. weight: must, should or none."""

    phase: str
    letter: str
    weight: str


class Square(msgspec.Struct, frozen=True):
    """A hazard and a class: its phases, how many rules, and the rules by phase."""

    class_id: str
    marks: tuple[Mark, ...]
    musts: int
    rules: tuple[tuple[str, tuple[str, ...]], ...]
    said: str


class HazardRow(msgspec.Struct, frozen=True):
    """A hazard over the classes."""

    hazard: str
    ident: str
    squares: tuple[Square, ...]


def rows(coverage: Coverage) -> tuple[HazardRow, ...]:
    """The matrix, a row a hazard."""
    cells = {(cell.hazard, cell.class_id, cell.phase): cell for cell in coverage.cells}
    return tuple(
        HazardRow(
            hazard,
            f"hazard-{number}",
            tuple(_square(class_id, [cells[hazard, class_id, phase] for phase in PHASES]) for class_id in CLASSES),
        )
        for number, hazard in enumerate(coverage.hazards)
    )


def _square(class_id: str, cells: Iterable[CoverageCell]) -> Square:
    listed = list(cells)
    marks = tuple(Mark(PHASE_WORDS[cell.phase], _letter(cell), cell.weight) for cell in listed)
    rules = tuple((PHASE_WORDS[cell.phase], tuple(_named(name, cell) for name in cell.rules)) for cell in listed)
    count = len({name for cell in listed for name in cell.rules})
    said = ", ".join(f"{mark.phase} {mark.weight}" for mark in marks if mark.weight in (MUST, SHOULD)) or "nothing"
    return Square(class_id, marks, count, tuple(row for row in rules if row[1]), said)


def _letter(cell: CoverageCell) -> str:
    letter = LETTERS[cell.phase]
    return letter.upper() if cell.weight == MUST else letter if cell.weight == SHOULD else "·"


def _named(name: str, cell: CoverageCell) -> str:
    return name if name in cell.own else f"{name} (words for all)"


def as_text(coverage: Coverage) -> str:
    """The matrix and what follows from it, as plain text."""
    wide = max((len(hazard) for hazard in coverage.hazards), default=0)
    lines = [f"{coverage.checklist}, revision {coverage.revision}, fingerprint {coverage.fingerprint}", LEGEND, ""]
    lines.append(" " * wide + "  " + " ".join(f"{SHORT[name]:<6}" for name in CLASSES).rstrip())
    for row in rows(coverage):
        marks = " ".join(f"{''.join(mark.letter for mark in square.marks):<6}" for square in row.squares)
        lines.append(f"{row.hazard:<{wide}}  {marks}".rstrip())
    lines.append("")
    lines += [f"{title}: {said}" for title, said in _findings(coverage)]
    return "\n".join(lines) + "\n"


def _findings(coverage: Coverage) -> list[tuple[str, str]]:
    """What follows from the matrix, in words."""
    opened: dict[str, list[str]] = {}
    for hazard, class_id in coverage.open:
        opened.setdefault(hazard, []).append(class_id)
    gaps = [
        f"{hazard} ({'every class' if len(classes) == len(CLASSES) else ', '.join(classes)})"
        for hazard, classes in opened.items()
    ]
    return [
        ("hazards without a rule", "; ".join(gaps) or "none"),
        ("rules never reached", ", ".join(coverage.never) or "none"),
        ("rules reached only with an input that nobody has to state", ", ".join(coverage.unstated) or "none"),
        (
            "two rules in the same weather",
            "; ".join(f"{one} and {other}" for one, other in coverage.overlaps) or "none",
        ),
    ]


@lru_cache(maxsize=1)
def _style() -> Markup:
    return Markup(drawing.css() + drawing.source("coverage.css"))


def render_html(coverage: Coverage) -> str:
    """The matrix as one page that stands alone: no script, nothing fetched."""
    return (
        drawing.environment()
        .get_template("coverage.html.jinja")
        .render(
            found=coverage,
            rows=rows(coverage),
            classes=[(name, name.replace("-", " ")) for name in CLASSES],
            findings=_findings(coverage),
            phases=[(LETTERS[phase], PHASE_WORDS[phase]) for phase in PHASES],
            closing=NOT_COVERED,
            style=_style(),
        )
    )
